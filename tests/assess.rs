//! The whole shield through the built command: what `assess` writes, that it is the same whatever way the vehicle comes in, and what it refuses.
#![cfg(not(target_arch = "wasm32"))]

#[path = "assess/joints.rs"]
mod joints;
#[path = "assess/properties.rs"]
mod properties;
#[path = "assess/refusals.rs"]
mod refusals;
#[path = "assess/size.rs"]
mod size;
#[path = "assess/support.rs"]
mod support;

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use support::*;

/// FORMATS.md, `tiles.csv`, word for word.
const COLUMNS: &str = "tile,zone,material,coating,thickness_mm,area_m2,mass_kg,peak_surface_k,peak_surface_time_s,peak_bondline_k,\
peak_bondline_time_s,peak_structure_k,peak_structure_time_s,structure_at_touchdown_k,heat_load_j_m2,limit_surface_k,limit_bondline_k,\
limit_structure_k,margin_surface_k,margin_bondline_k,margin_structure_k,margin_k,governed_by,limiting_layer,governing_entry,\
heating_factor_to_limit,thickness_to_limit_mm,condition,disposition,decision,decided_by,decided_on,decision_reason";

#[test]
fn verif_the_demonstration_as_written() {
    let root = tempfile::tempdir().unwrap();
    let out = root.path().join("out");
    let told = good(&["assess", "--out", text(&out)]);
    assert!(told.stdout.is_empty());
    let table = read(&out.join("tiles.csv"));
    assert_eq!(table.lines().next(), Some(COLUMNS));
    let rows = Table::of(&table);
    let vehicle = demo_files();
    let given = Table::of(&vehicle["tiles.csv"]);
    assert_eq!(rows.column("tile"), given.column("tile"), "the order of the vehicle's table");
    let (mut hot, mut lifted) = (0, 0);
    for (row, tile) in rows.rows.iter().zip(&given.rows) {
        let inner = ["bondline", "structure"];
        let below = inner.map(|layer| {
            [format!("peak_{layer}_k"), format!("peak_{layer}_time_s"), format!("limit_{layer}_k"), format!("margin_{layer}_k")]
        });
        if tile["stack"] == "none" {
            for empty in below.iter().flatten().map(String::as_str).chain(["structure_at_touchdown_k", "thickness_to_limit_mm"]) {
                assert_eq!(row[empty], "", "{empty} of {}", row["tile"]);
            }
        } else {
            hot += 1;
            for [peak, time, limit, margin] in &below {
                let [peak, time, limit, margin] = [peak, time, limit, margin].map(|name| number(row, name));
                assert!((margin - (limit - peak)).abs() <= 5e-7 * (limit + peak) && time > 0.0 && peak > 290.0, "{row:?}");
            }
            // What the skin brings from hotter neighbours can lift the structure above the glue line, but seldom.
            lifted += usize::from(number(row, "peak_structure_k") > number(row, "peak_bondline_k"));
            assert!(number(row, "peak_bondline_k") < number(row, "peak_surface_k"), "{row:?}");
            assert!(number(row, "structure_at_touchdown_k") <= number(row, "peak_structure_k"), "{row:?}");
            assert!(number(row, "peak_bondline_time_s") > number(row, "peak_surface_time_s"), "{row:?}");
        }
        for same in ["zone", "coating"] {
            assert_eq!(row[same].to_lowercase(), tile[same].to_lowercase());
        }
        let n = |name: &str| number(row, name);
        // Cells have seven digits: half a unit of the last one is at most 5e-7 of the value (twice that in a product of two).
        let (limit, peak) = (n("limit_surface_k"), n("peak_surface_k"));
        assert!((n("margin_surface_k") - (limit - peak)).abs() <= 5e-7 * (limit + peak), "{row:?}");
        let by_layer = ["surface", "bondline", "structure"].map(|layer| (row[&format!("margin_{layer}_k")].parse::<f64>().ok(), layer));
        let least =
            by_layer.into_iter().filter(|(margin, _)| margin.is_some()).min_by(|a, b| a.0.unwrap().total_cmp(&b.0.unwrap())).unwrap();
        assert_eq!((number(row, "margin_k"), row["governed_by"].as_str()), (least.0.unwrap(), least.1));
        assert!(["nominal", "steep", "shallow", "heavy", "abort"].contains(&row["governing_entry"].as_str()), "{row:?}");
        let layers = if row["governed_by"] == "surface" { [row["material"].as_str(), &row["coating"]] } else { ["pad", "skin"] };
        assert!(layers.iter().any(|layer| row["limiting_layer"].eq_ignore_ascii_case(layer)), "{row:?}");
        let mass = n("area_m2") * n("thickness_mm") / 1000.0 * number(tile, "density_kg_m3");
        assert!((n("mass_kg") / mass - 1.0).abs() < 1.1e-6, "{row:?}");
        // More heating is to be spared exactly where there is margin left.
        assert!(row["heating_factor_to_limit"].is_empty() || (n("heating_factor_to_limit") > 1.0) == (n("margin_k") > 0.0), "{row:?}");
        let short = n("margin_k") < 0.0;
        assert!(
            !short || (row["condition"] == "not-cleared" && row["disposition"] == "engineering-review") || row["disposition"] == "replace"
        );
    }
    assert!(hot > 2000 && lifted < hot / 20, "{hot} {lifted}");
    summary_tells(&out, &rows);
    assert_eq!(Table::of(&read(&out.join("findings.csv"))).column("finding"), Table::of(&vehicle["findings.csv"]).column("finding"));
    // Written again into the same folder: the same bytes, but for the times.
    let before: BTreeMap<_, _> = names(&out).into_iter().map(|name| (name.clone(), fs::read(out.join(name)).unwrap())).collect();
    good(&["assess", "--out", text(&out)]);
    assert_eq!(names(&out), before.keys().cloned().collect::<Vec<_>>());
    assert_eq!(fs::read(out.join("tiles.csv")).unwrap(), before["tiles.csv"]);
    assert_eq!(fs::read(out.join("findings.csv")).unwrap(), before["findings.csv"]);
    let timeless = |bytes: &[u8]| {
        let mut summary: serde_json::Value = serde_json::from_slice(bytes).unwrap();
        assert!(summary.as_object_mut().unwrap().remove("elapsed_s").unwrap().is_object());
        summary
    };
    assert_eq!(timeless(&fs::read(out.join("summary.json")).unwrap()), timeless(&before["summary.json"]));
}

