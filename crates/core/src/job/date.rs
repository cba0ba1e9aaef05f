//! A day of the calendar, checked when it is typed or read: `2026-12-04`.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::names::short;

/// A day of the Gregorian calendar, from 1 January 2000 to 31 December 2999.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Date {
    year: u16,
    month: u8,
    day: u8,
}

/// A day that is none.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{text}\" is no day of the calendar; write it as year, month and day: 2026-12-04")]
pub struct DateError {
    text: String,
}

const MONTHS: [&str; 12] = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];

impl Date {
    /// A day; none if the calendar has no such day, or another program's clock is far off.
    pub fn new(year: u16, month: u8, day: u8) -> Option<Self> {
        let leap = year.is_multiple_of(4) && !year.is_multiple_of(100) || year.is_multiple_of(400);
        let days = match month {
            2 if leap => 29,
            2 => 28,
            4 | 6 | 9 | 11 => 30,
            1..=12 => 31,
            _ => return None,
        };
        ((2000..3000).contains(&year) && (1..=days).contains(&day)).then_some(Self { year, month, day })
    }

    /// As it is said: `4 Dec 2026`.
    pub fn words(self) -> String {
        format!("{} {} {}", self.day, MONTHS[usize::from(self.month) - 1], self.year)
    }
}

impl fmt::Display for Date {
    /// ISO 8601: `2026-12-04`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04}-{:02}-{:02}", self.year, self.month, self.day)
    }
}

impl FromStr for Date {
    type Err = DateError;

    /// Year, month and day in this order, as ISO 8601 writes them; single digits may stand alone.
    fn from_str(text: &str) -> Result<Self, DateError> {
        let wrong = || DateError { text: short(text) };
        let parts: Vec<&str> = text.trim().split('-').collect();
        let digits = |part: &&str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
        let [year, month, day] = parts.as_slice() else { return Err(wrong()) };
        if !(parts.iter().all(digits) && year.len() == 4 && month.len() <= 2 && day.len() <= 2) {
            return Err(wrong());
        }
        let (Ok(year), Ok(month), Ok(day)) = (year.parse(), month.parse(), day.parse()) else { return Err(wrong()) };
        Self::new(year, month, day).ok_or_else(wrong)
    }
}

impl TryFrom<String> for Date {
    type Error = DateError;
    fn try_from(text: String) -> Result<Self, DateError> {
        text.parse()
    }
}

impl From<Date> for String {
    fn from(date: Date) -> Self {
        date.to_string()
    }
}

impl schemars::JsonSchema for Date {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Date".into()
    }

    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        schemars::json_schema!({
            "type": "string", "format": "date", "maxLength": 10, "pattern": "^2[0-9]{3}-[0-9]{1,2}-[0-9]{1,2}$"
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Leap days by the rule of the Gregorian calendar (ISO 8601:2004, 3.2.1): every fourth year, of the
    /// hundreds every fourth. `date -d 2100-02-29` of GNU coreutils refuses it, `date -d 2000-02-29` does not.
    #[test]
    fn a_date_is_a_day_of_the_calendar() {
        for (text, words) in
            [("2026-12-04", "4 Dec 2026"), ("2000-02-29", "29 Feb 2000"), (" 2028-2-29 ", "29 Feb 2028")]
        {
            assert_eq!(text.parse::<Date>().unwrap().words(), words);
        }
        for bad in [
            "2026-02-29",
            "2100-02-29",
            "2026-13-01",
            "2026-04-31",
            "4.12.2026",
            "26-12-04",
            "2026-12",
            "",
            "2026-+1-04",
        ] {
            let said = bad.parse::<Date>().unwrap_err().to_string();
            assert!(said.contains("2026-12-04"), "{said}");
        }
        let [early, late] = ["2026-09-30", "2026-12-04"].map(|text| text.parse::<Date>().unwrap());
        assert!(early < late);
        assert_eq!(serde_json::to_string(&late).unwrap(), "\"2026-12-04\"");
        assert!(serde_json::from_str::<Date>("\"2026-02-30\"").unwrap_err().to_string().contains("calendar"));
    }
}
