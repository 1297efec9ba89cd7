//! Movement that starts, eases and ends: the turn of the camera and the way between shield and map.

/// The camera's turn.
pub const TURN_MS: f64 = 300.0;
/// Shield to map and back (`--morph`).
pub const MORPH_MS: f64 = 620.0;

/// One movement from a value to another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Motion<T> {
    pub from: T,
    pub to: T,
    pub start_ms: f64,
    pub length_ms: f64,
}

impl<T> Motion<T> {
    /// The eased share of the way at `now_ms`, 1 when it has ended.
    pub fn share(&self, now_ms: f64) -> f32 {
        let t = (now_ms - self.start_ms) / self.length_ms;
        if t >= 1.0 { 1.0 } else { ease(t.max(0.0)) as f32 }
    }
}

/// `--ease`: cubic-bezier(.5, 0, .15, 1), as the style sheet's transitions run.
fn ease(x: f64) -> f64 {
    let bezier = |a: f64, b: f64, t: f64| 3.0 * a * t * (1.0 - t) * (1.0 - t) + 3.0 * b * t * t * (1.0 - t) + t * t * t;
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..24 {
        let t = (low + high) / 2.0;
        if bezier(0.5, 0.15, t) < x { low = t } else { high = t }
    }
    bezier(0.0, 1.0, (low + high) / 2.0)
}
