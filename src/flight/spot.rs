//! One flight point: the air, the reference heating, and the wall temperature at which it is radiated away.

use super::reference::sutton_graves;
use crate::air::atmosphere::HIGHEST_M;
use crate::air::{Atmosphere, equilibrium, shock};
use crate::document::json::Range;
use crate::document::{Error, Json};
use sha2::{Digest, Sha256};

/// The result's format key.
pub const FORMAT: &str = "tileglow-spot/1";
/// Stefan-Boltzmann constant, W/(m2 K4) (CODATA 2018).
pub const STEFAN_BOLTZMANN: f64 = 5.670374419e-8;

/// Where and for what.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpotInput {
    /// Geometric, 0 to 1000 km.
    pub altitude_m: f64,
    /// 0 to 20 km/s.
    pub speed_m_s: f64,
    /// Above 0.
    pub nose_radius_m: f64,
    /// In (0, 1].
    pub emissivity: f64,
    /// Where the wall is held; `None` leaves it at equilibrium.
    pub wall_temperature_k: Option<f64>,
}

impl SpotInput {
    pub const ALTITUDE: Range = Range::between(0.0, HIGHEST_M);
    pub const SPEED: Range = Range::between(0.0, 20_000.0);
    pub const EMISSIVITY: Range = Range::above_to(0.0, 1.0);
    pub const WALL_TEMPERATURE: Range = Range::above_to(0.0, equilibrium::HIGHEST_K);
    pub const DEFAULT_NOSE_RADIUS_M: f64 = 1.0;
    pub const DEFAULT_EMISSIVITY: f64 = 0.85;

    fn to_json(self) -> Json {
        Json::object([
            ("altitude_m", Json::Number(self.altitude_m)),
            ("speed_m_s", Json::Number(self.speed_m_s)),
            ("nose_radius_m", Json::Number(self.nose_radius_m)),
            ("emissivity", Json::Number(self.emissivity)),
            ("wall_temperature_k", Json::number_or_null(self.wall_temperature_k)),
        ])
    }
}

/// What the flow and the wall do at one flight point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spot {
    pub input: SpotInput,
    pub temperature_k: f64,
    pub pressure_pa: f64,
    pub density_kg_m3: f64,
    pub sound_speed_m_s: f64,
    pub viscosity_pa_s: Option<f64>,
    pub mach: f64,
    pub dynamic_pressure_pa: f64,
    pub stagnation_pressure_pa: f64,
    pub mean_free_path_m: f64,
    pub reference_heating_w_m2: f64,
    pub recovery_enthalpy_j_kg: f64,
    pub wall_enthalpy_j_kg: f64,
    pub hot_wall_heating_w_m2: f64,
    pub equilibrium_temperature_k: f64,
}

/// Computes one flight point in the standard atmosphere; the input's ranges were checked where it came in.
///
/// 1. The air at the altitude, and the stagnation state behind a normal shock in equilibrium air.
/// 2. Cold-wall heating by Sutton-Graves; recovery enthalpy speed^2/2 plus the static one.
/// 3. The wall temperature at which hot-wall heating is radiated away, and heating and enthalpy at the wall.
pub fn spot(input: SpotInput) -> Result<Spot, Error> {
    let air = Atmosphere::Standard1976.at(input.altitude_m);
    let (Some(temperature_k), Some(pressure_pa), Some(sound_speed_m_s), Some(mean_free_path_m)) =
        (air.temperature_k, air.pressure_pa, air.sound_speed_m_s, air.mean_free_path_m())
    else {
        return Err(Error::failed("the standard atmosphere gave no temperature"));
    };
    let static_enthalpy = equilibrium::enthalpy(temperature_k, pressure_pa);
    let stagnation = shock::stagnation(air.density_kg_m3, pressure_pa, static_enthalpy, input.speed_m_s);
    let cold = sutton_graves(air.density_kg_m3, input.nose_radius_m, input.speed_m_s);
    let recovery = stagnation.enthalpy_j_kg;
    let wall_at = |temperature_k: f64| equilibrium::enthalpy_and_slope(temperature_k, stagnation.pressure_pa);
    let equilibrium_temperature_k = equilibrium_temperature(cold, recovery, input.emissivity, wall_at)?;
    let wall_temperature = input.wall_temperature_k.unwrap_or(equilibrium_temperature_k);
    let wall_enthalpy_j_kg = wall_at(wall_temperature)[0];
    Ok(Spot {
        input,
        temperature_k,
        pressure_pa,
        density_kg_m3: air.density_kg_m3,
        sound_speed_m_s,
        viscosity_pa_s: air.viscosity_pa_s,
        mach: input.speed_m_s / sound_speed_m_s,
        dynamic_pressure_pa: 0.5 * air.density_kg_m3 * input.speed_m_s * input.speed_m_s,
        stagnation_pressure_pa: stagnation.pressure_pa,
        mean_free_path_m,
        reference_heating_w_m2: cold,
        recovery_enthalpy_j_kg: recovery,
        wall_enthalpy_j_kg,
        hot_wall_heating_w_m2: cold * (1.0 - wall_enthalpy_j_kg / recovery),
        equilibrium_temperature_k,
    })
}

