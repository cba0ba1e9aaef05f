//! A coverage plane laid over a rectangle of device pixels and screened row by row. Coverage is
//! interpolated from the screen's working resolution to the device's while it is screened. A film
//! that is turned sideways reads the plane by columns, a few at a time.

use super::across::{Across, SPARE, between};
use super::bits::words_for;
use super::cells::CellField;
use super::dots::{Dots, Kind};
use super::grid::DotGrid;
use super::kernel;
use super::shapes::{Edge, Lines, REACH, edges_of_line, smooth_at};
use super::thin::{ThinCursor, Thinning, Turned};
use super::tone::ToneTable;
use crate::raster::Plane;
use crate::simd;

/// A screened rectangle of a film.
#[derive(Debug)]
pub struct Field<'a> {
    plane: &'a Plane<u16>,
    tone: &'a ToneTable,
    body: Body<'a>,
    /// Whether the edges of flat shapes are cut.
    cuts: bool,
    sideways: bool,
    width_px: usize,
    height_px: usize,
}

#[derive(Debug)]
enum Body<'a> {
    Grid { grid: &'a DotGrid, across: Across, thinning: Option<Thinning> },
    Cells(Box<CellField>),
}

/// Columns that a sideways field reads at once: a cache line of coverage.
const COLUMNS: usize = 32;

/// Working memory for walking through a field's rows, one a thread and field.
#[derive(Debug, Default)]
pub struct FieldCursor {
    rows: [Option<usize>; 2],
    toned: [Vec<i16>; 2],
    blended: Vec<i16>,
    /// Sideways: a few columns of the plane, and the first of them.
    columns: Vec<i16>,
    first_column: Option<usize>,
    /// Dots of one size: the line of dots drawn last.
    line: Option<usize>,
    drawn: Vec<u64>,
    /// Edges of flat shapes along a source line (sideways: up a column), and which.
    edges: Vec<Edge>,
    edges_of: Option<usize>,
    /// Light tones as fewer dots.
    thin: ThinCursor,
}

impl<'a> Field<'a> {
    /// Lays `plane` over `width_px` by `height_px` device pixels.
    ///
    /// # Panics
    /// If the plane is empty.
    pub fn new(plane: &'a Plane<u16>, tone: &'a ToneTable, dots: &'a Dots, width_px: usize, height_px: usize) -> Self {
        assert!(plane.width() > 0 && plane.height() > 0, "an empty plane cannot be screened");
        let sideways = dots.sideways;
        let body = match &dots.kind {
            Kind::Grid(grid) => {
                let source = if sideways { plane.height() } else { plane.width() };
                let turned = Turned { plane, sideways };
                let thinning = Thinning::new(grid, tone, turned.size(), [width_px, height_px]);
                Body::Grid { grid, across: Across::new(simd::level(), source, width_px), thinning }
            }
            Kind::Cells(cells) => {
                Body::Cells(Box::new(CellField::new(cells, plane, tone, [width_px, height_px], sideways)))
            }
        };
        Self { plane, tone, body, cuts: dots.cuts_shapes(), sideways, width_px, height_px }
    }

    /// Device pixels across.
    pub fn width_px(&self) -> usize {
        self.width_px
    }

    /// Device pixels down.
    pub fn height_px(&self) -> usize {
        self.height_px
    }

    /// Words that [`Field::row`] fills.
    pub fn words(&self) -> usize {
        words_for(self.width_px)
    }

    /// Screens row `y` into `out`, which has [`Field::words`] words.
    pub fn row(&self, y: usize, cursor: &mut FieldCursor, out: &mut [u64]) {
        match &self.body {
            Body::Grid { grid, across, thinning } => {
                self.grid_row(grid, across, y, cursor, out);
                if let Some(thinning) = thinning {
                    let source = Turned { plane: self.plane, sideways: self.sideways };
                    let lines = source.size()[1];
                    let line = nearest(place(y, lines, self.height_px), lines);
                    thinning.row((grid, self.tone, source), [y, line], &mut cursor.thin, out);
                }
            }
            Body::Cells(cells) => {
                let line = cells.line_of(y);
                if cursor.line != Some(line) {
                    cursor.drawn.resize(self.words(), 0);
                    cells.draw_line(line, self.plane, self.tone, &mut cursor.drawn);
                    cursor.line = Some(line);
                }
                out.copy_from_slice(&cursor.drawn);
            }
        }
        if self.cuts {
            self.cut_shapes(y, cursor, out);
        }
    }

