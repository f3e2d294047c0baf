//! Open borders, edge by edge.

use super::topology::{EdgeKind, Topology};

impl Topology {
    /// Every open border, as the corners whose edges it runs along, in the direction of their
    /// faces; borders in order of their lowest corner, with which each starts. From a border edge
    /// the next one is found about its end vertex, within the fan of faces, so that two borders
    /// that meet in one vertex stay apart. A border comes back to its start unless a non-manifold
    /// edge breaks it off.
    pub fn border_walks(&self) -> Vec<Vec<usize>> {
        let mut done = vec![false; self.corner_count()];
        let is_border = |c: usize| self.edge_kind(self.edge(c)) == EdgeKind::Border;
        let mut walks = Vec::new();
        for start in 0..self.corner_count() {
            if done[start] || !is_border(start) {
                continue;
            }
            let mut walk = Vec::new();
            let mut c = start;
            while !std::mem::replace(&mut done[c], true) {
                walk.push(c);
                let mut next = self.next(c);
                while let Some(twin) = self.twin(next) {
                    next = self.next(twin);
                }
                if !is_border(next) {
                    break;
                }
                c = next;
            }
            walks.push(walk);
        }
        walks
    }
}
