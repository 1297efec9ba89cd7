//! Vehicles written by general-purpose libraries that know nothing of this project (tests/data/foreign/make.py) load and measure right.

use std::path::{Path, PathBuf};
use tileglow::command::vehicle::read_vehicle;
use tileglow::material::Kind;
use tileglow::shield::{Shield, load};

/// The files as committed, and as made anew by the full run where that has happened.
fn folders() -> Vec<PathBuf> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let made = root.join("tests/.tools/made/foreign");
    let mut folders = vec![root.join("tests/data/foreign")];
    folders.extend(made.is_dir().then_some(made));
    folders
}

fn open(path: &Path) -> Shield {
    let (files, name) = read_vehicle(path).unwrap();
    load(&files, &name).map_err(|error| error.to_string()).unwrap()
}

/// The stations of a tile along the meridian, degrees on the sphere, as make.py lays them out: edges less half a gap of 1.2 mm.
fn ring(id: &str) -> Option<(f64, f64, f64)> {
    let (ring, sector) = id.strip_prefix('R')?.split_once('S')?;
    let low = (2.0 + 8.0 * ring.parse::<f64>().unwrap()).to_radians();
    let azimuth = (15.0 * (sector.parse::<f64>().unwrap() + 0.5)).to_radians();
    Some((low + 0.6e-3, low + 8f64.to_radians() - 0.6e-3, azimuth))
}

/// Facets against the sphere: a tile's area vector is that of its rim, whatever the triangles within. Seen along x the rim is a ring
/// sector with three chords a side, cut back by half a gap along either meridian; seen along its own azimuth it is three trapezoids.
#[test]
fn val_the_hemisphere_measures_as_a_sphere_does() {
    for folder in folders() {
        for name in ["hemisphere_glb", "hemisphere_obj"] {
            let shield = open(&folder.join(name));
            assert_eq!((shield.tiles.len(), shield.warnings.len()), (1 + 11 * 24 + 4 * 24, 0), "{:?}", shield.warnings);
            let mut area = 0.0;
            for tile in &shield.tiles {
                let facet = &tile.facet;
                let polar_deg = (-facet.normal.x).acos().to_degrees();
                let part: f64 = tile.part.parse().unwrap();
                // The chords of a 15° sector in three parts lie at most 1 - cos(2.5°) = 0.95 mm below the circle.
                let radius =
                    if tile.zone == "sphere" { (facet.centre - glam::DVec3::X).length() } else { facet.centre.with_x(0.0).length() };
                assert!((0.998..1.0 + 1e-6).contains(&radius), "{name} {} {radius}", tile.id);
                if let Some((low, high, azimuth)) = ring(&tile.id) {
                    let gap = 1.2e-3;
                    let width = |t: f64| 15f64.to_radians() - gap / t.sin();
                    let arcs = |t: f64| 1.5 * (width(t) / 3.0).sin() * t.sin().powi(2);
                    let axial = arcs(low) - arcs(high) + gap / 2.0 * (high.sin() - low.sin());
                    let across = |t: f64| 2.0 * t.sin() * (width(t) / 2.0).sin();
                    let station = |i: u8| low + (high - low) * f64::from(i) / 3.0;
                    let piece = |i: u8| (station(i), station(i + 1));
                    let strip = |(a, b): (f64, f64)| (across(a) + across(b)) / 2.0 * (a.cos() - b.cos());
                    let radial: f64 = (0..3).map(|i| strip(piece(i))).sum();
                    let want = glam::DVec3::new(axial, radial * azimuth.sin(), radial * azimuth.cos()).normalize();
                    // Coordinates are rounded to 1e-7 m on sides of 10 mm and more.
                    let apart_deg = facet.normal.dot(want).min(1.0).acos().to_degrees();
                    assert!(apart_deg < 1e-3, "{name} {} {apart_deg}", tile.id);
                    // The wider end of a sector pulls its mean aft, by Δθ²/(12 tan θ): 0.4° at 14°.
                    assert!(part < 10.0 || (polar_deg - part).abs() < 0.4, "{name} {} {polar_deg} {part}", tile.id);
                    area += facet.area_m2;
                }
            }
            // The sphere between 2° and 90° less its gaps: 11 rings of 1.2 mm and 24 meridians; chords lose up to 0.15 % more.
            let rings: f64 = (0..=11).map(|i| (2.0 + 8.0 * f64::from(i)).to_radians().sin() * std::f64::consts::TAU * 1.2e-3).sum();
            let meridians = 24.0 * 1.2e-3 * 88f64.to_radians();
            let want = std::f64::consts::TAU * 2f64.to_radians().cos() - rings + 0.6e-3 * std::f64::consts::TAU - meridians;
            assert!((area / want - 1.0).abs() < 2e-3, "{name} {area} {want}");
            assert!((shield.plain_area_m2 - 36.0 * 5f64.to_radians().sin()).abs() < 1e-4, "{}", shield.plain_area_m2);
        }
    }
}

