//! Pages to draw on in millimetres from the top left, and the tagged PDF they become (ISO 32000-1,
//! 14.8): what is read aloud or copied keeps its order and its meaning. What is drawn is noted down
//! and put on its page at the end.

use std::collections::BTreeSet;
use std::num::NonZeroU16;
use std::sync::Arc;

use krilla::color::rgb;
use krilla::geom::{Path, PathBuilder, Point, Rect, Size, Transform};
use krilla::image::Image;
use krilla::metadata::Metadata;
use krilla::page::PageSettings;
use krilla::paint::{Fill, Stroke};
use krilla::surface::Surface;
use krilla::tagging::{
    Artifact, ArtifactType, ContentTag, ListNumbering, SpanTag, TableHeaderScope, Tag, TagGroup, TagKind, TagTree,
};
use krilla::text::{GlyphId, KrillaGlyph};
use krilla::{Document, SerializeSettings};
use strikeoff_core::raster::Picture;

use crate::text::{Face, Font, Line, missing, set};

const PT_PER_MM: f32 = 72.0 / 25.4;

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

/// What a part of a page is, for readers that do not see it.
#[derive(Debug, Clone, PartialEq)]
pub enum Role {
    /// A heading; 1 is the page's own.
    Heading(u16),
    /// Running text.
    Paragraph,
    /// A list with bullets.
    List,
    /// One entry of a list.
    Item,
    /// A table.
    Table,
    /// A row of a table.
    Row,
    /// The head of a column.
    ColumnHead,
    /// A cell of a table.
    Cell,
    /// A picture, with what it shows in words.
    Figure(String),
}

impl Role {
    fn tag(self) -> TagKind {
        match self {
            Self::Heading(level) => Tag::Hn(NonZeroU16::new(level).unwrap_or(NonZeroU16::MIN), None).into(),
            Self::Paragraph => Tag::P.into(),
            Self::List => Tag::L(ListNumbering::Disc).into(),
            Self::Item => Tag::LI.into(),
            Self::Table => Tag::Table.into(),
            Self::Row => Tag::TR.into(),
            Self::ColumnHead => Tag::TH(TableHeaderScope::Column).into(),
            Self::Cell => Tag::TD.into(),
            Self::Figure(alt) => Tag::Figure(Some(alt)).into(),
        }
    }
}

/// One thing drawn; lengths in points from the top left.
enum Mark {
    Page,
    Open(Role),
    Close,
    Text { line: Line, text: String, at: Point, size_pt: f32, color: Color },
    Path { path: Path, fill: Option<Color>, stroke: Option<(Color, f32)> },
    Picture { image: Image, at: Point, size: Size },
}

/// A finished sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetPdf {
    /// The file.
    pub bytes: Vec<u8>,
    /// Characters that no font of this machine has; they are empty boxes on the sheet.
    pub missing: Vec<char>,
}

/// Pages and what is on them.
pub struct Book {
    paper: Paper,
    title: String,
    marks: Vec<Mark>,
    missing: BTreeSet<char>,
}

impl Book {
    /// No pages yet.
    pub fn new(paper: Paper, title: &str) -> Self {
        Self { paper, title: title.to_owned(), marks: Vec::new(), missing: BTreeSet::new() }
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
        self.missing.extend(missing(weight.face(), text));
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

    /// A closed outline of lines and curves, filled and drawn. Every piece is two control points and
    /// the end point.
    pub fn outline(&mut self, start: [f32; 2], pieces: &[[[f32; 2]; 3]], fill: Color, edge: Color) {
        let mut path = PathBuilder::new();
        let [x, y] = start.map(|v| v * PT_PER_MM);
        path.move_to(x, y);
        for piece in pieces {
            let [[ax, ay], [bx, by], [x, y]] = piece.map(|point| point.map(|v| v * PT_PER_MM));
            path.cubic_to(ax, ay, bx, by, x, y);
        }
        path.close();
        self.draw(path.finish(), Some(fill), Some((edge, 0.7)));
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
        let settings = SerializeSettings { enable_tagging: true, no_device_cs: true, ..Default::default() };
        let mut document = Document::new_with(settings);
        document
            .set_metadata(Metadata::new().title(self.title.clone()).producer("Strikeoff".into()).language("en".into()));
        let [w, h] = self.paper.size_mm().map(|mm| mm * PT_PER_MM);
        let mut tags = Tags::new();
        let mut rest = self.marks.as_slice();
        while let Some((first, after)) = rest.split_first() {
            // Marks before the first page belong to it.
            rest = if matches!(first, Mark::Page) { after } else { rest };
            let end = rest.iter().position(|mark| matches!(mark, Mark::Page)).unwrap_or(rest.len());
            let Some(page) = PageSettings::from_wh(w, h) else { return Err("the paper has no size".into()) };
            let mut page = document.start_page_with(page);
            let mut surface = page.surface();
            for mark in &rest[..end] {
                put(mark, &mut surface, &mut tags);
            }
            surface.finish();
            page.finish();
            rest = &rest[end..];
        }
        document.set_tag_tree(tags.tree());
        let bytes = document.finish().map_err(|error| format!("the sheet cannot be written as PDF: {error:?}"))?;
        Ok(SheetPdf { bytes, missing: self.missing.into_iter().collect() })
    }
}

fn rectangle(x: f32, y: f32, w: f32, h: f32) -> Option<Path> {
    let [x, y, w, h] = [x, y, w, h].map(|v| v * PT_PER_MM);
    let mut path = PathBuilder::new();
    path.push_rect(Rect::from_xywh(x, y, w, h)?);
    path.finish()
}

fn paint(color: Color) -> rgb::Color {
    let [r, g, b] = color.map(|v| (v.clamp(0.0, 1.0) * 255.0).round() as u8);
    rgb::Color::new(r, g, b)
}

/// The tree of parts while pages are drawn.
struct Tags {
    open: Vec<TagGroup>,
}

impl Tags {
    fn new() -> Self {
        Self { open: vec![TagGroup::new(Tag::Section)] }
    }

