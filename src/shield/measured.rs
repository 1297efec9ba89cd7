//! What was measured or computed elsewhere: body_points.csv and flight_data.csv.

use super::table::whole_number;
use super::{BodyPoint, FlightSample, Tile};
use crate::document::Sorting as _;
use crate::document::csv::CsvTable;
use crate::document::json::Range;
use crate::document::{Error, Problems};
use glam::DVec3;
use std::collections::HashMap;

/// The columns of body_points.csv.
pub const BODY_POINTS: [&str; 9] =
    ["x_m", "y_m", "z_m", "angle_of_attack_deg", "sideslip_deg", "mach", "regime", "factor", "reference_radius_m"];
const FLIGHT_DATA: [&str; 6] = ["flight", "tile", "sensor", "depth_mm", "time_s", "temperature_k"];

/// A table all of whose columns are required, with its problems and warnings.
struct Reader<'a> {
    table: &'a CsvTable,
    problems: Problems,
}

impl Reader<'_> {
    fn tell(&mut self, row: usize, name: &str, what: String, accepted: impl Into<String>) {
        self.problems.at_cell(row + 2, name, what, accepted);
    }

    fn text(&mut self, row: usize, name: &str, accepted: &str) -> String {
        match self.table.cell(row, name) {
            Some(cell) => cell.to_string(),
            None => {
                self.tell(row, name, "the cell is empty".to_string(), accepted);
                String::new()
            }
        }
    }

    fn number(&mut self, row: usize, name: &str, range: Range) -> f64 {
        match self.table.number(row, name) {
            Ok(Some(value)) if range.holds(value) => value,
            _ => {
                let cell = self.table.cell(row, name).unwrap_or_default().to_string();
                self.tell(row, name, format!("{cell:?} is out of range or no number"), range.to_string());
                0.0
            }
        }
    }
}

fn open<'a>(file: &str, table: &'a CsvTable, columns: &[&str], warnings: &mut Vec<String>) -> Result<Reader<'a>, Error> {
    let mut problems = Problems::of(file);
    for name in table.unknown_columns(columns) {
        warnings.push(format!("{file}: unknown column {name:?} ignored; known: {}", columns.join(", ")));
    }
    for name in columns.iter().filter(|name| table.column(name).is_none()) {
        problems.at_cell(1, *name, format!("the column {name:?} is missing"), columns.join(", "));
    }
    if problems.is_empty() { Ok(Reader { table, problems }) } else { Err(problems.into_error()) }
}

/// Reads body_points.csv: angles within ±180°, Mach number above 0, factor not negative, the reference radius above 0 and the same in
/// every row.
pub fn body_points(file: &str, bytes: &[u8], warnings: &mut Vec<String>) -> Result<Vec<BodyPoint>, Error> {
    let table = CsvTable::read(file, bytes)?;
    let mut reader = open(file, &table, &BODY_POINTS, warnings)?;
    let angle = Range::between(-180.0, 180.0);
    let mut points: Vec<BodyPoint> = Vec::new();
    for row in 0..table.rows.len() {
        let before = reader.problems.list.len();
        let position =
            DVec3::new(reader.number(row, "x_m", Range::ANY), reader.number(row, "y_m", Range::ANY), reader.number(row, "z_m", Range::ANY));
        let regime = reader.text(row, "regime", "laminar, turbulent");
        if !regime.is_empty() && regime != "laminar" && regime != "turbulent" {
            reader.tell(row, "regime", format!("unknown regime {regime:?}"), "laminar, turbulent");
        }
        let point = BodyPoint {
            position,
            angle_of_attack_deg: reader.number(row, "angle_of_attack_deg", angle),
            sideslip_deg: reader.number(row, "sideslip_deg", angle),
            mach: reader.number(row, "mach", Range::POSITIVE),
            turbulent: regime == "turbulent",
            factor: reader.number(row, "factor", Range::NOT_NEGATIVE),
            reference_radius_m: reader.number(row, "reference_radius_m", Range::POSITIVE),
        };
        if let Some(first) = points.first().filter(|_| reader.problems.list.len() == before)
            && first.reference_radius_m != point.reference_radius_m
        {
            let (here, there) = (point.reference_radius_m, first.reference_radius_m);
            reader.tell(row, "reference_radius_m", format!("{here}, where earlier rows have {there}"), "one radius in all rows");
        }
        points.push(point);
    }
    if reader.problems.is_empty() {
        states(&mut reader, &points);
    }
    reader.problems.or_ok(points)
}

/// Points that a state of flight needs at least, so that a plane goes through them.
const LEAST_POINTS: usize = 3;

/// States of flight that a regime has at most: each is laid on every tile.
const MOST_STATES: usize = 400;

