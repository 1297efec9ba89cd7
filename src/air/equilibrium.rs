//! Enthalpy of air in chemical equilibrium: 0 at 0 K, dissociated where it dissociates.
//!
//! Everything here reads one table, `equilibrium.bin`, computed by `composition` from partition functions (a test below computes it
//! again and compares): 0 to 6,000 K every 50 K, on to 30,000 K every 250 K, pressures 1e-3 to 1e9 Pa at three a decade. Between its
//! points: cubic in ln p, cubic with continuous slope in T. Against a direct solution the interpolated enthalpy is within 0.1 %
//! from 1 Pa up (`verif_table_against_direct_solution`). Outside, pressure is held and temperature clamped, which the callers' ranges avoid.

use super::composition::COLD_MOLAR_MASS;
use super::species::GAS_CONSTANT;

static TABLE: &[u8] = include_bytes!("equilibrium.bin");

/// Specific gas constant of cold air, J/(kg K).
pub const COLD_GAS_CONSTANT: f64 = GAS_CONSTANT / COLD_MOLAR_MASS;
/// Temperature steps of the lower and the upper part, K.
const FINE_K: f64 = 50.0;
const COARSE_K: f64 = 250.0;
/// Points of the lower part, 0 K included; its last is the upper part's first.
const FINE: usize = 121;
const COARSE: usize = 96;
const TEMPERATURES: usize = FINE + COARSE;
const PER_DECADE: f64 = 3.0;
const LOG10_LOW: f64 = -3.0;
const PRESSURES: usize = 37;
/// Stored as whole multiples above 1: the moles per mole of cold air.
const COMPRESSIBILITY_STEPS: f64 = 13000.0;
/// The highest temperature that the table answers, K.
pub const HIGHEST_K: f64 = FINE_K * (FINE - 1) as f64 + COARSE_K * COARSE as f64;

/// The temperature of a row of the table.
fn temperature_of(row: usize) -> f64 {
    if row < FINE { FINE_K * row as f64 } else { FINE_K * (FINE - 1) as f64 + COARSE_K * (row + 1 - FINE) as f64 }
}

/// Which four columns of pressure, and their cubic Lagrange weights.
#[derive(Debug, Clone, Copy)]
struct Pressure {
    column: usize,
    weights: [f64; 4],
}

impl Pressure {
    fn at(pressure_pa: f64) -> Pressure {
        let position = (libm::log10(pressure_pa.max(1e-30)) - LOG10_LOW) * PER_DECADE;
        let position = position.clamp(0.0, (PRESSURES - 1) as f64);
        let column = (position as usize).saturating_sub(1).min(PRESSURES - 4);
        let x = position - column as f64;
        let (a, b, c) = (x - 1.0, x - 2.0, x - 3.0);
        Pressure { column, weights: [-a * b * c / 6.0, x * b * c / 2.0, -x * a * c / 2.0, x * a * b / 6.0] }
    }

    fn enthalpy(&self, row: usize) -> f64 {
        let start = 4 * (row * PRESSURES + self.column);
        let mut sum = 0.0;
        for (cell, weight) in TABLE.get(start..start + 16).unwrap_or(&[]).chunks_exact(4).zip(self.weights) {
            sum += weight * f32::from_le_bytes([cell[0], cell[1], cell[2], cell[3]]) as f64;
        }
        sum
    }

    fn compressibility(&self, row: usize) -> f64 {
        let start = 4 * TEMPERATURES * PRESSURES + 2 * (row * PRESSURES + self.column);
        let mut sum = 0.0;
        for (cell, weight) in TABLE.get(start..start + 8).unwrap_or(&[]).chunks_exact(2).zip(self.weights) {
            sum += weight * u16::from_le_bytes([cell[0], cell[1]]) as f64;
        }
        1.0 + sum / COMPRESSIBILITY_STEPS
    }
}

/// The first of two rows around a temperature, the share between them, and their distance in K.
fn rows_around(temperature_k: f64) -> (usize, f64, f64) {
    let fine = FINE_K * (FINE - 1) as f64;
    let (row, position, step) = if temperature_k < fine {
        let position = temperature_k.max(0.0) / FINE_K;
        (position as usize, position - (position as usize) as f64, FINE_K)
    } else {
        let position = ((temperature_k - fine) / COARSE_K).min(COARSE as f64);
        let whole = (position as usize).min(COARSE - 1);
        (FINE - 1 + whole, position - whole as f64, COARSE_K)
    };
    (row, position, step)
}

