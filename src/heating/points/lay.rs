//! Body points laid on tiles: whose side a point is on, which points feed a tile by how much, and how far they cover it.

use super::BodyPoint;
use crate::document::Sorting as _;
use crate::heating::{Facet, curvature};
use glam::DVec3;

/// Points that a plane is put through.
const NEAREST: usize = 12;
/// Least cosine between the normals of a tile and a point that feeds it.
const SAME_SIDE: f64 = 0.5;

/// A point with the normal of its side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Site {
    pub position: DVec3,
    pub normal: DVec3,
}

/// What feeds a tile: points with their coefficients, and the cover.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Fed {
    from: Vec<(usize, f64)>,
    cover: f64,
}

impl Fed {
    /// Cover, and cover times the interpolated factor.
    pub fn value(&self, factors: &[f64]) -> [f64; 2] {
        if self.cover <= 0.0 {
            return [0.0, 0.0];
        }
        let (mut sum, mut low, mut high) = (0.0, f64::INFINITY, f64::NEG_INFINITY);
        for (point, coefficient) in &self.from {
            let factor = factors.get(*point).copied().unwrap_or(0.0);
            sum += coefficient * factor;
            (low, high) = (low.min(factor), high.max(factor));
        }
        [self.cover, self.cover * sum.clamp(low, high)]
    }
}

/// Things in order of x, so that what is near one is found by looking left and right of it.
struct Sorted {
    x: Vec<(f64, usize)>,
}

impl Sorted {
    fn new(x: impl Iterator<Item = f64>) -> Sorted {
        let mut x: Vec<(f64, usize)> = x.enumerate().map(|(i, x)| (x, i)).collect();
        x.order_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        Sorted { x }
    }

    /// Calls `see` outward from `x` in both directions with an index, until the way in x alone is longer than what `see` last returned.
    fn outward(&self, x: f64, mut see: impl FnMut(usize) -> f64) {
        let start = self.x.partition_point(|(value, _)| *value < x);
        let (mut left, mut right) = (start, start);
        let mut reach = f64::INFINITY;
        loop {
            let low = left.checked_sub(1).and_then(|i| self.x.get(i)).filter(|(value, _)| x - value <= reach);
            let high = self.x.get(right).filter(|(value, _)| value - x <= reach);
            match (low, high) {
                (None, None) => return,
                (Some((value, i)), other) if other.is_none_or(|(next, _)| x - value <= next - x) => {
                    left -= 1;
                    reach = see(*i);
                }
                (_, Some((_, i))) => {
                    right += 1;
                    reach = see(*i);
                }
                (Some(_), None) => return,
            }
        }
    }
}

/// The normal of each point's side.
pub(super) fn sides(facets: &[Facet], rows: &[BodyPoint]) -> Vec<DVec3> {
    const ACROSS: f64 = 5.0;
    let sorted = Sorted::new(facets.iter().map(|facet| facet.centre.x));
    let mut last: Option<(DVec3, DVec3)> = None;
    (rows.iter())
        .map(|row| {
            if let Some((_, normal)) = last.filter(|(position, _)| *position == row.position) {
                return normal;
            }
            let (mut best, mut normal) = (f64::INFINITY, DVec3::Z);
            sorted.outward(row.position.x, |tile| {
                if let Some(facet) = facets.get(tile) {
                    let way = row.position - facet.centre;
                    let off = way.dot(facet.normal);
                    let distance = (way.length_squared() + (ACROSS * ACROSS - 1.0) * off * off).sqrt();
                    if distance < best {
                        (best, normal) = (distance, facet.normal);
                    }
                }
                best
            });
            last = Some((row.position, normal));
            normal
        })
        .collect()
}

/// The points of one state.
pub(super) struct Field<'a> {
    sites: &'a [Site],
    sorted: Sorted,
}

