//! What is true of each vertex of a case, told from the form alone.
//!
//! About a vertex lies its cell: the limit samples nearer to it, in parameter, than half-way to its
//! neighbours. A vertex strays by the 95 % quantile, over its cell, of the angle between the limit
//! normal and the form's at its nearest point. Nobody sees 2 degrees; everybody sees more than 6
//! (common practice, no published source).

use std::collections::VecDeque;

use cagewise::mesh::Topology;
use rayon::prelude::*;

use super::case::{Case, Fault, FaultKind, Intended, Truth};
use super::reference::{Reference, Stray, limit_samples, surface_of};

/// Under this angle, in degrees, nobody sees anything.
pub const SOUND_ANGLE: f64 = 2.0;

/// Over this angle, in degrees, everybody sees it.
pub const FAULT_ANGLE: f64 = 6.0;

/// Rings from its sites within which a fault is taken to be what made a vertex stray.
pub const FAULT_REACH: usize = 3;

/// The same for a loop that ends badly. A loop more across a bend draws the surface closer to the cage
/// all along, as much where it runs from border to border, which is no fault (common practice, no
/// published source; `a_loop_strays_no_more_beyond_the_face_it_ends_in` in `tests/corpus_truth.rs`):
/// what is wrong is how the faces smooth that it ends in.
pub const LOOP_END_REACH: usize = 0;

/// A surface whose whole cell lies further off the form than this part of an edge is not sound,
/// whatever its normals do: a practitioner who looks for it sees the step in an outline.
pub const OFF_THE_FORM: f64 = 0.15;

/// From this part of an edge on, a centre-line vertex off its plane leaves a gap or a ridge in the
/// whole that is seen; under `CENTRE_LINE_UNSEEN` nobody sees one (common practice, no published
/// source).
pub const CENTRE_LINE_SEEN: f64 = 0.05;
pub const CENTRE_LINE_UNSEEN: f64 = 0.01;

/// The level at which a cell is sampled: the quads at the vertex are its cell then.
const LEVEL: usize = 2;

/// Part of a cell's samples that a vertex's figure leaves beneath it.
const QUANTILE: f64 = 0.95;

/// What is true of each vertex of the faulty cage.
pub fn truth(case: &Case) -> Vec<Truth> {
    truth_by(case, &strays(case))
}

/// The same, where it is known by how much each vertex strays.
pub fn truth_by(case: &Case, strays: &[Stray]) -> Vec<Truth> {
    let topology = Topology::new(&case.cage.mesh);
    let near = nearest_fault(&topology, &case.faults);
    let by_angle = |v: usize| match strays[v].angle {
        a if a > FAULT_ANGLE => near[v].map_or(Truth::Unclear, Truth::Faulty),
        a if a > SOUND_ANGLE => Truth::Unclear,
        _ if strays[v].distance > OFF_THE_FORM && is_limit(case) => Truth::Unclear,
        _ => Truth::Sound,
    };
    let mut truths: Vec<Truth> = (0..strays.len()).map(by_angle).collect();
    for (i, fault) in case.faults.iter().enumerate() {
        by_definition(fault, i, &mut truths);
    }
    beside_faults(&topology, &mut truths);
    truths
}

/// How sure people are of a fault at each vertex, between 0 and 1: where they would argue, the part
/// of the way that the vertex strays from what nobody sees to what everybody does. NaN where something
/// else than the angle is argued about. `near` is what [`nearest_fault`] found.
pub fn sureness(strays: &[Stray], truths: &[Truth], near: &[Option<usize>]) -> Vec<f32> {
    let by_angle = |v: usize| match (truths[v], strays[v].angle) {
        (Truth::Faulty(_), _) => 1.0,
        (Truth::Sound, _) => 0.0,
        (Truth::Unclear, a) if near[v].is_some() && a > SOUND_ANGLE && a <= FAULT_ANGLE => {
            ((a - SOUND_ANGLE) / (FAULT_ANGLE - SOUND_ANGLE)) as f32
        }
        (Truth::Unclear, _) => f32::NAN,
    };
    (0..truths.len()).map(by_angle).collect()
}

fn is_limit(case: &Case) -> bool {
    matches!(case.clean.intended, Intended::LimitOf(_))
}

