//! Three degrees of freedom over a rotating sphere: an entry flown to its stop condition.
//!
//! Position and velocity are Cartesian in the frame that turns with the planet, so that neither the poles nor a vertical path are
//! special: dv/dt = gravity + lift + drag - 2 w x v - w x (w x r). The heat load is a seventh component of the state. Error per step:
//! 1 mm in position and 1e-9 of the speed; a whole entry agrees with a reference of eighth order within 1e-6 (tests/fly.rs).

use super::entry::{Entry, Gravity, ROWS_AT_MOST};
use super::reference::sutton_graves;
use super::runge_kutta::{Integrator, Step, Vector};
use super::{Sample, Trajectory};
use crate::air::atmosphere::{HIGHEST_M, STANDARD_GRAVITY_M_S2};
use crate::document::Sorting as _;
use crate::document::{Curve, Error, Problems};
use glam::DVec3;

const STEPS_AT_MOST: usize = 2_000_000;
const DEGREE: f64 = std::f64::consts::PI / 180.0;

/// Flies `entry`: rows every output step from 0, the last one exactly at the stop condition.
///
/// 1. Integrate step by step, never across a corner of a plan over time.
/// 2. Read the rows from the step's continuous extension; stop where altitude, speed or time reach their limit, found by bisection.
///
/// Fails (computation) where the flight rises above 1000 km, and where the equations break down; refuses (bad input) more than 1e6 rows.
pub fn fly(entry: &Entry) -> Result<Trajectory, Error> {
    let flight = Flight::of(entry);
    let speed = entry.speed_m_s;
    let absolute = [1e-3, 1e-3, 1e-3, 1e-6, 1e-6, 1e-6, 1e-2];
    let relative = [0.0, 0.0, 0.0, 1e-9, 1e-9, 1e-9, 1e-9];
    let mut run = Integrator::new(flight.start(), 1.0, absolute, relative, |time, state| flight.slopes(time, state));
    let corners = corners(entry);
    let mut samples = vec![flight.sample(0.0, &flight.start())];
    // The start as given, not as it comes back from Cartesian coordinates.
    if let Some(first) = samples.first_mut() {
        first.altitude_m = entry.altitude_m;
        first.speed_m_s = speed;
        first.flight_path_deg = Some(entry.flight_path_deg);
        first.heading_deg = Some(entry.heading_deg);
        first.latitude_deg = Some(entry.latitude_deg);
        first.longitude_deg = Some(entry.longitude_deg);
    }
    for _ in 0..STEPS_AT_MOST {
        let corner = corners.iter().copied().find(|at| *at > run.time).unwrap_or(entry.stop.time_s);
        let Some(step) = run.step(corner.min(entry.stop.time_s)) else {
            return Err(Error::failed(format!("the flight could not be integrated past {} s", run.time)));
        };
        let end = flight.end_within(&step);
        let until = end.as_ref().map_or(step.to, |(time, _)| *time);
        if let Some(time) = flight.leaves_within(&step, until) {
            return Err(Error::failed(format!(
                "the flight rises above 1000 km at {} s; accepted: an entry that stays at or below 1000 km",
                crate::document::text::significant(time, 6)
            )));
        }
        loop {
            let time = samples.len() as f64 * entry.output_step_s;
            // A row within a millionth of a step of the stop is the last row itself.
            let limit = if end.is_some() { until - 1e-6 * entry.output_step_s } else { until };
            if time > limit {
                break;
            }
            if samples.len() >= ROWS_AT_MOST {
                return Err(too_many_rows(entry));
            }
            samples.push(flight.sample(time, &step.at(time)));
        }
        if let Some((time, why)) = end {
            let mut last = flight.sample(time, &step.at(time));
            match why {
                End::Altitude => last.altitude_m = entry.stop.altitude_m,
                End::Speed => last.speed_m_s = entry.stop.speed_m_s,
                End::Time => last.time_s = entry.stop.time_s,
            }
            samples.push(last);
            return Ok(Trajectory { nose_radius_m: entry.nose_radius_m, samples });
        }
    }
    Err(Error::failed(format!("the flight took more than {STEPS_AT_MOST} steps by {} s", run.time)))
}

