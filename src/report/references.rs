//! The reference relations side by side along a flight: the curves that the trajectory room draws. A moment's sentence is `reference`'s.

use crate::flight::{Sample, Trajectory};
use crate::heating::Stream;
use crate::heating::reference::SideBySide;

/// The relations at a moment, for the flight's own reference sphere.
pub fn at(sample: &Sample, nose_radius_m: f64) -> SideBySide {
    Stream::at(sample, nose_radius_m).side_by_side()
}

/// The relations along a flight at about `most` of its rows, first and last among them: time (s) and values.
pub fn along(flown: &Trajectory, most: usize) -> Vec<(f64, SideBySide)> {
    let step = flown.samples.len().div_ceil(most.max(2)).max(1);
    flown.samples.iter().step_by(step).chain(flown.samples.last()).map(|sample| (sample.time_s, at(sample, flown.nose_radius_m))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::heating::reference::Relation;
    use crate::scenario::Scenario;
    use crate::shield::demo;

    /// Along the demonstration's entry, where it heats, the three relations lie within 35 % of each other, and the first is the flight's own.
    #[test]
    fn verif_side_by_side_along_a_flight() {
        let scenario = Scenario::read("scenario.json", &demo::scenario_json(), &[]).unwrap();
        let path = scenario.entries[0].course.fly().unwrap();
        let all = along(&path, 60);
        assert!((50..=62).contains(&all.len()));
        let mut looked = 0;
        for (time_s, sides) in all {
            let own = path.at(time_s).unwrap().reference_heating_w_m2;
            assert!((sides.of(Relation::SuttonGraves).unwrap() - own).abs() <= 1e-9 * own);
            if own > 1e5 {
                looked += 1;
                assert!(sides.w_m2.iter().all(Option::is_some) && sides.spread_fraction() < 0.35, "{time_s} {sides:?}");
            }
        }
        assert!(looked > 20, "{looked}");
    }
}
