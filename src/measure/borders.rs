//! Borders: seams that were meant to be closed.

use std::collections::HashMap;

use nalgebra::Matrix3;

use super::Measured;
use super::about::{About, Unit};
use super::context::MeasureContext;
use super::spokes::Spoke;
use crate::mesh::{EdgeKind, MirrorMap, Vec3};

/// Distance to the nearest border vertex that is not joined to this one.
pub const SEAM_GAP: About = About {
    name: "seam_gap",
    tells: "how close another border comes to this border vertex without being joined to it",
    formula: "distance to the nearest border vertex that no face shares, over the mean edge length at the vertex; empty inside the surface and where none lies within half an edge length",
    unit: Unit::Ratio,
    range: "from 0 (coincident, not welded) to 0.5",
    source: "unwelded seams open or crease when smoothed: common practice, no published source",
    remedy: "weld the two vertices",
};

/// Distance from the plane of the border.
pub const OFF_PLANE: About = About {
    name: "border_off_plane",
    tells: "how far a border vertex stands off the plane that the border beside it lies in",
    formula: "distance from the plane through the three border vertices on either side, over the mean edge length at the vertex; empty where those six lie in no single plane or on one line; on the centre line of a mirrored half, distance from the mirror plane",
    unit: Unit::Ratio,
    range: "from 0",
    source: "vertices of the centre line lie exactly in the mirror plane: common practice, no published source",
    remedy: "put the vertex into the plane of its border; mirrored, it opens a gap or folds a crease",
};

/// Border vertices on either side that the plane is laid through.
const STATIONS: usize = 3;

/// Distance of the stations from their plane, over the edge length, up to which they lie in it.
const IN_PLANE_TOLERANCE: f64 = 1e-3;

/// Width of the stations' spread across their line, over the edge length, from which on they span
/// a plane.
const SPAN_THRESHOLD: f64 = 0.05;

/// Gaps up to this part of an edge length are looked for.
const REACH: f64 = 0.5;

/// The two measures, in the order of their columns.
pub fn measure(context: &MeasureContext) -> Vec<Measured> {
    vec![
        seam_gaps(context),
        Measured {
            about: &OFF_PLANE,
            values: off_planes(context),
        },
    ]
}

/// The values of [`OFF_PLANE`].
pub fn off_planes(context: &MeasureContext) -> Vec<f64> {
    context.per_vertex(|v| off_plane(context, v).unwrap_or(f64::NAN))
}

/// How far vertex `v` of a mirrored half's centre line, about which the gap of a vertex off the line
/// opens, is off the mirror plane, in file units. `None` for all others.
fn off_mirror_plane(map: &MirrorMap, v: usize, spokes: &[Spoke]) -> Option<f64> {
    let is_off = |v: usize| !map.is_welded(v) && !map.distances[v].is_nan();
    if is_off(v) {
        return Some(map.distances[v]);
    }
    let ends = [spokes.first()?, spokes.last()?];
    let at_gap = ends.iter().any(|spoke| is_off(spoke.vertex as usize));
    (map.is_welded(v) && at_gap).then_some(0.0)
}

fn off_plane(context: &MeasureContext, v: usize) -> Option<f64> {
    let spokes = context.spokes.of(v);
    if context.spokes.is_interior(v) || !context.spokes.is_manifold(v) {
        return None;
    }
    if let Some(off) = context
        .mirror
        .and_then(|map| off_mirror_plane(map, v, spokes))
    {
        return Some(off / context.scale() / context.edge_length[v]);
    }
    let mut stations = Vec::with_capacity(2 * STATIONS);
    for &start in [spokes.first()?, spokes.last()?] {
        let mut at = start;
        for _ in 0..STATIONS {
            stations.push(context.positions()[at.vertex as usize]);
            at = context.spokes.border_on(at)?;
        }
    }
    let unit = context.edge_length[v];
    let centre = stations.iter().sum::<Vec3>() / stations.len() as f64;
    let spread: Matrix3<f64> = stations
        .iter()
        .map(|p| (p - centre) / unit)
        .map(|d| d * d.transpose())
        .sum();
    let eigen = spread.symmetric_eigen();
    let mut order = [0, 1, 2];
    order.sort_by(|&a, &b| eigen.eigenvalues[a].total_cmp(&eigen.eigenvalues[b]));
    let width = |k: usize| (eigen.eigenvalues[order[k]].max(0.0) / stations.len() as f64).sqrt();
    if width(0) > IN_PLANE_TOLERANCE || width(1) < SPAN_THRESHOLD {
        return None;
    }
    let normal = eigen.eigenvectors.column(order[0]);
    Some(
        ((context.positions()[v] - centre) / unit)
            .dot(&normal)
            .abs(),
    )
}

