//! Poles: eigenvalues, modes, curvature ring by ring, and the measure made of them.
//!
//! Sources: Ball & Storry 1988 and Peters & Reif 2008 for the eigenvalues (`reference-data/eigenvalues.csv`
//! has them by valence); everything else is held against the program's own refinement, an eigen-decomposition
//! of its matrix, or forms of known curvature.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;

use approx::assert_relative_eq;
use cagewise::limit::{Annuli, LimitSurface, Place, PoleModes, Towards};
use cagewise::measure::MeasureContext;
use cagewise::measure::poles::{self, swing};
use cagewise::mesh::{PolygonMesh, Vec3};
use cagewise::subdivision::masks::subdominant_eigenvalue;
use cagewise::subdivision::quadratic_masks::{
    characteristic_diagonal, cup_eigenvalue, cup_growth, quadratic_mask, saddle_eigenvalue,
    saddle_growth,
};
use cagewise::subdivision::ring::Ring;
use cagewise::subdivision::{BoundaryRule, Creases, Surface};
use nalgebra::DVector;
use std::f64::consts::TAU;
use support::cages::{Random, cube_sphere, height_grid, moved};
use support::rings::{Sectors, ring_matrix};
use support::{creased_surface_of, surface_of};

/// Valences that the tests of whole cages go through.
const VALENCES: [usize; 5] = [3, 5, 6, 8, 12];

/// A table row: valence, λ, growth of the cup and of the saddle.
fn published() -> Vec<(usize, f64, f64, f64)> {
    let path = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/reference-data/eigenvalues.csv"
    );
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_path(path)
        .unwrap();
    reader.deserialize().map(Result::unwrap).collect()
}

/// Source: `reference-data/eigenvalues.csv` (closed forms of Ball & Storry 1988 and Peters & Reif
/// 2008, confirmed there by an eigen-decomposition), and here by the program's own matrix.
#[test]
fn eigenvalues_and_growth_by_valence_are_the_published_ones_and_the_ring_matrix_s_own() {
    let rows = published();
    assert_eq!(rows.len(), 10);
    for (n, lambda, cup, saddle) in rows {
        assert_relative_eq!(subdominant_eigenvalue(n), lambda, max_relative = 1e-14);
        assert_relative_eq!(cup_growth(n), cup, max_relative = 1e-14);
        assert_relative_eq!(saddle_growth(n), saddle, max_relative = 1e-14);
        let own = ring_matrix(n).complex_eigenvalues();
        // A double eigenvalue moves by the root of rounding.
        let near = |value: f64| own.iter().filter(|z| (*z - value).norm() < 1e-7).count();
        assert_eq!(near(1.0), 1);
        assert!(near(lambda) >= 2, "valence {n}");
        assert!(near(cup_eigenvalue(n)) >= 1, "valence {n}");
        assert!(near(saddle_eigenvalue(n)) >= 2, "valence {n}");
        assert_eq!(own.iter().filter(|z| z.norm() > lambda + 1e-7).count(), 1);
    }
}

/// Weights of vertex, spokes and diagonals: cup, then both saddles.
fn left(n: usize) -> [DVector<f64>; 3] {
    let mask = quadratic_mask(n);
    let row = |center: f64, spoke: &dyn Fn(usize) -> f64, diagonal: &dyn Fn(usize) -> f64| {
        let values = std::iter::once(center);
        let values = values.chain((0..n).map(spoke)).chain((0..n).map(diagonal));
        DVector::from_iterator(2 * n + 1, values)
    };
    let cup = mask.cup;
    [
        row(cup.center, &|_| cup.spoke, &|_| cup.diagonal),
        row(0.0, &|j| mask.saddle[j][0][0], &|j| mask.saddle[j][1][0]),
        row(0.0, &|j| mask.saddle[j][0][1], &|j| mask.saddle[j][1][1]),
    ]
}

/// A ring made of one frequency: spokes cos or sin of j t, diagonals `far` times that half a step on.
fn wave(n: usize, t: f64, far: f64, sine: bool) -> DVector<f64> {
    let of = |angle: f64| if sine { angle.sin() } else { angle.cos() };
    let spokes = (0..n).map(|j| of(j as f64 * t));
    let diagonals = (0..n).map(|j| far * of((j as f64 + 0.5) * t));
    let values = std::iter::once(0.0).chain(spokes).chain(diagonals);
    DVector::from_iterator(2 * n + 1, values)
}

