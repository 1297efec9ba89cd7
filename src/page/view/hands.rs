//! Pointer, wheel, touch and keys: turn (left or one finger), pan (right, shift or two fingers), zoom (wheel or pinch) about the
//! pointer; arrows turn, shift and arrows pan, + and − zoom, Home gives the default view, Escape lets the picked tile go.

use super::View;
use crate::page::model::Action;
use gloo_events::{EventListener, EventListenerOptions, EventListenerPhase};
use wasm_bindgen::JsCast;
use web_sys::{Event, KeyboardEvent, PointerEvent, WheelEvent};

/// A pointer that has moved less than this since it came down, in CSS pixels, picks.
const STILL: f32 = 4.0;
/// Degrees a CSS pixel.
const TURN: f32 = 0.35;

/// The pointers that are down.
#[derive(Default)]
pub struct Hands {
    pointers: Vec<Pointer>,
    moved: f32,
    pans: bool,
}

#[derive(Clone, Copy)]
struct Pointer {
    id: i32,
    at: [f32; 2],
}

impl Hands {
    pub fn held(&self) -> bool {
        !self.pointers.is_empty()
    }

    pub fn dragging(&self) -> bool {
        self.held() && self.moved >= STILL
    }
}

/// Listeners that live as long as they are kept.
pub fn listen(view: &View) -> Vec<EventListener> {
    let canvas = &view.inner.canvas;
    let _ = canvas.style().set_property("touch-action", "none");
    let mut listeners = Vec::new();
    let mut on = |kind: &'static str, act: fn(&View, &Event)| {
        let weak = std::rc::Rc::downgrade(&view.inner);
        let options = EventListenerOptions { phase: EventListenerPhase::Bubble, passive: false };
        listeners.push(EventListener::new_with_options(canvas, kind, options, move |event| {
            if let Some(inner) = weak.upgrade() {
                act(&View { inner }, event);
            }
        }));
    };
    on("pointerdown", |view, event| with(event, |e: &PointerEvent| down(view, e)));
    on("pointermove", |view, event| with(event, |e: &PointerEvent| moved(view, e)));
    on("pointerup", |view, event| with(event, |e: &PointerEvent| up(view, e)));
    on("pointercancel", |view, event| with(event, |e: &PointerEvent| release(view, e)));
    on("pointerleave", |view, _| {
        view.inner.state.borrow_mut().hover(None);
        view.ask();
    });
    on("contextmenu", |_, event| event.prevent_default());
    on("wheel", |view, event| with(event, |e: &WheelEvent| wheel(view, e)));
    on("keydown", |view, event| with(event, |e: &KeyboardEvent| key(view, e)));
    on("webglcontextlost", |view, event| {
        event.prevent_default();
        view.inner.state.borrow_mut().lose();
    });
    on("webglcontextrestored", |view, _| {
        view.inner.state.borrow_mut().recover(&view.inner.canvas);
        view.ask();
    });
    listeners
}

fn with<T: JsCast>(event: &Event, act: impl FnOnce(&T)) {
    if let Some(event) = event.dyn_ref::<T>() {
        act(event);
    }
}

fn place(event: &web_sys::MouseEvent) -> [f32; 2] {
    [event.offset_x() as f32, event.offset_y() as f32]
}

fn down(view: &View, event: &PointerEvent) {
    let _ = view.inner.canvas.set_pointer_capture(event.pointer_id());
    let mut state = view.inner.state.borrow_mut();
    let hands = &mut state.hands;
    hands.pointers.retain(|p| p.id != event.pointer_id());
    if hands.pointers.is_empty() {
        hands.moved = 0.0;
        hands.pans = event.button() == 2 || event.button() == 1 || event.shift_key();
    } else {
        // A second finger is never a pick.
        hands.moved = STILL;
    }
    if hands.pointers.len() < 2 {
        hands.pointers.push(Pointer { id: event.pointer_id(), at: place(event) });
    }
}

fn moved(view: &View, event: &PointerEvent) {
    let at = place(event);
    {
        let mut state = view.inner.state.borrow_mut();
        let Some(which) = state.hands.pointers.iter().position(|p| p.id == event.pointer_id()) else {
            if event.pointer_type() != "touch" {
                state.hover(Some(at));
                drop(state);
                view.ask();
            }
            return;
        };
        let before = state.hands.pointers[which].at;
        let (dx, dy) = (at[0] - before[0], at[1] - before[1]);
        state.hands.moved += dx.hypot(dy);
        state.hands.pointers[which].at = at;
        if !state.hands.dragging() {
            return;
        }
        match state.hands.pointers.get(1 - which.min(1)).map(|p| p.at) {
            Some(other) if state.hands.pointers.len() == 2 => {
                let apart = |p: [f32; 2]| (p[0] - other[0]).hypot(p[1] - other[1]).max(1.0);
                state.pan(dx / 2.0, dy / 2.0);
                state.zoom(apart(at) / apart(before), [(at[0] + other[0]) / 2.0, (at[1] + other[1]) / 2.0]);
            }
            _ if state.hands.pans => state.pan(dx, dy),
            _ => state.orbit(dx * TURN, dy * TURN),
        }
    }
    view.ask();
}

fn up(view: &View, event: &PointerEvent) {
    let picks = {
        let state = view.inner.state.borrow();
        state.hands.held() && !state.hands.dragging() && event.button() == 0
    };
    release(view, event);
    if picks {
        let at = place(event);
        let tile = view.inner.state.borrow_mut().tile_at(at[0], at[1]);
        (view.inner.dispatch)(Action::Pick(tile));
    }
}

fn release(view: &View, event: &PointerEvent) {
    view.inner.state.borrow_mut().hands.pointers.retain(|p| p.id != event.pointer_id());
    view.ask();
}

fn wheel(view: &View, event: &WheelEvent) {
    event.prevent_default();
    // Pixels, lines or pages; a pinch on a pad comes as a wheel with Control held and is finer.
    let unit = [1.0, 16.0, 400.0][event.delta_mode().min(2) as usize];
    let step = (event.delta_y() * unit).clamp(-400.0, 400.0) * if event.ctrl_key() { 0.01 } else { 0.0016 };
    view.inner.state.borrow_mut().zoom((-step).exp() as f32, place(event));
    view.ask();
}

fn key(view: &View, event: &KeyboardEvent) {
    if event.ctrl_key() || event.meta_key() || event.alt_key() {
        return;
    }
    {
        let mut state = view.inner.state.borrow_mut();
        let middle = state.middle();
        let pans = event.shift_key() || state.is_map();
        match event.key().as_str() {
            "ArrowLeft" if pans => state.pan(24.0, 0.0),
            "ArrowRight" if pans => state.pan(-24.0, 0.0),
            "ArrowUp" if pans => state.pan(0.0, 24.0),
            "ArrowDown" if pans => state.pan(0.0, -24.0),
            "ArrowLeft" => state.orbit(6.0, 0.0),
            "ArrowRight" => state.orbit(-6.0, 0.0),
            "ArrowUp" => state.orbit(0.0, 6.0),
            "ArrowDown" => state.orbit(0.0, -6.0),
            "+" | "=" => state.zoom(1.2, middle),
            "-" | "_" => state.zoom(1.0 / 1.2, middle),
            "Home" => state.turn("default", super::now_ms()),
            "Escape" => {
                drop(state);
                event.prevent_default();
                (view.inner.dispatch)(Action::Pick(None));
                return;
            }
            _ => return,
        }
    }
    event.prevent_default();
    view.ask();
}
