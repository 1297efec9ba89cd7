//! The tile table: every row of tiles.csv, or of a GLB's property table in its place, checked against library and stacks.

use super::TileState;
use crate::document::Problems;
use crate::document::csv::CsvTable;
use crate::document::json::Range;
use crate::material::{Kind, Library, Material, Stack, stack};
use std::collections::HashMap;

/// All columns of the table; the first three are required.
pub const COLUMNS: [&str; 17] = [
    "tile",
    "material",
    "thickness_mm",
    "zone",
    "coating",
    "stack",
    "density_kg_m3",
    "emissivity",
    "solar_absorptance",
    "nose_radius_m",
    "running_length_m",
    "heating_factor",
    "part",
    "serial",
    "installed_flight",
    "waterproofed",
    "state",
];

/// One checked row, still without its surface.
#[derive(Debug, Clone, PartialEq)]
pub struct TileRow {
    pub id: String,
    pub zone: String,
    pub material: usize,
    pub coating: Option<usize>,
    pub stack: Option<usize>,
    pub thickness_m: f64,
    pub density_kg_m3: f64,
    pub emissivity: Option<f64>,
    pub solar_absorptance: Option<f64>,
    pub nose_radius_m: Option<f64>,
    pub running_length_m: Option<f64>,
    pub heating_factor: f64,
    pub part: String,
    pub serial: String,
    pub installed_flight: Option<u32>,
    pub waterproofed: Option<u32>,
    pub state: TileState,
    /// Where the row stands in its file, for later messages.
    pub row: usize,
}

/// A table with the number that its first row carries in messages: 2 below a CSV header, 0 in a property table.
pub struct Source<'a> {
    pub file: &'a str,
    pub table: &'a CsvTable,
    pub first_row: usize,
}

/// Reads all rows; every problem goes to `problems` with its row and column, unknown columns to `warnings`.
pub fn read(source: &Source, library: &Library, stacks: &[Stack], problems: &mut Problems, warnings: &mut Vec<String>) -> Vec<TileRow> {
    let table = source.table;
    for name in table.unknown_columns(&COLUMNS) {
        warnings.push(format!("{}: unknown column {name:?} ignored; known: {}", source.file, COLUMNS.join(", ")));
    }
    let before = problems.list.len();
    for name in &COLUMNS[..3] {
        if table.column(name).is_none() {
            problems.at_cell(source.first_row.saturating_sub(1), *name, format!("the column {name:?} is missing"), COLUMNS.join(", "));
        }
    }
    if problems.list.len() > before {
        return Vec::new();
    }
    if table.rows.is_empty() {
        problems.at_key("", "the table has no tile", "one row a tile");
    }
    let mut reader = RowReader { source, library, stacks, problems, warnings, row: 0 };
    let mut first: HashMap<&str, usize> = HashMap::new();
    let mut rows = Vec::with_capacity(table.rows.len());
    for row in 0..table.rows.len() {
        reader.row = row;
        let id = reader.required("tile", "a tile's id").unwrap_or_default();
        if id == "none" {
            reader.tell("tile", "\"none\" stands for surface without a tile".to_string(), "another id");
        }
        if let Some(earlier) = first.get(id).filter(|_| !id.is_empty()) {
            reader.tell("tile", format!("the tile {id:?} stands twice, first in row {earlier}"), "each tile once");
        }
        first.entry(id).or_insert(row + source.first_row);
        rows.extend(reader.read(id));
    }
    rows
}

struct RowReader<'a> {
    source: &'a Source<'a>,
    library: &'a Library,
    stacks: &'a [Stack],
    problems: &'a mut Problems,
    warnings: &'a mut Vec<String>,
    row: usize,
}

impl<'a> RowReader<'a> {
    fn tell(&mut self, column: &str, what: String, accepted: impl Into<String>) {
        self.problems.at_cell(self.row + self.source.first_row, column, what, accepted);
    }

