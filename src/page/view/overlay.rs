//! What stands over the picture as SVG: numbers of short tiles, condition marks, and the thread from the picked tile to its label.
//! All text is set as text nodes; colours come from the style sheet's variables.

use super::state::State;
use crate::assess::Condition;
use crate::document::Sorting as _;
use crate::report::numbers::Quantity;
use crate::report::ramp::{CONDITIONS, ScaleKind};
use crate::scenario::{Colour, UnitSystem};
use wasm_bindgen::JsCast;
use web_sys::{Document, Element, SvgTextContentElement};

const SVG: &str = "http://www.w3.org/2000/svg";
/// Most numbers at short tiles; below this canvas width the picked tile alone is named.
const NUMBERS: usize = 12;
const NARROW: f32 = 600.0;
/// Marks closer than this merge into the worst, with a count.
const APART: f32 = 18.0;
/// Most marks looked at in one frame.
const MARKS: usize = 400;

/// A box that a later label may not cover: left, top, right, bottom.
type Taken = [f32; 4];

struct Sheet<'a> {
    document: Document,
    root: &'a Element,
}

impl Sheet<'_> {
    fn add(&self, to: &Element, name: &str, attributes: &[(&str, &str)]) -> Option<Element> {
        let element = self.document.create_element_ns(Some(SVG), name).ok()?;
        for (key, value) in attributes {
            element.set_attribute(key, value).ok()?;
        }
        to.append_child(&element).ok()?;
        Some(element)
    }

    fn group(&self, class: &str) -> Option<Element> {
        self.add(self.root, "g", &[("class", class)])
    }

    fn text(&self, to: &Element, at: [f32; 2], anchor: &str, words: &str) -> Option<Element> {
        let (x, y) = (format!("{:.1}", at[0]), format!("{:.1}", at[1]));
        let attributes = [
            ("x", x.as_str()),
            ("y", y.as_str()),
            ("text-anchor", anchor),
            ("font-size", "12"),
            ("font-weight", "600"),
            ("fill", "var(--ink)"),
            ("stroke", "var(--stage)"),
            ("stroke-width", "4"),
            ("stroke-linejoin", "round"),
            ("paint-order", "stroke"),
        ];
        let text = self.add(to, "text", &attributes)?;
        text.set_text_content(Some(words));
        Some(text)
    }
}

/// The word for the line around the body points' cover, at the upper left under the tabs: the list of what limits stands at the lower.
fn border(sheet: &Sheet, taken: &mut Vec<Taken>) -> Option<()> {
    let group = sheet.group("border-key")?;
    let y = 50.0;
    taken.push([12.0, y - 16.0, 210.0, y + 6.0]);
    for (width, colour) in [("4.6", "var(--stage)"), ("2.2", "var(--ink)")] {
        let at = format!("{:.1}", y - 4.0);
        sheet.add(&group, "line", &[("x1", "16"), ("x2", "44"), ("y1", &at), ("y2", &at), ("stroke", colour), ("stroke-width", width)])?;
    }
    sheet.text(&group, [52.0, y], "start", "border of the body points")?;
    Some(())
}

/// Draws all of it again for the picture as it now stands.
pub fn draw(root: &Element, state: &mut State) {
    while let Some(child) = root.first_child() {
        if root.remove_child(&child).is_err() {
            return;
        }
    }
    let Some(document) = root.owner_document() else { return };
    let _ = root.set_attribute("viewBox", &format!("0 0 {} {}", state.size[0], state.size[1]));
    let sheet = Sheet { document, root };
    let mut taken: Vec<Taken> = Vec::new();
    if state.shown.as_ref().is_some_and(|s| s.scale.kind == ScaleKind::Condition) {
        let _ = marks(&sheet, state, &mut taken);
    }
    if state.shown.as_ref().is_some_and(|s| s.scale.kind == ScaleKind::Regime) {
        let _ = near_onset(&sheet, state, &mut taken);
    }
    if state.shown.as_ref().is_some_and(|s| !s.border.is_empty()) {
        let _ = border(&sheet, &mut taken);
    }
    let _ = thread(&sheet, state, &mut taken);
    if state.size[0] >= NARROW {
        let _ = numbers(&sheet, state, &mut taken);
    }
}

