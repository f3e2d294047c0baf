//! `summary.json`: what was read, what smoothing does to the body, where the risks are.

use std::io::{self, Write};

use serde::Serialize;

use super::edge_loops::EdgeLoops;
use super::mirroring::{Mirroring, PlanarBorder};
use crate::assess::Assessment;
use crate::io::quote::shown_path;
use crate::limit::Towards;
use crate::mesh::{Cage, NameTable, Oddities, planar_borders};
use crate::risk::{Band, Cause, Place};
use crate::subdivision::BoundaryRule;
use crate::subdivision::quadratic_masks::{cup_growth, saddle_growth};

/// Name of the format.
const SCHEMA: &str = "cagewise-summary";

/// Version of the format: raised when a key changes its meaning or goes.
const SCHEMA_VERSION: u32 = 1;

/// What was asked for, and how the files are called.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Request {
    /// The cage's file as the user gave it; what does not print in it is escaped.
    pub file: String,
    /// Level of the preview.
    pub level: usize,
    /// How borders behave.
    pub boundary: BoundaryRule,
    /// Where creases come from.
    pub creases: CreaseOrigin,
    /// Number of crease edges and of sharp corners, borders and oddities aside.
    pub crease_counts: (usize, usize),
    /// Names of the files written, this one included.
    pub files: Vec<String>,
}

/// Where creases come from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "source", content = "file")]
pub enum CreaseOrigin {
    /// There are none.
    None,
    /// From the borders of smoothing groups.
    SmoothingGroups,
    /// From a crease table of this name.
    File(String),
}

/// Everything that `summary.json` and the terminal say of an assessment. Fields are written under
/// their own names; vertices are numbered from 1; what is missing or not finite is null.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Summary {
    schema: &'static str,
    schema_version: u32,
    program: Program,
    /// What was read.
    pub input: Input,
    /// What was asked for.
    pub options: Options,
    /// What mirroring did; null if the cage was taken as it is. All counts, bands and places are
    /// then the half's, and borders those that mirroring leaves open.
    pub mirror: Option<Mirroring>,
    /// Planes in which open borders lie, so that the cage may be a half to be mirrored there; empty
    /// if it was mirrored.
    pub planar_borders: Vec<PlanarBorder>,
    /// What smoothing does to the whole.
    pub body: Body,
    /// Bent edges and what smoothing makes of them.
    pub edge_loops: EdgeLoops,
    /// Number of vertices in each band of risk.
    pub bands: Bands,
    /// The highest risk of any vertex.
    pub highest_risk: Option<f64>,
    /// Places with a risk of 0.25 and more, the first to be looked at first: see
    /// [`places`](crate::risk::places()).
    pub places: Vec<PlaceEntry>,
    /// Names of the files written.
    pub files: Vec<String>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct Program {
    name: &'static str,
    version: &'static str,
}

/// What was read.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Input {
    /// The file as the user gave it.
    pub file: String,
    /// Number of vertices, unreferenced ones included.
    pub vertices: usize,
    /// Number of edges.
    pub edges: usize,
    /// Number of faces.
    pub faces: usize,
    /// Number of faces with three sides.
    pub triangles: usize,
    /// Number of faces with four sides.
    pub quads: usize,
    /// Number of faces with more sides.
    pub ngons: usize,
    /// Number of shells.
    pub shells: usize,
    /// Open borders.
    pub borders: Vec<Border>,
    /// Interior vertices of valence other than 4.
    pub poles: Vec<Poles>,
    /// Number of objects with faces.
    pub objects: usize,
    /// Number of groups with faces.
    pub groups: usize,
    /// Number of materials with faces.
    pub materials: usize,
    /// Number of smoothing groups, `off` aside; null if the file states none.
    pub smoothing_groups: Option<usize>,
    /// Number of UV entries; null if no corner has one.
    pub uvs: Option<usize>,
    /// Number of normal entries; null if no corner has one.
    pub normals: Option<usize>,
    /// Statements passed over.
    pub skipped: Skipped,
    /// What is odd about the mesh.
    pub oddities: Oddities,
}

