//! What a measure or a cause means, from the measures' own descriptions.

use std::fmt::Write;

use super::terminal::wrapped;
use crate::measure::borders::{OFF_PLANE, SEAM_GAP};
use crate::measure::folds::REVERSED;
use crate::measure::form_deviation::DEVIATION;
use crate::measure::{About, about_all};
use crate::risk::model::{
    OFF_PLANE_FAULT, OFF_PLANE_UNSEEN, REVERSED_RISK, SEAM_GAP_THRESHOLD, SEAM_RISK, WITNESSES,
};
use crate::risk::{Band, Cause};

/// Columns of the text.
const WIDTH: usize = 80;

/// Column at which what a label stands for begins.
const INDENT: usize = 14;

/// Column at which the list says what a name stands for.
const LIST_INDENT: usize = 20;

/// Where the formulas of risk and causes come from.
const SOURCE: &str = "this program's, fitted on drawn, grown and real cages; what is seen: \
                      common practice, no published source";

/// The name by which the risk itself is explained.
const RISK: &str = "risk";

/// All names that [`explain`] knows: the risk, its causes, the measures.
pub fn explained_names() -> Vec<&'static str> {
    let mut names = vec![RISK];
    names.extend(Cause::ALL.map(Cause::name));
    let measures = about_all().iter().map(|about| about.name);
    names.extend(measures.filter(|name| !Cause::ALL.iter().any(|c| c.name() == *name)));
    names
}

/// Explains a measure or a cause, named as in `risk.csv` (with or without `risk_` before a cause
/// or the unit after a measure), in lines of 80 columns. `None` if there is nothing of that name.
pub fn explain(name: &str) -> Option<String> {
    let mut text = String::new();
    if name == RISK {
        push_risk(&mut text);
    }
    let cause_name = name.strip_prefix("risk_").unwrap_or(name);
    let cause = Cause::ALL.into_iter().find(|c| c.name() == cause_name);
    if let Some(cause) = cause {
        push_cause(&mut text, cause);
    }
    let is_meant = |about: &&&About| about.name == name || about.column() == name;
    for about in about_all().iter().filter(is_meant) {
        if !text.is_empty() {
            text.push('\n');
        }
        push_measure(&mut text, about);
    }
    (!text.is_empty()).then_some(text)
}

/// All names, each with what it tells, a line each.
pub fn explained_list() -> String {
    let mut text = String::from("Causes of a risk\n");
    for cause in Cause::ALL {
        push_entry(&mut text, cause.name(), tells(cause), (LIST_INDENT, 1));
    }
    text.push_str("\nMeasures\n");
    for about in about_all() {
        push_entry(&mut text, about.name, about.tells, (LIST_INDENT, 1));
    }
    text
}

fn push_risk(text: &mut String) {
    text.push_str("risk: how likely the smoothed model shows a fault at a vertex\n");
    push(text, "unit", "none; in [0, 1]");
    push(
        text,
        "range",
        "0.5 means that a practitioner who looks at the smoothed model would see a fault there; \
         under 0.25 (clean) nobody would see anything; from 0.25 watch, from 0.5 fault, from 0.75 \
         severe",
    );
    push(
        text,
        "formula",
        "the largest of the parts of its causes, the risk_ columns: the probability, by a sum of \
         decision trees, that the limit surface strays by more than 6 degrees from the form that is \
         meant; fitted on cages with faults of known place and size, see the README for how good it is",
    );
    push(text, "source", SOURCE);
    push(text, "what to do", "see the vertex's cause");
}

/// What a cause means, in one line.
pub(super) fn tells(cause: Cause) -> &'static str {
    match cause {
        Cause::Pole => "a pole (valence other than 4) on curved ground",
        Cause::Pinching => "crowded loops squeeze the surface",
        Cause::Spacing => "strips of uneven width",
        Cause::Warp => "quads that are bent or badly shaped",
        Cause::Facet => "triangles or n-gons on curved ground",
        Cause::Border => "an open border or seam that opens or kinks",
        Cause::Fold => "a face that is folded over or reversed",
        Cause::Support => "a support loop that breaks off along its edge",
        Cause::Shrinkage => "the form shrinks away from its cage",
        Cause::Bump => "a vertex off the form its surroundings go on with",
    }
}

