//! The part of the limit surface that belongs to each vertex: how large a place is, and where.

use rayon::prelude::*;

use crate::measure::MeasureContext;
use crate::mesh::Vec3;

/// Vertices that one parallel task takes on at least.
const TASK_LENGTH: usize = 512;

/// The limit surface, shared out to the cage's vertices.
///
/// A corner of a face owns the piece between the limit images of its vertex, of the middles of the
/// two edges beside it and of the face's centre; its area is taken as that of the flat piece with
/// those four points (half the length of the cross product of its diagonals). A vertex owns the
/// pieces of all its corners, so that every piece belongs to exactly one vertex.
#[derive(Debug)]
pub(super) struct Pieces<'a> {
    context: &'a MeasureContext<'a>,
    /// Area of each vertex's pieces, in the control mesh's frame.
    areas: Vec<f64>,
    whole: f64,
}

/// Where some vertices' pieces lie and how large they are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Extent {
    /// Mean of the vertices' limit points, weighted by area, in file units.
    pub(super) centre: Vec3,
    /// Largest distance of a point that bounds the pieces from the centre, in file units.
    pub(super) radius: f64,
    /// Area of the pieces as a share of the whole surface's, in [0, 1]; 0 for a surface of no area.
    pub(super) area_share: f64,
}

impl<'a> Pieces<'a> {
    /// Shares the surface out.
    pub(super) fn new(context: &'a MeasureContext<'a>) -> Self {
        let topology = context.topology();
        let area_of = |c: usize| {
            let [vertex, next, centre, previous] = piece(context, c);
            (centre - vertex).cross(&(previous - next)).norm() / 2.0
        };
        let areas: Vec<f64> = (0..topology.vertex_count())
            .into_par_iter()
            .with_min_len(TASK_LENGTH)
            .map(|v| topology.corners_of(v).map(area_of).sum())
            .collect();
        let whole = areas.iter().sum();
        Self {
            context,
            areas,
            whole,
        }
    }

    /// Extent of the pieces of some vertices, at least one.
    pub(super) fn extent(&self, vertices: &[usize]) -> Extent {
        let limit = &self.context.limit.vertices;
        let area: f64 = vertices.iter().map(|&v| self.areas[v]).sum();
        let weighted = vertices
            .iter()
            .map(|&v| limit[v].position * self.weight(v, area));
        let weights: f64 = vertices.iter().map(|&v| self.weight(v, area)).sum();
        let centre = weighted.sum::<Vec3>() / weights;
        let topology = self.context.topology();
        let corners = vertices.iter().flat_map(|&v| topology.corners_of(v));
        let points = corners.flat_map(|c| piece(self.context, c));
        let radius = points.map(|p| (p - centre).norm()).fold(0.0, f64::max);
        Extent {
            centre: self.context.surface.control().frame().outward(centre),
            radius: radius * self.context.scale(),
            area_share: if self.whole > 0.0 {
                area / self.whole
            } else {
                0.0
            },
        }
    }

    /// Mean of a value over some vertices, at least one, weighted by area.
    pub(super) fn mean(&self, vertices: &[usize], value: impl Fn(usize) -> f64) -> f64 {
        let area: f64 = vertices.iter().map(|&v| self.areas[v]).sum();
        let weights: f64 = vertices.iter().map(|&v| self.weight(v, area)).sum();
        let sum: f64 = vertices
            .iter()
            .map(|&v| value(v) * self.weight(v, area))
            .sum();
        sum / weights
    }

    /// The weight of a vertex among some that have that area: all alike where they have none.
    fn weight(&self, v: usize, area: f64) -> f64 {
        if area > 0.0 { self.areas[v] } else { 1.0 }
    }
}

/// The limit points about corner `c`: its vertex, the middle of the edge that leaves it, the face's
/// centre, the middle of the edge that comes to it.
fn piece(context: &MeasureContext, c: usize) -> [Vec3; 4] {
    let (topology, limit) = (context.topology(), &context.limit);
    [
        limit.vertices[topology.vertex(c)].position,
        limit.edges[topology.edge(c)].position,
        limit.faces[topology.face_of(c)].position,
        limit.edges[topology.edge(topology.previous(c))].position,
    ]
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use crate::mesh::{PolygonMesh, Topology};
    use crate::subdivision::{BoundaryRule, ControlMesh, Creases, Surface};

    /// A flat plate of 4 by 4 squares of side 2, whose corners stay sharp.
    #[test]
    fn a_flat_plate_is_shared_out_without_rest() {
        let grid = |k: u32| Vec3::new(f64::from(k % 5) * 2.0, f64::from(k / 5) * 2.0, 3.0);
        let faces: Vec<[u32; 4]> = (0..16)
            .map(|f| f / 4 * 5 + f % 4)
            .map(|k| [k, k + 1, k + 6, k + 5])
            .collect();
        let mesh = PolygonMesh::from_faces((0..25).map(grid).collect(), &faces).unwrap();
        let topology = Topology::new(&mesh);
        let rule = BoundaryRule::EdgeAndCorner;
        let surface = Surface::new(ControlMesh::new(&mesh, topology, &Creases::default(), rule));
        let context = MeasureContext::new(&surface);
        let pieces = Pieces::new(&context);
        let middle = pieces.extent(&[12]);
        // Inside, the limit of an even grid is the grid itself: a square of side 2 about the vertex.
        assert!((middle.area_share - 4.0 / 64.0).abs() < 1e-12);
        assert!((middle.centre - Vec3::new(4.0, 4.0, 3.0)).norm() < 1e-12);
        assert!((middle.radius - 2f64.sqrt()).abs() < 1e-12);
        let all: Vec<usize> = (0..25).collect();
        let whole = pieces.extent(&all);
        assert!((whole.area_share - 1.0).abs() < 1e-12);
        assert!((whole.radius - 32f64.sqrt()).abs() < 1e-12);
        let mean = pieces.mean(&all, |v| mesh.positions()[v].x);
        assert!((mean - 4.0).abs() < 1e-12);
    }
}
