//! The material library: the built-in file, a user's own, and the two joined.

use super::{Conductivity, Kind, Library, Limit, Material, Provenance, Recombination};
use crate::document::curve::check_axis;
use crate::document::json::{self, Range};
use crate::document::{Curve, Error, Json, Object, Problems};
use std::collections::BTreeMap;

const BUILT_IN: &str = include_str!("../../assets/materials.json");
/// The format that the reader accepts.
pub const FORMAT: &str = "tileglow-materials/1";

/// Keys that `provenance` and `uncertainty` may name.
const PROPERTIES: [&str; 14] = [
    "density_kg_m3",
    "specific_heat_j_kgk",
    "conductivity_w_mk",
    "conductivity_inplane_w_mk",
    "single_mission_limit_k",
    "reuse_limit_k",
    "reuse_flights",
    "emissivity",
    "solar_absorptance",
    "thickness_m",
    "thickness_range_m",
    "surface_recombination",
    "valid_k",
    "extrapolated_above_k",
];

const EMISSIVITY: Range = Range::above_to(0.0, 1.0);
const FRACTION: Range = Range::between(0.0, 1.0);

impl Library {
    /// The text of the library that the product starts from.
    pub fn built_in_text() -> &'static str {
        BUILT_IN
    }

    /// The library that the product starts from; its sources stand in each property's provenance.
    pub fn built_in() -> Library {
        // The file is part of the program and a test reads it: an error here cannot reach a user.
        Library::read("assets/materials.json", BUILT_IN.as_bytes()).map(|(library, _)| library).unwrap_or_default()
    }

    /// Reads a `materials.json`. Returns the materials of that file alone and the warnings, or every problem with its key path:
    /// unknown and missing keys, values out of range, tables that do not rise, an id that stands twice.
    pub fn read(file: &str, bytes: &[u8]) -> Result<(Library, Vec<String>), Error> {
        let mut problems = Problems::of(file);
        let text = match std::str::from_utf8(bytes) {
            Ok(text) => text,
            Err(error) => {
                problems.at_key("", format!("not UTF-8 text: {error}"), "UTF-8");
                return Err(problems.into_error());
            }
        };
        let json = Json::parse(file, text)?;
        let mut warnings = Vec::new();
        let mut library = Library::default();
        let Some(mut object) = Object::open(&json, "", &mut problems) else { return Err(problems.into_error()) };
        if !object.format(FORMAT, &mut problems) {
            return Err(problems.into_error());
        }
        if let Some(node) = object.required("materials", &mut problems) {
            for (i, node) in json::list(node, "materials", &mut problems).iter().enumerate() {
                let path = format!("materials[{i}]");
                let Some(material) = read_material(node, &path, &mut problems) else { continue };
                if material.id == "none" || material.id.is_empty() {
                    problems.at_key(format!("{path}.id"), format!("{:?} cannot be a material's id", material.id), "a name of its own");
                } else if library.find(&material.id).is_some() {
                    problems.at_key(format!("{path}.id"), format!("the id {:?} stands twice", material.id), "each id once");
                } else {
                    warn_without_source(file, &path, node, &mut warnings);
                    library.materials.push(material);
                }
            }
        }
        object.finish(&mut problems);
        problems.or_ok((library, warnings))
    }

    /// This library with `user`'s materials: the same id is replaced in its place, a new one is added at the end.
    pub fn joined(mut self, user: Library) -> Library {
        for material in user.materials {
            match self.find(&material.id) {
                Some(i) => self.materials[i] = material,
                None => self.materials.push(material),
            }
        }
        self
    }

    /// The ids of all materials that `wanted` accepts, for messages.
    pub fn ids(&self, wanted: impl Fn(&Material) -> bool) -> String {
        let ids: Vec<&str> = self.materials.iter().filter(|m| wanted(m)).map(|m| m.id.as_str()).collect();
        ids.join(", ")
    }
}

