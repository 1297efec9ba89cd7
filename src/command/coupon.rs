//! `tileglow coupon`: one stack under a prescribed exposure, compared with its traces and fitted to them.

use crate::document::Error;
use crate::material::Library;
use crate::tile::coupon::{Input, Outcome, coupon};
use crate::tile::face::EquilibriumAir;
use std::path::Path;

/// Reads the files, solves the case, and returns everything that its outputs need. The text for stdout or `result.json` is
/// `outcome.json.pretty()`; `outcome.warnings` go to stderr.
///
/// # Errors
/// Bad input where a file is missing, a folder, or wrong inside; a failed computation where the run cannot be solved.
pub fn solve(case: &Path, measured: Option<&Path>, names: &[String]) -> Result<Outcome, Error> {
    let case_bytes = read(case)?;
    let measured_bytes = measured.map(read).transpose()?;
    let (case_name, measured_name) = (case.display().to_string(), measured.map(|path| path.display().to_string()));
    let measured = measured_bytes.as_deref().zip(measured_name.as_deref()).map(|(bytes, name)| Input { name, bytes });
    coupon(Input { name: &case_name, bytes: &case_bytes }, measured, names, &Library::built_in(), &EquilibriumAir)
}

fn read(path: &Path) -> Result<Vec<u8>, Error> {
    if path.is_dir() {
        return Err(Error::bad(format!("{:?} is a folder", path.display().to_string()), "a file"));
    }
    std::fs::read(path)
        .map_err(|error| Error::bad(format!("cannot read {:?}: {error}", path.display().to_string()), "a file that can be read"))
}
