//! The fitted model: what `cargo run --release --example fit_risk` wrote into `fitted.json`.

use std::iter;
use std::sync::LazyLock;

use pulp::Arch;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::block_forest::BlockForest;
use super::blocks::{BLOCK, Block};
use super::evidence::Evidence;
use super::trees::{Forest, ForestError, probability};
use super::{Band, Cause};

/// The file's format; another one is not read.
pub const FORMAT: u32 = 3;

/// A fitted model.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Fitted {
    /// [`FORMAT`].
    pub format: u32,
    /// How the file was made: the command, what it was fitted on, and the settings, in words.
    pub made: Vec<String>,
    /// The quantities that the trees ask, by name, in the order of their numbers.
    pub quantities: Vec<String>,
    /// The usual sizes of the quantities, positive, in their units: the forests are softened by them.
    pub scales: Vec<f32>,
    /// The log-odds of a fault.
    pub risk: Forest,
    /// For each cause that was fitted, the log-odds that a fault is of that cause.
    pub causes: Vec<(String, Forest)>,
}

/// What every format begins with.
#[derive(Deserialize)]
struct Head {
    format: u32,
}

/// What is wrong with a model's file.
#[derive(Debug, thiserror::Error)]
pub enum FittedError {
    /// It is not the JSON that is expected.
    #[error("not a fitted model: {0}")]
    Json(#[from] serde_json::Error),
    /// It is of another format.
    #[error("format {0} is not {FORMAT}, the one that this version reads")]
    Format(u32),
    /// It names a cause that there is not.
    #[error("there is no cause '{0}'")]
    Cause(String),
    /// Not one positive scale a quantity.
    #[error("there is not one positive scale for each quantity")]
    Scales,
    /// A forest leads astray.
    #[error(transparent)]
    Forest(#[from] ForestError),
}

/// The model that the crate carries; `None` if the file does not hold (a test makes sure it does).
pub static FITTED: LazyLock<Option<Fitted>> =
    LazyLock::new(|| Fitted::parse(include_bytes!("fitted.json")).ok());

/// A value of each cause, in the order of [`Cause::ALL`].
type Causes = [f64; Cause::ALL.len()];

/// What the model says of a vertex.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Judgement {
    /// The probability of a fault.
    pub risk: f64,
    /// How likely each cause is, in the order of [`Cause::ALL`], given that there is a fault; they
    /// sum to 1 unless none was fitted.
    pub causes: Causes,
}

impl Judgement {
    /// The part of each cause in the risk, of which the largest is the risk. A risk of which no
    /// cause was asked stands under [`Cause::Bump`].
    pub fn parts(&self) -> [f64; Cause::ALL.len()] {
        let largest = self.causes.iter().copied().fold(0.0, f64::max);
        if largest > 0.0 {
            return self.causes.map(|c| self.risk * (c / largest));
        }
        let mut parts = [0.0; Cause::ALL.len()];
        parts[Cause::Bump as usize] = self.risk;
        parts
    }
}

/// What the model says of all vertices.
#[derive(Debug)]
pub(super) struct Judged {
    /// The risk of each.
    risks: Vec<f64>,
    /// Those whose causes are told, rising.
    seen: Vec<u32>,
    /// How likely each cause is at those.
    causes: Vec<Causes>,
}

impl Judged {
    /// What the model says of vertex `v` alone.
    pub fn of(&self, v: usize) -> Judgement {
        let risk = self.risks[v];
        let place = match is_seen(risk) {
            true => self.seen.binary_search(&(v as u32)).ok(),
            false => None,
        };
        let causes = place.map(|place| self.causes[place]);
        Judgement {
            risk,
            causes: causes.unwrap_or_default(),
        }
    }

    /// The same with the causes of vertex `v` and its neighbours summed up, each weighted by its risk:
    /// a fault changes the surface about several vertices, and at some of these it shows better than
    /// at others what it is. Chosen on grown cages of a kit that is not fitted on. A neighbour across an
    /// edge of more than two faces may be given, and then counts, more than once.
    pub fn beside(&self, v: usize, neighbours: impl Iterator<Item = usize>) -> Judgement {
        let risk = self.risks[v];
        let mut causes = Causes::default();
        if !is_seen(risk) {
            return Judgement { risk, causes };
        }
        for near in iter::once(v).chain(neighbours).map(|w| self.of(w)) {
            for (sum, c) in causes.iter_mut().zip(near.causes) {
                *sum += near.risk * c;
            }
        }
        let whole: f64 = causes.iter().sum();
        if whole > 0.0 {
            causes = causes.map(|c| c / whole);
        }
        Judgement { risk, causes }
    }
}

impl Fitted {
    /// Reads a model from the bytes of its file.
    ///
    /// # Errors
    /// [`FittedError`] if it is none, of another format, or does not hold together.
    pub fn parse(bytes: &[u8]) -> Result<Self, FittedError> {
        // Another format may hold what cannot be read at all.
        let Head { format } = serde_json::from_slice(bytes)?;
        if format != FORMAT {
            return Err(FittedError::Format(format));
        }
        let mut fitted: Self = serde_json::from_slice(bytes)?;
        let is_scale = |x: &f32| x.is_finite() && *x > 0.0;
        if fitted.scales.len() != fitted.quantities.len() || !fitted.scales.iter().all(is_scale) {
            return Err(FittedError::Scales);
        }
        fitted.risk.check(fitted.quantities.len())?;
        for (name, forest) in &fitted.causes {
            cause_named(name).ok_or_else(|| FittedError::Cause(name.clone()))?;
            forest.check(fitted.quantities.len())?;
        }
        fitted.soften();
        Ok(fitted)
    }

