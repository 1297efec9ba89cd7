//! Flights: which flight stands last, what a part has flown, how a finding grew since an earlier flight, and which findings still stand.

use crate::document::Sorting as _;
use crate::document::problem::Problems;
use crate::scenario::Scenario;
use crate::shield::{Finding, Shield, Tile};

/// Two findings of one kind on one tile are the same if their places are this near, mm. Invented for the demonstration.
pub const SAME_PLACE_MM: f64 = 20.0;

/// The last flight that anything in the vehicle speaks of: a finding, a thermocouple, a tile made waterproof after it.
pub fn present_flight(shield: &Shield, findings: &[Finding]) -> Option<u32> {
    let found = findings.iter().filter_map(|finding| finding.flight);
    let flown = shield.flight_data.iter().map(|sample| sample.flight);
    let treated = shield.tiles.iter().filter_map(|tile| tile.waterproofed);
    found.chain(flown).chain(treated).max()
}

/// Flights that the part on a location has flown, the present one included. A tile installed for flight n has flown n; without
/// `installed_flight` the part's life is unknown, and the location's flights do not stand in for it.
pub fn part_flights(tile: &Tile, present: Option<u32>) -> Option<u32> {
    Some((present? + 1).saturating_sub(tile.installed_flight?))
}

/// Whether a person has signed the finding's decision: a word, a name, a date.
pub fn signed(finding: &Finding) -> bool {
    !finding.decision.is_empty() && !finding.decided_by.is_empty() && !finding.decided_on.is_empty()
}

/// What became of each finding.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Standing {
    /// The same finding at the flight before it that noted it; index into the findings.
    pub before: Option<usize>,
    /// Noted again at a later flight, or repaired or replaced by a signed decision before a flight that has been flown since.
    pub closed: bool,
    /// The largest growth of a size since `before`, mm.
    pub growth_mm: Option<f64>,
}

fn same(a: &Finding, b: &Finding) -> bool {
    let tiles = (a.tile, a.tile_2) == (b.tile, b.tile_2) || (Some(a.tile), a.tile_2) == (b.tile_2, Some(b.tile));
    let near = match (a.u_mm, a.v_mm, b.u_mm, b.v_mm) {
        (Some(u), Some(v), Some(x), Some(y)) => libm::hypot(u - x, v - y) <= SAME_PLACE_MM,
        // On a joint, or without a place, the kind and the tiles are all there is.
        _ => true,
    };
    tiles && near && a.kind == b.kind
}

fn growth_mm(now: &Finding, then: &Finding) -> Option<f64> {
    let sizes = |f: &Finding| [f.length_mm, f.width_mm, f.depth_mm, f.gap_mm, f.step_mm.map(f64::abs), f.protrusion_mm];
    let grown = sizes(now).into_iter().zip(sizes(then)).filter_map(|(now, then)| Some(now? - then?));
    grown.reduce(f64::max)
}

/// What became of each finding, in their order. A finding without a flight counts as the present one's.
///
/// Within a tile and kind each finding is joined to the nearest earlier flight's finding of the same place, each earlier one once.
pub fn standings(findings: &[Finding], present: Option<u32>) -> Vec<Standing> {
    let mut out = vec![Standing::default(); findings.len()];
    let flight = |i: usize| findings[i].flight.or(present).unwrap_or(0);
    let mut order: Vec<usize> = (0..findings.len()).collect();
    let key = |i: usize| {
        let tile_2 = findings[i].tile_2.unwrap_or(findings[i].tile);
        (findings[i].tile.min(tile_2), findings[i].tile.max(tile_2), findings[i].kind.as_str())
    };
    order.order_by(|a, b| key(*a).cmp(&key(*b)).then(flight(*a).cmp(&flight(*b))).then(a.cmp(b)));
    for group in order.chunk_by(|a, b| key(*a) == key(*b)) {
        for (at, now) in group.iter().enumerate() {
            let earlier = group[..at].iter().rev().filter(|then| flight(**then) < flight(*now) && !out[**then].closed);
            let distance = |then: &usize| match (findings[*now].u_mm, findings[*now].v_mm, findings[*then].u_mm, findings[*then].v_mm) {
                (Some(u), Some(v), Some(x), Some(y)) => libm::hypot(u - x, v - y),
                _ => 0.0,
            };
            let nearest = earlier
                .filter(|then| same(&findings[*now], &findings[**then]))
                .min_by(|a, b| flight(**b).cmp(&flight(**a)).then(distance(a).total_cmp(&distance(b))));
            if let Some(then) = nearest.copied() {
                out[*now].before = Some(then);
                out[*now].growth_mm = growth_mm(&findings[*now], &findings[then]);
                out[then].closed = true;
            }
        }
    }
    for (i, standing) in out.iter_mut().enumerate() {
        let done = signed(&findings[i]) && matches!(findings[i].decision.as_str(), "repair-in-place" | "replace");
        standing.closed |= done && findings[i].flight.zip(present).is_some_and(|(flight, present)| flight < present);
    }
    out
}

/// One flight of a tile's strip.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lived {
    pub flight: u32,
    /// Findings noted after this flight.
    pub found: usize,
    /// The part was installed for this flight.
    pub installed: bool,
    /// Made waterproof after this flight.
    pub waterproofed: bool,
    /// The hottest reading of the tile's thermocouples on this flight.
    pub peak_k: Option<f64>,
}

