//! The table of all tiles: the same values as the picture, sorted and filtered, reached by keyboard and read by a screen reader.
//!
//! Only the rows in the window stand in the document; their place among all is said by `aria-rowindex`.

use super::dom::{Kit, Made, Memo, add, add_all, carrying, clear, put, style};
use crate::assess::TileResult;
use crate::document::Sorting as _;
use crate::page::model::{Action, Model};
use crate::report::numbers::{NONE, Quantity, count, counted};
use crate::report::words;
use crate::scenario::UnitSystem;
use crate::shield::Tile;
use std::cell::{Cell, RefCell};
use std::rc::Rc;
use wasm_bindgen::JsCast;
use web_sys::{Element, Event, HtmlElement, HtmlInputElement, HtmlSelectElement, KeyboardEvent};

/// Height of a row, CSS pixels; the style sheet says the same.
const ROW: f64 = 25.0;
/// Rows drawn beyond the window on either side.
const SPARE: usize = 12;

/// A column: key, heading, quantity (none for a text).
struct Column {
    key: &'static str,
    label: &'static str,
    quantity: Option<Quantity>,
}

const fn column(key: &'static str, label: &'static str, quantity: Option<Quantity>) -> Column {
    Column { key, label, quantity }
}

const COLUMNS: [Column; 16] = [
    column("tile", "tile", None),
    column("zone", "zone", None),
    column("margin_k", "margin", Some(Quantity::Difference)),
    column("governed_by", "governed by", None),
    column("peak_surface_k", "peak surface", Some(Quantity::Temperature)),
    column("peak_surface_time_s", "at", Some(Quantity::Time)),
    column("limit_surface_k", "limit", Some(Quantity::Temperature)),
    column("heat_load_j_m2", "heat load", Some(Quantity::HeatLoad)),
    column("heating_factor_to_limit", "heating to limit", Some(Quantity::Factor)),
    column("material", "material", None),
    column("coating", "coating", None),
    column("thickness_mm", "thickness", Some(Quantity::Thickness)),
    column("area_m2", "area", Some(Quantity::Area)),
    column("mass_kg", "mass", Some(Quantity::Mass)),
    column("condition", "condition", None),
    column("disposition", "suggested", None),
];

enum Entry {
    Number(Option<f64>),
    Text(String),
}

#[derive(Default)]
struct State {
    /// Tiles in the order shown.
    order: Vec<usize>,
    sort: usize,
    falling: bool,
    filter: String,
    zone: String,
    /// Place in `order` of the row that the keyboard is on.
    at: usize,
}

/// Revision, results and their digest, units, picked tile, first row, rows.
type Seen = (u64, (u64, bool), UnitSystem, Option<usize>, usize, usize);

pub struct Table {
    scroll: Element,
    head: Element,
    body: Element,
    caption: Element,
    table: Element,
    zones: Element,
    state: Rc<RefCell<State>>,
    stale: Rc<Cell<bool>>,
    seen_head: Memo<(UnitSystem, usize, bool)>,
    seen_zones: Memo<String>,
    seen: Memo<Seen>,
}

impl Table {
    pub fn new(kit: &Kit, redraw: Rc<dyn Fn()>) -> Made<Self> {
        let panel = kit.by_id("table")?;
        let tools = kit.html("div", "tools")?;
        let filter = kit.html("input", "num wide")?;
        put(
            &filter,
            &[
                ("type", "search"),
                ("placeholder", "tile, zone, material"),
                ("aria-label", "Show rows that contain"),
                ("autocomplete", "off"),
            ],
        )?;
        let zones = kit.html("select", "")?;
        put(&zones, &[("aria-label", "Zone")])?;
        add_all(&tools, &[&filter, &zones])?;
        let exports = kit.html("span", "exports")?;
        for (label, act) in
            [("tiles.csv", "save-table"), ("scenario.json", "save"), ("findings.csv", "save-findings"), ("body_points.csv", "save-points")]
        {
            add(&exports, &kit.word(label, &[("data-act", act), ("aria-label", &format!("Save {label}"))])?)?;
        }
        add(&tools, &exports)?;
        let scroll = kit.html("div", "scroll")?;
        let (table, caption) = (kit.html("table", "tiles")?, kit.html("caption", "")?);
        let (head, body) = (kit.html("thead", "")?, kit.html("tbody", "")?);
        add_all(&table, &[&caption, &head, &body])?;
        add(&scroll, &table)?;
        add_all(&panel, &[&tools, &scroll])?;
        let state = Rc::new(RefCell::new(State { sort: 2, ..Default::default() }));
        let stale = Rc::new(Cell::new(true));
        let made = Self {
            scroll,
            head,
            body,
            caption,
            table,
            zones,
            state,
            stale,
            seen_head: Memo::default(),
            seen_zones: Memo::default(),
            seen: Memo::default(),
        };
        made.listen(kit, &filter, redraw);
        Ok(made)
    }

