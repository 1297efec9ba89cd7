//! The editable table behind the work: what a task takes, and which tasks a disposition sets off. Shipped rows are invented; a scenario's replace them.

use crate::assess::Disposition;
use crate::document::Sorting as _;
use crate::document::json::{self, Range};
use crate::document::{Error, Json, Object, Problems};
use crate::scenario::WorkChoices;
use crate::shield::findings::KINDS;

const SHIPPED: &str = include_str!("../../../assets/work.json");
/// The format key of the shipped table.
pub const FORMAT: &str = "tileglow-work/1";
/// The word that calls for waterproofing, besides the dispositions.
pub const WATERPROOF: &str = "waterproof";
/// Most hours that a rate may have.
const HOURS: Range = Range::between(0.0, 10_000.0);

/// What one task takes. Either people touch it, or it cures and nobody does.
#[derive(Debug, Clone, PartialEq)]
pub struct Task {
    pub task: String,
    /// Index into [`Rates::skills`].
    pub skill: usize,
    /// Person-hours a tile, joint or finding.
    pub touch_h: f64,
    /// Person-hours once a job.
    pub setup_h: f64,
    /// Hours in which nobody works on it.
    pub cure_h: f64,
    /// People who do it together; 0 for a cure.
    pub people: u32,
    /// An agent or a cure keeps everybody else out of the zone.
    pub clears_area: bool,
    pub source: String,
}

/// One step of a procedure: a task, and the steps of the same procedure that must be done before.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Step {
    /// Index into [`Rates::tasks`].
    pub task: usize,
    /// Indices of earlier steps.
    pub after: Vec<usize>,
}

/// What a disposition sets off for some kinds of finding.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Procedure {
    pub procedure: String,
    /// A disposition's word, or [`WATERPROOF`].
    pub disposition: String,
    /// Empty: every kind.
    pub kinds: Vec<String>,
    pub steps: Vec<Step>,
    pub source: String,
}

/// Tasks, procedures and skills, whole and checked: every step names a task, and no task needs more people than there are.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Rates {
    pub tasks: Vec<Task>,
    pub procedures: Vec<Procedure>,
    /// Names of skills in the order of their first task.
    pub skills: Vec<String>,
}

impl Rates {
    /// The shipped table with a scenario's rows in it.
    ///
    /// # Errors
    /// Bad input that names each wrong row by its path: an unknown key, kind, disposition or task, a step after a later one, a task of
    /// more people than the crew or its skill has, a limit on a skill that no task asks for.
    pub fn of(choices: &WorkChoices) -> Result<Rates, Error> {
        let mut problems = Problems::of("scenario");
        let mut rates = Rates::default();
        let mut shipped = Problems::of("assets/work.json");
        let document = Json::parse("assets/work.json", SHIPPED)?;
        let rows = |key: &str| match document.get(key) {
            Some(Json::List(rows)) => rows.clone(),
            _ => Vec::new(),
        };
        rates.add_tasks(&rows("tasks"), "tasks", &mut shipped);
        rates.add_tasks(&choices.tasks, "work.tasks", &mut problems);
        rates.add_procedures(&rows("procedures"), "procedures", &mut shipped);
        rates.add_procedures(&choices.procedures, "work.procedures", &mut problems);
        problems.list.extend(shipped.list);
        rates.check_crew(choices, &mut problems);
        problems.or_ok(rates)
    }

    fn add_tasks(&mut self, rows: &[Json], path: &str, p: &mut Problems) {
        let mut named: Vec<String> = Vec::new();
        for (i, node) in rows.iter().enumerate() {
            let before = p.list.len();
            let Some(mut row) = Object::open(node, format!("{path}[{i}]"), p) else { continue };
            let name = row.text("task", p);
            twice(&mut named, &name, &row.path_of("task"), p);
            let skill = row.text_or("skill", "", p);
            let (touch_h, setup_h) = (row.number_or("touch_h", HOURS, 0.0, p), row.number_or("setup_h", HOURS, 0.0, p));
            let cure_h = row.number_or("cure_h", HOURS, 0.0, p);
            let people = row.number_or("people", Range::between(1.0, 100.0), 1.0, p);
            if people.fract() != 0.0 {
                p.at_key(row.path_of("people"), format!("{people} is no whole number"), "a whole number of people from 1");
            }
            let clears_area = flag(&mut row, "clears_area", p);
            let source = row.text_or("source", "the user's own", p);
            let path = row.path_of("task");
            row.finish(p);
            let touched = touch_h > 0.0 || setup_h > 0.0;
            if name.is_empty() {
                p.at_key(&path, "the task has no name", "a name");
            }
            if touched == (cure_h > 0.0) {
                let what = format!("the task {name:?} has touch hours {touch_h} and {setup_h} and cure hours {cure_h}");
                p.at_key(&path, what, "either touch_h or setup_h above 0, or cure_h above 0; a cure after work is a task of its own");
            }
            if touched && skill.is_empty() {
                p.at_key(&path, format!("the task {name:?} names no skill"), "\"skill\": who does it");
            }
            if p.list.len() > before {
                continue;
            }
            let skill = match self.skills.iter().position(|known| *known == skill) {
                Some(skill) => skill,
                None => {
                    self.skills.push(skill);
                    self.skills.len() - 1
                }
            };
            let people = if touched { people as u32 } else { 0 };
            let task = Task { task: name, skill, touch_h, setup_h, cure_h, people, clears_area, source };
            match self.tasks.iter_mut().find(|known| known.task == task.task) {
                Some(known) => *known = task,
                None => self.tasks.push(task),
            }
        }
    }

