//! The present condition: what each standing finding leaves of its tile's margins, beside what the tile has as designed.
//!
//! A finding's own answer (`damage`) is a difference between two solutions of one solver. The tile's margins after the policy, as results
//! carry them, less that difference are the margins with the finding: the policy's terms count on the damaged tile what they count on the
//! whole one. No finding raises a margin. What trips the boundary layer or heats behind a step is in the shield's own margins already.

use super::TileResult;
use super::damage::{Damage, Effort, Margins, Subject};
use super::effects::{Effects, Model, model};
use super::history::{present_flight, standings};
use super::prepare::Prepared;
use crate::document::Error;
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

/// Both sides of a finding's answer on its tile. A part of the tile that its result has no margin for stays empty.
pub fn sides(result: &TileResult, damage: &Damage) -> Sides {
    let own = Margins { surface_k: result.margin_surface_k, bondline_k: result.margin_bondline_k, structure_k: result.margin_structure_k };
    let less = |own: Option<f64>, before: Option<f64>, after: Option<f64>| Some(own? - (before? - after?).max(0.0));
    let left = |with: &Margins| Margins {
        surface_k: less(own.surface_k, damage.margins_without.surface_k, with.surface_k),
        bondline_k: less(own.bondline_k, damage.margins_without.bondline_k, with.bondline_k),
        structure_k: less(own.structure_k, damage.margins_without.structure_k, with.structure_k),
    };
    Sides { without: own, with: damage.margins_with.as_ref().map(left), bound: damage.margins_bound.as_ref().map(left) }
}
