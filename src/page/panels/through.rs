//! What goes through the picked tile: temperatures over the whole history, soak-back included, and the profile at one moment.
//!
//! Two plots share a time axis, since a face of 1,400 K would press a glue line's last kelvins flat. The moment is a slider on them.

use super::dom::{Kit, Made, add, add_all, put, round, text};
use crate::assess::TileResult;
use crate::assess::depth::History;
use crate::page::model::{Action, Model};
use crate::report::numbers::{Quantity, grouped, ticks, with_unit};
use crate::report::words;
use crate::scenario::UnitSystem;
use std::cell::Cell;
use std::rc::Rc;
use wasm_bindgen::JsCast;
use web_sys::{Element, KeyboardEvent, PointerEvent};

const WIDE: f64 = 294.0;
const LEFT: f64 = 34.0;
const RIGHT: f64 = 290.0;
/// Top and foot of the two plots over time, and of the profile.
const FACE: (f64, f64) = (8.0, 62.0);
const BELOW: (f64, f64) = (74.0, 142.0);
const PROFILE: (f64, f64) = (8.0, 62.0);
/// Depths in the tile that have a curve of their own, as shares of its thickness.
const SHARES: [f64; 3] = [0.25, 0.5, 0.75];
/// A key moves the moment by so many of these.
const STEPS: f64 = 100.0;

/// A plot's own way from values to pixels.
struct Frame {
    x: (f64, f64),
    y: (f64, f64),
    rows: (f64, f64),
}

impl Frame {
    fn x(&self, value: f64) -> f64 {
        LEFT + (RIGHT - LEFT) * (value - self.x.0) / (self.x.1 - self.x.0).max(1e-9)
    }

    fn y(&self, value: f64) -> f64 {
        self.rows.1 - (self.rows.1 - self.rows.0) * (value - self.y.0) / (self.y.1 - self.y.0).max(1e-9)
    }

    fn curve(&self, kit: &Kit, class: &str, at: &[f64], values: &[f64]) -> Made {
        // At most two points a pixel.
        let step = (at.len() / 500).max(1);
        let mut d = String::new();
        for (index, (at, value)) in at.iter().zip(values).enumerate() {
            if value.is_finite() && (index % step == 0 || index + 1 == values.len()) {
                d.push_str(if d.is_empty() { "M" } else { "L" });
                d.push_str(&format!("{} {}", round(self.x(*at)), round(self.y(*value))));
            }
        }
        kit.path(class, &d)
    }

    /// The axis of temperatures: two or three round values at the left.
    fn scale(&self, kit: &Kit, svg: &Element, units: UnitSystem) -> Made<()> {
        let kind = Quantity::Temperature;
        let room = ((self.rows.1 - self.rows.0) / 24.0) as usize;
        for value in ticks(kind.shown(self.y.0, units), kind.shown(self.y.1, units), room.max(2)) {
            let y = self.y(kind.si(value, units));
            if y >= self.rows.0 - 1.0 && y <= self.rows.1 + 1.0 {
                add(svg, &kit.path("gr", &format!("M{LEFT} {}H{RIGHT}", round(y)))?)?;
                add(svg, &kit.label("en q", LEFT - 4.0, y + 3.5, &grouped(value, 0))?)?;
            }
        }
        Ok(())
    }
}

fn ends(values: impl Iterator<Item = f64>) -> (f64, f64) {
    let (low, high) = values.filter(|value| value.is_finite()).fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| (a.min(v), b.max(v)));
    if low > high { (0.0, 1.0) } else { (low, high.max(low + 1.0)) }
}

/// The moment that the profile shows: the one chosen, else the peak that governs.
pub fn moment_s(model: &Model, result: &TileResult, history: &History) -> f64 {
    let (first, last) = span(history);
    model.time_s.unwrap_or(words::governing_peak(result).time_s).clamp(first, last)
}