    fn listen(&self, kit: &Kit, filter: &Element, redraw: Rc<dyn Fn()>) {
        let (state, stale, again) = (self.state.clone(), self.stale.clone(), redraw.clone());
        kit.on(filter, "input", move |event| {
            if let Some(field) = event.target().and_then(|t| t.dyn_into::<HtmlInputElement>().ok()) {
                state.borrow_mut().filter = field.value().trim().to_lowercase();
                stale.set(true);
                again();
            }
        });
        let (state, stale, again) = (self.state.clone(), self.stale.clone(), redraw.clone());
        kit.on(&self.zones, "change", move |event| {
            if let Some(field) = event.target().and_then(|t| t.dyn_into::<HtmlSelectElement>().ok()) {
                state.borrow_mut().zone = field.value();
                stale.set(true);
                again();
            }
        });
        let (state, stale, again) = (self.state.clone(), self.stale.clone(), redraw.clone());
        kit.on(&self.head, "click", move |event| {
            let Some(index) = carrying(event, "data-sort").and_then(|(_, key)| COLUMNS.iter().position(|column| column.key == key)) else {
                return;
            };
            let mut state = state.borrow_mut();
            state.falling = if state.sort == index { !state.falling } else { false };
            state.sort = index;
            drop(state);
            stale.set(true);
            again();
        });
        let again = redraw.clone();
        kit.on(&self.scroll, "scroll", move |_| again());
        let (own, state, scroll) = (kit.clone(), self.state.clone(), self.scroll.clone());
        kit.on(&self.body, "keydown", move |event| keyed(&own, &state, &scroll, event, &redraw));
    }

    pub fn resized(&mut self) {
        self.seen.forget();
    }

    pub fn render(&mut self, kit: &Kit, model: &Model) -> Made<()> {
        let (sort, falling) = {
            let state = self.state.borrow();
            (state.sort, state.falling)
        };
        if self.seen_head.changed((model.units, sort, falling)) {
            self.head(kit, model.units, sort, falling)?;
        }
        self.zones(kit, model)?;
        if self.stale.replace(false) {
            self.seen.forget();
        }
        let top = f64::from(self.scroll.scroll_top());
        let tall = f64::from(self.scroll.client_height()).max(200.0);
        let first = ((top / ROW) as usize).saturating_sub(SPARE);
        let rows = (tall / ROW) as usize + 2 * SPARE;
        if !self.seen.changed((model.revision, (model.edition, model.digest.is_some()), model.units, model.picked, first, rows)) {
            return Ok(());
        }
        self.sort(model);
        self.body(kit, model, first, rows)
    }

    fn head(&self, kit: &Kit, units: UnitSystem, sort: usize, falling: bool) -> Made<()> {
        clear(&self.head);
        let row = kit.html("tr", "")?;
        row.set_attribute("aria-rowindex", "1")?;
        for (index, column) in COLUMNS.iter().enumerate() {
            let cell = kit.html("th", if column.quantity.is_some() { "r" } else { "" })?;
            let order = match (index == sort, falling) {
                (false, _) => "none",
                (true, false) => "ascending",
                (true, true) => "descending",
            };
            put(&cell, &[("scope", "col"), ("aria-sort", order)])?;
            let button = kit.html("button", "")?;
            put(&button, &[("type", "button"), ("data-sort", column.key)])?;
            add(&button, &kit.said("u", "", column.label)?)?;
            let unit = column.quantity.map_or("", |quantity| quantity.unit(units));
            if !unit.is_empty() {
                add(&button, &kit.said("span", "unit", unit)?)?;
            }
            add(
                &button,
                &kit.said(
                    "span",
                    "way",
                    if index != sort {
                        ""
                    } else if falling {
                        "↓"
                    } else {
                        "↑"
                    },
                )?,
            )?;
            add(&cell, &button)?;
            add(&row, &cell)?;
        }
        add(&self.head, &row)
    }

    fn zones(&mut self, kit: &Kit, model: &Model) -> Made<()> {
        if !self.seen_zones.changed(model.shield.digest.clone()) {
            return Ok(());
        }
        let mut names: Vec<&str> = model.shield.tiles.iter().map(|tile| tile.zone.as_str()).filter(|zone| !zone.is_empty()).collect();
        names.order();
        names.dedup();
        clear(&self.zones);
        for (value, label) in std::iter::once(("", "all zones")).chain(names.into_iter().map(|name| (name, name))) {
            let option = kit.said("option", "", label)?;
            option.set_attribute("value", value)?;
            add(&self.zones, &option)?;
        }
        self.state.borrow_mut().zone.clear();
        self.stale.set(true);
        Ok(())
    }

