//! The corridor on the page: the flights over speed and altitude among lines of constant heating, load factor and dynamic pressure.

use super::dom::{Kit, Made, add, add_all, clear, put, round};
use super::ribbon::{shown_time, step_by_key};
use super::room::{Size, headed};
use crate::flight::Trajectory;
use crate::page::model::{Action, Model};
use crate::report::axis::Axis;
use crate::report::corridor::{Bound, lines, round_values};
use crate::report::numbers::{Quantity, grouped, ticks, with_unit};
use crate::report::words;
use crate::scenario::{Scenario, UnitSystem};
use std::cell::{Cell, RefCell};
use std::rc::Rc;
use wasm_bindgen::JsCast;
use web_sys::{Element, KeyboardEvent, PointerEvent};

/// Pixels of the drawing and its field.
const HEIGHT: f64 = 300.0;
const TOP: f64 = 16.0;
const FOOT: f64 = 270.0;
const LEFT: f64 = 40.0;
const RIGHT: f64 = 74.0;
/// Lines of each bound.
const LINES: usize = 4;

/// What the plot is drawn from.
type Seen = (Rc<Vec<Trajectory>>, Rc<Scenario>, usize, UnitSystem, u64);

pub struct Corridor {
    root: Element,
    svg: Element,
    still: Element,
    moment: Element,
    size: Size,
    axes: Rc<RefCell<Option<[Axis; 2]>>>,
    seen: Option<Seen>,
}

impl Corridor {
    pub fn new(kit: &Kit) -> Made<Self> {
        let under = "Altitude over speed. Lines: heating of the reference sphere (solid), load factor (dashed), dynamic pressure (dotted).";
        let (root, _) = headed(kit, "plot", "Corridor", under)?;
        let svg = kit.svg("svg", &[("id", "corridor"), ("class", "bl"), ("width", "100%"), ("height", &HEIGHT.to_string())])?;
        let still = kit.svg("g", &[])?;
        let moment =
            kit.svg("g", &[("id", "corridor-moment"), ("role", "slider"), ("tabindex", "0"), ("aria-label", "Moment of the flight")])?;
        add_all(&moment, &[&kit.rect("hit", -12.0, -12.0, 24.0, 24.0)?, &kit.svg("circle", &[("class", "spot"), ("r", "5")])?])?;
        add_all(&svg, &[&still, &moment])?;
        add(&root, &svg)?;
        let made = Self { root, svg, still, moment, size: Size::default(), axes: Rc::default(), seen: None };
        made.listen(kit);
        Ok(made)
    }

    fn listen(&self, kit: &Kit) {
        let held: Rc<Cell<bool>> = Rc::default();
        let to = {
            let (own, axes, svg) = (kit.clone(), self.axes.clone(), self.svg.clone());
            move |pointer: &PointerEvent| {
                let (Some(model), Some([speed, altitude])) = (own.model(), *axes.borrow()) else { return };
                let Some(flight) = model.flights.get(model.entry) else { return };
                let frame = svg.get_bounding_client_rect();
                let (x, y) = (f64::from(pointer.client_x()) - frame.left(), f64::from(pointer.client_y()) - frame.top());
                let away = |sample: &&crate::flight::Sample| {
                    let (dx, dy) = (speed.x(sample.speed_m_s) - x, altitude.x(sample.altitude_m) - y);
                    dx * dx + dy * dy
                };
                if let Some(nearest) = flight.samples.iter().min_by(|a, b| away(a).total_cmp(&away(b))) {
                    own.send(Action::Time(Some(nearest.time_s.round())));
                }
            }
        };
        let (grip, target, go) = (held.clone(), self.svg.clone(), to.clone());
        kit.on(&self.svg, "pointerdown", move |event| {
            if let Some(pointer) = event.dyn_ref::<PointerEvent>().filter(|pointer| pointer.button() == 0) {
                let _ = target.set_pointer_capture(pointer.pointer_id());
                grip.set(true);
                go(pointer);
            }
        });
        let grip = held.clone();
        kit.on(&self.svg, "pointermove", move |event| {
            if let Some(pointer) = event.dyn_ref::<PointerEvent>().filter(|_| grip.get()) {
                to(pointer);
            }
        });
        for end in ["pointerup", "pointercancel"] {
            let grip = held.clone();
            kit.on(&self.svg, end, move |_| grip.set(false));
        }
        let own = kit.clone();
        kit.on(&self.moment, "keydown", move |event| {
            if let (Some(key), Some(model)) = (event.dyn_ref::<KeyboardEvent>(), own.model())
                && let Some(time_s) = step_by_key(&model, &key.key())
            {
                event.prevent_default();
                own.send(Action::Time(Some(time_s)));
            }
        });
    }

