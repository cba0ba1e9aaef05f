//! Constructed jobs, each with one press fault that must be found, and sound ones that must stay quiet;
//! photographs on three garments; and every sentence that a finding says. Each fault is painted from
//! trade numbers and says what must be reported of it: what kind, how bad, where, and by what number.

#![allow(clippy::unwrap_used)]

mod behaviour;
mod faults_dots;
mod faults_edges;
mod faults_inks;
mod made;
mod photos;
mod sound;
mod texts;
mod tools;

use made::Fault;
use rayon::prelude::*;

/// Every constructed fault.
fn faults() -> Vec<Fault> {
    let groups = [
        faults_dots::lost(),
        faults_dots::moire(),
        faults_dots::tones(),
        faults_inks::order(),
        faults_inks::bases(),
        faults_inks::amounts(),
        faults_edges::edges(),
    ];
    groups.into_iter().flatten().collect()
}

#[test]
fn every_constructed_fault_is_found_where_it_is_and_its_fix_fixes_it() {
    let faults = faults();
    assert!(faults.len() >= 26, "{}", faults.len());
    let complaints: Vec<String> = faults.par_iter().flat_map_iter(Fault::complaints).collect();
    assert!(complaints.is_empty(), "{complaints:#?}");
}
