//! The press sheet: one page for the press (placement, heads, screens, the look after each) and
//! one for what to watch, what it rests on and what the printer writes down.

use strikeoff_core::names::same;

use super::canvas::Weight::{Bold, Regular};
use super::canvas::{Book, Color, GREY, INK, Paper, RULE, Role, SheetPdf};
use super::content::{Content, ScreenRow};
use super::shirt;
use crate::text::name;

const MARGIN: f32 = 12.0;

pub(super) fn rgb(color: strikeoff_core::color::Rgb8) -> Color {
    color.0.map(|v| f32::from(v) / 255.0)
}

/// The press sheet as a PDF of two pages.
///
/// # Errors
/// A sentence if the pages cannot be written as PDF.
pub fn press_sheet_pdf(content: &Content, paper: Paper) -> Result<SheetPdf, String> {
    let mut book = Book::new(paper, &format!("Press sheet: {}", content.title), content.names());
    book.page();
    first_page(&mut book, content);
    book.page();
    second_page(&mut book, content);
    book.finish()
}

pub(super) fn head(book: &mut Book, what: &str, content: &Content) -> f32 {
    let [w, _] = book.size_mm();
    // A long title is set smaller before it is cut.
    let title = name(&content.title);
    let room = w - 2.0 * MARGIN - book.width_mm(what, 10.0, Regular) - 8.0;
    let size = [17.0, 15.0, 13.0, 11.0, 9.5].into_iter().find(|&pt| book.width_mm(&title, pt, Bold) <= room);
    let size = size.unwrap_or(9.5);
    let title = book.cut(&title, size, Bold, room);
    book.heading(1, MARGIN, 19.0, size, &title);
    let label = book.width_mm(what, 10.0, Regular);
    book.text(w - MARGIN - label, 19.0, 10.0, Regular, GREY, what);
    let line: Vec<String> = content.head.iter().map(|(what, text)| format!("{what}: {}", name(text))).collect();
    let line = line.join("    ");
    // Smaller before it is cut: what is stated is to be read.
    let size = [9.0, 8.0, 7.0].into_iter().find(|&pt| book.width_mm(&line, pt, Regular) <= w - 2.0 * MARGIN);
    let size = size.unwrap_or(7.0);
    let line = book.cut(&line, size, Regular, w - 2.0 * MARGIN);
    book.text(MARGIN, 25.0, size, Regular, GREY, &line);
    book.line(MARGIN, 28.0, w - MARGIN, 28.0, RULE);
    33.0
}

fn first_page(book: &mut Book, c: &Content) {
    let [w, h] = book.size_mm();
    let y = head(book, "Press sheet", c);
    // Placement.
    let shirt_box = [MARGIN, y, 88.0, 80.0];
    book.fill(shirt_box[0], shirt_box[1], shirt_box[2], shirt_box[3], [0.945, 0.95, 0.955]);
    let inner = [shirt_box[0] + 4.0, shirt_box[1] + 3.0, shirt_box[2] - 8.0, shirt_box[3] - 6.0];
    shirt::draw(book, inner, rgb(c.fabric), &c.proof, c.print_mm, c.below_collar);
    // Facts beside it.
    let (fx, fw) = (MARGIN + 94.0, w - 2.0 * MARGIN - 94.0);
    let mut fy = y + 4.0;
    for (label, value) in &c.facts {
        book.text(fx, fy, 8.0, Bold, INK, label);
        fy = book.paragraph(fx + 22.0, fy, fw - 22.0, 8.0, Regular, INK, value) + 1.6;
    }
    let mut y = (y + 86.0).max(fy + 2.0);
    y = screen_table(book, c, y);
    build_up_strip(book, c, y + 6.0, h - MARGIN);
}

/// Columns: where they begin, as fractions of the width, and their heads.
const COLUMNS: [(f32, &str); 8] = [
    (0.0, "Head"),
    (0.055, "Screen and ink"),
    (0.30, "Mesh"),
    (0.385, "Ruling / angle / dot"),
    (0.565, "Coverage"),
    (0.65, "Ink for the run"),
    (0.81, "Hits"),
    (0.875, "Then"),
];

