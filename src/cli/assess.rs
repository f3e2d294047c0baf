//! `cagewise assess`: the main job, for one cage or a batch.

use std::path::{Path, PathBuf};

use cagewise::assess::{AssessOptions, Assessment, assess};
use cagewise::io::{OutputSet, relocated_libraries};
use cagewise::report::terminal::{self, Style};
use cagewise::report::{
    CreaseOrigin, PageOptions, PreviewColours, PreviewOptions, Request, Summary, shown_name,
    write_page, write_preview, write_risk_csv,
};
use cagewise::subdivision::Samples;

use super::Outcome;
use super::args::{AssessArguments, CreaseSource};
use super::cage::{ReadyCage, RequestedCreases, folder_of, inputs};
use super::colour;
use super::failure::Failure;
use super::folders::result_folders;
use super::output::print;
use super::progress::Progress;

/// Stages that one cage's work is done in.
const STAGES: usize = 3;

/// Names of the files written for a cage.
const FILES: [&str; 3] = ["risk.csv", "preview.obj", "summary.json"];

/// Name of the page, written beside them unless it is left out.
const PAGE: &str = "report.html";

/// Assesses the cages one after the other; one at fault does not stop the others.
pub fn run(arguments: &AssessArguments) -> Result<Outcome, Failure> {
    let requested = RequestedCreases::read(arguments.subdividing.creases.as_ref())?;
    let folders = result_folders(&arguments.cages, arguments.out.as_deref());
    let job = Job {
        arguments,
        requested,
        progress: Progress::new(STAGES * arguments.cages.len(), arguments.subdividing.quiet),
    };
    let style = Style {
        colour: colour::wanted(),
    };
    if let ([cage], [folder]) = (arguments.cages.as_slice(), folders.as_slice()) {
        let summary = job.assess(cage, folder)?;
        let outcome = job.outcome(&summary);
        drop(job);
        if !arguments.subdividing.quiet {
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
    if !arguments.subdividing.quiet {
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
        let ready = ReadyCage::read(path, &self.requested, subdividing)?;
        let sources = inputs(&self.arguments.cages, subdividing.creases.as_ref());
        let mut outputs = OutputSet::new(&sources);
        // Opened first, so that a folder that can't be written to is found out before the work.
        let [table, preview, json] = FILES.map(|file| outputs.create(&folder.join(file)));
        let (table, preview, json) = (table?, preview?, json?);
        let page = match self.arguments.no_page {
            true => None,
            false => Some(outputs.create(&folder.join(PAGE))?),
        };
        self.progress.stage(format!("assessing {name}"));
        let options = AssessOptions {
            creases: ready.creases,
            boundary: subdividing.boundary.into(),
        };
        let assessment = assess(&ready.cage, ready.topology, &options);
        self.progress.stage(format!("writing {name}"));
        let summary = Summary::new(&ready.cage, &assessment, self.request(path, &options));
        table.write_whole(|out| write_risk_csv(out, &ready.cage, &assessment))?;
        let libraries =
            relocated_libraries(&ready.cage.material_libraries, folder_of(path), folder);
        let shown = self.preview(&assessment, &libraries);
        preview.write_whole(|out| write_preview(out, &ready.cage, &assessment.surface, &shown))?;
        json.write_whole(|out| summary.write_json(out))?;
        if let Some(page) = page {
            let shown = PageOptions {
                level: subdividing.level,
                stills: &[],
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

    fn request(&self, path: &Path, options: &AssessOptions) -> Request {
        let subdividing = &self.arguments.subdividing;
        Request {
            file: shown_name(path),
            level: subdividing.level,
            boundary: options.boundary,
            creases: match &subdividing.creases {
                None => CreaseOrigin::None,
                Some(CreaseSource::Groups) => CreaseOrigin::SmoothingGroups,
                Some(CreaseSource::File(file)) => CreaseOrigin::File(shown_name(file)),
            },
            crease_counts: (options.creases.edges.len(), options.creases.vertices.len()),
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
