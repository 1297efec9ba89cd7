//! One tile's topology: vertices welded, triangles wound alike, boundary loops, and the smallest rectangle round them.

use super::joint::Parity;
use crate::document::Sorting as _;
use glam::{DVec2, DVec3};

/// One tile's own triangles with welded vertices.
pub struct Patch {
    /// Welded vertices.
    pub points: Vec<DVec3>,
    /// Boundary edges, directed as their triangle runs.
    pub boundary: Vec<[u32; 2]>,
    /// For each triangle, in the order given, whether it was turned round so that all wind alike.
    pub turned: Vec<bool>,
}

impl Patch {
    /// Welds vertices closer than `weld_m`, turns the triangles of the smaller area so that neighbours run along shared edges in opposite
    /// directions, and finds the edges with one triangle. Edges with three triangles or more are inner edges.
    pub fn new(corners: &[[DVec3; 3]], weld_m: f64) -> Patch {
        let all: Vec<DVec3> = corners.iter().flatten().copied().collect();
        let (points, index) = weld(&all, weld_m);
        let triangles: Vec<[u32; 3]> = index.chunks_exact(3).map(|c| [c[0], c[1], c[2]]).collect();
        let mut edges: Vec<(u32, u32, u32, bool)> = Vec::with_capacity(3 * triangles.len());
        for (i, [a, b, c]) in triangles.iter().enumerate() {
            for (a, b) in [(*a, *b), (*b, *c), (*c, *a)] {
                if a != b {
                    edges.push((a.min(b), a.max(b), i as u32, a < b));
                }
            }
        }
        edges.order();
        let groups = || edges.chunk_by(|e, f| (e.0, e.1) == (f.0, f.1));
        let mut turned = vec![false; triangles.len()];
        let pairs = || groups().filter_map(|group| if let [e, f] = group { Some((e, f)) } else { None });
        if pairs().any(|(e, f)| e.3 == f.3 && e.2 != f.2) {
            let mut parity = Parity::new(triangles.len());
            for (e, f) in pairs() {
                parity.join(e.2 as usize, f.2 as usize, e.3 == f.3);
            }
            let area = |i: usize| {
                let [a, b, c] = corners[i];
                (b - a).cross(c - a).length()
            };
            turned = parity.smaller_side(area);
        }
        let boundary = groups().filter_map(|group| match group {
            [(a, b, triangle, rising)] => Some(if *rising != turned[*triangle as usize] { [*a, *b] } else { [*b, *a] }),
            _ => None,
        });
        let boundary = boundary.collect();
        Patch { points, boundary, turned }
    }

    /// The boundary as loops of vertices, the one that encloses most first. A chain that does not close is kept as it is.
    pub fn loops(&self) -> Vec<Vec<DVec3>> {
        let mut edges = self.boundary.clone();
        edges.order();
        let mut used = vec![false; edges.len()];
        let mut loops: Vec<Vec<DVec3>> = Vec::new();
        for first in 0..edges.len() {
            if used[first] {
                continue;
            }
            let mut chain = Vec::new();
            let mut next = Some(first);
            while let Some(i) = next {
                used[i] = true;
                chain.push(self.points[edges[i][0] as usize]);
                let end = edges[i][1];
                let from = edges.partition_point(|edge| edge[0] < end);
                next = (from..edges.len()).take_while(|j| edges[*j][0] == end).find(|j| !used[*j]);
            }
            if chain.len() >= 3 {
                loops.push(chain);
            }
        }
        loops.order_by(|a, b| enclosed(b).total_cmp(&enclosed(a)));
        loops
    }
}

/// Twice the area that a loop encloses (Newell).
fn enclosed(chain: &[DVec3]) -> f64 {
    let Some(first) = chain.first() else { return 0.0 };
    chain.windows(2).map(|pair| (pair[0] - first).cross(pair[1] - first)).sum::<DVec3>().length()
}

/// Distinct points and each input point's index among them. Points within `weld_m` of an earlier one become that one.
fn weld(all: &[DVec3], weld_m: f64) -> (Vec<DVec3>, Vec<u32>) {
    let mut points: Vec<DVec3> = Vec::new();
    let close = |a: DVec3, b: DVec3| (a - b).length_squared() <= weld_m * weld_m;
    if all.len() <= 192 {
        let index = all.iter().map(|p| match points.iter().position(|known| close(*known, *p)) {
            Some(i) => i as u32,
            None => {
                points.push(*p);
                points.len() as u32 - 1
            }
        });
        let index = index.collect();
        return (points, index);
    }
    // Cells twice as wide as the weld: a partner lies in the point's own cell or in the next one toward which the point leans.
    let mut grid: std::collections::HashMap<[i64; 3], Vec<u32>> = std::collections::HashMap::new();
    let cell = |p: DVec3| (p / (2.0 * weld_m)).floor().to_array().map(|x| x as i64);
    let mut index = Vec::with_capacity(all.len());
    for p in all {
        let home = cell(*p);
        let low = cell(*p - DVec3::splat(weld_m));
        let high = cell(*p + DVec3::splat(weld_m));
        let mut found = None;
        for x in low[0]..=high[0] {
            for y in low[1]..=high[1] {
                for z in low[2]..=high[2] {
                    let here = grid.get(&[x, y, z]).into_iter().flatten().copied();
                    found = found.or_else(|| here.into_iter().find(|i| close(points[*i as usize], *p)));
                }
            }
        }
        index.push(found.unwrap_or_else(|| {
            points.push(*p);
            let i = points.len() as u32 - 1;
            grid.entry(home).or_default().push(i);
            i
        }));
    }
    (points, index)
}

