//! Creases that a cage states by its smoothing groups.

use super::control::Creases;
use crate::mesh::{EdgeKind, Mirrored, SmoothingGroups, Topology};

/// Makes the borders of smoothing groups infinitely sharp: every interior edge between faces of
/// different groups, and every interior edge of a face whose smoothing is off (group 0). No
/// creases where the file states no smoothing group at all.
///
/// Common practice, no published source: the format itself gives smoothing groups to shading only.
pub fn smoothing_group_creases(topology: &Topology, groups: &SmoothingGroups) -> Creases {
    if !groups.stated {
        return Creases::default();
    }
    let group_of = |c: usize| {
        let face = topology.face_of(c);
        groups.of_face.get(face).copied().unwrap_or(0)
    };
    let is_hard = |e: &usize| {
        let first = topology.edge_corner(*e);
        let twin = match topology.edge_kind(*e) {
            EdgeKind::Interior => topology.twin(first),
            EdgeKind::Border | EdgeKind::NonManifold => None,
        };
        twin.is_some_and(|twin| {
            let (own, other) = (group_of(first), group_of(twin));
            own == 0 || own != other
        })
    };
    Creases {
        edges: (0..topology.edge_count())
            .filter(is_hard)
            .map(|e| (e as u32, f64::INFINITY))
            .collect(),
        vertices: Vec::new(),
    }
}

/// Carries the creases of a half over to the whole that it was mirrored to, whose adjacency is
/// `whole`: each also counts for its mirror image. A border edge along the centre line becomes
/// interior and is sharp only if it is a crease.
pub fn mirrored_creases(half: &Creases, mirrored: &Mirrored, whole: &Topology) -> Creases {
    let image = |v: usize| mirrored.map.images[v] as usize;
    let mut creases = Creases::default();
    for &(e, sharpness) in &half.edges {
        let [a, b] = mirrored.half_topology.edge_vertices(e as usize);
        let own = whole.edge_between(a, b);
        let other = whole.edge_between(image(a), image(b));
        let edges = own.into_iter().chain(other.filter(|_| other != own));
        creases.edges.extend(edges.map(|e| (e as u32, sharpness)));
    }
    for &(v, sharpness) in &half.vertices {
        let other = image(v as usize) as u32;
        let vertices = std::iter::once(v).chain((other != v).then_some(other));
        creases.vertices.extend(vertices.map(|v| (v, sharpness)));
    }
    creases
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use crate::mesh::{PolygonMesh, Vec3};

    /// Three quads in a row, with the given groups: the two edges between them.
    fn hard_edges(stated: bool, groups: [u32; 3]) -> Vec<[usize; 2]> {
        let positions = (0..8)
            .map(|i| Vec3::new(f64::from(i / 2), f64::from(i % 2), 0.0))
            .collect();
        let faces = [[0u32, 2, 3, 1], [2, 4, 5, 3], [4, 6, 7, 5]];
        let mesh = PolygonMesh::from_faces(positions, &faces).unwrap();
        let topology = Topology::new(&mesh);
        let groups = SmoothingGroups {
            stated,
            of_face: groups.to_vec(),
        };
        let creases = smoothing_group_creases(&topology, &groups);
        let ends = creases.edges.iter().map(|&(e, sharpness)| {
            assert!(sharpness.is_infinite());
            let mut ends = topology.edge_vertices(e as usize);
            ends.sort();
            ends
        });
        ends.collect()
    }

    #[test]
    fn edges_between_groups_are_hard() {
        assert_eq!(hard_edges(true, [1, 1, 2]), [[4, 5]]);
        assert_eq!(hard_edges(true, [7, 7, 7]), [[0usize; 2]; 0]);
    }

    #[test]
    fn faces_without_smoothing_have_hard_edges_all_round() {
        assert_eq!(hard_edges(true, [1, 0, 0]), [[2, 3], [4, 5]]);
    }

    #[test]
    fn a_file_that_states_no_groups_has_no_hard_edges() {
        assert_eq!(hard_edges(false, [0, 0, 0]), [[0usize; 2]; 0]);
    }
}
