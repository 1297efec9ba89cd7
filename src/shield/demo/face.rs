//! One tile's outer face: a polygon on a surface, drawn in by half a gap along each side, tessellated as its curvature asks.

use super::fin::{Surface, Vehicle};
use glam::DVec3;

/// Largest distance between a face's triangles and the surface that a side's subdivision leaves, m.
const SAGITTA_M: f64 = 0.0016;
/// Positions stand on a grid of 2^-14 m (0.061 mm), so that a stored file stays small.
const GRID: f64 = 16384.0;

/// The outer face of one tile or plain piece. Metres; triangles counter-clockwise from outside.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Face {
    pub positions: Vec<DVec3>,
    pub triangles: Vec<[u32; 3]>,
    /// Corners after the gaps, counter-clockwise from outside, not on the grid.
    pub corners: Vec<DVec3>,
}

/// Builds a face. `polygon` lists its corners (a, b) on `surface` either way round, `half_gap_m` the half gap of the side from each
/// corner to the next.
pub fn face(vehicle: &Vehicle, surface: Surface, polygon: &[[f64; 2]], half_gap_m: &[f64]) -> Face {
    let (mut polygon, mut gaps) = (polygon.to_vec(), half_gap_m.to_vec());
    let n = polygon.len();
    let signed: f64 = (0..n)
        .map(|i| {
            let (p, q) = (polygon[i], polygon[(i + 1) % n]);
            p[0] * q[1] - p[1] * q[0]
        })
        .sum();
    if (signed > 0.0) != Vehicle::turned(surface) {
        polygon.reverse();
        gaps.reverse();
        gaps.rotate_left(1);
    }
    let inner = if gaps.iter().all(|gap| *gap == 0.0) { polygon } else { draw_in(vehicle, surface, &polygon, &gaps) };
    let at = |p: [f64; 2]| vehicle.at(surface, p[0], p[1]);
    let mut out = if n == 4 { quad(&at, &inner) } else { fan(&at, &inner) };
    out.corners = inner.iter().map(|p| at(*p)).collect();
    for point in &mut out.positions {
        *point = snap(*point);
    }
    // Where a side shrinks to a point (the middle of the base) some triangles are empty.
    let at = |i: u32| out.positions[i as usize];
    out.triangles.retain(|t| (at(t[1]) - at(t[0])).cross(at(t[2]) - at(t[0])).length() > 1e-9);
    out
}

/// A point on the storage grid.
pub fn snap(point: DVec3) -> DVec3 {
    DVec3::new((point.x * GRID).round() / GRID, (point.y * GRID).round() / GRID, (point.z * GRID).round() / GRID)
}

/// Moves each corner along the surface so that both its sides move inward by their half gaps, measured in the tangent plane.
fn draw_in(vehicle: &Vehicle, surface: Surface, polygon: &[[f64; 2]], gaps: &[f64]) -> Vec<[f64; 2]> {
    let n = polygon.len();
    let step = 1e-4;
    (0..n)
        .map(|i| {
            let (before, here, after) = (polygon[(i + n - 1) % n], polygon[i], polygon[(i + 1) % n]);
            let middle = polygon.iter().fold([0.0; 2], |s, p| [s[0] + p[0] / n as f64, s[1] + p[1] / n as f64]);
            // One-sided differences toward the middle, so that no surface is left.
            let (sa, sb) = (if middle[0] < here[0] { -step } else { step }, if middle[1] < here[1] { -step } else { step });
            let origin = vehicle.at(surface, here[0], here[1]);
            let da = (vehicle.at(surface, here[0] + sa, here[1]) - origin) / sa;
            let db = (vehicle.at(surface, here[0], here[1] + sb) - origin) / sb;
            let normal = if Vehicle::turned(surface) { da.cross(db) } else { db.cross(da) };
            let inward = |from: [f64; 2], to: [f64; 2]| normal.cross((to[0] - from[0]) * da + (to[1] - from[1]) * db).normalize_or_zero();
            let (m1, m2) = (inward(before, here), inward(here, after));
            let (a11, a12, a21, a22) = (da.dot(m1), db.dot(m1), da.dot(m2), db.dot(m2));
            let (g1, g2) = (gaps[(i + n - 1) % n], gaps[i]);
            let det = a11 * a22 - a12 * a21;
            if det.abs() < 1e-12 {
                return here;
            }
            [here[0] + (g1 * a22 - g2 * a12) / det, here[1] + (a11 * g2 - a21 * g1) / det]
        })
        .collect()
}

