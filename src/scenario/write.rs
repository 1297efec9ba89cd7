//! Writing `tileglow-scenario/1`: all keys, or only those that do not stand at their default.

use super::*;
use crate::document::Json;
use crate::document::json::Range;
use crate::heating::{Threshold, Thresholds};

/// The names that an uncertainty term may have.
pub const TERM_NAMES: [&str; 6] = ["heating", "emissivity", "conductivity", "specific-heat", "thickness", "start"];

impl Colour {
    pub const WORDS: [&'static str; 8] =
        ["margin", "surface", "bondline", "structure", "condition", "regime", "tolerated-depth", "tolerated-length"];
    const ALL: [Colour; 8] = [
        Colour::Margin,
        Colour::Surface,
        Colour::Bondline,
        Colour::Structure,
        Colour::Condition,
        Colour::Regime,
        Colour::ToleratedDepth,
        Colour::ToleratedLength,
    ];

    /// Whether what each tile tolerates is asked.
    pub fn is_tolerated(self) -> bool {
        matches!(self, Colour::ToleratedDepth | Colour::ToleratedLength)
    }

    pub fn word(self) -> &'static str {
        Colour::WORDS[self as usize]
    }

    pub fn from_word(word: &str) -> Option<Colour> {
        Colour::ALL.into_iter().find(|colour| colour.word() == word)
    }
}

impl ChangeKey {
    pub const ALL: [ChangeKey; 10] = [
        ChangeKey::Material,
        ChangeKey::Coating,
        ChangeKey::Stack,
        ChangeKey::ThicknessMm,
        ChangeKey::DensityKgM3,
        ChangeKey::Emissivity,
        ChangeKey::SolarAbsorptance,
        ChangeKey::NoseRadiusM,
        ChangeKey::RunningLengthM,
        ChangeKey::HeatingFactor,
    ];

    /// The column of tiles.csv.
    pub fn column(self) -> &'static str {
        match self {
            ChangeKey::Material => "material",
            ChangeKey::Coating => "coating",
            ChangeKey::Stack => "stack",
            ChangeKey::ThicknessMm => "thickness_mm",
            ChangeKey::DensityKgM3 => "density_kg_m3",
            ChangeKey::Emissivity => "emissivity",
            ChangeKey::SolarAbsorptance => "solar_absorptance",
            ChangeKey::NoseRadiusM => "nose_radius_m",
            ChangeKey::RunningLengthM => "running_length_m",
            ChangeKey::HeatingFactor => "heating_factor",
        }
    }

    /// The range of a number, `None` for a text column.
    pub fn range(self) -> Option<Range> {
        match self {
            ChangeKey::Material | ChangeKey::Coating | ChangeKey::Stack => None,
            ChangeKey::ThicknessMm => Some(Range::above_to(0.0, 1000.0)),
            ChangeKey::DensityKgM3 => Some(Range::above_to(0.0, 30000.0)),
            ChangeKey::Emissivity | ChangeKey::SolarAbsorptance => Some(Range::above_to(0.0, 1.0)),
            ChangeKey::NoseRadiusM | ChangeKey::RunningLengthM => Some(Range::above_to(0.0, 1000.0)),
            ChangeKey::HeatingFactor => Some(Range::between(0.0, 100.0)),
        }
    }
}

pub(super) fn map(values: &BTreeMap<String, f64>) -> Json {
    Json::Object(values.iter().map(|(name, value)| (name.clone(), Json::Number(*value))).collect())
}

fn own_factors(table: Option<&OwnFactors>) -> Json {
    table.map_or(Json::Null, |table| {
        Json::object([
            (table.laminar.axis, Json::numbers(&table.laminar.at)),
            ("laminar", Json::numbers(&table.laminar.value)),
            ("turbulent", Json::numbers(&table.turbulent.value)),
            ("source", Json::text(&table.source)),
        ])
    })
}

