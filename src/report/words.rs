//! The sentences that the results speak: the verdict, why a tile limits, where an input's range holds.
//!
//! Pure functions of the results, so that the page, the command's summary and the brief say the same thing.

use super::numbers::{NARROW_SPACE, Quantity, count, counted, grouped, with_unit};
use crate::assess::sites::Site;
use crate::assess::{Assessment, Condition, Disposition, GovernedBy, TileResult};
use crate::document::Sorting as _;
use crate::flight::{Sample, Trajectory};
use crate::heating::Regime;
use crate::scenario::{Combine, Limits, NamedEntry, Policy, UnitSystem};
use crate::shield::{Shield, TileState};

/// A part of the verdict. The page makes handles of the numbers; `plain` reads the same sentence.
#[derive(Debug, Clone, PartialEq)]
pub enum Span {
    Text(String),
    /// How many fall short: filters the shield to them.
    Short(String),
    /// Picks a tile.
    Pick {
        tile: usize,
        text: String,
    },
    /// By how much the worst is over: emphasised.
    Over(String),
    /// Moves the flight to a moment.
    Time {
        entry: usize,
        time_s: f64,
        text: String,
    },
    /// What the sentence does not cover: said as plainly, but lighter.
    Rest(String),
}

impl Span {
    pub fn text(&self) -> &str {
        match self {
            Span::Text(text) | Span::Short(text) | Span::Over(text) | Span::Rest(text) => text,
            Span::Pick { text, .. } | Span::Time { text, .. } => text,
        }
    }
}

/// The sentence without handles.
pub fn plain(spans: &[Span]) -> String {
    spans.iter().map(Span::text).collect()
}

/// What has been judged: decides what the verdict must say it leaves out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Covered {
    pub surface: bool,
    pub bondline: bool,
    pub structure: bool,
    /// Tiles that have a margin.
    pub judged: usize,
    /// Tiles that have none: no limit known.
    pub unjudged: usize,
    /// Judged tiles whose margin is negative.
    pub short: usize,
}

pub fn covered(results: &Assessment) -> Covered {
    let mut covered = Covered::default();
    for tile in &results.tiles {
        covered.surface |= tile.margin_surface_k.is_some();
        covered.bondline |= tile.margin_bondline_k.is_some();
        covered.structure |= tile.margin_structure_k.is_some();
        match tile.margin_k {
            Some(margin_k) if margin_k.is_finite() => {
                covered.judged += 1;
                covered.short += usize::from(margin_k < 0.0);
            }
            _ => covered.unjudged += 1,
        }
    }
    covered
}

/// The judged tiles, smallest margin first; ties in table order.
pub fn ranked(results: &Assessment) -> Vec<usize> {
    let mut order: Vec<(f64, usize)> = results
        .tiles
        .iter()
        .enumerate()
        .filter_map(|(index, tile)| tile.margin_k.filter(|margin_k| margin_k.is_finite()).map(|margin_k| (margin_k, index)))
        .collect();
    order.order_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    order.into_iter().map(|(_, index)| index).collect()
}

/// The judged tile of the smallest margin: the first of `ranked`, without sorting.
fn smallest(results: &Assessment) -> Option<usize> {
    let judged =
        results.tiles.iter().enumerate().filter_map(|(index, tile)| Some((index, tile.margin_k.filter(|margin_k| margin_k.is_finite())?)));
    judged.min_by(|a, b| a.1.total_cmp(&b.1)).map(|(index, _)| index)
}

/// The verdict over a set: where the set has more than one entry, the one that governs the worst tile is named after its moment.
pub fn verdict_of_set(shield: &Shield, results: Option<&Assessment>, entries: &[NamedEntry], units: UnitSystem) -> Vec<Span> {
    let mut spans = verdict(shield, results, units);
    let time = spans.iter().position(|span| matches!(span, Span::Time { .. }));
    if let Some(at) = time.filter(|_| entries.len() > 1)
        && let Some(Span::Time { entry, .. }) = spans.get(at)
        && let Some(named) = entries.get(*entry)
        && let Some(Span::Text(after)) = spans.get_mut(at + 1)
    {
        *after = format!(" of entry {}{after}", named.name);
    }
    spans
}

/// The peak that governs a tile.
pub fn governing_peak(tile: &TileResult) -> crate::assess::Peak {
    match tile.governed_by {
        Some(GovernedBy::Bondline) => tile.bondline.unwrap_or(tile.surface),
        Some(GovernedBy::Structure) => tile.structure.unwrap_or(tile.surface),
        _ => tile.surface,
    }
}

