//! The rings about every vertex: those one, two and three edges away.

use rayon::prelude::*;

use crate::measure::MeasureContext;

/// Vertices that one parallel task takes on.
const TASK_LENGTH: usize = 1024;

/// Vertices that are gathered about one at most: a ring that would bring more, about a pole of high
/// valence, is left out with all beyond it, so that time grows with the cage alone.
const MEMBERS_MAX: usize = 128;

/// Valence up to which a vertex is left again on the side it was not entered from: from each of its
/// neighbours, the ring about a pole of very high valence would be the whole surface.
const VALENCE_MAX: usize = 32;

/// Rings about all vertices, without the vertices themselves.
#[derive(Debug, Clone)]
pub struct Rings {
    /// Per vertex: where its rings 1 to 3 begin in `members`, and where ring 3 ends.
    bounds: Vec<[u32; 4]>,
    members: Vec<u32>,
}

impl Rings {
    /// Gathers three rings about every vertex.
    pub fn new(context: &MeasureContext) -> Self {
        let count = context.topology().vertex_count();
        let tasks: Vec<Self> = (0..count.div_ceil(TASK_LENGTH))
            .into_par_iter()
            .map(|t| {
                let last = ((t + 1) * TASK_LENGTH).min(count);
                let mut part = Self {
                    bounds: Vec::with_capacity(TASK_LENGTH),
                    members: Vec::new(),
                };
                (t * TASK_LENGTH..last).for_each(|v| part.gather(context, v));
                part
            })
            .collect();
        let mut all = Self {
            bounds: Vec::with_capacity(count),
            members: Vec::with_capacity(tasks.iter().map(|t| t.members.len()).sum()),
        };
        for task in tasks {
            let shift = all.members.len() as u32;
            let shifted = task.bounds.iter().map(|b| b.map(|x| x + shift));
            all.bounds.extend(shifted);
            all.members.extend(task.members);
        }
        all
    }

    fn gather(&mut self, context: &MeasureContext, v: usize) {
        let start = self.members.len();
        let mut bounds = [start; 4];
        for ring in 1..4 {
            let from = bounds[ring - 1];
            if ring == 1 {
                self.enter(context, [v, v], start);
            } else {
                // A neighbour of a ring lies on it or on the ones before and after.
                let known = bounds[ring.max(3) - 3];
                for i in bounds[ring - 2]..from {
                    let u = self.members[i] as usize;
                    if context.spokes.of(u).len() <= VALENCE_MAX {
                        self.enter(context, [v, u], known);
                    }
                }
            }
            if self.members.len() - start > MEMBERS_MAX {
                self.members.truncate(from);
            }
            bounds[ring..].fill(self.members.len());
            if self.members.len() == from {
                break;
            }
        }
        self.bounds.push(bounds.map(|b| b as u32));
    }

    /// Takes on the neighbours of `u` that are neither `v` nor among the members from `known` on.
    fn enter(&mut self, context: &MeasureContext, [v, u]: [usize; 2], known: usize) {
        for w in context.spokes.of(u).iter().map(|s| s.vertex) {
            if w as usize != v && !self.members[known..].contains(&w) {
                self.members.push(w);
            }
        }
    }

    /// The vertices from `first` to `last` edges away from `v`, of 1 to 3.
    pub fn between(&self, v: usize, first: usize, last: usize) -> &[u32] {
        let bounds = &self.bounds[v];
        &self.members[bounds[first - 1] as usize..bounds[last] as usize]
    }
}
