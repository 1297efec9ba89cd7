//! The scenario the demonstration opens with: a set of five gliding entries of an invented mission.
//!
//! Lift and drag are those of the demonstration's own surface by the modified Newtonian method: pressure coefficient
//! `1.83 sin^2` of the local inclination where the flow meets the surface, none in its shadow (Lees, "Hypersonic Flow", Proc.
//! 5th Int. Aeronautical Conf., 1955; 1.83 is the stagnation value of normal-shock theory for a ratio of specific heats of 1.4 at a
//! high Mach number, as in NACA Report 1135), no friction and no base pressure. The test below recomputes them from the mesh.
//! The plans hold the angle of attack at 42 degrees down to 4.5 km/s, then lower it; bank follows speed, with three reversals. Entry
//! is shallow, and bank is steep only from 7.75 to 7.35 km/s, where it keeps the flight from climbing out again: then the lift carries
//! the glide high, and the reference heating of a sphere of 1 m stays between 400 and 500 kW/m2 from the pull-out to 5 km/s.

//!
//! The set round the nominal entry, invented like the rest: `steep` and `shallow` are the edges of its corridor (entry 0.12 degrees down
//! or up), `heavy` brings half a tonne home, `abort` comes home after one orbit, light and at 39 degrees, to reach farther.

use crate::document::Json;

/// Angle of attack, degrees; lift and drag coefficient over `REFERENCE_AREA_M2`.
const AERODYNAMICS: [[f64; 3]; 9] = [
    [5.0, -0.0080, 0.0966],
    [10.0, 0.0268, 0.0986],
    [15.0, 0.0809, 0.1123],
    [20.0, 0.1517, 0.1424],
    [25.0, 0.2345, 0.1928],
    [30.0, 0.3234, 0.2657],
    [35.0, 0.4116, 0.3620],
    [40.0, 0.4921, 0.4806],
    [45.0, 0.5581, 0.6184],
];

/// About the body's planform without fins and flaps, m2.
pub const REFERENCE_AREA_M2: f64 = 42.0;
const MASS_KG: f64 = 12_000.0;

/// Speed, m/s, and angle of attack, degrees.
const ATTACK: [[f64; 2]; 6] = [[600.0, 15.0], [1300.0, 17.0], [2200.0, 22.0], [3200.0, 31.0], [4500.0, 42.0], [7900.0, 42.0]];

/// Speed, m/s, and bank, degrees, right wing down positive. A reversal takes 100 m/s.
const BANK: [[f64; 2]; 15] = [
    [600.0, 0.0],
    [1000.0, 20.0],
    [1900.0, 36.0],
    [2000.0, -36.0],
    [3200.0, -44.0],
    [3300.0, 44.0],
    [4400.0, 50.0],
    [4500.0, -50.0],
    [5500.0, -45.0],
    [6500.0, -34.0],
    [7100.0, -36.0],
    [7350.0, -50.0],
    [7500.0, -64.0],
    [7650.0, -64.0],
    [7750.0, 0.0],
];

fn plan(points: &[[f64; 2]]) -> Json {
    let column = |c: usize| Json::numbers(&points.iter().map(|p| p[c]).collect::<Vec<_>>());
    Json::object([("speed_m_s", column(0)), ("value", column(1))])
}

fn coefficient(c: usize) -> Json {
    let column = |c: usize| Json::numbers(&AERODYNAMICS.iter().map(|row| row[c]).collect::<Vec<_>>());
    Json::object([("angle_of_attack_deg", column(0)), ("value", column(c))])
}

/// What one entry of the set has of its own.
struct Case {
    name: &'static str,
    flight_path_deg: f64,
    mass_kg: f64,
    /// Held down to 4.5 km/s.
    angle_of_attack_deg: f64,
}

const CASES: [Case; 5] = [
    Case { name: "nominal", flight_path_deg: -0.4, mass_kg: MASS_KG, angle_of_attack_deg: 42.0 },
    Case { name: "steep", flight_path_deg: -0.52, mass_kg: MASS_KG, angle_of_attack_deg: 42.0 },
    Case { name: "shallow", flight_path_deg: -0.28, mass_kg: MASS_KG, angle_of_attack_deg: 42.0 },
    Case { name: "heavy", flight_path_deg: -0.4, mass_kg: 12_500.0, angle_of_attack_deg: 42.0 },
    Case { name: "abort", flight_path_deg: -0.4, mass_kg: 11_400.0, angle_of_attack_deg: 39.0 },
];

/// One entry, `tileglow-entry/1`.
fn entry(case: &Case) -> Json {
    let attack = ATTACK.map(|[speed, angle]| [speed, if speed < 4500.0 { angle } else { case.angle_of_attack_deg }]);
    Json::object([
        ("format", Json::text("tileglow-entry/1")),
        ("altitude_m", Json::Number(120_000.0)),
        ("speed_m_s", Json::Number(7800.0)),
        ("flight_path_deg", Json::Number(case.flight_path_deg)),
        ("heading_deg", Json::Number(348.0)),
        ("latitude_deg", Json::Number(-38.0)),
        ("longitude_deg", Json::Number(20.0)),
        ("mass_kg", Json::Number(case.mass_kg)),
        ("reference_area_m2", Json::Number(REFERENCE_AREA_M2)),
        ("lift_coefficient", coefficient(1)),
        ("drag_coefficient", coefficient(2)),
        ("angle_of_attack_deg", plan(&attack)),
        ("bank_deg", plan(&BANK)),
        (
            "stop",
            Json::object([("altitude_m", Json::Number(20_000.0)), ("speed_m_s", Json::Number(600.0)), ("time_s", Json::Number(4000.0))]),
        ),
        ("nose_radius_m", Json::Number(1.0)),
        ("output_step_s", Json::Number(1.0)),
    ])
}

