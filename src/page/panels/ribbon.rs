//! The flight ribbon: altitude as thick as the heating, speed, the plans with their points, and the moment.

use super::dom::{Kit, Made, Memo, add, add_all, clear, put, round, width};
use super::plan::Plans;
use super::room::Room;
use crate::flight::Trajectory;
use crate::page::model::{Action, Model, ScaleKind};
use crate::report::axis::Axis;
use crate::report::numbers::{Quantity, grouped, ticks, with_unit};
use crate::report::ramp::hex;
use crate::report::words;
use crate::scenario::{Colour, UnitSystem};
use std::cell::RefCell;
use std::rc::Rc;
use wasm_bindgen::JsCast;
use web_sys::{Element, HtmlSelectElement, KeyboardEvent, PointerEvent};

/// Pixels: top and foot of the altitude's field; the drawing is 160 high.
const TOP: f64 = 14.0;
const FOOT: f64 = 100.0;
const LEFT: f64 = 40.0;
/// Right of the flight: the plans' key and the chooser where there is room.
const RIGHT: f64 = 14.0;
const KEYS: f64 = 150.0;
/// Most points of a drawn curve.
const POINTS: usize = 400;

/// Flights, entry, units, width, glow and theme of what is drawn.
type Seen = (Rc<Vec<Trajectory>>, usize, UnitSystem, u64, bool, bool);
/// Moment, units, revision and width, picked tile and entry of the cursor.
type SeenMoment = (Option<u64>, UnitSystem, u64, Option<usize>, usize);

pub struct Ribbon {
    svg: Element,
    still: Element,
    moment: Element,
    line: Element,
    flag: Element,
    word: Element,
    plans: Plans,
    room: Room,
    entry: HtmlSelectElement,
    axis: Rc<RefCell<Option<Axis>>>,
    pixels: f64,
    seen: Option<Seen>,
    seen_entries: Memo<(Vec<String>, usize)>,
    seen_moment: Memo<SeenMoment>,
}

impl Ribbon {
    pub fn new(kit: &Kit, again: Rc<dyn Fn()>) -> Made<Self> {
        let panel = kit.by_id("ribbon")?;
        let svg = kit.svg("svg", &[("id", "flight"), ("height", "160"), ("width", "100%")])?;
        let still = kit.svg("g", &[])?;
        let moment = kit.svg("g", &[("id", "moment"), ("role", "slider"), ("tabindex", "0"), ("aria-label", "Moment of the flight")])?;
        let hit = kit.rect("hit", -12.0, 0.0, 24.0, 146.0)?;
        let (line, flag) = (kit.path("now", "M0 14V143")?, kit.path("nowh", "M-6 8h12v7l-6 6-6-6z")?);
        let word = kit.label("st nowt", 12.0, 16.0, "")?;
        add_all(&moment, &[&hit, &line, &flag])?;
        let field = kit.rect("field", 0.0, 0.0, 10.0, 104.0)?;
        field.set_attribute("width", "100%")?;
        let plans = Plans::new(kit)?;
        add_all(&svg, &[&still, &field, &plans.root, &word, &moment])?;
        let chooser = kit.html("label", "entries")?;
        let entry = kit.html("select", "")?;
        put(&entry, &[("id", "entry"), ("aria-label", "Entry shown")])?;
        add_all(&chooser, &[&kit.said("span", "", "Entry")?, &entry])?;
        add_all(&panel, &[&svg, &chooser])?;
        let room = Room::new(kit, &panel, again)?;
        let entry: HtmlSelectElement = entry.dyn_into()?;
        let made = Self {
            svg,
            still,
            moment,
            line,
            flag,
            word,
            plans,
            room,
            entry,
            axis: Rc::default(),
            pixels: 0.0,
            seen: None,
            seen_entries: Memo::default(),
            seen_moment: Memo::default(),
        };
        made.listen(kit);
        Ok(made)
    }

