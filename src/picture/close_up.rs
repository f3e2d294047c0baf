//! From where a place at risk is looked at: from outside, a little aslant, with nothing in between.

use super::camera::{Axes, Camera};
use crate::assess::Assessment;
use crate::mesh::{Topology, Vec3};
use crate::risk::Place;

/// Edge lengths from the peak to the rim of a close-up, at least and at most; between them it holds
/// all vertices of the place and an edge more.
const RADIUS_MIN: f64 = 3.0;
const RADIUS_MAX: f64 = 4.0;

/// Distance of the eye over the close-up's radius: it sees 37 degrees.
const DISTANCE: f64 = 3.0;

/// Angles between the normal at the peak and the direction to the eye, in degrees, and what a view
/// so aslant counts.
const TILTS: [(f64, f64); 3] = [(22.0, 1.0), (45.0, 0.85), (65.0, 0.6)];

/// Directions tried at each angle, around the normal.
const TURNS: usize = 8;

/// What a view from the inner side counts: it is taken only where the outer side is walled in.
const FROM_INSIDE: f64 = 0.3;

/// Vertices of a place and around it that are asked whether they can be seen.
const WITNESSES_MAX: usize = 24;

/// Cosine of the angle between normal and eye from which on a vertex counts as well seen.
const FACING_THRESHOLD: f64 = 0.35;

/// Edge lengths about a vertex in which nothing hides it: what lies so near is its own surface.
const OWN_SURFACE: f64 = 0.3;

/// The cage's vertices on the limit surface, as obstacles and witnesses, in the surface's frame.
#[derive(Debug, Clone)]
pub struct Surroundings<'a> {
    topology: &'a Topology,
    positions: Vec<Vec3>,
    /// Unit normal of each vertex, outward as far as that can be told; zero where there is none.
    normals: Vec<Vec3>,
    /// Triangles of the faces.
    triangles: Vec<[usize; 3]>,
}

impl<'a> Surroundings<'a> {
    /// Gathers them.
    pub fn new(assessment: &'a Assessment) -> Self {
        let control = assessment.surface.control();
        let topology = control.topology();
        // Of the surface, which for a mirrored half is the whole's.
        let (positions, limit_normals): (Vec<Vec3>, Vec<Option<Vec3>>) = (0..topology
            .vertex_count())
            .map(|v| match topology.is_unreferenced(v) {
                true => (Vec3::zeros(), None),
                false => assessment.surface.vertex_limit(v),
            })
            .unzip();
        let mut triangles = Vec::new();
        for f in 0..topology.face_count() {
            let corners: Vec<usize> = topology
                .face_corners(f)
                .map(|c| topology.vertex(c))
                .collect();
            let fan = corners.windows(2).skip(1);
            triangles.extend(fan.map(|pair| [corners[0], pair[0], pair[1]]));
        }
        let mut gathered = Self {
            topology,
            positions,
            normals: Vec::new(),
            triangles,
        };
        gathered.normals = gathered.outward_normals(&limit_normals);
        gathered
    }

    /// Position of a cage vertex on the limit surface.
    pub fn position(&self, v: usize) -> Vec3 {
        self.positions[v]
    }

    fn corners(&self, triangle: [usize; 3]) -> [Vec3; 3] {
        triangle.map(|v| self.positions[v])
    }

    fn outward_normals(&self, limit_normals: &[Option<Vec3>]) -> Vec<Vec3> {
        let mut normals = vec![Vec3::zeros(); self.positions.len()];
        for &triangle in &self.triangles {
            let [a, b, c] = self.corners(triangle);
            let area = (b - a).cross(&(c - a));
            triangle.iter().for_each(|&v| normals[v] += area);
        }
        let shells = self.shells();
        let inward = self.shells_turned_inward(&shells);
        for (v, normal) in normals.iter_mut().enumerate() {
            let mean = normal.try_normalize(0.0).unwrap_or_default();
            *normal = limit_normals[v].unwrap_or(mean);
            if inward[shells[v]] {
                *normal = -*normal;
            }
        }
        normals
    }

    /// For each vertex the least vertex that it is joined to.
    fn shells(&self) -> Vec<usize> {
        let mut shells = vec![usize::MAX; self.positions.len()];
        let mut open = Vec::new();
        for seed in 0..shells.len() {
            if shells[seed] != usize::MAX {
                continue;
            }
            shells[seed] = seed;
            open.push(seed);
            while let Some(v) = open.pop() {
                for w in self.topology.neighbours(v) {
                    if shells[w] == usize::MAX {
                        shells[w] = seed;
                        open.push(w);
                    }
                }
            }
        }
        shells
    }

    /// Whether a shell, by its least vertex, encloses a negative volume about that vertex: its faces
    /// are wound inward. Of an open shell that tells what is its hollow side.
    fn shells_turned_inward(&self, shells: &[usize]) -> Vec<bool> {
        let mut volumes = vec![0.0; shells.len()];
        for &triangle in &self.triangles {
            let shell = shells[triangle[0]];
            let [a, b, c] = self.corners(triangle).map(|p| p - self.positions[shell]);
            volumes[shell] += a.dot(&b.cross(&c));
        }
        volumes.into_iter().map(|volume| volume < 0.0).collect()
    }

