//! What a face of a stack meets: heating, flux, temperature, convection, radiation, nothing.

use crate::document::Curve;

/// Stefan-Boltzmann constant, W/m2K4 (CODATA 2018, exact by the SI).
pub const STEFAN_BOLTZMANN: f64 = 5.670374419e-8;

/// The enthalpy of air at the wall, J/kg, 0 at 0 K, and its slope over temperature, J/kgK.
pub trait WallEnthalpy {
    fn at(&self, temperature_k: f64, pressure_pa: f64) -> (f64, f64);
}

/// Air in chemical equilibrium, from the `air` room.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct EquilibriumAir;

impl WallEnthalpy for EquilibriumAir {
    fn at(&self, temperature_k: f64, pressure_pa: f64) -> (f64, f64) {
        let [enthalpy, slope] = crate::air::equilibrium::enthalpy_and_slope(temperature_k, pressure_pa);
        (enthalpy, slope)
    }
}

/// Air and warm surroundings that come in after an entry.
#[derive(Debug, Clone, PartialEq)]
pub struct Ground {
    /// How far they have come in, 0 to 1 over time.
    pub share: Curve,
    pub air_k: f64,
    pub h_w_m2k: f64,
}

/// One face. Curves run over time; heat counts positive into the stack.
#[derive(Debug, Clone, PartialEq)]
pub enum Face {
    Adiabatic,
    Temperature(Curve),
    /// A given flux in W/m2 and radiation (emissivity 0: none).
    Flux {
        flux_w_m2: Curve,
        emissivity: f64,
        surroundings_k: f64,
    },
    /// Convective heating of a cold wall, in W/m2; hot-wall corrected where the recovery enthalpy (J/kg) is given.
    Heating {
        cold_wall_w_m2: Curve,
        recovery_enthalpy_j_kg: Option<Curve>,
        emissivity: f64,
        surroundings_k: f64,
        factor: f64,
        /// The ground's air, where the run goes on after landing.
        ground: Option<Ground>,
    },
    Convection {
        h_w_m2k: Curve,
        ambient_k: Curve,
    },
    Radiation {
        emissivity: f64,
        surroundings_k: f64,
    },
}

impl Face {
    /// The face's temperature where it is prescribed.
    pub fn held_at(&self, time_s: f64) -> Option<f64> {
        if let Face::Temperature(curve) = self { Some(curve.value_at(time_s)) } else { None }
    }

    /// Heat into the stack in W/m2 and its slope over the face's temperature in W/m2K; zero where the temperature is prescribed.
    pub fn inflow(&self, time_s: f64, pressure_pa: f64, temperature_k: f64, wall: &dyn WallEnthalpy) -> (f64, f64) {
        match self {
            Face::Adiabatic | Face::Temperature(_) => (0.0, 0.0),
            Face::Flux { flux_w_m2, emissivity, surroundings_k } => {
                let (q, slope) = radiation(*emissivity, *surroundings_k, temperature_k);
                (flux_w_m2.value_at(time_s) + q, slope)
            }
            Face::Heating { cold_wall_w_m2, recovery_enthalpy_j_kg, emissivity, surroundings_k, factor, ground } => {
                let (mut q, mut slope) = radiation(*emissivity, *surroundings_k, temperature_k);
                if let Some(ground) = ground {
                    let share = ground.share.value_at(time_s);
                    let air = ground.air_k;
                    q += share * (emissivity * STEFAN_BOLTZMANN * air * air * air * air + ground.h_w_m2k * (air - temperature_k));
                    slope -= share * ground.h_w_m2k;
                }
                let cold = factor * cold_wall_w_m2.value_at(time_s);
                match recovery_enthalpy_j_kg {
                    None => (cold + q, slope),
                    Some(recovery) => {
                        let recovery = recovery.value_at(time_s);
                        let (enthalpy, heat) = wall.at(temperature_k, pressure_pa);
                        (cold * (1.0 - enthalpy / recovery) + q, slope - cold * heat / recovery)
                    }
                }
            }
            Face::Convection { h_w_m2k, ambient_k } => {
                let h = h_w_m2k.value_at(time_s);
                (h * (ambient_k.value_at(time_s) - temperature_k), -h)
            }
            Face::Radiation { emissivity, surroundings_k } => radiation(*emissivity, *surroundings_k, temperature_k),
        }
    }

    /// The times at which one of the face's tables has a point.
    pub fn knots(&self) -> Vec<&Curve> {
        match self {
            Face::Adiabatic | Face::Radiation { .. } => vec![],
            Face::Temperature(curve) | Face::Flux { flux_w_m2: curve, .. } => vec![curve],
            Face::Heating { cold_wall_w_m2, recovery_enthalpy_j_kg, ground, .. } => {
                let share = ground.as_ref().map(|ground| &ground.share);
                std::iter::once(cold_wall_w_m2).chain(recovery_enthalpy_j_kg).chain(share).collect()
            }
            Face::Convection { h_w_m2k, ambient_k } => vec![h_w_m2k, ambient_k],
        }
    }
}

fn radiation(emissivity: f64, surroundings_k: f64, temperature_k: f64) -> (f64, f64) {
    let cube = temperature_k * temperature_k * temperature_k;
    let far = surroundings_k * surroundings_k * surroundings_k * surroundings_k;
    (emissivity * STEFAN_BOLTZMANN * (far - cube * temperature_k), -4.0 * emissivity * STEFAN_BOLTZMANN * cube)
}
