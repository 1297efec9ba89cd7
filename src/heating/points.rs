//! A user's body points: local factors from their own flow solution or tunnel test, in place of the geometric estimate where they cover.
//!
//! 1. Side: a point takes the normal of the tile on whose face it lies (nearest along the face, five times as far across it). It feeds a tile only where the
//!    normals are within 60 degrees of each other, so that belly points never feed the lee side of a thin wing.
//! 2. Surface: per state of flight, a plane through the 12 nearest points of the tile's side by least squares, weights 1 / distance^4 along the surface (chord
//!    stretched to the arc between the normals), held within the values used. It passes through the points and is exact for fields linear along the surface
//!    (`verif_linear_fields_are_exact`).
//! 3. Cover: 1 where points surround the tile (no gap of half a turn between the directions to them) and the nearest is within two spacings, falling smoothly
//!    to 0 at four; outside that rim 1 within half a spacing and 0 at one and a half. A spacing is the way from the nearest point to its fourth neighbour. The
//!    factor is blended with the geometric one by the cover; at 0 the geometric one stands alone.
//! 4. Flight: linear between angles of attack, sideslips and Mach numbers of the table (a full grid of states for either regime), held at its ends; who asks
//!    outside is told ([`Points::outside`]).
//! 5. Regimes: laminar points replace the laminar factor, turbulent points the turbulent one. Where only laminar points stand, the turbulent factor keeps its
//!    geometric ratio to the laminar one; where only turbulent points stand, the laminar factor stays geometric.
//!
//! A factor is a ratio of heat-transfer coefficients to a sphere of the table's radius; to the stream's sphere it counts times sqrt(stream's radius / table's).
//! Scale, zone, tile and catalycity factors and the cap act on it as on any other. A deflection of a control surface does not move it.

use super::Facet;
use glam::DVec3;
use wide::{CmpGt, f64x4};

/// Points that a plane is put through.
const NEAREST: usize = 12;
/// Least cosine between the normals of a tile and a point that feeds it.
const SAME_SIDE: f64 = 0.5;
/// Corners of a cell of states.
const CORNERS: usize = 8;

/// One row of a table.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row {
    pub position: DVec3,
    pub angle_of_attack_deg: f64,
    pub sideslip_deg: f64,
    pub mach: f64,
    pub turbulent: bool,
    pub factor: f64,
}

impl Row {
    fn state(&self) -> [f64; 3] {
        [self.angle_of_attack_deg, self.sideslip_deg, self.mach]
    }
}

/// The states of one regime, laid on the tiles.
#[derive(Debug, Clone, PartialEq, Default)]
struct Grid {
    /// Rising values of angle of attack, sideslip and Mach number; states in that order, Mach fastest.
    axes: [Vec<f64>; 3],
    /// By state, by tile: cover, and cover times factor.
    states: Vec<Vec<[f64; 2]>>,
}

/// A table laid on a vehicle's tiles.
#[derive(Debug, Clone, PartialEq)]
pub struct Points {
    pub reference_radius_m: f64,
    laminar: Option<Grid>,
    turbulent: Option<Grid>,
}

/// States and their shares at one moment.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
struct Mix {
    states: [(u32, f64); CORNERS],
    count: usize,
}

/// A moment's way into a table: both regimes, and the factor to the stream's reference sphere.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct At {
    laminar: Mix,
    turbulent: Mix,
    scale: f64,
}

/// Four tiles' points, by state: cover, and cover times factor.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Lanes {
    laminar: Vec<[f64x4; 2]>,
    turbulent: Vec<[f64x4; 2]>,
}

/// How much of a vehicle a table covers, in tiles.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Count {
    pub whole: usize,
    pub border: usize,
    pub beyond: usize,
}

impl Points {
    /// Lays checked rows (`shield` holds them to a full grid of states, three points a state, no duplicate) on the tiles; `None` without rows.
    pub fn new(facets: &[Facet], rows: &[Row], reference_radius_m: f64) -> Option<Points> {
        if rows.is_empty() || facets.is_empty() {
            return None;
        }
        let normals = sides(facets, rows);
        let grid = |turbulent: bool| Grid::new(facets, rows, &normals, turbulent);
        Some(Points { reference_radius_m, laminar: grid(false), turbulent: grid(true) })
    }

