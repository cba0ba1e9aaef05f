//! Drawings in their own process: the same pictures as drawn in this one, a sentence for whatever
//! ends the process, and nothing opened once a drawing is looked at.

#![allow(clippy::unwrap_used, reason = "helpers of tests")]

mod ends;
mod fence;
mod killers;
mod same;

use std::io::Write;

use flate2::Compression;
use flate2::write::ZlibEncoder;

/// A PDF of one page of 144 x 144 points: its content, its resources, and objects from number 5 on.
fn pdf(content: &[u8], resources: &str, objects: &[Vec<u8>]) -> Vec<u8> {
    let mut bodies = vec![
        b"<</Type/Catalog/Pages 2 0 R>>".to_vec(),
        b"<</Type/Pages/Count 1/Kids[4 0 R]>>".to_vec(),
        stream("", content),
        format!("<</Type/Page/Parent 2 0 R/MediaBox[0 0 144 144]/Contents 3 0 R/Resources<<{resources}>>>>")
            .into_bytes(),
    ];
    bodies.extend_from_slice(objects);
    let mut out = b"%PDF-1.7\n".to_vec();
    let mut places = Vec::new();
    for (at, body) in bodies.iter().enumerate() {
        places.push(out.len());
        out.extend([format!("{} 0 obj\n", at + 1).as_bytes(), body, b"\nendobj\n"].concat());
    }
    let start = out.len();
    out.extend(format!("xref\n0 {}\n0000000000 65535 f \n", places.len() + 1).bytes());
    places.iter().for_each(|place| out.extend(format!("{place:010} 00000 n \n").bytes()));
    out.extend(format!("trailer<</Size {}/Root 1 0 R>>\nstartxref\n{start}\n%%EOF", places.len() + 1).bytes());
    out
}

/// A stream object.
fn stream(head: &str, data: &[u8]) -> Vec<u8> {
    [format!("<<{head}/Length {}>>stream\n", data.len()).as_bytes(), data, b"\nendstream"].concat()
}

/// The head of an image.
fn image(width: u32, height: u32, space: &str, bits: u8, extra: &str) -> String {
    format!(
        "/Type/XObject/Subtype/Image/Width {width}/Height {height}/ColorSpace/{space}/BitsPerComponent {bits}{extra}"
    )
}

/// Shows the image that is object 5 over the whole page.
const SHOW: &[u8] = b"q 144 0 0 144 0 0 cm /X Do Q";
const SHOWN: &str = "/XObject<</X 5 0 R>>";

/// A zlib stream that opens to `part` so many times over.
fn packed(part: &[u8], times: usize) -> Vec<u8> {
    let mut out = ZlibEncoder::new(Vec::new(), Compression::best());
    let block = part.repeat(1000);
    (0..times / 1000).for_each(|_| out.write_all(&block).unwrap());
    (0..times % 1000).for_each(|_| out.write_all(part).unwrap());
    out.finish().unwrap()
}

fn svg(body: &str) -> Vec<u8> {
    format!("<svg xmlns='http://www.w3.org/2000/svg' width='96' height='96'>{body}</svg>").into_bytes()
}

/// A drawing that keeps a core busy for hours.
fn endless() -> Vec<u8> {
    svg("<filter id='f'><feTurbulence baseFrequency='0.9' numOctaves='99999'/></filter>\
        <rect width='96' height='96' filter='url(#f)'/>")
}
