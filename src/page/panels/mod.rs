//! Everything on the page but the shield's picture: built once, then changed where the model changed.
//!
//! | file | idea |
//! | --- | --- |
//! | `dom` | the document, made and changed by small functions |
//! | `colour`, `marks` | a value's colour; a condition's mark |
//! | `head` | the verdict, what it rests on, the words that act |
//! | `stage` | round the shield: tabs, limiting tiles, views, finding a tile |
//! | `scale`, `legend`, `brush` | what colours mean, how values spread, the filter |
//! | `ribbon`, `plan` | the flight and its moment; the plans' points |
//! | `room`, `corridor`, `sides` | the set of entries; altitude over speed; reference relations side by side |
//! | `chain`, `slider`, `card` | inputs and the picked tile, step by step |
//! | `tolerated` | what the tiles tolerate, beside the colours and on the card |
//! | `through` | the picked tile's temperatures over the whole history and through its thickness |
//! | `table` | all tiles |
//! | `inspection`, `inspected` | all findings, and the form of one; condition by zone, and what a finding does |
//! | `lived`, `with_finding` | a tile's flights; the tile without and with its findings |
//! | `turnaround` | the work before the next flight |
//! | `ground` | a ground test against its computed curves, and its fit |
//! | `sizing` | the thickness that every tile needs |
//! | `notice`, `open` | what was refused or said; opening and dropping files |
//! | `brief` | the sheet for print |
//!
//! All state but what is folded lives in the app: a panel sends an `Action` and is drawn from the next `Model`.

mod acts;
mod brief;
mod brush;
mod card;
mod chain;
mod colour;
mod corridor;
mod dom;
mod ground;
mod head;
mod inspected;
mod inspection;
mod legend;
mod lived;
mod marks;
mod notice;
mod open;
mod plan;
mod ribbon;
mod room;
mod scale;
mod sides;
mod sizing;
mod slider;
mod stage;
mod table;
mod through;
mod tolerated;
mod turnaround;
mod with_finding;

use crate::page::model::{Action, Model};
use crate::report::words;
use crate::scenario::{Colour, UnitSystem};
use brief::Brief;
use chain::Chain;
use dom::{Kit, Memo, show};
use gloo_timers::callback::Timeout;
use ground::Ground;
use head::Head;
use inspection::Inspection;
use notice::Notice;
use open::Open;
use ribbon::Ribbon;
use scale::Scale;
use sizing::Sizing;
use stage::Stage;
use std::cell::RefCell;
use std::rc::{Rc, Weak};
use table::Table;
use turnaround::Turnaround;
use wasm_bindgen::JsValue;
use web_sys::Document;

/// The panels of the page.
pub struct Panels {
    kit: Kit,
    parts: Rc<RefCell<Parts>>,
}

/// What stands in the picture's place: the shield (or its map), or a list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Pane {
    Shield,
    Table,
    Findings,
    Work,
    Sizing,
    Ground,
}

/// The panels themselves and what is folded or open on them.
struct Parts {
    head: Head,
    stage: Stage,
    scale: Scale,
    ribbon: Ribbon,
    chain: Chain,
    table: Table,
    inspection: Inspection,
    turnaround: Turnaround,
    sizing: Sizing,
    ground: Ground,
    /// The ground test that was drawn last: another one comes to the front.
    seen_ground: u64,
    notice: Notice,
    open: Open,
    brief: Brief,
    /// What stands in the shield's place.
    pane: Pane,
    seen_body: Memo<(UnitSystem, Colour, bool, bool)>,
    /// The brief is drawn when the page has come to rest.
    later: Option<Timeout>,
}

impl Panels {
    /// Builds the panels into the frame of index.html. `dispatch` hands an action to the app; it is never called while `render` runs. `refresh`
    /// brings the inputs of a model up to the app's.
    ///
    /// # Errors
    /// The document lacks a part of the frame.
    pub fn new(document: Document, dispatch: Rc<dyn Fn(Action)>, refresh: Rc<dyn Fn(&mut Model)>) -> Result<Self, JsValue> {
        let kit = Kit::new(document, dispatch, refresh);
        let frame = kit.by_id("page")?;
        let slot: Rc<RefCell<Weak<RefCell<Parts>>>> = Rc::default();
        let again: Rc<dyn Fn()> = {
            let (slot, kit) = (slot.clone(), kit.clone());
            Rc::new(move || {
                let parts = slot.borrow().upgrade();
                if let Some(parts) = parts {
                    redraw(&kit, &parts);
                }
            })
        };
        let parts = Parts {
            head: Head::new(&kit)?,
            stage: Stage::new(&kit)?,
            scale: Scale::new(&kit)?,
            ribbon: Ribbon::new(&kit, again.clone())?,
            chain: Chain::new(&kit)?,
            table: Table::new(&kit, again.clone())?,
            inspection: Inspection::new(&kit, again.clone())?,
            turnaround: Turnaround::new(&kit)?,
            sizing: Sizing::new(&kit)?,
            ground: Ground::new(&kit)?,
            seen_ground: 0,
            notice: Notice::new(&kit)?,
            open: Open::new(&kit)?,
            brief: Brief::new(&kit)?,
            pane: Pane::Shield,
            seen_body: Memo::default(),
            later: None,
        };
        let parts = Rc::new(RefCell::new(parts));
        *slot.borrow_mut() = Rc::downgrade(&parts);
        acts::listen(&kit, &parts, again)?;
        if let Some(opening) = kit.document.get_element_by_id("opening") {
            opening.remove();
        }
        show(&frame, true);
        Ok(Self { kit, parts })
    }

