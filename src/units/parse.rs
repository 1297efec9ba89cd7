//! Numbers with units as options and headers carry them, to SI.

use crate::document::json::Range;
use crate::document::{Error, Place, Problem};

/// What a number measures; each has the units that FORMATS.md lists.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Metres.
    Length,
    /// Metres per second.
    Speed,
    /// Kelvin.
    Temperature,
    /// Seconds.
    Time,
    /// Pascal.
    Pressure,
    /// Degrees: the unit of every file's angles.
    Angle,
    /// Watts per square metre.
    HeatFlux,
    /// A bare number.
    Plain,
}

/// One unit: SI value = number * factor + offset.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unit {
    /// As an option carries it: `ft/s`.
    pub name: &'static str,
    /// As a column header ends: `ft_s`.
    pub suffix: &'static str,
    pub factor: f64,
    pub offset: f64,
}

const fn unit(name: &'static str, suffix: &'static str, factor: f64) -> Unit {
    Unit { name, suffix, factor, offset: 0.0 }
}

/// International foot, m (exact, 1959 agreement).
pub const FOOT_M: f64 = 0.3048;
/// Pound-force per square inch, Pa: 0.45359237 kg * 9.80665 m/s2 / (0.0254 m)^2.
pub const PSI_PA: f64 = 0.45359237 * 9.80665 / (0.0254 * 0.0254);
/// International-table British thermal unit, J (exact: 1055.05585262).
pub const BTU_J: f64 = 1055.05585262;
/// One Btu/(ft2 s), W/m2.
pub const BTU_FT2S_W_M2: f64 = BTU_J / (FOOT_M * FOOT_M);

const LENGTH: [Unit; 7] = [
    unit("m", "m", 1.0),
    unit("km", "km", 1000.0),
    unit("ft", "ft", FOOT_M),
    unit("mi", "mi", 1609.344),
    unit("nmi", "nmi", 1852.0),
    unit("in", "in", 0.0254),
    unit("mm", "mm", 0.001),
];
const SPEED: [Unit; 5] = [
    unit("m/s", "m_s", 1.0),
    unit("km/s", "km_s", 1000.0),
    unit("ft/s", "ft_s", FOOT_M),
    unit("mph", "mph", 0.44704),
    unit("kn", "kn", 1852.0 / 3600.0),
];
const TEMPERATURE: [Unit; 3] = [
    unit("K", "k", 1.0),
    Unit { name: "degC", suffix: "degc", factor: 1.0, offset: 273.15 },
    Unit { name: "degF", suffix: "degf", factor: 5.0 / 9.0, offset: 459.67 * 5.0 / 9.0 },
];
const TIME: [Unit; 3] = [unit("s", "s", 1.0), unit("min", "min", 60.0), unit("h", "h", 3600.0)];
const PRESSURE: [Unit; 4] =
    [unit("Pa", "pa", 1.0), unit("kPa", "kpa", 1000.0), unit("psf", "psf", PSI_PA / 144.0), unit("psi", "psi", PSI_PA)];
const ANGLE: [Unit; 2] = [unit("deg", "deg", 1.0), unit("rad", "rad", 180.0 / std::f64::consts::PI)];
const HEAT_FLUX: [Unit; 4] =
    [unit("W/m2", "w_m2", 1.0), unit("kW/m2", "kw_m2", 1000.0), unit("W/cm2", "w_cm2", 1e4), unit("Btu/ft2s", "btu_ft2s", BTU_FT2S_W_M2)];

impl Kind {
    /// The units understood, SI first; none for a bare number.
    pub fn units(self) -> &'static [Unit] {
        match self {
            Kind::Length => &LENGTH,
            Kind::Speed => &SPEED,
            Kind::Temperature => &TEMPERATURE,
            Kind::Time => &TIME,
            Kind::Pressure => &PRESSURE,
            Kind::Angle => &ANGLE,
            Kind::HeatFlux => &HEAT_FLUX,
            Kind::Plain => &[],
        }
    }

    fn accepted(self) -> String {
        let names: Vec<&str> = self.units().iter().map(|unit| unit.name).collect();
        match names.split_first() {
            None => "a finite number without a unit".to_string(),
            Some((first, _)) => format!("a finite number, bare in {first} or with one of {}", names.join(", ")),
        }
    }
}

