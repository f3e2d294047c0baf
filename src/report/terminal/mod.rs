//! What the screen says of an assessment: at most 24 lines of 80 columns and ten places.

mod facts;
mod layout;

use super::summary::{PlaceEntry, Summary};
use crate::risk::{Band, shown_risk};

use facts::facts;
pub(super) use layout::wrapped;
use layout::{FACT_LINES, WIDTH, counted, cut, end_of, fact, printable};

/// Lines besides the rows of the places.
const LINES_MAX: usize = 24;

/// Places shown.
const PLACES_SHOWN: usize = 10;

/// What a row tells of a place.
const COLUMNS: &str = ": risk, share of the surface, worst vertex, cause";

/// Columns of a file's name on a line of a table.
const NAME_WIDTH: usize = 30;

/// How text is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Style {
    /// Whether bands are coloured, by the terminal's own 16 colours (ECMA-48).
    pub colour: bool,
}

impl Style {
    fn band(self, band: Band, text: &str) -> String {
        let code = match band {
            Band::Clean => "2",
            Band::Watch => "33",
            Band::Fault => "35",
            Band::Severe => "1;35",
        };
        self.with(code, text)
    }

    fn title(self, text: &str) -> String {
        self.with("1", text)
    }

    fn with(self, code: &str, text: &str) -> String {
        if self.colour {
            format!("\x1b[{code}m{text}\x1b[0m")
        } else {
            text.to_owned()
        }
    }
}

/// The screen for one cage, whose results are in `folder`. The file's and the folder's name must
/// be fit to be shown: see [`shown_name`](super::shown_name).
pub fn screen(summary: &Summary, folder: &str, style: Style) -> String {
    let mut lines = vec![style.title(&cut(&summary.input.file, WIDTH))];
    lines.extend(facts(summary));
    let shown = &summary.places[..summary.places.len().min(PLACES_SHOWN)];
    let rows: Vec<String> = (1..)
        .zip(shown)
        .flat_map(|(rank, place)| row(rank, place, style))
        .collect();
    let ending = fact(
        "written",
        &format!("{folder}: {}", file_list(&summary.files).join(", ")),
    );
    if shown.is_empty() {
        lines.push(String::new());
        lines.push("No place is at risk.".to_owned());
    } else {
        lines.push(String::new());
        lines.push(style.title(&match summary.places.len() {
            count if count > shown.len() => {
                format!("The {} worst of {count} places{COLUMNS}", shown.len())
            }
            _ => format!("Places at risk{COLUMNS}"),
        }));
        let titles = 3;
        let continued = rows.len() - shown.len();
        let taken = lines.len() + titles + continued + ending.len();
        lines.extend(rows);
        lines.push(style.title("What to do"));
        lines.extend(remedies(shown, LINES_MAX.saturating_sub(taken)));
        lines.push(String::new());
    }
    lines.extend(ending);
    lines.push(String::new());
    lines.join("\n")
}

/// Names of files; of those in a folder of their own only how many there are.
fn file_list(files: &[String]) -> Vec<String> {
    let mut list: Vec<String> = Vec::new();
    let mut folders: Vec<(&str, usize)> = Vec::new();
    for file in files {
        match file.split_once('/') {
            None => list.push(file.clone()),
            Some((folder, _)) => match folders.iter_mut().find(|f| f.0 == folder) {
                Some(known) => known.1 += 1,
                None => folders.push((folder, 1)),
            },
        }
    }
    let told = |(folder, count)| format!("{folder}/ ({})", counted(count, "file", "files"));
    list.extend(folders.into_iter().map(told));
    list
}

/// A share of the surface in percent, in six columns.
fn surface_share(percent: f64) -> String {
    /// The least share that two decimals show, in percent.
    const SHOWN_MIN: f64 = 0.01;
    match percent {
        p if p >= 10.0 => format!("{p:.1} %"),
        p if p >= SHOWN_MIN => format!("{p:.2} %"),
        _ => "<.01 %".to_owned(),
    }
}

