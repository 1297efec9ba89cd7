//! The bank and attack plans on the ribbon: points that a pointer drags and keys move, each dispatching the edited plan.

use super::dom::{Kit, Made, add, add_all, carrying, clear, put, round};
use crate::document::{Curve, Table};
use crate::flight::Trajectory;
use crate::page::model::{Action, Model};
use crate::report::axis::Axis;
use crate::report::course::{self, Plan};
use crate::report::numbers::{Quantity, grouped};
use crate::scenario::{Scenario, UnitSystem};
use std::cell::RefCell;
use std::rc::Rc;
use wasm_bindgen::JsCast;
use web_sys::{Element, HtmlElement, KeyboardEvent, MouseEvent, PointerEvent, SvgElement};

/// Pixels of the plans' field.
const TOP: f64 = 106.0;
const FOOT: f64 = 142.0;

/// A point: its plan and its place in the plan's table; a constant has one point, 0.
type Point = (Plan, usize);

/// What is held: a point, or a reversal of the bank as a whole, by the index of the point before it.
#[derive(Clone, Copy, PartialEq)]
enum Grip {
    Point(Point),
    Reversal(usize),
}

#[derive(Default)]
struct State {
    axis: Option<Axis>,
    /// What is held, and the scenario that the drag began with.
    held: Option<(Grip, Rc<Scenario>)>,
}

pub struct Plans {
    pub root: Element,
    drawn: Element,
    state: Rc<RefCell<State>>,
    seen: Option<(Rc<Scenario>, usize, UnitSystem)>,
}

impl Plans {
    pub fn new(kit: &Kit) -> Made<Self> {
        let root = kit.svg("g", &[("class", "plans")])?;
        let field = kit.rect("field", 0.0, TOP - 1.0, 10.0, FOOT - TOP + 2.0)?;
        field.set_attribute("width", "100%")?;
        let drawn = kit.svg("g", &[])?;
        add_all(&root, &[&field, &drawn])?;
        let made = Self { root, drawn, state: Rc::default(), seen: None };
        made.listen(kit);
        Ok(made)
    }

