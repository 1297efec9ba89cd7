//! What is set is what is read back, and it reaches the tiles it names and no other.

use super::*;
use crate::document::Curve;
use crate::flight::{Course, Trajectory};
use crate::material::{Conductivity, Kind, Library, Material};
use crate::scenario::{HeatingChoices, Landing, NamedEntry, Policy, Sizing, View};
use crate::shield::TileState;
use std::collections::BTreeMap;

fn material(id: &str, kind: Kind, emissivity: f64) -> Material {
    Material {
        id: id.to_string(),
        name: id.to_string(),
        kind,
        density_kg_m3: 144.0,
        specific_heat_j_kgk: Curve::Constant(1000.0),
        conductivity_w_mk: Conductivity::Curve(Curve::Constant(0.1)),
        conductivity_inplane_w_mk: None,
        single_mission_limit_k: None,
        reuse_limit_k: None,
        reuse_flights: None,
        emissivity: Some(Curve::Constant(emissivity)),
        solar_absorptance: None,
        thickness_m: None,
        thickness_range_m: None,
        surface_recombination: Vec::new(),
        uncertainty: BTreeMap::new(),
        valid_k: None,
        extrapolated_above_k: None,
        provenance: BTreeMap::new(),
    }
}

fn tile(id: &str, zone: &str, coating: Option<usize>) -> Tile {
    Tile {
        id: id.to_string(),
        zone: zone.to_string(),
        material: 0,
        coating,
        stack: None,
        thickness_m: 0.03,
        density_kg_m3: 144.0,
        emissivity: None,
        solar_absorptance: None,
        heating_factor: 1.0,
        part: String::new(),
        serial: String::new(),
        installed_flight: None,
        waterproofed: None,
        state: TileState::InService,
        facet: Default::default(),
        smallest_side_m: 0.2,
        largest_side_m: 0.2,
        outline: Vec::new(),
        neighbours: Vec::new(),
    }
}

/// Black on the belly, white on the lee, both on the chine, one bare.
fn shield() -> Shield {
    let materials = vec![material("li-900", Kind::Tile, 0.9), material("rcg", Kind::Coating, 0.85), material("white", Kind::Coating, 0.8)];
    let tiles = vec![
        tile("1", "belly", Some(1)),
        tile("2", "belly", Some(1)),
        tile("3", "lee", Some(2)),
        tile("4", "chine", Some(1)),
        tile("5", "chine", Some(2)),
        tile("6", "nose", None),
    ];
    Shield { tiles, library: Library { materials }, ..Default::default() }
}

fn scenario() -> Scenario {
    Scenario {
        vehicle_name: String::new(),
        vehicle_digest: None,
        entries: vec![NamedEntry {
            name: "flown elsewhere".to_string(),
            course: Course::Imported(Trajectory::default()),
            transition: None,
        }],
        heating: HeatingChoices::default(),
        start: Start::default(),
        landing: Landing::default(),
        policy: Policy::default(),
        sizing: Sizing::default(),
        changes: Vec::new(),
        findings: Vec::new(),
        inspection: Default::default(),
        work: Default::default(),
        view: View::default(),
        note: String::new(),
    }
}

fn value(shield: &Shield, scenario: &Scenario, picked: Option<usize>, id: &str) -> Option<f64> {
    let list = inputs(Subject { shield, scenario, entry: 0, picked });
    match list.into_iter().find(|input| input.id == id)?.value {
        Value::Number(value) => value,
        Value::Choice { chosen, .. } => Some(chosen as f64),
    }
}

