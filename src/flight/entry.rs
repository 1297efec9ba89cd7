//! The `tileglow-entry/1` document: where an entry starts, what flies, how it is steered, where it stops.

use crate::air::{Atmosphere, atmosphere::HIGHEST_M};
use crate::document::curve::check_axis;
use crate::document::json::{self, Range};
use crate::document::{Curve, Error, Json, Object, Problems};

/// The document's format key.
pub const FORMAT: &str = "tileglow-entry/1";
/// A flight gives at most this many rows.
pub const ROWS_AT_MOST: usize = 1_000_000;

/// The round body that is entered.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Planet {
    pub radius_m: f64,
    pub mu_m3_s2: f64,
    /// About the north pole, eastward positive.
    pub rotation_rad_s: f64,
}

impl Default for Planet {
    /// A rotating Earth, the numbers of FORMATS.md.
    fn default() -> Self {
        Self { radius_m: 6_371_000.0, mu_m3_s2: 3.986004418e14, rotation_rad_s: 7.292115e-5 }
    }
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Gravity {
    InverseSquare,
    /// Towards the centre, the same at every altitude.
    Constant {
        m_s2: f64,
    },
}

/// A flight ends at whichever comes first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stop {
    pub altitude_m: f64,
    pub speed_m_s: f64,
    pub time_s: f64,
}

/// One entry, ready to fly; every range was checked when it was read.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// Geometric, 0 to 1000 km.
    pub altitude_m: f64,
    /// Relative to the atmosphere, which turns with the planet.
    pub speed_m_s: f64,
    /// Negative downward.
    pub flight_path_deg: f64,
    /// Clockwise from north, 0 to 360.
    pub heading_deg: f64,
    pub latitude_deg: f64,
    pub longitude_deg: f64,
    pub mass_kg: f64,
    pub reference_area_m2: f64,
    /// Over the angle of attack.
    pub lift_coefficient: Curve,
    /// Over the angle of attack; positive.
    pub drag_coefficient: Curve,
    /// Over speed or time.
    pub angle_of_attack_deg: Curve,
    /// Over speed or time; positive right wing down.
    pub bank_deg: Curve,
    pub sideslip_deg: f64,
    /// Control surface and its deflection, over speed.
    pub deflection_deg: Vec<(String, Curve)>,
    pub planet: Planet,
    pub atmosphere: Atmosphere,
    pub gravity: Gravity,
    pub stop: Stop,
    pub nose_radius_m: f64,
    pub output_step_s: f64,
}

const PLAN: [&str; 2] = ["speed_m_s", "time_s"];
const ATTACK: [&str; 1] = ["angle_of_attack_deg"];
const HALF_TURN: Range = Range::between(-180.0, 180.0);

impl Entry {
    /// Reads the document's text; `file` names it in problems.
    pub fn parse(file: &str, text: &str) -> Result<Entry, Error> {
        let json = Json::parse(file, text)?;
        let mut problems = Problems::of(file);
        match Entry::read(&json, "", &mut problems) {
            Some(entry) => problems.or_ok(entry),
            None => Err(problems.into_error()),
        }
    }

