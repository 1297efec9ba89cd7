//! Margins, condition, disposition: turns a shield and a scenario into results.
//!
//! | file | idea |
//! | --- | --- |
//! | `controls` | control surfaces: which zones the entries deflect |
//! | `points` | body points: the vehicle's own table, and the shield's factors written as one |
//! | `prepare` | what depends on the scenario but not on a moment: `flights` (flown entries, streams), `changed` (tiles after the changes), `names` (what is not there) |
//! | `start` | where each tile stands when the entry starts, from orbit or as given |
//! | `surface` | the surface of every tile over every entry |
//! | `kept` | peaks and factors kept from one assessment to the next |
//! | `sites` | findings that may trip the boundary layer, with their wedges |
//! | `depth` | glue line and structure of every tile: descent and soak-back, the policy's terms |
//! | `coupled` | what the neighbours' skin brings to a tile's structure |
//! | `flags` | where the one-dimensional answer leaves something out |
//! | `limits` | what each layer may reach |
//! | `policy` | what the terms add to a peak |
//! | `margins` | what is left, after the policy |
//! | `reach` | the heating and the thickness at which a margin ends |
//! | `rounds` | the in-depth work of one revision: what is still to be solved, and what stands |
//! | `sizing` | the thickness that every tile needs |
//! | `condition` | from findings, state, margin and history to a condition and a suggestion |
//! | `consequence` | condition by zone, nose to tail, and risk |
//! | `damage` | temperatures and margins with a finding and without |
//! | `effects` | what a finding does to its tile's model, as rows |
//! | `flown` | thermocouples of a flight against the prediction, and proposed scales |
//! | `history` | flights: what stands, what grew, what a part has flown |
//! | `present` | margins with each finding beside those without |
//! | `skin` | what a cavity's floor, its wall and a bare face meet |
//! | `tolerable` | the deepest and the longest cavity that a tile could tolerate |
//! | `work` | tasks, jobs, hours, timetable |

use crate::heating::Regime;

pub mod condition;
pub mod consequence;
mod controls;
pub mod coupled;
pub mod damage;
pub mod depth;
pub mod effects;
pub mod flags;
pub mod flown;
pub mod history;
mod kept;
pub mod limits;
pub mod margins;
pub mod points;
pub mod policy;
pub mod prepare;
pub mod present;
pub mod reach;
pub mod rounds;
pub mod sites;
pub mod sizing;
mod skin;
pub mod start;
pub mod surface;
pub mod tolerable;
pub mod work;

pub use kept::Kept;
pub use margins::{
    assess, assess_keeping, findings, first_look, margins, settle, settle_keeping, smallest_margin, smallest_margin_in_depth, with_depth,
    with_depth_keeping,
};
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

/// How a tile stands with its solution in depth.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum InDepth {
    /// Not solved yet: the surface's estimate stands alone.
    #[default]
    Pending,
    /// Nothing lies under it.
    NoStack,
    Solved,
    /// Why there is no valid answer.
    Failed(depth::End),
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
    pub in_depth: InDepth,
    /// The face in the transient, a little below `surface`, which is in equilibrium and stores nothing.
    pub face: Option<Peak>,
    pub bondline: Option<Peak>,
    /// The higher of the two below: what its margin counts; the glue line's likewise.
    pub structure: Option<Peak>,
    pub bondline_isolated: Option<Peak>,
    /// The tile by itself, and with the heat that the skin carries between tiles (known once every tile is solved).
    pub structure_isolated: Option<Peak>,
    pub structure_coupled: Option<Peak>,
    /// What the one-dimensional answer leaves out at this tile.
    pub flags: flags::Flags,
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
    /// Peaks with the policy's terms counted, each of the entry that leaves its layer least.
    pub counted_surface_k: f64,
    pub counted_bondline_k: Option<f64>,
    pub counted_structure_k: Option<f64>,
    pub margin_k: Option<f64>,
    /// The entry that leaves surface, glue line and structure least.
    pub layer_entries: [usize; 3],
    /// The size of each term's shift of the governing layer's peak, K, at the policy's level, in the policy's order; and the largest.
    pub shifts_k: Vec<f64>,
    pub term_most: Option<usize>,
    pub governed_by: Option<GovernedBy>,
    /// Name of the layer or coating whose limit governs.
    pub limiting_layer: String,
    pub governing_entry: Option<usize>,
    pub heating_factor_to_limit: Option<f64>,
    /// The surface's own, which `heating_factor_to_limit` is not above.
    pub surface_heating_factor: Option<f64>,
    pub thickness_to_limit_mm: Option<f64>,
    pub condition: Condition,
    pub disposition: Option<Disposition>,
    /// The rule that gave condition and suggestion, in words; empty where none did.
    pub rule: String,
    /// What a person decided: decision, decided_by, decided_on, decision_reason; empty where nobody did.
    pub decision: [String; 4],
    pub numerical_error_k: f64,
}

impl TileResult {
    /// What the neighbours' skin brings to the largest peaks of glue line and structure, K, 0 or more.
    pub fn brought_k(&self) -> [f64; 2] {
        [(self.bondline, self.bondline_isolated), (self.structure, self.structure_isolated)].map(|pair| match pair {
            (Some(counts), Some(alone)) => (counts.temperature_k - alone.temperature_k).max(0.0),
            _ => 0.0,
        })
    }

    /// Nominal peak of the governing layer over the entries, and its peak with the policy's terms in the governing entry, K.
    pub fn governing_peak(&self) -> Option<(f64, f64)> {
        match self.governed_by? {
            GovernedBy::Surface => Some((self.surface.temperature_k, self.counted_surface_k)),
            GovernedBy::Bondline => Some((self.bondline?.temperature_k, self.counted_bondline_k?)),
            GovernedBy::Structure => Some((self.structure?.temperature_k, self.counted_structure_k?)),
        }
    }

    /// When and how hot the governing layer gets, and what it may.
    pub fn governing(&self) -> Option<(Peak, f64)> {
        match self.governed_by? {
            GovernedBy::Surface => Some((self.surface, self.limit_surface_k?)),
            GovernedBy::Bondline => Some((self.bondline?, self.limit_bondline_k?)),
            GovernedBy::Structure => Some((self.structure?, self.limit_structure_k?)),
        }
    }
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
    /// Tiles whose solution in depth is not there yet: 0 in a full result.
    pub pending: usize,
}

#[cfg(test)]
mod edited;
#[cfg(test)]
mod pace;
#[cfg(test)]
mod tests;
