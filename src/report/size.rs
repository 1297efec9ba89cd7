//! What sizing says: by zone in summary.json, in warnings, and as the readable summary of the command.

use crate::assess::Assessment;
use crate::assess::sizing::{Need, Sizing};
use crate::document::Json;
use crate::document::Sorting as _;
use crate::scenario::Scenario;
use crate::shield::Shield;
use std::fmt::Write;

/// Tiles named in a warning or list.
const NAMED: usize = 10;

impl Need {
    pub const ALL: [Need; 5] = [Need::None, Need::Met, Need::AtMinimum, Need::NotAtMaximum, Need::Unknown];

    /// The word of summary.json.
    pub fn word(self) -> &'static str {
        match self {
            Need::None => "nothing-to-size",
            Need::Met => "met",
            Need::AtMinimum => "met-at-minimum",
            Need::NotAtMaximum => "not-met-at-maximum",
            Need::Unknown => "not-solved",
        }
    }
}

/// Mass that the required thickness adds to a tile, kg; `None` where there is none.
pub fn added_mass_kg(shield: &Shield, assessment: &Assessment, tile: usize, sizing: &Sizing) -> Option<f64> {
    let (row, result) = (shield.tiles.get(tile)?, assessment.tiles.get(tile)?);
    let effective = &result.effective;
    Some((sizing.required_m? - effective.thickness_m) * effective.density_kg_m3 * row.facet.area_m2)
}

/// One zone, or the whole shield.
#[derive(Default)]
struct Share {
    tiles: usize,
    area_m2: f64,
    present_kg: f64,
    required_kg: f64,
    needs: [usize; 5],
    surface_short: usize,
}

impl Share {
    fn take(&mut self, shield: &Shield, assessment: &Assessment, tile: usize, sizing: &Sizing) {
        let present = assessment.tiles.get(tile).map_or(0.0, |result| result.mass_kg);
        self.tiles += 1;
        self.area_m2 += shield.tiles.get(tile).map_or(0.0, |row| row.facet.area_m2);
        self.present_kg += present;
        // A tile that is not sized keeps its mass.
        self.required_kg += present + added_mass_kg(shield, assessment, tile, sizing).unwrap_or(0.0);
        if let Some(count) = Need::ALL.iter().position(|need| *need == sizing.need).and_then(|at| self.needs.get_mut(at)) {
            *count += 1;
        }
        self.surface_short += usize::from(sizing.surface_short);
    }

    fn json(&self) -> Json {
        let n = Json::Number;
        let needs = Need::ALL.iter().zip(self.needs).map(|(need, count)| (need.word().to_string(), n(count as f64)));
        Json::object([
            ("tiles", n(self.tiles as f64)),
            ("area_m2", n(self.area_m2)),
            ("present_mass_kg", n(self.present_kg)),
            ("required_mass_kg", n(self.required_kg)),
            ("added_mass_kg", n(self.required_kg - self.present_kg)),
            ("needs", Json::Object(needs.collect())),
            ("surface_short", n(self.surface_short as f64)),
        ])
    }
}

/// The zones in the order in which the table first names them, then the whole.
fn shares(shield: &Shield, assessment: &Assessment, sized: &[Sizing]) -> (Vec<(String, Share)>, Share) {
    let mut zones: Vec<(String, Share)> = Vec::new();
    let mut whole = Share::default();
    for (tile, (row, sizing)) in shield.tiles.iter().zip(sized).enumerate() {
        if !zones.iter().any(|(zone, _)| *zone == row.zone) {
            zones.push((row.zone.clone(), Share::default()));
        }
        if let Some((_, share)) = zones.iter_mut().find(|(zone, _)| *zone == row.zone) {
            share.take(shield, assessment, tile, sizing);
        }
        whole.take(shield, assessment, tile, sizing);
    }
    (zones, whole)
}

fn named(shield: &Shield, sized: &[Sizing], which: impl Fn(&Sizing) -> bool) -> Vec<String> {
    shield.tiles.iter().zip(sized).filter(|(_, sizing)| which(sizing)).map(|(tile, _)| tile.id.clone()).collect()
}

