//! The loader as a whole: good vehicles in every form, every kind of broken one, and bytes that nobody meant.

use super::demo;
use super::glb_write::{Column, Surface, write_glb};
use super::{NO_TILE, Shield, VehicleFile, findings, load};
use crate::document::{Json, Problems};
use crate::material::Kind;
use glam::DVec3;
use std::io::Write;

mod fuzz;

fn file(name: &str, bytes: impl Into<Vec<u8>>) -> VehicleFile {
    VehicleFile { name: name.to_string(), bytes: bytes.into() }
}

fn zip_of(files: &[VehicleFile], folder: &str) -> VehicleFile {
    let mut zip = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    for file in files {
        zip.start_file(format!("{folder}{}", file.name), zip::write::SimpleFileOptions::default()).unwrap();
        zip.write_all(&file.bytes).unwrap();
    }
    file("ship.zip", zip.finish().unwrap().into_inner())
}

/// Three tiles in a row along x on the plane z = 0 that look down, 0.2 m wide with gaps of 1.3 mm, and a plain square behind them.
fn row_glb(with_table: bool) -> Vec<u8> {
    let mut surface = Surface::default();
    for i in 0..4u32 {
        let x = f64::from(i) * 0.2013;
        let first = surface.positions.len() as u32;
        surface.positions.extend([(x, 0.0), (x, 0.2), (x + 0.2, 0.2), (x + 0.2, 0.0)].map(|(x, y)| DVec3::new(x, y, 0.0)));
        surface.features.extend([(i < 3).then_some(i); 4]);
        surface.triangles.extend([[first, first + 1, first + 2], [first, first + 2, first + 3]]);
    }
    let text = |values: [&str; 3]| Column::Text(values.map(str::to_string).to_vec());
    let columns = [
        ("tile", text(["A", "B", "C"])),
        ("material", text(["LI-900", "li-2200", "RCC"])),
        ("thickness_mm", Column::Number(vec![30.0, 40.5, 6.0])),
        ("stack", text(["", "none", ""])),
    ];
    if with_table { write_glb("row", &surface, &columns) } else { write_glb("row", &surface, &columns[..1]) }
}

const TILES: &str = "tile,material,thickness_mm,installed_flight\nC,RCC,6,\nA,LI-900,30,3\nB,LI-2200,40.5,\n";

fn told(files: &[VehicleFile]) -> String {
    match load(files, "ship") {
        Ok(_) => String::new(),
        Err(error) => {
            assert_eq!(error.exit_code(), 2);
            error.to_string()
        }
    }
}

#[test]
fn verif_a_glb_alone_carries_the_vehicle() {
    let shield = load(&[file("anything.glb", row_glb(true))], "ship").unwrap();
    assert_eq!(shield.tiles.iter().map(|tile| tile.id.as_str()).collect::<Vec<_>>(), ["A", "B", "C"]);
    assert_eq!(shield.tiles.iter().map(|tile| tile.neighbours.clone()).collect::<Vec<_>>(), [vec![1], vec![0, 2], vec![1]]);
    assert_eq!(shield.tiles.iter().map(|tile| tile.stack).collect::<Vec<_>>(), [Some(0), None, None]);
    assert_eq!(shield.library.materials[shield.tiles[2].material].kind, Kind::HotStructure);
    assert_eq!(shield.tiles[1].thickness_m, 40.5e-3);
    assert_eq!(shield.warnings, Vec::<String>::new());
    for (i, tile) in shield.tiles.iter().enumerate() {
        let want = DVec3::new(i as f64 * 0.2013 + 0.1, 0.1, 0.0);
        assert!((tile.facet.centre - want).length() < 1e-7 && (tile.facet.normal + DVec3::Z).length() < 1e-9, "{:?}", tile.facet);
        assert!((tile.facet.area_m2 - 0.04).abs() < 1e-7 && (tile.smallest_side_m - 0.2).abs() < 1e-7 && tile.outline.len() == 4);
    }
    assert!((shield.plain_area_m2 - 0.04).abs() < 1e-7);
    assert_eq!(shield.mesh.owner, [0, 0, 1, 1, 2, 2, NO_TILE, NO_TILE]);
}

