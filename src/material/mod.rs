//! Materials: properties with their sources, coatings, the stack under a tile, limits.
//!
//! | file | idea |
//! | --- | --- |
//! | `library` | the built-in materials and a user's, each property with its provenance |
//! | `limit` | limits by number of flights |
//! | `stack` | what lies under a tile, from the bond inward |

pub mod library;
pub mod limit;
pub mod stack;

pub use limit::{LimitPolicy, LimitRead};

use crate::document::Curve;
use std::collections::BTreeMap;

/// Where a property's value comes from, as the user is shown it.
#[derive(Debug, Clone, PartialEq)]
pub struct Provenance {
    /// `published`, `reconstructed`, `memory`, …; per part (`room: published, hot: memory`) where the source splits it.
    pub basis: String,
    pub source: String,
    pub note: Option<String>,
    pub uncertainty_fraction: Option<f64>,
    /// What the fraction means: `range` (plus or minus) unless it says otherwise.
    pub uncertainty_kind: Option<String>,
}

/// Thermal conductivity, W/mK: over temperature, or over temperature (columns) and pressure (rows, log-linear between).
#[derive(Debug, Clone, PartialEq)]
pub enum Conductivity {
    Curve(Curve),
    /// `value[row of pressure][column of temperature]`.
    Grid {
        temperature_k: Vec<f64>,
        pressure_pa: Vec<f64>,
        value: Vec<Vec<f64>>,
    },
}

/// A limit: one temperature, or a table over the number of flights.
#[derive(Debug, Clone, PartialEq)]
pub enum Limit {
    Kelvin(f64),
    Flights { flights: Vec<f64>, value_k: Vec<f64> },
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Rigid ceramic tile.
    Tile,
    Blanket,
    HotStructure,
    Coating,
    Adhesive,
    IsolationPad,
    Filler,
    Metal,
    Composite,
}

impl Kind {
    pub const ALL: [Kind; 9] = [
        Kind::Tile,
        Kind::Blanket,
        Kind::HotStructure,
        Kind::Coating,
        Kind::Adhesive,
        Kind::IsolationPad,
        Kind::Filler,
        Kind::Metal,
        Kind::Composite,
    ];

    /// The word that files and tables use.
    pub fn word(self) -> &'static str {
        match self {
            Kind::Tile => "tile",
            Kind::Blanket => "blanket",
            Kind::HotStructure => "hot structure",
            Kind::Coating => "coating",
            Kind::Adhesive => "adhesive",
            Kind::IsolationPad => "isolation pad",
            Kind::Filler => "filler",
            Kind::Metal => "metal",
            Kind::Composite => "composite",
        }
    }
}

/// Surface recombination over one range of temperature: the share of atoms that recombine is `factor exp(exponent_k / T)`.
#[derive(Debug, Clone, PartialEq)]
pub struct Recombination {
    /// `O`, `N` or `air`.
    pub species: String,
    pub low_k: f64,
    pub high_k: f64,
    pub factor: f64,
    pub exponent_k: f64,
}

/// One material of the library. SI units.
#[derive(Debug, Clone, PartialEq)]
pub struct Material {
    /// Lower-case id, unique in the library.
    pub id: String,
    pub name: String,
    pub kind: Kind,
    pub density_kg_m3: f64,
    pub specific_heat_j_kgk: Curve,
    pub conductivity_w_mk: Conductivity,
    pub conductivity_inplane_w_mk: Option<Conductivity>,
    pub single_mission_limit_k: Option<Limit>,
    pub reuse_limit_k: Option<Limit>,
    pub reuse_flights: Option<f64>,
    /// Hemispherical emissivity, constant or over `temperature_k`.
    pub emissivity: Option<Curve>,
    pub solar_absorptance: Option<f64>,
    /// Coating, adhesive or pad: the thickness at which it is used.
    pub thickness_m: Option<f64>,
    /// The thicknesses in which it is made.
    pub thickness_range_m: Option<(f64, f64)>,
    pub surface_recombination: Vec<Recombination>,
    pub valid_k: Option<(f64, f64)>,
    pub extrapolated_above_k: Option<f64>,
    /// By property key.
    pub provenance: BTreeMap<String, Provenance>,
    /// By property key: the uncertainty as a fraction of the value.
    pub uncertainty: BTreeMap<String, f64>,
}

impl Material {
    /// Hemispherical emissivity at `temperature_k`, above 0 to 1; `None` for a material that has none.
    pub fn emissivity_at(&self, temperature_k: f64) -> Option<f64> {
        self.emissivity.as_ref().map(|curve| curve.value_at(temperature_k))
    }
}

/// All materials known to a vehicle: the built-in ones, replaced or joined by its own.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Library {
    pub materials: Vec<Material>,
}

impl Library {
    /// The index of a material, letter case ignored.
    pub fn find(&self, id: &str) -> Option<usize> {
        self.materials.iter().position(|material| material.id.eq_ignore_ascii_case(id))
    }
}

/// One layer under a tile.
#[derive(Debug, Clone, PartialEq)]
pub struct StackLayer {
    pub name: String,
    /// Index into the library.
    pub material: usize,
    pub thickness_m: f64,
    /// Replaces the material's limit.
    pub limit_k: Option<Limit>,
}

/// What a stack's back face meets.
#[derive(Debug, Clone, PartialEq)]
pub enum Back {
    Adiabatic,
    Temperature { temperature_k: Curve },
    Convection { h_w_m2k: Curve, ambient_k: Curve },
    Radiation { emissivity: f64, surroundings_k: f64 },
}

/// What lies under a tile, from under the tile inward.
#[derive(Debug, Clone, PartialEq)]
pub struct Stack {
    pub name: String,
    pub layers: Vec<StackLayer>,
    /// Index of the layer whose peak counts as the structure's.
    pub structure: usize,
    pub back: Back,
}
