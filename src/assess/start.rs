//! Where each tile's surface and structure stand when the entry starts: as given, or from what orbit made of them.

use super::prepare::EffectiveTile;
use crate::scenario::Start;
use crate::shield::Shield;
use crate::tile::equilibrium::Emissivity;
use crate::tile::orbit::{Attitude, Face, Orbit, Planet, Under};
use glam::DVec3;

/// Radius of the planet that is seen from orbit, m: the Earth's mean, as in the entry's default.
const PLANET_RADIUS_M: f64 = 6.371e6;

/// The start of every tile.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Starts {
    /// Surface and structure, K, by tile.
    pub tiles_k: Vec<(f64, f64)>,
    /// Where they come from.
    pub source: &'static str,
    pub warnings: Vec<String>,
}

/// Surface and structure of every tile. `altitude_m` is the orbit's where the scenario names none: that at which the first entry begins.
pub fn starts(shield: &Shield, start: &Start, tiles: &[EffectiveTile], emissivities: &[Emissivity], altitude_m: f64) -> Starts {
    let (orbit, given) = match start {
        Start::Temperature { surface_k, structure_k } => {
            return Starts { tiles_k: vec![(*surface_k, *structure_k); tiles.len()], source: "scenario", warnings: Vec::new() };
        }
        Start::Orbit { sun_vector, planet_vector, albedo, planet_infrared_w_m2, hold_s, structure_k, altitude_m: own_m, exposure } => {
            let attitude = Attitude { sun: DVec3::from_array(*sun_vector), down: DVec3::from_array(*planet_vector), hold_s: *hold_s };
            let planet = Planet {
                radius_m: PLANET_RADIUS_M,
                altitude_m: own_m.unwrap_or(altitude_m),
                albedo: *albedo,
                infrared_w_m2: *planet_infrared_w_m2,
            };
            (Orbit::new(attitude, planet, *exposure), *structure_k)
        }
    };
    let black = Emissivity::constant(1.0);
    let mut grey = 0;
    let mut under: Vec<(usize, Option<usize>, u64, u64, Under)> = Vec::new();
    let tiles_k = (tiles.iter())
        .map(|tile| {
            let emissivity = emissivities.get(tile.emissivity).unwrap_or(&black);
            let solar_absorptance = tile.solar_absorptance.unwrap_or_else(|| {
                grey += 1;
                emissivity.value_at(300.0)
            });
            let key = (tile.material, tile.stack, tile.density_kg_m3.to_bits(), tile.thickness_m.to_bits());
            let known = under.iter().rev().take(8).find(|known| (known.0, known.1, known.2, known.3) == key).map(|known| known.4);
            let below = known.or_else(|| {
                let stack = tile.stack.and_then(|stack| shield.stacks.get(stack))?;
                let own = Under::of(&shield.library, tile.material, tile.density_kg_m3, tile.thickness_m, stack);
                under.push((key.0, key.1, key.2, key.3, own));
                Some(own)
            });
            orbit.start(&Face { normal: tile.local.normal, emissivity, solar_absorptance, under: below }, given)
        })
        .collect();
    let mut warnings = Vec::new();
    if grey > 0 {
        warnings.push(format!("{grey} tiles have no solar absorptance: the start from orbit takes their emissivity for it"));
    }
    let source = "orbit: sun (Kopp and Lean, 2011), albedo and planet infrared by the scenario's attitude; structure marched over the hold";
    Starts { tiles_k, source, warnings }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::assess::{self, Prepared, surface};
    use crate::scenario::{Change, ChangeKey, ChangeValue, Reach, Scenario};
    use crate::shield::{demo, load};

    fn prepared(scenario: &Scenario) -> (Shield, Prepared) {
        let shield = load(&demo::files(), "Whinchat").unwrap();
        let prepared = Prepared::new(&shield, scenario).unwrap();
        (shield, prepared)
    }

    fn demonstration() -> Scenario {
        Scenario::read("scenario.json", &demo::scenario_json(), &[]).unwrap()
    }

    /// Sun above, planet below: lids hot, bellies at the planet's colour, white cooler than black, structures in between and slower; the surface before the heating
    /// is the start.
    #[test]
    fn verif_orbit_over_the_demonstration() {
        let mut scenario = demonstration();
        scenario.start = Start::orbit();
        let (shield, mut of) = prepared(&scenario);
        let lid =
            (0..shield.tiles.len()).max_by(|a, b| shield.tiles[*a].facet.normal.z.total_cmp(&shield.tiles[*b].facet.normal.z)).unwrap();
        let belly =
            (0..shield.tiles.len()).min_by(|a, b| shield.tiles[*a].facet.normal.z.total_cmp(&shield.tiles[*b].facet.normal.z)).unwrap();
        println!("lid {:?}, belly {:?}", of.start_of(lid), of.start_of(belly));
        // White lid: (0.32 x 1360.8 / (0.8 sigma))^(1/4) = 313 K less what it conducts; black belly over the lit planet: 0.9 x 0.3 x 1360.8 / H^2 of albedo and
        // 237 / H^2 of infrared, H = 1 + 120/6371, give 326 K on an emissivity of 0.873.
        assert!((295.0..313.0).contains(&of.start_of(lid).0) && (315.0..327.0).contains(&of.start_of(belly).0));
        for tile in 0..shield.tiles.len() {
            let (surface_k, structure_k) = of.start_of(tile);
            // Without a stack the structure is the face's own.
            let structures = if shield.tiles[tile].stack.is_some() { 180.0..340.0 } else { surface_k..surface_k + 1e-9 };
            assert!((150.0..410.0).contains(&surface_k) && structures.contains(&structure_k), "{tile}: {surface_k} {structure_k}");
        }
        let first = surface::moment(&of, 0, 0.0);
        assert!(first[lid].surface_k >= of.start_of(lid).0 - 1e-9 && (first[lid].surface_k - of.start_of(lid).0).abs() < 30.0);
        // The same lid in black and in white.
        let mut by_coating = [0.0; 2];
        for (kelvin, coating) in by_coating.iter_mut().zip(["rcg", "white-silica"]) {
            scenario.changes = vec![Change {
                reach: Reach::Tiles(vec![shield.tiles[lid].id.clone()]),
                set: vec![(ChangeKey::Coating, ChangeValue::Text(coating.to_string()))],
            }];
            of.update(&shield, &scenario).unwrap();
            *kelvin = of.start_of(lid).0;
        }
        println!("black {:.0} K, white {:.0} K", by_coating[0], by_coating[1]);
        assert!(by_coating[0] - by_coating[1] > 70.0, "{by_coating:?}");
        // An updated preparation is a new one.
        assert_eq!(of.starts, prepared(&scenario).1.starts);
        let findings = assess::findings(&shield, &scenario).unwrap();
        let warnings = assess::assess(&shield, &scenario, &of, &findings).warnings;
        assert!(!warnings.iter().any(|warning| warning.contains("no model yet")), "{warnings:?}");
    }

    /// What keeps its start keeps the right one: after each change an updated preparation starts as a new one does, and only what a start depends on moves it.
    #[test]
    fn verif_kept_starts_are_new_ones() {
        let mut scenario = demonstration();
        scenario.start = Start::orbit();
        let (shield, mut of) = prepared(&scenario);
        let change = |set: (ChangeKey, ChangeValue)| Change { reach: Reach::Tiles(vec![shield.tiles[3].id.clone()]), set: vec![set] };
        type Step<'a> = (&'a str, bool, &'a dyn Fn(&mut Scenario));
        let steps: [Step; 7] = [
            ("nothing", false, &|_| ()),
            ("the heating's scale", false, &|of| of.heating.choices.scale = 1.1),
            ("emissivity", true, &|of| of.changes = vec![change((ChangeKey::Emissivity, ChangeValue::Number(0.6)))]),
            ("thickness", true, &|of| of.changes = vec![change((ChangeKey::ThicknessMm, ChangeValue::Number(90.0)))]),
            ("the attitude held", true, &|of| {
                if let Start::Orbit { hold_s, .. } = &mut of.start {
                    *hold_s = 1800.0;
                }
            }),
            ("the altitude at which the first entry begins", true, &|of| {
                if let crate::flight::Course::Entry(entry) = &mut of.entries[0].course {
                    entry.altitude_m -= 2000.0;
                }
            }),
            ("given temperatures", true, &|of| of.start = Start::Temperature { surface_k: 260.0, structure_k: 280.0 }),
        ];
        for (what, moves, step) in steps {
            let before = of.starts.clone();
            step(&mut scenario);
            of.update(&shield, &scenario).unwrap();
            let fresh = prepared(&scenario).1;
            assert_eq!(of.starts, fresh.starts, "{what}");
            assert_eq!(of.floors_k, fresh.floors_k, "{what}");
            assert_eq!(of.starts != before, moves, "{what}");
        }
    }

    #[test]
    fn verif_given_temperatures_stand_for_all() {
        let mut scenario = demonstration();
        scenario.start = Start::Temperature { surface_k: 260.0, structure_k: 280.0 };
        let (shield, of) = prepared(&scenario);
        assert!((0..shield.tiles.len()).all(|tile| of.start_of(tile) == (260.0, 280.0)));
    }
}
