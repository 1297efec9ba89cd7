//! The local factor by geometry: four tiles and one moment in, cold-wall heating, recovery enthalpy, pressure and regime out.
//!
//! Every factor is a ratio of heat-transfer coefficients to the stream's reference sphere. In order:
//!
//! 1. Inclination m = -n . wind; pressure p = p_inf + (p_0 - p_inf) x share, modified Newtonian on the windward side and expanding around the flanks
//!    (`expansion`).
//! 2. Blunt part B: stagnation heating of a sphere of the tile's sharp radius, times (S + (1 - S) k)^(1/2) between a cylinder (S, Fay and
//!    Riddell's 0.570 / 0.763 squared) and a sphere by the roundness k, times Lees' falling-off from its stagnation point or line (`blunt`). A surface
//!    less curved one way is swept: the square takes the pressure on the line, cos of the sweep for the velocity gradient, rho* mu* at the reference
//!    enthalpy of the speed along the edge, and cos^-1/2 for the fuller layer of a line whose flow across has less than the total enthalpy. That comes
//!    to cos^1.1 in the coefficient, as exact solutions for a cold wall at large Mach numbers do (Reshotko and Beckwith, NACA Report 1379
//!    (1958); NASA TR R-104; from memory; measured exponents lie between 1.0 and 1.5). Sweep counts by (1 - k)^2.
//! 3. Plate part P: laminar flat plate 0.332 Re*^-1/2 Pr^-2/3 with Eckert's reference enthalpy, edge speed V sqrt(1 - m^2) (the part of the stream
//!    along the face passes an oblique shock unchanged), running length from where the flow attaches. It fades in downstream of the nose or edge where
//!    the run starts: on a sphere of that radius it is 0, weight ((0.8 - y) / 0.8)^2 with y the square of (radius x angle / run), both squares
//!    enlarged by (radius / 20)^2 so that the stagnation point itself counts as nose.
//! 4. Together the root of B^2 + P^2 + C: a boundary layer that thins by outflow. It is the axisymmetric analogue (Cooke, ARC R&M 3200, 1959) for outflow
//!    that widens the streamtube by a power of the run. N = B^2 / (x P^2), x what it is on a sharp cone (without the cos^-1/2), counts lengths of run over which the
//!    tube widens: small on a plate, large on an edge, 1 on a cone, where Mangler's theorem asks for B^2 + C = 2 P^2. C = (2 N P^2 - B^2) x 4 / (3 + N^2) makes
//!    it so there and fades both ways; only curvature of the surface's own counts, not a flat face's. Cones of 10 to 40 degrees then stand
//!    within 0.5 % of Mangler's (`val_sharp_cone`).
//! 5. Turbulent: 0.0296 Re*^-1/5 Pr^-2/3 on the same run, joined to the laminar part by the fourth root of the sum of fourth powers; mixed in by the
//!    intermittency of `transition`. A swept edge has a turbulent line of its own (`Moment::attachment_line`); a blunt nose stays laminar.
//! 6. Lee side: the stated fraction of the reference, joined the same way, so that no face is below it.
//!
//! Where a user's body points cover, they take the place of 1 to 6 in the factor (`points`).
//!
//! 7. Multipliers: the scenario's scale, zone and tile; catalycity, by dissociation and not where turbulent; a proud step (`gap`); recombination by coating
//!    where chosen (`catalysis`). A deflected tile turns first, and behind its corner P follows the pressure ratio (`control`).
//! 8. Cap: half rho V^3 times the inclination (not below the lee fraction), joined as 1 / (1 / q^4 + 1 / cap^4)^(1/4).
//!
//! The recovery enthalpy is H - (1 - r) u^2 / 2, r = Pr^(1/2) laminar and Pr^(1/3) turbulent, u that of the plate or, on the blunt part, the
//! speed along a swept edge and the isentropic expansion (exponent 8/7) around it.
//!
//! Only + - * / and square roots, in lanes that do not know of each other.

use super::catalysis::{Rate, Rates};
use super::control::{self, Deflections, Hinge, Turning};
use super::gap;
use super::place::{self, ANGLES, Attitude, Body, Place, SPHERE_OVER_CYLINDER};
use super::points::{At, Lanes, Points};
use super::reference::PRANDTL;
use super::stream::{Fit, Stream};
use super::transition::{BLASIUS_WALL, Onset, intermittency, thickness_ratio};
use super::wedge::{self, Wedge};
use super::{Choices, Transition, blunt, expansion};
use glam::DVec3;
use wide::{CmpGt, f64x4};

/// Square of a sharp cone's laminar heating over a plate's, less 1 (Mangler, Z. angew. Math. Mech. 28 (1948)): what outflow adds.
const MANGLER: f64 = 2.0;

/// Poll's Reynolds number of a swept edge's attachment line from which it is turbulent behind disturbances.
pub const ATTACHMENT_LINE_ONSET: f64 = 245.0;

/// Tiles per group.
pub const LANES: usize = 4;

/// Laminar Stanton number, 0.332 Re*^-1/2 Pr^-2/3 (Eckert, J. Aero. Sci. 22 (1955); Blasius). Range: Re* up to about 1e6.
pub fn stanton_laminar(reynolds: f64) -> f64 {
    0.332 / reynolds.sqrt() * libm::pow(PRANDTL, -2.0 / 3.0)
}

/// Turbulent Stanton number, 0.0296 Re*^-1/5 Pr^-2/3 (Eckert, 1955; fifth-power law, from memory). Range: Re* 1e5 to 1e7.
pub fn stanton_turbulent(reynolds: f64) -> f64 {
    0.0296 * libm::pow(reynolds, -0.2) * libm::pow(PRANDTL, -2.0 / 3.0)
}

