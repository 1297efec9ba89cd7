//! What the inspection found: findings.csv and the findings of a scenario, checked against the tiles, and written back without loss.

use super::table::whole_number;
use super::{Finding, Tile};
use crate::document::csv::CsvTable;
use crate::document::csv::write;
use crate::document::json::Range;
use crate::document::{Error, Json, Problems};
use std::collections::HashMap;

/// The kinds of a finding.
pub const KINDS: [&str; 15] = [
    "chip",
    "crack",
    "gouge",
    "impact-cavity",
    "coating-loss",
    "slump",
    "step",
    "gap",
    "protruding-filler",
    "lost-filler",
    "doubtful-bond",
    "missing-tile",
    "waterproofing-lost",
    "discoloration",
    "contamination",
];
/// Kinds that take material out of a tile: never deeper than it or longer than its largest side.
pub const CAVITIES: [&str; 3] = ["chip", "gouge", "impact-cavity"];
/// Kinds that lie on a joint and name both tiles.
pub const JOINTS: [&str; 4] = ["step", "gap", "protruding-filler", "lost-filler"];

/// The columns of findings.csv in their order; the keys of a scenario's findings.
pub const COLUMNS: [&str; 23] = [
    "finding",
    "tile",
    "tile_2",
    "kind",
    "u_mm",
    "v_mm",
    "length_mm",
    "width_mm",
    "depth_mm",
    "gap_mm",
    "step_mm",
    "protrusion_mm",
    "orientation_deg",
    "found_on",
    "flight",
    "found_by",
    "method",
    "photograph",
    "note",
    "decision",
    "decided_by",
    "decided_on",
    "decision_reason",
];
const NUMBERS: [&str; 9] = ["u_mm", "v_mm", "length_mm", "width_mm", "depth_mm", "gap_mm", "step_mm", "protrusion_mm", "orientation_deg"];
/// A size may exceed the tile's by this part: coordinates in a mesh are rounded to 32 bits.
const ROUNDING: f64 = 1e-4;

/// A row of the table or an object of a scenario: where its cells come from and where problems stand.
trait Cells {
    /// The text of a cell, `None` where empty; a wrong type is told.
    fn text(&mut self, name: &'static str, problems: &mut Problems) -> Option<String>;
    fn number(&mut self, name: &'static str, range: Range, problems: &mut Problems) -> Option<f64>;
    fn tell(&self, name: &str, what: String, accepted: String, problems: &mut Problems);
}

struct CsvRow<'a> {
    table: &'a CsvTable,
    row: usize,
}

impl Cells for CsvRow<'_> {
    fn text(&mut self, name: &'static str, _: &mut Problems) -> Option<String> {
        self.table.cell(self.row, name).map(str::to_string)
    }

    fn number(&mut self, name: &'static str, range: Range, problems: &mut Problems) -> Option<f64> {
        match self.table.number(self.row, name) {
            Ok(None) => None,
            Ok(Some(value)) if range.holds(value) => Some(value),
            _ => {
                let cell = self.table.cell(self.row, name).unwrap_or_default();
                self.tell(name, format!("{cell:?} is out of range or no number"), range.to_string(), problems);
                None
            }
        }
    }

    fn tell(&self, name: &str, what: String, accepted: String, problems: &mut Problems) {
        problems.at_cell(self.row + 2, name, what, accepted);
    }
}

struct JsonRow<'a> {
    fields: &'a [(String, Json)],
    path: &'a str,
}

impl JsonRow<'_> {
    fn get(&self, name: &str) -> Option<&Json> {
        self.fields.iter().find(|(key, _)| key == name).map(|(_, value)| value).filter(|value| **value != Json::Null)
    }
}

impl Cells for JsonRow<'_> {
    fn text(&mut self, name: &'static str, problems: &mut Problems) -> Option<String> {
        match self.get(name)? {
            Json::Text(text) => Some(text.trim().to_string()).filter(|text| !text.is_empty()),
            Json::Number(number) if name == "flight" => Some(number.to_string()),
            other => {
                self.tell(name, format!("{} is no text", other.quoted()), "a text in quotes".to_string(), problems);
                None
            }
        }
    }

    fn number(&mut self, name: &'static str, range: Range, problems: &mut Problems) -> Option<f64> {
        match self.get(name)? {
            Json::Number(value) if range.holds(*value) => Some(*value),
            other => {
                self.tell(name, format!("{} is out of range or no number", other.quoted()), range.to_string(), problems);
                None
            }
        }
    }

    fn tell(&self, name: &str, what: String, accepted: String, problems: &mut Problems) {
        problems.at_key(format!("{}.{name}", self.path), what, accepted);
    }
}

