//! The pictures: what they show and where, on forms whose image is known; that they are whole, the
//! same every time, and made of anything that can be assessed.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;

use cagewise::assess::{AssessOptions, Assessment};
use cagewise::mesh::{Cage, PolygonMesh, Topology, Vec3};
use cagewise::picture::shading::decode_colour;
use cagewise::picture::{Gallery, Picture, UpAxis, View, Way, picture_names};
use cagewise::report::risk_colour;
use cagewise::risk::Cause;
use support::cages::{boxed, cube, cube_sphere, height_grid, moved};

/// Share of a panel's side that is left free on each side of what is framed.
const MARGIN: f64 = 0.06;

fn assessed(mesh: PolygonMesh) -> Assessment {
    Cage::from_mesh(mesh).assess(&AssessOptions::default())
}

/// A mesh assessed with every edge infinitely sharp: its limit surface is the mesh itself.
fn all_sharp(mesh: PolygonMesh) -> Assessment {
    let mut options = AssessOptions::default();
    let edges = Topology::new(&mesh).edge_count() as u32;
    options.creases.edges = (0..edges).map(|e| (e, f64::INFINITY)).collect();
    Cage::from_mesh(mesh).assess(&options)
}

fn view(gallery: &Gallery, name: &str) -> View {
    let mut views = gallery.views().into_iter();
    views.find(|view| view.name == name).unwrap()
}

/// The colour of a pixel of a panel.
fn pixel(picture: &Picture, way: Way, x: usize, y: usize) -> [u8; 3] {
    let [left, top] = Picture::panel_origin(way);
    picture.canvas.pixel(left + x, top + y).unwrap()
}

/// Everything of a panel that is not background: the least and greatest column and row.
fn silhouette(picture: &Picture, way: Way) -> Option<[[usize; 2]; 2]> {
    let background = pixel(picture, way, 0, 0);
    let side = Picture::panel_side();
    let mut found: Option<[[usize; 2]; 2]> = None;
    for y in 0..side {
        for x in (0..side).filter(|&x| pixel(picture, way, x, y) != background) {
            let [low, high] = found.get_or_insert([[x, y], [x, y]]);
            *low = [low[0].min(x), low[1].min(y)];
            *high = [high[0].max(x), high[1].max(y)];
        }
    }
    found
}

fn bytes(picture: &Picture) -> Vec<u8> {
    let mut bytes = Vec::new();
    picture.write(&mut bytes).unwrap();
    bytes
}

/// A slanting plate of nine by nine quads with a vertex pushed out of it by so much.
fn pushed_plate(height: f64) -> (PolygonMesh, usize) {
    let at = |x: f64, y: f64| 0.3 * x + 0.2 * y + if (x, y) == (4.0, 4.0) { height } else { 0.0 };
    (height_grid(9, 9, at), 4 * 10 + 4)
}

#[test]
fn a_picture_is_a_png_with_three_panels_and_something_in_each() {
    let assessment = assessed(pushed_plate(0.8).0);
    let gallery = Gallery::new(&assessment, "plate.obj", UpAxis::Y);
    let pictures = gallery.draw_all();
    assert_eq!(pictures.len(), gallery.views().len());
    for picture in &pictures {
        let bytes = bytes(picture);
        let mut reader = png::Decoder::new(std::io::Cursor::new(&bytes))
            .read_info()
            .unwrap();
        let mut pixels = vec![0; reader.output_buffer_size().unwrap()];
        let info = reader.next_frame(&mut pixels).unwrap();
        let (width, height) = (picture.canvas.width(), picture.canvas.height());
        assert_eq!((info.width as usize, info.height as usize), (width, height));
        assert!(width >= 3 * Picture::panel_side() && height > Picture::panel_side());
        assert_eq!(pixels, picture.canvas.pixels().as_flattened());
        for way in Way::ALL {
            let [low, high] = silhouette(picture, way).unwrap();
            let size = (high[0] - low[0]).max(high[1] - low[1]);
            assert!(size > Picture::panel_side() / 2, "{}: {size}", picture.name);
        }
    }
}

