//! Reading `tileglow-scenario/1`: every key has its stated default, every unknown one is named with its path.

use super::*;
use crate::document::Sorting as _;
use crate::document::curve::check_axis;
use crate::document::json::{self, Range};
use crate::document::{Error, Json, Object, Problems, Table};
use crate::heating::gap::{self, OwnFactors};
use crate::heating::reference::Relation;
use crate::heating::{Measure, Roughness, Threshold, Thresholds};

/// Most scenario files are far smaller; more is refused before it is parsed.
pub const BYTES_MOST: usize = 64 << 20;

impl Scenario {
    /// The scenario that stands for what a document leaves out. `entries` are the demonstration's.
    pub fn with_entries(entries: Vec<NamedEntry>) -> Scenario {
        Scenario {
            vehicle_name: "Whinchat".to_string(),
            vehicle_digest: None,
            entries,
            heating: HeatingChoices::default(),
            start: Start::default(),
            landing: Landing::default(),
            policy: Policy::default(),
            sizing: Sizing::default(),
            changes: Vec::new(),
            findings: Vec::new(),
            inspection: Inspection::default(),
            work: WorkChoices::default(),
            view: View::default(),
            note: String::new(),
        }
    }

    /// Reads a scenario document; what it leaves out is taken from the defaults of the reference, `entries` from `base`.
    ///
    /// # Errors
    /// Bad input with every problem of the document.
    pub fn read(file: &str, text: &str, base: &[NamedEntry]) -> Result<Scenario, Error> {
        if text.len() > BYTES_MOST {
            return Err(Error::bad(format!("{file} holds {} bytes", text.len()), format!("at most {BYTES_MOST}")));
        }
        Scenario::from_json(file, &Json::parse(file, text)?, base)
    }

    /// As [`Scenario::read`], from a parsed document.
    pub fn from_json(file: &str, json: &Json, base: &[NamedEntry]) -> Result<Scenario, Error> {
        let mut problems = Problems::of(file);
        let p = &mut problems;
        let mut scenario = Scenario::with_entries(base.to_vec());
        let Some(mut root) = Object::open(json, "", p) else { return Err(problems.into_error()) };
        // Another version may mean anything by its keys: say so and stop.
        if !root.format(FORMAT, p) {
            return Err(problems.into_error());
        }
        if let Some(mut vehicle) = root.child("vehicle", p) {
            scenario.vehicle_name = vehicle.text_or("name", "Whinchat", p);
            scenario.vehicle_digest = match vehicle.optional("digest") {
                None | Some(Json::Null) => None,
                Some(node) => digest(node, &vehicle.path_of("digest"), p),
            };
            vehicle.finish(p);
        }
        if let Some(node) = root.optional("entries") {
            scenario.entries = entries(node, p);
        }
        if let Some(object) = root.child("heating", p) {
            scenario.heating = heating(object, p);
        }
        if let Some(object) = root.child("start", p) {
            scenario.start = start(object, p);
        }
        if let Some(mut object) = root.child("landing", p) {
            let d = Landing::default();
            scenario.landing = Landing {
                descent_s: object.number_or("descent_s", Range::between(0.0, 1e6), d.descent_s, p),
                altitude_m: object.number_or("altitude_m", Range::between(0.0, 1e4), d.altitude_m, p),
                air_k: object.number_or("air_k", Range::between(150.0, 400.0), d.air_k, p),
                h_w_m2k: object.number_or("h_w_m2k", Range::between(0.0, 1e4), d.h_w_m2k, p),
                limit_s: object.number_or("limit_s", Range::above_to(0.0, 1e7), d.limit_s, p),
            };
            object.finish(p);
        }
        if let Some(object) = root.child("policy", p) {
            scenario.policy = policy(object, p);
        }
        if let Some(mut object) = root.child("sizing", p) {
            let d = Sizing::default();
            scenario.sizing = Sizing {
                margin_k: object.number_or("margin_k", Range::between(-1000.0, 1000.0), d.margin_k, p),
                step_mm: object.number_or("step_mm", Range::above_to(0.0, 100.0), d.step_mm, p),
                minimum_mm: object.number_or("minimum_mm", Range::above_to(0.0, 1000.0), d.minimum_mm, p),
                maximum_mm: object.number_or("maximum_mm", Range::above_to(0.0, 1000.0), d.maximum_mm, p),
            };
            if scenario.sizing.minimum_mm > scenario.sizing.maximum_mm {
                p.at_key(
                    "sizing",
                    format!("minimum_mm {} exceeds maximum_mm {}", scenario.sizing.minimum_mm, scenario.sizing.maximum_mm),
                    "a minimum up to the maximum",
                );
            }
            object.finish(p);
        }
        if let Some(node) = root.optional("changes") {
            scenario.changes = json::list(node, "changes", p)
                .iter()
                .enumerate()
                .filter_map(|(i, node)| change(node, &format!("changes[{i}]"), p))
                .collect();
        }
        if let Some(node) = root.optional("findings") {
            scenario.findings = json::list(node, "findings", p).to_vec();
        }
        if let Some(object) = root.child("inspection", p) {
            scenario.inspection = Inspection::read(object, p);
        }
        if let Some(object) = root.child("work", p) {
            scenario.work = WorkChoices::read(object, p);
        }
        if let Some(object) = root.child("view", p) {
            scenario.view = view(object, p);
        }
        scenario.note = root.text_or("note", "", p);
        root.finish(p);
        problems.or_ok(scenario)
    }
}

