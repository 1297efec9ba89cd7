//! Temperatures and margins of a tile with a finding beside those without it, and the full-area bound.
//!
//! All three are solved the same way (by radius and depth, the bound and the undamaged tile being the cases in which nothing differs along
//! the radius), so that their differences are the finding's and no solver's. The coating's heat capacity is left out; the undamaged peaks
//! are those of the transient, a little below equilibrium. The largest over the entries counts. No finding is credited with cooling its tile.

use super::effects::{Effects, Model, Quantity, Row, model, radius_of};
use super::prepare::Prepared;
use super::skin::{Face as BareFace, Skin, rows};
use super::surface;
use crate::air::Atmosphere;
use crate::document::{Curve, Error, Table};
use crate::material::{Back, LimitPolicy};
use crate::scenario::{Limits, Scenario};
use crate::shield::{Finding, Shield};
use crate::tile::cavity::{Answer, CavityLayer, CavityProblem, plain, quick, solve};
use crate::tile::face::{EquilibriumAir, Face, Ground};
use crate::tile::properties::{Conduction, Ramp, Solid};

/// Peaks of one case, K: the hottest surface that the case adds (floor, patch, bare stack; the face where none), glue line, structure.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Peaks {
    pub surface_k: f64,
    pub bondline_k: f64,
    pub structure_k: f64,
    /// Of the solver alone; infinite where only one grid was solved.
    pub numerical_error_k: f64,
}

impl Peaks {
    /// The larger of each.
    fn or_more(self, other: Peaks) -> Peaks {
        Peaks {
            surface_k: self.surface_k.max(other.surface_k),
            bondline_k: self.bondline_k.max(other.bondline_k),
            structure_k: self.structure_k.max(other.structure_k),
            numerical_error_k: self.numerical_error_k.max(other.numerical_error_k),
        }
    }
}

/// What is left below each limit, nominal, K.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Margins {
    pub surface_k: Option<f64>,
    pub bondline_k: Option<f64>,
    pub structure_k: Option<f64>,
}

impl Margins {
    /// The smallest.
    pub fn least_k(&self) -> Option<f64> {
        [self.surface_k, self.bondline_k, self.structure_k].into_iter().flatten().reduce(f64::min)
    }
}

/// A finding's thermal answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Damage {
    pub model: Model,
    /// The rows that were used, laminar and turbulent.
    pub rows: Vec<Row>,
    pub without: Peaks,
    pub margins_without: Margins,
    /// `None` where the model is no temperature.
    pub with: Option<Peaks>,
    pub margins_with: Option<Margins>,
    /// The tile thinned to the cavity's floor as a whole, with the larger of floor, wall and face factors: no cavity of this depth is hotter.
    pub bound: Option<Peaks>,
    pub margins_bound: Option<Margins>,
}

/// How much work goes into an answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Effort {
    /// One grid: for a first look and for searches; the error is not known, and was some kelvins at most where it was measured.
    Quick,
    /// The same grid and one half as fine, whose difference is the stated error.
    Plain,
    /// That grid and one twice as fine: eight times the work.
    Full,
}

impl Effort {
    fn solve(self, problem: &CavityProblem) -> Result<Answer, Error> {
        match self {
            Effort::Quick => quick(problem).map(|answer| Answer { numerical_error_k: f64::INFINITY, ..answer }),
            Effort::Plain => plain(problem),
            Effort::Full => solve(problem),
        }
    }
}

/// What one entry brings to a tile's face.
struct Exposure {
    times_s: Vec<f64>,
    cold_wall_w_m2: Vec<f64>,
    recovery_j_kg: Vec<f64>,
    intermittency: Vec<f64>,
    pressure_pa: Curve,
    end_s: f64,
}

/// What one case solves.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Asked {
    /// Floor and wall; radius and depth 0 are the tile as it was.
    Cavity { radius_m: f64, depth_m: f64, skins: [Skin; 2] },
    /// What lies under the tile.
    Bare(Skin),
}

/// A tile under a scenario, ready for any damage.
pub struct Subject<'a> {
    shield: &'a Shield,
    scenario: &'a Scenario,
    pub tile: usize,
    layers: Vec<CavityLayer>,
    structure: usize,
    back: Face,
    exposures: Vec<Exposure>,
    /// The tile's own, an index into the library.
    material: usize,
    /// At the face's own peak.
    emissivity: f64,
    hottest_k: f64,
    catalycity: f64,
    start_k: (f64, f64),
    limits: [Option<f64>; 3],
    bare_limit_k: Option<f64>,
}