/// Sides, smaller first, of the rectangle of least area round the points as seen along `normal` (rotating calipers over the hull:
/// the least rectangle has a side along a hull edge, Freeman and Shapira, CACM 18 (1975), from memory).
pub fn rectangle_sides(points: &[DVec3], normal: DVec3) -> (f64, f64) {
    let u = normal.any_orthonormal_vector();
    let v = normal.cross(u);
    let origin = points.first().copied().unwrap_or_default();
    let hull = hull(points.iter().map(|p| DVec2::new((*p - origin).dot(u), (*p - origin).dot(v))).collect());
    let mut best = (f64::INFINITY, 0.0, 0.0);
    for i in 0..hull.len() {
        let along = (hull[(i + 1) % hull.len()] - hull[i]).normalize_or_zero();
        if along == DVec2::ZERO {
            continue;
        }
        let span = |axis: DVec2| {
            let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
            for p in &hull {
                low = low.min(p.dot(axis));
                high = high.max(p.dot(axis));
            }
            high - low
        };
        let (a, b) = (span(along), span(along.perp()));
        if a * b < best.0 {
            best = (a * b, a.min(b), a.max(b));
        }
    }
    (best.1, best.2)
}

/// Convex hull, counter-clockwise (monotone chain).
fn hull(mut points: Vec<DVec2>) -> Vec<DVec2> {
    points.order_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
    points.dedup();
    if points.len() < 3 {
        return points;
    }
    let half = |points: &mut dyn Iterator<Item = &DVec2>| {
        let mut chain: Vec<DVec2> = Vec::new();
        for p in points {
            while let [.., a, b] = chain[..] {
                if (b - a).perp_dot(*p - b) > 0.0 {
                    break;
                }
                chain.pop();
            }
            chain.push(*p);
        }
        chain.pop();
        chain
    };
    let mut lower = half(&mut points.iter());
    lower.extend(half(&mut points.iter().rev()));
    lower
}

#[cfg(test)]
mod tests {
    use super::*;

    fn quad(a: [f64; 2], b: [f64; 2], c: [f64; 2], d: [f64; 2], turn_second: bool) -> Vec<[DVec3; 3]> {
        let p = |q: [f64; 2]| DVec3::new(q[0], q[1], 0.0);
        let second = if turn_second { [p(a), p(d), p(c)] } else { [p(a), p(c), p(d)] };
        vec![[p(a), p(b), p(c)], second]
    }

    #[test]
    fn verif_a_quad_has_four_boundary_edges_however_its_triangles_wind() {
        for turn in [false, true] {
            let patch = Patch::new(&quad([0.0, 0.0], [2.0, 0.0], [2.0, 1.0], [0.0, 1.0], turn), 1e-6);
            assert_eq!((patch.points.len(), patch.boundary.len()), (4, 4));
            assert_eq!(patch.turned.iter().filter(|turned| **turned).count(), usize::from(turn));
            let loops = patch.loops();
            assert_eq!((loops.len(), loops[0].len()), (1, 4));
        }
    }

    #[test]
    fn verif_a_hole_is_the_smaller_loop() {
        let ring = |r: f64| [[-r, -r], [r, -r], [r, r], [-r, r]];
        let (outer, inner) = (ring(2.0), ring(1.0));
        let mut triangles = Vec::new();
        for i in 0..4 {
            let j = (i + 1) % 4;
            triangles.extend(quad(outer[i], outer[j], inner[j], inner[i], false));
        }
        let loops = Patch::new(&triangles, 1e-6).loops();
        assert_eq!(loops.iter().map(Vec::len).collect::<Vec<_>>(), [4, 4]);
        assert!(loops[0].iter().all(|p| p.x.abs() == 2.0) && loops[1].iter().all(|p| p.x.abs() == 1.0));
    }

    #[test]
    fn verif_the_weld_is_the_same_with_and_without_the_grid() {
        // 300 points in 100 clusters narrower than the weld, near cell borders on purpose.
        let mut points = Vec::new();
        for i in 0..100 {
            for j in 0..3 {
                points.push(DVec3::new(f64::from(i) * 2e-6 + f64::from(j) * 1e-7, 1.0 - f64::from(j) * 1e-7, -3.0));
            }
        }
        let (all, index) = weld(&points, 5e-7);
        assert_eq!(all.len(), 100);
        for (i, chunk) in index.chunks(3).enumerate() {
            assert_eq!(chunk, [i as u32; 3]);
        }
        assert_eq!(weld(&points[..150], 5e-7).0.len(), 50);
    }

    #[test]
    fn verif_rectangle_sides_of_a_turned_shape() {
        for angle in [0.0, 0.3, 1.1] {
            let (s, c) = (libm::sin(angle), libm::cos(angle));
            let turn = |x: f64, y: f64| DVec3::new(5.0, c * x - s * y, s * x + c * y);
            let points = [turn(0.0, 0.0), turn(3.0, 0.0), turn(3.0, 1.0), turn(0.2, 1.0), turn(1.0, 0.5)];
            let (small, large) = rectangle_sides(&points, DVec3::X);
            assert!((small - 1.0).abs() < 1e-12 && (large - 3.0).abs() < 1e-12, "{small} {large}");
        }
    }
}
