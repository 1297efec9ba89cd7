//! One stack, accuracy first: an L-stable, stiffly accurate implicit solver with its own step, on the heat stored in each node.
//!
//! Method: singly diagonally implicit Runge-Kutta of order 4 with an embedded order 3 and five stages (Hairer and Wanner, Solving
//! Ordinary Differential Equations II, 2nd ed., table IV.6.5, from memory; `verif_order_conditions` holds the coefficients against
//! the definition). Each stage is solved by Newton's method to convergence, nonlinear face included; the unknown is temperature,
//! the balance is in enthalpy, so that heat in, stored and out close to rounding.

use super::face::{Face, WallEnthalpy};
use super::mesh::{Link, Mesh};
use super::properties::{Blend, Layer};
use crate::document::Sorting as _;
use crate::document::{Curve, Error};

pub(super) const GAMMA: f64 = 0.25;
pub(super) const TIMES: [f64; 5] = [0.25, 0.75, 0.55, 0.5, 1.0];
pub(super) const STAGES: [[f64; 5]; 5] = [
    [0.25, 0.0, 0.0, 0.0, 0.0],
    [0.5, 0.25, 0.0, 0.0, 0.0],
    [17.0 / 50.0, -1.0 / 25.0, 0.25, 0.0, 0.0],
    [371.0 / 1360.0, -137.0 / 2720.0, 15.0 / 544.0, 0.25, 0.0],
    [25.0 / 24.0, -49.0 / 48.0, 125.0 / 16.0, -85.0 / 12.0, 0.25],
];
/// The order-4 weights (the last stage) less the embedded order-3 ones.
pub(super) const ERROR: [f64; 5] =
    [25.0 / 24.0 - 59.0 / 48.0, -49.0 / 48.0 + 17.0 / 96.0, 125.0 / 16.0 - 225.0 / 32.0, -85.0 / 12.0 + 85.0 / 12.0, 0.25];

/// More steps than this end the run with an error instead of a hang.
const MOST_STEPS: usize = 3_000_000;
const NEWTON_ITERATIONS: usize = 25;

/// One exposure of one stack.
pub struct Exposure<'a> {
    pub layers: &'a [Layer],
    pub front: &'a Face,
    pub back: &'a Face,
    /// Temperature over depth at the start.
    pub initial_k: &'a dyn Fn(f64) -> f64,
    pub pressure_pa: &'a Curve,
    pub wall: &'a dyn WallEnthalpy,
    pub duration_s: f64,
    /// Times at which a step ends exactly, besides the tables' own: strictly increasing.
    pub stops_s: &'a [f64],
}

/// Heat over a run, J/m2. The identity `net_in = stored + back_out` holds to rounding and Newton's tolerance.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Energy {
    pub net_in_j_m2: f64,
    pub stored_j_m2: f64,
    pub back_out_j_m2: f64,
}

impl Energy {
    /// See [`imbalance_fraction`].
    pub fn imbalance_fraction(&self) -> f64 {
        imbalance_fraction(self.net_in_j_m2, self.stored_j_m2, self.back_out_j_m2)
    }
}

/// Heat in less stored less out, over the largest of the three; 0 where nothing flows.
pub(super) fn imbalance_fraction(net_in: f64, stored: f64, back_out: f64) -> f64 {
    let largest = net_in.abs().max(stored.abs()).max(back_out.abs());
    if largest > 0.0 { (net_in - stored - back_out) / largest } else { 0.0 }
}

/// One accepted step: times, and temperatures with their slopes (K/s) at both ends, for interpolation between.
pub struct Step<'a> {
    pub from_s: f64,
    pub to_s: f64,
    pub from_k: &'a [f64],
    pub to_k: &'a [f64],
    pub from_slope: &'a [f64],
    pub to_slope: &'a [f64],
}

