//! What a flown trajectory answers: columns, a moment, peaks, a thinned copy for the heating.

use super::{Sample, Trajectory};
use crate::document::Json;
use crate::document::text::{significant, significant_or_empty};

/// The result columns, in order.
pub const COLUMNS: [&str; 15] = [
    "time_s",
    "altitude_m",
    "speed_m_s",
    "flight_path_deg",
    "heading_deg",
    "latitude_deg",
    "longitude_deg",
    "angle_of_attack_deg",
    "bank_deg",
    "mach",
    "dynamic_pressure_pa",
    "density_kg_m3",
    "load_factor_g",
    "reference_heating_w_m2",
    "heat_load_j_m2",
];
/// The imported document's format key.
pub const FORMAT: &str = "tileglow-trajectory/1";
/// Significant digits of a written number.
const DIGITS: usize = 12;

/// The rows at which a flight is hardest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Peaks<'a> {
    pub heating: &'a Sample,
    pub dynamic_pressure: &'a Sample,
    /// `None` where no row knows its load factor.
    pub load_factor: Option<&'a Sample>,
}

impl Sample {
    /// The result columns' values, in their order.
    pub fn cells(&self) -> [Option<f64>; 15] {
        [
            Some(self.time_s),
            Some(self.altitude_m),
            Some(self.speed_m_s),
            self.flight_path_deg,
            self.heading_deg,
            self.latitude_deg,
            self.longitude_deg,
            Some(self.angle_of_attack_deg),
            self.bank_deg,
            self.mach,
            Some(self.dynamic_pressure_pa),
            Some(self.density_kg_m3),
            self.load_factor_g,
            Some(self.reference_heating_w_m2),
            Some(self.heat_load_j_m2),
        ]
    }
}

impl Trajectory {
    /// The CSV of FORMATS.md: the result columns, 12 significant digits, empty where not known.
    pub fn to_csv(&self) -> String {
        let mut text = COLUMNS.join(",");
        text.push('\n');
        for sample in &self.samples {
            for (i, cell) in sample.cells().into_iter().enumerate() {
                if i > 0 {
                    text.push(',');
                }
                text.push_str(&significant_or_empty(cell, DIGITS));
            }
            text.push('\n');
        }
        text
    }

    /// The `tileglow-trajectory/1` document: only columns of which something is known.
    pub fn to_json(&self) -> Json {
        let mut fields = vec![("format".to_string(), Json::text(FORMAT)), ("nose_radius_m".to_string(), Json::Number(self.nose_radius_m))];
        for (i, name) in COLUMNS.iter().enumerate() {
            let column: Vec<Option<f64>> = self.samples.iter().map(|sample| sample.cells().get(i).copied().flatten()).collect();
            if column.iter().any(Option::is_some) {
                fields.push((name.to_string(), Json::List(column.into_iter().map(Json::number_or_null).collect())));
            }
        }
        Json::Object(fields)
    }

