//! The picked tile's story along the chain: what it meets, what reaches it, what its face does, what goes through, what is left.

use super::dom::{Held, Kit, Made, Memo, add, add_all, clear, round, text};
use super::through;
use crate::assess::{GovernedBy, InDepth, Peak, TileResult};
use crate::page::card::between;
use crate::page::model::{Card as Story, Model};
use crate::report::inputs::Step;
use crate::report::numbers::{NONE, Quantity, count, counted, grouped, with_unit};
use crate::report::words;
use crate::scenario::UnitSystem;
use crate::shield::Tile;
use std::rc::Rc;
use web_sys::Element;

pub const ADVICE: &str =
    "Advice only: the responsible engineer, licensed where the law asks, local codes and the vehicle’s own certification decide.";

/// What a part of the card is drawn from: revision, picked tile, entry, units, moment, story, and the tile's own result.
type Seen = (u64, Option<usize>, usize, UnitSystem, Option<u64>, usize, Option<TileResult>);

pub struct Card {
    head: Element,
    places: Vec<Element>,
    /// Whether the picked tile falls short.
    pub short: bool,
    /// Of the head and each place; the number is what it reads beside that.
    seen: [Memo<(Seen, u64)>; 6],
    decides: Option<Step>,
}

impl Card {
    pub fn new(kit: &Kit, head: Element, places: Vec<Element>) -> Self {
        if let Some(place) = places.get(3) {
            through::listen(kit, place);
        }
        Self { head, places, short: false, seen: Default::default(), decides: None }
    }

    pub fn resized(&mut self) {
        self.seen.iter_mut().for_each(Memo::forget);
    }

    /// Draws the parts that changed, so that answers about other tiles leave what is being used standing; returns the step that decides the
    /// picked tile's margin.
    pub fn render(&mut self, kit: &Kit, model: &Model) -> Made<Option<Step>> {
        let picked = model.picked.and_then(|index| Some((model.shield.tiles.get(index)?, index)));
        let result = picked.and_then(|(_, index)| model.results.as_ref()?.tiles.get(index));
        let story = model.card.as_ref().map_or(0, |card| Rc::as_ptr(card) as usize);
        let moment = model.time_s.map(f64::to_bits);
        let key: Seen = (model.revision, picked.map(|(_, index)| index), model.entry, model.units, moment, story, result.cloned());
        let damaged = 2 * model.damaged.answers.len() as u64 + u64::from(model.damaged.present.is_some());
        let tolerated = model.tolerated.as_ref().zip(model.picked).map_or(0, |(tolerated, picked)| {
            let stands = u64::from(tolerated.rows.len() > picked) + 2 * u64::from(tolerated.solved.contains_key(&picked));
            let [length, depth] = [tolerated.asked.length_mm, tolerated.asked.depth_mm].map(f64::to_bits);
            (length ^ depth.rotate_left(17)).wrapping_mul(4) + 1 + stands
        });
        // Rank and neighbours' margins change with every answer, the findings' sides and what is tolerated with each that is solved.
        let beside = [model.edition, 0, 0, model.edition, 0, damaged.wrapping_add(tolerated.rotate_left(20))];
        let changed: Vec<bool> = self.seen.iter_mut().zip(beside).map(|(seen, beside)| seen.changed((key.clone(), beside))).collect();
        self.short = result.and_then(|result| result.margin_k).is_some_and(|margin_k| margin_k < 0.0);
        self.decides = result.and_then(|result| result.governed_by).map(|_| Step::Limits);
        for (part, place) in std::iter::once(&self.head).chain(&self.places).enumerate() {
            if changed.get(part) == Some(&true) {
                let held = Held::of(kit, place);
                clear(place);
                self.part(kit, model, part, picked, result)?;
                held.give_back(place)?;
            }
        }
        Ok(self.decides)
    }

