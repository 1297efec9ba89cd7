//! Broken vehicles, scenarios and command lines: each told with its place, exit code 2, and nothing left behind.

use super::support::*;
use std::fs;
use std::path::{Path, PathBuf};

/// Three tiles in a row facing down, and a strip without a tile.
fn vehicle(folder: &Path) -> PathBuf {
    let ship = folder.join("ship");
    fs::create_dir_all(&ship).unwrap();
    let mut obj = String::new();
    for (i, name) in ["T1", "T2", "T3", "none"].iter().enumerate() {
        let x = 0.2 * i as f64;
        obj += &format!("o {name}\nv {x} 0 0\nv {x} 0.199 0\nv {} 0.199 0\nv {} 0 0\n", x + 0.199, x + 0.199);
        obj += &format!("f {} {} {} {}\n", 4 * i + 1, 4 * i + 2, 4 * i + 3, 4 * i + 4);
    }
    fs::write(ship.join("vehicle.obj"), obj).unwrap();
    fs::write(ship.join("tiles.csv"), TILES).unwrap();
    ship
}

const TILES: &str = "tile,material,thickness_mm\nT1,LI-900,40\nT2,LI-900,41\nT3,LI-2200,42\n";

#[test]
fn verif_the_small_vehicle_is_good() {
    let root = tempfile::tempdir().unwrap();
    let ship = vehicle(root.path());
    let told = good(&["assess", "--vehicle", text(&ship)]);
    let (out, err) = (String::from_utf8(told.stdout).unwrap(), String::from_utf8(told.stderr).unwrap());
    assert!(out.contains("3 tiles") && err.is_empty(), "{out}{err}");
}

#[test]
fn verif_broken_vehicles_through_the_command() {
    let obj = |from: &'static str, to: &'static str| ("vehicle.obj", from, to);
    let csv = |from: &'static str, to: &'static str| ("tiles.csv", from, to);
    for (name, (file, from, to), parts) in [
        ("short row", csv("T2,LI-900,41", "T2,LI-900"), vec!["tiles.csv", "row 3", "2 cells"]),
        ("long row", csv("T2,LI-900,41", "T2,LI-900,41,x"), vec!["tiles.csv", "row 3", "4 cells"]),
        ("tile without surface", csv("T3,LI-2200,42\n", "T3,LI-2200,42\nT9,LI-900,40\n"), vec!["T9", "tiles.csv", "row 5"]),
        ("surface without tile", csv("T3,LI-2200,42\n", ""), vec!["T3", "vehicle.obj"]),
        ("NaN in the table", csv("41", "NaN"), vec!["tiles.csv", "row 3", "thickness_mm", "NaN"]),
        ("NaN in the surface", obj("v 0 0 0", "v NaN 0 0"), vec!["vehicle.obj", "NaN"]),
        ("infinite", csv("41", "1e999"), vec!["tiles.csv", "row 3", "thickness_mm", "1e999"]),
        ("duplicate id", csv("T3,LI", "T2,LI"), vec!["tiles.csv", "row 4", "\"T2\""]),
        ("no thickness", csv("41", "0"), vec!["tiles.csv", "row 3", "thickness_mm", "\"0\""]),
        ("empty thickness", csv("41", ""), vec!["tiles.csv", "row 3", "thickness_mm"]),
        ("unknown material", csv("LI-2200", "LI-2300"), vec!["tiles.csv", "row 4", "material", "\"LI-2300\"", "li-2200"]),
        ("no such column", csv("thickness_mm", "thickness"), vec!["tiles.csv", "thickness_mm"]),
        ("no surface", obj("f ", "# "), vec!["vehicle.obj"]),
    ] {
        let root = tempfile::tempdir().unwrap();
        let ship = vehicle(root.path());
        let path = ship.join(file);
        let before = read(&path);
        assert!(before.contains(from), "{name}");
        fs::write(&path, before.replace(from, to)).unwrap();
        let out = root.path().join("out");
        refused(&["assess", "--vehicle", text(&ship), "--out", text(&out)], &parts);
        assert!(!out.exists(), "{name}");
        assert_eq!(names(root.path()), ["ship"], "{name}");
    }
}

