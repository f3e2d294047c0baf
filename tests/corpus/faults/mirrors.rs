//! The plane across an axis that a cage is symmetric to.

use std::collections::{HashMap, HashSet};

use cagewise::mesh::{Axis, MirrorPlane, Topology, Vec3};

use super::ground::Ground;

/// Vertices are partners when they lie within this part of the cage's size of each other's image.
const PARTNER_TOLERANCE: f64 = 1e-6;

/// The first plane, across x, y or z and through the middle, that maps every vertex to a vertex and
/// every face to a face; with the partner of each vertex.
pub fn find(positions: &[Vec3], faces: &[Vec<u32>]) -> Option<(MirrorPlane, Vec<u32>)> {
    let key = |face: &[u32]| {
        let mut key = face.to_vec();
        key.sort_unstable();
        key
    };
    let known: HashSet<Vec<u32>> = faces.iter().map(|f| key(f)).collect();
    let nothing = (Vec3::repeat(f64::MAX), Vec3::repeat(f64::MIN));
    let (low, high) = positions
        .iter()
        .fold(nothing, |(low, high), p| (low.inf(p), high.sup(p)));
    let size = (high - low).norm();
    Axis::ALL.into_iter().find_map(|axis| {
        let offset = (low[axis as usize] + high[axis as usize]) / 2.0;
        let plane = MirrorPlane { axis, offset };
        let partners = partners(positions, &plane, PARTNER_TOLERANCE * size)?;
        let image = |f: &Vec<u32>| f.iter().map(|&v| partners[v as usize]).collect::<Vec<_>>();
        let alike = faces.iter().all(|f| known.contains(&key(&image(f))));
        alike.then_some((plane, partners))
    })
}

fn partners(positions: &[Vec3], plane: &MirrorPlane, tolerance: f64) -> Option<Vec<u32>> {
    let cell = |p: &Vec3| [p.x, p.y, p.z].map(|x| (x / (4.0 * tolerance)).floor() as i64);
    let mut cells = HashMap::<[i64; 3], Vec<u32>>::new();
    for (v, p) in positions.iter().enumerate() {
        cells.entry(cell(p)).or_default().push(v as u32);
    }
    let partner = |p: &Vec3| {
        let image = plane.image(p);
        let [x, y, z] = cell(&image);
        let around = (0..27).map(|i| [x + i % 3 - 1, y + i / 3 % 3 - 1, z + i / 9 - 1]);
        around
            .filter_map(|c| cells.get(&c))
            .flatten()
            .copied()
            .find(|&v| (positions[v as usize] - image).norm() <= tolerance)
    };
    positions.iter().map(partner).collect()
}

/// For each vertex, if it lies on a centre line, the direction across its plane. A cage is a half,
/// and its borders are its centre line, where all of them lie in one plane across an axis and the
/// cage on one side of it.
pub fn centre_line(ground: &Ground, topology: &Topology) -> Vec<Option<Vec3>> {
    let plane = plane_of_borders(ground, topology);
    let on = |v: usize| {
        let axis = plane.as_ref()?.axis;
        is_border(topology, v).then(|| Vec3::ith(axis as usize, 1.0))
    };
    (0..ground.positions.len()).map(on).collect()
}

fn is_border(topology: &Topology, v: usize) -> bool {
    !topology.is_unreferenced(v) && !topology.is_interior(v)
}

fn plane_of_borders(ground: &Ground, topology: &Topology) -> Option<MirrorPlane> {
    let border: Vec<&Vec3> = (0..ground.positions.len())
        .filter(|&v| is_border(topology, v))
        .map(|v| &ground.positions[v])
        .collect();
    let first = border.first()?;
    Axis::ALL.into_iter().find_map(|axis| {
        let i = axis as usize;
        let offset = first[i];
        let used = (0..ground.positions.len()).filter(|&v| !topology.is_unreferenced(v));
        let sides = used.map(|v| ground.positions[v][i] - offset);
        let (low, high) = sides.fold((0.0f64, 0.0f64), |(a, b), x| (a.min(x), b.max(x)));
        let tolerance = PARTNER_TOLERANCE * (high - low);
        let flat = border.iter().all(|p| (p[i] - offset).abs() <= tolerance);
        let one_sided = low >= -tolerance || high <= tolerance;
        (flat && one_sided && tolerance > 0.0).then_some(MirrorPlane { axis, offset })
    })
}
