//! The numbers and plans of an entry that an input may change. An imported flight has none: it was flown elsewhere.

use crate::document::Curve;
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::document::Table;

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
