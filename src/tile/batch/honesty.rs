//! What a result says of itself holds on tiles drawn at random: its error, its order, its balance; and no input hangs it.
//!
//! Measured on 2,100 tiles (seeds 300 to 399 and 1000 to 2999): the true error is within the stated one on every tile, the worst at 0.94 of
//! it, 99 % within 0.52, the median at 0.09. With 0.12 K in place of `track::UNSEEN_K` two of them lay beyond, the worst 1.06 times.

use super::march::three_resolutions;
use super::tests::{Bench, LANDING, Made};
use super::*;
use crate::document::Curve;
use crate::tile::face::Face;

/// Largest true error of a tile's four temperatures, K, against the accuracy-first solver on a fine grid and the tables as they are.
fn true_error_k(bench: &Bench, made: &Made, result: &TileResult) -> f64 {
    // Where the structure's peak is known to be past, the reference goes on a little, so that both see it.
    let end_s = if result.end == End::Peaked { (1.05 * result.end_s + 50.0).max(2300.0) } else { result.end_s };
    // The reference's own error, 0.07 K where a pad is hot, falls by four with each halving of its cells: without it 0.01 K are left.
    let (coarse, fine) = (bench.reference(made, end_s, 1), bench.reference(made, end_s, 2));
    let want = [0, 1, 2, 3].map(|i| fine[i] + (fine[i] - coarse[i]) / 3.0);
    let got =
        [result.surface.temperature_k, result.bondline.temperature_k, result.structure.temperature_k, result.structure_at_touchdown_k];
    got.iter().zip(want).fold(0.0, |most: f64, (got, want)| most.max((got - want).abs()))
}

fn holds(bench: &Bench, seeds: std::ops::Range<u64>) {
    let made: Vec<Made> = seeds.clone().map(|seed| bench.wild(seed)).collect();
    let results = bench.solve(&made);
    let mut ratios: Vec<f64> = Vec::new();
    for ((seed, made), result) in seeds.zip(&made).zip(&results) {
        assert!(result.end != End::Failed && result.numerical_error_k <= 1.0, "tile {seed}: {result:?}");
        assert!(result.imbalance_fraction.abs() < 1e-6, "tile {seed}: {result:?}");
        let apart = true_error_k(bench, made, result);
        println!("{seed}: true {apart:.3} K, stated {:.3} K", result.numerical_error_k);
        ratios.push(apart / result.numerical_error_k);
    }
    ratios.sort_by(f64::total_cmp);
    let within = ratios.iter().filter(|ratio| **ratio <= 1.0).count();
    println!("true error within the stated one: {within} of {}, the worst {:.2} times it", ratios.len(), ratios.last().unwrap());
    assert_eq!(within, ratios.len());
}

#[test]
fn verif_random_tiles_state_an_honest_error() {
    // Without optimisation the reference takes a second a tile.
    holds(&Bench::new(), if cfg!(debug_assertions) { 300..320 } else { 300..400 });
}

/// A thousand of them: `cargo test --release --lib tile::batch -- --ignored thousand`
#[test]
#[ignore = "minutes"]
fn verif_a_thousand_random_tiles_state_an_honest_error() {
    holds(&Bench::new(), 1000..2000);
}

/// Cells and steps halved together: the differences fall by four.
#[test]
fn verif_the_order_is_two() {
    let bench = Bench::new();
    let (mut first, mut second) = (0.0, 0.0);
    for i in [1, 2, 4, 5, 7, 8] {
        let made = bench.tile(i);
        let layers = bench.layers(&made);
        let [coarse, fine, finest] = three_resolutions(&bench.problem(&made, &layers), 12, 0.3, &bench.wall);
        for k in 0..3 {
            first += (fine[k] - coarse[k]).abs();
            second += (finest[k] - fine[k]).abs();
        }
    }
    let order = libm::log2(first / second);
    println!("order {order:.2}");
    assert!((order - 2.0).abs() < 0.25, "{order}");
}

#[test]
fn verif_extremes_end_by_name() {
    let bench = Bench::new();
    let base = || bench.tile(1);
    type Change = fn(&mut TileProblem, &mut Vec<TileLayer>);
    let radiating = Face::Radiation { emissivity: 0.9, surroundings_k: 3.0 };
    let held = Face::Temperature(Curve::Constant(300.0));
    let far = [0.0, 600.0, 1e300];
    let few = [1e4, 1e5, 0.0];
    let level = [1e7, 1e7, 1e7];
    let cases: [(&str, Change, &[End]); 9] = [
        ("thin layers", |_, layers| layers.iter_mut().for_each(|layer| layer.thickness_m = 1e-6), &[End::Peaked, End::Steady]),
        ("hardly conducting", |_, layers| layers[0].conductivity_scale = 1e-6, &[End::Peaked, End::Steady, End::Limit]),
        ("hardly any heat capacity", |_, layers| layers[0].specific_heat_scale = 1e-9, &[End::Peaked, End::Steady]),
        ("a poor contact", |_, layers| layers[1].contact_m2k_w = 10.0, &[End::Peaked, End::Steady, End::Limit]),
        ("a huge pulse", |problem, _| problem.heating_scale = 1e5, &[End::Peaked, End::Failed, End::Limit]),
        ("no heating", |problem, _| problem.heating_scale = 0.0, &[End::Peaked, End::Steady, End::Limit]),
        ("a limit reached", |problem, _| problem.landing.limit_s = 1.0, &[End::Limit]),
        ("a limit without end", |problem, _| problem.landing.limit_s = 1e300, &[End::Peaked, End::Steady]),
        ("a thick insulator", |_, layers| layers[0].thickness_m = 5.0, &[End::Peaked, End::Steady, End::Limit]),
    ];
    let check = |what: &str, result: &TileResult, ends: &[End]| {
        assert!(ends.contains(&result.end), "{what}: {result:?}");
        if result.end == End::Failed {
            assert!(result.numerical_error_k == f64::INFINITY, "{what}: {result:?}");
        } else {
            for peak in [result.surface, result.bondline, result.structure] {
                assert!(peak.temperature_k > 0.0 && peak.temperature_k < 1e4, "{what}: {result:?}");
            }
        }
    };
    for back in [&Face::Adiabatic, &radiating, &held] {
        for (what, change, ends) in &cases {
            let made = base();
            let mut layers = bench.layers(&made);
            let mut problem = bench.problem(&made, &[]);
            change(&mut problem, &mut layers);
            let problem = TileProblem { layers: &layers, back, ..problem };
            let named =
                if matches!(back, Face::Adiabatic) { ends.to_vec() } else { vec![End::Peaked, End::Steady, End::Limit, End::Failed] };
            check(what, &solve(&[problem], &bench.wall)[0], &named);
        }
    }
    let made = base();
    let layers = bench.layers(&made);
    let endless = TileProblem {
        times_s: &far,
        cold_wall_w_m2: &few,
        recovery_enthalpy_j_kg: &level,
        pressure_pa: &few,
        landing: LANDING,
        ..bench.problem(&made, &layers)
    };
    check("an entry of 1e300 s", &solve(&[endless], &bench.wall)[0], &[End::Failed, End::Limit, End::Peaked, End::Steady]);
}
