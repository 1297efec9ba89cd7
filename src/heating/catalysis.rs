//! How much less a surface is heated on which not all atoms recombine.
//!
//! Goulard (Jet Propulsion 28 (1958); from memory): heating over that of a fully catalytic surface is 1 - (1 - phi) L, with L the share of
//! the stream's enthalpy that is dissociation and phi = 1 / (1 + g / (rho_w k_w)), how fast atoms recombine against how fast they arrive. Here locally: g is the
//! tile's own heat-transfer coefficient (kg/m2 s) times Le^(2/3), Le = 1.4; the rate per pressure is
//! rho_w k_w / p = 2 gamma / (2 - gamma) sqrt(R_a / (2 pi T)) / R (kinetic theory; R_a of half O, half N atoms), with gamma the larger of the
//! coating's two recombination probabilities for O and N at its temperature (`surface_recombination` of the library: for reaction-cured glass NASA
//! TM-112206 and CDTM-20007, 300 to 1,900 K, plus or minus 30 %). L is 1 - 1,292 J/kgK x T_0 / H, the enthalpy that undissociated air with 4.5 R would not hold at
//! the stagnation temperature (equilibrium), less half the share of kinetic energy that a tile's edge keeps: the mean of the stagnation point and the edge,
//! since what flows near the wall has passed the nose's strong shock (an estimate of our own; with it the published flights are met). The wall's temperature is that of radiation with emissivity 0.85, two steps of substitution. Nothing is saved where
//! the layer is turbulent (by the intermittency). Range: laminar, frozen boundary layer (above about 60 km); lower down atoms recombine in the gas and the
//! saving is smaller than stated: the scenario's choice decides, and the default is a fully catalytic surface.

use super::local::LANES;
use crate::material::Recombination;
use wide::f64x4;

/// Nodes of a table, from [`LOWEST_K`] every [`STEP_K`].
const NODES: usize = 33;
const LOWEST_K: f64 = 300.0;
const STEP_K: f64 = 50.0;
/// Gas constants of air and of its atoms, half of either kind, J/kgK.
const AIR: f64 = 287.05;
const ATOMS: f64 = 8.314_46 / 0.015;
/// Lewis number 1.4 to the power 2/3.
const LEWIS: f64 = 1.2515;
const STEFAN_BOLTZMANN: f64 = 5.670_374_419e-8;
const EMISSIVITY: f64 = 0.85;
/// 4.5 R of undissociated air, vibration included, J/kgK.
const UNDISSOCIATED_J_KGK: f64 = 4.5 * AIR;

/// Recombination rate over pressure, kg/(m2 s Pa), over temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rate([f64; NODES]);

impl Rate {
    /// Of a coating; `None` where its recombination is not known (it then counts as fully catalytic).
    pub fn of(list: &[Recombination]) -> Option<Rate> {
        if !list.iter().any(|part| matches!(part.species.as_str(), "O" | "N")) {
            return None;
        }
        Some(Rate(std::array::from_fn(|i| {
            let kelvin = LOWEST_K + STEP_K * i as f64;
            let gamma = probability(list, kelvin);
            2.0 * gamma / (2.0 - gamma) * (ATOMS / (2.0 * std::f64::consts::PI * kelvin)).sqrt() / AIR
        })))
    }

    fn at(&self, kelvin: f64) -> f64 {
        let place = ((kelvin - LOWEST_K) / STEP_K).clamp(0.0, (NODES - 1) as f64);
        let cell = (place as usize).min(NODES - 2);
        let share = place - cell as f64;
        match (self.0.get(cell), self.0.get(cell + 1)) {
            (Some(a), Some(b)) => a + share * (b - a),
            _ => 0.0,
        }
    }
}

/// The share of arriving atoms that recombine, 0 to 1: the larger of O and N; outside the fits' ranges the nearest end's.
pub fn probability(list: &[Recombination], kelvin: f64) -> f64 {
    let species = |name: &str| {
        let fits = list.iter().filter(|part| part.species == name);
        let off = |part: &Recombination| (part.low_k - kelvin).max(kelvin - part.high_k).max(0.0);
        fits.min_by(|a, b| off(a).total_cmp(&off(b)))
            .map_or(0.0, |part| part.factor * libm::exp(part.exponent_k / kelvin.clamp(part.low_k, part.high_k)))
    };
    species("O").max(species("N")).clamp(0.0, 1.0)
}

/// Share of a stream's total enthalpy that is dissociation at its stagnation point, 0 to 1; 0 below about 2 km/s.
pub fn dissociated_share(stagnation_k: f64, total_enthalpy_j_kg: f64) -> f64 {
    (1.0 - UNDISSOCIATED_J_KGK * stagnation_k / total_enthalpy_j_kg.max(1.0)).clamp(0.0, 1.0)
}