/// FORMATS.md: where both stand, `tile` joins them, and order and values of tiles.csv win; without a property `tile` the id is its row.
#[test]
fn verif_the_table_wins_over_the_properties() {
    let shield = load(&[file("vehicle.glb", row_glb(true)), file("tiles.csv", TILES)], "ship").unwrap();
    assert_eq!(shield.tiles.iter().map(|tile| tile.id.as_str()).collect::<Vec<_>>(), ["C", "A", "B"]);
    assert!((shield.tiles[0].facet.centre.x - 0.5026).abs() < 1e-6, "{:?}", shield.tiles[0].facet);
    assert_eq!(shield.tiles[2].stack, Some(0));
    assert_eq!(shield.tiles[1].neighbours, [2]);
}

#[test]
fn verif_folder_zip_and_order_give_the_same_digest() {
    let files = [file("vehicle.glb", row_glb(true)), file("tiles.csv", TILES)];
    let want = load(&files, "ship").unwrap();
    // SHA-256 over "vehicle.glb\0" length bytes "tiles.csv\0" length bytes, here put together a second time.
    let mut bytes = Vec::new();
    for file in &files {
        bytes.extend(file.name.as_bytes());
        bytes.push(0);
        bytes.extend((file.bytes.len() as u64).to_le_bytes());
        bytes.extend(&file.bytes);
    }
    use sha2::Digest;
    let digest: String = sha2::Sha256::digest(&bytes).iter().map(|byte| format!("{byte:02x}")).collect();
    assert_eq!(want.digest, digest);
    let extra = [files[1].clone(), file("notes.txt", "x"), file("scenario.json", "{}"), file(".DS_Store", ""), files[0].clone()];
    for (given, warnings) in
        [(vec![zip_of(&files, "")], 0), (vec![zip_of(&files, "ship/")], 0), (extra.to_vec(), 1), (vec![zip_of(&extra, "a/b/")], 1)]
    {
        let shield = load(&given, "ship").unwrap();
        assert_eq!(shield.warnings.len(), warnings, "{:?}", shield.warnings);
        assert!(shield.warnings.iter().all(|warning| warning.contains("notes.txt")));
        assert_eq!(Shield { warnings: Vec::new(), ..shield }, want);
    }
}

fn obj(text: &str) -> Vec<VehicleFile> {
    vec![file("vehicle.obj", text), file("tiles.csv", "tile,material,thickness_mm\nA,LI-900,30\nB,LI-900,30\n")]
}

/// Two squares, the second one's group and winding as given.
fn two(second: &str, face: &str) -> String {
    format!("v 0 0 0\nv 0 1 0\nv 1 1 0\nv 1 0 0\nv 2 0 0\nv 2 1 0\ng A\nf 1 2 3 4\ng {second}\nf {face}\n")
}

#[test]
fn verif_winding_is_made_alike_and_said() {
    let good = load(&obj(&two("B", "4 3 6 5")), "ship").unwrap();
    assert_eq!(good.warnings, Vec::<String>::new());
    let turned = load(&obj(&two("B", "5 6 3 4").replace("v 2", "v 1.9")), "ship").unwrap();
    assert!(
        turned.warnings[0].contains("1 wound against their neighbours") && turned.warnings[0].contains("tile \"B\""),
        "{:?}",
        turned.warnings
    );
    assert_eq!(turned.tiles[1].facet.normal, good.tiles[1].facet.normal);
    let area: DVec3 =
        turned.tiles[1].outline.windows(2).map(|w| (w[0] - turned.tiles[1].outline[0]).cross(w[1] - turned.tiles[1].outline[0])).sum();
    assert!(area.dot(turned.tiles[1].facet.normal) > 0.0);
}

