//! Which of the installed fonts is tried first.

use resvg::usvg::fontdb::{Database, FaceInfo, ID, Stretch, Style};

/// The language whose shapes a text wants where one character has several: Chinese characters are
/// drawn a little differently in China, Japan and Korea. Kana and Hangul tell; a text without them
/// is taken for Chinese.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) enum Tongue {
    Chinese,
    Japanese,
    Korean,
}

impl Tongue {
    pub(super) fn of(text: &str) -> Self {
        let mut hangul = false;
        for c in text.chars() {
            match c {
                '\u{3040}'..='\u{30FF}' | '\u{31F0}'..='\u{31FF}' | '\u{FF66}'..='\u{FF9F}' => return Self::Japanese,
                '\u{1100}'..='\u{11FF}' | '\u{3130}'..='\u{318F}' | '\u{AC00}'..='\u{D7AF}' => hangul = true,
                _ => {}
            }
        }
        if hangul { Self::Korean } else { Self::Chinese }
    }

    /// Its tag (BCP 47), for fonts that hold the shapes of all three.
    pub(super) fn tag(self) -> &'static str {
        match self {
            Self::Chinese => "zh-Hans",
            Self::Japanese => "ja",
            Self::Korean => "ko",
        }
    }

    /// Families made for it, best first: fonts without serifs that are free to install or come with
    /// a system.
    fn families(self) -> &'static [&'static str] {
        match self {
            Self::Chinese => &[
                "Noto Sans CJK SC",
                "Noto Sans SC",
                "Source Han Sans SC",
                "Microsoft YaHei",
                "PingFang SC",
                "WenQuanYi Micro Hei",
                "Droid Sans Fallback",
            ],
            Self::Japanese => &["Noto Sans CJK JP", "Noto Sans JP", "Source Han Sans", "Yu Gothic", "Hiragino Sans"],
            Self::Korean => {
                &["Noto Sans CJK KR", "Noto Sans KR", "Source Han Sans K", "Malgun Gothic", "Apple SD Gothic Neo"]
            }
        }
    }
}

/// Families of many scripts.
const BROAD: [&str; 4] = ["Noto Sans", "DejaVu Sans", "Segoe UI", "Arial Unicode MS"];

/// Where a family stands: those of the text's language, families of many scripts, any of Noto Sans (a
/// family a script), those of the other languages, the rest.
fn rank(family: &str, tongue: Tongue) -> usize {
    let others = [Tongue::Chinese, Tongue::Japanese, Tongue::Korean].into_iter().filter(|other| *other != tongue);
    let named: Vec<&str> = tongue.families().iter().copied().chain(BROAD).collect();
    let later: Vec<&str> = others.flat_map(|other| other.families().iter().copied()).collect();
    let place = |list: &[&str]| list.iter().position(|name| *name == family);
    if let Some(place) = place(&named) {
        return place;
    }
    match place(&later) {
        Some(place) => named.len() + 1 + place,
        None if family.starts_with("Noto Sans ") => named.len(),
        None => named.len() + 1 + later.len(),
    }
}

/// Upright fonts of this machine, best first, the same on every run. Within a family the one of usual
/// width and nearest weight comes first.
pub(super) fn by_preference(fonts: &Database, weight: u16, tongue: Tongue) -> Vec<ID> {
    let mut faces: Vec<(_, ID)> = fonts
        .faces()
        .filter(|face| face.style == Style::Normal)
        .map(|face: &FaceInfo| {
            let family = face.families.first().map(|(name, _)| name.as_str()).unwrap_or_default();
            let usual_width = face.stretch == Stretch::Normal;
            let near = face.weight.0.abs_diff(weight);
            let key = (rank(family, tongue), face.monospaced, family, !usual_width, near, &face.post_script_name);
            ((key, face.index), face.id)
        })
        .collect();
    faces.sort();
    faces.into_iter().map(|(_, id)| id).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn kana_and_hangul_tell_the_language() {
        assert_eq!(Tongue::of("灯笼节"), Tongue::Chinese);
        assert_eq!(Tongue::of("Fair 提灯まつり"), Tongue::Japanese);
        assert_eq!(Tongue::of("등불 축제"), Tongue::Korean);
        assert_eq!(Tongue::of("Lantern fair"), Tongue::Chinese);
    }

    #[test]
    fn families_of_the_language_come_first() {
        let first = |tongue| {
            let mut list =
                ["Zapf", "Noto Sans Hebrew", "Noto Sans CJK KR", "Noto Sans CJK SC", "DejaVu Sans", "Noto Sans CJK JP"];
            list.sort_by_key(|family| rank(family, tongue));
            list
        };
        assert_eq!(
            first(Tongue::Japanese),
            ["Noto Sans CJK JP", "DejaVu Sans", "Noto Sans Hebrew", "Noto Sans CJK SC", "Noto Sans CJK KR", "Zapf"]
        );
        assert_eq!(first(Tongue::Chinese)[0], "Noto Sans CJK SC");
        assert_eq!(first(Tongue::Korean)[0], "Noto Sans CJK KR");
    }
}