impl Step<'_> {
    /// Cubic Hermite interpolation of one node; exact at both ends.
    pub fn at(&self, node: usize, time_s: f64) -> f64 {
        let h = self.to_s - self.from_s;
        let x = (time_s - self.from_s) / h;
        let (a, b) = (self.from_k[node], self.to_k[node]);
        let (da, db) = (self.from_slope[node] * h, self.to_slope[node] * h);
        let y = 1.0 - x;
        a * (1.0 + 2.0 * x) * y * y + b * (3.0 - 2.0 * x) * x * x + da * x * y * y - db * x * x * y
    }

    /// The largest value of a node over the step and its time.
    pub fn peak(&self, node: usize) -> (f64, f64) {
        let (a, b) = (self.from_k[node], self.to_k[node]);
        let mut best = if a >= b { (a, self.from_s) } else { (b, self.to_s) };
        let h = self.to_s - self.from_s;
        let (da, db) = (self.from_slope[node] * h, self.to_slope[node] * h);
        // Slope of the cubic: c2 x^2 + c1 x + c0.
        let (c2, c1, c0) = (3.0 * (2.0 * (a - b) + da + db), 2.0 * (3.0 * (b - a) - 2.0 * da - db), da);
        let root = c1 * c1 - 4.0 * c2 * c0;
        if root >= 0.0 {
            let q = -0.5 * (c1 + root.sqrt().copysign(c1));
            for x in [q / c2, c0 / q] {
                if x > 0.0 && x < 1.0 {
                    let time_s = self.from_s + x * h;
                    let value = self.at(node, time_s);
                    if value > best.0 {
                        best = (value, time_s);
                    }
                }
            }
        }
        best
    }
}

/// The state of the integration on one mesh.
struct Solver<'a> {
    exposure: &'a Exposure<'a>,
    mesh: &'a Mesh,
    /// The pressure's place in each layer's table, for the stage at hand.
    blends: Vec<Blend>,
    pressure_pa: f64,
    /// Work of one evaluation: stored heat and capacity by node, flux and its two slopes by link.
    heat: Vec<f64>,
    capacity: Vec<f64>,
    flux: Vec<f64>,
    flux_outer: Vec<f64>,
    flux_inner: Vec<f64>,
    front: (f64, f64),
    back: (f64, f64),
    /// The factored tridiagonal matrix.
    upper: Vec<f64>,
    pivot: Vec<f64>,
    lower: Vec<f64>,
}

impl<'a> Solver<'a> {
    fn new(exposure: &'a Exposure<'a>, mesh: &'a Mesh) -> Self {
        let n = mesh.nodes.len();
        let zero = || vec![0.0; n];
        Solver {
            exposure,
            mesh,
            blends: vec![Blend::default(); exposure.layers.len()],
            pressure_pa: f64::NAN,
            heat: zero(),
            capacity: zero(),
            flux: zero(),
            flux_outer: zero(),
            flux_inner: zero(),
            front: (0.0, 0.0),
            back: (0.0, 0.0),
            upper: zero(),
            pivot: zero(),
            lower: zero(),
        }
    }

    fn set_time(&mut self, time_s: f64) {
        let pressure_pa = self.exposure.pressure_pa.value_at(time_s);
        if pressure_pa != self.pressure_pa {
            self.pressure_pa = pressure_pa;
            for (blend, layer) in self.blends.iter_mut().zip(self.exposure.layers) {
                if let Layer::Solid(solid) = layer {
                    *blend = solid.conduction.blend(pressure_pa);
                }
            }
        }
    }

    /// Heats, capacities, fluxes and slopes at these temperatures and this time.
    fn evaluate(&mut self, time_s: f64, t: &[f64]) {
        self.set_time(time_s);
        let n = t.len();
        let mut potential_outer = 0.0;
        let mut k_outer = 0.0;
        for i in 0..n {
            let node = &self.mesh.nodes[i];
            let (mut heat, mut capacity) = (0.0, 0.0);
            let mut seen = None;
            let (mut k_in, mut potential_in) = (0.0, 0.0);
            for (side, is_inner) in [(node.outer, false), (node.inner, true)] {
                let Some((layer, mass)) = side else { continue };
                let Layer::Solid(solid) = &self.exposure.layers[layer] else { continue };
                let (c, e, k, potential) = match seen {
                    Some((same, values)) if same == layer => values,
                    _ => {
                        let (c, e) = solid.heat(t[i]);
                        let (k, potential) = solid.conduct(t[i], self.blends[layer]);
                        seen = Some((layer, (c, e, k, potential)));
                        (c, e, k, potential)
                    }
                };
                heat += mass * e;
                capacity += mass * c;
                if is_inner {
                    (k_in, potential_in) = (k, potential);
                } else if let Link::Conduct { per_m, .. } = self.mesh.links[i - 1] {
                    self.flux[i - 1] = (potential_outer - potential) * per_m;
                    self.flux_outer[i - 1] = k_outer * per_m;
                    self.flux_inner[i - 1] = k * per_m;
                }
            }
            self.heat[i] = heat;
            self.capacity[i] = capacity;
            (k_outer, potential_outer) = (k_in, potential_in);
            if i + 1 < n
                && let Link::Contact { conductance } = self.mesh.links[i]
            {
                self.flux[i] = (t[i] - t[i + 1]) * conductance;
                self.flux_outer[i] = conductance;
                self.flux_inner[i] = conductance;
            }
        }
        let (front, back, wall) = (self.exposure.front, self.exposure.back, self.exposure.wall);
        self.front = front.inflow(time_s, self.pressure_pa, t[0], wall);
        self.back = back.inflow(time_s, self.pressure_pa, t[n - 1], wall);
    }

