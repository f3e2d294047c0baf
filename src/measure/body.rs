//! Figures of the whole body: what smoothing does to its volume, area and extent, and what it is
//! made of.

use super::context::MeasureContext;
use crate::limit::integrals::{compensated_sum, euler_characteristic};
use crate::limit::{LimitIntegrals, limit_extent};
use crate::mesh::{MirrorMap, Topology, Vec3};

/// An open border: a closed walk along border edges.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct BorderLoop {
    /// Number of edges. Only an even loop can be filled with quads alone (common practice, no
    /// published source).
    pub edges: usize,
    /// One vertex of the loop, from 0 (files and messages count from 1).
    pub first_vertex: usize,
}

/// Figures of the whole body.
#[derive(Debug, Clone, PartialEq)]
pub struct BodyFigures {
    /// Numbers of triangles, quads and faces of more sides.
    pub triangles: usize,
    /// See `triangles`.
    pub quads: usize,
    /// See `triangles`.
    pub ngons: usize,
    /// Number of interior vertices by valence, for valences other than 4, rising.
    pub poles: Vec<(usize, usize)>,
    /// Shells: sets of faces joined by vertices.
    pub shells: usize,
    /// Open borders.
    pub borders: Vec<BorderLoop>,
    /// Extents of the cage along x, y and z, in file units.
    pub cage_extent: Vec3,
    /// Extents of the limit surface, in file units.
    pub limit_extent: Vec3,
    /// Volumes inside cage and limit surface in cubic file units; `None` with open borders.
    pub volumes: Option<(f64, f64)>,
    /// Areas of cage and limit surface in square file units, from 0 up. Cage faces that are not flat
    /// count as the triangles about their centre.
    pub areas: (f64, f64),
    /// Part of the cage's volume that smoothing takes away: 0.1 is a tenth, negative where it adds;
    /// `None` with open borders or without volume. Defined even where the volumes themselves are
    /// beyond the range of numbers.
    pub volume_loss: Option<f64>,
    /// By how much the integral of the limit surface's Gaussian curvature over 2π misses the cage's
    /// Euler characteristic (Gauss-Bonnet: do Carmo 1976, section 4-5): a check of the surface that
    /// was read, 0 but for the error of integration. `None` with borders, non-manifold places,
    /// infinitely sharp creases or corners, and where there is no tangent plane.
    pub gauss_bonnet_defect: Option<f64>,
}

impl BodyFigures {
    /// Takes the figures.
    pub fn new(context: &MeasureContext) -> Self {
        let topology = context.topology();
        let [triangles, quads, ngons] = faces_by_size(topology);
        let scale = context.scale();
        let used = (0..topology.vertex_count()).filter(|&v| !topology.is_unreferenced(v));
        let cage = used.clone().map(|v| context.positions()[v]);
        let vertices = used.map(|v| context.limit.vertices[v].position);
        let limit = limit_extent(context.surface, vertices);
        let integrals = LimitIntegrals::new(context.surface);
        let volumes = integrals
            .volume
            .map(|limit| (cage_sum(context, pyramid).abs(), limit.abs()));
        let areas = (cage_sum(context, fan_area), integrals.area);
        let characteristic = euler_characteristic(topology);
        let turns = integrals.curvature.map(|k| k / std::f64::consts::TAU);
        let [squared, cubed] = [2, 3].map(|power| scale.powi(power));
        Self {
            triangles,
            quads,
            ngons,
            poles: poles(context, topology.vertex_count()),
            shells: shells(topology),
            borders: border_loops(topology, topology.border_walks().iter()),
            cage_extent: extent(cage) * scale,
            limit_extent: limit.map_or(Vec3::zeros(), |[low, high]| (high - low) * scale),
            volumes: volumes.map(|(cage, limit)| (cage * cubed, limit * cubed)),
            areas: (areas.0 * squared, areas.1 * squared),
            volume_loss: volumes
                .map(|(cage, limit)| 1.0 - limit / cage)
                .filter(|loss| loss.is_finite()),
            gauss_bonnet_defect: turns
                .zip(characteristic)
                .map(|(turns, characteristic)| turns - characteristic as f64),
        }
    }

