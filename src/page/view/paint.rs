//! The graphics card's side: one draw for all tiles into samples, one that marks edges among them, one from marks to pixels, and lines
//! over them.
//!
//! three-d's renderer lights and tone-maps, so its programs are written here and drawn directly. Samples and marks hold tiles, not
//! colours: a recolour uploads one number a tile and repeats the third draw alone, which is by far the cheapest.

use super::camera::Projection;
use super::solid::{JOINT_M, Solid};
use crate::report::ramp::{Palette, Rgb, Swatch};
use three_d::{
    Blend, ClearState, ColorTarget, Context, CoreError, Cull, DepthTest, DepthTexture2D, ElementBuffer, InstanceBuffer, Interpolation,
    Program, RenderStates, RenderTarget, Texture2D, Vec3, Vec4, VertexBuffer, Viewport, Wrapping, WriteMask, vec2, vec3,
};

/// Tiles a row of the texture of values.
const ROW: usize = 256;

/// Most samples of one picture, a bound on memory.
const MOST_SAMPLES: u32 = 16_000_000;

/// Widest gap between two tiles, in CSS pixels, that is no edge: on the shield and on the map.
const GAPS: [f32; 2] = [2.5, 7.0];

/// Colours of the theme that are no value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ground {
    pub stage: Rgb,
    pub key: Rgb,
    pub side: Rgb,
    pub mark_ink: Rgb,
    pub mark_halo: Rgb,
}

/// One line: its ends on the shield and on the map, the tile's normal, and for a diagonal the tile's smallest side.
#[derive(Clone, Copy)]
pub struct Line {
    pub points: [Vec3; 2],
    pub places: [Vec3; 2],
    pub facing: Vec4,
}

/// How wide a line's ink and halo are, in CSS pixels.
#[derive(Clone, Copy)]
pub struct Pen {
    pub ink: f32,
    pub halo: f32,
}

pub const STRIKE: Pen = Pen { ink: 1.1, halo: 2.8 };
pub const BORDER: Pen = Pen { ink: 2.6, halo: 5.6 };
pub const HOVER: Pen = Pen { ink: 1.6, halo: 3.4 };
pub const SELECTION: Pen = Pen { ink: 3.0, halo: 6.2 };

/// Over what is there, whatever its depth.
const OVER: RenderStates =
    RenderStates { write_mask: WriteMask::COLOR, depth_test: DepthTest::Always, blend: Blend::Disabled, cull: Cull::None };

/// The lines of one pen.
struct Lines {
    pen: Pen,
    buffers: [InstanceBuffer<Vec3>; 4],
    facing: InstanceBuffer<Vec4>,
    count: u32,
}

struct Samples {
    tiles: Texture2D,
    depths: DepthTexture2D,
    /// What each sample is drawn as, whatever the colours.
    marks: Texture2D,
    across: u32,
}

/// Where the eye is for both spaces, and how far between them the tiles are.
#[derive(Clone, Copy, PartialEq)]
pub struct Scene {
    pub shield: Projection,
    pub map: Projection,
    /// 0 shield, 1 map.
    pub morph: f32,
    /// Pixels a CSS pixel.
    pub ratio: f32,
    pub length_m: f32,
}

pub struct Painter {
    context: Context,
    tiles: Program,
    edges: Program,
    picture: Program,
    line: Program,
    positions: VertexBuffer<Vec3>,
    places: VertexBuffer<Vec3>,
    insets: VertexBuffer<Vec4>,
    codes: VertexBuffer<f32>,
    indices: ElementBuffer<u32>,
    values: Texture2D,
    numbers: Vec<[u8; 4]>,
    palette: Texture2D,
    lines: [Lines; 4],
    samples: Option<Samples>,
    /// What the samples show; they are drawn again when it differs.
    sampled: Option<Scene>,
    /// What is on the canvas; none where colours or lines have changed since.
    drawn: Option<(Scene, [u32; 2], Ground)>,
}

/// Which of the painter's four sets of lines.
#[derive(Clone, Copy)]
pub enum Set {
    Strikes,
    /// Of the body points' cover.
    Border,
    Hover,
    Selection,
}

impl Painter {
    pub fn new(context: &Context, solid: &Solid) -> Result<Painter, CoreError> {
        let screen = include_str!("screen.vert");
        let rows = solid.outlines.len().div_ceil(ROW).max(1);
        let mut indices = ElementBuffer::new(context);
        if !solid.indices.is_empty() {
            indices.fill(&solid.indices);
        }
        Ok(Painter {
            tiles: Program::from_source(context, include_str!("tiles.vert"), include_str!("tiles.frag"))?,
            edges: Program::from_source(context, screen, include_str!("edges.frag"))?,
            picture: Program::from_source(context, screen, include_str!("picture.frag"))?,
            line: Program::from_source(context, include_str!("line.vert"), include_str!("line.frag"))?,
            positions: VertexBuffer::new_with_data(context, &solid.positions),
            places: VertexBuffer::new_with_data(context, &solid.places),
            insets: VertexBuffer::new_with_data(context, &solid.insets),
            codes: VertexBuffer::new_with_data(context, &solid.codes),
            indices,
            values: table(context, ROW as u32, rows as u32),
            // No texel holds this, so that the first colours are taken for a change.
            numbers: vec![[0; 4]; ROW * rows],
            palette: table(context, 256, Palette::ROWS as u32),
            lines: [STRIKE, BORDER, HOVER, SELECTION].map(|pen| Lines {
                pen,
                buffers: [(); 4].map(|()| InstanceBuffer::new(context)),
                facing: InstanceBuffer::new(context),
                count: 0,
            }),
            samples: None,
            sampled: None,
            drawn: None,
            context: context.clone(),
        })
    }

