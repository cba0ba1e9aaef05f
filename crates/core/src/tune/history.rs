//! Undo and redo without limit, as pure data. The user's decisions are small (a few kilobytes),
//! so every step keeps the whole of them, and undo gives back exactly what was there.

/// One step: what it was called, and the state before it (in the past) or after it (in the future).
#[derive(Debug, Clone, PartialEq)]
struct Step<T> {
    label: String,
    state: T,
}

/// A state with its past and its undone future. Changes that belong to one drag are one step.
#[derive(Debug, Clone, PartialEq)]
pub struct History<T> {
    past: Vec<Step<T>>,
    present: T,
    future: Vec<Step<T>>,
    /// Label of the drag under way: further changes of the same label join its step.
    dragging: Option<String>,
    /// Goes up with every change of the present, undo and redo included.
    revision: u64,
}

impl<T: Clone + PartialEq> History<T> {
    /// A fresh history.
    pub fn new(present: T) -> Self {
        Self { past: Vec::new(), present, future: Vec::new(), dragging: None, revision: 0 }
    }

    /// The state now.
    pub fn present(&self) -> &T {
        &self.present
    }

    /// Goes up with every change of the present, so that a watcher sees that there is something
    /// to save or to draw.
    pub fn revision(&self) -> u64 {
        self.revision
    }

    /// Makes `next` the present, as one step called `label`. Nothing happens if it is equal to
    /// the present. What was undone is forgotten.
    pub fn apply(&mut self, label: impl Into<String>, next: T) {
        self.settle();
        self.push(label.into(), next);
    }

    /// Like [`History::apply`], but steps of the same label join into one until
    /// [`History::settle`] (the pointer is released) or any other step. A drag that comes back to
    /// where it began leaves no step.
    pub fn drag(&mut self, label: impl Into<String>, next: T) {
        let label = label.into();
        if self.dragging.as_ref() != Some(&label) {
            self.dragging = None;
            if next == self.present {
                return;
            }
            self.push(label.clone(), next);
            self.dragging = Some(label);
        } else if next != self.present {
            self.present = next;
            self.revision += 1;
        }
    }

    /// Ends a drag.
    pub fn settle(&mut self) {
        if self.dragging.take().is_some() && self.past.last().is_some_and(|step| step.state == self.present) {
            self.past.pop();
        }
    }

    fn push(&mut self, label: String, next: T) {
        if next == self.present {
            return;
        }
        let before = std::mem::replace(&mut self.present, next);
        self.past.push(Step { label, state: before });
        self.future.clear();
        self.revision += 1;
    }

    /// Takes the last step back and says what it was called; none if there is none.
    pub fn undo(&mut self) -> Option<String> {
        self.settle();
        let Step { label, state } = self.past.pop()?;
        let after = std::mem::replace(&mut self.present, state);
        self.future.push(Step { label: label.clone(), state: after });
        self.revision += 1;
        Some(label)
    }

    /// Redoes the last undone step and says what it was called; none if there is none.
    pub fn redo(&mut self) -> Option<String> {
        self.settle();
        let Step { label, state } = self.future.pop()?;
        let before = std::mem::replace(&mut self.present, state);
        self.past.push(Step { label: label.clone(), state: before });
        self.revision += 1;
        Some(label)
    }

    /// What undo would take back.
    pub fn undo_label(&self) -> Option<&str> {
        self.past.last().map(|step| step.label.as_str())
    }

    /// What redo would bring back.
    pub fn redo_label(&self) -> Option<&str> {
        self.future.last().map(|step| step.label.as_str())
    }

    /// How many steps can be undone and redone.
    pub fn depth(&self) -> (usize, usize) {
        (self.past.len(), self.future.len())
    }

    /// Labels of all steps, oldest first, the undone ones after the done ones.
    pub fn labels(&self) -> impl Iterator<Item = &str> {
        self.past.iter().chain(self.future.iter().rev()).map(|step| step.label.as_str())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn undo_and_redo_walk_the_same_way() {
        let mut history = History::new(0);
        for i in 1..=100 {
            history.apply(format!("to {i}"), i);
        }
        for i in (0..100).rev() {
            assert_eq!(history.undo().unwrap(), format!("to {}", i + 1));
            assert_eq!(*history.present(), i);
        }
        assert_eq!(history.undo(), None);
        for i in 1..=40 {
            history.redo();
            assert_eq!(*history.present(), i);
        }
        history.apply("aside", 7);
        assert_eq!(history.redo(), None);
        assert_eq!(history.depth(), (41, 0));
        assert_eq!(history.undo_label(), Some("aside"));
    }

    #[test]
    fn a_drag_is_one_step() {
        let mut history = History::new(0.0);
        for i in 1..50 {
            history.drag("curve", f64::from(i));
        }
        history.settle();
        history.drag("curve", 60.0);
        history.drag("ruling", 61.0);
        assert_eq!(history.labels().collect::<Vec<_>>(), ["curve", "curve", "ruling"]);
        history.undo();
        history.undo();
        assert_eq!(*history.present(), 49.0);
        history.undo();
        assert_eq!(*history.present(), 0.0);
    }

    #[test]
    fn nothing_changed_is_no_step_and_a_drag_back_leaves_none() {
        let mut history = History::new(5);
        history.apply("same", 5);
        assert_eq!((history.depth(), history.revision()), ((0, 0), 0));
        history.drag("slide", 6);
        history.drag("slide", 5);
        history.settle();
        assert_eq!(history.depth(), (0, 0));
    }
}
