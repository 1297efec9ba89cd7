//! What the policy's terms add to a peak: one-at-a-time shifts brought to one level and combined.
//!
//! Each term was solved at its own fraction, on the side that heats. Its shift, taken by size (a term that cools on that side heats on the
//! other), is scaled in proportion to the highest level of the terms, so that all stand for the same number of sigma.
//!
//! - `root-sum-square`: independent terms.
//! - `sum`: all at their level at once.
//! - `sampled`: [`DRAWS`] draws in a Latin hypercube of fixed seed, the same for every tile (a term is shared by all tiles), on a response surface
//!   in which a peak goes with a power of each property, the power from the term's own solve; the quantile that a normal variable has at the
//!   level. At 3 sigma the sampling itself is within about 5 % of what it adds (`verif_sampling_of_one_term_is_the_term`).

use crate::scenario::{Combine, Policy};

pub const DRAWS: usize = 4096;
const SEED: u64 = 0x05ee_d0f7_11e5;

/// How peaks are counted under a policy; made once, the same for all tiles.
#[derive(Debug, Clone)]
pub struct Counting {
    combine: Combine,
    /// By term: level of the combination over the term's own.
    to_level: Vec<f64>,
    /// By term: logarithm of the property's factor at the term's own level.
    log_factor: Vec<f64>,
    /// By draw, then by term: logarithm of the property's factor; empty unless sampled.
    draws: Vec<f64>,
    quantile: usize,
}

impl Counting {
    pub fn new(policy: &Policy) -> Counting {
        let level = policy.terms.iter().map(|term| term.level_sigma).fold(0.0, f64::max);
        // On the side that heats some properties fall.
        let sign = |name: &str| if matches!(name, "emissivity" | "specific-heat" | "thickness") { -1.0 } else { 1.0 };
        let factor = |name: &str, fraction: f64| (1.0 + sign(name) * fraction).max(0.01);
        let mut draws = Vec::new();
        if policy.combine == Combine::Sampled && !policy.terms.is_empty() {
            let columns: Vec<Vec<f64>> = policy
                .terms
                .iter()
                .enumerate()
                .map(|(i, term)| {
                    let normal = stratified(SEED.wrapping_add(i as u64));
                    normal.into_iter().map(|z| libm::log(factor(&term.name, term.fraction * z / term.level_sigma))).collect()
                })
                .collect();
            draws = (0..DRAWS).flat_map(|draw| columns.iter().filter_map(move |column| column.get(draw).copied())).collect();
        }
        Counting {
            combine: policy.combine,
            to_level: policy.terms.iter().map(|term| level / term.level_sigma).collect(),
            log_factor: policy.terms.iter().map(|term| libm::log(factor(&term.name, term.fraction))).collect(),
            draws,
            quantile: ((normal_share(level) * DRAWS as f64).ceil() as usize).clamp(1, DRAWS) - 1,
        }
    }

    /// How many terms there are.
    pub fn terms(&self) -> usize {
        self.to_level.len()
    }

    /// The size of each term's shift at the common level, K. `shifted_k` is by term.
    pub fn shifts_k(&self, nominal_k: f64, shifted_k: &[f64]) -> Vec<f64> {
        self.to_level.iter().zip(shifted_k).map(|(to_level, shifted)| (shifted - nominal_k).abs() * to_level).collect()
    }

    /// What the terms add to a peak, K, 0 or more.
    pub fn rise_k(&self, nominal_k: f64, shifted_k: &[f64]) -> f64 {
        let shifts = self.shifts_k(nominal_k, shifted_k);
        match self.combine {
            Combine::Sum => shifts.iter().sum(),
            Combine::RootSumSquare => shifts.iter().map(|shift| shift * shift).sum::<f64>().sqrt(),
            Combine::Sampled => self.sampled(nominal_k, shifted_k),
        }
    }

