//! What the tests of `assess` share: running the command, reading its tables, vehicles to feed it.

use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

pub fn tileglow(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_tileglow")).args(arguments).output().unwrap()
}

pub fn good(arguments: &[&str]) -> Output {
    let output = tileglow(arguments);
    assert_eq!(output.status.code(), Some(0), "{arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
    output
}

/// Bad input, told as it should be; returns the message.
pub fn refused(arguments: &[&str], parts: &[&str]) -> String {
    let output = tileglow(arguments);
    let message = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(2), "{arguments:?}: {message}");
    assert!(output.stdout.is_empty(), "{arguments:?}");
    assert!(message.starts_with("error: "), "{arguments:?}: {message}");
    assert!(message.chars().count() <= 4000, "{arguments:?}: {} characters", message.chars().count());
    for part in parts {
        assert!(message.contains(part), "{arguments:?}: {part:?} is not in {message}");
    }
    message
}

pub fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

pub fn read(path: &Path) -> String {
    fs::read_to_string(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// Names in a folder, hidden ones aside, sorted.
pub fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(folder).unwrap().map(|item| item.unwrap().file_name().into_string().unwrap()).collect();
    names.retain(|name| !name.starts_with('.'));
    names.sort();
    names
}

pub fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Compact, keys sorted bytewise, whole numbers without a point: written here apart from the product's own.
pub fn canonical(value: &serde_json::Value) -> String {
    use serde_json::Value;
    match value {
        Value::Object(map) => {
            let mut keys: Vec<&String> = map.keys().collect();
            keys.sort();
            let fields: Vec<String> =
                keys.iter().map(|key| format!("{}:{}", Value::from(key.as_str()), canonical(&map[key.as_str()]))).collect();
            format!("{{{}}}", fields.join(","))
        }
        Value::Array(items) => format!("[{}]", items.iter().map(canonical).collect::<Vec<_>>().join(",")),
        other => other.to_string(),
    }
}

/// A table without quoted commas, cells by column.
pub struct Table {
    pub rows: Vec<BTreeMap<String, String>>,
}

impl Table {
    pub fn of(text: &str) -> Table {
        let mut reader = csv::Reader::from_reader(text.as_bytes());
        let header: Vec<String> = reader.headers().unwrap().iter().map(str::to_string).collect();
        let rows = reader.records().map(|row| header.iter().cloned().zip(row.unwrap().iter().map(str::to_string)).collect());
        Table { rows: rows.collect() }
    }

    pub fn column(&self, name: &str) -> Vec<String> {
        self.rows.iter().map(|row| row[name].clone()).collect()
    }
}

pub fn number(row: &BTreeMap<String, String>, name: &str) -> f64 {
    row[name].parse().unwrap_or_else(|_| panic!("{name} {:?} of {}", row[name], row["tile"]))
}

/// The demonstration's files in the order of the vehicle table.
pub fn demo_bytes() -> Vec<(String, Vec<u8>)> {
    tileglow::shield::demo::files().into_iter().map(|file| (file.name, file.bytes)).collect()
}

/// Its tables as text.
pub fn demo_files() -> BTreeMap<String, String> {
    demo_bytes().into_iter().filter_map(|(name, bytes)| Some((name, String::from_utf8(bytes).ok()?))).collect()
}

/// The emissivity of the default coating at a temperature, from the library's own table.
pub fn emissivity(kelvin: f64) -> f64 {
    let library = tileglow::material::Library::built_in();
    let coating = &library.materials[library.find("rcg").unwrap()];
    coating.emissivity.as_ref().unwrap().value_at(kelvin)
}

pub fn zipped(folder: &Path, path: &Path) {
    let mut zip = zip::ZipWriter::new(fs::File::create(path).unwrap());
    for name in names(folder) {
        zip.start_file(format!("ship/{name}"), zip::write::SimpleFileOptions::default()).unwrap();
        zip.write_all(&fs::read(folder.join(&name)).unwrap()).unwrap();
    }
    zip.finish().unwrap();
}

/// A scenario that holds one flight point for a minute, at no angle of attack.
pub fn steady_scenario(folder: &Path, altitude_m: f64, speed_m_s: f64) -> PathBuf {
    let path = folder.join("steady.json");
    let scenario = serde_json::json!({"format": "tileglow-scenario/1", "vehicle": {"name": "hemisphere"}, "entries": [{"name": "steady",
        "entry": {"format": "tileglow-trajectory/1", "nose_radius_m": 1, "time_s": [0, 20, 40, 60],
            "altitude_m": vec![altitude_m; 4], "speed_m_s": vec![speed_m_s; 4], "angle_of_attack_deg": [0, 0, 0, 0]}}]});
    fs::write(&path, scenario.to_string()).unwrap();
    path
}
