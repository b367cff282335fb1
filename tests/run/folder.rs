//! Season folders to try the chain on: the demo season, or parts of it made worse.

use std::fs;
use std::path::{Path, PathBuf};

use tempfile::TempDir;

pub fn demo() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("datasets/demo")
}

/// Every file below a folder: name relative to it, content.
pub fn contents(dir: &Path) -> Vec<(String, Vec<u8>)> {
    fn walk(root: &Path, dir: &Path, out: &mut Vec<(String, Vec<u8>)>) {
        for entry in fs::read_dir(dir).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                walk(root, &path, out);
            } else {
                let name = path.strip_prefix(root).unwrap().to_string_lossy();
                out.push((name.replace('\\', "/"), fs::read(&path).unwrap()));
            }
        }
    }
    let mut out = Vec::new();
    walk(dir, dir, &mut out);
    out.sort();
    out
}

/// A season folder that goes when it is dropped.
pub struct Season {
    _keep: TempDir,
    pub dir: PathBuf,
}

impl Season {
    /// The demo season with only these flights.
    pub fn with(flights: &[&str]) -> Self {
        let keep = tempfile::tempdir().unwrap();
        let dir = keep.path().join("season");
        fs::create_dir_all(dir.join("bench")).unwrap();
        fs::create_dir_all(dir.join("logs")).unwrap();
        for bench in ["bench/six-blade.csv", "bench/eleven-blade.csv"] {
            fs::copy(demo().join(bench), dir.join(bench)).unwrap();
        }
        let season = Self { _keep: keep, dir };
        let mut toml = fs::read_to_string(demo().join("season.toml")).unwrap();
        for (id, prefix) in [
            ("radio", "radio-"),
            ("power", "power-"),
            ("track", "track-"),
        ] {
            let used = season.copy(flights, "logbook.csv").contains(prefix);
            if !used {
                toml = without_logs(&toml, id);
            }
        }
        season.write("season.toml", toml.as_bytes());
        if season.copy(flights, "passes.csv").lines().count() < 2 {
            fs::remove_file(season.dir.join("passes.csv")).unwrap();
        }
        let logbook = season.text("logbook.csv");
        for word in logbook.split([',', ' ']).filter(|w| w.starts_with("logs/")) {
            fs::copy(demo().join(word), season.dir.join(word)).unwrap();
        }
        season
    }

    /// The header of a table of the demo season and the rows of some flights.
    fn copy(&self, flights: &[&str], name: &str) -> String {
        let text = fs::read_to_string(demo().join(name)).unwrap();
        let mut lines = text.lines();
        let mut kept = lines.next().unwrap().to_owned() + "\n";
        for line in lines {
            if flights.iter().any(|f| line.split(',').next() == Some(f)) {
                kept += &format!("{line}\n");
            }
        }
        self.write(name, kept.as_bytes());
        kept
    }

    pub fn write(&self, name: &str, bytes: &[u8]) {
        fs::write(self.dir.join(name), bytes).unwrap();
    }

    pub fn bytes(&self, name: &str) -> Vec<u8> {
        fs::read(self.dir.join(name)).unwrap()
    }

    /// A file as text, byte for byte a character (the demo's telemetry is Latin-1).
    pub fn text(&self, name: &str) -> String {
        self.bytes(name).iter().map(|b| char::from(*b)).collect()
    }

    pub fn put(&self, name: &str, text: &str) {
        let bytes: Vec<u8> = text.chars().map(|c| u32::from(c) as u8).collect();
        self.write(name, &bytes);
    }

    /// Replaces the first `from`, which must be there.
    pub fn replace(&self, name: &str, from: &str, to: &str) {
        let text = self.text(name);
        assert!(text.contains(from), "'{from}' is not in {name}");
        self.put(name, &text.replacen(from, to, 1));
    }

    pub fn remove(&self, name: &str) {
        fs::remove_file(self.dir.join(name)).unwrap();
    }

    /// Rewrites the data rows of a semicolon-separated telemetry log, one cell of each.
    pub fn cells(&self, name: &str, header: &str, new: impl Fn(&str) -> String) {
        let text = self.text(name);
        let mut column = None;
        let lines: Vec<String> = text
            .lines()
            .map(|line| {
                let mut cells: Vec<String> = line.split(';').map(str::to_owned).collect();
                match column {
                    None => column = cells.iter().position(|c| c.starts_with(header)),
                    Some(c) if c < cells.len() => cells[c] = new(&cells[c]),
                    Some(_) => {}
                }
                cells.join(";")
            })
            .collect();
        assert!(column.is_some(), "no column {header} in {name}");
        self.put(name, &(lines.join("\n") + "\n"));
    }

    /// Drops a column of a telemetry log.
    pub fn without_column(&self, name: &str, header: &str) {
        let text = self.text(name);
        let mut column = None;
        let lines: Vec<String> = text
            .lines()
            .map(|line| {
                let mut cells: Vec<&str> = line.split(';').collect();
                if column.is_none() {
                    column = cells.iter().position(|c| c.starts_with(header));
                }
                if let Some(c) = column.filter(|c| *c < cells.len()) {
                    cells.remove(c);
                }
                cells.join(";")
            })
            .collect();
        assert!(column.is_some(), "no column {header} in {name}");
        self.put(name, &(lines.join("\n") + "\n"));
    }
}

/// A season file without one of its `[[logs]]` entries.
fn without_logs(toml: &str, id: &str) -> String {
    toml.split("[[")
        .filter(|part| !part.starts_with(&format!("logs]]\nid = \"{id}\"")))
        .collect::<Vec<_>>()
        .join("[[")
}
