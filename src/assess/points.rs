//! Body points in the assessment: the vehicle's table laid on its tiles, what it leaves open, and the shield's own factors written in the same format.

use super::prepare::{Prepared, no_tile};
use crate::document::text::significant;
use crate::heating::gap::Gaps;
use crate::heating::local::Local;
use crate::heating::points::Points;
use crate::heating::{Facet, Moment, Stream, Surface, Transition};
use crate::shield::{BODY_POINTS, Shield};

/// The model's line where a table counts.
pub const MODEL: &str = "body points: the vehicle's own table where it covers (plane through the 12 nearest of the same side; linear in angle of attack, sideslip and Mach)";

/// Significant digits of an exported number, and of a place: at a corner the factor changes hundredfold over a metre.
const DIGITS: usize = 9;
const PLACE_DIGITS: usize = 12;
/// States of an export: angles of attack, and Mach numbers.
const ATTACKS: usize = 3;
const MACHS: usize = 4;
/// Moments with less than this share of the largest reference heating do not count.
const HEATED: f64 = 0.01;

/// The vehicle's table on its tiles.
pub(super) fn of(shield: &Shield, facets: &[Facet]) -> Option<Points> {
    Points::new(facets, &shield.body_points)
}

fn heated(streams: &[Stream]) -> impl Iterator<Item = &Stream> {
    let most = streams.iter().map(|stream| stream.reference_heating_w_m2).fold(0.0, f64::max);
    streams.iter().filter(move |stream| stream.reference_heating_w_m2 > HEATED * most)
}

/// What the table covers, what it holds at its ends, and what it does not know; empty without a table.
pub fn warnings(prepared: &Prepared) -> Vec<String> {
    let Some(points) = &prepared.points else { return Vec::new() };
    let count = points.count(prepared.tiles.len());
    let mut warnings = vec![format!(
        "body points cover {} tiles, {} on the border are blended, {} beyond keep the geometric estimate",
        count.whole, count.border, count.beyond
    )];
    match points.regimes() {
        (true, false) => warnings.push("body points are laminar only: turbulent heating keeps its geometric ratio to laminar".to_string()),
        (false, true) => warnings.push("body points are turbulent only: laminar heating stays geometric".to_string()),
        _ => {}
    }
    for flight in &prepared.flights {
        let (mut outside, mut all) = ([0; 3], 0);
        for stream in heated(&flight.streams) {
            all += 1;
            let beyond = points.outside(stream.angle_of_attack_deg, stream.sideslip_deg, stream.mach);
            outside.iter_mut().zip(beyond).for_each(|(count, beyond)| *count += usize::from(beyond));
        }
        let names = [("angle of attack", "°"), ("sideslip", "°"), ("Mach number", "")];
        for (((name, unit), (low, high)), count) in names.into_iter().zip(points.ranges()).zip(outside) {
            if count > 0 {
                let of = format!("{name}, {low}{unit} to {high}{unit}");
                warnings.push(format!(
                    "{count} of {all} heated moments of {:?} lie outside the body points' {of}: held at its ends",
                    flight.name
                ));
            }
        }
    }
    warnings
}

/// What of a tile's factor comes from the table, in words; `None` where nothing does.
pub fn told(prepared: &Prepared, tile: usize) -> Option<String> {
    let points = prepared.points.as_ref()?;
    let cover = points.cover(tile);
    if cover <= 0.0 {
        return None;
    }
    let [attack, slip, mach] = points.ranges();
    let regimes = match points.regimes() {
        (true, true) => "laminar and turbulent",
        (true, false) => "laminar; turbulent by the geometric ratio",
        _ => "turbulent; laminar geometric",
    };
    Some(format!(
        "body points, {:.0} % of the factor: {regimes}; angle of attack {}° to {}°, sideslip {}° to {}°, Mach {} to {}",
        100.0 * cover,
        attack.0,
        attack.1,
        slip.0,
        slip.1,
        mach.0,
        mach.1
    ))
}

/// The border of the cover: pairs of a tile that the table mostly covers and a neighbour that it mostly does not.
pub fn border(shield: &Shield, prepared: &Prepared) -> Vec<(usize, usize)> {
    let Some(points) = &prepared.points else { return Vec::new() };
    let inside: Vec<bool> = (0..shield.tiles.len()).map(|tile| points.cover(tile) >= 0.5).collect();
    let is = |tile: usize| inside.get(tile).copied().unwrap_or(false);
    (shield.tiles.iter().enumerate().filter(|(tile, _)| is(*tile)))
        .flat_map(|(tile, at)| at.neighbours.iter().map(move |other| (tile, *other as usize)).filter(|(_, other)| !is(*other)))
        .collect()
}

