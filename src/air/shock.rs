//! Normal-shock relations: perfect gas of ratio 1.4 (NACA Report 1135, 1953), and air in chemical equilibrium.

use super::equilibrium::Gas;

/// Ratio of specific heats of cold air.
pub const GAMMA: f64 = 1.4;

/// Pressure ratio across a normal shock, `mach` from 1 (NACA Report 1135, equation 93).
pub fn pressure_ratio(mach: f64) -> f64 {
    (2.0 * GAMMA * mach * mach - (GAMMA - 1.0)) / (GAMMA + 1.0)
}

/// Density ratio across a normal shock, `mach` from 1 (equation 94).
pub fn density_ratio(mach: f64) -> f64 {
    let square = mach * mach;
    (GAMMA + 1.0) * square / ((GAMMA - 1.0) * square + 2.0)
}

/// Temperature ratio across a normal shock, `mach` from 1 (equation 95).
pub fn temperature_ratio(mach: f64) -> f64 {
    pressure_ratio(mach) / density_ratio(mach)
}

/// Stagnation pressure over free-stream static pressure: behind a normal shock where supersonic (Rayleigh, equation 100),
/// isentropic below Mach 1 (equation 44).
pub fn pitot_ratio(mach: f64) -> f64 {
    let square = mach * mach;
    if mach <= 1.0 {
        return libm::pow(1.0 + 0.5 * (GAMMA - 1.0) * square, GAMMA / (GAMMA - 1.0));
    }
    libm::pow(0.5 * (GAMMA + 1.0) * square, GAMMA / (GAMMA - 1.0)) * libm::pow(1.0 / pressure_ratio(mach), 1.0 / (GAMMA - 1.0))
}

/// Stagnation pressure coefficient behind a normal shock, perfect gas; 1 to 1.84. Towards `mach` 0 it tends to 1.
pub fn cp_max(mach: f64) -> f64 {
    if mach < 1e-3 {
        return 1.0;
    }
    let mach = mach.min(1e6);
    (pitot_ratio(mach) - 1.0) / (0.5 * GAMMA * mach * mach)
}

/// Where a stream is brought to rest behind a normal shock.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stagnation {
    /// Just behind the shock (the free stream itself where it is subsonic).
    pub behind: Gas,
    /// Speed behind the shock relative to it, m/s.
    pub behind_speed_m_s: f64,
    pub pressure_pa: f64,
    pub enthalpy_j_kg: f64,
}

impl Stagnation {
    /// (stagnation pressure - free-stream pressure) over dynamic pressure.
    pub fn pressure_coefficient(&self, pressure_pa: f64, dynamic_pressure_pa: f64) -> f64 {
        if dynamic_pressure_pa > 0.0 { (self.pressure_pa - pressure_pa) / dynamic_pressure_pa } else { 1.0 }
    }
}

