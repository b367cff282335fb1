//! Files of a folder that a pattern names.

use std::collections::{BTreeSet, VecDeque};
use std::fs;
use std::path::{Path, PathBuf};

use glob::{MatchOptions, Pattern, PatternError};

/// Folders are gone through to this depth below the root, at most.
const DEEPEST: usize = 32;

/// Ordinary files below `root` that match `pattern`, relative to it with `/`, sorted.
pub fn files(root: &Path, pattern: &str) -> Result<Vec<String>, PatternError> {
    // `.` and `..` are resolved first: what is found must begin with the root as searched.
    let base = fs::canonicalize(root).unwrap_or_else(|_| root.to_owned());
    let mut names = if pattern.contains("**") {
        let pattern = Pattern::new(pattern.trim_start_matches("./"))?;
        let options = MatchOptions {
            require_literal_separator: true,
            ..MatchOptions::new()
        };
        let mut names = below(&base);
        names.retain(|name| pattern.matches_with(name, options));
        names
    } else {
        let escaped = Pattern::escape(&base.to_string_lossy());
        glob::glob(&format!("{escaped}/{pattern}"))?
            .filter_map(Result::ok)
            .filter(|path| path.is_file())
            .filter_map(|path| Some(written(path.strip_prefix(&base).ok()?)))
            .collect()
    };
    names.sort();
    Ok(names)
}

/// Files that lie where a pattern looks first and that no pattern can name, as far as they can be shown:
/// their names are no Unicode text.
pub fn unnameable(root: &Path, pattern: &str) -> Vec<String> {
    let is_wild = |part: &str| part.contains(['*', '?', '[']);
    let folders = pattern.rsplit_once('/').map_or("", |(folders, _)| folders);
    let place: PathBuf = folders
        .split('/')
        .take_while(|part| !is_wild(part))
        .collect();
    let entries = fs::read_dir(root.join(&place)).into_iter().flatten();
    let mut names: Vec<String> = entries
        .filter_map(Result::ok)
        .filter(|entry| entry.file_name().to_str().is_none() && entry.path().is_file())
        .map(|entry| written(&place.join(entry.file_name())))
        .collect();
    names.sort();
    names
}

/// A name as the season's files write it.
fn written(name: &Path) -> String {
    name.to_string_lossy().replace('\\', "/")
}

/// Every ordinary file below a folder. A folder is gone through once, however many links lead to it
/// (they may go in circles), and under its own name where it has one here.
fn below(base: &Path) -> Vec<String> {
    let mut names = Vec::new();
    let mut seen = BTreeSet::new();
    let (mut folders, mut links) = (VecDeque::from([PathBuf::new()]), VecDeque::new());
    while let Some(folder) = folders.pop_front().or_else(|| links.pop_front()) {
        let is_new = fs::canonicalize(base.join(&folder)).is_ok_and(|real| seen.insert(real));
        if !is_new || folder.components().count() > DEEPEST {
            continue;
        }
        let entries = fs::read_dir(base.join(&folder)).into_iter().flatten();
        let mut entries: Vec<_> = entries.filter_map(Result::ok).collect();
        entries.sort_by_key(fs::DirEntry::file_name);
        for entry in entries {
            let (name, path) = (folder.join(entry.file_name()), entry.path());
            if path.is_file() {
                names.push(written(&name));
            } else if entry.file_type().is_ok_and(|kind| kind.is_dir()) {
                folders.push_back(name);
            } else if path.is_dir() {
                links.push_back(name);
            }
        }
    }
    names
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn patterns_of_names_and_of_folders() {
        let place = tempfile::tempdir().unwrap();
        for name in [
            "a.csv",
            "b.txt",
            "logs/a.csv",
            "logs/deep/er/a.csv",
            "logs/.b.csv",
        ] {
            let path = place.path().join(name);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(path, "").unwrap();
        }
        let found = |pattern| files(place.path(), pattern).unwrap();
        assert_eq!(found("*.csv"), ["a.csv"]);
        assert_eq!(found("logs/*.csv"), ["logs/.b.csv", "logs/a.csv"]);
        assert_eq!(
            found("**/a.csv"),
            ["a.csv", "logs/a.csv", "logs/deep/er/a.csv"]
        );
        assert_eq!(
            found("./logs/**/a.csv"),
            ["logs/a.csv", "logs/deep/er/a.csv"]
        );
        assert_eq!(found("logs/*/a.csv"), [""; 0]);
        assert!(files(place.path(), "a***").is_err());
    }
}
