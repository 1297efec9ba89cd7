//! Numbers as text, and text cells that a spreadsheet can never take for a formula.

/// `value` with at most `digits` significant digits, the shortest such text, a point and never an exponent mark
/// between 1e-4 and 1e15; 15 digits at most. Finite values only; anything else gives an empty text.
pub fn significant(value: f64, digits: usize) -> String {
    if !value.is_finite() {
        return String::new();
    }
    if value == 0.0 {
        return "0".to_string();
    }
    // Rounded once; up to 15 digits without their trailing zeros are the shortest text that reads back as the rounded value.
    let scientific = format!("{value:.*e}", digits.clamp(1, 15) - 1);
    let Some((mantissa, exponent)) = scientific.split_once('e') else { return scientific };
    let (sign, mantissa) = mantissa.strip_prefix('-').map_or(("", mantissa), |mantissa| ("-", mantissa));
    let (whole, rest) = mantissa.split_once('.').map_or((mantissa, ""), |(whole, rest)| (whole, rest.trim_end_matches('0')));
    let place: i32 = exponent.parse().unwrap_or(0);
    let after = rest.len() as i32;
    let zeros = |count: i32| "0".repeat(count.max(0) as usize);
    match place {
        -4..0 => format!("{sign}0.{}{whole}{rest}", zeros(-place - 1)),
        0..15 if after <= place => format!("{sign}{whole}{rest}{}", zeros(place - after)),
        0..15 => {
            let (before, behind) = rest.split_at(place as usize);
            format!("{sign}{whole}{before}.{behind}")
        }
        _ if rest.is_empty() => format!("{sign}{whole}e{place}"),
        _ => format!("{sign}{whole}.{rest}e{place}"),
    }
}

/// As [`significant`], empty for `None`.
pub fn significant_or_empty(value: Option<f64>, digits: usize) -> String {
    value.map_or(String::new(), |value| significant(value, digits))
}

const GUARDED: [char; 7] = ['=', '+', '-', '@', '\t', '\r', '\''];

/// A text cell as it is written: a leading apostrophe where a spreadsheet would take it for a formula.
pub fn guard(cell: &str) -> String {
    if cell.starts_with(GUARDED) { format!("'{cell}") } else { cell.to_string() }
}

/// A text cell as it was meant: the guard's apostrophe taken off again.
pub fn unguard(cell: &str) -> &str {
    match cell.strip_prefix('\'') {
        Some(rest) if rest.starts_with(GUARDED) => rest,
        _ => cell,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_digits_and_guards() {
        for (value, digits, want) in
            [(1234.5678, 6, "1234.57"), (0.1 + 0.2, 9, "0.3"), (-2.5e-9, 4, "-2.5e-9"), (1e6, 7, "1000000"), (f64::NAN, 3, "")]
        {
            assert_eq!(significant(value, digits), want);
        }
        // Against what the standard library writes as shortest for the rounded value.
        for digits in [1, 2, 4, 7, 9, 12, 15] {
            let mut value = 1.234567890123e-20;
            while value < 1e20 {
                for value in [value, -value, value * 0.99999999, libm::round(value)] {
                    let rounded: f64 = format!("{value:.*e}", digits - 1).parse().unwrap();
                    let plain = rounded == 0.0 || (1e-4..1e15).contains(&rounded.abs());
                    let want = if plain { format!("{}", rounded + 0.0) } else { format!("{rounded:e}") };
                    assert_eq!(significant(value, digits), want, "{value} {digits}");
                }
                value *= 2.6180339;
            }
        }
        for text in ["=1+1", "+x", "-3", "@a", "\tq", "\rq", "'quoted", "plain", "", "''"] {
            assert_eq!(unguard(&guard(text)), text);
        }
    }
}
