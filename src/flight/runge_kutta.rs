//! Dormand and Prince's Runge-Kutta pair of orders 5 and 4 with its continuous extension, step by step under error control.
//!
//! Coefficients: Dormand and Prince, J. Comput. Appl. Math. 6 (1980) 19-26; continuous extension of order 4 and step control (PI) as in
//! Hairer, Norsett and Wanner, Solving Ordinary Differential Equations I (2nd ed. 1993), sections II.4 to II.6.

/// The state's length: position, velocity, heat load.
pub const LENGTH: usize = 7;
pub type Vector = [f64; LENGTH];

const NODES: [f64; 7] = [0.0, 0.2, 0.3, 0.8, 8.0 / 9.0, 1.0, 1.0];
const STAGES: [[f64; 6]; 7] = [
    [0.0; 6],
    [0.2, 0.0, 0.0, 0.0, 0.0, 0.0],
    [3.0 / 40.0, 9.0 / 40.0, 0.0, 0.0, 0.0, 0.0],
    [44.0 / 45.0, -56.0 / 15.0, 32.0 / 9.0, 0.0, 0.0, 0.0],
    [19372.0 / 6561.0, -25360.0 / 2187.0, 64448.0 / 6561.0, -212.0 / 729.0, 0.0, 0.0],
    [9017.0 / 3168.0, -355.0 / 33.0, 46732.0 / 5247.0, 49.0 / 176.0, -5103.0 / 18656.0, 0.0],
    [35.0 / 384.0, 0.0, 500.0 / 1113.0, 125.0 / 192.0, -2187.0 / 6784.0, 11.0 / 84.0],
];
const ERROR: [f64; 7] = [71.0 / 57600.0, 0.0, -71.0 / 16695.0, 71.0 / 1920.0, -17253.0 / 339200.0, 22.0 / 525.0, -1.0 / 40.0];
const DENSE: [f64; 7] = [
    -12715105075.0 / 11282082432.0,
    0.0,
    87487479700.0 / 32700410799.0,
    -10690763975.0 / 1880347072.0,
    701980252875.0 / 199316789632.0,
    -1453857185.0 / 822651844.0,
    69997945.0 / 29380423.0,
];

/// One accepted step, which answers for every time within it.
#[derive(Debug, Clone)]
pub struct Step {
    pub from: f64,
    pub to: f64,
    parts: [Vector; 5],
}

impl Step {
    /// The state at `time` within the step, fourth order.
    pub fn at(&self, time: f64) -> Vector {
        let share = (time - self.from) / (self.to - self.from);
        let rest = 1.0 - share;
        let [a, b, c, d, e] = &self.parts;
        let mut state = [0.0; LENGTH];
        for i in 0..LENGTH {
            state[i] = a[i] + share * (b[i] + rest * (c[i] + share * (d[i] + rest * e[i])));
        }
        state
    }
}

/// An integration under way.
pub struct Integrator<F: Fn(f64, &Vector) -> Vector> {
    pub time: f64,
    pub state: Vector,
    slope: Vector,
    next_step: f64,
    last_error: f64,
    slopes_of: F,
    /// Error allowed per step: absolute, and relative to the component.
    absolute: Vector,
    relative: Vector,
}

impl<F: Fn(f64, &Vector) -> Vector> Integrator<F> {
    pub fn new(state: Vector, first_step: f64, absolute: Vector, relative: Vector, slopes_of: F) -> Self {
        let slope = slopes_of(0.0, &state);
        Self { time: 0.0, state, slope, next_step: first_step, last_error: 1e-4, slopes_of, absolute, relative }
    }

    /// One accepted step, not past `limit`. `None` where no step, however small, keeps the error: the equations broke down.
    pub fn step(&mut self, limit: f64) -> Option<Step> {
        for _ in 0..200 {
            let room = limit - self.time;
            // The last two steps before the limit are made equal, so that no sliver is left.
            let step = if self.next_step >= room {
                room
            } else if self.next_step > 0.5 * room {
                0.5 * room
            } else {
                self.next_step
            };
            if step <= 4.0 * f64::EPSILON * self.time.abs().max(1e-300) {
                return None;
            }
            let mut slopes = [self.slope; 7];
            let mut state = self.state;
            for stage in 1..7 {
                for i in 0..LENGTH {
                    let mut sum = 0.0;
                    for (weight, slope) in STAGES[stage].iter().zip(&slopes).take(stage) {
                        sum += weight * slope[i];
                    }
                    state[i] = self.state[i] + step * sum;
                }
                slopes[stage] = (self.slopes_of)(self.time + NODES[stage] * step, &state);
            }
            let mut square = 0.0;
            for i in 0..LENGTH {
                let mut sum = 0.0;
                for (weight, slope) in ERROR.iter().zip(&slopes) {
                    sum += weight * slope[i];
                }
                let scale = self.absolute[i] + self.relative[i] * self.state[i].abs().max(state[i].abs());
                square += (step * sum / scale) * (step * sum / scale);
            }
            let error = (square / LENGTH as f64).sqrt();
            if !error.is_finite() {
                self.next_step = 0.1 * step;
                continue;
            }
            let growth = 0.9 * libm::pow(error.max(1e-10), -0.17) * libm::pow(self.last_error, 0.04);
            if error > 1.0 {
                self.next_step = step * (0.9 * libm::pow(error, -0.2)).clamp(0.1, 0.9);
                continue;
            }
            let mut parts = [[0.0; LENGTH]; 5];
            for i in 0..LENGTH {
                let rise = state[i] - self.state[i];
                let bend = step * slopes[0][i] - rise;
                let mut dense = 0.0;
                for (weight, slope) in DENSE.iter().zip(&slopes) {
                    dense += weight * slope[i];
                }
                parts[0][i] = self.state[i];
                parts[1][i] = rise;
                parts[2][i] = bend;
                parts[3][i] = rise - step * slopes[6][i] - bend;
                parts[4][i] = step * dense;
            }
            let from = self.time;
            self.time = if step == room { limit } else { from + step };
            self.state = state;
            self.slope = slopes[6];
            self.last_error = error.max(1e-4);
            self.next_step = step * growth.clamp(0.2, 5.0);
            return Some(Step { from, to: self.time, parts });
        }
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A harmonic oscillator: the end is the fifth-order answer, between steps the extension keeps up.
    #[test]
    fn verif_oscillator() {
        let slopes = |_: f64, s: &Vector| [s[1], -s[0], 0.0, 0.0, 0.0, 0.0, 1.0];
        let mut run = Integrator::new([1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0], 0.1, [1e-10; 7], [1e-10; 7], slopes);
        while run.time < 20.0 {
            let step = run.step(20.0).unwrap();
            let middle = 0.5 * (step.from + step.to);
            assert!((step.at(middle)[0] - libm::cos(middle)).abs() < 3e-8);
            assert!((step.at(step.to)[0] - run.state[0]).abs() < 1e-14);
        }
        assert!((run.state[0] - libm::cos(20.0)).abs() < 1e-8 && (run.state[6] - 20.0).abs() < 1e-12);
    }
}
