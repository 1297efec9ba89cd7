//! One input: its words, a field for its number, and a slider whose track is the smallest margin over its range.

use super::dom::{Kit, Made, Memo, add, add_all, clear, put, round, style};
use crate::page::model::{Action, Model, Track};
use crate::report::axis::Axis;
use crate::report::inputs::{self, Input, Subject, Value};
use crate::report::numbers::{self, Quantity, grouped, round_step, with_unit};
use crate::report::words;
use crate::scenario::{Scenario, UnitSystem};
use std::cell::RefCell;
use std::rc::Rc;
use wasm_bindgen::JsCast;
use web_sys::{Element, HtmlElement, HtmlInputElement, HtmlSelectElement, KeyboardEvent, PointerEvent};

/// The track's drawing: width and the height of the limit's line; ±60 K over ±11 px, the same for every slider.
const WIDE: f64 = 236.0;
const LINE: f64 = 11.0;
const KELVIN: f64 = 60.0;

pub fn subject(model: &Model) -> Subject<'_> {
    Subject { shield: &model.shield, scenario: &model.scenario, entry: model.entry, picked: model.picked }
}

/// What a drag began from, so that a value dragged there and back leaves no trace.
#[derive(Default)]
struct Grip {
    from: Option<Rc<Scenario>>,
}

/// A track's values, its margins and the units it was drawn in.
type Drawn = (Vec<f64>, Vec<f64>, UnitSystem);

pub struct Slider {
    pub root: Element,
    id: String,
    label: Element,
    field: Option<HtmlInputElement>,
    choice: Option<HtmlSelectElement>,
    unit: Element,
    svg: Option<Element>,
    curve: Option<Element>,
    thumb: Option<Element>,
    range: Element,
    holds: Element,
    seen: Memo<(Input, UnitSystem)>,
    seen_track: Memo<Option<Drawn>>,
}

impl Slider {
    pub fn new(kit: &Kit, input: &Input) -> Made<Self> {
        let root = kit.html("div", "in")?;
        root.set_attribute("data-input", &input.id)?;
        let top = kit.html("div", "l")?;
        let label = kit.html("span", "name")?;
        let unit = kit.html("i", "")?;
        let value = kit.html("span", "v")?;
        add(&top, &label)?;
        let foot = kit.html("div", "f")?;
        let (range, holds) = (kit.html("span", "")?, kit.html("span", "")?);
        add_all(&foot, &[&range, &holds])?;
        let mut made = Self {
            root: root.clone(),
            id: input.id.clone(),
            label,
            field: None,
            choice: None,
            unit,
            svg: None,
            curve: None,
            thumb: None,
            range,
            holds,
            seen: Memo::default(),
            seen_track: Memo::default(),
        };
        match &input.value {
            Value::Choice { options, .. } => {
                let select = kit.html("select", "")?;
                put(&select, &[("aria-label", &input.label)])?;
                for (index, option) in options.iter().enumerate() {
                    let element = kit.said("option", "", option)?;
                    element.set_attribute("value", &index.to_string())?;
                    add(&select, &element)?;
                }
                add(&value, &select)?;
                add(&top, &value)?;
                add_all(&root, &[&top, &foot])?;
                made.choice = select.dyn_into().ok();
                made.listen_choice(kit);
            }
            Value::Number(_) => {
                let field = kit.html("input", "num")?;
                put(
                    &field,
                    &[("type", "text"), ("inputmode", "decimal"), ("autocomplete", "off"), ("spellcheck", "false"), ("size", "7")],
                )?;
                add_all(&value, &[&field, &made.unit])?;
                add(&top, &value)?;
                let svg = kit.svg(
                    "svg",
                    &[
                        ("class", "track"),
                        ("role", "slider"),
                        ("tabindex", "0"),
                        ("viewBox", "-6 -3 248 28"),
                        ("preserveAspectRatio", "none"),
                    ],
                )?;
                let curve = kit.svg("g", &[])?;
                let thumb = kit.svg("g", &[])?;
                let tile =
                    kit.svg("rect", &[("class", "tb"), ("x", "-4.5"), ("y", "4"), ("width", "9"), ("height", "14"), ("rx", "1.5")])?;
                add_all(&thumb, &[&kit.path("th", "M0-2v26")?, &tile])?;
                add_all(&svg, &[&curve, &kit.path("ax", "M0 11H236")?, &thumb])?;
                add_all(&root, &[&top, &svg, &foot])?;
                made.field = field.dyn_into().ok();
                (made.svg, made.curve, made.thumb) = (Some(svg), Some(curve), Some(thumb));
                made.listen_number(kit);
            }
        }
        Ok(made)
    }