impl Conductivity {
    /// Reads a number, a table over `temperature_k`, or a grid `{"temperature_k", "pressure_pa", "value": [[one row per pressure]]}`;
    /// conductivities, temperatures and pressures above 0.
    pub fn read(node: &Json, path: &str, problems: &mut Problems) -> Conductivity {
        if node.get("pressure_pa").is_none() {
            return Conductivity::Curve(read_property(node, path, Range::POSITIVE, problems));
        }
        let nothing = Conductivity::Curve(Curve::Constant(0.0));
        let before = problems.list.len();
        let Some(mut object) = Object::open(node, path, problems) else { return nothing };
        let mut axis = |key: &'static str, problems: &mut Problems| {
            let path = object.path_of(key);
            let before = problems.list.len();
            let at = object.required(key, problems).map_or(Vec::new(), |node| json::numbers(node, &path, Range::POSITIVE, problems));
            if problems.list.len() == before {
                check_axis(&at, &path, problems);
            }
            at
        };
        let temperature_k = axis("temperature_k", problems);
        let pressure_pa = axis("pressure_pa", problems);
        let mut value = Vec::new();
        let at = object.path_of("value");
        if let Some(node) = object.required("value", problems) {
            for (i, row) in json::list(node, &at, problems).iter().enumerate() {
                let here = format!("{at}[{i}]");
                let before = problems.list.len();
                let row = json::numbers(row, &here, Range::POSITIVE, problems);
                if problems.list.len() == before && row.len() != temperature_k.len() {
                    let (have, want) = (row.len(), temperature_k.len());
                    problems.at_key(&here, format!("{have} values in a row"), format!("{want}, one for each of temperature_k"));
                }
                value.push(row);
            }
            if problems.list.len() == before && value.len() != pressure_pa.len() {
                let (have, want) = (value.len(), pressure_pa.len());
                problems.at_key(&at, format!("{have} rows"), format!("{want}, one for each of pressure_pa"));
            }
        }
        object.finish(problems);
        if problems.list.len() > before { nothing } else { Conductivity::Grid { temperature_k, pressure_pa, value } }
    }

    pub fn to_json(&self) -> Json {
        match self {
            Conductivity::Curve(curve) => curve.to_json(),
            Conductivity::Grid { temperature_k, pressure_pa, value } => Json::object([
                ("temperature_k", Json::numbers(temperature_k)),
                ("pressure_pa", Json::numbers(pressure_pa)),
                ("value", Json::List(value.iter().map(|row| Json::numbers(row)).collect())),
            ]),
        }
    }
}

impl Limit {
    /// Reads a number or `{"flights": […], "value": […]}`: kelvin above 0, flights from 1 up.
    pub fn read(node: &Json, path: &str, problems: &mut Problems) -> Option<Limit> {
        let before = problems.list.len();
        let limit = match Curve::read(node, path, &["flights"], Range::POSITIVE, problems) {
            Curve::Constant(kelvin) => Limit::Kelvin(kelvin),
            Curve::Table(table) => {
                if let Some(first) = table.at.first().filter(|first| **first < 1.0) {
                    problems.at_key(format!("{path}.flights[0]"), format!("{first} flights"), "a number from 1 up");
                }
                Limit::Flights { flights: table.at, value_k: table.value }
            }
        };
        (problems.list.len() == before).then_some(limit)
    }
}

/// A property that may be a table over `temperature_k`, whose axis stands above 0 K.
pub fn read_property(node: &Json, path: &str, range: Range, problems: &mut Problems) -> Curve {
    let curve = Curve::read(node, path, &["temperature_k"], range, problems);
    if let Curve::Table(table) = &curve
        && let Some(first) = table.at.first().filter(|first| **first <= 0.0)
    {
        problems.at_key(format!("{path}.temperature_k[0]"), format!("{first} K"), "a temperature above 0 K");
    }
    curve
}

