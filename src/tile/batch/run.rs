//! Four lanes from the start to the end of each: one run on one resolution.
//!
//! A round of the run: each lane chooses its step (`choose`), all are stepped together, each lane judges its own (`judge`), what was taken is followed
//! (`follow`) and the lanes that are through leave (`leave`). Which lane does what depends on its own numbers alone.

use super::face::{Exposed, Moment};
use super::lanes::{D, LANES, Lanes, MIDDLE, Stepped, W};
use super::pace::{missed_k, steps_end};
use super::plan::Plan;
use super::problem::{End, History, TilePeak, TileProblem};
use super::steady::Steady;
use super::table::{MaterialTable, WallTable};
use super::track::{Track, cubic};
use crate::tile::face::STEFAN_BOLTZMANN;
use wide::f64x4;

/// How often a step that would miss a feature of the heating is shortened before it is tried.
const SHORTENINGS: usize = 12;
const FIRST_STEP_S: f64 = 0.02;
/// A step that fails below this is the end of its lane, s.
const SHORTEST_STEP_S: f64 = 1e-6;
/// A step is at most this long or this share of the time gone by, so that a limit of any length takes few steps.
const LONGEST_STEP_S: f64 = 600.0;
const LONGEST_SHARE: f64 = 0.1;
const MOST_STEPS: usize = 20_000;

#[derive(Clone, Copy)]
pub(super) enum Pace<'a> {
    /// Chooses its steps to a tolerance in K.
    Own(f64),
    /// Takes the steps that a run alike took, as long as there are any, then its own to a tolerance in K.
    Alike(&'a [&'a [f64]; LANES], f64),
    /// Takes each of these steps in two halves.
    Halved(&'a [Track; LANES]),
}

/// Runs four tiles on their coarse or fine meshes. Glue line and structure are kept at `times_s`, the whole course of the first in `history`.
pub(super) fn march(
    problems: [&TileProblem; LANES],
    plans: [&Plan; LANES],
    is_fine: bool,
    pace: Pace,
    wall: &WallTable,
    times_s: &[f64],
    mut history: Option<&mut History>,
) -> [Track; LANES] {
    let mut run = Run::new(problems, plans, is_fine, pace, wall, times_s);
    run.keep(&mut history);
    for round in 0..MOST_STEPS {
        let tried = run.choose(round);
        let stepped = run.lanes.step(&run.exposed, &tried.moments, tried.h, run.active);
        let taken = run.judge(&tried, &stepped);
        run.follow(&tried, &stepped, taken);
        run.lanes.accept(taken);
        if taken[0] {
            run.keep(&mut history);
        }
        run.leave(round, &stepped, taken);
        if run.active == [false; LANES] {
            return run.tracks;
        }
    }
    for lane in 0..LANES {
        if run.active[lane] {
            run.tracks[lane].end = End::Failed;
        }
    }
    run.tracks
}

/// The steps that the lanes try.
struct Tried {
    h: [f64; LANES],
    to_s: [f64; LANES],
    /// What each would miss of the heating, over the tolerance.
    missed: [f64; LANES],
    /// What each meets in its middle and at its end.
    moments: [[Moment; LANES]; 2],
}

