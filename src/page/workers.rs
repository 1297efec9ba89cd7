//! The workers: started once, handed slices of tiles, restarted when they die; the page's own thread works where none starts.
//!
//! Cancelling needs no shared memory: a worker holds two slices at most, each of a few milliseconds, and a newer revision simply
//! hands out no more of the old. An answer of another revision than the inputs' is dropped where it arrives.

use super::app::now_ms;
use super::handle::Handle;
use crate::assess::rounds::Slice;
use gloo_events::EventListener;
use gloo_timers::callback::Timeout;
use js_sys::{Array, Float64Array, Object, Reflect, Uint32Array};
use std::cell::RefCell;
use std::rc::Rc;
use wasm_bindgen::prelude::*;
use web_sys::{MessageEvent, Worker, WorkerOptions, WorkerType};

/// A slice takes about so long, ms, and never knowingly longer than ten.
const SLICE_MS: f64 = 6.0;
/// Tiles of a slice, at least: lanes that finish early take the next tile, so that very small slices leave most of them idle.
pub const GROUP: usize = 16;
/// Tiles of a slice before it is known how long one takes.
const FIRST_TILES: usize = 32;
const MOST_TILES: usize = 256;
/// Slices in a worker's hands, so that it never waits for the page.
const IN_HAND: usize = 2;
/// A worker that says nothing for so long is dead, ms: while it starts or takes a vehicle, while it takes a scenario, while it solves.
const SILENT_START_MS: f64 = 60_000.0;
const SILENT_TAKING_MS: f64 = 10_000.0;
const SILENT_SOLVING_MS: f64 = 4_000.0;
const WATCH_MS: u32 = 1_000;
/// A seat whose worker died so often stays empty.
const DEATHS: u32 = 3;

/// A worker's place.
struct Seat {
    worker: Option<Worker>,
    _listeners: Vec<EventListener>,
    /// Rises with every worker on this seat, so that a dead one's last words are not taken for the new one's.
    generation: u32,
    ready: bool,
    /// Messages that the worker has yet to take before it solves.
    taking: u32,
    taking_vehicle: bool,
    vehicle: String,
    revision: u64,
    hands: Vec<Slice>,
    heard_ms: f64,
    deaths: u32,
}

#[derive(Default)]
struct State {
    seats: Vec<Seat>,
    started: bool,
    /// Milliseconds a tile, of the last slices, by round.
    tile_ms: [f64; 3],
    own_thread: bool,
    watch: Option<Timeout>,
}

/// The workers of the page.
#[derive(Clone, Default)]
pub struct Pool(Rc<RefCell<State>>);

fn set(target: &Object, name: &str, value: &JsValue) {
    let _ = Reflect::set(target, &name.into(), value);
}

fn message(kind: &str) -> Object {
    let out = Object::new();
    set(&out, "kind", &kind.into());
    out
}

fn number(from: &JsValue, name: &str) -> f64 {
    Reflect::get(from, &name.into()).ok().and_then(|value| value.as_f64()).unwrap_or(f64::NAN)
}

/// Addresses of the worker's and the engine's code: named by the page, or made by the single file.
fn addresses() -> Option<(String, String)> {
    let document = web_sys::window()?.document()?;
    let href = |id: &str| document.get_element_by_id(id).and_then(|link| Reflect::get(&link, &"href".into()).ok()?.as_string());
    Some((href("engine-worker")?, href("engine-code").unwrap_or_default()))
}

/// One thread is the page's; two at least, so that a two-core machine uses both; more than four gain little.
fn seats_wanted() -> u32 {
    let threads = web_sys::window().map_or(2.0, |window| window.navigator().hardware_concurrency());
    (threads as u32).saturating_sub(1).clamp(2, 4)
}

impl Pool {
    /// Why the page's own thread works, where it does.
    pub fn on_own_thread(&self) -> bool {
        self.0.borrow().own_thread
    }

    fn start(&self, handle: &Handle) {
        if std::mem::replace(&mut self.0.borrow_mut().started, true) {
            return;
        }
        for seat in 0..seats_wanted() as usize {
            self.0.borrow_mut().seats.push(Seat {
                worker: None,
                _listeners: Vec::new(),
                generation: 0,
                ready: false,
                taking: 0,
                taking_vehicle: false,
                vehicle: String::new(),
                revision: 0,
                hands: Vec::new(),
                heard_ms: now_ms(),
                deaths: 0,
            });
            self.spawn(handle, seat);
        }
    }

