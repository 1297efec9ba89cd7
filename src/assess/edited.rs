//! After an edited finding: what is kept equals a whole redo to the bit, and only what moved is solved again.

use super::depth::{Setup, Tables, TileDepth};
use super::reach::{self, Question, Reach};
use super::rounds::{Answers, Round, Work};
use super::{Assessment, InDepth, Kept, Prepared, assess_keeping, first_look, settle, settle_keeping, with_depth_keeping};
use crate::document::json::Json;
use crate::heating::local::LANES;
use crate::heating::{Roughness, Surface, Transition};
use crate::scenario::{Scenario, Term};
use crate::shield::{Shield, demo, load};

/// The demonstration with findings of the scenario's own, over its first entries.
fn scenario(entries: usize, findings: &[String]) -> Scenario {
    let mut scenario = Scenario::read("scenario.json", &demo::scenario_json(), &[]).unwrap();
    scenario.entries.truncate(entries);
    scenario.findings = findings.iter().map(|text| Json::parse("findings", text).unwrap()).collect();
    scenario
}

fn finding(shield: &Shield, tile: usize, kind: &str, more: &str) -> String {
    format!(r#"{{"finding": "Z1", "tile": "{}", "kind": "{kind}"{more}}}"#, shield.tiles[tile].id)
}

/// On the joint with the first neighbour.
fn on_joint(shield: &Shield, tile: usize, kind: &str, more: &str) -> String {
    let other = shield.tiles[tile].neighbours[0] as usize;
    finding(shield, tile, kind, &format!(r#", "tile_2": "{}", {more}"#, shield.tiles[other].id))
}

/// A tile of the windward side well ahead, with much of the shield behind it.
pub(super) fn belly(shield: &Shield) -> usize {
    let wanted = glam::DVec3::new(2.5, 0.0, -1.0);
    let away = |tile: &usize| (shield.tiles[*tile].facet.centre - wanted).length();
    let windward = (0..shield.tiles.len()).filter(|tile| shield.tiles[*tile].facet.normal.z < -0.9);
    windward.min_by(|a, b| away(a).total_cmp(&away(b))).unwrap()
}

fn whole_surface(shield: &Shield, scenario: &Scenario) -> (Prepared, Assessment) {
    let prepared = Prepared::new(shield, scenario).unwrap();
    let mut results = assess_keeping(shield, scenario, &prepared, &prepared.findings, &mut Kept::default());
    settle(&prepared, &mut results);
    (prepared, results)
}

fn count(list: &[bool]) -> usize {
    list.iter().filter(|one| **one).count()
}

/// Added, edited, removed: the surface of every tile is that of a whole redo, few tiles move in depth, and each that does not has the same solution.
#[test]
fn verif_an_edited_finding_leaves_the_rest_to_the_bit() {
    let shield = load(&demo::files(), demo::NAME).unwrap();
    let tables = Tables::of(&shield.library);
    let at = shield.tiles.len() / 2;
    let steps: [(&str, Vec<String>, usize); 8] = [
        ("a step", vec![on_joint(&shield, at, "step", r#""step_mm": 2"#)], 1),
        ("a larger one", vec![on_joint(&shield, at, "step", r#""step_mm": 3.5"#)], 1),
        ("a gap instead", vec![on_joint(&shield, at, "gap", r#""gap_mm": 2.5"#)], 2),
        ("a wider one", vec![on_joint(&shield, at, "gap", r#""gap_mm": 3"#)], 1),
        (
            "a protruding filler, which without a criterion trips nothing",
            vec![on_joint(&shield, at, "protruding-filler", r#""protrusion_mm": 2"#)],
            1,
        ),
        ("a coating loss", vec![finding(&shield, at, "coating-loss", r#", "length_mm": 20, "width_mm": 10"#)], 0),
        ("another note of it", vec![finding(&shield, at, "coating-loss", r#", "length_mm": 30, "width_mm": 10"#)], 0),
        ("nothing again", Vec::new(), 0),
    ];
    let mut terms = scenario(2, &[]);
    terms.policy.terms = vec![Term { name: "heating".to_string(), fraction: 0.1, level_sigma: 3.0 }];
    let with = |findings: &[String]| Scenario { findings: scenario(1, findings).findings, ..terms.clone() };
    let (plain, first) = whole_surface(&shield, &terms);
    let mut prepared = plain.clone();
    let mut kept = Kept::default();
    for (what, findings, most) in &steps {
        let scenario = with(findings);
        let before = prepared.clone();
        prepared.update(&shield, &scenario).unwrap();
        let moved = prepared.moved_since(&before).unwrap();
        assert!(count(&moved) <= *most, "{what}: {} tiles", count(&moved));
        assert!(*most == 0 || moved.contains(&true), "{what}");
        let mut results = assess_keeping(&shield, &scenario, &prepared, &prepared.findings, &mut kept);
        settle_keeping(&prepared, &mut results, &mut kept);
        let (fresh, whole) = whole_surface(&shield, &scenario);
        assert_eq!(results, whole, "{what}");
        // In depth: the tile, those beside it, and one far away.
        let mut tiles: Vec<usize> = shield.tiles[at].neighbours.iter().map(|tile| *tile as usize).collect();
        tiles.extend([at, 7]);
        let solve = |prepared: &Prepared, scenario: &Scenario| Setup::new(&shield, scenario, prepared, &tables).unwrap().solve(&tiles);
        let (then, now, anew) = (solve(&before, &scenario), solve(&prepared, &scenario), solve(&fresh, &scenario));
        assert_eq!(now, anew, "{what}");
        for ((tile, then), now) in tiles.iter().zip(&then).zip(&now) {
            assert_eq!(then != now, moved[*tile], "{what}: tile {tile}");
        }
    }
    assert!(prepared.moved_since(&plain).is_some_and(|moved| !moved.contains(&true)));
    assert_eq!(assess_keeping(&shield, &terms, &prepared, &prepared.findings, &mut kept), {
        let mut first = first;
        first.tiles.iter_mut().for_each(|tile| (tile.surface_heating_factor, tile.heating_factor_to_limit) = (None, None));
        first
    });
}

/// With a criterion that counts sites, a step turns what lies behind it turbulent: its wedge moves and nothing else, and comes back.
#[test]
fn verif_a_site_moves_its_wedge_and_no_more() {
    let mut shield = load(&demo::files(), demo::NAME).unwrap();
    shield.findings.clear();
    let at = belly(&shield);
    let with = |findings: &[String]| {
        let mut scenario = scenario(2, findings);
        scenario.heating.choices.transition = Transition::Roughness { limit: 1e9, criterion: Roughness::Isolated };
        scenario
    };
    let other = finding(&shield, shield.tiles.len() / 3, "protruding-filler", r#", "protrusion_mm": 9"#).replace("Z1", "Z0");
    let (plain, _) = whole_surface(&shield, &with(std::slice::from_ref(&other)));
    let (mut prepared, mut kept) = (plain.clone(), Kept::default());
    let mut wedge = 0;
    for (what, finding) in [
        ("a filler that trips nothing", Some(r#""protrusion_mm": 0.01"#)),
        ("one that trips", Some(r#""protrusion_mm": 12"#)),
        ("a larger one", Some(r#""protrusion_mm": 14"#)),
        ("none", None),
    ] {
        let own = finding.map(|size| on_joint(&shield, at, "protruding-filler", size));
        let scenario = with(&std::iter::once(other.clone()).chain(own).collect::<Vec<_>>());
        let before = prepared.clone();
        prepared.update(&shield, &scenario).unwrap();
        let moved = prepared.moved_since(&before).unwrap();
        // The page's first look leaves entries out.
        kept.look = vec![true, false];
        let look = first_look(&shield, &scenario, &prepared, &prepared.findings, &mut kept);
        assert!(look.tiles.iter().all(|tile| tile.surface.temperature_k > 0.0));
        let mut results = assess_keeping(&shield, &scenario, &prepared, &prepared.findings, &mut kept);
        settle_keeping(&prepared, &mut results, &mut kept);
        let (fresh, whole) = whole_surface(&shield, &scenario);
        assert_eq!(results, whole, "{what}");
        // Wherever the heating differs, at one row in seven, the tile has moved.
        let (mut heated, then, now) = (vec![false; moved.len()], &before.surface, &fresh.surface);
        for moment in fresh.flights.iter().flat_map(|flight| &flight.moments).step_by(7) {
            for group in 0..now.groups() {
                let cold = |of: &Surface| of.heating(group, moment).unwrap().cold_wall_w_m2.to_array();
                let (then, now) = (cold(then), cold(now));
                let lanes = heated.iter_mut().skip(group * LANES).zip(then.iter().zip(&now));
                lanes.for_each(|(heated, (then, now))| *heated |= then.to_bits() != now.to_bits());
            }
        }
        assert!(heated.iter().zip(&moved).all(|(heated, moved)| *moved || !heated), "{what}");
        println!("{what}: {} tiles moved, {} are heated otherwise", count(&moved), count(&heated));
        wedge = wedge.max(count(&moved));
        assert_eq!(moved.contains(&true), finding != Some(r#""protrusion_mm": 0.01"#), "{what}");
    }
    assert!((5..shield.tiles.len() / 2).contains(&wedge), "{wedge}");
    assert!(!prepared.moved_since(&plain).unwrap().contains(&true));
}

/// Solves what waits, as the page does.
fn finish(work: &mut Work, setup: &Setup, kept: &mut Kept) -> (Assessment, [usize; 2]) {
    let mut solved = [0; 2];
    while !work.margins_stand() {
        let slice = work.slice(64).unwrap();
        let tiles: Vec<usize> = slice.tiles.iter().map(|tile| *tile as usize).collect();
        let answers = if slice.round == Round::Estimate { setup.estimate(&tiles, &[]) } else { setup.solve(&tiles) };
        solved[0] += if slice.round == Round::Full { tiles.len() } else { 0 };
        work.take(&slice, Answers::Depth(answers));
    }
    let mut results = with_depth_keeping(setup, &setup.prepared.findings, &work.solved, true, kept);
    settle_keeping(setup.prepared, &mut results, kept);
    let depth = work.solved.clone();
    work.ask(|tile| Question::of(setup, results.tiles.get(tile)?, depth.get(tile)?.as_ref()?, tile));
    while !work.complete() {
        let slice = work.slice(64).unwrap();
        let tiles: Vec<usize> = slice.tiles.iter().map(|tile| *tile as usize).collect();
        solved[1] += tiles.len();
        work.take(&slice, Answers::Reach(reach::solve(setup, &results, &work.solved, &tiles)));
    }
    reach::apply(&mut results, &work.reach);
    (results, solved)
}

/// A shield of some hundred tiles in depth, every round: what is carried over equals a whole redo, and the finding removed restores every number.
#[test]
fn verif_the_work_carried_over_is_a_whole_redo() {
    let shield = super::tests::long_plate(24, 6);
    let tables = Tables::of(&shield.library);
    let scenario = |more: &str| {
        super::tests::scenario(&format!(r#", "policy": {{"terms": [{{"name": "heating", "fraction": 0.1, "level_sigma": 3}}]}}{more}"#))
    };
    let step = |mm: f64| format!(r#", "findings": [{{"finding": "Z1", "tile": "T26", "tile_2": "T27", "kind": "step", "step_mm": {mm}}}]"#);
    let all = shield.tiles.len();
    let whole = |scenario: &Scenario| {
        let prepared = Prepared::new(&shield, scenario).unwrap();
        let setup = Setup::new(&shield, scenario, &prepared, &tables).unwrap();
        finish(&mut Work::new(1, all, (0..all).collect(), 0.0), &setup, &mut Kept::default())
    };
    let first = scenario("");
    let mut prepared = Prepared::new(&shield, &first).unwrap();
    let mut kept = Kept::default();
    let mut work = Work::new(1, all, (0..all).collect(), 0.0);
    let (plain, solved) = finish(&mut work, &Setup::new(&shield, &first, &prepared, &tables).unwrap(), &mut kept);
    assert_eq!(solved, [all, all]);
    assert_eq!(plain, whole(&first).0);
    for (step, most) in [(step(2.0), 1), (step(4.0), 1), (String::new(), 1)] {
        let scenario = scenario(&step);
        let before = prepared.clone();
        prepared.update(&shield, &scenario).unwrap();
        work.carry(&prepared.moved_since(&before).unwrap(), 0.0);
        assert!(work.round == Round::Full && work.total() == 1 && work.moves(), "{} tiles", work.total());
        let (results, solved) = finish(&mut work, &Setup::new(&shield, &scenario, &prepared, &tables).unwrap(), &mut kept);
        let (redone, _) = whole(&scenario);
        for (tile, (kept, redone)) in results.tiles.iter().zip(&redone.tiles).enumerate() {
            assert_eq!(kept, redone, "{step}: tile {tile}");
        }
        assert_eq!(results, redone);
        println!("{step:?}: {} of {all} tiles solved, {} asked how far", solved[0], solved[1]);
        assert!(solved[0] == most && solved[1] < all / 2, "{solved:?}");
        assert_eq!(results == plain, step.is_empty());
    }
    assert!(plain.tiles.iter().all(|tile| tile.in_depth == InDepth::Solved));
}

/// Work in every state of a round is carried over: what stood of a tile that did not move stands, what was on its way is dropped.
#[test]
fn verif_carried_work_keeps_what_stands() {
    let tiles = 100;
    let mut moved = vec![false; tiles];
    (moved[3], moved[40]) = (true, true);
    let depth = |slice: &super::rounds::Slice| Answers::Depth(vec![TileDepth::default(); slice.tiles.len()]);
    let mut work = Work::new(1, tiles, (0..tiles).collect(), 0.0);
    let slice = work.slice(60).unwrap();
    work.take(&slice, depth(&slice));
    let late = work.slice(20).unwrap();
    work.carry(&moved, 0.0);
    // Forty are unknown, and the two that moved.
    assert!(work.revision == 2 && work.round == Round::Estimate && (work.done, work.total()) == (0, 42), "{}", work.total());
    work.take(&late, depth(&late));
    assert_eq!((work.done, work.answers), (0, 1));
    while !work.margins_stand() {
        let slice = work.slice(64).unwrap();
        work.take(&slice, depth(&slice));
    }
    let told: Vec<Reach> = (0..tiles).map(|tile| Reach { spare_m: Some(tile as f64), ..Reach::default() }).collect();
    work.ask(|_| None);
    let slice = work.slice(tiles).unwrap();
    work.take(&slice, Answers::Reach(slice.tiles.iter().map(|tile| told[*tile as usize]).collect()));
    assert!(work.complete() && work.reach == told && !work.moves());
    work.carry(&moved, 0.0);
    assert!(work.round == Round::Full && work.total() == 2 && work.has_moved(3) && !work.has_moved(4));
    assert!(!work.is_full(3) && work.is_full(4) && work.solved[3].is_none());
    let slice = work.rest();
    assert_eq!(slice.tiles.len(), 2);
    work.take(&slice, depth(&slice));
    assert!(work.margins_stand() && !work.complete());
    work.ask(|_| None);
    assert!((work.done, work.total()) == (0, 2) && !work.moves());
    work.carry(&vec![false; tiles], 0.0);
    work.ask(|_| None);
    assert_eq!(work.total(), 2);
}