    fn listen(&self, kit: &Kit) {
        let own = kit.clone();
        kit.on(&self.entry, "change", move |event| {
            if let Some(select) = event.target().and_then(|t| t.dyn_into::<HtmlSelectElement>().ok()) {
                own.send(Action::Entry(select.selected_index().max(0) as usize));
            }
        });
        let held: Rc<RefCell<bool>> = Rc::default();
        let to = {
            let (own, axis, svg) = (kit.clone(), self.axis.clone(), self.svg.clone());
            move |pointer: &PointerEvent| {
                let x = f64::from(pointer.client_x()) - svg.get_bounding_client_rect().left();
                let time = axis.borrow().map(|axis| axis.value(x));
                if let Some(time_s) = time {
                    own.send(Action::Time(Some(time_s.round())));
                }
            }
        };
        let (grip, target, go) = (held.clone(), self.svg.clone(), to.clone());
        kit.on(&self.svg, "pointerdown", move |event| {
            let (Some(pointer), Some(element)) =
                (event.dyn_ref::<PointerEvent>(), event.target().and_then(|t| t.dyn_into::<Element>().ok()))
            else {
                return;
            };
            // The plans have their own points and their own field.
            if pointer.button() != 0 || element.closest(".plans").ok().flatten().is_some() {
                return;
            }
            let _ = target.set_pointer_capture(pointer.pointer_id());
            *grip.borrow_mut() = true;
            go(pointer);
        });
        let grip = held.clone();
        kit.on(&self.svg, "pointermove", move |event| {
            if let Some(pointer) = event.dyn_ref::<PointerEvent>().filter(|_| *grip.borrow()) {
                to(pointer);
            }
        });
        for end in ["pointerup", "pointercancel"] {
            let grip = held.clone();
            kit.on(&self.svg, end, move |_| *grip.borrow_mut() = false);
        }
        let own = kit.clone();
        kit.on(&self.moment, "keydown", move |event| {
            let (Some(key), Some(model)) = (event.dyn_ref::<KeyboardEvent>(), own.model()) else { return };
            if key.key() == "Escape" {
                own.send(Action::Time(None));
            } else if let Some(time_s) = step_by_key(&model, &key.key()) {
                event.prevent_default();
                own.send(Action::Time(Some(time_s)));
            }
        });
    }

    pub fn resized(&mut self) {
        self.pixels = 0.0;
        self.seen = None;
        self.seen_moment.forget();
        self.room.resized();
    }

    pub fn render(&mut self, kit: &Kit, model: &Model) -> Made<()> {
        self.entries(kit, model)?;
        if self.pixels < 1.0 {
            self.pixels = width(&self.svg);
        }
        let Some(flight) = model.flights.get(model.entry).filter(|flight| flight.samples.len() > 1 && self.pixels > 1.0) else {
            return Ok(());
        };
        let glowing = matches!(model.shown.scale.kind, ScaleKind::Temperature) && model.shown.colour != Colour::Margin;
        let same = self.seen.as_ref().is_some_and(|(flights, entry, units, pixels, glow, dark)| {
            Rc::ptr_eq(flights, &model.flights)
                && (*entry, *units, *pixels, *glow, *dark) == (model.entry, model.units, self.pixels as u64, glowing, model.dark)
        });
        let end = flight.samples.last().map_or(1.0, |sample| sample.time_s).max(1.0);
        let axis = Axis {
            low: 0.0,
            high: nice_end(end),
            left: self.left(),
            right: self.pixels - if self.pixels < 640.0 { RIGHT } else { KEYS },
            gap: 0.0,
        };
        if !same {
            *self.axis.borrow_mut() = Some(Axis { high: end, right: axis.x(end), ..axis });
            self.still(kit, model, flight, &axis, glowing)?;
            self.seen = Some((model.flights.clone(), model.entry, model.units, self.pixels as u64, glowing, model.dark));
        }
        self.plans.render(kit, model, flight, &axis, same)?;
        self.moment(model, flight, &axis)?;
        self.room.render(kit, model)
    }

    fn left(&self) -> f64 {
        if self.pixels < 500.0 { 30.0 } else { LEFT }
    }

    fn entries(&mut self, kit: &Kit, model: &Model) -> Made<()> {
        let names: Vec<String> = model.scenario.entries.iter().map(|entry| entry.name.clone()).collect();
        if self.seen_entries.changed((names.clone(), model.entry)) {
            clear(&self.entry);
            for name in &names {
                add(&self.entry, &kit.said("option", "", name)?)?;
            }
            self.entry.set_selected_index(model.entry as i32);
            super::dom::show(&self.entry, true);
        }
        Ok(())
    }

