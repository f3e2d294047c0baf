//! The tables that tell how good the risk is, in Markdown.

use std::collections::BTreeMap;
use std::fmt::Write;

use cagewise::risk::Cause;

use crate::corpus::case::FaultKind;
use crate::figures::{
    Reliability, Scored, average_precision, best_threshold, flagged, recall, reliability, roc_area,
};
use crate::mirrored::{Pairs, is_hit};
use crate::naive_rules;
use crate::rows::{Label, Rows};

/// From this risk on a vertex counts as found.
const FOUND: f64 = 0.5;

/// A held-out part and what it is called.
pub struct HeldOut {
    pub name: &'static str,
    pub rows: Rows,
    /// Its mirrored faults, put in on one side only.
    pub mirrored_once: Rows,
    /// Whether what must not be flagged is its controls, rather than its clean cages.
    pub by_controls: bool,
}

/// All tables. `thresholds` are those of the simple rules, taken where the model was fitted.
pub fn tables(
    parts: &[HeldOut],
    thresholds: &[f64; naive_rules::RULE_COUNT],
) -> Result<String, std::fmt::Error> {
    let mut text = String::new();
    parts_table(&mut text, parts, thresholds)?;
    for part in parts.iter().filter(|part| !part.by_controls) {
        families_table(&mut text, part)?;
    }
    kinds_table(&mut text, parts)?;
    mirrored_table(&mut text, parts)?;
    causes_table(&mut text, parts)?;
    reliability_table(&mut text, parts)?;
    Ok(text)
}

/// The threshold of each simple rule that is best where the model was fitted.
pub fn simple_thresholds(rows: &Rows) -> [f64; naive_rules::RULE_COUNT] {
    std::array::from_fn(|k| best_threshold(&scored(&rows.labels, simple(k))))
}

fn simple(rule: usize) -> impl Fn(&Label) -> f64 {
    move |label| f64::from(label.simple[rule])
}

/// Scores of the vertices about which nobody would argue.
fn scored(labels: &[Label], score: impl Fn(&Label) -> f64) -> Vec<Scored> {
    let known = labels.iter().filter_map(|l| l.faulty.map(|f| (l, f)));
    known.map(|(l, faulty)| (score(l), faulty)).collect()
}

/// The vertices that must not be flagged.
fn harmless(part: &HeldOut) -> Vec<Label> {
    let harmless = |l: &&Label| {
        let there = if part.by_controls { l.of_control } else { true };
        there && l.of_clean_cage && l.faulty == Some(false)
    };
    part.rows.labels.iter().filter(harmless).copied().collect()
}

fn parts_table(
    text: &mut String,
    parts: &[HeldOut],
    thresholds: &[f64; naive_rules::RULE_COUNT],
) -> std::fmt::Result {
    writeln!(
        text,
        "| part | rule | area under ROC | average precision | recall | sound flagged | harmless flagged |\n|---|---|---|---|---|---|---|"
    )?;
    for part in parts {
        let labels = &part.rows.labels;
        let faulty = labels.iter().filter(|l| l.faulty == Some(true)).count();
        let title = format!(
            "{}: {} cages, {} vertices, {faulty} faulty",
            part.name,
            part.rows.cases.len(),
            labels.len()
        );
        let harmless = harmless(part);
        line(
            text,
            &title,
            "**cagewise**",
            labels,
            &harmless,
            |l| l.risk,
            FOUND,
        )?;
        for (k, name) in naive_rules::NAMES.iter().enumerate() {
            line(text, "", name, labels, &harmless, simple(k), thresholds[k])?;
        }
    }
    writeln!(text)
}

