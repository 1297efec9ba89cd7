//! The surface of every tile over every entry: at a moment, over time, and its peaks. Radiative equilibrium, each tile by its own inputs alone.

use super::points;
use super::prepare::Prepared;
use crate::heating::local::{Chain, LANES};
use crate::heating::transition::regime;
use crate::heating::{Moment, Regime};
use crate::tile::equilibrium::{EmissivityLanes, STEFAN_BOLTZMANN, WallEnthalpy, solve};
use std::ops::Range;
use wide::{CmpLt, f64x4};

/// The stated error of a peak from solving and from the rows kept of an entry, K (`verif_thinning_keeps_the_load`); the models' own
/// error is another matter and stands with each model.
pub const NUMERICAL_ERROR_K: f64 = 0.5;

/// The models behind the surface, each with its source, as results carry them.
pub fn models(prepared: &Prepared) -> Vec<String> {
    let reference = prepared.relation();
    let reference = format!("reference heating: {}, {}", reference.name(), reference.source());
    [
        "atmosphere: U.S. Standard Atmosphere 1976, or the entry's own",
        "air: equilibrium enthalpy from partition functions, 0 at 0 K",
        reference.as_str(),
        "blunt nose and edges: Lees, Jet Propulsion 26 (1956); swept edges by the cylinder relation, turbulent lines by Poll (1979)",
        "pressure: modified Newtonian, expanding around the flanks by Prandtl and Meyer (Kaufman, 1963; NACA Report 1135)",
        "windward surface: flat plate at local conditions, Eckert's reference enthalpy, J. Aero. Sci. 22 (1955), laminar and turbulent; cones by Mangler (1948)",
        "lee side: a stated fraction of the reference heating (common practice)",
        "control surfaces: pressure ratio to 0.7 laminar, 0.85 turbulent (AGARDograph 203, 1975); proud steps: Zukoski (1967), NACA Report 1356; open gaps: NACA TN 3792 (1956), Larson (1959)",
        "recombination: fully catalytic, or by coating (Goulard, 1958; NASA TM-112206) where the scenario says so",
        "high altitude: never above half density speed^3",
        "surface: radiative equilibrium with hot-wall correction, Stefan-Boltzmann; for hot structure an upper bound",
    ]
    .map(str::to_string)
    .into_iter()
    .chain(prepared.points.as_ref().map(|_| points::MODEL.to_string()))
    .chain(["proud steps", "open gaps"].into_iter().zip(prepared.own_factors()).filter_map(|(what, own)| {
        own.map(|own| format!("{what}: the scenario's own table in place of the relation ({})", own.source))
    }))
    .collect()
}

/// One tile at one moment. SI units.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct TileMoment {
    pub time_s: f64,
    pub surface_k: f64,
    pub cold_wall_w_m2: f64,
    /// What the warm wall still takes in.
    pub hot_wall_w_m2: f64,
    pub recovery_enthalpy_j_kg: f64,
    /// At the face: what fills the tile's pores.
    pub pressure_pa: f64,
    pub regime: Regime,
    /// 0 laminar to 1 turbulent.
    pub intermittency: f64,
    /// Between laminar and turbulent, or within 25 % of the criterion, the tile's own or that of a site whose wedge reaches it.
    pub sensitive: bool,
}

/// One tile over one entry.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct SurfacePeak {
    /// The largest surface temperature and when, from entry interface; between rows by a parabola.
    pub peak_k: f64,
    pub time_s: f64,
    /// The largest hot-wall heating and when.
    pub peak_flux_w_m2: f64,
    pub peak_flux_time_s: f64,
    /// Time integral of the hot-wall heating where it heats.
    pub heat_load_j_m2: f64,
    /// Share of it from moments at which half rho V^3 takes more than a tenth off.
    pub capped_share: f64,
    pub regime_at_peak: Regime,
    /// The face passes the onset of transition within 25 % of the criterion at its peak, or turns turbulent there: expect a jump of 50 to 200 K if
    /// onset moves.
    pub sensitive: bool,
}

/// Four tiles at one moment.
struct Solved {
    surface_k: f64x4,
    cold_wall_w_m2: f64x4,
    hot_wall_w_m2: f64x4,
    recovery_j_kg: f64x4,
    pressure_pa: f64x4,
    intermittency: f64x4,
    onset_square: f64x4,
    uncapped_4: f64x4,
}