/// Keys of summary.json, and every count and digest against tiles.csv.
fn summary_tells(out: &Path, rows: &Table) {
    let summary: serde_json::Value = serde_json::from_str(&read(&out.join("summary.json"))).unwrap();
    for key in ["format", "tileglow", "inputs_digest", "results_digest", "limiting", "area_m2", "mass_kg", "models", "policy", "warnings"] {
        assert!(summary.get(key).is_some(), "{key}");
    }
    assert_eq!((&summary["format"], &summary["tileglow"]), (&"tileglow-summary/1".into(), &tileglow::VERSION.into()));
    assert_eq!(summary["results_digest"], sha256(&fs::read(out.join("tiles.csv")).unwrap()));
    // The documented rule: the vehicle's digest in hex, a line feed, the scenario in canonical JSON without view and note.
    let mut scenario = summary["scenario"].clone();
    for key in ["view", "note"] {
        assert!(scenario.as_object_mut().unwrap().remove(key).is_some(), "{key} is written out");
    }
    let vehicle = summary["vehicle"]["digest"].as_str().unwrap();
    assert_eq!(summary["inputs_digest"], sha256(format!("{vehicle}\n{}", canonical(&scenario)).as_bytes()));
    let mut bytes = Vec::new();
    for (name, file) in demo_bytes() {
        bytes.extend([name.as_bytes(), &[0], &(file.len() as u64).to_le_bytes(), &file].concat());
    }
    assert_eq!(vehicle, sha256(&bytes), "name, a zero byte, length, bytes of each file in the order of the table");
    for (key, column) in [("conditions", "condition"), ("dispositions", "disposition")] {
        for (word, count) in summary[key].as_object().unwrap() {
            assert_eq!(count.as_u64(), Some(rows.column(column).iter().filter(|cell| *cell == word).count() as u64), "{key} {word}");
        }
    }
    let mut margins: Vec<(f64, &str)> = rows.rows.iter().map(|row| (number(row, "margin_k"), row["tile"].as_str())).collect();
    assert_eq!(summary["short_tiles"].as_u64(), Some(margins.iter().filter(|(margin, _)| *margin < 0.0).count() as u64));
    margins.sort_by(|a, b| a.0.total_cmp(&b.0));
    for (told, (margin, _)) in summary["limiting"].as_array().unwrap().iter().zip(&margins) {
        assert!((told["margin_k"].as_f64().unwrap() - margin).abs() < 1e-3, "{told}");
    }
    for (key, column) in [("area_m2", "area_m2"), ("mass_kg", "mass_kg")] {
        let sum: f64 = rows.rows.iter().map(|row| number(row, column)).sum();
        assert!((summary[key].as_f64().unwrap() / sum - 1.0).abs() < 1e-6, "{key}");
    }
    assert!(summary["policy"].as_str().unwrap().contains("nominal"));
}

