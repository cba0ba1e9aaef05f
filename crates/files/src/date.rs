//! Today's date, for what is dated by itself: named versions.

use std::time::{SystemTime, UNIX_EPOCH};

/// Today in UTC as `YYYY-MM-DD` (ISO 8601).
pub fn today() -> String {
    let seconds = SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |d| d.as_secs());
    date((seconds / 86_400) as i64)
}

/// The date so many days after 1970-01-01, in the Gregorian calendar. Counted from 1 March, the leap
/// day is the last of its year (Fliegel and Van Flandern, Communications of the ACM 11, 1968,
/// count the same way).
fn date(days: i64) -> String {
    let days = days + 719_468;
    let (era, day) = (days.div_euclid(146_097), days.rem_euclid(146_097));
    let year = (day - day / 1460 + day / 36_524 - day / 146_096) / 365;
    let day = day - (365 * year + year / 4 - year / 100);
    let month = (5 * day + 2) / 153;
    let (d, m) = (day - (153 * month + 2) / 5 + 1, if month < 10 { month + 3 } else { month - 9 });
    let y = year + era * 400 + i64::from(m <= 2);
    format!("{y:04}-{m:02}-{d:02}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_follow_the_calendar() {
        // GNU date: `date -u -d @$((86400 * N)) +%F`.
        for (days, text) in [(0, "1970-01-01"), (11_016, "2000-02-29"), (11_017, "2000-03-01"), (20_783, "2026-11-26")]
        {
            assert_eq!(date(days), text);
        }
        assert_eq!(today().len(), 10);
    }
}
