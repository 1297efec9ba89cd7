//! What is left below each limit, after the scenario's policy: surface, glue line, structure.
//!
//! margin = limit - (nominal + what the policy's terms add, `policy`). The surface counts at its equilibrium, which is above the transient's
//! face; heating and emissivity move it (an emissivity less by a fraction is heating over one minus the fraction), the other terms do not.
//! Glue line and structure count from the solution in depth; the structure with what its neighbours' skin brings, where that is more
//! (`coupled`). A tile whose solution in depth is not there yet has its surface's margin alone, and says so (`TileResult::in_depth`); one
//! whose solution failed has none.

use super::condition::{Facts, Rules};
use super::depth::{End, EntryDepth, Setup, TileDepth};
use super::effects::Effects;
use super::kept::{Joined, Kept, PeakMaker};
use super::limits::{self, NamedLimit};
use super::points;
use super::policy::Counting;
use super::prepare::Prepared;
use super::surface::{self, SurfacePeak};
use super::work::rates::Rates;
use super::{Assessment, Effective, GovernedBy, InDepth, Peak, TileResult, coupled, flags, history};
use crate::document::Sorting as _;
use crate::document::{Error, Problems};
use crate::flight::remarks::remarks;
use crate::heating::local::LANES;
use crate::scenario::{Policy, Scenario, Term};
use crate::shield::findings::{findings_from_json, joined};
use crate::shield::{Finding, Shield};
use std::cell::OnceCell;
use std::ops::Range;
use std::sync::Arc;

pub(super) fn effective(prepared: &Prepared, tile: usize) -> Effective {
    prepared.tiles.get(tile).map_or_else(Effective::default, |tile| Effective {
        material: tile.material,
        coating: tile.coating,
        stack: tile.stack,
        thickness_m: tile.thickness_m,
        density_kg_m3: tile.density_kg_m3,
    })
}

/// The factor on heating that stands for a term of the policy; `None` where a surface in equilibrium does not feel it.
fn term_factor(term: &Term) -> Option<f64> {
    match term.name.as_str() {
        "heating" => Some(1.0 + term.fraction),
        "emissivity" => Some(1.0 / (1.0 - term.fraction)),
        _ => None,
    }
}

/// The prepared shield with each term's factor on every tile's heating; `None` for a term that the surface does not feel.
fn scaled(prepared: &Prepared, policy: &Policy) -> Vec<Option<Prepared>> {
    policy.terms.iter().map(|term| term_factor(term).map(|factor| prepared.with_heating_times(factor))).collect()
}

/// The surface's peaks of a range of tiles over one entry, and what the policy's terms make of each.
#[derive(Debug, Clone)]
pub(super) struct Peaks {
    nominal: Vec<SurfacePeak>,
    /// By tile, then by term.
    shifted_k: Vec<Vec<f64>>,
    counted_k: Vec<f64>,
    /// From fewer rows: of no use to a result that stands.
    pub rough: bool,
    /// By tile, what was forgotten and is to be solved again; empty where nothing is.
    unknown: Vec<bool>,
}

impl Peaks {
    /// One solve, and one more a term that the surface feels.
    fn new(prepared: &Prepared, scaled: &[Option<Prepared>], counting: &Counting, entry: usize, tiles: Range<usize>) -> Peaks {
        Peaks::by(surface::peaks, prepared, scaled, counting, entry, tiles)
    }

    fn by(
        peaks: fn(&Prepared, usize, Range<usize>) -> Vec<SurfacePeak>,
        prepared: &Prepared,
        scaled: &[Option<Prepared>],
        counting: &Counting,
        entry: usize,
        tiles: Range<usize>,
    ) -> Peaks {
        let nominal = peaks(prepared, entry, tiles.clone());
        let mut shifted_k: Vec<Vec<f64>> = nominal.iter().map(|peak| vec![peak.peak_k; scaled.len()]).collect();
        for (term, scaled) in scaled.iter().enumerate() {
            let Some(scaled) = scaled else { continue };
            for (shifted, peak) in shifted_k.iter_mut().zip(peaks(scaled, entry, tiles.clone())) {
                if let Some(shifted) = shifted.get_mut(term) {
                    *shifted = peak.peak_k;
                }
            }
        }
        let counted = nominal.iter().zip(&shifted_k).map(|(peak, shifted_k)| peak.peak_k + counting.rise_k(peak.peak_k, shifted_k));
        Peaks { counted_k: counted.collect(), nominal, shifted_k, rough: false, unknown: Vec::new() }
    }

