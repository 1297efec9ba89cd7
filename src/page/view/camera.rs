//! Where the eye is: a parallel projection from an azimuth and an elevation, the named views, and the view said in words.
//!
//! A parallel projection keeps tiles of one size at one size wherever they lie, and parallel rows parallel.

use three_d::{InnerSpace, Mat4, Vec3, vec3};

/// The share of the canvas height that one body length takes at a distance of one body length: that of a lens of 30°.
const LENS: f32 = 0.535_898_4; // 2 tan 15°

/// Azimuth and elevation in degrees of the default view: from below, ahead and left.
const DEFAULT: [f32; 2] = [-58.0, -44.0];

/// Closest and farthest, in body lengths.
pub const DISTANCES: [f32; 2] = [0.004, 12.0];

/// The eye. Azimuth 0 and elevation 0 look at the nose; azimuth grows towards the body's right, elevation from above is positive.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Camera {
    pub azimuth_deg: f32,
    pub elevation_deg: f32,
    /// Body lengths.
    pub distance: f32,
    /// Metres.
    pub target: Vec3,
}

/// The body as the camera needs it, in metres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Body {
    pub centre: Vec3,
    pub extent: Vec3,
    /// Of the sphere round `centre` that holds everything.
    pub radius: f32,
}

impl Body {
    pub fn length(&self) -> f32 {
        self.extent.x.max(self.extent.y).max(self.extent.z).max(1e-6)
    }
}

/// The camera's axes: right and up on the screen, and towards the eye.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Axes {
    pub right: Vec3,
    pub up: Vec3,
    pub eye: Vec3,
}

impl Camera {
    pub fn axes(&self) -> Axes {
        let (sa, ca) = self.azimuth_deg.to_radians().sin_cos();
        let (se, ce) = self.elevation_deg.to_radians().sin_cos();
        let right = vec3(-sa, -ca, 0.0);
        let eye = vec3(-ce * ca, ce * sa, se);
        Axes { right, up: eye.cross(right), eye }
    }

    /// The named views; `None` for a name that is none of them.
    pub fn named(name: &str) -> Option<[f32; 2]> {
        Some(match name {
            "belly" => [-90.0, -90.0],
            "top" => [-90.0, 90.0],
            "left" => [-90.0, 0.0],
            "right" => [90.0, 0.0],
            "tail" => [180.0, 0.0],
            "nose" => [0.0, 0.0],
            "default" => DEFAULT,
            _ => return None,
        })
    }

    /// Looks from `direction` (azimuth, elevation) at all of `points`, inside `room` of a canvas of `size` CSS pixels.
    pub fn fit(direction: [f32; 2], body: &Body, points: &[Vec3], size: [f32; 2], room: Room) -> Camera {
        let mut camera = Camera { azimuth_deg: direction[0], elevation_deg: direction[1], distance: 2.0, target: body.centre };
        let axes = camera.axes();
        let (mut low, mut high) = ([f32::MAX; 2], [f32::MIN; 2]);
        for p in points {
            for (i, v) in [(p - body.centre).dot(axes.right), (p - body.centre).dot(axes.up)].into_iter().enumerate() {
                low[i] = low[i].min(v);
                high[i] = high[i].max(v);
            }
        }
        if !(high[0] > low[0] && high[1] > low[1]) {
            return camera;
        }
        let (scale, shift) = room.fit(low, high, size);
        camera.distance = (size[1] / (scale * LENS * body.length())).clamp(DISTANCES[0], DISTANCES[1]);
        camera.target = body.centre + axes.right * shift[0] + axes.up * shift[1];
        camera
    }

    /// CSS pixels a metre on a canvas of that height.
    pub fn pixels_per_m(&self, body: &Body, height: f32) -> f32 {
        height / (LENS * self.distance * body.length())
    }

    /// The camera as a scenario stores it: degrees, body lengths, shares of the body's box.
    pub fn stored(&self, body: &Body) -> [f64; 6] {
        let share = |at: f32, centre: f32, extent: f32| if extent > 0.0 { f64::from((at - centre) / extent) } else { 0.0 };
        let (t, c, e) = (self.target, body.centre, body.extent);
        [
            f64::from(self.azimuth_deg),
            f64::from(self.elevation_deg),
            f64::from(self.distance),
            share(t.x, c.x, e.x),
            share(t.y, c.y, e.y),
            share(t.z, c.z, e.z),
        ]
    }

