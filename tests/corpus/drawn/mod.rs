//! Drawn forms: spheres, boxes, pipes, turned parts and the like, each at several resolutions,
//! upright and under a random affine map, which commutes with subdivision: what was sound stays so.

mod bars;
mod bulged;
mod held;
mod round;
mod seat;
pub mod turned;

use std::sync::Arc;

use cagewise::mesh::{PolygonMesh, Vec3};
use nalgebra::Matrix3;

use super::case::{Clean, Intended, Meshed, Nearest};
use crate::support::cages::{Random, moved};

/// A form as it is drawn.
pub struct Drawn {
    pub family: &'static str,
    pub mesh: PolygonMesh,
    /// Its formula, where it has one and the mesh is fine enough to keep to it.
    pub formula: Option<Nearest>,
}

impl Drawn {
    /// A form whose own limit is what it intends.
    pub fn new(family: &'static str, mesh: PolygonMesh) -> Self {
        let formula = None;
        Self {
            family,
            mesh,
            formula,
        }
    }
}

/// All drawn forms, upright and under a map that `seed` chooses for each.
pub fn drawn(seed: u64) -> Vec<Arc<Clean>> {
    let mut random = Random(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1);
    let all = round::forms()
        .into_iter()
        .chain(held::forms())
        .chain(turned::forms())
        .chain(seat::forms())
        .chain(bulged::forms())
        .chain(bars::forms());
    let mut found = Vec::new();
    for form in all {
        let map = match form.family.starts_with("half") {
            true => affine_along_plane(&mut random),
            false => affine(&mut random),
        };
        let mapped = moved(&form.mesh, |p| map * p);
        let size = form.mesh.face_count();
        let name = |manner: &str| format!("{} of {size} faces, {manner}", form.family);
        found.push(clean(name("upright"), &form, form.mesh.clone(), true));
        found.push(clean(name("affine"), &form, mapped, false));
    }
    found
}

fn clean(name: String, form: &Drawn, mesh: PolygonMesh, upright: bool) -> Arc<Clean> {
    let cage = Meshed::smooth(mesh);
    let intended = match form.formula.as_ref().filter(|_| upright) {
        Some(formula) => Intended::Form(formula.clone()),
        None => Intended::LimitOf(Arc::new(cage.clone())),
    };
    Arc::new(Clean {
        name,
        family: form.family,
        cage,
        intended,
        is_control: false,
    })
}

/// A map that turns, shears and stretches by up to about two to one, without mirroring.
pub fn affine(random: &mut Random) -> Matrix3<f64> {
    loop {
        let turn = nalgebra::Rotation3::new(random.vector() * std::f64::consts::PI);
        let strain = Matrix3::from_fn(|_, _| 0.9 * random.unit() - 0.45);
        let map = turn.matrix() * (Matrix3::identity() + strain);
        let stretches = map.singular_values();
        if map.determinant() > 0.0 && stretches.max() < 3.0 * stretches.min() {
            return map;
        }
    }
}

/// The same for a half, whose plane x = 0 stays where it is.
fn affine_along_plane(random: &mut Random) -> Matrix3<f64> {
    let mut part = || 0.9 * random.unit() - 0.45;
    let mut map = Matrix3::from_fn(|i, k| part() + f64::from(u8::from(i == k)));
    map.set_row(0, &nalgebra::RowVector3::new(map[(0, 0)], 0.0, 0.0));
    map
}

/// The part of a mesh on the side of positive x, whose plane x = 0 must run along edges.
pub fn half_of(mesh: &PolygonMesh) -> PolygonMesh {
    let at = |v: &u32| mesh.positions()[*v as usize];
    let kept = mesh.faces().filter(|f| f.iter().all(|v| at(v).x >= -1e-9));
    let mut numbers = vec![None; mesh.vertex_count()];
    let mut positions: Vec<Vec3> = Vec::new();
    let faces: Vec<Vec<u32>> = kept
        .map(|face| {
            let number = |v: &u32| {
                *numbers[*v as usize].get_or_insert_with(|| {
                    positions.push(at(v));
                    positions.len() as u32 - 1
                })
            };
            face.iter().map(number).collect()
        })
        .collect();
    PolygonMesh::from_faces(positions, &faces).unwrap()
}
