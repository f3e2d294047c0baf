//! The form that a cage intends, made ready to be asked for its nearest point and normal.

use std::sync::{Arc, Mutex, Weak};

use cagewise::mesh::{PolygonMesh, Topology, Vec3};
use cagewise::subdivision::{
    BoundaryRule, ControlMesh, Numbering, RefinedFaces, Samples, Surface, refine,
};
use nalgebra::Matrix3;
use rstar::RTree;
use rstar::primitives::GeomWithData;

use super::case::{Intended, Meshed, Nearest};

/// Level that an intended cage is refined to. Between the samples normals are interpolated: at 40
/// degrees an edge they turn by 5 degrees a sample, which leaves an error under a tenth of a degree.
const LEVEL: usize = 3;

/// The same for cages of more faces than `LARGE`, whose faces turn less.
const LARGE_LEVEL: usize = 2;
const LARGE: usize = 6000;

/// Samples next to a place whose facets are searched for its nearest point.
const NEAR_SAMPLES: usize = 6;

/// Samples that are looked through for the sheet that faces the same way.
const LOOKED_THROUGH: usize = 400;

/// A sheet that faces the other way is passed over for one that faces the same way and is no more
/// than this part of an edge further off: a thin plate pushed through its own back is a fault of its
/// front.
const OTHER_SHEET: f64 = 0.5;

/// Nobody sees normals that stand at the wrong place by this part of an edge: in tight places, where
/// they turn by 40 degrees an edge, such a shift makes an angle of its own.
pub const UNSEEN_SHIFT: f64 = 0.02;

/// Directions in which a shift is tried.
const SHIFTS: usize = 8;

/// Under this angle, in degrees, no shift is tried.
const CLOSE_ENOUGH: f64 = 0.5;

/// Places this part of an edge apart, with normals that many degrees apart, are one: rounding is far
/// below, and anything seen far above.
const SAME_PLACE: f64 = 1e-6;
const SAME_NORMAL: f64 = 0.01;

/// A place this near to the axis of a turned body, whose radius is about 1, has no side: rounding alone
/// puts it there.
const ON_AXIS: f64 = 1e-9;

/// References that are kept for the next case of the same clean cage.
const KEPT: usize = 6;

/// What of a form lies next to a place.
#[derive(Debug, Clone, Copy)]
pub struct Stray {
    /// Angle, in degrees, between the normal given and the form's.
    pub angle: f64,
    /// Distance of the place from the form, in lengths of an edge there.
    pub distance: f64,
}

/// A form that can be asked.
pub enum Reference {
    Sampled(Box<Sampled>),
    Form(Nearest),
    Turned(Turned),
}

/// The image of a body that turns about the z axis.
pub struct Turned {
    map: Matrix3<f64>,
    back: Matrix3<f64>,
}

/// The limit surface of the intended cage as small facets.
pub struct Sampled {
    tree: RTree<GeomWithData<[f64; 3], u32>>,
    positions: Vec<Vec3>,
    normals: Vec<Vec3>,
    /// Short side of the cage face that a sample lies in; the least of several.
    sides: Vec<f64>,
    quads: Vec<[u32; 4]>,
    starts: Vec<u32>,
    quads_at: Vec<u32>,
}

/// The subdivision surface of a cage with its creases.
pub fn surface_of(cage: &Meshed) -> Surface {
    let topology = Topology::new(&cage.mesh);
    let creases = cage.creases(&topology);
    let control = ControlMesh::new(&cage.mesh, topology, &creases, BoundaryRule::default());
    Surface::new(control)
}

/// Limit positions, normals (zero where there is none) and quads at a level of refinement.
pub fn limit_samples(surface: &Surface, level: usize) -> (Vec<Vec3>, Vec<Vec3>, Vec<[u32; 4]>) {
    let refined = refine(surface, level, Samples::Limit);
    let vectors = |all: &[[f64; 3]]| all.iter().map(|&p| Vec3::from(p)).collect();
    let RefinedFaces::Quads(quads) = &refined.faces else {
        panic!("level {level} has no quads");
    };
    let normals = vectors(refined.normals.as_ref().unwrap());
    (vectors(&refined.positions), normals, quads.to_vec())
}

