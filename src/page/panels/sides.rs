//! The reference relations side by side over the flight, each a line with its name, and at the moment as numbers with their spread.

use super::dom::{Kit, Made, Memo, add, add_all, clear, round};
use super::ribbon::shown_time;
use super::room::{Size, headed};
use crate::flight::Trajectory;
use crate::heating::reference::Relation;
use crate::page::model::Model;
use crate::report::axis::Axis;
use crate::report::numbers::{Quantity, grouped, ticks, with_unit};
use crate::report::reference::comparisons;
use crate::report::references;
use crate::scenario::UnitSystem;
use std::rc::Rc;
use web_sys::Element;

const HEIGHT: f64 = 220.0;
const TOP: f64 = 16.0;
const FOOT: f64 = 190.0;
const LEFT: f64 = 40.0;
/// Rows of the flight that the lines are drawn through.
const ROWS: usize = 80;
const CLASSES: [&str; 3] = ["own thin", "bound dash", "bound dot"];

type Seen = (Rc<Vec<Trajectory>>, usize, UnitSystem, u64);

pub struct Sides {
    root: Element,
    svg: Element,
    still: Element,
    line: Element,
    said: Element,
    size: Size,
    axis: Option<Axis>,
    seen: Option<Seen>,
    seen_moment: Memo<(u64, u64, UnitSystem, usize)>,
}

impl Sides {
    pub fn new(kit: &Kit) -> Made<Self> {
        let under =
            "Stagnation heating of the same sphere, cold wall, by three published relations. They lie apart: a spread, not an uncertainty.";
        let (root, _) = headed(kit, "plot sides", "Reference heating, side by side", under)?;
        let svg = kit
            .svg("svg", &[("id", "sides"), ("class", "bl"), ("width", "100%"), ("height", &HEIGHT.to_string()), ("aria-hidden", "true")])?;
        let (still, line) = (kit.svg("g", &[])?, kit.path("now", "")?);
        add(&svg, &still)?;
        add(&svg, &line)?;
        let said = kit.html("div", "numbers")?;
        said.set_id("sides-said");
        add(&root, &svg)?;
        add(&root, &said)?;
        let known = kit.html("details", "sources")?;
        add(&known, &kit.said("summary", "", "What comparison with flight and test says of it")?)?;
        for line in comparisons() {
            add(&known, &kit.said("p", "q", &line)?)?;
        }
        add(&root, &known)?;
        Ok(Self { root, svg, still, line, said, size: Size::default(), axis: None, seen: None, seen_moment: Memo::default() })
    }

    pub fn root(&self) -> &Element {
        &self.root
    }

    pub fn resized(&mut self) {
        self.size.forget();
        self.seen = None;
        self.seen_moment.forget();
    }

    pub fn render(&mut self, kit: &Kit, model: &Model) -> Made<()> {
        let pixels = self.size.of(&self.svg);
        let Some(flight) = model.flights.get(model.entry).filter(|flight| flight.samples.len() > 1 && pixels > 120.0) else {
            return Ok(());
        };
        let same = self.seen.as_ref().is_some_and(|(flights, entry, units, width)| {
            Rc::ptr_eq(flights, &model.flights) && (*entry, *units, *width) == (model.entry, model.units, pixels as u64)
        });
        if !same {
            let end = flight.samples.last().map_or(1.0, |sample| sample.time_s).max(1.0);
            let axis = Axis { low: 0.0, high: end, left: LEFT, right: pixels - 12.0, gap: 0.0 };
            self.still(kit, model.units, flight, &axis)?;
            self.axis = Some(axis);
            self.seen = Some((model.flights.clone(), model.entry, model.units, pixels as u64));
            self.seen_moment.forget();
        }
        self.moment(kit, model, flight)
    }

    fn still(&self, kit: &Kit, units: UnitSystem, flight: &Trajectory, axis: &Axis) -> Made<()> {
        clear(&self.still);
        let (out, heating) = (&self.still, Quantity::Heating);
        let rows = references::along(flight, ROWS);
        let most = rows.iter().flat_map(|(_, sides)| sides.w_m2).flatten().fold(1.0, f64::max);
        let y = |value: f64| FOOT - (FOOT - TOP) * value / most;
        for tick in ticks(0.0, heating.shown(most, units), 4) {
            let at = y(heating.si(tick, units));
            add(out, &kit.path("gr", &format!("M{} {}H{}", round(axis.left), round(at), round(axis.right)))?)?;
            add(out, &kit.label("en q", axis.left - 6.0, at + 3.5, &grouped(tick, 0))?)?;
        }
        add(out, &kit.label("st q", 0.0, 10.0, heating.unit(units))?)?;
        for tick in ticks(0.0, axis.high, if axis.right - axis.left < 200.0 { 2 } else { 4 }) {
            add(out, &kit.label("q", axis.x(tick), HEIGHT - 12.0, &with_unit(&grouped(tick, 0), "s"))?)?;
        }
        for (relation, class) in Relation::ALL.into_iter().zip(CLASSES) {
            let points: Vec<String> = (rows.iter())
                .filter_map(|(time_s, sides)| Some(format!("{} {}", round(axis.x(*time_s)), round(y(sides.of(relation)?)))))
                .collect();
            if points.len() < 2 {
                continue;
            }
            add(out, &kit.path(class, &format!("M{}", points.join("L")))?)?;
        }
        Ok(())
    }

    fn moment(&mut self, kit: &Kit, model: &Model, flight: &Trajectory) -> Made<()> {
        let time_s = shown_time(model);
        let Some(axis) = self.axis else { return Ok(()) };
        if !self.seen_moment.changed((time_s.to_bits(), model.revision, model.units, model.entry)) {
            return Ok(());
        }
        self.line.set_attribute("d", &format!("M{} {TOP}V{FOOT}", round(axis.x(time_s))))?;
        clear(&self.said);
        let Some(sample) = flight.at(time_s) else { return Ok(()) };
        let sides = references::at(&sample, flight.nose_radius_m);
        add(&self.said, &kit.said("p", "", &format!("At {}:", Quantity::Time.text(time_s, model.units)))?)?;
        let list = kit.html("dl", "")?;
        for (relation, class) in Relation::ALL.into_iter().zip(CLASSES) {
            let term = kit.html("dt", "")?;
            // A stroke of the line before its name: the key of the plot.
            let stroke = kit.svg("svg", &[("class", "bl"), ("width", "26"), ("height", "9"), ("aria-hidden", "true")])?;
            add(&stroke, &kit.path(class, "M1 5H23")?)?;
            add_all(&term, &[&stroke, &kit.said("span", "", relation.name())?])?;
            let value = sides.of(relation).map_or("—".to_string(), |value| Quantity::Heating.text(value, model.units));
            add_all(&list, &[&term, &kit.said("dd", "", &value)?])?;
        }
        let spread = Quantity::Percent.text(sides.spread_fraction(), model.units);
        add_all(&list, &[&kit.said("dt", "", "spread, largest over smallest")?, &kit.said("dd", "", &spread)?])?;
        add(&self.said, &list)
    }
}
