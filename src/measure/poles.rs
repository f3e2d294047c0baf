//! Poles: interior vertices where other than four edges meet.

use rayon::prelude::*;
use smallvec::SmallVec;

use super::Measured;
use super::about::{About, Unit};
use super::context::MeasureContext;
use crate::limit::annuli::TABULATED_LEVEL;
use crate::limit::{Annuli, PoleModes};
use crate::mesh::Vec3;

/// Degrees of half a turn: by more no surface is said to turn.
const HALF_TURN: f64 = 180.0;

/// Valence of the vertex.
pub const VALENCE: About = About {
    name: "valence",
    tells: "number of edges at the vertex",
    formula: "count of edges",
    unit: Unit::Count,
    range: "from 2; 4 inside a surface is regular, anything else there is a pole",
    source: "common practice, no published source",
    remedy: "poles of 3 and 5 belong on flat or evenly curved ground",
};

/// What a pole does to the curvature around it.
pub const POLE: About = About {
    name: "pole_swing",
    tells: "by how many degrees more, or fewer, the surface turns close to a pole than it would if the pole let its curvature stay from ring to ring",
    formula: "|Σ K (1 - 1/G) w| over the two inner of the three rings that a preview shows; K is the limit's larger principal curvature, its mean in the ring, G what the cup and saddle modes have grown by since the outermost ring, w the ring's width",
    unit: Unit::Degrees,
    range: "0 (no pole, or flat ground) to 180",
    source: "growth of curvature: Peters & Reif, Subdivision Surfaces, 2008, section 6; principal curvatures: do Carmo 1976, section 3-3; the sum: this program's",
    remedy: "move the pole to flatter ground, or split it into poles of 3 and 5",
};

/// Strength of a pole's cup.
pub const CUP: About = About {
    name: "pole_cup",
    tells: "how strongly the surface about a pole bends alike in all directions",
    formula: "the size of the cup mode of the ring of level one, as the curvature of the paraboloid that has it",
    unit: Unit::PerLength,
    range: "from 0; empty where there is no pole",
    source: "modes: Ball & Storry 1988; Peters & Reif 2008, section 6; normalisation: this program's",
    remedy: "nothing by itself: pole_swing tells what comes of it",
};

/// Strength of a pole's saddle.
pub const SADDLE: About = About {
    name: "pole_saddle",
    tells: "how strongly the surface about a pole bends one way along one direction and the other way across",
    formula: "the saddle modes of the ring of level one, as the curvature of the paraboloid that has them",
    unit: Unit::PerLength,
    range: "from 0; empty where there is no pole",
    source: "modes: Ball & Storry 1988; Peters & Reif 2008, section 6; normalisation: this program's",
    remedy: "nothing by itself: from valence 5 on a saddle grows faster than a cup",
};

/// What becomes of the curvature towards a pole.
pub const GROWTH: About = About {
    name: "pole_growth",
    tells: "by what factor the curvature changes from level to level towards a pole",
    formula: "μ / λ² of the mode, cup or saddle, that curves more two levels in; μ its eigenvalue, λ the subdominant one of the pole's valence",
    unit: Unit::Ratio,
    range: "under 1 it dies out towards the pole, over 1 it grows without bound; empty on flat ground and where there is no pole",
    source: "eigenvalues: Ball & Storry 1988; growth of curvature: Peters & Reif 2008, section 6",
    remedy: "a pole of fewer edges grows less",
};

/// What a vertex has of the four measures.
#[derive(Debug, Clone, Copy)]
struct Pole {
    swing: f64,
    cup: f64,
    saddle: f64,
    growth: f64,
}

impl Pole {
    /// No pole.
    const NONE: Self = Self {
        swing: 0.0,
        cup: f64::NAN,
        saddle: f64::NAN,
        growth: f64::NAN,
    };
}

