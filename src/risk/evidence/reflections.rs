//! Reflections that a shell is its own image under: in a plane, or, where a linear map has made the
//! shell of one that has such a plane, what the map makes of that reflection.

use nalgebra::Matrix3;

use super::mirror_planes::{Cloud, Plane};
use crate::mesh::Vec3;

/// A shell that is narrower in some direction than this part of its largest width counts as flat: what
/// it is there, no linear map has made.
const WIDTH_MIN: f64 = 0.01;

/// A linear map, and a move after it, that are their own inverse.
#[derive(Debug, Clone, Copy)]
pub struct Reflection {
    linear: Matrix3<f64>,
    offset: Vec3,
}

impl Reflection {
    /// The reflection in a plane.
    fn across(plane: &Plane) -> Self {
        let across = plane.normal * plane.normal.transpose();
        Self {
            linear: Matrix3::identity() - across * 2.0,
            offset: plane.normal * (2.0 * plane.offset),
        }
    }

    /// The image of a point.
    pub fn image(&self, p: &Vec3) -> Vec3 {
        self.linear * p + self.offset
    }

    /// The unit normal of a surface's image where that of the surface is `normal`; zero for zero.
    /// Normals map by the inverse transposed, and the map is its own inverse.
    pub fn normal(&self, normal: &Vec3) -> Vec3 {
        let image = self.linear.tr_mul(normal);
        image.try_normalize(0.0).unwrap_or_default()
    }
}

/// The reflections of a shell: in its planes of symmetry, or, where it has none, in what are planes of
/// symmetry once it is as wide in every direction. Widened like that, forms that a linear map makes
/// of each other differ by a turn alone, so that a plane is a plane again. `mapped` gives the shell's
/// cloud under a linear map.
pub(super) fn reflections(
    cloud: &Cloud,
    mapped: impl Fn(&Matrix3<f64>) -> Cloud,
) -> Vec<Reflection> {
    let planes = cloud.planes();
    if !planes.is_empty() {
        return planes.iter().map(Reflection::across).collect();
    }
    let Some([widen, narrow]) = widening(&cloud.points) else {
        return Vec::new();
    };
    let back = |plane: Plane| {
        let reflection = Reflection::across(&plane);
        Reflection {
            linear: narrow * reflection.linear * widen,
            offset: narrow * reflection.offset,
        }
    };
    let planes = mapped(&widen).planes();
    planes.into_iter().map(back).collect()
}

/// The linear map under which points spread as far in every direction, and its inverse: C^-1/2 and
/// C^1/2, C their covariance. `None` for flat ones.
fn widening(points: &[Vec3]) -> Option<[Matrix3<f64>; 2]> {
    let count = points.len() as f64;
    let centre = points.iter().sum::<Vec3>() / count;
    let arms = points.iter().map(|p| p - centre);
    let covariance: Matrix3<f64> = arms.map(|d| d * d.transpose()).sum::<Matrix3<f64>>() / count;
    let axes = covariance.symmetric_eigen();
    let widths = axes.eigenvalues.map(|w| w.max(0.0).sqrt());
    // Not a number where the squares overflow: then there is no map either.
    let has_shape = widths.min() > WIDTH_MIN * widths.max();
    let by_axis = |scales: Vec3| {
        let scaled = axes.eigenvectors * Matrix3::from_diagonal(&scales);
        scaled * axes.eigenvectors.transpose()
    };
    has_shape.then(|| [by_axis(widths.map(f64::recip)), by_axis(widths)])
}
