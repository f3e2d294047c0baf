//! A headless browser, driven over its DevTools pipe: messages are JSON, each ended by a zero byte.

use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use serde_json::{Value, json};
use tempfile::TempDir;

/// How long the browser may take over one answer: it draws in software, on a machine that may have
/// more to do.
const PATIENCE: Duration = Duration::from_secs(240);

/// Size of the page in pixels: small, since drawing in software takes its time.
const WIDTH: u32 = 960;
const HEIGHT: u32 = 640;

/// Programs that will do, in the order they are looked for.
const NAMES: [&str; 4] = [
    "chromium",
    "chromium-browser",
    "google-chrome",
    "google-chrome-stable",
];

/// The browser to test with: the one that `CAGEWISE_BROWSER` names, or one on the path.
pub fn found() -> Option<PathBuf> {
    if let Some(named) = std::env::var_os("CAGEWISE_BROWSER") {
        return Some(named.into());
    }
    let path = std::env::var_os("PATH")?;
    let folders: Vec<PathBuf> = std::env::split_paths(&path).collect();
    let all = NAMES
        .iter()
        .flat_map(|name| folders.iter().map(move |f| f.join(name)));
    all.into_iter().find(|program| program.is_file())
}

/// Held by the one browser that runs: several at a time only wait for each other.
static ONLY_ONE: Mutex<()> = Mutex::new(());

/// A running browser with one page.
pub struct Browser {
    child: Child,
    input: ChildStdin,
    messages: Receiver<Value>,
    session: String,
    last_id: u64,
    /// What the page has said and asked for since [`Browser::open`].
    pub events: Vec<Value>,
    _profile: TempDir,
    _only_one: MutexGuard<'static, ()>,
}

impl Browser {
    pub fn start(program: &Path, flags: &[&str]) -> Self {
        // A test that has failed leaves nothing behind that the next would stumble over.
        let only_one = ONLY_ONE.lock().unwrap_or_else(PoisonError::into_inner);
        let profile = tempfile::tempdir().unwrap();
        // The pipe is on descriptors 3 and 4, which the shell makes of its input and output.
        let mut child = Command::new("sh")
            .args([
                "-c",
                r#"exec "$0" "$@" 3<&0 4>&1 </dev/null >/dev/null 2>/dev/null"#,
            ])
            .arg(program)
            .args(["--headless=new", "--no-sandbox", "--use-angle=swiftshader"])
            .args(["--enable-unsafe-swiftshader", "--remote-debugging-pipe"])
            .args(["--no-first-run", "--disable-dev-shm-usage"])
            .arg(format!("--user-data-dir={}", profile.path().display()))
            .args(flags)
            .arg("about:blank")
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let input = child.stdin.take().unwrap();
        let output = BufReader::new(child.stdout.take().unwrap());
        let (sender, messages) = channel();
        std::thread::spawn(move || {
            for message in output.split(0).map_while(Result::ok) {
                let Ok(message) = serde_json::from_slice(&message) else {
                    continue;
                };
                if sender.send(message).is_err() {
                    return;
                }
            }
        });
        let mut browser = Self {
            child,
            input,
            messages,
            session: String::new(),
            last_id: 0,
            events: Vec::new(),
            _profile: profile,
            _only_one: only_one,
        };
        browser.attach();
        browser
    }

    fn attach(&mut self) {
        let targets = self.call("Target.getTargets", json!({}));
        let targets = targets["targetInfos"].as_array().unwrap();
        let page = targets.iter().find(|t| t["type"] == "page").unwrap();
        let asked = json!({"targetId": page["targetId"], "flatten": true});
        let session = self.call("Target.attachToTarget", asked);
        self.session = session["sessionId"].as_str().unwrap().to_owned();
        for domain in ["Page", "Runtime", "Log", "Network"] {
            self.call(&format!("{domain}.enable"), json!({}));
        }
        self.resize(WIDTH, HEIGHT);
        // Without flights: the view is where it flies to.
        self.scheme("light");
    }

    /// Has the browser do something and gives back its answer.
    pub fn call(&mut self, method: &str, params: Value) -> Value {
        self.last_id += 1;
        let mut message = json!({"id": self.last_id, "method": method, "params": params});
        if !self.session.is_empty() {
            message["sessionId"] = json!(self.session);
        }
        self.input
            .write_all(message.to_string().as_bytes())
            .unwrap();
        self.input.write_all(&[0]).unwrap();
        self.input.flush().unwrap();
        let until = Instant::now() + PATIENCE;
        loop {
            let left = until.saturating_duration_since(Instant::now());
            let message = self.messages.recv_timeout(left);
            let message = message.unwrap_or_else(|e| panic!("{method}: no answer ({e})"));
            if message["id"] == self.last_id {
                assert!(message.get("error").is_none(), "{method}: {message}");
                return message["result"].clone();
            }
            if message.get("method").is_some() {
                self.events.push(message);
            }
        }
    }

