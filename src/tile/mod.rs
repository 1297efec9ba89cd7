//! What one tile does with the heat that reaches it.
//!
//! | file | idea |
//! | --- | --- |
//! | `equilibrium` | radiative equilibrium of the face with the hot-wall correction |
//! | `properties` | property tables with their integrals over temperature |
//! | `face` | what a face of a stack meets |
//! | `mesh` | the grid through a stack |
//! | `transient` | one stack's transient, accuracy first |
//! | `history` | values at asked times, and peaks |
//! | `orbit` | before the entry: sun, albedo, planet, and the structure that lags |
//! | `batch` | every tile of a shield, four to a lane group |
//! | `cavity` | a cavity smaller than its tile, by radius and depth |
//! | `coupon` | a ground test of one stack |

pub mod batch;
pub mod cavity;
pub mod coupon;
pub mod equilibrium;
pub mod face;
pub mod history;
pub mod mesh;
pub mod orbit;
pub mod properties;
pub mod transient;