    /// From a scenario; values beyond what a hand can reach are brought back to it.
    pub fn restored(stored: [f64; 6], body: &Body) -> Camera {
        let of = |i: usize| if stored[i].is_finite() { stored[i].clamp(-1e4, 1e4) as f32 } else { 0.0 };
        let (c, e) = (body.centre, body.extent);
        Camera {
            azimuth_deg: of(0),
            elevation_deg: of(1).clamp(-90.0, 90.0),
            distance: of(2).clamp(DISTANCES[0], DISTANCES[1]),
            target: vec3(c.x + of(3) * e.x, c.y + of(4) * e.y, c.z + of(5) * e.z),
        }
    }

    /// Part of the way to `to`, azimuth by the shorter way.
    pub fn towards(&self, to: &Camera, share: f32) -> Camera {
        let turn = (to.azimuth_deg - self.azimuth_deg + 180.0).rem_euclid(360.0) - 180.0;
        Camera {
            azimuth_deg: self.azimuth_deg + turn * share,
            elevation_deg: self.elevation_deg + (to.elevation_deg - self.elevation_deg) * share,
            distance: self.distance * (to.distance / self.distance).powf(share),
            target: self.target + (to.target - self.target) * share,
        }
    }

    /// "Seen from below, ahead and left".
    pub fn words(&self) -> String {
        let eye = self.axes().eye;
        // A part of the direction below a sixth is not said.
        let said = |value: f32, minus: &'static str, plus: &'static str| match value {
            v if v < -0.17 => Some(minus),
            v if v > 0.17 => Some(plus),
            _ => None,
        };
        let parts: Vec<&str> =
            [said(eye.z, "below", "above"), said(eye.x, "ahead", "behind"), said(eye.y, "left", "right")].into_iter().flatten().collect();
        match parts.as_slice() {
            [] => String::from("Seen from the side"),
            ["below" | "above"] => format!("Seen from straight {}", parts[0]),
            ["left" | "right"] => format!("Seen from the {}", parts[0]),
            [one] => format!("Seen from straight {one}"),
            [one, two] => format!("Seen from {one} and {two}"),
            [one, two, three, ..] => format!("Seen from {one}, {two} and {three}"),
        }
    }
}

/// What the picture leaves free at each side of the canvas, in CSS pixels.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Room {
    pub left: f32,
    pub top: f32,
    pub right: f32,
    pub bottom: f32,
}

impl Room {
    /// CSS pixels a metre, and the point of the plane that comes to the middle of the canvas, for a box from `low` to `high`.
    pub fn fit(&self, low: [f32; 2], high: [f32; 2], size: [f32; 2]) -> (f32, [f32; 2]) {
        let free = [(size[0] - self.left - self.right).max(20.0), (size[1] - self.top - self.bottom).max(20.0)];
        let scale = (free[0] / (high[0] - low[0]).max(1e-6)).min(free[1] / (high[1] - low[1]).max(1e-6));
        let middle = [(low[0] + high[0]) / 2.0, (low[1] + high[1]) / 2.0];
        (scale, [middle[0] - (self.left - self.right) / 2.0 / scale, middle[1] - (self.bottom - self.top) / 2.0 / scale])
    }
}

/// A parallel projection of one space onto the canvas: the shield by the camera, the map by its own pan and scale.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Projection {
    pub axes: Axes,
    pub target: Vec3,
    pub pixels_per_m: f32,
    /// CSS pixels.
    pub size: [f32; 2],
    /// Half the depth that is kept, in metres about the target.
    pub reach: f32,
}

impl Projection {
    /// Canvas place in CSS pixels from its top left, and metres from the target towards the eye.
    pub fn place(&self, p: Vec3) -> [f32; 3] {
        let v = p - self.target;
        let (x, y) = (v.dot(self.axes.right) * self.pixels_per_m, v.dot(self.axes.up) * self.pixels_per_m);
        [self.size[0] / 2.0 + x, self.size[1] / 2.0 - y, v.dot(self.axes.eye)]
    }

    /// The point of the plane through the target that lies under a place of the canvas.
    pub fn under(&self, x: f32, y: f32) -> Vec3 {
        let (right, up) = ((x - self.size[0] / 2.0) / self.pixels_per_m, (self.size[1] / 2.0 - y) / self.pixels_per_m);
        self.target + self.axes.right * right + self.axes.up * up
    }

    /// To clip space.
    pub fn matrix(&self) -> Mat4 {
        let (sx, sy, sz) = (2.0 * self.pixels_per_m / self.size[0], 2.0 * self.pixels_per_m / self.size[1], -1.0 / self.reach);
        let (r, u, e, t) = (self.axes.right * sx, self.axes.up * sy, self.axes.eye * sz, self.target);
        Mat4::new(r.x, u.x, e.x, 0.0, r.y, u.y, e.y, 0.0, r.z, u.z, e.z, 0.0, -r.dot(t), -u.dot(t), -e.dot(t), 1.0)
    }
}
