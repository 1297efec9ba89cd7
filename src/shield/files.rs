//! Which of the given files belong to the vehicle: a folder's, a zip's or a single GLB; and the digest over them.

use super::VehicleFile;
use super::surface::first_ten;
use crate::document::{Error, Problems};
use sha2::{Digest, Sha256};
use std::io::{Cursor, Read};

/// The files of a vehicle, in the order that the digest takes them.
pub const TABLE: [&str; 8] =
    ["vehicle.glb", "vehicle.obj", "tiles.csv", "stacks.json", "materials.json", "body_points.csv", "findings.csv", "flight_data.csv"];

/// A zip's files together are at most this long unpacked.
pub const UNPACKED_BYTES: u64 = 256 << 20;
/// A zip has at most so many entries.
const ENTRIES: usize = 10_000;

/// The vehicle's own files in the order of `TABLE`.
#[derive(Debug, Clone, PartialEq)]
pub struct Files {
    pub list: Vec<VehicleFile>,
}

impl Files {
    /// Sorts out what was given: one zip is unpacked, one GLB of any name is `vehicle.glb`, and of several files those count that carry a
    /// name of `TABLE` and lie in the folder of the vehicle's surface. All others are ignored with a warning that names them, but for
    /// `scenario.json` and hidden files.
    pub fn pick(files: &[VehicleFile], warnings: &mut Vec<String>) -> Result<Files, Error> {
        let files = match files {
            [only] if only.bytes.starts_with(b"PK") => unpack(only)?,
            [only] if !only.bytes.is_empty() && (only.bytes.starts_with(b"glTF") || only.name.to_ascii_lowercase().ends_with(".glb")) => {
                return Ok(Files { list: vec![VehicleFile { name: TABLE[0].to_string(), bytes: only.bytes.clone() }] });
            }
            _ => files.to_vec(),
        };
        let mut problems = Problems::default();
        let paths: Vec<String> = files.iter().map(|file| file.name.replace('\\', "/").trim_start_matches("./").to_string()).collect();
        let hidden = |path: &str| path.split('/').any(|part| part.starts_with('.') || part == "__MACOSX");
        // The folder of the surface that lies highest.
        let folder = |path: &str| path.rfind('/').map_or(String::new(), |end| path[..=end].to_string());
        let surfaces = paths.iter().filter(|path| !hidden(path) && TABLE[..2].contains(&base(path)));
        let Some(home) = surfaces.map(|path| folder(path)).min_by_key(|folder| folder.matches('/').count()) else {
            let names: Vec<String> = paths.iter().filter(|path| !hidden(path)).map(|path| format!("{path:?}")).collect();
            let given = if names.is_empty() { "no file".to_string() } else { first_ten(&names) };
            problems.at_key("", format!("no vehicle.glb or vehicle.obj among {given}"), TABLE.join(", "));
            return Err(problems.into_error());
        };
        let mut list = Vec::new();
        let mut taken = vec![false; files.len()];
        for name in TABLE {
            let mut found = (0..files.len()).filter(|i| paths[*i] == format!("{home}{name}"));
            if let Some(i) = found.next() {
                taken[i] = true;
                list.push(VehicleFile { name: name.to_string(), bytes: files[i].bytes.clone() });
            }
            if let Some(i) = found.next() {
                taken[i] = true;
                problems.at_key("", format!("the file {:?} stands twice", paths[i]), "each file once");
            }
        }
        if list.iter().filter(|file| TABLE[..2].contains(&file.name.as_str())).count() > 1 {
            problems.at_key("", "both vehicle.glb and vehicle.obj are there", "one surface");
        }
        let depth = |path: &str| path.matches('/').count();
        let second = paths.iter().find(|path| {
            !hidden(path) && TABLE[..2].contains(&base(path)) && folder(path) != home && depth(path) == home.matches('/').count()
        });
        if let Some(second) = second {
            problems.at_key("", format!("two vehicles: in {home:?} and at {second:?}"), "one vehicle");
        }
        let ignored: Vec<String> = (0..files.len())
            .filter(|i| !taken[*i] && !hidden(&paths[*i]) && base(&paths[*i]) != "scenario.json")
            .map(|i| format!("{:?}", paths[i]))
            .collect();
        if !ignored.is_empty() {
            warnings.push(format!("files ignored: {}; a vehicle is made of {}", first_ten(&ignored), TABLE.join(", ")));
        }
        problems.or_ok(Files { list })
    }

    pub fn find(&self, name: &str) -> Option<&VehicleFile> {
        self.list.iter().find(|file| file.name == name)
    }

    /// SHA-256 in hex over the vehicle's files in the order of `TABLE`, for each its name (UTF-8, without folder), a zero byte, its length
    /// in bytes (8 bytes, little endian) and its bytes. A single GLB counts as `vehicle.glb`.
    pub fn digest(&self) -> String {
        let mut sum = Sha256::new();
        for file in &self.list {
            sum.update(file.name.as_bytes());
            sum.update([0]);
            sum.update((file.bytes.len() as u64).to_le_bytes());
            sum.update(&file.bytes);
        }
        sum.finalize().iter().map(|byte| format!("{byte:02x}")).collect()
    }
}

impl VehicleFile {
    /// Whether a file of this name, without folder, is one that a vehicle is made of.
    pub fn belongs(name: &str) -> bool {
        TABLE.contains(&name)
    }
}

fn base(path: &str) -> &str {
    path.rsplit('/').next().unwrap_or(path)
}

/// The files of a zip. Only those with a vehicle file's name are unpacked; the others keep their names, for the warning.
fn unpack(file: &VehicleFile) -> Result<Vec<VehicleFile>, Error> {
    let mut problems = Problems::of(&file.name);
    let mut archive = match zip::ZipArchive::new(Cursor::new(file.bytes.as_slice())) {
        Ok(archive) => archive,
        Err(error) => {
            problems.at_key("", format!("not a readable zip: {error}"), "a zip of the vehicle's folder");
            return Err(problems.into_error());
        }
    };
    if archive.len() > ENTRIES {
        problems.at_key("", format!("{} entries", archive.len()), format!("{ENTRIES} at most"));
        return Err(problems.into_error());
    }
    let mut files = Vec::new();
    let mut left = UNPACKED_BYTES;
    for i in 0..archive.len() {
        let (name, read) = match archive.by_index(i) {
            Ok(entry) if entry.is_dir() => continue,
            Ok(entry) => {
                let name = entry.name().replace('\\', "/");
                let mut bytes = Vec::new();
                let wanted = TABLE.contains(&base(&name));
                // What an entry says of its length is not trusted: reading stops at the cap.
                let read = if wanted { entry.take(left + 1).read_to_end(&mut bytes).map(|_| bytes) } else { Ok(bytes) };
                (name, read.map_err(|error| error.to_string()))
            }
            Err(error) => (format!("entry {i}"), Err(error.to_string())),
        };
        match read {
            Ok(bytes) if bytes.len() as u64 > left => {
                problems.at_key(name, format!("more than {UNPACKED_BYTES} bytes unpacked"), "a smaller vehicle");
                return Err(problems.into_error());
            }
            Ok(bytes) => {
                left -= bytes.len() as u64;
                files.push(VehicleFile { name, bytes });
            }
            Err(what) => problems.at_key(name, format!("cannot be unpacked: {what}"), "stored or deflated entries without a password"),
        }
    }
    problems.or_ok(files)
}