/// Where the four lanes are.
struct Run<'a> {
    problems: [&'a TileProblem<'a>; LANES],
    plans: [&'a Plan; LANES],
    pace: Pace<'a>,
    times_s: &'a [f64],
    lanes: Lanes<'a>,
    exposed: [Exposed<'a>; LANES],
    steady: [Steady; LANES],
    /// The nodes of face, glue line and structure.
    marks: [usize; 3],
    first_heat: Vec<f64x4>,
    active: [bool; LANES],
    time_s: [f64; LANES],
    moment_now: [Moment; LANES],
    /// Heat through front and back at present, W/m2.
    flow_now: ([f64; LANES], [f64; LANES]),
    next_h: [f64; LANES],
    /// Of the marks, K/s.
    slopes: [[f64; 3]; LANES],
    /// The next corner of the heating, and the next step of a run alike, by their places.
    corner: [usize; LANES],
    place: [usize; LANES],
    tracks: [Track; LANES],
}

impl<'a> Run<'a> {
    fn new(
        problems: [&'a TileProblem<'a>; LANES],
        plans: [&'a Plan; LANES],
        is_fine: bool,
        pace: Pace<'a>,
        wall: &'a WallTable,
        times_s: &'a [f64],
    ) -> Run<'a> {
        let meshes = plans.map(|plan| if is_fine { &plan.fine } else { &plan.coarse });
        let tables = problems.map(|problem| problem.layers.iter().map(|layer| layer.table).collect::<Vec<&MaterialTable>>());
        let start = [0, 1, 2, 3].map(|lane| plans[lane].start(problems[lane], meshes[lane]));
        let marks = plans[0].marks(meshes[0]);
        let lanes = Lanes::new(meshes, tables, start, wall);
        let mut exposed = [0, 1, 2, 3].map(|lane| Exposed::new(problems[lane], &plans[lane].fluence));
        let follows = |lane: usize| matches!(pace, Pace::Alike(paths, _) if !paths[lane].is_empty());
        let tracks = [0, 1, 2, 3].map(|lane| {
            let at = |mark: usize| TilePeak { temperature_k: lanes.t[mark].as_array_ref()[lane], time_s: 0.0 };
            let peaks = marks.map(at);
            let start_k = peaks.map(|peak| peak.temperature_k);
            Track { peaks, course: vec![start_k.map(|start_k| (start_k, 0.0))], beside_k: start_k, ..Track::default() }
        });
        Run {
            moment_now: [0, 1, 2, 3].map(|lane| exposed[lane].at(0.0)),
            // A coarse run that could not take its first step leaves nothing to follow.
            active: match pace {
                Pace::Own(_) | Pace::Alike(..) => [true; LANES],
                Pace::Halved(paths) => [0, 1, 2, 3].map(|lane| !paths[lane].ends_s.is_empty()),
            },
            next_h: [0, 1, 2, 3].map(|lane| if follows(lane) { f64::INFINITY } else { FIRST_STEP_S }),
            steady: [0, 1, 2, 3].map(|lane| Steady::of(problems[lane])),
            first_heat: lanes.heat.clone(),
            time_s: [0.0; LANES],
            flow_now: ([0.0; LANES], [0.0; LANES]),
            slopes: [[0.0; 3]; LANES],
            corner: [0; LANES],
            place: [0; LANES],
            problems,
            plans,
            pace,
            times_s,
            lanes,
            exposed,
            marks,
            tracks,
        }
    }

    /// Keeps the profile of the first lane.
    fn keep(&self, history: &mut Option<&mut History>) {
        if let Some(history) = history {
            history.times_s.push(self.time_s[0]);
            history.profiles_k.push(self.lanes.t.iter().map(|t| t.as_array_ref()[0]).collect());
        }
    }

    /// Each lane's own step, the time it ends at, and what it meets in its middle and at its end.
    fn choose(&mut self, round: usize) -> Tried {
        let mut tried = Tried { h: [1.0; LANES], to_s: [1.0; LANES], missed: [0.0; LANES], moments: [self.moment_now; 2] };
        for lane in 0..LANES {
            if !self.active[lane] {
                continue;
            }
            let at = self.time_s[lane];
            match self.pace {
                Pace::Alike(paths, _) if self.place[lane] < paths[lane].len() => {
                    // A step that did not settle is taken in parts.
                    let end_s = paths[lane][self.place[lane]];
                    let to_s = if self.next_h[lane] < end_s - at { at + self.next_h[lane] } else { end_s };
                    self.meet(&mut tried, lane, to_s);
                }
                Pace::Own(tolerance_k) | Pace::Alike(_, tolerance_k) => self.choose_own(&mut tried, lane, tolerance_k),
                Pace::Halved(paths) => {
                    let path = &paths[lane].ends_s;
                    let place = round / 2;
                    let from = if place == 0 { 0.0 } else { path[place - 1] };
                    let to_s = if round.is_multiple_of(2) { 0.5 * (from + path[place]) } else { path[place] };
                    self.meet(&mut tried, lane, to_s);
                }
            }
        }
        tried
    }

    /// What a lane meets on a step to a time.
    #[inline]
    fn meet(&mut self, tried: &mut Tried, lane: usize, to_s: f64) {
        let at = self.time_s[lane];
        tried.to_s[lane] = to_s;
        tried.h[lane] = to_s - at;
        tried.moments[0][lane] = self.exposed[lane].at(at + MIDDLE * tried.h[lane]);
        tried.moments[1][lane] = self.exposed[lane].at(to_s);
    }

    /// A step of the lane's own choice; one that would miss a feature of the heating is shortened before it is solved.
    fn choose_own(&mut self, tried: &mut Tried, lane: usize, tolerance_k: f64) {
        let at = self.time_s[lane];
        let surface_k = self.lanes.t[0].as_array_ref()[lane];
        let stiffness = 4.0 * self.problems[lane].emissivity_at(surface_k).0 * STEFAN_BOLTZMANN * surface_k * surface_k * surface_k + 5.0;
        let corners = &self.plans[lane].corners_s;
        while corners.get(self.corner[lane]).is_some_and(|corner_s| *corner_s <= at) {
            self.corner[lane] += 1;
        }
        for _ in 0..SHORTENINGS {
            let limit_s = self.problems[lane].landing.limit_s;
            let to_s = steps_end(at, self.next_h[lane], &self.exposed[lane], corners.get(self.corner[lane]), limit_s);
            self.meet(tried, lane, to_s);
            let met = [&self.moment_now[lane], &tried.moments[0][lane], &tried.moments[1][lane]];
            tried.missed[lane] = missed_k(stiffness, tried.h[lane], met) / tolerance_k;
            if tried.missed[lane] <= 1.0 || tried.h[lane] < 1e-3 {
                break;
            }
            self.next_h[lane] = tried.h[lane] * (0.9 / libm::cbrt(tried.missed[lane])).clamp(0.2, 0.8);
        }
    }

    /// Which lanes take their step, and how long each tries next; a lane that cannot even take the shortest fails.
    fn judge(&mut self, tried: &Tried, stepped: &Stepped) -> [bool; LANES] {
        let mut taken = self.active;
        let (Pace::Own(tolerance_k) | Pace::Alike(_, tolerance_k)) = self.pace else { return taken };
        let follows =
            |lane: usize| !self.active[lane] || matches!(self.pace, Pace::Alike(paths, _) if self.place[lane] < paths[lane].len());
        let following = [0, 1, 2, 3].map(follows);
        let errors = if following == [true; LANES] { [0.0; LANES] } else { self.lanes.error(tried.h) };
        for lane in 0..LANES {
            if !self.active[lane] {
                continue;
            }
            if following[lane] {
                taken[lane] = stepped.settled[lane];
                self.next_h[lane] = if taken[lane] { f64::INFINITY } else { 0.25 * tried.h[lane] };
                if let (Pace::Alike(paths, _), true) = (self.pace, taken[lane]) {
                    self.place[lane] += usize::from(tried.to_s[lane] >= paths[lane][self.place[lane]]);
                    if self.place[lane] == paths[lane].len() {
                        self.next_h[lane] = tried.h[lane];
                    }
                }
            } else {
                let error = (errors[lane] / tolerance_k).max(tried.missed[lane]);
                if !stepped.settled[lane] || !error.is_finite() {
                    taken[lane] = false;
                    self.next_h[lane] = 0.25 * tried.h[lane];
                } else {
                    let ratio = 0.9 / libm::cbrt(error.max(1e-6));
                    taken[lane] = error <= 1.0;
                    let grown = tried.h[lane] * if taken[lane] { ratio.clamp(0.3, 4.0) } else { ratio.clamp(0.1, 0.8) };
                    self.next_h[lane] = grown.min(LONGEST_STEP_S.max(LONGEST_SHARE * tried.to_s[lane]));
                }
            }
            if !taken[lane] && tried.h[lane] < SHORTEST_STEP_S {
                self.active[lane] = false;
                self.tracks[lane].end = End::Failed;
            }
        }
        // A lane that failed took no step.
        taken
    }

    /// Slopes at the marks and the heat through the faces of every step that was taken, before the state moves on.
    fn follow(&mut self, tried: &Tried, stepped: &Stepped, taken: [bool; LANES]) {
        for lane in 0..LANES {
            if !taken[lane] {
                continue;
            }
            let track = &mut self.tracks[lane];
            let (weight, last) = (tried.h[lane] * W, tried.h[lane] * D);
            let through = |now: f64, middle: f64, end: f64| weight * (now + middle) + last * end;
            track.net_in += through(self.flow_now.0[lane], stepped.middle_flow.0[lane], self.lanes.front[lane]);
            track.back_in += through(self.flow_now.1[lane], stepped.middle_flow.1[lane], self.lanes.back[lane]);
            self.flow_now.0[lane] = self.lanes.front[lane];
            self.flow_now.1[lane] = self.lanes.back[lane];
            let mut course = [(0.0, 0.0); 3];
            for (i, mark) in self.marks.into_iter().enumerate() {
                let one = |values: &[f64x4]| values[mark].as_array_ref()[lane];
                let (from, to) = (one(&self.lanes.t), one(&self.lanes.new_t));
                let slope = one(&self.lanes.new_rate) / one(&self.lanes.new_capacity);
                let (ends_s, ends) = ([self.time_s[lane], tried.to_s[lane]], [(from, self.slopes[lane][i]), (to, slope)]);
                track.meet(i, ends_s, ends);
                if i > 0 {
                    track.trace(i - 1, ends_s, ends, self.times_s);
                }
                match self.pace {
                    Pace::Own(_) => course[i] = ends[1],
                    Pace::Alike(..) => {}
                    Pace::Halved(paths) => {
                        let at_s = paths[lane].peaks[i].time_s;
                        if ends_s[0] < at_s && at_s <= ends_s[1] {
                            track.beside_k[i] = cubic(ends_s, ends, at_s);
                        }
                    }
                }
                self.slopes[lane][i] = slope;
            }
            if let Pace::Own(_) = self.pace {
                track.course.push(course);
            }
            track.steps += 1;
            self.time_s[lane] = tried.to_s[lane];
            self.moment_now[lane] = tried.moments[1][lane];
        }
    }

    /// Lets the lanes go that are through after the step that they took.
    fn leave(&mut self, round: usize, stepped: &Stepped, taken: [bool; LANES]) {
        let n = self.lanes.nodes;
        for lane in 0..LANES {
            if !taken[lane] {
                continue;
            }
            let track = &mut self.tracks[lane];
            let (now_s, landing) = (self.time_s[lane], &self.problems[lane].landing);
            let one = |mark: usize| self.lanes.t[mark].as_array_ref()[lane];
            let structure_k = one(self.marks[2]);
            let touchdown_s = self.exposed[lane].touchdown_s;
            if now_s <= touchdown_s {
                track.touchdown_k = structure_k;
            }
            let ended = match self.pace {
                Pace::Own(_) | Pace::Alike(..) => {
                    track.ends_s.push(now_s);
                    let late = now_s >= touchdown_s + landing.limit_s;
                    let landed = now_s >= touchdown_s;
                    let hottest = || (0..n).map(one).fold(0.0, f64::max);
                    let ended = if landed { self.steady[lane].end(structure_k, hottest(), track.peaks[2].temperature_k) } else { None };
                    ended.or((landed && late).then_some(End::Limit))
                }
                Pace::Halved(_) if !stepped.settled[lane] => Some(End::Failed),
                Pace::Halved(paths) => (round + 1 >= 2 * paths[lane].ends_s.len()).then_some(End::Peaked),
            };
            if let Some(end) = ended {
                self.active[lane] = false;
                track.end = end;
                track.end_s = now_s;
                for (trace_k, mark) in track.trace_k.iter_mut().zip(&self.marks[1..]) {
                    trace_k.resize(self.times_s.len(), one(*mark));
                }
                track.stored = (0..n).map(|i| self.lanes.heat[i].as_array_ref()[lane] - self.first_heat[i].as_array_ref()[lane]).sum();
            }
        }
    }
}