#[test]
fn verif_a_box_that_faces_inward_is_turned() {
    let corners = "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nv 0 0 1\nv 1 0 1\nv 1 1 1\nv 0 1 1\n";
    let faces = [[1, 4, 3, 2], [5, 6, 7, 8], [1, 2, 6, 5], [3, 4, 8, 7], [2, 3, 7, 6], [4, 1, 5, 8]];
    let text = |inward: bool| {
        let mut text = corners.to_string();
        let mut tiles = "tile,material,thickness_mm\n".to_string();
        for (i, mut face) in faces.into_iter().enumerate() {
            if inward {
                face.reverse();
            }
            text += &format!("g {i}\nf {} {} {} {}\n", face[0], face[1], face[2], face[3]);
            tiles += &format!("{i},LI-900,30\n");
        }
        [file("vehicle.obj", text), file("tiles.csv", tiles)]
    };
    let (out, turned) = (load(&text(false), "").unwrap(), load(&text(true), "").unwrap());
    assert_eq!(out.warnings, Vec::<String>::new());
    assert!(turned.warnings.len() == 1 && turned.warnings[0].contains("faces inward"), "{:?}", turned.warnings);
    for (a, b) in out.tiles.iter().zip(&turned.tiles) {
        assert_eq!((a.facet.normal, a.neighbours.len()), (b.facet.normal, 4));
        assert!(a.facet.normal.dot(a.facet.centre - DVec3::splat(0.5)) > 0.4);
    }
}

#[test]
fn verif_every_broken_surface_is_named() {
    let tiles = "tile,material,thickness_mm\nA,LI-900,30\n";
    let many: String = (0..30).map(|i| format!("T{i},LI-900,30\n")).collect();
    for (surface, tiles, wants) in [
        (two("X", "4 3 6 5"), tiles.to_string(), &["in vehicle.obj", "1 tile that tiles.csv lacks: \"X\"", "\"none\""][..]),
        (two("none", "4 3 6 5"), format!("{tiles}B,LI-900,30\n"), &["1 tile of tiles.csv without surface: \"B\" (row 3)"]),
        (two("none", "4 3 6 5"), format!("{tiles}{many}"), &["30 tiles of tiles.csv without surface", "\"T9\" (row 12) … (30 in all)"]),
        (two("none", "4 3 6 5").replace("v 0 0 0", "v 0 0 1e9"), tiles.to_string(), &["tile \"A\" at 0, 0, 1000000000"]),
        (
            two("none", "4 3 6 5").replace("v 0 1 0", "v 0 0 0").replace("v 1 1 0", "v 0 0 0"),
            tiles.to_string(),
            &["tile \"A\" has no area"],
        ),
        (two("A", "4 3 2 1"), tiles.to_string(), &["faces of tile \"A\" close on themselves", "only the outer face"]),
        (
            two("none", "4 3 6 5"),
            "tile,material,thickness_mm\nA,LI-900,0\nA,x,NaN\n".to_string(),
            &["row 2, column thickness_mm", "row 3, column tile", "row 3, column material", "row 3, column thickness_mm"],
        ),
    ] {
        let error = told(&[file("vehicle.obj", surface), file("tiles.csv", tiles)]);
        for want in wants {
            assert!(error.contains(want), "{want} in {error}");
        }
    }
    let warned = load(&obj(&two("B", "4 3 6 5").replace("1 0", "1000 0")), "").unwrap();
    assert!(warned.warnings[0].contains("are its coordinates in metres"), "{:?}", warned.warnings);
}

