//! A tile's way through time: first on a coarse grid with a step of its own choice, then on a grid of twice the cells with every
//! step halved. The two together give the answer (extrapolated, both errors falling by four) and its stated error (their difference
//! over three, which is the fine resolution's own error).
//!
//! A tile whose stated error is above [`AIM_K`] is solved again from a finer start; whether it is depends on its own numbers alone.

use super::face::{Exposed, Moment};
use super::lanes::{D, LANES, Lanes, MIDDLE, W};
use super::pace::{missed_k, steps_end};
use super::plan::Plan;
use super::problem::{End, History, TilePeak, TileProblem, TileResult};
use super::rough::Path;
use super::steady::Steady;
use super::table::{MaterialTable, WallTable};
use super::track::{Track, combine, cubic};
use crate::document::Sorting as _;
use crate::tile::face::STEFAN_BOLTZMANN;
use crate::tile::transient::Step;
use std::cmp::Ordering;

/// The stated error that a tile must reach, or its best after the last attempt.
pub const AIM_K: f64 = 1.0;
/// Cells of the coarse grid, tolerance of a coarse step in K, by attempt.
pub(super) const ATTEMPTS: [(usize, f64); 4] = [(8, 2.0), (14, 0.6), (24, 0.15), (48, 0.03)];
/// How often a step that would miss a feature of the heating is shortened before it is tried.
const SHORTENINGS: usize = 12;
pub(super) const CHUNK: usize = 256;
const FIRST_STEP_S: f64 = 0.02;
/// A step is at most this long or this share of the time gone by, so that a limit of any length takes few steps.
const LONGEST_STEP_S: f64 = 600.0;
const LONGEST_SHARE: f64 = 0.1;
const MOST_STEPS: usize = 20_000;

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

pub(super) enum Pace<'a> {
    /// Chooses its steps to a tolerance in K.
    Own(f64),
    /// Takes the steps that a run alike took, as long as there are any, then its own to a tolerance in K.
    Alike(&'a [&'a [f64]; LANES], f64),
    /// Takes each of these steps in two halves.
    Halved(&'a [Track; LANES]),
}

