//! Where the boundary layer of four tiles turns turbulent: the criteria from its laminar edge, and the wedges behind sites.

use super::tiles::{Criteria, Group, Sites};
use super::{LANES, Layer, Moment, fit, splat};
use crate::heating::reference::PRANDTL;
use crate::heating::transition::{BLASIUS_WALL, Onset, intermittency, thickness_ratio};
use wide::{CmpGt, f64x4};

/// Four boundary layers' edges, laminar.
pub(super) struct Edge {
    pub(super) mach: f64x4,
    pub(super) re_theta: f64x4,
    pub(super) theta_m: f64x4,
    pub(super) delta_m: f64x4,
}

impl Moment {
    #[inline]
    pub(super) fn intermittency(&self, onset_square: f64x4) -> f64x4 {
        if let Onset::Everywhere(value) = self.onset { splat(value) } else { intermittency(onset_square) }
    }

    /// The square of the tiles' own criterion over its limit; 0 where the criterion is not local.
    #[inline]
    pub(super) fn onset_square(&self, roughness_m: f64x4, layer: &Layer) -> f64x4 {
        match self.onset {
            Onset::Everywhere(_) => splat(0.0),
            Onset::MomentumThickness(per_limit_square) | Onset::Isolated(per_limit_square) => {
                // Re_theta = 0.664 sqrt(rho* mu* u s') / mu_e with the run s' that outflow leaves; over M_e = u / a.
                let sound = fit(&self.sound_over_viscosity, layer.share);
                let speed = (layer.along_speed * splat(self.speed_m_s)).fast_max(splat(1.0));
                splat(0.664 * 0.664 * per_limit_square) * layer.density_viscosity * layer.left() * sound * sound / speed
            }
            Onset::Roughness(per_limit) => {
                let ratio = self.product(roughness_m, layer) * layer.fade * splat(per_limit);
                ratio * ratio
            }
            Onset::Reynolds(per_limit) => {
                let ratio = self.roughness_reynolds(roughness_m, layer) * layer.off_nose() * splat(per_limit);
                ratio * ratio
            }
        }
    }

    /// (Re_theta / M_e) (k / delta) = rho a k / (mu x delta / theta): the run drops out.
    #[inline]
    pub(super) fn product(&self, size_m: f64x4, layer: &Layer) -> f64x4 {
        let length = fit(&self.mach_length, layer.share) * self.thickness_ratio(layer.share);
        layer.pressure * size_m / length.fast_max(splat(1e-300))
    }

    /// Laminar boundary-layer thickness over momentum thickness, of the layer's own edge and wall.
    #[inline]
    pub(super) fn thickness_ratio(&self, share: f64x4) -> f64x4 {
        let moving = share * splat(self.kinetic_j_kg);
        let still = (splat(self.total_j_kg) - moving).fast_max(splat(1.0));
        thickness_ratio(splat(self.wall_j_kg) / still, splat(PRANDTL.sqrt()) * moving / still)
    }

    /// Roughness Reynolds number rho u k / mu at height k of the undisturbed laminar layer.
    ///
    /// Near the wall Blasius' velocity is linear, u / u_e = 0.4696 eta, and Crocco and Busemann's enthalpy h / h_e = a + (b - a) u - (b - 1) u^2 with
    /// a = h_w / h_e and b the recovery's; with density as 1 / h the height is y = a eta + 0.2348 (b - a) eta^2, solved for eta. Viscosity goes as
    /// h^0.75. Range: k up to half the layer's thickness, where the linear velocity is 5 % high (`verif_roughness_reynolds_number`).
    #[inline]
    pub(super) fn roughness_reynolds(&self, height_m: f64x4, layer: &Layer) -> f64x4 {
        let one = splat(1.0);
        let edge = self.edge(layer);
        let still = (splat(self.total_j_kg) - layer.share * splat(self.kinetic_j_kg)).fast_max(splat(1.0));
        let wall = splat(self.wall_j_kg) / still;
        let rise = splat(PRANDTL.sqrt() * self.kinetic_j_kg) * layer.share / still;
        let curve = (one + rise - wall).fast_max(splat(1e-6)) * splat(0.5 * BLASIUS_WALL);
        let y = height_m * splat(BLASIUS_WALL) / edge.theta_m.fast_max(splat(1e-300));
        let eta = ((wall * wall + splat(4.0) * curve * y).sqrt() - wall) / (splat(2.0) * curve);
        let u = (eta * splat(BLASIUS_WALL)).fast_min(one);
        let h = wall + (one + rise - wall) * u - rise * u * u;
        let root = h.sqrt();
        let per_unit = edge.re_theta / edge.theta_m.fast_max(splat(1e-300));
        per_unit * height_m * u / (h * root * root.sqrt()).fast_max(splat(1e-300))
    }

    #[inline]
    pub(super) fn edge(&self, layer: &Layer) -> Edge {
        let (sound_over_viscosity, mach_length) = (fit(&self.sound_over_viscosity, layer.share), fit(&self.mach_length, layer.share));
        let viscosity = fit(&self.edge_viscosity, layer.share);
        let speed = (layer.along_speed * splat(self.speed_m_s)).fast_max(splat(1.0));
        let density = layer.pressure / (sound_over_viscosity * mach_length);
        let mass = splat(0.664) * (layer.density_viscosity * layer.left() * speed).fast_max(splat(0.0)).sqrt();
        let theta_m = mass / (density * speed);
        Edge {
            mach: speed / (sound_over_viscosity * viscosity),
            re_theta: mass / viscosity,
            theta_m,
            delta_m: theta_m * self.thickness_ratio(layer.share),
        }
    }

    /// The criterion of four sites over their thresholds, squared.
    #[inline]
    pub(super) fn site_square(&self, sites: &Sites) -> f64x4 {
        let layer = self.layer(&sites.group);
        let ratio = match self.onset {
            Onset::Isolated(_) => self.product(sites.cavity.fast_max(sites.proud), &layer),
            Onset::Reynolds(per_limit) => {
                let proud = self.roughness_reynolds(sites.group.roughness_m, &layer) * splat(per_limit);
                self.product(sites.cavity, &layer).fast_max(proud)
            }
            _ => splat(0.0),
        } * layer.off_nose();
        ratio * ratio
    }

    /// What the wedges of the sites upstream make of four tiles: the intermittency, and the square of the sites' criterion where a wedge reaches.
    #[inline(never)]
    pub(super) fn wedges(&self, tile: &Group, sites: Criteria) -> (f64x4, f64x4) {
        let (zero, one) = (splat(0.0), splat(1.0));
        let (mut wedge, mut square) = (zero, zero);
        let mut known: Option<(usize, [f64; LANES])> = None;
        for reach in &tile.reaches {
            let (group, lane) = (reach.site as usize / LANES, reach.site as usize % LANES);
            let squares = match known {
                Some((same, squares)) if same == group => squares,
                _ => sites.squares(self, group),
            };
            known = Some((group, squares));
            let site = splat(squares.get(lane).copied().unwrap_or(0.0));
            let mut q = zero;
            for (own, weight) in reach.q.iter().skip(self.first).zip(self.weights) {
                q += *own * splat(weight);
            }
            let q = q.fast_max(zero).fast_min(one);
            let share = q * q * (splat(3.0) - splat(2.0) * q);
            wedge = wedge.fast_max(intermittency(site) * share);
            square = square.fast_max(share.cmp_gt(splat(0.01)).blend(site, zero));
        }
        (wedge, square)
    }
}
