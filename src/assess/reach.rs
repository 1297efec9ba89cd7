//! How far a tile is from its limits: the factor on its heating, and the thickness, at which the first margin is 0.
//!
//! 1. Runs on the coarse resolution beside the solution that stands (`depth::Posed::beside`) close a bracket that only shrinks: secant in a variable in
//!    which the rise is nearly linear (root of the heating, one over the thickness), halved where the secant stalls.
//! 2. What is found in one entry must hold in the others; the worst takes over.
//! 3. A run on both resolutions confirms it within [`MET_K`], or the search goes on beside that run.
//!
//! The temperature to meet is the limit less what the neighbours bring as they are, and less what the policy's terms add, grown in proportion to the
//! rise. What the neighbours bring is read to 1/[`PER_K`] K: the skin carries a change anywhere to every tile, and a [`Question`] that did not change by more
//! than that keeps its answer. The factor is good to the solver's own error over the slope, some 0.5 % (`verif_reach_is_where_the_margin_ends`).

use super::depth::{Case, End, Near, Posed, Setup, TileDepth, Variation, peaks_k};
use super::{Assessment, InDepth, TileResult};

/// A search is done this near the temperature to meet.
pub const MET_K: f64 = 0.5;
const WIDTH: f64 = 1e-3;
const ROUNDS: usize = 30;
/// How often a search may go on beside another run.
const BASES: usize = 4;
/// Within this logarithm of the factor on the heating a coarse run beside the solution needs no confirmation: 2,353 tiles of the demonstration came
/// within 0.06 K of both resolutions. With the thickness it was 0.65 K, so that those are always confirmed.
const NEAR: f64 = 0.3;
/// An entry's rise over that of the governing one moves by at most this much of the logarithm of the search's variable: three times what 19,000 runs
/// showed (0.08). One that stays below the limit all the same need not be solved again.
const TURNS: f64 = 0.25;
const RATIO: f64 = 0.005;
/// So far from its limit on the coarse resolution nothing needs to be confirmed, K.
const FAR_K: f64 = 20.0;
/// What the neighbours bring is read to one part of so many of a kelvin, far within [`MET_K`].
const PER_K: f64 = 128.0;
/// The largest factor on the heating that is looked at where no surface limit comes first.
const MOST_HEATING: f64 = 64.0;
/// The least thickness that is looked at, m, and the most as a multiple of the tile's own and in m, whichever is more.
const LEAST_M: f64 = 1e-3;
const MOST_TIMES: f64 = 4.0;
const MOST_M: f64 = 0.3;

/// A tile's answer.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Reach {
    /// Of glue line and structure; the surface's own factor may be less. `None` where it lies beyond the surface's or 64.
    pub heating_factor: Option<f64>,
    /// What could be lost, m; negative where so much is missing. `None` where no thickness up to four times its own helps. A tile that
    /// meets its limits even 1 mm thick could lose all but that.
    pub spare_m: Option<f64>,
}

impl Reach {
    pub const LENGTH: usize = 2;

    /// For the way between workers; NaN stands for `None`.
    pub fn to_floats(self) -> [f64; Reach::LENGTH] {
        [self.heating_factor, self.spare_m].map(|value| value.unwrap_or(f64::NAN))
    }

    pub fn from_floats(numbers: &[f64]) -> Option<Reach> {
        let [heating_factor, spare_m] = *numbers else { return None };
        let some = |value: f64| (!value.is_nan()).then_some(value);
        Some(Reach { heating_factor: some(heating_factor), spare_m: some(spare_m) })
    }
}

/// All that is asked of a tile whose own inputs stand: as long as this does not change, nor does its reach.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Question {
    target: Target,
    /// The largest factor on its heating that is looked at.
    most_heating: f64,
}

impl Question {
    /// `None` where there is nothing to look for.
    pub fn of(setup: &Setup, result: &TileResult, depth: &TileDepth, tile: usize) -> Option<Question> {
        let target = Target::of(setup, result, depth, tile, 0.0)?;
        Some(Question { target, most_heating: result.surface_heating_factor.unwrap_or(MOST_HEATING).clamp(1e-3, MOST_HEATING) })
    }
}

