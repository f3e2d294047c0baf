//! A program that is killed or told to stop while it writes leaves the old file or the new one,
//! whole.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Duration;

use support::bench_cages::obj_text;
use support::cages::torus;

fn cage_in(folder: &Path) -> PathBuf {
    let path = folder.join("torus.obj");
    fs::write(&path, obj_text(&torus(60, 40, 2.0, 0.7))).unwrap();
    path
}

fn smooth(cage: &Path, out: &Path, level: &str) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_cagewise"));
    command.args(["smooth", "--quiet", "--level", level, "--out"]);
    command.arg(out).arg(cage).stdin(Stdio::null());
    command
}

/// Stops the program by `signal` after ever longer times, until it gets to its end.
fn stopped_at_every_stage(signal: &str) -> Vec<Vec<String>> {
    let folder = tempfile::tempdir().unwrap();
    let cage = cage_in(folder.path());
    let out = folder.path().join("smooth.obj");
    assert!(smooth(&cage, &out, "3").status().unwrap().success());
    let new = fs::read(&out).unwrap();
    let old = b"the result of an earlier run\n".to_vec();
    let mut left = Vec::new();
    let (mut stopped, mut finished) = (0, 0);
    for step in 0..600 {
        fs::write(&out, &old).unwrap();
        let mut child = smooth(&cage, &out, "3").spawn().unwrap();
        std::thread::sleep(Duration::from_millis(2 * step));
        let kill = Command::new("kill")
            .args([signal, &child.id().to_string()])
            .status();
        assert!(kill.unwrap().success() || child.try_wait().unwrap().is_some());
        let ended_well = child.wait().unwrap().success();
        let found = fs::read(&out).unwrap();
        assert!(
            found == old || found == new,
            "step {step}: {} bytes",
            found.len()
        );
        assert!(!ended_well || found == new, "step {step}");
        let names = fs::read_dir(folder.path()).unwrap();
        let names = names.map(|e| e.unwrap().file_name().into_string().unwrap());
        left.push(names.filter(|name| name.ends_with(".part")).collect());
        stopped += usize::from(!ended_well);
        finished += usize::from(ended_well);
        if finished == 3 {
            break;
        }
    }
    assert!(
        stopped > 0 && finished > 0,
        "{stopped} stopped, {finished} finished"
    );
    left
}

#[test]
fn a_kill_leaves_the_old_file_or_the_new_one_whole() {
    stopped_at_every_stage("-KILL");
}

#[test]
fn a_stop_leaves_no_temporary_file_either() {
    for signal in ["-INT", "-TERM"] {
        for left in stopped_at_every_stage(signal) {
            assert_eq!(left, Vec::<String>::new(), "{signal}");
        }
    }
}