fn digest(node: &Json, path: &str, p: &mut Problems) -> Option<String> {
    let text = json::text(node, path, p)?;
    if text.len() == 64 && text.bytes().all(|b| b.is_ascii_digit() || (b'a'..=b'f').contains(&b)) {
        return Some(text);
    }
    p.at_key(path, format!("{} is no digest", node.quoted()), "64 lower-case hex digits or null");
    None
}

fn entries(node: &Json, p: &mut Problems) -> Vec<NamedEntry> {
    let items = json::list(node, "entries", p);
    if items.is_empty() {
        p.at_key("entries", "no entry stands here", "one entry at least");
    }
    let mut out: Vec<NamedEntry> = Vec::new();
    for (i, node) in items.iter().enumerate() {
        let Some(mut object) = Object::open(node, format!("entries[{i}]"), p) else { continue };
        let name = object.text("name", p);
        if out.iter().any(|earlier| earlier.name == name) {
            p.at_key(object.path_of("name"), format!("the name {name:?} stands twice"), "each name once");
        }
        let transition = match object.optional("transition") {
            None | Some(Json::Null) => None,
            Some(node) => transition(node, &object.path_of("transition"), p),
        };
        let path = object.path_of("entry");
        if let Some(course) = object.required("entry", p).and_then(|node| Course::read(node, &path, p)) {
            out.push(NamedEntry { name, course, transition });
        }
        object.finish(p);
    }
    out
}

fn transition(node: &Json, path: &str, p: &mut Problems) -> Option<Transition> {
    let mut object = Object::open(node, path, p)?;
    let kind = object.word_or("kind", &["none", "time", "mach", "momentum-thickness", "roughness"], "none", p);
    let out = match kind.as_str() {
        "time" => Transition::Time { time_s: object.number_or("time_s", Range::NOT_NEGATIVE, 0.0, p) },
        "mach" => Transition::Mach { mach: object.number_or("mach", Range::NOT_NEGATIVE, 0.0, p) },
        "momentum-thickness" => Transition::MomentumThickness { limit: object.number_or("limit", Range::NOT_NEGATIVE, 0.0, p) },
        "roughness" => {
            let word = object.word_or("criterion", &Roughness::WORDS, "distributed", p);
            let criterion = Roughness::from_word(&word).unwrap_or_default();
            Transition::Roughness { limit: object.number_or("limit", Range::NOT_NEGATIVE, 0.0, p), criterion }
        }
        _ => Transition::None,
    };
    object.finish(p);
    Some(out)
}

/// The user's rows of what trips the boundary layer, each measure once, in the order of the measures.
fn thresholds(node: &Json, path: &str, p: &mut Problems) -> Thresholds {
    let mut own: Vec<Threshold> = Vec::new();
    for (i, node) in json::list(node, path, p).iter().enumerate() {
        let Some(mut object) = Object::open(node, format!("{path}[{i}]"), p) else { continue };
        let word = match object.required("measure", p).map(|node| json::text(node, &format!("{path}[{i}].measure"), p)) {
            Some(Some(word)) => word,
            _ => String::new(),
        };
        let measure = Measure::from_word(&word);
        if measure.is_none() && !word.is_empty() {
            p.at_key(format!("{path}[{i}].measure"), format!("{word:?} is no measure"), Measure::WORDS.join(", "));
        }
        let most = measure.map_or(1e6, Measure::most);
        let value_path = object.path_of("value");
        let value = object.required("value", p).and_then(|node| json::number(node, &value_path, Range::above_to(0.0, most), p));
        let (source, range) = (object.text_or("source", "", p), object.text_or("range", "", p));
        if let (Some(measure), Some(value)) = (measure, value) {
            if own.iter().any(|row| row.measure == measure) {
                p.at_key(format!("{path}[{i}].measure"), format!("{word:?} stands twice"), "each measure once");
            }
            own.push(Threshold { measure, value, source, range });
        }
        object.finish(p);
    }
    own.order_by_key(|row| row.measure);
    Thresholds { own }
}