impl Prepared {
    fn emissivity(&self, group: usize) -> Option<EmissivityLanes<'_>> {
        let last = self.tiles.len().saturating_sub(1);
        let lane = |lane: usize| {
            let tile = self.tiles.get((group * LANES + lane).min(last));
            tile.and_then(|tile| self.emissivities.get(tile.emissivity))
        };
        Some(EmissivityLanes::new([lane(0)?, lane(1)?, lane(2)?, lane(3)?]))
    }

    #[inline]
    fn solved(&self, group: usize, row: &Here, emissivity: &EmissivityLanes) -> Option<Solved> {
        let Here { moment, wall, site_squares, .. } = *row;
        let heating = self.surface.heating_knowing(group, moment, site_squares)?;
        let floor_k = self.floors_k.get(group).copied().unwrap_or(f64x4::splat(0.0));
        let balance = solve(heating.cold_wall_w_m2, heating.recovery_j_kg, emissivity, wall, floor_k);
        Some(Solved {
            surface_k: balance.surface_k,
            cold_wall_w_m2: heating.cold_wall_w_m2,
            hot_wall_w_m2: balance.hot_wall_w_m2,
            recovery_j_kg: heating.recovery_j_kg,
            pressure_pa: heating.pressure_pa,
            intermittency: heating.intermittency,
            onset_square: heating.onset_square,
            uncapped_4: heating.uncapped_4,
        })
    }
}

impl Solved {
    fn lane(&self, lane: usize, time_s: f64) -> TileMoment {
        let pick = |value: f64x4| value.to_array().get(lane).copied().unwrap_or(0.0);
        let intermittency = pick(self.intermittency);
        TileMoment {
            time_s,
            surface_k: pick(self.surface_k),
            cold_wall_w_m2: pick(self.cold_wall_w_m2),
            hot_wall_w_m2: pick(self.hot_wall_w_m2),
            recovery_enthalpy_j_kg: pick(self.recovery_j_kg),
            pressure_pa: pick(self.pressure_pa),
            regime: regime(intermittency),
            intermittency,
            sensitive: near_onset(intermittency, pick(self.onset_square)),
        }
    }
}

/// Every tile at any time of an entry, in the order of the vehicle's table; empty for an entry that is not there.
pub fn moment(prepared: &Prepared, entry: usize, time_s: f64) -> Vec<TileMoment> {
    let Some((stream, wall, moment)) = prepared.moment_at(entry, time_s) else { return Vec::new() };
    let mut tiles = Vec::with_capacity(prepared.tiles.len());
    let site_squares = prepared.surface.site_squares(&moment);
    let here = Here { time_s: stream.time_s, moment: &moment, wall: &wall, site_squares: &site_squares };
    for group in 0..prepared.surface.groups() {
        let emissivity = prepared.emissivity(group);
        if let Some(solved) = emissivity.and_then(|emissivity| prepared.solved(group, &here, &emissivity)) {
            tiles.extend((0..LANES).take(prepared.tiles.len() - group * LANES).map(|lane| solved.lane(lane, stream.time_s)));
        }
    }
    tiles
}

/// One tile over the kept rows of an entry; empty where there is no such tile or entry.
pub fn history(prepared: &Prepared, entry: usize, tile: usize) -> Vec<TileMoment> {
    let (group, lane) = (tile / LANES, tile % LANES);
    let Some(emissivity) = prepared.emissivity(group).filter(|_| tile < prepared.tiles.len()) else { return Vec::new() };
    each(prepared, entry).filter_map(|row| prepared.solved(group, &row, &emissivity).map(|solved| solved.lane(lane, row.time_s))).collect()
}

/// How the heating of one tile comes about at any time of an entry.
pub fn chain(prepared: &Prepared, entry: usize, tile: usize, time_s: f64) -> Option<Chain> {
    let (_, _, moment) = prepared.moment_at(entry, time_s)?;
    moment.chain(&prepared.surface, tile)
}

/// The site of `Prepared::sites` whose wedge trips a tile at a time of an entry, or comes nearest to it: its index, its criterion over its threshold,
/// and the share of the wedge at which the tile stands. `None` where no wedge reaches the tile.
pub fn tripped_by(prepared: &Prepared, entry: usize, tile: usize, time_s: f64) -> Option<(usize, f64, f64)> {
    let (_, _, moment) = prepared.moment_at(entry, time_s)?;
    moment.tripped_by(&prepared.surface, tile)
}

/// A moment that all tiles share.
struct Here<'a> {
    time_s: f64,
    moment: &'a Moment,
    wall: &'a WallEnthalpy,
    site_squares: &'a [f64x4],
}

/// The kept rows of an entry; none of one that is not there.
fn each(prepared: &Prepared, entry: usize) -> impl Iterator<Item = Here<'_>> {
    let flight = prepared.flights.get(entry).into_iter();
    let rows = flight.flat_map(|flight| flight.streams.iter().zip(&flight.moments).zip(&flight.walls).enumerate());
    rows.map(move |(row, ((stream, moment), wall))| Here {
        time_s: stream.time_s,
        moment,
        wall,
        site_squares: prepared.site_squares(entry, row),
    })
}

