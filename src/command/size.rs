//! `tileglow size`: the whole shield, the thickness that every tile needs. It has no engine yet and says what is missing.

use super::files::Folder;
use crate::document::Error;
use std::path::PathBuf;

#[derive(clap::Args)]
pub struct Args {
    /// A folder, its zip, or one GLB; without it the built-in demonstration
    #[arg(long, value_name = "DIR|FILE.zip|FILE.glb")]
    pub vehicle: Option<PathBuf>,
    /// The choices (tileglow-scenario/1); without it the demonstration's
    #[arg(long, value_name = "SCENARIO.json")]
    pub scenario: Option<PathBuf>,
    /// Write the results into this folder instead of a summary to stdout
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
}

pub fn run(args: Args) -> Result<(), Error> {
    // Wrong input is told as such all the same.
    args.out.as_deref().map(Folder::open).transpose()?;
    super::assess::inputs(args.vehicle.as_deref(), args.scenario.as_deref())?;
    Err(Error::failed(
        "\"size\" cannot answer yet: a thickness follows from the glue line's and the structure's temperatures, and the whole-shield \
         assessment has no transient through the stack so far, only the surface (\"assess\"); one stack at a time is solved by \"coupon\"",
    ))
}
