//! Paper for the shop and the client: the press sheet (PDF and HTML) and the client's proof (PDF).

mod canvas;
mod client_proof;
mod content;
mod html;
mod press_sheet;
mod shirt;
mod tagged;

pub use canvas::{Paper, SheetPdf};
pub use client_proof::{VIEWING_NOTE, client_proof_pdf};
pub use content::{Content, ScreenRow};
pub use html::press_sheet_html;
pub use press_sheet::press_sheet_pdf;
