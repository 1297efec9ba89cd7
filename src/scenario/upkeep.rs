//! The keys `inspection` and `work`: what the user puts in place of shipped rules and rates. Rows stay as written here; `assess` reads them.

use super::{BTreeMap, factors, whole};
use crate::document::json::{self, Range};
use crate::document::{Json, Object, Problems};

/// How findings are judged.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Inspection {
    /// Rows that replace those of the same `rule` in assets/inspection.json, or join them.
    pub rules: Vec<Json>,
    /// Rows that replace those of the same `effect`, or join them.
    pub effects: Vec<Json>,
    /// What a lost tile would mean, by zone, relative to 1; a zone that is not named counts 1. Empty: no risk is shown.
    pub consequence: BTreeMap<String, f64>,
    /// Relative likelihood of losing a tile, by condition; what is not named takes the shipped value.
    pub likelihood: BTreeMap<String, f64>,
    /// Heating scales taken over from flight data.
    pub accepted: Vec<Accepted>,
}

/// A heating scale of a zone that a named person took over from a flight's proposal. It multiplies the zone's heating; a proposal alone
/// changes nothing.
#[derive(Debug, Clone, PartialEq)]
pub struct Accepted {
    pub zone: String,
    pub scale: f64,
    pub accepted_by: String,
    /// ISO 8601 date.
    pub accepted_on: String,
    pub reason: String,
}

fn accepted(object: &mut Object, p: &mut Problems) -> Vec<Accepted> {
    let path = object.path_of("accepted");
    let Some(node) = object.optional("accepted") else { return Vec::new() };
    let mut out: Vec<Accepted> = Vec::new();
    for (i, node) in json::list(node, &path, p).iter().enumerate() {
        let Some(mut row) = Object::open(node, format!("{path}[{i}]"), p) else { continue };
        let before = p.list.len();
        let zone = row.text("zone", p);
        let scale = row.number("scale", Range::above_to(0.0, 100.0), p);
        let (accepted_by, accepted_on) = (row.text("accepted_by", p), row.text("accepted_on", p));
        let reason = row.text_or("reason", "", p);
        if p.list.len() == before {
            if accepted_by.trim().is_empty() {
                p.at_key(row.path_of("accepted_by"), "nobody accepted it", "a person's name");
            }
            if !crate::shield::findings::is_date(&accepted_on) {
                p.at_key(row.path_of("accepted_on"), format!("{accepted_on:?} is no date"), "a date of the calendar as YYYY-MM-DD");
            }
            if out.iter().any(|earlier| earlier.zone == zone) {
                p.at_key(row.path_of("zone"), format!("the zone {zone:?} stands twice"), "each zone once");
            }
        }
        row.finish(p);
        out.push(Accepted { zone, scale, accepted_by, accepted_on, reason });
    }
    out
}

/// When a tile is made waterproof again.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum Waterproofing {
    /// Every tile after every flight, as recorded practice.
    #[default]
    EveryTile,
    /// Only where the agent has burned out deeper than `depth_mm`, taken as the depth to which the tile was ever hotter than `isotherm_k`.
    BurnedOut { isotherm_k: f64, depth_mm: f64 },
}

/// The crew and the rates of its work.
#[derive(Debug, Clone, PartialEq)]
pub struct WorkChoices {
    pub people: u32,
    /// At most so many people of a skill.
    pub skills: BTreeMap<String, f64>,
    /// Tiles whose centres are this near are one job, at most `tiles_per_job` of them.
    pub near_m: f64,
    pub tiles_per_job: u32,
    /// Rows that replace those of the same `task` in assets/work.json, or join them.
    pub tasks: Vec<Json>,
    /// Rows that replace those of the same `procedure`, or join them in front.
    pub procedures: Vec<Json>,
    pub waterproofing: Waterproofing,
}

impl Default for WorkChoices {
    fn default() -> Self {
        WorkChoices {
            people: 8,
            skills: BTreeMap::new(),
            near_m: 0.6,
            tiles_per_job: 6,
            tasks: Vec::new(),
            procedures: Vec::new(),
            waterproofing: Waterproofing::EveryTile,
        }
    }
}

/// The isotherm that stands for burned-out agent where none is given, K: about 1050 degF (from memory).
pub const ISOTHERM_K: f64 = 838.0;

