//! What was written down of a run: shirts, misprints, refills, what was changed on press, grams of ink in and
//! out. The state that was printed is kept as a version of the job, which the record names.

use std::fmt::Write as _;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::date::Date;
use crate::bounds::table;
use crate::names::{same, short};
use crate::screens::ScreenName;

/// One run of the job, as the shop wrote it down. What is empty was not written down and is left out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RunRecord {
    /// Day of the run.
    pub date: Date,
    /// Good shirts printed.
    #[schemars(transform = table::QUANTITY.schema())]
    pub shirts: u32,
    /// Test shirts before them.
    #[schemars(transform = table::QUANTITY.schema())]
    #[serde(default)]
    pub test_shirts: u32,
    /// Misprints.
    #[schemars(transform = table::QUANTITY.schema())]
    #[serde(default)]
    pub misprints: u32,
    /// Ink and refills of the screens of which something was written down.
    #[schemars(transform = table::NAMED_SCREENS.schema())]
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub screens: Vec<ScreenRun>,
    /// What was changed on press.
    #[serde(default)]
    pub changed: OnPress,
    /// Whatever else the next run should know.
    #[schemars(transform = table::NOTE.schema())]
    #[serde(default)]
    pub note: String,
    /// The version of the job that was printed.
    #[schemars(transform = table::VERSION_NAME.schema())]
    #[serde(default)]
    pub version: String,
}

/// Ink of one screen on a run.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct ScreenRun {
    /// The screen.
    pub screen: ScreenName,
    /// All ink put on it, in grams.
    #[schemars(transform = table::CHARGE.schema())]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub in_g: Option<f64>,
    /// Ink taken off it at the end, in grams.
    #[schemars(transform = table::CHARGE.schema())]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub out_g: Option<f64>,
    /// Refills: after how many shirts.
    #[schemars(transform = table::REFILLS.schema())]
    #[schemars(transform = table::QUANTITY.each())]
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub refills: Vec<u32>,
}

/// What was changed on press, in the shop's own words.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct OnPress {
    /// Print order.
    #[schemars(transform = table::ON_PRESS.schema())]
    pub order: String,
    /// Mesh.
    #[schemars(transform = table::ON_PRESS.schema())]
    pub mesh: String,
    /// Gain.
    #[schemars(transform = table::ON_PRESS.schema())]
    pub gain: String,
    /// Ink.
    #[schemars(transform = table::ON_PRESS.schema())]
    pub ink: String,
    /// Squeegee: edge, angle, pressure, strokes.
    #[schemars(transform = table::ON_PRESS.schema())]
    pub squeegee: String,
}

/// Ink of a screen that could not be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{what}; write a screen and its ink, as in \"Brick red: 850 in, 610 out, refill 140 280\"")]
pub struct ScreenRunError {
    what: String,
}

fn wrong(what: impl Into<String>) -> ScreenRunError {
    ScreenRunError { what: what.into() }
}

impl OnPress {
    /// What is said, with what it is about.
    pub fn stated(&self) -> impl Iterator<Item = (&'static str, &str)> {
        let all = [
            ("order", &self.order),
            ("mesh", &self.mesh),
            ("gain", &self.gain),
            ("ink", &self.ink),
            ("squeegee", &self.squeegee),
        ];
        all.into_iter().map(|(what, said)| (what, said.trim())).filter(|(_, said)| !said.is_empty())
    }
}

impl ScreenRun {
    /// Grams that went onto shirts and rags: in less out, where both were weighed.
    pub fn used_g(&self) -> Option<f64> {
        Some(self.in_g? - self.out_g?)
    }

    /// Whether nothing was written down.
    pub fn is_empty(&self) -> bool {
        self.in_g.is_none() && self.out_g.is_none() && self.refills.is_empty()
    }

