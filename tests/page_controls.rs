//! The controls of `report.html` in a real browser: mouse, pen, fingers and keys; the views, the
//! limits of the colours, the copied vertex numbers; light and dark, wide and narrow.
//!
//! Without a browser these tests say so and try nothing, as those of `page.rs`.
#![cfg(feature = "cli")]
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stderr
)]

mod support;

use serde_json::{Value, json};
use support::browser::Browser;
use support::page::{DRAWN, assert_quiet, browser, demo, page_of};
use tempfile::TempDir;

/// Yaw, pitch, distance and target of the view.
const CAMERA: &str = "(() => { const c = page.view.camera;
    return [c.yaw, c.pitch, c.distance, ...c.target]; })()";

/// What the view draws now, as one number a pixel.
const PIXELS: &str = "() => { const v = page.view, gl = v.gl; v.draw();
    const p = new Uint32Array(v.canvas.width * v.canvas.height);
    gl.readPixels(0, 0, v.canvas.width, v.canvas.height, gl.RGBA, gl.UNSIGNED_BYTE, new Uint8Array(p.buffer));
    return p; }";

/// Contrast that text of the usual size must have at least: Web Content Accessibility Guidelines
/// 2.2, success criterion 1.4.3.
const LEAST_CONTRAST: f64 = 4.5;

/// The bell's page in a browser.
struct Opened {
    browser: Browser,
    page: std::path::PathBuf,
    _folder: TempDir,
}

impl Opened {
    fn bell() -> Option<Self> {
        let mut browser = browser(&[])?;
        let folder = tempfile::tempdir().unwrap();
        let page = page_of(&demo("bell"), folder.path(), &[]);
        browser.open(&page, DRAWN);
        Some(Self {
            browser,
            page,
            _folder: folder,
        })
    }

    fn camera(&mut self) -> Vec<f64> {
        numbers(&self.browser.value(CAMERA))
    }

    /// Middle of the canvas.
    fn middle(&mut self) -> [f64; 2] {
        self.browser.value("scrollTo(0, 0), 1");
        let at = self.browser.value(
            "(() => { const b = byId('stage').getBoundingClientRect();
            return [b.x + b.width / 2, b.y + b.height / 2]; })()",
        );
        // A wheel's event tells whole pixels.
        [0, 1].map(|k| at[k].as_f64().unwrap().floor())
    }

    /// Presses at one place, moves in steps to another and lets go.
    fn drag(&mut self, from: [f64; 2], by: [f64; 2], more: &Value) {
        let mut pressed = more.clone();
        pressed["button"] = more.get("button").cloned().unwrap_or(json!("left"));
        let mask = if pressed["button"] == "right" { 2 } else { 1 };
        pressed["buttons"] = json!(mask);
        self.browser
            .pointer("mousePressed", &json!(from), pressed.clone());
        let at = |step: f64| json!([from[0] + by[0] * step, from[1] + by[1] * step]);
        for step in 1..=4 {
            self.browser
                .pointer("mouseMoved", &at(f64::from(step) / 4.0), pressed.clone());
        }
        pressed["buttons"] = json!(0);
        self.browser.pointer("mouseReleased", &at(1.0), pressed);
    }
}

fn numbers(value: &Value) -> Vec<f64> {
    let list = value.as_array().unwrap();
    list.iter().map(|x| x.as_f64().unwrap()).collect()
}

/// Which of angles, distance and target differ between two cameras.
fn changed(before: &[f64], after: &[f64]) -> [bool; 3] {
    [0..2, 2..3, 3..6].map(|part| before[part.clone()] != after[part])
}

const TURNED: [bool; 3] = [true, false, false];
const MOVED: [bool; 3] = [false, false, true];

