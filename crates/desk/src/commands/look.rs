//! Changes of how the job is looked at.

use egui::{Rect, Vec2, vec2};
use strikeoff_core::screens::ScreenName;

use crate::Workbench;
use crate::render::View;

impl Workbench {
    pub(super) fn toggle_shown(&mut self, name: ScreenName) {
        if !self.scratch.hidden.remove(&name) {
            self.scratch.hidden.insert(name);
        }
    }

    pub(super) fn only_this(&mut self, name: &ScreenName) {
        let others: std::collections::BTreeSet<_> =
            self.state.screen_names().into_iter().filter(|n| n != name).collect();
        if self.scratch.hidden == others { self.scratch.hidden.clear() } else { self.scratch.hidden = others }
    }

    pub(super) fn select_step(&mut self, by: i32) {
        let names = self.state.screen_names();
        if names.is_empty() {
            return;
        }
        let at = self.scratch.selected.as_ref().and_then(|n| names.iter().position(|m| m == n));
        let next = at.map_or(0, |at| (at as i32 + by).rem_euclid(names.len() as i32) as usize);
        self.scratch.selected = Some(names[next].clone());
    }

    pub(super) fn zoom(&mut self, factor: f32) {
        let camera = &mut self.scratch.camera;
        let canvas = egui::Rect::from_center_size(egui::Pos2::ZERO, Vec2::splat(100.0));
        camera.zoom_at(canvas, egui::Pos2::ZERO, factor);
    }

    /// Puts a finding's map on the table and brings its place into sight.
    pub(super) fn show_finding(&mut self, at: Option<usize>) {
        self.scratch.ahead.shown = None;
        let (Some(at), Some(look)) = (at, self.state.outlook().cloned()) else { return };
        let Some(finding) = look.findings.get(at) else { return };
        if finding.place.is_some() && !self.scratch.view.on_shirt() {
            self.scratch.view = View::Print;
        }
        if let Some(name) = finding.screens.first()
            && self.state.screen_names().contains(name)
        {
            self.scratch.selected = Some(name.clone());
        }
        self.scratch.ahead.shown = Some(at);
        if let (Some(place), Some(print)) = (&finding.place, self.state.print_rect_mm()) {
            let [left, top, width, height] = place.region_mm.map(|mm| mm as f32);
            self.scratch.ahead.bring = Some(Rect::from_min_size(print.min + vec2(left, top), vec2(width, height)));
        }
    }
}
