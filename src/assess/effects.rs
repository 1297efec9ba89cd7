//! What a finding does to its tile's model: a table of rows, each with its value, range and source, which a scenario's own replace.
//!
//! Factors are ratios of heat transfer to that of the face beside the cavity. A row measured in a tunnel carries the factor by which flight
//! is more (`flight_over_tunnel`); the product counts. Laminar and turbulent rows stand side by side and are mixed by intermittency.

use super::condition::SHIPPED;
use crate::document::json::{self, Range};
use crate::document::{Error, Json, Object, Problems};
use crate::scenario::Inspection;
use crate::shield::findings::{CAVITIES, KINDS};
use crate::shield::{Finding, Tile};

/// What a row is the value of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quantity {
    Floor,
    Wall,
    Downstream,
    Emissivity,
    Catalycity,
}

const QUANTITIES: [(Quantity, &str); 5] = [
    (Quantity::Floor, "floor"),
    (Quantity::Wall, "wall"),
    (Quantity::Downstream, "downstream"),
    (Quantity::Emissivity, "emissivity"),
    (Quantity::Catalycity, "catalycity"),
];

impl Quantity {
    /// The word of the table.
    pub fn word(self) -> &'static str {
        QUANTITIES[self as usize].1
    }
}

/// One row of the table.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    pub effect: String,
    pub what: Quantity,
    /// Empty: every kind.
    pub kinds: Vec<String>,
    /// `None`: both.
    pub turbulent: Option<bool>,
    /// From the first up to below the second.
    pub length_over_depth: Option<[f64; 2]>,
    pub value: f64,
    pub flight_over_tunnel: f64,
    /// Where the value lies, as its source has it.
    pub range: Option<[f64; 2]>,
    pub source: String,
}

impl Row {
    /// The factor that counts.
    pub fn factor(&self) -> f64 {
        self.value * self.flight_over_tunnel
    }
}

/// All rows, whole and checked.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Effects {
    pub rows: Vec<Row>,
}

fn pair(row: &mut Object, key: &'static str, p: &mut Problems) -> Option<[f64; 2]> {
    let path = row.path_of(key);
    let node = row.optional(key).filter(|node| **node != Json::Null)?;
    match <[f64; 2]>::try_from(json::numbers(node, &path, Range::NOT_NEGATIVE, p)) {
        Ok([low, high]) if low <= high => Some([low, high]),
        _ => {
            p.at_key(path, format!("{} is no range", node.quoted()), "two numbers, the smaller first");
            None
        }
    }
}

fn read_row(node: &Json, path: &str, p: &mut Problems) -> Option<Row> {
    let before = p.list.len();
    let mut row = Object::open(node, path, p)?;
    let effect = row.text("effect", p);
    let what = row.word("what", &QUANTITIES.map(|(_, word)| word), p);
    let kinds_path = row.path_of("kinds");
    let kinds = row.optional("kinds").map_or(&[][..], |node| json::list(node, &kinds_path, p));
    let kinds = kinds.iter().enumerate().filter_map(|(i, node)| json::word(node, &format!("{kinds_path}[{i}]"), &KINDS, p)).collect();
    let regime = row.word_or("regime", &["laminar", "turbulent", "both"], "both", p);
    let length_over_depth = pair(&mut row, "length_over_depth", p);
    let what = QUANTITIES.iter().find(|(_, word)| Some(*word) == what.as_deref()).map(|(what, _)| *what);
    let most = if what == Some(Quantity::Emissivity) { Range::above_to(0.0, 1.0) } else { Range::between(0.0, 100.0) };
    let value = row.number("value", most, p);
    let flight_over_tunnel = row.number_or("flight_over_tunnel", Range::above_to(0.0, 10.0), 1.0, p);
    let range = pair(&mut row, "range", p);
    let source = row.text_or("source", "the user's own", p);
    row.finish(p);
    if effect.is_empty() && p.list.len() == before {
        p.at_key(format!("{path}.effect"), "the row has no name", "a name");
    }
    if p.list.len() > before {
        return None;
    }
    let turbulent = match regime.as_str() {
        "laminar" => Some(false),
        "turbulent" => Some(true),
        _ => None,
    };
    Some(Row { effect, what: what?, kinds, turbulent, length_over_depth, value, flight_over_tunnel, range, source })
}

