//! A log of what the window did, for a report of a fault and for scripts that drive the window:
//! one JSON object a line. Times are seconds since the log began. Events:
//!
//! - `command`: what was done, in the words of the window.
//! - `said`: a sentence shown to the user, and whether something had failed.
//! - `rest`: everything requested is on the screen and no work is under way.
//! - `shown`: the table shows the job as the last command left it, how long after it, and of that the
//!   lanes' work: on the screens at proxy size, if there was any, and on the picture of them.
//! - `frames`: how long the window's own code took a frame, since the last such line and in
//!   milliseconds: median, 95th percentile, longest. It is the time its thread was at work: neither the
//!   drawing by the display nor waiting for a core that this holds is in it.
//! - `slow frame`: one that took over 4 ms, with its parts, and what the clock on the wall said.
//! - `all frames`: the frames of all lines together, at the end, with the share that took over 4 ms.

use std::io::Write;
use std::sync::Weak;
use std::time::{Duration, Instant};

use strikeoff_core::screens::Screens;

use super::times::{Stopwatch, Took};

/// Frames after which the display surely shows what was drawn: displays hold up to two back.
const SHOWN_AFTER: u32 = 3;
/// How often frames are summed up while some are drawn.
const FRAMES_EVERY: Duration = Duration::from_secs(5);

/// What no frame of the window's own code should take.
const SLOW: Duration = Duration::from_millis(4);
/// Least part of a slow frame that is written.
const PART: Duration = Duration::from_micros(300);

/// A step of the count of all frames, and how many steps there are; the last one has no end.
const BIN: Duration = Duration::from_micros(100);
const BINS: usize = 5000;

/// The table shows a job, and what the lanes worked for it.
#[derive(Debug, Clone)]
pub struct Shown {
    /// The screens that it shows, by their identity: held on to, so that no others have their address.
    pub screens: Weak<Screens>,
    /// Time on the screens at proxy size.
    pub proxy: Duration,
    /// Time on the picture of them.
    pub picture: Duration,
}

/// Writes the lines. Lines are flushed one by one: the log is read while the window runs, and must
/// be whole if the window is killed.
pub struct Log {
    to: Box<dyn Write + Send>,
    began: Instant,
    summed: Instant,
    frames: Vec<Duration>,
    frames_at_rest: u32,
    /// The last command, until the table shows what it did.
    commanded: Option<(String, Instant)>,
    /// The screens that were shown last.
    shown: Option<Weak<Screens>>,
    /// How many frames took how many steps.
    all: Vec<u32>,
}

impl Log {
    /// A log that begins now.
    pub fn new(to: Box<dyn Write + Send>) -> Self {
        let now = Instant::now();
        Self {
            to,
            began: now,
            summed: now,
            frames: Vec::new(),
            frames_at_rest: 0,
            commanded: None,
            shown: None,
            all: vec![0; BINS],
        }
    }

    fn line(&mut self, event: &str, more: serde_json::Value) {
        let mut line = serde_json::json!({ "at_s": self.began.elapsed().as_secs_f64(), "event": event });
        if let (Some(line), Some(more)) = (line.as_object_mut(), more.as_object()) {
            line.extend(more.clone());
        }
        // A full disk must not take the window down; the log then ends early, which its reader sees.
        let _ = writeln!(self.to, "{line}").and_then(|()| self.to.flush());
    }

    /// A command was applied.
    pub fn command(&mut self, what: &str) {
        self.frames_at_rest = 0;
        self.commanded = Some((what.to_owned(), Instant::now()));
        self.line("command", serde_json::json!({ "what": what }));
    }

    /// Whether the table shows the job as it stands; once a frame.
    pub fn shown(&mut self, shown: Option<Shown>) {
        let Some(shown) = shown else { return };
        if let Some((what, since)) = self.commanded.take() {
            let before = self.shown.replace(shown.screens.clone());
            let new = before.is_none_or(|before| !before.ptr_eq(&shown.screens));
            let proxy = if new { shown.proxy } else { Duration::ZERO };
            let [after, proxy, picture] = [since.elapsed(), proxy, shown.picture].map(|t| t.as_secs_f64() * 1e3);
            let more =
                serde_json::json!({ "what": what, "after_ms": after, "screens_ms": proxy, "picture_ms": picture });
            self.line("shown", more);
        }
    }

    /// The user was shown a message.
    pub fn said(&mut self, text: &str, failed: bool) {
        self.line("said", serde_json::json!({ "text": text, "failed": failed }));
    }

    /// Whether everything is done, once a frame; written when it has been so for long enough
    /// that the display shows it. Gives whether another frame is needed to get there.
    #[must_use]
    pub fn rest(&mut self, at_rest: bool) -> bool {
        self.frames_at_rest = if at_rest { self.frames_at_rest.saturating_add(1) } else { 0 };
        if self.frames_at_rest == SHOWN_AFTER {
            self.line("rest", serde_json::Value::Null);
        }
        at_rest && self.frames_at_rest < SHOWN_AFTER
    }

    /// A frame was made in this time.
    pub fn frame(&mut self, watch: &Stopwatch) {
        let frame = watch.frame();
        if frame.own > SLOW {
            let ms = |time: Duration| time.as_secs_f64() * 1e3;
            let parts: serde_json::Map<_, _> = watch
                .parts
                .iter()
                .filter(|(_, took)| took.own > PART)
                .map(|(part, took)| ((*part).to_owned(), ms(took.own).into()))
                .collect();
            let more = serde_json::json!({ "own_ms": ms(frame.own), "wall_ms": ms(frame.wall), "parts": parts });
            self.line("slow frame", more);
        }
        self.count(frame);
    }

