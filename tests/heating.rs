//! Local heating through the whole path, from a mesh of tiles: bodies whose heating is known, symmetry, smoothness, the cap, and the demonstration vehicle.
#![cfg(not(target_arch = "wasm32"))]

#[path = "heating/surfaces.rs"]
mod surfaces;
#[path = "heating/whole.rs"]
mod whole;

use glam::DVec3;
use std::f64::consts::{FRAC_PI_2, PI, TAU};
use tileglow::flight::{Course, Sample};
use tileglow::heating::local::{Chain, as_surveyed};
use tileglow::heating::{Body, Choices, Facet, Moment, Stream, Surface, Transition, blunt, survey};

/// 71 km, 7,200 m/s, U.S. Standard Atmosphere 1976.
fn sample(attack_deg: f64, sideslip_deg: f64) -> Sample {
    Sample {
        altitude_m: 71000.0,
        speed_m_s: 7200.0,
        angle_of_attack_deg: attack_deg,
        sideslip_deg,
        density_kg_m3: 7.19652e-5,
        temperature_k: Some(216.846),
        pressure_pa: Some(4.47956),
        ..Sample::default()
    }
}

/// A body of revolution about x: rings of (x, radius, angle of the normal from -x) from nose to base, each ring cut into `around` tiles.
struct Turned {
    facets: Vec<Facet>,
    neighbours: Vec<Vec<u32>>,
}

fn turned(rings: &[(f64, f64, f64)], around: usize) -> Turned {
    let mut facets = Vec::new();
    let mut neighbours = Vec::new();
    for (i, (x, r, angle)) in rings.iter().enumerate() {
        for j in 0..around {
            let next = |i: usize, j: usize| (i * around + j % around) as u32;
            // Half the ring is made, the other half mirrored, so that left and right have the same bits.
            let mirrored = j >= around / 2;
            let k = if mirrored { around - 1 - j } else { j };
            let turn = TAU * (k as f64 + 0.5) / around as f64 - FRAC_PI_2;
            let side = if mirrored { -1.0 } else { 1.0 };
            let (y, z) = (side * turn.cos(), turn.sin());
            let normal = DVec3::new(-angle.cos(), angle.sin() * y, angle.sin() * z);
            facets.push(Facet { centre: DVec3::new(*x, r * y, r * z), normal, area_m2: 0.02, nose_radius_m: None, running_length_m: None });
            let mut near = vec![next(i, j + 1), next(i, j + around - 1)];
            if i > 0 {
                near.push(next(i - 1, j));
            } else {
                near.push(next(0, j + around / 2));
            }
            if i + 1 < rings.len() {
                near.push(next(i + 1, j));
            }
            near.sort_unstable();
            near.dedup();
            neighbours.push(near);
        }
    }
    Turned { facets, neighbours }
}

impl Turned {
    fn survey(&self) -> (Body, Surface) {
        let body = survey(&self.facets, |tile| self.neighbours[tile].as_slice());
        let surface = Surface::new(&body, self.facets.len(), |tile| as_surveyed(&self.facets[tile], &body.places[tile]));
        (body, surface)
    }

    fn chains(&self, sample: &Sample, choices: &Choices) -> Vec<Chain> {
        let (body, surface) = self.survey();
        let moment = Moment::new(&Stream::at(sample, 1.0), &body, choices, &choices.transition);
        (0..self.facets.len()).map(|tile| moment.chain(&surface, tile).unwrap()).collect()
    }
}

/// A hemisphere of `radius` with tiles 5 degrees high, on a cylinder `length` long.
fn hemisphere_cylinder(radius: f64, length: f64) -> Turned {
    let mut rings: Vec<(f64, f64, f64)> = (0..18)
        .map(|i| {
            let angle = (i as f64 + 0.5) * FRAC_PI_2 / 18.0;
            (radius * (1.0 - angle.cos()), radius * angle.sin(), angle)
        })
        .collect();
    let step = radius * FRAC_PI_2 / 18.0;
    rings.extend((0..(length / step) as usize).map(|i| (radius + (i as f64 + 0.5) * step, radius, FRAC_PI_2)));
    turned(&rings, 36)
}

