//! What a case is: a faultless cage with the form it intends, and the same cage with faults in it.

use std::sync::Arc;

use cagewise::mesh::{PolygonMesh, Topology, Vec3};
use cagewise::risk::Cause;
use cagewise::subdivision::Creases;
use nalgebra::Matrix3;

/// The nearest point of a form to a given one, and the form's unit outward normal there.
pub type Nearest = Arc<dyn Fn(&Vec3) -> (Vec3, Vec3) + Send + Sync>;

/// The form that a cage intends.
#[derive(Clone)]
pub enum Intended {
    /// The limit surface of a cage: the faultless cage itself, or a finer one of the same form.
    LimitOf(Arc<Meshed>),
    /// A formula.
    Form(Nearest),
    /// The image, under a linear map, of a body that turns about the z axis, whatever its outline: what
    /// leans to the side is none of it.
    Turned(Matrix3<f64>),
}

/// A cage and what is sharp in it, by the numbers of its vertices, so that faces can be changed.
#[derive(Clone)]
pub struct Meshed {
    pub mesh: PolygonMesh,
    /// Crease edges by their two vertices, with sharpness.
    pub crease_edges: Vec<([u32; 2], f64)>,
    /// Crease vertices with sharpness.
    pub crease_vertices: Vec<(u32, f64)>,
}

impl Meshed {
    /// A cage with nothing sharp.
    pub fn smooth(mesh: PolygonMesh) -> Self {
        Self {
            mesh,
            crease_edges: Vec::new(),
            crease_vertices: Vec::new(),
        }
    }

    /// The creases by the numbers of `topology`, which must be that of the mesh; creases of edges
    /// that are gone are left out.
    pub fn creases(&self, topology: &Topology) -> Creases {
        let edge = |&([a, b], sharpness): &([u32; 2], f64)| {
            let e = topology.edge_between(a as usize, b as usize)?;
            Some((e as u32, sharpness))
        };
        Creases {
            edges: self.crease_edges.iter().filter_map(edge).collect(),
            vertices: self.crease_vertices.clone(),
        }
    }
}

/// A faultless cage and the form that it intends.
#[derive(Clone)]
pub struct Clean {
    /// Its own name, for messages.
    pub name: String,
    /// The family of shapes it belongs to ("torus", "kit of turned parts"), by which what is fitted
    /// on and what is held out are told apart.
    pub family: &'static str,
    pub cage: Meshed,
    pub intended: Intended,
    /// Whether it is there for its harmless oddities: poles, triangles or uneven strips on flat
    /// ground, deliberate tight loops.
    pub is_control: bool,
}

/// A kind of fault.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum FaultKind {
    /// A vertex pushed off the form.
    PushedVertex,
    /// A vertex slid along the form.
    SlidVertex,
    /// A strip whose width is out of step with its neighbours'.
    UnevenStrip,
    /// A loop squeezed against another on curved ground.
    SqueezedLoop,
    /// Quads of curved ground split into triangles, or a triangle put in.
    Triangle,
    /// A face of more than four sides on curved ground.
    Ngon,
    /// A hole of curved ground closed by one face or by a fan.
    CappedHole,
    /// A pole of high valence on curved ground.
    HighPole,
    /// A pole of 3 or 5 edges in a tight place.
    TightPole,
    /// A warped quad.
    WarpedQuad,
    /// A support loop that is missing along a part of its edge.
    MissingSupport,
    /// A loop that ends where none may end.
    BadLoopEnd,
    /// A seam whose vertices are not welded.
    Seam,
    /// A face wound against its neighbours.
    FlippedFace,
    /// A face folded over.
    FoldedFace,
    /// Vertices of the centre line off its plane.
    CentreLineOff,
    /// An end of a round body closed by one face or by a fan, without a loop that holds its rim.
    BareCap,
}

impl FaultKind {
    /// All kinds.
    pub const ALL: [Self; 17] = {
        let mut all = [Self::BareCap; 17];
        let mut i = 0;
        while i < Self::PUT.len() {
            all[i] = Self::PUT[i];
            i += 1;
        }
        all
    };