#[test]
fn the_mouse_turns_moves_and_zooms_to_where_it_points() {
    let Some(mut bell) = Opened::bell() else {
        return;
    };
    let middle = bell.middle();
    let mut before = bell.camera();
    for (more, wanted) in [
        (json!({}), TURNED),
        (json!({"button": "right"}), MOVED),
        (json!({"modifiers": 8}), MOVED),
    ] {
        bell.drag(middle, [60.0, 25.0], &more);
        let after = bell.camera();
        assert_eq!(changed(&before, &after), wanted, "{more}");
        before = after;
    }
    // The point of the target's plane that the pointer is on stays under it.
    let at = [middle[0] + 90.0, middle[1] - 60.0];
    let under = format!(
        "(() => {{ const c = page.view.camera, b = byId('stage').getBoundingClientRect();
        const x = (({} - b.x) / b.width * 2 - 1) * c.halfHeight * c.aspect;
        const y = (1 - ({} - b.y) / b.height * 2) * c.halfHeight;
        const right = c.right(), up = cross(c.direction(), right);
        return add(c.target, add(times(right, x), times(up, y))); }})()",
        at[0], at[1]
    );
    let point = numbers(&bell.browser.value(&under));
    let wheel = json!({"deltaX": 0, "deltaY": -240, "button": "none"});
    bell.browser.pointer("mouseWheel", &json!(at), wheel);
    let after = bell.camera();
    assert!(after[2] < 0.9 * before[2], "{before:?} {after:?}");
    let still = numbers(&bell.browser.value(&under));
    let pixel = bell
        .browser
        .value("2 * page.view.camera.halfHeight / byId('stage').clientHeight");
    let off = (0..3).map(|k| (point[k] - still[k]).abs());
    let off = off.fold(0.0, f64::max);
    assert!(off < pixel.as_f64().unwrap(), "{point:?} {still:?} {pixel}");
    assert_eq!(bell.browser.value("scrollY"), 0);
    assert_quiet(&bell.browser, &bell.page);
}

#[test]
fn a_pen_turns_and_tells_of_what_it_hovers_over() {
    let Some(mut bell) = Opened::bell() else {
        return;
    };
    let pen = json!({"pointerType": "pen", "force": 0.5});
    let middle = bell.middle();
    let before = bell.camera();
    bell.drag(middle, [-40.0, 30.0], &pen);
    assert_eq!(changed(&before, &bell.camera()), TURNED);
    let at = at_vertex(&mut bell);
    bell.browser
        .pointer("mouseMoved", &at, json!({"pointerType": "pen"}));
    let shown = "new Promise((done) => { const look = () => byId('tip').hidden
        ? requestAnimationFrame(look) : done(byId('tip').textContent); look(); })";
    let tip = bell.browser.value(shown);
    assert!(tip.as_str().unwrap().starts_with("Vertex "), "{tip}");
    assert_quiet(&bell.browser, &bell.page);
}

/// Where a vertex that faces the viewer is on the screen.
fn at_vertex(bell: &mut Opened) -> Value {
    bell.browser.value(
        "(() => { page.view.draw(); const view = page.view, b = byId('stage').getBoundingClientRect();
        for (let v = 0; v < page.cage.vertexCount; v++) {
            const p = view.form('limit').point(v), n = view.form('limit').normal(v);
            const c = inClip(view.look.toClip, p);
            const x = (c[0] / c[3] + 1) / 2 * b.width, y = (1 - c[1] / c[3]) / 2 * b.height;
            if (Math.min(x, y, b.width - x, b.height - y) > 20 && n &&
                dot(n, unit(minus(view.look.eye, p))) > 0.6 && view.vertexNear(x, y, 4) === v)
                return [b.x + x, b.y + y];
        } })()",
    )
}

