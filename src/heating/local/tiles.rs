//! The tiles of a vehicle as the local heating reads them: four side by side, with the sites that may trip the boundary layer.

use super::{Heating, LANES, Moment};
use crate::heating::catalysis::{Rate, Rates};
use crate::heating::control::{Hinge, Turning};
use crate::heating::gap::{self, Gaps, OwnFactors};
use crate::heating::place::{self, ANGLES, Attitude, Body, Place, SPHERE_OVER_CYLINDER};
use crate::heating::points::{Lanes, Points};
use crate::heating::wedge::Wedge;
use crate::heating::{Facet, transition};
use glam::DVec3;
use wide::f64x4;

/// What the local heating knows of a tile, after the scenario's changes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Local {
    pub normal: DVec3,
    pub place: Place,
    /// Scale, zone and tile factors together.
    pub multiplier: f64,
    /// Factor of the coating's catalycity where the shock layer is dissociated, 1 for a fully catalytic face.
    pub catalycity: f64,
    /// Step or filler that trips the boundary layer.
    pub roughness_m: f64,
    /// Replaces the surveyed running length.
    pub running_length_m: Option<f64>,
    /// What the tile turns about, where it is part of a control surface.
    pub hinge: Option<Hinge>,
    /// How fast atoms recombine on the face; `None` counts as fully catalytic.
    pub recombination: Option<Rate>,
    /// How far the tile stands proud of the one ahead, m; 0 or less changes nothing.
    pub step_m: f64,
    /// Open gaps ahead of the tile.
    pub gaps: Gaps,
}

/// Four tiles side by side.
#[derive(Debug, Clone)]
pub(super) struct Group {
    pub(super) normal: [f64x4; 3],
    pub(super) edge: [f64x4; 3],
    /// Length of the normal's part across the body's axis.
    pub(super) across: f64x4,
    /// Blunt factor squared per metre of reference radius.
    pub(super) blunt_per_m: f64x4,
    pub(super) roundness: f64x4,
    pub(super) sweep_share: f64x4,
    /// Square of the share of the sharp curvature that is the surface's own.
    pub(super) own_square: f64x4,
    pub(super) multiplier_4: f64x4,
    pub(super) catalytic_saving: f64x4,
    pub(super) roughness_m: f64x4,
    /// Squares, because a running length has a corner at the stagnation point and its square has none.
    pub(super) running_square: [f64x4; ANGLES],
    pub(super) start_radius_m: [f64x4; ANGLES],
    /// The wedges that reach these tiles.
    pub(super) reaches: Vec<Reach>,
    /// Squares of the running length at sideslip to the left and the right, where surveyed.
    pub(super) slipped: Option<Box<[[f64x4; ANGLES]; 2]>>,
    pub(super) turning: Option<Box<Turning>>,
    pub(super) recombining: Option<Box<Rates>>,
    pub(super) joints: Option<Box<Joints>>,
    pub(super) points: Option<Lanes>,
}

/// What steps and gaps do to four tiles, and a user's own factors for either.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Joints {
    step_m: [f64; LANES],
    gaps: [Gaps; LANES],
    own: [Option<OwnFactors>; 2],
}

impl Joints {
    /// `None` where none of the tiles stands proud or behind a gap.
    fn of(locals: &[Local; LANES]) -> Option<Box<Joints>> {
        let counts = |local: &Local| local.step_m > 0.0 || local.gaps.width_m > 0.0;
        let joints = || Joints { step_m: locals.map(|l| l.step_m), gaps: locals.map(|l| l.gaps), own: [None, None] };
        locals.iter().any(counts).then(|| Box::new(joints()))
    }

    /// A tile's heating over that of one flush and closed, in its layer.
    pub(super) fn factor(&self, lane: usize, layer: &gap::Layer) -> f64 {
        let (step_m, gaps) = (self.step_m[lane], &self.gaps[lane]);
        let [own_steps, own_gaps] = &self.own;
        let step = own_steps.as_ref().map_or_else(|| gap::step_factor(step_m, layer), |own| own.factor(step_m, layer));
        let gap = own_gaps.as_ref().map_or_else(|| gaps.factor(layer), |own| own.factor(gaps.width_m, layer));
        step * gap
    }
}

/// Four tiles' place in the wedge of one site, by surveyed angle.
#[derive(Debug, Clone)]
pub(super) struct Reach {
    pub(super) site: u32,
    pub(super) q: [f64x4; ANGLES],
}

/// Four sites that may trip the boundary layer, each on its own tile. Sizes in metres; a threshold's share of a size stands in the products.
#[derive(Debug, Clone)]
pub(super) struct Sites {
    /// `roughness_m` holds the height of what stands proud, else 0.
    pub(super) group: Group,
    /// The size over its threshold of a cavity, and of what stands proud.
    pub(super) cavity: f64x4,
    pub(super) proud: f64x4,
}