fn read_material(node: &Json, path: &str, problems: &mut Problems) -> Option<Material> {
    let before = problems.list.len();
    let mut object = Object::open(node, path, problems)?;
    let id = object.text("id", problems).to_lowercase();
    let name = object.text("name", problems);
    let words = Kind::ALL.map(Kind::word);
    let kind = object.word("kind", &words, problems).and_then(|word| Kind::ALL.into_iter().find(|kind| kind.word() == word));
    let density_kg_m3 = object.number("density_kg_m3", Range::POSITIVE, problems);
    let at = object.path_of("specific_heat_j_kgk");
    let specific_heat_j_kgk =
        object.required("specific_heat_j_kgk", problems).map(|node| read_property(node, &at, Range::POSITIVE, problems));
    let at = object.path_of("conductivity_w_mk");
    let conductivity_w_mk = object.required("conductivity_w_mk", problems).map(|node| Conductivity::read(node, &at, problems));
    let at = object.path_of("conductivity_inplane_w_mk");
    let conductivity_inplane_w_mk = given(object.optional("conductivity_inplane_w_mk")).map(|node| Conductivity::read(node, &at, problems));
    let at = object.path_of("single_mission_limit_k");
    let single_mission_limit_k = given(object.optional("single_mission_limit_k")).and_then(|node| Limit::read(node, &at, problems));
    let at = object.path_of("reuse_limit_k");
    let reuse_limit_k = given(object.optional("reuse_limit_k")).and_then(|node| Limit::read(node, &at, problems));
    let reuse_flights = object.number_or_null("reuse_flights", Range { low: 1.0, ..Range::POSITIVE }, problems);
    let at = object.path_of("emissivity");
    let emissivity = given(object.optional("emissivity")).map(|node| read_property(node, &at, EMISSIVITY, problems));
    let solar_absorptance = object.number_or_null("solar_absorptance", FRACTION, problems);
    let thickness_m = object.number_or_null("thickness_m", Range::POSITIVE, problems);
    let at = object.path_of("thickness_range_m");
    let thickness_range_m = given(object.optional("thickness_range_m")).and_then(|node| read_pair(node, &at, problems));
    let at = object.path_of("surface_recombination");
    let surface_recombination =
        given(object.optional("surface_recombination")).map_or(Vec::new(), |node| read_recombination(node, &at, problems));
    let at = object.path_of("valid_k");
    let valid_k = given(object.optional("valid_k")).and_then(|node| read_pair(node, &at, problems));
    let extrapolated_above_k = object.number_or_null("extrapolated_above_k", Range::POSITIVE, problems);
    let at = object.path_of("provenance");
    let mut provenance = BTreeMap::new();
    for (key, node) in read_map(object.optional("provenance"), &at, problems) {
        let before = problems.list.len();
        let entry = read_provenance(node, &format!("{at}.{key}"), problems);
        if let Some(entry) = entry.filter(|_| problems.list.len() == before) {
            provenance.insert(key.to_string(), entry);
        }
    }
    let at = object.path_of("uncertainty");
    let mut uncertainty = BTreeMap::new();
    for (key, node) in read_map(object.optional("uncertainty"), &at, problems) {
        if let Some(fraction) = json::number(node, &format!("{at}.{key}"), Range::NOT_NEGATIVE, problems) {
            uncertainty.insert(key.to_string(), fraction);
        }
    }
    object.finish(problems);
    if problems.list.len() > before {
        return None;
    }
    Some(Material {
        id,
        name,
        kind: kind?,
        density_kg_m3,
        specific_heat_j_kgk: specific_heat_j_kgk?,
        conductivity_w_mk: conductivity_w_mk?,
        conductivity_inplane_w_mk,
        single_mission_limit_k,
        reuse_limit_k,
        reuse_flights,
        emissivity,
        solar_absorptance,
        thickness_m,
        thickness_range_m,
        surface_recombination,
        valid_k,
        extrapolated_above_k,
        provenance,
        uncertainty,
    })
}

/// An explicit null counts as not given.
fn given(node: Option<&Json>) -> Option<&Json> {
    node.filter(|node| **node != Json::Null)
}

/// The fields of a map from property keys; another key is a problem.
fn read_map<'a>(node: Option<&'a Json>, path: &str, problems: &mut Problems) -> Vec<(&'a str, &'a Json)> {
    match given(node) {
        None => Vec::new(),
        Some(Json::Object(fields)) => {
            let mut known = Vec::new();
            for (key, value) in fields {
                if PROPERTIES.contains(&key.as_str()) {
                    known.push((key.as_str(), value));
                } else {
                    problems.at_key(format!("{path}.{key}"), format!("unknown key {key:?}"), PROPERTIES.join(", "));
                }
            }
            known
        }
        Some(other) => {
            problems.at_key(path, format!("{} is no object", other.quoted()), "an object {…}");
            Vec::new()
        }
    }
}