    fn cell(&self, name: &str) -> Option<&'a str> {
        self.source.table.cell(self.row, name)
    }

    fn required(&mut self, name: &str, accepted: &str) -> Option<&'a str> {
        let cell = self.cell(name);
        if cell.is_none() {
            self.tell(name, "the cell is empty".to_string(), accepted);
        }
        cell
    }

    fn number(&mut self, name: &str, range: Range) -> Option<f64> {
        match self.source.table.number(self.row, name) {
            Ok(None) => None,
            Ok(Some(value)) if range.holds(value) => Some(value),
            _ => {
                let cell = self.cell(name).unwrap_or_default();
                self.tell(name, format!("{cell:?} is out of range or no number"), range.to_string());
                None
            }
        }
    }

    fn whole(&mut self, name: &str) -> Option<u32> {
        let cell = self.cell(name)?;
        match whole_number(cell) {
            Some(value) => Some(value),
            None => {
                self.tell(name, format!("{cell:?} is no flight"), "a whole number from 0 up");
                None
            }
        }
    }

    fn read(&mut self, id: &str) -> Option<TileRow> {
        let before = self.problems.list.len();
        let material = self.material();
        let kind = material.map(|i| self.library.materials[i].kind);
        let coating = self.coating(kind);
        let stack = self.stack(kind);
        self.required("thickness_mm", "a number above 0")?;
        let thickness_m = self.number("thickness_mm", Range::POSITIVE).map(|mm| mm * 1e-3);
        let density = self.number("density_kg_m3", Range::POSITIVE);
        let emissivity = self.number("emissivity", Range::above_to(0.0, 1.0));
        let solar_absorptance = self.number("solar_absorptance", Range::between(0.0, 1.0));
        let nose_radius_m = self.number("nose_radius_m", Range::POSITIVE);
        let running_length_m = self.number("running_length_m", Range::POSITIVE);
        let heating_factor = self.number("heating_factor", Range::NOT_NEGATIVE).unwrap_or(1.0);
        let installed_flight = self.whole("installed_flight");
        let waterproofed = self.whole("waterproofed");
        let state = match self.cell("state") {
            None => TileState::default(),
            Some(word) => match TileState::ALL.into_iter().find(|state| state.word() == word) {
                Some(state) => state,
                None => {
                    self.tell("state", format!("unknown state {word:?}"), TileState::ALL.map(TileState::word).join(", "));
                    TileState::default()
                }
            },
        };
        if self.problems.list.len() > before {
            return None;
        }
        let (material, thickness_m) = (material?, thickness_m?);
        let face = coating.unwrap_or(material);
        if emissivity.is_none() && self.library.materials[face].emissivity.is_none() {
            let id = &self.library.materials[face].id;
            self.tell("emissivity", format!("{id:?} has no emissivity of its own"), "a number above 0 to 1 in this column, or a coating");
            return None;
        }
        if thickness_m > 0.5 {
            self.warnings.push(format!(
                "{}, row {}, column thickness_mm: tile {id:?} is {} mm thick; is the unit right?",
                self.source.file,
                self.row + self.source.first_row,
                thickness_m * 1e3
            ));
        }
        let text = |name: &str| self.cell(name).unwrap_or_default().to_string();
        Some(TileRow {
            id: id.to_string(),
            zone: text("zone"),
            material,
            coating,
            stack,
            thickness_m,
            density_kg_m3: density.unwrap_or(self.library.materials[material].density_kg_m3),
            emissivity,
            solar_absorptance,
            nose_radius_m,
            running_length_m,
            heating_factor,
            part: text("part"),
            serial: text("serial"),
            installed_flight,
            waterproofed,
            state,
            row: self.row + self.source.first_row,
        })
    }

    fn material(&mut self) -> Option<usize> {
        let carries = |m: &Material| m.kind != Kind::Coating;
        let library = self.library;
        let id = self.required("material", &library.ids(carries))?;
        let found = library.find(id);
        match found {
            None => self.tell("material", format!("unknown material {id:?}"), library.ids(carries)),
            Some(i) if !carries(&library.materials[i]) => {
                self.tell("material", format!("{id:?} is a coating"), library.ids(carries));
                return None;
            }
            _ => {}
        }
        found
    }

    /// The column, else `rcg` on kind `tile` and none elsewhere.
    fn coating(&mut self, kind: Option<Kind>) -> Option<usize> {
        let default = if kind == Some(Kind::Tile) { "rcg" } else { "none" };
        let id = self.cell("coating").unwrap_or(default);
        if id == "none" {
            return None;
        }
        let coats = |m: &Material| m.kind == Kind::Coating;
        let found = self.library.find(id).filter(|i| coats(&self.library.materials[*i]));
        if found.is_none() {
            self.tell("coating", format!("unknown coating {id:?}"), format!("none, {}", self.library.ids(coats)));
        }
        found
    }

    /// The column, else `none` on kind `hot structure` and `default` elsewhere.
    fn stack(&mut self, kind: Option<Kind>) -> Option<usize> {
        let default = if kind == Some(Kind::HotStructure) { "none" } else { stack::DEFAULT };
        let name = self.cell("stack").unwrap_or(default);
        if name == "none" {
            return None;
        }
        let found = self.stacks.iter().position(|stack| stack.name == name);
        if found.is_none() {
            let names: Vec<&str> = self.stacks.iter().map(|stack| stack.name.as_str()).collect();
            self.tell("stack", format!("unknown stack {name:?}"), format!("none, {}", names.join(", ")));
        }
        found
    }
}

