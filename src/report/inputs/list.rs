//! The list of inputs with their present values.

use super::change;
use super::orbit;
use super::*;
use crate::document::Sorting as _;
use crate::flight::Course;
use crate::heating::reference::Relation;

/// The values that a range, a source and a label are made of.
struct Row {
    step: Step,
    id: String,
    label: String,
    quantity: Quantity,
    low: f64,
    high: f64,
    source: &'static str,
}

fn number(row: Row, value: Option<f64>) -> Input {
    Input {
        id: row.id,
        step: row.step,
        label: row.label,
        value: Value::Number(value),
        quantity: row.quantity,
        // A value beyond the usual range widens it: a slider never lies about where its thumb is.
        low: value.map_or(row.low, |value| value.min(row.low)),
        high: value.map_or(row.high, |value| value.max(row.high)),
        source: row.source.to_string(),
        lead: false,
        of_tile: false,
        live: true,
        note: String::new(),
    }
}

fn choice(step: Step, id: &str, label: &str, chosen: usize, options: Vec<&'static str>, source: &'static str) -> Input {
    let row = Row { step, id: id.to_string(), label: label.to_string(), quantity: Quantity::Plain, low: 0.0, high: 0.0, source };
    Input { value: Value::Choice { chosen, options }, ..number(row, None) }
}

impl Input {
    fn lead(mut self) -> Self {
        self.lead = true;
        self
    }
}

/// Distinct values in the order of their first appearance.
fn distinct<'a>(values: impl Iterator<Item = &'a str>) -> Vec<&'a str> {
    let mut seen = std::collections::BTreeSet::new();
    values.filter(|value| !value.is_empty() && seen.insert(*value)).collect()
}

pub fn all(subject: Subject) -> Vec<Input> {
    let mut list = flight(subject);
    list.extend(heating(subject));
    list.extend(surface(subject));
    list.extend(stack(subject));
    list.extend(limits(subject));
    // Stable: within a step the lead ones come first.
    list.order_by_key(|input| (input.step, !input.lead));
    list
}

fn flight(subject: Subject) -> Vec<Input> {
    let Some(course) = subject.scenario.entries.get(subject.entry).map(|named| &named.course) else {
        return Vec::new();
    };
    let get = |which| course::number(course, which);
    let largest = |which| course::plan(course, which).map(course::largest_deg);
    let row = |id: &str, label: &str, quantity, low, high| Row {
        step: Step::Flight,
        id: id.to_string(),
        label: label.to_string(),
        quantity,
        low,
        high,
        source: "scenario",
    };
    let all = [
        (row("entry.bank", "Bank, largest", Quantity::Angle, 0.0, 90.0), largest(Plan::Bank), true),
        (row("entry.attack", "Angle of attack, largest", Quantity::Angle, 20.0, 50.0), largest(Plan::Attack), true),
        (row("entry.speed_m_s", "Entry speed", Quantity::Speed, 7000.0, 8200.0), get(Number::Speed), false),
        (row("entry.altitude_m", "Entry altitude", Quantity::Altitude, 100_000.0, 130_000.0), get(Number::Altitude), false),
        (row("entry.flight_path_deg", "Flight path at entry", Quantity::Angle, -2.0, 0.0), get(Number::FlightPath), false),
        (row("entry.mass_kg", "Mass", Quantity::Mass, 8000.0, 18_000.0), get(Number::Mass), false),
        (row("entry.reference_area_m2", "Reference area", Quantity::Area, 20.0, 80.0), get(Number::ReferenceArea), false),
        (row("entry.nose_radius_m", "Radius of the reference sphere", Quantity::Length, 0.1, 2.0), get(Number::NoseRadius), false),
        (row("entry.sideslip_deg", "Sideslip, wind from the right", Quantity::Angle, -5.0, 5.0), get(Number::Sideslip), false),
        (row("entry.heading_deg", "Heading at entry", Quantity::Angle, 0.0, 360.0), get(Number::Heading), false),
        (row("entry.latitude_deg", "Latitude at entry", Quantity::Angle, -60.0, 60.0), get(Number::Latitude), false),
    ];
    let mut list: Vec<Input> = all
        .into_iter()
        // An imported flight has no such number: what cannot be changed is not offered.
        .filter(|(_, value, _)| value.is_some())
        .map(|(row, value, lead)| if lead { number(row, value).lead() } else { number(row, value) })
        .collect();
    for zone in control_surfaces(subject) {
        let row = Row {
            id: format!("entry.deflection:{zone}"),
            label: format!("Deflection, {zone}"),
            ..row("", "", Quantity::Angle, -20.0, 25.0)
        };
        list.extend(course::deflection(course, zone).map(|value| number(row, Some(value))));
    }
    if let Some(chosen) = course::atmosphere(course) {
        list.push(choice(Step::Flight, "entry.atmosphere", "Atmosphere", chosen, course::ATMOSPHERES.to_vec(), "scenario"));
    }
    if let Some([density, height]) = course::exponential(course) {
        list.push(number(row("entry.surface_density", "Density at the ground", Quantity::Density, 0.5, 2.0), Some(density)));
        list.push(number(row("entry.scale_height_m", "Scale height", Quantity::Altitude, 5000.0, 9000.0), Some(height)));
    }
    list
}

