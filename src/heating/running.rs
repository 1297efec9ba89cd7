//! Running length along the surface from where the flow attaches.
//!
//! Shortest ways over the tiles from a set of starts (Dijkstra), each step an arc. Steps lead to the neighbours and their neighbours, and one
//! ring further where those are fewer than 20: 16 and more directions, so that a way over a square grid is at most 2.8 % too long (secant of half
//! the widest angle between directions) and on average about 1 % (`verif_running_length_on_a_hemisphere_cylinder`); heating goes with its square root.

use super::Facet;
use super::curvature::arc_m;
use crate::document::Sorting as _;
use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// Tiles around one that give directions enough.
const ENOUGH: usize = 20;

/// Steps from tile to tile: for tile i `to[start[i]..start[i + 1]]` with their lengths.
#[derive(Debug, Clone, Default)]
pub(super) struct Steps {
    start: Vec<usize>,
    to: Vec<u32>,
    length_m: Vec<f64>,
}

impl Steps {
    pub fn new<'a>(facets: &[Facet], neighbours: &impl Fn(usize) -> &'a [u32]) -> Steps {
        let mut steps = Steps { start: vec![0], ..Steps::default() };
        let mut near: Vec<u32> = Vec::new();
        for (tile, facet) in facets.iter().enumerate() {
            near.clear();
            near.push(tile as u32);
            for ring in 0..3 {
                if ring == 2 && near.len() > ENOUGH {
                    break;
                }
                for at in 0..near.len() {
                    if let Some(next) = near.get(at).map(|next| *next as usize).filter(|next| *next < facets.len()) {
                        near.extend_from_slice(neighbours(next));
                    }
                }
                near.order();
                near.dedup();
            }
            for &other in &near {
                if other as usize == tile {
                    continue;
                }
                // Not around a fold: the arc between faces that look away from each other says nothing.
                if let Some(target) = facets.get(other as usize)
                    && facet.normal.dot(target.normal) > -0.5
                {
                    steps.to.push(other);
                    steps.length_m.push(arc_m(facet, target));
                }
            }
            steps.start.push(steps.to.len());
        }
        steps
    }

    /// The steps from a tile.
    fn from(&self, tile: usize) -> impl Iterator<Item = (u32, f64)> + '_ {
        let range = match (self.start.get(tile), self.start.get(tile + 1)) {
            (Some(from), Some(to)) => *from..*to,
            _ => 0..0,
        };
        let lengths = self.length_m.get(range.clone()).unwrap_or(&[]);
        self.to.get(range).unwrap_or(&[]).iter().copied().zip(lengths.iter().copied())
    }

    /// Lowers `reached` (m, infinite where nothing is known) to what the steps allow; the radius of the start goes along.
    pub fn spread(&self, reached: &mut [f64], start_radius: &mut [f64]) {
        // Lengths are not negative, so their bits order as they do.
        let mut heap: BinaryHeap<Reverse<(u64, u32)>> =
            reached.iter().enumerate().filter(|(_, s)| s.is_finite()).map(|(tile, s)| Reverse((s.to_bits(), tile as u32))).collect();
        while let Some(Reverse((bits, tile))) = heap.pop() {
            let so_far = f64::from_bits(bits);
            if reached.get(tile as usize).is_none_or(|best| so_far > *best) {
                continue;
            }
            let radius = start_radius.get(tile as usize).copied().unwrap_or(0.0);
            for (other, length) in self.from(tile as usize) {
                if let Some(best) = reached.get_mut(other as usize)
                    && so_far + length < *best
                {
                    *best = so_far + length;
                    if let Some(own) = start_radius.get_mut(other as usize) {
                        *own = radius;
                    }
                    heap.push(Reverse(((so_far + length).to_bits(), other)));
                }
            }
        }
    }
}
