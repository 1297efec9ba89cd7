//! From dispositions to work: tasks, jobs of tiles that lie close together, hours by skill, the longest chain and the hours to ready.
//!
//! | file | idea |
//! | --- | --- |
//! | `rates` | the editable table of tasks and procedures |
//! | `waterproof` | which tiles are made waterproof again |
//! | `group` | what lies close together |
//! | `schedule` | activities under order, crew and cleared areas |
//!
//! A signed decision goes before the suggestion. A tile that is replaced needs no other work of its own; a finding on a joint is one piece
//! of work, on its first tile. A tile whose own suggestion is an engineering review (a margin below 0) has one whatever less its findings ask, unless a person
//! decided on one of them. Waterproofing follows everything else on its tiles. Hours are working hours with the whole crew always
//! there: there are no calendars.

pub mod group;
pub mod rates;
pub mod schedule;
pub mod waterproof;

use super::history::{Standing, signed};
use super::{Assessment, Disposition, history};
use crate::document::Error;
use crate::document::Sorting as _;
use crate::scenario::Scenario;
use crate::shield::findings::JOINTS;
use crate::shield::{Finding, Shield, TileState};
use rates::{Rates, WATERPROOF};
use schedule::{Activity, Schedule, schedule};
use std::collections::BTreeMap;
use waterproof::Treatment;

/// A piece of work: one procedure on one tile for some findings.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Piece {
    /// Index into [`Rates::procedures`].
    pub procedure: usize,
    pub tile: usize,
    /// Indices of the findings that call for it; empty where the tile itself does.
    pub findings: Vec<usize>,
    /// Called for by a person's signed decision, not by a suggestion.
    pub decided: bool,
}

/// Pieces of one procedure in one zone that lie close together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Job {
    pub procedure: usize,
    pub pieces: Vec<Piece>,
    /// Indices of its activities, one a step.
    pub activities: std::ops::Range<usize>,
}

/// One task of one job.
#[derive(Debug, Clone, PartialEq)]
pub struct Deed {
    pub job: usize,
    /// Index into [`Rates::tasks`].
    pub task: usize,
    /// Person-hours.
    pub touch_h: f64,
    pub cure_h: f64,
}

/// The work before the next flight.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Work {
    pub rates: Rates,
    pub jobs: Vec<Job>,
    pub deeds: Vec<Deed>,
    pub activities: Vec<Activity>,
    pub schedule: Schedule,
    pub people: u32,
    /// Zones, as the areas of the activities count them.
    pub areas: Vec<String>,
    /// Person-hours by skill, the skills in the order of the rates.
    pub hours_by_skill: Vec<(String, f64)>,
    pub treatment: Treatment,
    /// Person-hours that the skipped tiles would have taken at the same rates, a setup a patch's worth of them.
    pub saved_touch_h: f64,
    pub warnings: Vec<String>,
}

impl Work {
    pub fn touch_h(&self) -> f64 {
        self.hours_by_skill.iter().fold(0.0, |sum, (_, hours)| sum + hours)
    }

    pub fn longest_chain_h(&self) -> f64 {
        self.schedule.longest_chain_min as f64 / 60.0
    }

    /// Hours from the first task to the last, with this crew and this method.
    pub fn ready_h(&self) -> f64 {
        self.schedule.ready_min as f64 / 60.0
    }

    /// No timetable of this crew is shorter.
    pub fn bound_h(&self) -> f64 {
        self.schedule.bound_min as f64 / 60.0
    }
}

/// The disposition that counts for a finding on its tile: the signed decision, else the suggestion; and whether it was decided.
pub fn counted(finding: &Finding, suggestion: Option<Disposition>) -> (Option<Disposition>, bool) {
    let decided = Disposition::ALL.into_iter().find(|word| signed(finding) && word.word() == finding.decision);
    (decided.or(suggestion), decided.is_some())
}

