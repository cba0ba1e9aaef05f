//! Edits on screens against published formulas and values.

use strikeoff_core::tune::multiply_film;

/// W3C Compositing and Blending Level 1, "multiply": `B(cb, cs) = cb x cs`; the table holds 64
/// pairs of 8-bit values, the exact product and what Pillow's `ImageChops.multiply` gives.
#[test]
fn multiply_agrees_with_the_blend_table() {
    let table = include_str!("../fixtures/blend_8x8.csv");
    let mut rows = 0;
    for line in table.lines().filter(|l| !l.starts_with('#')).skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let (backdrop, source): (u16, u16) = (cells[0].parse().unwrap(), cells[1].parse().unwrap());
        let exact: f64 = cells[2].parse().unwrap();
        let pillow: f64 = cells[4].parse().unwrap();
        let ours = f64::from(multiply_film(backdrop * 257, source * 257)) / 257.0;
        // The table has four decimals of 255; 16 bits resolve 1/514 of a level.
        assert!((ours - exact).abs() <= 0.5 / 257.0 + 5e-5, "{backdrop} x {source}: {ours} for {exact}");
        assert!((ours - pillow).abs() <= 1.0, "{backdrop} x {source}: {ours}, Pillow {pillow}");
        rows += 1;
    }
    assert_eq!(rows, 64);
}
