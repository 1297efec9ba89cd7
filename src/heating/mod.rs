//! What reaches each tile: the reference heating times a local factor, with the recovery enthalpy that goes with it.
//!
//! | file | idea |
//! | --- | --- |
//! | `reference` | stagnation heating of the reference sphere |
//! | `place` | a tile's place on the body: inclination frame, running length, radii |
//! | `local` | the local factor by geometry, per tile and moment |

use glam::DVec3;

/// What the heating knows of one tile's geometry before it looks at the whole body: from the mesh, in metres, x aft, y right, z up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Facet {
    pub centre: DVec3,
    /// Outward unit normal (area-weighted over the tile's triangles).
    pub normal: DVec3,
    pub area_m2: f64,
    /// The table's own values, which replace the computed ones.
    pub nose_radius_m: Option<f64>,
    pub running_length_m: Option<f64>,
}