    /// Net heat into a node, W/m2, from the last evaluation.
    fn rate(&self, i: usize) -> f64 {
        let n = self.heat.len();
        let from = if i == 0 { self.front.0 } else { self.flux[i - 1] };
        let to = if i + 1 == n { -self.back.0 } else { self.flux[i] };
        from - to
    }

    /// Factors `capacity - step * slope of the rate` of the last evaluation; a prescribed face keeps an identity row.
    fn factor(&mut self, step: f64, held: (bool, bool)) {
        let n = self.heat.len();
        for i in 0..n {
            let (mut diagonal, mut lower, mut upper) = (self.capacity[i], 0.0, 0.0);
            if i > 0 {
                diagonal += step * self.flux_inner[i - 1];
                lower = -step * self.flux_outer[i - 1];
            }
            if i + 1 < n {
                diagonal += step * self.flux_outer[i];
                upper = -step * self.flux_inner[i];
            }
            if i == 0 {
                diagonal -= step * self.front.1;
            }
            if i + 1 == n {
                diagonal -= step * self.back.1;
            }
            if (i == 0 && held.0) || (i + 1 == n && held.1) {
                (diagonal, lower, upper) = (1.0, 0.0, 0.0);
            }
            let factor = if i > 0 { lower / self.pivot[i - 1] } else { 0.0 };
            self.lower[i] = factor;
            self.pivot[i] = diagonal - if i > 0 { factor * self.upper[i - 1] } else { 0.0 };
            self.upper[i] = upper;
        }
    }

    fn solve(&self, x: &mut [f64]) {
        let n = x.len();
        for i in 1..n {
            x[i] -= self.lower[i] * x[i - 1];
        }
        x[n - 1] /= self.pivot[n - 1];
        for i in (0..n - 1).rev() {
            x[i] = (x[i] - self.upper[i] * x[i + 1]) / self.pivot[i];
        }
    }

    /// Newton's method for `heat(T) - step * rate(T) = target`; the last evaluation stands at the solution. False where it fails.
    fn stage(&mut self, time_s: f64, step: f64, target: &[f64], t: &mut [f64], held: (bool, bool), change: &mut [f64]) -> bool {
        let n = t.len();
        let mut before = f64::INFINITY;
        for _ in 0..NEWTON_ITERATIONS {
            self.evaluate(time_s, t);
            self.factor(step, held);
            for i in 0..n {
                change[i] = target[i] - self.heat[i] + step * self.rate(i);
            }
            if held.0 {
                change[0] = 0.0;
            }
            if held.1 {
                change[n - 1] = 0.0;
            }
            self.solve(change);
            let mut largest: f64 = 0.0;
            for i in 0..n {
                if !change[i].is_finite() {
                    return false;
                }
                // Never below half the temperature at hand: the fourth power and the tables know no negative temperature.
                let to = t[i] + change[i];
                let to = if to > 0.5 * t[i] { to } else { 0.5 * t[i] };
                largest = largest.max((to - t[i]).abs() / (1.0 + 1e-3 * t[i]));
                t[i] = to;
            }
            // Newton squares the error: a change below 1e-6 K leaves about 1e-12 K; rounding stops it where it can go no further.
            if largest < 1e-6 || (largest < 1e-5 && largest >= before) {
                self.evaluate(time_s, t);
                return true;
            }
            before = largest;
        }
        false
    }
}

