//! What sizing found, for people: by zone, and taken over into a scenario.

use crate::assess::Assessment;
use crate::assess::sizing::{Need, Sizing};
use crate::document::Sorting as _;
use crate::scenario::{Change, ChangeKey, ChangeValue, Reach, Scenario};
use crate::shield::Shield;

/// The sizing of one zone, or of the whole shield.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Zone {
    pub name: String,
    pub tiles: usize,
    pub area_m2: f64,
    /// As the shield is, and as it would be; a tile without an answer counts as it is in both.
    pub mass_kg: f64,
    pub needed_kg: f64,
    /// Tiles that must grow, may shrink, and that no thickness within the limits helps.
    pub thicker: usize,
    pub thinner: usize,
    pub never: usize,
    /// Tiles whose surface falls short, which no thickness cools.
    pub surface_short: usize,
}

/// Metres below which a thickness is the same.
const SAME_M: f64 = 1e-6;

impl Zone {
    fn add(&mut self, area_m2: f64, now_m: f64, density_kg_m3: f64, sized: &Sizing) {
        let needed_m = sized.required_m.unwrap_or(now_m);
        self.tiles += 1;
        self.area_m2 += area_m2;
        self.mass_kg += area_m2 * now_m * density_kg_m3;
        self.needed_kg += area_m2 * needed_m * density_kg_m3;
        self.thicker += usize::from(needed_m > now_m + SAME_M);
        self.thinner += usize::from(needed_m < now_m - SAME_M);
        self.never += usize::from(sized.need == Need::NotAtMaximum);
        self.surface_short += usize::from(sized.surface_short);
    }
}

/// The whole shield first, then its zones by the mass they gain, largest first. `sized` is by tile and may be cut short.
pub fn by_zone(shield: &Shield, assessment: &Assessment, sized: &[Sizing]) -> Vec<Zone> {
    let mut whole = Zone { name: "whole shield".to_string(), ..Zone::default() };
    let mut zones: Vec<Zone> = Vec::new();
    for ((tile, result), sized) in shield.tiles.iter().zip(&assessment.tiles).zip(sized) {
        let (now_m, density) = (result.effective.thickness_m, result.effective.density_kg_m3);
        whole.add(tile.facet.area_m2, now_m, density, sized);
        let at = match zones.iter().position(|zone| zone.name == tile.zone) {
            Some(at) => at,
            None => {
                zones.push(Zone { name: tile.zone.clone(), ..Zone::default() });
                zones.len() - 1
            }
        };
        if let Some(zone) = zones.get_mut(at) {
            zone.add(tile.facet.area_m2, now_m, density, sized);
        }
    }
    let gain = |zone: &Zone| zone.needed_kg - zone.mass_kg;
    zones.order_by(|a, b| gain(b).total_cmp(&gain(a)).then(a.name.cmp(&b.name)));
    zones.insert(0, whole);
    zones
}

/// The scenario with every tile at the thickness that it needs: one change a thickness, thinnest first, after the changes that stand.
/// Earlier changes of the thickness of exactly such lists of tiles are replaced.
pub fn taken_over(shield: &Shield, assessment: &Assessment, scenario: &Scenario, sized: &[Sizing]) -> Scenario {
    let mut scenario = scenario.clone();
    let mut by_thickness: Vec<(f64, Vec<String>)> = Vec::new();
    for ((tile, result), sized) in shield.tiles.iter().zip(&assessment.tiles).zip(sized) {
        let Some(needed_m) = sized.required_m.filter(|needed_m| (needed_m - result.effective.thickness_m).abs() > SAME_M) else { continue };
        // Steps are whole micrometres at the least: what the file says is what was found.
        let mm = (needed_m * 1e6).round() / 1e3;
        match by_thickness.iter_mut().find(|(known, _)| *known == mm) {
            Some((_, tiles)) => tiles.push(tile.id.clone()),
            None => by_thickness.push((mm, vec![tile.id.clone()])),
        }
    }
    by_thickness.order_by(|a, b| a.0.total_cmp(&b.0));
    let moved: Vec<&String> = by_thickness.iter().flat_map(|(_, tiles)| tiles).collect();
    for change in &mut scenario.changes {
        if let Reach::Tiles(tiles) = &change.reach
            && tiles.iter().all(|tile| moved.contains(&tile))
        {
            change.set.retain(|(key, _)| *key != ChangeKey::ThicknessMm);
        }
    }
    scenario.changes.retain(|change| !change.set.is_empty());
    scenario.changes.extend(
        by_thickness
            .into_iter()
            .map(|(mm, tiles)| Change { reach: Reach::Tiles(tiles), set: vec![(ChangeKey::ThicknessMm, ChangeValue::Number(mm))] }),
    );
    scenario
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::assess::{Prepared, findings};
    use crate::assess::{TileResult, assess};
    use crate::shield::{demo, load};

    fn stand() -> (Shield, Scenario, Assessment) {
        let shield = load(&demo::files(), "Whinchat").expect("the demonstration");
        let scenario = Scenario::read("scenario.json", &demo::scenario_json(), &[]).expect("its scenario");
        let prepared = Prepared::new(&shield, &scenario).expect("prepared");
        let found = findings(&shield, &scenario).expect("findings");
        let assessment = assess(&shield, &scenario, &prepared, &found);
        (shield, scenario, assessment)
    }

    #[test]
    fn verif_zones_add_up_to_the_shield_and_taking_over_gives_every_tile_its_thickness() {
        let (shield, scenario, assessment) = stand();
        let sized: Vec<Sizing> = (assessment.tiles.iter().enumerate())
            .map(|(tile, result): (usize, &TileResult)| match tile % 3 {
                0 => Sizing { need: Need::Met, required_m: Some(result.effective.thickness_m + 0.0123), ..Sizing::default() },
                1 => Sizing { need: Need::NotAtMaximum, surface_short: true, ..Sizing::default() },
                _ => Sizing { need: Need::AtMinimum, required_m: Some(0.008), ..Sizing::default() },
            })
            .collect();
        let zones = by_zone(&shield, &assessment, &sized);
        let (whole, rest) = zones.split_first().expect("zones");
        assert_eq!(whole.tiles, shield.tiles.len());
        assert_eq!(rest.iter().map(|zone| zone.tiles).sum::<usize>(), whole.tiles);
        let sum: f64 = rest.iter().map(|zone| zone.needed_kg - zone.mass_kg).sum();
        assert!((sum - (whole.needed_kg - whole.mass_kg)).abs() < 1e-6 * whole.mass_kg);
        assert_eq!(whole.never, whole.surface_short);
        let taken = taken_over(&shield, &assessment, &scenario, &sized);
        let read = Scenario::read("taken.json", &taken.to_json().pretty(), &[]).expect("what was taken over reads");
        let prepared = Prepared::new(&shield, &read).expect("prepared again");
        for ((tile, sized), result) in prepared.tiles.iter().zip(&sized).zip(&assessment.tiles) {
            let wanted = sized.required_m.unwrap_or(result.effective.thickness_m);
            assert!((tile.thickness_m - wanted).abs() < 1e-6, "{} for {wanted}", tile.thickness_m);
        }
        // Again: nothing piles up.
        let again = taken_over(&shield, &assess(&shield, &read, &prepared, &[]), &read, &sized);
        assert_eq!(again.changes, read.changes);
    }
}
