//! What a run gathers on its way, and what two runs of different resolution say together: the answer and its stated error.

use super::problem::{End, TilePeak, TileProblem, TileResult};
use crate::tile::transient::{Step, imbalance_fraction};

/// What the difference of the two resolutions does not see, K: corners that the gridded tables cut, thin layers that keep one cell in
/// both, samples between a step's looks, and two errors that cancel by chance. See `honesty` for how well it covers.
const UNSEEN_K: f64 = 0.15;

/// What one lane gathers on its way.
#[derive(Clone, Default)]
pub(super) struct Track {
    pub peaks: [TilePeak; 3],
    pub touchdown_k: f64,
    pub net_in: f64,
    pub back_in: f64,
    pub stored: f64,
    pub end_s: f64,
    pub end: End,
    /// Ends of the coarse steps.
    pub ends_s: Vec<f64>,
    /// Of a coarse run: temperature and slope (K/s) of each mark at the start and at every step's end.
    pub course: Vec<[(f64, f64); 3]>,
    /// Of a fine run: each mark when the coarse run had its peak.
    pub beside_k: [f64; 3],
    /// Glue line and structure at the asked times.
    pub trace_k: [Vec<f64>; 2],
    pub steps: u32,
}

impl Track {
    /// The coarse step that holds a time.
    fn step_at(&self, time_s: f64) -> usize {
        self.ends_s.partition_point(|end_s| *end_s < time_s)
    }

    /// Takes the peak of a mark on a step, between its ends too.
    #[inline]
    pub fn meet(&mut self, mark: usize, [from_s, to_s]: [f64; 2], [from, to]: [(f64, f64); 2]) {
        let peak = &mut self.peaks[mark];
        if to.0 > peak.temperature_k || (from.1 > 0.0 && to.1 < 0.0) {
            let step = Step { from_s, to_s, from_k: &[from.0], to_k: &[to.0], from_slope: &[from.1], to_slope: &[to.1] };
            let (temperature_k, time_s) = step.peak(0);
            if temperature_k > peak.temperature_k {
                *peak = TilePeak { temperature_k, time_s };
            }
        }
    }

    /// Glue line or structure at the asked times that lie on a step.
    #[inline]
    pub fn trace(&mut self, layer: usize, ends_s: [f64; 2], ends: [(f64, f64); 2], times_s: &[f64]) {
        let trace_k = &mut self.trace_k[layer];
        while let Some(at_s) = times_s.get(trace_k.len()).filter(|at_s| **at_s <= ends_s[1]) {
            trace_k.push(cubic(ends_s, ends, *at_s));
        }
    }

    /// A mark of a coarse run at a time, from the cubic of its step; not a number after the end.
    fn at(&self, mark: usize, time_s: f64) -> f64 {
        let step = self.step_at(time_s);
        let (Some(from), Some(to), Some(to_s)) = (self.course.get(step), self.course.get(step + 1), self.ends_s.get(step)) else {
            return f64::NAN;
        };
        let from_s = if step == 0 { 0.0 } else { self.ends_s[step - 1] };
        cubic([from_s, *to_s], [from[mark], to[mark]], time_s)
    }
}

/// The cubic through values and slopes (K, K/s) at both ends of a step.
pub(super) fn cubic([from_s, to_s]: [f64; 2], [from, to]: [(f64, f64); 2], at_s: f64) -> f64 {
    let h = to_s - from_s;
    let share = ((at_s - from_s) / h).clamp(0.0, 1.0);
    let (rise, a, b) = (to.0 - from.0, h * from.1, h * to.1);
    let bend = 3.0 * rise - 2.0 * a - b + (a + b - 2.0 * rise) * share;
    from.0 + share * (a + share * bend)
}

pub(super) fn combine(coarse: &Track, fine: &Track, problem: &TileProblem) -> TileResult {
    let mut error_k: f64 = 0.0;
    let mut extrapolate = |coarse: f64, fine: f64| {
        let third = (fine - coarse) / 3.0;
        error_k = if third.is_finite() { error_k.max(third.abs()) } else { f64::INFINITY };
        fine + third
    };
    // Of two tops nearly alike each resolution may choose another: what they say is compared at one time, for the top of each.
    let mut peak = |i: usize| {
        let (rough, good) = (coarse.peaks[i], fine.peaks[i]);
        let here_k = extrapolate(coarse.at(i, good.time_s), good.temperature_k);
        let there_k = extrapolate(rough.temperature_k, fine.beside_k[i]);
        let apart = coarse.step_at(rough.time_s).abs_diff(coarse.step_at(good.time_s)) > 1;
        if apart && there_k > here_k {
            TilePeak { temperature_k: there_k, time_s: rough.time_s }
        } else {
            TilePeak { temperature_k: here_k, time_s: good.time_s }
        }
    };
    let [surface, bondline, mut structure] = [peak(0), peak(1), peak(2)];
    let structure_at_touchdown_k = extrapolate(coarse.touchdown_k, fine.touchdown_k);
    // Each is extrapolated by itself, and a structure that peaks as it touches down could come out cooler at its peak by a part of the error.
    structure.temperature_k = structure.temperature_k.max(structure_at_touchdown_k);
    let failed = coarse.end == End::Failed || fine.end == End::Failed;
    TileResult {
        surface,
        bondline,
        structure,
        structure_at_touchdown_k,
        touchdown_s: problem.times_s.last().copied().unwrap_or(0.0) + problem.landing.descent_s,
        end_s: fine.end_s,
        end: if failed { End::Failed } else { coarse.end },
        numerical_error_k: if failed { f64::INFINITY } else { error_k + UNSEEN_K },
        imbalance_fraction: imbalance_fraction(fine.net_in, fine.stored, -fine.back_in),
        net_in_j_m2: fine.net_in,
        steps: fine.steps,
    }
}
