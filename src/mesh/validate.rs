//! The invariants of the adjacency, checked one by one.

use super::topology::Topology;

impl Topology {
    /// Lists every broken invariant of the adjacency; empty when it is sound. For tests.
    pub fn validate(&self) -> Vec<String> {
        let mut faults = Vec::new();
        for c in 0..self.corner_count() {
            if self.previous(self.next(c)) != c {
                faults.push(format!("corner {c}: previous(next) leads elsewhere"));
            }
            if let Some(t) = self.twin(c) {
                let paired = self.twin(t) == Some(c)
                    && self.vertex(t) == self.vertex(self.next(c))
                    && self.vertex(self.next(t)) == self.vertex(c)
                    && self.edge(t) == self.edge(c);
                if !paired {
                    faults.push(format!("corners {c} and {t} are no true twins"));
                }
            }
            let ends = self.edge_vertices(self.edge(c));
            let own = [self.vertex(c), self.vertex(self.next(c))];
            if ends != own && ends != [own[1], own[0]] {
                faults.push(format!("corner {c} does not run along its edge"));
            }
        }
        let mut in_fan = vec![0usize; self.corner_count()];
        for v in 0..self.vertex_count() {
            for fan in self.fans(v) {
                for (i, &c) in fan.iter().enumerate() {
                    in_fan[c as usize] += 1;
                    let follows =
                        i == 0 || self.counter_clockwise(fan[i - 1] as usize) == Some(c as usize);
                    if self.vertex(c as usize) != v || !follows {
                        faults.push(format!("vertex {v}: corner {c} is misplaced in its fan"));
                    }
                }
            }
        }
        if in_fan.iter().any(|&n| n != 1) {
            faults.push("some corner is not in exactly one fan".into());
        }
        faults
    }
}