fn curve(times_s: &[f64], value: Vec<f64>) -> Curve {
    Curve::Table(Table { axis: "time_s", at: times_s.to_vec(), value })
}

fn lowest(limits: impl Iterator<Item = Option<f64>>) -> Option<f64> {
    limits.flatten().reduce(f64::min)
}

impl<'a> Subject<'a> {
    /// `None` for a tile without a stack, or one that is not there.
    pub fn new(shield: &'a Shield, scenario: &'a Scenario, prepared: &'a Prepared, tile: usize) -> Option<Subject<'a>> {
        let effective = prepared.tiles.get(tile)?;
        let stack = shield.stacks.get(effective.stack?)?;
        let material = |index: usize| shield.library.materials.get(index);
        let layer = |index: usize, thickness_m: f64, density_kg_m3: f64| {
            let material = material(index)?;
            Some(CavityLayer {
                solid: Solid {
                    thickness_m,
                    density_kg_m3,
                    specific_heat: Ramp::of(&material.specific_heat_j_kgk),
                    conduction: Conduction::of(&material.conductivity_w_mk),
                    conductivity_scale: 1.0,
                    specific_heat_scale: 1.0,
                },
                inplane: material.conductivity_inplane_w_mk.as_ref().map(Conduction::of),
            })
        };
        let mut layers = vec![layer(effective.material, effective.thickness_m, effective.density_kg_m3)?];
        for under in &stack.layers {
            layers.push(layer(under.material, under.thickness_m, material(under.material)?.density_kg_m3)?);
        }
        let policy = match scenario.policy.limits {
            Limits::Reuse => LimitPolicy::Reuse,
            Limits::SingleMission => LimitPolicy::SingleMission,
            Limits::Flights(flights) => LimitPolicy::Flights(flights),
        };
        let of = |index: usize| material(index).and_then(|material| material.limit_at(policy)).map(|read| read.kelvin);
        let under =
            |index: usize| stack.layers.get(index).and_then(|layer| layer.limit_at(&shield.library, policy)).map(|read| read.kelvin);
        let bare_limit_k = of(effective.material);
        let limits = [
            lowest([bare_limit_k, effective.coating.and_then(of)].into_iter()),
            // The layers that meet at the glue line: the bond and the one under it, unless that is the structure.
            lowest((0..2).filter(|index| *index < stack.structure.max(1)).map(under)),
            under(stack.structure),
        ];
        let back = match &stack.back {
            Back::Adiabatic => Face::Adiabatic,
            Back::Temperature { temperature_k } => Face::Temperature(temperature_k.clone()),
            Back::Convection { h_w_m2k, ambient_k } => Face::Convection { h_w_m2k: h_w_m2k.clone(), ambient_k: ambient_k.clone() },
            Back::Radiation { emissivity, surroundings_k } => Face::Radiation { emissivity: *emissivity, surroundings_k: *surroundings_k },
        };
        let start_k = prepared.start_of(tile);
        let exposures = (0..prepared.flights.len()).filter_map(|entry| Exposure::of(prepared, scenario, entry, tile)).collect();
        let hottest = |entry| surface::peaks(prepared, entry, tile..tile + 1).first().map_or(0.0, |peak| peak.peak_k);
        let hottest_k = (0..prepared.flights.len()).map(hottest).fold(start_k.0, f64::max);
        let emissivity = prepared.emissivities.get(effective.emissivity).map_or(0.85, |emissivity| emissivity.value_at(hottest_k));
        Some(Subject {
            shield,
            scenario,
            tile,
            layers,
            structure: 1 + stack.structure,
            back,
            exposures,
            material: effective.material,
            emissivity,
            hottest_k,
            catalycity: effective.local.catalycity,
            start_k,
            limits,
            bare_limit_k,
        })
    }

    fn face(&self, exposure: &Exposure, skin: Skin) -> Face {
        let factor = |share: &f64| skin.laminar + share * (skin.turbulent - skin.laminar);
        let cold = exposure.cold_wall_w_m2.iter().zip(&exposure.intermittency).map(|(cold, share)| cold * factor(share)).collect();
        let landing = &self.scenario.landing;
        let ground = curve(&[exposure.end_s, exposure.end_s + landing.descent_s.max(1e-3)], vec![0.0, 1.0]);
        Face::Heating {
            cold_wall_w_m2: curve(&exposure.times_s, cold),
            recovery_enthalpy_j_kg: Some(curve(&exposure.times_s, exposure.recovery_j_kg.clone())),
            emissivity: skin.emissivity,
            surroundings_k: 0.0,
            factor: 1.0,
            ground: Some(Ground { share: ground, air_k: landing.air_k, h_w_m2k: landing.h_w_m2k }),
        }
    }

    fn whole(&self) -> Skin {
        Skin::whole(self.emissivity)
    }

    fn bare(&self) -> BareFace<'_> {
        BareFace {
            material: self.shield.library.materials.get(self.material),
            emissivity: self.emissivity,
            hottest_k: self.hottest_k,
            catalycity: self.catalycity,
        }
    }

