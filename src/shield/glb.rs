//! A surface from a GLB: the scene's triangles in metres after node transforms, owned by feature id or by node name.

use super::accessor::{Buffers, Values};
use super::metadata;
use super::surface::{Owner, PLAIN, Surface};
use crate::document::Sorting as _;
use crate::document::{Error, Problems};
use glam::{DMat4, DQuat, DVec3, DVec4};
use gltf::Semantic;
use gltf::json::mesh::{Mode, Primitive};
use gltf::json::scene::Node;
use gltf::json::validation::Checked;
use gltf::json::{Index, Root, mesh};
use std::collections::HashMap;
use std::rc::Rc;

/// More triangles than any vehicle needs: a small file that repeats a mesh without end is refused here.
pub const TRIANGLES: usize = 8_000_000;

/// Extensions that a file may require: those read here and those that only change appearance.
const KNOWN: [&str; 3] = ["EXT_mesh_features", "EXT_structural_metadata", "KHR_mesh_quantization"];
const APPEARANCE: [&str; 4] = ["KHR_materials_", "KHR_texture_", "KHR_lights_", "EXT_texture_"];

/// Reads a GLB.
///
/// Where any primitive carries `_FEATURE_ID_0`, triangles are owned by that id (the set of `EXT_mesh_features` whose attribute is 0 gives
/// its null id and property table) and primitives without it are plain surface. Otherwise each node with a mesh must be named as its tile,
/// or `none`, which also covers everything below it. The default scene counts, else the first, else all nodes. Triangle lists, strips and
/// fans are read, points and lines left out with a warning; a mirrored node's triangles are turned round.
pub fn read(file: &str, bytes: &[u8], warnings: &mut Vec<String>) -> Result<Surface, Error> {
    let mut problems = Problems::of(file);
    let (json, binary) = match split(bytes) {
        Ok(parts) => parts,
        Err(what) => {
            problems.at_key("", what, "a binary glTF 2.0 file");
            return Err(problems.into_error());
        }
    };
    let root: Root = match gltf::json::deserialize::from_slice(json) {
        Ok(root) => root,
        Err(error) => {
            problems.at_key("", format!("its JSON is not valid glTF 2.0: {error}"), "a binary glTF 2.0 file");
            return Err(problems.into_error());
        }
    };
    check_extensions(&root, &mut problems);
    if !problems.is_empty() {
        return Err(problems.into_error());
    }
    let buffers = Buffers::new(&root, binary);
    let by_feature = root.meshes.iter().flat_map(|mesh| &mesh.primitives).any(|primitive| attribute(primitive, &feature_key()).is_some());
    let mut reader = Reader {
        buffers: &buffers,
        by_feature,
        surface: Surface { file: file.to_string(), ..Surface::default() },
        names: HashMap::new(),
        cache: HashMap::new(),
        property_table: None,
        problems: &mut problems,
        warnings,
        left_out: 0,
    };
    reader.scene();
    let Reader { mut surface, property_table, left_out, .. } = reader;
    if left_out > 0 {
        warnings.push(format!("{file}: {left_out} primitives of points or lines left out"));
    }
    if let Some(index) = property_table {
        surface.table = metadata::property_table(&buffers, index, &mut problems, warnings);
    }
    if surface.triangles.is_empty() && problems.is_empty() {
        problems.at_key("", "the scene has no triangle", "the outer faces of the tiles");
    }
    problems.or_ok(surface)
}

/// The JSON and binary chunks, after checks that the container's reader leaves out.
fn split(bytes: &[u8]) -> Result<(&[u8], Option<&[u8]>), String> {
    let word = |at: usize| bytes.get(at..at + 4).and_then(|b| <[u8; 4]>::try_from(b).ok()).map(u32::from_le_bytes);
    if !bytes.starts_with(b"glTF") {
        return Err("it does not begin as a GLB does".to_string());
    }
    match word(4) {
        Some(2) => {}
        version => return Err(format!("GLB version {}", version.map_or("missing".to_string(), |v| v.to_string()))),
    }
    let length = word(8).map_or(0, |length| length as usize);
    let Some(body) = (length >= 20).then(|| bytes.get(12..length)).flatten() else {
        return Err(format!("its header states {length} bytes, the file has {}", bytes.len()));
    };
    let mut rest = body;
    let (mut json, mut binary) = (None, None);
    while let (Some(header), true) = (rest.get(..8), json.is_none() || binary.is_none()) {
        let size = u32::from_le_bytes([header[0], header[1], header[2], header[3]]) as usize;
        let Some(chunk) = size.checked_add(8).and_then(|end| rest.get(8..end)) else {
            return Err(format!("a chunk of {size} bytes reaches beyond the file"));
        };
        match &header[4..8] {
            b"JSON" if json.is_none() => json = Some(chunk),
            b"BIN\0" if binary.is_none() => binary = Some(chunk),
            _ => {}
        }
        rest = rest.get(8 + size..).unwrap_or_default();
    }
    Ok((json.ok_or_else(|| "it has no JSON chunk".to_string())?, binary))
}