pub(super) fn march(
    problems: [&TileProblem; LANES],
    plans: [&Plan; LANES],
    is_fine: bool,
    pace: Pace,
    wall: &WallTable,
    times_s: &[f64],
    mut history: Option<&mut History>,
) -> [Track; LANES] {
    let meshes = plans.map(|plan| if is_fine { &plan.fine } else { &plan.coarse });
    let tables = problems.map(|problem| problem.layers.iter().map(|layer| layer.table).collect::<Vec<&MaterialTable>>());
    let start = [0, 1, 2, 3].map(|lane| plans[lane].start(problems[lane], meshes[lane]));
    let marks = plans[0].marks(meshes[0]);
    let mut lanes = Lanes::new(meshes, tables, start, wall);
    let n = lanes.nodes;
    let first_heat = lanes.heat.clone();
    let mut exposed = [0, 1, 2, 3].map(|lane| Exposed::new(problems[lane], &plans[lane].fluence));
    let mut time_s = [0.0; LANES];
    let mut moment_now: [Moment; LANES] = [0, 1, 2, 3].map(|lane| exposed[lane].at(0.0));
    let mut flow_now = ([0.0; LANES], [0.0; LANES]);
    let follows = |lane: usize| matches!(&pace, Pace::Alike(paths, _) if !paths[lane].is_empty());
    let mut next_h = [0, 1, 2, 3].map(|lane| if follows(lane) { f64::INFINITY } else { FIRST_STEP_S });
    // A coarse run that could not take its first step leaves nothing to follow.
    let mut active = match &pace {
        Pace::Own(_) | Pace::Alike(..) => [true; LANES],
        Pace::Halved(paths) => [0, 1, 2, 3].map(|lane| !paths[lane].ends_s.is_empty()),
    };
    let mut slopes = [[0.0; 3]; LANES];
    let mut corner = [0; LANES];
    let mut place = [0; LANES];
    let steady = [0, 1, 2, 3].map(|lane| Steady::of(problems[lane]));
    let mut tracks: [Track; LANES] = [0, 1, 2, 3].map(|lane| {
        let at = |mark: usize| TilePeak { temperature_k: lanes.t[mark].as_array_ref()[lane], time_s: 0.0 };
        let peaks = marks.map(at);
        let start_k = peaks.map(|peak| peak.temperature_k);
        Track { peaks, course: vec![start_k.map(|start_k| (start_k, 0.0))], beside_k: start_k, ..Track::default() }
    });
    let keep = |history: &mut Option<&mut History>, time_s: f64, lanes: &Lanes| {
        if let Some(history) = history {
            history.times_s.push(time_s);
            history.profiles_k.push(lanes.t.iter().map(|t| t.as_array_ref()[0]).collect());
        }
    };
    keep(&mut history, 0.0, &lanes);

    for round in 0..MOST_STEPS {
        // Each lane's own step, the time it ends at, and what it meets in its middle and at its end.
        let (mut h, mut to_s, mut missed) = ([1.0; LANES], [1.0; LANES], [0.0; LANES]);
        let mut moments = [moment_now; 2];
        for lane in 0..LANES {
            if !active[lane] {
                continue;
            }
            let at = time_s[lane];
            if let Pace::Alike(paths, _) = &pace
                && let Some(end_s) = paths[lane].get(place[lane])
            {
                // A step that did not settle is taken in parts.
                to_s[lane] = if next_h[lane] < end_s - at { at + next_h[lane] } else { *end_s };
                h[lane] = to_s[lane] - at;
                moments[0][lane] = exposed[lane].at(at + MIDDLE * h[lane]);
                moments[1][lane] = exposed[lane].at(to_s[lane]);
                continue;
            }
            match &pace {
                Pace::Own(tolerance_k) | Pace::Alike(_, tolerance_k) => {
                    let surface_k = lanes.t[0].as_array_ref()[lane];
                    let stiffness =
                        4.0 * problems[lane].emissivity_at(surface_k).0 * STEFAN_BOLTZMANN * surface_k * surface_k * surface_k + 5.0;
                    let corners = &plans[lane].corners_s;
                    while corners.get(corner[lane]).is_some_and(|corner_s| *corner_s <= at) {
                        corner[lane] += 1;
                    }
                    // A step that would miss a feature of the heating is shortened before it is solved.
                    for _ in 0..SHORTENINGS {
                        to_s[lane] = steps_end(at, next_h[lane], &exposed[lane], corners.get(corner[lane]), problems[lane].landing.limit_s);
                        h[lane] = to_s[lane] - at;
                        moments[0][lane] = exposed[lane].at(at + MIDDLE * h[lane]);
                        moments[1][lane] = exposed[lane].at(to_s[lane]);
                        missed[lane] =
                            missed_k(stiffness, h[lane], [&moment_now[lane], &moments[0][lane], &moments[1][lane]]) / tolerance_k;
                        if missed[lane] <= 1.0 || h[lane] < 1e-3 {
                            break;
                        }
                        next_h[lane] = h[lane] * (0.9 / libm::cbrt(missed[lane])).clamp(0.2, 0.8);
                    }
                }
                Pace::Halved(paths) => {
                    let path = &paths[lane].ends_s;
                    let place = round / 2;
                    let from = if place == 0 { 0.0 } else { path[place - 1] };
                    to_s[lane] = if round % 2 == 0 { 0.5 * (from + path[place]) } else { path[place] };
                    h[lane] = to_s[lane] - at;
                    moments[0][lane] = exposed[lane].at(at + MIDDLE * h[lane]);
                    moments[1][lane] = exposed[lane].at(to_s[lane]);
                }
            }
        }
        let stepped = lanes.step(&exposed, &moments, h, active);
        let mut taken = active;
        if let Pace::Own(tolerance_k) | Pace::Alike(_, tolerance_k) = pace {
            let follows = |lane: usize| !active[lane] || matches!(&pace, Pace::Alike(paths, _) if place[lane] < paths[lane].len());
            let following = [0, 1, 2, 3].map(follows);
            let errors = if following == [true; LANES] { [0.0; LANES] } else { lanes.error(h) };
            for lane in 0..LANES {
                if !active[lane] {
                    continue;
                }
                if following[lane] {
                    taken[lane] = stepped.settled[lane];
                    next_h[lane] = if taken[lane] { f64::INFINITY } else { 0.25 * h[lane] };
                    if let Pace::Alike(paths, _) = &pace
                        && taken[lane]
                    {
                        place[lane] += usize::from(to_s[lane] >= paths[lane][place[lane]]);
                        if place[lane] == paths[lane].len() {
                            next_h[lane] = h[lane];
                        }
                    }
                    if !taken[lane] && h[lane] < 1e-6 {
                        active[lane] = false;
                        tracks[lane].end = End::Failed;
                    }
                    continue;
                }
                let error = (errors[lane] / tolerance_k).max(missed[lane]);
                if !stepped.settled[lane] || !error.is_finite() {
                    taken[lane] = false;
                    next_h[lane] = 0.25 * h[lane];
                } else {
                    let ratio = 0.9 / libm::cbrt(error.max(1e-6));
                    taken[lane] = error <= 1.0;
                    let grown = h[lane] * if taken[lane] { ratio.clamp(0.3, 4.0) } else { ratio.clamp(0.1, 0.8) };
                    next_h[lane] = grown.min(LONGEST_STEP_S.max(LONGEST_SHARE * to_s[lane]));
                }
                if !taken[lane] && h[lane] < 1e-6 {
                    active[lane] = false;
                    tracks[lane].end = End::Failed;
                }
            }
        }
        // Slopes at the marks and the heat through the faces, before the state moves on.
        for lane in 0..LANES {
            if !taken[lane] || !active[lane] {
                continue;
            }
            let track = &mut tracks[lane];
            let (weight, last) = (h[lane] * W, h[lane] * D);
            let through = |now: f64, middle: f64, end: f64| weight * (now + middle) + last * end;
            track.net_in += through(flow_now.0[lane], stepped.middle_flow.0[lane], lanes.front[lane]);
            track.back_in += through(flow_now.1[lane], stepped.middle_flow.1[lane], lanes.back[lane]);
            flow_now.0[lane] = lanes.front[lane];
            flow_now.1[lane] = lanes.back[lane];
            let mut course = [(0.0, 0.0); 3];
            for (i, mark) in marks.iter().enumerate() {
                let one = |values: &[wide::f64x4]| values[*mark].as_array_ref()[lane];
                let (from, to) = (one(&lanes.t), one(&lanes.new_t));
                let slope = one(&lanes.new_rate) / one(&lanes.new_capacity);
                let peak = &mut track.peaks[i];
                if to > peak.temperature_k || (slopes[lane][i] > 0.0 && slope < 0.0) {
                    let step = Step {
                        from_s: time_s[lane],
                        to_s: to_s[lane],
                        from_k: &[from],
                        to_k: &[to],
                        from_slope: &[slopes[lane][i]],
                        to_slope: &[slope],
                    };
                    let (temperature_k, at_s) = step.peak(0);
                    if temperature_k > peak.temperature_k {
                        *peak = TilePeak { temperature_k, time_s: at_s };
                    }
                }
                let (ends_s, ends) = ([time_s[lane], to_s[lane]], [(from, slopes[lane][i]), (to, slope)]);
                if i > 0 {
                    let trace_k = &mut track.trace_k[i - 1];
                    while let Some(at_s) = times_s.get(trace_k.len()).filter(|at_s| **at_s <= to_s[lane]) {
                        trace_k.push(cubic(ends_s, ends, *at_s));
                    }
                }
                match &pace {
                    Pace::Own(_) => course[i] = ends[1],
                    Pace::Alike(..) => {}
                    Pace::Halved(paths) => {
                        let at_s = paths[lane].peaks[i].time_s;
                        if time_s[lane] < at_s && at_s <= to_s[lane] {
                            track.beside_k[i] = cubic(ends_s, ends, at_s);
                        }
                    }
                }
                slopes[lane][i] = slope;
            }
            if let Pace::Own(_) = pace {
                track.course.push(course);
            }
            track.steps += 1;
            time_s[lane] = to_s[lane];
            moment_now[lane] = moments[1][lane];
        }
        lanes.accept(taken);
        if taken[0] && active[0] {
            keep(&mut history, time_s[0], &lanes);
        }
        for lane in 0..LANES {
            if !taken[lane] || !active[lane] {
                continue;
            }
            let track = &mut tracks[lane];
            let one = |mark: usize| lanes.t[mark].as_array_ref()[lane];
            let touchdown_s = exposed[lane].touchdown_s;
            if time_s[lane] <= touchdown_s {
                track.touchdown_k = one(marks[2]);
            }
            let mut ended = None;
            match &pace {
                Pace::Own(_) | Pace::Alike(..) => {
                    track.ends_s.push(time_s[lane]);
                    if time_s[lane] >= touchdown_s {
                        let hottest = (0..n).map(one).fold(0.0, f64::max);
                        ended = steady[lane].end(one(marks[2]), hottest, track.peaks[2].temperature_k);
                        if ended.is_none() && time_s[lane] >= touchdown_s + problems[lane].landing.limit_s {
                            ended = Some(End::Limit);
                        }
                    }
                }
                Pace::Halved(paths) => {
                    let path = &paths[lane];
                    if round + 1 >= 2 * path.ends_s.len() {
                        ended = Some(End::Peaked);
                    }
                    if !stepped.settled[lane] {
                        ended = Some(End::Failed);
                    }
                }
            }
            if let Some(end) = ended {
                active[lane] = false;
                track.end = end;
                track.end_s = time_s[lane];
                for (trace_k, mark) in track.trace_k.iter_mut().zip(&marks[1..]) {
                    trace_k.resize(times_s.len(), one(*mark));
                }
                track.stored = (0..n).map(|i| lanes.heat[i].as_array_ref()[lane] - first_heat[i].as_array_ref()[lane]).sum();
            }
        }
        if active == [false; LANES] {
            return tracks;
        }
    }
    for lane in 0..LANES {
        if active[lane] {
            tracks[lane].end = End::Failed;
        }
    }
    tracks
}