/// The word for what governs.
pub fn governed(by: GovernedBy) -> &'static str {
    match by {
        GovernedBy::Surface => "surface",
        GovernedBy::Bondline => "glue line",
        GovernedBy::Structure => "structure",
    }
}

/// ` on the left chine`; names that are codes read as `in zone Z-12`; nothing for no zone.
pub fn place(zone: &str) -> String {
    let zone = zone.trim();
    match zone.chars().next() {
        None => String::new(),
        Some(first) if first.is_lowercase() && !zone.chars().any(|c| c.is_ascii_digit() || c == '_') => format!(" on the {zone}"),
        Some(_) => format!(" in zone {zone}"),
    }
}

/// The one generated sentence across the top. `results` is `None` while none of this revision stand.
pub fn verdict(shield: &Shield, results: Option<&Assessment>, units: UnitSystem) -> Vec<Span> {
    let Some(results) = results else {
        return vec![Span::Text(format!("{} are being assessed.", counted(shield.tiles.len(), "tile", "tiles")))];
    };
    let covered = covered(results);
    let Some(worst) = smallest(results) else {
        let text =
            if results.tiles.is_empty() { "This vehicle has no tiles to judge." } else { "No tile has a limit to be judged against." };
        return vec![Span::Text(text.to_string())];
    };
    let (Some(tile), Some(result)) = (shield.tiles.get(worst), results.tiles.get(worst)) else {
        return Vec::new();
    };
    let surface_only = !covered.bondline && !covered.structure;
    let at = if surface_only { " at the surface" } else { "" };
    let peak = governing_peak(result);
    let margin_k = result.margin_k.unwrap_or(0.0);
    let by = Quantity::Difference.text(margin_k.abs(), units);
    let what = match result.governed_by {
        Some(by) if !surface_only => format!(": {} ", governed(by)),
        _ => ": ".to_string(),
    };
    let pick = Span::Pick { tile: worst, text: tile.id.clone() };
    let time = Span::Time { entry: peak.entry, time_s: peak.time_s, text: Quantity::Time.text(peak.time_s, units) };
    let mut spans = Vec::new();
    if covered.short > 0 {
        spans.push(Span::Short(match (covered.short, covered.judged) {
            (1, 1) => "The one tile falls short".to_string(),
            (short, judged) if short == judged => format!("All {} tiles fall short", count(judged)),
            (1, judged) => format!("1 of {} tiles falls short", count(judged)),
            (short, judged) => format!("{} of {} tiles fall short", count(short), count(judged)),
        }));
        spans.push(Span::Text(format!("{at}; worst ")));
        spans.push(pick);
        spans.push(Span::Text(format!("{}{what}", place(&tile.zone))));
        spans.push(Span::Over(format!("{by} over")));
    } else {
        let all = if covered.judged == 1 { "The one tile holds".to_string() } else { format!("All {} tiles hold", count(covered.judged)) };
        spans.push(Span::Text(format!("{all}{at}; the closest is ")));
        spans.push(pick);
        spans.push(Span::Text(format!("{}{what}{by} below its limit", place(&tile.zone))));
    }
    spans.push(Span::Text(" at ".to_string()));
    spans.push(time);
    spans.push(Span::Text(".".to_string()));
    if let Some(rest) = left_out(&covered) {
        spans.push(Span::Rest(format!(" {rest}")));
    }
    spans
}

/// The sentence while glue line and structure are still being solved: what stands already, and that the rest follows.
pub fn estimate(shield: &Shield, results: &Assessment, units: UnitSystem) -> Vec<Span> {
    let deep = results.tiles.iter().any(|tile| tile.bondline.is_some());
    let covered = covered(results);
    let Some(worst) = smallest(results) else { return verdict(shield, Some(results), units) };
    let (at, rest) = match (deep, results.pending) {
        (false, _) => (" at the surface", "The glue line follows.".to_string()),
        (true, 0) => ("", "The full solution follows.".to_string()),
        (true, pending) => (" so far", format!("The glue line of {} follows.", counted(pending, "tile", "tiles"))),
    };
    let mut spans = match covered.short {
        0 => vec![Span::Text(format!("About all {} tiles hold{at}; the closest is ", count(covered.judged)))],
        1 => vec![Span::Short("About 1 tile falls short".to_string()), Span::Text(format!("{at}; worst "))],
        short => vec![Span::Short(format!("About {} tiles fall short", count(short))), Span::Text(format!("{at}; worst "))],
    };
    spans.push(Span::Pick { tile: worst, text: shield.tiles.get(worst).map_or(String::new(), |tile| tile.id.clone()) });
    spans.push(Span::Text(".".to_string()));
    spans.push(Span::Rest(format!(" {rest}")));
    spans
}

