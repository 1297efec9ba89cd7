//! Control surfaces, sideslip, nose radius at angle of attack, steps and recombination, through the local heating.

use super::{sample, turned};
use glam::DVec3;
use std::f64::consts::{FRAC_PI_2, TAU};
use tileglow::document::Table;
use tileglow::flight::Sample;
use tileglow::heating::gap::{GAP_AXIS, Gaps, OwnFactors, STEP_AXIS};
use tileglow::heating::local::{Chain, as_surveyed};
use tileglow::heating::{Body, Choices, Facet, Moment, Stream, Surface, Transition, control, survey};

const ACROSS: usize = 9;
const ALONG: usize = 24;
const FLAP: usize = 18;

/// A flat belly 6 m long, its last quarter a flap: rows of tiles facing down.
fn plate() -> (Vec<Facet>, Vec<Vec<u32>>) {
    let mut facets = Vec::new();
    let mut neighbours = Vec::new();
    for i in 0..ALONG {
        for j in 0..ACROSS {
            let centre = DVec3::new(0.25 * (i as f64 + 0.5), 0.25 * (j as f64 - 4.0), 0.0);
            facets.push(Facet { centre, normal: DVec3::NEG_Z, area_m2: 0.0625, ..Facet::default() });
            let mut near = Vec::new();
            let mut join = |i: Option<usize>, j: Option<usize>| {
                if let (Some(i), Some(j)) = (i.filter(|i| *i < ALONG), j.filter(|j| *j < ACROSS)) {
                    near.push((i * ACROSS + j) as u32);
                }
            };
            join(i.checked_sub(1), Some(j));
            join(Some(i + 1), Some(j));
            join(Some(i), j.checked_sub(1));
            join(Some(i), Some(j + 1));
            neighbours.push(near);
        }
    }
    (facets, neighbours)
}

fn flap(tile: usize) -> Option<usize> {
    (tile / ACROSS >= FLAP).then_some(0)
}

fn hinged() -> (Body, Surface) {
    let (facets, neighbours) = plate();
    let near = |tile: usize| neighbours[tile].as_slice();
    let body = survey(&facets, near);
    let hinges = control::hinges(&facets, near, flap);
    for (tile, hinge) in hinges.iter().enumerate() {
        assert_eq!(hinge.is_some(), flap(tile).is_some());
        if let Some(hinge) = hinge {
            assert!((hinge.axis - DVec3::Y).length() < 1e-9, "{hinge:?}");
        }
    }
    let surface = Surface::new(&body, facets.len(), |tile| {
        let mut local = as_surveyed(&facets[tile], &body.places[tile]);
        local.hinge = hinges[tile];
        local
    });
    (body, surface)
}

fn chain(at: &Sample, choices: &Choices, degrees: &[f64], tile: usize, (body, surface): &(Body, Surface)) -> Chain {
    Moment::new(&Stream::at(at, 1.0), body, choices, &choices.transition).deflected(degrees).chain(surface, tile).unwrap()
}

const MIDDLE: usize = (ALONG - 3) * ACROSS + 4;

/// Positive is trailing edge down, into the stream; undeflected is the same bytes; other tiles do not feel it.
#[test]
fn verif_a_flap_turns_about_its_hinge() {
    let plate = hinged();
    let (here, choices) = (sample(20.0, 0.0), Choices::default());
    let still = chain(&here, &choices, &[], MIDDLE, &plate);
    assert_eq!(chain(&here, &choices, &[0.0], MIDDLE, &plate), still);
    let down = chain(&here, &choices, &[15.0], MIDDLE, &plate);
    assert!((down.inclination_deg - 35.0).abs() < 1e-9, "{}", down.inclination_deg);
    assert!((chain(&here, &choices, &[-15.0], MIDDLE, &plate).inclination_deg - 5.0).abs() < 1e-9);
    // The second shares its lanes with the flap's first.
    for ahead in [(FLAP - 1) * ACROSS + 4, FLAP * ACROSS - 1] {
        assert_eq!(chain(&here, &choices, &[15.0], ahead, &plate), chain(&here, &choices, &[], ahead, &plate));
    }
}

