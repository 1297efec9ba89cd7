//! The corridor: altitude over speed, with the lines on which reference heating, load factor or dynamic pressure are constant.
//!
//! At a speed each bound asks for one density: heating q = C sqrt(rho/R) V^3 (Sutton and Graves, NASA TR R-376), dynamic pressure
//! q = rho V^2 / 2, load factor n = rho V^2 A sqrt(CL^2 + CD^2) / (2 m g). The atmosphere turns the density into the lowest altitude that the
//! bound allows. Mass, area, coefficients and angle of attack are the entry's own at that speed.

use crate::air::Atmosphere;
use crate::air::atmosphere::{HIGHEST_M, STANDARD_GRAVITY_M_S2};
use crate::document::Curve;
use crate::flight::reference::SUTTON_GRAVES;
use crate::flight::{Course, Trajectory};

/// What is constant along a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bound {
    /// Cold-wall heating of the reference sphere, W/m2.
    Heating,
    /// Aerodynamic acceleration over 9.80665 m/s2.
    LoadFactor,
    /// Pa.
    DynamicPressure,
}

/// One line of a bound, from low to high speed.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    pub bound: Bound,
    /// SI.
    pub value: f64,
    /// Speed (m/s) and altitude (m); only where the atmosphere has that density between 0 and `top_m`.
    pub points: Vec<[f64; 2]>,
}

/// Points along a line.
const POINTS: usize = 48;

/// The lines of a bound at `values` (SI, above 0) for a flight, over speeds from 0 to `fastest_m_s`, up to `top_m`.
///
/// An imported flight has no coefficients: its load-factor lines are empty. Its atmosphere is the standard one.
pub fn lines(course: &Course, flown: &Trajectory, bound: Bound, values: &[f64], fastest_m_s: f64, top_m: f64) -> Vec<Line> {
    let standard = Atmosphere::Standard1976;
    let atmosphere = if let Course::Entry(entry) = course { &entry.atmosphere } else { &standard };
    let line = |value: &f64| {
        let mut points = Vec::with_capacity(POINTS);
        for i in 1..=POINTS {
            let speed = fastest_m_s * i as f64 / POINTS as f64;
            let altitude = density_for(course, flown, bound, *value, speed).and_then(|density| altitude_of(atmosphere, density, top_m));
            if let Some(altitude) = altitude {
                points.push([speed, altitude]);
            }
        }
        Line { bound, value: *value, points }
    };
    values.iter().map(line).collect()
}

/// The density, kg/m3, at which the bound has the value; `None` where the flight lacks what it takes.
fn density_for(course: &Course, flown: &Trajectory, bound: Bound, value: f64, speed_m_s: f64) -> Option<f64> {
    let pressure = 0.5 * speed_m_s * speed_m_s;
    match bound {
        Bound::Heating => {
            let root = value / (SUTTON_GRAVES * speed_m_s * speed_m_s * speed_m_s);
            Some(root * root * flown.nose_radius_m)
        }
        Bound::DynamicPressure => Some(value / pressure),
        Bound::LoadFactor => {
            let Course::Entry(entry) = course else { return None };
            let attack = match &entry.angle_of_attack_deg {
                // A plan over time says what it flies at a speed only through the flight itself.
                Curve::Table(table) if table.axis == "time_s" => attack_at_speed(flown, speed_m_s)?,
                _ => entry.angle_of_attack_at(0.0, speed_m_s),
            };
            let (lift, drag) = (entry.lift_coefficient.value_at(attack), entry.drag_coefficient.value_at(attack));
            let force = (lift * lift + drag * drag).sqrt() * entry.reference_area_m2;
            (force > 0.0).then(|| value * entry.mass_kg * STANDARD_GRAVITY_M_S2 / (pressure * force))
        }
    }
}

fn attack_at_speed(flown: &Trajectory, speed_m_s: f64) -> Option<f64> {
    flown
        .samples
        .iter()
        .min_by(|a, b| (a.speed_m_s - speed_m_s).abs().total_cmp(&(b.speed_m_s - speed_m_s).abs()))
        .map(|s| s.angle_of_attack_deg)
}

