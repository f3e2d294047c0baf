//! Which cases the model is fitted on, on which its settings were chosen, and which are held out.
//!
//! Held-out parts share no cage with the others: they differ by seed, by shape, by kind of fault, by
//! kit, or are whole real cages of their own.

use std::sync::Arc;

use cagewise::mesh::PolygonMesh;
use nalgebra::Matrix3;

use crate::corpus::capped::capped;
use crate::corpus::case::{Case, Clean, FaultKind, Intended, Meshed, Sides};
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
    /// Drawn, with one fault at one place as it grows from what nobody sees to what everybody does.
    Growing,
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
    /// (f) Grown cages of a kit that was written after a later model had been fitted.
    NewestKit,
}

/// The parts that are held out, (a) to (f).
pub const HELD_OUT: [Part; 6] = [
    Part::SameKinds,
    Part::OtherKinds,
    Part::OtherKit,
    Part::RealHeld,
    Part::LaterKit,
    Part::NewestKit,
];

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
/// can have been chosen by it. Those since were not fitted on it, but its figures were seen between them.
pub const LATER_KIT: Kit = Kit::Lofts;

/// The kit that was written after a later model had been fitted, for [`Part::NewestKit`]: as [`LATER_KIT`].
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

/// Cages of each kit, and of each that is fitted on.
const KIT_CAGES: u64 = 32;
const KIT_CAGES_FITTED: u64 = 96;

/// Faulty variants of each clean cage.
const VARIANTS: usize = 3;

/// The same for real cages, and how many of them are put through affine maps.
const REAL_VARIANTS: usize = 9;
const REAL_AFFINE: usize = 5;

/// Of held-out real cages more, in parts like these: they are few, and with a handful of faults of a
/// kind, some of them mirrored, one missed decides its figure.
const HELD_REAL_SETS: usize = 3;

/// Sizes of a growing fault, as parts of the way from what nobody sees to what everybody does.
const GROWING: [f64; 7] = [0.0, 0.11, 0.22, 0.4, 0.6, 0.8, 1.0];

/// Seeds of the places of growing faults, and the largest drawn form, in vertices, that has them.
const GROWING_PLACES: [u64; 3] = [21, 22, 23];
const GROWING_LARGEST: usize = 350;

/// Vertices per fault, roughly, and most faults of a variant.
const VERTICES_PER_FAULT: usize = 120;
const FAULTS_MOST: usize = 24;

/// Which of a part's cases are made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Made {
    /// All.
    All,
    /// Those with faults on both sides of a form, these faults put in on one side only.
    MirroredOnce,
}

/// Which draw of a held-out part: another one has other cages of the same kits, the same drawn forms under
/// other maps, the same real cages, and other faults everywhere. What is fitted, calibrated or chosen on is
/// drawn once.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Draw(pub u64);

impl Draw {
    /// The one that README.md and the tests tell of.
    pub const FIRST: Self = Self(0);

    /// A seed, or the first of some, of this draw.
    fn seed(self, of_first: u64) -> u64 {
        /// More than there are seeds of a draw.
        const APART: u64 = 1000;
        of_first + APART * self.0
    }
}

/// The rows of a part, and where each case comes from.
pub fn rows_of(part: Part, draw: Draw) -> (Rows, Vec<Source>) {
    let cases = cases(part, draw, Made::All).into_iter();
    let (cases, sources): (Vec<Case>, Vec<Source>) = cases.unzip();
    (Rows::of(&cases), sources)
}

/// The mirrored faults of a held-out part, put in on one side only, each where it has its first side: what
/// else is alike.
pub fn mirrored_once(part: Part, draw: Draw) -> Rows {
    assert!(HELD_OUT.contains(&part), "{part:?} is not held out");
    let cases = cases(part, draw, Made::MirroredOnce).into_iter();
    Rows::of(&cases.map(|(case, _)| case).collect::<Vec<_>>())
}

/// The kinds of faults that are fitted on.
fn fitted_kinds() -> Vec<FaultKind> {
    let held = |k: &FaultKind| HELD_KINDS.contains(k);
    FaultKind::PUT.into_iter().filter(|k| !held(k)).collect()
}

