//! Which vertex of a shell is which other one's mirror image.

use rayon::prelude::*;
use smallvec::SmallVec;

use super::mirror_planes::{Cloud, MET_TOLERANCE};
use super::reflections::Reflection;
use crate::measure::MeasureContext;
use crate::mesh::{NONE, Vec3};

/// Part of the edge length within which a partner is looked for where no neighbour says which vertex
/// it is.
const REACH: f64 = 0.5;

/// Part of the longest edge of two vertices within which neighbours may say that they are partners: a
/// vertex slides along its edges, and one that is pushed makes them longer.
const REACH_BY_NEIGHBOURS: f64 = 1.0;

/// How often partners are looked for by those of neighbours: so many rings of vertices that are moved
/// next to each other get theirs.
const ROUNDS: usize = 4;

/// Part of the edge length within which a neighbour of a neighbour's partner is the partner, without
/// looking for a nearer one: copies are placed to five or six digits.
const EXACT_TOLERANCE: f64 = 1e-3;

/// Vertices that one parallel task takes on; `tests/mirror_evidence.rs` has a shell of more than two of
/// these.
const RUN: usize = 8192;

/// Neighbours of a vertex that are looked through at most: about a pole of very high valence each of its
/// neighbours would look through all the others.
const BESIDE_MAX: usize = 32;

/// A shell: vertices that edges join, each after the first with one before it that it is joined to.
pub(super) struct Shell {
    pub vertices: Vec<u32>,
    /// Place in `vertices` of the vertex by which each was reached.
    pub reached_by: Vec<u32>,
}

/// The partner of a vertex under a reflection.
#[derive(Debug, Clone, Copy)]
pub(super) struct Partner {
    /// The vertex; [`NONE`] if there is no partner.
    pub vertex: u32,
    /// Whether it is where the image is, and no other vertex has more of a claim to it.
    pub is_met: bool,
}

/// No partner.
const LONELY: Partner = Partner {
    vertex: NONE,
    is_met: false,
};

/// The partner of each vertex of a shell under one reflection: the vertex where the image is; else,
/// for one that was moved, the one that lies among its neighbours' partners as it does among its
/// neighbours; else the nearest.
pub(super) fn partners_under(
    context: &MeasureContext,
    shell: &Shell,
    place: &[u32],
    cloud: &Cloud,
    reflection: &Reflection,
) -> Vec<Partner> {
    let search = Search {
        context,
        shell,
        place,
        cloud,
        reflection,
    };
    let nearest = search.met_or_nearest();
    search.among_neighbours(nearest)
}

/// The search for the partners of a shell's vertices.
struct Search<'a> {
    context: &'a MeasureContext<'a>,
    shell: &'a Shell,
    /// Place of each vertex in its shell.
    place: &'a [u32],
    cloud: &'a Cloud,
    reflection: &'a Reflection,
}

