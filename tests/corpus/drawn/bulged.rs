//! Boxes whose sides bulge between held edges, like cushions and floats.

use cagewise::mesh::{PolygonMesh, Vec3};

use super::Drawn;
use super::held::stations;
use crate::support::cages::{boxed, moved};

/// How a box bulges.
struct Bulge {
    /// Spans of a side between its support loops.
    spans: usize,
    /// Distance of the support loops from the edges; half a side is 1.
    near: f64,
    /// Height of the bulges.
    height: f64,
    /// Power of the bulge's outline: 1 rises evenly from the edges, less rises steeply and is flat
    /// on top.
    fullness: f64,
    /// How much the corners are drawn in, seen from above.
    drawn_in: f64,
}

const BULGES: [Bulge; 4] = [
    Bulge {
        spans: 4,
        near: 0.12,
        height: 0.3,
        fullness: 1.0,
        drawn_in: 0.0,
    },
    Bulge {
        spans: 5,
        near: 0.08,
        height: 0.25,
        fullness: 0.6,
        drawn_in: 0.35,
    },
    Bulge {
        spans: 7,
        near: 0.05,
        height: 0.35,
        fullness: 0.5,
        drawn_in: 0.0,
    },
    Bulge {
        spans: 8,
        near: 0.06,
        height: 0.2,
        fullness: 0.75,
        drawn_in: 0.25,
    },
];

pub fn forms() -> Vec<Drawn> {
    let form = |bulge: &Bulge| Drawn::new("bulged box", bulged(bulge));
    BULGES.iter().map(form).collect()
}

fn bulged(bulge: &Bulge) -> PolygonMesh {
    let s = stations(bulge.spans, bulge.near);
    moved(&boxed(&s, &s, &s), |p| {
        let inside = p.map(|x| 1.0 - x * x);
        let out = Vec3::from_fn(|i, _| {
            let side = inside[(i + 1) % 3] * inside[(i + 2) % 3];
            let rise = bulge.height * side.max(0.0).powf(bulge.fullness);
            if p[i].abs() < 1.0 {
                p[i]
            } else {
                p[i] + p[i].signum() * rise
            }
        });
        let narrowed = |along: f64| (1.0 - bulge.drawn_in * along * along).sqrt();
        Vec3::new(
            out.x * narrowed(p.y),
            1.4 * out.y * narrowed(p.x),
            0.7 * out.z,
        )
    })
}
