//! Reading OBJ cages: what must survive, and what must be refused in one clear line.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::fs;
use std::path::Path;

use cagewise::io::{Entry, LineFault, ReadError, read_cage, read_cage_from};
use cagewise::mesh::{Cage, NONE};

fn read(text: impl AsRef<[u8]>) -> Cage {
    read_cage_from(text.as_ref(), Path::new("cage.obj")).unwrap_or_else(|e| panic!("{e}"))
}

/// The message of a refusal, which must be one line of printable characters.
fn refusal(text: impl AsRef<[u8]>) -> String {
    let message = match read_cage_from(text.as_ref(), Path::new("cage.obj")) {
        Ok(_) => panic!("accepted: {}", String::from_utf8_lossy(text.as_ref())),
        Err(error) => error.to_string(),
    };
    assert!(!message.chars().any(char::is_control), "{message:?}");
    message
}

/// A unit square with the given statement as its last line (line 5).
fn square_and(last: &str) -> String {
    format!("v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\n{last}\n")
}

fn faces(cage: &Cage) -> Vec<Vec<u32>> {
    cage.mesh.faces().map(<[u32]>::to_vec).collect()
}

fn positions(cage: &Cage) -> Vec<[f64; 3]> {
    cage.mesh
        .positions()
        .iter()
        .map(|p| [p.x, p.y, p.z])
        .collect()
}

fn names(table: &cagewise::mesh::NameTable) -> Vec<Option<&[u8]>> {
    (0..table.of_face.len()).map(|f| table.get(f)).collect()
}

mod order {
    use super::*;

    #[test]
    fn vertices_keep_the_files_order_whatever_the_faces_use_first() {
        let cage = read("v 0 0 0\nv 1 0 0\nv 2 0 0\nv 3 1 0\nf 4 2 1\nf 3 2 4\n");
        let x: Vec<f64> = cage.mesh.positions().iter().map(|p| p.x).collect();
        assert_eq!(x, [0.0, 1.0, 2.0, 3.0]);
        assert_eq!(faces(&cage), [[3, 1, 0], [2, 1, 3]]);
    }

    #[test]
    fn unreferenced_vertices_uvs_and_normals_are_kept() {
        let cage = read(
            "v 9 9 9\nv 0 0 0\nv 1 0 0\nv 0 1 0\nv 8 8 8\n\
             vt 9 9\nvt 0.5 0.25\nvt 8 8\nvn 0 1 0\nvn 0 0 1\nvn 1 0 0\n\
             f 2/2/2 3/2/2 4/2/2\n",
        );
        assert_eq!(cage.mesh.vertex_count(), 5);
        assert_eq!(positions(&cage)[4], [8.0; 3]);
        let uvs = cage.uvs.unwrap();
        assert_eq!(uvs.coordinates, [[9.0, 9.0], [0.5, 0.25], [8.0, 8.0]]);
        assert_eq!(uvs.of_corner, [1, 1, 1]);
        let normals = cage.normals.unwrap();
        assert_eq!(normals.vectors.len(), 3);
        assert_eq!(normals.of_corner, [1, 1, 1]);
    }

    #[test]
    fn objects_groups_and_materials_do_not_split_the_mesh() {
        let cage = read(
            "mtllib harbour.mtl\no hull\nv 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nusemtl wood\n\
             f 1 2 3\no deck\ng planks\nusemtl paint\nf 1 3 4\n",
        );
        assert_eq!(cage.mesh.vertex_count(), 4);
        assert_eq!(faces(&cage), [[0, 1, 2], [0, 2, 3]]);
        assert_eq!(names(&cage.objects), [Some(&b"hull"[..]), Some(b"deck")]);
        assert_eq!(names(&cage.groups), [None, Some(&b"planks"[..])]);
        assert_eq!(names(&cage.materials), [Some(&b"wood"[..]), Some(b"paint")]);
        assert_eq!(cage.material_libraries, [b"harbour.mtl"]);
    }

    #[test]
    fn faces_of_three_sides_only_are_read_like_any_other() {
        let cage = read("v 0 0 0\nv 1 0 0\nv 1 1 0\nf 1 2 3\n");
        assert_eq!(faces(&cage), [[0, 1, 2]]);
    }

