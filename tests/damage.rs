//! What findings do to temperatures, over the demonstration: with and without side by side, the bound.

use std::time::Instant;
use tileglow::assess::damage::{Effort, Subject};
use tileglow::assess::effects::{Effects, Model};
use tileglow::assess::{self, Prepared, present};
use tileglow::report::damage::{Answer, COLUMNS, damage_csv, effects_csv, present_csv};
use tileglow::scenario::Scenario;
use tileglow::shield::{Finding, Shield, demo, load};

fn demonstration() -> (Shield, Scenario, Prepared, Vec<Finding>, Effects) {
    let shield = load(&demo::files(), demo::NAME).unwrap();
    let scenario = Scenario::read("scenario.json", &demo::scenario_json(), &[]).unwrap();
    let prepared = Prepared::new(&shield, &scenario).unwrap();
    let findings = assess::findings(&shield, &scenario).unwrap();
    let effects = Effects::of(&scenario.inspection).unwrap();
    (shield, scenario, prepared, findings, effects)
}

#[test]
fn verif_the_impact_cavity_heats_its_tile_and_stays_below_the_bound() {
    let (shield, scenario, prepared, findings, effects) = demonstration();
    let finding = findings.iter().find(|finding| finding.kind == "impact-cavity").unwrap();
    let subject = Subject::new(&shield, &scenario, &prepared, finding.tile).unwrap();
    let start = Instant::now();
    let damage = subject.damage(&effects, finding, Effort::Full).unwrap();
    let full_s = start.elapsed().as_secs_f64();
    let start = Instant::now();
    let quick = subject.damage(&effects, finding, Effort::Quick).unwrap();
    println!("full {full_s:.2} s, quick {:.2} s", start.elapsed().as_secs_f64());
    let (without, with, bound) = (damage.without, damage.with.unwrap(), damage.bound.unwrap());
    println!("without {without:?}\nwith {with:?}\nbound {bound:?}\nmargins {:?} {:?}", damage.margins_without, damage.margins_with);
    assert!(with.bondline_k > without.bondline_k + 20.0 && with.bondline_k < bound.bondline_k);
    assert!(with.structure_k >= without.structure_k && with.structure_k < bound.structure_k);
    assert!(with.numerical_error_k < 15.0 && without.numerical_error_k < 3.0);
    // The one grid is within what the two say.
    let gap = (quick.with.unwrap().bondline_k - with.bondline_k).abs();
    assert!(gap <= with.numerical_error_k + 1e-9, "{gap}");
    assert_eq!(damage.rows.len(), 6);
}

#[test]
fn verif_what_is_no_temperature_says_so_and_changes_none() {
    let (shield, scenario, prepared, findings, effects) = demonstration();
    for kind in ["doubtful-bond", "contamination", "discoloration", "step"] {
        let finding = findings.iter().find(|finding| finding.kind == kind && prepared.tiles[finding.tile].stack.is_some()).unwrap();
        let subject = Subject::new(&shield, &scenario, &prepared, finding.tile).unwrap();
        let damage = subject.damage(&effects, finding, Effort::Quick).unwrap();
        assert!(damage.with.is_none() && damage.bound.is_none() && !damage.model.words().is_empty(), "{kind}");
    }
    let missing = Finding { kind: "missing-tile".to_string(), ..findings[0].clone() };
    let belly = findings.iter().find(|finding| finding.kind == "impact-cavity").unwrap().tile;
    let subject = Subject::new(&shield, &scenario, &prepared, belly).unwrap();
    let damage = subject.damage(&effects, &missing, Effort::Quick).unwrap();
    assert!(matches!(damage.model, Model::Bare { .. }));
    assert!(damage.margins_with.unwrap().least_k().unwrap() < -50.0, "{damage:?}");
}

#[test]
fn verif_a_deeper_gouge_never_raises_the_margin_at_a_fixed_factor() {
    let (shield, scenario, prepared, findings, effects) = demonstration();
    let tile = findings.iter().find(|finding| finding.kind == "impact-cavity").unwrap().tile;
    let subject = Subject::new(&shield, &scenario, &prepared, tile).unwrap();
    let without = subject.undamaged(Effort::Quick).unwrap();
    let row = &shield.tiles[tile];
    let mut last = [f64::INFINITY; 2];
    for share in [0.1, 0.3, 0.5, 0.7, 0.9] {
        // One length over depth for all: the same rows.
        let with = subject.cavity(&effects, "gouge", [0.02, share * row.thickness_m, 5.0], &without, Effort::Quick).unwrap();
        let margins = subject.margins(&with, true);
        let got = [margins.bondline_k.unwrap(), margins.structure_k.unwrap()];
        assert!(got[0] <= last[0] + 1e-9 && got[1] <= last[1] + 1e-9, "{share}: {got:?} after {last:?}");
        last = got;
    }
}

