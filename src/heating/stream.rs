//! One moment of a flight as the heating sees it: where the wind comes from, what stagnates, and the gas at the edge of the boundary layer.

use super::catalysis::dissociated_share;
use super::place::wind;
use super::reference::{Relation, SideBySide, StagnationPoint, sutton_graves};
use crate::air::equilibrium::{self, Gas};
use crate::air::shock::{GAMMA, stagnation};
use crate::air::viscosity::viscosity;
use crate::flight::Sample;
use glam::DVec3;

/// Wall enthalpy in the reference enthalpy, J/kg: air at 1,000 K (Keenan and Kaye), at most half the total enthalpy. The factor is thus a
/// cold wall's; between walls of 300 and 1,700 K the laminar factor changes by less than 3 % at 7 km/s.
const REFERENCE_WALL_J_KG: f64 = 1.046e6;

/// The edge properties are taken at this share of the stagnation pressure: that of a windward face inclined about 40 degrees.
const EDGE_PRESSURE_SHARE: f64 = 0.4;

/// Shares of the kinetic energy at which the edge-gas fits are exact.
const NODES: [f64; 3] = [0.0, 0.45, 0.9];

/// Free-stream temperature where the flight has none (exponential atmosphere), K.
const ASSUMED_FREE_K: f64 = 250.0;

/// A parabola in the share of the free stream's kinetic energy that the edge keeps, 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Fit(pub [f64; 3]);

impl Fit {
    fn through(value: [f64; 3]) -> Fit {
        let [x0, x1, x2] = NODES;
        let first = (value[1] - value[0]) / (x1 - x0);
        let second = ((value[2] - value[1]) / (x2 - x1) - first) / (x2 - x0);
        Fit([value[0] - first * x0 + second * x0 * x1, first - second * (x0 + x1), second])
    }

    pub fn at(&self, share: f64) -> f64 {
        self.0[0] + share * (self.0[1] + share * self.0[2])
    }
}

/// One moment of a flight, computed once for all tiles. SI units.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Stream {
    pub time_s: f64,
    pub angle_of_attack_deg: f64,
    pub sideslip_deg: f64,
    /// Unit vector in which the stream blows, body axes.
    pub wind: DVec3,
    pub speed_m_s: f64,
    pub density_kg_m3: f64,
    pub mach: f64,
    pub pressure_pa: f64,
    /// Behind the normal shock, brought to rest, air in equilibrium.
    pub stagnation_pressure_pa: f64,
    /// Total: what the stagnation point recovers. 0 at 0 K.
    pub total_enthalpy_j_kg: f64,
    /// Cold-wall heating of the reference sphere and its radius.
    pub reference_heating_w_m2: f64,
    pub reference_radius_m: f64,
    /// 0 where the shock layer is not dissociated, 1 where it is fully: what a surface of low catalycity can save from.
    pub dissociation: f64,
    /// Velocity gradient of a stagnation point or line times its radius, m/s: sqrt(2 (p_0 - p) / rho_0), Newtonian.
    pub gradient_m_s: f64,
    /// Share of the total enthalpy that is dissociation at the stagnation point, 0 to 1.
    pub dissociated_share: f64,
    /// Over the share of kinetic energy at the edge: rho* mu* / p at the reference enthalpy (s/m x 1/m), rho* / (mu* p), a / mu, and
    /// p mu / (rho a), the last two at the edge.
    pub density_viscosity: Fit,
    pub reynolds: Fit,
    pub sound_over_viscosity: Fit,
    pub mach_length: Fit,
    /// Viscosity at the edge, Pa s.
    pub edge_viscosity: Fit,
}