    fn count(&mut self, frame: Took) {
        let took = frame.own;
        self.frames.push(took);
        let bin = (took.as_nanos() / BIN.as_nanos()) as usize;
        self.all[bin.min(BINS - 1)] += 1;
        if self.summed.elapsed() >= FRAMES_EVERY {
            self.sum_up();
        }
    }

    fn sum_up(&mut self) {
        self.summed = Instant::now();
        let mut frames = std::mem::take(&mut self.frames);
        if frames.is_empty() {
            return;
        }
        frames.sort();
        let ms = |part: f64| frames[((frames.len() - 1) as f64 * part).round() as usize].as_secs_f64() * 1e3;
        let summary = serde_json::json!({
            "count": frames.len(), "median_ms": ms(0.5), "p95_ms": ms(0.95), "longest_ms": ms(1.0)
        });
        self.line("frames", summary);
    }
}

impl Log {
    /// All frames together, each at the upper end of its step.
    fn sum_up_all(&mut self) {
        let count: u32 = self.all.iter().sum();
        let Some(longest) = self.all.iter().rposition(|&n| n > 0) else { return };
        let ms = |bin: usize| (BIN * (bin as u32 + 1)).as_secs_f64() * 1e3;
        let at = |part: f64| {
            let mut left = (f64::from(count) * part).ceil() as i64;
            let bin = self.all.iter().position(|&n| {
                left -= i64::from(n);
                left <= 0
            });
            ms(bin.unwrap_or(longest))
        };
        let over: u32 =
            self.all.iter().enumerate().filter(|(bin, _)| BIN * (*bin as u32 + 1) > SLOW).map(|(_, n)| n).sum();
        let summary = serde_json::json!({
            "count": count,
            "median_ms": at(0.5),
            "p95_ms": at(0.95),
            "longest_ms": ms(longest),
            "share_over_4_ms": f64::from(over) / f64::from(count),
        });
        self.line("all frames", summary);
    }
}

impl Drop for Log {
    fn drop(&mut self) {
        self.sum_up();
        self.sum_up_all();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::{Arc, Mutex};
    use strikeoff_core::units::Ppi;

    #[derive(Clone, Default)]
    struct Shared(Arc<Mutex<Vec<u8>>>);

    impl Write for Shared {
        fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
            self.0.lock().unwrap().extend_from_slice(bytes);
            Ok(bytes.len())
        }
        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }

    #[test]
    fn a_line_an_event_and_rest_only_when_it_begins() {
        let written = Shared::default();
        let mut log = Log::new(Box::new(written.clone()));
        let needed: Vec<bool> = (0..5).map(|_| log.rest(true)).collect();
        assert_eq!(needed, [true, true, false, false, false]);
        log.command("Drop \"Marsh teal\"");
        assert!(!log.rest(false), "work is under way and wakes the window itself");
        assert!(log.rest(true));
        assert!(!log.rest(false));
        assert_eq!([log.rest(true), log.rest(true), log.rest(true)], [true, true, false]);
        for ms in 1..=100 {
            log.count(Took { wall: Duration::from_millis(2 * ms), own: Duration::from_millis(ms) });
        }
        log.command("Show all");
        log.shown(None);
        let ms = Duration::from_millis;
        let ppi = Ppi::new(1.0).unwrap();
        let screens = Arc::new(Screens { width: 0, height: 0, ppi, list: Vec::new() });
        let shown = Some(Shown { screens: Arc::downgrade(&screens), proxy: ms(20), picture: ms(8) });
        log.shown(shown.clone());
        log.shown(shown.clone());
        log.command("Hide \"Marsh teal\"");
        log.shown(shown);
        drop(log);
        let text = String::from_utf8(written.0.lock().unwrap().clone()).unwrap();
        let lines: Vec<serde_json::Value> = text.lines().map(|l| serde_json::from_str(l).unwrap()).collect();
        let events: Vec<_> = lines.iter().map(|l| l["event"].as_str().unwrap()).collect();
        assert_eq!(events, ["rest", "command", "rest", "command", "shown", "command", "shown", "frames", "all frames"]);
        assert_eq!(lines[1]["what"], "Drop \"Marsh teal\"");
        assert_eq!((&lines[4]["what"], lines[4]["screens_ms"].as_f64()), (&"Show all".into(), Some(20.0)));
        assert_eq!(
            [&lines[6]["screens_ms"], &lines[6]["picture_ms"]],
            [0.0, 8.0],
            "the screens are those shown before"
        );
        assert_eq!(lines[7]["count"], 100);
        assert_eq!(lines[7]["longest_ms"].as_f64(), Some(100.0));
        assert!((lines[7]["p95_ms"].as_f64().unwrap() - 95.0).abs() <= 1.0);
        let all = |key: &str| lines[8][key].as_f64().unwrap();
        assert_eq!(all("count"), 100.0);
        assert!((all("p95_ms") - 95.0).abs() <= 0.2 && (all("median_ms") - 50.0).abs() <= 0.2, "{}", lines[8]);
        assert!((all("longest_ms") - 100.0).abs() <= 0.2 && (all("share_over_4_ms") - 0.97).abs() < 1e-9);
    }
}
