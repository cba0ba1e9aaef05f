//! A one-page TIFF, TIFF Revision 6.0: little-endian, in strips, written from the front with the
//! directory at the end, so that it streams.

use std::io::{self, Seek, SeekFrom, Write};

use serde::{Deserialize, Serialize};

/// How a TIFF film's bits are packed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum TiffCompression {
    /// CCITT T.6 (Group 4): small, and what film printers' software expects.
    #[default]
    G4,
    /// Deflate (zlib): for software that reads no Group 4.
    Deflate,
    /// None: the largest files, for the plainest readers.
    None,
}

impl TiffCompression {
    /// Value of tag 259.
    pub(super) fn tag(self) -> u16 {
        match self {
            Self::G4 => 4,
            Self::Deflate => 8,
            Self::None => 1,
        }
    }
}

/// What the directory says about a film.
#[derive(Debug, Clone)]
pub struct TiffInfo {
    /// How its strips are packed.
    pub compression: TiffCompression,
    /// Pixels across.
    pub width_px: usize,
    /// Pixels down.
    pub height_px: usize,
    /// Pixels an inch across.
    pub x_dpi: f64,
    /// Pixels an inch down.
    pub y_dpi: f64,
    /// Rows of a strip.
    pub rows_per_strip: usize,
    /// DocumentName, tag 269.
    pub document: String,
    /// ImageDescription, tag 270.
    pub description: String,
    /// PageName, tag 285: the ink.
    pub page_name: String,
    /// PageNumber, tag 297: this one from 0, and how many there are.
    pub page: (u16, u16),
}

/// Writes strips as they come.
pub struct TiffWriter<W> {
    out: W,
    at: u64,
    offsets: Vec<u32>,
    lengths: Vec<u32>,
}

impl<W: Write + Seek> TiffWriter<W> {
    /// Begins the file.
    pub fn new(mut out: W) -> io::Result<Self> {
        // Where the directory stands is filled in at the end.
        out.write_all(b"II*\0\0\0\0\0")?;
        Ok(Self { out, at: 8, offsets: Vec::new(), lengths: Vec::new() })
    }

    /// Adds the next strip.
    pub fn strip(&mut self, data: &[u8]) -> io::Result<()> {
        self.offsets.push(self.offset()?);
        self.lengths.push(data.len() as u32);
        self.out.write_all(data)?;
        self.at += data.len() as u64;
        Ok(())
    }

    fn offset(&self) -> io::Result<u32> {
        u32::try_from(self.at).map_err(|_| {
            io::Error::other("the file would pass 4 GiB, the most a TIFF can hold; choose a lower dpi or G4")
        })
    }

    /// Writes the directory that `fill` makes from the strips' places and lengths, and ends the
    /// file.
    pub fn finish(mut self, fill: impl FnOnce(&mut Directory, &[u32], &[u32])) -> io::Result<()> {
        let mut directory = Directory::default();
        fill(&mut directory, &self.offsets, &self.lengths);
        if self.at % 2 == 1 {
            self.out.write_all(&[0])?;
            self.at += 1;
        }
        let start = self.offset()?;
        self.out.write_all(&directory.bytes(start))?;
        self.out.seek(SeekFrom::Start(4))?;
        self.out.write_all(&start.to_le_bytes())?;
        self.out.seek(SeekFrom::End(0))?;
        Ok(())
    }
}

impl TiffInfo {
    /// The directory of a film.
    pub fn fill(&self, directory: &mut Directory, offsets: &[u32], lengths: &[u32]) {
        directory.long(254, &[0]);
        directory.long(256, &[self.width_px as u32]);
        directory.long(257, &[self.height_px as u32]);
        directory.short(258, &[1]);
        directory.short(259, &[self.compression.tag()]);
        // WhiteIsZero: ink is 1, and T.6 black.
        directory.short(262, &[0]);
        directory.short(266, &[1]);
        directory.ascii(269, &self.document);
        directory.ascii(270, &self.description);
        directory.long(273, offsets);
        directory.short(274, &[1]);
        directory.short(277, &[1]);
        directory.long(278, &[self.rows_per_strip as u32]);
        directory.long(279, lengths);
        directory.rational(282, self.x_dpi);
        directory.rational(283, self.y_dpi);
        directory.short(284, &[1]);
        directory.ascii(285, &self.page_name);
        if self.compression == TiffCompression::G4 {
            directory.long(293, &[0]);
        }
        directory.short(296, &[2]);
        directory.short(297, &[self.page.0, self.page.1]);
        directory.ascii(305, SOFTWARE);
    }
}

/// Software, tag 305.
pub const SOFTWARE: &str = concat!("Strikeoff ", env!("CARGO_PKG_VERSION"));

/// Directory entries in the order they are added, which must be that of their tags.
#[derive(Default)]
pub struct Directory {
    entries: Vec<(u16, u16, u32, Vec<u8>)>,
}

impl Directory {
    fn add(&mut self, tag: u16, kind: u16, count: usize, data: Vec<u8>) {
        debug_assert!(self.entries.last().is_none_or(|last| last.0 < tag), "tags must rise");
        self.entries.push((tag, kind, count as u32, data));
    }

    /// Adds an entry.
    pub fn ascii(&mut self, tag: u16, text: &str) {
        if !text.is_empty() {
            self.strings(tag, &[text]);
        }
    }

    /// Adds several strings, each with a NUL behind it.
    pub fn strings(&mut self, tag: u16, texts: &[&str]) {
        let mut data = Vec::new();
        for text in texts {
            data.extend(text.replace('\0', " ").bytes());
            data.push(0);
        }
        self.add(tag, 2, data.len(), data);
    }

    /// Adds an entry.
    pub fn short(&mut self, tag: u16, values: &[u16]) {
        self.add(tag, 3, values.len(), values.iter().flat_map(|v| v.to_le_bytes()).collect());
    }

    /// Adds an entry.
    pub fn long(&mut self, tag: u16, values: &[u32]) {
        self.add(tag, 4, values.len(), values.iter().flat_map(|v| v.to_le_bytes()).collect());
    }

    /// Adds an entry, to a thousandth.
    pub fn rational(&mut self, tag: u16, value: f64) {
        let (over, under) = if value.fract() == 0.0 { (value, 1.0) } else { (value * 1000.0, 1000.0) };
        let mut data = (over.round() as u32).to_le_bytes().to_vec();
        data.extend((under as u32).to_le_bytes());
        self.add(tag, 5, 1, data);
    }

    /// The directory at `start`, its larger values behind it.
    fn bytes(&self, start: u32) -> Vec<u8> {
        let mut out = (self.entries.len() as u16).to_le_bytes().to_vec();
        let mut behind = Vec::new();
        let behind_at = start + 2 + 12 * self.entries.len() as u32 + 4;
        for (tag, kind, count, data) in &self.entries {
            out.extend(tag.to_le_bytes());
            out.extend(kind.to_le_bytes());
            out.extend(count.to_le_bytes());
            if data.len() <= 4 {
                let mut value = data.clone();
                value.resize(4, 0);
                out.extend(value);
            } else {
                out.extend((behind_at + behind.len() as u32).to_le_bytes());
                behind.extend(data);
                if behind.len() % 2 == 1 {
                    behind.push(0);
                }
            }
        }
        out.extend([0; 4]);
        out.extend(behind);
        out
    }
}