    /// The peaks over one entry of a cavity of `radius_m` and `depth_m`.
    fn one(&self, exposure: &Exposure, radius_m: f64, depth_m: f64, [floor, wall]: [Skin; 2], effort: Effort) -> Result<Peaks, Error> {
        let tile_radius_m = radius_of(&self.shield.tiles[self.tile]);
        let (outer, floor, wall) = (self.face(exposure, self.whole()), self.face(exposure, floor), self.face(exposure, wall));
        let landing = &self.scenario.landing;
        let heated_until_s = exposure.end_s + landing.descent_s;
        let problem = CavityProblem {
            layers: &self.layers,
            structure: self.structure,
            tile_radius_m,
            radius_m,
            depth_m,
            outer: &outer,
            floor: &floor,
            wall: &wall,
            shaded: false,
            back: &self.back,
            pressure_pa: &exposure.pressure_pa,
            air: &EquilibriumAir,
            surface_k: self.start_k.0,
            structure_k: self.start_k.1,
            duration_s: heated_until_s + landing.limit_s,
            heated_until_s,
        };
        let answer = effort.solve(&problem)?;
        let surface = if radius_m > 0.0 { answer.floor } else { answer.face };
        Ok(Peaks {
            surface_k: surface.temperature_k,
            bondline_k: answer.bondline.temperature_k,
            structure_k: answer.structure.temperature_k,
            numerical_error_k: answer.numerical_error_k,
        })
    }

    /// The largest over the entries.
    fn peaks(&self, radius_m: f64, depth_m: f64, floor: Skin, wall: Skin, effort: Effort) -> Result<Peaks, Error> {
        let each = self.exposures.iter().map(|exposure| self.one(exposure, radius_m, depth_m, [floor, wall], effort));
        each.collect::<Result<Vec<Peaks>, Error>>().map(|each| each.into_iter().fold(Peaks::default(), Peaks::or_more))
    }

    /// The tile as it was.
    pub fn undamaged(&self, effort: Effort) -> Result<Peaks, Error> {
        self.peaks(0.0, 0.0, self.whole(), self.whole(), effort)
    }

    /// Nominal margins of peaks; `bare` where the added surface has lost its coating.
    pub fn margins(&self, peaks: &Peaks, bare: bool) -> Margins {
        let surface = if bare { self.bare_limit_k } else { self.limits[0] };
        let left = |limit: Option<f64>, peak: f64| limit.map(|limit| limit - peak);
        Margins {
            surface_k: left(surface, peaks.surface_k),
            bondline_k: left(self.limits[1], peaks.bondline_k),
            structure_k: left(self.limits[2], peaks.structure_k),
        }
    }

    /// The peaks with a cavity of a kind, by radius and depth. No cavity is credited with cooling its tile: `without` bounds glue line and
    /// structure from below.
    pub fn cavity(&self, effects: &Effects, kind: &str, shape: [f64; 3], without: &Peaks, effort: Effort) -> Result<Peaks, Error> {
        let [radius_m, depth_m, length_over_depth] = shape;
        let (floor, wall) = self.bare().skins(&rows(effects, kind, length_over_depth));
        let radius_m = radius_m.min(radius_of(&self.shield.tiles[self.tile]));
        Ok(uncooled(self.peaks(radius_m, depth_m, floor, wall, effort)?, without))
    }

