//! Fins, elevons, body flaps, base and openings: the surfaces that join the body, each as a map from a unit square.
//!
//! A fin grows out of the body's two chine courses: its outer face starts at the joint of belly and lower course, its inner face at
//! the joint of upper course and side, so that body and fin meet along common curves and nothing has to be trimmed. Both faces are
//! quadratic Bezier lofts from the root curve to a straight tip chord; the middle control curve makes a soft fillet at the root.
//! The leading edge is a half-elliptic nose in front of both faces, the trailing edge is blunt. The fin leans outward by
//! the angle between its mid-line and the vertical, about 33 degrees. Everything here is the right-hand one; the left is mirrored.

use super::shape::{Body, LENGTH_M, Sector};
use glam::DVec3;

/// Chord fraction of the fin's hinge line, and of the start of the elevon behind its gap.
pub const HINGE: [f64; 2] = [0.735, 0.745];
/// Rows of tiles along a fin's span; the elevon reaches from the second to the last but one.
pub const FIN_ROWS: usize = 9;

/// Fin tip: x of leading and trailing edge, y and z of the mid-line, thickness at both, m.
const TIP: [f64; 6] = [11.45, 12.95, 3.18, 1.95, 0.17, 0.10];
/// Unit vector across a fin from the inner to the outer face.
const ACROSS: DVec3 = DVec3::new(0.0, 0.838_670_567_945_424, -0.544_639_035_015_027_1);

/// Flap: gap behind the base, chord, m; slope of its chord downward; thickness at hinge and trailing edge, m.
const FLAP: [f64; 5] = [0.022, 0.74, 0.06, 0.19, 0.075];
/// Fractions of the belly sector at the base between which the right flap reaches.
const FLAP_SPAN: [f64; 2] = [0.022, 0.80];

/// A named piece of the vehicle's outer surface, the right-hand one where there are two. `at` maps a place (a, b) to a point; the
/// outward normal is `d/db x d/da` (`turned` false) or the opposite.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Surface {
    /// a: aft from station `q0` to `q1`; b: arc fraction of the sector.
    Body {
        sector: Sector,
        q0: f64,
        q1: f64,
    },
    /// The nose around its pole, to station `q1`; a, b: from -1 to 1, toward the keel and to the right.
    Cap {
        q1: f64,
    },
    /// a: chord from leading to trailing edge; b: span from root to tip.
    FinOuter,
    FinInner,
    /// a: around from the outer to the inner face; b: span.
    FinEdge,
    /// a: chord; b: across from the outer to the inner face.
    FinTip,
    /// The front end of the tip in front of its chord; a: around; b: from the middle to the edge.
    FinTipNose,
    /// a: across from the outer to the inner face; b: span.
    FinTrail,
    /// a: aft; b: from the middle outward.
    FlapLower,
    FlapUpper,
    /// a: down; b: from the middle outward.
    FlapFront,
    FlapTrail,
    /// a: aft; b: down.
    FlapInboard,
    FlapOutboard,
    /// The base plane: a: from the middle to the rim; b: around, keel to crest.
    Base,
}

/// All surfaces of the vehicle.
pub struct Vehicle {
    pub body: Body,
    /// Station at which the fins begin.
    pub fin_q: f64,
}

impl Vehicle {
    /// Whether the outward normal is `d/da x d/db`.
    pub fn turned(surface: Surface) -> bool {
        use Surface::*;
        matches!(surface, FinInner | FinEdge | FlapUpper | FlapOutboard | FlapTrail | Base)
    }

