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
//! between two cold walls). What enters the mouth is a share of what a flush face there would take: 0.56 laminar (D. R. Chapman, NACA TN 3792 (1956), a
//! separated layer over still air), 0.6 turbulent (H. K. Larson, J. Aero. Sci. 26 (1959), measured), from memory; still gas would let in 2 / pi = 0.64. All
//! of it counts on the tile behind the gap, whose wall the flow meets, as if spread over its face: factor 1 + share x mouth area / face area, less
//! what gets past the tile's own depth. That is on the hot side (its neighbour takes a part, and the mouth radiates) but for flow driven through the
//! gap by a pressure gradient, and for the tile's upper edge, which gets more than its mean; neither is in it.
//!
//! A user's tables ([`OwnFactors`]) take the place of either relation.

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
pub const ROWS: [Row; 7] = [
    Row { what: "turbulent plateau over M_e", value: 0.5, range: "M_e 2 to 6", source: "Zukoski, AIAA J. 5 (1967), from memory" },
    Row { what: "laminar plateau", value: 1.6, range: "M_e 1.2 to 4", source: "Chapman, Kuehn and Larson, NACA Report 1356, from memory" },
    Row { what: "laminar power", value: LAMINAR_POWER, range: "ratios to 10", source: "AGARDograph 203 (1975), from memory" },
    Row { what: "turbulent power", value: TURBULENT_POWER, range: "ratios to 20", source: "AGARDograph 203 (1975), from memory" },
    Row {
        what: "share that enters a gap, laminar",
        value: 0.56,
        range: "gaps narrower than the layer",
        source: "Chapman, NACA TN 3792 (1956), from memory",
    },
    Row {
        what: "share that enters a gap, turbulent",
        value: 0.6,
        range: "edge Mach number to 4",
        source: "Larson, J. Aero. Sci. 26 (1959), from memory",
    },
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

/// A user's own factors in place of a relation: over a step's height or a gap's width by layer thickness, linear between and held at the ends.
#[derive(Debug, Clone, PartialEq)]
pub struct OwnFactors {
    pub laminar: Table,
    pub turbulent: Table,
    pub source: String,
}

/// The axes of a user's tables: step height, gap width over the boundary layer's thickness (to 0.995 of the edge speed).
pub const STEP_AXIS: &str = "step_over_layer";
pub const GAP_AXIS: &str = "gap_over_layer";

impl OwnFactors {
    /// Laminar and turbulent mixed by the intermittency; 1 at no step or gap, and never below 1 unless the table says so.
    pub fn factor(&self, size_m: f64, layer: &Layer) -> f64 {
        if size_m.is_nan() || size_m <= 0.0 {
            return 1.0;
        }
        let y = size_m / layer.thickness_m.max(1e-9);
        let (laminar, turbulent) = (self.laminar.value_at(y), self.turbulent.value_at(y));
        laminar + layer.intermittency.clamp(0.0, 1.0) * (turbulent - laminar)
    }
}

/// Open gaps ahead of a tile.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Gaps {
    /// The widest.
    pub width_m: f64,
    /// Area of their mouths over that of the tile's face, less what reaches their feet.
    pub mouth: f64,
}

impl Gaps {
    /// One more gap, `length_m` long, ahead of a tile of this face and thickness.
    pub fn with(self, width_m: f64, length_m: f64, area_m2: f64, thickness_m: f64) -> Gaps {
        if !(width_m > 0.0 && area_m2 > 0.0) {
            return self;
        }
        let kept = 1.0 - gap_factor(thickness_m, width_m);
        Gaps { width_m: self.width_m.max(width_m), mouth: self.mouth + width_m * length_m / area_m2 * kept }
    }

    /// Heating of the tile over that of one with closed joints; 1 or more, 1 without a gap.
    pub fn factor(&self, layer: &Layer) -> f64 {
        let [.., laminar, turbulent, _] = ROWS.map(|row| row.value);
        1.0 + self.mouth * (laminar + layer.intermittency.clamp(0.0, 1.0) * (turbulent - laminar))
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
        let table = |value: &[f64]| Table { axis: STEP_AXIS, at: vec![0.1, 0.5, 2.0], value: value.to_vec() };
        let own = OwnFactors { laminar: table(&[1.1, 1.5, 3.0]), turbulent: table(&[1.2, 2.0, 4.0]), source: "own".to_string() };
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

    /// The walls of a still gap take in 2 / pi of what a flush face of its width would: the integral of the fall over both. The published shares of a
    /// separated layer, with which a gap counts, lie within 13 % of it.
    #[test]
    fn val_what_enters_a_gap() {
        let (width, steps) = (0.002, 20_000);
        let step = 10.0 * width / f64::from(steps);
        let walls: f64 = (0..steps).map(|i| 2.0 * step * gap_factor((f64::from(i) + 0.5) * step, width)).sum();
        let still = 2.0 / std::f64::consts::PI;
        assert!((walls / width / still - 1.0).abs() < 1e-6, "{}", walls / width);
        let one = Gaps::default().with(width, 0.15, 0.0225, 0.04);
        for (intermittency, share) in [(0.0, 0.56), (1.0, 0.6)] {
            let rise = one.factor(&Layer { intermittency, ..LAYER }) - 1.0;
            assert!((rise / (share * width * 0.15 / 0.0225) - 1.0).abs() < 1e-9, "{rise}");
            println!("share {share}: {:.0} % from still gas; 2 mm beside 150 mm: {:.2} %", 100.0 * (share / still - 1.0), 100.0 * rise);
            assert!((share / still - 1.0).abs() < 0.13);
        }
    }

    /// More gaps and wider ones never cool; none, or one without a width, changes nothing; a tile as shallow as its gap is wide keeps what it stops.
    #[test]
    fn verif_gaps_add_up() {
        let none = Gaps::default();
        assert_eq!(none.factor(&LAYER), 1.0);
        assert_eq!(none.with(0.0, 0.15, 0.02, 0.04), none);
        assert_eq!(none.with(f64::NAN, 0.15, 0.02, 0.04), none);
        let (one, two) = (none.with(0.002, 0.15, 0.02, 0.04), none.with(0.002, 0.15, 0.02, 0.04).with(0.003, 0.1, 0.02, 0.04));
        assert!(two.factor(&LAYER) > one.factor(&LAYER) && one.factor(&LAYER) > 1.0);
        assert_eq!(two.width_m, 0.003);
        let shallow = none.with(0.01, 0.15, 0.02, 0.01);
        assert!((shallow.mouth / (0.01 * 0.15 / 0.02) - 0.9568).abs() < 1e-4, "{}", shallow.mouth);
    }
}
