//! Body points held to linear fields, to their side, between states, and within their values.

use super::*;
use proptest::prelude::*;

/// A square plate of 40 x 40 tiles at height `z`, its normals up or down.
fn plate(z: f64, normal: f64) -> Vec<Facet> {
    let at = |i: usize| DVec3::new((i % 40) as f64 * 0.1, (i / 40) as f64 * 0.1, z);
    (0..1600).map(|i| Facet { centre: at(i), normal: DVec3::Z * normal, area_m2: 0.01, ..Facet::default() }).collect()
}

/// A foreign grid over x 0.5 to 3.5, y 1 to 3, off the tiles' and uneven.
fn foreign(z: f64, state: [f64; 3], turbulent: bool, factor: impl Fn(f64, f64) -> f64) -> Vec<BodyPoint> {
    let mut rows = Vec::new();
    for i in 0..16 {
        for j in 0..9 {
            let wobble = 0.02 * (((i * 7 + j * 5) % 11) as f64 / 11.0 - 0.5);
            let (x, y) = (0.5 + 0.2 * i as f64 + wobble, 1.0 + 0.25 * j as f64 - wobble);
            let [angle_of_attack_deg, sideslip_deg, mach] = state;
            rows.push(BodyPoint {
                position: DVec3::new(x, y, z),
                angle_of_attack_deg,
                sideslip_deg,
                mach,
                turbulent,
                factor: factor(x, y),
                reference_radius_m: 1.0,
            });
        }
    }
    rows
}

fn lane(value: f64x4) -> f64 {
    value.to_array()[0]
}

/// What counts for a tile over an own laminar factor of 1 and a turbulent one of 3 at an intermittency.
fn counted(points: &Points, tile: usize, state: [f64; 3], intermittency: f64) -> f64 {
    let at = points.at(state[0], state[1], state[2], points.reference_radius_m);
    let Some(lanes) = points.lanes([tile; 4]) else { return 1.0 + 2.0 * intermittency };
    let own = 1.0 + 2.0 * intermittency;
    lane(at.apply(&lanes, f64x4::splat(1.0), f64x4::splat(own * own * own * own), f64x4::splat(intermittency)).sqrt().sqrt())
}

const STATE: [f64; 3] = [40.0, 0.0, 20.0];

/// Inside the points a linear field comes back; outside their rim the cover is what its definition makes of the nearest point, found here by looking at all.
#[test]
fn verif_linear_fields_are_exact() {
    let facets = plate(0.0, -1.0);
    let field = |x: f64, y: f64| 0.2 + 0.1 * x - 0.05 * y;
    let rows = foreign(0.0, STATE, false, field);
    let points = Points::new(&facets, &rows).unwrap();
    let ways = |from: DVec3| {
        let mut ways: Vec<(f64, DVec3)> = rows.iter().map(|row| ((row.position - from).length(), row.position)).collect();
        ways.sort_by(|a, b| a.0.total_cmp(&b.0));
        ways
    };
    let (mut inside, mut rim, mut outside) = (0, 0, 0);
    for (tile, facet) in facets.iter().enumerate() {
        let (x, y) = (facet.centre.x, facet.centre.y);
        let cover = points.cover(tile);
        if (0.75..3.25).contains(&x) && (1.3..2.7).contains(&y) {
            inside += 1;
            assert_eq!(cover, 1.0, "{x} {y}");
            let got = counted(&points, tile, STATE, 0.0);
            assert!((got / field(x, y) - 1.0).abs() < 1e-9, "{x} {y}: {got}");
        }
        if !(0.45..3.55).contains(&x) || !(0.95..3.05).contains(&y) {
            let (nearest, place) = ways(facet.centre)[0];
            let spacing = ways(place)[4].0;
            let t = (1.5 - nearest / spacing).clamp(0.0, 1.0);
            let want = t * t * (3.0 - 2.0 * t);
            assert!((cover - want).abs() < 1e-12, "{x} {y}: {cover} for {want}");
            outside += usize::from(cover == 0.0);
        }
        rim += usize::from(cover > 0.0 && cover < 1.0);
        if cover == 0.0 {
            assert_eq!(counted(&points, tile, STATE, 0.0), 1.0);
        }
    }
    assert!(inside > 300 && rim > 40 && outside > 400, "{inside} {rim} {outside}");
}

/// Belly and lid of a wing 4 cm thick: points on the belly never reach the lid, also where the belly's rim is not covered.
#[test]
fn verif_points_stay_on_their_side() {
    let mut facets = plate(0.0, -1.0);
    facets.extend(plate(0.04, 1.0));
    let points = Points::new(&facets, &foreign(0.002, STATE, false, |_, _| 0.5)).unwrap();
    assert!((1600..3200).all(|tile| points.cover(tile) == 0.0));
    assert!((0..1600).filter(|tile| points.cover(*tile) == 1.0).count() > 500);
}

