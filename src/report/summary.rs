//! summary.json: counts, the limiting tiles, area and mass, digests, models, policy, warnings.

use super::{digest, work};
use crate::assess::{self, Assessment, Condition, Disposition, GovernedBy, InDepth, TileResult, consequence};
use crate::document::Json;
use crate::document::Sorting as _;
use crate::scenario::{Combine, Limits, Scenario};
use crate::shield::Shield;

/// The document's format key.
pub const FORMAT: &str = "tileglow-summary/1";
/// So many limiting tiles are listed.
pub const LIMITING_LISTED: usize = 20;

/// Indices of the tiles with a margin, smallest first; ties in the order of the table.
pub fn limiting(assessment: &Assessment) -> Vec<usize> {
    let mut order: Vec<(f64, usize)> =
        assessment.tiles.iter().enumerate().filter_map(|(i, tile)| tile.margin_k.map(|margin| (margin, i))).collect();
    order.order_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    order.into_iter().map(|(_, i)| i).collect()
}

/// The policy in words: what stands behind every margin.
pub fn policy_words(scenario: &Scenario) -> String {
    let limits = match scenario.policy.limits {
        Limits::Reuse => "reuse limits".to_string(),
        Limits::SingleMission => "single-mission limits".to_string(),
        Limits::Flights(flights) => format!("limits at {flights} flights"),
    };
    if scenario.policy.terms.is_empty() {
        return format!("nominal: no uncertainty counted; {limits}");
    }
    let how = match scenario.policy.combine {
        Combine::RootSumSquare => "root-sum-square",
        Combine::Sum => "sum",
        Combine::Sampled => "sampled",
    };
    let terms: Vec<String> =
        scenario.policy.terms.iter().map(|term| format!("{} {} at {} sigma", term.name, term.fraction, term.level_sigma)).collect();
    format!("{how} of {}; {limits}", terms.join(", "))
}

/// Share of the shield's heat load, by area, from moments at which half rho V^3 takes more than a tenth off a tile's heating; 0 without heat.
pub fn capped_share(shield: &Shield, assessment: &Assessment) -> f64 {
    let (mut all, mut capped) = (0.0, 0.0);
    for (tile, result) in shield.tiles.iter().zip(&assessment.tiles) {
        let load = tile.facet.area_m2 * result.heat_load_j_m2;
        all += load;
        capped += load * result.capped_share;
    }
    if all > 0.0 { capped / all } else { 0.0 }
}

/// What the solution in depth says of the whole shield: counts, what the skin brings from tile to tile, the face against its equilibrium, flags.
fn in_depth(shield: &Shield, assessment: &Assessment) -> Json {
    let n = Json::Number;
    let tiles = &assessment.tiles;
    let count = |holds: &dyn Fn(&TileResult) -> bool| n(tiles.iter().filter(|tile| holds(tile)).count() as f64);
    let brought = |tile: &TileResult| tile.brought_k()[1];
    let raised = tiles.iter().enumerate().map(|(i, tile)| (brought(tile), i));
    let most = raised.reduce(|most, other| if other.0 > most.0 { other } else { most }).filter(|most| most.0 > 0.0);
    let below = |tile: &TileResult| tile.face.map(|face| tile.surface.temperature_k - face.temperature_k);
    let gap = tiles.iter().filter_map(below).fold(0.0, f64::max);
    Json::object([
        ("solved", count(&|tile| tile.in_depth == InDepth::Solved)),
        ("pending", n(assessment.pending as f64)),
        ("without_stack", count(&|tile| tile.in_depth == InDepth::NoStack)),
        ("without_answer", count(&|tile| matches!(tile.in_depth, InDepth::Failed(_)))),
        ("raised_by_neighbours", count(&|tile| brought(tile) >= 1.0)),
        ("most_raised_k", n(most.map_or(0.0, |most| most.0))),
        ("most_raised_tile", most.and_then(|most| shield.tiles.get(most.1)).map_or(Json::Null, |tile| Json::text(&tile.id))),
        ("face_below_equilibrium_at_most_k", n(gap)),
        (
            "one_dimensional",
            Json::object([
                ("flagged", count(&|tile| tile.flags.any())),
                ("small", count(&|tile| tile.flags.small)),
                ("beside_opening", count(&|tile| tile.flags.opening)),
                ("beside_hot_structure", count(&|tile| tile.flags.hot_structure)),
                ("beside_thicker", count(&|tile| tile.flags.thicker)),
            ]),
        ),
    ])
}

