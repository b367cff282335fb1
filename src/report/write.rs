//! Putting the report down: whole or not at all.
//!
//! All files are first written into a temporary folder beside the target. A new report becomes the
//! target in one rename. Over an older report each file is renamed into place, the older one kept
//! until all are in; a failure puts everything back. Files that are not the report's stay untouched.

use std::fs;
use std::path::{Path, PathBuf};

use super::{Rendered, ReportError, render};
use crate::findings::Findings;

/// What was written where.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Written {
    pub folder: PathBuf,
    /// The page to open.
    pub page: PathBuf,
    /// All files of the report.
    pub files: Vec<PathBuf>,
}

pub fn write(findings: &Findings, dir: &Path) -> Result<Written, ReportError> {
    put(&render(findings)?, dir)
}

/// Puts down what was rendered, with whatever the caller added to its files.
pub fn put(rendered: &Rendered, dir: &Path) -> Result<Written, ReportError> {
    let parent = match dir.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    fs::create_dir_all(parent).map_err(at(parent))?;
    // Beside the target, so that a rename never crosses file systems.
    let stage = tempfile::Builder::new()
        .prefix(".report-")
        .tempdir_in(parent)
        .map_err(at(parent))?;
    let fresh = stage.path().join("new");
    for (name, bytes) in &rendered.files {
        let path = fresh.join(name);
        if let Some(folder) = path.parent() {
            fs::create_dir_all(folder).map_err(at(folder))?;
        }
        fs::write(&path, bytes).map_err(at(&path))?;
    }
    if fs::symlink_metadata(dir).is_ok() {
        let stale = stale_files(rendered, dir);
        replace(rendered, &stale, dir, &fresh, &stage.path().join("old"))?;
    } else {
        fs::rename(&fresh, dir).map_err(at(dir))?;
    }
    Ok(Written {
        folder: dir.to_path_buf(),
        page: dir.join("index.html"),
        files: rendered
            .files
            .iter()
            .map(|(name, _)| dir.join(name))
            .collect(),
    })
}

/// Puts down one file, whole or not at all.
pub fn put_file(bytes: &[u8], path: &Path) -> Result<(), ReportError> {
    let parent = match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    fs::create_dir_all(parent).map_err(at(parent))?;
    let mut stage = tempfile::Builder::new()
        .prefix(".card-")
        .tempfile_in(parent)
        .map_err(at(parent))?;
    std::io::Write::write_all(&mut stage, bytes).map_err(at(path))?;
    stage.persist(path).map_err(|e| at(path)(e.error))?;
    Ok(())
}

fn at(path: &Path) -> impl FnOnce(std::io::Error) -> ReportError {
    let path = path.to_path_buf();
    move |source| ReportError::Write { path, source }
}

/// Pictures of the older report that the new one does not have, after the older `findings.json`.
fn stale_files(rendered: &Rendered, dir: &Path) -> Vec<String> {
    let Ok(bytes) = fs::read(dir.join("findings.json")) else {
        return Vec::new();
    };
    let Ok(old) = serde_json::from_slice::<Findings>(&bytes) else {
        return Vec::new();
    };
    super::words::stems(old.figures.iter().map(|f| f.id.as_str()))
        .into_iter()
        .map(|stem| format!("figures/{stem}.png"))
        .filter(|name| rendered.files.iter().all(|(new, _)| new != name))
        .filter(|name| dir.join(name).is_file())
        .collect()
}

/// Moves the new files in and the old ones out; on a failure undoes what it did, last step first.
fn replace(
    rendered: &Rendered,
    stale: &[String],
    dir: &Path,
    fresh: &Path,
    old: &Path,
) -> Result<(), ReportError> {
    let mut undo: Vec<(PathBuf, PathBuf)> = Vec::new();
    let result = (|| {
        // The page goes in last: where it stands, the rest stands too.
        let mut names: Vec<&String> = rendered.files.iter().map(|(name, _)| name).collect();
        names.sort_by_key(|name| *name == "index.html");
        for name in stale.iter().chain(names) {
            let (target, kept) = (dir.join(name), old.join(name));
            for folder in [target.parent(), kept.parent()].into_iter().flatten() {
                fs::create_dir_all(folder).map_err(at(folder))?;
            }
            if target.is_dir() {
                let taken = std::io::Error::from(std::io::ErrorKind::IsADirectory);
                return Err(ReportError::Write {
                    path: target,
                    source: taken,
                });
            }
            if fs::symlink_metadata(&target).is_ok() {
                fs::rename(&target, &kept).map_err(at(&target))?;
                undo.push((kept, target.clone()));
            }
            let new = fresh.join(name);
            if new.exists() {
                fs::rename(&new, &target).map_err(at(&target))?;
                undo.push((target, new));
            }
        }
        Ok(())
    })();
    if result.is_err() {
        for (from, to) in undo.into_iter().rev() {
            // Nothing better is left to do where putting back fails too; the first error is told.
            let _ = fs::rename(from, to);
        }
    }
    result
}