    fn listen_choice(&self, kit: &Kit) {
        let Some(select) = &self.choice else { return };
        let (own, id) = (kit.clone(), self.id.clone());
        kit.on(select, "change", move |event| {
            let Some(select) = event.target().and_then(|t| t.dyn_into::<HtmlSelectElement>().ok()) else { return };
            let Some(model) = own.model() else { return };
            if let Some(scenario) = inputs::choose(subject(&model), &id, select.selected_index().max(0) as usize) {
                own.send(Action::Change { scenario: Box::new(scenario), done: true });
            }
        });
    }

    fn listen_number(&self, kit: &Kit) {
        let (Some(field), Some(svg)) = (&self.field, &self.svg) else { return };
        let (own, id) = (kit.clone(), self.id.clone());
        kit.on(field, "change", move |event| typed(&own, &id, event));
        let (own, id) = (kit.clone(), self.id.clone());
        kit.on(field, "keydown", move |event| {
            let Some(key) = event.dyn_ref::<KeyboardEvent>() else { return };
            match key.key().as_str() {
                "Enter" => typed(&own, &id, event),
                "ArrowUp" => nudge(&own, &id, 1.0, event),
                "ArrowDown" => nudge(&own, &id, -1.0, event),
                _ => {}
            }
        });
        let (own, id) = (kit.clone(), self.id.clone());
        kit.on(svg, "keydown", move |event| {
            let Some(key) = event.dyn_ref::<KeyboardEvent>() else { return };
            match key.key().as_str() {
                "ArrowRight" | "ArrowUp" => nudge(&own, &id, 1.0, event),
                "ArrowLeft" | "ArrowDown" => nudge(&own, &id, -1.0, event),
                "PageUp" => nudge(&own, &id, 10.0, event),
                "PageDown" => nudge(&own, &id, -10.0, event),
                "Home" => nudge(&own, &id, f64::NEG_INFINITY, event),
                "End" => nudge(&own, &id, f64::INFINITY, event),
                _ => {}
            }
        });
        let grip: Rc<RefCell<Grip>> = Rc::default();
        let (own, id, held, target) = (kit.clone(), self.id.clone(), grip.clone(), svg.clone());
        kit.on(svg, "pointerdown", move |event| {
            let (Some(pointer), Some(model)) = (event.dyn_ref::<PointerEvent>(), own.model()) else { return };
            if pointer.button() != 0 {
                return;
            }
            let _ = target.set_pointer_capture(pointer.pointer_id());
            held.borrow_mut().from = Some(model.scenario.clone());
            drag(&own, &id, &held, &target, pointer, false);
        });
        let (own, id, held, target) = (kit.clone(), self.id.clone(), grip.clone(), svg.clone());
        kit.on(svg, "pointermove", move |event| {
            if let Some(pointer) = event.dyn_ref::<PointerEvent>() {
                drag(&own, &id, &held, &target, pointer, false);
            }
        });
        let (own, id, held, target) = (kit.clone(), self.id.clone(), grip.clone(), svg.clone());
        kit.on(svg, "pointerup", move |event| {
            if let Some(pointer) = event.dyn_ref::<PointerEvent>() {
                drag(&own, &id, &held, &target, pointer, true);
            }
            held.borrow_mut().from = None;
        });
        let held = grip;
        let own = kit.clone();
        kit.on(svg, "pointercancel", move |_| {
            if let Some(from) = held.borrow_mut().from.take() {
                own.send(Action::Change { scenario: Box::new((*from).clone()), done: true });
            }
        });
    }

