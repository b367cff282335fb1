//! Which files of a folder are looked at.

use std::fs;
use std::io;
use std::path::Path;

/// Folders below the one named.
const DEPTH: usize = 5;
/// Files of a season that are no data.
const OWN: [&str; 4] = ["season.toml", "logbook.csv", "passes.csv", "truth.json"];

#[derive(Debug, Default)]
pub struct Walk {
    /// Relative names with `/`, sorted.
    pub files: Vec<String>,
    /// Hidden files: not looked at, but a pattern could match them.
    pub hidden: Vec<String>,
    /// What was not looked at, with the reason.
    pub left_out: Vec<String>,
}

pub fn walk(dir: &Path) -> io::Result<Walk> {
    let mut walk = Walk::default();
    into(dir, "", 0, &mut walk)?;
    walk.files.sort();
    walk.hidden.sort();
    walk.left_out.sort();
    Ok(walk)
}

fn into(dir: &Path, prefix: &str, depth: usize, walk: &mut Walk) -> io::Result<()> {
    for entry in fs::read_dir(dir)? {
        let entry = entry?;
        let name = entry.file_name();
        let Some(name) = name.to_str() else {
            let shown = name.to_string_lossy();
            walk.left_out.push(format!(
                "{prefix}{shown}: its name is no Unicode text; rename it"
            ));
            continue;
        };
        let path = entry.path();
        let relative = format!("{prefix}{name}");
        let is_link = entry.file_type()?.is_symlink();
        if path.is_dir() {
            if name.starts_with('.') || is_link {
                continue;
            }
            if let Some(why) = passed_over(&path, depth) {
                walk.left_out.push(format!("{relative}/: {why}"));
            } else if let Err(error) = into(&path, &format!("{relative}/"), depth + 1, walk) {
                walk.left_out.push(format!("{relative}/: {error}"));
            }
        } else if name.starts_with('.') {
            walk.hidden.push(relative);
        } else if !path.is_file() {
            walk.left_out.push(format!("{relative}: no ordinary file"));
        } else if let Some(why) = unnameable(&relative) {
            walk.left_out.push(format!("{relative}: {why}"));
        } else if !(depth == 0 && OWN.contains(&name)) {
            walk.files.push(relative);
        }
    }
    Ok(())
}

fn passed_over(path: &Path, depth: usize) -> Option<&'static str> {
    if path.join("findings.json").is_file() {
        Some("a report of benchborne")
    } else if path.join("season.toml").is_file() {
        Some("a season of its own")
    } else if depth + 1 > DEPTH {
        Some("too deep below the season folder")
    } else {
        None
    }
}

/// What season.toml could not name: see `season`, which reads `\` as `/` and refuses `~` and `C:`.
fn unnameable(name: &str) -> Option<&'static str> {
    let drive = name.as_bytes().get(1) == Some(&b':');
    if name.contains('\\') || name.trim() != name || name.starts_with('~') || drive {
        Some("its name cannot be written in season.toml; rename it")
    } else {
        None
    }
}
