//! The smoothed form that pictures show: triangles of the limit surface with exact normals.

use crate::limit::{LimitSurface, Place};
use crate::mesh::{Topology, Vec3};
use crate::subdivision::{
    Numbering, RefinedFaces, RefinedMesh, Samples, Surface, refine, refined_size, spread,
};

/// Most quads that the form has, unless the cage itself has more: a cage's edge is then eight
/// segments at least in a cage of up to some 1,500 faces, which no silhouette of a close-up shows.
const QUADS_MAX: u64 = 100_000;

/// Most levels: a quarter of a circle is then 16 segments, which differ from it by a third of a
/// pixel at most where it fills a panel.
const LEVELS_MAX: usize = 4;

/// Triangles of the limit surface, in the coordinates of the surface's own frame
/// ([`Frame`](crate::subdivision::Frame)).
#[derive(Debug, Clone, Default)]
pub struct Form {
    /// Positions of the vertices.
    pub positions: Vec<Vec3>,
    /// Unit normals, one per vertex. Along a crease a vertex stands once for each side.
    pub normals: Vec<Vec3>,
    /// Risk, one per vertex, from 0 to 1.
    pub risks: Vec<f32>,
    /// Vertices of each triangle, wound so that its normals point out of its front.
    pub triangles: Vec<[u32; 3]>,
}

/// The level that a cage's form is refined to.
pub fn form_level(topology: &Topology) -> usize {
    let fits = |level: &usize| refined_size(topology, *level).is_some_and(|s| s.1 <= QUADS_MAX);
    (1..=LEVELS_MAX).rev().find(fits).unwrap_or(0)
}

impl Form {
    /// The form of a surface refined `level` times. `risks` has one entry per cage vertex; it is
    /// spread linearly ([`spread()`]).
    pub fn new(surface: &Surface, level: usize, risks: &[f64]) -> Self {
        let control = surface.control();
        let mesh = refine(surface, level, Samples::Limit);
        let own: Vec<[f32; 1]> = risks.iter().map(|&r| [r as f32]).collect();
        let spread = spread(control.topology(), level, &own);
        let frame = control.frame();
        let normals = mesh.normals.as_deref().unwrap_or_default();
        let mut form = Self {
            positions: mesh
                .positions
                .iter()
                .map(|&p| frame.inward(p.into()))
                .collect(),
            normals: normals.iter().map(|&n| n.into()).collect(),
            risks: spread.iter().map(|r| r[0]).collect(),
            triangles: Vec::new(),
        };
        match &mesh.faces {
            RefinedFaces::Cage => form.add_cage_faces(control.topology()),
            RefinedFaces::Quads(quads) => form.add_quads(surface, &mesh, quads),
        }
        form
    }

    fn add_cage_faces(&mut self, topology: &Topology) {
        for f in 0..topology.face_count() {
            let corners: Vec<u32> = topology
                .face_corners(f)
                .map(|c| topology.vertex(c) as u32)
                .collect();
            self.add_polygon(&corners, &[]);
        }
    }

    fn add_quads(&mut self, surface: &Surface, mesh: &RefinedMesh, quads: &[[u32; 4]]) {
        let topology = surface.control().topology();
        let numbering = Numbering::new(topology, mesh.level);
        let sided = sided_normals(surface, &numbering, &self.normals, quads);
        self.triangles.reserve(2 * quads.len());
        let mut sided = sided.into_iter().peekable();
        for (q, quad) in quads.iter().enumerate() {
            let mut own = Vec::new();
            while let Some((_, corner, normal)) = sided.next_if(|s| s.0 == q) {
                own.push((corner, normal));
            }
            self.add_polygon(quad, &own);
        }
    }

    /// Adds a polygon. `own` are normals of single corners of it; where a corner has none at all it
    /// gets the polygon's.
    fn add_polygon(&mut self, polygon: &[u32], own: &[(usize, Vec3)]) {
        let at = |i: usize| self.positions[polygon[i] as usize];
        let n = polygon.len();
        if !(0..n).all(|i| at(i).iter().all(|x| x.is_finite())) {
            return;
        }
        let middle = (0..n).fold(Vec3::zeros(), |sum, i| sum + at(i)) / n as f64;
        let spoke = |i: usize| at(i % n) - middle;
        let area = (0..n).fold(Vec3::zeros(), |sum, i| sum + spoke(i).cross(&spoke(i + 1)));
        let mut corners = polygon.to_vec();
        // The file may wind the face against its shell, to which normals belong.
        let known = polygon.iter().map(|&v| self.normals[v as usize]);
        let known = known.chain(own.iter().map(|o| o.1));
        let mean = known.fold(Vec3::zeros(), |sum, n| sum + n);
        let reversed = mean.dot(&area) < 0.0;
        let flat = area.try_normalize(0.0).unwrap_or_default();
        let flat = if reversed { -flat } else { flat };
        for (i, corner) in corners.iter_mut().enumerate() {
            let v = *corner as usize;
            if self.normals[v] == Vec3::zeros() {
                let exact = own.iter().find(|o| o.0 == i).map(|o| o.1);
                *corner = self.positions.len() as u32;
                self.positions.push(self.positions[v]);
                self.normals.push(exact.unwrap_or(flat));
                self.risks.push(self.risks[v]);
            }
        }
        if reversed {
            corners.reverse();
        }
        let fan = corners.windows(2).skip(1);
        self.triangles
            .extend(fan.map(|pair| [corners[0], pair[0], pair[1]]));
    }
}

/// Normals of the corners of refined quads whose vertex has no single one, as the limit surface of
/// their own face has them there: quad, corner of it, normal; in that order.
fn sided_normals(
    surface: &Surface,
    numbering: &Numbering,
    normals: &[Vec3],
    quads: &[[u32; 4]],
) -> Vec<(usize, usize, Vec3)> {
    let topology = surface.control().topology();
    let mut corners = Vec::new();
    let mut places = Vec::new();
    for f in 0..topology.face_count() {
        for (child, q) in numbering.children(f).enumerate() {
            for (k, &v) in quads[q].iter().enumerate() {
                if normals[v as usize] == Vec3::zeros() {
                    corners.push((q, k));
                    places.push(place_of(topology, numbering, f, child, k));
                }
            }
        }
    }
    let Ok(points) = LimitSurface::new(surface).evaluate_all(&places) else {
        return Vec::new();
    };
    let known = corners.into_iter().zip(points);
    known
        .filter_map(|((q, k), point)| Some((q, k, point.normal?)))
        .filter(|(_, _, normal)| normal.iter().all(|x| x.is_finite()))
        .collect()
}

/// The place of corner `k` of refined quad number `child` of face `f`.
fn place_of(topology: &Topology, numbering: &Numbering, f: usize, child: usize, k: usize) -> Place {
    let sides = topology.face_size(f);
    let flipped = topology.is_flipped(f);
    let is_quad = sides == 4;
    let segments = numbering.side() >> usize::from(!is_quad);
    let (corner, child) = (child / (segments * segments), child % (segments * segments));
    // Quads are handed out as the file winds them: the second and last corner change places.
    let k = if flipped { (4 - k) % 4 } else { k };
    let column = child % segments + usize::from(k == 1 || k == 2);
    let row = child / segments + usize::from(k >= 2);
    let [along, across] = [column, row].map(|step| step as f64 / segments as f64);
    let (u, v) = if flipped {
        (across, along)
    } else {
        (along, across)
    };
    let corner = if flipped {
        (sides - corner) % sides
    } else {
        corner
    };
    Place {
        face: f,
        corner: (!is_quad).then_some(corner),
        u,
        v,
    }
}