/// The altitude, m, at which the air has a density, to 1 m; `None` above `top_m` and below the ground.
fn altitude_of(atmosphere: &Atmosphere, density_kg_m3: f64, top_m: f64) -> Option<f64> {
    let at = |altitude: f64| atmosphere.at(altitude).density_kg_m3;
    let (mut low, mut high) = (0.0, top_m.min(HIGHEST_M));
    if !(density_kg_m3 <= at(low) && density_kg_m3 >= at(high)) {
        return None;
    }
    while high - low > 1.0 {
        let middle = 0.5 * (low + high);
        if at(middle) > density_kg_m3 { low = middle } else { high = middle }
    }
    Some(0.5 * (low + high))
}

/// Round values for a bound's lines: up to `most` that halve or nearly halve (1, 2, 5), the largest at or above `largest`.
pub fn round_values(largest: f64, most: usize) -> Vec<f64> {
    if !(largest > 0.0 && largest.is_finite()) {
        return Vec::new();
    }
    let power = libm::floor(libm::log10(largest));
    let ladder = (-2..=1).flat_map(|step| [1.0, 2.0, 5.0].map(|digit| digit * libm::pow(10.0, power + f64::from(step))));
    let all: Vec<f64> = ladder.collect();
    let end = all.iter().position(|value| *value >= largest * (1.0 - 1e-9)).unwrap_or(all.len() - 1);
    all[(end + 1).saturating_sub(most)..=end].to_vec()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::Scenario;
    use crate::shield::demo;

    fn nominal() -> (Course, Trajectory) {
        let scenario = Scenario::read("scenario.json", &demo::scenario_json(), &[]).unwrap();
        let course = scenario.entries[0].course.clone();
        let path = course.fly().unwrap();
        (course, path)
    }

    /// A line through a flown moment's own value passes through that moment: altitude within what 1 m of air and the points' distance allow.
    #[test]
    fn verif_lines_pass_through_the_flight() {
        let (course, path) = nominal();
        for sample in path.samples.iter().filter(|s| s.altitude_m < 85e3).step_by(150) {
            for (bound, value) in [
                (Bound::Heating, sample.reference_heating_w_m2),
                (Bound::LoadFactor, sample.load_factor_g.unwrap()),
                (Bound::DynamicPressure, sample.dynamic_pressure_pa),
            ] {
                // The last point of the line stands exactly at the sample's speed.
                let line = lines(&course, &path, bound, &[value], sample.speed_m_s, 120e3).remove(0);
                let [speed, altitude] = *line.points.last().unwrap();
                assert!(
                    (speed - sample.speed_m_s).abs() < 1e-6 && (altitude - sample.altitude_m).abs() < 3.0,
                    "{bound:?} {sample:?} {altitude}"
                );
            }
        }
    }

    #[test]
    fn verif_more_of_anything_lies_lower_and_imports_have_no_load_factor() {
        let (course, path) = nominal();
        for bound in [Bound::Heating, Bound::LoadFactor, Bound::DynamicPressure] {
            let both = lines(
                &course,
                &path,
                bound,
                &[1.0, 2.0].map(|v| {
                    if bound == Bound::Heating {
                        v * 2e5
                    } else if bound == Bound::LoadFactor {
                        v
                    } else {
                        v * 1e4
                    }
                }),
                7800.0,
                120e3,
            );
            for [speed, high] in &both[0].points {
                if let Some([_, low]) = both[1].points.iter().find(|point| point[0] == *speed) {
                    assert!(low < high, "{bound:?} {speed}");
                }
            }
            assert!(both[0].points.len() > 10);
        }
        let imported = Course::Imported(path.clone());
        assert!(lines(&imported, &path, Bound::LoadFactor, &[1.0], 7800.0, 120e3)[0].points.is_empty());
        assert!(!lines(&imported, &path, Bound::Heating, &[2e5], 7800.0, 120e3)[0].points.is_empty());
    }

    #[test]
    fn verif_round_values() {
        assert_eq!(round_values(499.0, 4), [50.0, 100.0, 200.0, 500.0]);
        assert_eq!(round_values(1.55, 3), [0.5, 1.0, 2.0]);
        assert!(round_values(0.0, 3).is_empty() && round_values(f64::NAN, 3).is_empty());
    }
}
