//! The solution in depth on a small plate of tiles: margins, reach, sizing, what the skin carries, what happens where a run does not end.

use super::depth::{Case, Setup, Tables, TileDepth, Variation};
use super::{Assessment, GovernedBy, InDepth, Prepared, coupled, reach, settle, sizing, surface, with_depth};
use crate::document::json::Json;
use crate::scenario::{Scenario, Term};
use crate::shield::{Shield, VehicleFile, demo, load};
use crate::tile::batch::Exchange;
use std::fmt::Write;

/// Three by three tiles of 15 cm on a flat windward plate, the middle one heated `middle` times as much; `thickness_mm` by tile.
fn plate(middle: f64, thickness_mm: impl Fn(usize) -> f64) -> Shield {
    laid(3, 3, thickness_mm, |tile| if tile == 4 { 0.4 * middle } else { 0.4 })
}

fn laid(along: usize, across: usize, thickness_mm: impl Fn(usize) -> f64, heating: impl Fn(usize) -> f64) -> Shield {
    let (mut obj, mut table) = (String::new(), String::from("tile,material,thickness_mm,heating_factor\n"));
    for tile in 0..along * across {
        let (x, y) = (1.0 + 0.15 * (tile % along) as f64, 0.15 * (tile / along) as f64 - 0.075 * across as f64);
        let _ = writeln!(obj, "g T{tile}");
        for (dx, dy) in [(0.0, 0.0), (0.0, 0.149), (0.149, 0.149), (0.149, 0.0)] {
            let _ = writeln!(obj, "v {:.4} {:.4} 0", x + dx, y + dy);
        }
        let first = 4 * tile + 1;
        let _ = writeln!(obj, "f {first} {} {} {}", first + 1, first + 2, first + 3);
        let _ = writeln!(table, "T{tile},LI-900,{},{}", thickness_mm(tile), heating(tile));
    }
    let file = |name: &str, text: String| VehicleFile { name: name.to_string(), bytes: text.into_bytes() };
    load(&[file("vehicle.obj", obj), file("tiles.csv", table)], "plate").unwrap()
}

/// So many tiles along the stream and across it, all alike, with small gaps between.
pub(super) fn long_plate(along: usize, across: usize) -> Shield {
    laid(along, across, |_| 40.0, |_| 0.4)
}

/// Twenty minutes of heating, read as any user's scenario.
pub(super) fn scenario(more: &str) -> Scenario {
    let text = format!(
        r#"{{"format": "tileglow-scenario/1", "vehicle": {{"name": "plate"}}, "entries": [{{"name": "steady", "entry":
        {{"format": "tileglow-trajectory/1", "nose_radius_m": 1, "time_s": [100, 200, 400, 700, 1000, 1200, 1300],
        "altitude_m": [100000, 78000, 75000, 72000, 65000, 55000, 40000], "speed_m_s": [7800, 7600, 7200, 6400, 4800, 3000, 1200],
        "angle_of_attack_deg": [40, 40, 40, 40, 38, 30, 20]}}}}]{more}}}"#
    );
    Scenario::read("scenario.json", &text, &[]).unwrap()
}

struct Solved {
    shield: Shield,
    scenario: Scenario,
    prepared: Prepared,
    tables: Tables,
}

impl Solved {
    fn new(shield: Shield, scenario: Scenario) -> Solved {
        let prepared = Prepared::new(&shield, &scenario).unwrap();
        let tables = Tables::of(&shield.library);
        Solved { shield, scenario, prepared, tables }
    }

    fn setup(&self) -> Setup<'_> {
        Setup::new(&self.shield, &self.scenario, &self.prepared, &self.tables).unwrap()
    }
}

fn whole(setup: &Setup) -> (Vec<Option<TileDepth>>, Assessment) {
    let depth: Vec<Option<TileDepth>> = setup.solve(&(0..9).collect::<Vec<_>>()).into_iter().map(Some).collect();
    let mut assessment = with_depth(setup, &[], &depth);
    settle(setup.prepared, &mut assessment);
    (depth, assessment)
}

