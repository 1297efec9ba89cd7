//! The flattened map: where each tile of a vehicle lies when its shield is unrolled about the long axis and laid flat.
//!
//! Any vehicle will do. Every tile keeps its true shape (it is only moved and turned), so joints
//! open a little where the surface is curved both ways.
//!
//! 1. The spine is the middle of the surface's extent in y and z at each station along x, smoothed.
//! 2. A tile belongs to the body where it faces away from the spine and nothing of the shield stands between; else to an appendage
//!    (fin, flap). Tiles of one zone go as most of them do; what the zone is called does not matter.
//! 3. A body tile lies at `u`, the length along the body from its nose (the mean over all sides), and `v`, the length around the
//!    body from the keel at its station, right side positive.
//! 4. An appendage's tiles are grouped by the joints they share and by which way they face; each group is laid flat on its mean
//!    plane and put beside the body (one behind the body, where the group lies aft of it), outermost groups outermost.
//!
//! Seen with `u` to the right and `v` downward the map shows the outer faces as they look from outside.

use super::{NO_TILE, Shield};
use crate::document::Sorting as _;
use glam::DVec3;
use std::collections::BTreeMap;

/// A tile's place on the map: the point `p` of the tile goes to `centre + ((p - c) . axis_u, (p - c) . axis_v)`, `c` its
/// `facet.centre`. The axes are unit vectors at right angles in the tile's plane. Metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MapPlace {
    pub centre: [f64; 2],
    pub axis_u: DVec3,
    pub axis_v: DVec3,
}

/// Stations along the body and sectors around it that the body's form is sampled with.
const STATIONS: usize = 64;
const SECTORS: usize = 96;
/// Stations from the nose over which a point's own distance from the spine corrects the form's.
const NOSE_STATIONS: f64 = 20.0;
/// Space between the body and what is laid beside it, and between such groups, m per m of vehicle length.
const MARGIN: f64 = 0.03;

/// The body's form about its spine.
struct Form {
    x0: f64,
    length: f64,
    /// y and z of the spine by station.
    spine: Vec<[f64; 2]>,
    /// Radius by station and sector; the sector counts from the keel over the right side.
    radius: Vec<[f64; SECTORS]>,
    /// Length along the body by station.
    along: Vec<f64>,
    /// Length around from the keel by station and sector edge, right half then left half, both growing from zero.
    around: Vec<[[f64; SECTORS / 2 + 1]; 2]>,
}

/// The map of a whole shield, a place for each tile in the order of `shield.tiles`.
pub fn unroll(shield: &Shield) -> Vec<MapPlace> {
    let centres: Vec<DVec3> = shield.tiles.iter().map(|tile| tile.facet.centre).collect();
    let Some(spine) = Spine::of(&centres) else { return Vec::new() };
    let body = on_body(shield, &spine);
    let form = Form::of(&centres, &body, spine);
    let mut places: Vec<MapPlace> = shield
        .tiles
        .iter()
        .map(|tile| {
            let (axis_u, axis_v) = form.axes(tile.facet.centre, tile.facet.normal);
            MapPlace { centre: form.place(tile.facet.centre), axis_u, axis_v }
        })
        .collect();
    lay_beside(shield, &body, &form, &mut places);
    places
}

/// Middle of the extent by station.
struct Spine {
    x0: f64,
    length: f64,
    middle: Vec<[f64; 2]>,
}

impl Spine {
    fn of(centres: &[DVec3]) -> Option<Spine> {
        let low = centres.iter().map(|c| c.x).fold(f64::MAX, f64::min);
        let high = centres.iter().map(|c| c.x).fold(f64::MIN, f64::max);
        if centres.is_empty() || !low.is_finite() || !high.is_finite() {
            return None;
        }
        let length = (high - low).max(1e-6);
        let mut middle = Vec::with_capacity(STATIONS);
        for i in 0..STATIONS {
            let x = station_x(i, low, length);
            // Close to the plane of symmetry only, so that fins do not lift the spine.
            let mut reach = 0.02 * length;
            let extent = loop {
                let near = || centres.iter().filter(|c| (c.x - x).abs() <= reach);
                let width = near().map(|c| c.y.abs()).fold(0.0, f64::max);
                let inner = || near().filter(|c| c.y.abs() <= 0.4 * width);
                let bottom = inner().map(|c| c.z).fold(f64::MAX, f64::min);
                let top = inner().map(|c| c.z).fold(f64::MIN, f64::max);
                if bottom <= top || reach > length {
                    break [bottom, top];
                }
                reach *= 2.0;
            };
            middle.push([0.0, if extent[0] <= extent[1] { 0.5 * (extent[0] + extent[1]) } else { 0.0 }]);
        }
        let smooth = |i: usize| {
            let from = i.saturating_sub(3);
            let to = (i + 3).min(STATIONS - 1);
            (from..=to).map(|k| middle[k][1]).sum::<f64>() / (to - from + 1) as f64
        };
        Some(Spine { x0: low, length, middle: (0..STATIONS).map(|i| [0.0, smooth(i)]).collect() })
    }

