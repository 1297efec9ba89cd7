//! The deepest and the longest cavity that a tile could tolerate, by radius and depth.
//!
//! At a fixed row of the table a deeper or longer cavity is never cooler, so that within a stretch of length over depth that no row's bound
//! divides the margin falls, and a bracket closes on where it is 0. From stretch to stretch the factor may drop; the answer is therefore the
//! largest size that holds together with every smaller one.

use super::damage::{Effort, Peaks, Subject};
use super::effects::Effects;
use crate::document::Error;
use crate::document::Sorting as _;
use crate::shield::Tile;

/// Brackets are closed to this, mm.
pub const WITHIN_MM: f64 = 0.5;
/// Least that is left of a tile, mm.
const LEFT_MM: f64 = 1.0;

/// A tolerated size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tolerated {
    /// This size and every smaller one keeps its margin. 0 where none does.
    pub size_mm: f64,
    /// A size at most this holds no longer; `None` where the largest that fits the tile still does.
    pub fails_at_mm: Option<f64>,
}

/// The search itself: `margin_k` is asked for a size in mm within stretches that end at `ends_mm` (rising, the last is the largest size).
///
/// # Errors
/// Whatever `margin_k` fails with.
pub fn search(ends_mm: &[f64], within_mm: f64, mut margin_k: impl FnMut(f64) -> Result<f64, Error>) -> Result<Tolerated, Error> {
    let mut held = 0.0;
    for end in ends_mm.iter().copied() {
        // The last size of a stretch belongs to it, the next begins beyond.
        let last = if Some(&end) == ends_mm.last() { end } else { end * (1.0 - 1e-9) };
        if last <= held {
            continue;
        }
        if margin_k(last)? >= 0.0 {
            held = last;
            continue;
        }
        let (mut low, mut high) = (held, last);
        // Just inside the stretch: a drop of the margin at its start is found by the first bisections.
        while high - low > within_mm {
            let middle = 0.5 * (low + high);
            if margin_k(middle)? >= 0.0 { low = middle } else { high = middle }
        }
        return Ok(Tolerated { size_mm: low, fails_at_mm: Some(high) });
    }
    Ok(Tolerated { size_mm: held, fails_at_mm: None })
}

/// Sizes at which the table's rows change, and the largest, rising.
fn ends(effects: &Effects, largest_mm: f64, size_of: impl Fn(f64) -> f64) -> Vec<f64> {
    let bounds = effects.rows.iter().filter_map(|row| row.length_over_depth).flatten();
    let mut ends: Vec<f64> = bounds.map(size_of).filter(|size| *size > WITHIN_MM && *size < largest_mm).collect();
    ends.push(largest_mm);
    ends.order_by(f64::total_cmp);
    ends.dedup();
    ends
}

fn margin_k(subject: &Subject, effects: &Effects, kind: &str, length_mm: f64, depth_mm: f64, without: &Peaks) -> Result<f64, Error> {
    let shape = [0.5e-3 * length_mm, 1e-3 * depth_mm, length_mm / depth_mm];
    let with = subject.cavity(effects, kind, shape, without, Effort::Quick)?;
    Ok(subject.margins(&with, true).least_k().unwrap_or(f64::INFINITY))
}

/// The deepest round cavity of a diameter that the tile tolerates; its nominal margins count.
pub fn deepest(subject: &Subject, effects: &Effects, tile: &Tile, kind: &str, length_mm: f64) -> Result<Tolerated, Error> {
    let without = subject.undamaged(Effort::Quick)?;
    let largest = 1e3 * tile.thickness_m - LEFT_MM;
    let ends = ends(effects, largest, |ratio| length_mm / ratio.max(1e-9));
    search(&ends, WITHIN_MM, |depth| margin_k(subject, effects, kind, length_mm, depth, &without))
}

/// The longest round cavity of a depth that the tile tolerates.
pub fn longest(subject: &Subject, effects: &Effects, tile: &Tile, kind: &str, depth_mm: f64) -> Result<Tolerated, Error> {
    let without = subject.undamaged(Effort::Quick)?;
    let ends = ends(effects, 1e3 * tile.largest_side_m, |ratio| depth_mm * ratio);
    search(&ends, 2.0 * WITHIN_MM, |length| margin_k(subject, effects, kind, length, depth_mm, &without))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn verif_the_bracket_holds_the_edge(limit in 0.0f64..40.0, steps in proptest::collection::vec(1.0f64..39.0, 0..4)) {
            let mut ends = steps.clone();
            ends.push(40.0);
            ends.sort_by(f64::total_cmp);
            let found = search(&ends, 0.25, |size| Ok(limit - size)).unwrap();
            prop_assert!(found.size_mm <= limit);
            match found.fails_at_mm {
                Some(fails) => prop_assert!(fails > limit && fails - found.size_mm <= 0.25),
                None => prop_assert_eq!(found.size_mm, 40.0),
            }
        }
    }

    #[test]
    fn verif_a_larger_size_that_holds_again_does_not_count() {
        // Fails from 6 to 10, holds beyond.
        let found = search(&[10.0, 20.0], 0.1, |size| Ok(if (6.0..10.0).contains(&size) { -1.0 } else { 1.0 })).unwrap();
        assert!(found.size_mm < 6.0 && found.fails_at_mm.is_some_and(|fails| fails > 6.0 - 1e-9 && fails < 6.2), "{found:?}");
        assert_eq!(search(&[10.0, 20.0], 0.1, |_| Ok(-1.0)).unwrap().size_mm, 0.0);
        assert_eq!(search(&[10.0, 20.0], 0.1, |_| Ok(1.0)).unwrap(), Tolerated { size_mm: 20.0, fails_at_mm: None });
    }
}