/// The shield's own factors in the format of body_points.csv, at every tile's centre, laminar and turbulent; empty without an entry.
///
/// States: three angles of attack and four Mach numbers over the heated part of the first entry, its sideslip at the middle; the gas of each is that of the entry's
/// row nearest in Mach number. Factors stand before scale, zone, tile and catalycity factors and the cap, which act on an imported table again; they are to the
/// entry's reference sphere. Read back, they give the same factors at these states within 1e-7 (`verif_export_reads_back`).
pub fn csv(prepared: &Prepared) -> String {
    let mut text = BODY_POINTS.join(",");
    text.push('\n');
    let Some(flight) = prepared.flights.first() else { return text };
    let streams: Vec<&Stream> = heated(&flight.streams).collect();
    let range = |value: &dyn Fn(&Stream) -> f64| {
        streams.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), stream| (low.min(value(stream)), high.max(value(stream))))
    };
    let (attack, mach) = (range(&|s| s.angle_of_attack_deg), range(&|s| s.mach));
    let Some(middle) = streams.get(streams.len() / 2) else { return text };
    let rounded = |value: f64| significant(value, DIGITS).parse().unwrap_or(value);
    let spread = |(low, high): (f64, f64), count: usize| {
        let mut values: Vec<f64> = (0..count).map(|i| rounded(low + (high - low) * i as f64 / (count - 1) as f64)).collect();
        values.dedup();
        values
    };
    let bare = |tile: usize| match prepared.tiles.get(tile) {
        Some(tile) => Local { multiplier: 1.0, catalycity: 1.0, recombination: None, step_m: 0.0, gaps: Gaps::default(), ..tile.local },
        None => no_tile(),
    };
    let surface = Surface::new(&prepared.body, prepared.tiles.len(), bare).with_points(prepared.points.as_ref());
    for attack_deg in spread(attack, ATTACKS) {
        for mach in spread(mach, MACHS) {
            let Some(stream) = state(&streams, attack_deg, mach) else { continue };
            for (regime, transition) in [("laminar", Transition::None), ("turbulent", Transition::Time { time_s: -1e9 })] {
                let moment =
                    Moment::new(&stream, &prepared.body, prepared.choices(), &transition).with_points(prepared.points.as_ref(), &stream);
                let ends = [attack_deg, middle.sideslip_deg, mach].map(|value| significant(value, DIGITS)).join(",");
                let radius = significant(stream.reference_radius_m, 12);
                for tile in 0..prepared.tiles.len() {
                    let (Some(chain), Some(centre)) = (moment.chain(&surface, tile), prepared.centre(tile)) else { continue };
                    let factor = chain.factor / chain.uncapped.max(1e-9);
                    let place = centre.map(|x| significant(x, PLACE_DIGITS)).join(",");
                    text.push_str(&format!("{place},{ends},{regime},{},{radius}\n", significant(factor, DIGITS)));
                }
            }
        }
    }
    text
}

