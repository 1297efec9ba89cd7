//! Which tiles run along each other: boundary edges that lie side by side, found with a grid in time n log n.

use crate::document::Sorting as _;
use glam::DVec3;
use std::ops::Range;

/// Widest gap between two tiles that share a joint, m. Shield gaps are one to two millimetres (common practice); this leaves room for
/// curved edges cut into chords.
pub const GAP_M: f64 = 5e-3;
/// A gap is never wider than this part of a tile's smaller side.
const GAP_OF_SIDE: f64 = 0.25;
/// Two tiles share a joint where they run along each other for at least this part of the smaller one's smaller side; a common corner is none.
const JOINT_OF_SIDE: f64 = 0.1;
/// Edges are side by side where the cosine of the angle between them is at least this.
const PARALLEL: f64 = 0.8;

/// A boundary edge of a tile, directed as the tile winds.
#[derive(Debug, Clone, Copy)]
pub struct Edge {
    pub tile: u32,
    pub from: DVec3,
    pub to: DVec3,
}

/// Two tiles that run along each other, the lower index first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Joint {
    pub a: u32,
    pub b: u32,
    pub length_m: f64,
    /// The part of the length on which the two wind alike (run in opposite directions), less the part on which they do not.
    pub alike_m: f64,
}

/// All joints in rising order of their tiles. `smallest_side_m` is by tile.
pub fn joints(edges: &[Edge], smallest_side_m: &[f64]) -> Vec<Joint> {
    let total: f64 = edges.iter().map(|edge| (edge.to - edge.from).length()).sum();
    let widest = smallest_side_m.iter().fold(0.0, |a: f64, b| a.max(*b));
    let gap = GAP_M.min(GAP_OF_SIDE * widest);
    if edges.is_empty() || gap <= 0.0 || !total.is_finite() {
        return Vec::new();
    }
    // Pieces no longer than `longest`: at most twice as many as edges. Middles of two pieces within the gap are then at most a cell apart.
    let longest = (total / edges.len() as f64).max(2.0 * gap);
    let cell = longest + gap;
    let mut pieces: Vec<([i64; 3], Piece)> = Vec::new();
    for edge in edges {
        let parts = ((edge.to - edge.from).length() / longest).ceil().max(1.0) as usize;
        let at = |i: usize| edge.from.lerp(edge.to, i as f64 / parts as f64);
        for i in 0..parts {
            let piece = Edge { tile: edge.tile, from: at(i), to: at(i + 1) };
            let key = ((piece.from + piece.to) * (0.5 / cell)).floor().to_array().map(|x| x as i64);
            pieces.push((key, Piece::of(piece)));
        }
    }
    pieces.order_by_key(|piece| piece.0);
    let mut found: Vec<Joint> = Vec::new();
    let mut start = 0;
    while start < pieces.len() {
        let end = start + pieces[start..].partition_point(|piece| piece.0 == pieces[start].0);
        around(&pieces, start..end, smallest_side_m, &mut found);
        start = end;
    }
    found.order_by_key(|joint| (joint.a, joint.b));
    let merged = found.chunk_by(|p, q| (p.a, p.b) == (q.a, q.b)).map(|parts| Joint {
        a: parts[0].a,
        b: parts[0].b,
        length_m: parts.iter().map(|part| part.length_m).sum(),
        alike_m: parts.iter().map(|part| part.alike_m).sum(),
    });
    merged.filter(|joint| joint.length_m >= JOINT_OF_SIDE * pair(smallest_side_m, joint.a, joint.b)).collect()
}

fn pair(side: &[f64], a: u32, b: u32) -> f64 {
    side[a as usize].min(side[b as usize])
}

/// A piece of an edge with what every comparison asks of it.
struct Piece {
    edge: Edge,
    length_m: f64,
    along: DVec3,
}

impl Piece {
    fn of(edge: Edge) -> Piece {
        let way = edge.to - edge.from;
        Piece { edge, length_m: way.length(), along: way.normalize_or_zero() }
    }
}

/// What the pieces of one cell share with each other and with half of the cells around. A function of its own, never inlined: a browser
/// swaps in optimised code only where a function is called.
#[inline(never)]
fn around(pieces: &[([i64; 3], Piece)], cell: Range<usize>, smallest_side_m: &[f64], found: &mut Vec<Joint>) {
    let Some((key, _)) = pieces.get(cell.start) else { return };
    // The cell itself and the one after it along z, then rows of three along z.
    let row = |dx: i64, dy: i64, low: i64| {
        let low = [key[0] + dx, key[1] + dy, key[2] + low];
        let high = [key[0] + dx, key[1] + dy, key[2] + 1];
        let from = pieces.partition_point(|piece| piece.0 < low);
        from..from + pieces[from..].partition_point(|piece| piece.0 <= high)
    };
    let ranges = [cell.clone(), row(0, 0, 1), row(0, 1, -1), row(1, -1, -1), row(1, 0, -1), row(1, 1, -1)];
    for i in cell.clone() {
        for range in &ranges {
            let later = if range.start == cell.start { i + 1 } else { range.start };
            for j in later..range.end {
                found.extend(side_by_side(&pieces[i].1, &pieces[j].1, smallest_side_m));
            }
        }
    }
}