    /// The first rows with the largest heating, dynamic pressure and load factor; `None` without rows.
    pub fn peaks(&self) -> Option<Peaks<'_>> {
        fn largest(samples: &[Sample], value: impl Fn(&Sample) -> Option<f64>) -> Option<&Sample> {
            let mut best: Option<(&Sample, f64)> = None;
            for sample in samples {
                if let Some(value) = value(sample)
                    && best.is_none_or(|(_, largest)| value > largest)
                {
                    best = Some((sample, value));
                }
            }
            best.map(|(sample, _)| sample)
        }
        Some(Peaks {
            heating: largest(&self.samples, |s| Some(s.reference_heating_w_m2))?,
            dynamic_pressure: largest(&self.samples, |s| Some(s.dynamic_pressure_pa))?,
            load_factor: largest(&self.samples, |s| s.load_factor_g),
        })
    }

    /// The flight at a time, linear between rows (angles the short way round), held outside; `None` without rows.
    pub fn at(&self, time_s: f64) -> Option<Sample> {
        let (first, last) = (self.samples.first()?, self.samples.last()?);
        if time_s <= first.time_s {
            return Some(*first);
        }
        if time_s >= last.time_s {
            return Some(*last);
        }
        let high = self.samples.partition_point(|sample| sample.time_s <= time_s);
        let (a, b) = (self.samples.get(high.checked_sub(1)?)?, self.samples.get(high)?);
        let share = (time_s - a.time_s) / (b.time_s - a.time_s);
        let mix = |a: f64, b: f64| a + share * (b - a);
        let some = |a: Option<f64>, b: Option<f64>| Some(mix(a?, b?));
        let round = |a: Option<f64>, b: Option<f64>| {
            let (a, b) = (a?, b?);
            let turn = if b - a > 180.0 {
                -360.0
            } else if b - a < -180.0 {
                360.0
            } else {
                0.0
            };
            Some(mix(a, b + turn))
        };
        Some(Sample {
            time_s,
            altitude_m: mix(a.altitude_m, b.altitude_m),
            speed_m_s: mix(a.speed_m_s, b.speed_m_s),
            flight_path_deg: some(a.flight_path_deg, b.flight_path_deg),
            heading_deg: round(a.heading_deg, b.heading_deg).map(|angle| if angle < 0.0 { angle + 360.0 } else { angle % 360.0 }),
            latitude_deg: some(a.latitude_deg, b.latitude_deg),
            longitude_deg: round(a.longitude_deg, b.longitude_deg).map(|angle| {
                if angle > 180.0 {
                    angle - 360.0
                } else if angle < -180.0 {
                    angle + 360.0
                } else {
                    angle
                }
            }),
            angle_of_attack_deg: mix(a.angle_of_attack_deg, b.angle_of_attack_deg),
            bank_deg: some(a.bank_deg, b.bank_deg),
            sideslip_deg: mix(a.sideslip_deg, b.sideslip_deg),
            mach: some(a.mach, b.mach),
            dynamic_pressure_pa: mix(a.dynamic_pressure_pa, b.dynamic_pressure_pa),
            density_kg_m3: mix(a.density_kg_m3, b.density_kg_m3),
            temperature_k: some(a.temperature_k, b.temperature_k),
            pressure_pa: some(a.pressure_pa, b.pressure_pa),
            load_factor_g: some(a.load_factor_g, b.load_factor_g),
            reference_heating_w_m2: mix(a.reference_heating_w_m2, b.reference_heating_w_m2),
            heat_load_j_m2: mix(a.heat_load_j_m2, b.heat_load_j_m2),
        })
    }

    /// At most `most` of the rows (2 at least), among them the first, the last and the one of largest heating; half of them spread evenly
    /// over time and half over the heat load, so that they stand closest where it is hottest.
    ///
    /// Between the rows that stay, heating is linear: for a smooth pulse of 2,000 s and 300 rows the integrated heat load is within 2e-4 and any
    /// row's heating within 1 % of the largest (`verif_thinned_keeps_heat_and_peak`).
    pub fn thinned(&self, most: usize) -> Trajectory {
        let count = self.samples.len();
        let most = most.max(3);
        let (Some(first), Some(last), Some(peaks)) = (self.samples.first(), self.samples.last(), self.peaks()) else {
            return self.clone();
        };
        if count <= most {
            return self.clone();
        }
        let (span, load) = (last.time_s - first.time_s, last.heat_load_j_m2 - first.heat_load_j_m2);
        let progress = |sample: &Sample| {
            let time = (sample.time_s - first.time_s) / span;
            if load > 0.0 { 0.5 * (time + (sample.heat_load_j_m2 - first.heat_load_j_m2) / load) } else { time }
        };
        let hottest = peaks.heating.time_s;
        // One row is kept free for the hottest.
        let parts = (most - 2) as f64;
        let mut kept = Vec::with_capacity(most);
        let mut next = 0.0;
        for (i, sample) in self.samples.iter().enumerate() {
            let place = progress(sample) * parts;
            if place >= next - 1e-9 || i + 1 == count || sample.time_s == hottest {
                kept.push(*sample);
                if place >= next - 1e-9 {
                    next = libm::floor(place + 1e-9) + 1.0;
                }
            }
        }
        Trajectory { nose_radius_m: self.nose_radius_m, samples: kept }
    }

    /// One line: how long, peak heating and heat load.
    pub fn summary(&self) -> String {
        let (Some(peaks), Some(last)) = (self.peaks(), self.samples.last()) else { return "no rows".to_string() };
        format!(
            "{} rows to {} s; peak reference heating {} W/m2 at {} s; heat load {} J/m2",
            self.samples.len(),
            significant(last.time_s, 6),
            significant(peaks.heating.reference_heating_w_m2, 6),
            significant(peaks.heating.time_s, 6),
            significant(last.heat_load_j_m2, 6)
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pulse(count: usize) -> Trajectory {
        let mut load = 0.0;
        let samples = (0..count)
            .map(|i| {
                let time = i as f64 * 2000.0 / (count - 1) as f64;
                let heating = 4e5 * libm::exp(-(time - 700.0) * (time - 700.0) / 8e4);
                load += heating * 2000.0 / (count - 1) as f64;
                Sample {
                    time_s: time,
                    reference_heating_w_m2: heating,
                    heat_load_j_m2: load,
                    heading_deg: Some(359.0),
                    ..Sample::default()
                }
            })
            .collect();
        Trajectory { nose_radius_m: 1.0, samples }
    }

    #[test]
    fn verif_thinned_keeps_heat_and_peak() {
        let full = pulse(20001);
        for most in [3, 10, 300, 301] {
            let thin = full.thinned(most);
            assert!(thin.samples.len() <= most, "{most}: {}", thin.samples.len());
            assert_eq!(thin.samples.first(), full.samples.first());
            assert_eq!(thin.samples.last(), full.samples.last());
            assert_eq!(thin.peaks().unwrap().heating, full.peaks().unwrap().heating);
        }
        let thin = full.thinned(300);
        let load = |t: &Trajectory| {
            let part = |p: &[Sample]| 0.5 * (p[0].reference_heating_w_m2 + p[1].reference_heating_w_m2) * (p[1].time_s - p[0].time_s);
            t.samples.windows(2).map(part).sum::<f64>()
        };
        assert!((load(&thin) / load(&full) - 1.0).abs() < 2e-4, "{}", load(&thin) / load(&full));
        let off = full.samples.iter().map(|s| (thin.at(s.time_s).unwrap().reference_heating_w_m2 - s.reference_heating_w_m2).abs());
        assert!(off.fold(0.0, f64::max) < 0.01 * 4e5);
        assert!(thin.samples.len() > 250);
    }

    #[test]
    fn verif_angles_go_the_short_way() {
        let at = |time_s: f64, heading: f64, longitude: f64| Sample {
            time_s,
            heading_deg: Some(heading),
            longitude_deg: Some(longitude),
            ..Sample::default()
        };
        let path = Trajectory { nose_radius_m: 1.0, samples: vec![at(0.0, 359.0, 179.0), at(1.0, 3.0, -179.0)] };
        let middle = path.at(0.5).unwrap();
        assert!((middle.heading_deg.unwrap() - 1.0).abs() < 1e-9);
        assert!((middle.longitude_deg.unwrap().abs() - 180.0).abs() < 1e-9);
    }
}
