//! The work before the next flight, in the shield's place: hours to ready, hours by skill, and the timetable of tasks.
//!
//! Made when it is looked at, from the results of the inputs on screen; work.csv holds the same rows.

use super::dom::{Kit, Made, Memo, add, add_all, clear, put, style, text};
use crate::assess::work::{Work, work};
use crate::document::Sorting as _;
use crate::page::model::{Action, Model};
use crate::report::CAUTION;
use crate::report::numbers::{NARROW_SPACE, count, counted, grouped};
use crate::scenario::{ISOTHERM_K, Waterproofing};
use wasm_bindgen::JsCast;
use web_sys::{Element, HtmlInputElement, HtmlSelectElement};

/// Rows of the timetable in the document; work.csv holds them all.
const MOST: usize = 300;
/// People that the field takes.
const PEOPLE: std::ops::RangeInclusive<u32> = 1..=999;
/// What skipping by temperature starts from: the agent burned out 2.5 mm deep (invented for the demonstration), at the isotherm that the reference states.
const SKIPPING: Waterproofing = Waterproofing::BurnedOut { isotherm_k: ISOTHERM_K, depth_mm: 2.5 };

pub struct Turnaround {
    said: Element,
    people: HtmlInputElement,
    waterproofing: HtmlSelectElement,
    skills: Element,
    body: Element,
    caption: Element,
    seen: Memo<(u64, u64)>,
}

impl Turnaround {
    pub fn new(kit: &Kit) -> Made<Self> {
        let panel = kit.by_id("work")?;
        let tools = kit.html("div", "tools")?;
        let crew = kit.html("label", "only")?;
        let people = kit.html("input", "num")?;
        put(&people, &[("type", "text"), ("inputmode", "numeric"), ("id", "people"), ("size", "4"), ("autocomplete", "off")])?;
        add_all(&crew, &[&people, &kit.said("span", "", "people")?])?;
        let again = kit.html("label", "only")?;
        let waterproofing = kit.html("select", "")?;
        waterproofing.set_id("waterproofing");
        for (key, words) in [("every", "every tile after every flight"), ("burned", "where the agent has burned out")] {
            let option = kit.said("option", "", words)?;
            option.set_attribute("value", key)?;
            add(&waterproofing, &option)?;
        }
        add_all(&again, &[&kit.said("span", "", "waterproof")?, &waterproofing])?;
        let exports = kit.html("span", "exports")?;
        add(&exports, &kit.word("work.csv", &[("data-act", "save-work"), ("aria-label", "Save work.csv")])?)?;
        add_all(&tools, &[&crew, &again, &exports])?;
        let said = kit.html("div", "hours")?;
        let skills = kit.html("div", "skills")?;
        let scroll = kit.html("div", "scroll")?;
        put(&scroll, &[("tabindex", "0"), ("role", "region"), ("aria-label", "Timetable")])?;
        let (table, caption) = (kit.html("table", "tiles")?, kit.html("caption", "")?);
        let (head, body) = (kit.html("thead", "")?, kit.html("tbody", "")?);
        let row = kit.html("tr", "")?;
        for (label, class) in COLUMNS {
            let cell = kit.said("th", class, label)?;
            cell.set_attribute("scope", "col")?;
            add(&row, &cell)?;
        }
        add(&head, &row)?;
        add_all(&table, &[&caption, &head, &body])?;
        add(&scroll, &table)?;
        add_all(&panel, &[&tools, &said, &skills, &scroll])?;
        let made = Self {
            said,
            people: people.unchecked_into(),
            waterproofing: waterproofing.unchecked_into(),
            skills,
            body,
            caption,
            seen: Memo::default(),
        };
        made.listen(kit);
        Ok(made)
    }

    fn listen(&self, kit: &Kit) {
        let (own, field) = (kit.clone(), self.people.clone());
        kit.on(&self.people, "change", move |_| {
            let Some(model) = own.model() else { return };
            match field.value().trim().parse::<u32>().ok().filter(|people| PEOPLE.contains(people)) {
                Some(people) => {
                    let mut scenario = (*model.scenario).clone();
                    scenario.work.people = people;
                    own.send(Action::Change { scenario: Box::new(scenario), done: true });
                }
                // Out of range: the field shows again what stands.
                None => field.set_value(&model.scenario.work.people.to_string()),
            }
        });
        let (own, field) = (kit.clone(), self.waterproofing.clone());
        kit.on(&self.waterproofing, "change", move |_| {
            let Some(model) = own.model() else { return };
            let mut scenario = (*model.scenario).clone();
            scenario.work.waterproofing = if field.value() == "burned" { SKIPPING } else { Waterproofing::EveryTile };
            own.send(Action::Change { scenario: Box::new(scenario), done: true });
        });
    }

    pub fn render(&mut self, kit: &Kit, model: &Model) -> Made<()> {
        if !self.seen.changed((model.revision, model.edition)) {
            return Ok(());
        }
        self.people.set_value(&model.scenario.work.people.to_string());
        let skipping = matches!(model.scenario.work.waterproofing, Waterproofing::BurnedOut { .. });
        self.waterproofing.set_value(if skipping { "burned" } else { "every" });
        for part in [&self.said, &self.skills, &self.body] {
            clear(part);
        }
        let Some(results) = &model.results else {
            return text(&self.said, "not yet: the temperatures are being made");
        };
        match work(&model.shield, &model.scenario, &model.findings, results) {
            Ok(work) => {
                self.hours(kit, &work)?;
                self.skills(kit, &work)?;
                self.rows(kit, model, &work)
            }
            Err(error) => text(&self.said, &error.to_string()),
        }
    }

