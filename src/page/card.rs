//! The picked tile's story over the entry shown, with the source of every number.

use super::app::App;
use super::model::Card;
use crate::assess::depth::History;
use crate::assess::{Prepared, points, surface};
use crate::document::Curve;
use crate::heating::Regime;
use crate::material::{Library, Provenance};
use crate::report::words;
use crate::shield::Shield;
use std::rc::Rc;

/// A card by revision, entry and tile, with the story in depth or without.
pub type Kept = ((u64, usize, usize, bool), Rc<Card>);

impl App {
    /// The card of a tile: the same one from frame to frame, so that the panel sees that nothing changed and leaves its elements standing.
    pub(super) fn card(&mut self, entry: usize, tile: usize, history: Option<Rc<History>>) -> Rc<Card> {
        let key = (self.revision, entry, tile, history.is_some());
        if let Some((_, card)) = self.card.as_ref().filter(|(of, _)| *of == key) {
            return card.clone();
        }
        let made = Rc::new(card(&self.shield, &self.prepared, entry, tile, history));
        self.card = Some((key, made.clone()));
        made
    }
}

/// The card of one tile.
fn card(shield: &Shield, prepared: &Prepared, entry: usize, tile: usize, depth: Option<Rc<History>>) -> Card {
    let history = surface::history(prepared, entry, tile);
    // The factor is the heating over what the reference sphere's coefficient gives at this recovery enthalpy.
    let factor = |row: usize, cold_wall_w_m2: f64, recovery_j_kg: f64| {
        prepared.flights.get(entry).and_then(|flight| flight.moments.get(row)).map_or(f64::NAN, |moment| {
            let reference = moment.reference_w_m2() / moment.total_enthalpy_j_kg() * recovery_j_kg;
            if reference > 0.0 { cold_wall_w_m2 / reference } else { f64::NAN }
        })
    };
    let flight = prepared.flights.get(entry);
    let moments = || flight.map_or(&[][..], |flight| flight.moments.as_slice()).iter();
    Card {
        tile,
        onset: moments().map(|moment| moment.chain(&prepared.surface, tile).map_or(0.0, |chain| chain.onset)).collect(),
        trip: moments().map(|moment| moment.tripped_by(&prepared.surface, tile).map(|(site, ratio, _)| (site, ratio))).collect(),
        sites: prepared.sites.iter().map(|site| words::site(shield, site)).collect(),
        time_s: history.iter().map(|row| row.time_s).collect(),
        surface_k: history.iter().map(|row| row.surface_k).collect(),
        heating_w_m2: history.iter().map(|row| row.hot_wall_w_m2).collect(),
        factor: history.iter().enumerate().map(|(i, row)| factor(i, row.cold_wall_w_m2, row.recovery_enthalpy_j_kg)).collect(),
        regime: history
            .iter()
            .map(|row| match row.regime {
                Regime::Laminar => 0,
                Regime::Transitional => 1,
                Regime::Turbulent => 2,
            })
            .collect(),
        pressure_pa: history.iter().map(|row| row.pressure_pa).collect(),
        history: depth,
        sources: sources(shield, prepared, tile),
    }
}

/// Property, value and source, in the order of the chain.
fn sources(shield: &Shield, prepared: &Prepared, tile: usize) -> Vec<(String, String, String)> {
    let mut out: Vec<(String, String, String)> = surface::models(prepared)
        .into_iter()
        .filter_map(|model| model.split_once(": ").map(|(what, source)| (what.to_string(), String::new(), source.to_string())))
        .collect();
    let Some(effective) = prepared.tiles.get(tile) else { return out };
    if let Some(told) = points::told(prepared, tile) {
        out.push(("local factor".to_string(), "body points".to_string(), told));
    }
    let local = &effective.local;
    for (what, metres) in [("proud step", local.step_m), ("open gap ahead", local.gaps.width_m)] {
        if metres > 0.0 {
            out.push((what.to_string(), format!("{:.1} mm", 1e3 * metres), "finding".to_string()));
        }
    }
    let (surface_k, structure_k) = prepared.start_of(tile);
    for (what, kelvin) in [("start, surface", surface_k), ("start, structure", structure_k)] {
        out.push((what.to_string(), format!("{kelvin:.0} K"), prepared.starts.source.to_string()));
    }
    for material in [effective.coating, Some(effective.material)].into_iter().flatten() {
        out.extend(of_material(&shield.library, material));
    }
    let layers = effective.stack.and_then(|stack| shield.stacks.get(stack)).map_or(&[][..], |stack| &stack.layers);
    let mut told = Vec::new();
    for layer in layers.iter().filter(|layer| Some(layer.material) != effective.coating && layer.material != effective.material) {
        if !told.contains(&layer.material) {
            told.push(layer.material);
            out.extend(of_material(&shield.library, layer.material));
        }
    }
    out
}

fn of_material(library: &Library, index: usize) -> Vec<(String, String, String)> {
    let Some(material) = library.materials.get(index) else { return Vec::new() };
    let value = |key: &str| match key {
        "density_kg_m3" => format!("{} kg/m³", material.density_kg_m3),
        "emissivity" => match &material.emissivity {
            Some(Curve::Constant(value)) => value.to_string(),
            Some(Curve::Table(table)) => format!("table, {} points", table.at.len()),
            None => String::new(),
        },
        "solar_absorptance" => material.solar_absorptance.map_or(String::new(), |value| value.to_string()),
        _ => String::new(),
    };
    let source = |provenance: &Provenance| {
        let note = provenance.note.as_ref().map_or(String::new(), |note| format!(" ({note})"));
        format!("{}: {}{note}", provenance.basis, provenance.source)
    };
    material
        .provenance
        .iter()
        .map(|(key, provenance)| (format!("{} {}", material.id.to_uppercase(), key.replace('_', " ")), value(key), source(provenance)))
        .collect()
}

/// A value of a story at a moment, linear between its samples.
pub fn between(at: &[f64], values: &[f64], x: f64) -> f64 {
    let next = at.partition_point(|at| *at < x).min(at.len().saturating_sub(1));
    let before = next.saturating_sub(1);
    match (at.get(before), at.get(next), values.get(before), values.get(next)) {
        (Some(a), Some(b), Some(y), Some(z)) if b > a => y + (z - y) * ((x - a) / (b - a)).clamp(0.0, 1.0),
        (_, _, _, Some(z)) => *z,
        _ => f64::NAN,
    }
}