/// One place: its rank, risk, band, size, worst vertex and cause, and the figure behind it.
fn row(rank: usize, place: &PlaceEntry, style: Style) -> Vec<String> {
    let band = format!("{:6}", place.band.name());
    let start = format!("{rank:>3}  {} ", shown_risk(place.risk.unwrap_or(0.0)));
    let end = format!(
        " {:>6}  {:<7} {:9} ",
        surface_share(place.area_percent.unwrap_or(0.0)),
        place.peak_vertex,
        place.cause.name()
    );
    let indent = start.chars().count() + band.chars().count() + end.chars().count();
    let figure = wrapped(
        &printable(&place.figure),
        WIDTH.saturating_sub(indent),
        FACT_LINES,
    );
    let mut lines = Vec::new();
    for (i, piece) in figure.iter().enumerate() {
        lines.push(match i {
            0 => format!("{start}{}{end}{piece}", style.band(place.band, &band)),
            _ => format!("{:indent$}{piece}", ""),
        });
    }
    lines
}

/// What to do about the places: each remedy once, after the ranks of the places it is for.
fn remedies(places: &[PlaceEntry], lines_max: usize) -> Vec<String> {
    let mut distinct: Vec<(&str, Vec<String>)> = Vec::new();
    for (rank, place) in (1..).zip(places) {
        let rank = usize::to_string(&rank);
        match distinct.iter_mut().find(|(text, _)| *text == place.remedy) {
            Some((_, ranks)) => ranks.push(rank),
            None => distinct.push((&place.remedy, vec![rank])),
        }
    }
    let mut lines = Vec::new();
    // Remedies are told whole or not at all: half a sentence may say the contrary.
    let mut last = 0;
    for (remedy, ranks) in distinct {
        let text = format!("{}: {}", ranks.join(", "), printable(remedy));
        let pieces = wrapped(&text, WIDTH - 3, FACT_LINES + 1);
        if lines.len() + pieces.len() > lines_max {
            if lines.len() >= lines_max {
                lines.truncate(last);
            }
            lines.push("   For the others see summary.json.".to_owned());
            break;
        }
        last = lines.len();
        lines.extend(pieces.iter().map(|piece| format!("   {piece}")));
    }
    lines
}

/// One row of the table that closes a batch: the cage, its highest risk, its bands, its folder.
pub fn batch_row(summary: &Summary, folder: &str, style: Style) -> String {
    let highest = summary.highest_risk.unwrap_or(0.0);
    let band = Band::of(highest);
    let shown = shown_risk(summary.highest_risk.unwrap_or(0.0));
    let bands = &summary.bands;
    format!(
        "{:NAME_WIDTH$} {}  {:>5} {:>5} {:>6}  {}",
        end_of(&summary.input.file, NAME_WIDTH),
        style.band(band, &format!("{shown} {:6}", band.name())),
        bands.watch,
        bands.fault,
        bands.severe,
        folder,
    )
}

/// The head of the table that closes a batch.
pub fn batch_head(style: Style) -> String {
    style.title(&format!(
        "{:NAME_WIDTH$} highest risk {:>5} {:>5} {:>6}  {}",
        "cage", "watch", "fault", "severe", "results"
    ))
}

