//! Everything the picture depends on, how it changes and how it is drawn.

use super::camera::{Body, Camera, DISTANCES, Projection, Room};
use super::hands::Hands;
use super::motion::{MORPH_MS, Motion, TURN_MS};
use super::paint::{Line, Painter, Scene, Set};
use super::solid::{Outline, Solid};
use super::theme::{Theme, prefers_less_motion};
use super::{flat, now_ms, png};
use crate::document::Sorting as _;
use crate::page::model::{Model, Shown};
use crate::report::ramp::{ScaleKind, Swatch};
use crate::scenario::UnitSystem;
use crate::shield::{NO_TILE, Shield, unroll};
use std::rc::Rc;
use three_d::{Context, InnerSpace, Vec3, vec3};
use wasm_bindgen::JsCast;
use web_sys::{CanvasRenderingContext2d, HtmlCanvasElement, WebGl2RenderingContext, WebGlContextAttributes};

/// Milliseconds of script that the last of each took.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Times {
    pub recolour_ms: f64,
    pub pick_ms: f64,
    pub draw_ms: f64,
    pub shield_ms: f64,
}

pub struct State {
    gl: Option<WebGl2RenderingContext>,
    /// The plain canvas where there is no WebGL2.
    flat: Option<CanvasRenderingContext2d>,
    painter: Option<Painter>,
    pub missing: Option<String>,
    pub shield: Option<Rc<Shield>>,
    pub solid: Option<Solid>,
    pub shown: Option<Rc<Shown>>,
    pub units: UnitSystem,
    pub picked: Option<usize>,
    hovered: Option<usize>,
    dark: Option<bool>,
    theme: Theme,
    camera: Camera,
    /// The named view that the camera keeps fitting, until a hand moves it.
    fits: Option<[f32; 2]>,
    turning: Option<Motion<Camera>>,
    map: bool,
    /// `solid` knows the map.
    mapped: bool,
    map_centre: [f32; 2],
    map_scale: f32,
    map_fits: bool,
    morph: f32,
    morphing: Option<Motion<f32>>,
    /// Canvas in CSS pixels, and pixels a CSS pixel.
    pub size: [f32; 2],
    ratio: f32,
    pub hands: Hands,
    pointer: Option<[f32; 2]>,
    /// The pointer moved since the last look for a tile under it.
    looks: bool,
    found: Option<usize>,
    pub times: Times,
}

impl State {
    pub fn new(canvas: &HtmlCanvasElement) -> State {
        let gl = context(canvas);
        let flat: Option<CanvasRenderingContext2d> = if gl.is_none() { plain_context(canvas) } else { None };
        let missing = gl.is_none().then(|| {
            String::from(match flat {
                Some(_) => "This browser gives the page no WebGL2: the shield is drawn without it, more slowly and without joints.",
                None => "This browser gives the page no WebGL2, so the picture of the shield stays empty. The table, the scale and all numbers work.",
            })
        });
        State {
            gl,
            flat,
            missing,
            painter: None,
            shield: None,
            solid: None,
            shown: None,
            units: UnitSystem::default(),
            picked: None,
            hovered: None,
            dark: None,
            theme: Theme::fixed(false),
            camera: Camera { azimuth_deg: 0.0, elevation_deg: 0.0, distance: 2.0, target: vec3(0.0, 0.0, 0.0) },
            fits: Camera::named("default"),
            turning: None,
            map: false,
            mapped: false,
            map_centre: [0.0; 2],
            map_scale: 1.0,
            map_fits: true,
            morph: 0.0,
            morphing: None,
            size: [0.0; 2],
            ratio: 1.0,
            hands: Hands::default(),
            pointer: None,
            looks: false,
            found: None,
            times: Times::default(),
        }
    }

