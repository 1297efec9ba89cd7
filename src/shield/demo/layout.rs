//! The layout: which polygon on which surface is a tile, rows from the nose aft, brickwork within them, the slanting colour boundary.
//!
//! 1. Rows (bands around the body) stand at even distances along it. Forward, where the nose has no chine yet, a row runs from keel
//!    to crest; further aft it has a belly part and an upper part, with two continuous courses along the chine between them.
//! 2. A row part holds the whole number of tiles nearest to its length over the pitch; so tiles are trapezoids that follow the
//!    taper, and a row is simply one tile shorter than the next where the body narrows. Every other row is shifted by half a
//!    tile: across the plane of symmetry by a tile astride of it, at a hard edge by two tiles of three quarters, never by a sliver.
//! 3. The colour boundary runs from the crest behind the nose down to the chine aft. Where it meets a row it is moved to the nearest
//!    joint or middle of a tile, which are the same places in the shifted next row; so it cuts tiles only into halves, triangles,
//!    trapezoids and pentagons of bounded size.
//! 4. The nose cap is a plate, a ring, and the lower panels of the first rows behind it (`SWEPT`): it reaches furthest aft under the
//!    nose, around the place where the flow meets it at the attack of an entry.
//! 5. The right half is laid out; the left is its mirror image, but for the openings.

use super::fin::{FIN_ROWS, HINGE, Surface, Vehicle};
use super::shape::{Body, LENGTH_M, Sector};

/// Where on the vehicle a piece lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Region {
    NoseCap,
    Nose,
    Belly,
    Chine,
    Upper,
    FlapLower,
    FlapUpper,
    FinEdge,
    FinTip,
    FinOuter,
    FinInner,
    ElevonOuter,
    ElevonInner,
    /// Surface without tiles: base, trailing edges, flap sides, hinge gaps.
    Structure,
}

/// On which sides a piece carries no tile.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Opening {
    No,
    LeftOnly,
    Both,
}

/// A polygon of the right half (or astride of the plane of symmetry).
#[derive(Debug, Clone, PartialEq)]
pub struct Blank {
    pub surface: Surface,
    pub polygon: Vec<[f64; 2]>,
    pub region: Region,
    pub white: bool,
    pub opening: Opening,
    /// Whether it lies astride of the plane of symmetry and so has no mirror image.
    pub astride: bool,
    /// Row (fore to aft over the body, then flaps, then each fin from root to tip) and place within the row from the keel side.
    pub row: usize,
    pub along: f64,
}

/// Mean distance of rows and mean width of tiles, m.
const ROW_M: f64 = 0.2440;
const PITCH_M: f64 = 0.2435;
/// Stations (x, m) near which the cap's plate and its ring end, the chine begins and the fins begin.
const CAP_X_M: [f64; 2] = [0.045, 0.19];
const CHINE_X_M: f64 = 1.15;
const FIN_X_M: f64 = 9.2;
/// How far the cap reaches around each of the rows behind its ring: fraction of the half section from the keel. So it is swept
/// toward the belly, where the flow meets the nose at the attack of an entry.
const SWEPT: [f64; 2] = [0.55, 0.42];
/// The colour boundary: x, m, and fraction of the upper part of a row, from the chine, up to which tiles are black.
const BOUNDARY: [[f64; 2]; 8] =
    [[1.40, 1.30], [1.62, 0.90], [2.1, 0.76], [3.0, 0.58], [4.5, 0.42], [6.5, 0.32], [9.2, 0.235], [12.25, 0.185]];
/// The same on the fins' inner faces, over the span from root to tip: fraction of the chord.
const FIN_BOUNDARY: [f64; 2] = [0.30, 0.46];
/// Openings: x, m, sector, fraction of it, sides.
const OPENINGS: [(f64, Sector, f64, Opening); 9] = [
    (0.86, Sector::Round, 0.56, Opening::Both),
    (0.86, Sector::Round, 0.75, Opening::Both),
    (1.75, Sector::Upper, 0.30, Opening::Both),
    (2.00, Sector::Upper, 1.00, Opening::Both),
    (11.30, Sector::Upper, 0.30, Opening::Both),
    (11.78, Sector::Upper, 0.30, Opening::Both),
    (11.55, Sector::Upper, 0.62, Opening::Both),
    (9.90, Sector::Belly, 0.55, Opening::Both),
    (7.20, Sector::Upper, 1.00, Opening::Both),
];
/// The hatch on the left side: x from, to, m; fraction of the upper part from, to.
const HATCH: [f64; 4] = [4.15, 5.05, 0.535, 0.80];

