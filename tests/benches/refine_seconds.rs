//! Times refinement and limit evaluation of an OBJ cage, in process, for the comparison script.
//!
//!     refine_seconds MESH.obj LEVEL
//!
//! Prints the seconds of each stage and of all together, medians of three runs; the last line is
//! the figure to compare: from face lists in memory (adjacency is built within) to limit
//! positions, limit normals and quads in memory.
#![allow(clippy::print_stdout, clippy::print_stderr)]

use std::path::Path;
use std::process::ExitCode;
use std::time::Instant;

use cagewise::io::read_cage;
use cagewise::mesh::{PolygonMesh, Topology};
use cagewise::subdivision::{BoundaryRule, ControlMesh, Creases, Samples, Surface, refine};

/// Runs of which the medians are taken.
const RUNS: usize = 3;

/// Seconds that the stages of one run took.
const STAGES: [&str; 4] = ["topology", "control", "surface", "limit"];

fn run(mesh: &PolygonMesh, level: usize) -> [f64; STAGES.len() + 1] {
    let begin = Instant::now();
    let topology = Topology::new(mesh);
    let paired = begin.elapsed();
    let creases = Creases::default();
    let control = ControlMesh::new(mesh, topology, &creases, BoundaryRule::default());
    let controlled = begin.elapsed();
    let surface = Surface::new(control);
    let prepared = begin.elapsed();
    let refined = refine(&surface, level, Samples::Limit);
    let all = begin.elapsed();
    std::hint::black_box(&refined);
    [
        paired,
        controlled - paired,
        prepared - controlled,
        all - prepared,
        all,
    ]
    .map(|t| t.as_secs_f64())
}

fn median(mut times: Vec<f64>) -> f64 {
    times.sort_by(f64::total_cmp);
    times[times.len() / 2]
}

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().collect();
    let [_, path, level] = arguments.as_slice() else {
        eprintln!("usage: refine_seconds MESH.obj LEVEL");
        return ExitCode::from(2);
    };
    let Ok(level) = level.parse::<usize>() else {
        eprintln!("LEVEL must be a whole number, not {level}");
        return ExitCode::from(2);
    };
    let cage = match read_cage(Path::new(path)) {
        Ok(cage) => cage,
        Err(error) => {
            eprintln!("{error}");
            return ExitCode::from(2);
        }
    };
    let runs: Vec<_> = (0..RUNS).map(|_| run(&cage.mesh, level)).collect();
    let stage = |k: usize| median(runs.iter().map(|r| r[k]).collect());
    for (k, name) in STAGES.iter().enumerate() {
        println!("{name} {:.5}", stage(k));
    }
    println!("{:.5}", stage(STAGES.len()));
    ExitCode::SUCCESS
}
