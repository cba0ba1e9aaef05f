//! A lane is one named thread that always works on the newest request: an older one still waiting is
//! dropped. Whether the one being worked on is stopped or may finish
//! (so that a long drag still shows pictures) is the lane's manner. Answers wake the window.

use std::sync::atomic::Ordering;
use std::sync::mpsc::{Receiver, channel};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread;
use std::time::{Duration, Instant};

use egui::Context;
use strikeoff_core::Progress;

use super::drop_in_background;

/// What a new request does to the one being worked on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Manner {
    /// It finishes and shows; then the newest is taken up.
    FinishFirst,
    /// It is stopped.
    StopAtOnce,
}

/// An answer with the time it took.
#[derive(Debug)]
pub struct Answer<A> {
    /// What came out.
    pub value: A,
    /// Time on the lane's thread.
    pub took: Duration,
}

/// What the lane is doing now.
#[derive(Debug, Clone, PartialEq)]
pub struct Doing {
    /// Name of the step.
    pub what: String,
    /// Fraction done, 0..=1.
    pub done: f32,
    /// For how long the request has been worked on.
    pub since: Duration,
    /// How long the step will still take at its pace so far, once that is known.
    pub left: Option<Duration>,
}

struct Inner<Q> {
    waiting: Option<Q>,
    running: Option<(Progress, Instant)>,
    doing: Step,
    /// Answers that nobody took yet.
    unread: usize,
    closed: bool,
}

/// A step and when it was begun.
struct Step {
    what: String,
    done: f32,
    begun: Instant,
}

impl Step {
    fn new() -> Self {
        Self { what: String::new(), done: 0.0, begun: Instant::now() }
    }

    /// Takes over a report; a new name or a step back starts the clock again.
    fn report(&mut self, what: &str, done: f32) {
        if self.what != what || done < self.done {
            *self = Self { what: what.to_owned(), ..Self::new() };
        }
        self.done = done;
    }

    /// Time left, known after a second and a twentieth of the way.
    fn left(&self) -> Option<Duration> {
        let taken = self.begun.elapsed();
        let known = taken > Duration::from_secs(1) && self.done > 0.05;
        known.then(|| taken.mul_f32((1.0 - self.done).max(0.0) / self.done))
    }
}

struct Shared<Q> {
    inner: Mutex<Inner<Q>>,
    wake: Condvar,
}

impl<Q> Shared<Q> {
    fn lock(&self) -> MutexGuard<'_, Inner<Q>> {
        // A panic in a stage poisons nothing we rely on: the state is replaced as a whole.
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// One named worker thread.
pub struct Lane<Q, A> {
    shared: Arc<Shared<Q>>,
    answers: Receiver<Answer<A>>,
    manner: Manner,
}

impl<Q: Send + 'static, A: Send + 'static> Lane<Q, A> {
    /// Starts the thread. `work` answers `None` when it was stopped.
    pub fn new(
        name: &str,
        ctx: &Context,
        manner: Manner,
        mut work: impl FnMut(Q, &Progress) -> Option<A> + Send + 'static,
    ) -> Self {
        let inner = Inner { waiting: None, running: None, doing: Step::new(), unread: 0, closed: false };
        let shared = Arc::new(Shared { inner: Mutex::new(inner), wake: Condvar::new() });
        let (send, answers) = channel();
        let (theirs, ctx) = (shared.clone(), ctx.clone());
        let body = move || {
            while let Some((request, progress)) = next(&theirs, &ctx) {
                let started = Instant::now();
                let answer = work(request, &progress);
                {
                    let mut inner = theirs.lock();
                    inner.running = None;
                    inner.unread += usize::from(answer.is_some());
                }
                if let Some(value) = answer
                    && send.send(Answer { value, took: started.elapsed() }).is_err()
                {
                    break;
                }
                ctx.request_repaint();
            }
        };
        thread::Builder::new().name(name.to_owned()).spawn(body).expect("the system gives no more threads");
        Self { shared, answers, manner }
    }

    /// Asks for the newest; what waited before is dropped.
    pub fn request(&self, request: Q) {
        let mut inner = self.shared.lock();
        if self.manner == Manner::StopAtOnce
            && let Some((progress, _)) = &inner.running
        {
            progress.canceller().store(true, Ordering::Relaxed);
        }
        let forgotten = inner.waiting.replace(request);
        self.shared.wake.notify_one();
        drop(inner);
        if forgotten.is_some() {
            drop_in_background(forgotten);
        }
    }

    /// Stops what runs and drops what waits.
    pub fn cancel(&self) {
        let mut inner = self.shared.lock();
        let forgotten = inner.waiting.take();
        if let Some((progress, _)) = &inner.running {
            progress.canceller().store(true, Ordering::Relaxed);
        }
        drop(inner);
        if forgotten.is_some() {
            drop_in_background(forgotten);
        }
    }

    /// The newest answer since the last call.
    pub fn poll(&self) -> Option<Answer<A>> {
        let mut answers = self.drain();
        let newest = answers.pop();
        if !answers.is_empty() {
            drop_in_background(answers);
        }
        newest
    }