    /// Draws what changed since the last model.
    ///
    /// # Errors
    /// The document refused a change: a defect of the page, never of an input.
    pub fn render(&mut self, model: &Model) -> Result<(), JsValue> {
        self.kit.begin(model);
        let drawn = self
            .parts
            .try_borrow_mut()
            .map_err(|_| JsValue::from_str("the panels are being drawn"))
            .and_then(|mut parts| parts.render(&self.kit, model));
        self.kit.end();
        if let Ok(mut parts) = self.parts.try_borrow_mut() {
            parts.brief_later(&self.kit, &self.parts);
        }
        drawn
    }

    /// Says how the shield is seen, in the view's words ("Seen from below, ahead and left").
    pub fn say_view(&mut self, words: &str) {
        if let Ok(mut parts) = self.parts.try_borrow_mut() {
            parts.stage.say_view(words);
        }
    }

    /// The picture of the brief: a data or blob URL of the shield as seen.
    pub fn set_picture(&mut self, url: &str) {
        if let Ok(parts) = self.parts.try_borrow() {
            parts.brief.set_picture(url);
        }
    }

    /// Brings the brief up to date now, before the page is printed.
    pub fn prepare_brief(&mut self) {
        if let (Some(model), Ok(mut parts)) = (self.kit.on_screen(), self.parts.try_borrow_mut()) {
            let _ = parts.brief.render(&self.kit, &model);
        }
    }

    /// Whether a list stands in the shield's place, so that the view need not draw.
    pub fn table_is_open(&self) -> bool {
        self.parts.try_borrow().is_ok_and(|parts| parts.pane != Pane::Shield)
    }
}

/// Draws the model on screen again, after something was folded or measured anew.
fn redraw(kit: &Kit, parts: &Rc<RefCell<Parts>>) {
    if let (Ok(mut parts), Some(model)) = (parts.try_borrow_mut(), kit.on_screen()) {
        kit.begin(&model);
        let _ = parts.render(kit, &model);
        kit.end();
    }
}

impl Parts {
    fn render(&mut self, kit: &Kit, model: &Model) -> Result<(), JsValue> {
        let turn = model.ground.as_ref().map_or(0, |test| test.turn);
        if std::mem::replace(&mut self.seen_ground, turn) != turn {
            self.pane = Pane::Ground;
        }
        self.head.render(kit, model)?;
        self.stage.render(kit, model, self.pane)?;
        self.scale.render(kit, model)?;
        self.ribbon.render(kit, model)?;
        self.chain.render(kit, model)?;
        match self.pane {
            Pane::Shield => {}
            Pane::Table => self.table.render(kit, model)?,
            Pane::Findings => self.inspection.render(kit, model)?,
            Pane::Work => self.turnaround.render(kit, model)?,
            Pane::Sizing => self.sizing.render(kit, model)?,
            Pane::Ground => self.ground.render(kit, model)?,
        }
        self.notice.render(kit, model)?;
        self.body(kit, model)
    }

    fn body(&mut self, kit: &Kit, model: &Model) -> Result<(), JsValue> {
        // Nothing of this state is still to come: neither a margin nor a cell of the table.
        let full = model.digest.is_some();
        if !self.seen_body.changed((model.units, model.shown.colour, model.full, full)) {
            return Ok(());
        }
        let Some(body) = kit.document.body() else { return Ok(()) };
        let colour = model.shown.colour.word();
        let units = if model.units == UnitSystem::Us { "us" } else { "si" };
        let digit = |yes: bool| if yes { "1" } else { "0" };
        dom::put(
            &body,
            &[("data-units", units), ("data-colour", colour), ("data-estimate", digit(!model.full)), ("data-full", digit(full))],
        )
    }

    fn brief_later(&mut self, kit: &Kit, own: &Rc<RefCell<Parts>>) {
        let (kit, own) = (kit.clone(), Rc::downgrade(own));
        self.later = Some(Timeout::new(400, move || {
            let (Some(parts), Some(model)) = (own.upgrade(), kit.on_screen()) else { return };
            if let Ok(mut parts) = parts.try_borrow_mut() {
                let _ = parts.brief.render(&kit, &model);
            }
        }));
    }

    fn resized(&mut self) {
        self.scale.resized();
        self.ribbon.resized();
        self.chain.resized();
        self.table.resized();
        self.inspection.resized();
        self.sizing.resized();
    }
}

/// The largest negative margin: the upper end of a brush that shows the short tiles alone.
fn short_brush(model: &Model) -> Option<[f64; 2]> {
    let results = model.results.as_ref()?;
    let short: Vec<f64> = words::ranked(results)
        .into_iter()
        .filter_map(|index| results.tiles.get(index)?.margin_k)
        .take_while(|margin_k| *margin_k < 0.0)
        .collect();
    Some([*short.first()?, *short.last()?])
}