/// Zones that move: those whose name says so, and those that the entry deflects already.
fn control_surfaces<'a>(subject: Subject<'a>) -> Vec<&'a str> {
    let moves = |zone: &&str| ["flap", "elevon", "rudder", "aileron"].iter().any(|word| zone.to_lowercase().contains(word));
    let deflected = match subject.scenario.entries.get(subject.entry).map(|named| &named.course) {
        Some(Course::Entry(entry)) => entry.deflection_deg.as_slice(),
        _ => &[],
    };
    distinct(
        subject.shield.tiles.iter().map(|tile| tile.zone.as_str()).filter(moves).chain(deflected.iter().map(|(name, _)| name.as_str())),
    )
}

fn heating(subject: Subject) -> Vec<Input> {
    let heating = &subject.scenario.heating;
    let row = |id: &str, label: &str, low, high, source| Row {
        step: Step::Heating,
        id: id.to_string(),
        label: label.to_string(),
        quantity: Quantity::Factor,
        low,
        high,
        source,
    };
    let mut list = vec![number(row("heating.scale", "Heating, all models", 0.8, 1.3, "nominal"), Some(heating.choices.scale)).lead()];
    let lee = Row { quantity: Quantity::Percent, ..row("heating.lee_fraction", "Lee side, of the reference", 0.01, 0.1, "scenario") };
    list.push(number(lee, Some(heating.choices.lee_fraction)).lead());
    let relations = Relation::ALL.map(Relation::name).to_vec();
    let relation = heating.choices.reference as usize;
    list.push(choice(Step::Heating, "heating.reference", "Reference heating by", relation, relations, "scenario"));
    let chosen = match heating.choices.transition {
        Transition::None => 0,
        Transition::Time { .. } => 1,
        Transition::Mach { .. } => 2,
        Transition::MomentumThickness { .. } => 3,
        Transition::Roughness { criterion: Roughness::Distributed, .. } => 4,
        Transition::Roughness { criterion: Roughness::Isolated, .. } => 5,
        Transition::Roughness { criterion: Roughness::Reynolds, .. } => 6,
    };
    let options = vec![
        "laminar throughout",
        "from a time on",
        "below a Mach number",
        "momentum thickness",
        "roughness of every tile",
        "findings, each by its size",
        "roughness Reynolds number",
    ];
    list.push(choice(Step::Heating, "heating.transition", "Transition to turbulent", chosen, options, "scenario"));
    let value = |label: &str, quantity, low, high, value| {
        number(Row { quantity, ..row("heating.transition_value", label, low, high, "scenario") }, Some(value))
    };
    match heating.choices.transition {
        Transition::None => {}
        Transition::Time { time_s } => list.push(value("Turbulent from", Quantity::Time, 0.0, 2000.0, time_s)),
        Transition::Mach { mach } => list.push(value("Turbulent below Mach", Quantity::Plain, 4.0, 20.0, mach)),
        Transition::MomentumThickness { limit } => list.push(value("Momentum-thickness limit", Quantity::Plain, 100.0, 500.0, limit)),
        Transition::Roughness { limit, criterion: Roughness::Distributed } => {
            list.push(value("Roughness limit", Quantity::Plain, 50.0, 500.0, limit));
        }
        Transition::Roughness { limit, criterion } => {
            let whole = if criterion == Roughness::Isolated { Measure::SmoothBody } else { Measure::RoughnessReynolds };
            let table = &heating.choices.thresholds;
            // The kind's own limit, where it is not 0, stands before the table's row.
            let counted = |measure: Measure| if measure == whole && limit > 0.0 { limit } else { table.value(measure) };
            let read = [Measure::ProtuberanceHeight, Measure::CavityDepth, Measure::CavityLength, whole, Measure::WedgeHalfAngle];
            // Proud sites go by the roughness Reynolds number there.
            for measure in read.into_iter().filter(|measure| criterion == Roughness::Isolated || *measure != Measure::ProtuberanceHeight) {
                let threshold = table.row(measure);
                let (quantity, low, high) = match measure {
                    Measure::WedgeHalfAngle => (Quantity::Angle, 3.0, 15.0),
                    _ => (Quantity::Plain, 0.3 * threshold.value, 3.0 * threshold.value),
                };
                let id = format!("heating.threshold:{}", measure.word());
                let label = format!("Threshold, {}", measure.label());
                let label = if measure == Measure::WedgeHalfAngle { "Wedge half-angle".to_string() } else { label };
                let mut input = number(Row { quantity, ..row(&id, &label, low, high, "") }, Some(counted(measure)));
                input.source = if counted(measure) == threshold.value { threshold.source } else { "scenario".to_string() };
                input.note = threshold.range;
                list.push(input);
            }
        }
    }
    if let Some(tile) = subject.picked.and_then(|index| subject.shield.tiles.get(index)) {
        let factor = change::effective_number(subject.scenario, tile, ChangeKey::HeatingFactor).unwrap_or(tile.heating_factor);
        let label = format!("Heating of {}", tile.id);
        let mut input = number(row("heating.tile_factor", &label, 0.5, 2.0, "tile table"), Some(factor));
        input.of_tile = true;
        list.push(input);
    }
    for zone in distinct(subject.shield.tiles.iter().map(|tile| tile.zone.as_str())) {
        let factor = heating.zone_factor.get(zone).copied().unwrap_or(1.0);
        let (id, label) = (format!("heating.zone_factor:{zone}"), format!("Heating, {zone}"));
        list.push(number(row(&id, &label, 0.5, 2.0, "nominal"), Some(factor)));
    }
    list
}

