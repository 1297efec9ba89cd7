//! Before the entry: what sun, albedo and planet make of a face in orbit, and how the structure behind it lags.
//!
//! Body axes: x aft from the nose, y right, z up. The vehicle keeps its attitude to the planet (`down` is fixed in the body) and flies nose first, so that over
//! an orbit the sun turns about down x x (about y where the nose points up or down). Given is where the sun stands at the deorbit point.
//!
//! 1. A face takes in absorptance x solar constant x cos of the sun's angle where it looks at the sun and the planet does not hide it, absorptance x albedo x
//!    solar constant x view factor x cos of the sun's zenith angle below, and emissivity x planet infrared x view factor.
//! 2. It radiates to 0 K and conducts to the structure: emissivity sigma T^4 + (T - T_s) / R = taken in. The body shades itself by its normals only: a
//!    face behind a fin is not shaded, and faces see no other faces.
//! 3. The structure lags: before the hold tile and structure stand where a face of the tile's coating would that had turned every way over the orbit (a
//!    sphere); over the hold they follow the orbit-averaged face through the tile in a few cells, the layers under it and the structure, implicit Euler, properties
//!    at each temperature, in a vacuum. Stated error against the stack itself (`val_structure_lags_like_the_stack`): 3 K.
//!
//! The albedo's distance law is that of the planet's infrared, times the cosine below (common practice for a low orbit, too low near the terminator); the
//! back of the stack is taken as adiabatic.

use super::equilibrium::{Emissivity, STEFAN_BOLTZMANN};
use super::properties::Conduction;
use crate::material::{Library, Stack};
use glam::DVec3;

/// Solar irradiance at 1 astronomical unit, W/m2: Kopp and Lean, Geophysical Research Letters 38 (2011), L01706, 1360.8. Over a year it moves by 3.4 % either way.
pub const SOLAR_CONSTANT_W_M2: f64 = 1360.8;

/// Positions over an orbit at which the fluxes are averaged.
const POSITIONS: usize = 180;
/// Steps of the structure over the hold.
const STEPS: usize = 36;
/// Cells through the tile.
const CELLS: usize = 6;
/// Temperatures at which properties are read, linear between and held outside, K.
const NODES_K: [f64; 5] = [120.0, 200.0, 280.0, 360.0, 440.0];

/// View factor of a plate to a sphere: `facing` is the cosine between the plate's normal and the way to the sphere's centre, `ratio` the distance to the
/// centre over the radius (above 1).
///
/// Closed form of a differential plane element to a sphere, whole or cut by the element's plane (NACA/NASA TN D-1842 (1963) and heat-transfer handbooks, from
/// memory); held against its definition by quadrature in `verif_view_factor`.
pub fn view_factor(facing: f64, ratio: f64) -> f64 {
    use std::f64::consts::PI;
    let h = ratio.max(1.0 + 1e-9);
    let c = facing.clamp(-1.0, 1.0);
    if c * h >= 1.0 {
        return c / (h * h);
    }
    if c * h <= -1.0 {
        return 0.0;
    }
    let s = (1.0 - c * c).sqrt();
    let root = (h * h - 1.0).sqrt();
    let cut = (1.0 - h * h * c * c).max(0.0).sqrt();
    let value =
        0.5 - libm::asin((root / (h * s)).min(1.0)) / PI + (c * libm::acos((-root * c / s).clamp(-1.0, 1.0)) - root * cut) / (PI * h * h);
    value.max(0.0)
}

/// Which fluxes the surface is in balance with when the entry starts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Exposure {
    #[default]
    DeorbitPoint,
    OrbitAverage,
}

/// An attitude in orbit and what shines on it.
#[derive(Debug, Clone, PartialEq)]
pub struct Orbit {
    down: DVec3,
    ratio: f64,
    albedo: f64,
    planet_infrared_w_m2: f64,
    hold_s: f64,
    exposure: Exposure,
    /// The sun at the deorbit point, zero where the planet hides it.
    here: DVec3,
    /// Around the orbit, where the planet does not hide it.
    suns: Vec<DVec3>,
    /// Cosine of the sun's zenith angle below, not below 0: at the deorbit point, and its mean.
    below: f64,
    mean_below: f64,
    sunlit: f64,
}

/// A face and what lies under it.
#[derive(Debug, Clone, Copy)]
pub struct Face<'a> {
    /// Outward, unit length.
    pub normal: DVec3,
    pub emissivity: &'a Emissivity,
    pub solar_absorptance: f64,
    /// `None` where there is no structure.
    pub under: Option<Under>,
}

