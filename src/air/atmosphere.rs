//! The U.S. Standard Atmosphere 1976 from its definition, 0 to 1000 km; an exponential one; a table.

use super::upper;
use super::viscosity::sutherland;

/// The air at one altitude.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct State {
    /// Kinetic temperature; `None` where the atmosphere has none (exponential).
    pub temperature_k: Option<f64>,
    pub pressure_pa: Option<f64>,
    pub density_kg_m3: f64,
    /// sqrt(1.4 pressure / density); `None` where there is no pressure.
    pub sound_speed_m_s: Option<f64>,
    /// Sutherland's law, `None` above 86 km.
    pub viscosity_pa_s: Option<f64>,
}

/// An atmosphere that an entry flies through.
#[derive(Debug, Clone, PartialEq)]
pub enum Atmosphere {
    /// U.S. Standard Atmosphere 1976 (NOAA, NASA, USAF; NOAA-S/T 76-1562).
    Standard1976,
    /// Density alone: surface density times exp(-altitude / scale height).
    Exponential { surface_density_kg_m3: f64, scale_height_m: f64 },
    /// Temperature linear and pressure log-linear between points, both held outside; a perfect gas of the standard's molar mass. The axis
    /// strictly increases; all three as long as each other, one point at least, temperatures and pressures above 0.
    Table { altitude_m: Vec<f64>, temperature_k: Vec<f64>, pressure_pa: Vec<f64> },
}

/// Effective earth radius of the standard, m.
pub const STANDARD_RADIUS_M: f64 = 6_356_766.0;
pub const STANDARD_GRAVITY_M_S2: f64 = 9.80665;
/// Gas constant of the standard over its sea-level molar mass, J/(kg K): 8314.32 / 28.9644.
pub const STANDARD_GAS_CONSTANT: f64 = 8314.32 / 28.9644;
/// Highest altitude of the standard, m.
pub const HIGHEST_M: f64 = 1_000_000.0;
/// Where the layers of constant gradient end and the diffusion equations begin, m.
pub const UPPER_M: f64 = 86_000.0;

/// Geopotential base (m), molecular-scale temperature (K), gradient (K/m), base pressure (Pa) of the layers: table 4 of the standard; base
/// pressures by its equations 33a and 33b (the test computes them again).
const LAYERS: [[f64; 4]; 7] = [
    [0.0, 288.15, -0.0065, 101325.0],
    [11000.0, 216.65, 0.0, 22632.06397346291],
    [20000.0, 216.65, 0.001, 5474.8886696777745],
    [32000.0, 228.65, 0.0028, 868.0186847552279],
    [47000.0, 270.65, 0.0, 110.90630555496608],
    [51000.0, 270.65, -0.0028, 66.93887311868738],
    [71000.0, 214.65, -0.002, 3.956420428040732],
];

/// Molecular weight over its sea-level value every 500 m from 80 to 86 km: table 8 of the standard (from memory).
const WEIGHT_RATIO: [f64; 13] =
    [1.0, 0.999996, 0.999989, 0.999971, 0.999941, 0.999909, 0.999870, 0.999829, 0.999786, 0.999741, 0.999694, 0.999641, 0.999579];

impl Atmosphere {
    /// The air at a geometric altitude, m. The standard answers 0 to 1000 km and is held beyond either end.
    ///
    /// Standard, up to 86 km: the definition's closed form. Above: its diffusion equations, integrated beforehand and interpolated within
    /// 2e-4 (see `upper`); the result agrees with the printed tables within 0.1 % up to 1000 km (tests/published.rs).
    pub fn at(&self, altitude_m: f64) -> State {
        match self {
            Atmosphere::Standard1976 => standard(altitude_m),
            Atmosphere::Exponential { surface_density_kg_m3, scale_height_m } => State {
                temperature_k: None,
                pressure_pa: None,
                density_kg_m3: surface_density_kg_m3 * libm::exp(-altitude_m / scale_height_m),
                sound_speed_m_s: None,
                viscosity_pa_s: None,
            },
            Atmosphere::Table { altitude_m: axis, temperature_k, pressure_pa } => {
                let last = axis.len().saturating_sub(1);
                let high = axis.partition_point(|at| *at <= altitude_m).clamp(last.min(1), last);
                let low = high.saturating_sub(1);
                let of = |list: &[f64], i: usize| list.get(i).copied().unwrap_or(f64::MIN_POSITIVE);
                let width = of(axis, high) - of(axis, low);
                let share = if width > 0.0 { ((altitude_m - of(axis, low)) / width).clamp(0.0, 1.0) } else { 0.0 };
                let temperature = of(temperature_k, low) + share * (of(temperature_k, high) - of(temperature_k, low));
                let ratio = of(pressure_pa, high) / of(pressure_pa, low);
                let pressure = of(pressure_pa, low) * libm::exp(share * libm::log(ratio));
                let density = pressure / (STANDARD_GAS_CONSTANT * temperature);
                State::of(temperature, pressure, density, altitude_m <= UPPER_M)
            }
        }
    }
}

