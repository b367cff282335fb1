//! What goes wrong around the program: disks, rights, names, links, sizes. Each is told in clear words,
//! and nothing that lay there is lost.

use std::fs;
use std::io::{Read, Seek};
use std::os::unix::fs::{PermissionsExt, symlink};
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

use rustix::process::getuid;

use crate::run::folder::{Season, contents};

const PROGRAM: &str = env!("CARGO_BIN_EXE_benchborne");

/// Nobody's user number on the usual systems.
const NOBODY: u32 = 65_534;

/// Longer than any of these takes, shorter than for ever.
const PATIENCE: Duration = Duration::from_secs(120);

fn word(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// What a command ends with and says on both streams; it must end.
fn ends(command: &mut Command) -> (Option<i32>, String) {
    let (output, _) = measured(command);
    let said = [output.stdout, output.stderr].concat();
    (
        output.status.code(),
        String::from_utf8_lossy(&said).into_owned(),
    )
}

/// The same with the most memory it held, bytes.
fn measured(command: &mut Command) -> (Output, u64) {
    // Files, not pipes: a command that says much waits for nobody.
    let [mut out, mut err] = [(); 2].map(|()| tempfile::tempfile().unwrap());
    let mut child = command
        .stdin(Stdio::null())
        .stdout(out.try_clone().unwrap())
        .stderr(err.try_clone().unwrap())
        .spawn()
        .unwrap();
    let status = format!("/proc/{}/status", child.id());
    let (start, mut most) = (Instant::now(), 0);
    while child.try_wait().unwrap().is_none() {
        if start.elapsed() > PATIENCE {
            child.kill().unwrap();
            panic!("{command:?} does not end");
        }
        let told = fs::read_to_string(&status).unwrap_or_default();
        let peak = told.lines().find_map(|l| l.strip_prefix("VmHWM:"));
        let kib = peak.and_then(|p| p.trim().trim_end_matches(" kB").parse::<u64>().ok());
        most = most.max(kib.unwrap_or(0) << 10);
        std::thread::sleep(Duration::from_millis(5));
    }
    let said = |file: &mut fs::File| {
        let mut bytes = Vec::new();
        file.rewind().unwrap();
        file.read_to_end(&mut bytes).unwrap();
        bytes
    };
    let output = Output {
        status: child.wait().unwrap(),
        stdout: said(&mut out),
        stderr: said(&mut err),
    };
    (output, most)
}

/// Without a store: every run has to do its work and to write.
fn run(season: &Path, out: &Path) -> Command {
    let mut command = Command::new(PROGRAM);
    command
        .args(["run", "--no-cache"])
        .arg(season)
        .arg("--out")
        .arg(out);
    command
}

/// Without this no test of rights would show anything: root may read and write everything.
fn without_root(command: &mut Command) -> &mut Command {
    if getuid().is_root() {
        command.uid(NOBODY).gid(NOBODY)
    } else {
        command
    }
}

fn open_to_all(dir: &Path) {
    fs::set_permissions(dir, fs::Permissions::from_mode(0o777)).unwrap();
    for entry in fs::read_dir(dir).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            open_to_all(&path);
        }
    }
}

/// A disk of a size, for one command, in a name space of its own: nobody else sees it.
fn on_small_disk(size: &str, at: &Path, script: &str) -> Output {
    let inside = format!(
        "mount -t tmpfs -o size={size} tmpfs '{0}' && cd '{0}' && {script}",
        at.display()
    );
    Command::new("unshare")
        .args(["--map-root-user", "--mount", "sh", "-c", &inside])
        .output()
        .unwrap()
}

#[test]
fn a_full_disk_keeps_the_older_report() {
    let season = Season::with(&[]);
    let disk = tempfile::tempdir().unwrap();
    if !on_small_disk("64k", disk.path(), "true").status.success() {
        println!("not checked: this system lets nobody mount a small disk");
        return;
    }
    // What fits, then a season whose report does not: the disk is filled up to it.
    let script = format!(
        "'{PROGRAM}' run --no-cache '{0}' --out report --quiet && cp -r report '{1}/kept' && \
         dd if=/dev/zero of=filler bs=1k 2>/dev/null; \
         '{PROGRAM}' run --no-cache '{0}' --out report; echo \"code $?\"; \
         diff -r report '{1}/kept' && echo same; ls -A",
        season.dir.display(),
        season.dir.display(),
    );
    let output = on_small_disk("24m", disk.path(), &script);
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    let told = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(
        said.contains("code 2\nsame\nfiller\nreport\n"),
        "{said}{told}"
    );
    assert!(
        told.contains("No space left on device")
            && told.contains("An earlier report there was kept"),
        "{told}"
    );
    assert!(told.contains("report/") && told.contains("--out"), "{told}");
}

