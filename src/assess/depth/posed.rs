//! Tiles with their heating at hand, for as many runs as are asked of them.
//!
//! | run | what it is |
//! | --- | --- |
//! | full | both resolutions, with its stated error |
//! | rough | the coarse one alone, a fifth of the work |
//! | beside | a variation of a tile that is solved: that solution, and what the coarse resolution says the variation moves |

use super::{COURSE, Case, End, EntryDepth, Setup, TileDepth, entry_depth};
use crate::document::Sorting as _;
use crate::heating::local::LANES;
use crate::tile::batch::{self, Path, Solved, TileLayer, TileProblem};
use std::cell::OnceCell;

/// One tile's heating over the rows of an entry.
#[derive(Debug, Clone, Default)]
pub(super) struct Exposure {
    pub cold_wall_w_m2: Vec<f64>,
    pub recovery_j_kg: Vec<f64>,
    pub pressure_pa: Vec<f64>,
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

/// Below this rise of the coarse run, K, a correction is added and not multiplied.
const LEAST_RISE_K: f64 = 5.0;

/// A solution that stands, with the coarse run that variations are held against.
pub struct Near {
    path: Path,
    /// Of face, glue line and structure: as it stands, and where each starts.
    stands_k: [f64; 3],
    start_k: [f64; 3],
}

impl Near {
    /// What a coarse run beside this one stands for: its rise in proportion to what the two resolutions made of this one's.
    fn corrected_k(&self, rough_k: [f64; 3]) -> [f64; 3] {
        [0, 1, 2].map(|layer| {
            let (start, own, stands) = (self.start_k[layer], self.path.peaks_k[layer], self.stands_k[layer]);
            if own - start > LEAST_RISE_K {
                start + (rough_k[layer] - start) * (stands - start) / (own - start)
            } else {
                rough_k[layer] + stands - own
            }
        })
    }
}

/// Some tiles of a [`Setup`], their heating worked out once an entry, when first asked.
pub struct Posed<'s, 'a> {
    setup: &'s Setup<'a>,
    /// Rising, each once.
    tiles: Vec<usize>,
    exposed: Vec<OnceCell<Vec<(usize, Exposure)>>>,
}

impl<'s, 'a> Posed<'s, 'a> {
    pub fn new(setup: &'s Setup<'a>, tiles: &[usize]) -> Posed<'s, 'a> {
        let mut tiles = tiles.to_vec();
        tiles.order();
        tiles.dedup();
        Posed { setup, tiles, exposed: vec![OnceCell::new(); setup.courses.len()] }
    }

    /// Solves every case over an entry, each with the course of glue line and structure at [`Setup::course_s`]; a tile without a stack fails.
    pub fn full(&self, entry: usize, cases: &[Case]) -> Vec<Solved> {
        let course_s = self.setup.course_s(entry);
        self.posed(entry, cases, |problems| batch::solve_traced(problems, &self.setup.tables.wall, course_s))
    }

    /// The same on the coarse resolution alone: an estimate.
    pub fn rough(&self, entry: usize, cases: &[Case]) -> Vec<Solved> {
        let course_s = self.setup.course_s(entry);
        self.posed(entry, cases, |problems| batch::solve_rough(problems, &[], &self.setup.tables.wall, course_s))
    }

    /// What variations of each case are held against: `stands` are the peaks of its full solution. `None` where the coarse run failed.
    pub fn near(&self, entry: usize, cases: &[Case], stands_k: &[[f64; 3]]) -> Vec<Option<Near>> {
        let rough = self.posed(entry, cases, |problems| batch::solve_rough(problems, &[], &self.setup.tables.wall, &[]));
        let nears = cases.iter().zip(rough).zip(stands_k).map(|((case, solved), stands_k)| self.near_of(case, solved.path, *stands_k));
        nears.collect()
    }

    pub fn near_of(&self, case: &Case, path: Path, stands_k: [f64; 3]) -> Option<Near> {
        let (surface_k, structure_k) = self.setup.prepared.start_of(case.tile);
        let start_k = [surface_k, structure_k, structure_k].map(|start_k| start_k * case.variation.start);
        (path.end != End::Failed).then_some(Near { path, stands_k, start_k })
    }

    /// Peaks of face, glue line and structure of each case beside a solution of its tile that stands, with how the run ended; a case
    /// without one, or whose run beside it fails, is solved in full.
    pub fn beside(&self, entry: usize, cases: &[(Case, Option<&Near>)]) -> Vec<([f64; 3], End)> {
        let mut out = vec![([f64::NAN; 3], End::Failed); cases.len()];
        let asked: Vec<(usize, &Case, &Near)> =
            cases.iter().enumerate().filter_map(|(place, (case, near))| Some((place, case, (*near)?))).collect();
        let alike: Vec<Case> = asked.iter().map(|(_, case, _)| **case).collect();
        let own = Path::default();
        let paths: Vec<&Path> = asked.iter().map(|(_, case, near)| if case.variation.is_far() { &own } else { &near.path }).collect();
        let rough = self.posed(entry, &alike, |problems| {
            // Every case beside a solution is a problem: its tile has a stack.
            batch::solve_rough(problems, &paths, &self.setup.tables.wall, &[])
        });
        for ((place, _, near), solved) in asked.iter().zip(rough) {
            out[*place] = (near.corrected_k(solved.path.peaks_k), solved.path.end);
        }
        let failed: Vec<usize> = (0..cases.len()).filter(|place| out[*place].1 == End::Failed).collect();
        let again: Vec<Case> = failed.iter().map(|place| cases[*place].0).collect();
        for (place, solved) in failed.iter().zip(self.full(entry, &again)) {
            out[*place] = (peaks_k(&solved), solved.result.end);
        }
        out
    }

