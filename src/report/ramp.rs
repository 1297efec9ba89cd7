//! Value to colour: the two ramps in OKLab, the scale that places a value on them, and the flat fills that are no ramp.
//!
//! Legend and shield both ask `Scale::swatch` and read the same `Palette`, so that picture and legend agree to the pixel.
//! OKLab: B. Ottosson, "A perceptual color space for image processing", 2020 (matrices as published there, public domain).

use crate::assess::Condition;
use crate::document::Sorting as _;
use crate::heating::Regime;
use crate::scenario::UnitSystem;

/// An sRGB colour, eight bits a channel.
pub type Rgb = [u8; 3];

/// Glow, low to high: sixteen colours at equal steps.
pub const GLOW: [u32; 16] = [
    0x233242, 0x363755, 0x4e3c60, 0x653f69, 0x7d436e, 0x95486d, 0xac4e6a, 0xc15564, 0xd2615b, 0xe16f52, 0xea814b, 0xf09549, 0xf4a94d,
    0xf3bd5c, 0xf2d17f, 0xf0e3a1,
];
/// Margin below the limit: the scale's low end to the limit.
pub const SHORT: [u32; 6] = [0x4e0712, 0x5f0c14, 0x701117, 0x821618, 0x941d18, 0xa52712];
/// Margin above the limit: the limit to the scale's high end.
pub const SPARE: [u32; 10] = [0x4b86b3, 0x5792b8, 0x639fbd, 0x6fabc2, 0x7db7c6, 0x8ec2ca, 0xa0cdcf, 0xb2d7d4, 0xc6e1db, 0xdbebe3];
/// Laminar, transitional, turbulent: one violet hue (OKLab hue 300, chroma 0.035, 0.07, 0.09) at lightness 0.88, 0.66 and 0.41,
/// so that the three stay apart in grey and under any colour vision, and are mistaken for no value of either ramp's ends.
pub const REGIME: [u32; 3] = [0xdbd3ec, 0x9989b7, 0x523e74];
/// Watch, repair in place, replace, not cleared.
pub const CONDITION: [u32; 4] = [0xf4a94d, 0xe16f52, 0xac4e6a, 0x821618];

/// A tile over its own limit in temperature (`--over`).
pub const OVER: u32 = 0xfffdf8;
/// Surface without tiles or value (`--plain`), light and dark.
pub const PLAIN: [u32; 2] = [0xc9c6bf, 0x5a5c62];
/// As built, in condition (`--tile`), light and dark.
pub const AS_BUILT: [u32; 2] = [0xcdd1d3, 0x4a4e53];

/// The scale's ends for margins, in kelvin.
pub const MARGIN_ENDS_K: [f64; 2] = [-60.0, 200.0];

/// Most bands in glow, and below and above the limit in margin.
const GLOW_BANDS: usize = 8;
const SHORT_BANDS: usize = 3;
const SPARE_BANDS: usize = 5;

/// How a value becomes a place on the ramp. The ends stay put while anything is dragged.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Scale {
    pub kind: ScaleKind,
    /// SI ends.
    pub low: f64,
    pub high: f64,
    /// Limits drawn as breaks in temperature: SI value and the word beside it.
    pub limits: Vec<(f64, String)>,
    pub banded: bool,
    /// The units in which the edges of bands are round.
    pub units: UnitSystem,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum ScaleKind {
    /// −60 K to the limit and the limit to +200 K, two ramps with a break between.
    #[default]
    Margin,
    /// Glow over `low` to `high`.
    Temperature,
    Condition,
    Regime,
    /// The ramp of what is spare, from nothing to `high`: sizes in m.
    Size,
}

impl ScaleKind {
    /// Whether it has a ramp and an axis.
    pub fn is_measured(self) -> bool {
        matches!(self, ScaleKind::Margin | ScaleKind::Temperature | ScaleKind::Size)
    }
}

/// A colour's place in the palette: row times 256 plus column. What the shield's texture holds, one a tile.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Swatch(pub u16);

impl Swatch {
    pub const PLAIN: Swatch = Swatch(3 * 256);
    pub const OVER: Swatch = Swatch(3 * 256 + 1);
    pub const AS_BUILT: Swatch = Swatch(3 * 256 + 2);