impl State {
    fn of(temperature: f64, pressure: f64, density: f64, viscous: bool) -> State {
        State {
            temperature_k: Some(temperature),
            pressure_pa: Some(pressure),
            density_kg_m3: density,
            sound_speed_m_s: Some((1.4 * pressure / density).sqrt()),
            viscosity_pa_s: viscous.then(|| sutherland(temperature)),
        }
    }

    /// Mean free path, m: 1 / (sqrt(2) pi d^2 n) with d = 3.65e-10 m and n = pressure / kT (the standard's section 1.3.11). `None` without
    /// temperature. The standard gives it at every altitude; above about 150 km its d is an extrapolation.
    pub fn mean_free_path_m(&self) -> Option<f64> {
        let number_density = self.pressure_pa? / (upper::BOLTZMANN * self.temperature_k?);
        Some(1.0 / (std::f64::consts::SQRT_2 * std::f64::consts::PI * 3.65e-10 * 3.65e-10 * number_density))
    }
}

fn standard(altitude_m: f64) -> State {
    if altitude_m > UPPER_M {
        let altitude = altitude_m.min(HIGHEST_M);
        let [pressure, density] = upper::pressure_and_density(altitude);
        return State::of(upper::temperature(altitude), pressure, density, false);
    }
    let altitude = altitude_m.max(0.0);
    let geopotential = STANDARD_RADIUS_M * altitude / (STANDARD_RADIUS_M + altitude);
    let mut layer = &LAYERS[0];
    for next in &LAYERS[1..] {
        if geopotential >= next[0] {
            layer = next;
        }
    }
    let [base, base_temperature, gradient, base_pressure] = *layer;
    let above = geopotential - base;
    let scale_temperature = base_temperature + gradient * above;
    let pressure = base_pressure * pressure_share(base_temperature, gradient, above);
    let density = pressure / (STANDARD_GAS_CONSTANT * scale_temperature);
    State::of(scale_temperature * weight_ratio(altitude), pressure, density, true)
}

/// Pressure over the base's after climbing `above` geopotential metres.
fn pressure_share(base_temperature: f64, gradient: f64, above: f64) -> f64 {
    const PER_KELVIN: f64 = STANDARD_GRAVITY_M_S2 / STANDARD_GAS_CONSTANT;
    if gradient == 0.0 {
        libm::exp(-PER_KELVIN * above / base_temperature)
    } else {
        libm::exp(-PER_KELVIN / gradient * libm::log((base_temperature + gradient * above) / base_temperature))
    }
}

/// Molecular weight over its sea-level value up to 86 km.
fn weight_ratio(altitude_m: f64) -> f64 {
    let position = ((altitude_m - 80_000.0) / 500.0).clamp(0.0, 12.0);
    let low = (position as usize).min(11);
    WEIGHT_RATIO[low] + (position - low as f64) * (WEIGHT_RATIO[low + 1] - WEIGHT_RATIO[low])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_base_pressures_follow_from_the_layers() {
        for pair in LAYERS.windows(2) {
            let [base, temperature, gradient, pressure] = pair[0];
            let next = pressure * pressure_share(temperature, gradient, pair[1][0] - base);
            assert!((next / pair[1][3] - 1.0).abs() < 1e-12, "{next} {}", pair[1][3]);
        }
    }

    #[test]
    fn verif_continuous_and_falling() {
        let mut last = Atmosphere::Standard1976.at(0.0);
        for i in 1..20_000 {
            let state = Atmosphere::Standard1976.at(i as f64 * 50.0);
            assert!(state.density_kg_m3 < last.density_kg_m3 && state.pressure_pa < last.pressure_pa, "at {} m", i * 50);
            assert!(state.density_kg_m3 / last.density_kg_m3 > 0.985, "at {} m", i * 50);
            last = state;
        }
    }

    #[test]
    fn verif_a_table_between_and_outside() {
        let table = Atmosphere::Table { altitude_m: vec![0.0, 1e4], temperature_k: vec![300.0, 200.0], pressure_pa: vec![1e5, 1e3] };
        let middle = table.at(5000.0);
        assert!((middle.temperature_k.unwrap() - 250.0).abs() < 1e-9 && (middle.pressure_pa.unwrap() - 1e4).abs() < 1e-6);
        assert_eq!(table.at(-5.0), table.at(0.0));
        assert_eq!(table.at(2e4).pressure_pa, table.at(1e4).pressure_pa);
        let one = Atmosphere::Table { altitude_m: vec![0.0], temperature_k: vec![300.0], pressure_pa: vec![1e5] };
        assert_eq!(one.at(7.0).pressure_pa, Some(1e5));
    }
}
