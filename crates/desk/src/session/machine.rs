//! What this computer remembers: preferences and the shop profile, with the ways to keep them, which the
//! program hands in.

use std::path::Path;

use strikeoff_files::profile::ShopProfile;

use super::{Keep, KeepShop, Preferences};

/// What this computer remembers.
#[derive(Default)]
pub struct Machine {
    preferences: Preferences,
    keep: Option<Keep>,
    /// The shop's defaults for new jobs.
    pub profile: ShopProfile,
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

    /// Has every change of the shop profile kept.
    pub fn keep_shop_with(&mut self, keep: KeepShop) {
        self.keep_shop = Some(keep);
    }

    /// Takes on preferences and has them kept; an error is one sentence.
    pub fn prefer(&mut self, preferences: Preferences) -> Result<(), String> {
        self.preferences = preferences;
        self.keep.as_mut().map_or(Ok(()), |keep| keep(&self.preferences))
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
