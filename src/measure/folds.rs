//! Folds: where the smoothed surface faces another way than the cage.

use pulp::Arch;

use super::Measured;
use super::about::{About, Unit};
use super::angles::angles_deg;
use super::context::{MeasureContext, largest};

/// Limit normal against the cage's faces.
pub const FOLD: About = About {
    name: "fold",
    tells: "how far the smoothed surface turns away from the cage's faces at the vertex",
    formula: "largest angle between the limit normal and the normals of the faces at the vertex",
    unit: Unit::Degrees,
    range: "0 to 180; past 90 the surface folds over",
    source: "angle of normals: common geometry",
    remedy: "untangle the faces at the vertex; they overlap or run back on themselves",
};

/// Faces that the file winds against their shell.
pub const REVERSED: About = About {
    name: "reversed_faces",
    tells: "how many faces at the vertex are wound against the rest of their shell",
    formula: "count of faces that must be reversed so that every two faces that share an edge wind alike; the majority of a shell is right",
    unit: Unit::Count,
    range: "from 0",
    source: "consistent winding: common practice, no published source",
    remedy: "reverse the face",
};

/// The two measures, in the order of their columns.
pub fn measure(context: &MeasureContext) -> Vec<Measured> {
    let arch = Arch::new();
    let fold = context.per_vertex(|v| {
        let normal = &context.limit.vertices[v].normal;
        let mut areas = context.faces_of(v).map(|f| &context.face_areas[f]);
        // Most vertices have as many faces as are taken abreast.
        let mut most = f64::NAN;
        while let Some(first) = areas.next() {
            let pairs = std::array::from_fn(|k| match k {
                0 => [normal, first],
                _ => [normal, areas.next().unwrap_or(first)],
            });
            most = most.max(largest(angles_deg(arch, pairs).into_iter()));
        }
        most
    });
    let reversed = context.per_vertex(|v| {
        let reversed = |f: &usize| context.topology().is_flipped(*f);
        context.faces_of(v).filter(reversed).count() as f64
    });
    vec![
        Measured {
            about: &FOLD,
            values: fold,
        },
        Measured {
            about: &REVERSED,
            values: reversed,
        },
    ]
}
