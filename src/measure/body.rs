//! Figures of the whole body: what smoothing does to its volume and extent, and what it is made of.

use super::context::MeasureContext;
use crate::mesh::{EdgeKind, MirrorMap, Topology, Vec3};
use crate::subdivision::numbering::child_count;
use crate::subdivision::{RefinedFaces, RefinedMesh, Samples, refine};

/// Faces of the limit meshes that volume and extent are taken from, at least: below it, one more
/// level costs less than anybody notices.
const BODY_FACES: usize = 50_000;

/// Least and most levels of the finer limit mesh.
const BODY_LEVELS: std::ops::RangeInclusive<usize> = 2..=5;

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
    /// Part of the cage's volume that smoothing takes away: 0.1 is a tenth, negative where it adds;
    /// `None` with open borders or without volume. Defined even where the volumes themselves are
    /// beyond the range of numbers.
    pub volume_loss: Option<f64>,
}

impl BodyFigures {
    /// Takes the figures.
    pub fn new(context: &MeasureContext) -> Self {
        let topology = context.topology();
        let [triangles, quads, ngons] = faces_by_size(topology);
        let level = BODY_LEVELS
            .clone()
            .find(|&l| child_count(topology.corner_count(), l) >= BODY_FACES)
            .unwrap_or(*BODY_LEVELS.end());
        let limit = refine(context.surface, level, Samples::Limit);
        let scale = context.scale();
        let used = (0..topology.vertex_count()).filter(|&v| !topology.is_unreferenced(v));
        let cage = used.map(|v| context.positions()[v] * scale);
        let first_inner = topology.vertex_count();
        let on_limit = context.limit.vertices.iter().enumerate();
        let on_limit = on_limit
            .filter(|(v, _)| !topology.is_unreferenced(*v))
            .map(|(_, s)| s.position * scale);
        let volumes = is_closed(topology).then(|| {
            let coarse = refine(context.surface, level - 1, Samples::Limit);
            volumes(context, [&coarse, &limit])
        });
        let cubed = scale.powi(3);
        let frame = context.surface.control().frame();
        let inner = limit.positions[first_inner..]
            .iter()
            .map(|&p| Vec3::from(p) - frame.centre);
        Self {
            triangles,
            quads,
            ngons,
            poles: poles(context, topology.vertex_count()),
            shells: shells(topology),
            borders: border_loops(topology, topology.border_walks().iter()),
            cage_extent: extent(cage),
            limit_extent: extent(on_limit.chain(inner)),
            volumes: volumes.map(|(cage, limit)| (cage * cubed, limit * cubed)),
            volume_loss: volumes
                .map(|(cage, limit)| 1.0 - limit / cage)
                .filter(|loss| loss.is_finite()),
        }
    }
}

impl BodyFigures {
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

fn is_closed(topology: &Topology) -> bool {
    (0..topology.edge_count()).all(|e| topology.edge_kind(e) == EdgeKind::Interior)
}

fn extent(points: impl Iterator<Item = Vec3>) -> Vec3 {
    let empty = (Vec3::repeat(f64::INFINITY), Vec3::repeat(f64::NEG_INFINITY));
    let (low, high) = points.fold(empty, |(low, high), p| (low.inf(&p), high.sup(&p)));
    if low.x > high.x {
        return Vec3::zeros();
    }
    high - low
}

/// Volumes inside cage and limit surface, in the frame's units: the divergence theorem over the
/// faces, each taken as the fan of triangles about its centre.
///
/// The volume inside a mesh of points of the limit surface differs from the surface's by a part
/// that falls to a quarter from level to level; two levels together cancel it (Richardson 1911).
fn volumes(context: &MeasureContext, limit: [&RefinedMesh; 2]) -> (f64, f64) {
    let topology = context.topology();
    let cage: f64 = (0..topology.face_count())
        .map(|f| {
            let corners = topology.face_corners(f);
            let points: Vec<Vec3> = corners
                .map(|c| context.positions()[topology.vertex(c)])
                .collect();
            pyramid(&points)
        })
        .sum();
    let [coarse, fine] = limit.map(|mesh| refined_volume(context, mesh));
    let limit = fine + (fine - coarse) / 3.0;
    (cage.abs(), limit.abs())
}

fn refined_volume(context: &MeasureContext, mesh: &RefinedMesh) -> f64 {
    let RefinedFaces::Quads(quads) = &mesh.faces else {
        return 0.0;
    };
    let topology = context.topology();
    let frame = context.surface.control().frame();
    let children = quads.len() / topology.corner_count().max(1);
    let at = |v: u32| frame.inward(Vec3::from(mesh.positions[v as usize]));
    (0..topology.face_count())
        .map(|f| {
            let first = topology.face_corners(f).start * children;
            let count = topology.face_size(f) * children;
            let sign = if topology.is_flipped(f) { -1.0 } else { 1.0 };
            let own = &quads[first..first + count];
            sign * own.iter().map(|q| pyramid(&q.map(at))).sum::<f64>()
        })
        .sum()
}

/// Signed volume between the origin and a polygon.
fn pyramid(points: &[Vec3]) -> f64 {
    let centre = points.iter().sum::<Vec3>() / points.len() as f64;
    let following = points.iter().cycle().skip(1);
    points
        .iter()
        .zip(following)
        .map(|(a, b)| centre.dot(&a.cross(b)) / 6.0)
        .sum()
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
