//! PDF 1.7 (ISO 32000-1) written from the front, so that a page's picture never stands in memory
//! as a whole: small objects come from `pdf-writer`, streams are copied through with their length
//! behind them (7.3.8.2 allows an indirect Length).

use std::io::{self, Write};

use pdf_writer::{Chunk, Finish, Name, Rect, Ref, TextStr};

/// A PDF file in the making.
pub struct PdfFile<W> {
    out: W,
    at: u64,
    offsets: Vec<(Ref, u64)>,
    next: i32,
    pages: Vec<Ref>,
    tree: Ref,
}

impl<W: Write> PdfFile<W> {
    /// Writes the header (7.5.2), with a line of high bytes that marks the file as binary.
    pub fn new(mut out: W) -> io::Result<Self> {
        let header = b"%PDF-1.7\n%\xE2\xE3\xCF\xD3\n";
        out.write_all(header)?;
        let mut file =
            Self { out, at: header.len() as u64, offsets: Vec::new(), next: 1, pages: Vec::new(), tree: Ref::new(1) };
        file.tree = file.new_ref();
        Ok(file)
    }

    /// A fresh object number.
    pub fn new_ref(&mut self) -> Ref {
        let id = Ref::new(self.next);
        self.next += 1;
        id
    }

    fn write(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.out.write_all(bytes)?;
        self.at += bytes.len() as u64;
        Ok(())
    }

    /// Writes the one object `id` that `chunk` holds.
    pub fn object(&mut self, id: Ref, chunk: &Chunk) -> io::Result<()> {
        self.offsets.push((id, self.at));
        self.write(chunk.as_bytes())
    }

    /// Writes the object `id` from its text.
    pub fn raw_object(&mut self, id: Ref, body: &str) -> io::Result<()> {
        self.offsets.push((id, self.at));
        self.write(format!("{} 0 obj\n{body}\nendobj\n\n", id.get()).as_bytes())
    }

    /// Adds a page of a size in points from the texts of its parts.
    pub fn raw_page(&mut self, width_pt: f64, height_pt: f64, content: Ref, resources: &str) -> io::Result<()> {
        let id = self.new_ref();
        self.pages.push(id);
        let body = format!(
            "<</Type /Page /Parent {} 0 R /MediaBox [0 0 {:.4} {:.4}] /Contents {} 0 R /Resources {resources}>>",
            self.tree.get(),
            shy(width_pt),
            shy(height_pt),
            content.get()
        );
        self.raw_object(id, &body)
    }

    /// Begins stream object `id`; `dictionary` holds its entries without Length.
    pub fn begin_stream(&mut self, id: Ref, dictionary: &str) -> io::Result<StreamStart> {
        let length = self.new_ref();
        self.offsets.push((id, self.at));
        self.write(format!("{} 0 obj\n<<{dictionary} /Length {} 0 R>>\nstream\n", id.get(), length.get()).as_bytes())?;
        Ok(StreamStart { length, from: self.at })
    }

    /// Adds to the stream that was begun last.
    pub fn stream_bytes(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.write(bytes)
    }

    /// Ends the stream.
    pub fn end_stream(&mut self, start: StreamStart) -> io::Result<()> {
        let length = self.at - start.from;
        self.write(b"\nendstream\nendobj\n\n")?;
        self.offsets.push((start.length, self.at));
        self.write(format!("{} 0 obj\n{length}\nendobj\n\n", start.length.get()).as_bytes())
    }

    /// Adds a page of a size in points with one picture all over it.
    pub fn picture_page(&mut self, width_pt: f64, height_pt: f64, picture: Ref) -> io::Result<()> {
        let (width_pt, height_pt) = (shy(width_pt), shy(height_pt));
        let content = self.new_ref();
        let stream = self.begin_stream(content, "")?;
        self.stream_bytes(format!("q {width_pt:.5} 0 0 {height_pt:.5} 0 0 cm /Film Do Q").as_bytes())?;
        self.end_stream(stream)?;
        let id = self.new_ref();
        let mut chunk = Chunk::new();
        let mut page = chunk.page(id);
        page.media_box(Rect::new(0.0, 0.0, width_pt as f32, height_pt as f32)).parent(self.tree).contents(content);
        page.resources().x_objects().pair(Name(b"Film"), picture);
        page.finish();
        self.pages.push(id);
        self.object(id, &chunk)
    }

    /// Writes page tree, catalog, information, cross-reference table (7.5.4) and trailer (7.5.5).
    /// Title and subject go into the information dictionary (14.3.3); an empty subject is left out.
    pub fn finish(self, title: &str, subject: &str) -> io::Result<()> {
        self.finish_with(title, subject, "")
    }

    /// The same with more entries in the catalog.
    pub fn finish_with(mut self, title: &str, subject: &str, more: &str) -> io::Result<()> {
        let (catalog, info) = (self.new_ref(), self.new_ref());
        let mut chunk = Chunk::new();
        chunk.pages(self.tree).kids(self.pages.iter().copied()).count(self.pages.len() as i32);
        self.object(self.tree, &chunk)?;
        self.raw_object(catalog, &format!("<</Type /Catalog /Pages {} 0 R {more}>>", self.tree.get()))?;
        let mut chunk = Chunk::new();
        let mut information = chunk.indirect(info).dict();
        information
            .pair(Name(b"Title"), TextStr(title))
            .pair(Name(b"Creator"), TextStr(concat!("Strikeoff ", env!("CARGO_PKG_VERSION"))));
        if !subject.is_empty() {
            information.pair(Name(b"Subject"), TextStr(subject));
        }
        information.finish();
        self.object(info, &chunk)?;

        self.offsets.sort_unstable_by_key(|(id, _)| id.get());
        let start = self.at;
        let mut table = format!("xref\n0 {}\n0000000000 65535 f \n", self.next);
        for (_, at) in &self.offsets {
            table.push_str(&format!("{at:010} 00000 n \n"));
        }
        table.push_str(&format!(
            "trailer\n<</Size {} /Root {} 0 R /Info {} 0 R>>\nstartxref\n{start}\n%%EOF\n",
            self.next,
            catalog.get(),
            info.get()
        ));
        self.write(table.as_bytes())
    }
}

/// Some renderers round a page up to whole pixels; half a thousandth of a point (0.0002 mm) less
/// keeps a rounding error of the last digit from adding a row to the film. Page and picture must
/// have the same size, or the picture is resampled.
pub fn shy(pt: f64) -> f64 {
    pt - 0.0005
}

/// A stream that was begun.
pub struct StreamStart {
    length: Ref,
    from: u64,
}
