//! Separable resampling, in two shapes of the same sums. Row by row: down the columns first, while
//! rows are still as short as the source's, then along the finished row, with pixels of four floats;
//! nothing but one row of the source's width lies between source and result. And in blocks of
//! columns with each channel by itself: along the source's rows first, then down, where most of the
//! work is the same for all columns and runs in full vectors.

/// A pixel: three colours and alpha.
pub(super) type Lanes = [f32; 4];

/// Columns that are made at a time where channels lie by themselves: the rows that Lanczos's kernel
/// needs of three of them fit the first cache.
pub(super) const BLOCK: usize = 256;
/// A block's row of one channel.
pub(super) type Line = [f32; BLOCK];

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

    /// First source of an output, and the weights from there on.
    pub(super) fn of(&self, output: usize) -> (usize, &[f32]) {
        (self.starts[output], &self.weights[output * self.count..][..self.count])
    }

    /// Outputs `columns` of a row of sources, each channel by itself.
    #[inline(always)]
    pub(super) fn across<const N: usize>(&self, columns: std::ops::Range<usize>, row: &[Lanes], lines: &mut [Line; N]) {
        match self.count {
            6 => self.across_of::<N, 6>(columns, row, lines),
            _ => {
                for (i, output) in columns.enumerate() {
                    let (start, weights) = self.of(output);
                    let sum = weighted(weights, &row[start..start + self.count]);
                    (0..N).for_each(|c| lines[c][i] = sum[c]);
                }
            }
        }
    }

    #[inline(always)]
    fn across_of<const N: usize, const M: usize>(
        &self,
        columns: std::ops::Range<usize>,
        row: &[Lanes],
        lines: &mut [Line; N],
    ) {
        let (weights, _) = self.weights.as_chunks::<M>();
        let outputs = weights[columns.clone()].iter().zip(&self.starts[columns]);
        // All lanes at once first; taken apart then.
        let mut pixels = [[0.0; 4]; BLOCK];
        for (pixel, (weights, &start)) in pixels.iter_mut().zip(outputs) {
            *pixel = weighted(weights, &row[start..start + M]);
        }
        for (c, line) in lines.iter_mut().enumerate() {
            line.iter_mut().zip(&pixels).for_each(|(to, pixel)| *to = pixel[c]);
        }
    }

    /// One row of output from a block's rows, the first of which is source row `first`.
    #[inline(always)]
    pub(super) fn down_lines<const N: usize>(
        &self,
        output: usize,
        rows: &[[Line; N]],
        first: usize,
        out: &mut [Line; N],
    ) {
        let (start, weights) = self.of(output);
        let rows = &rows[start - first..][..weights.len()];
        for (c, out) in out.iter_mut().enumerate() {
            if let (&[a, b, d, e, f, g], [p, q, r, s, t, u]) = (weights, rows) {
                // All of them at once, so that sums stay in registers.
                let [p, q, r, s, t, u] = [p, q, r, s, t, u].map(|row| &row[c]);
                #[allow(clippy::needless_range_loop, reason = "seven rows side by side")]
                for i in 0..BLOCK {
                    out[i] = a * p[i] + b * q[i] + d * r[i] + e * s[i] + f * t[i] + g * u[i];
                }
                continue;
            }
            *out = [0.0; BLOCK];
            for (weight, row) in weights.iter().zip(rows) {
                out.iter_mut().zip(&row[c]).for_each(|(o, v)| *o += weight * v);
            }
        }
    }

    /// One row of output from rows of `width` pixels, the first of which is source row `first`.
    #[inline(always)]
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
    #[inline(always)]
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
    #[inline(always)]
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

    #[inline(always)]
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