    fn at(&self, x: f64) -> DVec3 {
        let (i, part) = station(x, self.x0, self.length);
        let (a, b) = (self.middle[i], self.middle[i + 1]);
        DVec3::new(x, a[0] + part * (b[0] - a[0]), a[1] + part * (b[1] - a[1]))
    }
}

/// Stations stand closer toward the nose, as the square of their count: even along the surface of a blunt one.
fn station_x(i: usize, x0: f64, length: f64) -> f64 {
    let part = i as f64 / (STATIONS - 1) as f64;
    x0 + length * part * part
}

fn station(x: f64, x0: f64, length: f64) -> (usize, f64) {
    let scaled = ((x - x0) / length).clamp(0.0, 1.0).sqrt() * (STATIONS - 1) as f64;
    let i = (scaled as usize).min(STATIONS - 2);
    (i, scaled - i as f64)
}

/// Angle about the spine from the keel, positive over the right side, -pi to pi.
fn angle(offset: DVec3) -> f64 {
    libm::atan2(offset.y, -offset.z)
}

/// Which tiles see the spine: no other surface of the shield crosses the straight line to it.
fn on_body(shield: &Shield, spine: &Spine) -> Vec<bool> {
    let mesh = &shield.mesh;
    let corner = |i: u32| mesh.positions.get(i as usize).copied().unwrap_or_default();
    // Triangles by the stations that they reach over.
    let mut slabs: Vec<Vec<usize>> = vec![Vec::new(); STATIONS];
    let slab = |x: f64| station(x, spine.x0, spine.length).0;
    for (t, triangle) in mesh.triangles.iter().enumerate() {
        let x = triangle.map(|i| corner(i).x);
        let (from, to) = (slab(x[0].min(x[1]).min(x[2])), slab(x[0].max(x[1]).max(x[2])));
        slabs[from..=to].iter_mut().for_each(|list| list.push(t));
    }
    let sees: Vec<bool> = shield
        .tiles
        .iter()
        .enumerate()
        .map(|(i, tile)| {
            let centre = tile.facet.centre;
            let toward = spine.at(centre.x) - centre;
            let hidden = slabs[slab(centre.x)].iter().any(|t| {
                let owner = mesh.owner.get(*t).copied().unwrap_or(NO_TILE);
                owner != i as u32 && crosses(centre, toward, mesh.triangles[*t].map(corner))
            });
            // A face that looks along the axis (a blunt nose) is never an appendage.
            let faces_out = tile.facet.normal.dot(-toward.normalize_or_zero()) > -0.05 || tile.facet.normal.x < -0.8;
            faces_out && !hidden
        })
        .collect();
    // The root of a fin sees the spine through the hole that the fin leaves in the body: a zone goes as most of its tiles do.
    let mut zones: BTreeMap<&str, [usize; 2]> = BTreeMap::new();
    for (tile, sees) in shield.tiles.iter().zip(&sees) {
        zones.entry(tile.zone.as_str()).or_default()[usize::from(*sees)] += 1;
    }
    shield
        .tiles
        .iter()
        .zip(&sees)
        .map(|(tile, sees)| if tile.zone.is_empty() { *sees } else { zones.get(tile.zone.as_str()).is_some_and(|n| n[1] >= n[0]) })
        .collect()
}