fn span(history: &History) -> (f64, f64) {
    (history.times_s.first().copied().unwrap_or(0.0), history.times_s.last().copied().unwrap_or(0.0))
}

/// The plots, into the card.
pub fn draw(kit: &Kit, place: &Element, model: &Model, result: &TileResult, history: &History) -> Made<()> {
    let units = model.units;
    let (first, last) = span(history);
    let now_s = moment_s(model, result, history);
    let svg = kit.svg("svg", &[("class", "thr"), ("viewBox", "0 0 294 181"), ("id", "history")])?;
    let thickness_m = result.effective.thickness_m;
    let face = history.face_k();
    let inner: Vec<Vec<f64>> = SHARES.iter().map(|share| history.at_depth_k(share * thickness_m)).collect();
    let top = Frame { x: (first, last), y: ends(face.iter().copied()), rows: FACE };
    top.scale(kit, &svg, units)?;
    for values in &inner {
        add(&svg, &top.curve(kit, "in", &history.times_s, values)?)?;
    }
    add(&svg, &top.curve(kit, "fa", &history.times_s, &face)?)?;
    let (bond, structure) = (history.bondline_k(), history.structure_k());
    let limits = [result.limit_bondline_k, result.limit_structure_k];
    let below =
        Frame { x: (first, last), y: ends(bond.iter().chain(&structure).copied().chain(limits.into_iter().flatten())), rows: BELOW };
    below.scale(kit, &svg, units)?;
    let distinct = !matches!(limits, [Some(a), Some(b)] if (a - b).abs() < 1.0);
    // The higher limit's word stands over its line, the lower one's under it.
    let highest = limits.into_iter().flatten().fold(f64::NEG_INFINITY, f64::max);
    for (limit, word) in limits.into_iter().zip(["limit, glue line", "limit, structure"]).filter_map(|(limit, word)| Some((limit?, word))) {
        let y = below.y(limit);
        add(&svg, &kit.path("li", &format!("M{LEFT} {}H{RIGHT}", round(y)))?)?;
        if distinct || word.ends_with("line") {
            let at = if limit == highest { y - 3.0 } else { y + 11.0 };
            add(&svg, &kit.label("st li", LEFT + 2.0, at, if distinct { word } else { "limit of both" })?)?;
        }
    }
    add(&svg, &below.curve(kit, "gl", &history.times_s, &bond)?)?;
    add(&svg, &below.curve(kit, "fa", &history.times_s, &structure)?)?;
    // The face is named at its peak, the two below where they rise: there they stand apart.
    let risen = |values: &[f64], share: f64| {
        let (low, high) = ends(values.iter().copied());
        values.iter().position(|value| *value >= low + share * (high - low))
    };
    let highest = face.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1)).map(|(at, _)| at);
    for (frame, values, at, word, class, aside) in [
        (&top, &face, highest, "face", "st on", (6.0, 9.0)),
        (&below, &bond, risen(&bond, 0.85), "glue line", "en on", (-6.0, 0.0)),
        (&below, &structure, risen(&structure, 0.35), "structure", "st on", (6.0, 8.0)),
    ] {
        if let Some((time, value)) = at.and_then(|at| Some((history.times_s.get(at)?, values.get(at)?))) {
            add(&svg, &kit.label(class, frame.x(*time) + aside.0, frame.y(*value) + aside.1, word)?)?;
        }
    }
    axes(kit, &svg, &top, history, units)?;
    let said = said(history, model, result, now_s, units);
    let slider =
        kit.svg("g", &[("id", "through"), ("role", "slider"), ("tabindex", "0"), ("aria-label", "Moment of the whole history")])?;
    put(&slider, &[("aria-valuemin", &round(first)), ("aria-valuemax", &round(last)), ("aria-valuenow", &round(now_s))])?;
    put(&slider, &[("aria-valuetext", &said)])?;
    add(&slider, &kit.rect("hit", LEFT, 0.0, RIGHT - LEFT, BELOW.1)?)?;
    let x = round(top.x(now_s));
    add(&slider, &kit.path("n1", &format!("M{x} {}V{}", FACE.0 - 4.0, BELOW.1))?)?;
    add(&slider, &kit.path("nowh", &format!("M{} 0h8v5l-4 4-4-4z", round(top.x(now_s) - 4.0)))?)?;
    add(&svg, &slider)?;
    add(place, &svg)?;
    profile(kit, place, model, result, history, now_s)
}

