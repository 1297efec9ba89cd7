//! The U.S. Standard Atmosphere 1976 from 86 to 1000 km: temperature in closed form, pressure and density from its diffusion equations.
//!
//! The equations take a quadrature of some ten thousand steps, so they are integrated beforehand: `upper.bin` holds ln pressure and ln density
//! at the points of [`SEGMENTS`]; the test integrates them again and compares. Source of every equation and constant: U.S. Standard
//! Atmosphere 1976, NOAA-S/T 76-1562, sections 1.2 and 1.3, tables 3 and 7 (from memory; confirmed by the printed results).

static TABLE: &[u8] = include_bytes!("upper.bin");

/// Boltzmann's constant as the standard has it, J/K.
pub const BOLTZMANN: f64 = 1.380622e-23;

/// Start (km), step (km), number of steps.
const SEGMENTS: [(f64, f64, usize); 3] = [(86.0, 0.25, 136), (120.0, 2.0, 90), (300.0, 10.0, 70)];
const POINTS: usize = 136 + 90 + 70 + 1;

const RADIUS_KM: f64 = 6356.766;

/// Kinetic temperature, K, at 86 to 1000 km (equations 25, 27, 29, 31).
pub fn temperature(altitude_m: f64) -> f64 {
    let z = altitude_m / 1000.0;
    if z <= 91.0 {
        186.8673
    } else if z <= 110.0 {
        let share = (z - 91.0) / 19.9429;
        263.1905 - 76.3232 * (1.0 - share * share).sqrt()
    } else if z <= 120.0 {
        240.0 + 12.0 * (z - 110.0)
    } else {
        let height = (z - 120.0) * (RADIUS_KM + 120.0) / (RADIUS_KM + z);
        1000.0 - 640.0 * libm::exp(-0.01875 * height)
    }
}

fn stored(point: usize) -> [f64; 2] {
    let number = |at: usize| TABLE.get(8 * at..8 * at + 8).and_then(|b| b.try_into().ok()).map_or(0.0, f64::from_le_bytes);
    [number(2 * point), number(2 * point + 1)]
}

/// Pressure (Pa) and density (kg/m3) at 86 to 1000 km, from the table: cubic in altitude with continuous slope. Within 2e-4 of the
/// integration between the points, exact at them.
pub fn pressure_and_density(altitude_m: f64) -> [f64; 2] {
    let z = (altitude_m / 1000.0).clamp(86.0, 1000.0);
    let mut before = 0;
    let mut segment = SEGMENTS[0];
    for next in &SEGMENTS[1..] {
        if z >= next.0 {
            before += segment.2;
            segment = *next;
        }
    }
    let (start, step, steps) = segment;
    let position = (z - start) / step;
    let cell = (position as usize).min(steps - 1);
    let share = position - cell as f64;
    let (low, high) = (stored(before + cell), stored(before + cell + 1));
    let (left, right) = (slopes(before + cell), slopes(before + cell + 1));
    let mut result = [0.0; 2];
    for i in 0..2 {
        let (a, b) = (left[i] * step, right[i] * step);
        let rise = high[i] - low[i];
        result[i] = libm::exp(low[i] + share * (a + share * (3.0 * rise - 2.0 * a - b + share * (a + b - 2.0 * rise))));
    }
    result
}

/// Slopes per km at a point: of the parabola through it and its neighbours, one-sided at the ends.
fn slopes(point: usize) -> [f64; 2] {
    let altitude = |point: usize| {
        let mut left = point;
        for (start, step, steps) in SEGMENTS {
            if left <= steps {
                return start + step * left as f64;
            }
            left -= steps;
        }
        1000.0
    };
    let (low, high) = (point.saturating_sub(1), (point + 1).min(POINTS - 1));
    let (a, here, b) = (stored(low), stored(point), stored(high));
    let (before, after) = (altitude(point) - altitude(low), altitude(high) - altitude(point));
    let mut result = [0.0; 2];
    for i in 0..2 {
        let rise_before = if before > 0.0 { (here[i] - a[i]) / before } else { 0.0 };
        let rise_after = if after > 0.0 { (b[i] - here[i]) / after } else { 0.0 };
        result[i] = if before == 0.0 {
            rise_after
        } else if after == 0.0 {
            rise_before
        } else {
            (rise_before * after + rise_after * before) / (before + after)
        };
    }
    result
}

#[cfg(test)]
mod tests {
    use super::*;

    const GAS: f64 = 8314.32;
    const AVOGADRO: f64 = 6.022169e26;

