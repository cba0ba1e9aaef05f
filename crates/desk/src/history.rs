//! Undo and redo of the job. The job is small (settings and edits, no pixels), so each step keeps
//! a whole copy and nothing can be half undone. A drag is one step: steps of one gesture join.

use strikeoff_core::job::Job;

/// One remembered state with the name of what changed it.
#[derive(Debug, Clone, PartialEq)]
struct Step {
    job: Job,
    what: String,
}

/// The past and the future of a job.
#[derive(Debug, Default)]
pub struct History {
    past: Vec<Step>,
    future: Vec<Step>,
    gesture: Option<String>,
}

impl History {
    /// Remembers `before`, the job as it was, ahead of a change called `what`. Changes of one
    /// gesture (a drag) carry the same `gesture` and become one step.
    pub fn remember(&mut self, before: &Job, what: &str, gesture: Option<&str>) {
        if gesture.is_some() && self.gesture.as_deref() == gesture {
            return;
        }
        self.gesture = gesture.map(str::to_owned);
        self.past.push(Step { job: before.clone(), what: what.to_owned() });
        self.future.clear();
    }

    /// The gesture is over; the next change is a step of its own.
    pub fn end_gesture(&mut self) {
        self.gesture = None;
    }

    /// Goes one step back; gives the name of what was undone.
    pub fn undo(&mut self, job: &mut Job) -> Option<String> {
        let step = self.past.pop()?;
        self.end_gesture();
        let now = std::mem::replace(job, step.job);
        self.future.push(Step { job: now, what: step.what.clone() });
        Some(step.what)
    }

    /// Goes one step forward again.
    pub fn redo(&mut self, job: &mut Job) -> Option<String> {
        let step = self.future.pop()?;
        self.end_gesture();
        let now = std::mem::replace(job, step.job);
        self.past.push(Step { job: now, what: step.what.clone() });
        Some(step.what)
    }

    /// What undo would undo.
    pub fn can_undo(&self) -> Option<&str> {
        self.past.last().map(|s| s.what.as_str())
    }

    /// What redo would redo.
    pub fn can_redo(&self) -> Option<&str> {
        self.future.last().map(|s| s.what.as_str())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use strikeoff_core::color::Rgb8;
    use strikeoff_core::ink::Garment;

    fn job(quantity: u32) -> Job {
        let mut job = Job::new(Garment::of_color(Rgb8([255; 3])));
        job.info.quantity = quantity;
        job
    }

    #[test]
    fn a_drag_is_one_step_and_redo_brings_it_back() {
        let mut history = History::default();
        let mut now = job(1);
        for quantity in 2..=9 {
            history.remember(&now, "change quantity", Some("quantity"));
            now = job(quantity);
        }
        history.end_gesture();
        history.remember(&now, "rename", None);
        now.info.title = "Fair".into();

        assert_eq!(history.undo(&mut now).as_deref(), Some("rename"));
        assert_eq!(now, job(9));
        assert_eq!(history.undo(&mut now).as_deref(), Some("change quantity"));
        assert_eq!(now, job(1));
        assert!(history.undo(&mut now).is_none());
        history.redo(&mut now);
        assert_eq!(now, job(9));
        assert_eq!(history.can_redo(), Some("rename"));
        history.remember(&now, "drop Lemon", None);
        assert_eq!(history.can_redo(), None, "a new change forgets the future");
    }
}
