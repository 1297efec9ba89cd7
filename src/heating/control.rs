//! Control surfaces: zones whose tiles turn about their hinge, and what the corner ahead of them does to the heating.
//!
//! A control surface is a zone of the vehicle. Each contiguous patch of it turns as one about its own hinge: the line through the tiles of its forward
//! edge (no tile of the patch within 45 degrees straight ahead of them), as the principal direction of their centres. Positive is the trailing
//! edge down, into the windward flow; about a hinge that stands more upright than level, outboard (to the right on the middle). Normals and edges
//! turn, places do not: the hinge's offset is small beside the running length.
//!
//! On a turned tile the boundary layer arrives as it was before the corner (edge speed, running length) and meets the turned face's pressure p_2
//! instead of its own p_1: heating as (p_2 / p_1)^0.7 laminar and (p_2 / p_1)^0.85 turbulent, the peak behind a compression corner where the flow
//! has attached again (W. L. Hankey and M. S. Holden, AGARDograph 203 (1975); from memory), taken for the whole surface: an upper bound away from
//! the reattachment line. The same law holds for a face turned away. Range: pressure ratios to about 10 laminar, 20 turbulent; above
//! 20 the interaction is held and heating follows the plate's own law. Shock-shock interaction, the separated flow ahead of the hinge (less heated where
//! laminar) and gap flow through the hinge are not in it.

use super::curvature::frame;
use super::{Facet, local::LANES};
use crate::document::Sorting as _;
use glam::DVec3;
use wide::f64x4;

/// So many zones of a vehicle may be deflected.
pub const MOST: usize = 8;

/// Powers of the pressure ratio behind a compression corner: laminar, turbulent.
pub const LAMINAR_POWER: f64 = 0.7;
pub const TURBULENT_POWER: f64 = 0.85;
/// The pressure ratio at which the interaction is held.
const HELD_RATIO: f64 = 20.0;

/// What a tile turns about.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hinge {
    /// Which of the deflected zones, below [`MOST`].
    pub surface: usize,
    /// Unit direction of the axis; a positive deflection turns right-handed about it.
    pub axis: DVec3,
}

/// The hinges of all tiles; `zone(tile)` tells which deflected zone a tile belongs to, below [`MOST`].
///
/// Cost: linear in tiles. Mirrored vehicles get mirrored hinges, bit for bit.
pub fn hinges<'a>(facets: &[Facet], neighbours: impl Fn(usize) -> &'a [u32], zone: impl Fn(usize) -> Option<usize>) -> Vec<Option<Hinge>> {
    let mut found: Vec<Option<Hinge>> = vec![None; facets.len()];
    let mut seen = vec![false; facets.len()];
    for first in 0..facets.len() {
        let Some(surface) = zone(first).filter(|surface| *surface < MOST && !seen.get(first).copied().unwrap_or(true)) else { continue };
        let mut patch = vec![first];
        if let Some(seen) = seen.get_mut(first) {
            *seen = true;
        }
        let mut at = 0;
        while let Some(&tile) = patch.get(at) {
            at += 1;
            for &other in neighbours(tile) {
                let other = other as usize;
                if let Some(seen) = seen.get_mut(other)
                    && !*seen
                    && zone(other) == Some(surface)
                {
                    *seen = true;
                    patch.push(other);
                }
            }
        }
        let axis = axis(facets, &neighbours, &patch);
        for tile in patch {
            if let Some(hinge) = found.get_mut(tile) {
                *hinge = Some(Hinge { surface, axis });
            }
        }
    }
    found
}

