//! How measures become a risk and a cause.
//!
//! The risk is read off what the limit surface does: the angle by which it strays from the form that
//! its surroundings intend ([`DEVIATION`]). The cage's oddities (poles, crowded loops, facets ...)
//! do not make a risk; they only explain one: each cause is as suspect as its measure is large
//! against the level at which it is known to do visible harm. What the form repeats elsewhere counts
//! less ([`super::repetition`]). Two faults show in no angle and have a
//! rule of their own: reversed faces and seams that are not welded.

use super::{Band, Cause, Risks, repetition};
use crate::measure::about::About;
use crate::measure::borders::{OFF_PLANE, SEAM_GAP};
use crate::measure::bump::BUMP;
use crate::measure::centre_line::CENTRE_LINE_OFF;
use crate::measure::facets::FACET;
use crate::measure::folds::{FOLD, REVERSED};
use crate::measure::form_deviation::DEVIATION;
use crate::measure::pinching::PINCH;
use crate::measure::poles::POLE;
use crate::measure::quality::WARP;
use crate::measure::shrinkage::SHRINKAGE_RATIO;
use crate::measure::spacing::{SPACING_ACROSS, SPACING_ALONG};
use crate::measure::{MeasureContext, Measures};
use crate::mesh::WELD_TOLERANCE;

/// Measured deviation, in degrees, at which a practitioner sees a fault: risk 0.5.
///
/// A fault is seen where limit normals stray about 6 degrees from the form that is meant (common
/// practice, no published source). The measured deviation is the smallest of several predictions
/// made from neighbours that the fault disturbs as well: about a single vertex pushed off or slid
/// along a torus it is a sixth to two thirds of the true one (`tests/risk_of_known_faults.rs`), hence half.
pub const SEEN_THRESHOLD: f64 = 3.0;

/// Risk of a vertex at a reversed face: it shades black whatever its shape.
pub(crate) const REVERSED_RISK: f64 = 0.9;

/// Risk of a border vertex that lies on another one without being welded to it.
pub(crate) const SEAM_RISK: f64 = 0.8;

/// Gap, in edge lengths, at which a seam's risk has dropped to 0: further apart two borders are
/// not meant to be one.
pub const SEAM_GAP_THRESHOLD: f64 = 0.1;

/// How much of a neighbour's suspicion counts at a vertex: an oddity disturbs the surface one ring
/// around it.
pub(crate) const NEIGHBOUR_WEIGHT: f64 = 0.7;

/// Suspicion of a cause that a rule finds, per unit of its risk: a reversed face or an open seam is
/// the reason for whatever else the surface does there.
const RULE_WEIGHT: f64 = 100.0;

/// Least suspicion of a bump, so that a deviation which nothing explains has a cause.
const UNEXPLAINED: f64 = 0.05;

/// The measure behind a cause and the value at which it does visible harm (common practice, no
/// published source).
#[derive(Debug, Clone, Copy)]
pub struct Suspect {
    /// The cause.
    pub cause: Cause,
    /// Its measure.
    pub about: &'static About,
    /// The measure's value, in its unit, at which suspicion is 1.
    pub harmful: f64,
}

/// Swing of a pole, in degrees, at which it does visible harm.
///
/// A fault is seen where limit normals stray about 6 degrees from the form that is meant (common
/// practice, no published source). About poles of 5 to 12 edges laid on cylinders and saddles the
/// swing is 0.39 to 0.60 of the angle by which the limit normals stray from those (`tests/poles.rs`),
/// hence half. About poles of 3 edges it is less than a tenth.
const POLE_HARMFUL: f64 = 3.0;

/// All suspects.
pub static SUSPECTS: [Suspect; 9] = [
    suspect(Cause::Pole, &POLE, POLE_HARMFUL),
    suspect(Cause::Pinching, &PINCH, 20.0),
    suspect(Cause::Spacing, &SPACING_ALONG, 1.4),
    suspect(Cause::Spacing, &SPACING_ACROSS, 1.4),
    suspect(Cause::Warp, &WARP, 45.0),
    suspect(Cause::Facet, &FACET, 20.0),
    suspect(Cause::Fold, &FOLD, 90.0),
    suspect(Cause::Shrinkage, &SHRINKAGE_RATIO, 0.5),
    suspect(Cause::Bump, &BUMP, 0.35),
];

