//! From findings to work, over the demonstration: import and export, conditions, decisions, the work list. Definitions, no outside values.

use proptest::prelude::*;
use std::sync::OnceLock;
use std::time::Instant;
use tileglow::assess::history;
use tileglow::assess::work::{Work, work};
use tileglow::assess::{self, Assessment, Condition, Disposition, Prepared};
use tileglow::document::{Json, Problems};
use tileglow::report::work::work_csv;
use tileglow::scenario::{Scenario, Waterproofing};
use tileglow::shield::findings::{COLUMNS, JOINTS, KINDS, read};
use tileglow::shield::{Finding, Shield, demo, finding_to_json, findings_csv, load};

struct Demo {
    shield: Shield,
    scenario: Scenario,
    prepared: Prepared,
    findings: Vec<Finding>,
    results: Assessment,
}

fn demonstration() -> &'static Demo {
    static DEMO: OnceLock<Demo> = OnceLock::new();
    DEMO.get_or_init(|| {
        let shield = load(&demo::files(), demo::NAME).unwrap();
        let scenario = Scenario::read("scenario.json", &demo::scenario_json(), &[]).unwrap();
        let prepared = Prepared::new(&shield, &scenario).unwrap();
        let findings = assess::findings(&shield, &scenario).unwrap();
        let results = assess::assess(&shield, &scenario, &prepared, &findings);
        Demo { shield, scenario, prepared, findings, results }
    })
}

/// The work under a scenario with other findings.
fn worked(demo: &Demo, scenario: &Scenario, findings: &[Finding]) -> Work {
    let results = assess::assess(&demo.shield, scenario, &demo.prepared, findings);
    work(&demo.shield, scenario, findings, &results).unwrap()
}

/// Any finding that the demonstration's tiles allow.
fn any_finding(tiles: usize) -> impl Strategy<Value = Finding> {
    let size = || proptest::option::of(0.0f64..6.0);
    let text =
        || prop_oneof![Just(String::new()), "[ -~\u{202e}\u{e9}]{0,12}", Just("=1+1".to_string()), Just("'-x, \"y\"\r\n<b>".to_string())];
    let numbers =
        (size(), size(), size(), size(), size(), proptest::option::of(-6.0f64..6.0), size(), proptest::option::of(-90.0f64..90.0));
    let texts = (text(), text(), text(), text(), text());
    (0..KINDS.len(), 0..tiles, any::<bool>(), numbers, texts, proptest::option::of(4u32..9)).prop_map(
        move |(kind, tile, two, n, t, flight)| {
            // A cell is read without the white space around it; what is left empty is no text.
            let trimmed = |text: String| text.trim().to_string();
            Finding {
                finding: String::new(),
                kind: KINDS[kind].to_string(),
                tile,
                tile_2: two.then_some((tile + 1) % tiles),
                u_mm: n.0,
                v_mm: n.5,
                length_mm: n.1,
                width_mm: n.2,
                depth_mm: n.3,
                gap_mm: n.4,
                step_mm: n.5,
                protrusion_mm: n.6,
                orientation_deg: n.7,
                found_on: "2031-05-04".to_string(),
                flight,
                found_by: trimmed(t.0),
                method: trimmed(t.1),
                photograph: trimmed(t.2),
                note: trimmed(t.3),
                decision: trimmed(t.4),
                decided_by: String::new(),
                decided_on: String::new(),
                decision_reason: "r".to_string(),
            }
        },
    )
}

