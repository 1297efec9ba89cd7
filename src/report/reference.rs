//! The reference relations side by side: at a moment and at the peak of an entry, with their spread and what is known of their uncertainty.

use super::numbers::Quantity;
use crate::assess::Prepared;
use crate::heating::reference::{COMPARISONS, Relation, SideBySide};
use crate::scenario::UnitSystem;

/// Stands beside every spread.
pub const SPREAD_NOTE: &str = "spread, not uncertainty";

/// One relation's value, W/m2, cold wall, for the reference sphere.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row {
    pub relation: Relation,
    /// `None` where the relation's inputs do not exist.
    pub w_m2: Option<f64>,
    /// The one behind the results.
    pub chosen: bool,
}

/// The relations at one time of one entry.
#[derive(Debug, Clone, PartialEq)]
pub struct Beside {
    /// From entry interface.
    pub time_s: f64,
    /// Of the sphere that all rows are for.
    pub radius_m: f64,
    pub rows: [Row; 3],
    /// Largest over smallest, less 1; a number of per cent.
    pub spread_percent: f64,
    /// True where the flight brings its own reference heating, so that the chosen row is the flight's and not the relation's.
    pub imported: bool,
}

/// The relations at any time of an entry; `None` for an entry that is not there.
pub fn at(prepared: &Prepared, entry: usize, time_s: f64) -> Option<Beside> {
    let (stream, _, _) = prepared.moment_at(entry, time_s)?;
    let chosen = prepared.relation();
    let beside: SideBySide = stream.side_by_side();
    let own = stream.reference_heating_w_m2;
    // A flight's own column may be anything; a relation's value may differ by the rounding of a table.
    let imported = chosen == Relation::SuttonGraves && beside.of(chosen).is_some_and(|value| (value - own).abs() > 1e-3 * own.abs());
    let rows = Relation::ALL.map(|relation| Row {
        relation,
        w_m2: if imported && relation == chosen { Some(own) } else { beside.of(relation) },
        chosen: relation == chosen,
    });
    let shown = SideBySide { w_m2: rows.map(|row| row.w_m2) };
    Some(Beside {
        time_s: stream.time_s,
        radius_m: stream.reference_radius_m,
        rows,
        spread_percent: 100.0 * shown.spread_fraction(),
        imported,
    })
}

/// The relations at the kept row at which the chosen one is largest; `None` for an entry that is not there.
pub fn at_peak(prepared: &Prepared, entry: usize) -> Option<Beside> {
    let mut best: Option<(f64, f64)> = None;
    for stream in &prepared.flights.get(entry)?.streams {
        if best.is_none_or(|(largest, _)| stream.reference_heating_w_m2 > largest) {
            best = Some((stream.reference_heating_w_m2, stream.time_s));
        }
    }
    at(prepared, entry, best?.1)
}

impl Beside {
    /// One sentence: "Reference heating of a 0.6 m sphere at 402 s: Sutton and Graves 512 kW/m² (counted), …; spread 14 % (spread, not uncertainty)".
    pub fn sentence(&self, units: UnitSystem) -> String {
        let rows: Vec<String> = (self.rows.iter())
            .map(|row| {
                let value = row.w_m2.map_or("no value here".to_string(), |value| Quantity::Heating.text(value, units));
                let name = if self.imported && row.chosen { "the flight's own" } else { row.relation.name() };
                format!("{name} {value}{}", if row.chosen { " (counted)" } else { "" })
            })
            .collect();
        format!(
            "Reference heating of a {} sphere at {}: {}; they differ by {:.0} % ({SPREAD_NOTE})",
            Quantity::Length.text(self.radius_m, units),
            Quantity::Time.text(self.time_s, units),
            rows.join(", "),
            self.spread_percent
        )
    }
}

/// What published comparisons with flight and test say, a line each, source last.
pub fn comparisons() -> Vec<String> {
    COMPARISONS.iter().map(|(said, source)| format!("{said}: {source}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::assess;
    use crate::scenario::Scenario;
    use crate::shield::{demo, load};

    /// The demonstration under each relation: the table names the counted one, its spread is that of its rows, and the results follow.
    #[test]
    fn verif_results_follow_the_relation() {
        let shield = load(&demo::files(), "Whinchat").unwrap();
        let mut scenario = Scenario::read("scenario.json", &demo::scenario_json(), &[]).unwrap();
        let mut prepared = Prepared::new(&shield, &scenario).unwrap();
        let mut hottest = Vec::new();
        for relation in Relation::ALL {
            scenario.heating.choices.reference = relation;
            prepared.update(&shield, &scenario).unwrap();
            let beside = at_peak(&prepared, 0).unwrap();
            let chosen = beside.rows.iter().find(|row| row.chosen).unwrap();
            assert_eq!(chosen.relation, relation);
            assert!(!beside.imported && beside.rows.iter().all(|row| row.w_m2.is_some_and(|value| value > 1e4)), "{beside:?}");
            let values = beside.rows.map(|row| row.w_m2.unwrap());
            let (low, high) = (values.iter().copied().fold(f64::INFINITY, f64::min), values.iter().copied().fold(0.0, f64::max));
            assert!((beside.spread_percent - 100.0 * (high / low - 1.0)).abs() < 1e-9 && beside.spread_percent > 0.5);
            let sentence = beside.sentence(UnitSystem::Si);
            assert!(sentence.contains(SPREAD_NOTE) && sentence.matches("(counted)").count() == 1, "{sentence}");
            // A new preparation agrees with the updated one.
            let fresh = Prepared::new(&shield, &scenario).unwrap();
            let peaks = assess::surface::peaks(&prepared, 0, 0..40);
            assert_eq!(peaks, assess::surface::peaks(&fresh, 0, 0..40));
            hottest.push((chosen.w_m2.unwrap(), peaks.iter().map(|peak| peak.peak_k).fold(0.0, f64::max)));
            println!("{sentence}; hottest of the first 40 tiles {:.0} K", hottest.last().unwrap().1);
        }
        // Both others lie above Sutton and Graves here, and heat the nose more.
        assert!(hottest[1..].iter().all(|other| other.0 > hottest[0].0 && other.1 > hottest[0].1 + 20.0), "{hottest:?}");
        assert!(at_peak(&prepared, 99).is_none() && at(&prepared, 99, 0.0).is_none());
    }
}
