//! What tiles of the demonstration tolerate: the full-area bound promises no more than the cavity solved by radius and depth, both stop at the
//! edge, in every entry, and the table says which is which.

use tileglow::assess::damage::{Effort, Subject};
use tileglow::assess::depth::{Setup, Tables, TileDepth};
use tileglow::assess::effects::Effects;
use tileglow::assess::tolerable::{Asked, KIND, Method, Size, WITHIN_MM, bound, solved};
use tileglow::assess::{self, Assessment, Prepared, TileResult, present};
use tileglow::report::tolerable::{COLUMNS, tolerable_csv};
use tileglow::scenario::Scenario;
use tileglow::shield::{Shield, demo, load};

const ASKED: Asked = Asked { length_mm: 50.0, depth_mm: 10.0 };

struct Demo {
    shield: Shield,
    scenario: Scenario,
    prepared: Prepared,
    effects: Effects,
}

/// The demonstration over the first of its entries.
fn demonstration(entries: usize) -> Demo {
    let shield = load(&demo::files(), demo::NAME).unwrap();
    let mut scenario = Scenario::read("scenario.json", &demo::scenario_json(), &[]).unwrap();
    scenario.entries.truncate(entries);
    let prepared = Prepared::new(&shield, &scenario).unwrap();
    let effects = Effects::of(&scenario.inspection).unwrap();
    Demo { shield, scenario, prepared, effects }
}

/// The results of `tiles` alone, in depth.
fn assessed(setup: &Setup, tiles: &[usize]) -> Assessment {
    let mut depth: Vec<Option<TileDepth>> = vec![None; setup.shield.tiles.len()];
    for (tile, solved) in tiles.iter().zip(setup.solve(tiles)) {
        depth[*tile] = Some(solved);
    }
    assess::with_depth(setup, &[], &depth)
}

/// What is left with a cavity, over all entries.
fn left_k(demo: &Demo, subject: &Subject, result: &TileResult, length_mm: f64, depth_mm: f64) -> f64 {
    let without = subject.undamaged(Effort::Quick).unwrap();
    let shape = [0.5e-3 * length_mm, 1e-3 * depth_mm, length_mm / depth_mm];
    let with = subject.cavity(&demo.effects, KIND, shape, &without, Effort::Quick).unwrap();
    present::left(result, &subject.margins(&without, false), &subject.margins(&with, true)).least_k().unwrap()
}

