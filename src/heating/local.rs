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
//! 7. Multipliers: the scenario's scale, zone and tile; catalycity, by dissociation and not where turbulent; a proud step and open gaps (`gap`); recombination by coating
//!    where chosen (`catalysis`). A deflected tile turns first, and behind its corner P follows the pressure ratio (`control`).
//! 8. Cap: half rho V^3 times the inclination (not below the lee fraction), joined as 1 / (1 / q^4 + 1 / cap^4)^(1/4).
//!
//! The recovery enthalpy is H - (1 - r) u^2 / 2, r = Pr^(1/2) laminar and Pr^(1/3) turbulent, u that of the plate or, on the blunt part, the
//! speed along a swept edge and the isentropic expansion (exponent 8/7) around it.
//!
//! Only + - * / and square roots, in lanes that do not know of each other.

mod chain;
mod onset;
mod raised;
mod tiles;

pub use chain::Chain;
pub use tiles::{Local, Surface, Trip, as_surveyed};

use super::control::Deflections;
use super::place::{ANGLES, Body, SPHERE_OVER_CYLINDER};
use super::points::{At, Points};
use super::reference::PRANDTL;
use super::stream::{Fit, Stream};
use super::transition::Onset;
use super::{Choices, Transition, blunt, expansion};
use tiles::{Criteria, Group};
use wide::f64x4;

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

/// Pr^(1/3) for Pr 0.71.
const TURBULENT_RECOVERY: f64 = 0.892_112_1;

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
    fn heating(&self, tile: &Group, sites: Criteria) -> Heating {
        let one = splat(1.0);
        let layer = self.layer(tile);
        let Layer { facing_square, pressure, unswept, c, share, fade, laminar_square, .. } = layer;

        // 5. and 6.
        let laminar_4 = laminar_square * laminar_square + splat(self.lee_4);
        let (mut factor_4, turbulence, onset_square) = self.mixed(tile, sites, &layer, laminar_4);

        // A user's body points, where they cover.
        if let Some(points) = &tile.points {
            factor_4 = self.points.apply(points, laminar_4, factor_4, turbulence);
        }

        // 7. Multipliers.
        let saved = one - tile.catalytic_saving * splat(self.dissociation) * (one - turbulence);
        let saved_square = saved * saved;
        let mut continuum_4 = factor_4 * tile.multiplier_4 * saved_square * saved_square;
        if let Some(joints) = &tile.joints {
            let raised = self.joined(joints, &layer, turbulence);
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
}
