//! The app's half of ground tests: a coupon's case and its traces as dropped, solved and fitted, and a fitted material taken over.

use super::app::App;
use super::model::Ground;
use crate::document::{Error, Json};
use crate::report::calibrated::calibrated;
use crate::scenario::{Change, ChangeKey, ChangeValue, Reach};
use crate::shield::{VehicleFile, demo};
use crate::tile::coupon::{Input, coupon, fit, solve};
use crate::tile::face::EquilibriumAir;
use std::rc::Rc;

/// Points of the drawn curves over a run.
const DRAWN: usize = 160;

/// A test that is open.
pub struct Test {
    case: VehicleFile,
    traces: Option<VehicleFile>,
    fitted: Vec<String>,
    shown: Option<Rc<Ground>>,
}

fn starts(file: &VehicleFile, bytes: usize) -> String {
    String::from_utf8_lossy(&file.bytes[..file.bytes.len().min(bytes)]).into_owned()
}

/// A `tileglow-coupon/1` document.
pub fn is_case(file: &VehicleFile) -> bool {
    file.name.ends_with(".json") && starts(file, 400).contains("tileglow-coupon/")
}

/// A trace: times and temperatures, and no flight.
pub fn is_trace(file: &VehicleFile) -> bool {
    let header = starts(file, 2000).lines().next().unwrap_or_default().to_lowercase();
    let mut cells = header.trim_start_matches('\u{feff}').split(',').map(|cell| cell.trim().trim_matches('"'));
    let known: Vec<&str> = cells.by_ref().collect();
    known.contains(&"time_s") && !known.iter().any(|cell| cell.starts_with("altitude") || *cell == "flight" || *cell == "tile")
}

impl App {
    /// Takes a test's files where these are one; `None` where they are something else.
    pub(super) fn open_ground(&mut self, files: &[VehicleFile]) -> Option<Result<(), Error>> {
        let case = files.iter().find(|file| is_case(file));
        let trace = files.iter().find(|file| file.name.ends_with(".csv") && is_trace(file));
        let test = match (case, trace, &self.ground) {
            (Some(case), trace, _) => Test { case: case.clone(), traces: trace.cloned(), fitted: Vec::new(), shown: None },
            (None, Some(trace), Some(open)) if files.len() == 1 => {
                Test { case: open.case.clone(), traces: Some(trace.clone()), fitted: Vec::new(), shown: None }
            }
            (None, Some(trace), None) if files.len() == 1 => {
                let why = format!("{} looks like a ground test's trace, and no test is open", trace.name);
                return Some(Err(Error::bad(why, "its CASE.json (tileglow-coupon/1) first, or both together")));
            }
            _ => return None,
        };
        Some(self.solve_ground(test))
    }

    /// Solves a test and keeps it; on an error the one before stays.
    fn solve_ground(&mut self, mut test: Test) -> Result<(), Error> {
        let library = &self.shield.library;
        let input = |file: &VehicleFile| (file.name.clone(), file.bytes.clone());
        let (name, bytes) = input(&test.case);
        let traces = test.traces.as_ref().map(input);
        let measured = traces.as_ref().map(|(name, bytes)| Input { name, bytes });
        let outcome = coupon(Input { name: &name, bytes: &bytes }, measured, &test.fitted, library, &EquilibriumAir)?;
        let drawn: Vec<f64> = (0..=DRAWN).map(|i| outcome.case.duration_s * i as f64 / DRAWN as f64).collect();
        let curves = solve::solve(&outcome.fitted, &EquilibriumAir, &drawn)?.values_k;
        let names = if outcome.traces.is_some() { fit::names(&outcome.case) } else { Vec::new() };
        let kept = self.ground.as_ref().and_then(|ground| ground.shown.as_ref()).map_or(0, |shown| shown.turn);
        test.shown = Some(Rc::new(Ground {
            turn: kept + 1,
            outcome,
            times_s: drawn,
            curves_k: curves,
            names,
            fitted: test.fitted.clone(),
            file: name,
        }));
        self.ground = Some(test);
        Ok(())
    }

