//! Numbers as they are read: grouped, with their unit, in SI or US customary units, without false digits.
//!
//! A number, a narrow no-break space, its unit; degrees close up; the minus is U+2212; a difference may carry its sign always.
//! Factors are exact by definition (1 ft = 0.3048 m, 1 lb = 0.45359237 kg, NIST SP 811 appendix B) or follow from them.

use crate::scenario::UnitSystem;

/// Between a number and its unit.
pub const NARROW_SPACE: char = '\u{202f}';
/// The sign of a negative number.
pub const MINUS: char = '\u{2212}';
/// No value.
pub const NONE: &str = "\u{2014}";

/// Joules in one British thermal unit (International Table).
const BTU_J: f64 = 1055.05585262;
const FOOT_M: f64 = 0.3048;
const POUND_KG: f64 = 0.45359237;

/// What a number measures; it knows its units and how many digits are honest.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quantity {
    /// K; degrees Fahrenheit.
    Temperature,
    /// A difference of temperatures, K; degrees Fahrenheit.
    Difference,
    /// Metres in, km or ft out.
    Altitude,
    /// m/s in, km/s or ft/s out.
    Speed,
    /// Metres in, m or ft out.
    Length,
    /// Metres in, mm or in out.
    Thickness,
    /// Square metres; square feet.
    Area,
    /// kg; lb.
    Mass,
    /// W/m² in, kW/m² or Btu/ft²s out.
    Heating,
    /// J/m² in, MJ/m² or Btu/ft² out.
    HeatLoad,
    /// Pa in, kPa or psf out.
    Pressure,
    /// kg/m³; lb/ft³.
    Density,
    /// W/m²K; Btu/ft²hF.
    Film,
    /// Seconds.
    Time,
    /// Degrees of arc.
    Angle,
    /// A factor on a model.
    Factor,
    /// A number without a unit (emissivity, Mach, a share).
    Plain,
    /// A fraction shown in per cent.
    Percent,
    /// Standard deviations.
    Sigma,
    /// A whole number of flights.
    Flights,
}

