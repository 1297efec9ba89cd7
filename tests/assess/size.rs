//! `size` and `assess --histories` through the built command, on a small plate that this file writes.

use super::support::*;
use std::fmt::Write;
use std::fs;
use std::path::{Path, PathBuf};

/// Twelve windward tiles of 15 cm in two zones, from 40 mm on `each_mm` thicker one by one, and a scenario of twenty minutes.
pub fn plate(folder: &Path, sizing: &serde_json::Value, each_mm: f64) -> (PathBuf, PathBuf) {
    let ship = folder.join("plate");
    fs::create_dir_all(&ship).unwrap();
    let (mut obj, mut table) = (String::new(), String::from("tile,zone,material,thickness_mm,heating_factor\n"));
    for tile in 0..12 {
        let (x, y) = (1.0 + 0.15 * f64::from(tile % 4), 0.15 * f64::from(tile / 4) - 0.225);
        writeln!(obj, "g P{tile:02}").unwrap();
        for (dx, dy) in [(0.0, 0.0), (0.0, 0.149), (0.149, 0.149), (0.149, 0.0)] {
            writeln!(obj, "v {:.4} {:.4} 0", x + dx, y + dy).unwrap();
        }
        let first = 4 * tile + 1;
        writeln!(obj, "f {first} {} {} {}", first + 1, first + 2, first + 3).unwrap();
        writeln!(table, "P{tile:02},{},LI-900,{},0.4", if tile % 4 < 2 { "fore" } else { "aft" }, 40.0 + each_mm * f64::from(tile))
            .unwrap();
    }
    fs::write(ship.join("vehicle.obj"), obj).unwrap();
    fs::write(ship.join("tiles.csv"), table).unwrap();
    let scenario = serde_json::json!({"format": "tileglow-scenario/1", "sizing": sizing, "entries": [{"name": "glide", "entry":
        {"format": "tileglow-trajectory/1", "nose_radius_m": 1, "time_s": [0, 100, 300, 600, 900, 1100, 1200],
        "altitude_m": [100000, 78000, 75000, 72000, 65000, 55000, 40000], "speed_m_s": [7800, 7600, 7200, 6400, 4800, 3000, 1200],
        "angle_of_attack_deg": [40, 40, 40, 40, 38, 30, 20]}}]});
    let path = folder.join("scenario.json");
    fs::write(&path, scenario.to_string()).unwrap();
    (ship, path)
}

/// What `size` asks for, put into the table and assessed, keeps its margin: the whole loop from outside.
#[test]
fn verif_a_sized_plate_keeps_its_margin_when_assessed() {
    let root = tempfile::tempdir().unwrap();
    let (ship, scenario) = plate(root.path(), &serde_json::json!({"margin_k": 15, "step_mm": 0.5}), 0.5);
    let out = root.path().join("sized");
    good(&["size", "--vehicle", text(&ship), "--scenario", text(&scenario), "--out", text(&out)]);
    let table = read(&out.join("tiles.csv"));
    assert!(table.lines().next().unwrap().ends_with("decision_reason,required_thickness_mm,added_mass_kg"));
    let rows = Table::of(&table).rows;
    let mut sized = String::from("tile,zone,material,thickness_mm,heating_factor\n");
    for row in &rows {
        let required = number(row, "required_thickness_mm");
        assert!((2.0 * required - (2.0 * required).round()).abs() < 1e-6, "{row:?}");
        let added = (required - number(row, "thickness_mm")) / 1000.0 * number(row, "mass_kg") / (number(row, "thickness_mm") / 1000.0);
        assert!((number(row, "added_mass_kg") - added).abs() < 1e-5, "{row:?}");
        writeln!(sized, "{},{},{},{required},0.4", row["tile"], row["zone"], row["material"]).unwrap();
    }
    let summary: serde_json::Value = serde_json::from_str(&read(&out.join("summary.json"))).unwrap();
    let by_zone = |key: &str| summary["sizing"]["zones"].as_object().unwrap().values().map(|zone| zone[key].as_f64().unwrap()).sum::<f64>();
    for (key, want) in [("area_m2", 12.0 * 0.149 * 0.149), ("added_mass_kg", rows.iter().map(|row| number(row, "added_mass_kg")).sum())] {
        assert!((by_zone(key) - want).abs() < 1e-4, "{key}");
        assert!((summary["sizing"]["whole"][key].as_f64().unwrap() - want).abs() < 1e-4, "{key}");
    }
    assert_eq!(summary["sizing"]["zones"]["fore"]["tiles"], 6);
    fs::write(ship.join("tiles.csv"), sized).unwrap();
    let again = root.path().join("again");
    good(&["assess", "--vehicle", text(&ship), "--scenario", text(&scenario), "--out", text(&again)]);
    for row in &Table::of(&read(&again.join("tiles.csv"))).rows {
        let margin = number(row, "margin_bondline_k").min(number(row, "margin_structure_k"));
        // All tiles near one thickness bring each other nothing: what is left is the margin asked, at most a step of some 2 K, and the
        // little that thinner neighbours brought to the thick ones before.
        assert!((14.9..22.0).contains(&margin), "{margin} {row:?}");
    }
}

