//! Cases as rows: the evidence, the truth and what the simple rules say, vertex by vertex.

use rayon::prelude::*;

use cagewise::measure::{MeasureContext, Measures};
use cagewise::mesh::Topology;
use cagewise::risk::Cause;
use cagewise::risk::evidence::{Evidence, Quantity};
use cagewise::risk::model;
use cagewise::subdivision::{BoundaryRule, ControlMesh, Surface};

use crate::corpus::case::{Case, FaultKind, Sides, Truth};
use crate::corpus::truth::{nearest_fault, strays, sureness, truth_by};
use crate::naive_rules::{self, RULE_COUNT};

/// What is known of one vertex.
#[derive(Debug, Clone, Copy)]
pub struct Label {
    /// Its case, by number.
    pub case: u32,
    pub vertex: u32,
    /// `None` where people would argue.
    pub faulty: Option<bool>,
    /// How sure people are of a fault, from 0 to 1: NaN where that is not known.
    pub sure: f32,
    /// Whether a fault lies within a few rings.
    pub near_fault: bool,
    /// The fault that made it so, by its number in the case, and its kind.
    pub fault: Option<usize>,
    pub kind: Option<FaultKind>,
    pub mirrored: bool,
    /// Whether its case has no fault at all.
    pub of_clean_cage: bool,
    pub of_control: bool,
    /// What the program as it is says.
    pub risk: f64,
    pub cause: Option<Cause>,
    /// What the simple rules say, in the order of [`naive_rules::NAMES`].
    pub simple: [f32; RULE_COUNT],
}

/// Labelled rows of evidence.
#[derive(Debug, Clone, Default)]
pub struct Rows {
    /// Names of the quantities: the columns.
    pub names: Vec<String>,
    /// Row after row.
    pub evidence: Vec<f32>,
    pub labels: Vec<Label>,
    /// Names and families of the cases.
    pub cases: Vec<(String, &'static str)>,
    /// The cases, by number, whose faults lie on both sides of the form or on the first of both only.
    pub paired_cases: Vec<u32>,
}

impl Rows {
    /// The rows of all cases, in their order, whatever the number of threads.
    pub fn of(cases: &[Case]) -> Self {
        let each: Vec<(Vec<&'static Quantity>, Vec<f32>, Vec<Label>)> = cases
            .par_iter()
            .enumerate()
            .map(|(number, case)| rows_of(number as u32, case))
            .collect();
        let is_paired = |case: &Case| case.faults.iter().any(|f| f.sides != Sides::One);
        let numbered = (0..).zip(cases).filter(|(_, case)| is_paired(case));
        let mut rows = Self {
            paired_cases: numbered.map(|(number, _)| number).collect(),
            ..Self::default()
        };
        for ((quantities, evidence, labels), case) in each.into_iter().zip(cases) {
            rows.names = quantities.iter().map(|q| q.name.to_owned()).collect();
            rows.evidence.extend(evidence);
            rows.labels.extend(labels);
            rows.cases
                .push((case.clean.name.clone(), case.clean.family));
        }
        rows
    }

    /// The row of the vertex with the given number.
    pub fn row(&self, number: usize) -> &[f32] {
        let width = self.names.len();
        &self.evidence[number * width..(number + 1) * width]
    }
}

fn rows_of(number: u32, case: &Case) -> (Vec<&'static Quantity>, Vec<f32>, Vec<Label>) {
    let strays = strays(case);
    let truth = truth_by(case, &strays);
    let near = nearest_fault(&Topology::new(&case.cage.mesh), &case.faults);
    let sure = sureness(&strays, &truth, &near);
    let topology = Topology::new(&case.cage.mesh);
    let creases = case.cage.creases(&topology);
    let control = ControlMesh::new(
        &case.cage.mesh,
        topology,
        &creases,
        BoundaryRule::EdgeAndCorner,
    );
    let surface = Surface::new(control);
    let context = MeasureContext::new(&surface);
    let measures = Measures::new(&context);
    let evidence = Evidence::new(&context, &measures);
    let risks = model::risks(&context, &measures, &evidence);
    let simple = naive_rules::scores(&context, &measures);
    let columns: Vec<(&Quantity, &[f32])> = evidence.columns().collect();
    let used = (0..truth.len()).filter(|&v| !context.topology().is_unreferenced(v));
    let mut values = Vec::new();
    let mut labels = Vec::new();
    for v in used {
        values.extend(columns.iter().map(|(_, values)| values[v]));
        let number_of_fault = match truth[v] {
            Truth::Faulty(fault) => Some(fault),
            Truth::Sound | Truth::Unclear => None,
        };
        let fault = number_of_fault.map(|fault| &case.faults[fault]);
        labels.push(Label {
            case: number,
            vertex: v as u32,
            faulty: match truth[v] {
                Truth::Faulty(_) => Some(true),
                Truth::Sound => Some(false),
                Truth::Unclear => None,
            },
            sure: sure[v],
            near_fault: near[v].is_some(),
            fault: number_of_fault,
            kind: fault.map(|f| f.kind),
            mirrored: fault.is_some_and(|f| f.sides == Sides::Both),
            of_clean_cage: case.faults.is_empty(),
            of_control: case.clean.is_control,
            risk: risks.total[v],
            cause: risks.cause[v],
            simple: simple.map_at(v),
        });
    }
    let quantities = columns.iter().map(|(quantity, _)| *quantity);
    (quantities.collect(), values, labels)
}
