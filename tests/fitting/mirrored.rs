//! Whether faults on both sides of a form are found as often as the same on one side.

use std::collections::BTreeMap;

use cagewise::risk::Band;

use crate::corpus::case::FaultKind;
use crate::rows::{Label, Rows};

/// Whether a vertex counts as found.
pub fn is_hit(label: &Label) -> bool {
    Band::of(label.risk) >= Band::Fault
}

/// Faults that are at fault both ways, mirrored and put in on one side only, by which way they are found: a
/// fault is if one of its vertices is. That a mirrored one has vertices on both sides gives it no second
/// chance as long as the cage is its own image, and its risks with it; real cages that are drawn out aslant
/// afterwards are not. A loop that runs across the plane is the same fault both ways.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Pairs {
    pub all: usize,
    pub only_once: usize,
    pub only_mirrored: usize,
}

impl Pairs {
    /// The pairs of a part, `once` being the rows of its mirrored cases with each fault on one side only.
    ///
    /// # Panics
    /// If these are not the same cases or faults.
    pub fn of(rows: &Rows, once: &Rows) -> Self {
        let (mirrored, once) = (by_fault(rows), by_fault(once));
        assert_eq!(mirrored.len(), once.len(), "a case of each for a pair");
        let mut pairs = Self::default();
        for (mirrored, once) in mirrored.iter().zip(&once) {
            assert_eq!(mirrored.cage, once.cage);
            for (number, fault) in &mirrored.faults {
                let Some(single) = once.faults.get(number) else {
                    continue;
                };
                assert_eq!(fault.kind, single.kind);
                pairs.all += 1;
                pairs.only_once += usize::from(single.found && !fault.found);
                pairs.only_mirrored += usize::from(fault.found && !single.found);
            }
        }
        pairs
    }

    /// Both together.
    pub fn and(self, other: Self) -> Self {
        Self {
            all: self.all + other.all,
            only_once: self.only_once + other.only_once,
            only_mirrored: self.only_mirrored + other.only_mirrored,
        }
    }

    /// How many more are found on one side only, as a share of all.
    pub fn lost(self) -> f64 {
        (self.only_once as f64 - self.only_mirrored as f64) / self.all as f64
    }

    /// By how many standard errors more are found on one side only: the difference of the two counts over the
    /// root of their sum (McNemar, Note on the sampling error of the difference between correlated
    /// proportions or percentages, 1947); 0 where each is found both ways or not at all.
    pub fn standard_errors(self) -> f64 {
        let [once, mirrored] = [self.only_once, self.only_mirrored].map(|n| n as f64);
        match once + mirrored {
            0.0 => 0.0,
            sum => (once - mirrored) / sum.sqrt(),
        }
    }
}

/// What is at fault in a case.
struct Tried<'a> {
    /// Name of its clean cage.
    cage: &'a str,
    /// By the faults' numbers.
    faults: BTreeMap<usize, Fault>,
}

/// A fault by which some vertex is at fault.
struct Fault {
    kind: Option<FaultKind>,
    found: bool,
}

/// The cases that are paired.
fn by_fault(rows: &Rows) -> Vec<Tried<'_>> {
    let cases = rows.paired_cases.iter().map(|&case| Tried {
        cage: &rows.cases[case as usize].0,
        faults: BTreeMap::new(),
    });
    let mut cases: Vec<Tried> = cases.collect();
    for label in rows.labels.iter().filter(|l| l.faulty == Some(true)) {
        let place = rows.paired_cases.binary_search(&label.case);
        if let (Ok(place), Some(number)) = (place, label.fault) {
            let fault = cases[place].faults.entry(number).or_insert(Fault {
                kind: label.kind,
                found: false,
            });
            fault.found |= is_hit(label);
        }
    }
    cases
}
