//! What a flown entry shows about itself: that it never enters or skips out again, and where its plans or its rows leave something open.

use super::{Course, Entry, Sample, Trajectory};
use crate::document::Sorting as _;
use crate::document::text::significant;
use crate::document::{Curve, Error};

/// Above this altitude no flight is slowed or heated that this engine could speak about; the usual edge of space (common practice).
const EDGE_M: f64 = 100_000.0;
/// Rows of an imported flight count as a gap where they are this many times farther apart than most, and at least [`GAP_S`].
const GAP_TIMES: f64 = 10.0;
const GAP_S: f64 = 10.0;

fn told(value: f64) -> String {
    significant(value, 4)
}

fn lowest(flown: &Trajectory) -> Option<&Sample> {
    flown.samples.iter().min_by(|a, b| a.altitude_m.total_cmp(&b.altitude_m))
}

/// Why an entry is none: still above 100 km when `stop.time_s` ends it, whether it had come down before or not. `None` for one that enters.
fn no_entry(entry: &Entry, flown: &Trajectory) -> Option<String> {
    let (last, lowest) = (flown.samples.last()?, lowest(flown)?);
    if last.time_s < entry.stop.time_s || last.altitude_m <= EDGE_M {
        return None;
    }
    let end = format!("{} km and {} m/s when stop.time_s {} ends it", told(last.altitude_m / 1e3), told(last.speed_m_s), told(last.time_s));
    Some(if lowest.altitude_m > EDGE_M {
        format!("the flight never enters: never below {} km, at {end}", told(lowest.altitude_m / 1e3))
    } else {
        format!("the flight skips out: down to {} km at {} s, then up again, at {end}", told(lowest.altitude_m / 1e3), told(lowest.time_s))
    })
}

/// The highest that a flight climbs again above 100 km between two passes below it, told; `None` where it comes down once.
fn skips(flown: &Trajectory) -> Option<String> {
    let inside = |sample: &Sample| sample.altitude_m <= EDGE_M;
    let (first, last) = (flown.samples.iter().position(inside)?, flown.samples.iter().rposition(inside)?);
    let top = flown.samples.get(first..=last)?.iter().max_by(|a, b| a.altitude_m.total_cmp(&b.altitude_m))?;
    (top.altitude_m > EDGE_M).then(|| {
        format!(
            "the flight skips: it climbs out again, to {} km at {} s, and enters a second time",
            told(top.altitude_m / 1e3),
            told(top.time_s)
        )
    })
}

/// Refuses an entry that never enters or skips out, for whoever needs the heating of a whole entry; `name` is the entry's in the set.
///
/// Errors (computation): what the flight does, with times, altitude and speed, and what would mend it.
pub fn must_enter(name: &str, course: &Course, flown: &Trajectory) -> Result<(), Error> {
    let Course::Entry(entry) = course else { return Ok(()) };
    match no_entry(entry, flown) {
        None => Ok(()),
        Some(what) => Err(Error::failed(format!(
            "entry {name:?}: {what}; accepted: a flight that stays below 100 km once it is there: a steeper flight_path_deg (now {}), a lower \
             speed_m_s (now {}), more bank_deg, or a later stop.time_s",
            told(entry.flight_path_deg),
            told(entry.speed_m_s)
        ))),
    }
}

/// What a reader of the results should know about a flight, a sentence each; empty for an ordinary one.
pub fn remarks(course: &Course, flown: &Trajectory) -> Vec<String> {
    match course {
        Course::Entry(entry) => of_entry(entry, flown),
        Course::Imported(_) => of_rows(flown),
    }
}

fn of_entry(entry: &Entry, flown: &Trajectory) -> Vec<String> {
    let mut list = Vec::new();
    let Some(last) = flown.samples.last() else { return list };
    for (key, plan) in [("angle_of_attack_deg", &entry.angle_of_attack_deg), ("bank_deg", &entry.bank_deg)] {
        if let Curve::Table(table) = plan
            && table.axis == "time_s"
            && let (Some(end), Some(value)) = (table.at.last(), table.value.last())
            && *end < last.time_s
        {
            list.push(format!(
                "{key} ends early: its plan at {} s, the flight at {} s; it is held at {} deg from there on",
                told(*end),
                told(last.time_s),
                told(*value)
            ));
        }
    }
    if let Some(what) = no_entry(entry, flown) {
        list.push(what);
        return list;
    }
    list.extend(skips(flown));
    if last.time_s >= entry.stop.time_s && last.altitude_m > entry.stop.altitude_m && last.speed_m_s > entry.stop.speed_m_s {
        list.push(format!(
            "stop.time_s {} ends the flight at {} km and {} m/s: what would follow is not in the results",
            told(entry.stop.time_s),
            told(last.altitude_m / 1e3),
            told(last.speed_m_s)
        ));
    }
    list
}