/// Slope per K at a row from its neighbours: fourth order inside each part, second order next to an end, one-sided at the last row.
fn slope_at(value: &impl Fn(usize) -> f64, row: usize, zero_slope: f64) -> f64 {
    if row == 0 {
        zero_slope
    } else if row == TEMPERATURES - 1 {
        (value(row) - value(row - 1)) / COARSE_K
    } else if row == FINE - 1 {
        // Unequal neighbours: the parabola through the three.
        let (before, after) = ((value(row) - value(row - 1)) / FINE_K, (value(row + 1) - value(row)) / COARSE_K);
        (before * COARSE_K + after * FINE_K) / (FINE_K + COARSE_K)
    } else {
        let step = if row < FINE { FINE_K } else { COARSE_K };
        let near = (value(row + 1) - value(row - 1)) / (2.0 * step);
        if row == 1 || row == TEMPERATURES - 2 || row == FINE - 2 || row == FINE {
            near
        } else {
            near + (near - (value(row + 2) - value(row - 2)) / (4.0 * step)) / 3.0
        }
    }
}

/// Cubic Hermite on [0, 1] stretched over `step`: value and slope at `share`.
fn hermite(share: f64, step: f64, low: [f64; 2], high: [f64; 2]) -> [f64; 2] {
    let rise = (high[0] - low[0]) / step;
    let c2 = 3.0 * rise - 2.0 * low[1] - high[1];
    let c3 = low[1] + high[1] - 2.0 * rise;
    [low[0] + step * share * (low[1] + share * (c2 + share * c3)), low[1] + share * (2.0 * c2 + 3.0 * share * c3)]
}

/// Specific enthalpy, J/kg, and its slope in temperature at constant pressure, J/(kg K).
///
/// `temperature_k` 0 to 30,000, `pressure_pa` 1e-3 to 1e9 (held outside).
pub fn enthalpy_and_slope(temperature_k: f64, pressure_pa: f64) -> [f64; 2] {
    let pressure = Pressure::at(pressure_pa);
    enthalpy_in(&pressure, temperature_k)
}

fn enthalpy_in(pressure: &Pressure, temperature_k: f64) -> [f64; 2] {
    let (row, share, step) = rows_around(temperature_k);
    let value = |row: usize| pressure.enthalpy(row);
    let slope = |row: usize| slope_at(&value, row, 3.5 * COLD_GAS_CONSTANT);
    hermite(share, step, [value(row), slope(row)], [value(row + 1), slope(row + 1)])
}

/// Specific enthalpy, J/kg; see [`enthalpy_and_slope`].
pub fn enthalpy(temperature_k: f64, pressure_pa: f64) -> f64 {
    enthalpy_and_slope(temperature_k, pressure_pa)[0]
}

/// Moles per mole of cold air; 1 where nothing dissociates, 2 for atoms. Within 2e-3.
pub fn compressibility(temperature_k: f64, pressure_pa: f64) -> f64 {
    compressibility_in(&Pressure::at(pressure_pa), temperature_k)
}

fn compressibility_in(pressure: &Pressure, temperature_k: f64) -> f64 {
    let (row, share, step) = rows_around(temperature_k);
    let value = |row: usize| pressure.compressibility(row);
    hermite(share, step, [value(row), slope_at(&value, row, 0.0)], [value(row + 1), slope_at(&value, row + 1, 0.0)])[0]
}

/// Density, kg/m3, from temperature and pressure.
pub fn density(temperature_k: f64, pressure_pa: f64) -> f64 {
    pressure_pa / (compressibility(temperature_k, pressure_pa) * COLD_GAS_CONSTANT * temperature_k)
}

/// The temperature, K, at which air of this pressure has the enthalpy; 0 to [`HIGHEST_K`], clamped.
pub fn temperature(enthalpy_j_kg: f64, pressure_pa: f64) -> f64 {
    temperature_in(&Pressure::at(pressure_pa), enthalpy_j_kg)
}

fn temperature_in(pressure: &Pressure, enthalpy_j_kg: f64) -> f64 {
    if enthalpy_j_kg <= 0.0 {
        return 0.0;
    }
    let (mut low, mut high) = (0, TEMPERATURES - 1);
    if enthalpy_j_kg >= pressure.enthalpy(high) {
        return HIGHEST_K;
    }
    while high - low > 1 {
        let middle = (low + high) / 2;
        if pressure.enthalpy(middle) <= enthalpy_j_kg { low = middle } else { high = middle }
    }
    let (mut below, mut above) = (temperature_of(low), temperature_of(high));
    let mut guess = 0.5 * (below + above);
    for _ in 0..60 {
        let [value, slope] = enthalpy_in(pressure, guess);
        if value > enthalpy_j_kg {
            above = guess
        } else {
            below = guess
        }
        let newton = guess - (value - enthalpy_j_kg) / slope;
        if (newton - guess).abs() <= 1e-12 * guess {
            return newton;
        }
        let next = if newton > below && newton < above { newton } else { 0.5 * (below + above) };
        guess = next;
    }
    guess
}