fn surface(subject: Subject) -> Vec<Input> {
    let (shield, scenario) = (subject.shield, subject.scenario);
    let emissivities = change::emissivities(shield, scenario);
    let row = |id: &str, label: &str, quantity, low, high, source| Row {
        step: Step::Surface,
        id: id.to_string(),
        label: label.to_string(),
        quantity,
        low,
        high,
        source,
    };
    // One value where all agree, none where they differ.
    let common = |keep: &dyn Fn(&Tile) -> bool| {
        let mut found = shield.tiles.iter().zip(&emissivities).filter(|(tile, _)| keep(tile)).map(|(_, value)| *value);
        let first = found.next().flatten()?;
        found.all(|value| value == Some(first)).then_some(first)
    };
    let changed = |keep: &dyn Fn(&Change) -> bool| {
        let touched = scenario.changes.iter().any(|change| keep(change) && change.set.iter().any(|(key, _)| *key == ChangeKey::Emissivity));
        if touched { "scenario" } else { "library" }
    };
    let any_change = changed(&|_| true);
    let mut list = Vec::new();
    let faces = distinct(shield.tiles.iter().filter_map(|tile| change::face_id(shield, tile)));
    let picked = subject.picked.and_then(|index| shield.tiles.get(index));
    // The face of the picked tile leads; without one the first of the table.
    let lead = picked.and_then(|tile| change::face_id(shield, tile)).or(faces.first().copied());
    for face in &faces {
        let (id, label) = (format!("surface.emissivity:{face}"), format!("Emissivity, {}", change::short(shield, face)));
        let value = common(&|tile| change::face_id(shield, tile) == Some(face));
        let mut input = number(row(&id, &label, Quantity::Plain, 0.3, 1.0, any_change), value);
        if value.is_none() {
            input.note = "differs by zone".to_string();
        } else if any_change == "library" && change::varies(shield, face) {
            input.source = format!("library, at {}", Quantity::Temperature.text(1000.0, scenario.view.units));
        }
        list.push(if Some(*face) == lead { input.lead() } else { input });
    }
    for face in &faces {
        let (id, label) = (format!("surface.catalycity:{face}"), format!("Catalycity, {}", change::short(shield, face)));
        let value = scenario.heating.catalycity.get(*face).copied().unwrap_or(1.0);
        let input = number(row(&id, &label, Quantity::Factor, 0.3, 1.0, "common practice"), Some(value));
        list.push(if Some(*face) == lead { input.lead() } else { input });
    }
    for zone in distinct(shield.tiles.iter().map(|tile| tile.zone.as_str())) {
        let (id, label) = (format!("surface.emissivity_zone:{zone}"), format!("Emissivity, {zone}"));
        let value = common(&|tile| tile.zone == zone);
        let source = changed(&|change| change.reach == Reach::Zone(zone.to_string()));
        let mut input = number(row(&id, &label, Quantity::Plain, 0.3, 1.0, source), value);
        if value.is_none() {
            input.note = "differs by tile".to_string();
        }
        list.push(input);
    }
    let from_orbit = matches!(scenario.start, Start::Orbit { .. });
    let kinds = vec!["given temperatures", "orbit"];
    list.push(choice(Step::Surface, "start.kind", "Start before the entry", usize::from(from_orbit), kinds, "scenario"));
    match &scenario.start {
        Start::Temperature { surface_k, .. } => {
            list.push(number(row("start.surface_k", "Start, surface", Quantity::Temperature, 150.0, 400.0, "scenario"), Some(*surface_k)));
        }
        Start::Orbit { sun_vector, planet_vector, albedo, planet_infrared_w_m2, hold_s, exposure, .. } => {
            const ATTITUDE: &str = "scenario; an assumed attitude";
            for (id, label, vector) in
                [("start.sun", "Sun at the deorbit point", sun_vector), ("start.planet", "Planet, seen from the vehicle", planet_vector)]
            {
                let (chosen, words) = orbit::words(vector);
                list.push(choice(Step::Surface, id, label, chosen, words, ATTITUDE));
            }
            let options = vec!["at the deorbit point", "averaged over the orbit"];
            let averaged = usize::from(*exposure == Exposure::OrbitAverage);
            list.push(choice(Step::Surface, "start.exposure", "Surface before the entry", averaged, options, "scenario"));
            let hold = row("start.hold_s", "Attitude held for", Quantity::Time, 0.0, 43_200.0, "scenario");
            list.push(number(hold, Some(*hold_s)));
            list.push(number(row("start.albedo", "Albedo", Quantity::Plain, 0.0, 1.0, "scenario"), Some(*albedo)));
            let infrared = row("start.planet_infrared_w_m2", "Infrared of the planet", Quantity::Heating, 0.0, 400.0, "scenario");
            list.push(number(infrared, Some(*planet_infrared_w_m2)));
        }
    }
    list
}

