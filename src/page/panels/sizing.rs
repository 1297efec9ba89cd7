//! The thickness that every tile needs, in the shield's place: what is asked, zone by zone, and the tiles that no thickness helps.

use super::dom::{Kit, Made, Memo, add, add_all, clear, put, show};
use crate::assess::sizing::{Need, Sizing as Sized};
use crate::document::Sorting as _;
use crate::page::model::{Action, Model};
use crate::report::numbers::{self, NONE, Quantity, count, counted};
use crate::report::thickness::{Zone, by_zone};
use crate::scenario::{Scenario, UnitSystem};
use wasm_bindgen::JsCast;
use web_sys::{Element, HtmlInputElement};

/// Tiles listed under the zones.
const LISTED: usize = 60;

/// The four numbers that a shop and an engineer agree on: name, quantity, range in SI.
const ASKED: [(&str, &str, Quantity, [f64; 2]); 4] = [
    ("margin", "Margin to keep", Quantity::Difference, [0.0, 300.0]),
    ("step", "Step of the shop", Quantity::Thickness, [1e-5, 0.05]),
    ("minimum", "Thinnest", Quantity::Thickness, [1e-3, 0.5]),
    ("maximum", "Thickest", Quantity::Thickness, [1e-3, 0.5]),
];

pub struct Sizing {
    fields: Vec<Element>,
    told: Element,
    ask: Element,
    take: Element,
    state: Element,
    zones: Element,
    tiles: Element,
    seen: Memo<(u64, usize, bool, UnitSystem, [u64; 4])>,
}

fn value(scenario: &Scenario, name: &str) -> f64 {
    let sizing = &scenario.sizing;
    match name {
        "margin" => sizing.margin_k,
        "step" => sizing.step_mm / 1000.0,
        "minimum" => sizing.minimum_mm / 1000.0,
        _ => sizing.maximum_mm / 1000.0,
    }
}

fn with(scenario: &Scenario, name: &str, value: f64) -> Scenario {
    let mut scenario = scenario.clone();
    // Micrometres: what is typed is what is kept.
    let mm = (value * 1e6).round() / 1e3;
    match name {
        "margin" => scenario.sizing.margin_k = value,
        "step" => scenario.sizing.step_mm = mm,
        "minimum" => scenario.sizing.minimum_mm = mm,
        _ => scenario.sizing.maximum_mm = mm,
    }
    scenario
}

impl Sizing {
    pub fn new(kit: &Kit) -> Made<Self> {
        let panel = kit.by_id("sizing")?;
        let asks = kit.html("div", "sizes")?;
        let told = kit.html("p", "told")?;
        put(&told, &[("role", "alert"), ("id", "sizing-told"), ("hidden", "")])?;
        let mut fields = Vec::new();
        for (name, label, ..) in ASKED {
            let ask = kit.html("label", "")?;
            let field = kit.html("input", "num")?;
            put(&field, &[("type", "text"), ("inputmode", "decimal"), ("data-size", name), ("aria-describedby", "sizing-told")])?;
            let unit = kit.html("i", "")?;
            add_all(&ask, &[&kit.said("span", "", label)?, &field, &unit])?;
            add(&asks, &ask)?;
            fields.push(field);
        }
        let button = |label: &str, act: &str| -> Made {
            let button = kit.said("button", "btn", label)?;
            put(&button, &[("type", "button"), ("data-act", act)])?;
            Ok(button)
        };
        let (ask, take) = (button("Work out every tile", "size")?, button("Take these thicknesses over", "take-sizes")?);
        add_all(&asks, &[&ask, &take])?;
        let state = kit.html("p", "sized")?;
        state.set_attribute("role", "status")?;
        let scroll = kit.html("div", "scroll")?;
        put(&scroll, &[("tabindex", "0"), ("role", "region"), ("aria-label", "Thickness by zone and tile")])?;
        let (zones, tiles) = (kit.html("table", "tiles")?, kit.html("table", "tiles")?);
        add_all(&scroll, &[&zones, &tiles])?;
        add_all(&panel, &[&asks, &told, &state, &scroll])?;
        let (own, told_held) = (kit.clone(), told.clone());
        kit.on(&asks, "change", move |event| {
            let Some(field) = event.target().and_then(|target| target.dyn_into::<HtmlInputElement>().ok()) else { return };
            let Some(model) = own.model() else { return };
            let name = field.get_attribute("data-size").unwrap_or_default();
            let Some((_, label, quantity, [low, high])) = ASKED.into_iter().find(|(known, ..)| *known == name) else { return };
            let typed = numbers::parse(&field.value()).map(|shown| quantity.si(shown, model.units)).filter(|si| *si >= low && *si <= high);
            let scenario = typed.map(|si| with(&model.scenario, &name, si)).filter(|made| made.sizing.minimum_mm <= made.sizing.maximum_mm);
            match scenario {
                Some(scenario) => {
                    show(&told_held, false);
                    own.send(Action::Change { scenario: Box::new(scenario), done: true });
                }
                None => {
                    let range = format!("{} to {}", quantity.number(low, model.units), quantity.text(high, model.units));
                    let why = format!("{label}: {:?} was not taken; {range}, the thinnest not above the thickest.", field.value());
                    told_held.set_text_content(Some(&why));
                    show(&told_held, true);
                    field.set_value(&quantity.number(value(&model.scenario, &name), model.units));
                }
            }
        });
        Ok(Self { fields, told, ask, take, state, zones, tiles, seen: Memo::default() })
    }

