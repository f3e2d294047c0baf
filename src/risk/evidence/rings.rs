//! The rings about every vertex: those one, two and three edges away.

use rayon::prelude::*;

use crate::measure::MeasureContext;
use crate::mesh::NONE;

/// Vertices that one parallel task takes on.
const TASK_LENGTH: usize = 1024;

/// Tasks that share a list of all vertices at least: filling it takes time as well.
const TASKS_MIN: usize = 8;

/// Vertices on the three rings about a regular vertex of a regular neighbourhood.
const REGULAR_MEMBERS: usize = 24;

/// Vertices that are gathered about one at most: a ring that would bring more, about a pole of high
/// valence, is left out with all beyond it, so that time grows with the cage alone.
pub(super) const MEMBERS_MAX: usize = 128;

/// Valence up to which a vertex is left again on the side it was not entered from: from each of its
/// neighbours, the ring about a pole of very high valence would be the whole surface.
const VALENCE_MAX: usize = 32;

/// Rings about all vertices, without the vertices themselves.
#[derive(Debug, Clone)]
pub struct Rings {
    /// As the tasks found them: to lay them together would take as long again.
    parts: Vec<Part>,
}

/// Rings about [`TASK_LENGTH`] vertices.
#[derive(Debug, Clone)]
struct Part {
    /// Per vertex: where its rings 1 to 3 begin in `members`, and where ring 3 ends.
    bounds: Vec<[u32; 4]>,
    members: Vec<u32>,
}

impl Rings {
    /// Gathers three rings about every vertex.
    pub fn new(context: &MeasureContext) -> Self {
        let count = context.topology().vertex_count();
        // For each vertex that about which it was entered last.
        let entered_about = || vec![NONE; count];
        let parts = (0..count.div_ceil(TASK_LENGTH))
            .into_par_iter()
            .with_min_len(TASKS_MIN)
            .map_init(entered_about, |entered_about, t| {
                let last = ((t + 1) * TASK_LENGTH).min(count);
                let mut part = Part {
                    bounds: Vec::with_capacity(TASK_LENGTH),
                    members: Vec::with_capacity(TASK_LENGTH * REGULAR_MEMBERS),
                };
                (t * TASK_LENGTH..last).for_each(|v| part.gather(context, v, entered_about));
                part
            })
            .collect();
        Self { parts }
    }

    /// The vertices from `first` to `last` edges away from `v`, of 1 to 3.
    pub fn between(&self, v: usize, first: usize, last: usize) -> &[u32] {
        let part = &self.parts[v / TASK_LENGTH];
        let bounds = &part.bounds[v % TASK_LENGTH];
        &part.members[bounds[first - 1] as usize..bounds[last] as usize]
    }
}

impl Part {
    fn gather(&mut self, context: &MeasureContext, v: usize, entered_about: &mut [u32]) {
        let start = self.members.len();
        let mut bounds = [start; 4];
        entered_about[v] = v as u32;
        for ring in 1..4 {
            let from = bounds[ring - 1];
            if ring == 1 {
                self.enter(context, [v, v], entered_about);
            } else {
                for i in bounds[ring - 2]..from {
                    let u = self.members[i] as usize;
                    if context.spokes.of(u).len() <= VALENCE_MAX {
                        self.enter(context, [v, u], entered_about);
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

    /// Takes on the neighbours of `u` that were not entered about `v` before.
    fn enter(&mut self, context: &MeasureContext, [v, u]: [usize; 2], entered_about: &mut [u32]) {
        for w in context.spokes.of(u).iter().map(|s| s.vertex) {
            let about = &mut entered_about[w as usize];
            if *about != v as u32 {
                *about = v as u32;
                self.members.push(w);
            }
        }
    }
}
