//! The body of Whinchat as a smooth surface: a table of stations, a cross-section at each, and arc length around it.
//!
//! The body is our own fiction. Its surface is the tensor product of two smooth families:
//!
//! 1. Along the body, half-width, belly depth, lee height, height of the chine and sharpness of the chine are cubic splines (C2)
//!    over the station parameter `q = sqrt(x / LENGTH_M)`. In `q` a blunt nose is regular: half-width, depth and height grow
//!    linearly from the pole (as the square root of x: a nose radius of `slope^2 / (2 LENGTH_M)`), the chine's height is even.
//! 2. Around the body, the right half of a section is a uniform cubic B-spline (C2) over nine control points from the keel
//!    (`t = 0`) over the chine (`t = 4`) to the crest (`t = 8`), mirrored at both ends. The control polygon blends from one that
//!    gives an ellipse (at the nose) to one with a rounded belly, a chine of about 0.2 m radius, an inward leaning side and a
//!    gentle shoulder.
//!
//! Around the section a place is given by its fraction of arc length within a sector (belly, the two courses at the chine, upper
//! side), so that rows of tiles keep an even width and the chine line is a joint. Metres; x aft from the nose, y right, z up.

use glam::DVec3;

/// Length of the body from the nose to the base plane, m. The flaps and fin tips reach further aft.
pub const LENGTH_M: f64 = 12.25;

/// Width around the section of each of the two courses at the chine, m.
pub const CHINE_COURSE_M: f64 = 0.215;

/// Stations: x, half-width at the chine, belly depth below the chine, height of the crest above it, height of the chine,
/// sharpness of the chine (0 ellipse, 1 full chine). All m but the last.
const STATIONS: [[f64; 6]; 10] = [
    [0.00, 0.000, 0.000, 0.000, 0.000, 0.00],
    [0.12, 0.515, 0.455, 0.385, -0.004, 0.02],
    [0.48, 0.885, 0.710, 0.685, -0.010, 0.12],
    [1.10, 1.160, 0.855, 0.930, -0.010, 0.45],
    [2.20, 1.410, 0.895, 1.200, 0.000, 0.90],
    [3.90, 1.665, 0.875, 1.430, 0.020, 1.00],
    [6.00, 1.880, 0.810, 1.530, 0.060, 1.00],
    [8.30, 2.040, 0.760, 1.490, 0.120, 1.00],
    [10.4, 2.110, 0.670, 1.360, 0.190, 1.00],
    [12.25, 2.110, 0.550, 1.180, 0.270, 1.00],
];

/// Control polygon of the chined section: y in half-widths; z in belly depths below the chine and in lee heights above it.
const CHINED: [[f64; 2]; 9] = [
    [0.000, -1.030],
    [0.340, -1.010],
    [0.690, -0.760],
    [0.970, -0.200],
    [1.040, 0.000],
    [0.985, 0.160],
    [0.835, 0.590],
    [0.480, 1.040],
    [0.000, 1.050],
];

/// A natural (second derivative zero at both ends) or, at its start, level (first derivative zero) cubic spline.
struct Spline {
    at: Vec<f64>,
    value: Vec<f64>,
    second: Vec<f64>,
}

impl Spline {
    fn new(at: Vec<f64>, value: Vec<f64>, level_start: bool) -> Spline {
        let n = at.len();
        let (mut upper, mut second) = (vec![0.0; n], vec![0.0; n]);
        if level_start {
            upper[0] = 0.5;
            second[0] = 3.0 * (value[1] - value[0]) / ((at[1] - at[0]) * (at[1] - at[0]));
        }
        for i in 1..n - 1 {
            let (before, after) = (at[i] - at[i - 1], at[i + 1] - at[i]);
            let right = 6.0 * ((value[i + 1] - value[i]) / after - (value[i] - value[i - 1]) / before);
            let pivot = 2.0 * (before + after) - before * upper[i - 1];
            upper[i] = after / pivot;
            second[i] = (right - before * second[i - 1]) / pivot;
        }
        second[n - 1] = 0.0;
        for i in (0..n - 1).rev() {
            second[i] -= upper[i] * second[i + 1];
        }
        Spline { at, value, second }
    }

