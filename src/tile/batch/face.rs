//! The heat into a tile's face and out of its back, one lane at a time: few numbers, each lane at its own time.

use super::problem::TileProblem;
use super::table::WallTable;
use crate::tile::face::{Face, STEFAN_BOLTZMANN, WallEnthalpy};

/// What stands at a lane's face at one time.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Moment {
    pub cold_wall_w_m2: f64,
    /// 1 / recovery enthalpy.
    pub per_recovery: f64,
    pub log_pressure: f64,
    pub pressure_pa: f64,
    /// How far the ground's air has come in, 0 to 1.
    pub ground: f64,
    pub time_s: f64,
}

/// One lane's way through its samples; remembers where it stood.
pub(super) struct Exposed<'a> {
    pub problem: &'a TileProblem<'a>,
    place: usize,
    pub entry_end_s: f64,
    pub touchdown_s: f64,
    air_fourth: f64,
}

impl<'a> Exposed<'a> {
    pub fn new(problem: &'a TileProblem<'a>) -> Self {
        let entry_end_s = problem.times_s.last().copied().unwrap_or(0.0);
        let air = problem.landing.air_k;
        Exposed { problem, place: 0, entry_end_s, touchdown_s: entry_end_s + problem.landing.descent_s, air_fourth: air * air * air * air }
    }

    /// The cell of the samples that holds a time, and the share within it.
    fn find(&mut self, time_s: f64) -> (usize, f64) {
        let at = self.problem.times_s;
        let last = at.len() - 2;
        // Times mostly move a few samples onward: look around the last place before searching.
        if !(at[self.place] <= time_s && time_s <= at[self.place + 1]) {
            self.place = at.partition_point(|t| *t <= time_s).saturating_sub(1).min(last);
        }
        let (from, to) = (at[self.place], at[self.place + 1]);
        (self.place, ((time_s - from) / (to - from)).clamp(0.0, 1.0))
    }

    pub fn at(&mut self, time_s: f64) -> Moment {
        let problem = self.problem;
        let (i, share) = self.find(time_s);
        let value = |list: &[f64]| list[i] + share * (list[i + 1] - list[i]);
        let landing = &problem.landing;
        let ground = if time_s <= self.entry_end_s {
            0.0
        } else if time_s >= self.touchdown_s {
            1.0
        } else {
            (time_s - self.entry_end_s) / landing.descent_s
        };
        let pressure = value(problem.pressure_pa);
        let pressure_pa = pressure + ground * (landing.ground_pressure_pa - pressure);
        Moment {
            cold_wall_w_m2: value(problem.cold_wall_w_m2) * problem.heating_scale * (1.0 - ground),
            per_recovery: 1.0 / value(problem.recovery_enthalpy_j_kg),
            // Vacuum holds at the tables' first row.
            log_pressure: libm::log(pressure_pa.max(1e-30)),
            pressure_pa,
            ground,
            time_s,
        }
    }

    /// Heat in and its slope over the face's temperature.
    pub fn inflow(&self, moment: &Moment, wall: &WallTable, t: f64) -> (f64, f64) {
        let cube = t * t * t;
        let (emissivity, bend) = self.problem.emissivity_at(t);
        let (radiance, gained) = (emissivity * STEFAN_BOLTZMANN, moment.ground * self.air_fourth - cube * t);
        let mut q = radiance * gained;
        let mut slope = bend * STEFAN_BOLTZMANN * gained - 4.0 * radiance * cube;
        if moment.cold_wall_w_m2 != 0.0 {
            let (enthalpy, heat) = wall.at(t, moment.log_pressure);
            q += moment.cold_wall_w_m2 * (1.0 - enthalpy * moment.per_recovery);
            slope -= moment.cold_wall_w_m2 * heat * moment.per_recovery;
        }
        if moment.ground > 0.0 {
            let film = moment.ground * self.problem.landing.h_w_m2k;
            q += film * (self.problem.landing.air_k - t);
            slope -= film;
        }
        (q, slope)
    }

    /// Heat into the back and its slope: what the stack's back meets, and the neighbouring structure.
    pub fn back_inflow(&self, moment: &Moment, t: f64) -> (f64, f64) {
        let (mut q, mut slope) = match self.problem.back {
            Face::Adiabatic => (0.0, 0.0),
            // A prescribed back is a film so strong that the node follows within a millikelvin.
            Face::Temperature(curve) => (HOLDING * (curve.value_at(moment.time_s) - t), -HOLDING),
            other => other.inflow(moment.time_s, moment.pressure_pa, t, &NoAir),
        };
        if let Some(exchange) = &self.problem.exchange {
            let i = exchange.times_s.partition_point(|at| *at <= moment.time_s).clamp(1, exchange.times_s.len() - 1);
            let (from, to) = (exchange.times_s[i - 1], exchange.times_s[i]);
            let share = ((moment.time_s - from) / (to - from)).clamp(0.0, 1.0);
            let beside = exchange.neighbour_k[i - 1] + share * (exchange.neighbour_k[i] - exchange.neighbour_k[i - 1]);
            q += exchange.conductance_w_m2k * (beside - t);
            slope -= exchange.conductance_w_m2k;
        }
        (q, slope)
    }
}

const HOLDING: f64 = 1e7;

/// Backs are not heated by hypersonic air.
struct NoAir;
impl WallEnthalpy for NoAir {
    fn at(&self, _: f64, _: f64) -> (f64, f64) {
        (0.0, 0.0)
    }
}
