//! What follows from the session and the view: a struct of slots. The window asks for what is in sight,
//! lanes work it out, and what was there stays until its successor is ready.

mod advice;
mod ahead;
mod ask;
mod costs;
mod evaluate;
mod jobs;
mod measured;
mod methods;
mod page;
mod pane;
mod paper;
mod plans;
mod quotes;
mod recipes;
mod reorder;
mod slot;
mod study;
mod sure;
mod unmet;

pub use advice::{Offer, Offers};
pub use ahead::{Plans, tint_key};
pub use ask::{Asked, jobs_key, paper_key, reorder_key, sure_key};
pub use costs::{CostsKey, Swaps};
pub use jobs::{JobsFound, JobsKey};
pub use measured::{APERTURE_MM, Measured};
pub use methods::MethodStudy;
pub use page::PageKey;
pub use pane::Pane;
pub use paper::{PaperKey, PaperPage};
pub use plans::{FilmSetShown, risk_key};
pub use quotes::{Quotes, QuotesKey};
pub use recipes::{Mixed, RecipeKey, mix_key};
pub use reorder::{ReorderKey, ReorderLook};
pub use slot::{Derive, Slot};
pub use study::{SOFT_STEPS, Study};
pub use sure::{Sure, SureKey, Uptake, UptakeKey};

use std::sync::Arc;

use egui::{Context, TextureHandle};
use strikeoff_core::findings::Outlook;
use strikeoff_core::job::Costs;
use strikeoff_files::film::FilmPlan;

use crate::background::Manner::{FinishFirst, StopAtOnce};
use crate::render::Dots;

