//! An atmosphere as a table in CSV: altitude, temperature and pressure in any usual unit, columns in any order.

use crate::air::Atmosphere;
use crate::document::csv::CsvTable;
use crate::document::json::Range;
use crate::document::{Error, Problems};
use crate::units::{Kind, column_unit};

const COLUMNS: [(&str, Kind, Range); 3] = [
    ("altitude", Kind::Length, Range::ANY),
    ("temperature", Kind::Temperature, Range::POSITIVE),
    ("pressure", Kind::Pressure, Range::POSITIVE),
];

fn column_of(header: &str) -> Option<usize> {
    COLUMNS.iter().position(|(stem, kind, _)| column_unit(header, stem, *kind).is_some())
}

/// Whether a CSV's header is that of an atmosphere: temperature and pressure over altitude, and no time.
pub fn is_one(header: &str) -> bool {
    let names: Vec<&str> = header.trim_start_matches('\u{feff}').split(',').map(str::trim).collect();
    (0..COLUMNS.len()).all(|column| names.iter().any(|name| column_of(name) == Some(column)))
        && !names.iter().any(|name| name.starts_with("time_"))
}

/// Reads the table (`altitude_m, temperature_k, pressure_pa`, or with another unit of FORMATS.md as suffix); also the unknown columns, told.
///
/// Errors: every cell that is no number or out of range, a missing or doubled column, altitudes that do not rise.
pub fn read_csv(file: &str, bytes: &[u8]) -> Result<(Atmosphere, Vec<String>), Error> {
    let table = CsvTable::read(file, bytes)?;
    let (mut problems, mut warnings) = (Problems::of(file), Vec::new());
    let mut found: [Option<Vec<f64>>; 3] = Default::default();
    for (at, header) in table.header.iter().enumerate() {
        let Some((column, unit)) = column_of(header).and_then(|i| Some((i, column_unit(header, COLUMNS.get(i)?.0, COLUMNS.get(i)?.1)?)))
        else {
            warnings.push(format!("unknown column {header:?} in {file} is not read; known: altitude_m, temperature_k, pressure_pa"));
            continue;
        };
        let (Some(slot), Some((_, _, range))) = (found.get_mut(column), COLUMNS.get(column)) else { continue };
        if slot.is_some() {
            problems.at_cell(1, header, format!("the column {header:?} stands beside another of its kind"), "each column in one unit");
            continue;
        }
        let mut values = Vec::with_capacity(table.rows.len());
        for (row, cells) in table.rows.iter().enumerate() {
            let cell = cells.get(at).map_or("", String::as_str);
            let plain = !cell.contains(['n', 'N', 'i', 'I']);
            match cell.parse::<f64>().ok().filter(|value| plain && value.is_finite()).map(|value| value * unit.factor + unit.offset) {
                Some(value) if range.holds(value) => values.push(value),
                _ => problems.at_cell(row + 2, header, format!("{cell:?} is out of range or no number"), range.to_string()),
            }
        }
        *slot = Some(values);
    }
    for ((stem, kind, _), slot) in COLUMNS.iter().zip(&found) {
        if slot.is_none() {
            let suffix = kind.units().first().map_or("", |unit| unit.suffix);
            problems.at_key(format!("{stem}_{suffix}"), format!("the column \"{stem}_{suffix}\" is missing"), "this column is required");
        }
    }
    if table.rows.is_empty() {
        problems.at_key("altitude_m", "the atmosphere has no rows", "one row at least");
    }
    let [Some(altitude_m), Some(temperature_k), Some(pressure_pa)] = found else { return Err(problems.into_error()) };
    if problems.is_empty() {
        for (row, pair) in altitude_m.windows(2).enumerate().filter(|(_, pair)| pair[1] <= pair[0]) {
            problems.at_cell(row + 3, "altitude", format!("{} m follows {} m", pair[1], pair[0]), "strictly increasing altitudes");
        }
    }
    problems.or_ok((Atmosphere::Table { altitude_m, temperature_k, pressure_pa }, warnings))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_units_order_and_problems() {
        let text = "pressure_psf,note,altitude_kft\n1,x,2\n";
        assert!(!is_one(text.lines().next().unwrap()));
        let text = "pressure_kpa,altitude_ft,temperature_degc,note\n100,0,15,a\n50,18000,-20,b\n";
        assert!(is_one(text.lines().next().unwrap()) && !is_one("time_s,altitude_m,temperature_k,pressure_pa"));
        let (table, warnings) = read_csv("air.csv", text.as_bytes()).unwrap();
        let Atmosphere::Table { altitude_m, temperature_k, pressure_pa } = table else { panic!() };
        assert_eq!((altitude_m, pressure_pa), (vec![0.0, 18000.0 * 0.3048], vec![1e5, 5e4]));
        assert!((temperature_k[1] - 253.15).abs() < 1e-9 && warnings.len() == 1 && warnings[0].contains("\"note\""));
        for (text, parts) in [
            ("altitude_m,temperature_k\n0,1\n", vec!["pressure_pa", "missing"]),
            ("altitude_m,temperature_k,pressure_pa\n0,300,1\n0,300,1\n", vec!["row 3", "altitude", "increasing"]),
            ("altitude_m,temperature_k,pressure_pa\n0,nan,1\n", vec!["row 2", "temperature_k", "\"nan\""]),
            ("altitude_m,temperature_k,pressure_pa\n0,300,0\n", vec!["row 2", "pressure_pa", "\"0\""]),
            ("altitude_m,temperature_k,pressure_pa\n", vec!["no rows"]),
            ("altitude_m,altitude_km,temperature_k,pressure_pa\n1,1,1,1\n", vec!["altitude_km", "beside"]),
        ] {
            let message = read_csv("air.csv", text.as_bytes()).unwrap_err().to_string();
            assert!(message.contains("air.csv") && parts.iter().all(|part| message.contains(part)), "{text:?}: {message}");
        }
    }
}