/// Reads findings.csv; refused as a whole with every problem. Warnings name unknown columns and what a finding lacks to be assessed.
pub fn read(file: &str, bytes: &[u8], tiles: &[Tile], warnings: &mut Vec<String>) -> Result<Vec<Finding>, Error> {
    let table = CsvTable::read(file, bytes)?;
    let mut problems = Problems::of(file);
    for name in table.unknown_columns(&COLUMNS) {
        warnings.push(format!("{file}: unknown column {name:?} ignored; known: {}", COLUMNS.join(", ")));
    }
    for name in ["finding", "tile", "kind"] {
        if table.column(name).is_none() {
            problems.at_cell(1, name, format!("the column {name:?} is missing"), COLUMNS.join(", "));
        }
    }
    if !problems.is_empty() {
        return Err(problems.into_error());
    }
    let by_id = ids(tiles);
    let mut first: HashMap<String, usize> = HashMap::new();
    let mut findings = Vec::new();
    for row in 0..table.rows.len() {
        let mut cells = CsvRow { table: &table, row };
        if let Some(id) = table.cell(row, "finding") {
            if let Some(earlier) = first.get(id) {
                let what = format!("the finding {id:?} stands twice, first in row {earlier}");
                cells.tell("finding", what, "each id once".to_string(), &mut problems);
            }
            first.entry(id.to_string()).or_insert(row + 2);
        }
        if let Some(finding) = read_cells(&mut cells, tiles, &by_id, &mut problems) {
            warnings.extend(lacks(&finding, tiles).map(|what| format!("{file}, row {}: {what}", row + 2)));
            findings.push(finding);
        }
    }
    problems.or_ok(findings)
}

/// Reads a scenario's findings, `findings[i]` in messages; a duplicate id is a problem.
pub fn findings_from_json(nodes: &[Json], tiles: &[Tile], problems: &mut Problems) -> Vec<Finding> {
    let by_id = ids(tiles);
    let mut first: HashMap<String, usize> = HashMap::new();
    let mut findings = Vec::with_capacity(nodes.len());
    for (i, node) in nodes.iter().enumerate() {
        let path = format!("findings[{i}]");
        let Some(finding) = from_json(node, &path, tiles, &by_id, problems) else { continue };
        if let Some(earlier) = first.insert(finding.finding.clone(), i) {
            let what = format!("the finding {:?} stands twice, first in findings[{earlier}]", finding.finding);
            problems.at_key(format!("{path}.finding"), what, "each id once");
        }
        findings.push(finding);
    }
    findings
}

/// Reads one finding of a scenario; `path` is its place (`findings[2]`), keys are the columns of findings.csv, null counts as empty.
pub fn finding_from_json(node: &Json, path: &str, tiles: &[Tile], problems: &mut Problems) -> Option<Finding> {
    from_json(node, path, tiles, &ids(tiles), problems)
}

fn from_json(node: &Json, path: &str, tiles: &[Tile], by_id: &HashMap<&str, usize>, problems: &mut Problems) -> Option<Finding> {
    let Json::Object(fields) = node else {
        problems.at_key(path, format!("{} is no object", node.quoted()), "an object {…}");
        return None;
    };
    for (name, _) in fields {
        if !COLUMNS.contains(&name.as_str()) {
            problems.at_key(format!("{path}.{name}"), format!("unknown key {name:?}"), COLUMNS.join(", "));
        }
    }
    read_cells(&mut JsonRow { fields, path }, tiles, by_id, problems)
}

/// The vehicle's findings with a scenario's: the same id is replaced in its place, a new one is added at the end.
pub fn joined(vehicle: &[Finding], scenario: &[Finding]) -> Vec<Finding> {
    let mut all = vehicle.to_vec();
    let mut place: HashMap<&str, usize> = vehicle.iter().enumerate().map(|(i, finding)| (finding.finding.as_str(), i)).collect();
    for finding in scenario {
        match place.get(finding.finding.as_str()) {
            Some(i) => all[*i] = finding.clone(),
            None => {
                place.insert(&finding.finding, all.len());
                all.push(finding.clone());
            }
        }
    }
    all
}

fn ids(tiles: &[Tile]) -> HashMap<&str, usize> {
    tiles.iter().enumerate().map(|(i, tile)| (tile.id.as_str(), i)).collect()
}