/// Runs the exposure on a mesh. `tolerance_k` bounds the error of a step (largest over the nodes); `watch` sees every accepted step.
/// Returns the energy account, or an error where a step cannot be solved or the run would take too many.
pub fn run(exposure: &Exposure, mesh: &Mesh, tolerance_k: f64, watch: &mut dyn FnMut(&Step)) -> Result<Energy, Error> {
    let n = mesh.nodes.len();
    let mut solver = Solver::new(exposure, mesh);
    let held = (exposure.front.held_at(0.0).is_some(), exposure.back.held_at(0.0).is_some());
    let mut t: Vec<f64> = mesh.nodes.iter().map(|node| (exposure.initial_k)(node.depth_m)).collect();
    let mut energy = Energy::default();
    solver.evaluate(0.0, &t);
    let first_heat = solver.heat.clone();
    let hold = |time_s: f64, t: &mut [f64]| {
        if let Some(value) = exposure.front.held_at(time_s) {
            t[0] = value;
        }
        if let Some(value) = exposure.back.held_at(time_s) {
            t[n - 1] = value;
        }
    };
    // A prescribed temperature that differs from the start jumps at once; its half-cell's heat counts.
    hold(0.0, &mut t);
    solver.evaluate(0.0, &t);
    if held.0 {
        energy.net_in_j_m2 += solver.heat[0] - first_heat[0];
    }
    if held.1 {
        energy.back_out_j_m2 -= solver.heat[n - 1] - first_heat[n - 1];
    }
    let slopes = |solver: &Solver, slope: &mut [f64]| {
        for (i, slope) in slope.iter_mut().enumerate() {
            *slope = if solver.capacity[i] > 0.0 { solver.rate(i) / solver.capacity[i] } else { f64::NAN };
        }
    };
    let mut slope = vec![0.0; n];
    slopes(&solver, &mut slope);
    let mut stops = exposure.front.knots();
    stops.extend(exposure.back.knots());
    stops.push(exposure.pressure_pa);
    let stops = gather_stops(&stops, exposure.stops_s, exposure.duration_s);

    let (mut new_t, mut target, mut change, mut new_slope) = (t.clone(), vec![0.0; n], vec![0.0; n], vec![0.0; n]);
    let mut rates = vec![vec![0.0; n]; 5];
    let mut start_heat = solver.heat.clone();
    let (mut time_s, mut next_stop) = (0.0, 0);
    let mut step = (1e-4 * exposure.duration_s).min(0.1);
    for _ in 0..MOST_STEPS {
        if next_stop >= stops.len() {
            energy.stored_j_m2 = (0..n).map(|i| start_heat[i] - first_heat[i]).sum();
            return Ok(energy);
        }
        let stop = stops[next_stop];
        let left = stop - time_s;
        let (h, lands) = landing(step, left);
        if h < 1e-13 * exposure.duration_s || h <= 0.0 {
            return Err(Error::failed(format!("the conduction through the stack cannot be advanced beyond {time_s} s")));
        }
        let mut solved = true;
        let mut through = [[0.0; 4]; 5];
        new_t.copy_from_slice(&t);
        for stage in 0..5 {
            let at = time_s + TIMES[stage] * h;
            for i in 0..n {
                let mut sum = start_heat[i];
                for (j, rate) in rates.iter().enumerate().take(stage) {
                    sum += h * STAGES[stage][j] * rate[i];
                }
                target[i] = sum;
            }
            hold(if stage == 4 && lands { stop } else { at }, &mut new_t);
            if !solver.stage(at, h * GAMMA, &target, &mut new_t, held, &mut change) {
                solved = false;
                break;
            }
            rates[stage].iter_mut().enumerate().for_each(|(i, rate)| *rate = solver.rate(i));
            let last = if n > 1 { n - 2 } else { 0 };
            through[stage] = [solver.front.0, solver.flux[0], solver.back.0, solver.flux[last]];
        }
        if !solved {
            step = 0.25 * h;
            continue;
        }
        for i in 0..n {
            change[i] = h * (0..5).map(|j| ERROR[j] * rates[j][i]).sum::<f64>();
        }
        if held.0 {
            change[0] = 0.0;
        }
        if held.1 {
            change[n - 1] = 0.0;
        }
        solver.factor(h * GAMMA, held);
        solver.solve(&mut change);
        let error = change.iter().fold(0.0, |most: f64, value| most.max(value.abs())) / tolerance_k;
        let ratio = growth(error);
        if error > 1.0 || error.is_nan() {
            step = h * ratio.clamp(0.1, 0.9);
            continue;
        }
        let weights = &STAGES[4];
        let sum = |part: usize| h * (0..5).map(|j| weights[j] * through[j][part]).sum::<f64>();
        energy.net_in_j_m2 += if held.0 { solver.heat[0] - start_heat[0] + sum(1) } else { sum(0) };
        energy.back_out_j_m2 -= if held.1 { solver.heat[n - 1] - start_heat[n - 1] - sum(3) } else { sum(2) };
        slopes(&solver, &mut new_slope);
        for i in 0..n {
            let is_held = (i == 0 && held.0) || (i + 1 == n && held.1);
            if is_held || new_slope[i].is_nan() {
                new_slope[i] = (new_t[i] - t[i]) / h;
                slope[i] = new_slope[i];
            }
        }
        let to_s = if lands { stop } else { time_s + h };
        watch(&Step { from_s: time_s, to_s, from_k: &t, to_k: &new_t, from_slope: &slope, to_slope: &new_slope });
        time_s = to_s;
        t.copy_from_slice(&new_t);
        slope.copy_from_slice(&new_slope);
        start_heat.copy_from_slice(&solver.heat);
        // A step cut short by a stop says nothing against the one before it.
        let grown = h * ratio.clamp(0.2, 5.0);
        step = if lands { grown.max(step) } else { grown };
        if lands {
            next_stop += 1;
        }
    }
    Err(Error::failed(format!("the conduction through the stack took more than {MOST_STEPS} steps; it stands at {time_s} s")))
}

