//! `tileglow assess`: the whole shield, every tile's temperatures and margins.

use super::files::{self, Folder};
use super::vehicle::read_vehicle;
use crate::assess::depth::{Setup, Tables};
use crate::assess::{self, Assessment, Prepared};
use crate::document::Error;
use crate::report::work::work_csv;
use crate::report::{self, brief, summary, tiles};
use crate::scenario::Scenario;
use crate::shield::{Shield, VehicleFile, demo, findings_csv, load};
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
    /// Also write histories.parquet
    #[arg(long)]
    pub histories: bool,
    /// Also solve what each finding does to its tile, by radius and depth: damage.csv, present.csv, effects.csv
    #[arg(long)]
    pub damage: bool,
    /// Also search, for every tile, the deepest cavity of this length and the longest of this depth that keep its margin: tolerable.csv
    #[arg(long, value_name = "LENGTH,DEPTH", allow_hyphen_values = true)]
    pub tolerable: Option<String>,
    /// With --tolerable: the full-area bound alone, in seconds instead of minutes
    #[arg(long, requires = "tolerable")]
    pub bound: bool,
    /// Also write body_points.csv: the shield's own local factors as a table that a vehicle can carry
    #[arg(long)]
    pub body_points: bool,
    /// Write the results into this folder instead of a summary to stdout
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
}

/// A vehicle and a scenario, read and matched.
pub struct Inputs {
    pub shield: Shield,
    pub scenario: Scenario,
}

/// Reads the vehicle and the scenario that a command names, the demonstration's for what it does not.
///
/// # Errors
/// Every problem of the files; a scenario for another vehicle than the demonstration where no vehicle is given.
pub fn inputs(vehicle: Option<&Path>, scenario: Option<&Path>) -> Result<Inputs, Error> {
    let demonstration = Scenario::read("scenario.json", &demo::scenario_json(), &[])?;
    let scenario = match scenario {
        Some(path) => Scenario::read(&path.display().to_string(), &files::read_text(path)?, &demonstration.entries)?,
        None => demonstration,
    };
    let (files, name): (Vec<VehicleFile>, String) = match vehicle {
        Some(path) => read_vehicle(path)?,
        None if scenario.vehicle_name == "Whinchat" => (demo::files(), "Whinchat".to_string()),
        None => {
            let what = format!("the scenario is for the vehicle {:?}, and no --vehicle is given", scenario.vehicle_name);
            return Err(Error::bad(what, "--vehicle with its files, or the name \"Whinchat\" for the built-in demonstration"));
        }
    };
    let mut shield = load(&files, &name)?;
    if let Some(digest) = scenario.vehicle_digest.as_ref().filter(|digest| **digest != shield.digest) {
        shield.warnings.push(format!("the scenario was made for a vehicle of digest {digest}, this one has {}", shield.digest));
    }
    Ok(Inputs { shield, scenario })
}

/// Warnings on stderr, counted and named, after the results.
pub fn warn(shield: &Shield, assessment: &Assessment) {
    let all: Vec<String> = shield.warnings.iter().chain(&assessment.warnings).cloned().collect();
    files::warn(&all);
}

/// Results carry names that a vehicle's own files have (`tiles.csv`, `findings.csv`): they never land among a run's inputs.
///
/// # Errors
/// `out` is the folder `inputs`.
pub fn apart(out: &Path, inputs: Option<&Path>) -> Result<(), Error> {
    let Some(inputs) = inputs.map(|path| if path.as_os_str().is_empty() { Path::new(".") } else { path }) else { return Ok(()) };
    match (out.canonicalize(), inputs.canonicalize()) {
        (Ok(a), Ok(b)) if a == b => {
            Err(Error::bad(format!("--out {:?} is the folder of this run's own inputs", out.display().to_string()), "another folder"))
        }
        _ => Ok(()),
    }
}