    pub fn render(&mut self, kit: &Kit, model: &Model) -> Made<()> {
        let done = model.sized.as_ref().map_or(0, |sized| 1 + sized.rows.len());
        let asked = ASKED.map(|(name, ..)| value(&model.scenario, name).to_bits());
        if !self.seen.changed((model.revision, done, model.full, model.units, asked)) {
            return Ok(());
        }
        for (field, (name, _, quantity, _)) in self.fields.iter().zip(ASKED) {
            let focused = kit.document.active_element().is_some_and(|active| active.is_same_node(Some(field)));
            if let Some(field) = field.dyn_ref::<HtmlInputElement>().filter(|_| !focused) {
                field.set_value(&quantity.number(value(&model.scenario, name), model.units));
            }
            if let Some(unit) = field.next_element_sibling() {
                unit.set_text_content(Some(quantity.unit(model.units)));
            }
        }
        let sized = model.sized.as_ref();
        let whole = sized.filter(|sized| sized.rows.len() == sized.total);
        for (button, can) in [(&self.ask, whole.is_none() && sized.is_none()), (&self.take, whole.is_some())] {
            button.toggle_attribute_with_force("disabled", !can)?;
        }
        clear(&self.zones);
        clear(&self.tiles);
        let words = match (sized, whole) {
            (None, _) if !model.full => "The results in depth come first.".to_string(),
            (None, _) => {
                "Thickness that keeps the margin below the limits of glue line and structure, with the policy counted.".to_string()
            }
            (Some(sized), None) => format!("{} of {} worked out.", count(sized.rows.len()), counted(sized.total, "tile", "tiles")),
            (Some(_), Some(_)) => String::new(),
        };
        self.state.set_text_content(Some(&words));
        let (Some(sized), Some(results)) = (whole, &model.results) else { return Ok(()) };
        let zones = by_zone(&model.shield, results, &sized.rows);
        if let Some(shield) = zones.first() {
            let added = shield.needed_kg - shield.mass_kg;
            let mut words = format!(
                "{} in place of {}: {}. {} grow, {} can shrink.",
                Quantity::Mass.text(shield.needed_kg, model.units),
                Quantity::Mass.text(shield.mass_kg, model.units),
                signed_mass(added, model.units),
                counted(shield.thicker, "tile", "tiles"),
                count(shield.thinner)
            );
            if shield.never > 0 {
                words.push_str(&format!(" No thickness within the limits keeps the margin of {}.", counted(shield.never, "tile", "tiles")));
            }
            if shield.surface_short > 0 {
                words.push_str(&format!(" The surface of {} falls short, which no thickness cools.", count(shield.surface_short)));
            }
            self.state.set_text_content(Some(&words));
        }
        self.zones(kit, model, &zones)?;
        self.listed(kit, model, &sized.rows)
    }