#[test]
fn one_finger_turns_two_move_and_zoom_and_a_tap_tells_of_a_vertex() {
    let Some(mut bell) = Opened::bell() else {
        return;
    };
    let touch = json!({"enabled": true, "maxTouchPoints": 2});
    bell.browser
        .call("Emulation.setTouchEmulationEnabled", touch);
    let [x, y] = bell.middle();
    let one = |step: f64| [[x + 15.0 * step, y + 8.0 * step]];
    let mut before = bell.camera();
    let mut slide = |bell: &mut Opened, fingers: &dyn Fn(f64) -> Vec<[f64; 2]>| {
        bell.browser.touch("touchStart", &fingers(0.0));
        for step in 1..=4 {
            bell.browser.touch("touchMove", &fingers(f64::from(step)));
        }
        bell.browser.touch("touchEnd", &[]);
        let after = bell.camera();
        let found = (before.clone(), after.clone());
        before = after;
        found
    };
    let (from, to) = slide(&mut bell, &|step| one(step).to_vec());
    assert_eq!(changed(&from, &to), TURNED);
    // Together: moved as far as the fingers, and neither turned nor, but for rounding, zoomed.
    let (from, to) = slide(&mut bell, &|step| {
        vec![[x - 40.0 + 10.0 * step, y], [x + 40.0 + 10.0 * step, y]]
    });
    assert_eq!(from[..2], to[..2]);
    assert!((to[2] / from[2] - 1.0).abs() < 0.02, "{from:?} {to:?}");
    assert_ne!(from[3..], to[3..]);
    // Apart, from 80 to 160 pixels: twice as near.
    let (from, to) = slide(&mut bell, &|step| {
        vec![[x - 40.0 - 10.0 * step, y], [x + 40.0 + 10.0 * step, y]]
    });
    assert_eq!(from[..2], to[..2]);
    assert!((to[2] / from[2] - 0.5).abs() < 0.02, "{from:?} {to:?}");
    assert_eq!(
        bell.browser.value("[scrollY, visualViewport.scale]"),
        json!([0, 1])
    );
    let at = numbers(&at_vertex(&mut bell));
    bell.browser.touch("touchStart", &[[at[0], at[1]]]);
    bell.browser.touch("touchEnd", &[]);
    let title = bell
        .browser
        .value("document.querySelector('#figures caption').textContent");
    assert!(title.as_str().unwrap().starts_with("Vertex "), "{title}");
    assert_quiet(&bell.browser, &bell.page);
}

/// How many pixels change when the peak of the chosen place alone takes another colour.
const PEAK_PIXELS: &str = "(() => { const v = page.view, gl = v.gl, count = page.cage.ownCount;
    const { width, height } = v.canvas;
    const drawn = (value) => {
        const values = new Float32Array(count);
        values[page.places.places[page.places.chosen].peak] = value;
        v.setFigures(values);
        v.draw();
        const pixels = new Uint32Array(width * height);
        gl.readPixels(0, 0, width, height, gl.RGBA, gl.UNSIGNED_BYTE, new Uint8Array(pixels.buffer));
        return pixels;
    };
    const [without, with_] = [0, 1].map(drawn);
    return without.reduce((sum, x, k) => sum + (x !== with_[k]), 0); })()";

#[test]
fn nothing_hides_the_peak_of_a_place_that_is_flown_to() {
    let Some(mut bell) = Opened::bell() else {
        return;
    };
    let places = bell.browser.value("page.places.places.length").as_u64();
    assert!(places > Some(2), "too few places to fly to");
    // Of a place inside, what is before it is cut away, until the view flies on.
    for place in 0..places.unwrap() {
        bell.browser
            .value(&format!("page.places.choose({place}), 1"));
        let shown = bell.browser.value(PEAK_PIXELS).as_u64().unwrap();
        // A square of 5 by 5 at the least, far more than the outlines' soft rims.
        assert!(shown >= 25, "place {place}: {shown}");
        let told = bell
            .browser
            .value("document.querySelector('#places .told').textContent.includes('cut away')");
        let cut = bell.browser.value("Number.isFinite(page.view.camera.cut)");
        assert_eq!(told, cut, "place {place}");
        if cut == true {
            bell.browser.value("page.view.camera.cut = Infinity, 1");
            assert_eq!(bell.browser.value(PEAK_PIXELS), 0);
        }
    }
    bell.browser.value("page.places.choose(0), 1");
    bell.browser.click("#frame-all");
    assert_eq!(
        bell.browser.value("page.view.camera.cut === Infinity"),
        true
    );
}

#[test]
fn a_frame_shows_nothing_of_the_one_before() {
    let Some(mut bell) = Opened::bell() else {
        return;
    };
    // Drawn from behind, alone and right after a frame from the front, whose depths would hide it.
    let same = "(async (drawn) => { const c = page.view.camera;
        const front = drawn();
        c.yaw += 2;
        const after = drawn();
        for (let k = 0; k < 3; k++) await new Promise(requestAnimationFrame);
        const alone = drawn();
        const differ = (a, b) => a.reduce((sum, x, k) => sum + (x !== b[k]), 0);
        return [differ(after, alone), differ(front, alone) > 1000]; })";
    let same = format!("{same}({PIXELS})");
    assert_eq!(bell.browser.value(&same), json!([0, true]));
}