#[test]
fn names_are_those_of_the_views_and_ten_places_at_most() {
    let assessment = assessed(pushed_plate(0.8).0);
    let places = assessment.findings.places.len();
    assert!(places > 0);
    let drawn = Gallery::new(&assessment, "plate.obj", UpAxis::Y).draw_all();
    let names: Vec<String> = drawn.into_iter().map(|picture| picture.name).collect();
    assert_eq!(names, picture_names(places));
    let none = ["front.png", "side.png", "top.png", "three-quarter.png"];
    assert_eq!(picture_names(0), none);
    assert_eq!(picture_names(1)[4..], ["place-01.png"]);
    assert_eq!(picture_names(500).len(), 14);
    assert_eq!(picture_names(500)[13], "place-10.png");
}

#[test]
fn pictures_do_not_depend_on_the_number_of_threads() {
    let assessment = assessed(pushed_plate(0.8).0);
    let with_threads = |count| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(count).build();
        pool.unwrap().install(|| {
            let gallery = Gallery::new(&assessment, "plate.obj", UpAxis::Y);
            let views = gallery.views();
            [&views[3], &views[4]].map(|view| bytes(&gallery.draw(view)))
        })
    };
    assert!(with_threads(1) == with_threads(5));
}

#[test]
fn a_box_fills_its_frame_and_keeps_its_proportions() {
    // Width, height and depth as front, side and top see them, by the axis that is up.
    let cases = [
        (UpAxis::Y, "front", [0, 1]),
        (UpAxis::Y, "side", [2, 1]),
        (UpAxis::Y, "top", [0, 2]),
        (UpAxis::Z, "front", [0, 2]),
        (UpAxis::Z, "side", [1, 2]),
        (UpAxis::Z, "top", [0, 1]),
    ];
    let size = [2.0, 3.0, 5.0];
    let half = size.map(|s: f64| [-s / 2.0, s / 2.0]);
    let assessment = all_sharp(boxed(&half[0], &half[1], &half[2]));
    let side = Picture::panel_side() as f64;
    for (up, name, axes) in cases {
        let gallery = Gallery::new(&assessment, "box", up);
        let picture = gallery.draw(&view(&gallery, name));
        let seen = axes.map(|axis: usize| size[axis]);
        let pixels_per_unit = side * (1.0 - 2.0 * MARGIN) / seen[0].max(seen[1]);
        for way in Way::ALL {
            let [low, high] = silhouette(&picture, way).unwrap();
            for k in 0..2 {
                let half = 0.5 * seen[k] * pixels_per_unit;
                let wanted = [side / 2.0 - half, side / 2.0 + half];
                // The first pixel touched, and the one after the last.
                assert!((low[k] as f64 - wanted[0]).abs() <= 1.0, "{name}: {low:?}");
                assert!(
                    (high[k] as f64 + 1.0 - wanted[1]).abs() <= 1.0,
                    "{name}: {high:?}"
                );
            }
        }
    }
}

#[test]
fn right_and_up_are_where_the_views_say() {
    let assessment = assessed(cube());
    let x = Vec3::x();
    let (y, z) = (Vec3::y(), Vec3::z());
    // To the right, upwards and towards the viewer, by the axis that is up.
    let cases = [
        (UpAxis::Y, "front", [x, y, z]),
        (UpAxis::Y, "side", [-z, y, x]),
        (UpAxis::Y, "top", [x, -z, y]),
        (UpAxis::Z, "front", [x, z, -y]),
        (UpAxis::Z, "side", [y, z, x]),
        (UpAxis::Z, "top", [x, y, z]),
    ];
    for (up, name, [right, upwards, nearer]) in cases {
        let gallery = Gallery::new(&assessment, "cube", up);
        let camera = view(&gallery, name).camera.unwrap();
        let [from, to_right, to_top, to_eye] =
            [Vec3::zeros(), right, upwards, nearer].map(|p| camera.project(p * 0.1).unwrap());
        assert!(
            to_right.x > from.x + 1.0 && (to_right.y - from.y).abs() < 1e-6,
            "{name}"
        );
        assert!(
            to_top.y < from.y - 1.0 && (to_top.x - from.x).abs() < 1e-6,
            "{name}"
        );
        assert!(to_eye.nearness > from.nearness, "{name}");
    }
}