impl Quantity {
    /// The unit as written after a number; empty where there is none.
    pub fn unit(self, units: UnitSystem) -> &'static str {
        let (si, us) = match self {
            Quantity::Temperature | Quantity::Difference => ("K", "°F"),
            Quantity::Altitude => ("km", "ft"),
            Quantity::Speed => ("km/s", "ft/s"),
            Quantity::Length => ("m", "ft"),
            Quantity::Thickness => ("mm", "in"),
            Quantity::Area => ("m²", "ft²"),
            Quantity::Mass => ("kg", "lb"),
            Quantity::Heating => ("kW/m²", "Btu/ft²s"),
            Quantity::HeatLoad => ("MJ/m²", "Btu/ft²"),
            Quantity::Pressure => ("kPa", "psf"),
            Quantity::Density => ("kg/m³", "lb/ft³"),
            Quantity::Film => ("W/m²K", "Btu/ft²h°F"),
            Quantity::Time => ("s", "s"),
            Quantity::Angle => ("°", "°"),
            Quantity::Factor => ("×", "×"),
            Quantity::Plain => ("", ""),
            Quantity::Percent => ("%", "%"),
            Quantity::Sigma => ("σ", "σ"),
            Quantity::Flights => ("flights", "flights"),
        };
        if units == UnitSystem::Us { us } else { si }
    }

    /// (scale, offset) with shown = scale * si + offset.
    fn map(self, units: UnitSystem) -> (f64, f64) {
        let us = units == UnitSystem::Us;
        match self {
            Quantity::Temperature if us => (1.8, -459.67),
            Quantity::Difference if us => (1.8, 0.0),
            Quantity::Altitude | Quantity::Length if us => (1.0 / FOOT_M, 0.0),
            Quantity::Altitude => (1e-3, 0.0),
            Quantity::Speed => (if us { 1.0 / FOOT_M } else { 1e-3 }, 0.0),
            Quantity::Thickness => (if us { 1.0 / 0.0254 } else { 1e3 }, 0.0),
            Quantity::Area if us => (1.0 / (FOOT_M * FOOT_M), 0.0),
            Quantity::Mass if us => (1.0 / POUND_KG, 0.0),
            Quantity::Heating => (if us { FOOT_M * FOOT_M / BTU_J } else { 1e-3 }, 0.0),
            Quantity::HeatLoad => (if us { FOOT_M * FOOT_M / BTU_J } else { 1e-6 }, 0.0),
            // 1 psf = 1 lb * 9.80665 m/s² over 1 ft².
            Quantity::Pressure => (if us { FOOT_M * FOOT_M / (POUND_KG * 9.80665) } else { 1e-3 }, 0.0),
            Quantity::Density if us => (FOOT_M * FOOT_M * FOOT_M / POUND_KG, 0.0),
            Quantity::Film if us => (FOOT_M * FOOT_M * 3600.0 / (BTU_J * 1.8), 0.0),
            Quantity::Percent => (100.0, 0.0),
            _ => (1.0, 0.0),
        }
    }

    /// The number as shown, from its SI value.
    pub fn shown(self, si: f64, units: UnitSystem) -> f64 {
        let (scale, offset) = self.map(units);
        scale * si + offset
    }

    /// The SI value of a shown number.
    pub fn si(self, shown: f64, units: UnitSystem) -> f64 {
        let (scale, offset) = self.map(units);
        (shown - offset) / scale
    }

    /// Decimals of a shown number: as many as the engine's stated errors support.
    pub fn decimals(self, shown: f64, units: UnitSystem) -> usize {
        let us = units == UnitSystem::Us;
        match self {
            Quantity::Temperature | Quantity::Difference | Quantity::Time | Quantity::Mass | Quantity::Flights => 0,
            Quantity::Altitude | Quantity::Speed if us => 0,
            Quantity::Altitude | Quantity::Angle | Quantity::Sigma => 1,
            Quantity::Speed | Quantity::Factor | Quantity::Plain => 2,
            Quantity::Length | Quantity::Thickness => {
                if us {
                    2
                } else {
                    1
                }
            }
            Quantity::Area => {
                if us {
                    2
                } else {
                    3
                }
            }
            Quantity::Heating if us => 1,
            Quantity::HeatLoad if us => 0,
            Quantity::Pressure | Quantity::Density | Quantity::Film => 1,
            Quantity::Heating | Quantity::HeatLoad if shown.abs() < 10.0 => 1,
            Quantity::Heating | Quantity::HeatLoad => 0,
            Quantity::Percent => usize::from((shown - libm::round(shown)).abs() > 0.05 && shown.abs() < 100.0),
        }
    }

    /// The number alone, grouped: `1,420`.
    pub fn number(self, si: f64, units: UnitSystem) -> String {
        let shown = self.shown(si, units);
        grouped(shown, self.decimals(shown, units))
    }

    /// The number with its unit: `1,420 s`, `64°`, `0.85`; a dash where there is no value.
    pub fn text(self, si: f64, units: UnitSystem) -> String {
        if !si.is_finite() {
            return NONE.to_string();
        }
        with_unit(&self.number(si, units), self.unit(units))
    }

    /// The same with its sign always: `+8 K`, `−27 K`; zero counts as held and carries a plus.
    pub fn signed(self, si: f64, units: UnitSystem) -> String {
        if !si.is_finite() {
            return NONE.to_string();
        }
        let shown = self.shown(si, units);
        let text = grouped(shown, self.decimals(shown, units));
        // A value short by less than the last digit must not read as held.
        let text = match text.chars().next() {
            Some(MINUS) => text,
            _ if si < 0.0 => format!("{MINUS}{text}"),
            _ => format!("+{text}"),
        };
        with_unit(&text, self.unit(units))
    }
}

