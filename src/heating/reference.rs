//! Stagnation heating of the reference sphere: three published relations, side by side.

use crate::air::equilibrium::{COLD_GAS_CONSTANT, Gas, density};
use crate::air::species::GAS_CONSTANT;
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

/// Lewis number of air in Fay and Riddell's relation, and its exponent in a boundary layer in equilibrium: J. Aero. Sci. 25 (1958), equation 63 (1.4 and
/// 0.52, from memory).
const LEWIS: f64 = 1.4;
const LEWIS_EXPONENT: f64 = 0.52;

/// The wall at which Fay and Riddell's cold-wall value takes its density and viscosity, K; they count to the power 0.1, so that a wall of 1,500 K
/// in its place changes the value by less than 8 %.
const COLD_WALL_K: f64 = 300.0;

/// Heat of dissociation stored in equilibrium air, J/kg (sum over the atoms of mass fraction times heat of formation), from its moles per mole of
/// cold air: oxygen comes apart before nitrogen, 493.6 and 941.2 kJ/mol at 0 K (from memory; nitric oxide and ions left out).
///
/// Against the composition in equilibrium (`verif_dissociation_enthalpy`): within 6 % of the total enthalpy, which is 1.2 % of the heating.
pub fn dissociation_enthalpy(compressibility: f64) -> f64 {
    const OXYGEN_SHARE: f64 = 0.2095;
    const OXYGEN_J_MOL: f64 = 493.6e3;
    const NITROGEN_J_MOL: f64 = 941.2e3;
    let apart = (compressibility - 1.0).clamp(0.0, 1.0);
    let oxygen = apart.min(OXYGEN_SHARE);
    (oxygen * OXYGEN_J_MOL + (apart - oxygen) * NITROGEN_J_MOL) * COLD_GAS_CONSTANT / GAS_CONSTANT
}

/// What Fay and Riddell's relation needs at the stagnation point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StagnationPoint {
    /// Free-stream pressure and the pressure behind the shock, brought to rest.
    pub free_pressure_pa: f64,
    pub pressure_pa: f64,
    pub total_enthalpy_j_kg: f64,
}

/// Cold-wall stagnation-point heating of a sphere, W/m2, by Fay and Riddell, J. Aero. Sci. 25 (1958), equation 63 for a boundary layer in equilibrium:
/// 0.763 Pr^-0.6 (rho_e mu_e)^0.4 (rho_w mu_w)^0.1 (1 + (Le^0.52 - 1) h_D / h_s) sqrt(du/dx) h_s, with the Newtonian gradient
/// sqrt(2 (p_s - p) / rho_s) / radius and a wall of 300 K. Coefficients from memory.
///
/// Edge: equilibrium air at the stagnation point, Sutherland's viscosity with its extension (`air::viscosity`). Range: 2 to 8 km/s, below some 80 km; 0 where
/// nothing stagnates. Against Sutton and Graves: `val_fay_riddell_against_sutton_graves`.
pub fn fay_riddell(point: &StagnationPoint, nose_radius_m: f64) -> f64 {
    let excess = point.pressure_pa - point.free_pressure_pa;
    if excess <= 0.0 || point.total_enthalpy_j_kg <= 0.0 {
        return 0.0;
    }
    let edge = Gas::at(point.total_enthalpy_j_kg, point.pressure_pa);
    let moles = edge.pressure_pa / (edge.density_kg_m3 * COLD_GAS_CONSTANT * edge.temperature_k);
    let lewis = 1.0 + (libm::pow(LEWIS, LEWIS_EXPONENT) - 1.0) * dissociation_enthalpy(moles) / point.total_enthalpy_j_kg;
    let gradient = (2.0 * excess / edge.density_kg_m3).sqrt() / nose_radius_m;
    0.763
        * libm::pow(PRANDTL, -0.6)
        * libm::pow(edge.density_kg_m3 * viscosity(edge.temperature_k), 0.4)
        * libm::pow(density(COLD_WALL_K, point.pressure_pa) * viscosity(COLD_WALL_K), 0.1)
        * lewis
        * gradient.sqrt()
        * point.total_enthalpy_j_kg
}

