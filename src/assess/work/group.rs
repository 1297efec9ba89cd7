//! What lies close together: groups of the same key around a seed, found with a grid, the same whatever the company of other keys.

use crate::document::Sorting as _;
use glam::DVec3;
use std::collections::BTreeMap;

/// How near the seed a member lies, and how many there are at most, the seed included.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Near {
    pub near_m: f64,
    pub most: usize,
}

/// Groups of indices into `keys`, in the order of their first member.
///
/// The first index that has no group is a seed; the nearest free ones of the same key within `near_m` join it, ties by index, until the
/// group is full.
pub fn groups<K: Ord + Copy>(keys: &[K], place: impl Fn(usize) -> DVec3, near: Near) -> Vec<Vec<usize>> {
    let cell = near.near_m.max(1e-3);
    let cell_of = |at: DVec3| (at / cell).floor().to_array().map(|x| x as i64);
    let mut grid: BTreeMap<(K, [i64; 3]), Vec<usize>> = BTreeMap::new();
    for (i, key) in keys.iter().enumerate() {
        grid.entry((*key, cell_of(place(i)))).or_default().push(i);
    }
    let mut taken = vec![false; keys.len()];
    let mut out = Vec::new();
    for (seed, key) in keys.iter().enumerate() {
        if taken[seed] {
            continue;
        }
        let at = place(seed);
        let [x, y, z] = cell_of(at);
        let mut close: Vec<(f64, usize)> = Vec::new();
        for dx in -1..=1 {
            for dy in -1..=1 {
                for dz in -1..=1 {
                    let Some(cell) = grid.get_mut(&(*key, [x + dx, y + dy, z + dz])) else { continue };
                    cell.retain(|i| !taken[*i]);
                    close.extend(
                        cell.iter().map(|i| (place(*i).distance(at), *i)).filter(|(distance, i)| *i != seed && *distance <= near.near_m),
                    );
                }
            }
        }
        close.order_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let mut members = vec![seed];
        members.extend(close.into_iter().map(|(_, i)| i).take(near.most.saturating_sub(1)));
        members.order();
        for member in &members {
            taken[*member] = true;
        }
        out.push(members);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn verif_seed_and_nearest_of_its_key() {
        let x = [0.0, 5.0, 0.3, 0.1, 0.2];
        let keys = [1, 1, 1, 2, 1];
        let near = Near { near_m: 0.5, most: 2 };
        assert_eq!(groups(&keys, |i| DVec3::X * x[i], near), [vec![0, 4], vec![1], vec![2], vec![3]]);
    }

    proptest! {
        #[test]
        fn verif_every_one_stands_once_and_near_its_seed(
            list in proptest::collection::vec((0u8..3, -2.0f64..2.0, -2.0f64..2.0), 0..60), near_m in 0.0f64..1.0, most in 1usize..8
        ) {
            let keys: Vec<u8> = list.iter().map(|row| row.0).collect();
            let place = |i: usize| DVec3::new(list[i].1, list[i].2, 0.0);
            let found = groups(&keys, place, Near { near_m, most });
            let mut all: Vec<usize> = found.iter().flatten().copied().collect();
            all.sort_unstable();
            prop_assert_eq!(all, (0..list.len()).collect::<Vec<_>>());
            for group in &found {
                prop_assert!(group.len() <= most);
                prop_assert!(group.iter().all(|i| keys[*i] == keys[group[0]] && place(*i).distance(place(group[0])) <= near_m));
            }
        }
    }
}
