//! The app as everything outside holds it: a queue of actions, one frame for all of them, idle work in slices.

use super::app::{App, now_ms};
use super::deep::Job;
use super::model::{Action, Model};
use super::workers::Pool;
use crate::assess::rounds::{Round, Slice};
use js_sys::Function;
use std::cell::{Cell, RefCell};
use std::collections::VecDeque;
use std::rc::Rc;
use wasm_bindgen::prelude::*;

/// Idle work (the sliders' tracks) starts after so long without an action, and yields after each of its slices.
const IDLE_MS: u32 = 250;

/// The handle that everything outside holds: actions in, frames out.
#[derive(Clone)]
pub struct Handle {
    app: Rc<RefCell<App>>,
    queue: Rc<RefCell<VecDeque<Action>>>,
    frame_asked: Rc<RefCell<bool>>,
    last_action_ms: Rc<RefCell<f64>>,
    waiting: Rc<RefCell<Vec<Function>>>,
    pool: Pool,
    /// A frame that shows new answers in depth is on its way; so is a slice of the page's own.
    owed: Rc<Cell<bool>>,
    own_owed: Rc<Cell<bool>>,
    idle_owed: Rc<Cell<bool>>,
}

/// Answers in depth are shown at most this often, ms, later in the work more rarely, and never for more than a third of the time.
const SHOW_MS: f64 = 60.0;
/// The page's own thread works for so long at once, ms.
const OWN_MS: f64 = 8.0;

impl Handle {
    pub fn new(app: App) -> Handle {
        Handle {
            app: Rc::new(RefCell::new(app)),
            queue: Rc::new(RefCell::new(VecDeque::new())),
            frame_asked: Rc::new(RefCell::new(false)),
            last_action_ms: Rc::new(RefCell::new(0.0)),
            waiting: Rc::new(RefCell::new(Vec::new())),
            pool: Pool::default(),
            owed: Rc::default(),
            own_owed: Rc::default(),
            idle_owed: Rc::default(),
        }
    }

    /// Queues an action and carries it out at once, unless one is being carried out: then right after it.
    pub fn send(&self, action: Action) {
        *self.last_action_ms.borrow_mut() = now_ms();
        self.queue.borrow_mut().push_back(action);
        self.pump();
    }

    fn pump(&self) {
        if let Ok(mut app) = self.app.try_borrow_mut() {
            loop {
                // The queue's borrow ends before the action, which may queue another.
                let next = self.queue.borrow_mut().pop_front();
                match next {
                    Some(action) => app.act(action),
                    None => break,
                }
            }
        }
        self.ask_frame();
    }

    /// Brings what an event is answered from up to the present: the inputs and what is picked. The results stay those on screen, unless they
    /// are another vehicle's. Nothing while an action is being carried out, whose own frame follows it.
    pub fn refresh(&self, model: &mut Model) {
        let Ok(app) = self.app.try_borrow() else { return };
        if !Rc::ptr_eq(&model.shield, &app.shield) {
            (model.results, model.card) = (None, None);
            model.shield = app.shield.clone();
        }
        (model.scenario, model.findings, model.flights) = (app.scenario.clone(), app.findings.clone(), app.flights.clone());
        (model.entry, model.picked) = (app.entry(), app.picked);
        (model.time_s, model.units) = (app.scenario.view.time_s, app.scenario.view.units);
    }

    /// Runs `work` on the state and asks for a frame; `None` while the state is in use.
    pub fn with<T>(&self, work: impl FnOnce(&mut App) -> T) -> Option<T> {
        let out = self.app.try_borrow_mut().ok().map(|mut app| work(&mut app));
        self.ask_frame();
        out
    }

    /// The full results of the present state stand when this returns.
    pub fn completed<T>(&self, work: impl FnOnce(&mut App) -> T) -> Option<T> {
        self.with(|app| {
            app.settle();
            work(app)
        })
    }

    /// The camera came to rest; no frame is owed, since the view has drawn it.
    pub fn turned(&self, camera: Option<[f64; 6]>) {
        if let Ok(mut app) = self.app.try_borrow_mut() {
            app.turned(camera);
        }
    }

    /// Calls `resolve` after the next frame that shows full results with their table and digest.
    pub fn after_frame(&self, resolve: Function) {
        self.waiting.borrow_mut().push(resolve);
        self.ask_frame();
    }

