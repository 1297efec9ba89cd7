//! work.csv: a row a task of a job, in the order in which the timetable starts them; and the work's part of summary.json.

use crate::assess::consequence::{State, Zone};
use crate::assess::flown::Flown;
use crate::assess::work::Work;
use crate::assess::{Condition, Prepared, history};
use crate::document::Sorting as _;
use crate::document::{Json, csv, text};
use crate::scenario::Scenario;
use crate::shield::findings::KINDS;
use crate::shield::{Finding, Shield};

/// The columns of work.csv.
pub const COLUMNS: [&str; 22] = [
    "activity",
    "job",
    "procedure",
    "disposition",
    "decided",
    "task",
    "zone",
    "tile_count",
    "tiles",
    "findings",
    "skill",
    "people",
    "touch_h",
    "cure_h",
    "duration_h",
    "after",
    "area_cleared",
    "start_h",
    "finish_h",
    "slack_h",
    "on_longest_chain",
    "source",
];
const TEXT_COLUMNS: [&str; 11] =
    ["procedure", "disposition", "decided", "task", "zone", "tiles", "findings", "skill", "after", "area_cleared", "source"];
const DIGITS: usize = 7;

fn hours(minutes: u64) -> String {
    text::significant(minutes as f64 / 60.0, DIGITS)
}

fn yes(flag: bool) -> String {
    if flag { "yes" } else { "no" }.to_string()
}

/// The text of work.csv. `tiles`, `findings` and `after` are lists parted by a space; `after` names activities.
pub fn work_csv(shield: &Shield, findings: &[Finding], work: &Work) -> String {
    let (rates, schedule) = (&work.rates, &work.schedule);
    let mut order: Vec<usize> = (0..work.activities.len()).collect();
    order.order_by_key(|i| (schedule.start_min.get(*i).copied().unwrap_or(0), *i));
    let mut chain = vec![false; work.activities.len()];
    for i in &schedule.longest_chain {
        chain[*i] = true;
    }
    let row = |i: usize| {
        let (activity, deed) = (&work.activities[i], &work.deeds[i]);
        let (task, job) = (&rates.tasks[deed.task], &work.jobs[deed.job]);
        let procedure = &rates.procedures[job.procedure];
        let number = |value: f64| text::significant(value, DIGITS);
        let list = |items: Vec<&str>| items.join(" ");
        let start = schedule.start_min.get(i).copied().unwrap_or(0);
        let latest = schedule.latest_start_min.get(i).copied().unwrap_or(0);
        // Against the network without a limit on people: what may slip before the longest chain grows. A late start has none.
        let slack = latest.saturating_sub(start);
        vec![
            (i + 1).to_string(),
            (deed.job + 1).to_string(),
            procedure.procedure.clone(),
            procedure.disposition.clone(),
            yes(job.pieces.iter().any(|piece| piece.decided)),
            task.task.clone(),
            work.areas.get(activity.area).cloned().unwrap_or_default(),
            job.pieces.len().to_string(),
            list(job.pieces.iter().map(|piece| shield.tiles[piece.tile].id.as_str()).collect()),
            list(job.pieces.iter().flat_map(|piece| &piece.findings).map(|i| findings[*i].finding.as_str()).collect()),
            rates.skills[task.skill].clone(),
            activity.people.to_string(),
            number(deed.touch_h),
            number(deed.cure_h),
            hours(activity.duration_min),
            activity.after.iter().map(|before| (before + 1).to_string()).collect::<Vec<_>>().join(" "),
            yes(activity.clears_area),
            hours(start),
            hours(start + activity.duration_min),
            hours(slack),
            yes(chain[i]),
            task.source.clone(),
        ]
    };
    let guarded = COLUMNS.map(|name| TEXT_COLUMNS.contains(&name) || name == "on_longest_chain");
    csv::write(&COLUMNS, order.into_iter().map(row), &guarded)
}

/// The state of the zones in summary.json, nose to tail; null conditions do not stand.
pub fn zones(state: &State) -> Json {
    let n = Json::Number;
    let zone = |zone: &Zone| {
        let of = |value: &dyn Fn(usize) -> f64| {
            let held = Condition::ALL.into_iter().enumerate().filter(|(i, _)| zone.count[*i] > 0);
            Json::Object(held.map(|(i, condition)| (condition.word().to_string(), n(value(i)))).collect())
        };
        Json::object([
            ("zone", Json::text(&zone.zone)),
            ("x_m", n(zone.x_m)),
            ("tiles", n(zone.tiles as f64)),
            ("area_m2", n(zone.area_m2)),
            ("conditions", of(&|i| zone.count[i] as f64)),
            ("area_share", of(&|i| zone.area_share[i])),
            ("risk_share", Json::number_or_null(zone.risk_share)),
        ])
    };
    Json::List(state.zones.iter().map(zone).collect())
}

/// The findings in summary.json: how many by kind, how many still stand, and the flight that stands last.
pub fn findings(shield: &Shield, findings: &[Finding]) -> Json {
    let present = history::present_flight(shield, findings);
    let standing = history::standings(findings, present).iter().filter(|standing| !standing.closed).count();
    let kinds = KINDS.iter().map(|kind| (*kind, findings.iter().filter(|finding| finding.kind == *kind).count()));
    Json::object([
        ("present_flight", Json::number_or_null(present.map(f64::from))),
        ("count", Json::Number(findings.len() as f64)),
        ("standing", Json::Number(standing as f64)),
        (
            "kinds",
            Json::Object(
                kinds.filter(|(_, count)| *count > 0).map(|(kind, count)| (kind.to_string(), Json::Number(count as f64))).collect(),
            ),
        ),
    ])
}

