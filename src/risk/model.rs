//! How evidence becomes a risk and a cause.
//!
//! The risk is the probability, by the fitted model ([`super::fitted`]), that the limit surface
//! strays visibly from the form that is meant. Its cause is the one that the model finds most likely,
//! given that there is a fault, at the vertex and its neighbours together. Three faults show in no
//! angle and have a rule of their own: reversed faces, seams that are not welded, and a vertex off the
//! plane that its border lies in.

use rayon::prelude::*;

use super::evidence::Evidence;
use super::fitted::FITTED;
use super::{Band, Cause, Risks};
use crate::measure::about::About;
use crate::measure::borders::{OFF_PLANE, SEAM_GAP};
use crate::measure::bump::BUMP;
use crate::measure::centre_line::CENTRE_LINE_OFF;
use crate::measure::context::in_columns;
use crate::measure::facets::FACET;
use crate::measure::folds::{FOLD, REVERSED};
use crate::measure::pinching::PINCH;
use crate::measure::poles::POLE;
use crate::measure::quality::WARP;
use crate::measure::shrinkage::SHRINKAGE_RATIO;
use crate::measure::spacing::{SPACING_ACROSS, SPACING_ALONG};
use crate::measure::{MeasureContext, Measures};
use crate::mesh::WELD_TOLERANCE;

/// Risk of a vertex at a reversed face: it shades black whatever its shape.
pub(crate) const REVERSED_RISK: f64 = 0.9;

/// Risk of a border vertex that lies on another one without being welded to it.
pub(crate) const SEAM_RISK: f64 = 0.8;

/// Gap, in edge lengths, at which a seam's risk has dropped to 0: further apart two borders are
/// not meant to be one.
pub const SEAM_GAP_THRESHOLD: f64 = 0.1;

/// How far a border vertex may be off the plane in which the border lies on either side of it, in
/// edge lengths, before anyone sees it, and from where on it is a fault: mirrored there, it leaves a gap
/// or a ridge (common practice, no published source).
pub(crate) const OFF_PLANE_UNSEEN: f64 = 0.01;
pub(crate) const OFF_PLANE_FAULT: f64 = 0.05;

/// The measure that shows a cause and the value at which it does visible harm (common practice, no
/// published source): of several, the one that is largest against it is told.
#[derive(Debug, Clone, Copy)]
pub struct Witness {
    /// The cause.
    pub cause: Cause,
    /// Its measure.
    pub about: &'static About,
    /// The measure's value, in its unit, at which it does visible harm.
    pub harmful: f64,
}

/// Swing of a pole, in degrees, at which it does visible harm.
///
/// A fault is seen where limit normals stray about 6 degrees from the form that is meant (common
/// practice, no published source). About poles of 5 to 12 edges laid on cylinders and saddles the
/// swing is 0.39 to 0.60 of the angle by which the limit normals stray from those (`tests/poles.rs`),
/// hence half. About poles of 3 edges it is less than a tenth.
const POLE_HARMFUL: f64 = 3.0;

/// All witnesses.
pub static WITNESSES: [Witness; 9] = [
    witness(Cause::Pole, &POLE, POLE_HARMFUL),
    witness(Cause::Pinching, &PINCH, 20.0),
    witness(Cause::Spacing, &SPACING_ALONG, 1.4),
    witness(Cause::Spacing, &SPACING_ACROSS, 1.4),
    witness(Cause::Warp, &WARP, 45.0),
    witness(Cause::Facet, &FACET, 20.0),
    witness(Cause::Fold, &FOLD, 90.0),
    witness(Cause::Shrinkage, &SHRINKAGE_RATIO, 0.5),
    witness(Cause::Bump, &BUMP, 0.35),
];

const fn witness(cause: Cause, about: &'static About, harmful: f64) -> Witness {
    Witness {
        cause,
        about,
        harmful,
    }
}

/// Finds the risk of every vertex.
pub fn risks(context: &MeasureContext, measures: &Measures, evidence: &Evidence) -> Risks {
    let judged = FITTED.as_ref().map(|fitted| fitted.judged(evidence));
    let ruling = Ruling::new(measures);
    let topology = context.topology();
    let parts = |v: usize| {
        let mut parts = match &judged {
            Some(judged) if !topology.is_unreferenced(v) => {
                judged.beside(v, topology.neighbours(v)).parts()
            }
            _ => [0.0; Cause::ALL.len()],
        };
        for (cause, least) in ruling.at(v) {
            if Band::of(least) >= Band::Fault {
                // A reversed face or an open seam is the reason for whatever else the surface does.
                let whole = parts.iter().copied().fold(least, f64::max);
                parts[cause as usize] = whole;
            } else {
                let part = &mut parts[cause as usize];
                *part = part.max(least);
            }
        }
        parts
    };
    Risks::of_parts(in_columns(topology.vertex_count(), parts))
}

