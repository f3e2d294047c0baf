//! What is done to a finished form: mirrored, subdivided, a few triangles, copies.

use std::collections::BTreeMap;

use cagewise::mesh::{Topology, Vec3};
use cagewise::subdivision::{
    BoundaryRule, ControlMesh, Creases, RefinedFaces, Samples, Surface, refine,
};
use nalgebra::Rotation3;

use super::Chance;
use super::model::{Model, PLANE_TOLERANCE};
use crate::support::cages::Random;

/// Largest angle in degrees between faces round a quad that passes for flat ground.
const FLAT: f64 = 3.0;

/// Throws away what lies at x < 0 and puts the mirror image of the rest there. `None` if a face
/// crosses the plane.
pub fn mirror(model: &Model) -> Option<Model> {
    let mut kept = model.clone();
    for face in &mut kept.faces {
        let xs = || face.iter().map(|&v| model.points[v as usize].x);
        if xs().all(|x| x < PLANE_TOLERANCE) {
            face.clear();
        } else if xs().any(|x| x < -PLANE_TOLERANCE) {
            return None;
        }
    }
    let mut twin = BTreeMap::new();
    for &v in kept.faces.iter().flatten() {
        let p = &mut kept.points[v as usize];
        if p.x.abs() < PLANE_TOLERANCE {
            p.x = 0.0;
            twin.insert(v, v);
        }
    }
    for f in 0..kept.faces.len() {
        let face = kept.faces[f].clone();
        if face.is_empty() {
            continue;
        }
        let image = face.iter().rev().map(|&v| {
            *twin.entry(v).or_insert_with(|| {
                let p = kept.points[v as usize];
                kept.points.push(Vec3::new(-p.x, p.y, p.z));
                kept.points.len() as u32 - 1
            })
        });
        let image = image.collect();
        let worked = kept.worked[f];
        kept.faces.push(image);
        kept.worked.push(worked);
    }
    Some(kept)
}

/// The model subdivided once, its vertices where Catmull-Clark puts them.
pub fn subdivide(model: &Model) -> Model {
    let mesh = model.mesh();
    let control = ControlMesh::new(
        &mesh,
        Topology::new(&mesh),
        &Creases::default(),
        BoundaryRule::default(),
    );
    let refined = refine(&Surface::new(control), 1, Samples::Refined);
    let RefinedFaces::Quads(quads) = &refined.faces else {
        panic!("one level makes quads");
    };
    Model {
        points: refined.positions.iter().map(|&p| Vec3::from(p)).collect(),
        faces: quads.iter().map(|q| q.to_vec()).collect(),
        worked: vec![false; quads.len()],
        mirrored: model.mirrored,
    }
}

/// Splits up to `most` quads on flat ground into triangles.
pub fn triangles(model: &mut Model, random: &mut Random, most: usize) {
    let around = model.faces_at();
    for _ in 0..most {
        let f = random.below(model.faces.len());
        let face = model.faces[f].clone();
        let normal = model.normal(f);
        let near = face
            .iter()
            .flat_map(|&v| around.get(v as usize).into_iter().flatten());
        let is_flat = near.clone().count() >= 16
            && near
                .clone()
                .all(|&g| model.normal(g).angle(&normal).to_degrees() < FLAT)
            && near.clone().all(|&g| model.faces[g].len() == 4);
        if face.len() != 4 || !is_flat {
            continue;
        }
        let k = random.below(2);
        let v = |i: usize| face[(k + i) % 4];
        model.faces[f] = vec![v(0), v(1), v(2)];
        model.add_worked(vec![v(0), v(2), v(3)]);
    }
}

/// Puts turned copies beside the form, as further shells.
pub fn copies(model: &mut Model, random: &mut Random, count: usize) {
    let one = model.clone();
    let (low, high) = one.extent();
    let size = high - low;
    for n in 1..=count {
        let mut copy = one.clone();
        let angle = if model.mirrored {
            0.0
        } else {
            random.between(0.0, 6.2)
        };
        let turn = Rotation3::from_axis_angle(&Vec3::y_axis(), angle);
        let away = size.norm() * 1.1 * n as f64;
        let along = if model.mirrored { Vec3::z() } else { Vec3::x() };
        copy.moved(|p| turn * p + along * away);
        model.append(&copy);
    }
}
