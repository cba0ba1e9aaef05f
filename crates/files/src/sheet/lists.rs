//! Lists for one hand each, a page: the ink list for who mixes, the screen-room list for who exposes.

use strikeoff_core::names::same;

use super::canvas::Weight::{Bold, Regular};
use super::canvas::{Book, GREY, INK, Paper, RULE, Role, SheetPdf};
use super::content::{Content, ScreenRow};
use super::press_sheet::{head, rgb};
use crate::text::name;

const MARGIN: f32 = 12.0;

/// A column: its share of the width, its head, what it says of a screen.
type Column = (f32, &'static str, fn(&ScreenRow) -> String);

const INKS: [Column; 8] = [
    (0.06, "Head", |s| s.head.to_string()),
    (0.23, "Ink", |s| name(&s.ink)),
    (0.13, "Screen", |s| if same(&s.name, &s.ink) { String::new() } else { name(&s.name) }),
    (0.17, "A shirt", |s| s.each.clone()),
    (0.16, "For the run", |s| s.grams.clone()),
    (0.08, "To mix", |s| s.mix.clone()),
    (0.11, "Look every", |s| format!("{} shirts", s.check_every)),
    (0.06, "Mixed", |_| String::new()),
];

const SCREENS: [Column; 8] = [
    (0.06, "Film", |s| s.film.clone()),
    (0.24, "Screen and ink", |s| match same(&s.name, &s.ink) {
        true => name(&s.name),
        false => format!("{} in {}", name(&s.name), name(&s.ink)),
    }),
    (0.06, "Head", |s| s.head.to_string()),
    (0.10, "Mesh", |s| s.mesh.clone()),
    (0.22, "Ruling / angle / dot", |s| s.halftone.clone()),
    (0.10, "Coverage", |s| s.coverage.clone()),
    (0.11, "Exposed", |_| String::new()),
    (0.11, "Checked", |_| String::new()),
];

/// The ink list as a PDF of one page: what to mix for each screen, in print order.
///
/// # Errors
/// A sentence if the page cannot be written as PDF.
pub fn ink_list_pdf(content: &Content, paper: Paper) -> Result<SheetPdf, String> {
    list_pdf(content, paper, "Ink list", &INKS, &content.ink_notes)
}

/// The screen-room list as a PDF of one page: mesh and film of each screen, with room to tick.
///
/// # Errors
/// A sentence if the page cannot be written as PDF.
pub fn screen_room_pdf(content: &Content, paper: Paper) -> Result<SheetPdf, String> {
    list_pdf(content, paper, "Screen-room list", &SCREENS, &content.screen_notes)
}

fn list_pdf(
    content: &Content,
    paper: Paper,
    what: &str,
    columns: &[Column],
    notes: &[String],
) -> Result<SheetPdf, String> {
    let mut book = Book::new(paper, &format!("{what}: {}", content.title), content.names());
    book.page();
    let [w, h] = book.size_mm();
    let mut y = head(&mut book, what, content) + 4.0;
    let said = |wanted: &str| content.facts.iter().find(|(what, _)| *what == wanted);
    for (label, value) in ["Garment", "Quantity", "Print size"].into_iter().filter_map(said) {
        book.text(MARGIN, y, 8.5, Bold, INK, label);
        y = book.paragraph(MARGIN + 24.0, y, w - 2.0 * MARGIN - 24.0, 8.5, Regular, INK, value) + 1.6;
    }
    // All rows and the notes below them stay on the page.
    let notes_mm = 12.0 + notes.iter().map(|note| note_mm(&book, note)).sum::<f32>();
    let room = h - MARGIN - notes_mm - (y + 6.0);
    let row_mm = (room / content.screens.len().max(1) as f32).clamp(4.0, 9.0);
    y = table(&mut book, columns, &content.screens, y + 5.0, row_mm) + 8.0;
    for note in notes {
        y = book.paragraph(MARGIN, y, w - 2.0 * MARGIN, 8.0, Regular, GREY, note) + 1.0;
    }
    book.finish()
}

fn note_mm(book: &Book, note: &str) -> f32 {
    let [w, _] = book.size_mm();
    book.wrap(note, 8.0, Regular, w - 2.0 * MARGIN).len() as f32 * 3.67 + 1.0
}

fn table(book: &mut Book, columns: &[Column], screens: &[ScreenRow], y: f32, row_mm: f32) -> f32 {
    let [w, _] = book.size_mm();
    let wide = w - 2.0 * MARGIN;
    let lefts: Vec<f32> = columns
        .iter()
        .scan(MARGIN, |x, (share, ..)| {
            let left = *x;
            *x += share * wide;
            Some(left)
        })
        .collect();
    book.part(Role::Table, |book| {
        book.part(Role::Row, |book| {
            for ((_, head, _), x) in columns.iter().zip(&lefts) {
                book.part(Role::ColumnHead, |book| book.text(*x, y, 7.5, Bold, GREY, head));
            }
        });
        let mut y = y + 1.8;
        for screen in screens {
            book.line(MARGIN, y, w - MARGIN, y, RULE);
            book.part(Role::Row, |book| row(book, columns, &lefts, screen, y, row_mm));
            y += row_mm;
        }
        book.line(MARGIN, y, w - MARGIN, y, RULE);
        y
    })
}

fn row(book: &mut Book, columns: &[Column], lefts: &[f32], screen: &ScreenRow, y: f32, row_mm: f32) {
    let [w, _] = book.size_mm();
    let base = y + row_mm / 2.0 + 1.2;
    let side = (row_mm - 1.6).min(5.0);
    for (at, (_, head, says)) in columns.iter().enumerate() {
        let (mut x, right) = (lefts[at], lefts.get(at + 1).copied().unwrap_or(w - MARGIN));
        let text = says(screen);
        if head.starts_with("Ink") || head.starts_with("Screen and") {
            book.fill(x, y + (row_mm - side) / 2.0, side, side, rgb(screen.swatch));
            book.frame(x, y + (row_mm - side) / 2.0, side, side, RULE);
            x += side + 1.8;
        }
        if ["Mixed", "Exposed", "Checked"].contains(head) {
            // A box for the pen.
            book.frame(x, y + (row_mm - side) / 2.0, side, side, INK);
        }
        let room = right - x - 1.2;
        let size = [8.5, 7.5, 6.5].into_iter().find(|&pt| book.width_mm(&text, pt, Regular) <= room).unwrap_or(6.5);
        let text = book.cut(&text, size, Regular, room);
        book.part(Role::Cell, |book| book.text(x, base, size, Regular, INK, &text));
    }
}
