//! Every published case against its reference, and the refusals.

use super::case::Case;
use super::solve::{Solution, solve};
use crate::document::Json;
use crate::material::Library;
use crate::tile::face::WallEnthalpy;

struct NoAir;
impl WallEnthalpy for NoAir {
    fn at(&self, temperature_k: f64, _: f64) -> (f64, f64) {
        (1004.5 * temperature_k, 1004.5)
    }
}

fn data(name: &str) -> String {
    std::fs::read_to_string(format!("{}/tests/data/coupons/{name}", env!("CARGO_MANIFEST_DIR"))).unwrap()
}

fn solved(name: &str) -> (Case, Solution) {
    let case = Case::read(name, &data(&format!("{name}.json")), &Library::default()).unwrap();
    let solution = solve(&case, &NoAir, &case.output_times_s).unwrap();
    (case, solution)
}

const CASES: [&str; 15] = [
    "conductivity-with-temperature",
    "contact-resistance",
    "convection-both-sides",
    "entry-pulse",
    "entry-pulse-constant",
    "plane-wall-convection",
    "radiative-equilibrium",
    "ramped-surface",
    "semi-infinite-convection",
    "semi-infinite-flux",
    "semi-infinite-step",
    "sinusoidal-surface",
    "slab-step",
    "tile-on-aluminium",
    "tile-stack",
];

/// Sources: each expected file names its own (closed forms after Carslaw and Jaeger, Incropera; an extrapolated finite-volume
/// reference for the entry pulses). The stated error must cover the true one, and stay small.
#[test]
fn val_published_cases_within_their_tolerance_and_the_stated_error() {
    let mut wrong = Vec::new();
    for name in CASES.iter().chain(&["two-layer-steady"]) {
        let began = std::time::Instant::now();
        let (case, solution) = solved(name);
        let took = began.elapsed();
        let want = Json::parse(name, &data(&format!("{name}.expected.json"))).unwrap();
        let number = |item: &Json, key: &str| item.get(key).and_then(Json::as_number).unwrap();
        let probe = |item: &Json| case.probes.iter().position(|p| Some(p.name.as_str()) == item.get("probe").unwrap().as_text()).unwrap();
        let items = |key: &str| if let Some(Json::List(items)) = want.get(key) { items.clone() } else { Vec::new() };
        let mut worst: f64 = 0.0;
        let mut check = |what: String, got: f64, wanted: f64, tolerance: f64| {
            if (got - wanted).abs() > tolerance {
                wrong.push(format!("{name} {what}: {got} instead of {wanted} within {tolerance}"));
            }
        };
        for item in items("checks") {
            let at = case.output_times_s.iter().position(|t| *t == number(&item, "time_s")).unwrap();
            let got = solution.values_k[probe(&item)][at];
            worst = worst.max((got - number(&item, "temperature_k")).abs());
            check(format!("at {}", number(&item, "time_s")), got, number(&item, "temperature_k"), number(&item, "tolerance_k"));
        }
        for item in items("peaks") {
            let got = solution.probe_peaks[probe(&item)];
            worst = worst.max((got.temperature_k - number(&item, "peak_k")).abs());
            check("peak".into(), got.temperature_k, number(&item, "peak_k"), number(&item, "tolerance_k"));
            check("peak time".into(), got.time_s, number(&item, "peak_time_s"), number(&item, "tolerance_s"));
        }
        let energy = &solution.energy;
        for item in items("energy") {
            let got = if item.get("key").unwrap().as_text() == Some("stored_j_m2") { energy.stored_j_m2 } else { energy.net_in_j_m2 };
            check("energy".into(), got, number(&item, "value"), number(&item, "value") * number(&item, "tolerance_fraction"));
        }
        let stated = solution.numerical_error_k;
        println!("{name}: stated {stated:.2e} K, true {worst:.2e} K, imbalance {:.1e}, {took:?}", energy.imbalance_fraction());
        check("the stated error is honest".into(), 0.0, (worst - stated - number(&want, "reference_uncertainty_k")).max(0.0), 0.0);
        check("energy closes".into(), energy.imbalance_fraction(), 0.0, 1e-6);
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// A short lamp test of a tile on a skin, with probes where a test engineer puts them.
const LAMP: &str = r#"{"format":"tileglow-coupon/1","name":"lamp","layers":[
{"name":"tile","thickness_m":0.02,"material":{"density_kg_m3":144,"specific_heat_j_kgk":1100,"conductivity_w_mk":{"temperature_k":[300,1500],"value":[0.05,0.2]}}},
{"name":"joint","resistance_m2k_w":1e-4},
{"name":"skin","thickness_m":0.002,"material":{"density_kg_m3":2770,"specific_heat_j_kgk":900,"conductivity_w_mk":177}}],
"initial_k":300,"pressure_pa":101325,
"front":{"kind":"flux","flux_w_m2":{"time_s":[0,100,500,600],"value":[0,60000,60000,0]},"emissivity":0.85,"surroundings_k":300},
"back":{"kind":"convection","h_w_m2k":5,"ambient_k":300},"duration_s":1500,
"probes":[{"name":"surface","depth_m":0},{"name":"mid","depth_m":0.008},{"name":"bondline","depth_m":0.02}],
"output_times_s":[0,300,600,1500]}"#;

