//! Reading and writing at the edges: problems with their place, JSON that keeps duplicate keys, CSV, tables and number text.
//!
//! | file | idea |
//! | --- | --- |
//! | `problem` | what is wrong, where, and what would be accepted; the crate's one `Error` |
//! | `json` | a JSON value that keeps order, and a reader that names every unknown key |
//! | `csv` | rows with their numbers, unit suffixes left to the caller |
//! | `curve` | a number, or a table over one axis |
//! | `sorting` | sorting that costs the page few bytes |
//! | `text` | numbers as text, text that can never become a formula |

pub mod csv;
pub mod curve;
pub mod json;
pub mod problem;
pub mod sorting;
pub mod text;

pub use curve::{Curve, Table};
pub use json::{Json, Object};
pub use problem::{Error, Failure, Place, Problem, Problems};
pub use sorting::Sorting;
