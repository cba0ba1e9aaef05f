//! The program as a process: its verbs, what they say and write, and what is left when they are stopped.

#![allow(clippy::unwrap_used, reason = "helpers of tests")]

mod day_verbs;
mod guide;
mod killed_sets;
mod numbers;
mod output;
mod overwrite;
mod press_verbs;
mod same_sheets;
mod shop;
mod verbs;
mod writers;