    fn listen(&self, kit: &Kit) {
        let (own, state, root) = (kit.clone(), self.state.clone(), self.root.clone());
        kit.on(&self.root, "pointerdown", move |event| {
            let (Some(pointer), Some(model)) = (event.dyn_ref::<PointerEvent>(), own.model()) else { return };
            if let Some(grip) = nearest(&root, pointer).filter(|_| pointer.button() == 0) {
                event.prevent_default();
                let _ = root.set_pointer_capture(pointer.pointer_id());
                state.borrow_mut().held = Some((grip, model.scenario.clone()));
                focus(&root, grip);
            }
        });
        let (own, state, root) = (kit.clone(), self.state.clone(), self.root.clone());
        kit.on(&self.root, "pointermove", move |event| {
            if let Some(pointer) = event.dyn_ref::<PointerEvent>() {
                drag(&own, &state, &root, pointer, false);
            }
        });
        let (own, state, root) = (kit.clone(), self.state.clone(), self.root.clone());
        kit.on(&self.root, "pointerup", move |event| {
            if let Some(pointer) = event.dyn_ref::<PointerEvent>() {
                drag(&own, &state, &root, pointer, true);
            }
            state.borrow_mut().held = None;
        });
        let (own, state) = (kit.clone(), self.state.clone());
        kit.on(&self.root, "pointercancel", move |_| {
            if let Some((_, from)) = state.borrow_mut().held.take() {
                own.send(Action::Change { scenario: Box::new((*from).clone()), done: true });
            }
        });
        // A double click adds a point to the nearer plan.
        let (own, state, root) = (kit.clone(), self.state.clone(), self.root.clone());
        kit.on(&self.root, "dblclick", move |event| {
            let (Some(mouse), Some(model), Some(axis)) = (event.dyn_ref::<MouseEvent>(), own.model(), state.borrow().axis) else { return };
            let (x, y) = place(&root, mouse);
            let Some(flight) = model.flights.get(model.entry) else { return };
            let time_s = axis.value(x);
            let nearer = [Plan::Bank, Plan::Attack].into_iter().min_by(|a, b| {
                let apart = |plan: Plan| value_at(&model, flight, plan, time_s).map_or(f64::MAX, |value| (height(plan, value) - y).abs());
                apart(*a).total_cmp(&apart(*b))
            });
            if let Some(plan) = nearer {
                insert(&own, &model, flight, plan, time_s);
            }
        });
        let (own, root) = (kit.clone(), self.root.clone());
        kit.on(&self.root, "keydown", move |event| {
            let (Some(key), Some(grip), Some(model)) = (event.dyn_ref::<KeyboardEvent>(), of_event(event), own.model()) else { return };
            let Some(flight) = model.flights.get(model.entry) else { return };
            let by = if key.shift_key() { 10.0 } else { 1.0 };
            let Grip::Point(point) = grip else {
                let Grip::Reversal(index) = grip else { return };
                let changed = match key.key().as_str() {
                    "ArrowRight" => turn(&model, flight, index, 5.0 * by),
                    "ArrowLeft" => turn(&model, flight, index, -5.0 * by),
                    "Delete" | "Backspace" => with_bank(&model.scenario, model.entry, |curve| course::without_reversal(curve, index)),
                    _ => return,
                };
                event.prevent_default();
                if let Some(scenario) = changed {
                    own.send(Action::Change { scenario: Box::new(scenario), done: true });
                    focus(&root, grip);
                }
                return;
            };
            let (plan, index) = point;
            let moved = match key.key().as_str() {
                "ArrowUp" => edit(&model.scenario, model.entry, point, |value, at| (value + by, at)),
                "ArrowDown" => edit(&model.scenario, model.entry, point, |value, at| (value - by, at)),
                "ArrowRight" | "ArrowLeft" => {
                    let sign = if key.key() == "ArrowRight" { 1.0 } else { -1.0 };
                    shift(&model, flight, point, sign * 5.0 * by)
                }
                "Delete" | "Backspace" => remove(&model.scenario, model.entry, point),
                "Insert" => {
                    event.prevent_default();
                    let time_s = times(&model, flight, plan).get(index).copied().unwrap_or(0.0);
                    insert(&own, &model, flight, plan, time_s + 20.0);
                    return;
                }
                _ => return,
            };
            event.prevent_default();
            if let Some(scenario) = moved {
                own.send(Action::Change { scenario: Box::new(scenario), done: true });
                focus(&root, grip);
            }
        });
    }

    /// Reverses the bank from a moment of the flight on; false where there is none to reverse, or a reversal stands too near.
    pub fn reverse(kit: &Kit, model: &Model, time_s: f64) -> bool {
        let Some(flight) = model.flights.get(model.entry) else { return false };
        let changed = with_bank(&model.scenario, model.entry, |curve| course::with_reversal(curve, place_on_axis(curve, flight, time_s)?));
        match changed {
            Some(scenario) => kit.send(Action::Change { scenario: Box::new(scenario), done: true }),
            None => return false,
        }
        true
    }

