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

use std::collections::{BTreeMap, BTreeSet};
use std::fs::{self, File};
use std::io::{self, BufWriter, ErrorKind, Write};
use std::path::{Component, Path, PathBuf};
use std::sync::Mutex;

use sha2::{Digest, Sha256};
use tempfile::TempDir;

use super::{Fill, Rendered, ReportError, Sink, render};
use crate::findings::Findings;

/// The list of a report's files with their SHA-256 digests, in the form that `sha256sum` writes and
/// checks (GNU coreutils manual, section "sha2 utilities").
pub const MANIFEST: &str = "SHA256SUMS";

/// Beginning of the names of folders and files in the making.
const STAGE: &str = ".benchborne-";

/// More than this many foreign files are not linked into a new folder: the target is then no
/// folder of a report's own, and is left where it is.
const MOST_FOREIGN: usize = 1_000;

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
        let mut file = Summed {
            to: BufWriter::new(File::create(&path).map_err(failed)?),
            sum: Sha256::new(),
        };
        fill(&mut file)
            .and_then(|()| file.flush())
            .map_err(failed)?;
        if let Ok(mut digests) = self.digests.lock() {
            digests.insert(name.to_owned(), hexadecimal(&file.sum.finalize()));
        }
        Ok(())
    }
}

/// What is written, with the digest of what went into it.
struct Summed<W> {
    to: W,
    sum: Sha256,
}

impl<W: Write> Write for Summed<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let written = self.to.write(bytes)?;
        self.sum.update(&bytes[..written]);
        Ok(written)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.to.flush()
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

fn at(path: &Path) -> impl FnOnce(io::Error) -> ReportError {
    let path = path.to_path_buf();
    move |source| ReportError::Write { path, source }
}

fn parent_of(path: &Path) -> &Path {
    match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    }
}

/// SHA-256 of a file as it stands in the manifest.
pub fn digest(path: &Path) -> io::Result<String> {
    let mut sum = Summed {
        to: io::sink(),
        sum: Sha256::new(),
    };
    io::copy(&mut File::open(path)?, &mut sum)?;
    Ok(hexadecimal(&sum.sum.finalize()))
}

