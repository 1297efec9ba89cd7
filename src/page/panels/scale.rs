//! The scale: what the colours mean, how all tiles' values spread, and the filter, in one.

use super::brush::Brush;
use super::dom;
use super::dom::{Kit, Made, Memo, add, add_all, clear, put, show, style, width};
use super::legend;
use super::marks::mark;
use super::tolerated;
use crate::page::model::{Model, Scale as Ends, ScaleKind, Shown};
use crate::report::numbers::{Quantity, count, counted};
use crate::report::ramp::{self, hex};
use crate::report::words;
use crate::scenario::{Cavity, Colour, UnitSystem};
use std::rc::Rc;
use web_sys::Element;

/// The choices of what a colour means; the word and the key of the document.
const CHOICES: [(&str, &str, Colour); 5] = [
    ("Margin", "margin", Colour::Margin),
    ("Temperature", "surface", Colour::Surface),
    ("Condition", "condition", Colour::Condition),
    ("Boundary layer", "regime", Colour::Regime),
    ("Tolerated cavity", "tolerated-depth", Colour::ToleratedDepth),
];

/// Colour, moment, units, banded, whether the depth stands, the cavity asked of.
type SeenAbout = (Colour, Option<u64>, UnitSystem, bool, bool, [u64; 2]);

pub struct Scale {
    choices: Vec<Element>,
    about: Element,
    svg: Element,
    bars: Element,
    bands: Element,
    brush: Brush,
    list: Element,
    state: Element,
    pixels: f64,
    seen_choice: Memo<Colour>,
    seen_about: Memo<SeenAbout>,
    seen_bands: Memo<(Ends, UnitSystem, u64, bool)>,
    seen_bars: Option<(Rc<Shown>, Option<usize>, UnitSystem, u64)>,
    seen_state: Memo<String>,
}

impl Scale {
    pub fn new(kit: &Kit) -> Made<Self> {
        let scale = kit.by_id("scale")?;
        let row = kit.html("div", "line")?;
        let pick = kit.html("div", "pick")?;
        put(&pick, &[("role", "group"), ("aria-label", "What a colour means")])?;
        let mut choices = Vec::new();
        for (label, key, _) in CHOICES {
            let button = kit.said("button", "tab", label)?;
            put(&button, &[("type", "button"), ("data-colour", key), ("aria-pressed", "false")])?;
            add(&pick, &button)?;
            choices.push(button);
        }
        let about = kit.html("div", "about")?;
        add_all(&row, &[&pick, &about])?;
        tolerated::listen(kit, &about);
        let svg = kit.svg("svg", &[("id", "legend"), ("height", "92"), ("width", "100%")])?;
        let (bars, bands) = (kit.svg("g", &[])?, kit.svg("g", &[])?);
        add_all(&svg, &[&bars, &bands])?;
        let brush = Brush::new(kit, &svg)?;
        let list = kit.html("div", "cond")?;
        let state = kit.html("p", "brushed")?;
        put(&state, &[("role", "status")])?;
        add_all(&scale, &[&row, &svg, &list, &state])?;
        let memo = (Memo::default(), Memo::default(), Memo::default(), Memo::default());
        Ok(Self {
            choices,
            about,
            svg,
            bars,
            bands,
            brush,
            list,
            state,
            pixels: 0.0,
            seen_choice: memo.0,
            seen_about: memo.1,
            seen_bands: memo.2,
            seen_bars: None,
            seen_state: memo.3,
        })
    }

    /// The page changed its width or its theme: measure and draw again.
    pub fn resized(&mut self) {
        self.pixels = 0.0;
        self.seen_bands.forget();
        self.seen_bars = None;
    }

    pub fn render(&mut self, kit: &Kit, model: &Model) -> Made<()> {
        let shown = &model.shown;
        if self.seen_choice.changed(shown.colour) {
            for (button, (_, _, choice)) in self.choices.iter().zip(CHOICES) {
                let under = match shown.colour {
                    Colour::Bondline | Colour::Structure => Colour::Surface,
                    Colour::ToleratedLength => Colour::ToleratedDepth,
                    other => other,
                };
                let on = choice == under;
                button.set_attribute("aria-pressed", if on { "true" } else { "false" })?;
            }
        }
        self.about(kit, model)?;
        let measured = shown.scale.kind.is_measured();
        show(&self.svg, measured);
        show(&self.list, !measured);
        self.state(kit, model)?;
        if !measured {
            return self.list(kit, model);
        }
        if self.pixels < 1.0 {
            self.pixels = width(&self.svg);
        }
        if self.pixels < 1.0 {
            return Ok(());
        }
        let axis = legend::axis(&shown.scale, self.pixels);
        if self.seen_bands.changed((shown.scale.clone(), model.units, self.pixels as u64, model.dark)) {
            legend::bands(kit, &self.bands, &shown.scale, &axis, model.dark)?;
        }
        let same = self.seen_bars.as_ref().is_some_and(|(seen, picked, units, pixels)| {
            Rc::ptr_eq(seen, shown) && *picked == model.picked && *units == model.units && *pixels == self.pixels as u64
        });
        if !same {
            legend::spread(kit, &self.bars, model, &axis)?;
            self.seen_bars = Some((shown.clone(), model.picked, model.units, self.pixels as u64));
        }
        self.brush.render(model, &axis)
    }

