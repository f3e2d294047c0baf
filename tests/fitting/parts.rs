//! Which cases the model is fitted on, on which its settings were chosen, and which are held out.
//!
//! Held-out parts share no cage with the others: they differ by seed, by shape, by kind of fault, by
//! kit, or are whole real cages of their own.

use std::sync::Arc;

use cagewise::mesh::{PolygonMesh, Vec3};
use nalgebra::{Matrix3, Rotation3};

use crate::corpus::case::{Case, Clean, FaultKind, Intended, Meshed};
use crate::corpus::faults::put_several;
use crate::corpus::kits::{self, Kit};
use crate::corpus::{controls, drawn, real};
use crate::rows::Rows;
use crate::support::cages::Random;

/// Where a cage comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Source {
    Drawn,
    Grown,
    Real,
}

/// A part of all cases.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// What the model is fitted on.
    Fit,
    /// What its settings and quantities were chosen on: grown cages of a kit that it is not fitted
    /// on.
    Choose,
    /// (a) Drawn cages of the same kinds.
    SameKinds,
    /// (b) Drawn cages of other shapes, and with other kinds of faults.
    OtherKinds,
    /// (c) Grown cages of a kit of their own.
    OtherKit,
    /// (d) Real cages of their own.
    RealHeld,
}

/// Families of drawn shapes that are held out for [`Part::OtherKinds`].
pub const HELD_FAMILIES: [&str; 3] = ["padded seat", "grooved turned form", "bent pipe"];

/// Kinds of faults that are held out for [`Part::OtherKinds`], on all sources.
pub const HELD_KINDS: [FaultKind; 3] = [
    FaultKind::CappedHole,
    FaultKind::SlidVertex,
    FaultKind::BadLoopEnd,
];

/// The kit that settings are chosen on.
pub const CHOOSE_KIT: Kit = Kit::Panels;

/// The kit that is held out for [`Part::OtherKit`].
pub const HELD_KIT: Kit = Kit::Blocks;

/// Real cages, by file name, that are held out for [`Part::RealHeld`].
pub const HELD_REAL: [&str; 3] = ["machined_base", "creased_bishop", "teapot"];

/// Drawings of the drawn forms that are fitted on; those for the held-out parts follow.
const FIT_DRAWINGS: u64 = 4;

/// Cages of each kit.
const KIT_CAGES: usize = 32;

/// Faulty variants of each clean cage.
const VARIANTS: usize = 2;

/// The same for real cages, and how many of them are put through affine maps.
const REAL_VARIANTS: usize = 9;
const REAL_AFFINE: usize = 5;

/// Faults in each variant at most.
const FAULTS: usize = 3;

/// The rows of a part, and where each case comes from.
pub fn rows_of(part: Part) -> (Rows, Vec<Source>) {
    let (cases, sources): (Vec<Case>, Vec<Source>) = cases(part).into_iter().unzip();
    (Rows::of(&cases), sources)
}

/// The kinds of faults that are fitted on.
fn fitted_kinds() -> Vec<FaultKind> {
    let held = |k: &FaultKind| HELD_KINDS.contains(k);
    FaultKind::ALL.into_iter().filter(|k| !held(k)).collect()
}

/// The cases of a part with their sources.
pub fn cases(part: Part) -> Vec<(Case, Source)> {
    let held = |c: &Clean| HELD_FAMILIES.contains(&c.family);
    let drawn = |drawings: std::ops::Range<u64>| {
        drawings.flat_map(|d| [drawn::forms(d), controls::forms(d)].concat())
    };
    let fitted = fitted_kinds();
    let all = FaultKind::ALL.to_vec();
    match part {
        Part::Fit => {
            let forms = drawn(0..FIT_DRAWINGS).filter(|c| !held(c));
            let mut cases = of_all(forms, Source::Drawn, &fitted, 11);
            for kit in Kit::ALL {
                if kit != CHOOSE_KIT && kit != HELD_KIT {
                    let grown = kits::all(kit, KIT_CAGES).into_iter();
                    cases.extend(of_all(grown, Source::Grown, &fitted, 12));
                }
            }
            let real = real::cages().into_iter();
            let real = real.filter(|c| !HELD_REAL.contains(&c.family));
            cases.extend(of_all(real, Source::Real, &fitted, 13));
            cases
        }
        Part::Choose => {
            let grown = kits::all(CHOOSE_KIT, KIT_CAGES).into_iter();
            of_all(grown, Source::Grown, &all, 14)
        }
        Part::SameKinds => {
            let forms = drawn(FIT_DRAWINGS..FIT_DRAWINGS + 2).filter(|c| !held(c));
            of_all(forms, Source::Drawn, &fitted, 15)
        }
        Part::OtherKinds => {
            let drawings = FIT_DRAWINGS..FIT_DRAWINGS + 2;
            let shapes = drawn(drawings.clone()).filter(held);
            let mut cases = of_all(shapes, Source::Drawn, &all, 16);
            let kinds = drawn(drawings).filter(|c| !held(c));
            cases.extend(of_all(kinds, Source::Drawn, &HELD_KINDS, 17));
            cases
        }
        Part::OtherKit => {
            let grown = kits::all(HELD_KIT, KIT_CAGES).into_iter();
            of_all(grown, Source::Grown, &all, 18)
        }
        Part::RealHeld => {
            let real = real::cages().into_iter();
            let real = real.filter(|c| HELD_REAL.contains(&c.family));
            of_all(real, Source::Real, &all, 19)
        }
    }
}

/// Each clean cage, and variants of it with faults of the given kinds.
fn of_all(
    forms: impl Iterator<Item = Clean>,
    source: Source,
    kinds: &[FaultKind],
    seed: u64,
) -> Vec<(Case, Source)> {
    let variants = if source == Source::Real {
        REAL_VARIANTS
    } else {
        VARIANTS
    };
    let mut random = Random(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1);
    let mut cases = Vec::new();
    for clean in forms {
        let clean = Arc::new(clean);
        let mut of_form = vec![Case {
            clean: clean.clone(),
            cage: clean.cage.clone(),
            faults: Vec::new(),
        }];
        for variant in 0..variants {
            let mirrored = random.unit() < 0.4;
            let count = 1 + random.below(FAULTS);
            let put = put_several(&clean, kinds, count, mirrored, &mut random);
            let put = put.or_else(|| put_several(&clean, kinds, count, false, &mut random));
            let Some(put) = put else { continue };
            if source == Source::Real && variant < REAL_AFFINE {
                of_form.push(mapped(&put, &affine(&mut random)));
            } else {
                of_form.push(put);
            }
        }
        if source == Source::Real {
            of_form.push(mapped(&of_form[0], &affine(&mut random)));
        }
        cases.extend(of_form.into_iter().map(|case| (case, source)));
    }
    cases
}

/// A random affine map: two turns with a stretch of up to 1.6 either way between them.
fn affine(random: &mut Random) -> Matrix3<f64> {
    let mut turn = || Rotation3::new(random.vector() * std::f64::consts::PI);
    let (first, second) = (turn(), turn());
    let stretch = Vec3::from_fn(|_, _| 1.6f64.powf(2.0 * random.unit() - 1.0));
    second.matrix() * Matrix3::from_diagonal(&stretch) * first.matrix()
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
