//! What raises the heating of four tiles above a laminar layer's: steps and gaps, corners, turbulence, a swept edge's own line.

use super::tiles::{Criteria, Group, Joints};
use super::{ATTACHMENT_LINE_ONSET, LANES, Layer, Moment, fit, splat};
use crate::heating::place::SPHERE_OVER_CYLINDER;
use crate::heating::transition::intermittency;
use crate::heating::{control, expansion, gap};
use wide::{CmpGt, f64x4};

impl Moment {
    /// Steps 5 and 6: laminar and turbulent factor mixed, to the fourth power; the intermittency; the transition criterion over its limit, squared.
    #[inline]
    pub(super) fn mixed(&self, tile: &Group, sites: Criteria, layer: &Layer, laminar_4: f64x4) -> (f64x4, f64x4, f64x4) {
        let (zero, one) = (splat(0.0), splat(1.0));
        let Layer { pressure, unswept, root, swept_viscosity, falling, share, along_speed, run, fade, corner, plate_square, .. } = *layer;
        let mut factor_4 = laminar_4;
        let mut turbulence = zero;
        let mut onset_square = zero;
        if !self.onset.is_never() {
            onset_square = self.onset_square(tile.roughness_m, layer);
            turbulence = self.intermittency(onset_square);
            if !tile.reaches.is_empty() && self.onset.has_sites() {
                let (wedge, square) = self.wedges(tile, sites);
                turbulence = turbulence.fast_max(wedge);
                onset_square = onset_square.fast_max(square);
            }
            // A swept edge's own line, where the plate's run has not yet begun.
            let ahead = (splat(0.5) - fade).fast_max(zero) * splat(2.0);
            let edge_share = tile.sweep_share * ahead * splat(self.edge_share);
            let (line, line_reynolds, rate) =
                if edge_share.cmp_gt(zero).any() { self.attachment_line(tile, unswept, root, edge_share) } else { (zero, one, one) };
            let has_line = line.cmp_gt(zero).any();
            if has_line || turbulence.cmp_gt(zero).any() {
                let reynolds = pressure * splat(self.speed_m_s) * along_speed * run * fit(&self.reynolds, share);
                let gain = turbulent_over_laminar(reynolds);
                // The corner raises the laminar square by its root's fourth power of the turbulent.
                let turbulent_square = plate_square / corner * corner.sqrt().sqrt() * gain * gain;
                let laminar = laminar_4.sqrt().sqrt();
                let turbulent = (laminar_4 + turbulent_square * turbulent_square).sqrt().sqrt();
                let mut mixed = laminar + turbulence * (turbulent - laminar);
                if has_line {
                    let gain = turbulent_over_laminar(line_reynolds);
                    let on_line = splat(self.pressure_pa) + splat(self.stagnation_pressure_pa - self.pressure_pa) * unswept;
                    let line_square = splat(self.plate) * swept_viscosity * on_line * rate * falling * gain * gain;
                    let turbulent = (laminar_4 + line_square * line_square).sqrt().sqrt();
                    mixed += line * (turbulent - laminar);
                    turbulence = turbulence.fast_max(line);
                }
                let square = mixed * mixed;
                factor_4 = turbulence.cmp_gt(zero).blend(square * square, laminar_4);
            }
        }
        (factor_4, turbulence, onset_square)
    }

    /// Heating of tiles that stand proud or behind a gap, over that of flush and closed ones (`gap`), with the plate's own layer.
    #[inline(never)]
    pub(super) fn joined(&self, joints: &Joints, layer: &Layer, turbulence: f64x4) -> f64x4 {
        let Layer { share, pressure, density_viscosity, along_speed, run, .. } = *layer;
        let sound_over_viscosity = fit(&self.sound_over_viscosity, share);
        // a^2 = gamma p / rho, gamma about 1.3 in the reacting layer's edge.
        let sound = (splat(1.3) * sound_over_viscosity * fit(&self.mach_length, share)).fast_max(splat(1.0)).sqrt();
        let speed = (along_speed * splat(self.speed_m_s)).fast_max(splat(1.0));
        let reynolds = (pressure * speed * run * fit(&self.reynolds, share)).fast_max(splat(1.0)).to_array();
        // delta = 5.0 sqrt(rho* mu* s / u) / rho_e (Blasius), rho_e = (a / mu) mu / a.
        let viscosity = sound / sound_over_viscosity;
        let density = pressure * viscosity / (sound * fit(&self.mach_length, share)).fast_max(splat(1e-300));
        let thickness = (splat(5.0) * (density_viscosity * run / speed).sqrt() / density.fast_max(splat(1e-300))).to_array();
        let (mach, turbulence) = ((speed / sound).to_array(), turbulence.to_array());
        f64x4::from(std::array::from_fn::<f64, LANES, _>(|lane| {
            let layer = gap::Layer {
                thickness_m: thickness[lane],
                edge_mach: mach[lane],
                skin_friction: 0.664 / reynolds[lane].sqrt(),
                intermittency: turbulence[lane],
            };
            joints.factor(lane, &layer)
        }))
    }

