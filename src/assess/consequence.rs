//! Condition by zone, nose to tail: counts, shares of area and, where the user says what a lost tile would mean, shares of risk.
//!
//! Risk is relative: consequence by zone (the user's) times the relative likelihood of losing a tile in its condition. It need not lie where
//! it is hot: for one vehicle 15 % of the tiles were found to carry about 85 % of the risk (Pate-Cornell and Fischbeck, Safety of the Thermal
//! Protection System of the Space Shuttle Orbiter, report to NASA, 1990; from memory), by what lies under and behind them.

use super::{Assessment, Condition};
use crate::document::Sorting as _;
use crate::scenario::{Inspection, Scenario};
use crate::shield::Shield;

/// Relative likelihood of losing a tile in each condition in service, invented for the demonstration; a scenario's own replace them. A tile
/// before service has none: it does not fly.
pub const LIKELIHOOD: [(Condition, f64); 5] = [
    (Condition::AsBuilt, 1.0),
    (Condition::Watch, 3.0),
    (Condition::Repair, 10.0),
    (Condition::Replace, 30.0),
    (Condition::NotCleared, 100.0),
];

/// One zone.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Zone {
    pub zone: String,
    /// Mean station of its tiles, by area; zones stand in its order.
    pub x_m: f64,
    pub tiles: usize,
    pub area_m2: f64,
    /// Tiles in each condition, in the order of [`Condition::ALL`].
    pub count: [usize; 9],
    /// Share of the zone's area in each condition.
    pub area_share: [f64; 9],
    /// Share of the vehicle's risk; `None` where the scenario names no consequence.
    pub risk_share: Option<f64>,
}

/// The vehicle's state.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct State {
    pub zones: Vec<Zone>,
    /// Share of risk by tile; empty where the scenario names no consequence.
    pub risk_by_tile: Vec<f64>,
    /// The smallest share of tiles that carries 85 % of the risk.
    pub tiles_with_most_risk: Option<f64>,
}

fn likelihood(inspection: &Inspection, condition: Condition) -> f64 {
    let own = inspection.likelihood.get(condition.word()).copied();
    let shipped = LIKELIHOOD.iter().find(|(known, _)| *known == condition).map_or(0.0, |(_, value)| *value);
    own.unwrap_or(shipped)
}

/// Counts, areas and risk by zone; zones by mean station, then by name.
pub fn state(shield: &Shield, scenario: &Scenario, results: &Assessment) -> State {
    let mut zones: Vec<Zone> = Vec::new();
    let mut zone_of = Vec::with_capacity(shield.tiles.len());
    for (tile, result) in shield.tiles.iter().zip(&results.tiles) {
        let at = zones.iter().position(|zone| zone.zone == tile.zone).unwrap_or_else(|| {
            zones.push(Zone { zone: tile.zone.clone(), ..Zone::default() });
            zones.len() - 1
        });
        zone_of.push(at);
        let (zone, condition) = (&mut zones[at], result.condition as usize);
        zone.tiles += 1;
        zone.area_m2 += tile.facet.area_m2;
        zone.x_m += tile.facet.area_m2 * tile.facet.centre.x;
        zone.count[condition] += 1;
        zone.area_share[condition] += tile.facet.area_m2;
    }
    for zone in zones.iter_mut().filter(|zone| zone.area_m2 > 0.0) {
        zone.x_m /= zone.area_m2;
        zone.area_share = zone.area_share.map(|area| area / zone.area_m2);
    }
    let mut state = State::default();
    let inspection = &scenario.inspection;
    if !inspection.consequence.is_empty() {
        let risk = |(tile, result): (&crate::shield::Tile, &super::TileResult)| {
            inspection.consequence.get(&tile.zone).copied().unwrap_or(1.0) * likelihood(inspection, result.condition)
        };
        let risks: Vec<f64> = shield.tiles.iter().zip(&results.tiles).map(risk).collect();
        let whole: f64 = risks.iter().sum();
        if whole > 0.0 {
            state.risk_by_tile = risks.iter().map(|risk| risk / whole).collect();
            for zone in &mut zones {
                zone.risk_share = Some(0.0);
            }
            for (risk, at) in state.risk_by_tile.iter().zip(&zone_of) {
                zones[*at].risk_share = zones[*at].risk_share.map(|sum| sum + risk);
            }
            let mut falling = state.risk_by_tile.clone();
            falling.order_by(|a, b| b.total_cmp(a));
            let mut sum = 0.0;
            let needed = falling.iter().position(|risk| {
                sum += risk;
                sum >= 0.85
            });
            state.tiles_with_most_risk = needed.map(|last| (last + 1) as f64 / falling.len() as f64);
        }
    }
    zones.order_by(|a, b| a.x_m.total_cmp(&b.x_m).then(a.zone.cmp(&b.zone)));
    state.zones = zones;
    state
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::assess::TileResult;
    use crate::shield::Tile;

    #[test]
    fn verif_shares_sum_to_one_and_risk_is_where_the_user_says() {
        let tile = |zone: &str, x: f64, area_m2: f64| {
            let mut tile = Tile { zone: zone.to_string(), ..Tile::default() };
            (tile.facet.centre.x, tile.facet.area_m2) = (x, area_m2);
            tile
        };
        let shield = Shield { tiles: vec![tile("aft", 5.0, 1.0), tile("nose", 1.0, 2.0), tile("aft", 7.0, 3.0)], ..Shield::default() };
        let result = |condition| TileResult { condition, ..TileResult::default() };
        let tiles = vec![result(Condition::AsBuilt), result(Condition::Watch), result(Condition::Repair)];
        let results = Assessment { tiles, ..Assessment::default() };
        let mut scenario = Scenario::with_entries(Vec::new());
        let plain = state(&shield, &scenario, &results);
        assert_eq!(plain.zones.iter().map(|zone| (zone.zone.as_str(), zone.x_m)).collect::<Vec<_>>(), [("nose", 1.0), ("aft", 6.5)]);
        assert_eq!(plain.zones[1].area_share[Condition::Repair as usize], 0.75);
        assert!(plain.risk_by_tile.is_empty() && plain.zones[0].risk_share.is_none());
        // 1 x 1 aft, 4 x 3 nose, 1 x 10 aft.
        scenario.inspection.consequence.insert("nose".to_string(), 4.0);
        let risk = state(&shield, &scenario, &results);
        assert!((risk.zones[0].risk_share.unwrap() - 12.0 / 23.0).abs() < 1e-12);
        assert!((risk.risk_by_tile.iter().sum::<f64>() - 1.0).abs() < 1e-12);
        assert_eq!(risk.tiles_with_most_risk, Some(2.0 / 3.0));
        scenario.inspection.likelihood.insert("repair".to_string(), 0.0);
        assert!((state(&shield, &scenario, &results).zones[0].risk_share.unwrap() - 12.0 / 13.0).abs() < 1e-12);
    }
}
