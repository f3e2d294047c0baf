//! The main job: from a cage to its assessment.

use std::borrow::Cow;
use std::path::Path;

use crate::io::{ReadError, read_cage};
use crate::limit::Fillets;
use crate::measure::MeasureContext;
use crate::measure::centre_line::CENTRE_LINE_CREASE;
use crate::mesh::{
    Cage, EdgeKind, MirrorError, MirrorMap, MirrorPlane, Mirrored, Oddities, Topology, Vec3,
};
use crate::risk::Findings;
use crate::subdivision::{BoundaryRule, ControlMesh, Creases, Surface, mirrored_creases};

pub use crate::measure::body::{BodyFigures, BorderLoop};

/// Faces that a refined mesh may have unless the user allows more: about 1.5 GB of arrays.
pub const DEFAULT_FACE_BUDGET: u64 = 16_000_000;

/// How a cage is to be assessed.
#[derive(Debug, Clone, PartialEq)]
pub struct AssessOptions {
    /// Edges and vertices that stay sharp, by number in the cage's topology.
    pub creases: Creases,
    /// How borders behave.
    pub boundary: BoundaryRule,
}

impl Default for AssessOptions {
    fn default() -> Self {
        Self {
            creases: Creases::default(),
            boundary: BoundaryRule::EdgeAndCorner,
        }
    }
}

/// All that was found out about a cage.
#[derive(Debug)]
pub struct Assessment {
    /// The cage's subdivision surface.
    pub surface: Surface,
    /// Mesh oddities.
    pub oddities: Oddities,
    /// Figures of the whole.
    pub body: BodyFigures,
    /// Fillets of the bent edges.
    pub fillets: Fillets,
    /// Limit position of each vertex, in file units; `None` for unreferenced vertices.
    pub limit_positions: Vec<Option<Vec3>>,
    /// Unit limit normal of each vertex, where there is exactly one.
    pub limit_normals: Vec<Option<Vec3>>,
    /// Measures, risks and places.
    pub findings: Findings,
    /// What mirroring did, if the cage is a half that was mirrored: `surface` is then that of the
    /// whole, and all else is of the half but for the body's extents and volumes.
    pub mirror: Option<MirrorReport>,
}

/// What mirroring a half did. Vertices are counted from 0.
#[derive(Debug, Clone, PartialEq)]
pub struct MirrorReport {
    /// The plane.
    pub plane: MirrorPlane,
    /// Number of vertices welded across it.
    pub welded: usize,
    /// Vertices of the centre line that are off the plane, each with its distance in file units.
    pub off_plane: Vec<(usize, f64)>,
    /// The vertex of the centre line with the largest crease in the limit surface, and that crease
    /// in degrees; `None` if the surface has no normal anywhere along the line.
    pub largest_crease: Option<(usize, f64)>,
    /// Number of edges of the half.
    pub half_edges: usize,
    /// Which part of the whole is the half, and what mirrors what.
    pub map: MirrorMap,
}

impl Assessment {
    /// The highest risk of any vertex; 0 for a cage without vertices.
    pub fn highest_risk(&self) -> f64 {
        self.findings
            .risks
            .total
            .iter()
            .copied()
            .fold(0.0, f64::max)
    }

    /// The risk of every vertex of [`Assessment::surface`]: of a mirrored half both its own and those
    /// of its image.
    pub fn risks_of_surface(&self) -> Cow<'_, [f64]> {
        let risks = &self.findings.risks.total;
        match &self.mirror {
            None => Cow::Borrowed(risks),
            Some(mirror) => Cow::Owned(mirror.map.spread(risks)),
        }
    }
}

/// Assesses a cage. `topology` must be that of `cage.mesh`.
pub fn assess(cage: &Cage, topology: Topology, options: &AssessOptions) -> Assessment {
    let control = ControlMesh::new(&cage.mesh, topology, &options.creases, options.boundary);
    let surface = Surface::new(control);
    let (findings, fillets, body, limit_positions, limit_normals) = {
        let context = MeasureContext::new(&surface);
        let count = context.topology().vertex_count();
        let (positions, normals) = limit_points(&context, count);
        let body = BodyFigures::new(&context);
        let findings = Findings::new(&context);
        (findings, context.fillets, body, positions, normals)
    };
    let control = surface.control();
    let oddities = Oddities::count(&cage.mesh, control.topology(), control.positions());
    Assessment {
        oddities,
        body,
        fillets,
        limit_positions,
        limit_normals,
        findings,
        surface,
        mirror: None,
    }
}

