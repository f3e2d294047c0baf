//! `report.html` in a real browser: it draws, flies to places, tells of vertices, asks for nothing
//! and complains of nothing.
//!
//! The browser is the one that `CAGEWISE_BROWSER` names, or a Chromium on the path; without one
//! these tests say so and try nothing. What can be told without a browser is tested beside the code
//! in `src/report/page/tests.rs`.
#![cfg(feature = "cli")]
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stderr
)]

mod support;

use support::browser::Browser;
use support::page::{DRAWN, EYE, assert_quiet, browser, demo, page_of};

/// The view is hidden, with the reason above the tables.
const UNDRAWN: &str = "document.body?.classList.contains('undrawn')";

/// Share of the canvas that the form covers, and number of different colours there (in steps of 8).
const PIXELS: &str = "(() => {
    const view = page.view, gl = view.gl;
    view.draw();
    const { width, height } = view.canvas, pixels = new Uint8Array(4 * width * height);
    gl.readPixels(0, 0, width, height, gl.RGBA, gl.UNSIGNED_BYTE, pixels);
    const colours = new Set();
    let covered = 0;
    for (let k = 0; k < pixels.length; k += 4) {
        if (pixels[k + 3] === 0) continue;
        covered++;
        colours.add((pixels[k] >> 3) << 10 | (pixels[k + 1] >> 3) << 5 | pixels[k + 2] >> 3);
    }
    return [covered / (width * height), colours.size, gl.getError()];
})()";

fn assert_drawn(browser: &mut Browser, what: &str) {
    let found = browser.value(PIXELS);
    let [share, colours] = [0, 1].map(|k| found[k].as_f64().unwrap());
    // A form fills at least a narrow part of its frame, in more shades than a flat fill has.
    assert!(share > 0.02 && colours >= 16.0, "{what}: {found}");
    assert_eq!(found[2], 0, "{what}: an error of the graphics");
}

#[test]
fn each_demo_s_page_draws_flies_to_a_place_and_asks_for_nothing() {
    let Some(mut browser) = browser(&[]) else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    for name in ["cowl", "cleat", "bell", "crate"] {
        let page = page_of(&demo(name), &folder.path().join(name), &[]);
        browser.open(&page, DRAWN);
        assert_drawn(&mut browser, name);
        let places = browser.value("page.places.places.length").as_u64().unwrap();
        let listed = browser.value("document.querySelectorAll('ol#places > li').length");
        assert_eq!(listed, places.min(60), "{name}");
        if places > 0 {
            let before = browser.value(EYE);
            browser.click("#places > li:nth-child(1) > button");
            assert_ne!(browser.value(EYE), before, "{name}: the view did not move");
            let told = browser.value("document.querySelector('#places .told').textContent");
            let told = told.as_str().unwrap();
            assert!(
                told.contains("What to do") && told.contains("Figures"),
                "{told}"
            );
            assert_drawn(&mut browser, name);
        } else {
            assert_eq!(name, "crate");
        }
        let resources = browser.value("performance.getEntriesByType('resource').length");
        assert_eq!(resources, 0, "{name}");
        assert_quiet(&browser, &page);
    }
}

#[test]
fn the_page_flies_to_what_was_clicked_and_outlines_it() {
    let Some(mut browser) = browser(&[]) else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let page = page_of(&demo("cowl"), folder.path(), &[]);
    browser.open(&page, DRAWN);
    browser.click("#places > li:nth-child(1) > button");
    // The peak lies within the view, and the outline is made of edges.
    let seen = browser.value(
        "(() => { page.view.draw(); const v = page.view, place = page.places.places[0];
        const c = inClip(v.look.toClip, v.form('limit').point(place.peak));
        return [Math.abs(c[0] / c[3]), Math.abs(c[1] / c[3]), v.overlays.place.count]; })()",
    );
    let seen: Vec<f64> = (0..3).map(|k| seen[k].as_f64().unwrap()).collect();
    assert!(seen[0] < 1.0 && seen[1] < 1.0 && seen[2] > 8.0, "{seen:?}");
    assert_quiet(&browser, &page);
}

