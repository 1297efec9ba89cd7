//! The app's half of sizing: the thickness that each tile needs, worked out in idle slices once it was asked for.

use super::app::{App, now_ms};
use super::model::Sized;
use crate::assess::sizing::{self, Sizing};
use crate::report::thickness;
use crate::scenario::Scenario;
use std::rc::Rc;

/// Tiles of a slice: lanes that finish early take the next.
const SLICE: usize = 16;
/// A slice of idle work ends after so long, ms.
const BUDGET_MS: f64 = 8.0;

/// The work of one revision.
pub struct Sizer {
    revision: u64,
    rows: Rc<Vec<Sizing>>,
}

impl App {
    /// Asks for the sizes of the present inputs.
    pub(super) fn begin_sizing(&mut self) {
        self.sizer = Some(Sizer { revision: self.revision, rows: Rc::default() });
    }

    fn sizer(&self) -> Option<&Sizer> {
        self.sizer.as_ref().filter(|sizer| sizer.revision == self.revision)
    }

    pub(super) fn sizes(&self) -> bool {
        self.is_full() && self.sizer().is_some_and(|sizer| sizer.rows.len() < self.shield.tiles.len())
    }

    /// One slice; whether it was the last.
    pub(super) fn size_slice(&mut self) -> bool {
        let Some(sizer) = self.sizer() else { return true };
        let mut rows = sizer.rows.clone();
        let all = self.shield.tiles.len();
        let began = now_ms();
        while rows.len() < all && now_ms() - began < BUDGET_MS {
            let tiles: Vec<usize> = (rows.len()..all.min(rows.len() + SLICE)).collect();
            let (Ok(setup), Some(work), Some(results)) = (self.setup(), self.work.as_ref(), self.results.as_ref()) else { return true };
            let solved = sizing::solve(&setup, &results.assessment, &work.solved, &tiles);
            Rc::make_mut(&mut rows).extend(solved);
        }
        let finished = rows.len() >= all;
        self.sizer = Some(Sizer { revision: self.revision, rows });
        finished
    }

    /// What the panel shows.
    pub(super) fn sized(&self) -> Option<Sized> {
        self.sizer().map(|sizer| Sized { rows: sizer.rows.clone(), total: self.shield.tiles.len() })
    }

    /// The scenario with the sizes in it, once they all stand.
    pub(super) fn sized_scenario(&self) -> Option<Scenario> {
        let sizer = self.sizer().filter(|sizer| sizer.rows.len() == self.shield.tiles.len())?;
        let results = self.results.as_ref()?;
        Some(thickness::taken_over(&self.shield, &results.assessment, &self.scenario, &sizer.rows))
    }
}
