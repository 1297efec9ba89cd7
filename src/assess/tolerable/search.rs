//! The largest size that holds together with every smaller one, by a bracket; over the entries that govern first, then checked in the others.
//!
//! Within a stretch of sizes that no row's bound divides the margin falls with the size, and a bracket closes on where it is 0. From stretch
//! to stretch the factor may drop, so that each stretch's own end is asked, from the smallest on.

/// A bracket closes by the secant for so long, then by halves.
const SECANTS: usize = 5;

/// A tolerated size.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Tolerated {
    /// This size and every smaller one keeps its margin. 0 where none does.
    pub size_mm: f64,
    /// A size at most this holds no longer; `None` where the largest that fits the tile still does.
    pub fails_at_mm: Option<f64>,
}

/// One search: asks a size, takes what is left there.
#[derive(Debug, Clone)]
pub struct Search {
    /// Rising; the last is the largest size.
    ends_mm: Vec<f64>,
    within_mm: f64,
    stretch: usize,
    /// The largest size that held, with what was left there where it is of the present stretch.
    low: (f64, Option<f64>),
    high: Option<(f64, f64)>,
    met: usize,
    next_mm: f64,
    found: Option<Tolerated>,
}

impl Search {
    /// `held_mm` is known to hold, with every smaller size.
    pub fn new(ends_mm: &[f64], within_mm: f64, held_mm: f64) -> Search {
        let largest_mm = ends_mm.last().copied().unwrap_or(0.0);
        let ends_mm: Vec<f64> = ends_mm.iter().copied().filter(|end| *end > held_mm).collect();
        let found = ends_mm.is_empty().then_some(Tolerated { size_mm: held_mm.min(largest_mm), fails_at_mm: None });
        let mut search = Search { ends_mm, within_mm, stretch: 0, low: (held_mm, None), high: None, met: 0, next_mm: 0.0, found };
        search.next_mm = search.end_mm();
        search
    }

    /// The last size of a stretch belongs to it, the next begins beyond.
    fn end_mm(&self) -> f64 {
        let end = self.ends_mm.get(self.stretch).copied().unwrap_or(0.0);
        if self.stretch + 1 < self.ends_mm.len() { end * (1.0 - 1e-9) } else { end }
    }

    /// The size to ask; `None` once it is found.
    pub fn asks_mm(&self) -> Option<f64> {
        self.found.is_none().then_some(self.next_mm)
    }

    pub fn found(&self) -> Option<Tolerated> {
        self.found
    }

    /// Takes what is left at the size asked, K; what is not known does not hold.
    pub fn meet(&mut self, left_k: f64) {
        let holds = left_k >= 0.0;
        match self.high {
            None if holds => {
                self.low = (self.next_mm, None);
                self.stretch += 1;
                if self.stretch == self.ends_mm.len() {
                    self.found = Some(Tolerated { size_mm: self.next_mm, fails_at_mm: None });
                }
                self.next_mm = self.end_mm();
                return;
            }
            _ if holds => self.low = (self.next_mm, Some(left_k)),
            _ => self.high = Some((self.next_mm, left_k)),
        }
        let Some(high) = self.high else { return };
        self.met += 1;
        if high.0 - self.low.0 <= self.within_mm {
            self.found = Some(Tolerated { size_mm: self.low.0, fails_at_mm: Some(high.0) });
            return;
        }
        let middle = 0.5 * (self.low.0 + high.0);
        self.next_mm = match self.low.1 {
            Some(low_k) if self.met <= SECANTS && high.1.is_finite() => {
                // To the other side of where the line crosses 0, so that both ends come near.
                let crossing = self.low.0 + (high.0 - self.low.0) * low_k / (low_k - high.1);
                let beside = if holds { 0.45 } else { -0.45 } * self.within_mm;
                let inset = 0.1 * (high.0 - self.low.0);
                (crossing + beside).clamp(self.low.0 + inset, high.0 - inset)
            }
            // A drop of the margin at a stretch's start is found by halving.
            _ => middle,
        };
    }
}

/// A size of one quest over one entry.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ask {
    pub quest: usize,
    pub entry: usize,
    pub size_mm: f64,
}

/// A search and the entries that it is asked over.
#[derive(Debug, Clone)]
pub struct Quest {
    first: Search,
    search: Search,
    entries: Vec<usize>,
}

impl Quest {
    /// `entries` are those that may govern, in the order of their weight.
    pub fn new(search: Search, entries: impl IntoIterator<Item = usize>) -> Quest {
        let mut own = Vec::new();
        for entry in entries {
            if !own.contains(&entry) {
                own.push(entry);
            }
        }
        Quest { first: search.clone(), search, entries: own }
    }
}

/// All quests on their way. What is found must hold in every entry: one in which it does not joins, and the search begins anew.
#[derive(Debug, Clone, Default)]
pub struct Settling {
    quests: Vec<Quest>,
    entries: usize,
    /// Found, and known to hold in every entry.
    proven: Vec<bool>,
}

impl Settling {
    pub fn new(quests: Vec<Quest>, entries: usize) -> Settling {
        Settling { proven: vec![false; quests.len()], quests, entries }
    }

