//! Principal curvatures of the surface under a tile, from its neighbours' normals.
//!
//! The shape operator S of a surface turns a step along it into the change of its normal. It is fitted (least squares over the
//! neighbours) to arcs: the step has the arc's length, the change the angle between the normals, so that a sphere and a cylinder come
//! out exact however coarse the tiles. Hollow curvature counts as flat. Every sum runs in an order, and every frame turns, that
//! mirroring left and right leaves alone: a mirrored vehicle gives mirrored bits.

use super::Facet;
use glam::DVec3;

/// Curvatures (1/m, both at least 0, the larger first) and the unit direction along the surface in which it is the smaller.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Curvature {
    pub sharp_per_m: f64,
    pub flat_per_m: f64,
    pub edge: DVec3,
    /// Share of the larger that is the surface's own, the rest being the floor of a flat face; 0 to 1.
    pub own_share: f64,
}

/// The length of the arc between two facets: their distance stretched as a circle's arc is over its chord.
pub(super) fn arc_m(from: &Facet, to: &Facet) -> f64 {
    let half_chord = 0.5 * (to.normal - from.normal).length();
    let stretch = if half_chord < 1e-4 { 1.0 } else { libm::asin(half_chord.min(1.0)) / half_chord };
    (to.centre - from.centre).length() * stretch
}

/// Directions along the surface: aft as seen from the tile (up for a tile that faces forward or aft), and across.
pub(super) fn frame(normal: DVec3) -> (DVec3, DVec3) {
    let aft = DVec3::X - normal * normal.x;
    let along = if aft.length_squared() > 1e-4 { aft } else { DVec3::Z - normal * normal.z };
    let along = along.normalize_or(DVec3::Z);
    (along, normal.cross(along))
}

/// The curvature at `centre`; `floor_per_m` is the curvature that a flat face of this body still has for the flow, across the body.
pub(super) fn fit(centre: &Facet, neighbours: &[&Facet], floor_per_m: f64) -> Curvature {
    let (along, across) = frame(centre.normal);
    // Normal equations of dn = S d for the three entries of S, weighted by 1 / |d|^2 so that near and far say the same.
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    let mut right = [0.0; 3];
    for other in neighbours {
        let step = other.centre - centre.centre;
        let (x, y) = (step.dot(along), step.dot(across));
        let flat = (x * x + y * y).sqrt();
        let turn = other.normal - centre.normal;
        let (u, v) = (turn.dot(along), turn.dot(across));
        let length = arc_m(centre, other);
        if flat <= 1e-9 || length <= 1e-9 {
            continue;
        }
        // Unit direction of the step; the normal's change per metre of arc, as an angle.
        let (x, y) = (x / flat, y / flat);
        let tilt = (u * u + v * v).sqrt();
        let half = 0.5 * turn.length();
        let angle = 2.0 * libm::asin(half.min(1.0));
        let scale = if tilt > 1e-12 { angle / (tilt * length) } else { 0.0 };
        let (u, v) = (u * scale, v * scale);
        xx += x * x;
        xy += x * y;
        yy += y * y;
        right[0] += x * u;
        right[1] += y * u + x * v;
        right[2] += y * v;
    }
    // [xx xy 0; xy xx+yy xy; 0 xy yy] (s11, s12, s22) = right, with a small pull to flat where the neighbours do not tell.
    let pull = 1e-6;
    let (a, b, c) = (xx + pull, xy, yy + pull);
    let middle = xx + yy + pull;
    let determinant = a * (middle * c - b * b) - b * b * c;
    let s11 = (right[0] * (middle * c - b * b) - b * (right[1] * c - b * right[2])) / determinant;
    let s12 = (a * (right[1] * c - b * right[2]) - b * right[0] * c) / determinant;
    let s22 = (a * (middle * right[2] - b * right[1]) - b * b * (right[2] - right[0])) / determinant;
    principal(s11, s12, s22, centre.normal, floor_per_m)
}

