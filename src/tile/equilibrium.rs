//! Radiative equilibrium of a face: what it radiates equals what reaches it, less what its warm wall turns away.
//!
//! emissivity(T) sigma T^4 = cold-wall heating x (1 - h_w(T) / h_r), radiating to 0 K. The surface is taken as adiabatic towards the tile, so a
//! tile of low conductivity follows it within some 1 %; for a carbon hot structure, which radiates from its back too, it is an upper bound.
//!
//! Four faces at a time. Each lane has its own bracket and convergence test, so that a face's answer depends on nothing beside it. Stated error: the
//! last step of Halley's method, which converges cubically, is below 5e-4 of the temperature, so that what is left is below 1e-6 K or so
//! (`verif_residual`), far below the error of its inputs.

use crate::air::equilibrium::EnthalpyCurve;
use crate::document::Curve;
use std::cmp::Ordering;
use wide::{CmpGe, CmpGt, CmpLe, CmpLt, f64x4};

/// Stefan-Boltzmann constant, W/(m2 K4) (CODATA 2018).
pub const STEFAN_BOLTZMANN: f64 = 5.670374419e-8;

/// Steps at most; bisection alone would need 52.
const STEPS: usize = 60;
/// A lane is done when its step is below this share of its temperature.
const STEP_SHARE: f64 = 5e-4;

/// Enthalpy of air at a wall, as cubics over steps of temperature: what `EnthalpyCurve` is, laid out for lanes.
#[derive(Debug, Clone, PartialEq)]
pub struct WallEnthalpy {
    /// h = c0 + s (c1 + s (c2 + s c3)), s the share of the step; the last piece is the straight line beyond.
    pieces: Vec<[f64; 4]>,
}

impl WallEnthalpy {
    /// The curve at a pressure, Pa.
    pub fn at_pressure(pressure_pa: f64) -> WallEnthalpy {
        WallEnthalpy::from_curve(&EnthalpyCurve::at_pressure(pressure_pa))
    }

    pub fn from_curve(curve: &EnthalpyCurve) -> WallEnthalpy {
        let step = EnthalpyCurve::STEP_K;
        let nodes = curve.nodes();
        let mut pieces: Vec<[f64; 4]> = nodes
            .iter()
            .zip(nodes.iter().skip(1))
            .map(|([h0, d0], [h1, d1])| {
                let (d0, d1, rise) = (d0 * step, d1 * step, h1 - h0);
                [*h0, d0, 3.0 * rise - 2.0 * d0 - d1, d0 + d1 - 2.0 * rise]
            })
            .collect();
        if let Some([h, d]) = nodes.last() {
            pieces.push([*h, d * step, 0.0, 0.0]);
        }
        WallEnthalpy { pieces }
    }

    /// Enthalpy, J/kg, and its slope, J/(kg K), of one wall.
    pub fn value_and_slope(&self, temperature_k: f64) -> (f64, f64) {
        let (value, slope, _) = self.lanes(f64x4::splat(temperature_k));
        (value.to_array()[0], slope.to_array()[0])
    }

    /// Value, slope and the slope's slope.
    #[inline]
    fn lanes(&self, temperature_k: f64x4) -> (f64x4, f64x4, f64x4) {
        const PER_STEP: f64 = 1.0 / EnthalpyCurve::STEP_K;
        let position = (temperature_k * f64x4::splat(PER_STEP)).to_array();
        let mut share = [0.0; 4];
        let mut piece = [[0.0; 4]; 4];
        let last = self.pieces.len().saturating_sub(1);
        for lane in 0..4 {
            let index = (position[lane] as u32 as usize).min(last);
            share[lane] = position[lane] - index as u32 as f64;
            piece[lane] = self.pieces.get(index).copied().unwrap_or([0.0; 4]);
        }
        let [a, b, c, d] = piece;
        let column = |i: usize| f64x4::from([a[i], b[i], c[i], d[i]]);
        let (c0, c1, c2, c3) = (column(0), column(1), column(2), column(3));
        let s = f64x4::from(share);
        let (twice, thrice) = (c2 + c2, c3 + c3 + c3);
        (
            c0 + s * (c1 + s * (c2 + s * c3)),
            (c1 + s * (twice + s * thrice)) * f64x4::splat(PER_STEP),
            (twice + s * (thrice + thrice)) * f64x4::splat(PER_STEP * PER_STEP),
        )
    }
}

