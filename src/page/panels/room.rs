//! The trajectory room, opened by a word on the ribbon: the set of entries, the corridor, and the reference relations side by side.

use super::corridor::Corridor;
use super::dom::{Kit, Made, Memo, add, add_all, carrying, clear, put, show, text};
use super::plan::Plans;
use super::ribbon::shown_time;
use super::sides::Sides;
use crate::page::model::{Action, Model};
use crate::report::entries;
use crate::report::numbers::counted;
use crate::scenario::Scenario;
use std::cell::{Cell, RefCell};
use std::rc::Rc;
use wasm_bindgen::JsCast;
use web_sys::{Element, HtmlElement, HtmlInputElement, KeyboardEvent};

pub struct Room {
    root: Element,
    word: Element,
    list: Element,
    name: HtmlInputElement,
    alert: Element,
    words: Vec<Element>,
    corridor: Corridor,
    sides: Sides,
    open: Rc<Cell<bool>>,
    seen: Memo<(Vec<String>, usize, Vec<usize>)>,
    seen_name: Memo<(String, usize)>,
    seen_open: Memo<bool>,
    /// The name is being typed: results that arrive and the frame of an earlier change leave it alone.
    typed: Rc<Cell<bool>>,
}

impl Room {
    /// `again` draws what is on screen once more.
    pub fn new(kit: &Kit, panel: &Element, again: Rc<dyn Fn()>) -> Made<Self> {
        let root = kit.html("section", "room")?;
        put(&root, &[("id", "room"), ("aria-label", "Corridor and entries"), ("hidden", "")])?;
        let word = kit.word("Corridor and entries", &[("data-room", "open"), ("aria-expanded", "false"), ("aria-controls", "room")])?;
        let reverse = kit.word("Reverse the bank here", &[("data-room", "reverse")])?;
        let words_of = kit.html("div", "roomwords")?;
        add_all(&words_of, &[&word, &reverse])?;

        let set = kit.html("div", "set")?;
        let list = kit.html("ol", "")?;
        let field = kit.html("input", "")?;
        put(&field, &[("type", "text"), ("id", "entry-name"), ("aria-label", "Name of the entry shown"), ("maxlength", "60")])?;
        let (mut words, acts) = (Vec::new(), kit.html("div", "setwords")?);
        for (label, act) in [("Copy", "copy"), ("Earlier", "up"), ("Later", "down"), ("Remove", "remove")] {
            let word = kit.word(label, &[("data-room", act), ("aria-label", &format!("{label}: the entry shown"))])?;
            add(&acts, &word)?;
            words.push(word);
        }
        add(&acts, &kit.word("Add a file…", &[("data-act", "open-files")])?)?;
        add(&acts, &kit.word("Close", &[("data-room", "open")])?)?;
        let alert = kit.html("p", "alert")?;
        put(&alert, &[("role", "alert")])?;
        let hint = "The worst of the set governs each tile. An entry or a trajectory (CSV with any usual unit in its header, or JSON), or an \
                    atmosphere (CSV: altitude, temperature, pressure), dropped on this page, joins the set.";
        add_all(&set, &[&kit.said("h3", "", "The set of entries")?, &list, &field, &acts, &alert, &kit.said("p", "hint", hint)?])?;
        let (corridor, sides) = (Corridor::new(kit)?, Sides::new(kit)?);
        add_all(&root, &[&set, corridor.root(), sides.root()])?;
        add_all(panel, &[&words_of, &root])?;
        let made = Self {
            root,
            word,
            list,
            name: field.dyn_into()?,
            alert,
            words,
            corridor,
            sides,
            open: Rc::default(),
            seen: Memo::default(),
            seen_name: Memo::default(),
            seen_open: Memo::default(),
            typed: Rc::default(),
        };
        made.listen(kit, panel, &again);
        made.listen_name(kit);
        made.listen_escape(kit, &words_of, &again);
        Ok(made)
    }

    fn listen(&self, kit: &Kit, panel: &Element, again: &Rc<dyn Fn()>) {
        let (own, open, alert, again) = (kit.clone(), self.open.clone(), self.alert.clone(), again.clone());
        kit.on(panel, "click", move |event| {
            let Some(model) = own.model() else { return };
            if let Some((_, entry)) = carrying(event, "data-entry-shown") {
                return own.send(Action::Entry(entry.parse().unwrap_or(0)));
            }
            let Some((_, act)) = carrying(event, "data-room") else { return };
            alert.set_text_content(None);
            let changed = match act.as_str() {
                "open" => {
                    open.set(!open.get());
                    return again();
                }
                "reverse" => {
                    if !Plans::reverse(&own, &model, shown_time(&model)) {
                        let why =
                            "No bank to reverse at this moment: it is level, another reversal is near, or the flight was flown elsewhere.";
                        alert.set_text_content(Some(why));
                    }
                    return;
                }
                "copy" => entries::copied(&model.scenario, model.entry),
                "up" => entries::moved(&model.scenario, model.entry, -1),
                "down" => entries::moved(&model.scenario, model.entry, 1),
                "remove" => entries::removed(&model.scenario, model.entry),
                _ => None,
            };
            change(&own, changed);
        });
    }