fn axis<'a>(facets: &[Facet], neighbours: &impl Fn(usize) -> &'a [u32], patch: &[usize]) -> DVec3 {
    let mut members = patch.to_vec();
    members.order();
    let leads = |facet: &Facet, tile: usize| {
        let ahead = |other: &Facet| {
            let step = other.centre - facet.centre;
            step.x < -0.7 * step.length()
        };
        neighbours(tile).iter().all(|other| {
            members.binary_search(&(*other as usize)).is_err() || facets.get(*other as usize).is_none_or(|other| !ahead(other))
        })
    };
    let mut front: Vec<&Facet> = patch.iter().filter_map(|tile| facets.get(*tile).filter(|facet| leads(facet, *tile))).collect();
    // An order that mirroring leaves alone.
    front.order_by(|a, b| {
        let key = |f: &Facet| [f.centre.x, f.centre.z, f.centre.y.abs()];
        key(a).iter().zip(&key(b)).fold(std::cmp::Ordering::Equal, |order, (a, b)| order.then(a.total_cmp(b)))
    });
    let count = front.len().max(1) as f64;
    let middle = front.iter().fold(DVec3::ZERO, |sum, facet| sum + facet.centre) / count;
    let normal = front.iter().fold(DVec3::ZERO, |sum, facet| sum + facet.normal).normalize_or(DVec3::NEG_Z);
    let area = front.iter().fold(0.0, |sum, facet| sum + facet.area_m2) / count;
    // Spread of the centres; its longest direction by the power method.
    let mut spread = [DVec3::ZERO; 3];
    for facet in &front {
        let d = facet.centre - middle;
        spread[0] += d * d.x;
        spread[1] += d * d.y;
        spread[2] += d * d.z;
    }
    let widest = spread[0].x.max(spread[1].y).max(spread[2].z);
    let start = if widest == spread[1].y {
        DVec3::Y
    } else if widest == spread[2].z {
        DVec3::Z
    } else {
        DVec3::X
    };
    let mut axis = if widest > 0.1 * area {
        (0..80).fold(start, |v, _| DVec3::new(spread[0].dot(v), spread[1].dot(v), spread[2].dot(v)).normalize_or(start))
    } else {
        frame(normal).1
    };
    // Trailing edge down; outboard about an upright hinge.
    let upright = axis.z.abs() > axis.y.abs();
    let wrong = if upright { (axis.z < 0.0) != (middle.y < -1e-9) } else { axis.y < 0.0 };
    if wrong {
        axis = -axis;
    }
    axis
}

/// Four tiles of which some turn.
#[derive(Debug, Clone)]
pub(super) struct Turning {
    surface: [Option<usize>; LANES],
    /// Part of the normal and edge square to the axis, and the axis cross each.
    normal: [[f64x4; 3]; 2],
    edge: [[f64x4; 3]; 2],
}

/// Cosine less 1, and sine, of each zone's deflection.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Deflections {
    turn: [(f64, f64); MOST],
    pub any: bool,
}

impl Deflections {
    /// Degrees by zone; none where the list ends.
    pub fn of(degrees: &[f64]) -> Deflections {
        let mut out = Deflections::default();
        for (turn, degrees) in out.turn.iter_mut().zip(degrees) {
            let angle = degrees.to_radians();
            let half = libm::sin(0.5 * angle);
            *turn = (-2.0 * half * half, libm::sin(angle));
            out.any |= *degrees != 0.0;
        }
        out
    }
}

fn lanes(values: [DVec3; LANES]) -> [f64x4; 3] {
    [values.map(|v| v.x).into(), values.map(|v| v.y).into(), values.map(|v| v.z).into()]
}

impl Turning {
    /// `None` where none of the four turns.
    pub fn new(tiles: [(Option<Hinge>, DVec3, DVec3); LANES]) -> Option<Box<Turning>> {
        if tiles.iter().all(|(hinge, ..)| hinge.is_none()) {
            return None;
        }
        let axis = tiles.map(|(hinge, ..)| hinge.map_or(DVec3::ZERO, |hinge| hinge.axis));
        let parts = |vectors: [DVec3; LANES]| {
            let square = std::array::from_fn(|i: usize| vectors[i] - axis[i] * axis[i].dot(vectors[i]));
            let across = std::array::from_fn(|i: usize| axis[i].cross(vectors[i]));
            [lanes(square), lanes(across)]
        };
        Some(Box::new(Turning {
            surface: tiles.map(|(hinge, ..)| hinge.map(|hinge| hinge.surface)),
            normal: parts(tiles.map(|(_, normal, _)| normal)),
            edge: parts(tiles.map(|(.., edge)| edge)),
        }))
    }

    /// Normals and edges turned by the deflections.
    pub fn turned(&self, normal: &[f64x4; 3], edge: &[f64x4; 3], by: &Deflections) -> ([f64x4; 3], [f64x4; 3]) {
        let angle = self.surface.map(|surface| surface.and_then(|surface| by.turn.get(surface)).copied().unwrap_or_default());
        let (less, sine) = (f64x4::from(angle.map(|(less, _)| less)), f64x4::from(angle.map(|(_, sine)| sine)));
        let turn = |v: &[f64x4; 3], parts: &[[f64x4; 3]; 2]| std::array::from_fn(|i| v[i] + parts[0][i] * less + parts[1][i] * sine);
        (turn(normal, &self.normal), turn(edge, &self.edge))
    }
}

/// What the corner adds to the square of the laminar heating beyond its growth with the pressure itself; the turbulent addition is its fourth root.
pub(super) fn interaction(pressure: f64x4, before: f64x4) -> f64x4 {
    let ratio = (pressure / before.fast_max(f64x4::splat(1e-300))).to_array();
    // Laminar heating grows with p^0.5 already, turbulent with p^0.8: squares with 0.4 and 0.1 are left.
    f64x4::from(ratio.map(|ratio| libm::pow(ratio.clamp(1e-6, HELD_RATIO), 2.0 * (LAMINAR_POWER - 0.5))))
}