#[test]
fn a_view_whose_graphics_were_lost_and_come_back_shows_what_it_showed() {
    let Some(mut bell) = Opened::bell() else {
        return;
    };
    bell.browser
        .value("document.querySelector('#places button').click(), byId('marks').click(), 1");
    let same = "(async (drawn) => { const v = page.view, gl = v.gl;
        const loss = gl.getExtension('WEBGL_lose_context');
        const told = (name) => new Promise((done) => v.canvas.addEventListener(name, done, { once: true }));
        while (v.camera.flight) await new Promise(requestAnimationFrame);
        for (let k = 0; k < 3; k++) await new Promise(requestAnimationFrame);
        v.moving = false;
        const before = drawn();
        let heard = told('webglcontextlost');
        loss.loseContext();
        await heard;
        await new Promise((done) => setTimeout(done, 50));
        heard = told('webglcontextrestored');
        loss.restoreContext();
        await heard;
        v.moving = false;
        const after = drawn();
        const differ = before.reduce((sum, x, k) => sum + (x !== after[k]), 0);
        return [differ, before.some((x) => x !== 0), gl.getError()]; })";
    let same = format!("{same}({PIXELS})");
    assert_eq!(bell.browser.value(&same), json!([0, true, 0]));
}

#[test]
fn a_form_that_moves_on_a_slow_machine_is_drawn_with_fewer_triangles_in_the_same_place() {
    let Some(mut bell) = Opened::bell() else {
        return;
    };
    let shown = "((drawn) => { const v = page.view;
        const covered = (moving) => { v.moving = moving;
            return drawn().reduce((sum, x) => sum + (x !== 0), 0); };
        const [still, moving] = [covered(false), covered(true)];
        v.moving = false;
        const form = v.loaded(v.show.form);
        return [moving / still, form.coarse.indexCount / form.indexCount, v.gl.getError()]; })";
    let shown = format!("{shown}({PIXELS})");
    let shown = bell.browser.value(&shown);
    let covered = shown[0].as_f64().unwrap();
    assert!((0.97..=1.01).contains(&covered), "{shown}");
    assert!(shown[1].as_f64().unwrap() < 1.0, "{shown}");
    assert_eq!(shown[2], json!(0));
}

/// What of the page has the focus.
const FOCUSED: &str = "(() => { const e = document.activeElement;
    return e.id || e.dataset.view || e.closest('#places > li')?.className || e.textContent; })()";

#[test]
fn every_control_is_reached_by_tab_and_a_place_s_vertices_are_copied_by_keys_alone() {
    let Some(mut bell) = Opened::bell() else {
        return;
    };
    let granted = json!({"permissions": ["clipboardReadWrite", "clipboardSanitizedWrite"]});
    bell.browser.call("Browser.grantPermissions", granted);
    let mut reached = Vec::new();
    for _ in 0..30 {
        bell.browser.key("Tab");
        reached.push(bell.browser.value(FOCUSED).as_str().unwrap().to_owned());
        if bell
            .browser
            .value("document.activeElement.parentElement.matches('#places > li')")
            == true
        {
            break;
        }
    }
    for wanted in [
        "Skip to the list of places",
        "form",
        "figure",
        "lines",
        "marks",
        "stripes",
        "stage",
        "three-quarter",
        "below",
        "frame-all",
        "parallel",
        "up",
        "grip-low",
        "grip-high",
        "scale-reset",
    ] {
        assert!(reached.iter().any(|r| r == wanted), "{wanted}: {reached:?}");
    }
    // The first place: flown to by Enter; the next stop is its button to copy.
    let before = bell.camera();
    bell.browser.key("Enter");
    assert_ne!(bell.camera(), before);
    bell.browser.key("Tab");
    assert_eq!(bell.browser.value(FOCUSED), "chosen");
    bell.browser.key("Enter");
    let wanted = bell
        .browser
        .value("page.places.places[0].vertices.map((v) => v + 1).join(' ')");
    assert_eq!(answered(&mut bell), "Copied.");
    assert_eq!(bell.browser.value("navigator.clipboard.readText()"), wanted);
    assert_quiet(&bell.browser, &bell.page);
}

/// What the button to copy answers, once it does.
fn answered(bell: &mut Opened) -> Value {
    bell.browser.value(
        "new Promise((done) => { const look = () => {
            const text = document.querySelector('#places .told [role=status]').textContent;
            text ? done(text) : setTimeout(look, 20); }; look(); })",
    )
}