/// Heating over undisturbed as the pressure ratio to 0.7 laminar and 0.85 turbulent (AGARDograph 203; from memory), as stated.
#[test]
fn val_compression_corner() {
    let mut dense = sample(15.0, 0.0);
    (dense.density_kg_m3, dense.pressure_pa, dense.temperature_k, dense.speed_m_s) = (2e-3, Some(150.0), Some(260.0), 3500.0);
    // The plate part alone: without the flat face's outflow.
    let (facets, neighbours) = plate();
    let near = |tile: usize| neighbours[tile].as_slice();
    let body = survey(&facets, near);
    let hinges = control::hinges(&facets, near, flap);
    let surface = Surface::new(&body, facets.len(), |tile| {
        let mut local = as_surveyed(&facets[tile], &body.places[tile]);
        local.hinge = hinges[tile];
        local.place.sharp_per_m = 1e-9;
        local
    });
    let plate = (body, surface);
    let free = dense.pressure_pa.unwrap();
    let dynamic = 0.5 * dense.density_kg_m3 * dense.speed_m_s.powi(2);
    for (transition, want) in [(Transition::None, 0.7), (Transition::Time { time_s: -100.0 }, 0.85)] {
        let choices = Choices { lee_fraction: 1e-6, transition, ..Choices::default() };
        let at = |degrees: f64| chain(&dense, &choices, &[degrees], MIDDLE, &plate);
        let still = at(0.0);
        for degrees in [5.0, 10.0, 20.0, 25.0] {
            let turned = at(degrees);
            let pressure = |chain: &Chain| free + chain.pressure_coefficient * dynamic;
            let power = (turned.factor / still.factor).ln() / (pressure(&turned) / pressure(&still)).ln();
            println!("corner of {degrees} degrees: heating {:.2} times, power {power:.3} for {want}", turned.factor / still.factor);
            assert!((power - want).abs() < 0.03, "{degrees}: {power} {want}");
        }
    }
}

/// No jump over deflection, from 40 degrees up to 40 down, laminar and turbulent.
#[test]
fn verif_smooth_in_deflection() {
    let plate = hinged();
    for transition in [Transition::None, Transition::Time { time_s: -100.0 }] {
        let choices = Choices { transition, ..Choices::default() };
        let mut before = chain(&sample(25.0, 3.0), &choices, &[-40.0], MIDDLE, &plate).factor;
        for step in 1..=800 {
            let now = chain(&sample(25.0, 3.0), &choices, &[-40.0 + 0.1 * f64::from(step)], MIDDLE, &plate).factor;
            assert!((now - before).abs() < 0.01, "{step}: {before} {now}");
            before = now;
        }
    }
}

/// On a body of revolution 10 degrees of sideslip are 10 degrees of angle of attack, a quarter turn round.
#[test]
fn verif_running_length_at_sideslip() {
    let body = super::hemisphere_cylinder(0.5, 3.0);
    let near = |tile: usize| body.neighbours[tile].as_slice();
    let mut surveyed = survey(&body.facets, near);
    let before = surveyed.clone();
    surveyed.survey_sideslip(&body.facets, near);
    let surface = |body_of: &Body| Surface::new(body_of, body.facets.len(), |tile| as_surveyed(&body.facets[tile], &body_of.places[tile]));
    let (with, without) = (surface(&surveyed), surface(&before));
    let run = |surface: &Surface, attack: f64, slip: f64, tile: usize| {
        let stream = Stream::at(&sample(attack, slip), 1.0);
        Moment::new(&stream, &surveyed, &Choices::default(), &Transition::None).chain(surface, tile).unwrap().running_length_m
    };
    // The tile at the same place, a quarter turn from below to the right.
    let quarter = |tile: usize| {
        let facet = &body.facets[tile];
        let want = DVec3::new(facet.centre.x, -facet.centre.z, facet.centre.y);
        (0..body.facets.len()).min_by(|a, b| {
            let off = |tile: &usize| (body.facets[*tile].centre - want).length();
            off(a).total_cmp(&off(b))
        })
    };
    let mut worst: f64 = 0.0;
    for tile in (0..body.facets.len()).filter(|tile| body.facets[*tile].centre.x > 0.3) {
        let other = quarter(tile).unwrap();
        worst = worst.max((run(&with, 0.0, 10.0, other) / run(&with, 10.0, 0.0, tile) - 1.0).abs());
        // Without sideslip nothing changes, bit for bit.
        assert_eq!(run(&with, 17.0, 0.0, tile).to_bits(), run(&without, 17.0, 0.0, tile).to_bits());
    }
    println!("running length at 10 degrees of sideslip against 10 of attack: worst {:.2} %", 100.0 * worst);
    assert!(worst < 0.03, "{worst}");
}

