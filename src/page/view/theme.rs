//! The colours of the style sheet that the picture draws with, and whether motion is wanted.

use super::paint::Ground;
use crate::report::ramp::{Palette, Rgb, Swatch};
use web_sys::{CssStyleDeclaration, Element};

/// Ground and fills for one theme, from the style sheet where it sets them.
#[derive(Clone, PartialEq)]
pub struct Theme {
    pub ground: Ground,
    pub palette: Palette,
}

impl Theme {
    /// Light or dark as LOOK states them, for pictures that do not follow the page, such as the brief's.
    pub fn fixed(dark: bool) -> Theme {
        let ground = if dark {
            Ground {
                stage: [0x0f, 0x10, 0x13],
                key: [0xb9, 0xb7, 0xb1],
                side: [0x7d, 0x80, 0x87],
                mark_ink: [0x14, 0x0d, 0x0c],
                mark_halo: [0xff, 0xfd, 0xf8],
            }
        } else {
            Ground {
                stage: [0xee, 0xed, 0xe9],
                key: [0x45, 0x43, 0x3f],
                side: [0x84, 0x81, 0x7a],
                mark_ink: [0x14, 0x0d, 0x0c],
                mark_halo: [0xff, 0xfd, 0xf8],
            }
        };
        Theme { ground, palette: Palette::new(dark) }
    }

    /// As the style sheet sets them for `element`.
    pub fn read(element: &Element, dark: bool) -> Theme {
        let mut theme = Theme::fixed(dark);
        let style = web_sys::window().and_then(|w| w.get_computed_style(element).ok().flatten());
        let Some(style) = style else { return theme };
        let ground = &mut theme.ground;
        for (name, colour) in [
            ("--stage", &mut ground.stage),
            ("--key", &mut ground.key),
            ("--edge", &mut ground.side),
            ("--mark-ink", &mut ground.mark_ink),
            ("--mark-halo", &mut ground.mark_halo),
        ] {
            if let Some(read) = variable(&style, name) {
                *colour = read;
            }
        }
        for (name, swatch) in [("--plain", Swatch::PLAIN), ("--over", Swatch::OVER), ("--tile", Swatch::AS_BUILT)] {
            if let Some(read) = variable(&style, name) {
                theme.palette.set(swatch, read);
            }
        }
        theme
    }
}

fn variable(style: &CssStyleDeclaration, name: &str) -> Option<Rgb> {
    hex(style.get_property_value(name).ok()?.trim())
}

/// `#rgb` or `#rrggbb`.
fn hex(text: &str) -> Option<Rgb> {
    let digits = text.strip_prefix('#')?;
    let value = u32::from_str_radix(digits, 16).ok()?;
    match digits.len() {
        6 => Some([(value >> 16) as u8, (value >> 8) as u8, value as u8]),
        3 => Some([(value >> 8) as u8 & 15, (value >> 4) as u8 & 15, value as u8 & 15].map(|c| c * 17)),
        _ => None,
    }
}

pub fn prefers_less_motion() -> bool {
    let query = web_sys::window().and_then(|w| w.match_media("(prefers-reduced-motion: reduce)").ok().flatten());
    query.is_some_and(|q| q.matches())
}
