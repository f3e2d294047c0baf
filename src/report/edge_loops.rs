//! What `summary.json` and the terminal say of bent edges and their fillets.

use serde::Serialize;

use crate::limit::fillet::EDGE_BEND_THRESHOLD;
use crate::limit::{EdgeLoop, Fillets, Station};
use crate::mesh::Topology;

/// Stations listed in `summary.json`: loops are listed, tightest first, until there are this many, so
/// that the file stays below a few megabytes whatever the size of the cage. The last one listed is
/// listed whole.
const STATIONS_LISTED: usize = 5000;

/// Shares that radii, and ratios of radii, are compared in: of what is alike but for rounding the
/// first is told.
const COMPARED_EPSILON: f64 = 1e-9;

/// Bent edges: those at which the cage bends by more than a threshold, in loops that go straight on
/// through regular vertices.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct EdgeLoops {
    /// Bend above which an edge counts as bent.
    pub bent_above_deg: f64,
    /// Number of loops, those not listed included.
    pub count: usize,
    /// Number of bent edges.
    pub edges: usize,
    /// The bent edge with the smallest radius; infinitely sharp creases aside.
    pub tightest: Option<StationEntry>,
    /// The two edges, neighbours on a loop, between which the radius changes most, tighter first;
    /// infinitely sharp creases aside.
    pub largest_change: Option<[StationEntry; 2]>,
    /// The loops, tightest first; the list is cut where it would grow too long.
    pub listed: Vec<LoopEntry>,
}

/// A loop of bent edges. Ranges are the smallest and the largest value.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LoopEntry {
    /// Its vertices in order.
    pub vertices: Vec<usize>,
    /// Whether the last vertex is joined to the first.
    pub closed: bool,
    /// Bend of the cage.
    pub bend_deg: [Option<f64>; 2],
    /// Smallest radius across the edge.
    pub radius_units: [Option<f64>; 2],
    /// Width of the rounding.
    pub width_units: [Option<f64>; 2],
    /// Distance of the limit surface from the edge.
    pub stand_off_units: [Option<f64>; 2],
    /// One for each edge of the loop, in order.
    pub stations: Vec<StationEntry>,
}

/// The fillet at the middle of an edge.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct StationEntry {
    /// The two vertices of the edge, lower first.
    pub vertices: [usize; 2],
    /// Bend of the cage.
    pub bend_deg: f64,
    /// Smallest radius across the edge; 0 at an infinitely sharp crease.
    pub radius_units: Option<f64>,
    /// Width of the rounding.
    pub width_units: Option<f64>,
    /// Distance of the limit surface from the edge.
    pub stand_off_units: Option<f64>,
}

impl EdgeLoops {
    /// Sums up the fillets of a cage with this adjacency.
    pub fn new(fillets: &Fillets, topology: &Topology) -> Self {
        let mut listed: Vec<LoopEntry> = Vec::new();
        let mut stations = 0;
        for edge_loop in fillets.tightest_first() {
            if stations >= STATIONS_LISTED {
                break;
            }
            stations += edge_loop.stations.len();
            listed.push(LoopEntry::new(edge_loop, fillets, topology));
        }
        let entry = |station: &Station| StationEntry::new(station, topology);
        let rounded = fillets.stations().iter().filter(|s| s.radius > 0.0);
        Self {
            bent_above_deg: EDGE_BEND_THRESHOLD,
            count: fillets.loops().len(),
            edges: fillets.stations().len(),
            tightest: first_smallest(rounded, |s| s.radius).map(entry),
            largest_change: largest_change(fillets).map(|pair| pair.map(entry)),
            listed,
        }
    }
}

impl LoopEntry {
    fn new(edge_loop: &EdgeLoop, fillets: &Fillets, topology: &Topology) -> Self {
        let stations = fillets.stations_of(edge_loop);
        let range = |of: fn(&Station) -> f64| {
            let ends = [f64::min, f64::max]
                .map(|end: fn(f64, f64) -> f64| stations.iter().map(of).fold(f64::NAN, end));
            ends.map(finite)
        };
        Self {
            vertices: edge_loop.vertices.iter().map(|v| v + 1).collect(),
            closed: edge_loop.closed,
            bend_deg: range(|s| s.bend_deg),
            radius_units: range(|s| s.radius),
            width_units: range(|s| s.width),
            stand_off_units: range(|s| s.stand_off),
            stations: stations
                .iter()
                .map(|s| StationEntry::new(s, topology))
                .collect(),
        }
    }
}

impl StationEntry {
    fn new(station: &Station, topology: &Topology) -> Self {
        let mut vertices = topology.edge_vertices(station.edge).map(|v| v + 1);
        vertices.sort_unstable();
        Self {
            vertices,
            bend_deg: station.bend_deg,
            radius_units: finite(station.radius),
            width_units: finite(station.width),
            stand_off_units: finite(station.stand_off),
        }
    }
}

