//! How the light falls over a picture: a smooth surface, found from the garment between the patches and the card of the
//! strip, each of one colour everywhere.

use super::solve::Squares;

/// Powers of x and y of the surface; its height is left to the colours.
const POWERS: [(i32, i32); 14] =
    [(1, 0), (0, 1), (2, 0), (1, 1), (0, 2), (3, 0), (2, 1), (1, 2), (0, 3), (4, 0), (3, 1), (2, 2), (1, 3), (0, 4)];

/// A spot of a material of one colour: where, from -1 to 1 over the picture, which, and its light.
#[derive(Debug, Clone, Copy)]
pub(super) struct Spot {
    pub at: [f64; 2],
    pub material: usize,
    pub light: [f64; 3],
}

/// The surface.
#[derive(Debug, Clone)]
pub(super) struct Light {
    by: Vec<f64>,
    height: f64,
    /// How far the spots lie from it, as shares of the light, where they are most.
    pub off: Vec<f64>,
}

fn powers([x, y]: [f64; 2]) -> [f64; POWERS.len()] {
    POWERS.map(|(i, j)| x.powi(i) * y.powi(j))
}

/// Dark spots tell less of the light: their noise is a larger share.
fn weight(light: f64) -> f64 {
    (light / (light + 0.01)).powi(2)
}

impl Light {
    /// Light that is even.
    pub fn even() -> Self {
        Self { by: vec![0.0; POWERS.len()], height: 0.0, off: Vec::new() }
    }

    /// The surface through spots of so many materials.
    pub fn through(spots: &[Spot], materials: usize) -> Option<Self> {
        let count = POWERS.len() + 3 * materials;
        let mut squares = Squares::new(count, 1e-4);
        let row = |spot: &Spot, channel: usize| {
            let mut row = vec![0.0; count];
            row[..POWERS.len()].copy_from_slice(&powers(spot.at));
            row[POWERS.len() + 3 * spot.material + channel] = 1.0;
            row
        };
        for spot in spots {
            for channel in 0..3 {
                let light = spot.light[channel].max(1e-4);
                squares.add(&row(spot, channel), light.ln(), weight(light));
            }
        }
        let all = squares.solve()?;
        let off = |spot: &Spot| {
            let channel = (0..3).max_by(|a, b| spot.light[*a].total_cmp(&spot.light[*b])).unwrap_or(1);
            let due: f64 = row(spot, channel).iter().zip(&all).map(|(a, b)| a * b).sum();
            let light = spot.light[channel].max(1e-4);
            (light.ln() - due) * weight(light)
        };
        let off = spots.iter().map(off).collect();
        Some(Self { by: all[..POWERS.len()].to_vec(), height: 0.0, off })
    }

    /// Raises it all by a logarithm.
    pub fn raise(&mut self, by: f64) {
        self.height += by;
    }

    /// The light at a place, against that of the middle or what it was raised to.
    pub fn at(&self, at: [f64; 2]) -> f64 {
        (powers(at).iter().zip(&self.by).map(|(a, b)| a * b).sum::<f64>() + self.height).exp()
    }
}
