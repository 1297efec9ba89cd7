//! The numbers and plans of an entry that an input may change. An imported flight has none: it was flown elsewhere.

use crate::air::Atmosphere;
use crate::document::Sorting as _;
use crate::document::{Curve, Table};
use crate::flight::{Course, Entry};

/// A number of an entry.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Number {
    Altitude,
    Speed,
    FlightPath,
    Heading,
    Latitude,
    Mass,
    ReferenceArea,
    NoseRadius,
    Sideslip,
}

/// A plan of an entry: an angle over speed or time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Plan {
    Attack,
    Bank,
}

impl Plan {
    /// The key of the entry document, which also names its handles on the page.
    pub fn key(self) -> &'static str {
        match self {
            Plan::Attack => "angle_of_attack",
            Plan::Bank => "bank",
        }
    }

    /// The range that the page lets a plan take, degrees.
    pub fn range_deg(self) -> (f64, f64) {
        match self {
            Plan::Attack => (0.0, 50.0),
            Plan::Bank => (-90.0, 90.0),
        }
    }
}

fn place(entry: &mut Entry, which: Number) -> &mut f64 {
    match which {
        Number::Altitude => &mut entry.altitude_m,
        Number::Speed => &mut entry.speed_m_s,
        Number::FlightPath => &mut entry.flight_path_deg,
        Number::Heading => &mut entry.heading_deg,
        Number::Latitude => &mut entry.latitude_deg,
        Number::Mass => &mut entry.mass_kg,
        Number::ReferenceArea => &mut entry.reference_area_m2,
        Number::NoseRadius => &mut entry.nose_radius_m,
        Number::Sideslip => &mut entry.sideslip_deg,
    }
}

/// The number as the entry has it, SI with angles in degrees; `None` for an imported flight.
pub fn number(course: &Course, which: Number) -> Option<f64> {
    let Course::Entry(entry) = course else { return None };
    Some(match which {
        Number::Altitude => entry.altitude_m,
        Number::Speed => entry.speed_m_s,
        Number::FlightPath => entry.flight_path_deg,
        Number::Heading => entry.heading_deg,
        Number::Latitude => entry.latitude_deg,
        Number::Mass => entry.mass_kg,
        Number::ReferenceArea => entry.reference_area_m2,
        Number::NoseRadius => entry.nose_radius_m,
        Number::Sideslip => entry.sideslip_deg,
    })
}

/// Sets it; false where the course has no such number.
pub fn set_number(course: &mut Course, which: Number, value: f64) -> bool {
    match course {
        Course::Entry(entry) => {
            *place(entry, which) = value;
            true
        }
        Course::Imported(_) => false,
    }
}

pub fn plan(course: &Course, which: Plan) -> Option<&Curve> {
    match (course, which) {
        (Course::Entry(entry), Plan::Attack) => Some(&entry.angle_of_attack_deg),
        (Course::Entry(entry), Plan::Bank) => Some(&entry.bank_deg),
        (Course::Imported(_), _) => None,
    }
}

pub fn set_plan(course: &mut Course, which: Plan, curve: Curve) -> bool {
    match (course, which) {
        (Course::Entry(entry), Plan::Attack) => entry.angle_of_attack_deg = curve,
        (Course::Entry(entry), Plan::Bank) => entry.bank_deg = curve,
        (Course::Imported(_), _) => return false,
    }
    true
}

/// The largest magnitude of a plan, degrees: what its slider shows.
pub fn largest_deg(curve: &Curve) -> f64 {
    match curve {
        Curve::Constant(value) => value.abs(),
        Curve::Table(table) => table.value.iter().fold(0.0, |largest: f64, value| largest.max(value.abs())),
    }
}

/// The plan moved as a whole so that its largest magnitude becomes `largest_deg`: every point by the same number of degrees away from zero,
/// none across zero, so that reversals stay reversals.
pub fn shifted(curve: &Curve, to_largest_deg: f64) -> Curve {
    let by = to_largest_deg - largest_deg(curve);
    let shift = |value: f64| if value < 0.0 { -(value.abs() + by).max(0.0) } else { (value + by).max(0.0) };
    match curve {
        Curve::Constant(value) => Curve::Constant(shift(*value)),
        Curve::Table(table) => {
            let mut table = table.clone();
            for value in &mut table.value {
                *value = shift(*value);
            }
            Curve::Table(table)
        }
    }
}

/// Speed or time that a new reversal takes.
const REVERSAL_M_S: f64 = 100.0;
const REVERSAL_S: f64 = 10.0;

/// Whether the points of a plan run against the flight: over speed, which falls.
fn backward(table: &Table) -> bool {
    table.axis == "speed_m_s"
}

