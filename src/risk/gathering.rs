//! Which vertices at risk belong to one place: patches grown from their peaks.
//!
//! Two vertices *touch* where they are neighbours or have a neighbour in common. Vertices at
//! [`Band::Fault`] and more that touch make up a core; every vertex at [`Band::Watch`] joins, in
//! order of falling risk, the worst vertex beside it (or, without one, the worst that it touches), and
//! so that vertex's core. What causes the risk plays no part: a fault shows a pole here and a warped
//! quad there and is one fault all the same. Two cores with nothing but [`Band::Watch`] between them
//! stay two: between two faults that are seen, ground on which hardly anybody sees one. Patches
//! without a core that touch are one, and one that touches a core's patch is part of that.

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
    gathering.join_cores();
    for v in gathering.ranked() {
        if Band::of(risks.total[v]) < Band::Fault {
            gathering.join_worst(v);
        }
        gathering.place(v);
    }
    gathering.patches()
}

struct Gathering<'a> {
    context: &'a MeasureContext<'a>,
    /// The risk of each vertex as it is ranked.
    rank: Vec<f64>,
    bands: Vec<Band>,
    /// Disjoint sets (union-find): towards the least vertex of each.
    towards: Vec<usize>,
    /// Whether the set of a root has a core.
    cored: Vec<bool>,
    placed: Vec<bool>,
    /// The worst placed vertex beside each vertex.
    beside: Vec<Option<usize>>,
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
            rank: risks.total[..count].iter().map(|&r| compared(r)).collect(),
            towards: (0..count).collect(),
            cored: bands.iter().map(|&band| band >= Band::Fault).collect(),
            placed: vec![false; count],
            beside: vec![None; count],
            bands,
        }
    }

    fn neighbours(&self, v: usize) -> impl Iterator<Item = usize> + use<'a> {
        let map = self.context.mirror;
        let spokes = self.context.spokes.of(v).iter();
        spokes.map(move |s| {
            let w = s.vertex as usize;
            map.map_or(w, |map| map.in_half(w))
        })
    }

    /// The vertices at risk, worst first.
    fn ranked(&self) -> Vec<usize> {
        let at_risk = |&v: &usize| self.bands[v] >= Band::Watch;
        let mut ranked: Vec<usize> = (0..self.rank.len()).filter(at_risk).collect();
        // Stable: equal ones keep their order.
        ranked.sort_by(|&a, &b| self.rank[b].total_cmp(&self.rank[a]));
        ranked
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
        self.cored[least] |= self.cored[other];
    }

    /// Joins all vertices at fault that touch.
    fn join_cores(&mut self) {
        for middle in 0..self.rank.len() {
            let about = self.neighbours(middle).chain([middle]);
            let mut first = None;
            for v in about {
                if self.bands[v] >= Band::Fault {
                    self.join(*first.get_or_insert(v), v);
                }
            }
        }
    }

    /// Joins a vertex to the worst placed one beside it or, without one, to the worst that it
    /// touches; and to every patch without a core that it touches.
    fn join_worst(&mut self, v: usize) {
        let around: Vec<usize> = self.neighbours(v).collect();
        let direct: Vec<usize> = around.iter().copied().filter(|&w| self.placed[w]).collect();
        let touched: Vec<usize> = around.iter().filter_map(|&w| self.beside[w]).collect();
        let nearest = if direct.is_empty() { &touched } else { &direct };
        let rank = |w: &usize| self.rank[*w];
        let worst = nearest.iter().map(rank).fold(f64::NEG_INFINITY, f64::max);
        // Which of several equal ones comes first is chance: it joins them all.
        let equal: Vec<usize> = nearest
            .iter()
            .copied()
            .filter(|w| rank(w) == worst)
            .collect();
        for w in equal {
            self.join(v, w);
        }
        for w in direct.into_iter().chain(touched) {
            let root = self.root(w);
            if !self.cored[root] {
                self.join(v, w);
            }
        }
    }

    fn place(&mut self, v: usize) {
        self.placed[v] = true;
        for w in self.neighbours(v) {
            self.beside[w].get_or_insert(v);
        }
    }

    fn patches(mut self) -> Vec<Vec<usize>> {
        let mut patches: Vec<Vec<usize>> = Vec::new();
        let mut number_of_root = vec![None; self.rank.len()];
        for v in 0..self.rank.len() {
            if !self.placed[v] {
                continue;
            }
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
