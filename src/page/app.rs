//! The one owner of the page's state: takes actions, recomputes, asks view and panels to draw.
//!
//! Invariants: a result carries the revision of the inputs that it was made from and is dropped in the same step in which they
//! move on; a refused input changes nothing; every action ends in at most one frame.

use super::card::Kept;
use super::damaged::Damaging;
use super::ground::Test;
use super::guessed::Standing;
use super::model::{Action, Model, Track};
use super::panels::Panels;
use super::shown::{self, Looked};
use super::size::Sizer;
use super::storage;
use super::tolerated::Tolerating;
use super::tracks::{From, TrackMaker};
use super::view::View;
use crate::assess::depth::{History, Setup, Tables};
use crate::assess::rounds::Work;
use crate::assess::{self, Assessment, Prepared};
use crate::document::Error;
use crate::flight::Trajectory;
use crate::report::digest::sha256;
use crate::report::inputs::Subject;
use crate::report::ramp::Scale;
use crate::report::work::work_csv;
use crate::report::{summary, tiles};
use crate::scenario::{NamedEntry, Scenario, link};
use crate::shield::{Finding, Shield, VehicleFile, demo, findings_csv, load};
use std::rc::Rc;
use std::sync::Arc;

/// So many steps can be undone.
const UNDO_STEPS: usize = 200;
/// The brief's picture, in CSS pixels.
const PRINTED_PX: [u32; 2] = [720, 350];

/// The results of one revision: the surface at once, glue line and structure tile by tile.
pub struct Results {
    pub assessment: Rc<Assessment>,
    /// Every tile is solved in depth with all that the policy asks: the margins stand.
    pub full: bool,
    /// And how far each is from its limits.
    pub complete: bool,
    /// The answers in depth that are in it.
    pub answers: u64,
    /// What takes a second look: made when nothing is dragged, or when it is asked for.
    pub settled: Option<Settled>,
}

/// The table of results and its digest.
pub struct Settled {
    pub tiles_csv: Rc<String>,
    pub digest: String,
}

/// A tile's course in depth, by revision, entry and tile.
pub type Story = ((u64, usize, usize), Option<Rc<History>>);

/// The state behind the page.
pub struct App {
    pub shield: Rc<Shield>,
    pub scenario: Rc<Scenario>,
    pub(super) prepared: Rc<Prepared>,
    pub(super) tables: Rc<Tables>,
    /// The vehicle's files for the workers; none for the demonstration.
    pub(super) vehicle_files: Rc<Vec<VehicleFile>>,
    pub(super) flights: Rc<Vec<Trajectory>>,
    /// What the last assessment leaves for the next.
    pub(super) kept: assess::Kept,
    pub(super) findings: Arc<Vec<Finding>>,
    pub(super) revision: u64,
    pub(super) work: Option<Work>,
    /// Of how many entries, and which of them govern glue line or structure, a bit each, by tile.
    pub(super) governed: Option<(usize, Vec<u32>)>,
    /// What stood last, to guess a slider's next step from.
    pub(super) standing: Option<Standing>,
    pub(super) scenario_text: Option<Rc<str>>,
    /// How long the last remaking of the results took.
    pub(super) remade_ms: f64,
    pub(super) story: Option<Story>,
    /// The picked tile's card, made anew only where it changes.
    pub(super) card: Option<Kept>,
    pub(super) damaging: Option<Damaging>,
    pub(super) sizer: Option<Sizer>,
    pub(super) tolerating: Option<Tolerating>,
    pub(super) ground: Option<Test>,
    /// The page's own thread does the workers' work.
    pub own_thread: bool,
    pub results: Option<Results>,
    pub demonstration: Rc<Vec<NamedEntry>>,
    pub(super) undo: Vec<Rc<Scenario>>,
    pub(super) redo: Vec<Rc<Scenario>>,
    pub(super) before_drag: Option<Rc<Scenario>>,
    pub(super) picked: Option<usize>,
    /// Nobody has picked yet: the worst tile stands picked as soon as it is known.
    pick_worst: bool,
    pub(super) hovered: Option<usize>,
    pub(super) refused: Option<String>,
    pub(super) said: Option<String>,
    /// Digest digits that came with a link, and the revision that it opened to.
    pub(super) link_digest: Option<(String, u64)>,
    scale: Scale,
    tracks: Rc<Vec<Track>>,
    pub(super) track_maker: Option<TrackMaker>,
    /// The revision and the picked tile that the tracks were made for.
    tracked: Option<(u64, Option<usize>)>,
    elapsed_s: Vec<(String, f64)>,
    pub(super) view: Option<View>,
    panels: Panels,
    dark: bool,
}

