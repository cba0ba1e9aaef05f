//! Names and sentences as people may write and read them: cleaned of control codes, cut to a
//! length, and compared as on a shelf, where case, blanks, `-` and `_` make no difference.

/// Whether a character ends a line or steers a terminal instead of being seen.
pub fn is_control(c: char) -> bool {
    c.is_control() || matches!(c, '\u{2028}' | '\u{2029}')
}

/// A text without control codes, at most `most` letters: what a name from outside is taken over as.
pub fn clean(text: &str, most: usize) -> String {
    if !text.chars().any(is_control) {
        return cut(text, most);
    }
    let plain: String = text.chars().map(|c| if is_control(c) { ' ' } else { c }).collect();
    cut(&plain.split_whitespace().collect::<Vec<_>>().join(" "), most)
}

/// A name as a sentence or a list shows it: clean, at most 60 letters.
pub fn short(name: &str) -> String {
    clean(name, 60)
}

/// Longest word and longest sentence that are shown whole.
const LONGEST_WORD: usize = 300;
const LONGEST_SENTENCE: usize = 1200;

/// A sentence on one line, whatever was put into it: control codes become blanks, and what is
/// longer than anybody reads is cut in the middle.
pub fn one_line(text: &str) -> String {
    let plain: String = text.chars().map(|c| if is_control(c) { ' ' } else { c }).collect();
    let words: Vec<String> = plain.split_whitespace().map(|word| cut_middle(word, LONGEST_WORD)).collect();
    cut_middle(&words.join(" "), LONGEST_SENTENCE)
}

/// Whether two names are the same on a shelf: case, blanks, `-` and `_` make no difference.
pub fn same(a: &str, b: &str) -> bool {
    plain(a) == plain(b)
}

/// A name without what makes no difference on a shelf.
pub fn plain(name: &str) -> String {
    name.chars().filter(|c| !c.is_whitespace() && !matches!(c, '-' | '_')).flat_map(char::to_lowercase).collect()
}

/// The entry that is called `sought`: by its very name, or else as on a shelf.
pub fn find<'a, T>(list: &'a [T], sought: &str, name: impl Fn(&T) -> &str) -> Option<&'a T> {
    let exact = list.iter().find(|entry| name(entry) == sought);
    exact.or_else(|| {
        let sought = plain(sought);
        list.iter().find(|entry| plain(name(entry)) == sought)
    })
}

fn cut(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    text.chars().take(most.saturating_sub(1)).chain(['\u{2026}']).collect()
}

fn cut_middle(text: &str, most: usize) -> String {
    let letters = text.chars().count();
    if letters <= most {
        return text.to_owned();
    }
    let (head, tail) = (most * 2 / 3, most / 3);
    text.chars().take(head).chain(['\u{2026}']).chain(text.chars().skip(letters - tail)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn names_are_the_same_on_a_shelf_whatever_their_case_and_blanks() {
        assert!(same("Brick red", "brick-RED") && same("Bleu \u{c9}t\u{e9}", "bleu_\u{e9}t\u{e9}"));
        assert!(!same("Brick red", "Brick"));
        let list = ["Gold", "gold"];
        assert_eq!(find(&list, "gold", |n| n), Some(&"gold"), "the very name comes first");
        assert_eq!(find(&list, "G O L D", |n| n), Some(&"Gold"));
    }

    #[test]
    fn names_from_outside_become_clean_and_short() {
        assert_eq!(clean("a\nb\u{1b}[31m\tc", 60), "a b [31m c");
        let long = short(&"n".repeat(100_000));
        assert_eq!(long.chars().count(), 60);
        assert!(long.ends_with('\u{2026}'));
    }

    proptest! {
        #[test]
        fn a_sentence_is_one_line_of_bounded_length(text in any::<String>(), times in 1usize..400) {
            let line = one_line(&text.repeat(times));
            prop_assert!(!line.chars().any(is_control));
            prop_assert!(line.chars().count() <= LONGEST_SENTENCE + 1);
            prop_assert_eq!(one_line(&line), line.clone());
        }
    }
}
