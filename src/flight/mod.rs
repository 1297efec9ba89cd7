//! The entry: equations of motion or an imported trajectory, as samples over time.
//!
//! | file | idea |
//! | --- | --- |
//! | `entry` | the `tileglow-entry/1` document |
//! | `motion` | three degrees of freedom over a rotating sphere |
//! | `trajectory` | columns, a moment, peaks, a thinned copy; export |
//! | `runge_kutta` | the integrator |
//! | `import` | a trajectory flown elsewhere |
//! | `course` | either, as documents carry it |
//! | `remarks` | what never enters, skips out, ends early or has gaps |
//! | `air_table` | an atmosphere as CSV |
//! | `reference` | the reference heating |
//! | `spot` | one flight point |

pub mod air_table;
mod course;
pub mod entry;
pub mod import;
mod motion;
pub mod reference;
pub mod remarks;
mod runge_kutta;
pub mod spot;
pub mod trajectory;

pub use entry::Entry;
pub use motion::fly;
pub use reference::sutton_graves;
pub use spot::{Spot, SpotInput, spot};

/// One moment of a flight. `None` where the flight does not know it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Sample {
    pub time_s: f64,
    pub altitude_m: f64,
    pub speed_m_s: f64,
    pub flight_path_deg: Option<f64>,
    pub heading_deg: Option<f64>,
    pub latitude_deg: Option<f64>,
    pub longitude_deg: Option<f64>,
    pub angle_of_attack_deg: f64,
    pub bank_deg: Option<f64>,
    /// Wind from the right positive.
    pub sideslip_deg: f64,
    pub mach: Option<f64>,
    pub dynamic_pressure_pa: f64,
    pub density_kg_m3: f64,
    /// Free-stream static; `None` in an exponential atmosphere.
    pub temperature_k: Option<f64>,
    pub pressure_pa: Option<f64>,
    pub load_factor_g: Option<f64>,
    pub reference_heating_w_m2: f64,
    pub heat_load_j_m2: f64,
}

/// A flown entry.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Trajectory {
    /// Radius of the sphere that the reference heating belongs to.
    pub nose_radius_m: f64,
    pub samples: Vec<Sample>,
}

/// A flight: to be flown, or already flown elsewhere.
#[derive(Debug, Clone, PartialEq)]
#[allow(clippy::large_enum_variant)] // A scenario holds a handful.
pub enum Course {
    Entry(Entry),
    Imported(Trajectory),
}
