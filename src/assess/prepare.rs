//! What depends on the scenario but not on a moment's question: flown entries as streams, tiles after the scenario's changes, the surveyed body.
//!
//! `update` does again only what changed: the survey with the vehicle, an entry with its own document, moments with the heating choices, tiles with
//! the changes and factors. A flown entry is thinned to at most [`SAMPLES`] of its own rows, spaced so that time and heat load advance evenly (half the
//! weight each); peaks between rows come from a parabola. For a glide of 2,000 s that is a row about every 5 s where it is hot; the trapezoid's heat
//! load is then within 0.02 % (tested where the thinning lives, `flight::trajectory`).

use super::condition::Rules;
use super::controls;
use super::sites::{self, Site};
use super::start::{Starts, starts};
use crate::document::Sorting as _;
use crate::document::{Error, Problems};
use crate::flight::Trajectory;
use crate::flight::remarks::must_enter;
use crate::heating::catalysis::Rate;
use crate::heating::gap::StepTable;
use crate::heating::local::{LANES, Local, Trip};
use crate::heating::points::Points;
use crate::heating::reference::Relation;
use crate::heating::transition::SMOOTH_ROUGHNESS_M;
use crate::heating::{Body, Choices, Facet, Measure, Moment, Stream, Surface, Transition, local, place, survey};
use crate::scenario::{Change, ChangeKey, ChangeValue, HeatingChoices, Inspection, NamedEntry, Reach, Scenario, View};
use crate::shield::{Finding, Shield, Tile};
use crate::tile::equilibrium::{Emissivity, WallEnthalpy};
use std::cmp::Ordering;
use std::sync::Arc;
use wide::f64x4;

/// Rows of an entry that are kept, at most.
pub const SAMPLES: usize = 300;

/// A tile after the scenario's changes.
#[derive(Debug, Clone, PartialEq)]
pub struct EffectiveTile {
    /// Indices into the shield's library and stacks.
    pub material: usize,
    pub coating: Option<usize>,
    pub stack: Option<usize>,
    pub thickness_m: f64,
    pub density_kg_m3: f64,
    /// Index into `Prepared::emissivities`.
    pub emissivity: usize,
    /// `None` where neither tile, coating nor material knows it.
    pub solar_absorptance: Option<f64>,
    pub local: Local,
}

/// One entry of the set, flown, thinned, and laid on the body.
#[derive(Debug, Clone)]
pub struct Flight {
    pub name: String,
    /// As flown or imported, every row.
    pub trajectory: Trajectory,
    /// A stream, the wall's enthalpy at its stagnation pressure, and the moment, for each kept row.
    pub streams: Vec<Stream>,
    pub walls: Vec<WallEnthalpy>,
    pub moments: Vec<Moment>,
}

