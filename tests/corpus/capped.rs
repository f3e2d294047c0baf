//! Turned bodies whose ends are closed by one face or by a fan of triangles: behind loops that hold the
//! rim, where that does no harm, or bare. Round a bare rim the limit ripples from spoke to spoke, the
//! more the more of them there are: every edge of it is drawn further in than its ends.
//!
//! No place of a cage of another make can be given this fault, since no cage of the same outline is
//! without it; so these come as whole cases.

use std::sync::Arc;

use nalgebra::Matrix3;

use super::case::{Case, Clean, Fault, FaultKind, Intended, Meshed, Sides};
use super::drawn::affine;
use crate::support::cages::{Random, closed_round, moved};

/// Sides of the bodies. Those of few sides come more often: there it is hardest to tell what is seen. With
/// fewer still a body is hardly round, and what is meant is not known.
const SIDES: [usize; 15] = [10, 10, 12, 12, 14, 14, 16, 16, 18, 20, 24, 28, 32, 40, 48];

/// Sides of globes besides.
const FEW_SIDES: [usize; 2] = [6, 8];

/// Rows of quads from rim to rim: of bodies as they are first put in there is one.
const SPANS: [usize; 9] = [1, 1, 1, 2, 2, 3, 4, 5, 6];

/// How far the loops stay off the rim that they hold, as a part of the way from it to the apex or to the
/// axis, and as that part of the radius down the side: from the first number on, by up to the second more.
const HOLD: [f64; 2] = [0.04, 0.08];

/// On the side at most this part of the first row of quads.
const HOLD_MOST: f64 = 0.3;

/// Share of ends whose rim is drawn in from the ring before it.
const SHOULDERS: f64 = 0.3;

/// Share of fans that are flat.
const FLAT: f64 = 0.5;

/// Heights of the apex of fans that are not flat, in radii of the rim: hollow ones and cones.
const RISES: [f64; 2] = [-0.4, 0.8];

/// How the ends of a body are closed.
#[derive(Clone, Copy)]
struct Cap {
    /// By a fan about an apex; else by one face.
    fan: bool,
    /// Height of the apex over the rim, in radii of it.
    rise: f64,
    /// How far loops stay off the rim on both sides, see [`HOLD`]; `None` if it is bare.
    hold: Option<f64>,
}

/// Bodies with bare caps and with held ones, two of each for each of [`SIDES`], and globes whose poles
/// are fans; upright or under a map. About half of those with a bare end have a held one as well.
pub fn capped(seed: u64) -> Vec<Case> {
    let mut random = Random(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1);
    let mut found = Vec::new();
    for sides in SIDES {
        for fan in [false, true] {
            let other = random.unit() < 0.5;
            let ends = match random.unit() < 0.5 {
                true => [true, other],
                false => [other, true],
            };
            for bare in [ends, [false; 2]] {
                let caps = bare.map(|bare| cap(fan, bare, &mut random));
                let outline = with_holds(&side(sides, &mut random), &caps);
                found.push(body(sides, &outline, &caps, &mut random));
            }
        }
    }
    for sides in SIDES.into_iter().chain(FEW_SIDES) {
        found.push(globe(sides, &mut random));
    }
    found
}

fn cap(fan: bool, bare: bool, random: &mut Random) -> Cap {
    let rise = match !fan || random.unit() < FLAT {
        true => 0.0,
        false => RISES[0] + (RISES[1] - RISES[0]) * random.unit(),
    };
    let hold = (!bare).then(|| HOLD[0] + HOLD[1] * random.unit());
    Cap { fan, rise, hold }
}

/// A round form of rings about two poles, drawn out or flattened: its fans go on as the rings do, which
/// ripples next to nothing.
fn globe(sides: usize, random: &mut Random) -> Case {
    let rings = (sides / 2 + random.below(4)).max(4);
    let height = 0.5 + random.unit();
    let at = |k: usize| {
        let (sin, cos) = (std::f64::consts::PI * k as f64 / rings as f64).sin_cos();
        [sin, -height * cos]
    };
    let outline: Vec<[f64; 2]> = (1..rings).map(at).collect();
    let [radius, z] = outline[0];
    let pole = Cap {
        fan: true,
        rise: (height + z) / radius,
        hold: None,
    };
    let mut globe = body(sides, &outline, &[pole; 2], random);
    globe.faults.clear();
    let clean = (*globe.clean).clone();
    globe.clean = Arc::new(Clean {
        name: format!("globe of {sides} sides"),
        is_control: true,
        ..clean
    });
    globe
}

