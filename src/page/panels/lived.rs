//! A tile's flights as a strip: what was found after each, how it grew, a new part, waterproofing, the hottest reading of its thermocouples.

use super::dom::{Kit, Made, add, add_all, put};
use crate::assess::history::{Lived, present_flight, standings, strip};
use crate::page::model::Model;
use crate::report::finding_form::{kind_words, size_words};
use crate::report::numbers::{Quantity, counted};
use crate::shield::Finding;

/// Flights of the strip, the latest.
const MOST: usize = 12;

/// The strip of a tile; `None` where nothing is known of any flight.
pub fn lived(kit: &Kit, model: &Model, tile: usize) -> Made<Option<web_sys::Element>> {
    let of_tile = |finding: &&Finding| finding.tile == tile || finding.tile_2 == Some(tile);
    let present = present_flight(&model.shield, &model.findings);
    let own: Vec<&Finding> = model.findings.iter().filter(of_tile).collect();
    let flights = strip(&model.shield, tile, &own, present);
    if flights.is_empty() {
        return Ok(None);
    }
    let standing = standings(&model.findings, present);
    let list = kit.html("ol", "lived")?;
    put(&list, &[("aria-label", "Flights of this tile")])?;
    for flight in flights.iter().skip(flights.len().saturating_sub(MOST)) {
        let cell = kit.html("li", if flight.found > 0 { "found" } else { "" })?;
        let head = kit.said("b", "", &flight.flight.to_string())?;
        let mut words: Vec<String> = Vec::new();
        for (finding, standing) in model.findings.iter().zip(&standing).filter(|(finding, _)| of_tile(finding)) {
            if finding.flight.or(present) != Some(flight.flight) {
                continue;
            }
            let size = size_words(finding, model.units);
            let mut said = kind_words(&finding.kind);
            if !size.is_empty() {
                said.push_str(&format!(" {size}"));
            }
            if let Some(growth_mm) = standing.growth_mm.filter(|growth| *growth > 0.0) {
                said.push_str(&format!(" ({} since)", Quantity::Thickness.signed(growth_mm / 1000.0, model.units)));
            }
            if !finding.decision.is_empty() {
                said.push_str(&format!(", {} decided", kind_words(&finding.decision)));
            }
            words.push(said);
        }
        words.extend(marks(flight, model));
        let said = if words.is_empty() { "nothing found".to_string() } else { words.join("; ") };
        add_all(&cell, &[&head, &kit.said("span", "", &said)?])?;
        add(&list, &cell)?;
    }
    let found: usize = flights.iter().filter(|flight| flight.found > 0).count();
    put(&list, &[("title", &format!("Found something after {}", counted(found, "flight", "flights")))])?;
    Ok(Some(list))
}

fn marks(flight: &Lived, model: &Model) -> Vec<String> {
    let mut words = Vec::new();
    if flight.installed {
        words.push("this part’s first flight".to_string());
    }
    if flight.waterproofed {
        words.push("waterproofed after it".to_string());
    }
    words.extend(flight.peak_k.map(|peak_k| format!("{} measured at most", Quantity::Temperature.text(peak_k, model.units))));
    words
}
