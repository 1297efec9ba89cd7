//! What is wrong, where it stands, and what would be accepted: the crate's one error type.

use std::fmt;

/// At most this many problems are spelled out in a message; the rest are counted.
pub const PROBLEMS_TOLD: usize = 10;
/// A message never grows past this many characters.
pub const MESSAGE_CHARACTERS: usize = 4000;

/// Where a problem stands. Every part is optional; rows count from 1 with the header as row 1.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Place {
    pub file: Option<String>,
    pub row: Option<usize>,
    /// A column header of a table, or the path of a key (`layers[2].material`).
    pub key: Option<String>,
}

/// One problem: what is wrong, where, and what would be accepted.
#[derive(Debug, Clone, PartialEq)]
pub struct Problem {
    pub what: String,
    pub place: Place,
    pub accepted: Option<String>,
}

impl fmt::Display for Problem {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(&self.what)?;
        let place = &self.place;
        let mut parts = Vec::new();
        if let Some(file) = &place.file {
            parts.push(file.clone());
        }
        if let Some(row) = place.row {
            parts.push(format!("row {row}"));
        }
        if let Some(key) = &place.key {
            parts.push(if place.row.is_some() { format!("column {key}") } else { key.clone() });
        }
        if !parts.is_empty() {
            write!(out, ", in {}", parts.join(", "))?;
        }
        if let Some(accepted) = &self.accepted {
            write!(out, "; accepted: {accepted}")?;
        }
        Ok(())
    }
}

/// The problems of one file, gathered while it is read to its end.
#[derive(Debug, Clone, Default)]
pub struct Problems {
    /// Put into every problem's place; empty for command-line options.
    pub file: Option<String>,
    pub list: Vec<Problem>,
}

impl Problems {
    /// An empty list whose problems will name `file`.
    pub fn of(file: impl Into<String>) -> Self {
        Self { file: Some(file.into()), list: Vec::new() }
    }

    /// Adds a problem at a key path (empty for the file as a whole).
    pub fn at_key(&mut self, key: impl Into<String>, what: impl Into<String>, accepted: impl Into<String>) {
        self.push(None, key.into(), what.into(), accepted.into());
    }

    /// Adds a problem at a row (1 is the header) and column of a table.
    pub fn at_cell(&mut self, row: usize, column: impl Into<String>, what: impl Into<String>, accepted: impl Into<String>) {
        self.push(Some(row), column.into(), what.into(), accepted.into());
    }

    fn push(&mut self, row: Option<usize>, key: String, what: String, accepted: String) {
        self.list.push(Problem {
            what,
            place: Place { file: self.file.clone(), row, key: (!key.is_empty()).then_some(key) },
            accepted: (!accepted.is_empty()).then_some(accepted),
        });
    }

    pub fn is_empty(&self) -> bool {
        self.list.is_empty()
    }

    /// `value` if nothing was wrong, else the bad-input error with every problem.
    pub fn or_ok<T>(self, value: T) -> Result<T, Error> {
        if self.list.is_empty() { Ok(value) } else { Err(Error::bad_input(self.list)) }
    }

    pub fn into_error(self) -> Error {
        Error::bad_input(self.list)
    }
}

/// The two ways to fail: the input is wrong (exit code 2), or a computation failed (exit code 1).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Failure {
    BadInput,
    Computation,
}

/// The crate's one error: its kind and every problem found.
#[derive(Debug, Clone, PartialEq)]
pub struct Error {
    pub failure: Failure,
    pub problems: Vec<Problem>,
}

impl Error {
    pub fn bad_input(problems: Vec<Problem>) -> Self {
        Self { failure: Failure::BadInput, problems }
    }

    /// One bad-input problem without a place.
    pub fn bad(what: impl Into<String>, accepted: impl Into<String>) -> Self {
        let mut problems = Problems::default();
        problems.at_key("", what, accepted);
        problems.into_error()
    }

    /// A computation that failed on good input.
    pub fn failed(what: impl Into<String>) -> Self {
        Self { failure: Failure::Computation, problems: vec![Problem { what: what.into(), place: Place::default(), accepted: None }] }
    }

    /// The process exit code: 2 for bad input, 1 for a failed computation.
    pub fn exit_code(&self) -> i32 {
        match self.failure {
            Failure::BadInput => 2,
            Failure::Computation => 1,
        }
    }
}

impl std::error::Error for Error {}

impl fmt::Display for Error {
    /// `error: …`, one line a problem, the first ten and their count, at most 4,000 characters.
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let count = self.problems.len();
        let mut lines = Vec::new();
        for problem in self.problems.iter().take(PROBLEMS_TOLD) {
            let share = MESSAGE_CHARACTERS / PROBLEMS_TOLD - 40;
            let line = problem.to_string().replace(['\n', '\r'], " ");
            let line =
                if count > 1 && line.chars().count() > share { line.chars().take(share).chain("…".chars()).collect() } else { line };
            lines.push(format!("error: {line}"));
        }
        if count > PROBLEMS_TOLD {
            lines.push(format!("{count} problems in all, the first {PROBLEMS_TOLD} above"));
        }
        let text: String = lines.join("\n").chars().take(MESSAGE_CHARACTERS - 1).collect();
        out.write_str(&text)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_a_message_tells_ten_and_the_count_and_stays_short() {
        let mut problems = Problems::of("tiles.csv");
        for row in 2..402 {
            problems.at_cell(row, "thickness_mm", format!("{:?} is no thickness", "x".repeat(2000)), "a number above 0");
        }
        let text = problems.into_error().to_string();
        assert!(text.starts_with("error: "));
        assert!(text.chars().count() < MESSAGE_CHARACTERS);
        assert_eq!(text.matches("error: ").count(), PROBLEMS_TOLD);
        assert!(text.contains("400 problems"));
    }
}
