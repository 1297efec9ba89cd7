//! Which tiles are made waterproof again. Lost waterproofing means mass (soaked tiles) and freeze cracking, not heat.
//!
//! Default: every tile after every flight, as recorded practice (the agent burns out of the hot outer part of a tile at each entry). The
//! option skips tiles in which the agent has burned out no deeper than a stated depth, taken as the depth to which a stated isotherm reached.

use crate::assess::Assessment;
use crate::assess::history::Standing;
use crate::material::{Conductivity, Kind};
use crate::scenario::{Scenario, Waterproofing};
use crate::shield::{Finding, Shield, TileState};
use crate::tile::properties::Conduction;

/// What is done and what is saved.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Treatment {
    /// Tiles to be treated, in order.
    pub tiles: Vec<usize>,
    /// Tiles that the default would treat and the option skips.
    pub skipped: Vec<usize>,
    /// The rule in words.
    pub rule: String,
    pub warnings: Vec<String>,
}

/// Whether a tile takes the agent at all: rigid ceramic tiles in service do, hot structure does not.
fn takes_agent(shield: &Shield, tile: usize) -> bool {
    let row = &shield.tiles[tile];
    let tile_material = shield.library.materials.get(row.material).is_some_and(|material| material.kind == Kind::Tile);
    tile_material && row.state == TileState::InService
}

/// The depth to which a tile may have been hotter than the isotherm, mm, from the peaks of its surface and glue line: 0 for a cold tile.
///
/// A bound from above: a tile whose faces never exceed the two peaks is nowhere hotter than in the steady state between them, which is a
/// straight line in the integral of conductivity over temperature. Where conductivity depends on pressure the deepest over its rows counts.
fn burned_mm(surface_k: f64, bondline_k: Option<f64>, thickness_mm: f64, conductivity: &Conductivity, isotherm_k: f64) -> f64 {
    if surface_k <= isotherm_k {
        return 0.0;
    }
    let Some(bondline_k) = bondline_k.filter(|bondline_k| *bondline_k < isotherm_k) else { return thickness_mm };
    let conduction = Conduction::of(conductivity);
    let pressures = match conductivity {
        Conductivity::Grid { pressure_pa, .. } => pressure_pa.as_slice(),
        Conductivity::Curve(_) => &[0.0],
    };
    let share = |pressure_pa: &f64| {
        let blend = conduction.blend(*pressure_pa);
        let potential = |temperature_k: f64| conduction.at(temperature_k, blend).1;
        (potential(surface_k) - potential(isotherm_k)) / (potential(surface_k) - potential(bondline_k))
    };
    thickness_mm * pressures.iter().map(share).fold(0.0, f64::max)
}

/// Which tiles are treated. `worked` tiles were opened by other work and are treated under any rule, as is a tile with a finding of lost
/// waterproofing.
pub fn treatment(
    shield: &Shield,
    scenario: &Scenario,
    findings: &[Finding],
    standings: &[Standing],
    results: &Assessment,
    worked: &[bool],
) -> Treatment {
    let mut lost = vec![false; shield.tiles.len()];
    for (finding, standing) in findings.iter().zip(standings) {
        if finding.kind == "waterproofing-lost" && !standing.closed {
            lost[finding.tile] = true;
        }
    }
    let all = (0..shield.tiles.len()).filter(|tile| takes_agent(shield, *tile));
    match scenario.work.waterproofing {
        Waterproofing::EveryTile => Treatment {
            tiles: all.collect(),
            rule: "every tile after every flight (recorded practice)".to_string(),
            ..Treatment::default()
        },
        Waterproofing::BurnedOut { isotherm_k, depth_mm } => {
            let mut unknown = 0;
            let mut deep = |tile: usize| {
                let Some(result) = results.tiles.get(tile) else { return true };
                unknown += usize::from(result.bondline.is_none() && result.surface.temperature_k > isotherm_k);
                let bondline_k = result.bondline.map(|peak| peak.temperature_k);
                let Some(material) = shield.library.materials.get(result.effective.material) else { return true };
                let (surface_k, thickness_mm) = (result.surface.temperature_k, 1e3 * result.effective.thickness_m);
                burned_mm(surface_k, bondline_k, thickness_mm, &material.conductivity_w_mk, isotherm_k) > depth_mm
            };
            let (tiles, skipped): (Vec<usize>, Vec<usize>) = all.partition(|tile| deep(*tile) || lost[*tile] || worked[*tile]);
            let mut warnings = vec![
                "waterproofing is skipped by this scenario's prediction, not by the flown temperatures; recorded practice is every tile"
                    .to_string(),
            ];
            if unknown > 0 {
                warnings.push(format!(
                    "{unknown} tiles hotter than the isotherm have no glue line temperature and count as burned out throughout"
                ));
            }
            let rule = format!(
                "where the {isotherm_k} K isotherm reached deeper than {depth_mm} mm, where found lost, and where opened by other work"
            );
            Treatment { tiles, skipped, rule, warnings }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::document::{Curve, Table};

    #[test]
    fn verif_the_depth_is_bracketed_by_the_faces() {
        // Constant conductivity: a straight line in temperature. Proportional to temperature: in its square.
        let constant = Conductivity::Curve(Curve::Constant(0.1));
        let rising = Table { axis: "temperature_k", at: vec![1.0, 3000.0], value: vec![1e-4, 0.3] };
        let rising = Conductivity::Curve(Curve::Table(rising));
        for (surface, bond, want, rises) in [
            (800.0, Some(400.0), 0.0, 0.0),
            (1200.0, Some(400.0), 22.5, 50.0 * (1440.0 - 705.6) / (1440.0 - 160.0)),
            (1200.0, Some(900.0), 50.0, 50.0),
            (1200.0, None, 50.0, 50.0),
        ] {
            assert!((burned_mm(surface, bond, 50.0, &constant, 840.0) - want).abs() < 1e-9);
            assert!((burned_mm(surface, bond, 50.0, &rising, 840.0) - rises).abs() < 1e-9);
        }
    }
}
