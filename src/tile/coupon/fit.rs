//! Scales of properties and flux fitted to measured traces by least squares, with 95 % limits and a word on what cannot be told apart.
//!
//! 1. The unknowns are the logarithms of the scales, so that a scale stays positive.
//! 2. Levenberg and Marquardt's method on a grid of fixed level; what that grid misses against the refined solution is added to it
//!    and the fit repeated, so that the result is that of the refined solution.
//! 3. Limits: Student's t at 97.5 % times the standard error from the covariance, the variance taken from the residuals (not below
//!    the solver's own error), enlarged by (1 + r)/(1 - r) where neighbouring residuals correlate with r (first-order autoregression).
//! 4. Columns of the sensitivity, scaled to length 1, whose smallest singular value is below a tenth of the largest cannot be told
//!    apart: the two parts that weigh most in that direction are named.

use super::case::Case;
use super::solve::{solve, solve_at};
use super::traces::Traces;
use crate::document::Sorting as _;
use crate::document::{Error, Problems};
use crate::tile::face::{Face, WallEnthalpy};
use crate::tile::properties::Layer;
use levenberg_marquardt::{LeastSquaresProblem, LevenbergMarquardt};
use nalgebra::storage::Owned;
use nalgebra::{DMatrix, DVector, Dyn};
use statrs::distribution::{ContinuousCDF, StudentsT};

const LEVEL: usize = 2;
/// Half the difference in the logarithm of a scale over which a sensitivity is taken.
const NUDGE: f64 = 5e-3;
/// A scale's limits reach no further than this factor.
const WIDEST: f64 = 1e3;
/// Scales are sought between the reciprocal of this and this.
const FARTHEST: f64 = 1e4;

/// One test of a stack: a case and its readings. Several tests of the same stack can be fitted together.
pub struct Run<'a> {
    pub case: &'a Case,
    pub traces: &'a Traces,
}

/// What a scale multiplies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Target {
    Conductivity(usize),
    SpecificHeat(usize),
    Emissivity,
    Flux,
}

/// One fitted scale with its 95 % limits.
#[derive(Debug, Clone, PartialEq)]
pub struct Scale {
    pub name: String,
    pub scale: f64,
    pub low: f64,
    pub high: f64,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    pub scales: Vec<Scale>,
    pub warnings: Vec<String>,
}

/// The names that `--fit` takes for a case.
pub fn names(case: &Case) -> Vec<String> {
    let mut names = Vec::new();
    for (name, layer) in case.layer_names.iter().zip(&case.layers) {
        if matches!(layer, Layer::Solid(_)) {
            names.extend([format!("{name}.conductivity"), format!("{name}.specific_heat")]);
        }
    }
    match case.front {
        Face::Heating { .. } => names.extend(["front.emissivity".to_string(), "front.flux".to_string()]),
        Face::Flux { emissivity, .. } if emissivity > 0.0 => names.extend(["front.emissivity".to_string(), "front.flux".to_string()]),
        Face::Flux { .. } => names.push("front.flux".to_string()),
        _ => {}
    }
    names
}

fn target(case: &Case, name: &str) -> Option<Target> {
    if !names(case).iter().any(|known| known == name) {
        return None;
    }
    let (owner, what) = name.rsplit_once('.')?;
    match (case.layer_names.iter().position(|layer| layer == owner), what) {
        (Some(layer), "conductivity") => Some(Target::Conductivity(layer)),
        (Some(layer), "specific_heat") => Some(Target::SpecificHeat(layer)),
        (_, "emissivity") => Some(Target::Emissivity),
        (_, "flux") => Some(Target::Flux),
        _ => None,
    }
}

/// Refuses names that the case does not have, or that stand twice.
pub fn check_names(case: &Case, wanted: &[String]) -> Result<(), Error> {
    let mut problems = Problems::default();
    for (i, name) in wanted.iter().enumerate() {
        if target(case, name).is_none() {
            problems.at_key("--fit", format!("{name:?} names nothing that can be fitted here"), names(case).join(", "));
        }
        if wanted[..i].contains(name) {
            problems.at_key("--fit", format!("{name:?} is given twice"), "each name once");
        }
    }
    problems.or_ok(())
}

/// The case with the scales applied.
pub fn scaled(case: &Case, scales: &[(&str, f64)]) -> Case {
    let mut case = case.clone();
    for (name, scale) in scales {
        let Some(target) = target(&case, name) else { continue };
        match target {
            Target::Conductivity(layer) => {
                if let Layer::Solid(solid) = &mut case.layers[layer] {
                    solid.conductivity_scale *= scale;
                }
            }
            Target::SpecificHeat(layer) => {
                if let Layer::Solid(solid) = &mut case.layers[layer] {
                    solid.specific_heat_scale *= scale;
                }
            }
            Target::Emissivity => {
                if let Face::Heating { emissivity, .. } | Face::Flux { emissivity, .. } = &mut case.front {
                    *emissivity *= scale;
                }
            }
            Target::Flux => match &mut case.front {
                Face::Heating { factor, .. } => *factor *= scale,
                Face::Flux { flux_w_m2, .. } => *flux_w_m2 = times(flux_w_m2, *scale),
                _ => {}
            },
        }
    }
    case
}

