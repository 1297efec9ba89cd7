//! The marks of a condition: a tile seen from above, told apart by shape, never by colour alone.

use super::dom::{Kit, Made, add};
use crate::assess::Condition;

/// The mark of a tile near the onset of transition: a tile with a wave across it.
pub fn near_onset(kit: &Kit) -> Made {
    let svg = kit.svg("svg", &[("class", "mark"), ("viewBox", "-10 -10 20 20"), ("aria-hidden", "true")])?;
    add(&svg, &kit.path("mk-box", "M-6.5-6.5h13v13h-13z")?)?;
    add(&svg, &kit.path("mk-line", "M-4.5 1.5q2.25-5 4.5-1.5t4.5-1.5")?)?;
    Ok(svg)
}

/// A mark in a 20 x 20 box about the origin; sized by its class.
pub fn mark(kit: &Kit, condition: Condition) -> Made {
    let svg = kit.svg("svg", &[("class", "mark"), ("viewBox", "-10 -10 20 20"), ("aria-hidden", "true")])?;
    let part = |class: &str, d: &str| -> Made<()> { add(&svg, &kit.path(class, d)?) };
    const SQUARE: &str = "M-6.5-6.5h13v13h-13z";
    match condition {
        Condition::AsBuilt => part("mk-line", "M-6-6h12v12h-12z")?,
        Condition::Watch => {
            part("mk-box", SQUARE)?;
            part("mk-ink", "M-2-2h4v4h-4z")?;
        }
        Condition::Repair => {
            part("mk-box", "M-6.5-6.5h7l6 6v7h-13z")?;
            part("mk-ink", "M-6.5-6.5v13h13z")?;
        }
        Condition::Replace => {
            part("mk-box", "M-6.5-3h9.5v9.5h-9.5z")?;
            part("mk-lift", "M-2.5-7h9.5v9.5h-9.5z")?;
        }
        Condition::NotCleared => {
            part("mk-ink", "M-7-7h14v14h-14z")?;
            part("mk-grate", "M-2.5-5v10M2.5-5v10M-5 0h10")?;
        }
        // Before service the square fills from below by quarters.
        Condition::Planned => part("mk-line mk-dash", SQUARE)?,
        Condition::Fitted => {
            part("mk-ink", "M-6.5 3.25h13v3.25h-13z")?;
            part("mk-line", SQUARE)?;
        }
        Condition::Bonded => {
            part("mk-ink", "M-6.5 0h13v6.5h-13z")?;
            part("mk-line", SQUARE)?;
        }
        Condition::Tested => {
            part("mk-ink", "M-6.5-3.25h13v9.75h-13z")?;
            part("mk-line", SQUARE)?;
        }
    }
    Ok(svg)
}
