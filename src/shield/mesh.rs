//! All tiles' geometry from one surface: winding made alike and outward, facets, sides, outlines, neighbours.
//!
//! What is done to a surface that winds badly, and said as a warning each time: within a tile, and then from tile to tile across their
//! joints, the smaller area is turned round to agree with the larger; if the whole then faces inward, all of it is turned.

use super::joint::{Edge, Joint, Parity, joints};
use super::outline::{Patch, rectangle_sides};
use super::surface::{Surface, first_ten};
use super::table::TileRow;
use super::{Mesh, NO_TILE};
use crate::document::Problems;
use crate::document::Sorting as _;
use glam::DVec3;

/// A vehicle larger or smaller than this is likely in another unit than metres.
const LARGEST_M: f64 = 200.0;
const SMALLEST_M: f64 = 0.1;
/// Coordinates beyond this are refused.
const FARTHEST_M: f64 = 1e6;
/// Vertices of a tile closer than this part of the vehicle's largest extent are one: about the rounding of a 32-bit coordinate.
const WELD_OF_EXTENT: f64 = 1e-6;
/// A tile with less area than this is degenerate.
const LEAST_AREA_M2: f64 = 1e-9;
/// A tile whose faces' normals cancel to less than this part of its area closes on itself.
const OPEN: f64 = 0.05;

/// One tile's geometry.
#[derive(Debug, Clone, Default)]
pub struct TileGeometry {
    /// On the surface: the area-weighted centre, moved along the normal onto the tile's face where that line meets it.
    pub centre: DVec3,
    pub normal: DVec3,
    pub area_m2: f64,
    pub smallest_side_m: f64,
    pub largest_side_m: f64,
    pub outline: Vec<DVec3>,
    pub neighbours: Vec<u32>,
}

/// The whole mesh, its triangles in the order of the tiles with surface that carries none last, and a geometry for every tile.
#[derive(Debug, Clone, Default)]
pub struct Built {
    pub mesh: Mesh,
    pub tiles: Vec<TileGeometry>,
    pub plain_area_m2: f64,
}

