//! What is left below each limit, after the scenario's policy.
//!
//! margin = limit - (nominal + combination of named terms). A term is solved one at a time: heating by its fraction more,
//! emissivity by its fraction less (for a face in equilibrium the same as heating over one minus the fraction). Terms that the
//! surface in equilibrium does not feel (conductivity, specific heat, thickness, start) are 0 here and said so in the warnings.

use super::condition::{Facts, Rules};
use super::effects::Effects;
use super::points;
use super::prepare::Prepared;
use super::surface::{self, SurfacePeak};
use super::work::rates::Rates;
use super::{Assessment, Effective, GovernedBy, Peak, TileResult, history};
use crate::document::{Error, Problems};
use crate::material::{Library, LimitPolicy};
use crate::scenario::{Combine, Limits, Policy, Scenario, Term};
use crate::shield::findings::{findings_from_json, joined};
use crate::shield::{Finding, Shield};
use std::ops::Range;

/// A limit and the id of what it belongs to.
struct SurfaceLimit<'a> {
    kelvin: f64,
    owner: &'a str,
    warning: Option<String>,
}

fn limit_policy(limits: Limits) -> LimitPolicy {
    match limits {
        Limits::Reuse => LimitPolicy::Reuse,
        Limits::SingleMission => LimitPolicy::SingleMission,
        Limits::Flights(flights) => LimitPolicy::Flights(flights),
    }
}

fn effective(prepared: &Prepared, tile: usize) -> Effective {
    let tile = &prepared.tiles[tile];
    Effective {
        material: tile.material,
        coating: tile.coating,
        stack: tile.stack,
        thickness_m: tile.thickness_m,
        density_kg_m3: tile.density_kg_m3,
    }
}

/// The lower of the tile's and its coating's limit.
fn surface_limit<'a>(library: &'a Library, effective: &Effective, limits: Limits) -> Option<SurfaceLimit<'a>> {
    let owners = [Some(effective.material), effective.coating];
    let found = owners.into_iter().flatten().filter_map(|index| {
        let material = library.materials.get(index)?;
        let read = material.limit_at(limit_policy(limits))?;
        Some(SurfaceLimit { kelvin: read.kelvin, owner: &material.id, warning: read.warning })
    });
    found.reduce(|lowest, other| if other.kelvin < lowest.kelvin { other } else { lowest })
}

/// The factor on heating that stands for a term of the policy; `None` where a surface in equilibrium does not feel it.
fn term_factor(term: &Term) -> Option<f64> {
    match term.name.as_str() {
        "heating" => Some(1.0 + term.fraction),
        "emissivity" => Some(1.0 / (1.0 - term.fraction)),
        _ => None,
    }
}

/// The prepared shield with each term's factor on every tile's heating, one a term that the surface feels.
fn scaled(prepared: &Prepared, policy: &Policy) -> Vec<Prepared> {
    policy.terms.iter().filter_map(term_factor).map(|factor| prepared.with_heating_times(factor)).collect()
}

/// The peaks of a range of tiles over one entry, and what the policy's terms add to each.
struct Peaks {
    nominal: Vec<SurfacePeak>,
    /// The combined rise of each peak, K.
    rise_k: Vec<f64>,
}

impl Peaks {
    /// One solve, and one more a term.
    fn new(prepared: &Prepared, scaled: &[Prepared], combine: Combine, entry: usize, tiles: Range<usize>) -> Peaks {
        let nominal = surface::peaks(prepared, entry, tiles.clone());
        let mut rise_k = vec![0.0; nominal.len()];
        for scaled in scaled {
            let with_term = surface::peaks(scaled, entry, tiles.clone());
            for ((rise_k, peak), nominal) in rise_k.iter_mut().zip(&with_term).zip(&nominal) {
                let own = peak.peak_k - nominal.peak_k;
                *rise_k += if combine == Combine::Sum { own } else { own * own };
            }
        }
        if combine != Combine::Sum {
            rise_k.iter_mut().for_each(|rise_k| *rise_k = rise_k.sqrt());
        }
        Peaks { nominal, rise_k }
    }