    /// How far a tile is covered, 0 to 1: the most over the states of either regime.
    pub fn cover(&self, tile: usize) -> f64 {
        let states = [&self.laminar, &self.turbulent].into_iter().flatten().flat_map(|grid| &grid.states);
        states.filter_map(|state| state.get(tile)).map(|[cover, _]| *cover).fold(0.0, f64::max)
    }

    pub fn count(&self, tiles: usize) -> Count {
        (0..tiles).map(|tile| self.cover(tile)).fold(Count::default(), |mut count, cover| {
            match cover {
                c if c >= 1.0 => count.whole += 1,
                c if c > 0.0 => count.border += 1,
                _ => count.beyond += 1,
            }
            count
        })
    }

    /// Whether laminar and turbulent points stand in the table.
    pub fn regimes(&self) -> (bool, bool) {
        (self.laminar.is_some(), self.turbulent.is_some())
    }

    /// The table's range of angle of attack, sideslip and Mach number over both regimes.
    pub fn ranges(&self) -> [(f64, f64); 3] {
        let mut ranges = [(f64::INFINITY, f64::NEG_INFINITY); 3];
        for grid in [&self.laminar, &self.turbulent].into_iter().flatten() {
            for (range, axis) in ranges.iter_mut().zip(&grid.axes) {
                for value in axis {
                    *range = (range.0.min(*value), range.1.max(*value));
                }
            }
        }
        ranges
    }

    /// Whether angle of attack, sideslip and Mach number of a moment lie outside the table, where it is held at its ends.
    pub fn outside(&self, attack_deg: f64, sideslip_deg: f64, mach: f64) -> [bool; 3] {
        let ranges = self.ranges();
        let beyond = |value: f64, (low, high): (f64, f64)| value < low - 1e-6 || value > high + 1e-6;
        [beyond(attack_deg, ranges[0]), beyond(sideslip_deg, ranges[1]), beyond(mach, ranges[2])]
    }

    /// A moment's way into the table.
    pub fn at(&self, attack_deg: f64, sideslip_deg: f64, mach: f64, stream_radius_m: f64) -> At {
        let mix = |grid: &Option<Grid>| grid.as_ref().map_or(Mix::default(), |grid| grid.mix([attack_deg, sideslip_deg, mach]));
        At { laminar: mix(&self.laminar), turbulent: mix(&self.turbulent), scale: (stream_radius_m / self.reference_radius_m).sqrt() }
    }

    /// The points of four tiles; `None` where the table covers none of them.
    pub fn lanes(&self, tiles: [usize; 4]) -> Option<Lanes> {
        if tiles.iter().all(|tile| self.cover(*tile) <= 0.0) {
            return None;
        }
        let of = |grid: &Option<Grid>| -> Vec<[f64x4; 2]> {
            let states = grid.iter().flat_map(|grid| &grid.states);
            states.map(|state| [0, 1].map(|which| f64x4::from(tiles.map(|tile| state.get(tile).map_or(0.0, |pair| pair[which]))))).collect()
        };
        Some(Lanes { laminar: of(&self.laminar), turbulent: of(&self.turbulent) })
    }
}

impl At {
    /// The local factor, to the fourth power, with the points counted: from the geometric one, its laminar part (both to the fourth power) and the intermittency.
    #[inline(never)]
    pub fn apply(&self, lanes: &Lanes, laminar_4: f64x4, factor_4: f64x4, turbulence: f64x4) -> f64x4 {
        let (zero, one, tiny) = (f64x4::splat(0.0), f64x4::splat(1.0), f64x4::splat(1e-12));
        let (laminar, factor) = (laminar_4.sqrt().sqrt(), factor_4.sqrt().sqrt());
        let [cover, counted] = self.laminar.of(&lanes.laminar);
        let mut covered = cover;
        let new_laminar = laminar * (one - cover) + counted * f64x4::splat(self.scale);
        // factor = laminar + intermittency (turbulent - laminar).
        let rise = (factor - laminar).fast_max(zero);
        let turbulent = laminar + rise / turbulence.fast_max(tiny);
        let kept = turbulent * (new_laminar / laminar.fast_max(tiny));
        let [cover, counted] = self.turbulent.of(&lanes.turbulent);
        covered += cover;
        let new_turbulent = kept * (one - cover) + counted * f64x4::splat(self.scale);
        let mixed = new_laminar + turbulence * (new_turbulent - new_laminar);
        let square = mixed * mixed;
        // A tile beyond the cover keeps its bits, whatever its company.
        covered.cmp_gt(zero).blend(square * square, factor_4)
    }
}