    pub fn update(&mut self, model: &Model, canvas: &HtmlCanvasElement) {
        let first = self.shown.is_none();
        if !self.shield.as_ref().is_some_and(|s| Rc::ptr_eq(s, &model.shield)) {
            self.set_shield(&model.shield);
            self.restore_camera(model.scenario.view.camera);
        }
        if self.dark != Some(model.dark) {
            self.dark = Some(model.dark);
            self.theme = Theme::read(canvas, model.dark);
            if let Some(painter) = &mut self.painter {
                painter.set_palette(&self.theme.palette);
            }
        }
        self.units = model.units;
        self.build();
        if !self.shown.as_ref().is_some_and(|s| Rc::ptr_eq(s, &model.shown)) {
            let started = now_ms();
            let before = self.shown.replace(model.shown.clone());
            self.recolour();
            self.times.recolour_ms = now_ms() - started;
            let struck = |s: &Shown| (s.short.clone(), s.hidden.clone(), s.border.clone(), strikes(s));
            if before.is_none_or(|b| struck(&b) != struck(&model.shown)) {
                self.strike();
            }
        }
        if self.picked != model.picked {
            self.picked = model.picked;
            self.outline(Set::Selection, self.picked);
        }
        if self.hovered != model.hovered {
            self.hovered = model.hovered;
            self.outline(Set::Hover, self.hovered);
        }
        if model.scenario.view.map {
            self.lay_out();
        }
        if self.map != model.scenario.view.map {
            self.map = model.scenario.view.map;
            let to = if self.map { 1.0 } else { 0.0 };
            self.morphing =
                (!first && !prefers_less_motion()).then(|| Motion { from: self.morph, to, start_ms: now_ms(), length_ms: MORPH_MS });
            if self.morphing.is_none() {
                self.morph = to;
            }
        }
    }

    /// Lays the shield out flat when the map is first asked for: it takes a while, and the first picture does without.
    fn lay_out(&mut self) {
        if let (Some(shield), false) = (&self.shield, self.mapped) {
            self.solid = Some(Solid::new(shield, &unroll(shield)));
            self.mapped = true;
            self.painter = None;
            self.fit();
        }
    }

    /// Another shield: seen from the default view until a camera is set.
    pub fn set_shield(&mut self, shield: &Rc<Shield>) {
        let started = now_ms();
        self.solid = Some(Solid::new(shield, &[]));
        self.mapped = false;
        self.shield = Some(shield.clone());
        self.shown = None;
        self.painter = None;
        (self.picked, self.hovered, self.found) = (None, None, None);
        self.map_fits = true;
        self.size = [0.0; 2];
        self.restore_camera(None);
        self.times.shield_ms = now_ms() - started;
    }

    /// Everything on the graphics card, from what is known here: at first, for a new shield, and after a lost context.
    fn build(&mut self) {
        let (Some(gl), Some(solid), None) = (&self.gl, &self.solid, &self.painter) else { return };
        if gl.is_context_lost() {
            return;
        }
        // three-d asks for an `Arc`; the page has one thread.
        #[allow(clippy::arc_with_non_send_sync)]
        let context = Context::from_gl_context(std::sync::Arc::new(three_d::context::Context::from_webgl2_context(gl.clone())));
        match context.and_then(|context| Painter::new(&context, solid)) {
            Ok(mut painter) => {
                painter.set_palette(&self.theme.palette);
                self.painter = Some(painter);
                self.missing = None;
                self.recolour();
                self.strike();
                self.outline(Set::Selection, self.picked);
                self.outline(Set::Hover, self.hovered);
            }
            Err(error) => self.missing = Some(format!("The graphics card did not take the picture of the shield: {error}")),
        }
    }

    /// The context is gone, and with it all that was on the card.
    pub fn lose(&mut self) {
        self.painter = None;
    }

    pub fn recover(&mut self, canvas: &HtmlCanvasElement) {
        self.painter = None;
        self.gl = context(canvas);
        self.build();
    }

