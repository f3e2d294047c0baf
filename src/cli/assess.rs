//! `cagewise assess`: the main job, for one cage or a batch.

use std::path::{Path, PathBuf};

use cagewise::assess::{AssessOptions, Assessment, assess, assess_half};
use cagewise::io::{OutputFile, OutputSet, WriteError, relocated_libraries};
use cagewise::mesh::{Cage, Mirrored};
use cagewise::report::terminal::{self, Style};
use cagewise::report::{
    CreaseOrigin, PageOptions, PreviewColours, PreviewOptions, Request, Summary, shown_name,
    write_risk_csv,
};
use cagewise::subdivision::{BoundaryRule, Samples};

use super::Outcome;
use super::args::{AssessArguments, CreaseSource};
use super::cage::{ReadyCage, RequestedCreases, folder_of, inputs, write_smoothed};
use super::colour;
use super::failure::Failure;
use super::folders::result_folders;
use super::output::print;
use super::page::Page;
use super::pictures::Pictures;
use super::progress::Progress;

/// Stages that one cage's work is done in, pictures aside.
const STAGES: usize = 3;

/// Names of the files written for a cage.
const FILES: [&str; 3] = ["risk.csv", "preview.obj", "summary.json"];

/// Assesses the cages one after the other; one at fault does not stop the others.
pub fn run(arguments: &AssessArguments) -> Result<Outcome, Failure> {
    let requested = RequestedCreases::read(arguments.subdividing.surfacing.creases.as_ref())?;
    let folders = result_folders(&arguments.cages, arguments.out.as_deref());
    let stages = STAGES + usize::from(arguments.pictures);
    let job = Job {
        arguments,
        requested,
        progress: Progress::new(
            stages * arguments.cages.len(),
            arguments.subdividing.surfacing.quiet,
        ),
    };
    let style = Style {
        colour: colour::wanted(),
    };
    if let ([cage], [folder]) = (arguments.cages.as_slice(), folders.as_slice()) {
        let summary = job.assess(cage, folder)?;
        let outcome = job.outcome(&summary);
        drop(job);
        if !arguments.subdividing.surfacing.quiet {
            print(&terminal::screen(&summary, &shown_name(folder), style))?;
        }
        return Ok(outcome);
    }
    run_batch(job, &folders, style)
}

fn run_batch(job: Job, folders: &[PathBuf], style: Style) -> Result<Outcome, Failure> {
    let arguments = job.arguments;
    let mut table = terminal::batch_head(style) + "\n";
    let mut worst = Outcome::Done;
    for (cage, folder) in arguments.cages.iter().zip(folders) {
        let row = match job.assess(cage, folder) {
            Ok(summary) => {
                worst = worst.max(job.outcome(&summary));
                terminal::batch_row(&summary, &shown_name(folder), style)
            }
            Err(failure) => {
                job.progress.aside(|| failure.report());
                worst = Outcome::SomeAtFault;
                terminal::batch_failure(&shown_name(cage))
            }
        };
        table += &row;
        table.push('\n');
    }
    drop(job);
    if !arguments.subdividing.surfacing.quiet {
        print(&table)?;
    }
    Ok(worst)
}

/// The files of one cage, on their way.
struct Files {
    table: OutputFile,
    preview: OutputFile,
    json: OutputFile,
    page: Page,
    pictures: Pictures,
}

impl Files {
    /// Opens them before the work, so that a folder that can't be written to is found out first.
    fn open(
        arguments: &AssessArguments,
        folder: &Path,
        outputs: &mut OutputSet,
    ) -> Result<Self, WriteError> {
        let [table, preview, json] = FILES.map(|file| outputs.create(&folder.join(file)));
        Ok(Self {
            table: table?,
            preview: preview?,
            json: json?,
            page: Page::open(!arguments.no_page, folder, outputs)?,
            pictures: Pictures::open(arguments, folder, outputs)?,
        })
    }

