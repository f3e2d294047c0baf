//! `cagewise assess`: the main job, for one cage or a batch.

use std::path::{Path, PathBuf};

use cagewise::assess::{AssessOptions, Assessment, assess, assess_half};
use cagewise::io::{OutputSet, relocated_libraries};
use cagewise::report::terminal::{self, Style};
use cagewise::report::{
    CreaseOrigin, PageOptions, PreviewColours, PreviewOptions, Request, Summary, shown_name,
    write_page, write_risk_csv,
};
use cagewise::subdivision::{BoundaryRule, Samples};

use super::Outcome;
use super::args::{AssessArguments, CreaseSource};
use super::cage::{ReadyCage, RequestedCreases, folder_of, inputs, write_smoothed};
use super::colour;
use super::failure::Failure;
use super::folders::result_folders;
use super::output::print;
use super::pictures::Pictures;
use super::progress::Progress;

/// Stages that one cage's work is done in, pictures aside.
const STAGES: usize = 3;

/// Names of the files written for a cage.
const FILES: [&str; 3] = ["risk.csv", "preview.obj", "summary.json"];

/// Name of the page, written beside them unless it is left out.
const PAGE: &str = "report.html";

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
        // Opened first, so that a folder that can't be written to is found out before the work.
        let [table, preview, json] = FILES.map(|file| outputs.create(&folder.join(file)));
        let (table, preview, json) = (table?, preview?, json?);
        let page = match self.arguments.no_page {
            true => None,
            false => Some(outputs.create(&folder.join(PAGE))?),
        };
        let mut pictures = Pictures::open(self.arguments, folder, &mut outputs)?;
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
        request
            .files
            .extend(pictures.settle(&assessment, &mut outputs)?);
        let mut summary = Summary::new(&ready.cage, &assessment, request);
        if let Some(mirror) = summary
            .mirror
            .as_mut()
            .filter(|_| subdividing.mirror_preview)
        {
            mirror.preview_of = "whole";
        }
        table.write_whole(|out| write_risk_csv(out, &ready.cage, &assessment))?;
        let libraries =
            relocated_libraries(&ready.cage.material_libraries, folder_of(path), folder);
        let shown = self.preview(&assessment, &libraries);
        preview.write_whole(|out| {
            write_smoothed(
                out,
                (&ready.cage, ready.mirrored.as_ref()),
                &assessment.surface,
                &shown,
                subdividing.mirror_preview,
            )
        })?;
        json.write_whole(|out| summary.write_json(out))?;
        if self.arguments.pictures {
            self.progress.stage(format!("drawing {name}"));
        }
        let stills = pictures.draw(&assessment, path)?;
        if let Some(page) = page {
            let shown = PageOptions {
                level: subdividing.level,
                up: self.arguments.up.into(),
                stills: &stills,
            };
            page.write_whole(|out| write_page(out, &ready.cage, &assessment, &summary, &shown))?;
        }
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
            files: self.files(),
        }
    }

    /// Names of the files that are written for a cage.
    fn files(&self) -> Vec<String> {
        let page = (!self.arguments.no_page).then_some(PAGE);
        FILES.into_iter().chain(page).map(str::to_owned).collect()
    }

    fn outcome(&self, summary: &Summary) -> Outcome {
        let highest = summary.highest_risk.unwrap_or(0.0);
        match self.arguments.fail_above {
            Some(limit) if highest > limit => Outcome::AboveLimit,
            _ => Outcome::Done,
        }
    }
}