fn too_many_rows(entry: &Entry) -> Error {
    let mut problems = Problems::default();
    let what = format!("{} s gives more than {ROWS_AT_MOST} rows", entry.output_step_s);
    problems.at_key("output_step_s", what, "a longer step or an earlier stop");
    problems.into_error()
}

/// The times at which a plan over time has a corner, sorted.
fn corners(entry: &Entry) -> Vec<f64> {
    let mut corners = Vec::new();
    for plan in [&entry.angle_of_attack_deg, &entry.bank_deg] {
        if let Curve::Table(table) = plan
            && table.axis == "time_s"
        {
            corners.extend(table.at.iter().copied().filter(|at| *at > 0.0));
        }
    }
    corners.order_by(f64::total_cmp);
    corners
}

#[derive(Debug, Clone, Copy)]
enum End {
    Altitude,
    Speed,
    Time,
}

/// Latitude, longitude, altitude and the local directions at a point.
struct Local {
    radius_m: f64,
    up: DVec3,
    east: DVec3,
    north: DVec3,
}

impl Local {
    fn at(position: DVec3) -> Local {
        let radius_m = length(position);
        let up = position / radius_m;
        let flat = (up.x * up.x + up.y * up.y).sqrt();
        let east = if flat > 0.0 { DVec3::new(-up.y / flat, up.x / flat, 0.0) } else { DVec3::Y };
        Local { radius_m, up, east, north: cross(up, east) }
    }
}

// Written out so that no back end may contract or reorder them.
fn dot(a: DVec3, b: DVec3) -> f64 {
    a.x * b.x + a.y * b.y + a.z * b.z
}

fn cross(a: DVec3, b: DVec3) -> DVec3 {
    DVec3::new(a.y * b.z - a.z * b.y, a.z * b.x - a.x * b.z, a.x * b.y - a.y * b.x)
}

fn length(a: DVec3) -> f64 {
    dot(a, a).sqrt()
}

fn split(state: &Vector) -> (DVec3, DVec3) {
    (DVec3::new(state[0], state[1], state[2]), DVec3::new(state[3], state[4], state[5]))
}

struct Flight<'a> {
    entry: &'a Entry,
    /// Reference area over twice the mass, m2/kg.
    half_area_per_mass: f64,
}

