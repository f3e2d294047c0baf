//! A point of the limit surface.

use super::curvature::Curvature;
use crate::mesh::Vec3;
use crate::subdivision::Frame;
use crate::subdivision::ring::LimitFrame;
use crate::subdivision::spline::{Derivatives, fast_normal};

/// The limit surface at one place.
///
/// At most places all of it is defined. At a pole, at a corner and where a crease ends there are no
/// derivatives by the face's parameters, hence no curvature (Peters & Reif, Subdivision Surfaces,
/// 2008, section 6: it grows without bound or dies out towards the pole), but a position and, as a
/// rule, a normal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LimitPoint {
    /// Position.
    pub position: Vec3,
    /// First derivatives by u and v, in lengths; `None` at poles and their like.
    pub first: Option<[Vec3; 2]>,
    /// Second derivatives by uu, uv and vv, in lengths; there whenever `first` is.
    pub second: Option<[Vec3; 3]>,
    /// Unit normal, outward in the unified winding of the cage; `None` where there is no tangent
    /// plane.
    pub normal: Option<Vec3>,
}

impl LimitPoint {
    /// A place inside a patch.
    pub fn inside(d: Derivatives) -> Self {
        Self {
            position: d.position,
            first: Some(d.first),
            second: Some(d.second),
            normal: Some(fast_normal(d.first[0], d.first[1])).filter(|n| *n != Vec3::zeros()),
        }
    }

    /// A pole or its like.
    pub fn at_vertex(limit: &LimitFrame) -> Self {
        Self {
            position: limit.position,
            first: None,
            second: None,
            normal: limit.normal(),
        }
    }

    /// All derivatives, where there are any.
    pub fn derivatives(&self) -> Option<Derivatives> {
        Some(Derivatives {
            position: self.position,
            first: self.first?,
            second: self.second?,
        })
    }

    /// The curvature, where it is defined.
    pub fn curvature(&self) -> Option<Curvature> {
        Curvature::of(&self.derivatives()?)
    }

    /// The same point with u and v exchanged; the normal stays.
    pub fn transposed(mut self) -> Self {
        if let Some(first) = &mut self.first {
            first.swap(0, 1);
        }
        if let Some(second) = &mut self.second {
            second.swap(0, 2);
        }
        self
    }

    /// The same point in file coordinates.
    pub fn outward(mut self, frame: &Frame) -> Self {
        self.position = frame.outward(self.position);
        self.first = self.first.map(|d| d.map(|x| x * frame.scale));
        self.second = self.second.map(|d| d.map(|x| x * frame.scale));
        self
    }
}
