//! What a change of heating, emissivity or thickness makes of solutions that stand, before anything is solved again.
//!
//! A small change moves every rise along a power of what changed. The power is the tile's own: from the policy's terms, each solved beside the nominal run
//! (the response surface that `policy` samples), else from how far the tile is from its limits (`reach`), which was solved too. A slider's next step
//! is thereby shown at once, as an estimate that is replaced by what is solved. Whatever else changed gives no guess.

use super::answer::{EntryDepth, TileDepth};
use super::{Setup, Term, TilePeak, Variation};
use crate::assess::Assessment;
use crate::assess::prepare::Prepared;
use crate::assess::reach::{Reach, Target};
use crate::document::Sorting as _;
use crate::heating::local::Local;

/// The least and the largest factor on a property that a power is followed to.
const FACTORS: (f64, f64) = (0.5, 2.0);
/// Below this rise, K, a power says nothing and the rise stays.
const LEAST_RISE_K: f64 = 1.0;
/// No rise grows or shrinks by more than a factor of e to this.
const MOST_GROWTH: f64 = 1.0;
/// A limit nearer than this logarithm of heating or thickness gives no power: what the search leaves open would count.
const NEAR: f64 = 0.05;
/// Powers beyond these are not believed.
const POWERS: (f64, f64) = (0.05, 4.0);
/// Where emissivities are compared, K.
const COMPARED_K: [f64; 2] = [800.0, 1300.0];
/// The properties that can be followed, in this order: heating, emissivity, thickness.
const PROPERTIES: usize = 3;

/// The powers with which the rise of glue line and structure goes with each property, by tile: its own, or the shield's middle one where its limits
/// say nothing.
#[derive(Debug, Clone, PartialEq)]
pub struct Powers {
    by_tile: Vec<[f64; PROPERTIES]>,
}

impl Powers {
    /// From results whose reach is known; `None` where no tile has one.
    pub fn of(setup: &Setup, assessment: &Assessment, depth: &[Option<TileDepth>], reach: &[Reach]) -> Option<Powers> {
        let own: Vec<[Option<f64>; 2]> = (assessment.tiles.iter().zip(depth).zip(reach).enumerate())
            .map(|(tile, ((result, depth), reach))| {
                let target = depth.as_ref().and_then(|depth| Some((Target::of(setup, result, depth, tile, 0.0)?, depth)));
                target.map_or([None; 2], |(target, depth)| of_tile(&target, depth, reach, result.effective.thickness_m))
            })
            .collect();
        let middle = |property: usize| {
            let mut known: Vec<f64> = own.iter().filter_map(|powers| powers[property]).collect();
            known.order_by(f64::total_cmp);
            known.get(known.len() / 2).copied()
        };
        let [heating, thickness] = [middle(0)?, middle(1)?];
        let by_tile = own.iter().map(|powers| {
            let heats = powers[0].unwrap_or(heating);
            // A surface in equilibrium knows heating over emissivity alone.
            [heats, -heats, powers[1].unwrap_or(thickness)]
        });
        Some(Powers { by_tile: by_tile.collect() })
    }
}

/// The power of the heating and of the thickness: how the rise that stands became the one to meet.
fn of_tile(target: &Target, depth: &TileDepth, reach: &Reach, own_m: f64) -> [Option<f64>; 2] {
    let rises = depth.entries.iter().flat_map(|entry| {
        [entry.bondline, entry.structure].into_iter().zip(target.met_k).map(|(peak, met_k)| {
            let rise_k = peak.temperature_k - target.start_k;
            (rise_k > LEAST_RISE_K).then(|| (met_k - target.start_k) / rise_k)
        })
    });
    let grown = rises.flatten().filter(|grown| *grown > 0.0).reduce(f64::min);
    let power = |factor: f64, sign: f64| {
        let power = libm::log(grown?) / libm::log(factor);
        let believed = libm::log(factor).abs() > NEAR && (POWERS.0..=POWERS.1).contains(&(sign * power));
        believed.then_some(power)
    };
    let left = reach.spare_m.map(|spare_m| (own_m - spare_m) / own_m).filter(|left| *left > 0.0);
    [reach.heating_factor.and_then(|factor| power(factor, 1.0)), left.and_then(|left| power(left, -1.0))]
}

/// A state that stands, to guess from.
#[derive(Debug, Clone, Copy)]
pub struct Stood<'a> {
    pub prepared: &'a Prepared,
    /// The full answers, by tile.
    pub depth: &'a [Option<TileDepth>],
    pub powers: &'a Powers,
}

