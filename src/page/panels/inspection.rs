//! The findings in the shield's place: every one in a list, and a short form that says, changes or decides one.
//!
//! What is typed lives here until it is taken; taking it changes the scenario, so that undo, link and autosave follow. A row that
//! is refused says why in its form and changes nothing. Suggestion and decision stand apart.

use super::dom::{Kit, Made, Memo, add, add_all, carrying, clear, put};
use super::inspected::Inspected;
use crate::assess::Disposition;
use crate::document::Sorting as _;
use crate::page::model::{Action, Model};
use crate::report::finding_form::{self, ALWAYS, Answer, Judged, Question};
use crate::report::numbers::{Quantity, counted};
use crate::report::{CAUTION, words};
use crate::scenario::{Scenario, UnitSystem};
use crate::shield::findings::KINDS;
use crate::shield::{Finding, Tile};
use std::cell::RefCell;
use std::rc::Rc;
use wasm_bindgen::{JsCast, JsValue};
use web_sys::{Element, Event, HtmlElement, HtmlInputElement, HtmlSelectElement};

/// Rows in the document at once; the filter and the picked tile narrow the list, findings.csv holds them all.
const MOST: usize = 400;

/// Which finding the form is about.
#[derive(Clone, PartialEq, Default)]
enum Subject {
    #[default]
    Nothing,
    /// A new one, on the tile that was picked when it was begun.
    New,
    Known(String),
}

#[derive(Default)]
struct State {
    subject: Subject,
    /// (column, text) as typed; what is not here is shown as the finding says it.
    typed: Vec<(String, String)>,
    /// Why the form was not taken.
    told: String,
    filter: String,
    of_tile: bool,
    /// Rises with every change that the form must show.
    turn: u64,
}

impl State {
    fn about(&mut self, subject: Subject) {
        self.subject = subject;
        self.typed.clear();
        self.told.clear();
        self.turn += 1;
    }

    fn typed(&self, column: &str) -> Option<&str> {
        self.typed.iter().find(|(name, _)| name == column).map(|(_, text)| text.as_str())
    }

    fn keep(&mut self, column: &str, text: String) {
        self.typed.retain(|(name, _)| name != column);
        self.typed.push((column.to_string(), text));
    }
}

pub struct Inspection {
    beneath: Inspected,
    /// How far the findings' temperatures are, while their tables wait.
    solving: Element,
    body: Element,
    caption: Element,
    form: Element,
    state: Rc<RefCell<State>>,
    /// What the rules say of each finding of this revision.
    judged: Rc<RefCell<Vec<Judged>>>,
    seen_solving: Memo<Option<(usize, usize)>>,
    seen_judged: Memo<u64>,
    seen_list: Memo<(u64, u64, UnitSystem, Option<usize>, u64)>,
    seen_form: Memo<(u64, UnitSystem, u64)>,
}

