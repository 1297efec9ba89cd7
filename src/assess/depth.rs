//! Every tile in depth: glue line and structure over each entry, the descent and the soak-back, and what each term of the policy moves.
//!
//! One-dimensional through tile, bond, pad, bond and skin (`tile::batch`), the face heated as its place on the body is, in pores filled to
//! the tile's own surface pressure. The coating is no layer of its own: its heat capacity is left out, which is on the hot side.
//!
//! A tile's numbers depend on its own inputs alone: any slicing and any order of tiles gives the same bytes.

use super::prepare::Prepared;
use crate::air::Atmosphere;
use crate::document::Error;
use crate::document::Sorting as _;
use crate::heating::local::LANES;
use crate::material::{Back, Library};
use crate::scenario::{Scenario, Term};
use crate::shield::Shield;
use crate::tile::batch::{self, Exchange, Landing, MaterialTable, TileLayer, TileProblem, WallTable};
use crate::tile::face::Face;
use std::cmp::Ordering;

pub use crate::tile::batch::{End, TilePeak};

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

/// One tile over one entry. Times in s from entry interface, temperatures in K.
#[derive(Debug, Clone, PartialEq)]
pub struct EntryDepth {
    /// The face in the transient: a little below the equilibrium, which stores nothing.
    pub face: TilePeak,
    pub bondline: TilePeak,
    pub structure: TilePeak,
    pub structure_at_touchdown_k: f64,
    pub touchdown_s: f64,
    pub end_s: f64,
    /// The worst end of the nominal run and those of the terms.
    pub end: End,
    /// The solver's own estimate over the nominal peaks, K.
    pub numerical_error_k: f64,
    pub imbalance_fraction: f64,
    /// Peaks of face, bondline and structure with each of the policy's terms; empty in a nominal solution.
    pub terms: Vec<[f64; 3]>,
    /// Glue line and structure at [`Setup::course_s`], held from the end of the run on.
    pub course_k: [Vec<f64>; 2],
}

/// One tile's answer in depth, an entry each; no entries for a tile without a stack.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TileDepth {
    pub entries: Vec<EntryDepth>,
}

const PLAIN: usize = 12;
const COURSES: usize = 2 * COURSE;
const ENDS: [End; 4] = [End::Peaked, End::Steady, End::Limit, End::Failed];

impl TileDepth {
    /// Numbers of a tile's answer on the way between workers: one, then each entry's.
    pub fn length(entries: usize, terms: usize) -> usize {
        1 + entries * (PLAIN + 3 * terms + COURSES)
    }

    /// The answer as [`TileDepth::length`] numbers, NaN where a tile has no stack. `entries` and `terms` are the scenario's.
    pub fn to_floats(&self, entries: usize, terms: usize) -> Vec<f64> {
        let mut out = Vec::with_capacity(TileDepth::length(entries, terms));
        out.push(self.entries.len() as f64);
        for entry in &self.entries {
            let peaks = [entry.face, entry.bondline, entry.structure].into_iter().flat_map(|peak| [peak.temperature_k, peak.time_s]);
            out.extend(peaks);
            out.extend([entry.structure_at_touchdown_k, entry.touchdown_s, entry.end_s]);
            out.push(ENDS.iter().position(|end| *end == entry.end).unwrap_or(ENDS.len()) as f64);
            out.extend([entry.numerical_error_k, entry.imbalance_fraction]);
            out.extend((0..terms).flat_map(|term| entry.terms.get(term).copied().unwrap_or([f64::NAN; 3])));
            for course_k in &entry.course_k {
                out.extend((0..COURSE).map(|i| course_k.get(i).copied().unwrap_or(f64::NAN)));
            }
        }
        out.resize(TileDepth::length(entries, terms), f64::NAN);
        out
    }

