//! Which tiles moved between two states of one basis: those whose own inputs are others.
//!
//! A tile's numbers depend on its own inputs alone, so that every other tile keeps its own to the bit. What a tile meets is made of the tile after the
//! changes and with what findings make of its face, of its start, and of the sites whose wedges reach it: each by its place, its size and the tile that it lies
//! on. The largest wedge counts, so that the order of sites says nothing.

use super::{EffectiveTile, Flight, Prepared};
use crate::assess::sites::Site;
use crate::assess::start::Starts;
use crate::heating::local::{Heating, LANES, Trip};
use crate::scenario::Scenario;
use crate::tile::equilibrium::Emissivity;
use std::cmp::Ordering;
use std::sync::Arc;

/// What solutions stand for: a basis, its flights and the tiles' inputs; equal where they are the same allocations.
#[derive(Debug, Clone)]
pub(in crate::assess) struct StandsFor {
    basis: Arc<Scenario>,
    flights: Vec<Arc<Flight>>,
    tiles: Arc<Vec<EffectiveTile>>,
    emissivities: Arc<Vec<Emissivity>>,
    starts: Arc<Starts>,
    sites: Arc<Vec<Site>>,
    trips: Arc<Vec<Trip>>,
}

impl PartialEq for StandsFor {
    fn eq(&self, other: &StandsFor) -> bool {
        Arc::ptr_eq(&self.basis, &other.basis) && self.flies_as(other) && self.has_tiles_of(other) && self.has_sites_of(other)
    }
}

/// Sites, by place, that one state has and the other has not, or that lie on a tile that moved.
#[derive(Default)]
struct Changed {
    now: Vec<usize>,
    before: Vec<usize>,
}

impl StandsFor {
    /// The same entries in the same order.
    pub fn flies_as(&self, other: &StandsFor) -> bool {
        self.flights.len() == other.flights.len() && self.flights.iter().zip(&other.flights).all(|(a, b)| Arc::ptr_eq(a, b))
    }

    fn has_tiles_of(&self, other: &StandsFor) -> bool {
        Arc::ptr_eq(&self.tiles, &other.tiles)
            && Arc::ptr_eq(&self.emissivities, &other.emissivities)
            && Arc::ptr_eq(&self.starts, &other.starts)
    }

    fn has_sites_of(&self, other: &StandsFor) -> bool {
        Arc::ptr_eq(&self.sites, &other.sites) && Arc::ptr_eq(&self.trips, &other.trips)
    }

    /// By tile, whether its surface may differ from what it was `before` under a flight of both; `None` where the basis is another and all may.
    pub fn touched_since(&self, before: &StandsFor) -> Option<Vec<bool>> {
        let mut touched = self.own(before)?;
        for trip in self.wedges(before, &self.changed(before, &touched)) {
            mark(&mut touched, trip);
        }
        Some(touched)
    }

    /// The tiles that are others themselves; `None` where the basis is.
    fn own(&self, before: &StandsFor) -> Option<Vec<bool>> {
        if !Arc::ptr_eq(&self.basis, &before.basis) || self.tiles.len() != before.tiles.len() {
            return None;
        }
        let same = self.has_tiles_of(before);
        let other = |tile: usize| !same && !(self.holds_as(before, tile) && self.tiles[tile].local == before.tiles[tile].local);
        Some((0..self.tiles.len()).map(other).collect())
    }

    /// Whether a tile is made of the same and starts alike: all but what reaches its face. An emissivity is compared by what it says, since its index
    /// follows the other tiles.
    fn holds_as(&self, before: &StandsFor, tile: usize) -> bool {
        let (Some(a), Some(b)) = (self.tiles.get(tile), before.tiles.get(tile)) else { return false };
        let alike = EffectiveTile { emissivity: b.emissivity, local: b.local, ..a.clone() } == *b;
        let starts = self.starts.tiles_k.get(tile) == before.starts.tiles_k.get(tile);
        alike && starts && self.emissivities.get(a.emissivity) == before.emissivities.get(b.emissivity)
    }