    fn part(&self, kit: &Kit, model: &Model, part: usize, picked: Option<(&Tile, usize)>, result: Option<&TileResult>) -> Made<()> {
        let Some((tile, index)) = picked else {
            return match part {
                0 => add_all(
                    &self.head,
                    &[&kit.said("h2", "", "No tile picked")?, &kit.said("p", "", "pick one on the shield, in the list or by its number")?],
                ),
                1 => self.flight(kit, model, None),
                _ => Ok(()),
            };
        };
        // The tile as the scenario's changes leave it.
        let mut tile = tile.clone();
        if let Some(made) = result.map(|result| result.effective) {
            (tile.material, tile.coating, tile.stack) = (made.material, made.coating, made.stack);
            (tile.thickness_m, tile.density_kg_m3) = (made.thickness_m, made.density_kg_m3);
        }
        let tile = &tile;
        // A story of another tile is never shown for this one.
        let story = model.card.as_deref().filter(|card| card.tile == index);
        match part {
            0 => self.heading(kit, model, tile, index),
            1 => self.flight(kit, model, result),
            2 => self.heating(kit, model, story, result),
            3 => self.surface(kit, model, tile, story, result),
            4 => self.stack(kit, model, tile, index, story, result),
            _ => self.limits(kit, model, tile, index, story, result),
        }
    }

    fn heading(&self, kit: &Kit, model: &Model, tile: &Tile, index: usize) -> Made<()> {
        let heading = kit.html("h2", "")?;
        text(&heading, &format!("Tile {}", tile.id))?;
        let side = kit.html("span", "")?;
        if let Some(results) = &model.results {
            let order = kit.ranked(results);
            let short = words::covered(results).short;
            if let Some(place) = order.iter().position(|other| *other == index) {
                let rank = match (place, place < short) {
                    (0, true) => format!("worst of {}", count(short)),
                    (_, true) => format!("{} of {} short", place + 1, count(short)),
                    (0, false) => "the closest".to_string(),
                    (_, false) => format!("{} of {}", count(place + 1), count(order.len())),
                };
                text(&side, &format!("{rank} "))?;
            }
        }
        add(&side, &kit.word("next", &[("data-act", "next"), ("title", "The next worst tile")])?)?;
        add(&heading, &side)?;
        let name = |index: usize| model.shield.library.materials.get(index).map_or("", words::short_name);
        let mut parts: Vec<String> = Vec::new();
        if !tile.zone.is_empty() {
            parts.push(tile.zone.clone());
        }
        parts.push(match tile.coating {
            Some(coating) => format!("{}, {}", name(tile.material), name(coating)),
            None => format!("{}, bare", name(tile.material)),
        });
        parts.push(Quantity::Area.text(tile.facet.area_m2, model.units));
        add_all(&self.head, &[&heading, &kit.said("p", "", &parts.join(", "))?])
    }

    fn title(&self, kit: &Kit, step: usize, left: &str, right: &str) -> Made<Option<&Element>> {
        let Some(place) = self.places.get(step) else { return Ok(None) };
        let heading = kit.html("h3", "")?;
        add_all(&heading, &[&kit.said("span", "", left)?, &kit.said("span", "side", right)?])?;
        add(place, &heading)?;
        Ok(Some(place))
    }

    fn flight(&self, kit: &Kit, model: &Model, result: Option<&TileResult>) -> Made<()> {
        let Some(flight) = model.flights.get(model.entry) else { return Ok(()) };
        let peak = result.map(words::governing_peak).filter(|peak| peak.entry == model.entry);
        let time_s = model.time_s.or(peak.map(|peak| peak.time_s)).or(words::hottest(flight).map(|sample| sample.time_s)).unwrap_or(0.0);
        let Some(sample) = words::at_moment(flight, time_s) else { return Ok(()) };
        let units = model.units;
        let Some(place) = self.title(
            kit,
            0,
            if result.is_some() { "What it meets" } else { "The flight" },
            &match flight.samples.last().filter(|last| time_s > last.time_s + 0.5) {
                Some(last) => format!("last row, at {}", Quantity::Time.text(last.time_s, units)),
                None => format!("at {}", Quantity::Time.text(time_s, units)),
            },
        )?
        else {
            return Ok(());
        };
        let mach = sample.mach.map_or(NONE.to_string(), |mach| grouped(mach, 1));
        let rows = [
            ("altitude", Quantity::Altitude.text(sample.altitude_m, units)),
            ("speed", Quantity::Speed.text(sample.speed_m_s, units)),
            ("Mach", mach),
            ("attack", Quantity::Angle.text(sample.angle_of_attack_deg, units)),
            ("bank", sample.bank_deg.map_or(NONE.to_string(), |bank| Quantity::Angle.text(bank, units))),
            ("dyn. pressure", Quantity::Pressure.text(sample.dynamic_pressure_pa, units)),
        ];
        add(place, &facts(kit, "facts two", &rows)?)?;
        if let Some(hot) = words::hottest(flight) {
            let said = format!(
                "Heating was highest at {}, {} and {}.",
                Quantity::Time.text(hot.time_s, units),
                Quantity::Altitude.text(hot.altitude_m, units),
                Quantity::Speed.text(hot.speed_m_s, units)
            );
            let own = peak.map_or(String::new(), |peak| {
                let after = peak.time_s - hot.time_s;
                match after {
                    a if a.abs() < 0.5 => " This tile peaks with it.".to_string(),
                    a => format!(" This tile peaks {} {}.", Quantity::Time.text(a.abs(), units), if a > 0.0 { "later" } else { "earlier" }),
                }
            });
            add(place, &kit.said("p", "note", &format!("{said}{own}"))?)?;
        }
        Ok(())
    }

