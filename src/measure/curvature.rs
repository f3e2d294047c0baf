//! Curvature of the limit surface against the bending that the cage itself shows.

use super::Measured;
use super::about::{About, Unit};
use super::context::{MeasureContext, angle_deg, largest};
use crate::limit::{Curvature, LimitPoint, pattern};
use crate::mesh::Vec3;
use crate::subdivision::Surface;

/// Principal curvatures of largest size near the vertex.
pub const CURVATURE: About = About {
    name: "limit_curvature",
    tells: "how tightly the smoothed surface bends at the vertex: the larger principal curvature near it",
    formula: "the largest |k| over four places in each quarter face at the vertex; k = H ± √(H² - K) from the first and second fundamental forms of the limit surface",
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

/// The largest |k| at the pattern's places in the quarter face at each corner, in the frame's
/// unit; NaN where there is none.
pub fn corner_curvatures(surface: &Surface) -> Vec<f64> {
    pattern::per_corner(surface, |_, points| {
        let derivatives = points.iter().filter_map(LimitPoint::derivatives);
        let curvatures = derivatives.filter_map(|d| Curvature::principal_of(&d));
        largest(curvatures.map(|[k1, k2]| k1.abs().max(k2.abs())))
    })
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