    /// A turned tile's inclination before it turned, and what the corner adds to the square of the laminar heating.
    #[inline(never)]
    pub(super) fn corner(&self, tile: &Group, pressure: f64x4) -> (f64x4, f64x4) {
        let [wx, wy, wz] = self.wind.map(splat);
        let inclination = splat(0.0) - (tile.normal[0] * wx + tile.normal[2] * wz + tile.normal[1] * wy);
        let facing = inclination.fast_max(splat(0.0)).fast_min(splat(1.0));
        let most = tile.across * splat(self.crosswind) - tile.normal[0] * wx;
        let before = expansion::share(inclination, facing * facing, most);
        (facing, control::interaction(pressure, splat(self.pressure_pa) + splat(self.stagnation_pressure_pa - self.pressure_pa) * before))
    }

    /// Turbulent attachment line of a swept edge: its intermittency times the edge's share, the plate's Reynolds number, velocity gradient over speed.
    ///
    /// On the line of an infinite swept cylinder the layer grows until outflow balances it: it is that of a plate on the run W / (dU/dx) (W the speed
    /// along the edge, dU/dx the gradient across it), so that Poll's Reynolds number is the root of the plate's (Poll, Aeron. Quarterly 30 (1979), skin
    /// friction 0.0592 R*^-0.4; from memory). Turbulent from R* = 245, where disturbances of a rough edge first persist (Poll, as before).
    #[inline(never)]
    pub(super) fn attachment_line(&self, tile: &Group, unswept: f64x4, root: f64x4, edge_share: f64x4) -> (f64x4, f64x4, f64x4) {
        let one = splat(1.0);
        let along = (one - unswept).fast_max(splat(0.0));
        let pressure = splat(self.pressure_pa) + splat(self.stagnation_pressure_pa - self.pressure_pa) * unswept;
        let sharp = tile.blunt_per_m * splat(1.0 / SPHERE_OVER_CYLINDER);
        let rate = (splat(self.gradient) * root * sharp).fast_max(splat(1e-12));
        let reynolds = pressure * splat(self.speed_m_s) * along * fit(&self.reynolds, along) / rate;
        let line = intermittency(reynolds * splat(1.0 / (ATTACHMENT_LINE_ONSET * ATTACHMENT_LINE_ONSET)));
        (line * edge_share, reynolds, rate)
    }
}

/// (0.0296 / 0.332) Re^0.3, the ratio of the two Stanton numbers; Re held within 1 to 4e9.
///
/// z = Re^(1/16) by square roots, then z^4.8 with z^0.8 as a polynomial on 1 to 4 (within 1.3e-5).
#[inline]
fn turbulent_over_laminar(reynolds: f64x4) -> f64x4 {
    const POWER: [f64; 7] = [
        0.09025051139518753,
        1.0632959398244433,
        -0.20862852952755812,
        0.06864933114170726,
        -0.015423852923920088,
        0.001978011815329308,
        -0.00010851738301867514,
    ];
    let held = reynolds.fast_max(splat(1.0)).fast_min(splat(4_294_967_296.0));
    let z = held.sqrt().sqrt().sqrt().sqrt();
    let mut power = splat(POWER[6]);
    for a in [POWER[5], POWER[4], POWER[3], POWER[2], POWER[1], POWER[0]] {
        power = power * z + splat(a);
    }
    let square = z * z;
    splat(0.0296 / 0.332) * square * square * power
}
