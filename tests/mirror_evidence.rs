//! What a shell's own symmetry says of its vertices.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;

use cagewise::measure::MeasureContext;
use cagewise::mesh::{PolygonMesh, Topology, Vec3};
use cagewise::risk::evidence::mirror_strays;
use cagewise::risk::evidence::rings::Rings;
use cagewise::risk::evidence::symmetry::Symmetry;
use nalgebra::{Matrix3, Rotation3, Unit};
use support::cages::{
    boxed, cube_sphere, even, held_slab, moved, nearest, pushed, random_cage, torus,
};
use support::surface_of;

/// Degrees that rounding leaves where nothing strays.
const ROUNDING: f64 = 1e-6;

/// A slab that has been through a linear map: what were planes of symmetry are none any more.
fn sheared_slab() -> PolygonMesh {
    let map = Matrix3::new(1.0, 0.3, 0.2, 0.0, 1.0, 0.4, 0.0, 0.0, 1.0);
    moved(&held_slab(), |p| map * p + Vec3::new(3.0, 1.0, 2.0))
}

/// By how much each vertex of a cage strays from the second of its images.
fn strays(mesh: &PolygonMesh) -> Vec<f64> {
    let surface = surface_of(mesh);
    let context = MeasureContext::new(&surface);
    let symmetry = Symmetry::new(&context, &Rings::new(&context));
    let [column] = &mirror_strays::columns(&context, &symmetry)[..] else {
        panic!("not one column");
    };
    column.values.clone()
}

/// The partners of a vertex other than itself.
fn partners_of(symmetry: &Symmetry, v: usize) -> impl Iterator<Item = usize> + '_ {
    let images = symmetry.images(v).map(|(_, w)| w);
    images.filter(move |&w| w != v)
}

#[test]
fn shells_show_the_reflections_that_they_are_their_own_image_under() {
    let axis = Unit::new_normalize(Vec3::new(0.3, -0.8, 0.5));
    let turn = Rotation3::from_axis_angle(&axis, 0.7);
    let ellipsoid = moved(&cube_sphere(6), |p| {
        turn * p.component_mul(&Vec3::new(2.0, 1.0, 0.7)) + Vec3::new(3.0, 1.0, 2.0)
    });
    let prism = moved(&held_slab(), |p| Vec3::new(p.x + 0.3 * p.y, p.y, p.z));
    for (what, mesh, planes) in [
        ("ellipsoid", ellipsoid, 3),
        ("slab", held_slab(), 3),
        (
            "cube, of nine planes",
            boxed(&even(4), &even(4), &even(4)),
            3,
        ),
        ("torus, of many", torus(16, 8, 2.0, 0.7), 3),
        ("sheared slab", sheared_slab(), 3),
        ("slab sheared in one plane", prism, 1),
        ("random cage", random_cage(3), 0),
    ] {
        let surface = surface_of(&mesh);
        let context = MeasureContext::new(&surface);
        let symmetry = Symmetry::new(&context, &Rings::new(&context));
        let partners = |v: usize| partners_of(&symmetry, v);
        let vertices = 0..mesh.vertex_count();
        // A vertex on a plane is its own partner there; off all planes it has one in each.
        let most = vertices.clone().map(|v| partners(v).count()).max();
        assert_eq!(most, Some(planes), "{what}");
        for v in vertices {
            let mutual = partners(v).all(|w| partners(w).any(|u| u == v));
            assert!(mutual, "{what}: vertex {v}");
        }
    }
}

/// Vertices that one task takes on: `RUN` in `src/risk/evidence/partners.rs`.
const PARTNERS_RUN: usize = 8192;