/// The cases of a part with their sources.
fn cases(part: Part, draw: Draw, made: Made) -> Vec<(Case, Source)> {
    // Only what is held out has other draws and pairs.
    let (draw, made) = match HELD_OUT.contains(&part) {
        true => (draw, made),
        false => (Draw::FIRST, Made::All),
    };
    let fitted = fitted_kinds();
    let all = FaultKind::PUT.to_vec();
    let with_faults = |forms, source, kinds, seed| {
        let draws = Draws {
            source,
            kinds,
            made,
        };
        draws.of_all(forms, draw.seed(seed))
    };
    let drawn_with = |forms, kinds, seed| with_faults(forms, Source::Drawn, kinds, seed);
    let grown_with = |kit, kinds, seed| {
        let forms = grown(kit, draw.seed(0)..draw.seed(KIT_CAGES));
        with_faults(forms, Source::Grown, kinds, seed)
    };
    let unfitted = draw.seed(UNFITTED_SEED);
    match part {
        Part::Fit => fitted_cases(&fitted),
        Part::Calibrate => {
            let forms = drawn(CALIBRATION_SEED).into_iter();
            let mapped = forms.filter(|c| !is_held(c) && !c.name.ends_with("upright"));
            let forms = mapped.chain(controls(CALIBRATION_SEED)).collect();
            let mut cases = drawn_with(forms, &fitted, 21);
            cases.extend(grown_with(CHOOSE_KIT, &fitted, 20));
            cases
        }
        Part::Choose => grown_with(CHOOSE_KIT, &all, 14),
        Part::SameKinds => {
            let mut cases = drawn_with(unfitted_forms(unfitted), &fitted, 15);
            if made == Made::All {
                cases.extend(capped_bodies(unfitted));
            }
            cases
        }
        Part::OtherKinds => {
            let shapes = drawn(unfitted).into_iter().filter(is_held);
            let mut cases = drawn_with(shapes.collect(), &all, 16);
            cases.extend(drawn_with(unfitted_forms(unfitted), &HELD_KINDS, 17));
            cases
        }
        Part::OtherKit => grown_with(HELD_KIT, &all, 18),
        Part::RealHeld => with_faults(real_ones(true), Source::Real, &all, 19),
        Part::LaterKit => grown_with(LATER_KIT, &all, 22),
        Part::NewestKit => grown_with(NEWEST_KIT, &all, 23),
    }
}

/// The cases of [`Part::Fit`].
fn fitted_cases(kinds: &[FaultKind]) -> Vec<(Case, Source)> {
    let faulty = |forms, source, seed| {
        let draws = Draws {
            source,
            kinds,
            made: Made::All,
        };
        draws.of_all(forms, seed)
    };
    let mut cases = faulty(fitted_forms(), Source::Drawn, 11);
    for kit in Kit::ALL {
        if ![CHOOSE_KIT, HELD_KIT, LATER_KIT, NEWEST_KIT].contains(&kit) {
            cases.extend(faulty(grown(kit, 0..KIT_CAGES_FITTED), Source::Grown, 12));
        }
    }
    cases.extend(faulty(real_ones(false), Source::Real, 13));
    cases.extend(growing(kinds));
    cases.extend(CAPPED_SEEDS.flat_map(capped_bodies));
    cases
}

/// Bodies closed by caps, bare or held.
fn capped_bodies(seed: u64) -> impl Iterator<Item = (Case, Source)> {
    capped(seed).into_iter().map(|case| (case, Source::Drawn))
}