    pub fn render(&mut self, kit: &Kit, model: &Model, flight: &Trajectory, axis: &Axis, same: bool) -> Made<()> {
        let unchanged = self.seen.as_ref().is_some_and(|(scenario, entry, units)| {
            Rc::ptr_eq(scenario, &model.scenario) && (*entry, *units) == (model.entry, model.units)
        });
        if same && unchanged {
            return Ok(());
        }
        self.seen = Some((model.scenario.clone(), model.entry, model.units));
        self.state.borrow_mut().axis = Some(*axis);
        let focused =
            kit.document.active_element().filter(|element| self.drawn.contains(Some(element))).and_then(|element| grip_of(&element));
        clear(&self.drawn);
        let end = axis.x(flight.samples.last().map_or(0.0, |sample| sample.time_s));
        add(&self.drawn, &kit.path("gr", &format!("M{} {}H{}", round(axis.left), round(height(Plan::Bank, 0.0)), round(end)))?)?;
        let heading = self.heading(kit, flight, axis)?;
        for plan in [Plan::Bank, Plan::Attack] {
            self.plan(kit, model, flight, axis, plan)?;
        }
        self.reversals(kit, model, flight, axis)?;
        // The key of the two lines, right of the flight or over its end.
        let room = axis.left > 35.0;
        let (x, class) = if room { (axis.right + 12.0, "st q") } else { (axis.right, "en q key") };
        let degrees = |plan: Plan| {
            let (low, high) = plan.range_deg();
            if low < 0.0 { format!("±{high:.0}°") } else { format!("{} to {}°", grouped(low, 0), grouped(high, 0)) }
        };
        let known = model.scenario.entries.get(model.entry).is_some_and(|named| course::plan(&named.course, Plan::Bank).is_some());
        let flown = if known { "" } else { ", as flown" };
        if room {
            add(&self.drawn, &kit.label(class, x, TOP + 15.0, &format!("□ bank, {}{flown}", degrees(Plan::Bank)))?)?;
            add(&self.drawn, &kit.label(class, x, TOP + 30.0, &format!("○ attack, {}{flown}", degrees(Plan::Attack)))?)?;
            if let Some([low, high]) = heading {
                let degrees = |value: f64| grouped(value.rem_euclid(360.0), 0);
                add(&self.drawn, &kit.label(class, x, TOP + 45.0, &format!("┄ heading, {}° to {}°", degrees(low), degrees(high)))?)?;
            }
        } else {
            add(
                &self.drawn,
                &kit.label(class, x, TOP - 1.0, &format!("□ bank {}  ○ attack {}{flown}", degrees(Plan::Bank), degrees(Plan::Attack)))?,
            )?;
        }
        if let Some(grip) = focused {
            focus(&self.root, grip);
        }
        Ok(())
    }

    /// The heading, dotted, over the height of its own range: it says which way a bank turns the flight. Returns the ends of the range, degrees,
    /// not brought back into a circle; `None` where the flight does not know it.
    fn heading(&self, kit: &Kit, flight: &Trajectory, axis: &Axis) -> Made<Option<[f64; 2]>> {
        let mut line: Vec<[f64; 2]> = Vec::new();
        let step = (flight.samples.len() / 200).max(1);
        for sample in flight.samples.iter().step_by(step).chain(flight.samples.last()) {
            let Some(mut heading) = sample.heading_deg else { return Ok(None) };
            if let Some([_, before]) = line.last() {
                heading += 360.0 * ((before - heading) / 360.0).round();
            }
            line.push([sample.time_s, heading]);
        }
        let ends = line.iter().fold([f64::MAX, f64::MIN], |ends, point| [ends[0].min(point[1]), ends[1].max(point[1])]);
        if line.len() < 2 {
            return Ok(None);
        }
        let span = (ends[1] - ends[0]).max(1.0);
        let y = |heading: f64| FOOT - (FOOT - TOP) * (heading - ends[0]) / span;
        let points: Vec<String> = line.iter().map(|[time, heading]| format!("{} {}", round(axis.x(*time)), round(y(*heading)))).collect();
        add(&self.drawn, &kit.path("spd", &format!("M{}", points.join("L")))?)?;
        Ok(Some(ends))
    }