/// Linear between states, held and told outside.
#[test]
fn verif_between_states_and_held_at_the_ends() {
    let facets = plate(0.0, -1.0);
    let mut rows = Vec::new();
    for (attack, mach, factor) in [(30.0, 10.0, 0.2), (30.0, 20.0, 0.4), (40.0, 10.0, 0.6), (40.0, 20.0, 1.2)] {
        rows.extend(foreign(0.0, [attack, 0.0, mach], false, |_, _| factor));
    }
    let points = Points::new(&facets, &rows).unwrap();
    let tile = 20 * 40 + 20;
    for (attack, mach, want) in
        [(30.0, 10.0, 0.2), (40.0, 20.0, 1.2), (35.0, 10.0, 0.4), (30.0, 15.0, 0.3), (35.0, 15.0, 0.6), (50.0, 25.0, 1.2), (10.0, 3.0, 0.2)]
    {
        let got = counted(&points, tile, [attack, 0.0, mach], 0.0);
        assert!((got - want).abs() < 1e-12, "{attack} {mach}: {got} for {want}");
    }
    assert_eq!(points.outside(50.0, 0.0, 15.0), [true, false, false]);
    assert_eq!(points.outside(35.0, 2.0, 25.0), [false, true, true]);
    assert_eq!(points.ranges(), [(30.0, 40.0), (0.0, 0.0), (10.0, 20.0)]);
    // To a sphere of another radius the same coefficient is another factor.
    let at = points.at(30.0, 0.0, 10.0, 4.0);
    let lanes = points.lanes([tile; 4]).unwrap();
    let four = lane(at.apply(&lanes, f64x4::splat(1.0), f64x4::splat(1.0), f64x4::splat(0.0)).sqrt().sqrt());
    assert!((four - 0.4).abs() < 1e-12, "{four}");
}

/// Laminar points alone keep the turbulent ratio, turbulent points alone the laminar factor, both replace both.
#[test]
fn verif_regimes() {
    let facets = plate(0.0, -1.0);
    let tile = 20 * 40 + 20;
    let laminar = foreign(0.0, STATE, false, |_, _| 0.5);
    let turbulent = foreign(0.0, STATE, true, |_, _| 2.0);
    let both: Vec<BodyPoint> = laminar.iter().chain(&turbulent).copied().collect();
    for (rows, at_0, at_half, at_1) in [(laminar, 0.5, 1.0, 1.5), (turbulent, 1.0, 1.5, 2.0), (both, 0.5, 1.25, 2.0)] {
        let points = Points::new(&facets, &rows).unwrap();
        for (intermittency, want) in [(0.0, at_0), (0.5, at_half), (1.0, at_1)] {
            let got = counted(&points, tile, STATE, intermittency);
            assert!((got - want).abs() < 1e-9, "{intermittency}: {got} for {want}");
        }
    }
    assert!(Points::new(&facets, &[]).is_none() && Points::new(&[], &foreign(0.0, STATE, false, |_, _| 1.0)).is_none());
}

proptest! {
    /// Whatever the points, a covered tile stays within them, nothing is NaN, and the order of rows decides nothing.
    #[test]
    fn verif_any_points_stay_within_their_values(
        sites in prop::collection::vec((-1.0..5.0_f64, -1.0..5.0_f64, -0.1..0.1_f64, 0.0..3.0_f64), 3..40), turn in 0usize..40) {
        let facets = plate(0.0, -1.0);
        let row = |(x, y, z, factor): &(f64, f64, f64, f64)| BodyPoint {
            position: DVec3::new(*x, *y, *z), angle_of_attack_deg: 40.0, sideslip_deg: 0.0, mach: 20.0, turbulent: false, factor: *factor,
            reference_radius_m: 1.0 };
        let rows: Vec<BodyPoint> = sites.iter().map(row).collect();
        let mut turned = rows.clone();
        turned.rotate_left(turn % rows.len());
        let (points, again) = (Points::new(&facets, &rows).unwrap(), Points::new(&facets, &turned).unwrap());
        let (low, high) = rows.iter().fold((f64::INFINITY, 0.0_f64), |(low, high), row| (low.min(row.factor), high.max(row.factor)));
        for tile in (0..facets.len()).step_by(23) {
            let cover = points.cover(tile);
            prop_assert!((0.0..=1.0).contains(&cover));
            let got = counted(&points, tile, STATE, 0.0);
            let (least, most) = (cover * low + 1.0 - cover, cover * high + 1.0 - cover);
            prop_assert!(got >= least - 1e-9 && got <= most + 1e-9, "{got} beyond {least} to {most}");
            prop_assert!((got - counted(&again, tile, STATE, 0.0)).abs() < 1e-6);
        }
    }
}
