//! The parent's side: starts the child, hands it the drawing, waits no longer than the limit, and
//! says what became of it.

use std::io::{self, Read};
use std::process::{Child, ExitStatus, Stdio};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::thread::{self, Builder};
use std::time::{Duration, Instant};

use strikeoff_core::Progress;

use super::super::error::Fault;
use super::artist::Program;
use super::limits::Limits;
use super::{Drawn, Request, message};

/// How often cancelling and the clock are looked at.
const TICK: Duration = Duration::from_millis(20);
/// How long a child may take to end after its last word.
const GRACE: Duration = Duration::from_secs(2);
/// How much of the child's last words is kept.
const MOST_WORDS: u64 = 4096;

type Answer = io::Result<Result<Drawn, Fault>>;

/// Draws by a child of `program`.
pub(super) fn draw(program: &Program, request: &Request, art: &[u8], progress: &Progress) -> Result<Drawn, Fault> {
    let limits = Limits::for_picture(request.longest_px, request.bytes);
    let mut command = program.command();
    command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let unable = |error: io::Error| Fault::NotDrawn(format!("the program that draws does not start ({error})"));
    let mut child = Ended(command.spawn().map_err(unable)?);
    let pipes = (child.0.stdin.take(), child.0.stdout.take(), child.0.stderr.take());
    let (Some(input), Some(output), Some(errors)) = pipes else {
        return Err(unable(io::ErrorKind::BrokenPipe.into()));
    };
    thread::scope(|scope| {
        let (say, heard) = channel();
        // A child that ends early does not read all of the file; its answer counts.
        let hand_over = move || drop(message::write_request(input, request, art));
        let listen = move || drop(say.send(message::read_answer(output, request)));
        let helpers = [
            Builder::new().spawn_scoped(scope, hand_over).map(drop),
            Builder::new().spawn_scoped(scope, listen).map(drop),
        ];
        let words = Builder::new().spawn_scoped(scope, move || last_words(errors));
        let ended = match helpers.into_iter().find_map(Result::err) {
            Some(error) => Err(unable(error)),
            None => wait(&heard, &limits, progress),
        };
        // The helpers end with the child.
        let status = child.end(if ended.is_ok() { GRACE } else { Duration::ZERO });
        let words = words.ok().and_then(|thread| thread.join().ok()).unwrap_or_default();
        match ended? {
            Ok(answer) => answer,
            Err(_) => Err(verdict(status, &words, &limits)),
        }
    })
}

/// Waits for the answer, as long as it may take and nobody cancels.
fn wait(heard: &Receiver<Answer>, limits: &Limits, progress: &Progress) -> Result<Answer, Fault> {
    let started = Instant::now();
    loop {
        match heard.recv_timeout(TICK) {
            Ok(answer) => return Ok(answer),
            Err(RecvTimeoutError::Disconnected) => return Ok(Err(io::ErrorKind::BrokenPipe.into())),
            Err(RecvTimeoutError::Timeout) => {
                progress.step("draw", 0.0).map_err(|_| Fault::Cancelled)?;
                if started.elapsed() > limits.clock {
                    return Err(Fault::TooInvolved(Limits::too_long(limits.clock)));
                }
            }
        }
    }
}

/// What the child says on standard error: the runtime names there what ended it.
fn last_words(mut errors: impl Read) -> String {
    let mut words = Vec::new();
    let _ = errors.by_ref().take(MOST_WORDS).read_to_end(&mut words);
    // The pipe must not fill up.
    let _ = io::copy(&mut errors, &mut io::sink());
    String::from_utf8_lossy(&words).into_owned()
}

/// Why a child ended without an answer. The texts are those of Rust's runtime (`alloc::handle_alloc_error`
/// and the guard page's handler in the standard library).
fn verdict(status: Option<ExitStatus>, words: &str, limits: &Limits) -> Fault {
    let signal = status.and_then(signal_name);
    if words.contains("memory allocation of") || words.contains("out of memory") {
        return Fault::TooInvolved(limits.too_much_memory());
    }
    if words.contains("has overflowed its stack") {
        return Fault::TooInvolved("its parts are nested too deep to be drawn".into());
    }
    match signal {
        Some("XCPU") => Fault::TooInvolved(Limits::too_long(limits.processor)),
        Some("KILL") => Fault::TooInvolved("the system ended the drawing, mostly for want of memory".into()),
        _ => Fault::Damaged("it broke off the drawing".into()),
    }
}

#[cfg(unix)]
fn signal_name(status: ExitStatus) -> Option<&'static str> {
    use rustix::process::Signal;
    use std::os::unix::process::ExitStatusExt;

    let signal = status.signal()?;
    [(Signal::XCPU, "XCPU"), (Signal::KILL, "KILL")]
        .into_iter()
        .find_map(|(known, name)| (known.as_raw() == signal).then_some(name))
}

#[cfg(not(unix))]
fn signal_name(_: ExitStatus) -> Option<&'static str> {
    None
}

/// A child that does not outlive its owner.
struct Ended(Child);

impl Ended {
    /// Gives it so long to end by itself, then ends it. None: it did not end by itself.
    fn end(&mut self, grace: Duration) -> Option<ExitStatus> {
        let started = Instant::now();
        while started.elapsed() < grace {
            match self.0.try_wait() {
                Ok(None) => thread::sleep(Duration::from_millis(1)),
                Ok(Some(status)) => return Some(status),
                Err(_) => break,
            }
        }
        let _ = self.0.kill();
        let _ = self.0.wait();
        None
    }
}

impl Drop for Ended {
    fn drop(&mut self) {
        self.end(Duration::ZERO);
    }
}
