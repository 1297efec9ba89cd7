//! What a single file that is no vehicle's is: an entry, a trajectory flown elsewhere, or an atmosphere.

use crate::air::Atmosphere;
use crate::document::Error;
use crate::flight::{Course, air_table, entry, import, trajectory};

/// What a file holds, with its warnings.
#[derive(Debug, Clone, PartialEq)]
#[allow(clippy::large_enum_variant)] // One at a time.
pub enum Dropped {
    /// One more entry of the set; its name is the file's without the ending.
    Entry { name: String, course: Course, warnings: Vec<String> },
    /// The atmosphere of the entry shown.
    Air { atmosphere: Atmosphere, warnings: Vec<String> },
}

/// Files of a vehicle, which are never taken for a trajectory.
const OF_A_VEHICLE: [&str; 4] = ["tiles.csv", "findings.csv", "body_points.csv", "flight_data.csv"];

/// Reads the file; `None` where its name and its beginning say that it is something else.
///
/// # Errors
/// Every problem of the file, with row and column.
pub fn read(file: &str, bytes: &[u8]) -> Option<Result<Dropped, Error>> {
    let base = file.rsplit('/').next().unwrap_or(file);
    let (stem, ending) = base.rsplit_once('.')?;
    let start = String::from_utf8_lossy(bytes.get(..bytes.len().min(2000)).unwrap_or(bytes));
    match ending.to_ascii_lowercase().as_str() {
        "csv" if !OF_A_VEHICLE.contains(&base) => {
            let header = start.lines().next().unwrap_or_default();
            if air_table::is_one(header) {
                return Some(air_table::read_csv(file, bytes).map(|(atmosphere, warnings)| Dropped::Air { atmosphere, warnings }));
            }
            // A table of thermocouples of a coupon has a time but no altitude.
            if !["altitude", "speed", "angle_of_attack"].iter().any(|stem| header.contains(stem)) {
                return None;
            }
            let read = import::read_csv(file, bytes);
            Some(read.map(|(path, warnings)| Dropped::Entry { name: stem.to_string(), course: Course::Imported(path), warnings }))
        }
        "json" if start.contains(entry::FORMAT) || start.contains(trajectory::FORMAT) => {
            // A scenario holds entries too; its own format stands first.
            if start.contains(crate::scenario::FORMAT) {
                return None;
            }
            let read = String::from_utf8(bytes.to_vec())
                .map_err(|error| Error::bad(format!("{file} is not UTF-8 text: {error}"), "UTF-8"))
                .and_then(|text| Course::parse(file, &text));
            Some(read.map(|course| Dropped::Entry { name: stem.to_string(), course, warnings: Vec::new() }))
        }
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_files_are_told_apart() {
        let path = "speed_ft_s,angle_of_attack_deg,time_s,altitude_ft\n24000,40,0,250000\n23990,40,1,249900\n";
        match read("day/Flight 7.csv", path.as_bytes()).unwrap().unwrap() {
            Dropped::Entry { name, course: Course::Imported(path), warnings } => {
                assert_eq!((name.as_str(), path.samples.len(), warnings.len()), ("Flight 7", 2, 1));
            }
            other => panic!("{other:?}"),
        }
        let air = "altitude_m,temperature_k,pressure_pa\n0,300,1e5\n";
        assert!(matches!(read("air.csv", air.as_bytes()), Some(Ok(Dropped::Air { .. }))));
        let json = Course::parse(
            "t",
            r#"{"format":"tileglow-trajectory/1","time_s":[0],"altitude_m":[1],"speed_m_s":[1],"angle_of_attack_deg":[1]}"#,
        )
        .unwrap();
        assert!(matches!(read("t.json", json.to_json().pretty().as_bytes()), Some(Ok(Dropped::Entry { .. }))));
        assert!(read("t.json", br#"{"format":"tileglow-trajectory/1","time_s":[1]}"#).unwrap().is_err());
        for (name, text) in [
            ("tiles.csv", "tile,material,thickness_mm\n"),
            ("traces.csv", "time_s,surface_k\n0,300\n"),
            ("scenario.json", "{\"format\":\"tileglow-scenario/1\",\"entries\":[{\"entry\":{\"format\":\"tileglow-entry/1\"}}]}"),
            ("vehicle.glb", "glTF"),
            ("noending", "time_s"),
        ] {
            assert!(read(name, text.as_bytes()).is_none(), "{name}");
        }
        // A column of another kind than its name says is the reader's to refuse, with its place.
        let message =
            read("back.csv", b"time_s,altitude_m,speed_m_s,angle_of_attack_deg\n5,1,1,1\n4,1,1,1\n").unwrap().unwrap_err().to_string();
        assert!(message.contains("row 3") && message.contains("time_s"), "{message}");
    }
}