#[test]
fn a_full_disk_under_standard_output_is_told() {
    let season = Season::with(&[]);
    let full = fs::OpenOptions::new()
        .write(true)
        .open("/dev/full")
        .unwrap();
    let output = Command::new(PROGRAM)
        .args(["check", word(&season.dir), "--json"])
        .stdout(full)
        .stderr(Stdio::piped())
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(2));
    let told = String::from_utf8(output.stderr).unwrap();
    assert!(
        told.contains("standard output could not be written"),
        "{told}"
    );
}

#[test]
fn a_folder_that_may_not_be_written_to() {
    let season = Season::with(&[]);
    let place = tempfile::tempdir().unwrap();
    open_to_all(place.path());
    open_to_all(season.dir.parent().unwrap());
    let out = place.path().join("locked/report");
    let (code, said) = ends(without_root(&mut run(&season.dir, &out)));
    assert_eq!(code, Some(0), "{said}");
    let before = contents(&out);
    let lock = |mode| {
        for path in [&out, &place.path().join("locked")] {
            fs::set_permissions(path, fs::Permissions::from_mode(mode)).unwrap();
        }
    };
    lock(0o555);
    let (code, said) = ends(without_root(&mut run(&season.dir, &out)));
    lock(0o755);
    assert_eq!(code, Some(2), "{said}");
    assert!(
        said.contains("locked") && said.contains("Permission denied"),
        "{said}"
    );
    assert!(said.contains("--out") && !said.contains("panic"), "{said}");
    assert_eq!(contents(&out), before);
}

/// Its folder may not be written to, the report's own may.
#[test]
fn a_report_in_a_folder_of_somebody_elses() {
    let season = Season::with(&[]);
    let place = tempfile::tempdir().unwrap();
    open_to_all(season.dir.parent().unwrap());
    let out = place.path().join("report");
    fs::create_dir(&out).unwrap();
    fs::set_permissions(&out, fs::Permissions::from_mode(0o777)).unwrap();
    fs::set_permissions(place.path(), fs::Permissions::from_mode(0o555)).unwrap();
    for _ in 0..2 {
        let (code, said) = ends(without_root(&mut run(&season.dir, &out)));
        assert_eq!(code, Some(0), "{said}");
        assert!(out.join("index.html").is_file());
        let hidden = |e: fs::DirEntry| e.file_name().to_string_lossy().starts_with('.');
        assert!(!fs::read_dir(&out).unwrap().any(|e| hidden(e.unwrap())));
    }
    fs::set_permissions(place.path(), fs::Permissions::from_mode(0o755)).unwrap();
}

#[test]
fn files_that_may_not_be_read() {
    let season = Season::with(&["f01", "f05"]);
    open_to_all(season.dir.parent().unwrap());
    let log = season.dir.join("logs/radio-2025-04-12-1012.csv");
    let bench = season.dir.join("bench/six-blade.csv");
    for path in [&log, &bench] {
        fs::set_permissions(path, fs::Permissions::from_mode(0o000)).unwrap();
    }
    let out = season.dir.join("report");
    let (code, said) = ends(without_root(&mut run(&season.dir, &out)));
    assert_eq!(code, Some(0), "{said}");
    for name in ["logs/radio-2025-04-12-1012.csv", "bench/six-blade.csv"] {
        let line = said
            .lines()
            .find(|l| l.contains(name) && l.starts_with("error"));
        assert!(
            line.is_some_and(|l| l.contains("Permission denied")),
            "{name}: {said}"
        );
    }
    // The rest is analysed.
    let findings = fs::read_to_string(out.join("findings.json")).unwrap();
    assert!(findings.contains("logs/radio-2025-05-03-0930.csv"));

    fs::set_permissions(
        season.dir.join("season.toml"),
        fs::Permissions::from_mode(0o000),
    )
    .unwrap();
    let before = contents(&out);
    let (code, said) = ends(without_root(&mut run(&season.dir, &out)));
    assert_eq!(code, Some(2));
    assert!(
        said.contains("season.toml could not be read: Permission denied"),
        "{said}"
    );
    assert_eq!(contents(&out), before);
}

