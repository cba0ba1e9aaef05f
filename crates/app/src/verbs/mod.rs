//! The verbs, a file each: arguments in, a report out.

mod calibrate;
mod check;
mod client_proof;
mod compare;
mod costs;
mod demo;
mod edit;
mod extras;
mod files;
mod film_sets;
mod films;
mod fingerprint;
mod garments;
mod how;
mod inspect;
mod jobs;
mod make;
mod measure;
mod on;
mod prepare;
mod profile;
mod proof;
mod quote;
mod recipe;
mod recover;
mod redraw;
mod reorder;
mod run;
mod screens;
mod separate;
mod sheet;
mod shot;
mod size;
mod suggest;
mod ticket;
mod values;
mod versions;
mod wedge;

use clap::Subcommand;

use crate::terminal::{Report, Terminal};
pub use files::Files;

/// The verb by which the program starts itself as the child that draws.
pub const DRAW_ART: &str = "draw-art";

/// One part of the job, done without a window.
#[derive(Subcommand)]
pub enum Verb {
    /// Say how two jobs differ and which films must be made again
    Compare(compare::Args),
    /// Say what dropping or merging each screen costs in colour
    Costs(costs::Args),
    /// Make a job that prints step wedges and solids for measuring
    Calibrate(calibrate::Args),
    /// Say what will go wrong on press, before a screen is burned
    Check(check::Args),
    /// Say what a job takes in minutes and money, and its price
    Quote(quote::Args),
    /// Say or change which screens each garment of a job prints, or judge them on other garments
    Garments(garments::Args),
    /// Find jobs in a folder by client, title, order number, date, ink, garment, colours
    Jobs(jobs::Args),
    /// Make an ink shelf from measured spectra (CGATS text or CxF)
    Measure(measure::Args),
    /// Read a press from its calibration print, or give a job what was read
    Fingerprint(Box<fingerprint::Args>),
    /// Say how many grams of what to mix for a colour, and what to add after a first drawdown
    Recipe(Box<recipe::Args>),
    /// Take the press's gain curve from a wedge, typed or scanned
    Wedge(wedge::Args),
    /// Write a sheet: for the press, the client, the ink kitchen or the screen room
    Sheet(sheet::Args),
    /// Write the client's proof (PDF)
    ClientProof(client_proof::Args),
    /// Do the whole job on the demo artwork and write everything into a folder
    Demo(demo::Args),
    /// Separate a picture into screens and save the job
    Separate(Box<separate::Args>),
    /// Write what the shirt will look like as a PNG
    Proof(proof::Args),
    /// Say what a job holds and how near its print comes to the artwork
    Inspect(inspect::Args),
    /// Change the screens of a job, or its list of edits
    Edit(Box<edit::Args>),
    /// Keep, list and bring back named versions of a job
    Versions(versions::Args),
    /// Save what is left of a damaged job, and say what is not
    Recover(recover::Args),
    /// Write all that the shop profile asks for of a job: films, sheets, proof
    Make(make::Args),
    /// Make films: one 1-bit TIFF per screen and a PDF with one page per screen
    Films(Box<films::Args>),
    /// Compare sets of films by what their dots print, and choose one
    FilmSets(film_sets::Args),
    /// Make a client's picture ready at print size and say what it is worth there
    Prepare(Box<prepare::Args>),
    /// Redraw flat art as outlines and write them as an SVG
    Redraw(redraw::Args),
    /// Say what has changed since a job was printed, and make it ready to print again, the same or updated
    Reorder(reorder::Args),
    /// Write down a run: shirts, misprints, refills, what was changed on press, grams of ink
    Run(run::Args),
    /// Write each screen as a 16-bit grey PNG, ink black on white
    Screens(screens::Args),
    /// Suggest inks from the shelf, with the reason for each
    Suggest(suggest::Args),
    /// Show or change the ticket: client, order, due date, placement, sizes, notes
    Ticket(ticket::Args),
    /// Show, export or import the shop profile
    Profile(profile::Args),
    /// Write man pages and shell completions into a folder
    Extras(extras::Args),
    /// Draw the SVG or PDF on standard input: what the program starts itself with, nothing for people
    #[command(name = DRAW_ART, hide = true)]
    DrawArt,
}

