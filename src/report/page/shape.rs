//! The forms that the page shows: the cage, its levels and its limit surface.

use rayon::prelude::*;
use serde::Serialize;

use super::grid::FaceGrid;
use super::pack::Packed;
use crate::limit::{LimitSurface, Place};
use crate::mesh::{EdgeKind, SmoothingGroups, Topology, Vec3};
use crate::subdivision::{
    ControlMesh, Frame, LargeArray, Numbering, RefinedMesh, Samples, Surface, refine, refined_size,
};

/// Faces that a level on the page may have: beyond it neither the file nor the view stays light.
const LEVEL_FACES_MAX: u64 = 400_000;

/// Faces up to which the limit surface is sampled more densely than the levels are, so that in a
/// small cage, too, stripes have no corners where the view comes close; a file has about five bytes
/// for each.
const DENSE_FACES_MAX: u64 = 210_000;

/// Highest level that the limit surface is sampled at.
const DENSE_LEVEL_MAX: usize = 4;

/// Edges of the kinds that are marked, as bits.
const BORDER: u8 = 1;
const NON_MANIFOLD: u8 = 2;
const SHADING_BREAK: u8 = 4;

/// Vertices of the kinds that are marked, as bits.
const POLE: u8 = 1;
const AT_BORDER: u8 = 2;
const UNREFERENCED: u8 = 4;

/// What the page's header says of the forms.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Shape {
    /// Centre of the cage's bounding box, in file units; positions are counted from it.
    centre: [f64; 3],
    /// File units per unit of the positions.
    scale: f64,
    /// Levels from 1 that are held.
    levels: Vec<Level>,
    /// The limit surface.
    limit: Level,
}

/// A form whose positions are rounded to 16 bits over a box.
#[derive(Debug, Clone, PartialEq, Serialize)]
struct Level {
    /// Times that its vertices are refined; 0 has the cage's vertices and faces.
    level: usize,
    /// Corner of the box with the lowest coordinates.
    low: [f64; 3],
    /// Its extent.
    extent: [f64; 3],
}

impl Shape {
    /// Packs the cage, its levels up to `level` (fewer for a large cage) and its limit surface.
    pub fn pack(
        packed: &mut Packed,
        surface: &Surface,
        smoothing: &SmoothingGroups,
        level: usize,
    ) -> Self {
        let control = surface.control();
        let topology = control.topology();
        pack_cage(packed, control, smoothing);
        let shown = level_within(topology, level, LEVEL_FACES_MAX);
        let frame = control.frame();
        let levels = (1..=shown).map(|level| {
            let mesh = refine(surface, level, Samples::Refined);
            pack_positions(packed, &format!("level {level}"), &mesh, topology, &frame)
        });
        let levels = levels.collect();
        let dense = level_within(topology, DENSE_LEVEL_MAX, DENSE_FACES_MAX).max(shown);
        let mesh = refine(surface, dense, Samples::Limit);
        let limit = pack_positions(packed, "limit", &mesh, topology, &frame);
        if let Some(normals) = &mesh.normals {
            let normals: Vec<[u16; 2]> = normals.par_iter().map(|n| folded(*n)).collect();
            packed.u16("limit normals", &normals);
        }
        pack_splits(packed, surface, &mesh);
        Self {
            centre: frame.centre.into(),
            scale: frame.scale,
            levels,
            limit,
        }
    }
}

/// The highest level up to `wanted` with at most that many faces.
fn level_within(topology: &Topology, wanted: usize, faces_max: u64) -> usize {
    let fits = |level: &usize| refined_size(topology, *level).is_some_and(|s| s.1 <= faces_max);
    (1..=wanted).rev().find(fits).unwrap_or(0)
}