pub fn run(args: Args) -> Result<(), Error> {
    #[cfg(not(feature = "parquet"))]
    if args.histories {
        return Err(Error::bad(
            "--histories needs a build with the feature \"parquet\", which this one lacks",
            "a build with --features parquet, or no --histories",
        ));
    }
    if args.body_points && args.out.is_none() {
        return Err(Error::bad("--body-points without --out has nowhere to write", "--out DIR beside --body-points"));
    }
    if args.histories && args.out.is_none() {
        return Err(Error::bad("--histories has no folder to write to", "--histories together with --out DIR"));
    }
    if args.damage && args.out.is_none() {
        return Err(Error::bad("--damage has no folder to write to", "--damage together with --out DIR"));
    }
    let tolerable = args.tolerable.as_deref().map(super::tolerable::asked).transpose()?;
    if tolerable.is_some() && args.out.is_none() {
        return Err(Error::bad("--tolerable has no folder to write to", "--tolerable together with --out DIR"));
    }
    let mut folder = args.out.as_deref().map(Folder::open).transpose()?;
    if let Some(out) = &args.out {
        apart(out, args.vehicle.as_deref())?;
        apart(out, args.scenario.as_deref().and_then(Path::parent))?;
    }
    let start = Instant::now();
    let Inputs { shield, scenario } = inputs(args.vehicle.as_deref(), args.scenario.as_deref())?;
    let loaded = start.elapsed().as_secs_f64();
    let prepared = Prepared::new(&shield, &scenario)?;
    let flown = start.elapsed().as_secs_f64();
    let findings = prepared.findings.clone();
    let tables = Tables::of(&shield.library);
    let setup = Setup::new(&shield, &scenario, &prepared, &tables)?;
    let depth = super::depth::solve(&setup);
    let solved = start.elapsed().as_secs_f64();
    let mut assessment = assess::with_depth(&setup, &findings, &depth);
    assess::settle(&prepared, &mut assessment);
    let reach = super::depth::sliced(shield.tiles.len(), |tiles| assess::reach::solve(&setup, &assessment, &depth, tiles));
    assess::reach::apply(&mut assessment, &reach);
    let assessed = start.elapsed().as_secs_f64();
    let table = tiles::tiles_csv(&shield, &scenario, &assessment);
    let stages =
        [("vehicle", loaded), ("flight", flown - loaded), ("in depth", solved - flown), ("surface and margins", assessed - solved)]
            .map(|(name, s)| (name.to_string(), s));
    let damage = args.damage.then(|| super::damage::tables(&shield, &scenario, &prepared, &findings, &assessment));
    let judged = damage.as_ref().map(|damage| &damage.judged);
    let summary = summary::summary(&shield, &scenario, &assessment, judged, &table, &stages);
    match &mut folder {
        Some(folder) => {
            let found = findings_csv(&findings, &shield.tiles);
            let work = assess::work::work(&shield, &scenario, &findings, judged.unwrap_or(&assessment))?;
            let work = work_csv(&shield, &findings, &work);
            let flown = report::work::flown_json(&shield, &scenario, &prepared).map(|flown| flown.pretty());
            let mut written = vec![("tiles.csv", table.as_bytes()), ("findings.csv", found.as_bytes()), ("work.csv", work.as_bytes())];
            written.extend(flown.as_ref().map(|flown| ("flown.json", flown.as_bytes())));
            #[cfg(feature = "parquet")]
            let histories = if args.histories { Some(super::histories::bytes(&setup, &depth)?) } else { None };
            #[cfg(feature = "parquet")]
            written.extend(histories.as_ref().map(|histories| ("histories.parquet", histories.as_slice())));
            let tolerable = tolerable.map(|asked| super::tolerable::table(&setup, &assessment, asked, args.bound));
            written.extend(tolerable.as_ref().map(|table| ("tolerable.csv", table.as_bytes())));
            written.extend(damage.iter().flat_map(|damage| &damage.tables).map(|(name, text)| (*name, text.as_bytes())));
            let summary = summary.pretty();
            written.push(("summary.json", summary.as_bytes()));
            let points = args.body_points.then(|| assess::points::csv(&prepared));
            written.extend(points.as_ref().map(|points| ("body_points.csv", points.as_bytes())));
            folder.write(&written)?;
        }
        None => files::print(&brief::text(&shield, &scenario, &assessment, &summary))?,
    }
    warn(&shield, &assessment);
    Ok(())
}