    pub fn ask_frame(&self) {
        if std::mem::replace(&mut *self.frame_asked.borrow_mut(), true) {
            return;
        }
        let handle = self.clone();
        let run = Closure::once_into_js(move || handle.frame());
        if let Some(window) = web_sys::window() {
            // A page that is not seen gets no animation frames, but scripts may still wait for one.
            let hidden = window.document().is_some_and(|document| document.hidden());
            let _ = match hidden {
                true => window.set_timeout_with_callback(run.unchecked_ref()),
                false => window.request_animation_frame(run.unchecked_ref()),
            };
        }
    }

    fn frame(&self) {
        *self.frame_asked.borrow_mut() = false;
        let (mut owes, mut settled) = (false, false);
        if let Ok(mut app) = self.app.try_borrow_mut() {
            app.own_thread = self.pool.on_own_thread();
            app.frame();
            (owes, settled) = (app.owes_settling(), app.settled().is_some());
        }
        if !self.queue.borrow().is_empty() {
            self.pump();
        }
        if owes {
            return self.ask_settling();
        }
        if !settled {
            self.pool.feed(self);
            return self.show_later();
        }
        for resolve in self.waiting.borrow_mut().drain(..) {
            let _ = resolve.call0(&JsValue::UNDEFINED);
        }
        self.ask_idle(IDLE_MS);
    }

    pub fn has_slices(&self) -> bool {
        self.app.try_borrow().is_ok_and(|app| app.has_slices())
    }

    pub fn round(&self) -> Round {
        self.app.try_borrow().map_or(Round::Full, |app| app.round())
    }

    /// Hands a slice of the worst tiles to `send`; `None` where nothing waits.
    pub fn next_slice(&self, most: usize, send: impl FnOnce(Job) -> Result<(), JsValue>) -> Option<Result<(), JsValue>> {
        self.app.try_borrow_mut().ok()?.next_slice(most, send)
    }

    pub fn give_back(&self, slice: &Slice) {
        if let Ok(mut app) = self.app.try_borrow_mut() {
            app.give_back(slice);
        }
    }

    /// A worker brought a slice home.
    pub fn solved(&self, slice: &Slice, numbers: &[f64]) {
        if let Ok(mut app) = self.app.try_borrow_mut() {
            app.take_numbers(slice, numbers);
        }
        self.show_later();
    }

    /// A slice on the page's own thread, in the next task.
    pub fn ask_own_slice(&self) {
        if self.own_owed.replace(true) {
            return;
        }
        let handle = self.clone();
        gloo_timers::callback::Timeout::new(0, move || {
            handle.own_owed.set(false);
            if let Ok(mut app) = handle.app.try_borrow_mut() {
                app.solve_for(OWN_MS);
            }
            handle.show_later();
            handle.pool.feed(&handle);
        })
        .forget();
    }

    /// A frame that shows what came in from the depth, at once when that is all, else after a while.
    fn show_later(&self) {
        let Ok(app) = self.app.try_borrow() else { return };
        let Some(after_ms) = app.shows_after_ms(SHOW_MS) else { return };
        drop(app);
        if self.owed.replace(true) {
            return;
        }
        let handle = self.clone();
        gloo_timers::callback::Timeout::new(after_ms, move || {
            handle.owed.set(false);
            handle.ask_frame();
        })
        .forget();
    }

    /// Table and digest in the next task, once the picture is out, and the frame that shows them.
    fn ask_settling(&self) {
        let handle = self.clone();
        let settle = move || {
            if let Ok(mut app) = handle.app.try_borrow_mut()
                && app.owes_settling()
            {
                app.settle();
            }
            handle.ask_frame();
        };
        gloo_timers::callback::Timeout::new(0, settle).forget();
    }

    /// One slice of idle work after a while; a frame that comes in between begins no second row of them.
    fn ask_idle(&self, after_ms: u32) {
        if self.idle_owed.replace(true) {
            return;
        }
        let handle = self.clone();
        gloo_timers::callback::Timeout::new(after_ms, move || {
            handle.idle_owed.set(false);
            handle.idle();
        })
        .forget();
    }

    fn idle(&self) {
        if now_ms() - *self.last_action_ms.borrow() < f64::from(IDLE_MS) {
            return self.ask_idle(IDLE_MS);
        }
        let Ok(mut app) = self.app.try_borrow_mut() else { return };
        if !app.has_idle_work() {
            return;
        }
        let finished = app.idle();
        let shows = app.shows_tolerated() || app.shows_damaging();
        drop(app);
        if !finished {
            self.ask_idle(0);
        }
        if finished || shows {
            self.ask_frame();
        }
    }
}