/// A number and its unit; degrees close up.
pub fn with_unit(number: &str, unit: &str) -> String {
    match unit {
        "" => number.to_string(),
        "°" => format!("{number}°"),
        _ => format!("{number}{NARROW_SPACE}{unit}"),
    }
}

/// A number with `decimals` digits after the point, commas from 1,000, U+2212 for minus and no minus on a rounded zero.
pub fn grouped(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return NONE.to_string();
    }
    let plain = format!("{:.*}", decimals, value.abs());
    let (whole, rest) = plain.split_at(plain.find('.').unwrap_or(plain.len()));
    let mut text = String::with_capacity(plain.len() + whole.len() / 3 + 3);
    if value < 0.0 && plain.chars().any(|c| c.is_ascii_digit() && c != '0') {
        text.push(MINUS);
    }
    for (index, digit) in whole.chars().enumerate() {
        if index > 0 && (whole.len() - index) % 3 == 0 {
            text.push(',');
        }
        text.push(digit);
    }
    text.push_str(rest);
    text
}

/// A count: `2,386`.
pub fn count(number: usize) -> String {
    grouped(number as f64, 0)
}

/// `1 tile`, `2,386 tiles`.
pub fn counted(number: usize, one: &str, many: &str) -> String {
    format!("{} {}", count(number), if number == 1 { one } else { many })
}

/// A number as a person types it: group commas, U+2212, a unit after it and spaces are read over. `None` if none stands there.
pub fn parse(text: &str) -> Option<f64> {
    let mut cleaned = String::with_capacity(text.len());
    for character in text.trim().chars() {
        match character {
            MINUS | '\u{2013}' => cleaned.push('-'),
            '0'..='9' | '.' | '-' | '+' => cleaned.push(character),
            'e' | 'E' if cleaned.ends_with(|c: char| c.is_ascii_digit()) => cleaned.push(character),
            ',' | ' ' | '\u{a0}' | NARROW_SPACE => {}
            _ => break,
        }
    }
    cleaned.trim_end_matches(['e', 'E']).parse::<f64>().ok().filter(|value| value.is_finite())
}

/// `decimals`, or one more where the value itself has it: a typed 0.855 is not shown as 0.86.
pub fn decimals_for(value: f64, decimals: usize) -> usize {
    let scaled = value * libm::pow(10.0, decimals as f64);
    if (scaled - libm::round(scaled)).abs() < 1e-6 { decimals } else { decimals + 1 }
}

/// A round step that parts a range into between 50 and 125 (a slider's step), and the decimals that show it.
pub fn round_step(low: f64, high: f64) -> (f64, usize) {
    let raw = ((high - low) / 50.0).abs().max(1e-9);
    let power = libm::floor(libm::log10(raw));
    let base = libm::pow(10.0, power);
    let step = if raw >= 5.0 * base {
        5.0 * base
    } else if raw >= 2.0 * base {
        2.0 * base
    } else {
        base
    };
    (step, if power < 0.0 { (-power) as usize } else { 0 })
}

