//! Which cases the model is fitted on, on which its settings were chosen, and which are held out.
//!
//! Held-out parts share no cage with the others: they differ by seed, by shape, by kind of fault, by
//! kit, or are whole real cages of their own.

use std::sync::Arc;

use cagewise::mesh::PolygonMesh;
use nalgebra::Matrix3;

use crate::corpus::capped::capped;
use crate::corpus::case::{Case, Clean, FaultKind, Intended, Meshed};
use crate::corpus::controls::controls;
use crate::corpus::drawn::{affine, drawn};
use crate::corpus::faults::{is_counted, put, put_several, sizes};
use crate::corpus::kits::{self, Kit};
use crate::corpus::real::real;
use crate::rows::Rows;
use crate::support::cages::Random;

/// Where a cage comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Source {
    Drawn,
    Grown,
    Real,
    /// Drawn, with one fault of a size that is not seen, or hardly.
    Slight,
}

/// A part of all cases.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// What the model is fitted on.
    Fit,
    /// What its settings and quantities were chosen on: grown cages of a kit that it is not fitted
    /// on.
    Choose,
    /// What its probabilities are made right on: drawn forms of the families that are fitted on, under
    /// maps of their own, the finest of each family among them, and the kit that settings were chosen
    /// on; with the kinds of fault that are fitted on.
    Calibrate,
    /// (a) Drawn cages of the same kinds, and capped bodies.
    SameKinds,
    /// (b) Drawn cages of other shapes, and with other kinds of faults.
    OtherKinds,
    /// (c) Grown cages of a kit of their own.
    OtherKit,
    /// (d) Real cages of their own.
    RealHeld,
    /// (e) Grown cages of a kit that was written after a model had been fitted.
    LaterKit,
    /// (f) Grown cages of a kit that was written after the model of 2026-11-30 had been fitted.
    NewestKit,
}

/// Families of drawn shapes that are held out for [`Part::OtherKinds`].
pub const HELD_FAMILIES: [&str; 7] = [
    "padded seat",
    "half of a padded seat",
    "grooved turned form",
    "bent pipe",
    "square ring",
    "twisted bar",
    "rudder blade",
];

/// Kinds of faults that are held out for [`Part::OtherKinds`], on all sources. Of these a capped hole has a
/// relative that is fitted on, the bare cap.
pub const HELD_KINDS: [FaultKind; 3] = [
    FaultKind::CappedHole,
    FaultKind::SlidVertex,
    FaultKind::BadLoopEnd,
];

/// The kit that settings are chosen on.
pub const CHOOSE_KIT: Kit = Kit::Panels;

/// The kit that is held out for [`Part::OtherKit`].
pub const HELD_KIT: Kit = Kit::Turned;

/// The kit that was written after a model had been fitted, for [`Part::LaterKit`]: nothing of that model
/// can have been chosen by it, and nothing of those since was.
pub const LATER_KIT: Kit = Kit::Lofts;

/// The kit that was written after the model of 2026-11-30 had been fitted, for [`Part::NewestKit`]:
/// nothing was chosen by it.
pub const NEWEST_KIT: Kit = Kit::Castings;

/// Real cages, by file name, that are held out for [`Part::RealHeld`].
pub const HELD_REAL: [&str; 3] = ["machined_base", "creased_bishop", "teapot"];

/// Seeds of the drawn forms and of the capped bodies that are fitted on, and of both that are not.
const FITTED_SEEDS: std::ops::RangeInclusive<u64> = 1..=3;
const CAPPED_SEEDS: std::ops::RangeInclusive<u64> = 1..=6;
const UNFITTED_SEED: u64 = 77;
const CALIBRATION_SEED: u64 = 78;

/// Share of faulty variants whose faults are put in on both sides of a form that has two.
const MIRRORED: f64 = 0.4;

/// Cages of each kit.
const KIT_CAGES: usize = 32;

/// Faulty variants of each clean cage.
const VARIANTS: usize = 3;

/// The same for real cages, and how many of them are put through affine maps.
const REAL_VARIANTS: usize = 9;
const REAL_AFFINE: usize = 5;

/// Of held-out real cages more, in parts like these: they are few, and with a handful of faults of a
/// kind, some of them mirrored, one missed decides its figure.
const HELD_REAL_SETS: usize = 3;

/// Sizes of slight faults, as parts of the way from what nobody sees to what everybody does.
const SLIGHT: [f64; 3] = [0.0, 0.11, 0.22];