    #[test]
    fn repeated_vertices_within_a_face_are_left_to_later_checks() {
        let cage = read(square_and("f 1 1 2 2 3"));
        assert_eq!(faces(&cage), [[0, 0, 1, 1, 2]]);
    }

    #[test]
    fn entries_of_different_number_each_keep_their_order() {
        // More UVs than vertices, fewer normals.
        let uvs: String = (0..50).map(|i| format!("vt 0.{i:02} {i}\n")).collect();
        let cage = read(format!(
            "v 0 0 0\nv 1 0 0\nv 1 1 0\n{uvs}vn 0 0 1\nvn 0 1 0\nf 3/50/2 2/7/1 1/1/1\n"
        ));
        let layer = cage.uvs.unwrap();
        assert!((0..50).all(|i| layer.coordinates[i][1] == i as f64));
        assert_eq!(layer.of_corner, [49, 6, 0]);
        assert_eq!(cage.normals.unwrap().of_corner, [1, 0, 0]);
    }

    #[test]
    fn vertices_and_uvs_may_stand_after_the_faces_that_name_them() {
        let cage = read("v 0 0 0\nf 1/1 2/2 3/3\nv 1 0 0\nv 1 1 0\nvt 0 0\nvt 1 0\nvt 1 1\n");
        assert_eq!(faces(&cage), [[0, 1, 2]]);
        assert_eq!(cage.uvs.unwrap().of_corner, [0, 1, 2]);
    }

    #[test]
    fn lines_of_vertices_and_faces_are_known() {
        let cage = read("# a buoy\nv 0 0 0\n\nv 1 0 0\nv \\\n1 1 0\nf 1 2 3\nf 3 2 \\\n 1\n");
        assert_eq!(cage.vertex_lines, [2, 4, 5]);
        assert_eq!(cage.face_lines, [7, 8]);
    }
}

mod corners {
    use super::*;

    #[test]
    fn negative_indices_count_back_from_where_they_stand() {
        let cage = read(
            "v 0 0 0\nv 1 0 0\nv 1 1 0\nvt 0 0\nvt 1 1\nvn 0 0 1\nf -3/-2/-1 -2/-1/-1 -1/-1/-1\n\
             v 5 5 5\nvt 0.5 0.5\nf -1/-1 -2/-3 -3/1\n",
        );
        assert_eq!(faces(&cage), [[0, 1, 2], [3, 2, 1]]);
        assert_eq!(cage.uvs.unwrap().of_corner, [0, 1, 1, 2, 0, 0]);
        let normals = cage.normals.unwrap().of_corner;
        assert_eq!(normals, [0, 0, 0, NONE, NONE, NONE]);
    }

    #[test]
    fn every_form_of_a_corner_is_read() {
        let entries = "v 0 0 0\nv 1 0 0\nv 1 1 0\nvt 0 0\nvt 1 1\nvn 0 0 1\nvn 0 1 0\n";
        let forms = [
            ("f 1 2 3", None, None),
            ("f 1/ 2/ 3/", None, None),
            ("f 1// 2// 3//", None, None),
            ("f 1/2 2/2/ 3/1", Some([1, 1, 0]), None),
            ("f 1//2 2//2 3//1", None, Some([1, 1, 0])),
            ("f 1/2/1 2/1/2 3/1/1", Some([1, 0, 0]), Some([0, 1, 0])),
            (
                "f +1/+2/+1 02/01/02 3/1/1",
                Some([1, 0, 0]),
                Some([0, 1, 0]),
            ),
        ];
        for (face, uvs, normals) in forms {
            let cage = read(format!("{entries}{face}\n"));
            assert_eq!(faces(&cage), [[0, 1, 2]], "{face}");
            let found = cage.uvs.map(|l| l.of_corner);
            assert_eq!(found, uvs.map(Vec::from), "{face}");
            let found = cage.normals.map(|l| l.of_corner);
            assert_eq!(found, normals.map(Vec::from), "{face}");
        }
    }

