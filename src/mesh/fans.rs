//! The corners about each vertex, in fans.

use rayon::prelude::*;

use super::buckets::Buckets;
use super::topology::{TASK_LENGTH, Topology};

/// The fans about all vertices: runs of corners counter-clockwise, in which neighbours share an
/// interior edge.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) struct Fans {
    /// Where each fan starts among `corners`; one entry more than there are fans.
    starts: Vec<u32>,
    /// All corners, vertex by vertex and fan by fan.
    corners: Vec<u32>,
    /// The first fan of each vertex; one entry more than there are vertices.
    of_vertex: Vec<u32>,
}

impl Fans {
    /// Sorts the corners about each vertex into fans, from the corners sorted by vertex. A vertex's
    /// corners are its own alone, so that runs of vertices are sorted in parallel.
    pub fn order(topology: &Topology, at_vertex: Buckets) -> Self {
        let Buckets {
            starts,
            items: mut corners,
        } = at_vertex;
        let mut tasks = Vec::new();
        let mut rest = &mut corners[..];
        for first in (0..topology.vertex_count()).step_by(TASK_LENGTH) {
            let end = (first + TASK_LENGTH).min(topology.vertex_count());
            let (own, after) = rest.split_at_mut((starts[end] - starts[first]) as usize);
            rest = after;
            tasks.push((&starts[first..=end], own));
        }
        let runs: Vec<FanRun> = tasks
            .into_par_iter()
            .map(|(starts, corners)| FanRun::order(topology, starts, corners))
            .collect();
        let mut fan_starts = vec![0u32];
        let mut of_vertex = vec![0u32];
        for run in runs {
            let before = fan_starts.len() as u32 - 1;
            of_vertex.extend(run.vertex_ends.iter().map(|end| before + end));
            fan_starts.extend(run.fan_ends);
        }
        Self {
            starts: fan_starts,
            corners,
            of_vertex,
        }
    }

    /// The fans about vertex `v`.
    pub fn of(&self, v: usize) -> impl ExactSizeIterator<Item = &[u32]> + '_ {
        (self.of_vertex[v] as usize..self.of_vertex[v + 1] as usize)
            .map(|fan| &self.corners[self.starts[fan] as usize..self.starts[fan + 1] as usize])
    }

    /// Number of corners at vertex `v`, over all its fans.
    pub fn corner_count(&self, v: usize) -> usize {
        let [first, last] = [v, v + 1].map(|v| self.of_vertex[v] as usize);
        (self.starts[last] - self.starts[first]) as usize
    }
}

/// The fans about a run of vertices.
#[derive(Default)]
struct FanRun {
    /// Where each fan ends among all corners sorted by vertex.
    fan_ends: Vec<u32>,
    /// Number of fans up to each vertex and its own, counted from the run's first.
    vertex_ends: Vec<u32>,
    /// The corners of one vertex, ascending, and which of them are in a fan already.
    own: Vec<u32>,
    seen: Vec<bool>,
}

impl FanRun {
    /// Sorts the corners of a run of vertices, ascending about each at first, into fans; `starts`
    /// says where each vertex's begin among all corners.
    fn order(topology: &Topology, starts: &[u32], corners: &mut [u32]) -> Self {
        let mut run = Self::default();
        for bounds in starts.windows(2) {
            let [begin, end] = [bounds[0], bounds[1]].map(|b| (b - starts[0]) as usize);
            run.order_vertex(topology, &mut corners[begin..end], bounds[0]);
        }
        run
    }

    fn order_vertex(&mut self, topology: &Topology, corners: &mut [u32], start: u32) {
        self.own.clear();
        self.own.extend_from_slice(corners);
        self.seen.clear();
        self.seen.resize(corners.len(), false);
        let mut done = 0;
        for i in 0..self.own.len() {
            if self.seen[i] {
                continue;
            }
            let first = fan_start(topology, self.own[i] as usize);
            let mut at = Some(first);
            while let Some(c) = at {
                if let Ok(place) = self.own.binary_search(&(c as u32)) {
                    self.seen[place] = true;
                }
                corners[done] = c as u32;
                done += 1;
                at = topology.counter_clockwise(c).filter(|&next| next != first);
            }
            self.fan_ends.push(start + done as u32);
        }
        self.vertex_ends.push(self.fan_ends.len() as u32);
    }
}

/// The corner furthest clockwise from `c`; `c` itself if the fan is closed.
fn fan_start(topology: &Topology, c: usize) -> usize {
    let mut first = c;
    while let Some(before) = topology.clockwise(first) {
        if before == c {
            return c;
        }
        first = before;
    }
    first
}