/// The measures that risks by rule are read off.
struct Ruling<'a> {
    reversed: &'a [f64],
    seam_gap: &'a [f64],
    off_plane: &'a [f64],
    centre_line_off: &'a [f64],
}

impl<'a> Ruling<'a> {
    fn new(measures: &'a Measures) -> Self {
        Self {
            reversed: measures.of(&REVERSED),
            seam_gap: measures.of(&SEAM_GAP),
            off_plane: measures.of(&OFF_PLANE),
            centre_line_off: measures.of(&CENTRE_LINE_OFF),
        }
    }

    /// Risks that a rule of their own gives, whatever the model says.
    fn at(&self, v: usize) -> [(Cause, f64); 2] {
        let reversed = self.reversed[v] > 0.0;
        let open = if self.is_open(v) { SEAM_RISK } else { 0.0 };
        let border = self.seam_risk(v).max(open).max(self.off_plane_risk(v));
        [
            (Cause::Fold, if reversed { REVERSED_RISK } else { 0.0 }),
            (Cause::Border, border.max(0.0)),
        ]
    }

    /// The risk that vertex `v` has for lying on another one without being welded to it; NaN where no
    /// other border is near.
    fn seam_risk(&self, v: usize) -> f64 {
        SEAM_RISK * (1.0 - self.seam_gap[v] / SEAM_GAP_THRESHOLD)
    }

    /// The risk that border vertex `v` has for standing off the plane that the border lies in on
    /// either side of it, as the centre line of a half does; 0 where it lies in none.
    fn off_plane_risk(&self, v: usize) -> f64 {
        let beyond = self.off_plane[v] - OFF_PLANE_UNSEEN;
        if beyond.is_nan() {
            return 0.0;
        }
        let risk = Band::FAULT_FROM * beyond / (OFF_PLANE_FAULT - OFF_PLANE_UNSEEN);
        risk.clamp(0.0, SEAM_RISK)
    }

    /// See [`is_open`].
    fn is_open(&self, v: usize) -> bool {
        !self.centre_line_off[v].is_nan() && self.off_plane[v] > WELD_TOLERANCE
    }
}

/// Whether vertex `v` is at fault for lying on another one without being welded to it.
pub(super) fn is_unwelded(measures: &Measures, v: usize) -> bool {
    Band::of(Ruling::new(measures).seam_risk(v)) >= Band::Fault
}

/// Whether vertex `v` of a mirrored half's centre line is too far off the plane to be welded: a
/// seam, however narrow it gapes.
pub(super) fn is_open(measures: &Measures, v: usize) -> bool {
    Ruling::new(measures).is_open(v)
}

/// Causes of which a rule may say that they are the reason for all there is: their part is then as large as the
/// model's leading one, and they lead.
const RULED: [Cause; 2] = [Cause::Border, Cause::Fold];

/// Vertices that one parallel task takes on at least.
const TASK_LENGTH: usize = 1024;

impl Risks {
    /// The risks whose causes have the given parts, one column a cause.
    pub(super) fn of_parts(by_cause: [Vec<f64>; Cause::ALL.len()]) -> Self {
        let count = by_cause[0].len();
        let (mut total, mut cause) = (Vec::new(), Vec::new());
        let leading = |v: usize| {
            let part = |cause: Cause| by_cause[cause as usize][v];
            let larger = |a: Cause, b: Cause| {
                let is_larger = part(b) > part(a) || part(b) == part(a) && RULED.contains(&b);
                if is_larger { b } else { a }
            };
            let leading = Cause::ALL.into_iter().reduce(larger);
            let total = leading.map_or(0.0, part);
            (total, leading.filter(|_| Band::of(total) >= Band::Watch))
        };
        let vertices = (0..count).into_par_iter().with_min_len(TASK_LENGTH);
        vertices
            .map(leading)
            .unzip_into_vecs(&mut total, &mut cause);
        Self {
            total,
            cause,
            by_cause: by_cause.into(),
        }
    }
}