/// The way from face to structure, each property at [`NODES_K`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Under {
    /// Of the tile from face to back, and of what lies between it and the middle of the structure, m2K/W.
    tile_m2k_w: [f64; 5],
    between_m2k_w: [f64; 5],
    /// Of the tile, of what lies between, and of the structure and what lies behind it, J/m2K.
    tile_j_m2k: [f64; 5],
    between_j_m2k: [f64; 5],
    structure_j_m2k: [f64; 5],
}

/// A property at a temperature.
fn read(values: &[f64; 5], kelvin: f64) -> f64 {
    let place = ((kelvin - NODES_K[0]) / (NODES_K[1] - NODES_K[0])).clamp(0.0, 4.0);
    let at = (place as usize).min(3);
    let share = place - at as f64;
    values[at] * (1.0 - share) + values[at + 1] * share
}

impl Under {
    /// From a tile's material, density and thickness and the stack under it, in a vacuum.
    pub fn of(library: &Library, material: usize, density_kg_m3: f64, thickness_m: f64, stack: &Stack) -> Under {
        const VACUUM_PA: f64 = 1e-3;
        let zero = [0.0; 5];
        let mut of = Under { tile_m2k_w: zero, between_m2k_w: zero, tile_j_m2k: zero, between_j_m2k: zero, structure_j_m2k: zero };
        let add =
            |sum: &mut [f64; 5], share: f64, values: &[f64; 5]| sum.iter_mut().zip(values).for_each(|(sum, value)| *sum += share * value);
        let layer = |material: usize, density: Option<f64>, thickness_m: f64| {
            let Some(material) = library.materials.get(material) else { return (zero, zero) };
            let conduction = Conduction::of(&material.conductivity_w_mk);
            let vacuum = conduction.blend(VACUUM_PA);
            let mass = density.unwrap_or(material.density_kg_m3) * thickness_m;
            (
                NODES_K.map(|kelvin| thickness_m / conduction.at(kelvin, vacuum).0.max(1e-9)),
                NODES_K.map(|kelvin| mass * material.specific_heat_j_kgk.value_at(kelvin)),
            )
        };
        (of.tile_m2k_w, of.tile_j_m2k) = layer(material, Some(density_kg_m3), thickness_m);
        for (index, under) in stack.layers.iter().enumerate() {
            let (way, holds) = layer(under.material, None, under.thickness_m);
            if index < stack.structure {
                add(&mut of.between_m2k_w, 1.0, &way);
                add(&mut of.between_j_m2k, 1.0, &holds);
            } else {
                add(&mut of.between_m2k_w, if index == stack.structure { 0.5 } else { 0.0 }, &way);
                add(&mut of.structure_j_m2k, 1.0, &holds);
            }
        }
        of
    }

    /// From face to structure at a temperature, m2K/W.
    fn resistance_m2k_w(&self, kelvin: f64) -> f64 {
        (read(&self.tile_m2k_w, kelvin) + read(&self.between_m2k_w, kelvin)).max(1e-9)
    }

    /// The structure after `hold_s` under `light` on the face, from one temperature throughout.
    fn held(&self, face: &Face, light: &Light, hold_s: f64, start_k: f64) -> f64 {
        const N: usize = CELLS + 1;
        let step_s = hold_s / STEPS as f64;
        let mut t = [start_k; N];
        for _ in 0..STEPS {
            // Half a cell from the face to the first node; what leaves space and light for the node, and how that changes with it.
            let half = 0.5 * read(&self.tile_m2k_w, t[0]) / CELLS as f64;
            let surface = balance(face, light, half, t[0]);
            let radiation = 4.0 * STEFAN_BOLTZMANN * face.emissivity.value_at(surface) * surface * surface * surface;
            let outer = 1.0 / (half + 1.0 / radiation.max(1e-9));
            let mut link = [0.0; CELLS];
            for (i, link) in link.iter_mut().enumerate() {
                let mean = 0.5 * (t[i] + t[i + 1]);
                let way = read(&self.tile_m2k_w, mean) / CELLS as f64;
                *link = 1.0 / if i + 1 < CELLS { way } else { 0.5 * way + read(&self.between_m2k_w, mean) }.max(1e-9);
            }
            // Implicit step of C dT = flows, tridiagonal: forward elimination, then back.
            let mut above = [0.0; N];
            let mut right = [0.0; N];
            for i in 0..N {
                let holds = match i {
                    _ if i + 1 < CELLS => read(&self.tile_j_m2k, t[i]) / CELLS as f64,
                    _ if i < CELLS => read(&self.tile_j_m2k, t[i]) / CELLS as f64 + 0.5 * read(&self.between_j_m2k, t[i]),
                    _ => read(&self.structure_j_m2k, t[i]) + 0.5 * read(&self.between_j_m2k, t[i]),
                } / step_s.max(1e-9);
                let before = if i == 0 { outer } else { link[i - 1] };
                let after = if i < CELLS { link[i] } else { 0.0 };
                let (diagonal, known) = if i == 0 {
                    (holds + outer + after, holds * t[0] + (surface - t[0]) / half + outer * t[0])
                } else {
                    (holds + before + after, holds * t[i])
                };
                let (pivot, known) =
                    if i == 0 { (diagonal, known) } else { (diagonal - before * above[i - 1], known + before * right[i - 1]) };
                above[i] = after / pivot;
                right[i] = known / pivot;
            }
            t[N - 1] = right[N - 1];
            for i in (0..CELLS).rev() {
                t[i] = right[i] + above[i] * t[i + 1];
            }
        }
        t[N - 1]
    }
}

