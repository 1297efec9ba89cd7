//! What was refused, where it happened and in words, and what was said in passing.

use super::dom::{Kit, Made, Memo, add, add_all, clear, put, show};
use crate::page::model::Model;
use crate::report::numbers::count;
use web_sys::Element;

/// Problems shown before the rest is unfolded.
const FIRST: usize = 3;

pub struct Notice {
    refused: Element,
    said: Element,
    seen: Memo<Option<String>>,
    seen_said: Memo<Option<String>>,
}

impl Notice {
    pub fn new(kit: &Kit) -> Made<Self> {
        Ok(Self { refused: kit.by_id("refused")?, said: kit.by_id("said")?, seen: Memo::default(), seen_said: Memo::default() })
    }

    pub fn render(&mut self, kit: &Kit, model: &Model) -> Made<()> {
        if self.seen_said.changed(model.said.clone()) {
            self.said.set_text_content(model.said.as_deref());
            show(&self.said, model.said.is_some());
        }
        if !self.seen.changed(model.refused.clone()) {
            return Ok(());
        }
        clear(&self.refused);
        show(&self.refused, model.refused.is_some());
        let Some(refused) = &model.refused else { return Ok(()) };
        // What was kept comes first, a problem a line after it.
        let mut lines = refused.lines().filter(|line| !line.trim().is_empty());
        if let Some(kept) = lines.next() {
            add(&self.refused, &kit.said("b", "", kept)?)?;
        }
        let problems: Vec<&str> = lines.collect();
        let list = |lines: &[&str]| -> Made {
            let list = kit.html("ul", "")?;
            for line in lines {
                add(&list, &kit.said("li", "", line)?)?;
            }
            Ok(list)
        };
        let (first, rest) = problems.split_at(problems.len().min(FIRST));
        if !first.is_empty() {
            add(&self.refused, &list(first)?)?;
        }
        if !rest.is_empty() {
            let details = kit.html("details", "")?;
            let summary = kit.html("summary", "btn")?;
            summary.set_text_content(Some(&format!("Show all {}", count(problems.len()))));
            add_all(&details, &[&summary, &list(rest)?])?;
            add(&self.refused, &details)?;
        }
        let acts = kit.html("div", "")?;
        for (label, act) in [("Choose another file", "open-files"), ("Close", "dismiss")] {
            let button = kit.said("button", "btn", label)?;
            put(&button, &[("type", "button"), ("data-act", act)])?;
            add(&acts, &button)?;
        }
        add(&self.refused, &acts)
    }
}
