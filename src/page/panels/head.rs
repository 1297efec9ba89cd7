//! The verdict line, what it rests on, and the words that act on the whole.

use super::dom::{Kit, Made, Memo, add, add_all, clear, put, show, text};
use crate::assess::rounds::Round;
use crate::page::model::Model;
use crate::report::numbers::{count, counted};
use crate::report::words::{self, Span};
use crate::scenario::UnitSystem;
use web_sys::Element;

pub struct Head {
    who: Element,
    verdict: Element,
    trust: Element,
    working: Working,
    undo: Element,
    redo: Element,
    units: Element,
    seen_who: Memo<(String, usize, usize)>,
    seen_verdict: Memo<(Vec<Span>, bool)>,
    seen_trust: Memo<Vec<String>>,
}

impl Head {
    pub fn new(kit: &Kit) -> Made<Self> {
        let head = kit.by_id("head")?;
        let line = kit.html("div", "who")?;
        let name = kit.html("b", "")?;
        add(&name, &sign(kit)?)?;
        text(&name, "Tileglow")?;
        let who = kit.html("span", "names")?;
        add_all(&line, &[&name, &who])?;

        let acts = kit.html("nav", "acts")?;
        put(&acts, &[("id", "acts"), ("aria-label", "Actions")])?;
        let word = |label: &str, act: &str| kit.word(label, &[("data-act", act)]);
        let (undo, redo, units) = (word("Undo", "undo")?, word("Redo", "redo")?, word("SI", "units")?);
        let brief = word("Brief", "brief")?;
        let link = word("Copy link", "link")?;
        let save = word("Save", "save")?;
        let open = word("Open…", "open")?;
        put(&open, &[("aria-expanded", "false"), ("aria-controls", "openers")])?;
        put(&save, &[("title", "Save this scenario as a file"), ("aria-label", "Save the scenario")])?;
        add_all(&acts, &[&undo, &redo, &units, &brief, &link, &save, &open])?;

        let verdict = kit.html("h1", "verdict")?;
        put(&verdict, &[("id", "verdict"), ("aria-live", "polite")])?;
        let trust = kit.html("div", "trust")?;
        trust.set_id("trust");
        let working = Working::new(kit)?;
        let state = kit.html("div", "state")?;
        add_all(&state, &[&trust, &working.root])?;
        add_all(&head, &[&line, &acts, &verdict, &state])?;
        let memo = (Memo::default(), Memo::default(), Memo::default());
        Ok(Self { who, verdict, trust, working, undo, redo, units, seen_who: memo.0, seen_verdict: memo.1, seen_trust: memo.2 })
    }

    pub fn render(&mut self, kit: &Kit, model: &Model) -> Made<()> {
        self.who(kit, model)?;
        self.verdict(kit, model)?;
        self.trust(kit, model)?;
        self.working.render(model)?;
        for (button, can) in [(&self.undo, model.can_undo), (&self.redo, model.can_redo)] {
            if button.has_attribute("disabled") == can {
                button.toggle_attribute_with_force("disabled", !can)?;
            }
        }
        let (shown, other) = match model.units {
            UnitSystem::Si => ("SI", "US customary units"),
            UnitSystem::Us => ("US", "SI units"),
        };
        if self.units.text_content().as_deref() != Some(shown) {
            if let Some(word) = self.units.first_element_child() {
                word.set_text_content(Some(shown));
            }
            let label = format!("Units: {shown}; change to {other}");
            put(&self.units, &[("aria-label", &label), ("title", &label)])?;
        }
        Ok(())
    }

    fn who(&mut self, kit: &Kit, model: &Model) -> Made<()> {
        let name = match model.scenario.vehicle_name.as_str() {
            "" => model.shield.name.as_str(),
            name => name,
        };
        if !self.seen_who.changed((name.to_string(), model.entry, model.scenario.entries.len())) {
            return Ok(());
        }
        clear(&self.who);
        add(&self.who, &kit.said("span", "", name)?)?;
        if let Some(entry) = model.scenario.entries.get(model.entry) {
            let of = match model.scenario.entries.len() {
                1 => format!("entry {}", entry.name),
                many => format!("entry {}, {} of {many}", entry.name, model.entry + 1),
            };
            add(&self.who, &kit.said("span", "lg", &of)?)?;
        }
        Ok(())
    }

