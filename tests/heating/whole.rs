//! The demonstration vehicle through the whole path: levels, slices, updates, body points, and what a change of plan costs.

use super::*;
use std::collections::BTreeMap;
use tileglow::assess::prepare::{Prepared, SAMPLES};
use tileglow::assess::surface;
use tileglow::document::Curve;
use tileglow::flight::Entry;
use tileglow::scenario::{Change, ChangeKey, ChangeValue, HeatingChoices, NamedEntry, Reach, Scenario};
use tileglow::shield::{Shield, load};
use tileglow::tile::equilibrium::WallEnthalpy;

fn scenario(course: Course) -> Scenario {
    Scenario {
        vehicle_name: "Whinchat".into(),
        vehicle_digest: None,
        entries: vec![NamedEntry { name: "nominal".into(), course, transition: None }],
        heating: HeatingChoices::default(),
        start: Default::default(),
        landing: Default::default(),
        policy: Default::default(),
        sizing: Default::default(),
        changes: Vec::new(),
        findings: Vec::new(),
        inspection: Default::default(),
        work: Default::default(),
        view: Default::default(),
        note: String::new(),
    }
}

/// A glide of a lifting body from orbit, about 40 degrees of angle of attack where it is hot.
fn glide() -> Course {
    let text = r#"{"format": "tileglow-entry/1", "altitude_m": 120000, "speed_m_s": 7500, "flight_path_deg": -1.2, "heading_deg": 60,
        "latitude_deg": 0, "longitude_deg": 0, "mass_kg": 12000, "reference_area_m2": 42, "lift_coefficient": 0.75,
        "drag_coefficient": 0.75, "angle_of_attack_deg": {"speed_m_s": [600, 2500, 5000], "value": [12, 35, 40]},
        "bank_deg": {"speed_m_s": [2000, 5000], "value": [45, 60]},
        "stop": {"altitude_m": 20000, "speed_m_s": 600, "time_s": 4000}, "nose_radius_m": 1, "output_step_s": 1}"#;
    Course::Entry(Entry::parse("entry.json", text).unwrap())
}

fn demo() -> Shield {
    load(&tileglow::shield::demo::files().into_iter().filter(|file| !file.bytes.is_empty()).collect::<Vec<_>>(), "Whinchat").unwrap()
}

/// Levels by zone for the eye, and what must hold whatever the levels are.
#[test]
fn verif_demo_levels_and_slices() {
    let shield = demo();
    let scenario = scenario(glide());
    let prepared = Prepared::new(&shield, &scenario).unwrap();
    let flight = &prepared.flights[0];
    let hottest = flight.trajectory.peaks().unwrap().heating;
    println!(
        "reference peak {:.3e} W/m2 at {:.0} m/s, {:.0} m, {:.1} degrees, {:.0} s of {:.0} s",
        hottest.reference_heating_w_m2,
        hottest.speed_m_s,
        hottest.altitude_m,
        hottest.angle_of_attack_deg,
        hottest.time_s,
        flight.trajectory.samples.last().unwrap().time_s
    );
    let peaks = surface::peaks(&prepared, 0, 0..shield.tiles.len());
    let mut zones: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
    for (tile, peak) in shield.tiles.iter().zip(&peaks) {
        assert!(peak.peak_k.is_finite() && peak.peak_k >= 300.0 && peak.heat_load_j_m2 >= 0.0);
        zones.entry(&tile.zone).or_default().push(peak.peak_k);
    }
    for (zone, mut values) in zones {
        values.sort_by(f64::total_cmp);
        let n = values.len();
        println!("{zone:24} {n:5} tiles {:7.0} {:7.0} {:7.0} K", values[0], values[n / 2], values[n - 1]);
    }
    for (tile, peak) in
        shield.tiles.iter().zip(&peaks).filter(|(t, _)| t.facet.normal.z < -0.97 && t.facet.centre.y > 0.0 && t.facet.centre.y < 0.13)
    {
        println!("belly x {:5.2}: {:.0} K", tile.facet.centre.x, peak.peak_k);
    }
    // Any slice, a moment and a history say the same bytes.
    for range in [0..1, 5..11, 17..300] {
        assert_eq!(surface::peaks(&prepared, 0, range.clone()), peaks[range]);
    }
    for tile in [0, 7, 1003] {
        let history = surface::history(&prepared, 0, tile);
        for row in [40, 150, 220] {
            assert_eq!(surface::moment(&prepared, 0, history[row].time_s)[tile], history[row]);
        }
    }
}

