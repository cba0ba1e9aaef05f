//! Drawings that ended the whole program, or took gigabytes, when they were drawn inside it.

use std::fs;

use strikeoff_core::Progress;
use strikeoff_files::art::{ReadOptions, receive_bytes_by};
use strikeoff_tests::{artist, run_refused};

use super::{SHOW, SHOWN, image, packed, pdf, stream, svg};

/// The sentence for a drawing that must be refused, here, by a process that goes on.
fn refused(name: &str, bytes: &[u8]) -> String {
    let read = receive_bytes_by(&artist(), name, bytes, ReadOptions::default(), &Progress::none());
    let said = read.expect_err(name).to_string();
    assert!(said.contains(name) && !said.contains('\n') && said.len() < 300, "{said}");
    println!("{said}");
    said
}

/// A fax of two thousand million columns: its decoder takes memory for a line of them at once.
fn fax() -> Vec<u8> {
    let parms = "/Filter/CCITTFaxDecode/DecodeParms<</K -1/Columns 2147483647/Rows 2147483647>>";
    let data = b"\x26\xa0".repeat(20);
    pdf(SHOW, SHOWN, &[stream(&image(9, 9, "DeviceGray", 1, parms), &data)])
}

/// A calculator function (ISO 32000-1, 7.10.5) of nested braces.
fn braces() -> Vec<u8> {
    let code = ["{".repeat(300_000), "}".repeat(300_000)].concat();
    let function = stream("/FunctionType 4/Domain[0 1]/Range[0 1 0 1 0 1]", code.as_bytes());
    pdf(b"/C cs 1 sc 0 0 99 99 re f", "/ColorSpace<</C[/Separation/A/DeviceRGB 5 0 R]>>", &[function])
}

/// Elements that each refer to the next.
fn chain(element: &str, attribute: &str) -> Vec<u8> {
    let parts: String = (0..50_000)
        .map(|i| {
            format!("<{element} id='c{i}' {attribute}='url(#c{})'><rect width='9' height='9'/></{element}>", i + 1)
        })
        .collect();
    svg(&format!("<defs>{parts}</defs><rect width='90' height='90' {attribute}='url(#c0)'/>"))
}

#[test]
fn the_program_outlives_what_ended_it() {
    assert!(refused("fax.pdf", &fax()).contains("more than 1201 MB of memory"));
    assert!(refused("braces.pdf", &braces()).contains("nested too deep"));
    for (element, attribute) in [("clipPath", "clip-path"), ("mask", "mask")] {
        assert!(refused("chain.svg", &chain(element, attribute)).contains("too involved to draw"), "{element}");
    }
    // Parts that use the next, and parts that use one another ten times over ten levels.
    let deep: String = (0..20_000).map(|i| format!("<g id='c{i}'><use href='#c{}'/></g>", i + 1)).collect();
    let wide: String = (1..11)
        .map(|i| format!("<g id='c{i}'>{}</g>", format!("<use href='#c{}'/>", i - 1).repeat(10)))
        .chain(["<rect id='c0' width='9' height='9'/>".to_owned()])
        .collect();
    for (parts, first) in [(deep, "c0"), (wide, "c10")] {
        let said = refused("uses.svg", &svg(&format!("<defs>{parts}</defs><use href='#{first}'/>")));
        assert!(said.contains("too involved to draw"), "{said}");
    }
    // The same from the command line, where the one line is all that is said.
    let dir = tempfile::tempdir().unwrap();
    for (name, bytes) in [("fax.pdf", fax()), ("braces.pdf", braces()), ("chain.svg", chain("mask", "mask"))] {
        let (art, out) = (dir.path().join(name), dir.path().join("out.png"));
        fs::write(&art, bytes).unwrap();
        let said = run_refused(["prepare".as_ref(), art.as_os_str(), "-o".as_ref(), out.as_os_str()]);
        assert!(said.contains(name) && said.contains("too involved to draw"), "{said}");
        assert!(!out.exists());
    }
}

#[test]
fn memory_is_bounded_and_the_bound_is_said() {
    let inline = b"q 144 0 0 144 0 0 cm BI /W 60000 /H 60000 /CS /RGB /BPC 8 ID 1234 EI Q";
    let flate = "/Filter/FlateDecode";
    let line = image(60_000, 60_000, "DeviceGray", 1, flate);
    let gigabytes = stream(&line, &packed(&[0; 7500], 60_000));
    for (name, bytes) in [
        ("inline.pdf", pdf(inline, "", &[])),
        ("image.pdf", pdf(SHOW, SHOWN, &[stream(&image(60_000, 60_000, "DeviceRGB", 8, ""), b"1234")])),
        ("lines.pdf", pdf(SHOW, SHOWN, &[gigabytes])),
    ] {
        // Some are drawn within the limit, as a decoder may leave out what is not there.
        match receive_bytes_by(&artist(), name, &bytes, ReadOptions::default(), &Progress::none()) {
            Ok(received) => println!("{name}: drawn, {:?}", received.facts.notes),
            Err(error) => {
                let said = error.to_string();
                println!("{said}");
                assert!(said.contains("MB of memory") || said.contains("seconds"), "{said}");
            }
        }
    }
}
