//! The pattern of places at which the measures read the limit surface.
//!
//! Each corner of the cage owns a quarter of its quad (in any other face: the quad at that corner),
//! and in it four places: at 1/4 and 3/4 both ways. A quad is thus sampled at 1/8, 3/8, 5/8 and 7/8
//! both ways. No place lies on an edge or at a pole, where derivatives may not be defined or have two
//! values.

use rayon::prelude::*;

use super::patches::FacePatches;
use super::place::Place;
use super::point::LimitPoint;
use crate::mesh::Topology;
use crate::subdivision::Surface;

/// Places per corner.
pub const PLACES_PER_CORNER: usize = 4;

/// The places in the quad of a corner, in its own parameters: (0, 0) is the cage vertex, u runs
/// along the edge to the next corner.
pub const PLACES: [[f64; 2]; PLACES_PER_CORNER] =
    [[0.25, 0.25], [0.75, 0.25], [0.25, 0.75], [0.75, 0.75]];

/// Levels that a face is split so that no place of the pattern lies deeper.
const LEVELS: usize = 2;

/// Corners that one parallel task takes on at least.
const TASK_LENGTH: usize = 256;

/// One value per corner, made from the limit surface at the pattern's four places in the corner's
/// quarter, in the order of [`PLACES`]; in the control mesh's frame. In parallel; nothing is
/// allocated per sample, nor per face once a thread has met its largest.
///
/// Derivatives are by the parameters of the face (of a quad) or of the corner's quad.
pub fn per_corner<T: Send>(
    surface: &Surface,
    value: impl Fn(usize, &[LimitPoint; PLACES_PER_CORNER]) -> T + Sync + Send,
) -> Vec<T> {
    let topology = surface.control().topology();
    let mut values = Vec::with_capacity(topology.corner_count());
    (0..topology.corner_count())
        .into_par_iter()
        .with_min_len(TASK_LENGTH)
        .map_init(PatternReader::default, |reader, c| {
            value(c, &reader.corner(surface, c))
        })
        .collect_into_vec(&mut values);
    values
}

/// Reads the pattern corner by corner, keeping the face of the last one.
#[derive(Debug, Default)]
pub struct PatternReader {
    ready: Option<usize>,
    patches: FacePatches,
}

impl PatternReader {
    /// The limit surface at the places of corner `c`, as [`per_corner`] hands them out.
    pub fn corner(&mut self, surface: &Surface, c: usize) -> [LimitPoint; PLACES_PER_CORNER] {
        let topology = surface.control().topology();
        let f = topology.face_of(c);
        if self.ready != Some(f) {
            self.patches.fill(surface, f, LEVELS);
            self.ready = Some(f);
        }
        let corner = c - topology.face_corners(f).start;
        let sides = topology.face_size(f);
        PLACES.map(|at| self.patches.evaluate(corner, in_face(sides, corner, at)))
    }
}

/// Parameters of the face for a place in the quad of one of its corners.
fn in_face(sides: usize, corner: usize, [u, v]: [f64; 2]) -> [f64; 2] {
    if sides != 4 {
        return [u, v];
    }
    let (u, v) = (u / 2.0, v / 2.0);
    match corner {
        0 => [u, v],
        1 => [1.0 - v, u],
        2 => [1.0 - u, 1.0 - v],
        _ => [v, 1.0 - u],
    }
}

/// All places of the pattern, in the file's terms: face by face, corner by corner in the file's
/// order.
pub fn places(topology: &Topology) -> impl Iterator<Item = Place> + '_ {
    (0..topology.face_count()).flat_map(move |face| {
        let sides = topology.face_size(face);
        (0..sides).flat_map(move |corner| {
            PLACES.into_iter().map(move |at| {
                let [u, v] = in_face(sides, corner, at);
                Place {
                    face,
                    corner: (sides != 4).then_some(corner),
                    u,
                    v,
                }
            })
        })
    })
}
