//! What the screen says of an assessment: at most 24 lines of 80 columns and ten places.

use super::edge_loops::{EdgeLoops, StationEntry};
use super::mirroring::{Mirroring, PlanarBorder};
use super::summary::{Border, CreaseOrigin, PlaceEntry, Summary};
use crate::risk::{Band, shown_risk};

/// Columns of the screen.
const WIDTH: usize = 80;

/// Lines besides the rows of the places.
const LINES_MAX: usize = 24;

/// Places shown.
const PLACES_SHOWN: usize = 10;

/// Column at which the facts start, after their labels.
const INDENT: usize = 13;

/// Lines that one fact may take; a longer one is cut.
const FACT_LINES: usize = 2;

/// Label of the fact that is never cut: what is odd about the cage.
const WARNINGS: &str = "warnings";

/// Lines that all warnings together take at most.
const WARNING_LINES: usize = 5;

/// Borders told apart; of others only the number is given.
const BORDERS_SHOWN: usize = 4;

/// Columns of a file's name on a line of a table.
const NAME_WIDTH: usize = 30;

/// Ratio of the radii at two neighbouring edges of a bent loop from which on its support is called
/// uneven: that of support loops twice as far away.
const UNEVEN_THRESHOLD: f64 = 2.0;

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
            count if count > shown.len() => format!("The {} worst of {count} places", shown.len()),
            _ => "Places at risk, worst first".to_owned(),
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

fn facts(summary: &Summary) -> Vec<String> {
    let input = &summary.input;
    let faces = listed(&[
        (input.quads, "quad", "quads"),
        (input.triangles, "triangle", "triangles"),
        (input.ngons, "n-gon", "n-gons"),
    ]);
    let half = match summary.mirror {
        Some(_) => "; the half's counts",
        None => "",
    };
    let cage = format!(
        "{}, {}, {} ({faces}){half}",
        counted(input.vertices, "vertex", "vertices"),
        counted(input.edges, "edge", "edges"),
        counted(input.faces, "face", "faces"),
    );
    let poles = input.poles.iter();
    let poles = poles.map(|p| format!("{} of valence {}", p.count, p.valence));
    let poles: Vec<String> = poles.collect();
    [
        ("cage", cage),
        ("parts", parts(summary)),
        ("borders", borders(&input.borders)),
        ("poles", poles.join(", ")),
        ("mirroring", mirroring(summary)),
        (WARNINGS, warnings(summary)),
        ("smoothing", smoothing(summary)),
        ("edges", edges(&summary.edge_loops)),
        ("risk", risk(summary)),
    ]
    .iter()
    .filter(|(_, text)| !text.is_empty())
    .flat_map(|(label, text)| fact(label, text))
    .collect()
}

/// What mirroring did, or where it may be meant.
fn mirroring(summary: &Summary) -> String {
    let told = summary.mirror.as_ref().map(Mirroring::told);
    told.unwrap_or_else(|| PlanarBorder::told(&summary.planar_borders))
}

fn parts(summary: &Summary) -> String {
    let input = &summary.input;
    let groups = input.smoothing_groups.unwrap_or(0);
    let mut parts = listed(&[
        (input.shells, "shell", "shells"),
        (input.objects, "object", "objects"),
        (input.groups, "group", "groups"),
        (input.materials, "material", "materials"),
        (groups, "smoothing group", "smoothing groups"),
        (summary.options.crease_edges, "crease edge", "crease edges"),
        (
            summary.options.sharp_corners,
            "sharp corner",
            "sharp corners",
        ),
    ]);
    if input.uvs.is_some() {
        parts.push_str(", UVs");
    }
    parts
}

