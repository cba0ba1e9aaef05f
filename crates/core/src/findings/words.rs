//! Names in a sentence.

/// "a", "a and b", "a, b and c", with the given word before the last.
pub(super) fn list_of(names: &[impl AsRef<str>], before_last: &str) -> String {
    let names: Vec<&str> = names.iter().map(AsRef::as_ref).collect();
    match names.as_slice() {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [rest @ .., last] => format!("{} {before_last} {last}", rest.join(", ")),
    }
}

/// The form of a word that goes with a number of things.
pub(super) fn plural<'a>(count: usize, one: &'a str, more: &'a str) -> &'a str {
    if count == 1 { one } else { more }
}
