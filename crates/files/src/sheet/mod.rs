//! Paper for the shop and the client: press sheet (PDF and HTML), client proof, ink list, screen-room list (PDF),
//! and the proof as a picture.

mod canvas;
mod client_proof;
mod content;
mod html;
mod lists;
mod look;
mod make;
mod press_sheet;
mod shirt;
mod tagged;

pub use canvas::{Paper, SheetPdf};
pub use client_proof::{VIEWING_NOTE, client_proof_pdf};
pub use content::{Content, ScreenRow};
pub use html::press_sheet_html;
pub use lists::{ink_list_pdf, screen_room_pdf};
pub use look::look_at_page;
pub use make::{SheetError, SheetKind, SheetOf};
pub use press_sheet::press_sheet_pdf;
