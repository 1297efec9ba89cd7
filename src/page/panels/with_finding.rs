//! The picked tile without and with each of its findings, side by side, and the full-area bound: temperatures and margins.

use super::dom::{Kit, Made, add, add_all};
use crate::assess::TileResult;
use crate::assess::damage::{Damage, Margins, Peaks};
use crate::assess::present::{Present, asked_of, sides};
use crate::page::model::Model;
use crate::report::finding_form::kind_words;
use crate::report::numbers::{NONE, Quantity};
use crate::report::words;
use web_sys::Element;

/// One part of the tile: its words, its peak in a case, its margin in a case.
type Part = (&'static str, fn(&Peaks) -> f64, fn(&Margins) -> Option<f64>);

const PARTS: [Part; 3] = [
    ("surface", |peaks| peaks.surface_k, |margins| margins.surface_k),
    ("glue line", |peaks| peaks.bondline_k, |margins| margins.bondline_k),
    ("structure", |peaks| peaks.structure_k, |margins| margins.structure_k),
];

/// A block a finding; `None` where the tile has none that asks for a temperature.
pub fn with_findings(kit: &Kit, model: &Model, tile: usize, result: &TileResult) -> Made<Option<Element>> {
    let answered = &model.damaged.answers;
    let waiting = asked_of(&model.shield, &model.findings, tile).saturating_sub(answered.len());
    if (answered.is_empty() && waiting == 0) || result.effective.stack.is_none() {
        return Ok(None);
    }
    let block = kit.html("div", "withs")?;
    for (place, answer) in answered.iter() {
        let Some(finding) = model.findings.get(*place) else { continue };
        let title = format!("With {}, {}", finding.finding, kind_words(&finding.kind));
        match answer {
            Ok(damage) => add(&block, &table(kit, model, &title, damage, result)?)?,
            Err(why) => add(&block, &kit.said("p", "note", &format!("{title}: {why}"))?)?,
        }
    }
    if let Some(present) = &model.damaged.present {
        add(&block, &kit.said("p", "note", &now(present, result))?)?;
    }
    if waiting > 0 {
        add(&block, &kit.said("p", "note", "Solving its findings by radius and depth.")?)?;
    }
    Ok(Some(block))
}

/// The tile's condition as the next flight starts from it, by its margins with the findings.
fn now(present: &Present, result: &TileResult) -> String {
    let suggested = present.disposition.map_or(String::new(), |disposition| format!(", suggested: {}", words::disposition(disposition)));
    let same = if present.condition == result.condition { ", as without them" } else { "" };
    let by = if present.rule.is_empty() { String::new() } else { format!(" By {}.", present.rule) };
    format!("Condition by the margins with its findings: {}{same}{suggested}.{by}", words::condition(present.condition))
}

fn table(kit: &Kit, model: &Model, title: &str, damage: &Damage, result: &TileResult) -> Made {
    let units = model.units;
    let table = kit.html("table", "with")?;
    add(&table, &kit.said("caption", "", title)?)?;
    let head = kit.html("tr", "")?;
    for title in ["", "without", "with", "full-area bound"] {
        add(&head, &kit.said("th", "", title)?)?;
    }
    add(&table, &head)?;
    let sides = sides(result, damage);
    let margins = [Some(sides.without), sides.with, sides.bound];
    for (name, peak, margin) in PARTS {
        let row = kit.html("tr", "")?;
        let label = kit.said("th", "", name)?;
        label.set_attribute("scope", "row")?;
        add(&row, &label)?;
        for (peaks, margins) in [Some(damage.without), damage.with, damage.bound].iter().zip(&margins) {
            let cell = kit.html("td", "")?;
            let left = margins.as_ref().and_then(margin);
            let temperature = peaks.as_ref().map_or(NONE.to_string(), |peaks| Quantity::Temperature.text(peak(peaks), units));
            let difference = left.map_or(String::new(), |left| Quantity::Difference.signed(left, units));
            let tone = if left.is_some_and(|left| left < 0.0) { "bad" } else { "" };
            add_all(&cell, &[&kit.said("span", "", &temperature)?, &kit.said("b", tone, &difference)?])?;
            add(&row, &cell)?;
        }
        add(&table, &row)?;
    }
    let error_k = damage.with.unwrap_or_default().numerical_error_k.max(damage.without.numerical_error_k);
    let rows: Vec<&str> = damage.rows.iter().map(|row| row.effect.as_str()).collect();
    let by = if rows.is_empty() { String::new() } else { format!(" Rows: {}.", rows.join(", ")) };
    let said = format!("{}, two grids {} apart.{by}", damage.model.words(), Quantity::Difference.text(error_k, units));
    let block = kit.html("div", "")?;
    add_all(&block, &[&table, &kit.said("p", "note", &said)?])?;
    Ok(block)
}