    #[test]
    fn a_corner_without_uv_or_normal_does_not_take_the_previous_corners() {
        let cage = read(
            "v 0 0 0\nv 1 0 0\nv 1 1 0\nvt 0.1 0.2\nvt 0.3 0.4\nvn 0 0 1\n\
             f 1 2/1/1 3\nf 1//1 2 3/2\n",
        );
        let uvs = cage.uvs.unwrap();
        assert_eq!(uvs.coordinates, [[0.1, 0.2], [0.3, 0.4]]);
        assert_eq!(uvs.of_corner, [NONE, 0, NONE, NONE, NONE, 1]);
        let normals = cage.normals.unwrap();
        assert_eq!(normals.vectors.len(), 1);
        assert_eq!(normals.of_corner, [NONE, 0, NONE, 0, NONE, NONE]);
    }

    #[test]
    fn one_vertex_may_have_several_uvs() {
        let cage = read(square_and(
            "vt 0 0\nvt 1 0\nvt 0 1\nf 1/1 2/2 3/3\nf 1/3 3/1 4/2",
        ));
        assert_eq!(cage.mesh.vertex_count(), 4);
        assert_eq!(cage.uvs.unwrap().of_corner, [0, 1, 2, 2, 0, 1]);
    }

    #[test]
    fn a_face_may_have_ten_thousand_corners() {
        let n = 10_000;
        let vertices: String = (0..n).map(|i| format!("v {i} 0 0\n")).collect();
        let face: String = (1..=n).rev().map(|i| format!(" {i}")).collect();
        let cage = read(format!("{vertices}f{face}\n"));
        assert_eq!(cage.mesh.corner_count(), n);
        let corners: Vec<u32> = (0..n as u32).rev().collect();
        assert_eq!(cage.mesh.face(0), corners);
    }

    #[test]
    fn face_outlines_of_old_files_are_faces() {
        assert_eq!(faces(&read(square_and("fo 1 2 3 4"))), [[0, 1, 2, 3]]);
    }
}

mod attributes {
    use super::*;

    #[test]
    fn smoothing_groups_are_kept_per_face() {
        let cage = read(square_and(
            "f 1 2 3\ns 1\nf 1 2 3\ns off\nf 1 2 3\ns 7\nf 1 2 3\ns 0\nf 1 2 3",
        ));
        assert!(cage.smoothing.stated);
        assert_eq!(cage.smoothing.of_face, [0, 1, 0, 7, 0]);
        assert!(!read(square_and("f 1 2 3")).smoothing.stated);
    }

    #[test]
    fn smoothing_groups_of_any_size_stay_apart() {
        let numbers = [
            "1",
            "2147483648",
            "4294967296",
            "4294967295",
            "99999999999999999999999",
            "0004294967296",
        ];
        let text: String = numbers
            .iter()
            .map(|n| format!("s {n}\nf 1 2 3\n"))
            .collect();
        let labels = read(square_and(&text)).smoothing.of_face;
        assert_eq!(labels[2], labels[5]);
        let distinct: std::collections::BTreeSet<u32> = labels.iter().copied().collect();
        assert_eq!(distinct.len(), 5);
        assert!(!distinct.contains(&0));
    }

    #[test]
    fn names_keep_bytes_that_are_not_utf_8() {
        let mut text = square_and("").into_bytes();
        text.extend_from_slice(
            b"# d\xe9k\no bou\xe9e\ng caf\xff\nusemtl \x80\nmtllib \xfe.mtl\nf 1 2 3 # \xe9\n",
        );
        let cage = read(text);
        assert_eq!(names(&cage.objects), [Some(&b"bou\xe9e"[..])]);
        assert_eq!(names(&cage.groups), [Some(&b"caf\xff"[..])]);
        assert_eq!(names(&cage.materials), [Some(&b"\x80"[..])]);
        assert_eq!(cage.material_libraries, [b"\xfe.mtl"]);
    }

    #[test]
    fn names_are_the_whole_rest_of_the_line_trimmed() {
        let cage = read(square_and(
            "g \t port side  bow \nusemtl Varnish #25\nf 1 2 3",
        ));
        assert_eq!(names(&cage.groups), [Some(&b"port side  bow"[..])]);
        assert_eq!(names(&cage.materials), [Some(&b"Varnish #25"[..])]);
    }