impl Search<'_> {
    /// The vertex nearest to each one's image. Where the vertex that it was reached by has a partner, one
    /// of that one's neighbours mostly is it; else all are searched.
    fn met_or_nearest(&self) -> Vec<Partner> {
        let mut partners = vec![LONELY; self.shell.vertices.len()];
        let runs = partners.par_chunks_mut(RUN).enumerate();
        runs.for_each(|(k, run)| {
            let first = k * RUN;
            for i in 0..run.len() {
                let by = self.shell.reached_by[first + i] as usize;
                // One of an earlier run is another task's.
                let by = by.checked_sub(first).map(|by| run[by]);
                run[i] = self.met_beside(first + i, by.unwrap_or(LONELY));
            }
        });
        self.part_claims(&mut partners);
        partners
    }

    /// The partner of the vertex at place `i`, which was reached by one with the given partner.
    fn met_beside(&self, i: usize, by: Partner) -> Partner {
        let image = self.image(i);
        let reach = EXACT_TOLERANCE * self.cloud.edge_length[i];
        let exact = |w: &u32| (self.position(*w) - image).norm_squared() <= reach * reach;
        let beside = self.beside(by.vertex).filter(exact);
        match self.most_alike(self.shell.vertices[i], beside) {
            Some(vertex) => Partner {
                vertex,
                is_met: true,
            },
            None => self.nearest(i),
        }
    }

    /// Of several vertices that meet one partner leaves it to the one whose neighbours lie most as the
    /// partner's do: one that was moved onto another does not take that one's partner.
    fn part_claims(&self, partners: &mut [Partner]) {
        let mut claimed = vec![NONE; partners.len()];
        for i in 0..partners.len() {
            if !partners[i].is_met {
                continue;
            }
            let w = partners[i].vertex;
            let claim = &mut claimed[self.place[w as usize] as usize];
            if *claim == NONE {
                *claim = i as u32;
                continue;
            }
            let other = *claim as usize;
            let off = |i: usize| self.off(self.shell.vertices[i], w);
            let (winner, loser) = if off(i) < off(other) {
                (i, other)
            } else {
                (other, i)
            };
            *claim = winner as u32;
            partners[loser].is_met = false;
        }
    }

    /// The vertex nearest to where the reflection has the one at place `i`.
    fn nearest(&self, i: usize) -> Partner {
        let cloud = self.cloud;
        let edge_length = cloud.edge_length[i];
        let found = cloud
            .tree
            .nearest_within(&self.image(i), REACH * edge_length);
        let Some((j, distance)) = found else {
            return LONELY;
        };
        let there = cloud.tree.at(&cloud.points[j]).into_iter();
        let there = there.map(|j| self.shell.vertices[j]);
        let partner = self.most_alike(self.shell.vertices[i], there);
        Partner {
            vertex: partner.unwrap_or(NONE),
            is_met: distance <= MET_TOLERANCE * edge_length,
        }
    }

    /// The partners with those of vertices that meet none looked for anew, ring by ring: a vertex that is
    /// nobody's partner and is joined to the most known partners of its neighbours, of several the nearest
    /// to the image. A vertex that slides towards another one, or is pushed out, keeps its partner so.
    fn among_neighbours(&self, mut partners: Vec<Partner>) -> Vec<Partner> {
        let mut lonely: Vec<usize> = (0..partners.len())
            .filter(|&i| !partners[i].is_met)
            .collect();
        if lonely.is_empty() {
            return partners;
        }
        let mut known = Known::of_met(self.place, &partners);
        for _ in 0..ROUNDS {
            for (i, w, off) in self.alike_at(&known, &lonely) {
                let met = MET_TOLERANCE * self.cloud.edge_length[i];
                partners[i] = Partner {
                    vertex: w,
                    is_met: off <= met,
                };
                known.join(i, w);
            }
            let before = lonely.len();
            lonely.retain(|&i| known.partner[i] == NONE);
            if lonely.len() == before {
                break;
            }
        }
        partners
    }

    /// Of the vertices at the given places those that [`Search::alike`] finds partners for, these, and how
    /// far they are off the images; of several with one partner only the one that is nearest.
    fn alike_at(&self, known: &Known, lonely: &[usize]) -> Vec<(usize, u32, f64)> {
        let alike = |&i: &usize| self.alike(known, i).map(|(w, off)| (i, w, off));
        let mut found: Vec<(usize, u32, f64)> = lonely.par_iter().filter_map(alike).collect();
        found.sort_by(|a, b| a.1.cmp(&b.1).then(a.2.total_cmp(&b.2)));
        found.dedup_by_key(|(_, w, _)| *w);
        found
    }

    /// The vertex that lies among the known partners of the neighbours of the one at place `i` as that
    /// lies among them, and how far it is off the image.
    fn alike(&self, known: &Known, i: usize) -> Option<(u32, f64)> {
        let mut joined: SmallVec<[(u32, u32); BESIDE_MAX]> = SmallVec::new();
        let neighbours = self.beside(self.shell.vertices[i]);
        for w in neighbours.flat_map(|u| self.beside(known.of(u))) {
            match joined.iter_mut().find(|(seen, _)| *seen == w) {
                Some((_, times)) => *times += 1,
                None if !known.is_taken(w) && self.is_looked_through(w) => joined.push((w, 1)),
                None => {}
            }
        }
        let most = joined.iter().map(|(_, times)| *times).max()?;
        let image = self.image(i);
        let off = |w: u32| (self.position(w) - image).norm();
        let most = joined.into_iter().filter(|(_, times)| *times == most);
        let (w, off) = most
            .map(|(w, _)| (w, off(w)))
            .min_by(|a, b| a.1.total_cmp(&b.1))?;
        let longest = self.longest_edge(self.shell.vertices[i]);
        let longest = longest.max(self.longest_edge(w));
        (off <= REACH_BY_NEIGHBOURS * longest).then_some((w, off))
    }

    /// How far the mean of the neighbours of vertex `w` is off the image of that of vertex `v`, squared.
    fn off(&self, v: u32, w: u32) -> f64 {
        let mean = |v: u32| {
            let about = self.context.spokes.of(v as usize);
            let about = &about[..about.len().min(BESIDE_MAX)];
            let sum: Vec3 = about.iter().map(|s| self.position(s.vertex)).sum();
            sum / about.len() as f64
        };
        (mean(w) - self.reflection.image(&mean(v))).norm_squared()
    }

    fn longest_edge(&self, v: u32) -> f64 {
        let spokes = self.context.spokes.of(v as usize).iter();
        let squared = spokes.map(|s| (self.position(s.vertex) - self.position(v)).norm_squared());
        squared.fold(0.0, f64::max).sqrt()
    }

    fn position(&self, v: u32) -> Vec3 {
        self.context.positions()[v as usize]
    }

    fn image(&self, i: usize) -> Vec3 {
        self.reflection.image(&self.cloud.points[i])
    }

    fn is_looked_through(&self, v: u32) -> bool {
        self.context.spokes.of(v as usize).len() <= BESIDE_MAX
    }

    /// The neighbours of a vertex; none of none, nor of one that has very many.
    fn beside(&self, v: u32) -> impl Iterator<Item = u32> + '_ {
        let is_there = v != NONE && self.is_looked_through(v);
        let spokes = is_there.then(|| self.context.spokes.of(v as usize));
        spokes.into_iter().flatten().map(|spoke| spoke.vertex)
    }

    /// Of candidates at one place the one whose neighbours' mean is nearest to where the reflection has that
    /// of vertex `v`: along an open seam vertices lie on each other, and only one belongs to each side.
    fn most_alike(&self, v: u32, mut candidates: impl Iterator<Item = u32>) -> Option<u32> {
        let first = candidates.next()?;
        let Some(second) = candidates.next() else {
            return Some(first);
        };
        let all = [first, second].into_iter().chain(candidates);
        all.min_by(|a, b| self.off(v, *a).total_cmp(&self.off(v, *b)))
    }
}

/// Partners that are known while others are looked for.
struct Known<'a> {
    /// Place of each vertex in its shell.
    place: &'a [u32],
    /// Partner of the vertex at each place.
    partner: Vec<u32>,
    /// Whether the vertex at each place is some other's partner, or its own.
    is_taken: Vec<bool>,
}

impl<'a> Known<'a> {
    /// The partners of vertices that meet theirs.
    fn of_met(place: &'a [u32], partners: &[Partner]) -> Self {
        let mut known = Self {
            place,
            partner: vec![NONE; partners.len()],
            is_taken: vec![false; partners.len()],
        };
        for (i, partner) in partners.iter().enumerate().filter(|(_, p)| p.is_met) {
            known.join(i, partner.vertex);
        }
        known
    }

    fn join(&mut self, i: usize, w: u32) {
        self.partner[i] = w;
        self.is_taken[self.place[w as usize] as usize] = true;
    }

    /// The partner of vertex `v`.
    fn of(&self, v: u32) -> u32 {
        self.partner[self.place[v as usize] as usize]
    }

    fn is_taken(&self, w: u32) -> bool {
        self.is_taken[self.place[w as usize] as usize]
    }
}
