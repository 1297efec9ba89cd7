//! What the inspections after the first two flights noted, invented: damage that was mended since, and findings of the third that had begun.
//!
//! A mended one carries its signed decision and no longer stands. One that was left to watch stands again after the third flight, a little
//! larger: its growth is what the rules look at.

use super::chance::unit;
use super::findings::{Note, behind, likely, spread};
use super::parts::Part;
use crate::document::Sorting as _;

const SEED: u64 = 33;
/// Flight, kind, how many were mended before the next flight.
const MENDED: [(u32, &str, usize); 8] = [
    (1, "chip", 3),
    (1, "gap", 1),
    (1, "lost-filler", 1),
    (2, "chip", 4),
    (2, "gouge", 2),
    (2, "coating-loss", 2),
    (2, "gap", 2),
    (2, "protruding-filler", 1),
];
/// Kind, which of the third flight's of that kind, flight, and what was smaller then by how many mm.
const BEGUN: [(&str, usize, u32, Size, f64); 8] = [
    ("step", usize::MAX, 2, Size::Step, 0.7),
    ("gouge", 0, 1, Size::Depth, 0.7),
    ("gouge", 0, 2, Size::Depth, 0.4),
    ("crack", 0, 2, Size::Length, 9.0),
    ("crack", 1, 1, Size::Length, 3.0),
    ("crack", 1, 2, Size::Length, 1.5),
    ("protruding-filler", 0, 2, Size::Protrusion, 0.3),
    ("coating-loss", 0, 2, Size::Length, 1.5),
];

#[derive(Clone, Copy)]
enum Size {
    Step,
    Depth,
    Length,
    Protrusion,
}

/// The notes of the first two flights, by flight and tile; `third` are those of the third.
pub fn earlier(tiles: &[Part], third: &[Note]) -> Vec<Note> {
    let there = |note: &Note, flight: u32| std::iter::once(note.tile).chain(note.tile_2).all(|tile| tiles[tile].installed_flight <= flight);
    let mut notes: Vec<Note> = Vec::new();
    for (kind, which, flight, size, less) in BEGUN {
        // The joint placed by hand is the one proud by the most.
        let mut of_kind: Vec<&Note> = third.iter().filter(|note| note.kind == kind && there(note, 1)).collect();
        if which == usize::MAX {
            of_kind.order_by(|a, b| b.step.unwrap_or(0.0).total_cmp(&a.step.unwrap_or(0.0)));
        }
        let Some(now) = of_kind.get(if which == usize::MAX { 0 } else { which }) else { continue };
        let mut then = Note { flight, decision: "watch", ..(*now).clone() };
        let field = match size {
            Size::Step => &mut then.step,
            Size::Depth => &mut then.depth,
            Size::Length => &mut then.length,
            Size::Protrusion => &mut then.protrusion,
        };
        *field = field.map(|value| (value - less).max(0.3));
        notes.push(then);
    }
    let mut key = 1000;
    let followed: Vec<bool> = (0..tiles.len()).map(|i| behind(tiles, i).is_some()).collect();
    for (flight, kind, count) in MENDED {
        let pool: Vec<usize> = (0..tiles.len()).filter(|i| likely(kind, &tiles[*i]) && followed[*i]).collect();
        for _ in 0..count {
            key += 1;
            let Some(tile) = pool.get((unit(SEED, key) * pool.len() as f64) as usize).copied() else { continue };
            let note = spread(kind, tile, tiles, key).filter(|note| there(note, flight));
            notes.extend(note.map(|note| Note { flight, decision: "repair-in-place", ..note }));
        }
    }
    notes.order_by_key(|note| (note.flight, note.tile));
    notes
}