/// Air in chemical equilibrium behind a normal shock and brought to rest isentropically.
///
/// Free-stream density (kg/m3), pressure (Pa), static enthalpy (J/kg, 0 at 0 K) and speed (m/s). Conservation of mass, momentum and energy with
/// the equilibrium density, iterated on the density ratio (Anderson, Hypersonic and High-Temperature Gas Dynamics, section 14.3) to
/// 1e-10; the last compression uses the local isentropic exponent, constant over the few per cent that are left. Pressure within 0.3 %
/// of the perfect gas up to Mach 2; equilibrium is an assumption: above about 80 km the shock layer falls short of it, which the
/// stagnation pressure hardly feels.
pub fn stagnation(density_kg_m3: f64, pressure_pa: f64, enthalpy_j_kg: f64, speed_m_s: f64) -> Stagnation {
    let total = enthalpy_j_kg + 0.5 * speed_m_s * speed_m_s;
    let sound = (GAMMA * pressure_pa / density_kg_m3).sqrt();
    if speed_m_s <= sound {
        let behind = Gas {
            temperature_k: super::equilibrium::temperature(enthalpy_j_kg, pressure_pa),
            pressure_pa,
            density_kg_m3,
            enthalpy_j_kg,
            sound_speed_m_s: sound,
        };
        let pressure_pa = pressure_pa * pitot_ratio(speed_m_s / sound);
        return Stagnation { behind, behind_speed_m_s: speed_m_s, pressure_pa, enthalpy_j_kg: total };
    }
    let mut ratio = 1.0 / density_ratio(speed_m_s / sound);
    let mut behind = None;
    for _ in 0..100 {
        let pressure = pressure_pa + density_kg_m3 * speed_m_s * speed_m_s * (1.0 - ratio);
        let enthalpy = enthalpy_j_kg + 0.5 * speed_m_s * speed_m_s * (1.0 - ratio * ratio);
        let gas_temperature = super::equilibrium::temperature(enthalpy, pressure);
        let next = density_kg_m3 / super::equilibrium::density(gas_temperature, pressure);
        let change = (next - ratio).abs();
        // Close to Mach 1 the plain iteration would oscillate or leave the shock's branch.
        ratio = (0.5 * (ratio + next) + if ratio < 0.5 { 0.5 * (next - ratio) } else { 0.0 }).clamp(1e-3, 1.0);
        behind = Some((enthalpy, pressure));
        if change < 1e-10 {
            break;
        }
    }
    let (enthalpy, pressure) = behind.unwrap_or((enthalpy_j_kg, pressure_pa));
    let gas = Gas::at(enthalpy, pressure);
    let speed = ratio * speed_m_s;
    let exponent = gas.isentropic_exponent();
    let mach = speed / gas.sound_speed_m_s;
    let pressure_pa = pressure * libm::pow(1.0 + 0.5 * (exponent - 1.0) * mach * mach, exponent / (exponent - 1.0));
    Stagnation { behind: gas, behind_speed_m_s: speed, pressure_pa, enthalpy_j_kg: total }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::air::equilibrium;

    /// NACA Report 1135 (1953), tables for gamma 1.4, computed from its formulas.
    #[test]
    fn val_perfect_gas_relations() {
        for (mach, pressure, density, temperature) in [(5.0, 29.0, 5.0, 5.8), (10.0, 116.5, 5.71429, 20.3875)] {
            assert!((pressure_ratio(mach) / pressure - 1.0).abs() < 1e-5);
            assert!((density_ratio(mach) / density - 1.0).abs() < 1e-5);
            assert!((temperature_ratio(mach) / temperature - 1.0).abs() < 1e-5);
        }
        for (mach, ratio) in [(2.0, 5.64044), (5.0, 32.6535), (10.0, 129.217), (20.0, 515.484)] {
            assert!((pitot_ratio(mach) / ratio - 1.0).abs() < 1e-5);
        }
        assert!((cp_max(5.0) - 1.80877).abs() < 1e-5);
        assert!((cp_max(f64::INFINITY) - 1.83937).abs() < 1e-5);
    }

    #[test]
    fn verif_equilibrium_shock_tends_to_the_perfect_gas_and_conserves() {
        // At Mach 1.5 to 3 in cold air vibration is asleep.
        for mach in [0.5, 1.02, 1.2, 1.5, 2.0] {
            let (pressure, temperature) = (5000.0, 220.0);
            let density = equilibrium::density(temperature, pressure);
            let sound = (1.4 * pressure / density).sqrt();
            let got = stagnation(density, pressure, equilibrium::enthalpy(temperature, pressure), mach * sound);
            let ratio = got.pressure_pa / pressure;
            assert!((ratio / pitot_ratio(mach) - 1.0).abs() < 3e-3, "{mach}: {ratio} {}", pitot_ratio(mach));
        }
        for (density, pressure, enthalpy, speed) in
            [(7.19652e-5, 4.47956, 2.17e5, 7200.0), (1e-3, 79.0, 2.7e5, 3500.0), (1e-6, 0.04, 1.9e5, 11000.0)]
        {
            let got = stagnation(density, pressure, enthalpy, speed);
            let mass = got.behind.density_kg_m3 * got.behind_speed_m_s / (density * speed);
            assert!((mass - 1.0).abs() < 1e-6, "mass {mass}");
            let energy = got.behind.enthalpy_j_kg + 0.5 * got.behind_speed_m_s * got.behind_speed_m_s;
            assert!((energy / got.enthalpy_j_kg - 1.0).abs() < 1e-9);
            let cp = got.pressure_coefficient(pressure, 0.5 * density * speed * speed);
            assert!(cp > 1.84 && cp < 1.97, "{cp}");
        }
    }
}
