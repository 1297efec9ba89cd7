//! Opening: chosen files, a chosen folder, or what is dropped anywhere on the page, folders included. Bytes never leave the page.

use super::dom::{Kit, Made, add_all, put, show};
use crate::page::model::Action;
use crate::shield::VehicleFile;
use js_sys::{Array, Function, Promise, Uint8Array};
use wasm_bindgen::{JsCast, JsValue};
use wasm_bindgen_futures::{JsFuture, spawn_local};
use web_sys::{
    DragEvent, Element, File, FileList, FileSystemDirectoryEntry, FileSystemEntry, FileSystemFileEntry, HtmlElement, HtmlInputElement,
};

/// Most files taken from one drop: a vehicle has about ten.
const MOST: usize = 200;

pub struct Open {
    panel: Element,
    files: Element,
    folder: Element,
    open: bool,
}

impl Open {
    pub fn new(kit: &Kit) -> Made<Self> {
        let panel = kit.by_id("openers")?;
        let words = "A vehicle: its folder, a zip of it, or vehicle.glb with tiles.csv (also vehicle.obj, stacks.json, materials.json, findings.csv). Or a \
                     scenario.json, or a trajectory inside one. Or a ground test: CASE.json with TRACES.csv. Dropping them anywhere on this page does the same. Nothing is sent anywhere.";
        let input = |folder: bool| -> Made {
            let input = kit.html("input", "vh")?;
            put(&input, &[("type", "file"), ("multiple", ""), ("tabindex", "-1"), ("aria-hidden", "true")])?;
            if folder {
                input.set_attribute("webkitdirectory", "")?;
            } else {
                put(&input, &[("accept", ".glb,.obj,.csv,.json,.zip"), ("id", "files")])?;
            }
            Ok(input)
        };
        let (files, folder) = (input(false)?, input(true)?);
        let button = |label: &str, act: &str| -> Made {
            let button = kit.said("button", "btn", label)?;
            put(&button, &[("type", "button"), ("data-act", act)])?;
            Ok(button)
        };
        let acts = kit.html("div", "")?;
        add_all(
            &acts,
            &[
                &button("Files…", "open-files")?,
                &button("Folder…", "open-folder")?,
                &button("The demonstration again", "demo")?,
                &button("Close", "open")?,
            ],
        )?;
        add_all(&panel, &[&kit.said("p", "", words)?, &acts, &files, &folder])?;
        for field in [&files, &folder] {
            let own = kit.clone();
            kit.on(field, "change", move |event| {
                let Some(field) = event.target().and_then(|t| t.dyn_into::<HtmlInputElement>().ok()) else { return };
                let chosen = field.files().map(|list| listed(&list)).unwrap_or_default();
                let own = own.clone();
                spawn_local(async move {
                    take(&own, chosen).await;
                    // The same file can be chosen again after it was mended.
                    field.set_value("");
                });
            });
        }
        let made = Self { panel, files, folder, open: false };
        Self::drops(kit);
        Ok(made)
    }

    pub fn toggle(&mut self, kit: &Kit) {
        self.open = !self.open;
        show(&self.panel, self.open);
        if let Ok(Some(word)) = kit.document.query_selector("#acts [data-act=open]") {
            let _ = word.set_attribute("aria-expanded", if self.open { "true" } else { "false" });
        }
    }

    pub fn close(&mut self, kit: &Kit) {
        if self.open {
            self.toggle(kit);
        }
    }

    pub fn choose(&self, folder: bool) {
        if let Some(field) = if folder { &self.folder } else { &self.files }.dyn_ref::<HtmlElement>() {
            field.click();
        }
    }

    fn drops(kit: &Kit) {
        let Some(body) = kit.document.body() else { return };
        for name in ["dragenter", "dragover"] {
            let body = body.clone();
            kit.on(&kit.document, name, move |event| {
                event.prevent_default();
                let _ = body.class_list().add_1("dropping");
            });
        }
        let over = body.clone();
        kit.on(&kit.document, "dragleave", move |event| {
            // Leaving the window, not passing from one element to the next.
            if event.dyn_ref::<DragEvent>().is_some_and(|event| event.related_target().is_none()) {
                let _ = over.class_list().remove_1("dropping");
            }
        });
        let own = kit.clone();
        kit.on(&kit.document, "drop", move |event| {
            event.prevent_default();
            let _ = body.class_list().remove_1("dropping");
            let Some(data) = event.dyn_ref::<DragEvent>().and_then(|event| event.data_transfer()) else { return };
            // Entries must be asked for while the event lasts; reading them may take longer.
            let items = data.items();
            let entries: Vec<FileSystemEntry> =
                (0..items.length()).filter_map(|index| items.get(index)?.webkit_get_as_entry().ok()?).collect();
            let files = data.files().map(|list| listed(&list)).unwrap_or_default();
            let own = own.clone();
            spawn_local(async move {
                let found = if entries.is_empty() { files } else { gather(entries).await };
                take(&own, found).await;
            });
        });
    }
}

fn listed(list: &FileList) -> Vec<File> {
    (0..list.length()).filter_map(|index| list.get(index)).take(MOST).collect()
}

/// Reads the files' bytes and hands them to the app. What cannot be read is told as an empty file of that name would be: by the loader.
async fn take(kit: &Kit, files: Vec<File>) {
    let mut read = Vec::new();
    for file in files {
        let name = file.name();
        // A folder's hidden files (of the file manager) are no part of a vehicle.
        if name.starts_with('.') {
            continue;
        }
        let bytes = match JsFuture::from(file.array_buffer()).await {
            Ok(buffer) => Uint8Array::new(&buffer).to_vec(),
            Err(_) => Vec::new(),
        };
        read.push(VehicleFile { name, bytes });
    }
    if !read.is_empty() {
        kit.send(Action::Open(read));
    }
}

/// The files of the entries, folders opened in turn.
async fn gather(entries: Vec<FileSystemEntry>) -> Vec<File> {
    let (mut files, mut waiting) = (Vec::new(), entries);
    waiting.reverse();
    while let Some(entry) = waiting.pop() {
        if files.len() >= MOST {
            break;
        }
        if entry.is_file() {
            if let Some(file) = file_of(entry.unchecked_into()).await {
                files.push(file);
            }
        } else {
            waiting.extend(children(entry.unchecked_into()).await);
        }
    }
    files
}

async fn file_of(entry: FileSystemFileEntry) -> Option<File> {
    let found = asked(|done, failed| entry.file_with_callback_and_callback(done, failed)).await?;
    found.dyn_into().ok()
}

async fn children(folder: FileSystemDirectoryEntry) -> Vec<FileSystemEntry> {
    let reader = folder.create_reader();
    let mut all = Vec::new();
    // A reader gives at most a hundred at a time and an empty list at the end.
    while let Some(part) = asked(|done, failed| reader.read_entries_with_callback_and_callback(done, failed).map(drop)).await {
        let part: Array = part.unchecked_into();
        if part.length() == 0 || all.len() >= MOST {
            break;
        }
        all.extend(part.iter().map(|entry| entry.unchecked_into::<FileSystemEntry>()));
    }
    all
}

/// A call that answers through callbacks, awaited; `None` where it failed.
async fn asked<T>(mut call: impl FnMut(&Function, &Function) -> T) -> Option<JsValue> {
    let promise = Promise::new(&mut |done, failed| {
        call(&done, &failed);
    });
    JsFuture::from(promise).await.ok()
}