#[test]
fn verif_every_broken_folder_is_named() {
    let good = [file("vehicle.glb", row_glb(true)), file("tiles.csv", TILES)];
    let with = |extra: &[(&str, &str)]| {
        let mut files = good.to_vec();
        files.extend(extra.iter().map(|(name, text)| file(name, *text)));
        files
    };
    assert_eq!(told(&good), "");
    for (files, wants) in [
        (vec![], &["no vehicle.glb or vehicle.obj among no file"][..]),
        (vec![good[1].clone()], &["no vehicle.glb or vehicle.obj among \"tiles.csv\""]),
        (with(&[("vehicle.obj", "v 0 0 0\n")]), &["both vehicle.glb and vehicle.obj"]),
        (with(&[("tiles.csv", TILES)]), &["\"tiles.csv\" stands twice"]),
        (vec![file("vehicle.glb", row_glb(false)), good[1].clone(), file("stacks.json", "{")], &["stacks.json", "not valid JSON"]),
        (vec![file("vehicle.glb", row_glb(false))], &["column material", "column thickness_mm", "property table"]),
        (vec![file("vehicle.obj", two("none", "4 3 6 5"))], &["tiles.csv", "missing", "property table"]),
        (vec![file("ship.zip", b"PK\x03\x04rest".to_vec())], &["ship.zip", "not a readable zip"]),
        (vec![file("vehicle.glb", b"solid".to_vec()), good[1].clone()], &["vehicle.glb", "does not begin as a GLB"]),
        (
            with(&[("materials.json", "{\"format\": \"tileglow-materials/7\"}"), ("findings.csv", "x")]),
            &["materials.json", "tileglow-materials/7"],
        ),
        (with(&[("body_points.csv", "x_m,y_m\n1,2\n")]), &["body_points.csv, row 1, column z_m"]),
        (
            with(&[(
                "body_points.csv",
                "x_m,y_m,z_m,angle_of_attack_deg,sideslip_deg,mach,regime,factor,reference_radius_m\n0,0,0,40,0,25,calm,-1,1\n0,0,0,40,0,0,laminar,1,2\n",
            )]),
            &["row 2, column regime", "\"calm\"", "row 2, column factor", "row 3, column mach"],
        ),
        (
            with(&[("body_points.csv", &body_points("0,0,0,40,0,25,laminar,1,1\n1,0,0,40,0,25,laminar,1,1\n0,0,0,40,0,25,laminar,2,1\n"))]),
            &["body_points.csv, row 4, column x_m", "row 2 too", "row 2, column regime", "2 points"],
        ),
        (
            with(&[("body_points.csv", &body_points(&[three("30,0,10"), three("30,0,20"), three("40,0,10")].concat()))]),
            &["row 8, column mach", "a hole", "angle of attack 40, sideslip 0, Mach 20"],
        ),
        (
            // A thousand angles and Mach numbers would make 10^9 states: told at once, not state by state.
            with(&[(
                "body_points.csv",
                &body_points(&(1..1000).map(|i| three(&format!("{0},{0},{i}", i as f64 / 9.0))).collect::<String>()),
            )]),
            &["body_points.csv, row 2, column mach", "999 laminar states of flight", "at most 400"],
        ),
        (
            with(&[(
                "body_points.csv",
                &body_points(&(1..300).map(|i| three(&format!("{0},{0},{i}", i as f64 / 9.0))).collect::<String>()),
            )]),
            &["body_points.csv, row 2, column mach", "299 laminar states of flight", "make 26730899"],
        ),
        (
            with(&[("body_points.csv", &body_points(&three("40,0,25").replace("0,1,0,", "0,1,NaN,")))]),
            &["body_points.csv, row 4, column z_m", "\"NaN\""],
        ),
        (
            with(&[(
                "flight_data.csv",
                "flight,tile,sensor,depth_mm,time_s,temperature_k\n1,A,s,0,5,300\n1,A,s,0,4,300\n1.5,Z,s,-1,5,0\n",
            )]),
            &[
                "row 3, column time_s",
                "4 follows 5",
                "row 4, column flight",
                "row 4, column tile",
                "column depth_mm",
                "column temperature_k",
            ],
        ),
    ] {
        let error = told(&files);
        for want in wants {
            assert!(error.contains(want), "{want} in {error}");
        }
    }
}