/// Right eigenvectors, from the rows of the one-ring matrix: the characteristic ring's x and y, the
/// cup, both saddles (at valence 4, where a diagonal's share is 0 / 0, one on spokes alone and one on
/// diagonals alone).
fn right(n: usize) -> [(DVector<f64>, f64); 5] {
    let (once, twice) = (TAU / n as f64, 2.0 * TAU / n as f64);
    let (lambda, cup, saddle) = (
        subdominant_eigenvalue(n),
        cup_eigenvalue(n),
        saddle_eigenvalue(n),
    );
    let reach = characteristic_diagonal(n);
    let valence = n as f64;
    // The cup, alike in all directions: perpendicular to the rows of vertex and spokes.
    let of_center = Vec3::new(1.0 - 1.75 / valence - cup, 1.5 / valence, 0.25 / valence);
    let of_spokes = Vec3::new(0.375, 0.5 - cup, 0.125);
    let found = of_center.cross(&of_spokes);
    let found = found / (found.z - found.x);
    let mut cups = DVector::from_element(2 * n + 1, found.z);
    cups.rows_mut(1, n).fill(found.y);
    cups[0] = found.x;
    let far = 2.0 * (twice / 2.0).cos() / (4.0 * saddle - 1.0);
    let saddles = if n == 4 {
        let mut diagonals = wave(n, twice, 1.0, true);
        diagonals.rows_mut(0, 5).fill(0.0);
        [wave(n, twice, 0.0, false), diagonals]
    } else {
        [wave(n, twice, far, false), wave(n, twice, far, true)]
    };
    let [even, odd] = saddles;
    [
        (wave(n, once, reach, false), lambda),
        (wave(n, once, reach, true), lambda),
        (cups, cup),
        (even, saddle),
        (odd, saddle),
    ]
}

#[test]
fn mode_weights_are_left_eigenvectors_and_see_no_mode_but_their_own() {
    for n in 3..=20 {
        let matrix = ring_matrix(n);
        let right = right(n);
        for (vector, eigenvalue) in &right {
            let off = (&matrix * vector - vector * *eigenvalue).amax();
            assert!(off < 1e-14, "right, valence {n}: {off}");
        }
        let [cup, saddle] = [cup_eigenvalue(n), saddle_eigenvalue(n)];
        for (own, (weights, eigenvalue)) in left(n).iter().zip([cup, saddle, saddle]).enumerate() {
            let off = (matrix.tr_mul(weights) - weights * eigenvalue).amax();
            assert!(off < 1e-15, "left {own}, valence {n}: {off}");
            assert!(weights.sum().abs() < 1e-14);
            for (other, (vector, _)) in right.iter().enumerate() {
                let seen = weights.dot(vector);
                let is_own = other == own + 2;
                assert_eq!(seen.abs() > 1e-13, is_own, "{own} of {other}, {n}: {seen}");
            }
        }
    }
}

/// A ring of the given height over the characteristic control ring.
fn characteristic(n: usize, map: impl Fn(f64, f64) -> Vec3) -> Ring {
    let [(x, _), (y, _), ..] = right(n);
    let points: Vec<Vec3> = x.iter().zip(y.iter()).map(|(x, y)| map(*x, *y)).collect();
    Ring {
        center: points[0],
        spokes: points[1..=n].into(),
        diagonals: points[n + 1..].into(),
        ..Ring::default()
    }
}