/// Lees, Jet Propulsion 26 (1956): the falling-off around a sphere, within 2 %; the level of the stagnation point by the square root of the radii.
#[test]
fn val_lees_through_the_mesh() {
    let body = hemisphere_cylinder(0.5, 2.0);
    for attack in [0.0, 12.0, 30.0] {
        let sample = sample(attack, 0.0);
        let e = 1.0 / (1.4 * Stream::at(&sample, 1.0).mach.powi(2));
        let mut worst: f64 = 0.0;
        for (chain, facet) in body.chains(&sample, &Choices::default()).iter().zip(&body.facets) {
            // Inside the hemisphere only: the ring at the shoulder shares its curvature with the cylinder.
            if facet.centre.x < 0.4 && chain.inclination_deg > 18.0 {
                let want = (1.0_f64 / 0.5).sqrt() * blunt::sphere((90.0 - chain.inclination_deg).to_radians(), e);
                worst = worst.max((chain.factor / want - 1.0).abs());
            }
        }
        println!("Lees through the mesh at {attack} degrees: worst {:.2} %", 100.0 * worst);
        assert!(worst < 0.02, "{attack}: {worst}");
    }
}

/// Running length and nose radius of the survey against the closed form on a hemisphere-cylinder at zero incidence.
#[test]
fn verif_running_length_on_a_hemisphere_cylinder() {
    let turned = hemisphere_cylinder(0.5, 3.0);
    let (body, _) = turned.survey();
    assert!((body.nose_radius_m(0.0) / 0.5 - 1.0).abs() < 0.01, "{}", body.nose_radius_m(0.0));
    let (mut worst, mut mean, mut count): (f64, f64, f64) = (0.0, 0.0, 0.0);
    for (tile, facet) in turned.facets.iter().enumerate() {
        let want = if facet.centre.x < 0.5 { 0.5 * (1.0 - facet.centre.x / 0.5).acos() } else { 0.25 * PI + facet.centre.x - 0.5 };
        let off = (body.running_length_m(tile, 0.0).unwrap() / want - 1.0).abs();
        (worst, mean, count) = (worst.max(off), mean + off, count + 1.0);
    }
    println!("running length: worst {:.2} %, mean {:.2} %", 100.0 * worst, 100.0 * mean / count);
    assert!(worst < 0.03);
    // At 25 degrees, between two surveyed angles: great circles on the hemisphere, away from the nose whose length is set.
    let stream = Stream::at(&sample(25.0, 0.0), 1.0).wind;
    let (mut worst, mut mean, mut count): (f64, f64, f64) = (0.0, 0.0, 0.0);
    for (tile, facet) in turned.facets.iter().enumerate().filter(|(_, facet)| facet.centre.x < 0.45) {
        let angle = (-facet.normal.dot(stream)).acos();
        if angle > 0.7 && angle < FRAC_PI_2 {
            let off = body.running_length_m(tile, 25.0).unwrap() / (0.5 * angle) - 1.0;
            (worst, mean, count) = (worst.max(off.abs()), mean + off, count + 1.0);
        }
    }
    println!("running length at 25 degrees on the hemisphere: worst {:.2} %, mean {:+.2} %", 100.0 * worst, 100.0 * mean / count);
    assert!(worst < 0.03);
}