    /// The same over one entry.
    ///
    /// # Errors
    /// A failed computation.
    pub fn cavity_over(
        &self,
        entry: usize,
        effects: &Effects,
        kind: &str,
        shape: [f64; 3],
        without: &Peaks,
        effort: Effort,
    ) -> Result<Peaks, Error> {
        let [radius_m, depth_m, length_over_depth] = shape;
        let (floor, wall) = self.bare().skins(&rows(effects, kind, length_over_depth));
        let radius_m = radius_m.min(radius_of(&self.shield.tiles[self.tile]));
        let exposure = self.exposures.get(entry).ok_or_else(|| Error::failed("no such entry"))?;
        Ok(uncooled(self.one(exposure, radius_m, depth_m, [floor, wall], effort)?, without))
    }

    /// What each case of a finding solves, and the rows of the table that it takes.
    fn cases(&self, effects: &Effects, finding: &Finding) -> ([Option<Asked>; 3], Vec<Row>) {
        let tile = &self.shield.tiles[self.tile];
        let kind = finding.kind.as_str();
        let full = radius_of(tile);
        let whole = Some(Asked::Cavity { radius_m: 0.0, depth_m: 0.0, skins: [self.whole(), self.whole()] });
        match model(finding, tile) {
            Model::Cavity { radius_m, depth_m, length_over_depth } => {
                let rows = rows(effects, kind, length_over_depth);
                let (floor, wall) = self.bare().skins(&rows);
                let most = Skin::most(floor, wall, self.emissivity);
                let with = Asked::Cavity { radius_m: radius_m.min(full), depth_m, skins: [floor, wall] };
                let bound = Asked::Cavity { radius_m: full, depth_m, skins: [most, most] };
                ([whole, Some(with), Some(bound)], rows.into_iter().flatten().collect())
            }
            Model::Patch { radius_m } => {
                // A face, not a floor: only what is bare about it counts.
                let mut rows = rows(effects, kind, f64::MAX);
                rows[..4].fill(None);
                let (patch, _) = self.bare().skins(&rows);
                let of = |radius_m| Some(Asked::Cavity { radius_m, depth_m: 0.0, skins: [patch, patch] });
                ([whole, of(radius_m), of(full)], rows.into_iter().flatten().collect())
            }
            Model::Thinned { lost_m } => {
                let with = Asked::Cavity { radius_m: full, depth_m: lost_m, skins: [self.whole(), self.whole()] };
                // It is its own bound.
                ([whole, Some(with), None], Vec::new())
            }
            Model::Bare { length_over_depth } => {
                let rows = rows(effects, kind, length_over_depth);
                let (floor, _) = self.bare().skins(&rows);
                let rows: Vec<Row> = rows.into_iter().flatten().collect();
                // What is left is the stack: its outer face is the glue line.
                let emissivity = rows.iter().find(|row| row.what == Quantity::Emissivity).map_or(floor.emissivity, Row::factor);
                ([whole, Some(Asked::Bare(Skin { emissivity, ..floor })), None], rows)
            }
            Model::Joint | Model::Risk | Model::Wet | Model::NotAssessed => ([whole, None, None], Vec::new()),
        }
    }

    /// So many runs make a finding's answer: without it, with it and bound, each over every entry.
    pub fn runs(&self) -> usize {
        3 * self.exposures.len()
    }

    /// One of [`Subject::runs`]; `None` where the finding asks for no such case.
    ///
    /// # Errors
    /// A failed computation.
    pub fn run(&self, effects: &Effects, finding: &Finding, index: usize, effort: Effort) -> Result<Option<Peaks>, Error> {
        let entries = self.exposures.len().max(1);
        let (cases, _) = self.cases(effects, finding);
        let (Some(exposure), Some(Some(asked))) = (self.exposures.get(index % entries), cases.get(index / entries)) else {
            return Ok(None);
        };
        match *asked {
            Asked::Cavity { radius_m, depth_m, skins } => self.one(exposure, radius_m, depth_m, skins, effort),
            Asked::Bare(skin) => self.bare_stack(exposure, skin, effort),
        }
        .map(Some)
    }

