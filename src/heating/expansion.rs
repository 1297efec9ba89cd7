//! Pressure on every face, from square to the stream round to faces that it only grazes.
//!
//! Modified Newtonian pressure falls to the free stream's on a face along the stream. The flow that has passed the windward side's strong shock
//! does not: it expands around the body's flank from the pressure there. The usual remedy follows the Newtonian pressure down to where its slope
//! is that of a Prandtl-Meyer expansion, and that expansion from there on (L. G. Kaufman II, J. Astronautical Sciences 10 (1963); from memory. The
//! expansion itself: NACA Report 1135 (1953), equation 171c). For ratio of specific heats 1.4 and large Mach number they meet at an
//! inclination of 35.4 degrees and Mach 1.35; a face along the stream keeps 0.045 of the pressure from which the flow expands.
//!
//! The engine has it as one smooth form, share = ((m + sqrt(m^2 + B M^2 w)) / 2)^2 with w = (1 - m^2 / M^2)^6 where the face sees the stream
//! and 1 where it does not: m is the face's inclination (sine), M the largest that a face with the same slope along the body's axis has at
//! its station. So a flank expands from its own section's windward pressure, and on a body along the stream, whose section has none, the
//! pressure stays the free stream's. Measured error: share of pressure within 7.4 % of the joined expansions from 90 to -5 degrees, 8.1 % to -10, high
//! (cautious) below -20 degrees (`verif_joined_expansion`). Range: attached flow, above
//! Mach 4; below about -20 degrees flow separates and the lee fraction governs.

use wide::f64x4;

/// B: with the sixth power the best fit (least squares in the root of the share) to the joined expansions.
pub const FLANK: f64 = 0.17425;

/// Share of (stagnation - free stream) pressure on a face: `inclination` is the sine of its inclination to the stream, negative in its shadow,
/// `facing_square` the square of it where positive, `most` the largest inclination at its station.
#[inline]
pub fn share(inclination: f64x4, facing_square: f64x4, most: f64x4) -> f64x4 {
    let (zero, one) = (f64x4::splat(0.0), f64x4::splat(1.0));
    let most = most.fast_max(zero);
    let most_square = most * most;
    let left = (one - facing_square / most_square.fast_max(f64x4::splat(1e-12))).fast_max(zero);
    let cube = left * left * left;
    let root = (inclination * inclination + f64x4::splat(FLANK) * most_square * cube * cube).sqrt();
    let sum = f64x4::splat(0.5) * (inclination + root);
    sum * sum
}

#[cfg(test)]
mod tests {
    use super::*;

    fn one(inclination: f64, most: f64) -> f64 {
        let facing = inclination.max(0.0);
        share(f64x4::splat(inclination), f64x4::splat(facing * facing), f64x4::splat(most)).to_array()[0]
    }

    /// Newtonian down to where the slopes meet, then Prandtl-Meyer, both for 1.4 and a large Mach number.
    fn joined(angle_deg: f64) -> f64 {
        const G: f64 = 1.4;
        let pressure = |mach: f64| (1.0 + 0.5 * (G - 1.0) * mach * mach).powf(-G / (G - 1.0));
        let turn = |mach: f64| {
            let (k, m): (f64, f64) = (((G + 1.0) / (G - 1.0)).sqrt(), (mach * mach - 1.0).sqrt());
            k * (m / k).atan() - m.atan()
        };
        let bisect = |f: &dyn Fn(f64) -> f64, mut low: f64, mut high: f64| {
            for _ in 0..200 {
                let middle = 0.5 * (low + high);
                if (f(middle) > 0.0) == (f(low) > 0.0) { low = middle } else { high = middle }
            }
            0.5 * (low + high)
        };
        let slopes = |mach: f64| {
            let angle = pressure(mach).sqrt().asin();
            2.0 * angle.sin() * angle.cos() - G * mach * mach / (mach * mach - 1.0).sqrt() * pressure(mach)
        };
        let meets = bisect(&slopes, 1.05, 2.5);
        let from = pressure(meets).sqrt().asin();
        assert!((meets - 1.352).abs() < 1e-3 && (from.to_degrees() - 35.42).abs() < 0.01);
        let angle = angle_deg.to_radians();
        if angle >= from {
            return angle.sin().powi(2);
        }
        pressure(bisect(&|mach| turn(mach) - turn(meets) - from + angle, 1.0001, 200.0))
    }

    #[test]
    fn verif_joined_expansion() {
        let (mut near, mut far): (f64, f64) = (0.0, 0.0);
        for step in 0..=200 {
            let angle = 90.0 - 0.5 * step as f64;
            let off = one(angle.to_radians().sin(), 1.0) / joined(angle) - 1.0;
            if angle >= -5.0 { near = near.max(off.abs()) } else { far = far.max(off.abs()) }
        }
        println!("pressure share against the joined expansions: within {:.1} % to -5 degrees, {:.1} % to -10", 100.0 * near, 100.0 * far);
        assert!(near < 0.074 && far < 0.081, "{near} {far}");
        assert!((joined(0.0) - 0.0447).abs() < 1e-3);
        for angle in [-20.0, -30.0, -40.0] {
            assert!(one(f64::to_radians(angle).sin(), 1.0) > joined(angle));
        }
    }

    /// Square to the stream it is the stagnation pressure; along it, on a body along it, the free stream's; never falling as a face turns into it.
    #[test]
    fn verif_ends_and_order() {
        assert_eq!(one(1.0, 1.0), 1.0);
        assert!(one(0.0, 0.0) < 1e-9 && one(-0.5, 0.0) < 1e-9 && one(-0.5, -0.3) < 1e-9);
        for most in [0.1, 0.4, 0.7, 1.0] {
            let mut before = 0.0;
            for step in 0..=400 {
                let inclination = -1.0 + (1.0 + most) * step as f64 / 400.0;
                let now = one(inclination, most);
                assert!(now >= before && now - before < 0.01 * most + 1e-12, "{most} {inclination}: {before} {now}");
                before = now;
            }
        }
    }
}