impl Verb {
    /// The files that it reads and writes.
    fn files(&self) -> anyhow::Result<Files> {
        Ok(match self {
            Self::Compare(args) => args.files(),
            Self::Costs(args) => args.files(),
            Self::Calibrate(args) => args.files(),
            Self::Check(args) => args.files(),
            Self::Garments(args) => args.files(),
            Self::Jobs(args) => args.files(),
            Self::Make(args) => args.files(),
            Self::Measure(args) => args.files(),
            Self::Fingerprint(args) => args.files(),
            Self::Recipe(args) => args.files(),
            Self::Wedge(args) => args.files(),
            Self::Sheet(args) => args.files(),
            Self::ClientProof(args) => args.files(),
            Self::Demo(args) => args.files(),
            Self::Separate(args) => args.files(),
            Self::Proof(args) => args.files(),
            Self::Inspect(args) => args.files(),
            Self::Profile(args) => args.files()?,
            Self::Edit(args) => args.files(),
            Self::Versions(args) => args.files(),
            Self::Recover(args) => args.files(),
            Self::FilmSets(args) => args.files(),
            Self::Films(args) => args.files(),
            Self::Prepare(args) => args.files(),
            Self::Redraw(args) => args.files(),
            Self::Reorder(args) => args.files(),
            Self::Run(args) => args.files(),
            Self::Screens(args) => args.files(),
            Self::Suggest(args) => args.files(),
            Self::Quote(args) => args.files(),
            Self::Ticket(args) => args.files(),
            Self::Extras(args) => args.files(),
            Self::DrawArt => Files::default(),
        })
    }

    /// Does it.
    pub fn run(self, terminal: &Terminal) -> anyhow::Result<Report> {
        self.files()?.check(terminal.overwrite())?;
        match self {
            Self::Compare(args) => compare::run(args, terminal),
            Self::Costs(args) => costs::run(args, terminal),
            Self::Calibrate(args) => calibrate::run(args, terminal),
            Self::Check(args) => check::run(args, terminal),
            Self::Garments(args) => garments::run(args, terminal),
            Self::Jobs(args) => jobs::run(args, terminal),
            Self::Make(args) => make::run(args, terminal),
            Self::Measure(args) => measure::run(args, terminal),
            Self::Fingerprint(args) => fingerprint::run(*args, terminal),
            Self::Recipe(args) => recipe::run(*args, terminal),
            Self::Wedge(args) => wedge::run(args, terminal),
            Self::Sheet(args) => sheet::run(args, terminal),
            Self::ClientProof(args) => client_proof::run(args, terminal),
            Self::Demo(args) => demo::run(args, terminal),
            Self::Separate(args) => separate::run(*args, terminal),
            Self::Proof(args) => proof::run(args, terminal),
            Self::Inspect(args) => inspect::run(args, terminal),
            Self::Profile(args) => profile::run(args, terminal),
            Self::Edit(args) => edit::run(*args, terminal),
            Self::Versions(args) => versions::run(args, terminal),
            Self::Recover(args) => recover::run(args, terminal),
            Self::FilmSets(args) => film_sets::run(args, terminal),
            Self::Films(args) => films::run(*args, terminal),
            Self::Prepare(args) => prepare::run(*args, terminal),
            Self::Redraw(args) => redraw::run(args, terminal),
            Self::Reorder(args) => reorder::run(args, terminal),
            Self::Run(args) => run::run(args, terminal),
            Self::Screens(args) => screens::run(args, terminal),
            Self::Suggest(args) => suggest::run(args, terminal),
            Self::Quote(args) => quote::run(args, terminal),
            Self::Ticket(args) => ticket::run(args, terminal),
            Self::Extras(args) => extras::run(args, terminal),
            Self::DrawArt => unreachable!("main does it before there is a terminal"),
        }
    }
}