/// Tasks take on runs of some thousand vertices: at a run's beginning nothing is known of a neighbour.
#[test]
fn in_a_shell_that_several_tasks_share_every_vertex_has_its_mirror_images_for_partners() {
    let ellipsoid = moved(&cube_sphere(56), |p| {
        p.component_mul(&Vec3::new(2.0, 1.0, 0.7))
    });
    let surface = surface_of(&ellipsoid);
    let context = MeasureContext::new(&surface);
    let symmetry = Symmetry::new(&context, &Rings::new(&context));
    let at = ellipsoid.positions();
    assert!(at.len() > 2 * PARTNERS_RUN);
    for v in 0..at.len() {
        let is_image = |w: usize, axis: usize| {
            let mut image = at[v];
            image[axis] = -image[axis];
            (at[w] - image).norm() < 1e-9
        };
        let off_planes = (0..3).filter(|&axis| !is_image(v, axis));
        for axis in off_planes {
            let found = partners_of(&symmetry, v).filter(|&w| is_image(w, axis));
            assert_eq!(found.count(), 1, "vertex {v}, axis {axis}");
        }
    }
}

#[test]
fn what_is_mirrored_does_not_stray_from_its_images_even_under_a_linear_map() {
    for mesh in [held_slab(), sheared_slab()] {
        assert!(strays(&mesh).iter().all(|x| *x < ROUNDING));
    }
}

#[test]
fn a_pushed_vertex_strays_and_its_images_do_not_where_there_are_three_of_them() {
    for mesh in [held_slab(), sheared_slab()] {
        let (v, images) = with_images(&mesh, 3);
        let stray = strays(&pushed(&mesh, v, PUSH));
        assert!((1.0..90.0).contains(&stray[v]), "{}", stray[v]);
        // The planes are fitted to all vertices, the pushed one among them.
        for w in images {
            assert!(stray[w] < 0.1 * stray[v], "{} {}", stray[w], stray[v]);
        }
    }
}

/// How far vertices are pushed.
const PUSH: Vec3 = Vec3::new(0.02, 0.01, 0.06);

/// A vertex that has the given number of images other than itself, and these.
fn with_images(mesh: &PolygonMesh, count: usize) -> (usize, Vec<usize>) {
    let partners = all_partners(mesh);
    let v = partners.iter().position(|w| w.len() == count).unwrap();
    (v, partners[v].clone())
}

/// Who models a half and mirrors it makes every fault twice. With two images a vertex lies on one of the slab's
/// planes, and is pushed along it.
#[test]
fn a_push_that_is_mirrored_strays_as_far_as_one_on_one_side_only() {
    let slab = held_slab();
    for count in [3, 2] {
        let (v, images) = with_images(&slab, count);
        let at = slab.positions()[v];
        let push = PUSH.zip_map(&at, |p, x| if x.abs() < ROUNDING { 0.0 } else { p });
        let once = pushed(&slab, v, push);
        let alone = strays(&once)[v];
        assert!((1.0..90.0).contains(&alone), "{alone}");
        for w in images {
            // Turned about in the directions in which the two lie on opposite sides.
            let sides = at.component_mul(&slab.positions()[w]).map(f64::signum);
            let twice = pushed(&once, w, push.component_mul(&sides));
            let mirrored = strays(&twice)[v];
            assert!(
                (mirrored - alone).abs() < 0.1 * alone,
                "{mirrored}, {alone}"
            );
        }
    }
}

#[test]
fn the_one_reflection_of_a_form_says_nothing() {
    let prism = moved(&held_slab(), |p| Vec3::new(p.x + 0.3 * p.y, p.y, p.z));
    assert!(strays(&prism).iter().all(|x| *x == 180.0));
}

#[test]
fn a_region_in_which_no_reflection_holds_has_no_images() {
    // One end of the slab is drawn out and twisted; most of it is still mirrored.
    let bent = moved(&held_slab(), |p| {
        let beyond = (p.y - 1.0).max(0.0);
        p + Vec3::new(0.5, 0.8, 0.3) * beyond * beyond
    });
    let partners = all_partners(&bent);
    let end = nearest(&bent, Vec3::new(0.9, 3.5, 0.5));
    let other = nearest(&bent, Vec3::new(1.5, -2.2, 0.6));
    assert_eq!(partners[end], Vec::<usize>::new());
    assert_eq!(strays(&bent)[end], 180.0);
    assert!(!partners[other].is_empty());
}

