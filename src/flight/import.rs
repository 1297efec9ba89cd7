//! A trajectory flown elsewhere: read from CSV or JSON, missing columns computed where they can be.

use super::reference::sutton_graves;
use super::trajectory::{COLUMNS, FORMAT};
use super::{Sample, Trajectory};
use crate::air::Atmosphere;
use crate::air::atmosphere::HIGHEST_M;
use crate::document::csv::CsvTable;
use crate::document::json::Range;
use crate::document::{Error, Json, Object, Problems};
use crate::flight::entry::ROWS_AT_MOST;
use crate::units::{Kind, Unit, column_unit};

/// Nose radius of a trajectory that does not carry one (a CSV cannot), m: the default of `spot`.
pub const DEFAULT_NOSE_RADIUS_M: f64 = 1.0;

/// Stem, SI suffix, kind and range of each result column.
struct Column {
    stem: &'static str,
    kind: Kind,
    range: Range,
}

const fn column(stem: &'static str, kind: Kind, range: Range) -> Column {
    Column { stem, kind, range }
}

/// In the order of [`COLUMNS`]; `Plain` columns have no other unit.
const KNOWN: [Column; 15] = [
    column("time", Kind::Time, Range::ANY),
    column("altitude", Kind::Length, Range::between(0.0, HIGHEST_M)),
    column("speed", Kind::Speed, Range::between(0.0, 20_000.0)),
    column("flight_path", Kind::Angle, Range::between(-90.0, 90.0)),
    column("heading", Kind::Angle, Range::between(0.0, 360.0)),
    column("latitude", Kind::Angle, Range::between(-90.0, 90.0)),
    column("longitude", Kind::Angle, Range::between(-180.0, 180.0)),
    column("angle_of_attack", Kind::Angle, Range::between(-180.0, 180.0)),
    column("bank", Kind::Angle, Range::between(-360.0, 360.0)),
    column("mach", Kind::Plain, Range::NOT_NEGATIVE),
    column("dynamic_pressure", Kind::Pressure, Range::NOT_NEGATIVE),
    column("density", Kind::Plain, Range::NOT_NEGATIVE),
    column("load_factor", Kind::Plain, Range::NOT_NEGATIVE),
    column("reference_heating", Kind::HeatFlux, Range::NOT_NEGATIVE),
    column("heat_load", Kind::Plain, Range::NOT_NEGATIVE),
];
const TIME: usize = 0;
const ALTITUDE: usize = 1;
const SPEED: usize = 2;
const FLIGHT_PATH: usize = 3;
const ANGLE_OF_ATTACK: usize = 7;
const REQUIRED: [usize; 4] = [TIME, ALTITUDE, SPEED, ANGLE_OF_ATTACK];

/// Which result column a header names, and in which unit.
fn recognise(header: &str) -> Option<(usize, Unit)> {
    let si = Unit { name: "", suffix: "", factor: 1.0, offset: 0.0 };
    if let Some(i) = COLUMNS.iter().position(|name| *name == header) {
        return Some((i, si));
    }
    KNOWN.iter().enumerate().find_map(|(i, known)| column_unit(header, known.stem, known.kind).map(|unit| (i, unit)))
}

fn accepted_headers() -> String {
    format!("{} (lengths, speeds, angles, times, pressures and heating also in another unit, such as altitude_ft)", COLUMNS.join(", "))
}

/// What was read, column by column, before anything is computed.
struct Raw {
    rows: usize,
    /// Values in SI, in the order of [`COLUMNS`]; `None` for an absent column.
    columns: [Option<Vec<Option<f64>>>; 15],
}

/// Where a value stands, for messages: CSV counts rows from the header, JSON indexes from 0.
enum Layout<'a> {
    Csv,
    Json { path: &'a str },
}

impl Layout<'_> {
    fn tell(&self, problems: &mut Problems, row: usize, header: &str, what: String, accepted: String) {
        match self {
            Layout::Csv => problems.at_cell(row + 2, header, what, accepted),
            Layout::Json { path: "" } => problems.at_key(format!("{header}[{row}]"), what, accepted),
            Layout::Json { path } => problems.at_key(format!("{path}.{header}[{row}]"), what, accepted),
        }
    }
}