/// The two curvatures of a symmetric [s11 s12; s12 s22] in the tile's frame, with the floor laid under a face flatter than it.
fn principal(s11: f64, s12: f64, s22: f64, normal: DVec3, floor_per_m: f64) -> Curvature {
    let (along, across) = frame(normal);
    let largest = |s11: f64, s22: f64| 0.5 * (s11 + s22) + (0.25 * (s11 - s22) * (s11 - s22) + s12 * s12).sqrt();
    let lack = if floor_per_m > 0.0 { (1.0 - largest(s11, s22).max(0.0) / floor_per_m).max(0.0) } else { 0.0 };
    let lift = floor_per_m * lack * lack;
    let bare = largest(s11, s22).max(0.0);
    // Across the body always; along it as far as the face looks forward.
    let (s11, s22) = (s11 + lift * normal.x * normal.x, s22 + lift);
    let (mean, half) = (0.5 * (s11 + s22), 0.5 * (s11 - s22));
    let reach = (half * half + s12 * s12).sqrt();
    // Direction of the larger: (cos, sin) of half the angle of (half, s12).
    let (cos, sin) = if reach <= 1e-12 {
        (0.0, 1.0)
    } else {
        let cos = (0.5 * (1.0 + half / reach)).max(0.0).sqrt();
        let sin = (0.5 * (1.0 - half / reach)).max(0.0).sqrt();
        (cos, if s12 < 0.0 { -sin } else { sin })
    };
    let edge = across * cos - along * sin;
    let sharp_per_m = (mean + reach).max(1e-6);
    Curvature { sharp_per_m, flat_per_m: (mean - reach).max(0.0), edge, own_share: (bare / sharp_per_m).min(1.0) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn on(centre: DVec3, normal: DVec3) -> Facet {
        Facet { centre, normal: normal.normalize(), area_m2: 0.01, ..Facet::default() }
    }

    fn around(surface: impl Fn(f64, f64) -> (DVec3, DVec3), step: f64) -> Curvature {
        let facet = |u: f64, v: f64| {
            let (centre, normal) = surface(u, v);
            on(centre, normal)
        };
        let ring: Vec<Facet> = [(1.0, 0.0), (1.0, 1.0), (0.0, 1.0), (-1.0, 1.0), (-1.0, 0.0), (-1.0, -1.0), (0.0, -1.0), (1.0, -1.0)]
            .iter()
            .map(|(u, v)| facet(u * step, v * step))
            .collect();
        fit(&facet(0.0, 0.0), &ring.iter().collect::<Vec<_>>(), 0.0)
    }

    #[test]
    fn verif_sphere_cylinder_plane() {
        let sphere = around(
            |u, v| {
                let n = DVec3::new(-u.cos() * v.cos(), u.sin() * v.cos(), v.sin() - 0.3 * u.sin()).normalize();
                (n * 0.7, n)
            },
            0.2,
        );
        assert!((sphere.sharp_per_m * 0.7 - 1.0).abs() < 1e-6 && (sphere.flat_per_m * 0.7 - 1.0).abs() < 1e-6, "{sphere:?}");
        let cylinder = around(
            |u, v| {
                let n = DVec3::new(0.0, v.sin(), -v.cos());
                (DVec3::new(u, 0.5 * v.sin(), -0.5 * v.cos()), n)
            },
            0.3,
        );
        assert!((cylinder.sharp_per_m * 0.5 - 1.0).abs() < 0.05, "{cylinder:?}");
        assert!(cylinder.flat_per_m < 0.1 && cylinder.edge.x.abs() > 0.999, "{cylinder:?}");
        let plane = around(|u, v| (DVec3::new(u, v, 0.0), DVec3::NEG_Z), 0.3);
        assert!(plane.sharp_per_m < 1e-5, "{plane:?}");
    }

    #[test]
    fn verif_a_swept_edge_is_found() {
        // A cylinder of 0.1 m radius along (1, 1, 0) / sqrt 2.
        let (axis, b) = (DVec3::new(1.0, 1.0, 0.0).normalize(), DVec3::new(-1.0, 1.0, 0.0).normalize());
        let edge = around(
            |u, v| {
                let n = b * (2.0 * v).cos() + DVec3::Z * (2.0 * v).sin();
                (axis * u + n * 0.1, n)
            },
            0.2,
        );
        assert!((edge.sharp_per_m * 0.1 - 1.0).abs() < 0.1, "{edge:?}");
        assert!(edge.edge.dot(axis).abs() > 0.995, "{edge:?}");
    }
}