/// The peaks of a range of tiles over an entry; empty for an entry that is not there. Any slicing gives the same bytes.
pub fn peaks(prepared: &Prepared, entry: usize, tiles: Range<usize>) -> Vec<SurfacePeak> {
    peaks_from(prepared, entry, tiles, 1)
}

/// An estimate of the same from every fifth row kept of the entry, a fifth of the work (`verif_an_estimate_of_the_surface_is_near`).
pub fn estimated_peaks(prepared: &Prepared, entry: usize, tiles: Range<usize>) -> Vec<SurfacePeak> {
    peaks_from(prepared, entry, tiles, 5)
}

fn peaks_from(prepared: &Prepared, entry: usize, tiles: Range<usize>, every: usize) -> Vec<SurfacePeak> {
    let Some(flight) = prepared.flights.get(entry) else { return Vec::new() };
    let tiles = tiles.start..tiles.end.min(prepared.tiles.len());
    if tiles.is_empty() {
        return Vec::new();
    }
    let mut found = Vec::with_capacity(tiles.len());
    let mut rows: Vec<Row> = Vec::with_capacity(flight.streams.len());
    for group in tiles.start / LANES..tiles.end.div_ceil(LANES) {
        group_rows(prepared, entry, group, every, &mut rows);
        let loads = Loads::of(&rows);
        for lane in (0..LANES).filter(|lane| tiles.contains(&(group * LANES + lane))) {
            found.push(peak(&rows, &loads, lane));
        }
    }
    found
}

/// The kept rows of one group, one in `every`. A function of its own, never inlined: a browser swaps in optimised code only where a function is called.
#[inline(never)]
fn group_rows(prepared: &Prepared, entry: usize, group: usize, every: usize, rows: &mut Vec<Row>) {
    rows.clear();
    let Some(emissivity) = prepared.emissivity(group) else { return };
    for row in each(prepared, entry).step_by(every) {
        if let Some(solved) = prepared.solved(group, &row, &emissivity) {
            rows.push(Row::of(row.time_s, &solved));
        }
    }
}

/// What the peaks keep of a moment.
struct Row {
    time_s: f64,
    surface_k: [f64; LANES],
    flux_w_m2: [f64; LANES],
    intermittency: [f64; LANES],
    onset_square: [f64; LANES],
    capped: f64x4,
}

impl Row {
    fn of(time_s: f64, solved: &Solved) -> Row {
        // A tenth off: 0.9^4 of the fourth power.
        let capped = solved.uncapped_4.cmp_lt(f64x4::splat(0.6561)).blend(f64x4::splat(1.0), f64x4::splat(0.0));
        Row {
            time_s,
            surface_k: solved.surface_k.to_array(),
            flux_w_m2: solved.hot_wall_w_m2.to_array(),
            intermittency: solved.intermittency.to_array(),
            onset_square: solved.onset_square.to_array(),
            capped,
        }
    }
}

/// Time integrals of the heating where it heats, by the trapezoid, and of its capped part.
struct Loads {
    all: [f64; LANES],
    capped: [f64; LANES],
}

impl Loads {
    fn of(rows: &[Row]) -> Loads {
        let zero = f64x4::splat(0.0);
        let heats = |row: &Row| f64x4::from(row.flux_w_m2).fast_max(zero);
        let (mut all, mut capped) = (zero, zero);
        for (before, after) in rows.iter().zip(rows.iter().skip(1)) {
            let half = f64x4::splat(0.5 * (after.time_s - before.time_s));
            all += half * (heats(before) + heats(after));
            capped += half * (heats(before) * before.capped + heats(after) * after.capped);
        }
        Loads { all: all.to_array(), capped: capped.to_array() }
    }
}

fn peak(rows: &[Row], loads: &Loads, lane: usize) -> SurfacePeak {
    let pick = |values: &[f64; LANES]| values.get(lane).copied().unwrap_or(0.0);
    let (peak_k, time_s, at) = largest(rows, |row| pick(&row.surface_k));
    let (peak_flux_w_m2, peak_flux_time_s, _) = largest(rows, |row| pick(&row.flux_w_m2));
    let intermittency = rows.get(at).map_or(0.0, |row| pick(&row.intermittency));
    let onset_square = rows.get(at).map_or(0.0, |row| pick(&row.onset_square));
    let near = |other: Option<&Row>| other.is_some_and(|row| regime(pick(&row.intermittency)) != regime(intermittency));
    let turns = near(at.checked_sub(1).and_then(|i| rows.get(i))) || near(rows.get(at + 1));
    let load = pick(&loads.all);
    SurfacePeak {
        peak_k,
        time_s,
        peak_flux_w_m2,
        peak_flux_time_s,
        heat_load_j_m2: load,
        capped_share: if load > 0.0 { pick(&loads.capped) / load } else { 0.0 },
        regime_at_peak: regime(intermittency),
        sensitive: turns || near_onset(intermittency, onset_square),
    }
}