/// The reversals of a bank plan: each the index of the point before which (on its axis) the sign changes, counted between neighbours.
pub fn reversals(curve: &Curve) -> Vec<usize> {
    let Curve::Table(table) = curve else { return Vec::new() };
    (table.value.windows(2).enumerate()).filter(|(_, pair)| pair[0] * pair[1] < 0.0).map(|(i, _)| i).collect()
}

/// The plan with a reversal at `at` on its axis: what is flown after it changes sign. A constant becomes a plan over time.
///
/// `None` where there is no bank to reverse, or where another reversal is nearer than half its own width.
pub fn with_reversal(curve: &Curve, at: f64) -> Option<Curve> {
    let table = match curve {
        Curve::Constant(value) => Table { axis: "time_s", at: vec![0.0], value: vec![*value] },
        Curve::Table(table) => table.clone(),
    };
    let half = 0.5 * if backward(&table) { REVERSAL_M_S } else { REVERSAL_S };
    let value = table.value_at(at);
    let near = |i: &usize| table.at.get(*i).zip(table.at.get(i + 1)).is_some_and(|(low, high)| at > low - half && at < high + half);
    if value == 0.0 || at - half <= 0.0 || reversals(&Curve::Table(table.clone())).iter().any(near) {
        return None;
    }
    let late = |x: f64| if backward(&table) { x < at } else { x > at };
    let mut points: Vec<[f64; 2]> = (table.at.iter().zip(&table.value))
        .filter(|(x, _)| (*x - at).abs() > half)
        .map(|(x, value)| [*x, if late(*x) { -value } else { *value }])
        .collect();
    for x in [at - half, at + half] {
        points.push([x, if late(x) { -value } else { value }]);
    }
    points.order_by(|a, b| a[0].total_cmp(&b[0]));
    Some(of_points(table.axis, &points))
}

/// The plan without one of its reversals: what is flown after it changes sign back.
pub fn without_reversal(curve: &Curve, index: usize) -> Option<Curve> {
    let Curve::Table(table) = curve else { return None };
    reversals(curve).contains(&index).then_some(())?;
    let mut table = table.clone();
    let flipped = if backward(&table) { 0..index + 1 } else { index + 1..table.value.len() };
    for value in table.value.get_mut(flipped)? {
        *value = -*value;
    }
    Some(Curve::Table(table))
}

/// A reversal moved along the plan's axis so that its middle stands at `at`, its width kept, between the points beside it.
pub fn moved_reversal(curve: &Curve, index: usize, at: f64) -> Option<Curve> {
    let Curve::Table(table) = curve else { return None };
    reversals(curve).contains(&index).then_some(())?;
    let mut table = table.clone();
    let (low, high) = (*table.at.get(index)?, *table.at.get(index + 1)?);
    let half = 0.5 * (high - low);
    let room = 1e-3 * (table.at.last()? - table.at.first()?).abs().max(1.0);
    let least = index.checked_sub(1).and_then(|i| table.at.get(i)).map_or(0.0, |before| before + room) + half;
    let most = table.at.get(index + 2).map_or(f64::MAX, |after| after - room) - half;
    if least > most {
        return None;
    }
    let middle = at.clamp(least, most);
    *table.at.get_mut(index)? = middle - half;
    *table.at.get_mut(index + 1)? = middle + half;
    Some(Curve::Table(table))
}

fn of_points(axis: &'static str, points: &[[f64; 2]]) -> Curve {
    Curve::Table(Table { axis, at: points.iter().map(|point| point[0]).collect(), value: points.iter().map(|point| point[1]).collect() })
}

/// The deflection of a control surface that is the same throughout, degrees; `None` where it follows the speed, or the flight was flown elsewhere.
pub fn deflection(course: &Course, surface: &str) -> Option<f64> {
    let Course::Entry(entry) = course else { return None };
    match entry.deflection_deg.iter().find(|(name, _)| name == surface) {
        None => Some(0.0),
        Some((_, Curve::Constant(value))) => Some(*value),
        Some((_, Curve::Table(_))) => None,
    }
}

/// Sets it; at 0 the surface leaves the document, which means the same.
pub fn set_deflection(course: &mut Course, surface: &str, value_deg: f64) -> bool {
    let Course::Entry(entry) = course else { return false };
    entry.deflection_deg.retain(|(name, _)| name != surface);
    if value_deg != 0.0 {
        entry.deflection_deg.push((surface.to_string(), Curve::Constant(value_deg)));
    }
    true
}

/// The atmospheres that an entry may fly through, in the order in which they are offered.
pub const ATMOSPHERES: [&str; 3] = ["standard 1976", "exponential", "its own table"];

