//! Every tile in depth on all processors: slices of tiles, whose bytes do not depend on how they are cut.

use crate::assess::depth::{Setup, TileDepth};
use rayon::prelude::*;

/// Tiles a slice: lanes stay full, and a slice is short against the whole.
const SLICE: usize = 64;

/// The whole shield, in the order of its tiles.
pub fn solve(setup: &Setup) -> Vec<Option<TileDepth>> {
    sliced(setup.shield.tiles.len(), |tiles| setup.solve(tiles)).into_iter().map(Some).collect()
}

/// `work` for every tile below `count`, slice by slice.
pub fn sliced<T: Send>(count: usize, work: impl Fn(&[usize]) -> Vec<T> + Sync + Send) -> Vec<T> {
    let tiles: Vec<usize> = (0..count).collect();
    tiles.par_chunks(SLICE).map(work).collect::<Vec<_>>().into_iter().flatten().collect()
}