    /// Reads "Brick red: 850 in, 610 out, refill 140 280"; any part may be left out.
    pub fn read(text: &str) -> Result<Self, ScreenRunError> {
        let (screen, parts) =
            text.rsplit_once(':').ok_or_else(|| wrong(format!("\"{}\" names no screen", short(text))))?;
        let mut run = Self { screen: screen.trim().into(), ..Self::default() };
        if let Some(fault) = table::SCREEN_NAME.fault(&run.screen) {
            return Err(wrong(fault));
        }
        for part in parts.split(',').map(str::trim).filter(|part| !part.is_empty()) {
            let words: Vec<&str> = part.split_whitespace().collect();
            match words.as_slice() {
                [grams, "in"] => run.in_g = Some(grams_of(grams)?),
                [grams, "out"] => run.out_g = Some(grams_of(grams)?),
                ["refill", shirts @ ..] if !shirts.is_empty() => run.refills.extend(refills_of(&shirts.join(" "))?),
                _ => return Err(wrong(format!("\"{}\" is neither grams in, grams out nor refills", short(part)))),
            }
        }
        if run.is_empty() {
            return Err(wrong(format!("nothing is said of {}", short(&run.screen))));
        }
        Ok(run)
    }
}

fn grams_of(text: &str) -> Result<f64, ScreenRunError> {
    let grams: f64 =
        text.trim_end_matches('g').parse().map_err(|_| wrong(format!("\"{}\" is no number of grams", short(text))))?;
    table::CHARGE.check(grams).map_err(|error| wrong(error.what().to_owned()))?;
    Ok(grams)
}

/// Reads refills, "140 280" or "140, 280": after how many shirts each.
pub fn refills_of(text: &str) -> Result<Vec<u32>, ScreenRunError> {
    let parts = text.split([' ', ',', ';']).filter(|part| !part.is_empty());
    let read = |part: &str| part.parse().map_err(|_| wrong(format!("\"{}\" is no number of shirts", short(part))));
    let list = parts.map(read).collect::<Result<Vec<u32>, _>>()?;
    if list.len() > table::REFILLS.most {
        return Err(wrong(format!("{} refills are more than {}", list.len(), table::REFILLS.most)));
    }
    Ok(list)
}

impl RunRecord {
    /// A run of so many shirts on a day, of which nothing else is known yet.
    pub fn new(date: Date, shirts: u32) -> Self {
        Self {
            date,
            shirts,
            test_shirts: 0,
            misprints: 0,
            screens: Vec::new(),
            changed: OnPress::default(),
            note: String::new(),
            version: String::new(),
        }
    }

    /// All shirts that ink went onto.
    pub fn printed(&self) -> u32 {
        self.shirts.saturating_add(self.test_shirts).saturating_add(self.misprints)
    }

    /// Ink of a screen.
    pub fn of_screen(&self, screen: &str) -> Option<&ScreenRun> {
        self.screens.iter().find(|run| same(&run.screen, screen))
    }

    /// Whether it can be: some shirts, no screen twice, no more ink out than in.
    pub fn agrees(&self) -> Result<(), String> {
        if self.printed() == 0 {
            return Err("a run prints at least one shirt; give the shirts, test shirts or misprints".to_owned());
        }
        for (at, run) in self.screens.iter().enumerate() {
            if self.screens[..at].iter().any(|before| same(&before.screen, &run.screen)) {
                return Err(format!("{} stands in the run twice; say all of it at once", short(&run.screen)));
            }
            if let Some(used) = run.used_g().filter(|used| *used < 0.0) {
                let name = short(&run.screen);
                return Err(format!(
                    "{name} has {:.0} g more out than in; grams in are all that was put on the screen, refills too",
                    -used
                ));
            }
        }
        Ok(())
    }