    /// What does not move with the moment.
    fn still(&self, kit: &Kit, model: &Model, flight: &Trajectory, axis: &Axis, glowing: bool) -> Made<()> {
        clear(&self.still);
        let units = model.units;
        let out = &self.still;
        let samples = &flight.samples;
        let narrow = self.pixels < 500.0;
        let highest = samples.iter().fold(1.0, |highest: f64, sample| highest.max(sample.altitude_m));
        let fastest = samples.iter().fold(1.0, |fastest: f64, sample| fastest.max(sample.speed_m_s));
        let hottest = words::hottest(flight);
        let most = hottest.map_or(1.0, |sample| sample.reference_heating_w_m2).max(1.0);
        let y = |altitude: f64| FOOT - (FOOT - TOP - 8.0) * altitude / highest;
        // The grid, in the shown unit.
        let (top, quantity) = (Quantity::Altitude.shown(highest, units), Quantity::Altitude);
        let divide = if units == UnitSystem::Us { 1000.0 } else { 1.0 };
        for tick in ticks(0.0, top, 4) {
            let at = y(quantity.si(tick, units));
            add(out, &kit.path("gr", &format!("M{} {}H{}", round(axis.left), round(at), round(axis.right)))?)?;
            add(out, &kit.label("en q", axis.left - 6.0, at + 3.5, &grouped(tick / divide, 0))?)?;
        }
        add(out, &kit.label("en q", axis.left - 6.0, 10.0, if units == UnitSystem::Us { "kft" } else { "km" })?)?;
        let step = (samples.len() / POINTS).max(1);
        let thin: Vec<_> = samples.iter().step_by(step).chain(samples.last()).collect();
        let speed: Vec<String> = thin
            .iter()
            .map(|s| format!("{} {}", round(axis.x(s.time_s)), round(FOOT - (FOOT - TOP - 8.0) * s.speed_m_s / fastest)))
            .collect();
        add(out, &kit.path("spd", &format!("M{}", speed.join("L")))?)?;
        let edge = |side: f64| {
            thin.iter()
                .map(|s| {
                    format!(
                        "{} {}",
                        round(axis.x(s.time_s)),
                        round(y(s.altitude_m) + side * (0.7 + 12.0 * s.reference_heating_w_m2.max(0.0) / most))
                    )
                })
                .collect::<Vec<_>>()
        };
        let (upper, mut lower) = (edge(-1.0), edge(1.0));
        lower.reverse();
        let band = kit.path("rib", &format!("M{}L{}z", upper.join("L"), lower.join("L")))?;
        if glowing {
            add(out, &self.glow(kit, model, flight, axis)?)?;
            band.set_attribute("class", "rib lit")?;
            super::dom::style(&band, "fill", "url(#ribbon-glow)");
        }
        add(out, &band)?;
        if let Some(hot) = hottest {
            let x = axis.x(hot.time_s);
            let text =
                format!("{} at {}", Quantity::Heating.text(hot.reference_heating_w_m2, units), Quantity::Time.text(hot.time_s, units));
            // Beside the cursor, which stands here until it is moved.
            let (class, at) = if x + 7.0 + 6.6 * text.chars().count() as f64 > axis.right { ("en q", x - 7.0) } else { ("st q", x + 7.0) };
            add(out, &kit.label(class, at, (y(hot.altitude_m) + 28.0).min(FOOT - 4.0), &text)?)?;
        }
        if !narrow {
            let first = axis.x(0.0) + 19.0;
            add(out, &kit.label("st", first, FOOT - 4.5, "altitude, as thick as the heating")?)?;
            // Under the curves, clear of the moment's words at the top.
            add(out, &kit.label("st q", first, FOOT - 18.5, &format!("dotted: speed, from {}", Quantity::Speed.text(fastest, units)))?)?;
        }
        self.loads(kit, flight, axis, narrow)?;
        // Time.
        let step = [60.0, 120.0, 300.0, 600.0, 1200.0, 3600.0]
            .into_iter()
            .find(|step| axis.high / step * 58.0 < axis.right - axis.left)
            .unwrap_or(7200.0);
        let mut time = 0.0;
        while time <= axis.high + 1e-6 {
            let last = time + step > axis.high + 1e-6;
            let text = if time == 0.0 || last { with_unit(&grouped(time, 0), "s") } else { grouped(time, 0) };
            let class = if last && axis.right - axis.x(time) < 24.0 { "q en" } else { "q" };
            add(out, &kit.label(class, if class == "q" { axis.x(time) } else { axis.right }, 156.0, &text)?)?;
            time += step;
        }
        Ok(())
    }

    /// The largest load factor, where the flight knows it.
    fn loads(&self, kit: &Kit, flight: &Trajectory, axis: &Axis, narrow: bool) -> Made<()> {
        let largest =
            flight.samples.iter().filter_map(|sample| Some((sample.load_factor_g?, sample.time_s))).max_by(|a, b| a.0.total_cmp(&b.0));
        match largest {
            Some((load, time_s)) if !narrow => {
                let x = axis.x(time_s);
                add(&self.still, &kit.path("ev", &format!("M{} {}V{}", round(x), FOOT - 10.0, FOOT))?)?;
                let class = if axis.right - x < 90.0 { "en q" } else { "st q" };
                let aside = if class == "en q" { -4.0 } else { 4.0 };
                add(&self.still, &kit.label(class, x + aside, FOOT - 3.0, &format!("{} most", with_unit(&grouped(load, 1), "g")))?)
            }
            _ => Ok(()),
        }
    }

