//! The readable summary that `assess` prints: the verdict, the limiting tiles, what was assumed, what is not known.

use super::summary;
use crate::assess::{Assessment, Condition, GovernedBy};
use crate::document::Json;
use crate::scenario::Scenario;
use crate::shield::Shield;
use std::fmt::Write;

/// So many limiting tiles are printed.
const LISTED: usize = 12;

/// The text, plain and at most 100 columns wide but for long names.
pub fn text(shield: &Shield, scenario: &Scenario, assessment: &Assessment, document: &Json) -> String {
    let mut out = String::new();
    let order = summary::limiting(assessment);
    let short = order.iter().take_while(|tile| assessment.tiles[**tile].margin_k.is_some_and(|margin| margin < 0.0)).count();
    let tiles = shield.tiles.len();
    let _ = writeln!(
        out,
        "{}: {tiles} tiles, {:.1} m2 of them, {:.1} m2 without.",
        shield.name,
        document.get("area_m2").and_then(Json::as_number).unwrap_or_default(),
        shield.plain_area_m2
    );
    let verdict = match short {
        0 => format!("No tile falls short of a limit ({}).", summary::policy_words(scenario)),
        _ => format!("{short} of {tiles} tiles fall short of a limit ({}).", summary::policy_words(scenario)),
    };
    let _ = writeln!(out, "{verdict}\n");
    let _ = writeln!(out, "tile      zone                      margin K   peak K   at s   limit K  limited by        entry");
    for &tile in order.iter().take(LISTED) {
        let (row, result) = (&shield.tiles[tile], &assessment.tiles[tile]);
        let entry = result.governing_entry.and_then(|entry| scenario.entries.get(entry)).map_or("", |entry| entry.name.as_str());
        let Some((peak, limit_k)) = result.governing() else { continue };
        let _ = writeln!(
            out,
            "{:<9} {:<24} {:>9.1} {:>8.1} {:>6.0} {:>9.1}  {:<17} {entry}",
            row.id,
            row.zone,
            result.margin_k.unwrap_or(f64::NAN),
            peak.temperature_k,
            peak.time_s,
            limit_k,
            format!("{} {}", result.governed_by.map_or("", GovernedBy::word), result.limiting_layer),
        );
    }
    let conditions = Condition::ALL.iter().filter_map(|condition| {
        let count = assessment.tiles.iter().filter(|tile| tile.condition == *condition).count();
        (count > 0).then(|| format!("{count} {}", condition.word()))
    });
    let _ = writeln!(out, "\nCondition: {}.", conditions.collect::<Vec<_>>().join(", "));
    let _ = writeln!(
        out,
        "Heat load from moments capped by half rho V^3: {:.2} % of the shield's.",
        100.0 * summary::capped_share(shield, assessment)
    );
    let _ = writeln!(out, "Not assessed: {}.", assessment.not_assessed.join("; "));
    for key in ["inputs_digest", "results_digest"] {
        let _ = writeln!(out, "{}: {}", key.replace('_', " "), document.get(key).and_then(Json::as_text).unwrap_or_default());
    }
    let _ = writeln!(out, "{}", super::CAUTION);
    out
}