fn check_extensions(root: &Root, problems: &mut Problems) {
    let accepted = format!("{} and extensions of appearance", KNOWN.join(", "));
    for (i, name) in root.extensions_required.iter().enumerate() {
        let known = KNOWN.contains(&name.as_str()) || APPEARANCE.iter().any(|prefix| name.starts_with(prefix));
        if !known {
            let hint =
                if name.contains("draco") || name.contains("meshopt") { " (compressed geometry: save without compression)" } else { "" };
            problems.at_key(format!("extensionsRequired[{i}]"), format!("the file requires {name:?}{hint}"), accepted.clone());
        }
    }
    if root.extensions_used.iter().any(|name| name == "EXT_mesh_gpu_instancing") {
        problems.at_key(
            "extensionsUsed",
            "\"EXT_mesh_gpu_instancing\" repeats one mesh for many tiles",
            "a surface of its own for every tile",
        );
    }
}

fn feature_key() -> Checked<Semantic> {
    Checked::Valid(Semantic::Extras("FEATURE_ID_0".to_string()))
}

fn attribute(primitive: &Primitive, key: &Checked<Semantic>) -> Option<usize> {
    primitive.attributes.get(key).map(|index| index.value())
}

/// What the tree says of a node: its place and whether it is below a node named `none`.
struct Visit {
    node: usize,
    transform: DMat4,
    plain: bool,
}

/// The feature id set of a primitive that belongs to `_FEATURE_ID_0`.
#[derive(Default)]
struct FeatureSet {
    null: Option<f64>,
    table: Option<usize>,
}

struct Reader<'a> {
    buffers: &'a Buffers<'a>,
    by_feature: bool,
    surface: Surface,
    /// Node name to its index in `surface.names`.
    names: HashMap<String, u32>,
    cache: HashMap<usize, Rc<Values>>,
    property_table: Option<usize>,
    problems: &'a mut Problems,
    warnings: &'a mut Vec<String>,
    left_out: usize,
}

impl<'a> Reader<'a> {
    fn scene(&mut self) {
        let root = self.buffers.root;
        let scene = root.scene.as_ref().map_or(0, Index::value);
        let starts: Vec<usize> = match root.scenes.get(scene) {
            Some(scene) => scene.nodes.iter().map(Index::value).collect(),
            None if root.scene.is_some() => {
                self.problems.at_key(
                    "scene",
                    format!("there is no scene {scene}"),
                    format!("0 to {}", root.scenes.len().saturating_sub(1)),
                );
                return;
            }
            None => {
                let mut child = vec![false; root.nodes.len()];
                for index in root.nodes.iter().flat_map(|node| node.children.iter().flatten()) {
                    if let Some(child) = child.get_mut(index.value()) {
                        *child = true;
                    }
                }
                (0..root.nodes.len()).filter(|i| !child[*i]).collect()
            }
        };
        if root.scenes.len() > 1 {
            self.warnings.push(format!("{}: only scene {scene} of {} is read", self.surface.file, root.scenes.len()));
        }
        let mut seen = vec![false; root.nodes.len()];
        let mut open: Vec<Visit> = starts.into_iter().rev().map(|node| Visit { node, transform: DMat4::IDENTITY, plain: false }).collect();
        while let Some(visit) = open.pop() {
            let here = format!("nodes[{}]", visit.node);
            let Some(node) = root.nodes.get(visit.node) else {
                self.problems.at_key(here, "there is no such node", format!("0 to {}", root.nodes.len().saturating_sub(1)));
                continue;
            };
            if std::mem::replace(&mut seen[visit.node], true) {
                self.problems.at_key(here, "the node stands twice in the tree", "each node below one parent");
                continue;
            }
            let plain = visit.plain || node.name.as_deref() == Some(PLAIN);
            let transform = visit.transform * local_transform(node);
            if let Some(mesh) = &node.mesh {
                self.node(node, &here, mesh.value(), transform, plain);
            }
            let children = node.children.iter().flatten().rev();
            open.extend(children.map(|child| Visit { node: child.value(), transform, plain }));
            if self.surface.triangles.len() > TRIANGLES {
                self.problems.at_key("", "the scene has too many triangles", format!("{TRIANGLES} at most"));
                return;
            }
        }
    }

