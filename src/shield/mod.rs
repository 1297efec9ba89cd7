//! The vehicle: mesh, tile table, findings; the loaders, which return a value and its warnings or every problem at once.
//!
//! | file | idea |
//! | --- | --- |
//! | `load` | a folder's, zip's or single file's bytes to a `Shield`, whole or not at all |
//! | `files` | which of the given files belong to the vehicle, the zip reader, the digest |
//! | `surface` | what a surface file says, and whose each triangle is |
//! | `glb`, `accessor`, `metadata` | surfaces from GLB: scene, numbers in buffers, property table |
//! | `obj`, `polygon` | surfaces from OBJ, polygons cut into triangles |
//! | `table` | tiles.csv, or the property table in its place |
//! | `mesh` | winding, facets and outlines of all tiles |
//! | `outline` | one tile's boundary loops and its bounding rectangle |
//! | `joint` | which tiles run along each other |
//! | `findings` | findings.csv and the findings of a scenario |
//! | `measured` | body_points.csv and flight_data.csv |
//! | `glb_write` | a vehicle written as GLB |
//! | `unroll` | each tile's place on the flattened map |
//! | `demo` | the demonstration vehicle Whinchat |

mod accessor;
pub mod demo;
mod files;
pub mod findings;
mod glb;
pub mod glb_write;
pub mod joint;
mod load;
mod measured;
mod mesh;
mod metadata;
mod obj;
mod outline;
mod polygon;
mod surface;
mod table;
#[cfg(test)]
mod tests;
mod unroll;

pub use crate::heating::points::BodyPoint;
pub use findings::{finding_from_json, finding_to_json, findings_csv};
pub use load::load;
pub use measured::BODY_POINTS;
pub use unroll::{MapPlace, unroll};

use crate::heating::Facet;
use crate::material::{Library, Stack};
use glam::DVec3;

/// The value of `Mesh::owner` for surface that carries no tile.
pub const NO_TILE: u32 = u32::MAX;

/// The outer faces of all tiles and the surface without tiles. Metres, x aft from the nose, y right, z up; triangles wind
/// counter-clockwise seen from outside.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Mesh {
    pub positions: Vec<DVec3>,
    pub triangles: Vec<[u32; 3]>,
    /// For each triangle the index of its tile in `Shield::tiles`, or `NO_TILE`.
    pub owner: Vec<u32>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum TileState {
    Planned,
    Fitted,
    Bonded,
    Tested,
    #[default]
    InService,
}

/// One row of the tile table, with what the mesh says of it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Tile {
    pub id: String,
    pub zone: String,
    /// Index into `Shield::library`.
    pub material: usize,
    /// Index into `Shield::library` of the coating, `None` for a bare face.
    pub coating: Option<usize>,
    /// Index into `Shield::stacks`; `None` means no stack: bondline and structure stay empty.
    pub stack: Option<usize>,
    pub thickness_m: f64,
    /// The table's value, else the material's.
    pub density_kg_m3: f64,
    /// The table's own values; `None` takes the coating's or material's.
    pub emissivity: Option<f64>,
    pub solar_absorptance: Option<f64>,
    /// Multiplies the local heating; 1 by default.
    pub heating_factor: f64,
    pub part: String,
    pub serial: String,
    pub installed_flight: Option<u32>,
    pub waterproofed: Option<u32>,
    pub state: TileState,
    pub facet: Facet,
    /// Smallest and largest side of the outline's bounding rectangle in the tile's plane.
    pub smallest_side_m: f64,
    pub largest_side_m: f64,
    /// Boundary of the outer face, in order, counter-clockwise seen from outside.
    pub outline: Vec<DVec3>,
    /// Indices of the tiles that share a joint with this one, in rising order.
    pub neighbours: Vec<u32>,
}

/// One finding, a row of findings.csv. Millimetres; `None` where the cell is empty.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Finding {
    pub finding: String,
    /// Indices into `Shield::tiles`.
    pub tile: usize,
    pub tile_2: Option<usize>,
    /// One of the kinds of the reference, as written.
    pub kind: String,
    pub u_mm: Option<f64>,
    pub v_mm: Option<f64>,
    pub length_mm: Option<f64>,
    pub width_mm: Option<f64>,
    pub depth_mm: Option<f64>,
    pub gap_mm: Option<f64>,
    pub step_mm: Option<f64>,
    pub protrusion_mm: Option<f64>,
    pub orientation_deg: Option<f64>,
    pub found_on: String,
    pub flight: Option<u32>,
    pub found_by: String,
    pub method: String,
    pub photograph: String,
    pub note: String,
    pub decision: String,
    pub decided_by: String,
    pub decided_on: String,
    pub decision_reason: String,
}

/// A loaded vehicle: complete and checked, or not there at all.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Shield {
    /// A label: the folder's or file's name.
    pub name: String,
    /// SHA-256 over the vehicle's files, hex; see `load` for the bytes that it covers.
    pub digest: String,
    /// In the order of the vehicle's table.
    pub tiles: Vec<Tile>,
    pub mesh: Mesh,
    /// Area of the surface that carries no tile.
    pub plain_area_m2: f64,
    pub library: Library,
    pub stacks: Vec<Stack>,
    pub findings: Vec<Finding>,
    /// Measured or computed heating of the user's own, empty where the vehicle brings none.
    pub body_points: Vec<BodyPoint>,
    /// Thermocouples of flown entries.
    pub flight_data: Vec<FlightSample>,
    /// Each names its file and column; counted and never swallowed.
    pub warnings: Vec<String>,
}

/// One row of flight_data.csv: a thermocouple's reading.
#[derive(Debug, Clone, PartialEq)]
pub struct FlightSample {
    pub flight: u32,
    /// Index into `Shield::tiles`.
    pub tile: usize,
    pub sensor: String,
    pub depth_mm: f64,
    pub time_s: f64,
    pub temperature_k: f64,
}

impl Shield {
    /// The joints between tiles with their lengths, in rising order of the tiles.
    pub fn joints(&self) -> Vec<joint::Joint> {
        let mut edges = Vec::new();
        for (tile, row) in self.tiles.iter().enumerate() {
            let outline = &row.outline;
            let ends = outline.iter().zip(outline.iter().cycle().skip(1));
            edges.extend(ends.map(|(from, to)| joint::Edge { tile: tile as u32, from: *from, to: *to }));
        }
        let sides: Vec<f64> = self.tiles.iter().map(|tile| tile.smallest_side_m).collect();
        joint::joints(&edges, &sides)
    }

    /// The index of a tile by its id, as written in the table.
    pub fn tile_index(&self, id: &str) -> Option<usize> {
        self.tiles.iter().position(|tile| tile.id == id)
    }
}

impl TileState {
    pub const ALL: [TileState; 5] = [TileState::Planned, TileState::Fitted, TileState::Bonded, TileState::Tested, TileState::InService];

    /// The word of the column `state`.
    pub fn word(self) -> &'static str {
        match self {
            TileState::Planned => "planned",
            TileState::Fitted => "fitted",
            TileState::Bonded => "bonded",
            TileState::Tested => "tested",
            TileState::InService => "in-service",
        }
    }
}

/// One file of a vehicle as it came in: a plain name (`tiles.csv`) and its bytes.
#[derive(Debug, Clone, PartialEq)]
pub struct VehicleFile {
    pub name: String,
    pub bytes: Vec<u8>,
}