/// A part by the families of its cages, where it has several.
fn families_table(text: &mut String, part: &HeldOut) -> std::fmt::Result {
    let family = |l: &Label| part.rows.cases[l.case as usize].1;
    let mut families: Vec<&str> = part.rows.cases.iter().map(|c| c.1).collect();
    families.sort_unstable();
    families.dedup();
    if families.len() < 2 {
        return Ok(());
    }
    writeln!(
        text,
        "| {} | vertices | faulty | area under ROC | average precision | recall | sound flagged |\n|---|---|---|---|---|---|---|",
        part.name
    )?;
    for name in families {
        let labels = part.rows.labels.iter().filter(|l| family(l) == name);
        let labels: Vec<Label> = labels.copied().collect();
        let all = scored(&labels, |l| l.risk);
        writeln!(
            text,
            "| {name} | {} | {} | {:.4} | {:.3} | {:.3} | {:.2} % |",
            labels.len(),
            all.iter().filter(|s| s.1).count(),
            roc_area(&all),
            average_precision(&all),
            recall(&all, FOUND),
            100.0 * flagged(&all, FOUND),
        )?;
    }
    writeln!(text)
}

fn line(
    text: &mut String,
    title: &str,
    rule: &str,
    labels: &[Label],
    harmless: &[Label],
    score: impl Fn(&Label) -> f64,
    threshold: f64,
) -> std::fmt::Result {
    let all = scored(labels, &score);
    let calm = scored(harmless, &score);
    writeln!(
        text,
        "| {title} | {rule} | {:.4} | {:.3} | {:.3} | {:.2} % | {:.2} % |",
        roc_area(&all),
        average_precision(&all),
        recall(&all, threshold),
        100.0 * flagged(&all, threshold),
        100.0 * flagged(&calm, threshold),
    )
}

fn kinds_table(text: &mut String, parts: &[HeldOut]) -> std::fmt::Result {
    write!(text, "| kind of fault |")?;
    for part in parts {
        write!(text, " {}: found | cause right |", part.name)?;
    }
    writeln!(text, "\n|---|{}", "---|---|".repeat(parts.len()))?;
    for kind in FaultKind::ALL {
        write!(text, "| {} |", kind.name())?;
        for part in parts {
            let of_kind: Vec<&Label> = part
                .rows
                .labels
                .iter()
                .filter(|l| l.kind == Some(kind) && l.faulty == Some(true))
                .collect();
            let hits: Vec<&&Label> = of_kind.iter().filter(|l| is_hit(l)).collect();
            let right = hits.iter().filter(|l| is_right(l)).count();
            write!(
                text,
                " {} | {} |",
                part_of(hits.len(), of_kind.len()),
                part_of(right, hits.len())
            )?;
        }
        writeln!(text)?;
    }
    writeln!(text)
}

fn is_right(label: &Label) -> bool {
    let wanted = label.kind.map_or(&[][..], FaultKind::causes);
    label.cause.is_some_and(|cause| wanted.contains(&cause))
}

fn part_of(count: usize, whole: usize) -> String {
    if whole == 0 {
        return "-".to_owned();
    }
    format!("{:.0} % of {whole}", 100.0 * count as f64 / whole as f64)
}

/// The vertices at fault, or the faults as far as any vertex is at fault because of them, and how many of
/// these were found: a fault is if one of its vertices is, a mirrored one on either side.
#[derive(Clone, Copy, Default)]
struct Tried {
    found: usize,
    all: usize,
}

impl Tried {
    fn add(&mut self, found: bool) {
        self.all += 1;
        self.found += usize::from(found);
    }

    /// Vertices and whole faults of what is at fault and `wanted`.
    fn of(rows: &Rows, wanted: impl Fn(&Label) -> bool) -> [Self; 2] {
        let [mut vertices, mut whole] = [Self::default(); 2];
        let mut faults = BTreeMap::<(u32, Option<usize>), bool>::new();
        let faulty = rows.labels.iter().filter(|l| l.faulty == Some(true));
        for label in faulty.filter(|l| wanted(l)) {
            vertices.add(is_hit(label));
            *faults.entry((label.case, label.fault)).or_default() |= is_hit(label);
        }
        faults.into_values().for_each(|found| whole.add(found));
        [vertices, whole]
    }

    fn told(self) -> String {
        part_of(self.found, self.all)
    }
}

