//! The centre line of a half: the part of its border along which it meets its mirror image.

use std::fmt;

use thiserror::Error;

use super::cage::Cage;
use super::mirror_plane::{MirrorPlane, plain};
use super::polygon_mesh::{PolygonMesh, Vec3};
use super::topology::{EdgeKind, Topology};

/// Distance from the mirror plane, over the mean edge length at the vertex, up to which a border
/// vertex is welded to its mirror image. Far above what writing coordinates in single precision or
/// with six decimals does to them (1e-7 to 1e-4), and far below what is seen: two faces that meet
/// this far off their plane turn by about twice the angle, 0.1 degrees, where less than 2 degrees
/// are not seen (common practice, no published source).
pub const WELD_TOLERANCE: f64 = 1e-3;

/// Distance from the mirror plane, over the shortest of the mean edge length and the border edges
/// at the vertex, below which a border vertex between vertices in the plane is meant to lie there
/// too: whatever leads further away cuts off a corner of the border on purpose.
pub const LINE_REACH_THRESHOLD: f64 = 0.5;

/// A vertex or face as a message names it: counted from 1, with its line in the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Element {
    /// `vertex` or `face`.
    pub kind: &'static str,
    /// Index, from 0.
    pub index: usize,
    /// The line of the file that it stands on, from 1, if there is a file.
    pub line: Option<u32>,
}

impl fmt::Display for Element {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.kind, self.index + 1)?;
        self.line.map_or(Ok(()), |line| write!(f, " (line {line})"))
    }
}

impl Element {
    fn vertex(cage: &Cage, index: usize) -> Self {
        let line = cage.vertex_lines.get(index).copied();
        Self {
            kind: "vertex",
            index,
            line,
        }
    }

    fn face(cage: &Cage, index: usize) -> Self {
        let line = cage.face_lines.get(index).copied();
        Self {
            kind: "face",
            index,
            line,
        }
    }
}

/// Why a cage is no half that can be mirrored in a plane. Distances are in file units.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum MirrorError {
    /// No border vertex lies in the plane.
    #[error(
        "no border vertex lies in the mirror plane {plane}, the nearest, {nearest}, is {} away; \
         open the half where it is to be joined, or mirror it where its border lies{}",
        plain(*.distance), suggestion(*.border)
    )]
    NoCentreLine {
        /// The plane.
        plane: MirrorPlane,
        /// The vertex nearest to it.
        nearest: Element,
        /// That vertex's distance.
        distance: f64,
        /// The plane across the same axis in which some border edge lies, if there is one.
        border: Option<MirrorPlane>,
    },
    /// Part of the cage lies on the other side of the plane.
    #[error(
        "{vertex} lies {} beyond the mirror plane {plane}{}, where its mirror image will be; \
         delete what lies on that side, or move it into the plane",
        plain(*.distance), and_others(*.others)
    )]
    Beyond {
        /// The plane.
        plane: MirrorPlane,
        /// The vertex that lies furthest beyond.
        vertex: Element,
        /// Its distance.
        distance: f64,
        /// How many more vertices lie beyond.
        others: usize,
    },
    /// A face lies in the plane.
    #[error(
        "{face} lies in the mirror plane {plane}, where it would close the half off from its \
         mirror image; delete it"
    )]
    FaceInPlane {
        /// The plane.
        plane: MirrorPlane,
        /// The face.
        face: Element,
    },
    /// The cage has no faces.
    #[error("the cage has no faces to mirror; export it again with its polygons")]
    NoFaces,
    /// The whole would be larger than numbers can tell.
    #[error("mirrored at {plane} the cage is too large for {what}; {mend}")]
    TooLarge {
        /// The plane.
        plane: MirrorPlane,
        /// What it is too large for.
        what: &'static str,
        /// What to do about it.
        mend: &'static str,
    },
}

fn suggestion(border: Option<MirrorPlane>) -> String {
    border.map_or(String::new(), |plane| {
        format!(" (--mirror {})", plane.option())
    })
}

fn and_others(count: usize) -> String {
    match count {
        0 => String::new(),
        1 => ", and so does 1 more".to_owned(),
        _ => format!(", and so do {count} more"),
    }
}

/// The centre line of a half.
#[derive(Debug, Clone, PartialEq)]
pub struct CentreLine {
    /// Whether each vertex of the half is welded to its mirror image.
    pub welded: Vec<bool>,
    /// Distance of each vertex of the half from the plane in file units, from 0; NaN for vertices
    /// that do not belong to the line.
    pub distances: Vec<f64>,
}