    /// One species: molar mass, number density at 86 km (1/m3), a, b, alpha, Q, U, W, q, u, w (tables 3 and 7; per m, s, km).
    struct Diffusing([f64; 11]);
    const OXYGEN: Diffusing =
        Diffusing([15.9994, 8.6e16, 6.986e20, 0.75, 0.0, -5.809644e-4, 56.90311, 2.706240e-5, -3.416248e-3, 97.0, 5.008765e-4]);
    const OXYGEN_2: Diffusing = Diffusing([31.9988, 3.030898e19, 4.863e20, 0.75, 0.0, 1.366212e-4, 86.0, 8.333333e-5, 0.0, 0.0, 0.0]);
    const ARGON: Diffusing = Diffusing([39.948, 1.351400e18, 4.487e20, 0.87, 0.0, 9.434079e-5, 86.0, 8.333333e-5, 0.0, 0.0, 0.0]);
    const HELIUM: Diffusing = Diffusing([4.0026, 7.5817e14, 1.7e21, 0.691, -0.4, -2.457369e-4, 86.0, 6.666667e-4, 0.0, 0.0, 0.0]);
    const NITROGEN_2_86KM: f64 = 1.129794e20;

    fn gravity(z: f64) -> f64 {
        9.80665 * (RADIUS_KM / (RADIUS_KM + z)) * (RADIUS_KM / (RADIUS_KM + z))
    }

    /// dT/dz, K/km.
    fn gradient(z: f64) -> f64 {
        if z <= 91.0 {
            0.0
        } else if z <= 110.0 {
            let share = (z - 91.0) / 19.9429;
            76.3232 / 19.9429 * share / (1.0 - share * share).sqrt()
        } else if z <= 120.0 {
            12.0
        } else {
            let ratio = (RADIUS_KM + 120.0) / (RADIUS_KM + z);
            0.01875 * (1000.0 - temperature(z * 1000.0)) * ratio * ratio
        }
    }

    /// Eddy diffusion, m2/s.
    fn eddy(z: f64) -> f64 {
        if z < 95.0 {
            120.0
        } else if z < 115.0 {
            120.0 * libm::exp(1.0 - 400.0 / (400.0 - (z - 95.0) * (z - 95.0)))
        } else {
            0.0
        }
    }

    /// Mean molar mass in the diffusion and hydrostatic terms: sea level's up to 100 km, nitrogen's above.
    fn mass(z: f64) -> f64 {
        if z <= 100.0 { 28.9644 } else { 28.0134 }
    }

    /// The integrand of a species' ln number density (equation 36), per km; `background` is the number density it diffuses through.
    fn decay(species: &Diffusing, z: f64, background: f64) -> f64 {
        let [molar, _, a, b, alpha, q1, u1, w1, q2, u2, w2] = species.0;
        let t = temperature(z * 1000.0);
        let molecular = a * libm::pow(t / 273.15, b) / background;
        let k = eddy(z);
        // g M / (R T) in 1/m times 1000 for 1/km.
        let scale = 1000.0 * gravity(z) / (GAS * t);
        let thermal = alpha * gradient(z) / t;
        let mixed = molecular / (molecular + k) * (scale * (molar + mass(z) * k / molecular) + thermal);
        let cube = |x: f64| x * x * x;
        let mut flux = q1 * (z - u1) * (z - u1) * libm::exp(-w1 * cube(z - u1));
        if z < u2 {
            flux += q2 * (u2 - z) * (u2 - z) * libm::exp(-w2 * cube(u2 - z));
        }
        mixed + flux
    }

    /// Number densities N2, O, O2, Ar, He, H on a grid of `step` km from 86 to 1000 km, by the trapezoidal rule.
    fn integrate(step: f64) -> Vec<[f64; 6]> {
        let count = (914.0 / step).round() as usize + 1;
        let at = |i: usize| 86.0 + step * i as f64;
        let cold = temperature(86_000.0);
        let mut rows: Vec<[f64; 6]> = Vec::with_capacity(count);
        let mut sums = [0.0_f64; 5];
        let mut last = [0.0_f64; 5];
        for i in 0..count {
            let z = at(i);
            let t = temperature(z * 1000.0);
            let share = cold / t;
            let mut row = [0.0; 6];
            let mut advance = |k: usize, integrand: f64, low_side: f64, start: f64| {
                if i > 0 {
                    sums[k] += 0.5 * step * (last[k] + low_side);
                }
                last[k] = integrand;
                start * share * libm::exp(-sums[k])
            };
            // At 100 km the mass jumps: the step below ends with the lower side's value, the step above starts with the upper side's.
            let above = z + 1e-9;
            let hydrostatic = |z: f64| 1000.0 * gravity(z) * mass(z) / (GAS * t);
            row[0] = advance(0, hydrostatic(above), hydrostatic(z), NITROGEN_2_86KM);
            let background = row[0];
            row[1] = advance(1, decay(&OXYGEN, above, background), decay(&OXYGEN, z, background), OXYGEN.0[1]);
            row[2] = advance(2, decay(&OXYGEN_2, above, background), decay(&OXYGEN_2, z, background), OXYGEN_2.0[1]);
            let background = row[0] + row[1] + row[2];
            row[3] = advance(3, decay(&ARGON, above, background), decay(&ARGON, z, background), ARGON.0[1]);
            row[4] = advance(4, decay(&HELIUM, above, background), decay(&HELIUM, z, background), HELIUM.0[1]);
            rows.push(row);
        }
        hydrogen(&mut rows, step);
        rows
    }

