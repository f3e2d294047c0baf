//! Integrals over the whole limit surface: enclosed volume, area, total Gaussian curvature.
//!
//! Every face is a set of bicubic patches and, at poles and their like, a small tail each.
//!
//! - Volume: the divergence theorem, ∫ P · (Pu × Pv) / 3. On a patch the integrand is a polynomial of
//!   degree 8 in either parameter, which five Gauss-Legendre points integrate exactly. About smooth
//!   poles the whole series of patches is summed in closed form (`volume_form.rs`).
//! - Area: ∫ |Pu × Pv|, no polynomial, by the same points; tails from their outer sides, expanded
//!   in the inclination.
//! - Total curvature: ∫ K dA by the same points. About a pole of high valence curvature grows and
//!   the tail's share falls slowly; but it is the signed solid angle that the normals sweep, and that
//!   follows from the normals along the tail's sides alone.

use rayon::prelude::*;

use super::gauss_legendre::{Points, Rule};
use super::pieces::{PatchSide, Pieces, Tail};
use super::pole_table::PoleTables;
use super::volume_form::{Crosses, VolumeForms, smooth_points};
use crate::mesh::{EdgeKind, Topology, Vec3};
use crate::subdivision::Surface;
use crate::subdivision::evaluate::DESCENT_LEVELS_MAX;
use crate::subdivision::lanes::SampleColumns;
use crate::subdivision::ring::unit_normal;
use crate::subdivision::spline::{PatchPoints, Weights};

/// Share of the whole area that [`add_tail`] may leave out on evenly curved bodies.
const TAIL_ERROR: f64 = 1e-9;

/// Factor by which the error of flat tails falls from level to level: the square of the largest
/// quadratic eigenvalue, 1/4 at a regular vertex and about 0.36 at valence 5 (Ball & Storry 1988).
const TAIL_DECAY: f64 = 0.13;

/// Least and most levels below the quads at the corners.
const TAIL_LEVELS: std::ops::RangeInclusive<usize> = 1..=8;

/// Squared cosine of the inclination from which on a tail's area is not expanded any more.
const STEEP: f64 = 0.5;

/// Corners of the cage below which patches are integrated in 4 × 4 cells, and in 2 × 2: few and large
/// patches bend much, and nobody notices the time.
const CELLS: [(usize, usize); 2] = [(2_000, 4), (20_000, 2)];

/// Faces that one parallel task takes on at least.
const TASK_LENGTH: usize = 128;

/// Integrals over the limit surface, in the control mesh's frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LimitIntegrals {
    /// Signed volume inside, positive where the unified winding faces outward; `None` with borders
    /// or non-manifold edges. Exact to rounding where no crease ends and no pole is past valence 12.
    pub volume: Option<f64>,
    /// Area. Measured relative error on cages of a few faces: 1e-9 and less up to valence 6, below
    /// 1e-5 at any other; less on finer cages.
    pub area: f64,
    /// Integral of the Gaussian curvature, in radians; `None` where [`euler_characteristic`] is, with
    /// infinitely sharp edges or vertices, and where there is no tangent plane.
    pub curvature: Option<f64>,
}

/// V − E + F of a cage without borders whose edges and vertices are all manifold: 2 for each ball, 0
/// for each ring. `None` for any other cage.
pub fn euler_characteristic(topology: &Topology) -> Option<i64> {
    let used = (0..topology.vertex_count()).filter(|&v| !topology.is_unreferenced(v));
    let closed = is_closed(topology) && used.clone().all(|v| topology.is_interior(v));
    let [v, e, f] = [used.count(), topology.edge_count(), topology.face_count()];
    closed.then(|| v as i64 - e as i64 + f as i64)
}

/// Whether every edge lies between two faces.
pub fn is_closed(topology: &Topology) -> bool {
    (0..topology.edge_count()).all(|e| topology.edge_kind(e) == EdgeKind::Interior)
}

