//! A tile's way through time: first on a coarse grid with a step of its own choice, then on a grid of twice the cells with every
//! step halved. The two together give the answer (extrapolated, both errors falling by four) and its stated error (their difference
//! over three, which is the fine resolution's own error).
//!
//! A tile whose stated error is above [`AIM_K`] is solved again from a finer start; whether it is depends on its own numbers alone.

use super::lanes::LANES;
use super::plan::Plan;
use super::problem::{End, History, TileProblem, TileResult};
use super::rough::Path;
use super::run::{Pace, march};
use super::table::WallTable;
#[cfg(test)]
use super::track::Track;
use super::track::combine;
use crate::document::Sorting as _;
use std::cmp::Ordering;

/// The stated error that a tile must reach, or its best after the last attempt.
pub const AIM_K: f64 = 1.0;
/// Cells of the coarse grid, tolerance of a coarse step in K, by attempt.
pub(super) const ATTEMPTS: [(usize, f64); 4] = [(8, 2.0), (14, 0.6), (24, 0.15), (48, 0.03)];
pub(super) const CHUNK: usize = 256;

/// A tile solved.
#[derive(Debug, Clone, Default)]
pub struct Solved {
    pub result: TileResult,
    /// Glue line and structure at the asked times, held from the end of the tile's run on.
    pub trace_k: [Vec<f64>; 2],
    /// The first coarse run, which runs alike can go by.
    pub path: Path,
}

impl Solved {
    /// Without an answer, at so many times.
    pub fn failed(times: usize) -> Solved {
        let result = TileResult { end: End::Failed, numerical_error_k: f64::INFINITY, ..TileResult::default() };
        let path = Path { end: End::Failed, ..Path::default() };
        Solved { result, trace_k: [vec![f64::NAN; times], vec![f64::NAN; times]], path }
    }
}

/// Solves every tile; the result of each depends on its own problem alone, not on order or company.
pub fn solve(problems: &[TileProblem], wall: &WallTable) -> Vec<TileResult> {
    solve_traced(problems, wall, &[]).into_iter().map(|solved| solved.result).collect()
}

/// As [`solve`], each result with glue line and structure at `times_s` (rising, none below 0).
pub fn solve_traced(problems: &[TileProblem], wall: &WallTable, times_s: &[f64]) -> Vec<Solved> {
    // A few at a time: the grids of all tiles of a large shield would not fit a processor's memory.
    problems.chunks(CHUNK).flat_map(|chunk| solve_chunk(chunk, wall, times_s)).collect()
}

fn solve_chunk(problems: &[TileProblem], wall: &WallTable, times_s: &[f64]) -> Vec<Solved> {
    let mut results: Vec<Solved> = vec![Solved::failed(times_s.len()); problems.len()];
    let mut open: Vec<usize> = (0..problems.len()).collect();
    for (attempt, (cells, tolerance_k)) in ATTEMPTS.into_iter().enumerate() {
        let mut pending: Vec<Pending> = open.iter().map(|index| Pending::new(&problems[*index], *index, cells, None)).collect();
        for (members, group) in groups(&mut pending) {
            let solved = run_group(members.map(|m| &problems[m.index]), members.map(|m| &m.plan), tolerance_k, wall, times_s, None);
            for (member, solved) in group.iter().zip(solved) {
                let known = &mut results[member.index];
                let path = if attempt == 0 { solved.path.clone() } else { known.path.clone() };
                if solved.result.numerical_error_k < known.result.numerical_error_k || known.result.end == End::Failed {
                    *known = solved;
                }
                known.path = path;
            }
        }
        // What is not known to be good, a NaN included, is tried again.
        open.retain(|index| results[*index].result.numerical_error_k.partial_cmp(&AIM_K).is_none_or(Ordering::is_gt));
        open.order();
    }
    results
}

/// A tile that waits for its lane.
pub(super) struct Pending {
    shape: Vec<u32>,
    /// Tiles alike in it take about as many steps.
    measure: f64,
    pub index: usize,
    pub plan: Plan,
}

