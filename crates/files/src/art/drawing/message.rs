//! What parent and child say to each other over two pipes: a mark, the length of a header, the
//! header in JSON, then bytes whose number follows from the header. Neither side takes a length
//! from the other without a bound.

use std::io::{self, Error, ErrorKind, Read, Write};

use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};

use super::super::error::{Fault, check_size};
use super::{Drawn, Facts, Request};

const MARK: [u8; 4] = *b"DRAW";
/// Longest header.
const MOST_HEADER: usize = 64 << 10;
/// Most notes about one drawing, and most characters of one.
const MOST_NOTES: usize = 40;
const MOST_NOTE: usize = 300;

/// How the child answers, ahead of the pixels.
#[derive(Debug, Serialize, Deserialize)]
enum Answer {
    Drawn(Facts),
    Refused(Fault),
}

pub(super) fn write_request(mut to: impl Write, request: &Request, art: &[u8]) -> io::Result<()> {
    write_header(&mut to, request)?;
    to.write_all(art)?;
    to.flush()
}

pub(super) fn read_request(from: impl Read) -> io::Result<Request> {
    read_header(from)
}

/// The file that follows a request.
pub(super) fn read_art(mut from: impl Read, request: &Request) -> io::Result<Vec<u8>> {
    read_bytes(&mut from, usize::try_from(request.bytes).map_err(|_| strange("a file of that length"))?)
}

pub(super) fn write_answer(mut to: impl Write, answer: Result<Drawn, Fault>) -> io::Result<()> {
    match answer {
        Ok(Drawn { facts, rgba }) => {
            write_header(&mut to, &Answer::Drawn(presentable(facts)))?;
            to.write_all(&rgba)?;
        }
        Err(fault) => write_header(&mut to, &Answer::Refused(fault))?,
    }
    to.flush()
}

/// The child's answer. The outer error: it is none, so the child came to grief.
pub(super) fn read_answer(mut from: impl Read, request: &Request) -> io::Result<Result<Drawn, Fault>> {
    let facts = match read_header(&mut from)? {
        Answer::Drawn(facts) => facts,
        Answer::Refused(fault) => return Ok(Err(fault.in_one_line(MOST_NOTE))),
    };
    let [width, height] = [facts.width_px, facts.height_px];
    // Sizes are rounded up or down.
    if width.max(height) > request.longest_px.saturating_add(1) {
        return Err(strange("a picture larger than requested"));
    }
    let (width, height) = match check_size(u64::from(width), u64::from(height)) {
        Ok(size) => size,
        Err(fault) => return Ok(Err(fault)),
    };
    let rgba = read_bytes(&mut from, width * height * 4)?;
    Ok(Ok(Drawn { facts: presentable(facts), rgba }))
}

/// Notes may quote the file: no line breaks, no control codes, not too long, not too many.
fn presentable(mut facts: Facts) -> Facts {
    facts.notes.truncate(MOST_NOTES);
    facts.notes.iter_mut().for_each(|note| *note = one_line(note, MOST_NOTE));
    facts
}

/// A text without control codes, and no longer than so many characters.
pub(in crate::art) fn one_line(text: &str, most: usize) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).take(most).collect()
}

fn write_header(to: &mut impl Write, header: &impl Serialize) -> io::Result<()> {
    let json = serde_json::to_vec(header)?;
    if json.len() > MOST_HEADER {
        return Err(strange("a header of that length"));
    }
    to.write_all(&MARK)?;
    to.write_all(&(json.len() as u32).to_le_bytes())?;
    to.write_all(&json)
}

fn read_header<T: DeserializeOwned>(mut from: impl Read) -> io::Result<T> {
    let mut start = [0; 8];
    from.read_exact(&mut start)?;
    let [mark, length] = [[start[0], start[1], start[2], start[3]], [start[4], start[5], start[6], start[7]]];
    let length = u32::from_le_bytes(length) as usize;
    if mark != MARK || length > MOST_HEADER {
        return Err(strange("another beginning"));
    }
    let mut json = vec![0; length];
    from.read_exact(&mut json)?;
    Ok(serde_json::from_slice(&json)?)
}

/// Exactly so many bytes.
fn read_bytes(from: &mut impl Read, length: usize) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    bytes.try_reserve_exact(length).map_err(|_| Error::from(ErrorKind::OutOfMemory))?;
    from.take(length as u64).read_to_end(&mut bytes)?;
    if bytes.len() < length { Err(ErrorKind::UnexpectedEof.into()) } else { Ok(bytes) }
}

fn strange(what: &str) -> Error {
    Error::new(ErrorKind::InvalidData, what)
}

#[cfg(test)]
mod tests {
    use super::super::Kind;
    use super::*;

    const REQUEST: Request = Request { kind: Kind::Svg, page: 1, longest_px: 8, bytes: 3 };

    fn facts(width_px: u32, height_px: u32) -> Facts {
        Facts { width_px, height_px, ppi: Some(300.0), pages: 1, notes: vec!["one\ntwo\u{7}".into(); 90] }
    }

    fn answered(facts: Facts, bytes: usize) -> Vec<u8> {
        let mut said = Vec::new();
        write_answer(&mut said, Ok(Drawn { facts, rgba: vec![7; bytes] })).unwrap();
        said
    }

    #[test]
    fn both_sides_hear_what_was_said() {
        let mut said = Vec::new();
        write_request(&mut said, &REQUEST, b"art").unwrap();
        let mut heard = &said[..];
        let request = read_request(&mut heard).unwrap();
        assert_eq!((request, read_art(heard, &request).unwrap()), (REQUEST, b"art".to_vec()));

        let drawn = read_answer(&answered(facts(8, 2), 64)[..], &REQUEST).unwrap().unwrap();
        assert_eq!((drawn.rgba.len(), drawn.facts.notes.len()), (64, MOST_NOTES));
        assert_eq!(drawn.facts.notes[0], "one two ");
        let mut said = Vec::new();
        write_answer(&mut said, Err(Fault::TooInvolved("a\nb".into()))).unwrap();
        let refused = read_answer(&said[..], &REQUEST).unwrap();
        assert!(matches!(refused, Err(Fault::TooInvolved(why)) if why == "a b"));
    }

    #[test]
    fn an_answer_that_is_too_large_or_too_short_is_none() {
        assert!(read_answer(&answered(facts(80, 2), 640)[..], &REQUEST).is_err(), "larger than requested");
        assert!(read_answer(&answered(facts(8, 8), 255)[..], &REQUEST).is_err(), "a byte is missing");
        let said = answered(facts(8, 8), 256);
        for end in [0, 3, 7, 8, 40, said.len() - 1] {
            assert!(read_answer(&said[..end], &REQUEST).is_err(), "cut at {end}");
        }
        assert!(matches!(read_answer(&answered(facts(0, 3), 0)[..], &REQUEST), Ok(Err(Fault::Empty(0, 3)))));
        let mut long = said.clone();
        long[4..8].copy_from_slice(&u32::MAX.to_le_bytes());
        assert!(read_answer(&long[..], &REQUEST).is_err());
        long[0] = b'd';
        assert!(read_answer(&long[..], &REQUEST).is_err());
        let endless = Request { bytes: u64::MAX, ..REQUEST };
        assert!(read_art(&b"x"[..], &endless).is_err());
    }
}
