//! Air: the standard atmosphere 1976, equilibrium real-air enthalpy, viscosity, shock relations.
//!
//! | file | idea |
//! | --- | --- |
//! | `atmosphere` | U.S. Standard Atmosphere 1976, 0 to 1000 km, an exponential one, a table |
//! | `upper` | the standard above 86 km |
//! | `species` | partition functions of the species of hot air |
//! | `composition` | equilibrium at one temperature and pressure, solved |
//! | `equilibrium` | enthalpy, density, speed of sound of equilibrium air from a table of those solutions; the curve at one pressure |
//! | `viscosity` | Sutherland's law and beyond |
//! | `shock` | normal-shock relations |

pub mod atmosphere;
pub mod composition;
pub mod equilibrium;
pub mod shock;
pub mod species;
pub mod upper;
pub mod viscosity;

pub use atmosphere::{Atmosphere, State};
pub use equilibrium::EnthalpyCurve;
