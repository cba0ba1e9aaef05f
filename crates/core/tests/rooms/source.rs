//! Rust source as far as imports need it: words and signs without comments and literals, the paths
//! that lead into the crate, and the names that a module passes on.

/// A word or a sign of the source.
#[derive(Debug, Clone, PartialEq)]
enum Token {
    Word(String),
    /// `::`
    Path,
    Sign(char),
}

/// A path from the crate's root, `["press", "Stack"]`.
pub type Route = Vec<String>;

/// Every path in `text` that starts with `crate`, `self` or `super`, from the crate's root.
/// `module` is the module that the file is.
pub fn routes(text: &str, module: &[String]) -> Vec<Route> {
    let tokens = tokens(text);
    let mut here: Vec<String> = module.to_vec();
    // Inline modules that are open: the depth of their braces.
    let mut open: Vec<usize> = Vec::new();
    let mut depth = 0;
    let mut found = Vec::new();
    for (at, token) in tokens.iter().enumerate() {
        match token {
            Token::Sign('{') => {
                if let [.., Token::Word(before), Token::Word(name)] = &tokens[..at]
                    && before == "mod"
                {
                    here.push(name.clone());
                    open.push(depth);
                }
                depth += 1;
            }
            Token::Sign('}') => {
                depth -= 1;
                if open.last() == Some(&depth) {
                    open.pop();
                    here.pop();
                }
            }
            Token::Word(word) if at == 0 || tokens[at - 1] != Token::Path => {
                let (base, next) = match word.as_str() {
                    "crate" => (Vec::new(), at + 1),
                    "self" => (here.clone(), at + 1),
                    "super" => {
                        let mut up = 1;
                        while tokens.get(at + 2 * up) == Some(&Token::Word("super".into())) {
                            up += 1;
                        }
                        (here[..here.len().saturating_sub(up)].to_vec(), at + 2 * up - 1)
                    }
                    _ => continue,
                };
                if tokens.get(next) == Some(&Token::Path) {
                    let mut leaves = Vec::new();
                    tree(&tokens, next + 1, base, &mut leaves);
                    found.extend(leaves.into_iter().map(|(route, _)| route));
                }
            }
            _ => {}
        }
    }
    found
}

/// What the `use` lines of a table of contents pass on: the name, and its path below the module.
pub fn passed_on(text: &str) -> Vec<(String, Route)> {
    let tokens = tokens(text);
    let mut leaves = Vec::new();
    for at in 0..tokens.len() {
        if tokens[at] == Token::Word("use".into()) {
            tree(&tokens, at + 1, Vec::new(), &mut leaves);
        }
    }
    leaves.into_iter().filter(|(route, _)| route.len() > 1).map(|(route, name)| (name, route)).collect()
}

/// Reads a path and its groups from `at` on; gives what follows it.
fn tree(tokens: &[Token], at: usize, base: Route, leaves: &mut Vec<(Route, String)>) -> usize {
    let mut leaf = |route: Route, name: &str| leaves.push((route, name.to_owned()));
    match tokens.get(at) {
        Some(Token::Word(word)) => {
            let mut route = base;
            if word != "self" {
                route.push(word.clone());
            }
            if tokens.get(at + 1) == Some(&Token::Path)
                && matches!(tokens.get(at + 2), Some(Token::Word(_) | Token::Sign('{' | '*')))
            {
                return tree(tokens, at + 2, route, leaves);
            }
            match (tokens.get(at + 1), tokens.get(at + 2)) {
                (Some(Token::Word(renamed)), Some(Token::Word(name))) if renamed == "as" => {
                    leaf(route, name);
                    at + 3
                }
                _ => {
                    let name = route.last().cloned().unwrap_or_default();
                    leaf(route, &name);
                    at + 1
                }
            }
        }
        Some(Token::Sign('*')) => {
            leaf(base, "*");
            at + 1
        }
        Some(Token::Sign('{')) => {
            let mut at = at + 1;
            loop {
                match tokens.get(at) {
                    Some(Token::Sign('}')) => return at + 1,
                    Some(Token::Sign(',')) => at += 1,
                    Some(Token::Word(_) | Token::Sign('{' | '*')) => at = tree(tokens, at, base.clone(), leaves),
                    _ => return at,
                }
            }
        }
        _ => at,
    }
}

