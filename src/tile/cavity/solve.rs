//! One cavity over one exposure: the peaks that count, solved on two grids whose difference is the stated error.

use super::grid::Grid;
use super::march::{Run, run};
use super::{CavityLayer, open_share};
use crate::document::{Curve, Error};
use crate::tile::face::{Face, WallEnthalpy};
use crate::tile::history::{History, Peak};

/// One cavity in one tile.
pub struct CavityProblem<'a> {
    /// The tile first, whole; then what lies under it.
    pub layers: &'a [CavityLayer],
    /// Index of the layer whose peak counts as the structure's.
    pub structure: usize,
    /// Radius of the cylinder of the tile's area, m.
    pub tile_radius_m: f64,
    /// 0 to the tile's radius; the latter is a tile thinned as a whole.
    pub radius_m: f64,
    /// 0 (a patch on the face) to below the tile's thickness.
    pub depth_m: f64,
    pub outer: &'a Face,
    /// What the floor and the wall meet, factors included.
    pub floor: &'a Face,
    pub wall: &'a Face,
    /// Floor and wall emit only as much as leaves the opening ([`open_share`]); without it both see the sky freely, as a flat face does, and
    /// the one-dimensional answer with the larger of the factors bounds this one.
    pub shaded: bool,
    pub back: &'a Face,
    pub pressure_pa: &'a Curve,
    pub air: &'a dyn WallEnthalpy,
    /// Start: linear through the tile from `surface_k`, what lies under it at `structure_k`.
    pub surface_k: f64,
    pub structure_k: f64,
    pub duration_s: f64,
    /// From this time on the run may end: once nothing is hotter than the structure's peak.
    pub heated_until_s: f64,
}

/// What came out.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// The tile's face at its rim, and the middle of the cavity's floor.
    pub face: Peak,
    pub floor: Peak,
    /// The hottest place of the glue line, and of the structure's layer, wherever it lies along the radius.
    pub bondline: Peak,
    pub structure: Peak,
    /// Largest difference of the four peaks between the two grids; a method that gains with refinement is nearer than that.
    pub numerical_error_k: f64,
    /// Heat in less stored less out, over the largest of them.
    pub imbalance_fraction: f64,
    /// Nodes of the finer grid.
    pub nodes: usize,
}

/// A face whose emission leaves only in part.
fn shaded(face: &Face, share: f64) -> Face {
    let mut face = face.clone();
    match &mut face {
        Face::Heating { emissivity, .. } | Face::Flux { emissivity, .. } | Face::Radiation { emissivity, .. } => *emissivity *= share,
        _ => {}
    }
    face
}

/// The hottest of a row of nodes.
fn hottest(history: &History, from: usize, count: usize) -> Peak {
    let peaks = history.peaks.iter().skip(from).take(count).copied();
    peaks.reduce(|a, b| if b.temperature_k > a.temperature_k { b } else { a }).unwrap_or(Peak::start(0.0))
}

pub(super) fn on_grid(problem: &CavityProblem, halves: usize) -> Result<Answer, Error> {
    let grid = Grid::new(problem.layers, problem.radius_m, problem.depth_m, problem.tile_radius_m, halves);
    let columns = grid.columns();
    let wide = problem.radius_m >= problem.tile_radius_m * (1.0 - 1e-9);
    let shaded_cavity = problem.shaded && !wide && problem.depth_m > 0.0;
    let (floor_share, wall_share) = if shaded_cavity { open_share(problem.radius_m, problem.depth_m) } else { (1.0, 1.0) };
    let (floor, wall) = (shaded(problem.floor, floor_share), shaded(problem.wall, wall_share));
    let thickness_m = problem.layers.first().map_or(1.0, |layer| layer.solid.thickness_m);
    let start = |depth_m: f64| {
        let share = (depth_m / thickness_m).min(1.0);
        problem.surface_k + share * (problem.structure_k - problem.surface_k)
    };
    let start_k: Vec<f64> = grid.depths_m.iter().flat_map(|depth| std::iter::repeat_n(start(*depth), columns)).collect();
    let top = if wide { grid.floor } else { 0 };
    let under = |layer: usize| grid.under.get(layer).copied().unwrap_or(0);
    let [face, floor_row, bondline] = [top, grid.floor, under(0)];
    // Each layer is hottest at its outer face while heat comes in from there.
    let structure = if problem.structure > 0 { under(problem.structure - 1) } else { under(0) };
    let nodes = [face * columns + columns - 1, floor_row * columns];
    let mut history = History::new(nodes.to_vec(), Vec::new(), start_k.len(), 0.0);
    for (node, peak) in history.peaks.iter_mut().enumerate() {
        *peak = Peak::start(start_k[node]);
    }
    let inside: Vec<bool> = grid.shares.iter().map(|shares| shares.iter().any(Option::is_some)).collect();
    let run_of = Run {
        layers: problem.layers,
        outer: problem.outer,
        floor: &floor,
        wall: &wall,
        back: problem.back,
        pressure_pa: problem.pressure_pa,
        air: problem.air,
        duration_s: problem.duration_s,
        stops_s: &[problem.heated_until_s],
    };
    let tolerance_k = 0.8 / (halves * halves) as f64;
    let imbalance_fraction = run(&run_of, &grid, &start_k, tolerance_k, &mut |step| {
        history.watch(step);
        let skin = hottest(&history, structure * columns, columns).temperature_k;
        // Nothing is hotter than the structure has been: it can only fall.
        step.to_s < problem.heated_until_s || step.to_k.iter().zip(&inside).any(|(t, inside)| *inside && *t > skin)
    })?;
    let [face, floor] = [history.peaks[nodes[0]], history.peaks[nodes[1]]];
    let [bondline, structure] = [bondline, structure].map(|row| hottest(&history, row * columns, columns));
    let count = inside.iter().filter(|inside| **inside).count();
    Ok(Answer { face, floor, bondline, structure, numerical_error_k: 0.0, imbalance_fraction, nodes: count })
}

fn refined(problem: &CavityProblem, halves: usize) -> Result<Answer, Error> {
    let coarse = on_grid(problem, halves / 2)?;
    let mut fine = on_grid(problem, halves)?;
    let peaks = |answer: &Answer| [answer.face, answer.floor, answer.bondline, answer.structure].map(|peak| peak.temperature_k);
    let apart = peaks(&coarse).into_iter().zip(peaks(&fine)).map(|(a, b)| (a - b).abs());
    fine.numerical_error_k = apart.fold(0.0, f64::max);
    Ok(fine)
}

/// Solves on a grid and on one twice as fine; the finer one's answer with their difference as its error.
///
/// # Errors
/// A failed computation where a step cannot be solved.
pub fn solve(problem: &CavityProblem) -> Result<Answer, Error> {
    refined(problem, 4)
}

/// The same on grids half as fine: an eighth of the work, for many cavities at once.
///
/// # Errors
/// A failed computation where a step cannot be solved.
pub fn plain(problem: &CavityProblem) -> Result<Answer, Error> {
    refined(problem, 2)
}

/// The finer grid of [`plain`] alone, for searches: the error is not known.
///
/// # Errors
/// A failed computation where a step cannot be solved.
pub fn quick(problem: &CavityProblem) -> Result<Answer, Error> {
    on_grid(problem, 2)
}