/// The angle between two vectors, in degrees.
pub fn angle(a: &Vec3, b: &Vec3) -> f64 {
    a.cross(b).norm().atan2(a.dot(b)).to_degrees()
}

/// The short side of a face: for a quad the smaller mean of opposite edges, else the mean edge.
pub fn short_side(mesh: &PolygonMesh, f: usize) -> f64 {
    let face = mesh.face(f);
    let at = |i: usize| mesh.positions()[face[i % face.len()] as usize];
    let edge = |i: usize| (at(i + 1) - at(i)).norm();
    match face.len() {
        4 => (edge(0) + edge(2)).min(edge(1) + edge(3)) / 2.0,
        n => (0..n).map(edge).sum::<f64>() / n as f64,
    }
}

impl Reference {
    /// Makes a form ready, or finds it ready from the case before.
    pub fn of(intended: &Intended) -> Arc<Self> {
        static READY: Mutex<Vec<(Weak<Meshed>, Arc<Reference>)>> = Mutex::new(Vec::new());
        let cage = match intended {
            Intended::Form(nearest) => return Arc::new(Self::Form(nearest.clone())),
            Intended::Turned(map) => return Arc::new(Self::Turned(Turned::new(*map))),
            Intended::LimitOf(cage) => cage,
        };
        let is_it = |known: &Weak<Meshed>| known.upgrade().is_some_and(|k| Arc::ptr_eq(&k, cage));
        let known = READY.lock().unwrap();
        if let Some((_, found)) = known.iter().find(|(k, _)| is_it(k)) {
            return found.clone();
        }
        drop(known);
        let made = Arc::new(Self::Sampled(Box::new(Sampled::new(cage))));
        let mut known = READY.lock().unwrap();
        known.retain(|(k, _)| k.strong_count() > 0);
        if known.len() >= KEPT {
            known.remove(0);
        }
        known.push((Arc::downgrade(cage), made.clone()));
        made
    }

    /// How far a place with a unit normal strays from the form. `edge` is the length of an edge of
    /// the cage there, for forms that have none of their own.
    pub fn stray(&self, p: &Vec3, normal: &Vec3, edge: f64) -> Stray {
        match self {
            Self::Form(nearest) => {
                let at = |p: &Vec3| nearest(p);
                stray_of(at, p, normal, edge)
            }
            Self::Turned(turned) => Stray {
                angle: turned.lean(p, normal),
                distance: 0.0,
            },
            Self::Sampled(sampled) => sampled.stray(p, normal),
        }
    }
}

/// The smallest angle to the normals that the form has within the unseen shift of the nearest point.
fn stray_of(nearest: impl Fn(&Vec3) -> (Vec3, Vec3), p: &Vec3, normal: &Vec3, edge: f64) -> Stray {
    let (foot, there) = nearest(p);
    let mut smallest = angle(normal, &there);
    if smallest > CLOSE_ENOUGH {
        let first = there.cross(&Vec3::ith(there.iamin(), 1.0)).normalize();
        let second = there.cross(&first);
        for k in 0..SHIFTS {
            let (sin, cos) = (k as f64 / SHIFTS as f64 * std::f64::consts::TAU).sin_cos();
            let shifted = foot + (first * cos + second * sin) * (UNSEEN_SHIFT * edge);
            smallest = smallest.min(angle(normal, &nearest(&shifted).1));
        }
    }
    Stray {
        angle: smallest,
        distance: (p - foot).norm() / edge,
    }
}

impl Turned {
    fn new(map: Matrix3<f64>) -> Self {
        let back = map.try_inverse().expect("bodies are not mapped flat");
        Self { map, back }
    }

