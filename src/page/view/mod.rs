//! The shield in three dimensions and as a map, on the page's own canvas.
//!
//! | file | idea |
//! | --- | --- |
//! | `solid` | the shield as vertices and outlines, on the shield and on the map |
//! | `camera` | where the eye is, named views, the view in words |
//! | `motion` | movement that eases and ends |
//! | `bvh` | which triangle a straight look meets first |
//! | `paint` | the graphics card's side; the shaders stand beside it |
//! | `flat` | the same on a plain canvas, where there is no WebGL2 |
//! | `theme` | colours of the style sheet |
//! | `state` | everything the picture depends on, and how it is drawn |
//! | `hands` | pointer, wheel, touch and keys |
//! | `overlay` | numbers, marks and the thread to the picked tile, as SVG |
//! | `png` | a picture as a file |
//!
//! Nothing loops: a frame is asked for when something changed, and again only while something moves.

mod bvh;
mod camera;
mod flat;
mod hands;
mod motion;
mod overlay;
mod paint;
mod png;
mod solid;
mod state;
mod theme;

use super::model::{Action, Model};
use crate::shield::Shield;
use gloo_events::EventListener;
use state::State;
use std::cell::{Cell, RefCell};
use std::rc::Rc;
use wasm_bindgen::JsCast;
use wasm_bindgen::closure::Closure;
use web_sys::{Element, HtmlCanvasElement, ResizeObserver};

pub use state::{Printed, Times};

/// The printed picture in CSS pixels: 182 mm across, the text of an A4 sheet with margins of 14 mm.
const PAPER: [u32; 2] = [688, 344];

type OnFrame = Closure<dyn FnMut(f64)>;
type OnResize = (ResizeObserver, Closure<dyn FnMut()>);

/// Takes a camera in the form of a scenario.
pub type Turned = dyn Fn(Option<[f64; 6]>);

/// The picture. Clones share one.
#[derive(Clone)]
pub struct View {
    inner: Rc<Inner>,
}

struct Inner {
    canvas: HtmlCanvasElement,
    overlay: Element,
    dispatch: Rc<dyn Fn(Action)>,
    state: RefCell<State>,
    /// A frame has been asked for.
    asked: Cell<bool>,
    /// Something changed since the last drawing.
    stale: Cell<bool>,
    frame: RefCell<Option<OnFrame>>,
    listeners: RefCell<Vec<EventListener>>,
    resized: RefCell<Option<OnResize>>,
    turned: RefCell<Option<Rc<Turned>>>,
    /// The view as last told to `turned`.
    told: Cell<Option<Option<[f64; 6]>>>,
}

impl View {
    /// A picture on `canvas` with labels in `overlay`, an SVG element that lies over it. Without WebGL2 it is drawn on a plain canvas and
    /// says so (`missing`).
    pub fn new(canvas: HtmlCanvasElement, overlay: Element, dispatch: Rc<dyn Fn(Action)>) -> Result<View, String> {
        let inner = Rc::new(Inner {
            state: RefCell::new(State::new(&canvas)),
            canvas,
            overlay,
            dispatch,
            asked: Cell::new(false),
            stale: Cell::new(false),
            frame: RefCell::new(None),
            listeners: RefCell::new(Vec::new()),
            resized: RefCell::new(None),
            turned: RefCell::new(None),
            told: Cell::new(Some(None)),
        });
        let weak = Rc::downgrade(&inner);
        *inner.frame.borrow_mut() = Some(Closure::new(move |now: f64| {
            if let Some(inner) = weak.upgrade() {
                inner.asked.set(false);
                if inner.stale.get() {
                    View { inner }.frame(now);
                }
            }
        }));
        let weak = Rc::downgrade(&inner);
        let resized = Closure::<dyn FnMut()>::new(move || {
            if let Some(inner) = weak.upgrade() {
                View { inner }.ask();
            }
        });
        if let Ok(observer) = ResizeObserver::new(resized.as_ref().unchecked_ref()) {
            observer.observe(&inner.canvas);
            *inner.resized.borrow_mut() = Some((observer, resized));
        }
        let view = View { inner };
        let listeners = hands::listen(&view);
        view.inner.listeners.borrow_mut().extend(listeners);
        Ok(view)
    }

    /// Why there is no picture; `None` where there is one.
    pub fn missing(&self) -> Option<String> {
        self.inner.state.borrow().missing.clone()
    }

    /// Tells `turned` the camera, in the form of a scenario, whenever a hand let it go somewhere else or a named view was asked for;
    /// `None` is the default view.
    pub fn on_turn(&self, turned: Rc<Turned>) {
        *self.inner.turned.borrow_mut() = Some(turned);
    }

    /// Takes over what the model shows. Uploads only what changed and draws in the next frame.
    pub fn update(&self, model: &Model) {
        self.inner.state.borrow_mut().update(model, &self.inner.canvas);
        self.ask();
    }

