//! The browser front: all DOM work lives here.
//!
//! | file | idea |
//! | --- | --- |
//! | `model` | what the page shows at one moment, and the actions that change it: the contract between `app`, `view` and `panels` |
//! | `app` | the one owner of state: takes actions, recomputes, asks view and panels to draw |
//! | `opening` | the app's half of opening: links, files of a vehicle, scenarios, entries |
//! | `handle` | the app as everything outside holds it: a queue of actions, frames, idle work |
//! | `shown` | which value colours each tile, and on which scale |
//! | `deep` | the app's half of what is still to be solved in depth (`assess::rounds`) |
//! | `workers`, `solver` | the workers; what one of them solves |
//! | `size` | the app's half of sizing |
//! | `damaged` | the picked tile's findings, and all of them for their tables, solved when idle |
//! | `tolerated` | what every tile tolerates, worked out when idle |
//! | `guessed` | what stood last makes a guess of a slider's next step |
//! | `ground` | the app's half of ground tests |
//! | `card` | the picked tile's story, with its sources |
//! | `tracks` | the smallest margin over each input's range, made when idle |
//! | `api` | `window.tileglow` |
//! | `storage` | autosave, link in the address, files offered |
//! | `view` | the shield in three dimensions and as a map (three-d) |
//! | `panels` | verdict, scale, ribbon, chain, table, brief: DOM and SVG |

mod api;
mod app;
mod card;
pub mod damaged;
mod deep;
mod ground;
mod guessed;
mod handle;
pub mod model;
mod opening;
pub mod panels;
mod shown;
mod size;
pub mod solver;
mod storage;
mod tolerated;
mod tracks;
pub mod view;
mod workers;

use app::App;
use handle::Handle;
use model::{Action, Model};
use panels::Panels;
use std::cell::RefCell;
use std::rc::Rc;
use view::View;
use wasm_bindgen::prelude::*;

/// Opens the page in the document that loaded the engine; called once, when the wasm has been instantiated.
pub fn open() {
    // A worker runs the same engine and has no window: it waits for its messages (www/worker.js).
    if web_sys::window().is_none() {
        return;
    }
    console_error_panic_hook::set_once();
    if let Err(error) = build() {
        web_sys::console::error_1(&error);
    }
}

fn build() -> Result<(), JsValue> {
    let window = web_sys::window().ok_or("no window")?;
    let document = window.document().ok_or("no document")?;
    // The panels and the view are made before the app that answers them; nothing is sent before it stands.
    let slot: Rc<RefCell<Option<Handle>>> = Rc::default();
    let dispatch: Rc<dyn Fn(Action)> = {
        let slot = slot.clone();
        Rc::new(move |action| {
            let handle = slot.borrow().clone();
            if let Some(handle) = handle {
                handle.send(action);
            }
        })
    };
    let dark_query = window.match_media("(prefers-color-scheme: dark)")?;
    let dark = dark_query.as_ref().is_some_and(|query| query.matches());
    let refresh: Rc<dyn Fn(&mut Model)> = {
        let slot = slot.clone();
        Rc::new(move |model| slot.borrow().iter().for_each(|handle| handle.refresh(model)))
    };
    let panels = Panels::new(document.clone(), dispatch.clone(), refresh)?;
    let canvas = document.get_element_by_id("shield").ok_or("no canvas")?.dyn_into()?;
    let overlay = document.get_element_by_id("stage-svg").ok_or("no overlay")?;
    let view = View::new(canvas, overlay, dispatch)?;
    let missing = view.missing();
    let app = App::new(panels, Some(view.clone()), dark).map_err(|error| JsValue::from_str(&error.to_string()))?;
    let handle = Handle::new(app);
    *slot.borrow_mut() = Some(handle.clone());
    handle.with(|app| app.reopen(missing));
    let ready = {
        let handle = handle.clone();
        js_sys::Promise::new(&mut move |resolve, _| handle.after_frame(resolve))
    };
    api::install(&handle, &ready);
    let turned = handle.clone();
    view.on_turn(Rc::new(move |camera| turned.turned(camera)));
    if let Some(query) = dark_query {
        let themed = handle.clone();
        let held = query.clone();
        let listener = Closure::<dyn FnMut()>::new(move || {
            themed.with(|app| app.set_dark(held.matches()));
        });
        query.add_event_listener_with_callback("change", listener.as_ref().unchecked_ref())?;
        listener.forget();
    }
    let followed = handle.clone();
    let listener = Closure::<dyn FnMut()>::new(move || {
        followed.with(App::follow_address);
    });
    window.add_event_listener_with_callback("hashchange", listener.as_ref().unchecked_ref())?;
    listener.forget();
    let body = document.body().ok_or("no body")?;
    wasm_bindgen_futures::spawn_local(async move {
        let _ = wasm_bindgen_futures::JsFuture::from(ready).await;
        let _ = body.set_attribute("data-ready", "1");
    });
    Ok(())
}