    /// The inverse of [`TileDepth::to_floats`]; `None` where the numbers are too few or no such answer.
    pub fn from_floats(numbers: &[f64], terms: usize) -> Option<TileDepth> {
        let (count, rest) = numbers.split_first()?;
        let width = PLAIN + 3 * terms + COURSES;
        let entries = (rest.chunks_exact(width)).take(*count as usize).map(|numbers| {
            let (plain, rest) = numbers.split_at_checked(PLAIN)?;
            let (by_term, course) = rest.split_at_checked(3 * terms)?;
            let (bondline, structure) = course.split_at_checked(COURSE)?;
            let peak = |i: usize| Some(TilePeak { temperature_k: *plain.get(i)?, time_s: *plain.get(i + 1)? });
            let [.., touchdown_k, touchdown_s, end_s, end, numerical_error_k, imbalance_fraction] = *plain else { return None };
            let mut shifted = by_term.chunks_exact(3).map(|three| [three[0], three[1], three[2]]).collect::<Vec<_>>();
            if shifted.iter().any(|three| three[0].is_nan()) {
                shifted.clear();
            }
            Some(EntryDepth {
                face: peak(0)?,
                bondline: peak(2)?,
                structure: peak(4)?,
                structure_at_touchdown_k: touchdown_k,
                touchdown_s,
                end_s,
                end: *ENDS.get(end as usize)?,
                numerical_error_k,
                imbalance_fraction,
                terms: shifted,
                course_k: [bondline.to_vec(), structure.to_vec()],
            })
        });
        let entries = entries.collect::<Option<Vec<_>>>()?;
        (entries.len() == *count as usize).then_some(TileDepth { entries })
    }

