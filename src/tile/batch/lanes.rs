//! One implicit step of four tiles, each with its own step and convergence: TR-BDF2 on the heat stored in each node.
//!
//! Method: Bank et al., IEEE Trans. CAD 4 (1985), in the form of Hosea and Shampine, Appl. Numer. Math. 20 (1996), with their
//! third-order companion for the error (both from memory; `verif_order_conditions` holds the coefficients). Order 2, L-stable,
//! stiffly accurate.
//!
//! Each stage is Newton's method until the last change is below [`SETTLED_K`]; what the last iteration leaves (its square: 2 K on
//! 1,000 K leave some 0.005 K) is carried in the stored heat and corrected by the next stage, so that heat in, stored and out close
//! to rounding.
//!
//! A lane never sees its neighbours: every number it keeps comes from its own values, and a lane that is done or settled is masked.

use super::face::{Exposed, Moment};
use super::table::{Cell, HIGHEST_K, MaterialTable, POINTS, STEP_K, WallTable};
use crate::tile::mesh::{Link, Mesh};
use wide::{CmpLe, f64x4};

pub(super) const LANES: usize = 4;
/// sqrt(2)/4, the weight of the first two rates; 1 - sqrt(2)/2, that of the implicit one; 2 - sqrt(2), the middle stage's time.
pub(super) const W: f64 = std::f64::consts::SQRT_2 / 4.0;
pub(super) const D: f64 = 1.0 - std::f64::consts::SQRT_2 / 2.0;
pub(super) const MIDDLE: f64 = 2.0 * D;
/// Weights of the solution less those of the third-order companion.
pub(super) const ERROR: [f64; 3] = [(4.0 * W - 1.0) / 3.0, -1.0 / 3.0, 2.0 * D / 3.0];
const SETTLED_K: f64 = 2.0;
const ITERATIONS: usize = 7;

/// One layer as the four lanes see it at a moment.
struct LaneLayer<'a> {
    tables: [&'a MaterialTable; LANES],
    rows: [&'a [Cell; POINTS]; LANES],
    shares: [f64; LANES],
}

/// Which layers lie outward and inward of a node.
#[derive(Clone, Copy, PartialEq)]
struct Sides {
    outer: Option<u16>,
    inner: Option<u16>,
    contact_outer: bool,
}

/// Specific heat, its integral, conductivity, its integral.
type Looked = [f64x4; 4];

/// Four tiles of one grid's shape.
pub(super) struct Lanes<'a> {
    pub nodes: usize,
    layers: Vec<LaneLayer<'a>>,
    sides: Vec<Sides>,
    mass_outer: Vec<f64x4>,
    mass_inner: Vec<f64x4>,
    /// Reciprocal distance or contact conductance of the link outward of each node.
    link: Vec<f64x4>,
    wall: &'a WallTable,
    pub t: Vec<f64x4>,
    pub heat: Vec<f64x4>,
    pub rate: Vec<f64x4>,
    pub capacity: Vec<f64x4>,
    pub new_t: Vec<f64x4>,
    pub new_heat: Vec<f64x4>,
    pub new_rate: Vec<f64x4>,
    pub new_capacity: Vec<f64x4>,
    middle_t: Vec<f64x4>,
    pub middle_rate: Vec<f64x4>,
    /// K/s at the step's start.
    slope: Vec<f64x4>,
    target: Vec<f64x4>,
    upper: Vec<f64x4>,
    lower: Vec<f64x4>,
    pivot: Vec<f64x4>,
    change: Vec<f64x4>,
    /// Linearised heat through front and back of the last stage, by lane.
    pub front: [f64; LANES],
    pub back: [f64; LANES],
}

fn zero() -> f64x4 {
    f64x4::splat(0.0)
}

/// A mask with all bits set in the true lanes.
pub(super) fn mask(lanes: [bool; LANES]) -> f64x4 {
    f64x4::new(lanes.map(|on| f64::from_bits(if on { u64::MAX } else { 0 })))
}

