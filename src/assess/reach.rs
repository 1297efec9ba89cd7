//! How far a tile is from its limits: the factor on its heating, and the thickness, at which the first margin is 0.
//!
//! Both are found by real solves of the whole stack, in a bracket that only shrinks: secant in a variable in which the rise is nearly linear
//! (root of the heating, one over the thickness), halved where the secant stalls. The temperature to meet is the limit less what
//! the neighbours bring as they are, and less what the policy's terms add, grown in proportion to the rise. A search ends on the line between its two sides when a
//! run comes within [`MET_K`] of it, or at a bracket of 0.1 %: the factor is then good to the solver's own error over the slope, some 0.5 % (`verif_reach_is_where_the_margin_ends`).

use super::depth::{Case, End, Setup, TileDepth, Variation};
use super::{Assessment, InDepth, TileResult};

/// A search is done this near the temperature to meet.
pub const MET_K: f64 = 0.5;
const WIDTH: f64 = 1e-3;
const ROUNDS: usize = 14;
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

/// What glue line and structure of a tile are to meet.
#[derive(Debug, Clone, Copy)]
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
        let met = |limit: Option<f64>, counted: Option<f64>, nominal: f64| {
            let (Some(limit), Some(counted)) = (limit.map(|limit| limit - spare_k), counted) else { return f64::INFINITY };
            let (rise, counted_rise) = (nominal - start_k, counted - start_k);
            if rise > 0.0 && counted_rise > rise { start_k + (limit - start_k) * rise / counted_rise } else { limit }
        };
        let own = |layer: usize| depth.entries.get(result.layer_entries[layer]);
        let met_k = [
            met(
                result.limit_bondline_k.map(|limit| limit - brought_k[0]),
                result.counted_bondline_k.map(|counted| counted - brought_k[0]),
                own(1)?.bondline.temperature_k,
            ),
            met(
                result.limit_structure_k.map(|limit| limit - brought_k[1]),
                result.counted_structure_k.map(|counted| counted - brought_k[1]),
                own(2)?.structure.temperature_k,
            ),
        ];
        (met_k != [f64::INFINITY; 2]).then_some(Target { tile, met_k, start_k })
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
    low: (f64, f64),
    high: Option<(f64, f64)>,
    most: f64,
    next: f64,
    /// The last two points fell on the same side.
    stalled: Option<bool>,
    found: Option<Found>,
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
        let still_k = target.met_k[0].min(target.met_k[1]) - target.start_k;
        let mut search = Search { target, along, entry, low: (0.0, still_k), high: None, most, next: own, stalled: None, found: None };
        if still_k.is_nan() || still_k <= 0.0 || gap_k.is_nan() {
            search.found = Some(Found::Never);
            return search;
        }
        search.meet(own, gap_k);
        search
    }

    /// Takes a point in and chooses the next.
    fn meet(&mut self, x: f64, gap_k: f64) {
        if gap_k.is_nan() {
            self.found = Some(Found::Never);
            return;
        }
        let is_own = self.low.0 == 0.0 && self.high.is_none();
        let left = gap_k > 0.0;
        if left && x >= self.most {
            self.found = Some(Found::Beyond);
            return;
        }
        if left {
            self.low = (x, gap_k);
        } else {
            self.high = Some((x, gap_k));
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
                let still_k = self.target.met_k[0].min(self.target.met_k[1]) - self.target.start_k;
                let line = x * still_k / (still_k - gap_k).max(1e-3 * still_k);
                (1.02 * line).clamp(1.05 * x, 4.0 * x).min(self.most)
            }
        };
    }
}

