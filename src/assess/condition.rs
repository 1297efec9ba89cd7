//! From state, findings, margin and history to a condition and a suggestion, by a stated table of rules that names its own sizes.
//!
//! The shipped sizes (assets/inspection.json) are the demonstration's own invention and stand for the user's inspection requirements; no
//! published acceptance limits are claimed. A scenario's rows replace them. The worst rule that applies decides the tile; a finding on a
//! joint counts for both tiles.

use super::history::{Standing, part_flights};
use super::{Condition, Disposition};
use crate::document::json::Range;
use crate::document::{Error, Json, Object, Problems};
use crate::material::Library;
use crate::scenario::Inspection;
use crate::shield::findings::KINDS;
use crate::shield::{Finding, Tile, TileState};

pub(super) const SHIPPED: &str = include_str!("../../assets/inspection.json");
/// The format key of the shipped table.
pub const FORMAT: &str = "tileglow-inspection/1";
/// The kind of a rule that looks at the tile itself.
pub const TILE: &str = "tile";

/// What a rule measures, on a finding or (the last three) on a tile.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Measure {
    /// Applies to every finding of the kind.
    Always,
    DepthMm,
    /// Depth over the tile's thickness.
    DepthShare,
    LengthMm,
    /// Length times width, or length squared where no width is given.
    AreaMm2,
    /// Of either sign.
    StepMm,
    GapMm,
    ProtrusionMm,
    /// Since an earlier flight's note of the same finding.
    GrowthMm,
    MarginK,
    /// The part's own flights over its material's `reuse_flights`.
    LifeShare,
    /// Flights after which something was found on this location, the present one included.
    FlightsFound,
}

impl Measure {
    const ALL: [(Measure, &'static str, &'static str); 12] = [
        (Measure::Always, "always", ""),
        (Measure::DepthMm, "depth_mm", "mm"),
        (Measure::DepthShare, "depth_share", ""),
        (Measure::LengthMm, "length_mm", "mm"),
        (Measure::AreaMm2, "area_mm2", "mm2"),
        (Measure::StepMm, "step_mm", "mm"),
        (Measure::GapMm, "gap_mm", "mm"),
        (Measure::ProtrusionMm, "protrusion_mm", "mm"),
        (Measure::GrowthMm, "growth_mm", "mm"),
        (Measure::MarginK, "margin_k", "K"),
        (Measure::LifeShare, "life_share", ""),
        (Measure::FlightsFound, "flights_found", ""),
    ];

    /// The word of the table.
    pub fn word(self) -> &'static str {
        Measure::ALL[self as usize].1
    }

    pub fn unit(self) -> &'static str {
        Measure::ALL[self as usize].2
    }

    fn of_tile(self) -> bool {
        matches!(self, Measure::MarginK | Measure::LifeShare | Measure::FlightsFound)
    }
}

/// A finding of `kind` (or a tile, where `kind` is [`TILE`]) whose `measure` is beyond `threshold` puts its tile into `condition`, with
/// `disposition` as the suggestion.
#[derive(Debug, Clone, PartialEq)]
pub struct Rule {
    pub rule: String,
    pub kind: String,
    pub measure: Measure,
    pub threshold: f64,
    /// Applies below the threshold instead of above it.
    pub below: bool,
    pub condition: Condition,
    pub disposition: Disposition,
    pub source: String,
}

impl Rule {
    /// The rule in words: `depth above 3 mm (gouge to repair; invented for the demonstration)`.
    pub fn words(&self) -> String {
        let name = self.measure.word().trim_end_matches("_mm2").trim_end_matches("_mm").trim_end_matches("_k").replace('_', " ");
        let unit = self.measure.unit();
        let when = match self.measure {
            Measure::Always => format!("any {}", self.kind),
            _ => {
                let side = if self.below { "below" } else { "above" };
                let gap = if unit.is_empty() { "" } else { " " };
                format!("{name} {side} {}{gap}{unit}", self.threshold)
            }
        };
        format!("{when} ({}; {})", self.rule, self.source)
    }
}

/// All rules, whole and checked.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Rules {
    pub rules: Vec<Rule>,
}

/// What a rule made of a finding or a tile.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Judged<'a> {
    pub rule: &'a Rule,
    /// What was measured; `None` where the finding does not give it, which counts as exceeded, or where the rule always applies.
    pub value: Option<f64>,
}

/// What is known of a tile beside its findings.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Facts {
    pub margin_k: Option<f64>,
    pub life_share: Option<f64>,
    pub flights_found: Option<f64>,
}

