//! What solves slices of tiles in depth: the same for a worker and for the page's own thread.
//!
//! A worker holds one `Solver`. The vehicle comes once, the scenario with each revision; a slice of another revision than the
//! scenario's gives nothing.

use crate::assess::depth::{Setup, Tables, TileDepth};
use crate::assess::reach::{self, Reach};
use crate::assess::rounds::{Answers, Round, Slice};
use crate::assess::{Assessment, InDepth, Peak, Prepared, TileResult};
use crate::scenario::Scenario;
use crate::shield::{Shield, VehicleFile, demo, load};
use js_sys::{Array, Float64Array, Reflect, Uint8Array};
use wasm_bindgen::prelude::*;

/// A worker's copy of the vehicle and of the scenario.
#[wasm_bindgen]
#[derive(Default)]
pub struct Solver {
    shield: Option<(Shield, Tables)>,
    revision: u64,
    scenario: Option<(Scenario, Prepared)>,
}

#[wasm_bindgen]
impl Solver {
    #[wasm_bindgen(constructor)]
    pub fn new() -> Solver {
        Solver::default()
    }

    /// Takes a vehicle: its files as `{name, bytes}`, none for the demonstration.
    ///
    /// # Errors
    /// The files are no vehicle; the page has loaded the same ones before, so that this is a defect of the page.
    pub fn vehicle(&mut self, name: &str, files: &Array) -> Result<(), JsValue> {
        let mut read = Vec::new();
        for file in files.iter() {
            let name = Reflect::get(&file, &"name".into())?.as_string().unwrap_or_default();
            read.push(VehicleFile { name, bytes: Uint8Array::new(&Reflect::get(&file, &"bytes".into())?).to_vec() });
        }
        let files = if read.is_empty() { demo::files() } else { read };
        let shield = load(&files, name).map_err(|error| JsValue::from_str(&error.to_string()))?;
        let tables = Tables::of(&shield.library);
        (self.shield, self.scenario) = (Some((shield, tables)), None);
        Ok(())
    }

    /// Takes the scenario of a revision, doing again only what changed since the one before.
    ///
    /// # Errors
    /// As for `vehicle`.
    pub fn scenario(&mut self, revision: f64, text: &str) -> Result<(), JsValue> {
        let told = |error: crate::document::Error| JsValue::from_str(&error.to_string());
        let (shield, _) = self.shield.as_ref().ok_or("a scenario before its vehicle")?;
        let scenario = Scenario::read("scenario.json", text, &[]).map_err(told)?;
        let prepared = match self.scenario.take() {
            Some((_, mut prepared)) => prepared.update(shield, &scenario).map(|()| prepared),
            None => Prepared::new(shield, &scenario),
        };
        self.scenario = Some((scenario, prepared.map_err(told)?));
        self.revision = revision as u64;
        Ok(())
    }

    /// Solves a slice; the numbers of its tiles one after the other, none where the scenario is of another revision. `known` are the
    /// numbers of [`known`], a tile after the other, in the round that searches; the entries to look at, a number of bits a tile, in that of estimates.
    pub fn slice(&self, revision: f64, round: u8, tiles: &[u32], known: &[f64]) -> Float64Array {
        let numbers = match (&self.shield, &self.scenario) {
            (Some((shield, tables)), Some((scenario, prepared))) if self.revision == revision as u64 => {
                Setup::new(shield, scenario, prepared, tables).map_or(Vec::new(), |setup| numbers(&setup, round, tiles, known))
            }
            _ => Vec::new(),
        };
        Float64Array::from(numbers.as_slice())
    }
}

