//! The browser front: all DOM work lives here.
//!
//! | file | idea |
//! | --- | --- |
//! | `model` | what the page shows at one moment, and the actions that change it: the contract between `app`, `view` and `panels` |
//! | `app` | the one owner of state: takes actions, recomputes, asks view and panels to draw |
//! | `api` | `window.tileglow` |
//! | `storage` | autosave and link in the address |
//! | `ramp` | the two ramps in OKLab and the scale that maps a value to a colour |
//! | `view` | the shield in three dimensions and as a map (three-d) |
//! | `panels` | verdict, scale, ribbon, chain, table, brief: DOM and SVG |

pub mod model;
pub mod panels;
pub mod view;

/// Opens the page in the document that loaded the engine; called once, when the wasm has been instantiated.
pub fn open() {
    console_error_panic_hook::set_once();
}
