//! Implicit steps on the cavity's grid: the stages of `transient` (fourth order, L-stable, stiffly accurate), one factored matrix a step.
//!
//! The unknown is temperature, the balance is in heat, so that heat in, stored and out close to rounding whatever the step. Newton's matrix is
//! taken at the step's start and factored once (the stages share their diagonal coefficient); where it does not contract, the step is
//! shortened. Flux between nodes is a difference of conductivity's integral, so the matrix is diagonally dominant by columns and needs no
//! pivots.

use super::CavityLayer;
use super::grid::{Grid, Side};
use crate::document::{Curve, Error};
use crate::tile::face::{Face, WallEnthalpy};
use crate::tile::properties::Blend;
use crate::tile::transient::{ERROR, GAMMA, STAGES, Step, TIMES, gather_stops, growth, imbalance_fraction, landing};

const MOST_STEPS: usize = 100_000;
const ITERATIONS: usize = 12;

/// What the surfaces meet, and for how long.
pub struct Run<'a> {
    pub layers: &'a [CavityLayer],
    pub outer: &'a Face,
    pub floor: &'a Face,
    pub wall: &'a Face,
    pub back: &'a Face,
    pub pressure_pa: &'a Curve,
    pub air: &'a dyn WallEnthalpy,
    pub duration_s: f64,
    pub stops_s: &'a [f64],
}

/// Properties of a node in one of its layers.
#[derive(Debug, Clone, Copy, Default)]
struct Local {
    conductivity: f64,
    potential: f64,
    conductivity_along: f64,
    potential_along: f64,
}

struct Solver<'a> {
    run: &'a Run<'a>,
    grid: &'a Grid,
    blends: Vec<(Blend, Blend)>,
    local: Vec<[Local; 2]>,
    heat: Vec<f64>,
    capacity: Vec<f64>,
    /// Net heat into each node, W.
    rate: Vec<f64>,
    /// Slope of the surface heat of each node, W/K.
    slope: Vec<f64>,
    into_face: f64,
    out_of_back: f64,
    /// Banded matrix by rows, `2 band + 1` wide, factored in place.
    matrix: Vec<f64>,
    band: usize,
}

