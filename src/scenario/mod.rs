//! The versioned document that holds every choice, and its link.
//!
//! | file | idea |
//! | --- | --- |
//! | `read`, `write` | the `tileglow-scenario/1` document; unknown keys are errors, defaults are written out |
//! | `upkeep` | the keys `inspection` and `work` |
//! | `link` | `#v1.` + base64url of the deflated document |

use crate::document::Json;
use crate::flight::Course;
use crate::heating::gap::OwnFactors;
use crate::heating::{Choices, Transition};
use crate::tile::orbit::Exposure;
use std::collections::BTreeMap;

pub mod link;
mod read;
mod upkeep;
mod write;

use read::{factors, whole};
pub use upkeep::{Accepted, ISOTHERM_K, Inspection, Waterproofing, WorkChoices};
pub use write::TERM_NAMES;

/// The document's format key.
pub const FORMAT: &str = "tileglow-scenario/1";

/// Every choice behind a result. Equal scenarios and vehicles give equal bytes.
#[derive(Debug, Clone, PartialEq)]
pub struct Scenario {
    pub vehicle_name: String,
    pub vehicle_digest: Option<String>,
    pub entries: Vec<NamedEntry>,
    pub heating: HeatingChoices,
    pub start: Start,
    pub landing: Landing,
    pub policy: Policy,
    pub sizing: Sizing,
    pub changes: Vec<Change>,
    /// Rows of findings.csv as objects, keys as its columns; they replace those of the same id in the vehicle.
    pub findings: Vec<Json>,
    pub inspection: Inspection,
    pub work: WorkChoices,
    pub view: View,
    pub note: String,
}

/// One entry of the set, flown or imported.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedEntry {
    pub name: String,
    pub course: Course,
    /// Replaces the scenario's transition for this entry.
    pub transition: Option<Transition>,
}

/// The Mach number of [`NamedEntry::early_transition`]: the earliest transitions recorded on a crewed winged entry vehicle, by roughness, came near Mach
/// 18 and 19, where the usual is 8 to 10 (flights reviewed by Bouslog and others, AIAA 97-0274; numbers from memory).
pub const EARLY_MACH: f64 = 18.0;

impl NamedEntry {
    /// The same entry with an early transition, as a case of its own beside it: turbulent below [`EARLY_MACH`], named after it.
    pub fn early_transition(&self) -> NamedEntry {
        NamedEntry {
            name: format!("{}, early transition", self.name),
            course: self.course.clone(),
            transition: Some(Transition::Mach { mach: EARLY_MACH }),
        }
    }
}

impl Scenario {
    /// The scenario with the early-transition case of an entry added at the end of the set; `None` where there is no such entry or the case stands already.
    pub fn with_early_transition(&self, entry: usize) -> Option<Scenario> {
        let early = self.entries.get(entry)?.early_transition();
        if self
            .entries
            .iter()
            .any(|other| other.name == early.name || (other.course == early.course && other.transition == early.transition))
        {
            return None;
        }
        let mut scenario = self.clone();
        scenario.entries.push(early);
        Some(scenario)
    }
}

/// The heating choices, with the maps that a tile's zone and coating select from; what a map does not name counts 1.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct HeatingChoices {
    pub choices: Choices,
    pub zone_factor: BTreeMap<String, f64>,
    pub catalycity: BTreeMap<String, f64>,
    /// The user's own factors of a proud tile, and of one behind an open gap, in place of the relations.
    pub steps: Option<OwnFactors>,
    pub gaps: Option<OwnFactors>,
}

#[derive(Debug, Clone, PartialEq)]
pub enum Start {
    Temperature {
        surface_k: f64,
        structure_k: f64,
    },
    Orbit {
        sun_vector: [f64; 3],
        planet_vector: [f64; 3],
        albedo: f64,
        planet_infrared_w_m2: f64,
        hold_s: f64,
        structure_k: Option<f64>,
        /// `None` takes that at which the first entry begins.
        altitude_m: Option<f64>,
        exposure: Exposure,
    },
}

