//! `tileglow spot`: one flight point, as JSON on stdout.

use super::files;
use crate::document::json::Range;
use crate::document::{Error, Problems};
use crate::flight::{SpotInput, spot};
use crate::units::{Kind, parse_option};

#[derive(clap::Args)]
pub struct Args {
    /// Geometric altitude, 0 to 1000 km: bare metres or with a unit (71km, 400000ft)
    #[arg(long, value_name = "A", allow_hyphen_values = true)]
    altitude: String,
    /// Speed, 0 to 20 km/s: bare m/s or with a unit (7.2km/s, 24000ft/s)
    #[arg(long, value_name = "V", allow_hyphen_values = true)]
    speed: String,
    /// Radius of the reference sphere: bare metres or with a unit (1ft)
    #[arg(long, value_name = "R", default_value = "1", allow_hyphen_values = true)]
    nose_radius: String,
    /// Emissivity of the wall, above 0 to 1
    #[arg(long, value_name = "E", default_value = "0.85", allow_hyphen_values = true)]
    emissivity: String,
    /// Hold the wall here for the hot-wall heating: bare K or with a unit (2000degF)
    #[arg(long, value_name = "T", allow_hyphen_values = true)]
    wall_temperature: Option<String>,
}

/// Reads every option, tells all their problems at once, prints the result.
pub fn run(args: Args) -> Result<(), Error> {
    let mut problems = Problems::default();
    let mut read = |option: &str, text: &str, kind: Kind, range: Range| {
        parse_option(option, text, kind, range).unwrap_or_else(|error| {
            problems.list.extend(error.problems);
            1.0
        })
    };
    let input = SpotInput {
        altitude_m: read("--altitude", &args.altitude, Kind::Length, SpotInput::ALTITUDE),
        speed_m_s: read("--speed", &args.speed, Kind::Speed, SpotInput::SPEED),
        nose_radius_m: read("--nose-radius", &args.nose_radius, Kind::Length, Range::POSITIVE),
        emissivity: read("--emissivity", &args.emissivity, Kind::Plain, SpotInput::EMISSIVITY),
        wall_temperature_k: args
            .wall_temperature
            .map(|text| read("--wall-temperature", &text, Kind::Temperature, SpotInput::WALL_TEMPERATURE)),
    };
    let input = problems.or_ok(input)?;
    files::print(&spot(input)?.to_json().pretty())
}
