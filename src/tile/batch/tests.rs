//! The batch against the accuracy-first solver, its honesty, its balance, its independence of company, and its pace.

use super::*;
use crate::document::{Curve, Table};
use crate::material::Library;
use crate::tile::face::{EquilibriumAir, Face, Ground};
use crate::tile::mesh::Mesh;
use crate::tile::properties::{Conduction, Layer, Ramp, Solid};
use crate::tile::transient;

pub(super) struct Bench {
    pub(super) library: Library,
    pub(super) tables: Vec<MaterialTable>,
    pub(super) times_s: Vec<f64>,
    pub(super) wall: WallTable,
}

/// One tile's numbers, owned.
pub(super) struct Made {
    pub(super) layers: Vec<(usize, f64)>,
    pub(super) flux: Vec<f64>,
    pub(super) recovery: Vec<f64>,
    pub(super) pressure: Vec<f64>,
    pub(super) emissivity: f64,
    pub(super) start: (f64, f64),
    pub(super) back: Face,
}

pub(super) const LANDING: Landing =
    Landing { descent_s: 400.0, ground_pressure_pa: 101325.0, air_k: 290.0, h_w_m2k: 5.0, limit_s: 20000.0 };

impl Bench {
    pub(super) fn new() -> Bench {
        Bench::sampled(1)
    }

    /// With a sample every so many seconds.
    fn sampled(every: usize) -> Bench {
        let library = Library::built_in();
        let tables = library.materials.iter().map(MaterialTable::of).collect();
        Bench { library, tables, times_s: (0..=1800 / every).map(|i| (i * every) as f64).collect(), wall: WallTable::default() }
    }

    /// A tile of an 1,800 s entry: a smooth pulse with a bank reversal's dip and, on some, transition's jump.
    pub(super) fn tile(&self, i: usize) -> Made {
        let share = |k: usize| ((i * k) % 97) as f64 / 97.0;
        let find = |id: &str| self.library.find(id).unwrap();
        let tile = find(["li-900", "li-2200", "frci-12", "aetb-8"][i % 4]);
        let thickness = 0.025 + 0.06 * share(31);
        let peak = 25e3 + 350e3 * share(53) * share(17);
        let jump = if i.is_multiple_of(3) { 2.2 } else { 1.0 };
        let bump = |t: f64, at: f64, width: f64| libm::exp(-(t - at) * (t - at) / (2.0 * width * width));
        let flux = |t: f64| {
            let turbulent = 1.0 + (jump - 1.0) / (1.0 + libm::exp(-(t - 1200.0) / 8.0));
            let ends = (t / 60.0).min(1.0) * ((1800.0 - t) / 60.0).clamp(0.0, 1.0);
            peak * ends * turbulent * (bump(t, 700.0, 330.0) - 0.15 * bump(t, 760.0, 30.0)).max(0.0)
        };
        Made {
            layers: vec![
                (tile, thickness),
                (find("rtv-560"), 0.0002),
                (find("sip"), 0.0041),
                (find("rtv-560"), 0.0002),
                (find("al-2024"), 0.0015 + 0.0025 * share(71)),
            ],
            flux: self.times_s.iter().map(|t| flux(*t)).collect(),
            recovery: self.times_s.iter().map(|t| 3.1e7 * (1.0 - t / 1850.0) + 4e5).collect(),
            pressure: self.times_s.iter().map(|t| 0.5 * libm::exp(t / 170.0)).collect(),
            emissivity: 0.8 + 0.1 * share(41),
            start: (220.0 + 120.0 * share(19), 270.0 + 40.0 * share(23)),
            back: Face::Adiabatic,
        }
    }

