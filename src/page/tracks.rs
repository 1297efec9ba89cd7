//! The sliders' tracks: the smallest margin over an input's range, made in idle slices.
//!
//! A point of a track is a whole change of one input. It is solved on the tiles that can govern: the union of the most limiting
//! ones at both ends of the range and at the present value, each found over the whole shield.

use super::model::Track;
use crate::assess::{self, Prepared};
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

/// Work that is left for one revision of the inputs.
pub struct TrackMaker {
    revision: u64,
    scenario: Rc<Scenario>,
    prepared: Rc<Prepared>,
    entry: usize,
    picked: Option<usize>,
    inputs: Vec<Input>,
    done: Vec<Track>,
    /// Tiles that can govern the input now being swept; empty before its ends were solved.
    tiles: Vec<usize>,
    now: Option<Vec<usize>>,
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
            tiles: Vec::new(),
            now: None,
            point: 0,
        }
    }

    /// The tracks made so far.
    pub fn tracks(&self) -> Vec<Track> {
        self.done.iter().filter(|track| track.at.len() == POINTS).cloned().collect()
    }

    fn solve(&self, shield: &Shield, id: &str, value: f64, tiles: Option<&[usize]>) -> Option<(f64, Vec<usize>)> {
        let subject = Subject { shield, scenario: &self.scenario, entry: self.entry, picked: self.picked };
        let scenario = inputs::with(subject, id, value)?;
        let mut prepared = (*self.prepared).clone();
        prepared.update(shield, &scenario).ok()?;
        match tiles {
            Some(tiles) => Some((assess::smallest_margin(shield, &scenario, &prepared, tiles)?, Vec::new())),
            None => {
                let assessment = assess::assess(shield, &scenario, &prepared, &[]);
                let order = summary::limiting(&assessment);
                let smallest = order.first().and_then(|tile| assessment.tiles[*tile].margin_k)?;
                Some((smallest, order.into_iter().take(LIMITING).collect()))
            }
        }
    }

    /// One slice of work; whether all tracks are made.
    pub fn step(&mut self, shield: &Shield) -> bool {
        let Some(input) = self.inputs.get(self.done.len().saturating_sub(usize::from(self.point > 0))).cloned() else { return true };
        let at = |point: usize| input.low + (input.high - input.low) * point as f64 / (POINTS - 1) as f64;
        if self.point == 0 {
            self.done.push(Track { input: input.id.clone(), revision: self.revision, at: Vec::new(), margin_k: Vec::new() });
            if input.of_tile {
                self.tiles = self.picked.into_iter().collect();
            } else {
                if self.now.is_none() {
                    let assessment = assess::assess(shield, &self.scenario, &self.prepared, &[]);
                    self.now = Some(summary::limiting(&assessment).into_iter().take(LIMITING).collect());
                }
                let ends = [at(0), at(POINTS - 1)].into_iter().filter_map(|value| self.solve(shield, &input.id, value, None));
                let tiles: BTreeSet<usize> = ends.flat_map(|(_, tiles)| tiles).chain(self.now.iter().flatten().copied()).collect();
                self.tiles = tiles.into_iter().collect();
            }
        }
        let value = at(self.point);
        let margin = self.solve(shield, &input.id, value, Some(&self.tiles)).map(|(margin, _)| margin);
        if let (Some(track), Some(margin)) = (self.done.last_mut(), margin) {
            track.at.push(value);
            track.margin_k.push(margin);
        }
        self.point = (self.point + 1) % POINTS;
        self.point == 0 && self.done.len() == self.inputs.len()
    }
}
