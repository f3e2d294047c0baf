//! How far the limit surface and the cage stray from their own mirror images: what is as one of its
//! images is meant, what is like none is suspect.

use super::groundwork::{LENGTH_MIN, columns as collected, per_index};
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

/// Least and second least chord between unit normals, least gap; infinite where there is none.
type Strays = [f64; 3];

/// The columns of all five.
pub fn columns(context: &MeasureContext, symmetry: &Symmetry) -> Vec<Column> {
    let strays = per_index(context.topology().vertex_count(), |v| {
        strays(context, symmetry, v)
    });
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

/// What vertex `v` strays from its images.
fn strays(context: &MeasureContext, symmetry: &Symmetry, v: usize) -> Strays {
    let (samples, positions) = (&context.limit.vertices, context.positions());
    let [mut least, mut next, mut gap] = [f64::INFINITY; 3];
    for (reflection, w) in symmetry.images(v) {
        let image = reflection.image(&positions[v]);
        // A vertex that is pushed out makes its own edges longer, not its partner's.
        let [l, m] = [v, w].map(|v| context.edge_length[v]);
        let edge_length = l.min(m).max(LENGTH_MIN * l.max(m));
        gap = gap.min((image - positions[w]).norm() / edge_length);
        if samples[v].has_normal() && samples[w].has_normal() {
            let chord = reflection.normal(&samples[w].normal) - samples[v].normal;
            let chord = chord.norm_squared();
            next = next.min(chord.max(least));
            least = least.min(chord);
        }
    }
    [least.sqrt(), next.sqrt(), gap]
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

/// The angle in degrees of a chord of the unit circle; that of opposite normals where there is no image:
/// then nothing says that the place is meant.
fn angle(chord: f64) -> f64 {
    // Rounding may make a chord longer than the diameter.
    2.0 * (0.5 * chord).min(1.0).asin().to_degrees()
}

/// What was found; NaN where nothing was.
fn known(x: f64) -> f64 {
    if x.is_finite() { x } else { f64::NAN }
}