impl Stream {
    /// The stream at a sample. `nose_radius_m` is the radius that the sample's reference heating belongs to.
    ///
    /// Edge gas: equilibrium air at 0.4 of the stagnation pressure; reference enthalpy 0.5 (h_w + h_e) + 0.22 (h_r - h_e) (Eckert, J. Aero.
    /// Sci. 22 (1955)) with Pr^(1/2) recovery. A sample without speed or density heats nothing.
    pub fn at(sample: &Sample, nose_radius_m: f64) -> Stream {
        let speed_m_s = sample.speed_m_s.max(0.0);
        let density_kg_m3 = sample.density_kg_m3.max(0.0);
        let free_k = match sample.temperature_k {
            Some(kelvin) if kelvin > 0.0 => kelvin,
            _ => ASSUMED_FREE_K,
        };
        let pressure_pa = match sample.pressure_pa {
            Some(pascal) if pascal > 0.0 => pascal,
            _ => density_kg_m3 * equilibrium::COLD_GAS_CONSTANT * free_k,
        };
        let still = Stream {
            time_s: sample.time_s,
            angle_of_attack_deg: sample.angle_of_attack_deg,
            sideslip_deg: sample.sideslip_deg,
            wind: wind(sample.angle_of_attack_deg, sample.sideslip_deg),
            speed_m_s,
            density_kg_m3,
            mach: 0.0,
            pressure_pa,
            stagnation_pressure_pa: pressure_pa,
            total_enthalpy_j_kg: equilibrium::enthalpy(free_k, pressure_pa.max(1e-3)).max(1.0),
            reference_radius_m: nose_radius_m,
            ..Stream::default()
        };
        if density_kg_m3 <= 0.0 || speed_m_s <= 1.0 {
            return still;
        }
        let mach = sample.mach.unwrap_or(speed_m_s / (GAMMA * pressure_pa / density_kg_m3).sqrt());
        let rest = stagnation(density_kg_m3, pressure_pa, still.total_enthalpy_j_kg, speed_m_s);
        let reference_heating_w_m2 = if sample.reference_heating_w_m2 > 0.0 {
            sample.reference_heating_w_m2
        } else {
            sutton_graves(density_kg_m3, nose_radius_m, speed_m_s)
        };
        let total = rest.enthalpy_j_kg;
        let (kinetic, wall) = (0.5 * speed_m_s * speed_m_s, REFERENCE_WALL_J_KG.min(0.5 * total));
        let edge_pressure = pressure_pa + EDGE_PRESSURE_SHARE * (rest.pressure_pa - pressure_pa);
        let still_gas = Gas::at(total, rest.pressure_pa);
        let recovery = super::reference::PRANDTL.sqrt();
        let star = NODES.map(|share| {
            let edge = total - share * kinetic;
            let enthalpy = 0.5 * (wall + edge) + 0.22 * recovery * share * kinetic;
            let kelvin = equilibrium::temperature(enthalpy, edge_pressure);
            (equilibrium::density(kelvin, edge_pressure), viscosity(kelvin))
        });
        let edge = NODES.map(|share| {
            let gas = Gas::at(total - share * kinetic, edge_pressure);
            (gas.density_kg_m3, viscosity(gas.temperature_k), gas.sound_speed_m_s)
        });
        Stream {
            mach,
            stagnation_pressure_pa: rest.pressure_pa,
            total_enthalpy_j_kg: total,
            reference_heating_w_m2,
            gradient_m_s: (2.0 * (rest.pressure_pa - pressure_pa).max(0.0) / still_gas.density_kg_m3).sqrt(),
            dissociated_share: dissociated_share(still_gas.temperature_k, total),
            dissociation: ((total - 4e6) / 8e6).clamp(0.0, 1.0),
            density_viscosity: Fit::through(star.map(|(density, viscosity)| density * viscosity / edge_pressure)),
            reynolds: Fit::through(star.map(|(density, viscosity)| density / (viscosity * edge_pressure))),
            sound_over_viscosity: Fit::through(edge.map(|(_, viscosity, sound)| sound / viscosity)),
            mach_length: Fit::through(edge.map(|(density, viscosity, sound)| edge_pressure * viscosity / (density * sound))),
            edge_viscosity: Fit::through(edge.map(|(_, viscosity, _)| viscosity)),
            ..still
        }
    }

    /// The same stream with its reference heating by another relation; a sample's own heating is then not used.
    pub fn by(mut self, relation: Relation) -> Stream {
        if relation != Relation::SuttonGraves
            && let Some(value) = self.side_by_side().of(relation)
        {
            self.reference_heating_w_m2 = value;
        }
        self
    }

    /// The relations for the reference sphere, side by side. A flight without a free-stream temperature counts as 250 K here too.
    pub fn side_by_side(&self) -> SideBySide {
        let point = StagnationPoint {
            free_pressure_pa: self.pressure_pa,
            pressure_pa: self.stagnation_pressure_pa,
            total_enthalpy_j_kg: self.total_enthalpy_j_kg,
        };
        SideBySide::at(self.density_kg_m3, self.speed_m_s, self.reference_radius_m, Some(&point))
    }

    /// The wall's enthalpy in the reference enthalpy and in the boundary layer's profile, J/kg.
    pub(super) fn reference_wall_j_kg(&self) -> f64 {
        REFERENCE_WALL_J_KG.min(0.5 * self.total_enthalpy_j_kg)
    }

    /// Half rho V^3, W/m2: all the energy that the stream brings to a face square to it.
    pub fn energy_flux_w_m2(&self) -> f64 {
        0.5 * self.density_kg_m3 * self.speed_m_s * self.speed_m_s * self.speed_m_s
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_fits_pass_through_their_nodes_and_stay_positive() {
        let fit = Fit::through([3.0, 2.0, 1.5]);
        for (share, want) in NODES.iter().zip([3.0, 2.0, 1.5]) {
            assert!((fit.at(*share) - want).abs() < 1e-12);
        }
        for (speed, density, kelvin) in [(7800.0, 1e-6, 190.0), (7200.0, 7e-5, 216.8), (3500.0, 1e-3, 270.0), (800.0, 0.05, 220.0)] {
            let stream =
                Stream::at(&Sample { speed_m_s: speed, density_kg_m3: density, temperature_k: Some(kelvin), ..Sample::default() }, 1.0);
            for fit in [stream.density_viscosity, stream.reynolds, stream.sound_over_viscosity, stream.mach_length] {
                for step in 0..=20 {
                    assert!(fit.at(step as f64 / 20.0) > 0.0, "{speed} {step} {fit:?}");
                }
            }
        }
    }

    #[test]
    fn verif_no_speed_heats_nothing() {
        for speed in [0.0, -100.0] {
            let stream = Stream::at(&Sample { speed_m_s: speed, density_kg_m3: 1.0, temperature_k: Some(288.0), ..Sample::default() }, 1.0);
            assert_eq!(stream.reference_heating_w_m2, 0.0);
            assert!(stream.total_enthalpy_j_kg > 0.0);
        }
    }
}