    fn push(&mut self, child: impl Into<krilla::tagging::Node>) {
        if let Some(group) = self.open.last_mut() {
            group.push(child);
        }
    }

    fn close(&mut self) {
        if self.open.len() > 1
            && let Some(group) = self.open.pop()
            && !group.children.is_empty()
        {
            self.push(group);
        }
    }

    fn tree(mut self) -> TagTree {
        while self.open.len() > 1 {
            self.close();
        }
        let mut tree = TagTree::new().with_lang(Some("en".into()));
        for group in self.open {
            tree.push(group);
        }
        tree
    }
}

fn put(mark: &Mark, surface: &mut Surface<'_>, tags: &mut Tags) {
    match mark {
        Mark::Page => {}
        Mark::Open(role) => tags.open.push(TagGroup::new(role.clone().tag())),
        Mark::Close => tags.close(),
        Mark::Text { line, text, at, size_pt, color } => {
            let loose = tags.open.len() == 1;
            if loose {
                tags.open.push(TagGroup::new(Tag::P));
            }
            let id = surface.start_tagged(ContentTag::Span(SpanTag::empty()));
            surface.set_stroke(None);
            surface.set_fill(Some(Fill { paint: paint(*color).into(), ..Default::default() }));
            put_line(line, text, *at, *size_pt, surface);
            surface.end_tagged();
            tags.push(id);
            if loose {
                tags.close();
            }
        }
        Mark::Path { path, fill, stroke } => {
            surface.start_tagged(ContentTag::Artifact(Artifact::with_kind(ArtifactType::Layout)));
            surface.set_fill(fill.map(|color| Fill { paint: paint(color).into(), ..Default::default() }));
            surface.set_stroke(stroke.map(|(color, width)| Stroke {
                paint: paint(color).into(),
                width,
                ..Default::default()
            }));
            surface.draw_path(path);
            surface.end_tagged();
        }
        Mark::Picture { image, at, size } => {
            let id = surface.start_tagged(ContentTag::Other);
            surface.push_transform(&Transform::from_translate(at.x, at.y));
            surface.draw_image(image.clone(), *size);
            surface.pop();
            surface.end_tagged();
            tags.push(id);
        }
    }
}

fn put_line(line: &Line, text: &str, at: Point, size_pt: f32, surface: &mut Surface<'_>) {
    let mut x = at.x;
    for run in &line.runs {
        let Some(font) = pdf_font(&run.font) else { continue };
        let glyphs: Vec<KrillaGlyph> = run
            .glyphs
            .iter()
            .map(|g| {
                KrillaGlyph::new(GlyphId::new(g.id), g.advance, g.offset[0], g.offset[1], 0.0, g.text.clone(), None)
            })
            .collect();
        surface.draw_glyphs(Point::from_xy(x, at.y), &glyphs, font, text, size_pt, false);
        x += run.glyphs.iter().map(|g| g.advance).sum::<f32>() * size_pt;
    }
}

fn pdf_font(font: &Arc<Font>) -> Option<krilla::text::Font> {
    let (bytes, index) = font.source();
    krilla::text::Font::new(bytes.into(), index)
}