    fn eval(&self, q: f64) -> f64 {
        let last = self.at.len() - 2;
        let i = self.at[1..=last].iter().take_while(|knot| q >= **knot).count();
        let step = self.at[i + 1] - self.at[i];
        let (a, b) = ((self.at[i + 1] - q) / step, (q - self.at[i]) / step);
        let bend = (a * a * a - a) * self.second[i] + (b * b * b - b) * self.second[i + 1];
        a * self.value[i] + b * self.value[i + 1] + bend * step * step / 6.0
    }
}

/// A part of the right half of a section; a place in it is a fraction of its arc length, from the keel side to the crest side.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sector {
    /// Keel to crest, where the nose has no chine yet.
    Round,
    /// Keel to the lower course of the chine.
    Belly,
    /// The course just below the chine line.
    ChineLow,
    /// The course just above the chine line.
    ChineHigh,
    /// The upper course of the chine to the crest.
    Upper,
}

const SECTORS: [Sector; 5] = [Sector::Round, Sector::Belly, Sector::ChineLow, Sector::ChineHigh, Sector::Upper];
/// Intervals of the table from arc fraction to curve parameter: along the body, around it.
const ALONG: usize = 120;
const AROUND: usize = 24;
/// Samples a section is measured with.
const SAMPLES: usize = 160;
const CHINE_T: f64 = 4.0;

/// The body's surface with its arc-length tables.
pub struct Body {
    half_width: Spline,
    depth: Spline,
    height: Spline,
    chine_z: Spline,
    sharpness: Spline,
    /// Curve parameter by sector, station and arc fraction.
    parameter: Vec<f64>,
    /// Length of each sector by station, m.
    length_m: Vec<[f64; 5]>,
}

impl Default for Body {
    fn default() -> Self {
        Body::new()
    }
}

impl Body {
    pub fn new() -> Body {
        let knots: Vec<f64> = STATIONS.iter().map(|row| (row[0] / LENGTH_M).sqrt()).collect();
        let column = |c: usize, level: bool| Spline::new(knots.clone(), STATIONS.iter().map(|row| row[c]).collect(), level);
        let mut body = Body {
            half_width: column(1, false),
            depth: column(2, false),
            height: column(3, false),
            chine_z: column(4, true),
            sharpness: column(5, true),
            parameter: vec![0.0; SECTORS.len() * (ALONG + 1) * (AROUND + 1)],
            length_m: vec![[0.0; 5]; ALONG + 1],
        };
        for i in 0..=ALONG {
            body.measure(i);
        }
        body
    }

    /// The nine control points (y, z) of the section at `q`.
    fn polygon(&self, q: f64) -> [[f64; 2]; 9] {
        let (w, d, h) = (self.half_width.eval(q), self.depth.eval(q), self.height.eval(q));
        let (z, e) = (self.chine_z.eval(q), self.sharpness.eval(q).clamp(0.0, 1.0));
        let mut points = [[0.0; 2]; 9];
        for (i, point) in points.iter_mut().enumerate() {
            // The factor undoes the shrinking of a uniform cubic B-spline over a regular polygon of 16 corners.
            let round = [ROUND[i][0] * 1.026, ROUND[i][1] * 1.026];
            let y = round[0] + e * (CHINED[i][0] - round[0]);
            let v = round[1] + e * (CHINED[i][1] - round[1]);
            *point = [w * y, z + if v < 0.0 { d * v } else { h * v }];
        }
        points
    }

    /// The point at station `q` (0 nose to 1 base) and curve parameter `t` (0 keel to 8 crest) of the right half.
    pub fn surface(&self, q: f64, t: f64) -> DVec3 {
        let [y, z] = on_curve(&self.polygon(q), t);
        DVec3::new(LENGTH_M * q * q, y, z)
    }

