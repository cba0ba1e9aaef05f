//! Dot shapes as spot functions: the higher the value, the earlier the place takes ink.

use std::f64::consts::TAU;

use super::DotShape;

/// A spot function over one cell, each axis -0.5..0.5 with the dot in the middle.
pub(super) type SpotFunction = Box<dyn Fn(f64, f64) -> f64 + Send + Sync>;

impl DotShape {
    /// The order in which a cell fills.
    pub(super) fn spot_function(&self) -> SpotFunction {
        match *self {
            Self::Round => Box::new(|x, y| -(x * x + y * y)),
            Self::Euclidean => Box::new(|x, y| {
                let (x, y) = (x.abs(), y.abs());
                if x + y <= 0.5 { 0.5 - (x * x + y * y) } else { (x - 0.5).powi(2) + (y - 0.5).powi(2) - 0.5 }
            }),
            Self::Ellipse { first_join, second_join } => {
                let (d, c) = ellipse_weights(first_join.get(), second_join.get());
                Box::new(move |x, y| ellipse(x, y, d, c))
            }
            // Dots of one size do not grow in a cell; one cell of them would fill as a square.
            Self::Square | Self::BlueNoise { .. } | Self::Diffusion { .. } | Self::Index { .. } => {
                Box::new(|x, y| -x.abs().max(y.abs()))
            }
            Self::Diamond => Box::new(|x, y| -(x.abs() + y.abs())),
            Self::Line => Box::new(|_, y| -y.abs()),
        }
    }
}

/// Two cosines, the one across stronger by `d`, and their product by `c`. Dots join along x at
/// the level `d - c` and along y at `-d - c`.
fn ellipse(x: f64, y: f64, d: f64, c: f64) -> f64 {
    let (along, across) = ((TAU * x).cos(), (TAU * y).cos());
    0.5 * ((1.0 - d) * along + (1.0 + d) * across) + c * along * across
}

/// Weights for which dots join at the two coverages: `d` opens the gap between them, `c` moves
/// both. Each is found by halving, `c` inside `d`.
fn ellipse_weights(first_join: f64, second_join: f64) -> (f64, f64) {
    const SIDE: usize = 96;
    let joins = |d: f64, c: f64| {
        let (mut above_first, mut above_second) = (0usize, 0usize);
        for i in 0..SIDE * SIDE {
            let place = |i: usize| 0.5 * (i as f64 + 0.5) / SIDE as f64;
            let value = ellipse(place(i % SIDE), place(i / SIDE), d, c);
            above_first += usize::from(value > d - c);
            above_second += usize::from(value > -d - c);
        }
        let count = (SIDE * SIDE) as f64;
        (above_first as f64 / count, above_second as f64 / count)
    };
    let shift_for = |d: f64| {
        // Within these bounds the middle stays the only peak and the corner the only pit.
        let bound = 0.49 * (1.0 - d);
        let (mut low, mut high) = (-bound, bound);
        for _ in 0..24 {
            let c = 0.5 * (low + high);
            let (first, second) = joins(d, c);
            // A larger product lowers both levels, so dots join later.
            if first + second < first_join + second_join { low = c } else { high = c }
        }
        0.5 * (low + high)
    };
    let (mut low, mut high) = (0.0, 0.95);
    for _ in 0..20 {
        let d = 0.5 * (low + high);
        let (first, second) = joins(d, shift_for(d));
        if second - first < second_join - first_join { low = d } else { high = d }
    }
    let d = 0.5 * (low + high);
    (d, shift_for(d))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::halftone::Cell;
    use crate::units::Coverage;

    #[test]
    fn an_ellipse_joins_where_it_was_told_to() {
        let at = |v| Coverage::new(v).unwrap();
        for (first, second) in [(0.4, 0.6), (0.35, 0.65), (0.45, 0.6)] {
            let cell = Cell::new(&DotShape::Ellipse { first_join: at(first), second_join: at(second) });
            // The threshold halfway between two dots is the tone at which they join.
            let along = f64::from(cell.at(0, 1 << 31)) / 65_535.0;
            let across = f64::from(cell.at(1 << 31, 0)) / 65_535.0;
            assert!((along - first).abs() < 0.02, "{first}: {along}");
            assert!((across - second).abs() < 0.02, "{second}: {across}");
        }
    }

    #[test]
    fn the_other_shapes_join_where_geometry_says() {
        let joins = |dot: DotShape| f64::from(Cell::new(&dot).at(0, 1 << 31)) / 65_535.0;
        // Touching circles cover pi / 4; squares on their points and the euclidean dot one half.
        assert!((joins(DotShape::Round) - std::f64::consts::FRAC_PI_4).abs() < 0.01);
        assert!((joins(DotShape::Diamond) - 0.5).abs() < 0.01);
        assert!((joins(DotShape::Euclidean) - 0.5).abs() < 0.01);
        assert!(joins(DotShape::Square) > 0.98);
        assert!(joins(DotShape::Line) < 0.01);
    }
}