impl CentreLine {
    /// Finds the line along which `half`, whose adjacency is `topology`, meets its mirror image.
    ///
    /// Border vertices within [`WELD_TOLERANCE`] of the plane are welded. Vertices inside the
    /// surface are not, even if they lie in the plane: four sheets would meet there, and the half
    /// only touches its image. Border vertices off the plane belong to the line if the border runs
    /// on from them to welded vertices on both sides and comes no further from the plane between
    /// those than [`LINE_REACH_THRESHOLD`].
    ///
    /// # Errors
    /// [`MirrorError`] if nothing can be welded, if a face lies in the plane or if vertices other
    /// than those of the line lie beyond it; the half's side is the one that most vertices are on.
    pub fn find(half: &Cage, topology: &Topology, plane: MirrorPlane) -> Result<Self, MirrorError> {
        let seen = Seen::new(&half.mesh, topology, plane);
        if let Some(f) = (0..topology.face_count()).find(|&f| seen.lies_in_plane(f)) {
            let face = Element::face(half, f);
            return Err(MirrorError::FaceInPlane { plane, face });
        }
        let on_border = border_vertices(topology);
        let welded: Vec<bool> = (0..topology.vertex_count())
            .map(|v| on_border[v] && seen.is_in_plane(v))
            .collect();
        if !welded.contains(&true) {
            return Err(seen.why_nothing_welds(half, &on_border));
        }
        let mut on_line = welded.clone();
        for walk in topology.border_walks() {
            seen.mark_runs(&walk, &welded, &mut on_line);
        }
        seen.check_sides(half, &on_line)?;
        let distance = |v: usize| 2.0 * seen.half_distances[v].abs();
        let distances = (0..topology.vertex_count())
            .map(|v| if on_line[v] { distance(v) } else { f64::NAN })
            .collect();
        Ok(Self { welded, distances })
    }
}

/// Whether each vertex is on an open border.
fn border_vertices(topology: &Topology) -> Vec<bool> {
    let mut on_border = vec![false; topology.vertex_count()];
    let border = |e: &usize| topology.edge_kind(*e) == EdgeKind::Border;
    for e in (0..topology.edge_count()).filter(border) {
        for v in topology.edge_vertices(e) {
            on_border[v] = true;
        }
    }
    on_border
}

/// A mesh seen from the plane. Lengths are halved, so that none is beyond the range of numbers.
struct Seen<'a> {
    mesh: &'a PolygonMesh,
    topology: &'a Topology,
    plane: MirrorPlane,
    half_distances: Vec<f64>,
    /// Mean length of the edges at each vertex, halved.
    half_lengths: Vec<f64>,
}

impl<'a> Seen<'a> {
    fn new(mesh: &'a PolygonMesh, topology: &'a Topology, plane: MirrorPlane) -> Self {
        let distances = mesh.positions().iter();
        Self {
            mesh,
            topology,
            plane,
            half_distances: distances.map(|p| plane.half_distance(p)).collect(),
            half_lengths: mean_half_lengths(mesh, topology),
        }
    }

    fn is_in_plane(&self, v: usize) -> bool {
        self.half_distances[v].abs() <= WELD_TOLERANCE * self.half_lengths[v]
    }

    /// Whether a face lies in the plane: measured by its own shortest side, so that a narrow strip
    /// along the line does not count.
    fn lies_in_plane(&self, f: usize) -> bool {
        let face = self.mesh.face(f);
        let following = face.iter().cycle().skip(1);
        let sides = face.iter().zip(following);
        let shortest = sides
            .map(|(&a, &b)| half_length(self.mesh, a as usize, b as usize))
            .fold(f64::INFINITY, f64::min);
        let near = |&v: &u32| {
            let distance = self.half_distances[v as usize].abs();
            distance <= WELD_TOLERANCE * shortest
        };
        !face.is_empty() && face.iter().all(near)
    }

    /// Marks what belongs to the line though it is off the plane: the border vertices between
    /// two welded ones, where none of them is far off.
    fn mark_runs(&self, walk: &[usize], welded: &[bool], on_line: &mut [bool]) {
        let count = walk.len();
        let at = |i: usize| self.topology.vertex(walk[i % count]);
        let end = self.topology.vertex(self.topology.next(walk[count - 1]));
        let comes_back = end == at(0);
        let Some(first) = (0..count).find(|&i| welded[at(i)]) else {
            return;
        };
        let last = if comes_back { first + count } else { count - 1 };
        let mut start = first;
        for i in first + 1..=last {
            if !welded[at(i)] {
                continue;
            }
            if (start + 1..i).all(|k| self.is_near([k - 1, k, k + 1].map(at))) {
                (start + 1..i).for_each(|k| on_line[at(k)] = true);
            }
            start = i;
        }
    }

