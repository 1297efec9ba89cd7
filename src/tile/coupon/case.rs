//! The `tileglow-coupon/1` document: one stack under a prescribed exposure, read whole with every problem named.

use crate::document::curve::check_axis;
use crate::document::json::{self, Range};
use crate::document::{Curve, Error, Json, Object, Problems};
use crate::material::library::read_property;
use crate::material::{Conductivity, Library};
use crate::tile::face::Face;
use crate::tile::properties::{Conduction, Layer, Ramp, Solid};

pub const FORMAT: &str = "tileglow-coupon/1";
/// Depths nearer than this are the same.
pub const SAME_DEPTH_M: f64 = 1e-9;
const MOST_LAYERS: usize = 1000;
const LONGEST_S: f64 = 1e7;
const MOST_PROBES: usize = 1000;
const MOST_OUTPUTS: usize = 1_000_000;

// Ranges wide enough for any material and test, narrow enough that no arithmetic can overflow.
const THICKNESS_M: Range = Range::between(SAME_DEPTH_M, 100.0);
const RESISTANCE: Range = Range::between(0.0, 1e6);
const DENSITY: Range = Range::above_to(0.0, 1e5);
const SPECIFIC_HEAT: Range = Range::above_to(0.0, 1e6);
const CONDUCTIVITY: Range = Range::above_to(0.0, 1e5);
const TEMPERATURE_K: Range = Range::above_to(0.0, 1e5);
const SURROUNDINGS_K: Range = Range::between(0.0, 1e5);
const PRESSURE_PA: Range = Range::between(0.0, 1e9);
const FLUX: Range = Range::between(-1e10, 1e10);
const ENTHALPY: Range = Range::above_to(0.0, 1e10);
const FILM: Range = Range::between(0.0, 1e8);
const EMISSIVITY: Range = Range::above_to(0.0, 1.0);

/// A thermocouple's or reader's place in the stack.
#[derive(Debug, Clone, PartialEq)]
pub struct Probe {
    pub name: String,
    /// From the heated face.
    pub depth_m: f64,
}

/// A checked case.
#[derive(Debug, Clone, PartialEq)]
pub struct Case {
    pub name: String,
    pub layer_names: Vec<String>,
    pub layers: Vec<Layer>,
    /// Where each layer's properties hold, K; `None` for joints and constant properties.
    pub valid_k: Vec<Option<(f64, f64)>>,
    pub initial_k: f64,
    pub pressure_pa: Curve,
    pub front: Face,
    pub back: Face,
    pub duration_s: f64,
    pub probes: Vec<Probe>,
    pub output_times_s: Vec<f64>,
}

impl Case {
    /// Reads `text`; `file` names it in problems. Materials are looked up in `library`, letter case ignored.
    pub fn read(file: &str, text: &str, library: &Library) -> Result<Case, Error> {
        let json = Json::parse(file, text)?;
        let mut problems = Problems::of(file);
        let case = read_case(&json, library, &mut problems);
        match case {
            Some(case) => problems.or_ok(case),
            None => Err(problems.into_error()),
        }
    }

    /// Whole thickness of the stack.
    pub fn thickness_m(&self) -> f64 {
        self.layers.iter().map(|layer| if let Layer::Solid(solid) = layer { solid.thickness_m } else { 0.0 }).sum()
    }
}

fn read_case(json: &Json, library: &Library, problems: &mut Problems) -> Option<Case> {
    let mut object = Object::open(json, "", problems)?;
    if !object.format(FORMAT, problems) {
        return None;
    }
    let name = object.text("name", problems);
    let Layers { names: layer_names, layers, valid_k } =
        object.required("layers", problems).map(|node| read_layers(node, library, problems)).unwrap_or_default();
    let initial_k = object.number("initial_k", TEMPERATURE_K, problems);
    let pressure_pa = curve(&mut object, "pressure_pa", PRESSURE_PA, problems);
    let front = read_face(&mut object, "front", &["temperature", "flux", "heating", "convection"], problems);
    let back = read_face(&mut object, "back", &["adiabatic", "temperature", "convection", "radiation"], problems);
    let duration_s = object.number("duration_s", Range::above_to(0.0, LONGEST_S), problems);
    let thickness_m: f64 = layers.iter().map(|layer| if let Layer::Solid(solid) = layer { solid.thickness_m } else { 0.0 }).sum();
    let probes = object.required("probes", problems).map(|node| read_probes(node, thickness_m, problems)).unwrap_or_default();
    let path = object.path_of("output_times_s");
    let output_times_s = object.required("output_times_s", problems).map_or(Vec::new(), |node| {
        let times = json::numbers(node, &path, Range::between(0.0, duration_s.max(f64::MIN_POSITIVE)), problems);
        if times.len() > MOST_OUTPUTS {
            problems.at_key(&path, format!("{} output times", times.len()), format!("at most {MOST_OUTPUTS}"));
        }
        if !times.is_empty() {
            check_axis(&times, &path, problems);
        }
        times
    });
    object.finish(problems);
    Some(Case {
        name,
        layer_names,
        layers,
        valid_k,
        initial_k,
        pressure_pa,
        front: front?,
        back: back?,
        duration_s,
        probes,
        output_times_s,
    })
}

