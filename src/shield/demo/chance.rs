//! Reproducible chance for the demonstration: a hash from a place in the layout to a number, so that no order of work matters.

/// A 64-bit mix of `seed` and `key` (the finaliser of the SplitMix64 generator; Steele, Lea, Flood, OOPSLA 2014, figure 17).
pub fn mix(seed: u64, key: u64) -> u64 {
    let mut z = seed.wrapping_mul(0xD134_2543_DE82_EF95).wrapping_add(key.wrapping_add(1).wrapping_mul(0x9E37_79B9_7F4A_7C15));
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

/// Uniform in [0, 1), of `seed` and `key` only.
pub fn unit(seed: u64, key: u64) -> f64 {
    (mix(seed, key) >> 11) as f64 / (1_u64 << 53) as f64
}

/// Uniform in [low, high), of `seed` and `key` only.
pub fn between(low: f64, high: f64, seed: u64, key: u64) -> f64 {
    low + (high - low) * unit(seed, key)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_uniform_by_mean_and_range() {
        let values: Vec<f64> = (0..10_000).map(|key| unit(7, key)).collect();
        let mean = values.iter().sum::<f64>() / 10_000.0;
        // The mean of 10,000 uniform numbers has a standard error of 0.0029.
        assert!((mean - 0.5).abs() < 0.01, "{mean}");
        assert!(values.iter().all(|v| (0.0..1.0).contains(v)));
    }
}