/// By how much each vertex strays: the quantile of the angle, and the least distance of its cell.
/// A vertex without limit normals does not stray.
pub fn strays(case: &Case) -> Vec<Stray> {
    let reference = Reference::of(&case.clean.intended);
    let surface = surface_of(&case.cage);
    let topology = surface.control().topology();
    let (positions, normals, quads) = limit_samples(&surface, LEVEL);
    let count = topology.vertex_count();
    let mut cells = vec![Vec::new(); count];
    for quad in &quads {
        for &v in quad.iter().filter(|&&v| (v as usize) < count) {
            cells[v as usize].extend_from_slice(quad);
        }
    }
    let at = case.cage.mesh.positions();
    cells
        .into_par_iter()
        .enumerate()
        .map(|(v, mut cell)| {
            cell.sort_unstable();
            cell.dedup();
            let lengths = topology.neighbours(v).map(|w| (at[w] - at[v]).norm());
            let edge = lengths.sum::<f64>() / topology.neighbours(v).count().max(1) as f64;
            let asked: Vec<Stray> = cell
                .iter()
                .map(|&s| (&positions[s as usize], &normals[s as usize]))
                .filter(|(_, n)| n.norm() > 0.5)
                .map(|(p, n)| reference.stray(p, n, edge))
                .collect();
            gathered(&asked)
        })
        .collect()
}

fn gathered(asked: &[Stray]) -> Stray {
    if asked.is_empty() {
        return Stray {
            angle: 0.0,
            distance: 0.0,
        };
    }
    let mut angles: Vec<f64> = asked.iter().map(|s| s.angle).collect();
    angles.sort_by(f64::total_cmp);
    let place = QUANTILE * (angles.len() - 1) as f64;
    let (low, high) = (
        angles[place.floor() as usize],
        angles[place.ceil() as usize],
    );
    let distances = asked.iter().map(|s| s.distance);
    Stray {
        angle: low + (high - low) * place.fract(),
        distance: distances.fold(f64::INFINITY, f64::min),
    }
}

const fn reach(kind: FaultKind) -> usize {
    match kind {
        FaultKind::BadLoopEnd => LOOP_END_REACH,
        _ => FAULT_REACH,
    }
}

/// The number of the fault whose sites are nearest along the edges, within its reach.
pub fn nearest_fault(topology: &Topology, faults: &[Fault]) -> Vec<Option<usize>> {
    nearest_within(topology, faults, |fault| reach(fault.kind))
}

/// The same within a reach of the caller's, in rings from the sites.
pub fn nearest_within(
    topology: &Topology,
    faults: &[Fault],
    reach: impl Fn(&Fault) -> usize,
) -> Vec<Option<usize>> {
    let mut found = vec![None; topology.vertex_count()];
    let mut queue = VecDeque::new();
    for (i, fault) in faults.iter().enumerate() {
        for &site in &fault.sites {
            if found[site as usize].is_none() {
                found[site as usize] = Some(i);
                queue.push_back((site as usize, 0));
            }
        }
    }
    while let Some((v, ring)) = queue.pop_front() {
        let fault = found[v];
        if fault.is_none_or(|i| ring == reach(&faults[i])) {
            continue;
        }
        for w in topology.neighbours(v) {
            if found[w].is_none() {
                found[w] = fault;
                queue.push_back((w, ring + 1));
            }
        }
    }
    found
}

/// Faults that no normal shows.
fn by_definition(fault: &Fault, number: usize, truths: &mut [Truth]) {
    let verdict = match fault.kind {
        FaultKind::FlippedFace | FaultKind::Seam => Truth::Faulty(number),
        FaultKind::CentreLineOff if fault.size >= CENTRE_LINE_SEEN => Truth::Faulty(number),
        FaultKind::CentreLineOff if fault.size > CENTRE_LINE_UNSEEN => Truth::Unclear,
        _ => return,
    };
    for &site in &fault.sites {
        let truth = &mut truths[site as usize];
        if !matches!(truth, Truth::Faulty(_)) {
            *truth = verdict;
        }
    }
}

/// Next to a fault nobody would mind being told of it.
fn beside_faults(topology: &Topology, truths: &mut [Truth]) {
    let is_faulty: Vec<bool> = truths
        .iter()
        .map(|t| matches!(t, Truth::Faulty(_)))
        .collect();
    for (v, truth) in truths.iter_mut().enumerate() {
        if *truth == Truth::Sound && topology.neighbours(v).any(|w| is_faulty[w]) {
            *truth = Truth::Unclear;
        }
    }
}