impl Solver<'_> {
    fn face(&self, side: Side) -> &Face {
        match side {
            Side::Outer => self.run.outer,
            Side::Floor => self.run.floor,
            Side::Wall => self.run.wall,
            Side::Back => self.run.back,
        }
    }

    fn evaluate(&mut self, time_s: f64, t: &[f64]) {
        let pressure_pa = self.run.pressure_pa.value_at(time_s);
        for (blend, layer) in self.blends.iter_mut().zip(self.run.layers) {
            let along = layer.inplane.as_ref().unwrap_or(&layer.solid.conduction);
            *blend = (layer.solid.conduction.blend(pressure_pa), along.blend(pressure_pa));
        }
        for (i, shares) in self.grid.shares.iter().enumerate() {
            let (mut heat, mut capacity) = (0.0, 0.0);
            let mut before: Option<(usize, (f64, f64), Local)> = None;
            for (slot, share) in shares.iter().enumerate() {
                let Some(share) = share else { continue };
                let (c_e, local) = match before {
                    Some((layer, c_e, local)) if layer == share.layer => (c_e, local),
                    _ => {
                        let layer = &self.run.layers[share.layer];
                        let (through, along) = self.blends[share.layer];
                        let (conductivity, potential) = layer.solid.conduct(t[i], through);
                        let (k, p) = match &layer.inplane {
                            None => (conductivity, potential),
                            Some(conduction) => {
                                let (k, p) = conduction.at(t[i], along);
                                (k * layer.solid.conductivity_scale, p * layer.solid.conductivity_scale)
                            }
                        };
                        (layer.solid.heat(t[i]), Local { conductivity, potential, conductivity_along: k, potential_along: p })
                    }
                };
                before = Some((share.layer, c_e, local));
                self.local[i][slot] = local;
                capacity += share.mass_kg * c_e.0;
                heat += share.mass_kg * c_e.1;
            }
            (self.heat[i], self.capacity[i]) = (heat, capacity);
        }
        self.rate.fill(0.0);
        self.slope.fill(0.0);
        (self.into_face, self.out_of_back) = (0.0, 0.0);
        for link in &self.grid.links {
            let (a, b) = (&self.local[link.a][link.slot_a], &self.local[link.b][link.slot_b]);
            let fall = if link.along { a.potential_along - b.potential_along } else { a.potential - b.potential };
            let flow = link.shape_m * fall;
            self.rate[link.a] -= flow;
            self.rate[link.b] += flow;
        }
        for patch in &self.grid.patches {
            let (flux, slope) = self.face(patch.side).inflow(time_s, pressure_pa, t[patch.node], self.run.air);
            self.rate[patch.node] += patch.area_m2 * flux;
            self.slope[patch.node] += patch.area_m2 * slope;
            if patch.side == Side::Back {
                self.out_of_back -= patch.area_m2 * flux;
            } else {
                self.into_face += patch.area_m2 * flux;
            }
        }
    }

    /// Factors capacity - step x slope of the rate at the last evaluation. A node of the cavity, which holds nothing, keeps an identity row.
    fn factor(&mut self, step: f64) {
        let (n, band) = (self.heat.len(), self.band);
        let width = 2 * band + 1;
        self.matrix.fill(0.0);
        for i in 0..n {
            let empty = self.grid.shares[i].iter().all(Option::is_none);
            self.matrix[i * width + band] = if empty { 1.0 } else { self.capacity[i] - step * self.slope[i] };
        }
        for link in &self.grid.links {
            let (a, b) = (&self.local[link.a][link.slot_a], &self.local[link.b][link.slot_b]);
            let (ka, kb) = if link.along { (a.conductivity_along, b.conductivity_along) } else { (a.conductivity, b.conductivity) };
            let (ga, gb) = (step * link.shape_m * ka, step * link.shape_m * kb);
            self.matrix[link.a * width + band] += ga;
            self.matrix[link.b * width + band] += gb;
            self.matrix[link.a * width + band + link.b - link.a] -= gb;
            self.matrix[link.b * width + band + link.a - link.b] -= ga;
        }
        for k in 0..n {
            let (above, below) = self.matrix.split_at_mut((k + 1) * width);
            let pivot = &above[k * width + band..];
            for (ahead, row) in below.chunks_exact_mut(width).take(band).enumerate() {
                let column = band - 1 - ahead;
                if row[column] == 0.0 {
                    continue;
                }
                let factor = row[column] / pivot[0];
                row[column] = factor;
                for (value, upper) in row[column + 1..].iter_mut().zip(&pivot[1..]) {
                    *value -= factor * upper;
                }
            }
        }
    }

    fn back_substitute(&self, x: &mut [f64]) {
        let (n, band) = (x.len(), self.band);
        let width = 2 * band + 1;
        for i in 0..n {
            let first = i.saturating_sub(band);
            let row = &self.matrix[i * width + band + first - i..i * width + band];
            let sum: f64 = row.iter().zip(&x[first..i]).map(|(a, b)| a * b).sum();
            x[i] -= sum;
        }
        for i in (0..n).rev() {
            let last = (i + band).min(n - 1);
            let row = &self.matrix[i * width + band + 1..i * width + band + 1 + last - i];
            let sum: f64 = row.iter().zip(&x[i + 1..=last]).map(|(a, b)| a * b).sum();
            x[i] = (x[i] - sum) / self.matrix[i * width + band];
        }
    }

    /// Solves heat(T) - step x rate(T) = target with the factored matrix; the last evaluation stands at the solution. False where it does
    /// not contract.
    fn stage(&mut self, time_s: f64, step: f64, target: &[f64], t: &mut [f64], change: &mut [f64], enough_k: f64) -> bool {
        let mut before = f64::INFINITY;
        for _ in 0..ITERATIONS {
            self.evaluate(time_s, t);
            for i in 0..t.len() {
                change[i] = target[i] - self.heat[i] + step * self.rate[i];
            }
            self.back_substitute(change);
            let mut largest: f64 = 0.0;
            for (t, change) in t.iter_mut().zip(change.iter()) {
                if !change.is_finite() {
                    return false;
                }
                let to = (*t + change).max(0.5 * *t);
                largest = largest.max((to - *t).abs());
                *t = to;
            }
            if largest < enough_k {
                self.evaluate(time_s, t);
                return true;
            }
            if largest > 0.9 * before {
                return false;
            }
            before = largest;
        }
        false
    }
}

