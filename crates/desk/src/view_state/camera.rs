//! Which part of the table is in sight.

use egui::{Pos2, Rect, Vec2, pos2, vec2};

/// A zoom that waits for the canvas's size.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Zoom {
    /// The print fills the table.
    Print,
    /// Actual size on this display.
    ActualSize,
}

/// Which part of the table is seen. Lengths on the table are millimetres on the shirt, from the
/// middle of the collar, x to the right, y down.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Camera {
    /// What lies in the middle of the canvas.
    pub centre_mm: Pos2,
    /// Points of the window a millimetre.
    pub points_per_mm: f32,
    /// Keeps the whole shirt in sight when the window changes, until the user zooms or pans.
    pub fit: bool,
}

impl Camera {
    /// From the table to the canvas.
    pub fn to_canvas(self, canvas: Rect, mm: Pos2) -> Pos2 {
        canvas.center() + (mm - self.centre_mm) * self.points_per_mm
    }

    /// From the canvas to the table.
    pub fn to_table(self, canvas: Rect, at: Pos2) -> Pos2 {
        self.centre_mm + (at - canvas.center()) / self.points_per_mm
    }

    /// A rectangle on the table as seen on the canvas.
    pub fn rect(self, canvas: Rect, mm: Rect) -> Rect {
        Rect::from_min_max(self.to_canvas(canvas, mm.min), self.to_canvas(canvas, mm.max))
    }

    /// Zooms so that the spot under `at` stays where it is.
    pub fn zoom_at(&mut self, canvas: Rect, at: Pos2, factor: f32) {
        let under = self.to_table(canvas, at);
        self.points_per_mm = (self.points_per_mm * factor).clamp(0.1, 400.0);
        self.centre_mm = under - (at - canvas.center()) / self.points_per_mm;
        self.fit = false;
    }

    /// Moves the table with the pointer.
    pub fn pan(&mut self, by: Vec2) {
        self.centre_mm -= by / self.points_per_mm;
        self.fit = false;
    }

    /// Moves the table, and zooms out if it must, so that a rectangle of it is in sight; leaves it where it
    /// is if the rectangle is.
    pub fn bring(&mut self, canvas: Rect, mm: Rect) {
        let seen = self.rect(canvas, mm);
        if canvas.contains_rect(seen) {
            return;
        }
        if seen.width() > canvas.width() || seen.height() > canvas.height() {
            self.show(canvas, mm);
        }
        self.centre_mm = mm.center();
        self.fit = false;
    }

    /// Brings a rectangle of the table fully into sight, with a margin.
    pub fn show(&mut self, canvas: Rect, mm: Rect) {
        let room = (canvas.size() - vec2(24.0, 24.0)).max(vec2(10.0, 10.0));
        self.points_per_mm = (room / mm.size()).min_elem().clamp(0.1, 400.0);
        self.centre_mm = mm.center();
    }
}

impl Default for Camera {
    fn default() -> Self {
        Self { centre_mm: pos2(0.0, 340.0), points_per_mm: 1.0, fit: true }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn zoom_keeps_the_spot_under_the_pointer() {
        let canvas = Rect::from_min_size(pos2(200.0, 50.0), vec2(900.0, 700.0));
        let mut camera = Camera::default();
        let pointer = pos2(333.0, 444.0);
        let before = camera.to_table(canvas, pointer);
        camera.zoom_at(canvas, pointer, 3.7);
        let after = camera.to_table(canvas, pointer);
        assert!((before - after).length() < 1e-3, "{before:?} {after:?}");
        assert!((camera.to_canvas(canvas, before) - pointer).length() < 1e-2);
    }

    #[test]
    fn show_brings_all_of_it_into_sight() {
        let canvas = Rect::from_min_size(pos2(0.0, 0.0), vec2(500.0, 400.0));
        let mut camera = Camera::default();
        let mm = Rect::from_min_size(pos2(-300.0, -10.0), vec2(600.0, 750.0));
        camera.show(canvas, mm);
        assert!(canvas.contains_rect(camera.rect(canvas, mm)));
    }

    #[test]
    fn what_is_brought_is_in_sight_and_what_is_in_sight_stays() {
        let canvas = Rect::from_min_size(pos2(100.0, 50.0), vec2(500.0, 400.0));
        let mut camera = Camera::default();
        camera.show(canvas, Rect::from_min_size(pos2(0.0, 0.0), vec2(100.0, 80.0)));
        let before = camera;
        camera.bring(canvas, Rect::from_min_size(pos2(10.0, 10.0), vec2(20.0, 20.0)));
        assert_eq!((camera.centre_mm, camera.points_per_mm), (before.centre_mm, before.points_per_mm));
        let beside = Rect::from_min_size(pos2(190.0, 300.0), vec2(20.0, 20.0));
        camera.bring(canvas, beside);
        assert!(canvas.contains_rect(camera.rect(canvas, beside)));
        assert_eq!(camera.points_per_mm, before.points_per_mm, "it fits without zooming");
        let large = Rect::from_min_size(pos2(-100.0, 0.0), vec2(200.0, 400.0));
        camera.bring(canvas, large);
        assert!(canvas.contains_rect(camera.rect(canvas, large)));
    }
}
