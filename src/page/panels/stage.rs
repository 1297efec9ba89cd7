//! Round the shield: what is seen (shield, map, table), the limiting tiles, the words that turn the view, the field that finds a tile.

use super::Pane;
use super::dom::{Kit, Made, Memo, add, add_all, clear, put, show, text};
use crate::page::model::{Action, Model};
use crate::report::numbers::{Quantity, counted};
use crate::report::words;
use crate::scenario::UnitSystem;
use wasm_bindgen::JsCast;
use web_sys::{Element, HtmlInputElement, KeyboardEvent};

/// Rows of the list before it is unfolded.
const FIRST: usize = 5;
/// Rows when unfolded; the table has them all.
const MOST: usize = 40;

/// Revision, edition of the results and whether their digest is there, picked tile, units, unfolded.
type SeenRank = (u64, (u64, bool), Option<usize>, UnitSystem, bool);

pub struct Stage {
    tabs: [Element; 7],
    shield: Element,
    overlay: Element,
    table: Element,
    inspection: Element,
    work: Element,
    sizing: Element,
    ground: Element,
    rank: Element,
    views: Element,
    seen: Element,
    found: Element,
    unfolded: bool,
    seen_rank: Memo<SeenRank>,
    seen_tab: Memo<(Pane, bool)>,
    seen_view: Memo<String>,
}

impl Stage {
    pub fn new(kit: &Kit) -> Made<Self> {
        let stage = kit.by_id("stage")?;
        let (shield, overlay, table) = (kit.by_id("shield")?, kit.by_id("stage-svg")?, kit.by_id("table")?);
        let (inspection, work) = (kit.by_id("inspection")?, kit.by_id("work")?);
        let (sizing, ground) = (kit.by_id("sizing")?, kit.by_id("ground")?);
        let top = kit.html("div", "top")?;
        let pick = kit.html("div", "pick")?;
        put(&pick, &[("role", "tablist"), ("aria-label", "What is seen")])?;
        let tab = |id: &str, label: &str, panel: &str| -> Made {
            let tab = kit.said("button", "tab", label)?;
            put(&tab, &[("type", "button"), ("role", "tab"), ("id", id), ("aria-controls", panel), ("aria-selected", "false")])?;
            Ok(tab)
        };
        let tabs = [
            tab("tab-shield", "Shield", "shield")?,
            tab("tab-map", "Map", "shield")?,
            tab("tab-table", "Table", "table")?,
            tab("tab-findings", "Findings", "inspection")?,
            tab("tab-work", "Work", "work")?,
            tab("tab-sizing", "Thickness", "sizing")?,
            tab("tab-ground", "Ground test", "ground")?,
        ];
        add_all(&pick, &tabs.each_ref())?;

        let find = kit.html("label", "find")?;
        add(&find, &kit.said("span", "", "Tile")?)?;
        let field = kit.html("input", "num")?;
        put(
            &field,
            &[("id", "find"), ("type", "text"), ("autocomplete", "off"), ("spellcheck", "false"), ("size", "6"), ("placeholder", "number")],
        )?;
        put(&field, &[("aria-label", "Tile number: type it and press Enter"), ("aria-describedby", "found")])?;
        let found = kit.html("span", "found")?;
        put(&found, &[("id", "found"), ("role", "status")])?;
        add_all(&find, &[&field, &found])?;
        add_all(&top, &[&pick, &find])?;

        let rank = kit.html("nav", "rank")?;
        put(&rank, &[("id", "rank"), ("aria-label", "Limiting tiles")])?;
        let views = kit.html("div", "views")?;
        views.set_id("views");
        let seen = kit.html("span", "seen")?;
        add(&views, &seen)?;
        for view in ["belly", "left", "right", "top", "nose", "tail"] {
            add(&views, &kit.word(view, &[("data-view", view), ("aria-label", &format!("Turn to the {view}"))])?)?;
        }
        add_all(&stage, &[&top, &rank, &views])?;

        Self::find(kit, &field, &found);
        let memo = (Memo::default(), Memo::default(), Memo::default());
        Ok(Self {
            tabs,
            shield,
            overlay,
            table,
            inspection,
            work,
            sizing,
            ground,
            rank,
            views,
            seen,
            found,
            unfolded: false,
            seen_rank: memo.0,
            seen_tab: memo.1,
            seen_view: memo.2,
        })
    }

    /// A tile's number, typed: Enter picks it, Escape empties the field.
    fn find(kit: &Kit, field: &Element, found: &Element) {
        let (own, found) = (kit.clone(), found.clone());
        kit.on(field, "keydown", move |event| {
            let (Some(event), Some(field)) =
                (event.dyn_ref::<KeyboardEvent>(), event.target().and_then(|t| t.dyn_into::<HtmlInputElement>().ok()))
            else {
                return;
            };
            match event.key().as_str() {
                "Escape" => field.set_value(""),
                "Enter" => {
                    event.prevent_default();
                    let wanted = field.value();
                    let wanted = wanted.trim();
                    let Some(model) = own.model() else { return };
                    match model.shield.tiles.iter().position(|tile| tile.id.eq_ignore_ascii_case(wanted)) {
                        Some(index) => {
                            found.set_text_content(None);
                            own.send(Action::Pick(Some(index)));
                        }
                        None if wanted.is_empty() => found.set_text_content(None),
                        None => found.set_text_content(Some(&format!("no tile {wanted}"))),
                    }
                }
                _ => {}
            }
        });
    }

