//! Pages to draw on in millimetres from the top left, and the PDF they become (ISO 32000-1).

use std::io::Write;

use flate2::Compression;
use flate2::write::ZlibEncoder;
use pdf_writer::{Content, Filter, Finish, Name, Pdf, Rect, Ref, Str, TextStr};
use strikeoff_core::raster::Picture;

use super::font::{Face, Weight};

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

/// Red, green, blue, 0..1, sRGB.
pub type Color = [f32; 3];

/// Text colour.
pub const INK: Color = [0.10, 0.11, 0.13];
/// Colour of lesser text.
pub const GREY: Color = [0.42, 0.44, 0.47];
/// Colour of rules.
pub const RULE: Color = [0.74, 0.76, 0.78];

struct Page {
    content: Content,
    images: Vec<usize>,
}

/// Pages and what they share.
pub struct Book {
    paper: Paper,
    title: String,
    regular: Face,
    bold: Face,
    pages: Vec<Page>,
    images: Vec<(usize, usize, Vec<u8>)>,
}

impl Book {
    /// No pages yet.
    pub fn new(paper: Paper, title: &str) -> Self {
        Self {
            paper,
            title: title.to_owned(),
            regular: Face::new(Weight::Regular),
            bold: Face::new(Weight::Bold),
            pages: Vec::new(),
            images: Vec::new(),
        }
    }

    /// Starts the next page.
    pub fn page(&mut self) {
        self.pages.push(Page { content: Content::new(), images: Vec::new() });
    }

    /// Width and height of a page in mm.
    pub fn size_mm(&self) -> [f32; 2] {
        self.paper.size_mm()
    }

    fn face(&self, weight: Weight) -> &Face {
        if weight == Weight::Bold { &self.bold } else { &self.regular }
    }

    fn at(&self, x_mm: f32, y_mm: f32) -> (f32, f32) {
        (x_mm * PT_PER_MM, (self.paper.size_mm()[1] - y_mm) * PT_PER_MM)
    }

    fn content(&mut self) -> &mut Content {
        if self.pages.is_empty() {
            self.page();
        }
        let last = self.pages.len() - 1;
        &mut self.pages[last].content
    }

    /// Width of a text in mm.
    pub fn width_mm(&self, text: &str, size_pt: f32, weight: Weight) -> f32 {
        self.face(weight).width_pt(text, size_pt) / PT_PER_MM
    }

    /// One line of text, its baseline at `y_mm`.
    pub fn text(&mut self, x_mm: f32, y_mm: f32, size_pt: f32, weight: Weight, color: Color, text: &str) {
        let (x, y) = self.at(x_mm, y_mm);
        let bytes = if weight == Weight::Bold { self.bold.encode(text) } else { self.regular.encode(text) };
        let content = self.content();
        content.set_fill_rgb(color[0], color[1], color[2]);
        content.begin_text().set_font(weight.resource(), size_pt).set_text_matrix([1.0, 0.0, 0.0, 1.0, x, y]);
        content.show(Str(&bytes)).end_text();
    }

    /// Breaks a text into lines no wider than `width_mm`. A word that is wider by itself is
    /// broken inside.
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