    fn heating(&self, kit: &Kit, model: &Model, story: Option<&Story>, result: Option<&TileResult>) -> Made<()> {
        let units = model.units;
        let side = format!("{} over the flight", Quantity::Heating.unit(units));
        let Some(place) = self.title(kit, 1, "What reaches it", &side)? else { return Ok(()) };
        let mut rows = Vec::new();
        if let Some(story) = story {
            add(place, &spark(kit, story, &story.heating_w_m2, None, model.time_s, "Heating over the flight")?)?;
            if let Some((at, peak)) = highest(&story.heating_w_m2) {
                let time = story.time_s.get(at).copied().unwrap_or(f64::NAN);
                let regime = match story.regime.get(at) {
                    Some(2) => "turbulent",
                    Some(1) => "transitional",
                    _ => "laminar",
                };
                rows.push((format!("peak, at {}, {regime}", Quantity::Time.text(time, units)), Quantity::Heating.text(peak, units)));
                let factor = story.factor.get(at).copied().unwrap_or(f64::NAN);
                rows.push(("factor on the reference there".to_string(), Quantity::Factor.text(factor, units)));
            }
        }
        if let Some(result) = result {
            rows.push(("heat load".to_string(), Quantity::HeatLoad.text(result.heat_load_j_m2, units)));
        }
        if rows.is_empty() {
            return add(place, &kit.said("p", "note", "Not computed yet.")?);
        }
        let tripped = story.and_then(|story| transition(story, model.time_s, units));
        rows.extend(tripped.iter().map(|(row, _)| row.clone()));
        add(place, &facts(kit, "facts", &rows)?)?;
        match tripped {
            Some((_, note)) if !note.is_empty() => add(place, &kit.said("p", "note tripped", &note)?),
            _ => Ok(()),
        }
    }

    fn surface(&self, kit: &Kit, model: &Model, tile: &Tile, story: Option<&Story>, result: Option<&TileResult>) -> Made<()> {
        let units = model.units;
        let side = format!("{} over the flight", Quantity::Temperature.unit(units));
        let Some(place) = self.title(kit, 2, "What its face does", &side)? else { return Ok(()) };
        let limit = result.and_then(|result| result.limit_surface_k);
        let mut rows = Vec::new();
        if let Some(story) = story {
            add(place, &spark(kit, story, &story.surface_k, limit, model.time_s, "Surface temperature over the flight")?)?;
        }
        if let Some(result) = result {
            let peak = result.surface;
            rows.push((
                format!("peak, at {}", Quantity::Time.text(peak.time_s, units)),
                Quantity::Temperature.text(peak.temperature_k, units),
            ));
        }
        if let (Some(story), Some(time_s)) = (story, model.time_s) {
            rows.push((format!("at {}", Quantity::Time.text(time_s, units)), Quantity::Temperature.text(face_at(story, time_s), units)));
        }
        let kind = words::limits(model.scenario.policy.limits);
        // The layer that the limit belongs to: the lower of coating and tile.
        let owner =
            result.and_then(|result| model.shield.library.find(&result.limiting_layer)).unwrap_or(tile.coating.unwrap_or(tile.material));
        let face = model.shield.library.materials.get(owner).map_or("", words::short_name);
        rows.push((format!("limit, {face}, {kind}"), limit.map_or(NONE.to_string(), |limit| Quantity::Temperature.text(limit, units))));
        add(place, &facts(kit, "facts", &rows)?)?;
        if tile.coating.is_none()
            && model.shield.library.materials.get(tile.material).is_some_and(|m| m.kind == crate::material::Kind::HotStructure)
        {
            add(place, &kit.said("p", "note", "Radiative equilibrium is an upper bound for a conducting hot structure.")?)?;
        }
        self.neighbours(kit, model, place, tile)
    }