/// What stands at the moment, in words.
fn said(history: &History, model: &Model, result: &TileResult, now_s: f64, units: UnitSystem) -> String {
    let profile = history.profile_k(now_s);
    let at = |node: usize| Quantity::Temperature.text(profile.get(node).copied().unwrap_or(f64::NAN), units);
    let _ = (model, result);
    format!(
        "{} from entry interface, {} from touchdown: face {}, glue line {}, structure {}",
        Quantity::Time.text(now_s, units),
        with_unit(&grouped(now_s - history.touchdown_s, 0), "s"),
        at(0),
        at(history.bondline_node),
        at(history.structure_node)
    )
}

/// Times from entry interface, and under them from touchdown, which is a line of its own.
fn axes(kit: &Kit, svg: &Element, frame: &Frame, history: &History, units: UnitSystem) -> Made<()> {
    let (first, last) = frame.x;
    let touchdown = history.touchdown_s;
    let down = round(frame.x(touchdown));
    add(svg, &kit.path("ev", &format!("M{down} {}V{}", FACE.0, BELOW.1))?)?;
    for (row, zero) in [(153.0, 0.0), (165.0, touchdown)] {
        for value in ticks(first - zero, last - zero, 4) {
            let x = frame.x(value + zero);
            let sign = if zero != 0.0 && value > 0.0 { "+" } else { "" };
            if x > LEFT - 2.0 && x < RIGHT - 8.0 {
                add(svg, &kit.label("q", x, row, &format!("{sign}{}", grouped(value, 0)))?)?;
            }
        }
    }
    let unit = Quantity::Time.unit(units);
    add(svg, &kit.label("en q", RIGHT + 2.0, 177.0, &format!("{unit} from entry interface, below from touchdown"))?)
}

/// The temperature through tile and stack at the moment.
fn profile(kit: &Kit, place: &Element, model: &Model, result: &TileResult, history: &History, now_s: f64) -> Made<()> {
    let units = model.units;
    let values = history.profile_k(now_s);
    let deepest = history.depths_m.last().copied().unwrap_or(0.0);
    let frame = Frame { x: (0.0, deepest), y: ends(values.iter().copied()), rows: PROFILE };
    let heading = kit.html("p", "thp")?;
    text(&heading, &format!("Through the thickness at {}", Quantity::Time.text(now_s, units)))?;
    let svg = kit.svg("svg", &[("class", "thr"), ("viewBox", "0 0 294 92"), ("id", "profile"), ("role", "img")])?;
    let at = |node: usize| Quantity::Temperature.text(values.get(node).copied().unwrap_or(f64::NAN), units);
    let label = format!("Face {}, glue line {}, structure {}", at(0), at(history.bondline_node), at(history.structure_node));
    svg.set_attribute("aria-label", &label)?;
    // The layers as grounds, every second one.
    let mut edges = vec![0.0, result.effective.thickness_m];
    let stack = result.effective.stack.and_then(|stack| model.shield.stacks.get(stack));
    for layer in stack.map_or(&[][..], |stack| &stack.layers) {
        edges.push(edges.last().copied().unwrap_or(0.0) + layer.thickness_m);
    }
    for pair in edges.windows(2).skip(1).step_by(2) {
        if let [from, to] = pair {
            add(&svg, &kit.rect("lay", frame.x(*from), PROFILE.0, frame.x(*to) - frame.x(*from), PROFILE.1 - PROFILE.0)?)?;
        }
    }
    frame.scale(kit, &svg, units)?;
    add(&svg, &frame.curve(kit, "fa", &history.depths_m, &values)?)?;
    for node in [history.bondline_node, history.structure_node] {
        if let (Some(depth), Some(value)) = (history.depths_m.get(node), values.get(node)) {
            add(
                &svg,
                &kit.svg("circle", &[("class", "nd"), ("r", "2.5"), ("cx", &round(frame.x(*depth))), ("cy", &round(frame.y(*value)))])?,
            )?;
        }
    }
    let kind = Quantity::Thickness;
    for value in ticks(0.0, kind.shown(deepest, units), 5) {
        let decimals = if kind.shown(deepest, units) < 5.0 { 1 } else { 0 };
        add(&svg, &kit.label("q", frame.x(kind.si(value, units)), 74.0, &grouped(value, decimals))?)?;
    }
    add(&svg, &kit.label("en q", RIGHT + 2.0, 87.0, &format!("{} from the face", kind.unit(units)))?)?;
    add_all(place, &[&heading, &svg])
}