fn transition(value: &Transition) -> Json {
    match *value {
        Transition::None => Json::object([("kind", Json::text("none"))]),
        Transition::Time { time_s } => Json::object([("kind", Json::text("time")), ("time_s", Json::Number(time_s))]),
        Transition::Mach { mach } => Json::object([("kind", Json::text("mach")), ("mach", Json::Number(mach))]),
        Transition::MomentumThickness { limit } => {
            Json::object([("kind", Json::text("momentum-thickness")), ("limit", Json::Number(limit))])
        }
        Transition::Roughness { limit, criterion } => {
            Json::object([("kind", Json::text("roughness")), ("limit", Json::Number(limit)), ("criterion", Json::text(criterion.word()))])
        }
    }
}

fn thresholds(table: &Thresholds) -> Json {
    let row = |row: &Threshold| {
        Json::object([
            ("measure", Json::text(row.measure.word())),
            ("value", Json::Number(row.value)),
            ("source", Json::text(&row.source)),
            ("range", Json::text(&row.range)),
        ])
    };
    Json::List(table.own.iter().map(row).collect())
}

fn text_or_null(value: &Option<String>) -> Json {
    value.as_ref().map_or(Json::Null, Json::text)
}

impl Scenario {
    /// The whole document, every key written out.
    pub fn to_json(&self) -> Json {
        let n = Json::Number;
        let choices = &self.heating.choices;
        let entries = self.entries.iter().map(|entry| {
            Json::object([
                ("name", Json::text(&entry.name)),
                ("entry", entry.course.to_json()),
                ("transition", entry.transition.as_ref().map_or(Json::Null, transition)),
            ])
        });
        let start = match &self.start {
            Start::Temperature { surface_k, structure_k } => {
                Json::object([("kind", Json::text("temperature")), ("surface_k", n(*surface_k)), ("structure_k", n(*structure_k))])
            }
            Start::Orbit { sun_vector, planet_vector, albedo, planet_infrared_w_m2, hold_s, structure_k, altitude_m, exposure } => {
                Json::object([
                    ("kind", Json::text("orbit")),
                    ("sun_vector", Json::numbers(sun_vector)),
                    ("planet_vector", Json::numbers(planet_vector)),
                    ("albedo", n(*albedo)),
                    ("planet_infrared_w_m2", n(*planet_infrared_w_m2)),
                    ("hold_s", n(*hold_s)),
                    ("structure_k", Json::number_or_null(*structure_k)),
                    ("altitude_m", Json::number_or_null(*altitude_m)),
                    ("exposure", Json::text(if *exposure == Exposure::OrbitAverage { "orbit-average" } else { "deorbit-point" })),
                ])
            }
        };
        let limits = match self.policy.limits {
            Limits::Reuse => Json::text("reuse"),
            Limits::SingleMission => Json::text("single-mission"),
            Limits::Flights(flights) => Json::object([("flights", n(flights))]),
        };
        let combine = match self.policy.combine {
            Combine::RootSumSquare => "root-sum-square",
            Combine::Sum => "sum",
            Combine::Sampled => "sampled",
        };
        let terms = self.policy.terms.iter().map(|term| {
            Json::object([("name", Json::text(&term.name)), ("fraction", n(term.fraction)), ("level_sigma", n(term.level_sigma))])
        });
        let changes = self.changes.iter().map(|change| {
            let set = change.set.iter().map(|(key, value)| {
                let value = match value {
                    ChangeValue::Number(value) => n(*value),
                    ChangeValue::Text(value) => Json::text(value),
                };
                (key.column().to_string(), value)
            });
            let reach = match &change.reach {
                Reach::Zone(zone) => ("zone", Json::text(zone)),
                Reach::Tiles(tiles) => ("tiles", Json::List(tiles.iter().map(Json::text).collect())),
            };
            Json::object([reach, ("set", Json::Object(set.collect()))])
        });
        let view = &self.view;
        Json::object([
            ("format", Json::text(FORMAT)),
            ("vehicle", Json::object([("name", Json::text(&self.vehicle_name)), ("digest", text_or_null(&self.vehicle_digest))])),
            ("entries", Json::List(entries.collect())),
            (
                "heating",
                Json::object([
                    ("reference", Json::text(choices.reference.word())),
                    ("scale", n(choices.scale)),
                    ("zone_factor", map(&self.heating.zone_factor)),
                    ("lee_fraction", n(choices.lee_fraction)),
                    ("catalycity", map(&self.heating.catalycity)),
                    ("recombination", Json::text(if choices.recombination { "by-coating" } else { "full" })),
                    ("transition", transition(&choices.transition)),
                    ("transition_thresholds", thresholds(&choices.thresholds)),
                    ("steps", own_factors(self.heating.steps.as_ref())),
                    ("gaps", own_factors(self.heating.gaps.as_ref())),
                ]),
            ),
            ("start", start),
            (
                "landing",
                Json::object([
                    ("descent_s", n(self.landing.descent_s)),
                    ("altitude_m", n(self.landing.altitude_m)),
                    ("air_k", n(self.landing.air_k)),
                    ("h_w_m2k", n(self.landing.h_w_m2k)),
                    ("limit_s", n(self.landing.limit_s)),
                ]),
            ),
            ("policy", Json::object([("limits", limits), ("combine", Json::text(combine)), ("terms", Json::List(terms.collect()))])),
            (
                "sizing",
                Json::object([
                    ("margin_k", n(self.sizing.margin_k)),
                    ("step_mm", n(self.sizing.step_mm)),
                    ("minimum_mm", n(self.sizing.minimum_mm)),
                    ("maximum_mm", n(self.sizing.maximum_mm)),
                ]),
            ),
            ("changes", Json::List(changes.collect())),
            ("findings", Json::List(self.findings.clone())),
            ("inspection", self.inspection.to_json()),
            ("work", self.work.to_json()),
            (
                "view",
                Json::object([
                    ("colour", Json::text(view.colour.word())),
                    ("time_s", Json::number_or_null(view.time_s)),
                    ("units", Json::text(if view.units == UnitSystem::Us { "us" } else { "si" })),
                    ("tile", text_or_null(&view.tile)),
                    ("entry", text_or_null(&view.entry)),
                    ("map", Json::Bool(view.map)),
                    ("camera", view.camera.map_or(Json::Null, |camera| Json::numbers(&camera))),
                    ("brush", view.brush.map_or(Json::Null, |brush| Json::numbers(&brush))),
                    ("bands", Json::Bool(view.bands)),
                    (
                        "cavity",
                        Json::object([
                            ("length_mm", Json::Number(view.cavity.length_mm)),
                            ("depth_mm", Json::Number(view.cavity.depth_mm)),
                        ]),
                    ),
                ]),
            ),
            ("note", Json::text(&self.note)),
        ])
    }