    /// A tile drawn at random: stack, thicknesses, pulse, back and start.
    pub(super) fn wild(&self, seed: u64) -> Made {
        let mut state = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ 0x1234_5678_9ABC_DEF1;
        let mut draw = || {
            state = state.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
            ((state >> 33) as f64) / (1u64 << 31) as f64
        };
        for _ in 0..5 {
            draw();
        }
        let find = |id: &str| self.library.find(id).unwrap();
        let tile = find(["li-900", "li-2200", "frci-12", "aetb-8", "afrsi"][(draw() * 5.0) as usize]);
        let metal = find(["al-2024", "ti-6al-4v"][(draw() * 2.0) as usize]);
        let thickness = 0.01 * libm::pow(10.0, draw());
        let peak = 4e3 * libm::pow(100.0, draw());
        let jump = if draw() < 0.4 { 1.2 + 2.0 * draw() } else { 1.0 };
        let (jump_at, jump_s) = (500.0 + 1000.0 * draw(), 1.0 + 40.0 * draw());
        let (at, width) = (400.0 + 900.0 * draw(), 80.0 + 350.0 * draw());
        let (dip, dip_at, dip_s) = (0.5 * draw(), at + 400.0 * (draw() - 0.5), 10.0 + 40.0 * draw());
        let (second, second_at, second_s) = (draw() * draw(), 300.0 + 1200.0 * draw(), 60.0 + 100.0 * draw());
        let bump = |t: f64, at: f64, width: f64| libm::exp(-(t - at) * (t - at) / (2.0 * width * width));
        let flux = |t: f64| {
            let turbulent = 1.0 + (jump - 1.0) / (1.0 + libm::exp(-(t - jump_at) / jump_s));
            let ends = (t / 60.0).min(1.0) * ((1800.0 - t) / 60.0).clamp(0.0, 1.0);
            peak * ends * turbulent * (bump(t, at, width) + second * bump(t, second_at, second_s)) * (1.0 - dip * bump(t, dip_at, dip_s))
        };
        let back = draw();
        Made {
            layers: vec![
                (tile, thickness),
                (find("rtv-560"), 0.0002),
                (find("sip"), 0.0041),
                (find("rtv-560"), 0.0002),
                (metal, 0.001 + 0.004 * draw()),
            ],
            flux: self.times_s.iter().map(|t| flux(*t)).collect(),
            recovery: self.times_s.iter().map(|t| 3.1e7 * (1.0 - t / 1850.0) + 4e5).collect(),
            pressure: self.times_s.iter().map(|t| 0.5 * libm::exp(t / (160.0 + 40.0 * (peak / 4e5)))).collect(),
            emissivity: 0.7 + 0.2 * draw(),
            start: (200.0 + 140.0 * draw(), 250.0 + 60.0 * draw()),
            back: if back < 0.5 {
                Face::Adiabatic
            } else if back < 0.75 {
                Face::Convection { h_w_m2k: Curve::Constant(1.0 + 8.0 * draw()), ambient_k: Curve::Constant(295.0) }
            } else {
                Face::Radiation { emissivity: 0.4, surroundings_k: 290.0 }
            },
        }
    }

    pub(super) fn layers<'a>(&'a self, made: &Made) -> Vec<TileLayer<'a>> {
        let layer = |(index, thickness_m): &(usize, f64)| TileLayer {
            table: &self.tables[*index],
            thickness_m: *thickness_m,
            density_kg_m3: self.library.materials[*index].density_kg_m3,
            conductivity_scale: 1.0,
            specific_heat_scale: 1.0,
            contact_m2k_w: 0.0,
        };
        made.layers.iter().map(layer).collect()
    }

    pub(super) fn problem<'a>(&'a self, made: &'a Made, layers: &'a [TileLayer<'a>]) -> TileProblem<'a> {
        TileProblem {
            layers,
            tile_layers: 1,
            structure: 4,
            back: &made.back,
            times_s: &self.times_s,
            cold_wall_w_m2: &made.flux,
            recovery_enthalpy_j_kg: &made.recovery,
            pressure_pa: &made.pressure,
            heating_scale: 1.0,
            emissivity: made.emissivity,
            emissivity_over: None,
            surface_k: made.start.0,
            structure_k: made.start.1,
            landing: LANDING,
            exchange: None,
        }
    }

    /// The accuracy-first solver on the same tile: peaks of surface, bondline and structure, and the structure at touchdown.
    pub(super) fn reference(&self, made: &Made, end_s: f64, level: usize) -> [f64; 4] {
        let table = |at: Vec<f64>, value: Vec<f64>| Curve::Table(Table { axis: "time_s", at, value });
        let layers: Vec<Layer> = made
            .layers
            .iter()
            .map(|(index, thickness_m)| {
                let material = &self.library.materials[*index];
                Layer::Solid(Solid {
                    thickness_m: *thickness_m,
                    density_kg_m3: material.density_kg_m3,
                    specific_heat: Ramp::of(&material.specific_heat_j_kgk),
                    conduction: Conduction::of(&material.conductivity_w_mk),
                    conductivity_scale: 1.0,
                    specific_heat_scale: 1.0,
                })
            })
            .collect();
        let (mut times, mut flux, mut pressure) = (self.times_s.clone(), made.flux.clone(), made.pressure.clone());
        times.push(2200.0);
        flux.push(0.0);
        pressure.push(LANDING.ground_pressure_pa);
        let front = Face::Heating {
            cold_wall_w_m2: table(times.clone(), flux),
            recovery_enthalpy_j_kg: Some(table(self.times_s.clone(), made.recovery.clone())),
            emissivity: made.emissivity,
            surroundings_k: 0.0,
            factor: 1.0,
            ground: Some(Ground { share: table(vec![1800.0, 2200.0], vec![0.0, 1.0]), air_k: LANDING.air_k, h_w_m2k: LANDING.h_w_m2k }),
        };
        let mesh = Mesh::through(&layers, &[], 24, level, 600.0, 1000.0);
        let marks = [0, mesh.faces[0].1, mesh.faces[4].0];
        let thickness = made.layers[0].1;
        let start =
            |depth: f64| if depth < thickness { made.start.0 + (made.start.1 - made.start.0) * depth / thickness } else { made.start.1 };
        let exposure = transient::Exposure {
            layers: &layers,
            front: &front,
            back: &made.back,
            initial_k: &start,
            pressure_pa: &table(times, pressure),
            wall: &EquilibriumAir,
            duration_s: end_s,
            stops_s: &[],
        };
        let mut peaks = [start(0.0), start(1.0), start(1.0), 0.0];
        let watch = &mut |step: &transient::Step| {
            for (i, mark) in marks.iter().enumerate() {
                peaks[i] = step.peak(*mark).0.max(peaks[i]);
            }
            if step.to_s == 2200.0 {
                peaks[3] = step.to_k[marks[2]];
            }
        };
        transient::run(&exposure, &mesh, 4e-3 / (level * level) as f64, watch).unwrap();
        peaks
    }

    pub(super) fn solve(&self, made: &[Made]) -> Vec<TileResult> {
        let layers: Vec<Vec<TileLayer>> = made.iter().map(|made| self.layers(made)).collect();
        let problems: Vec<TileProblem> = made.iter().zip(&layers).map(|(made, layers)| self.problem(made, layers)).collect();
        super::solve(&problems, &self.wall)
    }
}

