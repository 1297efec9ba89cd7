//! From state and findings to a condition and a suggestion, by a stated table of rules.
//!
//! The sizes in [`RULES`] are the demonstration's own invention and stand for the user's inspection requirements; no published
//! acceptance limits are claimed. The worst rule that applies decides the tile; a finding on a joint counts for both tiles.

use super::{Condition, Disposition};
use crate::shield::{Finding, Tile, TileState};

/// What a rule measures on a finding.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Measure {
    /// Applies to every finding of the kind.
    Always,
    DepthMm,
    /// Depth over the tile's thickness.
    DepthShare,
    LengthMm,
    /// Length times width.
    AreaMm2,
    /// Of either sign.
    StepMm,
    GapMm,
    ProtrusionMm,
}

/// A finding of `kind` whose `measure` exceeds `above` puts its tile into `condition`, with `disposition` as the suggestion.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rule {
    pub kind: &'static str,
    pub measure: Measure,
    pub above: f64,
    pub condition: Condition,
    pub disposition: Disposition,
}

const fn rule(kind: &'static str, measure: Measure, above: f64, condition: Condition, disposition: Disposition) -> Rule {
    Rule { kind, measure, above, condition, disposition }
}

/// The rules, invented for the demonstration. A size that a finding does not give counts as exceeded, never as harmless.
pub const RULES: [Rule; 29] = {
    use Condition as C;
    use Disposition as D;
    use Measure as M;
    [
        rule("missing-tile", M::Always, 0.0, C::NotCleared, D::Replace),
        rule("doubtful-bond", M::Always, 0.0, C::NotCleared, D::EngineeringReview),
        rule("chip", M::Always, 0.0, C::AsBuilt, D::FlyAsIs),
        rule("chip", M::AreaMm2, 100.0, C::Watch, D::Watch),
        rule("chip", M::AreaMm2, 600.0, C::Repair, D::RepairInPlace),
        rule("crack", M::Always, 0.0, C::Watch, D::Watch),
        rule("crack", M::LengthMm, 60.0, C::Repair, D::RepairInPlace),
        rule("crack", M::LengthMm, 150.0, C::Replace, D::Replace),
        rule("gouge", M::Always, 0.0, C::Watch, D::Watch),
        rule("gouge", M::DepthMm, 3.0, C::Repair, D::RepairInPlace),
        rule("gouge", M::DepthShare, 0.4, C::Replace, D::Replace),
        rule("impact-cavity", M::Always, 0.0, C::Watch, D::Watch),
        rule("impact-cavity", M::DepthMm, 2.0, C::Repair, D::RepairInPlace),
        rule("impact-cavity", M::DepthShare, 0.35, C::Replace, D::EngineeringReview),
        rule("coating-loss", M::Always, 0.0, C::Watch, D::Watch),
        rule("coating-loss", M::AreaMm2, 400.0, C::Repair, D::RepairInPlace),
        rule("slump", M::Always, 0.0, C::Watch, D::Watch),
        rule("slump", M::DepthMm, 1.5, C::Replace, D::Replace),
        rule("step", M::Always, 0.0, C::AsBuilt, D::FlyAsIs),
        rule("step", M::StepMm, 0.8, C::Watch, D::Watch),
        rule("step", M::StepMm, 1.5, C::Repair, D::RepairInPlace),
        rule("gap", M::GapMm, 2.0, C::Watch, D::Watch),
        rule("gap", M::GapMm, 3.0, C::Repair, D::RepairInPlace),
        rule("protruding-filler", M::Always, 0.0, C::Watch, D::Watch),
        rule("protruding-filler", M::ProtrusionMm, 2.0, C::Repair, D::RepairInPlace),
        rule("lost-filler", M::Always, 0.0, C::Repair, D::RepairInPlace),
        rule("waterproofing-lost", M::Always, 0.0, C::Watch, D::RepairInPlace),
        rule("discoloration", M::Always, 0.0, C::AsBuilt, D::FlyAsIs),
        rule("contamination", M::Always, 0.0, C::Watch, D::Watch),
    ]
};

