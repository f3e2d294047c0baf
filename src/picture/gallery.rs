//! The views of an assessed cage, and their pictures.

use std::io::{self, Write};

use rayon::prelude::*;

use super::camera::{Axes, Camera, Projected, UpAxis, bounds};
use super::canvas::{Canvas, Colour};
use super::close_up::Surroundings;
use super::form::{Form, form_level};
use super::panel::Panel;
use super::png_file::write_png;
use super::shading::Way;
use super::sheet::{self, BACKGROUND, Caption};
use crate::assess::Assessment;
use crate::mesh::Vec3;
use crate::risk::{Band, Place, shown_risk};
use crate::subdivision::Numbering;

/// Side of a panel in pixels.
const PANEL_SIDE: usize = 640;

/// Most places that get a close-up.
pub const CLOSE_UPS_MAX: usize = 10;

/// Distance of the eye in the three-quarter view, over the model's diagonal.
const THREE_QUARTER_DISTANCE: f64 = 2.2;

/// Colour, width in pixels and opacity of the cage's edges: blue, which no risk has.
const EDGE_INK: Colour = [20, 78, 150];
const EDGE_WIDTH: f32 = 1.1;
const EDGE_STRENGTH: f32 = 0.62;

/// Radii of the rings about the peak and about the other vertices of a place, in pixels.
const PEAK_RADIUS: f32 = 15.0;
const RING_RADIUS: f32 = 7.5;

/// Ink of the rings and of the rim that sets them off from what is dark.
const RING_INK: Colour = [12, 48, 110];
const RING_RIM: Colour = [255, 255, 255];

/// By how much of a close-up's radius lines and rings are lifted off the surface.
const LIFT: f64 = 0.012;

/// Radii about a close-up's middle in which edges are drawn.
const EDGES_REACH: f64 = 3.0;

/// Names of the views of the whole, in the order of [`Gallery::views`].
const WHOLE_VIEWS: [&str; 4] = ["front", "side", "top", "three-quarter"];

/// Names of the pictures of a cage with that many places at risk, in the order of
/// [`Gallery::views`], without a folder.
pub fn picture_names(places: usize) -> Vec<String> {
    let whole = WHOLE_VIEWS.iter().map(|name| file_name(name));
    let close = (1..=places.min(CLOSE_UPS_MAX)).map(|rank| file_name(&place_name(rank)));
    whole.chain(close).collect()
}

fn file_name(view: &str) -> String {
    format!("{view}.png")
}

fn place_name(rank: usize) -> String {
    format!("place-{rank:02}")
}

/// What is looked at, from where.
#[derive(Debug, Clone)]
pub struct View {
    /// Name of the view and, with `.png`, of its picture.
    pub name: String,
    /// The camera; `None` where there is nothing to frame.
    pub camera: Option<Camera>,
    /// Rank of the place that is shown, from 0; `None` for views of the whole.
    pub place: Option<usize>,
    caption: Caption,
    /// Radius of what is shown of a place.
    radius: f64,
}

/// A picture of a view: a panel for each [`Way`], side by side.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Picture {
    /// The file's name, without a folder.
    pub name: String,
    /// The pixels.
    pub canvas: Canvas,
}

impl Picture {
    /// Left side and top of a way's panel, in pixels.
    pub fn panel_origin(way: Way) -> [usize; 2] {
        sheet::panel_origin(way, PANEL_SIDE)
    }

    /// Side of each panel in pixels.
    pub fn panel_side() -> usize {
        PANEL_SIDE
    }

    /// Writes the picture as PNG.
    ///
    /// # Errors
    /// As `out`'s.
    pub fn write(&self, out: &mut impl Write) -> io::Result<()> {
        write_png(out, &self.canvas)
    }
}

/// The views of an assessed cage.
///
/// Front, side and top are parallel views; the three-quarter view and the close-ups are in
/// perspective. With y up, the front looks along -z (x to the right), the side along -x (-z to the
/// right) and the top along -y (x to the right, -z upwards); with z up, the front looks along y (x
/// to the right), the side along -x (y to the right) and the top along -z (x to the right, y
/// upwards).
#[derive(Debug)]
pub struct Gallery<'a> {
    assessment: &'a Assessment,
    model: String,
    form: Form,
    level: usize,
    surroundings: Surroundings<'a>,
    /// Up, and towards the viewer of the front.
    up: Vec3,
    front: Vec3,
}