/// An open border.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Border {
    /// Number of edges.
    pub edges: usize,
    /// Whether it can be filled with quads alone: only an even border can (common practice, no
    /// published source).
    pub even: bool,
    /// A vertex of it.
    pub vertex: usize,
}

/// Poles of one valence.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Poles {
    /// The valence.
    pub valence: usize,
    /// How many there are.
    pub count: usize,
    /// Factor by which the curvature of the cup mode changes from level to level towards such a
    /// pole; null at valence 2.
    pub cup_growth: Option<f64>,
    /// The same of the saddle modes.
    pub saddle_growth: Option<f64>,
    /// What curvature comes to there: `dies out`, `stays` or `runs away`, by the faster mode.
    pub towards_pole: Option<&'static str>,
}

impl Poles {
    fn new(valence: usize, count: usize) -> Self {
        let growth = (valence >= 3).then(|| (cup_growth(valence), saddle_growth(valence)));
        Self {
            valence,
            count,
            cup_growth: growth.map(|g| g.0),
            saddle_growth: growth.map(|g| g.1),
            towards_pole: growth.map(|g| Towards::of(g.0.max(g.1)).in_words()),
        }
    }
}

/// Statements passed over, by kind.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Skipped {
    /// Polylines.
    pub lines: usize,
    /// Points.
    pub points: usize,
    /// Free-form curves and surfaces.
    pub free_form: usize,
    /// Display and render attributes.
    pub render_attributes: usize,
    /// Statements that OBJ does not define.
    pub unknown: usize,
}

/// What was asked for.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Options {
    /// Level of the preview.
    pub level: usize,
    /// How borders behave, in the words of the open USD mesh schema.
    pub boundary: &'static str,
    /// Where creases come from.
    pub creases: CreaseOrigin,
    /// Number of crease edges.
    pub crease_edges: usize,
    /// Number of sharp corners.
    pub sharp_corners: usize,
}

/// What smoothing does to the whole. Losses are shares of the cage's own, in percent; negative
/// where the limit surface is larger.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Body {
    /// Extent of the cage along x, y and z.
    pub cage_extent_units: [Option<f64>; 3],
    /// Extent of the limit surface.
    pub limit_extent_units: [Option<f64>; 3],
    /// Loss of extent; null where the cage has none.
    pub extent_loss_percent: [Option<f64>; 3],
    /// Volume inside the cage; null with open borders.
    pub cage_volume_cubic_units: Option<f64>,
    /// Volume inside the limit surface.
    pub limit_volume_cubic_units: Option<f64>,
    /// Loss of volume.
    pub volume_loss_percent: Option<f64>,
    /// Area of the cage.
    pub cage_area_square_units: Option<f64>,
    /// Area of the limit surface.
    pub limit_area_square_units: Option<f64>,
    /// Integral of the limit's Gaussian curvature over 2π, less the Euler characteristic: 0 but for
    /// the error of integration; null with borders, infinitely sharp creases and corners.
    pub gauss_bonnet_defect: Option<f64>,
}

/// Number of vertices in each band of risk.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
pub struct Bands {
    /// Under 0.25.
    pub clean: usize,
    /// From 0.25.
    pub watch: usize,
    /// From 0.5.
    pub fault: usize,
    /// From 0.75.
    pub severe: usize,
}

/// What some evidence adds to a risk.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct EvidenceShare {
    /// The cause that it speaks for.
    pub speaks_for: Cause,
    /// What it adds to the log-odds: 0.7 doubles the odds of a fault.
    pub adds: Option<f64>,
}

impl EvidenceShare {
    fn new((speaks_for, adds): &(Cause, f64)) -> Self {
        Self {
            speaks_for: *speaks_for,
            adds: finite(*adds),
        }
    }
}

