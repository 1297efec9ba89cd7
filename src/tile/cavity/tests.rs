//! The cavity solver against exact solutions, the one-dimensional solver, itself refined, and what must hold of any cavity.

use super::*;
use crate::document::Curve;
use crate::material::Conductivity;
use crate::tile::face::{EquilibriumAir, Face};
use crate::tile::history::History;
use crate::tile::mesh::Mesh;
use crate::tile::properties::{Layer, Ramp, Solid};
use crate::tile::transient;

fn layer(thickness_m: f64, density_kg_m3: f64, heat: f64, conductivity: Curve) -> CavityLayer {
    CavityLayer {
        solid: Solid {
            thickness_m,
            density_kg_m3,
            specific_heat: Ramp::of(&Curve::Constant(heat)),
            conduction: Conduction::of(&Conductivity::Curve(conductivity)),
            conductivity_scale: 1.0,
            specific_heat_scale: 1.0,
        },
        inplane: None,
    }
}

fn rising(points: &[(f64, f64)], axis: &'static str) -> Curve {
    Curve::Table(crate::document::Table { axis, at: points.iter().map(|p| p.0).collect(), value: points.iter().map(|p| p.1).collect() })
}

/// A tile of 40 mm whose conductivity rises with temperature, on bond, pad, bond and skin.
fn stack() -> Vec<CavityLayer> {
    let tile = rising(&[(250.0, 0.03), (800.0, 0.07), (1300.0, 0.16), (1800.0, 0.3)], "temperature_k");
    vec![
        layer(0.04, 144.0, 1000.0, tile),
        layer(0.0002, 1400.0, 1250.0, Curve::Constant(0.31)),
        layer(0.004, 86.0, 1310.0, Curve::Constant(0.03)),
        layer(0.0002, 1400.0, 1250.0, Curve::Constant(0.31)),
        layer(0.002, 2770.0, 900.0, Curve::Constant(150.0)),
    ]
}

fn heating(factor: f64, emissivity: f64) -> Face {
    Face::Heating {
        cold_wall_w_m2: rising(&[(0.0, 0.0), (250.0, 1.2e5), (800.0, 1.2e5), (1200.0, 0.0)], "time_s"),
        recovery_enthalpy_j_kg: Some(rising(&[(0.0, 2.9e7), (800.0, 1.5e7), (1200.0, 2e6)], "time_s")),
        emissivity,
        surroundings_k: 0.0,
        factor,
        ground: None,
    }
}

/// The answer for a cavity of a radius and depth, its floor's factor and wall's.
fn solved(radius_m: f64, depth_m: f64, floor: f64, wall: f64) -> Answer {
    shaded(radius_m, depth_m, floor, wall, false)
}

fn shaded(radius_m: f64, depth_m: f64, floor: f64, wall: f64, shaded: bool) -> Answer {
    with(radius_m, depth_m, floor, wall, shaded, solve)
}

type Solver = fn(&CavityProblem) -> Result<Answer, crate::document::Error>;

fn with(radius_m: f64, depth_m: f64, floor: f64, wall: f64, shaded: bool, solver: Solver) -> Answer {
    let layers = stack();
    let (outer, floor, wall) = (heating(1.0, 0.85), heating(floor, 0.85), heating(wall, 0.85));
    let problem = CavityProblem {
        layers: &layers,
        structure: 4,
        tile_radius_m: 0.085,
        radius_m,
        depth_m,
        outer: &outer,
        floor: &floor,
        wall: &wall,
        shaded,
        back: &Face::Adiabatic,
        pressure_pa: &Curve::Constant(2000.0),
        air: &EquilibriumAir,
        surface_k: 290.0,
        structure_k: 290.0,
        duration_s: 6000.0,
        heated_until_s: 1200.0,
    };
    solver(&problem).unwrap()
}

