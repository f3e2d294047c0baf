//! The flags, and nothing but the flags.

use std::ffi::OsStr;
use std::path::PathBuf;

use cagewise::assess::DEFAULT_FACE_BUDGET;
use cagewise::mesh::{Axis, MirrorPlane};
use cagewise::picture::UpAxis;
use cagewise::subdivision::BoundaryRule;
use clap::builder::TypedValueParser;
use clap::{Args, Parser, Subcommand, ValueEnum};

/// Predicts, vertex by vertex, where Catmull-Clark smoothing of a low-poly cage will misbehave,
/// why, and what to change.
#[derive(Debug, Parser)]
#[command(name = "cagewise", version, max_term_width = 100)]
pub struct Arguments {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// What the program does.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Assess cages: the risk of every vertex, a smoothed preview and a summary
    ///
    /// Writes risk.csv (one row per vertex), preview.obj (the smoothed cage, risk as vertex
    /// colours), summary.json and report.html (a page to look at the smoothed surface and its
    /// risks, opened by a double click; it asks no network for anything), and prints the ten worst
    /// places with what to do. With --pictures it draws the smoothed form as well.
    ///
    /// Exit codes: 0 done; 1 done, and a risk is above --fail-above; 2 the input or the request is
    /// at fault, and nothing of that cage has been written.
    Assess(AssessArguments),
    /// Write the smoothed cage alone, as OBJ
    ///
    /// UVs, groups, materials, smoothing groups and vertex colours are carried through. Cage
    /// vertices keep their numbers.
    Smooth(SmoothArguments),
    /// Evaluate the limit surface at given places: position, normal, curvature, derivatives
    ///
    /// Everything is exact, not a fine mesh's estimate. Curvatures are positive where the surface is
    /// convex seen from outside. What is not defined, such as curvature at a pole, is an empty field.
    Sample(SampleArguments),
    /// Say what a measure or a risk means: formula, unit, range, source, what to do
    Explain {
        /// Name of a measure or a cause, as in risk.csv; all are listed without it
        name: Option<String>,
    },
    /// Print the completions for a shell, to be saved where that shell looks for them
    Completions {
        /// The shell
        shell: clap_complete::Shell,
    },
    /// Print the manual as a man page (roff): cagewise manual | man -l -
    Manual,
}

/// Flags of `assess`.
#[derive(Debug, Args)]
pub struct AssessArguments {
    /// Cages, each an OBJ file
    #[arg(required = true, value_name = "CAGE.obj")]
    pub cages: Vec<PathBuf>,
    /// Folder for the results [default: CAGE_assessment in the current folder]; with several
    /// cages, the folder in which each gets its own CAGE_assessment
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Exit with code 1 if any vertex has a risk above this one, from 0 to 1 (at 0.5 a
    /// practitioner would see a fault)
    #[arg(long, value_name = "RISK", value_parser = share)]
    pub fail_above: Option<f64>,
    /// Leave out report.html, the page to look at
    #[arg(long)]
    pub no_page: bool,
    /// Draw pictures (PNG) into the folder 'pictures' of the results: front, side, top,
    /// three-quarter, and a close-up of each of the ten worst places; each shaded, striped and
    /// coloured by risk
    #[arg(long)]
    pub pictures: bool,
    /// The axis that points up in the page and the pictures; the front looks along -z with y up, along y with z
    /// up
    #[arg(long, value_enum, value_name = "AXIS", default_value_t = Up::Y)]
    pub up: Up,
    /// How to subdivide.
    #[command(flatten)]
    pub subdividing: Subdividing,
}

/// Flags of `smooth`.
#[derive(Debug, Args)]
pub struct SmoothArguments {
    /// The cage, an OBJ file
    #[arg(value_name = "CAGE.obj")]
    pub cage: PathBuf,
    /// The file to write
    #[arg(long, value_name = "FILE.obj")]
    pub out: PathBuf,
    /// Move the vertices to the limit surface: where they would come to after endless levels
    #[arg(long)]
    pub onto_limit: bool,
    /// How to subdivide.
    #[command(flatten)]
    pub subdividing: Subdividing,
}

/// Flags of `sample`.
#[derive(Debug, Args)]
pub struct SampleArguments {
    /// The cage, an OBJ file
    #[arg(value_name = "CAGE.obj")]
    pub cage: PathBuf,
    /// The places, a CSV file with the columns face,corner,u,v: face from 1 in the file's order, u
    /// and v from 0 to 1. In a quad corner is empty, (0,0) is its first corner, u runs to its
    /// second, v to its last. In any other face corner (from 1) is the one whose quad is meant:
    /// (0,0) that corner, (1,0) the middle of the edge to the next corner, (1,1) the face's centre,
    /// (0,1) the middle of the edge to the previous corner. Without it: four places per corner of
    /// the cage, those that the measures read
    #[arg(long, value_name = "PLACES.csv")]
    pub at: Option<PathBuf>,
    /// The file to write: a row per place, in the given order
    #[arg(long, value_name = "SAMPLES.csv")]
    pub out: PathBuf,
    /// What makes the surface.
    #[command(flatten)]
    pub surfacing: Surfacing,
}

/// Flags that say how a cage is subdivided.
#[derive(Debug, Args)]
pub struct Subdividing {
    /// Times the cage is subdivided in the file written; 0 is the cage itself
    #[arg(
        long,
        value_name = "N",
        default_value_t = 2,
        allow_negative_numbers = true,
        value_parser = parse_level
    )]
    pub level: usize,
    /// Write the smoothed whole instead of the half
    #[arg(long, requires = "mirror")]
    pub mirror_preview: bool,
    /// Most faces that the smoothed cage (the whole one with --mirror) may have; 16 million take
    /// about 1.5 GB of memory
    #[arg(
        long,
        value_name = "N",
        default_value_t = DEFAULT_FACE_BUDGET,
        allow_negative_numbers = true,
        value_parser = parse_count
    )]
    pub max_faces: u64,
    /// What makes the surface.
    #[command(flatten)]
    pub surfacing: Surfacing,
}

