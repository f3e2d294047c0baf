//! The bicubic patches that a face of the limit surface consists of.

use smallvec::SmallVec;

use super::point::LimitPoint;
use crate::mesh::Vec3;
use crate::subdivision::Surface;
use crate::subdivision::evaluate::{DESCENT_LEVELS_MAX, Reached, evaluate, quadrant};
use crate::subdivision::patch::QuadNeighbourhood;
use crate::subdivision::pole_quad::{PoleQuad, turned_patch};
use crate::subdivision::spline::{self, Derivatives, PatchPoints};

/// A face of the limit surface, ready to be evaluated at many places.
///
/// A quad in a regular neighbourhood is one bicubic patch. Any other face is split, down to a
/// number of levels, into the patches it consists of; what is still irregular then (a part whose
/// size falls with 2^-levels at each pole) is kept as it is and split anew for every place asked for
/// in it. Evaluating allocates nothing in a patch, whatever the level.
///
/// All coordinates are in the control mesh's frame, corners and parameters in the unified winding.
#[derive(Debug, Clone, Default)]
pub struct FacePatches {
    nodes: Vec<Node>,
    patches: Vec<PatchPoints>,
    irregular: Vec<QuadNeighbourhood>,
    /// One node for a quad, one per corner for any other face.
    roots: SmallVec<[Node; 4]>,
}

/// A part of a face.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Node {
    /// Index of a patch.
    Patch(u32),
    /// Index of the first of four nodes, in the order of a split's children.
    Split(u32),
    /// Index of a part that has been split no further.
    Irregular(u32),
}

/// A bicubic patch that covers part of a face.
#[derive(Debug, Clone, Copy)]
pub struct PatchPart<'a> {
    /// Its control points.
    pub points: &'a PatchPoints,
    /// Side of the square of the face's parameters that it covers: 1, 1/2, 1/4 ...
    pub size: f64,
}

impl FacePatches {
    /// The patches of face `f`, with irregular parts split `levels` times below the quads at the
    /// face's corners.
    pub fn new(surface: &Surface, f: usize, levels: usize) -> Self {
        let mut face = Self::default();
        face.fill(surface, f, levels);
        face
    }

    /// Takes on another face, keeping the memory.
    pub fn fill(&mut self, surface: &Surface, f: usize, levels: usize) {
        self.clear();
        if let Some(points) = surface.regular_patch(f) {
            let root = self.add_patch(points);
            self.roots.push(root);
            return;
        }
        let corners = surface.control().topology().face_corners(f);
        if corners.len() == 4 {
            let first = self.reserve_children();
            for (k, c) in corners.enumerate() {
                let node = self.corner(surface, c, k, levels);
                self.nodes[first as usize + k] = node;
            }
            self.roots.push(Node::Split(first));
        } else {
            for c in corners {
                let node = self.corner(surface, c, 0, levels);
                self.roots.push(node);
            }
        }
    }

    /// Takes on the quad at corner `c` alone, whatever the number of sides of its face, keeping the
    /// memory. It is evaluated in its own frame: (0, 0) is the cage vertex, (1, 0) the middle of the
    /// edge that leaves `c`, (1, 1) the face's centre.
    pub fn fill_corner(&mut self, surface: &Surface, c: usize, levels: usize) {
        self.clear();
        let root = self.corner(surface, c, 0, levels);
        self.roots.push(root);
    }

    fn clear(&mut self) {
        self.nodes.clear();
        self.patches.clear();
        self.irregular.clear();
        self.roots.clear();
    }

    fn corner(&mut self, surface: &Surface, c: usize, turn: usize, levels: usize) -> Node {
        // Places that come to lie in what stays irregular are followed down to rounding.
        let quad = surface.corner_quad(c, levels + DESCENT_LEVELS_MAX, turn);
        self.split(quad, levels)
    }

    fn split(&mut self, quad: QuadNeighbourhood, levels: usize) -> Node {
        if let Some(points) = quad.regular_points() {
            return self.add_patch(points);
        }
        if levels == 0 {
            return self.add_irregular(quad);
        }
        if let Some((pole, k)) = PoleQuad::of(&quad) {
            return self.split_pole(pole, k, levels);
        }
        let first = self.reserve_children();
        for (k, child) in quad.split().into_iter().enumerate() {
            let node = self.split(child, levels - 1);
            self.nodes[first as usize + k] = node;
        }
        Node::Split(first)
    }

