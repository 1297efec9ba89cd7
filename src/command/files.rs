//! Reading inputs and writing results: a result stands whole under its name, or not at all.

use crate::document::Error;
use crate::document::json::Json;
use crate::report::digest::sha256;
use std::ffi::OsString;
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};

/// The file in a result folder that lists what an earlier run wrote there: name and SHA-256 a line.
const LEDGER: &str = ".tileglow";

fn shown(path: &Path) -> String {
    format!("{:?}", path.display().to_string())
}

/// A file's bytes; a missing file or a folder is bad input.
pub fn read(path: &Path) -> Result<Vec<u8>, Error> {
    if path.is_dir() {
        return Err(Error::bad(format!("{} is a folder", shown(path)), "a file"));
    }
    std::fs::read(path).map_err(|error| Error::bad(format!("cannot read {}: {error}", shown(path)), "a file that can be read"))
}

/// A file's text; other than UTF-8 is bad input.
pub fn read_text(path: &Path) -> Result<String, Error> {
    String::from_utf8(read(path)?).map_err(|error| Error::bad(format!("{} is not UTF-8 text: {error}", shown(path)), "UTF-8"))
}

/// Writes to stdout. A reader that hangs up early is no failure.
pub fn print(text: &str) -> Result<(), Error> {
    let mut out = std::io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() != ErrorKind::BrokenPipe => Err(Error::failed(format!("cannot write to stdout: {error}"))),
        _ => Ok(()),
    }
}

/// Warnings on stderr, counted; nothing where there are none.
pub fn warn(warnings: &[String]) {
    for (i, warning) in warnings.iter().enumerate() {
        eprintln!("warning {} of {}: {warning}", i + 1, warnings.len());
    }
}

/// Writes a file whole: under another name beside it first, then renamed. A folder, or a missing parent, is bad input.
pub fn write(path: &Path, bytes: &[u8]) -> Result<(), Error> {
    if path.is_dir() {
        return Err(Error::bad(format!("{} is a folder", shown(path)), "the name of a file"));
    }
    let Some(name) = path.file_name() else {
        return Err(Error::bad(format!("{} names no file", shown(path)), "the name of a file"));
    };
    let mut beside = OsString::from(".");
    beside.push(name);
    beside.push(format!(".{}.part", std::process::id()));
    let part = path.with_file_name(beside);
    let written = std::fs::write(&part, bytes).and_then(|()| std::fs::rename(&part, path));
    written.map_err(|error| {
        let _ = std::fs::remove_file(&part);
        let what = format!("cannot write {}: {error}", shown(path));
        if error.kind() == ErrorKind::NotFound { Error::bad(what, "a file in a folder that exists") } else { Error::failed(what) }
    })
}

/// To `out` where it is given, else to stdout. `out` may not be one of the run's own `inputs`.
pub fn deliver(out: Option<&Path>, inputs: &[&Path], text: &str) -> Result<(), Error> {
    let Some(out) = out else { return print(text) };
    let same = |input: &&Path| matches!((input.canonicalize(), out.canonicalize()), (Ok(a), Ok(b)) if a == b);
    if inputs.iter().any(same) {
        return Err(Error::bad(format!("--out {} is the input itself", shown(out)), "another file"));
    }
    write(out, text.as_bytes())
}

/// The digest of a document in canonical JSON.
pub fn digest_of(json: &Json) -> String {
    sha256(json.canonical().as_bytes())
}

/// A folder that results go into: missing, empty, or one whose every file an earlier run wrote. Nothing in it is ever deleted.
#[derive(Debug)]
pub struct Folder {
    path: PathBuf,
    /// What earlier runs wrote, and what this one adds.
    ledger: Vec<(String, String)>,
}

