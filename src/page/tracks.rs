//! The sliders' tracks: the smallest margin over an input's range, made in idle slices.
//!
//! A point of a track is a whole change of one input. It is solved on the tiles that can govern: the most limiting ones at the present value and
//! the worst of each zone, in depth; and the most limiting surfaces at both ends of the range, found over the whole shield.

use super::model::Track;
use crate::assess::depth::{Setup, Tables};
use crate::assess::{self, Assessment, Prepared};
use crate::document::Sorting as _;
use crate::report::inputs::{self, Input, Subject, Value};
use crate::report::summary;
use crate::scenario::Scenario;
use crate::shield::Shield;
use std::collections::BTreeSet;
use std::rc::Rc;

/// Points of a track, ends included.
const POINTS: usize = 13;
/// Limiting tiles kept from each of the three whole solutions.
const LIMITING: usize = 16;
/// Tiles of a whole solution that one slice solves: a slice stays within a frame's time.
const SLICE: usize = 256;
/// Tiles that one slice solves in depth.
const DEEP: usize = 16;

/// Work that is left for one revision of the inputs.
pub struct TrackMaker {
    revision: u64,
    scenario: Rc<Scenario>,
    prepared: Rc<Prepared>,
    entry: usize,
    picked: Option<usize>,
    inputs: Vec<Input>,
    done: Vec<Track>,
    /// The whole solution under way.
    whole: Option<Whole>,
    /// The present results and the tiles that can govern by them.
    results: Rc<Assessment>,
    tables: Rc<Tables>,
    now: Vec<usize>,
    /// The input now being swept, with its document's changes prepared.
    sweep: Option<Sweep>,
}

/// What tracks are made from.
pub struct From<'a> {
    pub scenario: &'a Rc<Scenario>,
    pub prepared: &'a Rc<Prepared>,
    pub results: &'a Rc<Assessment>,
    pub tables: &'a Rc<Tables>,
}

/// A solution of the whole shield, made in slices.
struct Whole {
    scenario: Scenario,
    prepared: Rc<Prepared>,
    margins: Vec<Option<f64>>,
}

impl Whole {
    /// One slice; the most limiting tiles when it was the last.
    fn step(&mut self, shield: &Shield) -> Option<Vec<usize>> {
        let from = self.margins.len();
        self.margins.extend(assess::margins(shield, &self.scenario, &self.prepared, from..from + SLICE));
        if self.margins.len() > from && self.margins.len() < shield.tiles.len() {
            return None;
        }
        let mut order: Vec<(f64, usize)> = self.margins.iter().enumerate().filter_map(|(tile, margin)| Some(((*margin)?, tile))).collect();
        order.order_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        Some(order.into_iter().take(LIMITING).map(|(_, tile)| tile).collect())
    }
}

/// One input's sweep.
struct Sweep {
    input: Input,
    /// Ends of the range whose limiting tiles are still to be found.
    ends: Vec<f64>,
    /// Tiles that can govern.
    tiles: BTreeSet<usize>,
    track: Track,
    point: usize,
    /// The point under way: its scenario, the tiles that are still to be solved in depth, the smallest margin so far.
    under_way: Option<Point>,
}

/// One point of a track under way.
struct Point {
    scenario: Scenario,
    prepared: Prepared,
    left: Vec<usize>,
    margin_k: Option<f64>,
}

/// Tiles that can govern by the present results: the most limiting, and the worst of each zone.
fn governing(shield: &Shield, results: &Assessment) -> Vec<usize> {
    let order = summary::limiting(results);
    let mut zones: Vec<&str> = Vec::new();
    let mut tiles: Vec<usize> = order.iter().copied().take(LIMITING).collect();
    for tile in order {
        let zone = shield.tiles.get(tile).map_or("", |tile| tile.zone.as_str());
        if !zones.contains(&zone) {
            zones.push(zone);
            tiles.push(tile);
        }
    }
    tiles
}

