//! What an inspection form asks for each kind of finding, and the scenario that its answers make.
//!
//! A form asks only what its kind needs; every answer is a text as typed, in the shown units, and comes back as the row that
//! findings.csv would hold. A finding of the vehicle that is edited becomes one of the scenario under the same id.

use super::numbers::Quantity;
use crate::assess::condition::Rules;
use crate::assess::{Condition, Disposition, history};
use crate::document::Sorting as _;
use crate::document::{Error, Json, Problems};
use crate::scenario::{Scenario, UnitSystem};
use crate::shield::findings::COLUMNS;
use crate::shield::{Finding, Shield, Tile, finding_from_json, finding_to_json};

/// What an answer is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Answer {
    /// A length: mm in the file, mm or in on the form.
    Size,
    Degrees,
    /// A whole number of flights.
    Flight,
    /// ISO 8601.
    Date,
    /// A tile of the vehicle.
    Tile,
    Text,
}

/// A question: the column of findings.csv it fills, its words, what it takes, and whether the kind cannot do without it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Question {
    pub column: &'static str,
    pub label: &'static str,
    pub answer: Answer,
    pub needed: bool,
}

const fn asks(column: &'static str, label: &'static str, answer: Answer, needed: bool) -> Question {
    Question { column, label, answer, needed }
}

const AFT: Question = asks("u_mm", "from the centre, aft", Answer::Size, false);
const RIGHT: Question = asks("v_mm", "from the centre, right", Answer::Size, false);
const LENGTH: Question = asks("length_mm", "length", Answer::Size, true);
const WIDTH: Question = asks("width_mm", "width", Answer::Size, false);
const DEPTH: Question = asks("depth_mm", "depth", Answer::Size, true);
const OTHER: Question = asks("tile_2", "other tile of the joint", Answer::Tile, true);
const ALONG: Question = asks("length_mm", "length along the joint", Answer::Size, false);
const TURNED: Question = asks("orientation_deg", "direction, from aft", Answer::Degrees, false);

/// The questions that every kind asks after its own.
pub const ALWAYS: [Question; 6] = [
    asks("found_on", "found on", Answer::Date, true),
    asks("flight", "after flight", Answer::Flight, false),
    asks("found_by", "found by", Answer::Text, false),
    asks("method", "method", Answer::Text, false),
    asks("photograph", "photograph", Answer::Text, false),
    asks("note", "note", Answer::Text, false),
];

/// The questions of a kind beyond [`ALWAYS`]; none for an unknown kind.
pub fn questions(kind: &str) -> Vec<Question> {
    match kind {
        "chip" | "gouge" | "impact-cavity" => vec![LENGTH, WIDTH, DEPTH, AFT, RIGHT, TURNED],
        "crack" => vec![LENGTH, Question { needed: false, ..DEPTH }, AFT, RIGHT, TURNED],
        "coating-loss" => vec![LENGTH, WIDTH, AFT, RIGHT],
        "slump" => vec![DEPTH, Question { needed: false, ..LENGTH }, WIDTH, AFT, RIGHT],
        "step" => vec![OTHER, asks("step_mm", "step, positive where the downstream tile stands proud", Answer::Size, true), ALONG],
        "gap" => vec![OTHER, asks("gap_mm", "gap", Answer::Size, true), ALONG],
        "protruding-filler" => vec![OTHER, asks("protrusion_mm", "stands proud by", Answer::Size, true), ALONG],
        "lost-filler" => vec![OTHER, ALONG],
        "discoloration" | "contamination" => vec![Question { needed: false, ..LENGTH }, WIDTH, AFT, RIGHT],
        _ => Vec::new(),
    }
}

/// What the rules say of one finding.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Judged {
    /// `None` where no rule applies, or the finding no longer stands.
    pub condition: Option<Condition>,
    pub disposition: Option<Disposition>,
    /// The rule in words, with its source.
    pub rule: String,
    /// Noted again at a later flight, or mended by a signed decision before a flight since.
    pub closed: bool,
    /// Growth of its largest-grown size since an earlier flight, mm.
    pub growth_mm: Option<f64>,
}