    /// The angle, in degrees, by which a normal leans to the side: that to the image of what is left of
    /// it without its part across the plane through the axis and `p`. Normals are mapped by the inverse
    /// transpose.
    fn lean(&self, p: &Vec3, normal: &Vec3) -> f64 {
        let upright = self.back * p;
        let side = Vec3::z().cross(&upright);
        let Some(side) = side.try_normalize(ON_AXIS) else {
            return 0.0;
        };
        let turned_back = self.map.transpose() * normal;
        let straight = turned_back - side * turned_back.dot(&side);
        angle(normal, &(self.back.transpose() * straight))
    }
}

impl Sampled {
    fn new(cage: &Meshed) -> Self {
        let surface = surface_of(cage);
        let level = match cage.mesh.face_count() {
            n if n > LARGE => LARGE_LEVEL,
            _ => LEVEL,
        };
        let (positions, normals, quads) = limit_samples(&surface, level);
        let numbering = Numbering::new(surface.control().topology(), level);
        let mut sides = vec![f64::INFINITY; positions.len()];
        for f in 0..cage.mesh.face_count() {
            let side = short_side(&cage.mesh, f);
            for quad in &quads[numbering.children(f)] {
                for &v in quad {
                    sides[v as usize] = sides[v as usize].min(side);
                }
            }
        }
        let (starts, quads_at) = users(&quads, positions.len());
        let used = (0..positions.len()).filter(|&v| starts[v] < starts[v + 1]);
        let points = used.map(|v| GeomWithData::new(positions[v].into(), v as u32));
        Self {
            tree: RTree::bulk_load(points.collect()),
            positions,
            normals,
            sides,
            quads,
            starts,
            quads_at,
        }
    }

    fn stray(&self, p: &Vec3, normal: &Vec3) -> Stray {
        if self.is_sample(p, normal) {
            return Stray {
                angle: 0.0,
                distance: 0.0,
            };
        }
        let near = self.samples_near(p, normal);
        let edge = self.sides[near[0] as usize];
        let mut facets: Vec<u32> = near
            .iter()
            .flat_map(|&v| self.quads_of(v))
            .copied()
            .collect();
        facets.sort_unstable();
        facets.dedup();
        let nearest = |p: &Vec3| self.nearest_in(&facets, p, normal);
        stray_of(nearest, p, normal, edge)
    }

    /// Whether a place is a sample of the form itself, which most are where nothing was changed.
    fn is_sample(&self, p: &Vec3, normal: &Vec3) -> bool {
        let nearest = self.tree.nearest_neighbor((*p).into());
        nearest.is_some_and(|point| {
            let v = point.data as usize;
            let same = (self.positions[v] - p).norm() <= SAME_PLACE * self.sides[v];
            same && angle(&self.normals[v], normal) <= SAME_NORMAL
        })
    }

    /// The nearest samples of the sheet that a place belongs to.
    fn samples_near(&self, p: &Vec3, normal: &Vec3) -> Vec<u32> {
        let mut any = Vec::new();
        let mut alike = Vec::new();
        let mut reach = f64::INFINITY;
        for (point, square) in self
            .tree
            .nearest_neighbor_iter_with_distance_2((*p).into())
            .take(LOOKED_THROUGH)
        {
            let v = point.data;
            if any.is_empty() {
                reach = square.sqrt() + OTHER_SHEET * self.sides[v as usize];
            }
            if any.len() < NEAR_SAMPLES {
                any.push(v);
            }
            let there = &self.normals[v as usize];
            if square.sqrt() <= reach && (there.dot(normal) > 0.0 || *there == Vec3::zeros()) {
                alike.push(v);
            }
            if alike.len() >= NEAR_SAMPLES || square.sqrt() > reach {
                break;
            }
        }
        if alike.is_empty() { any } else { alike }
    }

    fn quads_of(&self, v: u32) -> &[u32] {
        let (from, to) = (self.starts[v as usize], self.starts[v as usize + 1]);
        &self.quads_at[from as usize..to as usize]
    }

