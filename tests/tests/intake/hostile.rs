//! A corpus of broken and hostile files: each ends in one sentence or in a good picture, within the
//! memory that is stated, and none of them reaches outside itself.

use std::fs;
use std::io::ErrorKind;
use std::net::TcpListener;
use std::process::Command;

use strikeoff_files::art::drawing::draw_with;
use strikeoff_files::art::{ReadOptions, read_art, receive_art, receive_bytes};
use strikeoff_files::limits::MAX_ART_PIXELS;
use strikeoff_tests::{artist, program};

use super::{corpus, pdf};

fn refused(name: &str, bytes: &[u8]) -> String {
    draw_with(artist());
    let error = receive_bytes(name, bytes, ReadOptions::default()).expect_err(name).to_string();
    assert!(error.contains(name) && !error.contains('\n'), "{error}");
    error
}

#[test]
fn every_file_cut_at_each_quarter_is_refused_or_whole() {
    let (dir, items) = corpus();
    let mut refused = 0;
    for item in items {
        let name = item["file"].as_str().unwrap();
        let whole = fs::read(dir.join(name)).unwrap();
        for quarter in 0..4 {
            match receive_bytes(name, &whole[..whole.len() * quarter / 4], ReadOptions::default()) {
                Err(error) => {
                    let said = error.to_string();
                    assert!(said.contains(name) && !said.contains('\n') && said.len() < 300, "{said}");
                    refused += 1;
                }
                // A TIFF's later pages may be what was cut.
                Ok(_) => assert!(name == "pages.tif" || name.ends_with(".gif"), "{name} cut at {quarter}/4 was taken"),
            }
        }
    }
    assert!(refused > 3 * items.len());
}

#[test]
fn not_a_number_is_black_and_nothing_breaks() {
    let (dir, _) = corpus();
    let art = read_art(&dir.join("nan.tif")).unwrap();
    assert_eq!(art.picture.pixels().get(6, 6), [0, 0, 0, 65535]);
    assert_eq!(art.picture.pixels().get(3, 20), [65535; 4]);
    assert_eq!(art.picture.pixels().get(3, 21), [0, 0, 0, 65535]);
}

#[test]
fn drawings_read_nothing_outside_themselves() {
    draw_with(artist());
    let dir = tempfile::tempdir().unwrap();
    let secret = dir.path().join("secret.png");
    image::RgbImage::from_pixel(8, 8, image::Rgb([255, 0, 0])).save(&secret).unwrap();
    let svg = format!(
        r#"<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" width="96" height="96">
        <image width="96" height="48" href="{0}"/><image y="48" width="96" height="48" xlink:href="file://{0}"/>
        <image width="9" height="9" href="http://127.0.0.1:9/a.png"/></svg>"#,
        secret.display()
    );
    let path = dir.path().join("a.svg");
    fs::write(&path, svg).unwrap();
    let received = receive_art(&path, ReadOptions::default()).unwrap();
    assert!(received.art.picture.pixels().data().iter().all(|p| p[3] == 0), "something was drawn");
    assert_eq!(received.facts.notes.iter().filter(|n| n.contains("outside the file")).count(), 3);
    assert!((received.art.picture.width() as f64 / received.art.ppi.get() - 1.0).abs() < 1e-3);
}

#[test]
fn hostile_drawings_end_in_a_sentence() {
    draw_with(artist());
    assert!(refused("none.pdf", &pdf(0, "")).contains("page"));
    let many = receive_bytes("many.pdf", &pdf(5000, "1 0 0 rg 0 0 9 9 re f"), ReadOptions { page: 5000 }).unwrap();
    assert_eq!(many.facts.pages, 5000);
    refused("junk.pdf", b"%PDF-1.7\nnothing that follows makes sense");

    let deep =
        format!("<svg xmlns='http://www.w3.org/2000/svg'>{}{}</svg>", "<g>".repeat(90_000), "</g>".repeat(90_000));
    assert!(refused("deep.svg", deep.as_bytes()).contains("nested"));
    // Ten levels of ten uses each: ten thousand million rectangles if it were followed.
    let mut uses = String::from(
        "<svg xmlns='http://www.w3.org/2000/svg' width='9' height='9'><rect id='a0' width='1' height='1'/>",
    );
    for level in 1..=10 {
        let inner = format!("<use href='#a{}'/>", level - 1).repeat(10);
        uses += &format!("<g id='a{level}'>{inner}</g>");
    }
    uses += "</svg>";
    refused("uses.svg", uses.as_bytes());
    // Entities that each hold ten of the last.
    let mut laughs = String::from("<!DOCTYPE svg [<!ENTITY a0 'ha'>");
    for level in 1..=9 {
        laughs += &format!("<!ENTITY a{level} '{}'>", format!("&a{};", level - 1).repeat(10));
    }
    laughs += "]><svg xmlns='http://www.w3.org/2000/svg' width='9' height='9'><text>&a9;</text></svg>";
    refused("laughs.svg", laughs.as_bytes());
    refused("empty.svg", b"<svg xmlns='http://www.w3.org/2000/svg' width='0' height='5'/>");
}