/// The pieces of work that findings and tiles call for, in the order of the tiles; waterproofing comes later.
fn pieces(
    shield: &Shield,
    scenario: &Scenario,
    rates: &Rates,
    findings: &[Finding],
    standings: &[Standing],
    results: &Assessment,
) -> Vec<Piece> {
    let rules = super::condition::Rules::of(&scenario.inspection).unwrap_or_default();
    // By tile: the findings whose own tile it is, with what counts for each.
    let mut by_tile: BTreeMap<usize, Vec<(usize, Disposition, bool)>> = BTreeMap::new();
    for (i, (finding, standing)) in findings.iter().zip(standings).enumerate().filter(|(_, (_, standing))| !standing.closed) {
        if shield.tiles.get(finding.tile).is_none_or(|tile| tile.state != TileState::InService) {
            continue;
        }
        let suggestion = rules.where_it_lies(finding, &shield.tiles, *standing).map(|judged| judged.rule.disposition);
        if let (Some(disposition), decided) = counted(finding, suggestion) {
            by_tile.entry(finding.tile).or_default().push((i, disposition, decided));
        }
    }
    // A tile that is not cleared, but not for a finding, is looked at as well.
    let reviewed = |tile: usize| results.tiles.get(tile).is_some_and(|result| result.disposition == Some(Disposition::EngineeringReview));
    for tile in (0..results.tiles.len()).filter(|tile| reviewed(*tile)) {
        by_tile.entry(tile).or_default();
    }
    let mut out: Vec<Piece> = Vec::new();
    for (tile, found) in by_tile {
        let replaced: Vec<_> = found.iter().filter(|(_, disposition, _)| *disposition == Disposition::Replace).collect();
        if let Some((first, _, _)) = replaced.first() {
            let missing = found.iter().any(|(i, ..)| findings[*i].kind == "missing-tile");
            let kind = if missing { "missing-tile" } else { findings[*first].kind.as_str() };
            if let Some(procedure) = rates.procedure(Disposition::Replace.word(), kind) {
                let decided = replaced.iter().any(|(.., decided)| *decided);
                out.push(Piece { procedure, tile, findings: found.iter().map(|(i, ..)| *i).collect(), decided });
            }
            continue;
        }
        let settled = |(_, disposition, decided): &(usize, Disposition, bool)| *decided || *disposition == Disposition::EngineeringReview;
        if reviewed(tile) && !found.iter().any(settled) {
            let procedure = rates.procedure(Disposition::EngineeringReview.word(), "");
            out.extend(procedure.map(|procedure| Piece { procedure, tile, findings: Vec::new(), decided: false }));
        }
        for (i, disposition, decided) in found {
            let procedure = rates.procedure(disposition.word(), &findings[i].kind);
            out.extend(procedure.map(|procedure| Piece { procedure, tile, findings: vec![i], decided }));
        }
    }
    out
}

fn minutes(hours: f64) -> u64 {
    let minutes = libm::ceil(hours * 60.0 - 1e-6);
    if minutes > 0.0 { minutes as u64 } else { 0 }
}

/// The work list and its timetable.
///
/// # Errors
/// Bad input where the scenario's rows of rates or rules are wrong.
pub fn work(shield: &Shield, scenario: &Scenario, findings: &[Finding], results: &Assessment) -> Result<Work, Error> {
    let rates = Rates::of(&scenario.work)?;
    let present = history::present_flight(shield, findings);
    let standings = history::standings(findings, present);
    let mut warnings = Vec::new();
    history::check_decisions(findings, &mut warnings);
    let pieces = pieces(shield, scenario, &rates, findings, &standings, results);

    let reviews =
        pieces.iter().filter(|piece| rates.procedures[piece.procedure].disposition == Disposition::EngineeringReview.word()).count();
    if reviews > 0 {
        warnings.push(format!("{reviews} pieces of work end in an engineering review; what it decides is not in the hours"));
    }
    // Tiles whose face or bond is opened need waterproofing again under any policy.
    let opened = |piece: &Piece| {
        let word = rates.procedures[piece.procedure].disposition.as_str();
        word == Disposition::Replace.word() || word == Disposition::RepairInPlace.word()
    };
    let mut worked = vec![false; shield.tiles.len()];
    for piece in pieces.iter().filter(|piece| opened(piece)) {
        let joint = |i: &usize| JOINTS.contains(&findings[*i].kind.as_str());
        let second = piece.findings.iter().filter(|i| joint(i)).filter_map(|i| findings[*i].tile_2);
        for tile in std::iter::once(piece.tile).chain(second) {
            worked[tile] = true;
        }
    }
    let treatment = waterproof::treatment(shield, scenario, findings, &standings, results, &worked);
    warnings.extend(treatment.warnings.iter().cloned());

    let mut areas: Vec<String> = Vec::new();
    let area_of: Vec<usize> = shield
        .tiles
        .iter()
        .map(|tile| match areas.iter().position(|zone| *zone == tile.zone) {
            Some(area) => area,
            None => {
                areas.push(tile.zone.clone());
                areas.len() - 1
            }
        })
        .collect();
    let near = group::Near { near_m: scenario.work.near_m, most: scenario.work.tiles_per_job as usize };
    let centre = |tile: usize| shield.tiles[tile].facet.centre;
    let mut work = Work { people: scenario.work.people, areas, treatment, warnings, ..Work::default() };
    // The last activities of the jobs on each tile.
    let mut last_on: Vec<Vec<usize>> = vec![Vec::new(); shield.tiles.len()];
    let order: Vec<(usize, usize)> = pieces.iter().map(|piece| (piece.procedure, area_of[piece.tile])).collect();
    for members in group::groups(&order, |i| centre(pieces[i].tile), near) {
        let mine: Vec<Piece> = members.iter().map(|i| pieces[*i].clone()).collect();
        work.add_job(&rates, mine, |tile| area_of[tile], &[], &mut last_on);
    }
    if let Some(procedure) = rates.procedure(WATERPROOF, "") {
        let treated = &work.treatment.tiles;
        let order: Vec<(usize, usize)> = treated.iter().map(|tile| (procedure, area_of[*tile])).collect();
        // A patch is as many tiles as one opening of the area may take.
        let patch = group::Near { near_m: PATCH_M, most: PATCH_TILES };
        let patches = group::groups(&order, |i| centre(treated[i]), patch);
        let treated = treated.clone();
        for members in patches {
            let tiles = members.iter().map(|i| treated[*i]);
            let mine: Vec<Piece> = tiles.map(|tile| Piece { procedure, tile, findings: Vec::new(), decided: false }).collect();
            let before: Vec<usize> = mine.iter().flat_map(|piece| last_on[piece.tile].iter().copied()).collect();
            work.add_job(&rates, mine, |tile| area_of[tile], &before, &mut last_on);
        }
    }
    work.saved_touch_h = saved_touch_h(&rates, work.treatment.skipped.len());
    let crew = rates.crew(&scenario.work);
    // People are checked with the rates, and activities are built in order: there is a timetable.
    work.schedule = schedule(&work.activities, work.areas.len(), &crew).unwrap_or_default();
    let mut hours = vec![0.0; rates.skills.len()];
    for deed in &work.deeds {
        hours[rates.tasks[deed.task].skill] += deed.touch_h;
    }
    work.hours_by_skill = rates.skills.iter().cloned().zip(hours).filter(|(_, hours)| *hours > 0.0).collect();
    work.rates = rates;
    Ok(work)
}

