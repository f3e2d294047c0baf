//! Times the evaluation of the limit surface at given places, in process and on one thread, for the
//! comparison script.
//!
//!     evaluate_limit MESH.obj
//!
//! Prints for each kind of face (`regular`: a quad among quads whose corners are interior and of
//! valence 4; `pole`: any other) the samples per second of position, first and second derivatives,
//! once with the face's patches at hand (`prepared`) and once with the making of the patches counted
//! in (`from-scratch`), and a checksum of the positions. The best of many short runs: the one that
//! nothing else on the machine disturbed.
#![allow(clippy::print_stdout, clippy::print_stderr)]

use std::hint::black_box;
use std::path::Path;
use std::process::ExitCode;
use std::time::Instant;

use cagewise::io::read_cage;
use cagewise::limit::FacePatches;
use cagewise::mesh::{Topology, Vec3};
use cagewise::subdivision::spline::Derivatives;
use cagewise::subdivision::{BoundaryRule, ControlMesh, Creases, Surface};

/// Places per face.
const PLACES: usize = 64;

/// Faces of a kind that are timed at most, spread over the mesh.
const FACES_MAX: usize = 256;

/// Levels that irregular faces are split before they are asked.
const LEVELS: usize = 3;

/// Runs of which the best counts, and the seconds that one takes at least.
const RUNS: (usize, f64) = (50, 0.02);

/// Place `k`, from 1: a lattice of 16-bit fractions, exact in either language.
fn place(k: usize) -> [f64; 2] {
    [49471, 37345].map(|step| ((step * k) % 65536) as f64 / 65536.0)
}

/// The corner quads and places that a face of so many sides is asked at.
fn places(sides: usize) -> [(usize, [f64; 2]); PLACES] {
    std::array::from_fn(|i| (i % sides, place(i + 1)))
}

/// Samples per second of the best run of `work`, which takes that many samples.
fn rate(samples: usize, mut work: impl FnMut()) -> f64 {
    let (runs, seconds) = RUNS;
    let one_run = || {
        let begin = Instant::now();
        let mut rounds = 0;
        while rounds == 0 || begin.elapsed().as_secs_f64() < seconds {
            work();
            rounds += 1;
        }
        (rounds * samples) as f64 / begin.elapsed().as_secs_f64()
    };
    std::iter::repeat_with(one_run)
        .take(runs)
        .fold(0.0, f64::max)
}

fn report(surface: &Surface, kind: &str, faces: &[usize]) {
    let count = faces.len().min(FACES_MAX);
    if count == 0 {
        return;
    }
    let topology = surface.control().topology();
    let faces: Vec<(usize, _)> = (0..count)
        .map(|k| faces[k * faces.len() / count])
        .map(|f| (f, places(topology.face_size(f))))
        .collect();
    let made: Vec<FacePatches> = faces
        .iter()
        .map(|(f, _)| FacePatches::new(surface, *f, LEVELS))
        .collect();
    let mut found: Vec<Option<Derivatives>> = vec![None; PLACES];
    let mut evaluate = |face: &FacePatches, places: &[(usize, [f64; 2])]| {
        for (found, &(corner, at)) in found.iter_mut().zip(places) {
            *found = face.derivatives(corner, at);
        }
        black_box(&mut found);
    };
    let samples = count * PLACES;
    let prepared = rate(samples, || {
        for (face, (_, places)) in made.iter().zip(&faces) {
            evaluate(face, places);
        }
    });
    let mut face = FacePatches::default();
    let whole = rate(samples, || {
        for (f, places) in &faces {
            face.fill(surface, *f, LEVELS);
            evaluate(&face, places);
        }
    });
    println!("{kind} {prepared:.0} prepared");
    println!("{kind} {whole:.0} from-scratch");
    let frame = surface.control().frame();
    let mut sum = 0.0;
    for (face, (_, places)) in made.iter().zip(&faces) {
        for &(corner, at) in places {
            let p = frame.outward(face.evaluate(corner, at).position);
            sum += p.component_mul(&p).dot(&Vec3::new(1.0, 2.0, 3.0));
        }
    }
    println!("{kind} {:.14} checksum", sum / samples as f64);
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