/// The measures that tell of a cause.
fn evidence(cause: Cause) -> Vec<&'static About> {
    let witnesses = WITNESSES.iter().filter(|s| s.cause == cause);
    let mut evidence: Vec<&About> = witnesses.map(|s| s.about).collect();
    match cause {
        Cause::Border => evidence.extend([&SEAM_GAP, &OFF_PLANE]),
        Cause::Fold => evidence.extend([&DEVIATION, &REVERSED]),
        _ => evidence.push(&DEVIATION),
    }
    evidence
}

/// How the part of a cause comes about.
fn cause_formula(cause: Cause) -> String {
    let shared = "risk of the fitted model times the likelihood of this cause over that of the \
                  likeliest, by a model fitted on faults of known cause; under watch (0.25) no \
                  cause is asked and all of it counts as bump";
    match cause {
        Cause::Border => format!(
            "{SEAM_RISK} (1 - seam_gap / {SEAM_GAP_THRESHOLD}) at an unwelded seam, {} \
             (border_off_plane - {OFF_PLANE_UNSEEN}) / ({OFF_PLANE_FAULT} - {OFF_PLANE_UNSEEN}), at \
             most {SEAM_RISK}, off the plane of a border, if that is more; else {shared}",
            Band::FAULT_FROM
        ),
        Cause::Fold => {
            format!("{REVERSED_RISK} at a reversed face, if that is more; else {shared}")
        }
        Cause::Shrinkage => {
            "none so far: no fault of the corpus is of this cause, so that it never \
                             leads; see the measures"
                .to_owned()
        }
        _ => shared.to_owned(),
    }
}

fn push_cause(text: &mut String, cause: Cause) {
    // Writing to a String cannot fail.
    let _ = writeln!(text, "{} (cause): {}", cause.name(), tells(cause));
    push(text, "column", &format!("risk_{}", cause.name()));
    push(text, "formula", &cause_formula(cause));
    push(text, "unit", "none");
    push(
        text,
        "range",
        "0 to 1; the largest of all causes is the vertex's risk",
    );
    push(text, "source", SOURCE);
    for (i, about) in evidence(cause).into_iter().enumerate() {
        let told = format!("{}: {}", about.name, about.tells);
        push(text, if i == 0 { "told by" } else { "" }, &told);
    }
    let remedies = match cause {
        Cause::Border => format!("{}; or {}", SEAM_GAP.remedy, OFF_PLANE.remedy),
        _ => evidence(cause)[0].remedy.to_owned(),
    };
    push(text, "what to do", &remedies);
}

fn push_measure(text: &mut String, about: &About) {
    let _ = writeln!(text, "{} (measure)", about.name);
    push(text, "tells", about.tells);
    push(text, "column", &about.column());
    push(text, "formula", about.formula);
    push(text, "unit", about.unit.in_words());
    push(text, "range", about.range);
    push(text, "source", about.source);
    push(text, "what to do", about.remedy);
}

fn push(text: &mut String, label: &str, told: &str) {
    push_entry(text, label, told, (INDENT, usize::MAX));
}

/// A label and what is told of it, from column `indent` on, in at most `lines_max` lines.
fn push_entry(text: &mut String, label: &str, told: &str, (indent, lines_max): (usize, usize)) {
    let width = indent - 2;
    let labels = std::iter::once(label).chain(std::iter::repeat(""));
    for (piece, label) in wrapped(told, WIDTH - indent, lines_max).iter().zip(labels) {
        let _ = writeln!(text, "  {label:width$}{piece}");
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    #[test]
    fn every_name_is_explained_within_80_columns() {
        for name in explained_names() {
            let text = explain(name).unwrap();
            assert!(text.contains("  unit "), "{text}");
            assert!(
                text.lines().all(|line| line.chars().count() <= WIDTH),
                "{text}"
            );
        }
    }

    #[test]
    fn a_column_s_name_will_do() {
        assert!(explain("risk_pole").unwrap().starts_with("pole (cause)"));
        for about in about_all() {
            assert!(explain(&about.column()).unwrap().contains(about.name));
        }
        assert_eq!(explain("rust"), None);
    }

    #[test]
    fn the_list_gives_each_name_one_line() {
        let list = explained_list();
        assert_eq!(
            list.lines().count(),
            3 + Cause::ALL.len() + about_all().len()
        );
        assert!(
            list.lines().all(|line| line.chars().count() <= WIDTH),
            "{list}"
        );
    }
}
