//! Resampling row by row: down the columns first, while rows are still as short as the source's,
//! then along the finished row. Pixels are four floats, so that each fits one register whatever
//! the machine; a general resizer spends most of its time on pixels of three. When art is enlarged
//! nothing but one row of the source's width lies between source and result.

/// A pixel: three colours and alpha.
pub(super) type Lanes = [f32; 4];

/// A kernel of interpolation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kernel {
    /// Lanczos's, of radius 3.
    Lanczos3,
    /// Keys's cubic with a = -1/2.
    CatmullRom,
    /// A triangle.
    Bilinear,
}

impl Kernel {
    fn radius(self) -> f64 {
        match self {
            Self::Lanczos3 => 3.0,
            Self::CatmullRom => 2.0,
            Self::Bilinear => 1.0,
        }
    }

    fn at(self, x: f64) -> f64 {
        let x = x.abs();
        if x >= self.radius() {
            return 0.0;
        }
        match self {
            Self::Lanczos3 if x < 1e-9 => 1.0,
            Self::Lanczos3 => {
                let a = std::f64::consts::PI * x;
                3.0 * a.sin() * (a / 3.0).sin() / (a * a)
            }
            Self::CatmullRom if x < 1.0 => (1.5 * x - 2.5) * x * x + 1.0,
            Self::CatmullRom => ((-0.5 * x + 2.5) * x - 4.0) * x + 2.0,
            Self::Bilinear => 1.0 - x,
        }
    }
}

/// For each sample of output along one axis: where its sources begin and what each weighs.
pub(super) struct Taps {
    count: usize,
    starts: Vec<usize>,
    weights: Vec<f32>,
}

impl Taps {
    /// `outputs` samples, each `ratio` sources long, the first beginning at `from`, of `sources`
    /// that there are. Where the kernel reaches over the edge the rest weighs the more.
    pub(super) fn new(kernel: Kernel, from: f64, ratio: f64, outputs: usize, sources: usize) -> Self {
        let scale = ratio.max(1.0);
        let reach = kernel.radius() * scale;
        let count = ((2.0 * reach).ceil() as usize).min(sources);
        let mut starts = Vec::with_capacity(outputs);
        let mut weights = vec![0.0; outputs * count];
        for (i, to) in weights.chunks_exact_mut(count).enumerate() {
            let middle = from + (i as f64 + 0.5) * ratio - 0.5;
            let first = ((middle - reach).ceil().max(0.0) as usize).min(sources - count);
            let values: Vec<f64> = (first..first + count).map(|at| kernel.at((at as f64 - middle) / scale)).collect();
            let sum: f64 = values.iter().sum();
            to.iter_mut().zip(&values).for_each(|(to, v)| *to = (v / sum) as f32);
            starts.push(first);
        }
        Self { count, starts, weights }
    }

    /// The sources that outputs `rows` need, as a range.
    pub(super) fn reach(&self, rows: std::ops::Range<usize>) -> std::ops::Range<usize> {
        self.starts[rows.start]..self.starts[rows.end - 1] + self.count
    }

    fn of(&self, output: usize) -> (usize, &[f32]) {
        (self.starts[output], &self.weights[output * self.count..][..self.count])
    }

    /// One row of output from rows of `width` pixels, the first of which is source row `first`.
    pub(super) fn down(&self, output: usize, rows: &[Lanes], first: usize, width: usize, out: &mut [Lanes]) {
        let (start, weights) = self.of(output);
        let row = |k: usize| &rows[(start - first + k) * width..][..width];
        out.iter_mut().zip(row(0)).for_each(|(o, p)| *o = p.map(|v| v * weights[0]));
        for (k, &weight) in weights.iter().enumerate().skip(1) {
            if weight != 0.0 {
                for (o, p) in out.iter_mut().zip(row(k)) {
                    for c in 0..4 {
                        o[c] += weight * p[c];
                    }
                }
            }
        }
    }

