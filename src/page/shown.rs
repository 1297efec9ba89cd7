//! Which value colours each tile at the moment shown, on which scale, and which tiles are short or hidden.

use super::model::{Shown, Tolerated};
use crate::assess::{Assessment, Prepared, points, surface};
use crate::document::Sorting as _;
use crate::report::ramp::{MARGIN_ENDS_K, Scale, ScaleKind};
use crate::report::words;
use crate::scenario::{Colour, Scenario};
use crate::shield::Shield;

/// Values that the ends of a temperature scale are rounded to.
const ROUND_K: f64 = 200.0;

/// What a frame looks at.
pub struct Looked<'a> {
    pub results: Option<&'a Assessment>,
    pub entry: usize,
    /// Estimates, by tile.
    pub dotted: Vec<bool>,
    /// Every tile's glue line and structure at the moment shown.
    pub depth_at: Option<[Vec<f64>; 2]>,
    pub dragging: bool,
    /// What each tile tolerates of the cavity that is asked of, as far as it is worked out.
    pub tolerated: Option<&'a Tolerated>,
}

/// The values for the present colour: at `view.time_s` of the entry, or at the peak of the flight.
///
/// `scale` is the one of the frame before; its ends are kept while something is dragged.
pub fn shown(shield: &Shield, scenario: &Scenario, prepared: &Prepared, looked: Looked, scale: &mut Scale) -> Shown {
    let Looked { results, entry, dotted, depth_at, dragging, tolerated } = looked;
    let view = &scenario.view;
    let moment = view.time_s.map(|time_s| surface::moment(prepared, entry, time_s));
    let tiles = shield.tiles.len();
    let result = |tile: usize| results.and_then(|results| results.tiles.get(tile));
    // Past the last row of the flight nothing is known of the face over all tiles; the structure is, to the end of its soak-back.
    let flown = prepared.flights.get(entry).and_then(|flight| flight.streams.last()).map_or(0.0, |stream| stream.time_s);
    let after = view.time_s.is_some_and(|time_s| time_s > flown + 0.5);
    let deep_k = |layer: usize, tile: usize| depth_at.as_ref().and_then(|layers| layers.get(layer)?.get(tile)).copied().unwrap_or(f64::NAN);
    let surface_k = |tile: usize| match &moment {
        Some(_) if after => f64::NAN,
        Some(moment) => moment.get(tile).map_or(f64::NAN, |moment| moment.surface_k),
        None => result(tile).map_or(f64::NAN, |result| result.surface.temperature_k),
    };
    let margin_k = |tile: usize| match &moment {
        // At a moment the margin is what is left at that moment, without the policy's terms.
        Some(_) => result(tile).map_or(f64::NAN, |result| {
            let left = |limit: Option<f64>, kelvin: f64| limit.map_or(f64::NAN, |limit| limit - kelvin);
            // The least of three; what is not known counts for nothing.
            left(result.limit_surface_k, surface_k(tile))
                .min(left(result.limit_bondline_k, deep_k(0, tile)))
                .min(left(result.limit_structure_k, deep_k(1, tile)))
        }),
        None => result(tile).and_then(|result| result.margin_k).unwrap_or(f64::NAN),
    };
    let tolerated_m = |which: usize, tile: usize| {
        let size = tolerated.and_then(|tolerated| Some(tolerated.of(tile)?[which]));
        size.and_then(|size| size.known_mm()).map_or(f64::NAN, |size_mm| size_mm / 1000.0)
    };
    let value = |tile: usize| match view.colour {
        Colour::ToleratedDepth => tolerated_m(0, tile),
        Colour::ToleratedLength => tolerated_m(1, tile),
        Colour::Margin => margin_k(tile),
        Colour::Surface => surface_k(tile),
        Colour::Bondline if moment.is_some() => deep_k(0, tile),
        Colour::Structure if moment.is_some() => deep_k(1, tile),
        Colour::Bondline => result(tile).and_then(|result| result.bondline).map_or(f64::NAN, |peak| peak.temperature_k),
        Colour::Structure => result(tile).and_then(|result| result.structure).map_or(f64::NAN, |peak| peak.temperature_k),
        Colour::Condition => result(tile).map_or(f64::NAN, |result| f64::from(result.condition as u8)),
        Colour::Regime => match &moment {
            Some(moment) => moment.get(tile).map_or(f64::NAN, |moment| f64::from(moment.regime as u8)),
            None => result(tile).map_or(f64::NAN, |result| f64::from(result.regime_at_peak as u8)),
        },
    };
    let values: Vec<f64> = (0..tiles).map(value).collect();
    let short: Vec<bool> = (0..tiles).map(|tile| margin_k(tile) < 0.0).collect();
    let sensitive = match (view.colour, &moment) {
        (Colour::Regime, Some(moment)) => moment.iter().map(|moment| moment.sensitive).collect(),
        (Colour::Regime, None) => (0..tiles).map(|tile| result(tile).is_some_and(|result| result.sensitive)).collect(),
        _ => Vec::new(),
    };
    let kind = match view.colour {
        Colour::Margin => ScaleKind::Margin,
        Colour::Surface | Colour::Bondline | Colour::Structure => ScaleKind::Temperature,
        Colour::Condition => ScaleKind::Condition,
        Colour::Regime => ScaleKind::Regime,
        Colour::ToleratedDepth | Colour::ToleratedLength => ScaleKind::Size,
    };
    if !dragging || scale.kind != kind || scale.low == scale.high {
        (scale.low, scale.high, scale.limits) = match kind {
            ScaleKind::Margin => (MARGIN_ENDS_K[0], MARGIN_ENDS_K[1], Vec::new()),
            ScaleKind::Temperature => temperature_ends(shield, results, view.colour),
            ScaleKind::Condition => (0.0, 8.0, Vec::new()),
            ScaleKind::Regime => (0.0, 2.0, Vec::new()),
            ScaleKind::Size => (0.0, largest_m(shield, view.colour), Vec::new()),
        };
    }
    (scale.kind, scale.banded, scale.units) = (kind, view.bands, view.units);
    let hidden = match view.brush {
        Some([low, high]) => values.iter().map(|value| !(*value >= low && *value <= high)).collect(),
        None => vec![false; tiles],
    };
    Shown {
        colour: view.colour,
        values,
        short,
        sensitive,
        least: tolerated.map_or(Vec::new(), |tolerated| (0..tiles).map(|tile| !tolerated.solved.contains_key(&tile)).collect()),
        hidden,
        border: points::border(shield, prepared),
        estimate: dotted.contains(&true),
        dotted,
        scale: scale.clone(),
    }
}