    fn glow(column: usize) -> Swatch {
        Swatch(column.min(255) as u16)
    }

    fn short(column: usize) -> Swatch {
        Swatch(256 + column.min(255) as u16)
    }

    fn spare(column: usize) -> Swatch {
        Swatch(512 + column.min(255) as u16)
    }

    /// The fill of a condition.
    pub fn condition(condition: Condition) -> Swatch {
        match condition {
            Condition::Watch => Swatch(3 * 256 + 3),
            Condition::Repair => Swatch(3 * 256 + 4),
            Condition::Replace => Swatch(3 * 256 + 5),
            Condition::NotCleared => Swatch(3 * 256 + 6),
            _ => Swatch::AS_BUILT,
        }
    }

    /// The shade of a regime.
    pub fn regime(regime: Regime) -> Swatch {
        match regime {
            Regime::Laminar => Swatch(3 * 256 + 7),
            Regime::Transitional => Swatch(3 * 256 + 8),
            Regime::Turbulent => Swatch(3 * 256 + 9),
        }
    }
}

/// Conditions in the order of their index in a scale of kind `Condition`.
pub const CONDITIONS: [Condition; 9] = [
    Condition::Planned,
    Condition::Fitted,
    Condition::Bonded,
    Condition::Tested,
    Condition::AsBuilt,
    Condition::Watch,
    Condition::Repair,
    Condition::Replace,
    Condition::NotCleared,
];

/// Regimes in the order of their index in a scale of kind `Regime`.
pub const REGIMES: [Regime; 3] = [Regime::Laminar, Regime::Transitional, Regime::Turbulent];

/// One band or one part of a continuous scale, from `low` to `high` in SI units.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Band {
    pub low: f64,
    pub high: f64,
    /// The band's one colour; in a continuous part, that of its low end.
    pub swatch: Swatch,
}

impl Scale {
    /// The colour of a value. `short` counts in temperature alone, where a tile over its own limit is drawn `--over`.
    /// Values beyond an end take the end's colour; NaN is plain.
    pub fn swatch(&self, value: f64, short: bool) -> Swatch {
        if value.is_nan() {
            return Swatch::PLAIN;
        }
        match self.kind {
            ScaleKind::Condition => listed(&CONDITIONS, value).map_or(Swatch::PLAIN, Swatch::condition),
            ScaleKind::Regime => listed(&REGIMES, value).map_or(Swatch::PLAIN, Swatch::regime),
            ScaleKind::Temperature if short => Swatch::OVER,
            _ if self.banded => self.bands().band(value),
            ScaleKind::Temperature => Swatch::glow(column(value, self.low, self.high)),
            ScaleKind::Size => Swatch::spare(column(value, self.low, self.high)),
            ScaleKind::Margin if value < 0.0 => Swatch::short(column(value, self.low.min(0.0), 0.0)),
            ScaleKind::Margin => Swatch::spare(column(value, 0.0, self.high.max(0.0))),
        }
    }

