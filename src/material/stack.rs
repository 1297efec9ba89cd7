//! What lies under a tile: the reader of `stacks.json`, the documented default, and what a back face meets.

use super::{Back, Library, Limit, Stack, StackLayer};
use crate::document::json::{self, Range};
use crate::document::{Curve, Error, Json, Object, Problems};

/// The format that the reader accepts.
pub const FORMAT: &str = "tileglow-stacks/1";
/// The stack that a tile takes where its table names none.
pub const DEFAULT: &str = "default";

/// The default stack, used where a vehicle brings no `stacks.json`: bond and isolation pad at the thickness at which the material
/// library states them, over an aluminium skin, its back insulated.
///
/// Bond 0.19 mm of RTV-560 and pad 4.064 mm (0.160 in) are the library's own `thickness_m`, whose sources stand there; the skin of
/// 2 mm is our choice for a vehicle that says nothing, common practice in size.
pub const DEFAULT_JSON: &str = r#"{"format": "tileglow-stacks/1", "stacks": [{"name": "default", "layers": [
  {"name": "bond", "material": "RTV-560", "thickness_m": 0.00019, "limit_k": null},
  {"name": "pad", "material": "SIP", "thickness_m": 0.004064, "limit_k": null},
  {"name": "pad bond", "material": "RTV-560", "thickness_m": 0.00019, "limit_k": null},
  {"name": "skin", "material": "AL-2024", "thickness_m": 0.002, "limit_k": null}],
  "structure": "skin", "back": {"kind": "adiabatic"}}]}"#;

/// At most so many layers in a stack, as in a coupon.
const LAYERS: usize = 1000;

impl Stack {
    /// The default stack with the materials of `library`; an error where a user's library took one of them away.
    pub fn built_in(library: &Library) -> Result<Vec<Stack>, Error> {
        Stack::read_all("built-in stacks", DEFAULT_JSON.as_bytes(), library)
    }

    /// Reads a `stacks.json`, or returns every problem with its key path.
    pub fn read_all(file: &str, bytes: &[u8], library: &Library) -> Result<Vec<Stack>, Error> {
        let mut problems = Problems::of(file);
        let text = match std::str::from_utf8(bytes) {
            Ok(text) => text,
            Err(error) => {
                problems.at_key("", format!("not UTF-8 text: {error}"), "UTF-8");
                return Err(problems.into_error());
            }
        };
        let json = Json::parse(file, text)?;
        let Some(mut object) = Object::open(&json, "", &mut problems) else { return Err(problems.into_error()) };
        if !object.format(FORMAT, &mut problems) {
            return Err(problems.into_error());
        }
        let mut stacks: Vec<Stack> = Vec::new();
        if let Some(node) = object.required("stacks", &mut problems) {
            for (i, node) in json::list(node, "stacks", &mut problems).iter().enumerate() {
                let path = format!("stacks[{i}]");
                let Some(stack) = read_stack(node, &path, library, &mut problems) else { continue };
                if stacks.iter().any(|known| known.name == stack.name) {
                    problems.at_key(format!("{path}.name"), format!("the stack {:?} stands twice", stack.name), "each name once");
                }
                stacks.push(stack);
            }
        }
        object.finish(&mut problems);
        problems.or_ok(stacks)
    }

    /// Thickness of all layers together, m.
    pub fn thickness_m(&self) -> f64 {
        self.layers.iter().map(|layer| layer.thickness_m).sum()
    }
}

fn read_stack(node: &Json, path: &str, library: &Library, problems: &mut Problems) -> Option<Stack> {
    let before = problems.list.len();
    let mut object = Object::open(node, path, problems)?;
    let name = object.text("name", problems);
    if name.is_empty() || name == "none" {
        problems.at_key(object.path_of("name"), format!("{name:?} cannot be a stack's name"), "a name of its own");
    }
    let mut layers: Vec<StackLayer> = Vec::new();
    let at = object.path_of("layers");
    if let Some(node) = object.required("layers", problems) {
        let list = json::list(node, &at, problems);
        if list.is_empty() || list.len() > LAYERS {
            problems.at_key(&at, format!("{} layers", list.len()), format!("1 to {LAYERS} layers; the stack `none` is an empty one"));
        }
        for (i, node) in list.iter().take(LAYERS).enumerate() {
            let path = format!("{at}[{i}]");
            let Some(mut object) = Object::open(node, &path, problems) else { continue };
            let name = object.text("name", problems);
            if layers.iter().any(|layer| layer.name == name) {
                problems.at_key(format!("{path}.name"), format!("the layer {name:?} stands twice"), "each name once in a stack");
            }
            let id = object.text("material", problems);
            let material = library.find(&id);
            if material.is_none() {
                problems.at_key(format!("{path}.material"), format!("unknown material {id:?}"), library.ids(|_| true));
            }
            let thickness_m = object.number("thickness_m", Range::POSITIVE, problems);
            let limit_k = match object.optional("limit_k") {
                None | Some(Json::Null) => None,
                Some(node) => Limit::read(node, &format!("{path}.limit_k"), problems),
            };
            object.finish(problems);
            layers.push(StackLayer { name, material: material.unwrap_or(0), thickness_m, limit_k });
        }
    }
    let wanted = object.text("structure", problems);
    let structure = layers.iter().position(|layer| layer.name == wanted);
    if structure.is_none() && problems.list.len() == before {
        let names: Vec<&str> = layers.iter().map(|layer| layer.name.as_str()).collect();
        problems.at_key(object.path_of("structure"), format!("no layer is named {wanted:?}"), names.join(", "));
    }
    let at = object.path_of("back");
    let back = object.required("back", problems).and_then(|node| Back::read(node, &at, problems));
    object.finish(problems);
    if problems.list.len() > before {
        return None;
    }
    Some(Stack { name, layers, structure: structure?, back: back? })
}

