//! File names from screen names: safe on every usual file system, in print order.

/// A name of letters, digits and hyphens in lower case; what cannot be kept becomes a hyphen.
/// Letters outside ASCII stay. Never empty, never longer than 60 bytes.
pub fn safe_name(name: &str) -> String {
    let mut out = String::new();
    for c in name.chars().flat_map(char::to_lowercase) {
        if c.is_alphanumeric() {
            if out.len() + c.len_utf8() > 60 {
                break;
            }
            out.push(c);
        } else if !out.is_empty() && !out.ends_with('-') {
            out.push('-');
        }
    }
    let out = out.trim_end_matches('-');
    if out.is_empty() { "screen".into() } else { out.into() }
}

/// `01-black`: print order first. Names that would fall together are kept apart by the number.
pub fn numbered_name(number: usize, name: &str) -> String {
    format!("{number:02}-{}", safe_name(name))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_safe_anywhere() {
        assert_eq!(numbered_name(1, "Black"), "01-black");
        assert_eq!(safe_name("Brick red / 2nd: \"hit\""), "brick-red-2nd-hit");
        assert_eq!(safe_name("..\\..//"), "screen");
        assert_eq!(safe_name("Grün 5"), "grün-5");
        assert!(safe_name(&"ä".repeat(200)).len() <= 60);
    }
}