/// Modified-Newtonian pressure coefficient of a face inclined at `angle_rad` to the stream (Lees): `cp_max` sin^2.
pub fn modified_newtonian(cp_max: f64, angle_rad: f64) -> f64 {
    let sin = libm::sin(angle_rad).max(0.0);
    cp_max * sin * sin
}

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
}

/// Four tiles side by side.
#[derive(Debug, Clone)]
struct Group {
    normal: [f64x4; 3],
    edge: [f64x4; 3],
    /// Length of the normal's part across the body's axis.
    across: f64x4,
    /// Blunt factor squared per metre of reference radius.
    blunt_per_m: f64x4,
    roundness: f64x4,
    sweep_share: f64x4,
    /// Square of the share of the sharp curvature that is the surface's own.
    own_square: f64x4,
    multiplier_4: f64x4,
    catalytic_saving: f64x4,
    roughness_m: f64x4,
    /// Squares, because a running length has a corner at the stagnation point and its square has none.
    running_square: [f64x4; ANGLES],
    start_radius_m: [f64x4; ANGLES],
    /// The wedges that reach these tiles.
    reaches: Vec<Reach>,
    /// Squares of the running length at sideslip to the left and the right, where surveyed.
    slipped: Option<Box<[[f64x4; ANGLES]; 2]>>,
    turning: Option<Box<Turning>>,
    recombining: Option<Box<Rates>>,
    steps: Option<Box<Steps>>,
    points: Option<Lanes>,
}

/// Proud tiles, m, and a user's own factors for them.
#[derive(Debug, Clone, PartialEq)]
struct Steps {
    step_m: [f64; LANES],
    own: Option<gap::StepTable>,
}

/// Four tiles' place in the wedge of one site, by surveyed angle.
#[derive(Debug, Clone)]
struct Reach {
    site: u32,
    q: [f64x4; ANGLES],
}

/// Four sites that may trip the boundary layer, each on its own tile. Sizes in metres; a threshold's share of a size stands in the products.
#[derive(Debug, Clone)]
struct Sites {
    /// `roughness_m` holds the height of what stands proud, else 0.
    group: Group,
    /// The size over its threshold of a cavity, and of what stands proud.
    cavity: f64x4,
    proud: f64x4,
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

/// What the boundary layer of four tiles is made of: steps 1 to 4.
#[derive(Debug, Clone, Copy)]
struct Layer {
    facing_square: f64x4,
    pressure: f64x4,
    unswept: f64x4,
    root: f64x4,
    c: f64x4,
    swept_viscosity: f64x4,
    falling: f64x4,
    /// Of the free stream's kinetic energy, at the edge.
    share: f64x4,
    /// Edge speed over the stream's.
    along_speed: f64x4,
    run: f64x4,
    fade: f64x4,
    /// What a control surface's corner adds to the square of the laminar plate part.
    corner: f64x4,
    /// rho* mu*.
    density_viscosity: f64x4,
    plate_square: f64x4,
    laminar_square: f64x4,
}

impl Layer {
    /// The run that outflow leaves.
    #[inline]
    fn left(&self) -> f64x4 {
        self.run * self.plate_square / self.laminar_square.fast_max(splat(1e-300))
    }

    /// 0 on a blunt nose, where no criterion holds, and within 1 % of 1 where the plate part has come to 70 %.
    #[inline]
    fn off_nose(&self) -> f64x4 {
        let lack = splat(1.0) - self.fade;
        let square = lack * lack;
        splat(1.0) - square * square
    }
}

/// Four boundary layers' edges, laminar.
struct Edge {
    mach: f64x4,
    re_theta: f64x4,
    theta_m: f64x4,
    delta_m: f64x4,
}

/// The tiles of a vehicle as the local heating reads them.
#[derive(Debug, Clone, Default)]
pub struct Surface {
    groups: Vec<Group>,
    tiles: usize,
    sites: Vec<Sites>,
}

/// One moment as the local heating reads it: a stream on a body under the scenario's choices.
#[derive(Debug, Clone, Copy)]
pub struct Moment {
    wind: [f64; 3],
    /// Length of the wind's part across the body's axis.
    crosswind: f64,
    first: usize,
    weights: [f64; 4],
    /// Of the survey at sideslip to the left, at none, to the right.
    slip: [f64; 3],
    deflections: Deflections,
    least_run_m: f64,
    /// 1 / (1.4 Mach^2), at most 1 / 1.4.
    lees: f64,
    reference_radius_m: f64,
    pressure_pa: f64,
    stagnation_pressure_pa: f64,
    dynamic_pressure_pa: f64,
    /// (coefficient of a plate over the reference's)^2 = this x p u / (V s) x density_viscosity.
    plate: f64,
    density_viscosity: Fit,
    /// 1 / rho* mu* of an edge at rest, per Pa.
    per_still: f64,
    /// Free-stream pressure over stagnation pressure.
    free_share: f64,
    /// 1 / the outflow of a sharp cone by the blunt part, over its plate part.
    per_cone: f64,
    /// Velocity gradient times radius, over speed.
    gradient: f64,
    reynolds: Fit,
    sound_over_viscosity: Fit,
    mach_length: Fit,
    edge_viscosity: Fit,
    wall_j_kg: f64,
    speed_m_s: f64,
    lee_fraction: f64,
    lee_4: f64,
    cap: f64,
    reference_w_m2: f64,
    total_j_kg: f64,
    kinetic_j_kg: f64,
    dissociation: f64,
    dissociated_share: f64,
    onset: Onset,
    /// Share of the attachment lines' own intermittency that the transition allows.
    edge_share: f64,
    points: At,
}

/// Four tiles' answer.
#[derive(Debug, Clone, Copy)]
pub struct Heating {
    /// Cold wall: coefficient times recovery enthalpy.
    pub cold_wall_w_m2: f64x4,
    pub recovery_j_kg: f64x4,
    pub pressure_pa: f64x4,
    /// 0 laminar to 1 turbulent.
    pub intermittency: f64x4,
    /// Transition criterion over its limit, squared; 0 where the criterion is not local.
    pub onset_square: f64x4,
    /// Heating over what it would be without the cap, to the fourth power.
    pub uncapped_4: f64x4,
}

fn splat(value: f64) -> f64x4 {
    f64x4::splat(value)
}

fn fit(fit: &Fit, share: f64x4) -> f64x4 {
    splat(fit.0[0]) + share * (splat(fit.0[1]) + share * splat(fit.0[2]))
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

    /// The same tiles with a user's own factors for those that stand proud.
    pub fn with_steps(mut self, own: Option<&gap::StepTable>) -> Surface {
        for steps in self.groups.iter_mut().filter_map(|group| group.steps.as_mut()) {
            steps.own = own.cloned();
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
        self.groups.get(group).map(|group| moment.heating(group, &self.sites))
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
            steps: locals.iter().any(|l| l.step_m > 0.0).then(|| Box::new(Steps { step_m: locals.map(|l| l.step_m), own: None })),
            turning: Turning::new(std::array::from_fn(|lane| (locals[lane].hinge, locals[lane].normal, locals[lane].place.edge))),
        }
    }
}

impl Moment {
    /// The same moment on a surface with body points.
    pub fn with_points(mut self, points: Option<&Points>, stream: &Stream) -> Moment {
        if let Some(points) = points {
            self.points = points.at(stream.angle_of_attack_deg, stream.sideslip_deg, stream.mach, stream.reference_radius_m);
        }
        self
    }

