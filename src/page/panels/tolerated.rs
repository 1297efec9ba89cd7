//! What the tiles tolerate: the words and the field beside the colours, and the picked tile's block, the bound and the cavity side by side.

use super::dom::{Kit, Made, add, add_all, carrying, put};
use crate::assess::tolerable::Asked;
use crate::page::model::{Action, Model, Tolerated};
use crate::report::numbers::{Quantity, count, counted, parse};
use crate::report::tolerable::{known, words};
use crate::scenario::Colour;
use wasm_bindgen::JsCast;
use web_sys::{Element, HtmlInputElement};

/// The words that choose between depth and length, and the field that names the other.
pub fn about(kit: &Kit, place: &Element, model: &Model) -> Made<()> {
    let colour = model.shown.colour;
    for (word, which) in [("deepest", Colour::ToleratedDepth), ("longest", Colour::ToleratedLength)] {
        let pressed = if colour == which { "true" } else { "false" };
        add(place, &kit.word(word, &[("data-colour", which.word()), ("aria-pressed", pressed)])?)?;
    }
    let deepest = colour == Colour::ToleratedDepth;
    let Asked { length_mm, depth_mm } = model.scenario.view.cavity;
    let (size_mm, word, label) =
        if deepest { (length_mm, "long", "Length of the cavity") } else { (depth_mm, "deep", "Depth of the cavity") };
    let field = kit.html("input", "num")?;
    put(&field, &[("data-cavity", if deepest { "length" } else { "depth" }), ("type", "text"), ("inputmode", "decimal"), ("size", "4")])?;
    put(&field, &[("aria-label", label)])?;
    field.unchecked_ref::<HtmlInputElement>().set_value(&Quantity::Thickness.number(size_mm / 1000.0, model.units));
    let unit = Quantity::Thickness.unit(model.units);
    add_all(
        place,
        &[&kit.said("span", "", "cavity,")?, &field, &kit.said("span", "", &format!("{unit} {word}; at least, by the full-area bound"))?],
    )
}

/// A size typed into the field; what is none shows again what stands.
pub fn listen(kit: &Kit, place: &Element) {
    let own = kit.clone();
    kit.on(place, "change", move |event| {
        let Some((field, which)) = carrying(event, "data-cavity") else { return };
        let (Ok(field), Some(model)) = (field.dyn_into::<HtmlInputElement>(), own.model()) else { return };
        let mut cavity = model.scenario.view.cavity;
        let size_mm = if which == "length" { &mut cavity.length_mm } else { &mut cavity.depth_mm };
        match parse(&field.value()).map(|shown| 1000.0 * Quantity::Thickness.si(shown, model.units)).filter(|mm| *mm > 0.0 && *mm <= 1e4) {
            Some(typed) => {
                *size_mm = typed;
                own.send(Action::Cavity(cavity));
            }
            None => field.set_value(&Quantity::Thickness.number(*size_mm / 1000.0, model.units)),
        }
    });
}

/// How far the work is; empty when it is done.
pub fn progress(model: &Model) -> String {
    match &model.tolerated {
        Some(_) if !model.full => "The results in depth come first.".to_string(),
        Some(Tolerated { rows, total, .. }) if rows.len() < *total => {
            format!("{} of {} worked out.", count(rows.len()), counted(*total, "tile", "tiles"))
        }
        _ => String::new(),
    }
}

/// The picked tile's block; `None` where it is not asked for or has no answer.
pub fn block(kit: &Kit, model: &Model, tile: usize) -> Made<Option<Element>> {
    let Some(tolerated) = &model.tolerated else { return Ok(None) };
    let Some(bound) = tolerated.rows.get(tile).copied().flatten() else { return Ok(None) };
    let block = kit.html("div", "withs")?;
    let table = kit.html("table", "with")?;
    put(&table, &[("id", "tolerated")])?;
    add(&table, &kit.said("caption", "", "What it tolerates, a cavity alone on it")?)?;
    let head = kit.html("tr", "")?;
    for words in ["", "full-area bound", "by radius and depth"] {
        add(&head, &kit.said("th", "", words)?)?;
    }
    add(&table, &head)?;
    let Asked { length_mm, depth_mm } = tolerated.asked;
    let size = |mm: f64| Quantity::Thickness.text(mm / 1000.0, model.units);
    let labels = [format!("deepest, {} long", size(length_mm)), format!("longest, {} deep", size(depth_mm))];
    for (which, label) in labels.iter().enumerate() {
        let row = kit.html("tr", "")?;
        let head = kit.said("th", "", label)?;
        head.set_attribute("scope", "row")?;
        let solved = match tolerated.solved.get(&tile) {
            Some(Ok(own)) => words(&own[which], model.units),
            Some(Err(_)) => "no answer".to_string(),
            None => "not yet".to_string(),
        };
        add_all(&row, &[&head, &kit.said("td", "", &words(&bound[which], model.units))?, &kit.said("td", "", &solved)?])?;
        add(&table, &row)?;
    }
    let note = match tolerated.solved.get(&tile) {
        Some(Err(why)) => why.clone(),
        _ => known(&bound),
    };
    add_all(&block, &[&table, &kit.said("p", "note", &note)?])?;
    Ok(Some(block))
}
