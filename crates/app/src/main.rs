//! Strikeoff: opens the workbench, or does one verb of the job without a window.

mod terminal;
mod verbs;
mod window;

use std::path::PathBuf;
use std::process::ExitCode;

use clap::error::ErrorKind;
use clap::{CommandFactory, Parser};

use strikeoff_files::limits::Budget;

use terminal::Terminal;
use verbs::Verb;

#[global_allocator]
static MEMORY: strikeoff_memory::LargePages = strikeoff_memory::LargePages;

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

    /// A picture or a job to open in the workbench.
    #[arg(value_name = "FILE")]
    file: Option<PathBuf>,

    /// Write down what the window does and how long its frames take, a JSON object a line.
    #[arg(long, value_name = "LOG")]
    log: Option<PathBuf>,

    #[command(subcommand)]
    verb: Option<Verb>,
}

fn main() -> ExitCode {
    // Wrong use ends here with exit code 2 and a message.
    let line = CommandLine::parse();
    if let Some(file) = line.file.as_ref().filter(|file| !file.exists()) {
        let said = format!("\"{}\" is neither a verb nor a file that exists", file.display());
        CommandLine::command().error(ErrorKind::InvalidValue, said).exit();
    }
    let terminal = Terminal::new(line.json);
    if let Err(error) = Budget::stated() {
        return terminal.finish(Err(error.into()));
    }
    match line.verb {
        Some(verb) => terminal.finish(verb.run(&terminal)),
        None => match window::open(line.file, line.log) {
            Ok(()) => ExitCode::SUCCESS,
            Err(error) => terminal.finish(Err(error)),
        },
    }
}