/// An optional whole number.
pub(super) fn whole(object: &mut Object, key: &'static str, range: Range, default: f64, p: &mut Problems) -> u32 {
    let value = object.number_or(key, range, default, p);
    if value.fract() != 0.0 {
        p.at_key(object.path_of(key), format!("{value} is no whole number"), format!("a whole number, {range}"));
    }
    value as u32
}

pub(super) fn factors(object: &mut Object, key: &'static str, range: Range, p: &mut Problems) -> BTreeMap<String, f64> {
    let path = object.path_of(key);
    match object.optional(key) {
        None => BTreeMap::new(),
        Some(Json::Object(fields)) => fields
            .iter()
            .filter_map(|(name, node)| json::number(node, &format!("{path}.{name}"), range, p).map(|value| (name.clone(), value)))
            .collect(),
        Some(other) => {
            p.at_key(path, format!("{} is no map", other.quoted()), "an object of names and factors");
            BTreeMap::new()
        }
    }
}

/// A user's own factors of a step or gap: an axis from 0 up, and a laminar and a turbulent factor at each of its points.
fn own_factors(heating: &mut Object, key: &'static str, axis: &'static str, p: &mut Problems) -> Option<OwnFactors> {
    let path = heating.path_of(key);
    let node = heating.optional(key).filter(|node| **node != Json::Null)?;
    let before = p.list.len();
    let mut object = Object::open(node, &path, p)?;
    let mut column = |key: &'static str, range: Range, p: &mut Problems| {
        let path = object.path_of(key);
        object.required(key, p).map_or(Vec::new(), |node| json::numbers(node, &path, range, p))
    };
    let at = column(axis, Range::NOT_NEGATIVE, p);
    let factor = Range::between(0.0, 100.0);
    let (laminar, turbulent) = (column("laminar", factor, p), column("turbulent", factor, p));
    let source = object.text_or("source", "the user's own", p);
    object.finish(p);
    if p.list.len() == before {
        check_axis(&at, &format!("{path}.{axis}"), p);
        for (key, value) in [("laminar", &laminar), ("turbulent", &turbulent)] {
            if value.len() != at.len() {
                let what = format!("{} points on the axis, {} factors", at.len(), value.len());
                p.at_key(format!("{path}.{key}"), what, "as many factors as points");
            }
        }
    }
    let table = |value: Vec<f64>| Table { axis, at: at.clone(), value };
    (p.list.len() == before).then(|| OwnFactors { laminar: table(laminar), turbulent: table(turbulent), source })
}

fn heating(mut object: Object, p: &mut Problems) -> HeatingChoices {
    let d = Choices::default();
    let factor = Range::between(0.0, 100.0);
    let reference = Relation::from_word(&object.word_or("reference", &Relation::WORDS, d.reference.word(), p)).unwrap_or_default();
    let scale = object.number_or("scale", factor, d.scale, p);
    let zone_factor = factors(&mut object, "zone_factor", factor, p);
    let lee_fraction = object.number_or("lee_fraction", Range::between(0.0, 1.0), d.lee_fraction, p);
    let catalycity = factors(&mut object, "catalycity", Range::between(0.0, 10.0), p);
    let path = object.path_of("transition");
    let transition = object.optional("transition").and_then(|node| transition(node, &path, p)).unwrap_or_default();
    let path = object.path_of("transition_thresholds");
    let thresholds = object.optional("transition_thresholds").map(|node| thresholds(node, &path, p)).unwrap_or_default();
    let recombination = object.word_or("recombination", &["full", "by-coating"], "full", p) == "by-coating";
    let steps = own_factors(&mut object, "steps", gap::STEP_AXIS, p);
    let gaps = own_factors(&mut object, "gaps", gap::GAP_AXIS, p);
    object.finish(p);
    HeatingChoices {
        choices: Choices { reference, scale, lee_fraction, transition, thresholds, recombination },
        zone_factor,
        catalycity,
        steps,
        gaps,
    }
}