/// A place at risk.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlaceEntry {
    /// Number of the place, from 1: `spot` in `risk.csv`.
    pub spot: usize,
    /// The vertex with the highest risk.
    pub peak_vertex: usize,
    /// Where it lies in the cage.
    pub position_units: [Option<f64>; 3],
    /// Its risk.
    pub risk: Option<f64>,
    /// The band of its risk.
    pub band: Band,
    /// Mean risk, weighted by area.
    pub mean_risk: Option<f64>,
    /// Share of the limit surface that the place takes up.
    pub area_percent: Option<f64>,
    /// Mean risk times the area as a part of the whole's, in [0, 1]: what places of one band are
    /// ordered by.
    pub visibility: Option<f64>,
    /// Centre of the place on the limit surface.
    pub centre_units: [Option<f64>; 3],
    /// How far the place reaches from its centre.
    pub radius_units: Option<f64>,
    /// The leading cause.
    pub cause: Cause,
    /// What the evidence that speaks for each cause adds to the log-odds of a fault at the peak,
    /// most first.
    pub log_odds_by_evidence: Vec<EvidenceShare>,
    /// The measured figure behind it.
    pub figure: String,
    /// What to do.
    pub remedy: String,
    /// All vertices of the place.
    pub vertices: Vec<usize>,
    /// The edges that meet its vertices, by their ends.
    pub edges: Vec<[usize; 2]>,
    /// The faces that meet its vertices, from 1.
    pub faces: Vec<usize>,
}

impl Summary {
    /// Sums up an assessment.
    pub fn new(cage: &Cage, assessment: &Assessment, request: Request) -> Self {
        let places = assessment.findings.places.iter().enumerate();
        Self {
            schema: SCHEMA,
            schema_version: SCHEMA_VERSION,
            program: Program {
                name: "cagewise",
                version: crate::VERSION,
            },
            input: Input::new(cage, assessment, request.file),
            options: Options {
                level: request.level,
                boundary: match request.boundary {
                    BoundaryRule::EdgeAndCorner => "edge-and-corner",
                    BoundaryRule::EdgeOnly => "edge-only",
                },
                creases: request.creases,
                crease_edges: request.crease_counts.0,
                sharp_corners: request.crease_counts.1,
            },
            mirror: assessment.mirror.as_ref().map(Mirroring::new),
            planar_borders: possible_mirrors(cage, assessment),
            body: Body::new(assessment),
            edge_loops: EdgeLoops::new(
                &assessment.fillets,
                assessment.surface.control().topology(),
            ),
            bands: Bands::count(&assessment.findings.risks.total),
            highest_risk: finite(assessment.highest_risk()),
            places: places
                .map(|(rank, place)| PlaceEntry::new(rank + 1, place, cage))
                .collect(),
            files: request.files,
        }
    }

    /// Writes the summary as JSON, indented, with a line end after it.
    ///
    /// # Errors
    /// As `out`'s.
    pub fn write_json(&self, out: &mut impl Write) -> io::Result<()> {
        serde_json::to_writer_pretty(&mut *out, self)?;
        out.write_all(b"\n")
    }
}

impl Input {
    fn new(cage: &Cage, assessment: &Assessment, file: String) -> Self {
        let body = &assessment.body;
        let border = |border: &crate::assess::BorderLoop| Border {
            edges: border.edges,
            even: border.edges.is_multiple_of(2),
            vertex: border.first_vertex + 1,
        };
        let poles = body.poles.iter();
        let poles = poles.map(|&(valence, count)| Poles::new(valence, count));
        Self {
            file,
            vertices: cage.mesh.vertex_count(),
            edges: match &assessment.mirror {
                Some(mirror) => mirror.half_edges,
                None => assessment.surface.control().topology().edge_count(),
            },
            faces: cage.mesh.face_count(),
            triangles: body.triangles,
            quads: body.quads,
            ngons: body.ngons,
            shells: body.shells,
            borders: body.borders.iter().map(border).collect(),
            poles: poles.collect(),
            objects: named(&cage.objects),
            groups: named(&cage.groups),
            materials: named(&cage.materials),
            smoothing_groups: smoothing_groups(cage),
            uvs: cage.uvs.as_ref().map(|layer| layer.coordinates.len()),
            normals: cage.normals.as_ref().map(|layer| layer.vectors.len()),
            skipped: Skipped {
                lines: cage.skipped.lines,
                points: cage.skipped.points,
                free_form: cage.skipped.free_form,
                render_attributes: cage.skipped.render_attributes,
                unknown: cage.skipped.unknown,
            },
            oddities: assessment.oddities,
        }
    }
}

