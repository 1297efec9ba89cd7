//! `tileglow demo`: writes the demonstration vehicle, its scenario and its findings.

use super::files::Folder;
use crate::document::Error;
use crate::shield::demo;
use std::path::PathBuf;

#[derive(clap::Args)]
pub struct Args {
    /// A missing or empty folder, or one that an earlier run wrote
    #[arg(value_name = "DIR")]
    pub folder: PathBuf,
}

pub fn run(args: Args) -> Result<(), Error> {
    let mut folder = Folder::open(&args.folder)?;
    let (vehicle, scenario) = (demo::files(), demo::scenario_json());
    let mut files: Vec<(&str, &[u8])> = vehicle.iter().map(|file| (file.name.as_str(), file.bytes.as_slice())).collect();
    files.push(("scenario.json", scenario.as_bytes()));
    folder.write(&files)?;
    eprintln!(
        "{}: {} and the scenario written to {}",
        demo::NAME,
        vehicle.iter().map(|f| f.name.as_str()).collect::<Vec<_>>().join(", "),
        args.folder.display()
    );
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_writes_twice_and_refuses_a_folder_with_other_files() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("whinchat");
        run(Args { folder: path.clone() }).unwrap();
        run(Args { folder: path.clone() }).unwrap();
        for file in demo::files() {
            assert!(std::fs::read(path.join(&file.name)).unwrap() == file.bytes, "{}", file.name);
        }
        assert_eq!(std::fs::read_to_string(path.join("scenario.json")).unwrap(), demo::scenario_json());
        std::fs::write(path.join("own.txt"), "mine").unwrap();
        assert_eq!(run(Args { folder: path.clone() }).unwrap_err().exit_code(), 2);
        assert!(path.join("own.txt").exists());
    }
}
