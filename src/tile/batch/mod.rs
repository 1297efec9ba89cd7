//! Every tile's transient over an entry, the descent and the soak-back, four tiles to a SIMD lane group.
//!
//! | file | idea |
//! | --- | --- |
//! | `table` | a material's properties on one uniform grid of temperature, ready for lanes |
//! | `problem` | one tile: its stack, what heats it, how it starts and lands; what came out |
//! | `face` | the heat into a tile's face and out of its back, lane by lane |
//! | `lanes` | one implicit step of four tiles, each with its own step and convergence |
//! | `plan` | a tile's two grids |
//! | `pace` | where a step may end |
//! | `track` | what a run gathers, and what two runs say together |
//! | `march` | every tile on a coarse and on a fine resolution, finer again where its stated error asks for it |
//! | `run` | four lanes through time on one resolution |
//! | `rough` | the coarse resolution alone, by its own steps or by those of a run alike |
//! | `steady` | where a tile ends on the ground |

mod face;
mod lanes;
mod march;
mod pace;
mod plan;
mod problem;
mod rough;
mod run;
mod steady;
mod table;
mod track;

pub use march::{Solved, solve, solve_traced, solve_with_history};
pub use problem::{End, Exchange, History, Landing, TileLayer, TilePeak, TileProblem, TileResult};
pub use rough::{Path, solve_rough};
pub use table::{MaterialTable, WallTable};

#[cfg(test)]
mod honesty;
#[cfg(test)]
mod tests;