impl Effects {
    /// The shipped rows with a scenario's: the same `effect` is replaced in its place, a new one goes before the shipped ones.
    ///
    /// # Errors
    /// Bad input that names each wrong row by its path.
    pub fn of(inspection: &Inspection) -> Result<Effects, Error> {
        let mut problems = Problems::of("scenario");
        let document = Json::parse("assets/inspection.json", SHIPPED)?;
        let shipped = match document.get("effects") {
            Some(Json::List(rows)) => rows.as_slice(),
            _ => &[],
        };
        let mut read = |rows: &[Json], path: &str| {
            let mut out: Vec<Row> = Vec::new();
            for (i, node) in rows.iter().enumerate() {
                let path = format!("{path}[{i}]");
                let Some(row) = read_row(node, &path, &mut problems) else { continue };
                if out.iter().any(|earlier| earlier.effect == row.effect) {
                    problems.at_key(format!("{path}.effect"), format!("the effect {:?} stands twice", row.effect), "each effect once");
                }
                out.push(row);
            }
            out
        };
        let mut rows = read(shipped, "effects");
        let mut own = read(&inspection.effects, "inspection.effects");
        own.retain(|row| match rows.iter_mut().find(|known| known.effect == row.effect) {
            Some(known) => {
                *known = row.clone();
                false
            }
            None => true,
        });
        own.append(&mut rows);
        problems.or_ok(Effects { rows: own })
    }

    /// The first row that fits.
    pub fn find(&self, what: Quantity, kind: &str, turbulent: bool, length_over_depth: f64) -> Option<&Row> {
        self.rows.iter().find(|row| {
            row.what == what
                && (row.kinds.is_empty() || row.kinds.iter().any(|known| known == kind))
                && row.turbulent.is_none_or(|only| only == turbulent)
                && row.length_over_depth.is_none_or(|[low, high]| low <= length_over_depth && length_over_depth < high)
        })
    }
}

/// What becomes of a tile's model.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Model {
    /// A cavity: radius of the cylinder of its area and depth, m, length over depth.
    Cavity { radius_m: f64, depth_m: f64, length_over_depth: f64 },
    /// The coating gone from a patch: radius of the disk of its area, m.
    Patch { radius_m: f64 },
    /// The whole tile thinner, m.
    Thinned { lost_m: f64 },
    /// What lies under the tile, bare.
    Bare { length_over_depth: f64 },
    /// A step, gap or filler: the local heating and transition of the joint, which `heating` has.
    Joint,
    /// A risk, not a temperature.
    Risk,
    /// Mass and freeze cracking, not heat.
    Wet,
    /// No effect on temperatures is claimed.
    NotAssessed,
}

impl Model {
    /// Whether it has temperatures of its own.
    pub fn is_temperature(&self) -> bool {
        matches!(self, Model::Cavity { .. } | Model::Patch { .. } | Model::Thinned { .. } | Model::Bare { .. })
    }

    /// One word for tables.
    pub fn word(&self) -> &'static str {
        match self {
            Model::Cavity { .. } => "cavity",
            Model::Patch { .. } => "bare-patch",
            Model::Thinned { .. } => "thinned",
            Model::Bare { .. } => "bare-stack",
            Model::Joint => "joint",
            Model::Risk => "risk",
            Model::Wet => "mass",
            Model::NotAssessed => "none",
        }
    }

    /// The relation in words, with whether it is common practice.
    pub fn words(&self) -> &'static str {
        match self {
            Model::Cavity { .. } => "a cylindrical cavity of the same area in the tile's middle, by radius and depth",
            Model::Patch { .. } => "a bare disk of the same area: emissivity and catalycity of the tile",
            Model::Thinned { .. } => "the whole tile thinner by the depth (common practice, on the hot side)",
            Model::Bare { .. } => "the stack without its tile, at the bottom of a cavity of the tile's size",
            Model::Joint => "roughness that trips the boundary layer, and the joint's own local heating",
            Model::Risk => "a risk, not a temperature: nothing answers for a bond that may let go",
            Model::Wet => "mass and freeze cracking, not heat",
            Model::NotAssessed => "no effect on temperatures is claimed",
        }
    }
}

/// The model of a finding on its tile. A size that is not given is taken as the tile's own: length and width its side, depth all of it but 1 mm.
///
/// A cavity's area is that of the ellipse of its length and width (common practice); a chip, gouge or cavity without depth is as deep as the
/// tile less 1 mm, never harmless.
pub fn model(finding: &Finding, tile: &Tile) -> Model {
    let thickness_m = tile.thickness_m;
    let length_m = finding.length_mm.map_or(tile.largest_side_m, |mm| mm / 1e3);
    let width_m = finding.width_mm.or(finding.length_mm).map_or(tile.smallest_side_m, |mm| mm / 1e3);
    let (length_m, width_m) = (length_m.max(width_m), length_m.min(width_m));
    let radius_m = (0.25 * length_m * width_m).sqrt().min(radius_of(tile));
    let deepest_m = (thickness_m - 1e-3).max(0.9 * thickness_m);
    let depth_m = finding.depth_mm.map_or(deepest_m, |mm| mm / 1e3).min(deepest_m);
    let ratio = |depth_m: f64| if depth_m > 0.0 { length_m / depth_m } else { f64::MAX };
    match finding.kind.as_str() {
        kind if CAVITIES.contains(&kind) && depth_m > 0.0 && radius_m > 0.0 => {
            Model::Cavity { radius_m, depth_m, length_over_depth: ratio(depth_m) }
        }
        "coating-loss" => Model::Patch { radius_m },
        "slump" => Model::Thinned { lost_m: depth_m },
        "missing-tile" => Model::Bare { length_over_depth: tile.largest_side_m / thickness_m },
        "step" | "gap" | "protruding-filler" | "lost-filler" => Model::Joint,
        "doubtful-bond" => Model::Risk,
        "waterproofing-lost" => Model::Wet,
        _ => Model::NotAssessed,
    }
}