/// What the rules say of each finding, in their order; on a joint the worse of both tiles counts.
pub fn judged(shield: &Shield, scenario: &Scenario, findings: &[Finding]) -> Vec<Judged> {
    let rules = Rules::of(&scenario.inspection).unwrap_or_default();
    let standings = history::standings(findings, history::present_flight(shield, findings));
    let judge = |(finding, standing): (&Finding, history::Standing)| {
        let worst = rules.where_it_lies(finding, &shield.tiles, standing).filter(|_| !standing.closed);
        Judged {
            condition: worst.map(|judged| judged.rule.condition),
            disposition: worst.map(|judged| judged.rule.disposition),
            rule: worst.map_or(String::new(), |judged| judged.rule.words()),
            closed: standing.closed,
            growth_mm: standing.growth_mm,
        }
    };
    findings.iter().zip(standings).map(judge).collect()
}

/// A kind as it is read.
pub fn kind_words(kind: &str) -> String {
    kind.replace('-', " ")
}

/// The largest number at the end of any id, plus one, after the first id's letters: `F151` after `F001` to `F150`.
pub fn next_id(findings: &[Finding]) -> String {
    let split = |id: &str| {
        let letters = id.trim_end_matches(|c: char| c.is_ascii_digit()).to_string();
        let digits = id.get(letters.len()..).unwrap_or_default().to_string();
        (letters, digits)
    };
    let letters = findings.first().map_or("F".to_string(), |finding| split(&finding.finding).0);
    let own = findings.iter().map(|finding| split(&finding.finding)).filter(|(start, _)| *start == letters);
    let (mut most, mut wide) = (0_u64, 3);
    for (_, digits) in own {
        wide = wide.max(digits.len());
        most = most.max(digits.parse().unwrap_or(0));
    }
    format!("{letters}{:0wide$}", most.saturating_add(1))
}

/// The text that a form shows for a finding's column, in the shown units.
pub fn shown(finding: &Finding, column: &str, answer: Answer, tiles: &[Tile], units: UnitSystem) -> String {
    match (finding_to_json(finding, tiles).get(column), answer) {
        (Some(Json::Number(mm)), Answer::Size) => plain(Quantity::Thickness.shown(mm / 1000.0, units)),
        (Some(Json::Number(value)), _) => plain(*value),
        (Some(Json::Text(text)), _) => text.clone(),
        _ => String::new(),
    }
}

/// At most four decimals, no zeros behind.
fn plain(value: f64) -> String {
    let text = format!("{value:.4}");
    text.trim_end_matches('0').trim_end_matches('.').to_string()
}