/// The head of a grey TIFF of `side` x `side` pixels in one strip of `bytes` bytes from byte 200 on (TIFF 6.0,
/// sections 2 and 3: tags 256 width, 257 length, 258 bits, 259 compression, 262 photometric, 273 and 279 the
/// strip, 277 samples, 278 its rows).
fn tiff_head(side: u32, compression: u32, bytes: u32) -> Vec<u8> {
    let mut head = b"II*\0\x08\0\0\0\x09\0".to_vec();
    for (id, kind, value) in [
        (256_u16, 4_u16, side),
        (257, 4, side),
        (258, 3, 8),
        (259, 3, compression),
        (262, 3, 1),
        (273, 4, 200),
        (277, 3, 1),
        (278, 4, side),
        (279, 4, bytes),
    ] {
        head.extend([&id.to_le_bytes()[..], &kind.to_le_bytes(), &1_u32.to_le_bytes(), &value.to_le_bytes()].concat());
    }
    head
}

#[test]
fn bombs_are_refused_by_their_header() {
    let le = |v: u32| v.to_le_bytes();
    // TIFF: 60000 x 60000, then one strip of it.
    let mut tiff = tiff_head(60_000, 1, 10);
    tiff.extend([0; 300]);
    assert!(refused("bomb.tif", &tiff).contains("60000 x 60000"));
    // GIF: 65535 x 65535 and no more.
    assert!(
        refused("bomb.gif", b"GIF89a\xff\xff\xff\xff\0\0\0,\0\0\0\0\xff\xff\xff\xff\0\x08\x02\0\0;").contains("65535")
    );
    let mut bmp = b"BM\0\0\0\0\0\0\0\0\x36\0\0\0\x28\0\0\0".to_vec();
    bmp.extend([&le(60_000)[..], &le(60_000), b"\x01\0\x18\0", &[0; 24], &[0; 100]].concat());
    refused("bomb.bmp", &bmp);
    // WebP, lossless, 16384 x 16384.
    let webp = [&b"RIFF\x1a\0\0\0WEBPVP8L\x0d\0\0\0\x2f\xff\xff\xff\x0f"[..], &[0; 12]].concat();
    refused("bomb.webp", &webp);
}

#[test]
fn gifs_without_an_end_give_their_first_frame_or_a_sentence() {
    // 4 x 4, two colours, loops for ever, and a frame after the other until the file stops.
    let mut gif = b"GIF89a\x04\0\x04\0\x80\0\0\xff\0\0\0\0\xff!\xff\x0bNETSCAPE2.0\x03\x01\0\0\0".to_vec();
    let frame = b",\0\0\0\0\x04\0\x04\0\0\x02\x04\x84\x8f\x09\x05\0";
    for _ in 0..200_000 {
        gif.extend(b"!\xf9\x04\0\x01\0\0\0");
        gif.extend(frame);
    }
    match receive_bytes("loop.gif", &gif, ReadOptions::default()) {
        Ok(received) => assert_eq!((received.facts.width_px, received.facts.height_px), (4, 4)),
        Err(error) => assert!(error.to_string().contains("loop.gif"), "{error}"),
    }
    // Data of one frame that never ends, far beyond its 16 pixels.
    let mut gif = b"GIF89a\x04\0\x04\0\x80\0\0\xff\0\0\0\0\xff,\0\0\0\0\x04\0\x04\0\0\x02".to_vec();
    for _ in 0..100_000 {
        gif.push(255);
        gif.extend([0x44; 255]);
    }
    let started = std::time::Instant::now();
    match receive_bytes("long.gif", &gif, ReadOptions::default()) {
        Ok(received) => assert_eq!((received.facts.width_px, received.facts.height_px), (4, 4)),
        Err(error) => assert!(error.to_string().contains("long.gif"), "{error}"),
    }
    assert!(started.elapsed().as_secs() < 20);
}

/// Changes the bytes of a corpus file.
fn changed(name: &str, change: impl FnOnce(&mut Vec<u8>)) -> Vec<u8> {
    let mut bytes = fs::read(corpus().0.join(name)).unwrap();
    change(&mut bytes);
    bytes
}

