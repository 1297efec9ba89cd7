//! The inputs in the order of the physics: each with its value, range, unit and source, and how setting it changes the scenario.
//!
//! Pure: the page draws them, the app sweeps them for the tracks, and a test reads them, all by the same two functions, `inputs`
//! and `with`. An id names an input for good (`heating.scale`, `surface.emissivity:rcg`); the part after the colon is a zone, a
//! coating or a term, as written.

use super::course::{self, Number, Plan};
use super::numbers::Quantity;
use crate::flight::Course;
use crate::heating::reference::Relation;
use crate::heating::{Measure, Roughness, Transition};
use crate::scenario::{Change, ChangeKey, ChangeValue, Combine, Limits, Reach, Scenario, Start, Term};
use crate::shield::{Shield, Tile};
use crate::tile::orbit::Exposure;

mod change;
mod list;
mod orbit;

pub use change::{effective_number, emissivities};

/// A step of the chain, in the order of the physics.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Step {
    Flight,
    Heating,
    Surface,
    Stack,
    Limits,
}

impl Step {
    pub const ALL: [Step; 5] = [Step::Flight, Step::Heating, Step::Surface, Step::Stack, Step::Limits];

    /// Lower case, as in the page's `data-step`.
    pub fn key(self) -> &'static str {
        match self {
            Step::Flight => "flight",
            Step::Heating => "heating",
            Step::Surface => "surface",
            Step::Stack => "stack",
            Step::Limits => "limits",
        }
    }
}

/// What an input holds.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// A number in SI units (angles in degrees), `None` where tiles differ.
    Number(Option<f64>),
    /// One of `options`, by index.
    Choice { chosen: usize, options: Vec<&'static str> },
}

/// One input.
#[derive(Debug, Clone, PartialEq)]
pub struct Input {
    pub id: String,
    pub step: Step,
    pub label: String,
    pub value: Value,
    pub quantity: Quantity,
    /// The slider's ends, SI.
    pub low: f64,
    pub high: f64,
    /// Where the value comes from: `scenario`, `library`, `tile table`, `nominal`, `policy`.
    pub source: String,
    /// Seen before the step is unfolded.
    pub lead: bool,
    /// Belongs to the picked tile alone: its track is that tile's margin.
    pub of_tile: bool,
    /// False where no engine answers to it yet; `note` says so.
    pub live: bool,
    pub note: String,
}

/// What the list is made from.
#[derive(Clone, Copy)]
pub struct Subject<'a> {
    pub shield: &'a Shield,
    pub scenario: &'a Scenario,
    /// Index of the entry shown.
    pub entry: usize,
    pub picked: Option<usize>,
}

/// All inputs, in the order of the chain; the lead ones of a step first.
pub fn inputs(subject: Subject) -> Vec<Input> {
    list::all(subject)
}

/// The values that an input can take at all, SI: what the document accepts, wider than the slider's range.
pub fn bounds(id: &str) -> (f64, f64) {
    match id.split_once(':').map_or(id, |(name, _)| name) {
        "entry.altitude_m" => (0.0, 1.0e6),
        "entry.speed_m_s" => (1.0, 20_000.0),
        "entry.flight_path_deg" | "entry.latitude_deg" | "entry.sideslip_deg" => (-90.0, 90.0),
        "entry.heading_deg" => (0.0, 360.0),
        "entry.attack" => (0.0, 90.0),
        "entry.bank" => (0.0, 180.0),
        "entry.mass_kg" => (1.0, 1.0e7),
        "entry.reference_area_m2" => (0.01, 1.0e5),
        "entry.nose_radius_m" => (0.001, 100.0),
        "entry.deflection" => (-90.0, 90.0),
        "entry.surface_density" => (1e-6, 1e3),
        "entry.scale_height_m" => (100.0, 1e5),
        "heating.scale" | "heating.zone_factor" | "heating.tile_factor" => (0.01, 100.0),
        "heating.lee_fraction" | "limits.term" | "start.albedo" => (0.0, 1.0),
        "start.planet_infrared_w_m2" => (0.0, 1.0e4),
        "start.hold_s" => (0.0, 1.0e7),
        "surface.catalycity" | "surface.emissivity" | "surface.emissivity_zone" => (0.01, 1.0),
        "heating.threshold" => (1e-3, 1.0e6),
        "stack.thickness" => (1e-4, 0.5),
        "stack.density" => (1.0, 20_000.0),
        "start.surface_k" | "start.structure_k" | "landing.air_k" => (1.0, 3000.0),
        "limits.flights" => (1.0, 1.0e4),
        "limits.level" => (0.0, 10.0),
        _ => (0.0, 1.0e5),
    }
}