/// A pipe that nobody writes to, and a device that never ends, in every place that a file can have.
#[test]
fn what_is_no_ordinary_file_is_not_waited_for() {
    let place = tempfile::tempdir().unwrap();
    let pipe = place.path().join("pipe.csv");
    assert!(
        Command::new("mkfifo")
            .arg(&pipe)
            .status()
            .unwrap()
            .success()
    );
    for odd in [pipe.as_path(), Path::new("/dev/zero")] {
        let (code, said) = ends(Command::new(PROGRAM).arg("look").arg(odd));
        assert_eq!(code, Some(2), "{said}");
        assert!(said.contains("no ordinary file"), "{said}");
        for name in [
            "season.toml",
            "logbook.csv",
            "passes.csv",
            "bench/six-blade.csv",
            "logs/radio-2025-04-12-1012.csv",
        ] {
            let season = Season::with(&["f01"]);
            let path = season.dir.join(name);
            let _ = fs::remove_file(&path);
            symlink(odd, &path).unwrap();
            let (code, said) = ends(Command::new(PROGRAM).arg("check").arg(&season.dir));
            assert_eq!(code, Some(2), "{name}: {said}");
            let told = said.contains("no ordinary file") || said.contains("is not there");
            assert!(said.contains(name) && told, "{name}: {said}");
        }
    }
}

#[test]
fn links_in_circles_and_to_nowhere() {
    let season = Season::with(&["f01"]);
    symlink("..", season.dir.join("logs/up")).unwrap();
    symlink(".", season.dir.join("logs/self")).unwrap();
    symlink("there", season.dir.join("logs/here")).unwrap();
    symlink("here", season.dir.join("logs/there")).unwrap();
    symlink("nowhere.csv", season.dir.join("logs/radio-dangling.csv")).unwrap();
    season.replace("season.toml", "logs/radio-*.csv", "**/radio-*.csv");
    let out = season.dir.join("report");
    for _ in 0..2 {
        let (code, said) = ends(&mut run(&season.dir, &out));
        assert_eq!(code, Some(0), "{said}");
    }
    let findings = fs::read_to_string(out.join("findings.json")).unwrap();
    let findings: serde_json::Value = serde_json::from_str(&findings).unwrap();
    assert_eq!(findings["season"]["flights"], 1);
    let files = findings["ledger"]["files"].as_array().unwrap();
    assert_eq!(files.len(), 3, "{files:?}");

    for name in ["season.toml", "logbook.csv"] {
        season.remove(name);
    }
    let (code, said) = ends(Command::new(PROGRAM).arg("new").arg(&season.dir));
    assert_eq!(code, Some(0), "{said}");
    assert!(said.contains("1 onboard logs"), "{said}");
}

/// A name is bytes: quotes, markup, a line end, no text at all.
#[test]
fn odd_names() {
    use std::ffi::OsStr;
    use std::os::unix::ffi::OsStrExt;
    let season = Season::with(&["f01", "f05"]);
    let names: [&[u8]; 4] = [
        b"radio-it's \"odd\".csv",
        b"radio-<img src=x onerror=alert(1)>&amp;.csv",
        b"radio-two\nlines.csv",
        b"radio-\xff\xfe.csv",
    ];
    let log = season.bytes("logs/radio-2025-05-03-0930.csv");
    for (i, name) in names.iter().enumerate() {
        // Different flights: a copy would be set aside as one.
        let text: String = log.iter().map(|b| char::from(*b)).collect();
        let text = text.replace("03.05.2025", &format!("{:02}.06.2025", i + 1));
        let bytes: Vec<u8> = text.chars().map(|c| u32::from(c) as u8).collect();
        fs::write(season.dir.join("logs").join(OsStr::from_bytes(name)), bytes).unwrap();
    }
    season.remove("logbook.csv");
    let out = season.dir.join("report");
    let (code, said) = ends(&mut run(&season.dir, &out));
    assert_eq!(code, Some(0), "{said}");
    assert!(!said.contains("\nlines.csv"), "a name broke a line: {said}");
    // Each is read, or named as one that cannot be.
    let findings = fs::read_to_string(out.join("findings.json")).unwrap();
    let value: serde_json::Value = serde_json::from_str(&findings).unwrap();
    let ledger = value["ledger"].to_string();
    for shown in [
        "it's \\\"odd\\\"",
        "onerror=alert(1)>&amp;.csv",
        "two\\nlines",
        "radio-\u{fffd}",
    ] {
        assert!(ledger.contains(shown), "{shown}: {said}");
    }
    for (name, bytes) in contents(&out) {
        if name.ends_with(".html") {
            let page = String::from_utf8(bytes).unwrap();
            assert!(
                !page.contains("<img src=x"),
                "{name} holds markup of a file's name"
            );
        }
    }
}