/// A relation for the reference heating.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Relation {
    #[default]
    SuttonGraves,
    DetraKempRiddell,
    FayRiddell,
}

impl Relation {
    pub const ALL: [Relation; 3] = [Relation::SuttonGraves, Relation::DetraKempRiddell, Relation::FayRiddell];
    /// As `heating.reference` of a scenario has them.
    pub const WORDS: [&'static str; 3] = ["sutton-graves", "detra-kemp-riddell", "fay-riddell"];

    pub fn word(self) -> &'static str {
        Relation::WORDS[self as usize]
    }

    pub fn from_word(word: &str) -> Option<Relation> {
        Relation::ALL.into_iter().find(|relation| relation.word() == word)
    }

    /// As a person reads it.
    pub fn name(self) -> &'static str {
        ["Sutton and Graves", "Detra, Kemp and Riddell", "Fay and Riddell, equilibrium air"][self as usize]
    }

    pub fn source(self) -> &'static str {
        [
            "NASA TR R-376 (1971), 1.7415e-4 sqrt(density/radius) speed^3",
            "Jet Propulsion 27 (1957), 17600 sqrt(density ratio/radius in ft) (speed/26000 ft/s)^3.15",
            "J. Aero. Sci. 25 (1958), equation 63, Lewis number 1.4, Newtonian velocity gradient",
        ][self as usize]
    }
}

/// What published comparisons say of the reference, each with its source: an uncertainty, which the spread of relations is not.
///
/// No comparison gives all of it for every flight; the engineer's policy decides what counts.
pub const COMPARISONS: [(&str, &str); 5] = [
    (
        "shock tubes, cold blunt bodies, to 8 km/s: measured stagnation heating scatters about 20 % either side of Fay and Riddell's relation",
        "Rose and Stark, J. Aero. Sci. 25 (1958), figures (from memory)",
    ),
    (
        "shock tubes, off the stagnation point: good agreement on the whole; where the pressure changes rapidly up to 25 % more was measured than local \
         similarity gives",
        "Kemp, Rose and Detra, J. Aero/Space Sci. 26 (1959), summary",
    ),
    (
        "the fit against its own boundary-layer solutions: within about 10 %, most gases within 5 %",
        "Sutton and Graves, NASA TR R-376 (1971) (from memory)",
    ),
    (
        "flight at 6 to 7 km/s and above, winged entry, windward: laminar estimates compared favorably with two flights; a design data book stood 40 to 60 % above \
         them",
        "Predictions of entry heating for lower surface of shuttle orbiter, NASA N83-29631 (1983), abstract",
    ),
    (
        "flight at 11 km/s, blunt capsules: cold-wall convective theory, adjusted for blowing, in good agreement with measured heating; no percentage stated",
        "Lee and Goodrich, NASA TN D-6792 (1972) (number from memory), abstract",
    ),
];

/// The relations at one flight point, for the same sphere; their spread is shown as spread and is not an uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SideBySide {
    /// In the order of [`Relation::ALL`]; `None` where its inputs do not exist.
    pub w_m2: [Option<f64>; 3],
}

impl SideBySide {
    /// The relations for one sphere. `point` is what stagnates, `None` where nothing does.
    pub fn at(density_kg_m3: f64, speed_m_s: f64, nose_radius_m: f64, point: Option<&StagnationPoint>) -> SideBySide {
        SideBySide {
            w_m2: [
                Some(sutton_graves(density_kg_m3, nose_radius_m, speed_m_s)),
                Some(detra_kemp_riddell(density_kg_m3, speed_m_s, nose_radius_m)),
                point.map(|point| fay_riddell(point, nose_radius_m)).filter(|value| *value > 0.0),
            ],
        }
    }

    pub fn of(&self, relation: Relation) -> Option<f64> {
        self.w_m2[relation as usize]
    }

