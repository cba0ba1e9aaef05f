//! Nothing but a home for `tests/levels.rs`: every kernel on made-up input, its bytes equal on every processor.