/// A slice solved, as numbers: what a worker posts.
fn numbers(setup: &Setup, round: u8, tiles: &[u32], known: &[f64]) -> Vec<f64> {
    let (entries, terms) = (setup.prepared.flights.len(), setup.scenario.policy.terms.len());
    let tiles: Vec<usize> = tiles.iter().map(|tile| *tile as usize).collect();
    match round {
        0 => setup
            .estimate(&tiles, &known.iter().map(|bits| *bits as u32).collect::<Vec<_>>())
            .iter()
            .flat_map(|tile| tile.to_floats(entries, terms))
            .collect(),
        1 => setup.solve(&tiles).iter().flat_map(|tile| tile.to_floats(entries, terms)).collect(),
        _ => {
            // The rows of other tiles are not read.
            let all = setup.prepared.tiles.len();
            let mut assessment = Assessment { tiles: vec![TileResult::default(); all], ..Assessment::default() };
            let mut depth: Vec<Option<TileDepth>> = vec![None; all];
            let width = KNOWN + TileDepth::length(entries, terms);
            for (tile, numbers) in tiles.iter().zip(known.chunks_exact(width)) {
                let (row, solved) = numbers.split_at(KNOWN);
                if let (Some(result), Some(place)) = (assessment.tiles.get_mut(*tile), depth.get_mut(*tile)) {
                    *result = row_of(row).unwrap_or_default();
                    result.effective.thickness_m = setup.prepared.tiles.get(*tile).map_or(0.0, |tile| tile.thickness_m);
                    *place = TileDepth::from_floats(solved, terms);
                }
            }
            reach::solve(setup, &assessment, &depth, &tiles).into_iter().flat_map(Reach::to_floats).collect()
        }
    }
}

/// Numbers of a tile's result that its reach is searched from.
const KNOWN: usize = 12;

/// A tile's result and answer in depth, as numbers for a worker.
pub fn known(result: &TileResult, depth: &TileDepth, entries: usize, terms: usize) -> Vec<f64> {
    let number = |value: Option<f64>| value.unwrap_or(f64::NAN);
    let peak = |peak: Option<Peak>| number(peak.map(|peak| peak.temperature_k));
    let [_, bondline, structure] = result.layer_entries;
    let mut out = vec![
        f64::from(u8::from(result.in_depth == InDepth::Solved)),
        number(result.limit_bondline_k),
        number(result.limit_structure_k),
        number(result.counted_bondline_k),
        number(result.counted_structure_k),
        number(result.surface_heating_factor),
        bondline as f64,
        structure as f64,
        peak(result.bondline),
        peak(result.bondline_isolated),
        peak(result.structure),
        peak(result.structure_isolated),
    ];
    out.extend(depth.to_floats(entries, terms));
    out
}

fn row_of(numbers: &[f64]) -> Option<TileResult> {
    let (plain, peaks) = numbers.split_at_checked(KNOWN - 4)?;
    let [solved, limit_bondline, limit_structure, counted_bondline, counted_structure, factor, bondline, structure] = *plain else {
        return None;
    };
    let some = |value: f64| (!value.is_nan()).then_some(value);
    let peak_of = |at: usize| peaks.get(at).copied().and_then(some).map(|temperature_k| Peak { temperature_k, ..Peak::default() });
    Some(TileResult {
        in_depth: if solved == 1.0 { InDepth::Solved } else { InDepth::NoStack },
        limit_bondline_k: some(limit_bondline),
        limit_structure_k: some(limit_structure),
        counted_bondline_k: some(counted_bondline),
        counted_structure_k: some(counted_structure),
        surface_heating_factor: some(factor),
        layer_entries: [0, bondline as usize, structure as usize],
        bondline: peak_of(0),
        bondline_isolated: peak_of(1),
        structure: peak_of(2),
        structure_isolated: peak_of(3),
        ..TileResult::default()
    })
}

/// A slice solved where everything is at hand: the page's own thread.
/// `asked` are the entries of each tile of a slice of estimates.
pub fn solve(setup: &Setup, slice: &Slice, asked: &[u32], assessment: &Assessment, depth: &[Option<TileDepth>]) -> Answers {
    let tiles: Vec<usize> = slice.tiles.iter().map(|tile| *tile as usize).collect();
    match slice.round {
        Round::Estimate => Answers::Depth(setup.estimate(&tiles, asked)),
        Round::Full => Answers::Depth(setup.solve(&tiles)),
        Round::Reach => Answers::Reach(reach::solve(setup, assessment, depth, &tiles)),
    }
}

/// A worker's numbers read back; `None` where they are too few or make no sense.
pub fn answers(slice: &Slice, numbers: &[f64], entries: usize, terms: usize) -> Option<Answers> {
    let width = if slice.round == Round::Reach { Reach::LENGTH } else { TileDepth::length(entries, terms) };
    if numbers.len() != width * slice.tiles.len() {
        return None;
    }
    let rows = numbers.chunks_exact(width);
    Some(match slice.round {
        Round::Reach => Answers::Reach(rows.map(Reach::from_floats).collect::<Option<_>>()?),
        _ => Answers::Depth(rows.map(|row| TileDepth::from_floats(row, terms)).collect::<Option<_>>()?),
    })
}
