//! `tileglow coupon`: one stack under a prescribed exposure, compared with its traces and fitted to them.

use super::files;
use crate::document::Error;
use crate::material::Library;
use crate::tile::coupon::{Input, Outcome, coupon};
use crate::tile::face::EquilibriumAir;
use std::path::{Path, PathBuf};

#[derive(clap::Args)]
pub struct Args {
    /// The case (tileglow-coupon/1)
    #[arg(value_name = "CASE.json")]
    case: PathBuf,
    /// Thermocouple traces: time_s and a <probe>_k column each
    #[arg(long, value_name = "TRACES.csv")]
    measured: Option<PathBuf>,
    /// Fit a scale to the traces: <layer>.conductivity, <layer>.specific_heat, front.emissivity or front.flux; repeatable
    #[arg(long, value_name = "NAME", allow_hyphen_values = true)]
    fit: Vec<String>,
    /// Write result.json into this folder instead of to stdout
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
}

/// Solves the case and writes its result.
pub fn run(args: Args) -> Result<(), Error> {
    let folder = args.out.as_deref().map(files::Folder::open).transpose()?;
    let outcome = solve(&args.case, args.measured.as_deref(), &args.fit)?;
    let text = outcome.json.pretty();
    match folder {
        Some(mut folder) => folder.write(&[("result.json", text.as_bytes())])?,
        None => files::print(&text)?,
    }
    files::warn(&outcome.warnings);
    Ok(())
}

/// Reads the files, solves the case, and returns everything that its outputs need. The text for stdout or `result.json` is
/// `outcome.json.pretty()`; `outcome.warnings` go to stderr.
///
/// # Errors
/// Bad input where a file is missing, a folder, or wrong inside; a failed computation where the run cannot be solved.
pub fn solve(case: &Path, measured: Option<&Path>, names: &[String]) -> Result<Outcome, Error> {
    let case_bytes = files::read(case)?;
    let measured_bytes = measured.map(files::read).transpose()?;
    let (case_name, measured_name) = (case.display().to_string(), measured.map(|path| path.display().to_string()));
    let measured = measured_bytes.as_deref().zip(measured_name.as_deref()).map(|(bytes, name)| Input { name, bytes });
    coupon(Input { name: &case_name, bytes: &case_bytes }, measured, names, &Library::built_in(), &EquilibriumAir)
}
