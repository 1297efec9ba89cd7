//! Turbulent wedges: which tiles lie behind a site that trips the boundary layer, and how far inside the wedge.
//!
//! For each surveyed angle of attack the streamline through the site is traced in steps of about half a tile, along the wind projected
//! on the surface (Newtonian), until it leaves the windward side. A tile's place in the wedge is then a number q: with l the distance of its near
//! edge from the streamline, b = half the site's width + s tan(half-angle) the wedge's nominal half-width after a run s, and e the larger of b / 4 and
//! a quarter of the tile's side,
//!
//! ```text
//! q = (b + e - l) / (2 e),  share of the wedge = q^2 (3 - 2 q) with q held within 0 and 1
//! ```
//!
//! so that a tile counts by its hottest part and the edges are smooth: 1 well inside, 1/2 at the nominal edge, 0 beyond it. Along the
//! stream a tile fades in over half its side as its centre passes the site. The site's own tile is inside. Between surveyed angles q is read by the survey's
//! own weights. The half-angle and its source stand in `thresholds`.
//!
//! A wedge is a property of its site and the body: it knows no other site, and the largest share counts where wedges cross, so that neither order nor
//! company changes a tile.

use super::Facet;
use super::place::{ANGLES, Body, LOWEST_DEG, STEP_DEG, wind};
use crate::document::Sorting as _;
use glam::DVec3;

/// Where a site lies and how wide it is across the stream.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spot {
    /// Index of the tile.
    pub tile: u32,
    pub at: DVec3,
    pub half_width_m: f64,
}

/// One tile's place in a wedge: q at each surveyed angle, within -1 and 2.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Inside {
    pub tile: u32,
    pub q: [f64; ANGLES],
}

/// The tiles that a site's wedge reaches at some angle of attack, in rising order.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Wedge {
    pub inside: Vec<Inside>,
}

/// q is held within these before it is read between angles.
const LEAST: f64 = -1.0;
const MOST: f64 = 2.0;
/// Faces that look away from the stream by more than this end a streamline: the flow has left them.
const LEE: f64 = 0.1;
/// Tiles whose normal differs by more than about 75 degrees from the streamline's surface there belong to another face.
const SAME_FACE: f64 = 0.25;

/// A traced streamline: points, unit directions and normals, and the run to each.
struct Line {
    points: Vec<(DVec3, DVec3, DVec3, f64)>,
}

/// The wedge behind a site; see the head of this file. `neighbours` gives the tiles that share a joint with a tile. Cost: tiles times steps
/// of the streamline, at twelve angles.
pub fn wedge<'a>(facets: &[Facet], neighbours: impl Fn(usize) -> &'a [u32], body: &Body, spot: &Spot, half_angle_deg: f64) -> Wedge {
    let slope = libm::tan(half_angle_deg.to_radians());
    let mut places: Vec<[f64; ANGLES]> = vec![[LEAST; ANGLES]; facets.len()];
    for angle in 0..ANGLES {
        let stream = wind(LOWEST_DEG + STEP_DEG * angle as f64, 0.0);
        let line = trace(facets, &neighbours, body.length_m, spot, stream);
        for (facet, place) in facets.iter().zip(places.iter_mut()) {
            if let Some(q) = place.get_mut(angle) {
                *q = place_of(facet, &line, spot, slope, stream);
            }
        }
    }
    if let Some(own) = places.get_mut(spot.tile as usize) {
        *own = [MOST; ANGLES];
    }
    let inside = places.into_iter().enumerate().filter(|(_, q)| q.iter().any(|q| *q > 0.0));
    Wedge { inside: inside.map(|(tile, q)| Inside { tile: tile as u32, q }).collect() }
}

fn along(stream: DVec3, normal: DVec3) -> DVec3 {
    (stream - normal * stream.dot(normal)).normalize_or_zero()
}