fn run(case: &str, measured: Option<&str>, names: &[&str]) -> Result<super::Outcome, crate::document::Error> {
    let names: Vec<String> = names.iter().map(|name| name.to_string()).collect();
    let measured = measured.map(|text| super::Input { name: "traces.csv", bytes: text.as_bytes() });
    super::coupon(super::Input { name: "case.json", bytes: case.as_bytes() }, measured, &names, &Library::default(), &NoAir)
}

/// Traces of a case computed with known scales, with a repeatable scatter of `scatter_k` (mean square root).
fn traces_of(case: &str, scales: &[(&str, f64)], scatter_k: f64) -> String {
    let case = super::fit::scaled(&Case::read("case.json", case, &Library::default()).unwrap(), scales);
    let times: Vec<f64> = (1..=75).map(|i| 20.0 * i as f64).collect();
    let solution = solve(&case, &NoAir, &times).unwrap();
    let mut seed = 12345u64;
    let mut noise = || {
        // Sum of twelve uniform numbers less six: mean 0, variance 1.
        (0..12)
            .map(|_| {
                seed = seed.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
                (seed >> 11) as f64 / (1u64 << 53) as f64
            })
            .sum::<f64>()
            - 6.0
    };
    let mut text = "time_s,surface_k,mid_k,bondline_k\n".to_string();
    for (i, time) in times.iter().enumerate() {
        let row: Vec<String> = solution.values_k.iter().map(|values| format!("{:.4}", values[i] + scatter_k * noise())).collect();
        text += &format!("{time},{}\n", row.join(","));
    }
    text
}

#[test]
fn verif_a_fit_finds_the_scales_behind_the_traces() {
    let truth = [("tile.conductivity", 1.2), ("tile.specific_heat", 0.9), ("front.emissivity", 0.95)];
    for scatter_k in [0.0, 2.0] {
        let traces = traces_of(LAMP, &truth, scatter_k);
        let names: Vec<&str> = truth.iter().map(|(name, _)| *name).collect();
        let outcome = run(LAMP, Some(&traces), &names).unwrap();
        assert!(outcome.warnings.is_empty(), "{:?}", outcome.warnings);
        for ((name, value), got) in truth.iter().zip(&outcome.fit.as_ref().unwrap().scales) {
            println!("{scatter_k} {got:?}");
            assert_eq!(*name, got.name);
            assert!(got.low <= *value && *value <= got.high, "{got:?} misses {value}");
            assert!(got.high - got.low < 0.05 && (got.scale - value).abs() < 0.02, "{got:?}");
        }
        for difference in &outcome.comparison {
            assert!(difference.rms_k < 1.3 * scatter_k + 0.05, "{difference:?}");
        }
    }
}

#[test]
fn verif_scales_that_traces_cannot_tell_apart_are_named() {
    // A temperature on the face of one layer: only the ratio of conductivity and specific heat shows.
    let case = r#"{"format":"tileglow-coupon/1","name":"held","layers":[{"name":"tile","thickness_m":0.02,"material":
{"density_kg_m3":144,"specific_heat_j_kgk":1100,"conductivity_w_mk":0.08}}],"initial_k":300,"pressure_pa":101325,
"front":{"kind":"temperature","temperature_k":{"time_s":[0,200],"value":[300,1200]}},"back":{"kind":"adiabatic"},"duration_s":1500,
"probes":[{"name":"surface","depth_m":0},{"name":"mid","depth_m":0.008},{"name":"bondline","depth_m":0.02}],"output_times_s":[1500]}"#;
    let traces = traces_of(case, &[("tile.conductivity", 1.1)], 0.5);
    let outcome = run(case, Some(&traces), &["tile.conductivity", "tile.specific_heat"]).unwrap();
    let told = outcome.warnings.iter().any(|text| text.contains("tile.conductivity") && text.contains("tile.specific_heat"));
    assert!(told, "{:?}", outcome.warnings);
    // One alone is found.
    let outcome = run(case, Some(&traces), &["tile.conductivity"]).unwrap();
    let scale = &outcome.fit.unwrap().scales[0];
    assert!(scale.low <= 1.1 && 1.1 <= scale.high && scale.high / scale.low < 1.02, "{scale:?}");
}