    fn sort(&self, model: &Model) {
        let mut state = self.state.borrow_mut();
        let blank = TileResult::default();
        let result = |index: usize| model.results.as_ref().and_then(|results| results.tiles.get(index)).unwrap_or(&blank);
        let wanted = |tile: &Tile| {
            let text = |index: usize| model.shield.library.materials.get(index).map_or("", |material| material.id.as_str());
            (state.zone.is_empty() || tile.zone == state.zone)
                && (state.filter.is_empty()
                    || tile.id.to_lowercase().contains(&state.filter)
                    || tile.zone.to_lowercase().contains(&state.filter)
                    || text(tile.material).contains(&state.filter)
                    || tile.coating.is_some_and(|coating| text(coating).contains(&state.filter)))
        };
        let mut keyed: Vec<(Entry, usize)> = model
            .shield
            .tiles
            .iter()
            .enumerate()
            .filter(|(_, tile)| wanted(tile))
            .map(|(index, tile)| (cell(model, COLUMNS[state.sort.min(COLUMNS.len() - 1)].key, tile, result(index)), index))
            .collect();
        let falling = state.falling;
        keyed.order_by(|(a, i), (b, j)| {
            let order = match (a, b) {
                // No value stands last in both directions.
                (Entry::Number(None), Entry::Number(None)) => std::cmp::Ordering::Equal,
                (Entry::Number(None), _) => return std::cmp::Ordering::Greater,
                (_, Entry::Number(None)) => return std::cmp::Ordering::Less,
                (Entry::Number(Some(a)), Entry::Number(Some(b))) => a.total_cmp(b),
                (Entry::Text(a), Entry::Text(b)) => a.cmp(b),
                _ => std::cmp::Ordering::Equal,
            };
            (if falling { order.reverse() } else { order }).then(i.cmp(j))
        });
        state.order = keyed.into_iter().map(|(_, index)| index).collect();
        state.at = state.at.min(state.order.len().saturating_sub(1));
    }

    fn body(&self, kit: &Kit, model: &Model, first: usize, rows: usize) -> Made<()> {
        let state = self.state.borrow();
        let focused = kit
            .document
            .active_element()
            .filter(|element| self.body.contains(Some(element)))
            .and_then(|element| element.get_attribute("data-tile"));
        clear(&self.body);
        let all = state.order.len();
        let first = first.min(all.saturating_sub(rows.min(all)));
        let last = (first + rows).min(all);
        self.table.set_attribute("aria-rowcount", &(all + 1).to_string())?;
        let unit = if model.results.is_some() { "" } else { ", not assessed yet" };
        let caption = match all == model.shield.tiles.len() {
            true => format!(
                "{}{unit}. Margins are nominal numbers of the surface where nothing else is said; advice to a qualified engineer.",
                counted(all, "tile", "tiles")
            ),
            false => format!("{} of {}{unit}", count(all), counted(model.shield.tiles.len(), "tile", "tiles")),
        };
        self.caption.set_text_content(Some(&caption));
        let spacer = |rows: usize| -> Made<()> {
            let (row, cell) = (kit.html("tr", "gap")?, kit.html("td", "")?);
            put(&row, &[("aria-hidden", "true")])?;
            cell.set_attribute("colspan", &COLUMNS.len().to_string())?;
            style(&cell, "height", &format!("{}px", rows as f64 * ROW));
            add(&row, &cell)?;
            add(&self.body, &row)
        };
        if first > 0 {
            spacer(first)?;
        }
        let blank = TileResult::default();
        // The one row that Tab reaches: the keyboard's, where it stands in the window, else the first.
        let reach = if (first..last).contains(&state.at) { state.at } else { first };
        for (place, index) in state.order.iter().enumerate().take(last).skip(first) {
            let Some(tile) = model.shield.tiles.get(*index) else { continue };
            let result = model.results.as_ref().and_then(|results| results.tiles.get(*index)).unwrap_or(&blank);
            let row = self.row(kit, model, tile, result)?;
            put(
                &row,
                &[
                    ("data-tile", &tile.id),
                    ("aria-rowindex", &(place + 2).to_string()),
                    ("tabindex", if place == reach { "0" } else { "-1" }),
                ],
            )?;
            if model.picked == Some(*index) {
                put(&row, &[("aria-selected", "true")])?;
            }
            add(&self.body, &row)?;
            if focused.as_deref() == Some(&tile.id) {
                let _ = row.unchecked_ref::<HtmlElement>().focus();
            }
        }
        if last < all {
            spacer(all - last)?;
        }
        Ok(())
    }

