//! The brief: one sheet for print that says the verdict, why, the limiting tiles, what was assumed and what is not known.

use super::dom::{Kit, Made, Memo, add, add_all, clear, put};
use super::head::spaced;
use super::legend;
use crate::document::Sorting as _;
use crate::page::model::Model;
use crate::report::numbers::{NONE, Quantity, count, counted, grouped};
use crate::report::words;
use crate::scenario::UnitSystem;
use std::rc::Rc;
use web_sys::Element;

/// Rows of the table of limiting tiles.
const ROWS: usize = 10;
/// The scale is drawn this wide and fitted to the sheet.
const WIDE: f64 = 820.0;

pub struct Brief {
    root: Element,
    picture: Element,
    seen: Memo<(u64, u64, UnitSystem, usize, Option<String>, bool)>,
}

impl Brief {
    pub fn new(kit: &Kit) -> Made<Self> {
        let picture = kit.html("img", "pic")?;
        put(&picture, &[("alt", "The shield as seen on the page")])?;
        Ok(Self { root: kit.by_id("brief")?, picture, seen: Memo::default() })
    }

    pub fn set_picture(&self, url: &str) {
        let _ = self.picture.set_attribute("src", url);
    }

    pub fn render(&mut self, kit: &Kit, model: &Model) -> Made<()> {
        let shown = Rc::as_ptr(&model.shown) as usize;
        let key = (model.revision, model.edition, model.units, shown, model.digest.clone(), self.picture.has_attribute("src"));
        if !self.seen.changed(key) {
            return Ok(());
        }
        clear(&self.root);
        let units = model.units;
        let Some(results) = model.results.as_deref() else {
            return add(&self.root, &kit.said("p", "", "The full result does not stand yet; a brief waits for it.")?);
        };
        let entry = model.scenario.entries.get(model.entry).map_or(String::new(), |entry| format!(" · entry {}", entry.name));
        let head = kit.html("div", "bh")?;
        let left = kit.html("span", "")?;
        add_all(&left, &[&kit.said("b", "", "Tileglow brief")?, &kit.said("span", "", &format!(" · {}{entry}", model.shield.name))?])?;
        add_all(&head, &[&left, &kit.said("span", "", &format!("vehicle {}", spaced(&model.shield.digest)))?])?;
        let verdict = words::plain(&words::verdict_of_set(&model.shield, Some(results), &model.scenario.entries, units));
        add_all(
            &self.root,
            &[&head, &kit.said("h2", "bv", &verdict)?, &kit.said("p", "bt", &words::reasons(&model.shield, results, units))?],
        )?;
        if self.picture.has_attribute("src") {
            add(&self.root, &self.picture)?;
        }
        if model.shown.scale.kind.is_measured() {
            let svg = kit.svg("svg", &[("class", "bl"), ("viewBox", "0 0 820 92")])?;
            let (bars, bands) = (kit.svg("g", &[])?, kit.svg("g", &[])?);
            let axis = legend::axis(&model.shown.scale, WIDE);
            legend::spread(kit, &bars, model, &axis)?;
            legend::bands(kit, &bands, &model.shown.scale, &axis, false)?;
            // The sheet is no second legend to a script, and nothing on it acts.
            unmark(&bars);
            unmark(&bands);
            add_all(&svg, &[&bars, &bands])?;
            add(&self.root, &svg)?;
        }
        self.table(kit, model)?;
        self.columns(kit, model)?;
        let caution = kit.html("p", "caut")?;
        add_all(&caution, &[&kit.said("b", "", "Advice to a qualified engineer. ")?, &kit.said("span", "", "The responsible engineer, licensed where the law asks, local codes and the vehicle’s own certification decide. A suggested disposition is not a decision.")?])?;
        let foot = kit.html("div", "foot")?;
        let digest = model.digest.as_deref().map_or(String::new(), |digest| format!(", results {}", spaced(digest)));
        let state = if model.shown.estimate { "Estimate" } else { "Full result" };
        let error = words::stated_error(results, model.units);
        let told = format!("{state}{error}. Version {}{digest}.", crate::VERSION);
        add_all(&foot, &[&kit.said("span", "", &told)?, &kit.said("span", "", "The link on the page opens this state.")?])?;
        add_all(&self.root, &[&caution, &foot])
    }

