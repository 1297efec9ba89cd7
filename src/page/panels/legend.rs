//! The legend as drawn: the ramp with its limits, and above it the spread of all tiles' values.
//!
//! Beyond the limit, count; within it, measure: short tiles stand as single blocks that pick, the rest is a histogram.

use super::dom::{Kit, Made, add, add_all, clear, put, round};
use crate::document::Sorting as _;
use crate::page::model::{Model, Scale, ScaleKind};
use crate::report::axis::{Axis, spread as counts};
use crate::report::numbers::{Quantity, count, counted, grouped, ticks, with_unit};
use crate::report::ramp::hex;
use crate::report::words;
use crate::scenario::UnitSystem;
use web_sys::Element;

/// Up to this many short tiles stand as blocks.
const BLOCKS: usize = 40;
/// Pixels: foot of the bars, top and height of the ramp, height of the highest bar, gap at the limit.
const FOOT: f64 = 58.0;
pub const RAMP: (f64, f64) = (61.0, 11.0);
const HIGHEST: f64 = 41.0;
const GAP: f64 = 22.0;
const SIDE: f64 = 20.0;

pub fn axis(scale: &Scale, width: f64) -> Axis {
    let gap = if scale.kind == ScaleKind::Margin { GAP } else { 0.0 };
    Axis { low: scale.low, high: scale.high, left: SIDE, right: (width - SIDE).max(SIDE + 60.0), gap }
}

/// What the numbers of a scale are.
pub fn quantity(kind: ScaleKind) -> Quantity {
    match kind {
        ScaleKind::Margin => Quantity::Difference,
        ScaleKind::Size => Quantity::Thickness,
        _ => Quantity::Temperature,
    }
}

/// The parts of the axis that carry colour: both sides of the limit, or all of it.
fn sides(scale: &Scale) -> Vec<(f64, f64)> {
    match scale.kind {
        ScaleKind::Margin => vec![(scale.low, 0.0), (0.0, scale.high)],
        _ => vec![(scale.low, scale.high)],
    }
}

fn pixels(axis: &Axis, low: f64, high: f64) -> (f64, f64) {
    // The upper end of the short side is the limit seen from below.
    let right = if axis.gap > 0.0 && high == 0.0 { axis.limit_x() - 0.5 * axis.gap } else { axis.x(high) };
    (axis.x(low), right)
}

/// The ramp, its ticks and its limits: changes only with the scale.
pub fn bands(kit: &Kit, group: &Element, scale: &Scale, axis: &Axis, dark: bool) -> Made<()> {
    clear(group);
    let (top, height) = RAMP;
    let palette = kit.colours.of(dark);
    let draw = |low: f64, high: f64, left: f64, right: f64, colour: &str| -> Made<()> {
        let rect = kit.rect("", left, top, right - left, height)?;
        put(
            &rect,
            &[
                ("fill", colour),
                ("data-legend", ""),
                ("data-low", &low.to_string()),
                ("data-high", &high.to_string()),
                ("data-colour-hex", colour),
            ],
        )?;
        add(group, &rect)
    };
    if scale.banded {
        for band in scale.bands().list {
            let (left, right) = pixels(axis, band.low, band.high);
            draw(band.low, band.high, left, right, &hex(palette.rgb(band.swatch)))?;
        }
    }
    for (low, high) in sides(scale) {
        let (left, right) = pixels(axis, low, high);
        let parts = if scale.banded { 0 } else { ((right - left) / 4.0).max(1.0) as usize };
        for part in 0..parts {
            let at = |edge: usize| edge as f64 / parts as f64;
            let (a, b) = (low + (high - low) * at(part), low + (high - low) * at(part + 1));
            // A shade wider, so that no seam shows between two parts.
            let (x, next) = (left + (right - left) * at(part), (left + (right - left) * at(part + 1) + 0.5).min(right));
            draw(a, b, x, next, &hex(palette.rgb(scale.swatch(0.5 * (a + b), false))))?;
        }
        if scale.kind == ScaleKind::Margin && high == 0.0 {
            add(group, &kit.path("struck", &strikes(left, right))?)?;
        }
        add(group, &kit.rect("kl", left, top, right - left, height)?)?;
    }
    ticks_of(kit, group, scale, axis, scale.units)?;
    limits_of(kit, group, scale, axis)
}

fn strikes(left: f64, right: f64) -> String {
    let mut d = String::new();
    let mut x = left;
    while x + 7.0 <= right {
        d.push_str(&format!("M{} {}l7-11", round(x), RAMP.0 + RAMP.1));
        x += 7.25;
    }
    d
}

