//! Air: the standard atmosphere 1976, equilibrium real-air enthalpy, viscosity, shock relations.
//!
//! | file | idea |
//! | --- | --- |
//! | `atmosphere` | U.S. Standard Atmosphere 1976, 0 to 1000 km, an exponential one, a table |
//! | `equilibrium` | enthalpy of air in chemical equilibrium over temperature and pressure |
//! | `shock` | normal-shock relations |

pub mod atmosphere;
pub mod equilibrium;

pub use atmosphere::{Atmosphere, State};
