//! A flown entry's thermocouples against the prediction, and the heating scale by zone that they propose. A proposal changes nothing.
//!
//! Only thermocouples on the face (at most [`FACE_MM`] deep) are compared: the face in equilibrium is what is predicted for every moment.
//! Between two readings or two rows of the prediction temperatures are linear.

use super::prepare::Prepared;
use super::surface;
use crate::document::Error;
use crate::document::Sorting as _;
use crate::shield::{FlightSample, Shield};
use statrs::distribution::{ContinuousCDF, StudentsT};
use std::collections::BTreeMap;

/// A thermocouple no deeper than this reads the face, mm (common practice: just under the coating).
pub const FACE_MM: f64 = 1.0;
/// Below this prediction a sensor says little of the heating, K.
const HOT_K: f64 = 600.0;
/// A turn to turbulent flow shows as a rise of so many kelvins within [`WINDOW_S`] where the trace rose by less than a quarter of it just before.
/// Invented: for a face near 1000 K it is about a third more heat.
const JUMP_K: f64 = 30.0;
const WINDOW_S: f64 = 40.0;

/// One sensor of one flight against one entry. Differences are computed minus measured.
#[derive(Debug, Clone, PartialEq)]
pub struct Compared {
    pub sensor: String,
    pub tile: usize,
    pub readings: usize,
    pub bias_k: f64,
    pub rms_k: f64,
    pub peak_measured_k: f64,
    pub peak_measured_s: f64,
    pub peak_difference_k: f64,
    pub peak_time_difference_s: f64,
    /// When the flow turned turbulent, as the trace and as the prediction show it.
    pub transition_measured_s: Option<f64>,
    pub transition_predicted_s: Option<f64>,
    /// The factor on heating that fits its readings best where it is hot; `None` where it never was.
    pub scale: Option<f64>,
}

/// The heating scale that a zone's sensors propose.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposal {
    pub zone: String,
    pub sensors: usize,
    /// Mean over its sensors.
    pub scale: f64,
    /// 95 % limits of the mean by Student's distribution; `None` for a single sensor.
    pub limits: Option<[f64; 2]>,
}

/// A flight's comparison.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Flown {
    pub sensors: Vec<Compared>,
    pub proposals: Vec<Proposal>,
    /// Sensors that are deeper than the face and so are not compared.
    pub deeper: usize,
    /// Sensors without a reading within the entry.
    pub outside: usize,
}

/// A trace, times rising.
type Trace = Vec<(f64, f64)>;

fn at(trace: &[(f64, f64)], time_s: f64) -> Option<f64> {
    let (first, last) = (trace.first()?, trace.last()?);
    if time_s < first.0 || time_s > last.0 {
        return None;
    }
    let next = trace.partition_point(|point| point.0 < time_s);
    let b = trace.get(next)?;
    let a = trace.get(next.saturating_sub(1)).filter(|a| a.0 < b.0).unwrap_or(b);
    if a.0 == b.0 {
        return Some(b.1);
    }
    Some(a.1 + (b.1 - a.1) * (time_s - a.0) / (b.0 - a.0))
}

fn peak(trace: &[(f64, f64)]) -> (f64, f64) {
    trace.iter().copied().reduce(|best, point| if point.1 > best.1 { point } else { best }).unwrap_or((0.0, 0.0))
}

/// The time of the steepest rise that comes after the trace has stopped rising: the flow turning turbulent.
fn transition(trace: &[(f64, f64)]) -> Option<f64> {
    let rise = |from: f64| Some(at(trace, from + WINDOW_S)? - at(trace, from)?);
    let mut found: Option<(f64, f64)> = None;
    for (time, value) in trace.iter().copied() {
        let Some((here, before)) = rise(time).zip(rise(time - WINDOW_S)) else { continue };
        // A trace that was already rising as fast is the entry's own heating.
        let jumps = value > HOT_K && here >= JUMP_K && before < 0.25 * here;
        if jumps && found.is_none_or(|(_, most)| here > most) {
            found = Some((time + 0.5 * WINDOW_S, here));
        }
    }
    found.map(|(time, _)| time)
}

/// Two-sided 95 % point of Student's distribution, to six places: the platforms' logarithms differ in the last bit.
fn student(freedom: f64) -> f64 {
    let point = StudentsT::new(0.0, 1.0, freedom).map_or(f64::INFINITY, |t| t.inverse_cdf(0.975));
    libm::round(point * 1e6) * 1e-6
}

/// Mean and its 95 % limits.
fn mean(values: &[f64]) -> (f64, Option<[f64; 2]>) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    if values.len() < 2 {
        return (mean, None);
    }
    let spread = (values.iter().map(|value| (value - mean) * (value - mean)).sum::<f64>() / (n - 1.0)).sqrt();
    let reach = student(n - 1.0) * spread / n.sqrt();
    (mean, Some([mean - reach, mean + reach]))
}

