//! What a tile tolerates by the full-area bound, by the one-dimensional solver of the whole shield (`depth`): thinned as a whole, all its face bare.
//!
//! Peaks may rise, over those of the tile by itself, by what its margins are after the policy. The factor that counts is the larger of
//! laminar and turbulent over the whole entry. Any slicing gives the same bytes.

use super::search::{Ask, Quest, Search, Settling};
use super::{Asked, Method, Question, Size, Sizes, WITHIN_MM, answerable};
use crate::assess::depth::{Case, End, Posed, Setup, Variation, peaks_k};
use crate::assess::effects::Effects;
use crate::assess::{Assessment, TileResult};
use std::rc::Rc;

/// What surface, glue line and structure may reach, K: infinite where there is no limit.
struct Reach([f64; 3]);

impl Reach {
    fn of(setup: &Setup, result: &TileResult) -> Reach {
        let alone = [result.face, result.bondline_isolated, result.structure_isolated].map(|peak| peak.map(|peak| peak.temperature_k));
        let margins = [result.margin_surface_k, result.margin_bondline_k, result.margin_structure_k];
        let mut met = [0, 1, 2].map(|layer| match (alone[layer], margins[layer]) {
            (Some(peak_k), Some(margin_k)) => peak_k + margin_k,
            _ => f64::INFINITY,
        });
        // The coating is gone, and with it a limit that was lower than the tile's.
        let bare = crate::assess::Effective { coating: None, ..result.effective };
        let bare = crate::assess::limits::surface(&setup.shield.library, &bare, setup.scenario.policy.limits);
        met[0] += bare.zip(result.limit_surface_k).map_or(0.0, |(bare, limit)| bare.kelvin - limit);
        Reach(met)
    }

    fn left_k(&self, peaks_k: [f64; 3]) -> f64 {
        self.0.iter().zip(peaks_k).map(|(met, peak)| met - peak).fold(f64::INFINITY, f64::min)
    }
}

/// Who asks: the tile's place in the slice, and which of its sizes.
struct Asker<'a> {
    place: usize,
    which: usize,
    tile: usize,
    own: Rc<(Question<'a>, Reach)>,
}

impl Asker<'_> {
    fn case(&self, effects: &Effects, ask: &Ask) -> Case<'static> {
        let question = &self.own.0;
        let most = question.most(effects, self.which, ask.size_mm);
        let (_, depth_mm) = question.shape_mm(self.which, ask.size_mm);
        let variation = Variation {
            heating: most.laminar.max(most.turbulent),
            emissivity: most.emissivity / question.face.emissivity,
            thickness: (question.thickness_mm - depth_mm) / question.thickness_mm,
            ..Variation::default()
        };
        Case { tile: self.tile, variation, exchange: None }
    }
}

/// The sizes of `tiles`, whose results stand whole; `None` for a tile without an answer in depth.
pub fn solve(setup: &Setup, assessment: &Assessment, effects: &Effects, asked: Asked, tiles: &[usize]) -> Vec<Option<Sizes>> {
    let mut out: Vec<Option<Sizes>> = vec![None; tiles.len()];
    let (mut quests, mut places) = (Vec::new(), Vec::new());
    for (place, tile) in tiles.iter().enumerate() {
        let Some(result) = answerable(assessment, *tile) else { continue };
        let Some(question) = Question::of(setup.shield, setup.prepared, effects, result, asked, *tile) else { continue };
        out[place] = Some(Sizes::default());
        if result.margin_k.is_some_and(|margin_k| margin_k < 0.0) {
            continue;
        }
        let own = Rc::new((question, Reach::of(setup, result)));
        for which in [0, 1] {
            if own.0.is_too_thin(which) {
                if let Some(sizes) = &mut out[place] {
                    sizes[which].method = Method::TooThin;
                }
                continue;
            }
            let search = Search::new(&own.0.ends_mm[which], WITHIN_MM[which], 0.0);
            let governing = result.governing_entry.into_iter();
            quests.push(Quest::new(search, governing.chain(result.layer_entries)));
            places.push(Asker { place, which, tile: *tile, own: own.clone() });
        }
    }
    let entries = setup.prepared.flights.len();
    let posed = Posed::new(setup, tiles);
    let mut settling = Settling::new(quests, entries);
    loop {
        let asks = settling.round();
        if asks.is_empty() {
            break;
        }
        let mut left_k = vec![f64::NAN; asks.len()];
        for entry in 0..entries {
            let here: Vec<usize> = (0..asks.len()).filter(|i| asks[*i].entry == entry).collect();
            let cases: Vec<Case> = here.iter().map(|i| places[asks[*i].quest].case(effects, &asks[*i])).collect();
            for (i, solved) in here.iter().zip(posed.full(entry, &cases)) {
                // A structure that still rises at the limit of time has no peak to go by.
                if matches!(solved.result.end, End::Peaked | End::Steady) {
                    left_k[*i] = places[asks[*i].quest].own.1.left_k(peaks_k(&solved));
                }
            }
        }
        settling.meet(&asks, &left_k);
    }
    for (asker, tolerated) in places.iter().zip(settling.found()) {
        if let Some(sizes) = &mut out[asker.place] {
            let method = if tolerated.fails_at_mm.is_none() { Method::Largest } else { Method::Bound };
            sizes[asker.which] = Size { tolerated, method };
        }
    }
    out
}
