//! `strikeoff extras`: man pages and completions for shells, made from the one definition of the command line, for
//! whoever installs the program.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result};
use clap_complete::{Shell, generate_to};
use serde_json::json;

use super::files::Files;
use crate::terminal::{Report, Terminal};

/// Write man pages and shell completions into a folder
#[derive(clap::Args)]
pub struct Args {
    /// The folder: man pages go into `man`, completions into `completions`
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
}

impl Args {
    /// The files that it reads and writes.
    pub fn files(&self) -> Files {
        Files::default()
    }
}

/// Writes them.
pub fn run(args: Args, _terminal: &Terminal) -> Result<Report> {
    let made = |path: &Path| fs::create_dir_all(path).with_context(|| format!("cannot make {}", path.display()));
    let (man, completions) = (args.out.join("man"), args.out.join("completions"));
    made(&man)?;
    made(&completions)?;
    clap_mangen::generate_to(crate::command(), &man).with_context(|| format!("cannot write into {}", man.display()))?;
    for shell in [Shell::Bash, Shell::Zsh, Shell::Fish] {
        generate_to(shell, &mut crate::command(), "strikeoff", &completions)
            .with_context(|| format!("cannot write into {}", completions.display()))?;
    }
    let count = |folder: &Path| fs::read_dir(folder).map_or(0, |list| list.count());
    let (pages, shells) = (count(&man), count(&completions));
    Ok(Report {
        json: json!({ "man": man, "pages": pages, "completions": completions, "shells": shells }),
        text: format!("{pages} man pages in {}\n{shells} completions in {}", man.display(), completions.display()),
    })
}