    /// The value of a JavaScript expression in the page, awaited.
    pub fn value(&mut self, expression: &str) -> Value {
        let asked = json!({"expression": expression, "awaitPromise": true, "returnByValue": true,
            "userGesture": true});
        let answer = self.call("Runtime.evaluate", asked);
        assert!(
            answer.get("exceptionDetails").is_none(),
            "{expression}: {answer}"
        );
        answer["result"]["value"].clone()
    }

    /// Opens a file and waits until `ready` is true in it.
    pub fn open(&mut self, file: &Path, ready: &str) {
        self.events.clear();
        self.call(
            "Page.navigate",
            json!({"url": format!("file://{}", file.display())}),
        );
        let until = Instant::now() + PATIENCE;
        while self.value(&format!("Boolean({ready})")) != true {
            assert!(Instant::now() < until, "{}: never {ready}", file.display());
            std::thread::sleep(Duration::from_millis(50));
        }
    }

    /// Clicks with the mouse in the middle of the first element that a selector names.
    pub fn click(&mut self, selector: &str) {
        let script = format!(
            "(() => {{ const e = document.querySelector({selector:?}); e.scrollIntoView({{block: 'center'}}); \
             const b = e.getBoundingClientRect(); return [b.x + b.width / 2, b.y + b.height / 2]; }})()"
        );
        let at = self.value(&script);
        self.mouse("mousePressed", &at);
        self.mouse("mouseReleased", &at);
    }

    /// A mouse event at a place [x, y].
    pub fn mouse(&mut self, kind: &str, at: &Value) {
        self.pointer(kind, at, json!({}));
    }

    /// A mouse event with more said of it: another button, keys held (`modifiers`), a pen.
    pub fn pointer(&mut self, kind: &str, at: &Value, more: Value) {
        let button = if kind == "mouseMoved" { "none" } else { "left" };
        let mut event =
            json!({"type": kind, "x": at[0], "y": at[1], "button": button, "clickCount": 1});
        for (key, value) in more.as_object().unwrap() {
            event[key] = value.clone();
        }
        self.call("Input.dispatchMouseEvent", event);
    }

    /// Fingers on the screen: `kind` is `touchStart`, `touchMove` or `touchEnd`.
    pub fn touch(&mut self, kind: &str, fingers: &[[f64; 2]]) {
        let points: Vec<Value> = (0..)
            .zip(fingers)
            .map(|(id, at)| json!({"x": at[0], "y": at[1], "id": id}))
            .collect();
        let event = json!({"type": kind, "touchPoints": points});
        self.call("Input.dispatchTouchEvent", event);
    }

    /// Presses a key.
    pub fn key(&mut self, key: &str) {
        // Without their codes these only send events and do nothing by themselves.
        let (code, text) = match key {
            "Tab" => (9, None),
            "Enter" => (13, Some("\r")),
            _ => (0, None),
        };
        for kind in ["keyDown", "keyUp"] {
            let mut event = json!({"type": kind, "key": key, "windowsVirtualKeyCode": code});
            if let (Some(text), "keyDown") = (text, kind) {
                event["text"] = json!(text);
            }
            self.call("Input.dispatchKeyEvent", event);
        }
    }

    /// Size of the page in pixels.
    pub fn resize(&mut self, width: u32, height: u32) {
        let screen =
            json!({"width": width, "height": height, "deviceScaleFactor": 1, "mobile": false});
        self.call("Emulation.setDeviceMetricsOverride", screen);
    }

    /// Takes the system's setting to be `light` or `dark`; flights stay left out.
    pub fn scheme(&mut self, scheme: &str) {
        let features = json!([{"name": "prefers-color-scheme", "value": scheme},
            {"name": "prefers-reduced-motion", "value": "reduce"}]);
        self.call("Emulation.setEmulatedMedia", json!({"features": features}));
    }

    /// Messages of the console, errors that nobody caught and entries of the log since the page was
    /// opened.
    pub fn complaints(&self) -> Vec<&Value> {
        let kinds = [
            "Runtime.consoleAPICalled",
            "Runtime.exceptionThrown",
            "Log.entryAdded",
        ];
        self.of_kinds(&kinds)
    }

    /// Addresses asked for since the page was opened, the page's own first.
    pub fn requests(&self) -> Vec<&str> {
        let asked = self.of_kinds(&["Network.requestWillBeSent"]);
        let urls = asked
            .iter()
            .filter_map(|e| e["params"]["request"]["url"].as_str());
        urls.collect()
    }

    fn of_kinds(&self, kinds: &[&str]) -> Vec<&Value> {
        let is_meant = |e: &&Value| kinds.iter().any(|kind| e["method"] == *kind);
        self.events.iter().filter(is_meant).collect()
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