    fn measure(&mut self, i: usize) {
        // At the pole the section is a point: its fractions are those of the limit.
        let q = (i as f64 / ALONG as f64).max(1e-3);
        let polygon = self.polygon(q);
        let mut arc = [0.0; SAMPLES + 1];
        let mut last = on_curve(&polygon, 0.0);
        for j in 1..=SAMPLES {
            let here = on_curve(&polygon, 8.0 * j as f64 / SAMPLES as f64);
            let (dy, dz) = (here[0] - last[0], here[1] - last[1]);
            arc[j] = arc[j - 1] + (dy * dy + dz * dz).sqrt();
            last = here;
        }
        let chine = arc[(CHINE_T / 8.0 * SAMPLES as f64) as usize];
        let total = arc[SAMPLES];
        let course = CHINE_COURSE_M.min(0.2 * total);
        let limits = [(0.0, total), (0.0, chine - course), (chine - course, chine), (chine, chine + course), (chine + course, total)];
        for (s, (from, to)) in limits.into_iter().enumerate() {
            self.length_m[i][s] = to - from;
            let mut j = 0;
            for k in 0..=AROUND {
                let wanted = from + (to - from) * k as f64 / AROUND as f64;
                while j + 1 < SAMPLES && arc[j + 1] < wanted {
                    j += 1;
                }
                let part = ((wanted - arc[j]) / (arc[j + 1] - arc[j])).clamp(0.0, 1.0);
                self.parameter[(s * (ALONG + 1) + i) * (AROUND + 1) + k] = 8.0 * (j as f64 + part) / SAMPLES as f64;
            }
        }
    }

    /// The point at station `q` and arc fraction `v` of a sector. Below 0 (belly, round) and above 1 (upper, round) the place lies
    /// mirrored on the left half; elsewhere `v` is held to 0..1.
    pub fn at(&self, sector: Sector, q: f64, v: f64) -> DVec3 {
        let q = q.clamp(0.0, 1.0);
        if v < 0.0 && matches!(sector, Sector::Belly | Sector::Round) {
            return mirror(self.at(sector, q, -v));
        }
        if v > 1.0 && matches!(sector, Sector::Upper | Sector::Round) {
            return mirror(self.at(sector, q, 2.0 - v));
        }
        let (i, a) = split(q, ALONG);
        let (k, b) = split(v.clamp(0.0, 1.0), AROUND);
        let row = |i: usize| {
            let start = (sector as usize * (ALONG + 1) + i) * (AROUND + 1) + k;
            self.parameter[start] + b * (self.parameter[start + 1] - self.parameter[start])
        };
        let t = row(i) + a * (row(i + 1) - row(i));
        self.surface(q, t)
    }

    /// Arc length of a sector of the right half at station `q`, m.
    pub fn sector_length_m(&self, sector: Sector, q: f64) -> f64 {
        let (i, a) = split(q.clamp(0.0, 1.0), ALONG);
        let s = sector as usize;
        self.length_m[i][s] + a * (self.length_m[i + 1][s] - self.length_m[i][s])
    }

    /// Stations that part the body from `q_from` to `q_to` into rows of equal length along the body, `count` of them (mean of the
    /// lengths along keel, chine and crest).
    pub fn even_stations(&self, q_from: f64, q_to: f64, count: usize) -> Vec<f64> {
        let steps = 400;
        let at = |j: usize| q_from + (q_to - q_from) * j as f64 / steps as f64;
        let mut length = vec![0.0];
        for j in 1..=steps {
            let step: f64 = [0.0, 2.0, 4.0, 6.0, 8.0].iter().map(|t| self.surface(at(j), *t).distance(self.surface(at(j - 1), *t))).sum();
            length.push(length[j - 1] + step / 5.0);
        }
        let mut j = 0;
        (0..=count)
            .map(|k| {
                let wanted = length[steps] * k as f64 / count as f64;
                while j + 1 < steps && length[j + 1] < wanted {
                    j += 1;
                }
                let part = ((wanted - length[j]) / (length[j + 1] - length[j])).clamp(0.0, 1.0);
                at(j) + part * (at(j + 1) - at(j))
            })
            .collect()
    }
}

/// The point of the other half.
pub fn mirror(point: DVec3) -> DVec3 {
    DVec3::new(point.x, -point.y, point.z)
}

