//! Turned parts: stepped and grooved profiles, round or many-cornered, with n-fold repeats.

use std::f64::consts::{PI, TAU};

use cagewise::mesh::Vec3;

use super::steps::loft::{close, ends, loft};
use super::steps::patch::{Wanted, is_wanted, patch_from};
use super::steps::profile::Profile;
use super::steps::raise::{Plan, Ring, Top, cap, drawn_profile, raise};
use super::steps::{Chance, Model};
use crate::support::cages::Random;

/// How the rings run round.
#[derive(Clone)]
pub enum Section {
    /// Even circles of so many points, waved by a share of the radius so many times round.
    Circle { n: usize, wave: f64, fold: usize },
    /// A polygon of so many corners, each held by two points at an angle beside it.
    Polygon { corners: usize, beside: f64 },
}

impl Section {
    /// Points of the ring of radius 1.
    pub fn points(&self) -> Vec<[f64; 2]> {
        match *self {
            Self::Circle { n, wave, fold } => (0..n)
                .map(|i| {
                    let a = (i as f64 + 0.5) / n as f64 * TAU;
                    let r = 1.0 + wave * (fold as f64 * a).cos();
                    [r * a.cos(), r * a.sin()]
                })
                .collect(),
            Self::Polygon { corners, beside } => {
                let wide = TAU / corners as f64;
                let angles = [-beside, 0.0, beside, wide / 2.0];
                (0..4 * corners)
                    .map(|i| {
                        let a = (i / 4) as f64 * wide + angles[i % 4];
                        let off = (a + 10.0 * wide).rem_euclid(wide) - wide / 2.0;
                        let r = (PI / corners as f64).cos() / off.cos();
                        [r * a.cos(), r * a.sin()]
                    })
                    .collect()
            }
        }
    }

    fn count(&self) -> usize {
        self.points().len()
    }
}

/// The form that a profile makes about the y axis.
pub fn turn(profile: &Profile, section: &Section, closed: bool) -> Model {
    let outline = section.points();
    // Counter-clockwise seen from above, y up: z goes the other way.
    let ring = |&[r, h]: &[f64; 2]| {
        let point = |p: &[f64; 2]| Vec3::new(r * p[0], h, -r * p[1]);
        outline.iter().map(point).collect::<Vec<_>>()
    };
    loft(&profile.rings.iter().map(ring).collect::<Vec<_>>(), closed)
}

/// Puts the same feature on so many evenly spaced places of one height, if there is one that suits.
fn repeat(model: &mut Model, random: &mut Random, n: usize, fold: usize, rings: usize) {
    const TRIES: usize = 40;
    let pitch = n / fold;
    let edges = model.directed_edges();
    let at = model.faces_at();
    for _ in 0..TRIES {
        let across = random.whole(1, (pitch - 1).min(4));
        let along = random.whole(1, 3);
        let (first, row) = (random.below(pitch), random.below(rings));
        let patches: Option<Vec<_>> = (0..fold)
            .map(|k| {
                let f = row * n + (first + k * pitch) % n;
                patch_from(model, &edges, (f, 0), (across, along))
            })
            .collect();
        let Some(mut patches) = patches else {
            continue;
        };
        let wanted = Wanted {
            slender: 2.2,
            ..Wanted::curved(across, along, 360.0 / n as f64 * across as f64 / 2.0 + 1.0)
        };
        let apart = pitch > across + usize::from(across > 1);
        if !apart || !patches.iter().all(|p| is_wanted(model, &at, p, &wanted)) {
            continue;
        }
        let reach = patches[0].width(model) / 2.0;
        let plan = if across * along >= 4 {
            Plan::Round
        } else {
            Plan::Patch
        };
        let profile: Vec<Ring> = drawn_profile(random, reach, reach * 0.9);
        let top = random.pick(&[Top::Grid, Top::Grid, Top::Ngon]);
        for patch in &mut patches {
            raise(model, patch, plan, &profile);
            cap(model, patch, top);
        }
        return;
    }
}

/// A turned part by chance.
pub fn turned(random: &mut Random) -> Option<Model> {
    let section = if random.chance(0.25) {
        Section::Polygon {
            corners: random.pick(&[4, 5, 6, 8]),
            beside: random.between(0.06, 0.12),
        }
    } else {
        let n: usize = random.pick(&[12, 16, 16, 20, 24, 24, 32]);
        let fold = random.pick(&[2, 3, 4]);
        let is_waved = n >= 8 * fold && n.is_multiple_of(fold) && random.chance(0.3);
        Section::Circle {
            n,
            wave: if is_waved {
                random.between(0.03, 0.1)
            } else {
                0.0
            },
            fold,
        }
    };
    let n = section.count();
    let pieces = random.whole(1, 4);
    let profile = Profile::drawn(random, pieces);
    let is_bored = random.chance(0.3);
    let mut model;
    if is_bored {
        let profile = profile.bored(random.between(0.4, 0.75));
        model = turn(&profile, &section, true);
        fold_features(&mut model, random, &section, profile.rings.len());
        return Some(model);
    }
    let profile = profile.closed(random.between(0.3, 0.6));
    model = turn(&profile, &section, false);
    let [low, high] = ends(profile.rings.len(), n);
    fold_features(&mut model, random, &section, profile.rings.len() - 1);
    for rim in [low, high] {
        // An open end now and then; a grid needs four equal sides.
        if random.chance(0.85) {
            let grid = if n.is_multiple_of(4) {
                Top::Grid
            } else {
                Top::Ngon
            };
            let top = random.pick(&[grid, Top::Fan, Top::Ngon]);
            close(&mut model, &rim, top);
        }
    }
    Some(model)
}

fn fold_features(model: &mut Model, random: &mut Random, section: &Section, rings: usize) {
    let n = section.count();
    let folds: Vec<usize> = match section {
        Section::Circle { .. } => (2..=8)
            .filter(|k| n.is_multiple_of(*k) && n / k >= 2)
            .collect(),
        Section::Polygon { corners, .. } => vec![*corners],
    };
    for _ in 0..random.below(4) {
        let fold = random.pick(&folds);
        repeat(model, random, n, fold, rings);
    }
}