#[test]
fn sizes_that_are_not_true_end_in_a_sentence_or_in_a_picture_of_that_size() {
    // Every file of the corpus is 161 x 119; these say 161 x 238, or 161 x 60. Only a JPEG's rows
    // that are not there cannot be known: its decoder reads on in zeros, and gives them one colour.
    for height in [238_u32, 60] {
        let short = height as u16;
        let png = changed("rgb.png", |b| {
            b[20..24].copy_from_slice(&height.to_be_bytes());
            let mut crc = flate2::Crc::new();
            crc.update(&b[12..29]);
            b[29..33].copy_from_slice(&crc.sum().to_be_bytes());
        });
        let jpeg = changed("q90.jpg", |b| {
            let frame = b.windows(2).position(|w| w == [0xff, 0xc0]).unwrap();
            b[frame + 5..frame + 7].copy_from_slice(&short.to_be_bytes());
        });
        let bmp = changed("rgb.bmp", |b| b[22..26].copy_from_slice(&height.to_le_bytes()));
        let gif = changed("palette.gif", |b| b[8..10].copy_from_slice(&short.to_le_bytes()));
        let frame = changed("palette.gif", |b| {
            let at = b.windows(9).position(|w| w == [0x2c, 0, 0, 0, 0, 161, 0, 119, 0]).unwrap();
            b[at + 7..at + 9].copy_from_slice(&short.to_le_bytes());
        });
        let tiffs = ["lzw.tif", "deflate.tif", "packbits.tif", "plain.tif", "tiled.tif"].map(|name| {
            changed(name, |b| {
                let at = u32::from_le_bytes(b[4..8].try_into().unwrap()) as usize;
                let mut entries = b[at + 2..].chunks_exact_mut(12);
                let length = entries.find(|e| e[..2] == [1, 1]).unwrap();
                length[8..12].copy_from_slice(&height.to_le_bytes());
            })
        });
        for (name, bytes) in [("a.png", png), ("a.jpg", jpeg), ("a.bmp", bmp), ("a.gif", gif), ("frame.gif", frame)]
            .into_iter()
            .chain(["lzw.tif", "deflate.tif", "packbits.tif", "plain.tif", "tiled.tif"].into_iter().zip(tiffs))
        {
            match receive_bytes(name, &bytes, ReadOptions::default()) {
                Ok(received) => {
                    assert!(height == 60 || ["a.jpg", "a.gif", "frame.gif"].contains(&name), "{name} was taken");
                    let size = (received.facts.width_px, received.facts.height_px);
                    assert!(
                        size == (161, height as usize) || name == "frame.gif" && size == (161, 119),
                        "{name} {size:?}"
                    );
                    println!("{name} {height}: taken");
                }
                Err(error) => {
                    let said = error.to_string();
                    assert!(said.contains(name) && !said.contains('\n') && said.contains("ask for"), "{said}");
                    println!("{said}");
                }
            }
        }
    }
}

#[test]
fn drawings_cut_at_each_quarter_end_well() {
    draw_with(artist());
    let svg = "<svg xmlns='http://www.w3.org/2000/svg' width='400' height='4'><g><rect width='90' height='2' \
               fill='red'/><path d='M0 0L9 1C1 2 3 4 5 6Z'/></g></svg>";
    let pdf = pdf(2, "0.2 0.4 0.6 rg 0 0 72 144 re f 1 0 0 RG 3 w 0 0 m 9 1 l S");
    for quarter in 0..4 {
        let error = receive_bytes("a.svg", &svg.as_bytes()[..svg.len() * quarter / 4], ReadOptions::default());
        assert!(error.unwrap_err().to_string().contains("a.svg"));
        // A PDF without its table of objects may be put together again from what is there.
        if let Err(error) = receive_bytes("a.pdf", &pdf[..pdf.len() * quarter / 4], ReadOptions::default()) {
            assert!(error.to_string().contains("a.pdf") && !error.to_string().contains('\n'));
        }
    }
}

