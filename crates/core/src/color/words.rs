//! A colour in words, as a printer would say it over the telephone: "dark blue", "light warm grey".

use super::{Rgb8, lab_from_linear, oklab_from_linear};

/// OKLab chroma under which a colour is a grey, and under which it is a greyish one.
const GREY: f32 = 0.018;
const GREYISH: f32 = 0.05;
/// Names of hues, each from the OKLab hue angle in degrees at which it begins.
const HUES: [(f32, &str); 9] = [
    (10.0, "red"),
    (45.0, "orange"),
    (80.0, "yellow"),
    (120.0, "green"),
    (170.0, "teal"),
    (222.0, "blue"),
    (285.0, "violet"),
    (315.0, "magenta"),
    (345.0, "pink"),
];

/// A colour in a word or three.
pub fn color_words(color: Rgb8) -> String {
    let linear = color.linear();
    let (l, lab) = (lab_from_linear(linear).l, oklab_from_linear(linear));
    let chroma = lab.a.hypot(lab.b);
    let depth = match l {
        ..20.0 => "very dark ",
        20.0..40.0 => "dark ",
        40.0..72.0 => "",
        72.0..88.0 => "light ",
        _ => "pale ",
    };
    let hue = lab.b.atan2(lab.a).to_degrees().rem_euclid(360.0);
    if chroma < GREY {
        let tint = match (chroma < 0.006, hue) {
            (true, _) => "",
            (_, 20.0..130.0) => "warm ",
            (_, 190.0..300.0) => "cool ",
            _ => "",
        };
        return match l {
            ..14.0 => "black".to_owned(),
            95.0.. => "white".to_owned(),
            _ => format!("{}{tint}grey", if depth == "pale " { "light " } else { depth }),
        };
    }
    let name = HUES.iter().rev().find(|(from, _)| hue >= *from).map_or("pink", |(_, name)| name);
    // What is dark and yellow or orange is called brown, and pale orange and red have names of their own.
    let name = match (name, l) {
        ("orange", ..60.0) | ("yellow", ..50.0) => "brown",
        ("orange", 80.0..) if chroma < 0.12 => "peach",
        ("red" | "magenta", 72.0..) => "pink",
        _ => name,
    };
    let muted = if chroma < GREYISH { "greyish " } else { "" };
    format!("{depth}{muted}{name}")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Colours whose CSS keyword is or means the plain word (CSS Color 4, section 6.1), and greys.
    #[test]
    fn words_are_those_of_css_keywords() {
        for (hex, word) in [
            ("#FF0000", "red"),
            ("#FFFF00", "yellow"),
            ("#0000FF", "blue"),
            ("#000080", "blue"),
            ("#FFA500", "orange"),
            ("#A52A2A", "red"),
            ("#8B4513", "brown"),
            ("#FFC0CB", "pink"),
            ("#008080", "teal"),
            ("#006400", "green"),
            ("#FF00FF", "magenta"),
            ("#000000", "black"),
            ("#FFFFFF", "white"),
            ("#808080", "grey"),
        ] {
            let said = color_words(hex.parse().unwrap());
            assert!(said.ends_with(word), "{hex}: {said}, not {word}");
        }
        assert_eq!(color_words("#404040".parse().unwrap()), "dark grey");
        assert_eq!(color_words("#006400".parse().unwrap()), "dark green");
        assert_eq!(color_words("#FFE0B0".parse().unwrap()), "pale peach");
    }
}
