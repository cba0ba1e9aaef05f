//! Which films and screens of a job that was printed still serve, and why others must be made again.

use serde::Serialize;

use crate::job::{Job, compare};
use crate::names::same;
use crate::screens::{ScreenName, Screens};

/// One screen of the reorder.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Serves {
    /// The screen.
    pub screen: ScreenName,
    /// Why its film must be made again; empty: it serves.
    pub film: Vec<String>,
    /// Why the screen must be burned again; empty: one that hangs still serves.
    pub burn: Vec<String>,
}

impl Serves {
    /// In words.
    pub fn words(&self) -> String {
        match (self.film.as_slice(), self.burn.as_slice()) {
            ([], []) => format!("{}: film and screen serve", self.screen),
            ([], burn) => format!("{}: the film serves, burn the screen again: {}", self.screen, burn.join(", ")),
            (film, _) => format!("{}: make film and screen again: {}", self.screen, film.join(", ")),
        }
    }
}

/// What of the printed job serves another state of it: its screens in print order, and printed screens that it does not
/// use any more.
pub fn serves(printed: (&Job, &Screens), now: (&Job, &Screens)) -> (Vec<Serves>, Vec<ScreenName>) {
    let found = compare(printed, now);
    let common = film_reasons(printed.0, now.0);
    let list = now.1.list.iter().map(|screen| {
        let name = &screen.name;
        // What the comparison says of settings is looked at screen by screen here.
        let of_comparison = found.remake.iter().filter(|remake| remake.screen == *name).flat_map(|remake| &remake.why);
        let general = |why: &&String| !["film settings differ", "gain compensation differs"].contains(&why.as_str());
        let mut film: Vec<String> = of_comparison.filter(general).cloned().collect();
        if printed.1.position(name).is_some() {
            film.extend(common.iter().cloned());
            film.extend(screen_reasons(printed.0, now.0, name));
        }
        let mut burn = film.clone();
        let [before, after] = [printed.0, now.0].map(|job| job.run.mesh_of(name));
        if printed.1.position(name).is_some() && !same(&before.name, &after.name) {
            burn.push(format!("the mesh was {} and is {}", before.name, after.name));
        }
        Serves { screen: name.clone(), film, burn }
    });
    (list.collect(), found.unused.clone())
}

/// What all films of a job share.
fn film_reasons(a: &Job, b: &Job) -> Vec<String> {
    let (x, y) = (&a.film, &b.film);
    let reasons = [
        (x.dpi != y.dpi || x.dpi_down != y.dpi_down, "the film printer has another resolution"),
        (x.limits != y.limits, "the smallest or largest dot is another one"),
        (x.linearisation != y.linearisation, "the film printer's tone was measured again"),
        ((x.emulsion, x.reverse) != (y.emulsion, y.reverse), "emulsion side or negative differ"),
        ((x.margin, x.marks) != (y.margin, y.marks), "its marks lie elsewhere"),
    ];
    reasons.into_iter().filter(|(differs, _)| *differs).map(|(_, why)| why.to_owned()).collect()
}

/// What differs for one screen.
fn screen_reasons(a: &Job, b: &Job, name: &ScreenName) -> Vec<String> {
    let mut why = Vec::new();
    if a.film.of_screen(name) != b.film.of_screen(name) {
        why.push(format!("it was {} and is {}", a.film.describe(name), b.film.describe(name)));
    }
    let curve = |job: &Job| job.press.compensate.then(|| job.press.gain.clone());
    if curve(a) != curve(b) {
        let said = |job: &Job| curve(job).map_or_else(|| "none".to_owned(), |gain| gain.describe());
        why.push(format!("it carried the inverse of the gain {} and now of {}", said(a), said(b)));
    }
    why
}