    fn stack(&self, kit: &Kit, model: &Model, tile: &Tile, index: usize, story: Option<&Story>, result: Option<&TileResult>) -> Made<()> {
        let units = model.units;
        let in_depth = result.map_or(InDepth::Pending, |result| result.in_depth);
        let side = match in_depth {
            InDepth::Pending => "not yet",
            InDepth::NoStack => "nothing under it",
            InDepth::Failed(_) => "no valid answer",
            InDepth::Solved => Quantity::Temperature.unit(units),
        };
        let Some(place) = self.title(kit, 3, "What goes through", side)? else { return Ok(()) };
        if let (Some(result), Some(history)) = (result, story.and_then(|story| story.history.as_ref())) {
            through::draw(kit, place, model, result, history)?;
        }
        if let Some(result) = result.filter(|_| in_depth == InDepth::Solved) {
            let mut rows = Vec::new();
            let shown = |peak: Peak| Quantity::Temperature.text(peak.temperature_k, units);
            let at = |peak: Peak| Quantity::Time.text(peak.time_s, units);
            if let Some(peak) = result.bondline {
                rows.push((format!("glue line, peak at {}", at(peak)), shown(peak)));
            }
            match (result.structure_isolated, result.structure_coupled) {
                (Some(alone), Some(coupled)) => {
                    rows.push((format!("structure by itself, peak at {}", at(alone)), shown(alone)));
                    rows.push((format!("structure with its neighbours, at {}", at(coupled)), shown(coupled)));
                }
                (Some(alone), None) => rows.push((format!("structure, peak at {}", at(alone)), shown(alone))),
                _ => {}
            }
            if let Some(kelvin) = result.structure_at_touchdown_k {
                rows.push(("structure at touchdown".to_string(), Quantity::Temperature.text(kelvin, units)));
            }
            add(place, &facts(kit, "facts", &rows)?)?;
        }
        let name = |index: usize| model.shield.library.materials.get(index).map_or("", words::short_name);
        let mut rows = vec![(format!("tile, {}", name(tile.material)), Quantity::Thickness.text(tile.thickness_m, units))];
        match tile.stack.and_then(|stack| model.shield.stacks.get(stack)) {
            Some(stack) => rows.extend(
                stack
                    .layers
                    .iter()
                    .map(|layer| (format!("{}, {}", layer.name, name(layer.material)), Quantity::Thickness.text(layer.thickness_m, units))),
            ),
            None => rows.push(("no stack under it".to_string(), NONE.to_string())),
        }
        add(place, &facts(kit, "facts tight", &rows)?)?;
        let sides = tile.smallest_side_m / tile.thickness_m.max(1e-6);
        let mut note = format!("One-dimensional; the smallest side is {} thicknesses.", grouped(sides, 1));
        for words in result.map(|result| result.flags.words()).unwrap_or_default() {
            note.push_str(&format!(" {}.", capital(words)));
        }
        let found = model.findings.iter().filter(|finding| finding.tile == index || finding.tile_2 == Some(index));
        let kinds: Vec<&str> = found.map(|finding| finding.kind.as_str()).collect();
        if !kinds.is_empty() {
            note.push_str(&format!(" Found on it: {}.", kinds.join(", ")));
        }
        add(place, &kit.said("p", "note", &note)?)
    }