fn between(p: [f64; 2], q: [f64; 2], part: f64) -> [f64; 2] {
    [p[0] + part * (q[0] - p[0]), p[1] + part * (q[1] - p[1])]
}

/// How many pieces a side needs so that its chords stay within the sagitta.
fn pieces(at: &dyn Fn([f64; 2]) -> DVec3, p: [f64; 2], q: [f64; 2], most: usize) -> usize {
    let (start, end) = (at(p), at(q));
    let sagitta = [0.25, 0.5, 0.75].iter().fold(0.0_f64, |largest, part| {
        let chord = start + *part * (end - start);
        largest.max(at(between(p, q, *part)).distance(chord))
    });
    ((sagitta / SAGITTA_M).sqrt().ceil() as usize).clamp(1, most)
}

fn quad(at: &dyn Fn([f64; 2]) -> DVec3, c: &[[f64; 2]]) -> Face {
    let inside = |s: f64, t: f64| between(between(c[0], c[1], s), between(c[3], c[2], s), t);
    let count = |lines: [[[f64; 2]; 2]; 3], most| lines.iter().map(|[p, q]| pieces(at, *p, *q, most)).max().unwrap_or(1);
    let ns = count([[c[0], c[1]], [c[3], c[2]], [inside(0.0, 0.5), inside(1.0, 0.5)]], 6);
    let nt = count([[c[0], c[3]], [c[1], c[2]], [inside(0.5, 0.0), inside(0.5, 1.0)]], 6);
    let mut out = Face::default();
    for j in 0..=nt {
        for i in 0..=ns {
            out.positions.push(at(inside(i as f64 / ns as f64, j as f64 / nt as f64)));
        }
    }
    let index = |i: usize, j: usize| (j * (ns + 1) + i) as u32;
    if ns == 1 && nt == 1 {
        out.positions.push(at(inside(0.5, 0.5)));
        out.triangles = vec![[0, 1, 4], [1, 3, 4], [3, 2, 4], [2, 0, 4]];
        return out;
    }
    for j in 0..nt {
        for i in 0..ns {
            let (p, q, r, s) = (index(i, j), index(i + 1, j), index(i + 1, j + 1), index(i, j + 1));
            // Diagonals mirror about the middle, so that a tile on the plane of symmetry is symmetric itself.
            if (2 * i < ns) == (2 * j < nt) {
                out.triangles.extend([[p, q, r], [p, r, s]]);
            } else {
                out.triangles.extend([[p, q, s], [q, r, s]]);
            }
        }
    }
    out
}

fn fan(at: &dyn Fn([f64; 2]) -> DVec3, corners: &[[f64; 2]]) -> Face {
    let n = corners.len();
    let mut rim = Vec::new();
    for i in 0..n {
        let (p, q) = (corners[i], corners[(i + 1) % n]);
        let count = pieces(at, p, q, 4);
        rim.extend((0..count).map(|k| between(p, q, k as f64 / count as f64)));
    }
    let middle = corners.iter().fold([0.0; 2], |s, p| [s[0] + p[0] / n as f64, s[1] + p[1] / n as f64]);
    let rings = corners.iter().map(|corner| pieces(at, middle, *corner, 5)).max().unwrap_or(1);
    let m = rim.len() as u32;
    let mut out = Face { positions: vec![at(middle)], ..Face::default() };
    for ring in 1..=rings {
        out.positions.extend(rim.iter().map(|p| at(between(middle, *p, ring as f64 / rings as f64))));
    }
    let index = |ring: u32, i: u32| if ring == 0 { 0 } else { 1 + (ring - 1) * m + i % m };
    for i in 0..m {
        out.triangles.push([0, index(1, i), index(1, i + 1)]);
        for ring in 1..rings as u32 {
            let (p, q) = (index(ring, i), index(ring, i + 1));
            let (r, s) = (index(ring + 1, i + 1), index(ring + 1, i));
            out.triangles.extend([[p, s, r], [p, r, q]]);
        }
    }
    out
}
