//! Stagnation heating of the reference sphere: three published relations, side by side.

use crate::air::equilibrium::{Gas, density};
use crate::air::viscosity::viscosity;
pub use crate::flight::sutton_graves;

/// Prandtl number of air in these relations.
pub const PRANDTL: f64 = 0.71;

/// Cold-wall stagnation-point heating of a sphere, W/m2, by Detra, Kemp and Riddell, Jet Propulsion 27 (1957): 17600 / sqrt(radius in
/// ft) sqrt(density / 1.225) (speed / 26000 ft/s)^3.15 Btu/(ft2 s). Constants from memory. Range: about 2 to 8 km/s.
pub fn detra_kemp_riddell(density_kg_m3: f64, speed_m_s: f64, nose_radius_m: f64) -> f64 {
    const FOOT_M: f64 = 0.3048;
    const BTU_FT2S: f64 = 11356.53;
    let share = speed_m_s.max(0.0) / (26000.0 * FOOT_M);
    17600.0 * BTU_FT2S / (nose_radius_m / FOOT_M).sqrt() * (density_kg_m3.max(0.0) / 1.225).sqrt() * libm::pow(share, 3.15)
}

/// What Fay and Riddell's relation needs at the stagnation point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StagnationPoint {
    /// Free-stream pressure and the pressure behind the shock, brought to rest.
    pub free_pressure_pa: f64,
    pub pressure_pa: f64,
    pub total_enthalpy_j_kg: f64,
    pub wall_temperature_k: f64,
    pub wall_enthalpy_j_kg: f64,
}

/// Stagnation-point heating of a sphere, W/m2, by Fay and Riddell, J. Aero. Sci. 25 (1958), equation 63 for equilibrium air at Lewis number 1:
/// 0.763 Pr^-0.6 (rho_e mu_e)^0.4 (rho_w mu_w)^0.1 sqrt(du/dx) (h_s - h_w), with the Newtonian gradient sqrt(2 (p_s - p) / rho_s) / radius.
/// Leading coefficient from memory.
///
/// Edge properties are those of equilibrium air at the stagnation point. A Lewis number of 1.4 would add 5 to 10 %.
pub fn fay_riddell(point: &StagnationPoint, nose_radius_m: f64) -> f64 {
    let edge = Gas::at(point.total_enthalpy_j_kg, point.pressure_pa);
    let wall_density = density(point.wall_temperature_k, point.pressure_pa);
    let gradient = (2.0 * (point.pressure_pa - point.free_pressure_pa).max(0.0) / edge.density_kg_m3).sqrt() / nose_radius_m;
    0.763
        * libm::pow(PRANDTL, -0.6)
        * libm::pow(edge.density_kg_m3 * viscosity(edge.temperature_k), 0.4)
        * libm::pow(wall_density * viscosity(point.wall_temperature_k), 0.1)
        * gradient.sqrt()
        * (point.total_enthalpy_j_kg - point.wall_enthalpy_j_kg)
}

/// The relations at one flight point, for the same sphere; their spread is shown as spread and is not an uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SideBySide {
    pub sutton_graves_w_m2: f64,
    pub detra_kemp_riddell_w_m2: f64,
    /// `None` where the free stream has no temperature.
    pub fay_riddell_w_m2: Option<f64>,
}

impl SideBySide {
    /// Largest over smallest, less 1.
    pub fn spread_fraction(&self) -> f64 {
        let mut low = self.sutton_graves_w_m2.min(self.detra_kemp_riddell_w_m2);
        let mut high = self.sutton_graves_w_m2.max(self.detra_kemp_riddell_w_m2);
        if let Some(value) = self.fay_riddell_w_m2 {
            low = low.min(value);
            high = high.max(value);
        }
        if low > 0.0 { high / low - 1.0 } else { 0.0 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::air::shock::stagnation;

    /// At 71 km, 7,200 m/s, 1 m: the relation's own value (constants from memory).
    #[test]
    fn val_detra_kemp_riddell() {
        let value = detra_kemp_riddell(7.19652e-5, 7200.0, 1.0);
        assert!((value / 625235.0 - 1.0).abs() < 0.005, "{value}");
        assert!((sutton_graves(7.19652e-5, 1.0, 7200.0) / value - 1.0).abs() < 0.2);
    }

    /// Tauber, Menees and Adelman, AIAA 84-0510: 1.83e-4 (constant from memory), a band of 10 %.
    #[test]
    fn val_tauber() {
        assert!((sutton_graves(7.19652e-5, 1.0, 7200.0) / 579442.0 - 1.0).abs() < 0.1);
    }

    /// Fay and Riddell against Sutton and Graves (NASA TR R-376 states its relation within some 10 % of exact solutions), at flight points
    /// where both hold.
    #[test]
    fn val_fay_riddell_against_sutton_graves() {
        for (density, pressure, temperature, speed) in
            [(7.19652e-5, 4.47956, 216.846, 7200.0), (2.73213e-4, 19.1575, 244.273, 5500.0), (1.02688e-3, 79.7791, 270.65, 3500.0)]
        {
            let still = stagnation(density, pressure, 1004.5 * temperature, speed);
            let point = StagnationPoint {
                free_pressure_pa: pressure,
                pressure_pa: still.pressure_pa,
                total_enthalpy_j_kg: still.enthalpy_j_kg,
                wall_temperature_k: 300.0,
                wall_enthalpy_j_kg: 3.0e5,
            };
            let cold = fay_riddell(&point, 1.0) * still.enthalpy_j_kg / (still.enthalpy_j_kg - 3.0e5);
            let ratio = cold / sutton_graves(density, 1.0, speed);
            println!("{speed} m/s: Fay-Riddell over Sutton-Graves {ratio:.3}");
            assert!((ratio - 1.0).abs() < 0.2, "{speed}: {ratio}");
        }
    }

    #[test]
    fn verif_no_speed_no_heating() {
        assert_eq!(detra_kemp_riddell(1.0, 0.0, 1.0), 0.0);
        assert_eq!(detra_kemp_riddell(1.0, -5.0, 1.0), 0.0);
    }
}