/// Every problem of the file at once: ten and the count, however long its cells.
#[test]
fn verif_all_problems_at_once() {
    let root = tempfile::tempdir().unwrap();
    let ship = vehicle(root.path());
    let rows: String = (0..500).map(|i| format!("X{i},{},-1\n", "m".repeat(300))).collect();
    fs::write(ship.join("tiles.csv"), format!("{TILES}{rows}")).unwrap();
    let message = refused(&["assess", "--vehicle", text(&ship)], &["row 5", "1000 problems"]);
    assert_eq!(message.lines().filter(|line| line.starts_with("error: ")).count(), 10);
    // Two files at once.
    fs::write(ship.join("tiles.csv"), TILES.replace("41", "x")).unwrap();
    fs::write(ship.join("stacks.json"), "{\"format\": \"tileglow-stacks/1\", \"stack\": []}").unwrap();
    refused(&["assess", "--vehicle", text(&ship)], &["stacks.json", "\"stack\""]);
}

/// A 32-bit NaN written over a coordinate of another program's GLB.
#[test]
fn verif_a_nan_in_a_glb() {
    let root = tempfile::tempdir().unwrap();
    let ship = root.path().join("ship");
    fs::create_dir(&ship).unwrap();
    let from = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/foreign/hemisphere_glb");
    fs::copy(from.join("tiles.csv"), ship.join("tiles.csv")).unwrap();
    let mut bytes = fs::read(from.join("vehicle.glb")).unwrap();
    let json = 20 + u32::from_le_bytes(bytes[12..16].try_into().unwrap()) as usize;
    let document: serde_json::Value = serde_json::from_slice(&bytes[20..json]).unwrap();
    let accessor = &document["accessors"][document["meshes"][0]["primitives"][0]["attributes"]["POSITION"].as_u64().unwrap() as usize];
    let view = &document["bufferViews"][accessor["bufferView"].as_u64().unwrap() as usize];
    let at = json + 8 + (view["byteOffset"].as_u64().unwrap_or(0) + accessor["byteOffset"].as_u64().unwrap_or(0)) as usize;
    bytes[at..at + 4].copy_from_slice(&f32::NAN.to_le_bytes());
    fs::write(ship.join("vehicle.glb"), bytes).unwrap();
    refused(&["assess", "--vehicle", text(&ship)], &["vehicle.glb"]);
}

