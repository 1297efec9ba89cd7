//! tiles.csv: a row a tile, in the order of the vehicle's table.

use super::size;
use crate::assess::sizing::Sizing;
use crate::assess::{Assessment, Condition, Disposition, GovernedBy, Peak};
use crate::document::{csv, text};
use crate::scenario::Scenario;
use crate::shield::Shield;

/// The columns of tiles.csv; `size` adds [`SIZE_COLUMNS`].
pub const COLUMNS: [&str; 33] = [
    "tile",
    "zone",
    "material",
    "coating",
    "thickness_mm",
    "area_m2",
    "mass_kg",
    "peak_surface_k",
    "peak_surface_time_s",
    "peak_bondline_k",
    "peak_bondline_time_s",
    "peak_structure_k",
    "peak_structure_time_s",
    "structure_at_touchdown_k",
    "heat_load_j_m2",
    "limit_surface_k",
    "limit_bondline_k",
    "limit_structure_k",
    "margin_surface_k",
    "margin_bondline_k",
    "margin_structure_k",
    "margin_k",
    "governed_by",
    "limiting_layer",
    "governing_entry",
    "heating_factor_to_limit",
    "thickness_to_limit_mm",
    "condition",
    "disposition",
    "decision",
    "decided_by",
    "decided_on",
    "decision_reason",
];
pub const SIZE_COLUMNS: [&str; 2] = ["required_thickness_mm", "added_mass_kg"];

/// Columns whose cells are text and so are guarded against being read as formulas.
const TEXT_COLUMNS: [&str; 13] = [
    "tile",
    "zone",
    "material",
    "coating",
    "governed_by",
    "limiting_layer",
    "governing_entry",
    "condition",
    "disposition",
    "decision",
    "decided_by",
    "decided_on",
    "decision_reason",
];

/// Significant digits of a number: far below any stated error, short enough to read.
const DIGITS: usize = 7;

impl Condition {
    pub const ALL: [Condition; 9] = [
        Condition::Planned,
        Condition::Fitted,
        Condition::Bonded,
        Condition::Tested,
        Condition::AsBuilt,
        Condition::Watch,
        Condition::Repair,
        Condition::Replace,
        Condition::NotCleared,
    ];

    /// The word of the reference.
    pub fn word(self) -> &'static str {
        match self {
            Condition::Planned => "planned",
            Condition::Fitted => "fitted",
            Condition::Bonded => "bonded",
            Condition::Tested => "tested",
            Condition::AsBuilt => "as-built",
            Condition::Watch => "watch",
            Condition::Repair => "repair",
            Condition::Replace => "replace",
            Condition::NotCleared => "not-cleared",
        }
    }
}

impl Disposition {
    pub const ALL: [Disposition; 5] =
        [Disposition::FlyAsIs, Disposition::Watch, Disposition::RepairInPlace, Disposition::Replace, Disposition::EngineeringReview];

    /// The word of the reference.
    pub fn word(self) -> &'static str {
        match self {
            Disposition::FlyAsIs => "fly-as-is",
            Disposition::Watch => "watch",
            Disposition::RepairInPlace => "repair-in-place",
            Disposition::Replace => "replace",
            Disposition::EngineeringReview => "engineering-review",
        }
    }
}

impl GovernedBy {
    /// The word of the reference.
    pub fn word(self) -> &'static str {
        match self {
            GovernedBy::Surface => "surface",
            GovernedBy::Bondline => "bondline",
            GovernedBy::Structure => "structure",
        }
    }
}

/// The text of tiles.csv.
pub fn tiles_csv(shield: &Shield, scenario: &Scenario, assessment: &Assessment) -> String {
    let guarded = COLUMNS.map(|name| TEXT_COLUMNS.contains(&name));
    csv::write(&COLUMNS, rows(shield, scenario, assessment), &guarded)
}

/// The text of tiles.csv as `size` writes it; `sized` is by tile.
pub fn sized_csv(shield: &Shield, scenario: &Scenario, assessment: &Assessment, sized: &[Sizing]) -> String {
    let columns: Vec<&str> = COLUMNS.into_iter().chain(SIZE_COLUMNS).collect();
    let guarded: Vec<bool> = columns.iter().map(|name| TEXT_COLUMNS.contains(name)).collect();
    let rows = rows(shield, scenario, assessment).zip(sized).enumerate().map(|(tile, (mut row, one))| {
        row.push(text::significant_or_empty(one.required_m.map(|metres| 1000.0 * metres), DIGITS));
        row.push(text::significant_or_empty(size::added_mass_kg(shield, assessment, tile, one), DIGITS));
        row
    });
    csv::write(&columns, rows, &guarded)
}

fn rows<'a>(shield: &'a Shield, scenario: &'a Scenario, assessment: &'a Assessment) -> impl Iterator<Item = Vec<String>> + 'a {
    let number = |value: f64| text::significant(value, DIGITS);
    let maybe = |value: Option<f64>| text::significant_or_empty(value, DIGITS);
    let peak = move |peak: Option<Peak>| [maybe(peak.map(|p| p.temperature_k)), maybe(peak.map(|p| p.time_s))];
    shield.tiles.iter().zip(&assessment.tiles).map(move |(tile, result)| {
        let material = |index: usize| shield.library.materials.get(index).map_or(String::new(), |material| material.id.clone());
        let entry = result.governing_entry.and_then(|entry| scenario.entries.get(entry)).map_or(String::new(), |entry| entry.name.clone());
        let effective = &result.effective;
        let mut row = vec![
            tile.id.clone(),
            tile.zone.clone(),
            material(effective.material),
            effective.coating.map_or("none".to_string(), material),
            number(1000.0 * effective.thickness_m),
            number(tile.facet.area_m2),
            number(result.mass_kg),
        ];
        row.extend(peak(Some(result.surface)));
        row.extend(peak(result.bondline));
        row.extend(peak(result.structure));
        row.extend([
            maybe(result.structure_at_touchdown_k),
            number(result.heat_load_j_m2),
            maybe(result.limit_surface_k),
            maybe(result.limit_bondline_k),
            maybe(result.limit_structure_k),
            maybe(result.margin_surface_k),
            maybe(result.margin_bondline_k),
            maybe(result.margin_structure_k),
            maybe(result.margin_k),
            result.governed_by.map_or("", GovernedBy::word).to_string(),
            result.limiting_layer.clone(),
            entry,
            maybe(result.heating_factor_to_limit),
            maybe(result.thickness_to_limit_mm),
            result.condition.word().to_string(),
            result.disposition.map_or("", Disposition::word).to_string(),
        ]);
        row.extend(result.decision.clone());
        row
    })
}
