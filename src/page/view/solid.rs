//! The shield as vertices: outer faces and sides of all tiles in one set of arrays, each vertex with its place on the shield and
//! on the map, and the outlines that lines are drawn along.

use super::bvh::{Tree, Triangle};
use super::camera::Body;
use crate::document::Sorting as _;
use crate::shield::{MapPlace, NO_TILE, Shield};
use glam::DVec3;
use std::cell::OnceCell;
use three_d::{InnerSpace, Vec2, Vec3, Vec4, vec2, vec3};

/// The joint between two tiles as drawn where one is near enough to see it. Common practice is 1 to 2 mm.
pub const JOINT_M: f32 = 0.0014;

/// What a vertex belongs to; in `codes` beside the tile's index.
const FACE: f32 = 0.0;
const SIDE: f32 = 1.0;
const PLAIN: f32 = 2.0;

/// A point of a tile on the map; the map's `v` runs downward, as its outer faces look from outside.
fn on_map(place: &MapPlace, p: DVec3, tile_centre: DVec3) -> Vec3 {
    let from = p - tile_centre;
    vec3((place.centre[0] + from.dot(place.axis_u)) as f32, -(place.centre[1] + from.dot(place.axis_v)) as f32, 0.0)
}

/// What lines are drawn along, what labels stand at.
pub struct Outline {
    /// On the shield and on the map, in the same order.
    pub points: Vec<Vec3>,
    pub places: Vec<Vec3>,
    pub centre: Vec3,
    pub map_centre: Vec3,
    pub normal: Vec3,
    pub smallest_side_m: f32,
    /// Indices of the two outline points farthest from each other.
    pub diagonal: [usize; 2],
}

/// Arrays as the graphics card takes them, and what the rest of the view needs of the geometry.
pub struct Solid {
    pub positions: Vec<Vec3>,
    pub places: Vec<Vec3>,
    /// Inwards by half a joint of one metre, and the tile's smallest side.
    pub insets: Vec<Vec4>,
    /// Four times the tile's index, and what it is.
    pub codes: Vec<f32>,
    pub indices: Vec<u32>,
    pub outlines: Vec<Outline>,
    pub body: Body,
    /// Box of the map.
    pub map_low: Vec2,
    pub map_high: Vec2,
    tree: OnceCell<Tree>,
    map_tree: OnceCell<Tree>,
    /// How many of `indices`, from the first, are outer faces and surface without tiles.
    faces: usize,
}

impl Solid {
    pub fn new(shield: &Shield, map: &[MapPlace]) -> Solid {
        let mesh = &shield.mesh;
        let mut solid = Solid {
            positions: Vec::new(),
            places: Vec::new(),
            insets: Vec::new(),
            codes: Vec::new(),
            indices: Vec::new(),
            outlines: Vec::with_capacity(shield.tiles.len()),
            body: body(&mesh.positions),
            map_low: vec2(0.0, 0.0),
            map_high: vec2(0.0, 0.0),
            tree: OnceCell::new(),
            map_tree: OnceCell::new(),
            faces: 0,
        };
        // Triangles by tile, so that each tile has its own vertices.
        let mut by_owner: Vec<(u32, u32)> = mesh.owner.iter().zip(0..mesh.triangles.len() as u32).map(|(o, t)| (*o, t)).collect();
        by_owner.order();
        for group in by_owner.chunk_by(|a, b| a.0 == b.0) {
            let owner = group[0].0;
            solid.face(shield, map, owner, group);
        }
        solid.faces = solid.indices.len();
        for (index, tile) in shield.tiles.iter().enumerate() {
            let place = map.get(index);
            let of_map = |p: DVec3| place.map_or(vec3(0.0, 0.0, 0.0), |m| on_map(m, p, tile.facet.centre));
            let points: Vec<Vec3> = tile.outline.iter().map(|p| single(*p)).collect();
            let outline = Outline {
                places: tile.outline.iter().map(|p| of_map(*p)).collect(),
                centre: single(tile.facet.centre),
                map_centre: of_map(tile.facet.centre),
                normal: single(tile.facet.normal),
                smallest_side_m: tile.smallest_side_m as f32,
                diagonal: farthest(&points),
                points,
            };
            solid.sides(index, &outline, tile.thickness_m as f32);
            solid.outlines.push(outline);
        }
        (solid.map_low, solid.map_high) = bounds(solid.outlines.iter().flat_map(|o| &o.places));
        solid
    }

    /// The tree over the outer faces and the surface without tiles, grown when it is first asked for.
    pub fn tree(&self) -> &Tree {
        self.tree.get_or_init(|| Tree::new(self.triangles(&self.positions).collect()))
    }

    /// The same over the tiles of the map.
    pub fn map_tree(&self) -> &Tree {
        self.map_tree.get_or_init(|| Tree::new(self.triangles(&self.places).filter(|t| t.owner != NO_TILE).collect()))
    }

    /// Outer faces and surface without tiles, with their corners taken from `corners`.
    pub fn triangles<'a>(&'a self, corners: &'a [Vec3]) -> impl Iterator<Item = Triangle> + 'a {
        self.indices[..self.faces].chunks_exact(3).map(|t| {
            let code = self.codes[t[0] as usize];
            let owner = if code == PLAIN { NO_TILE } else { (code / 4.0) as u32 };
            Triangle { corners: [0, 1, 2].map(|i| corners[t[i] as usize]), owner }
        })
    }

