//! The command line's own manners: every refusal begins with `error:`, names what was written, exits with 2; results go where asked.

use std::process::{Command, Output};

fn tileglow(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_tileglow")).args(arguments).output().unwrap()
}

fn data(name: &str) -> String {
    format!("{}/tests/data/entries/{name}", env!("CARGO_MANIFEST_DIR"))
}

#[test]
fn verif_refusals() {
    for (arguments, parts) in [
        (vec![], vec!["no command", "spot, fly"]),
        (vec!["frobnicate"], vec!["\"frobnicate\"", "spot, fly"]),
        (vec!["help"], vec!["\"help\""]),
        (vec!["--frob"], vec!["\"--frob\""]),
        (vec!["spot"], vec!["--altitude", "--speed", "missing"]),
        (vec!["spot", "--altitude", "1", "--altitude", "2", "--speed", "3"], vec!["\"--altitude\"", "twice"]),
        (vec!["spot", "--altitude", "-5km", "--speed", "3"], vec!["\"-5km\"", "--altitude", "from 0 to 1000000"]),
        (vec!["spot", "--altitude", "71parsec", "--speed", "3"], vec!["\"parsec\"", "m, km, ft, mi, nmi, in, mm"]),
        (vec!["spot", "--altitude", "1001km", "--speed", "3"], vec!["\"1001km\""]),
        (vec!["spot", "--altitude", "NaN", "--speed", "inf"], vec!["\"NaN\"", "\"inf\""]),
        (vec!["spot", "--altitude", "1", "--speed", "3", "--emissivity", "0"], vec!["\"0\"", "--emissivity"]),
        (vec!["spot", "--altitude", "1", "--speed", "3", "--nose-radius", "-1"], vec!["\"-1\"", "--nose-radius"]),
        (vec!["spot", "--altitude", "1", "--speed", "3", "--altitud", "4"], vec!["\"--altitud\""]),
        (vec!["assess", "--tolerable", "50mm", "--out", "x"], vec!["\"50mm\"", "--tolerable", "50mm,10mm"]),
        (vec!["assess", "--tolerable", "-1,9kg", "--out", "x"], vec!["\"-1\"", "\"kg\"", "--tolerable"]),
        (vec!["assess", "--tolerable", "50mm,10mm"], vec!["--tolerable", "--out"]),
        (vec!["assess", "--bound", "--out", "x"], vec!["--tolerable", "missing"]),
        (vec!["fly"], vec!["missing"]),
        (vec!["fly", "no-such-file.json"], vec!["no-such-file.json"]),
        (vec!["fly", "."], vec!["folder"]),
        (vec!["fly", "a.json", "b.json"], vec!["\"b.json\""]),
    ] {
        let output = tileglow(&arguments);
        let message = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(2), "{arguments:?}: {message}");
        assert!(output.stdout.is_empty(), "{arguments:?}");
        assert!(message.starts_with("error: ") && message.contains("accepted:"), "{arguments:?}: {message}");
        for part in parts {
            assert!(message.contains(part), "{arguments:?}: {part:?} is not in {message}");
        }
    }
}

#[test]
fn verif_help_and_version() {
    for arguments in [vec!["--help"], vec!["spot", "--help"], vec!["assess", "--help"], vec!["demo", "--help"]] {
        let output = tileglow(&arguments);
        assert_eq!(output.status.code(), Some(0));
        assert!(String::from_utf8(output.stdout).unwrap().contains("Usage: tileglow"));
    }
    assert_eq!(tileglow(&["--version"]).stdout, format!("tileglow {}\n", tileglow::VERSION).into_bytes());
}