/// The surface near a point: its normal and height above the point, from the tiles around one, weighted smoothly by nearness, so that neither a tile's
/// edge nor the order of tiles shows. `None` where no tile is near.
fn surface_at<'a>(facets: &[Facet], neighbours: &impl Fn(usize) -> &'a [u32], around: usize, at: DVec3) -> Option<(DVec3, f64)> {
    let size = facets.get(around)?.area_m2.sqrt();
    let reach = 1.4 * size;
    let (mut normal, mut height, mut weights) = (DVec3::ZERO, 0.0, 0.0);
    let mut near: Vec<u32> = vec![around as u32];
    for next in neighbours(around) {
        near.push(*next);
        near.extend_from_slice(neighbours(*next as usize));
    }
    near.order();
    near.dedup();
    for facet in near.iter().filter_map(|tile| facets.get(*tile as usize)) {
        let offset = at - facet.centre;
        let left = (1.0 - offset.length_squared() / (reach * reach)).max(0.0);
        let weight = left * left;
        normal += facet.normal * weight;
        height -= offset.dot(facet.normal) * weight;
        weights += weight;
    }
    if weights > 1e-9 { Some((normal.normalize_or_zero(), height / weights)) } else { None }
}

fn trace<'a>(facets: &[Facet], neighbours: &impl Fn(usize) -> &'a [u32], length_m: f64, spot: &Spot, stream: DVec3) -> Line {
    let mut points = Vec::new();
    let (mut tile, mut at, mut run) = (spot.tile as usize, spot.at, 0.0);
    // A streamline around a body is a few lengths at most; the count guards against tiles of no size.
    while run < 3.0 * length_m && points.len() < 4096 {
        let (Some(facet), Some((normal, height))) = (facets.get(tile), surface_at(facets, neighbours, tile, at)) else { break };
        at += normal * height;
        let direction = along(stream, normal);
        points.push((at, direction, normal, run));
        if direction == DVec3::ZERO || normal.dot(stream) > LEE {
            break;
        }
        let step = 0.5 * facet.area_m2.sqrt().max(1e-4 * length_m);
        at += direction * step;
        run += step;
        // The nearest tile around the one left.
        let distance = |i: usize| facets.get(i).map_or(f64::INFINITY, |f| (f.centre - at).length_squared());
        let (mut best, mut least) = (tile, distance(tile));
        for next in neighbours(tile) {
            for candidate in neighbours(*next as usize).iter().chain(std::iter::once(next)) {
                let here = distance(*candidate as usize);
                if here < least {
                    (best, least) = (*candidate as usize, here);
                }
            }
        }
        tile = best;
    }
    Line { points }
}

fn place_of(facet: &Facet, line: &Line, spot: &Spot, slope: f64, stream: DVec3) -> f64 {
    if facet.normal.dot(stream) > LEE {
        return LEAST;
    }
    let nearest = line.points.iter().fold((f64::INFINITY, None), |(least, found), point| {
        let distance = (facet.centre - point.0).length_squared();
        if distance < least && facet.normal.dot(point.2) > SAME_FACE { (distance, Some(point)) } else { (least, found) }
    });
    let Some((at, direction, _, run)) = nearest.1 else { return LEAST };
    let half_side = 0.5 * facet.area_m2.sqrt();
    // Along the line from the nearest point, and across it.
    let offset = facet.centre - *at;
    let ahead = offset.dot(*direction);
    let across = (offset - *direction * ahead).length();
    let so_far = run + ahead;
    let half_width = spot.half_width_m + slope * so_far.max(0.0);
    let soft = (0.25 * half_width).max(0.5 * half_side);
    let beside = (half_width + soft - (across - half_side)) / (2.0 * soft);
    let behind = (so_far + half_side) / half_side.max(1e-9);
    // Past the last point the line has left the surface; the tile under its end still counts.
    let last = line.points.last().map_or(0.0, |point| point.3);
    let before_end = if so_far > last + 2.0 * half_side { LEAST } else { MOST };
    beside.min(behind).min(before_end).clamp(LEAST, MOST)
}

/// The share of a wedge at which a tile stands, 0 to 1, from its q.
pub fn share(q: f64) -> f64 {
    let q = q.clamp(0.0, 1.0);
    q * q * (3.0 - 2.0 * q)
}
