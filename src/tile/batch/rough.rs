//! The coarse resolution alone: a fifth of the work, for what lies beside a tile that is solved.
//!
//! A run that takes the steps of a run alike has nearly the error of that one, so that their difference is good where neither by itself is
//! (`verif_a_variation_moves_as_both_resolutions_say`).

use super::march::{ATTEMPTS, CHUNK, Pending, Solved, groups};
use super::problem::{End, TileProblem, TileResult};
use super::run::{Pace, march};
use super::table::WallTable;
use super::track::Track;
use crate::tile::transient::imbalance_fraction;

/// A coarse run: its peaks and the steps that it took.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Path {
    /// Of face, bondline and structure.
    pub peaks_k: [f64; 3],
    pub end: End,
    pub(super) ends_s: Vec<f64>,
}

impl Path {
    pub(super) fn of(coarse: &mut Track) -> Path {
        Path { peaks_k: coarse.peaks.map(|peak| peak.temperature_k), end: coarse.end, ends_s: std::mem::take(&mut coarse.ends_s) }
    }
}

/// Every tile on the coarse resolution, by the steps of a run alike as long as its path has any, then by its own; its error is not known and
/// stands as infinite. A tile without a path goes by its own steps from the start.
pub fn solve_rough(problems: &[TileProblem], paths: &[&Path], wall: &WallTable, times_s: &[f64]) -> Vec<Solved> {
    let (cells, tolerance_k) = ATTEMPTS[0];
    let mut out: Vec<Solved> = vec![Solved::failed(times_s.len()); problems.len()];
    let whole: Vec<usize> = (0..problems.len()).collect();
    for chunk in whole.chunks(CHUNK) {
        let ends_s = |index: usize| paths.get(index).map_or(&[][..], |path| path.ends_s.as_slice());
        let steps = |index: usize| paths.get(index).map(|path| path.ends_s.len());
        let mut pending: Vec<Pending> = chunk.iter().map(|index| Pending::new(&problems[*index], *index, cells, steps(*index))).collect();
        for (members, group) in groups(&mut pending) {
            let (posed, plans) = (members.map(|m| &problems[m.index]), members.map(|m| &m.plan));
            let tracks = march(posed, plans, false, Pace::Alike(&members.map(|m| ends_s(m.index)), tolerance_k), wall, times_s, None);
            for ((member, track), problem) in group.iter().zip(tracks).zip(posed) {
                out[member.index] = solved(track, problem, times_s.len());
            }
        }
    }
    out
}

fn solved(mut track: Track, problem: &TileProblem, times: usize) -> Solved {
    track.trace_k.iter_mut().for_each(|trace_k| trace_k.resize(times, f64::NAN));
    let [surface, bondline, structure] = track.peaks;
    let result = TileResult {
        surface,
        bondline,
        structure,
        structure_at_touchdown_k: track.touchdown_k,
        touchdown_s: problem.times_s.last().copied().unwrap_or(0.0) + problem.landing.descent_s,
        end_s: track.end_s,
        end: track.end,
        numerical_error_k: f64::INFINITY,
        imbalance_fraction: imbalance_fraction(track.net_in, track.stored, -track.back_in),
        net_in_j_m2: track.net_in,
        steps: track.steps,
    };
    Solved { result, trace_k: std::mem::take(&mut track.trace_k), path: Path::of(&mut track) }
}
