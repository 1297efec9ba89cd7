//! Air in chemical equilibrium at one temperature and pressure, solved from its species' partition functions.
//!
//! Unknowns are the element potentials (N, O, Ar, electron) over kT, in which every partial pressure is an exponential; the equations are
//! the total pressure, the element ratios and charge neutrality, all in logarithms, so that nothing underflows at 50 K.

use super::species::{COUNT, GAS_CONSTANT, SPECIES, Thermal};

/// Mole fractions of N2, O2 and Ar in cold air: U.S. Standard Atmosphere 1976, table 3; carbon dioxide and traces (0.03 %) left out.
const COLD_FRACTIONS: [f64; 3] = [0.78084, 0.209476, 0.00934];
const SUM: f64 = COLD_FRACTIONS[0] + COLD_FRACTIONS[1] + COLD_FRACTIONS[2];
/// Atoms of N, O, Ar per molecule of cold air.
const ATOMS: [f64; 3] = [2.0 * COLD_FRACTIONS[0] / SUM, 2.0 * COLD_FRACTIONS[1] / SUM, COLD_FRACTIONS[2] / SUM];
/// Molar mass of cold air, kg/mol.
pub const COLD_MOLAR_MASS: f64 = (COLD_FRACTIONS[0] * 0.0280134 + COLD_FRACTIONS[1] * 0.0319988 + COLD_FRACTIONS[2] * 0.039948) / SUM;

/// Equilibrium air.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mixture {
    /// 0 at 0 K.
    pub enthalpy_j_kg: f64,
    /// Moles per mole of cold air, 1 where nothing dissociates.
    pub compressibility: f64,
    /// Mole fractions in the order of [`SPECIES`].
    pub fractions: [f64; COUNT],
}

/// Solves for the mixture at `temperature_k` (20 to 50,000 K) and `pressure_pa` (1e-4 to 1e10 Pa).
///
/// The iteration ends where no equation is off by more than 1e-13 in its logarithm, or after 200 damped Newton steps (the tests cover the
/// range on a grid and hold it to 1e-9).
pub fn mixture(temperature_k: f64, pressure_pa: f64) -> Mixture {
    let mut thermal = [Thermal::default(); COUNT];
    for (value, species) in thermal.iter_mut().zip(&SPECIES) {
        *value = species.thermal(temperature_k);
    }
    mixture_of(&thermal, pressure_pa)
}

/// As [`mixture`], from the species' values at the temperature (shared by many pressures).
pub fn mixture_of(thermal: &[Thermal; COUNT], pressure_pa: f64) -> Mixture {
    let log_pressure = libm::log(pressure_pa);
    let mut potential = start(thermal, log_pressure);
    let mut logs = [0.0; COUNT];
    for _ in 0..200 {
        for ((log, species), value) in logs.iter_mut().zip(&SPECIES).zip(thermal) {
            *log = value.log_pressure
                + species.elements[0] * potential[0]
                + species.elements[1] * potential[1]
                + species.elements[2] * potential[2]
                - species.charge * potential[3];
        }
        // Each group: ln of a weighted sum, and its gradient over the potentials.
        let all = group(&logs, |_| 1.0);
        let nitrogen = group(&logs, |i| SPECIES[i].elements[0]);
        let oxygen = group(&logs, |i| SPECIES[i].elements[1]);
        let argon = group(&logs, |i| SPECIES[i].elements[2]);
        let positive = group(&logs, |i| SPECIES[i].charge.max(0.0));
        let electron = group(&logs, |i| (-SPECIES[i].charge).max(0.0));
        let residual = [
            log_pressure - all.0,
            libm::log(ATOMS[0] / ATOMS[1]) - (nitrogen.0 - oxygen.0),
            libm::log(ATOMS[0] / ATOMS[2]) - (nitrogen.0 - argon.0),
            -(positive.0 - electron.0),
        ];
        let difference = |a: &[f64; 4], b: &[f64; 4]| [a[0] - b[0], a[1] - b[1], a[2] - b[2], a[3] - b[3]];
        let matrix = [all.1, difference(&nitrogen.1, &oxygen.1), difference(&nitrogen.1, &argon.1), difference(&positive.1, &electron.1)];
        let step = solve(matrix, residual);
        let largest = step.iter().fold(0.0_f64, |m, s| m.max(s.abs()));
        let damping = if largest > 2.0 { 2.0 / largest } else { 1.0 };
        for (value, change) in potential.iter_mut().zip(step) {
            *value += damping * change;
        }
        if largest < 1e-13 * (1.0 + potential.iter().fold(0.0_f64, |m, s| m.max(s.abs()))) {
            break;
        }
    }
    let (mut particles, mut nitrogen, mut enthalpy, mut mass) = (0.0, 0.0, 0.0, 0.0);
    let mut fractions = [0.0; COUNT];
    for i in 0..COUNT {
        let share = libm::exp(logs[i] - log_pressure);
        fractions[i] = share;
        particles += share;
        nitrogen += SPECIES[i].elements[0] * share;
        enthalpy += share * thermal[i].enthalpy_k;
        mass += share * SPECIES[i].molar_mass;
    }
    Mixture { enthalpy_j_kg: enthalpy * GAS_CONSTANT / mass, compressibility: ATOMS[0] * particles / nitrogen, fractions }
}

