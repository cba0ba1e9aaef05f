//! What a camera's colours are mixed of: a matrix that leaves greys alone, found from the colour fields of the strip and
//! used where it tells a field that it was not shown better than no matrix does.

use strikeoff_core::color::difference;

use super::solve::Squares;
use super::strip::lab_of;

/// How much of the other two channels each takes up.
pub(super) type Mix = [[f64; 2]; 3];

/// A field as seen, flattened, and as it is.
pub(super) type Pair = ([f64; 3], [f64; 3]);

fn others(channel: usize) -> [usize; 2] {
    [(channel + 1) % 3, (channel + 2) % 3]
}

pub(super) fn mixed(mix: &Mix, light: [f64; 3]) -> [f64; 3] {
    std::array::from_fn(|c| {
        let [a, b] = others(c);
        light[c] + mix[c][0] * (light[a] - light[c]) + mix[c][1] * (light[b] - light[c])
    })
}

fn fit(pairs: &[Pair], without: Option<usize>) -> Option<Mix> {
    let mut out = [[0.0; 2]; 3];
    for (c, row) in out.iter_mut().enumerate() {
        let [a, b] = others(c);
        let mut squares = Squares::new(2, 0.01);
        for (_, (seen, due)) in pairs.iter().enumerate().filter(|(at, _)| Some(*at) != without) {
            // As an eye weighs light: by its root, roughly.
            let weight = (due[c].max(0.0) + 0.03).powf(-1.33);
            squares.add(&[seen[a] - seen[c], seen[b] - seen[c]], due[c] - seen[c], weight);
        }
        *row = squares.solve()?.try_into().ok()?;
    }
    // No camera leaks more than this of one channel into another: a strip that says so is another one.
    out.iter().flatten().all(|leak| leak.abs() < 0.6).then_some(out)
}

/// The matrix, and how far fields that it was not shown lie from what they are: steps in L*, a* and b*.
pub(super) fn mix(pairs: &[Pair]) -> (Mix, Vec<[f64; 3]>) {
    let none = [[0.0; 2]; 3];
    let miss = |mix: &Mix, (seen, due): &Pair| (lab_of(mixed(mix, *seen)), lab_of(*due));
    let worth = |misses: &[([f64; 3], [f64; 3])]| misses.iter().map(|(a, b)| difference(*a, *b)).sum::<f64>();
    let plain: Vec<_> = pairs.iter().map(|pair| miss(&none, pair)).collect();
    let told: Option<Vec<_>> = (0..pairs.len()).map(|at| Some(miss(&fit(pairs, Some(at))?, &pairs[at]))).collect();
    let steps =
        |misses: Vec<([f64; 3], [f64; 3])>| misses.into_iter().map(|(a, b)| std::array::from_fn(|c| a[c] - b[c]));
    match (told, fit(pairs, None)) {
        (Some(told), Some(mix)) if pairs.len() >= 4 && worth(&told) < worth(&plain) => (mix, steps(told).collect()),
        _ => (none, steps(plain).collect()),
    }
}
