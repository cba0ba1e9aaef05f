//! What making a job's screens needs, against the budget.

use strikeoff_core::job::{Job, JobError, Needs};
use strikeoff_core::prep::PrepSettings;
use strikeoff_core::raster::{Art, Detail};

use super::Budget;

/// Refuses a preparation of `art` that would need more than `budget`.
pub fn check_print(art: &Art, settings: &PrepSettings, detail: Detail, budget: Budget) -> Result<(), JobError> {
    within(Needs::of_print(art, settings, detail)?, budget)
}

/// Refuses a job whose evaluation on `art` would need more than `budget`, with what to do, before any of it
/// is made. Errors of the settings come as from the evaluation itself.
pub fn check_evaluation(job: &Job, art: &Art, detail: Detail, budget: Budget) -> Result<(), JobError> {
    within(Needs::of(job, art, detail)?, budget)
}

fn within(needs: Needs, budget: Budget) -> Result<(), JobError> {
    budget.check(needs.bytes()).map_err(|over| {
        let ([width, height], screens) = (needs.print_px, needs.screens);
        JobError::Memory(format!(
            "the print of {width} x {height} pixels{} {over}; lower the print size or the working resolution",
            match screens {
                0 => String::new(),
                1 => " with one screen".to_owned(),
                _ => format!(" with {screens} screens"),
            }
        ))
    })
}

#[cfg(test)]
mod tests {
    use strikeoff_core::color::Rgb8;
    use strikeoff_core::ink::Garment;
    use strikeoff_core::raster::{Picture, Plane};
    use strikeoff_core::units::{Mm, Ppi};

    use super::*;

    #[test]
    fn a_print_beyond_the_budget_is_refused_in_one_sentence() {
        let art = Art {
            picture: Picture::new(Plane::from_fn(40, 50, |_, _| [0, 0, 0, 65_535])),
            ppi: Ppi::new(96.0).unwrap(),
        };
        let mut job = Job::new(Garment::of_color(Rgb8::from_linear([1.0; 3])));
        job.prep.max_height_mm = Some(Mm::from_inches(40.0).unwrap());
        let check = |bytes| check_evaluation(&job, &art, Detail::Full, Budget::of_bytes(bytes));
        check(20_000_000_000).unwrap();
        let said = check(500_000_000).unwrap_err().to_string();
        assert!(said.contains("9600 x 12000") && said.contains("500 MB may be used") && !said.contains('\n'), "{said}");
        // A proxy of the same job is small.
        let proxy = Detail::Proxy { longest_px: 600 };
        check_evaluation(&job, &art, proxy, Budget::of_bytes(100_000_000)).unwrap();
    }
}
