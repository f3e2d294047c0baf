//! Which vertices at risk belong to one place: patches grown from their worst vertices.
//!
//! Two vertices *touch* where they are neighbours or have a neighbour in common. Vertices at
//! [`Band::Fault`] and more that touch make up a core. Vertices at [`Band::Watch`] join the cores
//! ring by ring: each the core that it touches, or touches by way of vertices that joined before it;
//! of several that reach it in the same ring the one with the worst peak. What causes the risk plays
//! no part: a fault shows a pole here and a warped quad there and is one fault all the same. Two
//! cores with nothing but [`Band::Watch`] between them stay two places, for between them hardly
//! anybody sees a fault; but two whose peaks are alike and that reach a vertex in the same ring, as
//! a form's symmetry brings about, are one, since nothing but the numbering could part them. What no
//! core reaches makes patches of its own, by touch.

use std::collections::BTreeMap;

use super::{Band, Risks};
use crate::measure::MeasureContext;

/// A risk as it is ranked: vertices and places that are alike but for rounding keep the order of
/// their numbers.
pub(super) fn compared(risk: f64) -> f64 {
    /// Steps that ranked risks are rounded to.
    const RANK_EPSILON: f64 = 1e-9;
    (risk / RANK_EPSILON).round()
}

/// Gathers the vertices of [`Band::Watch`] and more into patches, each sorted, the one with the
/// least vertex first. Of the whole of a mirrored half a vertex and its mirror image count as one
/// vertex, that of the half: the patches are the half's.
pub(super) fn patches(context: &MeasureContext, risks: &Risks) -> Vec<Vec<usize>> {
    let mut gathering = Gathering::new(context, risks);
    gathering.join_touching(Band::Fault);
    gathering.grow();
    gathering.join_touching(Band::Watch);
    gathering.patches()
}

/// What reaches a vertex in the same ring: the worst peak, and the roots of the cores that have it.
type Claim = (f64, Vec<usize>);

struct Gathering<'a> {
    context: &'a MeasureContext<'a>,
    bands: Vec<Band>,
    /// Disjoint sets (union-find): towards the least vertex of each.
    towards: Vec<usize>,
    /// The worst risk in the set of a root, as it is ranked.
    peak: Vec<f64>,
    /// Whether a vertex belongs to a core or has joined one.
    joined: Vec<bool>,
}

impl<'a> Gathering<'a> {
    fn new(context: &'a MeasureContext<'a>, risks: &Risks) -> Self {
        let count = match context.mirror {
            Some(map) => map.half_vertices,
            None => risks.total.len(),
        };
        let bands: Vec<Band> = risks.total[..count].iter().map(|&r| Band::of(r)).collect();
        Self {
            context,
            towards: (0..count).collect(),
            peak: risks.total[..count].iter().map(|&r| compared(r)).collect(),
            joined: bands.iter().map(|&band| band >= Band::Fault).collect(),
            bands,
        }
    }

    /// A vertex and its neighbours.
    fn about(&self, v: usize) -> impl Iterator<Item = usize> + use<'a> {
        let map = self.context.mirror;
        let spokes = self.context.spokes.of(v).iter();
        let neighbours = spokes.map(move |s| {
            let w = s.vertex as usize;
            map.map_or(w, |map| map.in_half(w))
        });
        neighbours.chain([v])
    }

    fn root(&mut self, mut v: usize) -> usize {
        while self.towards[v] != v {
            self.towards[v] = self.towards[self.towards[v]];
            v = self.towards[v];
        }
        v
    }

    fn join(&mut self, a: usize, b: usize) {
        let (a, b) = (self.root(a), self.root(b));
        let (least, other) = (a.min(b), a.max(b));
        self.towards[other] = least;
        self.peak[least] = self.peak[least].max(self.peak[other]);
    }

    /// Joins all vertices that touch and are of this band or worse: for [`Band::Watch`] only those
    /// that no core reached.
    fn join_touching(&mut self, from: Band) {
        let reached = from < Band::Fault;
        for middle in 0..self.bands.len() {
            let mut first = None;
            for v in self.about(middle) {
                if self.bands[v] >= from && !(reached && self.joined[v]) {
                    self.join(*first.get_or_insert(v), v);
                }
            }
        }
    }

    /// Has the vertices at watch join the cores, ring by ring.
    fn grow(&mut self) {
        let mut ring: Vec<usize> = (0..self.joined.len()).filter(|&v| self.joined[v]).collect();
        let mut in_ring = vec![false; self.joined.len()];
        while !ring.is_empty() {
            ring.iter().for_each(|&v| in_ring[v] = true);
            let claims = self.claims(&ring, &in_ring);
            ring.iter().for_each(|&v| in_ring[v] = false);
            ring = claims.keys().copied().collect();
            for (v, (_, roots)) in claims {
                self.joined[v] = true;
                roots.into_iter().for_each(|root| self.join(v, root));
            }
        }
    }

    /// The vertices that the last ring reaches, and what claims them.
    fn claims(&mut self, ring: &[usize], in_ring: &[bool]) -> BTreeMap<usize, Claim> {
        let mut middles: Vec<usize> = ring.iter().flat_map(|&v| self.about(v)).collect();
        middles.sort_unstable();
        middles.dedup();
        let mut claims = BTreeMap::new();
        for middle in middles {
            let mut claim: Claim = (f64::NEG_INFINITY, Vec::new());
            for v in self.about(middle).filter(|&v| in_ring[v]) {
                let root = self.root(v);
                take(&mut claim, self.peak[root], &[root]);
            }
            for v in self.about(middle) {
                if self.bands[v] == Band::Watch && !self.joined[v] {
                    let known = claims.entry(v).or_insert((f64::NEG_INFINITY, Vec::new()));
                    take(known, claim.0, &claim.1);
                }
            }
        }
        claims
    }

    fn patches(mut self) -> Vec<Vec<usize>> {
        let mut patches: Vec<Vec<usize>> = Vec::new();
        let mut number_of_root = vec![None; self.bands.len()];
        for v in (0..self.bands.len())
            .filter(|&v| self.bands[v] >= Band::Watch)
            .collect::<Vec<_>>()
        {
            let root = self.root(v);
            let number = *number_of_root[root].get_or_insert(patches.len());
            match patches.get_mut(number) {
                Some(patch) => patch.push(v),
                None => patches.push(vec![v]),
            }
        }
        patches
    }
}