    fn limits(&self, kit: &Kit, model: &Model, tile: &Tile, index: usize, story: Option<&Story>, result: Option<&TileResult>) -> Made<()> {
        let units = model.units;
        let Some(place) = self.title(kit, 4, "What is left", &words::policy(&model.scenario.policy).1)? else { return Ok(()) };
        let Some(result) = result else { return add(place, &kit.said("p", "note", "Not computed yet.")?) };
        let bars = kit.html("div", "mar")?;
        let parts = [
            (GovernedBy::Surface, Some(result.surface), result.limit_surface_k, result.margin_surface_k),
            (GovernedBy::Bondline, result.bondline, result.limit_bondline_k, result.margin_bondline_k),
            (GovernedBy::Structure, result.structure, result.limit_structure_k, result.margin_structure_k),
        ];
        for (which, peak, limit, margin) in parts {
            add(&bars, &kit.said("span", "", words::governed(which))?)?;
            match (peak, limit, margin) {
                (Some(peak), Some(limit_k), Some(margin_k)) => {
                    add(&bars, &bar(kit, words::governed(which), peak.temperature_k, limit_k, margin_k, units)?)?;
                    add(&bars, &kit.said("b", if margin_k < 0.0 { "bad" } else { "" }, &Quantity::Difference.signed(margin_k, units))?)?;
                }
                (Some(_), None, _) if which == GovernedBy::Surface => {
                    add_all(&bars, &[&kit.said("i", "", "no limit known")?, &kit.said("b", "", NONE)?])?
                }
                _ if tile.stack.is_none() => add_all(&bars, &[&kit.said("i", "", "no such layer")?, &kit.said("b", "", NONE)?])?,
                (Some(_), None, _) => add_all(&bars, &[&kit.said("i", "", "no limit known")?, &kit.said("b", "", NONE)?])?,
                _ => add_all(&bars, &[&kit.said("i", "", "not yet")?, &kit.said("b", "", NONE)?])?,
            }
        }
        add(place, &bars)?;
        self.counted(kit, model, place, result)?;
        let mut said = Vec::new();
        if let Some(factor) = result.heating_factor_to_limit {
            said.push(match factor < 1.0 {
                true => format!("Holds at {} of this heating.", Quantity::Percent.text(factor, units)),
                false => format!("Holds to {} the heating.", with_unit(&grouped(factor, 2), "×")),
            });
        }
        let suggested = result.disposition.map_or(String::new(), |disposition| format!(", suggested: {}", words::disposition(disposition)));
        said.push(format!("Condition: {}{suggested}.", words::condition(result.condition)));
        if result.sensitive {
            said.push("Near transition at its peak: it jumps by 50 to 200 K if onset moves.".to_string());
        }
        said.push(ADVICE.to_string());
        add(place, &kit.said("p", "note", &said.join(" "))?)?;
        if let Some(sides) = super::with_finding::with_findings(kit, model, index, result)? {
            add(place, &sides)?;
        }
        if let Some(tolerated) = super::tolerated::block(kit, model, index)? {
            add(place, &tolerated)?;
        }
        if let Some(strip) = super::lived::lived(kit, model, index)? {
            add(place, &strip)?;
        }
        self.sources(kit, place, tile, story)
    }

    /// Nominal and with the policy's terms side by side, and the term that matters most.
    fn counted(&self, kit: &Kit, model: &Model, place: &Element, result: &TileResult) -> Made<()> {
        let (units, terms) = (model.units, &model.scenario.policy.terms);
        if terms.is_empty() {
            return Ok(());
        }
        let shown = |kelvin: f64| Quantity::Temperature.text(kelvin, units);
        let layers = [
            (GovernedBy::Surface, Some(result.surface), Some(result.counted_surface_k).filter(|kelvin| *kelvin > 0.0)),
            (GovernedBy::Bondline, result.bondline, result.counted_bondline_k),
            (GovernedBy::Structure, result.structure, result.counted_structure_k),
        ];
        let rows: Vec<(String, String)> = layers
            .into_iter()
            .filter_map(|(which, peak, counted_k)| {
                let (nominal, counted) = (shown(peak?.temperature_k), shown(counted_k?));
                Some((format!("{}: nominal {nominal}, counted", words::governed(which)), counted))
            })
            .collect();
        add(place, &facts(kit, "facts tight", &rows)?)?;
        let most = result.term_most.and_then(|most| Some((terms.get(most)?, result.shifts_k.get(most)?)));
        if let Some((term, shift)) = most {
            let words = format!("{} matters most: {}.", capital(&term.name.replace('-', " ")), Quantity::Difference.signed(*shift, units));
            add(place, &kit.said("p", "note", &words)?)?;
        }
        Ok(())
    }

