//! Helpers that several test programs share.
#![allow(
    dead_code,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stderr
)]

pub mod bench_cages;
pub mod browser;
pub mod cages;
pub mod caps;
pub mod loop_ends;
pub mod naive;
#[cfg(feature = "cli")]
pub mod page;
pub mod reference;
pub mod rings;

use cagewise::mesh::{PolygonMesh, Topology, Vec3};
use cagewise::subdivision::{BoundaryRule, ControlMesh, Creases, Surface};

/// The subdivision surface of a mesh without creases.
pub fn surface_of(mesh: &PolygonMesh) -> Surface {
    creased_surface_of(mesh, &Creases::default(), BoundaryRule::default())
}

/// The subdivision surface of a mesh.
pub fn creased_surface_of(
    mesh: &PolygonMesh,
    creases: &Creases,
    boundary: BoundaryRule,
) -> Surface {
    let topology = Topology::new(mesh);
    assert_eq!(topology.validate(), Vec::<String>::new());
    Surface::new(ControlMesh::new(mesh, topology, creases, boundary))
}

/// Largest distance from a point of `found` to its partner in `wanted` under the best one-to-one
/// match that sorting by position finds; infinite if the counts differ.
pub fn match_by_position(found: &[Vec3], wanted: &[Vec3], cell: f64) -> f64 {
    if found.len() != wanted.len() {
        return f64::INFINITY;
    }
    let key = |p: &Vec3| [p.x, p.y, p.z].map(|x| (x / cell).floor() as i64);
    let mut cells = std::collections::HashMap::<[i64; 3], Vec<usize>>::new();
    for (i, p) in wanted.iter().enumerate() {
        cells.entry(key(p)).or_default().push(i);
    }
    let mut taken = vec![false; wanted.len()];
    let mut worst = 0.0f64;
    for p in found {
        let [x, y, z] = key(p);
        let mut best = (f64::INFINITY, usize::MAX);
        for dx in -1..=1 {
            for dy in -1..=1 {
                for dz in -1..=1 {
                    let near = cells.get(&[x + dx, y + dy, z + dz]);
                    for &i in near.into_iter().flatten() {
                        let d = (wanted[i] - p).norm();
                        if !taken[i] && d < best.0 {
                            best = (d, i);
                        }
                    }
                }
            }
        }
        if best.1 == usize::MAX {
            return f64::INFINITY;
        }
        taken[best.1] = true;
        worst = worst.max(best.0);
    }
    worst
}
