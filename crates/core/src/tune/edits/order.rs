//! The print order.

use super::super::{ConflictFix, TuneError};
use super::kind::Kind;
use super::On;
use crate::bounds::table;
use crate::screens::{ScreenName, joined};

edit! {
    /// Set the print order, first down first; screens not named follow as they stand.
    pub struct Order {
        /// Names of screens, first down first.
        #[schemars(transform = table::NAMED_SCREENS.schema())]
        screens: Vec<ScreenName>,
    }
}

impl Kind for Order {
    const LABEL: &'static str = "Print order";

    fn words(&self) -> String {
        joined(&self.screens)
    }

    fn check(&self) -> Result<(), String> {
        let twice = self.screens.iter().enumerate().find(|(at, name)| self.screens[..*at].contains(name));
        match twice {
            Some((_, name)) => Err(format!("the order names \"{name}\" twice")),
            None => Ok(()),
        }
    }

    fn apply(&self, on: &mut On<'_>) -> Result<(), TuneError> {
        for (to, name) in self.screens.iter().enumerate() {
            let from = on.find(name)?;
            let screen = on.screens.list.remove(from);
            on.screens.list.insert(to.min(on.screens.list.len()), screen);
        }
        Ok(())
    }

    /// An order without the name says the same; moving it would not.
    fn fixes_without(&self, missing: &ScreenName, _usual: Vec<ConflictFix>) -> Vec<ConflictFix> {
        vec![ConflictFix::LeaveOut { screen: missing.clone() }]
    }
}
