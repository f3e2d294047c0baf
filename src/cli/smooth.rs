//! `cagewise smooth`: the smoothed cage alone.

use cagewise::io::{OutputSet, relocated_libraries};
use cagewise::report::{PreviewColours, PreviewOptions};
use cagewise::subdivision::{ControlMesh, Samples, Surface};

use super::Outcome;
use super::args::SmoothArguments;
use super::cage::{ReadyCage, RequestedCreases, folder_of, inputs, mesh_of, write_smoothed};
use super::failure::Failure;
use super::progress::Progress;

/// Stages that the work is done in.
const STAGES: usize = 3;

/// Smooths one cage.
pub fn run(arguments: &SmoothArguments) -> Result<Outcome, Failure> {
    let subdividing = &arguments.subdividing;
    let progress = Progress::new(STAGES, subdividing.surfacing.quiet);
    progress.stage("reading");
    let requested = RequestedCreases::read(subdividing.surfacing.creases.as_ref())?;
    let ready = ReadyCage::read_to_refine(&arguments.cage, &requested, subdividing)?;
    let cages = std::slice::from_ref(&arguments.cage);
    let mut outputs = OutputSet::new(&inputs(cages, subdividing.surfacing.creases.as_ref()));
    let file = outputs.create(&arguments.out)?;
    progress.stage("preparing");
    let cage = &ready.cage;
    let mirrored = ready.mirrored.as_ref();
    let control = ControlMesh::new(
        mesh_of(cage, mirrored),
        ready.topology,
        &ready.creases,
        subdividing.surfacing.boundary.into(),
    );
    let surface = Surface::new(control);
    progress.stage("subdividing and writing");
    let libraries = relocated_libraries(
        &cage.material_libraries,
        folder_of(&arguments.cage),
        folder_of(&arguments.out),
    );
    let options = PreviewOptions {
        level: subdividing.level,
        samples: if arguments.onto_limit {
            Samples::Limit
        } else {
            Samples::Refined
        },
        colours: PreviewColours::Own,
        material_libraries: &libraries,
    };
    let whole = subdividing.mirror_preview;
    file.write_whole(|out| write_smoothed(out, (cage, mirrored), &surface, &options, whole))?;
    outputs.commit()?;
    Ok(Outcome::Done)
}