    /// Film pixels on the edge of a flat shape belong to one side or the other.
    fn cut_shapes(&self, y: usize, cursor: &mut FieldCursor, out: &mut [u64]) {
        // Turned clockwise, along a film row the plane is read up a column.
        let (along, lines) = match self.sideways {
            true => (self.plane.height(), self.plane.width()),
            false => (self.plane.width(), self.plane.height()),
        };
        let down = place(y, lines, self.height_px);
        let line = nearest(down, lines);
        for edge in cursor.edges(self.plane, self.sideways, line) {
            for x in under(edge.x as usize, along, self.width_px) {
                let across = place(x, along, self.width_px);
                let full = match (&edge.border, self.sideways) {
                    (Some(border), _) => border.is_full(across - edge.x as f32, down - line as f32),
                    (None, true) => edge.is_full(smooth_at(self.plane, down, (along - 1) as f32 - across)),
                    (None, false) => edge.is_full(smooth_at(self.plane, across, down)),
                };
                self.cut(if full { edge.high } else { edge.low }, [x, y], out);
            }
        }
    }

    fn cut(&self, side: u16, [x, y]: [usize; 2], out: &mut [u64]) {
        let ink = match (self.tone.get(side), &self.body) {
            (0, _) => false,
            (u16::MAX, _) => true,
            (tone, Body::Grid { grid, .. }) => tone > grid.threshold(x, y),
            // Scattered dots stay as they are drawn.
            (_, Body::Cells(_)) => return,
        };
        let bit = 1u64 << (x % 64);
        if ink { out[x / 64] |= bit } else { out[x / 64] &= !bit }
    }

    fn grid_row(&self, grid: &DotGrid, across: &Across, y: usize, cursor: &mut FieldCursor, out: &mut [u64]) {
        let rows = if self.sideways { self.plane.width() } else { self.plane.height() };
        let (upper, weight) = between(y, rows, self.height_px);
        let first = cursor.toned_row(self, upper);
        if weight > 0 {
            let second = cursor.toned_row(self, upper + 1);
            let FieldCursor { toned, blended, .. } = cursor;
            blended.resize(toned[first].len(), 0);
            kernel::blend_rows(simd::level(), &toned[first], &toned[second], weight, blended);
        }
        let source = if weight > 0 { &cursor.blended } else { &cursor.toned[first] };
        kernel::screen_row(grid, y, source, across, out);
    }
}

/// Where the middle of a film pixel lies, in pixels of the source from the middle of its first.
fn place(at: usize, source: usize, film: usize) -> f32 {
    ((at as f64 + 0.5) * source as f64 / film as f64 - 0.5) as f32
}

fn nearest(place: f32, of: usize) -> usize {
    (place + 0.5).clamp(0.0, (of - 1) as f32) as usize
}

/// Film pixels whose middles lie in a pixel of the source.
fn under(at: usize, source: usize, film: usize) -> std::ops::Range<usize> {
    let edge = |at: usize| ((at as f64 * film as f64 / source as f64 - 0.5).ceil().max(0.0) as usize).min(film);
    edge(at)..edge(at + 1)
}

impl FieldCursor {
    /// Edges of flat shapes along a line of the plane.
    fn edges(&mut self, plane: &Plane<u16>, sideways: bool, line: usize) -> &[Edge] {
        if self.edges_of != Some(line) {
            let last = if sideways { plane.width() } else { plane.height() } - 1;
            let near: [usize; 2 * REACH + 1] = std::array::from_fn(|k| (line + k).saturating_sub(REACH).min(last));
            if sideways {
                let column = |x: usize| (0..plane.height()).rev().map(|y| plane.get(x, y)).collect::<Vec<u16>>();
                let columns = near.map(column);
                let lines: Lines<'_> = std::array::from_fn(|k| &columns[k][..]);
                edges_of_line(lines, &mut self.edges);
            } else {
                edges_of_line(near.map(|y| plane.row(y)), &mut self.edges);
            }
            self.edges_of = Some(line);
        }
        &self.edges
    }

