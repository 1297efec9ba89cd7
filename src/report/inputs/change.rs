//! Changes of the tile table that an input makes: reach by zone or by tile, the last one wins.

use super::{Change, ChangeKey, ChangeValue, Reach, Scenario, Shield, Tile};
use std::collections::{BTreeMap, BTreeSet};

/// Sets one key for one reach: an earlier change of the same reach takes it, and no change is left empty.
pub fn set(scenario: &mut Scenario, reach: Reach, key: ChangeKey, value: ChangeValue) {
    clear(scenario, &reach, key);
    match scenario.changes.last_mut() {
        Some(last) if last.reach == reach => last.set.push((key, value)),
        _ => scenario.changes.push(Change { reach, set: vec![(key, value)] }),
    }
}

/// Takes one key out of the changes of one reach.
fn clear(scenario: &mut Scenario, reach: &Reach, key: ChangeKey) {
    for change in scenario.changes.iter_mut().filter(|change| change.reach == *reach) {
        change.set.retain(|(existing, _)| *existing != key);
    }
    scenario.changes.retain(|change| !change.set.is_empty());
}

/// Sets a key for a whole zone. False for an empty zone name, which a change cannot reach.
pub fn set_by_zone(scenario: &mut Scenario, zone: &str, key: ChangeKey, value: f64) -> bool {
    if zone.is_empty() {
        return false;
    }
    set(scenario, Reach::Zone(zone.to_string()), key, ChangeValue::Number(value));
    true
}

/// Sets a key for every tile whose face is of a material: by zone where the whole zone carries it, else tile by tile, so that the link stays short.
pub fn set_by_coating(shield: &Shield, scenario: &mut Scenario, coating: &str, key: ChangeKey, value: f64) -> bool {
    let mut zones: BTreeMap<&str, (bool, Vec<&Tile>)> = BTreeMap::new();
    for tile in &shield.tiles {
        let carries = face_id(shield, tile).is_some_and(|id| id.eq_ignore_ascii_case(coating));
        let (all, found) = zones.entry(tile.zone.as_str()).or_insert((true, Vec::new()));
        *all &= carries;
        if carries {
            found.push(tile);
        }
    }
    let mut singles = Vec::new();
    let mut any = false;
    for (zone, (all, found)) in &zones {
        if found.is_empty() {
            continue;
        }
        any = true;
        // What was set for single tiles or zones of this coating before gives way: the newest choice wins everywhere.
        match *all && !zone.is_empty() {
            true => set(scenario, Reach::Zone((*zone).to_string()), key, ChangeValue::Number(value)),
            false => singles.extend(found.iter().map(|tile| tile.id.clone())),
        }
    }
    if !singles.is_empty() {
        let listed: BTreeSet<&str> = singles.iter().map(String::as_str).collect();
        for change in &mut scenario.changes {
            if matches!(&change.reach, Reach::Tiles(ids) if ids.iter().all(|id| listed.contains(id.as_str()))) {
                change.set.retain(|(existing, _)| *existing != key);
            }
        }
        scenario.changes.retain(|change| !change.set.is_empty());
        set(scenario, Reach::Tiles(singles), key, ChangeValue::Number(value));
    }
    any
}

/// What a tile's face is: its coating, or the material itself where it is bare.
pub fn face(tile: &Tile) -> usize {
    tile.coating.unwrap_or(tile.material)
}

/// The id of a tile's face in the library.
pub fn face_id<'a>(shield: &'a Shield, tile: &Tile) -> Option<&'a str> {
    shield.library.materials.get(face(tile)).map(|material| material.id.as_str())
}

/// The number that the changes leave a tile for a key; `None` where no change sets it.
pub fn effective_number(scenario: &Scenario, tile: &Tile, key: ChangeKey) -> Option<f64> {
    scenario.changes.iter().rev().filter(|change| reaches(&change.reach, tile)).find_map(|change| number_of(change, key))
}

fn number_of(change: &Change, key: ChangeKey) -> Option<f64> {
    change.set.iter().rev().find_map(|(existing, value)| match value {
        ChangeValue::Number(number) if *existing == key => Some(*number),
        _ => None,
    })
}

fn reaches(reach: &Reach, tile: &Tile) -> bool {
    match reach {
        Reach::Zone(zone) => *zone == tile.zone,
        Reach::Tiles(ids) => ids.contains(&tile.id),
    }
}

/// Every tile's emissivity after the changes: a change, else its table's, else its coating's or material's at 1,000 K. `None` where nothing
/// states one.
pub fn emissivities(shield: &Shield, scenario: &Scenario) -> Vec<Option<f64>> {
    let mut values: Vec<Option<f64>> =
        shield.tiles.iter().map(|tile| tile.emissivity.or_else(|| at_reference(shield, face(tile)))).collect();
    for change in &scenario.changes {
        let Some(value) = number_of(change, ChangeKey::Emissivity) else {
            continue;
        };
        let listed: BTreeSet<&str> = match &change.reach {
            Reach::Tiles(ids) => ids.iter().map(String::as_str).collect(),
            Reach::Zone(_) => BTreeSet::new(),
        };
        for (slot, tile) in values.iter_mut().zip(&shield.tiles) {
            let reached = match &change.reach {
                Reach::Zone(zone) => *zone == tile.zone,
                Reach::Tiles(_) => listed.contains(tile.id.as_str()),
            };
            if reached {
                *slot = Some(value);
            }
        }
    }
    values
}

fn at_reference(shield: &Shield, material: usize) -> Option<f64> {
    shield.library.materials.get(material)?.emissivity.as_ref().map(|curve| curve.value_at(1000.0))
}

/// Whether the library states this material's emissivity over temperature.
pub fn varies(shield: &Shield, id: &str) -> bool {
    shield
        .library
        .find(id)
        .and_then(|index| shield.library.materials.get(index))
        .is_some_and(|material| matches!(&material.emissivity, Some(crate::document::Curve::Table(_))))
}

/// A face's name in short.
pub fn short<'a>(shield: &'a Shield, id: &'a str) -> &'a str {
    shield.library.find(id).and_then(|index| shield.library.materials.get(index)).map_or(id, crate::report::words::short_name)
}
