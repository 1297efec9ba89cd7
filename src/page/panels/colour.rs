//! The colour of a value, the same as the shield's: both read the one palette.

use crate::report::ramp::{Palette, Rgb, Scale};
use std::rc::Rc;

/// The palettes of both themes, made once.
#[derive(Clone)]
pub struct Colours {
    light: Rc<Palette>,
    dark: Rc<Palette>,
}

impl Default for Colours {
    fn default() -> Self {
        Self { light: Rc::new(Palette::new(false)), dark: Rc::new(Palette::new(true)) }
    }
}

impl Colours {
    pub fn of(&self, dark: bool) -> &Palette {
        if dark { &self.dark } else { &self.light }
    }

    /// sRGB of a value on a scale.
    pub fn rgb(&self, scale: &Scale, value: f64, dark: bool) -> Rgb {
        self.of(dark).rgb(scale.swatch(value, false))
    }
}