    /// Mean length of the edges at a vertex and at its neighbours; `None` without any length.
    fn edge_length(&self, v: usize) -> Option<f64> {
        let around = self.topology.neighbours(v).chain([v]);
        let lengths = around.flat_map(|a| {
            let ends = self.topology.neighbours(a);
            ends.map(move |b| (self.positions[a] - self.positions[b]).norm())
        });
        let (sum, count) = lengths.fold((0.0, 0), |(sum, count), l| (sum + l, count + 1));
        Some(sum / f64::from(count.max(1))).filter(|mean| *mean > 0.0 && mean.is_finite())
    }

    /// The view of a place in a panel of `side` pixels, and its radius; `None` where the place has
    /// no extent. `up` and `front` are the model's.
    pub fn view(
        &self,
        place: &Place,
        [up, front]: [Vec3; 2],
        side: usize,
    ) -> Option<(Camera, f64)> {
        let edge = self.edge_length(place.peak)?;
        let middle = self.positions[place.peak];
        let own = place
            .vertices
            .iter()
            .map(|&v| (self.positions[v] - middle).norm());
        let reach = own.fold(0.0, f64::max) + edge;
        let radius = reach.clamp(RADIUS_MIN * edge, RADIUS_MAX * edge);
        let distance = DISTANCE * radius;
        let witnesses = self.witnesses(place);
        let obstacles = self.obstacles(middle, radius + distance);
        let score = |direction: &Vec3, worth: f64, inside: bool| {
            let eye = middle + direction * distance;
            let seen = witnesses.iter().map(|&w| {
                let normal = if inside {
                    -self.normals[w]
                } else {
                    self.normals[w]
                };
                let ray = eye - self.positions[w];
                let facing = normal.dot(&ray) / ray.norm();
                let well = (facing / FACING_THRESHOLD).clamp(0.0, 1.0);
                let open = well > 0.0 && !self.is_hidden(w, eye, OWN_SURFACE * edge, &obstacles);
                if open { well } else { 0.0 }
            });
            worth * seen.sum::<f64>()
        };
        let mut best = (f64::NEG_INFINITY, up);
        for (direction, worth, inside) in self.directions(place.peak, up, front) {
            let score = score(&direction, worth, inside);
            if score > best.0 {
                best = (score, direction);
            }
        }
        let axes = Axes::looking_from(best.1, up, front);
        Some((
            Camera::close_up(axes, middle, radius, distance, side),
            radius,
        ))
    }

    /// Directions to try, the most wanted first; what each counts; whether it is from inside.
    fn directions(&self, peak: usize, up: Vec3, front: Vec3) -> Vec<(Vec3, f64, bool)> {
        let normal = self.normals[peak].try_normalize(0.0).unwrap_or(front);
        let mut directions = Vec::new();
        for (side, inside) in [(normal, false), (-normal, true)] {
            let around = Axes::looking_from(side, up, front);
            for (tilt, worth) in TILTS {
                let worth = if inside { worth * FROM_INSIDE } else { worth };
                for turn in 0..TURNS {
                    let angle = std::f64::consts::TAU * turn as f64 / TURNS as f64;
                    let aside = around.up * angle.cos() + around.right * angle.sin();
                    let (sine, cosine) = tilt.to_radians().sin_cos();
                    directions.push((side * cosine + aside * sine, worth, inside));
                }
            }
        }
        directions
    }

    /// The peak, the vertices of the place and those beside the peak.
    fn witnesses(&self, place: &Place) -> Vec<usize> {
        let beside = self.topology.neighbours(place.peak);
        let others = place.vertices.iter().copied().filter(|&v| v != place.peak);
        let mut witnesses = vec![place.peak, place.peak];
        witnesses.extend(beside.chain(others).take(WITNESSES_MAX));
        witnesses
    }

    /// The triangles that reach into a ball.
    fn obstacles(&self, middle: Vec3, radius: f64) -> Vec<[usize; 3]> {
        let reaches = |triangle: &&[usize; 3]| {
            let corners = self.corners(**triangle);
            let [low, high] = [
                corners[0].inf(&corners[1]).inf(&corners[2]),
                corners[0].sup(&corners[1]).sup(&corners[2]),
            ];
            let nearest = middle.sup(&low).inf(&high);
            (nearest - middle).norm() <= radius
        };
        self.triangles.iter().filter(reaches).copied().collect()
    }

    /// Whether anything but the faces at vertex `v` and what lies nearer than `own` stands between it
    /// and the eye.
    fn is_hidden(&self, v: usize, eye: Vec3, own: f64, obstacles: &[[usize; 3]]) -> bool {
        let from = self.positions[v];
        let ray = eye - from;
        let nearest = own / ray.norm();
        let others = obstacles.iter().filter(|t| !t.contains(&v));
        others
            .filter_map(|&t| crossing(from, ray, self.corners(t)))
            .any(|share| share > nearest && share < 1.0)
    }
}

/// Where a ray crosses a triangle, as a share of the ray (Moeller & Trumbore 1997).
fn crossing(from: Vec3, ray: Vec3, [a, b, c]: [Vec3; 3]) -> Option<f64> {
    let (ab, ac) = (b - a, c - a);
    let across = ray.cross(&ac);
    let volume = ab.dot(&across);
    if volume == 0.0 {
        return None;
    }
    let start = from - a;
    let u = start.dot(&across) / volume;
    let turned = start.cross(&ab);
    let v = ray.dot(&turned) / volume;
    let inside = u >= 0.0 && v >= 0.0 && u + v <= 1.0;
    inside.then(|| ac.dot(&turned) / volume)
}
