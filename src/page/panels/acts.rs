//! What a click or a key on a word asks for: one listener for the whole page, by the attribute that the word carries.

use super::dom::{Kit, Made, carrying};
use super::{Pane, Parts, redraw, short_brush};
use crate::page::model::{Action, Model};
use crate::scenario::{Colour, UnitSystem};
use std::cell::RefCell;
use std::rc::Rc;
use wasm_bindgen::{JsCast, JsValue};
use web_sys::{Element, Event, HtmlElement, KeyboardEvent};

pub fn listen(kit: &Kit, parts: &Rc<RefCell<Parts>>, again: Rc<dyn Fn()>) -> Made<()> {
    let page = kit.by_id("page")?;
    let (own, held) = (kit.clone(), parts.clone());
    kit.on(&page, "click", move |event| clicked(&own, &held, event));
    let (own, held) = (kit.clone(), parts.clone());
    kit.on(&page, "keydown", move |event| {
        let Some(key) = event.dyn_ref::<KeyboardEvent>() else { return };
        let Some(target) = event.target().and_then(|t| t.dyn_into::<Element>().ok()) else { return };
        let role = target.get_attribute("role").unwrap_or_default();
        match (role.as_str(), key.key().as_str()) {
            // An element of the drawing that acts as a button has no click of its own by key.
            ("button", "Enter" | " ") if target.tag_name() != "BUTTON" => {
                event.prevent_default();
                clicked(&own, &held, event);
            }
            ("tab", "ArrowRight" | "ArrowLeft") => {
                let sibling = if key.key() == "ArrowRight" { target.next_element_sibling() } else { target.previous_element_sibling() };
                if let Some(tab) = sibling.and_then(|tab| tab.dyn_into::<HtmlElement>().ok()) {
                    event.prevent_default();
                    tab.click();
                    let _ = tab.focus();
                }
            }
            _ => {}
        }
    });
    let last: Rc<RefCell<Option<String>>> = Rc::default();
    let own = kit.clone();
    kit.on(&page, "pointerover", move |event| {
        let tile = carrying(event, "data-tile").map(|(_, id)| id);
        if *last.borrow() != tile {
            *last.borrow_mut() = tile.clone();
            // The picture tells its own hovering.
            let shield = event.target().and_then(|t| t.dyn_into::<Element>().ok()).is_some_and(|element| element.id() == "shield");
            if let Some(model) = own.model().filter(|_| !shield) {
                own.send(Action::Hover(tile.and_then(|id| index_of(&model, &id))));
            }
        }
    });
    let window = web_sys::window().ok_or_else(|| JsValue::from_str("no window"))?;
    let held = parts.clone();
    kit.on(&window, "resize", move |_| {
        if let Ok(mut parts) = held.try_borrow_mut() {
            parts.resized();
        }
        again();
    });
    let (own, held) = (kit.clone(), parts.clone());
    kit.on(&window, "beforeprint", move |_| {
        if let (Some(model), Ok(mut parts)) = (own.on_screen(), held.try_borrow_mut()) {
            let _ = parts.brief.render(&own, &model);
        }
    });
    Ok(())
}

fn index_of(model: &Model, id: &str) -> Option<usize> {
    model.shield.tiles.iter().position(|tile| tile.id == id)
}

fn clicked(kit: &Kit, parts: &Rc<RefCell<Parts>>, event: &Event) {
    let Some(model) = kit.model() else { return };
    if let Some((_, key)) = carrying(event, "data-more") {
        return local(kit, parts, |parts| parts.chain.unfold(&key));
    }
    let tab = event.target().and_then(|t| t.dyn_into::<Element>().ok()).and_then(|element| element.closest("[role=tab]").ok().flatten());
    if let Some(tab) = tab {
        let pane = match tab.id().as_str() {
            "tab-table" => Pane::Table,
            "tab-findings" => Pane::Findings,
            "tab-work" => Pane::Work,
            "tab-sizing" => Pane::Sizing,
            "tab-ground" => Pane::Ground,
            _ => Pane::Shield,
        };
        local(kit, parts, |parts| parts.pane = pane);
        if pane == Pane::Shield {
            kit.send(Action::Map(tab.id() == "tab-map"));
        }
        return;
    }
    if let Some((element, act)) = carrying(event, "data-act") {
        return acted(kit, parts, &model, &element, &act);
    }
    if let Some((_, view)) = carrying(event, "data-view") {
        if let Some(known) = ["belly", "left", "right", "top", "tail", "nose"].into_iter().find(|known| *known == view) {
            kit.send(Action::Turn(known));
        }
        return;
    }
    if let Some((_, colour)) = carrying(event, "data-colour") {
        return kit.send(Action::Colour(Colour::from_word(&colour).unwrap_or_default()));
    }
    if let Some((_, class)) = carrying(event, "data-class") {
        // The same class again shows all.
        let range = class.parse::<f64>().ok().map(|class| [class, class]);
        return kit.send(Action::Brush(range.filter(|range| model.scenario.view.brush != Some(*range))));
    }
    if let Some(index) = carrying(event, "data-tile").and_then(|(_, id)| index_of(&model, &id)) {
        kit.send(Action::Pick(Some(index)));
    }
}

