//! The app's half of opening: a link or what was kept, files of a vehicle, scenarios, entries and trajectories. All of it or, where anything is refused, nothing.

use super::app::{App, flights, now_ms};
use super::storage;
use crate::assess::Prepared;
use crate::assess::depth::{Setup, Tables};
use crate::document::Error;
use crate::flight::Course;
use crate::report::dropped::{self, Dropped};
use crate::report::entries;
use crate::scenario::{NamedEntry, Scenario, link};
use crate::shield::{VehicleFile, load};
use std::rc::Rc;

impl App {
    /// Takes up what the address or the storage holds; what cannot be read is told, and the demonstration stands.
    pub fn reopen(&mut self, missing: Option<String>) {
        self.refused = missing;
        let fragment = storage::fragment();
        if fragment.len() > 1 {
            if let Err(error) = self.open_link(&fragment) {
                self.refuse("The demonstration stands; the link could not be opened.", &error);
            }
        } else if let Some(saved) = storage::saved() {
            // A kept state that no longer reads is no news to the user: the demonstration stands and it is forgotten.
            if self.open_link(&saved).is_err() {
                storage::forget();
            }
            self.undo.clear();
        }
    }

    /// The address was changed by hand, or another link was followed in this page.
    pub fn follow_address(&mut self) {
        let fragment = storage::fragment();
        if fragment.len() > 1
            && let Err(error) = self.open_link(&fragment)
        {
            self.refuse("What was open was kept.", &error);
        }
    }

    /// Opens the files of a vehicle, or one scenario file.
    pub fn open_files(&mut self, files: Vec<VehicleFile>) -> Result<(), Error> {
        let read: Vec<_> = files.iter().filter_map(|file| dropped::read(&file.name, &file.bytes)).collect();
        if !read.is_empty() && read.len() == files.len() {
            return self.open_flights(read);
        }
        if let Some(done) = self.open_ground(&files) {
            return done.map(|()| self.refused = None);
        }
        let scenario_file = files.iter().find(|file| file.name.ends_with(".json") && is_scenario(&file.bytes));
        if let (Some(file), 1) = (scenario_file, files.len()) {
            let text = String::from_utf8_lossy(&file.bytes).into_owned();
            let scenario = Scenario::read(&file.name, &text, &self.demonstration)?;
            return self.open_scenario(scenario);
        }
        let name = files
            .iter()
            .find(|file| file.name.ends_with(".zip") || file.name.ends_with(".glb"))
            .map_or("vehicle", |file| file.name.as_str());
        let name = name.trim_end_matches(".zip").trim_end_matches(".glb").to_string();
        self.open_vehicle(&files, &name)
    }

    /// Takes entries and trajectories into the set, and an atmosphere into the entry shown: all of them or, where one has a problem, none.
    fn open_flights(&mut self, read: Vec<Result<Dropped, Error>>) -> Result<(), Error> {
        let (mut scenario, mut said) = ((*self.scenario).clone(), Vec::new());
        for dropped in read {
            let warnings = match dropped? {
                Dropped::Entry { name, course, warnings } => {
                    scenario = entries::added(&scenario, &name, course);
                    said.push(format!("The set has one more entry, {:?}, which is shown.", scenario.view.entry.clone().unwrap_or(name)));
                    warnings
                }
                Dropped::Air { atmosphere, warnings } => {
                    let shown = self.entry();
                    match scenario.entries.get_mut(shown) {
                        Some(NamedEntry { name, course: Course::Entry(entry), .. }) => {
                            entry.atmosphere = atmosphere;
                            said.push(format!("Entry {name:?} flies through the atmosphere of the dropped table."));
                        }
                        _ => {
                            return Err(Error::bad(
                                "the entry shown was flown elsewhere and has no atmosphere to set",
                                "an entry that is flown here",
                            ));
                        }
                    }
                    warnings
                }
            };
            said.extend(warnings);
        }
        scenario.view.time_s = None;
        let before = self.scenario.clone();
        self.take(scenario)?;
        self.remember(before);
        self.refused = None;
        self.said = Some(said.join(" "));
        storage::save(&self.scenario);
        Ok(())
    }