    pub fn root(&self) -> &Element {
        &self.root
    }

    pub fn resized(&mut self) {
        self.size.forget();
        self.seen = None;
    }

    pub fn render(&mut self, kit: &Kit, model: &Model) -> Made<()> {
        let pixels = self.size.of(&self.svg);
        let Some(flight) = model.flights.get(model.entry).filter(|flight| flight.samples.len() > 1 && pixels > 120.0) else {
            return Ok(());
        };
        let same = self.seen.as_ref().is_some_and(|(flights, scenario, entry, units, width)| {
            Rc::ptr_eq(flights, &model.flights)
                && (Rc::ptr_eq(scenario, &model.scenario) || scenario.entries == model.scenario.entries)
                && (*entry, *units, *width) == (model.entry, model.units, pixels as u64)
        });
        if !same {
            let all = || model.flights.iter().flat_map(|flight| &flight.samples);
            let fastest = all().fold(1.0, |most: f64, sample| most.max(sample.speed_m_s)) * 1.02;
            let highest = all().fold(1.0, |most: f64, sample| most.max(sample.altitude_m)) * 1.02;
            let axes = [
                Axis { low: 0.0, high: fastest, left: LEFT, right: pixels - RIGHT, gap: 0.0 },
                Axis { low: 0.0, high: highest, left: FOOT, right: TOP, gap: 0.0 },
            ];
            *self.axes.borrow_mut() = Some(axes);
            self.still(kit, model, flight, axes)?;
            self.seen = Some((model.flights.clone(), model.scenario.clone(), model.entry, model.units, pixels as u64));
        }
        self.moment(model, flight)
    }

    fn still(&self, kit: &Kit, model: &Model, flight: &Trajectory, [speed, altitude]: [Axis; 2]) -> Made<()> {
        clear(&self.still);
        let (out, units) = (&self.still, model.units);
        for tick in ticks(0.0, Quantity::Altitude.shown(altitude.high, units), 5) {
            let y = altitude.x(Quantity::Altitude.si(tick, units));
            add(out, &kit.path("gr", &format!("M{} {}H{}", round(speed.left), round(y), round(speed.right)))?)?;
            let shown = if units == UnitSystem::Us { tick / 1000.0 } else { tick };
            add(out, &kit.label("en q", speed.left - 6.0, y + 3.5, &grouped(shown, 0))?)?;
        }
        add(out, &kit.label("en q", speed.left - 6.0, 10.0, if units == UnitSystem::Us { "kft" } else { "km" })?)?;
        let all = ticks(0.0, Quantity::Speed.shown(speed.high, units), if speed.right - speed.left < 260.0 { 2 } else { 5 });
        for (i, tick) in all.iter().enumerate() {
            let x = speed.x(Quantity::Speed.si(*tick, units));
            add(out, &kit.path("gr", &format!("M{} {}V{}", round(x), round(altitude.left), round(altitude.left + 4.0)))?)?;
            let number = grouped(*tick, 0);
            let said = if i + 1 == all.len() { with_unit(&number, Quantity::Speed.unit(units)) } else { number };
            add(out, &kit.label("q", x, HEIGHT - 14.0, &said)?)?;
        }
        self.bounds(kit, model, flight, [speed, altitude])?;
        let path = |flight: &Trajectory| {
            let step = (flight.samples.len() / 300).max(1);
            let points: Vec<String> = (flight.samples.iter().step_by(step).chain(flight.samples.last()))
                .map(|sample| format!("{} {}", round(speed.x(sample.speed_m_s)), round(altitude.x(sample.altitude_m))))
                .collect();
            format!("M{}", points.join("L"))
        };
        for (_, other) in model.flights.iter().enumerate().filter(|(i, _)| *i != model.entry) {
            add(out, &kit.path("other", &path(other))?)?;
        }
        add(out, &kit.path("own", &path(flight))?)
    }