    fn recolour(&mut self) {
        let (Some(shown), Some(painter)) = (&self.shown, &mut self.painter) else { return };
        let colours = shown.scale.swatches(&shown.values, &shown.short);
        let hidden = |i: usize| shown.hidden.get(i).copied().unwrap_or(false);
        let dotted = |i: usize| shown.dotted.get(i).copied().unwrap_or(false);
        painter.recolour(colours.enumerate().map(|(i, s)| (if hidden(i) { Swatch::PLAIN } else { s }, dotted(i))));
    }

    fn strike(&mut self) {
        let mut lines = Vec::new();
        if let (Some(shown), Some(solid)) = (&self.shown, &self.solid)
            && strikes(shown)
        {
            for (i, outline) in solid.outlines.iter().enumerate() {
                let is = |list: &[bool]| list.get(i).copied().unwrap_or(false);
                if is(&shown.short) && !is(&shown.hidden) {
                    lines.extend(round(outline));
                    lines.extend(across(outline));
                }
            }
        }
        if let Some(painter) = &mut self.painter {
            painter.set_lines(Set::Strikes, &lines);
        }
        let border = match (&self.shown, &self.solid) {
            (Some(shown), Some(solid)) => shown.border.iter().filter_map(|(tile, other)| between(solid, *tile, *other)).collect(),
            _ => Vec::new(),
        };
        if let Some(painter) = &mut self.painter {
            painter.set_lines(Set::Border, &border);
        }
    }

    fn outline(&mut self, set: Set, tile: Option<usize>) {
        let outline = tile.and_then(|t| self.solid.as_ref()?.outlines.get(t));
        let lines: Vec<Line> = outline.map(|o| round(o).collect()).unwrap_or_default();
        if let Some(painter) = &mut self.painter {
            painter.set_lines(set, &lines);
        }
    }

    /// Takes every movement to `now`; true while one goes on.
    pub fn advance(&mut self, now: f64) -> bool {
        if let Some(motion) = self.turning {
            let share = motion.share(now);
            self.camera = motion.from.towards(&motion.to, share);
            if share >= 1.0 {
                self.camera = motion.to;
                self.turning = None;
            }
        }
        if let Some(motion) = self.morphing {
            let share = motion.share(now);
            self.morph = motion.from + (motion.to - motion.from) * share;
            if share >= 1.0 {
                self.morph = motion.to;
                self.morphing = None;
            }
        }
        self.turning.is_some() || self.morphing.is_some()
    }

    pub fn draw(&mut self, canvas: &HtmlCanvasElement) {
        let started = now_ms();
        let ratio = web_sys::window().map_or(1.0, |w| w.device_pixel_ratio()).clamp(0.5, 4.0) as f32;
        let css = [canvas.client_width() as f32, canvas.client_height() as f32];
        if css[0] < 2.0 || css[1] < 2.0 {
            return;
        }
        if css != self.size || ratio != self.ratio {
            (self.size, self.ratio) = (css, ratio);
            for (now, wanted, set) in [
                (canvas.width(), (css[0] * ratio).round() as u32, HtmlCanvasElement::set_width as fn(&HtmlCanvasElement, u32)),
                (canvas.height(), (css[1] * ratio).round() as u32, HtmlCanvasElement::set_height),
            ] {
                if now != wanted {
                    set(canvas, wanted);
                }
            }
            self.fit();
        }
        self.build();
        if let Some(flat) = &self.flat {
            self.draw_flat(flat);
            self.times.draw_ms = now_ms() - started;
            return;
        }
        let (Some(scene), Some(gl)) = (self.scene(self.size, self.ratio), &self.gl) else { return };
        if gl.is_context_lost() {
            return;
        }
        if let Some(painter) = &mut self.painter
            && let Err(error) = painter.draw(&scene, [canvas.width(), canvas.height()], &self.theme.ground)
        {
            self.missing = Some(format!("The picture could not be drawn: {error}"));
        }
        self.times.draw_ms = now_ms() - started;
    }