fn possible_mirrors(cage: &Cage, assessment: &Assessment) -> Vec<PlanarBorder> {
    if assessment.mirror.is_some() {
        return Vec::new();
    }
    let topology = assessment.surface.control().topology();
    let found = planar_borders(cage, topology);
    found.iter().map(PlanarBorder::new).collect()
}

fn named(table: &NameTable) -> usize {
    table.names.len()
}

fn smoothing_groups(cage: &Cage) -> Option<usize> {
    if !cage.smoothing.stated {
        return None;
    }
    let mut groups = cage.smoothing.of_face.clone();
    groups.sort_unstable();
    groups.dedup();
    Some(groups.iter().filter(|&&group| group != 0).count())
}

impl Body {
    fn new(assessment: &Assessment) -> Self {
        let body = &assessment.body;
        let (cage, limit) = (body.cage_extent, body.limit_extent);
        let volumes = body.volumes;
        Self {
            cage_extent_units: std::array::from_fn(|k| finite(cage[k])),
            limit_extent_units: std::array::from_fn(|k| finite(limit[k])),
            extent_loss_percent: std::array::from_fn(|k| loss_percent(cage[k], limit[k])),
            cage_volume_cubic_units: volumes.and_then(|v| finite(v.0)),
            limit_volume_cubic_units: volumes.and_then(|v| finite(v.1)),
            volume_loss_percent: body.volume_loss.and_then(|loss| finite(100.0 * loss)),
            cage_area_square_units: finite(body.areas.0),
            limit_area_square_units: finite(body.areas.1),
            gauss_bonnet_defect: body.gauss_bonnet_defect.and_then(finite),
        }
    }
}

fn loss_percent(before: f64, after: f64) -> Option<f64> {
    finite(100.0 * (1.0 - after / before))
}

fn finite(x: f64) -> Option<f64> {
    x.is_finite().then_some(x)
}

impl Bands {
    fn count(risks: &[f64]) -> Self {
        let mut bands = Self::default();
        for &risk in risks {
            *match Band::of(risk) {
                Band::Clean => &mut bands.clean,
                Band::Watch => &mut bands.watch,
                Band::Fault => &mut bands.fault,
                Band::Severe => &mut bands.severe,
            } += 1;
        }
        bands
    }
}

impl PlaceEntry {
    fn new(spot: usize, place: &Place, cage: &Cage) -> Self {
        let position = cage.mesh.positions().get(place.peak);
        Self {
            spot,
            peak_vertex: place.peak + 1,
            position_units: std::array::from_fn(|k| position.and_then(|p| finite(p[k]))),
            risk: finite(place.risk),
            band: Band::of(place.risk),
            mean_risk: finite(place.mean_risk),
            area_percent: finite(100.0 * place.area_share),
            visibility: finite(place.visibility()),
            centre_units: std::array::from_fn(|k| finite(place.centre[k])),
            radius_units: finite(place.radius),
            cause: place.cause,
            log_odds_by_evidence: place.shares.iter().map(EvidenceShare::new).collect(),
            figure: place.figure.clone(),
            remedy: place.remedy.clone(),
            vertices: place.vertices.iter().map(|v| v + 1).collect(),
            edges: place.edges.iter().map(|e| e.map(|v| v + 1)).collect(),
            faces: place.faces.iter().map(|f| f + 1).collect(),
        }
    }
}