const fn suspect(cause: Cause, about: &'static About, harmful: f64) -> Suspect {
    Suspect {
        cause,
        about,
        harmful,
    }
}

/// Risk of a measured deviation of `degrees`: d² / (d² + 3²), so that 1 degree gives 0.1 and 3 give
/// 0.5. An undefined deviation gives 0.
pub fn grade(degrees: f64) -> f64 {
    if degrees.is_nan() {
        return 0.0;
    }
    let ratio = (degrees / SEEN_THRESHOLD).min(1e6);
    ratio * ratio / (1.0 + ratio * ratio)
}

/// Finds the risk of every vertex.
pub fn risks(context: &MeasureContext, measures: &Measures) -> Risks {
    let count = context.topology().vertex_count();
    let suspicion: Vec<[f64; Cause::ALL.len()]> =
        (0..count).map(|v| suspicions(measures, v)).collect();
    let deviation = measures.of(&DEVIATION);
    let repetition = repetition::weights(context, measures);
    let mut risks = Risks {
        total: Vec::with_capacity(count),
        cause: Vec::with_capacity(count),
        by_cause: vec![Vec::with_capacity(count); Cause::ALL.len()],
    };
    for v in 0..count {
        let neighbours = context.spokes.of(v).iter().map(|s| s.vertex as usize);
        let mut shares = suspicion[v];
        for w in neighbours {
            for (share, other) in shares.iter_mut().zip(&suspicion[w]) {
                *share = share.max(other * NEIGHBOUR_WEIGHT);
            }
        }
        let rules = ruled(measures, v);
        for (cause, risk) in rules
            .into_iter()
            .filter(|(_, risk)| Band::of(*risk) >= Band::Fault)
        {
            let share = &mut shares[cause as usize];
            *share = share.max(risk * RULE_WEIGHT);
        }
        let largest = shares.iter().copied().fold(0.0, f64::max);
        let by_deviation = grade(deviation[v] * repetition[v]);
        let mut parts = shares.map(|share| by_deviation * share / largest);
        for (cause, least) in rules {
            let part = &mut parts[cause as usize];
            *part = part.max(least);
        }
        risks.push(parts);
    }
    risks
}

/// How suspect each cause is at vertex `v` by its own measures.
fn suspicions(measures: &Measures, v: usize) -> [f64; Cause::ALL.len()] {
    let mut suspicion = [0.0; Cause::ALL.len()];
    suspicion[Cause::Bump as usize] = UNEXPLAINED;
    for s in &SUSPECTS {
        let value = measures.of(s.about)[v] / s.harmful;
        let slot = &mut suspicion[s.cause as usize];
        *slot = slot.max(value);
    }
    suspicion
}

/// Risks that a rule of their own gives, whatever the deviation.
fn ruled(measures: &Measures, v: usize) -> [(Cause, f64); 2] {
    let reversed = measures.of(&REVERSED)[v] > 0.0;
    let gap = measures.of(&SEAM_GAP)[v];
    let seam = SEAM_RISK * (1.0 - gap / SEAM_GAP_THRESHOLD);
    let off_plane = grade(measures.of(&OFF_PLANE)[v].atan().to_degrees());
    let open = if is_open(measures, v) { SEAM_RISK } else { 0.0 };
    [
        (Cause::Fold, if reversed { REVERSED_RISK } else { 0.0 }),
        (Cause::Border, off_plane.max(seam).max(open)),
    ]
}

/// Whether vertex `v` of a mirrored half's centre line is too far off the plane to be welded: a
/// seam, however narrow it gapes.
pub(super) fn is_open(measures: &Measures, v: usize) -> bool {
    let on_line = !measures.of(&CENTRE_LINE_OFF)[v].is_nan();
    on_line && measures.of(&OFF_PLANE)[v] > WELD_TOLERANCE
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn unseen_deviations_stay_clean_and_seen_ones_are_faults() {
        assert!(grade(SEEN_THRESHOLD / 3.0) < 0.25);
        assert!((grade(SEEN_THRESHOLD) - 0.5).abs() < 1e-15);
        assert_eq!(grade(f64::NAN), 0.0);
        assert!(grade(f64::INFINITY) <= 1.0);
        assert!((0..180).all(|d| grade(f64::from(d)) <= grade(f64::from(d + 1))));
    }
}