/// Air of one pressure and enthalpy.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gas {
    pub temperature_k: f64,
    pub pressure_pa: f64,
    pub density_kg_m3: f64,
    pub enthalpy_j_kg: f64,
    /// Speed of sound of the reacting mixture in equilibrium, m/s.
    pub sound_speed_m_s: f64,
}

impl Gas {
    /// From enthalpy and pressure. Density within 0.3 %.
    pub fn at(enthalpy_j_kg: f64, pressure_pa: f64) -> Gas {
        let density_of = |enthalpy_j_kg: f64, pressure_pa: f64| {
            let pressure = Pressure::at(pressure_pa);
            let temperature_k = temperature_in(&pressure, enthalpy_j_kg);
            (temperature_k, pressure_pa / (compressibility_in(&pressure, temperature_k) * COLD_GAS_CONSTANT * temperature_k.max(1e-3)))
        };
        let (temperature_k, density_kg_m3) = density_of(enthalpy_j_kg, pressure_pa);
        // (d rho/d p)_s = (d rho/d p)_h + (d rho/d h)_p / rho, because dh = dp/rho along an isentrope.
        const SHARE: f64 = 0.02;
        let by_pressure = (density_of(enthalpy_j_kg, pressure_pa * (1.0 + SHARE)).1
            - density_of(enthalpy_j_kg, pressure_pa * (1.0 - SHARE)).1)
            / (2.0 * SHARE * pressure_pa);
        let by_enthalpy = (density_of(enthalpy_j_kg * (1.0 + SHARE), pressure_pa).1
            - density_of(enthalpy_j_kg * (1.0 - SHARE), pressure_pa).1)
            / (2.0 * SHARE * enthalpy_j_kg);
        let inverse = by_pressure + by_enthalpy / density_kg_m3;
        let sound_speed_m_s = if inverse > 0.0 { (1.0 / inverse).sqrt() } else { (1.4 * pressure_pa / density_kg_m3).sqrt() };
        Gas { temperature_k, pressure_pa, density_kg_m3, enthalpy_j_kg, sound_speed_m_s }
    }

    /// The isentropic exponent (d ln p / d ln rho)_s: 1.4 in cold air, 1.1 to 1.3 in dissociating air.
    pub fn isentropic_exponent(&self) -> f64 {
        self.sound_speed_m_s * self.sound_speed_m_s * self.density_kg_m3 / self.pressure_pa
    }
}

/// Enthalpy over temperature at one pressure: value and slope every 50 K from 0 to 6,000 K, cubic between, linear beyond either end.
///
/// Made in about a microsecond and evaluated in a few nanoseconds; the same numbers as [`enthalpy_and_slope`] up to 6,000 K.
#[derive(Debug, Clone, PartialEq)]
pub struct EnthalpyCurve {
    /// Value (J/kg) and slope (J/(kg K)) at each node.
    nodes: Vec<[f64; 2]>,
}

impl EnthalpyCurve {
    /// Distance of the nodes, K.
    pub const STEP_K: f64 = FINE_K;

    /// The curve at `pressure_pa` (1e-3 to 1e9 Pa, held outside).
    pub fn at_pressure(pressure_pa: f64) -> EnthalpyCurve {
        let pressure = Pressure::at(pressure_pa);
        let mut values = [0.0; FINE + 2];
        for (row, value) in values.iter_mut().enumerate() {
            *value = pressure.enthalpy(row);
        }
        let value = |row: usize| values[row.min(FINE + 1)];
        let nodes = (0..FINE).map(|row| [value(row), slope_at(&value, row, 3.5 * COLD_GAS_CONSTANT)]).collect();
        EnthalpyCurve { nodes }
    }

    /// Value (J/kg) and slope (J/(kg K)) at the nodes, for evaluation in lanes: node i stands at i times [`Self::STEP_K`].
    pub fn nodes(&self) -> &[[f64; 2]] {
        &self.nodes
    }

