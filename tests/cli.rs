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
        &["completions", "tcl"],
        &["run", "x", "--json", "--quiet"],
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
    let answered =
        "Carry-over, eleven-blade against six-blade: Carried over; gain in level top speed ";
    assert!(said.starts_with(answered), "{said}");
    for asked in [
        "Power and time, ",
        "Controller, ",
        "Airframe, ",
        "Pack, ",
        "Sisters, ",
        "What to change: ",
        "What next: ",
    ] {
        assert!(
            said.lines().any(|l| l.starts_with(asked)),
            "{asked}: {said}"
        );
    }
    // An answer a line, and two for what was read and where the report lies.
    let findings: Value =
        serde_json::from_slice(&fs::read(dir.join("report/findings.json")).unwrap()).unwrap();
    let answers = findings["questions"].as_array().unwrap();
    assert_eq!(said.lines().count(), answers.len() + 2, "{said}");
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
fn help_has_examples_and_exit_codes_and_goes_to_standard_output() {
    let whole = text(&output(&["--help"]).stdout);
    assert_eq!(text(&output(&["help"]).stdout), whole);
    let commands: Vec<&str> = whole
        .split_once("Commands:")
        .unwrap()
        .1
        .lines()
        .skip(1)
        .take_while(|line| !line.is_empty())
        .filter(|line| !line.starts_with("   "))
        .map(|line| line.split_whitespace().next().unwrap())
        .collect();
    assert_eq!(
        commands,
        [
            "run",
            "check",
            "look",
            "new",
            "next",
            "demo",
            "completions",
            "help"
        ]
    );
    let mut pages = vec![whole.clone()];
    for command in commands {
        let out = output(&[command, "--help"]);
        assert_eq!(out.status.code(), Some(0));
        let page = text(&out.stdout);
        assert_eq!(text(&output(&["help", command]).stdout), page);
        assert!(page.contains(&format!("benchborne {command} ")), "{page}");
        pages.push(page);
    }
    for page in pages {
        assert!(page.contains("Example"), "{page}");
        let codes = page.split_once("Exit codes: 0 ").unwrap().1;
        assert!(codes.contains("3 internal fault"), "{page}");
    }
    let unknown = output(&["help", "seasons"]);
    assert_eq!(unknown.status.code(), Some(2));
    assert!(text(&unknown.stderr).contains("'seasons'; expected one of season, logbook"));
    let version = text(&output(&["--version"]).stdout);
    assert_eq!(
        version.trim(),
        format!("benchborne {}", env!("CARGO_PKG_VERSION"))
    );
}

/// What the season reader knows of is what the page on the season file tells of.
#[test]
fn the_page_on_the_season_file_names_every_key_and_channel() {
    let page = text(&output(&["help", "season"]).stdout);
    let words: Vec<&str> = page
        .split(|c: char| !c.is_alphanumeric() && !"_-".contains(c))
        .collect();
    let sections = [
        "",
        "[site]",
        "[airframe.a]",
        "[power.p]",
        "[controller.c]",
        "[pack.b]",
        "[instrument.i.voltage]",
        "[[bench]]",
        "[[logs]]",
        "[logs.channels]",
        "[[question]]",
        "[rules]",
        "[[option]]",
    ];
    let mut named = 0;
    for section in sections {
        let before = if section == "[logs.channels]" {
            "[[logs]]\n"
        } else {
            ""
        };
        let loaded = benchborne::season::load(&benchborne::season::SeasonText {
            season_toml: &format!("{before}{section}\nzzqq = 1\n"),
            logbook_csv: None,
            passes_csv: None,
        });
        let unknown = loaded
            .findings
            .iter()
            .find(|f| f.what.contains("zzqq"))
            .unwrap_or_else(|| panic!("{section}: {:?}", loaded.findings));
        let expected = unknown.expected.as_ref().unwrap();
        for key in expected.trim_start_matches("one of ").split(", ") {
            assert!(words.contains(&key), "{section} {key} is not told of");
            named += 1;
        }
    }
    assert!(named > 100, "only {named} keys were looked for");
    for topic in ["logbook", "flying", "words", "look-json"] {
        let page = text(&output(&["help", topic]).stdout);
        assert!(page.lines().count() > 10, "{topic}");
    }
}

