//! What is kept from one assessment to the next: neither an entry whose flight did not change is solved again, nor a tile whose own inputs did not.

use super::Peak;
use super::depth::{TileDepth, TilePeak};
use super::margins::Peaks;
use super::prepare::{Flight, Prepared, StandsFor};
use std::sync::Arc;

/// What one assessment leaves for the next. A result that stands never depends on it: it only spares work. An estimate takes what the neighbours'
/// skin brings from the last that stood.
#[derive(Debug, Clone, Default)]
pub struct Kept {
    /// What the peaks stand for; of its flights only those that they name.
    stands_for: Option<StandsFor>,
    by_flight: Vec<(Arc<Flight>, Arc<Peaks>)>,
    /// By tile, the factor on its heating at which its surface just reaches its limit, and what that stands for.
    factors: Option<(StandsFor, Vec<Option<f64>>)>,
    /// By entry, whether an estimate looks at it; all where it is empty or names none.
    pub look: Vec<bool>,
    /// The skin between tiles when all stood last, and what it stands for.
    joined: Option<(StandsFor, Arc<Joined>)>,
    /// By entry, then by tile: what the neighbours moved glue line and structure by, K.
    moved_k: Vec<Vec<Option<[f64; 2]>>>,
}

/// Of so many tiles one touched is many: an estimate leaves entries out, which then spares more than what is kept.
const MANY: usize = 4;
/// So many tiles are solved again in every entry even for an estimate.
const FEW: usize = 64;

fn count(list: &[bool]) -> usize {
    list.iter().filter(|one| **one).count()
}

/// By entry, then by tile: the peaks of glue line and structure with the neighbours.
pub(super) type Joined = Vec<Vec<Option<[Peak; 2]>>>;

fn alone(depth: &[Option<TileDepth>], entry: usize, tile: usize) -> Option<[TilePeak; 2]> {
    let one = depth.get(tile)?.as_ref()?.entries.get(entry).filter(|one| one.is_known())?;
    Some([one.bondline, one.structure])
}

/// How the peaks of an entry come about.
pub(super) trait PeakMaker {
    /// Of every tile; `rough` for an estimate.
    fn solve(&self, entry: usize, rough: bool) -> Peaks;

    /// Solves the tiles again that are forgotten.
    fn renew(&self, entry: usize, peaks: &mut Peaks);
}

impl Kept {
    /// The peaks of every entry in the scenario's order, each kept or solved; before all `stands`, `None` for an entry that is neither kept nor to be
    /// looked at. Forgets what this assessment does not ask for.
    pub(super) fn peaks(&mut self, prepared: &Prepared, stands: bool, maker: &impl PeakMaker) -> Vec<Option<Arc<Peaks>>> {
        let now = prepared.stands_for();
        let touched = self.stands_for.as_ref().and_then(|before| now.touched_since(before));
        self.stands_for = Some(now);
        let all = stands || self.look.len() != prepared.flights.len() || !self.look.contains(&true);
        let asked: Vec<bool> = (0..prepared.flights.len()).map(|entry| all || self.look[entry]).collect();
        if stands {
            self.by_flight.retain(|(_, peaks)| !peaks.rough);
        }
        match touched {
            Some(touched) if count(&touched) <= touched.len() / MANY => self.renew(prepared, &touched, &asked, maker),
            _ => self.by_flight.clear(),
        }
        let known =
            |flight: &Arc<Flight>| self.by_flight.iter().find(|(kept, _)| Arc::ptr_eq(kept, flight)).map(|(_, peaks)| peaks.clone());
        let of =
            |(entry, flight): (usize, &Arc<Flight>)| known(flight).or_else(|| asked[entry].then(|| Arc::new(maker.solve(entry, !stands))));
        let peaks: Vec<Option<Arc<Peaks>>> = prepared.flights.iter().enumerate().map(of).collect();
        self.by_flight = prepared.flights.iter().zip(&peaks).filter_map(|(flight, peaks)| Some((flight.clone(), peaks.clone()?))).collect();
        peaks
    }

