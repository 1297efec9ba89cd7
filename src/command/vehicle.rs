//! A vehicle's files from the disk, for the loader to judge.

use crate::document::{Error, Problems};
use crate::shield::VehicleFile;
use std::path::Path;

/// A single file larger than this is not read, in bytes.
const FILE_BYTES: u64 = 1 << 30;

/// The files of a folder (not of those below it), or the one file that `path` names, and the label that the vehicle takes from it.
///
/// Of a folder only the bytes of files that a vehicle is made of are read; the others come with their names alone, so that the loader can
/// say what it ignores. Files come in the order of their names. A missing path, an unreadable or a very large file is bad input.
pub fn read_vehicle(path: &Path) -> Result<(Vec<VehicleFile>, String), Error> {
    let shown = path.display().to_string();
    let mut problems = Problems::of(shown.clone());
    let wrong = |mut problems: Problems, what: String| {
        problems.at_key("", what, "a readable folder, zip or GLB");
        Err(problems.into_error())
    };
    let about = match std::fs::metadata(path) {
        Ok(about) => about,
        Err(error) => return wrong(problems, format!("the vehicle cannot be read: {error}")),
    };
    let full = path.canonicalize().unwrap_or_else(|_| path.to_path_buf());
    let label = if about.is_dir() { full.file_name() } else { full.file_stem() };
    let label = label.map_or(shown, |name| name.to_string_lossy().into_owned());
    if about.is_file() {
        let name = path.file_name().map_or(String::new(), |name| name.to_string_lossy().into_owned());
        return match read_file(path, about.len()) {
            Ok(bytes) => Ok((vec![VehicleFile { name, bytes }], label)),
            Err(what) => wrong(problems, what),
        };
    }
    let entries = match std::fs::read_dir(path) {
        Ok(entries) => entries,
        Err(error) => return wrong(problems, format!("the vehicle cannot be read: {error}")),
    };
    let mut files = Vec::new();
    for entry in entries.flatten() {
        // Following links, as the user would expect of a folder.
        let Ok(about) = std::fs::metadata(entry.path()) else { continue };
        if !about.is_file() {
            continue;
        }
        let name = entry.file_name().to_string_lossy().into_owned();
        let bytes = if VehicleFile::belongs(&name) { read_file(&entry.path(), about.len()) } else { Ok(Vec::new()) };
        match bytes {
            Ok(bytes) => files.push(VehicleFile { name, bytes }),
            Err(what) => problems.at_key(name, what, "a readable file"),
        }
    }
    files.sort_by(|a, b| a.name.cmp(&b.name));
    problems.or_ok((files, label))
}

fn read_file(path: &Path, length: u64) -> Result<Vec<u8>, String> {
    if length > FILE_BYTES {
        return Err(format!("{length} bytes, where at most {FILE_BYTES} are read"));
    }
    std::fs::read(path).map_err(|error| format!("cannot be read: {error}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_a_folder_gives_its_own_files_and_names_the_others() {
        let folder = tempfile::tempdir().unwrap();
        let home = folder.path().join("ship");
        std::fs::create_dir_all(home.join("below")).unwrap();
        for (name, text) in [("tiles.csv", "a"), ("vehicle.obj", "b"), ("large.mov", "c"), ("below/tiles.csv", "d")] {
            std::fs::write(home.join(name), text).unwrap();
        }
        let (files, label) = read_vehicle(&home).unwrap();
        let got: Vec<_> = files.iter().map(|file| (file.name.as_str(), file.bytes.as_slice())).collect();
        assert_eq!(got, [("large.mov", &b""[..]), ("tiles.csv", b"a"), ("vehicle.obj", b"b")]);
        assert_eq!(label, "ship");
        let (files, label) = read_vehicle(&home.join("vehicle.obj")).unwrap();
        assert_eq!((files.len(), files[0].name.as_str(), label.as_str()), (1, "vehicle.obj", "vehicle"));
        let error = read_vehicle(&home.join("absent.zip")).unwrap_err();
        assert!(error.exit_code() == 2 && error.to_string().contains("absent.zip"), "{error}");
    }
}