    fn draw_flat(&self, canvas: &CanvasRenderingContext2d) {
        let (Some(solid), Some(shown)) = (&self.solid, &self.shown) else { return };
        let map = self.morph > 0.5;
        let eye = if map { self.map_projection(self.size) } else { self.shield_projection(&solid.body, self.size) };
        let is = |list: &[bool], i: usize| list.get(i).copied().unwrap_or(false);
        let swatches = shown.scale.swatches(&shown.values, &shown.short).enumerate();
        let colours: Vec<_> = swatches.map(|(i, s)| self.theme.palette.rgb(if is(&shown.hidden, i) { Swatch::PLAIN } else { s })).collect();
        let asked = flat::Asked {
            colours: &colours,
            struck: &|i| strikes(shown) && is(&shown.short, i) && !is(&shown.hidden, i),
            picked: self.picked,
            hovered: self.hovered,
            map,
            plain: self.theme.palette.rgb(Swatch::PLAIN),
        };
        flat::draw(canvas, solid, &eye, self.ratio, &self.theme.ground, &asked);
    }

    /// Fits what follows the canvas to its present size.
    fn fit(&mut self) {
        let Some(solid) = &self.solid else { return };
        if let Some(direction) = self.fits {
            self.camera = Camera::fit(direction, &solid.body, &solid.positions, self.size, room(self.size));
            self.turning = None;
        }
        if self.map_fits {
            let low = [solid.map_low.x, solid.map_low.y];
            let high = [solid.map_high.x, solid.map_high.y];
            (self.map_scale, self.map_centre) = room(self.size).fit(low, high, self.size);
        }
    }

    fn scene(&self, size: [f32; 2], ratio: f32) -> Option<Scene> {
        let solid = self.solid.as_ref()?;
        let morph = self.morph;
        Some(Scene {
            shield: self.shield_projection(&solid.body, size),
            map: self.map_projection(size),
            morph,
            ratio,
            length_m: solid.body.length(),
        })
    }

    fn shield_projection(&self, body: &Body, size: [f32; 2]) -> Projection {
        let (camera, centre) = (&self.camera, body.centre);
        let reach = (camera.target - centre).magnitude() + body.radius * 1.2;
        Projection { axes: camera.axes(), target: camera.target, pixels_per_m: camera.pixels_per_m(body, size[1]), size, reach }
    }

    fn map_projection(&self, size: [f32; 2]) -> Projection {
        let axes = super::camera::Axes { right: vec3(1.0, 0.0, 0.0), up: vec3(0.0, 1.0, 0.0), eye: vec3(0.0, 0.0, 1.0) };
        Projection { axes, target: vec3(self.map_centre[0], self.map_centre[1], 0.0), pixels_per_m: self.map_scale, size, reach: 1.0 }
    }

    /// The projection of what is seen, and the tree to look through; `None` on the way between the two.
    fn looking(&self) -> Option<(Projection, &super::bvh::Tree)> {
        let solid = self.solid.as_ref()?;
        if self.morph == 0.0 {
            Some((self.shield_projection(&solid.body, self.size), solid.tree()))
        } else if self.morph == 1.0 {
            Some((self.map_projection(self.size), solid.map_tree()))
        } else {
            None
        }
    }

    fn look(&self, x: f32, y: f32) -> Option<usize> {
        let (projection, tree) = self.looking()?;
        let eye = projection.axes.eye;
        let hit = tree.first(projection.under(x, y) + eye * projection.reach, -eye)?;
        (hit.owner != NO_TILE && (hit.outside || self.morph == 1.0)).then_some(hit.owner as usize)
    }

    pub fn tile_at(&mut self, x: f32, y: f32) -> Option<usize> {
        let started = now_ms();
        let tile = self.look(x, y);
        self.times.pick_ms = now_ms() - started;
        tile
    }