/// Person-hours of treating so many tiles more, in full patches.
fn saved_touch_h(rates: &Rates, skipped: usize) -> f64 {
    let Some(procedure) = rates.procedure(WATERPROOF, "") else { return 0.0 };
    let patches = skipped.div_ceil(PATCH_TILES) as f64;
    let steps = rates.procedures[procedure].steps.iter().map(|step| &rates.tasks[step.task]).filter(|task| task.people > 0);
    steps.map(|task| task.touch_h * skipped as f64 + task.setup_h * patches).sum()
}

/// Size of a waterproofing patch: common practice has it done area by area; the numbers are invented.
const PATCH_M: f64 = 1.5;
const PATCH_TILES: usize = 60;

impl Work {
    fn add_job(
        &mut self,
        rates: &Rates,
        pieces: Vec<Piece>,
        area_of: impl Fn(usize) -> usize,
        before: &[usize],
        last_on: &mut [Vec<usize>],
    ) {
        let Some(first) = pieces.first() else { return };
        let (procedure, area) = (first.procedure, area_of(first.tile));
        let from = self.activities.len();
        let mut open: Vec<bool> = Vec::new();
        for step in &rates.procedures[procedure].steps {
            let task = &rates.tasks[step.task];
            let touch_h = task.setup_h + task.touch_h * pieces.len() as f64;
            let touch_h = if task.people > 0 { touch_h } else { 0.0 };
            let elapsed_h = if task.people > 0 { touch_h / f64::from(task.people) } else { task.cure_h };
            let mut after: Vec<usize> = step.after.iter().map(|step| from + step).collect();
            for step in &step.after {
                open[*step] = false;
            }
            if step.after.is_empty() {
                after.extend_from_slice(before);
                after.order();
                after.dedup();
            }
            self.activities.push(Activity {
                duration_min: minutes(elapsed_h),
                people: task.people,
                skill: task.skill,
                area,
                clears_area: task.clears_area,
                kind: step.task,
                after,
            });
            self.deeds.push(Deed {
                job: self.jobs.len(),
                task: step.task,
                touch_h,
                cure_h: if task.people > 0 { 0.0 } else { task.cure_h },
            });
            open.push(true);
        }
        for piece in &pieces {
            last_on[piece.tile].extend((0..open.len()).filter(|step| open[*step]).map(|step| from + step));
        }
        self.jobs.push(Job { procedure, pieces, activities: from..self.activities.len() });
    }
}
