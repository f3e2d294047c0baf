//! The edges at every vertex, in flat arrays, and the way straight on along a loop.

use rayon::prelude::*;

use crate::mesh::{NONE, Topology};

/// An edge seen from one of its vertices.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Spoke {
    /// The edge.
    pub edge: u32,
    /// The vertex at its other end.
    pub vertex: u32,
    /// Which of that vertex's spokes runs back along the edge: walks along loops are many, and need
    /// not search for it.
    back: u32,
    /// The place, among the spokes of all vertices, of the one straight on from there; [`NONE`] where
    /// a loop ends.
    on: u32,
}

/// The spokes of all vertices, counter-clockwise about each; of a non-manifold vertex, fan by fan.
#[derive(Debug, Clone)]
pub struct Spokes {
    starts: Vec<u32>,
    spokes: Vec<Spoke>,
    /// Whether a loop may run straight on through the vertex: it is manifold.
    passable: Vec<bool>,
    closed: Vec<bool>,
}

impl Spokes {
    /// Gathers the spokes.
    pub fn new(topology: &Topology) -> Self {
        let mut gathered = Self {
            starts: vec![0],
            spokes: Vec::with_capacity(2 * topology.edge_count()),
            passable: Vec::with_capacity(topology.vertex_count()),
            closed: Vec::with_capacity(topology.vertex_count()),
        };
        for v in 0..topology.vertex_count() {
            for fan in topology.fans(v) {
                let spoke = |edge: usize, vertex: usize| Spoke {
                    edge: edge as u32,
                    vertex: vertex as u32,
                    back: NONE,
                    on: NONE,
                };
                gathered.spokes.extend(fan.iter().map(|&c| {
                    let c = c as usize;
                    spoke(topology.edge(c), topology.vertex(topology.next(c)))
                }));
                let last = topology.previous(fan[fan.len() - 1] as usize);
                if !topology.fan_is_closed(fan[0] as usize) {
                    gathered
                        .spokes
                        .push(spoke(topology.edge(last), topology.vertex(last)));
                }
            }
            gathered.starts.push(gathered.spokes.len() as u32);
            gathered.passable.push(topology.is_manifold(v));
            gathered.closed.push(topology.is_interior(v));
        }
        gathered.find_ways_back(topology);
        gathered.find_ways_on();
        gathered
    }

    fn find_ways_back(&mut self, topology: &Topology) {
        // Of each edge the first spoke at either end, by its place about the vertex there.
        let mut places = vec![[NONE; 2]; topology.edge_count()];
        let end = |edge: u32, v: usize| usize::from(topology.edge_vertices(edge as usize)[0] != v);
        for v in 0..topology.vertex_count() {
            for (j, spoke) in self.of(v).iter().enumerate() {
                let place = &mut places[spoke.edge as usize][end(spoke.edge, v)];
                *place = (*place).min(j as u32);
            }
        }
        for spoke in &mut self.spokes {
            spoke.back = places[spoke.edge as usize][end(spoke.edge, spoke.vertex as usize)];
        }
    }

    fn find_ways_on(&mut self) {
        for i in 0..self.spokes.len() {
            let arrived = self.spokes[i];
            let v = arrived.vertex as usize;
            let back = self.back(arrived);
            if let Some(j) = back.and_then(|j| self.opposite_place(v, j)) {
                self.spokes[i].on = self.place(v, j) as u32;
            }
        }
    }

    /// The place of spoke `j` of vertex `v` among the spokes of all vertices, in their order.
    pub fn place(&self, v: usize, j: usize) -> usize {
        self.starts[v] as usize + j
    }

    /// One value per spoke, from its vertex and its place there, in parallel: in the order of
    /// [`Spokes::place`].
    pub fn per_spoke(&self, value: impl Fn(usize, usize) -> f64 + Sync + Send) -> Vec<f64> {
        /// Vertices that one parallel task takes on.
        const TASK_LENGTH: usize = 1024;
        let mut values = vec![0.0; self.spokes.len()];
        let mut rest = &mut values[..];
        let mut tasks = Vec::new();
        let count = self.starts.len() - 1;
        for first in (0..count).step_by(TASK_LENGTH) {
            let last = (first + TASK_LENGTH).min(count);
            let length = self.starts[last] - self.starts[first];
            let (own, others) = std::mem::take(&mut rest).split_at_mut(length as usize);
            tasks.push((first..last, own));
            rest = others;
        }
        tasks.into_par_iter().for_each(|(vertices, own)| {
            let mut slots = own.iter_mut();
            for v in vertices {
                for (j, slot) in slots.by_ref().take(self.of(v).len()).enumerate() {
                    *slot = value(v, j);
                }
            }
        });
        values
    }

    /// The spokes of vertex `v`.
    pub fn of(&self, v: usize) -> &[Spoke] {
        &self.spokes[self.starts[v] as usize..self.starts[v + 1] as usize]
    }

    /// Whether vertex `v` is manifold.
    pub fn is_manifold(&self, v: usize) -> bool {
        self.passable[v]
    }

    /// Whether vertex `v` is manifold and ringed by faces all round.
    pub fn is_interior(&self, v: usize) -> bool {
        self.closed[v]
    }

    /// The way straight on after arriving along a spoke: the edge opposite at an interior vertex
    /// of valence 4, the other border edge at a border vertex of two faces.
    pub fn straight_on(&self, arrived: Spoke) -> Option<Spoke> {
        // Beyond the end where there is none.
        self.spokes.get(arrived.on as usize).copied()
    }

    /// Which of the spokes of the vertex that a spoke leads to runs back along it.
    pub fn back(&self, arrived: Spoke) -> Option<usize> {
        (arrived.back != NONE).then_some(arrived.back as usize)
    }

    /// The spoke along edge `e` that leads to vertex `v`, one of its ends.
    pub fn leading_to(&self, topology: &Topology, e: usize, v: usize) -> Option<Spoke> {
        let [a, b] = topology.edge_vertices(e);
        let mut from_other = self.of(if v == a { b } else { a }).iter();
        from_other.find(|s| s.edge as usize == e).copied()
    }

    /// The next border edge after arriving along one, at a manifold border vertex.
    pub fn border_on(&self, arrived: Spoke) -> Option<Spoke> {
        let v = arrived.vertex as usize;
        let (first, last) = (self.of(v).first()?, self.of(v).last()?);
        if !self.passable[v] || self.closed[v] {
            return None;
        }
        if first.edge == arrived.edge {
            Some(*last)
        } else {
            (last.edge == arrived.edge).then_some(*first)
        }
    }

    /// The spoke opposite to spoke `j` of vertex `v`, if a loop runs straight through it.
    pub fn opposite(&self, v: usize, j: usize) -> Option<Spoke> {
        self.opposite_place(v, j).map(|k| self.of(v)[k])
    }

    /// Which of the spokes of vertex `v` is opposite to spoke `j`.
    pub fn opposite_place(&self, v: usize, j: usize) -> Option<usize> {
        match (self.passable[v], self.closed[v], self.of(v).len(), j) {
            (true, true, 4, _) => Some((j + 2) % 4),
            (true, false, 3, 0 | 2) => Some(2 - j),
            _ => None,
        }
    }
}