impl Inspection {
    pub fn new(kit: &Kit, redraw: Rc<dyn Fn()>) -> Made<Self> {
        let panel = kit.by_id("inspection")?;
        let tools = kit.html("div", "tools")?;
        let filter = kit.html("input", "num wide")?;
        put(&filter, &[("type", "search"), ("placeholder", "finding, tile, kind, note"), ("autocomplete", "off")])?;
        put(&filter, &[("aria-label", "Show findings that contain")])?;
        let of_tile = kit.html("label", "only")?;
        let check = kit.html("input", "")?;
        put(&check, &[("type", "checkbox"), ("id", "only-picked")])?;
        add_all(&of_tile, &[&check, &kit.said("span", "", "picked tile only")?])?;
        let exports = kit.html("span", "exports")?;
        add(&exports, &kit.word("say what was found", &[("data-finding-new", "1")])?)?;
        add(&exports, &kit.word("findings.csv", &[("data-act", "save-findings"), ("aria-label", "Save findings.csv")])?)?;
        for (name, act) in [("damage.csv", "save-damage"), ("present.csv", "save-present")] {
            add(&exports, &kit.word(name, &[("data-act", act), ("aria-label", &format!("Solve every finding and save {name}"))])?)?;
        }
        let solving = kit.html("span", "hint")?;
        put(&solving, &[("id", "damaging"), ("role", "status")])?;
        add_all(&tools, &[&filter, &of_tile, &exports, &solving])?;
        let scroll = kit.html("div", "scroll")?;
        put(&scroll, &[("tabindex", "0"), ("role", "region"), ("aria-label", "Findings")])?;
        let (table, caption) = (kit.html("table", "tiles")?, kit.html("caption", "")?);
        let (head, body) = (kit.html("thead", "")?, kit.html("tbody", "")?);
        let row = kit.html("tr", "")?;
        for label in ["finding", "tile", "kind", "size", "found on", "flight", "suggested", "decided"] {
            let cell = kit.said("th", "", label)?;
            cell.set_attribute("scope", "col")?;
            add(&row, &cell)?;
        }
        add(&head, &row)?;
        add_all(&table, &[&caption, &head, &body])?;
        add(&scroll, &table)?;
        let form = kit.html("form", "finding")?;
        put(&form, &[("aria-label", "A finding"), ("novalidate", "")])?;
        add_all(&panel, &[&tools, &scroll, &form])?;
        let beneath = Inspected::new(kit, &panel)?;
        let made = Self {
            beneath,
            solving,
            body,
            caption,
            form,
            state: Rc::default(),
            judged: Rc::default(),
            seen_solving: Memo::default(),
            seen_judged: Memo::default(),
            seen_list: Memo::default(),
            seen_form: Memo::default(),
        };
        made.listen(kit, &panel, &filter, &check, redraw)?;
        Ok(made)
    }

    fn listen(&self, kit: &Kit, panel: &Element, filter: &Element, check: &Element, redraw: Rc<dyn Fn()>) -> Made<()> {
        let (state, again) = (self.state.clone(), redraw.clone());
        kit.on(filter, "input", move |event| {
            if let Some(field) = target::<HtmlInputElement>(event) {
                let mut state = state.borrow_mut();
                state.filter = field.value().trim().to_lowercase();
                state.turn += 1;
            }
            again();
        });
        let (state, again) = (self.state.clone(), redraw.clone());
        kit.on(check, "change", move |event| {
            if let Some(field) = target::<HtmlInputElement>(event) {
                let mut state = state.borrow_mut();
                state.of_tile = field.checked();
                state.turn += 1;
            }
            again();
        });
        let (own, state, again) = (kit.clone(), self.state.clone(), redraw.clone());
        kit.on(panel, "click", move |event| {
            if let Some((_, id)) = carrying(event, "data-finding") {
                state.borrow_mut().about(Subject::Known(id));
            } else if carrying(event, "data-finding-new").is_some() {
                state.borrow_mut().about(Subject::New);
            } else if carrying(event, "data-finding-close").is_some() {
                state.borrow_mut().about(Subject::Nothing);
            } else if let Some((_, id)) = carrying(event, "data-finding-remove") {
                let removed = own.model().and_then(|model| finding_form::without(&model.scenario, &id));
                state.borrow_mut().about(Subject::Nothing);
                if let Some(scenario) = removed {
                    own.send(Action::Change { scenario: Box::new(scenario), done: true });
                }
            } else {
                return;
            }
            again();
        });
        kit.on(&self.body, "keydown", |event| {
            let Some(key) = event.dyn_ref::<web_sys::KeyboardEvent>().map(web_sys::KeyboardEvent::key) else { return };
            let Some((row, _)) = carrying(event, "data-finding") else { return };
            let to = match key.as_str() {
                "ArrowDown" => row.next_element_sibling(),
                "ArrowUp" => row.previous_element_sibling(),
                "Enter" | " " => {
                    event.prevent_default();
                    row.unchecked_ref::<HtmlElement>().click();
                    return;
                }
                _ => return,
            };
            event.prevent_default();
            if let Some(to) = to.and_then(|to| to.dyn_into::<HtmlElement>().ok()) {
                let _ = to.focus();
            }
        });
        let state = self.state.clone();
        kit.on(&self.form, "input", move |event| {
            let Some(((_, column), text)) = carrying(event, "data-column").zip(typed(event)) else { return };
            state.borrow_mut().keep(&column, text);
        });
        let (state, again) = (self.state.clone(), redraw.clone());
        kit.on(&self.form, "change", move |event| {
            let Some((_, column)) = carrying(event, "data-column") else { return };
            let Some(text) = typed(event) else { return };
            let mut state = state.borrow_mut();
            state.keep(&column, text);
            // Another kind asks other questions.
            if column == "kind" {
                state.turn += 1;
                drop(state);
                again();
            }
        });
        let (own, state, judged, again) = (kit.clone(), self.state.clone(), self.judged.clone(), redraw.clone());
        kit.on(&self.form, "submit", move |event| {
            event.prevent_default();
            let Some(model) = own.model() else { return };
            let taken = take(&model, &state.borrow(), &judged.borrow());
            match taken {
                Ok((scenario, id)) => {
                    state.borrow_mut().about(Subject::Known(id));
                    own.send(Action::Change { scenario: Box::new(scenario), done: true });
                }
                Err(why) => {
                    let mut state = state.borrow_mut();
                    state.told = why;
                    state.turn += 1;
                }
            }
            again();
        });
        Ok(())
    }