    /// A handle on the zero line for each reversal of the bank.
    fn reversals(&self, kit: &Kit, model: &Model, flight: &Trajectory, axis: &Axis) -> Made<()> {
        let Some(curve) = model.scenario.entries.get(model.entry).and_then(|named| course::plan(&named.course, Plan::Bank)) else {
            return Ok(());
        };
        let all = times(model, flight, Plan::Bank);
        let last = flight.samples.last().map_or(0.0, |sample| sample.time_s);
        for index in course::reversals(curve) {
            let (Some(a), Some(b)) = (all.get(index), all.get(index + 1)) else { continue };
            let time_s = 0.5 * (a + b);
            if !time_s.is_finite() {
                continue;
            }
            let heading = crate::report::words::at_moment(flight, time_s).and_then(|sample| sample.heading_deg);
            let heading = heading.map_or(String::new(), |heading| format!(", heading {}", Quantity::Angle.text(heading, model.units)));
            let said = format!("Bank reversal at {}{heading}", Quantity::Time.text(time_s, model.units));
            let group =
                kit.svg("g", &[("class", "point"), ("role", "slider"), ("tabindex", "0"), ("data-reversal", &index.to_string())])?;
            let place = format!("translate({},{})", round(axis.x(time_s)), round(height(Plan::Bank, 0.0)));
            put(&group, &[("transform", &place), ("aria-label", "Bank reversal"), ("aria-valuetext", &said)])?;
            put(&group, &[("aria-valuemin", "0"), ("aria-valuemax", &format!("{last:.0}")), ("aria-valuenow", &format!("{time_s:.0}"))])?;
            let title = kit.svg("title", &[])?;
            title.set_text_content(Some(&format!("{said}: drag it along the flight, or arrow keys; Delete takes it away")));
            add(&group, &title)?;
            // As wide as a finger asks: of what lies under it, the nearest is taken, so that the points beside it stay within reach.
            add_all(&group, &[&kit.rect("hit", -12.0, -12.0, 24.0, 24.0)?, &kit.path("grab", "M0 -5L4 0L0 5L-4 0z")?])?;
            add(&self.drawn, &group)?;
        }
        Ok(())
    }

    fn plan(&self, kit: &Kit, model: &Model, flight: &Trajectory, axis: &Axis, plan: Plan) -> Made<()> {
        let step = (flight.samples.len() / 400).max(1);
        let line: Vec<String> = flight
            .samples
            .iter()
            .step_by(step)
            .chain(flight.samples.last())
            .filter_map(|sample| {
                let value = match plan {
                    Plan::Bank => sample.bank_deg?,
                    Plan::Attack => sample.angle_of_attack_deg,
                };
                Some(format!("{} {}", round(axis.x(sample.time_s)), round(height(plan, value))))
            })
            .collect();
        if line.len() > 1 {
            add(&self.drawn, &kit.path(if plan == Plan::Bank { "plan" } else { "plan2" }, &format!("M{}", line.join("L")))?)?;
        }
        let Some(curve) = model.scenario.entries.get(model.entry).and_then(|named| course::plan(&named.course, plan)) else {
            return Ok(());
        };
        let (low, high) = plan.range_deg();
        for (index, time_s) in times(model, flight, plan).into_iter().enumerate() {
            let value = point_value(curve, index);
            if !time_s.is_finite() {
                continue;
            }
            let name = if plan == Plan::Bank { "Bank" } else { "Angle of attack" };
            let at = match curve {
                Curve::Constant(_) => "throughout".to_string(),
                Curve::Table(table) => match (table.axis, table.at.get(index)) {
                    ("speed_m_s", Some(speed)) => format!("at {}", Quantity::Speed.text(*speed, model.units)),
                    (_, Some(time)) => format!("at {}", Quantity::Time.text(*time, model.units)),
                    _ => String::new(),
                },
            };
            let group = kit.svg(
                "g",
                &[("class", "point"), ("role", "slider"), ("tabindex", "0"), ("data-plan", plan.key()), ("data-point", &index.to_string())],
            )?;
            put(
                &group,
                &[
                    ("transform", &format!("translate({},{})", round(axis.x(time_s)), round(height(plan, value)))),
                    ("aria-label", &format!("{name} {at}")),
                ],
            )?;
            put(
                &group,
                &[
                    ("aria-valuemin", &format!("{low:.0}")),
                    ("aria-valuemax", &format!("{high:.0}")),
                    ("aria-valuenow", &format!("{value:.1}")),
                ],
            )?;
            put(&group, &[("aria-valuetext", &format!("{name} {} {at}", Quantity::Angle.text(value, model.units)))])?;
            let title = kit.svg("title", &[])?;
            title.set_text_content(Some(&format!(
                "{name} {} {at}: drag, or arrow keys; Insert adds a point, Delete takes it away",
                Quantity::Angle.text(value, model.units)
            )));
            add(&group, &title)?;
            add(&group, &kit.rect("hit", -12.0, -12.0, 24.0, 24.0)?)?;
            let grab = match plan {
                Plan::Bank => kit.rect("grab", -3.5, -3.5, 7.0, 7.0)?,
                Plan::Attack => kit.svg("circle", &[("class", "grab"), ("r", "3.6")])?,
            };
            add(&group, &grab)?;
            add(&self.drawn, &group)?;
        }
        Ok(())
    }
}