impl TrackMaker {
    /// All tracks of a revision, or with `of_tile` only those of the picked tile's own inputs.
    pub fn new(revision: u64, subject: Subject, from: From, of_tile: bool) -> TrackMaker {
        let Subject { entry, picked, .. } = subject;
        let swept = |input: &Input| input.live && matches!(input.value, Value::Number(Some(_))) && (input.of_tile || !of_tile);
        let mut inputs: Vec<Input> = inputs::inputs(subject).into_iter().filter(swept).collect();
        inputs.order_by_key(|input| !input.lead);
        TrackMaker {
            revision,
            scenario: from.scenario.clone(),
            prepared: from.prepared.clone(),
            now: governing(subject.shield, from.results),
            results: from.results.clone(),
            tables: from.tables.clone(),
            entry,
            picked,
            inputs,
            done: Vec::new(),
            whole: None,
            sweep: None,
        }
    }

    /// The tracks made so far.
    pub fn tracks(&self) -> Vec<Track> {
        self.done.iter().filter(|track| track.at.len() == POINTS).cloned().collect()
    }

    /// The scenario with one input set, and what it prepares to.
    fn changed(&self, shield: &Shield, id: &str, value: f64) -> Option<(Scenario, Prepared)> {
        let subject = Subject { shield, scenario: &self.scenario, entry: self.entry, picked: self.picked };
        let scenario = inputs::with(subject, id, value)?;
        let mut prepared = (*self.prepared).clone();
        prepared.update(shield, &scenario).ok()?;
        Some((scenario, prepared))
    }

    fn begin(&self, input: Input) -> Sweep {
        let own = self.picked.filter(|_| input.of_tile);
        let ends = if input.of_tile { Vec::new() } else { vec![input.high, input.low] };
        let tiles = own.into_iter().chain(self.now.iter().copied().filter(|_| !input.of_tile)).collect();
        let track = Track { input: input.id.clone(), revision: self.revision, at: Vec::new(), margin_k: Vec::new() };
        Sweep { input, ends, tiles, track, point: 0, under_way: None }
    }

    /// One slice of work; whether all tracks are made.
    pub fn step(&mut self, shield: &Shield) -> bool {
        if let Some(whole) = &mut self.whole {
            let Some(limiting) = whole.step(shield) else { return false };
            self.whole = None;
            if let Some(sweep) = &mut self.sweep {
                sweep.tiles.extend(limiting);
            }
            return false;
        }
        let Some(mut sweep) = self.sweep.take() else {
            let Some(input) = self.inputs.get(self.done.len()).cloned() else { return true };
            self.sweep = Some(self.begin(input));
            return false;
        };
        if let Some(end) = sweep.ends.pop() {
            self.whole = self.changed(shield, &sweep.input.id, end).map(|(scenario, prepared)| Whole {
                scenario,
                prepared: Rc::new(prepared),
                margins: Vec::new(),
            });
            self.sweep = Some(sweep);
            return false;
        }
        let value = sweep.input.low + (sweep.input.high - sweep.input.low) * sweep.point as f64 / (POINTS - 1) as f64;
        let point = match sweep.under_way.take() {
            Some(point) => Some(point),
            None => self.changed(shield, &sweep.input.id, value).map(|(scenario, prepared)| {
                let left: Vec<usize> = sweep.tiles.iter().copied().collect();
                let margin_k = assess::smallest_margin(shield, &scenario, &prepared, &left);
                Point { scenario, prepared, left, margin_k }
            }),
        };
        if let Some(mut point) = point {
            let tiles = point.left.split_off(point.left.len().saturating_sub(DEEP));
            let brought_k: Vec<[f64; 2]> =
                tiles.iter().map(|tile| self.results.tiles.get(*tile).map_or([0.0; 2], |t| t.brought_k())).collect();
            let margin_k = Setup::new(shield, &point.scenario, &point.prepared, &self.tables)
                .ok()
                .and_then(|setup| assess::smallest_margin_in_depth(&setup, &tiles, &brought_k));
            point.margin_k = [point.margin_k, margin_k].into_iter().flatten().reduce(f64::min);
            if !point.left.is_empty() {
                sweep.under_way = Some(point);
                self.sweep = Some(sweep);
                return false;
            }
            if let Some(margin_k) = point.margin_k {
                sweep.track.at.push(value);
                sweep.track.margin_k.push(margin_k);
            }
        }
        sweep.point += 1;
        if sweep.point < POINTS {
            self.sweep = Some(sweep);
            return false;
        }
        self.done.push(sweep.track);
        self.done.len() == self.inputs.len()
    }
}