/// The nose radius at angle of attack on a spheroid, whose curvatures are known: that of the sphere with the same stagnation heating where the face
/// is square to the stream.
#[test]
fn verif_nose_radius_at_angle_of_attack() {
    let (a, b) = (1.0_f64, 0.6_f64);
    let rings: Vec<(f64, f64, f64)> = (0..30)
        .map(|i| {
            let t: f64 = (i as f64 + 0.5) / 30.0 * FRAC_PI_2;
            let (x, r) = (a * (1.0 - t.cos()), b * t.sin());
            // Normal: (-cos t / a, sin t / b).
            (x, r, (t.sin() / b).atan2(t.cos() / a))
        })
        .collect();
    let body = turned(&rings, 48);
    let surveyed = survey(&body.facets, |tile| body.neighbours[tile].as_slice());
    for attack in [0.0_f64, 10.0, 20.0, 30.0, 40.0] {
        // Parameter at which the normal faces the stream.
        let t = (b / a * attack.to_radians().tan()).atan();
        let scale = (t.sin().powi(2) * a * a + t.cos().powi(2) * b * b).sqrt();
        let (along, across) = (scale.powi(3) / (a * b), b * scale / a);
        let (sharp, flat) = (1.0 / along.min(across), 1.0 / along.max(across));
        let s = tileglow::heating::place::SPHERE_OVER_CYLINDER;
        let want = 1.0 / (sharp * (s + (1.0 - s) * flat / sharp));
        let got = surveyed.nose_radius_m(attack);
        println!("spheroid at {attack} degrees: nose radius {got:.3} m for {want:.3}");
        assert!((got / want - 1.0).abs() < 0.08, "{attack}: {got} {want}");
    }
}

/// A tile along the stream on the flank of a body at 40 degrees: between the stated lee fraction and the windward side, and more than the lee alone.
#[test]
fn verif_flank_between_lee_and_windward() {
    let body = super::hemisphere_cylinder(0.5, 4.0);
    let chains = body.chains(&sample(40.0, 0.0), &Choices::default());
    let at = |angle: f64| {
        (0..chains.len())
            .filter(|tile| body.facets[*tile].centre.x > 3.0)
            .min_by(|a, b| {
                let off = |tile: &usize| (body.facets[*tile].normal.z.atan2(body.facets[*tile].normal.y) - angle).rem_euclid(TAU).min(1.0);
                off(a).total_cmp(&off(b))
            })
            .unwrap()
    };
    let (side, lee, belly) = (chains[at(0.0)].factor, chains[at(FRAC_PI_2)].factor, chains[at(-FRAC_PI_2)].factor);
    println!("at 40 degrees: side {side:.3}, lee {lee:.3}, belly {belly:.3} of the reference");
    assert!((lee / 0.035 - 1.0).abs() < 0.05 && side > 1.3 * lee && side < 0.5 * belly, "{side} {lee} {belly}");
}