/// A guess for every tile under `now`, `None` for one of which more changed than a guess can follow. `terms` are the policy's, the same in both. No guess
/// at all (`None`) where the two differ in more than their tiles.
pub fn guesses(stood: &Stood, now: &Prepared, terms: &[Term]) -> Option<Vec<Option<TileDepth>>> {
    let comparable = now.differs_in_tiles_alone(stood.prepared) && stood.depth.len() == now.tiles.len();
    comparable.then(|| (0..stood.depth.len()).map(|tile| guess(stood, now, tile, terms)).collect())
}

/// The factors on the properties between two states of a tile; `None` where something else changed.
fn factors(before: &Prepared, now: &Prepared, tile: usize) -> Option<[f64; PROPERTIES]> {
    let (old, new) = (before.tiles.get(tile)?, now.tiles.get(tile)?);
    let made_alike = (old.material, old.coating, old.stack, old.density_kg_m3) == (new.material, new.coating, new.stack, new.density_kg_m3);
    let placed_alike = Local { multiplier: new.local.multiplier, ..old.local } == new.local;
    let emissivity = |at_k: f64| {
        let of = |prepared: &Prepared, index: usize| Some(prepared.emissivities.get(index)?.value_at(at_k));
        Some(of(now, new.emissivity)? / of(before, old.emissivity)?)
    };
    let [cool, hot] = COMPARED_K.map(emissivity);
    let found = [new.local.multiplier / old.local.multiplier, (cool? * hot?).sqrt(), new.thickness_m / old.thickness_m];
    (made_alike && placed_alike && found.iter().all(|factor| (FACTORS.0..=FACTORS.1).contains(factor))).then_some(found)
}

fn guess(stood: &Stood, now: &Prepared, tile: usize, terms: &[Term]) -> Option<TileDepth> {
    let depth = stood.depth.get(tile)?.as_ref()?;
    if depth.entries.is_empty() {
        return Some(TileDepth::default());
    }
    let factors = factors(stood.prepared, now, tile)?;
    let powers = stood.powers.by_tile.get(tile)?;
    // Glue line and structure start alike.
    let starts_k = [stood.prepared.start_of(tile).1, now.start_of(tile).1];
    let entries = depth.entries.iter().map(|entry| {
        let growth = [1, 2].map(|layer| {
            let grown = (0..PROPERTIES).filter(|property| factors[*property] != 1.0).map(|property| {
                let own = power_of_term(entry, terms, property, layer, starts_k[0]);
                own.unwrap_or(powers[property]) * libm::log(factors[property])
            });
            libm::exp(grown.sum::<f64>().clamp(-MOST_GROWTH, MOST_GROWTH))
        });
        moved(entry, growth, starts_k)
    });
    Some(TileDepth { entries: entries.collect() })
}

/// The power that the policy's own term on a property gives, where it has one.
fn power_of_term(entry: &EntryDepth, terms: &[Term], property: usize, layer: usize, start_k: f64) -> Option<f64> {
    let factor = |term: &Term| {
        let own = Variation::of(term);
        [own.heating, own.emissivity, own.thickness][property]
    };
    let (place, term) = terms.iter().enumerate().find(|(_, term)| factor(term) != 1.0)?;
    let stands_k = [entry.face, entry.bondline, entry.structure][layer].temperature_k;
    let (rise, shifted) = (stands_k - start_k, entry.terms.get(place)?[layer] - start_k);
    (rise > LEAST_RISE_K && shifted > LEAST_RISE_K).then(|| libm::log(shifted / rise) / libm::log(factor(term)))
}

/// One entry with its rises of glue line and structure grown; the face is the surface's to tell and stays.
fn moved(entry: &EntryDepth, growth: [f64; 2], [old_k, new_k]: [f64; 2]) -> EntryDepth {
    let grown = |layer: usize, k: f64| new_k + (k - old_k) * growth[layer];
    let peak = |layer: usize, peak: TilePeak| TilePeak { temperature_k: grown(layer, peak.temperature_k), ..peak };
    let course = |layer: usize| entry.course_k[layer].iter().map(|k| grown(layer, *k)).collect();
    EntryDepth {
        bondline: peak(0, entry.bondline),
        structure: peak(1, entry.structure),
        structure_at_touchdown_k: grown(1, entry.structure_at_touchdown_k),
        numerical_error_k: f64::INFINITY,
        terms: entry.terms.iter().map(|[face, glue, structure]| [*face, grown(0, *glue), grown(1, *structure)]).collect(),
        course_k: [course(0), course(1)],
        ..*entry
    }
}
