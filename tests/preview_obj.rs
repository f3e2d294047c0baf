//! The OBJ written: numbering, inheritance, UVs, and that it reads back as it was.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::path::Path;

use cagewise::io::read_cage_from;
use cagewise::mesh::{Cage, NONE, Topology};
use cagewise::report::{PreviewColours, PreviewOptions, risk_colour, write_preview};
use cagewise::subdivision::{
    BoundaryRule, ControlMesh, Creases, Numbering, Samples, Surface, refine, refined_size,
};

/// A fender: two quads, a triangle and a pentagon, with all that faces can carry; names of bytes
/// that are no UTF-8; the second quad wound the other way; the triangle without UVs; a vertex that
/// no face uses.
const FENDER: &[u8] = b"mtllib quay.mtl
v 0 0 0
v 1 0 0.1
v 1 1 0.3
v 0 1 0
v 9 9 9
v 2 0 0
v 2 1 0.25
v 1.5 1.8 0.5
v 0 2 0
v 1 2 0.75
v -0.5 1.5 0
vt 0 0
vt 0.5 0
vt 0.5 0.5
vt 0 0.5
vt 1 0
vt 1 0.5
vt 0.25 1
vt 0.75 1
vt 0.1 0.9
o fender
g r\xf4pe  left
usemtl caf\xe9
s 1
f 1/1 2/2 3/3 4/4
g right
s off
f 2/2 3/3 7/6 6/5
usemtl tar
f 3 7 8
o strap
s 7
f 4/4 3/3 10/8 9/7 11/9
";

fn fender() -> Cage {
    read_cage_from(FENDER, Path::new("fender.obj")).unwrap()
}

fn surface_of(cage: &Cage) -> Surface {
    let topology = Topology::new(&cage.mesh);
    let rule = BoundaryRule::EdgeAndCorner;
    Surface::new(ControlMesh::new(
        &cage.mesh,
        topology,
        &Creases::default(),
        rule,
    ))
}

fn written(cage: &Cage, level: usize, colours: PreviewColours) -> Vec<u8> {
    let mut text = Vec::new();
    let options = PreviewOptions {
        level,
        samples: Samples::Refined,
        colours,
        material_libraries: &cage.material_libraries,
    };
    write_preview(&mut text, cage, &surface_of(cage), &options).unwrap();
    text
}

fn read_back(text: &[u8]) -> Cage {
    read_cage_from(text, Path::new("preview.obj")).unwrap()
}

#[test]
fn level_0_is_the_cage_itself() {
    let cage = fender();
    let mut back = read_back(&written(&cage, 0, PreviewColours::Own));
    back.vertex_lines = cage.vertex_lines.clone();
    back.face_lines = cage.face_lines.clone();
    assert_eq!(back, cage);
}

#[test]
fn the_file_holds_the_refined_mesh_bit_for_bit() {
    let cage = fender();
    for level in 1..4 {
        let back = read_back(&written(&cage, level, PreviewColours::Own));
        let refined = refine(&surface_of(&cage), level, Samples::Refined);
        let positions: Vec<[f64; 3]> = back.mesh.positions().iter().map(|&p| p.into()).collect();
        assert_eq!(positions, refined.positions);
        let size = refined_size(&Topology::new(&cage.mesh), level).unwrap();
        assert_eq!(
            (positions.len() as u64, back.mesh.face_count() as u64),
            size
        );
        assert!(back.mesh.faces().all(|face| face.len() == 4));
    }
}

#[test]
fn cage_vertices_keep_their_numbers_and_loose_ones_their_place() {
    let cage = fender();
    let back = read_back(&written(&cage, 2, PreviewColours::Own));
    assert_eq!(back.mesh.positions()[4], cage.mesh.positions()[4]);
    // Border vertices in one face are sharp corners: they stay.
    assert_eq!(back.mesh.positions()[0], cage.mesh.positions()[0]);
    let used = |v: u32| back.mesh.corner_vertices().contains(&v);
    let count = cage.mesh.vertex_count() as u32;
    assert!((0..count).all(|v| used(v) == (v != 4)));
}

#[test]
fn children_inherit_object_group_material_and_smoothing_group() {
    let cage = fender();
    for level in 1..3 {
        let back = read_back(&written(&cage, level, PreviewColours::Own));
        let topology = Topology::new(&cage.mesh);
        let numbering = Numbering::new(&topology, level);
        for f in 0..cage.mesh.face_count() {
            for child in numbering.children(f) {
                assert_eq!(back.objects.get(child), cage.objects.get(f));
                assert_eq!(back.groups.get(child), cage.groups.get(f));
                assert_eq!(back.materials.get(child), cage.materials.get(f));
                assert_eq!(back.smoothing.of_face[child], cage.smoothing.of_face[f]);
            }
        }
        assert_eq!(back.material_libraries, cage.material_libraries);
        assert!(back.smoothing.stated);
    }
}