/// Adds to a claim the cores that have a peak, if none of its own is worse.
fn take(claim: &mut Claim, peak: f64, roots: &[usize]) {
    if peak > claim.0 {
        *claim = (peak, Vec::new());
    }
    if peak == claim.0 {
        claim.1.extend_from_slice(roots);
        claim.1.sort_unstable();
        claim.1.dedup();
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use crate::mesh::{PolygonMesh, Topology, Vec3};
    use crate::subdivision::{BoundaryRule, ControlMesh, Creases, Surface};

    /// The patches of a flat strip of quads, two rows of vertices, whose upper row has these risks
    /// and whose lower row is clean.
    fn patches_of(risks: &[f64]) -> Vec<Vec<usize>> {
        let n = risks.len();
        let at = |k: usize| Vec3::new((k % n) as f64, (k / n) as f64, 0.0);
        let faces: Vec<[u32; 4]> = (0..n as u32 - 1)
            .map(|k| [k, k + 1, k + 1 + n as u32, k + n as u32])
            .collect();
        let mesh = PolygonMesh::from_faces((0..2 * n).map(at).collect(), &faces).unwrap();
        let control = ControlMesh::new(
            &mesh,
            Topology::new(&mesh),
            &Creases::default(),
            BoundaryRule::default(),
        );
        let surface = Surface::new(control);
        let mut total = risks.to_vec();
        total.resize(2 * n, 0.0);
        let risks = Risks {
            cause: vec![None; 2 * n],
            by_cause: Vec::new(),
            total,
        };
        patches(&MeasureContext::new(&surface), &risks)
    }

    #[test]
    fn vertices_at_fault_with_a_clean_one_between_them_are_one_place() {
        assert_eq!(patches_of(&[0.0, 0.6, 0.1, 0.8, 0.0, 0.0]), [[1, 3]]);
        let two = patches_of(&[0.0, 0.6, 0.1, 0.1, 0.8, 0.0]);
        assert_eq!(two, [[1], [4]]);
    }

    #[test]
    fn watch_ground_between_two_cores_is_shared_out_and_joins_neither_to_the_other() {
        let risks = [0.9, 0.3, 0.3, 0.3, 0.3, 0.3, 0.3, 0.6, 0.3];
        let found = patches_of(&risks);
        assert_eq!(found, [vec![0, 1, 2, 3, 4], vec![5, 6, 7, 8]]);
        // By way of ground at fault they are one.
        let found = patches_of(&[0.9, 0.5, 0.5, 0.5, 0.5, 0.5, 0.3, 0.6, 0.3]);
        assert_eq!(found, [[0, 1, 2, 3, 4, 5, 6, 7, 8]]);
    }

    #[test]
    fn cores_that_only_the_numbering_could_part_are_one() {
        let found = patches_of(&[0.9, 0.3, 0.3, 0.3, 0.3, 0.3, 0.3, 0.3, 0.9]);
        assert_eq!(found, [[0, 1, 2, 3, 4, 5, 6, 7, 8]]);
    }

    #[test]
    fn watch_ground_that_no_core_reaches_makes_places_of_its_own() {
        let found = patches_of(&[0.3, 0.0, 0.4, 0.0, 0.0, 0.25, 0.0, 0.0, 0.24]);
        assert_eq!(found, [vec![0, 2], vec![5]]);
        assert_eq!(patches_of(&[0.1, 0.2, 0.0]), Vec::<Vec<usize>>::new());
    }
}
