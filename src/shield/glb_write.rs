//! Writing a vehicle as one GLB: positions, feature ids (`EXT_mesh_features`) and a property table (`EXT_structural_metadata`).
//!
//! Binary glTF 2.0 (Khronos; ISO/IEC 12113:2022) with one mesh, one primitive, no normals (every viewer then shades flat).
//! Feature ids are 32-bit floats, the null feature is 65,535. Numbers of the table are 64-bit floats, so that they are those of
//! tiles.csv to the last bit; texts are UTF-8 with 32-bit offsets.

use crate::document::Json;
use glam::DVec3;

/// The feature id of surface without a tile.
const NULL_FEATURE: u32 = 65_535;

/// Surface to write. Metres, x aft, y right, z up; triangles counter-clockwise from outside.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Surface {
    pub positions: Vec<DVec3>,
    /// A position's row of the table; `None` on surface without a tile.
    pub features: Vec<Option<u32>>,
    pub triangles: Vec<[u32; 3]>,
}

/// One column of the property table, a value a feature.
#[derive(Debug, Clone, PartialEq)]
pub enum Column {
    Text(Vec<String>),
    Number(Vec<f64>),
}

impl Column {
    fn len(&self) -> usize {
        match self {
            Column::Text(values) => values.len(),
            Column::Number(values) => values.len(),
        }
    }
}

/// The binary chunk and its views.
#[derive(Default)]
struct Buffer {
    bytes: Vec<u8>,
    views: Vec<Json>,
}

impl Buffer {
    /// Appends a view at a multiple of 8 bytes; `target` is the glTF buffer target, 0 for none.
    fn view(&mut self, bytes: impl IntoIterator<Item = u8>, target: u32) -> f64 {
        while !self.bytes.len().is_multiple_of(8) {
            self.bytes.push(0);
        }
        let start = self.bytes.len();
        self.bytes.extend(bytes);
        let mut view = vec![
            ("buffer".to_string(), Json::Number(0.0)),
            ("byteOffset".to_string(), Json::Number(start as f64)),
            ("byteLength".to_string(), Json::Number((self.bytes.len() - start) as f64)),
        ];
        if target != 0 {
            view.push(("target".to_string(), Json::Number(f64::from(target))));
        }
        self.views.push(Json::Object(view));
        (self.views.len() - 1) as f64
    }
}

/// The bytes of a GLB named `name`. Columns have one value per feature; `features` holds rows below that count.
pub fn write_glb(name: &str, surface: &Surface, columns: &[(&str, Column)]) -> Vec<u8> {
    let count = columns.first().map_or(0, |(_, column)| column.len());
    let mut buffer = Buffer::default();
    let positions = buffer.view(surface.positions.iter().flat_map(|p| [p.x, p.y, p.z]).flat_map(|v| (v as f32).to_le_bytes()), 34_962);
    let features = buffer.view(surface.features.iter().flat_map(|f| (f.unwrap_or(NULL_FEATURE) as f32).to_le_bytes()), 34_962);
    let short = surface.positions.len() < 65_535;
    let indices = surface.triangles.iter().flatten();
    let indices = if short {
        buffer.view(indices.flat_map(|i| (*i as u16).to_le_bytes()), 34_963)
    } else {
        buffer.view(indices.flat_map(|i| i.to_le_bytes()), 34_963)
    };
    let (low, high) = bounds(&surface.positions);
    let accessor = |view: f64, component: f64, count: usize, kind: &str| {
        vec![
            ("bufferView".to_string(), Json::Number(view)),
            ("componentType".to_string(), Json::Number(component)),
            ("count".to_string(), Json::Number(count as f64)),
            ("type".to_string(), Json::text(kind)),
        ]
    };
    let mut place = accessor(positions, 5126.0, surface.positions.len(), "VEC3");
    place.push(("min".to_string(), Json::numbers(&low)));
    place.push(("max".to_string(), Json::numbers(&high)));
    let accessors = Json::List(vec![
        Json::Object(place),
        Json::Object(accessor(features, 5126.0, surface.features.len(), "SCALAR")),
        Json::Object(accessor(indices, if short { 5123.0 } else { 5125.0 }, 3 * surface.triangles.len(), "SCALAR")),
    ]);
    let mut class = Vec::new();
    let mut table = Vec::new();
    for (id, column) in columns {
        let (kind, property) = match column {
            Column::Text(values) => {
                let view = buffer.view(values.iter().flat_map(|v| v.bytes()), 0);
                let mut end = 0_u32;
                let ends = values.iter().map(|v| {
                    end += v.len() as u32;
                    end
                });
                let offsets: Vec<u32> = std::iter::once(0).chain(ends).collect();
                let offsets = buffer.view(offsets.into_iter().flat_map(u32::to_le_bytes), 0);
                (
                    Json::object([("type", Json::text("STRING"))]),
                    Json::object([("values", Json::Number(view)), ("stringOffsets", Json::Number(offsets))]),
                )
            }
            Column::Number(values) => {
                let view = buffer.view(values.iter().flat_map(|v| v.to_le_bytes()), 0);
                (
                    Json::object([("type", Json::text("SCALAR")), ("componentType", Json::text("FLOAT64"))]),
                    Json::object([("values", Json::Number(view))]),
                )
            }
        };
        class.push((id.to_string(), kind));
        table.push((id.to_string(), property));
    }
    let feature_ids = Json::object([
        ("featureCount", Json::Number(count as f64)),
        ("nullFeatureId", Json::Number(f64::from(NULL_FEATURE))),
        ("attribute", Json::Number(0.0)),
        ("propertyTable", Json::Number(0.0)),
    ]);
    let primitive = Json::object([
        ("attributes", Json::object([("POSITION", Json::Number(0.0)), ("_FEATURE_ID_0", Json::Number(1.0))])),
        ("indices", Json::Number(2.0)),
        ("material", Json::Number(0.0)),
        ("extensions", Json::object([("EXT_mesh_features", Json::object([("featureIds", Json::List(vec![feature_ids]))]))])),
    ]);
    let metadata = Json::object([
        (
            "schema",
            Json::object([
                ("id", Json::text("tiles")),
                ("classes", Json::object([("tile", Json::object([("properties", Json::Object(class))]))])),
            ]),
        ),
        (
            "propertyTables",
            Json::List(vec![Json::object([
                ("class", Json::text("tile")),
                ("count", Json::Number(count as f64)),
                ("properties", Json::Object(table)),
            ])]),
        ),
    ]);
    let used = [Json::text("EXT_mesh_features"), Json::text("EXT_structural_metadata")];
    let surface_look = Json::object([
        ("baseColorFactor", Json::numbers(&[0.6, 0.6, 0.6, 1.0])),
        ("metallicFactor", Json::Number(0.0)),
        ("roughnessFactor", Json::Number(0.9)),
    ]);
    let json = Json::object([
        ("asset", Json::object([("version", Json::text("2.0")), ("generator", Json::text(format!("tileglow {}", crate::VERSION)))])),
        ("extensionsUsed", Json::List(used.to_vec())),
        ("scene", Json::Number(0.0)),
        ("scenes", Json::List(vec![Json::object([("nodes", Json::numbers(&[0.0]))])])),
        ("nodes", Json::List(vec![Json::object([("name", Json::text(name)), ("mesh", Json::Number(0.0))])])),
        ("meshes", Json::List(vec![Json::object([("name", Json::text(name)), ("primitives", Json::List(vec![primitive]))])])),
        ("materials", Json::List(vec![Json::object([("name", Json::text("tile")), ("pbrMetallicRoughness", surface_look)])])),
        ("accessors", accessors),
        ("bufferViews", Json::List(buffer.views)),
        ("buffers", Json::List(vec![Json::object([("byteLength", Json::Number(buffer.bytes.len() as f64))])])),
        ("extensions", Json::object([("EXT_structural_metadata", metadata)])),
    ]);
    container(json.compact().into_bytes(), buffer.bytes)
}