fn numbered(mut list: Vec<Finding>) -> Vec<Finding> {
    for (i, finding) in list.iter_mut().enumerate() {
        finding.finding = format!("={i}");
    }
    list
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn verif_import_of_the_export_is_identity(list in proptest::collection::vec(any_finding(2000), 0..12)) {
        let demo = demonstration();
        let list = numbered(list);
        let text = findings_csv(&list, &demo.shield.tiles);
        let back = read("findings.csv", text.as_bytes(), &demo.shield.tiles, &mut Vec::new()).unwrap();
        prop_assert_eq!(&back, &list);
        prop_assert_eq!(findings_csv(&back, &demo.shield.tiles), text);
        let mut scenario = demo.scenario.clone();
        scenario.findings = list.iter().map(|finding| finding_to_json(finding, &demo.shield.tiles)).collect();
        let again = Scenario::read("s", &scenario.to_json().pretty(), &[]).unwrap();
        let joined = assess::findings(&demo.shield, &again).unwrap();
        prop_assert_eq!(&joined[demo.findings.len()..], &list[..]);
    }

    #[test]
    fn verif_a_finding_removed_restores_the_numbers(finding in any_finding(2000)) {
        let demo = demonstration();
        let mut with = demo.scenario.clone();
        let finding = numbered(vec![finding]).remove(0);
        with.findings = vec![finding_to_json(&finding, &demo.shield.tiles)];
        let mut prepared = demo.prepared.clone();
        prepared.update(&demo.shield, &with).unwrap();
        let list = assess::findings(&demo.shield, &with).unwrap();
        let there = assess::assess(&demo.shield, &with, &prepared, &list);
        prepared.update(&demo.shield, &demo.scenario).unwrap();
        let back = assess::assess(&demo.shield, &demo.scenario, &prepared, &demo.findings);
        prop_assert_eq!(&back, &demo.results);
        let touched = |tile: usize| tile == finding.tile || Some(tile) == finding.tile_2;
        for (tile, (a, b)) in there.tiles.iter().zip(&back.tiles).enumerate() {
            prop_assert!(touched(tile) || (a.condition, a.disposition) == (b.condition, b.disposition));
            prop_assert!(a.condition >= b.condition || finding.flight.is_some());
        }
    }

    #[test]
    fn verif_the_timetable_keeps_its_order_and_its_crew(
        list in proptest::collection::vec(any_finding(400), 0..60), people in 2u32..10, inspectors in 2u32..4
    ) {
        let demo = demonstration();
        let mut scenario = demo.scenario.clone();
        scenario.work.people = people;
        scenario.work.skills.insert("inspector".to_string(), f64::from(inspectors));
        let work = worked(demo, &scenario, &numbered(list));
        prop_assert!(work.activities.len() == work.deeds.len() && !work.activities.is_empty());
        let span = |i: usize| (work.schedule.start_min[i], work.schedule.start_min[i] + work.activities[i].duration_min);
        // Changes of head count in time order, ends before starts.
        let peak = |counts: &dyn Fn(usize) -> bool| {
            let mut changes: Vec<(u64, i64)> = Vec::new();
            for (i, activity) in work.activities.iter().enumerate().filter(|(i, activity)| counts(*i) && activity.people > 0) {
                changes.extend([(span(i).0, i64::from(activity.people)), (span(i).1, -i64::from(activity.people))]);
            }
            changes.sort();
            let mut there = 0;
            changes.iter().map(|(_, change)| { there += change; there }).max().unwrap_or(0)
        };
        prop_assert!(peak(&|_| true) <= i64::from(people));
        let inspector = work.rates.skills.iter().position(|skill| skill == "inspector").unwrap();
        prop_assert!(peak(&|i| work.activities[i].skill == inspector) <= i64::from(inspectors));
        for (i, activity) in work.activities.iter().enumerate() {
            prop_assert!(activity.after.iter().all(|before| span(*before).1 <= span(i).0));
        }
        // A tile is made waterproof after everything else on it.
        for job in work.jobs.iter().filter(|job| work.rates.procedures[job.procedure].disposition == "waterproof") {
            let from = work.schedule.start_min[job.activities.start];
            for other in work.jobs.iter().filter(|other| work.rates.procedures[other.procedure].disposition != "waterproof") {
                let shared = other.pieces.iter().any(|piece| job.pieces.iter().any(|mine| mine.tile == piece.tile));
                prop_assert!(!shared || other.activities.clone().all(|i| span(i).1 <= from));
            }
        }
        let skills: f64 = work.hours_by_skill.iter().map(|(_, hours)| hours).sum();
        prop_assert!((skills - work.deeds.iter().map(|deed| deed.touch_h).sum::<f64>()).abs() < 1e-9 * skills);
    }
}