    fn split_pole(&mut self, mut pole: PoleQuad, k: usize, levels: usize) -> Node {
        let top = self.reserve_children();
        let mut first = top;
        for level in (0..levels).rev() {
            for (j, points) in pole.split().into_iter().enumerate() {
                let node = self.add_patch(turned_patch(points, k));
                self.nodes[first as usize + (k + j + 1) % 4] = node;
            }
            let at_pole = first as usize + k;
            self.nodes[at_pole] = if level == 0 {
                self.add_irregular(pole.neighbourhood(k))
            } else {
                first = self.reserve_children();
                Node::Split(first)
            };
        }
        Node::Split(top)
    }

    fn add_irregular(&mut self, quad: QuadNeighbourhood) -> Node {
        self.irregular.push(quad);
        Node::Irregular(self.irregular.len() as u32 - 1)
    }

    fn add_patch(&mut self, points: PatchPoints) -> Node {
        self.patches.push(points);
        Node::Patch(self.patches.len() as u32 - 1)
    }

    fn reserve_children(&mut self) -> u32 {
        let first = self.nodes.len();
        self.nodes.resize(first + 4, Node::Irregular(0));
        first as u32
    }

    /// Whether the face is a single patch.
    pub fn is_regular(&self) -> bool {
        matches!(self.roots.as_slice(), [Node::Patch(_)])
    }

    /// The limit surface at parameters `at` in the unit square of the face, or, in a face that is
    /// no quad, of the quad at its corner `corner` (from 0; in a quad it is not looked at).
    pub fn evaluate(&self, corner: usize, at: [f64; 2]) -> LimitPoint {
        match self.reach(corner, at) {
            Reached::Patch(d) => LimitPoint::inside(d),
            Reached::Vertex(limit) => LimitPoint::at_vertex(&limit),
        }
    }

    /// Position and derivatives alone, at parameters as for [`FacePatches::evaluate`]; `None` at a
    /// pole and its like.
    #[inline]
    pub fn derivatives(&self, corner: usize, at: [f64; 2]) -> Option<Derivatives> {
        match self.reach(corner, at) {
            Reached::Patch(d) => Some(d),
            Reached::Vertex(_) => None,
        }
    }

    #[inline]
    fn reach(&self, corner: usize, at: [f64; 2]) -> Reached {
        let (mut node, mut at, mut scale) = (self.root(corner), at, 1.0);
        loop {
            match node {
                Node::Patch(i) => {
                    let d = spline::evaluate(&self.patches[i as usize], at[0], at[1]);
                    return Reached::Patch(d.rescaled(scale));
                }
                Node::Irregular(i) => {
                    let reached = evaluate(&self.irregular[i as usize], at[0], at[1]);
                    return reached.rescaled(scale);
                }
                Node::Split(first) => {
                    let child = |k: usize| self.nodes[first as usize + k];
                    let is_patch = |k: usize| matches!(child(k), Node::Patch(_));
                    // Parameters lie in the unit square, so that some quadrant holds them.
                    let (k, inner) = quadrant(at, is_patch).unwrap_or((0, [0.0; 2]));
                    (node, at, scale) = (child(k), inner, scale * 2.0);
                }
            }
        }
    }

    fn root(&self, corner: usize) -> Node {
        match self.roots.as_slice() {
            [root] => *root,
            roots => roots[corner],
        }
    }

    /// All patches with the part of the unit square that each covers, corner by corner.
    pub fn parts(&self) -> impl Iterator<Item = PatchPart<'_>> + '_ {
        let mut stack: SmallVec<[(Node, f64); 16]> = SmallVec::new();
        stack.extend(self.roots.iter().rev().map(|&node| (node, 1.0)));
        std::iter::from_fn(move || {
            while let Some((node, size)) = stack.pop() {
                match node {
                    Node::Patch(i) => {
                        let points = &self.patches[i as usize];
                        return Some(PatchPart { points, size });
                    }
                    Node::Split(first) => {
                        let children = self.nodes[first as usize..first as usize + 4].iter();
                        stack.extend(children.rev().map(|&child| (child, size / 2.0)));
                    }
                    Node::Irregular(_) => {}
                }
            }
            None
        })
    }

    /// The parts that have been split no further.
    pub fn irregular_parts(&self) -> &[QuadNeighbourhood] {
        &self.irregular
    }

    /// The limit positions at the four corners of each irregular part, in its own order.
    pub fn irregular_corners(&self) -> impl Iterator<Item = [Vec3; 4]> + '_ {
        let position = |quad: &QuadNeighbourhood, k: usize| {
            let corner = &quad.corners[k];
            corner.ring.limit(corner.at).position
        };
        let parts = self.irregular.iter();
        parts.map(move |quad| std::array::from_fn(|k| position(quad, k)))
    }
}
