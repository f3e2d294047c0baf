//! How far the limit surface and the cage stray from their own mirror images: what is as one of its
//! images is meant, what is like none is suspect.

use super::groundwork::{LENGTH_MIN, columns as collected, per_index};
use super::mirror_planes::PLANES_MAX;
use super::surroundings::UNSEEN_DEG;
use super::symmetry::Symmetry;
use super::{Column, Quantity};
use crate::measure::MeasureContext;
use crate::risk::Cause;

/// The limit normal against the image that it is most like.
pub static STRAY: Quantity = Quantity::new(
    "mirror_stray",
    "angle, in degrees, between the limit normal and the mirror image of the partner's, the least over the shell's reflections that hold about the vertex; 180 where none does or a normal is missing (this program's)",
    Cause::Bump,
);
/// The limit normals at the vertex and about it against their images.
pub static STRAY_ABOUT: Quantity = Quantity::new(
    "mirror_stray_about",
    "largest mirror_stray of the vertex and its neighbours, of those that have an image; 180 where none has",
    Cause::Bump,
);
/// The limit normals against the image that they are next most like: what one reflection repeats may be
/// a fault that was mirrored with the form, what two repeat hardly.
pub static STRAY_NEXT: Quantity = Quantity::new(
    "mirror_stray_next",
    "as mirror_stray_about, with the second least angle, of those that have two images; 180 where none has",
    Cause::Bump,
);
/// The vertex of the cage against the nearest of its images.
pub static GAP: Quantity = Quantity::new(
    "mirror_gap",
    "distance of the partner to the vertex's image over the lesser of their mean edge lengths, but at least a fiftieth of the greater, the least over the shell's reflections that hold about the vertex (this program's)",
    Cause::Spacing,
);
/// The vertices at and about the vertex against their images.
pub static GAP_ABOUT: Quantity = Quantity::new(
    "mirror_gap_about",
    "largest mirror_gap of the vertex and its neighbours, of those that have an image",
    Cause::Spacing,
);

/// Less than this of what is seen counts as nothing, so that most vertices of a form that is its own image
/// are done with at once: a millionth of any ratio is far less than the least that trees ask for.
const SEEN_MIN: f64 = 1e-6;

/// What the vertices stray from their images.
#[derive(Debug)]
pub struct MirrorStrays {
    /// Squared chord between each vertex's unit limit normal and the image of its partner's under each
    /// reflection; NaN where there is none.
    chords: Vec<[f64; PLANES_MAX]>,
    /// Least gap of each vertex; infinite where it has no partner.
    gaps: Vec<f64>,
}

/// Least and second least squared chord, least gap; infinite where there is none.
type Strays = [f64; 3];

impl MirrorStrays {
    /// Compares every vertex with its images.
    pub fn new(context: &MeasureContext, symmetry: &Symmetry) -> Self {
        let compared = per_index(context.topology().vertex_count(), |v| {
            compared(context, symmetry, v)
        });
        let (chords, gaps) = compared.into_iter().unzip();
        Self { chords, gaps }
    }

    /// The columns of all five quantities.
    pub fn columns(&self, context: &MeasureContext) -> Vec<Column> {
        let strays = per_index(self.gaps.len(), |v| self.strays(v));
        let values = context.together(|v| {
            let about = about(context, &strays, v);
            let [stray, _, gap] = strays[v];
            [
                angle(stray),
                angle(about[0]),
                angle(about[1]),
                known(gap),
                known(about[2]),
            ]
        });
        collected(
            [&STRAY, &STRAY_ABOUT, &STRAY_NEXT, &GAP, &GAP_ABOUT],
            values,
        )
    }

    /// How plainly the surface about vertex `v` differs from its image under each reflection, from 0 to 1:
    /// c^2 / (c^2 + u^2), c the largest chord between a unit limit normal and its image at the vertex and its
    /// neighbours, u the angle that nobody sees, in radians; 1 where the vertex has no image or no normal
    /// (this program's).
    pub fn seen(&self, context: &MeasureContext, v: usize) -> [f64; PLANES_MAX] {
        let unseen = UNSEEN_DEG.to_radians().powi(2);
        let own = self.chords[v];
        let mut most = own;
        for spoke in context.spokes.of(v) {
            for (most, chord) in most.iter_mut().zip(self.chords[spoke.vertex as usize]) {
                *most = most.max(chord);
            }
        }
        std::array::from_fn(|k| {
            let seen = most[k] / (most[k] + unseen);
            match own[k].is_nan() {
                true => 1.0,
                false if seen < SEEN_MIN => 0.0,
                false => seen,
            }
        })
    }

    /// What vertex `v` strays from the image that it is most like, and from the next.
    fn strays(&self, v: usize) -> Strays {
        let [mut least, mut next] = [f64::INFINITY; 2];
        for chord in self.chords[v].into_iter().filter(|chord| !chord.is_nan()) {
            next = next.min(chord.max(least));
            least = least.min(chord);
        }
        [least, next, self.gaps[v]]
    }
}

/// Vertex `v` against its images: the squared chords and the least gap.
fn compared(context: &MeasureContext, symmetry: &Symmetry, v: usize) -> ([f64; PLANES_MAX], f64) {
    let (samples, positions) = (&context.limit.vertices, context.positions());
    let mut chords = [f64::NAN; PLANES_MAX];
    let mut gap = f64::INFINITY;
    for (k, reflection, w) in symmetry.images(v) {
        let image = reflection.image(&positions[v]);
        // A vertex that is pushed out makes its own edges longer, not its partner's.
        let [l, m] = [v, w].map(|v| context.edge_length[v]);
        let edge_length = l.min(m).max(LENGTH_MIN * l.max(m));
        gap = gap.min((image - positions[w]).norm() / edge_length);
        if samples[v].has_normal() && samples[w].has_normal() {
            let chord = reflection.normal(&samples[w].normal) - samples[v].normal;
            chords[k] = chord.norm_squared();
        }
    }
    (chords, gap)
}

/// The largest of what is known of vertex `v` and its neighbours.
fn about(context: &MeasureContext, strays: &[Strays], v: usize) -> Strays {
    let mut most = strays[v];
    for spoke in context.spokes.of(v) {
        for (most, x) in most.iter_mut().zip(strays[spoke.vertex as usize]) {
            if x.is_finite() && !(*most > x && most.is_finite()) {
                *most = x;
            }
        }
    }
    most
}

/// The angle in degrees of a squared chord of the unit circle; that of opposite normals where there is no
/// image: then nothing says that the place is meant.
fn angle(chord: f64) -> f64 {
    // Rounding may make a chord longer than the diameter.
    2.0 * (0.5 * chord.sqrt()).min(1.0).asin().to_degrees()
}

/// What was found; NaN where nothing was.
fn known(x: f64) -> f64 {
    if x.is_finite() { x } else { f64::NAN }
}
