//! `cagewise sample`: the limit surface at given places.

use std::path::{Path, PathBuf};

use cagewise::io::{OutputSet, PlaceFault, PlaceRow, PlacesError, read_places};
use cagewise::limit::{LimitPoint, LimitSurface, Place, PlaceError, pattern};
use cagewise::report::write_samples_csv;
use cagewise::subdivision::{ControlMesh, Surface};

use super::Outcome;
use super::args::SampleArguments;
use super::cage::{ReadyCage, RequestedCreases, inputs, mesh_of};
use super::failure::Failure;
use super::progress::Progress;

/// Stages that the work is done in.
const STAGES: usize = 3;

/// Samples one cage.
pub fn run(arguments: &SampleArguments) -> Result<Outcome, Failure> {
    let surfacing = &arguments.surfacing;
    let progress = Progress::new(STAGES, surfacing.quiet);
    progress.stage("reading");
    let requested = RequestedCreases::read(surfacing.creases.as_ref())?;
    let ready = ReadyCage::read(&arguments.cage, &requested, surfacing)?;
    let rows = arguments.at.as_deref().map(read_places).transpose()?;
    let cages = std::slice::from_ref(&arguments.cage);
    let mut sources = inputs(cages, surfacing.creases.as_ref());
    sources.extend(arguments.at.as_deref());
    let mut outputs = OutputSet::new(&sources);
    let file = outputs.create(&arguments.out)?;
    progress.stage("sampling");
    let control = ControlMesh::new(
        mesh_of(&ready.cage, ready.mirrored.as_ref()),
        ready.topology,
        &ready.creases,
        surfacing.boundary.into(),
    );
    let surface = Surface::new(control);
    // A mirrored half's own faces are the first ones of the whole.
    let faces = ready.cage.mesh.face_count();
    let (places, points) = sample(&surface, faces, arguments.at.as_ref(), rows)?;
    progress.stage("writing");
    file.write_whole(|out| write_samples_csv(out, &places, &points))?;
    outputs.commit()?;
    Ok(Outcome::Done)
}

/// The places asked for, or those of the pattern in the first `faces` faces, and the surface there.
fn sample(
    surface: &Surface,
    faces: usize,
    table: Option<&PathBuf>,
    rows: Option<Vec<PlaceRow>>,
) -> Result<(Vec<Place>, Vec<LimitPoint>), Failure> {
    let places: Vec<Place> = match &rows {
        Some(rows) => rows.iter().map(|row| row.place).collect(),
        None => pattern::places(surface.control().topology())
            .take_while(|place| place.face < faces)
            .collect(),
    };
    // The faces of the other half are none of the file's.
    let beyond = places.iter().position(|place| place.face >= faces);
    let points = match beyond {
        Some(i) => {
            let face = places[i].face;
            Err((i, PlaceError::NoFace { face, faces }))
        }
        None => LimitSurface::new(surface).evaluate_all(&places),
    };
    let points = points.map_err(|(i, fault)| PlacesError::Line {
        path: table.map_or(Path::new(""), PathBuf::as_path).to_owned(),
        line: rows.as_ref().map_or(0, |rows| rows[i].line),
        fault: PlaceFault::from(fault),
    })?;
    Ok((places, points))
}