    /// The kinds that can be put into a cage of any make.
    pub const PUT: [Self; 16] = [
        Self::PushedVertex,
        Self::SlidVertex,
        Self::UnevenStrip,
        Self::SqueezedLoop,
        Self::Triangle,
        Self::Ngon,
        Self::CappedHole,
        Self::HighPole,
        Self::TightPole,
        Self::WarpedQuad,
        Self::MissingSupport,
        Self::BadLoopEnd,
        Self::Seam,
        Self::FlippedFace,
        Self::FoldedFace,
        Self::CentreLineOff,
    ];

    /// Its name in tables.
    pub fn name(self) -> &'static str {
        match self {
            Self::PushedVertex => "vertex pushed off",
            Self::SlidVertex => "vertex slid",
            Self::UnevenStrip => "uneven strip",
            Self::SqueezedLoop => "squeezed loop",
            Self::Triangle => "triangle",
            Self::Ngon => "n-gon",
            Self::CappedHole => "capped hole",
            Self::HighPole => "high pole",
            Self::TightPole => "tight pole",
            Self::WarpedQuad => "warped quad",
            Self::MissingSupport => "missing support",
            Self::BadLoopEnd => "bad loop end",
            Self::Seam => "seam",
            Self::FlippedFace => "flipped face",
            Self::FoldedFace => "folded face",
            Self::CentreLineOff => "centre line off",
            Self::BareCap => "bare cap",
        }
    }

    /// The cause that this kind of fault is put in for.
    pub fn cause(self) -> Cause {
        self.causes()[0]
    }

    /// The causes that name this kind of fault rightly, the one it is put in for first. A loop moved
    /// towards the next one leaves a narrow strip beside a wide one and crowds the two: both say what
    /// is wrong. A loop that ends on curved ground leaves a face of other than four sides there, and
    /// so does a hole that is closed by one.
    pub fn causes(self) -> &'static [Cause] {
        match self {
            Self::PushedVertex => &[Cause::Bump],
            Self::SlidVertex | Self::UnevenStrip => &[Cause::Spacing, Cause::Pinching],
            Self::SqueezedLoop => &[Cause::Pinching, Cause::Spacing],
            Self::Triangle | Self::Ngon => &[Cause::Facet],
            Self::CappedHole | Self::BareCap => &[Cause::Facet, Cause::Pole],
            Self::HighPole | Self::TightPole => &[Cause::Pole],
            Self::WarpedQuad => &[Cause::Warp],
            Self::MissingSupport => &[Cause::Support],
            Self::BadLoopEnd => &[Cause::Support, Cause::Facet],
            Self::Seam | Self::CentreLineOff => &[Cause::Border],
            Self::FlippedFace | Self::FoldedFace => &[Cause::Fold],
        }
    }
}

/// On which sides of a form that is its own mirror image a fault is put in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sides {
    /// At one place, wherever it lies.
    One,
    /// At a place and at its mirror image.
    Both,
    /// At the first of the two places that [`Sides::Both`] would choose.
    FirstOfBoth,
}

/// A fault that was put in.
#[derive(Debug, Clone)]
pub struct Fault {
    pub kind: FaultKind,
    /// The vertices of the faulty cage that were changed or that the changed faces have.
    pub sites: Vec<u32>,
    /// On which sides of the form's mirror plane it was put in.
    pub sides: Sides,
    /// Its size, in the unit of its kind (edge lengths, or as the kind says).
    pub size: f64,
}

/// A cage with faults in it. Without any it is the clean one.
#[derive(Clone)]
pub struct Case {
    pub clean: Arc<Clean>,
    pub cage: Meshed,
    pub faults: Vec<Fault>,
}

/// What is true of a vertex.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Truth {
    /// Nobody would see anything: the limit normals near it are within 2 degrees of the form's.
    Sound,
    /// Between the two, or of a kind that people would argue about: not scored.
    Unclear,
    /// A fault, and the number of the fault in the case that made it.
    Faulty(usize),
}
