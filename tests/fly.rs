//! The example entries against a reference integration of eighth order and the textbook's closed forms (tests/data/entries).

use tileglow::document::Json;
use tileglow::flight::{Course, Sample, Trajectory};

fn data(name: &str) -> String {
    std::fs::read_to_string(format!("{}/tests/data/entries/{name}", env!("CARGO_MANIFEST_DIR"))).unwrap()
}

fn flown(name: &str) -> Trajectory {
    Course::parse(name, &data(name)).unwrap().fly().unwrap()
}

fn summary(key: &str, path: &Trajectory) -> Option<f64> {
    let (peaks, end) = (path.peaks().unwrap(), path.samples.last().unwrap());
    let load = peaks.load_factor.unwrap();
    Some(match key {
        "peak_reference_heating_w_m2" => peaks.heating.reference_heating_w_m2,
        "peak_reference_heating_time_s" => peaks.heating.time_s,
        "peak_load_factor_g" => load.load_factor_g?,
        "peak_load_factor_time_s" => load.time_s,
        "speed_at_peak_load_factor_m_s" => load.speed_m_s,
        "altitude_at_peak_load_factor_m" => load.altitude_m,
        "speed_at_peak_heating_m_s" => peaks.heating.speed_m_s,
        "heat_load_j_m2" => end.heat_load_j_m2,
        "end_time_s" => end.time_s,
        "end_altitude_m" => end.altitude_m,
        "end_speed_m_s" => end.speed_m_s,
        // Great circle over the sphere between rows; both examples keep to the equator.
        "range_m" => {
            let radius = if path.samples[0].altitude_m == 85064.0 { 6.371e6 } else { 6.371e9 };
            (end.longitude_deg? - path.samples[0].longitude_deg?).to_radians() * radius
        }
        "speed_over_circular_speed_at_peak_heating" => {
            peaks.heating.speed_m_s / (3.986004418e14 / (6.371e6 + peaks.heating.altitude_m)).sqrt()
        }
        _ => return None,
    })
}

fn column(sample: &Sample, key: &str) -> f64 {
    match key {
        "altitude_m" => sample.altitude_m,
        "speed_m_s" => sample.speed_m_s,
        "flight_path_deg" => sample.flight_path_deg.unwrap(),
        "longitude_deg" => sample.longitude_deg.unwrap(),
        other => panic!("{other}"),
    }
}

#[test]
fn val_example_entries() {
    for name in ["allen-eggers", "lifting-glide"] {
        let path = flown(&format!("{name}.json"));
        let want = Json::parse(name, &data(&format!("{name}.expected.json"))).unwrap();
        for part in ["summary", "closed_form"] {
            let Some(Json::Object(fields)) = want.get(part) else { panic!("{name} {part}") };
            for (key, field) in fields {
                let number = |k: &str| field.get(k).and_then(Json::as_number);
                let value = number("value").unwrap();
                let tolerance = number("tolerance").unwrap_or_else(|| number("tolerance_fraction").unwrap() * value.abs());
                let got = summary(key, &path).unwrap_or_else(|| panic!("{key} is not computed"));
                assert!((got - value).abs() <= tolerance, "{name} {part} {key}: {got} for {value}");
            }
        }
        let Some(Json::List(moments)) = want.get("at") else { panic!("{name}") };
        for moment in moments {
            let number = |key: &str| moment.get(key).and_then(Json::as_number).unwrap();
            let sample = path.at(number("time_s")).unwrap();
            // The rows stand on these moments: much closer than the check's own tolerances.
            for (key, tolerance) in [("altitude_m", 0.05), ("speed_m_s", 1e-3), ("flight_path_deg", 2e-5), ("longitude_deg", 2e-6)] {
                let (got, want) = (column(&sample, key), number(key));
                println!("{name} {key}: {:.1e}", got - want);
                assert!((got - want).abs() <= tolerance, "{name} {key} at {}: {got} for {want}", number("time_s"));
            }
        }
    }
}

/// Written, read back as an imported trajectory and written again: the same text.
#[test]
fn verif_a_flown_trajectory_reads_back() {
    let text = flown("lifting-glide.json").to_csv();
    let (again, _) = tileglow::flight::import::read_csv("flown.csv", text.as_bytes()).unwrap();
    assert_eq!(again.to_csv(), text);
    assert_eq!(text.lines().next().unwrap(), tileglow::flight::trajectory::COLUMNS.join(","));
}

#[test]
fn verif_the_document_reads_back() {
    for name in ["allen-eggers.json", "lifting-glide.json"] {
        let course = Course::parse(name, &data(name)).unwrap();
        assert_eq!(Course::parse(name, &course.to_json().pretty()).unwrap(), course);
    }
}

#[test]
fn verif_wrong_entries_are_refused_with_their_place() {
    let good = data("lifting-glide.json");
    for (from, to, parts) in [
        ("\"mass_kg\": 80000", "\"mass_kg\": 0", vec!["mass_kg", "above 0"]),
        ("\"mass_kg\": 80000", "\"mas_kg\": 80000", vec!["\"mas_kg\"", "\"mass_kg\" is missing"]),
        ("\"drag_coefficient\": 0.84", "\"drag_coefficient\": -0.84", vec!["drag_coefficient", "-0.84"]),
        ("\"latitude_deg\": 0", "\"latitude_deg\": 90.5", vec!["latitude_deg", "90.5"]),
        ("\"speed_m_s\": 1000", "\"speed\": 1000", vec!["stop.speed_m_s", "stop.speed"]),
        ("\"speed_m_s\": 1000", "\"speed_m_s\": 9000", vec!["stop.speed_m_s", "9000"]),
        ("\"kind\": \"standard-1976\"", "\"kind\": \"standard-1962\"", vec!["atmosphere.kind", "standard-1962", "exponential"]),
        ("\"inverse-square\"", "{\"constant_m_s2\": -1}", vec!["gravity.constant_m_s2", "-1"]),
        ("\"bank_deg\": 0", "\"bank_deg\": {\"time_s\": [0, 0], \"value\": [1, 2]}", vec!["bank_deg.time_s[1]", "strictly increasing"]),
        ("\"bank_deg\": 0", "\"bank_deg\": {\"altitude_m\": [0], \"value\": [1]}", vec!["bank_deg", "speed_m_s, time_s"]),
        ("tileglow-entry/1", "tileglow-entry/2", vec!["tileglow-entry/2", "tileglow-entry/1"]),
        ("\"planet\": {", "\"planet\": {\"mu\": 1, ", vec!["planet.mu", "mu_m3_s2"]),
    ] {
        assert!(good.contains(from), "{from}");
        let message = Course::parse("e.json", &good.replacen(from, to, 1)).unwrap_err().to_string();
        assert!(message.starts_with("error: ") && parts.iter().all(|part| message.contains(part)), "{to}: {message}");
    }
}