    /// Forgets the touched tiles of the kept entries, and solves those again that are forgotten: of an entry that is not `asked` for only a few.
    fn renew(&mut self, prepared: &Prepared, touched: &[bool], asked: &[bool], maker: &impl PeakMaker) {
        let touches = touched.contains(&true);
        for (flight, kept) in &mut self.by_flight {
            let Some(entry) = prepared.flights.iter().position(|known| Arc::ptr_eq(known, flight)) else { continue };
            if !touches && kept.lacks() == 0 {
                continue;
            }
            let peaks = Arc::make_mut(kept);
            peaks.forget(touched);
            if asked[entry] || peaks.lacks() <= FEW {
                maker.renew(entry, peaks);
            }
        }
    }

    /// By tile, the surface's factor to its limit: of a tile that was not touched as it was, of the others by `solve`, which is told which those are.
    pub(super) fn factors(&mut self, prepared: &Prepared, solve: impl Fn(&[bool]) -> Vec<Option<f64>>) -> Vec<Option<f64>> {
        let now = prepared.stands_for();
        let known = self.factors.take().filter(|(before, _)| now.flies_as(before));
        let known = known.and_then(|(before, known)| Some((now.touched_since(&before)?, known)));
        let found = match known {
            Some((touched, mut known)) => {
                if touched.contains(&true) {
                    let own = known.iter_mut().zip(solve(&touched)).zip(&touched).filter(|(_, touched)| **touched);
                    own.for_each(|((known, new), _)| *known = new);
                }
                known
            }
            None => solve(&vec![true; prepared.tiles.len()]),
        };
        self.factors = Some((now, found.clone()));
        found
    }

    /// The skin between tiles where all stand, kept or solved by `solve`.
    pub(super) fn joined(&mut self, prepared: &Prepared, depth: &[Option<TileDepth>], solve: impl Fn() -> Joined) -> Arc<Joined> {
        let now = prepared.stands_for();
        if let Some((_, joined)) = self.joined.as_ref().filter(|(known, _)| *known == now) {
            return joined.clone();
        }
        let joined = Arc::new(solve());
        self.keep_moved(&joined, depth);
        self.joined = Some((now, joined.clone()));
        joined
    }

    /// Keeps what the skin moved.
    fn keep_moved(&mut self, joined: &Joined, depth: &[Option<TileDepth>]) {
        let of = |entry: usize, tile: usize, joined: &Option<[Peak; 2]>| {
            let ([glue, structure], [own_glue, own_structure]) = (joined.as_ref()?, alone(depth, entry, tile)?);
            Some([glue.temperature_k - own_glue.temperature_k, structure.temperature_k - own_structure.temperature_k])
        };
        let entry = |(entry, tiles): (usize, &Vec<Option<[Peak; 2]>>)| {
            tiles.iter().enumerate().map(|(tile, joined)| of(entry, tile, joined)).collect()
        };
        self.moved_k = joined.iter().enumerate().map(entry).collect();
    }

    /// An estimate of the peaks with the neighbours: each tile by itself, moved as it was when all stood last.
    pub(super) fn estimated(&self, depth: &[Option<TileDepth>]) -> Joined {
        let of = |entry: usize, tile: usize, moved_k: &Option<[f64; 2]>| {
            let ([glue, structure], [by_glue, by_structure]) = (alone(depth, entry, tile)?, (*moved_k)?);
            let peak = |peak: TilePeak, by_k: f64| Peak { temperature_k: peak.temperature_k + by_k, time_s: peak.time_s, entry };
            Some([peak(glue, by_glue), peak(structure, by_structure)])
        };
        let entry = |(entry, tiles): (usize, &Vec<Option<[f64; 2]>>)| {
            tiles.iter().enumerate().map(|(tile, moved)| of(entry, tile, moved)).collect()
        };
        self.moved_k.iter().filter(|tiles| tiles.len() == depth.len()).enumerate().map(entry).collect()
    }
}
