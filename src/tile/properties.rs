//! Properties as the transient needs them: each piecewise-linear table with its exact integral over temperature.
//!
//! Heat is carried as the integral of the specific heat, so that energy is conserved whatever the table; conduction is the
//! difference of the integral of the conductivity over the distance (Kirchhoff's transform; Carslaw and Jaeger, Conduction of
//! Heat in Solids, 2nd ed., section 1.6, section number from memory), exact for steady conduction through one layer.

use crate::document::Curve;
use crate::material::Conductivity;

/// A piecewise-linear function of temperature, constant outside its table, with its integral.
#[derive(Debug, Clone, PartialEq)]
pub struct Ramp {
    at: Vec<f64>,
    value: Vec<f64>,
    /// Integral from the first point to each point.
    integral: Vec<f64>,
}

impl Ramp {
    /// From points whose axis strictly increases; one point makes a constant. Both lists hold as many values, one at least.
    pub fn new(at: &[f64], value: &[f64]) -> Ramp {
        let mut integral = Vec::with_capacity(at.len());
        let mut sum = 0.0;
        for i in 0..at.len() {
            if i > 0 {
                sum += 0.5 * (value[i] + value[i - 1]) * (at[i] - at[i - 1]);
            }
            integral.push(sum);
        }
        Ramp { at: at.to_vec(), value: value.to_vec(), integral }
    }

    pub fn of(curve: &Curve) -> Ramp {
        match curve {
            Curve::Constant(value) => Ramp::new(&[0.0], &[*value]),
            Curve::Table(table) => Ramp::new(&table.at, &table.value),
        }
    }

    /// Value and integral at `x`.
    pub fn at(&self, x: f64) -> (f64, f64) {
        let last = self.at.len() - 1;
        if x <= self.at[0] {
            return (self.value[0], self.value[0] * (x - self.at[0]));
        }
        if x >= self.at[last] {
            return (self.value[last], self.integral[last] + self.value[last] * (x - self.at[last]));
        }
        let i = self.at.partition_point(|at| *at <= x) - 1;
        let dx = x - self.at[i];
        let value = self.value[i] + (self.value[i + 1] - self.value[i]) * (dx / (self.at[i + 1] - self.at[i]));
        (value, self.integral[i] + 0.5 * (self.value[i] + value) * dx)
    }
}

/// Where a pressure stands among the rows of a table: the row below and the share of the row above.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Blend {
    row: usize,
    share: f64,
}

/// Conductivity over temperature, and over the logarithm of pressure where it has rows.
#[derive(Debug, Clone, PartialEq)]
pub struct Conduction {
    /// Natural logarithm of each row's pressure in Pa; empty for a single row.
    log_pressure: Vec<f64>,
    rows: Vec<Ramp>,
}

impl Conduction {
    pub fn of(conductivity: &Conductivity) -> Conduction {
        match conductivity {
            Conductivity::Curve(curve) => Conduction { log_pressure: Vec::new(), rows: vec![Ramp::of(curve)] },
            Conductivity::Grid { temperature_k, pressure_pa, value } => Conduction {
                log_pressure: pressure_pa.iter().map(|p| libm::log(*p)).collect(),
                rows: value.iter().map(|row| Ramp::new(temperature_k, row)).collect(),
            },
        }
    }

    /// The rows that hold at `pressure_pa`: log-linear between, held outside (also at zero pressure).
    pub fn blend(&self, pressure_pa: f64) -> Blend {
        let n = self.log_pressure.len();
        if n < 2 || pressure_pa <= 0.0 {
            return Blend::default();
        }
        let x = libm::log(pressure_pa);
        if x <= self.log_pressure[0] {
            return Blend::default();
        }
        if x >= self.log_pressure[n - 1] {
            return Blend { row: n - 1, share: 0.0 };
        }
        let row = self.log_pressure.partition_point(|at| *at <= x) - 1;
        Blend { row, share: (x - self.log_pressure[row]) / (self.log_pressure[row + 1] - self.log_pressure[row]) }
    }

    /// Conductivity in W/mK and its integral over temperature in W/m.
    pub fn at(&self, temperature_k: f64, blend: Blend) -> (f64, f64) {
        let (k, potential) = self.rows[blend.row].at(temperature_k);
        if blend.share == 0.0 {
            return (k, potential);
        }
        let (above, above_potential) = self.rows[blend.row + 1].at(temperature_k);
        (k + blend.share * (above - k), potential + blend.share * (above_potential - potential))
    }
}

/// One solid layer, ready for the transient.
#[derive(Debug, Clone, PartialEq)]
pub struct Solid {
    pub thickness_m: f64,
    pub density_kg_m3: f64,
    pub specific_heat: Ramp,
    pub conduction: Conduction,
    /// Multiplies the conductivity; 1 for the material as tabulated.
    pub conductivity_scale: f64,
    /// Multiplies the specific heat.
    pub specific_heat_scale: f64,
}

impl Solid {
    /// Specific heat in J/kgK and its integral in J/kg.
    pub fn heat(&self, temperature_k: f64) -> (f64, f64) {
        let (c, e) = self.specific_heat.at(temperature_k);
        (c * self.specific_heat_scale, e * self.specific_heat_scale)
    }

    /// Conductivity in W/mK and its integral in W/m.
    pub fn conduct(&self, temperature_k: f64, blend: Blend) -> (f64, f64) {
        let (k, potential) = self.conduction.at(temperature_k, blend);
        (k * self.conductivity_scale, potential * self.conductivity_scale)
    }

    /// Thickness over the square root of the diffusivity, in s^0.5: how far apart its faces are for a thermal wave.
    pub fn wave_thickness(&self, temperature_k: f64, pressure_pa: f64) -> f64 {
        let (k, _) = self.conduct(temperature_k, self.conduction.blend(pressure_pa));
        let (c, _) = self.heat(temperature_k);
        self.thickness_m * (self.density_kg_m3 * c / k).sqrt()
    }
}

/// A layer of a stack, from the heated face inward.
#[derive(Debug, Clone, PartialEq)]
pub enum Layer {
    Solid(Solid),
    /// A contact without thickness.
    Joint {
        resistance_m2k_w: f64,
    },
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_the_integral_is_that_of_the_table_and_held_outside() {
        let ramp = Ramp::new(&[300.0, 500.0, 600.0], &[1.0, 3.0, 2.0]);
        for (x, value, integral) in
            [(200.0, 1.0, -100.0), (400.0, 2.0, 150.0), (500.0, 3.0, 400.0), (550.0, 2.5, 537.5), (700.0, 2.0, 850.0)]
        {
            assert_eq!(ramp.at(x), (value, integral), "{x}");
        }
    }

    #[test]
    fn verif_conductivity_is_linear_in_the_logarithm_of_pressure() {
        let grid = Conductivity::Grid {
            temperature_k: vec![300.0, 500.0],
            pressure_pa: vec![10.0, 1000.0],
            value: vec![vec![0.01, 0.03], vec![0.05, 0.07]],
        };
        let conduction = Conduction::of(&grid);
        for (pressure, want) in [(0.0, 0.02), (1.0, 0.02), (10.0, 0.02), (100.0, 0.04), (1000.0, 0.06), (1e6, 0.06)] {
            let (k, _) = conduction.at(400.0, conduction.blend(pressure));
            assert!((k - want).abs() < 1e-15, "{pressure}: {k}");
        }
    }
}