    /// The lines of each bound at values that are round in the shown unit, and their words.
    fn bounds(&self, kit: &Kit, model: &Model, flight: &Trajectory, [speed, altitude]: [Axis; 2]) -> Made<()> {
        let Some(course) = model.scenario.entries.get(model.entry).map(|named| &named.course) else { return Ok(()) };
        let units = model.units;
        let largest = |of: &dyn Fn(&crate::flight::Sample) -> f64| flight.samples.iter().map(of).fold(0.0, f64::max);
        let all = [
            (Bound::Heating, "bound", largest(&|s| s.reference_heating_w_m2), Quantity::Heating),
            (Bound::LoadFactor, "bound dash", largest(&|s| s.load_factor_g.unwrap_or(0.0)), Quantity::Plain),
            (Bound::DynamicPressure, "bound dot", largest(&|s| s.dynamic_pressure_pa), Quantity::Pressure),
        ];
        // Where words stand already, so that none covers another.
        let mut taken: Vec<[f64; 2]> = Vec::new();
        for (bound, class, most, quantity) in all {
            let values = round_values(quantity.shown(most, units), LINES);
            let si: Vec<f64> = values.iter().map(|value| quantity.si(*value, units)).collect();
            for (line, shown) in lines(course, flight, bound, &si, speed.high, altitude.high).iter().zip(values) {
                let points: Vec<[f64; 2]> = line.points.iter().map(|[v, h]| [speed.x(*v), altitude.x(*h)]).collect();
                if points.len() < 2 {
                    continue;
                }
                let d: Vec<String> = points.iter().map(|[x, y]| format!("{} {}", round(*x), round(*y))).collect();
                add(&self.still, &kit.path(class, &format!("M{}", d.join("L")))?)?;
                let decimals = if shown < 1.0 { 1 } else { 0 };
                let unit = if bound == Bound::LoadFactor { "g" } else { quantity.unit(units) };
                let said = with_unit(&grouped(shown, decimals), unit);
                // Right of the line's end where that is free, else on the line: load factor from its upper end down, pressure from below.
                let end = points.last().map(|[x, y]| ([x + 5.0, y + 3.5], true));
                let on = |point: &[f64; 2]| ([point[0], point[1] - 3.0], false);
                let places: Vec<([f64; 2], bool)> = match bound {
                    Bound::Heating => end.into_iter().collect(),
                    Bound::LoadFactor => end.into_iter().chain(points.iter().rev().skip(4).map(on)).collect(),
                    Bound::DynamicPressure => end.into_iter().chain(points.iter().skip(points.len() / 5).map(on)).collect(),
                };
                let free = |at: &[f64; 2]| taken.iter().all(|other| (other[0] - at[0]).abs() > 52.0 || (other[1] - at[1]).abs() > 11.0);
                if let Some((at, outside)) = places.into_iter().find(|(at, _)| free(at)) {
                    taken.push(at);
                    add(&self.still, &kit.label(if outside { "st q key" } else { "q key" }, at[0], at[1], &said)?)?;
                }
            }
        }
        Ok(())
    }

    fn moment(&self, model: &Model, flight: &Trajectory) -> Made<()> {
        let time_s = shown_time(model);
        let (Some(sample), Some([speed, altitude])) = (words::at_moment(flight, time_s), *self.axes.borrow()) else { return Ok(()) };
        let units = model.units;
        let place = format!("translate({},{})", round(speed.x(sample.speed_m_s)), round(altitude.x(sample.altitude_m)));
        let said = format!(
            "{}: {}, {}, {}",
            Quantity::Time.text(time_s, units),
            Quantity::Altitude.text(sample.altitude_m, units),
            Quantity::Speed.text(sample.speed_m_s, units),
            Quantity::Heating.text(sample.reference_heating_w_m2, units)
        );
        let last = flight.samples.last().map_or(0.0, |sample| sample.time_s);
        put(&self.moment, &[("transform", &place), ("aria-valuetext", &said), ("aria-valuemin", "0")])?;
        put(&self.moment, &[("aria-valuemax", &format!("{last:.0}")), ("aria-valuenow", &format!("{time_s:.0}"))])
    }
}
