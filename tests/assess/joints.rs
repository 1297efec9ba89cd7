//! Open gaps between tiles, from outside: a finding heats the tile behind it, by the stated relation or by a user's table.

use super::size::plate;
use super::support::*;
use std::fs;
use std::path::Path;

/// tiles.csv and summary.json of the plate with changes laid over its scenario.
fn assessed(folder: &Path, name: &str, changes: &[(&str, serde_json::Value)]) -> (Table, serde_json::Value) {
    let (ship, scenario) = plate(folder, &serde_json::json!({}), 0.0);
    let mut document: serde_json::Value = serde_json::from_str(&read(&scenario)).unwrap();
    for (key, value) in changes {
        document[*key] = value.clone();
    }
    fs::write(&scenario, document.to_string()).unwrap();
    let out = folder.join(name);
    good(&["assess", "--vehicle", text(&ship), "--scenario", text(&scenario), "--out", text(&out)]);
    (Table::of(&read(&out.join("tiles.csv"))), serde_json::from_str(&read(&out.join("summary.json"))).unwrap())
}

fn gap(finding: &str, tiles: [&str; 2], gap_mm: f64) -> serde_json::Value {
    serde_json::json!({"finding": finding, "tile": tiles[0], "tile_2": tiles[1], "kind": "gap", "gap_mm": gap_mm, "found_on": "2031-05-02",
        "flight": 3})
}

/// 3 mm beside 149 mm of a face of 149 mm square: 0.56 x 0.003 / 0.149 = 1.13 % more, on the tile behind alone, whichever is named first.
#[test]
fn verif_a_gap_heats_the_tile_behind_it() {
    let root = tempfile::tempdir().unwrap();
    let (plain, _) = assessed(root.path(), "plain", &[]);
    let (wide, _) = assessed(root.path(), "wide", &[("findings", serde_json::json!([gap("F1", ["P06", "P05"], 3.0)]))]);
    // Found again on the same joint, narrower: it counts once, the wider.
    let both = serde_json::json!([gap("F1", ["P06", "P05"], 3.0), gap("F2", ["P05", "P06"], 1.6)]);
    let (again, _) = assessed(root.path(), "again", &[("findings", both)]);
    let steps = serde_json::json!({"gap_over_layer": [0, 1], "laminar": [1.5, 1.5], "turbulent": [1.5, 1.5], "source": "tunnel 7"});
    let (own, summary) = assessed(
        root.path(),
        "own",
        &[("findings", serde_json::json!([gap("F1", ["P06", "P05"], 3.0)])), ("heating", serde_json::json!({"gaps": steps}))],
    );
    assert!(summary["models"].to_string().contains("open gaps: the scenario's own table in place of the relation (tunnel 7)"));
    let heated = ["peak_surface_k", "heat_load_j_m2"];
    for (((plain, wide), again), own) in plain.rows.iter().zip(&wide.rows).zip(&again.rows).zip(&own.rows) {
        if plain["tile"] != "P06" {
            assert!(heated.iter().all(|column| plain[*column] == wide[*column] && plain[*column] == own[*column]), "{}", plain["tile"]);
            continue;
        }
        let of = |row: &std::collections::BTreeMap<String, String>, column: &str| number(row, column) / number(plain, column);
        println!("gap: heat load {:.4} times, with the table {:.3} times", of(wide, "heat_load_j_m2"), of(own, "heat_load_j_m2"));
        // A hotter wall takes in a little less than the factor.
        assert!((1.008..1.0113).contains(&of(wide, "heat_load_j_m2")), "{}", of(wide, "heat_load_j_m2"));
        assert!(of(wide, "peak_surface_k") > 1.001 && number(wide, "peak_structure_k") > number(plain, "peak_structure_k"));
        assert!(heated.iter().all(|column| wide[*column] == again[*column]));
        assert!((1.35..1.5).contains(&of(own, "heat_load_j_m2")));
    }
}