#[test]
fn verif_five_thousand_findings_come_in_at_once() {
    let demo = demonstration();
    let list: Vec<Finding> = (0..5000)
        .map(|i| Finding { finding: format!("N{i}"), flight: Some(3), ..demo.findings[i % demo.findings.len()].clone() })
        .collect();
    let text = findings_csv(&list, &demo.shield.tiles);
    let start = Instant::now();
    let back = read("findings.csv", text.as_bytes(), &demo.shield.tiles, &mut Vec::new()).unwrap();
    let csv_s = start.elapsed().as_secs_f64();
    assert_eq!(back, list);
    let mut scenario = demo.scenario.clone();
    scenario.findings = list.iter().map(|finding| finding_to_json(finding, &demo.shield.tiles)).collect();
    let start = Instant::now();
    let joined = assess::findings(&demo.shield, &scenario).unwrap();
    let json_s = start.elapsed().as_secs_f64();
    assert_eq!(joined.len(), demo.findings.len() + 5000);
    let start = Instant::now();
    let work = worked(demo, &scenario, &joined);
    let work_s = start.elapsed().as_secs_f64();
    println!(
        "5,000 findings: CSV {csv_s:.3} s, scenario {json_s:.3} s, judged and scheduled ({} activities) {work_s:.3} s",
        work.activities.len()
    );
}

#[test]
fn verif_a_thousand_bad_rows_are_counted_and_nothing_comes_in() {
    let demo = demonstration();
    let mut text = COLUMNS.join(",") + "\n";
    for i in 0..1000 {
        text += &format!("B{i},nowhere,,gouge,,,,,9999,,,,,2031-02-30{}\n", ",".repeat(9));
    }
    let error = read("findings.csv", text.as_bytes(), &demo.shield.tiles, &mut Vec::new()).unwrap_err();
    let message = error.to_string();
    assert_eq!(error.exit_code(), 2);
    assert!(message.contains("2000 problems") && message.contains("row 2") && message.chars().count() <= 4000, "{message}");
}

#[test]
fn verif_decisions_go_before_suggestions_only_when_signed() {
    let demo = demonstration();
    let at = demo.findings.iter().position(|finding| finding.kind == "doubtful-bond").unwrap();
    let hours = |decision: &str, by: &str| {
        let mut list = demo.findings.clone();
        let finding = &mut list[at];
        (finding.decision, finding.decided_by, finding.decided_on) = (decision.to_string(), by.to_string(), "2031-05-20".to_string());
        let work = worked(demo, &demo.scenario, &list);
        let on: Vec<String> = (work.jobs.iter())
            .filter(|job| job.pieces.iter().any(|piece| piece.findings.contains(&at)))
            .map(|job| work.rates.procedures[job.procedure].procedure.clone())
            .collect();
        (on, work.warnings.join("; "))
    };
    assert_eq!(hours("", "").0, ["prove bond"]);
    assert_eq!(hours("replace", "R. Lindqvist").0, ["replace tile"]);
    assert_eq!(hours("fly-as-is", "R. Lindqvist").0, [""; 0]);
    let unsigned = hours("replace", "");
    assert!(unsigned.0 == ["prove bond"] && unsigned.1.contains("lack decided_by"), "{unsigned:?}");
    let unknown = hours("scrap", "R. Lindqvist");
    assert!(unknown.0 == ["prove bond"] && unknown.1.contains("none of fly-as-is"), "{unknown:?}");
}

#[test]
fn verif_condition_disposition_and_rule_stand_together() {
    let demo = demonstration();
    for result in &demo.results.tiles {
        assert_eq!(result.disposition.is_some(), !result.rule.is_empty());
        assert!(result.condition != Condition::NotCleared || result.disposition != Some(Disposition::FlyAsIs));
    }
    let bond = demo.findings.iter().find(|finding| finding.kind == "doubtful-bond").unwrap();
    let rule = &demo.results.tiles[bond.tile].rule;
    assert!(rule.starts_with("any doubtful-bond (doubtful bond; common practice"), "{rule}");
}