    fn add_procedures(&mut self, rows: &[Json], path: &str, p: &mut Problems) {
        let mut words: Vec<&str> = Disposition::ALL.iter().map(|disposition| disposition.word()).collect();
        words.push(WATERPROOF);
        let mut named: Vec<String> = Vec::new();
        let mut own = Vec::new();
        for (i, node) in rows.iter().enumerate() {
            let before = p.list.len();
            let Some(mut row) = Object::open(node, format!("{path}[{i}]"), p) else { continue };
            let procedure = row.text("procedure", p);
            twice(&mut named, &procedure, &row.path_of("procedure"), p);
            let disposition = row.word("disposition", &words, p).unwrap_or_default();
            let kinds_path = row.path_of("kinds");
            let kinds: Vec<String> = row
                .optional("kinds")
                .map_or(&[][..], |node| json::list(node, &kinds_path, p))
                .iter()
                .enumerate()
                .filter_map(|(j, node)| json::word(node, &format!("{kinds_path}[{j}]"), &KINDS, p))
                .collect();
            let steps_path = row.path_of("steps");
            let list = row.required("steps", p).map_or(&[][..], |node| json::list(node, &steps_path, p));
            let mut steps: Vec<Step> = Vec::new();
            for (j, node) in list.iter().enumerate() {
                steps.extend(self.step(node, &steps, &format!("{steps_path}[{j}]"), p));
            }
            let source = row.text_or("source", "the user's own", p);
            row.finish(p);
            if p.list.len() == before {
                own.push(Procedure { procedure, disposition, kinds, steps, source });
            }
        }
        // New rows stand in front: the first that fits is taken.
        own.retain(|row| match self.procedures.iter_mut().find(|known| known.procedure == row.procedure) {
            Some(known) => {
                *known = row.clone();
                false
            }
            None => true,
        });
        own.append(&mut self.procedures);
        self.procedures = own;
    }

    fn step(&self, node: &Json, earlier: &[Step], path: &str, p: &mut Problems) -> Option<Step> {
        if let Json::Text(name) = node {
            let task = self.known(name, path, p)?;
            return Some(Step { task, after: earlier.len().checked_sub(1).into_iter().collect() });
        }
        let mut row = Object::open(node, path, p)?;
        let name = row.text("task", p);
        let after_path = row.path_of("after");
        let after = row.required("after", p).map_or(&[][..], |node| json::list(node, &after_path, p));
        row.finish(p);
        let mut steps = Vec::new();
        for (i, node) in after.iter().enumerate() {
            let at = format!("{after_path}[{i}]");
            let Some(name) = json::text(node, &at, p) else { continue };
            match earlier.iter().rposition(|step| self.tasks[step.task].task == name) {
                Some(step) => steps.push(step),
                None => p.at_key(at, format!("{name:?} is no earlier step of this procedure"), "the task of a step above"),
            }
        }
        steps.order();
        steps.dedup();
        Some(Step { task: self.known(&name, &format!("{path}.task"), p)?, after: steps })
    }

    /// The index of a task, or a problem that lists them.
    fn known(&self, name: &str, path: &str, p: &mut Problems) -> Option<usize> {
        let found = self.tasks.iter().position(|task| task.task == name);
        if found.is_none() {
            let known: Vec<&str> = self.tasks.iter().map(|task| task.task.as_str()).collect();
            p.at_key(path, format!("{name:?} is no task"), known.join(", "));
        }
        found
    }

    fn check_crew(&self, choices: &WorkChoices, p: &mut Problems) {
        for (skill, limit) in &choices.skills {
            if !self.skills.contains(skill) {
                let known: Vec<&str> = self.skills.iter().map(String::as_str).filter(|skill| !skill.is_empty()).collect();
                p.at_key(format!("work.skills.{skill}"), format!("no task asks for {skill:?} (limit {limit})"), known.join(", "));
            }
        }
        let crew = self.crew(choices);
        for task in &self.tasks {
            let most = crew.most(task.skill);
            if task.people > most {
                let what = format!("the task {:?} takes {} people, and {most} are there for it", task.task, task.people);
                p.at_key("work.people", what, format!("{} people at least, or another rate in work.tasks", task.people));
            }
        }
    }

    /// The crew as the timetable counts it.
    pub fn crew(&self, choices: &WorkChoices) -> super::schedule::Crew {
        let by_skill = self.skills.iter().map(|skill| choices.skills.get(skill).map(|limit| *limit as u32)).collect();
        super::schedule::Crew { people: choices.people, by_skill }
    }

