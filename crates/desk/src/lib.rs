//! The workbench: views, commands and background work on `egui`. It opens no window itself.
