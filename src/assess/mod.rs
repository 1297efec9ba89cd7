//! Margins, condition, disposition: turns a shield and a scenario into results.
//!
//! | file | idea |
//! | --- | --- |
//! | `controls` | control surfaces: which zones the entries deflect |
//! | `points` | body points: the vehicle's own table, and the shield's factors written as one |
//! | `prepare` | what depends on the scenario but not on the tile: flown entries, streams, effective tiles |
//! | `start` | where each tile stands when the entry starts, from orbit or as given |
//! | `surface` | the surface of every tile over every entry |
//! | `margins` | limits and what is left, after the policy |
//! | `condition` | from findings, state, margin and history to a condition and a suggestion |
//! | `consequence` | condition by zone, nose to tail, and risk |
//! | `damage` | temperatures and margins with a finding and without |
//! | `effects` | what a finding does to its tile's model, as rows |
//! | `flown` | thermocouples of a flight against the prediction, and proposed scales |
//! | `history` | flights: what stands, what grew, what a part has flown |
//! | `tolerable` | the deepest and the longest cavity that a tile could tolerate |
//! | `work` | tasks, jobs, hours, timetable |

use crate::heating::Regime;

pub mod condition;
pub mod consequence;
mod controls;
pub mod damage;
pub mod effects;
pub mod flown;
pub mod history;
pub mod margins;
pub mod points;
pub mod prepare;
pub mod start;
pub mod surface;
pub mod tolerable;
pub mod work;

pub use margins::{assess, findings, margins, settle, smallest_margin};
pub use prepare::{EffectiveTile, Prepared};

/// Where a tile stands as installed and inspected.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub enum Condition {
    Planned,
    Fitted,
    Bonded,
    Tested,
    #[default]
    AsBuilt,
    Watch,
    Repair,
    Replace,
    NotCleared,
}

/// The suggestion; a person decides.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Disposition {
    FlyAsIs,
    Watch,
    RepairInPlace,
    Replace,
    EngineeringReview,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GovernedBy {
    Surface,
    Bondline,
    Structure,
}

/// A peak and when it was, in its own entry, from entry interface.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Peak {
    pub temperature_k: f64,
    pub time_s: f64,
    /// Index of the entry.
    pub entry: usize,
}

/// One tile's results; `None` where there is no model or no such layer.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TileResult {
    /// The tile as the scenario's changes leave it.
    pub effective: Effective,
    pub mass_kg: f64,
    pub surface: Peak,
    /// The boundary layer at the surface's peak.
    pub regime_at_peak: Regime,
    /// Near transition at its peak: expect a jump of 50 to 200 K if onset moves.
    pub sensitive: bool,
    pub bondline: Option<Peak>,
    pub structure: Option<Peak>,
    pub structure_at_touchdown_k: Option<f64>,
    pub heat_load_j_m2: f64,
    /// Share of the heat load from moments at which half rho V^3 takes more than a tenth off, in the entry with the largest load.
    pub capped_share: f64,
    pub limit_surface_k: Option<f64>,
    pub limit_bondline_k: Option<f64>,
    pub limit_structure_k: Option<f64>,
    pub margin_surface_k: Option<f64>,
    pub margin_bondline_k: Option<f64>,
    pub margin_structure_k: Option<f64>,
    pub margin_k: Option<f64>,
    pub governed_by: Option<GovernedBy>,
    /// Name of the layer or coating whose limit governs.
    pub limiting_layer: String,
    pub governing_entry: Option<usize>,
    pub heating_factor_to_limit: Option<f64>,
    pub thickness_to_limit_mm: Option<f64>,
    pub condition: Condition,
    pub disposition: Option<Disposition>,
    /// The rule that gave condition and suggestion, in words; empty where none did.
    pub rule: String,
    /// What a person decided: decision, decided_by, decided_on, decision_reason; empty where nobody did.
    pub decision: [String; 4],
    pub numerical_error_k: f64,
}

/// What a tile is made of after the scenario's changes; indices into the vehicle's library.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Effective {
    pub material: usize,
    pub coating: Option<usize>,
    pub stack: Option<usize>,
    pub thickness_m: f64,
    pub density_kg_m3: f64,
}

/// The results of a shield under a scenario, a row a tile in the order of the vehicle's table.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Assessment {
    pub tiles: Vec<TileResult>,
    /// The models used, each with its source.
    pub models: Vec<String>,
    /// What has no model yet, in words.
    pub not_assessed: Vec<String>,
    pub warnings: Vec<String>,
}