#[test]
fn vertices_are_told_of_under_the_pointer_and_by_number() {
    let Some(mut browser) = browser(&[]) else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let page = page_of(&demo("bell"), folder.path(), &[]);
    browser.open(&page, DRAWN);
    browser.value("byId('number').value = '158', 1");
    browser.click("#search button");
    let title = "document.querySelector('#figures caption').textContent";
    assert_eq!(browser.value(title), "Vertex 158");
    let rows = browser.value("document.querySelectorAll('#figures tbody tr').length");
    assert!(rows.as_u64().unwrap() > 25, "{rows}");
    let at = browser.value(
        "(() => { page.view.draw(); const b = byId('stage').getBoundingClientRect();
        const c = inClip(page.view.look.toClip, page.view.form('limit').point(157));
        return [b.x + (c[0] / c[3] + 1) / 2 * b.width + 2, b.y + (1 - c[1] / c[3]) / 2 * b.height + 2]; })()",
    );
    browser.mouse("mouseMoved", &at);
    let shown = "new Promise((done) => { const look = () => byId('tip').hidden
        ? requestAnimationFrame(look) : done(byId('tip').textContent); look(); })";
    let tip = browser.value(shown);
    assert!(
        tip.as_str().unwrap().starts_with("Vertex 158\nrisk "),
        "{tip}"
    );
    browser.value("byId('number').value = '100000', byId('search').requestSubmit(), 1");
    let answer = browser.value("byId('search-answer').textContent");
    assert_eq!(answer, "Give a number from 1 to 787.");
    assert_quiet(&browser, &page);
}

#[test]
fn every_surface_colour_and_mark_can_be_drawn() {
    let Some(mut browser) = browser(&[]) else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let page = page_of(&demo("cleat"), folder.path(), &["--creases", "groups"]);
    browser.open(&page, DRAWN);
    browser.value("byId('marks').click(), page.view.draw(), 1");
    let marks = browser.value("byId('mark-list').textContent");
    assert!(marks.as_str().unwrap().contains("crease"), "{marks}");
    let set = |id: &str, value: &str| {
        format!(
            "byId('{id}').value = '{value}', byId('{id}').dispatchEvent(new Event('change')), 1"
        )
    };
    for form in ["limit", "2", "1", "0"] {
        browser.value(&set("form", form));
        assert_drawn(&mut browser, form);
    }
    let figures = browser
        .value("byId('figure').options.length")
        .as_u64()
        .unwrap();
    assert!(figures > 30);
    for figure in (0..figures - 1).step_by(5) {
        browser.value(&set("figure", &figure.to_string()));
        let title = browser.value("byId('scale-title').textContent");
        assert_ne!(title, "", "figure {figure}");
        assert_drawn(&mut browser, &format!("figure {figure}"));
    }
    browser.value(&set("lines", "built"));
    browser.value("byId('parallel').click(), 1");
    assert_drawn(&mut browser, "parallel");
    assert_quiet(&browser, &page);
}

#[test]
fn stripes_slide_and_keys_turn_the_view() {
    let Some(mut browser) = browser(&[]) else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let page = page_of(&demo("bell"), folder.path(), &[]);
    browser.open(&page, DRAWN);
    let print = "(() => { const v = page.view, gl = v.gl; v.draw(); const p = new Uint8Array(4 * 200 * 200);
        gl.readPixels(v.canvas.width / 2 - 100, v.canvas.height / 2 - 100, 200, 200, gl.RGBA, gl.UNSIGNED_BYTE, p);
        return p.reduce((h, x) => (h * 31 + x) >>> 0, 7); })()";
    let plain = browser.value(print);
    browser.value("byId('stripes').click(), 1");
    let striped = browser.value(print);
    assert_ne!(striped, plain);
    browser.value("byId('stripe-slide').value = 50, byId('stripe-slide').dispatchEvent(new Event('input')), 1");
    let slid = browser.value(print);
    assert_ne!(slid, striped);
    browser.value("byId('stage').focus(), 1");
    for key in ["ArrowLeft", "ArrowUp", "+", "2", "Home", "."] {
        let before = browser.value(EYE);
        browser.key(key);
        assert_ne!(browser.value(EYE), before, "{key}");
    }
    assert_quiet(&browser, &page);
}