fn borders(borders: &[Border]) -> String {
    if borders.is_empty() {
        return "none: closed".to_owned();
    }
    let odd = borders.iter().filter(|border| !border.even).count();
    let tell = |border: &Border| {
        let parity = if border.even { "even" } else { "odd" };
        format!(
            "{} edges at vertex {} ({parity})",
            border.edges, border.vertex
        )
    };
    let mut told: Vec<String> = borders.iter().take(BORDERS_SHOWN).map(tell).collect();
    if borders.len() > BORDERS_SHOWN {
        told = vec![format!(
            "{} in all, {odd} of them odd",
            counted(borders.len(), "border", "borders")
        )];
    }
    let note = if odd > 0 {
        "; quads alone can't fill an odd one"
    } else {
        ""
    };
    format!("{}{note}", told.join(", "))
}

fn warnings(summary: &Summary) -> String {
    let odd = &summary.input.oddities;
    let skipped = &summary.input.skipped;
    let skipped = skipped.lines
        + skipped.points
        + skipped.free_form
        + skipped.render_attributes
        + skipped.unknown;
    let mut told = listed(&[
        (
            odd.non_manifold_edges,
            "non-manifold edge (kept sharp)",
            "non-manifold edges (kept sharp)",
        ),
        (
            odd.non_manifold_vertices,
            "non-manifold vertex (kept sharp)",
            "non-manifold vertices (kept sharp)",
        ),
        (odd.repeated_faces, "repeated face", "repeated faces"),
        (
            odd.faces_repeating_a_vertex,
            "face naming a vertex twice",
            "faces naming a vertex twice",
        ),
        (odd.zero_area_faces, "face of no area", "faces of no area"),
        (odd.reversed_faces, "reversed face", "reversed faces"),
        (
            odd.unreferenced_vertices,
            "unused vertex",
            "unused vertices",
        ),
        (
            odd.unwelded_vertices,
            "unwelded vertex",
            "unwelded vertices",
        ),
        (skipped, "statement skipped", "statements skipped"),
    ]);
    let none_found = summary.options.creases == CreaseOrigin::SmoothingGroups
        && summary.options.crease_edges == 0;
    if none_found {
        let also = if told.is_empty() { "" } else { ", " };
        told.push_str(also);
        told.push_str("no smoothing-group border to crease");
    }
    told
}

fn smoothing(summary: &Summary) -> String {
    let body = &summary.body;
    let change = |loss: f64| {
        let text = format!("{:+.1} %", -loss);
        // A loss too small to be seen has no sign.
        match text.as_str() {
            "+0.0 %" | "-0.0 %" => "0.0 %".to_owned(),
            _ => text,
        }
    };
    let mut told: Vec<String> = Vec::new();
    if summary.mirror.is_some() {
        told.push("of the whole".to_owned());
    }
    told.push(match body.volume_loss_percent {
        Some(loss) => format!("volume {}", change(loss)),
        None if summary.input.borders.is_empty() => "no volume".to_owned(),
        None => "no volume (open)".to_owned(),
    });
    let areas = body
        .cage_area_square_units
        .zip(body.limit_area_square_units);
    let area_loss = areas.map(|(cage, limit)| 100.0 * (1.0 - limit / cage));
    let area_loss = area_loss.filter(|loss| loss.is_finite());
    told.extend(area_loss.map(|loss| format!("area {}", change(loss))));
    for (axis, loss) in ["x", "y", "z"].iter().zip(body.extent_loss_percent) {
        told.extend(loss.map(|loss| format!("extent {axis} {}", change(loss))));
    }
    told.join(", ")
}

/// How many bent loops there are, the tightest edge of them, and where the radius changes most from
/// one edge to the next, if it does much.
fn edges(loops: &EdgeLoops) -> String {
    if loops.count == 0 {
        return String::new();
    }
    let at = |s: &StationEntry| format!("{}-{}", s.vertices[0], s.vertices[1]);
    let radius = |s: &StationEntry| s.radius_units.unwrap_or(f64::NAN);
    let mut told = counted(loops.count, "bent loop", "bent loops");
    if let Some(tightest) = &loops.tightest {
        told.push_str(&format!(
            "; tightest {}: radius {}, width {} units",
            at(tightest),
            figures(radius(tightest)),
            figures(tightest.width_units.unwrap_or(f64::NAN)),
        ));
    }
    if let Some([low, high]) = &loops.largest_change
        && radius(high) >= UNEVEN_THRESHOLD * radius(low)
    {
        told.push_str(&format!(
            "; uneven: radius {} at {}, {} at {}",
            figures(radius(low)),
            at(low),
            figures(radius(high)),
            at(high),
        ));
    }
    told
}