/// What a face takes in, W/m2 of solar and of infrared light falling on it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Light {
    pub solar_w_m2: f64,
    pub infrared_w_m2: f64,
}

/// How the vehicle stands: directions to sun and planet in body axes (any length but 0), and the time for which it has stood so.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Attitude {
    pub sun: DVec3,
    pub down: DVec3,
    pub hold_s: f64,
}

/// What is below: albedo 0 to 1, infrared at the planet's surface, the orbit's altitude over it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Planet {
    pub radius_m: f64,
    pub altitude_m: f64,
    pub albedo: f64,
    pub infrared_w_m2: f64,
}

impl Orbit {
    pub fn new(attitude: Attitude, planet: Planet, exposure: Exposure) -> Orbit {
        let unit = |v: DVec3, otherwise: DVec3| v.try_normalize().unwrap_or(otherwise);
        let (sun, down) = (unit(attitude.sun, DVec3::Z), unit(attitude.down, -DVec3::Z));
        let axis = unit(down.cross(DVec3::X), DVec3::Y);
        let ratio = 1.0 + planet.altitude_m.max(1.0) / planet.radius_m.max(1.0);
        let edge = (1.0 - 1.0 / (ratio * ratio)).sqrt();
        let hidden = |sun: DVec3| sun.dot(down) > edge;
        let along = axis * axis.dot(sun);
        let (across, ahead) = (sun - along, axis.cross(sun));
        let mut suns = Vec::with_capacity(POSITIONS);
        let (mut mean_below, mut sunlit) = (0.0, 0.0);
        for i in 0..POSITIONS {
            let angle = std::f64::consts::TAU * (i as f64 + 0.5) / POSITIONS as f64;
            let at = along + across * libm::cos(angle) + ahead * libm::sin(angle);
            mean_below += (-at.dot(down)).max(0.0) / POSITIONS as f64;
            if !hidden(at) {
                sunlit += 1.0 / POSITIONS as f64;
                suns.push(at);
            }
        }
        let here = if hidden(sun) { DVec3::ZERO } else { sun };
        Orbit {
            down,
            ratio,
            albedo: planet.albedo,
            planet_infrared_w_m2: planet.infrared_w_m2,
            hold_s: attitude.hold_s,
            exposure,
            here,
            suns,
            below: (-sun.dot(down)).max(0.0),
            mean_below,
            sunlit,
        }
    }

    /// Light on a face at the deorbit point, or its mean over the orbit.
    pub fn light(&self, normal: DVec3, exposure: Exposure) -> Light {
        let factor = view_factor(normal.dot(self.down), self.ratio);
        let facing = |sun: &DVec3| normal.dot(*sun).max(0.0);
        let (direct, below) = match exposure {
            Exposure::DeorbitPoint => (facing(&self.here), self.below),
            Exposure::OrbitAverage => (self.suns.iter().map(facing).sum::<f64>() / POSITIONS as f64, self.mean_below),
        };
        Light {
            solar_w_m2: SOLAR_CONSTANT_W_M2 * (direct + self.albedo * factor * below),
            infrared_w_m2: self.planet_infrared_w_m2 * factor,
        }
    }