#[test]
fn verif_broken_scenarios_through_the_command() {
    let root = tempfile::tempdir().unwrap();
    let ship = vehicle(root.path());
    let path = root.path().join("s.json");
    let own = ["assess", "--vehicle", text(&ship), "--scenario", text(&path)];
    let none = ["assess", "--scenario", text(&path)];
    for (document, arguments, parts) in [
        (r#"{"format": "tileglow-scenario/1", "heatin": {}}"#, &own[..], vec!["s.json", "\"heatin\"", "heating"]),
        (r#"{"format": "tileglow-scenario/1", "heating": {"scal": 2}}"#, &own, vec!["heating.scal", "scale"]),
        (r#"{"format": "tileglow-scenario/2"}"#, &own, vec!["\"tileglow-scenario/2\"", "tileglow-scenario/1"]),
        (r#"{"heating": {}}"#, &own, vec!["format", "tileglow-scenario/1"]),
        (r#"{"format": "tileglow-scenario/1", "heating": {"scale": 1, "scale": 2}}"#, &own, vec!["heating.scale", "twice"]),
        (r#"{"format": "tileglow-scenario/1", "heating": {"scale": NaN}}"#, &own, vec!["s.json", "not valid JSON"]),
        (r#"{"format": "tileglow-scenario/1", "heating": {"scale": -1}}"#, &own, vec!["heating.scale", "-1"]),
        (r#"{"format": "tileglow-scenario/1", "entries": []}"#, &own, vec!["entries"]),
        (
            r#"{"format": "tileglow-scenario/1", "changes": [{"tiles": ["T8"], "set": {"emissivity": 0.8}}]}"#,
            &own,
            vec!["changes[0].tiles[0]", "\"T8\""],
        ),
        (
            r#"{"format": "tileglow-scenario/1", "findings": [{"finding": "f1", "tile": "T8", "kind": "chip"}]}"#,
            &own,
            vec!["findings[0]", "T8"],
        ),
        (
            r#"{"format": "tileglow-scenario/1", "policy": {"terms": [{"name": "emissivity", "fraction": 1}]}}"#,
            &own,
            vec!["policy.terms[0].fraction"],
        ),
        (r#"{"format": "tileglow-scenario/1", "vehicle": {"name": "Ouzel"}}"#, &none, vec!["\"Ouzel\"", "--vehicle", "Whinchat"]),
        (r#"["#, &none, vec!["s.json", "not valid JSON"]),
    ] {
        fs::write(&path, document).unwrap();
        let out = root.path().join("out");
        refused(&[arguments, &["--out", text(&out)]].concat(), &parts);
        assert!(!out.exists(), "{document}");
    }
    // A name is a label where the vehicle is given.
    fs::write(&path, r#"{"format": "tileglow-scenario/1", "vehicle": {"name": "Ouzel"}}"#).unwrap();
    good(&own);
}

#[test]
fn verif_another_digest_is_a_counted_warning() {
    let root = tempfile::tempdir().unwrap();
    let (path, out) = (root.path().join("s.json"), root.path().join("out"));
    let digest = "0123456789abcdef".repeat(4);
    fs::write(&path, format!(r#"{{"format": "tileglow-scenario/1", "vehicle": {{"digest": "{digest}"}}}}"#)).unwrap();
    let told = good(&["assess", "--scenario", text(&path), "--out", text(&out)]);
    let message = String::from_utf8(told.stderr).unwrap();
    assert!(message.starts_with("warning 1 of 1: ") && message.contains(&digest), "{message}");
    let summary: serde_json::Value = serde_json::from_str(&read(&out.join("summary.json"))).unwrap();
    assert!(summary["warnings"][0].as_str().unwrap().contains(&digest));
}

#[test]
fn verif_refused_command_lines() {
    let root = tempfile::tempdir().unwrap();
    let ship = vehicle(root.path());
    let (ship, here) = (text(&ship), text(root.path()));
    let table = format!("{ship}/tiles.csv");
    let missing = format!("{here}/absent");
    for (arguments, parts) in [
        (vec!["assess", "--out", "a", "--out", "b"], vec!["\"--out\"", "twice"]),
        (vec!["assess", "--vehicle", "a", "--vehicle", "b"], vec!["\"--vehicle\"", "twice"]),
        (vec!["assess", "--vehicel", "a"], vec!["\"--vehicel\""]),
        (vec!["assess", "extra"], vec!["\"extra\""]),
        (vec!["assess", "--vehicle"], vec!["--vehicle"]),
        (vec!["assess", "--vehicle", &missing], vec!["absent"]),
        (vec!["assess", "--scenario", &missing], vec!["absent"]),
        (vec!["assess", "--scenario", ship], vec!["ship", "folder"]),
        (vec!["assess", "--vehicle", here], vec!["vehicle.glb"]),
        (vec!["assess", "--out", ship], vec!["ship", "no earlier run"]),
        (vec!["assess", "--out", &table], vec!["tiles.csv"]),
        (vec!["assess", "--vehicle", &table], vec!["tiles.csv"]),
        (vec!["demo"], vec!["missing"]),
        (vec!["demo", ship], vec!["ship", "no earlier run"]),
        (vec!["demo", &table], vec!["tiles.csv"]),
        (vec!["demo", "a", "b"], vec!["\"b\""]),
        (vec!["size", "--vehicle", &missing], vec!["absent"]),
        // A build without the feature names it; one with it needs a folder.
        (
            vec!["assess", "--histories"],
            if cfg!(feature = "parquet") { vec!["--histories", "--out"] } else { vec!["--histories", "\"parquet\"", "feature"] },
        ),
    ] {
        refused(&arguments, &parts);
    }
    assert_eq!(names(Path::new(ship)), ["tiles.csv", "vehicle.obj"]);
}