fn stack(subject: Subject) -> Vec<Input> {
    let row = |id: &str, label: &str, quantity, low, high, source| Row {
        step: Step::Stack,
        id: id.to_string(),
        label: label.to_string(),
        quantity,
        low,
        high,
        source,
    };
    let mut list = Vec::new();
    if let Some(tile) = subject.picked.and_then(|index| subject.shield.tiles.get(index)) {
        let set = |key| change::effective_number(subject.scenario, tile, key);
        let source = |key| if set(key).is_some() { "scenario" } else { "tile table" };
        let thickness = set(ChangeKey::ThicknessMm).map_or(tile.thickness_m, |mm| mm * 1e-3);
        let label = format!("Tile thickness, {}", tile.id);
        let thick = row("stack.thickness", &label, Quantity::Thickness, 0.008, 0.08, source(ChangeKey::ThicknessMm));
        let density = set(ChangeKey::DensityKgM3).unwrap_or(tile.density_kg_m3);
        let label_density = format!("Tile density, {}", tile.id);
        let dense = row("stack.density", &label_density, Quantity::Density, 100.0, 400.0, source(ChangeKey::DensityKgM3));
        for (row, value, lead) in [(thick, thickness, true), (dense, density, false)] {
            let mut input = number(row, Some(value));
            input.of_tile = true;
            list.push(if lead { input.lead() } else { input });
        }
    }
    let structure = match subject.scenario.start {
        Start::Temperature { structure_k, .. } => Some(structure_k),
        Start::Orbit { structure_k, .. } => structure_k,
    };
    let start = row("start.structure_k", "Start, structure", Quantity::Temperature, 230.0, 350.0, "scenario");
    list.push(number(start, structure).lead());
    let air = row("landing.air_k", "Air at landing", Quantity::Temperature, 250.0, 320.0, "scenario");
    list.push(number(air, Some(subject.scenario.landing.air_k)));
    let film = row("landing.h_w_m2k", "Film coefficient after landing", Quantity::Film, 0.0, 20.0, "scenario");
    list.push(number(film, Some(subject.scenario.landing.h_w_m2k)));
    list
}