    /// The tiles that share a joint with it, each with its margin as its title.
    fn neighbours(&self, kit: &Kit, model: &Model, place: &Element, tile: &Tile) -> Made<()> {
        let units = model.units;
        if tile.neighbours.is_empty() {
            return Ok(());
        }
        let list = kit.html("p", "near")?;
        add(&list, &kit.said("span", "", "Beside")?)?;
        for other in tile.neighbours.iter().take(12) {
            let index = *other as usize;
            let Some(neighbour) = model.shield.tiles.get(index) else { continue };
            let margin = model.results.as_ref().and_then(|results| results.tiles.get(index)).and_then(|tile| tile.margin_k);
            let label = margin.map_or(String::new(), |margin| format!(", {}", Quantity::Difference.signed(margin, units)));
            let word = kit.word(&neighbour.id, &[("data-tile", &neighbour.id), ("title", &format!("Tile {}{label}", neighbour.id))])?;
            add(&list, &word)?;
        }
        add(place, &list)
    }

    /// Where every number of this tile's chain comes from.
    fn sources(&self, kit: &Kit, place: &Element, tile: &Tile, story: Option<&Story>) -> Made<()> {
        let details = kit.html("details", "sources")?;
        let summary = kit.html("summary", "w")?;
        let sources = story.map(|story| story.sources.as_slice()).unwrap_or_default();
        let label = if sources.is_empty() {
            "Table row".to_string()
        } else {
            format!("Table row and {}", counted(sources.len(), "source", "sources"))
        };
        add(&summary, &kit.said("u", "", &label)?)?;
        add(&details, &summary)?;
        let list = kit.html("dl", "src")?;
        let optional = |number: Option<u32>| number.map_or(NONE.to_string(), |number| number.to_string());
        let row = [
            ("part", if tile.part.is_empty() { NONE } else { tile.part.as_str() }.to_string()),
            ("serial", if tile.serial.is_empty() { NONE } else { tile.serial.as_str() }.to_string()),
            ("state", words::state(tile.state).to_string()),
            ("installed for flight", optional(tile.installed_flight)),
            ("waterproofed after flight", optional(tile.waterproofed)),
        ];
        for (name, value) in row {
            add_all(&list, &[&kit.said("dt", "", name)?, &kit.said("dd", "", &value)?])?;
        }
        for (property, value, source) in sources {
            let cell = kit.html("dd", "")?;
            add_all(&cell, &[&kit.said("b", "", value)?, &kit.said("span", "", source)?])?;
            add_all(&list, &[&kit.said("dt", "", property)?, &cell])?;
        }
        add(&details, &list)?;
        add(place, &details)
    }
}

/// The transition criterion at the moment, or where the face is hottest, and the site that decides it; `None` where it is not local.
fn transition(story: &Story, time_s: Option<f64>, units: UnitSystem) -> Option<((String, String), String)> {
    let at = match time_s {
        Some(time_s) => story.time_s.partition_point(|at| *at < time_s).min(story.time_s.len().saturating_sub(1)),
        None => highest(&story.surface_k)?.0,
    };
    let onset = story.onset.get(at).copied().filter(|onset| *onset > 0.0)?;
    let time = Quantity::Time.text(story.time_s.get(at).copied()?, units);
    let row = (format!("transition criterion over its threshold, at {time}"), grouped(onset, 2));
    let note = match story.trip.get(at).copied().flatten() {
        Some((site, ratio)) => {
            let site = story.sites.get(site).map_or("a finding", String::as_str);
            let does = if ratio >= 1.0 { "Tripped by" } else { "Not tripped by" };
            format!("{does} {site}, whose criterion is {} times its threshold.", grouped(ratio, 2))
        }
        None => String::new(),
    };
    Some((row, note))
}

/// The face at a moment: in equilibrium during the flight, in depth after it.
fn face_at(story: &Story, time_s: f64) -> f64 {
    let after = story.time_s.last().is_some_and(|last| time_s > last + 0.5);
    match story.history.as_ref().filter(|_| after) {
        Some(history) => history.profile_k(time_s).first().copied().unwrap_or(f64::NAN),
        None if after => f64::NAN,
        None => between(&story.time_s, &story.surface_k, time_s),
    }
}

fn capital(words: &str) -> String {
    let mut rest = words.chars();
    rest.next().map_or(String::new(), |first| first.to_uppercase().chain(rest).collect())
}