const FINDINGS: &str = "finding,tile,tile_2,kind,u_mm,length_mm,depth_mm,step_mm,found_on,flight,note,decision\n\
    F1,A,,impact-cavity,-3.5,20,10,,2031-02-28,4,'=soft,\nF2,A,B,step,,,,-0.4,,,\"a, \"\"b\"\"\",fly\n";

/// The rules of refusal of FORMATS.md "A vehicle", row `findings.csv`.
#[test]
fn verif_findings_are_refused_as_a_whole_with_their_places() {
    let with = |text: &str| [file("vehicle.glb", row_glb(true)), file("tiles.csv", TILES), file("findings.csv", text)];
    assert_eq!(told(&with(FINDINGS)), "");
    for (from, to, wants) in [
        ("F2,A,B", "F1,A,B", &["row 3, column finding", "\"F1\" stands twice, first in row 2"][..]),
        ("F2,A,B", ",A,B", &["row 3, column finding", "empty"]),
        ("F1,A,", "F1,Q,", &["row 2, column tile", "unknown tile \"Q\""]),
        ("F2,A,B", "F2,A,Q", &["row 3, column tile_2", "unknown tile \"Q\""]),
        ("F2,A,B", "F2,A,A", &["row 3, column tile_2", "first tile"]),
        ("impact-cavity", "dent", &["row 2, column kind", "\"dent\"", "impact-cavity"]),
        (",10,", ",30.1,", &["row 2, column depth_mm", "30.1 mm", "is thick 30.000000 mm"]),
        (",20,", ",201,", &["row 2, column length_mm", "201 mm", "largest side"]),
        (",20,", ",x,", &["row 2, column length_mm", "\"x\""]),
        (",20,", ",-1,", &["row 2, column length_mm", "\"-1\""]),
        ("2031-02-28", "2031-02-29", &["row 2, column found_on", "\"2031-02-29\"", "YYYY-MM-DD"]),
        ("2031-02-28", "28.2.2031", &["row 2, column found_on"]),
        (",4,", ",2,", &["row 2, column flight", "flight 2", "installed for flight 3"]),
        (",4,", ",4.5,", &["row 2, column flight", "\"4.5\""]),
        ("finding,", "id,", &["row 1, column finding", "missing"]),
    ] {
        assert!(FINDINGS.contains(from), "{from}");
        let error = told(&with(&FINDINGS.replacen(from, to, 1)));
        for want in wants {
            assert!(error.contains(want), "{want} in {error}");
        }
    }
    for (date, good) in [
        ("2000-02-29", true),
        ("1900-02-29", false),
        ("2024-02-29", true),
        ("2031-04-31", false),
        ("2031-13-01", false),
        ("2031-1-01", false),
    ] {
        assert_eq!(findings::is_date(date), good, "{date}");
    }
}