fn mirrored_table(text: &mut String, parts: &[HeldOut]) -> std::fmt::Result {
    let columns = [
        "on one side",
        "the mirrored ones put in on one side only",
        "mirrored",
    ];
    write!(text, "| part |")?;
    for what in ["vertices found", "faults found"] {
        for column in columns {
            write!(text, " {what}: {column} |")?;
        }
    }
    writeln!(
        text,
        " causes of vertices right |\n|---|{}",
        "---|".repeat(7)
    )?;
    for part in parts {
        write!(text, "| {} |", part.name)?;
        let one_side = Tried::of(&part.rows, |l| !l.mirrored);
        let once = Tried::of(&part.mirrored_once, |_| true);
        let mirrored = Tried::of(&part.rows, |l| l.mirrored);
        for k in 0..2 {
            for tried in [one_side, once, mirrored] {
                write!(text, " {} |", tried[k].told())?;
            }
        }
        let faulty = part.rows.labels.iter().filter(|l| l.faulty == Some(true));
        let hits = faulty.filter(|l| is_hit(l));
        let right = hits.clone().filter(|l| is_right(l)).count();
        writeln!(text, " {} |", part_of(right, hits.count()))?;
    }
    let pairs = parts.iter().map(|p| Pairs::of(&p.rows, &p.mirrored_once));
    let pairs = pairs.fold(Pairs::default(), Pairs::and);
    writeln!(
        text,
        "\nOf {} faults that are at fault both ways {} are found on one side only and not mirrored, {} \
         mirrored and not on one side only: {:.1} % lost, {:.1} standard errors.\n",
        pairs.all,
        pairs.only_once,
        pairs.only_mirrored,
        100.0 * pairs.lost(),
        pairs.standard_errors()
    )
}

fn causes_table(text: &mut String, parts: &[HeldOut]) -> std::fmt::Result {
    write!(text, "| put in, named |")?;
    for cause in Cause::ALL {
        write!(text, " {} |", cause.name())?;
    }
    writeln!(text, "\n|---|{}", "---|".repeat(Cause::ALL.len()))?;
    for kind in FaultKind::ALL {
        write!(text, "| {} |", kind.name())?;
        for cause in Cause::ALL {
            let labels = parts.iter().flat_map(|p| &p.rows.labels);
            let named = labels.filter(|l| {
                l.kind == Some(kind)
                    && l.faulty == Some(true)
                    && is_hit(l)
                    && l.cause == Some(cause)
            });
            write!(text, " {} |", named.count())?;
        }
        writeln!(text)?;
    }
    writeln!(text)
}

/// Bounds of the bins of the reliability table; the last is above every risk.
const BINS: [f64; 8] = [0.0, 0.05, 0.25, 0.5, 0.75, 0.9, 0.99, 1.01];

fn reliability_table(text: &mut String, parts: &[HeldOut]) -> std::fmt::Result {
    write!(text, "| risk |")?;
    for part in parts {
        let name = part.name;
        write!(
            text,
            " {name}: vertices | mean risk | at fault | with argued ones |"
        )?;
    }
    writeln!(text, "\n|---|{}", "---|---|---|---|".repeat(parts.len()))?;
    let tables: Vec<[Vec<Reliability>; 2]> = parts.iter().map(reliabilities).collect();
    for bin in 0..BINS.len() - 1 {
        let (from, to) = (BINS[bin], BINS[bin + 1].min(1.0));
        write!(text, "| {from:.2} to {to:.2} |")?;
        for [clear, argued] in &tables {
            match (clear[bin], argued[bin].true_share) {
                (Reliability { count: 0, .. }, _) => write!(text, " 0 | - | - | - |")?,
                (bin, argued) => {
                    let Reliability { count, told, .. } = bin;
                    let clear = bin.true_share;
                    write!(text, " {count} | {told:.3} | {clear:.3} | {argued:.3} |")?;
                }
            }
        }
        writeln!(text)?;
    }
    writeln!(text)
}

/// Of the vertices about which nobody would argue, and of these with those about which people would.
fn reliabilities(part: &HeldOut) -> [Vec<Reliability>; 2] {
    let clear = part.rows.labels.iter().filter(|l| l.faulty.is_some());
    let argued = part.rows.labels.iter().filter(|l| !l.sure.is_nan());
    let sure = |l: &Label| (l.risk, f64::from(l.sure));
    let clear: Vec<(f64, f64)> = clear.map(sure).collect();
    let argued: Vec<(f64, f64)> = argued.map(sure).collect();
    [clear, argued].map(|sure| reliability(&sure, &BINS))
}
