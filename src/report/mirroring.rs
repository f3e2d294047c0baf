//! What the summary says of mirroring: what it did, or where it may be meant.

use serde::Serialize;

use crate::assess::MirrorReport;
use crate::mesh::{MirrorPlane, PlanarBorders};

/// Vertices off the plane, and planes, that the screen names; of others only the number is given.
const SHOWN: usize = 3;

/// Degrees from which on a crease is more than 0.0 on the screen.
const CREASE_SHOWN_MIN: f64 = 0.05;

/// What mirroring a half did. Vertices are numbered from 1.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Mirroring {
    /// The axis that the mirror plane lies across.
    pub axis: &'static str,
    /// Where the plane crosses that axis.
    pub offset_units: f64,
    /// Number of vertices welded across the plane.
    pub welded_vertices: usize,
    /// Vertices of the centre line that are off the plane: they open a gap or fold a crease.
    pub off_plane: Vec<OffPlane>,
    /// The vertex with the largest crease across the centre line in the limit surface; null if the
    /// surface has no normal there.
    pub largest_crease: Option<CreasedVertex>,
    /// What the figures under `body` are of.
    pub body_of: &'static str,
    /// What `preview.obj` holds: `half` or `whole`.
    pub preview_of: &'static str,
    #[serde(skip)]
    plane: MirrorPlane,
}

/// A vertex of the centre line that is off the plane.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct OffPlane {
    /// The vertex.
    pub vertex: usize,
    /// Its distance from the plane.
    pub distance_units: f64,
}

/// A vertex of the centre line, and how far the surface folds there.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CreasedVertex {
    /// The vertex.
    pub vertex: usize,
    /// Angle between the limit normals on the two sides of the line.
    pub crease_deg: f64,
}

/// Open borders that lie in one plane, with all of the cage on one side.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlanarBorder {
    /// Number of border edges in the plane.
    pub edges: usize,
    /// Number of edges of the borders that they belong to.
    pub of_edges: usize,
    /// A vertex of these borders, from 1.
    pub vertex: usize,
    /// Unit normal of the plane.
    pub normal: [f64; 3],
    /// Distance of the plane from the origin along the normal; null beyond the range of numbers.
    pub offset_units: Option<f64>,
    /// What to give to mirror the cage there; null if the plane lies across no axis.
    pub option: Option<String>,
    #[serde(skip)]
    plane: Option<MirrorPlane>,
}

impl Mirroring {
    /// Reports on a mirrored half whose preview shows the half.
    pub(super) fn new(report: &MirrorReport) -> Self {
        let off_plane = report.off_plane.iter();
        Self {
            axis: report.plane.axis.name(),
            offset_units: report.plane.offset + 0.0,
            welded_vertices: report.welded,
            off_plane: off_plane
                .map(|&(v, distance_units)| OffPlane {
                    vertex: v + 1,
                    distance_units,
                })
                .collect(),
            largest_crease: report.largest_crease.map(|(v, crease_deg)| CreasedVertex {
                vertex: v + 1,
                crease_deg,
            }),
            body_of: "whole",
            preview_of: "half",
            plane: report.plane,
        }
    }

    /// What the screen says.
    pub(super) fn told(&self) -> String {
        let mut told = format!("in {}, {} welded", self.plane, self.welded_vertices);
        if !self.off_plane.is_empty() {
            let shown = self.off_plane.iter().take(SHOWN);
            let shown: Vec<String> = shown
                .map(|off| format!("{} by {:.4}", off.vertex, off.distance_units))
                .collect();
            let count = self.off_plane.len();
            told += &format!("; {count} off the plane: vertex {}", shown.join(", "));
            if count > SHOWN {
                told += " ...";
            }
        }
        match &self.largest_crease {
            Some(crease) if crease.crease_deg >= CREASE_SHOWN_MIN => {
                told += &format!(
                    "; crease up to {:.1} deg, vertex {}",
                    crease.crease_deg, crease.vertex
                );
            }
            Some(_) => told += "; no crease",
            None => {}
        }
        told
    }
}