    /// Forgets the tiles that were touched; `self` holds every tile.
    pub fn forget(&mut self, touched: &[bool]) {
        self.unknown.resize(touched.len(), false);
        self.unknown.iter_mut().zip(touched).for_each(|(unknown, touched)| *unknown |= touched);
    }

    /// How many tiles are forgotten.
    pub fn lacks(&self) -> usize {
        self.unknown.iter().filter(|unknown| **unknown).count()
    }

    /// The same peaks with those of `tiles` in their places; `self` holds every tile.
    fn take(&mut self, tiles: Range<usize>, new: Peaks) {
        let rows = tiles.zip(new.nominal).zip(new.shifted_k).zip(new.counted_k);
        for (((tile, nominal), shifted_k), counted_k) in rows {
            let places = (self.nominal.get_mut(tile), self.shifted_k.get_mut(tile), self.counted_k.get_mut(tile));
            if let (Some(own), Some(own_shifted_k), Some(own_counted_k)) = places {
                (*own, *own_shifted_k, *own_counted_k) = (nominal, shifted_k, counted_k);
            }
        }
    }

    /// Nominal, and with the policy's terms counted, of the tile at `index` of the range; `None` while it is forgotten.
    fn of(&self, index: usize) -> Option<(&SurfacePeak, f64)> {
        if self.unknown.get(index) == Some(&true) {
            return None;
        }
        Some((self.nominal.get(index)?, *self.counted_k.get(index)?))
    }
}

/// The whole shield's peaks under a scenario; what the policy's terms ask for is made when first asked.
struct Maker<'a> {
    prepared: &'a Prepared,
    policy: &'a Policy,
    counting: &'a Counting,
    scaled: OnceCell<Vec<Option<Prepared>>>,
}

impl Maker<'_> {
    fn scaled(&self) -> &[Option<Prepared>] {
        self.scaled.get_or_init(|| scaled(self.prepared, self.policy))
    }

    fn of(&self, entry: usize, tiles: Range<usize>) -> Peaks {
        Peaks::new(self.prepared, self.scaled(), self.counting, entry, tiles)
    }
}

impl PeakMaker for Maker<'_> {
    fn solve(&self, entry: usize, rough: bool) -> Peaks {
        let tiles = 0..self.prepared.tiles.len();
        if rough {
            let peaks = Peaks::by(surface::estimated_peaks, self.prepared, self.scaled(), self.counting, entry, tiles);
            Peaks { rough, ..peaks }
        } else {
            self.of(entry, tiles)
        }
    }

    fn renew(&self, entry: usize, peaks: &mut Peaks) {
        let unknown = std::mem::take(&mut peaks.unknown);
        for (group, unknown) in unknown.chunks(LANES).enumerate().filter(|(_, unknown)| unknown.contains(&true)) {
            let tiles = group * LANES..group * LANES + unknown.len();
            peaks.take(tiles.clone(), self.of(entry, tiles));
        }
    }
}

/// The smallest margin of one layer over the entries.
#[derive(Default)]
struct Layer {
    margin_k: Option<f64>,
    entry: usize,
    counted_k: f64,
    /// By term, at the policy's level.
    shifts_k: Vec<f64>,
}

impl Layer {
    /// Takes an entry's peak in, where it leaves less than what is known.
    fn meet(&mut self, limit_k: Option<f64>, entry: usize, counted_k: f64, shifts_k: impl FnOnce() -> Vec<f64>) {
        let margin = limit_k.map(|limit| limit - counted_k);
        let less = match (margin, self.margin_k) {
            (Some(margin), Some(known)) => margin < known,
            (Some(_), None) => true,
            (None, _) => counted_k > self.counted_k,
        };
        if less {
            *self = Layer { margin_k: margin, entry, counted_k, shifts_k: shifts_k() };
        }
    }
}

/// Everything that a tile's result is made from.
struct Bench<'a> {
    shield: &'a Shield,
    scenario: &'a Scenario,
    prepared: &'a Prepared,
    counting: Counting,
    /// `None` for an entry that an estimate left out.
    by_entry: Vec<Option<Arc<Peaks>>>,
    depth: &'a [Option<TileDepth>],
    /// By entry, then by tile: the peaks of glue line and structure with the neighbours; empty until every tile is solved.
    coupled: Arc<Joined>,
}