/// Reads a CSV trajectory; also returns its warnings (unknown columns, the default nose radius).
pub fn read_csv(file: &str, bytes: &[u8]) -> Result<(Trajectory, Vec<String>), Error> {
    let table = CsvTable::read(file, bytes)?;
    let mut problems = Problems::of(file);
    let mut warnings = Vec::new();
    let mut raw = Raw { rows: table.rows.len(), columns: Default::default() };
    let mut headers: [&str; 15] = COLUMNS;
    for (at, header) in table.header.iter().enumerate() {
        let Some((i, unit)) = recognise(header) else {
            warnings.push(format!("unknown column {header:?} in {file} is not read; known: {}", accepted_headers()));
            continue;
        };
        if raw.columns[i].is_some() {
            problems.at_cell(1, header, format!("the column {header:?} stands beside {:?}", headers[i]), "each column in one unit");
            continue;
        }
        headers[i] = header;
        let mut values = Vec::with_capacity(table.rows.len());
        for (row, cells) in table.rows.iter().enumerate() {
            let cell = cells.get(at).map_or("", String::as_str);
            values.push(if cell.is_empty() { None } else { number(cell, unit, &KNOWN[i], row, header, &Layout::Csv, &mut problems) });
        }
        raw.columns[i] = Some(values);
    }
    check(&raw, &headers, &Layout::Csv, &mut problems);
    let raw = problems.or_ok(raw)?;
    warnings.push(format!("{file} carries no nose radius: the reference heating is for {DEFAULT_NOSE_RADIUS_M} m"));
    Ok((complete(raw, DEFAULT_NOSE_RADIUS_M), warnings))
}

fn number(cell: &str, unit: Unit, known: &Column, row: usize, header: &str, layout: &Layout, problems: &mut Problems) -> Option<f64> {
    let plain = !cell.contains(['n', 'N', 'i', 'I']);
    let value = cell.parse::<f64>().ok().filter(|value| plain && value.is_finite()).map(|value| value * unit.factor + unit.offset);
    match value {
        Some(value) if known.range.holds(value) => Some(value),
        _ => {
            let si = if unit.factor == 1.0 { "" } else { " (in SI)" };
            layout.tell(problems, row, header, format!("{cell:?} is out of range or no number"), format!("{}{si}", known.range));
            None
        }
    }
}

/// Reads a `tileglow-trajectory/1` node at `path`; `None` after any problem was told.
pub fn read_json(node: &Json, path: &str, problems: &mut Problems) -> Option<Trajectory> {
    let before = problems.list.len();
    let mut object = Object::open(node, path, problems)?;
    if !object.format(FORMAT, problems) {
        return None;
    }
    let nose_radius_m = object.number_or("nose_radius_m", Range::POSITIVE, DEFAULT_NOSE_RADIUS_M, problems);
    let Json::Object(fields) = node else { return None };
    let layout = Layout::Json { path };
    let mut raw = Raw { rows: 0, columns: Default::default() };
    let mut headers: [&str; 15] = COLUMNS;
    for (name, value) in fields.iter().filter(|(name, _)| name != "format" && name != "nose_radius_m") {
        let here = object.path_of(name);
        let Some((i, unit)) = recognise(name) else {
            problems.at_key(here, format!("unknown key {name:?}"), format!("format, nose_radius_m, {}", accepted_headers()));
            continue;
        };
        if raw.columns[i].is_some() {
            problems.at_key(here, format!("{name:?} stands beside {:?}", headers[i]), "each column in one unit");
            continue;
        }
        let Json::List(items) = value else {
            problems.at_key(here, format!("{} is no list", value.quoted()), "a list of numbers");
            continue;
        };
        if i == TIME {
            raw.rows = items.len();
        }
        headers[i] = name;
        let read = |(row, item): (usize, &Json)| match item {
            Json::Null => None,
            Json::Number(_) => number(&item.compact(), unit, &KNOWN[i], row, name, &layout, problems),
            other => {
                layout.tell(problems, row, name, format!("{} is no number", other.quoted()), "a number or null".to_string());
                None
            }
        };
        raw.columns[i] = Some(items.iter().enumerate().map(read).collect());
    }
    for (i, values) in raw.columns.iter().enumerate() {
        if let Some(values) = values
            && raw.columns[TIME].is_some()
            && values.len() != raw.rows
        {
            let what = format!("{} values where {} has {}", values.len(), headers[TIME], raw.rows);
            problems.at_key(object.path_of(headers[i]), what, "as many values as times");
        }
    }
    if problems.list.len() == before {
        check(&raw, &headers, &layout, problems);
    }
    (problems.list.len() == before).then(|| complete(raw, nose_radius_m))
}

