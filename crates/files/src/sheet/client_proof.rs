//! The client's proof: the print on the garment at its place and size, the inks, and a line to
//! sign. One page.

use super::canvas::Weight::{Bold, Regular};
use super::canvas::{Book, GREY, INK, Paper, RULE, SheetPdf};
use super::content::Content;
use super::press_sheet::{approval, head, rgb, swatch};
use super::shirt;

const MARGIN: f32 = 12.0;

/// What every client should know before signing.
pub const VIEWING_NOTE: &str = "Colours on screens and paper differ from ink on cloth, and cloth differs from lot to \
lot. Look at this proof in daylight or under a daylight lamp, not under warm light. It shows a computed print: size, \
place and ink names are binding, colours are as near as screen or paper allow. Ask for a printed shirt if colour is \
critical.";

/// Boxes to tick, with a line for what should change.
fn choice(book: &mut Book, y: f32) {
    let [w, _] = book.size_mm();
    let mut x = MARGIN;
    for label in ["Print as shown", "Change first:"] {
        book.frame(x, y - 3.0, 3.6, 3.6, INK);
        book.text(x + 5.4, y, 9.0, Bold, INK, label);
        x += 5.4 + book.width_mm(label, 9.0, Bold) + 9.0;
    }
    book.line(x - 7.0, y + 0.6, w - MARGIN, y + 0.6, RULE);
}

/// The client's proof as a PDF of one page.
///
/// # Errors
/// A sentence if the page cannot be written as PDF.
pub fn client_proof_pdf(c: &Content, paper: Paper) -> Result<SheetPdf, String> {
    let mut book = Book::new(paper, &format!("Proof: {}", c.title), c.names());
    book.page();
    let [w, h] = book.size_mm();
    let wide = w - 2.0 * MARGIN;
    let top = head(&mut book, "Proof for approval", c);
    let per_row = 3usize;
    let rows = c.screens.len().div_ceil(per_row) as f32;
    let run = book.wrap(&c.ordered.join("   ·   "), 8.5, Regular, wide);
    let more = 4.0 * (run.len() as f32 - 1.0).max(0.0);
    // Facts, inks, the note, room to sign.
    let below = 15.5 + more + 11.0 * rows + 16.0 + 36.0;
    let tall = h - MARGIN - below - top;
    book.fill(MARGIN, top, wide, tall, [0.945, 0.95, 0.955]);
    shirt::draw(
        &mut book,
        [MARGIN + 6.0, top + 5.0, wide - 12.0, tall - 10.0],
        rgb(c.fabric),
        &c.proof,
        c.print_mm,
        c.below_collar,
    );
    let mut y = top + tall + 6.0;
    let facts = format!("Print size {}   ·   {}", c.print_size, c.place);
    let facts = book.cut(&facts, 9.0, Bold, wide);
    book.text(MARGIN, y, 9.0, Bold, INK, &facts);
    for (at, line) in run.iter().enumerate() {
        book.text(MARGIN, y + 5.0 + 4.0 * at as f32, 8.5, Regular, INK, line);
    }
    y += more;
    y += 11.5;
    book.heading(2, MARGIN, y, 9.0, &format!("{} inks", c.screens.len()));
    y += 2.0;
    let cell = wide / per_row as f32;
    for (at, screen) in c.screens.iter().enumerate() {
        let (x, row) = (MARGIN + (at % per_row) as f32 * cell, y + (at / per_row) as f32 * 11.0);
        swatch(&mut book, screen, at, x, row, cell);
    }
    y += rows * 11.0 + 3.0;
    book.paragraph(MARGIN, y, wide, 7.5, Regular, GREY, VIEWING_NOTE);
    choice(&mut book, h - MARGIN - 27.0);
    approval(&mut book, h - MARGIN - 8.0);
    book.finish()
}
