//! Cages grown from kits of modelling steps are sound, the same for the same seed, and varied.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod corpus;
mod support;

use std::collections::BTreeSet;
use std::sync::OnceLock;

use cagewise::mesh::{PolygonMesh, Topology, Vec3, face_area};
use corpus::case::{Clean, Intended};
use corpus::kits::steps::overlap::{crossing, shells};
use corpus::kits::steps::sound::{LEAST_JACOBIAN, complaint, scaled_jacobian};
use corpus::kits::{FEWEST_VERTICES, Kit, MOST_VERTICES, grown, of_seeds};
use support::cages::{cube, height_grid, tube};
use support::surface_of;

/// Cages of each kit that are looked at.
const COUNT: usize = 22;

/// That many cages of each kit, grown once.
fn cages() -> &'static [Clean] {
    static GROWN: OnceLock<Vec<Clean>> = OnceLock::new();
    GROWN.get_or_init(|| {
        Kit::ALL
            .iter()
            .flat_map(|&kit| of_seeds(kit, 0..COUNT as u64))
            .collect()
    })
}

fn cages_of(kit: Kit) -> impl Iterator<Item = &'static Clean> {
    cages().iter().filter(move |c| c.family == kit.name())
}

fn mesh(clean: &Clean) -> &PolygonMesh {
    &clean.cage.mesh
}

#[test]
fn every_kit_grows_sound_cages_of_the_promised_size() {
    let mut count = 0;
    for kit in Kit::ALL {
        for clean in cages_of(kit) {
            let mesh = mesh(clean);
            let vertices = mesh.vertex_count();
            assert!((FEWEST_VERTICES..=MOST_VERTICES).contains(&vertices));
            let topology = Topology::new(mesh);
            assert_eq!(topology.validate(), Vec::<String>::new(), "{}", clean.name);
            let is_sound = |v| topology.is_manifold(v) && !topology.is_unreferenced(v);
            assert!((0..vertices).all(is_sound), "{}", clean.name);
            for face in mesh.faces().filter(|face| face.len() == 4) {
                let jacobian = scaled_jacobian(mesh, face);
                assert!(jacobian >= LEAST_JACOBIAN, "{}: {jacobian}", clean.name);
            }
            assert_eq!(clean.family, kit.name());
            let Intended::LimitOf(intended) = &clean.intended else {
                panic!("a grown cage is its own intended form");
            };
            assert_eq!(intended.mesh, *mesh);
            count += 1;
        }
    }
    assert_eq!(count, COUNT * Kit::ALL.len());
    assert!(count >= 150, "{count} cages");
}

/// Six times the volume under the faces of a shell, seen from the origin.
fn volume(mesh: &PolygonMesh, is_in: impl Fn(&[u32]) -> bool) -> f64 {
    let p = |v: u32| mesh.positions()[v as usize];
    mesh.faces()
        .filter(|face| is_in(face))
        .flat_map(|face| (1..face.len() - 1).map(move |k| [face[0], face[k], face[k + 1]]))
        .map(|[a, b, c]| p(a).dot(&p(b).cross(&p(c))))
        .sum()
}

#[test]
fn closed_shells_are_wound_outward() {
    for clean in cages() {
        let mesh = mesh(clean);
        let topology = Topology::new(mesh);
        let shell = shells(mesh);
        let open: BTreeSet<u32> = (0..topology.corner_count())
            .filter(|&c| topology.twin(c).is_none())
            .map(|c| shell[topology.vertex(c)])
            .collect();
        for one in shell.iter().collect::<BTreeSet<_>>() {
            let is_in = |face: &[u32]| shell[face[0] as usize] == *one;
            if !open.contains(one) {
                assert!(volume(mesh, is_in) > 0.0, "{}", clean.name);
            }
        }
    }
}

/// A limit without a normal, or that looks away from the cage, has a fold or a cusp.
#[test]
fn the_limit_has_a_normal_at_every_vertex_that_looks_as_the_faces_there_do() {
    const FOLDED: f64 = 80.0;
    for clean in cages() {
        let surface = surface_of(mesh(clean));
        let topology = surface.control().topology();
        let positions = mesh(clean).positions();
        for v in (0..positions.len()).filter(|&v| topology.is_interior(v)) {
            let normal_of =
                |c: usize| face_area(topology, positions, topology.face_of(c)).normalize();
            let faces: Vec3 = topology.corners_of(v).map(normal_of).sum();
            let normal = surface.vertex_limit(v).1.unwrap();
            let angle = normal.angle(&faces).to_degrees();
            assert!(angle < FOLDED, "{}, vertex {v}: {angle:.0}", clean.name);
        }
    }
}

#[test]
fn the_same_seed_grows_the_same_cage_and_another_seed_another() {
    for kit in Kit::ALL {
        assert_eq!(mesh(&grown(kit, 3)), mesh(&grown(kit, 3)));
        for seed in 0..6 {
            assert_ne!(mesh(&grown(kit, seed)), mesh(&grown(kit, seed + 1)));
        }
    }
}

fn pole_count(mesh: &PolygonMesh) -> usize {
    let topology = Topology::new(mesh);
    let is_pole = |v: &usize| topology.is_interior(*v) && topology.valence(*v) != 4;
    (0..mesh.vertex_count()).filter(is_pole).count()
}