/// Assesses a half as part of the whole that it was mirrored to. `topology` must be that of
/// `mirrored.whole.mesh`, whose edges the creases in `options` name.
pub fn assess_half(
    half: &Cage,
    mirrored: &Mirrored,
    topology: Topology,
    options: &AssessOptions,
) -> Assessment {
    let Mirrored { whole, map, .. } = mirrored;
    let control = ControlMesh::new(&whole.mesh, topology, &options.creases, options.boundary);
    let surface = Surface::new(control);
    let (findings, fillets, body, limit_positions, limit_normals) = {
        let context = MeasureContext::mirrored(&surface, map);
        let (positions, normals) = limit_points(&context, map.half_vertices);
        let body = BodyFigures::of_half(&context, &mirrored.half_topology, map);
        let findings = Findings::of_half(&context, map);
        let whole = context.topology();
        let of_half = |e: usize| whole.face_of(whole.edge_corner(e)) < map.half_faces;
        let fillets = context.fillets.of_part(of_half);
        (findings, fillets, body, positions, normals)
    };
    Assessment {
        oddities: half_oddities(half, mirrored, &surface),
        body,
        fillets,
        limit_positions,
        limit_normals,
        mirror: Some(MirrorReport::new(mirrored, &findings)),
        findings,
        surface,
    }
}

/// Limit position and normal of the first `count` vertices.
fn limit_points(context: &MeasureContext, count: usize) -> (Vec<Option<Vec3>>, Vec<Option<Vec3>>) {
    let frame = context.surface.control().frame();
    let used = |v: &usize| !context.topology().is_unreferenced(*v);
    let positions = (0..count)
        .map(|v| Some(v).filter(used))
        .map(|v| v.map(|v| frame.outward(context.limit.vertices[v].position)))
        .collect();
    let normals = (0..count)
        .map(|v| Some(context.limit.vertices[v]).filter(|s| s.has_normal()))
        .map(|s| s.map(|s| s.normal))
        .collect();
    (positions, normals)
}

/// The oddities of a half as part of its whole: non-manifold is what is so in the whole, and a
/// vertex that lies on its image without being welded to it is unwelded.
fn half_oddities(half: &Cage, mirrored: &Mirrored, surface: &Surface) -> Oddities {
    let Mirrored {
        map, half_topology, ..
    } = mirrored;
    let whole = surface.control().topology();
    let of_half = |e: &usize| whole.face_of(whole.edge_corner(*e)) < map.half_faces;
    let non_manifold = |e: &usize| whole.edge_kind(*e) == EdgeKind::NonManifold;
    let edges = (0..whole.edge_count()).filter(of_half);
    let axis = map.plane.axis as usize;
    let on_its_image = |v: &usize| {
        let in_plane = half.mesh.positions()[*v][axis] == map.plane.offset;
        in_plane && !map.is_welded(*v) && !half_topology.is_unreferenced(*v)
    };
    let own = Oddities::count(&half.mesh, half_topology, surface.control().positions());
    Oddities {
        non_manifold_edges: edges.filter(non_manifold).count(),
        non_manifold_vertices: (0..map.half_vertices)
            .filter(|&v| !whole.is_manifold(v))
            .count(),
        unwelded_vertices: own.unwelded_vertices
            + (0..map.half_vertices).filter(on_its_image).count(),
        ..own
    }
}

impl MirrorReport {
    fn new(mirrored: &Mirrored, findings: &Findings) -> Self {
        let map: &MirrorMap = &mirrored.map;
        let creases = findings.measures.iter();
        let creases = creases.filter(|m| m.about.name == CENTRE_LINE_CREASE.name);
        let creases = creases.flat_map(|m| m.values.iter().copied().enumerate());
        let larger = |a: (usize, f64), b: (usize, f64)| if b.1 > a.1 { b } else { a };
        Self {
            plane: map.plane,
            welded: map.welded_count(),
            off_plane: map.off_plane().collect(),
            largest_crease: creases.filter(|(_, x)| x.is_finite()).reduce(larger),
            half_edges: mirrored.half_topology.edge_count(),
            map: map.clone(),
        }
    }
}

impl Cage {
    /// Reads a cage from an OBJ file; see [`read_cage`].
    ///
    /// # Errors
    /// As [`read_cage`].
    pub fn read(path: &Path) -> Result<Self, ReadError> {
        read_cage(path)
    }

    /// Assesses the cage. Crease edges in `options` are numbered as in [`Topology::new`] of its
    /// mesh.
    pub fn assess(&self, options: &AssessOptions) -> Assessment {
        assess(self, Topology::new(&self.mesh), options)
    }

    /// Mirrors the cage, a half, and assesses it as part of the whole. Crease edges in `options`
    /// are numbered as in [`Topology::new`] of its own mesh; they count for their mirror images too.
    ///
    /// # Errors
    /// As [`Mirrored::new`].
    pub fn assess_mirrored(
        &self,
        plane: MirrorPlane,
        options: &AssessOptions,
    ) -> Result<Assessment, MirrorError> {
        let mirrored = Mirrored::new(self, Topology::new(&self.mesh), plane)?;
        let topology = Topology::new(&mirrored.whole.mesh);
        let options = AssessOptions {
            creases: mirrored_creases(&options.creases, &mirrored, &topology),
            boundary: options.boundary,
        };
        Ok(assess_half(self, &mirrored, topology, &options))
    }
}
