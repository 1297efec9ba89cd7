//! What is left below each limit, after the scenario's policy.
//!
//! margin = limit - (nominal + combination of named terms). A term is solved one at a time: heating by its fraction more,
//! emissivity by its fraction less (for a face in equilibrium the same as heating over one minus the fraction). Terms that the
//! surface in equilibrium does not feel (conductivity, specific heat, thickness, start) are 0 here and said so in the warnings.

use super::prepare::{self, Prepared};
use super::surface::{self, SurfacePeak};
use super::{Assessment, Effective, GovernedBy, Peak, TileResult, condition};
use crate::document::{Error, Problems};
use crate::material::{Library, LimitPolicy};
use crate::scenario::{Combine, Limits, Policy, Scenario, Start};
use crate::shield::findings::joined;
use crate::shield::{Finding, Shield, finding_from_json};
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

/// The factors on heating that stand for the policy's terms, one a term that the surface feels.
fn term_factors(policy: &Policy) -> Vec<f64> {
    let factor = |term: &crate::scenario::Term| match term.name.as_str() {
        "heating" => Some(1.0 + term.fraction),
        "emissivity" if term.fraction < 1.0 => Some(1.0 / (1.0 - term.fraction)),
        _ => None,
    };
    policy.terms.iter().filter_map(factor).collect()
}

/// The combined rise of a peak, in kelvin, from each term's own rise.
fn combined(policy: &Policy, rises: impl Iterator<Item = f64>) -> f64 {
    match policy.combine {
        Combine::Sum => rises.fold(0.0, |sum, rise| sum + rise),
        Combine::RootSumSquare | Combine::Sampled => rises.fold(0.0, |sum, rise| sum + rise * rise).sqrt(),
    }
}

/// The peaks of a range of tiles over one entry: nominal, and with each term's factor on the heating.
struct Peaks {
    nominal: Vec<SurfacePeak>,
    /// One list a term.
    with_term: Vec<Vec<SurfacePeak>>,
}

impl Peaks {
    /// One solve, and one more a term.
    fn new(prepared: &Prepared, scaled: &[Prepared], entry: usize, tiles: Range<usize>) -> Peaks {
        Peaks {
            nominal: surface::peaks(prepared, entry, tiles.clone()),
            with_term: scaled.iter().map(|scaled| surface::peaks(scaled, entry, tiles.clone())).collect(),
        }
    }

    /// The combined rise of the tile at `index` of the range.
    fn rise_k(&self, policy: &Policy, index: usize) -> f64 {
        let nominal = self.nominal[index].peak_k;
        combined(policy, self.with_term.iter().filter_map(|peaks| peaks.get(index)).map(|peak| peak.peak_k - nominal))
    }
}

/// The prepared shield with each term's factor on every tile's heating.
fn scaled(prepared: &Prepared, policy: &Policy) -> Vec<Prepared> {
    term_factors(policy).into_iter().map(|factor| prepared.with_heating_times(factor)).collect()
}

/// One tile's surface result over all entries.
fn tile_result(shield: &Shield, scenario: &Scenario, prepared: &Prepared, tile: usize, by_entry: &[Peaks]) -> (TileResult, Option<String>) {
    let effective = effective(prepared, tile);
    let mut result = TileResult {
        effective,
        mass_kg: effective.density_kg_m3 * effective.thickness_m * shield.tiles[tile].facet.area_m2,
        numerical_error_k: surface::NUMERICAL_ERROR_K,
        ..TileResult::default()
    };
    for (entry, peaks) in by_entry.iter().enumerate() {
        let peak = &peaks.nominal[tile];
        if entry == 0 || peak.peak_k > result.surface.temperature_k {
            result.surface = Peak { temperature_k: peak.peak_k, time_s: peak.time_s, entry };
            result.regime_at_peak = peak.regime_at_peak;
            result.sensitive = peak.sensitive;
        }
        result.heat_load_j_m2 = result.heat_load_j_m2.max(peak.heat_load_j_m2);
    }
    let Some(limit) = surface_limit(&shield.library, &effective, scenario.policy.limits) else { return (result, None) };
    result.limit_surface_k = Some(limit.kelvin);
    for (entry, peaks) in by_entry.iter().enumerate() {
        let margin = limit.kelvin - (peaks.nominal[tile].peak_k + peaks.rise_k(&scenario.policy, tile));
        if result.margin_k.is_none_or(|known| margin < known) {
            result.margin_surface_k = Some(margin);
            result.margin_k = Some(margin);
            result.governed_by = Some(GovernedBy::Surface);
            result.governing_entry = Some(entry);
            result.limiting_layer = limit.owner.to_string();
        }
    }
    (result, limit.warning)
}