fn rows(object: &mut Object, key: &'static str, p: &mut Problems) -> Vec<Json> {
    let path = object.path_of(key);
    object.optional(key).map_or(Vec::new(), |node| json::list(node, &path, p).to_vec())
}

impl Accepted {
    fn to_json(&self) -> Json {
        Json::object([
            ("zone", Json::text(&self.zone)),
            ("scale", Json::Number(self.scale)),
            ("accepted_by", Json::text(&self.accepted_by)),
            ("accepted_on", Json::text(&self.accepted_on)),
            ("reason", Json::text(&self.reason)),
        ])
    }
}

impl Inspection {
    /// The accepted scale of a zone, 1 where nobody accepted one.
    pub fn accepted_scale(&self, zone: &str) -> f64 {
        self.accepted.iter().find(|accepted| accepted.zone == zone).map_or(1.0, |accepted| accepted.scale)
    }

    pub(super) fn read(mut object: Object, p: &mut Problems) -> Inspection {
        let out = Inspection {
            rules: rows(&mut object, "rules", p),
            effects: rows(&mut object, "effects", p),
            consequence: factors(&mut object, "consequence", Range::between(0.0, 1e6), p),
            likelihood: factors(&mut object, "likelihood", Range::between(0.0, 1e6), p),
            accepted: accepted(&mut object, p),
        };
        object.finish(p);
        out
    }

    pub(super) fn to_json(&self) -> Json {
        Json::object([
            ("rules", Json::List(self.rules.clone())),
            ("effects", Json::List(self.effects.clone())),
            ("consequence", super::write::map(&self.consequence)),
            ("likelihood", super::write::map(&self.likelihood)),
            ("accepted", Json::List(self.accepted.iter().map(Accepted::to_json).collect())),
        ])
    }
}

impl WorkChoices {
    pub(super) fn read(mut object: Object, p: &mut Problems) -> WorkChoices {
        let d = WorkChoices::default();
        let count = Range::between(1.0, 1e4);
        let people = whole(&mut object, "people", count, f64::from(d.people), p);
        let skills = factors(&mut object, "skills", count, p);
        for (skill, limit) in skills.iter().filter(|(_, limit)| limit.fract() != 0.0) {
            p.at_key(object.path_of(&format!("skills.{skill}")), format!("{limit} is no whole number"), "a whole number of people from 1");
        }
        let near_m = object.number_or("near_m", Range::between(0.0, 100.0), d.near_m, p);
        let tiles_per_job = whole(&mut object, "tiles_per_job", count, f64::from(d.tiles_per_job), p);
        let tasks = rows(&mut object, "tasks", p);
        let procedures = rows(&mut object, "procedures", p);
        let waterproofing = object.child("waterproofing", p).map_or(d.waterproofing, |mut inner| {
            let kind = inner.word_or("kind", &["every-tile", "burned-out"], "every-tile", p);
            let out = if kind == "burned-out" {
                Waterproofing::BurnedOut {
                    isotherm_k: inner.number_or("isotherm_k", Range::above_to(0.0, 3000.0), ISOTHERM_K, p),
                    depth_mm: inner.number_or("depth_mm", Range::between(0.0, 1000.0), 0.0, p),
                }
            } else {
                Waterproofing::EveryTile
            };
            inner.finish(p);
            out
        });
        object.finish(p);
        WorkChoices { people, skills, near_m, tiles_per_job, tasks, procedures, waterproofing }
    }

    pub(super) fn to_json(&self) -> Json {
        let n = Json::Number;
        let waterproofing = match self.waterproofing {
            Waterproofing::EveryTile => Json::object([("kind", Json::text("every-tile"))]),
            Waterproofing::BurnedOut { isotherm_k, depth_mm } => {
                Json::object([("kind", Json::text("burned-out")), ("isotherm_k", n(isotherm_k)), ("depth_mm", n(depth_mm))])
            }
        };
        Json::object([
            ("people", n(f64::from(self.people))),
            ("skills", super::write::map(&self.skills)),
            ("near_m", n(self.near_m)),
            ("tiles_per_job", n(f64::from(self.tiles_per_job))),
            ("tasks", Json::List(self.tasks.clone())),
            ("procedures", Json::List(self.procedures.clone())),
            ("waterproofing", waterproofing),
        ])
    }
}