/// The whole layout.
pub struct Layout {
    pub vehicle: Vehicle,
    pub blanks: Vec<Blank>,
}

/// Lays the vehicle out.
pub fn lay_out() -> Layout {
    let body = Body::new();
    let q_of = |x: f64| (x / LENGTH_M).sqrt();
    let cap = [q_of(CAP_X_M[0]), q_of(CAP_X_M[1])];
    let length: f64 = 0.5 * (meridian_m(&body, 0.0, cap[1]) + meridian_m(&body, 8.0, cap[1]));
    let stations = body.even_stations(cap[1], 1.0, (length / ROW_M).round() as usize);
    let row_at =
        |x: f64| (0..stations.len()).min_by(|i, j| near(stations[*i], q_of(x)).total_cmp(&near(stations[*j], q_of(x)))).unwrap_or(0);
    let (chine_row, fin_row) = (row_at(CHINE_X_M), row_at(FIN_X_M));
    let vehicle = Vehicle { fin_q: stations[fin_row], body };
    let mut layout = Layout { vehicle, blanks: Vec::new() };
    layout.cap(cap);
    layout.rows(&stations, chine_row);
    layout.chine(&stations, chine_row, fin_row);
    let rows = stations.len() + 2;
    layout.flap(rows);
    layout.fin(rows + 3);
    layout.plain();
    layout.open();
    layout
}

fn near(a: f64, b: f64) -> f64 {
    (a - b).abs()
}

fn meridian_m(body: &Body, t: f64, from_q: f64) -> f64 {
    let at = |j: usize| body.surface(from_q + (1.0 - from_q) * j as f64 / 200.0, t);
    (0..200).map(|j| at(j).distance(at(j + 1))).sum()
}

/// What a row meets at an end.
#[derive(Clone, Copy, PartialEq)]
enum End {
    /// The plane of symmetry.
    Middle,
    Hard,
}

/// The tiles of a row of unit length: `count` of them, or shifted by half a tile.
fn bricks(count: usize, shifted: bool, start: End, end: End) -> Vec<[f64; 2]> {
    let n = count as f64;
    if !shifted || count < 3 {
        return (0..count).map(|i| [i as f64 / n, (i + 1) as f64 / n]).collect();
    }
    let mut joints: Vec<f64> = Vec::new();
    match start {
        End::Middle => joints.extend([-0.5, 0.5]),
        End::Hard => joints.extend([0.0, 0.75]),
    }
    joints.extend((1..count - 1).map(|i| i as f64 + 0.5));
    match end {
        End::Middle => joints.extend([n - 0.5, n + 0.5]),
        End::Hard => joints.extend([n - 0.75, n]),
    }
    joints.windows(2).map(|pair| [pair[0] / n, pair[1] / n]).collect()
}

/// The joint or middle of a tile nearest to `u`; a tile astride of the plane of symmetry is never cut.
fn on_lattice(cells: &[[f64; 2]], u: f64) -> f64 {
    let mut places: Vec<f64> = cells.iter().flatten().copied().collect();
    places.extend(cells.iter().filter(|c| c[0] >= 0.0 && c[1] <= 1.0 + 1e-9).map(|c| 0.5 * (c[0] + c[1])));
    places.into_iter().min_by(|p, q| near(*p, u).total_cmp(&near(*q, u))).unwrap_or(u)
}

/// The part of a polygon where b is below (`keep` -1) or above (1) the line from (0, from) to (1, to); `None` if nothing much.
fn cut(polygon: &[[f64; 2]], from: f64, to: f64, keep: f64) -> Option<Vec<[f64; 2]>> {
    let over = |p: [f64; 2]| keep * (p[1] - from - (to - from) * p[0]);
    let mut out: Vec<[f64; 2]> = Vec::new();
    for i in 0..polygon.len() {
        let (p, q) = (polygon[i], polygon[(i + 1) % polygon.len()]);
        let (sp, sq) = (over(p), over(q));
        if sp >= -1e-9 {
            out.push(p);
        }
        if (sp > 1e-9 && sq < -1e-9) || (sp < -1e-9 && sq > 1e-9) {
            let part = sp / (sp - sq);
            out.push([p[0] + part * (q[0] - p[0]), p[1] + part * (q[1] - p[1])]);
        }
    }
    (out.len() > 2 && area(&out) > 0.1 * area(polygon)).then_some(out)
}

