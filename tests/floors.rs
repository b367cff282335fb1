//! The floors of the crate, checked from its `use` lines: a module imports only from floors below.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

/// Modules by floor, lowest first.
const FLOORS: [(&str, u32); 12] = [
    ("units", 0),
    ("stats", 1),
    ("physics", 1),
    ("season", 2),
    ("ingest", 3),
    ("bench", 4),
    ("flight", 4),
    ("store", 5),
    ("findings", 6),
    ("report", 7),
    ("run", 8),
    ("cli", 9),
];

fn sources(dir: &Path, out: &mut Vec<PathBuf>) {
    let mut entries: Vec<_> = fs::read_dir(dir)
        .unwrap()
        .map(|e| e.unwrap().path())
        .collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            sources(&path, out);
        } else if path.extension().is_some_and(|e| e == "rs") {
            out.push(path);
        }
    }
}

fn module_of(path: &Path, src: &Path) -> String {
    let inside = path.strip_prefix(src).unwrap();
    let first = inside
        .components()
        .next()
        .unwrap()
        .as_os_str()
        .to_str()
        .unwrap();
    first.trim_end_matches(".rs").to_owned()
}

/// Every `crate::name` in the code, comments left out.
fn imports(text: &str) -> Vec<(usize, String)> {
    let mut out = Vec::new();
    for (number, line) in text.lines().enumerate() {
        let code = line.split("//").next().unwrap_or_default();
        for (at, _) in code.match_indices("crate::") {
            let rest = &code[at + "crate::".len()..];
            let names: Vec<&str> = match rest.strip_prefix('{') {
                Some(list) => list
                    .split([',', '}'])
                    .map(|n| n.split("::").next().unwrap())
                    .collect(),
                None => vec![rest],
            };
            for name in names {
                let name: String = name
                    .trim()
                    .chars()
                    .take_while(|c| c.is_alphanumeric() || *c == '_')
                    .collect();
                if !name.is_empty() {
                    out.push((number + 1, name));
                }
            }
        }
    }
    out
}

fn violations(module: &str, text: &str) -> Vec<String> {
    let floors: BTreeMap<&str, u32> = FLOORS.into_iter().collect();
    let mut out = Vec::new();
    for (line, name) in imports(text) {
        if name == module || name == "table" {
            continue;
        }
        let allowed = match (module, floors.get(module), floors.get(name.as_str())) {
            ("simulate", ..) => false,
            // The demo is written by the simulator, at the command's request.
            ("cli" | "run", _, _) if name == "simulate" => true,
            // Estimates of physics are made with statistics; never the other way round.
            ("physics", ..) if name == "stats" => true,
            (_, Some(own), Some(other)) => other < own,
            _ => false,
        };
        if !allowed {
            out.push(format!("line {line}: {module} imports {name}"));
        }
    }
    out
}

#[test]
fn modules_import_only_from_floors_below() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    sources(&src, &mut files);
    let mut wrong = Vec::new();
    for path in &files {
        let module = module_of(path, &src);
        if module == "lib" || module == "main" {
            continue;
        }
        for violation in violations(&module, &fs::read_to_string(path).unwrap()) {
            wrong.push(format!("{}: {violation}", path.display()));
        }
    }
    assert!(
        files.len() > 20,
        "the walk found only {} files",
        files.len()
    );
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn the_floor_check_sees_an_import_up_sideways_and_in_braces() {
    assert_eq!(violations("bench", "use crate::flight::holds;").len(), 1);
    assert_eq!(
        violations("ingest", "use crate::{units, findings::Answer};").len(),
        1
    );
    assert_eq!(violations("simulate", "use crate::units::G0;").len(), 1);
    assert!(violations("findings", "use crate::{stats, store::FlightRow};").is_empty());
    assert!(violations("stats", "// crate::report is above").is_empty());
}

#[test]
fn polars_stays_in_store_and_plotters_in_the_charts() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    sources(&src, &mut files);
    for path in files {
        let text = fs::read_to_string(&path).unwrap();
        let inside = path
            .strip_prefix(&src)
            .unwrap()
            .to_str()
            .unwrap()
            .to_owned();
        if text.contains("polars::") {
            assert!(inside.starts_with("store/"), "{inside} uses polars");
        }
        if text.contains("plotters::") {
            assert!(inside.starts_with("report/chart"), "{inside} uses plotters");
        }
    }
}

#[test]
fn the_pure_floors_touch_no_files_clock_environment_or_console() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let banned = [
        "std::fs",
        "std::env",
        "SystemTime::now",
        "Instant::now",
        "Utc::now",
        "Local::now",
    ];
    let pure = [
        "units", "stats", "physics", "season", "ingest", "bench", "flight", "store", "findings",
    ];
    let mut files = Vec::new();
    sources(&src, &mut files);
    for path in files {
        if !pure.contains(&module_of(&path, &src).as_str()) {
            continue;
        }
        let text = fs::read_to_string(&path).unwrap();
        for word in banned {
            assert!(!text.contains(word), "{} uses {word}", path.display());
        }
    }
}