/// How long a step is with `left` to the next stop, and whether it ends there: half the way where it nearly would.
pub(super) fn landing(step: f64, left: f64) -> (f64, bool) {
    if step >= left {
        (left, true)
    } else if step > 0.5 * left {
        (0.5 * left, false)
    } else {
        (step, false)
    }
}

/// The next step over this one, from this one's error over its tolerance (fourth power: the embedded method is of order three).
pub(super) fn growth(error: f64) -> f64 {
    if error > 0.0 { 0.9 * libm::pow(error, -0.25) } else { 5.0 }
}

/// The times at which a step must end: the tables' points, the asked ones and the end, within the run. Tables so fine that their
/// points would rule the step are left to the error control.
pub(super) fn gather_stops(curves: &[&Curve], asked_s: &[f64], duration_s: f64) -> Vec<f64> {
    const MOST_KNOTS: usize = 20_000;
    let mut stops: Vec<f64> = asked_s.to_vec();
    for curve in curves {
        if let Curve::Table(table) = curve {
            let stride = table.at.len().div_ceil(MOST_KNOTS).max(1);
            stops.extend(table.at.iter().step_by(stride));
        }
    }
    stops.push(duration_s);
    stops.retain(|at| *at > 0.0 && *at <= duration_s);
    stops.order_by(f64::total_cmp);
    // Two stops closer than rounding are one; the later one is kept, so that the end stays.
    let mut kept: Vec<f64> = Vec::with_capacity(stops.len());
    for at in stops {
        if kept.last().is_some_and(|last| at - last <= 1e-12 * duration_s) {
            kept.pop();
        }
        kept.push(at);
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_order_conditions() {
        let a = STAGES;
        let c: Vec<f64> = a.iter().map(|row| row.iter().sum()).collect();
        for (i, want) in TIMES.iter().enumerate() {
            assert!((c[i] - want).abs() < 1e-14);
        }
        let lower: Vec<f64> = (0..5).map(|i| a[4][i] - ERROR[i]).collect();
        let dot = |b: &[f64], f: &dyn Fn(usize) -> f64| (0..5).map(|i| b[i] * f(i)).sum::<f64>();
        let ac = |i: usize| (0..5).map(|j| a[i][j] * c[j]).sum::<f64>();
        let acc = |i: usize| (0..5).map(|j| a[i][j] * c[j] * c[j]).sum::<f64>();
        let aac = |i: usize| (0..5).map(|j| a[i][j] * ac(j)).sum::<f64>();
        let three: [(&dyn Fn(usize) -> f64, f64); 4] =
            [(&|_| 1.0, 1.0), (&|i| c[i], 1.0 / 2.0), (&|i| c[i] * c[i], 1.0 / 3.0), (&ac, 1.0 / 6.0)];
        let four: [(&dyn Fn(usize) -> f64, f64); 4] =
            [(&|i| c[i] * c[i] * c[i], 1.0 / 4.0), (&|i| c[i] * ac(i), 1.0 / 8.0), (&acc, 1.0 / 12.0), (&aac, 1.0 / 24.0)];
        for (f, want) in three {
            assert!((dot(&a[4], f) - want).abs() < 1e-13);
            assert!((dot(&lower, f) - want).abs() < 1e-13);
        }
        for (f, want) in four {
            assert!((dot(&a[4], f) - want).abs() < 1e-13);
        }
    }
}