impl Back {
    /// Reads what a back face meets: `{"kind": "adiabatic" | "temperature" | "convection" | "radiation", …}` as in a coupon; numbers may
    /// be tables over `time_s` where a coupon's may.
    pub fn read(node: &Json, path: &str, problems: &mut Problems) -> Option<Back> {
        let before = problems.list.len();
        let mut object = Object::open(node, path, problems)?;
        let kind = object.word("kind", &["adiabatic", "temperature", "convection", "radiation"], problems)?;
        let mut curve = |key: &'static str, range: Range, problems: &mut Problems| {
            let at = object.path_of(key);
            let node = object.required(key, problems);
            node.map_or(Curve::Constant(0.0), |node| Curve::read(node, &at, &["time_s"], range, problems))
        };
        let back = match kind.as_str() {
            "temperature" => Back::Temperature { temperature_k: curve("temperature_k", Range::POSITIVE, problems) },
            "convection" => Back::Convection {
                h_w_m2k: curve("h_w_m2k", Range::NOT_NEGATIVE, problems),
                ambient_k: curve("ambient_k", Range::POSITIVE, problems),
            },
            "radiation" => Back::Radiation {
                emissivity: object.number("emissivity", Range::above_to(0.0, 1.0), problems),
                surroundings_k: object.number("surroundings_k", Range::NOT_NEGATIVE, problems),
            },
            _ => Back::Adiabatic,
        };
        object.finish(problems);
        (problems.list.len() == before).then_some(back)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_the_default_stack_is_bond_pad_bond_skin() {
        let library = Library::built_in();
        let stacks = Stack::built_in(&library).unwrap();
        let stack = &stacks[0];
        let ids: Vec<&str> = stack.layers.iter().map(|layer| library.materials[layer.material].id.as_str()).collect();
        assert_eq!(ids, ["rtv-560", "sip", "rtv-560", "al-2024"]);
        assert_eq!((stacks.len(), stack.name.as_str(), stack.structure, &stack.back), (1, "default", 3, &Back::Adiabatic));
        for layer in &stack.layers[..3] {
            assert_eq!(Some(layer.thickness_m), library.materials[layer.material].thickness_m);
        }
    }

    #[test]
    fn verif_every_problem_of_a_stack_is_told_with_its_path() {
        let library = Library::built_in();
        for (from, to, wants) in [
            ("\"SIP\"", "\"SIPP\"", &["stacks[0].layers[1].material", "\"SIPP\"", "rtv-560"][..]),
            ("0.004064", "0", &["stacks[0].layers[1].thickness_m"]),
            ("\"structure\": \"skin\"", "\"structure\": \"hull\"", &["stacks[0].structure", "\"hull\"", "pad bond"]),
            ("\"pad bond\"", "\"bond\"", &["stacks[0].layers[2].name", "stands twice"]),
            ("\"kind\": \"adiabatic\"", "\"kind\": \"warm\"", &["stacks[0].back.kind", "\"warm\"", "adiabatic"]),
            (
                "\"kind\": \"adiabatic\"",
                "\"kind\": \"radiation\", \"emissivity\": 2, \"surroundings_k\": 0",
                &["stacks[0].back.emissivity"],
            ),
            ("\"limit_k\": null", "\"limit\": null", &["stacks[0].layers[0].limit", "unknown key", "limit_k"]),
            ("stacks/1", "stacks/9", &["\"tileglow-stacks/9\""]),
            ("\"name\": \"default\"", "\"name\": \"none\"", &["stacks[0].name"]),
        ] {
            assert!(DEFAULT_JSON.contains(from), "{from}");
            let text = DEFAULT_JSON.replacen(from, to, 1);
            let error = Stack::read_all("stacks.json", text.as_bytes(), &library).unwrap_err().to_string();
            for want in wants {
                assert!(error.contains(want), "{want} in {error}");
            }
        }
    }
}
