//! How long each part of a slider's step takes on one core: prints, asserts nothing.

use super::depth::{Setup, Tables, TileDepth};
use super::{Kept, Prepared, assess_keeping, coupled, reach, settle, with_depth_keeping};
use crate::scenario::Scenario;
use crate::shield::{demo, load};
use std::time::Instant;

#[test]
#[ignore = "a benchmark"]
fn pace_of_a_sliders_step() {
    let timed = |what: &str, began: Instant| println!("{what:<44}{:>10.1} ms", 1000.0 * began.elapsed().as_secs_f64());
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