#[test]
fn numbers_that_cannot_be_copied_are_shown_selected() {
    let Some(mut bell) = Opened::bell() else {
        return;
    };
    bell.browser.value(
        "navigator.clipboard.writeText = () => Promise.reject(new Error('denied')),
        document.execCommand = () => false, 1",
    );
    bell.browser.click("#places > li:nth-child(1) > button");
    bell.browser.click("#places .told button");
    let answer = answered(&mut bell);
    assert!(
        answer.as_str().unwrap().contains("press Ctrl+C"),
        "{answer}"
    );
    let same =
        "getSelection().toString() === page.places.places[0].vertices.map((v) => v + 1).join(' ')";
    assert_eq!(bell.browser.value(same), true);
}

#[test]
fn the_limits_of_the_colours_are_dragged_and_set_by_keys() {
    let Some(mut bell) = Opened::bell() else {
        return;
    };
    bell.browser.resize(1280, 900);
    let at = |bell: &mut Opened, id: &str| {
        let place = format!(
            "(() => {{ const e = byId('{id}'); e.scrollIntoView({{block: 'center'}});
            const b = e.getBoundingClientRect(); return [b.x + b.width / 2, b.y + b.height / 2, b.width]; }})()"
        );
        numbers(&bell.browser.value(&place))
    };
    let grip = at(&mut bell, "grip-high");
    let bars = at(&mut bell, "bars");
    bell.drag([grip[0], grip[1]], [-bars[2] / 2.0, 0.0], &json!({}));
    let limits = numbers(&bell.browser.value("page.view.show.limits"));
    // To the pixel.
    assert!(
        limits[0] == 0.0 && (limits[1] - 0.5).abs() < 2.0 / bars[2],
        "{limits:?}"
    );
    assert_eq!(
        bell.browser
            .value("byId('end-high').textContent.endsWith(' and more')"),
        true
    );
    bell.browser.value("byId('grip-low').focus(), 1");
    bell.browser.key("PageUp");
    let raised = numbers(&bell.browser.value("page.view.show.limits"));
    assert!((raised[0] - 0.1).abs() < 1e-9, "{raised:?}");
    assert_eq!(
        bell.browser
            .value("byId('grip-low').getAttribute('aria-valuetext')"),
        "0.1"
    );
    bell.browser.click("#scale-reset");
    assert_eq!(bell.browser.value("page.view.show.limits"), json!([0, 1]));
    assert_quiet(&bell.browser, &bell.page);
}

#[test]
fn named_views_look_along_the_axes_and_hold_the_whole_form() {
    let Some(mut bell) = Opened::bell() else {
        return;
    };
    // The farthest that a vertex lies from the middle of the canvas, in shares of its half.
    let spread = "(() => { page.view.draw(); const v = page.view; let most = 0;
        for (let k = 0; k < page.cage.vertexCount; k++) {
            const c = inClip(v.look.toClip, v.form('limit').point(k));
            most = Math.max(most, Math.abs(c[0] / c[3]), Math.abs(c[1] / c[3]));
        } return most; })()";
    for up in ["y", "z"] {
        let chosen =
            format!("byId('up').value = '{up}', byId('up').dispatchEvent(new Event('change')), 1");
        bell.browser.value(&chosen);
        let [front, top] = match up {
            "y" => [[0.0, 0.0, 1.0], [0.0, 1.0, 0.0]],
            _ => [[0.0, -1.0, 0.0], [0.0, 0.0, 1.0]],
        };
        let opposite = |a: [f64; 3]| a.map(|x| -x);
        for (view, axis) in [
            ("front", front),
            ("back", opposite(front)),
            ("top", top),
            ("below", opposite(top)),
            ("right", [1.0, 0.0, 0.0]),
            ("left", [-1.0, 0.0, 0.0]),
        ] {
            bell.browser.click(&format!("[data-view={view}]"));
            let back = numbers(
                &bell
                    .browser
                    .value("Array.from(page.view.camera.direction())"),
            );
            let along: f64 = (0..3).map(|k| back[k] * axis[k]).sum();
            assert!((along - 1.0).abs() < 1e-12, "{up} {view}: {back:?}");
            let most = bell.browser.value(spread).as_f64().unwrap();
            assert!(most < 1.0 && most > 0.5, "{up} {view}: {most}");
        }
    }
    bell.browser
        .value("page.view.camera.zoom(0.1, 0.3, 0.3), 1");
    assert!(bell.browser.value(spread).as_f64().unwrap() > 1.0);
    bell.browser.click("#frame-all");
    assert!(bell.browser.value(spread).as_f64().unwrap() < 1.0);
    // In parallel depth changes no place; in perspective it does.
    let shifted = "(() => { page.view.draw(); const { toClip, back, right } = page.view.look;
        const x = (p) => { const c = inClip(toClip, p); return c[0] / c[3]; };
        return x(right) - x(add(right, back)); })()";
    assert!(bell.browser.value(shifted).as_f64().unwrap().abs() > 1e-3);
    bell.browser.click("#parallel");
    assert!(bell.browser.value(shifted).as_f64().unwrap().abs() < 1e-6);
    assert_quiet(&bell.browser, &bell.page);
}