/// Seeds of the places of slight faults, and the largest drawn form, in vertices, that has them.
const SLIGHT_SEEDS: [u64; 3] = [21, 22, 23];
const SLIGHT_LARGEST: usize = 350;

/// Vertices per fault, roughly, and most faults of a variant.
const VERTICES_PER_FAULT: usize = 120;
const FAULTS_MOST: usize = 24;

/// The rows of a part, and where each case comes from.
pub fn rows_of(part: Part) -> (Rows, Vec<Source>) {
    let (cases, sources): (Vec<Case>, Vec<Source>) = cases(part).into_iter().unzip();
    (Rows::of(&cases), sources)
}

/// The kinds of faults that are fitted on.
fn fitted_kinds() -> Vec<FaultKind> {
    let held = |k: &FaultKind| HELD_KINDS.contains(k);
    FaultKind::PUT.into_iter().filter(|k| !held(k)).collect()
}

/// The cases of a part with their sources.
pub fn cases(part: Part) -> Vec<(Case, Source)> {
    let fitted = fitted_kinds();
    let all = FaultKind::PUT.to_vec();
    match part {
        Part::Fit => {
            let mut cases = of_all(fitted_forms(), Source::Drawn, &fitted, 11);
            for kit in Kit::ALL {
                if ![CHOOSE_KIT, HELD_KIT, LATER_KIT, NEWEST_KIT].contains(&kit) {
                    cases.extend(of_all(grown(kit), Source::Grown, &fitted, 12));
                }
            }
            cases.extend(of_all(real_ones(false), Source::Real, &fitted, 13));
            cases.extend(slight(&fitted));
            cases.extend(CAPPED_SEEDS.flat_map(capped_bodies));
            cases
        }
        Part::Calibrate => {
            let forms = drawn(CALIBRATION_SEED).into_iter();
            let mapped = forms.filter(|c| !is_held(c) && !c.name.ends_with("upright"));
            let forms = mapped.chain(controls(CALIBRATION_SEED)).collect();
            let mut cases = of_all(forms, Source::Drawn, &fitted, 21);
            cases.extend(of_all(grown(CHOOSE_KIT), Source::Grown, &fitted, 20));
            cases
        }
        Part::Choose => of_all(grown(CHOOSE_KIT), Source::Grown, &all, 14),
        Part::SameKinds => {
            let mut cases = of_all(unfitted_forms(), Source::Drawn, &fitted, 15);
            cases.extend(capped_bodies(UNFITTED_SEED));
            cases
        }
        Part::OtherKinds => {
            let shapes = drawn(UNFITTED_SEED).into_iter().filter(is_held);
            let mut cases = of_all(shapes.collect(), Source::Drawn, &all, 16);
            cases.extend(of_all(unfitted_forms(), Source::Drawn, &HELD_KINDS, 17));
            cases
        }
        Part::OtherKit => of_all(grown(HELD_KIT), Source::Grown, &all, 18),
        Part::RealHeld => of_all(real_ones(true), Source::Real, &all, 19),
        Part::LaterKit => of_all(grown(LATER_KIT), Source::Grown, &all, 22),
        Part::NewestKit => of_all(grown(NEWEST_KIT), Source::Grown, &all, 23),
    }
}

/// Bodies closed by caps, bare or held.
fn capped_bodies(seed: u64) -> impl Iterator<Item = (Case, Source)> {
    capped(seed).into_iter().map(|case| (case, Source::Drawn))
}

/// Slight faults of each kind that has a continuous size, one by one at a few places of drawn forms.
fn slight(kinds: &[FaultKind]) -> Vec<(Case, Source)> {
    let forms = forms_of(*FITTED_SEEDS.start());
    let small = |c: &&Arc<Clean>| c.cage.mesh.vertex_count() <= SLIGHT_LARGEST;
    let mut cases = Vec::new();
    for clean in forms.iter().filter(small) {
        for &kind in kinds.iter().filter(|&&k| !is_counted(k)) {
            let [unseen, plain] = sizes(kind);
            let at = |part: f64| unseen + (plain - unseen) * part;
            for seed in SLIGHT_SEEDS {
                let made = SLIGHT.map(|part| put(clean, kind, at(part), false, &mut Random(seed)));
                cases.extend(made.into_iter().flatten());
            }
        }
    }
    cases.into_iter().map(|c| (c, Source::Slight)).collect()
}

fn is_held(clean: &Arc<Clean>) -> bool {
    HELD_FAMILIES.contains(&clean.family)
}

