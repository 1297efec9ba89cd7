//! The `tileglow-coupon-result/1` document: a case solved, compared with its traces, and fitted to them.

use super::case::Case;
use super::fit::{self, Fit, Run};
use super::solve::{Solution, solve};
use super::traces::{Difference, Traces};
use crate::document::Sorting as _;
use crate::document::{Error, Json, Problems};
use crate::material::Library;
use crate::tile::face::{Face, WallEnthalpy};
use sha2::{Digest, Sha256};

pub const RESULT_FORMAT: &str = "tileglow-coupon-result/1";
/// A stated error above this is told as a warning.
const COARSE_K: f64 = 0.5;

/// A file as it came in: its name for messages, and its bytes.
#[derive(Debug, Clone, Copy)]
pub struct Input<'a> {
    pub name: &'a str,
    pub bytes: &'a [u8],
}

/// Everything that a coupon run gives: the document and what plots need.
#[derive(Debug, Clone, PartialEq)]
pub struct Outcome {
    pub case: Case,
    /// The case with the fitted scales, else the case itself.
    pub fitted: Case,
    pub solution: Solution,
    pub traces: Option<Traces>,
    pub comparison: Vec<Difference>,
    pub fit: Option<Fit>,
    pub warnings: Vec<String>,
    pub json: Json,
}

/// Solves the case, compares it with `measured`, fits the scales `names`. Bad input names its file and place; a run that cannot be
/// solved is a failed computation.
pub fn coupon(
    case: Input,
    measured: Option<Input>,
    names: &[String],
    library: &Library,
    wall: &dyn WallEnthalpy,
) -> Result<Outcome, Error> {
    if !names.is_empty() && measured.is_none() {
        return Err(Error::bad("--fit without --measured", "--measured TRACES.csv beside --fit"));
    }
    let text = std::str::from_utf8(case.bytes).map_err(|error| {
        let mut problems = Problems::of(case.name);
        problems.at_key("", format!("not UTF-8 text: {error}"), "UTF-8");
        problems.into_error()
    })?;
    let read = Case::read(case.name, text, library)?;
    let traces = measured.map(|input| Traces::read(input.name, input.bytes, &read)).transpose()?;
    fit::check_names(&read, names)?;
    let digest = digest(&Json::parse(case.name, text)?, measured, names);

    let fit = match &traces {
        Some(traces) if !names.is_empty() => Some(fit::fit(&[Run { case: &read, traces }], names, wall)?),
        _ => None,
    };
    let fitted = match &fit {
        Some(fit) => fit::scaled(&read, &fit.scales.iter().map(|scale| (scale.name.as_str(), scale.scale)).collect::<Vec<_>>()),
        None => read.clone(),
    };
    let mut times = read.output_times_s.clone();
    times.extend(traces.iter().flat_map(|traces| traces.times_s.iter().copied()));
    times.order_by(f64::total_cmp);
    times.dedup();
    let solution = solve(&fitted, wall, &times)?;
    let at = |wanted: &[f64]| -> Vec<Vec<f64>> {
        let places: Vec<usize> = wanted.iter().map(|time| times.partition_point(|at| at < time)).collect();
        solution.values_k.iter().map(|values| places.iter().map(|place| values[*place]).collect()).collect()
    };
    let comparison = traces.as_ref().map_or(Vec::new(), |traces| Difference::of(traces, &at(&traces.times_s), &solution));
    let solution = Solution { values_k: at(&read.output_times_s), ..solution.clone() };

    let mut warnings = traces.as_ref().map_or(Vec::new(), |traces| traces.warnings.clone());
    warnings.extend(fit.iter().flat_map(|fit| fit.warnings.iter().cloned()));
    warnings.extend(ranges(&read, &solution));
    if solution.numerical_error_k > COARSE_K {
        warnings.push(format!(
            "the numerical error is {:.2} K: the output lies in a change too sharp for the finest grid",
            solution.numerical_error_k
        ));
    }
    let mut outcome = Outcome { case: read, fitted, solution, traces, comparison, fit, warnings, json: Json::Null };
    outcome.json = document(&outcome, &digest);
    Ok(outcome)
}

/// SHA-256 in hex over the case in canonical JSON, the traces' bytes and the fitted names, each after its length.
fn digest(case: &Json, measured: Option<Input>, names: &[String]) -> String {
    let mut sha = Sha256::new();
    let text = case.canonical();
    let names = names.join("\n");
    for part in [text.as_bytes(), measured.map_or(&[][..], |input| input.bytes), names.as_bytes()] {
        sha.update((part.len() as u64).to_le_bytes());
        sha.update(part);
    }
    sha.finalize().iter().map(|byte| format!("{byte:02x}")).collect()
}