fn read_cells(cells: &mut dyn Cells, tiles: &[Tile], by_id: &HashMap<&str, usize>, problems: &mut Problems) -> Option<Finding> {
    let before = problems.list.len();
    let mut required = |name: &'static str, accepted: &str, problems: &mut Problems| {
        let text = cells.text(name, problems);
        if text.is_none() && problems.list.len() == before {
            cells.tell(name, "it is empty".to_string(), accepted.to_string(), problems);
        }
        text.unwrap_or_default()
    };
    let finding = required("finding", "an id of its own", problems);
    let tile = required("tile", "a tile of the vehicle", problems);
    let kind = required("kind", &KINDS.join(", "), problems);
    let tile_2 = cells.text("tile_2", problems);
    let index = |name: &str, id: &str, problems: &mut Problems| {
        let found = by_id.get(id).copied();
        if found.is_none() && !id.is_empty() {
            cells.tell(name, format!("unknown tile {id:?}"), "a tile of the vehicle".to_string(), problems);
        }
        found
    };
    let first = index("tile", &tile, problems);
    let second = tile_2.as_deref().and_then(|id| index("tile_2", id, problems));
    if second.is_some() && second == first {
        cells.tell("tile_2", format!("{tile:?} is the first tile"), "the other tile of the joint".to_string(), problems);
    }
    if !kind.is_empty() && !KINDS.contains(&kind.as_str()) {
        cells.tell("kind", format!("unknown kind {kind:?}"), KINDS.join(", "), problems);
    }
    let mut number = |name: &'static str, range: Range| cells.number(name, range, problems);
    let (u_mm, v_mm) = (number("u_mm", Range::ANY), number("v_mm", Range::ANY));
    let (length_mm, width_mm) = (number("length_mm", Range::NOT_NEGATIVE), number("width_mm", Range::NOT_NEGATIVE));
    let (depth_mm, gap_mm) = (number("depth_mm", Range::NOT_NEGATIVE), number("gap_mm", Range::NOT_NEGATIVE));
    let (step_mm, protrusion_mm) = (number("step_mm", Range::ANY), number("protrusion_mm", Range::ANY));
    let orientation_deg = number("orientation_deg", Range::between(-360.0, 360.0));
    let flight_text = cells.text("flight", problems);
    let flight = flight_text.as_deref().and_then(whole_number);
    if let (Some(text), None) = (&flight_text, flight) {
        cells.tell("flight", format!("{text:?} is no flight"), "a whole number from 0 up".to_string(), problems);
    }
    let mut date = |name: &'static str, problems: &mut Problems| {
        let text = cells.text(name, problems).unwrap_or_default();
        if !text.is_empty() && !is_date(&text) {
            cells.tell(name, format!("{text:?} is no date"), "a date of the calendar as YYYY-MM-DD".to_string(), problems);
        }
        text
    };
    let (found_on, decided_on) = (date("found_on", problems), date("decided_on", problems));
    if let Some(tile) = first.and_then(|i| tiles.get(i)) {
        let thickness_mm = tile.thickness_m * 1e3;
        let side_mm = tile.largest_side_m * 1e3;
        let mut within = |name: &str, value: Option<f64>, most: f64, of: &str| {
            if let Some(value) = value.filter(|value| *value > most * (1.0 + ROUNDING)) {
                let what = format!("{value} mm, where tile {:?} {of} {most:.6} mm", tile.id);
                cells.tell(name, what, format!("at most {most:.6}"), problems);
            }
        };
        if !JOINTS.contains(&kind.as_str()) {
            within("depth_mm", depth_mm, thickness_mm, "is thick");
        }
        if CAVITIES.contains(&kind.as_str()) {
            within("length_mm", length_mm, side_mm, "has a largest side of");
            within("width_mm", width_mm, side_mm, "has a largest side of");
        }
        if let (Some(flight), Some(installed)) = (flight, tile.installed_flight)
            && flight < installed
        {
            let what = format!("flight {flight}, where tile {:?} was installed for flight {installed}", tile.id);
            cells.tell("flight", what, format!("a flight from {installed} up"), problems);
        }
    }
    let mut text = |name: &'static str| cells.text(name, problems).unwrap_or_default();
    let (found_by, method, photograph, note) = (text("found_by"), text("method"), text("photograph"), text("note"));
    let (decision, decided_by, decision_reason) = (text("decision"), text("decided_by"), text("decision_reason"));
    if problems.list.len() > before {
        return None;
    }
    Some(Finding {
        finding,
        tile: first?,
        tile_2: second,
        kind,
        u_mm,
        v_mm,
        length_mm,
        width_mm,
        depth_mm,
        gap_mm,
        step_mm,
        protrusion_mm,
        orientation_deg,
        found_on,
        flight,
        found_by,
        method,
        photograph,
        note,
        decision,
        decided_by,
        decided_on,
        decision_reason,
    })
}