    #[test]
    fn statements_without_a_name_state_an_empty_one() {
        let cage = read(square_and("f 1 2 3\ng a\nf 1 2 3\ng\no\nusemtl\nf 1 2 3"));
        assert_eq!(names(&cage.groups), [None, Some(&b"a"[..]), Some(b"")]);
        assert_eq!(names(&cage.objects), [None, None, Some(&b""[..])]);
        assert_eq!(names(&cage.materials), [None, None, Some(&b""[..])]);
    }

    #[test]
    fn names_are_listed_once_in_order_of_first_use() {
        let cage = read(square_and(
            "g unused\ng b\nf 1 2 3\ng a\nf 1 2 3\ng b\nf 1 2 3",
        ));
        assert_eq!(cage.groups.names, [b"b", b"a"]);
        assert_eq!(cage.groups.of_face, [0, 1, 0]);
    }

    #[test]
    fn several_material_libraries_are_kept_in_order() {
        let cage = read(square_and("mtllib rope.mtl\nmtllib old brass.mtl\nf 1 2 3"));
        assert_eq!(
            cage.material_libraries,
            [&b"rope.mtl"[..], b"old brass.mtl"]
        );
    }

    #[test]
    fn colours_on_some_vertices_leave_the_others_white() {
        let cage =
            read("v 0 0 0\nv 1 0 0 .5 .25 0\nv 1 1 0\nv 0 1 0 2 1 0 0.5\nv 2 2 2\nf 1 2 3\n");
        let colours = cage.colours.unwrap();
        let white = [1.0; 3];
        assert_eq!(
            colours,
            [white, [0.5, 0.25, 0.0], white, [1.0, 0.0, 0.5], white]
        );
    }

    #[test]
    fn a_w_is_dropped_and_does_not_scale() {
        let cage = read("v 1 2 3 2\nv 4 5 6 0\nv 7 8 9\nf 1 2 3\n");
        assert_eq!(positions(&cage), [[1., 2., 3.], [4., 5., 6.], [7., 8., 9.]]);
        assert_eq!(cage.colours, None);
    }

    #[test]
    fn uvs_may_have_one_two_or_three_numbers() {
        let cage = read(square_and("vt .5\nvt .25 .75\nvt 1 2 3\nf 1/1 2/2 3/3"));
        let uvs = cage.uvs.unwrap().coordinates;
        assert_eq!(uvs, [[0.5, 0.0], [0.25, 0.75], [1.0, 2.0]]);
    }

    #[test]
    fn polylines_and_points_are_counted_not_read_as_faces() {
        let cage = read(square_and("l 1 2 3 4\nl 1 2\np 1\np 2\np 3\nf 1 2 3"));
        assert_eq!(faces(&cage), [[0, 1, 2]]);
        assert_eq!((cage.skipped.lines, cage.skipped.points), (2, 3));
        assert_eq!(cage.skipped.total(), 5);
    }

    #[test]
    fn free_form_and_render_statements_are_counted_apart_from_unknown_ones() {
        let free_form = "vp cstype deg bmat step curv curv2 surf parm trim hole scrv sp end con mg \
                         ctech stech bsp bzp cdc cdp res";
        let render = "bevel c_interp d_interp lod maplib usemap shadow_obj trace_obj";
        let unknown = "call csh V weight";
        let all = [free_form, render, unknown].join(" ");
        let text: String = all
            .split_whitespace()
            .map(|word| format!("{word} 1 2\n"))
            .collect();
        let skipped = read(square_and(&format!("{text}f 1 2 3"))).skipped;
        assert_eq!(skipped.free_form, free_form.split_whitespace().count());
        assert_eq!(skipped.render_attributes, render.split_whitespace().count());
        assert_eq!(skipped.unknown, unknown.split_whitespace().count());
    }
}

mod spelling {
    use super::*;

    #[test]
    fn line_ends_may_be_lf_crlf_or_cr() {
        let plain = "v 0 0 0\nv 1 0 0\n\nv 1 1 0\ng quay\nusemtl iron\nf 1 2 3\n";
        let expected = read(plain);
        assert_eq!(read(plain.replace('\n', "\r\n")), expected);
        assert_eq!(read(plain.replace('\n', "\r")), expected);
        assert_eq!(read(plain.trim_end()), expected);
    }

    #[test]
    fn a_byte_order_mark_does_not_swallow_the_first_vertex() {
        let cage = read("\u{feff}v 7 0 0\nv 1 0 0\nv 1 1 0\nf 1 2 3\n");
        assert_eq!(positions(&cage)[0], [7.0, 0.0, 0.0]);
    }