    /// The point of a surface; `a` and `b` from 0 to 1 (body sectors reach over keel and crest, see `Body::at`).
    pub fn at(&self, surface: Surface, a: f64, b: f64) -> DVec3 {
        match surface {
            Surface::Body { sector, q0, q1 } => self.body.at(sector, q0 + a * (q1 - q0), b),
            Surface::Cap { q1 } => {
                let radius = (a * a + b * b).sqrt();
                self.body.at(Sector::Round, radius * q1, libm::atan2(b, a) / std::f64::consts::PI)
            }
            Surface::FinOuter => self.fin_face(a, b, 1.0),
            Surface::FinInner => self.fin_face(a, b, -1.0),
            Surface::FinEdge => self.fin_edge(a, b),
            Surface::FinTip => {
                let (outer, inner) = (self.fin_face(a, 1.0, 1.0), self.fin_face(a, 1.0, -1.0));
                outer + b * (inner - outer)
            }
            Surface::FinTipNose => {
                let middle = 0.5 * (self.fin_face(0.0, 1.0, 1.0) + self.fin_face(0.0, 1.0, -1.0));
                middle + b * (self.fin_edge(a, 1.0) - middle)
            }
            Surface::FinTrail => {
                let (outer, inner) = (self.fin_face(1.0, b, 1.0), self.fin_face(1.0, b, -1.0));
                outer + a * (inner - outer)
            }
            Surface::FlapLower => self.flap(a, b, 0.0),
            Surface::FlapUpper => self.flap(a, b, 1.0),
            Surface::FlapFront => self.flap(0.0, b, 1.0 - a),
            Surface::FlapTrail => self.flap(1.0, b, 1.0 - a),
            Surface::FlapInboard => self.flap(a, 0.0, 1.0 - b),
            Surface::FlapOutboard => self.flap(a, 1.0, 1.0 - b),
            Surface::Base => {
                let (keel, crest) = (self.body.surface(1.0, 0.0), self.body.surface(1.0, 8.0));
                let middle = 0.5 * (keel + crest);
                middle + a * (self.rim(b) - middle)
            }
        }
    }

    /// A fin's outer (`side` 1) or inner (-1) face at chord fraction `s` and span fraction `h`.
    fn fin_face(&self, s: f64, h: f64, side: f64) -> DVec3 {
        let fin_x = LENGTH_M * self.fin_q * self.fin_q;
        let q = ((fin_x + s * (LENGTH_M - fin_x)) / LENGTH_M).sqrt();
        let outer_root = self.body.at(Sector::ChineLow, q, 0.0);
        let inner_root = self.body.at(Sector::ChineHigh, q, 1.0);
        let middle_root = 0.5 * (outer_root + inner_root);
        let root = if side > 0.0 { outer_root } else { inner_root };
        let middle_tip = DVec3::new(TIP[0] + s * (TIP[1] - TIP[0]), TIP[2], TIP[3]);
        let half = 0.5 * (TIP[4] + s * (TIP[5] - TIP[4])) * side;
        let tip = middle_tip + half * ACROSS;
        let knee = middle_root + 0.5 * (middle_tip - middle_root) + 1.15 * half * ACROSS;
        let g = 1.0 - h;
        g * g * root + 2.0 * g * h * knee + h * h * tip
    }

    /// The rim of the base: belly up to 0.4, the fin's root up to 0.5, then the upper side.
    fn rim(&self, b: f64) -> DVec3 {
        if b <= 0.4 {
            self.body.at(Sector::Belly, 1.0, b / 0.4)
        } else if b < 0.5 {
            let (outer, inner) = (self.fin_face(1.0, 0.0, 1.0), self.fin_face(1.0, 0.0, -1.0));
            outer + (b - 0.4) / 0.1 * (inner - outer)
        } else {
            self.body.at(Sector::Upper, 1.0, (b - 0.5) / 0.5)
        }
    }

    /// The leading edge: `a` around from the outer (0) to the inner face (1), `h` along the span. At the root it lies on the last
    /// section of the chine courses; within the first seventh of the span its half-elliptic nose grows from there.
    fn fin_edge(&self, a: f64, h: f64) -> DVec3 {
        let (outer, inner) = (self.fin_face(0.0, h, 1.0), self.fin_face(0.0, h, -1.0));
        let (step, from) = (1e-3, h.min(1.0 - 1e-3));
        let middle = |h: f64| 0.5 * (self.fin_face(0.0, h, 1.0) + self.fin_face(0.0, h, -1.0));
        let along = (middle(from + step) - middle(from)).normalize();
        let across = (outer - inner).normalize();
        let forward = across.cross(along).normalize();
        let forward = if forward.x > 0.0 { -forward } else { forward };
        let u = (h / 0.14).clamp(0.0, 1.0);
        let grown = u * u * (3.0 - 2.0 * u);
        let angle = std::f64::consts::PI * (a - 0.5);
        let place = (1.0 - grown) * (2.0 * a - 1.0) + grown * libm::sin(angle);
        let nose = 0.5 * (outer + inner) - 0.5 * place * (outer - inner);
        let reach = 0.5 * grown * libm::cos(angle) * (outer - inner).length() * forward;
        let (low, high) = (self.fin_face(0.0, 0.0, 1.0), self.fin_face(0.0, 0.0, -1.0));
        let section = if a < 0.5 {
            self.body.at(Sector::ChineLow, self.fin_q, 2.0 * a)
        } else {
            self.body.at(Sector::ChineHigh, self.fin_q, 2.0 * a - 1.0)
        };
        let bulge = section - (low + a * (high - low));
        nose + reach + (1.0 - grown) * bulge
    }