fn acted(kit: &Kit, parts: &Rc<RefCell<Parts>>, model: &Model, element: &Element, act: &str) {
    let number = |name: &str| element.get_attribute(name).and_then(|text| text.parse::<f64>().ok());
    match act {
        "undo" => kit.send(Action::Undo),
        "redo" => kit.send(Action::Redo),
        "units" => kit.send(Action::Units(if model.units == UnitSystem::Si { UnitSystem::Us } else { UnitSystem::Si })),
        "brief" => kit.send(Action::Print),
        "link" => kit.send(Action::CopyLink),
        "save" => kit.send(Action::SaveScenario),
        "save-table" => kit.send(Action::SaveTable),
        "save-findings" => kit.send(Action::SaveFindings),
        "save-points" => kit.send(Action::SavePoints),
        "save-damage" => kit.send(Action::SaveDamage("damage.csv")),
        "save-present" => kit.send(Action::SaveDamage("present.csv")),
        "save-work" => kit.send(Action::SaveWork),
        "demo" => {
            local(kit, parts, |parts| parts.open.close(kit));
            kit.send(Action::Demonstration);
        }
        "size" => kit.send(Action::Size),
        "take-sizes" => kit.send(Action::TakeSizes),
        "take-ground" => kit.send(Action::TakeGround),
        "save-fitted" => kit.send(Action::SaveFitted),
        "save-ground" => kit.send(Action::SaveGround),
        "stop" => kit.send(Action::Stop(true)),
        "go-on" => kit.send(Action::Stop(false)),
        "dismiss" => kit.send(Action::Dismiss),
        "open" => local(kit, parts, |parts| parts.open.toggle(kit)),
        "open-files" | "open-folder" => {
            local(kit, parts, |parts| parts.open.close(kit));
            if let Ok(parts) = parts.try_borrow() {
                parts.open.choose(act == "open-folder");
            }
        }
        "unfold-rank" => local(kit, parts, |parts| parts.stage.unfold()),
        "early" => {
            if let Some(scenario) = model.scenario.with_early_transition(model.entry) {
                kit.send(Action::Change { scenario: Box::new(scenario), done: true });
            }
        }
        "next" => kit.send(Action::PickNext),
        "bands" => kit.send(Action::Bands(!model.shown.scale.banded)),
        "peak" => kit.send(Action::Time(None)),
        "unbrush" => kit.send(Action::Brush(None)),
        "short" => {
            let short = short_brush(model);
            if model.shown.colour != Colour::Margin {
                kit.send(Action::Colour(Colour::Margin));
                kit.send(Action::Brush(short));
            } else {
                kit.send(Action::Brush(short.filter(|short| model.scenario.view.brush != Some(*short))));
            }
        }
        "pick" => {
            let index = element.get_attribute("data-tile").and_then(|id| index_of(model, &id));
            kit.send(Action::Pick(index));
        }
        "time" => {
            if let Some(entry) = number("data-entry").map(|entry| entry as usize).filter(|entry| *entry != model.entry) {
                kit.send(Action::Entry(entry));
            }
            kit.send(Action::Time(number("data-time")));
        }
        _ => {}
    }
}

/// A change of what is folded or open, and the drawing after it.
fn local(kit: &Kit, parts: &Rc<RefCell<Parts>>, change: impl FnOnce(&mut Parts)) {
    if let Ok(mut parts) = parts.try_borrow_mut() {
        change(&mut parts);
        parts.resized();
    }
    redraw(kit, parts);
}
