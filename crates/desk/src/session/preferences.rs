//! What this computer remembers of the window: theme, scale, the display's true size, recent jobs,
//! whether the tour was seen. It is not part of a job. The program reads and writes it; the bench
//! only says when it has changed.

use std::path::{Path, PathBuf};

use egui::{Context, ThemePreference, Vec2, vec2};
use serde::{Deserialize, Serialize};
use strikeoff_files::profile::ShopProfile;

/// Recent files kept.
const RECENT: usize = 12;
/// Points a millimetre of a display that was not measured: the 96 points an inch that systems assume.
pub const NOMINAL_POINTS_PER_MM: f32 = 96.0 / 25.4;

/// Light, dark, or as the system has it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ThemeChoice {
    /// Same as system has it.
    #[default]
    System,
    /// Light.
    Light,
    /// Dark.
    Dark,
}

impl ThemeChoice {
    /// All, in the order they are offered.
    pub const ALL: [Self; 3] = [Self::System, Self::Light, Self::Dark];

    /// In the words of the window.
    pub fn label(self) -> &'static str {
        match self {
            Self::System => "Same as system",
            Self::Light => "Light",
            Self::Dark => "Dark",
        }
    }
}

/// The smallest window in which all panels have room.
pub const LEAST_POINTS: Vec2 = vec2(850.0, 530.0);

/// What is remembered.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Preferences {
    /// Theme; as the system has it by default.
    pub theme: ThemeChoice,
    /// Size of everything in the window, 1 by default, 1 to 2; less in a window too small for it.
    pub scale: f32,
    /// Points a millimetre on this display at scale 1, if it was measured.
    pub points_per_mm: Option<f32>,
    /// Jobs and pictures opened or saved last, newest first.
    pub recent: Vec<PathBuf>,
    /// Whether the hints of the first run were seen.
    pub tour_seen: bool,
    /// The folder of the jobs; none: that of the job opened or saved last.
    pub jobs: Option<PathBuf>,
    /// Width and height of the window when it was last left alone, in points at scale 1.
    pub window: Option<[f32; 2]>,
}

impl Default for Preferences {
    fn default() -> Self {
        Self {
            theme: ThemeChoice::System,
            scale: 1.0,
            points_per_mm: None,
            recent: Vec::new(),
            tour_seen: false,
            jobs: None,
            window: None,
        }
    }
}

impl Preferences {
    /// The size that the window begins with, in points at scale 1: as it was left, or one in which all panels have
    /// room; never too small for them.
    pub fn window_points(&self) -> Vec2 {
        let usual = vec2(1440.0, 900.0) * self.scale.clamp(1.0, 2.0);
        self.window.filter(|size| size.iter().all(|side| side.is_finite())).map_or(usual, Vec2::from).max(LEAST_POINTS)
    }

    /// Puts a file first among the recent ones.
    pub fn remember(&mut self, path: &Path) {
        self.recent.retain(|other| other != path);
        self.recent.insert(0, path.to_owned());
        self.recent.truncate(RECENT);
    }

    /// Points of the window a millimetre on the display, at the scale in use.
    pub fn true_points_per_mm(&self, ctx: &Context) -> f32 {
        self.points_per_mm.unwrap_or(NOMINAL_POINTS_PER_MM) / ctx.zoom_factor()
    }

    /// The scale of a window of this size: the one chosen, or as much of it as leaves room for all
    /// panels. `points` are those at scale 1.
    pub fn scale_in(&self, points: Vec2) -> f32 {
        let room = points / LEAST_POINTS;
        self.scale.clamp(1.0, 2.0).min(room.min_elem().max(1.0))
    }

    /// Gives the window the scale that fits it; once a frame, as windows change their size.
    pub fn fit(&self, ctx: &Context) {
        let scale = self.scale_in(ctx.content_rect().size() * ctx.zoom_factor());
        if scale != ctx.zoom_factor() {
            ctx.set_zoom_factor(scale);
        }
    }

    /// Gives the window its theme.
    pub fn apply(&self, ctx: &Context) {
        ctx.set_theme(match self.theme {
            ThemeChoice::System => ThemePreference::System,
            ThemeChoice::Light => ThemePreference::Light,
            ThemeChoice::Dark => ThemePreference::Dark,
        });
    }
}

/// Keeps preferences for the next time; an error is one sentence.
pub type Keep = Box<dyn FnMut(&Preferences) -> Result<(), String>>;

/// Keeps the shop profile for the next time; an error is one sentence.
pub type KeepShop = Box<dyn FnMut(&ShopProfile) -> Result<(), String>>;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_window_begins_as_it_was_left_and_never_too_small() {
        let mut kept = Preferences::default();
        assert_eq!(kept.window_points(), vec2(1440.0, 900.0));
        kept.window = Some([1200.0, 760.0]);
        assert_eq!(kept.window_points(), vec2(1200.0, 760.0));
        kept.window = Some([10.0, f32::NAN]);
        assert_eq!(kept.window_points(), vec2(1440.0, 900.0));
        kept.window = Some([10.0, 2000.0]);
        assert_eq!(kept.window_points(), vec2(LEAST_POINTS.x, 2000.0));
    }

    #[test]
    fn a_scale_too_large_for_the_window_gives_way() {
        let preferences = Preferences { scale: 2.0, ..Default::default() };
        for (points, scale) in [([2560.0, 1600.0], 2.0), ([1440.0, 900.0], 1440.0 / 850.0), ([640.0, 480.0], 1.0)] {
            assert_eq!(preferences.scale_in(points.into()), scale, "{points:?}");
        }
        assert_eq!(Preferences::default().scale_in(vec2(2560.0, 1600.0)), 1.0);
    }

    #[test]
    fn the_newest_file_is_first_and_none_comes_twice() {
        let mut preferences = Preferences::default();
        for at in 0..20 {
            preferences.remember(Path::new(&format!("job-{at}")));
        }
        preferences.remember(Path::new("job-15"));
        assert_eq!(preferences.recent.len(), RECENT);
        assert_eq!(preferences.recent[0], Path::new("job-15"));
        assert_eq!(preferences.recent.iter().filter(|p| p.ends_with("job-15")).count(), 1);
    }

    #[test]
    fn they_come_back_as_they_were_kept() {
        let kept = Preferences { scale: 1.5, points_per_mm: Some(4.2), tour_seen: true, ..Default::default() };
        let text = serde_json::to_string(&kept).unwrap();
        assert_eq!(serde_json::from_str::<Preferences>(&text).unwrap(), kept);
        assert_eq!(serde_json::from_str::<Preferences>("{}").unwrap(), Preferences::default());
    }
}