impl Pending {
    pub fn new(problem: &TileProblem, index: usize, cells: usize, steps: Option<usize>) -> Pending {
        let plan = Plan::new(problem, cells);
        Pending { shape: plan.shape(), measure: steps.map_or(plan.hardest, |steps| steps as f64), index, plan }
    }
}

/// Four lanes and the tiles that they hold. Lanes of one group share a grid's shape; within it tiles that need about as many steps stand
/// together. A group that is not full repeats its last tile, and the copies are thrown away.
pub(super) fn groups(pending: &mut [Pending]) -> Vec<([&Pending; LANES], &[Pending])> {
    pending.order_by(|a, b| a.shape.cmp(&b.shape).then(a.measure.total_cmp(&b.measure)).then(a.index.cmp(&b.index)));
    let mut out = Vec::new();
    for alike in pending.chunk_by(|a, b| a.shape == b.shape) {
        for group in alike.chunks(LANES) {
            out.push(([0, 1, 2, 3].map(|lane| &group[lane.min(group.len() - 1)]), group));
        }
    }
    out
}

/// One tile with its whole history; the result is the same as [`solve`] gives.
pub fn solve_with_history(problem: &TileProblem, wall: &WallTable) -> (TileResult, History) {
    let mut best = (TileResult { end: End::Failed, numerical_error_k: f64::INFINITY, ..TileResult::default() }, History::default());
    for (cells, tolerance_k) in ATTEMPTS {
        let plan = Plan::new(problem, cells);
        let mut history = History {
            depths_m: plan.fine.nodes.iter().map(|node| node.depth_m).collect(),
            bondline_node: plan.marks(&plan.fine)[1],
            structure_node: plan.marks(&plan.fine)[2],
            ..History::default()
        };
        let [Solved { result: solved, .. }, ..] = run_group([problem; LANES], [&plan; LANES], tolerance_k, wall, &[], Some(&mut history));
        if solved.numerical_error_k < best.0.numerical_error_k || best.0.end == End::Failed {
            best = (solved, history);
        }
        if best.0.numerical_error_k <= AIM_K {
            break;
        }
    }
    best
}

/// Bondline, structure and structure at touchdown on a coarse resolution, one twice and one four times as fine.
#[cfg(test)]
pub(super) fn three_resolutions(problem: &TileProblem, cells: usize, tolerance_k: f64, wall: &WallTable) -> [[f64; 3]; 3] {
    let (plan, finer) = (Plan::new(problem, cells), Plan::at_levels(problem, cells, [2, 4]));
    let coarse = march([problem; LANES], [&plan; LANES], false, Pace::Own(tolerance_k), wall, &[], None);
    let fine = march([problem; LANES], [&plan; LANES], true, Pace::Halved(&coarse), wall, &[], None);
    let mut ends_s = Vec::new();
    let mut from = 0.0;
    for to in &coarse[0].ends_s {
        ends_s.extend([0.5 * (from + to), *to]);
        from = *to;
    }
    let paths = [0, 1, 2, 3].map(|_| Track { ends_s: ends_s.clone(), ..Track::default() });
    let finest = march([problem; LANES], [&finer; LANES], true, Pace::Halved(&paths), wall, &[], None);
    [&coarse[0], &fine[0], &finest[0]].map(|track| [track.peaks[1].temperature_k, track.peaks[2].temperature_k, track.touchdown_k])
}

fn run_group(
    problems: [&TileProblem; LANES],
    plans: [&Plan; LANES],
    tolerance_k: f64,
    wall: &WallTable,
    times_s: &[f64],
    history: Option<&mut History>,
) -> [Solved; LANES] {
    let mut coarse = march(problems, plans, false, Pace::Own(tolerance_k), wall, &[], None);
    let mut fine = march(problems, plans, true, Pace::Halved(&coarse), wall, times_s, history);
    // A run that broke off has no course to its end.
    fine.iter_mut().flat_map(|track| &mut track.trace_k).for_each(|trace_k| trace_k.resize(times_s.len(), f64::NAN));
    [0, 1, 2, 3].map(|lane| Solved {
        result: combine(&coarse[lane], &fine[lane], problems[lane]),
        trace_k: std::mem::take(&mut fine[lane].trace_k),
        path: Path::of(&mut coarse[lane]),
    })
}
