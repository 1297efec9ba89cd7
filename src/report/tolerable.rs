//! tolerable.csv: a row a tile, the deepest cavity of a named length and the longest of a named depth that keep its margin, and how that is known.

use super::numbers::{NONE, Quantity};
use crate::assess::tolerable::{Asked, Method, Size, Sizes, Tolerated};
use crate::assess::{Assessment, GovernedBy};
use crate::document::{csv, text};
use crate::scenario::UnitSystem;
use crate::shield::Shield;

/// The columns of tolerable.csv.
pub const COLUMNS: [&str; 14] = [
    "tile",
    "zone",
    "thickness_mm",
    "margin_k",
    "governed_by",
    "at_length_mm",
    "tolerated_depth_mm",
    "depth_fails_at_mm",
    "depth_method",
    "at_depth_mm",
    "tolerated_length_mm",
    "length_fails_at_mm",
    "length_method",
    "note",
];
const TEXT_COLUMNS: [&str; 6] = ["tile", "zone", "governed_by", "depth_method", "length_method", "note"];
const DIGITS: usize = 6;

/// The text of tolerable.csv: a row a tile that has an answer in depth; `sizes` and what could not be solved are by tile.
pub fn tolerable_csv(shield: &Shield, results: &Assessment, asked: Asked, sizes: &[Option<Sizes>], failed: &[(usize, String)]) -> String {
    let number = |value: f64| text::significant(value, DIGITS);
    let rows = sizes.iter().enumerate().filter_map(|(tile, sizes)| {
        let (row, result) = (shield.tiles.get(tile)?, results.tiles.get(tile)?);
        let cells = |size: &Size| {
            let fails = size.tolerated.fails_at_mm.map_or(String::new(), number);
            [size.known_mm().map_or(String::new(), number), fails, size.method.word().to_string()]
        };
        let sizes = (*sizes)?;
        let mut out = vec![row.id.clone(), row.zone.clone(), number(1000.0 * result.effective.thickness_m)];
        out.push(text::significant_or_empty(result.margin_k, DIGITS));
        out.push(result.governed_by.map_or("", GovernedBy::word).to_string());
        for (at_mm, size) in [asked.length_mm, asked.depth_mm].into_iter().zip(&sizes) {
            out.push(number(at_mm));
            out.extend(cells(size));
        }
        out.push(failed.iter().find(|(known, _)| *known == tile).map_or(String::new(), |(_, why)| why.clone()));
        Some(out)
    });
    csv::write(&COLUMNS, rows, &COLUMNS.map(|name| TEXT_COLUMNS.contains(&name)))
}

/// A size in words: `≥ 12.5 mm`, `21.0 mm, gone at 21.4 mm`, `any, up to 38 mm`.
pub fn words(size: &Size, units: UnitSystem) -> String {
    let text = |mm: f64| Quantity::Thickness.text(mm / 1000.0, units);
    let Tolerated { size_mm, fails_at_mm } = size.tolerated;
    match (size.method, fails_at_mm) {
        (Method::Short, _) => "none".to_string(),
        (Method::TooThin, _) => NONE.to_string(),
        (Method::Bound, _) => format!("≥ {}", text(size_mm)),
        (_, None) => format!("any, up to {}", text(size_mm)),
        (_, Some(fails_mm)) => format!("{}, gone at {}", text(size_mm), text(fails_mm)),
    }
}

/// What stands behind a tile's sizes, in a sentence.
pub fn known(sizes: &Sizes) -> String {
    if sizes.iter().all(|size| size.method == Method::Short) {
        return "Short of a margin without any cavity.".to_string();
    }
    let thin = if sizes.iter().any(|size| size.method == Method::TooThin) { "Nothing so deep fits the tile. " } else { "" };
    format!(
        "{thin}An impact cavity in the tile’s middle keeps every margin after the policy up to this size. The bound is the whole tile thinned and \
         bare; by radius and depth on one grid, whose error was some kelvins at most where it was measured."
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_a_bound_reads_as_one_and_no_size_stands_where_none_is_known() {
        let size = |method, size_mm, fails_at_mm| Size { tolerated: Tolerated { size_mm, fails_at_mm }, method };
        for (size, want) in [
            (size(Method::Bound, 12.5, Some(13.0)), "≥ 12.5\u{202f}mm"),
            (size(Method::Solved, 21.0, Some(21.4)), "21.0\u{202f}mm, gone at 21.4\u{202f}mm"),
            (size(Method::Largest, 38.0, None), "any, up to 38.0\u{202f}mm"),
            (size(Method::Solved, 38.0, None), "any, up to 38.0\u{202f}mm"),
            (size(Method::Short, 0.0, None), "none"),
            (size(Method::TooThin, 0.0, None), NONE),
        ] {
            assert_eq!(words(&size, UnitSystem::Si), want);
            assert_eq!(size.known_mm().is_some(), want != NONE);
        }
        let us = words(&size(Method::Bound, 12.7, None), UnitSystem::Us);
        assert!(us.starts_with("≥ 0.5") && us.ends_with("\u{202f}in"), "{us}");
        assert!(known(&[Size::default(); 2]).starts_with("Short"));
    }
}