fn vector(object: &mut Object, key: &'static str, default: [f64; 3], p: &mut Problems) -> [f64; 3] {
    let path = object.path_of(key);
    let Some(node) = object.optional(key) else { return default };
    let before = p.list.len();
    let values = json::numbers(node, &path, Range::ANY, p);
    match <[f64; 3]>::try_from(values) {
        Ok(v) if v.iter().any(|x| *x != 0.0) => v,
        _ => {
            if p.list.len() == before {
                p.at_key(path, format!("{} is no direction", node.quoted()), "three numbers, not all 0");
            }
            default
        }
    }
}

fn start(mut object: Object, p: &mut Problems) -> Start {
    let kelvin = Range::above_to(0.0, 3000.0);
    let kind = object.word_or("kind", &["temperature", "orbit"], "temperature", p);
    let out = if kind == "orbit" {
        Start::Orbit {
            sun_vector: vector(&mut object, "sun_vector", [0.0, 0.0, 1.0], p),
            planet_vector: vector(&mut object, "planet_vector", [0.0, 0.0, -1.0], p),
            albedo: object.number_or("albedo", Range::between(0.0, 1.0), 0.3, p),
            planet_infrared_w_m2: object.number_or("planet_infrared_w_m2", Range::between(0.0, 1e4), 237.0, p),
            hold_s: object.number_or("hold_s", Range::between(0.0, 1e7), 5400.0, p),
            structure_k: object.number_or_null("structure_k", kelvin, p),
            altitude_m: object.number_or_null("altitude_m", Range::between(1e4, 1e9), p),
            exposure: match object.word_or("exposure", &["deorbit-point", "orbit-average"], "deorbit-point", p).as_str() {
                "orbit-average" => Exposure::OrbitAverage,
                _ => Exposure::DeorbitPoint,
            },
        }
    } else {
        Start::Temperature {
            surface_k: object.number_or("surface_k", kelvin, 300.0, p),
            structure_k: object.number_or("structure_k", kelvin, 300.0, p),
        }
    };
    object.finish(p);
    out
}

fn policy(mut object: Object, p: &mut Problems) -> Policy {
    let limits = match object.optional("limits") {
        None => Limits::Reuse,
        Some(node @ Json::Object(_)) => {
            let mut limits = Limits::Reuse;
            if let Some(mut inner) = Object::open(node, object.path_of("limits"), p) {
                let path = inner.path_of("flights");
                let flights = inner.number("flights", Range::between(1.0, 1e6), p);
                if flights.fract() != 0.0 {
                    p.at_key(path, format!("{flights} is no whole number"), "a whole number of flights from 1");
                }
                limits = Limits::Flights(flights);
                inner.finish(p);
            }
            limits
        }
        Some(node) => match json::word(node, &object.path_of("limits"), &["reuse", "single-mission"], p).as_deref() {
            Some("single-mission") => Limits::SingleMission,
            _ => Limits::Reuse,
        },
    };
    let combine = match object.word_or("combine", &["root-sum-square", "sum", "sampled"], "root-sum-square", p).as_str() {
        "sum" => Combine::Sum,
        "sampled" => Combine::Sampled,
        _ => Combine::RootSumSquare,
    };
    let mut terms: Vec<Term> = Vec::new();
    let path = object.path_of("terms");
    if let Some(node) = object.optional("terms") {
        for (i, node) in json::list(node, &path, p).iter().enumerate() {
            let Some(mut term) = Object::open(node, format!("{path}[{i}]"), p) else { continue };
            let name = term.word("name", &TERM_NAMES, p).unwrap_or_default();
            if !name.is_empty() && terms.iter().any(|earlier| earlier.name == name) {
                p.at_key(term.path_of("name"), format!("the term {name:?} stands twice"), "each term once");
            }
            let fraction = term.number("fraction", Range::between(0.0, 1.0), p);
            if name == "emissivity" && fraction == 1.0 {
                p.at_key(term.path_of("fraction"), "an emissivity less its whole is none", "a fraction of 0 or more, below 1");
            }
            terms.push(Term { name, fraction, level_sigma: term.number_or("level_sigma", Range::above_to(0.0, 6.0), 3.0, p) });
            term.finish(p);
        }
    }
    object.finish(p);
    Policy { limits, combine, terms }
}

