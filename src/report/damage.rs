//! damage.csv: a row a finding, its tile's temperatures and margins without it and with it, the full-area bound, and the rows of the table
//! that gave them; present.csv: a row a tile, as the next flight starts from it; effects.csv: that table, laminar and turbulent, with what flight is more than the tunnel.

use crate::assess::damage::{Damage, Margins, Peaks};
use crate::assess::effects::{Effects, Quantity, model};
use crate::assess::present::{Present, Sides, sides};
use crate::assess::{Assessment, Disposition, history};
use crate::document::{csv, text};
use crate::shield::{Finding, Shield};

/// The columns of damage.csv.
pub const COLUMNS: [&str; 32] = [
    "finding",
    "tile",
    "kind",
    "standing",
    "model",
    "peak_surface_without_k",
    "peak_bondline_without_k",
    "peak_structure_without_k",
    "peak_surface_with_k",
    "peak_bondline_with_k",
    "peak_structure_with_k",
    "numerical_error_k",
    "margin_surface_without_k",
    "margin_bondline_without_k",
    "margin_structure_without_k",
    "margin_without_k",
    "margin_surface_with_k",
    "margin_bondline_with_k",
    "margin_structure_with_k",
    "margin_with_k",
    "bound_bondline_k",
    "bound_structure_k",
    "bound_margin_k",
    "floor_laminar",
    "floor_turbulent",
    "wall_laminar",
    "wall_turbulent",
    "emissivity",
    "catalycity",
    "relation",
    "rows",
    "note",
];
const TEXT_COLUMNS: [&str; 8] = ["finding", "tile", "kind", "standing", "model", "relation", "rows", "note"];
const DIGITS: usize = 7;

/// What is known of a finding's answer: solved, failed with a reason, or (neither) not asked.
pub type Answer = Option<Result<Damage, String>>;

fn maybe(value: Option<f64>) -> String {
    text::significant_or_empty(value, DIGITS)
}

fn peaks(peaks: Option<Peaks>) -> [String; 3] {
    [peaks.map(|p| p.surface_k), peaks.map(|p| p.bondline_k), peaks.map(|p| p.structure_k)].map(maybe)
}

fn margins(margins: Option<Margins>) -> [String; 4] {
    let of = |value: fn(&Margins) -> Option<f64>| maybe(margins.as_ref().and_then(value));
    [of(|m| m.surface_k), of(|m| m.bondline_k), of(|m| m.structure_k), of(Margins::least_k)]
}

/// The factor of the row that was used, laminar or turbulent, the product of its value and flight over tunnel.
fn factor(damage: Option<&Damage>, what: Quantity, turbulent: Option<bool>) -> String {
    let fits = |own: Option<bool>| own.is_none() || turbulent.is_none() || own == turbulent;
    maybe(damage.and_then(|damage| damage.rows.iter().find(|row| row.what == what && fits(row.turbulent))).map(|row| row.factor()))
}