    pub fn id(&self) -> &str {
        &self.id
    }

    pub fn render(&mut self, kit: &Kit, input: &Input, track: Option<&Track>, units: UnitSystem) -> Made<()> {
        if self.seen.changed((input.clone(), units)) {
            self.label.set_text_content(Some(&input.label));
            match &input.value {
                Value::Choice { chosen, .. } => {
                    if let Some(select) = &self.choice {
                        select.set_selected_index(*chosen as i32);
                    }
                    self.range.set_text_content(Some(&input.source));
                }
                Value::Number(value) => self.number(kit, input, *value, units)?,
            }
            self.root.class_list().toggle_with_force("waiting", !input.live)?;
            self.seen_track.forget();
        }
        self.track(kit, input, track, units)
    }

    fn number(&self, kit: &Kit, input: &Input, value: Option<f64>, units: UnitSystem) -> Made<()> {
        let quantity = input.quantity;
        let (low, high, decimals) = ends(input, units);
        let unit = quantity.unit(units);
        self.unit
            .set_text_content(Some(if unit == "°" || unit.is_empty() { unit.to_string() } else { format!("\u{202f}{unit}") }.as_str()));
        let text = value.map_or(String::new(), |value| written(quantity.shown(value, units), decimals));
        if let Some(field) = &self.field {
            // As wide as its number, so that the name beside it has the room.
            style(field, "width", &format!("{}ch", text.chars().count().clamp(3, 10) + 1));
            // What is being typed is never overwritten.
            let typing = kit.document.active_element().is_some_and(|active| field.is_same_node(Some(&active)));
            if !typing || numbers::parse(&field.value()).is_none_or(|now| written(now, decimals) != text) {
                field.set_value(&text);
            }
            let name = if unit.is_empty() { input.label.clone() } else { format!("{}, {unit}", input.label) };
            put(field, &[("aria-label", &name), ("placeholder", if value.is_none() { "—" } else { "" }), ("title", &input.note)])?;
        }
        if let (Some(svg), Some(thumb)) = (&self.svg, &self.thumb) {
            let axis = axis(low, high);
            match value {
                Some(value) => {
                    let shown = quantity.shown(value, units);
                    put(thumb, &[("transform", &format!("translate({},0)", round(axis.x(shown)))), ("class", "")])?;
                    put(svg, &[("aria-valuenow", &format!("{shown:.decimals$}"))])?;
                }
                None => {
                    put(thumb, &[("class", "none")])?;
                    svg.remove_attribute("aria-valuenow")?;
                }
            }
            put(
                svg,
                &[
                    ("aria-label", &input.label),
                    ("aria-valuemin", &format!("{low:.decimals$}")),
                    ("aria-valuemax", &format!("{high:.decimals$}")),
                ],
            )?;
        }
        let (from, to) = (trimmed(low, decimals), with_unit(&trimmed(high, decimals), unit));
        let note = if value.is_none() { format!(" · {}", input.note) } else { String::new() };
        let said = format!("{from} to {to} · {}{note}", input.source);
        self.range.set_text_content(Some(&said));
        self.range.set_attribute("title", &said)
    }