fn exceeds(finding: &Finding, tile: &Tile, rule: &Rule) -> bool {
    let value = match rule.measure {
        Measure::Always => return true,
        Measure::DepthMm => finding.depth_mm,
        Measure::DepthShare => finding.depth_mm.map(|depth| depth / (1000.0 * tile.thickness_m)),
        Measure::LengthMm => finding.length_mm,
        Measure::AreaMm2 => finding.length_mm.map(|length| length * finding.width_mm.unwrap_or(length)),
        Measure::StepMm => finding.step_mm.map(f64::abs),
        Measure::GapMm => finding.gap_mm,
        Measure::ProtrusionMm => finding.protrusion_mm,
    };
    value.is_none_or(|value| value > rule.above)
}

/// The worst rule that a finding meets on `tile`.
pub fn of_finding(finding: &Finding, tile: &Tile) -> Option<&'static Rule> {
    RULES.iter().filter(|rule| rule.kind == finding.kind && exceeds(finding, tile, rule)).max_by_key(|rule| rule.condition)
}

/// A tile's condition and suggestion.
///
/// 1. Before service the state of installation is the condition and there is no suggestion.
/// 2. In service the worst rule over its findings decides.
/// 3. A margin below 0 puts the tile into `not-cleared` for engineering review, whatever was found.
pub fn of_tile<'a>(tile: &Tile, findings: impl Iterator<Item = &'a Finding>, margin_k: Option<f64>) -> (Condition, Option<Disposition>) {
    match tile.state {
        TileState::Planned => return (Condition::Planned, None),
        TileState::Fitted => return (Condition::Fitted, None),
        TileState::Bonded => return (Condition::Bonded, None),
        TileState::Tested => return (Condition::Tested, None),
        TileState::InService => {}
    }
    let worst = findings.filter_map(|finding| of_finding(finding, tile)).max_by_key(|rule| rule.condition);
    let (condition, disposition) = worst.map_or((Condition::AsBuilt, None), |rule| (rule.condition, Some(rule.disposition)));
    if margin_k.is_some_and(|margin| margin < 0.0) && condition < Condition::NotCleared {
        return (Condition::NotCleared, Some(Disposition::EngineeringReview));
    }
    (condition, disposition)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tile() -> Tile {
        Tile { thickness_m: 0.03, ..Tile::default() }
    }

    #[test]
    fn verif_every_kind_has_a_rule_and_the_worst_decides() {
        for kind in crate::shield::findings::KINDS {
            assert!(RULES.iter().any(|rule| rule.kind == kind), "{kind}");
        }
        let gouge = |depth_mm| Finding { kind: "gouge".to_string(), depth_mm, ..Finding::default() };
        for (depth, want) in
            [(Some(1.0), Condition::Watch), (Some(5.0), Condition::Repair), (Some(20.0), Condition::Replace), (None, Condition::Replace)]
        {
            assert_eq!(of_tile(&tile(), [&gouge(depth)].into_iter(), Some(10.0)).0, want, "{depth:?}");
        }
        let both = [gouge(Some(1.0)), Finding { kind: "doubtful-bond".to_string(), ..Finding::default() }];
        assert_eq!(of_tile(&tile(), both.iter(), Some(10.0)), (Condition::NotCleared, Some(Disposition::EngineeringReview)));
    }

    #[test]
    fn verif_installation_stands_before_service_and_a_short_tile_is_not_cleared() {
        let planned = Tile { state: TileState::Planned, ..tile() };
        assert_eq!(of_tile(&planned, std::iter::empty(), Some(-5.0)), (Condition::Planned, None));
        assert_eq!(of_tile(&tile(), std::iter::empty(), Some(-5.0)).0, Condition::NotCleared);
        assert_eq!(of_tile(&tile(), std::iter::empty(), Some(5.0)), (Condition::AsBuilt, None));
    }
}