/// Smallest and largest coordinates as the file holds them.
fn bounds(positions: &[DVec3]) -> ([f64; 3], [f64; 3]) {
    let (mut low, mut high) = ([f64::MAX; 3], [f64::MIN; 3]);
    for point in positions {
        for (axis, value) in point.to_array().into_iter().enumerate() {
            let value = f64::from(value as f32);
            low[axis] = low[axis].min(value);
            high[axis] = high[axis].max(value);
        }
    }
    (low, high)
}

/// Header and the two chunks, each padded to 4 bytes.
fn container(mut json: Vec<u8>, mut binary: Vec<u8>) -> Vec<u8> {
    json.resize(json.len().next_multiple_of(4), b' ');
    binary.resize(binary.len().next_multiple_of(4), 0);
    let mut out = Vec::with_capacity(28 + json.len() + binary.len());
    for word in [0x4654_6C67, 2, 28 + json.len() as u32 + binary.len() as u32, json.len() as u32, 0x4E4F_534A] {
        out.extend(u32::to_le_bytes(word));
    }
    out.extend(json);
    for word in [binary.len() as u32, 0x004E_4942] {
        out.extend(u32::to_le_bytes(word));
    }
    out.extend(binary);
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_an_independent_reader_gets_it_back() {
        let surface = Surface {
            positions: vec![DVec3::ZERO, DVec3::Y, DVec3::X, DVec3::new(1.0, 1.0, 0.5)],
            features: vec![Some(0), Some(0), Some(0), None],
            triangles: vec![[0, 1, 2], [1, 3, 2]],
        };
        let columns = [("tile", Column::Text(vec!["0001".into()])), ("thickness_mm", Column::Number(vec![31.2]))];
        let glb = write_glb("two", &surface, &columns);
        let gltf = gltf::Gltf::from_slice(&glb).unwrap();
        let blob = gltf.blob.as_deref().unwrap();
        let primitive = gltf.meshes().next().unwrap().primitives().next().unwrap();
        let reader = primitive.reader(|_| Some(blob));
        let read: Vec<[f32; 3]> = reader.read_positions().unwrap().collect();
        assert_eq!(read, [[0.0, 0.0, 0.0], [0.0, 1.0, 0.0], [1.0, 0.0, 0.0], [1.0, 1.0, 0.5]]);
        let indices: Vec<u32> = reader.read_indices().unwrap().into_u32().collect();
        assert_eq!(indices, [0, 1, 2, 1, 3, 2]);
        assert_eq!(primitive.bounding_box().max, [1.0, 1.0, 0.5]);
    }
}
