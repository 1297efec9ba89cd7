//! Flown entries: thinned rows as streams, the walls' enthalpies, and moments on the body under the heating choices.

use crate::assess::controls;
use crate::document::Error;
use crate::flight::Trajectory;
use crate::flight::remarks::must_enter;
use crate::heating::points::Points;
use crate::heating::{Body, Facet, Moment, Stream, Transition};
use crate::scenario::{HeatingChoices, NamedEntry};
use crate::shield::Shield;
use crate::tile::equilibrium::WallEnthalpy;
use std::sync::Arc;

/// Rows of an entry that are kept, at most.
pub const SAMPLES: usize = 300;

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

/// Whether two lists hold the same flights in the same order: the same allocations.
pub(super) fn same_flights(a: &[Arc<Flight>], b: &[Arc<Flight>]) -> bool {
    a.len() == b.len() && a.iter().zip(b).all(|(a, b)| Arc::ptr_eq(a, b))
}

/// The altitude at which the first entry begins: the orbit's where the scenario names none.
pub(super) fn orbit_altitude_m(flights: &[Arc<Flight>]) -> f64 {
    flights.first().and_then(|flight| flight.trajectory.samples.first()).map_or(120_000.0, |sample| sample.altitude_m)
}

pub(super) fn flown(
    entry: &NamedEntry,
    body: &Body,
    points: Option<&Points>,
    heating: &HeatingChoices,
    zones: &[&str],
) -> Result<Arc<Flight>, Error> {
    let trajectory = entry.course.fly()?;
    must_enter(&entry.name, &entry.course, &trajectory)?;
    let kept = trajectory.thinned(SAMPLES).samples;
    let streams: Vec<Stream> =
        kept.iter().map(|sample| Stream::at(sample, trajectory.nose_radius_m).by(heating.choices.reference)).collect();
    let walls = streams.iter().map(|stream| WallEnthalpy::at_pressure(stream.stagnation_pressure_pa)).collect();
    let moments = moments(&streams, body, points, entry, heating, zones);
    Ok(Arc::new(Flight { name: entry.name.clone(), trajectory, streams, walls, moments }))
}

pub(super) fn moments(
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
pub(super) fn moment(
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
pub(super) fn survey_sideslip(body: &mut Body, facets: &[Facet], shield: &Shield, flights: &[Arc<Flight>]) -> bool {
    let slips = flights.iter().flat_map(|flight| &flight.streams).any(|stream| stream.sideslip_deg != 0.0);
    if !slips || !body.slipped[0].is_empty() {
        return false;
    }
    body.survey_sideslip(facets, |tile| shield.tiles.get(tile).map_or(&[], |tile| tile.neighbours.as_slice()));
    true
}
