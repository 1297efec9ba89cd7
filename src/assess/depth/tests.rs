use super::*;
use crate::assess::reach::Reach;
use crate::shield::{demo, load};
use crate::tile::batch;

#[test]
fn verif_slicing_order_and_transport_keep_every_bit() {
    let shield = load(&demo::files(), demo::NAME).unwrap();
    let mut scenario = Scenario::read("scenario.json", &demo::scenario_json(), &[]).unwrap();
    scenario.policy.terms = vec![Term { name: "conductivity".to_string(), fraction: 0.2, level_sigma: 3.0 }];
    scenario.entries.truncate(2);
    let prepared = Prepared::new(&shield, &scenario).unwrap();
    let tables = Tables::of(&shield.library);
    let setup = Setup::new(&shield, &scenario, &prepared, &tables).unwrap();
    // A nose tile without a stack, and tiles all over.
    let tiles: Vec<usize> = (0..shield.tiles.len()).step_by(271).collect();
    let whole = setup.solve(&tiles);
    assert!(whole[0].entries.is_empty() && whole[4].entries.len() == 2);
    for (i, tile) in tiles.iter().enumerate() {
        let alone = &setup.solve(&[*tile])[0];
        let (a, b) = (alone.to_floats(2, 1), whole[i].to_floats(2, 1));
        assert_eq!(a.len(), TileDepth::length(2, 1));
        assert_eq!(a.iter().map(|v| v.to_bits()).collect::<Vec<_>>(), b.iter().map(|v| v.to_bits()).collect::<Vec<_>>());
        assert_eq!(TileDepth::from_floats(&a, 1).as_ref(), Some(alone));
        let estimate = setup.estimate(&[*tile], &[]).remove(0);
        assert_eq!(TileDepth::from_floats(&estimate.to_floats(2, 1), 1).as_ref(), Some(&estimate));
        if estimate.entries.len() == 2 {
            // A first look at one entry gives the same there, and nothing elsewhere.
            let one = setup.estimate(&[*tile], &[0b10]).remove(0);
            assert_eq!(one.entries[1], estimate.entries[1]);
            assert!(!one.entries[0].is_known() && !TileDepth::from_floats(&one.to_floats(2, 1), 1).unwrap().entries[0].is_known());
            let gap = (estimate.entries[1].structure.temperature_k - alone.entries[1].structure.temperature_k).abs();
            assert!(gap < 4.0, "{gap}");
        }
        if let Some(story) = setup.history(0, *tile) {
            let hottest = story.structure_k().into_iter().fold(0.0, f64::max);
            let peak = alone.entries[0].structure;
            // The story is of the fine resolution, the peak extrapolated.
            assert!((hottest - peak.temperature_k).abs() < alone.entries[0].numerical_error_k + 0.3, "{hottest} {peak:?}");
            assert_eq!(story.profile_k(0.0), story.profiles_k[0]);
            assert_eq!(story.at_depth_k(0.0), story.face_k());
        }
        if alone.entries.len() == 2 {
            assert!(alone.entries[0].terms[0][1] > alone.entries[0].bondline.temperature_k);
        }
    }
    let mut backward = tiles.clone();
    backward.reverse();
    let mut turned = setup.solve(&backward);
    turned.reverse();
    assert_eq!(turned, whole);
    let surface_k: Vec<f64> = crate::assess::surface::peaks(&prepared, 0, 0..shield.tiles.len()).iter().map(|peak| peak.peak_k).collect();
    let order = setup.order(&surface_k);
    assert_eq!(order.len(), prepared.tiles.iter().filter(|tile| tile.stack.is_some()).count());
}