/// Hemispherical emissivity, constant or over temperature: linear between points, held outside.
#[derive(Debug, Clone, PartialEq)]
pub struct Emissivity {
    /// Value and slope from each point on; the first piece is what lies below the first point.
    pieces: Vec<Piece>,
    /// The piece that the temperature 25 K x i lies in.
    first: Vec<u16>,
    /// The smallest value: bounds the temperature from above.
    least: f64,
}

#[derive(Debug, Clone, Copy, PartialEq)]
struct Piece {
    from_k: f64,
    value: f64,
    slope: f64,
}

const INDEX_STEP_K: f64 = 25.0;
const INDEX_LENGTH: usize = 241;

impl Emissivity {
    pub fn constant(value: f64) -> Emissivity {
        let piece = Piece { from_k: 0.0, value, slope: 0.0 };
        Emissivity { pieces: vec![piece], first: Vec::new(), least: value }
    }

    /// From a material's curve; values above 0 to 1, a table over kelvins.
    pub fn from_curve(curve: &Curve) -> Emissivity {
        let table = match curve {
            Curve::Constant(value) => return Emissivity::constant(*value),
            Curve::Table(table) => table,
        };
        let mut pieces = vec![Piece { from_k: f64::NEG_INFINITY, value: table.value.first().copied().unwrap_or(1.0), slope: 0.0 }];
        let points = table.at.iter().copied().zip(table.value.iter().copied());
        for ((at, value), (next_at, next)) in points.clone().zip(points.skip(1)) {
            pieces.push(Piece { from_k: at, value, slope: (next - value) / (next_at - at) });
        }
        if let (Some(at), Some(value)) = (table.at.last(), table.value.last()) {
            pieces.push(Piece { from_k: *at, value: *value, slope: 0.0 });
        }
        let least = table.value.iter().copied().fold(1.0, f64::min);
        if pieces.iter().all(|piece| piece.slope == 0.0) {
            return Emissivity::constant(least);
        }
        let first = (0..INDEX_LENGTH)
            .map(|i| pieces.iter().rposition(|piece| piece.from_k <= INDEX_STEP_K * i as f64).unwrap_or(0) as u16)
            .collect();
        Emissivity { pieces, first, least }
    }

    /// Value and slope per K at a temperature.
    #[inline]
    pub fn value_and_slope(&self, temperature_k: f64) -> (f64, f64) {
        let start = (temperature_k * (1.0 / INDEX_STEP_K)) as u32 as usize;
        let mut index = self.first.get(start.min(INDEX_LENGTH - 1)).map_or(0, |first| *first as usize);
        while let Some(next) = self.pieces.get(index + 1) {
            if next.from_k > temperature_k {
                break;
            }
            index += 1;
        }
        match self.pieces.get(index) {
            Some(piece) if piece.slope != 0.0 => (piece.value + piece.slope * (temperature_k - piece.from_k), piece.slope),
            Some(piece) => (piece.value, 0.0),
            None => (1.0, 0.0),
        }
    }

    pub fn value_at(&self, temperature_k: f64) -> f64 {
        self.value_and_slope(temperature_k).0
    }

    fn is_constant(&self) -> bool {
        self.first.is_empty()
    }

    /// An order without meaning, for finding equal ones.
    pub fn order(&self, other: &Emissivity) -> Ordering {
        let key = |e: &Emissivity| e.pieces.iter().flat_map(|p| [p.from_k.to_bits(), p.value.to_bits()]).collect::<Vec<_>>();
        key(self).cmp(&key(other))
    }
}