#[test]
fn a_creased_cube_has_flat_faces_without_gaps_up_to_its_edges() {
    let assessment = all_sharp(cube());
    let gallery = Gallery::new(&assessment, "cube", UpAxis::Y);
    let picture = gallery.draw(&view(&gallery, "front"));
    let side = Picture::panel_side();
    let edge = (side as f64 * MARGIN).ceil() as usize;
    let middle = pixel(&picture, Way::Shaded, side / 2, side / 2);
    assert_ne!(middle, pixel(&picture, Way::Shaded, 0, 0));
    for y in edge..side - edge {
        for x in edge..side - edge {
            assert_eq!(pixel(&picture, Way::Shaded, x, y), middle, "{x} {y}");
        }
    }
}

#[test]
fn a_rounded_cube_is_shaded_softly() {
    let assessment = assessed(cube());
    let gallery = Gallery::new(&assessment, "cube", UpAxis::Y);
    let picture = gallery.draw(&view(&gallery, "front"));
    let side = Picture::panel_side();
    let row: Vec<i32> = (side / 4..3 * side / 4)
        .map(|x| i32::from(pixel(&picture, Way::Shaded, x, side / 2)[0]))
        .collect();
    let steps = row.windows(2).map(|pair| (pair[1] - pair[0]).abs());
    assert!(steps.max().unwrap() <= 2, "{row:?}");
    assert!(
        row[0] - row[row.len() - 1] > 20,
        "the light is from the left: {row:?}"
    );
}

#[test]
fn the_risk_panel_shows_a_faults_colour_where_the_fault_is() {
    let (mesh, pushed) = pushed_plate(0.8);
    let assessment = assessed(mesh);
    let risk = assessment.findings.risks.total[pushed];
    assert!(risk > 0.5, "{risk}");
    let gallery = Gallery::new(&assessment, "plate", UpAxis::Y);
    let view = view(&gallery, "front");
    let picture = gallery.draw(&view);
    let frame = assessment.surface.control().frame();
    let at = |v: usize| {
        let p = assessment.limit_positions[v].unwrap();
        let p = view.camera.unwrap().project(frame.inward(p)).unwrap();
        pixel(&picture, Way::ByRisk, p.x as usize, p.y as usize)
    };
    for (v, risk) in [(pushed, risk), (22, assessment.findings.risks.total[22])] {
        let shown = decode_colour(at(v));
        let pure = risk_colour(risk).map(|c| (255.0 * c).round() as u8);
        let shares: Vec<f32> = decode_colour(pure)
            .iter()
            .zip(shown)
            .map(|(pure, shown)| shown / pure)
            .collect();
        // Turned from the eye a surface is darker, in all channels alike.
        let [least, most] = [f32::min, f32::max].map(|f| shares.iter().copied().reduce(f).unwrap());
        assert!(
            least > 0.5 && most < 1.03 && most - least < 0.08,
            "{v}: {shares:?}"
        );
    }
}

#[test]
fn stripes_show_a_slight_bump_far_better_than_shading_does() {
    let sphere = cube_sphere(8);
    let top = (0..sphere.vertex_count())
        .max_by(|&a, &b| {
            let [a, b] = [a, b].map(|v| sphere.positions()[v].dot(&Vec3::new(0.3, 0.2, 1.0)));
            a.total_cmp(&b)
        })
        .unwrap();
    let bump = sphere.positions()[top];
    let bumpy = moved(&sphere, |p| if p == bump { p * 1.01 } else { p });
    let draw = |mesh: PolygonMesh| {
        let assessment = assessed(mesh);
        let gallery = Gallery::new(&assessment, "sphere", UpAxis::Y);
        gallery.draw(&view(&gallery, "front"))
    };
    let (clean, faulty) = (draw(sphere), draw(bumpy));
    let side = Picture::panel_side();
    let difference = |way| {
        let each = (0..side * side).map(|i| {
            let [a, b] = [&clean, &faulty].map(|p| pixel(p, way, i % side, i / side)[0]);
            u64::from(a.abs_diff(b))
        });
        each.sum::<u64>()
    };
    let (striped, shaded) = (difference(Way::Striped), difference(Way::Shaded));
    assert!(shaded > 0);
    assert!(striped > 3 * shaded, "striped {striped}, shaded {shaded}");
}