/// The scenario with a finding as the form says it: `answers` are (column of findings.csv, text as typed); what a column's text
/// leaves out is empty, a column that is not named keeps what `before` says.
///
/// # Errors
/// What the row would be refused for in findings.csv, a text that is no number, and a question of its kind left empty.
pub fn answered(
    scenario: &Scenario,
    before: Option<&Finding>,
    answers: &[(String, String)],
    tiles: &[Tile],
    units: UnitSystem,
) -> Result<Scenario, Error> {
    let mut fields: Vec<(String, Json)> = match before.map(|finding| finding_to_json(finding, tiles)) {
        Some(Json::Object(fields)) => fields,
        _ => Vec::new(),
    };
    let mut problems = Problems::of("finding");
    let kind = answers.iter().find(|(column, _)| column == "kind").map_or("", |(_, kind)| kind.as_str());
    let asked = questions(kind);
    for (column, typed) in answers {
        let typed = typed.trim();
        let question = asked.iter().chain(&ALWAYS).find(|question| question.column == column);
        let answer = question.map_or(Answer::Text, |question| question.answer);
        fields.retain(|(name, _)| name != column);
        if typed.is_empty() {
            if let Some(question) = question.filter(|question| question.needed) {
                problems.at_key(question.label, "it is empty", "what was measured, or the nearest that can be said");
            }
            continue;
        }
        let value = match answer {
            Answer::Size | Answer::Degrees | Answer::Flight => match typed.replace('\u{2212}', "-").parse::<f64>() {
                Ok(value) if value.is_finite() && answer == Answer::Size => {
                    // The shown unit's rounding never reaches the file: a tenth of a micrometre is kept.
                    Json::Number((Quantity::Thickness.si(value, units) * 1e7).round() / 1e4)
                }
                Ok(value) if value.is_finite() => Json::Number(value),
                _ => {
                    problems.at_key(question.map_or("", |question| question.label), format!("{typed:?} is no number"), "a number");
                    continue;
                }
            },
            Answer::Tile => {
                Json::Text(tiles.iter().find(|tile| tile.id.eq_ignore_ascii_case(typed)).map_or(typed, |tile| &tile.id).to_string())
            }
            _ => Json::text(typed),
        };
        fields.push((column.clone(), value));
    }
    let place = |name: &str| COLUMNS.iter().position(|column| *column == name).unwrap_or(COLUMNS.len());
    fields.order_by_key(|(name, _)| place(name));
    let row = Json::Object(fields);
    if problems.is_empty() {
        finding_from_json(&row, "finding", tiles, &mut problems);
    }
    if !problems.is_empty() {
        return Err(problems.into_error());
    }
    let mut scenario = scenario.clone();
    let same = |other: &Json| other.get("finding") == row.get("finding");
    match scenario.findings.iter().position(same) {
        Some(at) => scenario.findings[at] = row,
        None => scenario.findings.push(row),
    }
    Ok(scenario)
}

/// The scenario without its own finding of this id (the vehicle's of the same id stands again); `None` where it has none.
pub fn without(scenario: &Scenario, id: &str) -> Option<Scenario> {
    let at = scenario.findings.iter().position(|row| row.get("finding").and_then(Json::as_text) == Some(id))?;
    let mut scenario = scenario.clone();
    scenario.findings.remove(at);
    Some(scenario)
}

