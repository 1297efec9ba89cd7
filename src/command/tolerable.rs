//! What every tile tolerates, on all processors, with progress on a terminal.

use super::damage::bar;
use crate::assess::Assessment;
use crate::assess::depth::Setup;
use crate::assess::tolerable::{Asked, Method, Sizes, bound, solved};
use crate::document::json::Range;
use crate::document::{Error, Problems};
use crate::report::tolerable::tolerable_csv;
use crate::units::{Kind, parse_option};
use rayon::prelude::*;

/// What the option says: `LENGTH,DEPTH`, each bare metres or with a unit.
///
/// # Errors
/// Bad input that names the option.
pub fn asked(text: &str) -> Result<Asked, Error> {
    let accepted = "a length and a depth, parted by a comma: 50mm,10mm";
    let Some((length, depth)) = text.split_once(',') else {
        return Err(Error::bad(format!("--tolerable {text:?} is not two sizes"), accepted));
    };
    let mut problems = Problems::default();
    let mut read = |text: &str| {
        let size = parse_option("--tolerable", text.trim(), Kind::Length, Range::above_to(0.0, 10.0));
        size.unwrap_or_else(|error| {
            problems.list.extend(error.problems);
            1.0
        })
    };
    let asked = Asked { length_mm: 1e3 * read(length), depth_mm: 1e3 * read(depth) };
    problems.or_ok(asked)
}

/// The text of tolerable.csv: the bound of every tile, and with `by_bound` no more than that; else each tile that it leaves open by radius and
/// depth.
pub fn table(setup: &Setup, assessment: &Assessment, asked: Asked, by_bound: bool) -> String {
    let (shield, scenario, prepared) = (setup.shield, setup.scenario, setup.prepared);
    let effects = &*prepared.effects;
    let mut sizes = super::depth::sliced(shield.tiles.len(), |tiles| bound::solve(setup, assessment, effects, asked, tiles));
    let mut failed = Vec::new();
    if !by_bound {
        let open = |sizes: &Option<Sizes>| sizes.is_some_and(|sizes| sizes.iter().any(|size| size.method == Method::Bound));
        let open: Vec<usize> = (0..sizes.len()).filter(|tile| open(&sizes[*tile])).collect();
        let bar = bar(open.len(), "tolerable cavities");
        let one = |tile: &usize| {
            let (result, bound) = (assessment.tiles.get(*tile)?, sizes.get(*tile).copied().flatten()?);
            let from = solved::Basis { shield, scenario, prepared, effects, result };
            let answer = solved::solve(from, asked, *tile, &bound);
            bar.inc(1);
            Some((*tile, answer))
        };
        let answers: Vec<_> = open.par_iter().filter_map(one).collect();
        bar.finish_and_clear();
        for (tile, answer) in answers {
            match answer {
                Ok(answer) => sizes[tile] = Some(answer),
                // The bound stands, and why there is no more.
                Err(error) => failed.push((tile, error.to_string())),
            }
        }
    }
    tolerable_csv(shield, assessment, asked, &sizes, &failed)
}
