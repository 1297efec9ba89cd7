//! The in-depth work of one revision of the inputs: which tiles are still to be solved, worst first, and what stands already.
//!
//! Rounds: a first look on the coarse resolution, since that is what a moving slider asks; then both resolutions with the policy's terms, after
//! which the margins stand; then how far each tile is from its limits, which completes the table. A change that moves some tiles alone carries the
//! work over: only those are solved again, and of the last round only what the skin asks anew.

use super::depth::TileDepth;
use super::reach::{Question, Reach};
use crate::document::Sorting as _;
use crate::heating::local::LANES;
use std::collections::VecDeque;

/// Tiles that moved are solved in full at once where they are no more than this: a first look would only delay them.
const FEW: usize = 32;

/// What is asked of a tile.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Round {
    /// On the coarse resolution, without the policy's terms.
    Estimate,
    /// On both, with them.
    Full,
    /// The factor on its heating and the thickness at its limits; the results of the round before stand.
    Reach,
}

/// A slice of tiles on its way.
#[derive(Debug, Clone, PartialEq)]
pub struct Slice {
    pub revision: u64,
    pub round: Round,
    pub tiles: Vec<u32>,
}

/// The same tiles, those whose heating is worked out together one after the other, at the place of the first of them.
fn side_by_side(order: &[u32]) -> Vec<u32> {
    let group = |tile: u32| tile as usize / LANES;
    let mut members: Vec<Vec<u32>> = vec![Vec::new(); order.iter().map(|tile| group(*tile) + 1).max().unwrap_or(0)];
    for tile in order {
        members[group(*tile)].push(*tile);
    }
    order.iter().flat_map(|tile| std::mem::take(&mut members[group(*tile)])).collect()
}

/// What came back of a slice, by its tiles.
pub enum Answers {
    Depth(Vec<TileDepth>),
    Reach(Vec<Reach>),
}

/// What stands of one tile beside its numbers.
#[derive(Debug, Clone, Copy, Default)]
struct State {
    /// The last round whose answer stands.
    stands: Option<Round>,
    /// It moved when the work was carried over last, or since the margins stood last.
    moved: bool,
    /// Its reach answers `question`.
    reached: bool,
    /// What the present round of reach asks; `None` where there is nothing to look for.
    question: Option<Question>,
}

/// The work of one revision.
pub struct Work {
    pub revision: u64,
    pub round: Round,
    order: Vec<u32>,
    /// Tiles to solve in this round, worst first; those in a worker's hands are not among them.
    waiting: VecDeque<u32>,
    /// By tile.
    pub solved: Vec<Option<TileDepth>>,
    pub reach: Vec<Reach>,
    states: Vec<State>,
    /// Of `asked` tiles in this round so many are answered.
    pub done: usize,
    asked: usize,
    /// When the work began, and how often an answer came, so that a picture knows whether it is behind.
    pub began_ms: f64,
    pub answers: u64,
    /// The user stopped it; what stands is kept.
    pub stopped: bool,
}

impl Work {
    /// `order` are the tiles that have something under them; the others have nothing to solve.
    pub fn new(revision: u64, tiles: usize, order: Vec<usize>, now_ms: f64) -> Work {
        let order: Vec<u32> = order.into_iter().filter(|tile| *tile < tiles).map(|tile| tile as u32).collect();
        let order = side_by_side(&order);
        let mut solved: Vec<Option<TileDepth>> = vec![Some(TileDepth::default()); tiles];
        for tile in &order {
            if let Some(place) = solved.get_mut(*tile as usize) {
                *place = None;
            }
        }
        let mut work = Work {
            revision,
            round: Round::Estimate,
            waiting: VecDeque::new(),
            order,
            solved,
            reach: vec![Reach::default(); tiles],
            states: vec![State::default(); tiles],
            done: 0,
            asked: 0,
            began_ms: now_ms,
            answers: 0,
            stopped: false,
        };
        work.begin(Round::Estimate);
        work.advance();
        work
    }

    /// Takes the work to the next revision, in which only the tiles that `moved` are to be solved again. What a worker still brings of the revision before
    /// is dropped.
    pub fn carry(&mut self, moved: &[bool], now_ms: f64) {
        self.revision += 1;
        (self.stopped, self.began_ms) = (false, now_ms);
        for tile in &self.order {
            let tile = *tile as usize;
            let Some(state) = self.states.get_mut(tile) else { continue };
            if moved.get(tile) == Some(&true) {
                *state = State { moved: true, ..State::default() };
                if let Some(place) = self.solved.get_mut(tile) {
                    *place = None;
                }
            } else {
                // What the skin asks of the last round is known when the margins stand.
                state.stands = state.stands.min(Some(Round::Full));
            }
        }
        let unknown = self.order.iter().filter(|tile| self.stands(**tile).is_none()).count();
        self.begin(if unknown > FEW { Round::Estimate } else { Round::Full });
        self.advance();
    }

    /// Takes guesses, by tile, for those of which nothing is known yet: they are still to be solved. Where every tile has one, a first look would tell no more.
    pub fn guess(&mut self, guesses: Vec<Option<TileDepth>>) {
        for (place, guess) in self.solved.iter_mut().zip(guesses) {
            if place.is_none() {
                *place = guess;
            }
        }
        if self.round == Round::Estimate && self.solved.iter().all(Option::is_some) {
            self.begin(Round::Full);
        }
    }