    #[test]
    fn tabs_form_feeds_and_runs_of_blanks_part_tokens() {
        let cage = read(" \tv\t0 \t0\t 0 \nv\x0c1 0\x0b0\n\x0c\nv 1  1   0\t\n\tf  1\t2\x0c3 \n");
        assert_eq!(positions(&cage)[1], [1.0, 0.0, 0.0]);
        assert_eq!(faces(&cage), [[0, 1, 2]]);
    }

    #[test]
    fn trailing_comments_are_cut() {
        let cage = read(
            "v 0 0 0 # keel\nv 1 0 0#stem\nv 1 1 0 # 0.5 0.5 0.5\n#f 9 9 9\n\
             s 1 # smooth\nf 1 2 3 # 4\n",
        );
        assert_eq!(faces(&cage), [[0, 1, 2]]);
        assert_eq!(cage.colours, None);
        assert_eq!(cage.smoothing.of_face, [1]);
    }

    #[test]
    fn a_backslash_continues_a_line() {
        for end in ["\n", "\r\n", "\r"] {
            let text = "v 0 0 \\\n0\nv 1 0 0\nv 1 1 0\nf 1 \\\n\\\n 2\\\n3\n".replace('\n', end);
            let cage = read(text);
            assert_eq!(cage.mesh.vertex_count(), 3);
            assert_eq!(faces(&cage), [[0, 1, 2]]);
        }
        assert_eq!(faces(&read(square_and("f 1 2 3 \\"))), [[0, 1, 2]]);
    }

    #[test]
    fn a_backslash_that_ends_a_comment_does_not_swallow_the_next_line() {
        let cage = read("# old\\new\\\nv 0 0 0 # \\\nv 1 0 0\nv 1 1 0\nf 1 2 3\n");
        assert_eq!(cage.mesh.vertex_count(), 3);
    }

    #[test]
    fn many_continuations_are_one_line() {
        let mut text = square_and("f \\");
        for i in 0..100_000 {
            text.push_str(["1 \\\n", "2 \\\n", "3\\\n"][i % 3]);
        }
        assert_eq!(read(text).mesh.corner_count(), 100_000);
    }

    #[test]
    fn every_spelling_of_a_decimal_number_is_read() {
        let cage = read("v .5 5. +1\nv 1E2 1e-2 -1.5e+1\nv 007 -0 1e-400\nf 1 2 3\n");
        let expected = [[0.5, 5.0, 1.0], [100.0, 0.01, -15.0], [7.0, 0.0, 0.0]];
        assert_eq!(positions(&cage), expected);
    }

    #[test]
    fn positions_are_read_in_double_precision_at_any_scale() {
        let cage =
            read("v 0.1234567890123456 1e-150 1e150\nv 100000000.00000001 0 0\nv 1 1 1\nf 1 2 3\n");
        assert_eq!(
            positions(&cage)[0],
            [0.123_456_789_012_345_6, 1e-150, 1e150]
        );
        assert_eq!(positions(&cage)[1][0], 100_000_000.000_000_01);
    }
}

mod refusals {
    use super::*;

    #[test]
    fn an_index_out_of_range_is_refused() {
        for (face, fault) in [
            (
                "f 1 2 99",
                "the face names vertex 99, but the file has 4 vertices",
            ),
            (
                "f 1 2 5",
                "the face names vertex 5, but the file has 4 vertices",
            ),
            (
                "f 1 2 99999999999",
                "the face names vertex 99999999999, but the file has 4 vertices",
            ),
            (
                "f 1 2 4294967296",
                "the face names vertex 4294967296, but the file has 4 vertices",
            ),
            (
                "f 1/1 2/1 3/1",
                "the face names UV 1, but the file has 0 UVs",
            ),
            (
                "f 1//1 2//1 3//1",
                "the face names normal 1, but the file has 0 normals",
            ),
        ] {
            let expected = format!("cage.obj:5: {fault}; correct the index");
            assert_eq!(refusal(square_and(face)), expected);
        }
    }