#[test]
fn verif_findings_come_back_without_loss() {
    let files = [file("vehicle.glb", row_glb(true)), file("tiles.csv", TILES), file("findings.csv", FINDINGS)];
    let shield = load(&files, "ship").unwrap();
    let all = &shield.findings;
    assert_eq!((all.len(), all[0].note.as_str(), all[1].note.as_str(), all[1].step_mm), (2, "=soft", "a, \"b\"", Some(-0.4)));
    let text = super::findings_csv(all, &shield.tiles);
    let again = findings::read("findings.csv", text.as_bytes(), &shield.tiles, &mut Vec::new()).unwrap();
    assert_eq!(&again, all);
    assert_eq!(super::findings_csv(&again, &shield.tiles), text);
    let mut problems = Problems::default();
    for finding in all {
        let json = super::finding_to_json(finding, &shield.tiles);
        let json = Json::parse("s", &json.compact()).unwrap();
        assert_eq!(super::finding_from_json(&json, "findings[0]", &shield.tiles, &mut problems).as_ref(), Some(finding));
    }
    let changed = findings::joined(all, &[super::Finding { note: "new".to_string(), ..all[1].clone() }]);
    assert_eq!((changed.len(), changed[1].note.as_str()), (2, "new"));
    let json = Json::parse("s", r#"{"finding": "F9", "tile": "A", "kind": "crack", "lenght_mm": 3, "flight": 2}"#).unwrap();
    assert_eq!(super::finding_from_json(&json, "findings[7]", &shield.tiles, &mut problems), None);
    let error = problems.into_error().to_string();
    assert!(error.contains("findings[7].lenght_mm") && error.contains("findings[7].flight"), "{error}");
}

/// A GLB from its JSON and binary chunk.
fn glb_of(json: &str, binary: &[u8]) -> Vec<u8> {
    let pad = |bytes: &[u8], with: u8| {
        let mut bytes = bytes.to_vec();
        bytes.resize(bytes.len().div_ceil(4) * 4, with);
        bytes
    };
    let (json, binary) = (pad(json.as_bytes(), b' '), pad(binary, 0));
    let mut out = b"glTF\x02\0\0\0".to_vec();
    out.extend((28 + json.len() as u32 + binary.len() as u32).to_le_bytes());
    for (kind, chunk) in [(b"JSON", json), (b"BIN\0", binary)] {
        out.extend((chunk.len() as u32).to_le_bytes());
        out.extend(kind);
        out.extend(chunk);
    }
    out
}

/// One unit square of four vertices with u8 indices, under two named nodes: one moved, one mirrored and turned.
const NAMED: &str = r#"{"asset": {"version": "2.0"}, "scene": 0, "scenes": [{"nodes": [0, 3]}],
  "nodes": [{"name": "world", "scale": [2, 2, 2], "children": [1, 2]}, {"name": "A", "mesh": 0, "translation": [0, 0, 1]},
    {"name": "B", "mesh": 0, "matrix": [-1,0,0,0, 0,1,0,0, 0,0,1,0, 3,0,1,1]}, {"name": "none", "children": [4]}, {"mesh": 0}],
  "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1, "mode": 4}]}],
  "accessors": [{"bufferView": 0, "componentType": 5126, "count": 4, "type": "VEC3"}, {"bufferView": 1, "componentType": 5121, "count": 6, "type": "SCALAR"}],
  "bufferViews": [{"buffer": 0, "byteLength": 48}, {"buffer": 0, "byteOffset": 48, "byteLength": 6}], "buffers": [{"byteLength": 54}]}"#;

fn named_bytes() -> Vec<u8> {
    let square = [[0f32, 0.0, 0.0], [1.0, 0.0, 0.0], [1.0, 1.0, 0.0], [0.0, 1.0, 0.0]];
    let mut bytes: Vec<u8> = square.iter().flatten().flat_map(|x| x.to_le_bytes()).collect();
    bytes.extend([0u8, 1, 2, 0, 2, 3]);
    bytes
}

fn named(json: &str) -> [VehicleFile; 2] {
    [file("vehicle.glb", glb_of(json, &named_bytes())), file("tiles.csv", "tile,material,thickness_mm\nA,LI-900,30\nB,LI-900,30\n")]
}

