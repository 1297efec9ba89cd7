//! A tile's place on the body: curvatures, and running length from where the flow attaches, surveyed once a vehicle.
//!
//! The survey works on any mesh that is cut into tiles and asks for nothing but centres, normals, areas and neighbours. It is made at
//! angles of attack every [`STEP_DEG`] from [`LOWEST_DEG`] (at no sideslip; where a flight slips at [`SLIP_DEG`] either way too) and read between them by cubic interpolation (Catmull and Rom) of the
//! length's square, so that nothing jumps in angle of attack and the stagnation point moves smoothly; outside they are held. At each angle the flow attaches
//!
//! 1. around the stagnation point: the foremost tile that faces the stream. Near it the length is that of a sphere of the nose radius
//!    there, radius times angle;
//! 2. on the crest of every edge sharper than the nose that faces the stream (a fin, a strake): one edge radius.
//!
//! A part without a way to either (an island of tiles) starts at its foremost tile with the length from the stagnation point.

use super::Facet;
use super::curvature::{self, Curvature};
use super::running::Steps;
use crate::document::Sorting as _;
use glam::DVec3;
use std::f64::consts::FRAC_PI_2;

/// Lowest surveyed angle of attack, their distance, degrees, and their number.
pub const LOWEST_DEG: f64 = -20.0;
pub const STEP_DEG: f64 = 10.0;
pub const ANGLES: usize = 12;
/// Sideslip either way at which running lengths are surveyed; quadratic between, held beyond.
pub const SLIP_DEG: f64 = 10.0;

/// A flat face of half-width b is heated like a sphere of 3.3 b: a flat-faced cylinder end-on has 0.55 of the stagnation heating of a
/// hemisphere of its radius (Stoney and Swanson, NACA TN 4259 (1958), and others; 0.5 to 0.6, value from memory).
const FLAT_FACE: f64 = 3.3;

/// What the surface is like under a tile.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// Principal curvatures, 1/m, the larger first; hollow counts as flat.
    pub sharp_per_m: f64,
    pub flat_per_m: f64,
    /// Unit direction along the surface in which it is the less curved: along an edge.
    pub edge: DVec3,
    /// Share of `sharp_per_m` that is the surface's own, the rest being what a flat face still has for the flow; 0 to 1.
    pub own_share: f64,
}

impl Place {
    /// 0 on a cylinder or an edge, 1 on a sphere.
    pub fn roundness(&self) -> f64 {
        (self.flat_per_m / self.sharp_per_m).clamp(0.0, 1.0)
    }
}

/// The body at one angle of attack.
#[derive(Debug, Clone, PartialEq)]
pub struct Attitude {
    pub attack_deg: f64,
    /// Where the flow stagnates.
    pub stagnation: DVec3,
    pub nose_radius_m: f64,
    /// By tile; 0 at the stagnation point.
    pub running_length_m: Vec<f64>,
    /// By tile the radius of the nose or edge where its running length starts.
    pub start_radius_m: Vec<f64>,
}

/// A surveyed vehicle.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Body {
    /// In the order of the tiles.
    pub places: Vec<Place>,
    /// In the order of rising angle of attack; empty without tiles.
    pub attitudes: Vec<Attitude>,
    /// The same at [`SLIP_DEG`] of sideslip to the left (negative) and to the right; empty until [`Body::survey_sideslip`].
    pub slipped: [Vec<Attitude>; 2],
    pub length_m: f64,
}

/// The direction in which the stream blows, in body axes (x aft, y right, z up): from below at positive angle of attack, from the right
/// at positive sideslip.
pub fn wind(attack_deg: f64, sideslip_deg: f64) -> DVec3 {
    let (attack, slip) = (attack_deg.to_radians(), sideslip_deg.to_radians());
    let level = libm::cos(slip);
    DVec3::new(libm::cos(attack) * level, -libm::sin(slip), libm::sin(attack) * level)
}

/// Surveys a vehicle; see the head of this file. `neighbours` gives the tiles that share a joint with a tile.
///
/// Cost: linear in tiles but for the logarithm of the shortest ways. A table's own `nose_radius_m` makes the tile's sharp radius,
/// its own `running_length_m` stands at every angle.
pub fn survey<'a>(facets: &[Facet], neighbours: impl Fn(usize) -> &'a [u32]) -> Body {
    if facets.is_empty() {
        return Body::default();
    }
    let floors = flat_face_floor(facets);
    let places: Vec<Place> = (0..facets.len()).zip(&floors).map(|(tile, floor)| place(facets, &neighbours, tile, *floor)).collect();
    let steps = Steps::new(facets, &neighbours);
    let (low, high) =
        facets.iter().fold((DVec3::INFINITY, DVec3::NEG_INFINITY), |(low, high), facet| (low.min(facet.centre), high.max(facet.centre)));
    let length_m = (high - low).max_element().max(1e-3);
    let attitudes = attitudes(facets, &places, &neighbours, &steps, 0.0, length_m);
    Body { places, attitudes, slipped: Default::default(), length_m }
}