fn times(curve: &crate::document::Curve, scale: f64) -> crate::document::Curve {
    use crate::document::{Curve, Table};
    match curve {
        Curve::Constant(value) => Curve::Constant(value * scale),
        Curve::Table(table) => Curve::Table(Table { value: table.value.iter().map(|v| v * scale).collect(), ..table.clone() }),
    }
}

/// The least-squares problem at one set of logarithms.
struct Search<'a> {
    runs: &'a [Run<'a>],
    names: &'a [String],
    wall: &'a dyn WallEnthalpy,
    at: DVector<f64>,
    /// What the refined solution adds to this grid's, reading by reading.
    defect: DVector<f64>,
    residuals: Result<DVector<f64>, Error>,
}

impl Search<'_> {
    /// Computed readings in the order runs, traces, times.
    fn readings(&self, at: &DVector<f64>, fine: bool) -> Result<(DVector<f64>, f64), Error> {
        let limit = libm::log(FARTHEST);
        let mut values = Vec::new();
        let mut error_k: f64 = 0.0;
        let scales: Vec<(&str, f64)> =
            self.names.iter().zip(at.iter()).map(|(name, log)| (name.as_str(), libm::exp(log.clamp(-limit, limit)))).collect();
        for run in self.runs {
            let case = scaled(run.case, &scales);
            let times = &run.traces.times_s;
            let solution = if fine { solve(&case, self.wall, times)? } else { solve_at(&case, self.wall, times, LEVEL)? };
            error_k = error_k.max(solution.numerical_error_k);
            for trace in &run.traces.traces {
                values.extend_from_slice(&solution.values_k[trace.probe]);
            }
        }
        Ok((DVector::from_vec(values), error_k))
    }

    fn measured(&self) -> DVector<f64> {
        DVector::from_vec(self.runs.iter().flat_map(|run| &run.traces.traces).flat_map(|trace| trace.values_k.clone()).collect())
    }

    fn sensitivity(&self) -> Result<DMatrix<f64>, Error> {
        let mut matrix = DMatrix::zeros(self.defect.len(), self.at.len());
        for column in 0..self.at.len() {
            let mut away = self.at.clone();
            away[column] += NUDGE;
            let (above, _) = self.readings(&away, false)?;
            away[column] -= 2.0 * NUDGE;
            let (below, _) = self.readings(&away, false)?;
            matrix.set_column(column, &((above - below) / (2.0 * NUDGE)));
        }
        Ok(matrix)
    }
}

impl LeastSquaresProblem<f64, Dyn, Dyn> for Search<'_> {
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, Dyn>;
    type ParameterStorage = Owned<f64, Dyn>;

    fn set_params(&mut self, at: &DVector<f64>) {
        self.at = at.clone();
        self.residuals = self.readings(at, false).map(|(values, _)| values + &self.defect - self.measured());
    }

    fn params(&self) -> DVector<f64> {
        self.at.clone()
    }

    fn residuals(&self) -> Option<DVector<f64>> {
        self.residuals.as_ref().ok().cloned()
    }

    fn jacobian(&self) -> Option<DMatrix<f64>> {
        self.sensitivity().ok()
    }
}

/// Fits the scales `wanted` (checked names, one at least) to all runs at once.
pub fn fit(runs: &[Run], wanted: &[String], wall: &dyn WallEnthalpy) -> Result<Fit, Error> {
    let readings: usize = runs.iter().map(|run| run.traces.count()).sum();
    if readings <= wanted.len() {
        return Err(Error::bad(format!("{readings} readings for {} scales", wanted.len()), "more readings than fitted scales"));
    }
    let start = DVector::zeros(wanted.len());
    let mut search =
        Search { runs, names: wanted, wall, at: start.clone(), defect: DVector::zeros(readings), residuals: Err(Error::failed("not yet")) };
    search.set_params(&start);
    let mut error_k = 0.0;
    let method = LevenbergMarquardt::new().with_ftol(1e-9).with_xtol(1e-7).with_gtol(1e-9).with_patience(20);
    let mut warnings = Vec::new();
    for round in 0..2 {
        let (done, report) = method.minimize(search);
        search = done;
        if let Err(error) = &search.residuals {
            return Err(error.clone());
        }
        if !report.termination.was_successful() && round == 0 {
            warnings.push(format!("the fit did not settle ({:?}): take its scales with care", report.termination));
        }
        let at = search.at.clone();
        let (fine, stated_k) = search.readings(&at, true)?;
        error_k = stated_k;
        search.defect = fine - search.readings(&at, false)?.0;
        search.set_params(&at);
    }
    let residuals = search.residuals.clone()?;
    let jacobian = search.sensitivity()?;
    let errors = standard_errors(&search, &residuals, &jacobian, error_k);
    warnings.extend(told_apart(wanted, &jacobian));
    let scales = wanted.iter().enumerate().map(|(i, name)| {
        let scale = libm::exp(search.at[i]);
        let reach = libm::exp(errors[i].min(libm::log(WIDEST)));
        Scale { name: name.clone(), scale, low: scale / reach, high: scale * reach }
    });
    let scales: Vec<Scale> = scales.collect();
    for scale in &scales {
        if scale.high >= scale.scale * WIDEST * 0.999 {
            warnings.push(format!("the traces do not bound {}: its limits are cut at a factor of {WIDEST}", scale.name));
        }
        if scale.scale <= 2.0 / FARTHEST || scale.scale >= 0.5 * FARTHEST {
            warnings.push(format!("{} ran to the end of the searched range (1/{FARTHEST} to {FARTHEST})", scale.name));
        }
        if scale.name == "front.emissivity" {
            for run in runs {
                if let Face::Heating { emissivity, .. } | Face::Flux { emissivity, .. } = run.case.front
                    && emissivity * scale.scale > 1.0
                {
                    warnings
                        .push(format!("the fitted emissivity {:.3} exceeds 1: the flux or a property is off", emissivity * scale.scale));
                }
            }
        }
    }
    Ok(Fit { scales, warnings })
}

