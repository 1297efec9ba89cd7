//! The present condition: what each standing finding leaves of its tile's margins, beside what the tile has as designed.
//!
//! A finding's own answer (`damage`) is a difference between two solutions of one solver. The tile's margins after the policy, as results
//! carry them, less that difference are the margins with the finding: the policy's terms count on the damaged tile what they count on the
//! whole one. No finding raises a margin. What trips the boundary layer or heats behind a step is in the shield's own margins already.
//!
//! Results judge a tile by the margin that stands beside its condition, as designed, whether findings are solved or not, so that the table of results is the
//! same; the condition with the findings stands here, and the work follows it where findings are solved ([`judged`]).

use super::condition::Facts;
use super::damage::{Damage, Effort, Margins, Subject};
use super::effects::{Effects, Model, model};
use super::history::{Standing, present_flight, standings};
use super::prepare::Prepared;
use super::{Assessment, Condition, Disposition, TileResult};
use crate::document::Error;
use crate::document::Sorting as _;
use crate::scenario::Scenario;
use crate::shield::{Finding, Shield};

/// The findings that still stand, of which a temperature can be asked: place among all findings. A tile without a stack has no answer.
pub fn asked(shield: &Shield, prepared: &Prepared, findings: &[Finding]) -> Vec<usize> {
    let standing = standings(findings, present_flight(shield, findings));
    let answers = |finding: &Finding| {
        let tile = shield.tiles.get(finding.tile)?;
        prepared.tiles.get(finding.tile)?.stack?;
        Some(model(finding, tile)).filter(Model::is_temperature)
    };
    (0..findings.len()).filter(|i| !standing[*i].closed && answers(&findings[*i]).is_some()).collect()
}

/// How many findings of a tile ask for a temperature and still stand.
pub fn asked_of(shield: &Shield, findings: &[Finding], tile: usize) -> usize {
    let Some(row) = shield.tiles.get(tile) else { return 0 };
    let standing = standings(findings, present_flight(shield, findings));
    let of_tile = findings.iter().zip(standing).filter(|(finding, standing)| finding.tile == tile && !standing.closed);
    of_tile.filter(|(finding, _)| model(finding, row).is_temperature()).count()
}

/// One finding's answer; `None` for a tile without a stack.
///
/// # Errors
/// A failed computation.
pub fn answer(
    shield: &Shield,
    scenario: &Scenario,
    prepared: &Prepared,
    effects: &Effects,
    finding: &Finding,
    effort: Effort,
) -> Result<Option<Damage>, Error> {
    Subject::new(shield, scenario, prepared, finding.tile).map(|subject| subject.damage(effects, finding, effort)).transpose()
}

/// A tile's margins as designed and as they are with a finding, after the policy, K.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Sides {
    pub without: Margins,
    /// `None` where the finding claims no temperature.
    pub with: Option<Margins>,
    /// With the full-area bound instead.
    pub bound: Option<Margins>,
}

/// What is left of a tile's margins where a case takes `after` from what the same solver had at `before`. A part that its result has no margin
/// for stays empty.
pub fn left(result: &TileResult, before: &Margins, after: &Margins) -> Margins {
    let less = |own: Option<f64>, before: Option<f64>, after: Option<f64>| Some(own? - (before? - after?).max(0.0));
    Margins {
        surface_k: less(result.margin_surface_k, before.surface_k, after.surface_k),
        bondline_k: less(result.margin_bondline_k, before.bondline_k, after.bondline_k),
        structure_k: less(result.margin_structure_k, before.structure_k, after.structure_k),
    }
}

/// Both sides of a finding's answer on its tile.
pub fn sides(result: &TileResult, damage: &Damage) -> Sides {
    let without =
        Margins { surface_k: result.margin_surface_k, bondline_k: result.margin_bondline_k, structure_k: result.margin_structure_k };
    let with = |after: &Option<Margins>| after.as_ref().map(|after| left(result, &damage.margins_without, after));
    Sides { without, with: with(&damage.margins_with), bound: with(&damage.margins_bound) }
}

/// A tile in its present condition: all findings that stand on it and have an answer, the worst of each part counting.
#[derive(Debug, Clone, PartialEq)]
pub struct Present {
    pub tile: usize,
    /// Places of the findings that were solved.
    pub findings: Vec<usize>,
    pub without: Margins,
    pub with: Margins,
    /// As judged with those margins in place of the tile's own.
    pub condition: Condition,
    pub disposition: Option<Disposition>,
    /// The rule that gave them, in words.
    pub rule: String,
}

/// The results with each tile judged as it is with its findings: conditions, suggestions and their rules alone, what the work follows. Temperatures and
/// margins stay as designed.
pub fn judged(results: &Assessment, present: &[Present]) -> Assessment {
    let mut results = results.clone();
    for present in present {
        if let Some(result) = results.tiles.get_mut(present.tile) {
            (result.condition, result.disposition, result.rule) = (present.condition, present.disposition, present.rule.clone());
        }
    }
    results
}

fn least(a: Option<f64>, b: Option<f64>) -> Option<f64> {
    [a, b].into_iter().flatten().reduce(f64::min)
}

/// The tiles that the next flight starts from with less than they have as designed: one row a tile with answers, in the tiles' order. `answer`
/// gives a finding's answer by its place. Findings on one tile do not add up: each is solved by itself, and the worst of each part counts.
pub fn present<'a>(
    shield: &Shield,
    prepared: &Prepared,
    findings: &[Finding],
    results: &Assessment,
    answer: impl Fn(usize) -> Option<&'a Damage>,
) -> Vec<Present> {
    let flight = present_flight(shield, findings);
    let standing = standings(findings, flight);
    let mut solved: Vec<(usize, usize)> = (0..findings.len()).filter(|i| answer(*i).is_some()).map(|i| (findings[i].tile, i)).collect();
    solved.order();
    let mut out = Vec::new();
    for group in solved.chunk_by(|a, b| a.0 == b.0) {
        let Some((tile, _)) = group.first().copied() else { continue };
        let (Some(row), Some(result)) = (shield.tiles.get(tile), results.tiles.get(tile)) else { continue };
        let all = group.iter().filter_map(|(_, place)| Some(sides(result, answer(*place)?)));
        let mut without = Margins::default();
        let mut with: Option<Margins> = None;
        for sides in all {
            without = sides.without;
            let own = sides.with.unwrap_or(sides.without);
            let known = with.unwrap_or(own);
            with = Some(Margins {
                surface_k: least(known.surface_k, own.surface_k),
                bondline_k: least(known.bondline_k, own.bondline_k),
                structure_k: least(known.structure_k, own.structure_k),
            });
        }
        let with = with.unwrap_or(without);
        let on: Vec<(&Finding, Standing)> = (findings.iter().zip(standing.iter().copied()))
            .filter(|(finding, _)| finding.tile == tile || finding.tile_2 == Some(tile))
            .collect();
        let mut flights: Vec<Option<u32>> = on.iter().map(|(finding, _)| finding.flight.or(flight)).collect();
        flights.order();
        flights.dedup();
        // A tile without a margin of its own (not solved, or failed) gets none from its findings.
        let margin_k = result.margin_k.and(with.least_k());
        let facts = Facts::of(row, &shield.library, flight, flights.len(), margin_k);
        let (condition, disposition, judged) = prepared.rules.of_tile(row, on.into_iter(), &facts);
        out.push(Present {
            tile,
            findings: group.iter().map(|(_, place)| *place).collect(),
            without,
            with,
            condition,
            disposition,
            rule: judged.map_or(String::new(), |judged| judged.rule.words()),
        });
    }
    out
}