    fn sampled(&self, nominal_k: f64, shifted_k: &[f64]) -> f64 {
        let powers: Vec<f64> = self
            .log_factor
            .iter()
            .zip(shifted_k)
            .map(|(log_factor, shifted)| if *log_factor != 0.0 { libm::log(shifted / nominal_k) / log_factor } else { 0.0 })
            .collect();
        if powers.is_empty() {
            return 0.0;
        }
        let mut logs: Vec<f64> =
            self.draws.chunks_exact(powers.len()).map(|draw| draw.iter().zip(&powers).map(|(log, power)| log * power).sum()).collect();
        if logs.len() <= self.quantile {
            return 0.0;
        }
        let (_, at, _) = logs.select_nth_unstable_by(self.quantile, f64::total_cmp);
        (nominal_k * (libm::exp(*at) - 1.0)).max(0.0)
    }
}

/// The share of a normal variable below `level` sigma.
fn normal_share(level: f64) -> f64 {
    0.5 * libm::erfc(-level * std::f64::consts::FRAC_1_SQRT_2)
}

/// One normal value from each of [`DRAWS`] strata of equal probability, in an order that the seed mixes.
fn stratified(seed: u64) -> Vec<f64> {
    let mut state = seed;
    // SplitMix64 (Steele, Lea and Flood, OOPSLA 2014; constants from memory).
    let mut next = || {
        state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = state;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    };
    let mut values: Vec<f64> = (0..DRAWS)
        .map(|i| {
            let inside = (next() >> 11) as f64 / (1u64 << 53) as f64;
            inverse_normal((i as f64 + inside.clamp(1e-9, 1.0)) / DRAWS as f64)
        })
        .collect();
    for i in (1..values.len()).rev() {
        values.swap(i, (next() % (i as u64 + 1)) as usize);
    }
    values
}

/// The value that a normal variable is below with probability `share`, by bisection on its distribution.
fn inverse_normal(share: f64) -> f64 {
    let (mut low, mut high) = (-9.0, 9.0);
    for _ in 0..48 {
        let middle = 0.5 * (low + high);
        if normal_share(middle) < share { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::Term;

    fn policy(combine: Combine, terms: &[(&str, f64, f64)]) -> Policy {
        let terms = terms.iter().map(|(name, fraction, level_sigma)| Term {
            name: name.to_string(),
            fraction: *fraction,
            level_sigma: *level_sigma,
        });
        Policy { combine, terms: terms.collect(), ..Policy::default() }
    }

    #[test]
    fn verif_terms_combine_as_named_at_one_level() {
        let two = [("heating", 0.1, 3.0), ("thickness", 0.05, 3.0)];
        for (combine, want) in [(Combine::RootSumSquare, 5.0), (Combine::Sum, 7.0)] {
            // A shift counts by its size.
            let counting = Counting::new(&policy(combine, &two));
            assert!((counting.rise_k(400.0, &[403.0, 404.0]) - want).abs() < 1e-12);
            assert!((counting.rise_k(400.0, &[403.0, 396.0]) - want).abs() < 1e-12);
            assert_eq!(Counting::new(&policy(combine, &[])).rise_k(400.0, &[]), 0.0);
        }
        // One at 2 sigma is brought to the 3 sigma of the other.
        let counting = Counting::new(&policy(Combine::Sum, &[("heating", 0.1, 2.0), ("thickness", 0.05, 3.0)]));
        assert!((counting.rise_k(400.0, &[402.0, 404.0]) - 7.0).abs() < 1e-12);
        assert_eq!(counting.shifts_k(400.0, &[402.0, 404.0]), [3.0, 4.0]);
    }

    #[test]
    fn verif_sampling_of_one_term_is_the_term() {
        for name in crate::scenario::TERM_NAMES {
            let one = Counting::new(&policy(Combine::Sampled, &[(name, 0.1, 3.0)]));
            let rise = one.rise_k(450.0, &[462.0]);
            assert!((rise / 12.0 - 1.0).abs() < 0.05, "{name} {rise}");
        }
        // Two independent terms lie near their root-sum-square, and the draws are the same every time.
        let terms = [("heating", 0.1, 3.0), ("conductivity", 0.2, 3.0)];
        let make = || Counting::new(&policy(Combine::Sampled, &terms)).rise_k(450.0, &[459.0, 462.0]);
        assert!((make() / 15.0 - 1.0).abs() < 0.08, "{}", make());
        assert_eq!(make().to_bits(), make().to_bits());
    }
}