pub fn now_ms() -> f64 {
    web_sys::window().and_then(|window| window.performance()).map_or(0.0, |performance| performance.now())
}

impl App {
    /// Builds the state from the demonstration vehicle, and whatever the address or the storage holds beside it.
    pub fn new(panels: Panels, view: Option<View>, dark: bool) -> Result<App, Error> {
        let began = now_ms();
        let shield = load(&demo::files(), "Whinchat")?;
        let loaded = now_ms();
        let scenario = Scenario::read("scenario.json", &demo::scenario_json(), &[])?;
        let demonstration = Rc::new(scenario.entries.clone());
        let prepared = Prepared::new(&shield, &scenario)?;
        let tables = Rc::new(Tables::of(&shield.library));
        let mut app = App {
            flights: flights(&prepared),
            kept: assess::Kept::default(),
            findings: prepared.findings.clone(),
            shield: Rc::new(shield),
            scenario: Rc::new(scenario),
            prepared: Rc::new(prepared),
            tables,
            vehicle_files: Rc::default(),
            work: None,
            governed: None,
            standing: None,
            scenario_text: None,
            remade_ms: 0.0,
            story: None,
            card: None,
            damaging: None,
            own_thread: false,
            sizer: None,
            tolerating: None,
            ground: None,
            revision: 1,
            results: None,
            demonstration,
            undo: Vec::new(),
            redo: Vec::new(),
            before_drag: None,
            picked: None,
            pick_worst: true,
            hovered: None,
            refused: None,
            said: None,
            link_digest: None,
            scale: Scale::default(),
            tracks: Rc::new(Vec::new()),
            track_maker: None,
            tracked: None,
            elapsed_s: vec![("vehicle".to_string(), (loaded - began) / 1000.0), ("flight".to_string(), (now_ms() - loaded) / 1000.0)],
            view,
            panels,
            dark,
        };
        app.show_vehicle();
        Ok(app)
    }

    pub fn set_dark(&mut self, dark: bool) {
        self.dark = dark;
    }

    /// The camera came to rest: part of the state, but of no result and no undo step.
    pub fn turned(&mut self, camera: Option<[f64; 6]>) {
        self.look(|scenario| scenario.view.camera = camera);
        storage::save(&self.scenario);
    }

    pub(super) fn show_vehicle(&mut self) {
        if let Some(view) = &self.view {
            view.set_camera(self.scenario.view.camera);
        }
        self.pick_of_view();
        self.scale = Scale::default();
    }

    /// The tile that the scenario's view names, else the worst once it is known.
    pub(super) fn pick_of_view(&mut self) {
        self.picked = self.scenario.view.tile.as_ref().and_then(|id| self.shield.tiles.iter().position(|tile| tile.id == *id));
        self.pick_worst = self.picked.is_none();
    }

    pub(super) fn stage(&mut self, name: &str, seconds: f64) {
        match self.elapsed_s.iter_mut().find(|(stage, _)| stage == name) {
            Some(stage) => stage.1 = seconds,
            None => self.elapsed_s.push((name.to_string(), seconds)),
        }
    }