/// Round ticks between two values, `count` of them or fewer.
pub fn ticks(low: f64, high: f64, count: usize) -> Vec<f64> {
    let span = high - low;
    if !span.is_finite() || span <= 0.0 || count == 0 {
        return Vec::new();
    }
    let raw = span / count as f64;
    let base = libm::pow(10.0, libm::floor(libm::log10(raw)));
    let step = [1.0, 2.0, 5.0, 10.0].into_iter().map(|m| m * base).find(|step| *step >= raw * 0.999).unwrap_or(raw);
    let mut ticks = Vec::new();
    let mut index = libm::ceil(low / step - 1e-9);
    while index * step <= high + step * 1e-9 {
        ticks.push(index * step);
        index += 1.0;
    }
    ticks
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_numbers_read_as_the_look_says() {
        let si = UnitSystem::Si;
        let us = UnitSystem::Us;
        let rows: &[(Quantity, f64, UnitSystem, &str)] = &[
            (Quantity::Time, 1420.0, si, "1,420\u{202f}s"),
            (Quantity::Altitude, 31200.0, si, "31.2\u{202f}km"),
            (Quantity::Altitude, 120000.0, us, "393,701\u{202f}ft"),
            (Quantity::Speed, 1050.0, si, "1.05\u{202f}km/s"),
            (Quantity::Angle, 64.0, si, "64.0°"),
            (Quantity::Temperature, 273.15, us, "32\u{202f}°F"),
            (Quantity::Temperature, 1415.4, si, "1,415\u{202f}K"),
            (Quantity::Heating, 302_000.0, si, "302\u{202f}kW/m²"),
            (Quantity::Thickness, 0.0254, us, "1.00\u{202f}in"),
            (Quantity::Mass, 0.45359237, us, "1\u{202f}lb"),
            (Quantity::Plain, 0.85, si, "0.85"),
            (Quantity::Percent, 0.1, si, "10\u{202f}%"),
            (Quantity::Percent, 0.035, si, "3.5\u{202f}%"),
            (Quantity::Time, f64::NAN, si, NONE),
        ];
        for (quantity, value, units, expected) in rows {
            assert_eq!(&quantity.text(*value, *units), expected, "{quantity:?} {value}");
        }
    }

    #[test]
    fn val_heating_units_against_published_factors() {
        // NIST SP 811 appendix B.8: 1 Btu_IT/(ft²·s) = 1.135653e4 W/m²; 1 lbf/ft² = 47.88026 Pa; 1 Btu/(h·ft²·°F) = 5.678263 W/m²K.
        for (quantity, si) in [(Quantity::Heating, 1.135653e4), (Quantity::Pressure, 47.88026), (Quantity::Film, 5.678263)] {
            let shown = quantity.shown(si, UnitSystem::Us);
            assert!((shown - 1.0).abs() < 1e-6, "{quantity:?} {shown}");
        }
    }

    #[test]
    fn verif_margins_carry_their_sign() {
        let rows =
            [(-27.2, "−27\u{202f}K"), (8.0, "+8\u{202f}K"), (0.0, "+0\u{202f}K"), (-0.3, "−0\u{202f}K"), (1000.0, "+1,000\u{202f}K")];
        for (value, expected) in rows {
            assert_eq!(Quantity::Difference.signed(value, UnitSystem::Si), expected);
        }
    }

    #[test]
    fn verif_typed_numbers_come_back() {
        let rows = [
            ("1,420 s", Some(1420.0)),
            ("−1.2°", Some(-1.2)),
            (" 7.8 km/s", Some(7.8)),
            ("1e3", Some(1000.0)),
            ("5 ft", Some(5.0)),
            ("", None),
            ("abc", None),
        ];
        for (text, expected) in rows {
            assert_eq!(parse(text), expected, "{text}");
        }
        for units in [UnitSystem::Si, UnitSystem::Us] {
            for quantity in [Quantity::Temperature, Quantity::Altitude, Quantity::Heating, Quantity::Film, Quantity::Percent] {
                let back = quantity.si(quantity.shown(123.25, units), units);
                assert!((back - 123.25).abs() < 1e-9);
            }
        }
    }

    #[test]
    fn verif_a_typed_digit_is_kept() {
        assert_eq!([decimals_for(0.855, 2), decimals_for(1.0, 2), decimals_for(0.1 + 0.2, 1), decimals_for(1.0 / 3.0, 2)], [3, 2, 1, 3]);
    }

    #[test]
    fn verif_ticks_are_round_and_inside() {
        assert_eq!(ticks(0.0, 2400.0, 8), vec![0.0, 500.0, 1000.0, 1500.0, 2000.0]);
        assert_eq!(ticks(-60.0, 0.0, 3), vec![-60.0, -40.0, -20.0, 0.0]);
        assert!(ticks(1.0, 1.0, 4).is_empty());
        assert_eq!(round_step(0.8, 1.3), (0.01, 2));
        assert_eq!(round_step(30.0, 50.0), (0.2, 1));
    }
}