#[test]
fn stripes_of_a_sphere_are_bright_and_dark_in_like_measure_with_soft_edges() {
    let assessment = assessed(cube_sphere(8));
    let gallery = Gallery::new(&assessment, "sphere", UpAxis::Y);
    let picture = gallery.draw(&view(&gallery, "front"));
    let side = Picture::panel_side();
    // The middle half, where the surface faces the eye.
    let inner = side / 4..3 * side / 4;
    let levels: Vec<u8> = inner
        .clone()
        .flat_map(|y| inner.clone().map(move |x| (x, y)))
        .map(|(x, y)| pixel(&picture, Way::Striped, x, y)[0])
        .collect();
    let count = |range: std::ops::Range<u8>| {
        levels.iter().filter(|level| range.contains(level)).count() as f64 / levels.len() as f64
    };
    let (dark, between, bright) = (count(0..70), count(70..190), count(190..255));
    assert!(dark > 0.25 && bright > 0.25, "{dark} {bright}");
    assert!(between > 0.0 && between < 0.25, "{between}");
}

#[test]
fn a_close_up_looks_at_its_place_from_outside_with_nothing_before_it() {
    // A ball with a lump, in a hollow box with one open side.
    let ball = moved(&cube_sphere(6), |p| if p.x > 0.99 { p * 1.35 } else { p });
    let lumps = |mesh: &PolygonMesh| {
        let assessment = assessed(mesh.clone());
        let gallery = Gallery::new(&assessment, "ball", UpAxis::Y);
        let frame = assessment.surface.control().frame();
        let views: Vec<View> = gallery.views().into_iter().skip(4).collect();
        assert!(!views.is_empty());
        for view in views {
            let place = &assessment.findings.places[view.place.unwrap()];
            let peak = frame.inward(assessment.limit_positions[place.peak].unwrap());
            let camera = view.camera.unwrap();
            let at = camera.project(peak).unwrap();
            let middle = Picture::panel_side() as f64 / 2.0;
            assert!((at.x - middle).abs() < 1.0 && (at.y - middle).abs() < 1.0);
            let eye = camera.eye().unwrap();
            assert!(eye.norm() > peak.norm(), "the eye is in the ball");
            assert!((eye - peak).dot(&peak) > 0.0, "the ball hides its lump");
        }
    };
    lumps(&ball);
    // Wound inwards as a whole: the eye is to stay outside.
    let faces: Vec<Vec<u32>> = ball
        .faces()
        .map(|face| face.iter().rev().copied().collect())
        .collect();
    lumps(&PolygonMesh::from_faces(ball.positions().to_vec(), &faces).unwrap());
}

#[test]
fn anything_that_can_be_assessed_can_be_drawn() {
    let quad = |positions: [[f64; 3]; 4]| {
        let positions = positions.map(Vec3::from).to_vec();
        PolygonMesh::from_faces(positions, &[[0, 1, 2, 3]]).unwrap()
    };
    let square = [
        [0.0, 0.0, 0.0],
        [1.0, 0.0, 0.0],
        [1.0, 1.0, 0.0],
        [0.0, 1.0, 0.0],
    ];
    let none: [[u32; 3]; 0] = [];
    let scaled = |factor: f64| quad(square.map(|p| p.map(|x| x * factor)));
    let nothing_to_see = [
        PolygonMesh::from_faces(Vec::new(), &none).unwrap(),
        PolygonMesh::from_faces(vec![Vec3::x(); 3], &none).unwrap(),
        quad([[2.0, 3.0, 4.0]; 4]),
    ];
    let something = [
        scaled(1.0),
        scaled(1e300),
        scaled(1e-300),
        quad(square.map(|[x, y, _]| [x + y, 0.0, 0.0])),
        PolygonMesh::from_faces(
            vec![Vec3::zeros(), Vec3::x(), Vec3::y()],
            &[[0, 1, 2], [0, 2, 1]],
        )
        .unwrap(),
    ];
    for (case, mesh) in nothing_to_see.into_iter().chain(something).enumerate() {
        let mut assessment = assessed(mesh);
        // A place at risk, whatever the assessment finds.
        if assessment.surface.control().topology().vertex_count() > 0 {
            assessment.findings.places = vec![cagewise::risk::Place {
                peak: 0,
                vertices: vec![0],
                edges: Vec::new(),
                faces: Vec::new(),
                risk: 0.9,
                mean_risk: 0.9,
                shares: vec![(Cause::Bump, 2.5)],
                area_share: 0.1,
                centre: Vec3::zeros(),
                radius: 1.0,
                cause: Cause::Bump,
                figure: "made up".into(),
                remedy: String::new(),
            }];
        }
        // A sentence stands where no form is seen, be it that there is none or that it is edge-on.
        let gallery = Gallery::new(&assessment, "\u{1b}[31m<script>", UpAxis::Z);
        for view in gallery.views() {
            let picture = gallery.draw(&view);
            assert!(bytes(&picture).len() > 1000, "{case}: {}", picture.name);
            assert!(
                silhouette(&picture, Way::Shaded).is_some(),
                "{case}: {}",
                picture.name
            );
        }
    }
}