#[test]
fn verif_a_tile_waits_for_its_own_solution_and_no_other() {
    let solved = Solved::new(plate(1.0, |_| 40.0), scenario(""));
    let setup = solved.setup();
    let (depth, full) = whole(&setup);
    assert_eq!((full.pending, full.tiles[3].in_depth), (0, InDepth::Solved));
    // Times count in the entry's own time, which here starts at 100 s.
    assert!(full.tiles[3].bondline.unwrap().time_s > full.tiles[3].surface.time_s && full.tiles[3].surface.time_s > 100.0);
    let mut partly = depth.clone();
    partly[0] = None;
    let estimate = with_depth(&setup, &[], &partly);
    assert_eq!((estimate.pending, estimate.tiles[0].in_depth), (1, InDepth::Pending));
    assert_eq!((estimate.tiles[0].bondline, estimate.tiles[0].governed_by), (None, Some(GovernedBy::Surface)));
    assert!(estimate.not_assessed[0].contains("1 tiles"));
    assert_eq!(estimate.tiles[3].bondline, full.tiles[3].bondline);
    // Alike all over: the skin carries nothing.
    for tile in &full.tiles {
        let (alone, joined) = (tile.structure_isolated.unwrap(), tile.structure_coupled.unwrap());
        assert!((alone.temperature_k - joined.temperature_k).abs() < 2.0, "{alone:?} {joined:?}");
    }
}

/// The margin by hand from each term's own solve; the largest shift is named; levels are brought together.
#[test]
fn verif_margins_count_the_policy_over_all_layers() {
    let terms = r#", "policy": {"terms": [{"name": "heating", "fraction": 0.1}, {"name": "conductivity", "fraction": 0.2, "level_sigma": 2},
        {"name": "start", "fraction": 0.02}, {"name": "thickness", "fraction": 0.03}]}"#;
    let solved = Solved::new(plate(1.0, |_| 40.0), scenario(terms));
    let setup = solved.setup();
    let (depth, full) = whole(&setup);
    let (tile, one) = (&full.tiles[0], &depth[0].as_ref().unwrap().entries[0]);
    for (layer, nominal, limit, margin) in [
        (1, tile.bondline.unwrap().temperature_k, tile.limit_bondline_k, tile.margin_bondline_k),
        (2, tile.structure.unwrap().temperature_k, tile.limit_structure_k, tile.margin_structure_k),
    ] {
        let own = [one.face, one.bondline, one.structure][layer].temperature_k;
        let square: f64 = one.terms.iter().zip([1.0, 1.5, 1.0, 1.0]).map(|(term, to)| ((term[layer] - own) * to).powi(2)).sum();
        assert!((margin.unwrap() - (limit.unwrap() - nominal - square.sqrt())).abs() < 1e-9);
    }
    let least =
        [tile.margin_surface_k, tile.margin_bondline_k, tile.margin_structure_k].into_iter().flatten().fold(f64::INFINITY, f64::min);
    assert_eq!(tile.margin_k, Some(least));
    assert_eq!(tile.shifts_k.len(), 4);
    let most = tile.term_most.unwrap();
    assert!(tile.shifts_k.iter().all(|shift| *shift <= tile.shifts_k[most]) && tile.shifts_k[most] > 0.0);
    // Every term moves structure and glue line to the hot side.
    assert!(one.terms.iter().all(|term| term[1] > one.bondline.temperature_k && term[2] > one.structure.temperature_k));
}

