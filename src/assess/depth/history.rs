//! A tile's whole story over an entry.

use super::{Case, End, Setup};
use crate::tile::batch;

/// A tile's temperatures over time, from entry interface to the end of its soak-back.
#[derive(Debug, Clone, PartialEq)]
pub struct History {
    pub times_s: Vec<f64>,
    /// Depth of each node from the heated face.
    pub depths_m: Vec<f64>,
    /// By time, then by node.
    pub profiles_k: Vec<Vec<f64>>,
    pub bondline_node: usize,
    pub structure_node: usize,
    pub touchdown_s: f64,
    pub end: End,
    pub numerical_error_k: f64,
}

impl History {
    /// One node over time.
    pub fn node_k(&self, node: usize) -> Vec<f64> {
        self.profiles_k.iter().map(|profile| profile.get(node).copied().unwrap_or(f64::NAN)).collect()
    }

    pub fn face_k(&self) -> Vec<f64> {
        self.node_k(0)
    }

    pub fn bondline_k(&self) -> Vec<f64> {
        self.node_k(self.bondline_node)
    }

    pub fn structure_k(&self) -> Vec<f64> {
        self.node_k(self.structure_node)
    }

    /// The temperature at any depth over time, linear between nodes.
    pub fn at_depth_k(&self, depth_m: f64) -> Vec<f64> {
        let above = self.depths_m.partition_point(|depth| *depth <= depth_m).clamp(1, self.depths_m.len().max(2) - 1);
        let (from, to) = (self.depths_m.get(above - 1).copied().unwrap_or(0.0), self.depths_m.get(above).copied().unwrap_or(0.0));
        let share = if to > from { ((depth_m - from) / (to - from)).clamp(0.0, 1.0) } else { 0.0 };
        let mix = |(low, high): (f64, f64)| low + share * (high - low);
        self.node_k(above - 1).into_iter().zip(self.node_k(above)).map(mix).collect()
    }

    /// The profile through the thickness at any time, linear between steps, held outside.
    pub fn profile_k(&self, time_s: f64) -> Vec<f64> {
        let after = self.times_s.partition_point(|at| *at <= time_s);
        let before = after.saturating_sub(1);
        let after = after.min(self.times_s.len().saturating_sub(1));
        let (Some(low), Some(high)) = (self.profiles_k.get(before), self.profiles_k.get(after)) else { return Vec::new() };
        let (from, to) = (self.times_s.get(before).copied().unwrap_or(0.0), self.times_s.get(after).copied().unwrap_or(0.0));
        let share = if to > from { ((time_s - from) / (to - from)).clamp(0.0, 1.0) } else { 0.0 };
        low.iter().zip(high).map(|(low, high)| low + share * (high - low)).collect()
    }
}

impl Setup<'_> {
    /// A tile's whole story over an entry; `None` for a tile without a stack.
    pub fn history(&self, entry: usize, tile: usize) -> Option<History> {
        let course = self.courses.get(entry)?;
        let case = Case::nominal(tile);
        let layers = self.layers(&case);
        let exposed = self.exposures(entry, &[tile]);
        let problem = self.problem(course, &case, &layers, &exposed.first()?.1, None)?;
        let (result, story) = batch::solve_with_history(&problem, &self.tables.wall);
        Some(History {
            times_s: story.times_s.iter().map(|time_s| time_s + course.start_s).collect(),
            depths_m: story.depths_m,
            profiles_k: story.profiles_k,
            bondline_node: story.bondline_node,
            structure_node: story.structure_node,
            touchdown_s: result.touchdown_s + course.start_s,
            end: result.end,
            numerical_error_k: result.numerical_error_k,
        })
    }
}