/// Mangler: a sharp cone's laminar heating is sqrt(3) times a plate's at the same edge conditions and run. The blend of plate and outflow must come
/// within 1 % far from the tip, at two speeds.
#[test]
fn val_sharp_cone() {
    for (degrees, speed) in
        [(10.0_f64, 7200.0), (20.0, 7200.0), (30.0, 7200.0), (40.0, 7200.0), (10.0, 3000.0), (25.0, 3000.0), (40.0, 3000.0)]
    {
        let half = degrees.to_radians();
        let mut rings = Vec::new();
        let mut s = 0.03;
        while s < 6.0 {
            rings.push((s * half.cos(), s * half.sin(), FRAC_PI_2 - half));
            s *= 1.08;
        }
        let cone = turned(&rings, 36);
        let sample = Sample { speed_m_s: speed, ..sample(0.0, 0.0) };
        let stream = Stream::at(&sample, 1.0);
        let sin = half.sin();
        let pressure = stream.pressure_pa + (stream.stagnation_pressure_pa - stream.pressure_pa) * sin * sin;
        let share = 1.0 - sin * sin;
        let mut worst: f64 = 0.0;
        for (chain, facet) in cone.chains(&sample, &Choices { lee_fraction: 1e-6, ..Choices::default() }).iter().zip(&cone.facets) {
            let s = facet.centre.length();
            if !(3.0..5.0).contains(&s) {
                continue;
            }
            let plate = 0.332
                * 0.71_f64.powf(-2.0 / 3.0)
                * (stream.density_viscosity.at(share) * pressure * stream.speed_m_s * share.sqrt() / s).sqrt()
                * stream.total_enthalpy_j_kg
                / stream.reference_heating_w_m2;
            let ratio = chain.factor / (3.0_f64.sqrt() * plate);
            if (ratio - 1.0).abs() > worst.abs() {
                worst = ratio - 1.0;
            }
        }
        println!("cone of {degrees} degrees at {speed} m/s: over Mangler's by {:+.1} %", 100.0 * worst);
        assert!(worst.abs() < 0.01, "{degrees} degrees: {worst}");
    }
}

/// An endless cylinder of `radius` along y, swept by `sweep_deg` of sideslip, tiles every 10 degrees around: (angle from the line, chain).
fn swept_cylinder(radius: f64, sweep_deg: f64, sample: &Sample, choices: &Choices) -> Vec<(f64, Chain)> {
    let (around, along) = (36, 9);
    let place = |i: usize, j: usize| (i * along + j) as u32;
    let mut facets = Vec::new();
    let mut neighbours = Vec::new();
    for i in 0..around {
        let turn = TAU * i as f64 / around as f64;
        for j in 0..along {
            let normal = DVec3::new(-turn.cos(), 0.0, turn.sin());
            let centre = normal * radius + DVec3::Y * 0.15 * (j as f64 - 4.0);
            facets.push(Facet { centre, normal, area_m2: 0.02, nose_radius_m: None, running_length_m: None });
            let mut near = vec![place((i + 1) % around, j), place((i + around - 1) % around, j)];
            near.extend(j.checked_sub(1).map(|j| place(i, j)));
            near.extend((j + 1 < along).then(|| place(i, j + 1)));
            neighbours.push(near);
        }
    }
    let body = Turned { facets, neighbours };
    let chains = body.chains(&Sample { sideslip_deg: sweep_deg, ..*sample }, choices);
    (0..around).map(|i| (360.0 / around as f64 * i as f64, chains[place(i, 4) as usize])).collect()
}

/// The stagnation line of a swept cylinder: heating falls as a power of the cosine of the sweep. Theory and experiment give powers of 1.0 to 1.5 (NACA
/// Report 1379, NASA TR R-104; from memory), for a cold wall and large Mach numbers about 1.1.
#[test]
fn val_swept_cylinder() {
    let choices = Choices { lee_fraction: 1e-6, ..Choices::default() };
    for speed in [7200.0, 3000.0] {
        let sample = Sample { speed_m_s: speed, ..sample(0.0, 0.0) };
        let line = |sweep: f64| swept_cylinder(0.3, sweep, &sample, &choices)[0].1;
        let unswept = line(0.0).factor;
        // Fay and Riddell's leading coefficients: a cylinder over a sphere of its radius.
        assert!((unswept * 0.3_f64.sqrt() / (0.570 / 0.763) - 1.0).abs() < 0.02, "{unswept}");
        for sweep in [20.0_f64, 40.0, 60.0, 70.0] {
            let power = (line(sweep).factor / unswept).ln() / sweep.to_radians().cos().ln();
            println!("swept cylinder, {speed} m/s, {sweep} degrees: power {power:.2}");
            assert!((1.0..1.2).contains(&power), "{sweep}: {power}");
        }
    }
}