fn area(polygon: &[[f64; 2]]) -> f64 {
    let n = polygon.len();
    let twice: f64 = (0..n).map(|i| polygon[i][0] * polygon[(i + 1) % n][1] - polygon[(i + 1) % n][0] * polygon[i][1]).sum();
    0.5 * twice.abs()
}

fn table(points: &[[f64; 2]], x: f64) -> f64 {
    let i = points[1..points.len() - 1].iter().take_while(|p| x >= p[0]).count();
    let (p, q) = (points[i], points[i + 1]);
    p[1] + ((x - p[0]) / (q[0] - p[0])).clamp(0.0, 1.0) * (q[1] - p[1])
}

fn rectangle(a: [f64; 2], b: [f64; 2]) -> Vec<[f64; 2]> {
    vec![[a[0], b[0]], [a[1], b[0]], [a[1], b[1]], [a[0], b[1]]]
}

impl Layout {
    fn put(&mut self, surface: Surface, polygon: Vec<[f64; 2]>, region: Region, row: usize, along: f64) -> &mut Blank {
        let astride = matches!(surface, Surface::Body { .. }) && polygon.iter().any(|p| p[1] < -1e-9 || p[1] > 1.0 + 1e-9);
        self.blanks.push(Blank { surface, polygon, region, white: false, opening: Opening::No, astride, row, along });
        let last = self.blanks.len() - 1;
        &mut self.blanks[last]
    }

    /// The front of the nose cap: a round plate at the pole and a ring of panels around it. The first rows add its lower part.
    fn cap(&mut self, q: [f64; 2]) {
        let corners = 40;
        let rim = (0..corners).map(|i| {
            let angle = (f64::from(i) + 0.5) * std::f64::consts::TAU / f64::from(corners);
            [libm::cos(angle), libm::sin(angle)]
        });
        self.put(Surface::Cap { q1: q[0] }, rim.collect(), Region::NoseCap, 0, 0.0).astride = true;
        let surface = Surface::Body { sector: Sector::Round, q0: q[0], q1: q[1] };
        for cell in bricks(5, true, End::Middle, End::Middle) {
            self.put(surface, rectangle([0.0, 1.0], cell), Region::NoseCap, 1, 3.0 * (cell[0] + cell[1]));
        }
    }

    /// The rows of the body aft of the cap.
    fn rows(&mut self, stations: &[f64], chine_row: usize) {
        let hatch: Vec<usize> = (0..stations.len() - 1)
            .filter(|k| {
                let x = LENGTH_M * 0.25 * (stations[*k] + stations[k + 1]) * (stations[*k] + stations[k + 1]);
                x > HATCH[0] && x < HATCH[1]
            })
            .collect();
        for k in 0..stations.len() - 1 {
            let (q0, q1) = (stations[k], stations[k + 1]);
            let count = |body: &Body, sector| (body.sector_length_m(sector, 0.5 * (q0 + q1)) / PITCH_M).round() as usize;
            let shifted = k % 2 == 1;
            if k < chine_row {
                let surface = Surface::Body { sector: Sector::Round, q0, q1 };
                for cell in bricks(count(&self.vehicle.body, Sector::Round), shifted, End::Middle, End::Middle) {
                    let swept = SWEPT.get(k).is_some_and(|most| cell[0] + cell[1] < 2.0 * most);
                    let region = if swept { Region::NoseCap } else { Region::Nose };
                    self.put(surface, rectangle([0.0, 1.0], cell), region, k + 2, 3.0 * (cell[0] + cell[1]));
                }
                continue;
            }
            let surface = Surface::Body { sector: Sector::Belly, q0, q1 };
            for cell in bricks(count(&self.vehicle.body, Sector::Belly), shifted, End::Middle, End::Hard) {
                self.put(surface, rectangle([0.0, 1.0], cell), Region::Belly, k + 2, cell[0] + cell[1]);
            }
            let surface = Surface::Body { sector: Sector::Upper, q0, q1 };
            let mut count = count(&self.vehicle.body, Sector::Upper);
            let mut shifted = shifted;
            if let (Some(first), true) = (hatch.first(), hatch.contains(&k)) {
                // The hatch's joints run straight through its rows.
                let q = 0.5 * (stations[*first] + stations[first + 1]);
                count = (self.vehicle.body.sector_length_m(Sector::Upper, q) / PITCH_M).round() as usize;
                shifted = false;
            }
            let cells = bricks(count, shifted, End::Hard, End::Middle);
            let from = on_lattice(&cells, table(&BOUNDARY, LENGTH_M * q0 * q0));
            let to = on_lattice(&cells, table(&BOUNDARY, LENGTH_M * q1 * q1));
            self.two_coloured(surface, &cells, [0.0, 1.0], [from, to], Region::Upper, k + 2, 4.0);
            if hatch.contains(&k) {
                for blank in self.blanks.iter_mut().filter(|b| b.surface == surface) {
                    let middle = blank.polygon.iter().map(|p| p[1]).sum::<f64>() / blank.polygon.len() as f64;
                    if middle > HATCH[2] && middle < HATCH[3] {
                        blank.opening = Opening::LeftOnly;
                    }
                }
            }
        }
    }

