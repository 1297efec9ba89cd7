//! Every tile in depth: glue line and structure over each entry, the descent and the soak-back, and what each term of the policy moves.
//!
//! One-dimensional through tile, bond, pad, bond and skin (`tile::batch`), the face heated as its place on the body is, in pores filled to
//! the tile's own surface pressure. The coating is no layer of its own: its heat capacity is left out, which is on the hot side.
//!
//! A tile's numbers depend on its own inputs alone: any slicing and any order of tiles gives the same bytes.

mod answer;
mod guess;
mod history;
mod posed;
#[cfg(test)]
mod tests;

use super::prepare::Prepared;
use crate::air::Atmosphere;
use crate::document::Error;
use crate::document::Sorting as _;
use crate::material::{Back, Library};
use crate::scenario::{Scenario, Term};
use crate::shield::Shield;
use crate::tile::batch::{Exchange, Landing, MaterialTable, Solved, TileLayer, TileProblem, WallTable};
use crate::tile::face::Face;
use std::cmp::Ordering;

pub use crate::tile::batch::{End, TilePeak};
use answer::entry_depth;
pub use answer::{EntryDepth, TileDepth};
pub use guess::{Powers, Stood, guesses};
pub use history::History;
use posed::Exposure;
pub use posed::{Near, Posed, peaks_k};

/// Points of the course of glue line and of structure that a solution keeps for its neighbours (`coupled`).
pub const COURSE: usize = 40;

/// The longest entry that is solved in depth, s.
pub const LONGEST_ENTRY_S: f64 = 1e6;

/// The models behind glue line and structure, as results carry them.
pub fn models() -> Vec<String> {
    [
        "in depth: one-dimensional conduction through tile, bonds, pad and skin, k(T, p) and cp(T), implicit and L-stable (TR-BDF2), two resolutions",
        "in depth: pores at the tile's own surface pressure, then the descent to ground pressure; hot-wall correction at the face",
        "in depth: the coating's heat capacity is left out; heat between tiles through the skin as a network, the higher structure peak counts",
    ]
    .map(str::to_string)
    .to_vec()
}

/// What does not depend on the scenario: every material of a vehicle as the solver reads it, and the air at the wall.
#[derive(Debug, Clone, Default)]
pub struct Tables {
    materials: Vec<MaterialTable>,
    wall: WallTable,
}

impl Tables {
    pub fn of(library: &Library) -> Tables {
        Tables { materials: library.materials.iter().map(MaterialTable::of).collect(), wall: WallTable::default() }
    }
}

/// What a run of a tile changes of the tile as it is: factors, and a thickness of its own.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Variation {
    pub heating: f64,
    pub emissivity: f64,
    /// Of the tile itself; what lies under it stays.
    pub conductivity: f64,
    pub specific_heat: f64,
    pub thickness: f64,
    /// On the starting temperatures in K.
    pub start: f64,
}

impl Default for Variation {
    fn default() -> Self {
        Variation { heating: 1.0, emissivity: 1.0, conductivity: 1.0, specific_heat: 1.0, thickness: 1.0, start: 1.0 }
    }
}

impl Variation {
    /// Too far from the tile as it is for the steps of that one.
    fn is_far(&self) -> bool {
        [self.heating, self.thickness].iter().any(|factor| !(0.5..=2.0).contains(factor))
    }

    /// Both at once.
    pub fn with(&self, other: &Variation) -> Variation {
        Variation {
            heating: self.heating * other.heating,
            emissivity: self.emissivity * other.emissivity,
            conductivity: self.conductivity * other.conductivity,
            specific_heat: self.specific_heat * other.specific_heat,
            thickness: self.thickness * other.thickness,
            start: self.start * other.start,
        }
    }

    /// A term of the policy at its own level, on the side that heats the structure: more heating, conductivity and start; less emissivity,
    /// specific heat and thickness.
    pub fn of(term: &Term) -> Variation {
        let (more, less) = (1.0 + term.fraction, (1.0 - term.fraction).max(0.01));
        let nominal = Variation::default();
        match term.name.as_str() {
            "heating" => Variation { heating: more, ..nominal },
            "emissivity" => Variation { emissivity: less, ..nominal },
            "conductivity" => Variation { conductivity: more, ..nominal },
            "specific-heat" => Variation { specific_heat: less, ..nominal },
            "thickness" => Variation { thickness: less, ..nominal },
            "start" => Variation { start: more, ..nominal },
            _ => nominal,
        }
    }
}

/// One run asked for: a tile over an entry as a variation has it.
#[derive(Debug, Clone, Copy)]
pub struct Case<'a> {
    pub tile: usize,
    pub variation: Variation,
    /// What the structure exchanges with the structure beside it.
    pub exchange: Option<Exchange<'a>>,
}