/// Whether every vertex has one at its mirror image in x, up to a ten-millionth of the size.
fn is_mirrored(mesh: &PolygonMesh) -> bool {
    let size = mesh
        .positions()
        .iter()
        .map(|p| p.amax())
        .fold(0.0, f64::max);
    let near = |p: &Vec3, q: &Vec3| (p - q).amax() < 1e-7 * size;
    mesh.positions().iter().all(|p| {
        let image = Vec3::new(-p.x, p.y, p.z);
        mesh.positions().iter().any(|q| near(q, &image))
    })
}

fn share(holds: impl Fn(&PolygonMesh) -> bool) -> f64 {
    let cages = cages();
    cages.iter().filter(|c| holds(mesh(c))).count() as f64 / cages.len() as f64
}

#[test]
fn each_kit_varies_in_resolution_and_poles() {
    for kit in Kit::ALL {
        let counts = |of: &dyn Fn(&PolygonMesh) -> usize| -> BTreeSet<usize> {
            cages_of(kit).map(|c| of(mesh(c))).collect()
        };
        let vertices = counts(&PolygonMesh::vertex_count);
        let (least, most) = (vertices.first().unwrap(), vertices.last().unwrap());
        assert!(most >= &(2 * least), "{kit:?}: {least} to {most} vertices");
        let poles = counts(&pole_count);
        assert!(poles.len() >= COUNT / 3, "{kit:?}: {poles:?} poles");
    }
}

#[test]
fn the_kits_together_have_what_real_props_have() {
    let several = |mesh: &PolygonMesh| shells(mesh).iter().collect::<BTreeSet<_>>().len() > 1;
    let bordered = |mesh: &PolygonMesh| {
        let topology = Topology::new(mesh);
        (0..topology.corner_count()).any(|c| topology.twin(c).is_none())
    };
    for (what, found) in [
        ("mirrored", share(is_mirrored)),
        ("of several shells", share(several)),
        ("with borders", share(bordered)),
        ("with triangles", share(|m| m.faces().any(|f| f.len() == 3))),
        ("with n-gons", share(|m| m.faces().any(|f| f.len() > 4))),
        ("with many poles", share(|m| pole_count(m) >= 24)),
    ] {
        assert!((0.15..=0.85).contains(&found), "{found:.2} {what}");
    }
}

/// A change of a mesh's positions and faces.
type Change<'a> = &'a dyn Fn(&mut Vec<Vec3>, &mut Vec<Vec<u32>>);

#[test]
fn complaints_are_made_of_what_is_not_sound() {
    assert_eq!(complaint(&cube()), None);
    assert_eq!(complaint(&tube(8, &[0.0, 1.0, 2.0])), None);
    let with = |change: Change| {
        let grid = height_grid(3, 3, |_, _| 0.0);
        let mut positions = grid.positions().to_vec();
        let mut faces = grid.faces().map(<[u32]>::to_vec).collect();
        change(&mut positions, &mut faces);
        complaint(&PolygonMesh::from_faces(positions, &faces).unwrap()).unwrap_or_default()
    };
    assert!(with(&|p, _| p[5] = Vec3::new(2.2, 2.2, 0.0)).contains("Jacobian"));
    assert!(with(&|p, _| p[1] = p[0]).contains("Jacobian"));
    assert!(with(&|_, f| f[4].reverse()).contains("wound"));
    // Two faces that touch in one vertex.
    let apart = |face: &Vec<u32>| *face != [1, 2, 6, 5] && *face != [4, 5, 9, 8];
    assert!(with(&|_, f| f.retain(apart)).contains("not manifold"));
    assert!(
        with(&|p, f| {
            p.extend([5.0, 6.0, 8.0].map(|x| Vec3::new(x, 0.0, 0.0)));
            f.push(vec![16, 17, 18]);
        })
        .contains("no area")
    );
}

#[test]
fn a_shell_that_runs_through_itself_is_told_from_two_that_run_through_each_other() {
    let bent = |z: f64| {
        let far = Vec3::new(0.4, 0.4, z);
        let mut positions = vec![
            Vec3::zeros(),
            Vec3::x(),
            Vec3::new(1.0, 1.0, 0.0),
            Vec3::y(),
        ];
        positions.extend([Vec3::new(2.0, 0.5, 1.0), far]);
        positions
    };
    let one = |z: f64| PolygonMesh::from_faces(bent(z), &[vec![0, 1, 2, 3], vec![1, 4, 2]]);
    assert_eq!(crossing(&one(1.0).unwrap()), None);
    let joined = [vec![0u32, 1, 2, 3], vec![2, 1, 4], vec![4, 1, 5]];
    assert_eq!(
        crossing(&PolygonMesh::from_faces(bent(0.5), &joined).unwrap()),
        None
    );
    let through = PolygonMesh::from_faces(bent(-0.5), &joined).unwrap();
    assert_eq!(crossing(&through), Some(([4, 5], 0)));
    let mut apart = bent(-0.5);
    apart.extend([
        Vec3::new(1.0, 0.0, 0.5),
        Vec3::new(2.0, 0.5, 1.0),
        Vec3::new(0.4, 0.4, -0.5),
    ]);
    let shells = [vec![0u32, 1, 2, 3], vec![6, 7, 8]];
    assert_eq!(
        crossing(&PolygonMesh::from_faces(apart, &shells).unwrap()),
        None
    );
}
