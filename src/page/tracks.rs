//! The sliders' tracks: the smallest margin over an input's range, made in idle slices.
//!
//! A point of a track is a whole change of one input. It is solved on the tiles that can govern: the union of the most limiting
//! ones at both ends of the range and at the present value, each found over the whole shield, some hundred tiles a slice.

use super::model::Track;
use crate::assess::{self, Prepared};
use crate::report::inputs::{self, Input, Subject, Value};
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
    /// The most limiting tiles at the present value, once found.
    now: Option<Vec<usize>>,
    /// The input now being swept, with its document's changes prepared.
    sweep: Option<Sweep>,
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
        order.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
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
}

impl TrackMaker {
    /// All tracks of a revision, or with `of_tile` only those of the picked tile's own inputs.
    pub fn new(revision: u64, subject: Subject, scenario: &Rc<Scenario>, prepared: &Rc<Prepared>, of_tile: bool) -> TrackMaker {
        let Subject { entry, picked, .. } = subject;
        let swept = |input: &Input| input.live && matches!(input.value, Value::Number(Some(_))) && (input.of_tile || !of_tile);
        let mut inputs: Vec<Input> = inputs::inputs(subject).into_iter().filter(swept).collect();
        inputs.sort_by_key(|input| !input.lead);
        TrackMaker {
            revision,
            scenario: scenario.clone(),
            prepared: prepared.clone(),
            entry,
            picked,
            inputs,
            done: Vec::new(),
            whole: None,
            now: None,
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
        let tiles = own.into_iter().chain(self.now.iter().flatten().copied().filter(|_| !input.of_tile)).collect();
        let track = Track { input: input.id.clone(), revision: self.revision, at: Vec::new(), margin_k: Vec::new() };
        Sweep { input, ends, tiles, track, point: 0 }
    }

    /// One slice of work; whether all tracks are made.
    pub fn step(&mut self, shield: &Shield) -> bool {
        if let Some(whole) = &mut self.whole {
            let Some(limiting) = whole.step(shield) else { return false };
            self.whole = None;
            match &mut self.sweep {
                Some(sweep) => sweep.tiles.extend(limiting),
                None => self.now = Some(limiting),
            }
            return false;
        }
        let Some(mut sweep) = self.sweep.take() else {
            let Some(input) = self.inputs.get(self.done.len()).cloned() else { return true };
            if self.now.is_none() && !input.of_tile {
                self.whole = Some(Whole { scenario: (*self.scenario).clone(), prepared: self.prepared.clone(), margins: Vec::new() });
            } else {
                self.sweep = Some(self.begin(input));
            }
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
        let tiles: Vec<usize> = sweep.tiles.iter().copied().collect();
        let margin = (self.changed(shield, &sweep.input.id, value))
            .and_then(|(scenario, prepared)| assess::smallest_margin(shield, &scenario, &prepared, &tiles));
        if let Some(margin) = margin {
            sweep.track.at.push(value);
            sweep.track.margin_k.push(margin);
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