/// The half width of the 95 % limits of each logarithm; infinite where the traces do not bound it.
fn standard_errors(search: &Search, residuals: &DVector<f64>, jacobian: &DMatrix<f64>, error_k: f64) -> Vec<f64> {
    let (count, unknowns) = (residuals.len() as f64, jacobian.ncols() as f64);
    let (mut products, mut squares) = (0.0, 0.0);
    let mut from = 0;
    for run in search.runs {
        for trace in &run.traces.traces {
            let part = residuals.rows(from, trace.values_k.len());
            from += trace.values_k.len();
            for i in 0..part.len() {
                squares += part[i] * part[i];
                products += if i > 0 { part[i] * part[i - 1] } else { 0.0 };
            }
        }
    }
    let correlation = if squares > 0.0 { (products / squares).clamp(0.0, 0.99) } else { 0.0 };
    // Within the scatter of independent residuals a correlation means nothing.
    let inflation = if correlation > 2.0 / count.sqrt() { (1.0 + correlation) / (1.0 - correlation) } else { 1.0 };
    let freedom = (count / inflation - unknowns).max(1.0);
    let variance = (squares / (count - unknowns)).max(error_k * error_k) * inflation;
    let quantile = StudentsT::new(0.0, 1.0, freedom).map_or(12.706, |t| t.inverse_cdf(0.975));
    let svd = jacobian.clone().svd(false, true);
    let Some(directions) = svd.v_t else { return vec![f64::INFINITY; jacobian.ncols()] };
    let largest = svd.singular_values.max();
    (0..jacobian.ncols())
        .map(|i| {
            let sum: f64 = (0..directions.nrows())
                .map(|row| {
                    let (weight, size) = (directions[(row, i)], svd.singular_values[row]);
                    if size > 1e-12 * largest {
                        (weight / size) * (weight / size)
                    } else if weight.abs() > 1e-9 {
                        f64::INFINITY
                    } else {
                        0.0
                    }
                })
                .sum();
            let reach = quantile * (variance * sum).sqrt();
            if reach.is_nan() { f64::INFINITY } else { reach }
        })
        .collect()
}

/// Warnings for scales that the traces say nothing of, and for pairs that they cannot tell apart.
fn told_apart(wanted: &[String], jacobian: &DMatrix<f64>) -> Vec<String> {
    let mut warnings = Vec::new();
    let lengths: Vec<f64> = jacobian.column_iter().map(|column| column.norm() / (jacobian.nrows() as f64).sqrt()).collect();
    let mut kept = Vec::new();
    for (i, length) in lengths.iter().enumerate() {
        // Less than a tenth of a kelvin for a doubling: nothing that a thermocouple shows.
        if *length < 0.1 {
            warnings.push(format!("the traces hardly depend on {}", wanted[i]));
        } else {
            kept.push(i);
        }
    }
    if kept.len() < 2 {
        return warnings;
    }
    let columns: Vec<DVector<f64>> = kept.iter().map(|i| jacobian.column(*i).normalize()).collect();
    let svd = DMatrix::from_columns(&columns).svd(false, true);
    let Some(directions) = svd.v_t else { return warnings };
    let largest = svd.singular_values.max();
    for row in (0..directions.nrows()).filter(|row| svd.singular_values[*row] < 0.1 * largest) {
        let mut order: Vec<usize> = (0..kept.len()).collect();
        order.order_by(|a, b| directions[(row, *b)].abs().total_cmp(&directions[(row, *a)].abs()).then(a.cmp(b)));
        let (first, second) = (order[0].min(order[1]), order[0].max(order[1]));
        warnings.push(format!(
            "the traces cannot tell {} and {} apart: hold one of them, or add a probe or a run that parts them",
            wanted[kept[first]], wanted[kept[second]]
        ));
    }
    warnings
}
