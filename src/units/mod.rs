//! Quantities at the edges: inside everything is SI, here text becomes SI and SI becomes what a screen shows.
//!
//! | file | idea |
//! | --- | --- |
//! | `parse` | `71km` and `altitude_ft` to SI |
//! | `show` | SI to the label, number and digits of the chosen system |

pub mod parse;
pub mod show;

pub use parse::{Kind, Unit, column_unit, parse, parse_option};
pub use show::{Quantity, System};