#[test]
fn names_that_are_no_utf_8_come_out_byte_for_byte() {
    let text = written(&fender(), 1, PreviewColours::Own);
    let has = |line: &[u8]| text.split(|&b| b == b'\n').any(|l| l == line);
    assert!(has(b"g r\xf4pe  left") && has(b"usemtl caf\xe9"));
}

#[test]
fn faces_carry_uvs_where_their_parent_does() {
    let cage = fender();
    for level in 1..4 {
        let back = read_back(&written(&cage, level, PreviewColours::Own));
        let layer = back.uvs.as_ref().unwrap();
        let numbering = Numbering::new(&Topology::new(&cage.mesh), level);
        for f in 0..cage.mesh.face_count() {
            for child in numbering.children(f) {
                let uvs = &layer.of_corner[back.mesh.face_corners(child)];
                assert_eq!(uvs.contains(&NONE), f == 2, "face {f}");
            }
        }
        let mut used = vec![false; layer.coordinates.len()];
        let of_corner = layer.of_corner.iter().filter(|&&t| t != NONE);
        of_corner.for_each(|&t| used[t as usize] = true);
        assert!(
            used.iter().all(|&u| u),
            "level {level}: a vt without a corner"
        );
        assert!(
            layer
                .coordinates
                .iter()
                .flatten()
                .all(|x| (0.0..=1.0).contains(x))
        );
    }
}

#[test]
fn risks_show_as_colours_and_nothing_is_smoothed_away() {
    let cage = fender();
    let mut risks = vec![0.0; cage.mesh.vertex_count()];
    risks[2] = 0.9;
    let back = read_back(&written(&cage, 2, PreviewColours::Risk(&risks)));
    let colours = back.colours.unwrap();
    assert_eq!(colours.len(), back.mesh.vertex_count());
    for (v, &risk) in risks.iter().enumerate() {
        for (found, wanted) in colours[v].iter().zip(risk_colour(risk)) {
            // Half a step of 255, and the rounding to three decimals.
            assert!((found - f64::from(wanted)).abs() < 0.5 / 255.0 + 0.0005);
        }
    }
    assert!(colours.iter().flatten().all(|c| (0.0..=1.0).contains(c)));
}

#[test]
fn the_cage_s_own_colours_are_carried_along() {
    let text = b"v 0 0 0 1 0 0\nv 1 0 0 0 1 0\nv 1 1 0 0 0 1\nv 0 1 0 1 1 1\nf 1 2 3 4\n";
    let cage = read_cage_from(text, Path::new("flag.obj")).unwrap();
    let back = read_back(&written(&cage, 1, PreviewColours::Own));
    let colours = back.colours.unwrap();
    assert_eq!(colours[..4], cage.colours.unwrap()[..]);
    let centre = colours.last().unwrap();
    assert!(
        centre
            .iter()
            .all(|c| (c - 0.5).abs() < 0.5 / 255.0 + 0.0005)
    );
}

#[test]
fn a_file_says_only_what_its_cage_says() {
    let cage = read_cage_from(b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n", Path::new("a.obj"));
    let text = written(&cage.unwrap(), 1, PreviewColours::Own);
    let text = String::from_utf8(text).unwrap();
    let words = text.lines().map(|line| line.split(' ').next().unwrap());
    assert!(words.clone().skip(1).all(|word| word == "v" || word == "f"));
    assert_eq!(words.filter(|&word| word == "f").count(), 3);
}

#[test]
fn the_text_does_not_depend_on_the_number_of_threads() {
    let cage = fender();
    let risks: Vec<f64> = (0..cage.mesh.vertex_count())
        .map(|v| v as f64 / 11.0)
        .collect();
    let make = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
        pool.unwrap()
            .install(|| written(&cage, 6, PreviewColours::Risk(&risks)))
    };
    let one = make(1);
    assert!(
        one.len() > 1_000_000,
        "too short to be made in several pieces"
    );
    assert!(one == make(3) && one == make(2));
}

#[test]
fn writing_that_fails_is_told() {
    struct Full(usize);
    impl std::io::Write for Full {
        fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
            if bytes.len() > self.0 {
                return Err(std::io::ErrorKind::StorageFull.into());
            }
            self.0 -= bytes.len();
            Ok(bytes.len())
        }
        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }
    let cage = fender();
    let options = PreviewOptions {
        level: 3,
        samples: Samples::Refined,
        colours: PreviewColours::Own,
        material_libraries: &[],
    };
    for room in [0, 100, 10_000] {
        let error = write_preview(&mut Full(room), &cage, &surface_of(&cage), &options);
        assert_eq!(error.unwrap_err().kind(), std::io::ErrorKind::StorageFull);
    }
}
