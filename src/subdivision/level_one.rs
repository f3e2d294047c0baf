//! The first level by the general rule for polygons.

use rayon::prelude::*;

use super::control::ControlMesh;
use super::sharpness::{VertexBlend, VertexRule};
use crate::mesh::{Topology, Vec3};

/// Elements that one task of the parallel loops takes on at least: below it, handing out work
/// costs more than doing it.
pub(super) const TASK_LENGTH: usize = 1024;

/// The points of the first level of subdivision, in the control mesh's frame.
#[derive(Debug, Clone)]
pub struct LevelOne {
    /// Image of each cage vertex.
    pub vertex_points: Vec<Vec3>,
    /// One point per cage edge.
    pub edge_points: Vec<Vec3>,
    /// One point per cage face.
    pub face_points: Vec<Vec3>,
}

impl LevelOne {
    /// Applies the rules of Catmull & Clark ("Recursively generated B-spline surfaces on arbitrary
    /// topological meshes", 1978) to faces with any number of sides, with the crease rules of
    /// DeRose, Kass & Truong 1998.
    pub fn new(control: &ControlMesh) -> Self {
        let topology = control.topology();
        let face_points: Vec<Vec3> = (0..topology.face_count())
            .into_par_iter()
            .with_min_len(TASK_LENGTH)
            .map(|f| face_point(control, f))
            .collect();
        let edge_points = (0..topology.edge_count())
            .into_par_iter()
            .with_min_len(TASK_LENGTH)
            .map(|e| edge_point(control, &face_points, e))
            .collect();
        let vertex_points = (0..topology.vertex_count())
            .into_par_iter()
            .with_min_len(TASK_LENGTH)
            .map(|v| vertex_point(control, &face_points, v))
            .collect();
        Self {
            vertex_points,
            edge_points,
            face_points,
        }
    }
}

/// The face point: the mean of the face's vertices.
fn face_point(control: &ControlMesh, f: usize) -> Vec3 {
    let topology = control.topology();
    let sum: Vec3 = topology
        .face_corners(f)
        .map(|c| control.positions()[topology.vertex(c)])
        .sum();
    sum / topology.face_size(f) as f64
}

/// The edge point: the mean of the edge's ends and the points of the two faces beside it, or the
/// midpoint of a sharp edge, or a blend of both where less than one level of sharpness is left.
fn edge_point(control: &ControlMesh, face_points: &[Vec3], e: usize) -> Vec3 {
    let topology = control.topology();
    let [a, b] = topology.edge_vertices(e).map(|v| control.positions()[v]);
    let midpoint = (a + b) * 0.5;
    let first = topology.edge_corner(e);
    let Some(second) = topology.twin(first) else {
        return midpoint;
    };
    let beside = face_points[topology.face_of(first)] + face_points[topology.face_of(second)];
    let smooth = midpoint * 0.5 + beside * 0.25;
    blend_edge_point(smooth, midpoint, control.edge_sharpness()[e])
}

/// An edge point of the given sharpness from the smooth and the sharp one.
pub(super) fn blend_edge_point(smooth: Vec3, midpoint: Vec3, sharpness: f64) -> Vec3 {
    if sharpness <= 0.0 {
        smooth
    } else if sharpness >= 1.0 {
        midpoint
    } else {
        smooth.lerp(&midpoint, sharpness)
    }
}

/// The vertex point, by the rule or the two rules that the sharpness about the vertex calls for.
fn vertex_point(control: &ControlMesh, face_points: &[Vec3], v: usize) -> Vec3 {
    let topology = control.topology();
    let own = control.positions()[v];
    if control.vertex_sharpness()[v] > 1.0 || topology.is_unreferenced(v) {
        return own;
    }
    if let Some(point) = smooth_vertex_point(control, face_points, v) {
        return point;
    }
    let spokes = || vertex_spokes(topology, v).map(|(e, w)| (control.edge_sharpness()[e], w));
    let blend = VertexBlend::new(spokes().map(|(s, _)| s), control.vertex_sharpness()[v]);
    let by_rule = |rule: VertexRule, sharp_from: f64| match rule {
        VertexRule::Corner => own,
        VertexRule::Crease => {
            let ends = spokes().filter(|&(s, _)| s > sharp_from);
            let sum: Vec3 = ends.map(|(_, w)| control.positions()[w]).sum();
            own * 0.75 + sum * 0.125
        }
        VertexRule::Smooth => {
            let n = topology.valence(v) as f64;
            let neighbours: Vec3 = spokes().map(|(_, w)| control.positions()[w]).sum();
            let faces: Vec3 = topology
                .corners_of(v)
                .map(|c| face_points[topology.face_of(c)])
                .sum();
            own * ((n - 2.0) / n) + (neighbours + faces) / (n * n)
        }
    };
    let parent = by_rule(blend.parent, 0.0);
    if blend.parent_weight >= 1.0 {
        return parent;
    }
    by_rule(blend.child, 1.0).lerp(&parent, blend.parent_weight)
}

/// The vertex point of an interior vertex with nothing sharp, in one pass over its corners; `None`
/// for any other vertex.
fn smooth_vertex_point(control: &ControlMesh, face_points: &[Vec3], v: usize) -> Option<Vec3> {
    let topology = control.topology();
    let fan = topology.fans(v).next()?;
    let smooth = |c: usize| control.edge_sharpness()[topology.edge(c)] == 0.0;
    if control.vertex_sharpness()[v] > 0.0 || !topology.fan_is_closed(fan[0] as usize) {
        return None;
    }
    let mut around = Vec3::zeros();
    for c in fan.iter().map(|&c| c as usize) {
        if !smooth(c) {
            return None;
        }
        let neighbour = topology.vertex(topology.next(c));
        around += control.positions()[neighbour] + face_points[topology.face_of(c)];
    }
    let n = fan.len() as f64;
    Some(control.positions()[v] * ((n - 2.0) / n) + around / (n * n))
}

/// The edges at a manifold vertex with the vertex at their other end, counter-clockwise.
pub(super) fn vertex_spokes(
    topology: &Topology,
    v: usize,
) -> impl Iterator<Item = (usize, usize)> + '_ {
    topology.fans(v).take(1).flat_map(move |fan| {
        let last = topology.previous(fan[fan.len() - 1] as usize);
        let open_end = (!topology.fan_is_closed(fan[0] as usize))
            .then(|| (topology.edge(last), topology.vertex(last)));
        fan.iter()
            .map(|&c| {
                (
                    topology.edge(c as usize),
                    topology.vertex(topology.next(c as usize)),
                )
            })
            .chain(open_end)
    })
}
