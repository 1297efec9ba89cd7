//! What reaches each tile: the reference heating times a local factor, with the recovery enthalpy that goes with it.
//!
//! | file | idea |
//! | --- | --- |
//! | `reference` | stagnation heating of the reference sphere, by three published relations |
//! | `blunt` | how heating falls off around a sphere and a cylinder (Lees) |
//! | `expansion` | pressure on faces that the flow grazes: Newtonian joined to Prandtl-Meyer |
//! | `catalysis` | what a surface saves on which not all atoms recombine |
//! | `gap` | steps and gaps between tiles |
//! | `control` | control surfaces: hinges, turned tiles, heating behind the corner |
//! | `curvature` | principal curvatures of the surface under a tile, from its neighbours' normals |
//! | `running` | running length along the surface from where the flow attaches |
//! | `place` | a tile's place on the body: both of the above, once a vehicle |
//! | `stream` | one moment of a flight: free stream, stagnation state, edge-gas fits |
//! | `local` | the local factor by geometry, four tiles at a time: `tiles` (laid side by side), `raised` (steps, gaps, corners, turbulence), `onset` (criteria and wedges), `chain` (one tile told) |
//! | `points` | a user's body points in place of the geometric estimate |
//! | `transition` | where the boundary layer turns turbulent, and how gradually |
//! | `thresholds` | what trips it, as editable data with source and range |
//! | `wedge` | which tiles lie behind a site that trips it |

pub mod blunt;
pub mod catalysis;
pub mod control;
mod curvature;
pub mod expansion;
pub mod gap;
pub mod local;
pub mod place;
pub mod points;
pub mod reference;
mod running;
pub mod stream;
pub mod thresholds;
pub mod transition;
pub mod wedge;

pub use local::{Moment, Surface};
pub use place::{Body, Place, survey};
pub use stream::Stream;
pub use thresholds::{Measure, Threshold, Thresholds};

use glam::DVec3;

/// What the heating knows of one tile's geometry before it looks at the whole body: from the mesh, in metres, x aft, y right, z up.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Facet {
    pub centre: DVec3,
    /// Outward unit normal (area-weighted over the tile's triangles).
    pub normal: DVec3,
    pub area_m2: f64,
    /// The table's own values, which replace the computed ones.
    pub nose_radius_m: Option<f64>,
    pub running_length_m: Option<f64>,
}

/// Directions along the surface of a face: aft (up where the face looks forward or aft), and right as seen from outside with aft ahead.
pub fn along_and_across(normal: DVec3) -> (DVec3, DVec3) {
    curvature::frame(normal)
}

/// Where the boundary layer turns turbulent.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum Transition {
    #[default]
    None,
    /// Turbulent from this time on, from entry interface.
    Time { time_s: f64 },
    /// Turbulent below this free-stream Mach number.
    Mach { mach: f64 },
    /// Turbulent where Re_theta / M_e exceeds the limit.
    MomentumThickness { limit: f64 },
    /// Turbulent where the roughness criterion exceeds the limit; what the limit is of, and its 0, depend on the criterion.
    Roughness { limit: f64, criterion: Roughness },
}

/// Which roughness trips the boundary layer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Roughness {
    /// Every tile's own step: (Re_theta / M_e) (k / delta) over the limit.
    #[default]
    Distributed,
    /// Sites found, each by its own threshold, with wedges behind them; elsewhere Re_theta / M_e over the limit, 0 for the table's smooth body.
    Isolated,
    /// Steps and sites that stand proud by Re_k over the limit, 0 for the table's; cavities by their own thresholds; wedges behind sites.
    Reynolds,
}

impl Roughness {
    pub const WORDS: [&'static str; 3] = ["distributed", "isolated", "reynolds"];
    const ALL: [Roughness; 3] = [Roughness::Distributed, Roughness::Isolated, Roughness::Reynolds];

    /// The word of the scenario's `criterion`.
    pub fn word(self) -> &'static str {
        Roughness::WORDS[self as usize]
    }

    pub fn from_word(word: &str) -> Option<Roughness> {
        Roughness::ALL.into_iter().find(|criterion| criterion.word() == word)
    }
}

impl Transition {
    /// Whether sites with wedges count.
    pub fn has_sites(&self) -> bool {
        matches!(self, Transition::Roughness { criterion: Roughness::Isolated | Roughness::Reynolds, .. })
    }
}

/// The heating choices of a scenario that do not depend on a tile.
#[derive(Debug, Clone, PartialEq)]
pub struct Choices {
    /// The relation behind the reference heating.
    pub reference: reference::Relation,
    /// Multiplies every model.
    pub scale: f64,
    /// Lee-side heating over the reference.
    pub lee_fraction: f64,
    pub transition: Transition,
    /// What trips the boundary layer, for the criteria that read it.
    pub thresholds: Thresholds,
    /// Coatings recombine by their own probabilities; else every surface is fully catalytic.
    pub recombination: bool,
}

impl Default for Choices {
    fn default() -> Self {
        Self {
            reference: reference::Relation::SuttonGraves,
            scale: 1.0,
            lee_fraction: 0.035,
            transition: Transition::None,
            thresholds: Thresholds::default(),
            recombination: false,
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Regime {
    #[default]
    Laminar,
    Transitional,
    Turbulent,
}
