//! A material with the scales that a ground test asks for: a `materials.json` of the user's own, each scaled property with its new source.

use crate::document::{Error, Json};
use crate::material::Library;
use crate::tile::coupon::fit::Scale;

/// What the id of a scaled material ends in.
pub const SUFFIX: &str = "-fitted";

/// A vehicle's `materials.json` with the fitted materials added, and each material's id before and after.
#[derive(Debug, Clone, PartialEq)]
pub struct Calibrated {
    pub document: Json,
    pub renamed: Vec<(String, String)>,
}

/// Scales the materials of `case` (a `tileglow-coupon/1` document) by what was fitted. `own` is the vehicle's `materials.json`, if it has one.
///
/// # Errors
/// No scale of a layer that names a material (a material written into the case has no id to add to the vehicle's), or a file that cannot be read.
pub fn calibrated(own: Option<&[u8]>, case: &Json, scales: &[Scale]) -> Result<Calibrated, Error> {
    let read = |file: &str, text: &str| -> Result<Vec<Json>, Error> {
        match Json::parse(file, text)?.get("materials") {
            Some(Json::List(list)) => Ok(list.clone()),
            _ => Ok(Vec::new()),
        }
    };
    let text_of = |node: &Json, key: &str| node.get(key).and_then(Json::as_text).map(str::to_string);
    let mut materials = own.map_or(Ok(Vec::new()), |bytes| read("materials.json", &String::from_utf8_lossy(bytes)))?;
    let known = read("assets/materials.json", Library::built_in_text())?;
    let name = text_of(case, "name").unwrap_or_default();
    let layers = match case.get("layers") {
        Some(Json::List(layers)) => layers.as_slice(),
        _ => &[],
    };
    let mut renamed: Vec<(String, String)> = Vec::new();
    for layer in layers {
        let (Some(layer_name), Some(id)) = (text_of(layer, "name"), text_of(layer, "material")) else { continue };
        let of_layer = |property: &str| scales.iter().find(|scale| scale.name == format!("{layer_name}.{property}"));
        let found = [("conductivity", "conductivity_w_mk"), ("specific_heat", "specific_heat_j_kgk")];
        let found: Vec<(&Scale, &str)> = found.into_iter().filter_map(|(property, key)| Some((of_layer(property)?, key))).collect();
        let same = |node: &&Json| text_of(node, "id").is_some_and(|known| known.eq_ignore_ascii_case(&id));
        let Some(Json::Object(fields)) = materials.iter().find(same).or(known.iter().find(same)).filter(|_| !found.is_empty()).cloned()
        else {
            continue;
        };
        let new_id = format!("{}{SUFFIX}", id.to_lowercase());
        let mut fields = fields;
        for (key, value) in &mut fields {
            match key.as_str() {
                "id" => *value = Json::text(new_id.clone()),
                "name" => *value = Json::text(format!("{}, fitted to {name}", value.as_text().unwrap_or(&id))),
                "provenance" => {
                    if let Json::Object(sources) = value {
                        for (scale, property) in &found {
                            let before = sources.iter().find(|(key, _)| key == property).and_then(|(_, node)| text_of(node, "source"));
                            let source = format!(
                                "ground test {name:?}: {:.4} times (95 % limits {:.4} to {:.4}) {}",
                                scale.scale,
                                scale.low,
                                scale.high,
                                before.unwrap_or_default()
                            );
                            sources.retain(|(key, _)| key != property);
                            sources.push((
                                property.to_string(),
                                Json::object([("basis", Json::text("ground test")), ("source", Json::text(source))]),
                            ));
                        }
                    }
                }
                _ => {
                    if let Some((scale, _)) = found.iter().find(|(_, property)| property == key) {
                        scaled(value, scale.scale);
                    }
                }
            }
        }
        materials.retain(|node| text_of(node, "id").as_deref() != Some(new_id.as_str()));
        materials.push(Json::Object(fields));
        renamed.push((id, new_id));
    }
    if renamed.is_empty() {
        return Err(Error::bad(
            "no fitted scale belongs to a layer that names a material of the library",
            "a fitted conductivity or specific heat of a layer such as {\"material\": \"LI-900\"}",
        ));
    }
    let document = Json::object([("format", Json::text("tileglow-materials/1")), ("materials", Json::List(materials))]);
    Ok(Calibrated { document, renamed })
}

/// A property's values times a scale: a number, a table, or a grid.
fn scaled(node: &mut Json, scale: f64) {
    match node {
        Json::Number(value) => *value *= scale,
        Json::List(list) => list.iter_mut().for_each(|node| scaled(node, scale)),
        Json::Object(fields) => fields.iter_mut().filter(|(key, _)| key == "value").for_each(|(_, node)| scaled(node, scale)),
        _ => {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_a_fitted_material_reads_back_with_its_scale_and_its_source() {
        let case = Json::parse(
            "case.json",
            r#"{"name": "run 7", "layers": [{"name": "tile", "material": "LI-900", "thickness_m": 0.05}, {"name": "skin", "thickness_m": 0.002}]}"#,
        )
        .expect("a case");
        let scale = |name: &str, scale| Scale { name: name.to_string(), scale, low: 0.9 * scale, high: 1.1 * scale };
        let made = calibrated(None, &case, &[scale("tile.conductivity", 1.25), scale("front.flux", 0.9)]).expect("made");
        assert_eq!(made.renamed, [("LI-900".to_string(), "li-900-fitted".to_string())]);
        let (user, warnings) = Library::read("materials.json", made.document.pretty().as_bytes()).expect("it reads");
        assert!(warnings.is_empty(), "{warnings:?}");
        let library = Library::built_in().joined(user);
        let at = |id: &str| library.find(id).map(|index| &library.materials[index]).expect("both are there");
        let (before, after) = (at("li-900"), at("li-900-fitted"));
        let (crate::material::Conductivity::Grid { value: old, .. }, crate::material::Conductivity::Grid { value: new, .. }) =
            (&before.conductivity_w_mk, &after.conductivity_w_mk)
        else {
            panic!("a grid over temperature and pressure")
        };
        assert!(old.len() > 3);
        for (old, new) in old.iter().flatten().zip(new.iter().flatten()) {
            assert!((new / old - 1.25).abs() < 1e-12, "{new} of {old}");
        }
        assert_eq!(after.specific_heat_j_kgk, before.specific_heat_j_kgk);
        assert!(after.provenance["conductivity_w_mk"].source.contains("run 7"));
        assert!(after.provenance["conductivity_w_mk"].source.contains("1.1250 to 1.3750"));
        // A second fit replaces the first; a scale of no named material is refused.
        let own = made.document.pretty();
        let again = calibrated(Some(own.as_bytes()), &case, &[scale("tile.conductivity", 1.5)]).expect("made again");
        assert_eq!(Library::read("materials.json", again.document.pretty().as_bytes()).expect("it reads").0.materials.len(), 1);
        assert!(calibrated(None, &case, &[scale("skin.conductivity", 1.5)]).is_err());
    }
}