    fn node(&mut self, node: &Node, here: &str, mesh: usize, transform: DMat4, plain: bool) {
        let Some(found) = self.buffers.root.meshes.get(mesh) else {
            self.problems.at_key(format!("{here}.mesh"), format!("there is no mesh {mesh}"), "the index of a mesh");
            return;
        };
        let owner = if plain || self.by_feature {
            Owner::Plain
        } else {
            let Some(name) = node.name.as_deref().filter(|name| !name.is_empty()) else {
                let accepted = "a node named as its tile, or \"none\"; or _FEATURE_ID_0 on the mesh";
                self.problems.at_key(format!("{here}.name"), "a node with a mesh has no name", accepted);
                return;
            };
            let next = self.surface.names.len() as u32;
            let index = *self.names.entry(name.to_string()).or_insert(next);
            if index == next {
                self.surface.names.push(name.to_string());
            }
            Owner::Name(index)
        };
        for (i, primitive) in found.primitives.iter().enumerate() {
            let here = format!("meshes[{mesh}].primitives[{i}]");
            if let Err((key, what)) = self.primitive(primitive, &here, transform, plain, owner) {
                self.problems.at_key(format!("{here}{key}"), what, "");
            }
        }
    }

    fn values(&mut self, index: usize) -> Result<Rc<Values>, String> {
        if let Some(known) = self.cache.get(&index) {
            return Ok(known.clone());
        }
        let values = Rc::new(self.buffers.values(index)?);
        self.cache.insert(index, values.clone());
        Ok(values)
    }

    fn primitive(
        &mut self,
        primitive: &Primitive,
        here: &str,
        transform: DMat4,
        plain: bool,
        owner: Owner,
    ) -> Result<(), (&'static str, String)> {
        let mode = match primitive.mode {
            Checked::Valid(mode @ (Mode::Triangles | Mode::TriangleStrip | Mode::TriangleFan)) => mode,
            Checked::Valid(_) => {
                self.left_out += 1;
                return Ok(());
            }
            Checked::Invalid => return Err((".mode", "unknown mode".to_string())),
        };
        const POSITION: &str = ".attributes.POSITION";
        let Some(index) = attribute(primitive, &Checked::Valid(Semantic::Positions)) else {
            return Err((POSITION, "the primitive has no positions".to_string()));
        };
        let positions = self.values(index).map_err(|what| (POSITION, what))?;
        if positions.components != 3 {
            return Err((POSITION, format!("{} components where 3 make a position", positions.components)));
        }
        let corners: Vec<u32> = match &primitive.indices {
            None => (0..positions.count() as u32).collect(),
            Some(index) => {
                let values = self.values(index.value()).map_err(|what| (".indices", what))?;
                values.data.iter().map(|value| *value as u32).collect()
            }
        };
        if let Some(wrong) = corners.iter().find(|corner| **corner as usize >= positions.count()) {
            return Err((".indices", format!("index {wrong} where the primitive has {} vertices", positions.count())));
        }
        let mut triangles = triangles(mode, &corners);
        if self.surface.triangles.len() + triangles.len() > TRIANGLES {
            return Err(("", format!("more than {TRIANGLES} triangles in all")));
        }
        if transform.determinant() < 0.0 {
            triangles.iter_mut().for_each(|triangle| triangle.swap(1, 2));
        }
        let owners = self.owners(primitive, here, &triangles, positions.count(), plain, owner)?;
        // Copy only the vertices in use: many primitives may share one long accessor.
        let mut used: Vec<u32> = triangles.iter().flatten().copied().collect();
        used.order();
        used.dedup();
        let base = self.surface.positions.len() as u32;
        for vertex in &used {
            let [x, y, z] = positions.triple(*vertex as usize).unwrap_or_default();
            self.surface.positions.push(transform.transform_point3(DVec3::new(x, y, z)));
        }
        let place = |vertex: u32| base + used.partition_point(|known| *known < vertex) as u32;
        self.surface.triangles.extend(triangles.iter().map(|triangle| triangle.map(place)));
        self.surface.owner.extend(owners);
        Ok(())
    }