fn curve(object: &mut Object, key: &'static str, range: Range, problems: &mut Problems) -> Curve {
    let path = object.path_of(key);
    object.required(key, problems).map_or(Curve::Constant(1.0), |node| Curve::read(node, &path, &["time_s"], range, problems))
}

fn repeated(names: &[String], path: &str, problems: &mut Problems) {
    for (i, name) in names.iter().enumerate() {
        if names[..i].contains(name) {
            problems.at_key(format!("{path}[{i}].name"), format!("the name {name:?} stands twice"), "each name once in the list");
        }
    }
}

/// The layers as read, list by list.
#[derive(Default)]
struct Layers {
    names: Vec<String>,
    layers: Vec<Layer>,
    valid_k: Vec<Option<(f64, f64)>>,
}

fn read_layers(node: &Json, library: &Library, problems: &mut Problems) -> Layers {
    let items = json::list(node, "layers", problems);
    if items.len() > MOST_LAYERS {
        problems.at_key("layers", format!("{} layers", items.len()), format!("at most {MOST_LAYERS}"));
        return Layers::default();
    }
    let Layers { mut names, mut layers, mut valid_k } = Layers::default();
    for (i, item) in items.iter().enumerate() {
        let Some(mut object) = Object::open(item, format!("layers[{i}]"), problems) else { continue };
        names.push(object.text("name", problems));
        if item.get("resistance_m2k_w").is_some() {
            layers.push(Layer::Joint { resistance_m2k_w: object.number("resistance_m2k_w", RESISTANCE, problems) });
            valid_k.push(None);
        } else if item.get("thickness_m").is_none() && item.get("material").is_none() {
            problems.at_key(
                format!("layers[{i}]"),
                "the layer has neither \"thickness_m\" and \"material\" nor \"resistance_m2k_w\"",
                "a solid (name, thickness_m, material) or a joint (name, resistance_m2k_w)",
            );
            continue;
        } else {
            let thickness_m = object.number("thickness_m", THICKNESS_M, problems);
            let path = object.path_of("material");
            let solid = object.required("material", problems).and_then(|node| read_solid(node, &path, thickness_m, library, problems));
            if let Some((solid, valid)) = solid {
                layers.push(Layer::Solid(solid));
                valid_k.push(valid);
            }
        }
        object.finish(problems);
    }
    let any_solid = items.iter().any(|item| item.get("resistance_m2k_w").is_none());
    if !any_solid {
        problems.at_key("layers", if items.is_empty() { "no layers" } else { "a stack of joints only" }, "one solid layer at least");
    }
    repeated(&names, "layers", problems);
    Layers { names, layers, valid_k }
}

type Valid = Option<(f64, f64)>;

fn read_solid(node: &Json, path: &str, thickness_m: f64, library: &Library, problems: &mut Problems) -> Option<(Solid, Valid)> {
    let solid = |density_kg_m3: f64, heat: &Curve, conductivity: &Conductivity| Solid {
        thickness_m,
        density_kg_m3,
        specific_heat: Ramp::of(heat),
        conduction: Conduction::of(conductivity),
        conductivity_scale: 1.0,
        specific_heat_scale: 1.0,
    };
    if let Json::Text(id) = node {
        return match library.find(id) {
            Some(index) => {
                let material = &library.materials[index];
                let high = material.extrapolated_above_k;
                let valid = material.valid_k.map(|(low, end)| (low, high.map_or(end, |high| high.min(end))));
                Some((solid(material.density_kg_m3, &material.specific_heat_j_kgk, &material.conductivity_w_mk), valid))
            }
            None => {
                let known: Vec<&str> = library.materials.iter().map(|material| material.id.as_str()).collect();
                problems.at_key(path, format!("no material {id:?}"), format!("an object of properties, or one of {}", known.join(", ")));
                None
            }
        };
    }
    let before = problems.list.len();
    let mut object = Object::open(node, path, problems)?;
    let density = object.number("density_kg_m3", DENSITY, problems);
    let at = object.path_of("specific_heat_j_kgk");
    let heat = object
        .required("specific_heat_j_kgk", problems)
        .map_or(Curve::Constant(1.0), |node| read_property(node, &at, SPECIFIC_HEAT, problems));
    if let Curve::Table(table) = &heat {
        within(&table.at, TEMPERATURE_K, &format!("{at}.temperature_k"), problems);
    }
    let at = object.path_of("conductivity_w_mk");
    let conductivity = object.required("conductivity_w_mk", problems).map(|node| Conductivity::read(node, &at, problems));
    match &conductivity {
        Some(Conductivity::Curve(Curve::Constant(value))) if problems.list.len() == before => within([value], CONDUCTIVITY, &at, problems),
        Some(Conductivity::Curve(Curve::Table(table))) => {
            within(&table.at, TEMPERATURE_K, &format!("{at}.temperature_k"), problems);
            within(&table.value, CONDUCTIVITY, &format!("{at}.value"), problems);
        }
        Some(Conductivity::Grid { temperature_k, pressure_pa, value }) => {
            within(temperature_k, TEMPERATURE_K, &format!("{at}.temperature_k"), problems);
            within(pressure_pa, PRESSURE_PA, &format!("{at}.pressure_pa"), problems);
            within(value.iter().flatten(), CONDUCTIVITY, &format!("{at}.value"), problems);
        }
        _ => {}
    }
    object.finish(problems);
    if problems.list.len() > before {
        return None;
    }
    let conductivity = conductivity?;
    let mut valid: Valid = None;
    let mut narrow = |at: &[f64]| {
        if let [low, .., high] = at {
            valid = Some(valid.map_or((*low, *high), |(from, to)| (from.max(*low), to.min(*high))));
        }
    };
    if let Curve::Table(table) = &heat {
        narrow(&table.at);
    }
    match &conductivity {
        Conductivity::Curve(Curve::Table(table)) => narrow(&table.at),
        Conductivity::Grid { temperature_k, .. } => narrow(temperature_k),
        Conductivity::Curve(Curve::Constant(_)) => {}
    }
    Some((solid(density, &heat, &conductivity), valid))
}