    /// Nominal, and with the policy's terms counted, of the tile at `index` of the range.
    fn of(&self, index: usize) -> Option<(&SurfacePeak, f64)> {
        let (nominal, rise_k) = (self.nominal.get(index)?, self.rise_k.get(index)?);
        Some((nominal, nominal.peak_k + rise_k))
    }
}

/// One tile's surface result over all entries, and what its limit has to say.
fn tile_result(shield: &Shield, scenario: &Scenario, prepared: &Prepared, tile: usize, by_entry: &[Peaks]) -> (TileResult, Option<String>) {
    let effective = effective(prepared, tile);
    let mut result = TileResult {
        effective,
        mass_kg: effective.density_kg_m3 * effective.thickness_m * shield.tiles[tile].facet.area_m2,
        numerical_error_k: surface::NUMERICAL_ERROR_K,
        ..TileResult::default()
    };
    let limit = surface_limit(&shield.library, &effective, scenario.policy.limits);
    result.limit_surface_k = limit.as_ref().map(|limit| limit.kelvin);
    for (entry, (peak, counted_k)) in by_entry.iter().enumerate().filter_map(|(entry, peaks)| Some((entry, peaks.of(tile)?))) {
        if entry == 0 || peak.peak_k > result.surface.temperature_k {
            result.surface = Peak { temperature_k: peak.peak_k, time_s: peak.time_s, entry };
            result.regime_at_peak = peak.regime_at_peak;
            result.sensitive = peak.sensitive;
        }
        if peak.heat_load_j_m2 > result.heat_load_j_m2 {
            (result.heat_load_j_m2, result.capped_share) = (peak.heat_load_j_m2, peak.capped_share);
        }
        let margin = limit.as_ref().map(|limit| limit.kelvin - counted_k);
        if margin.is_some_and(|margin| result.margin_k.is_none_or(|known| margin < known)) {
            result.margin_surface_k = margin;
            result.margin_k = margin;
            result.governing_entry = Some(entry);
        }
    }
    let Some(limit) = limit else { return (result, None) };
    result.governed_by = Some(GovernedBy::Surface);
    result.limiting_layer = limit.owner.to_string();
    (result, limit.warning)
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

/// The whole shield's results, but for what [`settle`] adds.
pub fn assess(shield: &Shield, scenario: &Scenario, prepared: &Prepared, findings: &[Finding]) -> Assessment {
    let tiles = shield.tiles.len();
    let scaled = scaled(prepared, &scenario.policy);
    let by_entry: Vec<Peaks> =
        (0..prepared.flights.len()).map(|entry| Peaks::new(prepared, &scaled, scenario.policy.combine, entry, 0..tiles)).collect();
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
    let mut warnings = Vec::new();
    let mut results = Vec::with_capacity(tiles);
    for (tile, found) in found.iter().enumerate() {
        let (mut result, warning) = tile_result(shield, scenario, prepared, tile, &by_entry);
        let mut flights: Vec<Option<u32>> = found.iter().map(|(finding, _)| finding.flight.or(present)).collect();
        flights.sort_unstable();
        flights.dedup();
        let row = &shield.tiles[tile];
        let facts = Facts::of(row, &shield.library, present, flights.len(), result.margin_k);
        let (condition, disposition, judged) = rules.of_tile(row, found.iter().copied(), &facts);
        (result.condition, result.disposition) = (condition, disposition);
        result.rule = judged.map_or(String::new(), |judged| judged.rule.words());
        if let Some((decided, _)) = found.iter().rev().find(|(finding, standing)| !finding.decision.is_empty() && !standing.closed) {
            result.decision = [&decided.decision, &decided.decided_by, &decided.decided_on, &decided.decision_reason].map(String::clone);
        }
        if let Some(warning) = warning.filter(|warning| !warnings.contains(warning)) {
            warnings.push(warning);
        }
        results.push(result);
    }
    let unlimited = results.iter().filter(|result| result.limit_surface_k.is_none()).count();
    if unlimited > 0 {
        warnings.push(format!("{unlimited} tiles have no surface limit under this policy and so no margin"));
    }
    for term in &scenario.policy.terms {
        if term_factor(term).is_none() {
            warnings.push(format!("the policy's term {:?} does not move a surface in equilibrium and counts 0 K", term.name));
        }
    }
    if scenario.policy.combine == Combine::Sampled && !scenario.policy.terms.is_empty() {
        warnings.push("sampled terms are combined as root-sum-square until sampling exists".to_string());
    }
    warnings.extend(prepared.starts.warnings.iter().cloned());
    warnings.extend(points::warnings(prepared));
    Assessment { tiles: results, models: surface::models(prepared), not_assessed: not_assessed(), warnings }
}

/// Adds what takes a second look at every tile: the factor on its heating at which a margin is 0, the least over the entries.
///
/// The factor is read off the balance at the temperature which, with the terms' rise grown in proportion, just meets the limit;
/// without terms that is the limit itself and the factor is exact.
pub fn settle(prepared: &Prepared, assessment: &mut Assessment) {
    let met = |tile: usize, result: &TileResult| {
        let (limit, margin) = (result.limit_surface_k?, result.margin_surface_k?);
        let entry = result.governing_entry.unwrap_or_default();
        let nominal = if result.surface.entry == entry {
            result.surface.temperature_k
        } else {
            surface::peaks(prepared, entry, tile..tile + 1).first()?.peak_k
        };
        Some(limit * nominal / (limit - margin).max(1.0))
    };
    let met_k: Vec<Option<f64>> = assessment.tiles.iter().enumerate().map(|(tile, result)| met(tile, result)).collect();
    let mut least: Vec<Option<f64>> = vec![None; met_k.len()];
    for entry in 0..prepared.flights.len() {
        for (least, factor) in least.iter_mut().zip(surface::factors_to_limit(prepared, entry, &met_k)) {
            *least = [*least, factor].into_iter().flatten().reduce(f64::min);
        }
    }
    for ((result, met_k), least) in assessment.tiles.iter_mut().zip(met_k).zip(least) {
        if met_k.is_some() {
            result.heating_factor_to_limit = least;
        }
    }
}

/// The margin of each of a range of tiles, least over the entries; `None` where a tile has no limit. Any slicing gives the same bytes.
pub fn margins(shield: &Shield, scenario: &Scenario, prepared: &Prepared, tiles: Range<usize>) -> Vec<Option<f64>> {
    let scaled = scaled(prepared, &scenario.policy);
    let tiles = tiles.start..tiles.end.min(prepared.tiles.len());
    let mut least: Vec<Option<f64>> = vec![None; tiles.len()];
    for entry in 0..prepared.flights.len() {
        let peaks = Peaks::new(prepared, &scaled, scenario.policy.combine, entry, tiles.clone());
        for (index, least) in least.iter_mut().enumerate() {
            let effective = effective(prepared, tiles.start + index);
            let limit = surface_limit(&shield.library, &effective, scenario.policy.limits);
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
    let mut smallest: Option<f64> = None;
    for &tile in tiles {
        let Some(limit) = surface_limit(&shield.library, &effective(prepared, tile), scenario.policy.limits) else { continue };
        for entry in 0..prepared.flights.len() {
            let peaks = Peaks::new(prepared, &scaled, scenario.policy.combine, entry, tile..tile + 1);
            let Some((_, counted_k)) = peaks.of(0) else { continue };
            let margin = limit.kelvin - counted_k;
            smallest = Some(smallest.map_or(margin, |known| known.min(margin)));
        }
    }
    smallest
}

fn not_assessed() -> Vec<String> {
    ["glue line and structure (no transient yet)", "gap filler and seals", "cold limits", "venting and loads"].map(str::to_string).to_vec()
}
