//! Values of cage vertices carried to the vertices of the refined mesh.

use super::numbering::Numbering;
use crate::mesh::Topology;

/// Spreads values of the cage's vertices (colours, say) over the mesh refined `level` times, in
/// the order of its vertices: linearly along edges, bilinearly over quads, and over the corner
/// quads of any other face, whose centre has the mean. Cage vertices keep their values, so that
/// nothing is smoothed away.
///
/// `values` has one entry per cage vertex; so has the result at level 0.
pub fn spread<const N: usize>(
    topology: &Topology,
    level: usize,
    values: &[[f32; N]],
) -> Vec<[f32; N]> {
    let mut out = values.to_vec();
    if level == 0 {
        return out;
    }
    let numbering = Numbering::new(topology, level);
    let side = numbering.side();
    out.reserve_exact(numbering.refined_vertex_count().saturating_sub(out.len()));
    for e in 0..topology.edge_count() {
        let [a, b] = topology.edge_vertices(e).map(|v| values[v]);
        out.extend((1..side).map(|step| mix(a, b, share(step, side))));
    }
    for f in 0..topology.face_count() {
        let at = |j: usize| values[topology.vertex(topology.face_corners(f).start + j)];
        match topology.face_size(f) {
            4 => fill_grid([at(0), at(1), at(2), at(3)], side, side - 1, &mut out),
            n => fill_corner_quads(n, at, side / 2, &mut out),
        }
    }
    out
}

/// The vertices inside a face of `n` sides other than 4.
fn fill_corner_quads<const N: usize>(
    n: usize,
    at: impl Fn(usize) -> [f32; N],
    side: usize,
    out: &mut Vec<[f32; N]>,
) {
    let centre = mean(n, &at);
    out.push(centre);
    for j in 0..n {
        let [before, here, after] = [at((j + n - 1) % n), at(j), at((j + 1) % n)];
        let corners = [here, mix(here, after, 0.5), centre, mix(here, before, 0.5)];
        fill_grid(corners, side, side, out);
    }
}

/// Rows 1 to `side - 1` of a square grid of `side` segments, each from column 1 to `last`.
fn fill_grid<const N: usize>(
    [a, b, c, d]: [[f32; N]; 4],
    side: usize,
    last: usize,
    out: &mut Vec<[f32; N]>,
) {
    for j in 1..side {
        let (left, right) = (mix(a, d, share(j, side)), mix(b, c, share(j, side)));
        out.extend((1..=last).map(|i| mix(left, right, share(i, side))));
    }
}

fn share(step: usize, side: usize) -> f32 {
    step as f32 / side as f32
}

fn mix<const N: usize>(a: [f32; N], b: [f32; N], t: f32) -> [f32; N] {
    std::array::from_fn(|k| a[k] + (b[k] - a[k]) * t)
}

fn mean<const N: usize>(n: usize, at: impl Fn(usize) -> [f32; N]) -> [f32; N] {
    let mut sum = [0.0; N];
    for j in 0..n {
        let value = at(j);
        sum.iter_mut().zip(value).for_each(|(s, x)| *s += x);
    }
    sum.map(|s| s / n.max(1) as f32)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use crate::mesh::{PolygonMesh, Vec3};
    use crate::subdivision::{BoundaryRule, ControlMesh, Creases, Samples, Surface, refine};

    /// A flat mesh of a quad, a triangle and a pentagon, every vertex pinned and every edge
    /// infinitely sharp, is refined like its own coordinates are spread along its edges.
    #[test]
    fn coordinates_spread_along_sharp_edges_are_the_refined_ones() {
        let at = |x: f64, y: f64| Vec3::new(x, y, 0.0);
        let positions = vec![
            at(0.0, 0.0),
            at(1.0, 0.0),
            at(1.0, 1.0),
            at(0.0, 1.0),
            at(2.0, 0.5),
            at(0.0, 2.0),
            at(1.0, 2.0),
            at(0.5, 3.0),
        ];
        let faces: [&[u32]; 3] = [&[0, 1, 2, 3], &[1, 4, 2], &[3, 2, 6, 7, 5]];
        let mesh = PolygonMesh::from_faces(positions, &faces).unwrap();
        let topology = Topology::new(&mesh);
        let creases = Creases {
            edges: (0..topology.edge_count() as u32)
                .map(|e| (e, f64::INFINITY))
                .collect(),
            vertices: (0..8).map(|v| (v, f64::INFINITY)).collect(),
        };
        for level in 1..4 {
            let values: Vec<[f32; 2]> = mesh
                .positions()
                .iter()
                .map(|p| [p.x as f32, p.y as f32])
                .collect();
            let found = spread(&topology, level, &values);
            let control =
                ControlMesh::new(&mesh, topology.clone(), &creases, BoundaryRule::default());
            let refined = refine(&Surface::new(control), level, Samples::Refined);
            assert_eq!(found.len(), refined.positions.len());
            let numbering = Numbering::new(&topology, level);
            let edges_end = numbering.edge_vertices(topology.edge_count()).start;
            for (p, q) in found[..edges_end].iter().zip(&refined.positions) {
                assert!((f64::from(p[0]) - q[0]).abs() < 1e-6, "{p:?} {q:?}");
                assert!((f64::from(p[1]) - q[1]).abs() < 1e-6, "{p:?} {q:?}");
            }
            // A square with pinned sides is refined to its own bilinear grid.
            for (p, q) in numbering
                .face_vertices(0)
                .map(|v| (found[v], refined.positions[v]))
            {
                assert!((f64::from(p[0]) - q[0]).abs() < 1e-6, "{p:?} {q:?}");
                assert!((f64::from(p[1]) - q[1]).abs() < 1e-6, "{p:?} {q:?}");
            }
        }
    }
}