impl LimitIntegrals {
    /// Integrates, in parallel; the result does not depend on the number of threads.
    pub fn new(surface: &Surface) -> Self {
        let levels = tail_levels(surface.control().topology().corner_count());
        Self::with_levels(surface, levels)
    }

    /// The same with poles followed down `levels` levels below the quads at the corners (at least
    /// one).
    pub fn with_levels(surface: &Surface, levels: usize) -> Self {
        let control = surface.control();
        let topology = control.topology();
        let nothing_sharp = || {
            let mut all = control
                .edge_sharpness()
                .iter()
                .chain(control.vertex_sharpness());
            all.all(|s| s.is_finite())
        };
        let integrator = Integrator {
            surface,
            levels: levels.max(1),
            closed: is_closed(topology),
            curved: euler_characteristic(topology).is_some() && nothing_sharp(),
            forms: VolumeForms::new(),
            tables: PoleTables::new(levels.max(1)),
            rules: Rules::new(topology.corner_count()),
        };
        let mut sums = Vec::with_capacity(topology.face_count());
        (0..topology.face_count())
            .into_par_iter()
            .with_min_len(TASK_LENGTH)
            .map_init(Scratch::default, |scratch, f| integrator.face(f, scratch))
            .collect_into_vec(&mut sums);
        let total = |part: fn(&Sums) -> f64| compensated_sum(sums.iter().map(part));
        let curvature = integrator.curved.then(|| total(|s| s.curvature));
        Self {
            volume: integrator.closed.then(|| total(|s| s.volume)),
            area: total(|s| s.area),
            curvature: curvature.filter(|sum| sum.is_finite()),
        }
    }
}

/// A closed surface turns by 4π in all, so that one of `corners` quads of even size turns by
/// θ² = 4π / corners; a flat quad over it is too small by θ² / 12 of its area, and what the first
/// order leaves is about the square of that.
fn tail_levels(corners: usize) -> usize {
    let flat = 4.0 * std::f64::consts::PI / (12.0 * corners.max(1) as f64);
    let levels = (TAIL_ERROR / (flat * flat)).ln() / TAIL_DECAY.ln();
    (levels.ceil().max(0.0) as usize).clamp(*TAIL_LEVELS.start(), *TAIL_LEVELS.end())
}

/// The sum of values in their order, with the digits that single additions lose (Neumaier 1974).
pub(crate) fn compensated_sum(values: impl Iterator<Item = f64>) -> f64 {
    let (mut sum, mut lost) = (0.0f64, 0.0f64);
    for x in values {
        let next = sum + x;
        lost += if sum.abs() >= x.abs() {
            (sum - next) + x
        } else {
            (x - next) + sum
        };
        sum = next;
    }
    sum + lost
}

/// Integrals over a part of the surface.
#[derive(Debug, Clone, Copy, Default)]
struct Sums {
    volume: f64,
    area: f64,
    curvature: f64,
}

/// Memory that is kept from face to face.
#[derive(Debug, Default)]
struct Scratch {
    points: Vec<Vec3>,
    crosses: Crosses,
    columns: SampleColumns,
    pieces: Pieces,
}

struct Rules {
    /// For faces that are one patch.
    whole: Rule,
    /// For the smaller patches about poles whose volume is known.
    small: Rule,
    /// For the smaller patches whose volume is not.
    exact: Rule,
    /// For the sides of tails.
    sides: Rule,
}

impl Rules {
    fn new(corners: usize) -> Self {
        let cells = CELLS.iter().find(|(below, _)| corners < *below);
        let cells = cells.map_or(1, |(_, cells)| *cells);
        let small = if cells > 1 {
            Points::Five
        } else {
            Points::Three
        };
        Self {
            whole: Rule::new(Points::Five, cells),
            small: Rule::new(small, cells / 2),
            exact: Rule::new(Points::Five, cells / 2),
            sides: Rule::new(Points::Five, cells / 2),
        }
    }
}