impl Facts {
    /// From a tile, the flight that stands last and how many flights found something on it.
    pub fn of(tile: &Tile, library: &Library, present: Option<u32>, flights_found: usize, margin_k: Option<f64>) -> Facts {
        let reuse = library.materials.get(tile.material).and_then(|material| material.reuse_flights);
        let life_share = part_flights(tile, present).zip(reuse).map(|(flown, reuse)| f64::from(flown) / reuse);
        Facts { margin_k, life_share, flights_found: Some(flights_found as f64) }
    }
}

fn read_rule(node: &Json, path: &str, p: &mut Problems) -> Option<Rule> {
    let before = p.list.len();
    let mut row = Object::open(node, path, p)?;
    let rule = row.text("rule", p);
    let mut kinds = KINDS.to_vec();
    kinds.push(TILE);
    let kind = row.word("kind", &kinds, p).unwrap_or_default();
    let measures = Measure::ALL.map(|(_, word, _)| word);
    let word = row.word("measure", &measures, p)?;
    let measure = Measure::ALL.iter().find(|(_, name, _)| *name == word).map_or(Measure::Always, |(measure, ..)| *measure);
    let above = row.number_or_null("above", Range::ANY, p);
    let below = row.number_or_null("below", Range::ANY, p);
    let conditions: Vec<&str> = Condition::ALL.iter().filter(|c| **c >= Condition::AsBuilt).map(|c| c.word()).collect();
    let condition = row.word("condition", &conditions, p);
    let dispositions = Disposition::ALL.map(Disposition::word);
    let disposition = row.word("disposition", &dispositions, p);
    let source = row.text_or("source", "the user's own", p);
    row.finish(p);
    if rule.is_empty() && p.list.len() == before {
        p.at_key(format!("{path}.rule"), "the rule has no name", "a name");
    }
    if (above.is_some() as u8 + below.is_some() as u8) != u8::from(measure != Measure::Always) && p.list.len() == before {
        p.at_key(path, format!("the rule {rule:?} on {word}"), "one of \"above\" and \"below\"; neither with always");
    }
    if measure.of_tile() != (kind == TILE) && p.list.len() == before {
        let tiles = Measure::ALL.iter().filter(|(m, ..)| m.of_tile() == (kind == TILE)).map(|(_, word, _)| *word).collect::<Vec<_>>();
        p.at_key(format!("{path}.measure"), format!("{word:?} is not known of a {kind}"), tiles.join(", "));
    }
    let condition = Condition::ALL.into_iter().find(|c| Some(c.word()) == condition.as_deref());
    let disposition = Disposition::ALL.into_iter().find(|d| Some(d.word()) == disposition.as_deref());
    if p.list.len() > before {
        return None;
    }
    Some(Rule {
        rule,
        kind,
        measure,
        threshold: above.or(below).unwrap_or(0.0),
        below: below.is_some(),
        condition: condition?,
        disposition: disposition?,
        source,
    })
}

impl Rules {
    /// The shipped rules with a scenario's in them: the same `rule` is replaced in its place, a new one joins.
    ///
    /// # Errors
    /// Bad input that names each wrong row by its path.
    pub fn of(inspection: &Inspection) -> Result<Rules, Error> {
        let mut problems = Problems::of("scenario");
        let mut rules = Rules::default();
        let document = Json::parse("assets/inspection.json", SHIPPED)?;
        if let Some(Json::List(rows)) = document.get("rules") {
            rules.add(rows, "rules", &mut problems);
        }
        rules.add(&inspection.rules, "inspection.rules", &mut problems);
        problems.or_ok(rules)
    }

    fn add(&mut self, rows: &[Json], path: &str, p: &mut Problems) {
        let mut named: Vec<String> = Vec::new();
        for (i, node) in rows.iter().enumerate() {
            let path = format!("{path}[{i}]");
            let Some(rule) = read_rule(node, &path, p) else { continue };
            if named.contains(&rule.rule) {
                p.at_key(format!("{path}.rule"), format!("the rule {:?} stands twice", rule.rule), "each rule once");
            }
            named.push(rule.rule.clone());
            match self.rules.iter_mut().find(|known| known.rule == rule.rule) {
                Some(known) => *known = rule,
                None => self.rules.push(rule),
            }
        }
    }