#[test]
fn verif_order_conditions() {
    use super::lanes::{D, ERROR, MIDDLE, W};
    let (b, c) = ([W, W, D], [0.0, MIDDLE, 1.0]);
    let a_c = [0.0, D * MIDDLE, W * MIDDLE + D];
    let near = |got: f64, want: f64| assert!((got - want).abs() < 1e-15, "{got} {want}");
    near(b.iter().sum(), 1.0);
    near((0..3).map(|i| b[i] * c[i]).sum(), 0.5);
    // The companion (weights less error) is of order 3.
    let third: Vec<f64> = (0..3).map(|i| b[i] - ERROR[i]).collect();
    near(third.iter().sum(), 1.0);
    near((0..3).map(|i| third[i] * c[i]).sum(), 0.5);
    near((0..3).map(|i| third[i] * c[i] * c[i]).sum(), 1.0 / 3.0);
    near((0..3).map(|i| third[i] * a_c[i]).sum(), 1.0 / 6.0);
}

#[test]
fn verif_results_do_not_depend_on_order_or_company() {
    let bench = Bench::new();
    let made: Vec<Made> = (0..23).map(|i| bench.tile(i)).collect();
    let together = bench.solve(&made);
    let reversed: Vec<Made> = (0..23).rev().map(|i| bench.tile(i)).collect();
    let mut backward = bench.solve(&reversed);
    backward.reverse();
    for (i, tile) in made.iter().enumerate() {
        let alone = bench.solve(&[bench.tile(i)])[0];
        assert_eq!(format!("{alone:?}"), format!("{:?}", together[i]), "tile {i} alone");
        assert_eq!(format!("{:?}", backward[i]), format!("{:?}", together[i]), "tile {i} in reverse order");
        let layers = bench.layers(tile);
        let (with_history, history) = solve_with_history(&bench.problem(tile, &layers), &bench.wall);
        assert_eq!(with_history, together[i]);
        assert_eq!(history.times_s.len(), history.profiles_k.len());
        // The trace goes through the history's own points, and is held after the end.
        let ends: Vec<f64> = history.times_s.iter().copied().chain([1e9]).collect();
        let traced = &solve_traced(&[bench.problem(tile, &layers)], &bench.wall, &ends)[0];
        assert_eq!(traced.result, with_history);
        for (trace_k, node) in traced.trace_k.iter().zip([history.bondline_node, history.structure_node]) {
            let mut want: Vec<f64> = history.profiles_k.iter().map(|profile| profile[node]).collect();
            want.extend(want.last().copied());
            for (got, want) in trace_k.iter().zip(want) {
                assert!((got - want).abs() < 1e-9, "{got} {want}");
            }
        }
    }
}