/// One sensor's readings against a prediction; `None` where no reading falls within it.
fn compared(sensor: &str, tile: usize, readings: &Trace, predicted: &Trace) -> Option<Compared> {
    let pairs: Vec<(f64, f64, f64)> = readings.iter().filter_map(|(time, got)| Some((*time, *got, at(predicted, *time)?))).collect();
    if pairs.is_empty() {
        return None;
    }
    let n = pairs.len() as f64;
    let bias_k = pairs.iter().map(|(_, got, want)| want - got).sum::<f64>() / n;
    let rms_k = (pairs.iter().map(|(_, got, want)| (want - got) * (want - got)).sum::<f64>() / n).sqrt();
    let measured: Trace = pairs.iter().map(|(time, got, _)| (*time, *got)).collect();
    let (got, want) = (peak(&measured), peak(predicted));
    // A face in equilibrium radiates what heats it: the scale on heating is that on the fourth power, by least squares.
    let fourth = |t: f64| t * t * t * t;
    let hot = pairs.iter().filter(|(.., want)| *want > HOT_K);
    let (over, under) =
        hot.fold((0.0, 0.0), |(over, under), (_, got, want)| (over + fourth(*got) * fourth(*want), under + fourth(*want) * fourth(*want)));
    Some(Compared {
        sensor: sensor.to_string(),
        tile,
        readings: pairs.len(),
        bias_k,
        rms_k,
        peak_measured_k: got.1,
        peak_measured_s: got.0,
        peak_difference_k: want.1 - got.1,
        peak_time_difference_s: want.0 - got.0,
        transition_measured_s: transition(&measured),
        transition_predicted_s: transition(predicted),
        scale: (under > 0.0).then(|| over / under),
    })
}

/// A flight's sensors against an entry of the scenario, which stands for the reconstructed trajectory; times count from entry interface.
///
/// # Errors
/// A flight without data, or an entry that is not there.
pub fn flown(shield: &Shield, prepared: &Prepared, flight: u32, entry: usize) -> Result<Flown, Error> {
    if prepared.flights.get(entry).is_none() {
        return Err(Error::bad(
            format!("there is no entry {entry}"),
            format!("an entry from 0 to {}", prepared.flights.len().saturating_sub(1)),
        ));
    }
    let mut traces: BTreeMap<(&str, usize), (f64, Trace)> = BTreeMap::new();
    let of_flight = |sample: &&FlightSample| sample.flight == flight;
    for sample in shield.flight_data.iter().filter(of_flight) {
        let (deepest, trace) = traces.entry((&sample.sensor, sample.tile)).or_default();
        *deepest = deepest.max(sample.depth_mm);
        trace.push((sample.time_s, sample.temperature_k));
    }
    if traces.is_empty() {
        let mut known: Vec<u32> = shield.flight_data.iter().map(|sample| sample.flight).collect();
        known.order();
        known.dedup();
        let known: Vec<String> = known.iter().take(10).map(u32::to_string).collect();
        return Err(Error::bad(
            format!("flight_data.csv holds nothing of flight {flight}"),
            format!("a flight with data: {}", known.join(", ")),
        ));
    }
    let mut out = Flown::default();
    for ((sensor, tile), (depth_mm, readings)) in &traces {
        if *depth_mm > FACE_MM {
            out.deeper += 1;
            continue;
        }
        let predicted: Trace = surface::history(prepared, entry, *tile).iter().map(|row| (row.time_s, row.surface_k)).collect();
        match compared(sensor, *tile, readings, &predicted) {
            Some(compared) => out.sensors.push(compared),
            None => out.outside += 1,
        }
    }
    let mut zones: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
    for sensor in &out.sensors {
        if let (Some(scale), Some(tile)) = (sensor.scale, shield.tiles.get(sensor.tile)) {
            zones.entry(&tile.zone).or_default().push(scale);
        }
    }
    out.proposals = zones
        .into_iter()
        .map(|(zone, scales)| {
            let (scale, limits) = mean(&scales);
            Proposal { zone: zone.to_string(), sensors: scales.len(), scale, limits }
        })
        .collect();
    Ok(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn trace(of: impl Fn(f64) -> f64) -> Trace {
        (0..200).map(|i| (10.0 * i as f64, of(10.0 * i as f64))).collect()
    }

    fn pulse(time: f64) -> f64 {
        let x = (time - 800.0) / 700.0;
        300.0 + 900.0 * (1.0 - x * x).max(0.0)
    }

    #[test]
    fn verif_a_stated_disturbance_comes_back() {
        let predicted = trace(pulse);
        let got = trace(|time| pulse(time) + 12.0);
        let same = compared("a", 0, &got, &predicted).unwrap();
        assert!((same.bias_k + 12.0).abs() < 1e-9 && (same.rms_k - 12.0).abs() < 1e-9 && (same.peak_difference_k + 12.0).abs() < 1e-9);
        assert_eq!((same.peak_time_difference_s, same.transition_measured_s), (0.0, None));
        // A tenth more heat: the fourth root of 1.1 on temperature.
        let hotter = trace(|time| pulse(time) * libm::pow(1.1, 0.25));
        assert!((compared("a", 0, &hotter, &predicted).unwrap().scale.unwrap() - 1.1).abs() < 1e-9);
        // Turbulent from 1000 s on, half as much heat more: seen within the window.
        let turned = trace(|time| pulse(time) * if time > 1000.0 { libm::pow(1.5, 0.25) } else { 1.0 });
        let at = compared("a", 0, &turned, &predicted).unwrap().transition_measured_s.unwrap();
        assert!((at - 1005.0).abs() < WINDOW_S, "{at}");
        assert_eq!(compared("a", 0, &vec![(9000.0, 400.0)], &predicted), None);
    }

    #[test]
    fn verif_limits_are_students() {
        // Four values, mean 1.05, spread 0.0129099: 3.182 x 0.0129099 / 2 = 0.02054.
        let (scale, limits) = mean(&[1.035, 1.045, 1.055, 1.065]);
        let [low, high] = limits.unwrap();
        assert!((scale - 1.05).abs() < 1e-12 && (high - scale - 0.020540).abs() < 1e-5 && (scale - low - 0.020540).abs() < 1e-5);
        assert_eq!(mean(&[1.2]), (1.2, None));
        for (freedom, want) in [(1.0, 12.706), (2.0, 4.303), (10.0, 2.228), (30.0, 2.042), (1e6, 1.960)] {
            assert!((student(freedom) - want).abs() < 5e-4, "{freedom}");
        }
    }
}
