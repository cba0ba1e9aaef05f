//! Small holes filled.

use super::super::TuneError;
use super::super::edit::half;
use super::super::spots::fill_pinholes;
use super::kind::Kind;
use super::on::level;
use super::{On, Start};
use crate::bounds::table;
use crate::screens::ScreenName;
use crate::units::Coverage;

edit! {
    /// Fill holes smaller than an area to what is around them.
    pub struct Pinholes {
        /// The screen.
        screen: ScreenName,
        /// Smallest area that stays open, in square millimetres.
        #[schemars(transform = table::AREA.schema())]
        under_mm2: f64,
        /// Coverage below which a spot counts as a hole.
        #[serde(default = "half")]
        open_below: Coverage,
    }
}

impl Kind for Pinholes {
    const LABEL: &'static str = "Fill pinholes";

    fn words(&self) -> String {
        format!("{} under {:.2} mm2", self.screen, self.under_mm2)
    }

    fn apply(&self, on: &mut On<'_>) -> Result<(), TuneError> {
        let area = on.area_px(self.under_mm2);
        fill_pinholes(on.plane(&self.screen)?, level(self.open_below), area);
        Ok(())
    }

    fn offers(start: &Start<'_>) -> Vec<(&'static str, Self)> {
        vec![("Fill pinholes", Self { screen: start.screen.clone(), under_mm2: 0.1, open_below: half() })]
    }
}