/// The stated normalisation, at any size, place and turn of the ring.
#[test]
fn rings_on_paraboloids_have_the_paraboloid_s_curvatures_for_modes() {
    let turn = nalgebra::Rotation3::from_euler_angles(0.3, -1.1, 0.7);
    for n in 3..=16 {
        // At valence 3 a saddle over the characteristic ring holds some of the tangents' mode, which
        // tilts the normal by an angle that falls with the size.
        let (size, epsilon) = if n == 3 { (1e-4, 1e-7) } else { (0.25, 1e-12) };
        for [k1, k2, k12] in [[0.8, 0.8, 0.0], [1.1, -0.4, 0.0], [0.3, 0.2, -0.9]] {
            let ring = characteristic(n, |x, y| {
                let (x, y) = (x * size, y * size);
                let z = -(k1 * x * x + k2 * y * y) / 2.0 - k12 * x * y;
                turn * Vec3::new(x, y, z) + Vec3::new(3.0, -2.0, 5.0)
            });
            let modes = PoleModes::of(&ring).unwrap();
            let (mean, half) = ((k1 + k2) / 2.0, ((k1 - k2) / 2.0).hypot(k12));
            assert_relative_eq!(modes.cup(), mean, epsilon = epsilon);
            assert_relative_eq!(modes.saddle(), half, epsilon = epsilon);
            let [k, l] = modes.principal(0);
            assert_relative_eq!(k, mean + half, epsilon = epsilon);
            assert_relative_eq!(l, mean - half, epsilon = epsilon);
            let [k, l] = modes.principal(3);
            assert_relative_eq!(k + l, 2.0 * mean * cup_growth(n).powi(3), epsilon = epsilon);
            assert_relative_eq!(
                k - l,
                2.0 * half * saddle_growth(n).powi(3),
                epsilon = epsilon
            );
        }
    }
}

/// The bicubic patch's curvature at its corner, through the patch's own derivatives.
#[test]
fn at_valence_four_the_modes_are_the_bicubic_patch_s_curvature_whatever_the_ring() {
    for seed in 1..40 {
        let mut random = Random(seed);
        let flat = height_grid(4, 4, |_, _| 0.0);
        let shaken = flat
            .positions()
            .iter()
            .map(|p| Vec3::new(2.0 * p.x + 0.5 * p.y, p.y, 0.0) + random.vector() * 0.3);
        let (starts, corners) = (flat.face_starts(), flat.corner_vertices());
        let mesh = PolygonMesh::new(shaken.collect(), starts.to_vec(), corners.to_vec()).unwrap();
        let surface = surface_of(&mesh);
        // Vertex 12 is the middle, and the first corner of face 10.
        let modes = PoleModes::of(&surface.vertex_ring(12)).unwrap();
        let place = Place {
            face: 10,
            corner: None,
            u: 0.0,
            v: 0.0,
        };
        let limit = LimitSurface::new(&surface).evaluate(&place).unwrap();
        let exact = limit.curvature().unwrap().principal;
        let scale = surface.control().frame().scale;
        for levels in [0, 4] {
            for (own, exact) in modes.principal(levels).iter().zip(exact) {
                assert_relative_eq!(own / scale, exact, epsilon = 1e-11);
            }
        }
        assert_eq!(modes.towards(), Some(Towards::Stays));
    }
}

#[test]
fn on_a_regular_grid_the_cup_is_mean_curvature_and_the_saddle_half_the_principal_difference() {
    // A paraboloid keeps its second derivatives, whatever level 0's heights are shifted by.
    let grid = height_grid(6, 6, |x, y| {
        let (x, y) = (x - 3.0, y - 3.0);
        -0.1 * x * x + 0.03 * y * y - 0.02 * x * y
    });
    let surface = surface_of(&grid);
    let scale = surface.control().frame().scale;
    let modes = PoleModes::of(&surface.vertex_ring(24)).unwrap();
    assert_relative_eq!(modes.cup() / scale, 0.07, max_relative = 1e-12);
    let half = 0.13f64.hypot(0.02);
    assert_relative_eq!(modes.saddle() / scale, half, max_relative = 1e-12);
}

/// A two-ring cage whose height is one pure mode over the characteristic ring, `height` high.
fn pure(n: usize, mode: usize, height: f64) -> Surface {
    let right = right(n);
    let whole = |k: usize| Sectors::extended(n, right[k].0.as_slice(), right[k].1);
    let [x, y, z] = [0, 1, mode].map(whole);
    let point = |i: usize| Vec3::new(x[i], y[i], -height * z[i]);
    let positions = (0..x.len()).map(point).collect();
    let sectors = Sectors {
        valence: n,
        reach: 2,
    };
    surface_of(&sectors.cage(positions))
}

