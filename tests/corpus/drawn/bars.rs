//! Bars and blades with held edges.

use cagewise::mesh::{PolygonMesh, Vec3};

use super::Drawn;
use super::held::stations;
use super::turned::turned;
use crate::support::cages::{boxed, even, moved};

pub fn forms() -> Vec<Drawn> {
    let mut forms = Vec::new();
    for (n, near) in [(2, 0.15), (4, 0.07)] {
        forms.push(Drawn::new("square ring", square_ring(12 * n, n, near)));
        forms.push(Drawn::new("twisted bar", twisted_bar(n, near)));
        forms.push(Drawn::new("rudder blade", blade(n, near)));
    }
    forms
}

/// A ring whose section is a square with held corners.
fn square_ring(around: usize, spans: usize, near: f64) -> PolygonMesh {
    let side = stations(spans, near);
    let sides = [[1.0, 0.0], [0.0, -1.0], [-1.0, 0.0], [0.0, 1.0]];
    let mut profile = Vec::new();
    for [x, y] in sides {
        for &t in &side[..side.len() - 1] {
            profile.push([2.0 + 0.5 * (y - x * t), 0.5 * (x + y * t)]);
        }
    }
    // Against the way that profiles are turned.
    profile.reverse();
    turned(&profile, around, true)
}

/// A square bar with held edges, wrung by a third of a turn.
fn twisted_bar(n: usize, near: f64) -> PolygonMesh {
    let side = stations(n, near);
    let mut along = even(5 * n);
    along.insert(1, -1.0 + 0.3 * near);
    along.push(1.0);
    let before_last = along.len() - 2;
    along[before_last] = 1.0 - 0.3 * near;
    moved(&boxed(&side, &side, &along), |p| {
        let (sin, cos) = (p.z * std::f64::consts::FRAC_PI_3).sin_cos();
        Vec3::new(
            0.4 * (p.x * cos - p.y * sin),
            0.4 * (p.x * sin + p.y * cos),
            2.2 * p.z,
        )
    })
}

/// A blade that is thick in front, thin behind, and swept back towards its end.
fn blade(n: usize, near: f64) -> PolygonMesh {
    let (chord, width) = (stations(2 * n, near), stations(1, 2.0 * near));
    moved(&boxed(&chord, &width, &stations(2 * n, near)), |p| {
        let thick = 0.05 + 0.11 * (1.0 - p.x) * (1.0 + 0.4 * p.x);
        let sweep = 0.25 * (p.z + 1.0) * (p.z + 1.0);
        let taper = 1.0 - 0.15 * (p.z + 1.0);
        Vec3::new(p.x * taper + sweep, p.y * thick * taper, 1.6 * p.z)
    })
}
