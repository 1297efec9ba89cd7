//! Nodes by radius and depth around a cylindrical cavity, on its floor, wall and rim exactly; what links them and what each face covers.
//!
//! Finite volumes around nodes: each rectangle between four nodes gives each of them its part of its mass, and links them along its sides.
//! Nodes lie closest where heat enters: at the face, the floor, the wall and the rim.

use super::CavityLayer;
use std::f64::consts::PI;

/// What a piece of surface meets.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    Outer,
    Floor,
    Wall,
    Back,
}

/// The share of a node in one layer: the node's slot there (0 above, 1 below), the layer and the mass, kg.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Share {
    pub layer: usize,
    pub mass_kg: f64,
}

/// Conduction between two nodes through one layer: area over distance, m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Link {
    pub a: usize,
    pub b: usize,
    /// Which of each node's two layers.
    pub slot_a: usize,
    pub slot_b: usize,
    pub along: bool,
    pub shape_m: f64,
}

/// A piece of surface that a node answers for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Patch {
    pub node: usize,
    pub side: Side,
    pub area_m2: f64,
}

/// The grid. Node `i * columns + j` lies at `depths_m[i]`, `radii_m[j]`.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Grid {
    pub radii_m: Vec<f64>,
    pub depths_m: Vec<f64>,
    pub shares: Vec<[Option<Share>; 2]>,
    pub links: Vec<Link>,
    pub patches: Vec<Patch>,
    /// Rows: the cavity's floor, and the inner face of each layer.
    pub floor: usize,
    pub under: Vec<usize>,
}

/// Points from `from` to `to` whose gaps grow by up to `ratio` from the first to the last gap, `count` gaps.
fn graded(from: f64, to: f64, count: usize, ratio: f64) -> Vec<f64> {
    let step = if count > 1 { libm::pow(ratio, 1.0 / (count - 1) as f64) } else { 1.0 };
    let mut gaps = Vec::with_capacity(count);
    let mut gap = 1.0;
    for _ in 0..count {
        gaps.push(gap);
        gap *= step;
    }
    let whole: f64 = gaps.iter().sum();
    let mut sum = 0.0;
    let mut points = vec![from];
    for gap in &gaps {
        sum += gap;
        points.push(from + (to - from) * (sum / whole));
    }
    // Ends exactly where it was told.
    if let Some(last) = points.last_mut() {
        *last = to;
    }
    points
}

/// From one edge to another, both fine: two graded halves.
fn between(from: f64, to: f64, count: usize, ratio: f64) -> Vec<f64> {
    let half = count.div_ceil(2).max(1);
    let middle = 0.5 * (from + to);
    let mut points = graded(from, middle, half, ratio);
    let mut rest: Vec<f64> = graded(to, middle, half, ratio);
    rest.reverse();
    points.extend_from_slice(&rest[1..]);
    points
}

impl Grid {
    pub fn columns(&self) -> usize {
        self.radii_m.len()
    }

    /// `halves` over two multiplies the cells everywhere. `radius_m` is the cavity's, 0 for none, below `outer_m` or equal to it for one as wide as
    /// the tile; `depth_m` lies within the first layer.
    pub fn new(layers: &[CavityLayer], radius_m: f64, depth_m: f64, outer_m: f64, halves: usize) -> Grid {
        let times = |cells: usize| (cells * halves).div_ceil(2).max(1);
        let mut grid = Grid::default();
        let whole_m = layers.first().map_or(0.0, |layer| layer.solid.thickness_m);
        // By depth: cells sized by how thick each part of the tile is, so that neither part is coarse.
        let upper = if depth_m > 0.0 { times((8.0 * depth_m / whole_m).ceil().clamp(2.0, 8.0) as usize) } else { 0 };
        let lower = times((12.0 * (whole_m - depth_m) / whole_m).ceil().clamp(3.0, 12.0) as usize);
        if upper > 0 {
            grid.depths_m = between(0.0, depth_m, upper, 3.0);
            grid.depths_m.pop();
        }
        grid.floor = grid.depths_m.len();
        grid.depths_m.extend(graded(depth_m, whole_m, lower, 6.0));
        grid.under.push(grid.depths_m.len() - 1);
        let mut layer_of: Vec<usize> = vec![0; grid.depths_m.len() - 1];
        let mut top = whole_m;
        for (index, layer) in layers.iter().enumerate().skip(1) {
            // Bond and skin hold one cell, a pad a few: by resistance against the tile's.
            let thick = layer.solid.wave_thickness(400.0, 1e4);
            let tile = layers[0].solid.wave_thickness(400.0, 1e4);
            let count = (12.0 * thick / tile).ceil().clamp(1.0, 4.0) as usize;
            let count = if thick > 0.05 * tile { times(count) } else { count };
            let bottom = top + layer.solid.thickness_m;
            grid.depths_m.extend(graded(top, bottom, count, 1.0).into_iter().skip(1));
            layer_of.extend(std::iter::repeat_n(index, count));
            grid.under.push(grid.depths_m.len() - 1);
            top = bottom;
        }
        // By radius.
        let wide = radius_m >= outer_m * (1.0 - 1e-9);
        grid.radii_m = if radius_m <= 0.0 || wide {
            // Nothing differs along the radius.
            vec![0.0, outer_m]
        } else {
            let inner = times(5);
            let outer = times((7.0 * ((outer_m - radius_m) / radius_m).clamp(0.4, 1.3)).ceil() as usize);
            let mut radii = graded(radius_m, 0.0, inner, 3.0);
            radii.reverse();
            radii.pop();
            radii.extend(graded(radius_m, outer_m, outer, 6.0));
            radii
        };
        let rim = if wide { 1 } else { grid.radii_m.iter().position(|r| *r >= radius_m).filter(|_| radius_m > 0.0).unwrap_or(0) };
        grid.assemble(layers, &layer_of, rim);
        grid
    }