    /// The first procedure that fits.
    pub fn procedure(&self, disposition: &str, kind: &str) -> Option<usize> {
        let fits =
            |row: &Procedure| row.disposition == disposition && (row.kinds.is_empty() || row.kinds.iter().any(|known| known == kind));
        self.procedures.iter().position(fits)
    }
}

fn twice(named: &mut Vec<String>, name: &str, path: &str, p: &mut Problems) {
    if named.iter().any(|earlier| earlier == name) {
        p.at_key(path, format!("the name {name:?} stands twice"), "each name once");
    }
    named.push(name.to_string());
}

fn flag(row: &mut Object, key: &'static str, p: &mut Problems) -> bool {
    let path = row.path_of(key);
    match row.optional(key) {
        None => false,
        Some(Json::Bool(value)) => *value,
        Some(other) => {
            p.at_key(path, format!("{} is neither true nor false", other.quoted()), "true, false");
            false
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn choices(tasks: &str, procedures: &str) -> WorkChoices {
        let rows = |text: &str| match Json::parse("t", text).unwrap() {
            Json::List(rows) => rows,
            _ => Vec::new(),
        };
        WorkChoices { tasks: rows(tasks), procedures: rows(procedures), ..WorkChoices::default() }
    }

    #[test]
    fn verif_the_shipped_table_is_whole_and_says_that_it_is_invented() {
        let rates = Rates::of(&WorkChoices::default()).unwrap();
        assert!(rates.tasks.iter().all(|task| task.source.starts_with("invented for the demonstration")));
        assert!(rates.procedures.iter().all(|row| row.source.starts_with("invented for the demonstration")));
        for word in Disposition::ALL.iter().map(|d| d.word()).chain([WATERPROOF]).filter(|word| *word != "fly-as-is") {
            for kind in KINDS {
                assert!(rates.procedure(word, kind).is_some(), "{word} {kind}");
            }
        }
        assert_eq!(rates.procedure("fly-as-is", "chip"), None);
        assert_eq!(Json::parse("w", SHIPPED).unwrap().get("format"), Some(&Json::text(FORMAT)));
        for step in rates.procedures.iter().flat_map(|row| row.steps.iter().enumerate()) {
            assert!(step.1.after.iter().all(|before| *before < step.0));
        }
    }

    #[test]
    fn verif_rows_replace_join_or_are_refused_with_their_path() {
        let rates = Rates::of(&choices(
            r#"[{"task":"bond","skill":"bonder","touch_h":3,"source":"shop 7"}, {"task":"weigh","skill":"inspector","touch_h":0.2}]"#,
            r#"[{"procedure":"weigh all","disposition":"replace","steps":["weigh", {"task":"remove","after":[]}, {"task":"inspect","after":["weigh","remove"]}]}]"#,
        ))
        .unwrap();
        let bond = rates.tasks.iter().find(|task| task.task == "bond").unwrap();
        assert_eq!((bond.touch_h, bond.people, bond.source.as_str()), (3.0, 1, "shop 7"));
        let steps = &rates.procedures[rates.procedure("replace", "missing-tile").unwrap()].steps;
        assert_eq!(steps.iter().map(|step| step.after.clone()).collect::<Vec<_>>(), [vec![], vec![], vec![0, 1]]);
        let cases = [
            (r#"[{"task":"bond","skil":"x","touch_h":1}]"#, "[]", "work.tasks[0].skil"),
            (r#"[{"task":"bond","skill":"x","touch_h":1,"cure_h":2}]"#, "[]", "either touch_h"),
            (r#"[{"task":"bond","touch_h":1}]"#, "[]", "names no skill"),
            (r#"[{"task":"bond","skill":"x","touch_h":1,"people":9}]"#, "[]", "takes 9 people, and 8 are there"),
            (r#"[{"task":"a","skill":"x","touch_h":1e9}]"#, "[]", "work.tasks[0].touch_h"),
            ("[]", r#"[{"procedure":"p","disposition":"scrap","steps":[]}]"#, "\"scrap\""),
            ("[]", r#"[{"procedure":"p","disposition":"replace","kinds":["dent"],"steps":[]}]"#, "work.procedures[0].kinds[0]"),
            ("[]", r#"[{"procedure":"p","disposition":"replace","steps":["weigh"]}]"#, "\"weigh\" is no task"),
            ("[]", r#"[{"procedure":"p","disposition":"replace","steps":[{"task":"bond","after":["inspect"]}]}]"#, "no earlier step"),
            (r#"[{"task":"a","skill":"x","touch_h":1},{"task":"a","skill":"x","touch_h":2}]"#, "[]", "stands twice"),
        ];
        for (tasks, procedures, want) in cases {
            let error = Rates::of(&choices(tasks, procedures)).unwrap_err();
            assert_eq!(error.exit_code(), 2);
            assert!(error.to_string().contains(want), "{want}: {error}");
        }
        let mut crew = WorkChoices::default();
        crew.skills.insert("welder".to_string(), 2.0);
        assert!(Rates::of(&crew).unwrap_err().to_string().contains("\"welder\""));
        let one = WorkChoices { people: 1, ..WorkChoices::default() };
        assert!(Rates::of(&one).unwrap_err().to_string().contains("work.people"));
    }
}