#[test]
fn drawings_call_nobody() {
    draw_with(artist());
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    listener.set_nonblocking(true).unwrap();
    let url = format!("http://{}/a", listener.local_addr().unwrap());
    let secret = corpus().0.join("rgb.png");
    let file = secret.display();
    let svg = format!(
        r##"<?xml version="1.0"?><?xml-stylesheet href="{url}.css" type="text/css"?>
        <!DOCTYPE svg SYSTEM "{url}.dtd" [<!ENTITY out SYSTEM "{url}.txt"><!ENTITY own SYSTEM "file://{file}">]>
        <svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" width="400" height="4">
        <style>@import url({url}.css); @font-face {{ font-family: F; src: url({url}.ttf); }}</style>
        <filter id="f"><feImage xlink:href="{url}.png"/></filter><rect width="9" height="9" filter="url(#f)" fill="none"/>
        <filter id="o"><feImage href="{file}"/></filter><rect width="9" height="9" filter="url(#o)" fill="none"/>
        <use href="{url}.svg#a"/><use href="file://{file}#a"/><image width="90" height="4" href="{url}.png"/>
        <rect width="9" height="9" fill="url({url}.svg#g)"/><text font-family="F" x="300">a</text></svg>"##
    );
    // Entities of its own that point outside may be refused; nothing may be fetched for them.
    let drawn = receive_bytes("calls.svg", svg.as_bytes(), ReadOptions::default());
    if let Ok(received) = &drawn {
        assert!(received.facts.notes.iter().any(|n| n.contains("outside the file")), "{:?}", received.facts.notes);
    }
    let content = "q 144 0 0 144 0 0 cm /X Do Q";
    let resources = format!(
        "/XObject<</X<</Type/XObject/Subtype/Image/Width 9/Height 9/ColorSpace/DeviceRGB/BitsPerComponent 8 \
         /F<</FS/URL/F({url}.jpg)>>/Length 0>>>>"
    );
    let pdf = String::from_utf8(pdf(1, content)).unwrap().replace(
        "/Resources<<>>",
        &format!(
            "/Resources<<{resources}>>/AA<</O<</S/URI/URI({url})>>>>/Annots[<</Subtype/Link/A<</S/GoToR/F({file})>>>>]"
        ),
    );
    let _ = receive_bytes("calls.pdf", pdf.as_bytes(), ReadOptions::default());
    match listener.accept() {
        Err(error) => assert_eq!(error.kind(), ErrorKind::WouldBlock),
        Ok((_, from)) => panic!("something called from {from}: {drawn:?}"),
    }
}

/// A zlib stream of a few megabytes that opens to `bytes` zeros: one zero, then matches of 258 at
/// distance 1 in the fixed code (RFC 1951, 3.2.6), 13 bits each. Its check sum is wrong.
fn zeros(bytes: u64) -> Vec<u8> {
    let mut out = vec![0x78, 0x9c];
    let (mut held, mut bits) = (0_u64, 0);
    let mut put = |value: u64, count: u32| {
        held |= value << bits;
        bits += count;
        while bits >= 8 {
            out.push(held as u8);
            held >>= 8;
            bits -= 8;
        }
    };
    // The last block, of the fixed code; the literal 0.
    put(0b011, 3);
    put(u64::from(0b0011_0000_u8.reverse_bits()), 8);
    for _ in 0..bytes / 258 {
        put(u64::from(0b1100_0101_u8.reverse_bits()), 8);
        put(0, 5);
    }
    put(0, 7);
    put(0, 8);
    out.extend([0; 4]);
    out
}

#[test]
fn bombs_stay_within_the_stated_memory() {
    // A picture under 1 GB, and as much for its decoder; the rest is the program itself.
    const MOST: usize = 2 * MAX_ART_PIXELS * 8 + (600 << 20);
    let bomb = zeros(3 << 30);
    let chunk = |kind: &[u8; 4], body: &[u8]| {
        let mut crc = flate2::Crc::new();
        crc.update(kind);
        crc.update(body);
        [&(body.len() as u32).to_be_bytes()[..], kind, body, &crc.sum().to_be_bytes()].concat()
    };
    let head = chunk(b"IHDR", &[&[0, 0, 0, 64, 0, 0, 0, 64][..], &[8, 2, 0, 0, 0]].concat());
    let magic = b"\x89PNG\r\n\x1a\n";
    let rows = chunk(b"IDAT", &bomb);
    let pixels = [&magic[..], &head, &rows, &chunk(b"IEND", b"")].concat();
    let profile = chunk(b"iCCP", &[&b"x\0\0"[..], &bomb].concat());
    let profile = [&magic[..], &head, &profile, &chunk(b"IDAT", &zeros(64 * 193)), &chunk(b"IEND", b"")].concat();
    let mut tiff = tiff_head(64, 8, bomb.len() as u32);
    tiff.resize(200, 0);
    tiff.extend(&bomb);
    let dir = tempfile::tempdir().unwrap();
    for (name, bytes) in [("pixels.png", pixels), ("profile.png", profile), ("strip.tif", tiff)] {
        let path = dir.path().join(name);
        fs::write(&path, bytes).unwrap();
        let run = Command::new("prlimit")
            .arg(format!("--as={MOST}"))
            .arg(program())
            .args(["prepare", path.to_str().unwrap(), "-o", dir.path().join("out.png").to_str().unwrap()])
            .output()
            .expect("prlimit: install it with: apt-get install util-linux");
        let said = String::from_utf8_lossy(&run.stderr).trim().to_owned();
        // Not killed, not run out of memory: a picture or one line.
        assert!(matches!(run.status.code(), Some(0 | 1)), "{name}: {} {said}", run.status);
        assert!(!said.contains("panicked") && (run.status.success() || said.lines().count() == 1), "{name}: {said}");
        println!("{name}: {} {said}", run.status);
    }
}
