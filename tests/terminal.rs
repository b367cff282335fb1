//! On a terminal: progress while it runs, colour unless told not to. Piped: neither.

use std::fs::{File, OpenOptions};
use std::io::Read;
use std::os::fd::{AsFd, OwnedFd};
use std::process::{Command, Stdio};

use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};

use crate::run::folder::Season;

/// A pair of ends: what is written to the second, a terminal, can be read from the first.
fn terminal() -> (OwnedFd, File) {
    let near = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).unwrap();
    grantpt(&near).unwrap();
    unlockpt(&near).unwrap();
    let name = ptsname(near.as_fd(), Vec::new()).unwrap();
    let far = OpenOptions::new()
        .read(true)
        .write(true)
        .open(name.to_str().unwrap())
        .unwrap();
    (near, far)
}

/// What a command says on standard error, a terminal, and on standard output, a pipe.
fn said(arguments: &[&str], no_colour: bool) -> (String, String) {
    let (near, far) = terminal();
    let mut command = Command::new(env!("CARGO_BIN_EXE_benchborne"));
    command
        .args(arguments)
        .env("TERM", "xterm-256color")
        .env_remove("NO_COLOR")
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::from(far));
    if no_colour {
        command.env("NO_COLOR", "1");
    }
    let child = command.spawn().unwrap();
    // The command's own copy of the far end goes with it: only then does reading end.
    drop(command);
    let reader = std::thread::spawn(move || {
        let (mut near, mut seen, mut piece) = (File::from(near), Vec::new(), [0; 4096]);
        // Linux tells a terminal whose other end is closed as an error.
        while let Ok(n @ 1..) = near.read(&mut piece) {
            seen.extend_from_slice(&piece[..n]);
        }
        String::from_utf8_lossy(&seen).into_owned()
    });
    let output = child.wait_with_output().unwrap();
    assert!(output.status.success());
    let standard = String::from_utf8(output.stdout).unwrap();
    (reader.join().unwrap(), standard)
}

#[test]
fn progress_is_shown_on_a_terminal_and_wiped_away() {
    // f09's log ends in the middle of a row: there is a warning to show.
    let season = Season::with(&["f01", "f09"]);
    let out = season.dir.join("report");
    let run = [
        "run",
        season.dir.to_str().unwrap(),
        "--out",
        out.to_str().unwrap(),
    ];
    let (shown, standard) = said(&run, false);
    for stage in ["Reading logs: ", "Analysing flights: ", "Drawing: "] {
        assert!(shown.contains(stage), "{stage}: {shown:?}");
    }
    assert!(shown.contains(" of 2 flights"), "{shown:?}");
    // Wiped before anything else is said, and the warning in colour.
    let (progress, rest) = shown.split_once("warning[").unwrap();
    assert!(progress.ends_with("\x1b[33m"), "{progress:?}");
    assert!(
        progress.trim_end_matches("\x1b[33m").ends_with("\x1b[2K"),
        "{progress:?}"
    );
    assert!(!rest.contains("Drawing"), "{rest:?}");
    assert!(!standard.contains('\x1b') && !standard.contains("Drawing"));

    let (plain, _) = said(&run, true);
    assert!(
        plain.contains("warning[") && !plain.contains("\x1b[33m"),
        "{plain:?}"
    );
}

#[test]
fn quiet_is_quiet_on_a_terminal_too() {
    let season = Season::with(&["f09"]);
    let out = season.dir.join("report");
    let (shown, standard) = said(
        &[
            "run",
            season.dir.to_str().unwrap(),
            "--out",
            out.to_str().unwrap(),
            "--quiet",
        ],
        false,
    );
    assert_eq!(shown, "");
    assert_eq!(
        standard.trim_end(),
        out.join("index.html").to_str().unwrap()
    );
}