/// Through the whole stack once more with the neighbours' coupled histories as given exchange: what the network stands for.
#[test]
fn verif_the_network_is_what_exchange_tends_to() {
    let solved = Solved::new(plate(2.5, |_| 35.0), scenario(""));
    let setup = solved.setup();
    let (depth, full) = whole(&setup);
    let joined = coupled::histories(&setup, &depth, 0);
    // Four tiles around the middle are warmed, the middle one is cooled.
    let mut worst: f64 = 0.0;
    for tile in 0..9 {
        let beside = coupled::joints_of(&setup, tile);
        let conductance_w_m2k: f64 = beside.iter().map(|(_, g)| g).sum();
        let neighbour_k: Vec<f64> = (0..joined.times_s.len())
            .map(|i| beside.iter().map(|(other, g)| g * joined.coupled_k[*other][i]).sum::<f64>() / conductance_w_m2k)
            .collect();
        let exchange = Exchange { conductance_w_m2k, times_s: &joined.times_s, neighbour_k: &neighbour_k };
        let run = &setup.run(0, &[Case { exchange: Some(exchange), ..Case::nominal(tile) }])[0].result;
        let (alone, network) = (full.tiles[tile].structure_isolated.unwrap(), full.tiles[tile].structure_coupled.unwrap());
        let (moved, want) = (network.temperature_k - alone.temperature_k, run.structure.temperature_k - alone.temperature_k);
        println!("tile {tile}: alone {:.1} K, the skin brings {moved:+.1} K, through the stack {want:+.1} K", alone.temperature_k);
        worst = worst.max((moved - want).abs());
        assert!((moved - want).abs() < 1.0 + 0.1 * want.abs(), "tile {tile}: {moved} {want}");
        // The glue line follows.
        let glue = full.tiles[tile].bondline_isolated.unwrap().temperature_k;
        let (moved, want) = (full.tiles[tile].brought_k()[0], run.bondline.temperature_k - glue);
        println!("    glue line {glue:.1} K, the skin brings {moved:+.1} K, through the stack {want:+.1} K");
        assert!((moved - want.max(0.0)).abs() < 1.0 + 0.1 * want.abs(), "tile {tile}: {moved} {want}");
        // The higher of the two counts.
        assert_eq!(full.tiles[tile].structure.unwrap().temperature_k, alone.temperature_k.max(network.temperature_k));
    }
    let moved = |tile: usize| {
        full.tiles[tile].structure_coupled.unwrap().temperature_k - full.tiles[tile].structure_isolated.unwrap().temperature_k
    };
    assert!(moved(4) < -5.0 && [1, 3, 5, 7].iter().all(|tile| moved(*tile) > 2.0), "{} {}", moved(4), moved(1));
    println!("largest difference {worst:.2} K");
}

#[test]
fn verif_reach_is_where_the_margin_ends() {
    // Thin and thick: short and with margin.
    let solved = Solved::new(plate(1.0, |tile| 22.0 + 6.0 * tile as f64), scenario(""));
    let setup = solved.setup();
    let (depth, mut full) = whole(&setup);
    let tiles: Vec<usize> = (0..9).collect();
    let reached = reach::solve(&setup, &full, &depth, &tiles);
    for (tile, one) in reached.iter().enumerate() {
        assert_eq!(reach::solve(&setup, &full, &depth, &[tile]), [*one], "any slicing");
        assert_eq!(reach::Reach::from_floats(&one.to_floats()), Some(*one));
    }
    reach::apply(&mut full, &reached);
    let (mut short, mut spare) = (0, 0);
    for (tile, (result, one)) in full.tiles.iter().zip(&reached).enumerate() {
        let margin = result.margin_bondline_k.unwrap().min(result.margin_structure_k.unwrap());
        *if margin < 0.0 { &mut short } else { &mut spare } += 1;
        let left = |variation: Variation| {
            let run = &setup.run(0, &[Case { variation, ..Case::nominal(tile) }])[0].result;
            // What the neighbours bring is counted as it is.
            let brought = result.brought_k();
            (result.limit_bondline_k.unwrap() - run.bondline.temperature_k - brought[0])
                .min(result.limit_structure_k.unwrap() - run.structure.temperature_k - brought[1])
        };
        if let Some(factor) = one.heating_factor {
            assert_eq!(factor > 1.0, margin > 0.0, "{tile}: {factor} {margin}");
            let gap = left(Variation { heating: factor, ..Variation::default() });
            assert!(gap.abs() < 1.0, "{tile}: at {factor} {gap} K are left");
        }
        let spare_m = one.spare_m.unwrap();
        assert_eq!(spare_m > 0.0, margin > 0.0, "{tile}: {spare_m} {margin}");
        let factor = (result.effective.thickness_m - spare_m) / result.effective.thickness_m;
        let gap = left(Variation { thickness: factor, ..Variation::default() });
        assert!(gap.abs() < 1.0, "{tile}: {spare_m} m less leaves {gap} K");
        assert!((result.thickness_to_limit_mm.unwrap() - 1000.0 * spare_m).abs() < 1e-9);
    }
    assert!(short > 1 && spare > 1, "{short} {spare}");
}

