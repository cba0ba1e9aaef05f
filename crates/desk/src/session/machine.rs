//! What this computer remembers: preferences and the shop profile, with the ways to keep them, which the
//! program hands in.

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use strikeoff_files::job::JOB_EXTENSION;
use strikeoff_files::profile::ShopProfile;

use super::{Keep, KeepShop, Preferences};

/// A window that has kept its size for so long has been left alone.
const LEFT_ALONE: Duration = Duration::from_secs(1);

/// What this computer remembers.
#[derive(Default)]
pub struct Machine {
    preferences: Preferences,
    keep: Option<Keep>,
    /// A size of the window that is not remembered yet, and since when it has had it.
    resized: Option<([f32; 2], Instant)>,
    /// The shop's defaults for new jobs.
    pub profile: ShopProfile,
    /// Where indexes of jobs are kept; none: in memory.
    pub cache: Option<PathBuf>,
    keep_shop: Option<KeepShop>,
}

impl Machine {
    /// The preferences.
    pub fn preferences(&self) -> &Preferences {
        &self.preferences
    }

    /// Starts with what was remembered; `keep` is called with every change of it.
    pub fn begin(&mut self, preferences: Preferences, keep: Keep) {
        (self.preferences, self.keep) = (preferences, Some(keep));
    }

    /// The folder of the jobs.
    pub fn jobs_folder(&self) -> Option<PathBuf> {
        let is_job = |path: &&PathBuf| path.extension().is_some_and(|ending| ending == JOB_EXTENSION);
        let recent = || self.preferences.recent.iter().find(is_job)?.parent().map(Path::to_owned);
        self.preferences.jobs.clone().or_else(recent)
    }

    /// Has every change of the shop profile kept.
    pub fn keep_shop_with(&mut self, keep: KeepShop) {
        self.keep_shop = Some(keep);
    }

    /// Takes on preferences and has them kept; an error is one sentence.
    pub fn prefer(&mut self, preferences: Preferences) -> Result<(), String> {
        if preferences == self.preferences {
            return Ok(());
        }
        self.preferences = preferences;
        self.keep.as_mut().map_or(Ok(()), |keep| keep(&self.preferences))
    }

    /// Remembers the window's size once it has been left alone for a second, in points at scale 1. How long to wait
    /// until that is so; an error is one sentence.
    pub fn saw_window(&mut self, size: [f32; 2], now: Instant) -> Result<Option<Duration>, String> {
        let size = size.map(f32::round);
        if self.preferences.window == Some(size) {
            self.resized = None;
            return Ok(None);
        }
        let (seen, since) = *self.resized.get_or_insert((size, now));
        if seen != size {
            self.resized = Some((size, now));
            return Ok(Some(LEFT_ALONE));
        }
        let left = LEFT_ALONE.saturating_sub(now.duration_since(since));
        if left > Duration::ZERO {
            return Ok(Some(left));
        }
        self.resized = None;
        self.prefer(Preferences { window: Some(size), ..self.preferences.clone() }).map(|()| None)
    }

    /// Takes on a shop profile and has it kept; an error is one sentence.
    pub fn change_shop(&mut self, profile: ShopProfile) -> Result<(), String> {
        self.profile = profile;
        self.keep_shop.as_mut().map_or(Ok(()), |keep| keep(&self.profile))
    }

    /// Puts a file first among the recent ones.
    pub fn remember(&mut self, path: &Path) -> Result<(), String> {
        let mut preferences = self.preferences.clone();
        preferences.remember(path);
        if preferences == self.preferences { Ok(()) } else { self.prefer(preferences) }
    }
}

#[cfg(test)]
mod tests {
    use std::cell::RefCell;
    use std::rc::Rc;

    use super::*;

    #[test]
    fn the_windows_size_is_kept_once_it_is_left_alone_and_nothing_is_kept_twice() {
        let kept: Rc<RefCell<Vec<Option<[f32; 2]>>>> = Rc::default();
        let theirs = kept.clone();
        let mut machine = Machine::default();
        let keep = move |now: &Preferences| {
            theirs.borrow_mut().push(now.window);
            Ok(())
        };
        machine.begin(Preferences::default(), Box::new(keep));
        let start = Instant::now();
        let at = |ms| start + Duration::from_millis(ms);
        assert_eq!(machine.saw_window([1200.0, 700.0], at(0)), Ok(Some(LEFT_ALONE)));
        // Still being drawn larger.
        assert_eq!(machine.saw_window([1300.0, 800.2], at(600)), Ok(Some(LEFT_ALONE)));
        assert_eq!(machine.saw_window([1300.0, 800.0], at(1100)), Ok(Some(Duration::from_millis(500))));
        assert!(kept.borrow().is_empty());
        assert_eq!(machine.saw_window([1300.0, 800.0], at(1600)), Ok(None));
        assert_eq!(machine.saw_window([1300.0, 800.0], at(9000)), Ok(None));
        assert_eq!(*kept.borrow(), [Some([1300.0, 800.0])]);
        // Preferences that say nothing new are not written.
        machine.prefer(machine.preferences().clone()).unwrap();
        assert_eq!(kept.borrow().len(), 1);
    }
}