/// What a finding lacks, or what looks wrong without being refused.
fn lacks(finding: &Finding, tiles: &[Tile]) -> impl Iterator<Item = String> {
    let joint = JOINTS.contains(&finding.kind.as_str());
    let apart = finding.tile_2.is_some_and(|other| tiles.get(finding.tile).is_some_and(|tile| !tile.neighbours.contains(&(other as u32))));
    let names = |i: usize| tiles.get(i).map_or("", |tile| tile.id.as_str());
    let (id, kind) = (&finding.finding, &finding.kind);
    let one = (joint && finding.tile_2.is_none()).then(|| format!("the finding {id:?} of kind {kind} names one tile of its joint"));
    let far = apart.then(|| {
        format!(
            "the finding {id:?} names the tiles {:?} and {:?}, which share no joint",
            names(finding.tile),
            names(finding.tile_2.unwrap_or(0))
        )
    });
    let missing = match finding.kind.as_str() {
        "chip" | "gouge" | "impact-cavity" if finding.depth_mm.is_none() => Some("depth_mm"),
        "slump" if finding.depth_mm.is_none() => Some("depth_mm"),
        "step" if finding.step_mm.is_none() => Some("step_mm"),
        "gap" if finding.gap_mm.is_none() => Some("gap_mm"),
        "protruding-filler" if finding.protrusion_mm.is_none() => Some("protrusion_mm"),
        _ => None,
    };
    let missing = missing.map(|name| format!("the finding {id:?} of kind {kind} gives no {name}"));
    [one, far, missing].into_iter().flatten().collect::<Vec<_>>().into_iter()
}

/// Whether the text is a day of the Gregorian calendar as ISO 8601 writes it, `YYYY-MM-DD`.
pub fn is_date(text: &str) -> bool {
    let bytes = text.as_bytes();
    let shape = bytes.len() == 10 && bytes.iter().enumerate().all(|(i, b)| if i == 4 || i == 7 { *b == b'-' } else { b.is_ascii_digit() });
    if !shape {
        return false;
    }
    let part = |range: std::ops::Range<usize>| text.get(range).and_then(|part| part.parse::<u32>().ok()).unwrap_or(0);
    let (year, month, day) = (part(0..4), part(5..7), part(8..10));
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let days = match month {
        1 | 3 | 5 | 7 | 8 | 10 | 12 => 31,
        4 | 6 | 9 | 11 => 30,
        2 => 28 + u32::from(leap),
        _ => 0,
    };
    (1..=days).contains(&day)
}

/// The value of a column: a number, a text, or nothing.
fn value_of(finding: &Finding, name: &str, tiles: &[Tile]) -> Json {
    let id = |i: usize| tiles.get(i).map_or(String::new(), |tile| tile.id.clone());
    let text = |text: &str| if text.is_empty() { Json::Null } else { Json::text(text) };
    match name {
        "finding" => text(&finding.finding),
        "tile" => Json::Text(id(finding.tile)),
        "tile_2" => finding.tile_2.map_or(Json::Null, |tile| Json::Text(id(tile))),
        "kind" => text(&finding.kind),
        "u_mm" => Json::number_or_null(finding.u_mm),
        "v_mm" => Json::number_or_null(finding.v_mm),
        "length_mm" => Json::number_or_null(finding.length_mm),
        "width_mm" => Json::number_or_null(finding.width_mm),
        "depth_mm" => Json::number_or_null(finding.depth_mm),
        "gap_mm" => Json::number_or_null(finding.gap_mm),
        "step_mm" => Json::number_or_null(finding.step_mm),
        "protrusion_mm" => Json::number_or_null(finding.protrusion_mm),
        "orientation_deg" => Json::number_or_null(finding.orientation_deg),
        "found_on" => text(&finding.found_on),
        "flight" => Json::number_or_null(finding.flight.map(f64::from)),
        "found_by" => text(&finding.found_by),
        "method" => text(&finding.method),
        "photograph" => text(&finding.photograph),
        "note" => text(&finding.note),
        "decision" => text(&finding.decision),
        "decided_by" => text(&finding.decided_by),
        "decided_on" => text(&finding.decided_on),
        _ => text(&finding.decision_reason),
    }
}

/// A finding as a scenario holds it: one object, empty cells left out. `finding_from_json` gives the same finding back.
pub fn finding_to_json(finding: &Finding, tiles: &[Tile]) -> Json {
    let fields = COLUMNS.iter().map(|name| (name.to_string(), value_of(finding, name, tiles)));
    Json::Object(fields.filter(|(_, value)| *value != Json::Null).collect())
}

/// The text of findings.csv, all columns, numbers in the shortest form that reads back the same; `read` gives the same findings back.
pub fn findings_csv(findings: &[Finding], tiles: &[Tile]) -> String {
    let guarded = COLUMNS.map(|name| !NUMBERS.contains(&name) && name != "flight");
    let row = |finding: &Finding| {
        let cell = |name: &&str| match value_of(finding, name, tiles) {
            Json::Number(value) => value.to_string(),
            Json::Text(text) => text,
            _ => String::new(),
        };
        COLUMNS.iter().map(cell).collect()
    };
    write(&COLUMNS, findings.iter().map(row), &guarded)
}
