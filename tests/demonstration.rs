//! The demonstration vehicle through the engine: its shield holds over its set of entries, but for a few tiles at the edge of the nose cap.

use tileglow::assess::{self, Assessment, Prepared};
use tileglow::scenario::Scenario;
use tileglow::shield::{Shield, Tile, demo, load};

fn assessed() -> (Shield, Assessment) {
    let shield = load(&demo::files(), demo::NAME).map_err(|error| error.to_string()).unwrap();
    let scenario = Scenario::read("scenario.json", &demo::scenario_json(), &[]).map_err(|error| error.to_string()).unwrap();
    let prepared = Prepared::new(&shield, &scenario).map_err(|error| error.to_string()).unwrap();
    let findings = assess::findings(&shield, &scenario).map_err(|error| error.to_string()).unwrap();
    let mut assessment = assess::assess(&shield, &scenario, &prepared, &findings);
    assess::settle(&prepared, &mut assessment);
    (shield, assessment)
}

#[test]
fn verif_the_shield_holds_but_for_a_few_tiles() {
    let (shield, assessment) = assessed();
    let rows = || shield.tiles.iter().zip(&assessment.tiles);
    let peak_k = |of: &dyn Fn(&Tile) -> bool| rows().filter(|(tile, _)| of(tile)).map(|(_, r)| r.surface.temperature_k).fold(0.0, f64::max);

    // Panels of the cap stay below their reuse limit, and are the hottest of the vehicle.
    let cap_k = peak_k(&|tile| tile.zone == "nose cap");
    assert!((1700.0..1900.0).contains(&cap_k), "{cap_k}");
    assert!(rows().filter(|(tile, _)| tile.zone == "nose cap").all(|(_, r)| r.margin_surface_k.is_some_and(|margin| margin > 0.0)));
    assert!(peak_k(&|tile| tile.zone != "nose cap") < cap_k);

    // A handful falls short, by little, all of them next to the cap.
    let short: Vec<_> = rows().filter(|(_, r)| r.margin_surface_k.is_some_and(|margin| margin < 0.0)).collect();
    assert!((1..=12).contains(&short.len()), "{:?}", short.iter().map(|(t, r)| (&t.id, r.margin_surface_k)).collect::<Vec<_>>());
    for (tile, result) in &short {
        assert!(result.margin_surface_k.is_some_and(|margin| margin > -50.0), "{} {:?}", tile.id, result.margin_surface_k);
        let at_cap = tile.neighbours.iter().any(|n| shield.tiles.get(*n as usize).is_some_and(|n| n.zone == "nose cap"));
        assert!(at_cap, "{} {} {:?}", tile.id, tile.zone, tile.facet.centre);
    }

    // The belly, the flaps and the fins' edges lie where tiles and panels are used, the lee far below.
    for (zone, from_k, to_k) in
        [("belly", 1300.0, 1533.0), ("body flap", 1150.0, 1450.0), ("leading edge", 1400.0, 1700.0), ("lee", 600.0, 900.0)]
    {
        let peak_k = peak_k(&|tile| tile.zone.contains(zone));
        assert!((from_k..to_k).contains(&peak_k), "{zone}: {peak_k}");
    }
}

/// The set matters: more than one of its entries governs tiles, and none of a tile's margins is better than over the nominal alone.
#[test]
fn verif_the_worst_of_the_set_governs() {
    let (shield, over_all) = assessed();
    let mut scenario = Scenario::read("scenario.json", &demo::scenario_json(), &[]).map_err(|error| error.to_string()).unwrap();
    assert_eq!(scenario.entries.iter().map(|e| e.name.as_str()).collect::<Vec<_>>(), ["nominal", "steep", "shallow", "heavy", "abort"]);
    scenario.entries.truncate(1);
    let prepared = Prepared::new(&shield, &scenario).map_err(|error| error.to_string()).unwrap();
    let nominal = assess::assess(&shield, &scenario, &prepared, &[]);
    let mut governs = [0; 5];
    for (all, nominal) in over_all.tiles.iter().zip(&nominal.tiles) {
        let (Some(least), Some(alone), Some(entry)) = (all.margin_k, nominal.margin_k, all.governing_entry) else { continue };
        assert!(least <= alone && (entry != 0 || least == alone));
        governs[entry] += 1;
    }
    assert!(governs.iter().filter(|count| **count > 30).count() >= 3, "{governs:?}");
}
