//! What outlives the page: autosave in the browser's storage, the link in the address, files offered for saving.

use crate::scenario::{Scenario, link};
use wasm_bindgen::prelude::*;

/// The autosave's key; its value is a link's fragment.
const KEY: &str = "tileglow-autosave";

fn store() -> Option<web_sys::Storage> {
    web_sys::window()?.local_storage().ok()?
}

/// Keeps the scenario for the next opening of the page. A full or forbidden storage is no error.
pub fn save(scenario: &Scenario) {
    if let Some(store) = store() {
        let _ = store.set_item(KEY, &link::write(scenario, None));
    }
}

/// The fragment that was kept, if any.
pub fn saved() -> Option<String> {
    store()?.get_item(KEY).ok()?
}

/// Forgets what was kept.
pub fn forget() {
    if let Some(store) = store() {
        let _ = store.remove_item(KEY);
    }
}

/// The page's address without a fragment.
pub fn address() -> String {
    let href = web_sys::window().and_then(|window| window.location().href().ok()).unwrap_or_default();
    href.split('#').next().unwrap_or_default().to_string()
}

/// The fragment of the address that the page was opened with.
pub fn fragment() -> String {
    web_sys::window().and_then(|window| window.location().hash().ok()).unwrap_or_default()
}

/// Puts the link into the address bar without a step in the history.
pub fn show_link(address: &str) {
    if let Some(history) = web_sys::window().and_then(|window| window.history().ok()) {
        let _ = history.replace_state_with_url(&JsValue::NULL, "", Some(address));
    }
}

/// Copies text; where the browser forbids it, the address bar holds the link all the same.
pub fn copy(text: &str) {
    if let Some(window) = web_sys::window() {
        let promise = window.navigator().clipboard().write_text(text);
        wasm_bindgen_futures::spawn_local(async move {
            let _ = wasm_bindgen_futures::JsFuture::from(promise).await;
        });
    }
}

/// Offers a text as a file.
pub fn download(name: &str, text: &str) {
    let run = || -> Result<(), JsValue> {
        let document = web_sys::window().and_then(|window| window.document()).ok_or(JsValue::NULL)?;
        let parts = js_sys::Array::of1(&text.into());
        let url = web_sys::Url::create_object_url_with_blob(&web_sys::Blob::new_with_str_sequence(&parts)?)?;
        let anchor: web_sys::HtmlAnchorElement = document.create_element("a")?.unchecked_into();
        anchor.set_href(&url);
        anchor.set_download(name);
        anchor.click();
        gloo_timers::callback::Timeout::new(10_000, move || {
            let _ = web_sys::Url::revoke_object_url(&url);
        })
        .forget();
        Ok(())
    };
    let _ = run();
}

/// A blob URL of a PNG; the one before is given back. Empty where the browser refuses.
pub fn png_url(png: &[u8]) -> String {
    let make = || -> Result<String, JsValue> {
        let parts = js_sys::Array::of1(&js_sys::Uint8Array::from(png));
        let kind = web_sys::BlobPropertyBag::new();
        kind.set_type("image/png");
        web_sys::Url::create_object_url_with_blob(&web_sys::Blob::new_with_u8_array_sequence_and_options(&parts, &kind)?)
    };
    make().unwrap_or_default()
}

pub fn print() {
    if let Some(window) = web_sys::window() {
        let _ = window.print();
    }
}