    /// Gives every tile its colour; dotted tiles are estimates.
    pub fn recolour(&mut self, colours: impl Iterator<Item = (Swatch, bool)>) {
        let mut changed = false;
        for (place, (swatch, dotted)) in self.numbers.iter_mut().zip(colours) {
            let now = number(swatch, dotted);
            changed |= std::mem::replace(place, now) != now;
        }
        if changed {
            self.values.fill(&self.numbers);
            self.drawn = None;
        }
    }

    pub fn set_palette(&mut self, palette: &Palette) {
        let colours: Vec<[u8; 4]> = palette.colours().iter().map(|c| [c[0], c[1], c[2], 255]).collect();
        self.palette.fill(&colours);
        self.drawn = None;
    }

    pub fn set_lines(&mut self, set: Set, lines: &[Line]) {
        self.drawn = None;
        let target = &mut self.lines[set as usize];
        target.count = lines.len() as u32;
        if lines.is_empty() {
            return;
        }
        for (i, buffer) in target.buffers.iter_mut().enumerate() {
            let ends: Vec<Vec3> = lines.iter().map(|l| if i < 2 { l.points[i] } else { l.places[i - 2] }).collect();
            buffer.fill(&ends);
        }
        target.facing.fill(&lines.iter().map(|l| l.facing).collect::<Vec<_>>());
    }

    /// Draws onto the canvas of `size` pixels, unless that is what is on it: the browser keeps the last picture.
    pub fn draw(&mut self, scene: &Scene, size: [u32; 2], ground: &Ground) -> Result<(), CoreError> {
        let wanted = Some((*scene, size, *ground));
        if self.drawn == wanted {
            return Ok(());
        }
        self.take_samples(scene, size)?;
        let screen = RenderTarget::screen(&self.context, size[0], size[1]);
        screen.write::<CoreError>(|| {
            self.to_pixels(scene, size, ground);
            Ok(())
        })?;
        self.drawn = wanted;
        Ok(())
    }

    /// The same picture in memory, row after row from the top.
    pub fn picture(&mut self, scene: &Scene, size: [u32; 2], ground: &Ground) -> Result<Vec<[u8; 4]>, CoreError> {
        self.take_samples(scene, size)?;
        let target = table(&self.context, size[0], size[1]);
        let target: ColorTarget<'_> = target.as_color_target(None);
        target.write::<CoreError>(|| {
            self.to_pixels(scene, size, ground);
            Ok(())
        })?;
        Ok(target.read())
    }

    fn take_samples(&mut self, scene: &Scene, size: [u32; 2]) -> Result<(), CoreError> {
        let across = if size[0] * size[1] * 4 > MOST_SAMPLES { 1 } else { 2 };
        let wanted = [size[0] * across, size[1] * across];
        let fits = self.samples.as_ref().is_some_and(|s| [s.tiles.width(), s.tiles.height()] == wanted && s.across == across);
        if !fits {
            self.samples = None;
            self.samples = Some(Samples {
                tiles: table(&self.context, wanted[0], wanted[1]),
                depths: DepthTexture2D::new::<f32>(&self.context, wanted[0], wanted[1], Wrapping::ClampToEdge, Wrapping::ClampToEdge),
                marks: table(&self.context, wanted[0], wanted[1]),
                across,
            });
        } else if self.sampled == Some(*scene) {
            return Ok(());
        }
        let Some(samples) = &self.samples else { return Ok(()) };
        let target = RenderTarget::new(samples.tiles.as_color_target(None), samples.depths.as_depth_target());
        target.clear(ClearState::color_and_depth(1.0, 1.0, 1.0, 1.0, 1.0));
        if self.indices.count() > 0 {
            target.write::<CoreError>(|| {
                self.draw_tiles(scene, wanted, across);
                Ok(())
            })?;
        }
        samples.marks.as_color_target(None).write::<CoreError>(|| {
            self.mark_edges(scene, samples, wanted);
            Ok(())
        })?;
        self.sampled = Some(*scene);
        Ok(())
    }

    fn mark_edges(&self, scene: &Scene, samples: &Samples, size: [u32; 2]) {
        let across = samples.across as f32;
        let p = &self.edges;
        p.use_texture("samples", &samples.tiles);
        p.use_depth_texture("depths", &samples.depths);
        p.use_uniform("reach", (0.5 * scene.ratio * across).round().max(1.0) as i32);
        p.use_uniform("closes", (blend(GAPS[0], GAPS[1], scene.morph) * scene.ratio * across) as i32);
        // A hundredth of the body, or the depth of a steep face between two samples.
        p.use_uniform("apart", depth_of(scene, (0.01 * scene.length_m).max(12.0 * sample_m(scene, across))));
        p.draw_arrays(OVER, Viewport::new_at_origo(size[0], size[1]), 3);
    }

