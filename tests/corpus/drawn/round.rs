//! Round forms without an edge.

use std::sync::Arc;

use cagewise::mesh::{PolygonMesh, Vec3};

use super::{Drawn, half_of};
use crate::support::cages::{cube_sphere, even, height_grid, moved, torus, tube};

pub fn forms() -> Vec<Drawn> {
    let mut forms = Vec::new();
    for n in [4, 6, 9] {
        forms.push(sphere(n));
        forms.push(Drawn::new("ellipsoid", ellipsoid(n)));
    }
    for (around, across) in [(16, 8), (24, 12), (32, 18)] {
        forms.push(a_torus(around, across, 2.0, 0.7));
        forms.push(Drawn::new("bent pipe", bent_pipe(across, around)));
    }
    forms.push(a_torus(20, 14, 1.0, 0.6));
    for (around, along) in [(10, 5), (16, 8), (24, 12)] {
        forms.push(cylinder(around, along));
    }
    for (n, twist) in [(8, 0.08), (12, 0.05), (16, 0.03)] {
        let middle = n as f64 / 2.0;
        let height = |x: f64, y: f64| twist * (x - middle) * (y - middle);
        forms.push(Drawn::new("saddle", height_grid(n, n, height)));
    }
    for n in [6, 8] {
        let whole = hull(n);
        forms.push(Drawn::new("half", half_of(&whole)));
        forms.push(Drawn::new("whole of a half", whole));
    }
    forms
}

fn sphere(n: usize) -> Drawn {
    let nearest = |p: &Vec3| (p.normalize(), p.normalize());
    Drawn {
        family: "sphere",
        mesh: cube_sphere(n),
        // The limit of a coarser one is seen to be none, at its 8 poles of valence 3.
        formula: (n > 6).then(|| Arc::new(nearest) as _),
    }
}

fn ellipsoid(n: usize) -> PolygonMesh {
    let radii = Vec3::new(2.0, 1.0, 0.7);
    moved(&cube_sphere(n), |p| p.component_mul(&radii))
}

fn a_torus(around: usize, across: usize, ring: f64, tube: f64) -> Drawn {
    let nearest = move |p: &Vec3| {
        let spine = Vec3::new(p.x, p.y, 0.0).normalize() * ring;
        let normal = (p - spine).normalize();
        (spine + normal * tube, normal)
    };
    Drawn {
        family: "torus",
        mesh: torus(around, across, ring, tube),
        // A coarser one strays from the formula by up to 4 degrees.
        formula: (across >= 12).then(|| Arc::new(nearest) as _),
    }
}

fn cylinder(around: usize, along: usize) -> Drawn {
    let nearest = |p: &Vec3| {
        let normal = Vec3::new(p.x, p.y, 0.0).normalize();
        (normal + Vec3::new(0.0, 0.0, p.z), normal)
    };
    Drawn {
        family: "cylinder",
        mesh: tube(around, &even(along)),
        formula: Some(Arc::new(nearest)),
    }
}

/// A pipe that runs straight, turns by a quarter and runs straight again; open at both ends.
fn bent_pipe(around: usize, along: usize) -> PolygonMesh {
    const RADIUS: f64 = 0.35;
    let quarter = std::f64::consts::FRAC_PI_2;
    let stations: Vec<f64> = even(along)
        .iter()
        .map(|s| s * (1.0 + quarter / 2.0))
        .collect();
    moved(&tube(around, &stations), |p| {
        let (x, y) = (p.x * RADIUS, p.y * RADIUS);
        // Along the spine from the middle of the bend, whose radius is 1.
        let s = p.z;
        let turn = s.clamp(-quarter / 2.0, quarter / 2.0);
        let (sin, cos) = turn.sin_cos();
        let outward = Vec3::new(cos, 0.0, sin);
        let forward = Vec3::new(-sin, 0.0, cos);
        outward * (1.0 + x) + Vec3::new(0.0, y, 0.0) + forward * (s - turn)
    })
}

/// A hull-like body, alike on both sides of x = 0; `n` is even, so that edges run there.
fn hull(n: usize) -> PolygonMesh {
    moved(&cube_sphere(n), |p| {
        let taper = 1.0 - 0.35 * p.y * p.y.abs();
        Vec3::new(0.8 * p.x * taper, 2.0 * p.y, 0.7 * p.z + 0.15 * p.y * p.y)
    })
}
