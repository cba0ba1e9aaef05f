//! Letters that no installed font has: which, of which name, and what to install.

use serde::Serialize;
use unicode_script::{Script, UnicodeScript};

use super::shape::missing;
use super::{Face, REPLACEMENT};

/// Letters of one name that no installed font has.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Missing {
    /// The name, or the line that they stand in.
    pub name: String,
    /// The letters, each once.
    pub letters: Vec<char>,
}

/// Gathers what is missing while lines are set.
#[derive(Debug, Clone, Default)]
pub struct Gaps {
    names: Vec<String>,
    found: Vec<Missing>,
}

impl Gaps {
    /// For lines that are put together from these names.
    pub fn of_names<'a>(names: impl IntoIterator<Item = &'a str>) -> Self {
        let names = names.into_iter().map(str::trim).filter(|name| !name.is_empty()).map(str::to_owned).collect();
        Self { names, found: Vec::new() }
    }

    /// Looks for what a line lacks.
    pub fn look(&mut self, face: Face, line: &str) {
        for letter in missing(face, line) {
            let mut names = self.names.iter().filter(|name| name.contains(letter)).peekable();
            // A part of a name may stand in the line: the whole names are reported.
            let names: Vec<String> =
                if names.peek().is_some() { names.cloned().collect() } else { vec![line.trim().to_owned()] };
            for name in names {
                match self.found.iter_mut().find(|known| known.name == name) {
                    Some(known) if known.letters.contains(&letter) => {}
                    Some(known) => known.letters.push(letter),
                    None => self.found.push(Missing { name, letters: vec![letter] }),
                }
            }
        }
    }

    /// What was found.
    pub fn found(self) -> Vec<Missing> {
        self.found
    }
}

/// Letters that a sentence names for one name.
const MOST_NAMED: usize = 4;

/// One sentence about missing letters: which, of which names, and what to do. Nothing if none are
/// missing.
pub fn missing_note(missing: &[Missing]) -> Option<String> {
    if missing.is_empty() {
        return None;
    }
    let of_each = missing.iter().map(|Missing { name, letters }| {
        let mut list: Vec<String> =
            letters.iter().take(MOST_NAMED).map(|&c| format!("{c} (U+{:04X})", u32::from(c))).collect();
        if letters.len() > MOST_NAMED {
            list.push(format!("{} more", letters.len() - MOST_NAMED));
        }
        format!("{} of \"{name}\"", and(&list))
    });
    let of_each: Vec<String> = of_each.collect();
    let mut remedies: Vec<String> = Vec::new();
    for &letter in missing.iter().flat_map(|gap| &gap.letters) {
        let remedy = remedy(letter);
        if !remedies.contains(&remedy) {
            remedies.push(remedy);
        }
    }
    Some(format!(
        "no installed font has {}, so {REPLACEMENT} stands in their place; {} and make the file again",
        and(&of_each),
        remedies.join("; ")
    ))
}

fn and(list: &[String]) -> String {
    match list {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// What gives a letter: a typeface, and the package that brings it on Debian and Ubuntu.
fn remedy(letter: char) -> String {
    let font = |typeface: &str, package: &str| format!("install {typeface} (Debian and Ubuntu: {package})");
    match letter.script() {
        Script::Han | Script::Hiragana | Script::Katakana | Script::Bopomofo | Script::Hangul => {
            font("Noto Sans CJK", "fonts-noto-cjk")
        }
        Script::Unknown => "type the name without letters that Unicode gives no meaning".into(),
        Script::Common | Script::Inherited => font("Symbola", "fonts-symbola"),
        Script::Armenian | Script::Georgian | Script::Nko | Script::Tifinagh | Script::Lao => {
            font("DejaVu Sans", "fonts-dejavu-core")
        }
        script => {
            font(&format!("the Noto font for {} script", script.full_name().replace('_', " ")), "fonts-noto-core")
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_letter_is_told_with_its_name_and_its_typeface() {
        let gaps = [
            Missing { name: "灯笼".into(), letters: vec!['灯', '笼'] },
            Missing { name: "\u{13080} fair".into(), letters: vec!['\u{13080}'] },
        ];
        assert_eq!(
            missing_note(&gaps).unwrap(),
            "no installed font has 灯 (U+706F) and 笼 (U+7B3C) of \"灯笼\" and \u{13080} (U+13080) of \"\u{13080} fair\", \
             so \u{FFFD} stands in their place; install Noto Sans CJK (Debian and Ubuntu: fonts-noto-cjk); install the \
             Noto font for Egyptian Hieroglyphs script (Debian and Ubuntu: fonts-noto-core) and make the file again"
        );
        assert_eq!(missing_note(&[]), None);
    }

    #[test]
    fn a_letter_belongs_to_the_names_that_hold_it() {
        // Plane 16 is for private use: no font has it.
        let mut gaps = Gaps::of_names(["Fair", "Fai\u{10FFFD}r"]);
        gaps.look(Face::Sans, "Client: Fai\u{10FFFD}");
        gaps.look(Face::Sans, "Again \u{10FFFD}");
        gaps.look(Face::Sans, "Other \u{10FFFC}");
        let found = gaps.found();
        assert_eq!(found.len(), 2);
        assert_eq!(found[0], Missing { name: "Fai\u{10FFFD}r".into(), letters: vec!['\u{10FFFD}'] });
        assert_eq!(found[1].name, "Other \u{10FFFC}");
    }
}
