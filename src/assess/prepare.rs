//! What depends on the scenario but not on a moment's question: flown entries as streams, tiles after the scenario's changes, the surveyed body.
//!
//! `update` does again only what changed: the survey with the vehicle, an entry with its own document, moments with the heating choices, tiles with
//! the changes and factors. A flown entry is thinned to at most [`SAMPLES`] of its own rows, spaced so that time and heat load advance evenly (half the
//! weight each); peaks between rows come from a parabola. For a glide of 2,000 s that is a row about every 5 s where it is hot; the trapezoid's heat
//! load is then within 0.02 % (tested where the thinning lives, `flight::trajectory`).

mod changed;
mod flights;
mod moved;
mod names;

pub use changed::EffectiveTile;
pub use flights::{Flight, SAMPLES};
pub(super) use moved::StandsFor;

use super::condition::Rules;
use super::controls;
use super::effects::Effects;
use super::sites::{self, Site};
use super::start::{Starts, starts};
use crate::document::Error;
use crate::heating::gap::{Gaps, OwnFactors};
use crate::heating::local::{LANES, Local, Trip};
use crate::heating::points::Points;
use crate::heating::reference::Relation;
use crate::heating::transition::SMOOTH_ROUGHNESS_M;
use crate::heating::{Body, Choices, Facet, Measure, Moment, Stream, Surface, place, survey};
use crate::scenario::{HeatingChoices, Inspection, NamedEntry, Scenario, View};
use crate::shield::joint::Joint;
use crate::shield::{Finding, Shield};
use crate::tile::equilibrium::{Emissivity, WallEnthalpy};
use changed::effective_tiles;
use flights::{flown, moment, moments, orbit_altitude_m, same_flights, survey_sideslip};
use names::check_names;
use std::sync::Arc;
use wide::f64x4;

/// A shield under a scenario, ready for every question about its surface.
#[derive(Debug, Clone)]
pub struct Prepared {
    /// One an entry, in the scenario's order; shared, so that what did not change is neither flown nor copied again.
    pub flights: Vec<Arc<Flight>>,
    /// After the scenario's changes; what stays the same keeps its allocation, here and in what follows.
    pub tiles: Arc<Vec<EffectiveTile>>,
    /// The vehicle's joints, worked out once: it takes longer than a finding's edit may.
    pub joints: Arc<Vec<Joint>>,
    /// Emissivities in use, each once.
    pub emissivities: Arc<Vec<Emissivity>>,
    pub body: Body,
    pub surface: Surface,
    /// Findings that may trip the boundary layer; empty where no transition counts them.
    pub sites: Arc<Vec<Site>>,
    /// The same as the local heating reads them, in their order.
    trips: Arc<Vec<Trip>>,
    /// The criteria of the sites by entry and row (`Surface::site_squares`), worked out once for all tiles; empty where none counts.
    site_squares: Arc<Vec<Vec<Vec<f64x4>>>>,
    /// The vehicle's body points on its tiles.
    pub points: Option<Points>,
    /// Where each tile starts.
    pub starts: Arc<Starts>,
    /// The surface where nothing heats it yet, K, by group of tiles.
    pub(super) floors_k: Vec<f64x4>,
    /// The rules that findings are judged by, read once for every question; wrong rows are refused with the findings.
    pub rules: Arc<Rules>,
    /// What a finding does to its tile's model, likewise.
    pub effects: Arc<Effects>,
    /// The vehicle's findings with the scenario's, read once for every question.
    pub findings: Arc<Vec<Finding>>,
    /// The scenario but for its entries and findings: the same allocation as long as nothing of it changes, so that what was made from it, a flight and
    /// a tile may be kept (`kept`, `moved`).
    basis: Arc<Scenario>,
    entries: Vec<NamedEntry>,
    heating: HeatingChoices,
    facets: Vec<Facet>,
    digest: String,
}