    /// Fits these scales, or none.
    pub(super) fn fit_ground(&mut self, names: Vec<String>) -> Result<(), Error> {
        let Some(test) = &self.ground else { return Ok(()) };
        let test = Test { case: test.case.clone(), traces: test.traces.clone(), fitted: names, shown: None };
        self.solve_ground(test)
    }

    pub(super) fn ground(&self) -> Option<Rc<Ground>> {
        self.ground.as_ref().and_then(|ground| ground.shown.clone())
    }

    /// The result as the command writes it.
    pub(super) fn ground_json(&self) -> Option<Json> {
        self.ground().map(|ground| ground.outcome.json.clone())
    }

    /// Adds the fitted materials to the vehicle's own, each with its source, and gives them to the tiles that had the materials before.
    pub(super) fn take_ground(&mut self) -> Result<(), Error> {
        let (Some(test), Some(shown)) = (&self.ground, self.ground()) else { return Ok(()) };
        let Some(fit) = &shown.outcome.fit else { return Ok(()) };
        let case = Json::parse(&test.case.name, &String::from_utf8_lossy(&test.case.bytes))?;
        let mut files: Vec<VehicleFile> = match self.vehicle_files.is_empty() {
            true => demo::files(),
            false => self.vehicle_files.as_ref().clone(),
        };
        let own = files.iter().find(|file| file.name == "materials.json").map(|file| file.bytes.clone());
        let made = calibrated(own.as_deref(), &case, &fit.scales)?;
        if files.iter().any(|file| file.name.ends_with(".zip")) {
            return Err(Error::bad(
                "the vehicle came as a zip, to which nothing is added",
                "its folder, or the zip with this materials.json in it",
            ));
        }
        files.retain(|file| file.name != "materials.json");
        files.push(VehicleFile { name: "materials.json".to_string(), bytes: made.document.pretty().into_bytes() });
        let mut scenario = (*self.scenario).clone();
        for (before, after) in &made.renamed {
            let tiles = self.shield.tiles.iter().zip(self.prepared.tiles.iter()).filter(|(_, effective)| {
                self.shield.library.materials.get(effective.material).is_some_and(|material| material.id.eq_ignore_ascii_case(before))
            });
            let tiles: Vec<String> = tiles.map(|(tile, _)| tile.id.clone()).collect();
            if !tiles.is_empty() {
                let set = vec![(ChangeKey::Material, ChangeValue::Text(after.clone()))];
                scenario.changes.push(Change { reach: Reach::Tiles(tiles), set });
            }
        }
        files.retain(|file| file.name != "scenario.json");
        files.push(VehicleFile { name: "scenario.json".to_string(), bytes: scenario.to_json().pretty().into_bytes() });
        let name = self.shield.name.clone();
        self.open_vehicle(&files, &name)?;
        let names: Vec<String> = made.renamed.into_iter().map(|(_, after)| after.to_uppercase()).collect();
        self.said = Some(format!("{} is in the vehicle\u{2019}s materials.json and on its tiles.", names.join(", ")));
        Ok(())
    }

    /// The `materials.json` that taking over would add.
    pub(super) fn ground_materials(&self) -> Result<Json, Error> {
        let nothing = || Error::bad("nothing is fitted", "a fit of a material's property first");
        let (test, shown) = self.ground.as_ref().zip(self.ground()).ok_or_else(nothing)?;
        let fit = shown.outcome.fit.as_ref().ok_or_else(nothing)?;
        let case = Json::parse(&test.case.name, &String::from_utf8_lossy(&test.case.bytes))?;
        let own = self.vehicle_files.iter().find(|file| file.name == "materials.json").map(|file| file.bytes.as_slice());
        calibrated(own, &case, &fit.scales).map(|made| made.document)
    }
}
