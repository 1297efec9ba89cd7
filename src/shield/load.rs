//! A vehicle's files to a `Shield`: complete and checked, or every problem and nothing.

use super::files::{Files, TABLE};
use super::table::{self, Source, TileRow};
use super::{Shield, Tile, VehicleFile, findings, glb, measured, mesh, obj};
use crate::document::csv::CsvTable;
use crate::document::{Error, Problem, Problems};
use crate::heating::Facet;
use crate::material::{Library, Stack};

/// Loads a vehicle from a folder's files, one zip or one GLB; `name` becomes its label.
///
/// Returns the shield with its warnings, or every problem of every file that could be read: a file that depends on a broken one (tiles on
/// materials) is not judged. The digest is SHA-256 over, for each file of the vehicle table in its order, the name (UTF-8, without folder),
/// a zero byte, the length (8 bytes, little endian) and the bytes; a single GLB counts as `vehicle.glb`, so that folder, zip and GLB agree.
pub fn load(files: &[VehicleFile], name: &str) -> Result<Shield, Error> {
    let mut warnings = Vec::new();
    let files = Files::pick(files, &mut warnings)?;
    let mut problems: Vec<Problem> = Vec::new();
    let mut keep = Keep(&mut problems);

    let library = match files.find("materials.json") {
        None => Some(Library::built_in()),
        Some(file) => keep.value(Library::read(&file.name, &file.bytes)).map(|(user, said)| {
            warnings.extend(said);
            Library::built_in().joined(user)
        }),
    };
    let stacks = library.as_ref().and_then(|library| match files.find("stacks.json") {
        None => keep.value(Stack::built_in(library)),
        Some(file) => keep.value(Stack::read_all(&file.name, &file.bytes, library)),
    });
    let mut own = Vec::new();
    let surface = TABLE[..2].iter().find_map(|name| files.find(name)).and_then(|file| {
        let read = if file.name == TABLE[0] { glb::read } else { obj::read };
        keep.value(read(&file.name, &file.bytes, &mut own))
    });
    let tiles_csv = files.find("tiles.csv").map(|file| keep.value(CsvTable::read(&file.name, &file.bytes)));
    let points = files.find("body_points.csv").map(|file| keep.value(measured::body_points(&file.name, &file.bytes, &mut warnings)));
    if tiles_csv.is_some() {
        // The table wins: what its GLB twin calls unknown does not matter.
        own.retain(|warning| !warning.contains("unknown property"));
    }
    warnings.extend(own);

    let surface_file = surface.as_ref().map_or(String::new(), |surface| surface.file.clone());
    let property_file = format!("{surface_file} (property table)");
    let table_file = if tiles_csv.is_some() { "tiles.csv" } else { property_file.as_str() };
    let table = match &tiles_csv {
        Some(table) => table.clone(),
        None => surface.as_ref().and_then(|surface| surface.table.clone()),
    };
    if tiles_csv.is_none() && table.is_none() && surface.is_some() {
        let mut missing = Problems::of("tiles.csv");
        missing.at_key("", "the file is missing, and the surface carries no property table", "tiles.csv with tile, material, thickness_mm");
        keep.0.extend(missing.list);
    }
    let rows = table.as_ref().zip(library.as_ref().zip(stacks.as_ref())).map(|(table, (library, stacks))| {
        let mut problems = Problems::of(table_file);
        let first_row = if tiles_csv.is_some() { 2 } else { 0 };
        let rows = table::read(&Source { file: table_file, table, first_row }, library, stacks, &mut problems, &mut warnings);
        let good = problems.is_empty();
        keep.0.extend(problems.list);
        (rows, good)
    });
    // A row that was refused would be told again as a tile without surface: the join waits for a good table.
    let built = surface.zip(rows.as_ref().filter(|(_, good)| *good)).and_then(|(surface, (rows, _))| {
        let mut problems = Problems::of(&surface.file);
        let owners = surface.owners(rows, table_file, &mut problems);
        let built = if problems.is_empty() { mesh::build(surface, &owners, rows, &mut problems, &mut warnings) } else { None };
        keep.0.extend(problems.list);
        built
    });
    let (Some(library), Some(stacks), Some((rows, true)), Some(built)) = (library, stacks, rows, built) else {
        return Err(Error::bad_input(problems));
    };
    let tiles: Vec<Tile> = rows.into_iter().zip(built.tiles).map(|(row, geometry)| tile(row, geometry)).collect();
    let found = files.find("findings.csv").map(|file| keep.value(findings::read(&file.name, &file.bytes, &tiles, &mut warnings)));
    let flown = files.find("flight_data.csv").map(|file| keep.value(measured::flight_data(&file.name, &file.bytes, &tiles, &mut warnings)));
    if !problems.is_empty() {
        return Err(Error::bad_input(problems));
    }
    Ok(Shield {
        name: name.to_string(),
        digest: files.digest(),
        tiles,
        mesh: built.mesh,
        plain_area_m2: built.plain_area_m2,
        library,
        stacks,
        findings: found.flatten().unwrap_or_default(),
        body_points: points.flatten().unwrap_or_default(),
        flight_data: flown.flatten().unwrap_or_default(),
        warnings,
    })
}

/// Gathers the problems of all files.
struct Keep<'a>(&'a mut Vec<Problem>);

impl Keep<'_> {
    fn value<T>(&mut self, result: Result<T, Error>) -> Option<T> {
        result.map_err(|error| self.0.extend(error.problems)).ok()
    }
}

fn tile(row: TileRow, geometry: mesh::TileGeometry) -> Tile {
    Tile {
        id: row.id,
        zone: row.zone,
        material: row.material,
        coating: row.coating,
        stack: row.stack,
        thickness_m: row.thickness_m,
        density_kg_m3: row.density_kg_m3,
        emissivity: row.emissivity,
        solar_absorptance: row.solar_absorptance,
        heating_factor: row.heating_factor,
        part: row.part,
        serial: row.serial,
        installed_flight: row.installed_flight,
        waterproofed: row.waterproofed,
        state: row.state,
        facet: Facet {
            centre: geometry.centre,
            normal: geometry.normal,
            area_m2: geometry.area_m2,
            nose_radius_m: row.nose_radius_m,
            running_length_m: row.running_length_m,
        },
        smallest_side_m: geometry.smallest_side_m,
        largest_side_m: geometry.largest_side_m,
        outline: geometry.outline,
        neighbours: geometry.neighbours,
    }
}