    pub fn new(stream: &Stream, body: &Body, choices: &Choices, transition: &Transition) -> Moment {
        let (first, weights) = Body::weights(stream.angle_of_attack_deg);
        let reference = stream.reference_heating_w_m2;
        let mach = stream.mach.max(1.0);
        // Laminar: 0.332 Pr^-2/3 sqrt(rho* mu* u / s) over reference / total enthalpy.
        let plate = if reference > 0.0 {
            let over = 0.332 * libm::pow(PRANDTL, -2.0 / 3.0) * stream.total_enthalpy_j_kg / reference;
            over * over * stream.speed_m_s
        } else {
            0.0
        };
        let still = stream.density_viscosity.at(0.0);
        // A cone's outflow by the blunt part over its plate part: the same at every half-angle.
        let cone = SPHERE_OVER_CYLINDER * stream.reference_radius_m / (still * plate * stream.stagnation_pressure_pa).max(1e-300);
        let lee_square = choices.lee_fraction * choices.lee_fraction;
        let onset = Onset::at(transition, &choices.thresholds, stream.time_s, stream.mach);
        Moment {
            points: At::default(),
            wind: stream.wind.to_array(),
            crosswind: (stream.wind.y * stream.wind.y + stream.wind.z * stream.wind.z).sqrt(),
            first,
            weights,
            slip: Body::slip_weights(stream.sideslip_deg),
            deflections: Deflections::default(),
            least_run_m: 1e-4 * body.length_m,
            lees: 1.0 / (1.4 * mach * mach),
            reference_radius_m: stream.reference_radius_m,
            pressure_pa: stream.pressure_pa,
            stagnation_pressure_pa: stream.stagnation_pressure_pa,
            dynamic_pressure_pa: 0.5 * stream.density_kg_m3 * stream.speed_m_s * stream.speed_m_s,
            plate,
            density_viscosity: stream.density_viscosity,
            free_share: stream.pressure_pa / stream.stagnation_pressure_pa.max(1e-300),
            per_still: if still > 0.0 { 1.0 / still } else { 0.0 },
            per_cone: 1.0 / cone,
            gradient: stream.gradient_m_s / stream.speed_m_s.max(1.0),
            reynolds: stream.reynolds,
            sound_over_viscosity: stream.sound_over_viscosity,
            mach_length: stream.mach_length,
            edge_viscosity: stream.edge_viscosity,
            wall_j_kg: stream.reference_wall_j_kg(),
            speed_m_s: stream.speed_m_s,
            lee_fraction: choices.lee_fraction,
            lee_4: lee_square * lee_square,
            cap: if reference > 0.0 { stream.energy_flux_w_m2() / reference } else { 0.0 },
            reference_w_m2: reference,
            total_j_kg: stream.total_enthalpy_j_kg,
            kinetic_j_kg: 0.5 * stream.speed_m_s * stream.speed_m_s,
            dissociation: stream.dissociation,
            dissociated_share: stream.dissociated_share,
            onset,
            edge_share: if let Onset::Everywhere(share) = onset { share } else { 1.0 },
        }
    }

    /// The same moment with control surfaces deflected, degrees by [`Hinge::surface`].
    pub fn deflected(self, degrees: &[f64]) -> Moment {
        Moment { deflections: Deflections::of(degrees), ..self }
    }

