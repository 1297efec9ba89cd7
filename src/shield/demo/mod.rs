//! The demonstration vehicle Whinchat: our own fiction, an uncrewed lifting body, generated from a parametric description.
//!
//! | file | idea |
//! | --- | --- |
//! | `shape` | the body as a smooth surface over stations and sections |
//! | `fin` | fins, elevons, flaps, base: surfaces that join it |
//! | `layout` | rows, brickwork, colour boundary, openings |
//! | `face` | one tile's outer face on a surface |
//! | `parts` | numbers, zones, materials, thickness, history |
//! | `findings` | an invented inspection after the third flight |
//! | `earlier` | what was noted after the first two flights, mended since or grown |
//! | `flight` | thermocouples of an invented instrumented flight |
//! | `entry` | the scenario it opens with |
//! | `chance` | reproducible chance |
//!
//! Every number of it is invented. The same bytes come out natively and in the browser: only basic arithmetic, square roots and
//! `libm` are used.

mod chance;
mod earlier;
mod entry;
mod face;
mod fin;
mod findings;
mod flight;
mod layout;
mod parts;
mod shape;

use super::VehicleFile;
use super::glb_write::{Column, Surface, write_glb};
use crate::document::{Json, csv};
use parts::{Part, Parts};

/// The name of the demonstration vehicle.
pub const NAME: &str = "Whinchat";

/// The vehicle's files, in the order of the reference: vehicle.glb, tiles.csv, stacks.json, findings.csv, flight_data.csv.
pub fn files() -> Vec<VehicleFile> {
    let parts = parts::build();
    [
        ("vehicle.glb", glb(&parts)),
        ("tiles.csv", tiles_csv(&parts.tiles).into_bytes()),
        ("stacks.json", stacks_json().into_bytes()),
        ("findings.csv", findings::findings_csv(&parts.tiles).into_bytes()),
        ("flight_data.csv", flight::flight_data_csv().into_bytes()),
    ]
    .into_iter()
    .map(|(name, bytes)| VehicleFile { name: name.to_string(), bytes })
    .collect()
}

/// The scenario the demonstration opens with, `tileglow-scenario/1`.
pub fn scenario_json() -> String {
    entry::scenario_json()
}

fn glb(parts: &Parts) -> Vec<u8> {
    let mut surface = Surface::default();
    for (feature, part) in parts.tiles.iter().enumerate().map(|(i, p)| (Some(i as u32), p)).chain(parts.plain.iter().map(|p| (None, p))) {
        let first = surface.positions.len() as u32;
        surface.positions.extend_from_slice(&part.face.positions);
        surface.features.extend(part.face.positions.iter().map(|_| feature));
        surface.triangles.extend(part.face.triangles.iter().map(|t| t.map(|i| first + i)));
    }
    let text = |of: fn(&Part) -> &str| Column::Text(parts.tiles.iter().map(|p| of(p).to_string()).collect());
    let number = |of: fn(&Part) -> f64| Column::Number(parts.tiles.iter().map(of).collect());
    // No stack: a GLB on its own comes without stacks.json, and then the defaults hold.
    let columns = [
        ("tile", text(|p| &p.tile)),
        ("zone", text(|p| &p.zone)),
        ("material", text(|p| p.material)),
        ("coating", text(|p| p.coating)),
        ("thickness_mm", number(|p| p.thickness_mm)),
        ("density_kg_m3", number(|p| p.density_kg_m3)),
    ];
    write_glb(NAME, &surface, &columns)
}

fn tiles_csv(tiles: &[Part]) -> String {
    let header = [
        "tile",
        "zone",
        "material",
        "coating",
        "stack",
        "thickness_mm",
        "density_kg_m3",
        "part",
        "serial",
        "installed_flight",
        "waterproofed",
        "state",
    ];
    let rows = tiles.iter().map(|p| {
        vec![
            p.tile.clone(),
            p.zone.clone(),
            p.material.to_string(),
            p.coating.to_string(),
            p.stack.to_string(),
            format!("{:.1}", p.thickness_mm),
            format!("{:.1}", p.density_kg_m3),
            p.part.clone(),
            p.serial.clone(),
            p.installed_flight.to_string(),
            p.waterproofed.map_or(String::new(), |flight| flight.to_string()),
            "in-service".to_string(),
        ]
    });
    let guarded = [true, true, false, false, false, false, false, true, true, false, false, false];
    csv::write(&header, rows, &guarded)
}

/// Two stacks: aluminium skin under the body, graphite/polyimide under the fins. Bond and pad as the material library has them.
fn stacks_json() -> String {
    let layer = |name: &str, material: &str, thickness_m: f64| {
        Json::object([
            ("name", Json::text(name)),
            ("material", Json::text(material)),
            ("thickness_m", Json::Number(thickness_m)),
            ("limit_k", Json::Null),
        ])
    };
    let stack = |name: &str, skin: &str, skin_m: f64| {
        Json::object([
            ("name", Json::text(name)),
            (
                "layers",
                Json::List(vec![
                    layer("bond", "RTV-560", 0.00019),
                    layer("pad", "SIP", 0.00406),
                    layer("inner bond", "RTV-560", 0.00019),
                    layer("skin", skin, skin_m),
                ]),
            ),
            ("structure", Json::text("skin")),
            ("back", Json::object([("kind", Json::text("adiabatic"))])),
        ])
    };
    Json::object([
        ("format", Json::text("tileglow-stacks/1")),
        ("stacks", Json::List(vec![stack("default", "AL-2024", 0.0021), stack("fin", "GR-PI", 0.0026)])),
    ])
    .pretty()
}

#[cfg(test)]
mod tests;
