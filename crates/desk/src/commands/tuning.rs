//! Knobs of one screen as edits of the job. A knob owns the last edit of its kind that names the
//! screen: turning it changes that edit in place, turning it back to nothing takes it out.

use strikeoff_core::job::Job;
use strikeoff_core::screens::ScreenName;
use strikeoff_core::tune::{Curve, Edit, EditEntry, edits};
use strikeoff_core::units::{Coverage, Mm};

/// The last edit for which `pick` gives something.
fn last<T>(job: &Job, pick: impl Fn(&Edit) -> Option<T>) -> Option<(usize, T)> {
    job.edits.iter().enumerate().rev().filter(|(_, e)| e.on).find_map(|(at, e)| Some((at, pick(&e.edit)?)))
}

/// Puts `edit` where the knob's edit is, or at the end; takes it out if there is none any more.
fn put(job: &mut Job, at: Option<usize>, edit: Option<Edit>) {
    match (at, edit) {
        (Some(at), Some(edit)) => job.edits[at].edit = edit,
        (Some(at), None) => {
            job.edits.remove(at);
        }
        (None, Some(edit)) => job.edits.push(EditEntry::on(edit)),
        (None, None) => {}
    }
}

/// The tone curve; straight if there is none.
pub fn curve(job: &Job, name: &ScreenName) -> Curve {
    find_curve(job, name).map_or_else(Curve::straight, |(_, curve)| curve)
}

fn find_curve(job: &Job, name: &ScreenName) -> Option<(usize, Curve)> {
    last(job, |edit| match edit {
        Edit::Curve(edits::Curve { screen, curve }) if *screen == *name => Some(curve.clone()),
        _ => None,
    })
}

/// Sets the tone curve.
pub fn set_curve(job: &mut Job, name: &ScreenName, curve: Curve) {
    let at = find_curve(job, name).map(|(at, _)| at);
    let straight = curve.points().iter().all(|[before, after]| (before - after).abs() < 0.05);
    put(job, at, (!straight).then(|| Edit::Curve(edits::Curve { screen: name.clone(), curve })));
}

/// Strength: what coverage is multiplied by.
pub fn strength(job: &Job, name: &ScreenName) -> f64 {
    find_strength(job, name).map_or(1.0, |(_, factor)| factor)
}

fn find_strength(job: &Job, name: &ScreenName) -> Option<(usize, f64)> {
    last(job, |edit| match edit {
        Edit::Density(edits::Density { screen, factor }) if *screen == *name => Some(*factor),
        _ => None,
    })
}

/// Sets the strength.
pub fn set_strength(job: &mut Job, name: &ScreenName, factor: f64) {
    let at = find_strength(job, name).map(|(at, _)| at);
    let edit = ((factor - 1.0).abs() > 1e-4).then(|| Edit::Density(edits::Density { screen: name.clone(), factor }));
    put(job, at, edit);
}

/// Trim: tones below this go, and whether the background is cleared.
pub fn trim(job: &Job, name: &ScreenName) -> (f64, bool) {
    find_trim(job, name).map_or((0.0, false), |(_, trim)| trim)
}

fn find_trim(job: &Job, name: &ScreenName) -> Option<(usize, (f64, bool))> {
    last(job, |edit| match edit {
        Edit::Trim(edits::Trim { screen, below, background, .. }) if *screen == *name => {
            Some((below.get(), *background))
        }
        _ => None,
    })
}

/// Sets the trim.
pub fn set_trim(job: &mut Job, name: &ScreenName, below: f64, background: bool) {
    let at = find_trim(job, name).map(|(at, _)| at);
    let below = Coverage::new(below.clamp(0.0, 1.0)).ok().filter(|c| c.get() > 0.0 || background);
    put(job, at, below.map(|below| Edit::trim(name, below, background)));
}

/// How far edges are pushed out, in millimetres; less than none: pulled back.
pub fn edge_mm(job: &Job, name: &ScreenName) -> f64 {
    find_edge(job, name).map_or(0.0, |(_, mm)| mm)
}

fn find_edge(job: &Job, name: &ScreenName) -> Option<(usize, f64)> {
    last(job, |edit| match edit {
        Edit::Spread(edits::Spread { screen, by_mm }) if *screen == *name => Some(by_mm.get()),
        Edit::Choke(edits::Choke { screen, by_mm }) if *screen == *name => Some(-by_mm.get()),
        _ => None,
    })
}

/// Sets choke or spread.
pub fn set_edge_mm(job: &mut Job, name: &ScreenName, mm: f64) {
    let at = find_edge(job, name).map(|(at, _)| at);
    let screen = name.clone();
    let edit = match Mm::new(mm.abs()) {
        Ok(by_mm) if mm > 1e-4 => Some(Edit::Spread(edits::Spread { screen, by_mm })),
        Ok(by_mm) if mm < -1e-4 => Some(Edit::Choke(edits::Choke { screen, by_mm })),
        _ => None,
    };
    put(job, at, edit);
}

/// Sets how often the screen prints.
pub fn set_hits(job: &mut Job, name: &ScreenName, hits: u8) {
    let found = last(job, |edit| match edit {
        Edit::Hits(edits::Hits { screen, .. }) if *screen == *name => Some(()),
        _ => None,
    });
    put(job, found.map(|(at, ())| at), Some(Edit::Hits(edits::Hits { screen: name.clone(), hits })));
}

#[cfg(test)]
mod tests {
    use super::*;
    use strikeoff_core::color::Rgb8;
    use strikeoff_core::ink::Garment;

    #[test]
    fn a_knob_keeps_one_edit_and_leaves_none_behind() {
        let mut job = Job::new(Garment::of_color(Rgb8([255; 3])));
        job.edits.push(EditEntry::on(Edit::drop("Lemon")));
        for mm in [0.1, 0.3, -0.2] {
            set_edge_mm(&mut job, &"Teal".into(), mm);
            assert_eq!(edge_mm(&job, &"teal".into()), mm);
            assert_eq!(job.edits.len(), 2);
        }
        set_trim(&mut job, &"Teal".into(), 0.05, false);
        set_trim(&mut job, &"Teal".into(), 0.08, true);
        set_strength(&mut job, &"Teal".into(), 0.7);
        set_curve(&mut job, &"Teal".into(), Curve::new(vec![[0.0, 0.0], [50.0, 40.0], [100.0, 100.0]]).unwrap());
        assert_eq!(trim(&job, &"Teal".into()), (0.08, true));
        assert_eq!(strength(&job, &"Teal".into()), 0.7);
        assert_eq!(edge_mm(&job, &"Other".into()), 0.0);
        assert_eq!(job.edits.len(), 5);
        set_edge_mm(&mut job, &"Teal".into(), 0.0);
        set_trim(&mut job, &"Teal".into(), 0.0, false);
        set_strength(&mut job, &"Teal".into(), 1.0);
        set_curve(&mut job, &"Teal".into(), Curve::straight());
        assert_eq!(job.edits.len(), 1, "only the drop is left: {:?}", job.edits);
    }
}
