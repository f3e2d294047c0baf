//! Places on the limit surface, named by faces and parameters as the cage's file has them.

use thiserror::Error;

use crate::mesh::Topology;

/// A place on the limit surface, in terms of the file: faces and corners in its order and winding.
///
/// In a quad, `corner` is `None`: (0, 0) is its first corner, u runs to its second and v to its
/// last. In any other face `corner` names the corner whose quad is meant: (0, 0) is that corner,
/// (1, 0) the middle of the edge to the next corner, (1, 1) the face's centre point and (0, 1) the
/// middle of the edge to the previous corner.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// Face, from 0.
    pub face: usize,
    /// Corner of the face, from 0; `None` in a quad.
    pub corner: Option<usize>,
    /// Parameter from 0 to 1.
    pub u: f64,
    /// Parameter from 0 to 1.
    pub v: f64,
}

/// Why a place is none of a cage's. Numbers are told from 1, as in files.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum PlaceError {
    /// There is no such face.
    #[error("face {} does not exist: the cage has {faces} faces", .face + 1)]
    NoFace {
        /// The face asked for, from 0.
        face: usize,
        /// Number of faces there are.
        faces: usize,
    },
    /// A face that is no quad needs a corner.
    #[error("face {} has {sides} sides: name the corner (1 to {sides}) whose quad is meant", .face + 1)]
    CornerMissing {
        /// The face, from 0.
        face: usize,
        /// Its number of sides.
        sides: usize,
    },
    /// There is no such corner.
    #[error("face {} has {sides} sides, not a corner {}", .face + 1, .corner + 1)]
    NoCorner {
        /// The face, from 0.
        face: usize,
        /// The corner asked for, from 0.
        corner: usize,
        /// Number of sides of the face.
        sides: usize,
    },
    /// A quad is one patch: it has no corner quads.
    #[error("face {} is a quad: leave the corner empty, (0, 0) is its first corner", .face + 1)]
    CornerOfQuad {
        /// The face, from 0.
        face: usize,
    },
    /// A parameter is not between 0 and 1.
    #[error("{name} is {value:?}: give a number from 0 to 1")]
    OutOfRange {
        /// `u` or `v`.
        name: &'static str,
        /// Its value.
        value: f64,
    },
}

impl Place {
    /// Checks that the place is one of a cage's.
    ///
    /// # Errors
    /// [`PlaceError`] says what is wrong with it.
    pub fn check(&self, topology: &Topology) -> Result<(), PlaceError> {
        let face = self.face;
        let faces = topology.face_count();
        if face >= faces {
            return Err(PlaceError::NoFace { face, faces });
        }
        let sides = topology.face_size(face);
        match self.corner {
            None if sides != 4 => return Err(PlaceError::CornerMissing { face, sides }),
            Some(_) if sides == 4 => return Err(PlaceError::CornerOfQuad { face }),
            Some(corner) if corner >= sides => {
                return Err(PlaceError::NoCorner {
                    face,
                    corner,
                    sides,
                });
            }
            _ => {}
        }
        for (name, value) in [("u", self.u), ("v", self.v)] {
            if !(0.0..=1.0).contains(&value) {
                return Err(PlaceError::OutOfRange { name, value });
            }
        }
        Ok(())
    }

    /// The same place in the unified winding: the corner of the face whose frame is meant, counted
    /// in that winding, and u and v, exchanged where the file winds the face the other way.
    pub(super) fn unified(&self, topology: &Topology) -> (usize, [f64; 2]) {
        let sides = topology.face_size(self.face);
        let corner = self.corner.unwrap_or(0);
        if topology.is_flipped(self.face) {
            ((sides - corner) % sides, [self.v, self.u])
        } else {
            (corner, [self.u, self.v])
        }
    }
}