    /// All answers since the last call, oldest first.
    pub fn drain(&self) -> Vec<Answer<A>> {
        let answers: Vec<_> = self.answers.try_iter().collect();
        if !answers.is_empty() {
            let mut inner = self.shared.lock();
            inner.unread = inner.unread.saturating_sub(answers.len());
        }
        answers
    }

    /// Whether nothing waits, nothing runs and every answer was taken.
    pub fn is_idle(&self) -> bool {
        let inner = self.shared.lock();
        inner.waiting.is_none() && inner.running.is_none() && inner.unread == 0
    }

    /// What runs now, if anything.
    pub fn doing(&self) -> Option<Doing> {
        let inner = self.shared.lock();
        let waiting = inner.waiting.is_some();
        match &inner.running {
            Some((_, since)) => {
                let step = &inner.doing;
                Some(Doing { what: step.what.clone(), done: step.done, since: since.elapsed(), left: step.left() })
            }
            None => waiting.then(|| Doing { what: String::new(), done: 0.0, since: Duration::ZERO, left: None }),
        }
    }
}

impl<Q, A> Drop for Lane<Q, A> {
    fn drop(&mut self) {
        let mut inner = self.shared.lock();
        inner.closed = true;
        inner.waiting = None;
        if let Some((progress, _)) = &inner.running {
            progress.canceller().store(true, Ordering::Relaxed);
        }
        self.shared.wake.notify_one();
    }
}

/// Waits for a request; `None` when the lane is closed.
fn next<Q: Send + 'static>(shared: &Arc<Shared<Q>>, ctx: &Context) -> Option<(Q, Progress)> {
    let mut inner = shared.lock();
    loop {
        if inner.closed {
            return None;
        }
        if let Some(request) = inner.waiting.take() {
            let (theirs, ctx) = (Arc::downgrade(shared), ctx.clone());
            let progress = Progress::new(move |what, done| {
                if let Some(shared) = theirs.upgrade() {
                    shared.lock().doing.report(what, done);
                    ctx.request_repaint_after(Duration::from_millis(60));
                }
            });
            inner.doing = Step::new();
            inner.running = Some((progress.clone(), Instant::now()));
            return Some((request, progress));
        }
        inner = shared.wake.wait(inner).unwrap_or_else(PoisonError::into_inner);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wait<A: Send + 'static, Q: Send + 'static>(lane: &Lane<Q, A>) -> A {
        lane.answers.recv_timeout(Duration::from_secs(20)).expect("the lane answers").value
    }

    /// A lane that tells what it takes up; request 1 ends only by being stopped.
    fn lane(manner: Manner) -> (Lane<u32, u32>, Receiver<u32>) {
        let (tell, started) = channel();
        let lane = Lane::new("test", &Context::default(), manner, move |n: u32, progress: &Progress| {
            tell.send(n).ok();
            while n == 1 && progress.step("waiting", 0.5).is_ok() {
                thread::sleep(Duration::from_millis(1));
            }
            (n != 1).then_some(n)
        });
        (lane, started)
    }

    #[test]
    fn the_newest_request_wins_and_a_stopped_one_says_nothing() {
        let (lane, started) = lane(Manner::StopAtOnce);
        lane.request(1);
        assert_eq!(started.recv().unwrap(), 1);
        lane.request(2);
        assert_eq!(wait(&lane), 2);
    }

    #[test]
    fn a_lane_that_finishes_first_shows_both() {
        let ctx = Context::default();
        let (tell, started) = channel();
        let (go, gate) = channel::<()>();
        let lane = Lane::new("test", &ctx, Manner::FinishFirst, move |n: u32, progress: &Progress| {
            tell.send(n).ok();
            gate.recv().ok();
            progress.step("x", 0.0).is_ok().then_some(n)
        });
        lane.request(1);
        assert_eq!(started.recv().unwrap(), 1);
        lane.request(2);
        lane.request(3);
        go.send(()).unwrap();
        go.send(()).unwrap();
        assert_eq!(wait(&lane), 1);
        assert_eq!(wait(&lane), 3);
    }

    #[test]
    fn cancel_forgets_what_waits_and_stops_what_runs() {
        let (lane, started) = lane(Manner::FinishFirst);
        lane.request(1);
        assert_eq!(started.recv().unwrap(), 1);
        lane.request(2);
        lane.cancel();
        while lane.doing().is_some() {
            thread::sleep(Duration::from_millis(1));
        }
        assert!(lane.poll().is_none());
        assert!(lane.is_idle());
    }

    #[test]
    fn a_lane_is_idle_once_its_answer_is_taken() {
        let (lane, started) = lane(Manner::FinishFirst);
        assert!(lane.is_idle());
        lane.request(2);
        assert!(!lane.is_idle());
        assert_eq!(started.recv().unwrap(), 2);
        while lane.doing().is_some() {
            thread::sleep(Duration::from_millis(1));
        }
        assert!(!lane.is_idle(), "nobody took the answer");
        while lane.poll().is_none() {
            thread::sleep(Duration::from_millis(1));
        }
        assert!(lane.is_idle());
    }
}