#[test]
fn a_half_is_shown_as_part_of_its_whole() {
    let Some(mut browser) = browser(&[]) else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let page = page_of(&demo("cowl"), folder.path(), &["--mirror", "x"]);
    browser.open(&page, DRAWN);
    assert_drawn(&mut browser, "whole");
    let counts = browser.value("[page.cage.ownCount, page.cage.vertexCount]");
    assert_eq!(counts[0], 460);
    assert!(counts[1].as_u64().unwrap() > 800, "{counts}");
    let image = browser.value("page.vertices.title(page.cage.vertexCount - 1)");
    assert!(
        image
            .as_str()
            .unwrap()
            .starts_with("Mirror image of vertex "),
        "{image}"
    );
    assert_quiet(&browser, &page);
}

/// A plate whose names would run as a script wherever they are taken for markup.
#[test]
fn text_of_the_file_does_nothing_in_the_page() {
    let Some(mut browser) = browser(&[]) else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let cage = folder.path().join("<img src=x onerror=hit=1>&amp;.obj");
    let text = "o <img src=x onerror=hit=2>\ng </script><script>hit=3</script>\n\
        usemtl <svg onload=hit=4>\nv 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nf 1 2 3 4\n";
    std::fs::write(&cage, text).unwrap();
    let page = page_of(&cage, &folder.path().join("out"), &[]);
    browser.open(&page, DRAWN);
    let name = browser.value("byId('file').textContent");
    assert_eq!(name, "<img src=x onerror=hit=1>&amp;.obj");
    browser.value("page.vertices.show(0), 1");
    let told = browser.value("byId('figures').textContent");
    for shown in [
        "<img src=x onerror=hit=2>",
        "</script><script>hit=3</script>",
        "<svg onload=hit=4>",
    ] {
        assert!(told.as_str().unwrap().contains(shown), "{told}");
    }
    assert_eq!(browser.value("typeof hit"), "undefined");
    assert_eq!(
        browser.value("document.querySelectorAll('img, #figures svg').length"),
        0
    );
    // The policy holds even against markup that gets in: nothing runs and nothing is fetched.
    browser.value(
        "document.body.insertAdjacentHTML('beforeend', '<img src=data:image/png,x onerror=hit=5>'), \
         document.body.append(Object.assign(document.createElement('script'), {textContent: 'hit=6'})), 1",
    );
    assert_eq!(browser.value("typeof hit"), "undefined");
}

#[test]
fn without_webgl_the_page_says_so_and_shows_tables_and_pictures() {
    let Some(mut browser) = browser(&["--disable-3d-apis"]) else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let page = page_of(&demo("bell"), folder.path(), &["--pictures"]);
    browser.open(&page, UNDRAWN);
    let told = browser.value("byId('trouble').textContent");
    assert!(told.as_str().unwrap().contains("no WebGL 2"), "{told}");
    let rows = "new Promise((done) => { const look = () => { const n = document.querySelectorAll('#table tbody tr').length;
        n ? done(n) : setTimeout(look, 20); }; look(); })";
    assert_eq!(
        browser.value(rows),
        browser.value("page.places.places.length")
    );
    browser.click("#places > li:nth-child(2) > button");
    assert_eq!(
        browser.value("document.querySelectorAll('#places .told').length"),
        1
    );
    let pictures = browser.value(
        "Promise.all(Array.from(document.querySelectorAll('#stills img'), (i) => i.decode().then(() => i.naturalWidth)))",
    );
    assert_eq!(pictures.as_array().unwrap().len(), 4);
    assert!(
        pictures
            .as_array()
            .unwrap()
            .iter()
            .all(|w| w.as_u64() > Some(600))
    );
}