/// A shield under a scenario, ready for every question about its surface.
#[derive(Debug, Clone)]
pub struct Prepared {
    /// One an entry, in the scenario's order; shared, so that what did not change is neither flown nor copied again.
    pub flights: Vec<Arc<Flight>>,
    pub tiles: Vec<EffectiveTile>,
    /// Emissivities in use, each once.
    pub emissivities: Vec<Emissivity>,
    pub body: Body,
    pub surface: Surface,
    /// Findings that may trip the boundary layer; empty where no transition counts them.
    pub sites: Vec<Site>,
    /// The same as the local heating reads them, in their order.
    trips: Vec<Trip>,
    /// The vehicle's body points on its tiles.
    pub points: Option<Points>,
    /// Where each tile starts.
    pub starts: Starts,
    /// The surface where nothing heats it yet, K, by group of tiles.
    pub(super) floors_k: Vec<f64x4>,
    /// The rules that findings are judged by, read once for every question; wrong rows are refused with the findings.
    pub rules: Arc<Rules>,
    inspection: Inspection,
    /// The scenario but for its entries: the same allocation as long as nothing of it changes, so that what was made from it and a
    /// flight may be kept (`kept`).
    pub(super) basis: Arc<Scenario>,
    entries: Vec<NamedEntry>,
    heating: HeatingChoices,
    changes: Vec<Change>,
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
        let (tiles, emissivities) = effective_tiles(shield, scenario, &body)?;
        let points = super::points::of(shield, &facets);
        let zones = controls::zones(&scenario.entries);
        let flown = |entry| flown(entry, &body, points.as_ref(), &scenario.heating, &zones);
        let flights = scenario.entries.iter().map(flown).collect::<Result<Vec<_>, _>>()?;
        survey_sideslip(&mut body, &facets, shield, &flights);
        let (sites, trips) = tripped(shield, scenario, &facets, &body, None)?;
        let surface = laid_out(&body, &tiles, points.as_ref(), &trips, &scenario.heating);
        let starts = starts(shield, &scenario.start, &tiles, &emissivities, orbit_altitude_m(&flights));
        Ok(Prepared {
            sites,
            trips,
            flights,
            tiles,
            emissivities,
            body,
            surface,
            points,
            floors_k: floors_k(&starts),
            starts,
            rules: rules(&scenario.inspection),
            inspection: scenario.inspection.clone(),
            basis: Arc::new(without_entries(scenario)),
            entries: scenario.entries.clone(),
            heating: scenario.heating.clone(),
            changes: scenario.changes.clone(),
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
        let (tiles, emissivities) = effective_tiles(shield, scenario, &self.body)?;
        let (sites, trips) = tripped(shield, scenario, &self.facets, &self.body, Some(self))?;
        let zones = controls::zones(&scenario.entries);
        let same_heating = self.heating.choices == scenario.heating.choices && controls::zones(&self.entries) == zones;
        let same_reference = self.heating.choices.reference == scenario.heating.choices.reference;
        // By what is flown, not by place or name: an entry that was moved, renamed or copied is not flown again.
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
        // Nothing can fail from here.
        self.flights = flights;
        let same_tiles = self.tiles.len() == tiles.len() && self.tiles.iter().zip(&tiles).all(|(a, b)| a.local == b.local);
        let same_surface = same_tiles && self.trips == trips;
        let surveyed = survey_sideslip(&mut self.body, &self.facets, shield, &self.flights);
        if !same_surface || surveyed || self.heating.steps != scenario.heating.steps {
            self.surface = laid_out(&self.body, &tiles, self.points.as_ref(), &trips, &scenario.heating);
        }
        self.sites = sites;
        self.trips = trips;
        self.tiles = tiles;
        self.emissivities = emissivities;
        let starts = starts(shield, &scenario.start, &self.tiles, &self.emissivities, orbit_altitude_m(&self.flights));
        let same_starts = self.starts == starts;
        self.starts = starts;
        self.floors_k = floors_k(&self.starts);
        if self.inspection != scenario.inspection {
            self.rules = rules(&scenario.inspection);
            self.inspection = scenario.inspection.clone();
        }
        let basis = without_entries(scenario);
        if *self.basis != basis || !same_surface || surveyed || !same_starts {
            self.basis = Arc::new(basis);
        }
        self.entries = scenario.entries.clone();
        self.heating = scenario.heating.clone();
        self.changes = scenario.changes.clone();
        Ok(())
    }

    /// The same with every tile's heating multiplied by `factor`: what a term of the policy or a bound asks for.
    pub fn with_heating_times(&self, factor: f64) -> Prepared {
        let mut out = self.clone();
        for tile in &mut out.tiles {
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

    /// The user's own factors of a proud tile.
    pub fn steps(&self) -> Option<&StepTable> {
        self.heating.steps.as_ref()
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

fn rules(inspection: &Inspection) -> Arc<Rules> {
    Arc::new(Rules::of(inspection).unwrap_or_default())
}

fn without_entries(scenario: &Scenario) -> Scenario {
    Scenario { entries: Vec::new(), view: View::default(), note: String::new(), ..scenario.clone() }
}

/// Surface starts in groups; lanes past the last tile repeat it.
fn floors_k(starts: &Starts) -> Vec<f64x4> {
    let last = starts.tiles_k.len().saturating_sub(1);
    let of = |tile: usize| starts.tiles_k.get(tile.min(last)).map_or(0.0, |start| start.0);
    (0..starts.tiles_k.len().div_ceil(LANES)).map(|group| f64x4::from([0, 1, 2, 3].map(|lane| of(group * LANES + lane)))).collect()
}

/// The altitude at which the first entry begins: the orbit's where the scenario names none.
fn orbit_altitude_m(flights: &[Arc<Flight>]) -> f64 {
    flights.first().and_then(|flight| flight.trajectory.samples.first()).map_or(120_000.0, |sample| sample.altitude_m)
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
    }
}

fn laid_out(body: &Body, tiles: &[EffectiveTile], points: Option<&Points>, trips: &[Trip], heating: &HeatingChoices) -> Surface {
    let local = |tile: usize| tiles.get(tile).map_or_else(no_tile, |tile| tile.local);
    Surface::new(body, tiles.len(), local).with_points(points).with_sites(body, trips, local).with_steps(heating.steps.as_ref())
}

/// The sites that the scenario's transitions count, with their wedges; those of `before` that are the same are taken over.
fn tripped(
    shield: &Shield,
    scenario: &Scenario,
    facets: &[Facet],
    body: &Body,
    before: Option<&Prepared>,
) -> Result<(Vec<Site>, Vec<Trip>), Error> {
    if !sites::counted(scenario) {
        return Ok((Vec::new(), Vec::new()));
    }
    let thresholds = &scenario.heating.choices.thresholds;
    let sites = sites::sites(shield, &super::findings(shield, scenario)?, thresholds);
    let angle_of = |prepared: &Prepared| prepared.heating.choices.thresholds.value(Measure::WedgeHalfAngle);
    let known = before.filter(|before| angle_of(before) == thresholds.value(Measure::WedgeHalfAngle));
    let trips = sites
        .iter()
        .map(|site| {
            let same = known.and_then(|known| known.sites.iter().zip(&known.trips).find(|(old, _)| old.spot == site.spot));
            sites::trip(shield, facets, body, site, thresholds, same.map(|(_, trip)| &trip.wedge))
        })
        .collect();
    Ok((sites, trips))
}

fn flown(entry: &NamedEntry, body: &Body, points: Option<&Points>, heating: &HeatingChoices, zones: &[&str]) -> Result<Arc<Flight>, Error> {
    let trajectory = entry.course.fly()?;
    must_enter(&entry.name, &entry.course, &trajectory)?;
    let kept = trajectory.thinned(SAMPLES).samples;
    let streams: Vec<Stream> =
        kept.iter().map(|sample| Stream::at(sample, trajectory.nose_radius_m).by(heating.choices.reference)).collect();
    let walls = streams.iter().map(|stream| WallEnthalpy::at_pressure(stream.stagnation_pressure_pa)).collect();
    let moments = moments(&streams, body, points, entry, heating, zones);
    Ok(Arc::new(Flight { name: entry.name.clone(), trajectory, streams, walls, moments }))
}

fn moments(
    streams: &[Stream],
    body: &Body,
    points: Option<&Points>,
    entry: &NamedEntry,
    heating: &HeatingChoices,
    zones: &[&str],
) -> Vec<Moment> {
    let transition = entry.transition.unwrap_or(heating.choices.transition);
    streams.iter().map(|stream| moment(stream, body, points, entry, heating, &transition, zones)).collect()
}

/// A moment with its control surfaces where the entry deflects any of `zones`.
fn moment(
    stream: &Stream,
    body: &Body,
    points: Option<&Points>,
    entry: &NamedEntry,
    heating: &HeatingChoices,
    transition: &Transition,
    zones: &[&str],
) -> Moment {
    let moment = Moment::new(stream, body, &heating.choices, transition).with_points(points, stream);
    controls::degrees(entry, zones, stream).map_or(moment, |degrees| moment.deflected(&degrees))
}

/// Surveys running lengths at sideslip where a flight slips and that was not done yet; tells whether it did.
fn survey_sideslip(body: &mut Body, facets: &[Facet], shield: &Shield, flights: &[Arc<Flight>]) -> bool {
    let slips = flights.iter().flat_map(|flight| &flight.streams).any(|stream| stream.sideslip_deg != 0.0);
    if !slips || !body.slipped[0].is_empty() {
        return false;
    }
    body.survey_sideslip(facets, |tile| shield.tiles.get(tile).map_or(&[], |tile| tile.neighbours.as_slice()));
    true
}

/// Names for a message: the first ten and how many there are.
fn listed<'a>(names: impl Iterator<Item = &'a str>) -> String {
    let mut names: Vec<&str> = names.collect();
    names.order();
    names.dedup();
    let count = names.len();
    names.truncate(10);
    let told = names.join(", ");
    if count > 10 { format!("{told} and {} more", count - 10) } else { told }
}

fn zones(shield: &Shield) -> String {
    format!("a zone of the vehicle: {}", listed(shield.tiles.iter().map(|tile| tile.zone.as_str()).filter(|zone| !zone.is_empty())))
}

/// A tile's own values while the changes are laid over them.
struct Draft {
    material: usize,
    coating: Option<usize>,
    stack: Option<usize>,
    thickness_m: f64,
    density_kg_m3: f64,
    emissivity: Option<f64>,
    solar_absorptance: Option<f64>,
    nose_radius_m: Option<f64>,
    running_length_m: Option<f64>,
    heating_factor: f64,
}

impl Draft {
    fn of(tile: &Tile) -> Draft {
        Draft {
            material: tile.material,
            coating: tile.coating,
            stack: tile.stack,
            thickness_m: tile.thickness_m,
            density_kg_m3: tile.density_kg_m3,
            emissivity: tile.emissivity,
            solar_absorptance: tile.solar_absorptance,
            nose_radius_m: tile.facet.nose_radius_m,
            running_length_m: tile.facet.running_length_m,
            heating_factor: tile.heating_factor,
        }
    }

    /// Lays one change over the tile; a reference is already checked.
    fn set(&mut self, key: ChangeKey, value: &ChangeValue, shield: &Shield) {
        match (key, value) {
            (ChangeKey::Material, ChangeValue::Text(id)) => {
                if let Some(material) = shield.library.find(id) {
                    let density = |index: usize| shield.library.materials.get(index).map(|m| m.density_kg_m3);
                    // A density that was the old material's follows the new one; the table's own stays.
                    if density(self.material) == Some(self.density_kg_m3) {
                        self.density_kg_m3 = density(material).unwrap_or(self.density_kg_m3);
                    }
                    self.material = material;
                }
            }
            (ChangeKey::Coating, ChangeValue::Text(id)) => self.coating = shield.library.find(id),
            (ChangeKey::Stack, ChangeValue::Text(name)) => self.stack = shield.stacks.iter().position(|stack| stack.name == *name),
            (ChangeKey::ThicknessMm, ChangeValue::Number(value)) => self.thickness_m = value / 1000.0,
            (ChangeKey::DensityKgM3, ChangeValue::Number(value)) => self.density_kg_m3 = *value,
            (ChangeKey::Emissivity, ChangeValue::Number(value)) => self.emissivity = Some(*value),
            (ChangeKey::SolarAbsorptance, ChangeValue::Number(value)) => self.solar_absorptance = Some(*value),
            (ChangeKey::NoseRadiusM, ChangeValue::Number(value)) => self.nose_radius_m = Some(*value),
            (ChangeKey::RunningLengthM, ChangeValue::Number(value)) => self.running_length_m = Some(*value),
            (ChangeKey::HeatingFactor, ChangeValue::Number(value)) => self.heating_factor = *value,
            _ => {}
        }
    }
}

/// Checks one value of a change against the vehicle; the reader has checked that it is of its kind.
fn check_value(key: ChangeKey, value: &ChangeValue, path: &str, shield: &Shield, problems: &mut Problems) {
    match (key, value) {
        (ChangeKey::Material, ChangeValue::Text(id)) => {
            if shield.library.find(id).is_none() {
                problems.at_key(path, format!("{id:?} is no material"), listed(shield.library.materials.iter().map(|m| m.id.as_str())));
            }
        }
        (ChangeKey::Coating, ChangeValue::Text(id)) => {
            let known = shield.library.find(id).and_then(|i| shield.library.materials.get(i));
            if !id.eq_ignore_ascii_case("none") && known.is_none_or(|m| m.kind != crate::material::Kind::Coating) {
                let coatings = shield.library.materials.iter().filter(|m| m.kind == crate::material::Kind::Coating);
                problems.at_key(path, format!("{id:?} is no coating"), format!("none, {}", listed(coatings.map(|m| m.id.as_str()))));
            }
        }
        (ChangeKey::Stack, ChangeValue::Text(name)) => {
            if name != "none" && !shield.stacks.iter().any(|stack| stack.name == *name) {
                let known = listed(shield.stacks.iter().map(|stack| stack.name.as_str()));
                problems.at_key(path, format!("{name:?} is no stack"), format!("none, {known}"));
            }
        }
        (ChangeKey::Material | ChangeKey::Coating | ChangeKey::Stack, ChangeValue::Number(value)) => {
            problems.at_key(path, format!("{value} is a number"), "a name");
        }
        (ChangeKey::Emissivity, ChangeValue::Number(value)) => {
            if !(*value > 0.0 && *value <= 1.0) {
                problems.at_key(path, format!("{value} is no emissivity"), "a number above 0, at most 1");
            }
        }
        (ChangeKey::SolarAbsorptance, ChangeValue::Number(value)) => {
            if !(*value >= 0.0 && *value <= 1.0) {
                problems.at_key(path, format!("{value} is no absorptance"), "a number from 0 to 1");
            }
        }
        (ChangeKey::HeatingFactor, ChangeValue::Number(value)) => {
            if !(*value >= 0.0 && value.is_finite()) {
                problems.at_key(path, format!("{value} is no factor"), "a number of 0 or more");
            }
        }
        (_, ChangeValue::Number(value)) => {
            if !(*value > 0.0 && value.is_finite()) {
                problems.at_key(path, format!("{value} is out of range"), "a number above 0");
            }
        }
        (_, ChangeValue::Text(text)) => problems.at_key(path, format!("{text:?} is text"), "a number"),
    }
}

/// Every name that the scenario uses stands on this vehicle.
fn check_names(shield: &Shield, scenario: &Scenario, problems: &mut Problems) {
    controls::check(shield, &scenario.entries, &zones(shield), problems);
    let has_zone = |zone: &str| shield.tiles.iter().any(|tile| tile.zone == zone);
    for zone in scenario.heating.zone_factor.keys().filter(|zone| !has_zone(zone)) {
        problems.at_key(format!("heating.zone_factor.{zone}"), format!("no tile is in zone {zone:?}"), zones(shield));
    }
    for coating in scenario.heating.catalycity.keys().filter(|coating| shield.library.find(coating).is_none()) {
        let coatings = shield.library.materials.iter().filter(|m| m.kind == crate::material::Kind::Coating);
        problems.at_key(
            format!("heating.catalycity.{coating}"),
            format!("{coating:?} is no coating"),
            listed(coatings.map(|m| m.id.as_str())),
        );
    }
    let mut ids: Vec<&str> = shield.tiles.iter().map(|tile| tile.id.as_str()).collect();
    ids.order();
    for (i, change) in scenario.changes.iter().enumerate() {
        match &change.reach {
            Reach::Zone(zone) if !has_zone(zone) => {
                problems.at_key(format!("changes[{i}].zone"), format!("no tile is in zone {zone:?}"), zones(shield));
            }
            Reach::Zone(_) => {}
            Reach::Tiles(tiles) => {
                for (j, tile) in tiles.iter().enumerate().filter(|(_, tile)| ids.binary_search(&tile.as_str()).is_err()) {
                    let known = format!("a tile of the vehicle: {}", listed(ids.iter().take(10).copied()));
                    problems.at_key(format!("changes[{i}].tiles[{j}]"), format!("no tile is called {tile:?}"), known);
                }
            }
        }
        for (key, value) in &change.set {
            check_value(*key, value, &format!("changes[{i}].set.{}", key.column()), shield, problems);
        }
    }
}

/// What trips the boundary layer at each tile, m: the largest step or protruding filler found on it, else a tile's step as installed.
fn roughness<'a>(tiles: usize, findings: impl Iterator<Item = &'a Finding>) -> Vec<f64> {
    let mut found = vec![SMOOTH_ROUGHNESS_M; tiles];
    for finding in findings {
        let height_mm = match finding.kind.as_str() {
            "step" => finding.step_mm,
            "protruding-filler" => finding.protrusion_mm,
            _ => None,
        };
        for tile in [Some(finding.tile), finding.tile_2].into_iter().flatten() {
            if let (Some(height), Some(place)) = (height_mm, found.get_mut(tile)) {
                *place = place.max(height.abs() / 1000.0);
            }
        }
    }
    found
}

/// How far each tile stands proud of the one ahead of it, m: the largest positive step found, on the downstream tile.
fn steps<'a>(shield: &Shield, findings: impl Iterator<Item = &'a Finding>) -> Vec<f64> {
    let mut found = vec![0.0_f64; shield.tiles.len()];
    let aft = |tile: usize| shield.tiles.get(tile).map_or(0.0, |tile| tile.facet.centre.x);
    for finding in findings.filter(|finding| finding.kind == "step") {
        let (Some(step_mm), other) = (finding.step_mm, finding.tile_2) else { continue };
        let downstream = other.filter(|other| aft(*other) > aft(finding.tile)).unwrap_or(finding.tile);
        // A downstream tile that lies lower gets no relief, and the one ahead of it stands in no flow.
        if step_mm > 0.0
            && let Some(place) = found.get_mut(downstream)
        {
            *place = place.max(step_mm / 1000.0);
        }
    }
    found
}

/// The tiles after the changes, and their emissivities, each once.
fn effective_tiles(shield: &Shield, scenario: &Scenario, body: &Body) -> Result<(Vec<EffectiveTile>, Vec<Emissivity>), Error> {
    let mut problems = Problems::of("scenario");
    check_names(shield, scenario, &mut problems);
    if !problems.is_empty() {
        return Err(problems.into_error());
    }
    // Tiles by name once, then each change reaches its own.
    let mut names: Vec<(&str, usize)> = shield.tiles.iter().enumerate().map(|(i, tile)| (tile.id.as_str(), i)).collect();
    names.order();
    let mut drafts: Vec<Draft> = shield.tiles.iter().map(Draft::of).collect();
    for change in &scenario.changes {
        let reached: Vec<usize> = match &change.reach {
            Reach::Zone(zone) => shield.tiles.iter().enumerate().filter(|(_, tile)| tile.zone == *zone).map(|(i, _)| i).collect(),
            Reach::Tiles(tiles) => tiles
                .iter()
                .filter_map(|tile| names.binary_search_by(|(name, _)| (*name).cmp(tile.as_str())).ok())
                .filter_map(|at| names.get(at).map(|(_, i)| *i))
                .collect(),
        };
        for draft in reached {
            if let Some(draft) = drafts.get_mut(draft) {
                change.set.iter().for_each(|(key, value)| draft.set(*key, value, shield));
            }
        }
    }
    let findings = super::findings(shield, scenario)?;
    let roughness = roughness(drafts.len(), sites::standing(shield, &findings));
    let steps = steps(shield, sites::standing(shield, &findings));
    let mut emissivities = Emissivities::new(shield);
    let mut tiles = Vec::with_capacity(drafts.len());
    let hinges = controls::hinges(shield, &controls::zones(&scenario.entries));
    let rows = shield.tiles.iter().zip(&drafts).zip(&body.places).zip(roughness).zip(hinges).enumerate();
    for (index, ((((tile, draft), surveyed), roughness_m), hinge)) in rows {
        let library = |index: usize| shield.library.materials.get(index);
        let coating = draft.coating.and_then(library);
        let material = library(draft.material);
        let Some(emissivity) = emissivities.of(draft) else {
            problems.at_key(
                format!("tile {}", tile.id),
                "neither tile, coating nor material has an emissivity",
                "an emissivity in tiles.csv",
            );
            continue;
        };
        let catalycity = coating.map_or(1.0, |coating| {
            let named = scenario.heating.catalycity.iter().find(|(id, _)| id.eq_ignore_ascii_case(&coating.id));
            named.map_or(1.0, |(_, factor)| *factor)
        });
        let facet = Facet { nose_radius_m: draft.nose_radius_m, running_length_m: draft.running_length_m, ..tile.facet };
        let zone_factor =
            scenario.heating.zone_factor.get(&tile.zone).copied().unwrap_or(1.0) * scenario.inspection.accepted_scale(&tile.zone);
        tiles.push(EffectiveTile {
            material: draft.material,
            coating: draft.coating,
            stack: draft.stack,
            thickness_m: draft.thickness_m,
            density_kg_m3: draft.density_kg_m3,
            emissivity,
            solar_absorptance: draft
                .solar_absorptance
                .or(coating.and_then(|m| m.solar_absorptance))
                .or(material.and_then(|m| m.solar_absorptance)),
            local: Local {
                multiplier: scenario.heating.choices.scale * zone_factor * draft.heating_factor,
                catalycity,
                roughness_m,
                hinge,
                recombination: coating
                    .filter(|_| scenario.heating.choices.recombination)
                    .and_then(|coating| Rate::of(&coating.surface_recombination)),
                step_m: steps.get(index).copied().unwrap_or(0.0),
                ..local::as_surveyed(&facet, surveyed)
            },
        });
    }
    problems.or_ok((tiles, emissivities.list))
}

/// Emissivities, each once; a material's is made once.
struct Emissivities<'a> {
    shield: &'a Shield,
    list: Vec<Emissivity>,
    /// Index into `list` by material.
    by_material: Vec<Option<usize>>,
    /// Constant values and their index, in order of value.
    constants: Vec<(f64, usize)>,
}

