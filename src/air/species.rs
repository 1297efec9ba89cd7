//! The species of hot air: spectroscopic constants and what their partition functions give at one temperature.
//!
//! Diatomic constants: Huber and Herzberg, Constants of Diatomic Molecules (1979); atomic levels and ionisation energies: the
//! NIST Atomic Spectra Database; both from memory, and held against Keenan and Kaye's enthalpies (tests/data/aero.csv) and the
//! JANAF tables in the tests below. Energies are in cm^-1. Higher Rydberg levels are left out: their contribution needs a cutoff that
//! depends on density; what they would add in strongly ionised air has not been measured here.

/// Second radiation constant h c / k, cm K (CODATA 2018).
const C2_CM_K: f64 = 1.438776877;
/// Molar gas constant, J/(mol K) (CODATA 2018, exact).
pub const GAS_CONSTANT: f64 = 8.31446261815324;

/// One vibrating and rotating electronic state: degeneracy, term energy, we, we xe, Be, alpha e (all cm^-1).
struct Band {
    degeneracy: f64,
    term: f64,
    vibration: f64,
    anharmonic: f64,
    rotation: f64,
    coupling: f64,
}

enum Levels {
    /// (degeneracy, energy).
    Atom(&'static [(f64, f64)]),
    /// Rotational symmetry number, and the energy above the ground level where the molecule falls apart.
    Molecule { symmetry: f64, dissociation: f64, bands: &'static [Band] },
}

/// One species: elements (N, O, Ar), charge, molar mass (kg/mol), and its ground level above N2, O2 and Ar at 0 K (cm^-1).
pub struct Species {
    pub name: &'static str,
    pub elements: [f64; 3],
    pub charge: f64,
    pub molar_mass: f64,
    ground: f64,
    levels: Levels,
}

const fn band(degeneracy: f64, term: f64, vibration: f64, anharmonic: f64, rotation: f64, coupling: f64) -> Band {
    Band { degeneracy, term, vibration, anharmonic, rotation, coupling }
}

const N2_DISSOCIATION: f64 = 78714.0;
const O2_DISSOCIATION: f64 = 41260.0;
const NO_DISSOCIATION: f64 = 52400.0;
const NITROGEN: f64 = N2_DISSOCIATION / 2.0;
const OXYGEN: f64 = O2_DISSOCIATION / 2.0;
const NO_GROUND: f64 = NITROGEN + OXYGEN - NO_DISSOCIATION;
const ELECTRON_MASS: f64 = 5.48579909e-7;
const N_MASS: f64 = 0.0140067;
const O_MASS: f64 = 0.0159994;
const AR_MASS: f64 = 0.039948;

const fn atom(
    name: &'static str,
    elements: [f64; 3],
    charge: f64,
    neutral_mass: f64,
    ground: f64,
    levels: &'static [(f64, f64)],
) -> Species {
    Species { name, elements, charge, molar_mass: neutral_mass - charge * ELECTRON_MASS, ground, levels: Levels::Atom(levels) }
}

/// How many species there are.
pub const COUNT: usize = 14;

/// All species; neutral ones first.
pub static SPECIES: [Species; COUNT] = [
    Species {
        name: "N2",
        elements: [2.0, 0.0, 0.0],
        charge: 0.0,
        molar_mass: 2.0 * N_MASS,
        ground: 0.0,
        levels: Levels::Molecule {
            symmetry: 2.0,
            dissociation: N2_DISSOCIATION,
            bands: &[
                band(1.0, 0.0, 2358.57, 14.324, 1.99824, 0.017318),
                band(3.0, 50203.6, 1460.64, 13.87, 1.4546, 0.0180),
                band(6.0, 59619.3, 1733.39, 14.12, 1.63745, 0.01791),
                band(6.0, 59808.0, 1506.5, 12.6, 1.470, 0.017),
                band(3.0, 66272.5, 1516.88, 12.18, 1.4733, 0.0167),
                band(1.0, 68152.7, 1530.25, 12.07, 1.4799, 0.0166),
                band(2.0, 69283.1, 1694.21, 13.95, 1.6169, 0.0179),
            ],
        },
    },
    Species {
        name: "O2",
        elements: [0.0, 2.0, 0.0],
        charge: 0.0,
        molar_mass: 2.0 * O_MASS,
        ground: 0.0,
        levels: Levels::Molecule {
            symmetry: 2.0,
            dissociation: O2_DISSOCIATION,
            bands: &[
                band(3.0, 0.0, 1580.19, 11.98, 1.44563, 0.0159),
                band(2.0, 7918.1, 1483.5, 12.9, 1.4264, 0.0171),
                band(1.0, 13195.1, 1432.77, 14.0, 1.40037, 0.0182),
                band(1.0, 33057.0, 794.3, 12.7, 0.9155, 0.0139),
                band(6.0, 34690.0, 850.0, 20.0, 0.96, 0.0262),
                band(3.0, 35397.8, 799.1, 12.2, 0.9106, 0.0142),
            ],
        },
    },
    Species {
        name: "NO",
        elements: [1.0, 1.0, 0.0],
        charge: 0.0,
        molar_mass: N_MASS + O_MASS,
        ground: NO_GROUND,
        levels: Levels::Molecule {
            symmetry: 1.0,
            dissociation: NO_DISSOCIATION,
            bands: &[
                band(2.0, 0.0, 1904.20, 14.075, 1.67195, 0.0171),
                band(2.0, 119.82, 1904.04, 14.1, 1.72016, 0.0182),
                band(8.0, 38440.0, 1017.0, 11.0, 1.127, 0.016),
                band(2.0, 43965.7, 2374.31, 16.11, 1.9965, 0.0191),
                band(4.0, 45942.0, 1037.2, 7.7, 1.12, 0.0135),
            ],
        },
    },
    atom(
        "N",
        [1.0, 0.0, 0.0],
        0.0,
        N_MASS,
        NITROGEN,
        &[
            (4.0, 0.0),
            (6.0, 19224.46),
            (4.0, 19233.18),
            (6.0, 28839.2),
            (12.0, 83337.0),
            (6.0, 86192.0),
            (12.0, 88145.0),
            (2.0, 93582.0),
            (20.0, 94840.0),
            (12.0, 95510.0),
            (4.0, 96751.0),
            (10.0, 96834.0),
            (6.0, 97794.0),
        ],
    ),
    atom(
        "O",
        [0.0, 1.0, 0.0],
        0.0,
        O_MASS,
        OXYGEN,
        &[
            (5.0, 0.0),
            (3.0, 158.265),
            (1.0, 226.977),
            (5.0, 15867.86),
            (1.0, 33792.58),
            (5.0, 73768.2),
            (3.0, 76794.98),
            (15.0, 86629.0),
            (9.0, 88631.0),
        ],
    ),
    atom("Ar", [0.0, 0.0, 1.0], 0.0, AR_MASS, 0.0, &[(1.0, 0.0), (12.0, 93600.0)]),
    Species {
        name: "NO+",
        elements: [1.0, 1.0, 0.0],
        charge: 1.0,
        molar_mass: N_MASS + O_MASS - ELECTRON_MASS,
        ground: NO_GROUND + 74721.7,
        levels: Levels::Molecule { symmetry: 1.0, dissociation: 87500.0, bands: &[band(1.0, 0.0, 2376.42, 16.262, 1.99727, 0.01889)] },
    },
    atom(
        "N+",
        [1.0, 0.0, 0.0],
        1.0,
        N_MASS,
        NITROGEN + 117225.7,
        &[(1.0, 0.0), (3.0, 48.7), (5.0, 130.8), (5.0, 15316.2), (1.0, 32688.8), (5.0, 46784.6), (15.0, 92244.0)],
    ),
    atom(
        "O+",
        [0.0, 1.0, 0.0],
        1.0,
        O_MASS,
        OXYGEN + 109837.0,
        &[(4.0, 0.0), (6.0, 26810.55), (4.0, 26830.57), (6.0, 40468.7), (12.0, 119900.0)],
    ),
    atom("Ar+", [0.0, 0.0, 1.0], 1.0, AR_MASS, 127109.8, &[(4.0, 0.0), (2.0, 1431.58), (2.0, 108721.5)]),
    atom(
        "N++",
        [1.0, 0.0, 0.0],
        2.0,
        N_MASS,
        NITROGEN + 117225.7 + 238750.2,
        &[(2.0, 0.0), (4.0, 174.4), (12.0, 57250.0), (10.0, 101027.0)],
    ),
    atom(
        "O++",
        [0.0, 1.0, 0.0],
        2.0,
        O_MASS,
        OXYGEN + 109837.0 + 283270.9,
        &[(1.0, 0.0), (3.0, 113.178), (5.0, 306.174), (5.0, 20273.27), (1.0, 43185.74), (5.0, 60324.79)],
    ),
    atom("Ar++", [0.0, 0.0, 1.0], 2.0, AR_MASS, 127109.8 + 222848.3, &[(5.0, 0.0), (3.0, 1112.2), (1.0, 1570.2), (5.0, 14010.0)]),
    Species { name: "e-", elements: [0.0; 3], charge: -1.0, molar_mass: ELECTRON_MASS, ground: 0.0, levels: Levels::Atom(&[(2.0, 0.0)]) },
];

/// What one species contributes at one temperature.
#[derive(Debug, Clone, Copy, Default)]
pub struct Thermal {
    /// ln of k T times the partition function per volume, pressure in Pa: ln p = this + chemical potential / kT.
    pub log_pressure: f64,
    /// Molar enthalpy over the gas constant, K, with N2, O2 and Ar at 0 K as zero.
    pub enthalpy_k: f64,
}

impl Species {
    /// At `temperature_k` (above 0).
    pub fn thermal(&self, temperature_k: f64) -> Thermal {
        let per_wave = C2_CM_K / temperature_k;
        let (sum, energy_k) = match &self.levels {
            Levels::Atom(levels) => {
                let (mut sum, mut energy) = (0.0, 0.0);
                for (degeneracy, level) in *levels {
                    let weight = degeneracy * libm::exp(-level * per_wave);
                    sum += weight;
                    energy += weight * level;
                }
                (sum, C2_CM_K * energy / sum)
            }
            Levels::Molecule { symmetry, dissociation, bands } => {
                let (mut sum, mut energy) = (0.0, 0.0);
                for band in *bands {
                    band.add(temperature_k, *symmetry, *dissociation, &mut sum, &mut energy);
                }
                (sum, energy / sum)
            }
        };
        // 1.5 ln(2 pi m k T / h^2) + ln(k T) with m = molar mass / Avogadro, CODATA 2018.
        let mass = self.molar_mass / 6.02214076e23;
        let k_t = 1.380649e-23 * temperature_k;
        let planck = 6.62607015e-34;
        let translation = 1.5 * libm::log(2.0 * std::f64::consts::PI * (mass / planck) * (k_t / planck)) + libm::log(k_t);
        Thermal {
            log_pressure: translation + libm::log(sum) - self.ground * per_wave,
            enthalpy_k: 2.5 * temperature_k + energy_k + C2_CM_K * self.ground,
        }
    }
}

impl Band {
    /// Adds the band's levels: rotation in closed form (Euler-Maclaurin, three terms), vibration level by level up to dissociation.
    fn add(&self, temperature_k: f64, symmetry: f64, dissociation: f64, sum: &mut f64, energy_k: &mut f64) {
        let zero = 0.5 * self.vibration - 0.25 * self.anharmonic;
        let mut last = -1.0;
        for v in 0..200 {
            let quantum = v as f64 + 0.5;
            let vibration = quantum * self.vibration - quantum * quantum * self.anharmonic - zero;
            let level = self.term + vibration;
            let rotation = self.rotation - self.coupling * quantum;
            if vibration <= last || level > dissociation.max(self.term) && v > 0 || rotation <= 0.1 * self.rotation {
                break;
            }
            last = vibration;
            let ratio = C2_CM_K * rotation / temperature_k;
            let states = (1.0 / ratio + 1.0 / 3.0 + ratio / 15.0) / symmetry;
            // T d ln(states)/dT, the rotational energy over kT.
            let rotational = (1.0 / ratio - ratio / 15.0) / (1.0 / ratio + 1.0 / 3.0 + ratio / 15.0);
            let weight = self.degeneracy * states * libm::exp(-C2_CM_K * level / temperature_k);
            *sum += weight;
            *energy_k += weight * (C2_CM_K * level + rotational * temperature_k);
            if weight < 1e-18 * *sum {
                break;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// JANAF Thermochemical Tables, 3rd edition (1985): H(T) - H(0 K), kJ/mol, from memory.
    #[test]
    fn val_enthalpies_agree_with_janaf() {
        for (name, temperature, want, tolerance) in [
            ("N2", 298.15, 8.670, 0.001),
            ("N2", 1000.0, 30.133, 0.002),
            ("N2", 2000.0, 64.807, 0.002),
            ("N2", 3000.0, 101.385, 0.002),
            ("O2", 298.15, 8.683, 0.001),
            ("O2", 1000.0, 31.386, 0.002),
            ("O2", 2000.0, 67.858, 0.002),
            ("O2", 3000.0, 106.781, 0.003),
        ] {
            let species = SPECIES.iter().find(|s| s.name == name).unwrap();
            let got = species.thermal(temperature).enthalpy_k * GAS_CONSTANT * 1e-3;
            assert!((got / want - 1.0).abs() < tolerance, "{name} {temperature}: {got} for {want}");
        }
    }
}