    /// Steps 1 to 4: the edge of the boundary layer and the laminar factor.
    #[inline]
    fn layer(&self, tile: &Group) -> Layer {
        let (zero, one) = (splat(0.0), splat(1.0));
        let [wx, wy, wz] = self.wind.map(splat);
        let turned = match &tile.turning {
            Some(turning) if self.deflections.any => Some(turning.turned(&tile.normal, &tile.edge, &self.deflections)),
            _ => None,
        };
        let (normal, edge) = turned.as_ref().map_or((&tile.normal, &tile.edge), |(normal, edge)| (normal, edge));
        let inclination = zero - (normal[0] * wx + normal[2] * wz + normal[1] * wy);
        let facing = inclination.fast_max(zero).fast_min(one);
        let facing_square = facing * facing;

        // 1. Pressure.
        let across = if turned.is_some() { (one - normal[0] * normal[0]).fast_max(zero).sqrt() } else { tile.across };
        let most = across * splat(self.crosswind) - normal[0] * wx;
        let free = splat(self.pressure_pa);
        let pressure = free + splat(self.stagnation_pressure_pa - self.pressure_pa) * expansion::share(inclination, facing_square, most);

        // 2. Blunt part, squared.
        let along = edge[0] * wx + edge[2] * wz + edge[1] * wy;
        let unswept = (one - tile.sweep_share * along * along).fast_max(facing_square).fast_max(splat(1e-12));
        let root = unswept.sqrt();
        let c = (facing / root).fast_min(one);
        let swept_viscosity = fit(&self.density_viscosity, one - unswept);
        let line_share = splat(self.free_share) + splat(1.0 - self.free_share) * unswept;
        let richer = root.sqrt();
        let sweep = line_share * richer * swept_viscosity * splat(self.per_still);
        let falling = blunt::square(c, tile.roundness, self.lees);
        let blunt_square = tile.blunt_per_m * splat(self.reference_radius_m) * sweep * falling;

        // 3. Plate part, squared.
        let (run_square, radius) = self.run(tile);
        let run = run_square.sqrt();
        // Behind a corner the layer is the one that arrived there.
        let (arrived, corner) = if turned.is_some() { self.corner(tile, pressure) } else { (facing, one) };
        let share = one - arrived * arrived;
        let along_speed = share.sqrt();
        let radius_square = radius * radius;
        let nose = splat(1.0 / 400.0) * radius_square;
        let near = (radius_square * blunt::angle_square(arrived) + nose) / (run_square + nose);
        let lack = (splat(0.8) - near).fast_max(zero) * splat(1.0 / 0.8);
        let fade = lack * lack;
        let density_viscosity = fit(&self.density_viscosity, share) * pressure;
        let plate_square = splat(self.plate) * density_viscosity * along_speed / run * fade * fade * corner;

        // 4. Together.
        let outflow = blunt_square * richer * splat(self.per_cone);
        let plate_4 = plate_square * plate_square;
        let cone = splat(4.0) * plate_4 / (splat(3.0) * plate_4 + outflow * outflow).fast_max(splat(1e-300));
        let laminar_square = blunt_square + plate_square + tile.own_square * (splat(MANGLER) * outflow - blunt_square) * cone;
        Layer {
            facing_square,
            pressure,
            unswept,
            root,
            c,
            swept_viscosity,
            falling,
            share,
            along_speed,
            run,
            fade,
            corner,
            density_viscosity,
            plate_square,
            laminar_square,
        }
    }