/// Whether a drawn form is the finest of its family, which is not fitted on.
fn is_finest(clean: &Arc<Clean>, all: &[Arc<Clean>]) -> bool {
    let faces = |c: &Arc<Clean>| c.cage.mesh.face_count();
    let family = all.iter().filter(|c| c.family == clean.family);
    let sizes: Vec<usize> = family.map(faces).collect();
    let finest = sizes.iter().max() == Some(&faces(clean));
    finest && sizes.iter().any(|&n| n < faces(clean))
}

/// Drawn forms that are fitted on, and controls.
fn fitted_forms() -> Vec<Arc<Clean>> {
    let mut found = Vec::new();
    for seed in FITTED_SEEDS {
        found.extend(forms_of(seed));
        found.extend(controls(seed));
    }
    found
}

/// Those of one seed, without controls.
fn forms_of(seed: u64) -> Vec<Arc<Clean>> {
    let forms = drawn(seed);
    let is_fitted = |c: &&Arc<Clean>| !is_held(c) && !is_finest(c, &forms);
    forms.iter().filter(is_fitted).cloned().collect()
}

/// Drawn forms that are not: the finest of each family, all others under other maps, and controls.
fn unfitted_forms() -> Vec<Arc<Clean>> {
    let forms = drawn(UNFITTED_SEED);
    let is_other = |c: &&Arc<Clean>| !c.name.ends_with("upright") || is_finest(c, &forms);
    let kept = forms.iter().filter(|c| !is_held(c)).filter(is_other);
    let controls = controls(UNFITTED_SEED);
    kept.cloned().chain(controls).collect()
}

fn grown(kit: Kit) -> Vec<Arc<Clean>> {
    kits::all(kit, KIT_CAGES)
        .into_iter()
        .map(Arc::new)
        .collect()
}

/// The real cages that are held out, or the others; none where there is no folder of them.
fn real_ones(held: bool) -> Vec<Arc<Clean>> {
    let all = real().unwrap_or_default().into_iter();
    all.filter(|c| HELD_REAL.contains(&c.family) == held)
        .collect()
}

/// Each clean cage, and variants of it with faults of the given kinds.
fn of_all(
    forms: Vec<Arc<Clean>>,
    source: Source,
    kinds: &[FaultKind],
    seed: u64,
) -> Vec<(Case, Source)> {
    let mut random = Random(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1);
    let mut cases = Vec::new();
    for clean in forms {
        cases.push(Case {
            clean: clean.clone(),
            cage: clean.cage.clone(),
            faults: Vec::new(),
        });
        let variants = match source {
            Source::Real if HELD_REAL.contains(&clean.family) => HELD_REAL_SETS * REAL_VARIANTS,
            Source::Real => REAL_VARIANTS,
            _ if clean.is_control => 0,
            _ => VARIANTS,
        };
        for variant in 0..variants {
            let mirrored = random.unit() < MIRRORED;
            let room = clean.cage.mesh.vertex_count() / VERTICES_PER_FAULT;
            let count = 1 + random.below(room.clamp(2, FAULTS_MOST));
            let put = put_several(&clean, kinds, count, mirrored, &mut random);
            let put = put.or_else(|| put_several(&clean, kinds, count, false, &mut random));
            cases.extend(put.map(|case| match source {
                Source::Real if variant % REAL_VARIANTS < REAL_AFFINE => {
                    mapped(&case, &affine(&mut random))
                }
                _ => case,
            }));
        }
    }
    cases.into_iter().map(|case| (case, source)).collect()
}

/// A case under a linear map. Subdivision commutes with it, so that the limit of the clean cage's
/// image is the image of the form.
fn mapped(case: &Case, map: &Matrix3<f64>) -> Case {
    let moved = |cage: &Meshed| {
        let mesh = &cage.mesh;
        let positions = mesh.positions().iter().map(|p| map * p).collect();
        let (starts, corners) = (mesh.face_starts(), mesh.corner_vertices());
        Meshed {
            mesh: PolygonMesh::new(positions, starts.to_vec(), corners.to_vec()).unwrap(),
            ..cage.clone()
        }
    };
    let clean_cage = moved(&case.clean.cage);
    Case {
        clean: Arc::new(Clean {
            name: format!("{}, mapped", case.clean.name),
            intended: Intended::LimitOf(Arc::new(clean_cage.clone())),
            cage: clean_cage,
            ..(*case.clean).clone()
        }),
        cage: moved(&case.cage),
        faults: case.faults.clone(),
    }
}