    /// Enthalpy, J/kg, and its slope, J/(kg K), at `temperature_k`.
    pub fn value_and_slope(&self, temperature_k: f64) -> (f64, f64) {
        let position = temperature_k * (1.0 / FINE_K);
        let row = (position.max(0.0) as usize).min(FINE - 2);
        let share = position - row as f64;
        let (Some(low), Some(high)) = (self.nodes.get(row), self.nodes.get(row + 1)) else { return (0.0, 0.0) };
        if share > 1.0 {
            return (high[0] + (share - 1.0) * FINE_K * high[1], high[1]);
        }
        if share < 0.0 {
            return (low[0] + share * FINE_K * low[1], low[1]);
        }
        let [value, slope] = hermite(share, FINE_K, *low, *high);
        (value, slope)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::air::composition::{mixture, mixture_of};
    use crate::air::species::{COUNT, SPECIES, Thermal};

    /// The table as `equilibrium.bin` holds it, computed from the partition functions.
    fn compute() -> (Vec<f32>, Vec<u16>) {
        let (mut enthalpies, mut compressibilities) = (Vec::new(), Vec::new());
        for row in 0..TEMPERATURES {
            let mut thermal = [Thermal::default(); COUNT];
            for (value, species) in thermal.iter_mut().zip(&SPECIES) {
                *value = species.thermal(temperature_of(row).max(1.0));
            }
            for column in 0..PRESSURES {
                if row == 0 {
                    enthalpies.push(0.0);
                    compressibilities.push(0);
                    continue;
                }
                let mixture = mixture_of(&thermal, libm::pow(10.0, LOG10_LOW + column as f64 / PER_DECADE));
                enthalpies.push(mixture.enthalpy_j_kg as f32);
                compressibilities.push(libm::round((mixture.compressibility - 1.0).max(0.0) * COMPRESSIBILITY_STEPS) as u16);
            }
        }
        (enthalpies, compressibilities)
    }

    /// `TILEGLOW_WRITE_TABLES=1 cargo test --lib equilibrium` writes the file again.
    #[test]
    fn verif_table_is_what_the_definition_gives() {
        let (enthalpies, compressibilities) = compute();
        let mut bytes: Vec<u8> = enthalpies.iter().flat_map(|v| v.to_le_bytes()).collect();
        bytes.extend(compressibilities.iter().flat_map(|v| v.to_le_bytes()));
        if std::env::var_os("TILEGLOW_WRITE_TABLES").is_some() {
            std::fs::write(concat!(env!("CARGO_MANIFEST_DIR"), "/src/air/equilibrium.bin"), &bytes).unwrap();
            return;
        }
        assert!(bytes == TABLE, "equilibrium.bin is not what composition.rs gives");
    }

    #[test]
    fn verif_table_against_direct_solution() {
        for (low, limit, limit_z) in [(0.0, 1e-3, 2e-3), (-3.0, 5e-3, 5e-3)] {
            let (mut worst, mut worst_z) = ((0.0, 0.0, 0.0), (0.0, 0.0, 0.0));
            for i in 0..120 {
                let temperature = 75.0 * libm::exp(i as f64 / 119.0 * libm::log(20000.0 / 75.0));
                for j in 0..40 {
                    let pressure = libm::pow(10.0, low + j as f64 / 39.0 * (8.0 - low));
                    let direct = mixture(temperature, pressure);
                    let error = (enthalpy(temperature, pressure) / direct.enthalpy_j_kg - 1.0).abs();
                    let error_z = (compressibility(temperature, pressure) / direct.compressibility - 1.0).abs();
                    if error > worst.0 {
                        worst = (error, temperature, pressure);
                    }
                    if error_z > worst_z.0 {
                        worst_z = (error_z, temperature, pressure);
                    }
                }
            }
            println!("from 1e{low} Pa: enthalpy {worst:?}, compressibility {worst_z:?}");
            assert!(worst.0 < limit && worst_z.0 < limit_z, "{worst:?} {worst_z:?}");
        }
    }

    #[test]
    fn verif_inverse_slope_and_curve() {
        for pressure in [1e-3, 1.0, 3170.0, 1e5, 1e8] {
            let curve = EnthalpyCurve::at_pressure(pressure);
            let mut last = -1.0;
            for i in 0..400 {
                let at = 7.3 + 60.0 * i as f64;
                let [value, slope] = enthalpy_and_slope(at, pressure);
                assert!(value > last, "monotone at {at} K, {pressure} Pa");
                last = value;
                assert!((temperature(value, pressure) / at - 1.0).abs() < 1e-9, "{at} {pressure}");
                let difference = (enthalpy(at + 0.01, pressure) - enthalpy(at - 0.01, pressure)) / 0.02;
                assert!((difference / slope - 1.0).abs() < 1e-4, "{at} {pressure}: {difference} {slope}");
                if at < 5850.0 {
                    let (curve_value, curve_slope) = curve.value_and_slope(at);
                    assert!((curve_value / value - 1.0).abs() < 1e-12 && (curve_slope / slope - 1.0).abs() < 1e-9, "{at}");
                }
            }
            assert_eq!(curve.value_and_slope(0.0).0, 0.0);
        }
    }

    /// Cold air has the perfect gas's exponent and speed of sound.
    #[test]
    fn verif_cold_gas_is_perfect() {
        let gas = Gas::at(enthalpy(300.0, 101325.0), 101325.0);
        assert!((gas.temperature_k - 300.0).abs() < 1e-6);
        assert!((gas.isentropic_exponent() - 1.4).abs() < 0.005, "{}", gas.isentropic_exponent());
        assert!((gas.sound_speed_m_s - 347.2).abs() < 1.0, "{}", gas.sound_speed_m_s);
    }
}
