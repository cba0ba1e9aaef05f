//! What is printed in one piece (a film, or several on a roll) as device pixels: screened fields
//! and what stands around them, row by row.

use strikeoff_core::halftone::{Field, FieldCursor, invert_run, mirror_row, or_at, words_for};

use super::shapes::Shape;

/// A field and where its top left corner lies.
pub struct Placed<'a> {
    /// What is screened.
    pub field: Field<'a>,
    /// Device pixels from the left edge of the page.
    pub x_px: usize,
    /// Device pixels from the top edge of the page.
    pub y_px: usize,
}

/// Where a film lies on a page, device pixels.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FilmArea {
    /// Left edge.
    pub x_px: usize,
    /// Upper edge.
    pub y_px: usize,
    /// Width.
    pub width_px: usize,
    /// Height.
    pub height_px: usize,
}

/// A page before it is written. Rows may be read in any order, from several threads.
pub struct FilmPage<'a> {
    /// Device pixels across.
    pub width_px: usize,
    /// Device pixels down.
    pub height_px: usize,
    /// Screened rectangles.
    pub fields: Vec<Placed<'a>>,
    /// Line work over them.
    pub shapes: Vec<Shape>,
    /// The films on it.
    pub films: Vec<FilmArea>,
    /// Cut marks and words between films, which are never reversed.
    pub between: Vec<Shape>,
    /// Resolution across and down.
    pub dpi: [f64; 2],
    /// Whether the page is turned left to right.
    pub mirrored: bool,
    /// Whether ink is clear and the rest of each film dark.
    pub reversed: bool,
}

/// Working memory for rows, one a thread.
#[derive(Default)]
pub struct PageCursor {
    fields: Vec<FieldCursor>,
    part: Vec<u64>,
    crossings: Vec<(f64, i32)>,
}

impl FilmPage<'_> {
    /// Words of one row.
    pub fn words(&self) -> usize {
        words_for(self.width_px)
    }

    /// Computes row `y` into `out`, which has [`FilmPage::words`] words.
    pub fn row(&self, y: usize, cursor: &mut PageCursor, out: &mut [u64]) {
        out.fill(0);
        cursor.fields.resize_with(self.fields.len(), FieldCursor::default);
        for (placed, walker) in self.fields.iter().zip(&mut cursor.fields) {
            let field = &placed.field;
            if (placed.y_px..placed.y_px + field.height_px()).contains(&y) {
                cursor.part.resize(field.words(), 0);
                field.row(y - placed.y_px, walker, &mut cursor.part[..field.words()]);
                or_at(out, placed.x_px, &cursor.part[..field.words()], field.width_px());
            }
        }
        for shape in &self.shapes {
            shape.fill_row(y, self.dpi, self.width_px, &mut cursor.crossings, out);
        }
        if self.reversed {
            for film in self.films.iter().filter(|film| (film.y_px..film.y_px + film.height_px).contains(&y)) {
                invert_run(out, film.x_px, film.x_px + film.width_px);
            }
        }
        for shape in &self.between {
            shape.fill_row(y, self.dpi, self.width_px, &mut cursor.crossings, out);
        }
        if self.mirrored {
            mirror_row(out, self.width_px);
        }
    }
}
