//! The workbench as a person uses it: keys, pointer, what is said and what is drawn. One program, since a link of
//! the whole window takes seconds.

#![allow(clippy::unwrap_used, reason = "helpers of tests")]

mod art_cards;
mod bench;
mod commands;
mod common;
mod day;
mod drags;
mod film_cards;
mod findings;
mod garments;
mod ink_room;
mod lantern;
mod narrow;
mod rooms;
mod runs;
mod separation;
mod sheets;
mod snapshots;
mod ticket;
mod tuning;
mod warm;