fn read_k(kelvin: f64) -> f64 {
    (PER_K * kelvin + 0.5).floor() / PER_K
}

/// What glue line and structure of a tile are to meet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Target {
    pub tile: usize,
    /// Of glue line and structure, K; infinite where there is no limit.
    pub met_k: [f64; 2],
    /// Where both start.
    pub start_k: f64,
}

impl Target {
    /// With `spare_k` left below each limit; `None` for a tile without an answer in depth or without limits there.
    pub fn of(setup: &Setup, result: &TileResult, depth: &TileDepth, tile: usize, spare_k: f64) -> Option<Target> {
        if result.in_depth != InDepth::Solved {
            return None;
        }
        let start_k = setup.prepared.start_of(tile).1;
        let brought_k = result.brought_k();
        let met = |limit: Option<f64>, counted: Option<f64>, brought_k: f64, nominal: f64| {
            let (Some(limit), Some(counted)) = (limit, counted) else { return f64::INFINITY };
            let limit = limit - spare_k - read_k(brought_k);
            let (rise, counted_rise) = (nominal - start_k, nominal - start_k + read_k(counted - brought_k - nominal));
            if rise > 0.0 && counted_rise > rise { start_k + (limit - start_k) * rise / counted_rise } else { limit }
        };
        let own = |layer: usize| depth.entries.get(result.layer_entries[layer]);
        let met_k = [
            met(result.limit_bondline_k, result.counted_bondline_k, brought_k[0], own(1)?.bondline.temperature_k),
            met(result.limit_structure_k, result.counted_structure_k, brought_k[1], own(2)?.structure.temperature_k),
        ];
        (met_k != [f64::INFINITY; 2]).then_some(Target { tile, met_k, start_k })
    }

    /// What is left where nothing rises.
    fn still_k(&self) -> f64 {
        self.met_k[0].min(self.met_k[1]) - self.start_k
    }

    fn gap_k(&self, bondline_k: f64, structure_k: f64) -> f64 {
        (self.met_k[0] - bondline_k).min(self.met_k[1] - structure_k)
    }

    /// Over the entries as they were solved: the least gap and its entry.
    fn known(&self, depth: &TileDepth) -> (f64, usize) {
        let gaps = depth.entries.iter().enumerate();
        let gaps = gaps.map(|(entry, one)| (self.gap_k(one.bondline.temperature_k, one.structure.temperature_k), entry));
        gaps.reduce(|least, other| if other.0 < least.0 { other } else { least }).unwrap_or((f64::NAN, 0))
    }
}

/// What is varied, and how the variable of the search stands for it: hotter as it grows, without a rise at 0.
#[derive(Debug, Clone, Copy)]
pub(super) enum Along {
    Heating,
    Thickness { own_m: f64 },
}

impl Along {
    pub fn variation(self, x: f64) -> Variation {
        match self {
            Along::Heating => Variation { heating: x * x, ..Variation::default() },
            Along::Thickness { own_m } => Variation { thickness: 1.0 / (x * own_m), ..Variation::default() },
        }
    }
}