    /// Where a tile's centre is on the canvas while one can see it.
    pub fn seen_at(&self, tile: usize) -> Option<[f32; 2]> {
        let at = self.place(tile)?;
        let inside = at[0] >= 0.0 && at[1] >= 0.0 && at[0] <= self.size[0] && at[1] <= self.size[1];
        // Edge-on, where its lines are not drawn either, a tile counts as hidden.
        let outline = self.solid.as_ref()?.outlines.get(tile)?;
        let faces = self.morph == 1.0 || outline.normal.dot(self.camera.axes().eye) > 0.05;
        (inside && faces && self.look(at[0], at[1]) == Some(tile)).then_some(at)
    }

    /// Where a tile's centre is on the canvas, hidden or not; `None` on the way to the map.
    pub fn place(&self, tile: usize) -> Option<[f32; 2]> {
        let outline = self.solid.as_ref()?.outlines.get(tile)?;
        let (projection, _) = self.looking()?;
        let [x, y, _] = projection.place(if self.morph == 1.0 { outline.map_centre } else { outline.centre });
        Some([x, y])
    }

    /// Where the pointer is now, for the tile under it in the next frame.
    pub fn hover(&mut self, at: Option<[f32; 2]>) {
        self.pointer = at;
        self.looks = true;
    }

    /// A look for the tile under the pointer waits.
    pub fn looks(&self) -> bool {
        self.looks
    }

    /// The tile under the pointer if it is another than before.
    pub fn take_hover(&mut self) -> Option<Option<usize>> {
        if !std::mem::take(&mut self.looks) {
            return None;
        }
        let found = self.pointer.and_then(|p| self.tile_at(p[0], p[1]));
        (found != std::mem::replace(&mut self.found, found)).then_some(found)
    }

    pub fn held(&self) -> bool {
        self.hands.held()
    }

    pub fn is_map(&self) -> bool {
        self.map
    }

    pub fn middle(&self) -> [f32; 2] {
        [self.size[0] / 2.0, self.size[1] / 2.0]
    }

    /// Turns by degrees to the right and down as a hand moves; on the map it pans.
    pub fn orbit(&mut self, right: f32, down: f32) {
        if self.map {
            return self.pan(right * 3.0, down * 3.0);
        }
        self.take_over();
        self.camera.azimuth_deg = (self.camera.azimuth_deg + right + 180.0).rem_euclid(360.0) - 180.0;
        self.camera.elevation_deg = (self.camera.elevation_deg + down).clamp(-90.0, 90.0);
    }

    /// Moves the picture by CSS pixels.
    pub fn pan(&mut self, right: f32, down: f32) {
        let Some(body) = self.solid.as_ref().map(|s| s.body) else { return };
        if self.map {
            self.map_fits = false;
            self.map_centre[0] -= right / self.map_scale;
            self.map_centre[1] += down / self.map_scale;
            return;
        }
        self.take_over();
        let (axes, scale) = (self.camera.axes(), self.camera.pixels_per_m(&body, self.size[1].max(1.0)));
        let target = self.camera.target - axes.right * (right / scale) + axes.up * (down / scale);
        // The body never leaves the reach of a hand.
        let from = target - body.centre;
        let most = 2.0 * body.radius;
        self.camera.target = body.centre + if from.magnitude() > most { from.normalize_to(most) } else { from };
    }

    /// Enlarges about a place of the canvas.
    pub fn zoom(&mut self, factor: f32, at: [f32; 2]) {
        let Some(body) = self.solid.as_ref().map(|s| s.body) else { return };
        if !(factor.is_finite() && factor > 0.0) {
            return;
        }
        let before = if self.map { self.map_projection(self.size) } else { self.shield_projection(&body, self.size) }.under(at[0], at[1]);
        if self.map {
            self.map_fits = false;
            let length = self.size[1].max(1.0) / body.length();
            self.map_scale = (self.map_scale * factor).clamp(length / DISTANCES[1], length / DISTANCES[0]);
            let after = self.map_projection(self.size).under(at[0], at[1]);
            self.map_centre[0] += before.x - after.x;
            self.map_centre[1] += before.y - after.y;
        } else {
            self.take_over();
            self.camera.distance = (self.camera.distance / factor).clamp(DISTANCES[0], DISTANCES[1]);
            self.camera.target += before - self.shield_projection(&body, self.size).under(at[0], at[1]);
        }
    }