    /// The answer that all runs make, in their order.
    pub fn gathered(&self, effects: &Effects, finding: &Finding, runs: &[Option<Peaks>]) -> Damage {
        let model = model(finding, &self.shield.tiles[self.tile]);
        let mut cases = runs.chunks(self.exposures.len().max(1)).map(|runs| runs.iter().copied().flatten().reduce(Peaks::or_more));
        let without = cases.next().flatten().unwrap_or_default();
        let [with, bound] = [cases.next().flatten(), cases.next().flatten()].map(|case| match model {
            Model::Bare { .. } => case,
            _ => case.map(|case| uncooled(case, &without)),
        });
        let bound = if matches!(model, Model::Thinned { .. }) { with } else { bound };
        let bare = matches!(model, Model::Cavity { .. } | Model::Patch { .. });
        let margins = |peaks: Peaks| {
            let mut margins = self.margins(&peaks, bare);
            if matches!(model, Model::Bare { .. }) {
                margins.surface_k = margins.bondline_k;
            }
            margins
        };
        Damage {
            model,
            rows: self.cases(effects, finding).1,
            without,
            margins_without: self.margins(&without, false),
            with,
            margins_with: with.map(margins),
            bound,
            margins_bound: bound.map(margins),
        }
    }

    /// A finding's answer.
    ///
    /// # Errors
    /// A failed computation.
    pub fn damage(&self, effects: &Effects, finding: &Finding, effort: Effort) -> Result<Damage, Error> {
        let runs = (0..self.runs()).map(|index| self.run(effects, finding, index, effort)).collect::<Result<Vec<_>, _>>()?;
        Ok(self.gathered(effects, finding, &runs))
    }

    /// The stack without its tile, over one entry.
    fn bare_stack(&self, exposure: &Exposure, skin: Skin, effort: Effort) -> Result<Peaks, Error> {
        let layers = self.layers.get(1..).unwrap_or_default().to_vec();
        if layers.is_empty() {
            return Err(Error::failed("nothing lies under the tile"));
        }
        let face = self.face(exposure, skin);
        let heated_until_s = exposure.end_s + self.scenario.landing.descent_s;
        let problem = CavityProblem {
            layers: &layers,
            structure: self.structure - 1,
            tile_radius_m: radius_of(&self.shield.tiles[self.tile]),
            radius_m: 0.0,
            depth_m: 0.0,
            outer: &face,
            floor: &face,
            wall: &face,
            shaded: false,
            back: &self.back,
            pressure_pa: &exposure.pressure_pa,
            air: &EquilibriumAir,
            surface_k: self.start_k.1,
            structure_k: self.start_k.1,
            duration_s: heated_until_s + self.scenario.landing.limit_s,
            heated_until_s,
        };
        let answer = effort.solve(&problem)?;
        let face_k = answer.face.temperature_k;
        let structure_k = answer.structure.temperature_k;
        Ok(Peaks { surface_k: face_k, bondline_k: face_k, structure_k, numerical_error_k: answer.numerical_error_k })
    }
}

/// Glue line and structure never below the undamaged tile's.
fn uncooled(with: Peaks, without: &Peaks) -> Peaks {
    Peaks { bondline_k: with.bondline_k.max(without.bondline_k), structure_k: with.structure_k.max(without.structure_k), ..with }
}

impl Exposure {
    fn of(prepared: &Prepared, scenario: &Scenario, entry: usize, tile: usize) -> Option<Exposure> {
        let rows = surface::history(prepared, entry, tile);
        let start_s = rows.first()?.time_s;
        let mut times_s: Vec<f64> = rows.iter().map(|row| row.time_s - start_s).collect();
        let end_s = times_s.last().copied()?;
        let column = |of: &dyn Fn(&surface::TileMoment) -> f64| rows.iter().map(of).collect::<Vec<f64>>();
        let mut cold = column(&|row| row.cold_wall_w_m2.max(0.0));
        let mut recovery_j_kg = column(&|row| row.recovery_enthalpy_j_kg.max(1.0));
        let mut intermittency = column(&|row| row.intermittency);
        let mut pressure = column(&|row| row.pressure_pa);
        // The descent: heating fades out, pressure goes to the ground's.
        let ground_pa = Atmosphere::Standard1976.at(scenario.landing.altitude_m).pressure_pa.unwrap_or(101_325.0);
        times_s.push(end_s + scenario.landing.descent_s.max(1e-3));
        cold.push(0.0);
        recovery_j_kg.push(recovery_j_kg.last().copied()?);
        intermittency.push(intermittency.last().copied()?);
        pressure.push(ground_pa);
        let pressure_pa = curve(&times_s, pressure);
        Some(Exposure { times_s, cold_wall_w_m2: cold, recovery_j_kg, intermittency, pressure_pa, end_s })
    }
}
