//! Under the findings: condition and risk by zone, nose to tail, and what a finding does to its tile, as the rows of the table.
//!
//! Both unfold. A zone's consequence is an input: where the user gives one, shares of risk stand beside the shares of area.

use super::colour::Colours;
use super::dom::{Kit, Made, Memo, add, add_all, carrying, clear, put, style};
use super::marks::mark;
use crate::assess::consequence::{State, Zone, state};
use crate::assess::{Condition, history};
use crate::page::model::{Action, Model};
use crate::report::numbers::{NARROW_SPACE, Quantity, count, grouped, parse};
use crate::report::ramp::{Scale, hex};
use crate::report::words;
use crate::scenario::UnitSystem;
use wasm_bindgen::JsCast;
use web_sys::{Element, HtmlInputElement};

pub struct Inspected {
    zones: Element,
    said: Element,
    effects: Element,
    colours: Colours,
    seen: Memo<(u64, u64, UnitSystem, bool)>,
    seen_effects: Memo<u64>,
}

fn percent(share: f64) -> String {
    format!("{}{NARROW_SPACE}%", grouped(100.0 * share, if share < 0.1 { 1 } else { 0 }))
}

/// An unfolding part with a table; its summary's words and the table's body come back.
fn part(kit: &Kit, panel: &Element, id: &str, title: &str, columns: &[&str]) -> Made<(Element, Element)> {
    let details = kit.html("details", "beneath")?;
    details.set_id(id);
    let summary = kit.html("summary", "w")?;
    add(&summary, &kit.said("u", "", title)?)?;
    let said = kit.html("p", "hint")?;
    let scroll = kit.html("div", "scroll")?;
    put(&scroll, &[("tabindex", "0"), ("role", "region"), ("aria-label", title)])?;
    let (table, head, body, row) = (kit.html("table", "tiles")?, kit.html("thead", "")?, kit.html("tbody", "")?, kit.html("tr", "")?);
    for label in columns {
        let cell = kit.said("th", "", label)?;
        cell.set_attribute("scope", "col")?;
        add(&row, &cell)?;
    }
    add(&head, &row)?;
    add_all(&table, &[&head, &body])?;
    add_all(&scroll, &[&said, &table])?;
    add_all(&details, &[&summary, &scroll])?;
    add(panel, &details)?;
    Ok((said, body))
}

impl Inspected {
    pub fn new(kit: &Kit, panel: &Element) -> Made<Self> {
        let beneath = kit.html("div", "under")?;
        add(panel, &beneath)?;
        let columns = ["zone", "tiles", "area", "consequence", "share of risk", "share of its area by condition", "tiles by condition"];
        let (said, zones) = part(kit, &beneath, "by-zone", "By zone, nose to tail", &columns)?;
        let columns = ["row", "of", "regime", "length over depth", "in the tunnel", "flight over tunnel", "counts", "range", "source"];
        let (hint, effects) = part(kit, &beneath, "by-effect", "What a finding does to its tile", &columns)?;
        hint.set_text_content(Some(
            "Factors on the heating of the face beside the cavity, laminar and turbulent apart, mixed by intermittency; a scenario’s own rows \
             (inspection.effects) replace those of the same name.",
        ));
        let own = kit.clone();
        kit.on(&zones, "change", move |event| {
            let Some((field, zone)) = carrying(event, "data-zone") else { return };
            let (Ok(field), Some(model)) = (field.dyn_into::<HtmlInputElement>(), own.model()) else { return };
            let mut scenario = (*model.scenario).clone();
            let text = field.value();
            match parse(&text).filter(|value| *value >= 0.0) {
                Some(value) => scenario.inspection.consequence.insert(zone, value),
                None if text.trim().is_empty() => scenario.inspection.consequence.remove(&zone),
                // What is no number shows again what stands.
                None => {
                    let stands = scenario.inspection.consequence.get(&zone).map_or(String::new(), f64::to_string);
                    return field.set_value(&stands);
                }
            };
            own.send(Action::Change { scenario: Box::new(scenario), done: true });
        });
        Ok(Self { zones, said, effects, colours: Colours::default(), seen: Memo::default(), seen_effects: Memo::default() })
    }

    pub fn render(&mut self, kit: &Kit, model: &Model) -> Made<()> {
        if self.seen.changed((model.revision, model.edition, model.units, model.dark))
            && let Some(results) = &model.results
        {
            let state = state(&model.shield, &model.scenario, results);
            self.said.set_text_content(Some(&said(model, &state)));
            clear(&self.zones);
            for zone in &state.zones {
                self.zone(kit, model, zone)?;
            }
        }
        if self.seen_effects.changed(model.revision) {
            self.effects(kit, model)?;
        }
        Ok(())
    }