/// Names of a season file become names of pages and pictures, within the report's folder.
#[test]
fn ids_do_not_write_outside_the_report() {
    let season = Season::with(&["f01", "f05"]);
    for name in ["season.toml", "logbook.csv"] {
        let text = season.text(name);
        let text = if name == "season.toml" {
            text.replace("[power.six-blade]", "[power.\"../../evil\"]")
                .replace("[pack.red]", "[pack.\"/tmp/../red\"]")
                .replace("\"six-blade\"", "\"../../evil\"")
                .replace("\"red\"", "\"/tmp/../red\"")
        } else {
            text.replace("six-blade", "../../evil")
                .replace(",red,", ",/tmp/../red,")
                .replace("f01,", "../f01,")
                .replace("f05,", "..\\f05/.,")
        };
        season.put(name, &text);
    }
    let before = contents(&season.dir);
    let out = season.dir.join("deep/er/report");
    let (code, said) = ends(&mut run(&season.dir, &out));
    assert_eq!(code, Some(0), "{said}");
    let report = contents(&out);
    let page = fs::read_to_string(out.join("findings.json")).unwrap();
    assert!(
        page.contains("../../evil") && page.contains("/tmp/../red"),
        "{said}"
    );
    let after = contents(&season.dir);
    let outside: Vec<&String> = after
        .iter()
        .map(|(name, _)| name)
        .filter(|name| !name.starts_with("deep/er/report/"))
        .collect();
    let was: Vec<&String> = before.iter().map(|(name, _)| name).collect();
    assert_eq!(outside, was);
    assert!(report.len() > 10);
    let beside = fs::read_dir(season.dir.parent().unwrap()).unwrap();
    assert_eq!(beside.count(), 1);
}

#[test]
fn ten_thousand_files_in_a_folder() {
    let season = Season::with(&["f01"]);
    for i in 0..10_000 {
        fs::write(season.dir.join(format!("logs/other-{i:05}.txt")), "note\n").unwrap();
    }
    let out = season.dir.join("report");
    let start = Instant::now();
    let (code, said) = ends(&mut run(&season.dir, &out));
    assert_eq!(code, Some(0), "{said}");
    let (code, said) = ends(Command::new(PROGRAM).arg("check").arg(&season.dir));
    assert_eq!(code, Some(0), "{said}");
    assert!(said.contains("10000 file(s) beside the logs"), "{said}");
    for name in ["season.toml", "logbook.csv"] {
        season.remove(name);
    }
    let (code, said) = ends(Command::new(PROGRAM).arg("new").arg(&season.dir));
    assert_eq!(code, Some(0), "{said}");
    assert!(
        said.contains("10000 not readable") || said.contains("10000 other"),
        "{said}"
    );
    assert!(start.elapsed() < PATIENCE);
}

/// A file as large as one likes that takes no room on the disk.
fn sparse(path: &Path, bytes: u64) {
    fs::File::create(path).unwrap().set_len(bytes).unwrap();
}