    /// Brings a source row (sideways: a column, from its foot up) through the tone table into
    /// memory; rows alternate between two slots.
    fn toned_row(&mut self, field: &Field<'_>, at: usize) -> usize {
        let slot = at % 2;
        if self.rows[slot] == Some(at) {
            return slot;
        }
        let toned = |v: u16| (i32::from(field.tone.get(v)) - 32_768) as i16;
        if field.sideways {
            let first = at / COLUMNS * COLUMNS;
            let (width, height) = (field.plane.width(), field.plane.height());
            if self.first_column != Some(first) {
                self.columns.resize(COLUMNS * height, 0);
                for y in 0..height {
                    let row = &field.plane.row(y)[first..(first + COLUMNS).min(width)];
                    for (column, &v) in row.iter().enumerate() {
                        self.columns[column * height + height - 1 - y] = toned(v);
                    }
                }
                self.first_column = Some(first);
            }
            let row = &mut self.toned[slot];
            row.clear();
            row.extend_from_slice(&self.columns[(at - first) * height..][..height]);
        } else {
            let row = &mut self.toned[slot];
            row.clear();
            row.extend(field.plane.row(at).iter().map(|&v| toned(v)));
        }
        let row = &mut self.toned[slot];
        if let Some(&last) = row.last() {
            row.resize(row.len() + SPARE, last);
        }
        self.rows[slot] = Some(at);
        slot
    }
}