#[test]
fn verif_named_nodes_with_transforms_are_tiles() {
    let shield = load(&named(NAMED), "ship").unwrap();
    let place = |i: usize| (shield.tiles[i].facet.centre, shield.tiles[i].facet.normal, shield.tiles[i].facet.area_m2);
    assert_eq!(place(0), (DVec3::new(1.0, 1.0, 2.0), DVec3::Z, 4.0));
    // x' = 2 (3 - x): mirrored, so that its corners run the other way and the normal stays.
    assert_eq!(place(1), (DVec3::new(5.0, 1.0, 2.0), DVec3::Z, 4.0));
    assert_eq!((shield.plain_area_m2, shield.warnings.len()), (1.0, 0));
    for (mode, indices) in [(5, [0u8, 1, 3, 2, 2, 2]), (6, [0, 1, 2, 3, 3, 3])] {
        let mut bytes = named_bytes();
        bytes.truncate(48);
        bytes.extend(indices);
        let json = NAMED.replace("\"mode\": 4", &format!("\"mode\": {mode}"));
        let mut files = named(&json);
        files[0].bytes = glb_of(&json, &bytes);
        let other = load(&files, "ship").unwrap();
        assert_eq!((other.tiles[0].facet.normal, other.tiles[0].facet.area_m2), (DVec3::Z, 4.0));
    }
    // The same square with its last corner put in by a sparse accessor.
    let sparse = r#""sparse": {"count": 1, "indices": {"bufferView": 1, "componentType": 5121, "byteOffset": 5}, "values": {"bufferView": 0, "byteOffset": 24}},"#;
    let json = NAMED.replacen("\"count\": 4,", &format!("\"count\": 4, {sparse}"), 1);
    // Index 3 takes the value of corner 2: the second triangle loses its area.
    assert_eq!(load(&named(&json), "ship").unwrap().tiles[0].facet.area_m2, 2.0);
    // Bytes as a data URI.
    use base64::Engine;
    let uri = format!(
        "{{\"uri\": \"data:application/octet-stream;base64,{}\", ",
        base64::engine::general_purpose::STANDARD.encode(named_bytes())
    );
    let json = NAMED.replace("[{\"byteLength\": 54", &format!("[{uri}\"byteLength\": 54"));
    assert_eq!(load(&named(&json), "ship").unwrap().tiles[1].facet, shield.tiles[1].facet);
}

