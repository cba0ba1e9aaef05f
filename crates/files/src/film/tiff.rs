//! A one-page bilevel TIFF, TIFF Revision 6.0: little-endian, CCITT T.6 strips, written from the
//! front with the directory at the end, so that it streams.

use std::io::{self, Seek, SeekFrom, Write};

/// What the directory says about a film.
#[derive(Debug, Clone)]
pub struct TiffInfo {
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

    /// Writes the directory and ends the file.
    pub fn finish(mut self, info: &TiffInfo) -> io::Result<()> {
        let mut directory = Directory::default();
        directory.long(254, &[0]);
        directory.long(256, &[info.width_px as u32]);
        directory.long(257, &[info.height_px as u32]);
        directory.short(258, &[1]);
        directory.short(259, &[4]);
        // WhiteIsZero: ink is 1, and T.6 black.
        directory.short(262, &[0]);
        directory.short(266, &[1]);
        directory.ascii(269, &info.document);
        directory.ascii(270, &info.description);
        directory.long(273, &self.offsets);
        directory.short(274, &[1]);
        directory.short(277, &[1]);
        directory.long(278, &[info.rows_per_strip as u32]);
        directory.long(279, &self.lengths);
        directory.rational(282, info.x_dpi);
        directory.rational(283, info.y_dpi);
        directory.short(284, &[1]);
        directory.ascii(285, &info.page_name);
        directory.long(293, &[0]);
        directory.short(296, &[2]);
        directory.short(297, &[info.page.0, info.page.1]);
        directory.ascii(305, concat!("Strikeoff ", env!("CARGO_PKG_VERSION")));
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

/// Directory entries in the order they are added, which must be that of their tags.
#[derive(Default)]
struct Directory {
    entries: Vec<(u16, u16, u32, Vec<u8>)>,
}

impl Directory {
    fn add(&mut self, tag: u16, kind: u16, count: usize, data: Vec<u8>) {
        debug_assert!(self.entries.last().is_none_or(|last| last.0 < tag), "tags must rise");
        self.entries.push((tag, kind, count as u32, data));
    }

    fn ascii(&mut self, tag: u16, text: &str) {
        if !text.is_empty() {
            let mut data = text.replace('\0', " ").into_bytes();
            data.push(0);
            self.add(tag, 2, data.len(), data);
        }
    }

    fn short(&mut self, tag: u16, values: &[u16]) {
        self.add(tag, 3, values.len(), values.iter().flat_map(|v| v.to_le_bytes()).collect());
    }

    fn long(&mut self, tag: u16, values: &[u32]) {
        self.add(tag, 4, values.len(), values.iter().flat_map(|v| v.to_le_bytes()).collect());
    }

    /// To a thousandth.
    fn rational(&mut self, tag: u16, value: f64) {
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
