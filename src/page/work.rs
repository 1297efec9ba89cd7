//! The in-depth work of one revision: which tiles are still to be solved, worst first, and what stands already.
//!
//! Rounds: a first look on the coarse resolution, since that is what a moving slider asks; then both resolutions with the policy's terms, after
//! which the margins stand; then how far each tile is from its limits, which completes the table.

use crate::assess::depth::TileDepth;
use crate::assess::reach::Reach;
use crate::document::Sorting as _;
use crate::heating::local::LANES;
use std::collections::VecDeque;

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

/// The work of one revision.
pub struct Work {
    pub revision: u64,
    pub round: Round,
    order: Vec<u32>,
    /// Tiles to solve in this round, worst first; those in a worker's hands are not among them.
    waiting: VecDeque<u32>,
    /// By tile; whether the answer of the present round stands is `fresh`.
    pub solved: Vec<Option<TileDepth>>,
    pub reach: Vec<Reach>,
    fresh: Vec<bool>,
    pub done: usize,
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
            waiting: order.iter().copied().collect(),
            fresh: vec![false; tiles],
            order,
            solved,
            reach: vec![Reach::default(); tiles],
            done: 0,
            began_ms: now_ms,
            answers: 0,
            stopped: false,
        };
        work.advance();
        work
    }

    /// Tiles of a round.
    pub fn total(&self) -> usize {
        self.order.len()
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
            if self.fresh.get(*tile as usize) == Some(&false) {
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
                        && let Some(place) = self.reach.get_mut(*tile as usize)
                    {
                        *place = answer;
                    }
                }
            }
            _ => return,
        }
        self.answers += 1;
        self.advance();
    }

    fn is_new(&mut self, tile: u32) -> bool {
        let new = self.fresh.get_mut(tile as usize).is_some_and(|fresh| !std::mem::replace(fresh, true));
        self.done += usize::from(new);
        new
    }

    /// To the next round when this one is done.
    fn advance(&mut self) {
        while self.round != Round::Reach && self.done == self.total() {
            self.next_round();
        }
    }

    fn next_round(&mut self) {
        self.round = if self.round == Round::Estimate { Round::Full } else { Round::Reach };
        self.done = 0;
        self.fresh.fill(false);
        self.waiting = self.order.iter().copied().collect();
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
            self.next_round();
        }
        self.waiting.clear();
        let fresh = &self.fresh;
        let tiles = self.order.iter().copied().filter(|tile| fresh.get(*tile as usize) == Some(&false)).collect();
        Slice { revision: self.revision, round: self.round, tiles }
    }

    /// Whether a tile's margin is all that the policy asks.
    pub fn is_full(&self, tile: usize) -> bool {
        let fresh = self.fresh.get(tile) == Some(&true);
        match (self.solved.get(tile), self.round) {
            (Some(Some(answer)), _) if answer.entries.is_empty() => true,
            (Some(Some(_)), Round::Full) => fresh,
            (Some(Some(_)), Round::Reach) => true,
            _ => false,
        }
    }

    /// Every margin stands.
    pub fn margins_stand(&self) -> bool {
        self.round == Round::Reach
    }

    pub fn complete(&self) -> bool {
        self.round == Round::Reach && self.done == self.total()
    }
}
