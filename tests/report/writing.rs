//! Putting the report down.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use super::{all, fixture};
use benchborne::report::{MANIFEST, ReportError, Written, put, render, write};

/// Every file below a folder with its content.
fn contents(dir: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut out = BTreeMap::new();
    for entry in fs::read_dir(dir).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            out.extend(contents(&path));
        } else {
            out.insert(path.clone(), fs::read(&path).unwrap());
        }
    }
    out
}

#[test]
fn a_new_report_is_what_was_rendered() {
    let place = tempfile::tempdir().unwrap();
    let dir = place.path().join("deep/er/report");
    let findings = fixture::small();
    let written = write(&findings, &dir).unwrap();
    let rendered = render(&findings).unwrap();
    assert_eq!(written.files.len(), rendered.files.len() + 1);
    assert_eq!(written.files.last(), Some(&dir.join(MANIFEST)));
    for ((name, bytes), path) in rendered.files.iter().zip(&written.files) {
        assert_eq!(*path, dir.join(name));
        assert_eq!(fs::read(path).unwrap(), *bytes, "{name}");
    }
    // Nothing is left beside it.
    assert_eq!(fs::read_dir(dir.parent().unwrap()).unwrap().count(), 1);
}

#[test]
fn a_second_report_replaces_the_first_and_nothing_else() {
    let place = tempfile::tempdir().unwrap();
    let dir = place.path().join("report");
    write(&fixture::small(), &dir).unwrap();
    fs::write(dir.join("my notes.txt"), "keep me").unwrap();
    fs::write(dir.join("figures/photo.png"), "mine").unwrap();
    for page in [
        "flights/2025-05-03-1",
        "power/stock",
        "comparisons/stock--swap",
    ] {
        assert!(dir.join(format!("{page}.html")).is_file(), "{page}");
    }
    write(&fixture::empty(), &dir).unwrap();
    let names: Vec<String> = contents(&dir)
        .keys()
        .map(|p| {
            p.strip_prefix(&dir)
                .unwrap()
                .to_string_lossy()
                .replace('\\', "/")
        })
        .collect();
    let wanted = [
        "SHA256SUMS",
        "figures/photo.png",
        "findings.json",
        "findings.schema.json",
        "flight.schema.json",
        "fonts.css",
        "index.html",
        "my notes.txt",
        "next.html",
    ];
    assert_eq!(names, wanted);
    assert_eq!(fs::read(dir.join("my notes.txt")).unwrap(), b"keep me");
}

#[test]
fn tables_go_in_and_out_with_the_report() {
    let place = tempfile::tempdir().unwrap();
    let dir = place.path().join("report");
    let with_table = |text: &str| -> Result<Written, ReportError> {
        let mut rendered = render(&fixture::small())?;
        rendered
            .files
            .push(("flights.parquet".to_owned(), text.as_bytes().to_vec()));
        put(&rendered, &dir)
    };
    with_table("one").unwrap();
    with_table("two").unwrap();
    assert_eq!(fs::read(dir.join("flights.parquet")).unwrap(), b"two");
    fs::remove_file(dir.join("index.html")).unwrap();
    fs::create_dir(dir.join("index.html")).unwrap();
    assert!(with_table("three").is_err());
    assert_eq!(fs::read(dir.join("flights.parquet")).unwrap(), b"two");
}

/// The page cannot be put down because a folder has its name: all that was replaced before comes back.
#[test]
fn a_failed_write_leaves_the_older_report() {
    let place = tempfile::tempdir().unwrap();
    let dir = place.path().join("report");
    write(&fixture::small(), &dir).unwrap();
    fs::remove_file(dir.join("index.html")).unwrap();
    fs::create_dir_all(dir.join("index.html")).unwrap();
    fs::write(dir.join("index.html/in the way"), "x").unwrap();
    let before = contents(&dir);
    let mut other = fixture::small();
    other.season.title = "Another".into();
    other.figures.remove(0);
    let failed = write(&other, &dir);
    assert!(
        matches!(failed, Err(ReportError::Write { .. })),
        "{failed:?}"
    );
    assert_eq!(contents(&dir), before);
    assert_eq!(fs::read_dir(place.path()).unwrap().count(), 1);
}

/// The manifest is one that the system's own tool checks.
#[test]
fn a_report_can_be_checked_for_wholeness() {
    let place = tempfile::tempdir().unwrap();
    let dir = place.path().join("report");
    write(&fixture::small(), &dir).unwrap();
    let check = || {
        let mut sums = std::process::Command::new("sha256sum");
        sums.args(["--check", "--strict", "--quiet", MANIFEST]);
        sums.current_dir(&dir).output().unwrap()
    };
    let whole = check();
    assert!(whole.status.success(), "{whole:?}");
    let listed = fs::read_to_string(dir.join(MANIFEST)).unwrap();
    assert_eq!(listed.lines().count() + 1, contents(&dir).len());
    fs::write(dir.join("next.html"), "cut").unwrap();
    assert!(!check().status.success());
}