fn ticks_of(kit: &Kit, group: &Element, scale: &Scale, axis: &Axis, units: UnitSystem) -> Made<()> {
    const Y: f64 = 86.0;
    let kind = quantity(scale.kind);
    let unit = kind.unit(units);
    if scale.kind != ScaleKind::Margin {
        let (low, high) = (kind.shown(scale.low, units), kind.shown(scale.high, units));
        let room = ((axis.right - axis.left) / 76.0).max(2.0) as usize;
        let (ends, inner) = ([(low, "st"), (high, "en")], ticks(low, high, room));
        let digits = if kind == Quantity::Thickness && units == UnitSystem::Us { 1 } else { 0 };
        for value in inner {
            let x = axis.x(kind.si(value, units));
            if x - axis.left > 46.0 && axis.right - x > 52.0 {
                add(group, &kit.label("", x, Y, &grouped(value, digits))?)?;
            }
        }
        for (value, class) in ends {
            let beyond = if class == "en" { axis.right } else { axis.left };
            add(group, &kit.label(class, beyond, Y, &with_unit(&grouped(value, digits), unit))?)?;
        }
        return Ok(());
    }
    add(group, &kit.label("z", axis.limit_x(), Y, &with_unit("0", unit))?)?;
    for (low, high) in sides(scale) {
        let (left, right) = pixels(axis, low, high);
        let (a, b) = (kind.shown(low, units), kind.shown(high, units));
        let room = ((right - left) / 54.0).max(1.0) as usize;
        for value in ticks(a, b, room).into_iter().filter(|value| *value != 0.0) {
            let x = axis.x(kind.si(value, units));
            let sign = if value > 0.0 { "+" } else { "" };
            let class = if x - axis.left < 12.0 {
                "st"
            } else if axis.right - x < 16.0 {
                "en"
            } else {
                ""
            };
            if (x - axis.limit_x()).abs() > 30.0 {
                add(group, &kit.label(class, x, Y, &format!("{sign}{}", grouped(value, 0)))?)?;
            }
        }
    }
    Ok(())
}

/// A limit cuts the ramp: ground, an ink line, a word. Words that would meet go to a second row.
fn limits_of(kit: &Kit, group: &Element, scale: &Scale, axis: &Axis) -> Made<()> {
    if scale.kind == ScaleKind::Margin {
        let x = round(axis.limit_x());
        add(group, &kit.path("lim", &format!("M{x} 2v72"))?)?;
        return add(group, &kit.label("limt", axis.limit_x() + 7.0, 10.0, "limit")?);
    }
    let mut limits: Vec<&(f64, String)> = scale.limits.iter().filter(|(value, _)| *value > scale.low && *value < scale.high).collect();
    limits.order_by(|a, b| a.0.total_cmp(&b.0));
    let mut rows: [Vec<(f64, f64)>; 3] = Default::default();
    for (value, word) in limits {
        let x = axis.x(*value);
        let text = format!("limit, {word}");
        let long = 6.2 * text.chars().count() as f64;
        let places = [(x + 6.0, x + 6.0 + long, "limt"), (x - 6.0 - long, x - 6.0, "limt en")];
        let free = |row: &Vec<(f64, f64)>, a: f64, b: f64| row.iter().all(|(c, d)| b < *c - 4.0 || a > *d + 4.0);
        let found = rows
            .iter()
            .enumerate()
            .flat_map(|(index, row)| places.iter().map(move |place| (index, row, place)))
            .find(|(_, row, (a, b, _))| *a >= 0.0 && *b <= axis.right + SIDE && free(row, *a, *b))
            .map(|(index, _, place)| (index, *place));
        add_all(group, &[&kit.path("cut", &format!("M{} 59v15", round(x)))?, &kit.path("lim", &format!("M{} 2v74", round(x)))?])?;
        let (index, (a, b, class)) = found.unwrap_or((2, places[usize::from(x > 0.5 * (axis.left + axis.right))]));
        if let Some(row) = rows.get_mut(index) {
            row.push((a, b));
        }
        add(group, &kit.label(class, if class == "limt" { a } else { b }, 10.0 + 13.0 * index as f64, &text)?)?;
    }
    Ok(())
}