    /// The worst rule that a finding meets on `tile`, the first in the table among equals.
    pub fn of_finding(&self, finding: &Finding, tile: &Tile, standing: Standing) -> Option<Judged<'_>> {
        let met = self.rules.iter().filter(|rule| rule.kind == finding.kind).filter_map(|rule| {
            let value = match rule.measure {
                Measure::Always => return Some(Judged { rule, value: None }),
                Measure::DepthMm => finding.depth_mm,
                Measure::DepthShare => finding.depth_mm.map(|depth| depth / (1000.0 * tile.thickness_m)),
                Measure::LengthMm => finding.length_mm,
                Measure::AreaMm2 => finding.length_mm.map(|length| length * finding.width_mm.unwrap_or(length)),
                Measure::StepMm => finding.step_mm.map(f64::abs),
                Measure::GapMm => finding.gap_mm,
                Measure::ProtrusionMm => finding.protrusion_mm,
                // Nothing to compare with is no growth.
                Measure::GrowthMm => Some(standing.growth_mm?),
                Measure::MarginK | Measure::LifeShare | Measure::FlightsFound => return None,
            };
            // A size that a finding does not give counts as exceeded, never as harmless.
            value.is_none_or(|value| beyond(value, rule)).then_some(Judged { rule, value })
        });
        worst(met)
    }

    /// The worst rule that a finding meets where it lies; on a joint the worse of both tiles counts.
    pub fn where_it_lies(&self, finding: &Finding, tiles: &[Tile], standing: Standing) -> Option<Judged<'_>> {
        let on = [Some(finding.tile), finding.tile_2].into_iter().flatten().filter_map(|index| tiles.get(index));
        worst(on.filter_map(|tile| self.of_finding(finding, tile, standing)))
    }

    /// The worst rule that a tile meets by itself.
    pub fn of_facts(&self, facts: &Facts) -> Option<Judged<'_>> {
        let met = self.rules.iter().filter(|rule| rule.kind == TILE).filter_map(|rule| {
            let value = match rule.measure {
                Measure::MarginK => facts.margin_k,
                Measure::LifeShare => facts.life_share,
                Measure::FlightsFound => facts.flights_found,
                _ => None,
            }?;
            beyond(value, rule).then_some(Judged { rule, value: Some(value) })
        });
        worst(met)
    }

    /// A tile's condition and suggestion, and the rule that gave them.
    ///
    /// 1. Before service the state of installation is the condition and there is no suggestion.
    /// 2. In service the worst rule over its standing findings and the tile itself decides; among equals a finding's before the tile's.
    pub fn of_tile<'a>(
        &self,
        tile: &Tile,
        findings: impl Iterator<Item = (&'a Finding, Standing)>,
        facts: &Facts,
    ) -> (Condition, Option<Disposition>, Option<Judged<'_>>) {
        match tile.state {
            TileState::Planned => return (Condition::Planned, None, None),
            TileState::Fitted => return (Condition::Fitted, None, None),
            TileState::Bonded => return (Condition::Bonded, None, None),
            TileState::Tested => return (Condition::Tested, None, None),
            TileState::InService => {}
        }
        let found = findings.filter(|(_, standing)| !standing.closed);
        let found = worst(found.filter_map(|(finding, standing)| self.of_finding(finding, tile, standing)));
        let own = self.of_facts(facts).filter(|own| found.is_none_or(|found| own.rule.condition > found.rule.condition));
        match own.or(found) {
            Some(judged) => (judged.rule.condition, Some(judged.rule.disposition), Some(judged)),
            None => (Condition::AsBuilt, None, None),
        }
    }
}

fn beyond(value: f64, rule: &Rule) -> bool {
    if rule.below { value < rule.threshold } else { value > rule.threshold }
}

