//! The document, made and changed by small functions: text nodes only, never markup from data.

use super::colour::Colours;
use crate::assess::Assessment;
use crate::page::model::{Action, Model};
use crate::report::words;
use gloo_events::{EventListener, EventListenerOptions};
use js_sys::{Function, Reflect};
use std::cell::{Cell, RefCell};
use std::rc::Rc;
use wasm_bindgen::{JsCast, JsValue};
use web_sys::{Document, Element, Event, HtmlElement};

pub type Made<T = Element> = Result<T, JsValue>;

const SVG: &str = "http://www.w3.org/2000/svg";

/// Results and their judged tiles, smallest margin first.
type Ranked = (Rc<Assessment>, Rc<Vec<usize>>);

/// What every panel needs: the document, the way back to the app, and the model that is on screen.
#[derive(Clone)]
pub struct Kit {
    pub document: Document,
    pub colours: Colours,
    dispatch: Rc<dyn Fn(Action)>,
    refresh: Rc<dyn Fn(&mut Model)>,
    latest: Rc<RefCell<Option<Model>>>,
    rendering: Rc<Cell<bool>>,
    listeners: Rc<RefCell<Vec<EventListener>>>,
    order: Rc<RefCell<Option<Ranked>>>,
}

impl Kit {
    pub fn new(document: Document, dispatch: Rc<dyn Fn(Action)>, refresh: Rc<dyn Fn(&mut Model)>) -> Self {
        Self {
            document,
            colours: Colours::default(),
            dispatch,
            refresh,
            latest: Rc::default(),
            rendering: Rc::default(),
            listeners: Rc::default(),
            order: Rc::default(),
        }
    }

    /// Asks the app for something. What the document fires while it is being drawn (a field that loses focus because it is replaced) waits
    /// until the drawing is done, so that the app is never entered twice.
    pub fn send(&self, action: Action) {
        if self.rendering.get() {
            let kit = self.clone();
            gloo_timers::callback::Timeout::new(0, move || kit.send(action)).forget();
        } else {
            (self.dispatch)(action);
        }
    }

    /// The judged tiles of these results, smallest margin first; sorted once for all panels.
    pub fn ranked(&self, results: &Rc<Assessment>) -> Rc<Vec<usize>> {
        let mut kept = self.order.borrow_mut();
        match &*kept {
            Some((of, order)) if Rc::ptr_eq(of, results) => order.clone(),
            _ => {
                let order = Rc::new(words::ranked(results));
                *kept = Some((results.clone(), order.clone()));
                order
            }
        }
    }

    /// The model on screen; none before the first. What is drawn again is drawn from it.
    pub fn on_screen(&self) -> Option<Model> {
        self.latest.borrow().clone()
    }

    /// The model that an event is answered from: the inputs as they stand now, which the screen may show a frame later. From those on screen
    /// the second of two quick changes would undo the first.
    pub fn model(&self) -> Option<Model> {
        let mut model = self.on_screen()?;
        (self.refresh)(&mut model);
        Some(model)
    }

    pub fn begin(&self, model: &Model) {
        self.rendering.set(true);
        *self.latest.borrow_mut() = Some(model.clone());
    }

    pub fn end(&self) {
        self.rendering.set(false);
    }

    pub fn on(&self, target: &web_sys::EventTarget, event: &'static str, run: impl FnMut(&Event) + 'static) {
        let options = EventListenerOptions { passive: false, ..Default::default() };
        self.listeners.borrow_mut().push(EventListener::new_with_options(target, event, options, run));
    }

    pub fn by_id(&self, id: &str) -> Made {
        self.document.get_element_by_id(id).ok_or_else(|| JsValue::from_str(&format!("the page has no element #{id}")))
    }

    pub fn html(&self, tag: &str, class: &str) -> Made {
        let element = self.document.create_element(tag)?;
        if !class.is_empty() {
            element.set_class_name(class);
        }
        Ok(element)
    }

    /// An element that holds one text.
    pub fn said(&self, tag: &str, class: &str, text: &str) -> Made {
        let element = self.html(tag, class)?;
        element.set_text_content(Some(text));
        Ok(element)
    }

    /// A word that acts: 24 px tall, a dotted rule under it.
    pub fn word(&self, text: &str, attributes: &[(&str, &str)]) -> Made {
        let button = self.html("button", "w")?;
        button.set_attribute("type", "button")?;
        put(&button, attributes)?;
        add(&button, &self.said("u", "", text)?)?;
        Ok(button)
    }

    pub fn svg(&self, tag: &str, attributes: &[(&str, &str)]) -> Made {
        let element = self.document.create_element_ns(Some(SVG), tag)?;
        put(&element, attributes)?;
        Ok(element)
    }