    /// Atomic hydrogen from 150 km (equation 39): 8e10 1/m3 at 500 km, upward flux 7.2e11 1/(m2 s), diffusing through all the others.
    fn hydrogen(rows: &mut [[f64; 6]], step: f64) {
        let at = |i: usize| 86.0 + step * i as f64;
        let base = (414.0 / step).round() as usize;
        let first = (64.0 / step).round() as usize;
        let base_temperature = temperature(500_000.0);
        let factor = |t: f64| libm::pow(t / base_temperature, 0.75);
        let supply = |i: usize, rows: &[[f64; 6]], tau: f64| {
            let t = temperature(at(i) * 1000.0);
            let background: f64 = rows[i][..5].iter().sum();
            let molecular = 3.305e21 * libm::pow(t / 273.15, 0.5) / background;
            1000.0 * 7.2e11 / molecular * factor(t) * libm::exp(tau)
        };
        let weight = |i: usize| 1000.0 * gravity(at(i)) * 1.00797 / (GAS * temperature(at(i) * 1000.0));
        for up in [true, false] {
            let (mut tau, mut integral, mut i) = (0.0, 0.0, base);
            loop {
                rows[i][5] = (8e10 - integral) / factor(temperature(at(i) * 1000.0)) * libm::exp(-tau);
                if if up { i + 1 == rows.len() } else { i == first } {
                    break;
                }
                let next = if up { i + 1 } else { i - 1 };
                let sign = if up { step } else { -step };
                let next_tau = tau + 0.5 * sign * (weight(i) + weight(next));
                integral += 0.5 * sign * (supply(i, rows, tau) + supply(next, rows, next_tau));
                tau = next_tau;
                i = next;
            }
        }
    }

    const STEP: f64 = 0.01;

    fn log_pressure_and_density(rows: &[[f64; 6]], z: f64) -> [f64; 2] {
        let row = &rows[((z - 86.0) / STEP).round() as usize];
        let masses = [28.0134, 15.9994, 31.9988, 39.948, 4.0026, 1.00797];
        let number: f64 = row.iter().sum();
        let density: f64 = row.iter().zip(masses).map(|(n, m)| n * m / AVOGADRO).sum();
        [libm::log(number * BOLTZMANN * temperature(z * 1000.0)), libm::log(density)]
    }

    /// `TILEGLOW_WRITE_TABLES=1 cargo test --lib upper` writes the file again.
    #[test]
    fn verif_table_is_what_the_equations_give() {
        let rows = integrate(STEP);
        let mut bytes = Vec::new();
        let mut points = vec![86.0];
        for (start, step, steps) in SEGMENTS {
            points.extend((1..=steps).map(|i| start + step * i as f64));
        }
        assert_eq!(points.len(), POINTS);
        for z in &points {
            bytes.extend(log_pressure_and_density(&rows, *z).iter().flat_map(|v| v.to_le_bytes()));
        }
        if std::env::var_os("TILEGLOW_WRITE_TABLES").is_some() {
            std::fs::write(concat!(env!("CARGO_MANIFEST_DIR"), "/src/air/upper.bin"), &bytes).unwrap();
            return;
        }
        assert!(bytes == TABLE, "upper.bin is not what the equations give");
        // Halving the step moves nothing that counts.
        let coarse = integrate(2.0 * STEP);
        for i in (0..coarse.len()).step_by(500) {
            for k in 0..5 {
                assert!((coarse[i][k] / rows[2 * i][k] - 1.0).abs() < 1e-5, "species {k} at {} km", 86.0 + STEP * 2.0 * i as f64);
            }
        }
        // Between the points.
        let mut worst = (0.0, 0.0);
        for i in 1..91_400 {
            let z = 86.0 + STEP * i as f64;
            let want = log_pressure_and_density(&rows, z);
            let got = pressure_and_density(z * 1000.0);
            for k in 0..2 {
                let error = (libm::log(got[k]) - want[k]).abs();
                if error > worst.0 {
                    worst = (error, z);
                }
            }
        }
        println!("largest interpolation error {worst:?}");
        assert!(worst.0 < 2e-4, "{worst:?}");
        // Number densities of the standard's table VIII at 120 km and 500 km, 1/m3 (from memory).
        for (z, k, want, tolerance) in [
            (120.0, 0, 3.726e17, 2e-3),
            (120.0, 1, 9.275e16, 2e-3),
            (120.0, 2, 4.395e16, 2e-3),
            (120.0, 4, 3.888e13, 5e-3),
            (500.0, 1, 1.836e13, 5e-3),
            (500.0, 5, 8.0e10, 1e-6),
        ] {
            let got = rows[((z - 86.0) / STEP).round() as usize][k];
            assert!((got / want - 1.0_f64).abs() < tolerance, "species {k} at {z} km: {got:e} for {want:e}");
        }
    }
}
