//! `cagewise sample`: the limit surface at given places.

use std::path::{Path, PathBuf};

use cagewise::io::{OutputSet, PlaceFault, PlaceRow, PlacesError, read_places};
use cagewise::limit::{LimitPoint, LimitSurface, Place, pattern};
use cagewise::report::write_samples_csv;
use cagewise::subdivision::{ControlMesh, Surface};

use super::Outcome;
use super::args::SampleArguments;
use super::cage::{ReadyCage, RequestedCreases, inputs};
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
    let ready = ReadyCage::read(&arguments.cage, &requested)?;
    let rows = arguments.at.as_deref().map(read_places).transpose()?;
    let cages = std::slice::from_ref(&arguments.cage);
    let mut sources = inputs(cages, surfacing.creases.as_ref());
    sources.extend(arguments.at.as_deref());
    let mut outputs = OutputSet::new(&sources);
    let file = outputs.create(&arguments.out)?;
    progress.stage("sampling");
    let control = ControlMesh::new(
        &ready.cage.mesh,
        ready.topology,
        &ready.creases,
        surfacing.boundary.into(),
    );
    let surface = Surface::new(control);
    let (places, points) = sample(&surface, arguments.at.as_ref(), rows)?;
    progress.stage("writing");
    file.write_whole(|out| write_samples_csv(out, &places, &points))?;
    outputs.commit()?;
    Ok(Outcome::Done)
}

/// The places asked for, or those of the pattern, and the surface there.
fn sample(
    surface: &Surface,
    table: Option<&PathBuf>,
    rows: Option<Vec<PlaceRow>>,
) -> Result<(Vec<Place>, Vec<LimitPoint>), Failure> {
    let places: Vec<Place> = match &rows {
        Some(rows) => rows.iter().map(|row| row.place).collect(),
        None => pattern::places(surface.control().topology()).collect(),
    };
    let points = LimitSurface::new(surface).evaluate_all(&places);
    let points = points.map_err(|(i, fault)| PlacesError::Line {
        path: table.map_or(Path::new(""), PathBuf::as_path).to_owned(),
        line: rows.as_ref().map_or(0, |rows| rows[i].line),
        fault: PlaceFault::from(fault),
    })?;
    Ok((places, points))
}