    /// Whether the middle one of three border vertices is near the plane.
    fn is_near(&self, [before, v, after]: [usize; 3]) -> bool {
        let sides = [before, after].map(|w| half_length(self.mesh, v, w));
        let reach = self.half_lengths[v].min(sides[0]).min(sides[1]);
        self.half_distances[v].abs() < LINE_REACH_THRESHOLD * reach
    }

    fn check_sides(&self, half: &Cage, on_line: &[bool]) -> Result<(), MirrorError> {
        let used = (0..on_line.len()).filter(|&v| !self.topology.is_unreferenced(v));
        let off = used.filter(|&v| !on_line[v] && !self.is_in_plane(v));
        let (above, below): (Vec<usize>, Vec<usize>) =
            off.partition(|&v| self.half_distances[v] > 0.0);
        let beyond = if above.len() < below.len() {
            above
        } else {
            below
        };
        let further = |a: usize, b: usize| {
            let [x, y] = [a, b].map(|v| self.half_distances[v].abs());
            if y > x { b } else { a }
        };
        let Some(furthest) = beyond.iter().copied().reduce(further) else {
            return Ok(());
        };
        Err(MirrorError::Beyond {
            plane: self.plane,
            vertex: Element::vertex(half, furthest),
            distance: 2.0 * self.half_distances[furthest].abs(),
            others: beyond.len() - 1,
        })
    }

    /// What is wrong with a cage that has no border vertex in the plane: with a border that lies in
    /// another plane it is mirrored in the wrong one; otherwise it may be no half at all.
    fn why_nothing_welds(&self, half: &Cage, on_border: &[bool]) -> MirrorError {
        let found = self.no_centre_line(half, on_border);
        match found {
            MirrorError::NoCentreLine { border: None, .. } => {
                let line = vec![false; on_border.len()];
                self.check_sides(half, &line).err().unwrap_or(found)
            }
            _ => found,
        }
    }

    fn no_centre_line(&self, half: &Cage, on_border: &[bool]) -> MirrorError {
        let used = (0..on_border.len()).filter(|&v| !self.topology.is_unreferenced(v));
        let nearer = |a: usize, b: usize| {
            let key = |v: usize| (!on_border[v], self.half_distances[v].abs());
            if key(b) < key(a) { b } else { a }
        };
        let Some(nearest) = used.reduce(nearer) else {
            return MirrorError::NoFaces;
        };
        let axis = self.plane.axis;
        let offset = self.mesh.positions()[nearest][axis as usize];
        let border = MirrorPlane { axis, offset };
        let neighbours = self.topology.neighbours(nearest);
        let mut level = neighbours.filter(|&w| on_border[w]).map(|w| {
            let height = border.half_distance(&self.mesh.positions()[w]).abs();
            height <= WELD_TOLERANCE * half_length(self.mesh, nearest, w)
        });
        let in_plane = on_border[nearest] && level.any(|level| level);
        MirrorError::NoCentreLine {
            plane: self.plane,
            nearest: Element::vertex(half, nearest),
            distance: 2.0 * self.half_distances[nearest].abs(),
            border: in_plane.then_some(border),
        }
    }
}

/// Half the distance between two vertices.
pub(super) fn half_length(mesh: &PolygonMesh, a: usize, b: usize) -> f64 {
    let [a, b] = [a, b].map(|v| mesh.positions()[v]);
    norm(&(a * 0.5 - b * 0.5))
}

/// The length of a vector whose squares may be beyond the range of numbers.
fn norm(d: &Vec3) -> f64 {
    let size = d.amax();
    if size > 0.0 {
        size * (d / size).norm()
    } else {
        0.0
    }
}

/// Mean length of the edges at each vertex, halved; 0 without edges.
fn mean_half_lengths(mesh: &PolygonMesh, topology: &Topology) -> Vec<f64> {
    let mut means = vec![0.0; topology.vertex_count()];
    let mut counts = vec![0usize; topology.vertex_count()];
    for e in 0..topology.edge_count() {
        let [a, b] = topology.edge_vertices(e);
        let length = half_length(mesh, a, b);
        for v in [a, b] {
            counts[v] += 1;
            // A running mean: a sum of lengths may be beyond the range of numbers.
            means[v] += (length - means[v]) / counts[v] as f64;
        }
    }
    means
}