fn attitudes<'a>(
    facets: &[Facet],
    places: &[Place],
    neighbours: &impl Fn(usize) -> &'a [u32],
    steps: &Steps,
    sideslip_deg: f64,
    length_m: f64,
) -> Vec<Attitude> {
    let at = |i: usize| [LOWEST_DEG + STEP_DEG * i as f64, sideslip_deg];
    (0..ANGLES).map(|i| attitude(facets, places, neighbours, steps, at(i), length_m)).collect()
}

/// By tile the curvature, 1/m, that a flat face still has for the flow, from the body's half-width at its station.
fn flat_face_floor(facets: &[Facet]) -> Vec<f64> {
    const SLABS: usize = 48;
    let (first, last) =
        facets.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), f| (low.min(f.centre.x), high.max(f.centre.x)));
    let slab = |x: f64| ((((x - first) / (last - first).max(1e-9)) * SLABS as f64) as usize).min(SLABS - 1);
    let mut widest = [0.0_f64; SLABS];
    for facet in facets {
        if let Some(width) = widest.get_mut(slab(facet.centre.x)) {
            *width = width.max(facet.centre.y.abs()).max(facet.area_m2.sqrt());
        }
    }
    // A mean over three slabs, so that neighbours differ little; a slab in which no tile has its centre says nothing of the width.
    let mean = |i: usize| {
        let near = widest.get(i.saturating_sub(1)..(i + 2).min(SLABS)).unwrap_or(&[]);
        let (sum, count) = near.iter().filter(|width| **width > 0.0).fold((0.0, 0.0), |(sum, count), width| (sum + width, count + 1.0));
        sum / f64::max(count, 1.0)
    };
    facets.iter().map(|facet| 1.0 / (FLAT_FACE * mean(slab(facet.centre.x)).max(1e-3))).collect()
}

/// Neighbours in an order that mirroring leaves alone.
fn ordered<'a, 'f>(facets: &'f [Facet], neighbours: &impl Fn(usize) -> &'a [u32], tile: usize) -> Vec<&'f Facet> {
    let mut near: Vec<&Facet> = neighbours(tile).iter().filter_map(|other| facets.get(*other as usize)).collect();
    // Twins left and right of the middle: the one on the tile's own side first.
    let side = facets.get(tile).map_or(1.0, |facet| if facet.centre.y < 0.0 { -1.0 } else { 1.0 });
    near.order_by(|a, b| {
        let key = |f: &Facet| [f.centre.x, f.centre.z, f.centre.y.abs(), -side * f.centre.y];
        let (a, b) = (key(a), key(b));
        a.iter().zip(&b).fold(std::cmp::Ordering::Equal, |order, (a, b)| order.then(a.total_cmp(b)))
    });
    near
}

fn place<'a>(facets: &[Facet], neighbours: &impl Fn(usize) -> &'a [u32], tile: usize, floor_per_m: f64) -> Place {
    let Some(facet) = facets.get(tile) else {
        return Place { sharp_per_m: floor_per_m, flat_per_m: 0.0, edge: DVec3::X, own_share: 0.0 };
    };
    let Curvature { sharp_per_m, flat_per_m, edge, own_share } = curvature::fit(facet, &ordered(facets, neighbours, tile), floor_per_m);
    let place = Place { sharp_per_m, flat_per_m, edge, own_share };
    match facet.nose_radius_m {
        Some(radius) => replaced(&place, radius),
        None => place,
    }
}

/// The place with a given sharp radius, as round as it was.
pub(crate) fn replaced(place: &Place, nose_radius_m: f64) -> Place {
    let sharp_per_m = 1.0 / nose_radius_m;
    Place { sharp_per_m, flat_per_m: sharp_per_m * place.roundness(), edge: place.edge, own_share: 1.0 }
}