    /// Takes a new scenario: prepares it first, so that a refused one leaves everything as it was.
    pub(super) fn take(&mut self, scenario: Scenario) -> Result<(), Error> {
        let physics_same = scenario.canonical() == self.scenario.canonical();
        if !physics_same {
            let began = now_ms();
            let mut prepared = (*self.prepared).clone();
            prepared.update(&self.shield, &scenario)?;
            Setup::new(&self.shield, &scenario, &prepared, &self.tables)?;
            self.findings = prepared.findings.clone();
            if scenario.entries != self.scenario.entries {
                self.flights = flights(&prepared);
            }
            self.keep_depth(&prepared);
            self.prepared = Rc::new(prepared);
            self.stage("flight", (now_ms() - began) / 1000.0);
            self.revision += 1;
            self.results = None;
            self.track_maker = None;
        }
        self.scenario = Rc::new(scenario);
        Ok(())
    }

    /// Makes the results where they are missing: the surface, and what came in from the depth since.
    pub fn complete(&mut self) {
        if self.results.is_none() && !self.depth_stands() {
            let began = now_ms();
            let (assessment, guessed) = self.first_results();
            self.stage("surface and margins", (now_ms() - began) / 1000.0);
            self.begin_depth(&assessment);
            if let (Some(work), Some(guessed)) = (&mut self.work, guessed) {
                work.guess(guessed);
            }
            if self.governed.is_none() {
                self.remember_governed(&assessment);
            }
            self.results = Some(Results { assessment: Rc::new(assessment), settled: None, full: false, complete: false, answers: 0 });
        }
        self.solve_few();
        self.deepen(false);
    }

    /// Makes the full results, their table and digest where they are missing.
    pub fn settle(&mut self) {
        self.complete();
        self.finish_depth();
        let began = now_ms();
        let Some(results) = self.results.as_mut().filter(|results| results.settled.is_none()) else { return };
        let assessment = &*results.assessment;
        let tiles_csv = tiles::tiles_csv(&self.shield, &self.scenario, assessment);
        let digest = sha256(tiles_csv.as_bytes());
        results.settled = Some(Settled { tiles_csv: Rc::new(tiles_csv), digest });
        self.stage("table and digest", (now_ms() - began) / 1000.0);
    }

    pub fn settled(&self) -> Option<&Settled> {
        self.results.as_ref().and_then(|results| results.settled.as_ref())
    }

    pub(super) fn refuse(&mut self, kept: &str, error: &Error) {
        self.refused = Some(format!("{kept}\n{error}"));
    }

    pub(super) fn remember(&mut self, earlier: Rc<Scenario>) {
        self.undo.push(earlier);
        if self.undo.len() > UNDO_STEPS {
            self.undo.remove(0);
        }
        self.redo.clear();
    }

    /// A change of the view only: no undo step, no new results.
    fn look(&mut self, change: impl FnOnce(&mut Scenario)) {
        let mut scenario = (*self.scenario).clone();
        change(&mut scenario);
        self.scenario = Rc::new(scenario);
    }

