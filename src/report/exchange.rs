//! A new report against what lies in its place: the older one, and what is not the report's.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io::{self, ErrorKind};
use std::path::{Component, Path, PathBuf};

use super::ReportError;
use super::digest::digest;

/// The list of a report's files with their SHA-256 digests, in the form that `sha256sum` writes and
/// checks (GNU coreutils manual, section "sha2 utilities").
pub const MANIFEST: &str = "SHA256SUMS";

/// Beginning of the names of folders and files in the making.
pub const STAGE: &str = ".benchborne-";

/// More than this many foreign files are not linked into a new folder: the target is then no
/// folder of a report's own, and is left where it is.
const MOST_FOREIGN: usize = 1_000;

pub fn at(path: &Path) -> impl FnOnce(io::Error) -> ReportError {
    let path = path.to_path_buf();
    move |source| ReportError::Write { path, source }
}

pub fn parent_of(path: &Path) -> &Path {
    match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    }
}

/// Files of the older report that the new one does not have, after the older manifest. A file that
/// somebody changed since is theirs.
pub fn stale_files(files: &[&str], dir: &Path) -> Vec<String> {
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
pub fn link_foreign(
    files: &[&str],
    stale: &[String],
    dir: &Path,
    fresh: &Path,
) -> io::Result<bool> {
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

/// Two folders change places in one step, where the system can.
#[cfg(any(target_os = "linux", target_os = "android", target_vendor = "apple"))]
pub fn exchange(one: &Path, other: &Path) -> bool {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    renameat_with(CWD, one, CWD, other, RenameFlags::EXCHANGE).is_ok()
}

#[cfg(not(any(target_os = "linux", target_os = "android", target_vendor = "apple")))]
pub fn exchange(_: &Path, _: &Path) -> bool {
    false
}

/// Moves over what the old folder holds and its manifest and the new folder do not: it was put there
/// after the others were linked. Empty folders of one's own stay, too.
pub fn bring_over(old: &Path, new: &Path) -> io::Result<()> {
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
pub fn replace(
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
