//! What a step or a gap between tiles does to their heating: editable data, each row with its source and range.
//!
//! A tile that stands proud by k of the tile ahead of it makes the flow separate before its edge and attach on it. The pressure of that separation gives
//! the heating as it does behind a compression corner: factor F = (p_plateau / p)^n, with the plateau of turbulent flow 1 + M_e / 2 (E. E. Zukoski, AIAA
//! J. 5 (1967)) and of laminar flow 1 + 0.7 M_e^2 x 1.6 sqrt(c_f / sqrt(M_e^2 - 1)) (free interaction: D. R. Chapman, D. M. Kuehn and H. K. Larson, NACA Report
//! 1356 (1958)), and n = 0.7 laminar, 0.85 turbulent (Hankey and Holden, AGARDograph 203); forms and constants from memory. A step lower than the layer
//! separates only the layer's lower part: 1 + (F - 1) y / sqrt(1 + y^2), y = k / delta (common practice: in proportion at first, whole for a step that
//! fills the layer). A tile that lies lower than the one ahead gets 1: no relief is claimed. Applies to the proud tile as a whole, which is an upper
//! bound away from its forward edge.
//!
//! Down a gap heating falls at least as fast as diffusion lets it: exp(-pi z / w) at depth z in a gap w wide (slowest term of the exact solution for still gas
//! between two cold walls). Flow driven through the gap by a pressure gradient is not in it. A user's table
//! ([`StepTable`]) takes the place of the steps' relation.

use super::control::{LAMINAR_POWER, TURBULENT_POWER};
use crate::document::Table;

/// One row of what the relations hold on to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row {
    pub what: &'static str,
    pub value: f64,
    pub range: &'static str,
    pub source: &'static str,
}

/// The constants, as results and the reference show them.
pub const ROWS: [Row; 5] = [
    Row { what: "turbulent plateau over M_e", value: 0.5, range: "M_e 2 to 6", source: "Zukoski, AIAA J. 5 (1967), from memory" },
    Row { what: "laminar plateau", value: 1.6, range: "M_e 1.2 to 4", source: "Chapman, Kuehn and Larson, NACA Report 1356, from memory" },
    Row { what: "laminar power", value: LAMINAR_POWER, range: "ratios to 10", source: "AGARDograph 203 (1975), from memory" },
    Row { what: "turbulent power", value: TURBULENT_POWER, range: "ratios to 20", source: "AGARDograph 203 (1975), from memory" },
    Row { what: "least edge Mach number", value: 1.2, range: "", source: "below it the free interaction has no meaning; held" },
];

/// The boundary layer at a step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Layer {
    /// To 0.995 of the edge speed.
    pub thickness_m: f64,
    pub edge_mach: f64,
    /// Laminar, at the place of the step.
    pub skin_friction: f64,
    /// 0 laminar to 1 turbulent.
    pub intermittency: f64,
}

/// A user's own factors of a proud tile, in place of the relation: over step height by layer thickness, linear between and held at the ends.
#[derive(Debug, Clone, PartialEq)]
pub struct StepTable {
    pub laminar: Table,
    pub turbulent: Table,
    pub source: String,
}

impl StepTable {
    /// The axis of both tables: step height over the boundary layer's thickness (to 0.995 of the edge speed).
    pub const AXIS: &'static str = "step_over_layer";

    /// As [`step_factor`], from the table: laminar and turbulent mixed by the intermittency; 1 at no step, and never below 1 unless the table says so.
    pub fn factor(&self, step_m: f64, layer: &Layer) -> f64 {
        if step_m.is_nan() || step_m <= 0.0 {
            return 1.0;
        }
        let y = step_m / layer.thickness_m.max(1e-9);
        let (laminar, turbulent) = (self.laminar.value_at(y), self.turbulent.value_at(y));
        laminar + layer.intermittency.clamp(0.0, 1.0) * (turbulent - laminar)
    }
}

