//! Strikeoff: opens the workbench, or does one verb of the job without a window.

mod terminal;
mod verbs;
mod window;

use std::path::PathBuf;
use std::process::ExitCode;

use clap::error::ErrorKind;
use clap::{CommandFactory, Parser};

use strikeoff_files::art::drawing::{self, Artist};
use strikeoff_files::limits::Budget;

use terminal::{Terminal, after_output};
use verbs::{Files, Verb};

/// Turns a client's picture into the screens that print it on a garment.
#[derive(Parser)]
#[command(
    name = "strikeoff",
    version,
    about,
    after_help = "Without a verb the workbench opens, on FILE if one is given.",
    subcommand_precedence_over_arg = true
)]
struct CommandLine {
    /// Print a JSON report on standard output.
    #[arg(long, global = true)]
    json: bool,

    /// Let a verb replace a file that it reads
    #[arg(long, global = true)]
    overwrite: bool,

    /// A picture or a job to open in the workbench.
    #[arg(value_name = "FILE")]
    file: Option<PathBuf>,

    /// Write down what the window does and how long its frames take, a JSON object a line.
    #[arg(long, value_name = "LOG")]
    log: Option<PathBuf>,

    #[command(subcommand)]
    verb: Option<Verb>,
}

/// The command line as it is defined.
fn command() -> clap::Command {
    CommandLine::command()
}

fn main() -> ExitCode {
    let line = match CommandLine::try_parse() {
        Ok(line) => line,
        Err(said) => return instead(&said),
    };
    if matches!(line.verb, Some(Verb::DrawArt)) {
        return drawing::serve();
    }
    if let Some(file) = line.file.as_ref().filter(|file| !file.exists()) {
        let said = format!("\"{}\" is neither a verb nor a file that exists", file.display());
        return instead(&CommandLine::command().error(ErrorKind::InvalidValue, said));
    }
    let terminal = Terminal::new(line.json, line.overwrite);
    if let Err(error) = Budget::stated() {
        return terminal.finish(Err(error.into()));
    }
    match Artist::this_program([verbs::DRAW_ART]) {
        Ok(artist) => drawing::draw_with(artist),
        Err(error) => eprintln!("strikeoff: SVG and PDF cannot be drawn, as the program does not find itself: {error}"),
    }
    if let Err(error) = vectors_of_the_environment() {
        return instead(&CommandLine::command().error(ErrorKind::InvalidValue, format!("{VECTORS}: {error}")));
    }
    match line.verb {
        Some(verb) => terminal.finish(verb.run(&terminal)),
        None => {
            let files = Files::default().and_read(line.file.as_deref());
            let files = line.log.iter().fold(files, |files, log| files.make(log));
            match files.check(line.overwrite).and_then(|()| window::open(line.file, line.log)) {
                Ok(()) => ExitCode::SUCCESS,
                Err(error) => terminal.finish(Err(error)),
            }
        }
    }
}

/// What ends the program before it does anything: help and version on standard output, or wrong use
/// on standard error with exit code 2.
fn instead(said: &clap::Error) -> ExitCode {
    let printed = said.print();
    if said.use_stderr() { ExitCode::from(2) } else { after_output(printed) }
}

/// Names the vector instructions to use in place of the best that the processor has, to try what other
/// machines do: results are the same, only slower.
const VECTORS: &str = "STRIKEOFF_VECTORS";

fn vectors_of_the_environment() -> Result<(), strikeoff_core::simd::LevelError> {
    match std::env::var_os(VECTORS) {
        Some(name) => name.to_string_lossy().parse::<strikeoff_core::simd::Level>()?.force(),
        None => Ok(()),
    }
}