#[test]
fn verif_every_broken_glb_is_named() {
    for (from, to, wants) in [
        ("\"name\": \"A\", ", "", &["nodes[1].name", "has no name"][..]),
        ("\"name\": \"A\"", "\"name\": \"Z\"", &["1 tile that tiles.csv lacks: \"Z\"", "without surface: \"A\""]),
        ("\"children\": [1, 2]", "\"children\": [1, 9]", &["nodes[9]", "no such node"]),
        ("\"children\": [1, 2]", "\"children\": [1, 2, 0]", &["nodes[0]", "stands twice"]),
        ("\"mesh\": 0, \"tr", "\"mesh\": 7, \"tr", &["nodes[1].mesh", "no mesh 7"]),
        ("\"POSITION\": 0", "\"POSITION\": 5", &["meshes[0].primitives[0].attributes.POSITION", "no accessor 5"]),
        ("\"POSITION\": 0", "\"POSITION\": 1", &["attributes.POSITION", "1 components"]),
        ("\"POSITION\": 0", "\"NORMAL\": 0", &["has no positions"]),
        ("\"count\": 4", "\"count\": 5", &["accessor 0 with 5 entries reaches beyond the 48 bytes"]),
        ("\"count\": 4", "\"count\": 4000000000000000000", &["more than the"]),
        ("\"count\": 4", "\"count\": 3", &["primitives[0].indices", "index 3 where the primitive has 3"]),
        ("\"byteLength\": 48}", "\"byteLength\": 480}", &["buffer view 0 reaches beyond the 56 bytes"]),
        ("\"byteOffset\": 48", "\"byteOffset\": 18446744073709551615", &["buffer view 1 reaches beyond"]),
        ("\"bufferView\": 0, ", "", &["accessor 0 has no data"]),
        ("{\"buffer\": 0, \"byteLength\": 48}", "{\"buffer\": 3, \"byteLength\": 48}", &["names buffer 3"]),
        ("\"buffers\": [{", "\"buffers\": [{\"uri\": \"ship.bin\", ", &["buffer 0 cannot be read", "\"ship.bin\""]),
        ("\"scene\": 0", "\"scene\": 4", &["there is no scene 4"]),
        ("\"mode\": 4", "\"mode\": 1", &["no triangle"]),
        (
            "\"asset\"",
            "\"extensionsRequired\": [\"KHR_draco_mesh_compression\"], \"asset\"",
            &["extensionsRequired[0]", "\"KHR_draco_mesh_compression\"", "without compression"],
        ),
        ("\"asset\"", "\"extensionsRequired\": [\"XX_other\"], \"asset\"", &["extensionsRequired[0]", "\"XX_other\"", "EXT_mesh_features"]),
        ("\"translation\": [0, 0, 1]", "\"translation\": [0, 0, 1e30]", &["coordinates that no vehicle has", "tile \"A\""]),
        ("{\"asset\"", "[\"asset\"", &["not valid glTF 2.0"]),
    ] {
        assert!(NAMED.contains(from), "{from}");
        let error = told(&named(&NAMED.replacen(from, to, 1)));
        for want in wants {
            assert!(error.contains(want), "{want} in {error:?}");
        }
    }
    let good = row_glb(true);
    for (from, to, wants) in [
        ("\"propertyTable\":0", "\"propertyTable\":8", &["propertyTables[8]"][..]),
        ("\"attribute\":0", "\"attribute\":1", &["EXT_mesh_features", "\"attribute\": 0"]),
        ("\"componentType\":\"FLOAT64\"", "\"componentType\":\"FLOAT99\"", &["properties.thickness_mm", "FLOAT99"]),
        ("\"type\":\"STRING\"", "\"type\":\"STRUNG\"", &["properties.", "STRUNG"]),
        ("\"stringOffsets\":", "\"stringOffset_\":", &["stringOffsets names no buffer view"]),
        ("\"nullFeatureId\":65535", "\"nullFeatureId\":65534", &["feature id 65535"]),
    ] {
        let start = good.windows(from.len()).position(|window| window == from.as_bytes());
        let start = start.unwrap_or_else(|| panic!("{from}"));
        let mut bytes = good.clone();
        bytes[start..start + from.len()].copy_from_slice(to.as_bytes());
        let error = told(&[file("vehicle.glb", bytes)]);
        for want in wants {
            assert!(error.contains(want), "{want} in {error:?}");
        }
    }
    for cut in 0..good.len() {
        assert_ne!(told(&[file("vehicle.glb", &good[..cut])]), "", "{cut}");
    }
}

#[test]
fn verif_a_zip_bomb_stops_at_the_cap() {
    let bomb = file("vehicle.obj", vec![b'\n'; super::files::UNPACKED_BYTES as usize + 1]);
    let zip = zip_of(&[bomb], "");
    assert!(zip.bytes.len() < 1 << 20);
    assert!(told(&[zip]).contains("bytes unpacked"));
}

/// The demonstration, and that its mirror symmetry survives the loader: every tile knows its neighbours.
#[test]
fn verif_the_demonstration_loads() {
    let files = demo::files();
    let shield = load(&files, demo::NAME).map_err(|error| error.to_string()).unwrap();
    assert!(shield.tiles.len() > 2000);
    assert_eq!(shield.warnings, Vec::<String>::new());
    for tile in &shield.tiles {
        assert!(tile.neighbours.len() >= 2 && tile.neighbours.len() <= 16, "{}: {:?}", tile.id, tile.neighbours);
        for other in &tile.neighbours {
            assert!(shield.tiles[*other as usize].neighbours.len() > 1);
        }
    }
}

/// A table of body points with its header.
fn body_points(rows: &str) -> String {
    format!("x_m,y_m,z_m,angle_of_attack_deg,sideslip_deg,mach,regime,factor,reference_radius_m\n{rows}")
}

/// Three points of one laminar state.
fn three(state: &str) -> String {
    ["0,0,0", "1,0,0", "0,1,0"].map(|place| format!("{place},{state},laminar,0.5,1\n")).concat()
}