/// Heating of a tile that stands `step_m` proud of the one ahead (negative: lower), over that of a flush one; 1 or more, 1 at no step.
///
/// Range: steps to a few layer thicknesses, M_e 1.2 to 6. Errors: none; a layer of no thickness counts as thin as can be.
pub fn step_factor(step_m: f64, layer: &Layer) -> f64 {
    if step_m.is_nan() || step_m <= 0.0 {
        return 1.0;
    }
    let [turbulent_plateau, laminar_plateau, .., least_mach] = ROWS.map(|row| row.value);
    let mach = layer.edge_mach.max(least_mach);
    let laminar = 1.0 + 0.7 * mach * mach * laminar_plateau * (layer.skin_friction.max(0.0) / (mach * mach - 1.0).sqrt()).sqrt();
    let turbulent = 1.0 + turbulent_plateau * mach;
    let (laminar, turbulent) = (libm::pow(laminar, LAMINAR_POWER), libm::pow(turbulent, TURBULENT_POWER));
    let whole = laminar + layer.intermittency.clamp(0.0, 1.0) * (turbulent - laminar);
    let y = step_m / layer.thickness_m.max(1e-9);
    1.0 + (whole - 1.0) * y / (1.0 + y * y).sqrt()
}

/// Heating of a gap's wall at a depth, over that of the face beside the gap: 1 at the mouth, falling with depth over width.
pub fn gap_factor(depth_m: f64, width_m: f64) -> f64 {
    if width_m <= 0.0 { 0.0 } else { libm::exp(-std::f64::consts::PI * depth_m.max(0.0) / width_m) }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LAYER: Layer = Layer { thickness_m: 0.05, edge_mach: 2.5, skin_friction: 1e-3, intermittency: 0.0 };

    #[test]
    fn verif_no_step_changes_nothing_and_more_never_cools() {
        assert_eq!(step_factor(0.0, &LAYER), 1.0);
        assert_eq!(step_factor(-0.002, &LAYER), 1.0);
        assert_eq!(step_factor(f64::NAN, &LAYER), 1.0);
        let mut before = 1.0;
        for step in 1..200 {
            let laminar = step_factor(1e-4 * f64::from(step), &LAYER);
            let turbulent = step_factor(1e-4 * f64::from(step), &Layer { intermittency: 1.0, ..LAYER });
            assert!(laminar >= before && turbulent > laminar, "{step}");
            before = laminar;
        }
    }

    /// Free interaction at M 2.5, c_f 0.001: plateau 1.15 to 1.2 in NACA Report 1356's correlation; turbulent 1 + M / 2 = 2.25 (Zukoski), 2.0 in heating.
    #[test]
    fn val_plateaus() {
        let whole = |intermittency: f64| step_factor(1e3, &Layer { intermittency, ..LAYER });
        assert!((whole(0.0) / 1.147_f64.powf(0.7) - 1.0).abs() < 0.05, "{}", whole(0.0));
        assert!((whole(1.0) / 2.25_f64.powf(0.85) - 1.0).abs() < 1e-6, "{}", whole(1.0));
        println!("a high step at M 2.5: laminar {:.2}, turbulent {:.2}", whole(0.0), whole(1.0));
    }

    /// At its points, between, beyond and mixed; no step stays 1 whatever the table says.
    #[test]
    fn verif_a_users_table_takes_the_relations_place() {
        let table = |value: &[f64]| Table { axis: StepTable::AXIS, at: vec![0.1, 0.5, 2.0], value: value.to_vec() };
        let own = StepTable { laminar: table(&[1.1, 1.5, 3.0]), turbulent: table(&[1.2, 2.0, 4.0]), source: "own".to_string() };
        for (y, intermittency, want) in [
            (0.1, 0.0, 1.1),
            (0.5, 1.0, 2.0),
            (0.3, 0.0, 1.3),
            (1.25, 0.5, 2.625),
            (0.01, 1.0, 1.2),
            (9.0, 0.0, 3.0),
            (0.0, 0.0, 1.0),
            (-1.0, 1.0, 1.0),
        ] {
            let got = own.factor(y * LAYER.thickness_m, &Layer { intermittency, ..LAYER });
            assert!((got - want).abs() < 1e-12, "{y} {intermittency}: {got} for {want}");
        }
    }

    #[test]
    fn verif_gap() {
        assert_eq!(gap_factor(0.0, 0.001), 1.0);
        assert!((gap_factor(0.001, 0.001) - 0.0432).abs() < 1e-4);
        assert_eq!(gap_factor(0.01, 0.0), 0.0);
    }
}
