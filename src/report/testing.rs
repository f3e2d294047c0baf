//! A small assessment put together by hand, for the tests of the formats.
#![allow(clippy::unwrap_used)]

use crate::assess::{Assessment, BodyFigures, BorderLoop};
use crate::io::read_cage_from;
use crate::limit::Fillets;
use crate::measure::{About, Measured, Unit};
use crate::mesh::{Cage, Oddities, Topology, Vec3};
use crate::risk::{Cause, Findings, Place, Risks};
use crate::subdivision::{BoundaryRule, ControlMesh, Creases, Surface};

static SWING: About = About {
    name: "swing",
    tells: "how far the normal swings",
    formula: "angle",
    unit: Unit::Degrees,
    range: "from 0",
    source: "common practice, no published source",
    remedy: "even out the strips",
};

static GAP: About = About {
    name: "gap",
    unit: Unit::Length,
    ..SWING
};

/// A single quad of side 1 with one vertex at fault.
pub fn assessed_quad() -> (Cage, Assessment) {
    let text = b"o plate\nv 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\ns 1\nf 1 2 3 4\n";
    assessed(text)
}

/// The same with a vertex that no face uses.
pub fn with_loose_vertex() -> (Cage, Assessment) {
    let text = b"v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nv 7 8 9\nf 1 2 3 4\n";
    let (cage, mut assessment) = assessed(text);
    assessment.oddities.unreferenced_vertices = 1;
    (cage, assessment)
}

fn assessed(text: &[u8]) -> (Cage, Assessment) {
    let cage = read_cage_from(text, std::path::Path::new("plate.obj")).unwrap();
    let topology = Topology::new(&cage.mesh);
    let control = ControlMesh::new(
        &cage.mesh,
        topology,
        &Creases::default(),
        BoundaryRule::EdgeAndCorner,
    );
    let count = cage.mesh.vertex_count();
    let pad = |values: &[f64], rest: f64| {
        let mut padded = values.to_vec();
        padded.resize(count, rest);
        padded
    };
    let total = pad(&[0.1, 0.0, 0.8, 0.3], 0.0);
    let mut by_cause = vec![vec![0.0; count]; Cause::ALL.len()];
    by_cause[Cause::Bump as usize] = total.clone();
    let mut cause = vec![None; count];
    cause[2] = Some(Cause::Bump);
    cause[3] = Some(Cause::Bump);
    let normal = Some(Vec3::z());
    let mut limit_normals = vec![normal, normal, None, normal];
    limit_normals.resize(count, None);
    let positions = cage.mesh.positions().iter().take(4).map(|&p| Some(p));
    let mut limit_positions: Vec<_> = positions.collect();
    limit_positions.resize(count, None);
    let measures = vec![
        Measured {
            about: &SWING,
            values: pad(&[0.5, 0.0, 2.5, 1e-9], f64::NAN),
        },
        Measured {
            about: &GAP,
            values: pad(&[1.0, 2.0, f64::NAN, 0.25], f64::NAN),
        },
    ];
    let assessment = Assessment {
        surface: Surface::new(control),
        oddities: Oddities::default(),
        body: BodyFigures {
            triangles: 0,
            quads: 1,
            ngons: 0,
            poles: vec![(3, 8), (5, 1)],
            shells: 1,
            borders: vec![BorderLoop {
                edges: 4,
                first_vertex: 0,
            }],
            cage_extent: Vec3::new(1.0, 1.0, 0.0),
            limit_extent: Vec3::new(0.9, 1.0, 0.0),
            volumes: None,
            areas: (1.0, 0.8),
            volume_loss: None,
            gauss_bonnet_defect: None,
        },
        mirror: None,
        fillets: Fillets::default(),
        limit_positions,
        limit_normals,
        findings: Findings {
            measures,
            risks: Risks {
                total,
                cause,
                by_cause,
            },
            places: vec![Place {
                peak: 2,
                vertices: vec![2, 3],
                edges: vec![[0, 3], [1, 2], [2, 3]],
                faces: vec![0],
                risk: 0.8,
                mean_risk: 0.55,
                shares: vec![(Cause::Bump, 2.5)],
                area_share: 0.5,
                centre: Vec3::new(0.5, 1.0, 0.0),
                radius: 0.75,
                cause: Cause::Bump,
                figure: "strays 9.1 deg; swing 2.5 deg".into(),
                remedy: "even out the strips".into(),
            }],
        },
    };
    (cage, assessment)
}
