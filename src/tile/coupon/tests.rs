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
