//! Names and values of a scenario against the vehicle: whatever is not there is told with what is.

use crate::assess::controls;
use crate::document::Sorting as _;
use crate::document::{Error, Problems};
use crate::scenario::{ChangeKey, ChangeValue, Reach, Scenario};
use crate::shield::Shield;

/// Names for a message: the first ten and how many there are.
fn listed<'a>(names: impl Iterator<Item = &'a str>) -> String {
    let mut names: Vec<&str> = names.collect();
    names.order();
    names.dedup();
    let count = names.len();
    names.truncate(10);
    let told = names.join(", ");
    if count > 10 { format!("{told} and {} more", count - 10) } else { told }
}

fn zones(shield: &Shield) -> String {
    format!("a zone of the vehicle: {}", listed(shield.tiles.iter().map(|tile| tile.zone.as_str()).filter(|zone| !zone.is_empty())))
}

/// Checks one value of a change against the vehicle; the reader has checked that it is of its kind.
fn check_value(key: ChangeKey, value: &ChangeValue, path: &str, shield: &Shield, problems: &mut Problems) {
    match (key, value) {
        (ChangeKey::Material, ChangeValue::Text(id)) => {
            if shield.library.find(id).is_none() {
                problems.at_key(path, format!("{id:?} is no material"), listed(shield.library.materials.iter().map(|m| m.id.as_str())));
            }
        }
        (ChangeKey::Coating, ChangeValue::Text(id)) => {
            let known = shield.library.find(id).and_then(|i| shield.library.materials.get(i));
            if !id.eq_ignore_ascii_case("none") && known.is_none_or(|m| m.kind != crate::material::Kind::Coating) {
                let coatings = shield.library.materials.iter().filter(|m| m.kind == crate::material::Kind::Coating);
                problems.at_key(path, format!("{id:?} is no coating"), format!("none, {}", listed(coatings.map(|m| m.id.as_str()))));
            }
        }
        (ChangeKey::Stack, ChangeValue::Text(name)) => {
            if name != "none" && !shield.stacks.iter().any(|stack| stack.name == *name) {
                let known = listed(shield.stacks.iter().map(|stack| stack.name.as_str()));
                problems.at_key(path, format!("{name:?} is no stack"), format!("none, {known}"));
            }
        }
        (ChangeKey::Material | ChangeKey::Coating | ChangeKey::Stack, ChangeValue::Number(value)) => {
            problems.at_key(path, format!("{value} is a number"), "a name");
        }
        (ChangeKey::Emissivity, ChangeValue::Number(value)) => {
            if !(*value > 0.0 && *value <= 1.0) {
                problems.at_key(path, format!("{value} is no emissivity"), "a number above 0, at most 1");
            }
        }
        (ChangeKey::SolarAbsorptance, ChangeValue::Number(value)) => {
            if !(*value >= 0.0 && *value <= 1.0) {
                problems.at_key(path, format!("{value} is no absorptance"), "a number from 0 to 1");
            }
        }
        (ChangeKey::HeatingFactor, ChangeValue::Number(value)) => {
            if !(*value >= 0.0 && value.is_finite()) {
                problems.at_key(path, format!("{value} is no factor"), "a number of 0 or more");
            }
        }
        (_, ChangeValue::Number(value)) => {
            if !(*value > 0.0 && value.is_finite()) {
                problems.at_key(path, format!("{value} is out of range"), "a number above 0");
            }
        }
        (_, ChangeValue::Text(text)) => problems.at_key(path, format!("{text:?} is text"), "a number"),
    }
}

/// Every name that the scenario uses stands on this vehicle.
pub(super) fn check_names(shield: &Shield, scenario: &Scenario) -> Result<(), Error> {
    let mut problems = Problems::of("scenario");
    controls::check(shield, &scenario.entries, &zones(shield), &mut problems);
    let has_zone = |zone: &str| shield.tiles.iter().any(|tile| tile.zone == zone);
    for zone in scenario.heating.zone_factor.keys().filter(|zone| !has_zone(zone)) {
        problems.at_key(format!("heating.zone_factor.{zone}"), format!("no tile is in zone {zone:?}"), zones(shield));
    }
    for coating in scenario.heating.catalycity.keys().filter(|coating| shield.library.find(coating).is_none()) {
        let coatings = shield.library.materials.iter().filter(|m| m.kind == crate::material::Kind::Coating);
        problems.at_key(
            format!("heating.catalycity.{coating}"),
            format!("{coating:?} is no coating"),
            listed(coatings.map(|m| m.id.as_str())),
        );
    }
    let mut ids: Vec<&str> = shield.tiles.iter().map(|tile| tile.id.as_str()).collect();
    ids.order();
    for (i, change) in scenario.changes.iter().enumerate() {
        match &change.reach {
            Reach::Zone(zone) if !has_zone(zone) => {
                problems.at_key(format!("changes[{i}].zone"), format!("no tile is in zone {zone:?}"), zones(shield));
            }
            Reach::Zone(_) => {}
            Reach::Tiles(tiles) => {
                for (j, tile) in tiles.iter().enumerate().filter(|(_, tile)| ids.binary_search(&tile.as_str()).is_err()) {
                    let known = format!("a tile of the vehicle: {}", listed(ids.iter().take(10).copied()));
                    problems.at_key(format!("changes[{i}].tiles[{j}]"), format!("no tile is called {tile:?}"), known);
                }
            }
        }
        for (key, value) in &change.set {
            check_value(*key, value, &format!("changes[{i}].set.{}", key.column()), shield, &mut problems);
        }
    }
    problems.or_ok(())
}