impl Bench<'_> {
    /// One tile's result over all entries, and what its limits have to say.
    fn tile(&self, tile: usize) -> (TileResult, Vec<String>) {
        let effective = effective(self.prepared, tile);
        let area_m2 = self.shield.tiles.get(tile).map_or(0.0, |tile| tile.facet.area_m2);
        let mut result = TileResult {
            effective,
            mass_kg: effective.density_kg_m3 * effective.thickness_m * area_m2,
            numerical_error_k: surface::NUMERICAL_ERROR_K,
            ..TileResult::default()
        };
        let limits = self.scenario.policy.limits;
        let library = &self.shield.library;
        let stack = effective.stack.and_then(|stack| self.shield.stacks.get(stack));
        let surface_limit = limits::surface(library, &effective, limits);
        let bondline_limit = stack.and_then(|stack| limits::bondline(library, stack, limits));
        let structure_limit = stack.and_then(|stack| limits::structure(library, stack, limits));
        let kelvin = |limit: &Option<NamedLimit>| limit.as_ref().map(|limit| limit.kelvin);
        result.limit_surface_k = kelvin(&surface_limit);
        let mut layers = [Layer::default(), Layer::default(), Layer::default()];
        let [surface, bondline, structure] = &mut layers;
        for (entry, peaks) in self.by_entry.iter().enumerate() {
            let Some((peaks, (peak, counted_k))) = peaks.as_ref().and_then(|peaks| Some((peaks, peaks.of(tile)?))) else { continue };
            if peak.peak_k > result.surface.temperature_k {
                result.surface = Peak { temperature_k: peak.peak_k, time_s: peak.time_s, entry };
                result.regime_at_peak = peak.regime_at_peak;
                result.sensitive = peak.sensitive;
            }
            if peak.heat_load_j_m2 > result.heat_load_j_m2 {
                (result.heat_load_j_m2, result.capped_share) = (peak.heat_load_j_m2, peak.capped_share);
            }
            let shifted_k = peaks.shifted_k.get(tile).map_or(&[][..], Vec::as_slice);
            surface.meet(result.limit_surface_k, entry, counted_k, || self.counting.shifts_k(peak.peak_k, shifted_k));
        }
        let depth = self.depth.get(tile).and_then(Option::as_ref);
        result.in_depth = match (stack, depth) {
            (None, _) => InDepth::NoStack,
            (Some(_), None) => InDepth::Pending,
            (Some(_), Some(depth)) => depth.failure().map_or(InDepth::Solved, InDepth::Failed),
        };
        if let (InDepth::Solved, Some(depth)) = (result.in_depth, depth) {
            result.limit_bondline_k = kelvin(&bondline_limit);
            result.limit_structure_k = kelvin(&structure_limit);
            for (entry, solved) in depth.entries.iter().enumerate().filter(|(_, solved)| solved.is_known()) {
                self.entry(tile, entry, solved, &mut result, bondline, structure);
            }
        }
        let [surface, bondline, structure] = &layers;
        result.margin_surface_k = surface.margin_k;
        result.margin_bondline_k = bondline.margin_k;
        result.margin_structure_k = structure.margin_k;
        result.counted_surface_k = surface.counted_k;
        result.layer_entries = [surface.entry, bondline.entry, structure.entry];
        if result.in_depth == InDepth::Solved {
            result.counted_bondline_k = Some(bondline.counted_k);
            result.counted_structure_k = Some(structure.counted_k);
        }
        let named = [
            (GovernedBy::Surface, surface, &surface_limit),
            (GovernedBy::Bondline, bondline, &bondline_limit),
            (GovernedBy::Structure, structure, &structure_limit),
        ];
        let least = named.iter().filter_map(|(layer, found, limit)| Some((*layer, *found, limit.as_ref()?, found.margin_k?)));
        let least = least.reduce(|least, other| if other.3 < least.3 { other } else { least });
        // Where the glue line is not known a good surface says nothing of the tile.
        let unknown = matches!(result.in_depth, InDepth::Failed(_));
        if let Some((layer, found, limit, margin)) = least.filter(|least| !unknown || least.3 < 0.0) {
            result.margin_k = Some(margin);
            result.governed_by = Some(layer);
            result.governing_entry = Some(found.entry);
            result.limiting_layer = limit.owner.clone();
            result.shifts_k = found.shifts_k.clone();
            let most = found.shifts_k.iter().enumerate().filter(|(_, shift)| **shift > 0.0);
            result.term_most = most.reduce(|most, other| if other.1 > most.1 { other } else { most }).map(|(term, _)| term);
        }
        let told = [surface_limit, bondline_limit, structure_limit].into_iter().flatten().filter_map(|limit| limit.warning);
        (result, told.collect())
    }

    /// One entry of a tile that is solved in depth.
    fn entry(&self, tile: usize, entry: usize, solved: &EntryDepth, result: &mut TileResult, bondline: &mut Layer, structure: &mut Layer) {
        let peak = |of: &super::depth::TilePeak| Peak { temperature_k: of.temperature_k, time_s: of.time_s, entry };
        let higher = |known: &mut Option<Peak>, new: Peak| {
            if known.is_none_or(|known| new.temperature_k > known.temperature_k) {
                *known = Some(new);
            }
        };
        let alone = [peak(&solved.bondline), peak(&solved.structure)];
        let coupled = self.coupled.get(entry).and_then(|tiles| tiles.get(tile).copied().flatten());
        // The higher of the tile by itself and with its neighbours.
        let counts = [0, 1].map(|i| {
            let joined = coupled.map(|coupled| coupled[i]);
            joined.filter(|joined| joined.temperature_k > alone[i].temperature_k).unwrap_or(alone[i])
        });
        higher(&mut result.face, peak(&solved.face));
        higher(&mut result.bondline, counts[0]);
        higher(&mut result.bondline_isolated, alone[0]);
        higher(&mut result.structure, counts[1]);
        higher(&mut result.structure_isolated, alone[1]);
        if let Some([_, structure]) = coupled {
            higher(&mut result.structure_coupled, structure);
        }
        result.structure_at_touchdown_k = Some(
            result.structure_at_touchdown_k.map_or(solved.structure_at_touchdown_k, |known| known.max(solved.structure_at_touchdown_k)),
        );
        result.numerical_error_k = result.numerical_error_k.max(solved.numerical_error_k);
        let shifted = |layer: usize| solved.terms.iter().filter_map(|term| term.get(layer).copied()).collect::<Vec<f64>>();
        for (layer, limit, kept) in [(1, result.limit_bondline_k, bondline), (2, result.limit_structure_k, structure)] {
            let (nominal_k, own_k) = (counts[layer - 1].temperature_k, alone[layer - 1].temperature_k);
            let shifted_k = shifted(layer);
            let rise = if shifted_k.is_empty() { 0.0 } else { self.counting.rise_k(own_k, &shifted_k) };
            kept.meet(limit, entry, nominal_k + rise, || self.counting.shifts_k(own_k, &shifted_k));
        }
    }
}