    fn spawn(&self, handle: &Handle, seat: usize) {
        let generation = match self.0.borrow_mut().seats.get_mut(seat) {
            Some(seat) => {
                seat.generation += 1;
                (seat.ready, seat.taking, seat.heard_ms) = (false, 0, now_ms());
                seat.taking_vehicle = false;
                (seat.vehicle, seat.revision) = (String::new(), 0);
                seat.generation
            }
            None => return,
        };
        let made = addresses().ok_or(JsValue::NULL).and_then(|(worker, code)| {
            let options = WorkerOptions::new();
            options.set_type(WorkerType::Module);
            let worker = Worker::new_with_options(&worker, &options)?;
            let start = message("start");
            set(&start, "code", &code.into());
            set(&start, "module", &wasm_bindgen::module());
            worker.post_message(&start).map(|()| worker)
        });
        let Ok(worker) = made else { return self.died(handle, seat, generation) };
        let (held, pool) = (handle.clone(), self.clone());
        let said = EventListener::new(&worker, "message", move |event| {
            if let Some(event) = event.dyn_ref::<MessageEvent>() {
                pool.said(&held, seat, generation, &event.data());
            }
        });
        let dies = |name: &'static str| {
            let (held, pool) = (handle.clone(), self.clone());
            let options = gloo_events::EventListenerOptions { passive: false, ..Default::default() };
            EventListener::new_with_options(&worker, name, options, move |event| {
                event.prevent_default();
                pool.died(&held, seat, generation);
            })
        };
        let listeners = vec![said, dies("error"), dies("messageerror")];
        if let Some(seat) = self.0.borrow_mut().seats.get_mut(seat) {
            (seat.worker, seat._listeners) = (Some(worker), listeners);
        }
    }

    /// A worker is gone: its slices go back, another takes its seat, unless that has been tried often enough.
    fn died(&self, handle: &Handle, seat: usize, generation: u32) {
        let (hands, again) = {
            let mut state = self.0.borrow_mut();
            let Some(place) = state.seats.get_mut(seat).filter(|place| place.generation == generation) else { return };
            if let Some(worker) = place.worker.take() {
                worker.terminate();
            }
            place.ready = false;
            // What it held is told apart from what its successor will say.
            place.generation += 1;
            place.deaths += 1;
            (std::mem::take(&mut place.hands), place.deaths < DEATHS)
        };
        for slice in hands {
            handle.give_back(&slice);
        }
        if again {
            // Not within the event that told of the death, whose listener goes with its worker.
            let (pool, held) = (self.clone(), handle.clone());
            Timeout::new(0, move || {
                pool.spawn(&held, seat);
            })
            .forget();
        } else if self.0.borrow().seats.iter().all(|seat| seat.deaths >= DEATHS) {
            self.0.borrow_mut().own_thread = true;
            handle.ask_frame();
        }
        self.feed(handle);
    }

    fn said(&self, handle: &Handle, seat: usize, generation: u32, data: &JsValue) {
        let kind = Reflect::get(data, &"kind".into()).ok().and_then(|kind| kind.as_string()).unwrap_or_default();
        let slice = {
            let mut state = self.0.borrow_mut();
            let Some(place) = state.seats.get_mut(seat).filter(|place| place.generation == generation) else { return };
            place.heard_ms = now_ms();
            match kind.as_str() {
                "ready" => {
                    place.ready = true;
                    None
                }
                "took" => {
                    place.taking = place.taking.saturating_sub(1);
                    // A vehicle comes before the scenario that is laid on it.
                    place.taking_vehicle = false;
                    None
                }
                "slice" if !place.hands.is_empty() => {
                    let slice = place.hands.remove(0);
                    // A worker that brings its work home is not one that keeps dying.
                    place.deaths = 0;
                    let each = number(data, "ms") / slice.tiles.len().max(1) as f64;
                    if let Some(known) = state.tile_ms.get_mut(slice.round as usize).filter(|_| each.is_finite()) {
                        *known = if *known > 0.0 { 0.7 * *known + 0.3 * each } else { each };
                    }
                    Some(slice)
                }
                "failed" => {
                    drop(state);
                    let why = Reflect::get(data, &"why".into()).unwrap_or(JsValue::NULL);
                    web_sys::console::warn_2(&"a worker failed:".into(), &why);
                    return self.died(handle, seat, generation);
                }
                _ => None,
            }
        };
        if let Some(slice) = slice {
            let values = Reflect::get(data, &"values".into()).ok().and_then(|values| values.dyn_into::<Float64Array>().ok());
            handle.solved(&slice, &values.map(|values| values.to_vec()).unwrap_or_default());
        }
        self.feed(handle);
    }

    /// Hands out what waits; starts the workers where they are not, and works itself where none can.
    pub fn feed(&self, handle: &Handle) {
        if !handle.has_slices() {
            return;
        }
        self.start(handle);
        if self.0.borrow().own_thread {
            return handle.ask_own_slice();
        }
        let seats = self.0.borrow().seats.len();
        for round in 0..IN_HAND {
            for seat in 0..seats {
                self.hand(handle, seat, round);
            }
        }
        self.ask_watch(handle);
    }

    /// One slice to a worker that holds no more than `held`.
    fn hand(&self, handle: &Handle, seat: usize, held: usize) {
        let mut state = self.0.borrow_mut();
        let round = handle.round();
        let tiles = match state.tile_ms.get(round as usize).copied().unwrap_or_default() {
            ms if ms > 0.0 => ((SLICE_MS / ms) as usize).clamp(GROUP, MOST_TILES) / GROUP * GROUP,
            _ => FIRST_TILES,
        };
        let Some(place) = state.seats.get_mut(seat).filter(|place| place.ready && place.hands.len() <= held) else { return };
        let Some(worker) = place.worker.clone() else { return };
        let sent = handle.next_slice(tiles, |job| {
            if place.hands.is_empty() {
                place.heard_ms = now_ms();
            }
            if place.vehicle != job.vehicle_digest {
                let vehicle = message("vehicle");
                set(&vehicle, "name", &job.vehicle_name.into());
                let files = Array::new();
                for file in job.vehicle_files {
                    let item = Object::new();
                    set(&item, "name", &file.name.as_str().into());
                    set(&item, "bytes", &js_sys::Uint8Array::from(file.bytes.as_slice()));
                    files.push(&item);
                }
                set(&vehicle, "files", &files);
                worker.post_message(&vehicle)?;
                place.vehicle = job.vehicle_digest.to_string();
                place.revision = 0;
                place.taking += 1;
                place.taking_vehicle = true;
            }
            if place.revision != job.slice.revision {
                let scenario = message("scenario");
                set(&scenario, "revision", &(job.slice.revision as f64).into());
                set(&scenario, "text", &job.scenario.into());
                worker.post_message(&scenario)?;
                place.revision = job.slice.revision;
                place.taking += 1;
            }
            let slice = message("slice");
            set(&slice, "revision", &(job.slice.revision as f64).into());
            set(&slice, "round", &JsValue::from(job.slice.round as u8));
            set(&slice, "known", &Float64Array::from(job.known));
            set(&slice, "tiles", &Uint32Array::from(job.slice.tiles.as_slice()));
            worker.post_message(&slice)?;
            place.hands.push(job.slice.clone());
            Ok(())
        });
        if let Some(Err(error)) = sent {
            let generation = place.generation;
            drop(state);
            web_sys::console::warn_2(&"a worker took no message:".into(), &error);
            self.died(handle, seat, generation);
        }
    }

    /// Looks again in a second whether every worker that holds something still speaks.
    fn ask_watch(&self, handle: &Handle) {
        if self.0.borrow().watch.is_some() {
            return;
        }
        let (pool, held) = (self.clone(), handle.clone());
        self.0.borrow_mut().watch = Some(Timeout::new(WATCH_MS, move || {
            pool.0.borrow_mut().watch = None;
            pool.watch(&held);
        }));
    }

    fn watch(&self, handle: &Handle) {
        let now = now_ms();
        let mut dead = Vec::new();
        let mut busy = false;
        for (index, seat) in self.0.borrow().seats.iter().enumerate().filter(|(_, seat)| seat.worker.is_some()) {
            let limit = match seat.taking {
                _ if !seat.ready || seat.taking_vehicle => SILENT_START_MS,
                0 => SILENT_SOLVING_MS,
                _ => SILENT_TAKING_MS,
            };
            busy |= !seat.ready || !seat.hands.is_empty();
            if (!seat.ready || !seat.hands.is_empty()) && now - seat.heard_ms > limit {
                dead.push((index, seat.generation));
            }
        }
        for (seat, generation) in dead {
            self.died(handle, seat, generation);
        }
        if busy {
            self.ask_watch(handle);
        }
    }
}