/// Told readably; what cannot be kept is named; a thickness never helps a surface.
#[test]
fn verif_what_cannot_be_sized_is_named() {
    let root = tempfile::tempdir().unwrap();
    let (ship, scenario) = plate(root.path(), &serde_json::json!({"margin_k": 15, "minimum_mm": 8, "maximum_mm": 12}), 0.5);
    let told = good(&["size", "--vehicle", text(&ship), "--scenario", text(&scenario)]);
    let (page, warned) = (String::from_utf8(told.stdout).unwrap(), String::from_utf8(told.stderr).unwrap());
    assert!(page.contains("12 tiles do not keep 15 K") && page.contains("fore") && page.contains("whole shield"), "{page}");
    assert!(warned.contains("12 tiles do not keep 15 K") && warned.contains("P00, P01") && warned.contains("and 2 more"), "{warned}");
    let (ship, scenario) = plate(root.path(), &serde_json::json!({"margin_k": 400, "maximum_mm": 12}), 0.5);
    let told = good(&["size", "--vehicle", text(&ship), "--scenario", text(&scenario)]);
    assert!(String::from_utf8(told.stderr).unwrap().contains("on the surface, which thickness does not help"));
}

/// Read back by the format's own library: a row a step of every tile, in the order of the table, with the peaks of tiles.csv.
#[cfg(feature = "parquet")]
#[test]
fn verif_histories_hold_every_tile() {
    use parquet::file::reader::{FileReader, SerializedFileReader};
    use parquet::record::RowAccessor;
    let root = tempfile::tempdir().unwrap();
    let (ship, scenario) = plate(root.path(), &serde_json::json!({}), 0.0);
    // One tile stands on nothing.
    let table = read(&ship.join("tiles.csv")).replace("heating_factor\n", "heating_factor,stack\n").replace(",0.4\n", ",0.4,default\n");
    fs::write(ship.join("tiles.csv"), table.replacen("0.4,default", "0.4,none", 1)).unwrap();
    let out = root.path().join("out");
    good(&["assess", "--vehicle", text(&ship), "--scenario", text(&scenario), "--histories", "--out", text(&out)]);
    let reader = SerializedFileReader::new(fs::File::open(out.join("histories.parquet")).unwrap()).unwrap();
    let columns: Vec<String> = reader.metadata().file_metadata().schema_descr().columns().iter().map(|c| c.name().to_string()).collect();
    assert_eq!(columns, ["entry", "tile", "time_s", "surface_k", "bondline_k", "structure_k"]);
    let rows: Vec<_> = reader.get_row_iter(None).unwrap().map(Result::unwrap).collect();
    let mut order: Vec<String> = rows.iter().map(|row| row.get_string(1).unwrap().clone()).collect();
    order.dedup();
    let results = Table::of(&read(&out.join("tiles.csv"))).rows;
    assert_eq!(order, results.iter().map(|row| row["tile"].clone()).collect::<Vec<_>>());
    for result in &results {
        let own: Vec<_> = rows.iter().filter(|row| *row.get_string(1).unwrap() == result["tile"]).collect();
        assert!(own.len() > 5 && own.windows(2).all(|pair| pair[0].get_double(2).unwrap() < pair[1].get_double(2).unwrap()));
        assert!(own.iter().all(|row| row.get_string(0).unwrap() == "glide"));
        if result["tile"] == "P00" {
            assert!(own.iter().all(|row| row.get_double(4).is_err() && row.get_double(5).is_err()));
            continue;
        }
        // Peaks are extrapolated from two resolutions; alike tiles bring each other next to nothing.
        let hottest = |column: usize| own.iter().map(|row| row.get_double(column).unwrap()).fold(0.0, f64::max);
        assert!((hottest(4) - number(result, "peak_bondline_k")).abs() < 2.0, "{result:?} {}", hottest(4));
        let face = hottest(3);
        assert!(face < number(result, "peak_surface_k") && face > number(result, "peak_surface_k") - 40.0, "{result:?} {face}");
    }
    let before = fs::read(out.join("histories.parquet")).unwrap();
    good(&["assess", "--vehicle", text(&ship), "--scenario", text(&scenario), "--histories", "--out", text(&out)]);
    assert!(fs::read(out.join("histories.parquet")).unwrap() == before, "the same bytes");
}