    fn verdict(&mut self, kit: &Kit, model: &Model) -> Made<()> {
        let spans = match &model.results {
            Some(results) if !model.full => words::estimate(&model.shield, results, model.units),
            results => words::verdict_of_set(&model.shield, results.as_deref(), &model.scenario.entries, model.units),
        };
        let short = spans.iter().any(|span| matches!(span, Span::Short(_)));
        if !self.seen_verdict.changed((spans.clone(), short)) {
            return Ok(());
        }
        clear(&self.verdict);
        let mut rest: Option<char> = None;
        for (index, span) in spans.iter().enumerate() {
            let made = match span {
                Span::Text(words) => {
                    // The mark that follows a handle stands with it already.
                    let words = rest.take().and_then(|mark| words.strip_prefix(mark)).unwrap_or(words);
                    text(&self.verdict, words)?;
                    continue;
                }
                Span::Short(words) => handle(kit, words, "v bad", &[("data-act", "short"), ("title", "Show these tiles only")])?,
                Span::Over(words) => kit.said("span", "bad", words)?,
                Span::Rest(words) => kit.said("span", "rest", words)?,
                Span::Pick { tile, text } => {
                    let id = model.shield.tiles.get(*tile).map_or("", |tile| tile.id.as_str());
                    handle(kit, text, "v", &[("data-act", "pick"), ("data-tile", id), ("title", "Pick this tile")])?
                }
                Span::Time { entry, time_s, text } => {
                    let (entry, time) = (entry.to_string(), time_s.to_string());
                    let attributes =
                        [("data-act", "time"), ("data-time", time.as_str()), ("data-entry", entry.as_str()), ("title", "Show this moment")];
                    handle(kit, text, "v", &attributes)?
                }
            };
            // A handle and the mark after it stay on one line.
            let mark = spans.get(index + 1).and_then(|next| next.text().chars().next()).filter(|mark| ".,;:".contains(*mark));
            match mark {
                Some(mark) if made.tag_name().eq_ignore_ascii_case("button") => {
                    let kept = kit.html("span", "kept")?;
                    add(&kept, &made)?;
                    text(&kept, &mark.to_string())?;
                    add(&self.verdict, &kept)?;
                    rest = Some(mark);
                }
                _ => add(&self.verdict, &made)?,
            }
        }
        Ok(())
    }

    fn trust(&mut self, kit: &Kit, model: &Model) -> Made<()> {
        let full = model.full;
        let error = model.results.as_ref().map_or(String::new(), |results| words::stated_error(results, model.units));
        let mut warnings: Vec<String> = model.shield.warnings.clone();
        warnings.extend(model.results.iter().flat_map(|results| results.warnings.iter().cloned()));
        let mut lines = vec![
            if full { "Full result".to_string() } else { "Estimate".to_string() },
            if full { error } else { ", the full result follows".to_string() },
            words::policy(&model.scenario.policy).0,
            format!("{} limits", words::limits(model.scenario.policy.limits)),
            "Advice to a qualified engineer".to_string(),
            if model.own_thread { "solved on the page\u{2019}s own thread: no worker could be started".to_string() } else { String::new() },
            model.digest.as_deref().map_or(String::new(), |digest| format!("digest {}", spaced(digest))),
            match (model.link_agrees, &model.link_digest) {
                (Some(true), _) => "agrees with the link".to_string(),
                (Some(false), Some(sent)) => format!("differs from the link, which was made with digest {}", spaced(sent)),
                _ => String::new(),
            },
        ];
        let said = lines.len();
        lines.extend(warnings);
        if !self.seen_trust.changed(lines.clone()) {
            return Ok(());
        }
        clear(&self.trust);
        let first = kit.html("span", "")?;
        add(&first, &kit.said("b", if full { "" } else { "est" }, &lines[0])?)?;
        text(&first, &lines[1])?;
        add(&self.trust, &first)?;
        for line in lines.iter().take(said).skip(2).filter(|line| !line.is_empty()) {
            let class = if line.starts_with("the link says") { "b" } else { "" };
            add(&self.trust, &kit.said(if class.is_empty() { "span" } else { "b" }, "", line)?)?;
        }
        let warnings = lines.get(said..).unwrap_or_default();
        if !warnings.is_empty() {
            let details = kit.html("details", "warnings")?;
            let summary = kit.html("summary", "w")?;
            add(&summary, &kit.said("u", "", &counted(warnings.len(), "warning", "warnings"))?)?;
            let list = kit.html("ul", "")?;
            for warning in warnings.iter().take(200) {
                add(&list, &kit.said("li", "", warning)?)?;
            }
            add_all(&details, &[&summary, &list])?;
            add(&self.trust, &details)?;
        }
        show(&self.trust, true);
        Ok(())
    }
}