impl Mix {
    #[inline]
    fn of(&self, lanes: &[[f64x4; 2]]) -> [f64x4; 2] {
        let mut sum = [f64x4::splat(0.0); 2];
        for (state, share) in self.states.iter().take(self.count) {
            if let Some([cover, counted]) = lanes.get(*state as usize) {
                sum = [sum[0] + *cover * f64x4::splat(*share), sum[1] + *counted * f64x4::splat(*share)];
            }
        }
        sum
    }
}

impl Grid {
    fn new(facets: &[Facet], rows: &[Row], normals: &[DVec3], turbulent: bool) -> Option<Grid> {
        let own: Vec<usize> = rows.iter().enumerate().filter(|(_, row)| row.turbulent == turbulent).map(|(i, _)| i).collect();
        if own.is_empty() {
            return None;
        }
        let mut axes: [Vec<f64>; 3] =
            std::array::from_fn(|axis| own.iter().filter_map(|i| rows.get(*i)).map(|row| row.state()[axis]).collect());
        for axis in &mut axes {
            axis.sort_by(f64::total_cmp);
            axis.dedup();
        }
        let count = axes.iter().map(Vec::len).product();
        let mut by_state: Vec<Vec<Site>> = vec![Vec::new(); count];
        let mut factors: Vec<Vec<f64>> = vec![Vec::new(); count];
        for i in own {
            let (Some(row), Some(normal)) = (rows.get(i), normals.get(i)) else { continue };
            let place = |axis: usize| axes[axis].partition_point(|value| *value < row.state()[axis]);
            let index = (place(0) * axes[1].len() + place(1)) * axes[2].len() + place(2);
            if let (Some(sites), Some(values)) = (by_state.get_mut(index), factors.get_mut(index)) {
                sites.push(Site { position: row.position, normal: *normal });
                values.push(row.factor);
            }
        }
        // States usually share their points: the geometry is then worked out once.
        let mut known: Option<(Vec<Site>, Vec<Fed>)> = None;
        let mut states = Vec::with_capacity(count);
        for (sites, values) in by_state.into_iter().zip(&factors) {
            if known.as_ref().is_none_or(|(before, _)| *before != sites) {
                let fed = Field::new(&sites).feed(facets);
                known = Some((sites, fed));
            }
            let fed = known.as_ref().map_or(&[][..], |(_, fed)| fed.as_slice());
            states.push(fed.iter().map(|fed| fed.value(values)).collect());
        }
        Some(Grid { axes, states })
    }

    fn mix(&self, at: [f64; 3]) -> Mix {
        let ends: [[(usize, f64); 2]; 3] = std::array::from_fn(|i| {
            let axis = &self.axes[i];
            let high = axis.partition_point(|value| *value <= at[i]).clamp(1, axis.len().max(2) - 1);
            match (axis.get(high - 1), axis.get(high)) {
                (Some(low), Some(top)) => {
                    let share = ((at[i] - low) / (top - low)).clamp(0.0, 1.0);
                    [(high - 1, 1.0 - share), (high, share)]
                }
                _ => [(0, 1.0), (0, 0.0)],
            }
        });
        let mut mix = Mix::default();
        for (a, share_a) in ends[0] {
            for (b, share_b) in ends[1] {
                for (m, share_m) in ends[2] {
                    let share = share_a * share_b * share_m;
                    if share > 0.0
                        && let Some(place) = mix.states.get_mut(mix.count)
                    {
                        *place = (((a * self.axes[1].len() + b) * self.axes[2].len() + m) as u32, share);
                        mix.count += 1;
                    }
                }
            }
        }
        mix
    }
}

/// A point with the normal of its side.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Site {
    position: DVec3,
    normal: DVec3,
}

/// What feeds a tile: points with their coefficients, and the cover.
#[derive(Debug, Clone, PartialEq, Default)]
struct Fed {
    from: Vec<(usize, f64)>,
    cover: f64,
}