    fn hours(&self, kit: &Kit, work: &Work) -> Made<()> {
        let line = kit.html("p", "lead")?;
        let ready = kit.said("b", "", &hours(work.ready_h()))?;
        ready.set_id("ready");
        add(&line, &ready)?;
        let people = counted(work.people as usize, "person", "people");
        let rest = format!(
            " to ready with {people}, {} of work in {}. The longest chain alone takes {}; no timetable of this crew is under {}.",
            hours(work.touch_h()),
            counted(work.jobs.len(), "job", "jobs"),
            hours(work.longest_chain_h()),
            hours(work.bound_h()),
        );
        text(&line, &rest)?;
        add(&self.said, &line)?;
        let treated = work.treatment.tiles.len();
        let saved = match work.treatment.skipped.len() {
            0 => String::new(),
            skipped => format!("; {} skipped, which saves {}", count(skipped), hours(work.saved_touch_h)),
        };
        let wet = format!("Waterproofing: {} ({}{saved}).", counted(treated, "tile", "tiles"), work.treatment.rule);
        add(&self.said, &kit.said("p", "hint", &wet)?)?;
        let judged = "Tiles are judged by their margins as designed; a tile’s card and present.csv judge it by what its findings leave.";
        add(&self.said, &kit.said("p", "hint", judged)?)?;
        for warning in work.warnings.iter().chain(&work.treatment.warnings) {
            add(&self.said, &kit.said("p", "hint", warning)?)?;
        }
        Ok(())
    }

    /// Hours by skill as bars of one scale, each with its number.
    fn skills(&self, kit: &Kit, work: &Work) -> Made<()> {
        let most = work.hours_by_skill.iter().fold(0.0, |most: f64, (_, hours)| most.max(*hours));
        for (skill, own) in &work.hours_by_skill {
            let row = kit.html("div", "skill")?;
            let bar = kit.html("i", "")?;
            style(&bar, "width", &format!("{:.1}%", 100.0 * own / most.max(1e-9)));
            let track = kit.html("span", "of")?;
            add(&track, &bar)?;
            add_all(&row, &[&kit.said("span", "", skill)?, &track, &kit.said("b", "", &hours(*own))?])?;
            add(&self.skills, &row)?;
        }
        Ok(())
    }

    fn rows(&self, kit: &Kit, model: &Model, work: &Work) -> Made<()> {
        let start = |activity: usize| work.schedule.start_min.get(activity).copied().unwrap_or(0);
        let mut order: Vec<usize> = (0..work.activities.len()).collect();
        order.order_by_key(|activity| (start(*activity), *activity));
        for activity in order.iter().take(MOST) {
            let (Some(doing), Some(deed)) = (work.activities.get(*activity), work.deeds.get(*activity)) else { continue };
            let (Some(task), Some(job)) = (work.rates.tasks.get(deed.task), work.jobs.get(deed.job)) else { continue };
            let row = kit.html("tr", "")?;
            let tiles: Vec<&str> = job.pieces.iter().filter_map(|piece| Some(model.shield.tiles.get(piece.tile)?.id.as_str())).collect();
            if let Some(first) = tiles.first() {
                row.set_attribute("data-tile", first)?;
            }
            let found: Vec<&str> = (job.pieces.iter().flat_map(|piece| &piece.findings))
                .filter_map(|index| Some(model.findings.get(*index)?.finding.as_str()))
                .collect();
            let mut marks = Vec::new();
            if work.schedule.longest_chain.contains(activity) {
                marks.push("longest chain");
            }
            if doing.clears_area {
                marks.push("area cleared");
            }
            if job.pieces.iter().any(|piece| piece.decided) {
                marks.push("decided");
            }
            let crew = if doing.people == 0 {
                String::new()
            } else {
                format!("{} {}", doing.people, work.rates.skills.get(task.skill).map_or("", String::as_str))
            };
            let finish = (start(*activity) + doing.duration_min) as f64 / 60.0;
            let cells = [
                (grouped(start(*activity) as f64 / 60.0, 1), "r"),
                (grouped(finish, 1), "r"),
                (task.task.clone(), ""),
                (work.areas.get(doing.area).cloned().unwrap_or_default(), ""),
                (few(&tiles), ""),
                (few(&found), ""),
                (crew, ""),
                (marks.join(", "), ""),
            ];
            for (words, class) in &cells {
                add(&row, &kit.said("td", class, words)?)?;
            }
            add(&self.body, &row)?;
        }
        let all = work.activities.len();
        let shown = if all > MOST { format!("The first {MOST} of {} tasks; work.csv holds them all. ", count(all)) } else { String::new() };
        let caption = format!(
            "{shown}Working hours with the whole crew there; no calendar. Rates invented for the demonstration (assets/work.json); the scenario’s \
             own rows replace them. Method: {}. {CAUTION}",
            crate::assess::work::schedule::METHOD
        );
        self.caption.set_text_content(Some(&caption));
        Ok(())
    }
}

const COLUMNS: [(&str, &str); 8] =
    [("from, h", "r"), ("to, h", "r"), ("task", ""), ("area", ""), ("tiles", ""), ("findings", ""), ("who", ""), ("", "")];

fn hours(value: f64) -> String {
    format!("{}{NARROW_SPACE}h", grouped(value, if value < 100.0 { 1 } else { 0 }))
}

/// The first three of a list and how many more.
fn few(names: &[&str]) -> String {
    let first = names.iter().take(3).copied().collect::<Vec<_>>().join(" ");
    match names.len() {
        0..=3 => first,
        all => format!("{first} and {} more", all - 3),
    }
}