    #[inline]
    fn heating(&self, tile: &Group, sites: &[Sites]) -> Heating {
        let (zero, one) = (splat(0.0), splat(1.0));
        let layer = self.layer(tile);
        let Layer { facing_square, pressure, unswept, root, c, swept_viscosity, falling, share, along_speed, run, fade, .. } = layer;
        let Layer { corner, density_viscosity, plate_square, laminar_square, .. } = layer;

        // 5. and 6.
        let laminar_4 = laminar_square * laminar_square + splat(self.lee_4);
        let mut factor_4 = laminar_4;
        let mut turbulence = zero;
        let mut onset_square = zero;
        if !self.onset.is_never() {
            onset_square = self.onset_square(tile.roughness_m, &layer);
            turbulence = self.intermittency(onset_square);
            if !tile.reaches.is_empty() && self.onset.has_sites() {
                let (wedge, square) = self.wedges(tile, sites);
                turbulence = turbulence.fast_max(wedge);
                onset_square = onset_square.fast_max(square);
            }
            // A swept edge's own line, where the plate's run has not yet begun.
            let ahead = (splat(0.5) - fade).fast_max(zero) * splat(2.0);
            let edge_share = tile.sweep_share * ahead * splat(self.edge_share);
            let (line, line_reynolds, rate) =
                if edge_share.cmp_gt(zero).any() { self.attachment_line(tile, unswept, root, edge_share) } else { (zero, one, one) };
            let has_line = line.cmp_gt(zero).any();
            if has_line || turbulence.cmp_gt(zero).any() {
                let reynolds = pressure * splat(self.speed_m_s) * along_speed * run * fit(&self.reynolds, share);
                let gain = turbulent_over_laminar(reynolds);
                // The corner raises the laminar square by its root's fourth power of the turbulent.
                let turbulent_square = plate_square / corner * corner.sqrt().sqrt() * gain * gain;
                let laminar = laminar_4.sqrt().sqrt();
                let turbulent = (laminar_4 + turbulent_square * turbulent_square).sqrt().sqrt();
                let mut mixed = laminar + turbulence * (turbulent - laminar);
                if has_line {
                    let gain = turbulent_over_laminar(line_reynolds);
                    let on_line = splat(self.pressure_pa) + splat(self.stagnation_pressure_pa - self.pressure_pa) * unswept;
                    let line_square = splat(self.plate) * swept_viscosity * on_line * rate * falling * gain * gain;
                    let turbulent = (laminar_4 + line_square * line_square).sqrt().sqrt();
                    mixed += line * (turbulent - laminar);
                    turbulence = turbulence.fast_max(line);
                }
                let square = mixed * mixed;
                factor_4 = turbulence.cmp_gt(zero).blend(square * square, laminar_4);
            }
        }

        // A user's body points, where they cover.
        if let Some(points) = &tile.points {
            factor_4 = self.points.apply(points, laminar_4, factor_4, turbulence);
        }

        // 7. Multipliers.
        let saved = one - tile.catalytic_saving * splat(self.dissociation) * (one - turbulence);
        let saved_square = saved * saved;
        let mut continuum_4 = factor_4 * tile.multiplier_4 * saved_square * saved_square;
        if let Some(steps) = &tile.steps {
            let raised = self.stepped(steps, share, pressure, density_viscosity, along_speed, run, turbulence);
            continuum_4 = continuum_4 * raised * raised * (raised * raised);
        }

        // Recovery.
        let around = splat(1.0 - self.lees) * c * c + splat(self.lees);
        let expanded = one - around.sqrt().sqrt().sqrt();
        let blunt_share = (one - unswept) + unswept * expanded;
        let kept = blunt_share + fade * (share - blunt_share);
        let lost = splat(1.0 - PRANDTL.sqrt()) - turbulence * splat(TURBULENT_RECOVERY - PRANDTL.sqrt());
        let recovery = splat(self.total_j_kg) - lost * kept * splat(self.kinetic_j_kg);

        if let Some(rates) = &tile.recombining {
            let coefficient = continuum_4.sqrt().sqrt() * splat(self.reference_w_m2 / self.total_j_kg);
            let recombined = rates.factor(coefficient, recovery, pressure, splat(self.dissociated_share) * (one - splat(0.5) * share));
            let saved = one - (one - recombined) * (one - turbulence);
            continuum_4 = continuum_4 * saved * saved * (saved * saved);
        }

        // 8. Cap.
        let cap_square = splat(self.cap * self.cap) * (facing_square + splat(self.lee_fraction * self.lee_fraction));
        let cap_4 = cap_square * cap_square;
        let uncapped_4 = cap_4 / (continuum_4 + cap_4).fast_max(splat(1e-300));
        let factor = (continuum_4 * uncapped_4).sqrt().sqrt();

        Heating {
            cold_wall_w_m2: factor * splat(self.reference_w_m2 / self.total_j_kg) * recovery,
            recovery_j_kg: recovery,
            pressure_pa: pressure,
            intermittency: turbulence,
            onset_square,
            uncapped_4,
        }
    }

    /// Heating of tiles that stand proud, over that of flush ones (`gap`), with the plate's own layer.
    #[allow(clippy::too_many_arguments)]
    #[inline(never)]
    fn stepped(
        &self,
        steps: &Steps,
        share: f64x4,
        pressure: f64x4,
        density_viscosity: f64x4,
        along_speed: f64x4,
        run: f64x4,
        turbulence: f64x4,
    ) -> f64x4 {
        let sound_over_viscosity = fit(&self.sound_over_viscosity, share);
        // a^2 = gamma p / rho, gamma about 1.3 in the reacting layer's edge.
        let sound = (splat(1.3) * sound_over_viscosity * fit(&self.mach_length, share)).fast_max(splat(1.0)).sqrt();
        let speed = (along_speed * splat(self.speed_m_s)).fast_max(splat(1.0));
        let reynolds = (pressure * speed * run * fit(&self.reynolds, share)).fast_max(splat(1.0)).to_array();
        // delta = 5.0 sqrt(rho* mu* s / u) / rho_e (Blasius), rho_e = (a / mu) mu / a.
        let viscosity = sound / sound_over_viscosity;
        let density = pressure * viscosity / (sound * fit(&self.mach_length, share)).fast_max(splat(1e-300));
        let thickness = (splat(5.0) * (density_viscosity * run / speed).sqrt() / density.fast_max(splat(1e-300))).to_array();
        let (mach, turbulence) = ((speed / sound).to_array(), turbulence.to_array());
        f64x4::from(std::array::from_fn::<f64, LANES, _>(|lane| {
            let layer = gap::Layer {
                thickness_m: thickness[lane],
                edge_mach: mach[lane],
                skin_friction: 0.664 / reynolds[lane].sqrt(),
                intermittency: turbulence[lane],
            };
            match &steps.own {
                Some(own) => own.factor(steps.step_m[lane], &layer),
                None => gap::step_factor(steps.step_m[lane], &layer),
            }
        }))
    }

    /// A turned tile's inclination before it turned, and what the corner adds to the square of the laminar heating.
    #[inline(never)]
    fn corner(&self, tile: &Group, pressure: f64x4) -> (f64x4, f64x4) {
        let [wx, wy, wz] = self.wind.map(splat);
        let inclination = splat(0.0) - (tile.normal[0] * wx + tile.normal[2] * wz + tile.normal[1] * wy);
        let facing = inclination.fast_max(splat(0.0)).fast_min(splat(1.0));
        let most = tile.across * splat(self.crosswind) - tile.normal[0] * wx;
        let before = expansion::share(inclination, facing * facing, most);
        (facing, control::interaction(pressure, splat(self.pressure_pa) + splat(self.stagnation_pressure_pa - self.pressure_pa) * before))
    }