/// The pictures as `assess` writes them.
#[cfg(feature = "cli")]
mod written {
    use std::collections::BTreeSet;
    use std::fs;
    use std::path::Path;
    use std::process::{Command, Output};

    use cagewise::picture::picture_names;
    use serde_json::Value;

    const PLATE: &str = "plate.obj";

    /// A plate with a vertex pushed out at each of the given places.
    fn put_plate(folder: &Path, pushed: &[(usize, usize)]) {
        let mut text = String::new();
        for (i, j) in (0..400).map(|k| (k % 20, k / 20)) {
            let z = if pushed.contains(&(i, j)) { 0.8 } else { 0.0 };
            text += &format!("v {i} {j} {z}\n");
        }
        for a in (0..380).filter(|a| a % 20 < 19).map(|a| a + 1) {
            text += &format!("f {} {} {} {}\n", a, a + 1, a + 21, a + 20);
        }
        fs::write(folder.join(PLATE), text).unwrap();
    }

    fn assess(folder: &Path, flags: &[&str]) -> Output {
        let mut command = Command::new(env!("CARGO_BIN_EXE_cagewise"));
        command.args(["assess", PLATE, "--out", "out"]).args(flags);
        command.current_dir(folder).output().unwrap()
    }

    fn names_in(folder: &Path) -> BTreeSet<String> {
        let Ok(entries) = fs::read_dir(folder) else {
            return BTreeSet::new();
        };
        let names = entries.map(|entry| entry.unwrap().file_name().into_string().unwrap());
        names.collect()
    }

    /// The names in `summary.json` under `pictures/`, and how many places it tells of.
    fn told(folder: &Path) -> (BTreeSet<String>, usize) {
        let text = fs::read_to_string(folder.join("out/summary.json")).unwrap();
        let summary: Value = serde_json::from_str(&text).unwrap();
        let files = summary["files"].as_array().unwrap().iter();
        let names = files.filter_map(|f| f.as_str().unwrap().strip_prefix("pictures/"));
        let places = summary["places"].as_array().unwrap().len();
        (names.map(str::to_owned).collect(), places)
    }

    #[test]
    fn the_summary_and_the_screen_name_what_is_written() {
        let folder = tempfile::tempdir().unwrap();
        put_plate(folder.path(), &[(5, 5)]);
        let output = assess(folder.path(), &["--pictures"]);
        assert!(output.status.success(), "{output:?}");
        let (names, places) = told(folder.path());
        assert_eq!(names, picture_names(places).into_iter().collect());
        assert_eq!(names, names_in(&folder.path().join("out/pictures")));
        let screen = String::from_utf8(output.stdout).unwrap();
        let count = format!("pictures/ ({} files)", names.len());
        // The screen may break the line within it.
        let words: Vec<&str> = screen.split_whitespace().collect();
        assert!(words.join(" ").contains(&count), "{screen}");
        // Their folder, and the four files that every assessment writes.
        assert_eq!(names_in(&folder.path().join("out")).len(), 5);
    }