/// Counted and named: tiles that no thickness helps.
pub fn warnings(shield: &Shield, scenario: &Scenario, sized: &[Sizing]) -> Vec<String> {
    let sizing = &scenario.sizing;
    let told = [
        (
            named(shield, sized, |one| one.need == Need::NotAtMaximum),
            format!("do not keep {} K below glue line and structure even {} mm thick", sizing.margin_k, sizing.maximum_mm),
        ),
        (
            named(shield, sized, |one| one.surface_short),
            format!("keep less than {} K on the surface, which thickness does not help", sizing.margin_k),
        ),
    ];
    let one = |(names, what): (Vec<String>, String)| {
        let more = if names.len() > NAMED { format!(" and {} more", names.len() - NAMED) } else { String::new() };
        (!names.is_empty()).then(|| format!("{} tiles {what}: {}{more}", names.len(), names[..names.len().min(NAMED)].join(", ")))
    };
    told.into_iter().filter_map(one).collect()
}

/// The summary with a `sizing` object: what was asked, the whole shield, by zone, and the tiles that no thickness helps.
pub fn with_sizing(summary: Json, shield: &Shield, scenario: &Scenario, assessment: &Assessment, sized: &[Sizing]) -> Json {
    let n = Json::Number;
    let sizing = &scenario.sizing;
    let (zones, whole) = shares(shield, assessment, sized);
    let list = |names: Vec<String>| Json::List(names.iter().map(Json::text).collect());
    let told = Json::object([
        ("margin_k", n(sizing.margin_k)),
        ("step_mm", n(sizing.step_mm)),
        ("minimum_mm", n(sizing.minimum_mm)),
        ("maximum_mm", n(sizing.maximum_mm)),
        ("whole", whole.json()),
        ("zones", Json::Object(zones.iter().map(|(zone, share)| (zone.clone(), share.json())).collect())),
        ("not_met_at_maximum", list(named(shield, sized, |one| one.need == Need::NotAtMaximum))),
        ("surface_short", list(named(shield, sized, |one| one.surface_short))),
    ]);
    match summary {
        Json::Object(mut fields) => {
            fields.push(("sizing".to_string(), told));
            Json::Object(fields)
        }
        other => other,
    }
}

/// The readable summary of `size`.
pub fn text(shield: &Shield, scenario: &Scenario, assessment: &Assessment, sized: &[Sizing], document: &Json) -> String {
    let mut out = String::new();
    let sizing = &scenario.sizing;
    let (zones, whole) = shares(shield, assessment, sized);
    let _ = writeln!(
        out,
        "{}: thickness for {} K left below glue line and structure ({}), in steps of {} mm, {} to {} mm.",
        shield.name,
        sizing.margin_k,
        super::summary::policy_words(scenario),
        sizing.step_mm,
        sizing.minimum_mm,
        sizing.maximum_mm
    );
    let _ = writeln!(
        out,
        "{:.1} kg now, {:.1} kg as required: {:+.1} kg on {:.1} m2.\n",
        whole.present_kg,
        whole.required_kg,
        whole.required_kg - whole.present_kg,
        whole.area_m2
    );
    let _ = writeln!(out, "zone                      tiles  area m2    now kg  needs kg  added kg  at minimum  not met  surface short");
    for (zone, share) in zones.iter().map(|(zone, share)| (zone.as_str(), share)).chain([("whole shield", &whole)]) {
        let _ = writeln!(
            out,
            "{:<24} {:>6} {:>8.2} {:>9.1} {:>9.1} {:>+9.1} {:>11} {:>8} {:>14}",
            zone,
            share.tiles,
            share.area_m2,
            share.present_kg,
            share.required_kg,
            share.required_kg - share.present_kg,
            share.needs[2],
            share.needs[3],
            share.surface_short
        );
    }
    let mut most: Vec<(f64, usize)> = (sized.iter().enumerate())
        .filter_map(|(tile, one)| Some((one.required_m? - assessment.tiles.get(tile)?.effective.thickness_m, tile)))
        .collect();
    most.order_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    let _ = writeln!(out, "\ntile      zone                       now mm  needs mm  missing mm");
    for (missing_m, tile) in most.iter().take(NAMED) {
        let row = &shield.tiles[*tile];
        let now = 1000.0 * assessment.tiles[*tile].effective.thickness_m;
        let _ = writeln!(out, "{:<9} {:<24} {now:>8.1} {:>9.1} {:>11.1}", row.id, row.zone, now + 1000.0 * missing_m, 1000.0 * missing_m);
    }
    for warning in warnings(shield, scenario, sized) {
        let _ = writeln!(out, "\n{warning}.");
    }
    for key in ["inputs_digest", "results_digest"] {
        let _ = writeln!(out, "{}: {}", key.replace('_', " "), document.get(key).and_then(Json::as_text).unwrap_or_default());
    }
    let _ = writeln!(out, "{}", super::CAUTION);
    out
}