fn read_pair(node: &Json, path: &str, problems: &mut Problems) -> Option<(f64, f64)> {
    let before = problems.list.len();
    let pair = json::numbers(node, path, Range::NOT_NEGATIVE, problems);
    match pair[..] {
        [low, high] if low < high => Some((low, high)),
        _ if problems.list.len() > before => None,
        _ => {
            problems.at_key(path, format!("{} is no range", node.quoted()), "two rising numbers [low, high]");
            None
        }
    }
}

fn read_recombination(node: &Json, path: &str, problems: &mut Problems) -> Vec<Recombination> {
    let mut pieces = Vec::new();
    for (i, node) in json::list(node, path, problems).iter().enumerate() {
        let path = format!("{path}[{i}]");
        let Some(mut object) = Object::open(node, &path, problems) else { continue };
        let before = problems.list.len();
        let piece = Recombination {
            species: object.word("species", &["O", "N", "air"], problems).unwrap_or_default(),
            low_k: object.number("t_min_k", Range::POSITIVE, problems),
            high_k: object.number("t_max_k", Range::POSITIVE, problems),
            factor: object.number("k", Range::POSITIVE, problems),
            exponent_k: object.number("b_k", Range::ANY, problems),
        };
        object.finish(problems);
        if problems.list.len() == before && piece.low_k >= piece.high_k {
            problems.at_key(format!("{path}.t_max_k"), format!("{} does not lie above t_min_k", piece.high_k), "a number above t_min_k");
        }
        pieces.push(piece);
    }
    pieces
}

fn read_provenance(node: &Json, path: &str, problems: &mut Problems) -> Option<Provenance> {
    let mut object = Object::open(node, path, problems)?;
    let at = object.path_of("basis");
    let basis = match object.required("basis", problems) {
        Some(Json::Object(parts)) => {
            let words = parts.iter().map(|(part, node)| {
                json::text(node, &format!("{at}.{part}"), problems).map_or(String::new(), |word| format!("{part}: {word}"))
            });
            words.collect::<Vec<_>>().join(", ")
        }
        Some(node) => json::text(node, &at, problems).unwrap_or_default(),
        None => String::new(),
    };
    let source = object.text("source", problems);
    let mut text = |key: &'static str, problems: &mut Problems| {
        let at = object.path_of(key);
        given(object.optional(key)).and_then(|node| json::text(node, &at, problems))
    };
    let note = text("note", problems);
    let uncertainty_kind = text("uncertainty_kind", problems);
    let uncertainty_fraction = object.number_or_null("uncertainty_fraction", Range::NOT_NEGATIVE, problems);
    object.finish(problems);
    Some(Provenance { basis, source, note, uncertainty_fraction, uncertainty_kind })
}