/// The temperature, K, at which `cold_w_m2` (1 - wall enthalpy / recovery enthalpy) equals emissivity sigma T^4, radiating to 0 K: a
/// Newton iteration kept between a lower and an upper bound, to 1e-12 of the temperature. `wall` gives enthalpy and slope.
pub fn equilibrium_temperature(cold_w_m2: f64, recovery_j_kg: f64, emissivity: f64, wall: impl Fn(f64) -> [f64; 2]) -> Result<f64, Error> {
    if cold_w_m2 <= 0.0 {
        return Ok(0.0);
    }
    let radiated = emissivity * STEFAN_BOLTZMANN;
    let (mut low, mut high) = (0.0, libm::pow(cold_w_m2 / radiated, 0.25));
    let mut guess = 0.98 * high;
    for _ in 0..200 {
        let [enthalpy, slope] = wall(guess);
        let cube = guess * guess * guess;
        let gain = cold_w_m2 * (1.0 - enthalpy / recovery_j_kg) - radiated * cube * guess;
        if gain > 0.0 {
            low = guess
        } else {
            high = guess
        }
        let newton = guess + gain / (cold_w_m2 * slope / recovery_j_kg + 4.0 * radiated * cube);
        // At the root a bound is the guess itself: the step's size decides before the bounds do.
        if (newton - guess).abs() <= 1e-12 * guess {
            return Ok(newton);
        }
        let next = if newton > low && newton < high { newton } else { 0.5 * (low + high) };
        guess = next;
    }
    Err(Error::failed(format!("the wall temperature did not settle between {low} K and {high} K")))
}

impl Spot {
    /// The `tileglow-spot/1` result.
    pub fn to_json(&self) -> Json {
        let number = Json::Number;
        let inputs = self.input.to_json();
        let digest: String = Sha256::digest(inputs.canonical().as_bytes()).iter().map(|byte| format!("{byte:02x}")).collect();
        Json::object([
            ("format", Json::text(FORMAT)),
            ("tileglow", Json::text(crate::VERSION)),
            ("altitude_m", number(self.input.altitude_m)),
            ("speed_m_s", number(self.input.speed_m_s)),
            ("temperature_k", number(self.temperature_k)),
            ("pressure_pa", number(self.pressure_pa)),
            ("density_kg_m3", number(self.density_kg_m3)),
            ("sound_speed_m_s", number(self.sound_speed_m_s)),
            ("viscosity_pa_s", Json::number_or_null(self.viscosity_pa_s)),
            ("mach", number(self.mach)),
            ("dynamic_pressure_pa", number(self.dynamic_pressure_pa)),
            ("reference_heating_w_m2", number(self.reference_heating_w_m2)),
            ("recovery_enthalpy_j_kg", number(self.recovery_enthalpy_j_kg)),
            ("wall_enthalpy_j_kg", number(self.wall_enthalpy_j_kg)),
            ("hot_wall_heating_w_m2", number(self.hot_wall_heating_w_m2)),
            ("equilibrium_temperature_k", number(self.equilibrium_temperature_k)),
            ("stagnation_pressure_pa", number(self.stagnation_pressure_pa)),
            ("mean_free_path_m", number(self.mean_free_path_m)),
            ("inputs", inputs),
            ("inputs_digest", Json::Text(digest)),
            ("models", models()),
        ])
    }
}

/// The models behind a spot, each with its source and stated error.
fn models() -> Json {
    let model = |name: &str, source: &str, error: &str| {
        Json::object([("name", Json::text(name)), ("source", Json::text(source)), ("stated_error", Json::text(error))])
    };
    Json::List(vec![
        model(
            "atmosphere",
            "U.S. Standard Atmosphere 1976, from its definition",
            "1e-6 of the definition up to 86 km, 2e-4 above; the real air of a day differs, by tens of per cent above 60 km (common practice)",
        ),
        model(
            "enthalpy",
            "air in chemical equilibrium from partition functions (Huber and Herzberg 1979, NIST levels), at the stagnation pressure",
            "0.1 % of published tables up to 2,000 K, 0.1 % of its own direct solution up to 20,000 K; dissociated air not yet held against a published table; equilibrium itself is an assumption",
        ),
        model(
            "stagnation",
            "normal shock in equilibrium air, then isentropic to rest",
            "0.3 % of the perfect gas's stagnation pressure up to Mach 2; mass and energy to 1e-6",
        ),
        model(
            "reference_heating",
            "Sutton and Graves, NASA TR R-376 (1971), 1.7415e-4 sqrt(density/radius) speed^3, cold wall, continuum, no radiation from the gas",
            "correlations by other authors lie up to 13 % above at 7 km/s; too high where the mean free path nears the nose radius",
        ),
        model("equilibrium_temperature", "energy balance, radiating to 0 K", "1e-9 of the temperature for the given heating"),
    ])
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Energy in = energy out at the equilibrium temperature, wherever the point.
        #[test]
        fn verif_balance(altitude in 0.0..1e6_f64, speed in 0.0..2e4_f64, radius in 1e-3..100.0_f64, emissivity in 0.01..1.0_f64) {
            let input = SpotInput { altitude_m: altitude, speed_m_s: speed, nose_radius_m: radius, emissivity, wall_temperature_k: None };
            let spot = spot(input).unwrap();
            let t = spot.equilibrium_temperature_k;
            let out = emissivity * STEFAN_BOLTZMANN * t * t * t * t;
            prop_assert!((spot.hot_wall_heating_w_m2 - out).abs() <= 1e-8 * out.max(1e-300));
            prop_assert!(spot.stagnation_pressure_pa.is_finite() && spot.stagnation_pressure_pa >= spot.pressure_pa);
        }
    }

    #[test]
    fn verif_a_held_wall_leaves_the_equilibrium_as_it_is() {
        let free = SpotInput { altitude_m: 71000.0, speed_m_s: 7200.0, nose_radius_m: 1.0, emissivity: 0.85, wall_temperature_k: None };
        let held = SpotInput { wall_temperature_k: Some(1400.0), ..free };
        let (free, held) = (spot(free).unwrap(), spot(held).unwrap());
        assert_eq!(free.equilibrium_temperature_k, held.equilibrium_temperature_k);
        assert!(held.hot_wall_heating_w_m2 > free.hot_wall_heating_w_m2);
    }
}
