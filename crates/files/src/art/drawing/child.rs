//! The child's side: reads a drawing from standard input, closes the fence, draws, and writes the
//! picture to standard output.

use std::io::{self, IsTerminal, Read, Write, stdin, stdout};
use std::process::ExitCode;
use std::sync::Arc;

use super::deep::on_a_deep_stack;
use super::fonts::Fonts;
use super::limits::Limits;
use super::{Kind, draw, fence, message};

/// Draws the one picture that the parent asks for on standard input, and ends. What the program does
/// before this call is outside the fence, so it should be nothing.
pub fn serve() -> ExitCode {
    if stdin().is_terminal() {
        eprintln!("this part of the program draws for the rest of it and takes nothing typed");
        return ExitCode::from(2);
    }
    // A panic ends in a sentence of the parent's, not in text of ours.
    std::panic::set_hook(Box::new(|_| {}));
    match answer(&mut stdin().lock(), &mut stdout().lock()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::from(1)
        }
    }
}

fn answer(from: &mut impl Read, to: &mut impl Write) -> io::Result<()> {
    fence::end_with_the_parent()?;
    let request = message::read_request(&mut *from)?;
    fence::limit(&Limits::for_picture(request.longest_px, request.bytes))?;
    let art = Arc::new(message::read_art(from, &request)?);
    // Whatever is read besides the drawing is open before the drawing is looked at.
    let fonts = (request.kind == Kind::Svg).then(Fonts::held_open).unwrap_or_default();
    fence::close()?;
    let drawn = on_a_deep_stack(|| draw(&request, art, || fonts));
    message::write_answer(to, drawn)
}