    pub fn rect(&self, class: &str, x: f64, y: f64, width: f64, height: f64) -> Made {
        let (x, y, w, h) = (round(x), round(y), round(width.max(0.0)), round(height.max(0.0)));
        self.svg("rect", &[("class", class), ("x", &x), ("y", &y), ("width", &w), ("height", &h)])
    }

    pub fn path(&self, class: &str, d: &str) -> Made {
        self.svg("path", &[("class", class), ("d", d)])
    }

    pub fn label(&self, class: &str, x: f64, y: f64, text: &str) -> Made {
        let element = self.svg("text", &[("class", class), ("x", &round(x)), ("y", &round(y))])?;
        element.set_text_content(Some(text));
        Ok(element)
    }
}

/// One decimal is a tenth of a pixel: enough, and short.
pub fn round(value: f64) -> String {
    format!("{value:.1}")
}

pub fn put(element: &Element, attributes: &[(&str, &str)]) -> Made<()> {
    for (name, value) in attributes {
        element.set_attribute(name, value)?;
    }
    Ok(())
}

pub fn add(parent: &Element, child: &Element) -> Made<()> {
    parent.append_child(child).map(|_| ())
}

pub fn add_all(parent: &Element, children: &[&Element]) -> Made<()> {
    children.iter().try_for_each(|child| add(parent, child))
}

pub fn text(parent: &Element, text: &str) -> Made<()> {
    match parent.owner_document() {
        Some(document) => parent.append_child(&document.create_text_node(text)).map(|_| ()),
        None => Ok(()),
    }
}

pub fn clear(element: &Element) {
    element.set_text_content(None);
}

pub fn show(element: &Element, shown: bool) {
    if element.has_attribute("hidden") == shown {
        let _ = element.toggle_attribute_with_force("hidden", !shown);
    }
}

/// A custom property or property of the element's own style (the object model, which a strict style policy allows).
pub fn style(element: &Element, name: &str, value: &str) {
    if let Some(style) = element.dyn_ref::<HtmlElement>().map(|element| element.style()) {
        let _ = style.set_property(name, value);
    } else if let Some(svg) = element.dyn_ref::<web_sys::SvgElement>() {
        let _ = svg.style().set_property(name, value);
    }
}

/// The nearest element that carries an attribute, from an event's target outward, with the value. The body carries the page's state
/// under the same names, which is no answer to a click.
pub fn carrying(event: &Event, attribute: &str) -> Option<(Element, String)> {
    let target = event.target()?.dyn_into::<Element>().ok()?;
    let element = target.closest(&format!("[{attribute}]:not(body)")).ok()??;
    let value = element.get_attribute(attribute)?;
    Some((element, value))
}

/// The width that an element has on the page, CSS pixels; 0 while it is not shown.
pub fn width(element: &Element) -> f64 {
    element.get_bounding_client_rect().width()
}

/// What a person holds of a part that is drawn anew: the control with the focus, and whether something is unfolded.
pub struct Held {
    control: Option<u32>,
    open: bool,
}

impl Held {
    const CONTROLS: &str = "button,summary,[tabindex]";

    pub fn of(kit: &Kit, place: &Element) -> Self {
        let active = kit.document.active_element().filter(|active| place.contains(Some(active)));
        let controls = place.query_selector_all(Self::CONTROLS).ok();
        let control = active.zip(controls).and_then(|(active, controls)| {
            (0..controls.length()).find(|at| controls.item(*at).is_some_and(|node| node.is_same_node(Some(&active))))
        });
        Self { control, open: place.query_selector("details[open]").ok().flatten().is_some() }
    }

    /// Unfolds and gives the focus to what stands in the same place now.
    pub fn give_back(&self, place: &Element) -> Made<()> {
        if let Some(details) = place.query_selector("details")?.filter(|_| self.open) {
            details.set_attribute("open", "")?;
        }
        let Some(at) = self.control else { return Ok(()) };
        let Some(node) = place.query_selector_all(Self::CONTROLS)?.item(at) else { return Ok(()) };
        // It stands where it stood: nothing is to be scrolled to. Elements of a drawing have the same call under another type.
        let still = js_sys::Object::new();
        Reflect::set(&still, &"preventScroll".into(), &JsValue::TRUE)?;
        Reflect::get(&node, &"focus".into())?.unchecked_into::<Function>().call1(&node, &still).map(|_| ())
    }
}

/// Remembers what was drawn last, so that a panel draws only what changed.
pub struct Memo<T>(Option<T>);

impl<T> Default for Memo<T> {
    fn default() -> Self {
        Self(None)
    }
}

impl<T: PartialEq> Memo<T> {
    pub fn changed(&mut self, value: T) -> bool {
        let changed = self.0.as_ref() != Some(&value);
        if changed {
            self.0 = Some(value);
        }
        changed
    }

    pub fn forget(&mut self) {
        self.0 = None;
    }
}