    /// Carries out one action. Only input problems come back; they are shown by the caller.
    pub fn act(&mut self, action: Action) {
        if !matches!(action, Action::Hover(_)) {
            self.said = None;
        }
        match action {
            Action::Hover(tile) => self.hovered = tile,
            Action::Pick(tile) => {
                self.picked = tile.filter(|tile| *tile < self.shield.tiles.len());
                self.pick_worst = false;
                self.track_maker = None;
                let id = self.picked.map(|tile| self.shield.tiles[tile].id.clone());
                self.look(|scenario| scenario.view.tile = id);
            }
            Action::PickNext => {
                if let Some(results) = &self.results {
                    let order = summary::limiting(&results.assessment);
                    let at = self.picked.and_then(|picked| order.iter().position(|tile| *tile == picked));
                    let next = order.get(at.map_or(0, |at| at + 1)).or(order.first()).copied();
                    self.act(Action::Pick(next));
                }
            }
            Action::Colour(colour) => self.look(|scenario| (scenario.view.colour, scenario.view.brush) = (colour, None)),
            Action::Time(time_s) => self.look(|scenario| scenario.view.time_s = time_s),
            Action::Entry(entry) => {
                let name = self.scenario.entries.get(entry).map(|entry| entry.name.clone());
                self.look(|scenario| scenario.view.entry = name);
            }
            Action::Units(units) => self.look(|scenario| scenario.view.units = units),
            Action::Brush(brush) => self.look(|scenario| scenario.view.brush = brush),
            Action::Cavity(cavity) => self.look(|scenario| (scenario.view.cavity, scenario.view.brush) = (cavity, None)),
            Action::Bands(bands) => self.look(|scenario| scenario.view.bands = bands),
            Action::Map(map) => self.look(|scenario| scenario.view.map = map),
            Action::Turn(name) => {
                if let Some(view) = &self.view {
                    view.turn(name);
                }
            }
            Action::Change { scenario, done } => {
                let before = self.before_drag.get_or_insert(self.scenario.clone()).clone();
                match self.take(*scenario) {
                    Ok(()) => self.refused = None,
                    Err(error) => self.refuse("The inputs before this change were kept.", &error),
                }
                if done {
                    self.before_drag = None;
                    if before.canonical() != self.scenario.canonical() {
                        self.remember(before);
                    }
                    storage::save(&self.scenario);
                }
            }
            Action::Undo | Action::Redo => {
                let (from, to) = if action == Action::Undo { (&mut self.undo, &mut self.redo) } else { (&mut self.redo, &mut self.undo) };
                if let Some(scenario) = from.pop() {
                    to.push(self.scenario.clone());
                    let mut scenario = (*scenario).clone();
                    scenario.view = self.scenario.view.clone();
                    if let Err(error) = self.take(scenario) {
                        self.refuse("The inputs as they are were kept.", &error);
                    }
                    storage::save(&self.scenario);
                }
            }
            Action::CopyLink => {
                self.settle();
                match self.link() {
                    Ok(link) => {
                        storage::copy(&link);
                        storage::show_link(&link);
                        self.said = Some("The link to this state is copied, and stands in the address.".to_string());
                    }
                    Err(error) => self.refuse("This state is too large for a link; save the scenario as a file instead.", &error),
                }
            }
            Action::SaveScenario => storage::download("scenario.json", &self.scenario_json().pretty()),
            Action::SaveTable => {
                self.settle();
                if let Some(settled) = self.settled() {
                    storage::download("tiles.csv", &settled.tiles_csv);
                }
            }
            Action::SaveFindings => storage::download("findings.csv", &findings_csv(&self.findings, &self.shield.tiles)),
            Action::SavePoints => storage::download("body_points.csv", &assess::points::csv(&self.prepared)),
            Action::SaveDamage(name) => self.want_damage(name),
            Action::SaveWork => {
                self.settle();
                let Some(results) = &self.results else { return };
                match assess::work::work(&self.shield, &self.scenario, &self.findings, &results.assessment) {
                    Ok(work) => storage::download("work.csv", &work_csv(&self.shield, &self.findings, &work)),
                    Err(error) => self.refuse("There is no list of work.", &error),
                }
            }
            Action::Open(files) => {
                if let Err(error) = self.open_files(files) {
                    let kept = format!("{} was kept.", self.shield.name);
                    self.refuse(&kept, &error);
                }
            }
            Action::Demonstration => {
                if let Err(error) = self.open_vehicle(&demo::files(), "Whinchat") {
                    self.refuse("What was open was kept.", &error);
                }
            }
            Action::Size => self.begin_sizing(),
            Action::TakeSizes => {
                if let Some(scenario) = self.sized_scenario() {
                    self.act(Action::Change { scenario: Box::new(scenario), done: true });
                }
            }
            Action::Fit(names) => match self.fit_ground(names) {
                Ok(()) => self.refused = None,
                Err(error) => self.refuse("The test as it was is kept.", &error),
            },
            Action::TakeGround => {
                if let Err(error) = self.take_ground() {
                    self.refuse("Nothing was taken over.", &error);
                }
            }
            Action::SaveFitted => match self.ground_materials() {
                Ok(json) => storage::download("materials.json", &json.pretty()),
                Err(error) => self.refuse("Nothing was saved.", &error),
            },
            Action::SaveGround => {
                if let Some(json) = self.ground_json() {
                    storage::download("result.json", &json.pretty());
                }
            }
            Action::Stop(stopped) => self.set_stopped(stopped),
            Action::Dismiss => (self.refused, self.said) = (None, None),
            Action::Print => {
                self.settle();
                let printed = self.view.as_ref().and_then(|view| view.print(PRINTED_PX[0], PRINTED_PX[1], 2.0));
                if let Some(printed) = printed {
                    self.panels.set_picture(&storage::png_url(&printed.png));
                }
                self.panels.prepare_brief();
                storage::print();
            }
        }
    }

