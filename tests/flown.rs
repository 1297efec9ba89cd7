//! The instrumented flight of the demonstration: made by the model plus a stated disturbance, and found again by the comparison.

use std::collections::BTreeMap;
use tileglow::assess::Prepared;
use tileglow::assess::flown::flown;
use tileglow::assess::surface;
use tileglow::scenario::{Accepted, Scenario};
use tileglow::shield::{Shield, demo, load};

/// The disturbance: heat by zone, and a turn to turbulent flow on the aft belly at [`TURNS_S`] with as much heat more.
const BELLY: f64 = 1.08;
const LEE: f64 = 0.94;
const TURNS_S: f64 = 900.0;
const TURBULENT: f64 = 1.9;
/// Sensors by zone.
const ZONES: [(&str, usize); 7] =
    [("nose", 3), ("belly forward", 6), ("belly centre", 6), ("belly aft", 6), ("left chine", 3), ("right chine", 3), ("lee", 3)];

fn demonstration() -> (Shield, Scenario, Prepared) {
    let shield = load(&demo::files(), demo::NAME).unwrap();
    let scenario = Scenario::read("scenario.json", &demo::scenario_json(), &[]).unwrap();
    let prepared = Prepared::new(&shield, &scenario).unwrap();
    (shield, scenario, prepared)
}

/// Writes assets/demo_flight.csv anew; run where the model has moved: `cargo test --test flown -- --ignored`.
#[test]
#[ignore = "writes assets/demo_flight.csv"]
fn write_the_flight() {
    let (shield, _, prepared) = demonstration();
    let mut text = String::new();
    for (zone, count) in ZONES {
        let tiles: Vec<usize> = (0..shield.tiles.len()).filter(|tile| shield.tiles[*tile].zone == zone).collect();
        assert!(!tiles.is_empty(), "{zone}: {:?}", shield.tiles.iter().map(|tile| &tile.zone).collect::<std::collections::BTreeSet<_>>());
        for i in 0..count {
            let tile = tiles[(2 * i + 1) * tiles.len() / (2 * count)];
            let rows = surface::history(&prepared, 0, tile);
            let last = rows.last().unwrap().time_s;
            let at = |time: f64| {
                let next = rows.partition_point(|row| row.time_s < time).clamp(1, rows.len() - 1);
                let (a, b) = (&rows[next - 1], &rows[next]);
                a.surface_k + (b.surface_k - a.surface_k) * (time - a.time_s) / (b.time_s - a.time_s)
            };
            let scale = if zone.starts_with("lee") {
                LEE
            } else if zone.starts_with("belly") {
                BELLY
            } else {
                1.0
            };
            let mut values = Vec::new();
            let mut time = 0.0;
            while time <= last {
                let turned = if zone == "belly aft" { ((time - TURNS_S) / 20.0).clamp(0.0, 1.0) * (TURBULENT - 1.0) + 1.0 } else { 1.0 };
                // A thermocouple's scatter of 2 K either way, the same in every run.
                let noise = ((tile as u64 * 7919 + time as u64 * 104_729) % 4001) as f64 / 1000.0 - 2.0;
                values.push((at(time) * libm::pow(scale * turned, 0.25) + noise).round().to_string());
                time += 25.0;
            }
            text += &format!("{},{}\n", shield.tiles[tile].id, values.join(","));
        }
    }
    std::fs::write(concat!(env!("CARGO_MANIFEST_DIR"), "/assets/demo_flight.csv"), text).unwrap();
}

#[test]
fn verif_the_comparison_finds_the_stated_disturbance() {
    let (shield, mut scenario, prepared) = demonstration();
    let found = flown(&shield, &prepared, 3, 0).unwrap();
    assert_eq!((found.sensors.len(), found.deeper, found.outside), (30, 0, 0));
    let zones: BTreeMap<&str, &tileglow::assess::flown::Proposal> = found.proposals.iter().map(|row| (row.zone.as_str(), row)).collect();
    for (zone, want) in [("belly forward", BELLY), ("belly centre", BELLY), ("lee", LEE), ("nose", 1.0)] {
        let proposal = zones[zone];
        println!("{zone}: {:.4} {:?}", proposal.scale, proposal.limits);
        // The model may have moved a little since the flight was written; `write_the_flight` brings it back.
        assert!((proposal.scale / want - 1.0).abs() < 0.05, "{zone}: {}", proposal.scale);
    }
    for sensor in found.sensors.iter().filter(|sensor| shield.tiles[sensor.tile].zone == "belly aft") {
        let at = sensor.transition_measured_s.unwrap_or(0.0);
        assert!((at - TURNS_S).abs() < 50.0, "{}: {at}", sensor.sensor);
    }
    let quiet = found.sensors.iter().filter(|sensor| shield.tiles[sensor.tile].zone == "belly forward");
    assert!(quiet.clone().all(|sensor| sensor.transition_measured_s.is_none() && sensor.rms_k < 60.0));
    // A proposal changes nothing until a named person accepts it; then the zone's heating is that much more.
    let zone = "belly forward";
    let before =
        prepared.tiles.iter().zip(&shield.tiles).find(|(_, tile)| tile.zone == zone).map(|(tile, _)| tile.local.multiplier).unwrap();
    scenario.inspection.accepted.push(Accepted {
        zone: zone.to_string(),
        scale: zones[zone].scale,
        accepted_by: "A. Berg".to_string(),
        accepted_on: "2031-06-01".to_string(),
        reason: "flight 3".to_string(),
    });
    let accepted = Prepared::new(&shield, &scenario).unwrap();
    for ((a, b), tile) in accepted.tiles.iter().zip(prepared.tiles.iter()).zip(&shield.tiles) {
        let want = if tile.zone == zone { before * zones[zone].scale } else { b.local.multiplier };
        assert!((a.local.multiplier - want).abs() < 1e-12 * want);
    }
    assert!(flown(&shield, &prepared, 9, 0).unwrap_err().to_string().contains("flight 9"));
    assert!(flown(&shield, &prepared, 3, 7).is_err());
}