/// Floor, glue line and skin peaks of the one-dimensional solver with the first `cut_m` of the tile gone.
fn one_dimensional(cut_m: f64, factor: f64) -> [f64; 3] {
    let mut layers: Vec<Layer> = stack().into_iter().map(|layer| Layer::Solid(layer.solid)).collect();
    if let Some(Layer::Solid(tile)) = layers.first_mut() {
        tile.thickness_m -= cut_m;
    }
    let mesh = Mesh::through(&layers, &[], 48, 4, 290.0, 2000.0);
    let exposure = transient::Exposure {
        layers: &layers,
        front: &heating(factor, 0.85),
        back: &Face::Adiabatic,
        initial_k: &|_| 290.0,
        pressure_pa: &Curve::Constant(2000.0),
        wall: &EquilibriumAir,
        duration_s: 6000.0,
        stops_s: &[],
    };
    let mut history = History::new(vec![0], Vec::new(), mesh.nodes.len(), 290.0);
    transient::run(&exposure, &mesh, 1e-3, &mut |step| history.watch(step)).unwrap();
    let peak = |node: usize| history.peaks[node].temperature_k;
    [peak(0), peak(mesh.faces[0].1), peak(mesh.faces[4].0)]
}

#[test]
fn verif_as_wide_as_the_tile_it_is_the_one_dimensional_solver() {
    // No cavity; the whole tile thinned; the same with more heat.
    for (radius, depth, factor) in [(0.0, 0.0, 1.0), (0.085, 0.015, 1.0), (0.085, 0.03, 0.6)] {
        let answer = solved(radius, depth, factor, 1.0);
        let [floor, bond, skin] = one_dimensional(depth, if radius > 0.0 { factor } else { 1.0 });
        let got = [if radius > 0.0 { answer.floor } else { answer.face }, answer.bondline, answer.structure].map(|peak| peak.temperature_k);
        println!(
            "{radius} {depth}: {got:?} against {:?}, stated {:.3} K, {} nodes",
            [floor, bond, skin],
            answer.numerical_error_k,
            answer.nodes
        );
        for (got, want) in got.into_iter().zip([floor, bond, skin]) {
            assert!((got - want).abs() <= answer.numerical_error_k.max(0.3), "{got} {want}, stated {}", answer.numerical_error_k);
        }
        assert!(answer.numerical_error_k < 2.0 && answer.imbalance_fraction.abs() < 1e-4, "{answer:?}");
    }
}

#[test]
fn verif_a_disk_source_on_a_thick_body_is_exact() {
    // Constant flux q over a disk of radius a on a half-space from t = 0: on the axis at the surface
    // T = (2 q sqrt(alpha t) / k) (1 / sqrt(pi) - ierfc(a / (2 sqrt(alpha t)))) (Carslaw and Jaeger, Conduction of Heat in Solids, 2nd ed.,
    // section 10.5, from memory; its limits for small and large times are those of the half-space and of q a / k).
    let (k, rho, c, q, a) = (0.05, 144.0, 1000.0, 2000.0, 0.02);
    let body = [layer(0.08, rho, c, Curve::Constant(k))];
    let flux = Face::Flux { flux_w_m2: Curve::Constant(q), emissivity: 0.0, surroundings_k: 0.0 };
    let alpha = k / (rho * c);
    let ierfc = |x: f64| libm::exp(-x * x) / std::f64::consts::PI.sqrt() - x * libm::erfc(x);
    for time in [100.0, 300.0, 900.0] {
        let problem = CavityProblem {
            layers: &body,
            structure: 0,
            tile_radius_m: 0.08,
            radius_m: a,
            depth_m: 0.0,
            outer: &Face::Adiabatic,
            floor: &flux,
            wall: &Face::Adiabatic,
            shaded: false,
            back: &Face::Adiabatic,
            pressure_pa: &Curve::Constant(1e5),
            air: &EquilibriumAir,
            surface_k: 300.0,
            structure_k: 300.0,
            duration_s: time,
            heated_until_s: time,
        };
        let root = (alpha * time).sqrt();
        let want = 300.0 + 2.0 * q * root / k * (1.0 / std::f64::consts::PI.sqrt() - ierfc(a / (2.0 * root)));
        let answer = solve(&problem).unwrap();
        let off = |level: usize| super::solve::on_grid(&problem, 2 * level).unwrap().floor.temperature_k - want;
        let errors = [off(1), off(2), off(4)];
        println!("{time} s: {want:.3} K, off by {errors:.3?} on grids of 1, 2 and 4; stated {:.3}", answer.numerical_error_k);
        assert!(errors[1].abs() <= answer.numerical_error_k && answer.numerical_error_k < 0.03 * (want - 300.0), "{errors:?}");
        // Second order in space.
        assert!(errors[2].abs() < 0.4 * errors[1].abs() && errors[1].abs() < 0.4 * errors[0].abs(), "{errors:?}");
    }
}

