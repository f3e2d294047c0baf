//! What looks odd and does no harm: cages on which a flag is a false one.

use std::sync::Arc;

use cagewise::mesh::{PolygonMesh, Vec3};

use super::case::{Clean, FaultKind, Intended, Meshed};
use super::drawn::affine;
use super::drawn::turned::{held, turned};
use super::faults::{Place, made_at};
use crate::support::cages::{Random, cube_sphere, height_grid, moved, torus, tube};
use crate::support::rings::Sectors;

/// The same oddities as on curved ground, here on flat or nearly flat ground.
const ODDITIES: [FaultKind; 8] = [
    FaultKind::Triangle,
    FaultKind::Ngon,
    FaultKind::CappedHole,
    FaultKind::HighPole,
    FaultKind::TightPole,
    FaultKind::BadLoopEnd,
    FaultKind::UnevenStrip,
    FaultKind::SqueezedLoop,
];

/// Bends, in degrees, of edges that are held tight on purpose.
const BENDS: [f64; 11] = [
    20.0, 30.0, 40.0, 50.0, 60.0, 70.0, 80.0, 90.0, 100.0, 110.0, 120.0,
];

/// All harmless controls; the seed decides places and maps.
pub fn controls(seed: u64) -> Vec<Arc<Clean>> {
    let mut random = Random(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1);
    let mut found = oddities(&mut random);
    found.extend(tight_loops(&mut random));
    found.extend(prisms());
    found.extend(graded(&mut random));
    found.extend(flat_poles(&mut random));
    found
}

fn control(name: String, family: &'static str, cage: Meshed, intended: Meshed) -> Arc<Clean> {
    Arc::new(Clean {
        name,
        family,
        intended: Intended::LimitOf(Arc::new(intended)),
        cage,
        is_control: true,
    })
}

fn own(name: String, family: &'static str, mesh: PolygonMesh) -> Arc<Clean> {
    let cage = Meshed::smooth(mesh);
    control(name, family, cage.clone(), cage)
}

/// Oddities in the middle of a sheet whose normals turn by no more than two degrees an edge. The
/// form is the sheet without them.
fn oddities(random: &mut Random) -> Vec<Arc<Clean>> {
    const N: usize = 14;
    let mut found = Vec::new();
    for rise in [0.0, 0.004, 0.015] {
        let middle = N as f64 / 2.0;
        let sheet = height_grid(N, N, |x, y| {
            rise * ((x - middle).powi(2) - 0.5 * (y - middle).powi(2))
        });
        for kind in ODDITIES {
            for size in [1.0, 2.0] {
                let map = affine(random);
                let sheet = Meshed::smooth(moved(&sheet, |p| map * p));
                let row = N as u32 + 1;
                let v = (6 + random.below(3) as u32) * row + 6 + random.below(3) as u32;
                let way = [v + 1, v - 1, v + row, v - row][random.below(4)];
                let place = Place {
                    edge: [v, way],
                    left: random.unit() < 0.5,
                    open: std::array::from_fn(|_| random.unit()),
                };
                let is_slid = matches!(kind, FaultKind::UnevenStrip | FaultKind::SqueezedLoop);
                let size = if is_slid { 0.4 * size } else { size };
                let Some(cage) = made_at(&sheet, kind, size, &place) else {
                    continue;
                };
                let name = format!("{} on flat ground ({rise}, {size})", kind.name());
                found.push(control(name, "oddity on flat ground", cage, sheet));
            }
        }
    }
    found
}

/// Sheets bent once, with the bend held by a loop on either side.
fn tight_loops(random: &mut Random) -> Vec<Arc<Clean>> {
    let mut found = Vec::new();
    for bend in BENDS {
        for near in [0.12, 0.3] {
            let stations = [-4.0, -3.0, -2.0, -1.0, -near, 0.0, near, 1.0, 2.0, 3.0, 4.0];
            let grid = height_grid(stations.len() - 1, 8, |_, _| 0.0);
            let half = (bend / 2.0f64).to_radians();
            let sheet = moved(&grid, |p| {
                let s: f64 = stations[p.x as usize];
                Vec3::new(s * half.cos(), p.y, -s.abs() * half.sin())
            });
            let name = format!("bend of {bend} degrees held at {near}");
            let map = affine(random);
            let mapped = moved(&sheet, |p| map * p);
            found.push(own(
                format!("{name}, affine"),
                "deliberate tight loop",
                mapped,
            ));
            found.push(own(name, "deliberate tight loop", sheet));
        }
    }
    found
}

/// Rings whose section is a regular polygon with held corners: exterior angles from 20 to 120
/// degrees that come again and again.
fn prisms() -> Vec<Arc<Clean>> {
    let corners = |n: usize| -> Vec<[f64; 2]> {
        let turn = |i: usize| i as f64 / n as f64 * std::f64::consts::TAU;
        let corner = |i| [3.0 + turn(i).cos(), turn(i).sin()];
        (0..n).map(corner).collect()
    };
    let prism = |n: usize| {
        let profile = held(&corners(n), 0.4 / n as f64, 2);
        let name = format!("ring of {n} held corners");
        own(name, "deliberate tight loop", turned(&profile, 24, true))
    };
    [3, 4, 5, 6, 8, 12, 18].map(prism).into()
}

/// Spacing that grows by the same factor from loop to loop.
fn graded(random: &mut Random) -> Vec<Arc<Clean>> {
    let mut found = Vec::new();
    for factor in [1.05f64, 1.12, 1.2] {
        let mut stations = vec![0.0];
        for k in 0..12 {
            stations.push(stations[k] + 0.15 * factor.powi(k as i32));
        }
        let straight = tube(20, &stations);
        // Graded along the turn of a bow as well: half a ring.
        let length = stations[stations.len() - 1];
        let bow = moved(&straight, |p| {
            let turn = p.z / length * std::f64::consts::PI;
            let out = 2.0 + 0.5 * p.x;
            Vec3::new(out * turn.cos(), 0.5 * p.y, out * turn.sin())
        });
        for (what, mesh) in [("tube", straight), ("bow", bow)] {
            let map = affine(random);
            let name = format!("{what} graded by {factor}");
            let mapped = moved(&mesh, |p| map * p);
            found.push(own(format!("{name}, affine"), "graded spacing", mapped));
            found.push(own(name, "graded spacing", mesh));
        }
    }
    // A gentle wave of the spacing all round.
    for swing in [0.15, 0.3] {
        let wave = moved(&torus(32, 16, 2.0, 0.7), |p| {
            let turn = p.y.atan2(p.x);
            let (sin, cos) = (turn + swing * turn.sin()).sin_cos();
            let out = p.x.hypot(p.y);
            Vec3::new(out * cos, out * sin, p.z)
        });
        found.push(own(
            format!("ring with a wave of {swing}"),
            "graded spacing",
            wave,
        ));
    }
    let ball = moved(&cube_sphere(8), |p| {
        (p + Vec3::new(0.2, 0.1, 0.0)).normalize()
    });
    found.push(own(
        "sphere graded to one side".to_owned(),
        "graded spacing",
        ball,
    ));
    found
}

/// Poles of every usual valence on flat ground.
fn flat_poles(random: &mut Random) -> Vec<Arc<Clean>> {
    let pole = |valence: usize| {
        let sectors = Sectors { valence, reach: 4 };
        let map = affine(random);
        let points = sectors.flat().iter().map(|p| map * p).collect();
        let name = format!("pole of valence {valence} on flat ground");
        own(name, "pole on flat ground", sectors.cage(points))
    };
    [3, 5, 6, 7, 8, 10].map(pole).into()
}
