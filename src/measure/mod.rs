//! Measures of the cage and its limit surface: one file per measure, one value per vertex.
//!
//! All measures are unchanged by moving, turning or uniformly scaling the model (lengths scale with
//! it), by renumbering vertices and faces, by which corner a face starts at, by renaming smoothing
//! groups, and by turning the whole model inside out.

pub mod about;
mod abreast;
pub mod angles;
pub mod body;
pub mod borders;
pub mod bump;
pub mod centre_line;
pub mod context;
pub mod curvature;
pub mod edge_figures;
pub mod facets;
pub mod fillets;
pub mod folds;
pub mod form_deviation;
pub mod loop_deviation;
pub mod medians;
pub mod pinching;
pub mod poles;
pub mod quality;
pub mod samples;
pub mod shrinkage;
pub mod spacing;
pub mod spokes;

pub use about::{About, Unit};
pub use context::MeasureContext;

/// One measure's values over the cage.
#[derive(Debug, Clone)]
pub struct Measured {
    /// What the values are.
    pub about: &'static About,
    /// One value per cage vertex; NaN where the measure is not defined.
    pub values: Vec<f64>,
}

/// All measures, in the order of their columns.
#[derive(Debug, Clone)]
pub struct Measures(Vec<Measured>);

impl Measures {
    /// Measures everything.
    pub fn new(context: &MeasureContext) -> Self {
        // A few measures are taken by one thread.
        let (mut all, by_loops) =
            rayon::join(|| most_measures(context), || of_loops_and_form(context));
        all.extend(by_loops);
        Self(all)
    }

    /// The values of one measure, one per vertex.
    pub fn of(&self, about: &About) -> &[f64] {
        values_of(&self.0, about)
    }

    /// All of them, in the order of their columns.
    pub fn all(&self) -> &[Measured] {
        &self.0
    }

    /// Gives them up.
    pub fn into_inner(self) -> Vec<Measured> {
        self.0
    }
}

/// All measures but those of [`of_loops_and_form`].
fn most_measures(context: &MeasureContext) -> Vec<Measured> {
    let mut all = curvature::measure(context);
    let facets = facets::measure(context, values_of(&all, &curvature::LIMIT_BEND));
    all.extend(poles::measure(context));
    all.extend(pinching::measure(context));
    all.extend(shrinkage::measure(context));
    all.extend(spacing::measure(context));
    all.extend(quality::measure(context));
    all.extend(fillets::measure(context));
    all.push(facets);
    all.extend(borders::measure(context));
    all.extend(centre_line::measure(context));
    all.extend(folds::measure(context));
    all.push(bump::measure(context));
    all
}

/// The deviations from loops and form.
fn of_loops_and_form(context: &MeasureContext) -> [Measured; 2] {
    let by_loops = loop_deviation::measure(context);
    let deviation = form_deviation::measure(context, &by_loops.values);
    [by_loops, deviation]
}

fn values_of<'a>(all: &'a [Measured], about: &About) -> &'a [f64] {
    let found = all.iter().find(|m| m.about.name == about.name);
    found.map_or(&[], |m| &m.values)
}

/// The descriptions of all measures, in the order of their columns.
pub fn about_all() -> &'static [&'static About] {
    &ABOUT_ALL
}

static ABOUT_ALL: [&About; 35] = [
    &curvature::CURVATURE,
    &curvature::LIMIT_BEND,
    &curvature::CAGE_BEND,
    &curvature::BEND_EXCESS,
    &poles::VALENCE,
    &poles::POLE,
    &poles::CUP,
    &poles::SADDLE,
    &poles::GROWTH,
    &poles::FLATTEST,
    &poles::TIGHTEST,
    &pinching::COMPRESSION,
    &pinching::PINCH,
    &shrinkage::SHRINKAGE,
    &shrinkage::SHRINKAGE_RATIO,
    &spacing::SPACING_ALONG,
    &spacing::SPACING_ACROSS,
    &quality::WARP,
    &quality::ASPECT,
    &quality::TAPER,
    &quality::SKEW,
    &quality::JACOBIAN,
    &fillets::FILLET_RADIUS,
    &fillets::FILLET_WIDTH,
    &fillets::FILLET_STAND_OFF,
    &facets::FACET,
    &borders::SEAM_GAP,
    &borders::OFF_PLANE,
    &centre_line::CENTRE_LINE_OFF,
    &centre_line::CENTRE_LINE_CREASE,
    &folds::FOLD,
    &folds::REVERSED,
    &bump::BUMP,
    &loop_deviation::LOOP_DEVIATION,
    &form_deviation::DEVIATION,
];
