//! Curvature of the limit surface against the bending that the cage itself shows.

use super::Measured;
use super::about::{About, Unit};
use pulp::Arch;
use rayon::prelude::*;

use super::context::{MeasureContext, largest};
use crate::limit::pattern::PatternReader;
use crate::limit::pattern_curvature::corner_maxima;
use crate::limit::{Curvature, LimitPoint};
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

/// Corners that one parallel task takes on at least.
const TASK_LENGTH: usize = 256;

/// The largest |k| at the pattern's places in the quarter face at each corner, in the frame's
/// unit; NaN where there is none.
pub fn corner_curvatures(surface: &Surface) -> Vec<f64> {
    let topology = surface.control().topology();
    let arch = Arch::new();
    let start = || (usize::MAX, None, PatternReader::default());
    let corners = (0..topology.corner_count())
        .into_par_iter()
        .with_min_len(TASK_LENGTH);
    corners
        .map_init(start, |(ready, regular, reader), c| {
            let f = topology.face_of(c);
            if *ready != f {
                let points = surface.regular_patch(f);
                *regular = points.and_then(|points| corner_maxima(arch, &points));
                *ready = f;
            }
            match regular {
                Some(maxima) => maxima[c - topology.face_corners(f).start],
                None => largest_of(&reader.corner(surface, c)),
            }
        })
        .collect()
}

/// The largest |k| at some places; NaN where there is none.
fn largest_of(points: &[LimitPoint]) -> f64 {
    let derivatives = points.iter().filter_map(LimitPoint::derivatives);
    let curvatures = derivatives.filter_map(|d| Curvature::principal_of(&d));
    largest(curvatures.map(|[k1, k2]| k1.abs().max(k2.abs())))
}

/// The four measures, in the order of their columns.
pub fn measure(context: &MeasureContext) -> Vec<Measured> {
    let corner = corner_curvatures(context.surface);
    let topology = context.topology();
    let of_vertex = context.per_vertex(|v| largest(topology.corners_of(v).map(|c| corner[c])));
    let bend: Vec<f64> = context.per_vertex(|v| {
        let spokes = context.spokes.of(v).iter();
        largest(spokes.map(|s| context.edges[s.edge as usize].limit_turn))
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
    let spokes = context.spokes.of(v).iter();
    spokes.map(|s| context.edges[s.edge as usize].bend)
}
