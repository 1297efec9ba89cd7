//! Sorting that costs the page few bytes: one stable sort of indices for every type, and a walk along the permutation's cycles.
//!
//! The standard library's sort is compiled anew for each type and comparison, some 5 kB each in WebAssembly, an eighth of the engine. Here the
//! comparison is called through a pointer instead. The order is that of `slice::sort_by`, so also that of `sort_unstable` where equal items are alike.

use std::cmp::Ordering;

/// Slices that sort themselves, stably.
pub trait Sorting<T> {
    /// By a comparison that is a total order; else the order is any.
    fn order_by(&mut self, compare: impl FnMut(&T, &T) -> Ordering);

    /// By a key, computed at each comparison.
    fn order_by_key<K: Ord>(&mut self, mut key: impl FnMut(&T) -> K) {
        self.order_by(|a, b| key(a).cmp(&key(b)));
    }

    /// By the items' own order.
    fn order(&mut self)
    where
        T: Ord,
    {
        self.order_by(T::cmp);
    }
}

impl<T> Sorting<T> for [T] {
    fn order_by(&mut self, mut compare: impl FnMut(&T, &T) -> Ordering) {
        let mut from = permutation(self.len(), &mut |a, b| match (self.get(a), self.get(b)) {
            (Some(a), Some(b)) => compare(a, b),
            _ => Ordering::Equal,
        });
        for start in 0..self.len() {
            let mut place = start;
            // Each place takes what stands where the permutation points, until the cycle closes.
            while let Some(next) = from.get_mut(place).map(|from| std::mem::replace(from, place)).filter(|next| *next != start) {
                self.swap(place, next);
                place = next;
            }
        }
    }
}

/// Where each place's item comes from.
#[inline(never)]
fn permutation(items: usize, compare: &mut dyn FnMut(usize, usize) -> Ordering) -> Vec<usize> {
    let mut from: Vec<usize> = (0..items).collect();
    from.sort_by(|a, b| compare(*a, *b));
    from
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn verif_the_order_is_the_standard_librarys(items in prop::collection::vec((0..20_u8, 0..3_u8), 0..200)) {
            let tagged: Vec<(u8, u8, usize)> = items.iter().enumerate().map(|(i, (a, b))| (*a, *b, i)).collect();
            let (mut ours, mut theirs) = (tagged.clone(), tagged.clone());
            ours.order_by(|a, b| b.0.cmp(&a.0));
            theirs.sort_by_key(|item| std::cmp::Reverse(item.0));
            prop_assert_eq!(&ours, &theirs);
            ours.order_by_key(|item| item.1);
            theirs.sort_by_key(|item| item.1);
            prop_assert_eq!(&ours, &theirs);
            ours.order();
            theirs.sort_unstable();
            prop_assert_eq!(&ours, &theirs);
        }
    }
}
