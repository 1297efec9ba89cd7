//! Where the one-dimensional answer leaves something out: small tiles, openings, hot structure and much thicker tiles beside.

use super::prepare::Prepared;
use crate::material::Kind;
use crate::shield::Shield;

/// A neighbour this many times as thick counts as much thicker.
const MUCH_THICKER: f64 = 1.5;
/// A side shorter than so many thicknesses lets heat in from the sides.
const THICKNESSES: f64 = 3.0;
/// A tile that shares less of its outline than this with others borders an opening.
const SHARED: f64 = 0.9;

/// What holds of one tile.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Flags {
    /// The smallest side is less than three thicknesses.
    pub small: bool,
    /// Part of its outline has no tile beside it: a door, a hatch, the shield's edge.
    pub opening: bool,
    pub hot_structure: bool,
    /// A neighbour at least 1.5 times as thick.
    pub thicker: bool,
}

impl Flags {
    pub fn any(self) -> bool {
        self != Flags::default()
    }

    /// One sentence each: what one-dimensional conduction leaves out here.
    pub fn words(self) -> Vec<&'static str> {
        [
            (
                self.small,
                "smallest side below three thicknesses: heat that enters through the gaps' walls is left out, the glue line can be hotter",
            ),
            (self.opening, "beside an opening or the shield's edge: what comes in through its side wall or around the edge is left out"),
            (self.hot_structure, "beside a hot structure: heat conducted and radiated from it is left out, the structure can be hotter"),
            (
                self.thicker,
                "beside a much thicker tile: the step in the structure and the heat through the side of the thicker tile are left out",
            ),
        ]
        .into_iter()
        .filter(|(holds, _)| *holds)
        .map(|(_, words)| words)
        .collect()
    }
}

/// By tile.
pub fn of_all(shield: &Shield, prepared: &Prepared) -> Vec<Flags> {
    let thickness_m = |tile: usize| prepared.tiles.get(tile).map_or(0.0, |tile| tile.thickness_m);
    let is_hot = |tile: usize| {
        let material = prepared.tiles.get(tile).and_then(|tile| shield.library.materials.get(tile.material));
        material.is_some_and(|material| material.kind == Kind::HotStructure)
    };
    let mut shared_m = vec![0.0; shield.tiles.len()];
    for joint in prepared.joints.iter() {
        for tile in [joint.a, joint.b] {
            if let Some(shared) = shared_m.get_mut(tile as usize) {
                *shared += joint.length_m;
            }
        }
    }
    let of_tile = |(tile, (row, shared_m)): (usize, (&crate::shield::Tile, f64))| {
        let beside = || row.neighbours.iter().map(|other| *other as usize);
        let outline = &row.outline;
        let around: f64 = outline.iter().zip(outline.iter().cycle().skip(1)).map(|(from, to)| (*to - *from).length()).sum();
        Flags {
            small: row.smallest_side_m < THICKNESSES * thickness_m(tile),
            opening: shared_m < SHARED * around,
            hot_structure: !is_hot(tile) && beside().any(is_hot),
            thicker: beside().any(|other| thickness_m(other) >= MUCH_THICKER * thickness_m(tile)),
        }
    };
    shield.tiles.iter().zip(shared_m).enumerate().map(of_tile).collect()
}
