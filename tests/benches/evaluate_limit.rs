//! Times the evaluation of the limit surface at given places, in process and on one thread, for the
//! comparison script.
//!
//!     evaluate_limit MESH.obj
//!
//! Prints one line per kind of face (`regular`: one bicubic patch; `pole`: any other) and way of
//! counting: samples per second of position, first and second derivatives, once with the faces'
//! patches at hand (`prepared`) and once with the making of the patches counted in (`from-scratch`).
//! Medians of several runs.
#![allow(clippy::print_stdout, clippy::print_stderr)]

use std::path::Path;
use std::process::ExitCode;
use std::time::Instant;

use cagewise::io::read_cage;
use cagewise::limit::FacePatches;
use cagewise::mesh::{Topology, Vec3};
use cagewise::subdivision::{BoundaryRule, ControlMesh, Creases, Surface};

/// Places per face.
const PLACES: usize = 64;

/// Faces of a kind that are timed at most, spread over the mesh.
const FACES_MAX: usize = 2000;

/// Levels that irregular faces are split before they are asked.
const LEVELS: usize = 6;

/// Runs of which the median is taken.
const RUNS: usize = 7;

/// Place `i` of a face: additive recurrence of low discrepancy in two dimensions, by the square and
/// the cube of the inverse of the plastic number (the real root of x³ = x + 1).
fn place(i: usize) -> [f64; 2] {
    const STEP: [f64; 2] = [0.754_877_666_246_692_8, 0.569_840_290_998_053_3];
    STEP.map(|s| (0.5 + s * (i + 1) as f64).fract())
}

fn samples(faces: &[(usize, FacePatches)], sides: impl Fn(usize) -> usize) -> Vec3 {
    let places: [[f64; 2]; PLACES] = std::array::from_fn(place);
    let mut sum = Vec3::zeros();
    for (f, patches) in faces {
        let n = sides(*f);
        for (i, &at) in places.iter().enumerate() {
            if let Some(d) = patches.derivatives(i % n, at) {
                sum += d.position + d.first[0] + d.first[1];
                sum += d.second[0] + d.second[1] + d.second[2];
            }
        }
    }
    sum
}

fn median(mut rates: Vec<f64>) -> f64 {
    rates.sort_by(f64::total_cmp);
    rates[rates.len() / 2]
}

fn report(surface: &Surface, kind: &str, faces: &[usize]) {
    let step = faces.len().div_ceil(FACES_MAX).max(1);
    let faces: Vec<usize> = faces.iter().copied().step_by(step).collect();
    if faces.is_empty() {
        return;
    }
    let topology = surface.control().topology();
    let count = (faces.len() * PLACES) as f64;
    let (mut prepared, mut whole) = (Vec::new(), Vec::new());
    for _ in 0..RUNS {
        let begin = Instant::now();
        let made: Vec<_> = faces
            .iter()
            .map(|&f| (f, FacePatches::new(surface, f, LEVELS)))
            .collect();
        let ready = begin.elapsed();
        std::hint::black_box(samples(&made, |f| topology.face_size(f)));
        let all = begin.elapsed();
        prepared.push(count / (all - ready).as_secs_f64());
        whole.push(count / all.as_secs_f64());
    }
    println!("{kind} {:.0} prepared", median(prepared));
    println!("{kind} {:.0} from-scratch", median(whole));
}

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().collect();
    let [_, path] = arguments.as_slice() else {
        eprintln!("usage: evaluate_limit MESH.obj");
        return ExitCode::from(2);
    };
    let cage = match read_cage(Path::new(path)) {
        Ok(cage) => cage,
        Err(error) => {
            eprintln!("{error}");
            return ExitCode::from(2);
        }
    };
    let topology = Topology::new(&cage.mesh);
    let creases = Creases::default();
    let control = ControlMesh::new(&cage.mesh, topology, &creases, BoundaryRule::default());
    let surface = Surface::new(control);
    let (regular, poles): (Vec<usize>, Vec<usize>) =
        (0..cage.mesh.face_count()).partition(|&f| surface.regular_patch(f).is_some());
    report(&surface, "regular", &regular);
    report(&surface, "pole", &poles);
    ExitCode::SUCCESS
}