/// The vehicle's findings with the scenario's.
///
/// # Errors
/// Every scenario finding that names what the vehicle lacks or says what cannot be, and every wrong row of its rules and rates.
pub fn findings(shield: &Shield, scenario: &Scenario) -> Result<Vec<Finding>, Error> {
    let mut problems = Problems::of("scenario");
    let own = findings_from_json(&scenario.findings, &shield.tiles, &mut problems);
    history::check_maps(shield, scenario, &mut problems);
    for wrong in [Rules::of(&scenario.inspection).err(), Effects::of(&scenario.inspection).err(), Rates::of(&scenario.work).err()]
        .into_iter()
        .flatten()
    {
        problems.list.extend(wrong.problems);
    }
    problems.or_ok(joined(&shield.findings, &own))
}

/// The whole shield's results from its surface alone, but for what [`settle`] adds: the estimate, glue line and structure not there yet.
pub fn assess(shield: &Shield, scenario: &Scenario, prepared: &Prepared, findings: &[Finding]) -> Assessment {
    assess_keeping(shield, scenario, prepared, findings, &mut Kept::default())
}

/// The same, solving the surface only of the entries that changed since the assessment that `kept` comes from.
pub fn assess_keeping(shield: &Shield, scenario: &Scenario, prepared: &Prepared, findings: &[Finding], kept: &mut Kept) -> Assessment {
    assembled(shield, scenario, prepared, findings, Below { stands: true, ..Below::default() }, kept)
}

