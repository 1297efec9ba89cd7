//! An invented inspection after the third flight (and, shorter, after the two before it: `earlier`): what a walk round the vehicle with a light and a feeler gauge would note.
//!
//! Three findings are placed by hand: an impact cavity on the belly and a proud joint forward (the two that matter), and a doubtful
//! bond on a cool lee-side tile (easily missed: nothing on its face shows it). The others are spread by chance over the places where
//! such findings are common practice (their number follows a published average of about 143 damages a flight, 31 of them longer than an inch:
//! CAIB Report vol. 1, 2003, chapter 6; from memory): chips along edges, discoloration aft, fillers at the chine, contamination near the ports.

use super::chance::{between, mix, unit};
use super::earlier::earlier;
use super::layout::Region;
use super::parts::{Part, Side};
use crate::document::Sorting as _;
use crate::document::csv;
use crate::shield::findings::COLUMNS;
use glam::DVec3;

const SEED: u64 = 21;
/// How many findings of each kind chance spreads.
const SPREAD: [(&str, usize); 11] = [
    ("chip", 46),
    ("discoloration", 22),
    ("gouge", 14),
    ("coating-loss", 13),
    ("crack", 11),
    ("step", 10),
    ("gap", 10),
    ("protruding-filler", 8),
    ("lost-filler", 6),
    ("contamination", 6),
    ("slump", 2),
];

/// A finding before it is written; numbers in mm or degrees, `None` an empty cell.
#[derive(Clone, Default)]
pub struct Note {
    pub tile: usize,
    pub tile_2: Option<usize>,
    pub kind: &'static str,
    pub flight: u32,
    /// Empty, or a decision signed before the next flight.
    pub decision: &'static str,
    pub place: Option<[f64; 2]>,
    pub length: Option<f64>,
    pub width: Option<f64>,
    pub depth: Option<f64>,
    pub gap: Option<f64>,
    pub step: Option<f64>,
    pub protrusion: Option<f64>,
    pub orientation: Option<f64>,
    pub method: &'static str,
    pub text: &'static str,
}

/// findings.csv for the demonstration's tiles.
pub fn findings_csv(tiles: &[Part]) -> String {
    let mut notes = by_hand(tiles);
    let mut key = 0;
    for (kind, count) in SPREAD {
        let pool: Vec<usize> = (0..tiles.len()).filter(|i| likely(kind, &tiles[*i])).collect();
        for _ in 0..count {
            key += 1;
            let Some(tile) = pool.get((unit(SEED, key) * pool.len() as f64) as usize).copied() else { continue };
            notes.extend(spread(kind, tile, tiles, key));
        }
    }
    // As the walk goes: by tile.
    notes.order_by_key(|note| note.tile);
    let notes: Vec<Note> = earlier(tiles, &notes).into_iter().chain(notes).collect();
    let rows = notes.iter().enumerate().map(|(i, note)| row(i, note, tiles));
    let guarded: Vec<bool> = COLUMNS.iter().map(|name| !name.ends_with("_mm") && !name.ends_with("_deg") && *name != "flight").collect();
    csv::write(&COLUMNS, rows, &guarded)
}

fn row(i: usize, note: &Note, tiles: &[Part]) -> Vec<String> {
    let number = |value: Option<f64>| value.map_or(String::new(), |v| format!("{v:.1}"));
    let day = 3 + note.tile * 9 / tiles.len().max(1);
    let person = if mix(SEED + 1, note.tile as u64).is_multiple_of(2) { "inspector A" } else { "inspector B" };
    let tile = &tiles[note.tile];
    let flight = if note.flight == 0 { 3 } else { note.flight };
    // The walks after each flight, and the day on which what was found is decided.
    let (month, decided) = [("2030-06", "2030-06-20"), ("2030-11", "2030-11-19"), ("2031-05", "")][flight.clamp(1, 3) as usize - 1];
    let signed = |text: &str| if note.decision.is_empty() { String::new() } else { text.to_string() };
    vec![
        format!("F{:03}", i + 1),
        tile.tile.clone(),
        note.tile_2.map_or(String::new(), |t| tiles[t].tile.clone()),
        note.kind.to_string(),
        number(note.place.map(|p| p[0])),
        number(note.place.map(|p| p[1])),
        number(note.length),
        number(note.width),
        number(note.depth),
        number(note.gap),
        number(note.step),
        number(note.protrusion),
        number(note.orientation),
        format!("{month}-{day:02}"),
        flight.to_string(),
        person.to_string(),
        note.method.to_string(),
        String::new(),
        note.text.to_string(),
        note.decision.to_string(),
        signed("engineer C"),
        signed(decided),
        String::new(),
    ]
}

/// The tile of a region whose centre is nearest to a place.
fn nearest(tiles: &[Part], region: Region, side: Side, place: DVec3) -> usize {
    let of = |i: &usize| tiles[*i].region == region && tiles[*i].side == side;
    (0..tiles.len())
        .filter(of)
        .min_by(|a, b| tiles[*a].centre().distance(place).total_cmp(&tiles[*b].centre().distance(place)))
        .unwrap_or(0)
}

