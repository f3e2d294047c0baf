//! Making the whole of a half that is to be mirrored.

use super::cage::{Cage, NameTable, NormalLayer, SmoothingGroups, UvLayer};
use super::centre_line::{CentreLine, MirrorError};
use super::mirror_plane::MirrorPlane;
use super::polygon_mesh::{NONE, PolygonMesh, Vec3};
use super::topology::Topology;

/// Which part of a whole is the half that it was made of, and what mirrors what. Vertices and faces
/// of the half come first, under their own numbers.
#[derive(Debug, Clone, PartialEq)]
pub struct MirrorMap {
    /// The plane.
    pub plane: MirrorPlane,
    /// Number of vertices of the half.
    pub half_vertices: usize,
    /// Number of faces of the half.
    pub half_faces: usize,
    /// The mirror image of each vertex of the whole; itself where it is welded.
    pub images: Vec<u32>,
    /// Distance of each vertex of the whole from the plane in file units, before welding; NaN for
    /// vertices that do not belong to the centre line.
    pub distances: Vec<f64>,
}

impl MirrorMap {
    /// Whether vertex `v` of the whole lies in the plane, welded to its own image.
    pub fn is_welded(&self, v: usize) -> bool {
        self.images[v] as usize == v
    }

    /// The vertex of the half that vertex `v` of the whole is or mirrors.
    pub fn in_half(&self, v: usize) -> usize {
        v.min(self.images[v] as usize)
    }

    /// Number of vertices that are welded.
    pub fn welded_count(&self) -> usize {
        (0..self.half_vertices)
            .filter(|&v| self.is_welded(v))
            .count()
    }

    /// The vertices of the half that belong to the centre line but are off the plane, each with
    /// its distance in file units.
    pub fn off_plane(&self) -> impl Iterator<Item = (usize, f64)> + '_ {
        (0..self.half_vertices)
            .filter(|&v| !self.is_welded(v) && !self.distances[v].is_nan())
            .map(|v| (v, self.distances[v]))
    }

    /// Values of the half's vertices, given to their mirror images as well.
    pub fn spread<T: Copy>(&self, of_half: &[T]) -> Vec<T> {
        let source = (0..self.images.len()).map(|v| self.in_half(v));
        source.filter_map(|v| of_half.get(v).copied()).collect()
    }
}

/// The whole that a half is mirrored to.
#[derive(Debug, Clone)]
pub struct Mirrored {
    /// The whole: the half's vertices in their order, then the mirror images of those that are
    /// not welded; the half's faces, then their images, wound the other way, each from the image
    /// of the first corner. Images carry all that their originals carry, the same UVs included.
    pub whole: Cage,
    /// Which part of it is the half.
    pub map: MirrorMap,
    /// Adjacency of the half.
    pub half_topology: Topology,
}

impl Mirrored {
    /// Mirrors `half`, whose adjacency is `half_topology`. Where its border lies in the plane (see
    /// [`CentreLine::find`]) the two parts are welded, each vertex put exactly into the plane.
    ///
    /// # Errors
    /// As [`CentreLine::find`]; and [`MirrorError::TooLarge`] if an image lies beyond the range of
    /// numbers or 32 bits can't index the whole.
    pub fn new(
        half: &Cage,
        half_topology: Topology,
        plane: MirrorPlane,
    ) -> Result<Self, MirrorError> {
        let line = CentreLine::find(half, &half_topology, plane)?;
        let map = number(plane, &half.mesh, &line);
        let order = corner_order(&half.mesh);
        let whole = Cage {
            mesh: mirrored_mesh(&half.mesh, &map, &order)?,
            colours: half.colours.as_ref().map(|own| map.spread(own)),
            objects: twice(&half.objects),
            groups: twice(&half.groups),
            materials: twice(&half.materials),
            material_libraries: half.material_libraries.clone(),
            smoothing: SmoothingGroups {
                stated: half.smoothing.stated,
                of_face: half.smoothing.of_face.repeat(2),
            },
            uvs: half.uvs.as_ref().map(|uvs| mirrored_uvs(uvs, &order)),
            normals: half
                .normals
                .as_ref()
                .map(|normals| mirrored_normals(normals, plane, &order)),
            vertex_lines: map.spread(&half.vertex_lines),
            face_lines: half.face_lines.repeat(2),
            skipped: half.skipped.clone(),
        };
        Ok(Self {
            whole,
            map,
            half_topology,
        })
    }
}