/// The numbers of the short tiles that can be seen, worst first, each where it covers no other.
fn numbers(sheet: &Sheet<'_>, state: &State, taken: &mut Vec<Taken>) -> Option<()> {
    let shield = state.shield.as_ref()?;
    let group = sheet.group("numbers")?;
    let mut written = 0;
    for tile in state.worst().into_iter().filter(|t| Some(*t) != state.picked).take(8 * NUMBERS) {
        if written == NUMBERS {
            break;
        }
        let Some(at) = state.seen_at(tile) else { continue };
        let id = &shield.tiles.get(tile)?.id;
        let wide = 7.4 * id.chars().count() as f32;
        let gap = 12.0;
        let tries = [
            ([at[0] + gap, at[1] + 4.0], "start", at[0] + gap),
            ([at[0] - gap, at[1] + 4.0], "end", at[0] - gap - wide),
            ([at[0], at[1] - gap], "middle", at[0] - wide / 2.0),
            ([at[0], at[1] + gap + 8.0], "middle", at[0] - wide / 2.0),
        ];
        for (place, anchor, left) in tries {
            let area = [left, place[1] - 10.0, left + wide, place[1] + 3.0];
            let inside = area[0] > 4.0 && area[1] > 4.0 && area[2] < state.size[0] - 4.0 && area[3] < state.size[1] - 4.0;
            if inside && !taken.iter().any(|t| meet(t, &area)) {
                sheet.text(&group, place, anchor, id)?;
                taken.push(area);
                written += 1;
                break;
            }
        }
        taken.push([at[0] - 7.0, at[1] - 7.0, at[0] + 7.0, at[1] + 7.0]);
    }
    Some(())
}

fn meet(a: &Taken, b: &Taken) -> bool {
    a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3]
}

/// The picked tile's label at the upper right, and the thread to it where the tile can be seen.
fn thread(sheet: &Sheet<'_>, state: &State, taken: &mut Vec<Taken>) -> Option<()> {
    let tile = state.picked?;
    // On the way between shield and map the tile moves, and the label waits.
    let centre = state.place(tile)?;
    let shield = state.shield.as_ref()?;
    let mut words = shield.tiles.get(tile)?.id.clone();
    if let Some(value) = value_words(state, tile) {
        words.push('\u{2002}');
        words.push_str(&value);
    }
    let seen = state.seen_at(tile);
    if seen.is_none() {
        let inside = centre[0] >= 0.0 && centre[1] >= 0.0 && centre[0] <= state.size[0] && centre[1] <= state.size[1];
        words.push_str(if inside { ", on the far side" } else { ", beyond the picture" });
    }
    let group = sheet.group("thread")?;
    // Below the field that finds a tile by its number.
    let (right, base) = (state.size[0] - 16.0, 58.0);
    let line = base + 6.0;
    let text = sheet.text(&group, [right, base], "end", &words)?;
    let wide =
        text.dyn_ref::<SvgTextContentElement>().map_or(7.0 * words.chars().count() as f32, SvgTextContentElement::get_computed_text_length);
    let elbow = right - wide.max(60.0) - 12.0;
    taken.push([elbow, base - 12.0, right, line + 2.0]);
    let at = seen?;
    // The thread leaves the tile outside its selection, towards the elbow.
    let (dx, dy) = (elbow - at[0], line - at[1]);
    let far = dx.hypot(dy).max(1.0);
    let from = [at[0] + dx / far * 11.0, at[1] + dy / far * 11.0];
    let path = format!("M{:.1} {:.1}L{elbow:.1} {line:.1}H{right:.1}", from[0], from[1]);
    for (stroke, width) in [("var(--stage)", "4"), ("var(--ink)", "1.25")] {
        let path = sheet.add(&group, "path", &[("d", &path), ("fill", "none"), ("stroke", stroke), ("stroke-width", width)])?;
        // The text stands over the thread's halo.
        group.insert_before(&path, Some(&text)).ok()?;
    }
    taken.push([at[0] - 12.0, at[1] - 12.0, at[0] + 12.0, at[1] + 12.0]);
    Some(())
}

