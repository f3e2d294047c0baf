//! Faults put into a cage of any kind, at places that a seed chooses.
//!
//! A place is a directed edge with a hand, and a few numbers that the kind of fault makes of what it
//! likes. It never depends on the size: a larger fault of the same seed is more of the same at the
//! same place. Size 0 leaves the cage as it is.

mod cuts;
mod edit;
pub mod ground;
mod mirrors;
mod moves;
mod seams;
mod supports;

use std::sync::Arc;

use super::case::{Case, Clean, Fault, FaultKind, Meshed, Sides};
use crate::support::cages::Random;
use edit::Edit;
use ground::Ground;
pub use supports::GONE as SUPPORT_GONE;

/// Rings between the places of two faults.
const APART: usize = 6;

/// Places that are tried before a cage is said to have none.
const TRIES: usize = 3000;

/// Places of which the most bent is taken, at most.
const CANDIDATES: usize = 4;

/// Where a fault goes.
#[derive(Debug, Clone, Copy)]
pub struct Place {
    /// The edge it is at, from its first vertex on.
    pub edge: [u32; 2],
    /// Whether it spreads to the left of the edge.
    pub left: bool,
    /// Numbers in [0, 1) that decide what is left open: length, direction, manner.
    pub open: [f64; 4],
}

impl Place {
    /// The edge as the face on the place's hand has it: first one vertex, then the other.
    fn face_edge(&self) -> [u32; 2] {
        let [v, w] = self.edge;
        if self.left { [v, w] } else { [w, v] }
    }

    /// +1 or -1.
    fn sign(&self) -> f64 {
        if self.open[0] < 0.5 { 1.0 } else { -1.0 }
    }

    /// A whole number from `low` to `high`.
    fn between(&self, which: usize, low: usize, high: usize) -> usize {
        low + (self.open[which] * (high + 1 - low) as f64) as usize
    }
}

/// The sizes of a kind: one at which nobody sees anything, and one at which everybody does.
///
/// Units: vertices pushed, slid, folded or off the centre line move by that part of an edge (mean
/// edges when pushed, the edge slid along else); uneven strips, squeezed loops and support loops are
/// slid by that part of the way to the next loop; warped quads have their corners that part of an
/// edge off, up and down. Triangles, n-gons, capped holes, poles, loops that end, seams and reversed
/// faces are counted: quads split, edges dissolved, vertices taken out, quads collapsed, edges
/// turned, quads passed, vertices unwelded, faces reversed.
pub fn sizes(kind: FaultKind) -> [f64; 2] {
    match kind {
        FaultKind::PushedVertex => [0.01, 0.5],
        FaultKind::SlidVertex => [0.02, 0.7],
        FaultKind::UnevenStrip => [0.02, 0.7],
        FaultKind::SqueezedLoop => [0.02, 0.95],
        FaultKind::WarpedQuad => [0.01, 0.3],
        FaultKind::MissingSupport => [0.02, 0.95],
        FaultKind::FoldedFace => [0.02, 2.5],
        FaultKind::CentreLineOff => [0.005, 0.4],
        FaultKind::Triangle => [0.0, 3.0],
        FaultKind::Ngon | FaultKind::CappedHole => [0.0, 2.0],
        FaultKind::HighPole => [0.0, 2.0],
        FaultKind::TightPole => [0.0, 1.0],
        FaultKind::BadLoopEnd => [0.0, 4.0],
        FaultKind::Seam => [0.0, 3.0],
        FaultKind::FlippedFace => [0.0, 2.0],
        // Their sides, for the record: none is ever put in.
        FaultKind::BareCap => [0.0, 48.0],
    }
}

/// Whether sizes of a kind are counts.
pub fn is_counted(kind: FaultKind) -> bool {
    sizes(kind)[0] == 0.0
}

/// Size from which on a support loop is taken to be gone, merged into the next one: about a fifth are.
const NEARLY_GONE: f64 = 0.93;

