//! The deepest and the longest cavity that a tile could tolerate: what debris and orbital impacts may take before a margin is gone.
//!
//! | file | idea |
//! | --- | --- |
//! | `search` | the largest size that holds together with every smaller one |
//! | `bound` | by the full-area bound, many tiles at once, in the time of a few assessments |
//! | `solved` | by radius and depth, one tile at a time |
//!
//! A cavity is asked as one of kind [`KIND`], round, at a named length for the deepest and at a named depth for the longest. It keeps the
//! tile's margin if surface, glue line and structure keep theirs after the policy, less what the cavity takes (`present::left`), in every
//! entry. The full-area bound is the tile thinned as a whole under the larger of floor, wall and face factors, all its face bare: what it
//! tolerates, the cavity does too.

pub mod bound;
mod search;
pub mod solved;

pub use crate::scenario::Cavity as Asked;
pub use search::Tolerated;

use super::effects::Effects;
use super::prepare::Prepared;
use super::skin::{Face, Skin, rows};
use super::{Assessment, InDepth, TileResult};
use crate::document::Sorting as _;
use crate::shield::Shield;

/// The kind whose rows count.
pub const KIND: &str = "impact-cavity";
/// Brackets of depths and of lengths are closed to this, mm.
pub const WITHIN_MM: [f64; 2] = [0.5, 1.0];
/// Least that is left of a tile, mm.
const LEFT_MM: f64 = 1.0;

/// Where an answer comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Method {
    /// The tile is short of a margin without any cavity.
    #[default]
    Short,
    /// Nothing so deep fits the tile.
    TooThin,
    /// Even the bound holds at the largest that fits, so that nothing is left to ask.
    Largest,
    /// At least so much, by the full-area bound.
    Bound,
    /// By radius and depth.
    Solved,
}

impl Method {
    /// The word of the table.
    pub fn word(self) -> &'static str {
        match self {
            Method::Short => "short-without-any",
            Method::TooThin => "tile-too-thin",
            Method::Largest => "largest-that-fits",
            Method::Bound => "full-area-bound",
            Method::Solved => "axisymmetric",
        }
    }
}

/// One size.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Size {
    pub tolerated: Tolerated,
    pub method: Method,
}

impl Size {
    /// The size, mm; `None` where no cavity as asked fits the tile.
    pub fn known_mm(&self) -> Option<f64> {
        (self.method != Method::TooThin).then_some(self.tolerated.size_mm)
    }
}

/// The deepest and the longest cavity of a tile.
pub type Sizes = [Size; 2];

/// A tile's own question: which sizes fit it, where the rows change, and which of its parts can lose how much.
struct Question<'a> {
    face: Face<'a>,
    thickness_mm: f64,
    /// The named length, no longer than the tile.
    length_mm: f64,
    depth_mm: f64,
    ends_mm: [Vec<f64>; 2],
}

/// Sizes at which the table's rows change, and the largest, rising.
fn ends(effects: &Effects, largest_mm: f64, within_mm: f64, size_of: impl Fn(f64) -> f64) -> Vec<f64> {
    let bounds = effects.rows.iter().filter_map(|row| row.length_over_depth).flatten();
    let mut ends: Vec<f64> = bounds.map(size_of).filter(|size| *size > within_mm && *size < largest_mm).collect();
    ends.push(largest_mm);
    ends.order_by(f64::total_cmp);
    ends.dedup();
    ends
}

impl<'a> Question<'a> {
    fn of(shield: &'a Shield, prepared: &Prepared, effects: &Effects, result: &TileResult, asked: Asked, tile: usize) -> Option<Self> {
        let (row, effective) = (shield.tiles.get(tile)?, prepared.tiles.get(tile)?);
        let hottest_k = result.surface.temperature_k.max(prepared.start_of(tile).0);
        let thickness_mm = 1e3 * effective.thickness_m;
        let side_mm = 1e3 * row.largest_side_m;
        let length_mm = asked.length_mm.min(side_mm);
        let deepest_mm = (thickness_mm - LEFT_MM).max(0.0);
        let depths = ends(effects, deepest_mm, WITHIN_MM[0], |ratio| length_mm / ratio.max(1e-9));
        let lengths = ends(effects, side_mm, WITHIN_MM[1], |ratio| asked.depth_mm * ratio);
        Some(Question {
            face: Face {
                material: shield.library.materials.get(effective.material),
                emissivity: prepared.emissivities.get(effective.emissivity).map_or(0.85, |emissivity| emissivity.value_at(hottest_k)),
                hottest_k,
                catalycity: effective.local.catalycity,
            },
            thickness_mm,
            length_mm,
            depth_mm: asked.depth_mm,
            ends_mm: [depths, lengths],
        })
    }

    /// Length and depth of the cavity of a size, mm; `which` is 0 for depths, 1 for lengths.
    fn shape_mm(&self, which: usize, size_mm: f64) -> (f64, f64) {
        if which == 0 { (self.length_mm, size_mm) } else { (size_mm, self.depth_mm) }
    }

    /// What the whole face meets in the bound.
    fn most(&self, effects: &Effects, which: usize, size_mm: f64) -> Skin {
        let (length_mm, depth_mm) = self.shape_mm(which, size_mm);
        let (floor, wall) = self.face.skins(&rows(effects, KIND, length_mm / depth_mm));
        Skin::most(floor, wall, self.face.emissivity)
    }

    fn is_too_thin(&self, which: usize) -> bool {
        let room_mm = self.thickness_mm - LEFT_MM;
        room_mm <= 0.0 || which == 1 && self.depth_mm > room_mm
    }
}

/// A tile of which cavities can be asked at all: solved in depth. The others have no row.
fn answerable(assessment: &Assessment, tile: usize) -> Option<&TileResult> {
    assessment.tiles.get(tile).filter(|result| result.in_depth == InDepth::Solved && result.margin_k.is_some())
}
