//! Viscosity of air: Sutherland's law, and where it stops holding.

/// Sutherland's law as the U.S. Standard Atmosphere 1976 writes it (its equation 51), Pa s.
///
/// From about 100 K; measured air agrees within some 2 % to 1,900 K (from memory). See [`viscosity`] above 3,000 K.
pub fn sutherland(temperature_k: f64) -> f64 {
    1.458e-6 * temperature_k * temperature_k.sqrt() / (temperature_k + 110.4)
}

/// Viscosity, Pa s, for boundary-layer reference conditions up to 15,000 K.
///
/// Sutherland's law to 3,000 K; above, its value there times (T/3000)^0.68, the steeper growth of dissociated air before it ionises:
/// Hansen, NASA TR R-50 (1959), finds a factor of 1.0 to 1.4 over Sutherland's law between 3,000 and 8,000 K, depending on pressure
/// (from memory); so +-20 % there, and no better than a factor of two once air ionises (above about 10,000 K).
pub fn viscosity(temperature_k: f64) -> f64 {
    const JOIN_K: f64 = 3000.0;
    if temperature_k <= JOIN_K { sutherland(temperature_k) } else { sutherland(JOIN_K) * libm::pow(temperature_k / JOIN_K, 0.68) }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// U.S. Standard Atmosphere 1976, table I, at 0 and 11 km.
    #[test]
    fn val_viscosity_of_the_standard() {
        for (temperature, want) in [(288.15, 1.78938e-5), (216.774, 1.42229e-5)] {
            assert!((viscosity(temperature) / want - 1.0).abs() < 1e-5);
        }
    }
}
