//! Putting the report down.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use super::{all, fixture};
use benchborne::report::{ReportError, Written, put, render, write};

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
    assert_eq!(written.files.len(), rendered.files.len());
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
        "figures/photo.png",
        "findings.json",
        "findings.schema.json",
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