impl Folder {
    /// Checks `path`, which is made at the first write; a file, or a file of another origin in it, is bad input.
    pub fn open(path: &Path) -> Result<Folder, Error> {
        let accepted = "a missing or empty folder, or one whose every file an earlier run wrote";
        let failed = |error: std::io::Error| Error::bad(format!("cannot use {}: {error}", shown(path)), accepted);
        if path.exists() && !path.is_dir() {
            return Err(Error::bad(format!("{} is no folder", shown(path)), accepted));
        }
        let mut ledger = Vec::new();
        if path.exists() {
            let text = std::fs::read_to_string(path.join(LEDGER)).unwrap_or_default();
            ledger
                .extend(text.lines().filter_map(|line| line.split_once("  ")).map(|(digest, name)| (name.to_string(), digest.to_string())));
            let mut names = Vec::new();
            for item in std::fs::read_dir(path).map_err(failed)? {
                names.push(item.map_err(failed)?.file_name());
            }
            names.sort();
            for name in names.iter().filter(|name| *name != LEDGER) {
                let bytes = std::fs::read(path.join(name)).ok();
                let known = ledger.iter().any(|(known, sum)| name == known.as_str() && bytes.as_deref().map(sha256).as_ref() == Some(sum));
                if !known {
                    let what = format!("{} holds {:?}, which no earlier run wrote so", shown(path), name.display().to_string());
                    return Err(Error::bad(what, accepted));
                }
            }
        }
        Ok(Folder { path: path.to_path_buf(), ledger })
    }

    /// Writes all files of a run. The ledger is written first, so that a run that breaks off can be repeated into the same folder.
    pub fn write(&mut self, files: &[(&str, &[u8])]) -> Result<(), Error> {
        std::fs::create_dir_all(&self.path)
            .map_err(|error| Error::bad(format!("cannot make {}: {error}", shown(&self.path)), "a folder that can be made"))?;
        let before = self.ledger.clone();
        for (name, bytes) in files {
            self.ledger.retain(|(known, _)| known != name);
            self.ledger.push((name.to_string(), sha256(bytes)));
        }
        // Until all stand, a file may be the earlier run's or this one's.
        let both: Vec<_> = before.iter().chain(&self.ledger).collect();
        write(&self.path.join(LEDGER), text_of(&both).as_bytes())?;
        for (name, bytes) in files {
            write(&self.path.join(name), bytes)?;
        }
        write(&self.path.join(LEDGER), text_of(&self.ledger.iter().collect::<Vec<_>>()).as_bytes())
    }
}

fn text_of(ledger: &[&(String, String)]) -> String {
    ledger.iter().map(|(name, digest)| format!("{digest}  {name}\n")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_a_folder_of_another_origin_is_left_alone() {
        let root = tempfile::tempdir().unwrap();
        let path = root.path().join("out");
        Folder::open(&path).unwrap().write(&[("a.csv", b"1"), ("b.csv", b"2")]).unwrap();
        Folder::open(&path).unwrap().write(&[("a.csv", b"3")]).unwrap();
        assert_eq!(std::fs::read(path.join("a.csv")).unwrap(), b"3");
        Folder::open(&path).unwrap();
        std::fs::write(path.join("b.csv"), b"edited").unwrap();
        assert!(Folder::open(&path).unwrap_err().to_string().contains("b.csv"));
        std::fs::write(path.join("b.csv"), b"2").unwrap();
        std::fs::write(path.join("notes.txt"), b"mine").unwrap();
        assert!(Folder::open(&path).unwrap_err().to_string().contains("notes.txt"));
        assert_eq!(std::fs::read(path.join("notes.txt")).unwrap(), b"mine");
        assert!(Folder::open(&path.join("a.csv")).is_err());
    }

    #[test]
    fn verif_a_failed_write_leaves_nothing() {
        let root = tempfile::tempdir().unwrap();
        assert_eq!(write(root.path(), b"x").unwrap_err().exit_code(), 2);
        assert_eq!(write(&root.path().join("no/such"), b"x").unwrap_err().exit_code(), 2);
        assert_eq!(std::fs::read_dir(root.path()).unwrap().count(), 0);
    }
}