/// The two neighbouring stations of one loop whose radii have the largest ratio, tighter first. A
/// loop that tightens little by little, as along a tapering pipe, is held as its form asks for; one
/// that jumps has lost its support.
fn largest_change(fillets: &Fillets) -> Option<[&Station; 2]> {
    let mut pairs: Vec<[&Station; 2]> = Vec::new();
    for edge_loop in fillets.loops() {
        let stations = fillets.stations_of(edge_loop);
        let neighbours = stations.iter().zip(stations.iter().skip(1));
        let ends = stations.last().zip(stations.first());
        let round = ends.filter(|_| edge_loop.closed);
        let rounded = |pair: &(&Station, &Station)| pair.0.radius > 0.0 && pair.1.radius > 0.0;
        pairs.extend(neighbours.chain(round).filter(rounded).map(tighter_first));
    }
    first_smallest(pairs.iter(), |[a, b]| a.radius / b.radius).copied()
}

fn tighter_first<'a>((a, b): (&'a Station, &'a Station)) -> [&'a Station; 2] {
    if a.radius <= b.radius { [a, b] } else { [b, a] }
}

/// The first item whose value is the smallest, but for rounding; values are positive.
fn first_smallest<'a, T>(
    items: impl Iterator<Item = &'a T> + Clone,
    of: impl Fn(&T) -> f64,
) -> Option<&'a T> {
    let smallest = items.clone().map(&of).fold(f64::NAN, f64::min);
    let mut items = items;
    items.find(|item| of(item) <= smallest * (1.0 + COMPARED_EPSILON))
}

fn finite(x: f64) -> Option<f64> {
    x.is_finite().then_some(x)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use crate::mesh::{PolygonMesh, Vec3};
    use crate::subdivision::{BoundaryRule, ControlMesh, Creases, Surface};

    /// Ridges and grooves along y, a column of quads between each and the next, that grow higher
    /// along y and so tighter.
    fn ridges(columns: usize, rows: usize) -> Surface {
        let width = columns + 1;
        let height = |i: usize, j: usize| {
            let steep = 1.0 + j as f64 / rows as f64;
            if i.is_multiple_of(2) { 0.0 } else { steep }
        };
        let positions = (0..width * (rows + 1)).map(|v| {
            let (i, j) = (v % width, v / width);
            Vec3::new(i as f64, j as f64, height(i, j))
        });
        let at = |i: usize, j: usize| (j * width + i) as u32;
        let faces: Vec<[u32; 4]> = (0..columns * rows)
            .map(|f| (f % columns, f / columns))
            .map(|(i, j)| [at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)])
            .collect();
        let mesh = PolygonMesh::from_faces(positions.collect(), &faces).unwrap();
        let topology = Topology::new(&mesh);
        Surface::new(ControlMesh::new(
            &mesh,
            topology,
            &Creases::default(),
            BoundaryRule::default(),
        ))
    }

    fn summed_up(surface: &Surface) -> EdgeLoops {
        EdgeLoops::new(&Fillets::new(surface), surface.control().topology())
    }

    #[test]
    fn loops_are_told_with_their_ranges_and_the_largest_change() {
        let told = summed_up(&ridges(2, 6));
        assert_eq!((told.count, told.edges, told.listed.len()), (1, 6, 1));
        let only = &told.listed[0];
        assert_eq!(only.vertices, [2, 5, 8, 11, 14, 17, 20]);
        let [low, high] = only.radius_units.map(Option::unwrap);
        assert_eq!(told.tightest.unwrap().radius_units, Some(low));
        let radii: Vec<f64> = only.stations.iter().flat_map(|s| s.radius_units).collect();
        let ratios = radii
            .windows(2)
            .map(|pair| pair[0].max(pair[1]) / pair[0].min(pair[1]));
        let [tighter, rounder] = told
            .largest_change
            .unwrap()
            .map(|s| s.radius_units.unwrap());
        assert_eq!(rounder / tighter, ratios.fold(0.0, f64::max));
        assert!(low < 0.7 * high, "{low} {high}");
    }

    #[test]
    fn a_cage_full_of_bent_edges_is_listed_in_part() {
        let told = summed_up(&ridges(102, 100));
        assert_eq!((told.count, told.edges), (101, 10_100));
        let stations: usize = told.listed.iter().map(|l| l.stations.len()).sum();
        assert_eq!(stations, STATIONS_LISTED);
        let radii: Vec<f64> = told.listed.iter().flat_map(|l| l.radius_units[0]).collect();
        assert!(radii.windows(2).all(|pair| pair[0] <= pair[1] + 1e-8));
    }
}