/// One tile's search: `low` leaves something, `high` does not.
struct Search {
    target: Target,
    along: Along,
    entry: usize,
    /// The tile as it is.
    own: f64,
    low: (f64, f64),
    high: Option<(f64, f64)>,
    most: f64,
    next: f64,
    /// The last two points fell on the same side.
    stalled: Option<bool>,
    found: Option<Found>,
    /// A run on both resolutions says so too.
    confirmed: bool,
    /// What the coarse runs are held against where that is not the tile as it is, and how often that changed.
    near: Option<Near>,
    bases: usize,
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Found {
    /// The variable at which nothing is left.
    At(f64),
    /// Something is left even at the most that was looked at.
    Beyond,
    /// Nothing is left even without a rise, or no run answered.
    Never,
}

impl Search {
    /// From the solution that is known: `own` is its place on the variable.
    fn new(target: Target, along: Along, depth: &TileDepth, own: f64, most: f64) -> Search {
        let (gap_k, entry) = target.known(depth);
        let still_k = target.still_k();
        let low = (0.0, still_k);
        let mut search = Search {
            target,
            along,
            entry,
            own,
            low,
            high: None,
            most,
            next: own,
            stalled: None,
            found: None,
            confirmed: false,
            near: None,
            bases: 0,
        };
        if still_k.is_nan() || still_k <= 0.0 || gap_k.is_nan() {
            (search.found, search.confirmed) = (Some(Found::Never), true);
            return search;
        }
        search.meet(own, gap_k);
        // What is known stands on both resolutions over all entries.
        search.confirmed = search.found.is_some();
        search
    }

    /// Where the search stands, to be looked at on other entries or with both resolutions.
    fn place(&self) -> Option<f64> {
        match self.found? {
            Found::At(x) => Some(x),
            Found::Beyond => Some(self.most),
            Found::Never => None,
        }
    }

    /// Goes on in `entry` from one point that is known there: what was known of the others does not hold.
    fn again(&mut self, entry: usize, x: f64, gap_k: f64) {
        (self.entry, self.found, self.low, self.high, self.stalled) = (entry, None, (0.0, self.target.still_k()), None, None);
        self.meet(x, gap_k);
        // The point itself may be near enough.
        if self.found.is_none() && gap_k.abs() <= MET_K {
            self.found = Some(Found::At(x));
        }
    }

    /// A run on both resolutions at the place found: near enough, or what to go on beside.
    fn confirm(&mut self, x: f64, gap_k: f64, near: Option<Near>) {
        let ends = self.bases >= BASES || near.is_none();
        if self.found == Some(Found::Beyond) && (gap_k >= 0.0 || ends) {
            self.confirmed = true;
        } else if gap_k.abs() <= MET_K || ends {
            // The rest along the line from no rise.
            let slope = (self.target.still_k() - gap_k) / x;
            let rest = if gap_k.abs() <= MET_K && slope > 0.0 { gap_k / slope } else { 0.0 };
            (self.found, self.confirmed) = (Some(Found::At(x + rest)), true);
        } else {
            self.bases += 1;
            self.near = near;
            self.again(self.entry, x, gap_k);
        }
    }

    /// Takes a point in and chooses the next.
    fn meet(&mut self, x: f64, gap_k: f64) {
        if gap_k.is_nan() {
            (self.found, self.confirmed) = (Some(Found::Never), true);
            return;
        }
        let is_own = self.low.0 == 0.0 && self.high.is_none();
        let left = gap_k > 0.0;
        if left {
            self.low = (x, gap_k);
        } else {
            self.high = Some((x, gap_k));
        }
        if left && x >= self.most {
            self.found = Some(Found::Beyond);
            return;
        }
        // Near enough, and not the tile as it is: the line between the two sides, or the place itself, says where.
        if gap_k.abs() <= MET_K && !is_own {
            let crossing = self.high.map(|high| self.low.0 + (high.0 - self.low.0) * self.low.1 / (self.low.1 - high.1));
            self.found = Some(Found::At(crossing.unwrap_or(x)));
            return;
        }
        // Where one end stays twice, its weight is halved (the Illinois rule).
        if self.stalled == Some(left) {
            match &mut self.high {
                Some(high) if left => high.1 *= 0.5,
                _ if !left => self.low.1 *= 0.5,
                _ => {}
            }
        }
        self.stalled = Some(left);
        self.next = match self.high {
            Some(high) => {
                if (high.0 - self.low.0) <= WIDTH * high.0 {
                    self.found = Some(Found::At(0.5 * (self.low.0 + high.0)));
                    return;
                }
                let secant = self.low.0 + (high.0 - self.low.0) * self.low.1 / (self.low.1 - high.1);
                let inset = 0.02 * (high.0 - self.low.0);
                secant.clamp(self.low.0 + inset, high.0 - inset)
            }
            None => {
                // Along the line from no rise, a little further, at most four times as far.
                let still_k = self.target.still_k();
                let line = x * still_k / (still_k - gap_k).max(1e-3 * still_k);
                (1.02 * line).clamp(1.05 * x, 4.0 * x).min(self.most)
            }
        };
    }
}

/// The targets of some tiles with what is known of each.
struct Ground<'t, 's, 'a> {
    posed: Posed<'s, 'a>,
    entries: usize,
    targets: &'t [(Target, &'t TileDepth)],
    /// By target, then by entry: the tile as it is, made when first asked; `None` within where that failed.
    nears: Vec<Option<Option<Near>>>,
}