/// The vehicle's findings with the scenario's.
///
/// # Errors
/// Every scenario finding that names what the vehicle lacks or says what cannot be.
pub fn findings(shield: &Shield, scenario: &Scenario) -> Result<Vec<Finding>, Error> {
    let mut problems = Problems::of("scenario");
    let own: Vec<Finding> = (scenario.findings.iter().enumerate())
        .filter_map(|(i, node)| finding_from_json(node, &format!("findings[{i}]"), &shield.tiles, &mut problems))
        .collect();
    problems.or_ok(joined(&shield.findings, &own))
}

/// The whole shield's results, but for what [`settle`] adds.
pub fn assess(shield: &Shield, scenario: &Scenario, prepared: &Prepared, findings: &[Finding]) -> Assessment {
    let tiles = shield.tiles.len();
    let scaled = scaled(prepared, &scenario.policy);
    let by_entry: Vec<Peaks> = (0..prepared.flights.len()).map(|entry| Peaks::new(prepared, &scaled, entry, 0..tiles)).collect();
    let mut found = vec![Vec::new(); tiles];
    for finding in findings {
        for tile in [Some(finding.tile), finding.tile_2].into_iter().flatten() {
            if let Some(list) = found.get_mut(tile) {
                list.push(finding);
            }
        }
    }
    let mut warnings = Vec::new();
    let mut results = Vec::with_capacity(tiles);
    for tile in 0..tiles {
        let (mut result, warning) = tile_result(shield, scenario, prepared, tile, &by_entry);
        (result.condition, result.disposition) = condition::of_tile(&shield.tiles[tile], found[tile].iter().copied(), result.margin_k);
        if let Some(decided) = found[tile].iter().rev().find(|finding| !finding.decision.is_empty()) {
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
        if !matches!(term.name.as_str(), "heating" | "emissivity") {
            warnings.push(format!("the policy's term {:?} does not move a surface in equilibrium and counts 0 K", term.name));
        }
    }
    if scenario.policy.combine == Combine::Sampled && !scenario.policy.terms.is_empty() {
        warnings.push("sampled terms are combined as root-sum-square until sampling exists".to_string());
    }
    if matches!(scenario.start, Start::Orbit { .. }) {
        warnings.push(format!("the start from orbit has no model yet: every surface starts at {} K", prepare::ORBIT_FLOOR_K));
    }
    Assessment { tiles: results, models: surface::models(), not_assessed: not_assessed(), warnings }
}

/// Adds what takes a second look at every tile: the factor on its heating at which a margin is 0, the least over the entries.
///
/// The factor is read off the balance at the temperature which, with the terms' rise grown in proportion, just meets the limit;
/// without terms that is the limit itself and the factor is exact.
pub fn settle(prepared: &Prepared, assessment: &mut Assessment) {
    for (tile, result) in assessment.tiles.iter_mut().enumerate() {
        let (Some(limit), Some(margin)) = (result.limit_surface_k, result.margin_surface_k) else { continue };
        let entry = result.governing_entry.unwrap_or_default();
        let nominal = if result.surface.entry == entry {
            result.surface.temperature_k
        } else {
            surface::peaks(prepared, entry, tile..tile + 1)[0].peak_k
        };
        let met_k = limit * nominal / (limit - margin).max(1.0);
        let factors = (0..prepared.flights.len()).filter_map(|entry| surface::factor_to_limit(prepared, entry, tile, met_k));
        result.heating_factor_to_limit = factors.reduce(f64::min);
    }
}

/// The smallest margin over `tiles`, which is all that a slider's track asks for; `None` where none has a limit.
pub fn smallest_margin(shield: &Shield, scenario: &Scenario, prepared: &Prepared, tiles: &[usize]) -> Option<f64> {
    let scaled = scaled(prepared, &scenario.policy);
    let mut smallest: Option<f64> = None;
    for &tile in tiles {
        let Some(limit) = surface_limit(&shield.library, &effective(prepared, tile), scenario.policy.limits) else { continue };
        for entry in 0..prepared.flights.len() {
            let peaks = Peaks::new(prepared, &scaled, entry, tile..tile + 1);
            let Some(nominal) = peaks.nominal.first() else { continue };
            let margin = limit.kelvin - (nominal.peak_k + peaks.rise_k(&scenario.policy, 0));
            smallest = Some(smallest.map_or(margin, |known| known.min(margin)));
        }
    }
    smallest
}

fn not_assessed() -> Vec<String> {
    ["glue line and structure (no transient yet)", "gap filler and seals", "cold limits", "venting and loads"].map(str::to_string).to_vec()
}