    /// The colours of many values at once; the bands are worked out once.
    pub fn swatches<'a>(&'a self, values: &'a [f64], short: &'a [bool]) -> impl Iterator<Item = Swatch> + 'a {
        let bands = self.banded.then(|| self.bands());
        values.iter().enumerate().map(move |(i, &value)| {
            let short = short.get(i).copied().unwrap_or(false);
            match (&bands, self.kind) {
                (Some(bands), ScaleKind::Margin | ScaleKind::Size) if !value.is_nan() => bands.band(value),
                (Some(bands), ScaleKind::Temperature) if !value.is_nan() && !short => bands.band(value),
                _ => self.swatch(value, short),
            }
        })
    }

    /// The continuous parts of the scale, low to high, between which the legend breaks: the limit in margin, every limit inside
    /// the ends in temperature. Condition and regime have none.
    pub fn parts(&self) -> Vec<[f64; 2]> {
        let mut edges = vec![self.low];
        match self.kind {
            ScaleKind::Margin => edges.push(0.0),
            ScaleKind::Temperature => edges.extend(self.limits.iter().map(|l| l.0)),
            ScaleKind::Size => {}
            _ => return Vec::new(),
        }
        edges.push(self.high);
        edges.retain(|e| e.is_finite() && *e >= self.low && *e <= self.high);
        edges.order_by(f64::total_cmp);
        edges.dedup();
        edges.windows(2).map(|w| [w[0], w[1]]).collect()
    }

    /// The bands, low to high: edges at round values of the shown units, a limit always an edge; at most 3 below and 5 above the
    /// limit in margin, 8 in glow (more only where more than 7 limits cut it). Empty for condition and regime.
    pub fn bands(&self) -> Bands {
        let list = match self.kind {
            ScaleKind::Margin => {
                let below = self.cut(self.low.min(0.0), 0.0, SHORT_BANDS, &[]);
                let above = self.cut(0.0, self.high.max(0.0), SPARE_BANDS, &[]);
                let (m, n) = (below.len(), above.len());
                // The outermost colours on both sides of the break stand at the limit.
                let short = below.iter().enumerate().map(|(i, e)| band(e, Swatch::short(every_second(i, m, 6, false))));
                let spare = above.iter().enumerate().map(|(i, e)| band(e, Swatch::spare(every_second(i, n, 10, true))));
                short.chain(spare).collect()
            }
            ScaleKind::Temperature => {
                let limits: Vec<f64> = self.limits.iter().map(|l| l.0).filter(|l| *l > self.low && *l < self.high).collect();
                let cut = self.cut(self.low, self.high, GLOW_BANDS, &limits);
                let n = cut.len();
                cut.iter().enumerate().map(|(i, e)| band(e, Swatch::glow(every_second(i, n, 16, false)))).collect()
            }
            ScaleKind::Size => {
                let cut = self.cut(self.low, self.high, SPARE_BANDS, &[]);
                let n = cut.len();
                cut.iter().enumerate().map(|(i, e)| band(e, Swatch::spare(every_second(i, n, 10, true)))).collect()
            }
            _ => Vec::new(),
        };
        Bands { list }
    }

    /// Cuts `low` to `high` at round values and at `limits` into at most `most` bands.
    fn cut(&self, low: f64, high: f64, most: usize, limits: &[f64]) -> Vec<[f64; 2]> {
        if !(low.is_finite() && high.is_finite() && high > low) {
            return Vec::new();
        }
        // Shown = SI · factor + offset; a margin is a difference and has no offset.
        let (factor, offset) = match (self.units, self.kind) {
            (UnitSystem::Us, ScaleKind::Temperature) => (1.8, -459.67),
            // Hundredths of an inch, so that a step of one is fine enough.
            (UnitSystem::Us, ScaleKind::Size) => (100.0 / 0.0254, 0.0),
            (UnitSystem::Si, ScaleKind::Size) => (1000.0, 0.0),
            (UnitSystem::Us, _) => (1.8, 0.0),
            (UnitSystem::Si, _) => (1.0, 0.0),
        };
        let shown = [low * factor + offset, high * factor + offset];
        let mut step = 1.0;
        loop {
            for multiple in [1.0, 2.0, 2.5, 4.0, 5.0] {
                let each = step * multiple;
                let first = libm::floor(shown[0] / each) as i64 + 1;
                let last = libm::ceil(shown[1] / each) as i64 - 1;
                if last - first > 64 {
                    continue;
                }
                let mut edges = vec![low, high];
                edges.extend((first..=last).map(|k| (k as f64 * each - offset) / factor));
                // A round value closer than a third of a step to a limit gives way to it.
                edges.retain(|e| limits.iter().all(|l| libm::fabs(e - l) * factor > each / 3.0) || *e == low || *e == high);
                edges.extend_from_slice(limits);
                edges.order_by(f64::total_cmp);
                edges.dedup_by(|a, b| libm::fabs(*a - *b) * factor < 1e-9 * each);
                if edges.len() - 1 <= most.max(limits.len() + 1) {
                    return edges.windows(2).map(|w| [w[0], w[1]]).collect();
                }
            }
            step *= 10.0;
        }
    }
}

/// The bands of a scale, low to high.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Bands {
    pub list: Vec<Band>,
}