fn seam_gaps(context: &MeasureContext) -> Measured {
    let nearest = seam_neighbours(context).into_iter();
    Measured {
        about: &SEAM_GAP,
        values: nearest.map(|n| n.map_or(f64::NAN, |n| n.1)).collect(),
    }
}

/// For each border vertex the nearest other border vertex that no face shares, and the distance to it
/// over the mean edge length, if it is within half an edge length; `None` for all others. Border
/// vertices are put into cells as large as the reach of the longest edge, so that only neighbouring
/// cells need be looked at.
pub fn seam_neighbours(context: &MeasureContext) -> Vec<Option<(usize, f64)>> {
    let topology = context.topology();
    let mut on_border = vec![false; topology.vertex_count()];
    for e in 0..topology.edge_count() {
        if topology.edge_kind(e) == EdgeKind::Border {
            for v in topology.edge_vertices(e) {
                on_border[v] = true;
            }
        }
    }
    let border: Vec<usize> = (0..on_border.len()).filter(|&v| on_border[v]).collect();
    let cells = Cells::new(context, &border);
    let mut nearest = vec![None; on_border.len()];
    for &v in &border {
        nearest[v] = cells.nearest_stranger(context, v);
    }
    nearest
}

/// Border vertices by cell of a cubic grid.
struct Cells {
    size: f64,
    vertices: HashMap<[i64; 3], Vec<usize>>,
}

impl Cells {
    /// The cells are of median reach: for longer edges a search widens, and is capped.
    fn new(context: &MeasureContext, border: &[usize]) -> Self {
        let mut reaches: Vec<f64> = border
            .iter()
            .map(|&v| context.edge_length[v] * REACH)
            .filter(|r| r.is_finite() && *r > 0.0)
            .collect();
        reaches.sort_by(f64::total_cmp);
        let size = reaches.get(reaches.len() / 2).copied().unwrap_or(1.0);
        let mut cells = Self {
            size,
            vertices: HashMap::new(),
        };
        for &v in border {
            let key = cells.key(context.positions()[v]);
            cells.vertices.entry(key).or_default().push(v);
        }
        cells
    }

    fn key(&self, p: Vec3) -> [i64; 3] {
        [p.x, p.y, p.z].map(|x| (x / self.size).floor() as i64)
    }

    fn nearest_stranger(&self, context: &MeasureContext, v: usize) -> Option<(usize, f64)> {
        /// Cells searched to either side: a border edge eight times the median is searched for
        /// gaps of an eighth of its reach only.
        const SPAN: i64 = 1;
        /// Vertices compared per cell: more coincide only in broken files.
        const CELL_MAX: usize = 64;
        let from = context.positions()[v];
        let reach = (context.edge_length[v] * REACH).min(self.size * SPAN as f64);
        let [x, y, z] = self.key(from);
        let mut nearest: Option<(usize, f64)> = None;
        for dx in -SPAN..=SPAN {
            for dy in -SPAN..=SPAN {
                for dz in -SPAN..=SPAN {
                    let cell = self.vertices.get(&[x + dx, y + dy, z + dz]);
                    for &w in cell.into_iter().flatten().take(CELL_MAX) {
                        let d = (context.positions()[w] - from).norm();
                        let nearer = nearest.is_none_or(|n| d < n.1);
                        if d <= reach && nearer && w != v && !share_a_face(context, v, w) {
                            nearest = Some((w, d));
                        }
                    }
                }
            }
        }
        nearest.map(|(w, d)| (w, d / context.edge_length[v]))
    }
}

fn share_a_face(context: &MeasureContext, v: usize, w: usize) -> bool {
    let topology = context.topology();
    context
        .faces_of(v)
        .any(|f| topology.face_corners(f).any(|c| topology.vertex(c) == w))
}