/// Four faces' emissivities.
#[derive(Debug, Clone, Copy)]
pub struct EmissivityLanes<'a> {
    lanes: [&'a Emissivity; 4],
    least: f64x4,
    constant: bool,
}

impl<'a> EmissivityLanes<'a> {
    pub fn new(lanes: [&'a Emissivity; 4]) -> EmissivityLanes<'a> {
        EmissivityLanes { lanes, least: f64x4::from(lanes.map(|e| e.least)), constant: lanes.iter().all(|e| e.is_constant()) }
    }

    #[inline]
    fn at(&self, temperature_k: f64x4) -> (f64x4, f64x4) {
        if self.constant {
            return (self.least, f64x4::splat(0.0));
        }
        let t = temperature_k.to_array();
        let [a, b, c, d] = self.lanes;
        let (a, b, c, d) = (a.value_and_slope(t[0]), b.value_and_slope(t[1]), c.value_and_slope(t[2]), d.value_and_slope(t[3]));
        (f64x4::from([a.0, b.0, c.0, d.0]), f64x4::from([a.1, b.1, c.1, d.1]))
    }
}

/// Four faces in equilibrium.
#[derive(Debug, Clone, Copy)]
pub struct Balance {
    pub surface_k: f64x4,
    /// Heating that the warm wall still takes in: what it radiates, but where the temperature is the floor.
    pub hot_wall_w_m2: f64x4,
}

/// Solves four faces. `cold_wall_w_m2` is the heating of a wall at 0 K, `recovery_j_kg` the recovery enthalpy (0 at 0 K).
///
/// Where the balance lies below `floor_k`, or nothing heats the face, the answer is `floor_k`: the surface before the entry, which the
/// balance knows nothing of.
#[inline]
pub fn solve(cold_wall_w_m2: f64x4, recovery_j_kg: f64x4, emissivity: &EmissivityLanes, wall: &WallEnthalpy, floor_k: f64x4) -> Balance {
    let (zero, one) = (f64x4::splat(0.0), f64x4::splat(1.0));
    let sigma = f64x4::splat(STEFAN_BOLTZMANN);
    let cold = cold_wall_w_m2.fast_max(zero);
    let per_enthalpy = cold / recovery_j_kg.fast_max(one);
    // Without the hot-wall correction and with the least emissivity: above the root. Then one step of Halley on t^4 + x t = 1, the balance with air
    // of 955 + 0.09 T J/(kg K) in the mean from 0 K.
    let four = f64x4::splat(4.0);
    let mut high = (cold / (emissivity.least * sigma)).sqrt().sqrt();
    let mut low = zero;
    let x = (f64x4::splat(955.0) + f64x4::splat(0.09) * high) * high / recovery_j_kg.fast_max(one);
    let shallow = x / (four + x);
    let mut t = high * (one - shallow * (one + f64x4::splat(6.0) * shallow / (four + x))).fast_max(f64x4::splat(0.05));
    let mut active = cold.cmp_gt(zero);
    let (mut enthalpy, mut slope, mut bent, mut last) = (zero, zero, zero, t);
    for _ in 0..STEPS {
        if active.none() {
            break;
        }
        let (h, h_slope, h_bend) = wall.lanes(t);
        let (e, e_slope) = emissivity.at(t);
        let square = t * t;
        let cube = square * t;
        let excess = sigma * e * cube * t + per_enthalpy * h - cold;
        let steep = sigma * cube * (four * e + e_slope * t) + per_enthalpy * h_slope;
        let bend = sigma * square * (f64x4::splat(12.0) * e + f64x4::splat(8.0) * e_slope * t) + per_enthalpy * h_bend;
        let too_hot = excess.cmp_ge(zero);
        high = (active & too_hot).blend(t, high);
        low = (active & !too_hot).blend(t, low);
        let root = f64x4::splat(2.0) * steep * steep - excess * bend;
        let halley = t - f64x4::splat(2.0) * excess * steep / root;
        let inside = steep.cmp_gt(zero) & root.cmp_gt(zero) & halley.cmp_ge(low) & halley.cmp_le(high);
        let next = inside.blend(halley, (low + high) * f64x4::splat(0.5));
        let step = (next - t).abs();
        enthalpy = active.blend(h, enthalpy);
        slope = active.blend(h_slope, slope);
        bent = active.blend(h_bend, bent);
        last = active.blend(t, last);
        t = active.blend(next, t);
        active &= step.cmp_gt(t * f64x4::splat(STEP_SHARE));
    }
    let floor = floor_k;
    let cool = t.cmp_lt(floor) | !cold.cmp_gt(zero);
    let further = t - last;
    let mut at_wall = enthalpy + further * (slope + f64x4::splat(0.5) * bent * further);
    if cool.any() {
        let (held, _, _) = wall.lanes(floor);
        at_wall = cool.blend(held, at_wall);
        t = cool.blend(floor, t);
    }
    Balance { surface_k: t, hot_wall_w_m2: cold - per_enthalpy * at_wall }
}

/// One face: its temperature, K, and hot-wall heating, W/m2; see [`solve`].
pub fn solve_one(cold_wall_w_m2: f64, recovery_j_kg: f64, emissivity: &Emissivity, wall: &WallEnthalpy, floor_k: f64) -> (f64, f64) {
    let lanes = EmissivityLanes::new([emissivity; 4]);
    let balance = solve(f64x4::splat(cold_wall_w_m2), f64x4::splat(recovery_j_kg), &lanes, wall, f64x4::splat(floor_k));
    (balance.surface_k.to_array()[0], balance.hot_wall_w_m2.to_array()[0])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::document::Table;

    fn table(at: &[f64], value: &[f64]) -> Emissivity {
        Emissivity::from_curve(&Curve::Table(Table { axis: "temperature_k", at: at.to_vec(), value: value.to_vec() }))
    }

    /// Stefan-Boltzmann law, cold wall: a recovery enthalpy without bound.
    #[test]
    fn val_radiation_temperature() {
        let wall = WallEnthalpy::at_pressure(5000.0);
        for (w_cm2, want) in [(10.0, 1200.17), (20.0, 1427.25), (50.0, 1794.67), (100.0, 2134.24)] {
            let (got, _) = solve_one(w_cm2 * 1e4, 1e30, &Emissivity::constant(0.85), &wall, 0.0);
            assert!((got / want - 1.0).abs() < 1e-5, "{w_cm2}: {got}");
        }
    }

    /// Energy balance of the formats with thermally perfect air: temperatures of four flight points, `aero.csv`, within 0.5 %.
    #[test]
    fn val_hot_wall_temperatures() {
        for (density, speed, radius, emissivity, want, enthalpy) in [
            (7.19652e-5, 7200.0, 1.0, 0.85, 1802.8, 2.6137e7),
            (2.73213e-4, 5500.0, 1.0, 0.85, 1717.82, 1.5125e7 + 2.44e5),
            (1.8458e-5, 7500.0, 1.0, 0.85, 1574.77, 2.8125e7 + 1.98e5),
            (1.02688e-3, 3500.0, 1.0, 0.85, 1395.54, 6.125e6 + 2.7e5),
            (7.19652e-5, 7200.0, 0.5, 0.7, 2056.96, 2.6137e7),
        ] {
            let cold = crate::heating::reference::sutton_graves(density, radius, speed);
            let wall = WallEnthalpy::at_pressure(0.93 * density * speed * speed);
            let (got, _) = solve_one(cold, enthalpy, &Emissivity::constant(emissivity), &wall, 0.0);
            assert!((got / want - 1.0).abs() < 0.005, "{speed}: {got}");
        }
    }

    #[test]
    fn verif_residual() {
        let rcg = table(&[300.0, 1200.0, 1900.0], &[0.873, 0.85, 0.85]);
        let falling = table(&[300.0, 700.0, 1200.0, 2000.0], &[0.88, 0.60, 0.34, 0.20]);
        for emissivity in [Emissivity::constant(0.85), rcg, falling] {
            for pressure in [10.0, 5000.0, 1e5] {
                let wall = WallEnthalpy::at_pressure(pressure);
                for cold in [1.0, 50.0, 1e3, 2e4, 1e5, 6e5, 3e6] {
                    for recovery in [3.5e5, 1e6, 5e6, 2.6e7] {
                        let (t, hot) = solve_one(cold, recovery, &emissivity, &wall, 0.0);
                        let balance = |t: f64| {
                            emissivity.value_at(t) * STEFAN_BOLTZMANN * t.powi(4) - cold * (1.0 - wall.value_and_slope(t).0 / recovery)
                        };
                        let scale = (balance(t + 1.0) - balance(t - 1.0)) / 2.0;
                        assert!((balance(t) / scale).abs() < 2e-6, "{pressure} {cold} {recovery}: {t} off {} K", balance(t) / scale);
                        let radiated = emissivity.value_at(t) * STEFAN_BOLTZMANN * t.powi(4);
                        assert!((hot - radiated).abs() < 1e-7 * cold.max(radiated), "{hot} {radiated}");
                    }
                }
            }
        }
    }

    #[test]
    fn verif_the_wall_curve_is_the_air_rooms() {
        for pressure in [1.0, 4000.0, 1e5] {
            let (curve, wall) = (EnthalpyCurve::at_pressure(pressure), WallEnthalpy::at_pressure(pressure));
            for t in [0.0, 10.0, 300.0, 1234.5, 2500.0, 4999.9, 5975.0, 6500.0] {
                let (want, got) = (curve.value_and_slope(t), wall.value_and_slope(t));
                assert!((got.0 - want.0).abs() <= 1e-9 * want.0.abs().max(1.0), "{pressure} {t}: {got:?} {want:?}");
                assert!((got.1 - want.1).abs() <= 1e-9 * want.1.abs(), "{pressure} {t}: {got:?} {want:?}");
            }
        }
    }

    #[test]
    fn verif_emissivity_is_the_table() {
        let curve =
            Curve::Table(Table { axis: "temperature_k", at: vec![255.6, 366.7, 1644.4, 2200.0], value: vec![0.78, 0.8, 0.83, 0.54] });
        let emissivity = Emissivity::from_curve(&curve);
        for i in 0..300 {
            let t = i as f64 * 11.3;
            assert!((emissivity.value_at(t) - curve.value_at(t)).abs() < 1e-15, "{t}");
        }
    }

    #[test]
    fn verif_no_heat_is_the_floor_and_lanes_do_not_touch() {
        let wall = WallEnthalpy::at_pressure(1000.0);
        let e = Emissivity::constant(0.85);
        for cold in [0.0, -5.0] {
            assert_eq!(solve_one(cold, 1e6, &e, &wall, 300.0), (300.0, 0.0));
        }
        let f = table(&[300.0, 700.0, 1200.0, 2000.0], &[0.88, 0.60, 0.34, 0.20]);
        let (cold, recovery) = ([1e5, 0.0, 3e3, 6e5], [2e7, 1e6, 4e5, 2.6e7]);
        let together = solve(f64x4::from(cold), f64x4::from(recovery), &EmissivityLanes::new([&e, &f, &f, &e]), &wall, f64x4::splat(250.0));
        for (lane, emissivity) in [&e, &f, &f, &e].into_iter().enumerate() {
            let alone = solve_one(cold[lane], recovery[lane], emissivity, &wall, 250.0);
            assert_eq!(alone.0.to_bits(), together.surface_k.to_array()[lane].to_bits());
            assert_eq!(alone.1.to_bits(), together.hot_wall_w_m2.to_array()[lane].to_bits());
        }
    }
}