    #[test]
    fn no_picture_of_an_earlier_state_stays_beside_newer_figures() {
        let folder = tempfile::tempdir().unwrap();
        let folder = folder.path();
        let pictures = folder.join("out/pictures");
        put_plate(folder, &[(4, 4), (14, 13), (5, 15)]);
        assess(folder, &["--pictures"]);
        let before = names_in(&pictures);
        // Others' files, one of them by a name of ours.
        fs::write(pictures.join("place-10.png"), "drawn by somebody").unwrap();
        fs::write(pictures.join("notes.txt"), "to do").unwrap();
        let others = ["notes.txt", "place-10.png"].map(str::to_owned);

        put_plate(folder, &[]);
        assess(folder, &["--pictures"]);
        let (fewer, _) = told(folder);
        assert!(fewer.len() < before.len(), "{before:?} {fewer:?}");
        let expected: BTreeSet<String> = fewer.into_iter().chain(others.clone()).collect();
        assert_eq!(names_in(&pictures), expected);

        assess(folder, &[]);
        assert_eq!(told(folder).0.len(), 0);
        assert_eq!(names_in(&pictures), others.into_iter().collect());
    }

    #[test]
    fn a_folder_of_pictures_that_is_all_outdated_goes() {
        let folder = tempfile::tempdir().unwrap();
        put_plate(folder.path(), &[]);
        assess(folder.path(), &["--pictures"]);
        assess(folder.path(), &[]);
        assert!(folder.path().join("out/risk.csv").exists());
        assert!(!folder.path().join("out/pictures").exists());
    }

    #[test]
    fn where_pictures_cannot_be_written_nothing_is() {
        let folder = tempfile::tempdir().unwrap();
        put_plate(folder.path(), &[(5, 5)]);
        fs::create_dir(folder.path().join("out")).unwrap();
        fs::write(folder.path().join("out/pictures"), "a file").unwrap();
        let output = assess(folder.path(), &["--pictures"]);
        assert_eq!(output.status.code(), Some(2));
        let line = String::from_utf8(output.stderr).unwrap();
        assert!(
            line.contains("pictures") && line.lines().count() == 1,
            "{line}"
        );
        assert_eq!(names_in(&folder.path().join("out")).len(), 1);
    }
}

#[test]
fn a_mirrored_half_is_drawn_as_its_whole_with_its_risk_on_both_sides() {
    let mesh = cube_sphere(4);
    // The half x >= 0 of a ball with one vertex pushed out.
    let seen = Vec3::new(0.6, 0.1, 0.8);
    let nearest = mesh
        .positions()
        .iter()
        .max_by(|a, b| a.dot(&seen).total_cmp(&b.dot(&seen)));
    let nearest = *nearest.unwrap();
    let pushed = mesh.positions().iter();
    let pushed = pushed.map(|p| if *p == nearest { p * 1.4 } else { *p });
    let pushed: Vec<Vec3> = pushed.collect();
    let right = |f: &&[u32]| f.iter().all(|&v| mesh.positions()[v as usize].x > -1e-9);
    let faces: Vec<Vec<u32>> = mesh.faces().filter(right).map(<[u32]>::to_vec).collect();
    let half = Cage::from_mesh(PolygonMesh::from_faces(pushed, &faces).unwrap());
    let plane = cagewise::mesh::MirrorPlane {
        axis: cagewise::mesh::Axis::X,
        offset: 0.0,
    };
    let assessment = half
        .assess_mirrored(plane, &AssessOptions::default())
        .unwrap();
    assert!(assessment.highest_risk() > 0.25, "coloured");
    let gallery = Gallery::new(&assessment, "ball.obj", UpAxis::Y);
    let front = view(&gallery, "front");
    let picture = gallery.draw(&front);
    let [low, high] = silhouette(&picture, Way::ByRisk).unwrap();
    let side = Picture::panel_side();
    // The whole fills the frame about its middle, and is coloured alike on its left and its right.
    assert!(
        (low[0] + high[0]).abs_diff(side - 1) <= 2,
        "{low:?} {high:?}"
    );
    let coloured = |columns: std::ops::Range<usize>| {
        let spread = |[r, g, b]: [u8; 3]| r.max(g).max(b) - r.min(g).min(b);
        let places = columns.flat_map(|x| (0..side).map(move |y| (x, y)));
        let strong = places.filter(|&(x, y)| spread(pixel(&picture, Way::ByRisk, x, y)) > 40);
        strong.count()
    };
    let (left, right) = (coloured(0..side / 2), coloured(side / 2..side));
    assert!(
        left > 100 && left.abs_diff(right) * 20 < left,
        "{left} {right}"
    );
}