    /// Both lists are in the order of [`Site::place`].
    fn changed(&self, before: &StandsFor, own: &[bool]) -> Changed {
        let mut changed = Changed::default();
        if self.has_sites_of(before) && !own.contains(&true) {
            return changed;
        }
        let (mut now_at, mut before_at) = (0, 0);
        loop {
            let order = match (self.sites.get(now_at), before.sites.get(before_at)) {
                (Some(now), Some(before)) => now.place().cmp(&before.place()),
                (Some(_), None) => Ordering::Less,
                (None, Some(_)) => Ordering::Greater,
                (None, None) => return changed,
            };
            let moved = self.sites.get(now_at).is_some_and(|site| own.get(site.tile) == Some(&true));
            if order.is_lt() || order.is_eq() && moved {
                changed.now.push(now_at);
            }
            if order.is_gt() || order.is_eq() && moved {
                changed.before.push(before_at);
            }
            now_at += usize::from(order.is_le());
            before_at += usize::from(order.is_ge());
        }
    }

    /// The trips of changed sites, of both states.
    fn wedges<'a>(&'a self, before: &'a StandsFor, changed: &'a Changed) -> impl Iterator<Item = &'a Trip> {
        let of = |sites: &'a [usize], trips: &'a [Trip]| sites.iter().filter_map(|site| trips.get(*site));
        of(&changed.now, &self.trips).chain(of(&changed.before, &before.trips))
    }
}

fn mark(tiles: &mut [bool], trip: &Trip) {
    for inside in &trip.wedge.inside {
        if let Some(tile) = tiles.get_mut(inside.tile as usize) {
            *tile = true;
        }
    }
}

impl Prepared {
    /// By tile, whether its solution in depth differs from what it was `before`, of which this is a later state: the tile is made of something else, starts
    /// elsewhere, or meets another heating at a row of some entry. `None` where everything may have moved.
    pub fn moved_since(&self, before: &Prepared) -> Option<Vec<bool>> {
        let (now, then) = (self.stands_for(), before.stands_for());
        if !now.flies_as(&then) {
            return None;
        }
        let own = now.own(&then)?;
        let changed = now.changed(&then, &own);
        let mut moved = own;
        for (prepared, sites, trips) in [(self, &changed.now, &now.trips), (before, &changed.before, &then.trips)] {
            // A site that never trips leaves the heating behind it as it is.
            for trip in sites.iter().filter(|site| prepared.trips_ever(**site)).filter_map(|site| trips.get(*site)) {
                mark(&mut moved, trip);
            }
        }
        for (group, moved) in moved.chunks_mut(LANES).enumerate().filter(|(_, moved)| moved.contains(&true)) {
            let mut asked = [false; LANES];
            for (lane, (asked, moved)) in asked.iter_mut().zip(moved.iter()).enumerate() {
                *asked = *moved && now.holds_as(&then, group * LANES + lane);
            }
            let same = self.heats_as(before, group, asked);
            moved.iter_mut().zip(same).for_each(|(moved, same)| *moved &= !same);
        }
        Some(moved)
    }

    /// Whether a site reaches its criterion at a row of any entry.
    fn trips_ever(&self, site: usize) -> bool {
        self.flights.iter().flat_map(|flight| &flight.moments).any(|moment| moment.site_ratio(&self.surface, site) >= 1.0)
    }

    /// Of the lanes asked for, those whose heating is the same to the bit at every row of every entry.
    fn heats_as(&self, before: &Prepared, group: usize, asked: [bool; LANES]) -> [bool; LANES] {
        let mut same = asked;
        let bits = |heating: Heating| {
            [heating.cold_wall_w_m2, heating.recovery_j_kg, heating.pressure_pa, heating.uncapped_4]
                .map(|lanes| lanes.to_array().map(f64::to_bits))
        };
        for moment in self.flights.iter().flat_map(|flight| &flight.moments) {
            if !same.contains(&true) {
                break;
            }
            let heating = |of: &Prepared| of.surface.heating(group, moment).map(bits);
            match (heating(self), heating(before)) {
                (Some(now), Some(then)) => (0..LANES).for_each(|lane| same[lane] &= (0..4).all(|row| now[row][lane] == then[row][lane])),
                _ => return [false; LANES],
            }
        }
        same
    }

    /// Whether every tile meets, holds and loses the same heat as in `other`, of which this is a later state: no solution differs.
    pub fn solves_as(&self, other: &Prepared) -> bool {
        self.stands_for() == other.stands_for()
    }

    /// What solutions stand for.
    pub(in crate::assess) fn stands_for(&self) -> StandsFor {
        StandsFor {
            basis: self.basis.clone(),
            flights: self.flights.clone(),
            tiles: self.tiles.clone(),
            emissivities: self.emissivities.clone(),
            starts: self.starts.clone(),
            sites: self.sites.clone(),
            trips: self.trips.clone(),
        }
    }
}