#[test]
fn val_both_forms_of_the_hemisphere_are_one_vehicle() {
    for folder in folders() {
        let (glb, obj) = (open(&folder.join("hemisphere_glb")), open(&folder.join("hemisphere_obj")));
        for (a, b) in glb.tiles.iter().zip(&obj.tiles) {
            assert_eq!((&a.id, &a.neighbours, a.outline.len()), (&b.id, &b.neighbours, b.outline.len()));
            // The OBJ has seven decimals, the GLB 32-bit floats.
            assert!((a.facet.centre - b.facet.centre).length() < 1e-6 && (a.facet.normal - b.facet.normal).length() < 1e-5, "{}", a.id);
        }
        assert_ne!(glb.digest, obj.digest);
    }
}

/// Neighbours by hand: a ring tile has one on each side, one before and one behind; ring 0 meets the cap, which meets all 24.
#[test]
fn val_neighbours_are_those_of_the_layout() {
    let shield = open(&folders()[0].join("hemisphere_glb"));
    let id = |i: u32| shield.tiles[i as usize].id.clone();
    for tile in &shield.tiles {
        let mut got: Vec<String> = tile.neighbours.iter().map(|i| id(*i)).collect();
        got.sort();
        let mut want = Vec::new();
        if tile.id == "CAP" {
            want.extend((0..24).map(|s| format!("R00S{s:02}")));
        } else {
            let (ring, sector) = tile.id.split_once('S').unwrap();
            let sector: usize = sector.parse().unwrap();
            let number: usize = ring[1..].parse().unwrap();
            let name = |ring: usize, sector: usize| {
                if ring < 11 { format!("R{ring:02}S{sector:02}") } else { format!("C{}S{sector:02}", ring - 11) }
            };
            let place = if ring.starts_with('R') { number } else { number + 11 };
            want.push(name(place, (sector + 1) % 24));
            want.push(name(place, (sector + 23) % 24));
            want.push(if place == 0 { "CAP".to_string() } else { name(place - 1, sector) });
            if place < 14 {
                want.push(name(place + 1, sector));
            }
        }
        want.sort();
        assert_eq!(got, want, "{}", tile.id);
    }
}

#[test]
fn val_feature_ids_and_a_property_table_of_another_writer() {
    for folder in folders() {
        let shield = open(&folder.join("features.glb"));
        assert_eq!(shield.tiles.len(), 20);
        assert!(shield.warnings.len() == 1 && shield.warnings[0].contains("\"colour\""), "{:?}", shield.warnings);
        for (i, tile) in shield.tiles.iter().enumerate() {
            let (row, column) = (i / 5, i % 5);
            assert_eq!(tile.id, format!("{}{column}", ["A", "B", "C", "D"][row]));
            assert!((tile.thickness_m - (25.4e-3 + 1e-4 * i as f64)).abs() < 1e-12, "{}", tile.thickness_m);
            let material = &shield.library.materials[tile.material];
            assert_eq!((material.id.as_str(), material.kind), (["li-900", "li-2200"][i % 2], Kind::Tile));
            assert_eq!(tile.installed_flight, if i == 3 || i == 7 { None } else { Some(i as u32) });
            let want = glam::DVec3::new(column as f64 * 0.1512 + 0.075, row as f64 * 0.1512 + 0.075, 0.0);
            assert!((tile.facet.centre - want).length() < 1e-7 && (tile.facet.normal + glam::DVec3::Z).length() < 1e-9);
            let edges = usize::from(row > 0) + usize::from(row < 3) + usize::from(column > 0) + usize::from(column < 4);
            assert_eq!(tile.neighbours.len(), edges, "{}", tile.id);
        }
        assert!((shield.plain_area_m2 - 4.0 * 0.15 * 0.15).abs() < 1e-7);
    }
}
