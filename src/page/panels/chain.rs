//! The chain: the inputs and the picked tile share one row for each step of the physics, cause on the left, effect on the right.

use super::card::Card;
use super::dom::{Kit, Made, Memo, add, add_all, clear, put};
use super::slider::{Slider, subject};
use crate::page::model::Model;
use crate::report::inputs::{self, Input, Step, Value};
use crate::report::numbers::count;
use crate::scenario::{Scenario, UnitSystem};
use std::rc::Rc;
use web_sys::Element;

/// The sliders seen before a step is unfolded.
const FIRST: usize = 2;

struct Row {
    step: Step,
    section: Element,
    more: Element,
    list: Element,
    open: bool,
    sliders: Vec<Slider>,
    seen: Memo<Vec<(String, bool)>>,
    seen_more: Memo<(usize, bool)>,
}

pub struct Chain {
    /// Adds the entry shown with an early transition as a case of the set.
    early: Element,
    rows: Vec<Row>,
    card: Card,
    inputs: Vec<Input>,
    seen: Option<(Rc<Scenario>, usize, Option<usize>, String)>,
    seen_units: Memo<(UnitSystem, u64, usize)>,
}

fn title(step: Step) -> &'static str {
    match step {
        Step::Flight => "Flight",
        Step::Heating => "Heating",
        Step::Surface => "Surface",
        Step::Stack => "Stack",
        Step::Limits => "Limits",
    }
}

impl Chain {
    pub fn new(kit: &Kit) -> Made<Self> {
        let chain = kit.by_id("chain")?;
        let head = kit.html("div", "hd")?;
        let left = kit.html("div", "i0")?;
        add_all(&left, &[&kit.said("h2", "", "What goes in")?, &kit.said("p", "", "tracks show the smallest margin")?])?;
        let right = kit.html("div", "c")?;
        right.set_id("card");
        add_all(&head, &[&kit.html("span", "")?, &left, &right])?;
        add(&chain, &head)?;
        let mut early = kit.html("span", "")?;
        let mut rows = Vec::new();
        let mut places = Vec::new();
        for step in Step::ALL {
            let section = kit.html("section", "step")?;
            put(&section, &[("data-step", step.key()), ("aria-label", title(step))])?;
            let inputs = kit.html("div", "i")?;
            let heading = kit.html("h3", "")?;
            add(&heading, &kit.said("span", "", title(step))?)?;
            let more = kit.word("more", &[("data-more", step.key()), ("aria-expanded", "false")])?;
            add(&heading, &more)?;
            let list = kit.html("div", "list")?;
            add_all(&inputs, &[&heading, &list])?;
            if step == Step::Heating {
                early = kit.word("fly this entry with early transition too", &[("data-act", "early")])?;
                add(&inputs, &early)?;
            }
            let card = kit.html("div", "c")?;
            card.set_attribute("data-card", step.key())?;
            add_all(&section, &[&kit.html("div", "n")?, &inputs, &card])?;
            add(&chain, &section)?;
            rows.push(Row {
                step,
                section,
                more,
                list,
                open: false,
                sliders: Vec::new(),
                seen: Memo::default(),
                seen_more: Memo::default(),
            });
            places.push(card);
        }
        let card = Card::new(kit, right, places);
        Ok(Self { early, rows, card, inputs: Vec::new(), seen: None, seen_units: Memo::default() })
    }

    /// Folds a step's further inputs out or in.
    pub fn unfold(&mut self, key: &str) {
        for row in self.rows.iter_mut().filter(|row| row.step.key() == key) {
            row.open = !row.open;
        }
    }

    pub fn resized(&mut self) {
        self.card.resized();
    }

    pub fn render(&mut self, kit: &Kit, model: &Model) -> Made<()> {
        let fresh = self.seen.as_ref().is_none_or(|(scenario, entry, picked, digest)| {
            !Rc::ptr_eq(scenario, &model.scenario) || *entry != model.entry || *picked != model.picked || *digest != model.shield.digest
        });
        if fresh {
            self.inputs = inputs::inputs(subject(model));
            self.seen = Some((model.scenario.clone(), model.entry, model.picked, model.shield.digest.clone()));
        }
        if fresh {
            super::dom::show(&self.early, model.scenario.with_early_transition(model.entry).is_some());
        }
        let newer = self.seen_units.changed((model.units, model.revision, Rc::as_ptr(&model.tracks) as usize));
        for row in &mut self.rows {
            let all: Vec<&Input> = self.inputs.iter().filter(|input| input.step == row.step).collect();
            let first = all.iter().filter(|input| input.lead).count().clamp(FIRST.min(all.len()), FIRST + 1);
            let shown = if row.open { all.len() } else { first };
            let rest = all.len() - first;
            if row.seen_more.changed((rest, row.open)) {
                let label = if row.open { "fewer".to_string() } else { format!("{} more", count(rest)) };
                if let Some(word) = row.more.first_element_child() {
                    word.set_text_content(Some(&label));
                }
                put(&row.more, &[("aria-expanded", if row.open { "true" } else { "false" })])?;
                put(&row.more, &[("aria-label", &format!("{}: {label} inputs", title(row.step)))])?;
                super::dom::show(&row.more, rest > 0);
            }
            let wanted: Vec<(String, bool)> =
                all.iter().take(shown).map(|input| (input.id.clone(), matches!(input.value, Value::Choice { .. }))).collect();
            let rebuilt = row.seen.changed(wanted);
            if rebuilt {
                clear(&row.list);
                let mut kept = std::mem::take(&mut row.sliders);
                for input in all.iter().take(shown) {
                    let slider = match kept.iter().position(|slider| slider.id() == input.id) {
                        Some(place) => kept.swap_remove(place),
                        None => Slider::new(kit, input)?,
                    };
                    add(&row.list, &slider.root)?;
                    row.sliders.push(slider);
                }
            }
            if fresh || newer || rebuilt {
                for (slider, input) in row.sliders.iter_mut().zip(all) {
                    // A track of another revision is not shown.
                    let track = model.tracks.iter().find(|track| track.input == input.id && track.revision == model.revision);
                    slider.render(kit, input, track, model.units)?;
                }
            }
        }
        let decides = self.card.render(kit, model)?;
        for row in &self.rows {
            row.section.class_list().toggle_with_force("decides", decides == Some(row.step))?;
            row.section.class_list().toggle_with_force("over", decides == Some(row.step) && self.card.short)?;
        }
        Ok(())
    }
}
