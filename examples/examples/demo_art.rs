//! Writes the demo's client file to the path given, as PNG.
fn main() -> std::io::Result<()> {
    let path = std::env::args().nth(1).ok_or_else(|| std::io::Error::other("usage: demo_art OUT.png"))?;
    std::fs::write(path, strikeoff_files::demo::demo_art_png())
}