#[test]
fn verif_the_plain_grids_state_an_error_that_holds() {
    let (shield, scenario, prepared, findings, effects) = demonstration();
    let asked = present::asked(&shield, &prepared, &findings);
    assert!(asked.len() > 60);
    let answer = |finding: &Finding, effort| {
        present::answer(&shield, &scenario, &prepared, &effects, finding, effort).unwrap().unwrap().with.unwrap()
    };
    for place in asked.iter().step_by(asked.len() / 5) {
        let finding = &findings[*place];
        let (plain, full) = (answer(finding, Effort::Plain), answer(finding, Effort::Full));
        let off = [plain.surface_k - full.surface_k, plain.bondline_k - full.bondline_k, plain.structure_k - full.structure_k];
        println!("{} {}: off by {off:.2?} K, stated {:.2} K", finding.finding, finding.kind, plain.numerical_error_k);
        assert!(off.iter().all(|off| off.abs() <= plain.numerical_error_k + full.numerical_error_k), "{off:?}");
    }
}

#[test]
fn verif_the_table_sets_both_sides_apart_and_a_finding_never_raises_a_margin() {
    let (shield, scenario, prepared, mut findings, effects) = demonstration();
    findings[0].finding = "=HYPERLINK(1)".to_string();
    let results = assess::assess(&shield, &scenario, &prepared, &findings);
    let standing = assess::history::standings(&findings, assess::history::present_flight(&shield, &findings));
    let mut answers: Vec<Answer> = vec![None; findings.len()];
    let asked = present::asked(&shield, &prepared, &findings);
    for place in asked.iter().copied().step_by(7) {
        assert!(!standing[place].closed);
        let damage = present::answer(&shield, &scenario, &prepared, &effects, &findings[place], Effort::Quick).unwrap().unwrap();
        let sides = present::sides(&results.tiles[findings[place].tile], &damage);
        let (with, bound) = (sides.with.unwrap(), sides.bound.unwrap());
        assert!(with.surface_k <= sides.without.surface_k && with.bondline_k <= sides.without.bondline_k);
        assert!(bound.bondline_k.unwrap_or(0.0) <= with.bondline_k.unwrap_or(0.0) + 1.0);
        answers[place] = Some(Ok(damage));
    }
    answers[asked[1]] = Some(Err("no answer".to_string()));
    let present = present::present(&shield, &prepared, &findings, &results, |place| answers[place].as_ref()?.as_ref().ok());
    let tiles: std::collections::BTreeSet<usize> =
        (0..findings.len()).filter(|i| matches!(answers[*i], Some(Ok(_)))).map(|i| findings[i].tile).collect();
    assert_eq!(present.iter().map(|row| row.tile).collect::<Vec<_>>(), tiles.into_iter().collect::<Vec<_>>());
    for row in &present {
        // Less margin never betters a condition.
        assert!(row.with.least_k() <= row.without.least_k() && row.condition >= results.tiles[row.tile].condition);
    }
    assert_eq!(present_csv(&shield, &findings, &results, &present).lines().count(), present.len() + 1);
    let text = damage_csv(&shield, &findings, &results, &answers);
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert_eq!((rows.len(), rows[0].get(0)), (findings.len(), Some("'=HYPERLINK(1)")));
    let column = |name: &str| COLUMNS.iter().position(|known| *known == name).unwrap();
    for (row, (standing, answer)) in rows.iter().zip(standing.iter().zip(&answers)) {
        assert_eq!(&row[column("standing")] == "no", standing.closed);
        assert_eq!(row[column("peak_bondline_with_k")].is_empty(), !matches!(answer, Some(Ok(_))));
        assert!(!row[column("relation")].is_empty());
    }
    assert_eq!(&rows[asked[1]][column("note")], "no answer");
    // The table of rows stands beside it, laminar and turbulent, with what flight is more than the tunnel.
    let table = effects_csv(&effects);
    assert_eq!(table.lines().count(), effects.rows.len() + 1);
    for row in ["floor,chip gouge impact-cavity missing-tile,laminar,0,10,0.3,1.67,0.501", "1,1.2,1.2,1,1.5"] {
        assert!(table.contains(row), "{row}");
    }
}