    /// Softens all forests by the scales.
    fn soften(&mut self) {
        self.risk.soften(&self.scales);
        for (_, forest) in &mut self.causes {
            forest.soften(&self.scales);
        }
    }

    /// Judges every vertex by itself, in parallel; the result does not depend on the number of threads.
    /// [`super::model::risks`] asks its neighbours for the cause as well.
    pub fn judge(&self, evidence: &Evidence) -> Vec<Judgement> {
        let judged = self.judged(evidence);
        (0..evidence.vertex_count()).map(|v| judged.of(v)).collect()
    }

    /// Judges every vertex, in parallel.
    pub(super) fn judged(&self, evidence: &Evidence) -> Judged {
        let columns = evidence.named(&self.quantities);
        let all: Vec<u32> = (0..evidence.vertex_count() as u32).collect();
        let arch = Arch::new();
        let forest = BlockForest::new(arch, &self.risk);
        let risks = in_blocks(arch, &columns, &all, |block| {
            forest.log_odds(block).map(probability)
        });
        let seen = |v: &u32| is_seen(risks[*v as usize]);
        let seen: Vec<u32> = all.into_iter().filter(seen).collect();
        let forests = self.cause_forests(arch);
        let causes = in_blocks(arch, &columns, &seen, |block| causes_in(&forests, block));
        Judged {
            risks,
            seen,
            causes,
        }
    }

    /// The forests of the causes, laid out for being asked.
    fn cause_forests(&self, arch: Arch) -> Vec<(Cause, BlockForest)> {
        let forests = self.causes.iter();
        let forests = forests.filter_map(|(name, forest)| {
            cause_named(name).map(|cause| (cause, BlockForest::new(arch, forest)))
        });
        forests.collect()
    }

    /// What each group of quantities adds to the log-odds of a fault at vertex `v`, a group being
    /// those that speak for one cause: exact, as [`Forest::shares`] tells them apart. One value per
    /// cause, in the order of [`Cause::ALL`]; with what a vertex of which nothing is known would
    /// have ([`Forest::unknowing`]) they add up to the log-odds.
    pub fn shares(&self, evidence: &Evidence, v: usize) -> [f64; Cause::ALL.len()] {
        let columns = evidence.named(&self.quantities);
        let at = |column: &&[f32]| column.get(v).copied().unwrap_or(f32::NAN);
        let row: Vec<f32> = columns.iter().map(at).collect();
        let mut shares = [0.0; Cause::ALL.len()];
        let of_quantities = self.risk.shares(&row);
        for (name, share) in self.quantities.iter().zip(of_quantities) {
            let speaks_for = evidence.speaks_for(name).unwrap_or(Cause::Bump);
            shares[speaks_for as usize] += share;
        }
        shares
    }
}

/// Whether a risk is told with its causes.
fn is_seen(risk: f64) -> bool {
    Band::of(risk) >= Band::Watch
}

/// How likely each cause is in every row of a block.
fn causes_in(forests: &[(Cause, BlockForest)], block: &Block) -> [Causes; BLOCK] {
    let mut causes = [Causes::default(); BLOCK];
    for (cause, forest) in forests {
        for (causes, log_odds) in causes.iter_mut().zip(forest.log_odds(block)) {
            causes[*cause as usize] = probability(log_odds);
        }
    }
    causes.map(|causes| {
        let sum: f64 = causes.iter().sum();
        causes.map(|c| if sum > 0.0 { c / sum } else { c })
    })
}

/// One value a vertex, found block by block in parallel.
fn in_blocks<T: Copy + Default + Send>(
    arch: Arch,
    columns: &[&[f32]],
    vertices: &[u32],
    judge: impl Fn(&Block) -> [T; BLOCK] + Sync + Send,
) -> Vec<T> {
    let mut judged = vec![T::default(); vertices.len()];
    let runs = judged.par_chunks_mut(BLOCK).zip(vertices.par_chunks(BLOCK));
    runs.for_each_init(Block::default, |block, (judged, vertices)| {
        block.fill(arch, columns, vertices);
        judged.copy_from_slice(&judge(block)[..judged.len()]);
    });
    judged
}

fn cause_named(name: &str) -> Option<Cause> {
    Cause::ALL.into_iter().find(|cause| cause.name() == name)
}