fn screen_table(book: &mut Book, c: &Content, y: f32) -> f32 {
    book.heading(2, MARGIN, y, 10.0, "Screens in print order");
    let row_mm = if c.screens.len() > 9 { 6.2 } else { 7.4 };
    book.part(Role::Table, |book| {
        let [w, _] = book.size_mm();
        let mut y = y + 5.5;
        book.part(Role::Row, |book| {
            for (at, (_, label)) in COLUMNS.iter().enumerate() {
                book.part(Role::ColumnHead, |book| book.text(column_x(w, at), y, 7.0, Bold, GREY, label));
            }
        });
        y += 1.6;
        for screen in &c.screens {
            book.line(MARGIN, y, w - MARGIN, y, RULE);
            book.part(Role::Row, |book| table_row(book, screen, y, row_mm));
            y += row_mm;
        }
        book.line(MARGIN, y, w - MARGIN, y, RULE);
        y
    })
}

/// Where a column begins on a page `w` mm wide.
fn column_x(w: f32, at: usize) -> f32 {
    MARGIN + COLUMNS[at].0 * (w - 2.0 * MARGIN)
}

fn table_row(book: &mut Book, screen: &ScreenRow, y: f32, row_mm: f32) {
    let [w, _] = book.size_mm();
    let x = |at: usize| column_x(w, at);
    let base = y + row_mm * 0.62;
    book.part(Role::Cell, |book| book.text(x(0), base, 8.5, Bold, INK, &screen.head.to_string()));
    let side = row_mm - 2.6;
    book.fill(x(1), y + 1.3, side, side, rgb(screen.swatch));
    book.frame(x(1), y + 1.3, side, side, RULE);
    let name_x = x(1) + side + 1.6;
    let what = if same(&screen.name, &screen.ink) {
        name(&screen.name)
    } else {
        format!("{} (screen {})", name(&screen.ink), name(&screen.name))
    };
    let what = book.cut(&what, 8.0, Bold, x(2) - name_x - 1.5);
    book.part(Role::Cell, |book| book.text(name_x, base, 8.0, Bold, INK, &what));
    let hits = screen.hits.to_string();
    let cells: [&str; 6] = [&screen.mesh, &screen.halftone, &screen.coverage, &screen.grams, &hits, screen.after];
    for (cell, at) in cells.iter().zip(2..) {
        let room = if at + 1 < COLUMNS.len() { x(at + 1) } else { w - MARGIN } - x(at) - 1.0;
        let size = if book.width_mm(cell, 7.5, Regular) > room { 6.4 } else { 7.5 };
        let cell = book.cut(cell, size, Regular, room);
        book.part(Role::Cell, |book| book.text(x(at), base, size, Regular, INK, &cell));
    }
}

/// The look after each screen, as large as the rest of the page allows.
fn build_up_strip(book: &mut Book, c: &Content, y: f32, bottom: f32) {
    let [w, _] = book.size_mm();
    book.heading(2, MARGIN, y, 10.0, "Look after each screen");
    let top = y + 3.0;
    let n = c.screens.len().max(1);
    let wide = w - 2.0 * MARGIN;
    let (gap, label) = (3.0, 5.0);
    let ratio = (c.print_mm[1] / c.print_mm[0].max(1e-6)) as f32;
    // As many to a row as make them largest.
    let fit = |per_row: usize| {
        let rows = n.div_ceil(per_row);
        let cell_w = (wide - gap * (per_row as f32 - 1.0)) / per_row as f32;
        let cell_h = (bottom - top) / rows as f32 - label;
        cell_w.min(cell_h / ratio)
    };
    let per_row = (1..=n).max_by(|&a, &b| fit(a).total_cmp(&fit(b))).unwrap_or(1);
    let pic_w = fit(per_row).clamp(4.0, 60.0);
    let pic_h = pic_w * ratio;
    let step = (wide / per_row as f32).min(pic_w + 14.0);
    for (at, screen) in c.screens.iter().enumerate() {
        let px = MARGIN + (at % per_row) as f32 * step;
        let py = top + (at / per_row) as f32 * (pic_h + label);
        let alt = format!("The print after {}", screen.name);
        book.picture(&screen.look, &alt, [px, py, pic_w, pic_h]);
        book.frame(px, py, pic_w, pic_h, RULE);
        // Named as in the table above: by its head.
        let text = book.cut(&format!("Head {}: {}", screen.head, name(&screen.ink)), 6.5, Regular, step - 1.0);
        book.text(px, py + pic_h + 3.0, 6.5, Regular, INK, &text);
    }
}