impl Fed {
    /// Cover, and cover times the interpolated factor.
    fn value(&self, factors: &[f64]) -> [f64; 2] {
        if self.cover <= 0.0 {
            return [0.0, 0.0];
        }
        let (mut sum, mut low, mut high) = (0.0, f64::INFINITY, f64::NEG_INFINITY);
        for (point, coefficient) in &self.from {
            let factor = factors.get(*point).copied().unwrap_or(0.0);
            sum += coefficient * factor;
            (low, high) = (low.min(factor), high.max(factor));
        }
        [self.cover, self.cover * sum.clamp(low, high)]
    }
}

/// Things in order of x, so that what is near one is found by looking left and right of it.
struct Sorted {
    x: Vec<(f64, usize)>,
}

impl Sorted {
    fn new(x: impl Iterator<Item = f64>) -> Sorted {
        let mut x: Vec<(f64, usize)> = x.enumerate().map(|(i, x)| (x, i)).collect();
        x.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        Sorted { x }
    }

    /// Calls `see` outward from `x` in both directions with an index, until the way in x alone is longer than what `see` last returned.
    fn outward(&self, x: f64, mut see: impl FnMut(usize) -> f64) {
        let start = self.x.partition_point(|(value, _)| *value < x);
        let (mut left, mut right) = (start, start);
        let mut reach = f64::INFINITY;
        loop {
            let low = left.checked_sub(1).and_then(|i| self.x.get(i)).filter(|(value, _)| x - value <= reach);
            let high = self.x.get(right).filter(|(value, _)| value - x <= reach);
            match (low, high) {
                (None, None) => return,
                (Some((value, i)), other) if other.is_none_or(|(next, _)| x - value <= next - x) => {
                    left -= 1;
                    reach = see(*i);
                }
                (_, Some((_, i))) => {
                    right += 1;
                    reach = see(*i);
                }
                (Some(_), None) => return,
            }
        }
    }
}

/// The normal of each point's side.
fn sides(facets: &[Facet], rows: &[Row]) -> Vec<DVec3> {
    const ACROSS: f64 = 5.0;
    let sorted = Sorted::new(facets.iter().map(|facet| facet.centre.x));
    let mut last: Option<(DVec3, DVec3)> = None;
    (rows.iter())
        .map(|row| {
            if let Some((_, normal)) = last.filter(|(position, _)| *position == row.position) {
                return normal;
            }
            let (mut best, mut normal) = (f64::INFINITY, DVec3::Z);
            sorted.outward(row.position.x, |tile| {
                if let Some(facet) = facets.get(tile) {
                    let way = row.position - facet.centre;
                    let off = way.dot(facet.normal);
                    let distance = (way.length_squared() + (ACROSS * ACROSS - 1.0) * off * off).sqrt();
                    if distance < best {
                        (best, normal) = (distance, facet.normal);
                    }
                }
                best
            });
            last = Some((row.position, normal));
            normal
        })
        .collect()
}

/// The points of one state.
struct Field<'a> {
    sites: &'a [Site],
    sorted: Sorted,
}