impl Flight<'_> {
    fn of(entry: &Entry) -> Flight<'_> {
        Flight { entry, half_area_per_mass: 0.5 * entry.reference_area_m2 / entry.mass_kg }
    }

    fn start(&self) -> Vector {
        let entry = self.entry;
        let (latitude, longitude) = (entry.latitude_deg * DEGREE, entry.longitude_deg * DEGREE);
        let (path, heading) = (entry.flight_path_deg * DEGREE, entry.heading_deg * DEGREE);
        let (sin_lat, cos_lat) = (libm::sin(latitude), libm::cos(latitude));
        let (sin_lon, cos_lon) = (libm::sin(longitude), libm::cos(longitude));
        let up = DVec3::new(cos_lat * cos_lon, cos_lat * sin_lon, sin_lat);
        let east = DVec3::new(-sin_lon, cos_lon, 0.0);
        let north = cross(up, east);
        let position = up * (entry.planet.radius_m + entry.altitude_m);
        let along = north * (libm::cos(path) * libm::cos(heading)) + east * (libm::cos(path) * libm::sin(heading)) + up * libm::sin(path);
        let velocity = along * entry.speed_m_s;
        [position.x, position.y, position.z, velocity.x, velocity.y, velocity.z, 0.0]
    }

    fn slopes(&self, time_s: f64, state: &Vector) -> Vector {
        let entry = self.entry;
        let (position, velocity) = split(state);
        let radius = length(position);
        let up = position / radius;
        let speed = length(velocity);
        let air = entry.atmosphere.at(radius - entry.planet.radius_m);
        let attack = entry.angle_of_attack_at(time_s, speed);
        let pull = match entry.gravity {
            Gravity::InverseSquare => entry.planet.mu_m3_s2 / (radius * radius),
            Gravity::Constant { m_s2 } => m_s2,
        };
        let mut acceleration = up * -pull;
        let rotation = entry.planet.rotation_rad_s;
        if rotation != 0.0 {
            // w x v and w x (w x r) with w along z.
            acceleration += DVec3::new(2.0 * rotation * velocity.y, -2.0 * rotation * velocity.x, 0.0);
            acceleration += DVec3::new(position.x, position.y, 0.0) * (rotation * rotation);
        }
        if speed > 0.0 {
            let along = velocity / speed;
            let push = air.density_kg_m3 * speed * speed * self.half_area_per_mass;
            acceleration += along * (-push * entry.drag_coefficient.value_at(attack));
            let lift = push * entry.lift_coefficient.value_at(attack);
            if lift != 0.0 {
                let bank = entry.bank_at(time_s, speed) * DEGREE;
                let (above, right) = lift_frame(along, up);
                acceleration += above * (lift * libm::cos(bank)) + right * (lift * libm::sin(bank));
            }
        }
        let heating = sutton_graves(air.density_kg_m3, entry.nose_radius_m, speed);
        [velocity.x, velocity.y, velocity.z, acceleration.x, acceleration.y, acceleration.z, heating]
    }

    fn altitude(&self, state: &Vector) -> f64 {
        length(split(state).0) - self.entry.planet.radius_m
    }

    /// When and why the flight ends within the step, if it does.
    fn end_within(&self, step: &Step) -> Option<(f64, End)> {
        let stop = self.entry.stop;
        let low = |state: &Vector| self.altitude(state) <= stop.altitude_m;
        let slow = |state: &Vector| length(split(state).1) <= stop.speed_m_s;
        let mut ends = Vec::new();
        if let Some(time) = first_time(step, &low) {
            ends.push((time, End::Altitude));
        }
        if let Some(time) = first_time(step, &slow) {
            ends.push((time, End::Speed));
        }
        if step.to >= stop.time_s {
            ends.push((stop.time_s, End::Time));
        }
        ends.into_iter().min_by(|a, b| a.0.total_cmp(&b.0))
    }

    fn leaves_within(&self, step: &Step, until: f64) -> Option<f64> {
        // A hair above, so that a flight that starts level at 1000 km is not thrown out by rounding.
        first_time(step, &|state: &Vector| self.altitude(state) > HIGHEST_M + 1e-3).filter(|time| *time < until)
    }

    fn sample(&self, time_s: f64, state: &Vector) -> Sample {
        let entry = self.entry;
        let (position, velocity) = split(state);
        let local = Local::at(position);
        let speed = length(velocity);
        let altitude = local.radius_m - entry.planet.radius_m;
        let (rise, east, north) = (dot(velocity, local.up), dot(velocity, local.east), dot(velocity, local.north));
        let heading = libm::atan2(east, north) / DEGREE;
        let air = entry.atmosphere.at(altitude);
        let attack = entry.angle_of_attack_at(time_s, speed);
        let pressure = 0.5 * air.density_kg_m3 * speed * speed;
        let (lift, drag) = (entry.lift_coefficient.value_at(attack), entry.drag_coefficient.value_at(attack));
        Sample {
            time_s,
            altitude_m: altitude,
            speed_m_s: speed,
            flight_path_deg: Some(libm::atan2(rise, (east * east + north * north).sqrt()) / DEGREE),
            heading_deg: Some(if heading < 0.0 { heading + 360.0 } else { heading }),
            latitude_deg: Some(libm::atan2(local.up.z, (local.up.x * local.up.x + local.up.y * local.up.y).sqrt()) / DEGREE),
            longitude_deg: Some(libm::atan2(local.up.y, local.up.x) / DEGREE),
            angle_of_attack_deg: attack,
            bank_deg: Some(entry.bank_at(time_s, speed)),
            sideslip_deg: entry.sideslip_deg,
            mach: air.sound_speed_m_s.map(|sound| speed / sound),
            dynamic_pressure_pa: pressure,
            density_kg_m3: air.density_kg_m3,
            temperature_k: air.temperature_k,
            pressure_pa: air.pressure_pa,
            load_factor_g: Some(2.0 * pressure * self.half_area_per_mass * (lift * lift + drag * drag).sqrt() / STANDARD_GRAVITY_M_S2),
            reference_heating_w_m2: sutton_graves(air.density_kg_m3, entry.nose_radius_m, speed),
            heat_load_j_m2: state[6],
        }
    }
}