/// The same for an estimate: of the surface only the entries that `kept` looks at, and those that it knows.
pub fn first_look(shield: &Shield, scenario: &Scenario, prepared: &Prepared, findings: &[Finding], kept: &mut Kept) -> Assessment {
    assembled(shield, scenario, prepared, findings, Below::default(), kept)
}

/// The whole shield's results with its solution in depth, by tile; `None` is not solved yet, and that tile keeps its surface's margin alone.
/// What [`settle`] adds is not in it.
pub fn with_depth(setup: &Setup, findings: &[Finding], depth: &[Option<TileDepth>]) -> Assessment {
    let whole = depth.len() == setup.shield.tiles.len() && depth.iter().all(Option::is_some);
    with_depth_keeping(setup, findings, depth, whole, &mut Kept::default())
}

/// The same with the surface's peaks kept, which no answer in depth changes. `stands` where every tile has its full answer: before that the
/// skin between tiles is an estimate, since it takes the whole shield.
pub fn with_depth_keeping(setup: &Setup, findings: &[Finding], depth: &[Option<TileDepth>], stands: bool, kept: &mut Kept) -> Assessment {
    let joined = match stands {
        true => kept.joined(setup.prepared, depth, || coupled::peaks(setup, depth)),
        false => Arc::new(kept.estimated(depth)),
    };
    assembled(setup.shield, setup.scenario, setup.prepared, findings, Below { joined, depth, stands }, kept)
}

/// What is known below the surface.
#[derive(Default)]
struct Below<'a> {
    joined: Arc<Joined>,
    depth: &'a [Option<TileDepth>],
    stands: bool,
}

fn assembled(
    shield: &Shield,
    scenario: &Scenario,
    prepared: &Prepared,
    findings: &[Finding],
    Below { joined: coupled, depth, stands }: Below,
    kept: &mut Kept,
) -> Assessment {
    let tiles = shield.tiles.len();
    let counting = Counting::new(&scenario.policy);
    let by_entry = {
        let maker = Maker { prepared, policy: &scenario.policy, counting: &counting, scaled: OnceCell::new() };
        kept.peaks(prepared, stands, &maker)
    };
    let bench = Bench { shield, scenario, prepared, counting, by_entry, depth, coupled };
    let rules = &prepared.rules;
    let present = history::present_flight(shield, findings);
    let standings = history::standings(findings, present);
    let mut found = vec![Vec::new(); tiles];
    for (finding, standing) in findings.iter().zip(standings) {
        for tile in [Some(finding.tile), finding.tile_2].into_iter().flatten() {
            if let Some(list) = found.get_mut(tile) {
                list.push((finding, standing));
            }
        }
    }
    let mut warnings: Vec<String> = Vec::new();
    let mut results = Vec::with_capacity(tiles);
    let flags = flags::of_all(shield, prepared);
    for ((tile, found), flags) in found.iter().enumerate().zip(flags) {
        let (mut result, told) = bench.tile(tile);
        result.flags = flags;
        let mut flights: Vec<Option<u32>> = found.iter().map(|(finding, _)| finding.flight.or(present)).collect();
        flights.order();
        flights.dedup();
        let row = &shield.tiles[tile];
        let facts = Facts::of(row, &shield.library, present, flights.len(), result.margin_k);
        let (condition, disposition, judged) = rules.of_tile(row, found.iter().copied(), &facts);
        (result.condition, result.disposition) = (condition, disposition);
        result.rule = judged.map_or(String::new(), |judged| judged.rule.words());
        if let Some((decided, _)) = found.iter().rev().find(|(finding, standing)| !finding.decision.is_empty() && !standing.closed) {
            result.decision = [&decided.decision, &decided.decided_by, &decided.decided_on, &decided.decision_reason].map(String::clone);
        }
        for warning in told {
            if !warnings.contains(&warning) {
                warnings.push(warning);
            }
        }
        results.push(result);
    }
    warnings.extend(notes(shield, scenario, &results));
    for (entry, flight) in scenario.entries.iter().zip(&prepared.flights) {
        warnings.extend(remarks(&entry.course, &flight.trajectory).into_iter().map(|what| format!("entry {:?}: {what}", entry.name)));
    }
    warnings.extend(prepared.starts.warnings.iter().cloned());
    warnings.extend(points::warnings(prepared));
    let pending = results.iter().filter(|result| result.in_depth == InDepth::Pending).count();
    let mut models = surface::models(prepared);
    if pending == 0 && results.iter().any(|result| result.in_depth == InDepth::Solved) {
        models.extend(super::depth::models());
    }
    Assessment { tiles: results, models, not_assessed: not_assessed(pending), warnings, pending }
}