#[test]
fn verif_a_small_cavity_lies_between_none_and_the_full_area() {
    let none = one_dimensional(0.0, 1.0);
    let full = one_dimensional(0.025, 1.0);
    let mut last = [0.0; 2];
    for radius in [0.01, 0.03, 0.07] {
        let answer = solved(radius, 0.025, 1.0, 0.5);
        let got = [answer.bondline.temperature_k, answer.structure.temperature_k];
        println!("radius {radius}: glue line {:.1}, skin {:.1}, stated {:.2} K", got[0], got[1], answer.numerical_error_k);
        for (i, got) in got.into_iter().enumerate() {
            assert!(got > none[i + 1] - 0.5 && got < full[i + 1] + 0.5, "{radius} {i}: {got}, {none:?} {full:?}");
            assert!(got > last[i], "wider is never cooler: {radius}");
            last[i] = got;
        }
        assert!(answer.numerical_error_k < 8.0, "{radius}: {}", answer.numerical_error_k);
    }
}

#[test]
fn verif_at_a_fixed_floor_factor_deeper_is_never_cooler() {
    let none = one_dimensional(0.0, 1.0);
    for (floor, wall) in [(0.3, 0.1), (0.3, 0.3), (0.7, 0.5), (1.0, 0.5), (1.67, 1.0)] {
        let mut last = [0.0; 2];
        for depth in [0.0, 0.005, 0.012, 0.02, 0.03, 0.036] {
            let answer = with(0.025, depth, floor, wall, false, quick);
            // A cavity whose floor is heated less than the face cools its tile a little while it is shallow, as a fin does; no cavity is
            // credited with that.
            let got = [answer.bondline.temperature_k.max(none[1]), answer.structure.temperature_k.max(none[2])];
            assert!(got[0] >= last[0] - 0.05 && got[1] >= last[1] - 0.05, "{floor} {depth}: {got:?} after {last:?}");
            last = got;
        }
    }
}

#[test]
fn verif_the_openings_shares_balance() {
    assert_eq!(open_share(0.02, 0.0), (1.0, 0.5));
    for ratio in [1e-6, 0.1, 1.0, 3.0, 30.0] {
        let (floor, wall) = open_share(0.01, 0.01 * ratio);
        // What leaves floor and wall through the opening is what the opening would send in: its area once.
        assert!((floor + 2.0 * ratio * wall - 1.0).abs() < 1e-12, "{ratio}");
        assert!(floor <= 1.0 && wall <= 0.5 + 1e-9);
    }
    // Equal disks one radius apart: 0.381966, from tables (Howell's catalogue, from memory).
    assert!((open_share(1.0, 1.0).0 - 0.381966).abs() < 1e-6);
}

#[test]
fn measure_both_grids() {
    // Printed, not asserted: a number of one machine.
    let start = std::time::Instant::now();
    let answer = solved(0.02, 0.02, 1.0, 0.5);
    println!("both grids: {:.0} ms, {} nodes", 1e3 * start.elapsed().as_secs_f64(), answer.nodes);
}

#[test]
fn verif_trapped_radiation_heats() {
    let free = solved(0.02, 0.02, 1.0, 0.3);
    let trapped = shaded(0.02, 0.02, 1.0, 0.3, true);
    assert!(trapped.floor.temperature_k > free.floor.temperature_k + 10.0);
    assert!(trapped.bondline.temperature_k > free.bondline.temperature_k);
    // A patch on the face sees the sky either way.
    assert_eq!(shaded(0.02, 0.0, 1.3, 0.0, true), shaded(0.02, 0.0, 1.3, 0.0, false));
}