    /// The scenario with the vehicle that it now belongs to and the camera as it stands.
    pub fn scenario_now(&self) -> Scenario {
        let mut scenario = (*self.scenario).clone();
        scenario.vehicle_name = self.shield.name.clone();
        scenario.vehicle_digest = Some(self.shield.digest.clone());
        scenario.view.camera = self.view.as_ref().and_then(View::camera).or(self.scenario.view.camera);
        scenario
    }

    pub fn scenario_json(&self) -> crate::document::Json {
        self.scenario_now().to_json()
    }

    /// The whole address of this state.
    ///
    /// # Errors
    /// Past 8 kB, naming the file to use instead.
    pub fn link(&self) -> Result<String, Error> {
        let fragment = link::write(&self.scenario_now(), self.settled().map(|settled| settled.digest.as_str()));
        if fragment.len() > link::OFFERED_MOST {
            return Err(Error::bad(format!("the link would hold {} characters", fragment.len()), "the file scenario.json (Save scenario)"));
        }
        Ok(storage::address() + &fragment)
    }

    pub fn summary_json(&self) -> Option<crate::document::Json> {
        let (results, settled) = (self.results.as_ref()?, self.settled()?);
        Some(summary::summary(&self.shield, &self.scenario_now(), &results.assessment, None, &settled.tiles_csv, &self.elapsed_s))
    }

    pub fn tile_at(&self, x: f64, y: f64) -> Option<String> {
        let tile = self.view.as_ref()?.tile_at(x, y)?;
        self.shield.tiles.get(tile).map(|tile| tile.id.clone())
    }

    pub(super) fn entry(&self) -> usize {
        let name = self.scenario.view.entry.as_ref();
        self.scenario.entries.iter().position(|entry| Some(&entry.name) == name).unwrap_or(0)
    }

    /// Whether a frame showed results whose table and digest are still to be made; never while something is dragged.
    pub fn owes_settling(&self) -> bool {
        self.before_drag.is_none() && self.is_complete() && self.settled().is_none()
    }

