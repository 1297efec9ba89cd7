//! From the layout to parts: every tile with its number, face, zone, material, thickness and history.
//!
//! Density is the material's handbook value with a spread of 2 per cent, as a weighing of each fired part would give it. Gaps are 1.3 mm,
//! each side of each tile off by up to 0.15 mm. Hot structure has invented thicknesses by panel.
//!
//! A tile's thickness is its drawing's, as made within 0.2 mm. The drawings come out of the program's own sizing: assets/demo_thickness.bin, half a
//! millimetre a count and one byte a tile in their order, written by `write_the_thicknesses` of `tests/demonstration.rs`, where margin and
//! entries stand that it was sized for; left and right have the thicker of both. Invented on top: the spares (`SPARE`).

use super::chance::{between, unit};
use super::face::{Face, face};
use super::fin::Surface;
use super::layout::{Blank, Opening, Region, lay_out};
use super::shape::mirror;
use crate::document::Sorting as _;
use glam::DVec3;
use std::collections::BTreeSet;

const GAP_SEED: u64 = 11;
const DENSITY_SEED: u64 = 12;
const HISTORY_SEED: u64 = 13;
const THICKNESS_SEED: u64 = 14;
/// Half millimetres on the drawing, one byte a tile; 0 for hot structure.
const DRAWN: &[u8] = include_bytes!("../../../assets/demo_thickness.bin");
/// On the drawing where the file is of another layout, mm; whole until the file is written anew.
const UNDRAWN_MM: f64 = 40.0;
/// How far a tile as made is off its drawing, mm.
const MADE_MM: f64 = 0.2;
/// Of the tiles fitted before the third flight a few came from the spares of an older drawing: the chance of a tile, and how thin those are.
const SPARE: [f64; 2] = [0.004, 0.88];
/// Half of a gap and its spread, m.
const HALF_GAP_M: [f64; 2] = [0.00065, 0.00015];

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    Left,
    Middle,
    Right,
}

/// One tile as it stands in the vehicle's table, or a piece of plain surface (`tile` is empty).
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    pub tile: String,
    pub face: Face,
    pub region: Region,
    pub side: Side,
    pub zone: String,
    pub material: &'static str,
    pub coating: &'static str,
    pub stack: &'static str,
    pub thickness_mm: f64,
    pub density_kg_m3: f64,
    pub part: String,
    pub serial: String,
    pub installed_flight: u32,
    /// The flight after which it was last waterproofed; none for a hot structure.
    pub waterproofed: Option<u32>,
}

impl Part {
    /// Centre of the corners, m.
    pub fn centre(&self) -> DVec3 {
        self.face.corners.iter().sum::<DVec3>() / self.face.corners.len().max(1) as f64
    }

    /// Area-weighted outward normal, of length twice the area, m2.
    pub fn area_vector(&self) -> DVec3 {
        let point = |i: u32| self.face.positions[i as usize];
        self.face.triangles.iter().map(|t| (point(t[1]) - point(t[0])).cross(point(t[2]) - point(t[0]))).sum()
    }

    pub fn area_m2(&self) -> f64 {
        let point = |i: u32| self.face.positions[i as usize];
        self.face.triangles.iter().map(|t| 0.5 * (point(t[1]) - point(t[0])).cross(point(t[2]) - point(t[0])).length()).sum()
    }
}

/// All tiles in the order of their numbers, and the plain surface.
pub struct Parts {
    pub tiles: Vec<Part>,
    pub plain: Vec<Part>,
}

