//! Findings as sites that may trip the boundary layer: where each lies, what its threshold is of, and its wedge.
//!
//! | finding | size | threshold |
//! | --- | --- | --- |
//! | step up (`step_mm` positive), protruding filler | height | protuberance height |
//! | step down | its drop, as a cavity's depth | cavity depth |
//! | gouge, impact cavity, chip, slump | depth and length, whichever is nearer to its threshold | cavity depth, cavity length |
//! | missing tile | the tile's thickness and largest side, likewise | cavity depth, cavity length |
//! | gap | its width, as a cavity's length | cavity length |
//!
//! Which kind counts as which is common practice. A finding without the size that its kind asks for is no site (the finding's own warning says what it
//! lacks); one that was closed, by repair or a later note of the same, is none either. A finding without a place lies at its tile's centre, one on a joint half
//! way between the two tiles.

use super::history::{present_flight, standings};
use crate::document::Sorting as _;
use crate::heating::local::Trip;
use crate::heating::wedge::{Spot, Wedge, wedge};
use crate::heating::{Body, Facet, Measure, Thresholds};
use crate::scenario::Scenario;
use crate::shield::{Finding, Shield, Tile};

/// A finding that may trip the boundary layer.
#[derive(Debug, Clone, PartialEq)]
pub struct Site {
    /// The finding's id.
    pub finding: String,
    pub kind: String,
    /// The tile whose boundary layer decides.
    pub tile: usize,
    pub measure: Measure,
    pub size_m: f64,
    pub spot: Spot,
}

impl Site {
    /// All that the flow knows of a site, and the order of sites.
    pub(super) fn place(&self) -> (usize, Measure, [u64; 5]) {
        let Spot { at, half_width_m, .. } = self.spot;
        (self.tile, self.measure, [self.size_m, at.x, at.y, at.z, half_width_m].map(f64::to_bits))
    }
}

/// Whether any entry of the scenario counts sites.
pub fn counted(scenario: &Scenario) -> bool {
    let own = scenario.entries.iter().filter_map(|entry| entry.transition.as_ref());
    std::iter::once(&scenario.heating.choices.transition).chain(own).any(|transition| transition.has_sites())
}

/// The findings that still stand.
pub fn standing<'a>(shield: &Shield, findings: &'a [Finding]) -> impl Iterator<Item = &'a Finding> {
    let closed = standings(findings, present_flight(shield, findings));
    findings.iter().zip(closed).filter(|(_, standing)| !standing.closed).map(|(finding, _)| finding)
}

/// The sites of a vehicle in an order that does not depend on the order of the findings.
pub fn sites(shield: &Shield, findings: &[Finding], thresholds: &Thresholds) -> Vec<Site> {
    let mut sites: Vec<Site> = standing(shield, findings).filter_map(|finding| site(shield, finding, thresholds)).collect();
    sites.order_by(|a, b| a.place().cmp(&b.place()).then_with(|| a.finding.cmp(&b.finding)));
    sites
}

fn site(shield: &Shield, finding: &Finding, thresholds: &Thresholds) -> Option<Site> {
    let tile = shield.tiles.get(finding.tile)?;
    let (measure, size_m) = size(finding, tile, thresholds)?;
    let mm = |value: Option<f64>| value.map(|mm| mm / 1000.0);
    let other = finding.tile_2.and_then(|other| shield.tiles.get(other));
    let (along, across) = crate::heating::along_and_across(tile.facet.normal);
    let at = match other {
        Some(other) => 0.5 * (tile.facet.centre + other.facet.centre),
        None => tile.facet.centre + along * mm(finding.u_mm).unwrap_or(0.0) + across * mm(finding.v_mm).unwrap_or(0.0),
    };
    let width_m = match finding.kind.as_str() {
        // Along the whole joint.
        "step" | "gap" | "missing-tile" => tile.smallest_side_m,
        _ => mm(finding.width_mm).or(mm(finding.length_mm)).unwrap_or(size_m).min(tile.largest_side_m),
    };
    Some(Site {
        finding: finding.finding.clone(),
        kind: finding.kind.clone(),
        tile: finding.tile,
        measure,
        size_m,
        spot: Spot { tile: finding.tile as u32, at, half_width_m: 0.5 * width_m },
    })
}

/// What of a finding trips, and its size in metres; `None` where its kind does not trip or its size is not known or nothing.
fn size(finding: &Finding, tile: &Tile, thresholds: &Thresholds) -> Option<(Measure, f64)> {
    let mm = |value: Option<f64>| value.map(|mm| mm / 1000.0).filter(|size| *size > 0.0);
    let cavity = |depth: Option<f64>, length: Option<f64>| {
        let sizes = [(Measure::CavityDepth, depth), (Measure::CavityLength, length)];
        let known = sizes.into_iter().filter_map(|(measure, size)| size.map(|size| (measure, size)));
        known.max_by(|a, b| (a.1 / thresholds.value(a.0)).total_cmp(&(b.1 / thresholds.value(b.0))))
    };
    match finding.kind.as_str() {
        "step" => {
            let measure = if finding.step_mm? < 0.0 { Measure::CavityDepth } else { Measure::ProtuberanceHeight };
            Some((measure, mm(finding.step_mm.map(f64::abs))?))
        }
        "protruding-filler" => Some((Measure::ProtuberanceHeight, mm(finding.protrusion_mm)?)),
        "gouge" | "impact-cavity" | "chip" | "slump" => cavity(mm(finding.depth_mm), mm(finding.length_mm)),
        "missing-tile" => cavity(Some(tile.thickness_m), Some(tile.largest_side_m)),
        "gap" => Some((Measure::CavityLength, mm(finding.gap_mm)?)),
        _ => None,
    }
}

/// A site with its wedge, as the local heating reads it; `known` is the wedge of the same spot at the same half-angle, so that an edited finding
/// traces its own alone.
pub fn trip(shield: &Shield, facets: &[Facet], body: &Body, site: &Site, thresholds: &Thresholds, known: Option<&Wedge>) -> Trip {
    let traced = || {
        let neighbours = |tile: usize| shield.tiles.get(tile).map_or(&[][..], |tile| tile.neighbours.as_slice());
        wedge(facets, neighbours, body, &site.spot, thresholds.value(Measure::WedgeHalfAngle))
    };
    let share_m = site.size_m / thresholds.value(site.measure);
    let proud = site.measure == Measure::ProtuberanceHeight;
    Trip {
        tile: site.tile,
        height_m: if proud { site.size_m } else { 0.0 },
        cavity_m: if proud { 0.0 } else { share_m },
        proud_m: if proud { share_m } else { 0.0 },
        wedge: known.cloned().unwrap_or_else(traced),
    }
}
