//! Where the eye is, and where a point of the model comes to lie in a panel.

use crate::mesh::Vec3;

/// Share of a panel's side that is left free on each side of what is framed.
const MARGIN: f64 = 0.06;

/// Depth nearer than which nothing is drawn, over the distance of what is looked at.
const NEAR_DEPTH: f64 = 0.02;

/// The axis that points up in the model.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum UpAxis {
    /// Y up, z towards the viewer of the front: the usual custom of OBJ (common practice, no
    /// published source).
    #[default]
    Y,
    /// Z up, y away from the viewer of the front.
    Z,
}

/// Directions of a picture: all of length 1, at right angles, in the model's coordinates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Axes {
    /// To the right in the picture.
    pub right: Vec3,
    /// Up in the picture.
    pub up: Vec3,
    /// Out of the picture, towards the viewer.
    pub back: Vec3,
}

impl Axes {
    /// The axes of a view from the direction `back` with `up` upwards, as far as that goes: where
    /// the two are parallel, `fallback` is upwards.
    pub fn looking_from(back: Vec3, up: Vec3, fallback: Vec3) -> Self {
        /// Sine of the angle below which two directions count as parallel.
        const PARALLEL_TOLERANCE: f64 = 1e-3;
        let back = back.try_normalize(0.0).unwrap_or(Vec3::z());
        let right = up.cross(&back);
        let right = if right.norm() < PARALLEL_TOLERANCE {
            fallback.cross(&back)
        } else {
            right
        };
        let right = right.try_normalize(0.0).unwrap_or(Vec3::x());
        let up = back.cross(&right);
        Self { right, up, back }
    }

    /// A direction in these axes: right, up, back.
    pub fn turn(&self, v: Vec3) -> [f64; 3] {
        [v.dot(&self.right), v.dot(&self.up), v.dot(&self.back)]
    }
}

/// A point in a panel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Projected {
    /// Pixels to the right of the panel's left side.
    pub x: f64,
    /// Pixels below the panel's upper side.
    pub y: f64,
    /// Nearness: larger is nearer, linear over a plane's image.
    pub nearness: f64,
    /// What a corner's weight is multiplied by to interpolate over a plane's image: 1 in a
    /// parallel view, 1 / depth in perspective.
    pub weight: f64,
}

/// A camera: points are those of the surface's own frame
/// ([`Frame`](crate::subdivision::Frame)).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Camera {
    axes: Axes,
    eye: Vec3,
    /// Distance of what is looked at; `None` in a parallel view.
    distance: Option<f64>,
    /// Pixels per unit of the image plane.
    scale: f64,
    /// Where the eye's axis meets the panel, in pixels.
    middle: [f64; 2],
}

impl Camera {
    /// A parallel view that frames all of `points` in a panel of `side` pixels.
    pub fn parallel(axes: Axes, points: &[Vec3], side: usize) -> Self {
        let camera = Self {
            axes,
            eye: Vec3::zeros(),
            distance: None,
            scale: 1.0,
            middle: [0.0; 2],
        };
        camera.framing(points, side)
    }

    /// A perspective view that frames all of `points` in a panel of `side` pixels, from
    /// `distance` before their middle.
    pub fn perspective(axes: Axes, points: &[Vec3], distance: f64, side: usize) -> Self {
        let (low, high) = bounds(points.iter().copied());
        let eye = (low + high) * 0.5 + axes.back * distance;
        let camera = Self {
            axes,
            eye,
            distance: Some(distance),
            scale: 1.0,
            middle: [0.0; 2],
        };
        camera.framing(points, side)
    }

    /// A perspective view of a ball, as wide as a panel of `side` pixels, from `distance` before
    /// its middle.
    pub fn close_up(axes: Axes, middle: Vec3, radius: f64, distance: f64, side: usize) -> Self {
        let half = side as f64 / 2.0;
        Self {
            axes,
            eye: middle + axes.back * distance,
            distance: Some(distance),
            scale: half * distance / radius,
            middle: [half; 2],
        }
    }

    /// The axes of the picture.
    pub fn axes(&self) -> &Axes {
        &self.axes
    }

    /// Where the eye is; `None` in a parallel view, where it is infinitely far.
    pub fn eye(&self) -> Option<Vec3> {
        self.distance.map(|_| self.eye)
    }

    /// Where a point comes to lie; `None` if it lies behind the eye or too near to it.
    pub fn project(&self, p: Vec3) -> Option<Projected> {
        let [x, y, back] = self.axes.turn(p - self.eye);
        let (shrink, nearness) = match self.distance {
            None => (1.0, back),
            Some(distance) if -back > NEAR_DEPTH * distance => (-1.0 / back, -1.0 / back),
            Some(_) => return None,
        };
        Some(Projected {
            x: self.middle[0] + self.scale * x * shrink,
            y: self.middle[1] - self.scale * y * shrink,
            nearness,
            weight: shrink,
        })
    }

    /// Direction from a place of the panel towards the viewer, of length 1, in the camera's axes.
    pub fn towards_viewer(&self, x: f32, y: f32) -> [f32; 3] {
        if self.distance.is_none() {
            return [0.0, 0.0, 1.0];
        }
        let right = (f64::from(x) - self.middle[0]) / self.scale;
        let down = (f64::from(y) - self.middle[1]) / self.scale;
        let length = (right * right + down * down + 1.0).sqrt();
        [-right / length, down / length, 1.0 / length].map(|c| c as f32)
    }

    /// The same camera moved and zoomed in the image plane.
    fn framing(mut self, points: &[Vec3], side: usize) -> Self {
        let projected = points.iter().filter_map(|&p| self.project(p));
        let (low, high) = bounds(projected.map(|p| Vec3::new(p.x, p.y, 0.0)));
        let size = (high - low).max();
        let free = side as f64 * (1.0 - 2.0 * MARGIN);
        let scale = if size > 0.0 { free / size } else { 1.0 };
        let middle = (low + high) * 0.5;
        self.scale = scale;
        self.middle = [0, 1].map(|k| side as f64 / 2.0 - scale * middle[k]);
        self
    }
}

/// The least box with its sides along the axes that holds all points; zero without any.
pub fn bounds(points: impl Iterator<Item = Vec3>) -> (Vec3, Vec3) {
    let join = |(low, high): (Vec3, Vec3), p: Vec3| (low.inf(&p), high.sup(&p));
    let boxes = points.map(|p| (p, p));
    boxes.reduce(|all, (p, _)| join(all, p)).unwrap_or_default()
}
