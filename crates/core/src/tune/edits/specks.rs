//! Small islands of ink cleared.

use super::super::TuneError;
use super::super::edit::twentieth;
use super::super::spots::clear_specks;
use super::kind::Kind;
use super::on::level;
use super::{On, Start};
use crate::bounds::table;
use crate::screens::ScreenName;
use crate::units::Coverage;

edit! {
    /// Clear islands of ink smaller than an area.
    pub struct Specks {
        /// The screen.
        screen: ScreenName,
        /// Smallest area that is kept, in square millimetres.
        #[schemars(transform = table::AREA.schema())]
        under_mm2: f64,
        /// Least coverage that counts as ink.
        #[serde(default = "twentieth")]
        counts_from: Coverage,
    }
}

impl Kind for Specks {
    const LABEL: &'static str = "Clean specks";

    fn words(&self) -> String {
        format!("{} under {:.2} mm2", self.screen, self.under_mm2)
    }

    fn apply(&self, on: &mut On<'_>) -> Result<(), TuneError> {
        let area = on.area_px(self.under_mm2);
        clear_specks(on.plane(&self.screen)?, level(self.counts_from), area);
        Ok(())
    }

    fn offers(start: &Start<'_>) -> Vec<(&'static str, Self)> {
        vec![("Clean specks", Self { screen: start.screen.clone(), under_mm2: 0.1, counts_from: twentieth() })]
    }
}