    /// Reads a node at `path` within a document; `None` after any problem was told.
    pub fn read(node: &Json, path: &str, problems: &mut Problems) -> Option<Entry> {
        let before = problems.list.len();
        let mut object = Object::open(node, path, problems)?;
        if !object.format(FORMAT, problems) {
            return None;
        }
        let curve = |object: &mut Object, key: &'static str, axes: &[&'static str], range: Range, problems: &mut Problems| {
            let path = object.path_of(key);
            object.required(key, problems).map_or(Curve::Constant(1.0), |node| Curve::read(node, &path, axes, range, problems))
        };
        let entry = Entry {
            altitude_m: object.number("altitude_m", Range::between(0.0, HIGHEST_M), problems),
            speed_m_s: object.number("speed_m_s", Range::above_to(0.0, 20_000.0), problems),
            flight_path_deg: object.number("flight_path_deg", Range::between(-90.0, 90.0), problems),
            heading_deg: object.number("heading_deg", Range::between(0.0, 360.0), problems),
            latitude_deg: object.number("latitude_deg", Range::between(-90.0, 90.0), problems),
            longitude_deg: object.number("longitude_deg", HALF_TURN, problems),
            mass_kg: object.number("mass_kg", Range::POSITIVE, problems),
            reference_area_m2: object.number("reference_area_m2", Range::POSITIVE, problems),
            lift_coefficient: curve(&mut object, "lift_coefficient", &ATTACK, Range::ANY, problems),
            drag_coefficient: curve(&mut object, "drag_coefficient", &ATTACK, Range::POSITIVE, problems),
            angle_of_attack_deg: curve(&mut object, "angle_of_attack_deg", &PLAN, HALF_TURN, problems),
            bank_deg: curve(&mut object, "bank_deg", &PLAN, Range::between(-360.0, 360.0), problems),
            sideslip_deg: object.number_or("sideslip_deg", Range::between(-90.0, 90.0), 0.0, problems),
            deflection_deg: deflections(&mut object, problems),
            planet: planet(&mut object, problems),
            atmosphere: atmosphere(&mut object, problems),
            gravity: gravity(&mut object, problems),
            stop: stop(&mut object, problems),
            nose_radius_m: object.number("nose_radius_m", Range::POSITIVE, problems),
            output_step_s: object.number("output_step_s", Range::POSITIVE, problems),
        };
        let stop_path = object.path_of("stop");
        object.finish(problems);
        if problems.list.len() == before {
            let stop = &entry.stop;
            if entry.altitude_m <= stop.altitude_m {
                let what = format!("the flight starts at {} m, not above stop.altitude_m {}", entry.altitude_m, stop.altitude_m);
                problems.at_key(format!("{stop_path}.altitude_m"), what, "an altitude below the start");
            }
            if entry.speed_m_s <= stop.speed_m_s {
                let what = format!("the flight starts at {} m/s, not above stop.speed_m_s {}", entry.speed_m_s, stop.speed_m_s);
                problems.at_key(format!("{stop_path}.speed_m_s"), what, "a speed below the start");
            }
        }
        (problems.list.len() == before).then_some(entry)
    }

    /// The document with every key, defaults written out.
    pub fn to_json(&self) -> Json {
        let number = Json::Number;
        Json::object([
            ("format", Json::text(FORMAT)),
            ("altitude_m", number(self.altitude_m)),
            ("speed_m_s", number(self.speed_m_s)),
            ("flight_path_deg", number(self.flight_path_deg)),
            ("heading_deg", number(self.heading_deg)),
            ("latitude_deg", number(self.latitude_deg)),
            ("longitude_deg", number(self.longitude_deg)),
            ("mass_kg", number(self.mass_kg)),
            ("reference_area_m2", number(self.reference_area_m2)),
            ("lift_coefficient", self.lift_coefficient.to_json()),
            ("drag_coefficient", self.drag_coefficient.to_json()),
            ("angle_of_attack_deg", self.angle_of_attack_deg.to_json()),
            ("bank_deg", self.bank_deg.to_json()),
            ("sideslip_deg", number(self.sideslip_deg)),
            ("deflection_deg", Json::Object(self.deflection_deg.iter().map(|(name, curve)| (name.clone(), curve.to_json())).collect())),
            (
                "planet",
                Json::object([
                    ("radius_m", number(self.planet.radius_m)),
                    ("mu_m3_s2", number(self.planet.mu_m3_s2)),
                    ("rotation_rad_s", number(self.planet.rotation_rad_s)),
                ]),
            ),
            ("atmosphere", atmosphere_json(&self.atmosphere)),
            (
                "gravity",
                match self.gravity {
                    Gravity::InverseSquare => Json::text("inverse-square"),
                    Gravity::Constant { m_s2 } => Json::object([("constant_m_s2", number(m_s2))]),
                },
            ),
            (
                "stop",
                Json::object([
                    ("altitude_m", number(self.stop.altitude_m)),
                    ("speed_m_s", number(self.stop.speed_m_s)),
                    ("time_s", number(self.stop.time_s)),
                ]),
            ),
            ("nose_radius_m", number(self.nose_radius_m)),
            ("output_step_s", number(self.output_step_s)),
        ])
    }

    /// Angle of attack at a moment, degrees.
    pub fn angle_of_attack_at(&self, time_s: f64, speed_m_s: f64) -> f64 {
        plan_at(&self.angle_of_attack_deg, time_s, speed_m_s)
    }

    /// Bank at a moment, degrees.
    pub fn bank_at(&self, time_s: f64, speed_m_s: f64) -> f64 {
        plan_at(&self.bank_deg, time_s, speed_m_s)
    }
}

fn plan_at(plan: &Curve, time_s: f64, speed_m_s: f64) -> f64 {
    plan.value_at(if plan.axis() == Some("time_s") { time_s } else { speed_m_s })
}

fn deflections(object: &mut Object, problems: &mut Problems) -> Vec<(String, Curve)> {
    let path = object.path_of("deflection_deg");
    match object.optional("deflection_deg") {
        Some(Json::Object(fields)) => fields
            .iter()
            .map(|(name, node)| (name.clone(), Curve::read(node, &format!("{path}.{name}"), &["speed_m_s"], HALF_TURN, problems)))
            .collect(),
        // FORMATS.md writes the default as 0: no surface is deflected.
        None => Vec::new(),
        Some(Json::Number(0.0)) => Vec::new(),
        Some(other) => {
            let accepted = "an object of control surfaces with a number or a table over speed_m_s each";
            problems.at_key(path, format!("{} is no object", other.quoted()), accepted);
            Vec::new()
        }
    }
}