/// The pores of a windward tile hold its surface pressure; with that of the air around them the glue line would come out much cooler.
#[test]
fn val_surface_pressure_counts_on_a_windward_tile() {
    let shield = load(&demo::files(), demo::NAME).unwrap();
    let scenario = Scenario::read("scenario.json", &demo::scenario_json(), &[]).unwrap();
    let prepared = Prepared::new(&shield, &scenario).unwrap();
    let tables = Tables::of(&shield.library);
    let setup = Setup::new(&shield, &scenario, &prepared, &tables).unwrap();
    let tile = (0..shield.tiles.len()).find(|tile| shield.tiles[*tile].zone == "belly centre" && setup.has_stack(*tile)).unwrap();
    let case = Case::nominal(tile);
    let layers = setup.layers(&case);
    let exposed = setup.exposures(0, &[tile]);
    let problem = setup.problem(&setup.courses[0], &case, &layers, &exposed[0].1, None).unwrap();
    let ambient: Vec<f64> = prepared.flights[0].streams.iter().map(|stream| stream.pressure_pa).collect();
    let thin = TileProblem { pressure_pa: &ambient, ..problem };
    let results = batch::solve(&[problem, thin], &tables.wall);
    let gap = results[0].bondline.temperature_k - results[1].bondline.temperature_k;
    println!("windward glue line: {:.1} K, with ambient pressure {gap:.1} K less", results[0].bondline.temperature_k);
    assert!((20.0..90.0).contains(&gap), "{gap}");
    // Before descent the pressure is that of the tile, after it the ground's.
    let most = problem.pressure_pa.iter().zip(&ambient).map(|(own, free)| own / free).fold(0.0, f64::max);
    assert!(most > 50.0, "{most}");
}

/// Terms and searches look at a variation on the coarse resolution beside the solution that stands; both resolutions must say the same.
#[test]
fn verif_a_variation_moves_as_both_resolutions_say() {
    let shield = load(&demo::files(), demo::NAME).unwrap();
    let scenario = Scenario::read("scenario.json", &demo::scenario_json(), &[]).unwrap();
    let prepared = Prepared::new(&shield, &scenario).unwrap();
    let tables = Tables::of(&shield.library);
    let setup = Setup::new(&shield, &scenario, &prepared, &tables).unwrap();
    let tiles: Vec<usize> = (0..shield.tiles.len()).step_by(151).filter(|tile| setup.has_stack(*tile)).collect();
    let posed = Posed::new(&setup, &tiles);
    let cases: Vec<Case> = tiles.iter().map(|tile| Case::nominal(*tile)).collect();
    let solved = posed.full(0, &cases);
    let one = Variation::default();
    let by_kind: [(&str, &[Variation], f64); 3] = [
        // What a policy's terms ask: heating, emissivity, conductivity, specific heat, thickness, start.
        (
            "terms",
            &[
                Variation { heating: 1.2, ..one },
                Variation { emissivity: 0.9, ..one },
                Variation { conductivity: 1.2, ..one },
                Variation { specific_heat: 0.9, ..one },
                Variation { thickness: 0.95, ..one },
                Variation { start: 1.05, ..one },
            ],
            0.25,
        ),
        ("half as thick again, or less", &[Variation { thickness: 0.7, ..one }, Variation { thickness: 1.5, ..one }], 1.0),
        ("far", &[Variation { heating: 3.0, ..one }, Variation { thickness: 0.3, ..one }, Variation { thickness: 3.0, ..one }], 4.0),
    ];
    for (what, variations, within_k) in by_kind {
        let beside = posed.varied(0, &cases, &solved, variations);
        let varied: Vec<Case> =
            cases.iter().flat_map(|case| variations.iter().map(move |variation| Case { variation: *variation, ..*case })).collect();
        let mut worst: f64 = 0.0;
        for ((case, (beside_k, end)), full) in varied.iter().zip(&beside).zip(posed.full(0, &varied)) {
            assert_eq!(*end, full.result.end, "{what}, tile {}", case.tile);
            for layer in [1, 2] {
                let gap = (beside_k[layer] - peaks_k(&full)[layer]).abs();
                worst = worst.max(gap);
                assert!(gap < within_k, "{what}, tile {}: {beside_k:?} {:?}", case.tile, peaks_k(&full));
            }
        }
        println!("{what}: {worst:.2} K at most");
    }
}