/// Pointer and keys on the moment; the listeners are on the card, which outlives its plots.
pub fn listen(kit: &Kit, place: &Element) {
    let held = Rc::new(Cell::new(false));
    let at = |kit: &Kit, event: &PointerEvent| {
        let model = kit.model()?;
        let history = model.card.as_ref()?.history.clone()?;
        let svg = kit.document.get_element_by_id("history")?;
        let frame = svg.get_bounding_client_rect();
        let x = (f64::from(event.client_x()) - frame.left()) / frame.width().max(1.0) * WIDE;
        let (first, last) = span(&history);
        Some(first + (last - first) * ((x - LEFT) / (RIGHT - LEFT)).clamp(0.0, 1.0))
    };
    for name in ["pointerdown", "pointermove", "pointerup", "pointercancel"] {
        let (own, held, place_held) = (kit.clone(), held.clone(), place.clone());
        kit.on(place, name, move |event| {
            let Some(event) = event.dyn_ref::<PointerEvent>() else { return };
            match name {
                "pointerdown" => {
                    let on = event.target().and_then(|target| target.dyn_into::<Element>().ok());
                    if on.and_then(|element| element.closest("#through").ok().flatten()).is_none() {
                        return;
                    }
                    held.set(true);
                    let _ = place_held.set_pointer_capture(event.pointer_id());
                }
                "pointermove" if held.get() => {}
                "pointerup" | "pointercancel" => return held.set(false),
                _ => return,
            }
            if let Some(time_s) = at(&own, event) {
                own.send(Action::Time(Some(time_s.round())));
            }
        });
    }
    let own = kit.clone();
    kit.on(place, "keydown", move |event| {
        let Some(key) = event.dyn_ref::<KeyboardEvent>() else { return };
        let on = event.target().and_then(|target| target.dyn_into::<Element>().ok()).is_some_and(|element| element.id() == "through");
        let Some(model) = own.model().filter(|_| on) else { return };
        let Some(history) = model.card.as_ref().and_then(|card| card.history.clone()) else { return };
        let Some(result) = model.picked.and_then(|tile| model.results.as_ref()?.tiles.get(tile).cloned()) else { return };
        let (first, last) = span(&history);
        let step = ((last - first) / STEPS).max(1.0);
        let now = moment_s(&model, &result, &history);
        let next = match key.key().as_str() {
            "ArrowRight" | "ArrowUp" => now + step,
            "ArrowLeft" | "ArrowDown" => now - step,
            "PageUp" => now + 10.0 * step,
            "PageDown" => now - 10.0 * step,
            "Home" => first,
            "End" => last,
            _ => return,
        };
        event.prevent_default();
        own.send(Action::Time(Some(next.clamp(first, last).round())));
    });
}