fn height(plan: Plan, value_deg: f64) -> f64 {
    let (low, high) = plan.range_deg();
    FOOT - (FOOT - TOP) * ((value_deg - low) / (high - low)).clamp(0.0, 1.0)
}

fn value_of(plan: Plan, y: f64) -> f64 {
    let (low, high) = plan.range_deg();
    low + (high - low) * ((FOOT - y) / (FOOT - TOP)).clamp(0.0, 1.0)
}

fn point_value(curve: &Curve, index: usize) -> f64 {
    match curve {
        Curve::Constant(value) => *value,
        Curve::Table(table) => table.value.get(index).copied().unwrap_or(f64::NAN),
    }
}

/// Where the plan's points stand in time; NaN where the flight never has the point's speed.
fn times(model: &Model, flight: &Trajectory, plan: Plan) -> Vec<f64> {
    let Some(curve) = model.scenario.entries.get(model.entry).and_then(|named| course::plan(&named.course, plan)) else {
        return Vec::new();
    };
    match curve {
        Curve::Constant(_) => vec![0.5 * flight.samples.last().map_or(0.0, |sample| sample.time_s)],
        Curve::Table(table) if table.axis == "time_s" => table.at.clone(),
        Curve::Table(table) => table.at.iter().map(|speed| time_of_speed(flight, *speed)).collect(),
    }
}

/// The last moment at which the flight has a speed (it slows down, after a first gain in speed).
fn time_of_speed(flight: &Trajectory, speed_m_s: f64) -> f64 {
    flight
        .samples
        .windows(2)
        .rev()
        .find_map(|pair| match pair {
            [a, b] if (a.speed_m_s - speed_m_s) * (b.speed_m_s - speed_m_s) <= 0.0 && a.speed_m_s != b.speed_m_s => {
                Some(a.time_s + (b.time_s - a.time_s) * (a.speed_m_s - speed_m_s) / (a.speed_m_s - b.speed_m_s))
            }
            _ => None,
        })
        .unwrap_or(f64::NAN)
}

fn value_at(model: &Model, flight: &Trajectory, plan: Plan, time_s: f64) -> Option<f64> {
    let curve = model.scenario.entries.get(model.entry).and_then(|named| course::plan(&named.course, plan))?;
    Some(curve.value_at(place_on_axis(curve, flight, time_s)?))
}

/// A moment on a plan's own axis.
fn place_on_axis(curve: &Curve, flight: &Trajectory, time_s: f64) -> Option<f64> {
    match curve.axis() {
        Some("speed_m_s") => crate::report::words::at_moment(flight, time_s).map(|sample| sample.speed_m_s),
        _ => Some(time_s),
    }
}

/// The scenario with one point changed; a point stays between its neighbours and in the plan's range.
fn edit(scenario: &Scenario, entry: usize, (plan, index): Point, change: impl FnOnce(f64, f64) -> (f64, f64)) -> Option<Scenario> {
    let mut scenario = scenario.clone();
    let course = &mut scenario.entries.get_mut(entry)?.course;
    let (low, high) = plan.range_deg();
    let edited = match course::plan(course, plan)? {
        Curve::Constant(value) => Curve::Constant(change(*value, 0.0).0.clamp(low, high)),
        Curve::Table(table) => {
            let mut table = table.clone();
            let (value, at) = change(*table.value.get(index)?, *table.at.get(index)?);
            let room = 1e-3 * (table.at.last()? - table.at.first()?).abs().max(1.0);
            let above = table.at.get(index + 1).map_or(f64::MAX, |next| next - room);
            let below = index.checked_sub(1).and_then(|before| table.at.get(before)).map_or(0.0, |before| before + room);
            *table.value.get_mut(index)? = value.clamp(low, high);
            *table.at.get_mut(index)? = if below <= above { at.clamp(below, above) } else { *table.at.get(index)? };
            Curve::Table(table)
        }
    };
    course::set_plan(course, plan, edited).then_some(scenario)
}