    /// The nearest point of some facets and the interpolated normal there. Of facets that meet at a
    /// sharp edge, the one whose normal is more like the given one.
    fn nearest_in(&self, facets: &[u32], p: &Vec3, normal: &Vec3) -> (Vec3, Vec3) {
        let mut best = (f64::INFINITY, Vec3::zeros(), *normal);
        for &q in facets {
            let quad = self.quads[q as usize];
            for corners in [[0, 1, 2], [0, 2, 3]] {
                let vertices = corners.map(|i: usize| quad[i] as usize);
                let weights = nearest_weights(vertices.map(|v| self.positions[v]), p);
                let mix =
                    |of: &[Vec3]| -> Vec3 { (0..3).map(|i| of[vertices[i]] * weights[i]).sum() };
                let there = match mix(&self.normals).try_normalize(1e-9) {
                    Some(mixed) => mixed,
                    None => vertices.iter().map(|&v| self.normals[v]).sum::<Vec3>(),
                };
                let there = there.try_normalize(1e-9).unwrap_or(*normal);
                let foot = mix(&self.positions);
                let away = (foot - p).norm();
                let same = (away - best.0).abs() <= 1e-9 * away.max(1e-9);
                if (same && there.dot(normal) > best.2.dot(normal)) || (!same && away < best.0) {
                    best = (away, foot, there);
                }
            }
        }
        (best.1, best.2)
    }
}

/// For each vertex the quads that use it, as starts and lists.
fn users(quads: &[[u32; 4]], vertices: usize) -> (Vec<u32>, Vec<u32>) {
    let mut starts = vec![0u32; vertices + 1];
    for v in quads.iter().flatten() {
        starts[*v as usize + 1] += 1;
    }
    for v in 0..vertices {
        starts[v + 1] += starts[v];
    }
    let mut next = starts.clone();
    let mut lists = vec![0; quads.len() * 4];
    for (q, quad) in quads.iter().enumerate() {
        for &v in quad {
            lists[next[v as usize] as usize] = q as u32;
            next[v as usize] += 1;
        }
    }
    (starts, lists)
}

/// The weights of a triangle's corners that give its point nearest to `p` (Ericson, Real-Time
/// Collision Detection, 2005, section 5.1.5).
fn nearest_weights([a, b, c]: [Vec3; 3], p: &Vec3) -> [f64; 3] {
    let (ab, ac) = (b - a, c - a);
    let dots = |q: Vec3| (ab.dot(&(p - q)), ac.dot(&(p - q)));
    let ((d1, d2), (d3, d4), (d5, d6)) = (dots(a), dots(b), dots(c));
    if d1 <= 0.0 && d2 <= 0.0 {
        return [1.0, 0.0, 0.0];
    }
    if d3 >= 0.0 && d4 <= d3 {
        return [0.0, 1.0, 0.0];
    }
    if d6 >= 0.0 && d5 <= d6 {
        return [0.0, 0.0, 1.0];
    }
    let vc = d1 * d4 - d3 * d2;
    if vc <= 0.0 && d1 >= 0.0 && d3 <= 0.0 {
        let t = d1 / (d1 - d3);
        return [1.0 - t, t, 0.0];
    }
    let vb = d5 * d2 - d1 * d6;
    if vb <= 0.0 && d2 >= 0.0 && d6 <= 0.0 {
        let t = d2 / (d2 - d6);
        return [1.0 - t, 0.0, t];
    }
    let va = d3 * d6 - d5 * d4;
    if va <= 0.0 && d4 >= d3 && d5 >= d6 {
        let t = (d4 - d3) / ((d4 - d3) + (d5 - d6));
        return [0.0, 1.0 - t, t];
    }
    let sum = va + vb + vc;
    if sum <= 0.0 {
        return [1.0, 0.0, 0.0];
    }
    [va / sum, vb / sum, vc / sum]
}