/// Builds the whole vehicle.
pub fn build() -> Parts {
    let layout = lay_out();
    let mut placed: Vec<((usize, usize, f64), Part)> = Vec::new();
    let mut plain = Vec::new();
    let mut openings: Vec<DVec3> = Vec::new();
    for (key, blank) in layout.blanks.iter().enumerate() {
        let flush = blank.region == Region::Structure;
        let gaps: Vec<f64> = (0..blank.polygon.len()).map(|side| if flush { 0.0 } else { half_gap_m(blank, key, side) }).collect();
        let right = face(&layout.vehicle, blank.surface, &blank.polygon, &gaps);
        let mut make = |face: Face, side: Side, open: bool| {
            let part = describe(blank, face, side);
            if open || flush {
                if !flush {
                    openings.push(part.centre());
                }
                plain.push(part);
            } else {
                placed.push((order(blank, side), part));
            }
        };
        if blank.astride {
            make(right, Side::Middle, blank.opening == Opening::Both);
        } else {
            make(mirrored(&right), Side::Left, blank.opening != Opening::No);
            make(right, Side::Right, blank.opening == Opening::Both);
        }
    }
    placed.order_by(|a, b| a.0.0.cmp(&b.0.0).then(a.0.1.cmp(&b.0.1)).then(a.0.2.total_cmp(&b.0.2)));
    let mut tiles: Vec<Part> = placed.into_iter().map(|(_, part)| part).collect();
    let mut taken = BTreeSet::new();
    for (i, tile) in tiles.iter_mut().enumerate() {
        let centre = tile.centre();
        if tile.material != "RCC" && openings.iter().any(|opening| opening.distance(centre) < 0.29) {
            tile.material = "FRCI-12";
        }
        number(tile, i as u64);
        // No two tiles share thickness and density, so that none is the same part as another, whatever their outlines.
        let key = |tile: &Part| ((tile.thickness_mm * 10.0).round() as i64, (tile.density_kg_m3 * 10.0).round() as i64);
        while !taken.insert(key(tile)) {
            tile.density_kg_m3 = ((tile.density_kg_m3 * 10.0).round() + 1.0) / 10.0;
        }
    }
    Parts { tiles, plain }
}

/// The half gap of one side. Tiles astride of the plane of symmetry are symmetric themselves.
fn half_gap_m(blank: &Blank, key: usize, side: usize) -> f64 {
    let side = if blank.astride && blank.polygon.len() == 4 && side == 2 { 0 } else { side };
    let side = if blank.astride && blank.polygon.len() > 4 { 0 } else { side };
    HALF_GAP_M[0] + HALF_GAP_M[1] * between(-1.0, 1.0, GAP_SEED, (key * 8 + side) as u64)
}

fn mirrored(right: &Face) -> Face {
    Face {
        positions: right.positions.iter().map(|p| mirror(*p)).collect(),
        triangles: right.triangles.iter().map(|t| [t[0], t[2], t[1]]).collect(),
        corners: right.corners.iter().rev().map(|p| mirror(*p)).collect(),
    }
}

/// Body and flaps by row from left to right over the keel, then the left fin, then the right.
fn order(blank: &Blank, side: Side) -> (usize, usize, f64) {
    use Region::*;
    let sign = if side == Side::Left { -1.0 } else { 1.0 };
    match blank.region {
        FinEdge | FinTip | FinOuter | FinInner | ElevonOuter | ElevonInner => {
            (if side == Side::Left { 1 } else { 2 }, blank.row, blank.along)
        }
        // A tile astride of the crest counts to the right.
        _ => (0, blank.row, sign * blank.along),
    }
}

/// Fills in what follows from a tile's place in the table.
fn number(tile: &mut Part, i: u64) {
    tile.tile = format!("{:04}", i + 1);
    let handbook = match tile.material {
        "RCC" => 1580.0,
        "LI-2200" => 352.0,
        "FRCI-12" => 192.0,
        _ => 144.2,
    };
    tile.density_kg_m3 = (handbook * between(0.98, 1.02, DENSITY_SEED, i) * 10.0).round() / 10.0;
    let chance = unit(HISTORY_SEED, i);
    if tile.material != "RCC" {
        tile.thickness_mm = thickness_mm(i, chance < SPARE[0]);
    }
    tile.installed_flight = if chance < 0.02 {
        3
    } else if chance < 0.07 {
        2
    } else {
        1
    };
    tile.waterproofed = match tile.material {
        "RCC" => None,
        _ if tile.installed_flight == 1 && chance > 0.99 => Some(1),
        _ => Some(2),
    };
    tile.part = format!("WB-{}-{}", tile.tile, tile.installed_flight);
    tile.serial = format!("{}{:02}-{}", tile.installed_flight, 10 + i % 37, tile.tile);
}

