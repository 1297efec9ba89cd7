//! `window.tileglow`: the page's state for the console, for a notebook that embeds it, and for checks.

use super::handle::Handle;
use crate::document::{Error, Json};
use crate::scenario::Scenario;
use crate::shield::VehicleFile;
use js_sys::{Array, Function, Object, Promise, Reflect, Uint8Array};
use wasm_bindgen::prelude::*;
use wasm_bindgen_futures::{JsFuture, future_to_promise};

/// A rejection: an `Error` whose message is the whole text and whose `problems` is a list with a text a problem.
pub fn rejection(error: &Error) -> JsValue {
    let out = js_sys::Error::new(&error.to_string());
    let problems: Array = error.problems.iter().map(|problem| JsValue::from_str(&problem.to_string())).collect();
    let _ = Reflect::set(&out, &"problems".into(), &problems);
    out.into()
}

fn to_js(json: &Json) -> JsValue {
    js_sys::JSON::parse(&json.compact()).unwrap_or(JsValue::NULL)
}

fn busy() -> JsValue {
    js_sys::Error::new("the page is in the middle of a change; ask again").into()
}

/// Resolves after the frame in which the picture and the full results, glue line and structure included, stand.
fn next_frame(handle: &Handle) -> Promise {
    let handle = handle.clone();
    Promise::new(&mut move |resolve: Function, _| handle.after_frame(resolve))
}

/// The name and bytes of one item given to `load`: a `File`, or an object with `name` and `bytes`.
async fn vehicle_file(item: JsValue) -> Result<VehicleFile, JsValue> {
    let name = Reflect::get(&item, &"name".into())?.as_string().ok_or_else(|| JsValue::from_str("a file has a name"))?;
    let bytes = match item.dyn_ref::<web_sys::Blob>() {
        Some(blob) => JsFuture::from(blob.array_buffer()).await?,
        None => Reflect::get(&item, &"bytes".into())?,
    };
    let bytes = match bytes.as_string() {
        Some(text) => text.into_bytes(),
        None => Uint8Array::new(&bytes).to_vec(),
    };
    Ok(VehicleFile { name, bytes })
}

async fn load(handle: Handle, items: JsValue) -> Result<JsValue, JsValue> {
    let mut files = Vec::new();
    for item in Array::from(&items).iter() {
        files.push(vehicle_file(item).await?);
    }
    handle.completed_after(|app| app.open_files(files)).await
}

async fn open(handle: Handle, scenario: JsValue) -> Result<JsValue, JsValue> {
    let text = js_sys::JSON::stringify(&scenario)?.as_string().unwrap_or_default();
    handle
        .completed_after(|app| {
            let scenario = Scenario::read("the scenario", &text, &app.demonstration)?;
            // The name is a label only: a vehicle is loaded already, so that it is never compared.
            app.open_scenario(scenario)
        })
        .await
}

impl Handle {
    /// Runs `change` and waits for the frame that shows its full results.
    async fn completed_after(&self, change: impl FnOnce(&mut super::app::App) -> Result<(), Error>) -> Result<JsValue, JsValue> {
        let done = self.with(change);
        match done {
            None => Err(busy()),
            Some(Err(error)) => Err(rejection(&error)),
            Some(Ok(())) => JsFuture::from(next_frame(self)).await,
        }
    }
}

fn set(target: &Object, name: &str, value: &JsValue) {
    // Setting a plain object's property cannot fail.
    let _ = Reflect::set(target, &name.into(), value);
}

fn function0(handle: &Handle, work: impl Fn(&Handle) -> JsValue + 'static) -> JsValue {
    let handle = handle.clone();
    Closure::<dyn Fn() -> JsValue>::new(move || work(&handle)).into_js_value()
}

/// Puts `tileglow` onto the window. `ready` resolves once the first picture and the first full results stand.
pub fn install(handle: &Handle, ready: &Promise) {
    let api = Object::new();
    set(&api, "version", &crate::VERSION.into());
    set(&api, "ready", ready);
    set(&api, "scenario", &function0(handle, |handle| handle.with(|app| to_js(&app.scenario_json())).unwrap_or(JsValue::NULL)));
    set(
        &api,
        "tiles",
        &function0(handle, |handle| {
            handle
                .completed(|app| app.settled().map_or(JsValue::NULL, |settled| JsValue::from_str(&settled.tiles_csv)))
                .unwrap_or(JsValue::NULL)
        }),
    );
    set(
        &api,
        "summary",
        &function0(handle, |handle| {
            handle.completed(|app| app.summary_json().map_or(JsValue::NULL, |json| to_js(&json))).unwrap_or(JsValue::NULL)
        }),
    );
    let held = handle.clone();
    let link = Closure::<dyn Fn() -> Promise>::new(move || match held.completed(|app| app.link()) {
        None => Promise::reject(&busy()),
        Some(Err(error)) => Promise::reject(&rejection(&error)),
        Some(Ok(link)) => Promise::resolve(&JsValue::from(link)),
    });
    set(&api, "link", &link.into_js_value());
    let held = handle.clone();
    let tile_at = Closure::<dyn Fn(f64, f64) -> JsValue>::new(move |x, y| {
        held.with(|app| app.tile_at(x, y)).flatten().map_or(JsValue::NULL, JsValue::from)
    });
    set(&api, "tileAt", &tile_at.into_js_value());
    let held = handle.clone();
    let opener = Closure::<dyn Fn(JsValue) -> Promise>::new(move |scenario| future_to_promise(open(held.clone(), scenario)));
    set(&api, "open", &opener.into_js_value());
    let held = handle.clone();
    let loader = Closure::<dyn Fn(JsValue) -> Promise>::new(move |files| future_to_promise(load(held.clone(), files)));
    set(&api, "load", &loader.into_js_value());
    if let Some(window) = web_sys::window() {
        let _ = Reflect::set(&window, &"tileglow".into(), &api);
    }
}
