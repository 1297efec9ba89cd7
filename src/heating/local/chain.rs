//! How the heating of one tile comes about, in words and numbers.

use super::tiles::Criteria;
use super::tiles::Surface;
use super::{LANES, Moment};
use crate::heating::place::SPHERE_OVER_CYLINDER;
use crate::heating::wedge;
use wide::f64x4;

/// One tile and one moment, in words and numbers: what a tile's card tells of the chain.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Chain {
    pub inclination_deg: f64,
    pub sweep_deg: f64,
    pub sharp_radius_m: f64,
    pub roundness: f64,
    pub running_length_m: f64,
    pub pressure_coefficient: f64,
    /// Ratio of heat-transfer coefficients to the reference sphere, multipliers and cap included.
    pub factor: f64,
    pub reference_radius_m: f64,
    pub reference_w_m2: f64,
    pub cold_wall_w_m2: f64,
    pub recovery_j_kg: f64,
    pub intermittency: f64,
    /// Transition criterion over its limit; 0 where it is not local.
    pub onset: f64,
    /// Heating over what it would be without the free-molecular cap.
    pub uncapped: f64,
    /// The laminar boundary layer: Mach number at its edge, momentum-thickness Reynolds number, momentum thickness and thickness (99 %).
    pub edge_mach: f64,
    pub re_theta: f64,
    pub theta_m: f64,
    pub delta_m: f64,
}

impl Moment {
    /// Heating of the reference sphere's stagnation point, W/m2, cold wall.
    pub fn reference_w_m2(&self) -> f64 {
        self.reference_w_m2
    }

    /// Total enthalpy of the stream, J/kg, 0 at 0 K.
    pub fn total_enthalpy_j_kg(&self) -> f64 {
        self.total_j_kg
    }

    /// The chain of one tile; `None` for a tile that is not there.
    pub fn chain(&self, surface: &Surface, tile: usize) -> Option<Chain> {
        if tile >= surface.tiles {
            return None;
        }
        let (group, lane) = (surface.groups.get(tile / LANES)?, tile % LANES);
        let heating = self.heating(group, Criteria::Of(&surface.sites));
        let edge = self.edge(&self.layer(group));
        let pick = |value: f64x4| value.to_array().get(lane).copied().unwrap_or(0.0);
        let [wx, wy, wz] = self.wind;
        let turned = match &group.turning {
            Some(turning) if self.deflections.any => turning.turned(&group.normal, &group.edge, &self.deflections),
            _ => (group.normal, group.edge),
        };
        let dot = |v: &[f64x4; 3]| pick(v[0]) * wx + pick(v[2]) * wz + pick(v[1]) * wy;
        let roundness = pick(group.roundness);
        let blend = SPHERE_OVER_CYLINDER + (1.0 - SPHERE_OVER_CYLINDER) * roundness;
        let along = dot(&turned.1) * (1.0 - roundness);
        let recovery_j_kg = pick(heating.recovery_j_kg);
        let cold_wall_w_m2 = pick(heating.cold_wall_w_m2);
        let per_enthalpy = self.reference_w_m2 / self.total_j_kg;
        let dynamic = self.dynamic_pressure_pa;
        Some(Chain {
            inclination_deg: libm::asin((-dot(&turned.0)).clamp(-1.0, 1.0)).to_degrees(),
            sweep_deg: libm::asin(along.abs().min(1.0)).to_degrees(),
            sharp_radius_m: blend / pick(group.blunt_per_m),
            roundness,
            running_length_m: pick(self.run(group).0).sqrt(),
            pressure_coefficient: if dynamic > 0.0 { (pick(heating.pressure_pa) - self.pressure_pa) / dynamic } else { 0.0 },
            factor: if per_enthalpy > 0.0 { cold_wall_w_m2 / (per_enthalpy * recovery_j_kg) } else { 0.0 },
            reference_radius_m: self.reference_radius_m,
            reference_w_m2: self.reference_w_m2,
            cold_wall_w_m2,
            recovery_j_kg,
            intermittency: pick(heating.intermittency),
            onset: pick(heating.onset_square).max(0.0).sqrt(),
            uncapped: pick(heating.uncapped_4).max(0.0).sqrt().sqrt(),
            edge_mach: pick(edge.mach),
            re_theta: pick(edge.re_theta),
            theta_m: pick(edge.theta_m),
            delta_m: pick(edge.delta_m),
        })
    }

    /// The site whose wedge reaches a tile with the largest intermittency, or comes nearest to it: its index, its criterion over its
    /// threshold, and the share of the wedge at which the tile stands. `None` where no wedge reaches the tile or no site counts.
    pub fn tripped_by(&self, surface: &Surface, tile: usize) -> Option<(usize, f64, f64)> {
        let (group, lane) = (surface.groups.get(tile / LANES).filter(|_| tile < surface.tiles)?, tile % LANES);
        let mut best: Option<(usize, f64, f64)> = None;
        for reach in group.reaches.iter().filter(|_| self.onset.has_sites()) {
            let q: f64 = reach
                .q
                .iter()
                .skip(self.first)
                .zip(self.weights)
                .map(|(q, weight)| q.to_array().get(lane).copied().unwrap_or(-1.0) * weight)
                .sum();
            let (ratio, share) = (self.site_ratio(surface, reach.site as usize), wedge::share(q));
            let value = |(_, ratio, share): (usize, f64, f64)| ratio * share;
            if share > 0.01 && best.is_none_or(|best| ratio * share > value(best)) {
                best = Some((reach.site as usize, ratio, share));
            }
        }
        best
    }

    /// A site's criterion over its threshold; 0 where no site counts or there is none.
    pub fn site_ratio(&self, surface: &Surface, site: usize) -> f64 {
        let squares = Criteria::Of(&surface.sites).squares(self, site / LANES);
        squares.get(site % LANES).copied().unwrap_or(0.0).max(0.0).sqrt()
    }
}
