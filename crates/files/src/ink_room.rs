//! Ink rooms from files: JSON with components and their drawdowns, or an instrument's file of drawdowns, whose samples
//! are named after the component, let down or not: "Clear base", "Red concentrate 5% in Clear base".

use std::path::{Path, PathBuf};

use strikeoff_core::ink::Ink;
use strikeoff_core::names::same;
use strikeoff_core::recipe::{Component, Drawdown, InkRoom, RoomError};

use crate::measured::{MeasuredError, measured_from_text};

/// An ink room that cannot be read.
#[derive(Debug, thiserror::Error)]
pub enum InkRoomError {
    /// The system refused.
    #[error("cannot read the ink room {}: {source}", path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// Not the JSON of a room.
    #[error(
        "the ink room {} is not as expected: {source}; it is {{\"components\":[{{\"name\":\"..\",\"drawdowns\":[{{\"over_white\":\"#RRGGBB\",\"over_black\":\"#RRGGBB\"}}]}}]}}",
        path.display()
    )]
    Form {
        /// The file.
        path: PathBuf,
        /// Where and what.
        source: serde_json::Error,
    },
    /// A room that cannot serve.
    #[error("the ink room {} cannot be used: {source}", path.display())]
    Content {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        source: RoomError,
    },
    /// Not a file of measurements.
    #[error("the ink room {} cannot be used: {source}", path.display())]
    Measured {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        source: MeasuredError,
    },
}

/// Reads an ink room, and what had to be assumed of it.
pub fn read_ink_room(path: &Path) -> Result<(InkRoom, Vec<String>), InkRoomError> {
    let at = || path.to_owned();
    let bytes = std::fs::read(path).map_err(|source| InkRoomError::Read { path: at(), source })?;
    let text = String::from_utf8_lossy(&bytes);
    let (room, notes) = if text.trim_start_matches('\u{feff}').trim_start().starts_with('{') {
        let room = serde_json::from_str(&text).map_err(|source| InkRoomError::Form { path: at(), source })?;
        (room, Vec::new())
    } else {
        let read = measured_from_text(&text).map_err(|source| InkRoomError::Measured { path: at(), source })?;
        (of_drawdowns(&read.inks), read.notes)
    };
    room.check().map_err(|source| InkRoomError::Content { path: at(), source })?;
    Ok((room, notes))
}

/// Components of measured drawdowns; those of one name are one.
fn of_drawdowns(inks: &[Ink]) -> InkRoom {
    let mut room = InkRoom::default();
    for ink in inks {
        let (name, share, within) = let_down(&ink.name);
        let of = Component::of_ink(&Ink { name, ..ink.clone() });
        let drawdowns = of.drawdowns.into_iter().map(|d| Drawdown { share, within: within.clone(), ..d });
        match room.components.iter_mut().find(|c| same(&c.name, &of.name)) {
            Some(component) => component.drawdowns.extend(drawdowns),
            None => room.components.push(Component { drawdowns: drawdowns.collect(), ..of }),
        }
    }
    room
}

/// "Red concentrate 5% in Clear base" is five hundredths of a red concentrate in a base.
fn let_down(sample: &str) -> (String, f64, Option<String>) {
    let whole = || (sample.trim().to_owned(), 1.0, None);
    let Some((head, base)) = sample.split_once("% in ") else { return whole() };
    let Some((name, percent)) = head.trim_end().rsplit_once(' ') else { return whole() };
    match percent.parse::<f64>() {
        Ok(percent) => (name.trim().to_owned(), percent / 100.0, Some(base.trim().to_owned())),
        Err(_) => whole(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn samples_say_what_is_let_down_in_what() {
        assert_eq!(
            let_down("Red concentrate 5% in Clear base"),
            ("Red concentrate".into(), 0.05, Some("Clear base".into()))
        );
        assert_eq!(let_down("Deep red"), ("Deep red".into(), 1.0, None));
        assert_eq!(let_down("Half % in half"), ("Half % in half".into(), 1.0, None));
    }

    #[test]
    fn rooms_come_from_json_and_from_an_instrument() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("room");
        let bands: Vec<String> = (0..36).map(|i| format!("NM_{}", 380 + 10 * i)).collect();
        let mut text =
            format!("BEGIN_DATA_FORMAT\nSAMPLE_NAME BACKING {}\nEND_DATA_FORMAT\nBEGIN_DATA\n", bands.join(" "));
        for (name, white, black) in
            [("Base", 0.85, 0.06), ("Red 5% in Base", 0.4, 0.05), ("Red 20% in Base", 0.2, 0.05)]
        {
            for (backing, value) in [("white", white), ("black", black)] {
                text += &format!("\"{name}\" {backing} {}\n", vec![value.to_string(); 36].join(" "));
            }
        }
        std::fs::write(&path, text + "END_DATA\n").unwrap();
        let (room, notes) = read_ink_room(&path).unwrap();
        assert_eq!(room.components.len(), 2);
        assert_eq!(room.components[1].drawdowns.iter().map(|d| d.share).collect::<Vec<_>>(), [0.05, 0.2]);
        assert!(notes.iter().any(|note| note.contains("bare white backing")), "{notes:?}");
        std::fs::write(&path, serde_json::to_vec(&room).unwrap()).unwrap();
        assert_eq!(read_ink_room(&path).unwrap().0, room);
        for (text, says) in
            [("{}", "missing field `components`"), ("{\"components\":[]}", "1 to 24"), ("x", "no CGATS text")]
        {
            std::fs::write(&path, text).unwrap();
            let said = read_ink_room(&path).unwrap_err().to_string();
            assert!(said.contains(says), "{said}");
        }
    }
}