    /// A row whose tiles the colour boundary parts: black below it, white above.
    #[allow(clippy::too_many_arguments)]
    fn two_coloured(
        &mut self,
        surface: Surface,
        cells: &[[f64; 2]],
        a: [f64; 2],
        boundary: [f64; 2],
        region: Region,
        row: usize,
        offset: f64,
    ) {
        for cell in cells {
            let unit = rectangle([0.0, 1.0], *cell);
            let middle = 0.5 * (cell[0] + cell[1]);
            let (black, white) = if cell[1] > 1.0 + 1e-9 {
                // A tile astride of the crest stays whole.
                if middle < 0.5 * (boundary[0] + boundary[1]) { (Some(unit.clone()), None) } else { (None, Some(unit.clone())) }
            } else {
                (cut(&unit, boundary[0], boundary[1], -1.0), cut(&unit, boundary[0], boundary[1], 1.0))
            };
            let along = offset + cell[0] + cell[1];
            let scaled = |polygon: Vec<[f64; 2]>| polygon.into_iter().map(|p| [a[0] + p[0] * (a[1] - a[0]), p[1]]).collect();
            match (black, white) {
                (Some(black), Some(white)) => {
                    self.put(surface, scaled(black), region, row, along);
                    self.put(surface, scaled(white), region, row, along + 1e-3).white = true;
                }
                (Some(_), None) => {
                    self.put(surface, scaled(unit), region, row, along);
                }
                _ => self.put(surface, scaled(unit), region, row, along).white = true,
            }
        }
    }

    /// The two courses along the chine, forward of the fin.
    fn chine(&mut self, stations: &[f64], chine_row: usize, fin_row: usize) {
        let (q0, q1) = (stations[chine_row], stations[fin_row]);
        let count = fin_row - chine_row;
        for (sector, shifted, along) in [(Sector::ChineLow, true, 3.0), (Sector::ChineHigh, false, 3.5)] {
            for cell in bricks(count, shifted, End::Hard, End::Hard) {
                let place = |u: f64| {
                    let k = ((u * count as f64 + 1e-9) as usize).min(count - 1);
                    let (from, to) = (stations[chine_row + k], stations[chine_row + k + 1]);
                    (from + (u * count as f64 - k as f64) * (to - from) - q0) / (q1 - q0)
                };
                let row = chine_row + 2 + (0.5 * (cell[0] + cell[1]) * count as f64) as usize;
                let polygon = rectangle([place(cell[0]), place(cell[1])], [0.0, 1.0]);
                self.put(Surface::Body { sector, q0, q1 }, polygon, Region::Chine, row, along);
            }
        }
    }

    fn flap(&mut self, row: usize) {
        let width = self.vehicle.at(Surface::FlapLower, 0.0, 0.0).distance(self.vehicle.at(Surface::FlapLower, 0.0, 1.0));
        let count = (width / PITCH_M).round() as usize;
        for k in 0..3 {
            let a = [k as f64 / 3.0, (k + 1) as f64 / 3.0];
            for cell in bricks(count, k % 2 == 1, End::Hard, End::Hard) {
                self.put(Surface::FlapLower, rectangle(a, cell), Region::FlapLower, row + k, cell[0] + cell[1]);
                self.put(Surface::FlapUpper, rectangle(a, cell), Region::FlapUpper, row + k, 4.0 + cell[0] + cell[1]);
            }
        }
    }