/// Where a leading number ends: sign, digits, point, and an exponent only where digits follow it (`1e3m`, but `1ft`).
fn number_end(text: &str) -> usize {
    let bytes = text.as_bytes();
    let digits = |mut at: usize| {
        while bytes.get(at).is_some_and(u8::is_ascii_digit) {
            at += 1;
        }
        at
    };
    let sign = |at: usize| if matches!(bytes.get(at), Some(b'+' | b'-')) { at + 1 } else { at };
    let start = sign(0);
    let mut end = digits(start);
    let mut count = end - start;
    if bytes.get(end) == Some(&b'.') {
        let after = digits(end + 1);
        count += after - end - 1;
        end = after;
    }
    if count == 0 {
        return 0;
    }
    if matches!(bytes.get(end), Some(b'e' | b'E')) {
        let exponent = sign(end + 1);
        let after = digits(exponent);
        if after > exponent {
            end = after;
        }
    }
    end
}

/// `text` in SI: a bare number, or a number and one of the kind's units, spaces between allowed.
///
/// The problem quotes the text and lists the known units; NaN, infinity and anything beyond a double are refused.
pub fn parse(text: &str, kind: Kind) -> Result<f64, Problem> {
    let problem = |what: String| Problem { what, place: Place::default(), accepted: Some(kind.accepted()) };
    let trimmed = text.trim();
    let (number, name) = trimmed.split_at(number_end(trimmed));
    let name = name.trim();
    let Ok(number) = number.parse::<f64>() else {
        return Err(problem(format!("{text:?} is no number")));
    };
    let value = if name.is_empty() {
        number
    } else {
        match kind.units().iter().find(|unit| unit.name == name) {
            Some(unit) => number * unit.factor + unit.offset,
            None => return Err(problem(format!("unknown unit {name:?} in {text:?}"))),
        }
    };
    if value.is_finite() { Ok(value) } else { Err(problem(format!("{text:?} is beyond the largest number"))) }
}

/// As [`parse`], for a command option: the place names it and `range` (in SI) is held.
pub fn parse_option(option: &str, text: &str, kind: Kind, range: Range) -> Result<f64, Error> {
    let at = |mut problem: Problem| {
        problem.place.key = Some(option.to_string());
        Error::bad_input(vec![problem])
    };
    let value = parse(text, kind).map_err(at)?;
    if range.holds(value) {
        return Ok(value);
    }
    let unit = kind.units().first().map_or(String::new(), |unit| format!(" {}", unit.name));
    Err(at(Problem { what: format!("{text:?} is out of range"), place: Place::default(), accepted: Some(format!("{range}{unit}")) }))
}