/// The first of the worst: what engineering must see, then the heavier disposition, breaks ties of condition.
fn worst<'a>(judged: impl Iterator<Item = Judged<'a>>) -> Option<Judged<'a>> {
    let weight = |judged: &Judged| (judged.rule.condition, judged.rule.disposition as u8);
    judged.reduce(|worst, next| if weight(&next) > weight(&worst) { next } else { worst })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tile() -> Tile {
        Tile { thickness_m: 0.03, ..Tile::default() }
    }

    fn rules() -> Rules {
        Rules::of(&Inspection::default()).unwrap()
    }

    fn finding(kind: &str, depth_mm: Option<f64>) -> Finding {
        Finding { kind: kind.to_string(), depth_mm, ..Finding::default() }
    }

    fn judge(findings: &[Finding], margin_k: f64) -> (Condition, Option<Disposition>) {
        let facts = Facts { margin_k: Some(margin_k), ..Facts::default() };
        let rules = rules();
        let found = findings.iter().map(|finding| (finding, Standing::default()));
        let (condition, disposition, judged) = rules.of_tile(&tile(), found, &facts);
        assert_eq!(judged.map(|judged| judged.rule.condition).unwrap_or_default(), condition);
        (condition, disposition)
    }

    #[test]
    fn verif_every_kind_has_a_rule_every_rule_a_source_and_the_worst_decides() {
        for kind in KINDS {
            assert!(rules().rules.iter().any(|rule| rule.kind == kind), "{kind}");
        }
        assert!(rules().rules.iter().all(|rule| !rule.source.is_empty()));
        assert_eq!(Json::parse("i", SHIPPED).unwrap().get("format"), Some(&Json::text(FORMAT)));
        for (i, (measure, ..)) in Measure::ALL.iter().enumerate() {
            assert_eq!(*measure as usize, i);
        }
        for (depth, want) in
            [(Some(1.0), Condition::Watch), (Some(5.0), Condition::Repair), (Some(20.0), Condition::Replace), (None, Condition::Replace)]
        {
            assert_eq!(judge(&[finding("gouge", depth)], 10.0).0, want, "{depth:?}");
        }
        let both = [finding("gouge", Some(1.0)), finding("doubtful-bond", None)];
        assert_eq!(judge(&both, 10.0), (Condition::NotCleared, Some(Disposition::EngineeringReview)));
    }

    #[test]
    fn verif_installation_stands_before_service_and_a_short_tile_is_not_cleared() {
        let planned = Tile { state: TileState::Planned, ..tile() };
        let short = Facts { margin_k: Some(-5.0), ..Facts::default() };
        assert_eq!(rules().of_tile(&planned, std::iter::empty(), &short).0, Condition::Planned);
        assert_eq!(judge(&[], -5.0), (Condition::NotCleared, Some(Disposition::EngineeringReview)));
        assert_eq!(judge(&[], 5.0), (Condition::AsBuilt, None));
    }

    #[test]
    fn verif_growth_life_and_repetition_count_by_their_own_rules() {
        let rules = rules();
        let gouge = finding("gouge", Some(1.0));
        let grown = Standing { growth_mm: Some(2.5), ..Standing::default() };
        let judged = rules.of_finding(&gouge, &tile(), grown).unwrap();
        assert_eq!((judged.rule.rule.as_str(), judged.value), ("grown gouge", Some(2.5)));
        assert_eq!(rules.of_finding(&gouge, &tile(), Standing::default()).unwrap().rule.rule, "gouge");
        let old = Facts { life_share: Some(1.01), ..Facts::default() };
        assert_eq!(rules.of_facts(&old).unwrap().rule.rule, "part at its life");
        let often = Facts { flights_found: Some(3.0), ..Facts::default() };
        assert_eq!(
            rules.of_facts(&often).unwrap().rule.words(),
            "flights found above 2 (found again and again; invented for the demonstration)"
        );
        // A closed finding no longer speaks.
        let closed = Standing { closed: true, ..Standing::default() };
        assert_eq!(rules.of_tile(&tile(), [(&gouge, closed)].into_iter(), &Facts::default()).0, Condition::AsBuilt);
    }

    #[test]
    fn verif_a_users_row_replaces_joins_or_is_refused_with_its_path() {
        let with = |rows: &str| match Json::parse("t", rows).unwrap() {
            Json::List(rules) => Rules::of(&Inspection { rules, ..Inspection::default() }),
            _ => unreachable!(),
        };
        let own = with(r#"[{"rule":"deep gouge","kind":"gouge","measure":"depth_mm","above":9,"condition":"replace","disposition":"replace","source":"shop 3"}]"#).unwrap();
        assert_eq!(own.rules.len(), rules().rules.len());
        assert_eq!(own.of_finding(&finding("gouge", Some(8.9)), &tile(), Standing::default()).unwrap().rule.condition, Condition::Repair);
        assert_eq!(own.of_finding(&finding("gouge", Some(9.1)), &tile(), Standing::default()).unwrap().rule.source, "shop 3");
        for (row, want) in [
            (r#"{"rule":"a","kind":"dent","measure":"always","condition":"watch","disposition":"watch"}"#, "inspection.rules[0].kind"),
            (
                r#"{"rule":"a","kind":"chip","measure":"margin_k","below":3,"condition":"watch","disposition":"watch"}"#,
                "not known of a chip",
            ),
            (
                r#"{"rule":"a","kind":"chip","measure":"depth_mm","condition":"watch","disposition":"watch"}"#,
                "one of \"above\" and \"below\"",
            ),
            (r#"{"rule":"a","kind":"chip","measure":"always","above":1,"condition":"watch","disposition":"watch"}"#, "neither with always"),
            (r#"{"rule":"a","kind":"chip","measure":"always","condition":"planned","disposition":"watch"}"#, "\"planned\""),
            (r#"{"rule":"","kind":"chip","measure":"always","condition":"watch","disposition":"watch"}"#, "no name"),
            (
                r#"{"rule":"a","kind":"chip","measure":"always","condition":"watch","disposition":"watch","abov":1}"#,
                "inspection.rules[0].abov",
            ),
        ] {
            let error = with(&format!("[{row}]")).unwrap_err();
            assert!(error.to_string().contains(want) && error.exit_code() == 2, "{want}: {error}");
        }
    }
}