    /// Whose each triangle is.
    fn owners(
        &mut self,
        primitive: &Primitive,
        here: &str,
        triangles: &[[u32; 3]],
        vertices: usize,
        plain: bool,
        owner: Owner,
    ) -> Result<Vec<Owner>, (&'static str, String)> {
        const KEY: &str = ".attributes._FEATURE_ID_0";
        let Some(index) = attribute(primitive, &feature_key()).filter(|_| !plain) else {
            return Ok(vec![owner; triangles.len()]);
        };
        let set = feature_set(primitive).map_err(|what| (".extensions.EXT_mesh_features", what))?;
        if let Some(table) = set.table
            && *self.property_table.get_or_insert(table) != table
        {
            return Err((".extensions.EXT_mesh_features", format!("property table {table}, where an earlier primitive names another one")));
        }
        let ids = self.values(index).map_err(|what| (KEY, what))?;
        if ids.components != 1 || ids.count() < vertices {
            return Err((KEY, format!("{} feature ids for {vertices} vertices", ids.count())));
        }
        let mut owners = Vec::with_capacity(triangles.len());
        for (i, triangle) in triangles.iter().enumerate() {
            let [a, b, c] = triangle.map(|vertex| ids.data.get(vertex as usize).copied().unwrap_or(f64::NAN));
            if a.to_bits() != b.to_bits() || b.to_bits() != c.to_bits() {
                return Err((KEY, format!("triangle {i} joins vertices of the features {a}, {b} and {c}; a triangle belongs to one tile")));
            }
            let whole = a.fract() == 0.0 && (0.0..4e9).contains(&a);
            owners.push(match set.null {
                Some(null) if a == null => Owner::Plain,
                _ if whole => Owner::Row(a as u32),
                _ => return Err((KEY, format!("{a} is no feature id, in triangle {i} of {here}"))),
            });
        }
        Ok(owners)
    }
}

/// The set of `EXT_mesh_features` whose attribute is 0.
fn feature_set(primitive: &mesh::Primitive) -> Result<FeatureSet, String> {
    let Some(extension) = primitive.extensions.as_ref().and_then(|extensions| extensions.others.get("EXT_mesh_features")) else {
        return Ok(FeatureSet::default());
    };
    let sets = extension.get("featureIds").and_then(|sets| sets.as_array()).ok_or_else(|| "featureIds is no list".to_string())?;
    let Some(set) = sets.iter().find(|set| set.get("attribute").and_then(|attribute| attribute.as_u64()) == Some(0)) else {
        return Err("no feature id set has \"attribute\": 0".to_string());
    };
    let whole = |key: &str| match set.get(key) {
        None => Ok(None),
        Some(value) => value.as_u64().map(Some).ok_or_else(|| format!("{key} is {value}, where a whole number stands")),
    };
    Ok(FeatureSet { null: whole("nullFeatureId")?.map(|id| id as f64), table: whole("propertyTable")?.map(|table| table as usize) })
}

fn local_transform(node: &Node) -> DMat4 {
    match node.matrix {
        Some(m) => {
            let column = |i: usize| DVec4::new(m[i].into(), m[i + 1].into(), m[i + 2].into(), m[i + 3].into());
            DMat4::from_cols(column(0), column(4), column(8), column(12))
        }
        None => {
            let three = |v: [f32; 3]| DVec3::from_array(v.map(f64::from));
            let rotation = node.rotation.map_or(DQuat::IDENTITY, |q| {
                let q = DQuat::from_array(q.0.map(f64::from));
                if q.length_squared() > 0.0 { q.normalize() } else { DQuat::IDENTITY }
            });
            let scale = node.scale.map_or(DVec3::ONE, three);
            DMat4::from_scale_rotation_translation(scale, rotation, node.translation.map_or(DVec3::ZERO, three))
        }
    }
}

/// The triangles of a list, strip or fan, as glTF 2.0, section 3.7.2.1, winds them; a strip's repeated corners drop out.
fn triangles(mode: Mode, corners: &[u32]) -> Vec<[u32; 3]> {
    let mut triangles: Vec<[u32; 3]> = match mode {
        Mode::TriangleStrip => {
            let turned = |(i, w): (usize, &[u32])| if i % 2 == 0 { [w[0], w[1], w[2]] } else { [w[1], w[0], w[2]] };
            corners.windows(3).enumerate().map(turned).collect()
        }
        Mode::TriangleFan => match corners {
            [hub, rest @ ..] => rest.windows(2).map(|w| [*hub, w[0], w[1]]).collect(),
            [] => Vec::new(),
        },
        _ => corners.chunks_exact(3).map(|c| [c[0], c[1], c[2]]).collect(),
    };
    triangles.retain(|[a, b, c]| a != b && b != c && a != c);
    triangles
}
