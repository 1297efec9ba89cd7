//! `tileglow demo`: writes the demonstration vehicle, its scenario and its findings.

use crate::document::Error;
use std::path::PathBuf;

#[derive(clap::Args)]
pub struct Args {
    /// A missing or empty folder, or one that an earlier run wrote
    #[arg(value_name = "DIR")]
    pub folder: PathBuf,
}

pub fn run(_args: Args) -> Result<(), Error> {
    Err(Error::failed("\"demo\" is not built yet"))
}
