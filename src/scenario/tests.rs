//! The scenario document: defaults, round trips, refusals, links.

use super::*;
use crate::document::Json;
use proptest::prelude::*;

const ENTRY: &str = include_str!("../../tests/data/entries/lifting-glide.json");

fn base() -> Vec<NamedEntry> {
    let text = format!(r#"{{"format":"tileglow-scenario/1","entries":[{{"name":"nominal","entry":{ENTRY}}}]}}"#);
    Scenario::read("base", &text, &[]).unwrap().entries
}

fn read(body: &str) -> Result<Scenario, crate::document::Error> {
    Scenario::read("s.json", &format!(r#"{{"format":"tileglow-scenario/1"{body}}}"#), &base())
}

const FULL: &str = r#", "vehicle": {"name": "Odd", "digest": null},
 "heating": {"reference": "fay-riddell", "scale": 1.2, "zone_factor": {"belly": 1.1}, "lee_fraction": 0.04, "catalycity": {"rcg": 0.8}, "steps": {"step_over_layer": [0, 1, 3], "laminar": [1, 1.1, 1.2], "turbulent": [1, 1.5, 2.5], "source": "tunnel"}, "gaps": {"gap_over_layer": [0, 0.1], "laminar": [1, 1.1], "turbulent": [1, 1.2], "source": "arc"}, "transition": {"kind": "mach", "mach": 9}},
 "start": {"kind": "orbit", "structure_k": 300, "altitude_m": 2e5, "exposure": "orbit-average"}, "landing": {"air_k": 280},
 "policy": {"limits": {"flights": 12}, "combine": "sum", "terms": [{"name": "heating", "fraction": 0.1, "level_sigma": 3}]},
 "changes": [{"zone": "belly", "set": {"emissivity": 0.8, "coating": "none"}}, {"tiles": ["0417"], "set": {"thickness_mm": 31}}],
 "inspection": {"rules": [{"rule": "chip", "kind": "chip", "measure": "always", "condition": "watch", "disposition": "watch"}],
  "consequence": {"belly": 4}, "likelihood": {"watch": 2},
  "accepted": [{"zone": "belly", "scale": 1.1, "accepted_by": "A. Berg", "accepted_on": "2031-06-01", "reason": "flight 3"}]},
 "work": {"people": 5, "skills": {"inspector": 2}, "near_m": 1.5, "tiles_per_job": 3, "tasks": [{"task": "bond", "skill": "a", "touch_h": 1}],
  "procedures": [{"procedure": "x", "disposition": "watch", "steps": []}], "waterproofing": {"kind": "burned-out", "isotherm_k": 800, "depth_mm": 2}},
 "view": {"colour": "surface", "time_s": 612, "units": "us", "tile": "0417", "camera": [1,2,3,4,5,6], "brush": [400, 900], "map": true, "bands": true}, "note": "n""#;

#[test]
fn verif_defaults_stand_where_nothing_is_said() {
    let scenario = read("").unwrap();
    assert_eq!(scenario, Scenario::with_entries(base()));
    assert_eq!(scenario.heating.choices.lee_fraction, 0.035);
    assert_eq!(scenario.landing.limit_s, 20000.0);
}

#[test]
fn verif_full_short_and_link_read_back_the_same() {
    for body in ["", FULL] {
        let scenario = read(body).unwrap();
        let text = scenario.to_json().pretty();
        assert_eq!(Scenario::read("full", &text, &[]).unwrap(), scenario);
        assert_eq!(Scenario::read("short", &scenario.to_short_json().compact(), &[]).unwrap(), scenario);
        let digest = "0123456789abcdef".repeat(4);
        let opened = link::open(&link::write(&scenario, Some(&digest)), &[]).unwrap();
        assert_eq!((opened.scenario, opened.digest.as_deref()), (scenario, Some("0123456789abcdef")));
    }
    // An orbit start's structure temperature equal to the other kind's default must survive the short form.
    assert!(matches!(read(FULL).unwrap().start, Start::Orbit { structure_k: Some(300.0), .. }));
}

#[test]
fn verif_what_is_wrong_is_named_with_its_path() {
    let cases: [(&str, &[&str]); 23] = [
        (r#","heating":{"reference":"fay"}"#, &["heating.reference", "\"fay\"", "sutton-graves", "detra-kemp-riddell"]),
        (r#","heatin":{}"#, &["heatin", "heating"]),
        (r#","heating":{"scal":1}"#, &["heating.scal", "scale"]),
        (r#","heating":{"scale":-1}"#, &["heating.scale", "-1"]),
        (r#","heating":{"steps":{"step_over_layer":[0,1],"laminar":[1,2]}}"#, &["heating.steps.turbulent"]),
        (
            r#","heating":{"steps":{"step_over_layer":[0,1],"laminar":[1,2],"turbulent":[1]}}"#,
            &["heating.steps.turbulent", "2 points", "1 factors"],
        ),
        (
            r#","heating":{"steps":{"step_over_layer":[1,1],"laminar":[1,2],"turbulent":[1,2]}}"#,
            &["heating.steps.step_over_layer[1]", "increasing"],
        ),
        (
            r#","heating":{"gaps":{"step_over_layer":[0],"laminar":[1],"turbulent":[1]}}"#,
            &["heating.gaps.step_over_layer", "gap_over_layer"],
        ),
        (r#","heating":{"steps":{"step_over_layer":[0],"laminar":[-1],"turbulent":[1]}}"#, &["heating.steps.laminar[0]", "-1"]),
        (r#","policy":{"limits":"both"}"#, &["policy.limits", "\"both\"", "reuse"]),
        (r#","policy":{"limits":{"flights":1.5}}"#, &["policy.limits.flights", "1.5"]),
        (r#","changes":[{"zone":"a","tiles":["b"],"set":{}}]"#, &["changes[0]"]),
        (r#","changes":[{"zone":"a","set":{"emisivity":0.8}}]"#, &["changes[0].set.emisivity", "emissivity"]),
        (r#","view":{"colour":"red"}"#, &["view.colour", "\"red\"", "condition"]),
        (r#","entries":[]"#, &["entries"]),
        (r#","work":{"peopel":3}"#, &["work.peopel", "people"]),
        (r#","work":{"people":2.5}"#, &["work.people", "2.5", "whole"]),
        (r#","work":{"skills":{"inspector":0.5}}"#, &["work.skills.inspector", "0.5"]),
        (r#","work":{"waterproofing":{"kind":"never"}}"#, &["work.waterproofing.kind", "burned-out"]),
        (
            r#","inspection":{"accepted":[{"zone":"a","scale":1,"accepted_by":" ","accepted_on":"2031-01-01"}]}"#,
            &["inspection.accepted[0].accepted_by"],
        ),
        (r#","inspection":{"accepted":[{"zone":"a","scale":1,"accepted_by":"x","accepted_on":"soon"}]}"#, &["accepted_on", "\"soon\""]),
        (r#","inspection":{"rules":{}}"#, &["inspection.rules", "list"]),
        (r#","vehicle":{"digest":"abc"}"#, &["vehicle.digest", "64"]),
    ];
    for (body, wanted) in cases {
        let error = read(body).unwrap_err();
        assert_eq!(error.exit_code(), 2);
        for word in wanted {
            assert!(error.to_string().contains(word), "{body}: {error}");
        }
    }
    let version = Scenario::read("s.json", r#"{"format":"tileglow-scenario/2","new":1}"#, &[]).unwrap_err().to_string();
    assert!(version.contains("tileglow-scenario/2") && version.contains("tileglow-scenario/1"), "{version}");
}

#[test]
fn verif_the_digest_ignores_view_and_note_only() {
    let scenario = read(FULL).unwrap();
    let mut looked = scenario.clone();
    (looked.view, looked.note) = (View::default(), String::new());
    assert_eq!(looked.canonical(), scenario.canonical());
    looked.heating.choices.scale += 1e-12;
    assert_ne!(looked.canonical(), scenario.canonical());
}

#[test]
fn verif_links_are_capped_before_and_after_unpacking() {
    use base64::Engine;
    use std::io::Write;
    let mut packer = flate2::write::DeflateEncoder::new(Vec::new(), flate2::Compression::best());
    packer.write_all(&vec![b' '; 5 << 20]).unwrap();
    let bomb = format!("#v1.{}", base64::engine::general_purpose::URL_SAFE_NO_PAD.encode(packer.finish().unwrap()));
    assert!(link::open(&bomb, &[]).unwrap_err().to_string().contains("4 MB"));
    assert!(link::open(&format!("#v1.{}", "A".repeat(70_000)), &[]).unwrap_err().to_string().contains("65536"));
    assert!(link::open("#v2.abc", &[]).unwrap_err().to_string().contains("v1"));
    let good = link::write(&read("").unwrap(), None);
    assert!(link::open(&good[..good.len() / 2], &[]).is_err());
    assert!(link::open(&format!("{good}.xyz"), &[]).is_err());
}

proptest! {
    #[test]
    fn verif_no_fragment_panics(text in ".{0,200}") {
        let _ = link::open(&text, &[]);
        let _ = link::open(&format!("#v1.{text}"), &[]);
        let _ = Scenario::read("s", &text, &[]);
    }

    #[test]
    fn verif_numbers_survive_the_link(scale in 0.0f64..100.0, time in proptest::option::of(0.0f64..5000.0)) {
        let mut scenario = Scenario::with_entries(base());
        scenario.heating.choices.scale = scale;
        scenario.view.time_s = time;
        prop_assert_eq!(link::open(&link::write(&scenario, None), &[]).unwrap().scenario, scenario);
    }
}

#[test]
fn verif_canonical_is_sorted() {
    assert!(
        matches!(Json::parse("c", &read("").unwrap().canonical()).unwrap(), Json::Object(fields) if fields.is_sorted_by(|a, b| a.0 < b.0))
    );
}
