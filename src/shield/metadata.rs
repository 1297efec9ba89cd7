//! A property table of `EXT_structural_metadata` as a table of text cells, so that one reader checks it and tiles.csv alike.

use super::accessor::Buffers;
use super::table::COLUMNS;
use crate::document::Problems;
use crate::document::csv::CsvTable;
use gltf::json::Root;
use serde_json::{Map, Value};

/// At most so many rows are read.
const ROWS: u64 = 2_000_000;

/// Reads property table `index`: the properties named as columns of tiles.csv, of type `STRING`, `SCALAR`, `BOOLEAN` or `ENUM`, with
/// `noData`, `default`, `normalized`, `scale` and `offset`. Other properties are told as a warning.
///
/// Numbers become their shortest text (an f32 0.05 becomes `0.05`), no data becomes an empty cell.
pub fn property_table(buffers: &Buffers, index: usize, problems: &mut Problems, warnings: &mut Vec<String>) -> Option<CsvTable> {
    const ROOT: &str = "extensions.EXT_structural_metadata";
    let Some(extension) = extension(buffers.root) else {
        problems.at_key(ROOT, "a feature id set names a property table, but the file has none", "EXT_structural_metadata");
        return None;
    };
    let here = format!("{ROOT}.propertyTables[{index}]");
    let Some(table) = extension.get("propertyTables").and_then(|tables| tables.get(index)) else {
        problems.at_key(here, "there is no such property table", "an index within propertyTables");
        return None;
    };
    let count = match table.get("count").and_then(Value::as_u64) {
        Some(count) if count <= ROWS => count as usize,
        _ => {
            problems.at_key(format!("{here}.count"), "missing or too large", format!("a whole number up to {ROWS}"));
            return None;
        }
    };
    if extension.get("schema").is_none() && extension.get("schemaUri").is_some() {
        problems.at_key(format!("{ROOT}.schemaUri"), "the schema lies outside the file", "a schema within the file");
        return None;
    }
    let class = table.get("class").and_then(Value::as_str).unwrap_or_default();
    let classes = extension.get("schema").and_then(|schema| schema.get("classes"));
    let Some(types) = classes.and_then(|classes| classes.get(class)).and_then(|class| class.get("properties")).and_then(Value::as_object)
    else {
        problems.at_key(format!("{here}.class"), format!("{class:?} is no class with properties of the schema"), "a class of the schema");
        return None;
    };
    let nothing = Map::new();
    let properties = table.get("properties").and_then(Value::as_object).unwrap_or(&nothing);
    let mut header = Vec::new();
    let mut columns: Vec<Vec<String>> = Vec::new();
    for (name, kind) in types {
        let path = format!("{here}.properties.{name}");
        if !COLUMNS.contains(&name.as_str()) {
            let file = problems.file.clone().unwrap_or_default();
            warnings.push(format!("{file}: unknown property {name:?} ignored; known: {}", COLUMNS.join(", ")));
            continue;
        }
        let enums = extension.get("schema").and_then(|schema| schema.get("enums"));
        let column = match properties.get(name) {
            Some(place) => Column { buffers, kind, place, enums, count }.read(),
            None => Ok(vec![default_of(kind); count]),
        };
        match column {
            Ok(column) => {
                header.push(name.clone());
                columns.push(column);
            }
            Err(what) => problems.at_key(path, what, "STRING, SCALAR, BOOLEAN or ENUM values, one for each row"),
        }
    }
    let mut rows: Vec<Vec<String>> = vec![Vec::with_capacity(columns.len()); count];
    for column in columns {
        for (row, cell) in rows.iter_mut().zip(column) {
            row.push(cell);
        }
    }
    Some(CsvTable { header, rows })
}

fn extension(root: &Root) -> Option<&Value> {
    root.extensions.as_ref()?.others.get("EXT_structural_metadata")
}

fn default_of(kind: &Value) -> String {
    kind.get("default").map_or(String::new(), text_of)
}

fn text_of(value: &Value) -> String {
    value.as_str().map_or_else(|| value.to_string(), str::to_string)
}

struct Column<'a> {
    buffers: &'a Buffers<'a>,
    /// The class property.
    kind: &'a Value,
    /// The table's property: where the values lie.
    place: &'a Value,
    enums: Option<&'a Value>,
    count: usize,
}