/// The scenario with one number set (SI, angles in degrees); `None` for an unknown id or a value outside its `bounds`.
pub fn with(subject: Subject, id: &str, value: f64) -> Option<Scenario> {
    let (lowest, highest) = bounds(id);
    if !(value >= lowest && value <= highest) {
        return None;
    }
    let (name, of) = id.split_once(':').unwrap_or((id, ""));
    let mut scenario = subject.scenario.clone();
    let done = match name {
        "entry.altitude_m" => set_entry(&mut scenario, subject.entry, Number::Altitude, value),
        "entry.speed_m_s" => set_entry(&mut scenario, subject.entry, Number::Speed, value),
        "entry.flight_path_deg" => set_entry(&mut scenario, subject.entry, Number::FlightPath, value),
        "entry.heading_deg" => set_entry(&mut scenario, subject.entry, Number::Heading, value),
        "entry.latitude_deg" => set_entry(&mut scenario, subject.entry, Number::Latitude, value),
        "entry.mass_kg" => set_entry(&mut scenario, subject.entry, Number::Mass, value),
        "entry.reference_area_m2" => set_entry(&mut scenario, subject.entry, Number::ReferenceArea, value),
        "entry.nose_radius_m" => set_entry(&mut scenario, subject.entry, Number::NoseRadius, value),
        "entry.sideslip_deg" => set_entry(&mut scenario, subject.entry, Number::Sideslip, value),
        "entry.attack" => set_shift(&mut scenario, subject.entry, Plan::Attack, value),
        "entry.bank" => set_shift(&mut scenario, subject.entry, Plan::Bank, value),
        "entry.deflection" => of_entry(&mut scenario, subject.entry, |course| course::set_deflection(course, of, value)),
        "entry.surface_density" => of_entry(&mut scenario, subject.entry, |course| course::set_exponential(course, Some(value), None)),
        "entry.scale_height_m" => of_entry(&mut scenario, subject.entry, |course| course::set_exponential(course, None, Some(value))),
        "heating.scale" => {
            scenario.heating.choices.scale = value;
            true
        }
        "heating.lee_fraction" => {
            scenario.heating.choices.lee_fraction = value;
            true
        }
        "heating.transition_value" => set_transition(&mut scenario, value),
        "heating.threshold" => set_threshold(&mut scenario, of, value),
        "heating.zone_factor" => {
            match value == 1.0 {
                true => scenario.heating.zone_factor.remove(of),
                false => scenario.heating.zone_factor.insert(of.to_string(), value),
            };
            true
        }
        "surface.catalycity" => {
            match value == 1.0 {
                true => scenario.heating.catalycity.remove(of),
                false => scenario.heating.catalycity.insert(of.to_string(), value),
            };
            true
        }
        "surface.emissivity" => change::set_by_coating(subject.shield, &mut scenario, of, ChangeKey::Emissivity, value),
        "surface.emissivity_zone" => change::set_by_zone(&mut scenario, of, ChangeKey::Emissivity, value),
        "stack.thickness" => set_picked(subject, &mut scenario, ChangeKey::ThicknessMm, value * 1e3),
        "stack.density" => set_picked(subject, &mut scenario, ChangeKey::DensityKgM3, value),
        "heating.tile_factor" => set_picked(subject, &mut scenario, ChangeKey::HeatingFactor, value),
        "start.albedo" | "start.planet_infrared_w_m2" | "start.hold_s" => orbit::set(&mut scenario.start, name, value),
        "start.surface_k" => set_start(&mut scenario, Some(value), None),
        "start.structure_k" => set_start(&mut scenario, None, Some(value)),
        "landing.air_k" => {
            scenario.landing.air_k = value;
            true
        }
        "landing.h_w_m2k" => {
            scenario.landing.h_w_m2k = value;
            true
        }
        "limits.flights" => {
            scenario.policy.limits = Limits::Flights(libm::round(value));
            true
        }
        "limits.term" => set_term(&mut scenario, of, |term| term.fraction = value),
        "limits.level" => {
            for term in &mut scenario.policy.terms {
                term.level_sigma = value;
            }
            true
        }
        _ => false,
    };
    done.then_some(scenario)
}

