//! `report.html` made from a cage and opened in a browser.

use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;

use super::browser::{self, Browser};

/// The first frame is on the canvas.
pub const DRAWN: &str = "Number(document.querySelector('#stage')?.dataset.frames) > 0";

/// Where the view is seen from.
pub const EYE: &str = "page.view.camera.eye";

/// Assesses a cage and gives the page written.
pub fn page_of(cage: &Path, out: &Path, more: &[&str]) -> PathBuf {
    let run = Command::new(env!("CARGO_BIN_EXE_cagewise"))
        .arg("assess")
        .arg(cage)
        .args(["--quiet", "--out"])
        .arg(out)
        .args(more)
        .status()
        .unwrap();
    assert!(run.success());
    out.join("report.html")
}

/// The cage of a demo.
pub fn demo(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("demo/{name}.obj"))
}

/// A browser, or a note that there is none.
pub fn browser(flags: &[&str]) -> Option<Browser> {
    let program = browser::found();
    if program.is_none() {
        eprintln!(
            "no browser found: the page is not tried in one; install chromium, or name a browser of \
             its kind by CAGEWISE_BROWSER"
        );
    }
    program.map(|program| Browser::start(&program, flags))
}

/// The page has said nothing on the console and asked for nothing but itself.
pub fn assert_quiet(browser: &Browser, page: &Path) {
    assert_eq!(
        browser.complaints(),
        Vec::<&Value>::new(),
        "{}",
        page.display()
    );
    let own = format!("file://{}", page.display());
    assert_eq!(browser.requests(), [own]);
}
