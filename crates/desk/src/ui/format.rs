//! Numbers as the window writes them.

use strikeoff_core::units::{LengthUnit, MM_PER_INCH, Mm};

/// A size in inches: `13.5 x 18 in`.
pub fn size_in(mm: [f64; 2]) -> String {
    format!("{} x {} in", trim(mm[0] / MM_PER_INCH, 2), trim(mm[1] / MM_PER_INCH, 2))
}

/// A size in the unit that the job is measured in: `13.5 x 18 in` or `343 x 457 mm`.
pub fn size(mm: [f64; 2], unit: LengthUnit) -> String {
    match unit {
        LengthUnit::Inch => size_in(mm),
        LengthUnit::Mm => format!("{} x {} mm", trim(mm[0], 0), trim(mm[1], 0)),
    }
}

/// A length in the unit that the job is measured in: `0.5 in` or `12.7 mm`.
pub fn length(mm: Mm, unit: LengthUnit) -> String {
    match unit {
        LengthUnit::Inch => format!("{} in", trim(mm.inches(), 2)),
        LengthUnit::Mm => format!("{} mm", trim(mm.get(), 1)),
    }
}

/// A number with at most `places` decimals and no trailing zeros.
pub fn trim(value: f64, places: usize) -> String {
    let text = format!("{value:.places$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// A fraction as whole percent; what is there but rounds to none reads `<1 %`.
pub fn percent(fraction: f64) -> String {
    if fraction > 0.0 && fraction < 0.005 { "<1 %".to_owned() } else { format!("{:.0} %", fraction * 100.0) }
}

/// A difference with its sign to two decimals; what rounds to none has none.
pub fn signed(value: f64) -> String {
    if value.abs() < 0.005 { "0.00".to_owned() } else { format!("{value:+.2}") }
}

/// A duration in seconds.
pub fn seconds(time: std::time::Duration) -> String {
    let s = time.as_secs_f64();
    if s < 0.095 { format!("{:.0} ms", s * 1000.0) } else { format!("{s:.1} s") }
}

/// 1st, 2nd, 3rd, 4th, 11th.
pub fn ordinal(n: usize) -> String {
    let end = match (n % 10, n % 100) {
        (_, 11..=13) => "th",
        (1, _) => "st",
        (2, _) => "nd",
        (3, _) => "rd",
        _ => "th",
    };
    format!("{n}{end}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_read_as_people_write_them() {
        assert_eq!(size_in([342.9, 457.2]), "13.5 x 18 in");
        assert_eq!(size([342.9, 457.2], LengthUnit::Mm), "343 x 457 mm");
        let half_inch = Mm::new(12.7).unwrap();
        assert_eq!([LengthUnit::Inch, LengthUnit::Mm].map(|unit| length(half_inch, unit)), ["0.5 in", "12.7 mm"]);
        assert_eq!(trim(230.0, 2), "230");
        assert_eq!(percent(0.004), "<1 %");
        assert_eq!(percent(0.0), "0 %");
        assert_eq!([signed(0.004), signed(-0.126)], ["0.00", "-0.13"]);
        assert_eq!(seconds(std::time::Duration::from_millis(230)), "0.2 s");
    }
}
