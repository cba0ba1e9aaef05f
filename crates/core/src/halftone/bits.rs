//! One row of a film: a bit a device pixel, 1 where ink prints. Pixel x is bit `x % 64` of word
//! `x / 64`, so that runs are found with trailing-zero counts; bytes for files are turned at the
//! file's edge.

/// Words of a film row.
pub type BitRow = [u64];

/// Words that hold `width_px` pixels.
pub const fn words_for(width_px: usize) -> usize {
    width_px.div_ceil(64)
}

/// Pixels with ink.
pub fn count_ink(row: &BitRow) -> u64 {
    row.iter().map(|word| u64::from(word.count_ones())).sum()
}

/// Adds the first `width_px` pixels of `source` to `row`, starting at pixel `x_px` of `row`.
/// Bits of `source` past its width must be 0.
pub fn or_at(row: &mut BitRow, x_px: usize, source: &BitRow, width_px: usize) {
    let (first, shift) = (x_px / 64, x_px % 64);
    let words = words_for(width_px);
    if shift == 0 {
        for (out, word) in row[first..first + words].iter_mut().zip(source) {
            *out |= word;
        }
        return;
    }
    let mut carry = 0;
    for (out, word) in row[first..].iter_mut().zip(&source[..words]) {
        *out |= word << shift | carry;
        carry = word >> (64 - shift);
    }
    if carry != 0 {
        row[first + words] |= carry;
    }
}

/// Sets or clears the pixels `from_px..to_px`.
pub fn fill_run(row: &mut BitRow, from_px: usize, to_px: usize, ink: bool) {
    if from_px >= to_px {
        return;
    }
    let (first, last) = (from_px / 64, (to_px - 1) / 64);
    let head = u64::MAX << (from_px % 64);
    let tail = u64::MAX >> (63 - (to_px - 1) % 64);
    let mut paint = |at: usize, mask: u64| {
        if ink {
            row[at] |= mask;
        } else {
            row[at] &= !mask;
        }
    };
    if first == last {
        paint(first, head & tail);
        return;
    }
    paint(first, head);
    for at in first + 1..last {
        paint(at, u64::MAX);
    }
    paint(last, tail);
}

/// Turns the row left to right.
pub fn mirror_row(row: &mut BitRow, width_px: usize) {
    row.reverse();
    for word in row.iter_mut() {
        *word = word.reverse_bits();
    }
    let spare = row.len() * 64 - width_px;
    if spare > 0 {
        // The padding came to the front: move everything down over it.
        for at in 0..row.len() {
            let next = row.get(at + 1).copied().unwrap_or(0);
            row[at] = row[at] >> spare | next << (64 - spare);
        }
    }
}

/// Ink becomes none and none becomes ink in the pixels `from_px..to_px`.
pub fn invert_run(row: &mut BitRow, from_px: usize, to_px: usize) {
    if from_px >= to_px {
        return;
    }
    let (first, last) = (from_px / 64, (to_px - 1) / 64);
    let head = u64::MAX << (from_px % 64);
    let tail = u64::MAX >> (63 - (to_px - 1) % 64);
    for (at, word) in row[first..=last].iter_mut().enumerate() {
        let from = if at == 0 { head } else { u64::MAX };
        let to = if first + at == last { tail } else { u64::MAX };
        *word ^= from & to;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn get(row: &BitRow, x: usize) -> bool {
        row[x / 64] >> (x % 64) & 1 == 1
    }

    proptest! {
        #[test]
        fn runs_shifts_and_mirrors_agree_with_single_bits(
            width in 1usize..300, a in 0usize..300, b in 0usize..300, at in 0usize..200,
        ) {
            let (from, to) = (a.min(b).min(width), a.max(b).min(width));
            let mut row = vec![0u64; words_for(width)];
            fill_run(&mut row, from, to, true);
            for x in 0..width {
                prop_assert_eq!(get(&row, x), (from..to).contains(&x));
            }
            prop_assert_eq!(count_ink(&row), (to - from) as u64);
            let mut moved = vec![0u64; words_for(width + at)];
            or_at(&mut moved, at, &row, width);
            for x in 0..width + at {
                prop_assert_eq!(get(&moved, x), x >= at && get(&row, x - at));
            }
            let mut turned = row.clone();
            mirror_row(&mut turned, width);
            for x in 0..width {
                prop_assert_eq!(get(&turned, x), get(&row, width - 1 - x));
            }
            let inked = count_ink(&turned);
            invert_run(&mut turned, from, to);
            let within = (from..to).filter(|&x| get(&row, width - 1 - x)).count() as u64;
            prop_assert_eq!(count_ink(&turned), inked - within + (to - from) as u64 - within);
            invert_run(&mut turned, from, to);
            prop_assert_eq!(count_ink(&turned), inked);
        }
    }
}