fn hexadecimal(bytes: &[u8]) -> String {
    bytes.iter().map(|b| format!("{b:02x}")).collect()
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

/// Files of the older report that the new one does not have, after the older manifest. A file that
/// somebody changed since is theirs.
fn stale_files(files: &[&str], dir: &Path) -> Vec<String> {
    let own = |name: &str| {
        let path = dir.join(name);
        let kind = fs::symlink_metadata(&path).ok()?;
        kind.is_file().then_some(path)
    };
    let manifest = own(MANIFEST).and_then(|path| fs::read(path).ok());
    let manifest = manifest.unwrap_or_default();
    let files: BTreeSet<&str> = files.iter().copied().collect();
    String::from_utf8_lossy(&manifest)
        .lines()
        .filter_map(|line| line.split_once("  "))
        .filter(|(_, name)| is_inside(name) && !files.contains(name))
        .filter(|(sum, name)| own(name).is_some_and(|path| digest(&path).is_ok_and(|d| d == *sum)))
        .map(|(_, name)| name.to_owned())
        .collect()
}

/// Whether a name of a manifest stays within its folder; a manifest can be anybody's.
fn is_inside(name: &str) -> bool {
    let mut parts = Path::new(name).components();
    !name.is_empty() && parts.all(|part| matches!(part, Component::Normal(_)))
}

/// What lies below a folder, by name relative to it: every entry that is no folder; `None` where that
/// is more than `most`.
fn entries(dir: &Path, most: usize) -> io::Result<Option<BTreeMap<PathBuf, fs::FileType>>> {
    let mut out = BTreeMap::new();
    let mut folders = vec![PathBuf::new()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(dir.join(&folder))? {
            let entry = entry?;
            let (name, kind) = (folder.join(entry.file_name()), entry.file_type()?);
            if kind.is_dir() {
                folders.push(name);
            } else {
                out.insert(name, kind);
            }
            if out.len() + folders.len() > most {
                return Ok(None);
            }
        }
    }
    Ok(Some(out))
}

/// Gives the new folder a second name of each file that is not the report's. False where that cannot
/// be, and the target has to stay where it is.
fn link_foreign(files: &[&str], stale: &[String], dir: &Path, fresh: &Path) -> io::Result<bool> {
    let own: BTreeSet<&str> = files.iter().copied().collect();
    // A folder in the way of a file is told, with its place, by the other way of putting down.
    let in_the_way = own.iter().any(|name| dir.join(name).is_dir());
    if in_the_way || fs::metadata(dir)?.permissions().readonly() || !same_owner(dir, fresh) {
        return Ok(false);
    }
    let Ok(Some(found)) = entries(dir, MOST_FOREIGN + own.len() + stale.len()) else {
        return Ok(false);
    };
    for (name, kind) in found {
        let word = name.to_string_lossy().replace('\\', "/");
        if own.contains(word.as_str()) || stale.contains(&word) || word.starts_with(STAGE) {
            continue;
        }
        if !kind.is_file() && !kind.is_symlink() {
            return Ok(false);
        }
        let link = fresh.join(&name);
        fs::create_dir_all(parent_of(&link))?;
        if fs::hard_link(dir.join(&name), link).is_err() {
            return Ok(false);
        }
    }
    fs::set_permissions(fresh, fs::metadata(dir)?.permissions())?;
    Ok(true)
}

#[cfg(unix)]
fn same_owner(one: &Path, other: &Path) -> bool {
    use std::os::unix::fs::MetadataExt;
    let of = |path| fs::metadata(path).map(|m| (m.uid(), m.gid())).ok();
    of(one).is_some() && of(one) == of(other)
}

#[cfg(not(unix))]
fn same_owner(_: &Path, _: &Path) -> bool {
    true
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

/// Two folders change places in one step, where the system can.
#[cfg(any(target_os = "linux", target_os = "android", target_vendor = "apple"))]
fn exchange(one: &Path, other: &Path) -> bool {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    renameat_with(CWD, one, CWD, other, RenameFlags::EXCHANGE).is_ok()
}

#[cfg(not(any(target_os = "linux", target_os = "android", target_vendor = "apple")))]
fn exchange(_: &Path, _: &Path) -> bool {
    false
}

/// Moves over what the old folder holds and its manifest and the new folder do not: it was put there
/// after the others were linked. Empty folders of one's own stay, too.
fn bring_over(old: &Path, new: &Path) -> io::Result<()> {
    // It was read before, so it is an ordinary file if it is there.
    let own = fs::read_to_string(old.join(MANIFEST)).unwrap_or_default();
    let own: BTreeSet<&str> = own
        .lines()
        .filter_map(|l| Some(l.split_once("  ")?.1))
        .collect();
    let mut folders = vec![PathBuf::new()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(old.join(&folder))? {
            let entry = entry?;
            let name = folder.join(entry.file_name());
            let word = name.to_string_lossy().replace('\\', "/");
            let there = fs::symlink_metadata(new.join(&name)).is_ok();
            if entry.file_type()?.is_dir() {
                if !there && own.iter().all(|o| !Path::new(o).starts_with(&name)) {
                    fs::create_dir(new.join(&name))?;
                }
                folders.push(name);
            } else if !there && word != MANIFEST && !own.contains(word.as_str()) {
                fs::rename(entry.path(), new.join(&name))?;
            }
        }
    }
    Ok(())
}

/// Moves the new files in and the old ones out; on a failure undoes what it did, last step first.
fn replace(
    files: &[&str],
    stale: &[String],
    dir: &Path,
    fresh: &Path,
    old: &Path,
) -> Result<(), ReportError> {
    let mut undo: Vec<(PathBuf, PathBuf)> = Vec::new();
    let result = (|| {
        // The page goes in last but for the manifest: where they stand, the rest stands too.
        let mut names: Vec<&str> = files.to_vec();
        names.sort_by_key(|name| (*name == MANIFEST, *name == "index.html"));
        for name in stale.iter().map(String::as_str).chain(names) {
            let (target, kept) = (dir.join(name), old.join(name));
            for folder in [target.parent(), kept.parent()].into_iter().flatten() {
                fs::create_dir_all(folder).map_err(at(folder))?;
            }
            if target.is_dir() {
                return Err(at(&target)(ErrorKind::IsADirectory.into()));
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