/// As made, to 0.1 mm.
fn thickness_mm(i: u64, spare: bool) -> f64 {
    let drawn_mm = DRAWN.get(i as usize).map_or(UNDRAWN_MM, |halves| 0.5 * f64::from(*halves));
    let made_mm = drawn_mm * if spare { SPARE[1] } else { 1.0 } + between(-MADE_MM, MADE_MM, THICKNESS_SEED, i);
    (made_mm * 10.0).round() / 10.0
}

/// The invented thickness of hot structure, mm, to 0.1 mm.
fn hot_mm(region: Region, centre: DVec3, normal: DVec3) -> f64 {
    let mm = match region {
        Region::FinEdge => 9.6 - 0.8 * (centre.z - 0.3),
        Region::FinTip => 8.2 + 0.4 * (centre.x - 11.5),
        _ => 11.0 - 4.0 * centre.x - 0.9 * normal.z,
    };
    (mm * 10.0).round() / 10.0
}

fn describe(blank: &Blank, face: Face, side: Side) -> Part {
    use Region::*;
    let mut part = Part {
        tile: String::new(),
        face,
        region: blank.region,
        side,
        zone: String::new(),
        material: "LI-900",
        coating: if blank.white { "white-silica" } else { "rcg" },
        stack: "default",
        thickness_mm: 0.0,
        density_kg_m3: 0.0,
        part: String::new(),
        serial: String::new(),
        installed_flight: 1,
        waterproofed: None,
    };
    let (centre, normal) = (part.centre(), part.area_vector().normalize_or_zero());
    let hand = match side {
        Side::Left => "left ",
        Side::Middle => "",
        Side::Right => "right ",
    };
    let name = match blank.region {
        NoseCap => return hot(part, "nose cap".into(), hot_mm(NoseCap, centre, normal)),
        FinEdge | FinTip => {
            let zone = format!("{hand}fin {}", if blank.region == FinEdge { "leading edge" } else { "tip" });
            return hot(part, zone, hot_mm(blank.region, centre, normal));
        }
        Structure => return part,
        Nose => "nose".into(),
        Belly if centre.x < 4.2 => "belly forward".into(),
        Belly if centre.x < 8.4 => "belly centre".into(),
        Belly => "belly aft".into(),
        Chine => format!("{hand}chine"),
        Upper if normal.z < 0.62 => format!("{hand}side"),
        Upper => "lee".into(),
        FlapLower | FlapUpper => format!("{hand}body flap"),
        FinOuter => format!("{hand}fin outer"),
        FinInner => format!("{hand}fin inner"),
        ElevonOuter | ElevonInner => format!("{hand}elevon"),
    };
    part.zone = name;
    let edge = matches!(blank.surface, Surface::FlapLower | Surface::FlapUpper) && blank.polygon.iter().any(|p| p[0] > 0.99 || p[1] > 0.99);
    let behind_edge = matches!(blank.region, FinOuter | FinInner) && blank.polygon.iter().any(|p| p[0] < 0.01);
    part.material = match blank.region {
        Nose if centre.x < 0.85 => "LI-2200",
        FlapLower if edge => "LI-2200",
        Nose | Chine | FlapLower => "FRCI-12",
        _ if behind_edge || edge => "FRCI-12",
        _ => "LI-900",
    };
    if matches!(blank.region, FinOuter | FinInner | ElevonOuter | ElevonInner) {
        part.stack = "fin";
    }
    part
}

fn hot(mut part: Part, zone: String, thickness_mm: f64) -> Part {
    (part.material, part.coating, part.stack) = ("RCC", "none", "none");
    (part.zone, part.thickness_mm) = (zone, thickness_mm);
    part
}
