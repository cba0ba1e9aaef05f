//! A slot holds one thing that follows from the state: a lane that works it out, the key that it was
//! last requested, and the last answer with the key it belongs to. Keys are values: parts of the job,
//! the identity of the art. An answer is current exactly while its key equals that of the state.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::time::Duration;

use egui::Context;
use strikeoff_core::Progress;

use crate::background::{Doing, Lane, Manner, drop_in_background};

/// How work on an answer ended: with the answer, with one sentence why there is none, or (`None`)
/// because it was stopped.
pub type Outcome<A> = Option<Result<A, String>>;

type Work<A, W> = Box<dyn FnOnce(&mut W, &Progress) -> Outcome<A> + Send>;

struct Request<K, A, W> {
    key: K,
    term: Arc<()>,
    work: Work<A, W>,
}

struct Reply<K, A> {
    key: K,
    term: Arc<()>,
    result: Result<A, String>,
}

/// An answer and what it belongs to.
struct Held<K, A> {
    key: K,
    value: A,
    took: Duration,
}

/// One derived thing. `W` is what the lane keeps warm between answers.
pub struct Slot<K, A, W = ()> {
    lane: Lane<Request<K, A, W>, Reply<K, A>>,
    requested: Option<K>,
    held: Option<Held<K, A>>,
    failed: Option<(K, String)>,
    /// Replies of an earlier term belong to a document that is gone.
    term: Arc<()>,
    stoppable: bool,
    requests: u64,
}

impl<K, A, W> Slot<K, A, W>
where
    K: Clone + PartialEq + Send + 'static,
    A: Send + 'static,
    W: Default + Send + 'static,
{
    /// Starts the lane.
    pub fn new(name: &str, ctx: &Context, manner: Manner) -> Self {
        let mut warm = W::default();
        let lane = Lane::new(name, ctx, manner, move |request: Request<K, A, W>, progress| {
            let Request { key, term, work } = request;
            // A fault in one computation must not leave the window waiting for ever.
            let outcome = catch_unwind(AssertUnwindSafe(|| work(&mut warm, progress))).unwrap_or_else(|_| {
                warm = W::default();
                Some(Err("the program has a fault here; save the job and report what was done last".to_owned()))
            });
            outcome.map(|result| Reply { key, term, result })
        });
        Self { lane, requested: None, held: None, failed: None, term: Arc::new(()), stoppable: false, requests: 0 }
    }

    /// Lets the user stop its work.
    pub fn stoppable(mut self) -> Self {
        self.stoppable = true;
        self
    }

    /// Has the answer for `key` worked out, unless it is here, under way, or was stopped or failed and
    /// nothing else was requested since.
    pub fn want<F>(&mut self, key: K, request: impl FnOnce() -> F)
    where
        F: FnOnce(&mut W, &Progress) -> Outcome<A> + Send + 'static,
    {
        if self.requested.as_ref() == Some(&key) {
            return;
        }
        self.requested = Some(key.clone());
        if self.current(&key).is_some() {
            self.lane.cancel();
            return;
        }
        self.requests += 1;
        self.lane.request(Request { key, term: self.term.clone(), work: Box::new(request()) });
    }

    /// Whether `key` is what was requested last.
    pub fn is_wanted(&self, key: &K) -> bool {
        self.requested.as_ref() == Some(key)
    }

    /// The answer, if it belongs to `key`.
    pub fn current(&self, key: &K) -> Option<&A> {
        self.held.as_ref().filter(|held| held.key == *key).map(|held| &held.value)
    }

    /// The last answer, of whatever key.
    pub fn latest(&self) -> Option<&A> {
        self.held.as_ref().map(|held| &held.value)
    }

    /// The key of the last answer.
    pub fn latest_key(&self) -> Option<&K> {
        self.held.as_ref().map(|held| &held.key)
    }

    /// Whether the last answer is the one requested last.
    pub fn is_current(&self) -> bool {
        self.held.as_ref().is_some_and(|held| self.is_wanted(&held.key))
    }

    /// Time that the last answer took on the lane.
    pub fn took(&self) -> Duration {
        self.held.as_ref().map_or(Duration::ZERO, |held| held.took)
    }

    /// Why there is no answer for `key`, in one sentence.
    pub fn failure(&self, key: &K) -> Option<&str> {
        self.failed.as_ref().filter(|(of, _)| of == key).map(|(_, why)| why.as_str())
    }

    /// Why there is no answer to what was requested last, in one sentence.
    pub fn failed(&self) -> Option<&str> {
        self.requested.as_ref().and_then(|key| self.failure(key))
    }

    /// How often the lane was given work.
    pub fn requests(&self) -> u64 {
        self.requests
    }

    /// Takes the last answer out, with its key.
    pub fn take(&mut self) -> Option<(K, A)> {
        self.held.take().map(|held| (held.key, held.value))
    }

    /// Stops the work and wants nothing; the last answer stays.
    pub fn drop_wanted(&mut self) {
        self.requested = None;
        self.lane.cancel();
    }
}