/// The tile across the joint aft of `tile`: the one that runs along the middle of its rearmost side.
pub fn behind(tiles: &[Part], tile: usize) -> Option<usize> {
    let sides = |part: &Part| {
        let c = part.face.corners.clone();
        (0..c.len()).map(move |i| [c[i], c[(i + 1) % c.len()]]).collect::<Vec<_>>()
    };
    let rear = sides(&tiles[tile]).into_iter().max_by(|a, b| (a[0].x + a[1].x).total_cmp(&(b[0].x + b[1].x)))?;
    let middle = 0.6 * rear[0] + 0.4 * rear[1];
    let distance = |[p, q]: [DVec3; 2]| {
        let part = ((middle - p).dot(q - p) / (q - p).length_squared()).clamp(0.1, 0.9);
        (p + part * (q - p)).distance(middle)
    };
    let nearest = |i: usize| sides(&tiles[i]).into_iter().map(distance).fold(f64::MAX, f64::min);
    // One corner first, since a centre costs them all; no tile is half a metre across.
    (0..tiles.len())
        .filter(|i| *i != tile && tiles[*i].face.corners.first().is_some_and(|corner| corner.distance_squared(middle) < 1.0))
        .filter(|i| tiles[*i].material != "RCC" && tiles[*i].centre().distance(middle) < 0.3)
        .map(|i| (i, nearest(i)))
        .filter(|(_, gap)| *gap < 0.008)
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(i, _)| i)
}

fn by_hand(tiles: &[Part]) -> Vec<Note> {
    let cavity = nearest(tiles, Region::Belly, Side::Right, DVec3::new(5.2, 0.75, -0.6));
    let proud = nearest(tiles, Region::Belly, Side::Left, DVec3::new(2.6, -0.5, -0.7));
    let bond = nearest(tiles, Region::Upper, Side::Right, DVec3::new(7.9, 0.9, 1.4));
    vec![
        Note {
            tile: cavity,
            kind: "impact-cavity",
            place: Some([21.0, -14.0]),
            length: Some(74.0),
            width: Some(46.0),
            depth: Some((tiles[cavity].thickness_mm * 0.55).floor()),
            orientation: Some(12.0),
            method: "depth gauge",
            text: "oblique strike, coating gone over the cavity, walls clean",
            ..Note::default()
        },
        Note {
            tile: proud,
            tile_2: behind(tiles, proud),
            kind: "step",
            step: Some(1.9),
            gap: Some(1.6),
            method: "feeler gauge",
            text: "downstream tile proud over its whole width; forward of a smooth belly",
            ..Note::default()
        },
        Note {
            tile: bond,
            kind: "doubtful-bond",
            method: "pull test",
            text: "moved under a light pull; no mark on the face",
            ..Note::default()
        },
    ]
}

/// Where a kind of finding is looked for; never on hot structure.
pub fn likely(kind: &str, tile: &Part) -> bool {
    use Region::*;
    let black = tile.coating == "rcg";
    if tile.material == "RCC" {
        return false;
    }
    match kind {
        "discoloration" => matches!(tile.region, Upper | Chine | FinInner | FlapUpper),
        "protruding-filler" | "lost-filler" => matches!(tile.region, Chine | Nose | Belly | FlapLower) && black,
        "slump" => matches!(tile.region, FlapLower | Chine),
        "step" | "gap" => matches!(tile.region, Belly | Chine | Nose | Upper),
        "contamination" => matches!(tile.region, Upper | FlapUpper | Nose),
        _ => true,
    }
}

pub fn spread(kind: &'static str, tile: usize, tiles: &[Part], key: u64) -> Option<Note> {
    let draw = |k: u64, low: f64, high: f64| Some((between(low, high, SEED + 2, key * 16 + k) * 10.0).round() / 10.0);
    let part = &tiles[tile];
    let area = part.area_m2();
    // A length that fits the smallest tiles, and a place within the tile.
    let reach = 1e3 * area.sqrt();
    let place = [between(-0.3, 0.3, SEED + 3, key) * reach, between(-0.3, 0.3, SEED + 4, key) * reach];
    let note = Note { tile, kind, place: Some(place), method: "visual", ..Note::default() };
    let small = (part.thickness_mm * 0.25).min(6.0);
    Some(match kind {
        "chip" => Note { length: draw(1, 4.0, 22.0), width: draw(2, 3.0, 12.0), depth: draw(3, 0.8, small), text: "at the edge", ..note },
        "gouge" => Note {
            length: draw(1, 12.0, 60.0),
            width: draw(2, 2.0, 7.0),
            depth: draw(3, 0.8, small),
            orientation: draw(4, -30.0, 30.0),
            ..note
        },
        "coating-loss" => Note { length: draw(1, 8.0, 55.0), width: draw(2, 6.0, 30.0), depth: draw(3, 0.2, 0.5), ..note },
        "crack" => Note { length: draw(1, 15.0, 80.0), orientation: draw(4, -80.0, 80.0), text: "in the coating", ..note },
        "discoloration" => Note { length: draw(1, 40.0, 100.0), width: draw(2, 20.0, 80.0), text: "streak, aft running", ..note },
        "contamination" => Note { length: draw(1, 20.0, 80.0), width: draw(2, 20.0, 60.0), text: "deposit, not wiped off", ..note },
        "slump" => {
            Note { length: draw(1, 30.0, 60.0), width: draw(2, 20.0, 50.0), depth: draw(3, 0.4, 1.2), method: "straight edge", ..note }
        }
        "step" => Note { tile_2: Some(behind(tiles, tile)?), place: None, step: draw(5, -0.9, 0.9), method: "feeler gauge", ..note },
        "gap" => Note { tile_2: Some(behind(tiles, tile)?), place: None, gap: draw(6, 1.9, 3.2), method: "feeler gauge", ..note },
        "protruding-filler" => {
            Note { tile_2: Some(behind(tiles, tile)?), place: None, protrusion: draw(7, 0.6, 5.5), length: draw(1, 15.0, 90.0), ..note }
        }
        _ => Note { tile_2: Some(behind(tiles, tile)?), place: None, length: draw(1, 30.0, 110.0), ..note },
    })
}