/// A tile's history, one row a flight from the first that anything is known of to the present one. `findings` are those of the tile.
pub fn strip(shield: &Shield, tile: usize, findings: &[&Finding], present: Option<u32>) -> Vec<Lived> {
    let (Some(present), Some(row)) = (present, shield.tiles.get(tile)) else { return Vec::new() };
    let measured: Vec<(u32, f64)> =
        (shield.flight_data.iter()).filter(|sample| sample.tile == tile).map(|sample| (sample.flight, sample.temperature_k)).collect();
    let known = findings.iter().filter_map(|finding| finding.flight).chain(measured.iter().map(|(flight, _)| *flight));
    let first = known.chain(row.installed_flight).chain(row.waterproofed).min().unwrap_or(present).min(present);
    // A mistyped flight must not make a strip of a billion rows.
    let first = first.max(present.saturating_sub(999));
    let of = |flight: u32| Lived {
        flight,
        found: findings.iter().filter(|finding| finding.flight == Some(flight)).count(),
        installed: row.installed_flight == Some(flight),
        waterproofed: row.waterproofed == Some(flight),
        peak_k: measured.iter().filter(|(of, _)| *of == flight).map(|(_, peak_k)| *peak_k).reduce(f64::max),
    };
    (first..=present).map(of).collect()
}

/// Tells decisions that cannot count: a word that is no disposition.
pub fn check_decisions(findings: &[Finding], warnings: &mut Vec<String>) {
    let words: Vec<&str> = super::Disposition::ALL.iter().map(|word| word.word()).collect();
    let told = |list: Vec<&str>, what: &str, warnings: &mut Vec<String>| {
        if !list.is_empty() {
            let first: Vec<&str> = list.iter().take(5).copied().collect();
            warnings.push(format!("{} decisions {what}, and the work follows the suggestion: findings {}", list.len(), first.join(", ")));
        }
    };
    let decided: Vec<&Finding> = findings.iter().filter(|finding| !finding.decision.is_empty()).collect();
    let of = |test: &dyn Fn(&Finding) -> bool| -> Vec<&str> {
        decided.iter().filter(|finding| test(finding)).map(|finding| finding.finding.as_str()).collect()
    };
    let unknown = of(&|finding| !words.contains(&finding.decision.as_str()));
    told(unknown, &format!("are none of {}", words.join(", ")), warnings);
    let unsigned = of(&|finding| words.contains(&finding.decision.as_str()) && !signed(finding));
    told(unsigned, "lack decided_by or decided_on", warnings);
}

/// Zones that a scenario's consequences name stand on this vehicle, and conditions that its likelihoods name are known.
pub fn check_maps(shield: &Shield, scenario: &Scenario, problems: &mut Problems) {
    let mut zones: Vec<&str> = shield.tiles.iter().map(|tile| tile.zone.as_str()).collect();
    zones.order();
    zones.dedup();
    for zone in scenario.inspection.consequence.keys().filter(|zone| zones.binary_search(&zone.as_str()).is_err()) {
        let known: Vec<&str> = zones.iter().take(10).copied().collect();
        problems.at_key(format!("inspection.consequence.{zone}"), format!("no tile is in zone {zone:?}"), known.join(", "));
    }
    for (i, accepted) in scenario.inspection.accepted.iter().enumerate().filter(|(_, row)| zones.binary_search(&row.zone.as_str()).is_err())
    {
        let known: Vec<&str> = zones.iter().take(10).copied().collect();
        problems.at_key(format!("inspection.accepted[{i}].zone"), format!("no tile is in zone {:?}", accepted.zone), known.join(", "));
    }
    let words = super::consequence::LIKELIHOOD.map(|(condition, _)| condition.word());
    for word in scenario.inspection.likelihood.keys().filter(|word| !words.contains(&word.as_str())) {
        problems.at_key(format!("inspection.likelihood.{word}"), format!("{word:?} is no condition in service"), words.join(", "));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn finding(id: &str, flight: u32, u_mm: f64, depth_mm: f64) -> Finding {
        Finding {
            finding: id.to_string(),
            kind: "gouge".to_string(),
            flight: Some(flight),
            u_mm: Some(u_mm),
            v_mm: Some(0.0),
            depth_mm: Some(depth_mm),
            ..Finding::default()
        }
    }

    #[test]
    fn verif_a_finding_is_followed_from_flight_to_flight() {
        let mut list = vec![finding("b", 3, 4.0, 5.5), finding("a", 1, 0.0, 2.0), finding("c", 3, 90.0, 1.0), finding("m", 2, 2.0, 3.0)];
        let standing = standings(&list, Some(3));
        assert_eq!(standing[0], Standing { before: Some(3), closed: false, growth_mm: Some(2.5) });
        assert_eq!((standing[3].before, standing[3].closed, standing[3].growth_mm), (Some(1), true, Some(1.0)));
        assert!(standing[1].closed && standing[2] == Standing::default());
        // A signed repair of an earlier flight is done once another flight was flown; an unsigned one is not.
        list.truncate(2);
        (list[1].decision, list[1].u_mm) = ("repair-in-place".to_string(), Some(60.0));
        assert!(!standings(&list, Some(3))[1].closed);
        (list[1].decided_by, list[1].decided_on) = ("A".to_string(), "2031-01-01".to_string());
        assert!(standings(&list, Some(3))[1].closed);
        assert!(!standings(&list[1..], Some(1))[0].closed);
    }

    #[test]
    fn verif_a_parts_flights_are_its_own() {
        let tile = |installed_flight| Tile { installed_flight, ..Tile::default() };
        for (installed, present, want) in
            [(Some(1), Some(3), Some(3)), (Some(3), Some(3), Some(1)), (Some(4), Some(3), Some(0)), (None, Some(3), None)]
        {
            assert_eq!(part_flights(&tile(installed), present), want);
        }
    }
}
