//! Planes in which a cloud of points is its own mirror image, but for some of the points.

use nalgebra::Matrix3;

use super::groundwork::median;
use super::kd_tree::KdTree;
use crate::mesh::Vec3;

/// Planes kept at most.
pub(super) const PLANES_MAX: usize = 3;

/// Part of an edge length within which a mirror image is met by its partner.
pub(super) const MET_TOLERANCE: f64 = 0.05;

/// Part of the points that must meet a partner in a plane of symmetry.
const MET_SHARE_MIN: f64 = 0.5;

/// Part of the points that must not be their own partner: a flat sheet is no mirror image of itself
/// in its own plane.
const APART_SHARE_MIN: f64 = 0.2;

/// The same two while a plane is only guessed: a reach as part of the edge length, and a share.
const GUESS_TOLERANCE: f64 = 0.25;

/// See [`GUESS_TOLERANCE`].
const GUESS_SHARE_MIN: f64 = 0.4;

/// Points that a guess is tried on, and that a plane is fitted to and counted on.
const GUESS_PROBES: usize = 48;

/// See [`GUESS_PROBES`].
const FIT_PROBES: usize = 512;

/// Reaches of the rounds of fitting, each to the partners that the plane of the one before finds: in the
/// end only what meets a partner has a say, so that what was moved does not turn the plane.
const FIT_REACHES: [f64; 3] = [GUESS_TOLERANCE, GUESS_TOLERANCE, MET_TOLERANCE];

/// Cosine of the angle between the normals of two planes from which on they are one.
const SAME_PLANE_COSINE: f64 = 0.9999;

/// Points fewer than these have every symmetry by chance.
const POINTS_MIN: usize = 6;

/// A plane: all p with n · p = o.
#[derive(Debug, Clone, Copy)]
pub(super) struct Plane {
    pub normal: Vec3,
    pub offset: f64,
}

impl Plane {
    /// The mirror image of a point.
    pub fn image(&self, p: &Vec3) -> Vec3 {
        p - self.normal * (2.0 * (self.normal.dot(p) - self.offset))
    }
}

/// The points of a shell, what tells them apart, and a tree over them.
pub(super) struct Cloud {
    /// Where they are.
    pub points: Vec<Vec3>,
    /// Mean edge length at each.
    pub edge_length: Vec<f64>,
    /// Valence of each.
    pub valence: Vec<u32>,
    /// The tree.
    pub tree: KdTree,
}

impl Cloud {
    /// The cloud of points with the given edge lengths and valences.
    pub fn new(points: Vec<Vec3>, edge_length: Vec<f64>, valence: Vec<u32>) -> Self {
        Self {
            tree: KdTree::new(&points),
            points,
            edge_length,
            valence,
        }
    }

    /// The planes, those that the most points meet partners in first, no more than [`PLANES_MAX`].
    pub fn planes(&self) -> Vec<Plane> {
        if self.points.len() < POINTS_MIN {
            return Vec::new();
        }
        let centre = self.points.iter().sum::<Vec3>() / self.points.len() as f64;
        let order = self.outside_in(&centre);
        let [few, more] = [GUESS_PROBES, FIT_PROBES].map(|count| strided(&order, count));
        let mut found: Vec<(usize, Plane)> = Vec::new();
        let known = |found: &[(usize, Plane)], plane: &Plane| {
            let same = |f: &(usize, Plane)| f.1.normal.dot(&plane.normal).abs() > SAME_PLANE_COSINE;
            found.iter().any(same)
        };
        let guesses = self.principal_planes(&centre).into_iter();
        for guess in guesses.chain(self.planes_of_pairs(&order, &centre)) {
            // None meets more than all.
            let whole = found.iter().filter(|(met, _)| *met == more.len());
            if whole.count() >= PLANES_MAX || found.len() >= 4 * PLANES_MAX {
                break;
            }
            if known(&found, &guess) || !self.is_likely(&guess, &few) {
                continue;
            }
            let fitted = FIT_REACHES
                .iter()
                .try_fold(guess, |plane, &reach| self.fitted(&plane, &more, reach));
            let Some(plane) = fitted.filter(|plane| !known(&found, plane)) else {
                continue;
            };
            if let Some(met) = self.met(&plane, &more) {
                found.push((met, plane));
            }
        }
        found.sort_by_key(|(met, _)| std::cmp::Reverse(*met));
        found.truncate(PLANES_MAX);
        found.into_iter().map(|(_, plane)| plane).collect()
    }