/// Lines of a list are this far apart, in mm.
const LINE_MM: f32 = 3.67;

/// Height of a list with its title.
fn bullets_mm(book: &Book, lines: &[String], width: f32) -> f32 {
    let line = |text: &String| book.wrap(text, 8.0, Regular, width - 4.0).len() as f32 * LINE_MM + 0.8;
    8.0 + lines.iter().map(line).sum::<f32>()
}

fn bullets(book: &mut Book, x: f32, y: f32, width: f32, title: &str, lines: &[String], limit: f32) -> f32 {
    book.heading(2, x, y, 10.0, title);
    book.part(Role::List, |book| {
        let mut y = y + 5.0;
        for (at, line) in lines.iter().enumerate() {
            let tall = book.wrap(line, 8.0, Regular, width - 4.0).len() as f32 * LINE_MM;
            if y + tall > limit {
                let more = format!("and {} more: see the check report", lines.len() - at);
                book.part(Role::Item, |book| book.text(x, y, 8.0, Regular, GREY, &more));
                return y + 6.0;
            }
            book.fill(x, y - 1.5, 1.2, 1.2, GREY);
            let item = |book: &mut Book| book.paragraph(x + 3.5, y, width - 4.0, 8.0, Regular, INK, line);
            y = book.part(Role::Item, item) + 0.8;
        }
        y + 3.0
    })
}

fn second_page(book: &mut Book, c: &Content) {
    let [w, h] = book.size_mm();
    let wide = w - 2.0 * MARGIN;
    let mut y = head(book, "Press sheet, page 2", c) + 3.0;
    let half = (wide - 8.0) / 2.0;
    let left = bullets(book, MARGIN, y, half, "Watch points", &c.watch, y + 88.0);
    let right = bullets(book, MARGIN + half + 8.0, y, half, "Curve, choke and assumptions", &c.settings, y + 88.0);
    y = left.max(right) + 1.0;
    y = wedge(book, c, y);
    let bottom = h - MARGIN - 22.0;
    // What cautions and runs leave goes to the boxes: a pen wants room.
    let below = bullets_mm(book, &c.cautions, half).max(bullets_mm(book, &c.runs, half));
    y = blanks(book, c, y + 4.0, (bottom - y - 8.0 - below).max(0.0));
    let half_y = y + 4.0;
    bullets(book, MARGIN, half_y, half, "Cautions", &c.cautions, bottom);
    if !c.runs.is_empty() {
        bullets(book, MARGIN + half + 8.0, half_y, half, "Runs so far", &c.runs, bottom);
    }
    approval(book, h - MARGIN - 12.0);
}

fn wedge(book: &mut Book, c: &Content, y: f32) -> f32 {
    let [w, _] = book.size_mm();
    let wide = w - 2.0 * MARGIN;
    book.heading(2, MARGIN, y, 10.0, "Step wedge: film, and what it is expected to print");
    let cell = wide / c.wedge.len().max(1) as f32;
    for (at, (film, print)) in c.wedge.iter().enumerate() {
        let x = MARGIN + at as f32 * cell;
        let grey = 1.0 - f32::from(*print) / 100.0;
        // Coverage is linear in light; the page wants sRGB.
        let shade = if grey <= 0.003_130_8 { 12.92 * grey } else { 1.055 * grey.powf(1.0 / 2.4) - 0.055 };
        book.fill(x, y + 2.5, cell, 8.0, [shade; 3]);
        book.frame(x, y + 2.5, cell, 8.0, RULE);
        book.text(x + 1.0, y + 14.0, 7.0, Regular, INK, &format!("{film} %"));
        book.text(x + 1.0, y + 17.4, 7.0, Regular, GREY, &format!("{print} %"));
    }
    y + 20.0
}

