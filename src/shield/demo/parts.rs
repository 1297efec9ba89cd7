//! From the layout to parts: every tile with its number, face, zone, material, thickness and history.
//!
//! Thickness and density are invented. Thickness follows one smooth rule of place (`thickness_mm`), meant to be replaced by the
//! demonstration's own sizing; density is the material's handbook value with a spread of 2 per cent, as a weighing of each
//! fired part would give it. Gaps are 1.3 mm, each side of each tile off by up to 0.15 mm.

use super::chance::{between, unit};
use super::face::{Face, face};
use super::fin::{Surface, Vehicle};
use super::layout::{Blank, Layout, Opening, Region, lay_out};
use super::shape::{LENGTH_M, Sector, mirror};
use crate::document::Sorting as _;
use glam::DVec3;
use std::collections::BTreeSet;

const GAP_SEED: u64 = 11;
const DENSITY_SEED: u64 = 12;
const HISTORY_SEED: u64 = 13;
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
            let part = describe(&layout, blank, face, side);
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

fn smooth(x: f64, from: f64, to: f64) -> f64 {
    let u = ((x - from) / (to - from)).clamp(0.0, 1.0);
    u * u * (3.0 - 2.0 * u)
}

/// Distance from a place to the chine line at its station; far where there is none.
fn from_chine_m(vehicle: &Vehicle, centre: DVec3) -> f64 {
    let q = (centre.x.max(0.0) / LENGTH_M).sqrt();
    if centre.x < 0.9 { 9.0 } else { vehicle.body.at(Sector::ChineHigh, q, 0.0).distance(DVec3::new(centre.x, centre.y.abs(), centre.z)) }
}

/// The invented thickness rule, mm, to 0.1 mm. Hot structure by panel; tiles: thick where the surface faces the flow, thicker toward
/// the nose and along the chine, thin on the lee side, thickest on the lower face of the flaps.
fn thickness_mm(vehicle: &Vehicle, region: Region, white: bool, centre: DVec3, normal: DVec3) -> f64 {
    let facing = smooth(-normal.z, -0.75, 0.8);
    let aft = smooth(centre.x, 0.0, 12.0);
    let mm = match region {
        Region::NoseCap => 11.0 - 4.0 * centre.x - 0.9 * normal.z,
        Region::FinEdge => 9.6 - 0.8 * (centre.z - 0.3),
        Region::FinTip => 8.2 + 0.4 * (centre.x - 11.5),
        Region::FlapLower => 66.0 + 9.0 * (centre.x - 12.3) - 3.0 * centre.y.abs(),
        Region::FlapUpper => 31.0 + 4.0 * (centre.x - 12.3) - 1.5 * centre.y.abs(),
        Region::FinOuter | Region::ElevonOuter => {
            39.0 - 4.0 * (centre.z - 0.3) - 2.5 * (centre.x - 11.0) + if region == Region::ElevonOuter { 6.0 } else { 0.0 }
        }
        Region::FinInner | Region::ElevonInner if white => 13.5 - 1.2 * (centre.z - 0.3) - 1.0 * (centre.x - 11.0),
        Region::FinInner | Region::ElevonInner => 27.0 - 2.5 * (centre.z - 0.3) - 2.0 * (centre.x - 11.0),
        _ => {
            let chine = from_chine_m(vehicle, centre);
            let base = 8.6 + (44.0 - 11.0 * aft) * facing;
            base + 17.0 * (1.0 - 0.35 * aft) / (1.0 + chine * chine * 9.0) * (0.3 + 0.7 * facing) + 22.0 * libm::exp(-centre.x / 0.8)
        }
    };
    (mm * 10.0).round() / 10.0
}

fn describe(layout: &Layout, blank: &Blank, face: Face, side: Side) -> Part {
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
        NoseCap => return hot(part, "nose cap".into(), thickness_mm(&layout.vehicle, NoseCap, false, centre, normal)),
        FinEdge | FinTip => {
            let zone = format!("{hand}fin {}", if blank.region == FinEdge { "leading edge" } else { "tip" });
            return hot(part, zone, thickness_mm(&layout.vehicle, blank.region, false, centre, normal));
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
    part.thickness_mm = thickness_mm(&layout.vehicle, blank.region, blank.white, centre, normal);
    part
}

fn hot(mut part: Part, zone: String, thickness_mm: f64) -> Part {
    (part.material, part.coating, part.stack) = ("RCC", "none", "none");
    (part.zone, part.thickness_mm) = (zone, thickness_mm);
    part
}
