//! Where the boundary layer turns turbulent, and how gradually.
//!
//! Every criterion comes down to a ratio that is 1 at onset. Between onset and full turbulence the heating is mixed by the intermittency:
//! 0 at onset, 1 where the run is twice as long as at onset (transition as long as the laminar run before it: common practice), a smooth
//! step between. Free-stream criteria have a stated width instead.

use super::{Regime, Transition};
use wide::f64x4;

/// A time's transition takes this long, s.
pub const TIME_WIDTH_S: f64 = 10.0;
/// A Mach number's transition is complete at the limit less this share of it.
pub const MACH_WIDTH: f64 = 0.05;
/// Step between tiles where nothing was found, m: common practice for rigid tiles as installed.
pub const SMOOTH_ROUGHNESS_M: f64 = 5e-4;
/// Boundary-layer thickness over momentum thickness, laminar: 5.0 / 0.664 (Blasius).
pub(super) const THICKNESS_RATIO: f64 = 5.0 / 0.664;

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
}

impl Onset {
    pub fn at(transition: &Transition, time_s: f64, mach: f64) -> Onset {
        match *transition {
            Transition::None => Onset::Everywhere(0.0),
            Transition::Time { time_s: from } => Onset::Everywhere(smooth((time_s - from) / TIME_WIDTH_S)),
            Transition::Mach { mach: below } => Onset::Everywhere(smooth((below - mach) / (MACH_WIDTH * below).max(1e-9))),
            Transition::MomentumThickness { limit } => Onset::MomentumThickness(1.0 / (limit * limit).max(1e-30)),
            Transition::Roughness { limit } => Onset::Roughness(1.0 / limit.max(1e-30)),
        }
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