    /// Recomputes what the frame needs and draws it. Table and digest are not waited for: they come right after, and with them
    /// another frame.
    pub fn frame(&mut self) {
        let began = now_ms();
        let entry = self.entry();
        let dragging = self.before_drag.is_some();
        self.complete();
        if self.pick_worst {
            self.picked = self.results.as_ref().and_then(|results| summary::limiting(&results.assessment).first().copied());
            self.pick_worst = !self.is_full();
        }
        // While it is dragged a tile's story in depth waits: it is the page's own thread that would make it.
        let history = if dragging { None } else { self.history(entry) };
        let estimates = self.estimates();
        let depth_at = self.scenario.view.time_s.and_then(|time_s| self.depth_at(entry, time_s));
        let results = self.results.as_ref().map(|results| results.assessment.clone());
        let tolerated = self.tolerated();
        let looked = Looked { results: results.as_deref(), entry, dotted: estimates, depth_at, dragging, tolerated: tolerated.as_ref() };
        let shown = shown::shown(&self.shield, &self.scenario, &self.prepared, looked, &mut self.scale);
        let card = self.picked.map(|tile| self.card(entry, tile, history));
        let digest = self.settled().map(|settled| settled.digest[..16].to_string());
        let link_digest = self.link_digest.as_ref().filter(|(_, revision)| *revision == self.revision).map(|(sent, _)| sent.clone());
        let link_agrees = link_digest.as_ref().zip(digest.as_ref()).map(|(sent, digest)| sent == digest);
        let model = Model {
            revision: self.revision,
            shield: self.shield.clone(),
            scenario: self.scenario.clone(),
            findings: self.findings.clone(),
            effects: self.prepared.effects.clone(),
            flights: self.flights.clone(),
            entry,
            time_s: self.scenario.view.time_s,
            results: self.results.as_ref().map(|results| results.assessment.clone()),
            edition: self.results.as_ref().map_or(0, |known| 1 + 4 * known.answers + 2 * u64::from(known.full) + u64::from(known.complete)),
            full: self.is_full(),
            progress: self.progress(),
            sized: self.sized(),
            ground: self.ground(),
            damaged: self.damaged(),
            damaging: self.damaging_of(),
            tolerated,
            own_thread: self.own_thread,
            picked: self.picked,
            hovered: self.hovered,
            shown: Rc::new(shown),
            card,
            tracks: self.tracks.clone(),
            units: self.scenario.view.units,
            refused: self.refused.clone(),
            said: self.said.clone(),
            can_undo: !self.undo.is_empty(),
            can_redo: !self.redo.is_empty(),
            digest,
            link_agrees,
            link_digest,
            dark: self.dark,
        };
        if let Some(view) = &self.view {
            view.update(&model);
            view.draw();
            self.panels.say_view(&view.view_words());
        }
        if let Err(error) = self.panels.render(&model) {
            // A defect of the page: said where developers look, and the last good panels stay.
            web_sys::console::error_1(&error);
        }
        self.stage("frame", (now_ms() - began) / 1000.0);
    }

    /// Whether tracks of the present inputs are still to be made.
    pub fn has_idle_work(&mut self) -> bool {
        self.sizes() || self.tolerates() || self.is_complete() && (self.tracked != Some((self.revision, self.picked)) || self.damages())
    }

    /// One slice of idle work; true when it was the last.
    pub fn idle(&mut self) -> bool {
        if self.sizes() {
            return self.size_slice();
        }
        if self.tolerates() {
            return self.tolerate_slice();
        }
        if self.is_complete() && self.damages() {
            return self.damage_slice();
        }
        let entry = self.entry();
        let Some(results) = &self.results else { return true };
        let maker = self.track_maker.get_or_insert_with(|| {
            let subject = Subject { shield: &self.shield, scenario: &self.scenario, entry, picked: self.picked };
            let same_revision = self.tracked.is_some_and(|(revision, _)| revision == self.revision);
            let (scenario, prepared, tables) = (&self.scenario, &self.prepared, &self.tables);
            TrackMaker::new(self.revision, subject, From { scenario, prepared, results: &results.assessment, tables }, same_revision)
        });
        let finished = maker.step(&self.shield);
        if finished {
            let made = maker.tracks();
            let kept = self.tracks.iter().filter(|old| old.revision == self.revision && !made.iter().any(|new| new.input == old.input));
            self.tracks = Rc::new(kept.cloned().chain(made.iter().cloned()).collect());
            self.tracked = Some((self.revision, self.picked));
            self.track_maker = None;
        }
        finished
    }
}

pub(super) fn flights(prepared: &Prepared) -> Rc<Vec<Trajectory>> {
    Rc::new(prepared.flights.iter().map(|flight| flight.trajectory.clone()).collect())
}