    fn stands(&self, tile: u32) -> Option<Round> {
        self.states.get(tile as usize).and_then(|state| state.stands)
    }

    /// Whether the present round has still to solve a tile.
    fn lacks(&self, tile: u32) -> bool {
        self.stands(tile) < Some(self.round)
    }

    /// Tiles of the present round.
    pub fn total(&self) -> usize {
        self.asked
    }

    /// Whether some tiles moved and the margins did not stand since.
    pub fn moves(&self) -> bool {
        self.states.iter().any(|state| state.moved)
    }

    /// Tiles of the present round that nobody solves yet.
    pub fn left(&self) -> usize {
        self.waiting.len()
    }

    pub fn has_slices(&self) -> bool {
        !self.stopped && !self.waiting.is_empty()
    }

    /// Takes at most `most` of the worst tiles out of what waits.
    pub fn slice(&mut self, most: usize) -> Option<Slice> {
        if !self.has_slices() {
            return None;
        }
        let tiles = self.waiting.drain(..most.min(self.waiting.len())).collect();
        Some(Slice { revision: self.revision, round: self.round, tiles })
    }

    fn is_of(&self, slice: &Slice) -> bool {
        (slice.revision, slice.round) == (self.revision, self.round)
    }

    /// Puts a slice back that its worker did not bring home, in front.
    pub fn give_back(&mut self, slice: &Slice) {
        if !self.is_of(slice) {
            return;
        }
        for tile in slice.tiles.iter().rev() {
            if self.lacks(*tile) {
                self.waiting.push_front(*tile);
            }
        }
    }

    /// Takes the answers of a slice; those of another revision or of another round are dropped.
    pub fn take(&mut self, slice: &Slice, answers: Answers) {
        if !self.is_of(slice) {
            return;
        }
        match answers {
            Answers::Depth(answers) if slice.round < Round::Reach => {
                for (tile, answer) in slice.tiles.iter().zip(answers) {
                    if self.is_new(*tile)
                        && let Some(place) = self.solved.get_mut(*tile as usize)
                    {
                        *place = Some(answer);
                    }
                }
            }
            Answers::Reach(answers) if slice.round == Round::Reach => {
                for (tile, answer) in slice.tiles.iter().zip(answers) {
                    if self.is_new(*tile)
                        && let (Some(place), Some(state)) = (self.reach.get_mut(*tile as usize), self.states.get_mut(*tile as usize))
                    {
                        (*place, state.reached) = (answer, true);
                    }
                }
            }
            _ => return,
        }
        self.answers += 1;
        self.advance();
    }

    fn is_new(&mut self, tile: u32) -> bool {
        let new = self.lacks(tile) && self.states.get(tile as usize).is_some();
        if let Some(state) = self.states.get_mut(tile as usize).filter(|_| new) {
            state.stands = Some(self.round);
        }
        self.done += usize::from(new);
        new
    }

    /// To the next round when this one is done.
    fn advance(&mut self) {
        while self.round != Round::Reach && self.done == self.asked {
            self.begin(if self.round == Round::Estimate { Round::Full } else { Round::Reach });
        }
    }

    fn begin(&mut self, round: Round) {
        (self.round, self.done) = (round, 0);
        self.waiting = self.order.iter().copied().filter(|tile| self.lacks(*tile)).collect();
        self.asked = self.waiting.len();
    }

    /// Says what the last round asks of each tile, once the margins stand: a tile that is asked the same as before keeps its answer.
    pub fn ask(&mut self, question: impl Fn(usize) -> Option<Question>) {
        for tile in &self.order {
            let tile = *tile as usize;
            let Some(state) = self.states.get_mut(tile) else { continue };
            let asked = question(tile);
            state.moved = false;
            state.reached &= state.question == asked;
            state.question = asked;
            if state.reached && state.stands == Some(Round::Full) {
                state.stands = Some(Round::Reach);
            }
        }
        self.begin(Round::Reach);
    }

    /// Worst first by what stands now.
    pub fn reorder(&mut self, worst: impl Fn(u32) -> f64) {
        let mut waiting: Vec<u32> = self.waiting.iter().copied().collect();
        waiting.order_by(|a, b| worst(*a).total_cmp(&worst(*b)).then(a.cmp(b)));
        self.waiting = side_by_side(&waiting).into();
    }

    /// Everything that the present round has still to solve, those in a worker's hands too; the first look is passed over.
    pub fn rest(&mut self) -> Slice {
        if self.round == Round::Estimate {
            self.begin(Round::Full);
        }
        self.waiting.clear();
        let tiles = self.order.iter().copied().filter(|tile| self.lacks(*tile)).collect();
        Slice { revision: self.revision, round: self.round, tiles }
    }

    /// Whether a tile's margin is all that the policy asks.
    pub fn is_full(&self, tile: usize) -> bool {
        let stands = self.states.get(tile).and_then(|state| state.stands);
        match self.solved.get(tile) {
            Some(Some(answer)) => answer.entries.is_empty() || stands >= Some(Round::Full),
            _ => false,
        }
    }

    /// Whether a tile moved and the margins did not stand since.
    pub fn has_moved(&self, tile: usize) -> bool {
        self.states.get(tile).is_some_and(|state| state.moved)
    }

    /// Every margin stands.
    pub fn margins_stand(&self) -> bool {
        self.round == Round::Reach
    }

    pub fn complete(&self) -> bool {
        self.round == Round::Reach && self.done == self.asked
    }
}