/// Flags that say what surface a cage has.
#[derive(Debug, Args)]
pub struct Surfacing {
    /// Creases: a CSV file with the columns v0,v1,sharpness (vertices from 1 as in the OBJ; v1
    /// empty for a sharp corner; sharpness in levels, 10 and more is infinite), or the word
    /// 'groups' to make the borders of smoothing groups infinitely sharp (./groups for a file of
    /// that name)
    #[arg(long, value_name = "FILE|groups", value_parser = clap::builder::PathBufValueParser::new().map(CreaseSource::from))]
    pub creases: Option<CreaseSource>,
    /// How open borders behave
    #[arg(long, value_enum, value_name = "RULE", default_value_t = Boundary::EdgeAndCorner)]
    pub boundary: Boundary,
    /// Take each cage for a half and mirror it in the plane across an axis, through the origin or
    /// through the coordinate OFFSET (z@-0.25): its border there is welded to its mirror image.
    /// Results are those of the half as part of the whole
    #[arg(long, value_name = "x|y|z[@OFFSET]", value_parser = parse_mirror)]
    pub mirror: Option<MirrorPlane>,
    /// Print nothing but errors
    #[arg(long, short)]
    pub quiet: bool,
}

/// Where creases come from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum CreaseSource {
    /// From a crease table.
    File(PathBuf),
    /// From the borders of smoothing groups.
    Groups,
}

impl From<PathBuf> for CreaseSource {
    fn from(path: PathBuf) -> Self {
        if path.as_os_str() == OsStr::new("groups") {
            Self::Groups
        } else {
            Self::File(path)
        }
    }
}

/// How borders behave.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Boundary {
    /// Borders are sharp curves, and a border vertex with a single face is a sharp corner
    EdgeAndCorner,
    /// Borders are sharp curves, smooth at every vertex
    EdgeOnly,
}

impl From<Boundary> for BoundaryRule {
    fn from(boundary: Boundary) -> Self {
        match boundary {
            Boundary::EdgeAndCorner => Self::EdgeAndCorner,
            Boundary::EdgeOnly => Self::EdgeOnly,
        }
    }
}

/// The axis that points up.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Up {
    /// Y up, as most OBJ files have it
    Y,
    /// Z up
    Z,
}

impl From<Up> for UpAxis {
    fn from(up: Up) -> Self {
        match up {
            Up::Y => Self::Y,
            Up::Z => Self::Z,
        }
    }
}

/// A number from 0 to 1.
fn share(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(share) if (0.0..=1.0).contains(&share) => Ok(share),
        _ => Err("give a number from 0 to 1".to_owned()),
    }
}

/// Highest level that can be asked for: beyond it no cage fits 32-bit indices.
const LEVEL_MAX: usize = 30;

fn parse_level(text: &str) -> Result<usize, String> {
    let level = text.parse().ok().filter(|level| *level <= LEVEL_MAX);
    level.ok_or_else(|| format!("give a whole number from 0 to {LEVEL_MAX}"))
}

fn parse_mirror(text: &str) -> Result<MirrorPlane, String> {
    let (name, offset) = text.split_once('@').unwrap_or((text, "0"));
    let axis = Axis::ALL.into_iter().find(|axis| axis.name() == name);
    let offset = offset.parse().ok().filter(|x: &f64| x.is_finite());
    match (axis, offset) {
        (Some(axis), Some(offset)) => Ok(MirrorPlane { axis, offset }),
        (None, _) => Err("the axis is x, y or z, as in x or z@-0.25".to_owned()),
        (_, None) => Err("after @ stands a number in file units, as in z@-0.25".to_owned()),
    }
}

fn parse_count(text: &str) -> Result<u64, String> {
    text.parse()
        .map_err(|_| "give a whole number from 0".to_owned())
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    use super::*;

    #[test]
    fn the_definitions_are_sound() {
        Arguments::command().debug_assert();
    }

    #[test]
    fn a_share_is_a_number_from_0_to_1() {
        assert_eq!(share("0.5"), Ok(0.5));
        for text in ["NaN", "-0.1", "1.01", "inf", "", "half"] {
            assert!(share(text).is_err(), "{text}");
        }
    }

    #[test]
    fn a_mirror_plane_is_an_axis_and_an_offset() {
        let plane = |axis, offset| Ok(MirrorPlane { axis, offset });
        assert_eq!(parse_mirror("x"), plane(Axis::X, 0.0));
        assert_eq!(parse_mirror("z@-0.25"), plane(Axis::Z, -0.25));
        assert_eq!(parse_mirror("y@1e-3"), plane(Axis::Y, 1e-3));
        for text in [
            "", "w", "X", "x@", "x@nan", "x@inf", "x@1e999", "x=1", "@1", "x@1@2",
        ] {
            assert!(parse_mirror(text).is_err(), "{text}");
        }
    }

    #[test]
    fn the_word_groups_is_no_file() {
        assert_eq!(
            CreaseSource::from(PathBuf::from("groups")),
            CreaseSource::Groups
        );
        let file = PathBuf::from("./groups");
        assert_eq!(CreaseSource::from(file.clone()), CreaseSource::File(file));
    }
}
