//! Cages grown by chance from kits of modelling steps, each its own intended form.
//!
//! A kit draws a base form and what is done to it from a seeded generator: what props are made of,
//! with tight features, poles and uneven strips everywhere, and yet clean: support loops go all the
//! way round, poles lie on flat or gently curved ground.

mod assemblies;
mod blocks;
mod castings;
mod creased;
mod features;
mod lofts;
mod organic;
mod panels;
mod sheets;
pub mod steps;
mod tubes;
mod turned;

use std::sync::Arc;

use super::case::{Clean, Intended, Meshed};
use crate::support::cages::Random;
use creased::{is_creased, tight_edges};
use steps::finish::{copies, subdivide};
use steps::sound::complaint;
use steps::space::{affine, deform};
use steps::{Chance, Model};

/// Fewest vertices of a grown cage.
pub const FEWEST_VERTICES: usize = 200;

/// Most vertices of a grown cage.
pub const MOST_VERTICES: usize = 1500;

/// Draws until a cage is sound and of a wanted size, before a kit is taken to be at fault.
const DRAWS: u64 = 200;

/// A kit of modelling steps.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Kit {
    /// Machined blocks with knobs, holes and slots.
    Blocks,
    /// Plates with windows, bores and bosses.
    Panels,
    /// Turned parts with n-fold repeats.
    Turned,
    /// Tubes with collars and limbs.
    Tubes,
    /// Soft bodies with limbs, subdivided.
    Organic,
    /// Chests with lids, straps, bolts and handles.
    Assemblies,
    /// Waved sheets with open borders.
    Sheets,
    /// Lofted bodies with features mirrored in two planes, in one, or in none.
    Lofts,
    /// Cells of a lattice grown into one another, held or rounded.
    Castings,
}

impl Kit {
    /// All kits.
    pub const ALL: [Self; 9] = [
        Self::Blocks,
        Self::Panels,
        Self::Turned,
        Self::Tubes,
        Self::Organic,
        Self::Assemblies,
        Self::Sheets,
        Self::Lofts,
        Self::Castings,
    ];

    /// Its name, the family of its cages.
    pub fn name(self) -> &'static str {
        match self {
            Self::Blocks => "kit of blocks",
            Self::Panels => "kit of panels",
            Self::Turned => "kit of turned parts",
            Self::Tubes => "kit of tubes",
            Self::Organic => "kit of soft bodies",
            Self::Assemblies => "kit of assemblies",
            Self::Sheets => "kit of sheets",
            Self::Lofts => "kit of lofted bodies",
            Self::Castings => "kit of castings",
        }
    }

    fn draw(self, random: &mut Random) -> Option<Model> {
        match self {
            Self::Blocks => blocks::block(random),
            Self::Panels => panels::panel(random),
            Self::Turned => turned::turned(random),
            Self::Tubes => tubes::tube(random),
            Self::Organic => organic::body(random),
            Self::Assemblies => assemblies::assembly(random),
            Self::Sheets => sheets::sheet(random),
            Self::Lofts => lofts::body(random),
            Self::Castings => castings::casting(random),
        }
    }
}

/// The generator of one draw.
fn generator(kit: Kit, seed: u64, draw: u64) -> Random {
    let mixed = (seed.wrapping_mul(DRAWS) + draw)
        .wrapping_mul(0x9e37_79b9_7f4a_7c15)
        .wrapping_add((kit as u64 + 1).wrapping_mul(0xd1b5_4a32_d192_ed03));
    let mut random = Random(mixed | 1);
    // The first numbers of neighbouring seeds are alike.
    for _ in 0..8 {
        random.unit();
    }
    random
}

/// A cage of the kit: the same for the same seed.
pub fn grown(kit: Kit, seed: u64) -> Clean {
    for draw in 0..DRAWS {
        let random = &mut generator(kit, seed, draw);
        let Some(model) = kit.draw(random) else {
            continue;
        };
        let Some(model) = finished(model, random) else {
            continue;
        };
        let mesh = model.mesh();
        if complaint(&mesh).is_none() {
            let crease_edges = match is_creased(random) {
                true => tight_edges(&mesh, random),
                false => Vec::new(),
            };
            let cage = Meshed {
                crease_edges,
                ..Meshed::smooth(mesh)
            };
            return Clean {
                name: format!("{}, seed {seed}", kit.name()),
                family: kit.name(),
                intended: Intended::LimitOf(Arc::new(cage.clone())),
                cage,
                is_control: false,
            };
        }
    }
    panic!("the {} has no sound cage for seed {seed}", kit.name());
}

/// What is done to any kit's form in the end; `None` if its size is not wanted.
fn finished(mut model: Model, random: &mut Random) -> Option<Model> {
    let count = model.vertex_count();
    if count < MOST_VERTICES / 4 && random.chance(0.3) {
        model = subdivide(&model);
    }
    deform(&mut model, random);
    if random.chance(0.2) {
        affine(&mut model, random);
    }
    let count = model.vertex_count();
    if count < MOST_VERTICES / 3 && random.chance(0.25) {
        copies(&mut model, random, 1);
    }
    let count = model.vertex_count();
    (FEWEST_VERTICES..=MOST_VERTICES)
        .contains(&count)
        .then_some(model)
}

/// The cages of a kit with the given seeds.
pub fn of_seeds(kit: Kit, seeds: std::ops::Range<u64>) -> Vec<Clean> {
    seeds.map(|seed| grown(kit, seed)).collect()
}