/// What can be done to all derived things alike.
pub trait Derive {
    /// Takes in what is ready; whether there was something.
    fn poll(&mut self) -> bool;
    /// Whether nothing waits, runs or is ready and not taken in.
    fn is_idle(&self) -> bool;
    /// Stops the work, if it is of a kind that the user may stop. What was requested then counts as refused
    /// until something else is requested.
    fn cancel(&mut self);
    /// Forgets everything: another document comes.
    fn clear(&mut self);
    /// The work that runs now.
    fn doing(&self) -> Option<Doing>;
}

impl<K, A, W> Derive for Slot<K, A, W>
where
    K: Clone + PartialEq + Send + 'static,
    A: Send + 'static,
    W: Default + Send + 'static,
{
    fn poll(&mut self) -> bool {
        let mut news = false;
        for answer in self.lane.drain() {
            let Reply { key, term, result } = answer.value;
            let gone = !Arc::ptr_eq(&term, &self.term);
            // One that was finished although it was stopped must not take the place of the one requested.
            let late = self.is_current() && !self.is_wanted(&key);
            if gone || late {
                drop_in_background((key, result));
                continue;
            }
            news = true;
            match result {
                Ok(value) => {
                    let old = self.held.replace(Held { key, value, took: answer.took });
                    self.failed = None;
                    if let Some(Held { key, value, .. }) = old {
                        drop_in_background((key, value));
                    }
                }
                Err(why) => self.failed = Some((key, why)),
            }
        }
        news
    }

    fn is_idle(&self) -> bool {
        self.lane.is_idle()
    }

    fn cancel(&mut self) {
        if self.stoppable {
            self.lane.cancel();
        }
    }

    fn clear(&mut self) {
        self.drop_wanted();
        self.failed = None;
        self.term = Arc::new(());
        if let Some(held) = self.take() {
            drop_in_background(held);
        }
    }

    fn doing(&self) -> Option<Doing> {
        self.lane.doing()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::mpsc::{Receiver, Sender, channel};
    use std::thread;
    use std::time::Instant;

    /// A slot of numbers, what opens the gate that each work waits at, and the gate.
    type Held = (Slot<u32, u32>, Sender<()>, Arc<std::sync::Mutex<Receiver<()>>>);

    fn slot(manner: Manner) -> Held {
        let (open, gate) = channel();
        (Slot::new("test", &Context::default(), manner), open, Arc::new(std::sync::Mutex::new(gate)))
    }

    fn ten_times(key: u32) -> impl FnOnce(&mut (), &Progress) -> Outcome<u32> + Send + 'static {
        move |_, _| Some(Ok(key * 10))
    }

    fn wait(slot: &mut Slot<u32, u32>, so: impl Fn(&Slot<u32, u32>) -> bool) {
        let started = Instant::now();
        while !so(slot) {
            assert!(started.elapsed() < Duration::from_secs(20), "waited in vain");
            thread::sleep(Duration::from_millis(1));
            slot.poll();
        }
    }

    #[test]
    fn an_answer_is_current_for_its_own_key_alone() {
        let (mut slot, ..) = slot(Manner::FinishFirst);
        assert!(slot.is_idle() && slot.latest().is_none());
        slot.want(1, || ten_times(1));
        assert!(!slot.is_idle());
        wait(&mut slot, |slot| slot.is_idle());
        assert_eq!((slot.current(&1), slot.current(&2), slot.latest()), (Some(&10), None, Some(&10)));
        slot.want(1, || -> fn(&mut (), &Progress) -> Outcome<u32> { panic!("it is here already") });
        assert_eq!(slot.requests(), 1);
    }

    #[test]
    fn the_last_answer_stays_until_the_next_is_there_and_a_failure_says_why() {
        let (mut slot, ..) = slot(Manner::FinishFirst);
        slot.want(1, || ten_times(1));
        wait(&mut slot, |slot| slot.is_idle());
        slot.want(2, || |_: &mut (), _: &Progress| Some(Err("no ink".to_owned())));
        wait(&mut slot, |slot| slot.is_idle());
        assert_eq!((slot.latest(), slot.current(&2), slot.failure(&2)), (Some(&10), None, Some("no ink")));
        assert_eq!(slot.failure(&1), None);
        slot.want(3, || ten_times(3));
        wait(&mut slot, |slot| slot.is_current());
        assert_eq!((slot.latest(), slot.failure(&2)), (Some(&30), None));
    }

    #[test]
    fn going_back_to_the_answer_on_hand_needs_no_work_and_a_late_one_does_not_replace_it() {
        let (mut slot, open, gate) = slot(Manner::FinishFirst);
        slot.want(1, || ten_times(1));
        wait(&mut slot, |slot| slot.is_idle());
        let (started, begun) = channel();
        // It goes on although it is stopped, as the drawing of a picture does.
        slot.want(2, || {
            move |_: &mut (), _: &Progress| {
                started.send(()).ok();
                gate.lock().unwrap().recv().ok();
                Some(Ok(20))
            }
        });
        begun.recv().unwrap();
        slot.want(1, || ten_times(1));
        assert_eq!(slot.requests(), 2);
        open.send(()).unwrap();
        wait(&mut slot, |slot| slot.is_idle());
        assert_eq!(slot.current(&1), Some(&10));
    }

    #[test]
    fn what_was_stopped_is_not_begun_again_by_itself() {
        let (slot, _open, gate) = slot(Manner::FinishFirst);
        let mut slot = slot.stoppable();
        let (started, begun) = channel();
        slot.want(1, || {
            move |_: &mut (), progress: &Progress| {
                started.send(()).ok();
                while progress.step("waiting", 0.5).is_ok() {
                    gate.lock().unwrap().recv_timeout(Duration::from_millis(1)).ok();
                }
                None
            }
        });
        begun.recv().unwrap();
        slot.cancel();
        wait(&mut slot, |slot| slot.is_idle());
        slot.want(1, || ten_times(1));
        assert!(slot.is_idle() && slot.latest().is_none());
        // Once something else was requested, it may be.
        slot.want(2, || ten_times(2));
        slot.want(1, || ten_times(1));
        wait(&mut slot, |slot| slot.is_current());
        assert_eq!(slot.current(&1), Some(&10));
    }

    #[test]
    fn an_answer_for_a_document_that_is_gone_is_dropped() {
        let (mut slot, open, gate) = slot(Manner::FinishFirst);
        let (started, begun) = channel();
        slot.want(1, || {
            move |_: &mut (), _: &Progress| {
                started.send(()).ok();
                gate.lock().unwrap().recv().ok();
                Some(Ok(10))
            }
        });
        begun.recv().unwrap();
        slot.clear();
        open.send(()).unwrap();
        wait(&mut slot, |slot| slot.is_idle());
        assert!(slot.latest().is_none());
    }

    #[test]
    fn a_fault_is_a_failure_and_the_lane_goes_on() {
        let (mut slot, ..) = slot(Manner::FinishFirst);
        slot.want(1, || |_: &mut (), _: &Progress| -> Outcome<u32> { panic!("a fault, on purpose") });
        wait(&mut slot, |slot| slot.is_idle());
        assert!(slot.failure(&1).is_some_and(|why| why.contains("fault")));
        slot.want(2, || ten_times(2));
        wait(&mut slot, |slot| slot.is_current());
    }

    #[test]
    fn what_a_lane_keeps_warm_is_there_for_the_next_answer() {
        let mut slot = Slot::<u32, u32, u32>::new("test", &Context::default(), Manner::FinishFirst);
        for key in 1..=3 {
            slot.want(key, || {
                move |sum: &mut u32, _: &Progress| {
                    *sum += key;
                    Some(Ok(*sum))
                }
            });
            while !slot.is_current() {
                thread::sleep(Duration::from_millis(1));
                slot.poll();
            }
        }
        assert_eq!(slot.latest(), Some(&6));
    }
}