/// Moves a point along the flight by seconds.
fn shift(model: &Model, flight: &Trajectory, point: Point, by_s: f64) -> Option<Scenario> {
    let time_s = *times(model, flight, point.0).get(point.1)?;
    let curve = course::plan(&model.scenario.entries.get(model.entry)?.course, point.0)?;
    let to = place_on_axis(curve, flight, time_s + by_s)?;
    edit(&model.scenario, model.entry, point, |value, _| (value, to))
}

fn remove(scenario: &Scenario, entry: usize, (plan, index): Point) -> Option<Scenario> {
    let mut scenario = scenario.clone();
    let course = &mut scenario.entries.get_mut(entry)?.course;
    let Curve::Table(table) = course::plan(course, plan)? else { return None };
    if table.at.len() < 2 || index >= table.at.len() {
        return None;
    }
    let mut table = table.clone();
    table.at.remove(index);
    table.value.remove(index);
    let curve = match table.value.as_slice() {
        [only] => Curve::Constant(*only),
        _ => Curve::Table(table),
    };
    course::set_plan(course, plan, curve).then_some(scenario)
}

/// Adds a point on the plan's line at a moment; a constant becomes a plan over time.
fn insert(kit: &Kit, model: &Model, flight: &Trajectory, plan: Plan, time_s: f64) {
    let mut scenario = (*model.scenario).clone();
    let Some(course) = scenario.entries.get_mut(model.entry).map(|named| &mut named.course) else { return };
    let Some(curve) = course::plan(course, plan) else { return };
    let Some(at) = place_on_axis(curve, flight, time_s) else { return };
    let value = curve.value_at(at);
    let table = match curve {
        Curve::Constant(value) => {
            let end = flight.samples.last().map_or(1.0, |sample| sample.time_s);
            let time_s = time_s.clamp(1.0, (end - 1.0).max(1.0));
            Table { axis: "time_s", at: vec![0.0, time_s], value: vec![*value, *value] }
        }
        Curve::Table(table) => {
            let mut table = table.clone();
            let place = table.at.partition_point(|existing| *existing < at);
            if table.at.get(place) == Some(&at) {
                return;
            }
            table.at.insert(place, at);
            table.value.insert(place, value);
            table
        }
    };
    if course::set_plan(course, plan, Curve::Table(table)) {
        kit.send(Action::Change { scenario: Box::new(scenario), done: true });
    }
}

fn drag(kit: &Kit, state: &Rc<RefCell<State>>, root: &Element, pointer: &PointerEvent, done: bool) {
    let (held, axis) = {
        let state = state.borrow();
        (state.held.clone(), state.axis)
    };
    let (Some((grip, from)), Some(axis), Some(model)) = (held, axis, kit.model()) else { return };
    let Some(flight) = model.flights.get(model.entry) else { return };
    let (x, y) = place(root, pointer);
    let point = match grip {
        Grip::Point(point) => point,
        Grip::Reversal(index) => {
            let moved =
                with_bank(&from, model.entry, |curve| course::moved_reversal(curve, index, place_on_axis(curve, flight, axis.value(x))?));
            if let Some(scenario) = moved {
                kit.send(Action::Change { scenario: Box::new(scenario), done });
            }
            return;
        }
    };
    let Some(curve) = from.entries.get(model.entry).and_then(|named| course::plan(&named.course, point.0)) else { return };
    let to = place_on_axis(curve, flight, axis.value(x));
    let value = value_of(point.0, y).round();
    // A point is moved along the flight only once the pointer has left its own width, so that a pull up stays straight.
    let here = times(&model, flight, point.0).get(point.1).map_or(x, |time| axis.x(*time));
    let along = (x - here).abs() > 6.0;
    if let Some(scenario) = edit(&from, model.entry, point, |_, at| (value, if along { to.unwrap_or(at) } else { at })) {
        kit.send(Action::Change { scenario: Box::new(scenario), done });
    }
}