/// The required columns are there and full, time strictly increases, rows are not too many.
fn check(raw: &Raw, headers: &[&str; 15], layout: &Layout, problems: &mut Problems) {
    let place = |name: &str| match layout {
        Layout::Json { path } if !path.is_empty() => format!("{path}.{name}"),
        _ => name.to_string(),
    };
    for i in REQUIRED {
        match &raw.columns[i] {
            None => problems.at_key(place(COLUMNS[i]), format!("the column {:?} is missing", COLUMNS[i]), "this column is required"),
            // Cells that are no number were told already; here only those that are empty remain.
            Some(values) if problems.is_empty() => {
                for (row, _) in values.iter().enumerate().filter(|(_, value)| value.is_none()) {
                    layout.tell(problems, row, headers[i], "the cell is empty".to_string(), KNOWN[i].range.to_string());
                }
            }
            Some(_) => {}
        }
    }
    if raw.columns[TIME].is_some() && raw.rows == 0 {
        problems.at_key(place(headers[TIME]), "the trajectory has no rows", "one row at least");
    }
    if raw.rows > ROWS_AT_MOST {
        problems.at_key(place(headers[TIME]), format!("{} rows", raw.rows), format!("at most {ROWS_AT_MOST} rows"));
    }
    if let Some(times) = &raw.columns[TIME] {
        let mut last: Option<f64> = None;
        for (row, time) in times.iter().enumerate() {
            let Some(time) = time else { continue };
            if let Some(last) = last.filter(|last| last >= time) {
                layout.tell(problems, row, headers[TIME], format!("{time} s follows {last} s"), "strictly increasing times".to_string());
            }
            last = Some(*time);
        }
    }
}

