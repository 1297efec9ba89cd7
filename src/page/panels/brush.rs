//! The filter on the scale: two handles that a pointer drags and keys move, or a range drawn over the spread.

use super::dom::{Kit, Made, add, add_all, put, round};
use super::legend::{self, quantity};
use crate::page::model::{Action, Model, ScaleKind};
use crate::report::axis::Axis;
use crate::report::numbers::Quantity;
use std::cell::RefCell;
use std::rc::Rc;
use wasm_bindgen::JsCast;
use web_sys::{Element, Event, KeyboardEvent, PointerEvent};

/// What a pointer holds.
#[derive(Clone, Copy, PartialEq)]
enum Held {
    Low,
    High,
    /// A new range from this value.
    Range(f64),
}

#[derive(Default)]
struct State {
    axis: Option<Axis>,
    held: Option<Held>,
}

pub struct Brush {
    low: Element,
    high: Element,
    state: Rc<RefCell<State>>,
}

impl Brush {
    pub fn new(kit: &Kit, svg: &Element) -> Made<Self> {
        let handle = |id: &str, label: &str, d: &str| -> Made {
            let group = kit.svg("g", &[("id", id), ("class", "brush"), ("role", "slider"), ("tabindex", "0"), ("aria-label", label)])?;
            add_all(
                &group,
                &[
                    &kit.rect("hit", -12.0, 42.0, 24.0, 40.0)?,
                    &kit.path("br", d)?,
                    &kit.rect("brh", -2.5, legend::RAMP.0, 5.0, legend::RAMP.1)?,
                ],
            )?;
            Ok(group)
        };
        let field = kit.rect("field", 0.0, 12.0, 10.0, 62.0)?;
        field.set_attribute("width", "100%")?;
        svg.insert_before(&field, svg.first_child().as_ref())?;
        let low = handle("brush-low", "Lowest value shown", "M0 54v24M0 54h4M0 78h4")?;
        let high = handle("brush-high", "Highest value shown", "M0 54v24M0 54h-4M0 78h-4")?;
        add(svg, &low)?;
        add(svg, &high)?;
        let brush = Self { low, high, state: Rc::default() };
        brush.listen(kit, svg);
        Ok(brush)
    }

    fn listen(&self, kit: &Kit, svg: &Element) {
        let (own, state, target, low, high) = (kit.clone(), self.state.clone(), svg.clone(), self.low.clone(), self.high.clone());
        kit.on(svg, "pointerdown", move |event| {
            let (Some(pointer), Some(element)) =
                (event.dyn_ref::<PointerEvent>(), event.target().and_then(|t| t.dyn_into::<Element>().ok()))
            else {
                return;
            };
            if pointer.button() != 0 || element.has_attribute("data-tile") {
                return;
            }
            let mut state = state.borrow_mut();
            let Some(value) = state.axis.map(|axis| axis.value(place(&target, pointer))) else { return };
            state.held = Some(if low.contains(Some(&element)) {
                Held::Low
            } else if high.contains(Some(&element)) {
                Held::High
            } else {
                Held::Range(value)
            });
            let _ = target.set_pointer_capture(pointer.pointer_id());
            let _ = own;
        });
        let (own, state, target) = (kit.clone(), self.state.clone(), svg.clone());
        kit.on(svg, "pointermove", move |event| {
            let Some(pointer) = event.dyn_ref::<PointerEvent>() else { return };
            let (held, value) = {
                let state = state.borrow();
                match (state.held, state.axis) {
                    (Some(held), Some(axis)) => (held, axis.value(place(&target, pointer))),
                    _ => return,
                }
            };
            let Some(model) = own.model() else { return };
            let [low, high] = present(&model);
            let next = match held {
                Held::Low => [value.min(high), high],
                Held::High => [low, value.max(low)],
                Held::Range(from) => [from.min(value), from.max(value)],
            };
            own.send(Action::Brush(settled(&model, next)));
        });
        for end in ["pointerup", "pointercancel"] {
            let state = self.state.clone();
            kit.on(svg, end, move |_| state.borrow_mut().held = None);
        }
        let own = kit.clone();
        kit.on(svg, "dblclick", move |_| own.send(Action::Brush(None)));
        for (handle, is_low) in [(&self.low, true), (&self.high, false)] {
            let own = kit.clone();
            kit.on(handle, "keydown", move |event| keyed(&own, event, is_low));
        }
    }

    pub fn render(&self, model: &Model, axis: &Axis) -> Made<()> {
        self.state.borrow_mut().axis = Some(*axis);
        let [low, high] = present(model);
        for (handle, value) in [(&self.low, low), (&self.high, high)] {
            handle.set_attribute("transform", &format!("translate({},0)", round(axis.x(value))))?;
            let text = match model.shown.scale.kind {
                ScaleKind::Margin => Quantity::Difference.signed(value, model.units),
                kind => quantity(kind).text(value, model.units),
            };
            // Sizes are metres.
            let number = |value: f64| if axis.high < 10.0 { format!("{value:.4}") } else { format!("{value:.1}") };
            put(handle, &[("aria-valuemin", &number(axis.low)), ("aria-valuemax", &number(axis.high))])?;
            put(handle, &[("aria-valuenow", &number(value.clamp(axis.low, axis.high))), ("aria-valuetext", &text)])?;
        }
        Ok(())
    }
}

/// A pointer's place along the drawing, its own pixels.
fn place(svg: &Element, pointer: &PointerEvent) -> f64 {
    f64::from(pointer.client_x()) - svg.get_bounding_client_rect().left()
}

/// The present range; without a brush the whole scale.
fn present(model: &Model) -> [f64; 2] {
    model.scenario.view.brush.unwrap_or([model.shown.scale.low, model.shown.scale.high])
}

/// A range that reaches an end of the scale takes in all beyond it; one that takes in everything is none.
fn settled(model: &Model, [low, high]: [f64; 2]) -> Option<[f64; 2]> {
    let scale = &model.shown.scale;
    let values = || model.shown.values.iter().copied().filter(|value| value.is_finite());
    let (at_low, at_high) = (low <= scale.low, high >= scale.high);
    match (at_low, at_high) {
        (true, true) => None,
        _ => Some([
            if at_low { values().fold(scale.low, f64::min) } else { low },
            if at_high { values().fold(scale.high, f64::max) } else { high },
        ]),
    }
}

fn keyed(kit: &Kit, event: &Event, is_low: bool) {
    let (Some(key), Some(model)) = (event.dyn_ref::<KeyboardEvent>(), kit.model()) else { return };
    let scale = &model.shown.scale;
    let [low, high] = present(&model);
    let (from, step) = (if is_low { low } else { high }.clamp(scale.low, scale.high), (scale.high - scale.low) / 100.0);
    let to = match key.key().as_str() {
        "ArrowLeft" | "ArrowDown" => from - step,
        "ArrowRight" | "ArrowUp" => from + step,
        "PageDown" => from - 10.0 * step,
        "PageUp" => from + 10.0 * step,
        "Home" => scale.low,
        "End" => scale.high,
        "Escape" => {
            kit.send(Action::Brush(None));
            return;
        }
        _ => return,
    };
    event.prevent_default();
    let next = if is_low { [to.min(high), high] } else { [low, to.max(low)] };
    kit.send(Action::Brush(settled(&model, next)));
}