    /// Turbulent attachment line of a swept edge: its intermittency times the edge's share, the plate's Reynolds number, velocity gradient over speed.
    ///
    /// On the line of an infinite swept cylinder the layer grows until outflow balances it: it is that of a plate on the run W / (dU/dx) (W the speed
    /// along the edge, dU/dx the gradient across it), so that Poll's Reynolds number is the root of the plate's (Poll, Aeron. Quarterly 30 (1979), skin
    /// friction 0.0592 R*^-0.4; from memory). Turbulent from R* = 245, where disturbances of a rough edge first persist (Poll, as before).
    #[inline(never)]
    fn attachment_line(&self, tile: &Group, unswept: f64x4, root: f64x4, edge_share: f64x4) -> (f64x4, f64x4, f64x4) {
        let one = splat(1.0);
        let along = (one - unswept).fast_max(splat(0.0));
        let pressure = splat(self.pressure_pa) + splat(self.stagnation_pressure_pa - self.pressure_pa) * unswept;
        let sharp = tile.blunt_per_m * splat(1.0 / SPHERE_OVER_CYLINDER);
        let rate = (splat(self.gradient) * root * sharp).fast_max(splat(1e-12));
        let reynolds = pressure * splat(self.speed_m_s) * along * fit(&self.reynolds, along) / rate;
        let line = intermittency(reynolds * splat(1.0 / (ATTACHMENT_LINE_ONSET * ATTACHMENT_LINE_ONSET)));
        (line * edge_share, reynolds, rate)
    }

    /// Square of the running length and start radius at this angle of attack.
    #[inline]
    fn run(&self, tile: &Group) -> (f64x4, f64x4) {
        let (mut square, mut radius) = (splat(0.0), splat(0.0));
        let runs = tile.running_square.iter().skip(self.first).zip(tile.start_radius_m.iter().skip(self.first));
        for ((own_square, own_radius), weight) in runs.zip(self.weights) {
            square += *own_square * splat(weight);
            radius += *own_radius * splat(weight);
        }
        if let Some(slipped) = &tile.slipped
            && self.slip[1] != 1.0
        {
            let at = |runs: &[f64x4; ANGLES]| {
                runs.iter().skip(self.first).zip(self.weights).fold(splat(0.0), |sum, (run, weight)| sum + *run * splat(weight))
            };
            square = square * splat(self.slip[1]) + at(&slipped[0]) * splat(self.slip[0]) + at(&slipped[1]) * splat(self.slip[2]);
        }
        (square.fast_max(splat(self.least_run_m * self.least_run_m)), radius.fast_max(splat(self.least_run_m)))
    }

    #[inline]
    fn intermittency(&self, onset_square: f64x4) -> f64x4 {
        if let Onset::Everywhere(value) = self.onset { splat(value) } else { intermittency(onset_square) }
    }

    /// The square of the tiles' own criterion over its limit; 0 where the criterion is not local.
    #[inline]
    fn onset_square(&self, roughness_m: f64x4, layer: &Layer) -> f64x4 {
        match self.onset {
            Onset::Everywhere(_) => splat(0.0),
            Onset::MomentumThickness(per_limit_square) | Onset::Isolated(per_limit_square) => {
                // Re_theta = 0.664 sqrt(rho* mu* u s') / mu_e with the run s' that outflow leaves; over M_e = u / a.
                let sound = fit(&self.sound_over_viscosity, layer.share);
                let speed = (layer.along_speed * splat(self.speed_m_s)).fast_max(splat(1.0));
                splat(0.664 * 0.664 * per_limit_square) * layer.density_viscosity * layer.left() * sound * sound / speed
            }
            Onset::Roughness(per_limit) => {
                let ratio = self.product(roughness_m, layer) * layer.fade * splat(per_limit);
                ratio * ratio
            }
            Onset::Reynolds(per_limit) => {
                let ratio = self.roughness_reynolds(roughness_m, layer) * layer.off_nose() * splat(per_limit);
                ratio * ratio
            }
        }
    }

    /// (Re_theta / M_e) (k / delta) = rho a k / (mu x delta / theta): the run drops out.
    #[inline]
    fn product(&self, size_m: f64x4, layer: &Layer) -> f64x4 {
        let length = fit(&self.mach_length, layer.share) * self.thickness_ratio(layer.share);
        layer.pressure * size_m / length.fast_max(splat(1e-300))
    }

    /// Laminar boundary-layer thickness over momentum thickness, of the layer's own edge and wall.
    #[inline]
    fn thickness_ratio(&self, share: f64x4) -> f64x4 {
        let moving = share * splat(self.kinetic_j_kg);
        let still = (splat(self.total_j_kg) - moving).fast_max(splat(1.0));
        thickness_ratio(splat(self.wall_j_kg) / still, splat(PRANDTL.sqrt()) * moving / still)
    }