/// Whether the segment from `origin` to `origin + ray` crosses a triangle (Moller and Trumbore, J. Graphics Tools 2(1), 1997).
fn crosses(origin: DVec3, ray: DVec3, [a, b, c]: [DVec3; 3]) -> bool {
    let (e1, e2) = (b - a, c - a);
    let p = ray.cross(e2);
    let det = e1.dot(p);
    if det.abs() < 1e-14 {
        return false;
    }
    let s = (origin - a) / det;
    let u = s.dot(p);
    let q = s.cross(e1);
    let (v, t) = (ray.dot(q), e2.dot(q));
    u >= 0.0 && v >= 0.0 && u + v <= 1.0 && t > 0.02 && t < 0.98
}

impl Form {
    fn of(centres: &[DVec3], body: &[bool], spine: Spine) -> Form {
        let sector = |phi: f64| ((phi / std::f64::consts::TAU).rem_euclid(1.0) * SECTORS as f64) as usize % SECTORS;
        let mut sum = vec![[[0.0; 2]; SECTORS]; STATIONS];
        for (centre, _) in centres.iter().zip(body).filter(|(_, body)| **body) {
            let offset = *centre - spine.at(centre.x);
            let (i, part) = station(centre.x, spine.x0, spine.length);
            let k = sector(angle(offset));
            let radius = DVec3::new(0.0, offset.y, offset.z).length();
            for (row, weight) in [(i, 1.0 - part), (i + 1, part)] {
                // A tile counts a little for the sectors beside it too.
                for (d, share) in [(SECTORS - 1, 0.3), (0, 1.0), (1, 0.3)] {
                    let cell = &mut sum[row][(k + d) % SECTORS];
                    *cell = [cell[0] + weight * share * radius, cell[1] + weight * share];
                }
            }
        }
        let radius: Vec<[f64; SECTORS]> = (0..STATIONS).map(|i| filled(&sum, i)).collect();
        let mean = |i: usize| radius[i].iter().sum::<f64>() / SECTORS as f64;
        let mut along = vec![0.0; STATIONS];
        for i in 1..STATIONS {
            let step = station_x(i, spine.x0, spine.length) - station_x(i - 1, spine.x0, spine.length);
            let rise = mean(i) - mean(i - 1);
            along[i] = along[i - 1] + (step * step + rise * rise).sqrt();
        }
        let width = std::f64::consts::TAU / SECTORS as f64;
        let around = radius
            .iter()
            .map(|ring| {
                let half = |order: &dyn Fn(usize) -> usize| {
                    let mut sums = [0.0; SECTORS / 2 + 1];
                    for k in 0..SECTORS / 2 {
                        let here = ring[order(k)];
                        let (before, after) = (ring[order((k + SECTORS - 1) % SECTORS)], ring[order((k + 1) % SECTORS)]);
                        let slope = 0.5 * (after - before);
                        sums[k + 1] = sums[k] + (here * here * width * width + slope * slope).sqrt();
                    }
                    sums
                };
                [half(&|k| k % SECTORS), half(&|k| (2 * SECTORS - 1 - k) % SECTORS)]
            })
            .collect();
        Form { x0: spine.x0, length: spine.length, spine: spine.middle, radius, along, around }
    }

    fn spine_at(&self, x: f64) -> DVec3 {
        let (i, part) = station(x, self.x0, self.length);
        DVec3::new(x, 0.0, self.spine[i][1] + part * (self.spine[i + 1][1] - self.spine[i][1]))
    }

    /// Length along and around of a point on or near the body.
    fn place(&self, point: DVec3) -> [f64; 2] {
        let offset = point - self.spine_at(point.x);
        let (i, part) = station(point.x, self.x0, self.length);
        let phi = angle(offset);
        let half = usize::from(phi < 0.0);
        let scaled = phi.abs() / std::f64::consts::PI * (SECTORS / 2) as f64;
        let k = (scaled as usize).min(SECTORS / 2 - 1);
        let on = |i: usize| {
            let sums = &self.around[i][half];
            sums[k] + (scaled - k as f64) * (sums[k + 1] - sums[k])
        };
        // Toward a blunt nose the form changes faster than it is sampled: there the point's own distance from the spine counts.
        let ring = |i: usize| self.radius[i][if half == 0 { k } else { SECTORS - 1 - k }];
        let sampled = ring(i) + part * (ring(i + 1) - ring(i));
        let own = DVec3::new(0.0, offset.y, offset.z).length();
        let trust = ((NOSE_STATIONS - (i as f64 + part)) / NOSE_STATIONS).max(0.0);
        let stretch = if sampled > 1e-9 { 1.0 + trust * ((own / sampled).min(2.0) - 1.0) } else { 1.0 };
        let v = (on(i) + part * (on(i + 1) - on(i))) * stretch;
        let u = self.along[i] + part * (self.along[i + 1] - self.along[i]);
        [u, if phi < 0.0 { -v } else { v }]
    }

