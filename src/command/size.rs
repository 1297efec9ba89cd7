//! `tileglow size`: the whole shield, the thickness that every tile needs and what it weighs.

use super::assess::{Inputs, apart, inputs, warn};
use super::files::{self, Folder};
use crate::assess::depth::{Setup, Tables};
use crate::assess::{self, Prepared, reach, sizing};
use crate::document::Error;
use crate::report::{size, summary, tiles};
use crate::shield::findings_csv;
use std::path::{Path, PathBuf};
use std::time::Instant;

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

/// Sizes the shield for the scenario's `sizing` and writes tiles.csv with the required thickness, and the summary with area and mass by zone.
///
/// # Errors
/// Bad input of any file; nothing is written then.
pub fn run(args: Args) -> Result<(), Error> {
    let mut folder = args.out.as_deref().map(Folder::open).transpose()?;
    if let Some(out) = &args.out {
        apart(out, args.vehicle.as_deref())?;
        apart(out, args.scenario.as_deref().and_then(Path::parent))?;
    }
    let start = Instant::now();
    let Inputs { shield, scenario } = inputs(args.vehicle.as_deref(), args.scenario.as_deref())?;
    let prepared = Prepared::new(&shield, &scenario)?;
    let findings = assess::findings(&shield, &scenario)?;
    let ready = start.elapsed().as_secs_f64();
    let tables = Tables::of(&shield.library);
    let setup = Setup::new(&shield, &scenario, &prepared, &tables)?;
    let depth = super::depth::solve(&setup);
    let mut assessment = assess::with_depth(&setup, &findings, &depth);
    assess::settle(&prepared, &mut assessment);
    let count = shield.tiles.len();
    let reached = super::depth::sliced(count, |tiles| reach::solve(&setup, &assessment, &depth, tiles));
    reach::apply(&mut assessment, &reached);
    let solved = start.elapsed().as_secs_f64();
    let sized = super::depth::sliced(count, |tiles| sizing::solve(&setup, &assessment, &depth, tiles));
    assessment.warnings.extend(size::warnings(&shield, &scenario, &sized));
    let table = tiles::sized_csv(&shield, &scenario, &assessment, &sized);
    let stages = [("vehicle and flight", ready), ("in depth", solved - ready), ("sizing", start.elapsed().as_secs_f64() - solved)];
    let stages = stages.map(|(name, s)| (name.to_string(), s));
    let document = size::with_sizing(
        summary::summary(&shield, &scenario, &assessment, None, &table, &stages),
        &shield,
        &scenario,
        &assessment,
        &sized,
    );
    match &mut folder {
        Some(folder) => {
            let found = findings_csv(&findings, &shield.tiles);
            folder.write(&[
                ("tiles.csv", table.as_bytes()),
                ("findings.csv", found.as_bytes()),
                ("summary.json", document.pretty().as_bytes()),
            ])?;
        }
        None => files::print(&size::text(&shield, &scenario, &assessment, &sized, &document))?,
    }
    warn(&shield, &assessment);
    Ok(())
}
