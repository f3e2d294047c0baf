//! Sharpness of edges and vertices, and which rule it calls for.
//!
//! Sharpness counts levels: an edge of sharpness 2 is treated as a crease for two levels and as
//! smooth from then on; a fraction blends (DeRose, Kass & Truong, "Subdivision Surfaces in
//! Character Animation", 1998, section 3). From [`SHARPNESS_INFINITE`] on it never wears off, as
//! in the open USD mesh schema (`creaseSharpnesses`).

/// Sharpness from which on an edge or vertex stays sharp at every level (the open USD schema's
/// `SHARPNESS_INFINITE`), in levels.
pub const SHARPNESS_INFINITE: f64 = 10.0;

/// Sharpness as it is used: values of [`SHARPNESS_INFINITE`] and more become infinite.
pub fn effective(sharpness: f64) -> f64 {
    if sharpness >= SHARPNESS_INFINITE {
        f64::INFINITY
    } else {
        sharpness.max(0.0)
    }
}

/// Sharpness one level further down.
pub fn child(sharpness: f64) -> f64 {
    (sharpness - 1.0).max(0.0)
}

/// Whether the sharpness wears off after some levels.
pub fn is_semi_sharp(sharpness: f64) -> bool {
    sharpness > 0.0 && sharpness.is_finite()
}

/// The rule for a vertex point, by the sharp edges that meet at the vertex
/// (Hoppe et al., "Piecewise Smooth Surface Reconstruction", 1994, section 3).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum VertexRule {
    /// No sharp edge, or one (a dart): the vertex moves as on a smooth surface.
    Smooth,
    /// Two sharp edges: the vertex moves along their curve.
    Crease,
    /// Three sharp edges or more, or a sharp vertex: the vertex stays.
    Corner,
}

impl VertexRule {
    /// The rule for a vertex with `sharp_edges` sharp edges that is itself of `vertex_sharpness`.
    pub fn new(sharp_edges: usize, vertex_sharpness: f64) -> Self {
        if vertex_sharpness > 0.0 {
            return Self::Corner;
        }
        match sharp_edges {
            0 | 1 => Self::Smooth,
            2 => Self::Crease,
            _ => Self::Corner,
        }
    }
}

/// How a vertex point is made up: by one rule, or by two while some sharpness wears off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct VertexBlend {
    /// The rule at this level.
    pub parent: VertexRule,
    /// The rule one level further down.
    pub child: VertexRule,
    /// Weight of the parent's rule, in [0, 1]; the child's has the rest.
    pub parent_weight: f64,
}

impl VertexBlend {
    /// Finds the blend from the sharpness of the edges at a vertex and of the vertex.
    ///
    /// Where sharpness wears off between this level and the next, the parent's rule weighs as much
    /// as the mean sharpness of what wears off, at most 1 (DeRose, Kass & Truong 1998, appendix B,
    /// with the mean taken over what wears off only).
    pub fn new(edge_sharpness: impl Iterator<Item = f64>, vertex_sharpness: f64) -> Self {
        let (mut sharp, mut still_sharp) = (0, 0);
        let (mut worn, mut worn_sum) = (0usize, 0.0);
        let vertex = std::iter::once(vertex_sharpness);
        for (is_edge, s) in edge_sharpness
            .map(|s| (true, s))
            .chain(vertex.map(|s| (false, s)))
            .filter(|&(_, s)| s > 0.0)
        {
            let stays = child(s) > 0.0;
            sharp += usize::from(is_edge);
            still_sharp += usize::from(is_edge && stays);
            if !stays {
                worn += 1;
                worn_sum += s;
            }
        }
        let parent = VertexRule::new(sharp, vertex_sharpness);
        let child = VertexRule::new(still_sharp, child(vertex_sharpness));
        let parent_weight = if parent == child {
            1.0
        } else {
            (worn_sum / worn as f64).min(1.0)
        };
        Self {
            parent,
            child,
            parent_weight,
        }
    }
}