struct Integrator<'a> {
    surface: &'a Surface,
    levels: usize,
    closed: bool,
    curved: bool,
    forms: VolumeForms,
    tables: PoleTables,
    rules: Rules,
}

impl Integrator<'_> {
    fn face(&self, f: usize, scratch: &mut Scratch) -> Sums {
        let mut sums = Sums::default();
        if let Some(points) = self.surface.regular_patch(f) {
            self.add_patch(&points, &self.rules.whole, &mut sums);
            return sums;
        }
        for c in self.surface.control().topology().face_corners(f) {
            self.add_corner(c, scratch, &mut sums);
        }
        sums
    }

    fn add_patch(&self, points: &PatchPoints, rule: &Rule, sums: &mut Sums) {
        if self.curved {
            add_patch::<true>(points, rule, sums);
        } else {
            add_patch::<false>(points, rule, sums);
        }
    }

    fn add_corner(&self, c: usize, scratch: &mut Scratch, sums: &mut Sums) {
        let Scratch {
            points,
            crosses,
            columns,
            pieces,
        } = scratch;
        if let Some(kind) = self.surface.stencil_points(c, points)
            && let Some(form) = self.forms.get(kind)
            && self.tables.take(kind, points, columns, pieces)
        {
            let mut own = Sums::default();
            for patch in &pieces.patches {
                self.add_patch(patch, &self.rules.small, &mut own);
            }
            sums.area += own.area;
            sums.curvature += own.curvature;
            if self.closed {
                sums.volume += form.volume(points, crosses);
            }
        } else {
            pieces.clear();
            let reach = self.levels + DESCENT_LEVELS_MAX;
            pieces.take(self.surface.corner_quad(c, reach, 0), self.levels);
            for patch in &pieces.patches {
                self.add_patch(patch, &self.rules.exact, sums);
            }
            if self.closed {
                for i in 0..pieces.tails.len() {
                    sums.volume += self.tail_volume(pieces, i, crosses);
                }
            }
        }
        for tail in &pieces.tails {
            add_tail(tail, &pieces.patches, &self.rules.sides, sums);
        }
    }

    /// The volume under a tail: exact at a smooth pole, elsewhere that of the cone from the tail's
    /// pole. The cone's own volume is left out; it is of order h⁴.
    fn tail_volume(&self, pieces: &Pieces, i: usize, crosses: &mut Crosses) -> f64 {
        let (quad, pole) = &pieces.tail_quads[i];
        if let Some((kind, points)) = smooth_points(quad, *pole)
            && let Some(form) = self.forms.get(kind)
        {
            return form.volume(&points, crosses);
        }
        let tail = &pieces.tails[i];
        let [apex, first, _, last] = tail.corners;
        let curves = match tail.sides {
            Some(sides) => sides
                .iter()
                .map(|side| swept_area(side, &pieces.patches, &self.rules.sides))
                .sum(),
            None => first.cross(&tail.corners[2]) + tail.corners[2].cross(&last),
        };
        apex.dot(&(apex.cross(&first) + curves + last.cross(&apex))) / 6.0
    }
}

/// Adds the integrals over a patch.
#[inline(always)]
fn add_patch<const CURVED: bool>(points: &PatchPoints, rule: &Rule, sums: &mut Sums) {
    let mut volume = 0.0;
    for across in rule.nodes() {
        let curve = |w: &Weights| -> [Vec3; 4] {
            std::array::from_fn(|a| {
                points[0][a] * w[0]
                    + points[1][a] * w[1]
                    + points[2][a] * w[2]
                    + points[3][a] * w[3]
            })
        };
        let (value, slope) = (curve(&across.value), curve(&across.slope));
        let bend = if CURVED { curve(&across.bend) } else { value };
        for along in rule.nodes() {
            let p = weigh(&value, &along.value);
            let du = weigh(&value, &along.slope);
            let dv = weigh(&slope, &along.value);
            let normal = du.cross(&dv);
            let weight = across.weight * along.weight;
            let squared = normal.norm_squared();
            let length = squared.sqrt();
            volume += weight * p.dot(&normal);
            sums.area += weight * length;
            if CURVED {
                let uu = weigh(&value, &along.bend).dot(&normal);
                let uv = weigh(&slope, &along.slope).dot(&normal);
                let vv = weigh(&bend, &along.value).dot(&normal);
                sums.curvature += weight * curvature_form(uu, uv, vv) / (squared * length);
            }
        }
    }
    sums.volume += volume / 3.0;
}

