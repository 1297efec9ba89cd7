//! How laminar heating falls off around a sphere and a cylinder with a modified-Newtonian pressure (Lees).
//!
//! Lees, Jet Propulsion 26 (1956): heating over its stagnation value is p u r / sqrt(2 integral of p u r^2), with the edge speed
//! growing in proportion to the distance from the stagnation point and p / p0 = (1 - e) cos^2 + e, e = 1 / (1.4 Mach^2). Both bodies
//! take the form ((1 - e) c^2 + e) / sqrt((1 - e) n(c) + e m(c)) in the cosine c of the angle from the stagnation point or line. n and m
//! are smooth, so the fast path has them as polynomials of degree 6 (within 6e-6 of the closed form, `verif_polynomials`).

use wide::f64x4;

const SPHERE_NEWTONIAN: [f64; 7] = [
    0.24999873207672504,
    0.3184419387221237,
    0.5516644488409675,
    -0.20384094705172437,
    0.13097393156876597,
    -0.060475671594832525,
    0.013238474457769352,
];
const SPHERE_STATIC: [f64; 7] = [
    1.4052801454105344,
    -0.7567363750631926,
    0.6738485842912532,
    -0.5915144411211627,
    0.43015760330771835,
    -0.20722895280611708,
    0.046196695117219376,
];
const CYLINDER_NEWTONIAN: [f64; 7] = [
    0.2973575155039652,
    0.3786195452132396,
    0.3613376197003541,
    -0.05306424305718021,
    0.022474896052991442,
    -0.008358288210374282,
    0.001633044326276557,
];
/// The square of the angle, rad^2, over 2 (1 - c).
const HALF_ANGLE: [f64; 7] = [
    1.2337001869545565,
    -0.3370583162656415,
    0.16226094180063202,
    -0.09461637926433175,
    0.05340858779620735,
    -0.022278744419803757,
    0.004583995836166068,
];

/// Heating of a sphere at the angle (rad, 0 to pi/2) from its stagnation point, over the stagnation value; `e` is 1 / (1.4 Mach^2).
///
/// Lees' closed form. Range: laminar, hypersonic; `e` 0 to 1.
pub fn sphere(angle_rad: f64, e: f64) -> f64 {
    let t = angle_rad;
    if t < 1e-3 {
        return 1.0;
    }
    let (sin, cos) = (libm::sin(t), libm::cos(t));
    let newtonian = t * t - t * libm::sin(4.0 * t) / 2.0 + (1.0 - libm::cos(4.0 * t)) / 8.0;
    let still = 4.0 * (t * t - t * libm::sin(2.0 * t) + (1.0 - libm::cos(2.0 * t)) / 2.0);
    2.0 * t * sin * ((1.0 - e) * cos * cos + e) / ((1.0 - e) * newtonian + e * still).sqrt()
}

/// The same across an unswept cylinder, from its stagnation line.
pub fn cylinder(angle_rad: f64, e: f64) -> f64 {
    let t = angle_rad;
    if t < 1e-3 {
        return 1.0;
    }
    let cos = libm::cos(t);
    let newtonian = t * t / 2.0 + t * libm::sin(2.0 * t) / 2.0 + (libm::cos(2.0 * t) - 1.0) / 4.0;
    t * ((1.0 - e) * cos * cos + e) / ((1.0 - e) * newtonian + e * t * t).sqrt()
}

fn polynomial(coefficients: &[f64; 7], c: f64x4) -> f64x4 {
    let [a0, a1, a2, a3, a4, a5, a6] = *coefficients;
    let mut sum = f64x4::splat(a6);
    for a in [a5, a4, a3, a2, a1, a0] {
        sum = sum * c + f64x4::splat(a);
    }
    sum
}

/// The square of the falling-off, of a surface between cylinder (`roundness` 0) and sphere (1), at cosine `c` in [0, 1].
pub(super) fn square(c: f64x4, roundness: f64x4, e: f64) -> f64x4 {
    let (e, rest) = (f64x4::splat(e), f64x4::splat(1.0 - e));
    let cylinder = rest * polynomial(&CYLINDER_NEWTONIAN, c) + e;
    let sphere = rest * polynomial(&SPHERE_NEWTONIAN, c) + e * polynomial(&SPHERE_STATIC, c);
    let pressure = rest * c * c + e;
    pressure * pressure / (cylinder + roundness * (sphere - cylinder))
}

/// The square of the angle (rad^2) whose cosine is `c` in [0, 1].
pub(super) fn angle_square(c: f64x4) -> f64x4 {
    f64x4::splat(2.0) * (f64x4::splat(1.0) - c) * polynomial(&HALF_ANGLE, c)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Lees' closed form at Mach 20, gamma 1.4.
    #[test]
    fn val_lees_on_a_hemisphere() {
        let e = 1.0 / (1.4 * 400.0);
        for (degrees, want, tolerance) in
            [(15.0, 0.951091, 0.01), (30.0, 0.81053, 0.01), (45.0, 0.597272, 0.01), (60.0, 0.345484, 0.02), (70.0, 0.183321, 0.02)]
        {
            let got = sphere(f64::to_radians(degrees), e);
            assert!((got / want - 1.0).abs() < tolerance, "{degrees}: {got}");
            assert!((got / want - 1.0).abs() < 1e-5, "{degrees}: {got}");
        }
    }

    #[test]
    fn verif_polynomials() {
        for step in 0..=900 {
            let angle = f64::to_radians(step as f64 * 0.1);
            let c = libm::cos(angle).max(0.0);
            for e in [0.0, 1.0 / 560.0, 0.1, 0.7] {
                for (roundness, want) in [(0.0, cylinder(angle, e)), (1.0, sphere(angle, e))] {
                    let got = square(f64x4::splat(c), f64x4::splat(roundness), e).to_array()[0].sqrt();
                    assert!((got - want).abs() < 6e-6, "{step} {e} {roundness}: {got} {want}");
                }
            }
            assert!((angle_square(f64x4::splat(c)).to_array()[0] - angle * angle).abs() < 2e-6);
        }
    }
}
