//! Coupon tests: one stack under a prescribed exposure, compared with its thermocouples and fitted to them.
//!
//! | file | idea |
//! | --- | --- |
//! | `case` | the `tileglow-coupon/1` document |
//! | `solve` | the case on finer and finer grids until two agree |
//! | `traces` | measured traces and how far the computed ones lie from them |
//! | `fit` | scales of properties and flux fitted to traces, with confidence limits |
//! | `result` | the `tileglow-coupon-result/1` document |

pub mod case;
pub mod fit;
pub mod result;
pub mod solve;
pub mod traces;

pub use case::Case;
pub use result::{Input, Outcome, coupon};

#[cfg(test)]
mod tests;