impl<'a> Field<'a> {
    pub fn new(sites: &'a [Site]) -> Field<'a> {
        Field { sites, sorted: Sorted::new(sites.iter().map(|site| site.position.x)) }
    }

    /// The nearest points of a place's side by distance along the surface, nearest first, at most `most`.
    fn nearest(&self, position: DVec3, normal: DVec3, most: usize) -> Vec<(f64, usize)> {
        let mut near: Vec<(f64, usize)> = Vec::with_capacity(most + 1);
        self.sorted.outward(position.x, |i| {
            if let Some(site) = self.sites.get(i).filter(|site| site.normal.dot(normal) >= SAME_SIDE) {
                let half_chord = 0.5 * (site.normal - normal).length();
                let stretch = if half_chord < 1e-4 { 1.0 } else { libm::asin(half_chord.min(1.0)) / half_chord };
                let distance = (site.position - position).length() * stretch;
                let at = near.partition_point(|(other, j)| (*other, *j) < (distance, i));
                if at < most {
                    near.insert(at, (distance, i));
                    near.truncate(most);
                }
            }
            if near.len() < most { f64::INFINITY } else { near.last().map_or(f64::INFINITY, |(distance, _)| *distance) }
        });
        near
    }

    pub fn feed(&self, facets: &[Facet]) -> Vec<Fed> {
        let spacing: Vec<f64> = (self.sites.iter())
            .map(|site| self.nearest(site.position, site.normal, 5).last().map_or(0.0, |(distance, _)| *distance))
            .collect();
        facets.iter().map(|facet| self.fed(facet, &spacing)).collect()
    }

    fn fed(&self, facet: &Facet, spacing: &[f64]) -> Fed {
        let near = self.nearest(facet.centre, facet.normal, NEAREST);
        let Some((closest, first)) = near.first().copied() else { return Fed::default() };
        let spacing = spacing.get(first).copied().unwrap_or(0.0).max(1e-9);
        // Along the surface: in the tile's plane, stretched to the distance.
        let (along, across) = curvature::frame(facet.normal);
        let ways: Vec<[f64; 2]> = (near.iter())
            .map(|(distance, i)| {
                let way = self.sites.get(*i).map_or(DVec3::ZERO, |site| site.position - facet.centre);
                let (u, v) = (way.dot(along), way.dot(across));
                let length = (u * u + v * v).sqrt();
                let stretch = if length > 1e-12 { distance / length } else { 0.0 };
                [u * stretch, v * stretch]
            })
            .collect();
        let reach = closest / spacing;
        let cover = if surrounded(&ways) { smooth((4.0 - reach) / 2.0) } else { smooth(1.5 - reach) };
        if cover <= 0.0 {
            return Fed::default();
        }
        if closest <= 1e-7 * spacing {
            return Fed { from: vec![(first, 1.0)], cover };
        }
        let coefficients = plane(&ways, closest);
        Fed { from: near.iter().map(|(_, i)| *i).zip(coefficients).collect(), cover }
    }
}

fn smooth(t: f64) -> f64 {
    let t = t.clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

/// Whether no gap of half a turn stands between the directions.
fn surrounded(ways: &[[f64; 2]]) -> bool {
    let mut angles: Vec<f64> = ways.iter().map(|[u, v]| libm::atan2(*v, *u)).collect();
    angles.order_by(f64::total_cmp);
    let (Some(first), Some(last)) = (angles.first(), angles.last()) else { return false };
    let around = first + std::f64::consts::TAU - last;
    angles.windows(2).map(|pair| pair[1] - pair[0]).fold(around, f64::max) < std::f64::consts::PI - 1e-6
}

/// Coefficients of a plane's value at the origin, by least squares with weights 1 / distance^4; a weighted mean where the points lie on a line.
///
/// About the weighted mean, so that a tile next to a point keeps its slope: there the other points' weights are small, but it is they that make the slope.
fn plane(ways: &[[f64; 2]], closest: f64) -> Vec<f64> {
    let scaled: Vec<(f64, [f64; 2])> = (ways.iter())
        .map(|[u, v]| {
            let (u, v) = (u / closest, v / closest);
            let square = (u * u + v * v).max(1e-12);
            (1.0 / (square * square), [u, v])
        })
        .collect();
    let all: f64 = scaled.iter().map(|(weight, _)| weight).sum();
    let mean = [0, 1].map(|axis| scaled.iter().map(|(weight, at)| weight * at[axis]).sum::<f64>() / all);
    let [mut uu, mut uv, mut vv] = [0.0; 3];
    for (weight, [u, v]) in &scaled {
        let (u, v) = (u - mean[0], v - mean[1]);
        (uu, uv, vv) = (uu + weight * u * u, uv + weight * u * v, vv + weight * v * v);
    }
    let determinant = uu * vv - uv * uv;
    let slope = if determinant > 1e-6 * (uu + vv) * (uu + vv) {
        [(vv * mean[0] - uv * mean[1]) / determinant, (uu * mean[1] - uv * mean[0]) / determinant]
    } else {
        [0.0, 0.0]
    };
    (scaled.iter()).map(|(weight, [u, v])| weight * (1.0 / all - slope[0] * (u - mean[0]) - slope[1] * (v - mean[1]))).collect()
}
