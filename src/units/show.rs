//! What a screen shows: each quantity's label, factor and offset in SI and in US customary units.

use super::parse::{BTU_FT2S_W_M2, BTU_J, FOOT_M, PSI_PA};
use crate::document::text::significant;

/// Which units a screen shows. Files are always SI.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum System {
    #[default]
    Si,
    UsCustomary,
}

/// A quantity that a screen shows, by the SI unit that it is held in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quantity {
    /// A temperature, K, shown in K or degrees Fahrenheit.
    Temperature,
    /// A difference of temperatures, K.
    TemperatureDifference,
    /// m.
    Length,
    /// m, shown in km or thousands of feet.
    Altitude,
    /// m, shown in mm or inches.
    Thickness,
    /// m/s.
    Speed,
    /// kg.
    Mass,
    /// m2.
    Area,
    /// kg/m3.
    Density,
    /// Pa.
    Pressure,
    /// W/m2, shown in kW/m2.
    HeatFlux,
    /// J/m2, shown in MJ/m2.
    HeatLoad,
    /// J/kg, shown in MJ/kg.
    Enthalpy,
    /// W/(m K).
    Conductivity,
    /// J/(kg K).
    SpecificHeat,
    /// s.
    Time,
    /// degrees.
    Angle,
    /// A ratio.
    Plain,
}

/// How a quantity is shown: shown = SI * factor + offset.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shown {
    pub label: &'static str,
    pub factor: f64,
    pub offset: f64,
}

const fn shown(label: &'static str, factor: f64) -> Shown {
    Shown { label, factor, offset: 0.0 }
}

/// Pound, kg (exact).
pub const POUND_KG: f64 = 0.45359237;

impl Quantity {
    /// Label, factor and offset in a system of units.
    pub fn shown(self, system: System) -> Shown {
        const FOOT2: f64 = FOOT_M * FOOT_M;
        let us = system == System::UsCustomary;
        match self {
            Quantity::Temperature if us => Shown { label: "°F", factor: 1.8, offset: -459.67 },
            Quantity::Temperature => shown("K", 1.0),
            Quantity::TemperatureDifference if us => shown("°F", 1.8),
            Quantity::TemperatureDifference => shown("K", 1.0),
            Quantity::Length if us => shown("ft", 1.0 / FOOT_M),
            Quantity::Length => shown("m", 1.0),
            Quantity::Altitude if us => shown("kft", 1e-3 / FOOT_M),
            Quantity::Altitude => shown("km", 1e-3),
            Quantity::Thickness if us => shown("in", 1.0 / 0.0254),
            Quantity::Thickness => shown("mm", 1000.0),
            Quantity::Speed if us => shown("ft/s", 1.0 / FOOT_M),
            Quantity::Speed => shown("m/s", 1.0),
            Quantity::Mass if us => shown("lb", 1.0 / POUND_KG),
            Quantity::Mass => shown("kg", 1.0),
            Quantity::Area if us => shown("ft²", 1.0 / FOOT2),
            Quantity::Area => shown("m²", 1.0),
            Quantity::Density if us => shown("lb/ft³", FOOT2 * FOOT_M / POUND_KG),
            Quantity::Density => shown("kg/m³", 1.0),
            Quantity::Pressure if us => shown("psf", 144.0 / PSI_PA),
            Quantity::Pressure => shown("Pa", 1.0),
            Quantity::HeatFlux if us => shown("Btu/ft²s", 1.0 / BTU_FT2S_W_M2),
            Quantity::HeatFlux => shown("kW/m²", 1e-3),
            Quantity::HeatLoad if us => shown("Btu/ft²", FOOT2 / BTU_J),
            Quantity::HeatLoad => shown("MJ/m²", 1e-6),
            Quantity::Enthalpy if us => shown("Btu/lb", POUND_KG / BTU_J),
            Quantity::Enthalpy => shown("MJ/kg", 1e-6),
            // Btu in / (ft2 h °F), the trade's unit for insulation.
            Quantity::Conductivity if us => shown("Btu·in/ft²h°F", 3600.0 * FOOT2 / (BTU_J * 1.8 * 0.0254)),
            Quantity::Conductivity => shown("W/m·K", 1.0),
            Quantity::SpecificHeat if us => shown("Btu/lb°F", POUND_KG / (BTU_J * 1.8)),
            Quantity::SpecificHeat => shown("J/kg·K", 1.0),
            Quantity::Time => shown("s", 1.0),
            Quantity::Angle => shown("°", 1.0),
            Quantity::Plain => shown("", 1.0),
        }
    }

    /// The shown number of an SI value.
    pub fn to_shown(self, si: f64, system: System) -> f64 {
        let unit = self.shown(system);
        si * unit.factor + unit.offset
    }

    /// The SI value of a shown number.
    pub fn to_si(self, number: f64, system: System) -> f64 {
        let unit = self.shown(system);
        (number - unit.offset) / unit.factor
    }

    /// Number with at most `digits` significant digits, and label.
    pub fn text(self, si: f64, digits: usize, system: System) -> String {
        let number = significant(self.to_shown(si, system), digits);
        let label = self.shown(system).label;
        if label.is_empty() || number.is_empty() { number } else { format!("{number} {label}") }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_conversions_are_the_defined_ones() {
        for (quantity, si, want, label) in [
            (Quantity::Temperature, 1922.038888888889, 3000.0, "°F"),
            (Quantity::TemperatureDifference, 100.0, 180.0, "°F"),
            (Quantity::Length, 121920.0, 400000.0, "ft"),
            (Quantity::Mass, 12000.0, 26_455.471_462_185_31, "lb"),
            (Quantity::Thickness, 0.0254, 1.0, "in"),
            (Quantity::HeatFlux, 11356.526682, 1.0, "Btu/ft²s"),
            (Quantity::HeatLoad, 1e6, 88.0550918411529, "Btu/ft²"),
            (Quantity::Pressure, 47.88025898, 1.0, "psf"),
            (Quantity::Density, 144.16615, 9.0, "lb/ft³"),
            (Quantity::Conductivity, 0.144227889, 1.0, "Btu·in/ft²h°F"),
            (Quantity::SpecificHeat, 4186.8, 1.0, "Btu/lb°F"),
            (Quantity::Enthalpy, 2326.0, 1.0, "Btu/lb"),
        ] {
            let got = quantity.to_shown(si, System::UsCustomary);
            assert!((got / want - 1.0).abs() < 1e-6, "{quantity:?}: {got}");
            assert_eq!(quantity.shown(System::UsCustomary).label, label);
            assert!((quantity.to_si(got, System::UsCustomary) / si - 1.0).abs() < 1e-12);
        }
        assert_eq!(Quantity::Temperature.text(1483.26, 4, System::Si), "1483 K");
    }
}