#[test]
fn verif_the_bound_promises_no_more_than_the_cavity_and_both_stop_at_the_edge() {
    let demo = demonstration(2);
    let tables = Tables::of(&demo.shield.library);
    let setup = Setup::new(&demo.shield, &demo.scenario, &demo.prepared, &tables).unwrap();
    let all: Vec<usize> = (0..demo.shield.tiles.len()).filter(|tile| setup.has_stack(*tile)).step_by(37).collect();
    let results = assessed(&setup, &all);
    let sizes = bound::solve(&setup, &results, &demo.effects, ASKED, &all);
    // A tile's numbers are its own.
    assert_eq!(bound::solve(&setup, &results, &demo.effects, ASKED, &all[3..4]), sizes[3..4]);
    let open = |place: &usize| sizes[*place].is_some_and(|sizes| sizes.iter().any(|size| size.method == Method::Bound));
    let open: Vec<usize> = (0..all.len()).filter(open).collect();
    assert!(open.len() > 5, "the bound leaves {} tiles open", open.len());
    let mut solved_more = 0;
    for place in open.iter().step_by(open.len() / 2) {
        let (tile, bound) = (all[*place], sizes[*place].unwrap());
        let result = &results.tiles[tile];
        let subject = Subject::new(&demo.shield, &demo.scenario, &demo.prepared, tile).unwrap();
        let (shield, scenario, prepared, effects) = (&demo.shield, &demo.scenario, &demo.prepared, &demo.effects);
        let from = solved::Basis { shield, scenario, prepared, effects, result };
        let answer = solved::solve(from, ASKED, tile, &bound).unwrap();
        let left = |which: usize, size_mm: f64| {
            let side_mm = 1e3 * demo.shield.tiles[tile].largest_side_m;
            let (length_mm, depth_mm) = if which == 0 { (ASKED.length_mm.min(side_mm), size_mm) } else { (size_mm, ASKED.depth_mm) };
            left_k(&demo, &subject, result, length_mm, depth_mm)
        };
        for which in [0, 1] {
            let (promised, answer) = (bound[which], answer[which]);
            println!("{}: {which} bound {promised:?}, solved {answer:?}", demo.shield.tiles[tile].id);
            if promised.method != Method::Bound {
                assert_eq!(promised, answer);
                continue;
            }
            // The two solvers' grids differ by a kelvin or so.
            assert!(promised.tolerated.size_mm == 0.0 || left(which, promised.tolerated.size_mm) > -2.0);
            assert_eq!(answer.method, Method::Solved);
            assert!(answer.tolerated.size_mm >= promised.tolerated.size_mm);
            solved_more += usize::from(answer.tolerated.size_mm > promised.tolerated.size_mm + WITHIN_MM[which]);
            if answer.tolerated.size_mm > promised.tolerated.size_mm {
                assert!(left(which, answer.tolerated.size_mm) >= 0.0);
            }
            if let Some(fails_mm) = answer.tolerated.fails_at_mm {
                assert!(fails_mm - answer.tolerated.size_mm <= WITHIN_MM[which] && left(which, fails_mm) < 0.0);
            }
        }
    }
    assert!(solved_more > 0, "the cavity is nowhere better than its bound");
}

#[test]
fn verif_the_table_says_how_each_size_is_known() {
    let demo = demonstration(1);
    let tables = Tables::of(&demo.shield.library);
    let setup = Setup::new(&demo.shield, &demo.scenario, &demo.prepared, &tables).unwrap();
    let tiles: Vec<usize> = (0..demo.shield.tiles.len()).step_by(97).collect();
    let results = assessed(&setup, &tiles);
    let deep = Asked { depth_mm: 60.0, ..ASKED };
    let mut sizes = vec![None; demo.shield.tiles.len()];
    for (tile, answer) in tiles.iter().zip(bound::solve(&setup, &results, &demo.effects, deep, &tiles)) {
        assert_eq!(answer.is_some(), results.tiles[*tile].margin_bondline_k.is_some());
        if let Some([depth, length]) = answer {
            let thin = 1e3 * demo.shield.tiles[*tile].thickness_m < deep.depth_mm + 1.0;
            let short = results.tiles[*tile].margin_k.unwrap() < 0.0;
            assert_eq!(length.method == Method::TooThin, thin && !short);
            assert_eq!(depth.method == Method::Short, short);
        }
        sizes[*tile] = answer;
    }
    let none: Size = Size::default();
    sizes[tiles[1]] = Some([none, none]);
    let text = tolerable_csv(&demo.shield, &results, deep, &sizes, &[(tiles[1], "=why".to_string())]);
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), sizes.iter().flatten().count());
    let column = |name: &str| COLUMNS.iter().position(|known| *known == name).unwrap();
    for row in &rows {
        let known = &row[column("length_method")] != "tile-too-thin";
        assert_eq!(row[column("tolerated_length_mm")].is_empty(), !known);
        assert_eq!(&row[column("at_depth_mm")], "60");
        if &row[column("depth_method")] == "largest-that-fits" {
            assert!(row[column("depth_fails_at_mm")].is_empty());
        }
    }
    let told = rows.iter().find(|row| row[0] == demo.shield.tiles[tiles[1]].id).unwrap();
    assert_eq!((&told[column("depth_method")], &told[column("note")]), ("short-without-any", "'=why"));
}
