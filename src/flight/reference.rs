//! The reference heating: stagnation-point convective heating of a sphere, cold wall.

/// Constant of the Sutton-Graves relation for air in SI, kg^0.5/m: NASA TR R-376 (1971), as FORMATS.md fixes it.
pub const SUTTON_GRAVES: f64 = 1.7415e-4;

/// Cold-wall stagnation heating, W/m2, of a sphere of `nose_radius_m` (above 0): Sutton and Graves, NASA TR R-376 (1971).
///
/// For air in equilibrium at 2 to 17 km/s; the fit's own scatter is a few per cent, two other correlations lie up to 13 % above it
/// at 7 km/s (tests/published.rs). Above about 90 km, where the flow stops being a continuum, it comes out too high.
pub fn sutton_graves(density_kg_m3: f64, nose_radius_m: f64, speed_m_s: f64) -> f64 {
    SUTTON_GRAVES * (density_kg_m3 / nose_radius_m).sqrt() * speed_m_s * speed_m_s * speed_m_s
}
