//! Ink recipes by the gram: which components of the ink room, and how much of each, give a wanted colour.
//! Two-constant theory of Kubelka and Munk (1931; Kubelka 1948) with Saunderson's correction (1942), band by
//! band; see `docs/recipes.md`.

mod batch;
mod bench;
mod correct;
mod film;
mod find;
mod room;
mod shares;
mod wanted;

pub use batch::{Amount, Batch, cost};
pub use bench::Bench;
pub use correct::{Correction, correct};
pub use film::{Film, Surface};
pub use find::{Asked, Recipe, RecipeError, recipe};
pub use room::{Component, Drawdown, InkRoom, MOST_COMPONENTS, RoomError};
pub use wanted::{Bands, Wanted};