fn pack_cage(packed: &mut Packed, control: &ControlMesh, smoothing: &SmoothingGroups) {
    let topology = control.topology();
    let positions: Vec<f32> = control
        .positions()
        .iter()
        .flat_map(|p| [p.x as f32, p.y as f32, p.z as f32])
        .collect();
    packed.f32("positions", 3, &positions);
    let sizes: Vec<u32> = (0..topology.face_count())
        .map(|f| topology.face_size(f) as u32)
        .collect();
    packed.u32("face sizes", 1, &sizes);
    packed.u32("corner vertices", 1, topology.corner_vertices());
    let edges: Vec<u32> = (0..topology.corner_count())
        .map(|c| topology.edge(c) as u32)
        .collect();
    packed.u32("corner edges", 1, &edges);
    let ends: Vec<u32> = (0..topology.edge_count())
        .flat_map(|e| topology.edge_vertices(e).map(|v| v as u32))
        .collect();
    packed.u32("edges", 2, &ends);
    let kinds: Vec<u8> = (0..topology.edge_count())
        .map(|e| edge_kind(topology, smoothing, e))
        .collect();
    packed.bytes("edge kinds", &kinds);
    packed.f20("edge sharpness", stated_sharpness(control));
    packed.f20(
        "vertex sharpness",
        control.vertex_sharpness().iter().map(|s| level_of(*s)),
    );
    let kinds: Vec<u8> = (0..topology.vertex_count())
        .map(|v| vertex_kind(topology, v))
        .collect();
    packed.bytes("vertex kinds", &kinds);
}

/// Sharpness as a figure: without end is the largest that is stated, 10.
fn level_of(sharpness: f64) -> f64 {
    sharpness.min(crate::io::INFINITE_SHARPNESS)
}

/// Sharpness of the creases; 0 at borders, which are sharp without being stated.
fn stated_sharpness(control: &ControlMesh) -> impl Iterator<Item = f64> + '_ {
    let topology = control.topology();
    let sharpness = control.edge_sharpness().iter().enumerate();
    sharpness.map(|(e, s)| match topology.edge_kind(e) {
        EdgeKind::Interior => level_of(*s),
        EdgeKind::Border | EdgeKind::NonManifold => 0.0,
    })
}

fn edge_kind(topology: &Topology, smoothing: &SmoothingGroups, e: usize) -> u8 {
    let first = topology.edge_corner(e);
    match topology.edge_kind(e) {
        EdgeKind::Border => BORDER,
        EdgeKind::NonManifold => NON_MANIFOLD,
        EdgeKind::Interior => {
            // The faces of a half stand before their mirror images, in the same order.
            let count = smoothing.of_face.len().max(1);
            let group = |c: usize| smoothing.of_face.get(topology.face_of(c) % count).copied();
            let own = group(first);
            let other = topology.twin(first).and_then(group);
            // Group 0 is 'off': its faces are flat, each by itself.
            let breaks = smoothing.stated && (own != other || own == Some(0));
            if breaks { SHADING_BREAK } else { 0 }
        }
    }
}

fn vertex_kind(topology: &Topology, v: usize) -> u8 {
    if topology.is_unreferenced(v) {
        UNREFERENCED
    } else if !topology.is_interior(v) {
        AT_BORDER
    } else if topology.valence(v) != 4 {
        POLE
    } else {
        0
    }
}

/// Packs positions in 16 bits over the box of those that faces use.
fn pack_positions(
    packed: &mut Packed,
    name: &str,
    mesh: &RefinedMesh,
    topology: &Topology,
    frame: &Frame,
) -> Level {
    let inward = |p: &[f64; 3]| frame.inward(Vec3::from(*p));
    let used = |v: usize| v >= topology.vertex_count() || !topology.is_unreferenced(v);
    let nothing = || (Vec3::repeat(f64::MAX), Vec3::repeat(f64::MIN));
    let (low, high) = mesh
        .positions
        .par_iter()
        .enumerate()
        .filter(|(v, _)| used(*v))
        .fold(nothing, |(low, high), (_, p)| {
            let p = inward(p);
            (low.inf(&p), high.sup(&p))
        })
        .reduce(nothing, |a, b| (a.0.inf(&b.0), a.1.sup(&b.1)));
    let extent = (high - low).map(|x| x.max(0.0));
    let steps = extent.map(|x| {
        if x > 0.0 {
            f64::from(u16::MAX) / x
        } else {
            0.0
        }
    });
    let rounded: Vec<[u16; 3]> = mesh
        .positions
        .par_iter()
        .with_min_len(4096)
        .map(|p| {
            let offset = (inward(p) - low).component_mul(&steps);
            // Out of range (a vertex that no face uses) saturates.
            [0, 1, 2].map(|k| offset[k].round() as u16)
        })
        .collect();
    packed.u16(name, &rounded);
    Level {
        level: mesh.level,
        low: low.into(),
        extent: extent.into(),
    }
}