    fn draw_tiles(&self, scene: &Scene, size: [u32; 2], across: u32) {
        let p = &self.tiles;
        let samples_per_m = scene.shield.pixels_per_m * scene.ratio * across as f32;
        let scale = blend(scene.shield.pixels_per_m, scene.map.pixels_per_m, scene.morph);
        p.use_uniform("shield", scene.shield.matrix());
        p.use_uniform("map", scene.map.matrix());
        p.use_uniform("morph", scene.morph);
        // The joint opens between one and three samples; below that the line between tiles stands for it.
        let open = ((JOINT_M * samples_per_m - 1.0) / 2.0).clamp(0.0, 1.0);
        p.use_uniform("joint", JOINT_M * open * (1.0 - scene.morph));
        p.use_uniform("depth_samples", scene.shield.reach * samples_per_m * (1.0 - scene.morph));
        p.use_uniform("pixels_per_m", scale);
        p.use_vertex_attribute("position", &self.positions);
        p.use_vertex_attribute("place", &self.places);
        p.use_vertex_attribute("inset", &self.insets);
        p.use_vertex_attribute("code", &self.codes);
        let states =
            RenderStates { write_mask: WriteMask::COLOR_AND_DEPTH, depth_test: DepthTest::Less, blend: Blend::Disabled, cull: Cull::None };
        p.draw_elements(states, Viewport::new_at_origo(size[0], size[1]), &self.indices);
    }

    fn to_pixels(&self, scene: &Scene, size: [u32; 2], ground: &Ground) {
        let Some(samples) = &self.samples else { return };
        let viewport = Viewport::new_at_origo(size[0], size[1]);
        let p = &self.picture;
        p.use_texture("marks", &samples.marks);
        p.use_texture("values", &self.values);
        p.use_texture("palette", &self.palette);
        p.use_uniform("across", samples.across as i32);
        p.use_uniform("ratio", scene.ratio);
        p.use_uniform("stage", unit(ground.stage));
        p.use_uniform("key", unit(ground.key));
        p.use_uniform("side", unit(ground.side));
        p.draw_arrays(OVER, viewport, 3);

        let soft = RenderStates { blend: Blend::STANDARD_TRANSPARENCY, ..OVER };
        for lines in self.lines.iter().filter(|l| l.count > 0) {
            for (width, ink) in [(lines.pen.halo, ground.mark_halo), (lines.pen.ink, ground.mark_ink)] {
                let p = &self.line;
                p.use_uniform("shield", scene.shield.matrix());
                p.use_uniform("map", scene.map.matrix());
                p.use_uniform("morph", scene.morph);
                p.use_uniform("eye", scene.shield.axes.eye);
                p.use_uniform("size", vec2(size[0] as f32, size[1] as f32));
                p.use_uniform("half_width", width / 2.0 * scene.ratio);
                p.use_uniform("pixels_per_m", blend(scene.shield.pixels_per_m, scene.map.pixels_per_m, scene.morph));
                p.use_uniform("within", depth_of(scene, (0.004 * scene.length_m).max(8.0 * sample_m(scene, samples.across as f32))));
                p.use_uniform("ink", unit(ink));
                p.use_depth_texture("depths", &samples.depths);
                for (name, buffer) in ["start", "end", "map_start", "map_end"].into_iter().zip(&lines.buffers) {
                    p.use_instance_attribute(name, buffer);
                }
                p.use_instance_attribute("facing", &lines.facing);
                p.draw_arrays_instanced(soft, viewport, 6, lines.count);
            }
        }
    }
}

/// Metres towards the eye in units of the depth texture.
fn depth_of(scene: &Scene, metres: f32) -> f32 {
    metres / (2.0 * scene.shield.reach)
}

fn sample_m(scene: &Scene, across: f32) -> f32 {
    1.0 / (scene.shield.pixels_per_m * scene.ratio * across)
}

/// What a tile's texel holds: column and row of its colour in the palette, and whether it is dotted.
fn number(swatch: Swatch, dotted: bool) -> [u8; 4] {
    [swatch.0 as u8, (swatch.0 >> 8) as u8, u8::from(dotted), 255]
}

fn table(context: &Context, width: u32, height: u32) -> Texture2D {
    Texture2D::new_empty::<[u8; 4]>(
        context,
        width,
        height,
        Interpolation::Nearest,
        Interpolation::Nearest,
        None,
        Wrapping::ClampToEdge,
        Wrapping::ClampToEdge,
    )
}

fn unit(colour: Rgb) -> Vec3 {
    let [r, g, b] = colour.map(|c| f32::from(c) / 255.0);
    vec3(r, g, b)
}

fn blend(a: f32, b: f32, share: f32) -> f32 {
    a + (b - a) * share
}