/// A site as the local heating reads it: the tile that it lies on, and its sizes.
#[derive(Debug, Clone, PartialEq)]
pub struct Trip {
    pub tile: usize,
    /// Height of what stands proud, m; 0 for a cavity.
    pub height_m: f64,
    /// Size over threshold of (Re_theta / M_e) (size / delta), m.
    pub cavity_m: f64,
    pub proud_m: f64,
    pub wedge: Wedge,
}

/// The tiles of a vehicle as the local heating reads them.
#[derive(Debug, Clone, Default)]
pub struct Surface {
    pub(super) groups: Vec<Group>,
    pub(super) tiles: usize,
    pub(super) sites: Vec<Sites>,
}

impl Surface {
    /// The same tiles with a user's body points laid on them.
    pub fn with_points(mut self, points: Option<&Points>) -> Surface {
        let last = self.tiles.saturating_sub(1);
        for (at, group) in self.groups.iter_mut().enumerate() {
            let tiles = std::array::from_fn(|lane| (at * LANES + lane).min(last));
            group.points = points.and_then(|points| points.lanes(tiles));
        }
        self
    }

    /// The same tiles with a user's own factors for those that stand proud and those behind a gap.
    pub fn with_own(mut self, steps_and_gaps: [Option<&OwnFactors>; 2]) -> Surface {
        for joints in self.groups.iter_mut().filter_map(|group| group.joints.as_mut()) {
            joints.own = steps_and_gaps.map(Option::<&OwnFactors>::cloned);
        }
        self
    }

    /// Lays tiles side by side; `local(i)` gives tile i, the body its running lengths.
    pub fn new(body: &Body, tiles: usize, local: impl Fn(usize) -> Local) -> Surface {
        let groups = (0..tiles.div_ceil(LANES)).map(|group| Group::new(body, group, tiles, &local)).collect();
        Surface { groups, tiles, sites: Vec::new() }
    }

    /// The same with sites whose wedges turn the tiles behind them turbulent, where the transition counts sites. `local` as for `new`.
    pub fn with_sites(mut self, body: &Body, trips: &[Trip], local: impl Fn(usize) -> Local) -> Surface {
        let nowhere = || Trip { tile: 0, height_m: 0.0, cavity_m: 0.0, proud_m: 0.0, wedge: Wedge::default() };
        let lanes = |trips: &[Trip], f: &dyn Fn(&Trip) -> f64| {
            f64x4::from(std::array::from_fn::<f64, LANES, _>(|lane| trips.get(lane).map_or(0.0, f)))
        };
        for four in trips.chunks(LANES) {
            let tile: [usize; LANES] = std::array::from_fn(|lane| four.get(lane).cloned().unwrap_or_else(nowhere).tile);
            let mut group = Group::of(body, tile, &local);
            group.roughness_m = lanes(four, &|trip| trip.height_m);
            let (cavity, proud) = (lanes(four, &|trip| trip.cavity_m), lanes(four, &|trip| trip.proud_m));
            self.sites.push(Sites { group, cavity, proud });
        }
        for (site, trip) in trips.iter().enumerate() {
            for same in trip.wedge.inside.chunk_by(|a, b| a.tile as usize / LANES == b.tile as usize / LANES) {
                let Some(group) = same.first().and_then(|inside| self.groups.get_mut(inside.tile as usize / LANES)) else { continue };
                let mut q = [[-1.0; LANES]; ANGLES];
                for inside in same {
                    for (row, value) in q.iter_mut().zip(inside.q) {
                        if let Some(place) = row.get_mut(inside.tile as usize % LANES) {
                            *place = value;
                        }
                    }
                }
                group.reaches.push(Reach { site: site as u32, q: q.map(f64x4::from) });
            }
        }
        self
    }

    pub fn tiles(&self) -> usize {
        self.tiles
    }

    pub fn groups(&self) -> usize {
        self.groups.len()
    }

    /// The heating of group `group` (tiles 4 group to 4 group + 3) at a moment; `None` past the last.
    #[inline]
    pub fn heating(&self, group: usize, moment: &Moment) -> Option<Heating> {
        self.heating_knowing(group, moment, &[])
    }

    /// The same with the sites' criteria at that moment as [`Surface::site_squares`] gives them, which spares every group behind a site to work them out anew.
    #[inline]
    pub fn heating_knowing(&self, group: usize, moment: &Moment, site_squares: &[f64x4]) -> Option<Heating> {
        let known = site_squares.len() == self.sites.len();
        let sites = if known { Criteria::Known(site_squares) } else { Criteria::Of(&self.sites) };
        self.groups.get(group).map(|group| moment.heating(group, sites))
    }

    /// The criterion of every site over its threshold at a moment, squared, four by four; empty where no site counts. It depends on the sites' places and sizes
    /// alone, not on what multiplies the heating.
    pub fn site_squares(&self, moment: &Moment) -> Vec<f64x4> {
        self.sites.iter().map(|sites| moment.site_square(sites)).collect()
    }
}