/// A unit vector on the octahedron |x| + |y| + |z| = 1, its lower half folded outward over the
/// upper one's square, in 16 bits a coordinate (Cigolle et al., A survey of efficient
/// representations for independent unit vectors, 2014). The zero vector is (0, 0), which no other
/// vector gives.
fn folded(n: [f64; 3]) -> [u16; 2] {
    let sum = n[0].abs() + n[1].abs() + n[2].abs();
    if sum == 0.0 || !sum.is_finite() {
        return [0, 0];
    }
    let [x, y] = [n[0] / sum, n[1] / sum];
    let sign = |v: f64| if v < 0.0 { -1.0 } else { 1.0 };
    let (x, y) = if n[2] < 0.0 {
        ((1.0 - y.abs()) * sign(x), (1.0 - x.abs()) * sign(y))
    } else {
        (x, y)
    };
    [x, y].map(|v| (1.0 + ((v + 1.0) / 2.0 * 65534.0).round()) as u16)
}

/// Normals of quad corners whose vertex has several: on creases, each side has its own. Packed as
/// the quad corners' numbers, rising, and their normals.
fn pack_splits(packed: &mut Packed, surface: &Surface, mesh: &RefinedMesh) {
    let (corners, places) = match &mesh.normals {
        Some(normals) if mesh.level > 0 => split_places(surface, mesh.level, normals),
        _ => (Vec::new(), Vec::new()),
    };
    // The places are made from the topology, so that all of them exist.
    let points = LimitSurface::new(surface)
        .evaluate_all(&places)
        .unwrap_or_default();
    let known = corners.iter().zip(&points);
    let (corners, normals): (Vec<u32>, Vec<[u16; 2]>) = known
        .filter_map(|(&corner, point)| Some((corner, folded(point.normal?.into()))))
        .unzip();
    packed.u32("split corners", 1, &corners);
    packed.u16("split normals", &normals);
}

/// The quad corners at vertices without a single normal, and where in their faces they lie.
fn split_places(
    surface: &Surface,
    level: usize,
    normals: &LargeArray<[f64; 3]>,
) -> (Vec<u32>, Vec<Place>) {
    let topology = surface.control().topology();
    let numbering = Numbering::new(topology, level);
    let missing = |v: usize| normals[v] == [0.0; 3];
    if !(0..normals.len()).into_par_iter().any(missing) {
        return (Vec::new(), Vec::new());
    }
    let in_face = |face: usize| {
        let grid = FaceGrid::new(topology, &numbering, face);
        let (sides, side) = (topology.face_size(face), grid.side() as f64);
        let flipped = topology.is_flipped(face);
        let first = 4 * numbering.children(face).start;
        let missing_at = grid.quad_corners().enumerate();
        missing_at
            .filter(|(_, place)| missing(grid.vertex(*place)))
            .map(|(k, place)| {
                let (u, v) = (place.i as f64 / side, place.j as f64 / side);
                let corner = if flipped {
                    (sides - place.corner) % sides
                } else {
                    place.corner
                };
                let place = Place {
                    face,
                    corner: (sides != 4).then_some(corner),
                    u: if flipped { v } else { u },
                    v: if flipped { u } else { v },
                };
                ((first + k) as u32, place)
            })
            .collect::<Vec<_>>()
    };
    let found: Vec<Vec<(u32, Place)>> = (0..topology.face_count())
        .into_par_iter()
        .map(in_face)
        .collect();
    found.into_iter().flatten().unzip()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn unfolded([x, y]: [u16; 2]) -> Vec3 {
        let [x, y] = [x, y].map(|v| (f64::from(v) - 1.0) / 32767.0 - 1.0);
        let z = 1.0 - x.abs() - y.abs();
        let t = (-z).max(0.0);
        Vec3::new(x - t * x.signum(), y - t * y.signum(), z).normalize()
    }

    #[test]
    fn folded_normals_are_right_to_a_hundredth_of_a_degree() {
        for k in 0..2000 {
            let (a, b) = (f64::from(k) * 0.618, f64::from(k) * 0.0031);
            let n = Vec3::new(a.cos() * b.sin(), a.sin() * b.sin(), b.cos());
            let found = unfolded(folded(n.into()));
            assert!(found.angle(&n).to_degrees() < 0.01, "{n:?} {found:?}");
        }
        assert_eq!(folded([0.0; 3]), [0, 0]);
        assert_ne!(folded([-1.0, 0.0, 0.0]), [0, 0]);
    }
}
