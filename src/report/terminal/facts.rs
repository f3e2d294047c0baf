//! What the screen says of the cage as a whole: facts, each under a label.

use super::layout::{WARNINGS, counted, fact, listed};
use crate::report::edge_loops::{EdgeLoops, StationEntry};
use crate::report::mirroring::{Mirroring, PlanarBorder};
use crate::report::summary::{Border, CreaseOrigin, Summary};
use crate::risk::shown_risk;

/// Borders told apart; of others only the number is given.
const BORDERS_SHOWN: usize = 4;

/// Ratio of the radii at two neighbouring edges of a bent loop from which on its support is called
/// uneven: that of support loops twice as far away.
const UNEVEN_THRESHOLD: f64 = 2.0;

/// All facts, as lines.
pub(super) fn facts(summary: &Summary) -> Vec<String> {
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
        let edges = counted(border.edges, "edge", "edges");
        format!("{edges} at vertex {} ({parity})", border.vertex)
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
pub(super) fn figures(x: f64) -> String {
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
