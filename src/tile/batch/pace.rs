//! Where a step may end: at the entry's end, touchdown and limit, and so that it neither smooths a corner of the heating nor misses a feature.

use super::face::{Exposed, Moment};
use super::lanes::{D, W};
use super::problem::TileProblem;
use crate::tile::face::STEFAN_BOLTZMANN;

/// A bend of the heating that moves the radiative balance by more than this between three samples is a corner, K.
const CORNER_K: f64 = 4.0;
/// A top of the heating above this share of the highest is one that the surface may peak at, a dip one that it may peak beside.
const HIGH: f64 = 0.8;

/// What a step's three looks at the heating miss of its samples, as a change of the surface's radiative balance, K.
pub(super) fn missed_k(stiffness_w_m2k: f64, h: f64, [now, middle, end]: [&Moment; 3]) -> f64 {
    if end.fluence_j_m2 == now.fluence_j_m2 {
        return 0.0;
    }
    let mean = (end.fluence_j_m2 - now.fluence_j_m2) / h;
    let seen = W * (now.cold_wall_w_m2 + middle.cold_wall_w_m2) + D * end.cold_wall_w_m2;
    (mean - seen).abs() / stiffness_w_m2k
}

/// Where a step of `h` from `at_s` ends: at the next stop if it reaches it, at half the way if it nearly does.
pub(super) fn steps_end(at_s: f64, h: f64, exposed: &Exposed, corner_s: Option<&f64>, limit_s: f64) -> f64 {
    let stops = [exposed.entry_end_s, exposed.touchdown_s, exposed.touchdown_s + limit_s];
    let stop = stops.into_iter().find(|stop| *stop > at_s).unwrap_or(at_s);
    let stop = corner_s.map_or(stop, |corner_s| corner_s.min(stop));
    let left = stop - at_s;
    if h >= left {
        stop
    } else if h > 0.5 * left {
        at_s + 0.5 * left
    } else {
        at_s + h
    }
}

/// The samples at which the heating bends so sharply that a step across would smooth it away: where the bend moves the temperature in
/// radiative balance by more than [`CORNER_K`], and its high tops and dips: the surface peaks there, and a cubic across a long step
/// would miss it by kelvins in both resolutions alike. A smooth pulse has its top only, a jump one at each end.
pub(super) fn corners(problem: &TileProblem) -> Vec<f64> {
    let (times, flux) = (problem.times_s, problem.cold_wall_w_m2);
    let highest = flux.iter().fold(0.0, |most: f64, q| most.max(*q));
    let bends = |i: usize| {
        let (Some([from, at, to]), Some([t0, t, t1])) = (flux.get(i - 1..i + 2), times.get(i - 1..i + 2)) else { return false };
        let straight = from + (to - from) * (t - t0) / (t1 - t0);
        let heating = problem.heating_scale * at.max(*from).max(*to);
        if heating <= 0.0 {
            return false;
        }
        if *at > HIGH * highest && ((at > from && at >= to) || (at < from && at <= to)) {
            return true;
        }
        // T = (q / (emissivity sigma))^(1/4), so that dT = T / 4 of dq / q.
        let balance_k = libm::sqrt(libm::sqrt(heating / (0.8 * STEFAN_BOLTZMANN)));
        0.25 * balance_k * problem.heating_scale * (at - straight).abs() > CORNER_K * heating
    };
    (1..times.len().saturating_sub(1)).filter(|i| bends(*i)).map(|i| times[i]).collect()
}