/// Builds all geometry; `owners` is by triangle, every tile of `rows` has one triangle at least.
pub fn build(surface: Surface, owners: &[u32], rows: &[TileRow], problems: &mut Problems, warnings: &mut Vec<String>) -> Option<Built> {
    let name = |tile: u32| rows.get(tile as usize).map_or("surface without a tile".to_string(), |row| format!("tile {:?}", row.id));
    let Surface { file, positions, triangles, .. } = surface;
    let mut wrong = Vec::new();
    for (triangle, owner) in triangles.iter().zip(owners) {
        for p in triangle.iter().filter_map(|corner| positions.get(*corner as usize)) {
            if !p.is_finite() || p.abs().max_element() > FARTHEST_M {
                wrong.push(format!("{} at {}, {}, {}", name(*owner), p.x, p.y, p.z));
            }
        }
    }
    if !wrong.is_empty() {
        problems.at_key("", format!("coordinates that no vehicle has: {}", first_ten(&wrong)), format!("metres up to {FARTHEST_M}"));
        return None;
    }
    let mut order: Vec<u32> = (0..triangles.len() as u32).collect();
    order.order_by_key(|i| owners[*i as usize]);
    let mut mesh = Mesh {
        triangles: order.iter().map(|i| triangles[*i as usize]).collect(),
        owner: order.iter().map(|i| owners[*i as usize]).collect(),
        positions,
    };
    let extent = extent(&mesh);
    if !(SMALLEST_M..=LARGEST_M).contains(&extent) {
        warnings.push(format!("{file}: the vehicle is {extent:.3e} m long; are its coordinates in metres?"));
    }
    let (ranges, plain) = ranges(&mesh, rows.len());
    let weld_m = WELD_OF_EXTENT * extent;
    let mut mixed = Vec::new();
    let mut patches = Vec::with_capacity(rows.len());
    let mut sides = Vec::with_capacity(rows.len());
    for (tile, range) in ranges.iter().enumerate() {
        let corners: Vec<[DVec3; 3]> = mesh.triangles[range.clone()].iter().map(|t| t.map(|i| mesh.positions[i as usize])).collect();
        let patch = Patch::new(&corners, weld_m);
        let count = patch.turned.iter().filter(|turned| **turned).count();
        if count > 0 {
            mixed.push(name(tile as u32));
        }
        for (triangle, _) in mesh.triangles[range.clone()].iter_mut().zip(&patch.turned).filter(|(_, turned)| **turned) {
            triangle.swap(1, 2);
        }
        let sum = area_vector(&mesh, range.clone());
        let area: f64 = mesh.triangles[range.clone()].iter().map(|t| cross(&mesh, t).length()).sum::<f64>() / 2.0;
        if area < LEAST_AREA_M2 {
            problems.at_key("", format!("{} has no area", name(tile as u32)), "an outer face with an area");
        } else if sum.length() < OPEN * area {
            let what = format!("the faces of {} close on themselves", name(tile as u32));
            problems.at_key("", what, "only the outer face of each tile; its sides and back come from thickness_mm");
        }
        let rim: Vec<DVec3> = patch.boundary.iter().map(|edge| patch.points[edge[0] as usize]).collect();
        let normal = sum.try_normalize().unwrap_or(DVec3::Z);
        sides.push(rectangle_sides(if rim.is_empty() { &patch.points } else { &rim }, normal));
        patches.push(patch);
    }
    if !problems.is_empty() {
        return None;
    }
    if !mixed.is_empty() {
        warnings.push(format!(
            "{file}: triangles of {} wound against the rest of their tile were turned: {}",
            mixed.len(),
            first_ten(&mixed)
        ));
    }
    let mut edges = Vec::new();
    for (tile, patch) in patches.iter().enumerate() {
        let point = |i: u32| patch.points[i as usize];
        edges.extend(patch.boundary.iter().map(|[a, b]| Edge { tile: tile as u32, from: point(*a), to: point(*b) }));
    }
    let smallest: Vec<f64> = sides.iter().map(|side| side.0).collect();
    let joints = joints(&edges, &smallest);
    let turned = turn_outward(&mut mesh, &ranges, &joints, &file, &name, warnings);
    let mut tiles = Vec::with_capacity(rows.len());
    for (tile, patch) in patches.iter().enumerate() {
        let mut outline = patch.loops().into_iter().next().unwrap_or_default();
        if turned[tile] {
            outline.reverse();
        }
        let (smallest_side_m, largest_side_m) = sides[tile];
        tiles.push(TileGeometry { smallest_side_m, largest_side_m, outline, ..facet(&mesh, ranges[tile].clone()) });
    }
    for joint in &joints {
        tiles[joint.a as usize].neighbours.push(joint.b);
        tiles[joint.b as usize].neighbours.push(joint.a);
    }
    tiles.iter_mut().for_each(|tile| tile.neighbours.order());
    let plain_area_m2 = mesh.triangles[plain].iter().map(|t| cross(&mesh, t).length()).sum::<f64>() / 2.0;
    Some(Built { mesh, tiles, plain_area_m2 })
}

/// The largest side of the box round all triangles, m.
fn extent(mesh: &Mesh) -> f64 {
    let (mut low, mut high) = (DVec3::INFINITY, DVec3::NEG_INFINITY);
    for corner in mesh.triangles.iter().flatten() {
        let p = mesh.positions[*corner as usize];
        (low, high) = (low.min(p), high.max(p));
    }
    (high - low).max_element().max(0.0)
}

/// Where each tile's triangles stand in the sorted list, and where those without a tile do.
fn ranges(mesh: &Mesh, tiles: usize) -> (Vec<std::ops::Range<usize>>, std::ops::Range<usize>) {
    let start = |tile: u32| mesh.owner.partition_point(|owner| *owner < tile);
    ((0..tiles as u32).map(|tile| start(tile)..start(tile + 1)).collect(), start(NO_TILE)..mesh.owner.len())
}

fn cross(mesh: &Mesh, triangle: &[u32; 3]) -> DVec3 {
    let [a, b, c] = triangle.map(|i| mesh.positions[i as usize]);
    (b - a).cross(c - a)
}

/// Sum of the triangles' area vectors, m².
fn area_vector(mesh: &Mesh, range: std::ops::Range<usize>) -> DVec3 {
    mesh.triangles[range].iter().map(|triangle| cross(mesh, triangle)).sum::<DVec3>() / 2.0
}