/// K dA times |Pu × Pv|³, from the second derivatives' products with Pu × Pv (do Carmo 1976,
/// section 3-3).
#[inline(always)]
fn curvature_form(uu: f64, uv: f64, vv: f64) -> f64 {
    uu * vv - uv * uv
}

#[inline(always)]
fn weigh(points: &[Vec3; 4], w: &Weights) -> Vec3 {
    points[0] * w[0] + points[1] * w[1] + points[2] * w[2] + points[3] * w[3]
}

/// Adds a tail's area and the signed solid angle that its normals sweep, from its outer sides; what the
/// sides towards the pole would add cancels between neighbours.
///
/// Area: seen along the pole's normal N it is half the integral of x × dx. Where the surface is
/// inclined by θ it is larger by tan²θ / 2 in the first order; as tan θ grows like the power s
/// ([`slope_growth`]) of the distance x from the pole, the integral of that follows from its values
/// along the sides. Without sides or a normal: the flat quad of the corners.
///
/// Solid angle: the sum over the triangles that N makes with pairs of neighbouring normals n (Van
/// Oosterom & Strackee 1983, equation 8), which is the integral of N · (n × n′) / (1 + N · n) in
/// the limit of many triangles. NaN without sides or a normal.
fn add_tail(tail: &Tail, patches: &[PatchPoints], rule: &Rule, sums: &mut Sums) {
    let normal = unit_normal(tail.tangents[0], tail.tangents[1]);
    let (Some(sides), Some(pole)) = (tail.sides, normal) else {
        sums.area += flat_area(tail);
        sums.curvature = f64::NAN;
        return;
    };
    let share = 1.0 / (2.0 * slope_growth(tail.valence) + 2.0);
    let (mut area, mut steep) = (0.0, false);
    for side in sides {
        for node in rule.nodes() {
            let (d, [du, dv]) = side.evaluate(patches, node.at);
            let [along_u, along_v] = d.first;
            let [uu, uv, vv] = d.second;
            let normal = along_u.cross(&along_v);
            let (height, squared) = (pole.dot(&normal), normal.norm_squared());
            let way = along_u * du + along_v * dv;
            let swept = pole.dot(&(d.position - tail.corners[0]).cross(&way));
            let inclination = squared / (height * height) - 1.0;
            steep |= height * height <= squared * STEEP;
            area += node.weight * swept * (1.0 + inclination * share) / 2.0;
            let change = (uu * du + uv * dv).cross(&along_v) + along_u.cross(&(uv * du + vv * dv));
            let length = squared.sqrt();
            let turned = pole.dot(&normal.cross(&change)) / length;
            sums.curvature += node.weight * turned / (length + height);
        }
    }
    sums.area += if steep { flat_area(tail) } else { area };
}

/// The power of the distance that slopes grow with from a smooth pole, from the eigenvalues of its
/// one-ring (Ball & Storry 1988): log μ / log λ − 1, μ being that of saddles (mode 2), or of cups
/// (mode 0); the mean of both. At valence 4 it is 1, as on any surface with a curvature.
fn slope_growth(valence: usize) -> f64 {
    if valence < 5 {
        return 1.0;
    }
    let n = valence as f64;
    let mode = |f: f64| {
        let c = (f * std::f64::consts::TAU / n).cos();
        (c + 5.0 + ((c + 9.0) * (c + 1.0)).sqrt()) / 16.0
    };
    // Trace and determinant of mode 0 without its eigenvalue 1.
    let (trace, product) = (0.75 - 1.75 / n, (1.0 - 3.0 / n) / 16.0);
    let cup = (trace + (trace * trace - 4.0 * product).sqrt()) / 2.0;
    (mode(2.0).ln() + cup.ln()) / (2.0 * mode(1.0).ln()) - 1.0
}

