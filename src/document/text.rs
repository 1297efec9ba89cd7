//! Numbers as text, and text cells that a spreadsheet can never take for a formula.

/// `value` with at most `digits` significant digits, the shortest such text, a point and never an exponent mark
/// between 1e-4 and 1e15. Finite values only; anything else gives an empty text.
pub fn significant(value: f64, digits: usize) -> String {
    if !value.is_finite() {
        return String::new();
    }
    if value == 0.0 {
        return "0".to_string();
    }
    let scientific = format!("{value:.*e}", digits.saturating_sub(1));
    // Read the rounded value back so that Rust's shortest form of it drops the trailing zeros.
    let rounded: f64 = scientific.parse().unwrap_or(value);
    let size = rounded.abs();
    if (1e-4..1e15).contains(&size) { format!("{rounded}") } else { format!("{rounded:e}") }
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
        for text in ["=1+1", "+x", "-3", "@a", "\tq", "\rq", "'quoted", "plain", "", "''"] {
            assert_eq!(unguard(&guard(text)), text);
        }
    }
}