/// sin and -cos of 0, 22.5, … 180 degrees, by half-angle identities written out.
const ROUND: [[f64; 2]; 9] = [
    [0.0, -1.0],
    [0.382_683_432_365_089_8, -0.923_879_532_511_286_7],
    [std::f64::consts::FRAC_1_SQRT_2, -std::f64::consts::FRAC_1_SQRT_2],
    [0.923_879_532_511_286_7, -0.382_683_432_365_089_8],
    [1.0, 0.0],
    [0.923_879_532_511_286_7, 0.382_683_432_365_089_8],
    [std::f64::consts::FRAC_1_SQRT_2, std::f64::consts::FRAC_1_SQRT_2],
    [0.382_683_432_365_089_8, 0.923_879_532_511_286_7],
    [0.0, 1.0],
];

fn split(fraction: f64, intervals: usize) -> (usize, f64) {
    let scaled = fraction * intervals as f64;
    let i = (scaled as usize).min(intervals - 1);
    (i, scaled - i as f64)
}

/// A uniform cubic B-spline over a half section, mirrored in y at both ends.
fn on_curve(polygon: &[[f64; 2]; 9], t: f64) -> [f64; 2] {
    let (i, u) = split(t / 8.0, 8);
    let point = |k: isize| match k {
        -1 => [-polygon[1][0], polygon[1][1]],
        9 => [-polygon[7][0], polygon[7][1]],
        _ => polygon[k as usize],
    };
    let v = 1.0 - u;
    let weights = [v * v * v, 3.0 * u * u * u - 6.0 * u * u + 4.0, 3.0 * v * v * v - 6.0 * v * v + 4.0, u * u * u];
    let mut out = [0.0; 2];
    for (w, k) in weights.iter().zip((i as isize - 1)..) {
        let p = point(k);
        out[0] += w * p[0] / 6.0;
        out[1] += w * p[1] / 6.0;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_surface_is_smooth_along_and_around() {
        // A C2 surface: a third difference shrinks eight-fold and the second difference four-fold with half the step; a kink would
        // leave the second difference shrinking two-fold only.
        let body = Body::new();
        let second = |f: &dyn Fn(f64) -> DVec3, at: f64, step: f64| (f(at + step) - 2.0 * f(at) + f(at - step)).length() / (step * step);
        for k in 1..40 {
            let q = k as f64 / 40.0;
            for t in [0.0, 1.0, 2.5, 4.0, 4.7, 6.0, 8.0] {
                let along = |q: f64| body.surface(q, t);
                let (coarse, fine) = (second(&along, q, 1e-3), second(&along, q, 5e-4));
                assert!((coarse - fine).abs() < 0.03 * (1.0 + fine), "q {q} t {t}: {coarse} {fine}");
            }
            for knot in 1..8 {
                let around = |t: f64| body.surface(q, t);
                let (coarse, fine) = (second(&around, knot as f64, 1e-3), second(&around, knot as f64, 5e-4));
                assert!((coarse - fine).abs() < 0.01 * (1.0 + fine), "q {q} knot {knot}: {coarse} {fine}");
            }
        }
    }

    #[test]
    fn verif_fractions_are_of_arc_length() {
        let body = Body::new();
        for q in [0.3, 0.5, 0.77, 1.0] {
            for sector in [Sector::Belly, Sector::Upper] {
                let steps = 2000;
                let length: f64 = (0..steps)
                    .map(|i| {
                        let v = |i: i32| f64::from(i) / f64::from(steps);
                        body.at(sector, q, v(i)).distance(body.at(sector, q, v(i + 1)))
                    })
                    .sum();
                // The tables interpolate between 121 stations and 160 samples.
                let stated = body.sector_length_m(sector, q);
                assert!((length / stated - 1.0).abs() < 2e-3, "{sector:?} {q}: {length} {stated}");
            }
        }
    }

    #[test]
    fn verif_mirrored_places_mirror() {
        let body = Body::new();
        assert_eq!(body.at(Sector::Belly, 0.6, -0.05), mirror(body.at(Sector::Belly, 0.6, 0.05)));
        assert_eq!(body.at(Sector::Upper, 0.6, 1.25), mirror(body.at(Sector::Upper, 0.6, 0.75)));
    }
}