/// The stretch on which two pieces of different tiles run along each other within the gap.
fn side_by_side(p: &Piece, q: &Piece, smallest_side_m: &[f64]) -> Option<Joint> {
    // The one that stands first in space measures: the same whatever the order of the tiles.
    let place = |piece: &Piece| [piece.edge.from, piece.edge.to].map(|at| at.to_array());
    let (p, q) = if place(q) < place(p) { (q, p) } else { (p, q) };
    let (length, along, other) = (p.length_m, p.along, q.along);
    let (p, q) = (&p.edge, &q.edge);
    if p.tile == q.tile {
        return None;
    }
    let cosine = along.dot(other);
    // A piece without length has no direction, gives 0 here and drops out.
    if cosine.abs() < PARALLEL {
        return None;
    }
    let (s, t) = ((q.from - p.from).dot(along), (q.to - p.from).dot(along));
    let (low, high) = (s.min(t).max(0.0), s.max(t).min(length));
    if high <= low {
        return None;
    }
    let middle = p.from + along * (0.5 * (low + high));
    let offset = middle - q.from;
    let distance = (offset - other * offset.dot(other)).length();
    let gap = GAP_M.min(GAP_OF_SIDE * pair(smallest_side_m, p.tile, q.tile));
    if distance > gap {
        return None;
    }
    let length_m = high - low;
    let alike_m = if cosine < 0.0 { length_m } else { -length_m };
    Some(Joint { a: p.tile.min(q.tile), b: p.tile.max(q.tile), length_m, alike_m })
}

/// Groups whose members are either alike or opposite to each other (union by size, with the parity to the root).
pub struct Parity {
    parent: Vec<u32>,
    opposite: Vec<bool>,
    size: Vec<u32>,
}

impl Parity {
    pub fn new(n: usize) -> Parity {
        Parity { parent: (0..n as u32).collect(), opposite: vec![false; n], size: vec![1; n] }
    }

    /// The root of `i`, and whether `i` is opposite to it.
    fn root(&self, mut i: usize) -> (usize, bool) {
        let mut opposite = false;
        while self.parent[i] as usize != i {
            opposite ^= self.opposite[i];
            i = self.parent[i] as usize;
        }
        (i, opposite)
    }

    /// Says that `a` and `b` are opposite, or alike; nothing where they are in one group already.
    pub fn join(&mut self, a: usize, b: usize, opposite: bool) {
        let ((a, pa), (b, pb)) = (self.root(a), self.root(b));
        if a == b {
            return;
        }
        let (small, large) = if self.size[a] < self.size[b] { (a, b) } else { (b, a) };
        self.parent[small] = large as u32;
        self.opposite[small] = pa ^ pb ^ opposite;
        self.size[large] += self.size[small];
    }

    /// For each member whether it is on the side of its group that weighs less.
    pub fn smaller_side(&self, weight: impl Fn(usize) -> f64) -> Vec<bool> {
        let n = self.parent.len();
        let roots: Vec<(usize, bool)> = (0..n).map(|i| self.root(i)).collect();
        let mut balance = vec![0.0; n];
        for (i, (root, opposite)) in roots.iter().enumerate() {
            balance[*root] += if *opposite { -weight(i) } else { weight(i) };
        }
        roots.iter().map(|(root, opposite)| if balance[*root] >= 0.0 { *opposite } else { !*opposite }).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A wall of n by n square tiles, gap between them, rows shifted by half a tile where `stagger`; one tile wound the other way.
    fn wall(n: usize, side: f64, gap: f64, stagger: bool) -> (Vec<Edge>, Vec<f64>) {
        let mut edges = Vec::new();
        for row in 0..n {
            for column in 0..n {
                let x = column as f64 * (side + gap) + if stagger && row % 2 == 1 { side / 2.0 } else { 0.0 };
                let y = row as f64 * (side + gap);
                let corner = [(0.0, 0.0), (side, 0.0), (side, side), (0.0, side)].map(|(u, v)| DVec3::new(x + u, 7.0, y + v));
                let tile = (row * n + column) as u32;
                for i in 0..4 {
                    let (from, to) = (corner[i], corner[(i + 1) % 4]);
                    edges.push(if tile == 5 { Edge { tile, from: to, to: from } } else { Edge { tile, from, to } });
                }
            }
        }
        (edges, vec![side; n * n])
    }

    #[test]
    fn verif_a_wall_has_the_joints_of_a_wall() {
        for (n, side, gap) in [(4, 0.2, 1.3e-3), (4, 0.2, 0.0), (4, 0.01, 2e-4), (9, 1.5, 4e-3)] {
            let (edges, sides) = wall(n, side, gap, false);
            let joints = joints(&edges, &sides);
            assert_eq!(joints.len(), 2 * n * (n - 1), "{n} {side} {gap}");
            for joint in &joints {
                assert!((joint.length_m - side).abs() < 1e-9 * side.max(1.0), "{joint:?}");
                assert!((joint.alike_m - if joint.a == 5 || joint.b == 5 { -side } else { side }).abs() < 1e-9, "{joint:?}");
            }
            let (edges, sides) = wall(n, side, gap, true);
            let staggered = super::joints(&edges, &sides).len();
            // Each row keeps its n - 1 joints; between rows each tile meets two, but for one at the end.
            assert_eq!(staggered, n * (n - 1) + (n - 1) * (2 * n - 1), "{n} {side} {gap}");
        }
        let (edges, sides) = wall(4, 0.2, 6e-3, false);
        assert_eq!(joints(&edges, &sides), []);
    }

    #[test]
    fn verif_parity_finds_the_smaller_side() {
        let mut parity = Parity::new(6);
        for (a, b, opposite) in [(0, 1, false), (1, 2, true), (2, 3, false), (4, 5, true), (0, 3, true)] {
            parity.join(a, b, opposite);
        }
        let weights = [1.0, 1.0, 5.0, 1.0, 2.0, 1.0];
        assert_eq!(parity.smaller_side(|i| weights[i]), [true, true, false, false, false, true]);
    }
}
