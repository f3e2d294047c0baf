//! The limit surface of a cage, to be asked at any place.

use rayon::prelude::*;

use super::patches::FacePatches;
use super::place::{Place, PlaceError};
use super::point::LimitPoint;
use crate::subdivision::Surface;

/// Levels that a face's irregular parts are split before many places in it are evaluated: a share of
/// 4^-LEVELS of places spread evenly lies below.
const PREPARED_LEVELS: usize = 3;

/// Places in a face from which on preparing it pays.
const PREPARED_PLACES: usize = 4;

/// Faces that one parallel task takes on at least.
const TASK_LENGTH: usize = 16;

/// The limit surface of a cage: the surface that its refined meshes converge to.
///
/// Places are named as the file has them, and points are in file units. Normals point outward in
/// the unified winding: that of most faces of a shell, whatever a single face of the file does.
#[derive(Debug, Clone, Copy)]
pub struct LimitSurface<'a> {
    surface: &'a Surface,
}

impl<'a> LimitSurface<'a> {
    /// The limit surface of a subdivision surface. Costs nothing: patches are made where asked.
    pub fn new(surface: &'a Surface) -> Self {
        Self { surface }
    }

    /// The subdivision surface.
    pub fn surface(&self) -> &'a Surface {
        self.surface
    }

    /// The limit surface at one place.
    ///
    /// # Errors
    /// [`PlaceError`] if there is no such place.
    pub fn evaluate(&self, place: &Place) -> Result<LimitPoint, PlaceError> {
        place.check(self.surface.control().topology())?;
        let face = FacePatches::new(self.surface, place.face, 0);
        Ok(self.in_face(&face, place))
    }

    /// The limit surface at many places, in their order; in parallel, the places of one face
    /// together.
    ///
    /// # Errors
    /// The index of the first place that is none, and why.
    pub fn evaluate_all(&self, places: &[Place]) -> Result<Vec<LimitPoint>, (usize, PlaceError)> {
        let topology = self.surface.control().topology();
        for (i, place) in places.iter().enumerate() {
            place.check(topology).map_err(|fault| (i, fault))?;
        }
        let mut by_face: Vec<usize> = (0..places.len()).collect();
        by_face.sort_by_key(|&i| places[i].face);
        let runs: Vec<&[usize]> = by_face
            .chunk_by(|&i, &j| places[i].face == places[j].face)
            .collect();
        let points: Vec<Vec<LimitPoint>> = runs
            .par_iter()
            .with_min_len(TASK_LENGTH)
            .map(|run| {
                let levels = if run.len() < PREPARED_PLACES {
                    0
                } else {
                    PREPARED_LEVELS
                };
                let face = FacePatches::new(self.surface, places[run[0]].face, levels);
                run.iter()
                    .map(|&i| self.in_face(&face, &places[i]))
                    .collect()
            })
            .collect();
        let mut in_order: Vec<(usize, LimitPoint)> = by_face
            .iter()
            .copied()
            .zip(points.into_iter().flatten())
            .collect();
        in_order.sort_unstable_by_key(|(i, _)| *i);
        Ok(in_order.into_iter().map(|(_, point)| point).collect())
    }

    fn in_face(&self, face: &FacePatches, place: &Place) -> LimitPoint {
        let control = self.surface.control();
        let (corner, at) = place.unified(control.topology());
        let point = face.evaluate(corner, at).outward(&control.frame());
        if control.topology().is_flipped(place.face) {
            point.transposed()
        } else {
            point
        }
    }
}