    /// The right flap at chord fraction `a`, span fraction `b`, height fraction `c` from the lower to the upper face.
    fn flap(&self, a: f64, b: f64, c: f64) -> DVec3 {
        let v = FLAP_SPAN[0] + b * (FLAP_SPAN[1] - FLAP_SPAN[0]);
        let root = self.body.at(Sector::Belly, 1.0, v);
        let thickness = FLAP[3] + a * (FLAP[4] - FLAP[3]);
        root + DVec3::new(FLAP[0] + a * FLAP[1], 0.0, -FLAP[2] * a * FLAP[1] + c * thickness)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn vehicle() -> Vehicle {
        Vehicle { body: Body::new(), fin_q: (9.2_f64 / LENGTH_M).sqrt() }
    }

    #[test]
    fn verif_fin_meets_body_along_its_root() {
        let vehicle = vehicle();
        for i in 0..=20 {
            let s = f64::from(i) / 20.0;
            let outer = vehicle.at(Surface::FinOuter, s, 0.0);
            let q = (outer.x / LENGTH_M).sqrt();
            assert!(outer.distance(vehicle.body.at(Sector::Belly, q, 1.0)) < 1e-3, "{s}");
            let inner = vehicle.at(Surface::FinInner, s, 0.0);
            let q = (inner.x / LENGTH_M).sqrt();
            assert!(inner.distance(vehicle.body.at(Sector::Upper, q, 0.0)) < 1e-3, "{s}");
            let edge = vehicle.at(Surface::FinEdge, s, 0.0);
            assert!(edge.distance(vehicle.at(Surface::FinOuter, 0.0, 0.0)) < 0.5);
            for h in [0.2, 0.7] {
                assert!(vehicle.at(Surface::FinEdge, 0.0, h).distance(vehicle.at(Surface::FinOuter, 0.0, h)) < 1e-12);
            }
        }
    }

    #[test]
    fn verif_normals_point_outward() {
        let vehicle = vehicle();
        let normal = |surface: Surface, a: f64, b: f64| {
            let step = 1e-4;
            let da = vehicle.at(surface, a + step, b) - vehicle.at(surface, a - step, b);
            let db = vehicle.at(surface, a, b + step) - vehicle.at(surface, a, b - step);
            if Vehicle::turned(surface) { da.cross(db) } else { db.cross(da) }.normalize()
        };
        let body = |sector| Surface::Body { sector, q0: 0.6, q1: 0.7 };
        let mut wrong = Vec::new();
        for (surface, toward) in [
            (body(Sector::Belly), -DVec3::Z),
            (body(Sector::Upper), DVec3::Z),
            (body(Sector::ChineLow), DVec3::Y),
            (body(Sector::ChineHigh), DVec3::Y),
            (Surface::Cap { q1: 0.1 }, -DVec3::X),
            (Surface::FinOuter, ACROSS),
            (Surface::FinInner, -ACROSS),
            (Surface::FinEdge, -DVec3::X),
            (Surface::FinTip, DVec3::new(0.0, 0.59, 0.81)),
            (Surface::FinTipNose, DVec3::new(0.0, 0.59, 0.81)),
            (Surface::FinTrail, DVec3::X),
            (Surface::FlapLower, -DVec3::Z),
            (Surface::FlapUpper, DVec3::Z),
            (Surface::FlapFront, -DVec3::X),
            (Surface::FlapTrail, DVec3::X),
            (Surface::FlapInboard, -DVec3::Y),
            (Surface::FlapOutboard, DVec3::Y),
            (Surface::Base, DVec3::X),
        ] {
            let n = normal(surface, 0.5, 0.5);
            if n.dot(toward) < 0.3 {
                wrong.push(format!("{surface:?}: {n}"))
            }
        }
        assert!(wrong.is_empty(), "{wrong:?}");
    }
}