    /// The track: a plain line until the app has swept the input at this revision.
    fn track(&mut self, kit: &Kit, input: &Input, track: Option<&Track>, units: UnitSystem) -> Made<()> {
        let (Some(svg), Some(curve)) = (&self.svg, &self.curve) else { return Ok(()) };
        let key = track.map(|track| (track.at.clone(), track.margin_k.clone(), units));
        if !self.seen_track.changed(key) {
            return Ok(());
        }
        clear(curve);
        let Value::Number(value) = &input.value else { return Ok(()) };
        let shown = value.map_or("—".to_string(), |value| input.quantity.text(value, units));
        let track = track.filter(|track| track.at.len() > 1 && track.at.len() == track.margin_k.len() && input.live);
        let Some(track) = track else {
            self.holds.set_text_content(Some(if input.live { "" } else { input.note.as_str() }));
            return svg.set_attribute("aria-valuetext", &shown);
        };
        let (low, high, _) = ends(input, units);
        let axis = axis(low, high);
        let points: Vec<(f64, f64)> = track
            .at
            .iter()
            .zip(&track.margin_k)
            .filter(|(_, margin)| margin.is_finite())
            .map(|(at, margin)| (axis.x(input.quantity.shown(*at, units)), LINE - LINE * (margin / KELVIN).clamp(-1.0, 1.0)))
            .collect();
        for (class, spare) in [("pos", true), ("neg", false)] {
            add(curve, &kit.path(class, &area(&points, spare))?)?;
        }
        let line: Vec<String> = points.iter().map(|(x, y)| format!("{} {}", round(*x), round(*y))).collect();
        add(curve, &kit.path("cv", &format!("M{}", line.join("L")))?)?;
        for crossing in words::crossings(&track.at, &track.margin_k) {
            add(curve, &kit.path("xz", &format!("M{} 7v8", round(axis.x(input.quantity.shown(crossing, units)))))?)?;
        }
        let said =
            words::holds(&track.at, &track.margin_k).map_or(String::new(), |holds| words::holds_words(&holds, input.quantity, units));
        self.holds.set_text_content(Some(&said));
        let now = value.map_or(f64::NAN, |value| at(track, value));
        let margin = if now.is_finite() { format!("; smallest margin {}", Quantity::Difference.signed(now, units)) } else { String::new() };
        svg.set_attribute("aria-valuetext", &format!("{shown}{margin}; {said}"))
    }
}

/// The filled side of a track, between its curve and the limit's line.
fn area(points: &[(f64, f64)], spare: bool) -> String {
    let (Some(first), Some(last)) = (points.first(), points.last()) else { return String::new() };
    let mut d = format!("M{} {LINE}", round(first.0));
    for (index, (x, y)) in points.iter().enumerate() {
        let before = index.checked_sub(1).and_then(|before| points.get(before));
        if let Some((px, py)) = before.filter(|(_, py)| (py - LINE) * (y - LINE) < 0.0) {
            d.push_str(&format!("L{} {LINE}", round(px + (x - px) * (py - LINE) / (py - y))));
        }
        let y = if spare { y.min(LINE) } else { y.max(LINE) };
        d.push_str(&format!("L{} {}", round(*x), round(y)));
    }
    d.push_str(&format!("L{} {LINE}z", round(last.0)));
    d
}

/// A track's margin at a value, linear between its points.
fn at(track: &Track, value: f64) -> f64 {
    let next = track.at.partition_point(|at| *at < value);
    let (i, j) = (next.saturating_sub(1), next.min(track.at.len().saturating_sub(1)));
    let (Some(a), Some(b), Some(x), Some(y)) = (track.at.get(i), track.at.get(j), track.margin_k.get(i), track.margin_k.get(j)) else {
        return f64::NAN;
    };
    if b > a { x + (y - x) * (value - a) / (b - a) } else { *x }
}

fn axis(low: f64, high: f64) -> Axis {
    Axis { low, high, left: 0.0, right: WIDE, gap: 0.0 }
}

/// The ends in shown units and the decimals that the step needs.
fn ends(input: &Input, units: UnitSystem) -> (f64, f64, usize) {
    let (low, high) = (input.quantity.shown(input.low, units), input.quantity.shown(input.high, units));
    let (_, decimals) = round_step(low, high);
    (low, high, decimals.min(3))
}

/// A value as its field shows it.
fn written(value: f64, decimals: usize) -> String {
    grouped(value, numbers::decimals_for(value, decimals))
}

/// An end of a range without idle zeros.
fn trimmed(value: f64, decimals: usize) -> String {
    let text = grouped(value, decimals);
    match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.').to_string(),
        false => text,
    }
}

