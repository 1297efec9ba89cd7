//! A case solved on finer and finer grids until two of them agree; their difference is the stated error.

use super::case::Case;
use crate::document::Error;
use crate::tile::face::WallEnthalpy;
use crate::tile::history::{History, Peak};
use crate::tile::mesh::Mesh;
use crate::tile::properties::Layer;
use crate::tile::transient::{self, Energy, Exposure};

/// Two grids that agree within this end the refinement.
const AIM_K: f64 = 0.01;
const CELLS: usize = 24;
const FINEST_LEVEL: usize = 16;
/// No grid beyond the second grows past this many nodes.
const MOST_NODES: usize = 2500;
/// Steps end exactly on output times up to this many; beyond it they are interpolated.
const MOST_LANDINGS: usize = 2000;

/// One layer's peaks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LayerPeaks {
    pub peak_k: f64,
    pub front: Peak,
    pub back: Peak,
}

/// What came out of a case.
#[derive(Debug, Clone, PartialEq)]
pub struct Solution {
    /// By probe, at the asked times.
    pub values_k: Vec<Vec<f64>>,
    pub probe_peaks: Vec<Peak>,
    /// `None` for joints.
    pub layer_peaks: Vec<Option<LayerPeaks>>,
    pub energy: Energy,
    pub numerical_error_k: f64,
}

impl Solution {
    /// The largest difference of two solutions over values and peaks.
    fn apart_k(&self, other: &Solution) -> f64 {
        let mut most: f64 = 0.0;
        let mut meet = |a: f64, b: f64| most = most.max((a - b).abs());
        for (mine, theirs) in self.values_k.iter().zip(&other.values_k) {
            mine.iter().zip(theirs).for_each(|(a, b)| meet(*a, *b));
        }
        self.probe_peaks.iter().zip(&other.probe_peaks).for_each(|(a, b)| meet(a.temperature_k, b.temperature_k));
        for (mine, theirs) in self.layer_peaks.iter().flatten().zip(other.layer_peaks.iter().flatten()) {
            meet(mine.peak_k, theirs.peak_k);
            meet(mine.front.temperature_k, theirs.front.temperature_k);
            meet(mine.back.temperature_k, theirs.back.temperature_k);
        }
        most
    }
}

/// Solves at `level` times the base grid with a step tolerance to match; `numerical_error_k` is left 0.
pub fn solve_at(case: &Case, wall: &dyn WallEnthalpy, times_s: &[f64], level: usize) -> Result<Solution, Error> {
    solve_on(case, wall, times_s, level, &grid(case, level))
}

fn grid(case: &Case, level: usize) -> Mesh {
    let depths: Vec<f64> = case.probes.iter().map(|probe| probe.depth_m).collect();
    Mesh::through(&case.layers, &depths, CELLS, level, case.initial_k, case.pressure_pa.value_at(0.0))
}

fn solve_on(case: &Case, wall: &dyn WallEnthalpy, times_s: &[f64], level: usize, mesh: &Mesh) -> Result<Solution, Error> {
    let landings: &[f64] = if times_s.len() <= MOST_LANDINGS { times_s } else { &[] };
    let exposure = Exposure {
        layers: &case.layers,
        front: &case.front,
        back: &case.back,
        initial_k: &|_| case.initial_k,
        pressure_pa: &case.pressure_pa,
        wall,
        duration_s: case.duration_s,
        stops_s: landings,
    };
    let nodes: Vec<usize> = case.probes.iter().map(|probe| mesh.node_at(probe.depth_m)).collect();
    let mut history = History::new(nodes.clone(), times_s.to_vec(), mesh.nodes.len(), case.initial_k);
    let tolerance_k = 4e-3 / (level * level) as f64;
    let energy = transient::run(&exposure, mesh, tolerance_k, &mut |step| history.watch(step))?;
    let layer_peaks = case.layers.iter().zip(&mesh.faces).map(|(layer, (front, back))| {
        matches!(layer, Layer::Solid(_)).then(|| LayerPeaks {
            peak_k: history.peaks[*front..=*back].iter().fold(0.0, |most: f64, peak| most.max(peak.temperature_k)),
            front: history.peaks[*front],
            back: history.peaks[*back],
        })
    });
    Ok(Solution {
        layer_peaks: layer_peaks.collect(),
        probe_peaks: nodes.iter().map(|node| history.peaks[*node]).collect(),
        values_k: history.values_k,
        energy,
        numerical_error_k: 0.0,
    })
}

/// Solves `case` at `times_s` (rising, within the run). Returns the finest solution; its stated error is its difference from the
/// grid of half as many cells (and a step tolerance four times as large) over all values and peaks, which bounds the error of a
/// method that gains with refinement.
pub fn solve(case: &Case, wall: &dyn WallEnthalpy, times_s: &[f64]) -> Result<Solution, Error> {
    let mut coarse = solve_at(case, wall, times_s, 1)?;
    let mut level = 2;
    loop {
        let mesh = grid(case, level);
        let mut fine = solve_on(case, wall, times_s, level, &mesh)?;
        fine.numerical_error_k = fine.apart_k(&coarse);
        if fine.numerical_error_k <= AIM_K || level >= FINEST_LEVEL || mesh.nodes.len() * 2 > MOST_NODES {
            return Ok(fine);
        }
        coarse = fine;
        level *= 2;
    }
}