/// No point twice in a state; in either regime a full grid of states with points enough in each.
fn states(reader: &mut Reader, points: &[BodyPoint]) {
    type Key = [u64; 3];
    let bits = |values: [f64; 3]| values.map(|value| (value + 0.0).to_bits());
    let state = |point: &BodyPoint| bits([point.angle_of_attack_deg, point.sideslip_deg, point.mach]);
    let mut seen: HashMap<(bool, Key, Key), usize> = HashMap::new();
    let mut once = vec![true; points.len()];
    for (row, point) in points.iter().enumerate() {
        if let Some(first) = seen.insert((point.turbulent, state(point), bits(point.position.to_array())), row) {
            reader.tell(
                row,
                "x_m",
                format!("the point stands in row {} too, in the same state", first + 2),
                "a point once in a state and regime",
            );
            if let Some(once) = once.get_mut(row) {
                *once = false;
            }
        }
    }
    for (turbulent, regime) in [(false, "laminar"), (true, "turbulent")] {
        let own: Vec<(usize, &BodyPoint)> = points.iter().enumerate().filter(|(_, point)| point.turbulent == turbulent).collect();
        let axis = |value: fn(&BodyPoint) -> f64| {
            let mut values: Vec<f64> = own.iter().map(|(_, point)| value(point) + 0.0).collect();
            values.order_by(f64::total_cmp);
            values.dedup();
            values
        };
        let (attacks, slips, machs) = (axis(|p| p.angle_of_attack_deg), axis(|p| p.sideslip_deg), axis(|p| p.mach));
        let mut counts: HashMap<Key, (usize, usize)> = HashMap::new();
        for (row, point) in &own {
            counts.entry(state(point)).or_insert((0, *row)).0 += usize::from(once.get(*row).copied().unwrap_or(false));
        }
        let grid = attacks.len().saturating_mul(slips.len()).saturating_mul(machs.len());
        if counts.len() > MOST_STATES
            && let Some((row, _)) = own.first()
        {
            let what = format!("{} {regime} states of flight", counts.len());
            reader.tell(*row, "mach", what, format!("at most {MOST_STATES} states of angles and Mach number"));
            continue;
        }
        if grid > MOST_STATES * MOST_STATES
            && let Some((row, _)) = own.first()
        {
            let what = format!("{} {regime} states of flight, where the table's angles and Mach numbers make {grid}", counts.len());
            reader.tell(*row, "mach", what, "every combination of the table's angles and Mach numbers");
            continue;
        }
        for attack in &attacks {
            for slip in &slips {
                for mach in &machs {
                    let told = format!("{regime}, angle of attack {attack}, sideslip {slip}, Mach {mach}");
                    match counts.get(&bits([*attack, *slip, *mach])) {
                        Some((count, row)) if *count < LEAST_POINTS => {
                            let what = format!(
                                "the state {told} has {} only",
                                if *count == 1 { "1 point".to_string() } else { format!("{count} points") }
                            );
                            reader.tell(*row, "regime", what, format!("{LEAST_POINTS} points or more in every state"));
                        }
                        Some(_) => {}
                        None => {
                            // The first row that needs the missing state: one of its angle of attack.
                            let row = own.iter().find(|(_, point)| point.angle_of_attack_deg == *attack).map_or(0, |(row, _)| *row);
                            reader.tell(
                                row,
                                "mach",
                                format!("a hole: no point of {told}"),
                                "every combination of the table's angles and Mach numbers",
                            );
                        }
                    }
                }
            }
        }
    }
}

/// Reads flight_data.csv: known tiles, whole flights, depth not negative (it may lie in the stack), temperature above 0 K, and times that never fall back within
/// one sensor of one flight.
pub fn flight_data(file: &str, bytes: &[u8], tiles: &[Tile], warnings: &mut Vec<String>) -> Result<Vec<FlightSample>, Error> {
    let table = CsvTable::read(file, bytes)?;
    let mut reader = open(file, &table, &FLIGHT_DATA, warnings)?;
    let by_id: HashMap<&str, usize> = tiles.iter().enumerate().map(|(i, tile)| (tile.id.as_str(), i)).collect();
    let mut latest: HashMap<(u32, usize, String), f64> = HashMap::new();
    let mut samples = Vec::new();
    for row in 0..table.rows.len() {
        let flight = reader.text(row, "flight", "a whole number from 0 up");
        let whole = whole_number(&flight);
        if whole.is_none() && !flight.is_empty() {
            reader.tell(row, "flight", format!("{flight:?} is no flight"), "a whole number from 0 up");
        }
        let id = reader.text(row, "tile", "a tile of the vehicle");
        let tile = by_id.get(id.as_str()).copied();
        if tile.is_none() && !id.is_empty() {
            reader.tell(row, "tile", format!("unknown tile {id:?}"), "a tile of the vehicle");
        }
        let sensor = reader.text(row, "sensor", "a sensor's name");
        let depth_mm = reader.number(row, "depth_mm", Range::NOT_NEGATIVE);
        let time_s = reader.number(row, "time_s", Range::ANY);
        let temperature_k = reader.number(row, "temperature_k", Range::POSITIVE);
        let (Some(flight), Some(tile)) = (whole, tile) else { continue };
        let key = (flight, tile, sensor.clone());
        if let Some(earlier) = latest.get(&key).filter(|earlier| **earlier > time_s) {
            reader.tell(row, "time_s", format!("{time_s} follows {earlier}"), "times of a sensor that never fall back");
        }
        latest.insert(key, time_s);
        samples.push(FlightSample { flight, tile, sensor, depth_mm, time_s, temperature_k });
    }
    reader.problems.or_ok(samples)
}