fn attitude<'a>(
    facets: &[Facet],
    places: &[Place],
    neighbours: &impl Fn(usize) -> &'a [u32],
    steps: &Steps,
    [attack_deg, sideslip_deg]: [f64; 2],
    length_m: f64,
) -> Attitude {
    let wind = wind(attack_deg, sideslip_deg);
    let facing: Vec<f64> = facets.iter().map(|facet| -facet.normal.dot(wind)).collect();
    let most = facing.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    // The foremost tile among those that face the stream about as squarely as any does; a square one counts as a little further forward.
    let mut tip = 0;
    let mut best = f64::INFINITY;
    let score = |facet: &Facet, facing: f64| {
        if facing >= most - 0.15 { facet.centre.dot(wind) + 0.5 * length_m * (most - facing) } else { f64::INFINITY }
    };
    for (tile, (facet, facing)) in facets.iter().zip(&facing).enumerate() {
        let score = score(facet, *facing);
        if score < best {
            (tip, best) = (tile, score);
        }
    }
    // Twins left and right of the middle are the tip together, so that neither side is favoured.
    let is_tip = |facet: &Facet, facing: f64| score(facet, facing) <= best + 1e-9 * length_m;
    if facets.get(tip).is_none() {
        return Attitude {
            attack_deg,
            stagnation: DVec3::ZERO,
            nose_radius_m: 1.0,
            running_length_m: Vec::new(),
            start_radius_m: Vec::new(),
        };
    }
    let nose_radius_m = nose_radius(facets, places, neighbours, &facing, tip).clamp(0.005 * length_m, 4.0 * length_m);
    // The stagnation point: where the nose sphere through the tip's tile faces the stream; the mean where that is two.
    let (sum, count) = (facets.iter().zip(&facing).filter(|(facet, facing)| is_tip(facet, **facing)))
        .fold((DVec3::ZERO, 0.0), |(sum, count), (front, _)| (sum + front.centre - (front.normal + wind) * nose_radius_m, count + 1.0));
    let stagnation = sum / f64::max(count, 1.0);
    let mut running: Vec<f64> = vec![f64::INFINITY; facets.len()];
    let mut start_radius_m: Vec<f64> = vec![nose_radius_m; facets.len()];
    for (tile, (facet, facing)) in facets.iter().zip(&facing).enumerate() {
        let Some(s) = running.get_mut(tile) else { continue };
        let angle = libm::acos(facing.clamp(-1.0, 1.0));
        let near = (facet.centre - stagnation).length() <= 1.2 * nose_radius_m * (angle + 0.02);
        let on_nose = facing >= &0.8 && near;
        let crest = facing > &0.25 && is_crest(facets, places, neighbours, tile, *facing, wind, nose_radius_m);
        if is_tip(facet, *facing) || on_nose {
            *s = nose_radius_m * angle;
        } else if crest && let Some(place) = places.get(tile) {
            *s = 1.0 / place.sharp_per_m;
            if let Some(radius) = start_radius_m.get_mut(tile) {
                *radius = *s;
            }
        }
    }
    steps.spread(&mut running, &mut start_radius_m);
    start_islands(facets, steps, &mut running, &mut start_radius_m, stagnation, wind);
    let shortest = 0.0;
    let running_length_m = running.iter().zip(facets).map(|(s, facet)| facet.running_length_m.unwrap_or(s.max(shortest))).collect();
    Attitude { attack_deg, stagnation, nose_radius_m, running_length_m, start_radius_m }
}

/// The radius at the tip: 1 / mean curvature over it and its neighbours, by area and by how squarely they face the stream.
fn nose_radius<'a>(facets: &[Facet], places: &[Place], neighbours: &impl Fn(usize) -> &'a [u32], facing: &[f64], tip: usize) -> f64 {
    let mut near: Vec<usize> = neighbours(tip).iter().map(|other| *other as usize).filter(|other| *other < facets.len()).collect();
    near.push(tip);
    near.order_by(|a, b| {
        let key = |i: &usize| facets.get(*i).map_or([0.0; 3], |f| [f.centre.x, f.centre.z, f.centre.y.abs()]);
        let (a, b) = (key(a), key(b));
        a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])).then(a[2].total_cmp(&b[2]))
    });
    let (mut sum, mut weights) = (0.0, 0.0);
    for tile in near {
        if let (Some(facet), Some(place), Some(facing)) = (facets.get(tile), places.get(tile), facing.get(tile)) {
            let square = facing.max(0.0) * facing.max(0.0);
            let weight = facet.area_m2 * square * square + 1e-12;
            // A nose sharper one way than the other: the sphere with the same stagnation heating.
            let round = place.roundness();
            sum += weight * place.sharp_per_m * (SPHERE_OVER_CYLINDER + (1.0 - SPHERE_OVER_CYLINDER) * round);
            weights += weight;
        }
    }
    weights / sum.max(1e-12)
}

/// Heating squared of a cylinder's stagnation line over that of a sphere of its radius: (0.570 / 0.763)^2, the leading coefficients of
/// Fay and Riddell, J. Aero. Sci. 25 (1958) (from memory), with the same velocity gradient.
pub const SPHERE_OVER_CYLINDER: f64 = 0.570 * 0.570 / (0.763 * 0.763);