    pub fn unfold(&mut self) {
        self.unfolded = !self.unfolded;
    }

    pub fn render(&mut self, kit: &Kit, model: &Model, pane: Pane) -> Made<()> {
        let map = model.scenario.view.map;
        if self.seen_tab.changed((pane, map)) {
            let picture = pane == Pane::Shield;
            for (tab, on) in self.tabs.iter().zip([
                picture && !map,
                picture && map,
                pane == Pane::Table,
                pane == Pane::Findings,
                pane == Pane::Work,
                pane == Pane::Sizing,
                pane == Pane::Ground,
            ]) {
                put(tab, &[("aria-selected", if on { "true" } else { "false" }), ("tabindex", if on { "0" } else { "-1" })])?;
            }
            show(&self.table, pane == Pane::Table);
            show(&self.inspection, pane == Pane::Findings);
            show(&self.work, pane == Pane::Work);
            show(&self.sizing, pane == Pane::Sizing);
            show(&self.ground, pane == Pane::Ground);
            for element in [&self.shield, &self.overlay, &self.rank, &self.views] {
                element.class_list().toggle_with_force("away", !picture)?;
            }
            // The map says itself how it lies; there is nothing to turn.
            show(&self.views, !map);
        }
        if model.picked.is_some() {
            self.found.set_text_content(None);
        }
        self.rank(kit, model)
    }

    /// How the shield is seen, in the view's words ("Seen from below, ahead and left").
    pub fn say_view(&mut self, words: &str) {
        if self.seen_view.changed(words.to_string()) {
            self.seen.set_text_content(Some(&format!("{words}. Turn to")));
        }
    }

    fn rank(&mut self, kit: &Kit, model: &Model) -> Made<()> {
        let key = (model.revision, (model.edition, model.digest.is_some()), model.picked, model.units, self.unfolded);
        if !self.seen_rank.changed(key) {
            return Ok(());
        }
        // A row that has the focus keeps it through the redraw.
        let focused = kit
            .document
            .active_element()
            .filter(|element| self.rank.contains(Some(element)))
            .and_then(|element| element.get_attribute("data-tile"));
        clear(&self.rank);
        let Some(results) = &model.results else {
            return Ok(());
        };
        let order = kit.ranked(results);
        let short =
            order.iter().take_while(|index| results.tiles.get(**index).and_then(|tile| tile.margin_k).is_some_and(|m| m < 0.0)).count();
        let of_interest = if short > 0 { short } else { order.len() };
        let rows = of_interest.min(if self.unfolded { MOST } else { FIRST });
        let heading = kit.html("h2", "")?;
        text(&heading, if short > 0 { "What limits, and why" } else { "What comes closest, and why" })?;
        if of_interest > FIRST {
            let more = match (self.unfolded, short) {
                (true, _) => "fewer".to_string(),
                (false, 0) => "more".to_string(),
                (false, _) => format!("{} more", of_interest - FIRST),
            };
            let word = kit.word(&more, &[("data-act", "unfold-rank"), ("aria-expanded", if self.unfolded { "true" } else { "false" })])?;
            add(&heading, &word)?;
        }
        add(&self.rank, &heading)?;
        let list = kit.html("div", if self.unfolded { "rows all" } else { "rows" })?;
        for index in order.iter().take(rows) {
            let (Some(tile), Some(result)) = (model.shield.tiles.get(*index), results.tiles.get(*index)) else {
                continue;
            };
            let margin_k = result.margin_k.unwrap_or(f64::NAN);
            let row = kit.html("button", "row")?;
            put(&row, &[("type", "button"), ("data-tile", &tile.id)])?;
            if model.picked == Some(*index) {
                row.set_attribute("aria-current", "true")?;
            }
            let why = words::why(&model.shield, results, *index, model.units);
            row.set_attribute("title", &format!("{}{}: {why}", tile.id, words::place(&tile.zone)))?;
            let margin =
                kit.said("span", if margin_k < 0.0 { "bad" } else { "ok" }, &Quantity::Difference.signed(margin_k, model.units))?;
            add_all(&row, &[&kit.said("b", "", &tile.id)?, &margin, &kit.said("span", "why", &why)?])?;
            add(&list, &row)?;
        }
        add(&self.rank, &list)?;
        if self.unfolded && of_interest > rows {
            add(&self.rank, &kit.said("p", "note", &format!("{} in all: see the table", counted(of_interest, "tile", "tiles")))?)?;
        }
        if let Some(id) = focused {
            // The list is attached only now; the focus set before it was in the document did not hold.
            let rows = list.children();
            for position in 0..rows.length() {
                if let Some(row) = rows.item(position).filter(|row| row.get_attribute("data-tile").as_deref() == Some(&id)) {
                    let _ = row.unchecked_into::<web_sys::HtmlElement>().focus();
                }
            }
        }
        Ok(())
    }
}