impl<'t, 's, 'a> Ground<'t, 's, 'a> {
    fn new(setup: &'s Setup<'a>, targets: &'t [(Target, &'t TileDepth)]) -> Ground<'t, 's, 'a> {
        let tiles: Vec<usize> = targets.iter().map(|(target, _)| target.tile).collect();
        let entries = setup.prepared.flights.len();
        Ground { posed: Posed::new(setup, &tiles), entries, targets, nears: (0..entries * targets.len()).map(|_| None).collect() }
    }

    /// The gap at a place of each of some searches over an entry each, on the coarse resolution; NaN where no run answered.
    fn gaps(&mut self, searches: &[Search], asked: &[(usize, usize, f64)]) -> Vec<f64> {
        let mut out = vec![f64::NAN; asked.len()];
        for entry in 0..self.entries {
            let here: Vec<usize> = (0..asked.len()).filter(|i| asked[*i].1 == entry).collect();
            let own = |i: usize| entry == searches[i].entry && searches[i].near.is_some();
            let mut missing: Vec<usize> = here.iter().map(|i| asked[*i].0).filter(|i| !own(*i)).collect();
            missing.retain(|i| self.nears[i * self.entries + entry].is_none());
            let cases: Vec<Case> = missing.iter().map(|i| Case::nominal(searches[*i].target.tile)).collect();
            let stands_k: Vec<[f64; 3]> = missing.iter().map(|i| stands_k(self.targets[*i].1, entry)).collect();
            for (i, near) in missing.iter().zip(self.posed.near(entry, &cases, &stands_k)) {
                self.nears[i * self.entries + entry] = Some(near);
            }
            let cases: Vec<(Case, Option<&Near>)> = here
                .iter()
                .map(|asked_at| {
                    let (i, _, x) = asked[*asked_at];
                    let near = if own(i) {
                        searches[i].near.as_ref()
                    } else {
                        self.nears[i * self.entries + entry].as_ref().and_then(Option::as_ref)
                    };
                    (Case { variation: searches[i].along.variation(x), ..Case::nominal(searches[i].target.tile) }, near)
                })
                .collect();
            for (place, (peaks_k, end)) in here.iter().zip(self.posed.beside(entry, &cases)) {
                // A structure that still rises at the limit of time has its highest value so far, which is what a search can go by.
                if end != End::Failed {
                    out[*place] = searches[asked[*place].0].target.gap_k(peaks_k[1], peaks_k[2]);
                }
            }
        }
        out
    }

    /// Whether an entry could leave less than the search's own at a place.
    fn may_govern(&self, search: &Search, i: usize, entry: usize, x: f64) -> bool {
        let (target, depth) = &self.targets[i];
        let [rise, own] = [entry, search.entry].map(|entry| {
            let [_, bondline_k, structure_k] = stands_k(depth, entry);
            let share = |peak_k: f64, met_k: f64| (peak_k - target.start_k) / (met_k - target.start_k);
            share(bondline_k, target.met_k[0]).max(share(structure_k, target.met_k[1]))
        });
        let below = rise < own * (1.0 - TURNS * libm::log(x / search.own).abs() - RATIO);
        // A number that is none settles nothing.
        !below
    }

    /// Looks at some settled searches with both resolutions.
    fn confirm(&self, searches: &mut [Search], settled: &[(usize, f64)]) {
        for (i, _) in settled {
            let search = &mut searches[*i];
            let beyond = search.found == Some(Found::Beyond) && search.low.1 > FAR_K;
            let beside = matches!((search.found, search.along), (Some(Found::At(x)), Along::Heating) if libm::log(x * x).abs() < NEAR);
            search.confirmed = beyond || beside;
        }
        for entry in 0..self.entries {
            let here: Vec<(usize, f64)> =
                settled.iter().copied().filter(|(i, _)| searches[*i].entry == entry && !searches[*i].confirmed).collect();
            let cases: Vec<Case> = here
                .iter()
                .map(|(i, x)| Case { variation: searches[*i].along.variation(*x), ..Case::nominal(searches[*i].target.tile) })
                .collect();
            for (((i, x), case), solved) in here.iter().zip(&cases).zip(self.posed.full(entry, &cases)) {
                let peaks_k = peaks_k(&solved);
                let gap_k = if solved.result.end == End::Failed { f64::NAN } else { searches[*i].target.gap_k(peaks_k[1], peaks_k[2]) };
                let near = self.posed.near_of(case, solved.path, peaks_k).filter(|_| !gap_k.is_nan());
                searches[*i].confirm(*x, gap_k, near);
            }
        }
    }
}