#[test]
fn verif_bad_cases_are_refused_with_their_place() {
    let change = |from: &str, to: &str| {
        assert!(LAMP.contains(from), "{from}");
        LAMP.replacen(from, to, 1)
    };
    let table: [(String, &[&str]); 29] = [
        (change("coupon/1", "coupon/9"), &["tileglow-coupon/9", "tileglow-coupon/1"]),
        (change("\"initial_k\"", "\"inital_k\""), &["inital_k", "initial_k"]),
        (change("\"initial_k\":300", "\"initial_k\":0"), &["initial_k", "0"]),
        (change("\"initial_k\":300", "\"initial_k\":300,\"initial_k\":300"), &["initial_k", "twice"]),
        (change("\"thickness_m\":0.02", "\"thickness_m\":0"), &["layers[0].thickness_m", "0"]),
        (change("\"thickness_m\":0.02", "\"thickness_m\":1e300"), &["layers[0].thickness_m"]),
        (change("0.05,0.2", "-0.05,0.2"), &["layers[0].material.conductivity_w_mk.value[0]", "-0.05"]),
        (change("[300,1500],\"value\":[0.05", "[1500,300],\"value\":[0.05"), &["temperature_k[1]", "strictly"]),
        (change("[300,1500],\"value\":[0.05,0.2]", "[300,1500],\"value\":[0.05]"), &["layers[0].material.conductivity_w_mk"]),
        (change("[300,1500],\"value\":[0.05,0.2]", "[300],\"pressure_pa\":[0],\"value\":[[0.05]]"), &["pressure_pa[0]", "0"]),
        (change("[300,1500],\"value\":[0.05,0.2]", "[300],\"pressure_pa\":[10,5],\"value\":[[0.05],[0.1]]"), &["pressure_pa[1]"]),
        (change("[300,1500],\"value\":[0.05,0.2]", "[300],\"pressure_pa\":[10,50],\"value\":[[0.05],[0.1,1]]"), &["value[1]"]),
        (change("\"name\":\"skin\"", "\"name\":\"tile\""), &["layers[2].name", "tile", "twice"]),
        (change("\"name\":\"mid\"", "\"name\":\"surface\""), &["probes[1].name", "surface"]),
        (change("\"depth_m\":0.02", "\"depth_m\":0.0221"), &["probes[2].depth_m", "0.0221", "outside"]),
        (change("\"depth_m\":0}", "\"depth_m\":-0.001}"), &["probes[0].depth_m"]),
        (change("600,1500]}", "600,1501]}"), &["output_times_s[3]", "1501"]),
        (change("[0,300,600,1500]}", "[0,600,600,1500]}"), &["output_times_s[2]"]),
        (change("\"duration_s\":1500", "\"duration_s\":1e300"), &["duration_s", "1e+300"]),
        (change("\"duration_s\":1500", "\"duration_s\":1e999"), &["JSON"]),
        (change("\"emissivity\":0.85", "\"emissivity\":1.2"), &["front.emissivity", "1.2"]),
        (change("\"kind\":\"flux\"", "\"kind\":\"laser\""), &["front.kind", "laser", "heating"]),
        (change("\"kind\":\"convection\"", "\"kind\":\"convection\",\"h\":3"), &["back.h", "h_w_m2k"]),
        (change("\"ambient_k\":300", "\"ambient_k\":0"), &["back.ambient_k"]),
        (change("101325", "-1"), &["pressure_pa", "-1"]),
        (change("\"resistance_m2k_w\":1e-4", "\"resistance_m2k_w\":-1"), &["layers[1].resistance_m2k_w"]),
        (
            change("{\"density_kg_m3\":2770,\"specific_heat_j_kgk\":900,\"conductivity_w_mk\":177}", "\"LI-901\""),
            &["layers[2].material", "LI-901"],
        ),
        (LAMP[..LAMP.len() - 5].to_string(), &["JSON", "line"]),
        ("[]".into(), &["object"]),
    ];
    for (case, wanted) in table {
        let error = run(&case, None, &[]).expect_err(&case);
        let text = error.to_string();
        assert_eq!(error.exit_code(), 2);
        for part in wanted.iter().chain(&["case.json"]) {
            assert!(text.contains(part), "{part} not in {text}");
        }
    }
    let joints = r#"{"format":"tileglow-coupon/1","name":"j","layers":[{"name":"a","resistance_m2k_w":1}],"initial_k":300,"pressure_pa":1,
"front":{"kind":"temperature","temperature_k":300},"back":{"kind":"adiabatic"},"duration_s":1,"probes":[],"output_times_s":[1]}"#;
    assert!(run(joints, None, &[]).unwrap_err().to_string().contains("joints only"));
}