/// Within 25 % of the criterion either way, or in between laminar and turbulent (so at a wedge's edge).
fn near_onset(intermittency: f64, onset_square: f64) -> bool {
    regime(intermittency) == Regime::Transitional || (onset_square > 0.5625 && onset_square < 1.5625)
}

/// The largest value, its time and the row next to it: the top of the parabola through the largest row and its neighbours.
fn largest(rows: &[Row], value: impl Fn(&Row) -> f64) -> (f64, f64, usize) {
    let mut at = 0;
    let mut best = f64::NEG_INFINITY;
    for (i, row) in rows.iter().enumerate() {
        let here = value(row);
        if here > best {
            (at, best) = (i, here);
        }
    }
    let Some(middle) = rows.get(at) else { return (0.0, 0.0, 0) };
    let (Some(before), Some(after)) = (at.checked_sub(1).and_then(|i| rows.get(i)), rows.get(at + 1)) else {
        return (best, middle.time_s, at);
    };
    let (left, right) = (middle.time_s - before.time_s, after.time_s - middle.time_s);
    let (rise, fall) = ((best - value(before)) / left, (best - value(after)) / right);
    // A plateau's or a corner's parabola says nothing; rise and fall are not negative.
    let sum = rise + fall;
    if !(sum > 0.0 && left > 0.0 && right > 0.0) {
        return (best, middle.time_s, at);
    }
    // p(t) = best + b t - a t^2 with p(-left) and p(right) as they are.
    let a = sum / (left + right);
    let b = a * right - fall;
    let shift = (b / (2.0 * a)).clamp(-0.5 * left, 0.5 * right);
    (best + shift * (b - a * shift), middle.time_s + shift, at)
}

/// The factor on each tile's heating at which its surface just reaches its limit in an entry; `None` where nothing heats it or `limits_k`,
/// one a tile, names none.
///
/// From the balance itself: emissivity sigma T^4 over the hot-wall heating of a wall at the limit, least over the kept rows.
pub fn factors_to_limit(prepared: &Prepared, entry: usize, limits_k: &[Option<f64>]) -> Vec<Option<f64>> {
    let mut found = vec![None; limits_k.len()];
    if entry >= prepared.flights.len() {
        return found;
    }
    for (group, (limits_k, found)) in limits_k.chunks(LANES).zip(found.chunks_mut(LANES)).enumerate() {
        group_factors(prepared, entry, group, limits_k, found);
    }
    found
}

/// The factors of one group. A function of its own, never inlined: a browser swaps in optimised code only where a function is called.
#[inline(never)]
fn group_factors(prepared: &Prepared, entry: usize, group: usize, limits_k: &[Option<f64>], found: &mut [Option<f64>]) {
    let radiated = |lane: usize, limit_k: f64| {
        let emissivity = prepared.emissivities.get(prepared.tiles.get(group * LANES + lane)?.emissivity)?;
        Some(emissivity.value_at(limit_k) * STEFAN_BOLTZMANN * (limit_k * limit_k) * (limit_k * limit_k))
    };
    let asked: Vec<(usize, f64, f64)> = (limits_k.iter().enumerate())
        .filter_map(|(lane, limit_k)| limit_k.and_then(|limit_k| Some((lane, limit_k, radiated(lane, limit_k)?))))
        .collect();
    if asked.is_empty() {
        return;
    }
    for Here { moment, wall, site_squares, .. } in each(prepared, entry) {
        let Some(heating) = prepared.surface.heating_knowing(group, moment, site_squares) else { return };
        let (cold, recovery) = (heating.cold_wall_w_m2.to_array(), heating.recovery_j_kg.to_array());
        for (lane, limit_k, radiated) in &asked {
            let pick = |values: &[f64; LANES]| values.get(*lane).copied().unwrap_or(0.0);
            let hot = pick(&cold) * (1.0 - wall.value_and_slope(*limit_k).0 / pick(&recovery).max(1.0));
            if hot > 0.0
                && let Some(least) = found.get_mut(*lane)
            {
                *least = Some(least.map_or(radiated / hot, |least: f64| least.min(radiated / hot)));
            }
        }
    }
}
