//! A surface from an OBJ file: vertices and faces by group, everything else passed over.

use super::glb::TRIANGLES;
use super::polygon::{self, triangulate};
use super::surface::{Owner, PLAIN, Surface};
use crate::document::{Error, Problems};
use glam::DVec3;
use std::collections::HashMap;

/// Reads an OBJ file.
///
/// The latest `g` or `o` line names the tile of the faces below it (the whole rest of the line); `none` is surface without a tile. A `g`
/// without a name, or `g default` or `g off`, goes back to the last `o`. Faces before any name are plain surface, with a warning. Corners
/// may be `v`, `v/t`, `v//n` or `v/t/n`, negative numbers count from the end, polygons are cut into triangles, a backslash joins lines.
pub fn read(file: &str, bytes: &[u8], warnings: &mut Vec<String>) -> Result<Surface, Error> {
    let mut problems = Problems::of(file);
    let text = String::from_utf8_lossy(bytes);
    let mut surface = Surface { file: file.to_string(), ..Surface::default() };
    let mut names: HashMap<String, u32> = HashMap::new();
    let mut object: Option<Owner> = None;
    let mut owner: Option<Owner> = None;
    let mut unnamed = 0usize;
    let mut lines = text.strip_prefix('\u{feff}').unwrap_or(&text).lines().enumerate();
    let mut joined = String::new();
    while let Some((i, line)) = lines.next() {
        let row = i + 1;
        let mut line = line.trim();
        if line.ends_with('\\') {
            joined.clear();
            let mut part = line;
            while let Some(start) = part.strip_suffix('\\') {
                joined.push_str(start);
                joined.push(' ');
                part = lines.next().map_or("", |(_, line)| line.trim());
            }
            joined.push_str(part);
            line = &joined;
        }
        let (word, rest) = line.split_once(char::is_whitespace).unwrap_or((line, ""));
        let rest = rest.trim();
        match word {
            "v" => surface.positions.push(read_vertex(rest, row, &mut problems)),
            "o" | "g" => {
                let back = word == "g" && ["", "default", "off"].contains(&rest);
                if back {
                    owner = object;
                } else {
                    owner = Some(named(rest, &mut names, &mut surface));
                    object = if word == "o" { owner } else { object };
                }
            }
            "f" => {
                let Some(corners) = read_corners(rest, surface.positions.len(), row, &mut problems) else { continue };
                unnamed += usize::from(owner.is_none());
                let places: Vec<DVec3> = corners.iter().filter_map(|c| surface.positions.get(*c as usize).copied()).collect();
                for [a, b, c] in triangulate(&places) {
                    surface.triangles.push([corners[a], corners[b], corners[c]]);
                    surface.owner.push(owner.unwrap_or(Owner::Plain));
                }
                if surface.triangles.len() > TRIANGLES {
                    problems.at_cell(row, "", "the file has too many triangles", format!("{TRIANGLES} at most"));
                    break;
                }
            }
            _ => {}
        }
    }
    if unnamed > 0 {
        warnings.push(format!("{file}: {unnamed} faces before the first group are surface without a tile"));
    }
    if surface.triangles.is_empty() && problems.is_empty() {
        problems.at_key("", "the file has no face", "`v` and `f` lines, one group a tile");
    }
    problems.or_ok(surface)
}

fn named(name: &str, names: &mut HashMap<String, u32>, surface: &mut Surface) -> Owner {
    if name == PLAIN {
        return Owner::Plain;
    }
    let next = surface.names.len() as u32;
    let index = *names.entry(name.to_string()).or_insert(next);
    if index == next {
        surface.names.push(name.to_string());
    }
    Owner::Name(index)
}

fn read_vertex(rest: &str, row: usize, problems: &mut Problems) -> DVec3 {
    let mut numbers = rest.split_whitespace().map(|word| (word, word.parse::<f64>().ok().filter(|value| value.is_finite())));
    let mut axis = |name: &str| match numbers.next() {
        Some((_, Some(value))) => value,
        Some((word, None)) => {
            problems.at_cell(row, name, format!("{word:?} is no coordinate"), "a finite number in metres");
            0.0
        }
        None => {
            problems.at_cell(row, name, "a vertex has fewer than three coordinates", "v x y z");
            0.0
        }
    };
    DVec3::new(axis("x"), axis("y"), axis("z"))
}

/// The corners of a face as zero-based vertex numbers.
fn read_corners(rest: &str, vertices: usize, row: usize, problems: &mut Problems) -> Option<Vec<u32>> {
    let mut corners = Vec::new();
    for word in rest.split_whitespace() {
        let number = word.split('/').next().unwrap_or_default().parse::<i64>().ok();
        let index = number.and_then(|number| match number {
            1.. => usize::try_from(number - 1).ok(),
            0 => None,
            _ => usize::try_from(number.unsigned_abs()).ok().and_then(|back| vertices.checked_sub(back)),
        });
        match index.filter(|index| *index < vertices) {
            Some(index) => corners.push(index as u32),
            None => {
                let accepted = format!("1 to {vertices}, or -1 to -{vertices}: the vertices above this line");
                problems.at_cell(row, "f", format!("{word:?} names no vertex"), accepted);
                return None;
            }
        }
    }
    if !(3..=polygon::CORNERS).contains(&corners.len()) {
        problems.at_cell(row, "f", format!("a face with {} corners", corners.len()), format!("3 to {} corners", polygon::CORNERS));
        return None;
    }
    Some(corners)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(text: &str) -> (Result<Surface, Error>, Vec<String>) {
        let mut warnings = Vec::new();
        (read("vehicle.obj", text.as_bytes(), &mut warnings), warnings)
    }

    #[test]
    fn verif_groups_corners_and_polygons() {
        let text = "\u{feff}# made\r\nmtllib a.mtl\nv 0 0 0\nv 1 0 0 1.0\nv 1 1 0\nv 0 1 0\nf 1 2 3\no hull\nf 1/1 2/2/2 3//3 4\ng 0002\n\
                    f -4 -3 -2\ng none\nf 1 2 \\\n 4\ng\nf 1 2 3\n";
        let (surface, warnings) = check(text);
        let surface = surface.unwrap();
        assert_eq!(surface.names, ["hull", "0002"]);
        let want = [Owner::Plain, Owner::Name(0), Owner::Name(0), Owner::Name(1), Owner::Plain, Owner::Name(0)];
        assert_eq!(surface.owner, want);
        assert_eq!(surface.triangles[3], [0, 1, 2]);
        assert!(warnings[0].contains("1 faces before the first group"), "{warnings:?}");
    }

    #[test]
    fn verif_wrong_lines_are_named() {
        for (text, wants) in [
            ("v 0 0 NaN\nf 1 1 1\n", &["row 1, column z", "\"NaN\""][..]),
            ("v 0 0\n", &["row 1, column z", "fewer than three"]),
            ("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 4\n", &["row 4, column f", "\"4\"", "1 to 3"]),
            ("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 -4\n", &["row 4, column f", "\"-4\""]),
            ("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 0 1 2\n", &["\"0\""]),
            ("v 0 0 0\nv 1 0 0\nf 1 2\n", &["row 3, column f", "2 corners"]),
            ("v 0 0 0\n", &["no face"]),
            ("", &["no face"]),
        ] {
            let error = check(text).0.unwrap_err().to_string();
            for want in wants {
                assert!(error.contains(want), "{want} in {error}");
            }
        }
    }
}
