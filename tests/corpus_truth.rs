//! What the corpus of known faults takes to be true.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod corpus;
mod support;

use std::sync::Arc;

use cagewise::mesh::PolygonMesh;
use corpus::case::{Case, Clean, FaultKind, Intended, Meshed, Truth};
use corpus::faults::{put, sizes};
use corpus::truth::{strays, truth};
use support::cages::{Random, boxed, moved, torus, tube};

fn own_limit(name: &str, mesh: PolygonMesh) -> Arc<Clean> {
    let cage = Meshed::smooth(mesh);
    Arc::new(Clean {
        name: name.to_owned(),
        family: "test",
        intended: Intended::LimitOf(Arc::new(cage.clone())),
        cage,
        is_control: false,
    })
}

#[test]
fn a_cage_is_sound_by_its_own_limit() {
    let clean = own_limit("torus", torus(24, 12, 2.0, 0.7));
    let case = Case {
        cage: clean.cage.clone(),
        clean,
        faults: Vec::new(),
    };
    assert!(truth(&case).iter().all(|t| *t == Truth::Sound));
}

/// Stations from -1 to 1 with a support loop close to either end.
fn held() -> Vec<f64> {
    vec![-1.0, -0.88, -0.5, -0.17, 0.17, 0.5, 0.88, 1.0]
}

#[test]
fn look_drawn() {
    for clean in corpus::controls::controls(1)
        .into_iter()
        .chain(corpus::real::real().unwrap_or_default())
    {
        let start = std::time::Instant::now();
        let case = Case {
            cage: clean.cage.clone(),
            clean: clean.clone(),
            faults: Vec::new(),
        };
        let s = strays(&case);
        let t = truth(&case);
        let n = t.iter().filter(|t| **t == Truth::Sound).count();
        let worst = s.iter().map(|s| s.angle).fold(0.0, f64::max);
        let g = corpus::faults::ground::Ground::new(&clean.cage);
        let mut bends: Vec<f64> = (0..t.len() as u32).map(|v| g.max_bend(v)).collect();
        bends.sort_by(f64::total_cmp);
        println!(
            "{:50} {n}/{} worst {worst:.2} bends median {:.0} max {:.0} mirror {} {:?}",
            clean.name,
            t.len(),
            bends[t.len() / 2],
            bends[t.len() - 1],
            g.mirror.is_some(),
            start.elapsed()
        );
        let dist = s.iter().map(|s| s.distance).fold(0.0, f64::max);
        if dist > 0.1 {
            println!("   off {dist}");
        }
    }
}

#[test]
#[ignore]
fn look() {
    let torus = own_limit("torus", torus(24, 12, 2.0, 0.7));
    let held_box = own_limit("box", boxed(&held(), &held(), &held()));
    let half = torus
        .cage
        .mesh
        .faces()
        .filter(|f| {
            f.iter()
                .all(|&v| torus.cage.mesh.positions()[v as usize].x >= -1e-9)
        })
        .map(<[u32]>::to_vec)
        .collect::<Vec<_>>();
    let half = own_limit(
        "half",
        PolygonMesh::from_faces(torus.cage.mesh.positions().to_vec(), &half).unwrap(),
    );
    for kind in FaultKind::ALL {
        for clean in [&torus, &held_box, &half] {
            for mirrored in [false, true] {
                let start = std::time::Instant::now();
                let mut line = format!("{:20} {:6} {:5}", kind.name(), clean.name, mirrored);
                let [_, plain] = sizes(kind);
                let steps: Vec<f64> = if plain >= 1.0 && sizes(kind)[0] == 0.0 {
                    (0..=plain as usize).map(|x| x as f64).collect()
                } else {
                    (0..=5).map(|i| plain * i as f64 / 5.0).collect()
                };
                for size in steps {
                    let mut random = Random(77);
                    match put(clean, kind, size, mirrored, &mut random) {
                        None => line += "  -",
                        Some(case) => {
                            let t = truth(&case);
                            let f = t.iter().filter(|t| matches!(t, Truth::Faulty(_))).count();
                            let s = t.iter().filter(|t| **t == Truth::Sound).count();
                            let worst = strays(&case).iter().map(|s| s.angle).fold(0.0, f64::max);
                            line += &format!(" {worst:5.1} {f}/{s} |");
                        }
                    }
                }
                println!("{line} {:?}", start.elapsed());
            }
        }
    }
}
