//! A flight as documents carry it: an entry to be flown, or a trajectory flown elsewhere.

use super::{Course, Entry, Trajectory, entry, fly, import, trajectory};
use crate::document::{Error, Json, Problems};

impl Course {
    /// Reads a file's text, JSON of either format.
    pub fn parse(file: &str, text: &str) -> Result<Course, Error> {
        let json = Json::parse(file, text)?;
        let mut problems = Problems::of(file);
        match Course::read(&json, "", &mut problems) {
            Some(course) => problems.or_ok(course),
            None => Err(problems.into_error()),
        }
    }

    /// Reads a node at `path` within a document; `None` after any problem was told.
    pub fn read(node: &Json, path: &str, problems: &mut Problems) -> Option<Course> {
        let format = node.get("format").and_then(Json::as_text);
        if format == Some(trajectory::FORMAT) {
            return import::read_json(node, path, problems).map(Course::Imported);
        }
        if format != Some(entry::FORMAT) && matches!(node, Json::Object(_)) {
            let key = if path.is_empty() { "format".to_string() } else { format!("{path}.format") };
            let what = match node.get("format") {
                Some(other) => format!("{} is not a format this version reads here", other.quoted()),
                None => "the key \"format\" is missing".to_string(),
            };
            problems.at_key(key, what, format!("{:?} or {:?}", entry::FORMAT, trajectory::FORMAT));
            return None;
        }
        Entry::read(node, path, problems).map(Course::Entry)
    }

    pub fn to_json(&self) -> Json {
        match self {
            Course::Entry(entry) => entry.to_json(),
            Course::Imported(trajectory) => trajectory.to_json(),
        }
    }

    /// The samples: flown, or as imported.
    pub fn fly(&self) -> Result<Trajectory, Error> {
        match self {
            Course::Entry(entry) => fly(entry),
            Course::Imported(trajectory) => Ok(trajectory.clone()),
        }
    }
}