#[test]
fn sizes_beyond_memory_are_told() {
    const HUGE: u64 = 1 << 40;
    let bound = 1 << 30;
    for name in [
        "season.toml",
        "logbook.csv",
        "passes.csv",
        "bench/six-blade.csv",
    ] {
        let season = Season::with(&["f01"]);
        sparse(&season.dir.join(name), HUGE);
        let (output, most) = measured(Command::new(PROGRAM).arg("check").arg(&season.dir));
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(2), "{name}: {said}");
        assert!(
            said.contains(name) && said.contains("1048576 MB"),
            "{name}: {said}"
        );
        assert!(most < bound, "{name}: {most} bytes");
    }
}

/// One line of a gigabyte, without a mark and with one for each cell.
#[test]
fn a_line_of_a_gigabyte() {
    let season = Season::with(&["f01"]);
    let log = season.dir.join("logs/radio-2025-04-12-1012.csv");
    sparse(&log, 1 << 30);
    let out = season.dir.join("report");
    let (output, most) = measured(&mut run(&season.dir, &out));
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(said.contains("logs/radio-2025-04-12-1012.csv"), "{said}");
    assert!(most > 0 && most < 600 << 20, "{most} bytes held: {said}");
    assert_eq!(output.status.code(), Some(0), "{said}");
}

#[test]
fn a_hostile_season_file_ends_in_findings() {
    let deep = format!("a = {}1{}\n", "[".repeat(200_000), "]".repeat(200_000));
    let inline = format!("a = {}{}\n", "{b=".repeat(100_000), "}".repeat(100_000));
    let dotted = format!("{}x = 1\n", "a.".repeat(100_000));
    let many = (0..200_000).fold(String::new(), |t, i| t + &format!("[power.p{i}]\n"));
    for (what, text) in [
        ("deep", deep),
        ("inline", inline),
        ("dotted", dotted),
        ("many", many),
    ] {
        let place = tempfile::tempdir().unwrap();
        fs::write(place.path().join("season.toml"), text).unwrap();
        let (output, most) = measured(Command::new(PROGRAM).arg("check").arg(place.path()));
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(
            output.status.code().is_some_and(|c| c == 0 || c == 2),
            "{what}: {said}"
        );
        assert!(said.contains("season.toml"), "{what}: {said}");
        assert!(
            said.len() < 5_000,
            "{what}: {} bytes of complaint",
            said.len()
        );
        assert!(most < 1 << 30, "{what}: {most} bytes");
    }
}

/// Files of the season are only read: whatever happens they are as they were.
#[test]
fn a_run_changes_nothing_of_the_season() {
    let season = Season::with(&["f01", "f05"]);
    let before = contents(&season.dir);
    let place: PathBuf = season.dir.parent().unwrap().join("out");
    let (code, _) = ends(&mut run(&season.dir, &place));
    assert_eq!(code, Some(0));
    assert_eq!(contents(&season.dir), before);
}

/// A log that is still being copied: what was read of it is used, and told.
#[test]
fn a_file_that_changes_while_it_is_read() {
    use std::io::Write;
    use std::sync::atomic::{AtomicBool, Ordering};
    let season = Season::with(&["f01", "f05"]);
    let code = "changed-while-read";
    let told = |findings: &[benchborne::season::Finding]| -> Vec<String> {
        let changed = findings.iter().filter(|f| f.code == code);
        changed
            .map(|f| f.place.as_ref().unwrap().file.clone())
            .collect()
    };
    let name = "logs/radio-2025-04-12-1012.csv";
    let path = season.dir.join(name);
    let row = season.text(name).lines().last().unwrap().to_owned() + "\n";
    let done = AtomicBool::new(false);
    let analysed = std::thread::scope(|scope| {
        scope.spawn(|| {
            let mut file = fs::OpenOptions::new().append(true).open(&path).unwrap();
            while !done.load(Ordering::Relaxed) {
                file.write_all(row.as_bytes()).unwrap();
                std::thread::sleep(Duration::from_millis(1));
            }
        });
        let analysed = benchborne::run::analyse(&season.dir);
        done.store(true, Ordering::Relaxed);
        analysed
    });
    let analysed = analysed.unwrap();
    assert_eq!(told(&analysed.findings.ledger.findings), [name]);
    assert!(analysed.findings.ledger.files.iter().all(|f| f.balances()));
    let at_rest = benchborne::run::check(&season.dir).unwrap();
    assert_eq!(told(&at_rest), [""; 0]);
}