/// The summary as JSON. `tiles_csv` is the text whose digest is the results' digest; `elapsed_s` are stages and seconds; `judged` are the results as
/// judged with what findings leave, where they are solved: the work follows them.
pub fn summary(
    shield: &Shield,
    scenario: &Scenario,
    assessment: &Assessment,
    judged: Option<&Assessment>,
    tiles_csv: &str,
    elapsed_s: &[(String, f64)],
) -> Json {
    let n = Json::Number;
    let count = |count: usize| Json::Number(count as f64);
    let by_condition = Condition::ALL
        .map(|condition| (condition.word().to_string(), count(assessment.tiles.iter().filter(|tile| tile.condition == condition).count())));
    let by_disposition = Disposition::ALL.map(|disposition| {
        (disposition.word().to_string(), count(assessment.tiles.iter().filter(|tile| tile.disposition == Some(disposition)).count()))
    });
    let order = limiting(assessment);
    let rows = order.iter().take(LIMITING_LISTED).map(|&i| {
        let (tile, result) = (&shield.tiles[i], &assessment.tiles[i]);
        let entry = result.governing_entry.and_then(|entry| scenario.entries.get(entry));
        Json::object([
            ("tile", Json::text(&tile.id)),
            ("zone", Json::text(&tile.zone)),
            ("margin_k", Json::number_or_null(result.margin_k)),
            ("governed_by", Json::text(result.governed_by.map_or("", GovernedBy::word))),
            ("limiting_layer", Json::text(&result.limiting_layer)),
            ("governing_entry", entry.map_or(Json::Null, |entry| Json::text(&entry.name))),
            ("peak_surface_k", n(result.surface.temperature_k)),
            ("peak_surface_time_s", n(result.surface.time_s)),
            ("nominal_k", Json::number_or_null(result.governing_peak().map(|peak| peak.0))),
            ("counted_k", Json::number_or_null(result.governing_peak().map(|peak| peak.1))),
            (
                "largest_term",
                result.term_most.and_then(|term| scenario.policy.terms.get(term)).map_or(Json::Null, |term| Json::text(&term.name)),
            ),
        ])
    });
    let sum = |value: &dyn Fn(usize) -> f64| (0..shield.tiles.len()).map(value).fold(0.0, |total, value| total + value);
    let text_list = |list: &[String]| Json::List(list.iter().map(Json::text).collect());
    let warnings: Vec<String> = shield.warnings.iter().chain(&assessment.warnings).cloned().collect();
    let short = assessment.tiles.iter().filter(|tile| tile.margin_k.is_some_and(|margin| margin < 0.0)).count();
    let state = consequence::state(shield, scenario, assessment);
    let found = assess::findings(shield, scenario).unwrap_or_default();
    let upkeep = assess::work::work(shield, scenario, &found, judged.unwrap_or(assessment));
    let upkeep = upkeep.map_or(Json::Null, |upkeep| work::summary(&upkeep, judged.is_some()));
    let error = assessment.tiles.iter().map(|tile| tile.numerical_error_k).fold(0.0, f64::max);
    Json::object([
        ("format", Json::text(FORMAT)),
        ("tileglow", Json::text(crate::VERSION)),
        ("vehicle", Json::object([("name", Json::text(&shield.name)), ("digest", Json::text(&shield.digest))])),
        ("inputs_digest", Json::text(digest::inputs(&shield.digest, scenario))),
        ("results_digest", Json::text(digest::sha256(tiles_csv.as_bytes()))),
        ("tiles", count(shield.tiles.len())),
        ("short_tiles", count(short)),
        ("conditions", Json::Object(by_condition.to_vec())),
        ("dispositions", Json::Object(by_disposition.to_vec())),
        ("zones", work::zones(&state)),
        ("tiles_with_most_risk", Json::number_or_null(state.tiles_with_most_risk)),
        ("work", upkeep),
        ("findings", work::findings(shield, &found)),
        ("limiting", Json::List(rows.collect())),
        ("in_depth", in_depth(shield, assessment)),
        ("area_m2", n(sum(&|i| shield.tiles[i].facet.area_m2))),
        ("plain_area_m2", n(shield.plain_area_m2)),
        ("mass_kg", n(sum(&|i| assessment.tiles[i].mass_kg))),
        ("capped_heat_load_share", n(capped_share(shield, assessment))),
        ("models", text_list(&assessment.models)),
        ("numerical_error_k", n(error)),
        ("not_assessed", text_list(&assessment.not_assessed)),
        ("policy", Json::text(policy_words(scenario))),
        ("scenario", scenario.to_json()),
        ("warnings", text_list(&warnings)),
        ("caution", Json::text(crate::report::CAUTION)),
        ("elapsed_s", Json::Object(elapsed_s.iter().map(|(stage, seconds)| (stage.clone(), n(*seconds))).collect())),
    ])
}