/// Peters & Reif 2008, section 6: what each mode curves changes by its growth ratio from annulus to
/// annulus, exactly in the limit, where slopes no longer count.
#[test]
fn curvature_of_a_pure_mode_changes_by_its_growth_ratio_from_annulus_to_annulus() {
    const LEVEL: usize = 7;
    for n in VALENCES {
        for (mode, growth) in [
            (2, cup_growth(n)),
            (3, saddle_growth(n)),
            (4, saddle_growth(n)),
        ] {
            let surface = pure(n, mode, 1e-3);
            let annuli = Annuli::new(&surface, 0, LEVEL);
            assert_eq!(annuli.count(), LEVEL + 1);
            let largest = |m: usize| annuli.range(m).map(|[a, b]| a.abs().max(b.abs())).unwrap();
            let off = |m: usize| (largest(m + 1) / largest(m) / growth - 1.0).abs();
            let what = format!("valence {n}, mode {mode}");
            assert!(off(0) < 1e-3, "{what}: {}", off(0));
            assert!(off(LEVEL - 1) < 1e-6, "{what}: {}", off(LEVEL - 1));
            for i in 0..annuli.directions() {
                let principal = |m: usize| annuli.curvature(m, i).unwrap().principal;
                let [outer, inner] = [principal(LEVEL - 1), principal(LEVEL)];
                for (outer, inner) in outer.iter().zip(inner) {
                    assert_relative_eq!(outer * growth, inner, epsilon = 1e-6 * largest(LEVEL));
                }
            }
            let modes = PoleModes::of(&surface.vertex_ring(0)).unwrap();
            let (cup, saddle) = (modes.cup().abs(), modes.saddle());
            let (own, other) = if mode == 2 {
                (cup, saddle)
            } else {
                (saddle, cup)
            };
            assert!(own > 1e-3 && other < 1e-12 * own, "{what}: {own} {other}");
            assert_eq!(modes.leading_growth(2), Some(growth));
            let wanted = if n == 3 {
                Towards::DiesOut
            } else {
                Towards::RunsAway
            };
            assert_eq!(modes.towards(), Some(wanted));
        }
    }
}

/// The same places reached through whole faces.
#[test]
fn annuli_are_read_where_they_say() {
    let mesh = moved(&cube_sphere(3), |p| {
        p.component_mul(&Vec3::new(1.5, 1.0, 0.8))
    });
    let surface = surface_of(&mesh);
    let topology = surface.control().topology();
    let scale = surface.control().frame().scale;
    let limit = LimitSurface::new(&surface);
    let mut seen = 0;
    for v in (0..mesh.vertex_count()).filter(|&v| topology.valence(v) == 3) {
        let annuli = Annuli::new(&surface, v, 2);
        let fan: Vec<usize> = topology
            .fans(v)
            .next()
            .unwrap()
            .iter()
            .map(|&c| c as usize)
            .collect();
        for (m, (j, &c)) in (0..3).flat_map(|m| fan.iter().enumerate().map(move |f| (m, f))) {
            let face = topology.face_of(c);
            let corner = c - topology.face_corners(face).start;
            let middle = 0.375 * 0.5f64.powi(m as i32);
            for (i, [u, v]) in [[middle, 0.0], [middle, middle]].into_iter().enumerate() {
                let [u, v] = match corner {
                    0 => [u, v],
                    1 => [1.0 - v, u],
                    2 => [1.0 - u, 1.0 - v],
                    _ => [v, 1.0 - u],
                };
                let place = Place {
                    face,
                    corner: None,
                    u,
                    v,
                };
                let exact = limit
                    .evaluate(&place)
                    .unwrap()
                    .curvature()
                    .unwrap()
                    .principal;
                let own = annuli.curvature(m, 2 * j + i).unwrap().principal;
                let [smallest, largest] = annuli.range(m).unwrap();
                for (own, exact) in own.iter().zip(exact) {
                    assert_relative_eq!(own / scale, exact, max_relative = 1e-9);
                    assert!((smallest..=largest).contains(own));
                }
                seen += 1;
            }
        }
        let whole = annuli.whole_range().unwrap();
        let rings: Vec<[f64; 2]> = (0..3).map(|m| annuli.range(m).unwrap()).collect();
        assert_eq!(
            whole[0],
            rings.iter().map(|r| r[0]).fold(f64::MAX, f64::min)
        );
        assert_eq!(
            whole[1],
            rings.iter().map(|r| r[1]).fold(f64::MIN, f64::max)
        );
    }
    assert_eq!(seen, 8 * 18);
}

