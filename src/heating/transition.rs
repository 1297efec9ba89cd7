//! Where the boundary layer turns turbulent, and how gradually.
//!
//! Every criterion comes down to a ratio that is 1 at onset. Between onset and full turbulence the heating is mixed by the intermittency:
//! 0 at onset, 1 where the ratio is the root of 2, a smooth step between. The momentum thickness grows with the root of the run, so that transition
//! on a smooth surface is as long as the laminar run before it (common practice; Dhawan and Narasimha, J. Fluid Mech. 3 (1958), find lengths of
//! this order, from memory); a site's wedge becomes fully turbulent as its criterion rises by the same 41 %. Free-stream criteria have a stated width instead.
//!
//! The laminar layer behind the criteria: momentum thickness 0.664 (rho* mu* s' / u)^(1/2) / rho_e (Blasius at Eckert's reference enthalpy, s' the run
//! that outflow leaves), thickness from Blasius' profile with Crocco and Busemann's enthalpy ([`thickness_ratio`]).

use super::{Measure, Regime, Roughness, Thresholds, Transition};
use wide::f64x4;

/// A time's transition takes this long, s.
pub const TIME_WIDTH_S: f64 = 10.0;
/// A Mach number's transition is complete at the limit less this share of it.
pub const MACH_WIDTH: f64 = 0.05;
/// Step between tiles where nothing was found, m: common practice for rigid tiles as installed.
pub const SMOOTH_ROUGHNESS_M: f64 = 5e-4;

/// Slope of Blasius' velocity at the wall, and its momentum thickness, in the variable eta of f''' + f f'' = 0.
pub(super) const BLASIUS_WALL: f64 = 0.469_600;
/// Where Blasius' velocity is 99 % of the edge's, and the displacement thickness, in eta.
const BLASIUS_99: f64 = 3.471_9;
const BLASIUS_DISPLACEMENT: f64 = 1.216_8;

/// Laminar boundary-layer thickness (99 % of the edge's velocity) over momentum thickness, from `wall` = h_w / h_e and `rise` = h_aw / h_e - 1.
///
/// The height is the integral of rho_e / rho over eta; with rho_e / rho = h / h_e = 1 + (wall - 1)(1 - u) + rise u (1 - u) (Crocco and Busemann; density
/// as 1 / enthalpy, the product of density and viscosity constant) it comes to [3.472 + 1.2168 (wall - 1) + 0.4696 rise] / 0.4696, exact for
/// Blasius' profile but for what of the integrals lies beyond 99 % (`verif_thickness_over_momentum_thickness`). 7.39 where nothing is heated.
pub fn thickness_ratio(wall: f64x4, rise: f64x4) -> f64x4 {
    let splat = f64x4::splat;
    (splat(BLASIUS_99) + splat(BLASIUS_DISPLACEMENT) * (wall - splat(1.0))) * splat(1.0 / BLASIUS_WALL) + rise
}

/// Intermittency below which a tile is called laminar, and above which turbulent.
const LAMINAR_BELOW: f64 = 0.01;
const TURBULENT_ABOVE: f64 = 0.99;

/// What of a transition a whole moment shares.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Onset {
    /// The same intermittency everywhere that has a boundary layer of its own (not a blunt nose).
    Everywhere(f64),
    /// Re_theta / M_e over the limit; holds 1 / limit^2.
    MomentumThickness(f64),
    /// (Re_theta / M_e) (k / delta) over the limit; holds 1 / limit.
    Roughness(f64),
    /// Sites by their own thresholds; elsewhere Re_theta / M_e over the limit; holds 1 / limit^2.
    Isolated(f64),
    /// Re_k over the limit; holds 1 / limit.
    Reynolds(f64),
}

impl Onset {
    pub fn at(transition: &Transition, thresholds: &Thresholds, time_s: f64, mach: f64) -> Onset {
        match *transition {
            Transition::None => Onset::Everywhere(0.0),
            Transition::Time { time_s: from } => Onset::Everywhere(smooth((time_s - from) / TIME_WIDTH_S)),
            Transition::Mach { mach: below } => Onset::Everywhere(smooth((below - mach) / (MACH_WIDTH * below).max(1e-9))),
            Transition::MomentumThickness { limit } => Onset::MomentumThickness(1.0 / (limit * limit).max(1e-30)),
            Transition::Roughness { limit, criterion } => {
                let or_table = |measure| if limit > 0.0 { limit } else { thresholds.value(measure) };
                match criterion {
                    Roughness::Distributed => Onset::Roughness(1.0 / limit.max(1e-30)),
                    Roughness::Isolated => {
                        let limit = or_table(Measure::SmoothBody);
                        Onset::Isolated(1.0 / (limit * limit).max(1e-30))
                    }
                    Roughness::Reynolds => Onset::Reynolds(1.0 / or_table(Measure::RoughnessReynolds).max(1e-30)),
                }
            }
        }
    }

    /// Whether sites with wedges count.
    pub fn has_sites(&self) -> bool {
        matches!(self, Onset::Isolated(_) | Onset::Reynolds(_))
    }

    /// Whether no tile can be turbulent.
    pub fn is_never(&self) -> bool {
        matches!(self, Onset::Everywhere(share) if *share <= 0.0)
    }
}

fn smooth(t: f64) -> f64 {
    let t = t.clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

/// Intermittency from the square of the criterion over its limit: the run grows with the square of the momentum thickness.
pub(super) fn intermittency(square: f64x4) -> f64x4 {
    let t = (square - f64x4::splat(1.0)).fast_max(f64x4::splat(0.0)).fast_min(f64x4::splat(1.0));
    t * t * (f64x4::splat(3.0) - f64x4::splat(2.0) * t)
}

/// The name of a state of intermittency.
pub fn regime(intermittency: f64) -> Regime {
    if intermittency < LAMINAR_BELOW {
        Regime::Laminar
    } else if intermittency > TURBULENT_ABOVE {
        Regime::Turbulent
    } else {
        Regime::Transitional
    }
}
