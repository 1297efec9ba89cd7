//! Tables, digests and texts made from an assessment.
//!
//! | file | idea |
//! | --- | --- |
//! | `tiles` | tiles.csv |
//! | `summary` | summary.json |
//! | `brief` | the readable summary of the command |
//! | `digest` | SHA-256 of inputs and results |
//! | `ramp` | value to colour, for legend and shield alike |

pub mod brief;
pub mod digest;
pub mod ramp;
pub mod summary;
pub mod tiles;

/// Stands wherever a margin, a repair or a disposition stands.
pub const CAUTION: &str = "Advice to a qualified engineer. The responsible engineer, licensed where the law asks, local codes and the vehicle's own \
                           certification decide. A suggested disposition is not a decision.";
