//! How far the limit surface strays from its own mirror images. What two reflections of a form repeat is
//! meant. What one repeats says nothing: who models a half and mirrors it makes every fault twice, and a
//! fault is to be found as often then as on one side only.

use super::groundwork::{columns as collected, per_index};
use super::symmetry::Symmetry;
use super::{Column, Quantity};
use crate::measure::MeasureContext;
use crate::risk::Cause;

/// The limit normals against the images that they are second most like.
static STRAY_SECOND: Quantity = Quantity::new(
    "mirror_stray_second",
    "largest over the vertex and its neighbours, of those that have two mirror images with limit normals other than themselves, of: the second least angle, in degrees, between the limit normal and the image of the partner's over the shell's reflections that hold about the vertex; 180 where none has two (this program's)",
    Cause::Bump,
);

/// The column of what every vertex strays.
pub fn columns(context: &MeasureContext, symmetry: &Symmetry) -> Vec<Column> {
    let chords = per_index(context.topology().vertex_count(), |v| {
        second_chord(context, symmetry, v)
    });
    let angles = context.per_vertex(|v| angle(about(context, &chords, v)));
    collected([&STRAY_SECOND], [angles])
}

/// The second least squared chord between the unit limit normal of vertex `v` and its images; infinite
/// where it has fewer than two. On a plane of symmetry a vertex is its own image, which repeats nothing.
fn second_chord(context: &MeasureContext, symmetry: &Symmetry, v: usize) -> f64 {
    let samples = &context.limit.vertices;
    let has_normals = |w: usize| samples[v].has_normal() && samples[w].has_normal();
    let others = symmetry
        .images(v)
        .filter(|&(_, w)| w != v && has_normals(w));
    let chords = others.map(|(reflection, w)| {
        (reflection.normal(&samples[w].normal) - samples[v].normal).norm_squared()
    });
    let [mut least, mut second] = [f64::INFINITY; 2];
    for chord in chords.filter(|chord| !chord.is_nan()) {
        second = second.min(chord.max(least));
        least = least.min(chord);
    }
    second
}

/// The largest chord of vertex `v` and its neighbours, of those that have one.
fn about(context: &MeasureContext, chords: &[f64], v: usize) -> f64 {
    let beside = context
        .spokes
        .of(v)
        .iter()
        .map(|s| chords[s.vertex as usize]);
    let known = beside.chain([chords[v]]).filter(|chord| chord.is_finite());
    known.reduce(f64::max).unwrap_or(f64::INFINITY)
}

/// The angle in degrees of a squared chord of the unit circle; that of opposite normals where there are not
/// two images: then nothing says that the place is meant.
fn angle(chord: f64) -> f64 {
    // Rounding may make a chord longer than the diameter.
    2.0 * (0.5 * chord.sqrt()).min(1.0).asin().to_degrees()
}
