//! Names in a sentence.

/// "a", "a and b", "a, b and c", with the given word before the last.
pub(super) fn list_of(names: &[String], before_last: &str) -> String {
    match names {
        [] => String::new(),
        [one] => one.clone(),
        [rest @ .., last] => format!("{} {before_last} {last}", rest.join(", ")),
    }
}

/// The form of a word that goes with a number of things.
pub(super) fn plural<'a>(count: usize, one: &'a str, more: &'a str) -> &'a str {
    if count == 1 { one } else { more }
}