    #[test]
    fn an_index_of_zero_is_refused() {
        let expected =
            "cage.obj:5: the face names vertex 0, but OBJ counts from 1; correct the index";
        assert_eq!(refusal(square_and("f 0 1 2")), expected);
        let message = refusal(square_and("f 1/0 1 2"));
        assert!(message.contains(":5: the face names UV 0"), "{message}");
        assert!(refusal(square_and("f 1//-0 1 2")).contains("normal 0"));
    }

    #[test]
    fn a_negative_index_before_the_first_entry_is_refused() {
        let expected = "cage.obj:5: the face names vertex -5, but before it the file has 4 vertices; \
                        correct the index";
        assert_eq!(refusal(square_and("f -5 -2 -1\nv 0 0 0")), expected);
    }

    #[test]
    fn numbers_that_are_not_finite_are_refused() {
        for token in ["nan", "NaN", "inf", "-Infinity", "1e999", "-nan(ind)"] {
            for statement in ["v", "vn"] {
                let message = refusal(square_and(&format!("{statement} 0 {token} 0\nf 1 2 3")));
                let expected =
                    format!("cage.obj:5: '{token}' in '{statement}' is not a finite number");
                assert!(message.starts_with(&expected), "{message}");
            }
            let message = refusal(square_and(&format!("vt {token} 0\nf 1 2 3")));
            assert!(message.contains(":5: "), "{message}");
        }
        let digits = "9".repeat(400);
        assert!(refusal(square_and(&format!("v {digits} 0 0\nf 1 2 3"))).contains("finite"));
        let colour = refusal(square_and("v 0 0 0 1 inf 1\nf 1 2 3"));
        assert!(colour.contains("finite"), "{colour}");
    }

    #[test]
    fn malformed_numbers_are_refused() {
        for token in ["x", "1,5", "1d5", "0x10", "1_0", "--1", ".", "1e", "½"] {
            let message = refusal(square_and(&format!("v 0 0 {token}\nf 1 2 3")));
            let expected = format!("cage.obj:5: '{token}' in 'v' is not a number; ");
            assert!(message.starts_with(&expected), "{message}");
        }
    }

    #[test]
    fn statements_with_too_few_or_too_many_numbers_are_refused() {
        for (line, count) in [
            ("v", 0),
            ("v 1 2", 2),
            ("v 1 2 3 4 5", 5),
            ("v 1 2 3 4 5 6 7 8", 8),
            ("vt", 0),
            ("vt 1 2 3 4", 4),
            ("vn 1 2", 2),
            ("vn 1 2 3 4", 4),
        ] {
            let message = refusal(square_and(&format!("{line}\nf 1 2 3")));
            let has_count =
                message.contains(&format!("has {count} number")) && message.contains("; it takes ");
            assert!(
                message.starts_with("cage.obj:5: ") && has_count,
                "{message}"
            );
        }
    }

    #[test]
    fn malformed_corners_are_refused() {
        for token in [
            "x", "/1", "//1", "1/x", "1/1/1/1", "1.5", "1//x", "-", "1-2", "1\\2",
        ] {
            let message = refusal(square_and(&format!("vt 0 0\nvn 0 0 1\nf 1 2 {token}")));
            let expected = format!("cage.obj:7: '{token}' is not a face corner; ");
            assert!(message.starts_with(&expected), "{message}");
        }
    }

    #[test]
    fn faces_with_fewer_than_three_corners_are_refused() {
        for (face, count) in [
            ("f", "0 corners"),
            ("f 1", "1 corner"),
            ("f 1 2 # 3", "2 corners"),
        ] {
            let expected =
                format!("cage.obj:5: the face has {count}; give it at least 3, or delete the line");
            assert_eq!(refusal(square_and(face)), expected);
        }
    }

    #[test]
    fn malformed_smoothing_groups_are_refused() {
        for rest in ["", "on", "-1", "1.5", "1 2"] {
            let message = refusal(square_and(&format!("s {rest}\nf 1 2 3")));
            let expected = format!("cage.obj:5: '{rest}' is not a smoothing group; ");
            assert!(message.starts_with(&expected), "{message}");
        }
    }

    #[test]
    fn a_fault_in_a_continued_line_names_its_first_line() {
        let message = refusal("v 0 0 0\nv 1 \\\n0 \\\nzero\nf 1 1 1\n");
        assert!(message.starts_with("cage.obj:2: 'zero'"), "{message}");
    }

