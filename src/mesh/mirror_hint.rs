//! Open borders that lie in a plane: the cage may be a half that is to be mirrored there.

use super::cage::Cage;
use super::centre_line::{CentreLine, WELD_TOLERANCE, half_length};
use super::mirror_plane::{Axis, MirrorPlane};
use super::polygon_mesh::{PolygonMesh, Vec3};
use super::topology::Topology;

/// Planes that are looked at: those with the most border edges.
const PLANES_MAX: usize = 6;

/// Borders that are looked at: the longest ones.
const BORDERS_MAX: usize = 200;

/// Edges from which on a border that lies in a slanting plane counts: three always do.
const SLANTING_EDGES_MIN: usize = 4;

/// Borders that lie in one plane, with all of the cage on one side of it.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanarBorders {
    /// Number of border edges in the plane.
    pub edges: usize,
    /// Number of edges of the borders that they belong to.
    pub of_edges: usize,
    /// A vertex of these borders, from 0.
    pub vertex: usize,
    /// Unit normal of the plane; up to its sign.
    pub normal: Vec3,
    /// Distance of the plane from the origin along the normal, in file units.
    pub offset: f64,
    /// The plane, if it lies across an axis: the half can be mirrored there.
    pub plane: Option<MirrorPlane>,
}

/// Finds the planes in which open borders of `cage` lie, all of them or at least half of a border's
/// edges, so that the cage could be a half to be mirrored there: see [`CentreLine::find`] for what
/// is asked of planes across an axis; with any other the cage need only lie on one side. The
/// plane with the most edges comes first.
pub fn planar_borders(cage: &Cage, topology: &Topology) -> Vec<PlanarBorders> {
    let mut walks = topology.border_walks();
    walks.sort_by_key(|walk| std::cmp::Reverse(walk.len()));
    walks.truncate(BORDERS_MAX);
    let mut found: Vec<PlanarBorders> = Vec::new();
    for walk in &walks {
        for border in planes_of(&cage.mesh, topology, walk) {
            let length = half_length(&cage.mesh, border.vertex, next_on(topology, walk));
            let same = |known: &&mut PlanarBorders| {
                let apart = (known.offset * 0.5 - border.offset * 0.5).abs();
                known.normal == border.normal && apart <= WELD_TOLERANCE * length
            };
            match found.iter_mut().find(same) {
                Some(known) => {
                    known.edges += border.edges;
                    known.of_edges += border.of_edges;
                }
                None => found.push(border),
            }
        }
    }
    found.sort_by_key(|border| std::cmp::Reverse(border.edges));
    found.truncate(PLANES_MAX);
    found.retain(|border| match border.plane {
        Some(plane) => CentreLine::find(cage, topology, plane).is_ok(),
        None => is_on_one_side(&cage.mesh, topology, border),
    });
    found
}

/// The far end of a border's first edge.
fn next_on(topology: &Topology, walk: &[usize]) -> usize {
    topology.vertex(topology.next(walk[0]))
}

/// The planes that at least half of one border lies in.
fn planes_of(mesh: &PolygonMesh, topology: &Topology, walk: &[usize]) -> Vec<PlanarBorders> {
    let edges: Vec<[usize; 2]> = walk
        .iter()
        .map(|&c| [c, topology.next(c)].map(|c| topology.vertex(c)))
        .collect();
    let mut planes: Vec<PlanarBorders> = Axis::ALL
        .into_iter()
        .filter_map(|axis| across_axis(mesh, &edges, axis))
        .collect();
    if planes.iter().all(|plane| plane.edges < edges.len()) {
        planes.extend(slanting(mesh, &edges));
    }
    planes
}

/// The plane across an axis in which most edges lie, if it is half of them.
fn across_axis(mesh: &PolygonMesh, edges: &[[usize; 2]], axis: Axis) -> Option<PlanarBorders> {
    let height = |v: usize| mesh.positions()[v][axis as usize];
    let mut level: Vec<(f64, f64)> = edges
        .iter()
        .filter_map(|&[a, b]| {
            let tolerance = WELD_TOLERANCE * half_length(mesh, a, b);
            let apart = (height(a) * 0.5 - height(b) * 0.5).abs();
            (apart <= tolerance).then(|| (height(a), tolerance))
        })
        .collect();
    level.sort_by(|a, b| a.0.total_cmp(&b.0));
    let alike = |a: &(f64, f64), b: &(f64, f64)| b.0 * 0.5 - a.0 * 0.5 <= a.1.max(b.1);
    let run = level.chunk_by(alike).max_by_key(|run| run.len())?;
    if run.len() < 2 || 2 * run.len() < edges.len() {
        return None;
    }
    let offset = run[run.len() / 2].0 + 0.0;
    let mut normal = Vec3::zeros();
    normal[axis as usize] = 1.0;
    Some(PlanarBorders {
        edges: run.len(),
        of_edges: edges.len(),
        vertex: edges[0][0],
        normal,
        offset,
        plane: Some(MirrorPlane { axis, offset }),
    })
}

/// The plane, across no axis, in which a whole border lies.
fn slanting(mesh: &PolygonMesh, edges: &[[usize; 2]]) -> Option<PlanarBorders> {
    if edges.len() < SLANTING_EDGES_MIN {
        return None;
    }
    let origin = mesh.positions()[edges[0][0]];
    let size = edges
        .iter()
        .map(|&[a, _]| (mesh.positions()[a] * 0.5 - origin * 0.5).amax())
        .fold(0.0, f64::max);
    let at = |v: usize| (mesh.positions()[v] * 0.5 - origin * 0.5) / size;
    let area: Vec3 = edges.iter().map(|&[a, b]| at(a).cross(&at(b))).sum();
    let normal = area.try_normalize(f64::MIN_POSITIVE)?;
    let lies_in = |&[a, b]: &[usize; 2]| {
        let tolerance = WELD_TOLERANCE * (at(a) - at(b)).norm();
        at(a).dot(&normal).abs() <= tolerance && at(b).dot(&normal).abs() <= tolerance
    };
    edges.iter().all(lies_in).then(|| PlanarBorders {
        edges: edges.len(),
        of_edges: edges.len(),
        vertex: edges[0][0],
        normal,
        offset: origin.dot(&normal),
        plane: None,
    })
}

fn is_on_one_side(mesh: &PolygonMesh, topology: &Topology, border: &PlanarBorders) -> bool {
    let origin = mesh.positions()[border.vertex];
    let used = (0..mesh.vertex_count()).filter(|&v| !topology.is_unreferenced(v));
    let heights = used.map(|v| (mesh.positions()[v] * 0.5 - origin * 0.5).dot(&border.normal));
    let (low, high) = heights.fold((0.0, 0.0), |(low, high): (f64, f64), h| {
        (low.min(h), high.max(h))
    });
    let reach = low.abs().max(high.abs());
    low.abs().min(high.abs()) <= WELD_TOLERANCE * reach
}