/// What must be said beside the results.
fn notes(shield: &Shield, scenario: &Scenario, results: &[TileResult]) -> Vec<String> {
    let mut warnings = Vec::new();
    let unlimited = results.iter().filter(|result| result.limit_surface_k.is_none()).count();
    if unlimited > 0 {
        warnings.push(format!("{unlimited} tiles have no surface limit under this policy and so no surface margin"));
    }
    let below = results.iter().filter(|r| r.in_depth == InDepth::Solved && (r.limit_bondline_k.is_none() || r.limit_structure_k.is_none()));
    let below = below.count();
    if below > 0 {
        warnings.push(format!("{below} tiles have no limit of the glue line or the structure under this policy and so no margin there"));
    }
    for (end, what) in [
        (End::Limit, "the structure has not peaked within landing.limit_s"),
        (End::Failed, "the run through the tile could not be advanced"),
    ] {
        let names: Vec<&str> = (shield.tiles.iter().zip(results))
            .filter(|(_, result)| result.in_depth == InDepth::Failed(end))
            .map(|(tile, _)| tile.id.as_str())
            .collect();
        if !names.is_empty() {
            let listed = names.iter().take(10).copied().collect::<Vec<_>>().join(", ");
            let more = if names.len() > 10 { format!(" and {} more", names.len() - 10) } else { String::new() };
            warnings.push(format!("{} tiles have no answer in depth, {what}: {listed}{more}", names.len()));
        }
    }
    if results.iter().all(|result| matches!(result.in_depth, InDepth::NoStack | InDepth::Pending)) {
        for term in scenario.policy.terms.iter().filter(|term| term_factor(term).is_none()) {
            warnings.push(format!("the policy's term {:?} does not move a surface in equilibrium and counts 0 K", term.name));
        }
    }
    warnings
}

/// Adds what takes a second look at every tile's surface: the factor on its heating at which its margin is 0, the least over the entries.
///
/// The factor is read off the balance at the temperature which, with the terms' rise grown in proportion, just meets the limit;
/// without terms that is the limit itself and the factor is exact.
pub fn settle(prepared: &Prepared, assessment: &mut Assessment) {
    settle_keeping(prepared, assessment, &mut Kept::default());
}

/// The same, looking again only at the tiles whose surface moved since the assessment that `kept` comes from.
pub fn settle_keeping(prepared: &Prepared, assessment: &mut Assessment, kept: &mut Kept) {
    let least = kept.factors(prepared, |touched| surface_factors(prepared, assessment, touched));
    for (result, least) in assessment.tiles.iter_mut().zip(least) {
        result.surface_heating_factor = least;
        // In depth the glue line or the structure may come first (`reach`).
        let alone = matches!(result.in_depth, InDepth::NoStack | InDepth::Pending);
        result.heating_factor_to_limit = least.filter(|_| alone);
    }
}

/// The factor of each tile that is `asked` for.
fn surface_factors(prepared: &Prepared, assessment: &Assessment, asked: &[bool]) -> Vec<Option<f64>> {
    let met = |tile: usize, result: &TileResult| {
        let (limit, margin) = (result.limit_surface_k?, result.margin_surface_k?);
        let entry = result.layer_entries[0];
        let nominal = if result.surface.entry == entry {
            result.surface.temperature_k
        } else {
            surface::peaks(prepared, entry, tile..tile + 1).first()?.peak_k
        };
        Some(limit * nominal / (limit - margin).max(1.0))
    };
    let of = |(tile, result): (usize, &TileResult)| asked.get(tile).filter(|asked| **asked).and_then(|_| met(tile, result));
    let met_k: Vec<Option<f64>> = assessment.tiles.iter().enumerate().map(of).collect();
    let mut least: Vec<Option<f64>> = vec![None; met_k.len()];
    for entry in 0..prepared.flights.len() {
        for (least, factor) in least.iter_mut().zip(surface::factors_to_limit(prepared, entry, &met_k)) {
            *least = [*least, factor].into_iter().flatten().reduce(f64::min);
        }
    }
    least
}