/// The stream of the entry's row nearest in Mach number, turned to an angle of attack.
fn state(streams: &[&Stream], attack_deg: f64, mach: f64) -> Option<Stream> {
    let near = streams.iter().min_by(|a, b| (a.mach - mach).abs().total_cmp(&(b.mach - mach).abs()))?;
    let middle = streams.get(streams.len() / 2)?;
    let wind = crate::heating::place::wind(attack_deg, middle.sideslip_deg);
    Some(Stream { angle_of_attack_deg: attack_deg, sideslip_deg: middle.sideslip_deg, mach, wind, ..**near })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::assess::surface;
    use crate::scenario::Scenario;
    use crate::shield::{VehicleFile, demo, load};

    fn demonstration(points: Option<String>) -> (Shield, Prepared) {
        let mut files = demo::files();
        files.extend(points.map(|text| VehicleFile { name: "body_points.csv".to_string(), bytes: text.into_bytes() }));
        let shield = load(&files, "Whinchat").unwrap();
        let scenario = Scenario::read("scenario.json", &demo::scenario_json(), &[]).unwrap();
        let prepared = Prepared::new(&shield, &scenario).unwrap();
        (shield, prepared)
    }

    /// The whole vehicle written and read back: every tile covered, and a second writing of it gives the same factors at the table's states.
    #[test]
    fn verif_export_reads_back() {
        let (_, before) = demonstration(None);
        let first = csv(&before);
        let (_, after) = demonstration(Some(first.clone()));
        let points = after.points.as_ref().unwrap();
        assert_eq!(points.count(after.tiles.len()).whole, after.tiles.len());
        let second = csv(&after);
        let factor = |line: &str| line.split(',').nth(7).and_then(|cell| cell.parse::<f64>().ok());
        let (mut worst, mut rows) = (0.0_f64, 0);
        for (a, b) in first.lines().zip(second.lines()).skip(1) {
            let (a, b) = (factor(a).unwrap(), factor(b).unwrap());
            worst = worst.max((a / b - 1.0).abs());
            rows += 1;
        }
        println!("{rows} rows, worst {worst:.1e}");
        assert!(rows == 2 * ATTACKS * MACHS * after.tiles.len() && worst < 1e-7, "{rows} {worst}");
        // Between its states the flight differs little from the geometric one.
        let (own, told) = (surface::peaks(&before, 0, 0..200), surface::peaks(&after, 0, 0..200));
        let difference = own.iter().zip(&told).map(|(a, b)| (a.peak_k - b.peak_k).abs()).fold(0.0, f64::max);
        println!("peaks differ by up to {difference:.0} K");
        assert!(difference < 60.0, "{difference}");
    }

    /// A foreign grid, coarse and of constant factor, over the belly's rear half only, at one state: what is inside takes it, what is far keeps the geometric estimate
    /// bit for bit, the lee side takes nothing, and all is told.
    #[test]
    fn val_foreign_grid() {
        let (shield, before) = demonstration(None);
        let (low, high) =
            shield.tiles.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), t| (a.min(t.facet.centre.x), b.max(t.facet.centre.x)));
        let from = 0.5 * (low + high);
        let belly: Vec<usize> = (0..shield.tiles.len())
            .filter(|i| shield.tiles[*i].facet.normal.z < -0.9 && shield.tiles[*i].facet.centre.x > from)
            .step_by(5)
            .collect();
        let mut text = BODY_POINTS.join(",") + "\n";
        for i in &belly {
            let c = shield.tiles[*i].facet.centre;
            text += &format!("{},{},{},40,0,20,laminar,0.3,0.5\n", c.x + 0.01, c.y - 0.02, c.z);
        }
        let (_, after) = demonstration(Some(text));
        let points = after.points.as_ref().unwrap();
        let count = points.count(after.tiles.len());
        println!("{count:?} from {} points", belly.len());
        assert!(count.whole > 2 * belly.len() && count.border > 0 && count.beyond > after.tiles.len() / 2, "{count:?}");
        let time_s = before.flights[0].streams[before.flights[0].streams.len() / 3].time_s;
        for (tile, at) in shield.tiles.iter().enumerate() {
            let (was, is) = (surface::chain(&before, 0, tile, time_s).unwrap(), surface::chain(&after, 0, tile, time_s).unwrap());
            let cover = points.cover(tile);
            if at.facet.normal.z > 0.0 {
                assert_eq!(cover, 0.0, "{} on the lee side", at.id);
            }
            if cover == 0.0 {
                assert_eq!(was, is, "{}", at.id);
                assert!(told(&after, tile).is_none());
            } else if cover == 1.0 && after.tiles[tile].local.step_m == 0.0 && after.tiles[tile].local.gaps == Gaps::default() {
                let scale = after.tiles[tile].local.multiplier * (is.reference_radius_m / 0.5).sqrt();
                let want = 0.3 * scale * is.uncapped;
                // Catalycity may save up to what the geometric chain saves.
                assert!((is.factor / want - 1.0).abs() < 1e-9 || is.factor < want, "{}: {} for {want}", at.id, is.factor);
                assert!(told(&after, tile).is_some_and(|told| told.contains("100 %") && told.contains("Mach 20")));
            }
        }
        let said = warnings(&after).join("\n");
        for part in ["cover", "laminar only", "outside the body points' Mach number, 20 to 20", "outside the body points' angle of attack"]
        {
            assert!(said.contains(part), "{part:?} in {said}");
        }
        assert!(warnings(&before).is_empty());
    }

    #[test]
    #[ignore = "a benchmark"]
    fn pace_with_points() {
        let (_, before) = demonstration(None);
        let (_, after) = demonstration(Some(csv(&before)));
        for transition in [Transition::None, Transition::MomentumThickness { limit: 200.0 }] {
            let pace = |prepared: &Prepared| {
                let streams = &prepared.flights[0].streams;
                let moment = |stream: &Stream| {
                    Moment::new(stream, &prepared.body, prepared.choices(), &transition).with_points(prepared.points.as_ref(), stream)
                };
                let moments: Vec<Moment> = streams.iter().map(moment).collect();
                let mut best = f64::INFINITY;
                for _ in 0..9 {
                    let start = std::time::Instant::now();
                    for moment in &moments {
                        for group in 0..prepared.surface.groups() {
                            std::hint::black_box(prepared.surface.heating(group, moment));
                        }
                    }
                    best = best.min(start.elapsed().as_secs_f64());
                }
                (1e3 * best, moments.len())
            };
            let ((own, rows), (table, _)) = (pace(&before), pace(&after));
            println!("{transition:?}: {rows} rows, without a table {own:.1} ms, with one {table:.1} ms, ratio {:.2}", table / own);
        }
    }
}