/// The shown value of a tile: `−27 K`, `1,415 K`, `watch`, `turbulent`.
fn value_words(state: &State, tile: usize) -> Option<String> {
    let shown = state.shown.as_ref()?;
    let value = shown.values.get(tile).copied().filter(|v| !v.is_nan())?;
    let about = if shown.estimate { "≈\u{2009}" } else { "" };
    let us = state.units == UnitSystem::Us;
    Some(match shown.scale.kind {
        ScaleKind::Margin => {
            let shown_value = if us { value * 1.8 } else { value }.round();
            let sign = if shown_value < 0.0 { "\u{2212}" } else { "+" };
            format!("{about}{sign}{}\u{202f}{}", grouped(shown_value.abs()), if us { "°F" } else { "K" })
        }
        ScaleKind::Temperature => {
            let shown_value = if us { value * 1.8 - 459.67 } else { value }.round();
            let sign = if shown_value < 0.0 { "\u{2212}" } else { "" };
            let layer = match shown.colour {
                Colour::Bondline => " at the glue line",
                Colour::Structure => " at the structure",
                _ => "",
            };
            format!("{about}{sign}{}\u{202f}{}{layer}", grouped(shown_value.abs()), if us { "°F" } else { "K" })
        }
        ScaleKind::Size => {
            let least = if shown.least.get(tile) == Some(&true) { "\u{2265}\u{2009}" } else { "" };
            format!("{about}{least}{}", Quantity::Thickness.text(value, state.units))
        }
        ScaleKind::Condition => match CONDITIONS.get(value as usize)? {
            Condition::Planned => "planned",
            Condition::Fitted => "fitted",
            Condition::Bonded => "bonded",
            Condition::Tested => "tested",
            Condition::AsBuilt => "as built",
            Condition::Watch => "watch",
            Condition::Repair => "repair in place",
            Condition::Replace => "replace",
            Condition::NotCleared => "not cleared",
        }
        .to_string(),
        ScaleKind::Regime => String::from(*["laminar", "transitional", "turbulent"].get(value as usize)?),
    })
}

/// A whole number with commas from 1,000.
fn grouped(value: f64) -> String {
    let digits = format!("{value:.0}");
    let mut out = String::with_capacity(digits.len() + 4);
    for (i, digit) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i) % 3 == 0 {
            out.push(',');
        }
        out.push(digit);
    }
    out
}

/// A mark: its tile's place, how bad, and how many it stands for.
struct Mark {
    at: [f32; 2],
    condition: Condition,
    count: usize,
}

fn marks(sheet: &Sheet<'_>, state: &State, taken: &mut Vec<Taken>) -> Option<()> {
    let (shown, shield) = (state.shown.as_ref()?, state.shield.as_ref()?);
    let mut found: Vec<(Condition, usize)> = Vec::new();
    for (i, value) in shown.values.iter().enumerate().take(shield.tiles.len()) {
        let condition = if *value >= 0.0 { CONDITIONS.get(*value as usize).copied() } else { None };
        let hidden = shown.hidden.get(i).copied().unwrap_or(false);
        if let Some(condition) = condition
            && condition != Condition::AsBuilt
            && !hidden
        {
            found.push((condition, i));
        }
    }
    // Worst first, so that a mark is placed where the worst of those it stands for lies.
    found.order_by(|a, b| b.0.cmp(&a.0).then(a.1.cmp(&b.1)));
    let mut marks: Vec<Mark> = Vec::new();
    for (condition, tile) in found.into_iter().take(MARKS) {
        let Some(at) = state.seen_at(tile) else { continue };
        match marks.iter_mut().find(|m| (m.at[0] - at[0]).hypot(m.at[1] - at[1]) < APART) {
            Some(mark) => mark.count += 1,
            None => marks.push(Mark { at, condition, count: 1 }),
        }
    }
    let group = sheet.group("marks")?;
    for mark in &marks {
        let place = format!("translate({:.1} {:.1})", mark.at[0], mark.at[1]);
        let shape = sheet.add(&group, "g", &[("transform", &place)])?;
        shape_of(sheet, &shape, mark.condition)?;
        taken.push([mark.at[0] - 9.0, mark.at[1] - 9.0, mark.at[0] + 9.0, mark.at[1] + 9.0]);
        if mark.count > 1 {
            sheet.text(&group, [mark.at[0] + 11.0, mark.at[1] + 4.0], "start", &mark.count.to_string())?;
            taken.push([mark.at[0] + 9.0, mark.at[1] - 8.0, mark.at[0] + 30.0, mark.at[1] + 8.0]);
        }
    }
    Some(())
}

