//! The app's half of the in-depth work: begins it with each revision, hands out slices, takes answers, remakes the results.

use super::app::{App, Results, now_ms};
use super::model::Progress;
use super::solver;
use crate::assess::depth::{History, Setup, TileDepth};
use crate::assess::reach::{self, Question};
use crate::assess::rounds::{Answers, Round, Slice, Work};
use crate::assess::{self, Assessment, InDepth, Prepared, TileResult};
use crate::document::Error;
use crate::shield::VehicleFile;
use std::rc::Rc;
use wasm_bindgen::JsValue;

/// So many tiles are solved on the page's own thread between an edit and the picture of it: two lane groups.
const HERE: usize = 8;

/// What a worker needs for a slice.
pub struct Job<'a> {
    pub slice: &'a Slice,
    /// What the round before found of the slice's tiles, as numbers; empty where the round needs nothing.
    pub known: &'a [f64],
    pub vehicle_digest: &'a str,
    pub vehicle_name: &'a str,
    /// None for the demonstration, which the engine makes itself.
    pub vehicle_files: &'a [VehicleFile],
    pub scenario: &'a str,
}

impl App {
    /// Everything that a solution in depth reads.
    pub(super) fn setup(&self) -> Result<Setup<'_>, Error> {
        Setup::new(&self.shield, &self.scenario, &self.prepared, &self.tables)
    }

    /// Begins the work of this revision, worst tiles first by their surface.
    pub(super) fn begin_depth(&mut self, surface: &Assessment) {
        let Ok(setup) = self.setup() else { return };
        let surface_k: Vec<f64> = surface.tiles.iter().map(|tile| tile.surface.temperature_k).collect();
        let mut order = setup.order(&surface_k);
        let mut known = vec![false; surface_k.len()];
        for tile in &order {
            if let Some(known) = known.get_mut(*tile) {
                *known = true;
            }
        }
        order.extend((0..surface_k.len()).filter(|tile| !known[*tile] && setup.has_stack(*tile)));
        self.work = Some(Work::new(self.revision, surface_k.len(), order, now_ms()));
        self.scenario_text = None;
    }

    /// Before a change of inputs: what is solved of the tiles that it does not move stands for the next revision too. A finding moves its tile, what lies
    /// behind a step or in a wedge, or, where only its rule reads it, none.
    pub(super) fn keep_depth(&mut self, prepared: &Prepared) {
        let moved = self.work.as_ref().filter(|work| work.revision == self.revision).and_then(|_| prepared.moved_since(&self.prepared));
        match (self.work.as_mut(), moved) {
            (Some(work), Some(moved)) => {
                work.carry(&moved, now_ms());
                self.scenario_text = None;
            }
            _ => self.keep_standing(),
        }
    }

    /// The work of this revision is there already.
    pub(super) fn depth_stands(&self) -> bool {
        self.work.as_ref().is_some_and(|work| work.revision == self.revision)
    }

    /// The work of the present revision.
    fn present(&mut self) -> Option<&mut Work> {
        let revision = self.revision;
        self.work.as_mut().filter(|work| work.revision == revision)
    }

    /// Whether something can be handed out: the last round waits for the results of the one before, and for a slider to be let go.
    pub fn has_slices(&self) -> bool {
        self.work.as_ref().is_some_and(|work| work.revision == self.revision && work.has_slices() && self.may(work.round))
    }

    fn may(&self, round: Round) -> bool {
        round < Round::Reach || (self.is_full() && self.before_drag.is_none())
    }

    pub fn round(&self) -> Round {
        self.work.as_ref().map_or(Round::Full, |work| work.round)
    }

    /// Takes a slice of the worst tiles and gives it to `send`; `None` where nothing waits.
    pub fn next_slice(&mut self, most: usize, send: impl FnOnce(Job) -> Result<(), JsValue>) -> Option<Result<(), JsValue>> {
        if !self.has_slices() {
            return None;
        }
        let slice = self.present()?.slice(most)?;
        if self.scenario_text.is_none() {
            self.scenario_text = Some(self.scenario.to_json().compact().into());
        }
        let mut known = Vec::new();
        if slice.round == Round::Estimate {
            known.extend(self.asked_of(&slice).iter().map(|bits| f64::from(*bits)));
        }
        if let (Round::Reach, Some(results), Some(work)) = (slice.round, &self.results, &self.work) {
            let (entries, terms) = (self.prepared.flights.len(), self.scenario.policy.terms.len());
            for tile in &slice.tiles {
                if let (Some(result), Some(Some(depth))) = (results.assessment.tiles.get(*tile as usize), work.solved.get(*tile as usize)) {
                    known.extend(solver::known(result, depth, entries, terms));
                }
            }
        }
        let job = Job {
            slice: &slice,
            known: &known,
            vehicle_digest: &self.shield.digest,
            vehicle_name: &self.shield.name,
            vehicle_files: &self.vehicle_files,
            scenario: self.scenario_text.as_deref().unwrap_or_default(),
        };
        let sent = send(job);
        if sent.is_err() {
            self.give_back(&slice);
        }
        Some(sent)
    }

    pub fn give_back(&mut self, slice: &Slice) {
        if let Some(work) = self.present() {
            work.give_back(slice);
        }
    }

    /// Takes a worker's numbers; answers of other inputs are dropped, a slice whose numbers are wrong is solved here.
    pub fn take_numbers(&mut self, slice: &Slice, numbers: &[f64]) {
        if self.work.as_ref().is_none_or(|work| work.revision != slice.revision || slice.revision != self.revision) {
            return;
        }
        let (entries, terms) = (self.prepared.flights.len(), self.scenario.policy.terms.len());
        match solver::answers(slice, numbers, entries, terms) {
            Some(answers) => self.take_answers(slice, answers),
            None => self.solve_here(slice),
        }
    }

    /// The entries that a first look at a slice's tiles takes: those that governed glue line and structure when all were last known.
    fn asked_of(&self, slice: &Slice) -> Vec<u32> {
        let known = self
            .governed
            .as_ref()
            .filter(|(entries, bits)| *entries == self.prepared.flights.len() && bits.len() == self.shield.tiles.len());
        known.map_or(Vec::new(), |(_, bits)| slice.tiles.iter().map(|tile| bits.get(*tile as usize).copied().unwrap_or(u32::MAX)).collect())
    }

    /// Keeps which entries govern glue line and structure of each tile, the surface's where nothing is known in depth; and which govern
    /// the surface of one tile in ten at least, so that an estimate looks at these and at the one shown.
    pub(super) fn remember_governed(&mut self, assessment: &Assessment) {
        let bits = |result: &TileResult| {
            let of = |layer: usize| 1u32.checked_shl(result.layer_entries[layer] as u32).unwrap_or(u32::MAX);
            if result.in_depth == InDepth::Solved { of(1) | of(2) } else { of(0) }
        };
        let mut counts = vec![0; self.prepared.flights.len()];
        for result in &assessment.tiles {
            if let Some(count) = counts.get_mut(result.layer_entries[0]) {
                *count += 1;
            }
        }
        let shown = self.entry();
        self.kept.look = counts.iter().enumerate().map(|(entry, count)| entry == shown || 10 * count >= assessment.tiles.len()).collect();
        self.governed = Some((self.prepared.flights.len(), assessment.tiles.iter().map(bits).collect()));
    }

    fn solve_here(&mut self, slice: &Slice) {
        // Only the last round asks for results; before them an edit's few tiles are solved.
        let nothing = Assessment::default();
        let results = self.results.as_ref().map(|results| &*results.assessment);
        let results = results.or((slice.round < Round::Reach).then_some(&nothing));
        let answers = match (self.setup(), results, &self.work) {
            (Ok(setup), Some(results), Some(work)) => Some(solver::solve(&setup, slice, &self.asked_of(slice), results, &work.solved)),
            _ => None,
        };
        match answers {
            Some(answers) => self.take_answers(slice, answers),
            None => self.give_back(slice),
        }
    }

    fn take_answers(&mut self, slice: &Slice, answers: Answers) {
        let now = now_ms();
        let Some(work) = self.present() else { return };
        let before = work.round;
        work.take(slice, answers);
        if before == Round::Estimate && work.round != before {
            let seconds = (now - work.began_ms) / 1000.0;
            self.stage("first look in depth", seconds);
        }
    }

    /// Works on the page's own thread for about so long.
    pub fn solve_for(&mut self, budget_ms: f64) {
        let began = now_ms();
        while now_ms() - began < budget_ms && self.has_slices() {
            let Some(slice) = self.present().and_then(|work| work.slice(super::workers::GROUP)) else { return };
            self.solve_here(&slice);
        }
    }

    /// Solves here and now the few tiles that a change moved, so that the next picture shows them: a worker would first have to read the scenario.
    pub(super) fn solve_few(&mut self) {
        let few = |work: &&mut Work| work.round == Round::Full && work.moves() && work.left() <= HERE;
        if let Some(slice) = self.present().filter(few).and_then(|work| work.slice(HERE)) {
            self.solve_here(&slice);
        }
    }

    /// Solves here and now whatever is missing, for a script that asks for the full results at once.
    pub(super) fn finish_depth(&mut self) {
        // The margins, then what is searched from them.
        for _ in 0..2 {
            self.deepen(true);
            let Some(slice) = self.present().filter(|work| !work.complete()).map(Work::rest) else { break };
            self.solve_here(&slice);
        }
        self.deepen(true);
    }

    /// Remakes the results where answers came in since. What moved is shown by an estimate of the skin between tiles first, which is solved for the next
    /// picture, unless it is to be `at_once`.
    pub(super) fn deepen(&mut self, at_once: bool) {
        let Some(work) = self.work.as_ref().filter(|work| work.revision == self.revision) else { return };
        let (stand, complete, answers) = (work.margins_stand(), work.complete(), work.answers);
        let shown = self.results.as_ref().is_some_and(|results| results.answers == answers);
        let began = now_ms();
        let seconds = (began - work.began_ms) / 1000.0;
        let settles = stand && (at_once || shown || !work.moves());
        if let Some(results) = &self.results
            && (results.complete || results.full && !complete || !results.full && !settles && shown)
        {
            return;
        }
        if let Some(results) = self.results.as_ref().filter(|results| results.full) {
            // Nothing of the margins moves any more: what is added is how far the limits are.
            let mut assessment = (*results.assessment).clone();
            reach::apply(&mut assessment, &work.reach);
            self.results = Some(Results { assessment: Rc::new(assessment), settled: None, full: true, complete, answers });
            return self.stage("reach", seconds);
        }
        let mut kept = std::mem::take(&mut self.kept);
        let (Ok(setup), Some(work)) = (self.setup(), self.work.as_ref()) else { return };
        let mut assessment = assess::with_depth_keeping(&setup, &self.findings, &work.solved, settles, &mut kept);
        if settles {
            assess::settle_keeping(&self.prepared, &mut assessment, &mut kept);
        }
        self.kept = kept;
        let assessment = Rc::new(assessment);
        if self.results.is_none() {
            self.stage("surface and margins", (now_ms() - began) / 1000.0);
        }
        self.results = Some(Results { assessment: assessment.clone(), settled: None, full: settles, complete: false, answers });
        self.remade_ms = now_ms() - began;
        if settles {
            self.remember_governed(&assessment);
            self.stage("in depth", seconds);
            let now = now_ms();
            let Some(mut work) = self.work.take() else { return };
            if let Ok(setup) = self.setup() {
                let solved = std::mem::take(&mut work.solved);
                work.ask(|tile| Question::of(&setup, assessment.tiles.get(tile)?, solved.get(tile)?.as_ref()?, tile));
                work.solved = solved;
            }
            self.work = Some(work);
            if let Some(work) = self.present() {
                work.began_ms = now;
                work.reorder(|tile| assessment.tiles.get(tile as usize).and_then(|tile| tile.margin_k).unwrap_or(f64::INFINITY));
            }
            // There may be no more to ask: a shield without anything in depth, or a change that moved none.
            self.deepen(at_once);
        }
    }

    /// After how long a frame should show what came in, or how far the work is; `None` where nothing changes by itself.
    pub fn shows_after_ms(&self, least_ms: f64) -> Option<u32> {
        let work = self.work.as_ref().filter(|work| work.revision == self.revision)?;
        let results = self.results.as_ref().filter(|results| !results.complete)?;
        let behind = work.complete() || work.margins_stand() && !results.full;
        match (behind, work.stopped || !self.may(work.round)) {
            (true, _) => Some(0),
            (false, true) => None,
            // After the first look little moves on the picture, and in the search nothing: where it is drawn without a graphics processor each frame takes
            // the time of some fifty tiles.
            (false, false) => {
                let least_ms = match work.round {
                    Round::Estimate => least_ms,
                    Round::Full => 5.0 * least_ms,
                    Round::Reach => 15.0 * least_ms,
                };
                Some(least_ms.max(2.0 * self.remade_ms) as u32)
            }
        }
    }

    /// Whether the results of the present inputs stand whole.
    pub fn is_full(&self) -> bool {
        self.results.as_ref().is_some_and(|results| results.full)
    }

    /// The table holds every number as well.
    pub fn is_complete(&self) -> bool {
        self.results.as_ref().is_some_and(|results| results.complete)
    }

    /// Tiles whose number is an estimate still.
    pub(super) fn estimates(&self) -> Vec<bool> {
        let work = self.work.as_ref().filter(|work| work.revision == self.revision);
        let stands = |tile: usize| work.is_some_and(|work| work.is_full(tile) && !work.has_moved(tile));
        (0..self.shield.tiles.len()).map(|tile| !stands(tile)).collect()
    }

    /// Every tile's glue line and structure at a moment, NaN where it is not solved; `None` before the work began.
    pub(super) fn depth_at(&self, entry: usize, time_s: f64) -> Option<[Vec<f64>; 2]> {
        let work = self.work.as_ref().filter(|work| work.revision == self.revision)?;
        let setup = self.setup().ok()?;
        let course_s = setup.course_s(entry);
        let after_s = time_s - setup.start_s(entry);
        Some([0, 1].map(|layer: usize| {
            let at = |tile: &Option<TileDepth>| {
                let course_k = tile.as_ref()?.entries.get(entry)?.course_k.get(layer)?;
                Some(super::card::between(course_s, course_k, after_s))
            };
            work.solved.iter().map(|tile| at(tile).unwrap_or(f64::NAN)).collect()
        }))
    }

    pub(super) fn progress(&self) -> Option<Progress> {
        let work = self.work.as_ref().filter(|work| work.revision == self.revision && !work.complete())?;
        let seconds = (now_ms() - work.began_ms) / 1000.0;
        Some(Progress { done: work.done, total: work.total(), round: work.round, seconds, stopped: work.stopped })
    }

    /// Stops the work where it is, or goes on with it.
    pub(super) fn set_stopped(&mut self, stopped: bool) {
        if let Some(work) = self.present() {
            work.stopped = stopped;
            work.began_ms = now_ms();
        }
    }

    /// The picked tile's course in depth over the entry shown, kept while neither inputs nor tile change.
    pub(super) fn history(&mut self, entry: usize) -> Option<Rc<History>> {
        let tile = self.picked?;
        let key = (self.revision, entry, tile);
        if self.story.as_ref().is_none_or(|(known, _)| *known != key) {
            let made = self.setup().ok().and_then(|setup| setup.history(entry, tile)).map(Rc::new);
            self.story = Some((key, made));
        }
        self.story.as_ref().and_then(|(_, story)| story.clone())
    }
}