    /// The ribbon's own colours in temperature: the picked tile's surface, else nothing lights up.
    fn glow(&self, kit: &Kit, model: &Model, flight: &Trajectory, axis: &Axis) -> Made {
        let defs = kit.svg("defs", &[])?;
        let (left, right) = (round(axis.x(0.0)), round(axis.x(flight.samples.last().map_or(1.0, |s| s.time_s))));
        let gradient =
            kit.svg("linearGradient", &[("id", "ribbon-glow"), ("gradientUnits", "userSpaceOnUse"), ("x1", &left), ("x2", &right)])?;
        let end = flight.samples.last().map_or(1.0, |s| s.time_s).max(1.0);
        // The reference sphere's own equilibrium: what a black face at the stagnation point would show.
        for stop in 0..=48 {
            let share = f64::from(stop) / 48.0;
            let heating = words::at_moment(flight, share * end).map_or(0.0, |s| s.reference_heating_w_m2.max(0.0));
            let kelvin = libm::pow(heating / (0.85 * 5.670374419e-8), 0.25);
            let colour = hex(kit.colours.rgb(&model.shown.scale, kelvin, model.dark));
            add(&gradient, &kit.svg("stop", &[("offset", &format!("{share:.4}")), ("stop-color", &colour)])?)?;
        }
        add(&defs, &gradient)?;
        Ok(defs)
    }

    fn moment(&mut self, model: &Model, flight: &Trajectory, axis: &Axis) -> Made<()> {
        let key = (model.time_s.map(f64::to_bits), model.units, model.revision.wrapping_add(self.pixels as u64), model.picked, model.entry);
        if !self.seen_moment.changed(key) {
            return Ok(());
        }
        let time_s = shown_time(model);
        let Some(sample) = words::at_moment(flight, time_s) else { return Ok(()) };
        let units = model.units;
        let x = axis.x(time_s);
        self.moment.set_attribute("transform", &format!("translate({},0)", round(x)))?;
        let narrow = self.pixels < 500.0;
        let what = if model.time_s.is_none() { " · peak of the flight" } else { "" };
        let full = format!(
            "{} · {} · {}{what}",
            Quantity::Time.text(time_s, units),
            Quantity::Altitude.text(sample.altitude_m, units),
            Quantity::Speed.text(sample.speed_m_s, units)
        );
        let long = |text: &str| 6.6 * text.chars().count() as f64;
        // The whole where it fits on either side of the cursor, else the time alone.
        let fits = !narrow && (x + 12.0 + long(&full) < axis.right || x - 12.0 - long(&full) > 4.0);
        let text = if fits { full.clone() } else { Quantity::Time.text(time_s, units) };
        let (class, at) = if x + 12.0 + long(&text) < axis.right { ("st nowt", x + 12.0) } else { ("en nowt", x - 12.0) };
        self.word.set_text_content(Some(&text));
        put(&self.word, &[("class", class), ("x", &round(at))])?;
        self.moment.class_list().toggle_with_force("peak", model.time_s.is_none())?;
        let _ = (&self.line, &self.flag);
        let last = flight.samples.last().map_or(0.0, |sample| sample.time_s);
        put(
            &self.moment,
            &[
                ("aria-valuemin", "0"),
                ("aria-valuemax", &format!("{last:.0}")),
                ("aria-valuenow", &format!("{time_s:.0}")),
                ("aria-valuetext", &full),
            ],
        )
    }
}

/// Where a key takes the moment: by a sample where samples are apart, at least a second; by a minute; to either end. `None` for another key.
pub fn step_by_key(model: &Model, key: &str) -> Option<f64> {
    let flight = model.flights.get(model.entry)?;
    let (first, last) = (flight.samples.first()?.time_s, flight.samples.last()?.time_s);
    let now = shown_time(model);
    let step = ((last - first) / flight.samples.len().max(2) as f64).max(1.0);
    let next = match key {
        "ArrowRight" | "ArrowUp" => now + step,
        "ArrowLeft" | "ArrowDown" => now - step,
        "PageUp" => now + 60.0,
        "PageDown" => now - 60.0,
        "Home" => first,
        "End" => last,
        _ => return None,
    };
    Some(next.clamp(first, last))
}

/// The moment that the cursor stands at: the chosen one, else the picked tile's peak, else the flight's hottest.
pub fn shown_time(model: &Model) -> f64 {
    let peak = model
        .picked
        .and_then(|index| model.results.as_ref()?.tiles.get(index))
        .map(words::governing_peak)
        .filter(|peak| peak.entry == model.entry);
    model
        .time_s
        .or(peak.map(|peak| peak.time_s))
        .or_else(|| model.flights.get(model.entry).and_then(words::hottest).map(|sample| sample.time_s))
        .unwrap_or(0.0)
}

/// The axis ends at a round time a little after the flight.
fn nice_end(end: f64) -> f64 {
    let step = if end > 1200.0 {
        300.0
    } else if end > 300.0 {
        60.0
    } else {
        10.0
    };
    (end / step).ceil() * step
}