/// The scenario, `tileglow-scenario/1`; what it does not name stands at its default.
pub fn scenario_json() -> String {
    Json::object([
        ("format", Json::text("tileglow-scenario/1")),
        ("vehicle", Json::object([("name", Json::text(super::NAME)), ("digest", Json::Null)])),
        (
            "entries",
            Json::List(
                (CASES.iter())
                    .map(|case| Json::object([("name", Json::text(case.name)), ("entry", entry(case)), ("transition", Json::Null)]))
                    .collect(),
            ),
        ),
    ])
    .pretty()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flight::{Entry, fly};

    /// Lift and drag coefficient of the demonstration at an angle of attack.
    fn newtonian(parts: &crate::shield::demo::parts::Parts, attack_deg: f64) -> [f64; 2] {
        let (sin, cos) = attack_deg.to_radians().sin_cos();
        let wind = glam::DVec3::new(cos, 0.0, sin);
        let mut force = glam::DVec3::ZERO;
        for part in parts.tiles.iter().chain(&parts.plain) {
            let at = |i: u32| part.face.positions[i as usize];
            for t in &part.face.triangles {
                let normal = 0.5 * (at(t[1]) - at(t[0])).cross(at(t[2]) - at(t[0]));
                let inclination = -normal.dot(wind) / normal.length();
                if inclination > 0.0 {
                    force -= 1.83 * inclination * inclination * normal;
                }
            }
        }
        let (drag, lift) = (force.dot(wind), force.dot(glam::DVec3::new(-sin, 0.0, cos)));
        [lift / REFERENCE_AREA_M2, drag / REFERENCE_AREA_M2]
    }

    #[test]
    fn verif_coefficients_are_those_of_the_surface() {
        let parts = crate::shield::demo::parts::build();
        for [attack, lift, drag] in AERODYNAMICS {
            let [l, d] = newtonian(&parts, attack);
            // The constants are written to four decimals.
            assert!((l - lift).abs() < 1e-4 && (d - drag).abs() < 1e-4, "[{attack:.1}, {l:.4}, {d:.4}],");
        }
    }

    #[test]
    fn verif_flies_a_gliding_entry() {
        let flown = fly(&Entry::parse("entry", &entry(&CASES[0]).compact()).unwrap()).unwrap();
        let last = flown.samples.last().unwrap();
        assert!((last.altitude_m - 20e3).abs() < 1.0 && (550.0..900.0).contains(&last.speed_m_s), "{last:?}");
        let largest = |of: &dyn Fn(&crate::flight::Sample) -> f64| flown.samples.iter().map(of).fold(0.0, f64::max);
        let (load, heating) = (largest(&|s| s.load_factor_g.unwrap_or(0.0)), largest(&|s| s.reference_heating_w_m2));
        assert!(load < 2.5, "{load}");
        // Gentle and held: below 0.5 MW/m2 on a sphere of 1 m, and within a fifth of the peak from the pull-out to 5 km/s.
        assert!(heating < 0.5e6, "{heating}");
        for sample in flown.samples.iter().filter(|s| (5000.0..7750.0).contains(&s.speed_m_s)) {
            assert!(sample.reference_heating_w_m2 > 0.8 * heating, "{sample:?}");
        }
        // For at least 400 s the heating stays above two thirds of its peak, and after the pull-out the flight never climbs by
        // more than 3 km.
        let held = flown.samples.iter().filter(|s| s.reference_heating_w_m2 > heating / 1.5).count();
        assert!(held > 400, "{held}");
        let mut lowest = f64::MAX;
        for sample in &flown.samples {
            lowest = lowest.min(sample.altitude_m);
            assert!(sample.altitude_m < lowest + 3e3, "{sample:?}");
        }
        let banks = flown.samples.windows(2).filter(|w| w[0].bank_deg.unwrap_or(0.0) * w[1].bank_deg.unwrap_or(0.0) < 0.0).count();
        assert_eq!(banks, 3, "reversals");
    }

    /// Every entry of the set glides in and down without climbing out, gently; each differs from the nominal as its name says.
    #[test]
    fn verif_every_entry_of_the_set_is_sane() {
        let flown: Vec<_> = CASES.iter().map(|case| fly(&Entry::parse("entry", &entry(case).compact()).unwrap()).unwrap()).collect();
        let peak = |i: usize| flown[i].peaks().unwrap().heating.reference_heating_w_m2;
        for (case, path) in CASES.iter().zip(&flown) {
            let last = path.samples.last().unwrap();
            assert!((last.altitude_m - 20e3).abs() < 1.0 && last.time_s < 2000.0, "{}: {last:?}", case.name);
            let mut lowest = f64::MAX;
            for sample in &path.samples {
                lowest = lowest.min(sample.altitude_m);
                assert!(sample.altitude_m < lowest + 1e3, "{}: {sample:?}", case.name);
                assert!(sample.load_factor_g.unwrap() < 2.0 && sample.reference_heating_w_m2 < 0.55e6, "{}: {sample:?}", case.name);
            }
        }
        let [nominal, steep, shallow, heavy, _] = [0, 1, 2, 3, 4].map(peak);
        assert!(steep > 1.015 * nominal && heavy > 1.01 * nominal && shallow < nominal, "{steep} {heavy} {shallow} {nominal}");
        let load = |i: usize| flown[i].samples.last().unwrap().heat_load_j_m2;
        assert!(load(2) > load(0) && load(1) < load(0) && load(4) > 1.03 * load(0));
    }

    #[test]
    fn verif_scenario_reads_without_problem() {
        let text = scenario_json();
        let json = Json::parse("scenario.json", &text).unwrap();
        assert_eq!(json.get("format"), Some(&Json::text("tileglow-scenario/1")));
    }
}