    /// What the value is and when, as words that act where there is a choice.
    fn about(&mut self, kit: &Kit, model: &Model) -> Made<()> {
        let colour = model.shown.colour;
        let covered = model.results.as_deref().map(words::covered).unwrap_or_default();
        let deep = covered.bondline || covered.structure;
        let Cavity { length_mm, depth_mm } = model.scenario.view.cavity;
        let asked = [length_mm, depth_mm].map(f64::to_bits);
        if !self.seen_about.changed((colour, model.time_s.map(f64::to_bits), model.units, model.shown.scale.banded, deep, asked)) {
            return Ok(());
        }
        clear(&self.about);
        let moment = match model.time_s {
            Some(time_s) => format!("at {}", Quantity::Time.text(time_s, model.units)),
            None => "peak of the flight".to_string(),
        };
        let plain = |words: &str| kit.said("span", "", words);
        match colour {
            Colour::Margin => {
                let what = if deep { "smallest of surface, glue line, structure" } else { "of the surface alone; the rest follows" };
                add_all(&self.about, &[&plain(what)?, &plain("whole flight")?])?;
            }
            Colour::Surface | Colour::Bondline | Colour::Structure => {
                for (word, key, which) in [
                    ("surface", "surface", Colour::Surface),
                    ("glue line", "bondline", Colour::Bondline),
                    ("structure", "structure", Colour::Structure),
                ] {
                    if which == Colour::Surface || deep {
                        add(
                            &self.about,
                            &kit.word(word, &[("data-colour", key), ("aria-pressed", if colour == which { "true" } else { "false" })])?,
                        )?;
                    }
                }
                if !deep {
                    add(&self.about, &plain("glue line and structure not yet")?)?;
                }
                let soaked = colour != Colour::Surface && model.time_s.is_none();
                add(&self.about, &if soaked { plain("peak of flight and soak-back")? } else { self.moment(kit, model, &moment)? })?;
            }
            Colour::Condition => add(&self.about, &plain("as installed and inspected")?)?,
            Colour::Regime => add(&self.about, &self.moment(kit, model, &moment)?)?,
            Colour::ToleratedDepth | Colour::ToleratedLength => tolerated::about(kit, &self.about, model)?,
        }
        if model.shown.scale.kind.is_measured() {
            let pressed = if model.shown.scale.banded { "true" } else { "false" };
            add(&self.about, &kit.word("bands", &[("data-act", "bands"), ("aria-pressed", pressed)])?)?;
        }
        Ok(())
    }

    fn moment(&self, kit: &Kit, model: &Model, words: &str) -> Made {
        match model.time_s {
            Some(_) => kit.word(words, &[("data-act", "peak"), ("title", "Show the peak of the flight instead")]),
            None => kit.said("span", "", words),
        }
    }

