//! Turned forms: a profile turned about the z axis.

use cagewise::mesh::{PolygonMesh, Vec3};

use super::{Drawn, half_of};

pub fn forms() -> Vec<Drawn> {
    let mut forms = Vec::new();
    for (around, near, spans) in [(12, 0.08, 1), (20, 0.05, 2), (32, 0.03, 3)] {
        let half = half_of(&turned(&held(&GROOVED, near, spans), around, true));
        forms.push(Drawn::new("half of a turned form", half));
        let turn = |corners: &[[f64; 2]]| turned(&held(corners, near, spans), around, true);
        forms.push(Drawn::new("stepped turned form", turn(&STEPPED)));
        forms.push(Drawn::new("grooved turned form", turn(&GROOVED)));
        let profile = flask(near, 4 * spans + 4);
        let fillets = "fillets beside broad curves";
        forms.push(Drawn::new(fillets, turned(&profile, around, true)));
    }
    forms
}

/// A hollow part with two steps, corner by corner: radius, height.
const STEPPED: [[f64; 2]; 8] = [
    [0.4, 0.0],
    [1.4, 0.0],
    [1.4, 0.5],
    [1.0, 0.5],
    [1.0, 1.0],
    [0.7, 1.0],
    [0.7, 1.6],
    [0.4, 1.6],
];

/// A pulley: a groove with slanted sides.
const GROOVED: [[f64; 2]; 8] = [
    [0.5, 0.0],
    [1.5, 0.0],
    [1.5, 0.35],
    [1.0, 0.5],
    [1.0, 0.7],
    [1.5, 0.85],
    [1.5, 1.2],
    [0.5, 1.2],
];

/// A closed profile with a support point `near` before and after each corner, and the spans between
/// cut into `spans`.
pub fn held(corners: &[[f64; 2]], near: f64, spans: usize) -> Vec<[f64; 2]> {
    let mut profile = Vec::new();
    for (i, &a) in corners.iter().enumerate() {
        let b = corners[(i + 1) % corners.len()];
        let length = ((b[0] - a[0]).powi(2) + (b[1] - a[1]).powi(2)).sqrt();
        let at = |t: f64| [a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t];
        let margin = near.min(length / 3.0) / length;
        profile.push(a);
        profile.push(at(margin));
        for k in 1..spans {
            profile.push(at(margin + (1.0 - 2.0 * margin) * k as f64 / spans as f64));
        }
        profile.push(at(1.0 - margin));
    }
    profile
}

/// A vessel: a broad belly that runs into a tight foot and a tight lip, and back inside.
fn flask(near: f64, spans: usize) -> Vec<[f64; 2]> {
    let belly = |t: f64, wall: f64| {
        let a = std::f64::consts::PI * (0.15 + 0.7 * t);
        [0.5 + 0.8 * a.sin() - wall, 1.0 - 0.9 * a.cos()]
    };
    let mut profile = Vec::new();
    let shares = (0..=spans).map(|k| k as f64 / spans as f64);
    let inside = shares.clone().rev().map(|t| belly(t, 0.25));
    let sides: [Vec<[f64; 2]>; 2] = [shares.map(|t| belly(t, 0.0)).collect(), inside.collect()];
    for side in &sides {
        // The ends of a side are corners: each is held by a point close by.
        let last = side.len() - 1;
        let towards = |a: [f64; 2], b: [f64; 2]| {
            let length = ((b[0] - a[0]).powi(2) + (b[1] - a[1]).powi(2)).sqrt();
            let t = near / length;
            [a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t]
        };
        profile.push(side[0]);
        profile.push(towards(side[0], side[1]));
        profile.extend(&side[1..last]);
        profile.push(towards(side[last], side[last - 1]));
        profile.push(side[last]);
        // The ring between the two sides.
        let other = if std::ptr::eq(side, &sides[0]) {
            &sides[1][0]
        } else {
            &sides[0][0]
        };
        profile.push(towards(side[last], *other));
        profile.push(towards(*other, side[last]));
    }
    profile
}

/// Turns a profile that runs anticlockwise, seen with the radius to the right and the height up.
pub fn turned(profile: &[[f64; 2]], around: usize, closed: bool) -> PolygonMesh {
    let n = profile.len();
    let mut positions = Vec::new();
    let mut faces = Vec::new();
    for i in 0..around {
        let (sin, cos) = (i as f64 / around as f64 * std::f64::consts::TAU).sin_cos();
        for (k, &[r, z]) in profile.iter().enumerate() {
            positions.push(Vec3::new(r * cos, r * sin, z));
            let at = |i: usize, k: usize| (i % around * n + k % n) as u32;
            if closed || k + 1 < n {
                faces.push([at(i, k), at(i + 1, k), at(i + 1, k + 1), at(i, k + 1)]);
            }
        }
    }
    PolygonMesh::from_faces(positions, &faces).unwrap()
}