    /// Mean light on a face that turns every way over the orbit: a sphere's. It sees the planet by (1 - sqrt(1 - 1/H^2)) / 2 and the sun by a quarter.
    pub fn light_on_sphere(&self) -> Light {
        let factor = 0.5 * (1.0 - (1.0 - 1.0 / (self.ratio * self.ratio)).sqrt());
        Light {
            solar_w_m2: SOLAR_CONSTANT_W_M2 * (0.25 * self.sunlit + self.albedo * factor * self.mean_below),
            infrared_w_m2: self.planet_infrared_w_m2 * factor,
        }
    }

    /// Surface and structure of a tile when the entry starts, K. `structure_k`, where given, stands.
    pub fn start(&self, face: &Face, structure_k: Option<f64>) -> (f64, f64) {
        let structure_k = structure_k.unwrap_or_else(|| {
            let before = balance(face, &self.light_on_sphere(), f64::INFINITY, 0.0);
            let held = self.light(face.normal, Exposure::OrbitAverage);
            face.under.map_or(before, |under| under.held(face, &held, self.hold_s, before))
        });
        let resistance = face.under.map_or(f64::INFINITY, |under| under.resistance_m2k_w(structure_k));
        let light = self.light(face.normal, self.exposure);
        let surface_k = balance(face, &light, resistance, structure_k);
        // Without a structure there is only the face.
        (surface_k, if face.under.is_some() { structure_k } else { surface_k })
    }
}