impl Column<'_> {
    fn read(&self) -> Result<Vec<String>, String> {
        if self.kind.get("array").and_then(Value::as_bool) == Some(true) {
            return Err("an array property".to_string());
        }
        let word = |key: &str| self.kind.get(key).and_then(Value::as_str).unwrap_or_default();
        let mut cells = match word("type") {
            "STRING" => self.strings()?,
            "SCALAR" => self.numbers(word("componentType"))?,
            "BOOLEAN" => {
                let bytes = self.view("values")?;
                let bit = |i: usize| bytes.get(i / 8).map(|byte| (byte >> (i % 8) & 1 == 1).to_string());
                (0..self.count).map(|i| bit(i).ok_or_else(short)).collect::<Result<_, _>>()?
            }
            "ENUM" => self.names(word("enumType"))?,
            other => return Err(format!("a property of type {other:?}")),
        };
        if let Some(none) = self.kind.get("noData").map(text_of) {
            let default = default_of(self.kind);
            for cell in cells.iter_mut().filter(|cell| **cell == none || same_number(cell, &none)) {
                cell.clone_from(&default);
            }
        }
        Ok(cells)
    }

    fn view(&self, key: &str) -> Result<&[u8], String> {
        let index = self.place.get(key).and_then(Value::as_u64).ok_or_else(|| format!("{key} names no buffer view"))?;
        self.buffers.view(usize::try_from(index).unwrap_or(usize::MAX)).map(|(bytes, _)| bytes)
    }

    fn strings(&self) -> Result<Vec<String>, String> {
        let bytes = self.view("values")?;
        let kind = self.place.get("stringOffsetType").and_then(Value::as_str).unwrap_or("UINT32");
        let offsets = integers(self.view("stringOffsets")?, kind, self.count + 1)?;
        let mut cells = Vec::with_capacity(self.count);
        for pair in offsets.windows(2) {
            let range = usize::try_from(pair[0]).ok().zip(usize::try_from(pair[1]).ok()).map(|(from, to)| from..to);
            let slice = range.and_then(|range| bytes.get(range)).ok_or("a text's offsets reach beyond its values")?;
            let text = std::str::from_utf8(slice).map_err(|_| format!("text {} is not UTF-8", cells.len()))?;
            cells.push(text.trim().to_string());
        }
        Ok(cells)
    }

    fn numbers(&self, component: &str) -> Result<Vec<String>, String> {
        let bytes = self.view("values")?;
        let factor = |key: &str| [self.place, self.kind].iter().find_map(|node| node.get(key).and_then(Value::as_f64));
        let (scale, offset) = (factor("scale"), factor("offset"));
        let normalized = self.kind.get("normalized").and_then(Value::as_bool) == Some(true);
        let plain = scale.is_none() && offset.is_none() && !normalized;
        let transformed = |value: f64, highest: f64| {
            let value = if normalized { (value / highest).max(-1.0) } else { value };
            (value * scale.unwrap_or(1.0) + offset.unwrap_or(0.0)).to_string()
        };
        match component {
            "FLOAT32" => {
                let values = bytes.chunks_exact(4).take(self.count).map(|b| f32::from_le_bytes([b[0], b[1], b[2], b[3]]));
                let cells: Vec<String> =
                    values.map(|value| if plain { value.to_string() } else { transformed(value.into(), 1.0) }).collect();
                if cells.len() == self.count { Ok(cells) } else { Err(short()) }
            }
            "FLOAT64" => {
                let values =
                    bytes.chunks_exact(8).take(self.count).map(|b| f64::from_le_bytes([b[0], b[1], b[2], b[3], b[4], b[5], b[6], b[7]]));
                let cells: Vec<String> = values.map(|value| transformed(value, 1.0)).collect();
                if cells.len() == self.count { Ok(cells) } else { Err(short()) }
            }
            _ => {
                let highest = match component {
                    "INT8" => f64::from(i8::MAX),
                    "UINT8" => f64::from(u8::MAX),
                    "INT16" => f64::from(i16::MAX),
                    "UINT16" => f64::from(u16::MAX),
                    "INT32" => f64::from(i32::MAX),
                    "UINT32" => f64::from(u32::MAX),
                    "INT64" => i64::MAX as f64,
                    _ => u64::MAX as f64,
                };
                let values = integers(bytes, component, self.count)?;
                Ok(values.into_iter().map(|value| if plain { value.to_string() } else { transformed(value as f64, highest) }).collect())
            }
        }
    }

    fn names(&self, name: &str) -> Result<Vec<String>, String> {
        let enumeration = self.enums.and_then(|enums| enums.get(name)).ok_or_else(|| format!("the schema has no enum {name:?}"))?;
        let kind = enumeration.get("valueType").and_then(Value::as_str).unwrap_or("UINT16");
        let known = enumeration.get("values").and_then(Value::as_array).map(Vec::as_slice).unwrap_or_default();
        let values = integers(self.view("values")?, kind, self.count)?;
        let name_of = |value: &i128| {
            let entry = known.iter().find(|entry| entry.get("value").and_then(Value::as_i64).map(i128::from) == Some(*value));
            let name = entry.and_then(|entry| entry.get("name")).and_then(Value::as_str);
            name.map(str::to_string).ok_or_else(|| format!("the enum {name:?} has no value {value}"))
        };
        values.iter().map(name_of).collect()
    }
}

fn short() -> String {
    "fewer values than the table has rows".to_string()
}

fn same_number(a: &str, b: &str) -> bool {
    // An f32 sentinel in the file stands in the schema as the double nearest to it, or as the decimal text of it.
    a.parse::<f64>().ok().zip(b.parse::<f64>().ok()).is_some_and(|(a, b)| a == b || (a as f32).to_bits() == (b as f32).to_bits())
}

/// The first `count` integers of a component type, little endian.
fn integers(bytes: &[u8], kind: &str, count: usize) -> Result<Vec<i128>, String> {
    let (size, signed) = match kind {
        "INT8" => (1, true),
        "UINT8" => (1, false),
        "INT16" => (2, true),
        "UINT16" => (2, false),
        "INT32" => (4, true),
        "UINT32" => (4, false),
        "INT64" => (8, true),
        "UINT64" => (8, false),
        other => return Err(format!("component type {other:?}")),
    };
    let number = |bytes: &[u8]| {
        let unsigned = bytes.iter().rev().fold(0i128, |value, byte| value << 8 | i128::from(*byte));
        let half = 1i128 << (8 * size - 1);
        if signed && unsigned >= half { unsigned - 2 * half } else { unsigned }
    };
    let values: Vec<i128> = bytes.chunks_exact(size).take(count).map(number).collect();
    if values.len() == count { Ok(values) } else { Err(short()) }
}