/// A round size that holds every tile's thickness or its largest side, the same whatever is tolerated.
fn largest_m(shield: &Shield, colour: Colour) -> f64 {
    let depth = colour == Colour::ToleratedDepth;
    let of = shield.tiles.iter().map(|tile| if depth { tile.thickness_m } else { tile.largest_side_m });
    (of.fold(0.01, f64::max) / 0.01 - 1e-6).ceil() * 0.01
}

/// Ends that hold every tile's peak and limit, the same at every moment of the flight, and the limits of the materials on show.
fn temperature_ends(shield: &Shield, results: Option<&Assessment>, colour: Colour) -> (f64, f64, Vec<(f64, String)>) {
    let mut limits: Vec<(f64, String)> = Vec::new();
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for result in results.map_or(&[][..], |results| &results.tiles) {
        let (peak, limit) = match colour {
            Colour::Bondline => (result.bondline.map(|peak| peak.temperature_k), result.limit_bondline_k),
            Colour::Structure => (result.structure.map(|peak| peak.temperature_k), result.limit_structure_k),
            _ => (Some(result.surface.temperature_k), result.limit_surface_k),
        };
        for value in peak.into_iter().chain(limit) {
            (low, high) = (low.min(value), high.max(value));
        }
        if let Some(limit) = limit.filter(|limit| !limits.iter().any(|(known, _)| (known - limit).abs() < 0.5)) {
            let owner = shield.library.find(&result.limiting_layer).and_then(|owner| shield.library.materials.get(owner));
            limits.push((limit, owner.map_or(result.limiting_layer.clone(), |owner| words::short_name(owner).to_string())));
        }
    }
    if low > high {
        return (300.0, 2000.0, limits);
    }
    limits.order_by(|a, b| a.0.total_cmp(&b.0));
    let low = (low / ROUND_K).floor() * ROUND_K;
    let high = ((high / ROUND_K).ceil() * ROUND_K).max(low + ROUND_K);
    (low, high, limits)
}