    /// Why the tile has no valid answer; `None` where it has one, or no stack.
    pub fn failure(&self) -> Option<End> {
        let worst = self.entries.iter().map(|entry| entry.end).max_by_key(|end| ENDS.iter().position(|known| known == end));
        worst.filter(|end| matches!(end, End::Limit | End::Failed))
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

/// One tile's heating over the rows of an entry.
#[derive(Debug, Clone, Default)]
struct Exposure {
    cold_wall_w_m2: Vec<f64>,
    recovery_j_kg: Vec<f64>,
    pressure_pa: Vec<f64>,
    /// Fourth power of the heating without the cap of half rho V^3, over that of the cap.
    capped_4: Vec<f64>,
}

impl Exposure {
    /// The cold-wall heating with the tile's own multiplied by `factor`, still below its cap; `None` for a factor of 1.
    fn times(&self, factor: f64) -> Option<Vec<f64>> {
        let fourth = factor * factor * factor * factor;
        let scaled = |(cold, capped): (&f64, &f64)| cold * factor * ((1.0 + capped) / (1.0 + capped * fourth)).sqrt().sqrt();
        (factor != 1.0).then(|| self.cold_wall_w_m2.iter().zip(&self.capped_4).map(scaled).collect())
    }
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
        self.solved(tiles, &self.variations)
    }

    /// The tiles without the policy's terms: what a first look takes.
    pub fn nominal(&self, tiles: &[usize]) -> Vec<TileDepth> {
        self.solved(tiles, &[])
    }

    fn solved(&self, tiles: &[usize], variations: &[Variation]) -> Vec<TileDepth> {
        let mut out = vec![TileDepth::default(); tiles.len()];
        let stacked: Vec<usize> = (0..tiles.len()).filter(|i| tiles.get(*i).is_some_and(|tile| self.has_stack(*tile))).collect();
        let mut cases = Vec::with_capacity(stacked.len() * (1 + variations.len()));
        for place in &stacked {
            let Some(tile) = tiles.get(*place) else { continue };
            cases.push(Case::nominal(*tile));
            cases.extend(variations.iter().map(|variation| Case { variation: *variation, ..Case::nominal(*tile) }));
        }
        for (entry, course) in self.courses.iter().enumerate() {
            let solved = self.run(entry, &cases);
            for (place, runs) in stacked.iter().zip(solved.chunks_exact(1 + variations.len())) {
                if let (Some(out), Some(((nominal, course_k), terms))) = (out.get_mut(*place), runs.split_first()) {
                    out.entries.push(entry_depth(nominal, course_k, terms, course.start_s));
                }
            }
        }
        out
    }

    /// Solves every case over an entry, each with the course of glue line and structure at [`Setup::course_s`]; a tile without a stack fails.
    pub fn run(&self, entry: usize, cases: &[Case]) -> Vec<(batch::TileResult, [Vec<f64>; 2])> {
        let failed = (
            batch::TileResult { end: End::Failed, numerical_error_k: f64::INFINITY, ..batch::TileResult::default() },
            [vec![f64::NAN; COURSE], vec![f64::NAN; COURSE]],
        );
        let Some(course) = self.courses.get(entry) else { return vec![failed; cases.len()] };
        let tiles: Vec<usize> = cases.iter().map(|case| case.tile).collect();
        let exposed = self.exposures(entry, &tiles);
        let layers: Vec<Vec<TileLayer>> = cases.iter().map(|case| self.layers(case)).collect();
        let exposure = |case: &Case| exposed.get(exposed.binary_search_by_key(&case.tile, |(tile, _)| *tile).ok()?).map(|found| &found.1);
        let scaled: Vec<Option<Vec<f64>>> = cases.iter().map(|case| exposure(case)?.times(case.variation.heating)).collect();
        let problems: Vec<Option<TileProblem>> = cases
            .iter()
            .zip(layers.iter().zip(&scaled))
            .map(|(case, (layers, scaled))| self.problem(course, case, layers, exposure(case)?, scaled.as_deref()))
            .collect();
        let known: Vec<TileProblem> = problems.iter().flatten().copied().collect();
        let mut solved = batch::solve_traced(&known, &self.tables.wall, &course.course_s).into_iter();
        problems
            .iter()
            .map(|problem| if problem.is_some() { solved.next() } else { None })
            .map(|got| got.unwrap_or_else(|| failed.clone()))
            .collect()
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

    /// The heating of each asked tile over the rows of an entry, by rising tile, each once.
    fn exposures(&self, entry: usize, tiles: &[usize]) -> Vec<(usize, Exposure)> {
        let mut wanted: Vec<usize> = tiles.to_vec();
        wanted.order();
        wanted.dedup();
        let mut out: Vec<(usize, Exposure)> = wanted.iter().map(|tile| (*tile, Exposure::default())).collect();
        let Some(flight) = self.prepared.flights.get(entry) else { return out };
        for group in out.chunk_by_mut(|a, b| a.0 / LANES == b.0 / LANES) {
            let Some(first) = group.first().map(|(tile, _)| tile / LANES) else { continue };
            for moment in &flight.moments {
                let Some(heating) = self.prepared.surface.heating(first, moment) else { continue };
                let values =
                    [heating.cold_wall_w_m2, heating.recovery_j_kg, heating.pressure_pa, heating.uncapped_4].map(|lanes| lanes.to_array());
                for (tile, exposure) in group.iter_mut() {
                    let [cold, recovery, pressure, uncapped] = values.map(|lanes| lanes.get(*tile % LANES).copied().unwrap_or_default());
                    exposure.cold_wall_w_m2.push(cold.max(0.0));
                    exposure.recovery_j_kg.push(recovery.max(1.0));
                    exposure.pressure_pa.push(pressure);
                    exposure.capped_4.push(if uncapped > 0.0 { (1.0 / uncapped - 1.0).max(0.0) } else { 0.0 });
                }
            }
            // A single row stands for a moment.
            for (_, exposure) in group.iter_mut().filter(|(_, exposure)| exposure.pressure_pa.len() == 1) {
                for list in [&mut exposure.cold_wall_w_m2, &mut exposure.recovery_j_kg, &mut exposure.pressure_pa, &mut exposure.capped_4] {
                    list.extend_from_within(..);
                }
            }
        }
        out
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

    /// A tile's whole story over an entry; `None` for a tile without a stack.
    pub fn history(&self, entry: usize, tile: usize) -> Option<History> {
        let course = self.courses.get(entry)?;
        let case = Case::nominal(tile);
        let layers = self.layers(&case);
        let exposed = self.exposures(entry, &[tile]);
        let problem = self.problem(course, &case, &layers, &exposed.first()?.1, None)?;
        let (result, story) = batch::solve_with_history(&problem, &self.tables.wall);
        Some(History {
            times_s: story.times_s.iter().map(|time_s| time_s + course.start_s).collect(),
            depths_m: story.depths_m,
            profiles_k: story.profiles_k,
            bondline_node: story.bondline_node,
            structure_node: story.structure_node,
            touchdown_s: result.touchdown_s + course.start_s,
            end: result.end,
            numerical_error_k: result.numerical_error_k,
        })
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

fn entry_depth(
    nominal: &batch::TileResult,
    course_k: &[Vec<f64>; 2],
    terms: &[(batch::TileResult, [Vec<f64>; 2])],
    start_s: f64,
) -> EntryDepth {
    let shifted = |peak: TilePeak| TilePeak { temperature_k: peak.temperature_k, time_s: peak.time_s + start_s };
    let rank = |end: &End| ENDS.iter().position(|known| known == end);
    EntryDepth {
        face: shifted(nominal.surface),
        bondline: shifted(nominal.bondline),
        structure: shifted(nominal.structure),
        structure_at_touchdown_k: nominal.structure_at_touchdown_k,
        touchdown_s: nominal.touchdown_s + start_s,
        end_s: nominal.end_s + start_s,
        end: std::iter::once(nominal.end).chain(terms.iter().map(|(term, _)| term.end)).max_by_key(rank).unwrap_or_default(),
        numerical_error_k: nominal.numerical_error_k,
        imbalance_fraction: nominal.imbalance_fraction,
        terms: terms.iter().map(|(term, _)| [term.surface, term.bondline, term.structure].map(|peak| peak.temperature_k)).collect(),
        course_k: course_k.clone(),
    }
}

/// A tile's temperatures over time, from entry interface to the end of its soak-back.
#[derive(Debug, Clone, PartialEq)]
pub struct History {
    pub times_s: Vec<f64>,
    /// Depth of each node from the heated face.
    pub depths_m: Vec<f64>,
    /// By time, then by node.
    pub profiles_k: Vec<Vec<f64>>,
    pub bondline_node: usize,
    pub structure_node: usize,
    pub touchdown_s: f64,
    pub end: End,
    pub numerical_error_k: f64,
}

impl History {
    /// One node over time.
    pub fn node_k(&self, node: usize) -> Vec<f64> {
        self.profiles_k.iter().map(|profile| profile.get(node).copied().unwrap_or(f64::NAN)).collect()
    }

    pub fn face_k(&self) -> Vec<f64> {
        self.node_k(0)
    }

    pub fn bondline_k(&self) -> Vec<f64> {
        self.node_k(self.bondline_node)
    }

    pub fn structure_k(&self) -> Vec<f64> {
        self.node_k(self.structure_node)
    }

    /// The temperature at any depth over time, linear between nodes.
    pub fn at_depth_k(&self, depth_m: f64) -> Vec<f64> {
        let above = self.depths_m.partition_point(|depth| *depth <= depth_m).clamp(1, self.depths_m.len().max(2) - 1);
        let (from, to) = (self.depths_m.get(above - 1).copied().unwrap_or(0.0), self.depths_m.get(above).copied().unwrap_or(0.0));
        let share = if to > from { ((depth_m - from) / (to - from)).clamp(0.0, 1.0) } else { 0.0 };
        let mix = |(low, high): (f64, f64)| low + share * (high - low);
        self.node_k(above - 1).into_iter().zip(self.node_k(above)).map(mix).collect()
    }

    /// The profile through the thickness at any time, linear between steps, held outside.
    pub fn profile_k(&self, time_s: f64) -> Vec<f64> {
        let after = self.times_s.partition_point(|at| *at <= time_s);
        let before = after.saturating_sub(1);
        let after = after.min(self.times_s.len().saturating_sub(1));
        let (Some(low), Some(high)) = (self.profiles_k.get(before), self.profiles_k.get(after)) else { return Vec::new() };
        let (from, to) = (self.times_s.get(before).copied().unwrap_or(0.0), self.times_s.get(after).copied().unwrap_or(0.0));
        let share = if to > from { ((time_s - from) / (to - from)).clamp(0.0, 1.0) } else { 0.0 };
        low.iter().zip(high).map(|(low, high)| low + share * (high - low)).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shield::{demo, load};

    #[test]
    fn verif_slicing_order_and_transport_keep_every_bit() {
        let shield = load(&demo::files(), demo::NAME).unwrap();
        let mut scenario = Scenario::read("scenario.json", &demo::scenario_json(), &[]).unwrap();
        scenario.policy.terms = vec![Term { name: "conductivity".to_string(), fraction: 0.2, level_sigma: 3.0 }];
        scenario.entries.truncate(2);
        let prepared = Prepared::new(&shield, &scenario).unwrap();
        let tables = Tables::of(&shield.library);
        let setup = Setup::new(&shield, &scenario, &prepared, &tables).unwrap();
        // A nose tile without a stack, and tiles all over.
        let tiles: Vec<usize> = (0..shield.tiles.len()).step_by(271).collect();
        let whole = setup.solve(&tiles);
        assert!(whole[0].entries.is_empty() && whole[4].entries.len() == 2);
        for (i, tile) in tiles.iter().enumerate() {
            let alone = &setup.solve(&[*tile])[0];
            let (a, b) = (alone.to_floats(2, 1), whole[i].to_floats(2, 1));
            assert_eq!(a.len(), TileDepth::length(2, 1));
            assert_eq!(a.iter().map(|v| v.to_bits()).collect::<Vec<_>>(), b.iter().map(|v| v.to_bits()).collect::<Vec<_>>());
            assert_eq!(TileDepth::from_floats(&a, 1).as_ref(), Some(alone));
            assert_eq!(TileDepth::from_floats(&setup.nominal(&[*tile])[0].to_floats(2, 1), 1), Some(setup.nominal(&[*tile]).remove(0)));
            if let Some(story) = setup.history(0, *tile) {
                let hottest = story.structure_k().into_iter().fold(0.0, f64::max);
                let peak = alone.entries[0].structure;
                // The story is of the fine resolution, the peak extrapolated.
                assert!((hottest - peak.temperature_k).abs() < alone.entries[0].numerical_error_k + 0.3, "{hottest} {peak:?}");
                assert_eq!(story.profile_k(0.0), story.profiles_k[0]);
                assert_eq!(story.at_depth_k(0.0), story.face_k());
            }
            if alone.entries.len() == 2 {
                assert!(alone.entries[0].terms[0][1] > alone.entries[0].bondline.temperature_k);
            }
        }
        let mut backward = tiles.clone();
        backward.reverse();
        let mut turned = setup.solve(&backward);
        turned.reverse();
        assert_eq!(turned, whole);
        let surface_k: Vec<f64> =
            crate::assess::surface::peaks(&prepared, 0, 0..shield.tiles.len()).iter().map(|peak| peak.peak_k).collect();
        let order = setup.order(&surface_k);
        assert_eq!(order.len(), prepared.tiles.iter().filter(|tile| tile.stack.is_some()).count());
    }

    /// The pores of a windward tile hold its surface pressure; with that of the air around them the glue line would come out much cooler.
    #[test]
    fn val_surface_pressure_counts_on_a_windward_tile() {
        let shield = load(&demo::files(), demo::NAME).unwrap();
        let scenario = Scenario::read("scenario.json", &demo::scenario_json(), &[]).unwrap();
        let prepared = Prepared::new(&shield, &scenario).unwrap();
        let tables = Tables::of(&shield.library);
        let setup = Setup::new(&shield, &scenario, &prepared, &tables).unwrap();
        let tile = (0..shield.tiles.len()).find(|tile| shield.tiles[*tile].zone == "belly centre" && setup.has_stack(*tile)).unwrap();
        let case = Case::nominal(tile);
        let layers = setup.layers(&case);
        let exposed = setup.exposures(0, &[tile]);
        let problem = setup.problem(&setup.courses[0], &case, &layers, &exposed[0].1, None).unwrap();
        let ambient: Vec<f64> = prepared.flights[0].streams.iter().map(|stream| stream.pressure_pa).collect();
        let thin = TileProblem { pressure_pa: &ambient, ..problem };
        let results = batch::solve(&[problem, thin], &tables.wall);
        let gap = results[0].bondline.temperature_k - results[1].bondline.temperature_k;
        println!("windward glue line: {:.1} K, with ambient pressure {gap:.1} K less", results[0].bondline.temperature_k);
        assert!((20.0..90.0).contains(&gap), "{gap}");
        // Before descent the pressure is that of the tile, after it the ground's.
        let most = problem.pressure_pa.iter().zip(&ambient).map(|(own, free)| own / free).fold(0.0, f64::max);
        assert!(most > 50.0, "{most}");
    }
}