    fn row(&self, kit: &Kit, model: &Model, tile: &Tile, result: &TileResult) -> Made {
        let row = kit.html("tr", "")?;
        for column in &COLUMNS {
            let (text, class) = match (cell(model, column.key, tile, result), column.quantity) {
                (Entry::Number(None), _) => (NONE.to_string(), "r"),
                (Entry::Number(Some(value)), Some(Quantity::Difference)) => {
                    let signed = Quantity::Difference.signed(value, model.units);
                    let number = signed.split(crate::report::numbers::NARROW_SPACE).next().unwrap_or_default().to_string();
                    (number, if value < 0.0 { "r bad" } else { "r" })
                }
                (Entry::Number(Some(value)), Some(quantity)) => (quantity.number(value, model.units), "r"),
                (Entry::Number(Some(value)), None) => (value.to_string(), "r"),
                (Entry::Text(text), _) => (text, ""),
            };
            let tag = if column.key == "tile" { "th" } else { "td" };
            let cell = kit.said(tag, class, &text)?;
            if tag == "th" {
                cell.set_attribute("scope", "row")?;
            }
            add(&row, &cell)?;
        }
        Ok(row)
    }
}

fn cell(model: &Model, key: &str, tile: &Tile, result: &TileResult) -> Entry {
    let known = model.results.is_some();
    let number = |value: f64| Entry::Number(known.then_some(value));
    let text = |index: Option<usize>| {
        Entry::Text(index.and_then(|index| model.shield.library.materials.get(index)).map_or("none", |m| m.id.as_str()).to_string())
    };
    match key {
        "tile" => Entry::Text(tile.id.clone()),
        "zone" => Entry::Text(tile.zone.clone()),
        "margin_k" => Entry::Number(result.margin_k),
        "governed_by" => Entry::Text(result.governed_by.map_or("", words::governed).to_string()),
        "peak_surface_k" => number(result.surface.temperature_k),
        "peak_surface_time_s" => number(result.surface.time_s),
        "limit_surface_k" => Entry::Number(result.limit_surface_k),
        "heat_load_j_m2" => number(result.heat_load_j_m2),
        "heating_factor_to_limit" => Entry::Number(result.heating_factor_to_limit),
        "material" => text(Some(if known { result.effective.material } else { tile.material })),
        "coating" => text(if known { result.effective.coating } else { tile.coating }),
        "thickness_mm" => Entry::Number(Some(if known { result.effective.thickness_m } else { tile.thickness_m })),
        "area_m2" => Entry::Number(Some(tile.facet.area_m2)),
        "mass_kg" => number(result.mass_kg),
        "condition" => Entry::Text(if known { words::condition(result.condition) } else { words::state(tile.state) }.to_string()),
        "disposition" => Entry::Text(result.disposition.map_or("", words::disposition).to_string()),
        _ => Entry::Text(String::new()),
    }
}

/// Arrows move from row to row, Page by ten, Home and End to the ends; Enter and Space pick.
fn keyed(kit: &Kit, state: &Rc<RefCell<State>>, scroll: &Element, event: &Event, redraw: &Rc<dyn Fn()>) {
    let (Some(key), Some((_, id)), Some(model)) = (event.dyn_ref::<KeyboardEvent>(), carrying(event, "data-tile"), kit.model()) else {
        return;
    };
    let here = {
        let state = state.borrow();
        state.order.iter().position(|index| model.shield.tiles.get(*index).is_some_and(|tile| tile.id == id))
    };
    let (Some(here), last) = (here, state.borrow().order.len().saturating_sub(1)) else { return };
    let to = match key.key().as_str() {
        "ArrowDown" => here + 1,
        "ArrowUp" => here.saturating_sub(1),
        "PageDown" => here + 10,
        "PageUp" => here.saturating_sub(10),
        "Home" => 0,
        "End" => last,
        "Enter" | " " => {
            event.prevent_default();
            let index = state.borrow().order.get(here).copied();
            kit.send(Action::Pick(index));
            return;
        }
        _ => return,
    }
    .min(last);
    event.prevent_default();
    state.borrow_mut().at = to;
    // Two rows of head room for the heading that stays.
    let (top, tall) = (f64::from(scroll.scroll_top()), f64::from(scroll.client_height()));
    let wanted = to as f64 * ROW;
    if wanted < top + ROW {
        scroll.set_scroll_top((wanted - ROW).max(0.0) as i32);
    } else if wanted > top + tall - 4.0 * ROW {
        scroll.set_scroll_top((wanted - tall + 4.0 * ROW) as i32);
    }
    redraw();
    let target = state.borrow().order.get(to).and_then(|index| model.shield.tiles.get(*index)).map(|tile| tile.id.clone());
    let rows = scroll.query_selector_all("tr[data-tile]").ok();
    for position in 0..rows.as_ref().map_or(0, |rows| rows.length()) {
        let row = rows.as_ref().and_then(|rows| rows.item(position)).and_then(|node| node.dyn_into::<HtmlElement>().ok());
        if let Some(row) = row.filter(|row| row.get_attribute("data-tile") == target) {
            let _ = row.focus();
        }
    }
}