/// The values of all tiles over the ramp.
pub fn spread(kit: &Kit, group: &Element, model: &Model, axis: &Axis) -> Made<()> {
    clear(group);
    let shown = &model.shown;
    let scale = &shown.scale;
    let values = || shown.values.iter().copied().filter(|value| value.is_finite());
    if scale.kind != ScaleKind::Margin {
        let bins = ((axis.right - axis.left) / 12.0).max(8.0) as usize;
        bars(kit, group, model, axis, (scale.low, scale.high), &counts(values(), scale.low, scale.high, bins))?;
        let kind = quantity(scale.kind);
        let (under, over) = (values().filter(|v| *v < scale.low).count(), values().filter(|v| *v > scale.high).count());
        for (number, class, x, sign, end) in [(under, "st side", axis.left, "<", scale.low), (over, "en side", axis.right, ">", scale.high)]
        {
            if number > 0 {
                let text = format!("{sign} {}: {}", kind.text(end, model.units), counted(number, "tile", "tiles"));
                add(group, &kit.label(class, x, 49.0, &text)?)?;
            }
        }
        return Ok(());
    }
    let short = values().filter(|value| *value < 0.0).count();
    let held = values().count() - short;
    // One kelvin per pixel on both sides: bars of 5 K, of 10 where the page is narrow.
    let step = if axis.right - axis.left < 500.0 { 10.0 } else { 5.0 };
    let bins = |low: f64, high: f64| (((high - low) / step).round().max(1.0)) as usize;
    bars(kit, group, model, axis, (0.0, scale.high), &counts(values().filter(|v| *v >= 0.0), 0.0, scale.high, bins(0.0, scale.high)))?;
    if short > BLOCKS {
        bars(kit, group, model, axis, (scale.low, 0.0), &counts(values().filter(|v| *v < 0.0), scale.low, 0.0, bins(scale.low, 0.0)))?;
    } else {
        blocks(kit, group, model, axis)?;
    }
    let narrow = axis.right - axis.left < 420.0;
    let beyond = |number: usize, end: f64| match number {
        0 => String::new(),
        number => format!(", {} beyond {}", count(number), Quantity::Difference.signed(end, model.units)),
    };
    let (under, over) = (values().filter(|v| *v < scale.low).count(), values().filter(|v| *v > scale.high).count());
    let (short, held) = match narrow {
        true => (format!("short: {}", count(short)), format!("spare: {}", count(held))),
        false => (
            format!("short: {}{}", counted(short, "tile", "tiles"), beyond(under, scale.low)),
            format!("spare: {}{}", counted(held, "tile", "tiles"), beyond(over, scale.high)),
        ),
    };
    add_all(group, &[&kit.label("st side", axis.left, 10.0, &short)?, &kit.label("en side", axis.right, 10.0, &held)?])
}

fn bars(kit: &Kit, group: &Element, model: &Model, axis: &Axis, (low, high): (f64, f64), counts: &[usize]) -> Made<()> {
    let (scale, dark) = (&model.shown.scale, model.dark);
    let highest = counts.iter().copied().max().unwrap_or(0).max(1) as f64;
    let (left, right) = pixels(axis, low, high);
    let wide = (right - left) / counts.len().max(1) as f64;
    for (index, number) in counts.iter().enumerate().filter(|(_, number)| **number > 0) {
        let middle = low + (high - low) * (index as f64 + 0.5) / counts.len() as f64;
        let tall = (HIGHEST * *number as f64 / highest).max(1.0);
        let bar = kit.rect("bar", left + wide * index as f64, FOOT - tall, (wide - 1.2).max(1.0), tall)?;
        bar.set_attribute("fill", &hex(kit.colours.rgb(scale, middle, dark)))?;
        add(group, &bar)?;
    }
    Ok(())
}

/// Each short tile a block at its value; blocks that would meet stand on each other.
fn blocks(kit: &Kit, group: &Element, model: &Model, axis: &Axis) -> Made<()> {
    const WIDE: f64 = 12.0;
    const TALL: f64 = 14.0;
    let mut short: Vec<(f64, usize)> =
        model.shown.values.iter().enumerate().filter(|(_, value)| **value < 0.0).map(|(index, value)| (*value, index)).collect();
    short.order_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let mut rows: Vec<f64> = Vec::new();
    for (value, index) in short {
        let Some(tile) = model.shield.tiles.get(index) else {
            continue;
        };
        let x = (axis.x(value) - 0.5 * WIDE).min(axis.limit_x() - 0.5 * axis.gap - WIDE).max(axis.left);
        let row = match rows.iter().position(|end| *end + 2.0 <= x) {
            Some(row) => row,
            None => {
                rows.push(0.0);
                rows.len() - 1
            }
        };
        if let Some(end) = rows.get_mut(row) {
            *end = x + WIDE;
        }
        // A fourth row would leave the scale: later blocks lie over the third.
        let y = FOOT - 1.0 - TALL - (TALL + 1.5) * row.min(2) as f64;
        let block = kit.rect("blk", x, y, WIDE, TALL)?;
        // Name and hint are one text: what is read out holds what is seen.
        let said = format!("{}, {}{}", tile.id, Quantity::Difference.signed(value, model.units), words::place(&tile.zone));
        put(
            &block,
            &[
                ("fill", &hex(kit.colours.rgb(&model.shown.scale, value, model.dark))),
                ("data-tile", &tile.id),
                ("role", "button"),
                ("tabindex", "0"),
            ],
        )?;
        put(&block, &[("aria-label", &said)])?;
        let title = kit.svg("title", &[])?;
        title.set_text_content(Some(&said));
        add(&block, &title)?;
        add(group, &block)?;
        if model.picked == Some(index) {
            add(group, &kit.rect("selk", x - 2.0, y - 2.0, WIDE + 4.0, TALL + 4.0)?)?;
        }
    }
    Ok(())
}
