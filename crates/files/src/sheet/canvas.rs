//! Pages to draw on in millimetres from the top left. What is drawn is noted down; `tagged.rs` makes the
//! file of it at the end.

use krilla::geom::{Path, PathBuilder, Point, Rect, Size};
use krilla::image::Image;
use strikeoff_core::raster::Picture;

pub use super::tagged::Role;
use super::tagged::{Mark, PT_PER_MM, write};
use crate::text::{Face, Gaps, Missing, set};

/// Paper of a sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Paper {
    /// 210 x 297 mm (ISO 216).
    #[default]
    A4,
    /// 8.5 x 11 in.
    Letter,
}

impl Paper {
    /// Width and height in mm.
    pub fn size_mm(self) -> [f32; 2] {
        match self {
            Self::A4 => [210.0, 297.0],
            Self::Letter => [215.9, 279.4],
        }
    }
}

/// Weight of a text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Weight {
    /// For running text.
    Regular,
    /// For headings.
    Bold,
}

impl Weight {
    fn face(self) -> Face {
        match self {
            Self::Regular => Face::Sans,
            Self::Bold => Face::SansBold,
        }
    }
}

/// Red, green, blue, 0..1, sRGB.
pub type Color = [f32; 3];

/// Text colour.
pub const INK: Color = [0.10, 0.11, 0.13];
/// Colour of lesser text.
pub const GREY: Color = [0.42, 0.44, 0.47];
/// Colour of rules.
pub const RULE: Color = [0.74, 0.76, 0.78];

/// A finished sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetPdf {
    /// The file.
    pub bytes: Vec<u8>,
    /// Letters that no font of this machine has; [`crate::text::REPLACEMENT`] stands in their place.
    pub missing: Vec<Missing>,
}

/// Pages and what is on them.
pub struct Book {
    paper: Paper,
    title: String,
    marks: Vec<Mark>,
    gaps: Gaps,
}