    /// Another shield; `update` notices one too.
    pub fn set_shield(&self, shield: &Rc<Shield>) {
        self.inner.state.borrow_mut().set_shield(shield);
        self.ask();
    }

    /// Draws now, without waiting for a frame. Sends no action.
    pub fn draw(&self) {
        if self.paint(now_ms()) || self.inner.state.borrow().looks() {
            self.ask();
        }
    }

    /// Eases to a named view (`belly`, `left`, `right`, `top`, `tail`, `nose`, `default`); other names do nothing.
    pub fn turn(&self, name: &str) {
        self.inner.state.borrow_mut().turn(name, now_ms());
        self.ask();
    }

    /// The tile under a place of the canvas in CSS pixels from its top left; `None` beside the canvas.
    pub fn tile_at(&self, x: f64, y: f64) -> Option<usize> {
        let mut state = self.inner.state.borrow_mut();
        let [width, height] = state.size.map(f64::from);
        // Not a number lies in no range.
        let inside = (0.0..width).contains(&x) && (0.0..height).contains(&y);
        if inside { state.tile_at(x as f32, y as f32) } else { None }
    }

    /// Where a tile's centre stands on the canvas in CSS pixels, `None` while it is hidden or out of the picture.
    pub fn place_of(&self, tile: usize) -> Option<[f64; 2]> {
        self.inner.state.borrow().seen_at(tile).map(|p| [f64::from(p[0]), f64::from(p[1])])
    }

    /// The camera in the form of a scenario; `None` while it is the default.
    pub fn camera(&self) -> Option<[f64; 6]> {
        self.inner.state.borrow().stored_camera()
    }

    /// Cuts to a camera of a scenario, or to the default.
    pub fn set_camera(&self, camera: Option<[f64; 6]>) {
        self.inner.state.borrow_mut().restore_camera(camera);
        self.ask();
    }

    /// "Seen from below, ahead and left".
    pub fn view_words(&self) -> String {
        self.inner.state.borrow().words()
    }

    /// What is on the canvas, as a PNG file.
    pub fn screenshot_png(&self) -> Option<Vec<u8>> {
        self.inner.state.borrow_mut().screenshot()
    }

    /// The picture for paper: light, on white, fitted to `width` by `height` CSS pixels at `ratio` pixels each, and where
    /// the worst short tiles stand on it.
    pub fn print(&self, width: u32, height: u32, ratio: f64) -> Option<Printed> {
        self.inner.state.borrow_mut().print([width.clamp(1, 4000), height.clamp(1, 4000)], ratio.clamp(0.5, 4.0) as f32)
    }

    /// The picture for paper as a `data:` address of a PNG file, as wide as the text of a sheet.
    pub fn picture_url(&mut self) -> Option<String> {
        use base64::Engine;
        let printed = self.print(PAPER[0], PAPER[1], 3.0)?;
        Some(format!("data:image/png;base64,{}", base64::engine::general_purpose::STANDARD.encode(printed.png)))
    }

    /// How long the last of each took, script alone.
    pub fn times(&self) -> Times {
        self.inner.state.borrow().times
    }

    fn ask(&self) {
        self.inner.stale.set(true);
        if self.inner.asked.replace(true) {
            return;
        }
        let frame = self.inner.frame.borrow();
        let asked = frame.as_ref().and_then(|f| web_sys::window()?.request_animation_frame(f.as_ref().unchecked_ref()).ok());
        self.inner.asked.set(asked.is_some());
    }

    /// Draws what is shown at `now`; true while something moves.
    fn paint(&self, now: f64) -> bool {
        let inner = &self.inner;
        inner.stale.set(false);
        let mut state = inner.state.borrow_mut();
        let moving = state.advance(now);
        state.draw(&inner.canvas);
        overlay::draw(&inner.overlay, &mut state);
        let words = state.words();
        if inner.canvas.get_attribute("aria-label").as_deref() != Some(&words) {
            let _ = inner.canvas.set_attribute("aria-label", &words);
        }
        moving
    }

    fn frame(&self, now: f64) {
        let inner = &self.inner;
        if self.paint(now) {
            self.ask();
        }
        // The state is let go before anyone is told, because who is told may change it.
        let hovered = inner.state.borrow_mut().take_hover();
        if let Some(hovered) = hovered {
            (inner.dispatch)(Action::Hover(hovered));
        }
        let camera = Some(inner.state.borrow()).filter(|s| !s.held()).map(|s| s.stored_camera());
        if let Some(camera) = camera
            && inner.told.replace(Some(camera)) != Some(camera)
        {
            let turned = inner.turned.borrow().clone();
            if let Some(turned) = turned {
                turned(camera);
            }
        }
    }
}

/// Milliseconds on the clock of frames.
fn now_ms() -> f64 {
    web_sys::window().and_then(|w| w.performance()).map_or(0.0, |p| p.now())
}