/// A turbulent swept attachment line: none below Poll's Reynolds number of 245, there 0.0592 R*^-0.4 skin friction with Reynolds' analogy (from
/// memory); a plate's law on the run W / (dU/dx).
#[test]
fn val_turbulent_attachment_line() {
    let laminar = Choices { lee_fraction: 1e-6, ..Choices::default() };
    let turbulent = Choices { transition: Transition::Time { time_s: -100.0 }, ..laminar.clone() };
    let mut dense = sample(0.0, 0.0);
    (dense.density_kg_m3, dense.pressure_pa, dense.temperature_k) = (4e-3, Some(4e-3 * 287.05 * 250.0), Some(250.0));
    dense.speed_m_s = 4000.0;
    let stream = Stream::at(&dense, 1.0);
    for sweep in [30.0_f64, 45.0, 60.0] {
        let (sin, cos) = sweep.to_radians().sin_cos();
        let pressure = stream.pressure_pa + (stream.stagnation_pressure_pa - stream.pressure_pa) * cos * cos;
        let rate = stream.gradient_m_s * cos / 0.3;
        let share = sin * sin;
        let reynolds = pressure * stream.reynolds.at(share) * (stream.speed_m_s * sin).powi(2) / rate;
        let poll = reynolds.sqrt();
        let stanton = 0.5 * 0.0592 * poll.powf(-0.4) * 0.71_f64.powf(-2.0 / 3.0);
        // rho* u of the coefficient: the density from rho*/mu* and rho* mu*.
        let density = pressure * (stream.density_viscosity.at(share) * stream.reynolds.at(share)).sqrt();
        let want = stanton * density * stream.speed_m_s * sin * stream.total_enthalpy_j_kg / stream.reference_heating_w_m2;
        let before = swept_cylinder(0.3, sweep, &dense, &laminar)[0].1.factor;
        let got = swept_cylinder(0.3, sweep, &dense, &turbulent)[0].1.factor;
        let turbulent_part = (got.powi(4) - before.powi(4)).powf(0.25);
        println!(
            "swept {sweep} degrees: R* {poll:.0}, turbulent over laminar {:.2}, over Poll's {:.3}",
            got / before,
            turbulent_part / want
        );
        assert!(poll > 245.0 * 2.0_f64.sqrt());
        assert!((turbulent_part / want - 1.0).abs() < 0.05, "{sweep}: {turbulent_part} {want}");
    }
    // High up no line is turbulent, whatever the plates are.
    let high = sample(0.0, 0.0);
    let (a, b) = (swept_cylinder(0.1, 45.0, &high, &laminar)[0].1.factor, swept_cylinder(0.1, 45.0, &high, &turbulent)[0].1.factor);
    assert!((b / a - 1.0).abs() < 1e-9, "{a} {b}");
}

/// NACA Report 1135: stagnation pressure coefficient at large Mach; modified Newtonian on a face at 45 degrees is half of it.
#[test]
fn val_modified_newtonian() {
    use tileglow::heating::local::{modified_newtonian, stanton_laminar, stanton_turbulent};
    assert!((modified_newtonian(tileglow::air::shock::cp_max(20.0), PI / 4.0) / 0.918721 - 1.0).abs() < 0.002);
    // Eckert (1955), and the ratio of the two laws.
    assert!((stanton_laminar(1e5) / 0.00131917 - 1.0).abs() < 0.01);
    assert!((stanton_turbulent(1e6) / 0.00234667 - 1.0).abs() < 0.03);
    for (reynolds, want) in [(1e5, 2.81938), (3e5, 3.92004), (1e6, 5.6254)] {
        assert!((stanton_turbulent(reynolds) / stanton_laminar(reynolds) / want - 1.0).abs() < 0.05);
    }
    // Fay and Riddell's leading coefficients, cylinder over sphere.
    assert!((tileglow::heating::place::SPHERE_OVER_CYLINDER.sqrt() / 0.747051 - 1.0).abs() < 0.05);
}

fn mirror(turned: &Turned, tile: usize, around: usize) -> usize {
    let (ring, j) = (tile / around, tile % around);
    assert!(turned.facets[tile].centre.y == -turned.facets[ring * around + around - 1 - j].centre.y);
    ring * around + around - 1 - j
}

