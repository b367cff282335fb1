//! The command itself, as a pilot or a script meets it.

use std::fs;
use std::io::Read;
use std::path::Path;
use std::process::{Command, Output, Stdio};

use serde_json::Value;

use crate::run::folder::{Season, contents};

fn command(arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_benchborne"));
    command.args(arguments).stdin(Stdio::null());
    command
}

fn output(arguments: &[&str]) -> Output {
    command(arguments).output().unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

fn word(path: &Path) -> &str {
    path.to_str().unwrap()
}

#[test]
fn fine_is_0_and_strict_is_1_when_rows_were_set_aside() {
    // f09's log has a cut-off row.
    let season = Season::with(&["f01", "f09"]);
    let out = season.dir.join("report");
    let arguments = ["run", word(&season.dir), "--out", word(&out)];
    let fine = output(&arguments);
    assert_eq!(fine.status.code(), Some(0), "{}", text(&fine.stderr));
    let said = text(&fine.stdout);
    assert!(said.contains("1 set aside"), "{said}");
    let page = said
        .lines()
        .last()
        .unwrap()
        .strip_prefix("Report: ")
        .unwrap();
    assert!(Path::new(page).is_file());
    assert!(text(&fine.stderr).contains("cut-off-row"));
    // Piped, nothing is coloured.
    assert!(!said.contains('\x1b') && !text(&fine.stderr).contains('\x1b'));

    let strict = output(&[&arguments[..], &["--strict"]].concat());
    assert_eq!(strict.status.code(), Some(1));
    // Without anything set aside strict is 0.
    let whole = Season::with(&["f01"]);
    let strict = output(&[
        "run",
        word(&whole.dir),
        "--out",
        word(&whole.dir.join("report")),
        "--strict",
    ]);
    assert_eq!(strict.status.code(), Some(0), "{}", text(&strict.stderr));
}

#[test]
fn wrong_use_and_wrong_input_are_2() {
    for arguments in [
        &["run"][..],
        &["fly"],
        &["run", "x", "--threads", "0"],
        &["run", "/no/such/season"],
        &["check", "/no/such/season"],
        &[],
    ] {
        let out = output(arguments);
        assert_eq!(out.status.code(), Some(2), "{arguments:?}");
        assert!(
            !out.stderr.is_empty() && out.stdout.is_empty(),
            "{arguments:?}"
        );
    }
    let season = Season::with(&["f01"]);
    season.put("season.toml", "title = \"nothing declared\"\n");
    let out = output(&[
        "run",
        word(&season.dir),
        "--out",
        word(&season.dir.join("out")),
    ]);
    assert_eq!(out.status.code(), Some(2));
    assert!(text(&out.stderr).contains("no-power-system"));
    assert!(!season.dir.join("out").exists());
}

#[test]
fn json_is_findings_json() {
    let season = Season::with(&["f01"]);
    let out = season.dir.join("report");
    let run = output(&["run", word(&season.dir), "--out", word(&out), "--json"]);
    assert_eq!(run.status.code(), Some(0), "{}", text(&run.stderr));
    assert_eq!(run.stdout, fs::read(out.join("findings.json")).unwrap());
    let value: Value = serde_json::from_slice(&run.stdout).unwrap();
    assert_eq!(value["schema"], 1);
    assert_eq!(value["season"]["flights"], 1);
}

#[test]
fn check_tells_what_is_wrong_and_writes_nothing() {
    let season = Season::with(&["f01"]);
    let before = contents(&season.dir);
    let fine = output(&["check", word(&season.dir)]);
    assert_eq!(fine.status.code(), Some(0), "{}", text(&fine.stderr));
    assert!(text(&fine.stdout).starts_with("0 errors"));
    assert_eq!(contents(&season.dir), before);

    season.put("logs/radio-2025-04-12-1012.csv", "");
    let wrong = output(&["check", word(&season.dir)]);
    assert_eq!(wrong.status.code(), Some(2));
    assert!(
        text(&wrong.stdout).starts_with("1 error,"),
        "{}",
        text(&wrong.stdout)
    );
    assert!(text(&wrong.stderr).contains("empty-file"));

    let json = output(&["check", word(&season.dir), "--json"]);
    assert_eq!(json.status.code(), Some(2));
    assert!(json.stderr.is_empty());
    let value: Value = serde_json::from_slice(&json.stdout).unwrap();
    let codes: Vec<&str> = value
        .as_array()
        .unwrap()
        .iter()
        .map(|f| f["code"].as_str().unwrap())
        .collect();
    assert!(codes.contains(&"empty-file"), "{codes:?}");
}

#[test]
fn many_findings_of_one_kind_are_cut_short() {
    let season = Season::with(&["f01"]);
    let mut toml = season.text("season.toml");
    for i in 0..8 {
        toml += &format!("\n[[logs]]\nid = \"none-{i}\"\nfiles = \"logs/none-{i}-*.csv\"\n");
    }
    season.put("season.toml", &toml);
    let checked = output(&["check", word(&season.dir)]);
    let said = text(&checked.stderr);
    assert_eq!(said.matches("[no-log-matches]").count(), 3, "{said}");
    assert!(
        said.contains("… and 5 more like this (no-log-matches)"),
        "{said}"
    );
    // The sum and the JSON leave nothing out.
    assert!(text(&checked.stdout).contains("warnings"));
    let json = text(&output(&["check", word(&season.dir), "--json"]).stdout);
    assert_eq!(json.matches("no-log-matches").count(), 8);
}

/// The whole demo, run twice: foreign files in its report stay.
#[test]
fn the_demo_is_written_answered_and_may_be_run_again() {
    let place = tempfile::tempdir().unwrap();
    let dir = place.path().join("my-demo");
    let first = output(&["demo", word(&dir)]);
    assert_eq!(first.status.code(), Some(0), "{}", text(&first.stderr));
    let said = text(&first.stdout);
    let page = dir.join("report/index.html");
    assert_eq!(
        said.lines().last(),
        Some(format!("Report: {}", page.display()).as_str())
    );
    assert!(page.is_file() && dir.join("season.toml").is_file());
    assert!(said.contains("carry over into flight? Yes"), "{said}");
    assert!(said.lines().filter(|l| l.starts_with("- ")).count() >= 7);
    // The season is the committed one.
    for (name, bytes) in contents(&crate::run::folder::demo()) {
        assert!(
            fs::read(dir.join(&name)).unwrap() == bytes,
            "{name} differs"
        );
    }

    fs::write(dir.join("my-notes.txt"), "keep").unwrap();
    fs::write(dir.join("report/my-notes.txt"), "keep").unwrap();
    let before = contents(&dir);
    let again = output(&["demo", word(&dir)]);
    assert_eq!(again.status.code(), Some(0), "{}", text(&again.stderr));
    assert_eq!(again.stdout, first.stdout);
    assert!(contents(&dir) == before, "the second run changed something");
}

/// What `| head -1` does: the reader goes away.
#[test]
fn a_closed_pipe_is_no_failure() {
    let season = Season::with(&["f01"]);
    let out = season.dir.join("report");
    let mut child = command(&["run", word(&season.dir), "--out", word(&out), "--json"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let mut said = String::new();
    child
        .stderr
        .take()
        .unwrap()
        .read_to_string(&mut said)
        .unwrap();
    assert_eq!(child.wait().unwrap().code(), Some(0), "{said}");
    assert!(!said.contains("panic"), "{said}");
    assert!(out.join("index.html").is_file());

    let mut child = command(&["check", word(&season.dir)])
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stderr.take());
    assert_eq!(child.wait().unwrap().code(), Some(0));
}

#[test]
fn help_has_examples_and_goes_to_standard_output() {
    for (arguments, example) in [
        (&["--help"][..], "benchborne run my-season"),
        (&["run", "--help"], "benchborne run datasets/demo"),
        (&["check", "--help"], "benchborne check my-season"),
        (&["demo", "--help"], "benchborne demo my-demo"),
        (&["look", "--help"], "benchborne look logs/*.csv"),
        (&["new", "--help"], "benchborne new my-season"),
    ] {
        let out = output(arguments);
        assert_eq!(out.status.code(), Some(0));
        let said = text(&out.stdout);
        assert!(said.contains("Example") && said.contains(example), "{said}");
    }
    let version = text(&output(&["--version"]).stdout);
    assert_eq!(
        version.trim(),
        format!("benchborne {}", env!("CARGO_PKG_VERSION"))
    );
}