/// A file name for people: what does not print is escaped.
pub fn shown_name(path: &std::path::Path) -> String {
    shown_path(path)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use serde_json::{Value, json};

    use super::*;
    use crate::report::testing::assessed_quad;

    fn request() -> Request {
        Request {
            file: "plate.obj".into(),
            level: 2,
            boundary: BoundaryRule::EdgeOnly,
            creases: CreaseOrigin::File("plate.csv".into()),
            crease_counts: (3, 1),
            files: vec!["risk.csv".into()],
        }
    }

    fn written(assessment: &Assessment, cage: &Cage) -> String {
        let mut text = Vec::new();
        let summary = Summary::new(cage, assessment, request());
        summary.write_json(&mut text).unwrap();
        String::from_utf8(text).unwrap()
    }

    #[test]
    fn the_summary_says_what_was_read_asked_and_found() {
        let (cage, assessment) = assessed_quad();
        let value: Value = serde_json::from_str(&written(&assessment, &cage)).unwrap();
        assert_eq!(value["schema"], "cagewise-summary");
        assert_eq!(value["schema_version"], 1);
        assert_eq!(value["program"]["version"], crate::VERSION);
        assert_eq!(value["input"]["edges"], 4);
        assert_eq!(value["input"]["objects"], 1);
        assert_eq!(value["input"]["smoothing_groups"], 1);
        assert_eq!(value["input"]["uvs"], Value::Null);
        let border = json!([{"edges": 4, "even": true, "vertex": 1}]);
        assert_eq!(value["input"]["borders"], border);
        let options = json!({
            "level": 2, "boundary": "edge-only",
            "creases": {"source": "file", "file": "plate.csv"},
            "crease_edges": 3, "sharp_corners": 1,
        });
        assert_eq!(value["options"], options);
        let bands = json!({"clean": 2, "watch": 1, "fault": 0, "severe": 1});
        assert_eq!(value["bands"], bands);
        let place = json!({
            "spot": 1, "peak_vertex": 3, "position_units": [1.0, 1.0, 0.0], "risk": 0.8,
            "band": "severe", "mean_risk": 0.55, "area_percent": 50.0, "visibility": 0.275,
            "centre_units": [0.5, 1.0, 0.0], "radius_units": 0.75, "cause": "bump", "log_odds_by_evidence": [{"speaks_for": "bump", "adds": 2.5}], "figure": "strays 9.1 deg; swing 2.5 deg",
            "remedy": "even out the strips", "vertices": [3, 4],
            "edges": [[1, 4], [2, 3], [3, 4]], "faces": [1],
        });
        assert_eq!(value["places"], json!([place]));
    }

    #[test]
    fn what_is_missing_or_not_finite_is_null() {
        let (cage, mut assessment) = assessed_quad();
        let value: Value = serde_json::from_str(&written(&assessment, &cage)).unwrap();
        let body = &value["body"];
        assert_eq!(body["cage_volume_cubic_units"], Value::Null);
        assert_eq!(body["extent_loss_percent"][2], Value::Null);
        let loss = body["extent_loss_percent"][0].as_f64().unwrap();
        assert!((loss - 10.0).abs() < 1e-12);
        assessment.body.volumes = Some((f64::INFINITY, f64::NAN));
        let value: Value = serde_json::from_str(&written(&assessment, &cage)).unwrap();
        assert_eq!(value["body"]["limit_volume_cubic_units"], Value::Null);
        assessment.body.volume_loss = Some(0.25);
        let value: Value = serde_json::from_str(&written(&assessment, &cage)).unwrap();
        assert_eq!(value["body"]["volume_loss_percent"], 25.0);
    }

    #[test]
    fn the_same_assessment_gives_the_same_bytes() {
        let (cage, assessment) = assessed_quad();
        let text = written(&assessment, &cage);
        assert_eq!(text, written(&assessment, &cage));
        assert!(
            text.starts_with("{\n  \"schema\": \"cagewise-summary\",\n  \"schema_version\": 1,")
        );
        assert!(text.ends_with("}\n"));
    }
}