impl Book {
    /// No pages yet. `names` are reported whole where letters of them are missing.
    pub fn new<'a>(paper: Paper, title: &str, names: impl IntoIterator<Item = &'a str>) -> Self {
        Self { paper, title: title.to_owned(), marks: Vec::new(), gaps: Gaps::of_names(names) }
    }

    /// Starts the next page.
    pub fn page(&mut self) {
        self.marks.push(Mark::Page);
    }

    /// Width and height of a page in mm.
    pub fn size_mm(&self) -> [f32; 2] {
        self.paper.size_mm()
    }

    /// Says what the things drawn by `draw` are together.
    pub fn part<T>(&mut self, role: Role, draw: impl FnOnce(&mut Self) -> T) -> T {
        self.marks.push(Mark::Open(role));
        let out = draw(self);
        self.marks.push(Mark::Close);
        out
    }

    /// Width of a text in mm.
    pub fn width_mm(&self, text: &str, size_pt: f32, weight: Weight) -> f32 {
        set(weight.face(), text).width() * size_pt / PT_PER_MM
    }

    /// One line of text, its base line at `y_mm`.
    pub fn text(&mut self, x_mm: f32, y_mm: f32, size_pt: f32, weight: Weight, color: Color, text: &str) {
        let line = set(weight.face(), text);
        self.gaps.look(weight.face(), text);
        let at = Point::from_xy(x_mm * PT_PER_MM, y_mm * PT_PER_MM);
        self.marks.push(Mark::Text { line, text: text.to_owned(), at, size_pt, color });
    }

    /// A heading of one line.
    pub fn heading(&mut self, level: u16, x_mm: f32, y_mm: f32, size_pt: f32, text: &str) {
        self.part(Role::Heading(level), |book| book.text(x_mm, y_mm, size_pt, Weight::Bold, INK, text));
    }

    /// Breaks a text into lines no wider than `width_mm`. A word that is wider by itself is broken
    /// inside, and so is a text that has no spaces.
    pub fn wrap(&self, text: &str, size_pt: f32, weight: Weight, width_mm: f32) -> Vec<String> {
        let mut lines = vec![String::new()];
        let fits = |line: &str| self.width_mm(line, size_pt, weight) <= width_mm;
        for word in text.split_whitespace() {
            let last = lines.len() - 1;
            let joined = if lines[last].is_empty() { word.to_owned() } else { format!("{} {word}", lines[last]) };
            if fits(&joined) {
                lines[last] = joined;
                continue;
            }
            if !lines[last].is_empty() {
                lines.push(String::new());
            }
            let mut part = String::new();
            for c in word.chars() {
                part.push(c);
                if !fits(&part) && part.chars().count() > 1 {
                    part.pop();
                    let last = lines.len() - 1;
                    lines[last] = std::mem::take(&mut part);
                    lines.push(String::new());
                    part.push(c);
                }
            }
            let last = lines.len() - 1;
            lines[last] = part;
        }
        lines
    }

    /// Text over several lines; gives the base line after the last.
    #[allow(clippy::too_many_arguments)]
    pub fn paragraph(
        &mut self,
        x: f32,
        y: f32,
        width: f32,
        size_pt: f32,
        weight: Weight,
        color: Color,
        text: &str,
    ) -> f32 {
        let step = size_pt * 1.3 / PT_PER_MM;
        let lines = self.wrap(text, size_pt, weight, width);
        self.part(Role::Paragraph, |book| {
            let mut y = y;
            for line in lines {
                book.text(x, y, size_pt, weight, color, &line);
                y += step;
            }
            y
        })
    }

    /// A text cut to a width, with an ellipsis.
    pub fn cut(&self, text: &str, size_pt: f32, weight: Weight, width_mm: f32) -> String {
        if self.width_mm(text, size_pt, weight) <= width_mm {
            return text.to_owned();
        }
        // The most letters that fit: wider with each letter, so halving finds it.
        let ends: Vec<usize> = text.char_indices().map(|(at, _)| at).collect();
        let shortened = |letters: usize| format!("{}…", text[..ends[letters]].trim_end());
        let (mut fits, mut too_wide) = (0, ends.len());
        while too_wide - fits > 1 {
            let middle = fits.midpoint(too_wide);
            if self.width_mm(&shortened(middle), size_pt, weight) <= width_mm {
                fits = middle
            } else {
                too_wide = middle
            }
        }
        shortened(fits)
    }

    /// A filled box.
    pub fn fill(&mut self, x: f32, y: f32, w: f32, h: f32, color: Color) {
        self.draw(rectangle(x, y, w, h), Some(color), None);
    }

    /// An outlined box.
    pub fn frame(&mut self, x: f32, y: f32, w: f32, h: f32, color: Color) {
        self.draw(rectangle(x, y, w, h), None, Some((color, 0.6)));
    }

    /// A thin line.
    pub fn line(&mut self, x0: f32, y0: f32, x1: f32, y1: f32, color: Color) {
        let mut path = PathBuilder::new();
        path.move_to(x0 * PT_PER_MM, y0 * PT_PER_MM);
        path.line_to(x1 * PT_PER_MM, y1 * PT_PER_MM);
        self.draw(path.finish(), None, Some((color, 0.5)));
    }

    /// A closed outline through points, filled and drawn.
    pub fn outline(&mut self, points: &[[f32; 2]], fill: Color, edge: Color) {
        let mut path = through(points);
        path.close();
        self.draw(path.finish(), Some(fill), Some((edge, 0.7)));
    }

    /// A thin line through points.
    pub fn stroke(&mut self, points: &[[f32; 2]], color: Color) {
        self.draw(through(points).finish(), None, Some((color, 0.4)));
    }

    /// An empty or degenerate path draws nothing.
    fn draw(&mut self, path: Option<Path>, fill: Option<Color>, stroke: Option<(Color, f32)>) {
        if let Some(path) = path {
            self.marks.push(Mark::Path { path, fill, stroke });
        }
    }

    /// A picture, opaque, stretched into a box; `alt` says what it shows.
    pub fn picture(&mut self, picture: &Picture, alt: &str, [x, y, w, h]: [f32; 4]) {
        let Some(size) = Size::from_wh(w * PT_PER_MM, h * PT_PER_MM) else { return };
        let mut pixels = picture.to_rgba8();
        pixels.chunks_exact_mut(4).for_each(|pixel| pixel[3] = 255);
        let image = Image::from_rgba8(pixels, picture.width() as u32, picture.height() as u32);
        let at = Point::from_xy(x * PT_PER_MM, y * PT_PER_MM);
        self.part(Role::Figure(alt.to_owned()), |book| book.marks.push(Mark::Picture { image, at, size }));
    }

    /// The finished file.
    ///
    /// # Errors
    /// A sentence if the pages cannot be written as PDF.
    pub fn finish(self) -> Result<SheetPdf, String> {
        let bytes = write(&self.marks, self.paper.size_mm(), &self.title)?;
        Ok(SheetPdf { bytes, missing: self.gaps.found() })
    }
}

fn through(points: &[[f32; 2]]) -> PathBuilder {
    let mut path = PathBuilder::new();
    for (at, point) in points.iter().enumerate() {
        let [x, y] = point.map(|v| v * PT_PER_MM);
        if at == 0 { path.move_to(x, y) } else { path.line_to(x, y) }
    }
    path
}

fn rectangle(x: f32, y: f32, w: f32, h: f32) -> Option<Path> {
    let [x, y, w, h] = [x, y, w, h].map(|v| v * PT_PER_MM);
    let mut path = PathBuilder::new();
    path.push_rect(Rect::from_xywh(x, y, w, h)?);
    path.finish()
}