/// The text of damage.csv; `answers` by finding.
pub fn damage_csv(shield: &Shield, findings: &[Finding], results: &Assessment, answers: &[Answer]) -> String {
    let standing = history::standings(findings, history::present_flight(shield, findings));
    let rows = findings.iter().zip(&standing).enumerate().filter_map(|(i, (finding, standing))| {
        let (tile, result) = (shield.tiles.get(finding.tile)?, results.tiles.get(finding.tile)?);
        let kind = model(finding, tile);
        let answer = answers.get(i).and_then(Option::as_ref);
        let damage = answer.and_then(|answer| answer.as_ref().ok());
        let note = match answer {
            Some(Err(why)) => why.as_str(),
            Some(Ok(_)) => "",
            None if standing.closed => "no longer stands: noted again later, or mended by a signed decision",
            None if kind.is_temperature() => "no stack under this tile, so no temperature in depth",
            None => "",
        };
        let sides = damage.map_or(Sides::default(), |damage| sides(result, damage));
        let used: Vec<&str> = damage.map_or(Vec::new(), |damage| damage.rows.iter().map(|row| row.effect.as_str()).collect());
        let used = used.join(" | ");
        let mut row = vec![
            finding.finding.clone(),
            tile.id.clone(),
            finding.kind.clone(),
            if standing.closed { "no" } else { "yes" }.to_string(),
            kind.word().to_string(),
        ];
        row.extend(peaks(damage.map(|damage| damage.without)));
        row.extend(peaks(damage.and_then(|damage| damage.with)));
        row.push(maybe(damage.map(|damage| damage.with.unwrap_or_default().numerical_error_k.max(damage.without.numerical_error_k))));
        row.extend(margins(damage.map(|_| sides.without)));
        row.extend(margins(sides.with));
        row.extend([
            maybe(damage.and_then(|damage| Some(damage.bound?.bondline_k))),
            maybe(damage.and_then(|damage| Some(damage.bound?.structure_k))),
            maybe(sides.bound.as_ref().and_then(Margins::least_k)),
            factor(damage, Quantity::Floor, Some(false)),
            factor(damage, Quantity::Floor, Some(true)),
            factor(damage, Quantity::Wall, Some(false)),
            factor(damage, Quantity::Wall, Some(true)),
            factor(damage, Quantity::Emissivity, None),
            factor(damage, Quantity::Catalycity, None),
            kind.words().to_string(),
            used,
            note.to_string(),
        ]);
        Some(row)
    });
    csv::write(&COLUMNS, rows, &COLUMNS.map(|name| TEXT_COLUMNS.contains(&name)))
}

/// The columns of present.csv.
pub const PRESENT_COLUMNS: [&str; 15] = [
    "tile",
    "zone",
    "findings",
    "margin_surface_without_k",
    "margin_bondline_without_k",
    "margin_structure_without_k",
    "margin_without_k",
    "margin_surface_with_k",
    "margin_bondline_with_k",
    "margin_structure_with_k",
    "margin_with_k",
    "condition_without",
    "condition_with",
    "disposition_with",
    "rule_with",
];

/// The text of present.csv: a row a tile with solved findings, as designed and as the next flight starts from it.
pub fn present_csv(shield: &Shield, findings: &[Finding], results: &Assessment, present: &[Present]) -> String {
    let rows = present.iter().filter_map(|present| {
        let (tile, result) = (shield.tiles.get(present.tile)?, results.tiles.get(present.tile)?);
        let names: Vec<&str> = present.findings.iter().filter_map(|place| Some(findings.get(*place)?.finding.as_str())).collect();
        let mut row = vec![tile.id.clone(), tile.zone.clone(), names.join(" ")];
        row.extend(margins(Some(present.without)));
        row.extend(margins(Some(present.with)));
        row.extend([
            result.condition.word().to_string(),
            present.condition.word().to_string(),
            present.disposition.map_or("", Disposition::word).to_string(),
            present.rule.clone(),
        ]);
        Some(row)
    });
    csv::write(&PRESENT_COLUMNS, rows, &PRESENT_COLUMNS.map(|name| !name.ends_with("_k")))
}

/// The columns of effects.csv.
pub const EFFECT_COLUMNS: [&str; 12] = [
    "effect",
    "what",
    "kinds",
    "regime",
    "length_over_depth_from",
    "length_over_depth_below",
    "value",
    "flight_over_tunnel",
    "factor",
    "range_low",
    "range_high",
    "source",
];

/// The text of effects.csv: the shipped rows with the scenario's in place, in the order in which they are looked up.
pub fn effects_csv(effects: &Effects) -> String {
    let rows = effects.rows.iter().map(|row| {
        vec![
            row.effect.clone(),
            row.what.word().to_string(),
            row.kinds.join(" "),
            match row.turbulent {
                Some(true) => "turbulent",
                Some(false) => "laminar",
                None => "both",
            }
            .to_string(),
            maybe(row.length_over_depth.map(|[from, _]| from)),
            maybe(row.length_over_depth.map(|[_, below]| below)),
            maybe(Some(row.value)),
            maybe(Some(row.flight_over_tunnel)),
            maybe(Some(row.factor())),
            maybe(row.range.map(|[low, _]| low)),
            maybe(row.range.map(|[_, high]| high)),
            row.source.clone(),
        ]
    });
    csv::write(&EFFECT_COLUMNS, rows, &EFFECT_COLUMNS.map(|name| matches!(name, "effect" | "what" | "kinds" | "regime" | "source")))
}