    #[test]
    fn a_fault_after_crlf_and_cr_lines_names_the_right_line() {
        assert!(refusal("v 0 0 0\r\n\r\nv 1 0\r\n").starts_with("cage.obj:3: "));
        assert!(refusal("v 0 0 0\r\rv 1 0\r").starts_with("cage.obj:3: "));
    }

    #[test]
    fn a_file_without_faces_is_refused() {
        let expected =
            "cage.obj: the file has no faces (4 vertices); export the polygons with the cage";
        assert_eq!(refusal(square_and("l 1 2 3 4")), expected);
        assert!(refusal("hello\n").contains("no faces (0 vertices)"));
    }

    #[test]
    fn an_empty_file_is_refused() {
        for text in ["", "\u{feff}", " \r\n\t\n"] {
            assert_eq!(
                refusal(text),
                "cage.obj: the file is empty; export it again"
            );
        }
    }

    #[test]
    fn files_of_another_kind_are_named_for_what_they_are() {
        for (bytes, kind) in [
            (&b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR"[..], "a PNG picture"),
            (b"\xff\xd8\xff\xe0\0\x10JFIF", "a JPEG picture"),
            (b"PK\x03\x04\x14\0", "a ZIP archive"),
            (b"\x1f\x8b\x08\0", "a gzip archive"),
            (b"%PDF-1.7\n", "a PDF document"),
            (b"glTF\x02\0\0\0", "a binary glTF model"),
            (b"ply\nformat ascii 1.0\n", "a PLY model"),
            (b"<?xml version=\"1.0\"?>", "an XML document"),
            (b"\xff\xfev\0 \0", "UTF-16 text"),
            (b"v 0 0 0\nv 1 \x000 0\n", "binary data"),
        ] {
            let expected = format!("cage.obj: this is {kind}, not an OBJ text; name an OBJ text");
            assert_eq!(refusal(bytes), expected);
        }
    }

    #[test]
    fn control_characters_and_stray_bytes_in_messages_are_escaped_and_cut() {
        let message = refusal(square_and("v 0 0 \x1b[31mred\x1b[0m"));
        assert!(message.contains("\\u{1b}[31mred"), "{message}");
        let message = refusal(b"v 0 0 caf\xe9\n");
        assert!(message.contains("'caf\\xe9'"), "{message}");
        let message = refusal(format!("v 0 0 {}\n", "x".repeat(100_000)));
        assert!(message.len() < 200, "{message}");
        let error = read_cage_from(b"", Path::new("a\nb\x1b.obj")).unwrap_err();
        assert!(!error.to_string().contains(['\n', '\x1b']));
    }

    #[test]
    fn refusals_are_typed() {
        let error = read_cage_from(b"v 0 0 0\nf 1 0 1\n", Path::new("c.obj")).unwrap_err();
        let ReadError::Line { line, fault, .. } = error else {
            panic!("{error:?}");
        };
        assert_eq!(line, 2);
        assert_eq!(
            fault,
            LineFault::IndexZero {
                entry: Entry::Vertex
            }
        );
    }
}

mod files {
    use super::*;

    #[test]
    fn a_file_on_disk_is_read_like_its_bytes() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("cleat.obj");
        let text = square_and("f 1 2 3 4");
        fs::write(&path, &text).unwrap();
        assert_eq!(read_cage(&path).unwrap(), read(text));
    }

    #[test]
    fn a_missing_file_is_refused() {
        let message = read_cage(Path::new("no/such.obj")).unwrap_err().to_string();
        assert_eq!(
            message,
            "no/such.obj: there is no such file; check the path"
        );
    }

    #[test]
    fn a_folder_is_refused() {
        let folder = tempfile::tempdir().unwrap();
        let message = read_cage(folder.path()).unwrap_err().to_string();
        assert!(
            message.ends_with("this is a folder, not a file; name a file in it"),
            "{message}"
        );
    }

    #[cfg(unix)]
    #[test]
    fn a_device_that_never_ends_is_refused() {
        let message = read_cage(Path::new("/dev/zero")).unwrap_err().to_string();
        assert!(message.contains("not a regular file"), "{message}");
    }
}
