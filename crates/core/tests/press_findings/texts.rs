//! What findings say to people, over all constructed jobs: plain words, and no names from the program.

use rayon::prelude::*;
use strikeoff_core::findings::{Basis, Kind, Severity};

use crate::{faults, sound};

/// Whether a word is a name from the program: snake_case, CamelCase, a path, a debug form.
fn is_internal(word: &str) -> bool {
    let bare = word.trim_matches(|c: char| !c.is_alphanumeric() && !"_{}[]<>:".contains(c));
    let inner_capital = bare.chars().zip(bare.chars().skip(1)).any(|(a, b)| a.is_lowercase() && b.is_uppercase());
    // A colour difference and a mesh or hex colour are written so.
    let trade = bare.starts_with("dE") || bare.starts_with('#');
    (bare.contains('_') || bare.contains("::") || (inner_capital && !trade))
        || bare.contains(['{', '}', '[', ']'])
        || ["NaN", "inf", "None", "Some", "true", "false", "um", "CIEDE2000"].contains(&bare)
}

#[test]
fn words_from_the_program_are_told_apart() {
    for word in ["fixed_size", "LostDots", "halftone::Dot", "NaN", "[1,", "None,", "CIEDE2000", "um,"] {
        assert!(is_internal(word), "{word}");
    }
    for word in ["230/48", "dE", "µm", "(limit", "wet-on-wet", "lpi:", "Base's", "#141416"] {
        assert!(!is_internal(word), "{word}");
    }
}

#[test]
fn findings_speak_plain_trade_english() {
    // Words that are no one's trade English, or old names of things.
    let odd = ["mend", "stands off", "stand off", "let go", "anew", "comes to hang", "wanted", "told", "beats with"];
    let mut jobs: Vec<_> = faults().into_iter().map(|fault| (fault.name, fault.made)).collect();
    jobs.extend(sound::sound());
    let all: Vec<(&str, String)> = jobs
        .par_iter()
        .flat_map_iter(|(name, made)| {
            made.findings().into_iter().flat_map(|f| f.texts()).map(|text| (*name, text)).collect::<Vec<_>>()
        })
        .collect();
    assert!(all.len() > 300, "{}", all.len());
    let wrong: Vec<String> = all
        .iter()
        .filter(|(_, text)| {
            let lower = text.to_lowercase();
            text.split_whitespace().any(is_internal)
                || odd.iter().any(|word| lower.contains(word))
                || text.contains("  ")
                || text.contains(" ,")
                || text.trim() != text
        })
        .map(|(name, text)| format!("{name}: {text}"))
        .collect();
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn sentences_begin_with_a_capital_and_end_with_a_stop() {
    let found: Vec<_> = faults().par_iter().flat_map_iter(|fault| fault.made.findings()).collect();
    for f in found {
        let first = f.what.chars().next().unwrap();
        assert!((first.is_uppercase() || first.is_ascii_digit()) && f.what.ends_with('.'), "{}", f.what);
        assert!(f.fixes.iter().all(|fix| !fix.label.ends_with('.') && !fix.changes.is_empty()), "{:#?}", f.fixes);
        assert!(f.number.value.is_finite() && f.number.limit.is_finite(), "{}", f.number);
    }
}

/// What a number rests on and how bad a finding is are written out, not taken from the program's names.
#[test]
fn labels_are_words() {
    let bases = [Basis::Screens, Basis::Job, Basis::Measured, Basis::Published, Basis::Assumed];
    for label in bases.map(Basis::label) {
        assert!(label.chars().all(|c| c.is_ascii_lowercase() || c == ' '), "{label}");
    }
    assert_eq!([Severity::Fault.label(), Severity::Caution.label()], ["Fault", "Caution"]);
    assert_eq!(Kind::PrintOrder.label(), "Print order");
}