    fn write(
        self,
        (arguments, path): (&AssessArguments, &Path),
        (cage, mirrored): (&Cage, Option<&Mirrored>),
        assessment: &Assessment,
        (summary, preview): (&Summary, &PreviewOptions),
    ) -> Result<(), Failure> {
        let stills = self.pictures.draw(assessment, path)?;
        let on_page = PageOptions {
            level: arguments.subdividing.level,
            up: arguments.up.into(),
            stills: &stills,
        };
        let write_tables = || -> Result<(), WriteError> {
            self.table
                .write_whole(|out| write_risk_csv(out, cage, assessment))?;
            self.preview.write_whole(|out| {
                let cages = (cage, mirrored);
                let whole = arguments.subdividing.mirror_preview;
                write_smoothed(out, cages, &assessment.surface, preview, whole)
            })?;
            self.json.write_whole(|out| summary.write_json(out))
        };
        let write_page = || self.page.write(cage, assessment, summary, &on_page);
        // Side by side, since each waits for the disk at times.
        let (tables, page) = rayon::join(write_tables, write_page);
        tables?;
        Ok(page?)
    }
}

/// What all cages of a call share.
struct Job<'a> {
    arguments: &'a AssessArguments,
    requested: RequestedCreases<'a>,
    progress: Progress,
}

impl Job<'_> {
    /// Assesses one cage and writes its files, all or none.
    fn assess(&self, path: &Path, folder: &Path) -> Result<Summary, Failure> {
        let subdividing = &self.arguments.subdividing;
        let name = shown_name(path);
        self.progress.stage(format!("reading {name}"));
        let mut ready = ReadyCage::read_to_refine(path, &self.requested, subdividing)?;
        let sources = inputs(
            &self.arguments.cages,
            subdividing.surfacing.creases.as_ref(),
        );
        let mut outputs = OutputSet::new(&sources);
        let mut files = Files::open(self.arguments, folder, &mut outputs)?;
        self.progress.stage(format!("assessing {name}"));
        let options = AssessOptions {
            creases: std::mem::take(&mut ready.creases),
            boundary: subdividing.surfacing.boundary.into(),
        };
        let assessment = match &ready.mirrored {
            None => assess(&ready.cage, ready.topology, &options),
            Some(mirrored) => assess_half(&ready.cage, mirrored, ready.topology, &options),
        };
        self.progress.stage(format!("writing {name}"));
        let mut request = self.request(path, options.boundary, ready.crease_counts);
        request.files.extend(files.page.name().map(str::to_owned));
        let drawn = files.pictures.settle(&assessment, &mut outputs)?;
        request.files.extend(drawn);
        let mut summary = Summary::new(&ready.cage, &assessment, request);
        if let Some(mirror) = summary
            .mirror
            .as_mut()
            .filter(|_| subdividing.mirror_preview)
        {
            mirror.preview_of = "whole";
        }
        if self.arguments.pictures {
            self.progress.stage(format!("drawing {name}"));
        }
        let libraries =
            relocated_libraries(&ready.cage.material_libraries, folder_of(path), folder);
        let preview = self.preview(&assessment, &libraries);
        let cages = (&ready.cage, ready.mirrored.as_ref());
        files.write(
            (self.arguments, path),
            cages,
            &assessment,
            (&summary, &preview),
        )?;
        outputs.commit()?;
        Ok(summary)
    }

    fn preview<'a>(
        &self,
        assessment: &'a Assessment,
        material_libraries: &'a [Vec<u8>],
    ) -> PreviewOptions<'a> {
        PreviewOptions {
            level: self.arguments.subdividing.level,
            samples: Samples::Refined,
            colours: PreviewColours::Risk(&assessment.findings.risks.total),
            material_libraries,
        }
    }

    fn request(
        &self,
        path: &Path,
        boundary: BoundaryRule,
        crease_counts: (usize, usize),
    ) -> Request {
        let subdividing = &self.arguments.subdividing;
        Request {
            file: shown_name(path),
            level: subdividing.level,
            boundary,
            creases: match &subdividing.surfacing.creases {
                None => CreaseOrigin::None,
                Some(CreaseSource::Groups) => CreaseOrigin::SmoothingGroups,
                Some(CreaseSource::File(file)) => CreaseOrigin::File(shown_name(file)),
            },
            crease_counts,
            files: FILES.map(str::to_owned).to_vec(),
        }
    }

    fn outcome(&self, summary: &Summary) -> Outcome {
        let highest = summary.highest_risk.unwrap_or(0.0);
        match self.arguments.fail_above {
            Some(limit) if highest > limit => Outcome::AboveLimit,
            _ => Outcome::Done,
        }
    }
}