/// A tile to be reviewed for its margin is in the work whatever less its findings ask, judged as designed or with its findings; a person's decision goes first.
#[test]
fn verif_a_short_tile_is_reviewed_beside_its_findings() {
    use tileglow::assess::damage::Margins;
    use tileglow::assess::present::{Present, judged};
    let demo = demonstration();
    let (place, finding) = (demo.findings.iter().enumerate())
        .find(|(_, finding)| {
            let result = &demo.results.tiles[finding.tile];
            let alone = demo.findings.iter().filter(|other| other.tile == finding.tile || other.tile_2 == Some(finding.tile)).count() == 1;
            alone && finding.kind == "gouge" && finding.decision.is_empty() && result.condition < Condition::NotCleared
        })
        .unwrap();
    let tile = finding.tile;
    let short = Present {
        tile,
        findings: vec![place],
        without: Margins::default(),
        with: Margins { bondline_k: Some(-4.0), ..Margins::default() },
        condition: Condition::NotCleared,
        disposition: Some(Disposition::EngineeringReview),
        rule: "margin below 0 K".to_string(),
    };
    let reviews = |results: &Assessment, findings: &[Finding]| {
        let work = work(&demo.shield, &demo.scenario, findings, results).unwrap();
        let of_tile = |piece: &&tileglow::assess::work::Piece| {
            piece.tile == tile && work.rates.procedures[piece.procedure].disposition == Disposition::EngineeringReview.word()
        };
        work.jobs.iter().flat_map(|job| &job.pieces).filter(of_tile).count()
    };
    let with = judged(&demo.results, std::slice::from_ref(&short));
    assert_eq!((reviews(&demo.results, &demo.findings), reviews(&with, &demo.findings)), (0, 1));
    assert_eq!((with.tiles[tile].condition, with.tiles[tile].margin_k), (Condition::NotCleared, demo.results.tiles[tile].margin_k));
    let mut decided = demo.findings.clone();
    (decided[place].decision, decided[place].decided_by, decided[place].decided_on) =
        ("fly-as-is".to_string(), "R. Lindqvist".to_string(), "2031-05-02".to_string());
    assert_eq!(reviews(&with, &decided), 0);
    // Nothing else of the results moves.
    let mut back = with.clone();
    back.tiles[tile] = demo.results.tiles[tile].clone();
    assert_eq!(back, demo.results);
}

#[test]
fn verif_skipping_waterproofing_saves_what_it_says_and_keeps_what_was_opened() {
    let demo = demonstration();
    let every = worked(demo, &demo.scenario, &demo.findings);
    let mut scenario = demo.scenario.clone();
    scenario.work.waterproofing = Waterproofing::BurnedOut { isotherm_k: 838.0, depth_mm: 0.0 };
    let some = worked(demo, &scenario, &demo.findings);
    let (done, skipped) = (&some.treatment.tiles, &some.treatment.skipped);
    assert_eq!(done.len() + skipped.len(), every.treatment.tiles.len());
    assert!(!skipped.is_empty() && some.touch_h() < every.touch_h() && some.saved_touch_h > 0.0);
    for tile in skipped {
        assert!(demo.results.tiles[*tile].surface.temperature_k <= 838.0);
        let opened = |finding: &&Finding| {
            let mine = finding.tile == *tile || (JOINTS.contains(&finding.kind.as_str()) && finding.tile_2 == Some(*tile));
            mine && demo.results.tiles[*tile].condition == Condition::Repair && finding.tile == *tile
        };
        assert!(!demo.findings.iter().any(|finding| opened(&finding)), "{tile}");
    }
    // Nothing is colder than an isotherm of 1 K: then every tile is done.
    scenario.work.waterproofing = Waterproofing::BurnedOut { isotherm_k: 1.0, depth_mm: 0.0 };
    assert_eq!(worked(demo, &scenario, &demo.findings).treatment.tiles, every.treatment.tiles);
}