#[test]
fn verif_update_is_new() {
    let shield = demo();
    let before = scenario(glide());
    let mut after = before.clone();
    let zone = shield.tiles[0].zone.clone();
    after.changes = vec![Change { reach: Reach::Zone(zone), set: vec![(ChangeKey::Emissivity, ChangeValue::Number(0.7))] }];
    after.heating.choices.transition = Transition::Mach { mach: 9.0 };
    let mut prepared = Prepared::new(&shield, &before).unwrap();
    prepared.update(&shield, &after).unwrap();
    let fresh = Prepared::new(&shield, &after).unwrap();
    let all = 0..shield.tiles.len();
    assert_eq!(surface::peaks(&prepared, 0, all.clone()), surface::peaks(&fresh, 0, all));
    // What is not there is told, and the last good state stands.
    let mut wrong = after.clone();
    wrong.changes.push(Change { reach: Reach::Zone("belfry".into()), set: Vec::new() });
    wrong.changes.push(Change { reach: Reach::Tiles(vec!["nobody".into()]), set: Vec::new() });
    let told = prepared.update(&shield, &wrong).unwrap_err().to_string();
    assert!(told.contains("belfry") && told.contains("nobody") && told.contains("changes[1].zone"), "{told}");
    assert_eq!(surface::peaks(&prepared, 0, 0..9), surface::peaks(&fresh, 0, 0..9));
    // An entry that never enters is refused with its name, and the last good state stands then too.
    let mut high = after.clone();
    if let Course::Entry(entry) = &mut high.entries[0].course {
        (entry.speed_m_s, entry.flight_path_deg) = (7600.0, 0.0);
    }
    let told = prepared.update(&shield, &high).unwrap_err().to_string();
    assert!(told.contains("nominal") && told.contains("never enters"), "{told}");
    assert_eq!(surface::peaks(&prepared, 0, 0..9), surface::peaks(&fresh, 0, 0..9));
    prepared.update(&shield, &after).unwrap();
    assert_eq!(surface::peaks(&prepared, 0, 0..9), surface::peaks(&fresh, 0, 0..9));
}

fn deflected(zone: &str, degrees: f64) -> Course {
    let Course::Entry(mut entry) = glide() else { panic!() };
    entry.deflection_deg = vec![(zone.to_string(), tileglow::document::Curve::Constant(degrees))];
    Course::Entry(entry)
}

/// A flap into the flow runs hotter and no other zone feels it; undeflected the bytes are the same; a zone that is not there is told with those that are.
#[test]
fn verif_deflection_of_a_zone() {
    let shield = demo();
    let all = 0..shield.tiles.len();
    let plain = Prepared::new(&shield, &scenario(glide())).unwrap();
    let peaks = surface::peaks(&plain, 0, all.clone());
    let mut prepared = Prepared::new(&shield, &scenario(deflected("left body flap", 0.0))).unwrap();
    assert_eq!(surface::peaks(&prepared, 0, all.clone()), peaks);
    prepared.update(&shield, &scenario(deflected("left body flap", 15.0))).unwrap();
    let turned = surface::peaks(&prepared, 0, all.clone());
    let fresh = Prepared::new(&shield, &scenario(deflected("left body flap", 15.0))).unwrap();
    assert_eq!(surface::peaks(&fresh, 0, all), turned);
    let (mut hottest, mut before) = (0.0_f64, 0.0_f64);
    for ((tile, a), b) in shield.tiles.iter().zip(&peaks).zip(&turned) {
        if tile.zone != "left body flap" {
            assert_eq!(a, b, "{}", tile.id);
        } else {
            (before, hottest) = (before.max(a.peak_k), hottest.max(b.peak_k));
        }
    }
    println!("left body flap: {before:.0} K, 15 degrees down {hottest:.0} K");
    assert!(hottest > before + 50.0);
    let told = prepared.update(&shield, &scenario(deflected("left flap", 1.0))).unwrap_err().to_string();
    assert!(told.contains("entries[0].entry.deflection_deg.left flap") && told.contains("left body flap"), "{told}");
}