fn of_rows(flown: &Trajectory) -> Vec<String> {
    let mut list = Vec::new();
    let mut steps: Vec<f64> = flown.samples.windows(2).map(|pair| pair[1].time_s - pair[0].time_s).collect();
    steps.order_by(f64::total_cmp);
    if let Some(usual) = steps.get(steps.len() / 2) {
        let limit = (GAP_TIMES * usual).max(GAP_S);
        let gaps: Vec<&[Sample]> = flown.samples.windows(2).filter(|pair| pair[1].time_s - pair[0].time_s > limit).collect();
        let longest = gaps.iter().max_by(|a, b| (a[1].time_s - a[0].time_s).total_cmp(&(b[1].time_s - b[0].time_s)));
        if let Some([from, to]) = longest {
            list.push(format!(
                "{} in the rows, the longest from {} s to {} s where most rows stand {} s apart; between rows everything is linear",
                if gaps.len() == 1 { "a gap".to_string() } else { format!("{} gaps", gaps.len()) },
                told(from.time_s),
                told(to.time_s),
                told(*usual)
            ));
        }
    }
    if let Some(lowest) = lowest(flown).filter(|lowest| lowest.altitude_m > EDGE_M) {
        list.push(format!("the flight never enters: never below {} km", told(lowest.altitude_m / 1e3)));
    }
    list.extend(skips(flown));
    list
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flight::{fly, import};

    fn flown(changes: &[(&str, &str)]) -> (Course, Trajectory) {
        let mut text = r#"{"format":"tileglow-entry/1","altitude_m":120000,"speed_m_s":7400,"flight_path_deg":-1.2,"heading_deg":60,"latitude_deg":0,
            "longitude_deg":0,"mass_kg":12000,"reference_area_m2":42,"lift_coefficient":0.5,"drag_coefficient":0.5,"angle_of_attack_deg":40,"bank_deg":60,
            "stop":{"altitude_m":20000,"speed_m_s":600,"time_s":4000},"nose_radius_m":1,"output_step_s":1}"#
            .to_string();
        for (from, to) in changes {
            assert!(text.contains(from), "{from}");
            text = text.replace(from, to);
        }
        let entry = Entry::parse("entry.json", &text).unwrap();
        let path = fly(&entry).unwrap();
        (Course::Entry(entry), path)
    }

    #[test]
    fn verif_what_is_no_entry_is_refused_with_its_reason() {
        for (changes, parts) in [
            (
                vec![("\"bank_deg\":60", "\"bank_deg\":0"), ("\"speed_m_s\":7400", "\"speed_m_s\":7600")],
                vec!["skips out", "down to", "up again"],
            ),
            (
                vec![("\"flight_path_deg\":-1.2", "\"flight_path_deg\":0"), ("\"speed_m_s\":7400", "\"speed_m_s\":7600")],
                vec!["never enters"],
            ),
        ] {
            let (course, path) = flown(&changes);
            let message = must_enter("steep", &course, &path).unwrap_err().to_string();
            for part in parts.iter().chain(&["\"steep\"", "flight_path_deg", "4000", "km"]) {
                assert!(message.contains(part), "{part}: {message}");
            }
            assert!(remarks(&course, &path)[0].contains(parts[0]));
        }
        let (course, path) = flown(&[]);
        assert!(must_enter("steep", &course, &path).is_ok() && remarks(&course, &path).is_empty());
    }

    #[test]
    fn verif_a_plan_that_ends_early_and_a_flight_that_is_cut_are_told() {
        let (course, path) = flown(&[("\"angle_of_attack_deg\":40", r#""angle_of_attack_deg":{"time_s":[0,200],"value":[40,38]}"#)]);
        let told = remarks(&course, &path);
        assert!(
            told.len() == 1 && told[0].contains("angle_of_attack_deg ends early") && told[0].contains("200") && told[0].contains("38 deg"),
            "{told:?}"
        );
        assert_eq!(path.samples.last().unwrap().angle_of_attack_deg, 38.0);
        let (course, path) = flown(&[("\"time_s\":4000", "\"time_s\":300")]);
        let told = remarks(&course, &path);
        assert!(told.len() == 1 && told[0].contains("stop.time_s 300"), "{told:?}");
    }

    /// A lofted flight that lands all the same is assessed, and its second entry told, flown here or elsewhere.
    #[test]
    fn verif_a_second_entry_is_told() {
        let (course, path) = flown(&[("7400", "7600"), ("-1.2", "-3"), ("\"bank_deg\":60", "\"bank_deg\":0")]);
        assert!(must_enter("lofted", &course, &path).is_ok());
        for told in [remarks(&course, &path), remarks(&Course::Imported(path.clone()), &path)] {
            assert!(told.len() == 1 && told[0].contains("climbs out again, to") && told[0].contains("second time"), "{told:?}");
        }
        // Down once, below the edge from then on.
        let (_, path) = flown(&[]);
        assert_eq!(skips(&path), None);
    }

    #[test]
    fn verif_gaps_in_rows_are_told() {
        let mut text = "time_s,altitude_m,speed_m_s,angle_of_attack_deg\n".to_string();
        for time in (0..100).chain(400..500) {
            text.push_str(&format!("{time},{},7000,40\n", 90_000 - 100 * time));
        }
        let (path, _) = import::read_csv("t.csv", text.as_bytes()).unwrap();
        let told = remarks(&Course::Imported(path.clone()), &path);
        assert!(told.len() == 1 && told[0].contains("a gap") && told[0].contains("99 s to 400 s"), "{told:?}");
    }
}