fn planet(object: &mut Object, problems: &mut Problems) -> Planet {
    let default = Planet::default();
    let Some(mut child) = object.child("planet", problems) else { return default };
    let planet = Planet {
        radius_m: child.number_or("radius_m", Range::POSITIVE, default.radius_m, problems),
        mu_m3_s2: child.number_or("mu_m3_s2", Range::NOT_NEGATIVE, default.mu_m3_s2, problems),
        rotation_rad_s: child.number_or("rotation_rad_s", Range::between(-1.0, 1.0), default.rotation_rad_s, problems),
    };
    child.finish(problems);
    planet
}

fn gravity(object: &mut Object, problems: &mut Problems) -> Gravity {
    let path = object.path_of("gravity");
    match object.optional("gravity") {
        None => Gravity::InverseSquare,
        Some(node @ Json::Object(_)) => {
            let Some(mut child) = Object::open(node, path, problems) else { return Gravity::InverseSquare };
            let m_s2 = child.number("constant_m_s2", Range::NOT_NEGATIVE, problems);
            child.finish(problems);
            Gravity::Constant { m_s2 }
        }
        Some(node) if node.as_text() == Some("inverse-square") => Gravity::InverseSquare,
        Some(other) => {
            problems.at_key(path, format!("{} is not known here", other.quoted()), "\"inverse-square\" or {\"constant_m_s2\": a number}");
            Gravity::InverseSquare
        }
    }
}

fn stop(object: &mut Object, problems: &mut Problems) -> Stop {
    let path = object.path_of("stop");
    let none = Stop { altitude_m: 0.0, speed_m_s: 0.0, time_s: 1.0 };
    let Some(node) = object.required("stop", problems) else { return none };
    let Some(mut child) = Object::open(node, path, problems) else { return none };
    let stop = Stop {
        altitude_m: child.number("altitude_m", Range::between(0.0, HIGHEST_M), problems),
        speed_m_s: child.number("speed_m_s", Range::NOT_NEGATIVE, problems),
        time_s: child.number("time_s", Range::POSITIVE, problems),
    };
    child.finish(problems);
    stop
}

fn atmosphere(object: &mut Object, problems: &mut Problems) -> Atmosphere {
    let Some(mut child) = object.child("atmosphere", problems) else { return Atmosphere::Standard1976 };
    let kind = child.word("kind", &["standard-1976", "exponential", "table"], problems);
    let atmosphere = match kind.as_deref() {
        Some("exponential") => Atmosphere::Exponential {
            surface_density_kg_m3: child.number("surface_density_kg_m3", Range::POSITIVE, problems),
            scale_height_m: child.number("scale_height_m", Range::POSITIVE, problems),
        },
        Some("table") => {
            let before = problems.list.len();
            let mut column = |key: &'static str, range: Range, problems: &mut Problems| {
                let path = child.path_of(key);
                child.required(key, problems).map_or(Vec::new(), |node| json::numbers(node, &path, range, problems))
            };
            let altitude_m = column("altitude_m", Range::ANY, problems);
            let temperature_k = column("temperature_k", Range::POSITIVE, problems);
            let pressure_pa = column("pressure_pa", Range::POSITIVE, problems);
            if problems.list.len() == before {
                check_axis(&altitude_m, &child.path_of("altitude_m"), problems);
                for (key, list) in [("temperature_k", &temperature_k), ("pressure_pa", &pressure_pa)] {
                    if list.len() != altitude_m.len() {
                        let what = format!("{} points on the axis, {} values", altitude_m.len(), list.len());
                        problems.at_key(child.path_of(key), what, "as many values as altitudes");
                    }
                }
            }
            Atmosphere::Table { altitude_m, temperature_k, pressure_pa }
        }
        _ => Atmosphere::Standard1976,
    };
    // A wrong kind was told already; its other keys are not unknown for that.
    if kind.is_some() {
        child.finish(problems);
    }
    atmosphere
}

fn atmosphere_json(atmosphere: &Atmosphere) -> Json {
    match atmosphere {
        Atmosphere::Standard1976 => Json::object([("kind", Json::text("standard-1976"))]),
        Atmosphere::Exponential { surface_density_kg_m3, scale_height_m } => Json::object([
            ("kind", Json::text("exponential")),
            ("surface_density_kg_m3", Json::Number(*surface_density_kg_m3)),
            ("scale_height_m", Json::Number(*scale_height_m)),
        ]),
        Atmosphere::Table { altitude_m, temperature_k, pressure_pa } => Json::object([
            ("kind", Json::text("table")),
            ("altitude_m", Json::numbers(altitude_m)),
            ("temperature_k", Json::numbers(temperature_k)),
            ("pressure_pa", Json::numbers(pressure_pa)),
        ]),
    }
}