/// Told where a table leaves the range that the arithmetic can carry.
fn within<'a>(values: impl IntoIterator<Item = &'a f64>, range: Range, path: &str, problems: &mut Problems) {
    if let Some(value) = values.into_iter().find(|value| !range.holds(**value)) {
        problems.at_key(path, format!("{value} is out of range"), range.to_string());
    }
}

fn read_face(object: &mut Object, key: &'static str, kinds: &[&str], problems: &mut Problems) -> Option<Face> {
    let path = object.path_of(key);
    let node = object.required(key, problems)?;
    let mut face = Object::open(node, path, problems)?;
    let kind = face.word("kind", kinds, problems)?;
    let with_none = Range::between(0.0, 1.0);
    let read = match kind.as_str() {
        "temperature" => Face::Temperature(curve(&mut face, "temperature_k", TEMPERATURE_K, problems)),
        "flux" => Face::Flux {
            flux_w_m2: curve(&mut face, "flux_w_m2", FLUX, problems),
            emissivity: face.number("emissivity", with_none, problems),
            surroundings_k: face.number("surroundings_k", SURROUNDINGS_K, problems),
        },
        "heating" => Face::Heating {
            cold_wall_w_m2: curve(&mut face, "cold_wall_w_m2", FLUX, problems),
            recovery_enthalpy_j_kg: {
                let path = face.path_of("recovery_enthalpy_j_kg");
                match face.required("recovery_enthalpy_j_kg", problems) {
                    None | Some(Json::Null) => None,
                    Some(node) => Some(Curve::read(node, &path, &["time_s"], ENTHALPY, problems)),
                }
            },
            emissivity: face.number("emissivity", EMISSIVITY, problems),
            surroundings_k: face.number("surroundings_k", SURROUNDINGS_K, problems),
            factor: face.number_or("calorimeter_factor", Range::above_to(0.0, 1e3), 1.0, problems),
            ground: None,
        },
        "convection" => Face::Convection {
            h_w_m2k: curve(&mut face, "h_w_m2k", FILM, problems),
            ambient_k: curve(&mut face, "ambient_k", TEMPERATURE_K, problems),
        },
        "radiation" => Face::Radiation {
            emissivity: face.number("emissivity", EMISSIVITY, problems),
            surroundings_k: face.number("surroundings_k", SURROUNDINGS_K, problems),
        },
        _ => Face::Adiabatic,
    };
    face.finish(problems);
    Some(read)
}

fn read_probes(node: &Json, thickness_m: f64, problems: &mut Problems) -> Vec<Probe> {
    let items = json::list(node, "probes", problems);
    if items.len() > MOST_PROBES {
        problems.at_key("probes", format!("{} probes", items.len()), format!("at most {MOST_PROBES}"));
        return Vec::new();
    }
    let mut probes = Vec::new();
    for (i, item) in items.iter().enumerate() {
        let Some(mut object) = Object::open(item, format!("probes[{i}]"), problems) else { continue };
        let name = object.text("name", problems);
        let path = object.path_of("depth_m");
        if let Some(depth_m) = object.required("depth_m", problems).and_then(|node| json::number(node, &path, Range::ANY, problems)) {
            if depth_m < -SAME_DEPTH_M || depth_m > thickness_m + SAME_DEPTH_M {
                problems.at_key(path, format!("{depth_m} lies outside the stack"), format!("a number from 0 to {thickness_m}"));
            }
            probes.push(Probe { name, depth_m });
        }
        object.finish(problems);
    }
    let names: Vec<String> = probes.iter().map(|probe| probe.name.clone()).collect();
    repeated(&names, "probes", problems);
    probes
}