/// A cage at fault in the table that closes a batch.
pub fn batch_failure(file: &str) -> String {
    format!(
        "{:NAME_WIDTH$} at fault, see above",
        end_of(file, NAME_WIDTH)
    )
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::facts::figures;
    use super::*;
    use crate::mesh::{PlanarBorders, Vec3};
    use crate::report::mirroring::PlanarBorder;
    use crate::report::testing::assessed_quad;
    use crate::report::{CreaseOrigin, Request, StationEntry};
    use crate::subdivision::BoundaryRule;

    fn summary() -> Summary {
        let (cage, assessment) = assessed_quad();
        let request = Request {
            file: "quay/plate.obj".into(),
            level: 2,
            boundary: BoundaryRule::EdgeAndCorner,
            creases: CreaseOrigin::None,
            crease_counts: (0, 0),
            files: vec!["risk.csv".into(), "summary.json".into()],
        };
        Summary::new(&cage, &assessment, request)
    }

    #[test]
    fn the_screen_tells_facts_smoothing_places_and_remedies() {
        let text = screen(&summary(), "plate_assessment", Style::default());
        let wanted = "\
quay/plate.obj
  cage       4 vertices, 4 edges, 1 face (1 quad)
  parts      1 shell, 1 object, 1 smoothing group
  borders    4 edges at vertex 1 (even)
  poles      8 of valence 3, 1 of valence 5
  smoothing  no volume (open), area -20.0 %, extent x -10.0 %, extent y 0.0 %
  risk       highest 0.80; vertices: 2 clean, 1 watch, 0 fault, 1 severe

Places at risk: risk, share of the surface, worst vertex, cause
  1  0.80 severe 50.0 %  3       bump      strays 9.1 deg; swing 2.5 deg
What to do
   1: even out the strips

  written    plate_assessment: risk.csv, summary.json
";
        assert_eq!(text, wanted);
    }

    #[test]
    fn the_screen_keeps_its_size_whatever_it_has_to_tell() {
        let mut summary = summary();
        let long = "word ".repeat(60);
        summary.input.file = "deep/".repeat(100);
        summary.input.borders = vec![summary.input.borders[0].clone(); 50];
        summary.input.oddities.non_manifold_edges = 123_456_789;
        summary.input.oddities.non_manifold_vertices = 123_456_789;
        summary.input.oddities.unwelded_vertices = 123_456_789;
        let slanting = PlanarBorders {
            edges: 123_456,
            of_edges: 234_567,
            vertex: 1,
            normal: Vec3::new(-0.6, 0.8, 0.0),
            offset: 1.0,
            plane: None,
        };
        summary.planar_borders = vec![PlanarBorder::new(&slanting); 9];
        let place = summary.places[0].clone();
        summary.places = (0..40)
            .map(|k| PlaceEntry {
                figure: if k == 3 {
                    long.clone()
                } else {
                    place.figure.clone()
                },
                remedy: format!("{k} {long}"),
                ..place.clone()
            })
            .collect();
        let text = screen(&summary, &"far/".repeat(100), Style::default());
        assert!(text.lines().count() <= LINES_MAX + PLACES_SHOWN, "{text}");
        assert!(
            text.lines().all(|line| line.chars().count() <= WIDTH),
            "{text}"
        );
        assert!(text.contains("For the others see summary.json."), "{text}");
    }

    #[test]
    fn bent_edges_take_two_lines() {
        let mut summary = summary();
        let station = |first: usize, radius: f64| StationEntry {
            vertices: [first, first + 1],
            bend_deg: 90.0,
            radius_units: Some(radius),
            width_units: Some(0.012),
            stand_off_units: Some(1.0),
        };
        summary.edge_loops.count = 12;
        summary.edge_loops.tightest = Some(station(40, 0.0012345));
        summary.edge_loops.largest_change = Some([station(7, 0.5), station(8, 1234.5)]);
        let text = screen(&summary, "out", Style::default());
        let wanted =
            "  edges      12 bent loops; tightest 40-41: radius 0.00123, width 0.0120 units;
             uneven: radius 0.500 at 7-8, 1234 at 8-9\n";
        assert!(text.contains(wanted), "{text}");
        // As the radius changes everywhere, a little says nothing.
        summary.edge_loops.largest_change = Some([station(7, 0.5), station(8, 0.99)]);
        let text = screen(&summary, "out", Style::default());
        assert!(!text.contains("uneven"), "{text}");
        assert_eq!(figures(1.5e-7), "1.50e-7");
    }

    #[test]
    fn control_characters_never_reach_the_screen() {
        let mut summary = summary();
        summary.places[0].figure = "a\u{1b}[31m".into();
        let plain = screen(&summary, "out", Style::default());
        assert!(!plain.contains('\u{1b}'));
        let coloured = screen(&summary, "out", Style { colour: true });
        assert!(coloured.contains("\u{1b}[1;35msevere\u{1b}[0m"));
    }

    #[test]
    fn a_cage_without_risk_says_so() {
        let mut summary = summary();
        summary.places.clear();
        let text = screen(&summary, "out", Style::default());
        assert!(text.contains("No place is at risk.\n"));
    }
}