/// Which of [`ATMOSPHERES`] an entry has; `None` for an imported flight.
pub fn atmosphere(course: &Course) -> Option<usize> {
    let Course::Entry(entry) = course else { return None };
    Some(match entry.atmosphere {
        Atmosphere::Standard1976 => 0,
        Atmosphere::Exponential { .. } => 1,
        Atmosphere::Table { .. } => 2,
    })
}

/// Chooses one. The exponential begins as FORMATS.md writes it; the table as the standard's own values every 5 km to 150 km, to be edited in the
/// scenario's file or replaced by a dropped CSV.
pub fn choose_atmosphere(course: &mut Course, chosen: usize) -> bool {
    let Course::Entry(entry) = course else { return false };
    entry.atmosphere = match chosen {
        0 => Atmosphere::Standard1976,
        1 => Atmosphere::Exponential { surface_density_kg_m3: 1.225, scale_height_m: 7160.0 },
        2 => {
            let altitude_m: Vec<f64> = (0..=30).map(|step| 5000.0 * f64::from(step)).collect();
            let air: Vec<_> = altitude_m.iter().map(|altitude| Atmosphere::Standard1976.at(*altitude)).collect();
            let temperature_k = air.iter().filter_map(|state| state.temperature_k).collect();
            let pressure_pa = air.iter().filter_map(|state| state.pressure_pa).collect();
            Atmosphere::Table { altitude_m, temperature_k, pressure_pa }
        }
        _ => return false,
    };
    true
}

/// Surface density (kg/m3) and scale height (m) of an exponential atmosphere.
pub fn exponential(course: &Course) -> Option<[f64; 2]> {
    match course {
        Course::Entry(Entry { atmosphere: Atmosphere::Exponential { surface_density_kg_m3, scale_height_m }, .. }) => {
            Some([*surface_density_kg_m3, *scale_height_m])
        }
        _ => None,
    }
}

pub fn set_exponential(course: &mut Course, density_kg_m3: Option<f64>, height_m: Option<f64>) -> bool {
    match course {
        Course::Entry(Entry { atmosphere: Atmosphere::Exponential { surface_density_kg_m3, scale_height_m }, .. }) => {
            *surface_density_kg_m3 = density_kg_m3.unwrap_or(*surface_density_kg_m3);
            *scale_height_m = height_m.unwrap_or(*scale_height_m);
            true
        }
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_reversals_come_go_and_move() {
        let plan = Curve::Table(Table { axis: "speed_m_s", at: vec![600.0, 3000.0, 7000.0], value: vec![20.0, 40.0, 60.0] });
        let turned = with_reversal(&plan, 5000.0).unwrap();
        // After the flight has slowed down past 5,000 m/s the sign is the other one.
        assert_eq!((turned.value_at(7000.0), turned.value_at(3000.0), turned.value_at(600.0)), (60.0, -40.0, -20.0));
        assert!((turned.value_at(5050.0) - 50.0).abs() < 1e-9 && (turned.value_at(4950.0) + 50.0).abs() < 1e-9);
        assert_eq!(reversals(&turned), [2]);
        let moved = moved_reversal(&turned, 2, 4000.0).unwrap();
        assert!(moved.value_at(4000.0).abs() < 1e-9 && moved.value_at(4100.0) > 0.0 && moved.value_at(3900.0) < 0.0);
        // Never past the points beside it.
        let Curve::Table(far) = moved_reversal(&turned, 2, 100.0).unwrap() else { panic!() };
        assert!(far.at.windows(2).all(|pair| pair[0] < pair[1]) && far.at[2] > 3000.0);
        let back = without_reversal(&turned, 2).unwrap();
        assert!(reversals(&back).is_empty() && back.value_at(600.0) == 20.0 && back.value_at(7000.0) == 60.0);
        assert!(with_reversal(&turned, 5010.0).is_none() && without_reversal(&turned, 0).is_none());
        // Over time, from a constant: the later part.
        let turned = with_reversal(&Curve::Constant(50.0), 400.0).unwrap();
        assert_eq!((turned.axis(), turned.value_at(0.0), turned.value_at(900.0)), (Some("time_s"), 50.0, -50.0));
        assert!(with_reversal(&Curve::Constant(0.0), 400.0).is_none());
    }

    #[test]
    fn verif_a_shift_keeps_reversals() {
        let plan = Curve::Table(Table { axis: "speed_m_s", at: vec![1.0, 2.0, 3.0], value: vec![-60.0, 50.0, 5.0] });
        let moved = shifted(&plan, 50.0);
        let Curve::Table(table) = &moved else { panic!("a table stays a table") };
        assert_eq!(table.value, vec![-50.0, 40.0, 0.0]);
        assert_eq!(largest_deg(&moved), 50.0);
        assert_eq!(shifted(&Curve::Constant(0.0), 30.0), Curve::Constant(30.0));
    }
}