    /// All points: of irregular valence first, then by falling distance from the centre.
    fn outside_in(&self, centre: &Vec3) -> Vec<u32> {
        let keys: Vec<(bool, f64)> = (0..self.points.len())
            .map(|i| {
                (
                    self.valence[i] == 4,
                    -(self.points[i] - centre).norm_squared(),
                )
            })
            .collect();
        let mut order: Vec<u32> = (0..self.points.len() as u32).collect();
        let key = |i: &u32| keys[*i as usize];
        order.sort_unstable_by(|a, b| {
            let (a, b) = (key(a), key(b));
            a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))
        });
        order
    }

    /// The planes through the centre across the principal axes.
    fn principal_planes(&self, centre: &Vec3) -> [Plane; 3] {
        let arms = self.points.iter().map(|p| p - centre);
        let spread: Matrix3<f64> = arms.map(|d| d * d.transpose()).sum();
        let axes = spread.symmetric_eigen().eigenvectors;
        [0, 1, 2].map(|k| {
            let normal: Vec3 = axes.column(k).into();
            let offset = normal.dot(centre);
            Plane { normal, offset }
        })
    }

    /// The planes half-way between two points that look alike: as far from the centre, with as many
    /// and as long edges.
    fn planes_of_pairs(&self, order: &[u32], centre: &Vec3) -> Vec<Plane> {
        /// Points of one look that are paired with each other at most.
        const ALIKE_MAX: usize = 8;
        /// Difference of distances from the centre, as part of the edge length, of points alike.
        const DISTANCE_TOLERANCE: f64 = 0.02;
        /// Pairs at least and at most; in between half as many as points.
        const PAIRS: [usize; 2] = [16, 128];
        let budget = (self.points.len() / 2).clamp(PAIRS[0], PAIRS[1]);
        let distance = |i: u32| (self.points[i as usize] - centre).norm();
        let mut planes = Vec::new();
        let mut start = 0;
        while start < order.len() && planes.len() < budget {
            let first = order[start];
            let reach = distance(first) - DISTANCE_TOLERANCE * self.edge_length[first as usize];
            let alike = order[start..]
                .iter()
                .take_while(|&&i| distance(i) >= reach && self.same_kind(first, i));
            let run = alike.count();
            let alike = &order[start..start + run.min(ALIKE_MAX)];
            for (k, &a) in alike.iter().enumerate() {
                let partners = alike[k + 1..].iter().filter(|&&b| self.alike(a, b));
                planes.extend(partners.filter_map(|&b| self.half_way(a, b)));
            }
            start += run.max(1);
        }
        planes.truncate(budget);
        planes
    }

    /// Whether both are regular or neither is: the order has one kind before the other.
    fn same_kind(&self, a: u32, b: u32) -> bool {
        let [a, b] = [a, b].map(|i| self.valence[i as usize] == 4);
        a == b
    }

    fn alike(&self, a: u32, b: u32) -> bool {
        /// Relative difference of the edge lengths of points alike.
        const LENGTH_TOLERANCE: f64 = 0.05;
        let [a, b] = [a, b].map(|i| i as usize);
        let [l, m] = [self.edge_length[a], self.edge_length[b]];
        self.valence[a] == self.valence[b] && (l - m).abs() <= LENGTH_TOLERANCE * l.max(m)
    }

    /// The plane half-way between two points.
    fn half_way(&self, a: u32, b: u32) -> Option<Plane> {
        let [a, b] = [a, b].map(|i| self.points[i as usize]);
        let normal = (a - b).try_normalize(0.0)?;
        let offset = normal.dot(&((a + b) * 0.5));
        Some(Plane { normal, offset })
    }

    /// The partner of point `i`: the point nearest to its mirror image, within the given part of the
    /// edge length.
    pub fn partner(&self, plane: &Plane, i: usize, reach: f64) -> Option<(usize, f64)> {
        let image = plane.image(&self.points[i]);
        self.tree
            .nearest_within(&image, reach * self.edge_length[i])
    }

    /// Whether enough of the probes find a partner that a plane is worth fitting. Given up as soon as
    /// it can't be.
    fn is_likely(&self, plane: &Plane, probes: &[usize]) -> bool {
        let missed_max = (probes.len() as f64 * (1.0 - GUESS_SHARE_MIN)) as usize;
        let lonely = |&&i: &&usize| self.partner(plane, i, GUESS_TOLERANCE).is_none();
        probes.iter().filter(lonely).take(missed_max + 1).count() <= missed_max
    }

    /// The plane half-way between the probes and their partners, long distances counting more.
    fn fitted(&self, plane: &Plane, probes: &[usize], reach: f64) -> Option<Plane> {
        let mut across = Vec3::zeros();
        let mut middles: Vec<Vec3> = Vec::with_capacity(probes.len());
        for &i in probes {
            let Some((j, _)) = self.partner(plane, i, reach) else {
                continue;
            };
            let apart = self.points[i] - self.points[j];
            across += apart * apart.dot(&plane.normal).signum();
            middles.push((self.points[i] + self.points[j]) * 0.5);
        }
        let normal = across.try_normalize(0.0)?;
        let offset = median(middles.iter().map(|m| m.dot(&normal)));
        offset.is_finite().then_some(Plane { normal, offset })
    }

    /// How many of the probes meet a partner, if that makes the plane one of symmetry.
    fn met(&self, plane: &Plane, probes: &[usize]) -> Option<usize> {
        let partners = |&i: &usize| {
            let partner = self.partner(plane, i, MET_TOLERANCE);
            partner.map(|(j, _)| i != j)
        };
        let (mut met, mut apart) = (0, 0);
        for other in probes.iter().filter_map(partners) {
            met += 1;
            apart += usize::from(other);
        }
        let count = probes.len() as f64;
        let symmetric =
            met as f64 > MET_SHARE_MIN * count && apart as f64 > APART_SHARE_MIN * count;
        symmetric.then_some(met)
    }
}

/// Evenly chosen from a list, no more than about `count`.
fn strided(order: &[u32], count: usize) -> Vec<usize> {
    let step = order.len().div_ceil(count).max(1);
    order.iter().step_by(step).map(|&i| i as usize).collect()
}