/// A body of an outline from the lower rim to the upper, with a fault at each end that is bare. There is no
/// cage of it without: the clean one is the same.
fn body(sides: usize, outline: &[[f64; 2]], caps: &[Cap; 2], random: &mut Random) -> Case {
    let ends = [(0, -1.0), (outline.len() - 1, 1.0)];
    let apexes = std::array::from_fn(|end| {
        let (k, up) = ends[end];
        let [radius, z] = outline[k];
        caps[end].fan.then(|| z + up * caps[end].rise * radius)
    });
    let (mesh, rims) = closed_round(outline, sides, apexes);
    let map = match random.unit() < 0.5 {
        true => Matrix3::identity(),
        false => affine(random),
    };
    let bare = rims.into_iter().zip(caps).filter(|(_, c)| c.hold.is_none());
    let faults = bare.map(|(sites, _)| Fault {
        kind: FaultKind::BareCap,
        sites,
        sides: Sides::One,
        size: sides as f64,
    });
    let faults: Vec<Fault> = faults.collect();
    let cage = Meshed::smooth(moved(&mesh, |p| map * p));
    let manner = if faults.is_empty() { "held" } else { "bare" };
    let clean = Clean {
        name: format!("capped body of {sides} sides, {manner}"),
        family: "capped body",
        cage: cage.clone(),
        intended: Intended::Turned(map),
        is_control: faults.is_empty(),
    };
    Case {
        clean: Arc::new(clean),
        cage,
        faults,
    }
}

/// The outline of a side from the lower rim to the upper, radius and height: straight, tapered or
/// bellied, with or without shoulders; its quads are from half as high to eight times as high as wide.
fn side(sides: usize, random: &mut Random) -> Vec<[f64; 2]> {
    let wide = std::f64::consts::TAU / sides as f64;
    let spans = SPANS[random.below(SPANS.len())];
    let height = spans as f64 * wide * 0.5 * 16f64.powf(random.unit());
    let taper = 0.9 * (random.unit() - 0.5) * random.unit();
    let belly = if random.unit() < 0.4 {
        0.4 * random.unit()
    } else {
        0.0
    };
    let at = |k: usize| {
        let t = k as f64 / spans as f64;
        let radius = 1.0 + taper * (t - 0.5) + belly * (std::f64::consts::PI * t).sin();
        [radius, height * t]
    };
    let mut outline: Vec<[f64; 2]> = (0..=spans).map(at).collect();
    for up in [-1.0, 1.0] {
        if random.unit() < SHOULDERS {
            let end = outline[if up < 0.0 { 0 } else { outline.len() - 1 }];
            let shoulder = [
                end[0] * (0.9 - 0.4 * random.unit()),
                end[1] + up * 0.4 * random.unit(),
            ];
            let at = if up < 0.0 { 0 } else { outline.len() };
            outline.insert(at, shoulder);
        }
    }
    outline
}

/// The outline with the points that hold its ends: one on the side, and one on the cap.
fn with_holds(side: &[[f64; 2]], caps: &[Cap; 2]) -> Vec<[f64; 2]> {
    let mut outline = side.to_vec();
    let between =
        |a: [f64; 2], b: [f64; 2], t: f64| [a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t];
    for (cap, upper) in caps.iter().zip([false, true]) {
        let Some(hold) = cap.hold else { continue };
        if upper {
            outline.reverse();
        }
        let (rim, next) = (outline[0], outline[1]);
        let span = (next[0] - rim[0]).hypot(next[1] - rim[1]);
        let up = if upper { 1.0 } else { -1.0 };
        let apex = [0.0, rim[1] + up * cap.rise * rim[0]];
        outline.insert(1, between(rim, next, (hold * rim[0] / span).min(HOLD_MOST)));
        outline.insert(0, between(rim, apex, hold));
        if upper {
            outline.reverse();
        }
    }
    outline
}