/// A pole in the middle of a height field.
fn raised(n: usize, z: impl Fn(&Vec3) -> f64) -> PolygonMesh {
    let sectors = Sectors {
        valence: n,
        reach: 4,
    };
    let mut positions = sectors.flat();
    for p in &mut positions {
        p.z = z(p);
    }
    sectors.cage(positions)
}

fn swing_of(mesh: &PolygonMesh) -> f64 {
    let surface = surface_of(mesh);
    let modes = PoleModes::of(&surface.vertex_ring(0)).unwrap();
    swing(
        &modes,
        &Annuli::new(&surface, 0, 2),
        surface.vertex_limit(0).0,
    )
}

/// The measures of one vertex: swing, cup, saddle, growth.
fn measured(mesh: &PolygonMesh, v: usize) -> [f64; 4] {
    let surface = surface_of(mesh);
    let all = poles::measure(&MeasureContext::new(&surface));
    [1, 2, 3, 4].map(|k| all[k].values[v])
}

/// Largest angle, in degrees, between the limit normals about the pole (on the annuli) and those of
/// the height field -(k1 x² + k2 y²) / 2 at the same place: what the pole does to the form.
fn strays(mesh: &PolygonMesh, k: [f64; 2]) -> f64 {
    let surface = surface_of(mesh);
    let frame = surface.control().frame();
    let annuli = Annuli::new(&surface, 0, 2);
    let mut worst = 0.0f64;
    for m in 0..3 {
        for i in 0..annuli.directions() {
            let d = annuli.sample(m, i).unwrap();
            let p = frame.outward(d.position);
            let normal = d.first[0].cross(&d.first[1]);
            let meant = Vec3::new(k[0] * p.x, k[1] * p.y, 1.0);
            worst = worst.max(normal.cross(&meant).norm().atan2(normal.dot(&meant)));
        }
    }
    worst.to_degrees()
}

/// Ground of two curvatures in units of `k`, on which a pole is laid.
fn ground(n: usize, k: [f64; 2]) -> PolygonMesh {
    raised(n, |p| -(k[0] * p.x * p.x + k[1] * p.y * p.y) / 2.0)
}

/// Cylinder and saddle, in units of one curvature. A bowl hardly suffers from a pole.
const GROUNDS: [[f64; 2]; 2] = [[1.0, 0.0], [1.0, -1.0]];

/// What the level at which a pole counts as harmful rests on.
#[test]
fn the_swing_is_about_half_the_angle_by_which_a_pole_disturbs_its_ground() {
    // All that was set by it: near a half, whatever the valence, the curvature and the ground.
    let mut ratios = Vec::new();
    for n in [5, 6, 7, 8, 10, 12] {
        for bend in [5.0f64, 10.0, 20.0, 30.0] {
            for ground_of in GROUNDS {
                let k = ground_of.map(|k| k * bend.to_radians());
                let mesh = ground(n, k);
                let ratio = swing_of(&mesh) / strays(&mesh, k);
                let what = format!("valence {n}, {bend} degrees an edge, {ground_of:?}");
                assert!((0.38..0.62).contains(&ratio), "{what}: {ratio}");
                ratios.push(ratio);
            }
        }
    }
    ratios.sort_by(f64::total_cmp);
    let median = ratios[ratios.len() / 2];
    assert!((0.5..0.6).contains(&median), "{median}");
    for ground_of in GROUNDS {
        let k = ground_of.map(|k| k * 0.2);
        let mesh = ground(3, k);
        let ratio = swing_of(&mesh) / strays(&mesh, k);
        assert!((0.05..0.15).contains(&ratio), "valence 3: {ratio}");
    }
}

#[test]
fn the_swing_grows_with_the_curvature_of_the_ground_and_with_the_growth_of_the_valence() {
    for ground_of in GROUNDS {
        let swing =
            |n: usize, bend: f64| swing_of(&ground(n, ground_of.map(|k| k * bend.to_radians())));
        for n in VALENCES {
            let bends = [2.0, 5.0, 10.0, 20.0, 30.0];
            let swings = bends.map(|bend| swing(n, bend));
            assert!(swings.is_sorted_by(|a, b| a < b), "valence {n}: {swings:?}");
        }
        let by_valence = [5, 6, 8, 12].map(|n| swing(n, 10.0));
        assert!(by_valence.is_sorted_by(|a, b| a < b), "{by_valence:?}");
        // Valence 4 has no pole.
        assert!(swing(4, 30.0) < 1e-12);
    }
}