    /// Text over several lines; gives the baseline after the last.
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
        let mut y = y;
        for line in self.wrap(text, size_pt, weight, width) {
            self.text(x, y, size_pt, weight, color, &line);
            y += step;
        }
        y
    }

    /// A text cut to a width, with an ellipsis.
    pub fn cut(&self, text: &str, size_pt: f32, weight: Weight, width_mm: f32) -> String {
        if self.width_mm(text, size_pt, weight) <= width_mm {
            return text.to_owned();
        }
        let mut out: String = text.to_owned();
        while !out.is_empty() && self.width_mm(&format!("{out}…"), size_pt, weight) > width_mm {
            out.pop();
        }
        format!("{}…", out.trim_end())
    }

    /// A filled box.
    pub fn fill(&mut self, x: f32, y: f32, w: f32, h: f32, color: Color) {
        let (px, py) = self.at(x, y + h);
        let content = self.content();
        content.set_fill_rgb(color[0], color[1], color[2]);
        content.rect(px, py, w * PT_PER_MM, h * PT_PER_MM).fill_nonzero();
    }

    /// An outlined box.
    pub fn frame(&mut self, x: f32, y: f32, w: f32, h: f32, color: Color) {
        let (px, py) = self.at(x, y + h);
        let content = self.content();
        content.set_stroke_rgb(color[0], color[1], color[2]).set_line_width(0.6);
        content.rect(px, py, w * PT_PER_MM, h * PT_PER_MM).stroke();
    }

    /// A thin line.
    pub fn line(&mut self, x0: f32, y0: f32, x1: f32, y1: f32, color: Color) {
        let (a, b) = (self.at(x0, y0), self.at(x1, y1));
        let content = self.content();
        content.set_stroke_rgb(color[0], color[1], color[2]).set_line_width(0.5);
        content.move_to(a.0, a.1).line_to(b.0, b.1).stroke();
    }

    /// A closed outline of lines and curves, filled and drawn. Every piece is the end point, with
    /// two control points before it for a curve.
    pub fn outline(&mut self, start: [f32; 2], pieces: &[[[f32; 2]; 3]], fill: Color, edge: Color) {
        let start = self.at(start[0], start[1]);
        let pieces: Vec<[(f32, f32); 3]> = pieces.iter().map(|p| p.map(|q| self.at(q[0], q[1]))).collect();
        let content = self.content();
        content.set_fill_rgb(fill[0], fill[1], fill[2]).set_stroke_rgb(edge[0], edge[1], edge[2]).set_line_width(0.7);
        content.move_to(start.0, start.1);
        for [a, b, c] in pieces {
            content.cubic_to(a.0, a.1, b.0, b.1, c.0, c.1);
        }
        content.close_path().fill_nonzero_and_stroke();
    }

    /// A picture, opaque, stretched into a box.
    pub fn picture(&mut self, picture: &Picture, x: f32, y: f32, w: f32, h: f32) {
        let rgb: Vec<u8> = picture.to_rgba8().chunks_exact(4).flat_map(|p| [p[0], p[1], p[2]]).collect();
        self.images.push((picture.width(), picture.height(), deflate(&rgb)));
        let index = self.images.len() - 1;
        let (px, py) = self.at(x, y + h);
        let name = format!("I{index}");
        self.content();
        if let Some(page) = self.pages.last_mut() {
            page.images.push(index);
            page.content.save_state();
            page.content.transform([w * PT_PER_MM, 0.0, 0.0, h * PT_PER_MM, px, py]);
            page.content.x_object(Name(name.as_bytes()));
            page.content.restore_state();
        }
    }

    /// The finished file.
    pub fn finish(self) -> Vec<u8> {
        let mut pdf = Pdf::new();
        let mut number = 0;
        let mut next = || {
            number += 1;
            Ref::new(number)
        };
        let (catalog, tree, info, regular, bold) = (next(), next(), next(), next(), next());
        let page_ids: Vec<Ref> = self.pages.iter().map(|_| next()).collect();
        let image_ids: Vec<Ref> = self.images.iter().map(|_| next()).collect();
        pdf.catalog(catalog).pages(tree);
        pdf.document_info(info).title(TextStr(&self.title)).producer(TextStr("Strikeoff"));
        pdf.pages(tree).kids(page_ids.iter().copied()).count(page_ids.len() as i32);
        let [w, h] = self.paper.size_mm();
        for (page, &id) in self.pages.into_iter().zip(&page_ids) {
            let content_id = next();
            let mut out = pdf.page(id);
            out.media_box(Rect::new(0.0, 0.0, w * PT_PER_MM, h * PT_PER_MM)).parent(tree).contents(content_id);
            let mut resources = out.resources();
            resources.fonts().pair(Weight::Regular.resource(), regular).pair(Weight::Bold.resource(), bold);
            let mut objects = resources.x_objects();
            for &image in &page.images {
                objects.pair(Name(format!("I{image}").as_bytes()), image_ids[image]);
            }
            objects.finish();
            resources.finish();
            out.finish();
            let packed = deflate(&page.content.finish());
            pdf.stream(content_id, &packed).filter(Filter::FlateDecode);
        }
        for ((w, h, data), &id) in self.images.iter().zip(&image_ids) {
            let mut image = pdf.image_xobject(id, data);
            image.filter(Filter::FlateDecode);
            image.width(*w as i32).height(*h as i32).bits_per_component(8);
            image.color_space().device_rgb();
        }
        self.regular.write(&mut pdf, regular, &mut next);
        self.bold.write(&mut pdf, bold, &mut next);
        pdf.finish()
    }
}

/// Packs bytes for a FlateDecode stream.
pub fn deflate(data: &[u8]) -> Vec<u8> {
    let mut out = ZlibEncoder::new(Vec::new(), Compression::default());
    // Writing into memory cannot fail.
    let _ = out.write_all(data);
    out.finish().unwrap_or_default()
}