#[test]
fn verif_the_table_holds_every_activity_guarded_and_summed() {
    let demo = demonstration();
    let mut list = demo.findings.clone();
    let bond = list.iter().position(|finding| finding.kind == "doubtful-bond").unwrap();
    list[bond].finding = "=HYPERLINK(1)".to_string();
    let work = worked(demo, &demo.scenario, &list);
    let text = work_csv(&demo.shield, &list, &work);
    assert_eq!(text.lines().count(), work.activities.len() + 1);
    assert!(!text.contains(",=HYPERLINK") && text.contains("HYPERLINK"));
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let mut touched = 0.0;
    for row in reader.records() {
        touched += row.unwrap()[12].parse::<f64>().unwrap();
    }
    assert!((touched - work.touch_h()).abs() < 1e-3, "{touched} {}", work.touch_h());
    // The same work, byte for byte, from the same input.
    assert_eq!(text, work_csv(&demo.shield, &list, &worked(demo, &demo.scenario, &list)));
}

#[test]
fn verif_wrong_rows_of_rules_and_rates_are_refused_with_their_path() {
    let demo = demonstration();
    let row = |text: &str| vec![Json::parse("r", text).unwrap()];
    let mut scenario = demo.scenario.clone();
    scenario.inspection.rules = row(r#"{"rule":"x","kind":"chip","measure":"size","condition":"watch","disposition":"watch"}"#);
    scenario.inspection.consequence.insert("attic".to_string(), 2.0);
    scenario.inspection.likelihood.insert("planned".to_string(), 2.0);
    scenario.work.tasks = row(r#"{"task":"x","skill":"y","touch_h":-1}"#);
    let message = assess::findings(&demo.shield, &scenario).unwrap_err().to_string();
    for part in ["inspection.rules[0].measure", "\"attic\"", "inspection.likelihood.planned", "work.tasks[0].touch_h"] {
        assert!(message.contains(part), "{part}: {message}");
    }
    let mut problems = Problems::of("s");
    let twice = vec![finding_to_json(&demo.findings[0], &demo.shield.tiles); 2];
    tileglow::shield::findings::findings_from_json(&twice, &demo.shield.tiles, &mut problems);
    assert!(problems.into_error().to_string().contains("findings[1].finding"));
}

#[test]
fn verif_the_demonstration_grew_from_flight_to_flight() {
    let demo = demonstration();
    let present = history::present_flight(&demo.shield, &demo.findings);
    assert_eq!(present, Some(3));
    let standings = history::standings(&demo.findings, present);
    // What stands is of the third flight; everything before was mended or noted again.
    for (finding, standing) in demo.findings.iter().zip(&standings) {
        assert_eq!(standing.closed, finding.flight < Some(3), "{}", finding.finding);
    }
    let grown: Vec<(&str, f64)> = (demo.findings.iter().zip(&standings))
        .filter(|(_, standing)| !standing.closed)
        .filter_map(|(finding, standing)| Some((finding.kind.as_str(), standing.growth_mm?)))
        .collect();
    assert!(grown.len() >= 5 && grown.iter().all(|(_, growth)| *growth > 0.0), "{grown:?}");
    // The proud joint is one of them, and its growth is beyond its rule.
    assert!(grown.iter().any(|(kind, growth)| *kind == "step" && *growth > 0.5), "{grown:?}");
    let tile = demo.findings[standings.iter().position(|standing| standing.growth_mm.is_some()).unwrap()].tile;
    let own: Vec<&Finding> = demo.findings.iter().filter(|finding| finding.tile == tile || finding.tile_2 == Some(tile)).collect();
    let strip = history::strip(&demo.shield, tile, &own, present);
    assert!(strip.len() >= 2 && strip.last().unwrap().flight == 3 && strip.iter().filter(|lived| lived.found > 0).count() >= 2);
}
