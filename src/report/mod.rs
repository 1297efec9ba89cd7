//! Tables, digests, numbers, sentences and texts made from an assessment.
//!
//! | file | idea |
//! | --- | --- |
//! | `tiles` | tiles.csv |
//! | `summary` | summary.json |
//! | `work` | work.csv |
//! | `size` | what sizing says, by zone |
//! | `damage` | damage.csv and effects.csv |
//! | `tolerable` | tolerable.csv |
//! | `brief` | the readable summary of the command |
//! | `digest` | SHA-256 of inputs and results |
//! | `ramp` | value to colour, for legend and shield alike |
//! | `axis` | from a value to a place on the page and back |
//! | `numbers` | numbers as they are read, in SI and US customary units |
//! | `words` | the sentences that the results speak |
//! | `reference` | the reference relations side by side, and what is known of their uncertainty |
//! | `inputs` | the inputs in the order of the physics, and how each changes a scenario |
//! | `finding_form` | what the inspection's form asks for each kind, and the scenario that its answers make |
//! | `entries` | the set of entries, edited |
//! | `corridor` | altitude over speed, and what bounds it |
//! | `references` | reference-heating relations side by side |
//! | `dropped` | what a single dropped file is |
//! | `thickness` | what sizing found: by zone, and taken over into a scenario |
//! | `calibrated` | a material with the scales of a ground test |
//! | `course` | the numbers and plans of an entry that an input may change |

pub mod axis;
pub mod brief;
pub mod calibrated;
pub mod corridor;
pub mod course;
pub mod damage;
pub mod digest;
pub mod dropped;
pub mod entries;
pub mod finding_form;
pub mod inputs;
pub mod numbers;
pub mod ramp;
pub mod reference;
pub mod references;
pub mod size;
pub mod summary;
pub mod thickness;
pub mod tiles;
pub mod tolerable;
pub mod words;
pub mod work;

/// Stands wherever a margin, a repair or a disposition stands.
pub const CAUTION: &str = "Advice to a qualified engineer. The responsible engineer, licensed where the law asks, local codes and the vehicle's own \
                           certification decide. A suggested disposition is not a decision.";