#[test]
fn verif_energy_closes_and_runs_end() {
    let bench = Bench::new();
    let made: Vec<Made> = (0..60).map(|i| bench.tile(i)).collect();
    let mut worst: f64 = 0.0;
    for (i, result) in bench.solve(&made).iter().enumerate() {
        worst = worst.max(result.imbalance_fraction.abs());
        assert!(matches!(result.end, End::Peaked | End::Steady), "tile {i}: {result:?}");
        assert!(result.numerical_error_k <= 1.0, "tile {i}: {result:?}");
    }
    println!("largest imbalance {worst:.1e}");
    assert!(worst < 1e-6);
}

/// Against the accuracy-first solver (another method, another form of the tables, another time step), twice as fine as it needs.
#[test]
fn verif_the_stated_error_covers_the_true_one() {
    let bench = Bench::new();
    let made: Vec<Made> = (0..24).map(|i| bench.tile(i * 7 + 1)).collect();
    let mut wrong = Vec::new();
    let mut most: f64 = 0.0;
    for (i, (tile, result)) in made.iter().zip(bench.solve(&made)).enumerate() {
        let want = bench.reference(tile, result.end_s, 2);
        let got =
            [result.surface.temperature_k, result.bondline.temperature_k, result.structure.temperature_k, result.structure_at_touchdown_k];
        let apart = [0, 1, 2, 3].map(|k| got[k] - want[k]);
        let largest = apart.iter().fold(0.0, |most: f64, gap| most.max(gap.abs()));
        most = most.max(largest);
        println!("{i:2} {:5} steps, stated {:.3} K, true {apart:.3?}, peaks {want:.1?}", result.steps, result.numerical_error_k);
        if largest > result.numerical_error_k + 0.02 {
            wrong.push(format!("tile {i}: off by {largest} K, stated {} K", result.numerical_error_k));
        }
    }
    println!("largest true error {most:.3} K");
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Seconds that this thread has had a processor, where the system tells (Linux), so that a busy machine does not blur the figure.
fn processor_s() -> f64 {
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").unwrap_or_default();
    told.split_whitespace().next().and_then(|text| text.parse::<f64>().ok()).map_or(0.0, |nanoseconds| nanoseconds * 1e-9)
}

#[test]
fn verif_thicker_is_cooler_below_and_more_emissive_is_cooler_above() {
    let bench = Bench::new();
    for i in 0..12 {
        let changed = |thicker: f64, emissivity: f64| {
            let mut made = bench.tile(i);
            made.start = (300.0, 300.0);
            made.layers[0].1 += thicker;
            made.emissivity = emissivity;
            made
        };
        let results =
            bench.solve(&[changed(0.0, 0.75), changed(0.005, 0.75), changed(0.010, 0.75), changed(0.0, 0.85), changed(0.0, 0.95)]);
        let slack = results.iter().map(|result| result.numerical_error_k).fold(0.0, f64::max).min(0.2);
        for (thick, thin) in [(1, 0), (2, 1)] {
            let (thick, thin) = (&results[thick], &results[thin]);
            assert!(thick.bondline.temperature_k < thin.bondline.temperature_k + slack, "tile {i}: {thick:?} {thin:?}");
            assert!(thick.structure.temperature_k < thin.structure.temperature_k + slack, "tile {i}");
        }
        for (bright, dull) in [(3, 0), (4, 3)] {
            assert!(results[bright].surface.temperature_k < results[dull].surface.temperature_k, "tile {i}");
            assert!(results[bright].structure.temperature_k < results[dull].structure.temperature_k + slack, "tile {i}");
        }
    }
}

/// A benchmark: prints, and asserts nothing of time. `cargo test --release --lib tile::batch -- --ignored --nocapture pace`
#[test]
#[ignore = "a benchmark"]
fn pace_of_two_and_thirty_thousand_tiles() {
    let bench = Bench::sampled(6);
    for (count, rounds) in [(2000, 5), (30_000, 1)] {
        let made: Vec<Made> = (0..count).map(|i| bench.tile(i)).collect();
        for _ in 0..rounds {
            let began = processor_s();
            let results = bench.solve(&made);
            let took = processor_s() - began;
            let mut errors: Vec<f64> = results.iter().map(|result| result.numerical_error_k).collect();
            errors.sort_by(f64::total_cmp);
            let steps: u32 = results.iter().map(|result| result.steps).sum();
            println!(
                "{count} tiles: {:.1} ms, {:.1} us a tile, {:.0} fine steps a tile, stated error median {:.3}, 95 % {:.3}, most {:.3} K",
                took * 1e3,
                took * 1e6 / count as f64,
                steps as f64 / count as f64,
                errors[count / 2],
                errors[count * 19 / 20],
                errors[count - 1]
            );
        }
    }
}