    /// A hand moves the camera: it no longer follows a named view.
    fn take_over(&mut self) {
        self.fits = None;
        self.turning = None;
    }

    pub fn turn(&mut self, name: &str, now: f64) {
        let (Some(direction), Some(solid)) = (Camera::named(name), &self.solid) else { return };
        if self.map {
            self.map_fits = true;
            self.fit();
            return;
        }
        let to = Camera::fit(direction, &solid.body, &solid.positions, self.size, room(self.size));
        self.fits = Some(direction);
        if prefers_less_motion() {
            self.camera = to;
        } else {
            self.turning = Some(Motion { from: self.camera, to, start_ms: now, length_ms: TURN_MS });
        }
    }

    pub fn stored_camera(&self) -> Option<[f64; 6]> {
        if self.fits == Camera::named("default") {
            return None;
        }
        let solid = self.solid.as_ref()?;
        Some(self.turning.map_or(self.camera, |t| t.to).stored(&solid.body))
    }

    pub fn restore_camera(&mut self, stored: Option<[f64; 6]>) {
        let Some(solid) = &self.solid else { return };
        self.turning = None;
        match stored {
            Some(stored) => {
                self.fits = None;
                self.camera = Camera::restored(stored, &solid.body);
            }
            None => {
                self.fits = Camera::named("default");
                self.fit();
            }
        }
    }

    pub fn words(&self) -> String {
        if self.map { String::from("Unrolled into a map, seen from outside") } else { self.turning.map_or(self.camera, |t| t.to).words() }
    }

    pub fn screenshot(&mut self) -> Option<Vec<u8>> {
        let scene = self.scene(self.size, self.ratio)?;
        let size = self.size.map(|s| (s * self.ratio).round() as u32);
        let pixels = self.painter.as_mut()?.picture(&scene, size, &self.theme.ground).ok()?;
        png::png(&pixels, size[0], size[1])
    }

    /// The picture for paper, and where on it the worst short tiles that can be seen are, in CSS pixels.
    pub fn print(&mut self, size: [u32; 2], ratio: f32) -> Option<Printed> {
        if self.gl.as_ref()?.is_context_lost() {
            return None;
        }
        let solid = self.solid.as_ref()?;
        let css = size.map(|s| s as f32);
        let edge = Room { left: 8.0, top: 8.0, right: 8.0, bottom: 8.0 };
        let direction = [self.camera.azimuth_deg, self.camera.elevation_deg];
        let camera = Camera::fit(direction, &solid.body, &solid.positions, css, edge);
        let kept = (self.camera, self.morph, self.size);
        (self.camera, self.morph, self.size) = (camera, 0.0, css);
        let scene = self.scene(css, ratio);
        let numbers = self.worst_seen(PRINTED_NUMBERS);
        (self.camera, self.morph, self.size) = kept;
        let mut paper = Theme::fixed(false);
        (paper.ground.stage, paper.ground.key) = ([255; 3], [0x33; 3]);
        let pixels = css.map(|s| (s * ratio).round() as u32);
        let painter = self.painter.as_mut()?;
        painter.set_palette(&paper.palette);
        let picture = painter.picture(&scene?, pixels, &paper.ground);
        painter.set_palette(&self.theme.palette);
        Some(Printed { png: png::png(&picture.ok()?, pixels[0], pixels[1])?, numbers })
    }