/// Left and right to the bit without sideslip; windward hotter with it.
#[test]
fn verif_mirror_symmetry() {
    let body = hemisphere_cylinder(0.5, 1.0);
    for attack in [-5.0, 0.0, 23.0, 40.0] {
        let chains =
            body.chains(&sample(attack, 0.0), &Choices { transition: Transition::MomentumThickness { limit: 50.0 }, ..Choices::default() });
        for (tile, chain) in chains.iter().enumerate() {
            let other = &chains[mirror(&body, tile, 36)];
            assert_eq!(chain.cold_wall_w_m2.to_bits(), other.cold_wall_w_m2.to_bits(), "{attack} {tile}");
            assert_eq!(chain.recovery_j_kg.to_bits(), other.recovery_j_kg.to_bits());
        }
    }
    let chains = body.chains(&sample(20.0, 5.0), &Choices::default());
    for (tile, chain) in chains.iter().enumerate() {
        let facet = &body.facets[tile];
        if facet.centre.y > 0.2 && facet.centre.z < 0.0 {
            assert!(chain.cold_wall_w_m2 > chains[mirror(&body, tile, 36)].cold_wall_w_m2, "{tile}");
        }
    }
}

/// No jump in angle of attack or sideslip: a step of a tenth of a degree changes no tile's heating by more than 3 % of the reference.
#[test]
fn verif_smooth_in_attitude() {
    let turned = hemisphere_cylinder(0.5, 2.0);
    let (body, surface) = turned.survey();
    for transition in [Transition::None, Transition::MomentumThickness { limit: 60.0 }, Transition::Time { time_s: -100.0 }] {
        let at = |attack: f64, slip: f64| {
            let moment = Moment::new(&Stream::at(&sample(attack, slip), 1.0), &body, &Choices::default(), &transition);
            (0..turned.facets.len()).map(|tile| moment.chain(&surface, tile).unwrap().factor).collect::<Vec<_>>()
        };
        let mut before = at(-10.0, 0.0);
        for step in 1..=500 {
            let now = at(-10.0 + 0.1 * step as f64, 0.01 * step as f64);
            for (tile, (a, b)) in before.iter().zip(&now).enumerate() {
                assert!((a - b).abs() < 0.03, "{transition:?} step {step} tile {tile}: {a} {b}");
            }
            before = now;
        }
    }
}

/// Half rho V^3 bounds every face at every height; near the ground of the flight the cap takes nothing.
#[test]
fn verif_free_molecular_cap() {
    let body = hemisphere_cylinder(0.05, 0.2);
    for density in [1e-9, 1e-8, 1e-7, 1e-6, 1e-5, 1e-4] {
        let mut here = sample(20.0, 0.0);
        (here.density_kg_m3, here.pressure_pa, here.speed_m_s) = (density, Some(density * 287.05 * 200.0), 7800.0);
        let most = 0.5 * density * 7800.0_f64.powi(3);
        for chain in body.chains(&here, &Choices::default()) {
            assert!(chain.cold_wall_w_m2 <= most * 1.0007, "{density}: {} of {most}", chain.cold_wall_w_m2);
            if density == 1e-4 {
                assert!(chain.uncapped > 0.99);
            }
        }
    }
}

/// Turbulent over laminar on the windward side of a body in flight: common practice says 3 to 5; and none is made on a nose.
#[test]
fn verif_turbulent_raises_and_the_nose_stays() {
    let body = hemisphere_cylinder(0.5, 6.0);
    let mut here = sample(35.0, 0.0);
    (here.density_kg_m3, here.pressure_pa, here.speed_m_s, here.temperature_k) = (5e-4, Some(5e-4 * 287.05 * 260.0), 4000.0, Some(260.0));
    let laminar = body.chains(&here, &Choices::default());
    let turbulent = body.chains(&here, &Choices { transition: Transition::Time { time_s: -100.0 }, ..Choices::default() });
    for (a, b) in laminar.iter().zip(&turbulent) {
        assert!(b.factor >= a.factor * 0.999_999);
    }
    let windward = |i: &usize| body.facets[*i].centre.x > 5.0 && body.facets[*i].normal.z < -0.98;
    for i in (0..laminar.len()).filter(windward) {
        let ratio = turbulent[i].factor / laminar[i].factor;
        if body.facets[i].centre.y > 0.0 {
            println!("turbulent over laminar at x {:.1}: {ratio:.2}", body.facets[i].centre.x);
        }
        assert!(ratio > 1.5 && ratio < 5.0);
    }
}