    pub fn resized(&mut self) {
        self.seen_list.forget();
    }

    pub fn render(&mut self, kit: &Kit, model: &Model) -> Made<()> {
        let turn = self.state.borrow().turn;
        let picked = model.picked;
        if self.seen_solving.changed(model.damaging) {
            let words = model.damaging.map(|(solved, all)| format!("{solved} of {} solved", counted(all, "finding", "findings")));
            self.solving.set_text_content(Some(&words.unwrap_or_default()));
        }
        if self.seen_judged.changed(model.revision) {
            *self.judged.borrow_mut() = finding_form::judged(&model.shield, &model.scenario, &model.findings);
        }
        if self.seen_list.changed((model.revision, model.edition, model.units, picked, turn)) {
            self.list(kit, model)?;
        }
        if self.seen_form.changed((model.revision, model.units, turn)) {
            self.form(kit, model)?;
        }
        self.beneath.render(kit, model)
    }

    fn list(&self, kit: &Kit, model: &Model) -> Made<()> {
        let state = self.state.borrow();
        let focused = (kit.document.active_element().filter(|element| self.body.contains(Some(element))))
            .and_then(|element| element.get_attribute("data-finding"));
        clear(&self.body);
        let id = |index: usize| model.shield.tiles.get(index).map_or("", |tile| tile.id.as_str());
        let wanted = |finding: &&Finding| {
            let of_tile =
                !state.of_tile || model.picked == Some(finding.tile) || (finding.tile_2.is_some() && finding.tile_2 == model.picked);
            let texts = [&finding.finding, &finding.kind, &finding.note, &finding.found_by, &finding.decision];
            let holds = texts.iter().any(|text| text.to_lowercase().contains(&state.filter)) || id(finding.tile).contains(&state.filter);
            of_tile && (state.filter.is_empty() || holds)
        };
        // The worst first, as the rules see it; then as they were found.
        let judged = self.judged.borrow();
        let blank = Judged::default();
        let verdict = |index: usize| judged.get(index).unwrap_or(&blank);
        let mut rows: Vec<(usize, &Finding)> = model.findings.iter().enumerate().filter(|(_, finding)| wanted(finding)).collect();
        rows.order_by_key(|(index, _)| std::cmp::Reverse(verdict(*index).condition));
        let all = rows.len();
        let mut open = 0;
        for (index, finding) in rows.iter().take(MOST) {
            let row = kit.html("tr", "")?;
            put(&row, &[("data-finding", &finding.finding), ("data-tile", id(finding.tile)), ("tabindex", "0")])?;
            if state.subject == Subject::Known(finding.finding.clone()) {
                put(&row, &[("aria-selected", "true")])?;
            }
            let place = finding.tile_2.map_or(id(finding.tile).to_string(), |other| format!("{} | {}", id(finding.tile), id(other)));
            let verdict = verdict(*index);
            let suggested = match verdict.disposition {
                Some(disposition) => words::disposition(disposition),
                None if verdict.closed => "no longer stands",
                None => "",
            };
            let decided = match (finding.decision.is_empty(), finding.decided_by.is_empty()) {
                (true, _) => String::new(),
                (false, true) => finding_form::kind_words(&finding.decision),
                (false, false) => format!("{}, {}", finding_form::kind_words(&finding.decision), finding.decided_by),
            };
            open += usize::from(decided.is_empty() && !verdict.closed);
            let head = kit.said("th", "", &finding.finding)?;
            head.set_attribute("scope", "row")?;
            add(&row, &head)?;
            let mut size = finding_form::size_words(finding, model.units);
            if let Some(growth_mm) = verdict.growth_mm.filter(|growth| *growth > 0.0) {
                size.push_str(&format!(", {} since it was last seen", Quantity::Thickness.signed(growth_mm / 1000.0, model.units)));
            }
            let flight = finding.flight.map_or(String::new(), |flight| flight.to_string());
            for text in [&place, &finding_form::kind_words(&finding.kind), &size, &finding.found_on, &flight, suggested, &decided] {
                add(&row, &kit.said("td", "", text)?)?;
            }
            add(&self.body, &row)?;
            if focused.as_deref() == Some(&finding.finding) {
                let _ = row.unchecked_ref::<HtmlElement>().focus();
            }
        }
        let caption = match all {
            0 if model.findings.is_empty() => {
                "No findings yet. Pick a tile and say what was found, or open a findings.csv with the vehicle.".to_string()
            }
            0 => "No finding is like that.".to_string(),
            _ => format!(
                "{}, {open} of them undecided{}. {CAUTION}",
                counted(all, "finding", "findings"),
                if all > MOST { format!("; the first {MOST} shown") } else { String::new() }
            ),
        };
        self.caption.set_text_content(Some(&caption));
        Ok(())
    }

