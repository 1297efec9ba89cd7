//! `tileglow fly`: an entry flown, or an imported trajectory completed, as CSV.

use super::files;
use crate::document::Error;
use crate::flight::remarks::remarks;
use crate::flight::{Course, import};
use std::path::PathBuf;

#[derive(clap::Args)]
pub struct Args {
    /// An entry (tileglow-entry/1) or a trajectory (CSV, or tileglow-trajectory/1)
    #[arg(value_name = "ENTRY.json|TRAJECTORY.csv|TRAJECTORY.json")]
    input: PathBuf,
    /// Write the CSV here instead of to stdout
    #[arg(long, value_name = "TRAJECTORY.csv")]
    out: Option<PathBuf>,
}

/// Flies, writes the rows, and tells digest, models and stated error on the last line of stderr.
pub fn run(args: Args) -> Result<(), Error> {
    let file = args.input.display().to_string();
    let csv = args.input.extension().is_some_and(|extension| extension.eq_ignore_ascii_case("csv"));
    let (course, mut warnings) = if csv {
        let (trajectory, warnings) = import::read_csv(&file, &files::read(&args.input)?)?;
        (Course::Imported(trajectory), warnings)
    } else {
        (Course::parse(&file, &files::read_text(&args.input)?)?, Vec::new())
    };
    let trajectory = course.fly()?;
    warnings.extend(remarks(&course, &trajectory));
    files::deliver(args.out.as_deref(), &[&args.input], &trajectory.to_csv())?;
    files::warn(&warnings);
    let models = match &course {
        Course::Entry(_) => {
            "three degrees of freedom over a rotating sphere, Dormand-Prince 5(4); stated error 1e-6 of the flight as modelled"
        }
        Course::Imported(_) => "imported; what was missing from the U.S. Standard Atmosphere 1976 and the rows' differences",
    };
    eprintln!(
        "tileglow {}; inputs_digest {}; {}; models: {models}; reference heating by Sutton and Graves (NASA TR R-376), cold wall, radius {} m, \
         beside which other correlations lie up to 13 % higher",
        crate::VERSION,
        files::digest_of(&course.to_json()),
        trajectory.summary(),
        trajectory.nose_radius_m
    );
    Ok(())
}