impl<'a> Gallery<'a> {
    /// Prepares the views. `model` is what the captions call the cage; letters beyond ASCII are
    /// shown as boxes.
    pub fn new(assessment: &'a Assessment, model: &str, up: UpAxis) -> Self {
        let surface = &assessment.surface;
        let level = form_level(surface.control().topology());
        let (up, front) = match up {
            UpAxis::Y => (Vec3::y(), Vec3::z()),
            UpAxis::Z => (Vec3::z(), -Vec3::y()),
        };
        Self {
            assessment,
            model: model.to_owned(),
            form: Form::new(surface, level, &assessment.risks_of_surface()),
            level,
            surroundings: Surroundings::new(assessment),
            up,
            front,
        }
    }

    /// The views: front, side, top, three-quarter, and a close-up of each of the worst places,
    /// [`CLOSE_UPS_MAX`] at most.
    pub fn views(&self) -> Vec<View> {
        let (up, front, side) = (self.up, self.front, self.up.cross(&self.front));
        let directions = [front, side, up, front + side * 0.75 + up * 0.6];
        let whole = WHOLE_VIEWS.iter().zip(directions);
        let whole = whole.map(|(name, direction)| self.whole(name, direction));
        let places = self.assessment.findings.places.iter().take(CLOSE_UPS_MAX);
        let close = places
            .enumerate()
            .map(|(rank, place)| self.close_up(rank, place));
        whole.chain(close).collect()
    }

    /// Draws all views, in their order.
    pub fn draw_all(&self) -> Vec<Picture> {
        self.views()
            .par_iter()
            .map(|view| self.draw(view))
            .collect()
    }

    fn whole(&self, name: &str, direction: Vec3) -> View {
        let axes = Axes::looking_from(direction, self.up, -self.front);
        let corners = self.form.triangles.as_flattened();
        let seen: Vec<Vec3> = corners
            .iter()
            .map(|&v| self.form.positions[v as usize])
            .collect();
        let (low, high) = bounds(seen.iter().copied());
        let diagonal = (high - low).norm();
        let camera = (diagonal > 0.0).then(|| {
            if name == WHOLE_VIEWS[3] {
                let distance = THREE_QUARTER_DISTANCE * diagonal;
                Camera::perspective(axes, &seen, distance, PANEL_SIDE)
            } else {
                Camera::parallel(axes, &seen, PANEL_SIDE)
            }
        });
        let highest = self.assessment.highest_risk();
        let shown = shown_risk(highest);
        let count = self.assessment.findings.places.len();
        let facts = match count {
            0 => "no place at risk".to_owned(),
            1 => format!("1 place at risk, risk {shown} {}", Band::of(highest).name()),
            _ => format!(
                "{count} places at risk, highest risk {shown} {}",
                Band::of(highest).name()
            ),
        };
        View {
            name: name.to_owned(),
            camera,
            place: None,
            caption: Caption {
                subject: name.to_owned(),
                facts,
            },
            radius: 0.0,
        }
    }

    fn close_up(&self, rank: usize, place: &Place) -> View {
        let view = self
            .surroundings
            .view(place, [self.up, self.front], PANEL_SIDE)
            .filter(|_| !self.form.triangles.is_empty());
        let count = self.assessment.findings.places.len();
        let subject = format!("place {} of {count}", rank + 1);
        let facts = format!(
            "{}, vertex {}, risk {} {}   {}",
            place.cause.name(),
            place.peak + 1,
            shown_risk(place.risk),
            Band::of(place.risk).name(),
            place.figure
        );
        View {
            name: place_name(rank + 1),
            camera: view.map(|v| v.0),
            place: Some(rank),
            caption: Caption { subject, facts },
            radius: view.map_or(0.0, |v| v.1),
        }
    }

    /// Draws a view. Where nothing is seen a sentence says why.
    pub fn draw(&self, view: &View) -> Picture {
        let canvas = match &view.camera {
            None => self.blank(view, "nothing to show: it has no extent"),
            Some(camera) => {
                let panel = Panel::draw(&self.form, camera, PANEL_SIDE, BACKGROUND);
                if panel.is_blank() {
                    self.blank(view, "nothing to show: flat, and seen edge-on")
                } else {
                    self.sheet(view, camera, panel)
                }
            }
        };
        Picture {
            name: file_name(&view.name),
            canvas,
        }
    }

