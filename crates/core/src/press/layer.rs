//! One printed solid as an affine map of the light from beneath. What a coat of ink does is no such map (see
//! [`crate::ink::Coat`]); a stack's layers are those nearest to it over all that lies beneath them (`overprints.rs`).

/// A solid layer: over a reflectance R it gives `scatter + through * R`, band by band.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Layer<const BANDS: usize = 3> {
    /// Light that the ink itself sends back (its colour over black).
    pub scatter: [f32; BANDS],
    /// Share of the light from beneath that comes through, there and back.
    pub through: [f32; BANDS],
}

impl<const BANDS: usize> Layer<BANDS> {
    /// The layer over a reflectance.
    pub fn over(&self, beneath: [f32; BANDS]) -> [f32; BANDS] {
        std::array::from_fn(|b| self.scatter[b] + self.through[b] * beneath[b])
    }
}

/// What a coat makes of a light, and how often.
#[derive(Debug, Clone, Copy)]
pub(super) struct Seen<const BANDS: usize> {
    /// The light beneath.
    pub beneath: [f32; BANDS],
    /// What shows.
    pub shows: [f32; BANDS],
    /// Its weight.
    pub weight: f64,
}

impl<const BANDS: usize> Layer<BANDS> {
    /// The layer that comes nearest to what was seen, by least squares band by band, as far as a layer can: no
    /// light is taken away from black, none comes of white that did not fall on it.
    pub(super) fn nearest(seen: &[Seen<BANDS>]) -> Self {
        let mut layer = Self { scatter: [0.0; BANDS], through: [0.0; BANDS] };
        for band in 0..BANDS {
            let [mut n, mut x, mut y, mut xx, mut xy] = [0.0f64; 5];
            for s in seen {
                let (beneath, shows) = (f64::from(s.beneath[band]), f64::from(s.shows[band]));
                n += s.weight;
                x += s.weight * beneath;
                y += s.weight * shows;
                xx += s.weight * beneath * beneath;
                xy += s.weight * beneath * shows;
            }
            let spread = n * xx - x * x;
            let mut through = if spread > 1e-12 * n * n { (n * xy - x * y) / spread } else { 0.0 };
            let mut scatter = (y - through * x) / n;
            if scatter < 0.0 {
                (scatter, through) = (0.0, if xx > 0.0 { xy / xx } else { 0.0 });
            }
            if through < 0.0 {
                (scatter, through) = (y / n, 0.0);
            }
            if scatter + through > 1.0 {
                // 1 - y = through (1 - x).
                let (whites, products) = (n - 2.0 * x + xx, n - x - y + xy);
                through = if whites > 0.0 { products / whites } else { through };
                scatter = 1.0 - through;
            }
            layer.through[band] = through.clamp(0.0, 1.0) as f32;
            layer.scatter[band] = scatter.clamp(0.0, 1.0 - through.clamp(0.0, 1.0)) as f32;
        }
        layer
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn two_lights_are_met_and_no_layer_makes_light() {
        let seen = |beneath, shows| Seen { beneath: [beneath], shows: [shows], weight: 1.0 };
        let layer = Layer::nearest(&[seen(0.1, 0.3), seen(0.8, 0.5)]);
        assert_abs_diff_eq!(layer.over([0.1])[0], 0.3, epsilon = 1e-6);
        assert_abs_diff_eq!(layer.over([0.8])[0], 0.5, epsilon = 1e-6);
        for wild in
            [[seen(0.1, 0.0), seen(0.8, 0.9)], [seen(0.1, 0.5), seen(0.9, 0.2)], [seen(0.5, 0.9), seen(0.7, 1.0)]]
        {
            let layer = Layer::nearest(&wild);
            assert!(layer.scatter[0] >= 0.0 && layer.through[0] >= 0.0, "{layer:?}");
            assert!(layer.scatter[0] + layer.through[0] <= 1.0 + 1e-6, "{layer:?}");
        }
    }
}