/// A guess stands between a slider's step and what is solved: its glue lines are held against the full answers of the changed state.
#[test]
fn verif_a_guess_is_near_what_is_solved() {
    let shield = load(&demo::files(), demo::NAME).unwrap();
    let mut scenario = Scenario::read("scenario.json", &demo::scenario_json(), &[]).unwrap();
    scenario.entries.truncate(2);
    let tables = Tables::of(&shield.library);
    let tiles: Vec<usize> = (0..shield.tiles.len()).step_by(61).collect();
    let changed = |scenario: &Scenario, set: &dyn Fn(usize) -> String| {
        let one = |tile: &usize| format!(r#"{{"tiles":["{}"],"set":{{{}}}}}"#, shield.tiles[*tile].id, set(*tile));
        let changes = format!(r#""changes":[{}]"#, tiles.iter().map(one).collect::<Vec<_>>().join(","));
        Scenario::read("scenario.json", &scenario.to_json().compact().replacen(r#""changes":[]"#, &changes, 1), &[]).unwrap()
    };
    let terms = ["heating", "emissivity", "thickness"].map(|name| Term { name: name.to_string(), fraction: 0.1, level_sigma: 3.0 });
    // Off by 0.07, 0.5 and 0.8 K at most by the reach, 0.02, 0.9 and 0.3 K by the terms, where the solution moved by up to 13 K.
    for (by_terms, most_k) in [(false, [0.3, 1.0, 1.5]), (true, [0.3, 1.5, 1.0])] {
        scenario.policy.terms = if by_terms { terms.to_vec() } else { Vec::new() };
        let prepared = Prepared::new(&shield, &scenario).unwrap();
        let setup = Setup::new(&shield, &scenario, &prepared, &tables).unwrap();
        let mut depth: Vec<Option<TileDepth>> = vec![None; shield.tiles.len()];
        for (tile, solved) in tiles.iter().zip(setup.solve(&tiles)) {
            depth[*tile] = Some(solved);
        }
        let assessment = crate::assess::with_depth(&setup, &[], &depth);
        let mut reach = vec![Reach::default(); shield.tiles.len()];
        for (tile, found) in tiles.iter().zip(crate::assess::reach::solve(&setup, &assessment, &depth, &tiles)) {
            reach[*tile] = found;
        }
        let powers = Powers::of(&setup, &assessment, &depth, &reach).unwrap();
        let stood = Stood { prepared: &prepared, depth: &depth, powers: &powers };
        let mut hotter = scenario.clone();
        hotter.heating.choices.scale *= 1.05;
        let darker = changed(&scenario, &|_| r#""emissivity":0.8"#.to_string());
        let thinner = changed(&scenario, &|tile| format!(r#""thickness_mm":{}"#, 950.0 * shield.tiles[tile].thickness_m));
        for (place, (what, scenario)) in [("heating", hotter), ("emissivity", darker), ("thickness", thinner)].into_iter().enumerate() {
            let now = Prepared::new(&shield, &scenario).unwrap();
            let setup = Setup::new(&shield, &scenario, &now, &tables).unwrap();
            let guessed = guesses(&stood, &now, &scenario.policy.terms).unwrap();
            let (mut worst, mut moved, mut count) = (0.0_f64, 0.0_f64, 0);
            for (tile, solved) in tiles.iter().zip(setup.solve(&tiles)) {
                let (Some(guessed), Some(before)) = (&guessed[*tile], &depth[*tile]) else { continue };
                for ((guess, solved), before) in guessed.entries.iter().zip(&solved.entries).zip(&before.entries) {
                    let by = (solved.bondline.temperature_k - before.bondline.temperature_k).abs();
                    let off = (guess.bondline.temperature_k - solved.bondline.temperature_k).abs();
                    (worst, moved, count) = (worst.max(off), moved.max(by), count + 1);
                }
            }
            println!("{what} by terms {by_terms}: off by {worst:.2} K at most where the solution moved by up to {moved:.1} K, {count}");
            assert!(count > 20 && worst < most_k[place], "{what}: {worst}");
        }
        // A flight that changed gives no guess.
        let mut other = scenario.clone();
        other.landing.descent_s += 10.0;
        assert!(guesses(&stood, &Prepared::new(&shield, &other).unwrap(), &other.policy.terms).is_none());
    }
}
