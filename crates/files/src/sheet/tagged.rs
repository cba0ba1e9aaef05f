//! The tagged PDF that drawn pages become (ISO 32000-1, 14.8): what is read aloud or copied keeps its order and its
//! meaning.

use std::num::NonZeroU16;
use std::sync::Arc;

use krilla::color::rgb;
use krilla::geom::{Path, Point, Size, Transform};
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

use super::canvas::Color;
use crate::text::{Font, Glyph, Line, plain};

pub(super) const PT_PER_MM: f32 = 72.0 / 25.4;

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
pub(super) enum Mark {
    Page,
    Open(Role),
    Close,
    Text { line: Line, text: String, at: Point, size_pt: f32, color: Color },
    Path { path: Path, fill: Option<Color>, stroke: Option<(Color, f32)> },
    Picture { image: Image, at: Point, size: Size },
}

/// Writes pages of that size.
pub(super) fn write(marks: &[Mark], size_mm: [f32; 2], title: &str) -> Result<Vec<u8>, String> {
    let settings = SerializeSettings { enable_tagging: true, no_device_cs: true, ..Default::default() };
    let mut document = Document::new_with(settings);
    document.set_metadata(Metadata::new().title(title.to_owned()).producer("Strikeoff".into()).language("en".into()));
    let [w, h] = size_mm.map(|mm| mm * PT_PER_MM);
    let mut tags = Tags::new();
    let mut rest = marks;
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
    document.finish().map_err(|error| format!("the sheet cannot be written as PDF: {error:?}"))
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
            let glyphs = line.runs.iter().flat_map(|run| &run.glyphs);
            if glyphs.is_sorted_by_key(|glyph| glyph.text.start) {
                tags.push(id);
            } else {
                // Glyphs from right to left: the text is given as it is spelled (14.9.4).
                let mut spelled = TagGroup::new(Tag::Span.with_actual_text(Some(plain(text))));
                spelled.push(id);
                tags.push(spelled);
            }
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

/// Draws a line word by word, in the order in which it is spelled: that is what is copied and read aloud.
fn put_line(line: &Line, text: &str, at: Point, size_pt: f32, surface: &mut Surface<'_>) {
    let mut x = at.x;
    let mut words = Vec::new();
    for run in &line.runs {
        let blank = |glyph: &Glyph| text[glyph.text.clone()].chars().all(char::is_whitespace);
        for glyphs in run.glyphs.chunk_by(|a, b| blank(a) == blank(b)) {
            let begin = glyphs.iter().map(|glyph| glyph.text.start).min();
            words.push((begin, x, &run.font, glyphs));
            x += glyphs.iter().map(|glyph| glyph.advance).sum::<f32>() * size_pt;
        }
    }
    let left_to_right = words.is_sorted_by_key(|word| word.0);
    if left_to_right {
        // One piece a run, as nothing has to change its place.
        let mut x = at.x;
        for run in &line.runs {
            put_glyphs((&run.font, &run.glyphs), text, Point::from_xy(x, at.y), size_pt, surface);
            x += run.glyphs.iter().map(|glyph| glyph.advance).sum::<f32>() * size_pt;
        }
        return;
    }
    words.sort_by_key(|word| word.0);
    for (_, x, font, glyphs) in words {
        put_glyphs((font, glyphs), text, Point::from_xy(x, at.y), size_pt, surface);
    }
}

fn put_glyphs((font, glyphs): (&Arc<Font>, &[Glyph]), text: &str, at: Point, size_pt: f32, surface: &mut Surface<'_>) {
    let Some(font) = pdf_font(font) else { return };
    let glyph = |g: &Glyph| {
        KrillaGlyph::new(GlyphId::new(g.id), g.advance, g.offset[0], g.offset[1], 0.0, g.text.clone(), None)
    };
    let glyphs: Vec<KrillaGlyph> = glyphs.iter().map(glyph).collect();
    surface.draw_glyphs(at, &glyphs, font, text, size_pt, false);
}

fn pdf_font(font: &Arc<Font>) -> Option<krilla::text::Font> {
    let (bytes, index) = font.source();
    krilla::text::Font::new(bytes.into(), index)
}