/// ", stated error ≤ 1.0 K": the largest of all tiles, rounded up to a tenth; empty where one is not known.
pub fn stated_error(results: &Assessment, units: UnitSystem) -> String {
    let error_k = results.tiles.iter().fold(0.0, |worst: f64, tile| worst.max(tile.numerical_error_k));
    if error_k <= 0.0 || !error_k.is_finite() {
        return String::new();
    }
    let tenths = (10.0 * Quantity::Difference.shown(error_k, units)).ceil() / 10.0;
    format!(", stated error \u{2264} {}", with_unit(&format!("{tenths:.1}"), Quantity::Difference.unit(units)))
}

/// What the verdict does not cover, as a sentence of its own.
pub fn left_out(covered: &Covered) -> Option<String> {
    let layers = match (covered.bondline, covered.structure) {
        (true, true) => None,
        (false, false) => Some("Glue line and structure are not assessed yet.".to_string()),
        (true, false) => Some("The structure is not assessed yet.".to_string()),
        (false, true) => Some("The glue line is not assessed yet.".to_string()),
    };
    let unjudged = (covered.unjudged > 0).then(|| match covered.unjudged {
        1 => "1 tile has no limit and is not judged.".to_string(),
        many => format!("{} tiles have no limit and are not judged.", count(many)),
    });
    match (layers, unjudged) {
        (Some(layers), Some(unjudged)) => Some(format!("{layers} {unjudged}")),
        (layers, unjudged) => layers.or(unjudged),
    }
}

/// How a margin is made: what is subtracted from the limit, and in short for a card's heading.
pub fn policy(policy: &Policy) -> (String, String) {
    if policy.terms.is_empty() {
        return ("Margin = limit \u{2212} nominal; no uncertainty counted".to_string(), "limit \u{2212} nominal".to_string());
    }
    let how = match policy.combine {
        Combine::RootSumSquare => "root-sum-square",
        Combine::Sum => "sum",
        Combine::Sampled => "sampled spread",
    };
    let number = counted(policy.terms.len(), "term", "terms");
    let first = policy.terms.first().map_or(0.0, |term| term.level_sigma);
    let level = match policy.terms.iter().all(|term| term.level_sigma == first) {
        true => format!(" at {}{NARROW_SPACE}σ", super::numbers::grouped(first, if first.fract() == 0.0 { 0 } else { 1 })),
        false => String::new(),
    };
    (format!("Margin = limit \u{2212} (nominal + {how} of {number}{level})"), format!("limit \u{2212} (nominal + {number}{level})"))
}

/// The limit's kind in words.
pub fn limits(limits: Limits) -> String {
    match limits {
        Limits::Reuse => "reuse".to_string(),
        Limits::SingleMission => "single mission".to_string(),
        Limits::Flights(flights) => counted(flights as usize, "flight", "flights"),
    }
}

/// Why a tile stands where it does, in a few words: the numbers that decide, from its own row.
pub fn why(shield: &Shield, results: &Assessment, index: usize, units: UnitSystem) -> String {
    let (Some(tile), Some(result)) = (shield.tiles.get(index), results.tiles.get(index)) else {
        return String::new();
    };
    let thickness = |metres: f64| Quantity::Thickness.text(metres, units);
    match (result.governed_by, result.thickness_to_limit_mm) {
        (Some(GovernedBy::Bondline | GovernedBy::Structure), Some(spare_mm)) if spare_mm < 0.0 => {
            format!(
                "thin: {}, {} needed",
                thickness(result.effective.thickness_m),
                Quantity::Thickness.number(result.effective.thickness_m - spare_mm * 1e-3, units)
            )
        }
        (Some(GovernedBy::Bondline | GovernedBy::Structure), _) => {
            let peak = governing_peak(result);
            format!("{} on {}", Quantity::Temperature.text(peak.temperature_k, units), result.limiting_layer)
        }
        _ => {
            let peak = Quantity::Temperature.number(result.surface.temperature_k, units);
            match result.limit_surface_k {
                Some(limit_k) => {
                    let limit = Quantity::Temperature.text(limit_k, units);
                    match tile.heating_factor {
                        factor if factor != 1.0 => format!("{peak} of {limit}, factor {factor:.2}"),
                        _ => format!("{peak} of {limit}, {}", short_of(shield, &result.limiting_layer)),
                    }
                }
                None => format!("{peak}, no limit known"),
            }
        }
    }
}