impl<'a> Lanes<'a> {
    /// From four meshes of the same shape and their layers' tables; `start` gives each lane's temperatures by node.
    pub fn new(meshes: [&Mesh; LANES], tables: [Vec<&'a MaterialTable>; LANES], start: [Vec<f64>; LANES], wall: &'a WallTable) -> Self {
        let nodes = meshes[0].nodes.len();
        let layer_count = tables[0].len();
        let layers: Vec<LaneLayer> = (0..layer_count)
            .map(|i| {
                let tables = [0, 1, 2, 3].map(|lane| tables[lane][i]);
                LaneLayer { tables, rows: tables.map(|table| &table.rows[0]), shares: [0.0; LANES] }
            })
            .collect();
        let gather = |value: &dyn Fn(&Mesh, usize) -> f64| -> Vec<f64x4> {
            (0..nodes).map(|i| f64x4::new(meshes.map(|mesh| value(mesh, i)))).collect()
        };
        let sides = (0..nodes).map(|i| {
            let node = &meshes[0].nodes[i];
            let contact_outer = i > 0 && matches!(meshes[0].links[i - 1], Link::Contact { .. });
            let layer = |side: Option<(usize, f64)>| side.map(|(layer, _)| layer as u16);
            Sides { outer: layer(node.outer), inner: layer(node.inner), contact_outer }
        });
        let blank = || vec![zero(); nodes];
        let t: Vec<f64x4> = (0..nodes).map(|i| f64x4::new([0, 1, 2, 3].map(|lane| start[lane][i]))).collect();
        let mut lanes = Lanes {
            nodes,
            layers,
            sides: sides.collect(),
            mass_outer: gather(&|mesh, i| mesh.nodes[i].outer.map_or(0.0, |(_, mass)| mass)),
            mass_inner: gather(&|mesh, i| mesh.nodes[i].inner.map_or(0.0, |(_, mass)| mass)),
            link: gather(&|mesh, i| match i.checked_sub(1).map(|i| mesh.links[i]) {
                Some(Link::Conduct { per_m, .. }) => per_m,
                Some(Link::Contact { conductance }) => conductance,
                None => 0.0,
            }),
            wall,
            t,
            heat: blank(),
            rate: blank(),
            capacity: blank(),
            new_t: blank(),
            new_heat: blank(),
            new_rate: blank(),
            new_capacity: blank(),
            middle_t: blank(),
            middle_rate: blank(),
            slope: blank(),
            target: blank(),
            upper: blank(),
            lower: blank(),
            pivot: blank(),
            change: blank(),
            front: [0.0; LANES],
            back: [0.0; LANES],
        };
        for i in 0..nodes {
            let (looked_outer, looked_inner) = look_at(&lanes.layers, lanes.sides[i], lanes.t[i]);
            lanes.heat[i] = lanes.mass_outer[i] * looked_outer[1] + lanes.mass_inner[i] * looked_inner[1];
            lanes.capacity[i] = lanes.mass_outer[i] * looked_outer[0] + lanes.mass_inner[i] * looked_inner[0];
        }
        lanes
    }

    /// Takes a step of `h` from the state: first stage, middle, second stage. Returns which lanes settled in both stages.
    pub fn step(&mut self, exposed: &[Exposed; LANES], moments: &[[Moment; LANES]; 2], h: [f64; LANES], active: [bool; LANES]) -> Stepped {
        let step = f64x4::new(h);
        let implicit = step * f64x4::splat(D);
        let per_implicit = f64x4::splat(1.0) / implicit;
        let reach = step * f64x4::splat(MIDDLE);
        let ceiling = f64x4::splat(HIGHEST_K);
        let floor = f64x4::splat(1.0);
        for i in 0..self.nodes {
            self.target[i] = self.heat[i] + implicit * self.rate[i];
            let slope = self.rate[i] / self.capacity[i];
            self.slope[i] = slope;
            let guess = self.t[i] + reach * slope;
            // A guess never doubles or halves a temperature.
            self.new_t[i] = guess.fast_max(self.t[i] * 0.5).fast_min(self.t[i] * 2.0);
        }
        let first = self.stage(exposed, &moments[0], implicit, active);
        let middle_flow = (self.front, self.back);
        let weight = step * f64x4::splat(W);
        let per_middle = f64x4::splat(1.0 / MIDDLE);
        for i in 0..self.nodes {
            let middle_rate = (self.new_heat[i] - self.target[i]) * per_implicit;
            self.middle_rate[i] = middle_rate;
            self.middle_t[i] = self.new_t[i];
            self.target[i] = self.heat[i] + weight * (self.rate[i] + middle_rate);
            // The parabola through start, its slope and the middle.
            let slope = step * self.slope[i];
            let bend = ((self.new_t[i] - self.t[i]) * per_middle - slope) * per_middle;
            let guess = self.t[i] + slope + bend;
            self.new_t[i] = guess.fast_max(self.new_t[i] * 0.5).fast_min(self.new_t[i] * 2.0).fast_max(floor).fast_min(ceiling);
        }
        let second = self.stage(exposed, &moments[1], implicit, active);
        for i in 0..self.nodes {
            self.new_rate[i] = (self.new_heat[i] - self.target[i]) * per_implicit;
        }
        Stepped { settled: [0, 1, 2, 3].map(|lane| first[lane] && second[lane]), middle_flow }
    }

    /// The estimated error of the step by lane: the largest over the nodes, K.
    pub fn error(&mut self, h: [f64; LANES]) -> [f64; LANES] {
        let step = f64x4::new(h);
        let [a, b, c] = ERROR.map(|weight| step * f64x4::splat(weight));
        let n = self.nodes;
        let mut above = zero();
        for i in 0..n {
            let gap = a * self.rate[i] + b * self.middle_rate[i] + c * self.new_rate[i];
            above = gap - self.lower[i] * above;
            self.change[i] = above;
        }
        let mut inward = zero();
        let mut most = zero();
        for i in (0..n).rev() {
            inward = (self.change[i] - self.upper[i] * inward) * self.pivot[i];
            most = most.fast_max(inward.abs());
        }
        most.to_array()
    }

    /// Makes the new state the state, in the lanes of `taken`.
    pub fn accept(&mut self, taken: [bool; LANES]) {
        if taken == [true; LANES] {
            std::mem::swap(&mut self.t, &mut self.new_t);
            std::mem::swap(&mut self.heat, &mut self.new_heat);
            std::mem::swap(&mut self.rate, &mut self.new_rate);
            std::mem::swap(&mut self.capacity, &mut self.new_capacity);
            return;
        }
        let taken = mask(taken);
        for i in 0..self.nodes {
            self.t[i] = taken.blend(self.new_t[i], self.t[i]);
            self.heat[i] = taken.blend(self.new_heat[i], self.heat[i]);
            self.rate[i] = taken.blend(self.new_rate[i], self.rate[i]);
            self.capacity[i] = taken.blend(self.new_capacity[i], self.capacity[i]);
        }
    }

    /// Newton's method for `heat - implicit * rate = target` from the guess in `new_t`.
    fn stage(&mut self, exposed: &[Exposed; LANES], moments: &[Moment; LANES], implicit: f64x4, active: [bool; LANES]) -> [bool; LANES] {
        for layer in &mut self.layers {
            for (lane, moment) in moments.iter().enumerate() {
                let (row, share) = layer.tables[lane].row(moment.log_pressure);
                layer.rows[lane] = &layer.tables[lane].rows[row];
                layer.shares[lane] = share;
            }
        }
        let mut open = active;
        let mut settled = [false; LANES];
        for iteration in 0..ITERATIONS {
            // The first round fills every lane; later ones leave the settled lanes as they are.
            let changes = if iteration == 0 {
                self.iterate::<false>(exposed, moments, implicit, [true; LANES])
            } else {
                self.iterate::<true>(exposed, moments, implicit, open)
            };
            for lane in 0..LANES {
                if open[lane] && changes[lane] <= SETTLED_K {
                    settled[lane] = true;
                }
                open[lane] = open[lane] && !settled[lane] && changes[lane].is_finite();
            }
            if open == [false; LANES] {
                break;
            }
        }
        settled
    }

    /// One iteration: looks up, assembles and eliminates in one pass inward, solves in one pass outward. Returns the largest changes.
    fn iterate<const MASKED: bool>(
        &mut self,
        exposed: &[Exposed; LANES],
        moments: &[Moment; LANES],
        implicit: f64x4,
        open: [bool; LANES],
    ) -> [f64; LANES] {
        let n = self.nodes;
        let open_mask = mask(open);
        let put = |to: &mut f64x4, value: f64x4| *to = if MASKED { open_mask.blend(value, *to) } else { value };
        let layers = &self.layers[..];
        let (sides, links, target) = (&self.sides[..n], &self.link[..n], &self.target[..n]);
        let (masses_outer, masses_inner) = (&self.mass_outer[..n], &self.mass_inner[..n]);
        let (new_t, new_heat, new_capacity) = (&mut self.new_t[..n], &mut self.new_heat[..n], &mut self.new_capacity[..n]);
        let (lowers, uppers, pivots, changes) = (&mut self.lower[..n], &mut self.upper[..n], &mut self.pivot[..n], &mut self.change[..n]);
        let face_t = new_t[0].to_array();
        let back_t = new_t[n - 1].to_array();
        let mut front = [(0.0, 0.0); LANES];
        let mut back = [(0.0, 0.0); LANES];
        for lane in 0..LANES {
            if open[lane] {
                front[lane] = exposed[lane].inflow(&moments[lane], self.wall, face_t[lane]);
                back[lane] = exposed[lane].back_inflow(&moments[lane], back_t[lane]);
            }
        }
        let pair = |pairs: &[(f64, f64); LANES]| (f64x4::new(pairs.map(|pair| pair.0)), f64x4::new(pairs.map(|pair| pair.1)));
        let (front_q, front_slope) = pair(&front);
        let (back_q, back_slope) = pair(&back);
        let one = f64x4::splat(1.0);

        let (mut k_outer, mut potential_outer) = (zero(), zero());
        let mut t_outer = zero();
        // The row before the one at hand, still without its inward link.
        let (mut diagonal, mut right, mut lower) = (zero(), zero(), zero());
        // The eliminated row before that.
        let (mut done_upper, mut done_pivot, mut done_right) = (zero(), zero(), zero());
        for i in 0..n {
            let t = new_t[i];
            let (outer, inner) = look_at(layers, sides[i], t);
            let (mass_outer, mass_inner) = (masses_outer[i], masses_inner[i]);
            let heat = mass_outer * outer[1] + mass_inner * inner[1];
            let capacity = mass_outer * outer[0] + mass_inner * inner[0];
            put(&mut new_heat[i], heat);
            put(&mut new_capacity[i], capacity);
            let own = target[i] - heat;
            if i == 0 {
                diagonal = capacity - implicit * front_slope;
                right = own + implicit * front_q;
            } else {
                let link = implicit * links[i];
                let (flow, by_outer, by_inner) = if sides[i].contact_outer {
                    ((t_outer - t) * link, link, link)
                } else {
                    ((potential_outer - outer[3]) * link, k_outer * link, outer[2] * link)
                };
                // Finish and eliminate the row before.
                let factor = lower * done_pivot;
                let pivot = one / (diagonal + by_outer - factor * done_upper);
                let value = right - flow - factor * done_right;
                put(&mut lowers[i - 1], factor);
                put(&mut uppers[i - 1], -by_inner);
                put(&mut pivots[i - 1], pivot);
                changes[i - 1] = value;
                (done_upper, done_pivot, done_right) = (-by_inner, pivot, value);
                diagonal = capacity + by_inner;
                right = own + flow;
                lower = -by_outer;
            }
            (k_outer, potential_outer, t_outer) = (inner[2], inner[3], t);
        }
        let factor = lower * done_pivot;
        let pivot = one / (diagonal - implicit * back_slope - factor * done_upper);
        let value = right + implicit * back_q - factor * done_right;
        put(&mut lowers[n - 1], factor);
        put(&mut uppers[n - 1], zero());
        put(&mut pivots[n - 1], pivot);

        let mut change = value * pivot;
        let last_change = change;
        let mut most = zero();
        for i in (0..n).rev() {
            if i + 1 < n {
                // Masked lanes read their own kept rows, and their change is thrown away.
                change = (changes[i] - uppers[i] * change) * pivots[i];
            }
            most = most.fast_max(change.abs());
            let t = new_t[i];
            let moved = (t + change).fast_max(t * 0.5).fast_min(t * 2.0).fast_min(f64x4::splat(HIGHEST_K));
            put(&mut new_t[i], moved);
            let heat = new_heat[i] + new_capacity[i] * change;
            put(&mut new_heat[i], heat);
        }
        let (change, last_change) = (change.to_array(), last_change.to_array());
        for lane in 0..LANES {
            if open[lane] {
                self.front[lane] = front[lane].0 + front[lane].1 * change[lane];
                self.back[lane] = back[lane].0 + back[lane].1 * last_change[lane];
            }
        }
        // A change that is no number counts as unbounded.
        let known = most.cmp_le(f64x4::splat(f64::MAX));
        known.blend(most, f64x4::splat(f64::INFINITY)).to_array()
    }
}

/// What a step tells besides the new state.
pub(super) struct Stepped {
    pub settled: [bool; LANES],
    /// Heat through front and back at the middle stage.
    pub middle_flow: ([f64; LANES], [f64; LANES]),
}

/// The layers on the two sides of a node at its temperature.
#[inline(always)]
fn look_at(layers: &[LaneLayer], sides: Sides, t: f64x4) -> (Looked, Looked) {
    let nothing = [zero(); 4];
    match (sides.outer, sides.inner) {
        (Some(outer), Some(inner)) if outer == inner => {
            let looked = look(&layers[outer as usize], t);
            (looked, looked)
        }
        (outer, inner) => (
            outer.map_or(nothing, |layer| look(&layers[layer as usize], t)),
            inner.map_or(nothing, |layer| look(&layers[layer as usize], t)),
        ),
    }
}

#[inline(always)]
fn look(layer: &LaneLayer, t: f64x4) -> Looked {
    let place = (t * f64x4::splat(1.0 / STEP_K)).fast_max(zero()).fast_min(f64x4::splat((POINTS - 1) as f64 - 1e-9)).to_array();
    let (mut c, mut e, mut k, mut p) = ([0.0; LANES], [0.0; LANES], [0.0; LANES], [0.0; LANES]);
    for lane in 0..LANES {
        let i = (place[lane] as i32 as usize).min(POINTS - 1);
        let share = place[lane] - i as f64;
        let Cell { here, rise } = &layer.rows[lane][i];
        let above = layer.shares[lane];
        let middle = (here.value + rise.value * above) + (here.half_rise + rise.half_rise * above) * share;
        let value = (middle + (here.half_rise + rise.half_rise * above) * share).to_array();
        let integral = ((here.integral + rise.integral * above) + middle * (share * STEP_K)).to_array();
        (c[lane], k[lane]) = (value[0], value[1]);
        (e[lane], p[lane]) = (integral[0], integral[1]);
    }
    [f64x4::new(c), f64x4::new(e), f64x4::new(k), f64x4::new(p)]
}