/// Fills in what is missing: air from the standard atmosphere at the altitude (a given density wins), Mach number, dynamic pressure,
/// Sutton-Graves heating; flight path from the altitudes' differences; heat load by the trapezoidal rule, as a whole where any cell
/// is missing. Heading, position, bank and load factor stay empty: they need what the rows do not tell.
fn complete(raw: Raw, nose_radius_m: f64) -> Trajectory {
    let cell = |column: usize, row: usize| raw.columns[column].as_ref().and_then(|values| values.get(row).copied().flatten());
    let given = |column: usize, row: usize| cell(column, row).unwrap_or(0.0);
    let mut samples: Vec<Sample> = Vec::with_capacity(raw.rows);
    let loads_given = raw.columns[14].as_ref().is_some_and(|values| values.iter().all(Option::is_some));
    for row in 0..raw.rows {
        let (time_s, altitude_m, speed_m_s) = (given(TIME, row), given(ALTITUDE, row), given(SPEED, row));
        let air = Atmosphere::Standard1976.at(altitude_m);
        let density_kg_m3 = cell(11, row).unwrap_or(air.density_kg_m3);
        let heating = cell(13, row).unwrap_or_else(|| sutton_graves(density_kg_m3, nose_radius_m, speed_m_s));
        let heat_load = if loads_given {
            given(14, row)
        } else {
            samples.last().map_or(0.0, |last| last.heat_load_j_m2 + 0.5 * (last.reference_heating_w_m2 + heating) * (time_s - last.time_s))
        };
        let slope = || {
            let (low, high) = (row.saturating_sub(1), (row + 1).min(raw.rows.saturating_sub(1)));
            let span = given(TIME, high) - given(TIME, low);
            if span <= 0.0 || speed_m_s <= 0.0 {
                return None;
            }
            let rate = (given(ALTITUDE, high) - given(ALTITUDE, low)) / span;
            Some(libm::asin((rate / speed_m_s).clamp(-1.0, 1.0)) * 180.0 / std::f64::consts::PI)
        };
        samples.push(Sample {
            time_s,
            altitude_m,
            speed_m_s,
            flight_path_deg: cell(FLIGHT_PATH, row).or_else(slope),
            heading_deg: cell(4, row),
            latitude_deg: cell(5, row),
            longitude_deg: cell(6, row),
            angle_of_attack_deg: given(ANGLE_OF_ATTACK, row),
            bank_deg: cell(8, row),
            sideslip_deg: 0.0,
            mach: cell(9, row).or(air.sound_speed_m_s.map(|sound| speed_m_s / sound)),
            dynamic_pressure_pa: cell(10, row).unwrap_or(0.5 * density_kg_m3 * speed_m_s * speed_m_s),
            density_kg_m3,
            temperature_k: air.temperature_k,
            pressure_pa: air.pressure_pa,
            load_factor_g: cell(12, row),
            reference_heating_w_m2: heating,
            heat_load_j_m2: heat_load,
        });
    }
    Trajectory { nose_radius_m, samples }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn verif_units_in_headers_and_missing_columns() {
        let text = "time_s,altitude_ft,speed_ft_s,angle_of_attack_rad,note\r\n0,400000,25000,0.5,x\r\n10,390000,25000,0.5,y\r\n";
        let (path, warnings) = read_csv("t.csv", text.as_bytes()).unwrap();
        let first = path.samples[0];
        assert!((first.altitude_m - 121920.0).abs() < 1e-9 && (first.speed_m_s - 7620.0).abs() < 1e-9);
        assert!((first.angle_of_attack_deg - 28.64788975654116).abs() < 1e-9);
        assert!((first.reference_heating_w_m2 / 10286.4 - 1.0).abs() < 0.003);
        assert!(first.flight_path_deg.unwrap() < -2.0 && first.load_factor_g.is_none() && first.bank_deg.is_none());
        assert!(path.samples[1].heat_load_j_m2 > 1e5);
        assert!(warnings[0].contains("\"note\""), "{warnings:?}");
    }

    /// Every unit of FORMATS.md in the header of every column that has one, in either letter case, columns in any order: the same flight.
    #[test]
    fn verif_every_unit_and_order() {
        let si = [
            ("time", Kind::Time, [0.0, 120.0]),
            ("altitude", Kind::Length, [80_000.0, 79_000.0]),
            ("speed", Kind::Speed, [7000.0, 6990.0]),
            ("angle_of_attack", Kind::Angle, [40.0, 39.0]),
            ("dynamic_pressure", Kind::Pressure, [450.0, 500.0]),
            ("reference_heating", Kind::HeatFlux, [3e5, 3.1e5]),
            ("bank", Kind::Angle, [-50.0, 50.0]),
        ];
        let mut looked = 0;
        for (varied, (stem, kind, _)) in si.iter().enumerate() {
            for unit in kind.units() {
                for suffix in [unit.suffix.to_string(), unit.suffix.to_uppercase()] {
                    let mut columns: Vec<[String; 3]> = Vec::new();
                    for (i, (name, kind, values)) in si.iter().enumerate() {
                        let own = if i == varied { *unit } else { kind.units()[0] };
                        let suffix = if i == varied { suffix.as_str() } else { own.suffix };
                        let cell = |value: f64| format!("{}", (value - own.offset) / own.factor);
                        columns.push([format!("{name}_{suffix}"), cell(values[0]), cell(values[1])]);
                    }
                    columns.rotate_left(looked % si.len());
                    let row = |i: usize| columns.iter().map(|column| column[i].as_str()).collect::<Vec<_>>().join(",");
                    let text = format!("{}\n{}\n{}\n", row(0), row(1), row(2));
                    let (path, warnings) = read_csv("t.csv", text.as_bytes()).map_err(|error| format!("{stem}: {error}")).unwrap();
                    assert_eq!(warnings.len(), 1, "{warnings:?}");
                    for (i, sample) in path.samples.iter().enumerate() {
                        let found = [
                            sample.time_s,
                            sample.altitude_m,
                            sample.speed_m_s,
                            sample.angle_of_attack_deg,
                            sample.dynamic_pressure_pa,
                            sample.reference_heating_w_m2,
                            sample.bank_deg.unwrap(),
                        ];
                        for (found, (name, _, values)) in found.iter().zip(&si) {
                            assert!((found - values[i]).abs() <= 1e-12 * values[i].abs(), "{stem}_{suffix}, {name}: {found}");
                        }
                    }
                    looked += 1;
                }
            }
        }
        assert!(looked >= 2 * (3 + 7 + 5 + 2 + 4 + 4 + 2), "{looked}");
    }

    #[test]
    fn verif_csv_and_json_give_the_same_back() {
        let text = "time_s,altitude_m,speed_m_s,angle_of_attack_deg,bank_deg\n0,80000,7000,40,\n5,79000,6990,40,12.5\n";
        let (path, _) = read_csv("t.csv", text.as_bytes()).unwrap();
        let (again, _) = read_csv("t.csv", path.to_csv().as_bytes()).unwrap();
        assert_eq!(again.to_csv(), path.to_csv());
        let mut problems = Problems::of("t.json");
        let json = Json::parse("t.json", &path.to_json().pretty()).unwrap();
        let from_json = read_json(&json, "", &mut problems).unwrap();
        assert_eq!(from_json, path);
    }

    #[test]
    fn verif_every_problem_is_named() {
        for (text, parts) in [
            ("time_s,altitude_m,speed_m_s\n0,1,2\n", vec!["angle_of_attack_deg", "missing"]),
            ("time_s,altitude_m,speed_m_s,angle_of_attack_deg\n0,80000,7000,40\n0,80000,7000,40\n", vec!["row 3", "time_s", "increasing"]),
            ("time_s,altitude_m,speed_m_s,angle_of_attack_deg\n0,80000,fast,40\n", vec!["row 2", "speed_m_s", "\"fast\""]),
            ("time_s,altitude_m,speed_m_s,angle_of_attack_deg\n0,80000,,40\n", vec!["row 2", "speed_m_s", "empty"]),
            ("time_s,altitude_m,speed_m_s,angle_of_attack_deg\n0,80000,nan,40\n", vec!["\"nan\""]),
            ("time_s,altitude_km,speed_m_s,angle_of_attack_deg\n0,1001,7000,40\n", vec!["altitude_km", "\"1001\"", "in SI"]),
            ("time_s,altitude_m,altitude_ft,speed_m_s,angle_of_attack_deg\n0,1,1,7000,40\n", vec!["altitude_ft", "beside"]),
            ("time_s,altitude_m,speed_m_s,angle_of_attack_deg\n", vec!["no rows"]),
            ("", vec!["empty"]),
        ] {
            let message = read_csv("t.csv", text.as_bytes()).unwrap_err().to_string();
            assert!(parts.iter().all(|part| message.contains(part)), "{text:?}: {message}");
        }
        let text = r#"{"format":"tileglow-trajectory/1","time_s":[0,1],"altitude_m":[1,2,3],"speed_m_s":["x",1],"angle_of_attack_deg":[1,2],"altitud":[1]}"#;
        let mut problems = Problems::of("t.json");
        assert!(read_json(&Json::parse("t.json", text).unwrap(), "entries[0].entry", &mut problems).is_none());
        let message = problems.into_error().to_string();
        for part in ["entries[0].entry.altitude_m", "entries[0].entry.speed_m_s[0]", "\"altitud\""] {
            assert!(message.contains(part), "{message}");
        }
    }

    proptest! {
        #[test]
        fn verif_any_text_is_read_or_refused(text in "(time_s,altitude_m,speed_m_s,angle_of_attack_deg\n)?[-0-9.,e\n\"a]{0,60}") {
            let _ = read_csv("t.csv", text.as_bytes());
        }

        #[test]
        fn verif_any_bytes_are_read_or_refused(bytes in proptest::collection::vec(any::<u8>(), 0..200)) {
            let _ = read_csv("t.csv", &bytes);
        }
    }
}