/// The margin of each of a range of tiles, least over the entries; `None` where a tile has no limit. Any slicing gives the same bytes.
pub fn margins(shield: &Shield, scenario: &Scenario, prepared: &Prepared, tiles: Range<usize>) -> Vec<Option<f64>> {
    let scaled = scaled(prepared, &scenario.policy);
    let counting = Counting::new(&scenario.policy);
    let tiles = tiles.start..tiles.end.min(prepared.tiles.len());
    let mut least: Vec<Option<f64>> = vec![None; tiles.len()];
    for entry in 0..prepared.flights.len() {
        let peaks = Peaks::new(prepared, &scaled, &counting, entry, tiles.clone());
        for (index, least) in least.iter_mut().enumerate() {
            let effective = effective(prepared, tiles.start + index);
            let limit = limits::surface(&shield.library, &effective, scenario.policy.limits);
            if let Some((limit, (_, counted_k))) = limit.zip(peaks.of(index)) {
                let margin = limit.kelvin - counted_k;
                *least = Some(least.map_or(margin, |known: f64| known.min(margin)));
            }
        }
    }
    least
}

/// The smallest margin over `tiles`, which is all that a slider's track asks for; `None` where none has a limit.
pub fn smallest_margin(shield: &Shield, scenario: &Scenario, prepared: &Prepared, tiles: &[usize]) -> Option<f64> {
    let scaled = scaled(prepared, &scenario.policy);
    let counting = Counting::new(&scenario.policy);
    let mut smallest: Option<f64> = None;
    for &tile in tiles {
        let Some(limit) = limits::surface(&shield.library, &effective(prepared, tile), scenario.policy.limits) else { continue };
        for entry in 0..prepared.flights.len() {
            let peaks = Peaks::new(prepared, &scaled, &counting, entry, tile..tile + 1);
            let Some((_, counted_k)) = peaks.of(0) else { continue };
            let margin = limit.kelvin - counted_k;
            smallest = Some(smallest.map_or(margin, |known| known.min(margin)));
        }
    }
    smallest
}

/// The smallest margin of glue line and structure over `tiles`, solved here with the policy's terms, each with what its neighbours bring as it
/// is (`brought_k`, by place in `tiles`); `None` where no tile has an answer and a limit.
pub fn smallest_margin_in_depth(setup: &Setup, tiles: &[usize], brought_k: &[[f64; 2]]) -> Option<f64> {
    let counting = Counting::new(&setup.scenario.policy);
    let (library, limits) = (&setup.shield.library, setup.scenario.policy.limits);
    let mut smallest: Option<f64> = None;
    for ((tile, solved), brought_k) in tiles.iter().zip(setup.solve(tiles)).zip(brought_k) {
        let Some(stack) = effective(setup.prepared, *tile).stack.and_then(|stack| setup.shield.stacks.get(stack)) else { continue };
        let limits_k = [limits::bondline(library, stack, limits), limits::structure(library, stack, limits)];
        for entry in solved.entries.iter().filter(|entry| !matches!(entry.end, End::Limit | End::Failed)) {
            for (layer, (limit, peak)) in limits_k.iter().zip([entry.bondline, entry.structure]).enumerate() {
                let Some(limit) = limit else { continue };
                let shifted_k: Vec<f64> = entry.terms.iter().filter_map(|term| term.get(1 + layer).copied()).collect();
                let rise_k = if shifted_k.is_empty() { 0.0 } else { counting.rise_k(peak.temperature_k, &shifted_k) };
                let margin = limit.kelvin - peak.temperature_k - rise_k - brought_k.get(layer).copied().unwrap_or(0.0);
                smallest = Some(smallest.map_or(margin, |known| known.min(margin)));
            }
        }
    }
    smallest
}

fn not_assessed(pending: usize) -> Vec<String> {
    let mut list = Vec::new();
    if pending > 0 {
        list.push(format!("glue line and structure of {pending} tiles (not solved yet)"));
    }
    list.extend(["gap filler and seals", "cold limits", "venting and loads"].map(str::to_string));
    list
}
