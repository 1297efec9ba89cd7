//! The tiles after the scenario's changes and factors, and what findings make of their faces.

use crate::assess::{controls, sites};
use crate::document::Sorting as _;
use crate::document::{Error, Problems};
use crate::heating::catalysis::Rate;
use crate::heating::gap::Gaps;
use crate::heating::local::{self, Local};
use crate::heating::transition::SMOOTH_ROUGHNESS_M;
use crate::heating::{Body, Facet};
use crate::scenario::{ChangeKey, ChangeValue, Reach, Scenario};
use crate::shield::joint::Joint;
use crate::shield::{Finding, Shield, Tile};
use crate::tile::equilibrium::Emissivity;
use std::cmp::Ordering;

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

impl EffectiveTile {
    /// All but what the flow meets.
    pub(super) fn is_made_as(&self, other: &EffectiveTile) -> bool {
        EffectiveTile { local: other.local, ..self.clone() } == *other
    }
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

/// What findings on joints do to each tile: how far it stands proud of the one ahead of it, m, and the open gaps ahead of it.
///
/// Both count on the downstream tile. A gap found twice on a joint counts once, the wider; one whose joint is not known runs along the tile's longest side.
fn joints<'a>(shield: &Shield, lengths: &[Joint], drafts: &[Draft], findings: impl Iterator<Item = &'a Finding>) -> Vec<(f64, Gaps)> {
    let mut found = vec![(0.0_f64, Gaps::default()); shield.tiles.len()];
    let aft = |tile: usize| shield.tiles.get(tile).map_or(0.0, |tile| tile.facet.centre.x);
    let mut open: Vec<(usize, usize, f64)> = Vec::new();
    for finding in findings {
        let other = finding.tile_2.unwrap_or(finding.tile);
        let (ahead, behind) = if aft(other) > aft(finding.tile) { (finding.tile, other) } else { (other, finding.tile) };
        let metres = |mm: Option<f64>| mm.filter(|mm| *mm > 0.0).map(|mm| mm / 1000.0);
        match finding.kind.as_str() {
            // A downstream tile that lies lower gets no relief, and the one ahead of it stands in no flow.
            "step" => {
                if let (Some(step_m), Some(place)) = (metres(finding.step_mm), found.get_mut(behind)) {
                    place.0 = place.0.max(step_m);
                }
            }
            "gap" | "lost-filler" => open.extend(metres(finding.gap_mm).map(|gap_m| (behind, ahead, gap_m))),
            _ => {}
        }
    }
    if open.is_empty() {
        return found;
    }
    open.order_by(|a, b| (a.0, a.1).cmp(&(b.0, b.1)).then(b.2.total_cmp(&a.2)));
    open.dedup_by_key(|gap| (gap.0, gap.1));
    for (behind, ahead, width_m) in open {
        let (Some(tile), Some(draft), Some(place)) = (shield.tiles.get(behind), drafts.get(behind), found.get_mut(behind)) else {
            continue;
        };
        let pair = (behind.min(ahead) as u32, behind.max(ahead) as u32);
        let known = lengths.binary_search_by_key(&pair, |joint| (joint.a, joint.b)).ok().and_then(|at| lengths.get(at));
        let length_m = known.map_or(tile.largest_side_m, |joint| joint.length_m);
        place.1 = place.1.with(width_m, length_m, tile.facet.area_m2, draft.thickness_m);
    }
    found
}

/// The tiles' own values with the changes laid over them, in the scenario's order.
fn drafts(shield: &Shield, scenario: &Scenario) -> Vec<Draft> {
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
    drafts
}

/// The tiles after the changes, and their emissivities, each once.
pub(super) fn effective_tiles(
    shield: &Shield,
    scenario: &Scenario,
    body: &Body,
    findings: &[Finding],
    lengths: &[Joint],
) -> Result<(Vec<EffectiveTile>, Vec<Emissivity>), Error> {
    let mut problems = Problems::of("scenario");
    let drafts = drafts(shield, scenario);
    let roughness = roughness(drafts.len(), sites::standing(shield, findings));
    let joints = joints(shield, lengths, &drafts, sites::standing(shield, findings));
    let mut emissivities = Emissivities::new(shield);
    let mut tiles = Vec::with_capacity(drafts.len());
    let hinges = controls::hinges(shield, &controls::zones(&scenario.entries));
    let rows = shield.tiles.iter().zip(&drafts).zip(&body.places).zip(roughness).zip(hinges).zip(joints);
    for (((((tile, draft), surveyed), roughness_m), hinge), (step_m, gaps)) in rows {
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
                step_m,
                gaps,
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