/// Boxes for the printer's pen, as high as `room` allows, in mm.
fn blanks(book: &mut Book, c: &Content, y: f32, room: f32) -> f32 {
    let [w, _] = book.size_mm();
    let wide = w - 2.0 * MARGIN;
    let columns = 3usize;
    let rows = c.screens.len().div_ceil(columns);
    let spare = (room - 2.5 - 15.0 - rows as f32 * 6.0 - 2.0).max(0.0);
    let row_mm = 6.0 + (spare * 0.4 / rows.max(1) as f32).min(3.0);
    let box_mm = 15.0 + (spare * 0.4).min(12.0);
    book.heading(2, MARGIN, y, 10.0, "On press");
    let mut y = y + 2.5;
    let labels = [
        "Changed on press",
        "Cure, by the data sheet",
        "Date, shirts, test shirts",
        "Misprints",
        "Recheck after the first shirts",
    ];
    let cell = wide / labels.len() as f32;
    for (at, label) in labels.iter().enumerate() {
        let x = MARGIN + at as f32 * cell;
        book.frame(x, y, cell, box_mm, RULE);
        book.text(x + 1.5, y + 3.6, 6.8, Regular, GREY, label);
    }
    y += box_mm;
    // A line a screen for ink weighed in and out, and the shirts after which it was refilled.
    let third = wide / columns as f32;
    for (at, screen) in c.screens.iter().enumerate() {
        let (x, row) = (MARGIN + (at % columns) as f32 * third, y + (at / columns) as f32 * row_mm);
        book.frame(x, row, third, row_mm, RULE);
        let base = row + row_mm / 2.0 + 1.0;
        // Weights stand at the right, each with a place to write.
        let weights = ["in", "out", "refills"].map(|word| book.width_mm(word, 7.0, Regular) + 9.5);
        let mut at_x = x + third - weights.iter().sum::<f32>() - 1.5;
        let name = book.cut(&screen.ink, 7.0, Regular, at_x - x - 2.5);
        book.text(x + 1.5, base, 7.0, Regular, INK, &name);
        for (word, wide) in ["in", "out", "refills"].into_iter().zip(weights) {
            book.text(at_x, base, 7.0, Regular, GREY, word);
            if word != "refills" {
                book.text(at_x + wide - 3.0, base, 7.0, Regular, GREY, "g");
            }
            at_x += wide;
        }
    }
    y + rows as f32 * row_mm + 2.0
}

pub(super) fn approval(book: &mut Book, y: f32) {
    let [w, _] = book.size_mm();
    let cell = (w - 2.0 * MARGIN) / 3.0;
    for (at, label) in ["Approved by", "Signature", "Date"].iter().enumerate() {
        let x = MARGIN + at as f32 * cell;
        book.line(x, y, x + cell - 6.0, y, INK);
        book.text(x, y + 4.0, 7.5, Regular, GREY, label);
    }
}

/// Name, ink and swatch of a screen in a small block, for the client's eyes.
pub(super) fn swatch(book: &mut Book, screen: &ScreenRow, at: usize, x: f32, y: f32, width: f32) {
    book.fill(x, y, 8.0, 8.0, rgb(screen.swatch));
    book.frame(x, y, 8.0, 8.0, RULE);
    let ink = book.cut(&format!("{}  {}", at + 1, name(&screen.ink)), 8.0, Bold, width - 11.0);
    book.text(x + 10.0, y + 3.2, 8.0, Bold, INK, &ink);
    let note = if screen.measured { "measured" } else { "from the ink list, not measured" };
    let note = book.cut(&format!("{} · {note}", screen.swatch), 6.5, Regular, width - 11.0);
    book.text(x + 10.0, y + 6.9, 6.5, Regular, GREY, &note);
}
