//! What a tile tolerates by radius and depth, a run at a time, from where the full-area bound ends.

use super::search::{Ask, Quest, Search, Settling};
use super::{Asked, KIND, Method, Question, Size, Sizes, WITHIN_MM};
use crate::assess::damage::{Effort, Peaks, Subject};
use crate::assess::effects::Effects;
use crate::assess::prepare::Prepared;
use crate::assess::{TileResult, present};
use crate::document::Error;
use crate::scenario::Scenario;
use crate::shield::Shield;

/// What a tile's answer is made from.
#[derive(Clone, Copy)]
pub struct Basis<'a> {
    pub shield: &'a Shield,
    pub scenario: &'a Scenario,
    pub prepared: &'a Prepared,
    pub effects: &'a Effects,
    pub result: &'a TileResult,
}

/// One tile's search on its way. It keeps nothing of what it is made from: the same must be given to every step.
///
/// One grid ([`Effort::Quick`]): its error is not known, and was some kelvins at most where it was measured, the same for the tile without a
/// cavity, from which the difference is taken.
#[derive(Debug, Clone)]
pub struct Solving {
    asked: Asked,
    tile: usize,
    sizes: Sizes,
    /// Which of the two each quest is about.
    which: Vec<usize>,
    settling: Settling,
    asks: Vec<Ask>,
    left_k: Vec<f64>,
    without: Option<Peaks>,
}

impl Solving {
    /// From where `bound` ends; what the bound settles is taken over.
    pub fn new(from: Basis, asked: Asked, tile: usize, bound: &Sizes) -> Solving {
        let question = Question::of(from.shield, from.prepared, from.effects, from.result, asked, tile);
        let (mut which, mut quests) = (Vec::new(), Vec::new());
        for place in (0..2).filter(|which| bound[*which].method == Method::Bound) {
            let Some(question) = &question else { continue };
            let search = Search::new(&question.ends_mm[place], WITHIN_MM[place], bound[place].tolerated.size_mm);
            quests.push(Quest::new(search, from.result.governing_entry.into_iter().chain(from.result.layer_entries)));
            which.push(place);
        }
        let settling = Settling::new(quests, from.prepared.flights.len());
        Solving { asked, tile, sizes: *bound, which, settling, asks: Vec::new(), left_k: Vec::new(), without: None }
    }

    /// One run; the sizes once they stand.
    ///
    /// # Errors
    /// A failed computation.
    pub fn step(&mut self, from: Basis) -> Result<Option<Sizes>, Error> {
        if self.asks.is_empty() {
            self.asks = self.settling.round();
        }
        let Some(ask) = self.asks.get(self.left_k.len()).copied() else {
            for (which, tolerated) in self.which.iter().zip(self.settling.found()) {
                self.sizes[*which] = Size { tolerated, method: Method::Solved };
            }
            return Ok(Some(self.sizes));
        };
        let left_k = self.left_k(from, ask)?;
        self.left_k.push(left_k);
        if self.left_k.len() == self.asks.len() {
            self.settling.meet(&self.asks, &self.left_k);
            self.asks.clear();
            self.left_k.clear();
        }
        Ok(None)
    }

    fn left_k(&mut self, from: Basis, ask: Ask) -> Result<f64, Error> {
        let Basis { shield, scenario, prepared, effects, result } = from;
        let question = Question::of(shield, prepared, effects, result, self.asked, self.tile);
        let subject = Subject::new(shield, scenario, prepared, self.tile);
        let (Some(question), Some(subject), Some(which)) = (question, subject, self.which.get(ask.quest)) else { return Ok(f64::NAN) };
        let without = match self.without {
            Some(without) => without,
            None => *self.without.insert(subject.undamaged(Effort::Quick)?),
        };
        let (length_mm, depth_mm) = question.shape_mm(*which, ask.size_mm);
        let shape = [0.5e-3 * length_mm, 1e-3 * depth_mm, length_mm / depth_mm];
        let with = subject.cavity_over(ask.entry, effects, KIND, shape, &without, Effort::Quick)?;
        let (before, after) = (subject.margins(&without, false), subject.margins(&with, true));
        Ok(present::left(result, &before, &after).least_k().unwrap_or(f64::NAN))
    }
}

/// The sizes of a tile whose bound is `bound`.
///
/// # Errors
/// A failed computation.
pub fn solve(from: Basis, asked: Asked, tile: usize, bound: &Sizes) -> Result<Sizes, Error> {
    let mut solving = Solving::new(from, asked, tile, bound);
    loop {
        if let Some(sizes) = solving.step(from)? {
            return Ok(sizes);
        }
    }
}
