//! `tileglow size`: the whole shield, the thickness that every tile needs.

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

pub fn run(_args: Args) -> Result<(), Error> {
    Err(Error::failed("\"size\" is not built yet"))
}