/// What is the pilot's stays: links, folders, what the pilot changed of an older report's files. What
/// a manifest claims outside the folder is not touched.
#[cfg(unix)]
#[test]
fn what_is_not_the_reports_stays() {
    use std::os::unix::fs::{MetadataExt, PermissionsExt, symlink};
    let place = tempfile::tempdir().unwrap();
    let dir = place.path().join("report");
    let outside = place.path().join("outside.txt");
    fs::write(&outside, "outside").unwrap();
    write(&fixture::small(), &dir).unwrap();
    let pictures: Vec<PathBuf> = fs::read_dir(dir.join("figures"))
        .unwrap()
        .map(|e| e.unwrap().path())
        .collect();
    assert!(pictures.len() > 1);
    fs::write(&pictures[0], "drawn upon").unwrap();
    symlink("../outside.txt", dir.join("link")).unwrap();
    fs::create_dir_all(dir.join("own/empty")).unwrap();
    fs::write(dir.join("own/notes"), "keep").unwrap();
    let notes = fs::metadata(dir.join("own/notes")).unwrap().ino();
    fs::set_permissions(&dir, fs::Permissions::from_mode(0o750)).unwrap();
    let sums = fs::read_to_string(dir.join(MANIFEST)).unwrap();
    let digest = "63ad50d5a2cf2e8e2ed81cbcc0c1ab1ec9fbcbee4ea12cb8a1ac5ddb08b5c2c1";
    let claims = format!(
        "{sums}{digest}  ../outside.txt\n{digest}  {}\n",
        outside.display()
    );
    fs::write(dir.join(MANIFEST), claims).unwrap();

    write(&fixture::empty(), &dir).unwrap();
    assert_eq!(fs::read(&pictures[0]).unwrap(), b"drawn upon");
    assert!(pictures[1..].iter().all(|p| !p.exists()));
    assert_eq!(fs::read(dir.join("link")).unwrap(), b"outside");
    assert!(fs::symlink_metadata(dir.join("link")).unwrap().is_symlink());
    assert!(dir.join("own/empty").is_dir());
    let kept = fs::metadata(dir.join("own/notes")).unwrap();
    assert_eq!((kept.ino(), kept.nlink()), (notes, 1), "the very file");
    assert_eq!(fs::metadata(&dir).unwrap().mode() & 0o777, 0o750);
    assert_eq!(fs::read_dir(place.path()).unwrap().count(), 2);
}

/// A link to a folder stays one; what it names is replaced.
#[cfg(unix)]
#[test]
fn a_report_may_be_a_link() {
    let place = tempfile::tempdir().unwrap();
    let real = place.path().join("far/real");
    write(&fixture::small(), &real).unwrap();
    let link = place.path().join("report");
    std::os::unix::fs::symlink(&real, &link).unwrap();
    let written = write(&fixture::empty(), &link).unwrap();
    assert_eq!(written.page, link.join("index.html"));
    assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
    let page = fs::read(real.join("index.html")).unwrap();
    let rendered = render(&fixture::empty()).unwrap();
    let new = rendered.files.iter().find(|(name, _)| name == "index.html");
    assert_eq!(page, new.unwrap().1);
    assert!(!real.join("figures").exists());
}

/// Where the folder cannot be moved as a whole (a pipe lies in it here) its files are replaced one by one.
#[cfg(unix)]
#[test]
fn a_folder_that_cannot_be_exchanged_is_filled_file_by_file() {
    let place = tempfile::tempdir().unwrap();
    let dir = place.path().join("report");
    write(&fixture::small(), &dir).unwrap();
    let made = std::process::Command::new("mkfifo")
        .arg(dir.join("pipe"))
        .status();
    assert!(made.unwrap().success());
    let before = fs::metadata(&dir).unwrap();
    write(&fixture::empty(), &dir).unwrap();
    use std::os::unix::fs::MetadataExt;
    assert_eq!(fs::metadata(&dir).unwrap().ino(), before.ino());
    let rendered = render(&fixture::empty()).unwrap();
    for (name, bytes) in &rendered.files {
        assert_eq!(fs::read(dir.join(name)).unwrap(), *bytes, "{name}");
    }
    assert!(fs::read_dir(dir.join("figures")).unwrap().next().is_none());
    assert_eq!(fs::read_dir(place.path()).unwrap().count(), 1);
}

/// What a killed run left is removed by the next one; another program's hidden files are not.
#[test]
fn leavings_are_cleared_away() {
    let place = tempfile::tempdir().unwrap();
    let dir = place.path().join("report");
    fs::create_dir_all(place.path().join(".benchborne-dead/report")).unwrap();
    fs::write(place.path().join(".benchborne-dead/report/index.html"), "x").unwrap();
    fs::write(place.path().join(".benchborne-file"), "x").unwrap();
    fs::write(place.path().join(".other"), "x").unwrap();
    write(&fixture::empty(), &dir).unwrap();
    let mut left: Vec<_> = fs::read_dir(place.path())
        .unwrap()
        .map(|e| e.unwrap().file_name())
        .collect();
    left.sort();
    assert_eq!(left, [".other", "report"]);
}

#[test]
fn findings_that_cannot_be_rendered_touch_nothing() {
    let place = tempfile::tempdir().unwrap();
    let dir = place.path().join("report");
    let mut findings = fixture::small();
    findings.questions[0]
        .estimates
        .get_mut("static_thrust_gain")
        .unwrap()
        .level = f64::INFINITY;
    assert!(write(&findings, &dir).is_err());
    assert!(!dir.exists());
}

/// For looking at with a browser: `BENCHBORNE_LOOK=DIR cargo test --test tests report::`.
#[test]
fn reports_of_all_kinds_can_be_written() {
    let place = tempfile::tempdir().unwrap();
    let dir = std::env::var_os("BENCHBORNE_LOOK").map_or(place.path().to_path_buf(), PathBuf::from);
    for case in all() {
        let written = write(&case.findings, &dir.join(case.name)).unwrap();
        assert!(written.page.is_file());
    }
}