/// Radius of the cylinder of a tile's area, m.
pub fn radius_of(tile: &Tile) -> f64 {
    (tile.facet.area_m2 / std::f64::consts::PI).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_rows_are_whole_sourced_and_cover_every_cavity() {
        let effects = Effects::of(&Inspection::default()).unwrap();
        for row in &effects.rows {
            assert!(!row.source.is_empty() && row.range.is_none_or(|[low, high]| low <= row.value && row.value <= high), "{row:?}");
        }
        for kind in CAVITIES.into_iter().chain(["missing-tile"]) {
            for turbulent in [false, true] {
                for ratio in [0.0, 1.0, 9.99, 10.0, 15.0, 20.0, 500.0] {
                    for what in [Quantity::Floor, Quantity::Wall, Quantity::Downstream] {
                        assert!(effects.find(what, kind, turbulent, ratio).is_some(), "{kind} {turbulent} {ratio} {what:?}");
                    }
                }
            }
            assert!(effects.find(Quantity::Emissivity, kind, false, 5.0).is_some());
        }
    }

    #[test]
    fn val_flight_is_more_than_the_tunnel_by_the_published_factors() {
        // NASA, AIAA 2005-4679 (NTRS 20050192429), abstract: floor 67 %, downstream face 60 %, surface downstream about 20 % more in flight.
        let effects = Effects::of(&Inspection::default()).unwrap();
        let factor = |what| effects.find(what, "impact-cavity", false, 5.0).map(|row| row.flight_over_tunnel);
        assert_eq!([Quantity::Floor, Quantity::Wall, Quantity::Downstream].map(factor), [Some(1.67), Some(1.60), Some(1.20)]);
        // NTRS 20100035236, abstract: floor average 0.3, standard deviation 0.04.
        let floor = effects.find(Quantity::Floor, "gouge", false, 8.0).unwrap();
        assert_eq!((floor.value, floor.range), (0.3, Some([0.22, 0.38])));
    }

    #[test]
    fn verif_a_users_row_replaces_and_a_wrong_one_is_named() {
        let with = |rows: &str| match Json::parse("t", rows).unwrap() {
            Json::List(effects) => Effects::of(&Inspection { effects, ..Inspection::default() }),
            _ => unreachable!(),
        };
        let own = with(
            r#"[{"effect":"open cavity floor, laminar","what":"floor","regime":"laminar","length_over_depth":[0,10],"value":0.5},
                {"effect":"ours","what":"floor","kinds":["gouge"],"value":2}]"#,
        )
        .unwrap();
        assert_eq!(own.find(Quantity::Floor, "chip", false, 3.0).unwrap().factor(), 0.5);
        assert_eq!(own.find(Quantity::Floor, "gouge", true, 3.0).unwrap().factor(), 2.0);
        for (row, want) in [
            (r#"{"effect":"a","what":"flor","value":1}"#, "inspection.effects[0].what"),
            (r#"{"effect":"a","what":"floor","value":-1}"#, "inspection.effects[0].value"),
            (r#"{"effect":"a","what":"floor","value":1,"length_over_depth":[5,1]}"#, "inspection.effects[0].length_over_depth"),
            (r#"{"effect":"a","what":"emissivity","value":1.2}"#, "inspection.effects[0].value"),
            (r#"{"effect":"a","what":"floor","value":1,"x":1}"#, "inspection.effects[0].x"),
        ] {
            assert!(with(&format!("[{row}]")).unwrap_err().to_string().contains(want), "{want}");
        }
    }

    #[test]
    fn verif_a_finding_without_sizes_is_never_harmless() {
        let mut tile = Tile { thickness_m: 0.04, largest_side_m: 0.15, smallest_side_m: 0.15, ..Tile::default() };
        tile.facet.area_m2 = 0.0225;
        let gouge = Finding { kind: "gouge".to_string(), ..Finding::default() };
        let Model::Cavity { radius_m, depth_m, .. } = model(&gouge, &tile) else { unreachable!() };
        assert!((depth_m - 0.039).abs() < 1e-12 && (radius_m - 0.075).abs() < 1e-12, "{radius_m} {depth_m}");
        let small = Finding { length_mm: Some(40.0), width_mm: Some(10.0), depth_mm: Some(8.0), ..gouge };
        assert_eq!(model(&small, &tile), Model::Cavity { radius_m: 0.01, depth_m: 0.008, length_over_depth: 5.0 });
    }
}
