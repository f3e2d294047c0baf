//! How well scores tell faulty vertices from sound ones.

/// A score and whether the vertex that has it is faulty.
pub type Scored = (f64, bool);

/// Sorted by falling score, undefined scores last; and the counts of faulty and sound ones.
fn ranked(scored: &[Scored]) -> (Vec<Scored>, f64, f64) {
    let mut ranked: Vec<Scored> = scored
        .iter()
        .map(|&(s, faulty)| (if s.is_nan() { f64::NEG_INFINITY } else { s }, faulty))
        .collect();
    ranked.sort_by(|a, b| b.0.total_cmp(&a.0));
    let faulty = ranked.iter().filter(|s| s.1).count() as f64;
    let sound = ranked.len() as f64 - faulty;
    (ranked, faulty, sound)
}

/// Area under the ROC curve: the probability that a faulty vertex scores more than a sound one,
/// ties counted half (Hanley & McNeil, The meaning and use of the area under a ROC curve, 1982).
/// NaN without one of each.
pub fn roc_area(scored: &[Scored]) -> f64 {
    let (ranked, faulty, sound) = ranked(scored);
    let (mut area, mut found) = (0.0, 0.0);
    for tied in ranked.chunk_by(|a, b| a.0 == b.0) {
        let hits = tied.iter().filter(|s| s.1).count() as f64;
        let misses = tied.len() as f64 - hits;
        area += misses * (found + hits / 2.0);
        found += hits;
    }
    area / (faulty * sound)
}

/// Average precision: the sum over falling thresholds of the precision there times the recall
/// gained (Manning, Raghavan & Schütze, Introduction to information retrieval, 2008, chapter 8).
/// NaN without a faulty vertex.
pub fn average_precision(scored: &[Scored]) -> f64 {
    let (ranked, faulty, _) = ranked(scored);
    let (mut sum, mut found, mut taken) = (0.0, 0.0, 0.0);
    for tied in ranked.chunk_by(|a, b| a.0 == b.0) {
        let hits = tied.iter().filter(|s| s.1).count() as f64;
        taken += tied.len() as f64;
        found += hits;
        sum += hits * found / taken;
    }
    sum / faulty
}

/// Of the faulty vertices, the share that scores `threshold` and more; NaN without any.
pub fn recall(scored: &[Scored], threshold: f64) -> f64 {
    share(scored.iter().filter(|s| s.1), threshold)
}

/// Of the sound vertices, the share that scores `threshold` and more; NaN without any.
pub fn flagged(scored: &[Scored], threshold: f64) -> f64 {
    share(scored.iter().filter(|s| !s.1), threshold)
}

fn share<'a>(among: impl Iterator<Item = &'a Scored>, threshold: f64) -> f64 {
    let (mut all, mut over) = (0.0, 0.0);
    for (score, _) in among {
        all += 1.0;
        over += f64::from(u8::from(*score >= threshold));
    }
    over / all
}

/// The threshold with the best F1 score (the harmonic mean of precision and recall), for rules that
/// have none of their own.
pub fn best_threshold(scored: &[Scored]) -> f64 {
    let (ranked, faulty, _) = ranked(scored);
    let (mut found, mut taken) = (0.0, 0.0);
    let mut best = (0.0, f64::INFINITY);
    for tied in ranked.chunk_by(|a, b| a.0 == b.0) {
        taken += tied.len() as f64;
        found += tied.iter().filter(|s| s.1).count() as f64;
        let f1 = 2.0 * found / (taken + faulty);
        if f1 > best.0 {
            best = (f1, tied[0].0);
        }
    }
    best.1
}

/// One line of a reliability table.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reliability {
    /// The scores from here ...
    pub from: f64,
    /// ... to below here.
    pub to: f64,
    /// How many vertices have one.
    pub count: usize,
    /// Their mean score.
    pub told: f64,
    /// The share of them that is faulty; those about which people would argue count in part.
    pub true_share: f64,
}

/// How often what scores p is faulty, in bins between the given bounds; for each vertex its score and
/// how sure people are of a fault there, from 0 to 1.
pub fn reliability(sure: &[(f64, f64)], bounds: &[f64]) -> Vec<Reliability> {
    let bin = |ends: &[f64]| {
        let among = sure.iter().filter(|s| s.0 >= ends[0] && s.0 < ends[1]);
        let (count, told, faulty) = among.fold((0usize, 0.0, 0.0), |(n, sum, f), s| {
            (n + 1, sum + s.0, f + s.1)
        });
        Reliability {
            from: ends[0],
            to: ends[1],
            count,
            told: told / count as f64,
            true_share: faulty / count as f64,
        }
    };
    bounds.windows(2).map(bin).collect()
}