/// A material's name short enough for a row: the first word of its name where that is its id as it is written (`LI-900`), else the id.
pub fn short_name(material: &crate::material::Material) -> &str {
    match material.name.split_whitespace().next() {
        Some(first) if first.eq_ignore_ascii_case(&material.id) => first,
        _ => &material.id,
    }
}

/// The material of that id or name, in short; the text itself where the library has none.
fn short_of<'a>(shield: &'a Shield, text: &'a str) -> &'a str {
    shield.library.find(text).and_then(|index| shield.library.materials.get(index)).map_or(short_layer(text), short_name)
}

/// A layer's name short enough for a list.
fn short_layer(name: &str) -> &str {
    match name.char_indices().nth(18) {
        Some((end, _)) => name.get(..end).unwrap_or(name),
        None => name,
    }
}

/// Two sentences for the brief: what limits in common, and what would mend it.
pub fn reasons(shield: &Shield, results: &Assessment, units: UnitSystem) -> String {
    let order = ranked(results);
    let covered = covered(results);
    let named: Vec<usize> = order.into_iter().take(if covered.short > 0 { covered.short } else { 10 }).collect();
    if named.is_empty() {
        return String::new();
    }
    let mut zones: Vec<(&str, usize)> = Vec::new();
    for index in &named {
        let zone = shield.tiles.get(*index).map_or("", |tile| tile.zone.as_str());
        match zones.iter_mut().find(|(name, _)| *name == zone) {
            Some((_, number)) => *number += 1,
            None => zones.push((zone, 1)),
        }
    }
    zones.order_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(b.0)));
    let (zone, number) = zones.first().copied().unwrap_or(("", 0));
    let which = if covered.short > 0 { "that fall short" } else { "closest to their limits" };
    let place = if zone.is_empty() { String::new() } else { format!(", {} of them{}", count(number), self::place(zone)) };
    let first = format!("The {} {which} lie in {}{place}.", counted(named.len(), "tile", "tiles"), counted(zones.len(), "zone", "zones"));
    let factor = named.iter().filter_map(|index| results.tiles.get(*index)?.heating_factor_to_limit).fold(f64::INFINITY, f64::min);
    if !factor.is_finite() {
        return first;
    }
    let second = match factor < 1.0 {
        true => format!("All would hold if their heating were {} of what it is.", Quantity::Percent.text(factor, units)),
        false => format!("The first limit is met when heating grows by {}.", Quantity::Percent.text(factor - 1.0, units)),
    };
    format!("{first} {second}")
}

/// Where an input's range holds, from a track: the words under a slider.
#[derive(Debug, Clone, PartialEq)]
pub enum Holds {
    Everywhere,
    Nowhere,
    Below(f64),
    From(f64),
    Between(f64, f64),
    /// Holds in more than one stretch.
    Parts,
}

/// Reads a track (values in rising order, the smallest margin at each); crossings are linear between samples. `None` if empty.
pub fn holds(at: &[f64], margin_k: &[f64]) -> Option<Holds> {
    let n = at.len().min(margin_k.len());
    if n < 2 || margin_k.iter().take(n).any(|margin| !margin.is_finite()) {
        return None;
    }
    let crossings = crossings(at, margin_k);
    let holds_first = margin_k[0] >= 0.0;
    Some(match (crossings.as_slice(), holds_first) {
        ([], true) => Holds::Everywhere,
        ([], false) => Holds::Nowhere,
        ([x], true) => Holds::Below(*x),
        ([x], false) => Holds::From(*x),
        ([a, b], false) => Holds::Between(*a, *b),
        _ => Holds::Parts,
    })
}

/// Where a track crosses the limit.
pub fn crossings(at: &[f64], margin_k: &[f64]) -> Vec<f64> {
    at.windows(2)
        .zip(margin_k.windows(2))
        .filter_map(|(x, y)| match (x, y) {
            ([x0, x1], [y0, y1]) if (*y0 < 0.0) != (*y1 < 0.0) => Some(x0 + (x1 - x0) * y0 / (y0 - y1)),
            _ => None,
        })
        .collect()
}