    /// The directions around (v) and along (u) the body in a tile's plane.
    fn axes(&self, centre: DVec3, normal: DVec3) -> (DVec3, DVec3) {
        let offset = centre - self.spine_at(centre.x);
        let sideways = DVec3::new(0.0, -offset.z, offset.y);
        let ring = DVec3::X.cross(normal);
        // In the plane of the section where the tile is not square to the axis, else around the axis.
        let around = if ring.length() > 0.05 { ring } else { sideways };
        let around = if around.dot(sideways) < 0.0 { -around } else { around };
        frame(around, normal)
    }
}

/// `axis_v` along `around` in the plane of `normal`, `axis_u` so that the map, v downward, shows the outer face.
fn frame(around: DVec3, normal: DVec3) -> (DVec3, DVec3) {
    let flat = around - around.dot(normal) * normal;
    let axis_v = if flat.length() > 1e-9 { flat.normalize() } else { normal.any_orthonormal_vector() };
    (normal.cross(axis_v).normalize_or_zero(), axis_v)
}

/// A station's radii, empty sectors filled from their neighbours, a station without any from the nearest that has some.
fn filled(sum: &[[[f64; 2]; SECTORS]], i: usize) -> [f64; SECTORS] {
    let has = |row: usize| sum[row].iter().any(|cell| cell[1] > 0.0);
    let row = (0..sum.len()).filter(|row| has(*row)).min_by_key(|row| row.abs_diff(i)).unwrap_or(i);
    let mut out = [0.0; SECTORS];
    for (k, value) in out.iter_mut().enumerate() {
        let reach = |d: usize, sign: usize| sum[row][(k + SECTORS + if sign == 0 { d } else { SECTORS - d % SECTORS }) % SECTORS];
        let mut found = None;
        for d in 0..SECTORS {
            let (a, b) = (reach(d, 0), reach(d, 1));
            if a[1] + b[1] > 0.0 {
                found = Some((a[0] + b[0]) / (a[1] + b[1]));
                break;
            }
        }
        *value = found.unwrap_or(0.0);
    }
    out
}