/// The unit of a column `header` where the canonical name is `stem` and an SI suffix: `("altitude_ft", "altitude")` gives the foot. Letter case of the unit
/// does not matter (`_kPa`).
pub fn column_unit(header: &str, stem: &str, kind: Kind) -> Option<Unit> {
    let suffix = header.strip_prefix(stem)?.strip_prefix('_')?;
    kind.units().iter().find(|unit| unit.suffix.eq_ignore_ascii_case(suffix)).copied()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn verif_numbers_with_units() {
        for (text, kind, want) in [
            ("71000", Kind::Length, 71000.0),
            ("71km", Kind::Length, 71000.0),
            ("71 km", Kind::Length, 71000.0),
            ("400000ft", Kind::Length, 121920.0),
            ("-1.5e1m", Kind::Length, -15.0),
            ("1e3mm", Kind::Length, 1.0),
            ("10in", Kind::Length, 0.254),
            ("1nmi", Kind::Length, 1852.0),
            ("1mi", Kind::Length, 1609.344),
            ("24000ft/s", Kind::Speed, 7315.2),
            ("7.8km/s", Kind::Speed, 7800.0),
            ("36kn", Kind::Speed, 18.52),
            ("100mph", Kind::Speed, 44.704),
            ("1400K", Kind::Temperature, 1400.0),
            ("25degC", Kind::Temperature, 298.15),
            ("3000degF", Kind::Temperature, 1_922.038_888_888_889),
            ("2min", Kind::Time, 120.0),
            ("1.5h", Kind::Time, 5400.0),
            ("1psi", Kind::Pressure, 6894.757293168361),
            ("144psf", Kind::Pressure, 6894.757293168361),
            ("2kPa", Kind::Pressure, 2000.0),
            ("3.14159265358979rad", Kind::Angle, 180.0),
            ("1Btu/ft2s", Kind::HeatFlux, 11356.5267),
            ("10W/cm2", Kind::HeatFlux, 1e5),
            ("0.85", Kind::Plain, 0.85),
            (".5", Kind::Plain, 0.5),
        ] {
            let got = parse(text, kind).unwrap();
            assert!((got - want).abs() <= 1e-8 * want.abs(), "{text}: {got}");
        }
        for (text, kind) in [
            ("", Kind::Length),
            ("km", Kind::Length),
            ("NaN", Kind::Length),
            ("inf", Kind::Length),
            ("-infinity", Kind::Plain),
            ("1e999", Kind::Length),
            ("1e308km", Kind::Length),
            ("0x10", Kind::Plain),
            ("1,000", Kind::Length),
            ("5K", Kind::Plain),
            ("--5", Kind::Plain),
            ("5 6", Kind::Plain),
        ] {
            assert!(parse(text, kind).is_err(), "{text}");
        }
        let error = parse_option("--altitude", "71parsec", Kind::Length, Range::ANY).unwrap_err().to_string();
        assert!(error.contains("\"parsec\"") && error.contains("m, km, ft, mi, nmi, in, mm") && error.contains("--altitude"), "{error}");
        let error = parse_option("--altitude", "-5km", Kind::Length, Range::between(0.0, 1e6)).unwrap_err().to_string();
        assert!(error.contains("\"-5km\"") && error.contains("from 0 to 1000000 m"), "{error}");
    }

    #[test]
    fn verif_column_units() {
        assert_eq!(column_unit("altitude_ft", "altitude", Kind::Length).unwrap().factor, 0.3048);
        assert_eq!(column_unit("speed_ft_s", "speed", Kind::Speed).unwrap().factor, 0.3048);
        assert_eq!(column_unit("altitude_furlong", "altitude", Kind::Length), None);
        assert_eq!(column_unit("altitude", "altitude", Kind::Length), None);
    }

    const KINDS: [Kind; 8] =
        [Kind::Length, Kind::Speed, Kind::Temperature, Kind::Time, Kind::Pressure, Kind::Angle, Kind::HeatFlux, Kind::Plain];

    proptest! {
        #[test]
        fn verif_any_text_is_read_or_refused(text in any::<String>(), kind in 0..KINDS.len()) {
            if let Ok(value) = parse(&text, KINDS[kind]) {
                prop_assert!(value.is_finite());
            }
        }

        #[test]
        fn verif_number_like_text_is_read_or_refused(text in "[-+0-9.eE ]{0,12}(km|ft/s|degF|é|)", kind in 0..KINDS.len()) {
            if let Ok(value) = parse(&text, KINDS[kind]) {
                prop_assert!(value.is_finite());
            }
        }

        #[test]
        fn verif_every_double_reads_back(value in any::<f64>().prop_filter("finite", |v| v.is_finite())) {
            prop_assert_eq!(parse(&format!("{value:e}"), Kind::Length).unwrap(), value);
        }
    }
}