/// The words for it, with the crossing in the input's own quantity.
pub fn holds_words(holds: &Holds, quantity: Quantity, units: UnitSystem) -> String {
    let text = |value: f64| quantity.text(value, units);
    match holds {
        Holds::Everywhere => "every value holds".to_string(),
        Holds::Nowhere => "no value holds".to_string(),
        Holds::Below(x) => format!("holds below {}", text(*x)),
        Holds::From(x) => format!("holds from {}", text(*x)),
        Holds::Between(a, b) => format!("holds {} to {}", quantity.number(*a, units), text(*b)),
        Holds::Parts => "holds in parts".to_string(),
    }
}

/// A condition's word.
pub fn condition(condition: Condition) -> &'static str {
    match condition {
        Condition::Planned => "planned",
        Condition::Fitted => "fitted",
        Condition::Bonded => "bonded",
        Condition::Tested => "tested",
        Condition::AsBuilt => "as built",
        Condition::Watch => "watch",
        Condition::Repair => "repair",
        Condition::Replace => "replace",
        Condition::NotCleared => "not cleared",
    }
}

pub fn disposition(disposition: Disposition) -> &'static str {
    match disposition {
        Disposition::FlyAsIs => "fly as is",
        Disposition::Watch => "watch",
        Disposition::RepairInPlace => "repair in place",
        Disposition::Replace => "replace",
        Disposition::EngineeringReview => "engineering review",
    }
}

pub fn state(state: TileState) -> &'static str {
    match state {
        TileState::Planned => "planned",
        TileState::Fitted => "fitted",
        TileState::Bonded => "bonded",
        TileState::Tested => "tested",
        TileState::InService => "in service",
    }
}

pub fn regime(regime: Regime) -> &'static str {
    match regime {
        Regime::Laminar => "laminar",
        Regime::Transitional => "transitional",
        Regime::Turbulent => "turbulent",
    }
}

/// A finding that may trip the boundary layer: `F012 (gouge on 0417, cavity depth 5.0 mm)`.
pub fn site(shield: &Shield, site: &Site) -> String {
    let tile = shield.tiles.get(site.tile).map_or("", |tile| tile.id.as_str());
    format!(
        "{} ({} on {tile}, {} {} mm)",
        site.finding,
        site.kind.replace('-', " "),
        site.measure.label(),
        grouped(site.size_m * 1000.0, 1)
    )
}

/// The flight at a moment, linear between its samples; held at the ends. `None` for a flight without samples.
pub fn at_moment(flight: &Trajectory, time_s: f64) -> Option<Sample> {
    let samples = &flight.samples;
    let next = samples.partition_point(|sample| sample.time_s <= time_s);
    let (Some(b), Some(a)) = (samples.get(next.min(samples.len().saturating_sub(1))), samples.get(next.saturating_sub(1))) else {
        return None;
    };
    let span = b.time_s - a.time_s;
    let share = if span > 0.0 { ((time_s - a.time_s) / span).clamp(0.0, 1.0) } else { 0.0 };
    let mix = |x: f64, y: f64| x + share * (y - x);
    let maybe = |x: Option<f64>, y: Option<f64>| Some(mix(x?, y?));
    Some(Sample {
        time_s,
        altitude_m: mix(a.altitude_m, b.altitude_m),
        speed_m_s: mix(a.speed_m_s, b.speed_m_s),
        angle_of_attack_deg: mix(a.angle_of_attack_deg, b.angle_of_attack_deg),
        bank_deg: maybe(a.bank_deg, b.bank_deg),
        mach: maybe(a.mach, b.mach),
        dynamic_pressure_pa: mix(a.dynamic_pressure_pa, b.dynamic_pressure_pa),
        load_factor_g: maybe(a.load_factor_g, b.load_factor_g),
        reference_heating_w_m2: mix(a.reference_heating_w_m2, b.reference_heating_w_m2),
        flight_path_deg: maybe(a.flight_path_deg, b.flight_path_deg),
        ..*a
    })
}

/// The sample of highest reference heating.
pub fn hottest(flight: &Trajectory) -> Option<&Sample> {
    flight.samples.iter().max_by(|a, b| a.reference_heating_w_m2.total_cmp(&b.reference_heating_w_m2).then(b.time_s.total_cmp(&a.time_s)))
}

#[cfg(test)]
mod tests;