impl Start {
    /// The start from orbit at the values that the document's defaults state: planet below, sun above.
    pub fn orbit() -> Start {
        Start::Orbit {
            sun_vector: [0.0, 0.0, 1.0],
            planet_vector: [0.0, 0.0, -1.0],
            albedo: 0.3,
            planet_infrared_w_m2: 237.0,
            hold_s: 5400.0,
            structure_k: None,
            altitude_m: None,
            exposure: Exposure::DeorbitPoint,
        }
    }
}

impl Default for Start {
    fn default() -> Self {
        Start::Temperature { surface_k: 300.0, structure_k: 300.0 }
    }
}

#[derive(Debug, Clone, PartialEq)]
pub struct Landing {
    pub descent_s: f64,
    pub altitude_m: f64,
    pub air_k: f64,
    pub h_w_m2k: f64,
    pub limit_s: f64,
}

impl Default for Landing {
    fn default() -> Self {
        Self { descent_s: 400.0, altitude_m: 0.0, air_k: 290.0, h_w_m2k: 5.0, limit_s: 20000.0 }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum Limits {
    #[default]
    Reuse,
    SingleMission,
    Flights(f64),
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Combine {
    #[default]
    RootSumSquare,
    Sum,
    Sampled,
}

/// One uncertainty term: `fraction` is the level's size at `level_sigma`.
#[derive(Debug, Clone, PartialEq)]
pub struct Term {
    pub name: String,
    pub fraction: f64,
    pub level_sigma: f64,
}

#[derive(Debug, Clone, PartialEq, Default)]
pub struct Policy {
    pub limits: Limits,
    pub combine: Combine,
    pub terms: Vec<Term>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Sizing {
    pub margin_k: f64,
    pub step_mm: f64,
    pub minimum_mm: f64,
    pub maximum_mm: f64,
}

impl Default for Sizing {
    fn default() -> Self {
        Self { margin_k: 0.0, step_mm: 0.1, minimum_mm: 8.0, maximum_mm: 150.0 }
    }
}

/// Which tiles a change reaches.
#[derive(Debug, Clone, PartialEq)]
pub enum Reach {
    Zone(String),
    Tiles(Vec<String>),
}

/// A change of table values for some tiles. Only named keys change.
#[derive(Debug, Clone, PartialEq)]
pub struct Change {
    pub reach: Reach,
    pub set: Vec<(ChangeKey, ChangeValue)>,
}

/// The columns of tiles.csv that a change may set.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum ChangeKey {
    Material,
    Coating,
    Stack,
    ThicknessMm,
    DensityKgM3,
    Emissivity,
    SolarAbsorptance,
    NoseRadiusM,
    RunningLengthM,
    HeatingFactor,
}

#[derive(Debug, Clone, PartialEq)]
pub enum ChangeValue {
    Number(f64),
    Text(String),
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Colour {
    #[default]
    Margin,
    Surface,
    Bondline,
    Structure,
    Condition,
    Regime,
    /// What each tile tolerates of a cavity ([`View::cavity`]), at least.
    ToleratedDepth,
    ToleratedLength,
}

/// Of which cavities is asked what a tile tolerates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cavity {
    /// The deepest of this length.
    pub length_mm: f64,
    /// The longest of this depth.
    pub depth_mm: f64,
}

impl Default for Cavity {
    fn default() -> Self {
        Cavity { length_mm: 50.0, depth_mm: 10.0 }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum UnitSystem {
    #[default]
    Si,
    Us,
}

/// What is seen; no result depends on it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct View {
    pub colour: Colour,
    /// The moment shown, from entry interface; `None` is the peak of the flight.
    pub time_s: Option<f64>,
    pub units: UnitSystem,
    pub tile: Option<String>,
    /// Index by name of the entry shown in the ribbon and at `time_s`; `None` is the first.
    pub entry: Option<String>,
    /// The flattened map instead of the shield.
    pub map: bool,
    /// Camera: azimuth and elevation in degrees (0, 0 looks at the nose; elevation positive from above), distance in body
    /// lengths, target as a share of the body's box from its centre. `None` is the default camera.
    pub camera: Option<[f64; 6]>,
    /// Brushed range of the shown value in SI units.
    pub brush: Option<[f64; 2]>,
    /// Banded scale.
    pub bands: bool,
    pub cavity: Cavity,
}

#[cfg(test)]
mod tests;