/// The variable at which each target is just met, over all entries. `own` and `most` are places on the variable.
fn search_all(setup: &Setup, mut searches: Vec<Search>) -> Vec<Found> {
    let entries = setup.prepared.flights.len();
    for _ in 0..ROUNDS {
        let open: Vec<usize> = (0..searches.len()).filter(|i| searches[*i].found.is_none()).collect();
        if open.is_empty() {
            break;
        }
        let asked: Vec<(Target, usize, Variation)> =
            open.iter().map(|i| (searches[*i].target, searches[*i].entry, searches[*i].along.variation(searches[*i].next))).collect();
        for (i, gap_k) in open.iter().zip(gaps(setup, &asked)) {
            let x = searches[*i].next;
            searches[*i].meet(x, gap_k);
        }
        // What is found in one entry must hold in the others.
        if entries > 1 {
            let settled: Vec<(usize, f64)> = open
                .iter()
                .filter_map(|i| match searches[*i].found {
                    Some(Found::At(x)) => Some((*i, x)),
                    Some(Found::Beyond) => Some((*i, searches[*i].most)),
                    _ => None,
                })
                .collect();
            let mut asked = Vec::new();
            for (i, x) in &settled {
                let search = &searches[*i];
                asked.extend(
                    (0..entries).filter(|entry| *entry != search.entry).map(|entry| (search.target, entry, search.along.variation(*x))),
                );
            }
            let told = gaps(setup, &asked);
            for ((i, x), (asked, told)) in settled.iter().zip(asked.chunks(entries - 1).zip(told.chunks(entries - 1))) {
                let worst = asked.iter().zip(told).filter(|(_, gap)| **gap < -MET_K).min_by(|a, b| a.1.total_cmp(b.1));
                if let Some(((_, entry, _), gap_k)) = worst {
                    let search = &mut searches[*i];
                    // The low end is not known to hold in this entry.
                    let still_k = search.target.met_k[0].min(search.target.met_k[1]) - search.target.start_k;
                    (search.entry, search.found, search.low, search.stalled) = (*entry, None, (0.0, still_k), None);
                    search.meet(*x, *gap_k);
                }
            }
        }
    }
    let ended = searches
        .into_iter()
        .map(|search| search.found.unwrap_or(search.high.map_or(Found::Beyond, |high| Found::At(0.5 * (search.low.0 + high.0)))));
    ended.collect()
}

/// The gap of each ask; NaN where a run did not answer.
fn gaps(setup: &Setup, asked: &[(Target, usize, Variation)]) -> Vec<f64> {
    let mut out = vec![f64::NAN; asked.len()];
    for entry in 0..setup.prepared.flights.len() {
        let here: Vec<usize> = (0..asked.len()).filter(|i| asked[*i].1 == entry).collect();
        let cases: Vec<Case> = here.iter().map(|i| Case { tile: asked[*i].0.tile, variation: asked[*i].2, exchange: None }).collect();
        for (i, (result, _)) in here.iter().zip(setup.run(entry, &cases)) {
            // A structure that still rises at the limit of time has its highest value so far, which is what a search can go by.
            if result.end != End::Failed {
                out[*i] = asked[*i].0.gap_k(result.bondline.temperature_k, result.structure.temperature_k);
            }
        }
    }
    out
}

/// The thickness, m, at which each target is just met; a real root, `Beyond` where even `least_m` meets it, `Never` where `most_m` does not.
pub(super) fn thicknesses(setup: &Setup, targets: &[(Target, &TileDepth)], least_m: f64, most_m: impl Fn(f64) -> f64) -> Vec<Found> {
    let own_m = |target: &Target| setup.prepared.tiles.get(target.tile).map_or(1.0, |tile| tile.thickness_m);
    let searches = targets.iter().map(|(target, depth)| {
        let own_m = own_m(target);
        Search::new(*target, Along::Thickness { own_m }, depth, 1.0 / own_m, 1.0 / least_m.min(own_m))
    });
    let found = search_all(setup, searches.collect());
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
        if let Some(target) = Target::of(setup, result, depth, *tile, 0.0) {
            places.push((place, result));
            targets.push((target, depth));
        }
    }
    let heating = targets.iter().zip(&places).map(|((target, depth), (_, result))| {
        let most = result.surface_heating_factor.unwrap_or(MOST_HEATING).clamp(1e-3, MOST_HEATING).sqrt();
        let mut search = Search::new(*target, Along::Heating, depth, 1.0, most.max(1.0));
        search.most = most;
        // Where the surface fails first there is nothing to look for above it.
        if search.found.is_none() && most <= 1.0 && search.high.is_none() {
            search.found = Some(Found::Beyond);
        }
        search
    });
    let heating = search_all(setup, heating.collect());
    let thickness = thicknesses(setup, &targets, LEAST_M, |own_m| MOST_M.max(MOST_TIMES * own_m));
    for (((place, result), heating), thickness) in places.iter().zip(heating).zip(thickness) {
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