/// The area of a tail's four corners, as two triangles that meet along the diagonal from the pole.
fn flat_area(tail: &Tail) -> f64 {
    let [apex, first, opposite, last] = tail.corners;
    let diagonal = opposite - apex;
    let halves = [
        (first - apex).cross(&diagonal),
        diagonal.cross(&(last - apex)),
    ];
    halves.iter().map(Vec3::norm).sum::<f64>() / 2.0
}

/// ∫ P × dP along a side, exactly: the integrand is of degree 5.
fn swept_area(side: &PatchSide, patches: &[PatchPoints], rule: &Rule) -> Vec3 {
    let element = |node: &super::gauss_legendre::Node| {
        let (d, [du, dv]) = side.evaluate(patches, node.at);
        d.position.cross(&(d.first[0] * du + d.first[1] * dv)) * node.weight
    };
    rule.nodes().iter().map(element).sum()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use crate::limit::FacePatches;
    use crate::mesh::PolygonMesh;
    use crate::subdivision::{BoundaryRule, ControlMesh, Creases};

    /// A ring of quads whose strips wind about it, so that parameters are nowhere perpendicular.
    fn twisted_ring() -> Surface {
        let (around, across) = (10u32, 8u32);
        let turn = |i: u32, n: u32| f64::from(i) / f64::from(n) * std::f64::consts::TAU;
        let vertex = |i: u32, j: u32| i % around * across + j % across;
        let mut positions = Vec::new();
        let mut faces = Vec::new();
        for i in 0..around {
            for j in 0..across {
                let (a, b) = (turn(i, around), turn(j, across) + turn(i, around));
                let r = 2.0 + 0.8 * b.cos();
                positions.push(Vec3::new(r * a.cos(), r * a.sin(), 0.8 * b.sin()));
                faces.push(
                    [(i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)].map(|(i, j)| vertex(i, j)),
                );
            }
        }
        let mesh = PolygonMesh::from_faces(positions, &faces).unwrap();
        let topology = Topology::new(&mesh);
        let creases = Creases::default();
        Surface::new(ControlMesh::new(
            &mesh,
            topology,
            &creases,
            BoundaryRule::default(),
        ))
    }

    #[test]
    fn a_wrong_integrand_would_show_in_the_total_curvature() {
        let surface = twisted_ring();
        assert!(LimitIntegrals::new(&surface).curvature.unwrap().abs() < 1e-6);
        let rule = Rule::new(Points::Five, 2);
        let total = |form: fn(f64, f64, f64) -> f64| -> f64 {
            let faces = 0..surface.control().topology().face_count();
            let patches = faces.flat_map(|f| {
                let face = FacePatches::new(&surface, f, 0);
                face.parts().map(|part| *part.points).collect::<Vec<_>>()
            });
            patches
                .flat_map(|points| {
                    let places = rule
                        .nodes()
                        .iter()
                        .flat_map(|a| rule.nodes().iter().map(move |b| (a, b)));
                    places
                        .map(move |(a, b)| {
                            let d = crate::subdivision::spline::evaluate(&points, a.at, b.at);
                            let normal = d.first[0].cross(&d.first[1]);
                            let [uu, uv, vv] = d.second.map(|s| s.dot(&normal));
                            a.weight * b.weight * form(uu, uv, vv) / normal.norm().powi(3)
                        })
                        .collect::<Vec<_>>()
                })
                .sum()
        };
        assert!(total(curvature_form).abs() < 1e-5);
        assert!(total(|uu, _, vv| uu * vv).abs() > 0.1);
        assert!(total(|uu, uv, vv| uu * vv + uv * uv).abs() > 0.1);
    }
}
