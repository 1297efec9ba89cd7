//! A material's properties on one uniform grid of temperature, ready for lanes: two numbers at a time, quadratic where integrated.
//!
//! The tables of the library are piecewise linear with their own points; here they are read at every 25 K and taken linear between,
//! which cuts their corners a little (what it does to temperatures is within the stated error: `verif_the_stated_error_covers_the_true_one`
//! compares with the tables as they are). The integrals are those of the gridded values, so that energy stays exact.

use crate::air::equilibrium::EnthalpyCurve;
use crate::material::{Conductivity, Material};
use crate::tile::properties::{Conduction, Ramp};
use wide::f64x2;

pub(super) const STEP_K: f64 = 25.0;
pub(super) const POINTS: usize = 141;
pub(super) const HIGHEST_K: f64 = STEP_K * (POINTS - 1) as f64;

/// One cell of temperature in one row of pressure: polynomials in the share of the cell, constant to quadratic.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Cell {
    /// Specific heat and its integral.
    pub heat: [f64x2; 3],
    /// Conductivity and its integral.
    pub low: [f64x2; 3],
    /// What the next row of pressure adds to `low`.
    pub rise: [f64x2; 3],
}

/// A material gridded for the batch solver; made once a material and shared by all tiles.
#[derive(Debug, Clone, PartialEq)]
pub struct MaterialTable {
    /// `rows[pressure][temperature]`.
    pub(super) rows: Vec<[Cell; POINTS]>,
    log_pressure: Vec<f64>,
    specific_heat: Ramp,
    conduction: Conduction,
}

impl MaterialTable {
    pub fn of(material: &Material) -> MaterialTable {
        MaterialTable::new(Ramp::of(&material.specific_heat_j_kgk), &material.conductivity_w_mk)
    }

    fn new(specific_heat: Ramp, conductivity: &Conductivity) -> MaterialTable {
        let conduction = Conduction::of(conductivity);
        let pressures = match conductivity {
            Conductivity::Grid { pressure_pa, .. } => pressure_pa.clone(),
            Conductivity::Curve(_) => vec![1.0],
        };
        let at = |i: usize| STEP_K * i as f64;
        let heat = cells(&|i| specific_heat.at(at(i)).0);
        let rows: Vec<[[f64x2; 3]; POINTS]> = pressures
            .iter()
            .map(|pressure| {
                let blend = conduction.blend(*pressure);
                cells(&|i| conduction.at(at(i), blend).0)
            })
            .collect();
        let zero = [f64x2::splat(0.0); 3];
        let tables = rows.iter().enumerate().map(|(row, low)| {
            let mut table = [Cell { heat: zero, low: zero, rise: zero }; POINTS];
            for (i, cell) in table.iter_mut().enumerate() {
                let rise = rows.get(row + 1).map_or(zero, |next| [0, 1, 2].map(|part| next[i][part] - low[i][part]));
                *cell = Cell { heat: heat[i], low: low[i], rise };
            }
            table
        });
        MaterialTable { rows: tables.collect(), log_pressure: pressures.iter().map(|p| libm::log(*p)).collect(), specific_heat, conduction }
    }

    /// The row at or below a pressure, given by its logarithm, and the share of the next: held outside.
    pub(super) fn row(&self, log_pressure: f64) -> (usize, f64) {
        let at = &self.log_pressure;
        let mut row = 0;
        while row + 1 < at.len() && at[row + 1] <= log_pressure {
            row += 1;
        }
        let share = if row + 1 < at.len() { (log_pressure - at[row]) / (at[row + 1] - at[row]) } else { 0.0 };
        (row, share.max(0.0))
    }

    /// Root of density times specific heat over conductivity, s^0.5/m, for grids.
    pub(super) fn wave_per_m(&self, density_kg_m3: f64, temperature_k: f64, pressure_pa: f64) -> f64 {
        let (k, _) = self.conduction.at(temperature_k, self.conduction.blend(pressure_pa));
        (density_kg_m3 * self.specific_heat.at(temperature_k).0 / k).sqrt()
    }

    /// Conductivity, W/mK.
    pub(super) fn conductivity(&self, temperature_k: f64, pressure_pa: f64) -> f64 {
        self.conduction.at(temperature_k, self.conduction.blend(pressure_pa)).0
    }
}

/// The value and its integral from 0 K in each cell, as polynomials of the share.
fn cells(value: &dyn Fn(usize) -> f64) -> [[f64x2; 3]; POINTS] {
    let mut cells = [[f64x2::splat(0.0); 3]; POINTS];
    let mut integral = 0.0;
    for (i, cell) in cells.iter_mut().enumerate() {
        let (low, high) = (value(i), value(i + 1));
        let rise = high - low;
        *cell = [f64x2::new([low, integral]), f64x2::new([rise, low * STEP_K]), f64x2::new([0.0, 0.5 * rise * STEP_K])];
        integral += 0.5 * (low + high) * STEP_K;
    }
    cells
}

const WALL_ROWS: usize = 9;

/// Enthalpy of air at the wall over temperature for each power of ten of pressure, 1e-2 to 1e6 Pa; log-linear between, held outside.
#[derive(Debug, Clone, PartialEq)]
pub struct WallTable {
    rows: Vec<EnthalpyCurve>,
}

impl Default for WallTable {
    fn default() -> Self {
        WallTable { rows: (0..WALL_ROWS).map(|i| EnthalpyCurve::at_pressure(libm::exp(LOG_TEN * (i as f64 - 2.0)))).collect() }
    }
}

const LOG_TEN: f64 = std::f64::consts::LN_10;

impl WallTable {
    /// Enthalpy, J/kg, and its slope, J/kgK.
    pub(super) fn at(&self, temperature_k: f64, log_pressure: f64) -> (f64, f64) {
        let place = (log_pressure * (1.0 / LOG_TEN) + 2.0).clamp(0.0, (WALL_ROWS - 1) as f64);
        let row = (place as usize).min(WALL_ROWS - 2);
        let share = place - row as f64;
        let (low, low_slope) = self.rows[row].value_and_slope(temperature_k);
        let (high, high_slope) = self.rows[row + 1].value_and_slope(temperature_k);
        (low + share * (high - low), low_slope + share * (high_slope - low_slope))
    }
}
