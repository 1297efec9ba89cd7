//! An axis: from a value to a place on the page and back; margins part at the limit.

/// A linear axis, or one with a gap at zero between the short and the spare side (the same kelvin per pixel on both).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Axis {
    pub low: f64,
    pub high: f64,
    /// Pixels of the ends.
    pub left: f64,
    pub right: f64,
    /// Pixels between the two sides of zero; 0 for a plain axis.
    pub gap: f64,
}

impl Axis {
    fn scale(&self) -> f64 {
        let span = self.high - self.low;
        if span > 0.0 { (self.right - self.left - self.gap) / span } else { 0.0 }
    }

    /// The pixel of a value; values beyond an end stand at it.
    pub fn x(&self, value: f64) -> f64 {
        let value = value.clamp(self.low.min(self.high), self.high.max(self.low));
        let jump = if self.gap > 0.0 && value >= 0.0 { self.gap } else { 0.0 };
        self.left + (value - self.low) * self.scale() + jump
    }

    /// The value at a pixel; inside the gap it is zero.
    pub fn value(&self, x: f64) -> f64 {
        let scale = self.scale();
        if scale <= 0.0 {
            return self.low;
        }
        let x = x.clamp(self.left, self.right);
        let value = self.low + (x - self.left) / scale;
        if self.gap <= 0.0 || value < 0.0 {
            return value.clamp(self.low, self.high);
        }
        (self.low + (x - self.left - self.gap) / scale).clamp(0.0, self.high)
    }

    /// The middle of the gap: where the limit is drawn.
    pub fn limit_x(&self) -> f64 {
        self.left - self.low * self.scale() + 0.5 * self.gap
    }
}

/// How many values stand in each of `bins` equal parts between two ends; values beyond an end count in the last part.
pub fn spread(values: impl Iterator<Item = f64>, low: f64, high: f64, bins: usize) -> Vec<usize> {
    let mut counts = vec![0; bins];
    let width = (high - low) / bins as f64;
    if bins == 0 || width <= 0.0 {
        return counts;
    }
    for value in values.filter(|value| value.is_finite()) {
        let bin = (((value - low) / width).max(0.0) as usize).min(bins - 1);
        if let Some(count) = counts.get_mut(bin) {
            *count += 1;
        }
    }
    counts
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_the_margin_axis_parts_at_the_limit() {
        let axis = Axis { low: -60.0, high: 200.0, left: 20.0, right: 800.0, gap: 20.0 };
        assert_eq!(axis.x(-60.0), 20.0);
        assert_eq!(axis.x(200.0), 800.0);
        assert!((axis.x(-1e-12) - 195.384615).abs() < 1e-4 && (axis.x(0.0) - 215.384615).abs() < 1e-4);
        assert_eq!(axis.value(205.0), 0.0);
        assert_eq!((axis.x(-500.0), axis.x(900.0)), (20.0, 800.0));
        for value in [-60.0, -33.0, -0.5, 0.5, 77.0, 200.0] {
            assert!((axis.value(axis.x(value)) - value).abs() < 1e-9, "{value}");
        }
        let plain = Axis { low: 400.0, high: 2000.0, left: 0.0, right: 1600.0, gap: 0.0 };
        assert_eq!((plain.x(1000.0), plain.value(600.0)), (600.0, 1000.0));
        assert_eq!(Axis { high: 400.0, ..plain }.value(3.0), 400.0);
    }

    #[test]
    fn verif_the_spread_counts_every_value_once() {
        let counts = spread([-5.0, 0.0, 9.9, 10.0, 19.0, 99.0, f64::NAN].into_iter(), 0.0, 20.0, 2);
        assert_eq!(counts, [3, 3]);
    }
}
