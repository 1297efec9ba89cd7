//! A cavity smaller than its tile: conduction by radius and depth, the same properties and face as the one-dimensional solver.
//!
//! | file | idea |
//! | --- | --- |
//! | `grid` | nodes by radius and depth around a cylindrical cavity, what links them, what each face covers |
//! | `march` | implicit steps on that grid, error-controlled |
//! | `solve` | two grids, their difference as the stated error, and the peaks that count |
//!
//! The tile and what lies under it are a cylinder of the tile's area, insulated around; the cavity is a cylinder of the cavity's area in its
//! middle. A cavity near an edge loses less heat sideways than this says on that side; one whose length is far from its width is cooled more.

mod grid;
mod march;
mod solve;
#[cfg(test)]
mod tests;

pub use solve::{Answer, CavityProblem, plain, quick, solve};

use crate::tile::properties::{Conduction, Solid};

/// One layer, from the heated face inward, without contacts between.
#[derive(Debug, Clone, PartialEq)]
pub struct CavityLayer {
    pub solid: Solid,
    /// Conduction along the layer where it differs from that through it.
    pub inplane: Option<Conduction>,
}

/// The share of what a cylindrical cavity's floor and (mean) wall emit that leaves through its opening, the rest meeting other walls of about
/// the same temperature.
///
/// Two equal coaxial disks of radius a at distance d: F = (X - sqrt(X^2 - 4)) / 2 with X = 2 + (d / a)^2; the wall's by reciprocity,
/// a (1 - F) / (2 d) (any text on radiation; from memory). 1 and 1/2 for a shallow cavity.
pub fn open_share(radius_m: f64, depth_m: f64) -> (f64, f64) {
    if depth_m <= 0.0 || radius_m <= 0.0 {
        return (1.0, 0.5);
    }
    let ratio = depth_m / radius_m;
    // In forms that lose no digits, where the cavity is deep and where it is shallow.
    let root = (4.0 + ratio * ratio).sqrt();
    let sum = 2.0 + ratio * ratio + ratio * root;
    (2.0 / sum, 0.5 * (ratio + root) / sum)
}