/// A finding's sizes in words, as many as it gives: `42 × 18 mm, 6.0 mm deep`.
pub fn size_words(finding: &Finding, units: UnitSystem) -> String {
    let one = |mm: f64| Quantity::Thickness.text(mm / 1000.0, units);
    let mut parts = Vec::new();
    match (finding.length_mm, finding.width_mm) {
        (Some(length), Some(width)) => {
            parts.push(format!("{} × {}", Quantity::Thickness.number(length / 1000.0, units), one(width)));
        }
        (Some(length), None) => parts.push(format!("{} long", one(length))),
        _ => {}
    }
    parts.extend(finding.depth_mm.map(|mm| format!("{} deep", one(mm))));
    parts.extend(finding.step_mm.map(|mm| format!("step {}", Quantity::Thickness.signed(mm / 1000.0, units))));
    parts.extend(finding.gap_mm.map(|mm| format!("gap {}", one(mm))));
    parts.extend(finding.protrusion_mm.map(|mm| format!("{} proud", one(mm))));
    parts.join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shield::findings::{JOINTS, KINDS};

    fn tiles() -> Vec<Tile> {
        ["0001", "0002"].map(|id| Tile { id: id.to_string(), thickness_m: 0.03, largest_side_m: 0.25, ..Tile::default() }).to_vec()
    }

    fn answers(list: &[(&str, &str)]) -> Vec<(String, String)> {
        list.iter().map(|(a, b)| (a.to_string(), b.to_string())).collect()
    }

    #[test]
    fn verif_a_kind_asks_what_its_rows_need_and_nothing_of_another() {
        for kind in KINDS {
            let asked = questions(kind);
            assert_eq!(asked.iter().any(|q| q.column == "tile_2"), JOINTS.contains(&kind), "{kind}");
            for question in &asked {
                assert!(COLUMNS.contains(&question.column), "{kind}: {}", question.column);
            }
        }
        assert!(questions("doubtful-bond").is_empty());
    }

    #[test]
    fn verif_answers_become_a_row_in_either_unit_and_come_back() {
        let typed = answers(&[
            ("finding", "F001"),
            ("tile", "0001"),
            ("kind", "gouge"),
            ("length_mm", "2"),
            ("depth_mm", "0.25"),
            ("found_on", "2031-05-03"),
            ("note", "=1+1 <b>"),
        ]);
        let us = answered(&Scenario::with_entries(Vec::new()), None, &typed, &tiles(), UnitSystem::Us).unwrap();
        let mut problems = Problems::of("x");
        let finding = finding_from_json(&us.findings[0], "x", &tiles(), &mut problems).unwrap();
        assert_eq!((finding.length_mm, finding.depth_mm), (Some(50.8), Some(6.35)));
        assert_eq!(finding.note, "=1+1 <b>");
        assert_eq!(shown(&finding, "depth_mm", Answer::Size, &tiles(), UnitSystem::Us), "0.25");
        assert_eq!(shown(&finding, "depth_mm", Answer::Size, &tiles(), UnitSystem::Si), "6.35");
        assert_eq!(without(&us, "F001").unwrap(), Scenario::with_entries(Vec::new()));
        assert_eq!(without(&us, "F002"), None);
    }

    #[test]
    fn verif_what_is_missing_or_impossible_is_told_and_nothing_changes() {
        for (list, told) in [
            (
                vec![
                    ("finding", "F1"),
                    ("tile", "0001"),
                    ("kind", "gouge"),
                    ("length_mm", "20"),
                    ("depth_mm", ""),
                    ("found_on", "2031-05-03"),
                ],
                "depth",
            ),
            (
                vec![
                    ("finding", "F1"),
                    ("tile", "0001"),
                    ("kind", "gouge"),
                    ("length_mm", "20"),
                    ("depth_mm", "40"),
                    ("found_on", "2031-05-03"),
                ],
                "40 mm",
            ),
            (
                vec![
                    ("finding", "F1"),
                    ("tile", "0001"),
                    ("kind", "gouge"),
                    ("length_mm", "wide"),
                    ("depth_mm", "4"),
                    ("found_on", "2031-05-03"),
                ],
                "\"wide\"",
            ),
            (
                vec![
                    ("finding", "F1"),
                    ("tile", "0001"),
                    ("kind", "step"),
                    ("tile_2", "0009"),
                    ("step_mm", "1"),
                    ("found_on", "2031-05-03"),
                ],
                "\"0009\"",
            ),
            (vec![("finding", "F1"), ("tile", "0001"), ("kind", "doubtful-bond"), ("found_on", "2031-02-30")], "2031-02-30"),
        ] {
            let error =
                answered(&Scenario::with_entries(Vec::new()), None, &answers(&list), &tiles(), UnitSystem::Si).unwrap_err().to_string();
            assert!(error.contains(told), "{error}");
        }
    }

    #[test]
    fn verif_an_edit_replaces_its_row_and_keeps_what_the_form_does_not_show() {
        let before = Finding {
            finding: "F7".into(),
            kind: "chip".into(),
            length_mm: Some(9.0),
            depth_mm: Some(1.0),
            decision: "watch".into(),
            ..Finding::default()
        };
        let typed = answers(&[("kind", "chip"), ("length_mm", "12"), ("depth_mm", "1"), ("found_on", "2031-05-03")]);
        let once = answered(&Scenario::with_entries(Vec::new()), Some(&before), &typed, &tiles(), UnitSystem::Si).unwrap();
        let twice = answered(&once, Some(&before), &typed, &tiles(), UnitSystem::Si).unwrap();
        assert_eq!(once, twice);
        assert_eq!(once.findings[0].get("decision").and_then(Json::as_text), Some("watch"));
        assert_eq!(once.findings[0].get("length_mm").and_then(Json::as_number), Some(12.0));
        assert_eq!(next_id(&[before]), "F008");
        assert_eq!(next_id(&[]), "F001");
    }
}
