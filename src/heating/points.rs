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
use crate::document::Sorting as _;
use glam::DVec3;
use wide::{CmpGt, f64x4};

mod lay;
#[cfg(test)]
mod tests;

use lay::{Fed, Field, Site, sides};

/// Corners of a cell of states.
const CORNERS: usize = 8;

/// One row of body_points.csv: a ratio of heat-transfer coefficients to the reference, at a point of the body and a flight condition.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BodyPoint {
    pub position: DVec3,
    pub angle_of_attack_deg: f64,
    pub sideslip_deg: f64,
    pub mach: f64,
    /// Whether the row stands for turbulent flow; laminar otherwise.
    pub turbulent: bool,
    pub factor: f64,
    /// Radius of the sphere whose stagnation point is the reference; the same in all rows.
    pub reference_radius_m: f64,
}

impl BodyPoint {
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
    pub fn new(facets: &[Facet], rows: &[BodyPoint]) -> Option<Points> {
        let reference_radius_m = rows.first().filter(|_| !facets.is_empty())?.reference_radius_m;
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
    fn new(facets: &[Facet], rows: &[BodyPoint], normals: &[DVec3], turbulent: bool) -> Option<Grid> {
        let own: Vec<usize> = rows.iter().enumerate().filter(|(_, row)| row.turbulent == turbulent).map(|(i, _)| i).collect();
        if own.is_empty() {
            return None;
        }
        let mut axes: [Vec<f64>; 3] =
            std::array::from_fn(|axis| own.iter().filter_map(|i| rows.get(*i)).map(|row| row.state()[axis]).collect());
        for axis in &mut axes {
            axis.order_by(f64::total_cmp);
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