impl PlanarBorder {
    pub(super) fn new(found: &PlanarBorders) -> Self {
        Self {
            edges: found.edges,
            of_edges: found.of_edges,
            vertex: found.vertex + 1,
            normal: found.normal.into(),
            offset_units: Some(found.offset).filter(|x| x.is_finite()),
            option: found
                .plane
                .map(|plane| format!("--mirror {}", plane.option())),
            plane: found.plane,
        }
    }

    /// What the screen says of all of them; nothing if there are none.
    pub(super) fn told(borders: &[Self]) -> String {
        let place = |border: &Self| match &border.plane {
            Some(plane) => format!("in {plane}"),
            None => {
                let [x, y, z] = border.normal.map(|n| format!("{:.2}", n + 0.0));
                format!("in a plane across ({x}, {y}, {z})")
            }
        };
        let count = |border: &Self| {
            let of = match border.of_edges {
                all if all == border.edges => String::new(),
                all => format!(" of {all}"),
            };
            format!("{}{of} border edges {}", border.edges, place(border))
        };
        let options: Vec<&str> = borders
            .iter()
            .take(SHOWN)
            .filter_map(|border| border.option.as_deref())
            .collect();
        let mend = match options.as_slice() {
            [] => "turn it so that the plane lies across an axis, then --mirror".to_owned(),
            _ => format!("give {}", options.join(" or ")),
        };
        let mut shown: Vec<String> = borders.iter().take(SHOWN).map(count).collect();
        if borders.is_empty() {
            return String::new();
        }
        if borders.len() > SHOWN {
            shown.push("...".to_owned());
        }
        format!(
            "{}; if this is a half that is to be mirrored there: {mend}",
            shown.join(", ")
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mesh::{Axis, MirrorMap, Vec3};

    fn border(offset: f64, plane: Option<MirrorPlane>) -> PlanarBorder {
        PlanarBorder::new(&PlanarBorders {
            edges: 12,
            of_edges: 12,
            vertex: 0,
            normal: Vec3::new(0.6, -0.8, 0.0),
            offset,
            plane,
        })
    }

    #[test]
    fn of_many_planes_the_first_few_are_told() {
        let across = |offset| {
            let axis = Axis::Z;
            border(offset, Some(MirrorPlane { axis, offset }))
        };
        let many: Vec<PlanarBorder> = (0..9).map(|k| across(f64::from(k))).collect();
        assert_eq!(
            PlanarBorder::told(&many),
            "12 border edges in z = 0, 12 border edges in z = 1, 12 border edges in z = 2, ...; if \
             this is a half that is to be mirrored there: give --mirror z or --mirror z@1 or \
             --mirror z@2"
        );
        assert_eq!(PlanarBorder::told(&[]), "");
    }

    #[test]
    fn a_slanting_plane_is_told_with_what_to_do_first() {
        assert_eq!(
            PlanarBorder::told(&[border(1.0, None)]),
            "12 border edges in a plane across (0.60, -0.80, 0.00); if this is a half that is to \
             be mirrored there: turn it so that the plane lies across an axis, then --mirror"
        );
    }

    #[test]
    fn of_many_vertices_off_the_plane_the_first_few_are_told() {
        let report = MirrorReport {
            plane: MirrorPlane {
                axis: Axis::Y,
                offset: -0.5,
            },
            welded: 20,
            off_plane: (0..5).map(|v| (v, 0.25)).collect(),
            largest_crease: Some((3, 4.25)),
            half_edges: 80,
            map: MirrorMap {
                plane: MirrorPlane {
                    axis: Axis::Y,
                    offset: -0.5,
                },
                half_vertices: 0,
                half_faces: 0,
                images: Vec::new(),
                distances: Vec::new(),
            },
        };
        assert_eq!(
            Mirroring::new(&report).told(),
            "in y = -0.5, 20 welded; 5 off the plane: vertex 1 by 0.2500, 2 by 0.2500, 3 by \
             0.2500 ...; crease up to 4.2 deg, vertex 4"
        );
    }
}