/// Numbers the vertices of the whole.
fn number(plane: MirrorPlane, mesh: &PolygonMesh, line: &CentreLine) -> MirrorMap {
    let half_vertices = mesh.vertex_count();
    let mut images: Vec<u32> = (0..half_vertices as u32).collect();
    let mut distances = line.distances.clone();
    for v in (0..half_vertices).filter(|&v| !line.welded[v]) {
        images[v] = images.len() as u32;
        images.push(v as u32);
        distances.push(line.distances[v]);
    }
    MirrorMap {
        plane,
        half_vertices,
        half_faces: mesh.face_count(),
        images,
        distances,
    }
}

/// The corners of the half in the order of the mirrored faces: each face backwards from its first
/// corner.
fn corner_order(mesh: &PolygonMesh) -> Vec<usize> {
    let mut order = Vec::with_capacity(mesh.corner_count());
    for f in 0..mesh.face_count() {
        let corners = mesh.face_corners(f);
        order.extend(corners.clone().take(1));
        order.extend(corners.skip(1).rev());
    }
    order
}

fn mirrored_mesh(
    half: &PolygonMesh,
    map: &MirrorMap,
    order: &[usize],
) -> Result<PolygonMesh, MirrorError> {
    let too_large = |what, mend| MirrorError::TooLarge {
        plane: map.plane,
        what,
        mend,
    };
    let position = |v: usize| {
        let own = &half.positions()[map.in_half(v)];
        match map.is_welded(v) {
            true => map.plane.nearest(own),
            false if v < map.half_vertices => *own,
            false => map.plane.image(own),
        }
    };
    let positions: Vec<Vec3> = (0..map.images.len()).map(position).collect();
    if !positions.iter().all(|p| p.iter().all(|x| x.is_finite())) {
        return Err(too_large(
            "the range of numbers",
            "move it nearer to the origin, or scale it down",
        ));
    }
    let corners = u32::try_from(half.corner_count()).unwrap_or(NONE);
    let starts = half.face_starts();
    let shifted = starts.iter().skip(1).map(|s| s.saturating_add(corners));
    let face_starts: Vec<u32> = starts.iter().copied().chain(shifted).collect();
    let mut corner_vertices = half.corner_vertices().to_vec();
    corner_vertices.extend(
        order
            .iter()
            .map(|&c| map.images[half.corner_vertices()[c] as usize]),
    );
    PolygonMesh::new(positions, face_starts, corner_vertices)
        .map_err(|_| too_large("32-bit indices", "mirror a part of it at a time"))
}

fn twice(half: &NameTable) -> NameTable {
    NameTable {
        names: half.names.clone(),
        of_face: half.of_face.repeat(2),
    }
}

/// Per-corner values of the half, followed by those of the mirrored corners.
fn with_mirrored_corners(of_corner: &[u32], order: &[usize], shift: u32) -> Vec<u32> {
    let image = |&c: &usize| match of_corner.get(c) {
        Some(&value) if value != NONE => value.saturating_add(shift),
        _ => NONE,
    };
    let images = order.iter().map(image);
    of_corner.iter().copied().chain(images).collect()
}

fn mirrored_uvs(half: &UvLayer, order: &[usize]) -> UvLayer {
    UvLayer {
        coordinates: half.coordinates.clone(),
        of_corner: with_mirrored_corners(&half.of_corner, order, 0),
    }
}

fn mirrored_normals(half: &NormalLayer, plane: MirrorPlane, order: &[usize]) -> NormalLayer {
    let turned = half.vectors.iter().map(|n| plane.turned(n));
    let shift = u32::try_from(half.vectors.len()).unwrap_or(NONE);
    NormalLayer {
        vectors: half.vectors.iter().copied().chain(turned).collect(),
        of_corner: with_mirrored_corners(&half.of_corner, order, shift),
    }
}
