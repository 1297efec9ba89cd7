//! The app's half of a guess: what stood last, kept over a slider's steps, and what it makes of the present inputs.

use super::app::App;
use crate::assess::depth::{Powers, Stood, TileDepth, guesses};
use crate::assess::{self, Assessment, Prepared};
use std::rc::Rc;

/// The last state whose margins all stood.
pub struct Standing {
    prepared: Rc<Prepared>,
    depth: Vec<Option<TileDepth>>,
    powers: Powers,
}

impl App {
    /// Before a change of inputs that moves every tile: keeps the solutions that stand, to guess from. While a slider is dragged none stand, and
    /// those from before the drag are kept.
    pub(super) fn keep_standing(&mut self) {
        let revision = self.revision;
        let stands = self.results.as_ref().is_some_and(|results| results.full);
        let Some(work) = self.work.take_if(|work| stands && work.revision == revision && work.margins_stand()) else { return };
        let powers = match (self.setup(), &self.results) {
            (Ok(setup), Some(results)) => Powers::of(&setup, &results.assessment, &work.solved, &work.reach),
            _ => None,
        };
        // Before any limit was searched for, the powers of the state before are near enough.
        let before = self.standing.take().filter(|before| before.depth.len() == work.solved.len());
        let powers = powers.or_else(|| before.map(|before| before.powers));
        self.standing = powers.map(|powers| Standing { prepared: self.prepared.clone(), depth: work.solved, powers });
    }

    /// The first results of new inputs: the surface, and a guess in depth where there is one.
    pub(super) fn first_results(&mut self) -> (Assessment, Option<Vec<Option<TileDepth>>>) {
        let guessed = self.standing.as_ref().and_then(|standing| {
            let stood = Stood { prepared: &standing.prepared, depth: &standing.depth, powers: &standing.powers };
            guesses(&stood, &self.prepared, &self.scenario.policy.terms)
        });
        let mut kept = std::mem::take(&mut self.kept);
        let assessment = match (&guessed, self.setup()) {
            (Some(depth), Ok(setup)) => assess::with_depth_keeping(&setup, &self.findings, depth, false, &mut kept),
            _ => assess::first_look(&self.shield, &self.scenario, &self.prepared, &self.findings, &mut kept),
        };
        self.kept = kept;
        (assessment, guessed)
    }
}