    fn table(&self, kit: &Kit, model: &Model) -> Made<()> {
        let Some(results) = model.results.as_deref() else { return Ok(()) };
        let units = model.units;
        let order = words::ranked(results);
        let short = words::covered(results).short;
        let named = if short > 0 { short } else { ROWS.min(order.len()) };
        let table = kit.html("table", "")?;
        let (head, body, row) = (kit.html("thead", "")?, kit.html("tbody", "")?, kit.html("tr", "")?);
        let margin = format!("margin, {}", Quantity::Difference.unit(units));
        for (label, class) in
            [("tile", ""), ("where", ""), ("governed by", ""), (margin.as_str(), "r"), ("at, s", "r"), ("why", ""), ("suggested", "")]
        {
            add(&row, &kit.said("th", class, label)?)?;
        }
        add(&head, &row)?;
        for index in order.iter().take(named.min(ROWS)) {
            let (Some(tile), Some(result)) = (model.shield.tiles.get(*index), results.tiles.get(*index)) else { continue };
            let row = kit.html("tr", "")?;
            let signed = Quantity::Difference.signed(result.margin_k.unwrap_or(f64::NAN), units);
            let number = signed.split(crate::report::numbers::NARROW_SPACE).next().unwrap_or(NONE).to_string();
            let peak = words::governing_peak(result);
            let cells = [
                (tile.id.clone(), ""),
                (tile.zone.clone(), ""),
                (result.governed_by.map_or(NONE, words::governed).to_string(), ""),
                (number, "r"),
                (grouped(peak.time_s, 0), "r"),
                (words::why(&model.shield, results, *index, units), ""),
                (result.disposition.map_or(NONE, words::disposition).to_string(), ""),
            ];
            for (text, class) in cells {
                add(&row, &kit.said("td", class, &text)?)?;
            }
            add(&body, &row)?;
        }
        add_all(&table, &[&head, &body])?;
        add(&self.root, &table)?;
        if named > ROWS {
            add(&self.root, &kit.said("p", "bt", &format!("and {} more", count(named - ROWS)))?)?;
        }
        Ok(())
    }

    fn columns(&self, kit: &Kit, model: &Model) -> Made<()> {
        let Some(results) = model.results.as_deref() else { return Ok(()) };
        let mut by: Vec<(&str, usize)> = Vec::new();
        for tile in &results.tiles {
            let word = words::condition(tile.condition);
            match by.iter_mut().find(|(name, _)| *name == word) {
                Some((_, number)) => *number += 1,
                None => by.push((word, 1)),
            }
        }
        by.order_by_key(|(_, number)| std::cmp::Reverse(*number));
        let condition = by.iter().map(|(word, number)| format!("{} {word}", count(*number))).collect::<Vec<_>>().join(", ");
        let mass: f64 = results.tiles.iter().map(|tile| tile.mass_kg).sum();
        let heating = &model.scenario.heating;
        let scale =
            if heating.choices.scale != 1.0 { format!(" Heating scaled by {}.", grouped(heating.choices.scale, 2)) } else { String::new() };
        let changes = match model.scenario.changes.len() {
            0 => String::new(),
            many => format!(" {} to the tile table.", counted(many, "change", "changes")),
        };
        let transition = match heating.choices.transition {
            crate::heating::Transition::None => "Laminar throughout.".to_string(),
            crate::heating::Transition::Time { time_s } => format!("Turbulent from {}.", Quantity::Time.text(time_s, model.units)),
            crate::heating::Transition::Mach { mach } => format!("Turbulent below Mach {}.", grouped(mach, 1)),
            crate::heating::Transition::MomentumThickness { limit } => {
                format!("Turbulent where the momentum-thickness criterion passes {}.", grouped(limit, 0))
            }
            crate::heating::Transition::Roughness { limit, criterion } => match criterion {
                crate::heating::Roughness::Distributed => format!("Turbulent where the roughness criterion passes {}.", grouped(limit, 0)),
                crate::heating::Roughness::Isolated => "Turbulent behind findings that trip the boundary layer.".to_string(),
                crate::heating::Roughness::Reynolds => "Turbulent where the roughness Reynolds number passes its threshold.".to_string(),
            },
        };
        let assumed = format!(
            "{transition} Lee side at {} of the reference.{scale}{changes} {}; {} limits.",
            Quantity::Percent.text(heating.choices.lee_fraction, model.units),
            words::policy(&model.scenario.policy).0,
            words::limits(model.scenario.policy.limits)
        );
        let covered = words::covered(results);
        let plain = Quantity::Area.text(model.shield.plain_area_m2, model.units);
        let warnings = model.shield.warnings.len() + results.warnings.len();
        let unknown = format!(
            "{} Surface without tiles, {plain}, is not assessed. {}.",
            words::left_out(&covered).unwrap_or_default(),
            counted(warnings, "warning stands on the page", "warnings stand on the page")
        );
        let columns = kit.html("div", "cols")?;
        let work = format!("{condition}. The shield's tiles hold {}.", Quantity::Mass.text(mass, model.units));
        for (heading, text) in [("Condition", work), ("What was assumed", assumed), ("What is not known", unknown)] {
            let column = kit.html("div", "")?;
            add_all(&column, &[&kit.said("h3", "", heading)?, &kit.said("p", "", text.trim())?])?;
            add(&columns, &column)?;
        }
        add(&self.root, &columns)
    }
}

/// Takes the marks off a copy: it tells nothing to a script and holds no focus.
fn unmark(group: &Element) {
    let children = group.children();
    for place in 0..children.length() {
        if let Some(child) = children.item(place) {
            for name in ["data-legend", "data-tile", "role", "tabindex", "data-low", "data-high", "data-colour-hex"] {
                let _ = child.remove_attribute(name);
            }
        }
    }
}