/// Potentials as if the dominant species of each element were already known: the smaller of bound and free.
fn start(thermal: &[Thermal; COUNT], log_pressure: f64) -> [f64; 4] {
    let at = |name: &str| SPECIES.iter().position(|s| s.name == name).map_or(0.0, |i| thermal[i].log_pressure);
    let share = |i: usize| libm::log(ATOMS[i] / 2.0) + log_pressure;
    let nitrogen = (0.5 * (share(0) - at("N2"))).min(share(0) - at("N"));
    let oxygen = (0.5 * (share(1) - at("O2"))).min(share(1) - at("O"));
    let argon = share(2) - at("Ar");
    // Electrons from the easiest ion, never more than half the pressure.
    let mut best = f64::NEG_INFINITY;
    for (i, species) in SPECIES.iter().enumerate().filter(|(_, s)| s.charge == 1.0) {
        let elements = species.elements[0] * nitrogen + species.elements[1] * oxygen + species.elements[2] * argon;
        best = best.max(0.5 * (thermal[i].log_pressure + elements - at("e-")));
    }
    [nitrogen, oxygen, argon, best.min(log_pressure - libm::log(2.0) - at("e-"))]
}

/// ln of the weighted sum of exponentials, and its gradient over the four potentials.
fn group(logs: &[f64; COUNT], weight: impl Fn(usize) -> f64) -> (f64, [f64; 4]) {
    let largest = (0..COUNT).filter(|i| weight(*i) > 0.0).fold(f64::NEG_INFINITY, |m, i| m.max(logs[i]));
    let (mut sum, mut gradient) = (0.0, [0.0; 4]);
    for i in 0..COUNT {
        let w = weight(i);
        if w > 0.0 && logs[i] > largest - 60.0 {
            let term = w * libm::exp(logs[i] - largest);
            sum += term;
            for (g, a) in gradient.iter_mut().zip(SPECIES[i].elements) {
                *g += term * a;
            }
            gradient[3] -= term * SPECIES[i].charge;
        }
    }
    (largest + libm::log(sum), gradient.map(|g| g / sum))
}

/// Gaussian elimination with row pivoting; a singular system gives a zero step in the lost direction.
fn solve(mut a: [[f64; 4]; 4], mut b: [f64; 4]) -> [f64; 4] {
    for k in 0..4 {
        let pivot = (k..4).max_by(|i, j| a[*i][k].abs().total_cmp(&a[*j][k].abs())).unwrap_or(k);
        a.swap(k, pivot);
        b.swap(k, pivot);
        if a[k][k].abs() < 1e-300 {
            continue;
        }
        let pivot_row = a[k];
        for i in k + 1..4 {
            let factor = a[i][k] / pivot_row[k];
            for (value, above) in a[i].iter_mut().zip(pivot_row).skip(k) {
                *value -= factor * above;
            }
            b[i] -= factor * b[k];
        }
    }
    let mut x = [0.0; 4];
    for k in (0..4).rev() {
        let rest: f64 = (k + 1..4).map(|j| a[k][j] * x[j]).sum();
        x[k] = if a[k][k].abs() < 1e-300 { 0.0 } else { (b[k] - rest) / a[k][k] };
    }
    x
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_elements_charge_and_pressure_are_kept() {
        for temperature in [30.0, 50.0, 300.0, 1500.0, 2500.0, 4000.0, 7000.0, 12000.0, 20000.0, 30000.0] {
            for exponent in -3..10 {
                let mixture = mixture(temperature, libm::pow(10.0, exponent as f64));
                let total = |f: &dyn Fn(usize) -> f64| (0..COUNT).map(|i| mixture.fractions[i] * f(i)).sum::<f64>();
                let nitrogen = total(&|i| SPECIES[i].elements[0]);
                assert!((total(&|_| 1.0) - 1.0).abs() < 1e-9, "{temperature} {exponent}");
                assert!((nitrogen / total(&|i| SPECIES[i].elements[1]) / (ATOMS[0] / ATOMS[1]) - 1.0).abs() < 1e-9);
                assert!((nitrogen / total(&|i| SPECIES[i].elements[2]) / (ATOMS[0] / ATOMS[2]) - 1.0).abs() < 1e-9);
                assert!(total(&|i| SPECIES[i].charge).abs() < 1e-9);
            }
        }
    }
}