/// Runs from `start_k` (a temperature a node). `tolerance_k` bounds the error of a step at any node; `watch` sees every accepted step, and
/// ends the run where it returns false. Returns what the heat account lacks ([`imbalance_fraction`]).
pub fn run(run: &Run, grid: &Grid, start_k: &[f64], tolerance_k: f64, watch: &mut dyn FnMut(&Step) -> bool) -> Result<f64, Error> {
    let n = start_k.len();
    let band = grid.columns();
    let mut solver = Solver {
        run,
        grid,
        blends: vec![Default::default(); run.layers.len()],
        local: vec![[Local::default(); 2]; n],
        heat: vec![0.0; n],
        capacity: vec![0.0; n],
        rate: vec![0.0; n],
        slope: vec![0.0; n],
        into_face: 0.0,
        out_of_back: 0.0,
        matrix: vec![0.0; n * (2 * band + 1)],
        band,
    };
    // Where a table turns sharply enough to matter is left to the error control.
    let stops = gather_stops(&[], run.stops_s, run.duration_s);
    let mut t = start_k.to_vec();
    let (mut net_in_j, mut back_out_j) = (0.0, 0.0);
    solver.evaluate(0.0, &t);
    let first_heat = solver.heat.clone();
    let slopes = |solver: &Solver, out: &mut [f64]| {
        for (i, out) in out.iter_mut().enumerate() {
            *out = if solver.capacity[i] > 0.0 { solver.rate[i] / solver.capacity[i] } else { 0.0 };
        }
    };
    let (mut slope, mut new_slope) = (vec![0.0; n], vec![0.0; n]);
    slopes(&solver, &mut slope);
    let mut start_heat = first_heat.clone();
    let (mut new_t, mut target, mut change) = (t.clone(), vec![0.0; n], vec![0.0; n]);
    let mut rates = vec![vec![0.0; n]; 5];
    let (mut time_s, mut next, mut on) = (0.0, 0, true);
    let mut step = (1e-4 * run.duration_s).min(0.1);
    for _ in 0..MOST_STEPS {
        let Some(stop) = stops.get(next).copied().filter(|_| on) else {
            let stored_j: f64 = start_heat.iter().zip(&first_heat).map(|(a, b)| a - b).sum();
            return Ok(imbalance_fraction(net_in_j, stored_j, back_out_j));
        };
        let left = stop - time_s;
        let (h, lands) = landing(step, left);
        if h <= 1e-13 * run.duration_s {
            break;
        }
        solver.evaluate(time_s + GAMMA * h, &t);
        solver.factor(GAMMA * h);
        new_t.copy_from_slice(&t);
        let mut through = [[0.0; 2]; 5];
        let mut solved = true;
        for stage in 0..5 {
            for i in 0..n {
                let known: f64 = (0..stage).map(|j| STAGES[stage][j] * rates[j][i]).sum();
                target[i] = start_heat[i] + h * known;
            }
            solved = solver.stage(time_s + TIMES[stage] * h, GAMMA * h, &target, &mut new_t, &mut change, 0.01 * tolerance_k);
            if !solved {
                break;
            }
            rates[stage].copy_from_slice(&solver.rate);
            through[stage] = [solver.into_face, solver.out_of_back];
        }
        if !solved {
            step = 0.3 * h;
            continue;
        }
        for i in 0..n {
            change[i] = h * (0..5).map(|j| ERROR[j] * rates[j][i]).sum::<f64>();
        }
        solver.back_substitute(&mut change);
        let error = change.iter().fold(0.0, |most: f64, value| most.max(value.abs())) / tolerance_k;
        let ratio = growth(error);
        if error > 1.0 || error.is_nan() {
            step = h * ratio.clamp(0.1, 0.9);
            continue;
        }
        let sum = |part: usize| h * (0..5).map(|j| STAGES[4][j] * through[j][part]).sum::<f64>();
        net_in_j += sum(0);
        back_out_j += sum(1);
        slopes(&solver, &mut new_slope);
        let to_s = if lands { stop } else { time_s + h };
        on = watch(&Step { from_s: time_s, to_s, from_k: &t, to_k: &new_t, from_slope: &slope, to_slope: &new_slope });
        time_s = to_s;
        t.copy_from_slice(&new_t);
        slope.copy_from_slice(&new_slope);
        start_heat.copy_from_slice(&solver.heat);
        let grown = h * ratio.clamp(0.2, 5.0);
        step = if lands { grown.max(step) } else { grown };
        next += usize::from(lands);
    }
    Err(Error::failed(format!("the conduction around the cavity cannot be advanced beyond {time_s} s")))
}