fn stands_k(depth: &TileDepth, entry: usize) -> [f64; 3] {
    depth.entries.get(entry).map_or([f64::NAN; 3], |one| [one.face, one.bondline, one.structure].map(|peak| peak.temperature_k))
}

/// The variable at which each target is just met, over all entries; a search a target, in the targets' order.
fn search_all(ground: &mut Ground, mut searches: Vec<Search>) -> Vec<Found> {
    for _ in 0..ROUNDS {
        let open: Vec<usize> = (0..searches.len()).filter(|i| searches[*i].found.is_none()).collect();
        let asked: Vec<(usize, usize, f64)> = open.iter().map(|i| (*i, searches[*i].entry, searches[*i].next)).collect();
        for ((i, _, x), gap_k) in asked.iter().zip(ground.gaps(&searches, &asked)) {
            searches[*i].meet(*x, gap_k);
        }
        let settled = |searches: &[Search]| -> Vec<(usize, f64)> {
            let of = |i: usize| searches[i].place().filter(|_| !searches[i].confirmed).map(|x| (i, x));
            (0..searches.len()).filter_map(of).collect()
        };
        let found = settled(&searches);
        elsewhere(ground, &mut searches, &found);
        let found = settled(&searches);
        if open.is_empty() && found.is_empty() {
            break;
        }
        ground.confirm(&mut searches, &found);
    }
    let ended = searches
        .into_iter()
        .map(|search| search.found.unwrap_or(search.high.map_or(Found::Beyond, |high| Found::At(0.5 * (search.low.0 + high.0)))));
    ended.collect()
}

/// Hands a search over to an entry that leaves less at the place found.
fn elsewhere(ground: &mut Ground, searches: &mut [Search], settled: &[(usize, f64)]) {
    let entries = ground.entries;
    if entries < 2 {
        return;
    }
    let asked: Vec<(usize, usize, f64)> = settled
        .iter()
        .flat_map(|(i, x)| {
            let search = &searches[*i];
            let rivals = (0..entries).filter(|entry| *entry != search.entry && ground.may_govern(search, *i, *entry, *x));
            rivals.map(|entry| (*i, entry, *x)).collect::<Vec<_>>()
        })
        .collect();
    let told: Vec<((usize, usize, f64), f64)> = asked.iter().copied().zip(ground.gaps(searches, &asked)).collect();
    for told in told.chunk_by(|a, b| a.0.0 == b.0.0) {
        let worst = told.iter().filter(|(_, gap_k)| *gap_k < -MET_K).min_by(|a, b| a.1.total_cmp(&b.1));
        if let Some(((i, entry, x), gap_k)) = worst {
            let search = &mut searches[*i];
            // Its other bases were of the entry that governed before.
            search.near = None;
            search.again(*entry, *x, *gap_k);
        }
    }
}

