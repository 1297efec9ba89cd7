//! CSV as FORMATS.md has it: comma, UTF-8 with or without a byte-order mark, LF or CRLF in, LF out, every row as long as its header.

use super::problem::{Error, Problems};
use super::text::{guard, unguard};

/// A table read whole: header and rows, cells trimmed of the guard's apostrophe.
#[derive(Debug, Clone, PartialEq)]
pub struct CsvTable {
    pub header: Vec<String>,
    /// Cells as meant, one vector a row, each as long as the header.
    pub rows: Vec<Vec<String>>,
}

impl CsvTable {
    /// Reads `bytes`; a row that is longer or shorter than the header, a missing or repeated header are problems.
    pub fn read(file: &str, bytes: &[u8]) -> Result<CsvTable, Error> {
        let mut problems = Problems::of(file);
        let text = match std::str::from_utf8(bytes) {
            Ok(text) => text.strip_prefix('\u{feff}').unwrap_or(text),
            Err(error) => {
                problems.at_key("", format!("not UTF-8 text: {error}"), "UTF-8");
                return Err(problems.into_error());
            }
        };
        let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(text.as_bytes());
        let mut records = reader.records();
        let header: Vec<String> = match records.next() {
            Some(Ok(record)) => record.iter().map(|name| name.trim().to_string()).collect(),
            Some(Err(error)) => {
                problems.at_cell(1, "", format!("not valid CSV: {error}"), "comma-separated UTF-8");
                Vec::new()
            }
            None => {
                problems.at_key("", "the table is empty", "a header row");
                Vec::new()
            }
        };
        for (i, name) in header.iter().enumerate() {
            if name.is_empty() || header[..i].contains(name) {
                problems.at_cell(1, name, format!("the column header {name:?} is empty or stands twice"), "each header once");
            }
        }
        let mut rows = Vec::new();
        for (i, record) in records.enumerate() {
            let row = i + 2;
            match record {
                Ok(record) if record.len() == header.len() => {
                    rows.push(record.iter().map(|cell| unguard(cell.trim()).to_string()).collect())
                }
                Ok(record) => problems.at_cell(
                    row,
                    "",
                    format!("{} cells where the header has {}", record.len(), header.len()),
                    "as many cells as the header",
                ),
                Err(error) => problems.at_cell(row, "", format!("not valid CSV: {error}"), "comma-separated UTF-8"),
            }
        }
        problems.or_ok(CsvTable { header, rows })
    }

    /// The index of a column.
    pub fn column(&self, name: &str) -> Option<usize> {
        self.header.iter().position(|header| header == name)
    }

    /// A cell as a finite number: `Ok(None)` where the column is absent or the cell empty, `Err` with the text where it is no number.
    pub fn number(&self, row: usize, name: &str) -> Result<Option<f64>, &str> {
        let Some(cell) = self.cell(row, name) else { return Ok(None) };
        match cell.parse::<f64>() {
            Ok(value) if value.is_finite() && !cell.contains(['n', 'N', 'i', 'I']) => Ok(Some(value)),
            _ => Err(cell),
        }
    }

    /// A cell's text, `None` where the column is absent or the cell empty.
    pub fn cell(&self, row: usize, name: &str) -> Option<&str> {
        self.column(name).map(|column| self.rows[row][column].as_str()).filter(|cell| !cell.is_empty())
    }

    /// The columns that `known` does not list, for a warning.
    pub fn unknown_columns<'a>(&'a self, known: &[&str]) -> Vec<&'a str> {
        self.header.iter().map(String::as_str).filter(|name| !known.contains(name)).collect()
    }
}

/// Writes a table: LF, cells quoted where needed. Number cells come as text already; `guarded` marks the text columns.
pub fn write(header: &[&str], rows: impl Iterator<Item = Vec<String>>, guarded: &[bool]) -> String {
    let mut out = csv::WriterBuilder::new().terminator(csv::Terminator::Any(b'\n')).from_writer(Vec::new());
    // Writing to memory cannot fail.
    let _ = out.write_record(header);
    for row in rows {
        let cells = row.iter().enumerate().map(|(i, cell)| if guarded.get(i) == Some(&true) { guard(cell) } else { cell.clone() });
        let _ = out.write_record(cells.collect::<Vec<_>>());
    }
    String::from_utf8(out.into_inner().unwrap_or_default()).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_bom_crlf_quotes_and_row_length() {
        let table = CsvTable::read("t.csv", "\u{feff}tile,note\r\n0001,\"a, b\"\r\n0002,'=x\r\n".as_bytes()).unwrap();
        assert_eq!(table.rows, [["0001", "a, b"], ["0002", "=x"]]);
        let error = CsvTable::read("t.csv", b"a,b\n1\n1,2,3\n").unwrap_err().to_string();
        assert!(error.contains("row 2") && error.contains("row 3"), "{error}");
        let text = write(&["a", "b"], [vec!["-1".to_string(), "-x".to_string()]].into_iter(), &[false, true]);
        assert_eq!(text, "a,b\n-1,'-x\n");
    }
}