#[test]
fn text_stands_out_in_light_and_dark() {
    let Some(mut bell) = Opened::bell() else {
        return;
    };
    bell.browser
        .value("document.querySelector('#places button').click(), byId('marks').click(), 1");
    // Relative luminance and contrast as WCAG 2.2 defines them; the nearest ground that is opaque.
    let least = "(() => {
        const channels = (c) => c.match(/[\\d.]+/g).map(Number);
        const light = (c) => { const [r, g, b] = channels(c).map((x) => x / 255)
            .map((x) => x <= 0.04045 ? x / 12.92 : ((x + 0.055) / 1.055) ** 2.4);
            return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
        const ground = (e) => { for (; e; e = e.parentElement) {
            const c = getComputedStyle(e).backgroundColor;
            if ((channels(c)[3] ?? 1) === 1) return c; } return 'rgb(255, 255, 255)'; };
        let found = [Infinity, ''];
        for (const e of document.querySelectorAll('body *')) {
            const own = Array.from(e.childNodes).some((n) => n.nodeType === 3 && n.data.trim());
            if (!own || !e.checkVisibility() || e.closest('svg')) continue;
            const [a, b] = [getComputedStyle(e).color, ground(e)].map(light);
            const contrast = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
            if (contrast < found[0]) found = [contrast, e.outerHTML.slice(0, 90)];
        } return found; })()";
    let mut grounds = Vec::new();
    for scheme in ["light", "dark"] {
        bell.browser.scheme(scheme);
        let found = bell.browser.value(least);
        let contrast = found[0].as_f64().unwrap();
        assert!(contrast >= LEAST_CONTRAST, "{scheme}: {found}");
        grounds.push(
            bell.browser
                .value("getComputedStyle(document.documentElement).backgroundColor"),
        );
    }
    assert_ne!(grounds[0], grounds[1]);
    assert_quiet(&bell.browser, &bell.page);
}

#[test]
fn nothing_is_wider_than_the_window_and_a_chosen_place_is_in_sight() {
    let Some(mut bell) = Opened::bell() else {
        return;
    };
    for (width, height) in [
        (1920, 1080),
        (1280, 800),
        (900, 700),
        (400, 800),
        (320, 640),
    ] {
        bell.browser.resize(width, height);
        bell.browser.value("new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done))).then(() => 1)");
        bell.browser.value("byId('marks').checked || byId('marks').click(), byId('stripes').checked || byId('stripes').click(), 1");
        bell.browser.click("#places > li:nth-child(3) > button");
        let over = bell
            .browser
            .value("document.documentElement.scrollWidth - innerWidth");
        assert!(over.as_f64().unwrap() <= 0.0, "{width}: {over}");
        // Both the view and the place's name, and neither over the other.
        let seen = numbers(&bell.browser.value(
            "(() => { const view = byId('stage').getBoundingClientRect();
            const name = document.querySelector('#places .chosen > button').getBoundingClientRect();
            const hit = document.elementFromPoint(name.x + name.width / 2, name.y + name.height / 2);
            return [view.top, view.bottom, name.top, name.bottom,
                Number(Boolean(hit?.closest('#places .chosen')))]; })()",
        ));
        let whole = f64::from(height);
        assert!(
            seen[1] > 0.25 * whole && seen[0] < 0.5 * whole,
            "{width}: {seen:?}"
        );
        assert!(
            seen[2] >= 0.0 && seen[3] <= whole && seen[4] == 1.0,
            "{width}: {seen:?}"
        );
    }
    assert_quiet(&bell.browser, &bell.page);
}