    /// The outer face of one tile, or all the surface without tiles.
    fn face(&mut self, shield: &Shield, map: &[MapPlace], owner: u32, group: &[(u32, u32)]) {
        let mesh = &shield.mesh;
        let tile = shield.tiles.get(owner as usize);
        let place = map.get(owner as usize);
        let insets = tile.map_or_else(Vec::new, |t| inwards(&t.outline, t.facet.normal));
        let code = if owner == NO_TILE { PLAIN } else { owner as f32 * 4.0 + FACE };
        // Mesh vertex to own vertex, in the few of one tile.
        let mut known: Vec<(u32, u32)> = Vec::new();
        for &(_, t) in group {
            let Some(corners) = mesh.triangles.get(t as usize) else { continue };
            let at = corners.map(|c| mesh.positions.get(c as usize).copied().unwrap_or(DVec3::ZERO));
            for (corner, p) in corners.iter().zip(at) {
                let vertex = match known.iter().find(|k| k.0 == *corner) {
                    Some(k) if tile.is_some() => k.1,
                    _ => {
                        let vertex = self.positions.len() as u32;
                        let inset = tile.and_then(|t| t.outline.iter().position(|o| *o == p)).and_then(|i| insets.get(i));
                        let side = tile.map_or(1.0, |t| t.smallest_side_m as f32);
                        self.positions.push(single(p));
                        self.places.push(match (place, tile) {
                            (Some(m), Some(t)) => on_map(m, p, t.facet.centre),
                            _ => vec3(0.0, 0.0, 0.0),
                        });
                        self.insets.push(inset.copied().unwrap_or(vec3(0.0, 0.0, 0.0)).extend(side));
                        self.codes.push(code);
                        if tile.is_some() {
                            known.push((*corner, vertex));
                        }
                        vertex
                    }
                };
                self.indices.push(vertex);
            }
        }
    }

    /// The sides of one tile, from its outline down by its thickness.
    fn sides(&mut self, index: usize, outline: &Outline, thickness_m: f32) {
        let points: Vec<DVec3> = outline.points.iter().map(|p| DVec3::new(p.x.into(), p.y.into(), p.z.into())).collect();
        let normal = DVec3::new(outline.normal.x.into(), outline.normal.y.into(), outline.normal.z.into());
        let insets = inwards(&points, normal);
        let first = self.positions.len() as u32;
        let count = outline.points.len() as u32;
        for ((point, place), inset) in outline.points.iter().zip(&outline.places).zip(&insets) {
            for down in [0.0, thickness_m] {
                self.positions.push(point - outline.normal * down);
                self.places.push(*place);
                self.insets.push(inset.extend(outline.smallest_side_m));
                self.codes.push(index as f32 * 4.0 + SIDE);
            }
        }
        for i in 0..count {
            let (a, b) = (first + 2 * i, first + 2 * ((i + 1) % count));
            self.indices.extend([a, a + 1, b + 1, a, b + 1, b]);
        }
    }
}

fn single(p: DVec3) -> Vec3 {
    vec3(p.x as f32, p.y as f32, p.z as f32)
}

fn bounds<'a>(points: impl Iterator<Item = &'a Vec3>) -> (Vec2, Vec2) {
    let (mut low, mut high) = (vec2(f32::MAX, f32::MAX), vec2(f32::MIN, f32::MIN));
    for p in points {
        low = vec2(low.x.min(p.x), low.y.min(p.y));
        high = vec2(high.x.max(p.x), high.y.max(p.y));
    }
    if high.x >= low.x { (low, high) } else { (vec2(0.0, 0.0), vec2(1.0, 1.0)) }
}

fn body(positions: &[DVec3]) -> Body {
    let low = positions.iter().copied().reduce(DVec3::min).unwrap_or(DVec3::ZERO);
    let high = positions.iter().copied().reduce(DVec3::max).unwrap_or(DVec3::ONE);
    let (centre, extent) = ((low + high) / 2.0, high - low);
    Body { centre: single(centre), extent: single(extent), radius: (extent.length() / 2.0).max(1e-3) as f32 }
}

/// For each point of an outline the way inwards that moves both edges beside it by half a metre a metre of joint.
fn inwards(outline: &[DVec3], normal: DVec3) -> Vec<Vec3> {
    let n = outline.len();
    (0..n)
        .map(|i| {
            let (before, at, after) = (outline[(i + n - 1) % n], outline[i], outline[(i + 1) % n]);
            let a = normal.cross(at - before).normalize_or_zero();
            let b = normal.cross(after - at).normalize_or_zero();
            let along = (a + b).normalize_or_zero();
            // At a sharp corner the miter is kept within twice the joint.
            single(along * (0.5 / along.dot(a).max(0.25)))
        })
        .collect()
}

fn farthest(points: &[Vec3]) -> [usize; 2] {
    let mut best = ([0, 0], -1.0);
    for i in 0..points.len() {
        for j in i + 1..points.len() {
            let apart = (points[i] - points[j]).magnitude2();
            // Of two diagonals that differ by rounding alone the first is kept, so that equal tiles are struck alike.
            if apart > best.1 * 1.0001 {
                best = ([i, j], apart);
            }
        }
    }
    best.0
}