/// Built in, as a folder with its scenario, as a zip: one result, no warning.
#[test]
fn verif_every_way_in_gives_the_same_bytes() {
    let root = tempfile::tempdir().unwrap();
    let (folder, zip) = (root.path().join("ship"), root.path().join("ship.zip"));
    good(&["demo", text(&folder)]);
    zipped(&folder, &zip);
    let scenario = folder.join("scenario.json");
    let mut seen = Vec::new();
    for (i, arguments) in [
        vec![],
        vec!["--vehicle", text(&folder), "--scenario", text(&scenario)],
        vec!["--vehicle", text(&folder)],
        vec!["--vehicle", text(&zip)],
        vec!["--scenario", text(&scenario)],
    ]
    .into_iter()
    .enumerate()
    {
        let out = root.path().join(format!("out {i}"));
        let told = good(&[&["assess", "--out", text(&out)], arguments.as_slice()].concat());
        assert_eq!(String::from_utf8(told.stderr).unwrap(), "", "{arguments:?}");
        let summary: serde_json::Value = serde_json::from_str(&read(&out.join("summary.json"))).unwrap();
        seen.push((read(&out.join("tiles.csv")), read(&out.join("findings.csv")), summary["inputs_digest"].clone()));
    }
    assert!(seen.iter().all(|other| *other == seen[0]));
    // Results never land among the vehicle's own files, whose names they share.
    let before = read(&folder.join("tiles.csv"));
    refused(&["assess", "--vehicle", text(&folder), "--out", text(&folder)], &["ship", "--out"]);
    refused(&["assess", "--scenario", text(&scenario), "--out", text(&folder)], &["ship", "--out"]);
    assert_eq!(read(&folder.join("tiles.csv")), before);
}

/// Lees, Jet Propulsion 26 (1956), on a hemisphere that a general-purpose library wrote, from nothing but tiles.csv and `spot`.
///
/// A peak gives the hot-wall heating by emissivity sigma T^4; over recovery less wall enthalpy it is the heat-transfer coefficient, whose
/// ratio to the nose's is Lees' for the ring's polar angle. Recovery off the nose is H - (1 - Pr^(1/2)) u^2 / 2 with u of an isentropic
/// expansion. Tolerance: a tile of 8 degrees stands for its middle (the mean over it differs by Δθ² f''/24, below 0.4 % of f up to 70
/// degrees); its mean normal leans aft by Δθ²/(12 tan θ), counted here; the radius is fitted from neighbours' normals, 1 % and so 0.5 %
/// of the heating; 2 % is the tolerance of the aero table for this case.
#[test]
fn val_lees_on_a_foreign_hemisphere() {
    let root = tempfile::tempdir().unwrap();
    let scenario = steady_scenario(root.path(), 71000.0, 7200.0);
    let spot: serde_json::Value = serde_json::from_slice(&good(&["spot", "--altitude", "71km", "--speed", "7200"]).stdout).unwrap();
    let total = spot["recovery_enthalpy_j_kg"].as_f64().unwrap();
    let mach = spot["mach"].as_f64().unwrap();
    let wall = |kelvin: f64| {
        let out = good(&["spot", "--altitude", "71km", "--speed", "7200", "--wall-temperature", &kelvin.to_string()]).stdout;
        serde_json::from_slice::<serde_json::Value>(&out).unwrap()["wall_enthalpy_j_kg"].as_f64().unwrap()
    };
    let mut both = Vec::new();
    for name in ["hemisphere_glb", "hemisphere_obj"] {
        let folder = format!("{}/tests/data/foreign/{name}", env!("CARGO_MANIFEST_DIR"));
        let out = root.path().join(name);
        good(&["assess", "--vehicle", &folder, "--scenario", text(&scenario), "--out", text(&out)]);
        let rows = Table::of(&read(&out.join("tiles.csv")));
        let given = Table::of(&read(Path::new(&folder).join("tiles.csv").as_path()));
        let e = 1.0 / (1.4 * mach * mach);
        let coefficient = |kelvin: f64, polar_rad: f64| {
            let pressure = (1.0 - e) * polar_rad.cos().powi(2) + e;
            let speed_share = 1.0 - pressure.powf(1.0 / 8.0);
            let recovery = total - (1.0 - 0.71_f64.sqrt()) * speed_share * 7200.0 * 7200.0 / 2.0;
            5.670374419e-8 * kelvin.powi(4) / (recovery - wall(kelvin))
        };
        let nose_k = number(&rows.rows[0], "peak_surface_k");
        assert_eq!(rows.rows[0]["tile"], "CAP");
        // The nose itself is `spot`'s sphere of 1 m: the cap's fitted radius within 1 %, so 0.25 % of its temperature; rcg's emissivity is a curve.
        let nose = coefficient(nose_k, 0.0) * emissivity(nose_k);
        let reference = spot["reference_heating_w_m2"].as_f64().unwrap() / total;
        assert!((nose / reference - 1.0).abs() < 0.015, "{name} {nose} {reference}");
        let mut rings: BTreeMap<u32, Vec<f64>> = BTreeMap::new();
        for (row, tile) in rows.rows.iter().zip(&given.rows).filter(|(_, tile)| tile["zone"] == "sphere" && tile["tile"] != "CAP") {
            rings.entry(number(tile, "part") as u32).or_default().push(number(row, "peak_surface_k"));
        }
        let mut worst: f64 = 0.0;
        for (polar_deg, peaks) in rings.range(..=70) {
            let lowest = peaks.iter().copied().fold(f64::INFINITY, f64::min);
            let highest = peaks.iter().copied().fold(0.0, f64::max);
            // A ring is one temperature all round; coordinates are rounded at 1e-7 m.
            assert!(peaks.len() == 24 && highest - lowest < 0.5, "{name} {polar_deg} {lowest} {highest}");
            let middle = f64::from(*polar_deg).to_radians();
            let polar = middle + 8f64.to_radians().powi(2) / (12.0 * middle.tan());
            let got = coefficient(lowest, polar) * emissivity(lowest) / nose;
            let want = lees(polar, e);
            println!("{name} {polar_deg}: {got:.4} {want:.4} {:.2} %", 100.0 * (got / want - 1.0));
            worst = worst.max((got / want - 1.0).abs());
        }
        assert!(worst < 0.02, "{name}: {worst}");
        both.push(rows);
    }
    for (a, b) in both[0].rows.iter().zip(&both[1].rows) {
        // The OBJ's seven decimals against 32-bit floats.
        assert!((number(a, "peak_surface_k") - number(b, "peak_surface_k")).abs() < 0.05, "{}", a["tile"]);
    }
}