impl Prepared {
    /// Flies the entries, surveys the body and applies the changes.
    ///
    /// Errors: a change or factor that names a zone, tile, coating, material or stack that is not there (each with what is); a face without emissivity;
    /// an entry that cannot be flown.
    pub fn new(shield: &Shield, scenario: &Scenario) -> Result<Prepared, Error> {
        let facets: Vec<Facet> = shield.tiles.iter().map(|tile| tile.facet).collect();
        let mut body = survey(&facets, |tile| shield.tiles.get(tile).map_or(&[], |tile| tile.neighbours.as_slice()));
        check_names(shield, scenario)?;
        let findings = super::findings(shield, scenario)?;
        let joints = Arc::new(shield.joints());
        let (tiles, emissivities) = effective_tiles(shield, scenario, &body, &findings, &joints)?;
        let points = super::points::of(shield, &facets);
        let zones = controls::zones(&scenario.entries);
        let flown = |entry| flown(entry, &body, points.as_ref(), &scenario.heating, &zones);
        let flights = scenario.entries.iter().map(flown).collect::<Result<Vec<_>, _>>()?;
        survey_sideslip(&mut body, &facets, shield, &flights);
        let (sites, trips) = tripped(shield, scenario, &findings, &facets, &body, None);
        let surface = laid_out(&body, &tiles, points.as_ref(), &trips, &scenario.heating);
        let starts = starts(shield, &scenario.start, &tiles, &emissivities, orbit_altitude_m(&flights));
        let (rules, effects) = read(&scenario.inspection);
        Ok(Prepared {
            site_squares: Arc::new(site_squares(&surface, &flights)),
            sites: Arc::new(sites),
            trips: Arc::new(trips),
            flights,
            tiles: Arc::new(tiles),
            joints,
            emissivities: Arc::new(emissivities),
            body,
            surface,
            points,
            floors_k: floors_k(&starts),
            starts: Arc::new(starts),
            rules,
            effects,
            findings: Arc::new(findings),
            basis: Arc::new(without_entries(scenario)),
            entries: scenario.entries.clone(),
            heating: scenario.heating.clone(),
            facets,
            digest: shield.digest.clone(),
        })
    }

    /// The same as `new` with this shield and scenario, doing only what changed since. On an error the last good state stands.
    pub fn update(&mut self, shield: &Shield, scenario: &Scenario) -> Result<(), Error> {
        let same_vehicle = self.digest == shield.digest
            && self.facets.len() == shield.tiles.len()
            && self.facets.iter().zip(&shield.tiles).all(|(facet, tile)| *facet == tile.facet);
        if !same_vehicle {
            *self = Prepared::new(shield, scenario)?;
            return Ok(());
        }
        check_names(shield, scenario)?;
        let findings = super::findings(shield, scenario)?;
        let (tiles, emissivities) = effective_tiles(shield, scenario, &self.body, &findings, &self.joints)?;
        let (sites, trips) = tripped(shield, scenario, &findings, &self.facets, &self.body, Some(self));
        let flights = self.flights_of(scenario)?;
        // Nothing can fail from here.
        let altitude_m = orbit_altitude_m(&self.flights);
        let same_flights = same_flights(&self.flights, &flights);
        self.flights = flights;
        let same_local = self.tiles.len() == tiles.len() && self.tiles.iter().zip(&tiles).all(|(a, b)| a.local == b.local);
        let surveyed = survey_sideslip(&mut self.body, &self.facets, shield, &self.flights);
        let starts_alike = self.basis.start == scenario.start
            && altitude_m == orbit_altitude_m(&self.flights)
            && *self.emissivities == emissivities
            && self.tiles.len() == tiles.len()
            && self.tiles.iter().zip(&tiles).all(|(a, b)| a.is_made_as(b));
        let same_surface = take(&mut self.trips, trips) && same_local;
        take(&mut self.sites, sites);
        take(&mut self.tiles, tiles);
        take(&mut self.emissivities, emissivities);
        take(&mut self.findings, findings);
        let lays_out = !same_surface || surveyed || own_factors(&self.heating) != own_factors(&scenario.heating);
        if lays_out {
            self.surface = laid_out(&self.body, &self.tiles, self.points.as_ref(), &self.trips, &scenario.heating);
        }
        if lays_out || !same_flights {
            self.site_squares = Arc::new(site_squares(&self.surface, &self.flights));
        }
        if !starts_alike {
            self.start_again(shield, scenario);
        }
        if self.basis.inspection != scenario.inspection {
            (self.rules, self.effects) = read(&scenario.inspection);
        }
        let basis = without_entries(scenario);
        if *self.basis != basis || surveyed {
            self.basis = Arc::new(basis);
        }
        self.entries = scenario.entries.clone();
        self.heating = scenario.heating.clone();
        Ok(())
    }