    fn form(&self, kit: &Kit, model: &Model) -> Made<()> {
        let state = self.state.borrow();
        let focused = (kit.document.active_element().filter(|element| self.form.contains(Some(element))))
            .and_then(|element| element.get_attribute("data-column"));
        clear(&self.form);
        self.form.class_list().toggle_with_force("away", state.subject == Subject::Nothing)?;
        let Some(Asked { index, known, tile, kind }) = Asked::of(model, &state) else { return Ok(()) };
        let heading = kit.html("h2", "")?;
        let title = known
            .map_or("What was found".to_string(), |finding| format!("{}: {}", finding.finding, finding_form::kind_words(&finding.kind)));
        add_all(&heading, &[&kit.said("span", "", &title)?, &kit.word("close", &[("data-finding-close", "1")])?])?;
        add(&self.form, &heading)?;
        let grid = kit.html("div", "asks")?;
        if known.is_none() {
            self.text(kit, &grid, &state, "tile", "tile", tile.map_or("", |tile| &tile.id), "pick it on the shield, or type its number")?;
        }
        self.choice(kit, &grid, "kind", "kind", &kind, KINDS.iter().map(|kind| (*kind, finding_form::kind_words(kind))))?;
        for question in finding_form::questions(&kind).iter().chain(&ALWAYS) {
            let shown =
                known.map(|finding| finding_form::shown(finding, question.column, question.answer, &model.shield.tiles, model.units));
            let shown = shown.unwrap_or_else(|| offered(question));
            self.text(
                kit,
                &grid,
                &state,
                question.column,
                &labelled(question, model.units),
                &shown,
                if question.needed { "needed" } else { "" },
            )?;
        }
        add(&self.form, &grid)?;
        if let Some((finding, index)) = known.zip(index) {
            self.decision(kit, &state, finding, index)?;
        }
        if !state.told.is_empty() {
            let told = kit.said("p", "told", &state.told)?;
            told.set_attribute("role", "alert")?;
            add(&self.form, &told)?;
        }
        let done = kit.html("div", "done")?;
        let button = kit.said("button", "btn", if known.is_some() { "Take the change" } else { "Add the finding" })?;
        button.set_attribute("type", "submit")?;
        add(&done, &button)?;
        if let Some(finding) = known.filter(|finding| finding_form::without(&model.scenario, &finding.finding).is_some()) {
            let of_vehicle = model.shield.findings.iter().any(|other| other.finding == finding.finding);
            let word = if of_vehicle { "back to the vehicle’s own" } else { "remove" };
            add(&done, &kit.word(word, &[("data-finding-remove", &finding.finding)])?)?;
        }
        add(&self.form, &done)?;
        if let Some(column) = focused
            && let Ok(Some(field)) = self.form.query_selector(&format!("[data-column='{column}']"))
        {
            let _ = field.unchecked_ref::<HtmlElement>().focus();
        }
        Ok(())
    }