    /// Each tile over every entry with variations of it.
    pub fn depths(&self, tiles: &[usize], variations: &[super::Variation]) -> Vec<TileDepth> {
        self.each(
            tiles,
            |_, _| true,
            |entry, cases| {
                let solved = self.full(entry, cases);
                let terms = self.varied(entry, cases, &solved, variations);
                (solved, terms)
            },
        )
    }

    /// Each tile on the coarse resolution over the entries asked for it.
    pub fn estimates(&self, tiles: &[usize], asked: impl Fn(usize, usize) -> bool) -> Vec<TileDepth> {
        self.each(tiles, asked, |entry, cases| (self.rough(entry, cases), Vec::new()))
    }

    /// `asked` takes the place among `tiles` and the entry; `solve` gives the solutions of some cases, and those of their terms, case by case.
    fn each(
        &self,
        tiles: &[usize],
        asked: impl Fn(usize, usize) -> bool,
        solve: impl Fn(usize, &[Case]) -> (Vec<Solved>, Vec<([f64; 3], End)>),
    ) -> Vec<TileDepth> {
        let mut out = vec![TileDepth::default(); tiles.len()];
        let stacked: Vec<usize> = (0..tiles.len()).filter(|i| tiles.get(*i).is_some_and(|tile| self.setup.has_stack(*tile))).collect();
        for (entry, course) in self.setup.courses.iter().enumerate() {
            let (here, elsewhere): (Vec<usize>, Vec<usize>) = stacked.iter().partition(|place| asked(**place, entry));
            let cases: Vec<Case> = here.iter().filter_map(|place| tiles.get(*place)).map(|tile| Case::nominal(*tile)).collect();
            let (solved, terms) = solve(entry, &cases);
            let each = terms.len() / cases.len().max(1);
            for (i, (place, solved)) in here.iter().zip(&solved).enumerate() {
                let terms = terms.get(i * each..(i + 1) * each).unwrap_or_default();
                out[*place].entries.push(entry_depth(solved, terms, course.start_s));
            }
            for place in elsewhere {
                out[place].entries.push(EntryDepth::unknown());
            }
        }
        out
    }

    /// Every variation of every case beside its full solution, case by case.
    pub fn varied(&self, entry: usize, cases: &[Case], solved: &[Solved], variations: &[super::Variation]) -> Vec<([f64; 3], End)> {
        let nears: Vec<Option<Near>> = match variations {
            [] => Vec::new(),
            _ => cases.iter().zip(solved).map(|(case, solved)| self.near_of(case, solved.path.clone(), peaks_k(solved))).collect(),
        };
        let beside = cases.iter().zip(&nears).flat_map(|(case, near)| {
            variations.iter().map(move |variation| (Case { variation: case.variation.with(variation), ..*case }, near.as_ref()))
        });
        self.beside(entry, &beside.collect::<Vec<_>>())
    }

    /// Solves the cases whose tile has a stack; the others fail.
    fn posed(&self, entry: usize, cases: &[Case], solve: impl FnOnce(&[TileProblem]) -> Vec<Solved>) -> Vec<Solved> {
        if cases.is_empty() {
            return Vec::new();
        }
        let (Some(course), Some(exposed)) = (self.setup.courses.get(entry), self.exposed.get(entry)) else {
            return vec![Solved::failed(COURSE); cases.len()];
        };
        let exposed = exposed.get_or_init(|| self.setup.exposures(entry, &self.tiles));
        let layers: Vec<Vec<TileLayer>> = cases.iter().map(|case| self.setup.layers(case)).collect();
        let exposure = |case: &Case| exposed.get(exposed.binary_search_by_key(&case.tile, |(tile, _)| *tile).ok()?).map(|found| &found.1);
        let scaled: Vec<Option<Vec<f64>>> = cases.iter().map(|case| exposure(case)?.times(case.variation.heating)).collect();
        let problems: Vec<Option<TileProblem>> = cases
            .iter()
            .zip(layers.iter().zip(&scaled))
            .map(|(case, (layers, scaled))| self.setup.problem(course, case, layers, exposure(case)?, scaled.as_deref()))
            .collect();
        let known: Vec<TileProblem> = problems.iter().flatten().copied().collect();
        let mut solved = solve(&known).into_iter();
        problems
            .iter()
            .map(|problem| if problem.is_some() { solved.next() } else { None })
            .map(|got| got.unwrap_or_else(|| Solved::failed(COURSE)))
            .collect()
    }
}

/// Of face, glue line and structure.
pub fn peaks_k(solved: &Solved) -> [f64; 3] {
    [solved.result.surface, solved.result.bondline, solved.result.structure].map(|peak| peak.temperature_k)
}

impl Setup<'_> {
    /// The heating of each asked tile over the rows of an entry; `tiles` rise, each once.
    pub(super) fn exposures(&self, entry: usize, tiles: &[usize]) -> Vec<(usize, Exposure)> {
        let mut out: Vec<(usize, Exposure)> = tiles.iter().map(|tile| (*tile, Exposure::default())).collect();
        let Some(flight) = self.prepared.flights.get(entry) else { return out };
        for group in out.chunk_by_mut(|a, b| a.0 / LANES == b.0 / LANES) {
            let Some(first) = group.first().map(|(tile, _)| tile / LANES) else { continue };
            for (row, moment) in flight.moments.iter().enumerate() {
                let squares = self.prepared.site_squares(entry, row);
                let Some(heating) = self.prepared.surface.heating_knowing(first, moment, squares) else { continue };
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
}