    /// Whether nothing differs from `other` but what a tile is made of, its factors on the heating and its findings: the same flights past the same body, the
    /// same landing, policy and choices.
    pub fn differs_in_tiles_alone(&self, other: &Prepared) -> bool {
        let rest = |prepared: &Prepared| {
            let mut rest = (*prepared.basis).clone();
            rest.heating.choices.scale = 1.0;
            rest.heating.zone_factor.clear();
            rest.changes.clear();
            rest.inspection = Inspection::default();
            rest
        };
        let same_vehicle = self.digest == other.digest && self.tiles.len() == other.tiles.len();
        same_vehicle && self.entries == other.entries && rest(self) == rest(other)
    }

    /// The scenario's entries flown; what is flown already is taken over, by what is flown and not by place or name: an entry that was moved, renamed or copied
    /// is not flown again.
    fn flights_of(&self, scenario: &Scenario) -> Result<Vec<Arc<Flight>>, Error> {
        let zones = controls::zones(&scenario.entries);
        // The scale is every tile's own and no moment's.
        let same_choices = Choices { scale: scenario.heating.choices.scale, ..self.heating.choices.clone() } == scenario.heating.choices;
        let same_heating = same_choices && controls::zones(&self.entries) == zones;
        let same_reference = self.heating.choices.reference == scenario.heating.choices.reference;
        let mut flights = Vec::with_capacity(scenario.entries.len());
        for (i, entry) in scenario.entries.iter().enumerate() {
            let known = |at: &usize| self.entries.get(*at).is_some_and(|before| before.course == entry.course);
            let known = Some(i).filter(known).or_else(|| (0..self.entries.len()).find(known));
            let kept = known.and_then(|at| Some((self.entries.get(at)?, self.flights.get(at)?)));
            flights.push(match kept {
                Some((before, flight)) if before.transition == entry.transition && same_heating => {
                    if flight.name == entry.name {
                        flight.clone()
                    } else {
                        Arc::new(Flight { name: entry.name.clone(), ..(**flight).clone() })
                    }
                }
                Some((_, flight)) if same_reference => {
                    let moments = moments(&flight.streams, &self.body, self.points.as_ref(), entry, &scenario.heating, &zones);
                    Arc::new(Flight { name: entry.name.clone(), moments, ..(**flight).clone() })
                }
                _ => flown(entry, &self.body, self.points.as_ref(), &scenario.heating, &zones)?,
            });
        }
        Ok(flights)
    }

    /// The criteria of the sites at a kept row of an entry.
    pub(super) fn site_squares(&self, entry: usize, row: usize) -> &[f64x4] {
        self.site_squares.get(entry).and_then(|rows| rows.get(row)).map_or(&[], Vec::as_slice)
    }

    /// Makes the starts again from what stands.
    fn start_again(&mut self, shield: &Shield, scenario: &Scenario) {
        let starts = starts(shield, &scenario.start, &self.tiles, &self.emissivities, orbit_altitude_m(&self.flights));
        if !take(&mut self.starts, starts) {
            self.floors_k = floors_k(&self.starts);
        }
    }

    /// The same with every tile's heating multiplied by `factor`: what a term of the policy or a bound asks for.
    pub fn with_heating_times(&self, factor: f64) -> Prepared {
        let mut out = self.clone();
        for tile in Arc::make_mut(&mut out.tiles) {
            tile.local.multiplier *= factor;
        }
        out.surface = laid_out(&out.body, &out.tiles, out.points.as_ref(), &out.trips, &out.heating);
        // Another surface: nothing that was kept for this one holds.
        out.basis = Arc::new((*self.basis).clone());
        out
    }

    /// Surface and structure of a tile when the entry starts, K; 300 K for a tile that is not there.
    pub fn start_of(&self, tile: usize) -> (f64, f64) {
        self.starts.tiles_k.get(tile).copied().unwrap_or((300.0, 300.0))
    }

    /// The heating choices that do not depend on a tile.
    pub fn choices(&self) -> &Choices {
        &self.heating.choices
    }

    /// The centre of a tile's face, m.
    pub fn centre(&self, tile: usize) -> Option<[f64; 3]> {
        self.facets.get(tile).map(|facet| facet.centre.to_array())
    }

    /// The user's own factors of a proud tile, and of one behind an open gap.
    pub fn own_factors(&self) -> [Option<&OwnFactors>; 2] {
        own_factors(&self.heating)
    }

    /// The relation behind the reference heating.
    pub fn relation(&self) -> Relation {
        self.heating.choices.reference
    }