    /// What the rules suggest, and what a person decides: apart, each with its own words.
    fn decision(&self, kit: &Kit, state: &State, finding: &Finding, index: usize) -> Made<()> {
        let set = kit.html("fieldset", "asks")?;
        add(&set, &kit.said("legend", "", "Decision")?)?;
        let suggested = match self.judged.borrow().get(index) {
            Some(Judged { disposition: Some(disposition), condition: Some(condition), rule, .. }) => {
                format!("Suggested: {} ({}), by the rule {rule}.", words::disposition(*disposition), words::condition(*condition))
            }
            Some(Judged { closed: true, .. }) => "It no longer stands: noted again later, or mended by a signed decision.".to_string(),
            _ => "No rule suggests anything.".to_string(),
        };
        add(&set, &kit.said("p", "hint", &suggested)?)?;
        let chosen = state.typed("decision").unwrap_or(&finding.decision).to_string();
        let options = std::iter::once(("", "none yet".to_string()))
            .chain(Disposition::ALL.iter().map(|disposition| (disposition.word(), words::disposition(*disposition).to_string())));
        self.choice(kit, &set, "decision", "decided", &chosen, options)?;
        self.text(kit, &set, state, "decided_by", "by", &finding.decided_by, "a name")?;
        self.text(kit, &set, state, "decided_on", "on", &finding.decided_on, "YYYY-MM-DD")?;
        self.text(
            kit,
            &set,
            state,
            "decision_reason",
            "because",
            &finding.decision_reason,
            "needed where it is not what the rules suggest",
        )?;
        add(&set, &kit.said("p", "hint", CAUTION)?)?;
        add(&self.form, &set)
    }

    #[expect(clippy::too_many_arguments, reason = "a field's words and value, each used once")]
    fn text(&self, kit: &Kit, grid: &Element, state: &State, column: &str, label: &str, value: &str, hint: &str) -> Made<()> {
        let id = format!("finding-{column}");
        let row = kit.html("label", "ask")?;
        row.set_attribute("for", &id)?;
        add(&row, &kit.said("span", "", label)?)?;
        let field = kit.html("input", "num")?;
        put(&field, &[("id", &id), ("data-column", column), ("type", "text"), ("autocomplete", "off"), ("placeholder", hint)])?;
        field.unchecked_ref::<HtmlInputElement>().set_value(state.typed(column).unwrap_or(value));
        add(&row, &field)?;
        add(grid, &row)
    }

    fn choice<'a>(
        &self,
        kit: &Kit,
        grid: &Element,
        column: &str,
        label: &str,
        value: &str,
        options: impl Iterator<Item = (&'a str, String)>,
    ) -> Made<()> {
        let id = format!("finding-{column}");
        let row = kit.html("label", "ask")?;
        row.set_attribute("for", &id)?;
        add(&row, &kit.said("span", "", label)?)?;
        let field = kit.html("select", "")?;
        put(&field, &[("id", &id), ("data-column", column)])?;
        for (key, words) in options {
            let option = kit.said("option", "", &words)?;
            option.set_attribute("value", key)?;
            if key == value {
                option.set_attribute("selected", "")?;
            }
            add(&field, &option)?;
        }
        add(&row, &field)?;
        add(grid, &row)
    }
}

/// What the form is about.
struct Asked<'a> {
    /// Place of a known finding among all.
    index: Option<usize>,
    known: Option<&'a Finding>,
    tile: Option<&'a Tile>,
    kind: String,
}