fn limits(subject: Subject) -> Vec<Input> {
    let policy = &subject.scenario.policy;
    let (chosen, flights) = match policy.limits {
        Limits::Reuse => (0, None),
        Limits::SingleMission => (1, None),
        Limits::Flights(flights) => (2, Some(flights)),
    };
    let mut list = vec![
        choice(Step::Limits, "limits.policy", "Limits counted", chosen, vec!["reuse", "single mission", "a number of flights"], "policy")
            .lead(),
    ];
    let row = |id: &str, label: &str, quantity, low, high| Row {
        step: Step::Limits,
        id: id.to_string(),
        label: label.to_string(),
        quantity,
        low,
        high,
        source: "policy",
    };
    if let Some(flights) = flights {
        list.push(number(row("limits.flights", "Number of flights", Quantity::Flights, 1.0, 100.0), Some(flights)).lead());
    }
    let has = |name: &str| policy.terms.iter().any(|term| term.name.eq_ignore_ascii_case(name));
    let names = policy.terms.iter().map(|term| (term.name.as_str(), term.fraction)).chain((!has("heating")).then_some(("heating", 0.0)));
    for (index, (name, fraction)) in names.enumerate() {
        let (id, label) = (format!("limits.term:{name}"), format!("Uncertainty of {name}"));
        let input = number(row(&id, &label, Quantity::Percent, 0.0, 0.3), Some(fraction));
        list.push(if index == 0 { input.lead() } else { input });
    }
    if let Some(first) = policy.terms.first() {
        let same = policy.terms.iter().all(|term| term.level_sigma == first.level_sigma);
        list.push(number(row("limits.level", "Level of all terms", Quantity::Sigma, 0.0, 3.0), same.then_some(first.level_sigma)));
        let how = match policy.combine {
            Combine::RootSumSquare => 0,
            Combine::Sum => 1,
            Combine::Sampled => 2,
        };
        list.push(choice(Step::Limits, "limits.combine", "Terms combined by", how, vec!["root-sum-square", "sum", "sampling"], "policy"));
    }
    list
}