#[test]
fn verif_every_number_reads_back_as_set() {
    let shield = shield();
    let mut scenario = scenario();
    scenario.policy.limits = Limits::Flights(10.0);
    scenario.policy.terms.push(Term { name: "heating".to_string(), fraction: 0.1, level_sigma: 3.0 });
    scenario.heating.choices.transition = Transition::Mach { mach: 10.0 };
    let subject = Subject { shield: &shield, scenario: &scenario, entry: 0, picked: Some(3) };
    let list = inputs(subject);
    assert!(list.len() > 20, "{}", list.len());
    for input in &list {
        let same = list.iter().filter(|other| other.id == input.id).count();
        assert_eq!(same, 1, "{} twice", input.id);
        if let Value::Number(_) = input.value {
            let target = if input.quantity == Quantity::Flights { 40.0 } else { 0.5 * (input.low + input.high) };
            let set = with(subject, &input.id, target).unwrap_or_else(|| panic!("{} cannot be set", input.id));
            let read = value(&shield, &set, Some(3), &input.id);
            assert!(read.is_some_and(|read| (read - target).abs() < 1e-9), "{}: {read:?} for {target}", input.id);
        }
    }
}

#[test]
fn verif_a_coating_reaches_its_tiles_and_no_other() {
    let shield = shield();
    let first = scenario();
    fn at<'a>(shield: &'a Shield, scenario: &'a Scenario) -> Subject<'a> {
        Subject { shield, scenario, entry: 0, picked: None }
    }
    let one = with(at(&shield, &first), "surface.emissivity:rcg", 0.7).unwrap();
    assert_eq!(emissivities(&shield, &one), [Some(0.7), Some(0.7), Some(0.8), Some(0.7), Some(0.8), Some(0.9)]);
    // The belly is black throughout: one change by zone; the chine is mixed: one change by tile.
    assert_eq!(
        one.changes.iter().map(|change| &change.reach).collect::<Vec<_>>(),
        [&Reach::Zone("belly".into()), &Reach::Tiles(vec!["4".into()])]
    );
    let two = with(at(&shield, &one), "surface.emissivity_zone:chine", 0.6).unwrap();
    assert_eq!(emissivities(&shield, &two)[3..5], [Some(0.6), Some(0.6)]);
    let three = with(at(&shield, &two), "surface.emissivity:rcg", 0.5).unwrap();
    assert_eq!(emissivities(&shield, &three), [Some(0.5), Some(0.5), Some(0.8), Some(0.5), Some(0.6), Some(0.9)]);
    // Setting again does not pile up.
    let four = with(at(&shield, &three), "surface.emissivity:rcg", 0.4).unwrap();
    assert_eq!(four.changes.len(), three.changes.len());
    assert_eq!(value(&shield, &four, None, "surface.emissivity:rcg"), Some(0.4));
}

#[test]
fn verif_nothing_is_set_by_a_wrong_name_or_number() {
    let shield = shield();
    let scenario = scenario();
    let subject = Subject { shield: &shield, scenario: &scenario, entry: 0, picked: None };
    for id in [
        "",
        "heating",
        "heating.scales",
        "surface.emissivity:none such",
        "stack.thickness",
        "entry.mass_kg",
        "limits.term:",
        "heating.transition_value",
    ] {
        assert_eq!(with(subject, id, 1.0), None, "{id}");
    }
    assert_eq!(with(subject, "heating.scale", f64::NAN), None);
    assert_eq!(choose(subject, "limits.policy", 7), None);
    for (id, value) in [("heating.scale", -3.0), ("heating.scale", 0.0), ("surface.emissivity:rcg", 1.01), ("heating.scale", f64::INFINITY)]
    {
        assert_eq!(with(subject, id, value), None, "{id} {value}");
    }
}

#[test]
fn verif_values_at_their_default_leave_no_trace() {
    let shield = shield();
    let scenario = scenario();
    fn subject<'a>(shield: &'a Shield, scenario: &'a Scenario) -> Subject<'a> {
        Subject { shield, scenario, entry: 0, picked: None }
    }
    for (id, default) in [("heating.zone_factor:belly", 1.0), ("surface.catalycity:rcg", 1.0), ("limits.term:heating", 0.0)] {
        let set = with(subject(&shield, &scenario), id, 0.2).unwrap();
        assert_ne!(set, scenario, "{id}");
        assert_eq!(with(subject(&shield, &set), id, default).unwrap(), scenario, "{id}");
    }
}