/// A step less does not keep the margin; more margin takes more tile; a thickness out of reach is said to be.
#[test]
fn verif_sizing_keeps_its_margin_and_a_step_less_does_not() {
    let policy = r#", "policy": {"terms": [{"name": "heating", "fraction": 0.1}, {"name": "conductivity", "fraction": 0.15}]}"#;
    let sized = |sizing: &str| {
        let solved = Solved::new(plate(1.0, |tile| 30.0 + tile as f64), scenario(&format!(r#"{policy}, "sizing": {sizing}"#)));
        let setup = solved.setup();
        let (depth, full) = whole(&setup);
        let all = sizing::solve(&setup, &full, &depth, &(0..9).collect::<Vec<_>>());
        assert_eq!(sizing::solve(&setup, &full, &depth, &[5]), [all[5]], "any slicing");
        all
    };
    let at_zero = sized(r#"{"margin_k": 0, "step_mm": 0.5}"#);
    let at_twenty = sized(r#"{"margin_k": 20, "step_mm": 0.5}"#);
    // All tiles are alike but for the thickness that they have now: the required one is the same but where neighbours bring something.
    for (tile, (zero, twenty)) in at_zero.iter().zip(&at_twenty).enumerate() {
        let (thin, thick) = (zero.required_m.unwrap(), twenty.required_m.unwrap());
        assert!(thick > thin, "{tile}: {thin} {thick}");
        assert!(((2000.0 * thin).round() - 2000.0 * thin).abs() < 1e-6, "{tile}: {thin} is no multiple of 0.5 mm");
        // Half a millimetre is some 2 K.
        assert!((0.0..8.0).contains(&zero.margin_k.unwrap()), "{tile}: {zero:?}");
        assert!((20.0..28.0).contains(&twenty.margin_k.unwrap()), "{tile}: {twenty:?}");
    }
    let few = sized(r#"{"margin_k": 20, "minimum_mm": 8, "maximum_mm": 15}"#);
    assert!(few.iter().all(|one| one.need == sizing::Need::NotAtMaximum && one.required_m.is_none()));
    let many = sized(r#"{"margin_k": 0, "minimum_mm": 90}"#);
    assert!(many.iter().all(|one| one.need == sizing::Need::AtMinimum && (one.required_m.unwrap() - 0.09).abs() < 1e-9));
}

#[test]
fn verif_a_structure_that_has_not_peaked_is_named_and_others_stand() {
    let solved = Solved::new(plate(1.0, |tile| if tile == 8 { 110.0 } else { 25.0 }), scenario(r#", "landing": {"limit_s": 1500}"#));
    let setup = solved.setup();
    let (_, full) = whole(&setup);
    let failed = &full.tiles[8];
    assert_eq!(failed.in_depth, InDepth::Failed(super::depth::End::Limit));
    assert_eq!((failed.bondline, failed.margin_structure_k, failed.margin_k, failed.governed_by), (None, None, None, None));
    assert!(
        full.warnings.iter().any(|warning| warning.contains("1 tiles") && warning.contains("landing.limit_s") && warning.ends_with("T8"))
    );
    assert!(full.tiles[..8].iter().all(|tile| tile.in_depth == InDepth::Solved));
}

#[test]
fn verif_thicker_is_cooler_below_and_more_emissive_is_cooler_above() {
    let solved = Solved::new(plate(1.0, |_| 40.0), scenario(""));
    let setup = solved.setup();
    let run = |variation: Variation| setup.run(0, &[Case { variation, ..Case::nominal(4) }]).remove(0).result;
    let plain = run(Variation::default());
    assert!(plain.imbalance_fraction.abs() < 1e-6, "{}", plain.imbalance_fraction);
    let mut before = run(Variation { thickness: 0.5, ..Variation::default() });
    for thickness in [0.75, 1.0, 1.5, 2.0] {
        let after = run(Variation { thickness, ..Variation::default() });
        assert!(
            after.bondline.temperature_k < before.bondline.temperature_k && after.structure.temperature_k < before.structure.temperature_k
        );
        before = after;
    }
    let dull = run(Variation { emissivity: 0.8, ..Variation::default() });
    assert!(
        dull.surface.temperature_k > plain.surface.temperature_k + 20.0 && dull.structure.temperature_k > plain.structure.temperature_k
    );
    for name in crate::scenario::TERM_NAMES {
        let shifted = run(Variation::of(&Term { name: name.to_string(), fraction: 0.1, level_sigma: 3.0 }));
        assert!(shifted.structure.temperature_k > plain.structure.temperature_k, "{name}");
    }
}

/// An estimate looks at some entries only; what stands afterwards is what a fresh assessment gives.
#[test]
fn verif_a_first_look_leaves_nothing_behind() {
    use super::{Kept, assess, assess_keeping, first_look};
    let shield = load(&demo::files(), demo::NAME).unwrap();
    let scenario = Scenario::read("scenario.json", &demo::scenario_json(), &[]).unwrap();
    let prepared = Prepared::new(&shield, &scenario).unwrap();
    let whole = assess(&shield, &scenario, &prepared, &[]);
    let mut kept = Kept::default();
    kept.look = vec![false, true, false, false, false];
    let look = first_look(&shield, &scenario, &prepared, &[], &mut kept);
    assert!(look.tiles.iter().all(|tile| tile.surface.entry == 1 && tile.surface.temperature_k > 0.0));
    let estimated = surface::estimated_peaks(&prepared, 1, 0..shield.tiles.len());
    assert!(look.tiles.iter().zip(&estimated).all(|(look, own)| look.surface.temperature_k == own.peak_k));
    // One entry of five, from every fifth row: near the worst of all or below it.
    assert!(look.tiles.iter().zip(&whole.tiles).all(|(look, whole)| look.surface.temperature_k <= whole.surface.temperature_k + 3.0));
    assert_eq!(assess_keeping(&shield, &scenario, &prepared, &[], &mut kept), whole);
}

/// A finding that moves no tile's model leaves every solution standing; a step, which heats what lies behind it, does not.
#[test]
fn verif_a_finding_moves_only_what_it_touches() {
    let shield = load(&demo::files(), demo::NAME).unwrap();
    let scenario = |kind: &str| {
        let mut scenario = Scenario::read("scenario.json", &demo::scenario_json(), &[]).unwrap();
        scenario.entries.truncate(1);
        if !kind.is_empty() {
            let size = if kind == "step" { r#""step_mm": 3"# } else { r#""length_mm": 20, "width_mm": 10"# };
            let text = format!(r#"{{"finding": "Z1", "tile": "{}", "kind": "{kind}", {size}}}"#, shield.tiles[1200].id);
            scenario.findings = vec![Json::parse("findings", &text).unwrap()];
        }
        scenario
    };
    let plain = Prepared::new(&shield, &scenario("")).unwrap();
    let with = |kind: &str| {
        let mut prepared = plain.clone();
        prepared.update(&shield, &scenario(kind)).unwrap();
        prepared.solves_as(&plain)
    };
    assert!(with("chip") && with("discoloration"));
    assert!(!with("step"));
}

/// A first look takes every fifth row of an entry: its peaks are held against those of every row.
#[test]
fn verif_an_estimate_of_the_surface_is_near() {
    let shield = load(&demo::files(), demo::NAME).unwrap();
    let scenario = Scenario::read("scenario.json", &demo::scenario_json(), &[]).unwrap();
    let prepared = Prepared::new(&shield, &scenario).unwrap();
    let mut apart: Vec<f64> = Vec::new();
    for entry in 0..prepared.flights.len() {
        let tiles = 0..shield.tiles.len();
        let rows = surface::peaks(&prepared, entry, tiles.clone()).into_iter().zip(surface::estimated_peaks(&prepared, entry, tiles));
        apart.extend(rows.map(|(full, rough)| (full.peak_k - rough.peak_k).abs()));
    }
    apart.sort_by(f64::total_cmp);
    let (middle, most) = (apart[apart.len() / 2], apart[apart.len() - 1]);
    println!(
        "a first look's surface is off by {middle:.3} K in the middle, {:.2} K on 99 %, {most:.2} K at most",
        apart[apart.len() * 99 / 100]
    );
    assert!(most > 0.0 && middle < 0.2 && most < 8.0, "{middle} {most}");
}