    /// In one line: "4 Dec 2026: 150 shirts, 3 test shirts, 2 misprints; Brick red 240 g (1.55 g a shirt), refilled after
    /// 140; squeegee: softer".
    pub fn line(&self) -> String {
        let count = |count: u32, one: &str, many: &str| match count {
            0 => None,
            1 => Some(format!("1 {one}")),
            n => Some(format!("{n} {many}")),
        };
        let shirts = [
            count(self.shirts, "shirt", "shirts"),
            count(self.test_shirts, "test shirt", "test shirts"),
            count(self.misprints, "misprint", "misprints"),
        ];
        let shirts: Vec<String> = shirts.into_iter().flatten().collect();
        let mut line = format!("{}: {}", self.date.words(), shirts.join(", "));
        for run in &self.screens {
            let _ = write!(line, "; {}", run.words(self.printed()));
        }
        for (what, said) in self.changed.stated() {
            let _ = write!(line, "; {what}: {said}");
        }
        if !self.note.trim().is_empty() {
            let _ = write!(line, "; {}", self.note.trim());
        }
        line
    }
}

impl ScreenRun {
    /// In words, on a run of so many shirts.
    pub fn words(&self, printed: u32) -> String {
        let grams = match (self.used_g(), self.in_g, self.out_g) {
            (Some(used), ..) if printed > 0 => {
                Some(format!("{used:.0} g ({:.2} g a shirt)", used / f64::from(printed)))
            }
            (_, Some(grams), None) => Some(format!("{grams:.0} g in")),
            (_, None, Some(grams)) => Some(format!("{grams:.0} g out")),
            _ => None,
        };
        let refills: Vec<String> = self.refills.iter().map(u32::to_string).collect();
        let refills = (!refills.is_empty()).then(|| format!("refilled after {}", refills.join(" and ")));
        let parts: Vec<String> = grams.into_iter().chain(refills).collect();
        format!("{} {}", self.screen, parts.join(", "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ink_of_a_screen_is_read_as_a_shop_writes_it() {
        let run = ScreenRun::read("Brick red: 850 in, 610g out, refill 140 280").unwrap();
        assert_eq!((run.screen.as_str(), run.in_g, run.out_g), ("Brick red", Some(850.0), Some(610.0)));
        assert_eq!((run.refills.as_slice(), run.used_g()), ([140, 280].as_slice(), Some(240.0)));
        assert_eq!(ScreenRun::read("White: refill 90").unwrap().used_g(), None);
        for (bad, says) in [
            ("850 in", "names no screen"),
            ("Red:", "nothing is said of Red"),
            ("Red: 850", "neither grams in"),
            ("Red: much in", "no number of grams"),
            ("Red: -3 in", "the ink put on a screen must be"),
            ("Red: refill soon", "no number of shirts"),
        ] {
            let said = ScreenRun::read(bad).unwrap_err().to_string();
            assert!(said.contains(says) && said.contains("850 in, 610 out"), "{bad}: {said}");
        }
    }

    /// Grams a shirt: 240 g over 155 shirts are 1.55 g.
    #[test]
    fn a_run_is_one_line_of_what_was_written_down() {
        let mut run = RunRecord::new("2026-12-04".parse().unwrap(), 150);
        assert_eq!(run.line(), "4 Dec 2026: 150 shirts");
        (run.test_shirts, run.misprints) = (3, 2);
        run.screens = vec![ScreenRun::read("Brick red: 850 in, 610 out, refill 140").unwrap()];
        run.changed.squeegee = " softer edge ".into();
        assert_eq!(
            run.line(),
            "4 Dec 2026: 150 shirts, 3 test shirts, 2 misprints; Brick red 240 g (1.55 g a shirt), refilled after 140; \
             squeegee: softer edge"
        );
        run.agrees().unwrap();
        run.screens[0].out_g = Some(900.0);
        assert!(run.agrees().unwrap_err().contains("50 g more out than in"));
        run.screens.push(ScreenRun::read("brick RED: 1 in").unwrap());
        run.screens[0].out_g = None;
        assert!(run.agrees().unwrap_err().contains("twice"));
        assert!(RunRecord::new("2026-12-04".parse().unwrap(), 0).agrees().unwrap_err().contains("at least one shirt"));
    }
}