impl<'a> Field<'a> {
    fn new(sites: &'a [Site]) -> Field<'a> {
        Field { sites, sorted: Sorted::new(sites.iter().map(|site| site.position.x)) }
    }

    /// The nearest points of a place's side by distance along the surface, nearest first, at most `most`.
    fn nearest(&self, position: DVec3, normal: DVec3, most: usize) -> Vec<(f64, usize)> {
        let mut near: Vec<(f64, usize)> = Vec::with_capacity(most + 1);
        self.sorted.outward(position.x, |i| {
            if let Some(site) = self.sites.get(i).filter(|site| site.normal.dot(normal) >= SAME_SIDE) {
                let half_chord = 0.5 * (site.normal - normal).length();
                let stretch = if half_chord < 1e-4 { 1.0 } else { libm::asin(half_chord.min(1.0)) / half_chord };
                let distance = (site.position - position).length() * stretch;
                let at = near.partition_point(|(other, j)| (*other, *j) < (distance, i));
                if at < most {
                    near.insert(at, (distance, i));
                    near.truncate(most);
                }
            }
            if near.len() < most { f64::INFINITY } else { near.last().map_or(f64::INFINITY, |(distance, _)| *distance) }
        });
        near
    }

    fn feed(&self, facets: &[Facet]) -> Vec<Fed> {
        let spacing: Vec<f64> = (self.sites.iter())
            .map(|site| self.nearest(site.position, site.normal, 5).last().map_or(0.0, |(distance, _)| *distance))
            .collect();
        facets.iter().map(|facet| self.fed(facet, &spacing)).collect()
    }

    fn fed(&self, facet: &Facet, spacing: &[f64]) -> Fed {
        let near = self.nearest(facet.centre, facet.normal, NEAREST);
        let Some((closest, first)) = near.first().copied() else { return Fed::default() };
        let spacing = spacing.get(first).copied().unwrap_or(0.0).max(1e-9);
        // Along the surface: in the tile's plane, stretched to the distance.
        let (along, across) = super::curvature::frame(facet.normal);
        let ways: Vec<[f64; 2]> = (near.iter())
            .map(|(distance, i)| {
                let way = self.sites.get(*i).map_or(DVec3::ZERO, |site| site.position - facet.centre);
                let (u, v) = (way.dot(along), way.dot(across));
                let length = (u * u + v * v).sqrt();
                let stretch = if length > 1e-12 { distance / length } else { 0.0 };
                [u * stretch, v * stretch]
            })
            .collect();
        let reach = closest / spacing;
        let cover = if surrounded(&ways) { smooth((4.0 - reach) / 2.0) } else { smooth(1.5 - reach) };
        if cover <= 0.0 {
            return Fed::default();
        }
        if closest <= 1e-7 * spacing {
            return Fed { from: vec![(first, 1.0)], cover };
        }
        let coefficients = plane(&ways, closest);
        Fed { from: near.iter().map(|(_, i)| *i).zip(coefficients).collect(), cover }
    }
}

fn smooth(t: f64) -> f64 {
    let t = t.clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

/// Whether no gap of half a turn stands between the directions.
fn surrounded(ways: &[[f64; 2]]) -> bool {
    let mut angles: Vec<f64> = ways.iter().map(|[u, v]| libm::atan2(*v, *u)).collect();
    angles.sort_by(f64::total_cmp);
    let (Some(first), Some(last)) = (angles.first(), angles.last()) else { return false };
    let around = first + std::f64::consts::TAU - last;
    angles.windows(2).map(|pair| pair[1] - pair[0]).fold(around, f64::max) < std::f64::consts::PI - 1e-6
}

/// Coefficients of a plane's value at the origin, by least squares with weights 1 / distance^4; a weighted mean where the points lie on a line.
fn plane(ways: &[[f64; 2]], closest: f64) -> Vec<f64> {
    let scaled: Vec<(f64, [f64; 3])> = (ways.iter())
        .map(|[u, v]| {
            let (u, v) = (u / closest, v / closest);
            let square = (u * u + v * v).max(1e-12);
            (1.0 / (square * square), [1.0, u, v])
        })
        .collect();
    let mut m = [[0.0; 3]; 3];
    for (weight, basis) in &scaled {
        for i in 0..3 {
            for j in 0..3 {
                m[i][j] += weight * basis[i] * basis[j];
            }
        }
    }
    let minor = |a: usize, b: usize, c: usize, d: usize| m[a][b] * m[c][d] - m[a][d] * m[c][b];
    let cofactor = [minor(1, 1, 2, 2), minor(1, 2, 2, 0), minor(1, 0, 2, 1)];
    let determinant = m[0][0] * cofactor[0] + m[0][1] * cofactor[1] + m[0][2] * cofactor[2];
    let size = m[0][0] * m[1][1] * m[2][2];
    if determinant > 1e-6 * size {
        // The first row of the inverse; the matrix is symmetric.
        let row = cofactor.map(|c| c / determinant);
        return scaled.iter().map(|(weight, basis)| weight * (row[0] * basis[0] + row[1] * basis[1] + row[2] * basis[2])).collect();
    }
    let sum: f64 = scaled.iter().map(|(weight, _)| weight).sum();
    scaled.iter().map(|(weight, _)| weight / sum).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// A square plate of 40 x 40 tiles at height `z`, its normals up or down.
    fn plate(z: f64, normal: f64) -> Vec<Facet> {
        let at = |i: usize| DVec3::new((i % 40) as f64 * 0.1, (i / 40) as f64 * 0.1, z);
        (0..1600).map(|i| Facet { centre: at(i), normal: DVec3::Z * normal, area_m2: 0.01, ..Facet::default() }).collect()
    }

    /// A foreign grid over x 0.5 to 3.5, y 1 to 3, off the tiles' and uneven.
    fn foreign(z: f64, state: [f64; 3], turbulent: bool, factor: impl Fn(f64, f64) -> f64) -> Vec<Row> {
        let mut rows = Vec::new();
        for i in 0..16 {
            for j in 0..9 {
                let wobble = 0.02 * (((i * 7 + j * 5) % 11) as f64 / 11.0 - 0.5);
                let (x, y) = (0.5 + 0.2 * i as f64 + wobble, 1.0 + 0.25 * j as f64 - wobble);
                let [angle_of_attack_deg, sideslip_deg, mach] = state;
                rows.push(Row { position: DVec3::new(x, y, z), angle_of_attack_deg, sideslip_deg, mach, turbulent, factor: factor(x, y) });
            }
        }
        rows
    }

    fn lane(value: f64x4) -> f64 {
        value.to_array()[0]
    }

    /// What counts for a tile over an own laminar factor of 1 and a turbulent one of 3 at an intermittency.
    fn counted(points: &Points, tile: usize, state: [f64; 3], intermittency: f64) -> f64 {
        let at = points.at(state[0], state[1], state[2], points.reference_radius_m);
        let Some(lanes) = points.lanes([tile; 4]) else { return 1.0 + 2.0 * intermittency };
        let own = 1.0 + 2.0 * intermittency;
        lane(at.apply(&lanes, f64x4::splat(1.0), f64x4::splat(own * own * own * own), f64x4::splat(intermittency)).sqrt().sqrt())
    }

    const STATE: [f64; 3] = [40.0, 0.0, 20.0];

    #[test]
    fn verif_linear_fields_are_exact() {
        let facets = plate(0.0, -1.0);
        let field = |x: f64, y: f64| 0.2 + 0.1 * x - 0.05 * y;
        let points = Points::new(&facets, &foreign(0.0, STATE, false, field), 1.0).unwrap();
        let (mut inside, mut rim) = (0, 0);
        for (tile, facet) in facets.iter().enumerate() {
            let (x, y) = (facet.centre.x, facet.centre.y);
            let cover = points.cover(tile);
            let deep = (0.75..3.25).contains(&x) && (1.3..2.7).contains(&y);
            let far = x < 0.1 || x > 3.9 || y < 0.5 || y > 3.5;
            assert!(!deep || cover == 1.0, "{x} {y}: {cover}");
            assert!(!far || cover == 0.0, "{x} {y}: {cover}");
            rim += usize::from(cover > 0.0 && cover < 1.0);
            if deep {
                inside += 1;
                let got = counted(&points, tile, STATE, 0.0);
                assert!((got / field(x, y) - 1.0).abs() < 1e-9, "{x} {y}: {got}");
            }
            if cover == 0.0 {
                assert_eq!(counted(&points, tile, STATE, 0.0), 1.0);
            }
        }
        assert!(inside > 300 && rim > 40, "{inside} {rim}");
    }

    /// Belly and lid of a wing 4 cm thick: points on the belly never reach the lid, also where the belly's rim is not covered.
    #[test]
    fn verif_points_stay_on_their_side() {
        let mut facets = plate(0.0, -1.0);
        facets.extend(plate(0.04, 1.0));
        let points = Points::new(&facets, &foreign(0.002, STATE, false, |_, _| 0.5), 1.0).unwrap();
        assert!((1600..3200).all(|tile| points.cover(tile) == 0.0));
        assert!((0..1600).filter(|tile| points.cover(*tile) == 1.0).count() > 500);
    }

    /// Linear between states, held and told outside.
    #[test]
    fn verif_between_states_and_held_at_the_ends() {
        let facets = plate(0.0, -1.0);
        let mut rows = Vec::new();
        for (attack, mach, factor) in [(30.0, 10.0, 0.2), (30.0, 20.0, 0.4), (40.0, 10.0, 0.6), (40.0, 20.0, 1.2)] {
            rows.extend(foreign(0.0, [attack, 0.0, mach], false, |_, _| factor));
        }
        let points = Points::new(&facets, &rows, 1.0).unwrap();
        let tile = 20 * 40 + 20;
        for (attack, mach, want) in [
            (30.0, 10.0, 0.2),
            (40.0, 20.0, 1.2),
            (35.0, 10.0, 0.4),
            (30.0, 15.0, 0.3),
            (35.0, 15.0, 0.6),
            (50.0, 25.0, 1.2),
            (10.0, 3.0, 0.2),
        ] {
            let got = counted(&points, tile, [attack, 0.0, mach], 0.0);
            assert!((got - want).abs() < 1e-12, "{attack} {mach}: {got} for {want}");
        }
        assert_eq!(points.outside(50.0, 0.0, 15.0), [true, false, false]);
        assert_eq!(points.outside(35.0, 2.0, 25.0), [false, true, true]);
        assert_eq!(points.ranges(), [(30.0, 40.0), (0.0, 0.0), (10.0, 20.0)]);
        // To a sphere of another radius the same coefficient is another factor.
        let at = points.at(30.0, 0.0, 10.0, 4.0);
        let lanes = points.lanes([tile; 4]).unwrap();
        let four = lane(at.apply(&lanes, f64x4::splat(1.0), f64x4::splat(1.0), f64x4::splat(0.0)).sqrt().sqrt());
        assert!((four - 0.4).abs() < 1e-12, "{four}");
    }

    /// Laminar points alone keep the turbulent ratio, turbulent points alone the laminar factor, both replace both.
    #[test]
    fn verif_regimes() {
        let facets = plate(0.0, -1.0);
        let tile = 20 * 40 + 20;
        let laminar = foreign(0.0, STATE, false, |_, _| 0.5);
        let turbulent = foreign(0.0, STATE, true, |_, _| 2.0);
        let both: Vec<Row> = laminar.iter().chain(&turbulent).copied().collect();
        for (rows, at_0, at_half, at_1) in [(laminar, 0.5, 1.0, 1.5), (turbulent, 1.0, 1.5, 2.0), (both, 0.5, 1.25, 2.0)] {
            let points = Points::new(&facets, &rows, 1.0).unwrap();
            for (intermittency, want) in [(0.0, at_0), (0.5, at_half), (1.0, at_1)] {
                let got = counted(&points, tile, STATE, intermittency);
                assert!((got - want).abs() < 1e-9, "{intermittency}: {got} for {want}");
            }
        }
        assert!(Points::new(&facets, &[], 1.0).is_none() && Points::new(&[], &foreign(0.0, STATE, false, |_, _| 1.0), 1.0).is_none());
    }

    proptest! {
        /// Whatever the points, a covered tile stays within them, nothing is NaN, and the order of rows decides nothing.
        #[test]
        fn verif_any_points_stay_within_their_values(
            sites in prop::collection::vec((-1.0..5.0_f64, -1.0..5.0_f64, -0.1..0.1_f64, 0.0..3.0_f64), 3..40), turn in 0usize..40) {
            let facets = plate(0.0, -1.0);
            let row = |(x, y, z, factor): &(f64, f64, f64, f64)| Row {
                position: DVec3::new(*x, *y, *z), angle_of_attack_deg: 40.0, sideslip_deg: 0.0, mach: 20.0, turbulent: false, factor: *factor };
            let rows: Vec<Row> = sites.iter().map(row).collect();
            let mut turned = rows.clone();
            turned.rotate_left(turn % rows.len());
            let (points, again) = (Points::new(&facets, &rows, 1.0).unwrap(), Points::new(&facets, &turned, 1.0).unwrap());
            let (low, high) = rows.iter().fold((f64::INFINITY, 0.0_f64), |(low, high), row| (low.min(row.factor), high.max(row.factor)));
            for tile in (0..facets.len()).step_by(23) {
                let cover = points.cover(tile);
                prop_assert!((0.0..=1.0).contains(&cover));
                let got = counted(&points, tile, STATE, 0.0);
                let (least, most) = (cover * low + 1.0 - cover, cover * high + 1.0 - cover);
                prop_assert!(got >= least - 1e-9 && got <= most + 1e-9, "{got} beyond {least} to {most}");
                prop_assert!((got - counted(&again, tile, STATE, 0.0)).abs() < 1e-6);
            }
        }
    }
}
