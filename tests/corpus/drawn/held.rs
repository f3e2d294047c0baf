//! Forms whose edges are held by support loops.

use cagewise::mesh::{PolygonMesh, Vec3};

use super::{Drawn, half_of};
use crate::support::cages::{boxed, moved, tube};

/// `n` even spans from -1 to 1, with a support loop at `near` from either end.
pub fn stations(n: usize, near: f64) -> Vec<f64> {
    let mut found = crate::support::cages::even(n);
    found.insert(1, -1.0 + near);
    found.insert(n + 1, 1.0 - near);
    found
}

pub fn forms() -> Vec<Drawn> {
    let mut forms = Vec::new();
    for (n, near) in [(3, 0.15), (4, 0.08), (6, 0.05)] {
        let s = stations(n, near);
        let cube = boxed(&s, &s, &s);
        forms.push(Drawn::new("held box", stretched(&cube, [1.0, 1.5, 0.8])));
        forms.push(Drawn::new("domed panel", domed(n + 3, near)));
        let held = tube(4 * n, &s);
        forms.push(Drawn::new(
            "cylinder with support loops",
            closed(&held, near),
        ));
    }
    for near in [0.06, 0.12] {
        let s = stations(4, near);
        let whole = boxed(&s, &s, &s);
        let whole = moved(&whole, |p| Vec3::new(p.x, 1.6 * p.y, 0.6 * p.z + 0.2 * p.y));
        forms.push(Drawn::new("half of a held box", half_of(&whole)));
        forms.push(Drawn::new("whole of a held half", whole));
    }
    forms
}

fn stretched(mesh: &PolygonMesh, by: [f64; 3]) -> PolygonMesh {
    moved(mesh, |p| p.component_mul(&Vec3::from(by)))
}

/// A slab whose top and bottom are domed.
fn domed(n: usize, near: f64) -> PolygonMesh {
    let side = stations(n, near);
    let slab = boxed(&side, &side, &stations(1, near * 3.0));
    moved(&slab, |p| {
        let dome = (1.0 - p.x * p.x) * (1.0 - p.y * p.y);
        Vec3::new(1.5 * p.x, 1.2 * p.y, 0.2 * p.z + 0.4 * dome)
    })
}

/// A tube closed by flat ends: held rims, a ring inside them, and one face in the middle.
fn closed(tube: &PolygonMesh, near: f64) -> PolygonMesh {
    let mut positions = tube.positions().to_vec();
    let mut faces: Vec<Vec<u32>> = tube.faces().map(<[u32]>::to_vec).collect();
    let low = positions
        .iter()
        .take_while(|p| p.z == positions[0].z)
        .count();
    let last = positions.len() - low;
    for (first, up) in [(0, false), (last, true)] {
        let mut outer: Vec<u32> = (first..first + low).map(|v| v as u32).collect();
        for radius in [1.0 - near, 0.6] {
            let inner: Vec<u32> = (0..low)
                .map(|i| {
                    let p = positions[first + i];
                    positions.push(Vec3::new(p.x * radius, p.y * radius, p.z));
                    positions.len() as u32 - 1
                })
                .collect();
            for i in 0..low {
                let j = (i + 1) % low;
                let mut face = vec![outer[i], outer[j], inner[j], inner[i]];
                if !up {
                    face.reverse();
                }
                faces.push(face);
            }
            outer = inner;
        }
        if !up {
            outer.reverse();
        }
        faces.push(outer);
    }
    PolygonMesh::from_faces(positions, &faces).unwrap()
}