/// Directions of lift at zero bank (in the vertical plane, across the path) and of the right wing. On a vertical path the vertical
/// plane is not defined: north (or the x axis at a pole) takes the place of up.
fn lift_frame(along: DVec3, up: DVec3) -> (DVec3, DVec3) {
    let across = up - along * dot(up, along);
    let size = length(across);
    let above = if size > 1e-9 {
        across / size
    } else {
        let pole = if up.z.abs() < 0.999 { DVec3::Z } else { DVec3::X };
        let across = pole - along * dot(pole, along);
        across / length(across)
    };
    (above, cross(along, above))
}

/// The first time within the step at which `reached` holds, by looking at eight points and bisecting to the last bit that matters.
fn first_time(step: &Step, reached: &impl Fn(&Vector) -> bool) -> Option<f64> {
    const LOOKS: usize = 8;
    let mut before = step.from;
    for look in 1..=LOOKS {
        let time = if look == LOOKS { step.to } else { step.from + (step.to - step.from) * look as f64 / LOOKS as f64 };
        if reached(&step.at(time)) {
            let mut after = time;
            for _ in 0..80 {
                let middle = 0.5 * (before + after);
                if middle <= before || middle >= after {
                    break;
                }
                if reached(&step.at(middle)) { after = middle } else { before = middle }
            }
            return Some(after);
        }
        before = time;
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flight::entry::Entry;

    fn entry(changes: &[(&str, &str)]) -> Entry {
        let mut keys = vec![
            ("altitude_m", "120000"),
            ("speed_m_s", "7400"),
            ("flight_path_deg", "-1.2"),
            ("heading_deg", "60"),
            ("latitude_deg", "10"),
            ("longitude_deg", "20"),
            ("mass_kg", "12000"),
            ("reference_area_m2", "42"),
            ("lift_coefficient", "0.8"),
            ("drag_coefficient", "0.8"),
            ("angle_of_attack_deg", "40"),
            ("bank_deg", "0"),
            ("stop", r#"{"altitude_m":20000,"speed_m_s":600,"time_s":4000}"#),
            ("nose_radius_m", "1"),
            ("output_step_s", "1"),
        ];
        for (key, value) in changes {
            keys.retain(|(k, _)| k != key);
            keys.push((key, value));
        }
        let fields: Vec<String> = keys.iter().map(|(k, v)| format!("{k:?}:{v}")).collect();
        Entry::parse("test", &format!("{{\"format\":\"tileglow-entry/1\",{}}}", fields.join(","))).unwrap()
    }

    /// Far above the air a flight keeps energy and angular momentum in the frame that does not turn.
    #[test]
    fn verif_orbit_keeps_energy_and_momentum() {
        let vacuum = r#"{"kind":"exponential","surface_density_kg_m3":1e-300,"scale_height_m":1000}"#;
        let stop = r#"{"altitude_m":0,"speed_m_s":0,"time_s":5000}"#;
        let entry =
            entry(&[("atmosphere", vacuum), ("stop", stop), ("altitude_m", "400000"), ("flight_path_deg", "0.5"), ("speed_m_s", "7300")]);
        let path = fly(&entry).unwrap();
        let constants = |sample: &Sample| {
            let (lat, lon) = (sample.latitude_deg.unwrap() * DEGREE, sample.longitude_deg.unwrap() * DEGREE);
            let up = DVec3::new(lat.cos() * lon.cos(), lat.cos() * lon.sin(), lat.sin());
            let position = up * (entry.planet.radius_m + sample.altitude_m);
            let east = DVec3::new(-lon.sin(), lon.cos(), 0.0);
            let (gamma, psi) = (sample.flight_path_deg.unwrap() * DEGREE, sample.heading_deg.unwrap() * DEGREE);
            let direction = cross(up, east) * (gamma.cos() * psi.cos()) + east * (gamma.cos() * psi.sin()) + up * gamma.sin();
            let velocity = direction * sample.speed_m_s + cross(DVec3::Z * entry.planet.rotation_rad_s, position);
            (0.5 * dot(velocity, velocity) - entry.planet.mu_m3_s2 / length(position), length(cross(position, velocity)))
        };
        let (first, last) = (constants(&path.samples[0]), constants(path.samples.last().unwrap()));
        assert!((last.0 / first.0 - 1.0).abs() < 1e-8, "{first:?} {last:?}");
        assert!((last.1 / first.1 - 1.0).abs() < 1e-8);
        assert_eq!(path.samples.len(), 5001);
        assert_eq!(path.samples[5000].time_s, 5000.0);
    }

    #[test]
    fn verif_bank_turns_right_and_mirrors() {
        let still = ("planet", r#"{"rotation_rad_s":0}"#);
        let at_equator = [("latitude_deg", "0"), ("longitude_deg", "0"), ("heading_deg", "90"), still];
        let flown = |bank: &'static str| {
            let mut changes = at_equator.to_vec();
            changes.push(("bank_deg", bank));
            fly(&entry(&changes)).unwrap()
        };
        let (right, left) = (flown("50"), flown("-50"));
        let (r, l) = (right.samples.last().unwrap(), left.samples.last().unwrap());
        assert!(r.latitude_deg.unwrap() < -0.5, "right wing down turns south when eastbound");
        assert!((r.latitude_deg.unwrap() + l.latitude_deg.unwrap()).abs() < 1e-6);
        assert!((r.heat_load_j_m2 / l.heat_load_j_m2 - 1.0).abs() < 1e-7);
    }

    #[test]
    fn verif_stops_and_failures() {
        for (stop, check) in [
            (r#"{"altitude_m":60000,"speed_m_s":10,"time_s":4000}"#, 0),
            (r#"{"altitude_m":0,"speed_m_s":5000,"time_s":4000}"#, 1),
            (r#"{"altitude_m":0,"speed_m_s":10,"time_s":123.456}"#, 2),
        ] {
            let path = fly(&entry(&[("stop", stop)])).unwrap();
            let last = path.samples.last().unwrap();
            match check {
                0 => assert_eq!(last.altitude_m, 60000.0),
                1 => assert_eq!(last.speed_m_s, 5000.0),
                _ => assert_eq!(last.time_s, 123.456),
            }
            assert!(path.samples.windows(2).all(|pair| pair[0].time_s < pair[1].time_s));
        }
        let error = fly(&entry(&[("speed_m_s", "13000"), ("flight_path_deg", "20")])).unwrap_err();
        assert_eq!(error.exit_code(), 1);
        assert!(error.to_string().contains("1000 km"));
        let error = fly(&entry(&[("output_step_s", "1e-6")])).unwrap_err();
        assert_eq!(error.exit_code(), 2);
        assert!(error.to_string().contains("output_step_s"));
        // Straight down, straight up, over a pole, at rest in no gravity: all end.
        let stop = r#"{"altitude_m":0,"speed_m_s":0,"time_s":3000}"#;
        for changes in [
            vec![("flight_path_deg", "-90")],
            vec![("flight_path_deg", "90"), ("speed_m_s", "500"), ("stop", stop)],
            vec![("latitude_deg", "90"), ("heading_deg", "0")],
            vec![("latitude_deg", "89.9"), ("heading_deg", "0")],
            vec![
                ("lift_coefficient", "0"),
                ("flight_path_deg", "-10"),
                ("gravity", r#"{"constant_m_s2":0}"#),
                ("stop", r#"{"altitude_m":0,"speed_m_s":10,"time_s":900}"#),
            ],
        ] {
            let path = fly(&entry(&changes)).unwrap();
            assert!(path.samples.iter().all(|s| s.altitude_m.is_finite() && s.heat_load_j_m2.is_finite()), "{changes:?}");
        }
    }

    /// A corner of a plan over time costs no accuracy: half the output step gives the same rows.
    #[test]
    fn verif_reversals_by_time_and_speed() {
        for plan in [
            r#"{"time_s":[0,400,410,700,710],"value":[60,60,-60,-60,60]}"#,
            r#"{"speed_m_s":[3000,3050,5000,5050],"value":[60,-60,-60,60]}"#,
        ] {
            let coarse = fly(&entry(&[("bank_deg", plan), ("output_step_s", "2")])).unwrap();
            let fine = fly(&entry(&[("bank_deg", plan)])).unwrap();
            assert_eq!(coarse.samples[150], Sample { time_s: 300.0, ..fine.samples[300] });
        }
    }
}