/// Tiles near the onset of transition, each a tile with a wave across it; near ones merge with their count.
fn near_onset(sheet: &Sheet<'_>, state: &State, taken: &mut Vec<Taken>) -> Option<()> {
    let shown = state.shown.as_ref()?;
    let mut marks: Vec<([f32; 2], usize)> = Vec::new();
    let found = shown.sensitive.iter().enumerate().filter(|(i, sensitive)| **sensitive && !shown.hidden.get(*i).copied().unwrap_or(false));
    for (tile, _) in found.take(MARKS) {
        let Some(at) = state.seen_at(tile) else { continue };
        match marks.iter_mut().find(|(other, _)| (other[0] - at[0]).hypot(other[1] - at[1]) < 2.0 * APART) {
            Some((_, count)) => *count += 1,
            None => marks.push((at, 1)),
        }
    }
    let group = sheet.group("near-onset")?;
    for (at, count) in marks {
        let shape = sheet.add(&group, "g", &[("transform", &format!("translate({:.1} {:.1})", at[0], at[1]))])?;
        let parts = [("M-6.5-6.5h13v13h-13z", "var(--mark-halo)", "1.4"), ("M-4.5 1.5q2.25-5 4.5-1.5t4.5-1.5", "none", "1.6")];
        for (d, fill, width) in parts {
            sheet.add(&shape, "path", &[("d", d), ("fill", fill), ("stroke", "var(--mark-ink)"), ("stroke-width", width)])?;
        }
        taken.push([at[0] - 9.0, at[1] - 9.0, at[0] + 9.0, at[1] + 9.0]);
        if count > 1 {
            sheet.text(&group, [at[0] + 9.0, at[1] + 4.0], "start", &count.to_string())?;
            taken.push([at[0] + 9.0, at[1] - 8.0, at[0] + 30.0, at[1] + 8.0]);
        }
    }
    Some(())
}

/// The mark of a condition, a tile seen from above, about the origin.
fn shape_of(sheet: &Sheet<'_>, to: &Element, condition: Condition) -> Option<()> {
    const INK: &str = "var(--mark-ink)";
    const HALO: &str = "var(--mark-halo)";
    let path = |d: &str, fill: &str, stroke: &str, width: &str| {
        sheet.add(to, "path", &[("d", d), ("fill", fill), ("stroke", stroke), ("stroke-width", width)])
    };
    path("M-9-9h18v18h-18z", HALO, "none", "0")?;
    match condition {
        Condition::Watch => {
            path("M-6.5-6.5h13v13h-13z", HALO, INK, "1.8")?;
            path("M-2-2h4v4h-4z", INK, "none", "0")?;
        }
        Condition::Repair => {
            path("M-6.5-6.5h7l6 6v7h-13z", HALO, INK, "1.8")?;
            path("M-6.5-6.5v13h13z", INK, "none", "0")?;
        }
        Condition::Replace => {
            path("M-6.5-3h9.5v9.5h-9.5z", HALO, INK, "1.6")?;
            path("M-2.5-7h9.5v9.5h-9.5z", INK, HALO, "1.2")?;
        }
        Condition::NotCleared => {
            path("M-7-7h14v14h-14z", INK, "none", "0")?;
            path("M-2.5-5v10M2.5-5v10M-5 0h10", "none", HALO, "1.7")?;
        }
        // Work before service fills the square from below by quarters; planned is dashed and empty.
        Condition::Planned => {
            let square = path("M-6.5-6.5h13v13h-13z", HALO, INK, "1.4")?;
            square.set_attribute("stroke-dasharray", "2.6 2.6").ok()?;
        }
        Condition::Fitted | Condition::Bonded | Condition::Tested | Condition::AsBuilt => {
            let quarters = match condition {
                Condition::Fitted => 1.0,
                Condition::Bonded => 2.0,
                Condition::Tested => 3.0,
                _ => 4.0,
            };
            let high = 13.0 * quarters / 4.0;
            path(&format!("M-6.5 {:.2}h13v{high:.2}h-13z", 6.5 - high), INK, "none", "0")?;
            path("M-6.5-6.5h13v13h-13z", "none", INK, "1.6")?;
        }
    }
    Some(())
}