    /// Masses, links and patches from the rectangles; those above the floor and within the rim are the cavity.
    fn assemble(&mut self, layers: &[CavityLayer], layer_of: &[usize], rim: usize) {
        let (rows, columns) = (self.depths_m.len(), self.radii_m.len());
        let node = |i: usize, j: usize| i * columns + j;
        let void = |i: usize, j: usize| i < self.floor && j < rim;
        let ring = |low: f64, high: f64| PI * (high * high - low * low);
        let mut shares: Vec<[Option<Share>; 2]> = vec![[None; 2]; rows * columns];
        // Area over distance by row of links: through (below node), along (to the next column) in the layer above and below the row.
        let mut through = vec![0.0; rows * columns];
        let mut along = vec![[0.0; 2]; rows * columns];
        let mut patches: Vec<Patch> = Vec::new();
        let mut patch =
            |node: usize, side: Side, area_m2: f64| match patches.iter_mut().find(|known| known.node == node && known.side == side) {
                Some(known) => known.area_m2 += area_m2,
                None => patches.push(Patch { node, side, area_m2 }),
            };
        for i in 0..rows - 1 {
            let layer = layer_of[i];
            let density = layers[layer].solid.density_kg_m3;
            let height = self.depths_m[i + 1] - self.depths_m[i];
            for j in 0..columns - 1 {
                let (low, high) = (self.radii_m[j], self.radii_m[j + 1]);
                let middle = 0.5 * (low + high);
                let parts = [(j, ring(low, middle)), (j + 1, ring(middle, high))];
                if void(i, j) {
                    continue;
                }
                for (column, area) in parts {
                    for (row, slot) in [(i, 1), (i + 1, 0)] {
                        let mass_kg = 0.5 * density * height * area;
                        let share = shares[node(row, column)][slot].get_or_insert(Share { layer, mass_kg: 0.0 });
                        share.mass_kg += mass_kg;
                    }
                    through[node(i, column)] += area / height;
                    if i == 0 || void(i - 1, j) {
                        patch(node(i, column), if i == 0 && !(self.floor == 0 && j < rim) { Side::Outer } else { Side::Floor }, area);
                    }
                    if i + 2 == rows {
                        patch(node(i + 1, column), Side::Back, area);
                    }
                }
                let side = 2.0 * PI * middle * 0.5 * height / (high - low);
                along[node(i, j)][1] += side;
                along[node(i + 1, j)][0] += side;
                if j > 0 && void(i, j - 1) {
                    let wall = 2.0 * PI * low * 0.5 * height;
                    patch(node(i, j), Side::Wall, wall);
                    patch(node(i + 1, j), Side::Wall, wall);
                }
            }
        }
        self.patches = patches;
        for i in 0..rows {
            for j in 0..columns {
                let a = node(i, j);
                if through[a] > 0.0 {
                    let b = node(i + 1, j);
                    self.links.push(Link { a, b, slot_a: 1, slot_b: 0, along: false, shape_m: through[a] });
                }
                for (slot, shape_m) in along[a].iter().copied().enumerate().filter(|(_, shape_m)| *shape_m > 0.0) {
                    self.links.push(Link { a, b: node(i, j + 1), slot_a: slot, slot_b: slot, along: true, shape_m });
                }
            }
        }
        self.shares = shares;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::document::Curve;
    use crate::material::Conductivity;
    use crate::tile::properties::{Conduction, Ramp, Solid};

    pub fn layer(thickness_m: f64, density_kg_m3: f64, heat: f64, conductivity: f64) -> CavityLayer {
        CavityLayer {
            solid: Solid {
                thickness_m,
                density_kg_m3,
                specific_heat: Ramp::of(&Curve::Constant(heat)),
                conduction: Conduction::of(&Conductivity::Curve(Curve::Constant(conductivity))),
                conductivity_scale: 1.0,
                specific_heat_scale: 1.0,
            },
            inplane: None,
        }
    }

    #[test]
    fn verif_mass_and_surfaces_are_those_of_the_cylinder() {
        let layers = [layer(0.03, 144.0, 900.0, 0.06), layer(0.002, 2770.0, 875.0, 177.0)];
        for (radius, depth) in [(0.0, 0.0), (0.02, 0.0), (0.02, 0.012), (0.08, 0.01), (0.05, 0.0299)] {
            for halves in [1, 2, 4] {
                let grid = Grid::new(&layers, radius, depth, 0.08, halves);
                let mass: f64 = grid.shares.iter().flatten().flatten().map(|share| share.mass_kg).sum();
                let want = PI * (144.0 * (0.0064 * 0.03 - radius * radius * depth) + 2770.0 * 0.0064 * 0.002);
                assert!((mass - want).abs() < 1e-12, "{radius} {depth}: {mass} {want}");
                let area = |side: Side| grid.patches.iter().filter(|patch| patch.side == side).map(|patch| patch.area_m2).sum::<f64>();
                let rim = PI * radius * radius;
                for (side, want) in [
                    (Side::Outer, PI * 0.0064 - rim),
                    (Side::Floor, rim),
                    (Side::Wall, if radius < 0.08 { 2.0 * PI * radius * depth } else { 0.0 }),
                    (Side::Back, PI * 0.0064),
                ] {
                    assert!((area(side) - want).abs() < 1e-12, "{side:?} {radius} {depth}: {} {want}", area(side));
                }
            }
        }
    }
}
