//! A polygon in space cut into triangles that keep its winding, concave ones by ear clipping.

use glam::{DVec2, DVec3};

/// Polygons with more corners are refused by the reader: ear clipping takes the square of their number, or worse.
pub const CORNERS: usize = 2000;

/// Triangles of the polygon with these corners, as indices into `corners`, wound as it is. A polygon that crosses itself still gives
/// triangles, which may overlap; corners in one line give none.
pub fn triangulate(corners: &[DVec3]) -> Vec<[usize; 3]> {
    let n = corners.len();
    if n < 3 {
        return Vec::new();
    }
    if n == 3 {
        return vec![[0, 1, 2]];
    }
    let flat = project(corners);
    let turn = |a: usize, b: usize, c: usize| (flat[b] - flat[a]).perp_dot(flat[c] - flat[b]);
    if (0..n).all(|i| turn(i, (i + 1) % n, (i + 2) % n) > 0.0) {
        return (1..n - 1).map(|i| [0, i, i + 1]).collect();
    }
    let mut left: Vec<usize> = (0..n).collect();
    let mut triangles = Vec::with_capacity(n - 2);
    while left.len() > 3 {
        let m = left.len();
        let corner = |i: usize| (left[(i + m - 1) % m], left[i], left[(i + 1) % m]);
        let is_ear = |i: &usize| {
            let (a, b, c) = corner(*i);
            turn(a, b, c) > 0.0 && !left.iter().any(|p| ![a, b, c].contains(p) && inside(flat[*p], flat[a], flat[b], flat[c]))
        };
        // Without an ear (corners in one line, or a polygon that crosses itself) the flattest corner goes.
        let ear = (0..m).find(is_ear).unwrap_or_else(|| {
            let size = |i: &usize| {
                let (a, b, c) = corner(*i);
                turn(a, b, c).abs()
            };
            (0..m).min_by(|i, j| size(i).total_cmp(&size(j))).unwrap_or(0)
        });
        let (a, b, c) = corner(ear);
        triangles.push([a, b, c]);
        left.remove(ear);
    }
    triangles.push([left[0], left[1], left[2]]);
    triangles
}

/// The corners in the polygon's own plane (Newell's normal), seen so that it winds counter-clockwise.
fn project(corners: &[DVec3]) -> Vec<DVec2> {
    let n = corners.len();
    let normal: DVec3 = (0..n).map(|i| (corners[i] - corners[0]).cross(corners[(i + 1) % n] - corners[0])).sum();
    let normal = normal.try_normalize().unwrap_or(DVec3::Z);
    let u = normal.any_orthonormal_vector();
    let v = normal.cross(u);
    corners.iter().map(|p| DVec2::new((p - corners[0]).dot(u), (p - corners[0]).dot(v))).collect()
}

/// Whether `p` lies in the counter-clockwise triangle or on its rim.
fn inside(p: DVec2, a: DVec2, b: DVec2, c: DVec2) -> bool {
    (b - a).perp_dot(p - a) >= 0.0 && (c - b).perp_dot(p - b) >= 0.0 && (a - c).perp_dot(p - c) >= 0.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_triangles_cover_the_polygon_and_keep_its_winding() {
        let shapes: [(&[(f64, f64)], f64); 5] = [
            (&[(0.0, 0.0), (2.0, 0.0), (2.0, 1.0), (0.0, 1.0)], 2.0),
            // An L, a star and a comb: concave.
            (&[(0.0, 0.0), (2.0, 0.0), (2.0, 1.0), (1.0, 1.0), (1.0, 2.0), (0.0, 2.0)], 3.0),
            (&[(0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (3.0, 1.0), (2.0, 3.0), (1.0, 1.0), (0.0, 3.0)], 8.0),
            (&[(0.0, 0.0), (1.0, 0.0), (2.0, 0.0), (2.0, 2.0), (0.0, 2.0)], 4.0),
            (&[(0.0, 0.0), (3.0, 0.0), (0.5, 0.5), (0.0, 3.0)], 1.5),
        ];
        for (shape, area) in shapes {
            // Tilted, so that no axis is special.
            let corners: Vec<DVec3> = shape.iter().map(|(x, y)| DVec3::new(*x, 0.6 * y, 0.8 * y)).collect();
            for shift in 0..corners.len() {
                let turned: Vec<DVec3> = (0..corners.len()).map(|i| corners[(i + shift) % corners.len()]).collect();
                let triangles = triangulate(&turned);
                let normal = DVec3::new(0.0, -0.8, 0.6);
                let parts: Vec<f64> =
                    triangles.iter().map(|[a, b, c]| (turned[*b] - turned[*a]).cross(turned[*c] - turned[*a]).dot(normal) / 2.0).collect();
                assert!(parts.iter().all(|part| *part > -1e-12), "{parts:?}");
                assert!((parts.iter().sum::<f64>() - area).abs() < 1e-12, "{parts:?} {area}");
            }
        }
    }
}