    /// Roughness Reynolds number rho u k / mu at height k of the undisturbed laminar layer.
    ///
    /// Near the wall Blasius' velocity is linear, u / u_e = 0.4696 eta, and Crocco and Busemann's enthalpy h / h_e = a + (b - a) u - (b - 1) u^2 with
    /// a = h_w / h_e and b the recovery's; with density as 1 / h the height is y = a eta + 0.2348 (b - a) eta^2, solved for eta. Viscosity goes as
    /// h^0.75. Range: k up to half the layer's thickness, where the linear velocity is 5 % high (`verif_roughness_reynolds_number`).
    #[inline]
    fn roughness_reynolds(&self, height_m: f64x4, layer: &Layer) -> f64x4 {
        let one = splat(1.0);
        let edge = self.edge(layer);
        let still = (splat(self.total_j_kg) - layer.share * splat(self.kinetic_j_kg)).fast_max(splat(1.0));
        let wall = splat(self.wall_j_kg) / still;
        let rise = splat(PRANDTL.sqrt() * self.kinetic_j_kg) * layer.share / still;
        let curve = (one + rise - wall).fast_max(splat(1e-6)) * splat(0.5 * BLASIUS_WALL);
        let y = height_m * splat(BLASIUS_WALL) / edge.theta_m.fast_max(splat(1e-300));
        let eta = ((wall * wall + splat(4.0) * curve * y).sqrt() - wall) / (splat(2.0) * curve);
        let u = (eta * splat(BLASIUS_WALL)).fast_min(one);
        let h = wall + (one + rise - wall) * u - rise * u * u;
        let root = h.sqrt();
        let per_unit = edge.re_theta / edge.theta_m.fast_max(splat(1e-300));
        per_unit * height_m * u / (h * root * root.sqrt()).fast_max(splat(1e-300))
    }

    #[inline]
    fn edge(&self, layer: &Layer) -> Edge {
        let (sound_over_viscosity, mach_length) = (fit(&self.sound_over_viscosity, layer.share), fit(&self.mach_length, layer.share));
        let viscosity = fit(&self.edge_viscosity, layer.share);
        let speed = (layer.along_speed * splat(self.speed_m_s)).fast_max(splat(1.0));
        let density = layer.pressure / (sound_over_viscosity * mach_length);
        let mass = splat(0.664) * (layer.density_viscosity * layer.left() * speed).fast_max(splat(0.0)).sqrt();
        let theta_m = mass / (density * speed);
        Edge {
            mach: speed / (sound_over_viscosity * viscosity),
            re_theta: mass / viscosity,
            theta_m,
            delta_m: theta_m * self.thickness_ratio(layer.share),
        }
    }

    /// The criterion of four sites over their thresholds, squared.
    #[inline]
    fn site_square(&self, sites: &Sites) -> f64x4 {
        let layer = self.layer(&sites.group);
        let ratio = match self.onset {
            Onset::Isolated(_) => self.product(sites.cavity.fast_max(sites.proud), &layer),
            Onset::Reynolds(per_limit) => {
                let proud = self.roughness_reynolds(sites.group.roughness_m, &layer) * splat(per_limit);
                self.product(sites.cavity, &layer).fast_max(proud)
            }
            _ => splat(0.0),
        } * layer.off_nose();
        ratio * ratio
    }

    /// What the wedges of the sites upstream make of four tiles: the intermittency, and the square of the sites' criterion where a wedge reaches.
    #[inline(never)]
    fn wedges(&self, tile: &Group, sites: &[Sites]) -> (f64x4, f64x4) {
        let (zero, one) = (splat(0.0), splat(1.0));
        let (mut wedge, mut square) = (zero, zero);
        let mut known: Option<(usize, [f64; LANES])> = None;
        for reach in &tile.reaches {
            let (group, lane) = (reach.site as usize / LANES, reach.site as usize % LANES);
            let squares = match known {
                Some((same, squares)) if same == group => squares,
                _ => sites.get(group).map_or([0.0; LANES], |sites| self.site_square(sites).to_array()),
            };
            known = Some((group, squares));
            let site = splat(squares.get(lane).copied().unwrap_or(0.0));
            let mut q = zero;
            for (own, weight) in reach.q.iter().skip(self.first).zip(self.weights) {
                q += *own * splat(weight);
            }
            let q = q.fast_max(zero).fast_min(one);
            let share = q * q * (splat(3.0) - splat(2.0) * q);
            wedge = wedge.fast_max(intermittency(site) * share);
            square = square.fast_max(share.cmp_gt(splat(0.01)).blend(site, zero));
        }
        (wedge, square)
    }
}

/// Pr^(1/3) for Pr 0.71.
const TURBULENT_RECOVERY: f64 = 0.892_112_1;

/// (0.0296 / 0.332) Re^0.3, the ratio of the two Stanton numbers; Re held within 1 to 4e9.
///
/// z = Re^(1/16) by square roots, then z^4.8 with z^0.8 as a polynomial on 1 to 4 (within 1.3e-5).
#[inline]
fn turbulent_over_laminar(reynolds: f64x4) -> f64x4 {
    const POWER: [f64; 7] = [
        0.09025051139518753,
        1.0632959398244433,
        -0.20862852952755812,
        0.06864933114170726,
        -0.015423852923920088,
        0.001978011815329308,
        -0.00010851738301867514,
    ];
    let held = reynolds.fast_max(splat(1.0)).fast_min(splat(4_294_967_296.0));
    let z = held.sqrt().sqrt().sqrt().sqrt();
    let mut power = splat(POWER[6]);
    for a in [POWER[5], POWER[4], POWER[3], POWER[2], POWER[1], POWER[0]] {
        power = power * z + splat(a);
    }
    let square = z * z;
    splat(0.0296 / 0.332) * square * square * power
}

/// One tile and one moment, in words and numbers: what a tile's card tells of the chain.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Chain {
    pub inclination_deg: f64,
    pub sweep_deg: f64,
    pub sharp_radius_m: f64,
    pub roundness: f64,
    pub running_length_m: f64,
    pub pressure_coefficient: f64,
    /// Ratio of heat-transfer coefficients to the reference sphere, multipliers and cap included.
    pub factor: f64,
    pub reference_radius_m: f64,
    pub reference_w_m2: f64,
    pub cold_wall_w_m2: f64,
    pub recovery_j_kg: f64,
    pub intermittency: f64,
    /// Transition criterion over its limit; 0 where it is not local.
    pub onset: f64,
    /// Heating over what it would be without the free-molecular cap.
    pub uncapped: f64,
    /// The laminar boundary layer: Mach number at its edge, momentum-thickness Reynolds number, momentum thickness and thickness (99 %).
    pub edge_mach: f64,
    pub re_theta: f64,
    pub theta_m: f64,
    pub delta_m: f64,
}

