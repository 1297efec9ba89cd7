//! The start before the entry as inputs: given temperatures, or sun, planet and hold in orbit with directions in words.

use super::*;

/// A direction in words and in body axes (x aft, y right, z up).
const DIRECTIONS: [(&str, [f64; 3]); 6] = [
    ("above", [0.0, 0.0, 1.0]),
    ("below", [0.0, 0.0, -1.0]),
    ("ahead of the nose", [-1.0, 0.0, 0.0]),
    ("behind", [1.0, 0.0, 0.0]),
    ("to the right", [0.0, 1.0, 0.0]),
    ("to the left", [0.0, -1.0, 0.0]),
];
const AS_GIVEN: &str = "as given";

/// The directions' words and the one that stands; a vector between them is an option of its own.
pub(super) fn words(vector: &[f64; 3]) -> (usize, Vec<&'static str>) {
    let length = (vector.iter().map(|x| x * x).sum::<f64>()).sqrt().max(1e-300);
    let mut words: Vec<&'static str> = DIRECTIONS.iter().map(|(word, _)| *word).collect();
    let found = DIRECTIONS.iter().position(|(_, unit)| unit.iter().zip(vector).all(|(a, b)| (a - b / length).abs() < 1e-9));
    let chosen = found.unwrap_or_else(|| {
        words.push(AS_GIVEN);
        words.len() - 1
    });
    (chosen, words)
}

/// The scenario's start after a choice; `false` where the choice is none.
pub(super) fn choose(start: &mut Start, id: &str, chosen: usize) -> bool {
    let direction = DIRECTIONS.get(chosen).map(|(_, unit)| *unit);
    match (id, start) {
        ("start.kind", start) => match (chosen, &start) {
            (0, Start::Orbit { .. }) => *start = Start::default(),
            (1, Start::Temperature { .. }) => *start = Start::orbit(),
            (0 | 1, _) => {}
            _ => return false,
        },
        ("start.sun", Start::Orbit { sun_vector, .. }) => *sun_vector = direction.unwrap_or(*sun_vector),
        ("start.planet", Start::Orbit { planet_vector, .. }) => *planet_vector = direction.unwrap_or(*planet_vector),
        ("start.exposure", Start::Orbit { exposure, .. }) => {
            *exposure = if chosen == 1 { Exposure::OrbitAverage } else { Exposure::DeorbitPoint };
        }
        _ => return false,
    }
    true
}

/// The scenario's start with one number set; `false` where it has no such number.
pub(super) fn set(start: &mut Start, name: &str, value: f64) -> bool {
    let Start::Orbit { albedo, planet_infrared_w_m2, hold_s, .. } = start else { return false };
    match name {
        "start.albedo" => *albedo = value,
        "start.planet_infrared_w_m2" => *planet_infrared_w_m2 = value,
        "start.hold_s" => *hold_s = value,
        _ => return false,
    }
    true
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_choices_and_numbers_of_the_start() {
        let mut start = Start::default();
        assert!(!choose(&mut start, "start.sun", 0) && !set(&mut start, "start.albedo", 0.2));
        assert!(choose(&mut start, "start.kind", 1) && choose(&mut start, "start.sun", 3) && choose(&mut start, "start.planet", 5));
        assert!(choose(&mut start, "start.exposure", 1) && set(&mut start, "start.hold_s", 100.0) && !choose(&mut start, "start.kind", 7));
        let Start::Orbit { sun_vector, planet_vector, hold_s, exposure, .. } = &start else { panic!("{start:?}") };
        assert_eq!((*sun_vector, *planet_vector, *hold_s), ([1.0, 0.0, 0.0], [0.0, -1.0, 0.0], 100.0));
        assert_eq!((words(sun_vector).0, *exposure), (3, Exposure::OrbitAverage));
        assert_eq!(words(&[0.0, 0.0, -2.5]).0, 1);
        let (chosen, words) = words(&[1.0, 1.0, 0.0]);
        assert_eq!((chosen, words[6]), (6, AS_GIVEN));
        // "as given" leaves the vector; going back gives the default temperatures.
        let before = start.clone();
        assert!(choose(&mut start, "start.sun", 6) && start == before);
        assert!(choose(&mut start, "start.kind", 0) && start == Start::default());
    }
}