/// By hand, from the measure's formula: towards a pole with one mode rings shrink by λ and curvature
/// grows by r, so that the swing is K₀ d₀ ((r - 1) λ + (r² - 1) λ²) (λ^-½ - λ^½).
#[test]
fn the_swing_of_a_pure_mode_is_the_sum_worked_by_hand() {
    for n in VALENCES {
        for (mode, r) in [(2, cup_growth(n)), (3, saddle_growth(n))] {
            let surface = pure(n, mode, 1e-3);
            let annuli = Annuli::new(&surface, 0, 2);
            let modes = PoleModes::of(&surface.vertex_ring(0)).unwrap();
            let pole = surface.vertex_limit(0).0;
            let samples = || (0..annuli.directions()).map(|i| annuli.sample(0, i).unwrap());
            let distance: f64 = samples().map(|d| (d.position - pole).norm()).sum();
            let curvatures = (0..annuli.directions()).map(|i| annuli.curvature(0, i).unwrap());
            let curvature: f64 = curvatures
                .map(|k| k.principal[0].abs().max(k.principal[1].abs()))
                .sum();
            let outermost = distance * curvature / (annuli.directions() as f64).powi(2);
            let l = subdominant_eigenvalue(n);
            let sum = (r - 1.0) * l + (r * r - 1.0) * l * l;
            let turn = outermost * sum.abs() * (l.sqrt().recip() - l.sqrt());
            assert_relative_eq!(
                swing(&modes, &annuli, pole),
                turn.to_degrees(),
                max_relative = 1e-3
            );
        }
    }
}

#[test]
fn on_flat_ground_a_pole_has_no_swing_no_modes_and_no_growth() {
    let turn = nalgebra::Rotation3::from_euler_angles(0.4, 1.0, -0.2);
    for n in VALENCES {
        let mut random = Random(n as u64);
        let sectors = Sectors {
            valence: n,
            reach: 4,
        };
        let shaken = sectors.flat().into_iter().map(|p| {
            let by = random.vector() * 0.2;
            turn * (p + Vec3::new(by.x, by.y, 0.0))
        });
        let [swing, cup, saddle, growth] = measured(&sectors.cage(shaken.collect()), 0);
        assert!(
            swing < 1e-9 && cup.abs() < 1e-10 && saddle < 1e-10,
            "{swing} {cup} {saddle}"
        );
        assert!(growth.is_nan());
    }
}

#[test]
fn modes_are_in_one_over_length_and_the_swing_is_an_angle() {
    for n in VALENCES {
        let mesh = ground(n, [0.3, -0.1]);
        let small = measured(&mesh, 0);
        let large = measured(&moved(&mesh, |p| p * 8.0), 0);
        assert!(small[..3].iter().all(|x| x.abs() > 1e-4), "{small:?}");
        assert_relative_eq!(large[0], small[0], max_relative = 1e-9);
        assert_relative_eq!(large[1] * 8.0, small[1], max_relative = 1e-9);
        assert_relative_eq!(large[2] * 8.0, small[2], max_relative = 1e-9);
        assert_eq!(large[3], small[3]);
    }
}

#[test]
fn only_interior_vertices_of_other_than_four_edges_without_anything_sharp_have_a_value() {
    let mesh = ground(5, [0.3, 0.1]);
    let surface = surface_of(&mesh);
    let topology = surface.control().topology();
    let plain = poles::measure(&MeasureContext::new(&surface));
    for v in 1..mesh.vertex_count() {
        // All others are regular or on the border, where some have three edges.
        assert!(topology.valence(v) == 4 || !topology.is_interior(v));
        assert_eq!(plain[1].values[v], 0.0);
        assert!(plain[2..].iter().all(|column| column.values[v].is_nan()));
    }
    assert!(plain[1].values[0] > 0.0);
    let corner = topology.corners_of(0).next().unwrap();
    let creases = Creases {
        edges: vec![(topology.edge(corner) as u32, 2.0)],
        vertices: Vec::new(),
    };
    let creased = creased_surface_of(&mesh, &creases, BoundaryRule::default());
    let all = poles::measure(&MeasureContext::new(&creased));
    assert_eq!(all[1].values[0], 0.0);
    assert!(all[2].values[0].is_nan());
}
