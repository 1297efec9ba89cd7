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
    /// Cold-wall heat since the first sample, J/m2; of the samples, the last one held.
    pub fluence_j_m2: f64,
}

/// One lane's way through its samples; remembers where it stood.
pub(super) struct Exposed<'a> {
    pub problem: &'a TileProblem<'a>,
    /// Integral of the samples of cold-wall heating up to each.
    fluence: &'a [f64],
    place: usize,
    /// One over the mean interval of the samples.
    per_interval_s: f64,
    pub entry_end_s: f64,
    pub touchdown_s: f64,
    air_fourth: f64,
}

impl<'a> Exposed<'a> {
    pub fn new(problem: &'a TileProblem<'a>, fluence: &'a [f64]) -> Self {
        let entry_end_s = problem.times_s.last().copied().unwrap_or(0.0);
        let air = problem.landing.air_k;
        Exposed {
            problem,
            fluence,
            place: 0,
            per_interval_s: (problem.times_s.len() - 1) as f64 / (entry_end_s - problem.times_s.first().copied().unwrap_or(0.0)),
            entry_end_s,
            touchdown_s: entry_end_s + problem.landing.descent_s,
            air_fourth: air * air * air * air,
        }
    }

    /// The cell of the samples that holds a time, and the share within it.
    fn find(&mut self, time_s: f64) -> (usize, f64) {
        let at = self.problem.times_s;
        let last = at.len() - 2;
        let holds = |place: usize| at[place] <= time_s && time_s <= at[place + 1];
        if time_s >= self.entry_end_s {
            return (last, 1.0);
        }
        if !holds(self.place) {
            // Samples mostly stand at even intervals: look where an even spacing would have the time, else search.
            let even = (((time_s - at[0]) * self.per_interval_s) as usize).min(last);
            self.place = if holds(even) { even } else { at.partition_point(|t| *t <= time_s).saturating_sub(1).min(last) };
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
        let flux = value(problem.cold_wall_w_m2);
        let within = share * (problem.times_s[i + 1] - problem.times_s[i]);
        let pressure = value(problem.pressure_pa);
        let pressure_pa = pressure + ground * (landing.ground_pressure_pa - pressure);
        Moment {
            cold_wall_w_m2: flux * problem.heating_scale * (1.0 - ground),
            fluence_j_m2: (self.fluence[i] + 0.5 * within * (problem.cold_wall_w_m2[i] + flux)) * problem.heating_scale,
            per_recovery: 1.0 / value(problem.recovery_enthalpy_j_kg),
            // Vacuum holds at the tables' first row.
            log_pressure: quick_log(pressure_pa.max(1e-30)),
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

/// Natural logarithm of a normal number above 0, within 1e-7: blending rows of a table asks no more.
fn quick_log(x: f64) -> f64 {
    let bits = x.to_bits();
    // Mantissa into 0.75 to 1.5, so that the series' argument stays within 0.2.
    let raised = bits.wrapping_add(0x0008_0000_0000_0000);
    let exponent = (raised >> 52) as i32 - 1023;
    let m = f64::from_bits(bits.wrapping_sub(((exponent as i64) << 52) as u64));
    let s = (m - 1.0) / (m + 1.0);
    let square = s * s;
    let series = s * (2.0 + square * (2.0 / 3.0 + square * (2.0 / 5.0 + square * (2.0 / 7.0 + square * (2.0 / 9.0)))));
    exponent as f64 * std::f64::consts::LN_2 + series
}

const HOLDING: f64 = 1e7;

/// Backs are not heated by hypersonic air.
struct NoAir;
impl WallEnthalpy for NoAir {
    fn at(&self, _: f64, _: f64) -> (f64, f64) {
        (0.0, 0.0)
    }
}
