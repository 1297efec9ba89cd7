//! Control surfaces of a scenario: which zones its entries deflect, how far at a moment, and the hinges of their tiles.

use crate::document::Problems;
use crate::document::Sorting as _;
use crate::flight::Course;
use crate::heating::Stream;
use crate::heating::control::{self, Hinge, MOST};
use crate::scenario::NamedEntry;
use crate::shield::Shield;

/// The zones that any entry deflects, each once, in order of name: a surface's index is its place here.
pub fn zones(entries: &[NamedEntry]) -> Vec<&str> {
    let mut zones: Vec<&str> = entries.iter().flat_map(|entry| plans(entry).iter().map(|(zone, _)| zone.as_str())).collect();
    zones.order();
    zones.dedup();
    zones
}

fn plans(entry: &NamedEntry) -> &[(String, crate::document::Curve)] {
    match &entry.course {
        Course::Entry(entry) => &entry.deflection_deg,
        Course::Imported(_) => &[],
    }
}

/// Deflections of an entry at a moment, degrees, in the order of `zones`; 0 where the entry names none. `None` where it deflects nothing.
pub fn degrees(entry: &NamedEntry, zones: &[&str], stream: &Stream) -> Option<[f64; MOST]> {
    let plans = plans(entry);
    if plans.is_empty() {
        return None;
    }
    let mut degrees = [0.0; MOST];
    for (zone, plan) in plans {
        if let Some(value) = zones.iter().position(|known| known == zone).and_then(|at| degrees.get_mut(at)) {
            *value = plan.value_at(stream.speed_m_s);
        }
    }
    Some(degrees)
}

/// Every deflected zone stands on this vehicle, and there are not too many; `known` tells the zones.
pub fn check(shield: &Shield, entries: &[NamedEntry], known: &str, problems: &mut Problems) {
    for (i, entry) in entries.iter().enumerate() {
        for (zone, _) in plans(entry).iter().filter(|(zone, _)| !shield.tiles.iter().any(|tile| tile.zone == *zone)) {
            problems.at_key(format!("entries[{i}].entry.deflection_deg.{zone}"), format!("no tile is in zone {zone:?}"), known.to_string());
        }
    }
    let count = zones(entries).len();
    if count > MOST {
        problems.at_key("entries", format!("{count} zones are deflected"), format!("at most {MOST} control surfaces"));
    }
}

/// What each tile turns about.
pub fn hinges(shield: &Shield, zones: &[&str]) -> Vec<Option<Hinge>> {
    if zones.is_empty() {
        return vec![None; shield.tiles.len()];
    }
    let facets: Vec<_> = shield.tiles.iter().map(|tile| tile.facet).collect();
    let neighbours = |tile: usize| shield.tiles.get(tile).map_or(&[][..], |tile| tile.neighbours.as_slice());
    control::hinges(&facets, neighbours, |tile| shield.tiles.get(tile).and_then(|tile| zones.iter().position(|zone| *zone == tile.zone)))
}
