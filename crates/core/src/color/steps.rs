//! CIEDE2000 in three steps and CIELAB from XYZ, in double precision: what fits need that take slopes of a
//! colour difference. The reports take [`ciede2000`](super::ciede2000).

/// XYZ of the white D50, Y = 1 (ASTM E308).
pub const D50: [f64; 3] = [0.964_22, 1.0, 0.825_21];

const EDGE: f64 = 216.0 / 24389.0;
const SLOPE: f64 = 24389.0 / 27.0;

/// CIELAB of XYZ given as shares of the white's (CIE 15).
pub fn lab_of_shares(shares: [f64; 3]) -> [f64; 3] {
    let f = shares.map(|r| if r > EDGE { r.cbrt() } else { (SLOPE * r + 16.0) / 116.0 });
    [116.0 * f[1] - 16.0, 500.0 * (f[0] - f[1]), 200.0 * (f[1] - f[2])]
}

/// Shares of the white's XYZ, from CIELAB.
pub fn shares_of_lab([l, a, b]: [f64; 3]) -> [f64; 3] {
    let y = (l + 16.0) / 116.0;
    [y + a / 500.0, y, y - b / 200.0].map(|f| if f * f * f > EDGE { f * f * f } else { (116.0 * f - 16.0) / SLOPE })
}

/// CIELAB under D50, as instruments for print give it (ISO 13655), turned to CIELAB under D65, the white of
/// the working space: Bradford's adaptation (ICC.1, annex E) of the XYZ.
pub fn lab_d65_of_d50(lab: [f64; 3]) -> [f64; 3] {
    const D65: [f64; 3] = [0.950_47, 1.0, 1.088_83];
    const TO_D65: [[f64; 3]; 3] = [
        [0.955_576_6, -0.023_039_3, 0.063_163_6],
        [-0.028_289_5, 1.009_941_6, 0.021_007_7],
        [0.012_298_2, -0.020_483_0, 1.329_909_8],
    ];
    let shares = shares_of_lab(lab);
    let xyz: [f64; 3] = std::array::from_fn(|i| shares[i] * D50[i]);
    lab_of_shares(std::array::from_fn(|i| (0..3).map(|j| TO_D65[i][j] * xyz[j]).sum::<f64>() / D65[i]))
}

/// Three steps from `a` to `b` whose length together, the root of their squares, is CIEDE2000 (CIE 142-2001): the
/// term that turns blues joins chroma and hue, so that each step is smooth where the colours are.
pub fn difference_steps(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    let chroma = |v: [f64; 3]| v[1].hypot(v[2]);
    let seventh = |c: f64| (c.powi(7) / (c.powi(7) + 6_103_515_625.0)).sqrt();
    let green = 1.5 - 0.5 * seventh(0.5 * (chroma(a) + chroma(b)));
    let turn = |v: [f64; 3]| {
        let red = v[1] * green;
        let hue = if red == 0.0 && v[2] == 0.0 { 0.0 } else { v[2].atan2(red).to_degrees().rem_euclid(360.0) };
        (red.hypot(v[2]), hue)
    };
    let ((c1, h1), (c2, h2)) = (turn(a), turn(b));
    let grey = c1 * c2 == 0.0;
    let dh = match h2 - h1 {
        _ if grey => 0.0,
        d if d > 180.0 => d - 360.0,
        d if d < -180.0 => d + 360.0,
        d => d,
    };
    let mean_hue = match (h1 + h2, (h1 - h2).abs()) {
        (sum, _) if grey => sum,
        (sum, apart) if apart <= 180.0 => sum / 2.0,
        (sum, _) if sum < 360.0 => (sum + 360.0) / 2.0,
        (sum, _) => (sum - 360.0) / 2.0,
    };
    let cos = |degrees: f64| degrees.to_radians().cos();
    let t = 1.0 - 0.17 * cos(mean_hue - 30.0) + 0.24 * cos(2.0 * mean_hue) + 0.32 * cos(3.0 * mean_hue + 6.0)
        - 0.20 * cos(4.0 * mean_hue - 63.0);
    let light = (0.5 * (a[0] + b[0]) - 50.0).powi(2);
    let mean_chroma = 0.5 * (c1 + c2);
    let dl = (b[0] - a[0]) / (1.0 + 0.015 * light / (20.0 + light).sqrt());
    let dc = (c2 - c1) / (1.0 + 0.045 * mean_chroma);
    let dh = 2.0 * (c1 * c2).sqrt() * (dh / 2.0).to_radians().sin() / (1.0 + 0.015 * mean_chroma * t);
    let blue = 60.0 * (-((mean_hue - 275.0) / 25.0).powi(2)).exp();
    let half = -seventh(mean_chroma) * blue.to_radians().sin();
    // dc dc + dh dh + 2 half dc dh.
    [dl, dc + half * dh, (1.0 - half * half).max(0.0).sqrt() * dh]
}

/// CIEDE2000 of the steps.
pub fn difference(a: [f64; 3], b: [f64; 3]) -> f64 {
    difference_steps(a, b).iter().map(|step| step * step).sum::<f64>().sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// 34 pairs of Sharma, Wu and Dalal 2005, table 1.
    #[test]
    fn steps_are_as_long_as_the_published_differences() {
        let path = format!("{}/../../tests/fixtures/reference/ciede2000_sharma.csv", env!("CARGO_MANIFEST_DIR"));
        let mut rows = 0;
        for line in std::fs::read_to_string(path).unwrap().lines().skip(2) {
            let v: Vec<f64> = line.split(',').filter_map(|v| v.parse().ok()).collect();
            let v = &v[v.len() - 7..];
            // Pair 14 lies on the leap of the mean hue: the last bit decides.
            let close = if rows == 13 { 0.06 } else { 1e-4 };
            assert_abs_diff_eq!(difference([v[0], v[1], v[2]], [v[3], v[4], v[5]]), v[6], epsilon = close);
            rows += 1;
        }
        assert_eq!(rows, 34);
    }

    /// The 24 CSS colours of srgb_lab_oklab.csv, held there to colour-science and LittleCMS.
    #[test]
    fn both_whites_give_the_published_colors() {
        let path = format!("{}/../../tests/fixtures/reference/srgb_lab_oklab.csv", env!("CARGO_MANIFEST_DIR"));
        let text = std::fs::read_to_string(path).unwrap();
        let head: Vec<&str> = text.lines().nth(1).unwrap().split(',').collect();
        let at = |name: &str| head.iter().position(|h| *h == name).unwrap_or_else(|| panic!("{name} in {head:?}"));
        let mut rows = 0;
        for line in text.lines().skip(2) {
            let v: Vec<&str> = line.split(',').collect();
            let three = |names: [&str; 3]| names.map(|n| v[at(n)].parse::<f64>().unwrap());
            let (d50, d65) = (three(["L_D50", "a_D50", "b_D50"]), three(["L_D65", "a_D65", "b_D65"]));
            for (got, want) in lab_d65_of_d50(d50).iter().zip(d65) {
                assert_abs_diff_eq!(*got, want, epsilon = 0.05);
            }
            for (got, want) in lab_of_shares(shares_of_lab(d65)).iter().zip(d65) {
                assert_abs_diff_eq!(*got, want, epsilon = 1e-9);
            }
            rows += 1;
        }
        assert_eq!(rows, 24);
    }
}