/// A size as it may come: mostly in the upper half, never over plain, counts whole and at least 1.
/// A face that folds over has its vertex past the neighbour; a support loop is gone now and then.
pub fn random_size(kind: FaultKind, random: &mut Random) -> f64 {
    let [_, plain] = sizes(kind);
    let most = if kind == FaultKind::FoldedFace {
        0.5
    } else {
        0.8
    };
    let part = 1.0 - most * random.unit() * random.unit().max(0.25);
    if kind == FaultKind::MissingSupport && part > NEARLY_GONE {
        SUPPORT_GONE
    } else if is_counted(kind) {
        (1.0 + random.below(plain as usize) as f64).min(plain)
    } else {
        plain * part
    }
}

/// Puts a fault in at a place that `random` chooses: whatever the size, the same for the same state
/// of `random`. `None` where the cage has no place for it, or none on both sides of a mirror plane.
pub fn put(
    clean: &Arc<Clean>,
    kind: FaultKind,
    size: f64,
    sides: Sides,
    random: &mut Random,
) -> Option<Case> {
    let ground = Ground::new(&clean.cage);
    put_on(&ground, clean, &[(kind, size)], sides, random)
}

/// Puts one of `kinds` in after the other, `count` in all if there is room, far from each other.
pub fn put_several(
    clean: &Arc<Clean>,
    kinds: &[FaultKind],
    count: usize,
    sides: Sides,
    random: &mut Random,
) -> Option<Case> {
    let first = random.below(kinds.len());
    let wanted: Vec<(FaultKind, f64)> = (0..count)
        .map(|i| kinds[(first + i) % kinds.len()])
        .map(|kind| (kind, random_size(kind, random)))
        .collect();
    put_on(&Ground::new(&clean.cage), clean, &wanted, sides, random)
}

/// Puts faults of given kinds and sizes in; those that find no place are left out, `None` if all are.
pub fn put_on(
    ground: &Ground,
    clean: &Arc<Clean>,
    wanted: &[(FaultKind, f64)],
    sides: Sides,
    random: &mut Random,
) -> Option<Case> {
    let mut edit = Edit::of(ground);
    let mut faults = Vec::new();
    let mut taken: Vec<u32> = Vec::new();
    for &(kind, size) in wanted {
        let seed = 1 + random.below(1 << 48) as u64;
        let mut own = Random(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1);
        let Some(places) = find(ground, kind, sides, &taken, &mut own) else {
            continue;
        };
        let mut sites = Vec::new();
        let used = match sides {
            Sides::One | Sides::Both => places.len(),
            Sides::FirstOfBoth => 1,
        };
        for place in places.iter().take(used) {
            sites.extend(apply(ground, &mut edit, kind, place, size)?);
        }
        taken.extend(places.iter().flat_map(|place| place.edge));
        faults.push(Fault {
            kind,
            sites,
            sides,
            size,
        });
    }
    if faults.is_empty() {
        return None;
    }
    let cage = edit.finished(&clean.cage, &mut faults)?;
    Some(Case {
        clean: clean.clone(),
        cage,
        faults,
    })
}

/// The cage that a fault of a kind makes of another at one place, whether or not it does any harm
/// there. `None` where its make-up does not allow it.
pub fn made_at(cage: &Meshed, kind: FaultKind, size: f64, place: &Place) -> Option<Meshed> {
    let ground = Ground::new(cage);
    let mut edit = Edit::of(&ground);
    apply(&ground, &mut edit, kind, place, size)?;
    edit.finished(cage, &mut [])
}

/// A place that suits a kind, and its mirror image if that is wanted too, far from what is taken: the
/// most bent of a few, as many as chance says, since faults of flat ground teach little.
fn find(
    ground: &Ground,
    kind: FaultKind,
    sides: Sides,
    taken: &[u32],
    random: &mut Random,
) -> Option<Vec<Place>> {
    let wanted = 1 + random.below(CANDIDATES);
    let mut found: Vec<Vec<Place>> = Vec::new();
    for _ in 0..TRIES {
        let place = any_place(ground, random);
        let free = place.filter(|p| suits(ground, kind, p) && is_free(ground, p, taken));
        let Some(place) = free else {
            continue;
        };
        if sides == Sides::One {
            found.push(vec![place]);
        } else if let Some(image) = image(ground, &place) {
            let apart = is_free(ground, &image, taken) && is_free(ground, &image, &place.edge);
            if apart && suits(ground, kind, &image) {
                found.push(vec![place, image]);
            }
        }
        if found.len() == wanted {
            break;
        }
    }
    let bend = |places: &Vec<Place>| ground.max_bend(places[0].edge[0]);
    found.into_iter().max_by(|a, b| bend(a).total_cmp(&bend(b)))
}