#[test]
fn verif_bad_traces_and_names_are_refused_with_their_place() {
    let table: [(&str, &[&str], &[&str]); 14] = [
        ("time_s,surface_k\n0,300\n20,\n", &[], &["row 3", "surface_k"]),
        ("time_s,surface_k\n0,300\n20,cold\n", &[], &["row 3", "cold"]),
        ("time_s,surface_k\n0,300\n20,nan\n", &[], &["row 3", "nan"]),
        ("time_s,surface_k\n0,300\n20,-5\n", &[], &["row 3", "-5"]),
        ("time_s,surface_k\n30,300\n20,301\n", &[], &["row 3", "falls back"]),
        ("time_s,surface_k\n0,300\n2000,301\n", &[], &["row 3", "2000", "outside"]),
        ("time_s,surface_k,core_k\n0,300,300\n", &[], &["core_k", "surface_k"]),
        ("time_s,surface_degC\n0,20\n", &[], &["surface_degC", "kelvin"]),
        ("surface_k\n300\n", &[], &["time_s"]),
        ("time_s,surface_k\n", &[], &["row"]),
        ("time_s,surface_k\n0,300,5\n", &[], &["row 2"]),
        ("time_s,surface_k\n0,300\n9,300\n", &["tile.density"], &["tile.density", "tile.conductivity"]),
        ("time_s,surface_k\n0,300\n9,300\n", &["front.flux", "front.flux"], &["front.flux", "twice"]),
        ("time_s,surface_k\n0,300\n", &["front.flux"], &["more readings"]),
    ];
    for (traces, names, wanted) in table {
        let error = run(LAMP, Some(traces), names).expect_err(traces);
        assert_eq!(error.exit_code(), 2);
        for part in wanted {
            assert!(error.to_string().contains(part), "{part} not in {error}");
        }
    }
    assert!(run(LAMP, None, &["front.flux"]).unwrap_err().to_string().contains("--measured"));
    let outcome = run(LAMP, Some("time_s,surface_k,remark\n0,300,ok\n"), &[]).unwrap();
    assert!(outcome.warnings.iter().any(|text| text.contains("remark")), "{:?}", outcome.warnings);
}

#[test]
fn verif_joints_at_the_faces_and_probes_on_them() {
    // Steady: convection 100 W/m2K at 1000 K, joint 0.01, slab 0.01 m of 0.1 W/mK (0.1), joint 0.02, face held at 300 K.
    let case = r#"{"format":"tileglow-coupon/1","name":"j","layers":[{"name":"a","resistance_m2k_w":0.01},
{"name":"slab","thickness_m":0.01,"material":{"density_kg_m3":100,"specific_heat_j_kgk":1000,"conductivity_w_mk":0.1}},
{"name":"b","resistance_m2k_w":0.015},{"name":"c","resistance_m2k_w":0.005}],
"initial_k":300,"pressure_pa":0,"front":{"kind":"convection","h_w_m2k":100,"ambient_k":1000},"back":{"kind":"temperature","temperature_k":300},
"duration_s":5000,"probes":[{"name":"outside","depth_m":0},{"name":"inside","depth_m":0.01}],"output_times_s":[0,5000]}"#;
    let outcome = run(case, None, &[]).unwrap();
    let flux = 700.0 / (0.01 + 0.01 + 0.1 + 0.02);
    assert_eq!(outcome.solution.values_k[0][0], 300.0);
    assert!((outcome.solution.values_k[0][1] - (1000.0 - flux * 0.01)).abs() < 1e-6);
    assert!((outcome.solution.values_k[1][1] - (300.0 + flux * 0.02)).abs() < 1e-6, "a joint's probe reads the heated side");
    assert!(outcome.solution.energy.imbalance_fraction().abs() < 1e-9);
}

/// Source: Fourier series of the case `slab-step` (Carslaw and Jaeger 3.4). Halving cells and tightening steps four times cuts the
/// error by four.
#[test]
fn val_errors_fall_with_the_square_of_the_cell() {
    let case = Case::read("slab-step", &data("slab-step.json"), &Library::default()).unwrap();
    let error = |level: usize| {
        let solution = super::solve::solve_at(&case, &NoAir, &case.output_times_s, level).unwrap();
        (solution.values_k[0][1] - 803.8172836238).abs()
    };
    let errors = [error(1), error(2), error(4)];
    for pair in errors.windows(2) {
        let order = libm::log2(pair[0] / pair[1]);
        println!("errors {errors:?}, order {order:.2}");
        assert!((1.8..2.3).contains(&order), "{errors:?}");
    }
}