impl Moment {
    /// Heating of the reference sphere's stagnation point, W/m2, cold wall.
    pub fn reference_w_m2(&self) -> f64 {
        self.reference_w_m2
    }

    /// Total enthalpy of the stream, J/kg, 0 at 0 K.
    pub fn total_enthalpy_j_kg(&self) -> f64 {
        self.total_j_kg
    }

    /// The chain of one tile; `None` for a tile that is not there.
    pub fn chain(&self, surface: &Surface, tile: usize) -> Option<Chain> {
        if tile >= surface.tiles {
            return None;
        }
        let (group, lane) = (surface.groups.get(tile / LANES)?, tile % LANES);
        let heating = self.heating(group, &surface.sites);
        let edge = self.edge(&self.layer(group));
        let pick = |value: f64x4| value.to_array().get(lane).copied().unwrap_or(0.0);
        let [wx, wy, wz] = self.wind;
        let turned = match &group.turning {
            Some(turning) if self.deflections.any => turning.turned(&group.normal, &group.edge, &self.deflections),
            _ => (group.normal, group.edge),
        };
        let dot = |v: &[f64x4; 3]| pick(v[0]) * wx + pick(v[2]) * wz + pick(v[1]) * wy;
        let roundness = pick(group.roundness);
        let blend = SPHERE_OVER_CYLINDER + (1.0 - SPHERE_OVER_CYLINDER) * roundness;
        let along = dot(&turned.1) * (1.0 - roundness);
        let recovery_j_kg = pick(heating.recovery_j_kg);
        let cold_wall_w_m2 = pick(heating.cold_wall_w_m2);
        let per_enthalpy = self.reference_w_m2 / self.total_j_kg;
        let dynamic = self.dynamic_pressure_pa;
        Some(Chain {
            inclination_deg: libm::asin((-dot(&turned.0)).clamp(-1.0, 1.0)).to_degrees(),
            sweep_deg: libm::asin(along.abs().min(1.0)).to_degrees(),
            sharp_radius_m: blend / pick(group.blunt_per_m),
            roundness,
            running_length_m: pick(self.run(group).0).sqrt(),
            pressure_coefficient: if dynamic > 0.0 { (pick(heating.pressure_pa) - self.pressure_pa) / dynamic } else { 0.0 },
            factor: if per_enthalpy > 0.0 { cold_wall_w_m2 / (per_enthalpy * recovery_j_kg) } else { 0.0 },
            reference_radius_m: self.reference_radius_m,
            reference_w_m2: self.reference_w_m2,
            cold_wall_w_m2,
            recovery_j_kg,
            intermittency: pick(heating.intermittency),
            onset: pick(heating.onset_square).max(0.0).sqrt(),
            uncapped: pick(heating.uncapped_4).max(0.0).sqrt().sqrt(),
            edge_mach: pick(edge.mach),
            re_theta: pick(edge.re_theta),
            theta_m: pick(edge.theta_m),
            delta_m: pick(edge.delta_m),
        })
    }

    /// The site whose wedge reaches a tile with the largest intermittency, or comes nearest to it: its index, its criterion over its
    /// threshold, and the share of the wedge at which the tile stands. `None` where no wedge reaches the tile or no site counts.
    pub fn tripped_by(&self, surface: &Surface, tile: usize) -> Option<(usize, f64, f64)> {
        let (group, lane) = (surface.groups.get(tile / LANES).filter(|_| tile < surface.tiles)?, tile % LANES);
        let mut best: Option<(usize, f64, f64)> = None;
        for reach in group.reaches.iter().filter(|_| self.onset.has_sites()) {
            let q: f64 = reach
                .q
                .iter()
                .skip(self.first)
                .zip(self.weights)
                .map(|(q, weight)| q.to_array().get(lane).copied().unwrap_or(-1.0) * weight)
                .sum();
            let (ratio, share) = (self.site_ratio(surface, reach.site as usize), wedge::share(q));
            let value = |(_, ratio, share): (usize, f64, f64)| ratio * share;
            if share > 0.01 && best.is_none_or(|best| ratio * share > value(best)) {
                best = Some((reach.site as usize, ratio, share));
            }
        }
        best
    }

    /// A site's criterion over its threshold; 0 where no site counts or there is none.
    pub fn site_ratio(&self, surface: &Surface, site: usize) -> f64 {
        let squares = surface.sites.get(site / LANES).map_or([0.0; LANES], |sites| self.site_square(sites).to_array());
        squares.get(site % LANES).copied().unwrap_or(0.0).max(0.0).sqrt()
    }
}

/// A tile as the survey left it, nothing changed.
pub fn as_surveyed(facet: &super::Facet, place: &Place) -> Local {
    Local {
        normal: facet.normal,
        place: facet.nose_radius_m.map_or(*place, |radius| place::replaced(place, radius)),
        multiplier: 1.0,
        catalycity: 1.0,
        roughness_m: super::transition::SMOOTH_ROUGHNESS_M,
        running_length_m: facet.running_length_m,
        hinge: None,
        recombination: None,
        step_m: 0.0,
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