fn any_place(ground: &Ground, random: &mut Random) -> Option<Place> {
    let v = random.below(ground.positions.len());
    let around = &ground.neighbours[v];
    let way = random.unit();
    let place = Place {
        edge: [v as u32, *around.get((way * around.len() as f64) as usize)?],
        left: random.unit() < 0.5,
        open: std::array::from_fn(|_| random.unit()),
    };
    Some(place)
}

fn image(ground: &Ground, place: &Place) -> Option<Place> {
    let (_, partners) = ground.mirror.as_ref()?;
    let edge = place.edge.map(|v| partners[v as usize]);
    let left = !place.left;
    Some(Place {
        edge,
        left,
        ..*place
    })
}

fn is_free(ground: &Ground, place: &Place, taken: &[u32]) -> bool {
    if taken.is_empty() {
        return true;
    }
    let near = ground.rings(place.edge[0], APART);
    !taken.iter().any(|t| near.contains_key(t))
}

/// Whether a fault of a kind can be put at a place, and would be one there.
fn suits(ground: &Ground, kind: FaultKind, place: &Place) -> bool {
    match kind {
        FaultKind::PushedVertex => moves::can_push(ground, place),
        FaultKind::SlidVertex => moves::can_slide(ground, place),
        FaultKind::FoldedFace => moves::can_fold(ground, place),
        FaultKind::UnevenStrip => moves::can_slide_loop(ground, place),
        FaultKind::SqueezedLoop => moves::can_squeeze(ground, place),
        FaultKind::WarpedQuad => moves::can_warp(ground, place),
        FaultKind::CentreLineOff => moves::is_centre_line(ground, place),
        FaultKind::Triangle => cuts::can_split(ground, place),
        FaultKind::Ngon => cuts::can_dissolve(ground, place),
        FaultKind::CappedHole => cuts::can_cap(ground, place),
        FaultKind::HighPole => cuts::can_collapse(ground, place),
        FaultKind::TightPole => cuts::can_turn(ground, place),
        FaultKind::BadLoopEnd => cuts::can_end_loop(ground, place),
        FaultKind::MissingSupport => supports::is_support(ground, place),
        FaultKind::Seam => seams::can_unweld(ground, place),
        FaultKind::FlippedFace => seams::can_reverse(ground, place),
        FaultKind::BareCap => false,
    }
}

/// Puts a fault in and gives its sites.
fn apply(
    ground: &Ground,
    edit: &mut Edit,
    kind: FaultKind,
    place: &Place,
    size: f64,
) -> Option<Vec<u32>> {
    if size <= 0.0 {
        return Some(Vec::new());
    }
    let count = size.round() as usize;
    match kind {
        FaultKind::PushedVertex => Some(moves::push(ground, edit, place, size)),
        FaultKind::SlidVertex => Some(moves::slide(ground, edit, place, size)),
        FaultKind::FoldedFace => Some(moves::fold(ground, edit, place, size)),
        FaultKind::UnevenStrip => Some(moves::slide_loop(ground, edit, place, size)),
        FaultKind::SqueezedLoop => Some(moves::squeeze(ground, edit, place, size)),
        FaultKind::WarpedQuad => moves::warp(ground, edit, place, size),
        FaultKind::CentreLineOff => moves::off_plane(ground, edit, place, size),
        FaultKind::Triangle => cuts::split(ground, edit, place, count),
        FaultKind::Ngon => cuts::dissolve(ground, edit, place, count),
        FaultKind::CappedHole => cuts::cap(ground, edit, place, count),
        FaultKind::HighPole => cuts::collapse(ground, edit, place, count),
        FaultKind::TightPole => cuts::turn(ground, edit, place, count),
        FaultKind::BadLoopEnd => cuts::end_loop(ground, edit, place, count),
        FaultKind::MissingSupport => Some(supports::take_away(ground, edit, place, size)),
        FaultKind::Seam => seams::unweld(ground, edit, place, count),
        FaultKind::FlippedFace => seams::reverse(ground, edit, place, count),
        FaultKind::BareCap => None,
    }
}