/// A flight's thermocouples against the prediction; proposals stand apart from what a person accepted.
pub fn flown(shield: &Shield, scenario: &Scenario, flight: u32, entry: &str, flown: &Flown) -> Json {
    let n = Json::Number;
    let sensors = flown.sensors.iter().map(|sensor| {
        Json::object([
            ("sensor", Json::text(&sensor.sensor)),
            ("tile", Json::text(shield.tiles.get(sensor.tile).map_or("", |tile| tile.id.as_str()))),
            ("readings", n(sensor.readings as f64)),
            ("bias_k", n(sensor.bias_k)),
            ("rms_k", n(sensor.rms_k)),
            ("peak_measured_k", n(sensor.peak_measured_k)),
            ("peak_measured_s", n(sensor.peak_measured_s)),
            ("peak_difference_k", n(sensor.peak_difference_k)),
            ("peak_time_difference_s", n(sensor.peak_time_difference_s)),
            ("transition_measured_s", Json::number_or_null(sensor.transition_measured_s)),
            ("transition_predicted_s", Json::number_or_null(sensor.transition_predicted_s)),
            ("scale", Json::number_or_null(sensor.scale)),
        ])
    });
    let proposals = flown.proposals.iter().map(|proposal| {
        let accepted = scenario.inspection.accepted.iter().find(|accepted| accepted.zone == proposal.zone);
        Json::object([
            ("zone", Json::text(&proposal.zone)),
            ("sensors", n(proposal.sensors as f64)),
            ("proposed_scale", n(proposal.scale)),
            ("low", Json::number_or_null(proposal.limits.map(|limits| limits[0]))),
            ("high", Json::number_or_null(proposal.limits.map(|limits| limits[1]))),
            ("accepted_scale", Json::number_or_null(accepted.map(|accepted| accepted.scale))),
            ("accepted_by", accepted.map_or(Json::Null, |accepted| Json::text(&accepted.accepted_by))),
        ])
    });
    Json::object([
        ("flight", n(f64::from(flight))),
        ("entry", Json::text(entry)),
        ("sensors", Json::List(sensors.collect())),
        ("not_compared_deeper", n(flown.deeper as f64)),
        ("not_compared_outside", n(flown.outside as f64)),
        ("proposals", Json::List(proposals.collect())),
    ])
}

/// flown.json: every flight that has thermocouples, against the first entry, which stands for its reconstructed trajectory. `None` where
/// the vehicle brings no flight data.
pub fn flown_json(shield: &Shield, scenario: &Scenario, prepared: &Prepared) -> Option<Json> {
    let mut flights: Vec<u32> = shield.flight_data.iter().map(|sample| sample.flight).collect();
    flights.order();
    flights.dedup();
    let entry = scenario.entries.first().map_or("", |entry| entry.name.as_str());
    let compared = |flight: &u32| {
        let flown = crate::assess::flown::flown(shield, prepared, *flight, 0).ok()?;
        Some(self::flown(shield, scenario, *flight, entry, &flown))
    };
    let rows: Vec<Json> = flights.iter().filter_map(compared).collect();
    (!rows.is_empty()).then(|| {
        Json::object([
            ("format", Json::text("tileglow-flown/1")),
            ("tileglow", Json::text(crate::VERSION)),
            ("inputs_digest", Json::text(super::digest::inputs(&shield.digest, scenario))),
            ("models", Json::List(crate::assess::surface::models(prepared).into_iter().map(Json::text).collect())),
            ("flights", Json::List(rows)),
            ("caution", Json::text(super::CAUTION)),
        ])
    })
}

/// The work in summary.json: hours by skill, the longest chain, the hours to ready and what could not be shorter, waterproofing.
pub fn summary(work: &Work, with_findings: bool) -> Json {
    // Sums of tenths: what rounding adds in the sixteenth digit is noise.
    let n = |value: f64| Json::Number(libm::round(value * 1e6) / 1e6);
    let skills = work.hours_by_skill.iter().map(|(skill, hours)| (skill.clone(), n(*hours)));
    Json::object([
        (
            "judged_by",
            Json::text(if with_findings { "margins with the findings, as in present.csv" } else { "margins as designed, as in tiles.csv" }),
        ),
        ("people", n(f64::from(work.people))),
        ("jobs", n(work.jobs.len() as f64)),
        ("activities", n(work.activities.len() as f64)),
        ("touch_h", n(work.touch_h())),
        ("touch_h_by_skill", Json::Object(skills.collect())),
        ("longest_chain_h", n(work.longest_chain_h())),
        ("ready_h", n(work.ready_h())),
        ("ready_bound_h", n(work.bound_h())),
        ("method", Json::text(crate::assess::work::schedule::METHOD)),
        (
            "waterproofing",
            Json::object([
                ("rule", Json::text(&work.treatment.rule)),
                ("tiles", n(work.treatment.tiles.len() as f64)),
                ("skipped", n(work.treatment.skipped.len() as f64)),
                ("saved_touch_h", n(work.saved_touch_h)),
            ]),
        ),
        ("rates", Json::text("assets/work.json, invented for the demonstration, with the scenario's rows in place")),
        ("warnings", Json::List(work.warnings.iter().map(Json::text).collect())),
    ])
}