    /// Largest over smallest, less 1; 0 where nothing heats.
    pub fn spread_fraction(&self) -> f64 {
        let (low, high) =
            self.w_m2.iter().flatten().fold((f64::INFINITY, 0.0_f64), |(low, high), value| (low.min(*value), high.max(*value)));
        if low > 0.0 && low.is_finite() { high / low - 1.0 } else { 0.0 }
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

    fn point(density: f64, pressure: f64, temperature: f64, speed: f64) -> StagnationPoint {
        let still = stagnation(density, pressure, 1004.5 * temperature, speed);
        StagnationPoint { free_pressure_pa: pressure, pressure_pa: still.pressure_pa, total_enthalpy_j_kg: still.enthalpy_j_kg }
    }

    /// 71, 61 and 50 km of the standard atmosphere.
    const POINTS: [[f64; 4]; 3] =
        [[7.19652e-5, 4.47956, 216.846, 7200.0], [2.73213e-4, 19.1575, 244.273, 5500.0], [1.02688e-3, 79.7791, 270.65, 3500.0]];

    /// Fay and Riddell against Sutton and Graves (NASA TR R-376 states its relation within some 10 % of exact solutions), at flight points
    /// where both hold.
    #[test]
    fn val_fay_riddell_against_sutton_graves() {
        for [density, pressure, temperature, speed] in POINTS {
            let both = SideBySide::at(density, speed, 1.0, Some(&point(density, pressure, temperature, speed)));
            let ratio = both.of(Relation::FayRiddell).unwrap() / both.of(Relation::SuttonGraves).unwrap();
            println!("{speed} m/s: Fay-Riddell over Sutton-Graves {ratio:.3}, spread {:.3}", both.spread_fraction());
            assert!((ratio - 1.0).abs() < 0.2, "{speed}: {ratio}");
        }
    }

    /// The stored heat of dissociation against the composition in equilibrium and its heats of formation.
    #[test]
    fn verif_dissociation_enthalpy() {
        use crate::air::composition::mixture;
        use crate::air::equilibrium::enthalpy;
        use crate::air::species::SPECIES;
        let mut worst = 0.0_f64;
        for pressure in [100.0, 1e3, 1e4, 1e5] {
            for temperature in (1000..=7000).step_by(250) {
                let mixture = mixture(temperature as f64, pressure);
                let atoms = |name: &str| {
                    let at = SPECIES.iter().position(|species| species.name == name).unwrap();
                    mixture.fractions[at] * mixture.compressibility
                };
                // Per mole of cold air: half a molecule's heat of dissociation an atom.
                let exact = (atoms("O") * 493.6e3 + atoms("N") * 941.2e3) / 2.0 * COLD_GAS_CONSTANT / GAS_CONSTANT;
                let total = enthalpy(temperature as f64, pressure);
                let error = (dissociation_enthalpy(mixture.compressibility) - exact).abs() / total;
                worst = worst.max(error);
            }
        }
        println!("worst difference {worst:.4} of the total enthalpy");
        assert!(worst < 0.06, "{worst}");
    }

    #[test]
    fn verif_spread() {
        let three = SideBySide { w_m2: [Some(100.0), Some(115.0), None] };
        assert!((three.spread_fraction() - 0.15).abs() < 1e-12);
        assert_eq!(SideBySide { w_m2: [Some(0.0), Some(0.0), None] }.spread_fraction(), 0.0);
        for (relation, word) in Relation::ALL.into_iter().zip(Relation::WORDS) {
            assert_eq!(Relation::from_word(word), Some(relation));
        }
        assert_eq!(Relation::from_word("other"), None);
    }

    #[test]
    fn verif_no_speed_no_heating() {
        assert_eq!(detra_kemp_riddell(1.0, 0.0, 1.0), 0.0);
        assert_eq!(detra_kemp_riddell(1.0, -5.0, 1.0), 0.0);
        let still = StagnationPoint { free_pressure_pa: 5.0, pressure_pa: 5.0, total_enthalpy_j_kg: 3e5 };
        assert_eq!(fay_riddell(&still, 1.0), 0.0);
    }
}