impl<'a> Asked<'a> {
    /// `None` while there is no form, or its finding is gone.
    fn of(model: &'a Model, state: &State) -> Option<Asked<'a>> {
        let index = match &state.subject {
            Subject::Nothing => return None,
            Subject::New => None,
            Subject::Known(id) => Some(model.findings.iter().position(|finding| finding.finding == *id)?),
        };
        let known = index.and_then(|index| model.findings.get(index));
        let tile = known.map_or(model.picked, |finding| Some(finding.tile)).and_then(|tile| model.shield.tiles.get(tile));
        let kind = state.typed("kind").or(known.map(|finding| finding.kind.as_str())).unwrap_or(KINDS[0]).to_string();
        Some(Asked { index, known, tile, kind })
    }
}

fn target<T: JsCast>(event: &Event) -> Option<T> {
    event.target()?.dyn_into().ok()
}

/// What a field or a choice says.
fn typed(event: &Event) -> Option<String> {
    let target = event.target()?;
    match target.dyn_into::<HtmlInputElement>() {
        Ok(field) => Some(field.value()),
        Err(other) => other.dyn_into::<HtmlSelectElement>().ok().map(|field| field.value()),
    }
}

/// A question's words with the shown unit.
fn labelled(question: &Question, units: UnitSystem) -> String {
    match question.answer {
        Answer::Size => format!("{}, {}", question.label, Quantity::Thickness.unit(units)),
        Answer::Degrees => format!("{}, °", question.label),
        Answer::Date => format!("{}, YYYY-MM-DD", question.label),
        _ => question.label.to_string(),
    }
}

/// What a new finding's form offers: today, the rest empty.
fn offered(question: &Question) -> String {
    if question.answer != Answer::Date {
        return String::new();
    }
    let today = js_sys::Date::new(&JsValue::from_f64(js_sys::Date::now()));
    format!("{:04}-{:02}-{:02}", today.get_full_year(), today.get_month() + 1, today.get_date())
}

/// The scenario that the form makes, and the id of its finding; or why not, in words.
fn take(model: &Model, state: &State, judged: &[Judged]) -> Result<(Scenario, String), String> {
    let Some(Asked { index, known, tile, kind }) = Asked::of(model, state) else { return Err("The finding is gone.".to_string()) };
    let id = known.map_or_else(|| finding_form::next_id(&model.findings), |finding| finding.finding.clone());
    let mut answers = vec![("finding".to_string(), id.clone()), ("kind".to_string(), kind.clone())];
    if known.is_none() {
        let typed = state.typed("tile").map(str::to_string).or(tile.map(|tile| tile.id.clone())).unwrap_or_default();
        if typed.is_empty() {
            return Err("Which tile? Pick it on the shield, or type its number.".to_string());
        }
        answers.push(("tile".to_string(), typed));
    }
    for question in finding_form::questions(&kind).iter().chain(&ALWAYS) {
        let shown = known.map(|finding| finding_form::shown(finding, question.column, question.answer, &model.shield.tiles, model.units));
        let before = shown.unwrap_or_else(|| offered(question));
        match state.typed(question.column) {
            // A size that nobody touched keeps its own digits, whatever the unit shown.
            None if known.is_some() && !before.is_empty() => {}
            typed => answers.push((question.column.to_string(), typed.unwrap_or(&before).to_string())),
        }
    }
    for column in ["decision", "decided_by", "decided_on", "decision_reason"] {
        answers.extend(state.typed(column).map(|text| (column.to_string(), text.to_string())));
    }
    if let Some(finding) = known {
        let says = |column: &str, before: &str| state.typed(column).unwrap_or(before).trim().to_string();
        let decision = says("decision", &finding.decision);
        if !decision.is_empty() {
            if says("decided_by", &finding.decided_by).is_empty() || says("decided_on", &finding.decided_on).is_empty() {
                return Err("A decision is signed with a name and a date.".to_string());
            }
            let suggested = index.and_then(|index| judged.get(index)?.disposition).map(|disposition| disposition.word());
            if suggested != Some(decision.as_str()) && says("decision_reason", &finding.decision_reason).is_empty() {
                return Err("A decision other than the suggestion states its reason.".to_string());
            }
        }
    }
    let scenario = finding_form::answered(&model.scenario, known, &answers, &model.shield.tiles, model.units);
    scenario.map(|scenario| (scenario, id)).map_err(|error| error.to_string())
}