fn tokens(text: &str) -> Vec<Token> {
    let chars: Vec<char> = text.chars().collect();
    let word = |c: char| c.is_alphanumeric() || c == '_';
    let mut out = Vec::new();
    let mut at = 0;
    while let Some(&c) = chars.get(at) {
        let rest = &chars[at..];
        if rest.starts_with(&['/', '/']) {
            at += rest.iter().position(|&c| c == '\n').unwrap_or(rest.len());
        } else if rest.starts_with(&['/', '*']) {
            at += block_comment(rest);
        } else if c == '"' {
            at += string(rest);
        } else if c == '\'' {
            at += char_or_lifetime(rest);
        } else if word(c) {
            let length = rest.iter().position(|&c| !word(c)).unwrap_or(rest.len());
            let text: String = rest[..length].iter().collect();
            let after = &rest[length..];
            let hashes = after.iter().take_while(|&&c| c == '#').count();
            at += length;
            if matches!(text.as_str(), "r" | "br" | "cr") && after.get(hashes) == Some(&'"') {
                at += raw_string(after, hashes);
            } else if text == "r" && hashes == 1 {
                // A raw identifier: its word follows.
                at += 1;
            } else {
                out.push(Token::Word(text));
            }
        } else if rest.starts_with(&[':', ':']) {
            out.push(Token::Path);
            at += 2;
        } else {
            if !c.is_whitespace() {
                out.push(Token::Sign(c));
            }
            at += 1;
        }
    }
    out
}

fn block_comment(rest: &[char]) -> usize {
    let (mut depth, mut at) = (0, 0);
    while at < rest.len() {
        if rest[at..].starts_with(&['/', '*']) {
            (depth, at) = (depth + 1, at + 2);
        } else if rest[at..].starts_with(&['*', '/']) {
            (depth, at) = (depth - 1, at + 2);
            if depth == 0 {
                return at;
            }
        } else {
            at += 1;
        }
    }
    at
}

fn string(rest: &[char]) -> usize {
    let mut at = 1;
    while at < rest.len() {
        match rest[at] {
            '\\' => at += 2,
            '"' => return at + 1,
            _ => at += 1,
        }
    }
    at
}

/// The length of `#"..."#` with so many hashes.
fn raw_string(rest: &[char], hashes: usize) -> usize {
    let mut at = hashes + 1;
    while at < rest.len() {
        if rest[at] == '"' && rest[at + 1..].iter().take_while(|&&c| c == '#').count() >= hashes {
            return at + 1 + hashes;
        }
        at += 1;
    }
    at
}

fn char_or_lifetime(rest: &[char]) -> usize {
    match rest {
        ['\'', '\\', _, ..] => 3 + rest[3..].iter().position(|&c| c == '\'').map_or(0, |at| at + 1),
        ['\'', _, '\'', ..] => 3,
        _ => 1,
    }
}

#[test]
fn comments_and_literals_are_no_imports() {
    let text = r##"
        // crate::a  /* crate::b */
        /* crate::c /* crate::d */ crate::e */
        /// [`crate::f`]
        const G: &str = "crate::g \" crate::h";
        const I: &str = r#"crate::i "crate::j" "#;
        const K: char = '"'; const L: char = '\''; fn m<'a>(n: &'a str) {}
        const O: &[u8] = br"crate::o";
        use crate::real;
    "##;
    assert_eq!(routes(text, &[]), [["real"]]);
}

#[test]
fn groups_and_parents_are_followed() {
    let module = ["press".to_owned(), "stack".to_owned()];
    let text = "
        use crate::{color::{self, Lab}, ink::Ink as Colour, Progress};
        use super::layer::Layer;
        pub(in crate::press) fn a() { super::super::job::evaluate::<u8>(); self::b(); }
        mod tests { use super::*; use super::super::gain; use super::super::super::{tune, usage::Mesh}; }
        pub(crate) fn c(x: &$crate::units::Mm) {}
    ";
    let found: Vec<String> = routes(text, &module).iter().map(|route| route.join("::")).collect();
    let want = [
        "color",
        "color::Lab",
        "ink::Ink",
        "Progress",
        "press::layer::Layer",
        "press",
        "job::evaluate",
        "press::stack::b",
        "press::stack",
        "press::gain",
        "tune",
        "usage::Mesh",
        "units::Mm",
    ];
    assert_eq!(found, want);
    assert_eq!(
        passed_on("mod a; pub use a::{B, c::D as E}; use f::*;"),
        [("B", vec!["a", "B"]), ("E", vec!["a", "c", "D"])]
            .map(|(name, route)| (name.to_owned(), route.into_iter().map(str::to_owned).collect::<Route>()))
            .into_iter()
            .collect::<Vec<_>>()
    );
}