    /// The document without the keys that stand at their default; `entries` are always there.
    pub fn to_short_json(&self) -> Json {
        let default = Scenario::with_entries(Vec::new()).to_json();
        match beyond(&self.to_json(), &default) {
            Some(Json::Object(mut fields)) => {
                fields.insert(0, ("format".to_string(), Json::text(FORMAT)));
                Json::Object(fields)
            }
            _ => Json::object([("format", Json::text(FORMAT))]),
        }
    }

    /// What the inputs' digest covers of the scenario: canonical JSON without `view` and `note`.
    pub fn canonical(&self) -> String {
        match self.to_json() {
            Json::Object(fields) => {
                Json::Object(fields.into_iter().filter(|(key, _)| key != "view" && key != "note").collect()).canonical()
            }
            other => other.canonical(),
        }
    }
}

/// The parts of `value` that differ from `default`; `None` where nothing does. Lists, and objects whose `kind` differs, are
/// kept whole, since their parts mean nothing apart.
fn beyond(value: &Json, default: &Json) -> Option<Json> {
    if value == default {
        return None;
    }
    match (value, default) {
        (Json::Object(fields), Json::Object(defaults)) if value.get("kind") == default.get("kind") && !defaults.is_empty() => {
            let kept = fields.iter().filter_map(|(key, value)| match default.get(key) {
                Some(default) => beyond(value, default).map(|value| (key.clone(), value)),
                None => Some((key.clone(), value.clone())),
            });
            Some(Json::Object(kept.collect()))
        }
        _ => Some(value.clone()),
    }
}
