//! `strikeoff profile`: the shop profile of this computer, shown, exported and imported.

use std::path::PathBuf;

use clap::Subcommand;
use serde_json::json;
use strikeoff_files::profile::ShopProfile;

use super::files::Files;
use crate::terminal::{Report, Terminal};

/// Show, export or import the shop profile
#[derive(clap::Args)]
pub struct Args {
    #[command(subcommand)]
    what: What,
}

#[derive(Subcommand)]
enum What {
    /// Print the profile and where it is kept
    Show,
    /// Write the profile to a file, to carry it to another computer
    Export {
        /// The file
        file: PathBuf,
    },
    /// Take a profile from a file
    Import {
        /// The file
        file: PathBuf,
    },
}

impl Args {
    /// The files that it reads and writes.
    pub fn files(&self) -> anyhow::Result<Files> {
        let home = ShopProfile::home()?;
        Ok(match &self.what {
            What::Show => Files::read(&home),
            What::Export { file } => Files::read(&home).write(file),
            What::Import { file } => Files::read(file).make(&home),
        })
    }
}

/// Does it.
pub fn run(args: Args, _terminal: &Terminal) -> anyhow::Result<Report> {
    let home = ShopProfile::home()?;
    let (profile, text) = match args.what {
        What::Show => {
            let profile = ShopProfile::load()?;
            let text = format!("{}\n{}", home.display(), serde_json::to_string_pretty(&profile)?);
            (profile, text)
        }
        What::Export { file } => {
            let profile = ShopProfile::load()?;
            profile.export(&file)?;
            (profile, format!("exported to {}", file.display()))
        }
        What::Import { file } => {
            let profile = ShopProfile::import(&file)?;
            profile.save()?;
            (profile, format!("imported into {}", home.display()))
        }
    };
    Ok(Report { json: json!({ "home": home, "profile": profile }), text })
}