/// A property without provenance is taken, and said.
fn warn_without_source(file: &str, path: &str, node: &Json, warnings: &mut Vec<String>) {
    const SOURCED: usize = 9;
    let sources = node.get("provenance");
    let bare: Vec<&str> = PROPERTIES[..SOURCED]
        .iter()
        .copied()
        .filter(|key| *key != "reuse_flights" && given(node.get(key)).is_some() && sources.and_then(|s| s.get(key)).is_none())
        .collect();
    if !bare.is_empty() {
        warnings.push(format!("{file}, {path}: no provenance for {}", bare.join(", ")));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::material::LimitPolicy;

    /// Values of the file itself, which `shared/checks/materials.md` describes: 19 materials, LI-900 as printed by its source.
    #[test]
    fn val_the_built_in_library_reads_whole_and_keeps_its_sources() {
        let (library, warnings) = Library::read("assets/materials.json", BUILT_IN.as_bytes()).unwrap();
        assert_eq!(warnings, Vec::<String>::new());
        assert_eq!(library, Library::built_in());
        assert_eq!(library.materials.len(), 19);
        let li_900 = &library.materials[library.find("LI-900").unwrap()];
        assert_eq!((li_900.kind, li_900.density_kg_m3, li_900.reuse_flights), (Kind::Tile, 144.2, Some(100.0)));
        assert_eq!(li_900.limit_at(LimitPolicy::Reuse).unwrap().kelvin, 1533.15);
        let source = &li_900.provenance["conductivity_w_mk"];
        assert!(source.basis == "published" && source.source.contains("material 1") && source.uncertainty_fraction == Some(0.18));
        let Conductivity::Grid { temperature_k, pressure_pa, value } = &li_900.conductivity_w_mk else { panic!("a grid") };
        assert_eq!((temperature_k.len(), pressure_pa.len(), value[0][0], value[4][0]), (14, 5, 0.00865, 0.0403));
        for material in &library.materials {
            for key in material.provenance.values() {
                assert!(!key.source.is_empty() && !key.basis.is_empty(), "{}", material.id);
            }
        }
        assert!(library.materials[library.find("rcg").unwrap()].surface_recombination.len() > 4);
    }

    fn with(from: &str, to: &str) -> String {
        let text = r#"{"format": "tileglow-materials/1", "materials": [{"id": "Mine", "name": "n", "kind": "tile", "density_kg_m3": 100,
            "specific_heat_j_kgk": {"temperature_k": [300, 400], "value": [1, 2]}, "conductivity_w_mk":
            {"temperature_k": [300, 400], "pressure_pa": [10, 100], "value": [[1, 2], [3, 4]]}, "reuse_limit_k": 1500, "emissivity": 0.8,
            "provenance": {"density_kg_m3": {"basis": {"room": "published", "hot": "memory"}, "source": "s"}}}]}"#;
        assert!(text.contains(from), "{from}");
        text.replacen(from, to, 1)
    }

    #[test]
    fn verif_a_user_file_replaces_and_adds() {
        let (user, warnings) = Library::read("materials.json", with("Mine", "LI-900").as_bytes()).unwrap();
        assert_eq!(user.materials[0].provenance["density_kg_m3"].basis, "room: published, hot: memory");
        assert!(warnings[0].contains("materials[0]") && warnings[0].contains("emissivity"), "{warnings:?}");
        let joined = Library::built_in().joined(user);
        assert_eq!((joined.materials.len(), joined.materials[0].density_kg_m3), (19, 100.0));
        let (user, _) = Library::read("materials.json", with("Mine", "New").as_bytes()).unwrap();
        assert_eq!(Library::built_in().joined(user).find("NEW"), Some(19));
    }

    #[test]
    fn verif_every_wrong_key_and_value_is_named_with_its_path() {
        for (from, to, wants) in [
            ("\"density_kg_m3\": 100", "\"density_kg_m3\": 0", &["materials[0].density_kg_m3", "0", "above 0"][..]),
            ("\"density_kg_m3\": 100", "\"density\": 100", &["materials[0].density", "unknown key \"density\"", "density_kg_m3"]),
            ("\"kind\": \"tile\"", "\"kind\": \"tyle\"", &["materials[0].kind", "\"tyle\"", "hot structure"]),
            ("[300, 400], \"value\": [1, 2]", "[400, 400], \"value\": [1, 2]", &["specific_heat_j_kgk.temperature_k[1]"]),
            ("[300, 400], \"value\": [1, 2]", "[-3, 400], \"value\": [1, 2]", &["specific_heat_j_kgk.temperature_k[0]", "-3"]),
            ("[[1, 2], [3, 4]]", "[[1, 2], [3]]", &["conductivity_w_mk.value[1]", "1 values"]),
            ("[[1, 2], [3, 4]]", "[[1, 2]]", &["conductivity_w_mk.value", "1 rows"]),
            ("[[1, 2], [3, 4]]", "[[1, 2], [3, -4]]", &["conductivity_w_mk.value[1][1]", "-4"]),
            ("\"emissivity\": 0.8", "\"emissivity\": 1.2", &["materials[0].emissivity", "1.2"]),
            ("\"reuse_limit_k\": 1500", "\"reuse_limit_k\": {\"flights\": [0], \"value\": [3]}", &["reuse_limit_k.flights[0]"]),
            ("{\"density_kg_m3\": {", "{\"densty\": {", &["provenance.densty", "unknown key"]),
            ("materials/1", "materials/2", &["\"tileglow-materials/2\"", "tileglow-materials/1"]),
            ("\"id\": \"Mine\"", "\"id\": \"none\"", &["materials[0].id"]),
        ] {
            let error = Library::read("materials.json", with(from, to).as_bytes()).unwrap_err().to_string();
            for want in wants {
                assert!(error.contains(want), "{want} in {error}");
            }
        }
    }
}