/// Growing faults of each kind that has a continuous size, one by one at a few places of drawn forms.
fn growing(kinds: &[FaultKind]) -> Vec<(Case, Source)> {
    let forms = forms_of(*FITTED_SEEDS.start());
    let small = |c: &&Arc<Clean>| c.cage.mesh.vertex_count() <= GROWING_LARGEST;
    let mut cases = Vec::new();
    for clean in forms.iter().filter(small) {
        for &kind in kinds.iter().filter(|&&k| !is_counted(k)) {
            let [unseen, plain] = sizes(kind);
            let at = |part: f64| unseen + (plain - unseen) * part;
            for seed in GROWING_PLACES {
                let put_at = |part| put(clean, kind, at(part), Sides::One, &mut Random(seed));
                cases.extend(GROWING.into_iter().filter_map(put_at));
            }
        }
    }
    cases.into_iter().map(|c| (c, Source::Growing)).collect()
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
fn unfitted_forms(seed: u64) -> Vec<Arc<Clean>> {
    let forms = drawn(seed);
    let is_other = |c: &&Arc<Clean>| !c.name.ends_with("upright") || is_finest(c, &forms);
    let kept = forms.iter().filter(|c| !is_held(c)).filter(is_other);
    let controls = controls(seed);
    kept.cloned().chain(controls).collect()
}

fn grown(kit: Kit, seeds: std::ops::Range<u64>) -> Vec<Arc<Clean>> {
    let cages = kits::of_seeds(kit, seeds).into_iter();
    cages.map(Arc::new).collect()
}

/// The real cages that are held out, or the others; none where there is no folder of them.
fn real_ones(held: bool) -> Vec<Arc<Clean>> {
    let all = real().unwrap_or_default().into_iter();
    all.filter(|c| HELD_REAL.contains(&c.family) == held)
        .collect()
}

/// How faulty variants are drawn.
struct Draws<'a> {
    source: Source,
    kinds: &'a [FaultKind],
    made: Made,
}

impl Draws<'_> {
    /// Each clean cage, and variants of it.
    fn of_all(&self, forms: Vec<Arc<Clean>>, seed: u64) -> Vec<(Case, Source)> {
        let mut random = Random(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1);
        let mut cases = Vec::new();
        for clean in forms {
            if self.made == Made::All {
                cases.push(Case {
                    clean: clean.clone(),
                    cage: clean.cage.clone(),
                    faults: Vec::new(),
                });
            }
            for variant in 0..self.variants(&clean) {
                let before = Random(random.0);
                let Some(case) = self.variant(&clean, &mut random) else {
                    continue;
                };
                let is_mapped =
                    self.source == Source::Real && variant % REAL_VARIANTS < REAL_AFFINE;
                let map = is_mapped.then(|| affine(&mut random));
                let case = match self.made {
                    Made::All => Some(case),
                    Made::MirroredOnce => {
                        (case.faults[0].sides == Sides::Both).then(|| self.once(&clean, before))
                    }
                };
                cases.extend(case.map(|case| match &map {
                    Some(map) => mapped(&case, map),
                    None => case,
                }));
            }
        }
        cases.into_iter().map(|case| (case, self.source)).collect()
    }

    /// How many variants of a cage.
    fn variants(&self, clean: &Clean) -> usize {
        match self.source {
            Source::Real if HELD_REAL.contains(&clean.family) => HELD_REAL_SETS * REAL_VARIANTS,
            Source::Real => REAL_VARIANTS,
            _ if clean.is_control => 0,
            _ => VARIANTS,
        }
    }

    /// A variant of a cage.
    fn variant(&self, clean: &Arc<Clean>, random: &mut Random) -> Option<Case> {
        let (is_mirrored, count) = self.choose(clean, random);
        let mut put = |sides| put_several(clean, self.kinds, count, sides, random);
        let sides = if is_mirrored { Sides::Both } else { Sides::One };
        put(sides).or_else(|| put(Sides::One))
    }

    /// The variant that the same numbers make with both sides' faults put in on the first.
    fn once(&self, clean: &Arc<Clean>, mut random: Random) -> Case {
        let (_, count) = self.choose(clean, &mut random);
        let first = put_several(clean, self.kinds, count, Sides::FirstOfBoth, &mut random);
        first.expect("one side of what was put in on both")
    }

    /// Whether a variant's faults are to be put in on both sides, and how many there are to be.
    fn choose(&self, clean: &Clean, random: &mut Random) -> (bool, usize) {
        let is_mirrored = random.unit() < MIRRORED;
        let room = clean.cage.mesh.vertex_count() / VERTICES_PER_FAULT;
        (is_mirrored, 1 + random.below(room.clamp(2, FAULTS_MOST)))
    }
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