    fn zones(&self, kit: &Kit, model: &Model, zones: &[Zone]) -> Made<()> {
        let units = model.units;
        heading(kit, &self.zones, &["zone", "tiles", "area", "mass now", "mass needed", "change", "never"])?;
        let body = kit.html("tbody", "")?;
        for zone in zones {
            let row = kit.html("tr", "")?;
            let name = if zone.name.is_empty() { NONE } else { &zone.name };
            let head = kit.said("th", "", name)?;
            head.set_attribute("scope", "row")?;
            add(&row, &head)?;
            for text in [
                count(zone.tiles),
                Quantity::Area.text(zone.area_m2, units),
                Quantity::Mass.text(zone.mass_kg, units),
                Quantity::Mass.text(zone.needed_kg, units),
                signed_mass(zone.needed_kg - zone.mass_kg, units),
                if zone.never > 0 { count(zone.never) } else { NONE.to_string() },
            ] {
                add(&row, &kit.said("td", "r", &text)?)?;
            }
            add(&body, &row)?;
        }
        add(&self.zones, &body)
    }

    /// The tiles that gain most, and before them those that nothing helps.
    fn listed(&self, kit: &Kit, model: &Model, rows: &[Sized]) -> Made<()> {
        let Some(results) = &model.results else { return Ok(()) };
        let units = model.units;
        let now = |tile: usize| results.tiles.get(tile).map_or(0.0, |result| result.effective.thickness_m);
        let mut order: Vec<(f64, usize)> = (rows.iter().enumerate())
            .filter(|(_, sized)| !matches!(sized.need, Need::None))
            .map(|(tile, sized)| (sized.required_m.map_or(f64::INFINITY, |needed| needed - now(tile)), tile))
            .collect();
        order.order_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        heading(kit, &self.tiles, &["tile", "zone", "thickness now", "needed", "change", "margin then", ""])?;
        let body = kit.html("tbody", "")?;
        for (change, index) in order.iter().take(LISTED) {
            let (Some(tile), Some(sized)) = (model.shield.tiles.get(*index), rows.get(*index)) else { continue };
            let row = kit.html("tr", "")?;
            row.set_attribute("data-tile", &tile.id)?;
            let head = kit.html("th", "")?;
            head.set_attribute("scope", "row")?;
            add(&head, &kit.word(&tile.id, &[("data-tile", &tile.id)])?)?;
            add_all(&row, &[&head, &kit.said("td", "", &tile.zone)?])?;
            let thickness = |metres: Option<f64>| metres.map_or(NONE.to_string(), |metres| Quantity::Thickness.text(metres, units));
            let sign = if *change > 0.0 { "+" } else { "\u{2212}" };
            let changed = sized.required_m.map(|_| format!("{sign}{}", Quantity::Thickness.text(change.abs(), units)));
            let margin = sized.margin_k.map_or(NONE.to_string(), |margin| Quantity::Difference.signed(margin, units));
            for text in [thickness(Some(now(*index))), thickness(sized.required_m), changed.unwrap_or(NONE.to_string()), margin] {
                add(&row, &kit.said("td", "r", &text)?)?;
            }
            let why = match (sized.need, sized.surface_short) {
                (Need::NotAtMaximum, _) => "not at the thickest",
                (Need::Unknown, _) => "no valid answer in depth",
                (_, true) => "the surface falls short all the same",
                (Need::AtMinimum, _) => "the thinnest is enough",
                _ => "",
            };
            add(&row, &kit.said("td", "", why)?)?;
            add(&body, &row)?;
        }
        add(&self.tiles, &body)?;
        let rest = order.len().saturating_sub(LISTED);
        if rest > 0 {
            add(&self.tiles, &kit.said("caption", "", &format!("{} more tiles change less.", count(rest)))?)?;
        }
        Ok(())
    }

    /// Nothing is remembered of the last width.
    pub fn resized(&mut self) {
        show(&self.told, false);
    }
}

fn heading(kit: &Kit, table: &Element, labels: &[&str]) -> Made<()> {
    let (head, row) = (kit.html("thead", "")?, kit.html("tr", "")?);
    for (place, label) in labels.iter().enumerate() {
        let cell = if label.is_empty() { kit.html("td", "")? } else { kit.said("th", "", label)? };
        if !label.is_empty() {
            cell.set_attribute("scope", "col")?;
        }
        if place > 0 && !label.is_empty() && *label != "zone" {
            cell.set_class_name("r");
        }
        add(&row, &cell)?;
    }
    add(&head, &row)?;
    add(table, &head)
}

fn signed_mass(kg: f64, units: UnitSystem) -> String {
    let sign = if kg < 0.0 { "\u{2212}" } else { "+" };
    format!("{sign}{}", Quantity::Mass.text(kg.abs(), units))
}
