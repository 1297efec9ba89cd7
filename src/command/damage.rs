//! What the findings do to their tiles, on all processors, with progress on a terminal.

use crate::assess::damage::{Damage, Effort};
use crate::assess::{Assessment, Prepared, present};
use crate::report::damage::{Answer, damage_csv, effects_csv, present_csv};
use crate::scenario::Scenario;
use crate::shield::{Finding, Shield};
use indicatif::{ProgressBar, ProgressStyle};
use rayon::prelude::*;

/// A bar on stderr where that is a terminal.
pub fn bar(count: usize, what: &'static str) -> ProgressBar {
    let style = ProgressStyle::with_template("{msg} {wide_bar} {pos}/{len}").unwrap_or_else(|_| ProgressStyle::default_bar());
    ProgressBar::new(count as u64).with_style(style).with_message(what)
}

/// Each finding's answer, by its place.
/// A finding that cannot be solved says why in its own place.
pub fn answers(shield: &Shield, scenario: &Scenario, prepared: &Prepared, findings: &[Finding]) -> Vec<Answer> {
    let asked = present::asked(shield, prepared, findings);
    let bar = bar(asked.len(), "findings in depth");
    let solved = |place: &usize| -> Option<Result<Damage, String>> {
        let finding = findings.get(*place)?;
        let answer = present::answer(shield, scenario, prepared, &prepared.effects, finding, Effort::Plain);
        bar.inc(1);
        answer.map_err(|error| error.to_string()).transpose()
    };
    let solved: Vec<Answer> = asked.par_iter().map(solved).collect();
    bar.finish_and_clear();
    let mut out: Vec<Answer> = vec![None; findings.len()];
    for (place, answer) in asked.into_iter().zip(solved) {
        out[place] = answer;
    }
    out
}

/// What the findings' answers make.
pub struct Tables {
    /// damage.csv, present.csv and effects.csv, each with its name.
    pub tables: [(&'static str, String); 3],
    /// The results as judged with them.
    pub judged: Assessment,
}

pub fn tables(shield: &Shield, scenario: &Scenario, prepared: &Prepared, findings: &[Finding], assessment: &Assessment) -> Tables {
    let answers = answers(shield, scenario, prepared, findings);
    let answer = |place: usize| answers.get(place)?.as_ref()?.as_ref().ok();
    let present = present::present(shield, prepared, findings, assessment, answer);
    let tables = [
        ("damage.csv", damage_csv(shield, findings, assessment, &answers)),
        ("present.csv", present_csv(shield, findings, assessment, &present)),
        ("effects.csv", effects_csv(&prepared.effects)),
    ];
    Tables { tables, judged: present::judged(assessment, &present) }
}