/// A warning for each layer that leaves the range of its material's tables.
fn ranges(case: &Case, solution: &Solution) -> Vec<String> {
    let mut warnings = Vec::new();
    for (i, peaks) in solution.layer_peaks.iter().enumerate() {
        let (Some(peaks), Some((low, high))) = (peaks, case.valid_k[i]) else { continue };
        let name = &case.layer_names[i];
        if peaks.peak_k > high {
            warnings.push(format!("layer {name:?} reaches {:.0} K, its properties end at {high:.0} K and are held above", peaks.peak_k));
        }
        if case.initial_k < low {
            warnings
                .push(format!("layer {name:?} starts at {:.0} K, its properties begin at {low:.0} K and are held below", case.initial_k));
        }
    }
    warnings
}

fn document(outcome: &Outcome, digest: &str) -> Json {
    let Outcome { case, solution, .. } = outcome;
    let probes = case.probes.iter().zip(&solution.values_k).zip(&solution.probe_peaks).map(|((probe, values), peak)| {
        Json::object([
            ("name", Json::text(probe.name.clone())),
            ("depth_m", Json::Number(probe.depth_m)),
            ("temperature_k", Json::numbers(values)),
            ("peak_k", Json::Number(peak.temperature_k)),
            ("peak_time_s", Json::Number(peak.time_s)),
        ])
    });
    let layers = case.layer_names.iter().zip(&solution.layer_peaks).filter_map(|(name, peaks)| {
        let peaks = peaks.as_ref()?;
        Some(Json::object([
            ("name", Json::text(name.clone())),
            ("peak_k", Json::Number(peaks.peak_k)),
            ("front_peak_k", Json::Number(peaks.front.temperature_k)),
            ("back_peak_k", Json::Number(peaks.back.temperature_k)),
            ("back_peak_time_s", Json::Number(peaks.back.time_s)),
        ]))
    });
    let energy = &solution.energy;
    let mut fields = vec![
        ("format", Json::text(RESULT_FORMAT)),
        ("tileglow", Json::text(crate::VERSION)),
        ("inputs_digest", Json::text(digest)),
        ("name", Json::text(case.name.clone())),
        ("models", models(case)),
        ("times_s", Json::numbers(&case.output_times_s)),
        ("probes", Json::List(probes.collect())),
        ("layers", Json::List(layers.collect())),
        (
            "energy",
            Json::object([
                ("net_in_j_m2", Json::Number(energy.net_in_j_m2)),
                ("stored_j_m2", Json::Number(energy.stored_j_m2)),
                ("back_out_j_m2", Json::Number(energy.back_out_j_m2)),
                ("imbalance_fraction", Json::Number(energy.imbalance_fraction())),
            ]),
        ),
        ("numerical_error_k", Json::Number(solution.numerical_error_k)),
    ];
    if let Face::Heating { factor, .. } = case.front {
        fields.push(("calorimeter_factor", Json::Number(factor)));
    }
    if outcome.traces.is_some() {
        fields.push(("comparison", Json::List(outcome.comparison.iter().map(|difference| difference.to_json(case)).collect())));
    }
    if let Some(fit) = &outcome.fit {
        let scales = fit.scales.iter().map(|scale| {
            Json::object([
                ("name", Json::text(scale.name.clone())),
                ("scale", Json::Number(scale.scale)),
                ("low", Json::Number(scale.low)),
                ("high", Json::Number(scale.high)),
            ])
        });
        fields.push(("fit", Json::List(scales.collect())));
    }
    fields.push(("warnings", Json::List(outcome.warnings.iter().map(Json::text).collect())));
    Json::Object(fields.into_iter().map(|(key, value)| (key.to_string(), value)).collect())
}

fn models(case: &Case) -> Json {
    let mut models = vec![
        (
            "conduction",
            "one-dimensional, properties from tables over temperature and pressure, finite volumes on two grids, implicit; its error is numerical_error_k",
        ),
        ("energy", "enthalpy balance of every cell; its gap is energy.imbalance_fraction"),
    ];
    if let Face::Heating { recovery_enthalpy_j_kg: Some(_), .. } = case.front {
        models.push(("wall", "hot-wall correction 1 - wall enthalpy / recovery enthalpy, air in chemical equilibrium"));
    }
    Json::Object(models.into_iter().map(|(key, text)| (key.to_string(), Json::text(text))).collect())
}