/// A whole number from 0 up, written with digits alone or as a number without a fraction (`12.0`).
pub fn whole_number(cell: &str) -> Option<u32> {
    let value: f64 = cell.parse().ok()?;
    (value.fract() == 0.0 && (0.0..=f64::from(u32::MAX)).contains(&value)).then_some(value as u32)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(csv: &str) -> (Vec<TileRow>, String, Vec<String>) {
        let library = Library::built_in();
        let stacks = Stack::built_in(&library).unwrap();
        let table = CsvTable::read("tiles.csv", csv.as_bytes()).unwrap();
        let mut problems = Problems::of("tiles.csv");
        let mut warnings = Vec::new();
        let source = Source { file: "tiles.csv", table: &table, first_row: 2 };
        let rows = read(&source, &library, &stacks, &mut problems, &mut warnings);
        let text = if problems.is_empty() { String::new() } else { problems.into_error().to_string() };
        (rows, text, warnings)
    }

    /// The defaults of FORMATS.md "A vehicle", row `tiles.csv`.
    #[test]
    fn verif_defaults_by_kind() {
        let (rows, error, warnings) =
            check("tile,material,thickness_mm,colour\n0001,LI-900,25.4,x\nN,rcc,6,\nB,afrsi,20,\nC,LI-2200,30,\n");
        assert_eq!(error, "");
        assert_eq!(warnings.len(), 1, "{warnings:?}");
        assert!(warnings[0].contains("tiles.csv") && warnings[0].contains("\"colour\""));
        let library = Library::built_in();
        let rcg = library.find("rcg");
        let got: Vec<_> = rows.iter().map(|row| (row.coating, row.stack)).collect();
        assert_eq!(got, [(rcg, Some(0)), (None, None), (None, Some(0)), (rcg, Some(0))]);
        assert_eq!((rows[0].thickness_m, rows[0].density_kg_m3, rows[0].heating_factor), (25.4e-3, 144.2, 1.0));
        assert_eq!((rows[0].state, rows[0].installed_flight, rows[3].row), (TileState::InService, None, 5));
    }

    #[test]
    fn verif_every_wrong_cell_is_named_with_row_and_column() {
        let head = "tile,material,thickness_mm,zone,coating,stack,density_kg_m3,emissivity,solar_absorptance,nose_radius_m,\
                    running_length_m,heating_factor,part,serial,installed_flight,waterproofed,state\n0001,LI-900,20,,,,,,,,,,,,,,\n";
        let good = "0002,LI-900,20,,,,,,,,,,,,,,";
        for (i, cell, column, wants) in [
            (0, "0001", "tile", &["\"0001\" stands twice", "first in row 2"][..]),
            (0, "", "tile", &["empty"]),
            (0, "none", "tile", &["without a tile"]),
            (1, "LI-9000", "material", &["unknown material \"LI-9000\"", "li-900, li-2200"]),
            (1, "", "material", &["empty"]),
            (1, "rcg", "material", &["is a coating"]),
            (2, "0", "thickness_mm", &["\"0\"", "above 0"]),
            (2, "-3", "thickness_mm", &["\"-3\""]),
            (2, "NaN", "thickness_mm", &["\"NaN\""]),
            (2, "inf", "thickness_mm", &["\"inf\""]),
            (2, "1e999", "thickness_mm", &["\"1e999\""]),
            (2, "", "thickness_mm", &["empty"]),
            (2, "2,5", "thickness_mm", &["\"2,5\""]),
            (4, "li-900", "coating", &["unknown coating \"li-900\"", "none, rcg"]),
            (5, "other", "stack", &["unknown stack \"other\"", "none, default"]),
            (6, "0", "density_kg_m3", &["\"0\""]),
            (7, "1.5", "emissivity", &["\"1.5\"", "above 0 to 1"]),
            (8, "-0.1", "solar_absorptance", &["\"-0.1\"", "from 0 to 1"]),
            (9, "0", "nose_radius_m", &["above 0"]),
            (10, "x", "running_length_m", &["\"x\""]),
            (11, "-1", "heating_factor", &["from 0 up"]),
            (14, "1.5", "installed_flight", &["\"1.5\"", "whole number"]),
            (15, "-1", "waterproofed", &["\"-1\"", "whole number"]),
            (16, "worn", "state", &["\"worn\"", "planned, fitted, bonded, tested, in-service"]),
        ] {
            let mut cells: Vec<String> = good.split(',').map(str::to_string).collect();
            cells[i] = format!("\"{cell}\"");
            let (_, error, _) = check(&format!("{head}{}\n", cells.join(",")));
            assert!(error.contains(&format!("in tiles.csv, row 3, column {column}")), "{cell:?}: {error}");
            assert_eq!(error.matches("error: ").count(), 1, "{error}");
            for want in wants {
                assert!(error.contains(want), "{want} in {error}");
            }
        }
        let (_, error, _) = check("tile,thickness\n1,2\n");
        assert!(error.contains("row 1, column material") && error.contains("column thickness_mm"), "{error}");
        let (_, error, _) = check("tile,material,thickness_mm\n");
        assert!(error.contains("no tile"), "{error}");
        let (_, error, _) = check("tile,material,thickness_mm\nA,al-2024,3\n");
        assert!(error.contains("row 2, column emissivity") && error.contains("\"al-2024\""), "{error}");
    }

    #[test]
    fn verif_all_problems_of_the_table_are_told_at_once() {
        let mut csv = "tile,material,thickness_mm\n".to_string();
        for i in 0..40 {
            csv += &format!("{i:04},LI-900,{}\n", if i % 2 == 0 { "0" } else { "20" });
        }
        let (_, error, _) = check(&csv);
        assert_eq!(error.matches("error: ").count(), 10);
        assert!(error.contains("20 problems"), "{error}");
    }
}