/// The scenario with one choice made, by its index in the input's options.
pub fn choose(subject: Subject, id: &str, chosen: usize) -> Option<Scenario> {
    let mut scenario = subject.scenario.clone();
    match id {
        "start.kind" | "start.sun" | "start.planet" | "start.exposure" => {
            if !orbit::choose(&mut scenario.start, id, chosen) {
                return None;
            }
        }
        "heating.reference" => scenario.heating.choices.reference = *Relation::ALL.get(chosen)?,
        "heating.transition" => {
            let hottest = Transition::Time { time_s: 1000.0 };
            scenario.heating.choices.transition = match chosen {
                0 => Transition::None,
                1 => hottest,
                2 => Transition::Mach { mach: 10.0 },
                3 => Transition::MomentumThickness { limit: 300.0 },
                4 => Transition::Roughness { limit: 200.0, criterion: Roughness::Distributed },
                5 => Transition::Roughness { limit: 0.0, criterion: Roughness::Isolated },
                6 => Transition::Roughness { limit: 0.0, criterion: Roughness::Reynolds },
                _ => return None,
            };
        }
        "entry.atmosphere" => of_entry(&mut scenario, subject.entry, |course| course::choose_atmosphere(course, chosen)).then_some(())?,
        "limits.policy" => {
            scenario.policy.limits = match chosen {
                0 => Limits::Reuse,
                1 => Limits::SingleMission,
                2 => Limits::Flights(10.0),
                _ => return None,
            };
        }
        "limits.combine" => {
            scenario.policy.combine = match chosen {
                0 => Combine::RootSumSquare,
                1 => Combine::Sum,
                2 => Combine::Sampled,
                _ => return None,
            };
        }
        _ => return None,
    }
    Some(scenario)
}

fn of_entry(scenario: &mut Scenario, entry: usize, change: impl FnOnce(&mut Course) -> bool) -> bool {
    scenario.entries.get_mut(entry).is_some_and(|named| change(&mut named.course))
}

fn set_entry(scenario: &mut Scenario, entry: usize, which: Number, value: f64) -> bool {
    scenario.entries.get_mut(entry).is_some_and(|named| course::set_number(&mut named.course, which, value))
}

fn set_shift(scenario: &mut Scenario, entry: usize, which: Plan, largest_deg: f64) -> bool {
    let Some(named) = scenario.entries.get_mut(entry) else {
        return false;
    };
    let Some(moved) = course::plan(&named.course, which).map(|curve| course::shifted(curve, largest_deg)) else {
        return false;
    };
    course::set_plan(&mut named.course, which, moved)
}

/// Sets a row of what trips the boundary layer; a limit of the kind's own that stood before the row gives way to it.
fn set_threshold(scenario: &mut Scenario, word: &str, value: f64) -> bool {
    let Some(measure) = Measure::from_word(word).filter(|measure| value <= measure.most()) else { return false };
    let choices = &mut scenario.heating.choices;
    choices.thresholds.set(measure, value);
    if let (Measure::SmoothBody | Measure::RoughnessReynolds, Transition::Roughness { limit, criterion }) =
        (measure, &mut choices.transition)
        && *criterion != Roughness::Distributed
    {
        *limit = 0.0;
    }
    true
}

fn set_transition(scenario: &mut Scenario, value: f64) -> bool {
    let transition = &mut scenario.heating.choices.transition;
    *transition = match *transition {
        Transition::None => return false,
        Transition::Time { .. } => Transition::Time { time_s: value },
        Transition::Mach { .. } => Transition::Mach { mach: value },
        Transition::MomentumThickness { .. } => Transition::MomentumThickness { limit: value },
        Transition::Roughness { criterion, .. } => Transition::Roughness { limit: value, criterion },
    };
    true
}

fn set_start(scenario: &mut Scenario, surface: Option<f64>, structure: Option<f64>) -> bool {
    match &mut scenario.start {
        Start::Temperature { surface_k, structure_k } => {
            *surface_k = surface.unwrap_or(*surface_k);
            *structure_k = structure.unwrap_or(*structure_k);
            true
        }
        Start::Orbit { structure_k, .. } => {
            *structure_k = structure.or(*structure_k);
            structure.is_some()
        }
    }
}

fn set_picked(subject: Subject, scenario: &mut Scenario, key: ChangeKey, value: f64) -> bool {
    subject.picked.and_then(|index| subject.shield.tiles.get(index)).is_some_and(|tile| {
        change::set(scenario, Reach::Tiles(vec![tile.id.clone()]), key, ChangeValue::Number(value));
        true
    })
}

/// Edits the named term; a term of no size is taken out, a new one stands at 3 σ.
fn set_term(scenario: &mut Scenario, name: &str, edit: impl FnOnce(&mut Term)) -> bool {
    if name.is_empty() {
        return false;
    }
    let terms = &mut scenario.policy.terms;
    let index = match terms.iter().position(|term| term.name == name) {
        Some(index) => index,
        None => {
            terms.push(Term { name: name.to_string(), fraction: 0.0, level_sigma: 3.0 });
            terms.len() - 1
        }
    };
    if let Some(term) = terms.get_mut(index) {
        edit(term);
    }
    terms.retain(|term| term.fraction > 0.0);
    true
}

#[cfg(test)]
mod tests;