    fn zone(&self, kit: &Kit, model: &Model, zone: &Zone) -> Made<()> {
        let row = kit.html("tr", "")?;
        let head = kit.said("th", "", if zone.zone.is_empty() { "no zone" } else { &zone.zone })?;
        head.set_attribute("scope", "row")?;
        let bar = kit.html("div", "shares")?;
        let counts = kit.html("td", "marked")?;
        let scale = Scale { kind: crate::report::ramp::ScaleKind::Condition, low: 0.0, high: 8.0, ..Scale::default() };
        let mut told = Vec::new();
        for (i, condition) in Condition::ALL.into_iter().enumerate().filter(|(i, _)| zone.count[*i] > 0) {
            let piece = kit.html("i", "")?;
            style(&piece, "width", &format!("{:.2}%", 100.0 * zone.area_share[i]));
            style(&piece, "background", &hex(self.colours.rgb(&scale, i as f64, model.dark)));
            add(&bar, &piece)?;
            told.push(format!("{} {}", percent(zone.area_share[i]), words::condition(condition)));
            let entry = kit.html("span", "")?;
            add_all(
                &entry,
                &[&mark(kit, condition)?, &kit.said("span", "", &format!("{} {}", count(zone.count[i]), words::condition(condition)))?],
            )?;
            add(&counts, &entry)?;
        }
        put(&bar, &[("role", "img"), ("aria-label", &told.join(", ")), ("title", &told.join(", "))])?;
        let shares = kit.html("td", "")?;
        add(&shares, &bar)?;
        let field = kit.html("input", "num")?;
        put(&field, &[("data-zone", &zone.zone), ("type", "text"), ("inputmode", "decimal"), ("size", "4"), ("placeholder", "1")])?;
        field.set_attribute("aria-label", &format!("Consequence of a lost tile, {}", zone.zone))?;
        let stands = model.scenario.inspection.consequence.get(&zone.zone).map_or(String::new(), f64::to_string);
        field.unchecked_ref::<HtmlInputElement>().set_value(&stands);
        let consequence = kit.html("td", "")?;
        add(&consequence, &field)?;
        let risk = kit.said("td", "r", &zone.risk_share.map_or(String::new(), percent))?;
        add_all(
            &row,
            &[&head, &kit.said("td", "r", &count(zone.tiles))?, &kit.said("td", "r", &Quantity::Area.text(zone.area_m2, model.units))?],
        )?;
        add_all(&row, &[&consequence, &risk, &shares, &counts])?;
        add(&self.zones, &row)
    }

    fn effects(&self, kit: &Kit, model: &Model) -> Made<()> {
        clear(&self.effects);
        for row in &model.effects.rows {
            let line = kit.html("tr", "")?;
            let head = kit.said("th", "", &row.effect)?;
            head.set_attribute("scope", "row")?;
            add(&line, &head)?;
            let regime = row.turbulent.map_or("both", |turbulent| if turbulent { "turbulent" } else { "laminar" });
            let ratio = match row.length_over_depth {
                Some([from, to]) if to >= 1e5 => format!("from {}", grouped(from, 0)),
                Some([from, to]) => format!("{} to {}", grouped(from, 0), grouped(to, 0)),
                None => String::new(),
            };
            let flight = if row.flight_over_tunnel == 1.0 { String::new() } else { grouped(row.flight_over_tunnel, 2) };
            let range = row.range.map_or(String::new(), |[low, high]| format!("{} to {}", grouped(low, 2), grouped(high, 2)));
            let (value, factor) = (grouped(row.value, 2), grouped(row.factor(), 2));
            for text in [row.what.word(), regime, &ratio, &value, &flight, &factor, &range, &row.source] {
                add(&line, &kit.said("td", "", text)?)?;
            }
            add(&self.effects, &line)?;
        }
        Ok(())
    }
}

fn said(model: &Model, state: &State) -> String {
    let flight = history::present_flight(&model.shield, &model.findings).map_or(String::new(), |flight| format!("After flight {flight}. "));
    let risk = match state.tiles_with_most_risk {
        Some(share) => format!(
            "{} of the tiles carry 85{NARROW_SPACE}% of the risk: consequence times the relative likelihood of losing a tile in its condition.",
            percent(share)
        ),
        None => "Say what a lost tile would mean by zone (relative to 1), and shares of risk stand beside.".to_string(),
    };
    format!("{flight}{risk}")
}