fn change(node: &Json, path: &str, p: &mut Problems) -> Option<Change> {
    let mut object = Object::open(node, path, p)?;
    let before = p.list.len();
    let zone = object.optional("zone").and_then(|node| json::text(node, &format!("{path}.zone"), p));
    let tiles = object.optional("tiles").map(|node| {
        let path = format!("{path}.tiles");
        json::list(node, &path, p)
            .iter()
            .enumerate()
            .filter_map(|(i, node)| json::text(node, &format!("{path}[{i}]"), p))
            .collect::<Vec<_>>()
    });
    let reach = match (zone, tiles) {
        (Some(zone), None) => Some(Reach::Zone(zone)),
        (None, Some(tiles)) => Some(Reach::Tiles(tiles)),
        _ => {
            p.at_key(path, "a change reaches one zone or a list of tiles", "either \"zone\" or \"tiles\"");
            None
        }
    };
    let set_path = object.path_of("set");
    let mut set = Vec::new();
    if let Some(node) = object.required("set", p) {
        if let Json::Object(fields) = node {
            for (name, node) in fields {
                let path = format!("{set_path}.{name}");
                match ChangeKey::ALL.iter().find(|key| key.column() == name) {
                    Some(key) => {
                        let value = match key.range() {
                            Some(range) => json::number(node, &path, range, p).map(ChangeValue::Number),
                            None => json::text(node, &path, p).map(ChangeValue::Text),
                        };
                        set.extend(value.map(|value| (*key, value)));
                    }
                    None => p.at_key(path, format!("unknown key {name:?}"), ChangeKey::ALL.map(ChangeKey::column).join(", ")),
                }
            }
        } else {
            p.at_key(set_path, format!("{} is no object", node.quoted()), "an object of columns and values");
        }
    }
    object.finish(p);
    set.order_by_key(|(key, _)| *key);
    (p.list.len() == before).then_some(reach).flatten().map(|reach| Change { reach, set })
}

fn view(mut object: Object, p: &mut Problems) -> View {
    let colour = object.word_or("colour", &Colour::WORDS, "margin", p);
    let camera_path = object.path_of("camera");
    let camera = match object.optional("camera") {
        None | Some(Json::Null) => None,
        Some(node) => {
            let values = json::numbers(node, &camera_path, Range::between(-1e4, 1e4), p);
            let camera = <[f64; 6]>::try_from(values).ok();
            if camera.is_none() {
                p.at_key(camera_path, format!("{} is no camera", node.quoted()), "six numbers or null");
            }
            camera
        }
    };
    let brush_path = object.path_of("brush");
    let brush = match object.optional("brush") {
        None | Some(Json::Null) => None,
        Some(node) => {
            let brush = <[f64; 2]>::try_from(json::numbers(node, &brush_path, Range::ANY, p)).ok();
            if brush.is_none() {
                p.at_key(brush_path, format!("{} is no range", node.quoted()), "two numbers or null");
            }
            brush
        }
    };
    let optional_text = |object: &mut Object, key: &'static str, p: &mut Problems| {
        let path = object.path_of(key);
        match object.optional(key) {
            None | Some(Json::Null) => None,
            Some(node) => json::text(node, &path, p),
        }
    };
    let flag = |object: &mut Object, key: &'static str, p: &mut Problems| {
        let path = object.path_of(key);
        match object.optional(key) {
            None => false,
            Some(Json::Bool(value)) => *value,
            Some(other) => {
                p.at_key(path, format!("{} is neither true nor false", other.quoted()), "true, false");
                false
            }
        }
    };
    let cavity_path = object.path_of("cavity");
    let mut cavity = Cavity::default();
    if let Some(node) = object.optional("cavity")
        && let Some(mut sizes) = Object::open(node, &cavity_path, p)
    {
        let range = Range::above_to(0.0, 1e4);
        cavity.length_mm = sizes.number_or("length_mm", range, cavity.length_mm, p);
        cavity.depth_mm = sizes.number_or("depth_mm", range, cavity.depth_mm, p);
        sizes.finish(p);
    }
    let out = View {
        colour: Colour::from_word(&colour).unwrap_or_default(),
        time_s: object.number_or_null("time_s", Range::NOT_NEGATIVE, p),
        units: if object.word_or("units", &["si", "us"], "si", p) == "us" { UnitSystem::Us } else { UnitSystem::Si },
        tile: optional_text(&mut object, "tile", p),
        entry: optional_text(&mut object, "entry", p),
        map: flag(&mut object, "map", p),
        camera,
        brush,
        bands: flag(&mut object, "bands", p),
        cavity,
    };
    object.finish(p);
    out
}
