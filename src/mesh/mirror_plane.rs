//! Planes across an axis, in which a half is mirrored.

use std::fmt;

use super::polygon_mesh::Vec3;

/// A plane across one of the axes: all points whose coordinate along it is `offset`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MirrorPlane {
    /// The axis that the plane lies across.
    pub axis: Axis,
    /// Where it crosses the axis, in file units.
    pub offset: f64,
}

/// An axis of space.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Axis {
    /// The first coordinate.
    X,
    /// The second coordinate.
    Y,
    /// The third coordinate.
    Z,
}

impl Axis {
    /// All axes, in the order of coordinates.
    pub const ALL: [Self; 3] = [Self::X, Self::Y, Self::Z];

    /// Its name: `x`, `y` or `z`.
    pub fn name(self) -> &'static str {
        ["x", "y", "z"][self as usize]
    }
}

impl MirrorPlane {
    /// Half the signed distance of a point, in file units: a half, since the distance itself may
    /// be beyond the range of numbers.
    pub(super) fn half_distance(&self, p: &Vec3) -> f64 {
        p[self.axis as usize] * 0.5 - self.offset * 0.5
    }

    /// The mirror image of a point. Not finite where that lies beyond the range of numbers.
    pub fn image(&self, p: &Vec3) -> Vec3 {
        let mut image = *p;
        let x = &mut image[self.axis as usize];
        *x = self.offset - (*x - self.offset);
        image
    }

    /// The mirror image of a direction.
    pub fn turned(&self, direction: &Vec3) -> Vec3 {
        let mut image = *direction;
        let x = &mut image[self.axis as usize];
        *x = -*x;
        image
    }

    /// The nearest point of the plane.
    pub fn nearest(&self, p: &Vec3) -> Vec3 {
        let mut nearest = *p;
        nearest[self.axis as usize] = self.offset;
        nearest
    }

    /// As the command line has it: `x`, or `x@0.25`.
    pub fn option(&self) -> String {
        let axis = self.axis.name();
        if self.offset == 0.0 {
            axis.to_owned()
        } else {
            format!("{axis}@{}", plain(self.offset))
        }
    }
}

impl fmt::Display for MirrorPlane {
    /// `x = 0.25`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} = {}", self.axis.name(), plain(self.offset))
    }
}

/// A number as short as it reads back.
pub(super) fn plain(x: f64) -> String {
    /// Sizes between which a number is written without an exponent.
    const PLAIN_RANGE: std::ops::Range<f64> = 1e-5..1e9;
    // -0 says no more than 0.
    let x = x + 0.0;
    if x == 0.0 || PLAIN_RANGE.contains(&x.abs()) {
        format!("{x}")
    } else {
        format!("{x:e}")
    }
}