/// A length to three figures.
fn figures(x: f64) -> String {
    let magnitude = x.abs().log10().floor();
    if (-4.0..=5.0).contains(&magnitude) {
        format!("{x:.*}", (2.0 - magnitude).max(0.0) as usize)
    } else {
        format!("{x:.2e}")
    }
}

fn risk(summary: &Summary) -> String {
    let bands = &summary.bands;
    let highest = shown_risk(summary.highest_risk.unwrap_or(0.0));
    format!(
        "highest {highest}; vertices: {} clean, {} watch, {} fault, {} severe",
        bands.clean, bands.watch, bands.fault, bands.severe
    )
}

/// One place: its rank, risk, band, vertex and cause, and the figure behind it.
fn row(rank: usize, place: &PlaceEntry, style: Style) -> Vec<String> {
    let band = format!("{:6}", place.band.name());
    let start = format!("{rank:>3}  {} ", shown_risk(place.risk.unwrap_or(0.0)));
    let end = format!(
        "  vertex {:<7} {:9} ",
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

fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

/// Those counts that are not 0.
fn listed(counts: &[(usize, &str, &str)]) -> String {
    let counts = counts.iter().filter(|(count, _, _)| *count > 0);
    let told: Vec<String> = counts
        .map(|(count, one, many)| counted(*count, one, many))
        .collect();
    told.join(", ")
}

/// A label and its text, wrapped.
fn fact(label: &str, text: &str) -> Vec<String> {
    let lines_max = if label == WARNINGS {
        WARNING_LINES
    } else {
        FACT_LINES
    };
    let pieces = wrapped(text, WIDTH - INDENT, lines_max);
    let labels = std::iter::once(label).chain(std::iter::repeat(""));
    let lines = pieces.iter().zip(labels);
    let width = INDENT - 2;
    lines
        .map(|(piece, label)| format!("  {label:width$}{piece}"))
        .collect()
}

/// Breaks a text at its blanks into lines of at most `width` characters; what goes beyond
/// `lines_max` is cut.
pub(super) fn wrapped(text: &str, width: usize, lines_max: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        let last = lines.len() - 1;
        let used = lines[last].chars().count();
        if used > 0 && used + 1 + word.chars().count() > width {
            if lines.len() == lines_max {
                lines[last] = cut(&format!("{} {word}{word}", lines[last]), width);
                return lines;
            }
            lines.push(cut(word, width));
            continue;
        }
        if used > 0 {
            lines[last].push(' ');
        }
        lines[last].push_str(&cut(word, width));
    }
    lines
}

/// The start of a text, of at most `width` characters.
fn cut(text: &str, width: usize) -> String {
    if text.chars().count() <= width {
        return text.to_owned();
    }
    let kept: String = text.chars().take(width.saturating_sub(3)).collect();
    format!("{kept}...")
}

/// The end of a text, of at most `width` characters: of a path, it tells more than the start.
fn end_of(text: &str, width: usize) -> String {
    let count = text.chars().count();
    if count <= width {
        return text.to_owned();
    }
    let kept: String = text.chars().skip(count - width.saturating_sub(3)).collect();
    format!("...{kept}")
}

/// The text with control characters escaped.
fn printable(text: &str) -> String {
    let mut shown = String::new();
    for c in text.chars() {
        if c.is_control() {
            shown.extend(c.escape_debug());
        } else {
            shown.push(c);
        }
    }
    shown
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use crate::mesh::{PlanarBorders, Vec3};
    use crate::report::testing::assessed_quad;
    use crate::report::{CreaseOrigin, Request};
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

Places at risk, worst first
  1  0.80 severe  vertex 3       bump      strays 9.1 deg; swing 2.5 deg
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