    fn listen_name(&self, kit: &Kit) {
        let typed = self.typed.clone();
        kit.on(&self.name, "input", move |_| typed.set(true));
        let (own, alert, field, typed) = (kit.clone(), self.alert.clone(), self.name.clone(), self.typed.clone());
        kit.on(&self.name, "change", move |_| {
            typed.set(false);
            let Some(model) = own.model() else { return };
            match entries::renamed(&model.scenario, model.entry, &field.value()) {
                Ok(scenario) => {
                    alert.set_text_content(None);
                    change(&own, Some(scenario));
                }
                Err(why) => {
                    alert.set_text_content(Some(&why));
                    field.set_value(model.scenario.entries.get(model.entry).map_or("", |entry| entry.name.as_str()));
                }
            }
        });
    }

    /// Escape closes the room, also from the word that opened it, where the focus still is.
    fn listen_escape(&self, kit: &Kit, words_of: &Element, again: &Rc<dyn Fn()>) {
        for part in [&self.root, words_of] {
            let (open, word, again) = (self.open.clone(), self.word.clone(), again.clone());
            kit.on(part, "keydown", move |event| {
                if event.dyn_ref::<KeyboardEvent>().is_some_and(|key| key.key() == "Escape") && open.get() {
                    event.stop_propagation();
                    open.set(false);
                    if let Some(word) = word.dyn_ref::<HtmlElement>() {
                        let _ = word.focus();
                    }
                    again();
                }
            });
        }
    }

    pub fn resized(&mut self) {
        self.corridor.resized();
        self.sides.resized();
    }

    pub fn render(&mut self, kit: &Kit, model: &Model) -> Made<()> {
        let open = self.open.get();
        if self.seen_open.changed(open) {
            show(&self.root, open);
            put(&self.word, &[("aria-expanded", if open { "true" } else { "false" })])?;
            self.resized();
        }
        if !open {
            return Ok(());
        }
        self.set(kit, model)?;
        self.corridor.render(kit, model)?;
        self.sides.render(kit, model)
    }

    fn set(&mut self, kit: &Kit, model: &Model) -> Made<()> {
        let names: Vec<String> = model.scenario.entries.iter().map(|entry| entry.name.clone()).collect();
        let shown = names.get(model.entry).cloned().unwrap_or_default();
        if self.seen_name.changed((shown.clone(), model.entry)) && !self.typed.get() {
            self.name.set_value(&shown);
        }
        let mut governs = vec![0; names.len()];
        for entry in model.results.iter().flat_map(|results| &results.tiles).filter_map(|tile| tile.governing_entry) {
            if let Some(count) = governs.get_mut(entry) {
                *count += 1;
            }
        }
        if !self.seen.changed((names.clone(), model.entry, governs.clone())) {
            return Ok(());
        }
        let inside = kit.document.active_element().filter(|element| self.list.contains(Some(element)));
        clear(&self.list);
        for (i, (name, count)) in names.iter().zip(&governs).enumerate() {
            let item = kit.html("li", if i == model.entry { "shown" } else { "" })?;
            let word =
                kit.word(name, &[("data-entry-shown", &i.to_string()), ("aria-pressed", if i == model.entry { "true" } else { "false" })])?;
            let said =
                if model.results.is_some() { format!("governs {}", counted(*count, "tile", "tiles")) } else { "not yet".to_string() };
            add_all(&item, &[&word, &kit.said("span", "q", &said)?])?;
            add(&self.list, &item)?;
        }
        if inside.is_some()
            && let Some(element) = self.list.query_selector("li.shown button")?.and_then(|element| element.dyn_into::<HtmlElement>().ok())
        {
            element.focus()?;
        }
        let can = [true, model.entry > 0, model.entry + 1 < names.len(), names.len() > 1];
        for (word, can) in self.words.iter().zip(can) {
            word.toggle_attribute_with_force("disabled", !can)?;
        }
        Ok(())
    }
}

fn change(kit: &Kit, changed: Option<Scenario>) {
    if let Some(scenario) = changed {
        kit.send(Action::Change { scenario: Box::new(scenario), done: true });
    }
}

/// A heading over a plot, with a line of explanation under it.
pub fn headed(kit: &Kit, class: &str, title: &str, under: &str) -> Made<(Element, Element)> {
    let root = kit.html("div", class)?;
    let line = kit.html("p", "q")?;
    text(&line, under)?;
    add_all(&root, &[&kit.said("h3", "", title)?, &line])?;
    Ok((root, line))
}

/// A plot's size, measured once and after a change of the window.
#[derive(Default)]
pub struct Size(RefCell<f64>);

impl Size {
    pub fn of(&self, svg: &Element) -> f64 {
        let mut size = self.0.borrow_mut();
        if *size < 1.0 {
            *size = super::dom::width(svg);
        }
        *size
    }

    pub fn forget(&self) {
        *self.0.borrow_mut() = 0.0;
    }
}