/// Lees' closed form for a hemisphere in modified-Newtonian pressure, written anew from the paper's integral by Simpson's rule:
/// q / q_0 = (p / p_0) u r / sqrt(4 integral of (p / p_0) u r^2), u in proportion to the angle.
fn lees(polar_rad: f64, e: f64) -> f64 {
    let p = |t: f64| (1.0 - e) * t.cos().powi(2) + e;
    let f = |t: f64| p(t) * t * t.sin().powi(2);
    let n = 2000;
    let h = polar_rad / f64::from(n);
    let sum: f64 = (0..=n)
        .map(|i| {
            f(f64::from(i) * h)
                * if i == 0 || i == n {
                    1.0
                } else if i % 2 == 1 {
                    4.0
                } else {
                    2.0
                }
        })
        .sum();
    p(polar_rad) * polar_rad * polar_rad.sin() / (4.0 * sum * h / 3.0).sqrt()
}

/// A vehicle's rows in another order: every tile keeps every cell.
#[test]
fn verif_the_order_of_tiles_is_irrelevant() {
    let root = tempfile::tempdir().unwrap();
    let folder = root.path().join("ship");
    good(&["demo", text(&folder)]);
    let (plain, mixed) = (root.path().join("plain"), root.path().join("mixed"));
    good(&["assess", "--vehicle", text(&folder), "--out", text(&plain)]);
    let table = read(&folder.join("tiles.csv"));
    let (header, rows) = table.split_once('\n').unwrap();
    let rows: Vec<&str> = rows.lines().collect();
    // 997 is prime and no divisor of the count: every row once, no neighbour beside its neighbour.
    let shuffled: Vec<&str> = (0..rows.len()).map(|i| rows[(i * 997 + 13) % rows.len()]).collect();
    fs::write(folder.join("tiles.csv"), format!("{header}\n{}\n", shuffled.join("\n"))).unwrap();
    good(&["assess", "--vehicle", text(&folder), "--out", text(&mixed)]);
    let lines = |out: &Path| {
        let table = read(&out.join("tiles.csv"));
        let mut lines: Vec<String> = table.lines().map(str::to_string).collect();
        let order: Vec<String> = lines.iter().skip(1).map(|line| line.split(',').next().unwrap().to_string()).collect();
        lines.sort();
        (lines, order)
    };
    let ((before, _), (after, order)) = (lines(&plain), lines(&mixed));
    assert_eq!(order, shuffled.iter().map(|row| row.split(',').next().unwrap()).collect::<Vec<_>>());
    let differing: Vec<_> = before.iter().zip(&after).filter(|(a, b)| a != b).take(3).collect();
    assert!(differing.is_empty(), "{differing:#?}");
}