/// A proud tile is hotter, more so where turbulent; a flush or lower one has the same bytes.
#[test]
fn verif_steps_reach_the_tile() {
    let (facets, neighbours) = plate();
    let body = survey(&facets, |tile| neighbours[tile].as_slice());
    let surface = |step_m: f64| {
        Surface::new(&body, facets.len(), |tile| {
            let mut local = as_surveyed(&facets[tile], &body.places[tile]);
            local.step_m = step_m;
            local
        })
    };
    let mut dense = sample(30.0, 0.0);
    (dense.density_kg_m3, dense.pressure_pa, dense.temperature_k, dense.speed_m_s) = (1e-3, Some(75.0), Some(260.0), 4000.0);
    let factor = |step_m: f64, transition: Transition| {
        let choices = Choices { transition, ..Choices::default() };
        let moment = Moment::new(&Stream::at(&dense, 1.0), &body, &choices, &choices.transition);
        moment.chain(&surface(step_m), MIDDLE).unwrap().factor
    };
    assert_eq!(factor(-0.003, Transition::None).to_bits(), factor(0.0, Transition::None).to_bits());
    let rise = |transition: Transition| factor(0.004, transition) / factor(0.0, transition);
    let (laminar, turbulent) = (rise(Transition::None), rise(Transition::Time { time_s: -100.0 }));
    println!("a step of 4 mm: laminar {laminar:.3}, turbulent {turbulent:.3} times");
    assert!(laminar > 1.001 && turbulent > laminar && turbulent < 2.5, "{laminar} {turbulent}");
    // A user's own table takes the relation's place, laminar and turbulent, and leaves a flush surface its bits.
    let table = |value: f64| Table { axis: STEP_AXIS, at: vec![0.0], value: vec![value] };
    let own = OwnFactors { laminar: table(1.75), turbulent: table(2.25), source: "own".to_string() };
    for (transition, want) in [(Transition::None, 1.75), (Transition::Time { time_s: -100.0 }, 2.25)] {
        let choices = Choices { transition, ..Choices::default() };
        let moment = Moment::new(&Stream::at(&dense, 1.0), &body, &choices, &choices.transition);
        let of = |step_m: f64| moment.chain(&surface(step_m).with_own([Some(&own), None]), MIDDLE).unwrap().factor;
        assert_eq!(of(0.0).to_bits(), factor(0.0, transition).to_bits());
        let got = of(0.004) / of(0.0);
        assert!((got / want - 1.0).abs() < 0.01, "{got} for {want}");
    }
}

/// Through the local heating an open gap raises its tile by the stated share, laminar and turbulent, beside a step too; a user's table takes the relation's place.
#[test]
fn verif_gaps_reach_the_tile() {
    let (facets, neighbours) = plate();
    let body = survey(&facets, |tile| neighbours[tile].as_slice());
    let gaps = Gaps::default().with(0.003, 0.25, 0.0625, 0.04);
    let table = |axis, value: f64| Table { axis, at: vec![0.0], value: vec![value] };
    let own = OwnFactors { laminar: table(GAP_AXIS, 1.3), turbulent: table(GAP_AXIS, 1.6), source: "own".to_string() };
    let mut here = sample(30.0, 0.0);
    (here.density_kg_m3, here.pressure_pa, here.temperature_k, here.speed_m_s) = (1e-3, Some(75.0), Some(260.0), 4000.0);
    for (transition, share, table) in [(Transition::None, 0.56, 1.3), (Transition::Time { time_s: -100.0 }, 0.6, 1.6)] {
        let choices = Choices { transition, ..Choices::default() };
        let moment = Moment::new(&Stream::at(&here, 1.0), &body, &choices, &choices.transition);
        let of = |step_m: f64, gaps: Gaps, own: Option<&OwnFactors>| {
            let local = |tile: usize| tileglow::heating::local::Local { step_m, gaps, ..as_surveyed(&facets[tile], &body.places[tile]) };
            // The factor before the cap, which joins smoothly.
            let chain = moment.chain(&Surface::new(&body, facets.len(), local).with_own([None, own]), MIDDLE).unwrap();
            chain.factor / chain.uncapped
        };
        let none = Gaps::default();
        let rise = of(0.0, gaps, None) / of(0.0, none, None);
        println!("a gap of 3 mm: {rise:.4} times");
        assert!((rise / (1.0 + share * 0.003 * 0.25 / 0.0625) - 1.0).abs() < 1e-9, "{rise}");
        assert!((of(0.002, gaps, None) / of(0.002, none, None) / rise - 1.0).abs() < 1e-9);
        assert!((of(0.0, gaps, Some(&own)) / of(0.0, none, None) / table - 1.0).abs() < 1e-9);
        assert_eq!(of(0.0, none, Some(&own)).to_bits(), of(0.0, none, None).to_bits());
    }
}