/// How far the work in depth is: after half a second a bar and a count, from two seconds on a way to stop it.
struct Working {
    root: Element,
    bar: Element,
    words: Element,
    stop: Element,
    seen: Memo<(usize, Option<Round>, bool, bool, bool)>,
}

impl Working {
    fn new(kit: &Kit) -> Made<Self> {
        let root = kit.html("div", "working")?;
        put(&root, &[("id", "working"), ("hidden", "")])?;
        let bar = kit.html("div", "amount")?;
        put(&bar, &[("role", "progressbar"), ("aria-label", "Tiles solved in depth"), ("aria-valuemin", "0")])?;
        let words = kit.html("span", "")?;
        let stop = kit.said("button", "btn", "Stop")?;
        put(&stop, &[("type", "button"), ("data-act", "stop"), ("hidden", "")])?;
        add_all(&root, &[&words, &stop, &bar])?;
        Ok(Self { root, bar, words, stop, seen: Memo::default() })
    }

    fn render(&mut self, model: &Model) -> Made<()> {
        let progress = model.progress.filter(|progress| progress.seconds > 0.5 || progress.stopped);
        let key = progress.map_or((0, None, false, false, false), |p| (p.done, Some(p.round), p.stopped, p.seconds > 2.0, true));
        if !self.seen.changed(key) {
            return Ok(());
        }
        show(&self.root, progress.is_some());
        let Some(progress) = progress else { return Ok(()) };
        let what = match (progress.stopped, progress.round) {
            (true, _) => "Stopped: ",
            (_, Round::Full) if !model.scenario.policy.terms.is_empty() => "Counting the uncertainty: ",
            (_, Round::Estimate | Round::Full) => "Solving in depth: ",
            (_, Round::Reach) => "How far to each limit: ",
        };
        let of = counted(progress.total, "tile", "tiles");
        self.words.set_text_content(Some(&format!("{what}{} of {of}", count(progress.done))));
        super::dom::style(&self.bar, "--done", &format!("{:.3}", progress.done as f64 / progress.total.max(1) as f64));
        put(&self.bar, &[("aria-valuemax", &progress.total.to_string()), ("aria-valuenow", &progress.done.to_string())])?;
        show(&self.stop, progress.stopped || progress.seconds > 2.0);
        let (label, act) = if progress.stopped { ("Go on", "go-on") } else { ("Stop", "stop") };
        self.stop.set_text_content(Some(label));
        put(&self.stop, &[("data-act", act)])
    }
}

/// A number of the sentence that acts.
fn handle(kit: &Kit, words: &str, class: &str, attributes: &[(&str, &str)]) -> Made {
    let button = kit.html("button", class)?;
    button.set_attribute("type", "button")?;
    put(&button, attributes)?;
    add(&button, &kit.said("u", "", words)?)?;
    Ok(button)
}

/// Hexadecimal digits in groups of four.
pub fn spaced(digest: &str) -> String {
    let digits: Vec<char> = digest.chars().take(16).collect();
    digits.chunks(4).map(|group| group.iter().collect::<String>()).collect::<Vec<_>>().join(" ")
}

/// The product's small sign: a tile, one half aglow.
fn sign(kit: &Kit) -> Made {
    let svg = kit.svg("svg", &[("class", "sign"), ("width", "15"), ("height", "15"), ("viewBox", "0 0 15 15"), ("aria-hidden", "true")])?;
    add(&svg, &kit.path("sign-a", "M1 4.3 10.4 1 14 10.7 4.6 14z")?)?;
    add(&svg, &kit.path("sign-b", "M10.4 1 14 10.7 8.6 7.6z")?)?;
    Ok(svg)
}