#[cfg(test)]
impl Field<'_> {
    /// All rows, from the first.
    pub(super) fn rows(&self) -> Vec<Vec<u64>> {
        let mut cursor = FieldCursor::default();
        (0..self.height_px)
            .map(|y| {
                let mut row = vec![0; self.words()];
                self.row(y, &mut cursor, &mut row);
                row
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::super::{DeviceGrid, DotShape, FilmSettings, count_ink};
    use super::*;
    use crate::units::{Degrees, Dpi, Lpi, Mm};

    fn ink_share(plane: &Plane<u16>, side_px: usize) -> f64 {
        let dots = Dots::new(
            DeviceGrid::square(Dpi::new(720.0).unwrap()),
            Lpi::new(45.0).unwrap(),
            Degrees::new(22.5).unwrap(),
            &DotShape::Round,
        );
        let tone = ToneTable::identity();
        let field = Field::new(plane, &tone, &dots, side_px, side_px);
        let mut cursor = FieldCursor::default();
        let mut row = vec![0; field.words()];
        let mut ink = 0;
        for y in 0..side_px {
            field.row(y, &mut cursor, &mut row);
            ink += count_ink(&row);
        }
        ink as f64 / (side_px * side_px) as f64
    }

    #[test]
    fn flat_tints_have_their_area_and_the_ends_are_clean() {
        for percent in [0u32, 2, 10, 50, 75, 98, 100] {
            let value = (65_535 * percent / 100) as u16;
            let share = ink_share(&Plane::filled(4, 4, value), 1024);
            let nominal = f64::from(percent) / 100.0;
            let allowed = if percent % 100 == 0 { 0.0 } else { 0.003 };
            assert!((share - nominal).abs() <= allowed, "{percent} %: {share}");
        }
    }

    /// A disc with exact coverage of pixels of 300 to the inch on films of 720 and 1440, upright and sideways: the
    /// area on the wrong side of its circle, by the circle's length, in film pixels.
    #[test]
    fn a_flat_shape_is_cut_along_its_outline() {
        let (middle, radius) = ([60.3, 59.6], 41.7);
        let inside = |x: f64, y: f64| (x - middle[0]).hypot(y - middle[1]) < radius;
        let plane = Plane::from_fn(120, 120, |x, y| {
            let place = |v: usize, part: usize| v as f64 + (part as f64 + 0.5) / 16.0;
            ((0..256).filter(|i| inside(place(x, i % 16), place(y, i / 16))).count() * 65_535 / 256) as u16
        });
        let tone = ToneTable::identity();
        for (side, sideways) in [(288, false), (576, false), (576, true)] {
            let film = FilmSettings { dpi: Dpi::new(2.5 * side as f64).unwrap(), ..FilmSettings::default() };
            let dots = Dots::of_screen(&film, &"Gold".into(), sideways);
            let scale = 120.0 / side as f64;
            let wrong: usize = Field::new(&plane, &tone, &dots, side, side)
                .rows()
                .iter()
                .enumerate()
                .map(|(y, row)| {
                    let truly = |x: usize| {
                        let (across, down) = ((x as f64 + 0.5) * scale, (y as f64 + 0.5) * scale);
                        if sideways { inside(down, 120.0 - across) } else { inside(across, down) }
                    };
                    (0..side).filter(|&x| (row[x / 64] >> (x % 64) & 1 == 1) != truly(x)).count()
                })
                .sum();
            let off = wrong as f64 / (std::f64::consts::TAU * radius / scale);
            assert!(off < 0.06, "{side} px, sideways {sideways}: {off} film pixels");
        }
    }

    #[test]
    fn a_ramp_keeps_its_mean_through_interpolation() {
        let plane = Plane::from_fn(64, 64, |x, y| ((x * 64 + y) * 65_535 / 4095) as u16);
        assert!((ink_share(&plane, 1000) - plane.mean_coverage()).abs() < 0.003);
    }

    fn film_of(dot: DotShape) -> FilmSettings {
        FilmSettings { dot, dpi_down: Some(Dpi::new(1440.0).unwrap()), ..FilmSettings::default() }
    }

    /// Dots of one size are the same film turned; growing dots may differ by the half pixel of
    /// their phase, so their area in blocks is compared.
    #[test]
    fn a_sideways_film_is_the_film_turned_clockwise() {
        // Away from the plane's ends, which are read otherwise along than across.
        let solid = |x: usize, y: usize| x > 30 && (14..26).contains(&y);
        let plane = Plane::from_fn(60, 40, |x, y| if solid(x, y) { 65_535 } else { (x * 900 + y * 200) as u16 });
        let tone = ToneTable::identity();
        for dot in DotShape::kinds() {
            let film = film_of(dot);
            let turned_film = FilmSettings { dpi: film.dpi_down.unwrap(), dpi_down: Some(film.dpi), ..film.clone() };
            let upright = Dots::of_screen(&film, &"Gold".into(), false);
            let sideways = Dots::of_screen(&turned_film, &"Gold".into(), true);
            let (width, height) = (288, 384);
            let a = Field::new(&plane, &tone, &upright, width, height).rows();
            let b = Field::new(&plane, &tone, &sideways, height, width).rows();
            let get = |rows: &[Vec<u64>], x: usize, y: usize| rows[y][x / 64] >> (x % 64) & 1;
            let block = if dot.size_mm().is_some() { 1 } else { 48 };
            for by in 0..height / block {
                for bx in 0..width / block {
                    let (mut straight, mut turned) = (0, 0);
                    for y in by * block..(by + 1) * block {
                        for x in bx * block..(bx + 1) * block {
                            straight += get(&a, x, y);
                            turned += get(&b, height - 1 - y, x);
                        }
                    }
                    let differ = straight.abs_diff(turned) as f64 / (block * block) as f64;
                    let allowed = if block == 1 { 0.0 } else { 0.06 };
                    assert!(differ <= allowed, "{dot} at {bx} {by}: {straight} {turned}");
                }
            }
        }
    }

    #[test]
    fn index_dots_of_none_and_solid_come_out_exactly() {
        // 0.254 mm dots are 100 an inch; the plane has three pixels a dot at 300 ppi.
        let dot = DotShape::Index { size_mm: Mm::new(0.254).unwrap() };
        let inked = |x: usize, y: usize| (x * 7 + y * 13) % 5 < 2;
        let plane = Plane::from_fn(90, 60, |x, y| if inked(x / 3, y / 3) { 65_535 } else { 0 });
        let tone = ToneTable::identity();
        for dpi in [720.0, 1440.0, 1000.0] {
            let film = FilmSettings { dot, dpi: Dpi::new(dpi).unwrap(), ..FilmSettings::default() };
            let dots = Dots::of_screen(&film, &"Gold".into(), false);
            let (width, height) = ((0.3 * dpi) as usize, (0.2 * dpi) as usize);
            for (y, row) in Field::new(&plane, &tone, &dots, width, height).rows().iter().enumerate() {
                for x in 0..width {
                    let dot = |px: usize| ((px as f64 + 0.5) / dpi * 100.0) as usize;
                    // A device pixel on a grid line belongs to either dot.
                    let on_line = |px: usize| {
                        let at = (px as f64 + 0.5) / dpi * 100.0;
                        (at - at.round()).abs() < 50.0 / dpi + 1e-9
                    };
                    if !on_line(x) && !on_line(y) {
                        assert_eq!(row[x / 64] >> (x % 64) & 1 == 1, inked(dot(x), dot(y)), "{dpi}: {x} {y}");
                    }
                }
            }
        }
    }

    /// Error diffusion decides a whole plane at once and keeps the last: neither the order of rows nor
    /// other planes, tones and sizes laid out in between with the same dots change a film.
    #[test]
    fn diffusion_hangs_on_nothing_that_was_drawn_before() {
        let film = FilmSettings { dot: "diffusion:100um".parse().unwrap(), ..FilmSettings::default() };
        let fresh = |plane: &Plane<u16>, tone: &ToneTable, side: usize| {
            Field::new(plane, tone, &Dots::of_screen(&film, &"Gold".into(), false), side, side).rows()
        };
        let one = Plane::from_fn(40, 40, |x, y| (x * 900 + y * 700) as u16);
        let two = Plane::from_fn(40, 40, |x, y| if (x, y) == (39, 39) { 9 } else { one.get(x, y) });
        let plain = ToneTable::identity();
        // Differs in a single value of 65 536.
        let other = ToneTable::from_fn(|v| if (v * 65_535.0).round() == 1_600.0 { 0.9 } else { v });
        let dots = Dots::of_screen(&film, &"Gold".into(), false);
        for (plane, tone, side) in [
            (&one, &plain, 300),
            (&two, &plain, 300),
            (&one, &other, 300),
            (&one, &plain, 301),
            (&one, &plain, 300),
            (&two, &other, 300),
        ] {
            let field = Field::new(plane, tone, &dots, side, side);
            let want = fresh(plane, tone, side);
            assert_eq!(field.rows(), want);
            // From the foot up, each strip of rows with memory of its own.
            for strip in (0..side).collect::<Vec<_>>().chunks(37).rev() {
                let mut cursor = FieldCursor::default();
                let mut row = vec![0; field.words()];
                for &y in strip.iter().rev() {
                    field.row(y, &mut cursor, &mut row);
                    assert_eq!(row, want[y], "row {y}");
                }
            }
        }
        assert_ne!(fresh(&one, &plain, 300), fresh(&one, &other, 300));
    }

    #[test]
    fn stochastic_tints_have_their_area_and_size() {
        let tone = ToneTable::identity();
        for dot in ["blue-noise:100um", "diffusion:100um"] {
            let film = FilmSettings { dot: dot.parse().unwrap(), ..FilmSettings::default() };
            let dots = Dots::of_screen(&film, &"Gold".into(), false);
            for percent in [0u32, 3, 20, 50, 90, 100] {
                let plane = Plane::filled(2, 2, (65_535 * percent / 100) as u16);
                let field = Field::new(&plane, &tone, &dots, 1440, 1440);
                let ink: u64 = field.rows().iter().map(|row| count_ink(row)).sum();
                let share = ink as f64 / f64::from(1440 * 1440);
                let allowed = if percent % 100 == 0 { 0.0 } else { 0.003 };
                assert!((share - f64::from(percent) / 100.0).abs() <= allowed, "{dot} {percent} %: {share}");
            }
        }
    }
}
