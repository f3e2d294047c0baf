//! Curvature of the limit surface against the bending that the cage itself shows.

use nalgebra::Matrix2;
use rayon::prelude::*;

use super::Measured;
use super::about::{About, Unit};
use super::context::{MeasureContext, angle_deg, largest};
use crate::mesh::Vec3;
use crate::subdivision::spline::{Derivatives, evaluate};
use crate::subdivision::{self, Surface};

/// Principal curvatures of largest size near the vertex.
pub const CURVATURE: About = About {
    name: "limit_curvature",
    tells: "how tightly the smoothed surface bends at the vertex: the larger principal curvature near it",
    formula: "the largest |k| at the centres of the quarter faces at the vertex; k = H ± √(H² - K) from the first and second fundamental forms of the limit surface",
    unit: Unit::PerLength,
    range: "from 0 (flat); 1/r on a sphere of radius r",
    source: "fundamental forms: do Carmo, Differential Geometry of Curves and Surfaces, 1976, section 3-3; patches: Stam 1998",
    remedy: "nothing by itself: compare it with the neighbours'",
};

/// What the limit bends from vertex to vertex.
pub const LIMIT_BEND: About = About {
    name: "limit_bend",
    tells: "by how much the smoothed surface turns from the vertex to its neighbours",
    formula: "largest angle between the limit normal at the vertex and those at its neighbours",
    unit: Unit::Degrees,
    range: "0 (flat) to 180; empty where no limit normal is defined",
    source: "limit normals: Halstead, Kass & DeRose 1993",
    remedy: "more even loops where it jumps from vertex to vertex",
};

/// What the cage bends at the vertex.
pub const CAGE_BEND: About = About {
    name: "cage_bend",
    tells: "the sharpest bend of the cage at the vertex",
    formula: "largest angle between the normals of two faces that share an edge at the vertex",
    unit: Unit::Degrees,
    range: "0 (flat) to 180 (folded back)",
    source: "dihedral angle, common geometry",
    remedy: "nothing by itself: an edge may be meant",
};

/// The limit's bend against the cage's.
pub const BEND_EXCESS: About = About {
    name: "bend_excess",
    tells: "by how much more the smoothed surface turns from the vertex to its neighbours than the cage bends there",
    formula: "limit_bend - cage_bend",
    unit: Unit::Degrees,
    range: "any; 0 on an evenly curved strip, negative where smoothing softens the cage's bend, positive where it sharpens it",
    source: "this program's",
    remedy: "even the loops out where the surface turns more than the cage",
};

/// The principal curvatures (larger first) of a patch at a regular place, positive where the
/// surface is convex seen from the side its normal points to. `None` where the surface has no
/// tangent plane.
///
/// With normal n outward and the second fundamental form taken along -n, a sphere of radius r with
/// outward normals has both curvatures 1/r.
pub fn principal_curvatures(d: &Derivatives) -> Option<[f64; 2]> {
    let [du, dv] = d.first;
    let normal = subdivision::ring::unit_normal(du, dv)?;
    let first = Matrix2::new(du.dot(&du), du.dot(&dv), du.dot(&dv), dv.dot(&dv));
    let [uu, uv, vv] = d.second.map(|s| -s.dot(&normal));
    let second = Matrix2::new(uu, uv, uv, vv);
    let shape = first.try_inverse()? * second;
    let mean = shape.trace() / 2.0;
    let root = (mean * mean - shape.determinant()).max(0.0).sqrt();
    Some([mean + root, mean - root])
}

/// The larger |k| at the centre of the quarter face at each corner, in the frame's unit; NaN where
/// there is none.
pub fn corner_curvatures(surface: &Surface) -> Vec<f64> {
    let topology = surface.control().topology();
    (0..topology.corner_count())
        .into_par_iter()
        .with_min_len(128)
        .map(|c| quarter_curvature(surface, c).unwrap_or(f64::NAN))
        .collect()
}

fn quarter_curvature(surface: &Surface, c: usize) -> Option<f64> {
    let topology = surface.control().topology();
    let f = topology.face_of(c);
    let derivatives = if let Some(points) = surface.regular_patch(f) {
        let at = [(0.25, 0.25), (0.75, 0.25), (0.75, 0.75), (0.25, 0.75)];
        let (u, v) = at[c - topology.face_corners(f).start];
        evaluate(&points, u, v)
    } else {
        subdivision::evaluate::evaluate(&surface.corner_quad(c, 1, 0), 0.5, 0.5)?
    };
    let [k1, k2] = principal_curvatures(&derivatives)?;
    Some(k1.abs().max(k2.abs()))
}

/// The four measures, in the order of their columns.
pub fn measure(context: &MeasureContext) -> Vec<Measured> {
    let corner = corner_curvatures(context.surface);
    let topology = context.topology();
    let of_vertex = context.per_vertex(|v| largest(topology.corners_of(v).map(|c| corner[c])));
    let bend: Vec<f64> = context.per_vertex(|v| {
        let normal = |v: usize| &context.limit.vertices[v].normal;
        let neighbours = context.spokes.of(v).iter().map(|s| s.vertex as usize);
        largest(neighbours.map(|w| angle_deg(normal(v), normal(w))))
    });
    let cage_bend = context.per_vertex(|v| largest(edge_bends(context, v)));
    let pairs = bend.iter().zip(&cage_bend);
    let excess = pairs
        .map(|(limit, cage): (&f64, &f64)| limit - cage)
        .collect();
    let scale = context.scale();
    vec![
        Measured {
            about: &CURVATURE,
            values: of_vertex.iter().map(|k| k / scale).collect(),
        },
        Measured {
            about: &LIMIT_BEND,
            values: bend,
        },
        Measured {
            about: &CAGE_BEND,
            values: cage_bend,
        },
        Measured {
            about: &BEND_EXCESS,
            values: excess,
        },
    ]
}

/// The bend of the cage at each interior edge at vertex `v`, in degrees.
pub fn edge_bends<'a>(context: &'a MeasureContext, v: usize) -> impl Iterator<Item = f64> + 'a {
    let topology = context.topology();
    context.spokes.of(v).iter().map(move |s| {
        let first = topology.edge_corner(s.edge as usize);
        let normal_at = |c: usize| -> Vec3 { context.face_areas[topology.face_of(c)] };
        topology.twin(first).map_or(f64::NAN, |second| {
            angle_deg(&normal_at(first), &normal_at(second))
        })
    })
}
