//! How long each part of a slider's step, and of a finding's edit, takes on one core: prints, asserts nothing.

use super::depth::{Setup, Tables, TileDepth};
use super::rounds::{Answers, Work};
use super::{Kept, Prepared, assess_keeping, coupled, reach, settle, settle_keeping, with_depth_keeping};
use crate::document::json::Json;
use crate::heating::{Roughness, Transition};
use crate::scenario::Scenario;
use crate::shield::{demo, load};
use std::time::Instant;

fn timed(what: &str, began: Instant) {
    println!("{what:<44}{:>10.1} ms", 1000.0 * began.elapsed().as_secs_f64());
}

#[test]
#[ignore = "a benchmark"]
fn pace_of_a_sliders_step() {
    let shield = load(&demo::files(), demo::NAME).unwrap();
    let scenario = Scenario::read("scenario.json", &demo::scenario_json(), &[]).unwrap();
    let began = Instant::now();
    let prepared = Prepared::new(&shield, &scenario).unwrap();
    timed("everything flown and laid out", began);
    let findings = super::findings(&shield, &scenario).unwrap();
    let tables = Tables::of(&shield.library);
    let mut kept = Kept::default();
    assess_keeping(&shield, &scenario, &prepared, &findings, &mut kept);
    let mut moved = scenario.clone();
    moved.heating.choices.scale *= 1.02;
    let mut next = prepared.clone();
    let began = Instant::now();
    next.update(&shield, &moved).unwrap();
    timed("update", began);
    let began = Instant::now();
    assess_keeping(&shield, &moved, &next, &findings, &mut kept);
    timed("surface, all entries", began);
    let began = Instant::now();
    assess_keeping(&shield, &moved, &next, &findings, &mut kept);
    timed("the results from kept surfaces", began);
    let setup = Setup::new(&shield, &moved, &next, &tables).unwrap();
    let tiles: Vec<usize> = (0..shield.tiles.len()).collect();
    let one = vec![0b10; tiles.len()];
    let began = Instant::now();
    let estimate: Vec<Option<TileDepth>> = tiles.chunks(64).flat_map(|tiles| setup.estimate(tiles, &one)).map(Some).collect();
    timed("first look, one entry", began);
    let began = Instant::now();
    coupled::peaks(&setup, &estimate);
    timed("the skin between tiles, one entry", began);
    let began = Instant::now();
    with_depth_keeping(&setup, &findings, &estimate, false, &mut kept);
    timed("results of the first look", began);
    let began = Instant::now();
    let depth: Vec<Option<TileDepth>> = tiles.chunks(64).flat_map(|tiles| setup.solve(tiles)).map(Some).collect();
    timed("in depth, all entries and terms", began);
    let began = Instant::now();
    let mut full = with_depth_keeping(&setup, &findings, &depth, true, &mut kept);
    timed("results in depth", began);
    let began = Instant::now();
    settle(&next, &mut full);
    timed("surface's heating factor", began);
    let began = Instant::now();
    let reached: usize = tiles.chunks(64).map(|tiles| reach::solve(&setup, &full, &depth, tiles).len()).sum();
    timed("how far to each limit", began);
    println!("{reached} tiles, {} entries, {} terms", setup.prepared.flights.len(), moved.policy.terms.len());
}

/// One step finding edited on the demonstration with everything solved: what stands between the edit and its numbers, then what follows. Once as the
/// demonstration is, once with a criterion that turns a wedge behind the step turbulent.
#[test]
#[ignore = "a benchmark"]
fn pace_of_an_edited_finding() {
    let shield = load(&demo::files(), demo::NAME).unwrap();
    let tables = Tables::of(&shield.library);
    let at = super::edited::belly(&shield);
    for (what, transition) in
        [("laminar", Transition::None), ("wedges", Transition::Roughness { limit: 1e9, criterion: Roughness::Isolated })]
    {
        let with = |step_mm: f64| {
            let mut scenario = Scenario::read("scenario.json", &demo::scenario_json(), &[]).unwrap();
            scenario.heating.choices.transition = transition;
            let (tile, other) = (&shield.tiles[at], &shield.tiles[shield.tiles[at].neighbours[0] as usize]);
            let text =
                format!(r#"{{"finding": "Z1", "tile": "{}", "tile_2": "{}", "kind": "step", "step_mm": {step_mm}}}"#, tile.id, other.id);
            scenario.findings = vec![Json::parse("findings", &text).unwrap()];
            scenario
        };
        let first = with(2.0);
        let mut prepared = Prepared::new(&shield, &first).unwrap();
        let mut kept = Kept::default();
        let all = shield.tiles.len();
        let mut work = Work::new(1, all, (0..all).collect(), 0.0);
        {
            let setup = Setup::new(&shield, &first, &prepared, &tables).unwrap();
            let rest = work.rest();
            let tiles: Vec<usize> = rest.tiles.iter().map(|tile| *tile as usize).collect();
            work.take(&rest, Answers::Depth(tiles.chunks(64).flat_map(|tiles| setup.solve(tiles)).collect()));
            let mut results = with_depth_keeping(&setup, &prepared.findings, &work.solved, true, &mut kept);
            settle_keeping(&prepared, &mut results, &mut kept);
        }
        for step_mm in [3.0, 2.0, 4.0] {
            let scenario = with(step_mm);
            let mut spent_ms = Vec::new();
            let mut began = Instant::now();
            let mut part = |what: &'static str| {
                spent_ms.push((what, 1000.0 * began.elapsed().as_secs_f64()));
                began = Instant::now();
            };
            let mut next = prepared.clone();
            next.update(&shield, &scenario).unwrap();
            part("update");
            work.carry(&next.moved_since(&prepared).unwrap(), 0.0);
            part("which tiles moved");
            let setup = Setup::new(&shield, &scenario, &next, &tables).unwrap();
            let tiles: Vec<usize> = work.slice(all).unwrap().tiles.iter().map(|tile| *tile as usize).collect();
            let one: Vec<u32> = vec![0b10; tiles.len()];
            let slice = |work: &Work| super::rounds::Slice {
                revision: work.revision,
                round: work.round,
                tiles: tiles.iter().map(|tile| *tile as u32).collect(),
            };
            if work.round == super::rounds::Round::Estimate {
                work.take(&slice(&work), Answers::Depth(tiles.chunks(64).flat_map(|tiles| setup.estimate(tiles, &one)).collect()));
                part("first look at what moved, one entry");
            } else {
                work.take(&slice(&work), Answers::Depth(setup.solve(&tiles)));
                part("what moved in depth");
            }
            with_depth_keeping(&setup, &next.findings, &work.solved, false, &mut kept);
            part("surface of what moved, and results");
            let shown_ms: f64 = spent_ms.iter().map(|(_, ms)| ms).sum();
            let told: Vec<String> = spent_ms.iter().map(|(what, ms)| format!("{what} {ms:.1}")).collect();
            println!("edited step, {what}, {:>4} tiles moved: shown after {shown_ms:>6.1} ms ({})", tiles.len(), told.join(", "));
            let began = Instant::now();
            if !work.margins_stand() {
                let rest = work.rest();
                let tiles: Vec<usize> = rest.tiles.iter().map(|tile| *tile as usize).collect();
                work.take(&rest, Answers::Depth(tiles.chunks(64).flat_map(|tiles| setup.solve(tiles)).collect()));
            }
            let mut results = with_depth_keeping(&setup, &next.findings, &work.solved, true, &mut kept);
            settle_keeping(&next, &mut results, &mut kept);
            timed("    then all in depth and the skin between", began);
            prepared = next;
        }
    }
}