    /// Like [`Taps::down`], where `rows` may hold fewer sources than the kernel reaches: the first
    /// and the last of them then stand for those beyond.
    pub(super) fn down_within(&self, output: usize, rows: &[Lanes], first: usize, width: usize, out: &mut [Lanes]) {
        let (start, weights) = self.of(output);
        let last = rows.len() / width - 1;
        out.fill([0.0; 4]);
        for (k, &weight) in weights.iter().enumerate() {
            let at = (start + k).saturating_sub(first).min(last);
            for (o, p) in out.iter_mut().zip(&rows[at * width..][..width]) {
                for c in 0..4 {
                    o[c] += weight * p[c];
                }
            }
        }
    }

    /// A whole row of output from a row of sources.
    pub(super) fn along(&self, row: &[Lanes], mut put: impl FnMut(usize, Lanes)) {
        match self.count {
            2 => self.along_of::<2>(row, put),
            4 => self.along_of::<4>(row, put),
            6 => self.along_of::<6>(row, put),
            _ => {
                for output in 0..self.starts.len() {
                    let (start, weights) = self.of(output);
                    put(output, weighted(weights, &row[start..start + self.count]));
                }
            }
        }
    }

    fn along_of<const N: usize>(&self, row: &[Lanes], mut put: impl FnMut(usize, Lanes)) {
        let (weights, _) = self.weights.as_chunks::<N>();
        for (output, (weights, &start)) in weights.iter().zip(&self.starts).enumerate() {
            put(output, weighted(weights, &row[start..start + N]));
        }
    }
}

#[inline(always)]
fn weighted(weights: &[f32], pixels: &[Lanes]) -> Lanes {
    let mut sum = [0.0; 4];
    for (weight, p) in weights.iter().zip(pixels) {
        for c in 0..4 {
            sum[c] += weight * p[c];
        }
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The same sum, straight from the definition in two dimensions.
    fn plain(source: &[Lanes], size: [usize; 2], part: [f64; 4], made: [usize; 2], kernel: Kernel) -> Vec<f64> {
        let [w, h] = size;
        let ratio = [part[2] / made[0] as f64, part[3] / made[1] as f64];
        let mut out = Vec::new();
        for y in 0..made[1] {
            for x in 0..made[0] {
                let middle = [part[0] + (x as f64 + 0.5) * ratio[0], part[1] + (y as f64 + 0.5) * ratio[1]];
                let (mut sum, mut total) = (0.0, 0.0);
                for sy in 0..h {
                    for sx in 0..w {
                        let off = |at: usize, i: usize| (at as f64 + 0.5 - middle[i]) / ratio[i].max(1.0);
                        let weight = kernel.at(off(sx, 0)) * kernel.at(off(sy, 1));
                        sum += weight * f64::from(source[sy * w + sx][0]);
                        total += weight;
                    }
                }
                out.push(sum / total);
            }
        }
        out
    }

    #[test]
    fn rows_equal_the_definition() {
        let (w, h) = (23, 17);
        let source: Vec<Lanes> = (0..w * h).map(|i| [((i * 7919) % 251) as f32 / 251.0, 0.5, 0.0, 1.0]).collect();
        for kernel in [Kernel::Lanczos3, Kernel::CatmullRom, Kernel::Bilinear] {
            for (part, made) in [
                ([0.0, 0.0, 23.0, 17.0], [61, 40]),
                ([2.5, 1.25, 15.5, 14.0], [31, 29]),
                ([0.0, 0.0, 23.0, 17.0], [9, 5]),
                ([3.0, 2.0, 1.0, 1.0], [4, 4]),
            ] {
                let columns = Taps::new(kernel, part[0], part[2] / made[0] as f64, made[0], w);
                let rows = Taps::new(kernel, part[1], part[3] / made[1] as f64, made[1], h);
                let want = plain(&source, [w, h], part, made, kernel);
                let mut line = vec![[0.0; 4]; w];
                for y in 0..made[1] {
                    rows.down(y, &source, 0, w, &mut line);
                    columns.along(&line, |x, p| {
                        let want = want[y * made[0] + x];
                        assert!((f64::from(p[0]) - want).abs() < 2e-6, "{kernel:?} {part:?} {x},{y}");
                        assert!((p[1] - 0.5).abs() < 1e-6 && (p[3] - 1.0).abs() < 1e-6);
                    });
                }
            }
        }
    }
}