impl Case<'_> {
    pub fn nominal(tile: usize) -> Self {
        Case { tile, variation: Variation::default(), exchange: None }
    }
}

/// The rows of one entry that every tile shares.
struct Course {
    start_s: f64,
    /// From the first row on.
    times_s: Vec<f64>,
    course_s: Vec<f64>,
}

/// A shield under a scenario, ready to be solved in depth.
pub struct Setup<'a> {
    pub shield: &'a Shield,
    pub scenario: &'a Scenario,
    pub prepared: &'a Prepared,
    tables: &'a Tables,
    /// By stack.
    backs: Vec<Face>,
    courses: Vec<Course>,
    landing: Landing,
    variations: Vec<Variation>,
}

fn face(back: &Back) -> Face {
    match back {
        Back::Adiabatic => Face::Adiabatic,
        Back::Temperature { temperature_k } => Face::Temperature(temperature_k.clone()),
        Back::Convection { h_w_m2k, ambient_k } => Face::Convection { h_w_m2k: h_w_m2k.clone(), ambient_k: ambient_k.clone() },
        Back::Radiation { emissivity, surroundings_k } => Face::Radiation { emissivity: *emissivity, surroundings_k: *surroundings_k },
    }
}

impl<'a> Setup<'a> {
    /// # Errors
    /// An entry longer than [`LONGEST_ENTRY_S`], by its name.
    pub fn new(shield: &'a Shield, scenario: &'a Scenario, prepared: &'a Prepared, tables: &'a Tables) -> Result<Setup<'a>, Error> {
        let landing = &scenario.landing;
        let mut courses = Vec::new();
        for flight in &prepared.flights {
            let start_s = flight.streams.first().map_or(0.0, |stream| stream.time_s);
            let mut times_s: Vec<f64> = flight.streams.iter().map(|stream| stream.time_s - start_s).collect();
            let lasts_s = times_s.last().copied().unwrap_or_default();
            if lasts_s.is_nan() || lasts_s > LONGEST_ENTRY_S {
                return Err(Error::bad(
                    format!("entry {:?} lasts {lasts_s} s, too long to follow through a tile", flight.name),
                    format!("at most {LONGEST_ENTRY_S} s"),
                ));
            }
            // A single row stands for a moment.
            if times_s.len() < 2 {
                times_s = vec![0.0, 1e-3];
            }
            courses.push(Course { start_s, course_s: course_s(lasts_s, landing.descent_s, landing.limit_s), times_s });
        }
        Ok(Setup {
            shield,
            scenario,
            prepared,
            tables,
            backs: shield.stacks.iter().map(|stack| face(&stack.back)).collect(),
            courses,
            landing: Landing {
                descent_s: landing.descent_s,
                ground_pressure_pa: Atmosphere::Standard1976.at(landing.altitude_m).pressure_pa.unwrap_or(101_325.0),
                air_k: landing.air_k,
                h_w_m2k: landing.h_w_m2k,
                limit_s: landing.limit_s,
            },
            variations: scenario.policy.terms.iter().map(Variation::of).collect(),
        })
    }

    /// Times of [`EntryDepth::course_k`] from the entry's first row, s.
    pub fn course_s(&self, entry: usize) -> &[f64] {
        self.courses.get(entry).map_or(&[], |course| course.course_s.as_slice())
    }

    /// The time of an entry's first row, s.
    pub fn start_s(&self, entry: usize) -> f64 {
        self.courses.get(entry).map_or(0.0, |course| course.start_s)
    }

    /// Whether a tile has anything under it.
    pub fn has_stack(&self, tile: usize) -> bool {
        self.prepared.tiles.get(tile).is_some_and(|tile| tile.stack.is_some())
    }

    /// The tiles with everything that the policy asks, in the order given.
    pub fn solve(&self, tiles: &[usize]) -> Vec<TileDepth> {
        Posed::new(self, tiles).depths(tiles, &self.variations)
    }

    /// The tiles on the coarse resolution alone and without the policy's terms: an estimate, its error not known. `entries` are those to look
    /// at, a bit each, by tile; all where it is not given. The others are unknown ([`EntryDepth::unknown`]).
    pub fn estimate(&self, tiles: &[usize], entries: &[u32]) -> Vec<TileDepth> {
        let asked = |place: usize, entry: usize| {
            entries.get(place).is_none_or(|bits| bits.checked_shr(entry as u32).is_none_or(|bits| bits & 1 == 1))
        };
        Posed::new(self, tiles).estimates(tiles, asked)
    }

    /// Solves every case over an entry in full, as [`Posed::full`].
    pub fn run(&self, entry: usize, cases: &[Case]) -> Vec<Solved> {
        let tiles: Vec<usize> = cases.iter().map(|case| case.tile).collect();
        Posed::new(self, &tiles).full(entry, cases)
    }

    /// From the heated face inward; empty for a tile without a stack.
    fn layers(&self, case: &Case) -> Vec<TileLayer<'_>> {
        let Some(tile) = self.prepared.tiles.get(case.tile) else { return Vec::new() };
        let Some(stack) = tile.stack.and_then(|stack| self.shield.stacks.get(stack)) else { return Vec::new() };
        let layer = |material: usize, thickness_m: f64, density_kg_m3: f64, variation: &Variation| {
            let table = self.tables.materials.get(material)?;
            Some(TileLayer {
                table,
                thickness_m,
                density_kg_m3,
                conductivity_scale: variation.conductivity,
                specific_heat_scale: variation.specific_heat,
                contact_m2k_w: 0.0,
            })
        };
        let nominal = Variation::default();
        let own = layer(tile.material, tile.thickness_m * case.variation.thickness, tile.density_kg_m3, &case.variation);
        let under = stack.layers.iter().map(|under| {
            let material = self.shield.library.materials.get(under.material)?;
            layer(under.material, under.thickness_m, material.density_kg_m3, &nominal)
        });
        std::iter::once(own).chain(under).collect::<Option<Vec<_>>>().unwrap_or_default()
    }

    fn problem<'b>(
        &'b self,
        course: &'b Course,
        case: &Case<'b>,
        layers: &'b [TileLayer<'b>],
        exposure: &'b Exposure,
        scaled_w_m2: Option<&'b [f64]>,
    ) -> Option<TileProblem<'b>> {
        let tile = self.prepared.tiles.get(case.tile)?;
        let stack_index = tile.stack?;
        let stack = self.shield.stacks.get(stack_index)?;
        if layers.is_empty() {
            return None;
        }
        let (surface_k, structure_k) = self.prepared.start_of(case.tile);
        Some(TileProblem {
            layers,
            tile_layers: 1,
            structure: 1 + stack.structure,
            back: self.backs.get(stack_index)?,
            times_s: &course.times_s,
            cold_wall_w_m2: scaled_w_m2.unwrap_or(&exposure.cold_wall_w_m2),
            recovery_enthalpy_j_kg: &exposure.recovery_j_kg,
            pressure_pa: &exposure.pressure_pa,
            heating_scale: 1.0,
            emissivity: case.variation.emissivity,
            emissivity_over: Some(self.prepared.emissivities.get(tile.emissivity)?),
            surface_k: surface_k * case.variation.start,
            structure_k: structure_k * case.variation.start,
            landing: self.landing,
            exchange: case.exchange,
        })
    }

    /// Tiles with something under them, worst first by a rough measure of how near the structure comes to what it can take: how much hotter the
    /// face gets than the start, over what tile and stack can hold and the tile lets through. `surface_k` is by tile.
    pub fn order(&self, surface_k: &[f64]) -> Vec<usize> {
        let measure = |tile: usize| {
            let row = self.prepared.tiles.get(tile)?;
            let stack = self.shield.stacks.get(row.stack?)?;
            let held = |material: usize, mass: f64| {
                let material = self.shield.library.materials.get(material)?;
                Some(mass * material.specific_heat_j_kgk.value_at(400.0))
            };
            let under: f64 = stack
                .layers
                .iter()
                .filter_map(|layer| {
                    held(layer.material, self.shield.library.materials.get(layer.material)?.density_kg_m3 * layer.thickness_m)
                })
                .sum();
            let own = held(row.material, row.density_kg_m3 * row.thickness_m)?;
            let rise = surface_k.get(tile)? - self.prepared.start_of(tile).1;
            Some(rise / (row.thickness_m * (under + 0.5 * own)))
        };
        let mut order: Vec<(f64, usize)> =
            (0..self.prepared.tiles.len()).filter_map(|tile| measure(tile).map(|measure| (measure, tile))).collect();
        order.order_by(|a, b| b.0.partial_cmp(&a.0).unwrap_or(Ordering::Equal).then(a.1.cmp(&b.1)));
        order.into_iter().map(|(_, tile)| tile).collect()
    }
}

/// Even over the entry, then over the descent, then by a growing step over the soak.
fn course_s(entry_s: f64, descent_s: f64, limit_s: f64) -> Vec<f64> {
    const ENTRY: usize = 16;
    const DESCENT: usize = 4;
    let mut times: Vec<f64> = (0..ENTRY).map(|i| entry_s * i as f64 / ENTRY as f64).collect();
    times.extend((0..DESCENT).map(|i| entry_s + descent_s * i as f64 / DESCENT as f64));
    let soak = COURSE - ENTRY - DESCENT;
    // Growing by a fifth from step to step; the last point is the limit.
    let grown = |i: usize| libm::pow(1.2, i as f64) - 1.0;
    times.extend((0..soak).map(|i| entry_s + descent_s + limit_s * grown(i) / grown(soak - 1)));
    times
}