    /// What the brush leaves, or what stands next to it where it leaves nothing.
    fn state(&mut self, kit: &Kit, model: &Model) -> Made<()> {
        let Some([low, high]) = model.scenario.view.brush else {
            let words = tolerated::progress(model);
            if self.seen_state.changed(words.clone()) {
                self.state.set_text_content(Some(&words));
                show(&self.state, !words.is_empty());
            }
            return Ok(());
        };
        let values = || model.shown.values.iter().copied().filter(|value| value.is_finite());
        let inside = values().filter(|value| *value >= low && *value <= high).count();
        let text = |value: f64| match model.shown.scale.kind {
            ScaleKind::Margin => Quantity::Difference.signed(value, model.units),
            kind => legend::quantity(kind).text(value, model.units),
        };
        let words = match (model.shown.scale.kind, inside) {
            (kind, 0) if kind.is_measured() => {
                let below = values().filter(|value| *value < low).fold(f64::NAN, f64::max);
                let above = values().filter(|value| *value > high).fold(f64::NAN, f64::min);
                let nearest = match (below.is_finite(), above.is_finite()) {
                    (true, true) => format!("The nearest stand at {} and {}.", text(below), text(above)),
                    (true, false) => format!("The nearest stands at {}.", text(below)),
                    (false, true) => format!("The nearest stands at {}.", text(above)),
                    (false, false) => "No tile has a value here.".to_string(),
                };
                format!("No tile between {} and {}. {nearest}", text(low), text(high))
            }
            (_, 0) => "No tile is shown.".to_string(),
            (_, inside) => format!("Showing {} of {}.", count(inside), counted(model.shown.values.len(), "tile", "tiles")),
        };
        if self.seen_state.changed(words.clone()) {
            clear(&self.state);
            add_all(&self.state, &[&kit.said("span", "", &words)?, &kit.word("Show all tiles", &[("data-act", "unbrush")])?])?;
            show(&self.state, true);
        }
        Ok(())
    }

    /// Condition and regime: a list of mark, word and count; each filters.
    fn list(&mut self, kit: &Kit, model: &Model) -> Made<()> {
        let same = self.seen_bars.as_ref().is_some_and(|(seen, ..)| Rc::ptr_eq(seen, &model.shown));
        if same {
            return Ok(());
        }
        self.seen_bars = Some((model.shown.clone(), model.picked, model.units, 0));
        self.seen_bands.forget();
        clear(&self.list);
        let shown = &model.shown;
        let number = |index: usize| shown.values.iter().filter(|value| **value == index as f64).count();
        let regime = shown.scale.kind == ScaleKind::Regime;
        let length = if regime { ramp::REGIMES.len() } else { ramp::CONDITIONS.len() };
        for index in 0..length {
            let tiles = number(index);
            let condition = ramp::CONDITIONS.get(index).copied().unwrap_or_default();
            // Work states before service are said only where a tile is in one.
            if !regime && index < 4 && tiles == 0 {
                continue;
            }
            let (word, note) = match regime {
                true => (ramp::REGIMES.get(index).map_or("", |regime| words::regime(*regime)), ""),
                false => (words::condition(condition), note_of(condition)),
            };
            let button = kit.html("button", "entry")?;
            put(&button, &[("type", "button"), ("data-class", &index.to_string()), ("data-legend", "")])?;
            let colour = hex(kit.colours.rgb(&shown.scale, index as f64, model.dark));
            put(&button, &[("data-low", &index.to_string()), ("data-high", &index.to_string()), ("data-colour-hex", &colour)])?;
            let swatch = kit.html("span", "swatch")?;
            style(&swatch, "background-color", &colour);
            if !regime {
                add(&swatch, &mark(kit, condition)?)?;
            }
            let what = kit.html("span", "what")?;
            add_all(
                &what,
                &[&kit.said("b", "", word)?, &kit.said("span", "", &counted(tiles, "tile", "tiles"))?, &kit.said("i", "", note)?],
            )?;
            add_all(&button, &[&swatch, &what])?;
            add(&self.list, &button)?;
        }
        let near = shown.sensitive.iter().filter(|sensitive| **sensitive).count();
        if regime && near > 0 {
            let entry = kit.html("div", "entry")?;
            put(
                &entry,
                &[
                    ("data-sensitive", &near.to_string()),
                    ("title", "Within 25 % of onset or in between: it jumps by 50 to 200 K if onset moves"),
                ],
            )?;
            let swatch = kit.html("span", "swatch")?;
            add(&swatch, &super::marks::near_onset(kit)?)?;
            let what = kit.html("span", "what")?;
            add_all(
                &what,
                &[
                    &kit.said("b", "", "near onset")?,
                    &kit.said("span", "", &counted(near, "tile", "tiles"))?,
                    &kit.said("i", "", "marked")?,
                ],
            )?;
            add_all(&entry, &[&swatch, &what])?;
            add(&self.list, &entry)?;
        }
        dom::style(&self.list, "--columns", &self.list.child_element_count().max(1).to_string());
        Ok(())
    }
}

fn note_of(condition: crate::assess::Condition) -> &'static str {
    use crate::assess::Condition;
    match condition {
        Condition::AsBuilt => "no mark",
        Condition::Watch => "look again",
        Condition::Repair => "in place",
        Condition::Replace => "bond and cure",
        Condition::NotCleared => "a person decides",
        _ => "before service",
    }
}
