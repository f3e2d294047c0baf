//! From measures to risk: how likely a practitioner sees a fault there, and why.

mod block_forest;
mod blocks;
pub mod evidence;
pub mod fitted;
mod gathering;
mod half;
mod kept_forest;
pub mod model;
mod pieces;
mod places;
pub mod trees;

pub use places::places;

use evidence::Evidence;

use crate::measure::{MeasureContext, Measured, Measures};
use crate::mesh::Vec3;

/// What lies behind a risk.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Cause {
    /// A pole on curved ground.
    Pole,
    /// Crowded loops.
    Pinching,
    /// Strips of uneven width.
    Spacing,
    /// Non-planar or badly shaped quads.
    Warp,
    /// Triangles or n-gons on curved ground.
    Facet,
    /// A border or seam that opens or creases.
    Border,
    /// A folded or reversed face.
    Fold,
    /// A support loop that is missing along a part of its edge, or a loop that ends badly.
    Support,
    /// The form shrinks away from the cage.
    Shrinkage,
    /// The surface leaves the form that its surroundings go on with, for none of the other causes.
    Bump,
}

impl Cause {
    /// All causes, in the order of their columns.
    pub const ALL: [Self; 10] = [
        Self::Pole,
        Self::Pinching,
        Self::Spacing,
        Self::Warp,
        Self::Facet,
        Self::Border,
        Self::Fold,
        Self::Support,
        Self::Shrinkage,
        Self::Bump,
    ];

    /// The cause's name in files and on the terminal.
    pub fn name(self) -> &'static str {
        match self {
            Self::Pole => "pole",
            Self::Pinching => "pinching",
            Self::Spacing => "spacing",
            Self::Warp => "warp",
            Self::Facet => "facet",
            Self::Border => "border",
            Self::Fold => "fold",
            Self::Support => "support",
            Self::Shrinkage => "shrinkage",
            Self::Bump => "bump",
        }
    }
}

/// How a risk reads.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Band {
    /// Under 0.25: nobody would see anything.
    Clean,
    /// From 0.25 to under 0.5: worth a look.
    Watch,
    /// From 0.5 to under 0.75: a practitioner would see a fault.
    Fault,
    /// 0.75 and more: plain to everybody.
    Severe,
}

/// A risk to two places, rounded down: so that none reads as of the band above its own.
pub fn shown_risk(risk: f64) -> String {
    /// What a risk given in hundredths may have lost by rounding: 0.29 times 100 is below 29.
    const ROUNDOFF_EPSILON: f64 = 1e-9;
    format!("{:.2}", (risk * 100.0 + ROUNDOFF_EPSILON).floor() / 100.0)
}

impl Band {
    /// The risk at which [`Band::Fault`] begins.
    pub const FAULT_FROM: f64 = 0.5;

    /// The band of a risk in [0, 1].
    pub fn of(risk: f64) -> Self {
        match risk {
            r if r >= 0.75 => Self::Severe,
            r if r >= Self::FAULT_FROM => Self::Fault,
            r if r >= 0.25 => Self::Watch,
            _ => Self::Clean,
        }
    }

    /// The band's name in files and on the terminal.
    pub fn name(self) -> &'static str {
        match self {
            Self::Clean => "clean",
            Self::Watch => "watch",
            Self::Fault => "fault",
            Self::Severe => "severe",
        }
    }
}

/// The risk of every cage vertex.
#[derive(Debug, Clone)]
pub struct Risks {
    /// Risk in [0, 1], one per cage vertex; 0 for unreferenced vertices.
    pub total: Vec<f64>,
    /// Leading cause, by the parts in `by_cause`; `None` where the risk is below [`Band::Watch`].
    pub cause: Vec<Option<Cause>>,
    /// The part of each cause, in the order of [`Cause::ALL`], asked of the vertex and its neighbours at
    /// risk together: one value in [0, 1] per vertex, of which the largest is the vertex's risk.
    pub by_cause: Vec<Vec<f64>>,
}

/// A place at risk: connected vertices of [`Band::Watch`] and more, grown from their worst, with one
/// leading cause.
///
/// Any two of its vertices are joined by its edges. A mirrored half's place has the vertices, edges
/// and faces that lie in the half; where it reaches across the plane its figures are those of both
/// sides together, which the full model would show.
#[derive(Debug, Clone)]
pub struct Place {
    /// The vertex with the highest risk.
    pub peak: usize,
    /// All vertices of the place, by index, rising.
    pub vertices: Vec<usize>,
    /// The edges that meet its vertices, by their ends, each the lower index first; rising.
    pub edges: Vec<[usize; 2]>,
    /// The faces that meet its vertices, by index in the file's order, rising.
    pub faces: Vec<usize>,
    /// The peak's risk.
    pub risk: f64,
    /// Mean risk of the vertices, weighted by the area of the limit surface about each, in [0, 1].
    pub mean_risk: f64,
    /// Area of the limit surface about the vertices as a share of the whole surface's, in [0, 1]:
    /// from each vertex to the middles of its edges and the centres of its faces.
    pub area_share: f64,
    /// Mean of the vertices' limit points, weighted by that area, in file units.
    pub centre: Vec3,
    /// Largest distance of that part of the limit surface from the centre, in file units.
    pub radius: f64,
    /// The leading cause: a reversed face or a border that is at fault by itself; else the one whose parts of
    /// the risks ([`Risks::by_cause`]) of the vertices at fault, or of all where none is, have the
    /// largest sum.
    pub cause: Cause,
    /// What the evidence that speaks for each cause adds to the log-odds of a fault at the peak, most
    /// first; causes that add nothing are left out.
    pub shares: Vec<(Cause, f64)>,
    /// The measured figure behind it, in words with its unit ("limit strays 9.1 degrees ...").
    pub figure: String,
    /// What to do, in plain words.
    pub remedy: String,
}

impl Place {
    /// How visible the place is, in [0, 1]: its severity, which is its mean risk, times its visible
    /// area, which is its share of the limit surface. As the mean is weighted by area that is the
    /// integral of the risk over the place by the area of the whole: the share of the surface that
    /// is likely to look wrong there. What stands before the place is not asked.
    pub fn visibility(&self) -> f64 {
        self.mean_risk * self.area_share
    }
}

/// Everything found out about the vertices of a cage.
#[derive(Debug, Clone)]
pub struct Findings {
    /// The measures, in the order of their columns.
    pub measures: Vec<Measured>,
    /// The risks.
    pub risks: Risks,
    /// The places with a risk of [`Band::Watch`] and more, in the order of [`places()`].
    pub places: Vec<Place>,
}

impl Findings {
    /// Measures a surface and finds its risks and places.
    pub fn new(context: &MeasureContext) -> Self {
        let measures = Measures::new(context);
        let evidence = Evidence::new(context, &measures);
        let risks = model::risks(context, &measures, &evidence);
        let places = places(context, &measures, &evidence, &risks);
        Self {
            measures: measures.into_inner(),
            risks,
            places,
        }
    }

    /// For each vertex the place that it belongs to, counted from 0; `None` for those that are
    /// clean.
    pub fn spots(&self) -> Vec<Option<usize>> {
        let mut spots = vec![None; self.risks.total.len()];
        for (rank, place) in self.places.iter().enumerate() {
            for &v in &place.vertices {
                if let Some(spot) = spots.get_mut(v) {
                    *spot = Some(rank);
                }
            }
        }
        spots
    }
}