    /// Replaces the vehicle; the scenario stays, except for what names the old vehicle's tiles and zones.
    pub fn open_vehicle(&mut self, files: &[VehicleFile], name: &str) -> Result<(), Error> {
        let began = now_ms();
        let vehicle_files: Vec<VehicleFile> = files.iter().filter(|file| file.name != "scenario.json").cloned().collect();
        let shield = load(&vehicle_files, name)?;
        let mut scenario = match files.iter().find(|file| file.name == "scenario.json") {
            Some(file) => Scenario::read(&file.name, &String::from_utf8_lossy(&file.bytes), &self.demonstration)?,
            None => {
                let mut scenario = (*self.scenario).clone();
                scenario.changes.clear();
                scenario.findings.clear();
                scenario.heating.zone_factor.clear();
                scenario
            }
        };
        scenario.vehicle_name = name.to_string();
        scenario.vehicle_digest = Some(shield.digest.clone());
        (scenario.view.tile, scenario.view.camera, scenario.view.brush) = (None, None, None);
        let prepared = Prepared::new(&shield, &scenario)?;
        let tables = Tables::of(&shield.library);
        Setup::new(&shield, &scenario, &prepared, &tables)?;
        // Nothing failed: from here on everything is replaced at once.
        self.stage("vehicle", (now_ms() - began) / 1000.0);
        self.shield = Rc::new(shield);
        (self.governed, self.standing) = (None, None);
        self.scenario = Rc::new(scenario);
        (self.flights, self.findings) = (flights(&prepared), prepared.findings.clone());
        self.prepared = Rc::new(prepared);
        (self.tables, self.vehicle_files) = (Rc::new(tables), Rc::new(vehicle_files));
        self.revision += 1;
        (self.results, self.track_maker, self.refused, self.before_drag) = (None, None, None, None);
        self.undo.clear();
        self.redo.clear();
        self.hovered = None;
        self.show_vehicle();
        self.said = Some(format!("{} is open: {} tiles.", self.shield.name, self.shield.tiles.len()));
        Ok(())
    }

    /// Replaces the scenario, its view included.
    pub fn open_scenario(&mut self, scenario: Scenario) -> Result<(), Error> {
        self.before_drag = None;
        let before = self.scenario.clone();
        let named_else = scenario.vehicle_digest.as_ref().is_some_and(|digest| *digest != self.shield.digest);
        self.take(scenario)?;
        self.remember(before);
        self.refused = None;
        if named_else {
            self.said =
                Some(format!("This scenario was made for another state of the vehicle than {}; its results may differ.", self.shield.name));
        }
        if let Some(view) = &self.view {
            view.set_camera(self.scenario.view.camera);
        }
        self.pick_of_view();
        Ok(())
    }

    /// Opens a link's fragment; its digest is compared once the results stand.
    pub fn open_link(&mut self, fragment: &str) -> Result<(), Error> {
        let opened = link::open(fragment, &self.demonstration)?;
        if opened.scenario.vehicle_name != self.shield.name && opened.scenario.vehicle_digest.as_ref() != Some(&self.shield.digest) {
            return Err(Error::bad(
                format!("the link belongs to the vehicle {:?}, whose files never travel in a link", opened.scenario.vehicle_name),
                "open that vehicle's files first, then the link",
            ));
        }
        self.open_scenario(opened.scenario)?;
        self.link_digest = opened.digest.map(|digest| (digest, self.revision));
        Ok(())
    }
}

fn is_scenario(bytes: &[u8]) -> bool {
    String::from_utf8_lossy(&bytes[..bytes.len().min(400)]).contains("tileglow-scenario/")
}
