//! The picture without a graphics card: tiles as filled outlines on a plain canvas, far ones first. Slower, and without joints and
//! dots, but the same colours, lines and places.

use super::camera::Projection;
use super::paint::{Ground, HOVER, Pen, SELECTION, STRIKE};
use super::solid::Solid;
use crate::document::Sorting as _;
use crate::report::ramp::{Rgb, hex};
use crate::shield::NO_TILE;
use three_d::{InnerSpace, Vec3};
use web_sys::CanvasRenderingContext2d;

/// What is drawn besides the body.
pub struct Asked<'a> {
    /// One a tile.
    pub colours: &'a [Rgb],
    pub struck: &'a dyn Fn(usize) -> bool,
    pub picked: Option<usize>,
    pub hovered: Option<usize>,
    pub map: bool,
    pub plain: Rgb,
}

pub fn draw(canvas: &CanvasRenderingContext2d, solid: &Solid, eye: &Projection, ratio: f32, ground: &Ground, asked: &Asked<'_>) {
    let ratio = f64::from(ratio);
    let _ = canvas.set_transform(ratio, 0.0, 0.0, ratio, 0.0, 0.0);
    canvas.set_fill_style_str(&hex(ground.stage));
    canvas.fill_rect(0.0, 0.0, eye.size[0].into(), eye.size[1].into());
    canvas.set_line_join("round");
    let faces = |normal: Vec3| asked.map || normal.dot(eye.axes.eye) > 0.02;
    let points = |tile: usize| solid.outlines.get(tile).map(|o| if asked.map { &o.places } else { &o.points });
    // Depth, then what: a tile, or three corners of surface without tiles.
    let mut seen: Vec<(f32, Result<usize, [Vec3; 3]>)> = Vec::new();
    for (i, outline) in solid.outlines.iter().enumerate().filter(|(_, o)| faces(o.normal)) {
        seen.push((eye.place(outline.centre)[2], Ok(i)));
    }
    if !asked.map {
        let plain = solid.triangles(&solid.positions).filter(|t| t.owner == NO_TILE);
        for corners in plain.map(|t| t.corners).filter(|[a, b, c]| faces((b - a).cross(c - a))) {
            seen.push((eye.place((corners[0] + corners[1] + corners[2]) / 3.0)[2], Err(corners)));
        }
    }
    seen.order_by(|a, b| a.0.total_cmp(&b.0));
    for lines in [true, false] {
        for (_, what) in &seen {
            let colour = match what {
                Ok(tile) => {
                    path(canvas, eye, points(*tile).map_or(&[], Vec::as_slice));
                    asked.colours.get(*tile).copied().unwrap_or(asked.plain)
                }
                Err(corners) => {
                    path(canvas, eye, corners);
                    asked.plain
                }
            };
            // The keyline lies under all tiles and shows where it sticks out.
            if lines {
                pen(canvas, ground.key, 2.4);
            } else {
                canvas.set_fill_style_str(&hex(colour));
                canvas.fill();
                pen(canvas, if what.is_ok() { ground.stage } else { colour }, 0.8);
            }
        }
    }
    let around = |tile: usize, with: Pen, struck: bool| {
        let (Some(outline), Some(list)) = (solid.outlines.get(tile).filter(|o| faces(o.normal)), points(tile)) else { return };
        for (colour, width) in [(ground.mark_halo, with.halo), (ground.mark_ink, with.ink)] {
            path(canvas, eye, list);
            if let (true, Some(a), Some(b)) = (struck, list.get(outline.diagonal[0]), list.get(outline.diagonal[1])) {
                let (a, b) = (eye.place(*a), eye.place(*b));
                canvas.move_to(a[0].into(), a[1].into());
                canvas.line_to(b[0].into(), b[1].into());
            }
            pen(canvas, colour, width.into());
        }
    };
    for (_, what) in &seen {
        if let Ok(tile) = what
            && (asked.struck)(*tile)
        {
            around(*tile, STRIKE, true);
        }
    }
    for (tile, with) in [(asked.hovered, HOVER), (asked.picked, SELECTION)] {
        if let Some(tile) = tile {
            around(tile, with, false);
        }
    }
}

fn path(canvas: &CanvasRenderingContext2d, eye: &Projection, points: &[Vec3]) {
    canvas.begin_path();
    for (i, p) in points.iter().enumerate() {
        let [x, y, _] = eye.place(*p).map(f64::from);
        if i == 0 { canvas.move_to(x, y) } else { canvas.line_to(x, y) }
    }
    canvas.close_path();
}

fn pen(canvas: &CanvasRenderingContext2d, colour: Rgb, width: f64) {
    canvas.set_stroke_style_str(&hex(colour));
    canvas.set_line_width(width);
    canvas.stroke();
}