/// The cage with vertex `v` split in two that lie on each other: the faces for which `is_second` holds of
/// their centres have the new one, which comes last.
fn split(mesh: &PolygonMesh, v: usize, is_second: impl Fn(Vec3) -> bool) -> PolygonMesh {
    let mut positions = mesh.positions().to_vec();
    let second = positions.len() as u32;
    positions.push(positions[v]);
    let faces: Vec<Vec<u32>> = mesh
        .faces()
        .map(|face| {
            let sum: Vec3 = face.iter().map(|&w| mesh.positions()[w as usize]).sum();
            let is_second = is_second(sum / face.len() as f64);
            let vertex = |&w: &u32| match is_second && w as usize == v {
                true => second,
                false => w,
            };
            face.iter().map(vertex).collect()
        })
        .collect();
    PolygonMesh::from_faces(positions, &faces).unwrap()
}

#[test]
fn of_two_vertices_on_each_other_the_one_on_the_same_side_is_the_partner() {
    let slab = held_slab();
    let [v, w] = [0.75, -0.75].map(|x| nearest(&slab, Vec3::new(x, 2.2 / 3.0, 0.6)));
    let y = slab.positions()[v].y;
    // On one half the far side has the new vertex, on the other the near side.
    let mesh = split(&slab, v, |centre| centre.y > y);
    let mesh = split(&mesh, w, |centre| centre.y < y);
    let [new_v, new_w] = [mesh.vertex_count() - 2, mesh.vertex_count() - 1];
    let surface = surface_of(&mesh);
    let context = MeasureContext::new(&surface);
    let symmetry = Symmetry::new(&context, &Rings::new(&context));
    for (a, same, other) in [(v, new_w, w), (new_v, w, new_w), (w, new_v, v)] {
        let partners: Vec<usize> = partners_of(&symmetry, a).collect();
        assert!(partners.contains(&same), "{a}: {partners:?}");
        assert!(!partners.contains(&other), "{a}: {partners:?}");
    }
}

#[test]
fn a_vertex_that_slides_onto_another_one_or_is_pushed_far_keeps_its_partner() {
    let slab = held_slab();
    let v = nearest(&slab, Vec3::new(0.75, 2.2 / 3.0, 0.6));
    let topology = Topology::new(&slab);
    let other = topology.neighbours(v).next().unwrap();
    let way = slab.positions()[other] - slab.positions()[v];
    let wanted = all_partners(&slab);
    for (step, i) in [way / 10.0, Vec3::new(0.0, 0.0, 0.1)]
        .map(|step| (1..=10).map(move |i| (step, i)))
        .into_iter()
        .flatten()
    {
        // At the last of the first way the one that it lies on keeps its own, too.
        let found = all_partners(&pushed(&slab, v, step * f64::from(i)));
        assert_eq!([&found[v], &found[other]], [&wanted[v], &wanted[other]]);
    }
}

/// Each vertex's partners, in rising order.
fn all_partners(mesh: &PolygonMesh) -> Vec<Vec<usize>> {
    let surface = surface_of(mesh);
    let context = MeasureContext::new(&surface);
    let symmetry = Symmetry::new(&context, &Rings::new(&context));
    let of = |v: usize| {
        let mut partners: Vec<usize> = partners_of(&symmetry, v).collect();
        partners.sort_unstable();
        partners
    };
    (0..mesh.vertex_count()).map(of).collect()
}

#[test]
fn a_loop_that_is_moved_next_to_another_one_keeps_its_partners() {
    let slab = held_slab();
    let y = slab.positions()[nearest(&slab, Vec3::new(0.0, 0.7, 0.6))].y;
    let wanted = all_partners(&slab);
    // Farther on a fifth of the vertices is so far off that the plane is not guessed.
    for i in 1..=7 {
        let towards_the_middle = |p: Vec3| match (p.y - y).abs() < 1e-9 {
            true => Vec3::new(p.x, p.y * (1.0 - i as f64 / 10.0), p.z),
            false => p,
        };
        let found = all_partners(&moved(&slab, towards_the_middle));
        let other = (0..found.len()).find(|&v| found[v] != wanted[v]);
        assert_eq!(other, None, "moved by {i} tenths");
    }
}