/// The five measures, in the order of their columns.
pub fn measure(context: &MeasureContext) -> Vec<Measured> {
    let poles: Vec<Pole> = (0..context.topology().vertex_count())
        .into_par_iter()
        .with_min_len(64)
        .map_init(Annuli::default, |annuli, v| pole(context, annuli, v))
        .collect();
    let column = |about, value: fn(&Pole) -> f64, factor: f64| Measured {
        about,
        values: poles.iter().map(|p| value(p) * factor).collect(),
    };
    let per_length = context.scale().recip();
    vec![
        Measured {
            about: &VALENCE,
            values: context.per_vertex(|v| context.spokes.of(v).len() as f64),
        },
        column(&POLE, |p| p.swing, 1.0),
        column(&CUP, |p| p.cup, per_length),
        column(&SADDLE, |p| p.saddle, per_length),
        column(&GROWTH, |p| p.growth, 1.0),
    ]
}

fn pole(context: &MeasureContext, annuli: &mut Annuli, v: usize) -> Pole {
    if context.topology().is_unreferenced(v) {
        return Pole {
            swing: f64::NAN,
            ..Pole::NONE
        };
    }
    let n = context.spokes.of(v).len();
    if !context.spokes.is_interior(v) || n == 4 {
        return Pole::NONE;
    }
    let Some(modes) = PoleModes::of(&context.surface.vertex_ring(v)) else {
        return Pole::NONE;
    };
    let growth = modes.leading_growth(TABULATED_LEVEL as i32);
    annuli.fill(context.surface, v, TABULATED_LEVEL);
    Pole {
        swing: swing(&modes, annuli, context.limit.vertices[v].position),
        // Without its sign, which is another one when the model is turned inside out.
        cup: modes.cup().abs(),
        saddle: modes.saddle(),
        growth: growth.unwrap_or(f64::NAN),
    }
}

/// By how many degrees the surface turns more or less over the inner annuli than it would if its
/// modes curved there as in the outermost one, as at a regular vertex: |Σ K (1 - 1 / G) w|. K is the
/// larger principal curvature by size, its mean over all directions; G what the modes have grown by
/// since the outermost annulus, of both by their strength; w the width of an annulus, which runs
/// from the geometric mean of its and its outer neighbour's distance from the pole to that with
/// its inner neighbour's, the innermost as if one more followed alike.
///
/// So only what the pole does counts, and not that the form itself may bend more tightly there: on an
/// edge, say. `pole` is the pole's limit position. No more than half a turn; NaN where no ring has
/// curvature.
pub fn swing(modes: &PoleModes, annuli: &Annuli, pole: Vec3) -> f64 {
    let count = annuli.count();
    let distances: SmallVec<[f64; 4]> = (0..count).map(|m| distance(annuli, pole, m)).collect();
    let mut turn = 0.0;
    for m in 1..count {
        let step = distances[m] / distances[m - 1];
        let next = distances.get(m + 1).map_or(step, |d| d / distances[m]);
        let width = distances[m] * (step.sqrt().recip() - next.sqrt());
        turn += curvature(annuli, m) * grown(modes, m as i32) * width;
    }
    turn.abs().to_degrees().min(HALF_TURN)
}

/// The part of the modes' curvature that is there since it grew over `levels` levels: 1 - 1 / G.
fn grown(modes: &PoleModes, levels: i32) -> f64 {
    if modes.is_flat() {
        return 0.0;
    }
    let (cup, saddle) = (modes.cup().abs(), modes.saddle());
    let now = cup * modes.cup_growth().powi(levels) + saddle * modes.saddle_growth().powi(levels);
    1.0 - (cup + saddle) / now
}

/// Mean distance of annulus `m` from the pole.
fn distance(annuli: &Annuli, pole: Vec3, m: usize) -> f64 {
    let samples = (0..annuli.directions()).filter_map(|i| annuli.sample(m, i));
    mean(samples.map(|d| (d.position - pole).norm()))
}

/// Mean of the larger principal curvature, by size, on annulus `m`.
fn curvature(annuli: &Annuli, m: usize) -> f64 {
    let curvatures = (0..annuli.directions()).filter_map(|i| annuli.curvature(m, i));
    mean(curvatures.map(|k| k.largest()))
}

/// The mean of some values; NaN if there is none.
fn mean(values: impl Iterator<Item = f64>) -> f64 {
    let (sum, count) = values.fold((0.0, 0.0), |(sum, count), x| (sum + x, count + 1.0));
    sum / count
}
