//! The press sheet as one HTML file with its pictures inside, for a screen at the press.

use std::fmt::Write;

use base64::Engine;
use strikeoff_core::names::same;
use strikeoff_core::raster::Picture;

use super::content::Content;

/// A name made safe for HTML, that does not turn the words beside it.
fn name(name: &str) -> String {
    format!("<bdi>{}</bdi>", safe(name))
}

/// Text made safe for HTML.
fn safe(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

fn data_uri(picture: &Picture) -> String {
    let mut png = Vec::new();
    let mut encoder = png::Encoder::new(&mut png, picture.width() as u32, picture.height() as u32);
    encoder.set_color(png::ColorType::Rgba);
    encoder.set_depth(png::BitDepth::Eight);
    // Into memory: only an empty picture can fail, and shows as a missing one.
    if let Ok(mut writer) = encoder.write_header() {
        let _ = writer.write_image_data(&picture.to_rgba8());
    }
    format!("data:image/png;base64,{}", base64::engine::general_purpose::STANDARD.encode(png))
}

const STYLE: &str = "body{font:15px/1.45 system-ui,sans-serif;color:#1a1c21;max-width:1000px;margin:2rem auto;padding:0 1rem}\
h1{margin:0}h2{font-size:1.05rem;margin:1.6rem 0 .4rem}table{border-collapse:collapse;width:100%}\
td,th{text-align:left;padding:.3rem .5rem;border-bottom:1px solid #cfd3d8;vertical-align:top}th{color:#6a6f77;font-weight:600}\
.s{display:inline-block;width:1em;height:1em;border:1px solid #bbb;vertical-align:-.15em;margin-right:.5em}\
.strip{display:flex;flex-wrap:wrap;gap:.8rem}figure{margin:0}figure img{height:180px;border:1px solid #cfd3d8}\
figcaption{font-size:.8rem}.place{padding:1.5rem;text-align:center}.place img{max-height:420px;max-width:100%}\
.blank td{height:3.2rem;border:1px solid #9aa0a8;color:#6a6f77;font-size:.85rem}.muted{color:#6a6f77}";

/// The press sheet as HTML.
pub fn press_sheet_html(c: &Content) -> String {
    let mut out = String::with_capacity(1 << 20);
    let _ = write!(
        out,
        "<!doctype html><html lang=\"en\"><head><meta charset=\"utf-8\"><title>Press sheet: {0}</title><style>{STYLE}</style></head><body>\
         <h1><bdi>{0}</bdi></h1><p class=\"muted\">{1}</p>\
         <div class=\"place\" style=\"background:{2}\"><img alt=\"The print on the garment\" src=\"{3}\"></div><table>",
        safe(&c.title),
        c.head.iter().map(|(what, text)| format!("{what}: {}", name(text))).collect::<Vec<_>>().join(" · "),
        c.fabric,
        data_uri(&c.proof)
    );
    for (label, value) in &c.facts {
        let _ = write!(out, "<tr><th>{label}</th><td>{}</td></tr>", safe(value));
    }
    out += "</table><h2>Screens in print order</h2><table><tr><th>Head</th><th>Screen and ink</th><th>Mesh</th>\
            <th>Ruling / angle / dot</th><th>Coverage</th><th>Ink for the run</th><th>Hits</th><th>Then</th></tr>";
    for s in &c.screens {
        let _ = write!(
            out,
            "<tr><td>{}</td><td><span class=\"s\" style=\"background:{}\"></span>{}</td><td>{}</td><td>{}</td><td>{}</td>\
             <td>{}; look every {} shirts</td><td>{}</td><td>{}</td></tr>",
            s.head,
            s.swatch,
            if same(&s.name, &s.ink) { name(&s.ink) } else { format!("{} (screen {})", name(&s.ink), name(&s.name)) },
            safe(&s.mesh),
            safe(&s.halftone),
            s.coverage,
            s.grams,
            s.check_every,
            s.hits,
            s.after
        );
    }
    out += "</table><h2>Look after each screen</h2><div class=\"strip\">";
    for (at, s) in c.screens.iter().enumerate() {
        let _ = write!(
            out,
            "<figure><img alt=\"After {0}\" src=\"{1}\"><figcaption>{2} <bdi>{0}</bdi></figcaption></figure>",
            safe(&s.ink),
            data_uri(&s.look),
            at + 1
        );
    }
    out += "</div>";
    list(&mut out, "Watch points", &c.watch);
    list(&mut out, "Curve, choke and assumptions", &c.settings);
    out += "<h2>Step wedge: film, and what it is expected to print</h2><table><tr>";
    for (film, print) in &c.wedge {
        let _ = write!(out, "<td>{film} %<br><span class=\"muted\">{print} %</span></td>");
    }
    out += "</tr></table><h2>On press</h2><table class=\"blank\"><tr><td>Changed on press</td><td>Cure, by the data sheet</td><td>Ink used (g)</td>\
            <td>Misprints</td><td>Recheck after the first shirts</td></tr></table>";
    list(&mut out, "Cautions", &c.cautions);
    if !c.runs.is_empty() {
        list(&mut out, "Runs so far", &c.runs);
    }
    out += "<h2>Approval</h2><table class=\"blank\"><tr><td>Approved by</td><td>Signature</td><td>Date</td></tr></table></body></html>\n";
    out
}

fn list(out: &mut String, title: &str, lines: &[String]) {
    let _ = write!(out, "<h2>{title}</h2><ul>");
    for line in lines {
        let _ = write!(out, "<li>{}</li>", safe(line));
    }
    *out += "</ul>";
}
