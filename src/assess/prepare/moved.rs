//! Which tiles moved between two states of one basis: those whose own inputs are others.
//!
//! A tile's numbers depend on its own inputs alone, so that every other tile keeps its own to the bit. What a tile meets is made of the tile after the
//! changes and with what findings make of its face, of its start, and of the sites whose wedges reach it: each by its place, its size and the tile that it lies
//! on. The largest wedge counts, so that the order of sites says nothing.

use super::flights::same_flights;
use super::{EffectiveTile, Flight, Prepared};
use crate::assess::sites::Site;
use crate::assess::start::Starts;
use crate::heating::Moment;
use crate::heating::local::{Heating, LANES, Trip};
use crate::scenario::Scenario;
use crate::tile::equilibrium::Emissivity;
use std::cmp::Ordering;
use std::sync::Arc;

/// Past so many tiles that are others themselves, or so many rows at which a site differs, a tile counts as moved without a look at its heating.
const MOST_TILES: usize = 64;
const MOST_ROWS: usize = 200;
/// Over this ratio to its threshold a site trips wholly: the intermittency is 1 from the square root of 2 on.
const WHOLLY: f64 = 1.5;

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
        same_flights(&self.flights, &other.flights)
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
        let stays = |tile: usize| same || self.holds_as(before, tile) && self.tiles[tile].local == before.tiles[tile].local;
        Some((0..self.tiles.len()).map(|tile| !stays(tile)).collect())
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
    /// By tile, whether its solution in depth may differ from what it was `before`, of which this is a later state: the tile is made of something else, starts
    /// elsewhere, or meets another heating at a row of some entry. `None` where everything may have moved.
    ///
    /// Heating is compared row by row, unless that costs more than a look at the tiles: where many tiles are others themselves, or sites differ at many rows.
    pub fn moved_since(&self, before: &Prepared) -> Option<Vec<bool>> {
        let (now, then) = (self.stands_for(), before.stands_for());
        if !now.flies_as(&then) {
            return None;
        }
        let own = now.own(&then)?;
        let changed = now.changed(&then, &own);
        let differing = self.differing(before, &changed);
        let mut behind = vec![false; own.len()];
        if !differing.is_empty() {
            now.wedges(&then, &changed).for_each(|trip| mark(&mut behind, trip));
        }
        let all: Vec<&Moment> = self.flights.iter().flat_map(|flight| &flight.moments).collect();
        let few = own.iter().filter(|own| **own).count() <= MOST_TILES;
        let mut moved: Vec<bool> = own.iter().zip(&behind).map(|(own, behind)| *own || *behind).collect();
        for (group, moved) in moved.chunks_mut(LANES).enumerate().filter(|(_, moved)| moved.contains(&true)) {
            let tile = |lane: usize| group * LANES + lane;
            let is_own = |lane: usize| own.get(tile(lane)) == Some(&true);
            let asked = |own: bool| std::array::from_fn(|lane| moved.get(lane) == Some(&true) && is_own(lane) == own);
            let itself: [bool; LANES] = std::array::from_fn(|lane| asked(true)[lane] && few && now.holds_as(&then, tile(lane)));
            let itself = self.heats_as(before, group, itself, &all);
            let behind = if differing.len() <= MOST_ROWS { self.heats_as(before, group, asked(false), &differing) } else { [false; LANES] };
            moved.iter_mut().enumerate().for_each(|(lane, moved)| *moved &= !(itself[lane] || behind[lane]));
        }
        Some(moved)
    }

    /// The rows at which changed sites may make another heating: all but those at which none trips, or at which each trips wholly where it did before.
    fn differing(&self, before: &Prepared, changed: &Changed) -> Vec<&Moment> {
        let of = |prepared: &Prepared, sites: &[usize], moment: &Moment| -> Vec<f64> {
            sites.iter().map(|site| moment.site_ratio(&prepared.surface, *site)).collect()
        };
        let spot = |prepared: &Prepared, site: usize| prepared.sites.get(site).map(|site| site.spot);
        let paired = changed.now.len() == changed.before.len()
            && changed.now.iter().zip(&changed.before).all(|(now, then)| spot(self, *now) == spot(before, *then));
        let same = |moment: &&Moment| {
            let (now, then) = (of(self, &changed.now, moment), of(before, &changed.before, moment));
            let never = |ratios: &[f64]| ratios.iter().all(|ratio| *ratio < 1.0);
            let alike = |(now, then): (&f64, &f64)| *now < 1.0 && *then < 1.0 || *now > WHOLLY && *then > WHOLLY;
            never(&now) && never(&then) || paired && now.iter().zip(&then).all(alike)
        };
        self.flights.iter().flat_map(|flight| &flight.moments).filter(|moment| !same(moment)).collect()
    }

    /// Of the lanes asked for, those whose heating is the same to the bit at some rows.
    fn heats_as(&self, before: &Prepared, group: usize, asked: [bool; LANES], rows: &[&Moment]) -> [bool; LANES] {
        let mut same = asked;
        let bits = |heating: Heating| {
            [heating.cold_wall_w_m2, heating.recovery_j_kg, heating.pressure_pa, heating.uncapped_4]
                .map(|lanes| lanes.to_array().map(f64::to_bits))
        };
        for moment in rows {
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
    #[cfg(test)]
    pub(in crate::assess) fn solves_as(&self, other: &Prepared) -> bool {
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