fn facts<L: AsRef<str>>(kit: &Kit, class: &str, rows: &[(L, String)]) -> Made {
    let list = kit.html("dl", class)?;
    for (label, value) in rows {
        let cell = kit.html("dd", "")?;
        match value.split_once(crate::report::numbers::NARROW_SPACE) {
            Some((number, unit)) => {
                text(&cell, number)?;
                add(&cell, &kit.said("i", "", &format!("\u{202f}{unit}"))?)?;
            }
            None => text(&cell, value)?,
        }
        add_all(&list, &[&kit.said("dt", "", label.as_ref())?, &cell])?;
    }
    Ok(list)
}

fn highest(values: &[f64]) -> Option<(usize, f64)> {
    values.iter().copied().enumerate().filter(|(_, value)| value.is_finite()).max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)))
}

/// A small curve over the flight, its limit dashed, the moment a line.
fn spark(kit: &Kit, story: &Story, values: &[f64], limit: Option<f64>, time_s: Option<f64>, name: &str) -> Made {
    const WIDE: f64 = 288.0;
    const TALL: f64 = 38.0;
    let svg = kit.svg(
        "svg",
        &[("class", "sp"), ("viewBox", "0 0 288 38"), ("preserveAspectRatio", "none"), ("role", "img"), ("aria-label", name)],
    )?;
    let (Some(first), Some(last), Some((_, top))) = (story.time_s.first(), story.time_s.last(), highest(values)) else {
        return Ok(svg);
    };
    let low = values.iter().copied().filter(|value| value.is_finite()).fold(f64::INFINITY, f64::min).min(0.0_f64.max(top * 0.2));
    let high = limit.map_or(top, |limit| limit.max(top));
    let x = |time: f64| WIDE * (time - first) / (last - first).max(1e-9);
    let y = |value: f64| TALL - 2.0 - (TALL - 4.0) * (value - low) / (high - low).max(1e-9);
    // At most two points a pixel.
    let step = (values.len() / 576).max(1);
    let points: Vec<String> = story
        .time_s
        .iter()
        .zip(values)
        .step_by(step)
        .filter(|(_, value)| value.is_finite())
        .map(|(time, value)| format!("{} {}", round(x(*time)), round(y(*value))))
        .collect();
    if let Some(limit) = limit {
        add(&svg, &kit.path("b", &format!("M0 {}H288", round(y(limit))))?)?;
    }
    let curve = kit.path("a", &format!("M{}", points.join("L")))?;
    curve.set_attribute("vector-effect", "non-scaling-stroke")?;
    add(&svg, &curve)?;
    if let Some(time_s) = time_s {
        add(&svg, &kit.path("n1", &format!("M{} 0v38", round(x(time_s))))?)?;
    }
    Ok(svg)
}

/// Nominal, what the policy adds, and the limit, on one line.
fn bar(kit: &Kit, name: &str, nominal_k: f64, limit_k: f64, margin_k: f64, units: UnitSystem) -> Made {
    let added_k = (limit_k - margin_k - nominal_k).max(0.0);
    let shown = |kelvin: f64| Quantity::Temperature.text(kelvin, units);
    let uncertainty = if added_k > 0.5 { format!(", uncertainty {}", Quantity::Difference.text(added_k, units)) } else { String::new() };
    let said = format!("{name}: limit {}, nominal {}{uncertainty}", shown(limit_k), shown(nominal_k));
    let svg = kit.svg("svg", &[("viewBox", "0 0 150 16"), ("preserveAspectRatio", "none"), ("role", "img"), ("aria-label", &said)])?;
    // The bar begins at a third of the limit, so that the last tenth, where margins live, is wide enough to read.
    let from = limit_k / 3.0;
    let x = |kelvin: f64| (150.0 * 0.88 * (kelvin - from) / (limit_k - from)).clamp(0.0, 150.0);
    let (a, b, limit) = (x(nominal_k), x(nominal_k + added_k), x(limit_k));
    add(&svg, &kit.rect("no", 0.0, 5.0, a.min(limit), 6.0)?)?;
    let end = if added_k > 0.5 { b } else { a };
    if end > limit {
        add(&svg, &kit.rect("ex", limit, 5.0, end - limit, 6.0)?)?;
    }
    if added_k > 0.5 {
        add(&svg, &kit.path("un", &format!("M{} 8H{}M{} 4v8", round(a), round(b), round(b)))?)?;
    }
    add(&svg, &kit.path("li", &format!("M{} 0v16", round(limit)))?)?;
    Ok(svg)
}