/// The sites' criteria over their thresholds at a moment, squared, by four.
#[derive(Clone, Copy)]
pub(super) enum Criteria<'a> {
    Known(&'a [f64x4]),
    Of(&'a [Sites]),
}

impl Criteria<'_> {
    #[inline]
    pub(super) fn squares(&self, moment: &Moment, four: usize) -> [f64; LANES] {
        let squares = match self {
            Criteria::Known(squares) => squares.get(four).copied(),
            Criteria::Of(sites) => sites.get(four).map(|sites| moment.site_square(sites)),
        };
        squares.map_or([0.0; LANES], |squares| squares.to_array())
    }
}

impl Group {
    fn new(body: &Body, group: usize, tiles: usize, local: &impl Fn(usize) -> Local) -> Group {
        // Past the last tile the lanes repeat it.
        Group::of(body, std::array::from_fn(|lane| (group * LANES + lane).min(tiles.saturating_sub(1))), local)
    }

    fn of(body: &Body, index: [usize; LANES], local: &impl Fn(usize) -> Local) -> Group {
        let locals = index.map(local);
        let lanes = |f: &dyn Fn(&Local) -> f64| f64x4::from([f(&locals[0]), f(&locals[1]), f(&locals[2]), f(&locals[3])]);
        let run = |angle: usize, lane: usize| {
            let attitude = body.attitudes.get(angle);
            let surveyed = attitude.and_then(|a| a.running_length_m.get(index[lane])).copied().unwrap_or(1.0);
            let radius = attitude.and_then(|a| a.start_radius_m.get(index[lane])).copied().unwrap_or(1.0);
            (locals[lane].running_length_m.unwrap_or(surveyed), radius)
        };
        let each = |f: &dyn Fn((f64, f64)) -> f64| -> [f64x4; ANGLES] {
            std::array::from_fn(|angle| f64x4::from([f(run(angle, 0)), f(run(angle, 1)), f(run(angle, 2)), f(run(angle, 3))]))
        };
        Group {
            points: None,
            normal: [lanes(&|l| l.normal.x), lanes(&|l| l.normal.y), lanes(&|l| l.normal.z)],
            across: lanes(&|l| (1.0 - l.normal.x * l.normal.x).max(0.0).sqrt()),
            edge: [lanes(&|l| l.place.edge.x), lanes(&|l| l.place.edge.y), lanes(&|l| l.place.edge.z)],
            blunt_per_m: lanes(&|l| l.place.sharp_per_m * (SPHERE_OVER_CYLINDER + (1.0 - SPHERE_OVER_CYLINDER) * l.place.roundness())),
            roundness: lanes(&|l| l.place.roundness()),
            sweep_share: lanes(&|l| (1.0 - l.place.roundness()) * (1.0 - l.place.roundness())),
            own_square: lanes(&|l| l.place.own_share * l.place.own_share),
            multiplier_4: lanes(&|l| {
                let square = l.multiplier * l.multiplier;
                square * square
            }),
            catalytic_saving: lanes(&|l| 1.0 - l.catalycity),
            roughness_m: lanes(&|l| l.roughness_m),
            running_square: each(&|(run, _)| run * run),
            start_radius_m: each(&|(_, radius)| radius),
            reaches: Vec::new(),
            slipped: slipped(body, index, &locals),
            recombining: Rates::new(std::array::from_fn(|lane| locals[lane].recombination)),
            joints: Joints::of(&locals),
            turning: Turning::new(std::array::from_fn(|lane| (locals[lane].hinge, locals[lane].normal, locals[lane].place.edge))),
        }
    }
}

/// A tile as the survey left it, nothing changed.
pub fn as_surveyed(facet: &Facet, place: &Place) -> Local {
    Local {
        normal: facet.normal,
        place: facet.nose_radius_m.map_or(*place, |radius| place::replaced(place, radius)),
        multiplier: 1.0,
        catalycity: 1.0,
        roughness_m: transition::SMOOTH_ROUGHNESS_M,
        running_length_m: facet.running_length_m,
        hinge: None,
        recombination: None,
        step_m: 0.0,
        gaps: Gaps::default(),
    }
}

/// The squares of the running lengths at sideslip; the table's own length stands there too.
fn slipped(body: &Body, index: [usize; LANES], locals: &[Local; LANES]) -> Option<Box<[[f64x4; ANGLES]; 2]>> {
    let [left, right] = &body.slipped;
    if left.is_empty() || right.is_empty() {
        return None;
    }
    let squares = |attitudes: &[Attitude]| -> [f64x4; ANGLES] {
        std::array::from_fn(|angle| {
            let run = |lane: usize| {
                let surveyed = attitudes.get(angle).and_then(|a| a.running_length_m.get(index[lane])).copied().unwrap_or(1.0);
                locals[lane].running_length_m.unwrap_or(surveyed)
            };
            f64x4::from(std::array::from_fn::<f64, LANES, _>(|lane| run(lane) * run(lane)))
        })
    };
    Some(Box::new([squares(left), squares(right)]))
}
