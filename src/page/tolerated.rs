//! What every tile tolerates, worked out in idle slices once it is the colour shown, and dropped when an input moves: the bound of every tile,
//! then the picked tile by radius and depth, whose answer stays.

use super::app::{App, now_ms};
use super::model::{Solved, Tolerated};
use crate::assess::tolerable::solved::{Basis, Solving};
use crate::assess::tolerable::{Asked, Sizes, bound};
use std::rc::Rc;

/// Tiles of a slice: lanes that finish early take the next.
const SLICE: usize = 16;
/// A slice of idle work ends after so long, ms.
const BUDGET_MS: f64 = 12.0;
/// What came in is shown this often at most, ms.
const SHOW_MS: f64 = 400.0;

/// The work of one revision and one cavity.
pub struct Tolerating {
    key: (u64, Asked),
    rows: Rc<Vec<Option<Sizes>>>,
    /// Tiles by radius and depth, as far as they were picked, and the one under way.
    solved: Rc<Solved>,
    own: Option<(usize, Solving)>,
    shown_ms: f64,
}

impl App {
    fn tolerating(&self) -> Option<&Tolerating> {
        self.tolerating.as_ref().filter(|work| work.key == (self.revision, self.scenario.view.cavity))
    }

    /// Whether something is left to work out; begins it.
    pub(super) fn tolerates(&mut self) -> bool {
        if !self.scenario.view.colour.is_tolerated() || !self.is_full() {
            return false;
        }
        if self.tolerating().is_none() {
            let key = (self.revision, self.scenario.view.cavity);
            self.tolerating = Some(Tolerating { key, rows: Rc::default(), solved: Rc::default(), own: None, shown_ms: now_ms() });
        }
        let Some(work) = self.tolerating() else { return false };
        let asked = |tile: usize| matches!(work.rows.get(tile), Some(Some(_))) && !work.solved.contains_key(&tile);
        work.rows.len() < self.shield.tiles.len() || self.picked.is_some_and(asked)
    }

    /// One slice; whether it was the last.
    pub(super) fn tolerate_slice(&mut self) -> bool {
        let Some(mut work) = self.tolerating.take() else { return true };
        let finished = if work.rows.len() < self.shield.tiles.len() { self.bound_slice(&mut work) } else { self.own_slice(&mut work) };
        self.tolerating = Some(work);
        finished
    }

    fn bound_slice(&self, work: &mut Tolerating) -> bool {
        let all = self.shield.tiles.len();
        let (Ok(setup), Some(results)) = (self.setup(), self.results.as_ref()) else { return true };
        let began = now_ms();
        let rows = Rc::make_mut(&mut work.rows);
        while rows.len() < all && now_ms() - began < BUDGET_MS {
            let tiles: Vec<usize> = (rows.len()..all.min(rows.len() + SLICE)).collect();
            rows.extend(bound::solve(&setup, &results.assessment, &self.prepared.effects, work.key.1, &tiles));
        }
        rows.len() >= all
    }

    /// One run of the picked tile.
    fn own_slice(&self, work: &mut Tolerating) -> bool {
        let (Some(tile), Some(results)) = (self.picked, self.results.as_ref()) else { return true };
        let (Some(result), Some(Some(bound))) = (results.assessment.tiles.get(tile), work.rows.get(tile)) else { return true };
        let basis =
            Basis { shield: &self.shield, scenario: &self.scenario, prepared: &self.prepared, effects: &self.prepared.effects, result };
        if work.own.as_ref().is_none_or(|(own, _)| *own != tile) {
            work.own = Some((tile, Solving::new(basis, work.key.1, tile, bound)));
        }
        let Some((_, solving)) = &mut work.own else { return true };
        let Some(answer) = solving.step(basis).map_err(|error| error.to_string()).transpose() else { return false };
        Rc::make_mut(&mut work.solved).insert(tile, answer);
        true
    }

    /// Whether a frame should show how far the work is.
    pub(super) fn shows_tolerated(&mut self) -> bool {
        let now = now_ms();
        let late = self.tolerating.as_mut().filter(|work| now - work.shown_ms > SHOW_MS);
        late.map(|work| work.shown_ms = now).is_some() && self.scenario.view.colour.is_tolerated()
    }

    /// What the panels show, while it is the colour.
    pub(super) fn tolerated(&self) -> Option<Tolerated> {
        let asked = self.scenario.view.cavity;
        if !self.scenario.view.colour.is_tolerated() {
            return None;
        }
        let total = self.shield.tiles.len();
        let (rows, solved) = self.tolerating().map(|work| (work.rows.clone(), work.solved.clone())).unwrap_or_default();
        Some(Tolerated { asked, rows, total, solved })
    }
}