/// Lays the appendages flat beside the body.
fn lay_beside(shield: &Shield, body: &[bool], form: &Form, places: &mut [MapPlace]) {
    let tiles = &shield.tiles;
    let margin = MARGIN * form.length;
    let body_u = (0..tiles.len()).filter(|i| body[*i]).map(|i| places[i].centre[0]).fold(0.0, f64::max);
    let body_x = (0..tiles.len()).filter(|i| body[*i]).map(|i| tiles[i].facet.centre.x).fold(f64::MIN, f64::max);
    let mut seen: Vec<bool> = body.to_vec();
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for start in 0..tiles.len() {
        if seen[start] {
            continue;
        }
        // Flood over joints while the faces look the same way.
        let mut group = vec![start];
        seen[start] = true;
        let mut next = 0;
        while next < group.len() {
            let tile = &tiles[group[next]];
            next += 1;
            for neighbour in tile.neighbours.iter().map(|n| *n as usize).filter(|n| *n < tiles.len()) {
                if !seen[neighbour] && tiles[neighbour].facet.normal.dot(tiles[start].facet.normal) > 0.5 {
                    seen[neighbour] = true;
                    group.push(neighbour);
                }
            }
        }
        groups.push(group);
    }
    // Larger groups first, so that they lie next to the body; order of discovery decides among equals.
    groups.order_by_key(|group| std::cmp::Reverse(group.len()));
    let mut taken: Vec<[f64; 4]> = Vec::new();
    let reach = |i: usize| 0.5 * tiles[i].largest_side_m.max(tiles[i].facet.area_m2.sqrt());
    for i in (0..tiles.len()).filter(|i| body[*i]) {
        let ([u, v], r) = (places[i].centre, reach(i));
        taken.push([u - r, u + r, v - r, v + r]);
    }
    for group in groups {
        let count = group.len() as f64;
        let middle = group.iter().map(|i| tiles[*i].facet.centre).sum::<DVec3>() / count;
        let normal = group.iter().map(|i| tiles[*i].facet.area_m2 * tiles[*i].facet.normal).sum::<DVec3>().normalize_or(DVec3::Z);
        // u runs aft in the group's plane; v follows from the outward normal.
        let aft = DVec3::X - DVec3::X.dot(normal) * normal;
        let plane_u = if aft.length() > 0.2 { aft.normalize() } else { normal.any_orthonormal_vector() };
        let plane_v = plane_u.cross(normal);
        let flat: Vec<[f64; 2]> = group
            .iter()
            .map(|i| {
                let offset = tiles[*i].facet.centre - middle;
                [offset.dot(plane_u), offset.dot(plane_v)]
            })
            .collect();
        let r = group.iter().map(|i| reach(*i)).fold(0.0, f64::max);
        let span =
            |c: usize| (flat.iter().map(|p| p[c]).fold(f64::MAX, f64::min) - r, flat.iter().map(|p| p[c]).fold(f64::MIN, f64::max) + r);
        let ((u0, u1), (v0, v1)) = (span(0), span(1));
        let home = form.place(middle);
        let side = if middle.y < 0.0 { -1.0 } else { 1.0 };
        let behind = middle.x > body_x;
        // Groups behind the body may stand close beside each other.
        let beside = if behind { -r } else { margin };
        let free = |centre: [f64; 2]| {
            let own = [centre[0] + u0 - margin, centre[0] + u1 + margin, centre[1] + v0 - beside, centre[1] + v1 + beside];
            taken.iter().all(|b| b[1] < own[0] || b[0] > own[1] || b[3] < own[2] || b[2] > own[3])
        };
        let mut centre = if behind { [body_u + margin - u0, home[1]] } else { home };
        // Outward (or aft) in steps until there is room.
        for _ in 0..4000 {
            if free(centre) {
                break;
            }
            if behind {
                centre[0] += 0.25 * margin;
            } else {
                centre[1] += side * 0.25 * margin;
            }
        }
        taken.push([
            centre[0] + u0,
            centre[0] + u1,
            centre[1] + v0 + if behind { r } else { 0.0 },
            centre[1] + v1 - if behind { r } else { 0.0 },
        ]);
        for (i, p) in group.iter().zip(&flat) {
            let (axis_u, axis_v) = frame(plane_v, tiles[*i].facet.normal);
            places[*i] = MapPlace { centre: [centre[0] + p[0], centre[1] + p[1]], axis_u, axis_v };
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shield::{VehicleFile, demo, load};

    fn shown(place: &MapPlace, centre: DVec3, point: DVec3) -> [f64; 2] {
        let offset = point - centre;
        [place.centre[0] + offset.dot(place.axis_u), place.centre[1] + offset.dot(place.axis_v)]
    }

    #[test]
    fn verif_demonstration_keeps_every_tile_whole_apart_and_mirrored() {
        let shield = load(&demo::files(), demo::NAME).unwrap();
        let places = unroll(&shield);
        assert_eq!(places.len(), shield.tiles.len());
        for (place, tile) in places.iter().zip(&shield.tiles) {
            assert!((place.axis_u.length() - 1.0).abs() < 1e-9 && (place.axis_v.length() - 1.0).abs() < 1e-9, "{}", tile.id);
            assert!(place.axis_u.dot(place.axis_v).abs() < 1e-9);
            // v downward: the outer face is seen.
            assert!((place.axis_u.cross(place.axis_v) + tile.facet.normal).length() < 1e-6, "{}", tile.id);
        }
        // Overlap: the sum of what pairs of tiles share, taken as discs of the tile's area, against the area of all.
        let mut shared = 0.0;
        let mut total = 0.0;
        let radius = |i: usize| (shield.tiles[i].facet.area_m2 / std::f64::consts::PI).sqrt();
        for i in 0..places.len() {
            total += shield.tiles[i].facet.area_m2;
            for j in 0..i {
                let ([a, b], [c, d]) = (places[i].centre, places[j].centre);
                let distance = ((a - c) * (a - c) + (b - d) * (b - d)).sqrt();
                let depth = (radius(i) + radius(j) - distance).max(0.0) / (radius(i) + radius(j));
                // Square tiles side by side overlap as discs by a depth of 0.11.
                if depth > 0.3 {
                    shared += shield.tiles[i].facet.area_m2.min(shield.tiles[j].facet.area_m2) * depth;
                }
            }
        }
        eprintln!("overlap {:.2} % of the area", 100.0 * shared / total);
        assert!(shared < 0.01 * total, "{shared} of {total}");
        // Mirror images: the map of the left is that of the right.
        let lowest = places.iter().map(|p| p.centre[1]).fold(f64::MAX, f64::min);
        let highest = places.iter().map(|p| p.centre[1]).fold(f64::MIN, f64::max);
        assert!((lowest + highest).abs() < 0.3, "{lowest} {highest}");
    }

    #[test]
    fn verif_a_tube_unrolls_to_a_rectangle() {
        // A tube of radius 1 m and length 3 m, 12 rows of 24 tiles as one OBJ group each; its map is 3 by 2 pi.
        let (rows, around) = (12, 24);
        let mut obj = String::new();
        let mut table = "tile,material,thickness_mm\n".to_string();
        let mut count = 0;
        for i in 0..rows {
            for k in 0..around {
                obj += &format!("g t{i:02}{k:02}\n");
                table += &format!("t{i:02}{k:02},LI-900,30\n");
                for (di, dk) in [(0, 0), (0, 1), (1, 1), (1, 0)] {
                    let phi = std::f64::consts::TAU * f64::from(k + dk) / f64::from(around);
                    obj += &format!("v {} {} {}\n", 0.25 * f64::from(i + di), phi.sin(), -phi.cos());
                }
                obj += &format!("f {} {} {} {}\n", count + 1, count + 2, count + 3, count + 4);
                count += 4;
            }
        }
        let file = |name: &str, text: String| VehicleFile { name: name.into(), bytes: text.into_bytes() };
        let shield = load(&[file("vehicle.obj", obj), file("tiles.csv", table)], "tube").unwrap();
        let places = unroll(&shield);
        for (place, tile) in places.iter().zip(&shield.tiles) {
            let c = tile.facet.centre;
            let v = libm::atan2(c.y, -c.z);
            // The centres of flat tiles lie at 0.991 of the radius (0.03 m at the crest); the form is read from them alone, so its
            // mean radius wavers by some 0.01 m between stations and adds less than a millimetre along.
            assert!((place.centre[1] - v).abs() < 0.04 && (place.centre[0] - (c.x - 0.125)).abs() < 1e-3, "{} {place:?} {v}", tile.id);
            let aft = shown(place, c, c + 0.1 * DVec3::X);
            assert!((aft[0] - place.centre[0] - 0.1).abs() < 1e-9 && (aft[1] - place.centre[1]).abs() < 1e-9);
        }
    }

    #[test]
    fn verif_nothing_to_unroll() {
        assert!(unroll(&Shield::default()).is_empty());
    }

    /// Writes the map as SVG where `DEMO_DIR` says, for looking at it.
    #[test]
    #[ignore]
    fn dump() {
        let shield = load(&demo::files(), demo::NAME).unwrap();
        let start = std::time::Instant::now();
        let places = unroll(&shield);
        eprintln!("unrolled in {:?}", start.elapsed());
        let mut svg = "<svg xmlns='http://www.w3.org/2000/svg' viewBox='-1 -10 20 20' width='1500' height='1500'><rect x='-1' y='-10' width='20' height='20' fill='#eeede9'/>".to_string();
        for (place, tile) in places.iter().zip(&shield.tiles) {
            let points: Vec<String> =
                tile.outline.iter().map(|p| shown(place, tile.facet.centre, *p)).map(|[u, v]| format!("{u:.3},{v:.3}")).collect();
            let fill = if tile.zone.contains("fin") || tile.zone.contains("elevon") {
                "#9ab"
            } else if tile.stack.is_none() {
                "#777"
            } else if tile.zone.contains("lee") {
                "#ddd"
            } else {
                "#889"
            };
            svg += &format!("<polygon points='{}' fill='{fill}' fill-opacity='0.8' stroke='#222' stroke-width='0.008'/>", points.join(" "));
        }
        std::fs::write(format!("{}/map.svg", std::env::var("DEMO_DIR").unwrap()), svg + "</svg>").unwrap();
    }
}