#[test]
fn verif_fly_to_stdout_and_to_a_file() {
    let root = tempfile::tempdir().unwrap();
    let out = root.path().join("flown.csv");
    let printed = tileglow(&["fly", &data("lifting-glide.json")]);
    assert_eq!(printed.status.code(), Some(0));
    let told = String::from_utf8(printed.stderr).unwrap();
    assert!(told.lines().last().unwrap().contains("inputs_digest"), "{told}");
    let written = tileglow(&["fly", &data("lifting-glide.json"), "--out", out.to_str().unwrap()]);
    assert!(written.stdout.is_empty());
    assert_eq!(std::fs::read(&out).unwrap(), printed.stdout);
    // As an imported trajectory it comes back the same; onto itself it is not written.
    assert_eq!(tileglow(&["fly", out.to_str().unwrap()]).stdout, printed.stdout);
    assert_eq!(tileglow(&["fly", out.to_str().unwrap(), "--out", out.to_str().unwrap()]).status.code(), Some(2));
    assert_eq!(tileglow(&["fly", &data("lifting-glide.json"), "--out", root.path().to_str().unwrap()]).status.code(), Some(2));
    assert_eq!(std::fs::read_dir(root.path()).unwrap().count(), 1);
}

#[test]
fn verif_a_flight_that_leaves_is_a_failed_computation() {
    let root = tempfile::tempdir().unwrap();
    let path = root.path().join("up.json");
    let text = std::fs::read_to_string(data("lifting-glide.json")).unwrap();
    std::fs::write(&path, text.replace("-0.1126", "30").replace("\"speed_m_s\": 7600", "\"speed_m_s\": 9000")).unwrap();
    let output = tileglow(&["fly", path.to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(1));
    assert!(String::from_utf8(output.stderr).unwrap().starts_with("error: the flight rises above 1000 km"));
    assert!(output.stdout.is_empty());
}

/// An entry that skips out: `fly` gives its rows and says so, `assess` refuses it; a plan that ends early is held and told by both.
#[test]
fn verif_what_an_entry_says_about_itself() {
    let root = tempfile::tempdir().unwrap();
    let path = |name: &str| root.path().join(name).display().to_string();
    let base: serde_json::Value = serde_json::from_str(&tileglow::shield::demo::scenario_json()).unwrap();
    let mut skips = base["entries"][0]["entry"].clone();
    (skips["heading_deg"], skips["bank_deg"], skips["flight_path_deg"], skips["speed_m_s"]) =
        (30.0.into(), 0.0.into(), (-2.0).into(), 8000.0.into());
    let mut early = base["entries"][0]["entry"].clone();
    early["angle_of_attack_deg"] = serde_json::json!({"time_s": [0, 900], "value": [42, 40]});
    for (name, entry, part) in [("skips", &skips, "skips out"), ("early", &early, "angle_of_attack_deg ends early")] {
        let file = path(&format!("{name}.json"));
        std::fs::write(&file, entry.to_string()).unwrap();
        let flown = tileglow(&["fly", &file]);
        let told = String::from_utf8(flown.stderr).unwrap();
        assert_eq!(flown.status.code(), Some(0), "{told}");
        assert!(told.starts_with("warning 1 of 1: ") && told.contains(part) && flown.stdout.starts_with(b"time_s,"), "{told}");

        let mut scenario = base.clone();
        scenario["entries"] = serde_json::json!([{"name": name, "entry": entry}]);
        let file = path(&format!("{name}-scenario.json"));
        std::fs::write(&file, scenario.to_string()).unwrap();
        let assessed = tileglow(&["assess", "--scenario", &file]);
        let told = String::from_utf8(assessed.stderr).unwrap();
        if name == "skips" {
            assert_eq!(assessed.status.code(), Some(1), "{told}");
            assert!(
                told.starts_with("error: ") && told.contains("\"skips\"") && told.contains(part) && told.contains("flight_path_deg"),
                "{told}"
            );
            assert!(assessed.stdout.is_empty());
        } else {
            assert_eq!(assessed.status.code(), Some(0), "{told}");
            assert!(told.contains(part) && told.contains("\"early\""), "{told}");
        }
    }
}
