//! Putting the report down: whole or not at all.
//!
//! A report is first written in full into a folder beside its target, file by file as they are made,
//! together with links to whatever else lies in the target. Then both folders change places in one step of the file system: whoever
//! looks, or kills the program, at any moment finds the old report or the new one, never a mix.
//! Where the system knows no such step (or the target cannot be moved: a mount point, a folder whose
//! parent cannot be written to), files are renamed into place one by one, the page last, and put back
//! on a failure.
//!
//! What lies there and is not the report's stays. The report's own files are those that its
//! [`MANIFEST`] lists, with their digests: `sha256sum --check SHA256SUMS` tells whether a report is
//! whole and as it was written.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{self, BufWriter, ErrorKind, Write};
use std::path::{Path, PathBuf};
use std::sync::Mutex;

use tempfile::TempDir;

use super::digest::Summed;
use super::exchange::{
    MANIFEST, STAGE, at, bring_over, exchange, link_foreign, parent_of, replace, stale_files,
};
use super::{Fill, Rendered, ReportError, Sink, render};
use crate::findings::Findings;

/// What was written where.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Written {
    pub folder: PathBuf,
    /// The page to open.
    pub page: PathBuf,
    /// All files of the report.
    pub files: Vec<PathBuf>,
    /// SHA-256 of each but the manifest, by its name relative to the folder.
    pub digests: BTreeMap<String, String>,
}

pub fn write(findings: &Findings, dir: &Path) -> Result<Written, ReportError> {
    put(&render(findings)?, dir)
}

/// Puts down what was rendered, with whatever the caller added to its files, and its manifest.
pub fn put(rendered: &Rendered, dir: &Path) -> Result<Written, ReportError> {
    let stage = Stage::begin(dir)?;
    for (name, bytes) in &rendered.files {
        stage.put(name, bytes)?;
    }
    stage.finish()
}

/// A report in the making. Dropped before it is finished, it leaves nothing.
pub struct Stage {
    /// As it was named.
    dir: PathBuf,
    /// What it is.
    target: PathBuf,
    folder: TempDir,
    _lock: Option<File>,
    digests: Mutex<BTreeMap<String, String>>,
}

impl Stage {
    /// Waits for a run that is putting a report down in the same place.
    pub fn begin(dir: &Path) -> Result<Self, ReportError> {
        // A link to a folder stays a link: what it names is replaced.
        let target = fs::canonicalize(dir).unwrap_or_else(|_| dir.to_owned());
        let (folder, lock) = stage(&target).map_err(at(dir))?;
        Ok(Self {
            dir: dir.to_owned(),
            target,
            folder,
            _lock: lock,
            digests: Mutex::default(),
        })
    }

    fn fresh(&self) -> PathBuf {
        self.folder.path().join("report")
    }

    /// Puts the report into its place.
    pub fn finish(self) -> Result<Written, ReportError> {
        let dir = self.dir.as_path();
        let target = self.target.as_path();
        let fresh = self.fresh();
        let digests = self.digests.into_inner().unwrap_or_default();
        let lines = digests.iter().map(|(name, sum)| format!("{sum}  {name}\n"));
        let manifest: String = lines.collect();
        let place = dir.join(MANIFEST);
        fs::create_dir_all(&fresh)
            .and_then(|()| fs::write(fresh.join(MANIFEST), manifest))
            .map_err(at(&place))?;
        let files: Vec<&str> = digests
            .keys()
            .map(String::as_str)
            .chain([MANIFEST])
            .collect();
        let is_beside = parent_of(self.folder.path()) == parent_of(target);
        match fs::symlink_metadata(target) {
            Err(_) => fs::rename(&fresh, target).map_err(at(dir))?,
            Ok(_) => {
                let stale = stale_files(&files, target);
                let movable =
                    is_beside && link_foreign(&files, &stale, target, &fresh).map_err(at(dir))?;
                if movable && exchange(&fresh, target) {
                    // What came in while the new folder was made is in the old one, which now lies
                    // there.
                    bring_over(&fresh, target).map_err(at(dir))?;
                } else {
                    replace(&files, &stale, dir, &fresh, &self.folder.path().join("old"))?;
                }
            }
        }
        Ok(Written {
            folder: dir.to_path_buf(),
            page: dir.join("index.html"),
            files: files.iter().map(|name| dir.join(name)).collect(),
            digests,
        })
    }
}

impl Sink for Stage {
    fn fill(&self, name: &str, fill: Fill) -> Result<(), ReportError> {
        let failed = |e| at(&self.dir.join(name))(e);
        let path = self.fresh().join(name);
        fs::create_dir_all(parent_of(&path)).map_err(failed)?;
        let mut file = Summed::new(BufWriter::new(File::create(&path).map_err(failed)?));
        fill(&mut file)
            .and_then(|()| file.flush())
            .map_err(failed)?;
        if let Ok(mut digests) = self.digests.lock() {
            digests.insert(name.to_owned(), file.digest());
        }
        Ok(())
    }
}

/// Puts down one file, whole or not at all.
pub fn put_file(bytes: &[u8], path: &Path) -> Result<(), ReportError> {
    let parent = parent_of(path);
    fs::create_dir_all(parent).map_err(at(parent))?;
    let _lock = lock_and_clear(parent);
    let mut file = tempfile::Builder::new()
        .prefix(STAGE)
        .tempfile_in(parent)
        .map_err(at(path))?;
    file.write_all(bytes).map_err(at(path))?;
    file.persist(path).map_err(|e| at(path)(e.error))?;
    Ok(())
}

/// A folder to work in, beside the target so that a rename never crosses file systems, or within it
/// where its parent cannot be written to; and the lock on where it lies.
fn stage(target: &Path) -> io::Result<(TempDir, Option<File>)> {
    let make = |place: &Path| {
        let lock = lock_and_clear(place);
        let stage = tempfile::Builder::new().prefix(STAGE).tempdir_in(place)?;
        Ok((stage, lock))
    };
    let parent = parent_of(target);
    fs::create_dir_all(parent)?;
    if target.is_dir() && !same_device(parent, target) {
        return make(target);
    }
    match make(parent) {
        Err(e) if is_refused(&e) && target.is_dir() => make(target),
        made => made,
    }
}

fn is_refused(error: &io::Error) -> bool {
    matches!(
        error.kind(),
        ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem
    )
}

/// Waits for a run that is putting its report down in the same place, then removes what a killed one
/// left. Without a lock (some systems cannot lock a folder) nothing is removed: it may be in use.
fn lock_and_clear(place: &Path) -> Option<File> {
    let folder = File::open(place).ok()?;
    folder.lock().ok()?;
    for entry in fs::read_dir(place).into_iter().flatten().flatten() {
        let name = entry.file_name();
        if !name.to_string_lossy().starts_with(STAGE) {
            continue;
        }
        // What cannot be removed is in nobody's way: the next run tries again.
        let _ = match entry.file_type() {
            Ok(kind) if kind.is_dir() => fs::remove_dir_all(entry.path()),
            _ => fs::remove_file(entry.path()),
        };
    }
    Some(folder)
}

#[cfg(unix)]
fn same_device(one: &Path, other: &Path) -> bool {
    use std::os::unix::fs::MetadataExt;
    let of = |path| fs::metadata(path).map(|m| m.dev()).ok();
    of(one) == of(other)
}

#[cfg(not(unix))]
fn same_device(_: &Path, _: &Path) -> bool {
    true
}