fn place(root: &Element, pointer: &MouseEvent) -> (f64, f64) {
    let frame = root.closest("svg").ok().flatten().map(|svg| svg.get_bounding_client_rect());
    let (left, top) = frame.map_or((0.0, 0.0), |frame| (frame.left(), frame.top()));
    (f64::from(pointer.client_x()) - left, f64::from(pointer.client_y()) - top)
}

/// What a pointer takes hold of: of the handles under it, which overlap where points stand close, the one whose middle is nearest.
fn nearest(root: &Element, pointer: &PointerEvent) -> Option<Grip> {
    let (x, y) = (f64::from(pointer.client_x()), f64::from(pointer.client_y()));
    let all = root.query_selector_all(".point").ok()?;
    let mut best: Option<(f64, Grip)> = None;
    for element in (0..all.length()).filter_map(|at| all.item(at)?.dyn_into::<Element>().ok()) {
        let frame = element.get_bounding_client_rect();
        let (dx, dy) = (x - frame.left() - 0.5 * frame.width(), y - frame.top() - 0.5 * frame.height());
        let within = dx.abs() <= 0.5 * frame.width() && dy.abs() <= 0.5 * frame.height();
        let away = dx * dx + dy * dy;
        if within && best.is_none_or(|(least, _)| away < least) {
            best = grip_of(&element).map(|grip| (away, grip)).or(best);
        }
    }
    best.map(|(_, grip)| grip)
}

fn of_event(event: &web_sys::Event) -> Option<Grip> {
    let found = carrying(event, "data-point").or_else(|| carrying(event, "data-reversal"));
    grip_of(&found?.0)
}

fn grip_of(element: &Element) -> Option<Grip> {
    if let Some(index) = element.get_attribute("data-reversal") {
        return index.parse().ok().map(Grip::Reversal);
    }
    let plan = match element.get_attribute("data-plan")?.as_str() {
        "bank" => Plan::Bank,
        _ => Plan::Attack,
    };
    Some(Grip::Point((plan, element.get_attribute("data-point")?.parse().ok()?)))
}

/// The scenario with the bank plan of an entry changed.
fn with_bank(scenario: &Scenario, entry: usize, change: impl FnOnce(&Curve) -> Option<Curve>) -> Option<Scenario> {
    let mut scenario = scenario.clone();
    let course = &mut scenario.entries.get_mut(entry)?.course;
    let changed = change(course::plan(course, Plan::Bank)?)?;
    course::set_plan(course, Plan::Bank, changed).then_some(scenario)
}

/// Moves a reversal along the flight by seconds.
fn turn(model: &Model, flight: &Trajectory, index: usize, by_s: f64) -> Option<Scenario> {
    let all = times(model, flight, Plan::Bank);
    let time_s = 0.5 * (all.get(index)? + all.get(index + 1)?);
    with_bank(&model.scenario, model.entry, |curve| course::moved_reversal(curve, index, place_on_axis(curve, flight, time_s + by_s)?))
}

fn focus(root: &Element, grip: Grip) {
    let wanted = match grip {
        Grip::Point((plan, index)) => format!("[data-plan={}][data-point=\"{index}\"]", plan.key()),
        Grip::Reversal(index) => format!("[data-reversal=\"{index}\"]"),
    };
    let Some(element) = root.query_selector(&wanted).ok().flatten() else { return };
    match (element.dyn_ref::<SvgElement>(), element.dyn_ref::<HtmlElement>()) {
        (Some(svg), _) => drop(svg.focus()),
        (_, Some(html)) => drop(html.focus()),
        _ => {}
    }
}
