//! Strikeoff: opens the workbench, or does one verb of the job without a window.

mod terminal;
mod verbs;

use std::process::ExitCode;

use clap::Parser;

use terminal::Terminal;
use verbs::Verb;

/// Turns a client's picture into the screens that print it on a garment.
#[derive(Parser)]
#[command(name = "strikeoff", version, about, after_help = "Without a verb the workbench opens.")]
struct CommandLine {
    /// Print a JSON report on standard output.
    #[arg(long, global = true)]
    json: bool,

    #[command(subcommand)]
    verb: Option<Verb>,
}

fn main() -> ExitCode {
    // Wrong use ends here with exit code 2 and a message.
    let line = CommandLine::parse();
    let terminal = Terminal::new(line.json);
    let done = match line.verb {
        Some(verb) => verb.run(&terminal),
        None => todo_window(),
    };
    terminal.finish(done)
}

fn todo_window() -> anyhow::Result<terminal::Report> {
    anyhow::bail!("the workbench is not built yet")
}