/// Whether the tile is the crest of an edge sharper than the nose: no neighbour across the edge faces the stream more squarely.
fn is_crest<'a>(
    facets: &[Facet],
    places: &[Place],
    neighbours: &impl Fn(usize) -> &'a [u32],
    tile: usize,
    facing: f64,
    wind: DVec3,
    nose_radius_m: f64,
) -> bool {
    let (Some(facet), Some(place)) = (facets.get(tile), places.get(tile)) else { return false };
    if place.sharp_per_m * nose_radius_m < 1.0 || place.roundness() > 0.5 {
        return false;
    }
    let across = facet.normal.cross(place.edge);
    neighbours(tile).iter().filter_map(|other| facets.get(*other as usize)).all(|other| {
        let step = other.centre - facet.centre;
        step.dot(across).abs() < 0.7 * step.length() || -other.normal.dot(wind) <= facing
    })
}

/// Starts every part that no way reached, at its foremost tile.
fn start_islands(facets: &[Facet], steps: &Steps, running: &mut [f64], start_radius: &mut [f64], stagnation: DVec3, wind: DVec3) {
    // Foremost first, ties by place and not by index.
    let mut left: Vec<(f64, usize)> = running
        .iter()
        .zip(facets)
        .enumerate()
        .filter(|(_, (s, _))| !s.is_finite())
        .map(|(tile, (_, facet))| (facet.centre.dot(wind), tile))
        .collect();
    left.order_by(|a, b| a.0.total_cmp(&b.0));
    for (_, tile) in left {
        if let (Some(s), Some(facet)) = (running.get_mut(tile), facets.get(tile))
            && !s.is_finite()
        {
            // At most a quarter circle longer than straight.
            *s = (facet.centre - stagnation).length() * (1.0 + 0.25 * (FRAC_PI_2 - 1.0));
            steps.spread(running, start_radius);
        }
    }
}

impl Body {
    /// Adds the running lengths at sideslip; twice the cost of [`survey`], so only for flights that slip. Facets and neighbours are those of the survey.
    pub fn survey_sideslip<'a>(&mut self, facets: &[Facet], neighbours: impl Fn(usize) -> &'a [u32]) {
        if self.slipped[0].is_empty() && !facets.is_empty() {
            let steps = Steps::new(facets, &neighbours);
            self.slipped = [-SLIP_DEG, SLIP_DEG].map(|slip| attitudes(facets, &self.places, &neighbours, &steps, slip, self.length_m));
        }
    }

    /// Weights of the surveys at sideslip to the left, at none, to the right: a parabola.
    pub(super) fn slip_weights(sideslip_deg: f64) -> [f64; 3] {
        let t = (sideslip_deg / SLIP_DEG).clamp(-1.0, 1.0);
        [0.5 * t * (t - 1.0), 1.0 - t * t, 0.5 * t * (t + 1.0)]
    }

    /// The first of four surveyed angles around an angle of attack and their weights (Catmull and Rom), held outside.
    pub(super) fn weights(attack_deg: f64) -> (usize, [f64; 4]) {
        let position = ((attack_deg - LOWEST_DEG) / STEP_DEG).clamp(0.0, (ANGLES - 1) as f64);
        let cell = (position as usize).min(ANGLES - 2);
        let t = position - cell as f64;
        let (t2, t3) = (t * t, t * t * t);
        let w = [0.5 * (2.0 * t2 - t - t3), 0.5 * (2.0 - 5.0 * t2 + 3.0 * t3), 0.5 * (t + 4.0 * t2 - 3.0 * t3), 0.5 * (t3 - t2)];
        // At either end the missing angle takes the end's value.
        if cell == 0 {
            (0, [w[0] + w[1], w[2], w[3], 0.0])
        } else if cell == ANGLES - 2 {
            (ANGLES - 4, [0.0, w[0], w[1], w[2] + w[3]])
        } else {
            (cell - 1, w)
        }
    }

    /// The nose radius at an angle of attack, m.
    pub fn nose_radius_m(&self, attack_deg: f64) -> f64 {
        let (first, weights) = Body::weights(attack_deg);
        let near = self.attitudes.get(first..first + 4).unwrap_or(&[]);
        let (mut sum, mut least) = (0.0, f64::INFINITY);
        for (attitude, weight) in near.iter().zip(weights) {
            sum += weight * attitude.nose_radius_m;
            least = least.min(attitude.nose_radius_m);
        }
        if near.is_empty() { 1.0 } else { sum.max(0.5 * least) }
    }

    /// The running length of a tile at an angle of attack, m.
    pub fn running_length_m(&self, tile: usize, attack_deg: f64) -> Option<f64> {
        let (first, weights) = Body::weights(attack_deg);
        let mut sum = 0.0;
        for (attitude, weight) in self.attitudes.get(first..first + 4)?.iter().zip(weights) {
            let run = attitude.running_length_m.get(tile)?;
            sum += weight * run * run;
        }
        Some(sum.max(0.0).sqrt().max(1e-4 * self.length_m))
    }
}