impl Bands {
    /// The band a value lies in; a value on an edge belongs to the band above it.
    fn band(&self, value: f64) -> Swatch {
        let after = self.list.partition_point(|b| b.low <= value);
        self.list.get(after.saturating_sub(1)).map_or(Swatch::PLAIN, |b| b.swatch)
    }
}

fn band(ends: &[f64; 2], swatch: Swatch) -> Band {
    Band { low: ends[0], high: ends[1], swatch }
}

fn listed<T: Copy>(list: &[T], value: f64) -> Option<T> {
    if value < 0.0 { None } else { list.get(value as usize).copied() }
}

fn column(value: f64, low: f64, high: f64) -> usize {
    if high > low { libm::round(((value - low) / (high - low)).clamp(0.0, 1.0) * 255.0) as usize } else { 255 }
}

/// Column of band `i` of `n` on a ramp of `colours` colours: their middles, which for half as many bands is every second colour;
/// `down` takes the colour before the middle instead of the one after.
fn every_second(i: usize, n: usize, colours: usize, down: bool) -> usize {
    let place = (i as f64 + 0.5) * colours as f64 / n.max(1) as f64 - 0.5;
    let colour = if down { libm::ceil(place - 0.5) } else { libm::floor(place + 0.5) };
    libm::round(colour / (colours - 1) as f64 * 255.0) as usize
}

/// Every colour a swatch can name: four rows of 256 (glow, short, spare, flat fills). Only the two fills of the theme differ
/// between light and dark; the ramps mean the same on any ground.
#[derive(Clone, Debug, PartialEq)]
pub struct Palette {
    colours: Vec<Rgb>,
}

impl Palette {
    pub const ROWS: usize = 4;

    pub fn new(dark: bool) -> Palette {
        let theme = usize::from(dark);
        let mut colours = vec![[0; 3]; 256 * Palette::ROWS];
        for (row, ramp) in [&GLOW[..], &SHORT[..], &SPARE[..]].into_iter().enumerate() {
            for (column, colour) in colours[row * 256..][..256].iter_mut().enumerate() {
                *colour = along(ramp, column as f64 / 255.0);
            }
        }
        let flat = [PLAIN[theme], OVER, AS_BUILT[theme]].into_iter().chain(CONDITION).chain(REGIME);
        for (i, fill) in flat.enumerate() {
            colours[3 * 256 + i] = split(fill);
        }
        Palette { colours }
    }

    /// Replaces one flat fill, such as one a style sheet sets.
    pub fn set(&mut self, swatch: Swatch, colour: Rgb) {
        if let Some(place) = self.colours.get_mut(swatch.0 as usize) {
            *place = colour;
        }
    }

    pub fn rgb(&self, swatch: Swatch) -> Rgb {
        self.colours.get(swatch.0 as usize).copied().unwrap_or(split(PLAIN[0]))
    }

    /// All colours, row after row.
    pub fn colours(&self) -> &[Rgb] {
        &self.colours
    }
}

/// `#rrggbb`.
pub fn hex(colour: Rgb) -> String {
    format!("#{:02x}{:02x}{:02x}", colour[0], colour[1], colour[2])
}

fn split(colour: u32) -> Rgb {
    [(colour >> 16) as u8, (colour >> 8) as u8, colour as u8]
}

/// The colour at `t` in 0 to 1 along a row of colours at equal steps, interpolated in OKLab.
fn along(row: &[u32], t: f64) -> Rgb {
    let place = t * (row.len() - 1) as f64;
    let before = (libm::floor(place) as usize).min(row.len() - 2);
    let share = place - before as f64;
    let (a, b) = (to_oklab(split(row[before])), to_oklab(split(row[before + 1])));
    from_oklab([0, 1, 2].map(|i| a[i] + (b[i] - a[i]) * share))
}