/// The face's temperature, K, between light, space and the structure: Newton's method on a balance that rises with temperature, to 1e-9 of it.
pub fn balance(face: &Face, light: &Light, resistance_m2k_w: f64, structure_k: f64) -> f64 {
    let conductance = 1.0 / resistance_m2k_w;
    let mut t = 400.0;
    for _ in 0..60 {
        let e = face.emissivity.value_at(t);
        let taken = face.solar_absorptance * light.solar_w_m2 + e * light.infrared_w_m2;
        let cube = STEFAN_BOLTZMANN * e * t * t * t;
        let step = (cube * t + conductance * (t - structure_k) - taken) / (4.0 * cube + conductance);
        // Never below a third in one step, so that the start from far off stays above 0 K.
        let next = (t - step).max(t / 3.0);
        let done = (next - t).abs() <= 1e-9 * t;
        t = next;
        if done || t < 1.0 {
            break;
        }
    }
    t.max(2.7)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tile::coupon::{Case, solve::solve};
    use crate::tile::face::WallEnthalpy;
    use proptest::prelude::*;

    struct NoAir;
    impl WallEnthalpy for NoAir {
        fn at(&self, temperature_k: f64, _: f64) -> (f64, f64) {
            (1004.5 * temperature_k, 1004.5)
        }
    }

    /// Over the Earth, at the deorbit point; the planet below along -z, no hold.
    fn over(sun: DVec3, albedo: f64, infrared_w_m2: f64, altitude_m: f64) -> Orbit {
        let planet = Planet { radius_m: 6.371e6, altitude_m, albedo, infrared_w_m2 };
        Orbit::new(Attitude { sun, down: -DVec3::Z, hold_s: 0.0 }, planet, Exposure::DeorbitPoint)
    }

    /// Against the definition: cosine over pi integrated over the solid angle of the sphere that the plate sees.
    #[test]
    fn verif_view_factor() {
        for ratio in [1.02_f64, 1.2, 2.0, 6.0] {
            for degrees in (0..=180).step_by(9) {
                let tilt = (degrees as f64).to_radians();
                let (rings, around) = (800, 720);
                let edge = (1.0 / ratio).asin();
                let mut sum = 0.0;
                for i in 0..rings {
                    let polar = edge * (i as f64 + 0.5) / rings as f64;
                    for j in 0..around {
                        let turn = std::f64::consts::TAU * (j as f64 + 0.5) / around as f64;
                        let cosine = tilt.cos() * polar.cos() + tilt.sin() * polar.sin() * turn.cos();
                        sum += cosine.max(0.0) * polar.sin() * (edge / rings as f64) * std::f64::consts::TAU / around as f64;
                    }
                }
                let (got, want) = (view_factor(tilt.cos(), ratio), sum / std::f64::consts::PI);
                assert!((got - want).abs() < 2e-5, "{ratio} {degrees}: {got} for {want}");
            }
        }
    }

    /// Handbook values of low orbit: a plate looking down sees 1/H^2; one on edge (1/pi) (asin(1/H) - sqrt(H^2 - 1)/H^2) (standard, from memory).
    #[test]
    fn val_view_factors_of_a_plate() {
        let h = 1.0 + 400.0 / 6371.0;
        assert!((view_factor(1.0, h) - 1.0 / (h * h)).abs() < 1e-12);
        let edge = ((1.0 / h).asin() - (h * h - 1.0).sqrt() / (h * h)) / std::f64::consts::PI;
        assert!((view_factor(0.0, h) - edge).abs() < 1e-12);
        assert_eq!(view_factor(-1.0, h), 0.0);
    }

    fn far(sun: DVec3) -> Orbit {
        // So high that the planet is a point.
        over(sun, 0.0, 0.0, 1e12)
    }

    /// Textbook flat plates with an adiabatic back, square to the sun at 1 astronomical unit: T = (absorptance/emissivity x S / sigma)^(1/4): black 394 K, white paint of
    /// 0.2 over 0.85 274 K (values by the relation; 394 and, for a black sphere, 279 K stand in most textbooks, from memory).
    #[test]
    fn val_flat_plates_in_the_sun() {
        for (absorptance, emissivity, want) in [(1.0, 1.0, 393.6), (0.2, 0.85, 274.1), (0.9, 0.85, 399.3), (0.32, 0.8, 313.0)] {
            let e = Emissivity::constant(emissivity);
            let face = Face { normal: DVec3::Z, emissivity: &e, solar_absorptance: absorptance, under: None };
            let (surface, structure) = far(DVec3::Z).start(&face, None);
            assert!((surface - want).abs() < 0.1 && structure == surface, "{absorptance}/{emissivity}: {surface}");
        }
        let black = Emissivity::constant(1.0);
        let face = Face { normal: DVec3::Z, emissivity: &black, solar_absorptance: 1.0, under: None };
        let sphere = balance(&face, &far(DVec3::Z).light_on_sphere(), f64::INFINITY, 0.0);
        assert!((sphere - 278.3).abs() < 0.1, "{sphere}");
    }

    /// White against black on the sunny side, and no difference where only the planet's infrared arrives: grey faces of any emissivity take the planet's colour.
    #[test]
    fn verif_coatings_make_the_difference_that_they_make() {
        let orbit = over(DVec3::Z, 0.0, 237.0, 120e3);
        let (white, black) = (Emissivity::constant(0.8), Emissivity::constant(0.85));
        let of = |normal, emissivity, solar_absorptance| orbit.start(&Face { normal, emissivity, solar_absorptance, under: None }, None).0;
        let (hot, cool) = (of(DVec3::Z, &black, 0.9), of(DVec3::Z, &white, 0.32));
        assert!(hot - cool > 80.0, "{hot} {cool}");
        let (below_black, below_white) = (of(-DVec3::Z, &black, 0.9), of(-DVec3::Z, &white, 0.32));
        assert!((below_black - below_white).abs() < 1e-6 && (200.0..260.0).contains(&below_black), "{below_black} {below_white}");
    }

    /// The sun behind the planet heats nothing, and the average of an orbit in its plane lies between.
    #[test]
    fn verif_shadow_and_average() {
        let at = |sun| over(sun, 0.3, 237.0, 300e3);
        assert!(at(-DVec3::Z).light(DVec3::Z, Exposure::DeorbitPoint).solar_w_m2 == 0.0);
        let noon = at(DVec3::Z);
        let (point, mean) =
            (noon.light(DVec3::Z, Exposure::DeorbitPoint).solar_w_m2, noon.light(DVec3::Z, Exposure::OrbitAverage).solar_w_m2);
        // Over the day side a lid sees S/pi in the mean.
        assert!((mean / (SOLAR_CONSTANT_W_M2 / std::f64::consts::PI) - 1.0).abs() < 2e-3 && point == SOLAR_CONSTANT_W_M2, "{mean}");
        // Where the sun starts in the orbit does not change the mean but for the sampling at the shadow's edge.
        let later = at(DVec3::new(1.0, 0.0, 0.2)).light(DVec3::Z, Exposure::OrbitAverage).solar_w_m2;
        assert!((later / mean - 1.0).abs() < 0.01, "{later} {mean}");
    }

    const CASE: &str = r#"{"format": "tileglow-coupon/1", "name": "hold", "initial_k": START, "pressure_pa": 0.001,
        "layers": [{"name": "tile", "material": "LI-900", "thickness_m": 0.04}, {"name": "bond", "material": "RTV-560", "thickness_m": 0.00019},
                   {"name": "pad", "material": "SIP", "thickness_m": 0.004064}, {"name": "pad bond", "material": "RTV-560", "thickness_m": 0.00019},
                   {"name": "skin", "material": "AL-2024", "thickness_m": 0.002}],
        "front": {"kind": "flux", "flux_w_m2": FLUX, "emissivity": 0.85, "surroundings_k": 0}, "back": {"kind": "adiabatic"},
        "duration_s": 40000, "probes": [{"name": "skin", "depth_m": 0.0455}], "output_times_s": [2700, 5400, 10800, 21600, 40000]}"#;

    /// The few cells against the stack itself, marched by the in-depth solver under the same light, warming and cooling.
    #[test]
    fn val_structure_lags_like_the_stack() {
        let library = Library::built_in();
        let stack = &Stack::built_in(&library).unwrap()[0];
        let under = Under::of(&library, library.find("LI-900").unwrap(), 144.2, 0.04, stack);
        let e = Emissivity::constant(0.85);
        let mut worst = 0.0_f64;
        for (sun, absorptance) in [(DVec3::Z, 0.9), (-DVec3::Z, 0.9)] {
            let at = |hold_s| {
                let down = if sun.z > 0.0 { DVec3::X } else { DVec3::NEG_Y };
                Orbit::new(
                    Attitude { sun, down, hold_s },
                    Planet { radius_m: 6.371e6, altitude_m: 1e8, albedo: 0.0, infrared_w_m2: 100.0 },
                    Exposure::OrbitAverage,
                )
            };
            let face = Face { normal: DVec3::Z, emissivity: &e, solar_absorptance: absorptance, under: Some(under) };
            let light = at(0.0).light(DVec3::Z, Exposure::OrbitAverage);
            let start = at(0.0).start(&face, None).1;
            let flux = absorptance * light.solar_w_m2 + 0.85 * light.infrared_w_m2;
            let text = CASE.replace("START", &start.to_string()).replace("FLUX", &flux.to_string());
            let case = Case::read("hold", &text, &library).unwrap();
            let solved = solve(&case, &NoAir, &case.output_times_s).unwrap();
            for (time, want) in case.output_times_s.iter().zip(&solved.values_k[0]) {
                let got = at(*time).start(&face, None).1;
                println!("{time} s: {got:.1} K, stack {want:.1} K");
                worst = worst.max((got - want).abs());
            }
        }
        assert!(worst < 3.0, "{worst}");
    }

    proptest! {
        /// What a face takes in equals what it radiates and conducts; more light never cools it.
        #[test]
        fn verif_energy_balance(z in -1.0..1.0_f64, turn in 0.0..std::f64::consts::TAU, absorptance in 0.0..1.0_f64, e in 0.05..1.0_f64,
            hold in 0.0..1e5_f64, resistance in 0.01..10.0_f64, albedo in 0.0..1.0_f64, altitude in 1e5..4e7_f64) {
            let s = (1.0 - z * z).sqrt();
            let normal = DVec3::new(s * turn.cos(), s * turn.sin(), z);
            let emissivity = Emissivity::constant(e);
            let under = Some(Under {
                tile_m2k_w: [resistance; 5], between_m2k_w: [0.1; 5], tile_j_m2k: [4000.0; 5], between_j_m2k: [500.0; 5], structure_j_m2k: [5000.0; 5],
            });
            let resistance = resistance + 0.1;
            let face = Face { normal, emissivity: &emissivity, solar_absorptance: absorptance, under };
            let attitude = Attitude { sun: DVec3::new(0.3, -0.2, 0.9), down: DVec3::new(0.1, 0.0, -1.0), hold_s: hold };
            let planet = Planet { radius_m: 6.371e6, altitude_m: altitude, albedo, infrared_w_m2: 237.0 };
            let orbit = Orbit::new(attitude, planet, Exposure::DeorbitPoint);
            let (surface, structure) = orbit.start(&face, None);
            let light = orbit.light(normal, Exposure::DeorbitPoint);
            let taken = absorptance * light.solar_w_m2 + e * light.infrared_w_m2;
            let given = e * STEFAN_BOLTZMANN * surface.powi(4) + (surface - structure) / resistance;
            prop_assert!((taken - given).abs() < 1e-5 * (taken + (structure / resistance)).max(1.0), "{taken} {given}");
            prop_assert!((2.7..1500.0).contains(&surface) && (2.7..1500.0).contains(&structure));
            let brighter = Orbit { albedo: (albedo + 0.1).min(1.0), ..orbit.clone() };
            prop_assert!(brighter.start(&face, Some(structure)).0 >= surface - 1e-6);
            prop_assert_eq!(orbit.start(&face, Some(222.0)).1, 222.0);
        }
    }
}
