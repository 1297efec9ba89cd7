//! A material's properties on one uniform grid of temperature, ready for lanes: two numbers at a time, quadratic where integrated.
//!
//! The tables of the library are piecewise linear with their own points; here they are read at every 25 K and taken linear between,
//! which cuts their corners a little (what it does to temperatures is within the stated error: `verif_the_stated_error_covers_the_true_one`
//! compares with the tables as they are). The integrals are those of the gridded values, so that energy stays exact.

use crate::air::equilibrium::EnthalpyCurve;
use crate::material::{Conductivity, Material};
use crate::tile::properties::{Conduction, Ramp};
use wide::f64x2;

pub(super) const STEP_K: f64 = 12.5;
pub(super) const POINTS: usize = 281;
pub(super) const HIGHEST_K: f64 = STEP_K * (POINTS - 1) as f64;

/// One cell of temperature in one row of pressure: specific heat and conductivity side by side, linear over the cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Cell {
    pub here: Part,
    /// What the next row of pressure adds; nothing to the specific heat.
    pub rise: Part,
}

/// Specific heat and conductivity in a cell: at its lower edge, half their rise over the cell, and their integrals from 0 K to its
/// lower edge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Part {
    pub value: f64x2,
    pub half_rise: f64x2,
    pub integral: f64x2,
}

impl Part {
    fn less(self, other: Part) -> Part {
        Part { value: self.value - other.value, half_rise: self.half_rise - other.half_rise, integral: self.integral - other.integral }
    }
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
        let rows: Vec<Vec<Part>> = pressures
            .iter()
            .map(|pressure| {
                let blend = conduction.blend(*pressure);
                parts(&|i| [specific_heat.at(at(i)).0, conduction.at(at(i), blend).0])
            })
            .collect();
        let tables = rows.iter().enumerate().map(|(row, low)| {
            let next = rows.get(row + 1).unwrap_or(low);
            std::array::from_fn(|i| Cell { here: low[i], rise: next[i].less(low[i]) })
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

/// The two values and their integrals in each cell.
fn parts(value: &dyn Fn(usize) -> [f64; 2]) -> Vec<Part> {
    let mut integral = f64x2::splat(0.0);
    (0..POINTS)
        .map(|i| {
            let (low, high) = (f64x2::new(value(i)), f64x2::new(value(i + 1)));
            let half_rise = (high - low) * 0.5;
            let part = Part { value: low, half_rise, integral };
            integral += (low + half_rise) * STEP_K;
            part
        })
        .collect()
}

const WALL_ROWS_A_DECADE: usize = 8;
const WALL_ROWS: usize = 8 * WALL_ROWS_A_DECADE + 1;
const LOWEST_WALL_DECADE: f64 = -2.0;

/// Enthalpy of air at the wall over temperature at eight pressures a decade, 1e-2 to 1e6 Pa; log-linear between, held outside. Rows a
/// decade apart put the surface of a tile at 2,150 K off by 1.4 K, where oxygen dissociates; eight leave a hundredth of that.
#[derive(Debug, Clone, PartialEq)]
pub struct WallTable {
    rows: Vec<EnthalpyCurve>,
}

impl Default for WallTable {
    fn default() -> Self {
        let decade = |row: usize| LOWEST_WALL_DECADE + row as f64 / WALL_ROWS_A_DECADE as f64;
        WallTable { rows: (0..WALL_ROWS).map(|row| EnthalpyCurve::at_pressure(libm::exp(LOG_TEN * decade(row)))).collect() }
    }
}

const LOG_TEN: f64 = std::f64::consts::LN_10;

impl WallTable {
    /// Enthalpy, J/kg, and its slope, J/kgK.
    pub(super) fn at(&self, temperature_k: f64, log_pressure: f64) -> (f64, f64) {
        const PER_LOG: f64 = WALL_ROWS_A_DECADE as f64 / LOG_TEN;
        const FIRST: f64 = -LOWEST_WALL_DECADE * WALL_ROWS_A_DECADE as f64;
        let place = (log_pressure * PER_LOG + FIRST).clamp(0.0, (WALL_ROWS - 1) as f64);
        let row = (place as usize).min(WALL_ROWS - 2);
        let share = place - row as f64;
        let (low, low_slope) = self.rows[row].value_and_slope(temperature_k);
        let (high, high_slope) = self.rows[row + 1].value_and_slope(temperature_k);
        (low + share * (high - low), low_slope + share * (high_slope - low_slope))
    }
}