fn present(model: &Model, id: &str) -> Option<Input> {
    inputs::inputs(subject(model)).into_iter().find(|input| input.id == id)
}

/// A number typed in the shown unit; what is not one is put back.
fn typed(kit: &Kit, id: &str, event: &web_sys::Event) {
    let (Some(field), Some(model)) = (event.target().and_then(|t| t.dyn_into::<HtmlInputElement>().ok()), kit.model()) else { return };
    let Some(input) = present(&model, id) else { return };
    let (_, _, decimals) = ends(&input, model.units);
    let Value::Number(now) = input.value else { return };
    let before = now.map_or(String::new(), |value| written(input.quantity.shown(value, model.units), decimals));
    match numbers::parse(&field.value()) {
        Some(shown) if written(shown, decimals) != before || field.value() != before => {
            if Some(shown) == numbers::parse(&before) {
                field.set_value(&before);
                return;
            }
            match inputs::with(subject(&model), id, input.quantity.si(shown, model.units)) {
                Some(scenario) => kit.send(Action::Change { scenario: Box::new(scenario), done: true }),
                None => refuse(&field, &input, &before, model.units),
            }
        }
        Some(_) => {}
        None => refuse(&field, &input, &before, model.units),
    }
}

/// What cannot be taken is said in place, with what was written and what is accepted; the value stays.
fn refuse(field: &HtmlInputElement, input: &Input, before: &str, units: UnitSystem) {
    let (low, high) = inputs::bounds(&input.id);
    let shown = |si: f64| trimmed(input.quantity.shown(si, units), 3);
    let unit = input.quantity.unit(units);
    let said = format!("“{}” is not taken: {} to {}", field.value().trim(), shown(low), with_unit(&shown(high), unit));
    field.set_value(before);
    let place = field.closest(".in").ok().flatten().and_then(|root| root.query_selector(".f > span + span").ok().flatten());
    if let Some(place) = place {
        let _ = place.set_attribute("role", "alert");
        place.set_text_content(Some(&said));
    }
}

/// Moves by whole steps, or to an end.
fn nudge(kit: &Kit, id: &str, steps: f64, event: &web_sys::Event) {
    event.prevent_default();
    let Some(model) = kit.model() else { return };
    let Some(input) = present(&model, id) else { return };
    let Value::Number(now) = input.value else { return };
    let (low, high, _) = ends(&input, model.units);
    let (step, _) = round_step(low, high);
    let shown = now.map_or(0.5 * (low + high), |value| input.quantity.shown(value, model.units));
    let to = if steps.is_finite() {
        ((shown / step).round() + steps) * step
    } else if steps > 0.0 {
        high
    } else {
        low
    };
    if let Some(scenario) = inputs::with(subject(&model), id, input.quantity.si(to.clamp(low, high), model.units)) {
        kit.send(Action::Change { scenario: Box::new(scenario), done: true });
    }
}

/// A pointer on the track. The value is taken from the scenario that the drag began with.
fn drag(kit: &Kit, id: &str, held: &Rc<RefCell<Grip>>, svg: &Element, pointer: &PointerEvent, done: bool) {
    let Some(from) = held.borrow().from.clone() else { return };
    let Some(mut model) = kit.model() else { return };
    model.scenario = from;
    let Some(input) = present(&model, id) else { return };
    let (low, high, _) = ends(&input, model.units);
    let frame = svg.get_bounding_client_rect();
    let x = (f64::from(pointer.client_x()) - frame.left()) / frame.width().max(1.0) * 248.0 - 6.0;
    let (step, _) = round_step(low, high);
    let shown = ((axis(low, high).value(x) / step).round() * step).clamp(low, high);
    if let Some(scenario) = inputs::with(subject(&model), id, input.quantity.si(shown, model.units)) {
        kit.send(Action::Change { scenario: Box::new(scenario), done });
    }
    if let Some(element) = svg.dyn_ref::<HtmlElement>() {
        let _ = element.focus();
    } else if let Some(element) = svg.dyn_ref::<web_sys::SvgElement>() {
        let _ = element.focus();
    }
}