    /// What is to be asked next; nothing once all are settled.
    pub fn round(&mut self) -> Vec<Ask> {
        let mut asks: Vec<Ask> = Vec::new();
        for (quest, (one, proven)) in self.quests.iter().zip(&mut self.proven).enumerate().filter(|(_, (_, proven))| !**proven) {
            let before = asks.len();
            match (one.search.asks_mm(), one.search.found()) {
                (Some(size_mm), _) => asks.extend(one.entries.iter().map(|entry| Ask { quest, entry: *entry, size_mm })),
                (None, Some(Tolerated { size_mm, .. })) if size_mm > 0.0 => {
                    let others = (0..self.entries).filter(|entry| !one.entries.contains(entry));
                    asks.extend(others.map(|entry| Ask { quest, entry, size_mm }));
                }
                _ => {}
            }
            *proven = asks.len() == before;
        }
        asks
    }

    /// Takes what is left for each of a round's asks, K.
    pub fn meet(&mut self, asks: &[Ask], left_k: &[f64]) {
        let mut told = left_k;
        for group in asks.chunk_by(|a, b| a.quest == b.quest) {
            let (own, rest) = told.split_at(group.len().min(told.len()));
            told = rest;
            let Some(at) = group.first().map(|ask| ask.quest) else { continue };
            let (Some(quest), Some(proven)) = (self.quests.get_mut(at), self.proven.get_mut(at)) else { continue };
            // What is not known holds nowhere.
            let fails = |left_k: f64| left_k.is_nan() || left_k < 0.0;
            if quest.search.found().is_none() {
                let least = |a: f64, b: f64| if b < a || b.is_nan() { b } else { a };
                quest.search.meet(own.iter().copied().fold(f64::INFINITY, least));
                continue;
            }
            match group.iter().zip(own).find(|(_, left_k)| fails(**left_k)) {
                Some((ask, _)) => {
                    quest.entries.push(ask.entry);
                    quest.search = quest.first.clone();
                }
                None => *proven = true,
            }
        }
    }

    /// By quest; those that are not settled have nothing.
    pub fn found(&self) -> Vec<Tolerated> {
        self.quests.iter().map(|quest| quest.search.found().unwrap_or_default()).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// One search over one entry.
    fn search(ends_mm: &[f64], within_mm: f64, held_mm: f64, left_k: impl Fn(f64) -> f64) -> Tolerated {
        let quest = Quest::new(Search::new(ends_mm, within_mm, held_mm), [0]);
        settled(Settling::new(vec![quest], 1), |ask| left_k(ask.size_mm))
    }

    fn settled(mut settling: Settling, left_k: impl Fn(&Ask) -> f64) -> Tolerated {
        loop {
            let asks = settling.round();
            if asks.is_empty() {
                return settling.found()[0];
            }
            settling.meet(&asks, &asks.iter().map(&left_k).collect::<Vec<f64>>());
        }
    }

    proptest! {
        #[test]
        fn verif_the_bracket_holds_the_edge(
            limit in 0.0f64..40.0, steps in proptest::collection::vec(1.0f64..39.0, 0..4), bend in 0.2f64..5.0, held in 0.0f64..40.0
        ) {
            let mut ends = steps.clone();
            ends.push(40.0);
            ends.sort_by(f64::total_cmp);
            let held = held.min(limit) * 0.999;
            // Any falling margin, straight or bent.
            let found = search(&ends, 0.25, held, |size| (limit - size).signum() * (limit - size).abs().powf(bend));
            prop_assert!(found.size_mm <= limit && found.size_mm >= held);
            match found.fails_at_mm {
                Some(fails) => prop_assert!(fails > limit && fails - found.size_mm <= 0.25),
                None => prop_assert_eq!(found.size_mm, 40.0),
            }
        }

        #[test]
        fn verif_what_is_found_holds_in_every_entry(limits in proptest::collection::vec(0.0f64..40.0, 1..6), first in 0usize..6) {
            let entries = limits.len();
            let quest = Quest::new(Search::new(&[10.0, 40.0], 0.5, 0.0), [first % entries]);
            let found = settled(Settling::new(vec![quest], entries), |ask| limits[ask.entry] - ask.size_mm);
            let least = limits.iter().copied().fold(40.0, f64::min);
            prop_assert!(found.size_mm <= least && least - found.size_mm <= 0.5, "{:?} {}", found, least);
        }
    }

    #[test]
    fn verif_a_larger_size_that_holds_again_does_not_count() {
        // Fails from 6 to 10, holds beyond.
        let found = search(&[10.0, 20.0], 0.1, 0.0, |size| if (6.0..10.0).contains(&size) { -1.0 } else { 1.0 });
        assert!(found.size_mm < 6.0 && found.fails_at_mm.is_some_and(|fails| fails > 6.0 - 1e-9 && fails < 6.2), "{found:?}");
        assert_eq!(search(&[10.0, 20.0], 0.1, 0.0, |_| -1.0).size_mm, 0.0);
        assert_eq!(search(&[10.0, 20.0], 0.1, 0.0, |_| 1.0), Tolerated { size_mm: 20.0, fails_at_mm: None });
        assert_eq!(search(&[10.0, 20.0], 0.1, 20.0, |_| unreachable!()), Tolerated { size_mm: 20.0, fails_at_mm: None });
        // What is not known does not hold.
        assert_eq!(search(&[10.0], 0.1, 0.0, |_| f64::NAN).size_mm, 0.0);
    }
}