    fn fin(&mut self, row: usize) {
        let rows = FIN_ROWS as f64;
        for k in 0..FIN_ROWS {
            let b = [k as f64 / rows, (k + 1) as f64 / rows];
            let middle = 0.5 * (b[0] + b[1]);
            let chord = self.vehicle.at(Surface::FinOuter, 0.0, middle).distance(self.vehicle.at(Surface::FinOuter, 1.0, middle));
            self.put(Surface::FinEdge, rectangle([0.0, 1.0], b), Region::FinEdge, row + k, 0.0);
            let elevon = k > 0 && k + 1 < FIN_ROWS;
            let parts: &[([f64; 2], bool)] =
                if elevon { &[([0.0, HINGE[0]], false), ([HINGE[1], 1.0], true)] } else { &[([0.0, 1.0], false)] };
            for ([from, to], moving) in parts.iter().copied() {
                let count = ((to - from) * chord / PITCH_M).round().max(2.0) as usize;
                let cells = bricks(count, k % 2 == 1, End::Hard, End::Hard);
                let regions = if moving { [Region::ElevonOuter, Region::ElevonInner] } else { [Region::FinOuter, Region::FinInner] };
                for cell in &cells {
                    let a = [from + cell[0] * (to - from), from + cell[1] * (to - from)];
                    self.put(Surface::FinOuter, rectangle(a, b), regions[0], row + k, 1.0 + a[0]);
                    // The inner face is white aft of a slant, rounded to whole tiles.
                    let edge = FIN_BOUNDARY[0] + middle * (FIN_BOUNDARY[1] - FIN_BOUNDARY[0]);
                    self.put(Surface::FinInner, rectangle(a, b), regions[1], row + k, 3.0 + a[0]).white = 0.5 * (a[0] + a[1]) > edge;
                }
            }
            if elevon {
                for surface in [Surface::FinOuter, Surface::FinInner] {
                    self.put(surface, rectangle(HINGE, b), Region::Structure, row + k, 9.0).opening = Opening::Both;
                }
            }
        }
        for k in 0..6 {
            let a = [f64::from(k) / 6.0, f64::from(k + 1) / 6.0];
            self.put(Surface::FinTip, rectangle(a, [0.0, 1.0]), Region::FinTip, row + FIN_ROWS, a[0]);
        }
    }

    /// Surface that never carries tiles.
    fn plain(&mut self) {
        use Surface::*;
        for surface in [FinTipNose, FlapFront, FlapTrail, FlapInboard, FlapOutboard] {
            self.put(surface, rectangle([0.0, 1.0], [0.0, 1.0]), Region::Structure, 0, 0.0).opening = Opening::Both;
        }
        for k in 0..FIN_ROWS {
            let b = [k as f64 / FIN_ROWS as f64, (k + 1) as f64 / FIN_ROWS as f64];
            self.put(FinTrail, rectangle([0.0, 1.0], b), Region::Structure, 0, 0.0).opening = Opening::Both;
        }
        for k in 0..20 {
            let b = [f64::from(k) / 20.0, f64::from(k + 1) / 20.0];
            self.put(Base, rectangle([0.0, 1.0], b), Region::Structure, 0, 0.0).opening = Opening::Both;
        }
    }

    /// Takes the tiles out of the openings.
    fn open(&mut self) {
        for (x, wanted, v, sides) in OPENINGS {
            let q = (x / LENGTH_M).sqrt();
            for blank in &mut self.blanks {
                let Surface::Body { sector, q0, q1 } = blank.surface else { continue };
                let low = blank.polygon.iter().map(|p| p[1]).fold(f64::MAX, f64::min);
                let high = blank.polygon.iter().map(|p| p[1]).fold(f64::MIN, f64::max);
                if sector == wanted
                    && q >= q0
                    && q < q1
                    && v >= low
                    && v < high
                    && matches!(blank.region, Region::Nose | Region::Belly | Region::Upper)
                {
                    blank.opening = sides;
                }
            }
        }
    }
}