    /// The stream, wall enthalpy and moment of an entry at any time, between its rows where need be; `None` for an entry that is not there.
    pub fn moment_at(&self, entry: usize, time_s: f64) -> Option<(Stream, WallEnthalpy, Moment)> {
        let flight = self.flights.get(entry)?;
        let named = self.entries.get(entry)?;
        let stream = Stream::at(&flight.trajectory.at(time_s)?, flight.trajectory.nose_radius_m).by(self.heating.choices.reference);
        let transition = named.transition.unwrap_or(self.heating.choices.transition);
        let moment = moment(&stream, &self.body, self.points.as_ref(), named, &self.heating, &transition, &controls::zones(&self.entries));
        Some((stream, WallEnthalpy::at_pressure(stream.stagnation_pressure_pa), moment))
    }
}

fn read(inspection: &Inspection) -> (Arc<Rules>, Arc<Effects>) {
    (Arc::new(Rules::of(inspection).unwrap_or_default()), Arc::new(Effects::of(inspection).unwrap_or_default()))
}

/// Takes a new value over what is known, unless they are the same: then the allocation stands, and it says so.
fn take<T: PartialEq>(known: &mut Arc<T>, new: T) -> bool {
    let same = **known == new;
    if !same {
        *known = Arc::new(new);
    }
    same
}

fn without_entries(scenario: &Scenario) -> Scenario {
    Scenario { entries: Vec::new(), findings: Vec::new(), view: View::default(), note: String::new(), ..scenario.clone() }
}

/// Surface starts in groups; lanes past the last tile repeat it.
fn floors_k(starts: &Starts) -> Vec<f64x4> {
    let last = starts.tiles_k.len().saturating_sub(1);
    let of = |tile: usize| starts.tiles_k.get(tile.min(last)).map_or(0.0, |start| start.0);
    (0..starts.tiles_k.len().div_ceil(LANES)).map(|group| f64x4::from([0, 1, 2, 3].map(|lane| of(group * LANES + lane)))).collect()
}

/// Stands for a tile that is not there: every index below the number of tiles is, and a lane beyond repeats the last.
pub(super) fn no_tile() -> Local {
    Local {
        normal: glam::DVec3::Z,
        place: place::Place { sharp_per_m: 1.0, flat_per_m: 0.0, edge: glam::DVec3::X, own_share: 0.0 },
        multiplier: 1.0,
        catalycity: 1.0,
        roughness_m: SMOOTH_ROUGHNESS_M,
        running_length_m: None,
        hinge: None,
        recombination: None,
        step_m: 0.0,
        gaps: Gaps::default(),
    }
}

fn laid_out(body: &Body, tiles: &[EffectiveTile], points: Option<&Points>, trips: &[Trip], heating: &HeatingChoices) -> Surface {
    let local = |tile: usize| tiles.get(tile).map_or_else(no_tile, |tile| tile.local);
    Surface::new(body, tiles.len(), local).with_points(points).with_sites(body, trips, local).with_own(own_factors(heating))
}

fn site_squares(surface: &Surface, flights: &[Arc<Flight>]) -> Vec<Vec<Vec<f64x4>>> {
    let of = |flight: &Arc<Flight>| flight.moments.iter().map(|moment| surface.site_squares(moment)).collect();
    flights.iter().map(of).collect()
}

fn own_factors(heating: &HeatingChoices) -> [Option<&OwnFactors>; 2] {
    [heating.steps.as_ref(), heating.gaps.as_ref()]
}

/// The sites that the scenario's transitions count, with their wedges; those of `before` that are the same are taken over.
fn tripped(
    shield: &Shield,
    scenario: &Scenario,
    findings: &[Finding],
    facets: &[Facet],
    body: &Body,
    before: Option<&Prepared>,
) -> (Vec<Site>, Vec<Trip>) {
    if !sites::counted(scenario) {
        return (Vec::new(), Vec::new());
    }
    let thresholds = &scenario.heating.choices.thresholds;
    let sites = sites::sites(shield, findings, thresholds);
    let angle_of = |prepared: &Prepared| prepared.heating.choices.thresholds.value(Measure::WedgeHalfAngle);
    let known = before.filter(|before| angle_of(before) == thresholds.value(Measure::WedgeHalfAngle));
    let trips = sites
        .iter()
        .map(|site| {
            let same = known.and_then(|known| known.sites.iter().zip(known.trips.iter()).find(|(old, _)| old.spot == site.spot));
            sites::trip(shield, facets, body, site, thresholds, same.map(|(_, trip)| &trip.wedge))
        })
        .collect();
    (sites, trips)
}