/// sRGB (IEC 61966-2-1 transfer) to OKLab.
fn to_oklab(colour: Rgb) -> [f64; 3] {
    let [r, g, b] = colour.map(|c| {
        let c = f64::from(c) / 255.0;
        if c <= 0.04045 { c / 12.92 } else { libm::pow((c + 0.055) / 1.055, 2.4) }
    });
    let l = libm::cbrt(0.4122214708 * r + 0.5363325363 * g + 0.0514459929 * b);
    let m = libm::cbrt(0.2119034982 * r + 0.6806995451 * g + 0.1073969566 * b);
    let s = libm::cbrt(0.0883024619 * r + 0.2817188376 * g + 0.6299787005 * b);
    [
        0.2104542553 * l + 0.7936177850 * m - 0.0040720468 * s,
        1.9779984951 * l - 2.4285922050 * m + 0.4505937099 * s,
        0.0259040371 * l + 0.7827717662 * m - 0.8086757660 * s,
    ]
}

fn from_oklab([lightness, a, b]: [f64; 3]) -> Rgb {
    let l = lightness + 0.3963377774 * a + 0.2158037573 * b;
    let m = lightness - 0.1055613458 * a - 0.0638541728 * b;
    let s = lightness - 0.0894841775 * a - 1.2914855480 * b;
    let (l, m, s) = (l * l * l, m * m * m, s * s * s);
    [
        4.0767416621 * l - 3.3077115913 * m + 0.2309699292 * s,
        -1.2684380046 * l + 2.6097574011 * m - 0.3413193965 * s,
        -0.0041960863 * l - 0.7034186147 * m + 1.7076147010 * s,
    ]
    .map(|c| {
        let c = if c <= 0.0031308 { 12.92 * c } else { 1.055 * libm::pow(c, 1.0 / 2.4) - 0.055 };
        libm::round(c.clamp(0.0, 1.0) * 255.0) as u8
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn margin(banded: bool) -> Scale {
        Scale { low: MARGIN_ENDS_K[0], high: MARGIN_ENDS_K[1], banded, ..Scale::default() }
    }

    fn glow(limits: &[f64], banded: bool) -> Scale {
        let limits = limits.iter().map(|l| (*l, String::from("reuse"))).collect();
        Scale { kind: ScaleKind::Temperature, low: 300.0, high: 1800.0, limits, banded, ..Scale::default() }
    }

    /// The named colours come out of the interpolated texture unchanged, at equal steps.
    #[test]
    fn verif_ramps_keep_their_colours() {
        let palette = Palette::new(false);
        for (i, colour) in GLOW.iter().enumerate() {
            assert_eq!(palette.colours()[17 * i], split(*colour), "glow {i}");
        }
        for (i, colour) in SHORT.iter().enumerate() {
            assert_eq!(palette.colours()[256 + 51 * i], split(*colour), "short {i}");
        }
        assert_eq!(palette.colours()[512], split(SPARE[0]));
        assert_eq!(palette.colours()[767], split(SPARE[9]));
    }

    /// Lightness as LOOK states it: glow 0.31 to 0.91 and rising, short 0.275 to 0.475, spare 0.60 to 0.925, none in between.
    #[test]
    fn verif_lightness_of_the_ramps() {
        let palette = Palette::new(false);
        for (row, low, high) in [(0, 0.31, 0.91), (1, 0.275, 0.475), (2, 0.60, 0.925)] {
            let row: Vec<f64> = palette.colours()[row * 256..][..256].iter().map(|c| to_oklab(*c)[0]).collect();
            assert!((row[0] - low).abs() < 0.005 && (row[255] - high).abs() < 0.005, "{} {}", row[0], row[255]);
            // Half an 8-bit step of lightness may be lost to rounding between neighbours.
            assert!(row.windows(2).all(|w| w[1] > w[0] - 0.002));
        }
    }

    /// Every colour there and back: the two published matrices undo each other to less than half an 8-bit step.
    #[test]
    fn verif_oklab_round_trip() {
        for colour in (0..0x1000000u32).step_by(4099) {
            assert_eq!(from_oklab(to_oklab(split(colour))), split(colour));
        }
    }

    #[test]
    fn verif_sign_of_a_margin_decides_the_ramp() {
        let (scale, palette) = (margin(false), Palette::new(false));
        let cases = [
            (-1000.0, SHORT[0]),
            (-60.0, SHORT[0]),
            (-48.0, SHORT[1]),
            (-12.0, SHORT[4]),
            (-1e-9, SHORT[5]),
            (0.0, SPARE[0]),
            (200.0, SPARE[9]),
            (1e9, SPARE[9]),
            (f64::NAN, PLAIN[0]),
            (f64::INFINITY, SPARE[9]),
        ];
        for (value, colour) in cases {
            assert_eq!(palette.rgb(scale.swatch(value, value < 0.0)), split(colour), "{value}");
        }
    }

    #[test]
    fn verif_bands() {
        let edges = |scale: &Scale| {
            let list = scale.bands().list;
            let mut edges: Vec<f64> = list.iter().map(|b| b.low).collect();
            edges.extend(list.last().map(|b| b.high));
            edges
        };
        assert_eq!(edges(&margin(true)), [-60.0, -40.0, -20.0, 0.0, 40.0, 80.0, 120.0, 160.0, 200.0]);
        assert_eq!(edges(&glow(&[], true)), [300.0, 400.0, 600.0, 800.0, 1000.0, 1200.0, 1400.0, 1600.0, 1800.0]);
        assert!(edges(&glow(&[1533.0], true)).contains(&1533.0));
        for limits in [&[][..], &[1533.0], &[400.0, 533.0, 1533.0]] {
            assert!(glow(limits, true).bands().list.len() <= GLOW_BANDS);
        }
        let us = Scale { units: UnitSystem::Us, ..glow(&[], true) };
        for edge in &edges(&us)[1..edges(&us).len() - 1] {
            let shown = edge * 1.8 - 459.67;
            assert!((shown / 50.0 - (shown / 50.0).round()).abs() < 1e-9, "{shown} °F");
        }
    }

    #[test]
    fn verif_bands_take_every_second_colour() {
        let palette = Palette::new(false);
        let colours: Vec<Rgb> = margin(true).bands().list.iter().map(|b| palette.rgb(b.swatch)).collect();
        assert_eq!(colours[..3], [SHORT[1], SHORT[3], SHORT[5]].map(split));
        // Spare has nine steps over 255 columns, so its colours may be off by the rounding of a column.
        for (got, want) in colours[3..].iter().zip([SPARE[0], SPARE[2], SPARE[4], SPARE[6], SPARE[8]]) {
            assert!(got.iter().zip(split(want)).all(|(a, b)| a.abs_diff(b) <= 1));
        }
    }

    /// One value at a time and all at once give the same colours, in every kind.
    #[test]
    fn verif_swatches_agree_with_swatch() {
        let values: Vec<f64> = (-80..2000).map(f64::from).chain([f64::NAN]).collect();
        let short: Vec<bool> = values.iter().map(|v| *v < 0.0 || *v > 1533.0).collect();
        let listed = |kind| Scale { kind, ..Scale::default() };
        for scale in [
            margin(false),
            margin(true),
            glow(&[1533.0], false),
            glow(&[1533.0], true),
            listed(ScaleKind::Condition),
            listed(ScaleKind::Regime),
            Scale { kind: ScaleKind::Size, low: 0.0, high: 1000.0, ..Scale::default() },
            Scale { kind: ScaleKind::Size, low: 0.0, high: 1000.0, banded: true, ..Scale::default() },
        ] {
            let one: Vec<Swatch> = values.iter().zip(&short).map(|(v, s)| scale.swatch(*v, *s)).collect();
            assert_eq!(scale.swatches(&values, &short).collect::<Vec<_>>(), one);
        }
    }

    #[test]
    fn verif_over_its_own_limit_in_temperature() {
        let scale = glow(&[1533.0], false);
        assert_eq!(scale.swatch(1540.0, true), Swatch::OVER);
        assert_ne!(scale.swatch(1540.0, false), Swatch::OVER);
        assert_eq!(scale.parts(), [[300.0, 1533.0], [1533.0, 1800.0]]);
        assert_eq!(margin(false).parts(), [[-60.0, 0.0], [0.0, 200.0]]);
    }

    /// The regimes stay apart in grey: at least 0.2 of OKLab lightness between neighbours.
    #[test]
    fn verif_regimes_apart_in_grey() {
        let lightness = REGIME.map(|c| to_oklab(split(c))[0]);
        assert!(lightness.windows(2).all(|w| w[0] - w[1] > 0.2), "{lightness:?}");
    }
}