/// `cargo test --release --test heating -- --ignored --nocapture` prints nanoseconds.
#[test]
#[ignore = "a benchmark"]
fn bench_surface() {
    let shield = demo();
    let started = now();
    let prepared = Prepared::new(&shield, &scenario(glide())).unwrap();
    println!("prepared in {:.1} ms", (now() - started) * 1e3);
    let (tiles, rows) = (shield.tiles.len(), prepared.flights[0].streams.len());
    let local = best(&mut || {
        let mut sum = wide::f64x4::splat(0.0);
        for group in 0..prepared.surface.groups() {
            for moment in &prepared.flights[0].moments {
                sum += prepared.surface.heating(group, moment).unwrap().cold_wall_w_m2;
            }
        }
        std::hint::black_box(sum.to_array());
    });
    let all = best(&mut || {
        std::hint::black_box(surface::peaks(&prepared, 0, 0..tiles));
    });
    let one = best(&mut || {
        std::hint::black_box(surface::moment(&prepared, 0, 500.0));
    });
    let pairs = (tiles * rows) as f64;
    println!("{tiles} tiles x {rows} rows: local {:.1} ms ({:.1} ns each)", local * 1e3, local / pairs * 1e9);
    println!("peaks {:.1} ms ({:.1} ns each; equilibrium about {:.1} ns)", all * 1e3, all / pairs * 1e9, (all - local) / pairs * 1e9);
    println!("one moment {:.2} ms; 30,000 tiles about {:.2} ms", one * 1e3, one * 1e3 * 30000.0 / tiles as f64);
}

/// Processor time where the system tells it (first number, ns), so that a busy machine does not count; seconds.
fn now() -> f64 {
    static START: std::sync::OnceLock<std::time::Instant> = std::sync::OnceLock::new();
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").ok();
    let spent = told.and_then(|text| text.split(' ').next().and_then(|ns| ns.parse::<f64>().ok()));
    spent.map_or_else(|| START.get_or_init(std::time::Instant::now).elapsed().as_secs_f64(), |ns| ns * 1e-9)
}

/// The least of nine runs, seconds.
fn best(f: &mut dyn FnMut()) -> f64 {
    let run = |_| {
        let started = now();
        f();
        now() - started
    };
    (0..9).map(run).fold(f64::INFINITY, f64::min)
}

/// From a changed angle-of-attack plan to the surface peaks of the whole shield over the demonstration's five entries, and where the time goes.
#[test]
#[ignore = "a benchmark"]
fn bench_plan_change() {
    let shield = demo();
    let before = Scenario::read("scenario.json", &tileglow::shield::demo::scenario_json(), &[]).unwrap();
    let entries = before.entries.len();
    let bent = |count: usize, by_deg: f64| {
        let mut after = before.clone();
        for entry in after.entries.iter_mut().take(count) {
            let Course::Entry(entry) = &mut entry.course else { continue };
            match &mut entry.angle_of_attack_deg {
                Curve::Constant(value) => *value += by_deg,
                Curve::Table(table) => table.value.iter_mut().for_each(|value| *value += by_deg),
            }
        }
        after
    };
    let mut prepared = Prepared::new(&shield, &before).unwrap();
    let all = |prepared: &Prepared, entries: usize| {
        (0..entries).for_each(|entry| drop(std::hint::black_box(surface::peaks(prepared, entry, 0..shield.tiles.len()))));
    };
    let mut turn = 0.0;
    for count in [0, 1, entries] {
        // Each run another plan, so that nothing is kept.
        let update = best(&mut || {
            turn += 1e-6;
            prepared.update(&shield, &bent(count, turn)).unwrap();
        });
        let peaks = best(&mut || all(&prepared, count));
        println!(
            "a change of {count} of {entries} plans, {} tiles: {:.1} ms (update {:.1}, surface peaks {:.1}; target 100)",
            shield.tiles.len(),
            1e3 * (update + peaks),
            1e3 * update,
            1e3 * peaks
        );
    }
    let course = &before.entries[0].course;
    let flown = course.fly().unwrap();
    let kept = flown.thinned(SAMPLES).samples;
    let streams: Vec<Stream> = kept.iter().map(|sample| Stream::at(sample, flown.nose_radius_m)).collect();
    type Part<'a> = (&'a str, &'a mut dyn FnMut());
    let parts: [Part; 6] = [
        ("findings and their rules", &mut || drop(std::hint::black_box(tileglow::assess::findings(&shield, &before).unwrap()))),
        ("fly", &mut || drop(std::hint::black_box(course.fly().unwrap()))),
        ("thin", &mut || drop(std::hint::black_box(flown.thinned(SAMPLES)))),
        ("streams", &mut || {
            kept.iter().for_each(|sample| {
                std::hint::black_box(Stream::at(sample, flown.nose_radius_m));
            })
        }),
        ("walls", &mut || {
            streams.iter().for_each(|stream| drop(std::hint::black_box(WallEnthalpy::at_pressure(stream.stagnation_pressure_pa))));
        }),
        ("joints", &mut || drop(std::hint::black_box(shield.joints()))),
    ];
    for (what, part) in parts {
        println!("  {what}: {:.2} ms", 1e3 * best(part));
    }
}