/// The thickness, m, at which each target is just met; a real root, `Beyond` where even `least_m` meets it, `Never` where `most_m` does not.
pub(super) fn thicknesses(setup: &Setup, targets: &[(Target, &TileDepth)], least_m: f64, most_m: impl Fn(f64) -> f64) -> Vec<Found> {
    thicknesses_on(&mut Ground::new(setup, targets), setup, targets, least_m, most_m)
}

fn thicknesses_on(
    ground: &mut Ground,
    setup: &Setup,
    targets: &[(Target, &TileDepth)],
    least_m: f64,
    most_m: impl Fn(f64) -> f64,
) -> Vec<Found> {
    let own_m = |target: &Target| setup.prepared.tiles.get(target.tile).map_or(1.0, |tile| tile.thickness_m);
    let searches = targets.iter().map(|(target, depth)| {
        let own_m = own_m(target);
        Search::new(*target, Along::Thickness { own_m }, depth, 1.0 / own_m, 1.0 / least_m.min(own_m))
    });
    let found = search_all(ground, searches.collect());
    let metres = found.into_iter().zip(targets).map(|(found, (target, _))| match found {
        Found::At(x) if 1.0 / x > most_m(own_m(target)) => Found::Never,
        Found::At(x) => Found::At(1.0 / x),
        other => other,
    });
    metres.collect()
}

/// The reach of each of `tiles`, whose results and solution stand. Any slicing gives the same bytes.
pub fn solve(setup: &Setup, assessment: &Assessment, depth: &[Option<TileDepth>], tiles: &[usize]) -> Vec<Reach> {
    let mut out = vec![Reach::default(); tiles.len()];
    let mut places = Vec::new();
    let mut targets = Vec::new();
    for (place, tile) in tiles.iter().enumerate() {
        let (Some(result), Some(Some(depth))) = (assessment.tiles.get(*tile), depth.get(*tile)) else { continue };
        if let Some(question) = Question::of(setup, result, depth, *tile) {
            places.push((place, result, question.most_heating));
            targets.push((question.target, depth));
        }
    }
    let heating = targets.iter().zip(&places).map(|((target, depth), (_, _, most_heating))| {
        let most = most_heating.sqrt();
        let mut search = Search::new(*target, Along::Heating, depth, 1.0, most.max(1.0));
        search.most = most;
        // Where the surface fails first there is nothing to look for above it.
        if search.found.is_none() && most <= 1.0 && search.high.is_none() {
            (search.found, search.confirmed) = (Some(Found::Beyond), true);
        }
        search
    });
    let mut ground = Ground::new(setup, &targets);
    let heating = search_all(&mut ground, heating.collect());
    let thickness = thicknesses_on(&mut ground, setup, &targets, LEAST_M, |own_m| MOST_M.max(MOST_TIMES * own_m));
    for (((place, result, _), heating), thickness) in places.iter().zip(heating).zip(thickness) {
        let own_m = result.effective.thickness_m;
        if let Some(out) = out.get_mut(*place) {
            out.heating_factor = match heating {
                Found::At(x) => Some(x * x),
                Found::Beyond => None,
                Found::Never => Some(0.0),
            };
            out.spare_m = match thickness {
                Found::At(metres) => Some(own_m - metres),
                Found::Beyond => Some((own_m - LEAST_M).max(0.0)),
                Found::Never => None,
            };
        }
    }
    out
}

/// Puts the reach of every tile into its result; `reach` is by tile.
pub fn apply(assessment: &mut Assessment, reach: &[Reach]) {
    for (result, reach) in assessment.tiles.iter_mut().zip(reach) {
        if result.in_depth == InDepth::Solved {
            result.heating_factor_to_limit = [result.surface_heating_factor, reach.heating_factor].into_iter().flatten().reduce(f64::min);
            result.thickness_to_limit_mm = reach.spare_m.map(|spare_m| 1000.0 * spare_m);
        }
    }
}
