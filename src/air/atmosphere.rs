//! The U.S. Standard Atmosphere 1976 from its definition, 0 to 1000 km; an exponential one; a table.

/// The air at one altitude.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct State {
    /// Kinetic temperature; `None` where the atmosphere has none (exponential).
    pub temperature_k: Option<f64>,
    pub pressure_pa: Option<f64>,
    pub density_kg_m3: f64,
    /// sqrt(1.4 pressure / density); `None` where there is no pressure.
    pub sound_speed_m_s: Option<f64>,
    /// Sutherland's law, `None` above 86 km.
    pub viscosity_pa_s: Option<f64>,
}

/// An atmosphere that an entry flies through.
#[derive(Debug, Clone, PartialEq)]
pub enum Atmosphere {
    Standard1976,
    Exponential { surface_density_kg_m3: f64, scale_height_m: f64 },
    Table { altitude_m: Vec<f64>, temperature_k: Vec<f64>, pressure_pa: Vec<f64> },
}
