//! What all views are made of: colours and type, small widgets, numbers as the window writes them.

pub mod format;
pub mod theme;
pub mod widgets;
