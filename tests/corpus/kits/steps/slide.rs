//! Edge loops slid in where they do no harm.

use std::collections::{BTreeMap, HashMap};

use super::Chance;
use super::model::Model;
use crate::support::cages::Random;

/// Bends, in degrees, between which a line of edges is neither straight nor held but a curve: a
/// loop slid in there on the chord would flatten it.
const CURVED: std::ops::Range<f64> = 4.0..40.0;

type Edges = HashMap<(u32, u32), (usize, usize)>;

/// The quads that a loop across the side `corner` of face `f` would cut, each with the corner at
/// which its entered side starts.
fn strip(model: &Model, edges: &Edges, f: usize, corner: usize) -> Option<Vec<(usize, usize)>> {
    let mut found: Vec<(usize, usize)> = Vec::new();
    let mut at = (f, corner);
    loop {
        let face = &model.faces[at.0];
        if face.len() != 4 || found.iter().any(|&(g, _)| g == at.0) {
            return None;
        }
        found.push(at);
        let (a, b) = (face[(at.1 + 2) % 4], face[(at.1 + 3) % 4]);
        match edges.get(&(b, a)) {
            Some(&next) if next == (f, corner) => return Some(found),
            Some(&next) => at = next,
            None => return starts_at_border(model, edges, found[0]).then_some(found),
        }
    }
}

/// A strip that ended at a border must have started at one.
fn starts_at_border(model: &Model, edges: &Edges, (f, corner): (usize, usize)) -> bool {
    let face = &model.faces[f];
    !edges.contains_key(&(face[(corner + 1) % 4], face[corner % 4]))
}

/// The angle in degrees by which the line of edges a, b turns at b, if it goes straight on there.
fn bend_after(model: &Model, around: &[Vec<usize>], a: u32, b: u32) -> f64 {
    let faces = &around[b as usize];
    let beside_a: Vec<u32> = faces
        .iter()
        .filter(|&&f| model.faces[f].contains(&a))
        .flat_map(|&f| model.faces[f].iter().copied())
        .collect();
    let p = |v: u32| model.points[v as usize];
    let ahead = p(b) - p(a);
    let onward = faces.iter().flat_map(|&f| {
        let face = &model.faces[f];
        let k = face.iter().position(|&v| v == b).unwrap();
        let n = face.len();
        [face[(k + 1) % n], face[(k + n - 1) % n]]
    });
    onward
        .filter(|c| *c != a && !beside_a.contains(c))
        .map(|c| ahead.angle(&(p(c) - p(b))).to_degrees())
        .fold(0.0, f64::max)
}

/// Slides one loop in across a random side, at a random or a tight place; leaves the model alone
/// if none of a few tries crosses straight or held edges only.
pub fn slide_loop(model: &mut Model, random: &mut Random) {
    const TRIES: usize = 12;
    let edges = model.directed_edges();
    let around = model.faces_at();
    for _ in 0..TRIES {
        let f = random.below(model.faces.len());
        let corner = random.below(4);
        let share = if random.chance(0.3) {
            0.15
        } else {
            random.between(0.3, 0.7)
        };
        if model.faces[f].len() != 4 {
            continue;
        }
        let Some(strip) = strip(model, &edges, f, corner) else {
            continue;
        };
        if crosses_well(model, &around, &strip) {
            cut(model, &strip, share);
            return;
        }
    }
}

/// The two ends of the side by which the strip enters a quad, and of the opposite one.
fn sides(model: &Model, (f, corner): (usize, usize)) -> [[u32; 2]; 2] {
    let v = |k: usize| model.faces[f][(corner + k) % 4];
    [[v(0), v(1)], [v(3), v(2)]]
}

fn crosses_well(model: &Model, around: &[Vec<usize>], strip: &[(usize, usize)]) -> bool {
    strip
        .iter()
        .flat_map(|&quad| sides(model, quad))
        .all(|[a, b]| {
            let bends = [
                bend_after(model, around, a, b),
                bend_after(model, around, b, a),
            ];
            let wide = (model.points[a as usize] - model.points[b as usize]).norm() > 0.0;
            wide && !bends.iter().any(|bend| CURVED.contains(bend))
        })
}

fn cut(model: &mut Model, strip: &[(usize, usize)], share: f64) {
    let mut middles = BTreeMap::<[u32; 2], u32>::new();
    let all: Vec<_> = strip.iter().map(|&quad| sides(model, quad)).collect();
    for (&(f, _), [[a, b], [d, c]]) in strip.iter().zip(all) {
        let mut middle = |a: u32, b: u32| {
            *middles.entry([a, b]).or_insert_with(|| {
                let (p, q) = (model.points[a as usize], model.points[b as usize]);
                model.points.push(p + (q - p) * share);
                model.points.len() as u32 - 1
            })
        };
        let (m, n) = (middle(a, b), middle(d, c));
        model.faces[f] = vec![a, m, n, d];
        let worked = model.worked[f];
        model.faces.push(vec![m, b, c, n]);
        model.worked.push(worked);
    }
}
