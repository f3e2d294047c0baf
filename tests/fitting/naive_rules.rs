//! The simple rules that people use instead, each a score per vertex: the more, the more suspect.

use cagewise::measure::poles::VALENCE;
use cagewise::measure::shrinkage::SHRINKAGE_RATIO;
use cagewise::measure::{MeasureContext, Measures};
use cagewise::mesh::Vec3;

/// How many there are.
pub const RULE_COUNT: usize = 6;

/// Their names, in order.
pub const NAMES: [&str; RULE_COUNT] = [
    "poles and non-quads flagged",
    "dihedral",
    "spacing",
    "shrinkage",
    "roughness of the limit normals",
    "umbrella twice",
];

/// The scores of all vertices.
pub struct Scores([Vec<f64>; RULE_COUNT]);

impl Scores {
    /// The scores of one vertex.
    pub fn map_at(&self, v: usize) -> [f32; RULE_COUNT] {
        std::array::from_fn(|k| self.0[k][v] as f32)
    }
}

/// What the rules say of every vertex.
pub fn scores(context: &MeasureContext, measures: &Measures) -> Scores {
    Scores([
        irregular(context, measures),
        dihedral(context),
        spacing(context),
        measures.of(&SHRINKAGE_RATIO).to_vec(),
        roughness(context),
        umbrella_twice(context),
    ])
}

/// 1 at poles and at faces of other than four sides, else 0.
fn irregular(context: &MeasureContext, measures: &Measures) -> Vec<f64> {
    let topology = context.topology();
    context.per_vertex(|v| {
        let regular = if context.spokes.is_interior(v) {
            4.0
        } else {
            3.0
        };
        let valence = measures.of(&VALENCE)[v];
        let pole = if context.spokes.is_interior(v) {
            valence != regular
        } else {
            valence > regular
        };
        let other = context.faces_of(v).any(|f| topology.face_size(f) != 4);
        f64::from(u8::from(pole || other))
    })
}

/// The largest dihedral angle of the edges at the vertex, in degrees.
fn dihedral(context: &MeasureContext) -> Vec<f64> {
    let topology = context.topology();
    context.per_vertex(|v| {
        let bend = |c: usize| {
            let across = topology.twin(c)?;
            let [a, b] = [c, across].map(|c| context.face_normal(topology.face_of(c)));
            Some(a.cross(&b).norm().atan2(a.dot(&b)).to_degrees())
        };
        topology.corners_of(v).filter_map(bend).fold(0.0, f64::max)
    })
}

/// The largest |ln(longest / shortest)| over the edges at the vertex.
fn spacing(context: &MeasureContext) -> Vec<f64> {
    let at = context.positions();
    context.per_vertex(|v| {
        let spokes = context.spokes.of(v).iter();
        let lengths = spokes.map(|s| (at[s.vertex as usize] - at[v]).norm());
        let (least, most) = lengths.fold((f64::INFINITY, 0.0f64), |(a, b), l| (a.min(l), b.max(l)));
        (most / least).ln()
    })
}

/// The angle between the limit normal and the mean of its neighbours', in degrees.
fn roughness(context: &MeasureContext) -> Vec<f64> {
    let normals = &context.limit.vertices;
    context.per_vertex(|v| {
        let spokes = context.spokes.of(v).iter();
        let mean: Vec3 = spokes.map(|s| normals[s.vertex as usize].normal).sum();
        let own = normals[v].normal;
        own.cross(&mean).norm().atan2(own.dot(&mean)).to_degrees()
    })
}

/// The length of the twice-applied umbrella operator over the mean edge length (Kobbelt et al.,
/// Interactive multi-resolution modeling on arbitrary meshes, 1998, section 4).
fn umbrella_twice(context: &MeasureContext) -> Vec<f64> {
    let once = umbrella(context, context.positions());
    let twice = umbrella(context, &once);
    context.per_vertex(|v| twice[v].norm() / context.edge_length[v])
}

fn umbrella(context: &MeasureContext, at: &[Vec3]) -> Vec<Vec3> {
    let one = |v: usize| {
        let spokes = context.spokes.of(v);
        let sum: Vec3 = spokes.iter().map(|s| at[s.vertex as usize]).sum();
        if spokes.is_empty() {
            Vec3::zeros()
        } else {
            sum / spokes.len() as f64 - at[v]
        }
    };
    (0..at.len()).map(one).collect()
}