/// A glass coating takes less than a fully catalytic one while fast and high, the same when slow, and nothing off where turbulent.
#[test]
fn verif_recombination_by_speed_and_layer() {
    let library = tileglow::material::Library::built_in();
    let glass = &library.materials[library.find("rcg").unwrap()];
    let (facets, neighbours) = plate();
    let body = survey(&facets, |tile| neighbours[tile].as_slice());
    let surface = |rate: Option<tileglow::heating::catalysis::Rate>| {
        Surface::new(&body, facets.len(), |tile| {
            let mut local = as_surveyed(&facets[tile], &body.places[tile]);
            local.recombination = rate;
            local
        })
    };
    let (full, coated) = (surface(None), surface(tileglow::heating::catalysis::Rate::of(&glass.surface_recombination)));
    let ratio = |speed_m_s: f64, transition: Transition| {
        let here = Sample { speed_m_s, ..sample(40.0, 0.0) };
        let moment = Moment::new(&Stream::at(&here, 1.0), &body, &Choices::default(), &transition);
        moment.chain(&coated, MIDDLE).unwrap().factor / moment.chain(&full, MIDDLE).unwrap().factor
    };
    let mut before = 1.0;
    for speed in [1500.0, 2000.0, 3000.0, 4500.0, 6000.0, 7200.0] {
        let here = ratio(speed, Transition::None);
        println!("glass at {speed} m/s, 71 km: {here:.3} of fully catalytic");
        assert!(here > 0.55 && (speed > 4000.0 || here <= before), "{speed}: {here}");
        before = here;
    }
    assert_eq!(ratio(1500.0, Transition::None), 1.0);
    assert!((0.6..0.85).contains(&ratio(7000.0, Transition::None)));
    assert!((ratio(7000.0, Transition::Time { time_s: -100.0 }) - 1.0).abs() < 1e-9);
}

/// Eckert (1955): recovery factors, the rows of tests/data/aero.csv (`recovery-laminar`, `recovery-turbulent`), read back from the recovery
/// enthalpy of a plate along the stream.
#[test]
fn val_recovery_factors() {
    let (facets, neighbours) = plate();
    let body = survey(&facets, |tile| neighbours[tile].as_slice());
    let surface = Surface::new(&body, facets.len(), |tile| {
        let mut local = as_surveyed(&facets[tile], &body.places[tile]);
        (local.place.sharp_per_m, local.running_length_m) = (1e-9, Some(1e4));
        local
    });
    for (transition, want) in [(Transition::None, 0.842615), (Transition::Time { time_s: -100.0 }, 0.892112)] {
        let stream = Stream::at(&sample(0.0, 0.0), 1.0);
        let chain = Moment::new(&stream, &body, &Choices::default(), &transition).chain(&surface, MIDDLE).unwrap();
        let kinetic = 0.5 * stream.speed_m_s * stream.speed_m_s;
        let got = 1.0 - (stream.total_enthalpy_j_kg - chain.recovery_j_kg) / kinetic;
        println!("recovery factor {got:.4} for {want}");
        assert!((got / want - 1.0).abs() < 0.005, "{got} {want}");
    }
}

/// The lee fraction as it reaches a face in the shadow: 0.03 to 0.04 of the reference (common practice; tests/data/aero.csv `fact-lee-side`).
#[test]
fn val_lee_side() {
    let body = super::hemisphere_cylinder(0.5, 3.0);
    let chains = body.chains(&sample(40.0, 0.0), &Choices::default());
    for (chain, _) in chains.iter().zip(&body.facets).filter(|(_, facet)| facet.normal.z > 0.9 && facet.centre.x > 1.0) {
        assert!((chain.factor / 0.035 - 1.0).abs() < 0.15, "{}", chain.factor);
    }
}

/// Every test that the reference names is in the sources, and every row of the reference names one.
#[test]
fn verif_reference_names_tests_that_exist() {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
    let table = std::fs::read_to_string(root.join("src/heating/REFERENCE.md")).unwrap();
    let mut sources = String::new();
    for folder in ["src/heating", "src/heating/points", "src/assess", "src/tile", "tests", "tests/assess", "tests/heating"] {
        for file in std::fs::read_dir(root.join(folder)).unwrap().map(|file| file.unwrap().path()) {
            if file.extension().is_some_and(|extension| extension == "rs") {
                sources += &std::fs::read_to_string(file).unwrap();
            }
        }
    }
    let mut rows = 0;
    for line in table.lines().filter(|line| line.starts_with("| ") && !line.starts_with("| relation") && !line.starts_with("| ---")) {
        let cells: Vec<&str> = line.trim_matches('|').split(" | ").collect();
        assert_eq!(cells.len(), 5, "{line}");
        let named: Vec<&str> = cells[4].split('`').filter(|word| word.starts_with("val_") || word.starts_with("verif_")).collect();
        assert!(!named.is_empty(), "{line}");
        for name in named {
            assert!(sources.contains(&format!("fn {name}()")), "no test is called {name}");
        }
        rows += 1;
    }
    assert!(rows > 15);
}
