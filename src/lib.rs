//! Tileglow: what every tile of a reusable vehicle's heat shield goes through during an entry.
//!
//! Rooms, in the order in which they may import from each other (see DEVELOPERS.md):
//! `document`, `units`, `air`, `material`, `flight`, `heating`, `tile`, `shield`, `scenario`, `assess`, `report`, then the
//! two fronts, `command` (native) and `page` (browser), which nothing imports.

pub mod air;
pub mod assess;
pub mod document;
pub mod flight;
pub mod heating;
pub mod material;
pub mod report;
pub mod scenario;
pub mod shield;
pub mod tile;
pub mod units;

#[cfg(not(target_arch = "wasm32"))]
pub mod command;
#[cfg(target_arch = "wasm32")]
pub mod page;

/// The version that `--version`, results and `window.tileglow.version` carry.
pub const VERSION: &str = env!("CARGO_PKG_VERSION");