    /// The figures of the whole of a mirrored half, its elements counted in the half alone: faces,
    /// shells, and the vertices that are poles of the whole. Borders are those that mirroring
    /// leaves open, each in full, one and its mirror image once. Extents and volumes stay those of
    /// the whole.
    pub fn of_half(context: &MeasureContext, half: &Topology, map: &MirrorMap) -> Self {
        let topology = context.topology();
        let walks = topology.border_walks();
        let [triangles, quads, ngons] = faces_by_size(half);
        let of_half = |walk: &&Vec<usize>| topology.face_of(walk[0]) < map.half_faces;
        Self {
            triangles,
            quads,
            ngons,
            poles: poles(context, map.half_vertices),
            shells: shells(half),
            borders: border_loops(topology, walks.iter().filter(of_half)),
            ..Self::new(context)
        }
    }
}

/// Numbers of triangles, quads and faces of more sides.
fn faces_by_size(topology: &Topology) -> [usize; 3] {
    let mut counts = [0; 3];
    for f in 0..topology.face_count() {
        counts[topology.face_size(f).clamp(3, 5) - 3] += 1;
    }
    counts
}

fn extent(points: impl Iterator<Item = Vec3>) -> Vec3 {
    let empty = (Vec3::repeat(f64::INFINITY), Vec3::repeat(f64::NEG_INFINITY));
    let (low, high) = points.fold(empty, |(low, high), p| (low.inf(&p), high.sup(&p)));
    if low.x > high.x {
        return Vec3::zeros();
    }
    high - low
}

/// Sum over the cage's faces of a figure of their corners, in the frame's units.
fn cage_sum(context: &MeasureContext, figure: fn(&[Vec3]) -> f64) -> f64 {
    let topology = context.topology();
    let mut points = Vec::new();
    compensated_sum((0..topology.face_count()).map(|f| {
        let corners = topology.face_corners(f);
        points.clear();
        points.extend(corners.map(|c| context.positions()[topology.vertex(c)]));
        figure(&points)
    }))
}

/// Signed volume between the origin and a polygon, taken as the fan of triangles about its centre.
fn pyramid(points: &[Vec3]) -> f64 {
    let centre = points.iter().sum::<Vec3>() / points.len() as f64;
    sides(points)
        .map(|(a, b)| centre.dot(&a.cross(b)) / 6.0)
        .sum()
}

/// Area of the same fan.
fn fan_area(points: &[Vec3]) -> f64 {
    let centre = points.iter().sum::<Vec3>() / points.len() as f64;
    sides(points)
        .map(|(a, b)| (a - centre).cross(&(b - centre)).norm() / 2.0)
        .sum()
}

fn sides(points: &[Vec3]) -> impl Iterator<Item = (&Vec3, &Vec3)> {
    points.iter().zip(points.iter().cycle().skip(1))
}

fn poles(context: &MeasureContext, vertices: usize) -> Vec<(usize, usize)> {
    let mut counts = std::collections::BTreeMap::new();
    for v in 0..vertices {
        let valence = context.spokes.of(v).len();
        if context.spokes.is_interior(v) && valence != 4 {
            *counts.entry(valence).or_default() += 1;
        }
    }
    counts.into_iter().collect()
}

/// Number of sets of faces that hang together by vertices.
fn shells(topology: &Topology) -> usize {
    let mut reached = vec![false; topology.face_count()];
    let mut stack = Vec::new();
    let mut shells = 0;
    let mut vertex_done = vec![false; topology.vertex_count()];
    for seed in 0..topology.face_count() {
        if std::mem::replace(&mut reached[seed], true) {
            continue;
        }
        shells += 1;
        stack.push(seed);
        while let Some(f) = stack.pop() {
            for c in topology.face_corners(f) {
                let v = topology.vertex(c);
                if std::mem::replace(&mut vertex_done[v], true) {
                    continue;
                }
                for other in topology.corners_of(v).map(|c| topology.face_of(c)) {
                    if !std::mem::replace(&mut reached[other], true) {
                        stack.push(other);
                    }
                }
            }
        }
    }
    shells
}

fn border_loops<'a>(
    topology: &Topology,
    walks: impl Iterator<Item = &'a Vec<usize>>,
) -> Vec<BorderLoop> {
    let told = walks.map(|walk| BorderLoop {
        edges: walk.len(),
        first_vertex: topology.vertex(walk[0]),
    });
    told.collect()
}