    fn blank(&self, view: &View, sentence: &str) -> Canvas {
        sheet::compose(Err(sentence), PANEL_SIDE, &view.caption, &self.model)
    }

    /// The sheet of a panel, with the edges and vertices of its place laid over.
    fn sheet(&self, view: &View, camera: &Camera, mut panel: Panel) -> Canvas {
        let places = &self.assessment.findings.places;
        let Some(place) = view.place.and_then(|rank| places.get(rank)) else {
            return sheet::compose(Ok(&panel), PANEL_SIDE, &view.caption, &self.model);
        };
        let peak = self.surroundings.position(place.peak);
        let lifted = Self::lifted(camera, peak, view.radius);
        let mut caption = view.caption.clone();
        if !lifted.is_some_and(|p| panel.shows(&p)) {
            caption
                .facts
                .push_str("   (hidden by what stands before it)");
        }
        let lines = self.edges(camera, place, view.radius);
        panel.overlay(&lines, EDGE_WIDTH, EDGE_INK, EDGE_STRENGTH);
        let mut canvas = sheet::compose(Ok(&panel), PANEL_SIDE, &caption, &self.model);
        self.ring(&mut canvas, &panel, camera, place, view.radius);
        canvas
    }

    /// Where a point, lifted off the surface towards the eye, comes to lie.
    fn lifted(camera: &Camera, p: Vec3, radius: f64) -> Option<Projected> {
        let eye = camera.eye().unwrap_or(p + camera.axes().back);
        let towards = (eye - p).try_normalize(0.0).unwrap_or_default();
        camera.project(p + towards * (LIFT * radius))
    }

    /// The images of the cage's edges on the limit surface about a place.
    fn edges(&self, camera: &Camera, place: &Place, radius: f64) -> Vec<[Projected; 2]> {
        let topology = self.assessment.surface.control().topology();
        let middle = self.surroundings.position(place.peak);
        let numbering = (self.level > 0).then(|| Numbering::new(topology, self.level));
        let mut lines = Vec::new();
        for e in 0..topology.edge_count() {
            let [a, b] = topology.edge_vertices(e);
            let near = [a, b].map(|v| (self.surroundings.position(v) - middle).norm());
            let length = (self.surroundings.position(a) - self.surroundings.position(b)).norm();
            if near[0].min(near[1]) > EDGES_REACH * radius + length {
                continue;
            }
            let inner = numbering.as_ref().map_or(0..0, |n| n.edge_vertices(e));
            let points: Vec<Option<Projected>> = std::iter::once(a)
                .chain(inner)
                .chain([b])
                .map(|v| Self::lifted(camera, self.form.positions[v], radius))
                .collect();
            let pairs = points.windows(2);
            lines.extend(pairs.filter_map(|pair| Some([pair[0]?, pair[1]?])));
        }
        lines
    }

    /// Rings the vertices of a place that are seen, and its peak in any case.
    fn ring(
        &self,
        canvas: &mut Canvas,
        panel: &Panel,
        camera: &Camera,
        place: &Place,
        radius: f64,
    ) {
        let seen = |v: usize| {
            let p = Self::lifted(camera, self.surroundings.position(v), radius)?;
            (v == place.peak || panel.shows(&p)).then_some(p)
        };
        let side = PANEL_SIDE as f32;
        for way in Way::ALL {
            let origin = Picture::panel_origin(way).map(|x| x as f32);
            for &v in &place.vertices {
                let size = if v == place.peak {
                    PEAK_RADIUS
                } else {
                    RING_RADIUS
                };
                let at = seen(v).map(|p| [p.x as f32, p.y as f32]);
                let within = |x: f32| x >= size + 3.0 && x <= side - size - 3.0;
                let Some(at) = at.filter(|at| at.iter().all(|&x| within(x))) else {
                    continue;
                };
                let at = [origin[0] + at[0], origin[1] + at[1]];
                canvas.circle(at, size, 4.4, RING_RIM);
                canvas.circle(at, size, 2.2, RING_INK);
            }
        }
    }
}
