//! Poles: interior vertices where other than four edges meet.

use rayon::prelude::*;

use super::Measured;
use super::about::{About, Unit};
use super::context::{MeasureContext, largest};
use crate::limit::annuli::TABULATED_LEVEL;
use crate::limit::{Annuli, PoleModes};
use crate::mesh::Vec3;

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
    tells: "by how many degrees more, or fewer, the surface turns towards a pole than if its curvature stayed as it is a little way out",
    formula: "|sum over the two inner of the three rings that a preview shows of (k - k₀) times the ring's width|, meant over opposite directions, largest over all; k is the limit's curvature towards the pole in the ring, k₀ that in the outermost",
    unit: Unit::Degrees,
    range: "0 (no pole, or flat ground) to 180",
    source: "growth of curvature: Peters & Reif, Subdivision Surfaces, 2008, section 6; curvature along a direction: do Carmo 1976, section 3-2",
    remedy: "move the pole to flatter ground, or split it into poles of 3 and 5",
};

/// Strength of a pole's cup.
pub const CUP: About = About {
    name: "pole_cup",
    tells: "how strongly the surface about a pole bends alike in all directions",
    formula: "the cup mode of the ring of level one, as the curvature of the paraboloid that has it",
    unit: Unit::PerLength,
    range: "any: convex positive, hollow negative; empty where there is no pole",
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
        swing: swing(annuli, context.limit.vertices[v].position),
        cup: modes.cup(),
        saddle: modes.saddle(),
        growth: growth.unwrap_or(f64::NAN),
    }
}

/// By how many degrees the surface turns more or less from the outermost annulus inwards than with
/// the curvature there: along a way and on along the opposite one, half of it each, so that what
/// changes steadily across the pole, as it would without one, drops out. The larger of all ways,
/// and no more than half a turn; NaN where no way has curvature.
pub fn swing(annuli: &Annuli, pole: Vec3) -> f64 {
    let half = annuli.directions() / 2;
    let ways = (0..half).map(|i| {
        let there_and_on = [i, i + half].map(|i| excess(annuli, pole, i));
        (there_and_on[0] + there_and_on[1]).abs() / 2.0
    });
    largest(ways).to_degrees().min(180.0)
}

/// The sum of (k - k₀) w over the inner annuli in direction `i`, in radians. An annulus runs
/// from the geometric mean of its and its outer neighbour's distances from the pole to that with
/// its inner neighbour's; the innermost is as wide for its distance as if one more followed alike.
fn excess(annuli: &Annuli, pole: Vec3, i: usize) -> f64 {
    let reading = |m: usize| towards(annuli, pole, m, i);
    let outermost = reading(0);
    let (mut before, mut here) = (outermost, reading(1));
    let mut sum = 0.0;
    for m in 1..annuli.count() {
        let step = here.distance / before.distance;
        let after = if m + 1 < annuli.count() {
            reading(m + 1)
        } else {
            Reading {
                distance: here.distance * step,
                ..here
            }
        };
        let inner = (after.distance / here.distance).sqrt();
        let width = here.distance * (step.sqrt().recip() - inner);
        sum += (here.curvature - outermost.curvature) * width;
        (before, here) = (here, after);
    }
    sum
}

/// What is read of an annulus in one direction.
#[derive(Debug, Clone, Copy)]
struct Reading {
    /// From the pole.
    distance: f64,
    /// Normal curvature towards the pole.
    curvature: f64,
}

/// NaN where there is nothing to be read.
fn towards(annuli: &Annuli, pole: Vec3, m: usize, i: usize) -> Reading {
    let way = annuli.sample(m, i).map(|d| d.position - pole);
    let curvature = annuli.curvature(m, i);
    let along = way.and_then(|way| curvature.map(|k| k.along(&way)));
    Reading {
        distance: way.map_or(f64::NAN, |way| way.norm()),
        curvature: along.unwrap_or(f64::NAN),
    }
}