    /// The short tiles whose limit is shown, worst first.
    pub fn worst(&self) -> Vec<usize> {
        let Some(shown) = self.shown.as_ref().filter(|s| strikes(s)) else { return Vec::new() };
        let is = |list: &[bool], i: usize| list.get(i).copied().unwrap_or(false);
        let mut short: Vec<usize> = (0..shown.values.len()).filter(|i| is(&shown.short, *i) && !is(&shown.hidden, *i)).collect();
        short.order_by(|a, b| shown.values[*a].total_cmp(&shown.values[*b]));
        if shown.scale.kind == ScaleKind::Temperature {
            short.reverse();
        }
        short
    }

    fn worst_seen(&self, most: usize) -> Vec<(usize, [f64; 2])> {
        let places = self.worst().into_iter().take(8 * most).filter_map(|tile| Some((tile, self.seen_at(tile)?.map(f64::from))));
        places.take(most).collect()
    }
}

/// A picture for paper.
#[derive(Clone, Debug, PartialEq)]
pub struct Printed {
    pub png: Vec<u8>,
    /// Tile, and its place in CSS pixels from the top left.
    pub numbers: Vec<(usize, [f64; 2])>,
}

/// Most numbers on the printed picture.
const PRINTED_NUMBERS: usize = 10;

/// Short tiles are struck where a limit is what the colours speak of.
fn strikes(shown: &Shown) -> bool {
    matches!(shown.scale.kind, ScaleKind::Margin | ScaleKind::Temperature)
}

/// What stands over the picture: tabs above, words below.
fn room(size: [f32; 2]) -> Room {
    if size[0] < 600.0 {
        Room { left: 12.0, top: 44.0, right: 12.0, bottom: 40.0 }
    } else {
        Room { left: 40.0, top: 34.0, right: 40.0, bottom: 34.0 }
    }
}

fn round(outline: &Outline) -> impl Iterator<Item = Line> + '_ {
    let n = outline.points.len();
    (0..n).map(move |i| line(outline, i, (i + 1) % n, 0.0))
}

/// The edge of a tile that looks at another.
fn between(solid: &Solid, tile: usize, other: usize) -> Option<Line> {
    let (outline, beyond) = (solid.outlines.get(tile)?, solid.outlines.get(other)?);
    let way = beyond.centre - outline.centre;
    let n = outline.points.len();
    let towards = |i: usize| {
        let middle = (outline.points[i] + outline.points[(i + 1) % n]) * 0.5 - outline.centre;
        middle.dot(way) / middle.magnitude().max(1e-9)
    };
    let edge = (0..n).max_by(|a, b| towards(*a).total_cmp(&towards(*b)))?;
    Some(line(outline, edge, (edge + 1) % n, 0.0))
}

fn across(outline: &Outline) -> Option<Line> {
    let [a, b] = outline.diagonal;
    (a != b).then(|| line(outline, a, b, outline.smallest_side_m))
}

fn line(outline: &Outline, a: usize, b: usize, side: f32) -> Line {
    let at = |list: &[Vec3], i: usize| list.get(i).copied().unwrap_or(vec3(0.0, 0.0, 0.0));
    Line {
        points: [at(&outline.points, a), at(&outline.points, b)],
        places: [at(&outline.places, a), at(&outline.places, b)],
        facing: outline.normal.extend(side),
    }
}

fn plain_context(canvas: &HtmlCanvasElement) -> Option<CanvasRenderingContext2d> {
    canvas.get_context("2d").ok()??.dyn_into().ok()
}

/// The canvas's own context: opaque, and without the browser's smoothing, which would mix the colours of neighbours.
fn context(canvas: &HtmlCanvasElement) -> Option<WebGl2RenderingContext> {
    let wishes = WebGlContextAttributes::new();
    wishes.set_alpha(false);
    wishes.set_antialias(false);
    wishes.set_depth(false);
    wishes.set_stencil(false);
    canvas.get_context_with_context_options("webgl2", &wishes).ok()??.dyn_into().ok()
}
