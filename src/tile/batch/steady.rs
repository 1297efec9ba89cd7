//! Where a tile ends on the ground, and how one tells that its structure has peaked.

use super::problem::{End, TileLayer, TileProblem};
use crate::tile::face::{Face, STEFAN_BOLTZMANN};

/// Where a tile ends on the ground, for telling that it is there.
pub(super) struct Steady {
    structure_k: f64,
    hottest_k: f64,
}

impl Steady {
    /// From the resistances in series at the ground's air temperature and pressure.
    pub fn of(problem: &TileProblem) -> Steady {
        let landing = &problem.landing;
        let air = landing.air_k;
        let film = landing.h_w_m2k + 4.0 * problem.emissivity_at(air).0 * STEFAN_BOLTZMANN * air * air * air;
        let far = f64::MAX;
        let (film_back, back_k) = match problem.back {
            Face::Temperature(curve) => (1e7, curve.value_at(far)),
            Face::Convection { h_w_m2k, ambient_k } => (h_w_m2k.value_at(far), ambient_k.value_at(far)),
            Face::Radiation { emissivity, surroundings_k } => {
                let cube = 0.5 * (air + surroundings_k) * (air * air + surroundings_k * surroundings_k);
                (2.0 * emissivity * STEFAN_BOLTZMANN * cube, *surroundings_k)
            }
            _ => (0.0, air),
        };
        let resistance = |layer: &TileLayer| {
            let k = layer.table.conductivity(air, landing.ground_pressure_pa) * layer.conductivity_scale;
            layer.contact_m2k_w + layer.thickness_m / k
        };
        let above: f64 = 1.0 / film + problem.layers[..problem.structure].iter().map(resistance).sum::<f64>();
        let whole: f64 = 1.0 / film + problem.layers.iter().map(resistance).sum::<f64>();
        let share = if film_back > 0.0 { above / (whole + 1.0 / film_back) } else { 0.0 };
        Steady { structure_k: air + (back_k - air) * share, hottest_k: if film_back > 0.0 { air.max(back_k) } else { air } }
    }

    /// Whether the structure can only fall, or lies within 1 K of its end with nothing left above to heat it.
    pub fn end(&self, structure_k: f64, hottest_k: f64, peak_k: f64) -> Option<End> {
        if hottest_k <= peak_k && self.hottest_k <= peak_k {
            Some(End::Peaked)
        } else if (structure_k - self.structure_k).abs() <= 1.0 && hottest_k <= self.hottest_k + 1.0 {
            Some(End::Steady)
        } else {
            None
        }
    }
}