/// The script is one that the shell itself takes, and it knows commands and options.
#[test]
fn completions_for_every_shell() {
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let out = output(&["completions", shell]);
        assert_eq!(out.status.code(), Some(0));
        let script = text(&out.stdout);
        for word in ["check", "season", "dry-run", "strict"] {
            assert!(script.contains(word), "{shell}: {word}");
        }
    }
    let script = text(&output(&["completions", "bash"]).stdout);
    let asked = "COMP_WORDS=(benchborne run --st) COMP_CWORD=2\n\
                 _benchborne benchborne --st run\nprintf '%s\\n' \"${COMPREPLY[@]}\"\n";
    let told = Command::new("bash")
        .args(["--norc", "-c", &(script + asked)])
        .output()
        .unwrap();
    assert_eq!(
        text(&told.stdout).trim(),
        "--strict",
        "{}",
        text(&told.stderr)
    );
}

/// A stand-in for the desktop's opener writes down what it was given.
#[cfg(target_os = "linux")]
#[test]
fn open_hands_the_page_to_the_platform() {
    use std::os::unix::fs::PermissionsExt;
    let season = Season::with(&[]);
    let out = season.dir.join("my report");
    let arguments = ["run", word(&season.dir), "--out", word(&out), "--open"];
    let bin = season.dir.join("bin");
    fs::create_dir(&bin).unwrap();
    let nothing = command(&arguments).env("PATH", &bin).output().unwrap();
    assert_eq!(nothing.status.code(), Some(0));
    let said = text(&nothing.stderr);
    assert!(
        said.contains("could not be opened") && said.contains("my report/index.html"),
        "{said}"
    );

    let opener = bin.join("xdg-open");
    let seen = season.dir.join("opened");
    let script = format!(
        "#!/bin/sh\nprintf %s \"$1\" > '{0}.part'\nmv '{0}.part' '{0}'\n",
        seen.display()
    );
    fs::write(&opener, script).unwrap();
    fs::set_permissions(&opener, fs::Permissions::from_mode(0o755)).unwrap();
    let path = format!("{}:/usr/bin:/bin", bin.display());
    let opened = command(&arguments).env("PATH", path).output().unwrap();
    assert_eq!(opened.status.code(), Some(0));
    assert!(!text(&opened.stderr).contains("could not be opened"));
    let end = std::time::Instant::now() + std::time::Duration::from_secs(20);
    while !seen.exists() && std::time::Instant::now() < end {
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
    let page = fs::canonicalize(out.join("index.html")).unwrap();
    assert_eq!(
        fs::canonicalize(fs::read_to_string(&seen).unwrap()).unwrap(),
        page
    );
}

#[test]
fn new_tells_a_program_what_it_found() {
    let season = Season::with(&["f01"]);
    season.remove("season.toml");
    season.remove("logbook.csv");
    let before = contents(&season.dir);
    let dry = output(&["new", word(&season.dir), "--json", "--dry-run"]);
    assert_eq!(dry.status.code(), Some(0), "{}", text(&dry.stderr));
    assert_eq!(contents(&season.dir), before);
    let dry: Value = serde_json::from_slice(&dry.stdout).unwrap();
    assert_eq!(dry["written"], serde_json::json!([]));
    assert_eq!(dry["flights"], 1);
    let kinds: Vec<&str> = dry["files"]
        .as_array()
        .unwrap()
        .iter()
        .map(|f| f["kind"].as_str().unwrap())
        .collect();
    assert_eq!(kinds, ["bench-table", "bench-table", "onboard-log"]);

    let wet = output(&["new", word(&season.dir), "--json"]);
    assert_eq!(wet.status.code(), Some(0), "{}", text(&wet.stderr));
    let wet: Value = serde_json::from_slice(&wet.stdout).unwrap();
    assert_eq!(
        wet["written"],
        serde_json::json!(["season.toml", "logbook.csv"])
    );
    assert_eq!(wet["season_toml"], dry["season_toml"]);
    let on_disk = fs::read_to_string(season.dir.join("season.toml")).unwrap();
    assert_eq!(wet["season_toml"].as_str().unwrap(), on_disk);
}