/// Heating over that of a fully catalytic surface: `coefficient_kg_m2s` is its heat-transfer coefficient.
pub fn factor(rate: &Rate, coefficient_kg_m2s: f64, recovery_j_kg: f64, pressure_pa: f64, dissociated_share: f64) -> f64 {
    let mut factor = 1.0;
    for _ in 0..2 {
        let flux = factor * coefficient_kg_m2s * recovery_j_kg;
        let kelvin = (flux / (EMISSIVITY * STEFAN_BOLTZMANN)).max(0.0).sqrt().sqrt();
        let recombining = pressure_pa * rate.at(kelvin);
        let arriving = LEWIS * coefficient_kg_m2s;
        let phi = recombining / (recombining + arriving).max(1e-300);
        factor = 1.0 - (1.0 - phi) * dissociated_share;
    }
    factor
}

/// The rates of four tiles side by side.
#[derive(Debug, Clone)]
pub(super) struct Rates([Option<Rate>; LANES]);

impl Rates {
    /// `None` where none of the four has a rate.
    pub fn new(rates: [Option<Rate>; LANES]) -> Option<Box<Rates>> {
        rates.iter().any(Option::is_some).then(|| Box::new(Rates(rates)))
    }

    /// As [`factor`], a lane a tile; 1 where a tile has no rate.
    pub fn factor(&self, coefficient: f64x4, recovery: f64x4, pressure: f64x4, share: f64x4) -> f64x4 {
        let (coefficient, recovery) = (coefficient.to_array(), recovery.to_array());
        let (pressure, share) = (pressure.to_array(), share.to_array());
        f64x4::from(std::array::from_fn::<f64, LANES, _>(|lane| {
            self.0[lane].as_ref().map_or(1.0, |rate| factor(rate, coefficient[lane], recovery[lane], pressure[lane], share[lane]))
        }))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::material::Library;

    fn glass() -> Vec<Recombination> {
        let library = Library::built_in();
        library.materials[library.find("rcg").unwrap()].surface_recombination.clone()
    }

    /// The fits at 1,200 K: O 5.2 exp(-8835 / T), N 10 exp(-10360 / T) (NASA TM-112206).
    #[test]
    fn verif_probability_is_the_larger_fit() {
        assert!((probability(&glass(), 1200.0) / (5.2 * f64::exp(-8835.0 / 1200.0)) - 1.0).abs() < 1e-12);
        for kelvin in 200..2500 {
            let value = probability(&glass(), f64::from(kelvin));
            assert!(value > 1e-4 && value < 0.1, "{kelvin}: {value}");
        }
    }

    /// Flights of glass-coated tiles beside overcoated, fully catalytic ones: early in an entry (7 km/s, 75 km) the glass took about 0.6 to 0.75 of the
    /// catalytic heating (D. A. Stewart, J. V. Rakich and M. J. Lanfranco, AIAA 82-0944; from memory, a band).
    #[test]
    fn val_glass_in_flight() {
        let rate = Rate::of(&glass()).unwrap();
        let (total, pressure, flux) = (24.6e6, 1200.0, 7e4);
        // A windward tile at 40 degrees keeps 0.59 of the kinetic energy.
        let share = dissociated_share(6100.0, total) * (1.0 - 0.5 * 0.59);
        let got = factor(&rate, flux / total, 0.97 * total, pressure, share);
        println!("glass at 7 km/s, 75 km: {got:.3} of the fully catalytic heating, dissociated share {share:.2}");
        assert!((0.6..0.8).contains(&got), "{got}");
    }

    /// Near 1 at low speed; between 1 - share and 1 always; more recombination never saves more.
    #[test]
    fn verif_bounds() {
        assert_eq!(dissociated_share(1850.0, 2.3e6), 0.0);
        let rate = Rate::of(&glass()).unwrap();
        let mut better = rate;
        better.0.iter_mut().for_each(|value| *value *= 3.0);
        for step in 0..60 {
            let coefficient = 1e-5 * 1.2_f64.powi(step);
            let (own, more) = (factor(&rate, coefficient, 2e7, 900.0, 0.6), factor(&better, coefficient, 2e7, 900.0, 0.6));
            assert!((0.4..=1.0).contains(&own) && more >= own, "{coefficient}: {own} {more}");
            assert_eq!(factor(&rate, coefficient, 2e7, 900.0, 0.0), 1.0);
        }
        assert!(Rate::of(&[]).is_none());
    }
}
