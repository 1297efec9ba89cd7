//! What trips a boundary layer, as editable data: each number is named by what it measures and carries its source and range.
//!
//! The form of the three isolated-roughness rows is (Re_theta / M_e) (k / delta) = C with k the height, depth or length: the abstract of
//! Berry, Horvath, Greene, Kinder and Wang, AIAA 2006-2918, names the quantities correlated and the coefficients 27, 100 and 900 (abstract
//! read; the product form from memory of the same paper). King, Kegerise and Berry, NASA/TP-2009-215951, revised the protuberance
//! correlation (title and summary read, its revised numbers not): who has the report lays its numbers over these rows.

use crate::document::Sorting as _;

/// What a row of the table measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Measure {
    /// (Re_theta / M_e) (height / delta) of something that stands proud.
    ProtuberanceHeight,
    /// (Re_theta / M_e) (depth / delta) of a cavity.
    CavityDepth,
    /// (Re_theta / M_e) (length / delta) of a cavity along the stream.
    CavityLength,
    /// rho u k / mu at the top of the roughness, in the undisturbed laminar layer.
    RoughnessReynolds,
    /// Re_theta / M_e of a smooth surface.
    SmoothBody,
    /// Half-angle of the turbulent wedge behind a site, degrees.
    WedgeHalfAngle,
}

impl Measure {
    pub const ALL: [Measure; 6] = [
        Measure::ProtuberanceHeight,
        Measure::CavityDepth,
        Measure::CavityLength,
        Measure::RoughnessReynolds,
        Measure::SmoothBody,
        Measure::WedgeHalfAngle,
    ];
    pub const WORDS: [&'static str; 6] =
        ["protuberance-height", "cavity-depth", "cavity-length", "roughness-reynolds", "smooth-body", "wedge-half-angle"];

    /// The word of the scenario's `measure`.
    pub fn word(self) -> &'static str {
        Measure::WORDS[self as usize]
    }

    pub fn from_word(word: &str) -> Option<Measure> {
        Measure::ALL.into_iter().find(|measure| measure.word() == word)
    }

    /// For a reader: `cavity depth`.
    pub fn label(self) -> &'static str {
        match self {
            Measure::ProtuberanceHeight => "protuberance height",
            Measure::CavityDepth => "cavity depth",
            Measure::CavityLength => "cavity length",
            Measure::RoughnessReynolds => "roughness Reynolds number",
            Measure::SmoothBody => "smooth body",
            Measure::WedgeHalfAngle => "wedge half-angle",
        }
    }

    /// The largest value that the table takes; all are above 0.
    pub fn most(self) -> f64 {
        if self == Measure::WedgeHalfAngle { 30.0 } else { 1e6 }
    }

    fn shipped(self) -> (f64, &'static str, &'static str) {
        const BERRY: &str = "Berry and others, AIAA 2006-2918, abstract; revised in NASA/TP-2009-215951";
        match self {
            Measure::ProtuberanceHeight => (27.0, BERRY, "isolated, height up to about the layer's thickness, windward side"),
            Measure::CavityDepth => (100.0, BERRY, "isolated, open at the top, windward side"),
            Measure::CavityLength => (900.0, BERRY, "isolated, length along the stream, windward side"),
            Measure::RoughnessReynolds => (
                600.0,
                "Braslow and Knox, NACA TN 4363 (1958), three-dimensional particles (from memory)",
                "Mach 0 to 5 at the edge, k within the layer",
            ),
            Measure::SmoothBody => (
                300.0,
                "common practice for windward surfaces; tunnel correlations lie between 250 and 350 (from memory)",
                "windward side, 30 to 45 degrees, no roughness of its own",
            ),
            Measure::WedgeHalfAngle => (
                7.0,
                "Fischer, AIAA J. 10 (1972), 957: about 10 degrees at low speed, 4 at Mach 6 (from memory); windward edges are at Mach 2 to 3",
                "edge Mach number 1.5 to 4",
            ),
        }
    }
}

/// One row: what trips, at what value, whose number that is.
#[derive(Debug, Clone, PartialEq)]
pub struct Threshold {
    pub measure: Measure,
    /// Above 0; degrees for the wedge, else a pure number.
    pub value: f64,
    pub source: String,
    pub range: String,
}

/// The table: the shipped rows, replaced by the user's where they name the same measure.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Thresholds {
    /// The user's own rows, each measure once.
    pub own: Vec<Threshold>,
}

impl Thresholds {
    pub fn value(&self, measure: Measure) -> f64 {
        self.own.iter().find(|row| row.measure == measure).map_or(measure.shipped().0, |row| row.value)
    }

    /// The row that counts.
    pub fn row(&self, measure: Measure) -> Threshold {
        let (value, source, range) = measure.shipped();
        let shipped = || Threshold { measure, value, source: source.to_string(), range: range.to_string() };
        self.own.iter().find(|row| row.measure == measure).cloned().unwrap_or_else(shipped)
    }

    /// All rows that count, in the order of the measures.
    pub fn rows(&self) -> Vec<Threshold> {
        Measure::ALL.into_iter().map(|measure| self.row(measure)).collect()
    }

    /// Sets one number; a row of the user's keeps its source, a shipped one becomes the user's with the source `set by hand`.
    pub fn set(&mut self, measure: Measure, value: f64) {
        match self.own.iter_mut().find(|row| row.measure == measure) {
            Some(row) => row.value = value,
            None => {
                let row = Threshold { value, source: "set by hand".to_string(), ..self.row(measure) };
                self.own.push(row);
                self.own.order_by_key(|row| row.measure);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// AIAA 2006-2918, abstract: "empirical curve coefficients of 27, 100, and 900 were selected to predict transition onset for protuberances
    /// based on height, and cavities based on depth and length, respectively".
    #[test]
    fn val_isolated_roughness_thresholds() {
        let table = Thresholds::default();
        for (measure, want) in [(Measure::ProtuberanceHeight, 27.0), (Measure::CavityDepth, 100.0), (Measure::CavityLength, 900.0)] {
            assert_eq!(table.value(measure), want);
            assert!(table.row(measure).source.contains("2006-2918"));
        }
    }

    #[test]
    fn verif_own_rows_replace_the_shipped() {
        let mut table = Thresholds::default();
        table.set(Measure::CavityLength, 700.0);
        table.set(Measure::ProtuberanceHeight, 31.0);
        table.set(Measure::CavityLength, 750.0);
        assert_eq!(table.own.len(), 2);
        assert_eq!(table.value(Measure::CavityLength), 750.0);
        assert_eq!(table.row(Measure::ProtuberanceHeight).source, "set by hand");
        assert_eq!(table.value(Measure::CavityDepth), 100.0);
        let words: Vec<_> = Measure::ALL.map(|measure| Measure::from_word(measure.word())).into();
        assert_eq!(words, Measure::ALL.map(Some));
    }
}