impl<'a> Emissivities<'a> {
    fn new(shield: &'a Shield) -> Emissivities<'a> {
        Emissivities { shield, list: Vec::new(), by_material: vec![None; shield.library.materials.len()], constants: Vec::new() }
    }

    /// The tile's own, else its coating's, else its material's.
    fn of(&mut self, draft: &Draft) -> Option<usize> {
        if let Some(value) = draft.emissivity {
            return Some(match self.constants.binary_search_by(|(other, _)| other.partial_cmp(&value).unwrap_or(Ordering::Less)) {
                Ok(at) => self.constants.get(at).map_or(0, |(_, index)| *index),
                Err(at) => {
                    self.list.push(Emissivity::constant(value));
                    self.constants.insert(at, (value, self.list.len() - 1));
                    self.list.len() - 1
                }
            });
        }
        [draft.coating, Some(draft.material)].into_iter().flatten().find_map(|material| self.of_material(material))
    }

    fn of_material(&mut self, material: usize) -> Option<usize> {
        if let Some(Some(index)) = self.by_material.get(material) {
            return Some(*index);
        }
        let curve = self.shield.library.materials.get(material)?.emissivity.as_ref()?;
        self.list.push(Emissivity::from_curve(curve));
        let index = self.list.len() - 1;
        if let Some(place) = self.by_material.get_mut(material) {
            *place = Some(index);
        }
        Some(index)
    }
}
