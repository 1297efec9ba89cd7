//! Measured traces: `time_s` and one `<probe>_k` column per thermocouple, and how far the computed ones lie from them.

use super::case::{Case, Probe};
use super::solve::Solution;
use crate::document::csv::CsvTable;
use crate::document::{Error, Json, Problems};

const MOST_ROWS: usize = 1_000_000;

/// One thermocouple's readings at the traces' times.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    /// Index into the case's probes.
    pub probe: usize,
    pub values_k: Vec<f64>,
}

/// A test's readings.
#[derive(Debug, Clone, PartialEq)]
pub struct Traces {
    /// Never falling, within the run.
    pub times_s: Vec<f64>,
    /// In the order of the case's probes.
    pub traces: Vec<Trace>,
    /// One for each unknown column.
    pub warnings: Vec<String>,
}

impl Traces {
    /// Reads `bytes` against a case: every used cell a number, times within the run that never fall back, no trace without a probe.
    pub fn read(file: &str, bytes: &[u8], case: &Case) -> Result<Traces, Error> {
        let table = CsvTable::read(file, bytes)?;
        let mut problems = Problems::of(file);
        let probes: Vec<String> = case.probes.iter().map(|probe| format!("{}_k", probe.name)).collect();
        let accepted = format!("time_s and one of {}", probes.join(", "));
        if table.rows.is_empty() {
            problems.at_key("", "the trace has no row", "a row at least");
        }
        if table.rows.len() > MOST_ROWS {
            problems.at_key("", format!("{} rows", table.rows.len()), format!("at most {MOST_ROWS}"));
            return Err(problems.into_error());
        }
        if table.column("time_s").is_none() {
            problems.at_cell(1, "time_s", "the column \"time_s\" is missing", accepted.clone());
        }
        let mut warnings = Vec::new();
        for name in table.header.iter().filter(|name| *name != "time_s" && !probes.contains(name)) {
            let other_unit = case.probes.iter().find(|probe| is_other_unit(name, probe));
            if let Some(probe) = other_unit {
                let what = format!("the column {name:?} holds another unit than kelvin, or none");
                problems.at_cell(1, name, what, format!("\"{}_k\" with temperatures in kelvin", probe.name));
            } else if name.ends_with("_k") {
                problems.at_cell(1, name, format!("the trace {name:?} has no probe in the case"), accepted.clone());
            } else {
                warnings.push(format!("{file}: the column {name:?} is not known and was not read"));
            }
        }
        let column = |name: &str, low: f64, problems: &mut Problems| {
            let mut values = Vec::with_capacity(table.rows.len());
            for row in 0..table.rows.len() {
                match table.number(row, name) {
                    Ok(Some(value)) if value > low => values.push(value),
                    Ok(Some(value)) => problems.at_cell(row + 2, name, format!("{value} is out of range"), "a temperature above 0 K"),
                    Ok(None) => problems.at_cell(row + 2, name, "the cell is empty", "a number in every cell"),
                    Err(text) => problems.at_cell(row + 2, name, format!("{text:?} is no number"), "a finite number in every cell"),
                }
            }
            values
        };
        let mut times_s = Vec::new();
        if table.column("time_s").is_some() {
            times_s = column("time_s", f64::NEG_INFINITY, &mut problems);
            if times_s.len() == table.rows.len() {
                check_times(&times_s, case.duration_s, &mut problems);
            }
        }
        let mut traces = Vec::new();
        for (probe, name) in probes.iter().enumerate() {
            if table.column(name).is_some() {
                traces.push(Trace { probe, values_k: column(name, 0.0, &mut problems) });
            }
        }
        if traces.is_empty() && problems.is_empty() {
            problems.at_cell(1, "", "no column holds a probe's trace", accepted);
        }
        problems.or_ok(Traces { times_s, traces, warnings })
    }

    /// How many readings there are over all traces.
    pub fn count(&self) -> usize {
        self.traces.iter().map(|trace| trace.values_k.len()).sum()
    }
}

/// Whether a header names the probe with another unit than `_k`, or with none.
fn is_other_unit(header: &str, probe: &Probe) -> bool {
    let Some(rest) = header.strip_prefix(probe.name.as_str()) else { return false };
    ["", "_c", "_degc", "_f", "_degf", "_r", "_degr", "_celsius", "_fahrenheit", "_kelvin", "_mv"]
        .contains(&rest.to_ascii_lowercase().as_str())
}

fn check_times(times_s: &[f64], duration_s: f64, problems: &mut Problems) {
    for (i, at) in times_s.iter().enumerate() {
        if !(0.0..=duration_s).contains(at) {
            problems.at_cell(i + 2, "time_s", format!("{at} lies outside the run"), format!("a number from 0 to {duration_s}"));
        }
        if i > 0 && *at < times_s[i - 1] {
            problems.at_cell(i + 2, "time_s", format!("{at} falls back behind {}", times_s[i - 1]), "times that never fall");
        }
    }
}

/// How one computed trace lies from its measured one, K.
#[derive(Debug, Clone, PartialEq)]
pub struct Difference {
    pub probe: usize,
    /// Mean of computed minus measured.
    pub bias_k: f64,
    pub rms_k: f64,
    /// Largest absolute difference.
    pub max_k: f64,
    /// Computed peak (within the trace's time) minus the measured one.
    pub peak_difference_k: f64,
}

impl Difference {
    /// Of each trace; `computed` holds the case's probes at the traces' times.
    pub fn of(traces: &Traces, computed: &[Vec<f64>], solution: &Solution) -> Vec<Difference> {
        let within =
            |time_s: f64| traces.times_s.first().is_some_and(|t| *t <= time_s) && traces.times_s.last().is_some_and(|t| time_s <= *t);
        traces
            .traces
            .iter()
            .map(|trace| {
                let computed = &computed[trace.probe];
                let count = trace.values_k.len() as f64;
                let (mut sum, mut squares, mut most) = (0.0, 0.0, 0.0f64);
                for (mine, measured) in computed.iter().zip(&trace.values_k) {
                    let gap = mine - measured;
                    sum += gap;
                    squares += gap * gap;
                    most = most.max(gap.abs());
                }
                let highest = |values: &[f64]| values.iter().fold(f64::NEG_INFINITY, |most: f64, value| most.max(*value));
                let peak = solution.probe_peaks[trace.probe];
                let peak_k = if within(peak.time_s) { peak.temperature_k } else { highest(computed) };
                Difference {
                    probe: trace.probe,
                    bias_k: sum / count,
                    rms_k: (squares / count).sqrt(),
                    max_k: most,
                    peak_difference_k: peak_k - highest(&trace.values_k),
                }
            })
            .collect()
    }

    pub fn to_json(&self, case: &Case) -> Json {
        Json::object([
            ("probe", Json::text(case.probes[self.probe].name.clone())),
            ("bias_k", Json::Number(self.bias_k)),
            ("rms_k", Json::Number(self.rms_k)),
            ("max_k", Json::Number(self.max_k)),
            ("peak_difference_k", Json::Number(self.peak_difference_k)),
        ])
    }
}
