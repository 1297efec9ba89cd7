//! The thickness that every tile needs for a chosen margin, to the steps that a shop makes.
//!
//! 1. The thickness at which glue line or structure just keep `sizing.margin_k`, by real solves in a bracket (`reach`), to 0.1 % or 0.15 K.
//! 2. Rounded up to `sizing.step_mm`, not below `sizing.minimum_mm`.
//! 3. Solved again at that thickness with every term of the policy over every entry; a step more where the margin is not kept.
//!
//! What the neighbours' skin brings is counted as it is for the present shield. Thickness does not cool the surface: a tile whose surface falls short is
//! said to, whatever its thickness.

use super::depth::{Case, End, Posed, Setup, TileDepth, Variation, peaks_k};
use super::policy::Counting;
use super::reach::{Found, Target, thicknesses};
use super::{Assessment, InDepth, TileResult};

/// Steps added at most where the policy's terms ask for more than the search found.
const ADDED_STEPS: usize = 60;

#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Need {
    /// Nothing to size: no stack, no limit below the surface.
    #[default]
    None,
    Met,
    /// The least thickness is enough.
    AtMinimum,
    /// Not even the greatest thickness keeps the margin.
    NotAtMaximum,
    /// The tile has no valid solution in depth.
    Unknown,
}

/// One tile's answer.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Sizing {
    pub need: Need,
    /// `None` where there is nothing to size or no thickness is enough.
    pub required_m: Option<f64>,
    /// What is left below the limits of glue line and structure at that thickness, K.
    pub margin_k: Option<f64>,
    /// The surface keeps less than the margin: no thickness helps.
    pub surface_short: bool,
}

/// Sizes `tiles`, whose results and solution stand. Any slicing gives the same bytes.
pub fn solve(setup: &Setup, assessment: &Assessment, depth: &[Option<TileDepth>], tiles: &[usize]) -> Vec<Sizing> {
    let sizing = &setup.scenario.sizing;
    let (least_m, most_m, step_m) = (sizing.minimum_mm / 1000.0, sizing.maximum_mm / 1000.0, sizing.step_mm / 1000.0);
    let mut out = vec![Sizing::default(); tiles.len()];
    let mut places = Vec::new();
    let mut targets = Vec::new();
    for (place, tile) in tiles.iter().enumerate() {
        let (Some(result), Some(out)) = (assessment.tiles.get(*tile), out.get_mut(place)) else { continue };
        out.surface_short = result.margin_surface_k.is_some_and(|margin| margin < sizing.margin_k);
        if matches!(result.in_depth, InDepth::Failed(_) | InDepth::Pending) {
            out.need = Need::Unknown;
        }
        let Some(Some(depth)) = depth.get(*tile) else { continue };
        if let Some(target) = Target::of(setup, result, depth, *tile, sizing.margin_k) {
            places.push((place, result));
            targets.push((target, depth));
        }
    }
    // Number of steps that a thickness takes, rounded up but for rounding itself.
    let rounded = |metres: f64| (metres.max(least_m) / step_m - 1e-6).ceil();
    let mut open: Vec<Try> = Vec::new();
    for ((found, (place, result)), (target, _)) in thicknesses(setup, &targets, least_m, |_| most_m).into_iter().zip(&places).zip(&targets)
    {
        let steps = match found {
            Found::At(metres) => rounded(metres),
            Found::Beyond => rounded(least_m),
            Found::Never => {
                out[*place].need = Need::NotAtMaximum;
                continue;
            }
        };
        open.push(Try { place: *place, tile: target.tile, result, steps });
    }
    let counting = Counting::new(&setup.scenario.policy);
    for round in 0..ADDED_STEPS {
        let thickness = |one: &Try| (one.steps * step_m).min(most_m.max(least_m));
        let margins = margins_at(setup, &counting, &open.iter().map(|one| (one.tile, one.result, thickness(one))).collect::<Vec<_>>());
        let mut left = Vec::new();
        for (one, margin) in open.into_iter().zip(margins) {
            let metres = thickness(&one);
            let out = &mut out[one.place];
            match margin {
                Some(margin) if margin >= sizing.margin_k => {
                    let need = if one.steps <= rounded(least_m) { Need::AtMinimum } else { Need::Met };
                    (out.need, out.required_m, out.margin_k) = (need, Some(metres), Some(margin));
                }
                Some(_) if metres < most_m => left.push(Try { steps: one.steps + if round < 8 { 1.0 } else { 4.0 }, ..one }),
                Some(_) => out.need = Need::NotAtMaximum,
                None => out.need = Need::Unknown,
            }
        }
        open = left;
        if open.is_empty() {
            break;
        }
    }
    for one in open {
        out[one.place].need = Need::NotAtMaximum;
    }
    out
}

struct Try<'a> {
    place: usize,
    tile: usize,
    result: &'a TileResult,
    steps: f64,
}

/// The least margin of glue line and structure over all entries with the policy's terms, each tile at a thickness; `None` where a run did not
/// answer.
fn margins_at(setup: &Setup, counting: &Counting, asked: &[(usize, &TileResult, f64)]) -> Vec<Option<f64>> {
    let terms: Vec<Variation> = setup.scenario.policy.terms.iter().map(Variation::of).collect();
    let thick = |(tile, result, metres): &(usize, &TileResult, f64)| Case {
        variation: Variation { thickness: metres / result.effective.thickness_m, ..Variation::default() },
        ..Case::nominal(*tile)
    };
    let cases: Vec<Case> = asked.iter().map(thick).collect();
    let posed = Posed::new(setup, &cases.iter().map(|case| case.tile).collect::<Vec<_>>());
    let mut least: Vec<Option<f64>> = vec![Some(f64::INFINITY); asked.len()];
    for entry in 0..setup.prepared.flights.len() {
        let solved = posed.full(entry, &cases);
        let varied = posed.varied(entry, &cases, &solved, &terms);
        for (place, (least, (_, result, _))) in least.iter_mut().zip(asked).enumerate() {
            let varied = varied.get(place * terms.len()..(place + 1) * terms.len()).unwrap_or_default();
            let ends = varied.iter().map(|(_, end)| *end).chain([solved[place].result.end]);
            if ends.into_iter().any(|end| matches!(end, End::Limit | End::Failed)) {
                *least = None;
                continue;
            }
            let own_k = peaks_k(&solved[place]);
            let brought_k = result.brought_k();
            for (layer, limit) in [(1, result.limit_bondline_k), (2, result.limit_structure_k)] {
                let shifted_k: Vec<f64> = varied.iter().map(|(peaks_k, _)| peaks_k[layer]).collect();
                let counted_k = own_k[layer] + counting.rise_k(own_k[layer], &shifted_k) + brought_k[layer - 1];
                if let (Some(limit), Some(known)) = (limit, least.as_mut()) {
                    *known = known.min(limit - counted_k);
                }
            }
        }
    }
    least
}
