//! What the sentences must say.

use super::*;
use crate::assess::Peak;
use crate::material::Library;
use crate::shield::Tile;

fn tile(id: &str, zone: &str) -> Tile {
    Tile {
        id: id.to_string(),
        zone: zone.to_string(),
        material: 0,
        coating: None,
        stack: None,
        thickness_m: 0.031,
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

fn shield(zones: &[(&str, &str)]) -> Shield {
    Shield { tiles: zones.iter().map(|(id, zone)| tile(id, zone)).collect(), library: Library::default(), ..Default::default() }
}

fn result(margin_k: Option<f64>, time_s: f64) -> TileResult {
    TileResult {
        surface: Peak { temperature_k: 1533.0 - margin_k.unwrap_or(0.0), time_s, entry: 0 },
        limit_surface_k: margin_k.map(|_| 1533.0),
        margin_surface_k: margin_k,
        margin_k,
        governed_by: margin_k.map(|_| GovernedBy::Surface),
        limiting_layer: "RCG".to_string(),
        ..Default::default()
    }
}

fn results(margins: &[Option<f64>]) -> Assessment {
    Assessment { tiles: margins.iter().enumerate().map(|(i, margin)| result(*margin, 1040.0 + i as f64)).collect(), ..Default::default() }
}

#[test]
fn verif_verdict_states_the_outcome() {
    let two = shield(&[("0417", "left chine"), ("0418", "Z-12")]);
    let rows: &[(&[Option<f64>], &str)] = &[
        (
            &[Some(38.0), Some(90.0)],
            "All 2 tiles hold at the surface; the closest is 0417 on the left chine: 38\u{202f}K below its limit at 1,040\u{202f}s. Glue line and structure are not assessed yet.",
        ),
        (
            &[Some(38.0), Some(-27.4)],
            "1 of 2 tiles falls short at the surface; worst 0418 in zone Z-12: 27\u{202f}K over at 1,041\u{202f}s. Glue line and structure are not assessed yet.",
        ),
        (
            &[Some(-1.0), Some(-27.0)],
            "All 2 tiles fall short at the surface; worst 0418 in zone Z-12: 27\u{202f}K over at 1,041\u{202f}s. Glue line and structure are not assessed yet.",
        ),
        (
            &[Some(5.0), None],
            "The one tile holds at the surface; the closest is 0417 on the left chine: 5\u{202f}K below its limit at 1,040\u{202f}s. Glue line and structure are not assessed yet. 1 tile has no limit and is not judged.",
        ),
        (&[None, None], "No tile has a limit to be judged against."),
    ];
    for (margins, expected) in rows {
        assert_eq!(plain(&verdict(&two, Some(&results(margins)), UnitSystem::Si)), *expected);
    }
    assert_eq!(plain(&verdict(&two, None, UnitSystem::Si)), "2 tiles are being assessed.");
}

#[test]
fn verif_verdict_names_the_entry_of_a_set() {
    let scenario = crate::scenario::Scenario::read("scenario.json", &crate::shield::demo::scenario_json(), &[]).unwrap();
    let two = shield(&[("0417", "left chine"), ("0418", "nose")]);
    let mut results = results(&[Some(-1.0), Some(-27.0)]);
    results.tiles[1].surface.entry = 1;
    let said = |entries: &[NamedEntry]| plain(&verdict_of_set(&two, Some(&results), entries, UnitSystem::Si));
    assert!(said(&scenario.entries).contains("at 1,041\u{202f}s of entry steep. Glue line"), "{}", said(&scenario.entries));
    assert_eq!(said(&scenario.entries[..1]), plain(&verdict(&two, Some(&results), UnitSystem::Si)));
}

#[test]
fn verif_verdict_names_the_layer_once_all_are_assessed() {
    let one = shield(&[("0417", "left chine"), ("0001", "nose")]);
    let mut full = results(&[Some(-27.0), Some(40.0)]);
    for tile in &mut full.tiles {
        tile.bondline = Some(Peak { temperature_k: 560.0, time_s: 1420.0, entry: 0 });
        tile.margin_bondline_k = Some(-27.0);
        tile.margin_structure_k = Some(8.0);
        tile.governed_by = Some(GovernedBy::Bondline);
    }
    let spans = verdict(&one, Some(&full), UnitSystem::Us);
    assert_eq!(plain(&spans), "1 of 2 tiles falls short; worst 0417 on the left chine: glue line 49\u{202f}°F over at 1,420\u{202f}s.");
    assert!(spans.contains(&Span::Pick { tile: 0, text: "0417".to_string() }));
    assert!(spans.iter().any(|span| matches!(span, Span::Time { entry: 0, time_s, .. } if *time_s == 1420.0)));
}

#[test]
fn verif_ranking_is_by_margin_then_table_order() {
    assert_eq!(ranked(&results(&[Some(3.0), None, Some(-1.0), Some(3.0), Some(f64::NAN)])), vec![2, 0, 3]);
}

#[test]
fn verif_holds_reads_a_track() {
    let at = [0.8, 0.9, 1.0, 1.1];
    let rows: &[(&[f64], Option<Holds>, &str)] = &[
        (&[5.0, 5.0, 5.0, 5.0], Some(Holds::Everywhere), "every value holds"),
        (&[-5.0, -5.0, -5.0, -1.0], Some(Holds::Nowhere), "no value holds"),
        (&[10.0, 0.0, -10.0, -20.0], Some(Holds::Below(0.9)), "holds below 0.90\u{202f}×"),
        (&[-10.0, -5.0, 5.0, 6.0], Some(Holds::From(0.95)), "holds from 0.95\u{202f}×"),
        (&[-10.0, 10.0, 10.0, -10.0], Some(Holds::Between(0.85, 1.05)), "holds 0.85 to 1.05\u{202f}×"),
        (&[1.0, -1.0, 1.0, 1.0], Some(Holds::Parts), "holds in parts"),
        (&[f64::NAN, 1.0, 1.0, 1.0], None, ""),
    ];
    for (margin, expected, words) in rows {
        let found = holds(&at, margin);
        match (&found, expected) {
            (Some(Holds::Below(a)), Some(Holds::Below(b))) | (Some(Holds::From(a)), Some(Holds::From(b))) => assert!((a - b).abs() < 1e-12),
            (Some(Holds::Between(a, b)), Some(Holds::Between(c, d))) => assert!((a - c).abs() + (b - d).abs() < 1e-12),
            _ => assert_eq!(&found, expected),
        }
        if let Some(found) = found {
            assert_eq!(holds_words(&found, Quantity::Factor, UnitSystem::Si), *words);
        }
    }
}

#[test]
fn verif_margins_name_their_policy() {
    assert_eq!(policy(&Policy::default()).0, "Margin = limit − nominal; no uncertainty counted");
    let term = |level_sigma| crate::scenario::Term { name: "heating".to_string(), fraction: 0.1, level_sigma };
    let two = Policy { terms: vec![term(3.0), term(3.0)], ..Default::default() };
    assert_eq!(policy(&two).0, "Margin = limit − (nominal + root-sum-square of 2 terms at 3\u{202f}σ)");
    let mixed = Policy { terms: vec![term(3.0), term(2.0)], combine: Combine::Sum, ..Default::default() };
    assert_eq!(policy(&mixed).0, "Margin = limit − (nominal + sum of 2 terms)");
}

#[test]
fn verif_why_gives_the_numbers_that_decide() {
    let mut two = shield(&[("0417", "left chine"), ("0418", "belly")]);
    let mut found = results(&[Some(-27.0), Some(10.0)]);
    assert_eq!(why(&two, &found, 0, UnitSystem::Si), "1,560 of 1,533\u{202f}K, RCG");
    two.tiles[0].heating_factor = 1.2;
    assert_eq!(why(&two, &found, 0, UnitSystem::Si), "1,560 of 1,533\u{202f}K, factor 1.20");
    found.tiles[1].governed_by = Some(GovernedBy::Bondline);
    found.tiles[1].thickness_to_limit_mm = Some(-7.0);
    found.tiles[1].effective.thickness_m = 0.031;
    assert_eq!(why(&two, &found, 1, UnitSystem::Si), "thin: 31.0\u{202f}mm, 38.0 needed");
    assert_eq!(why(&two, &found, 9, UnitSystem::Si), "");
}

#[test]
fn verif_a_moment_between_samples() {
    let sample = |time_s, altitude_m, mach| Sample { time_s, altitude_m, mach, ..Default::default() };
    let flight = Trajectory {
        nose_radius_m: 1.0,
        samples: vec![sample(0.0, 100.0, None), sample(10.0, 50.0, Some(2.0)), sample(20.0, 0.0, Some(1.0))],
    };
    assert_eq!(at_moment(&flight, 15.0).map(|s| (s.altitude_m, s.mach)), Some((25.0, Some(1.5))));
    assert_eq!(at_moment(&flight, 5.0).map(|s| (s.altitude_m, s.mach)), Some((75.0, None)));
    assert_eq!(at_moment(&flight, -5.0).map(|s| s.altitude_m), Some(100.0));
    assert_eq!(at_moment(&flight, 99.0).map(|s| s.altitude_m), Some(0.0));
    assert_eq!(at_moment(&Trajectory::default(), 1.0), None);
}

#[test]
fn verif_the_stated_error_is_in_the_shown_unit() {
    let mut results = results(&[Some(1.0), Some(2.0)]);
    for (error_k, si, us) in
        [(0.93, ", stated error \u{2264} 1.0\u{202f}K", ", stated error \u{2264} 1.7\u{202f}°F"), (f64::INFINITY, "", "")]
    {
        results.tiles[1].numerical_error_k = error_k;
        assert_eq!([stated_error(&results, UnitSystem::Si), stated_error(&results, UnitSystem::Us)], [si, us]);
    }
}
