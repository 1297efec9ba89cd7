//! The native front: the commands of the reference.
//!
//! | file | idea |
//! | --- | --- |
//! | `spot`, `fly`, `coupon`, `assess`, `size`, `demo` | one command each: its options and what it does with them |
//! | `histories` | histories.parquet, with the feature `parquet` |
//! | `depth` | every tile in depth, on all processors |
//! | `damage` | findings and their temperatures, on all processors |
//! | `tolerable` | tolerable cavities of every tile, on all processors |
//! | `problem` | what the option parser found, told as every other error |
//! | `files` | reading inputs, writing results whole or not at all |
//! | `vehicle` | the files of a vehicle from a folder, a zip or a GLB |
//!
//! A command is a clap `Args` struct and `run(args) -> Result<(), Error>`; this file alone prints errors and chooses the exit code.

use clap::{Parser, Subcommand};
use std::ffi::OsString;

pub mod assess;
pub mod coupon;
pub mod damage;
pub mod demo;
pub mod depth;
pub mod files;
pub mod fly;
#[cfg(feature = "parquet")]
mod histories;
mod problem;
pub mod size;
pub mod spot;
pub mod tolerable;
pub mod vehicle;

#[derive(Parser)]
#[command(
    name = "tileglow",
    version = crate::VERSION,
    about = "Heat-shield engineering for reusable entry vehicles: every tile's temperatures, margins and condition",
    after_help = "Results are advice to a qualified engineer. Numbers are SI, or carry a unit: 71km, 400000ft, 24000ft/s.",
    disable_help_subcommand = true
)]
struct Line {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// One flight point: the air, the reference heating and the wall temperature (JSON)
    Spot(spot::Args),
    /// One entry: fly it, or complete an imported trajectory (CSV)
    Fly(fly::Args),
    /// One stack under a prescribed exposure, compared with its thermocouples (JSON)
    Coupon(coupon::Args),
    /// The whole shield: every tile's temperatures and margins
    Assess(assess::Args),
    /// The whole shield: the thickness that every tile needs, and its mass
    Size(size::Args),
    /// Write the demonstration vehicle, its scenario and its findings into a folder
    Demo(demo::Args),
}

/// Runs one command line (the program's name first); returns the exit code: 0, 1 for a failed computation, 2 for bad input.
pub fn run(arguments: impl Iterator<Item = OsString>) -> i32 {
    let line = match Line::try_parse_from(arguments) {
        Ok(line) => line,
        Err(told) if !told.use_stderr() => {
            return if files::print(&told.to_string()).is_ok() { 0 } else { 1 };
        }
        Err(told) => {
            let error = problem::error_of(&told);
            eprintln!("{error}");
            return error.exit_code();
        }
    };
    let result = match line.command {
        Command::Spot(args) => spot::run(args),
        Command::Fly(args) => fly::run(args),
        Command::Coupon(args) => coupon::run(args),
        Command::Assess(args) => assess::run(args),
        Command::Size(args) => size::run(args),
        Command::Demo(args) => demo::run(args),
    };
    match result {
        Ok(()) => 0,
        Err(error) => {
            eprintln!("{error}");
            error.exit_code()
        }
    }
}