fn facet(mesh: &Mesh, range: std::ops::Range<usize>) -> TileGeometry {
    let (mut centre, mut area) = (DVec3::ZERO, 0.0);
    for triangle in &mesh.triangles[range.clone()] {
        let size = cross(mesh, triangle).length() / 2.0;
        let corners = triangle.map(|i| mesh.positions[i as usize]);
        centre += (corners[0] + corners[1] + corners[2]) * (size / 3.0);
        area += size;
    }
    let centre = if area > 0.0 { centre / area } else { centre };
    let normal = area_vector(mesh, range.clone()).try_normalize().unwrap_or(DVec3::Z);
    let hits = mesh.triangles[range].iter().filter_map(|t| along_line(centre, normal, t.map(|i| mesh.positions[i as usize])));
    let lift = hits.min_by(|a, b| a.abs().total_cmp(&b.abs())).unwrap_or(0.0);
    TileGeometry { centre: centre + normal * lift, normal, area_m2: area, ..TileGeometry::default() }
}

/// Where the line `centre + t normal` meets a triangle: `t`, m.
fn along_line(centre: DVec3, normal: DVec3, [a, b, c]: [DVec3; 3]) -> Option<f64> {
    let across = (b - a).cross(c - a);
    let slope = across.dot(normal);
    if slope.abs() <= 1e-12 * across.length() {
        return None;
    }
    let t = across.dot(a - centre) / slope;
    let p = centre + normal * t;
    // A rim as wide as rounding, so that a centre on an inner edge finds one of its two triangles.
    let rim = -1e-9 * across.length_squared();
    let within = |u: DVec3, v: DVec3| (v - u).cross(p - u).dot(across) >= rim;
    (within(a, b) && within(b, c) && within(c, a)).then_some(t)
}

/// Turns tiles that wind against their neighbours, then everything if it faces inward. Returns which tiles were turned.
fn turn_outward(
    mesh: &mut Mesh,
    ranges: &[std::ops::Range<usize>],
    joints: &[Joint],
    file: &str,
    name: &dyn Fn(u32) -> String,
    warnings: &mut Vec<String>,
) -> Vec<bool> {
    let geometry: Vec<TileGeometry> = ranges.iter().map(|range| facet(mesh, range.clone())).collect();
    // The longest joints first: where they contradict each other, the shorter ones give way.
    let mut clear: Vec<&Joint> = joints.iter().filter(|joint| joint.alike_m.abs() > 0.5 * joint.length_m).collect();
    clear.order_by(|p, q| q.length_m.total_cmp(&p.length_m).then((p.a, p.b).cmp(&(q.a, q.b))));
    let mut parity = Parity::new(ranges.len());
    for joint in clear {
        parity.join(joint.a as usize, joint.b as usize, joint.alike_m < 0.0);
    }
    let mut turned = parity.smaller_side(|i| geometry[i].area_m2);
    let odd: Vec<String> = turned.iter().enumerate().filter(|(_, turned)| **turned).map(|(i, _)| name(i as u32)).collect();
    if !odd.is_empty() {
        warnings.push(format!("{file}: {} wound against their neighbours were turned: {}", odd.len(), first_ten(&odd)));
    }
    let total: f64 = geometry.iter().map(|tile| tile.area_m2).sum();
    let middle = geometry.iter().map(|tile| tile.centre * tile.area_m2).sum::<DVec3>() / total;
    let (mut outward, mut reach) = (0.0, 0.0);
    for (tile, turned) in geometry.iter().zip(&turned) {
        let normal = if *turned { -tile.normal } else { tile.normal };
        outward += tile.area_m2 * normal.dot(tile.centre - middle);
        reach += tile.area_m2 * (tile.centre - middle).length();
    }
    if outward < -OPEN * reach {
        warnings.push(format!("{file}: the surface faces inward and was turned; triangles wind counter-clockwise seen from outside"));
        turned.iter_mut().for_each(|turned| *turned = !*turned);
        let plain = mesh.owner.partition_point(|owner| *owner < NO_TILE);
        mesh.triangles[plain..].iter_mut().for_each(|triangle| triangle.swap(1, 2));
    }
    for (range, _) in ranges.iter().zip(&turned).filter(|(_, turned)| **turned) {
        mesh.triangles[range.clone()].iter_mut().for_each(|triangle| triangle.swap(1, 2));
    }
    turned
}