/// Declares the struct of slots: to add a derived thing is to add a field here.
macro_rules! slots {
    ($(#[$about:meta])* $name:ident { $($(#[$doc:meta])* $field:ident: $kind:ty = $new:expr,)* }) => {
        $(#[$about])*
        pub struct $name {
            ctx: Context,
            $($(#[$doc])* pub $field: $kind,)*
        }

        impl $name {
            /// Starts all lanes.
            pub fn new(ctx: &Context) -> Self {
                Self { ctx: ctx.clone(), $($field: ($new)(ctx),)* }
            }

            fn all(&self) -> impl Iterator<Item = &dyn Derive> {
                [$(&self.$field as &dyn Derive),*].into_iter()
            }

            fn all_mut(&mut self) -> impl Iterator<Item = &mut dyn Derive> {
                [$(&mut self.$field as &mut dyn Derive),*].into_iter()
            }
        }
    };
}

/// A slot with a lane of this name, which the user may stop or not.
macro_rules! slot {
    ($name:literal, $manner:expr) => {
        |ctx: &Context| Slot::new($name, ctx, $manner)
    };
    ($name:literal, $manner:expr, stoppable) => {
        |ctx: &Context| Slot::new($name, ctx, $manner).stoppable()
    };
}

slots! {
    /// Everything that is derived.
    Derived {
        /// The page of the artwork's file that the job uses.
        page: Slot<PageKey, page::Page> = slot!("read the page", FinishFirst),
        /// Art and screens at proxy size.
        proxy: evaluate::Evaluation = slot!("evaluate", FinishFirst, stoppable),
        /// The same at full size.
        full: evaluate::Evaluation = slot!("evaluate full size", StopAtOnce, stoppable),
        /// The picture on the table.
        table: Pane = |ctx: &Context| Pane::new(ctx, "table"),
        /// The picture right of the divider.
        against: Pane = |ctx: &Context| Pane::new(ctx, "against"),
        /// What is known of the artwork.
        study: study::ArtStudy = slot!("study the artwork", StopAtOnce),
        /// Which method suits, and what prints each flat colour.
        methods: Slot<methods::MethodKey, MethodStudy> = slot!("look at methods", FinishFirst),
        /// Ink sets from the shelf.
        inks: Slot<advice::InksKey, Offers> = slot!("suggest inks", StopAtOnce, stoppable),
        /// What dropping and merging the screens costs.
        costs: Slot<CostsKey, Costs> = slot!("weigh screens", StopAtOnce, stoppable),
        /// Other inks for the chosen screen.
        swaps: Slot<costs::SwapsKey, Swaps> = slot!("try inks", StopAtOnce, stoppable),
        /// Findings and facts of the press.
        outlook: Slot<ahead::OutlookKey, Arc<Outlook>> = slot!("check", StopAtOnce, stoppable),
        /// Other orders and garments.
        plans: Slot<ahead::PlansKey, Plans> = slot!("plan", StopAtOnce, stoppable),
        /// The map of the finding that is shown.
        place: Slot<ahead::FindingKey, Option<TextureHandle>> = slot!("place of a finding", FinishFirst),
        /// A tint of the chosen screen through its mesh.
        close_up: Slot<ahead::TintKey, TextureHandle> = slot!("moire close-up", FinishFirst),
        /// How the chosen screen beats with its mesh.
        risk: Slot<plans::RiskKey, f64> = slot!("mesh risk", FinishFirst),
        /// The films that would be written.
        films: Slot<plans::FilmsKey, FilmPlan> = slot!("film plan", FinishFirst),
        /// Film sets with what their dots make.
        film_sets: Slot<plans::FilmSetsKey, Arc<Vec<plans::FilmSetShown>>> = slot!("lay dots", StopAtOnce, stoppable),
        /// What the dots under the loupe measure.
        measured: Slot<measured::MeasuredKey, Measured, Option<Dots>> = slot!("measure dots", FinishFirst),
        /// A page of a sheet as it will be written.
        paper: Slot<PaperKey, PaperPage> = slot!("draw the page", FinishFirst),
        /// Minutes and money.
        quotes: Slot<QuotesKey, Quotes> = slot!("work out the quote", FinishFirst),
        /// Jobs of the folder.
        jobs: Slot<JobsKey, JobsFound, jobs::WarmShelf> = slot!("look for jobs", FinishFirst, stoppable),
        /// What was printed beside what would be printed now.
        reorder: Slot<ReorderKey, ReorderLook> = slot!("compare the prints", StopAtOnce, stoppable),
        /// How sure the colours are.
        sure: Slot<SureKey, Sure> = slot!("how sure", FinishFirst),
        /// What using all that was measured would change.
        uptake: Slot<UptakeKey, Uptake> = slot!("try what was measured", StopAtOnce),
        /// The recipe of the ink that is looked at.
        mix: Slot<RecipeKey, Mixed> = slot!("find a recipe", StopAtOnce),
        /// What differs from the version that is looked into.
        differences: Slot<plans::DifferencesKey, Arc<Vec<String>>> = slot!("differences", FinishFirst),
    }
}

impl Derived {
    /// Takes in what the lanes have ready.
    pub fn poll(&mut self) {
        self.all_mut().for_each(|slot| {
            slot.poll();
        });
    }

    /// Whether no lane has something to do.
    pub fn is_idle(&self) -> bool {
        self.all().all(Derive::is_idle)
    }

    /// Whether the figures beside controls and the small pictures in panels are there: they take a moment.
    pub fn figures_are_idle(&self) -> bool {
        let small: [&dyn Derive; 7] =
            [&self.films, &self.risk, &self.differences, &self.close_up, &self.place, &self.paper, &self.quotes];
        small.into_iter().all(Derive::is_idle)
    }

    /// Stops the long work that runs. The pictures there stay.
    pub fn cancel(&mut self) {
        self.all_mut().for_each(Derive::cancel);
    }

    /// Forgets everything: another document comes.
    pub fn clear(&mut self) {
        self.all_mut().for_each(Derive::clear);
    }

    /// The pictures at the left and at the right of the divider.
    pub fn panes(&self) -> [&Pane; 2] {
        [&self.table, &self.against]
    }
}
