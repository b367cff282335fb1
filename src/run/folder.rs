//! The season folder: which file is which, and which log belongs to which flight.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::time::SystemTime;

use super::matching;
use crate::ingest::Source;
use crate::season::{Finding, LogSource, LogbookRow, Season};

/// A season folder on disk. Names are relative to it, with `/`.
#[derive(Debug, Clone)]
pub struct Folder {
    root: PathBuf,
}

impl Folder {
    pub fn new(root: &Path) -> Self {
        Self {
            root: root.to_owned(),
        }
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.root.join(name)
    }

    pub fn source(&self, name: &str) -> OnDisk {
        OnDisk(self.path(name))
    }

    /// The bytes of a file that is held whole: a text that people write, or a bench table.
    pub fn read(&self, name: &str) -> io::Result<Vec<u8>> {
        let path = self.path(name);
        let length = regular(&path)?.len();
        if length > MOST_WHOLE {
            let what = format!(
                "it has {} MB, and at most {} MB are read of such a file",
                length >> 20,
                MOST_WHOLE >> 20
            );
            return Err(io::Error::new(io::ErrorKind::FileTooLarge, what));
        }
        let mut bytes = Vec::new();
        let file = fs::File::open(&path)?;
        file.take(MOST_WHOLE).read_to_end(&mut bytes)?;
        Ok(bytes)
    }

    /// The bytes of an optional file: `None` where there is none.
    pub fn read_optional(&self, name: &str) -> io::Result<Option<Vec<u8>>> {
        match self.read(name) {
            Ok(bytes) => Ok(Some(bytes)),
            Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(None),
            Err(e) => Err(e),
        }
    }

    /// Length in bytes, 0 where it cannot be told.
    pub fn length(&self, name: &str) -> u64 {
        fs::metadata(self.path(name)).map_or(0, |m| m.len())
    }

    /// What tells whether a file was written to: its length and when it was last changed.
    pub fn state(&self, name: &str) -> Option<(u64, SystemTime)> {
        let found = fs::metadata(self.path(name)).ok()?;
        Some((found.len(), found.modified().ok()?))
    }

    pub fn has(&self, name: &str) -> bool {
        self.path(name).is_file()
    }

    /// Files that match a pattern, sorted. A pattern that cannot be read is a finding.
    fn matching(&self, source: &LogSource) -> Result<Vec<String>, Finding> {
        let wrong = |why: String| {
            Finding::error(
                "log-pattern",
                format!("'{}' is not a pattern of file names: {why}", source.files),
                "Write it like `logs/radio-*.csv`.",
            )
            .at("season.toml", source.line, None)
        };
        matching::files(&self.root, &source.files).map_err(|e| wrong(e.to_string()))
    }

    /// Every file of the declared log sources, each with the first source that matches it.
    pub fn sources(&self, season: &Season) -> (Vec<LogFile>, Vec<Finding>) {
        let mut findings = Vec::new();
        let mut found: Vec<LogFile> = Vec::new();
        let mut seen = BTreeSet::new();
        let unnameable = season.logs.iter();
        let unnameable = unnameable.flat_map(|s| matching::unnameable(&self.root, &s.files));
        for name in unnameable.collect::<BTreeSet<_>>() {
            let what = format!("the name of '{name}' is no Unicode text, and it was not looked at");
            let to_do = "Rename the file.";
            findings.push(Finding::warning("name-not-text", what, to_do).in_file(&name));
        }
        for (index, source) in season.logs.iter().enumerate() {
            match self.matching(source) {
                Ok(names) => {
                    if names.is_empty() {
                        findings.push(
                            Finding::warning(
                                "no-log-matches",
                                format!("no file matches '{}'", source.files),
                                "Check the folder and the pattern.",
                            )
                            .at("season.toml", source.line, None),
                        );
                    }
                    for name in names {
                        if seen.insert(name.clone()) {
                            found.push(LogFile {
                                name,
                                source: Some(index),
                            });
                        }
                    }
                }
                Err(finding) => findings.push(finding),
            }
        }
        (found, findings)
    }
}

/// Files beside the logs that no pattern, no logbook row and no bench run names.
pub fn unnamed(
    folder: &Folder,
    season: &Season,
    flights: &[PlannedFlight],
    unclaimed: &[LogFile],
) -> Option<Finding> {
    let logs = flights.iter().flat_map(|f| &f.files).chain(unclaimed);
    let logs: Vec<&str> = logs.map(|f| f.name.as_str()).collect();
    let parent = |name: &str| name.rfind('/').map(|at| name[..at].to_owned());
    let places: BTreeSet<String> = logs.iter().filter_map(|name| parent(name)).collect();
    let is_known = |name: &String| {
        logs.contains(&name.as_str()) || season.benches.iter().any(|b| b.file == *name)
    };
    let mut names: Vec<String> = places
        .iter()
        .filter_map(|place| Some((place, fs::read_dir(folder.path(place)).ok()?)))
        .flat_map(|(place, entries)| {
            let files = entries
                .filter_map(Result::ok)
                .filter(|e| e.path().is_file());
            files.filter_map(move |e| Some(format!("{place}/{}", e.file_name().to_str()?)))
        })
        .filter(|name| !is_known(name) && !name.contains("/."))
        .collect();
    names.sort();
    let first = names.first()?;
    let what = format!(
        "{} file(s) beside the logs, '{first}' first, are named by no pattern, no bench run and no \
         logbook row",
        names.len()
    );
    let to_do = "Nothing, if they are no logs; else name them under [[logs]].";
    Some(Finding::note("files-not-named", what, to_do).in_file("season.toml"))
}

/// Most bytes of a file that is held whole: far beyond what people write, far below what memory holds.
const MOST_WHOLE: u64 = 64 << 20;

/// What is known of an ordinary file. Anything else could make the reader wait, or go on, for ever.
fn regular(path: &Path) -> io::Result<fs::Metadata> {
    let found = fs::metadata(path)?;
    if found.is_dir() {
        let what = "it is a folder; name the files within it";
        return Err(io::Error::new(io::ErrorKind::IsADirectory, what));
    }
    if !found.is_file() {
        let what = "it is a pipe or a device, no ordinary file; save its content to a file first";
        return Err(io::Error::new(io::ErrorKind::InvalidInput, what));
    }
    Ok(found)
}

/// A file that is read piece by piece.
#[derive(Debug, Clone)]
pub struct OnDisk(PathBuf);

impl OnDisk {
    pub fn new(path: impl Into<PathBuf>) -> Self {
        Self(path.into())
    }

    /// All of it, where it is no longer than a log should be.
    pub fn held(&self) -> Option<Vec<u8>> {
        let length = fs::metadata(&self.0).ok()?.len();
        (length <= HELD_BYTES).then(|| fs::read(&self.0).ok())?
    }
}

/// Files longer than this are read piece by piece.
const HELD_BYTES: u64 = 32 << 20;

impl Source for OnDisk {
    fn open(&self) -> io::Result<Box<dyn Read + '_>> {
        regular(&self.0)?;
        Ok(Box::new(fs::File::open(&self.0)?))
    }

    fn length(&self) -> io::Result<u64> {
        Ok(fs::metadata(&self.0)?.len())
    }
}

/// A log file with the source that tells how to read it.
#[derive(Debug, Clone, PartialEq)]
pub struct LogFile {
    pub name: String,
    /// Place in `Season::logs`; `None`: named in the logbook only.
    pub source: Option<usize>,
}

/// A flight and its log files.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedFlight {
    pub row: LogbookRow,
    pub files: Vec<LogFile>,
}

/// The season's flights in logbook order; without a logbook every log is a flight.
pub fn plan(folder: &Folder, season: &Season) -> (Vec<PlannedFlight>, Vec<LogFile>, Vec<Finding>) {
    let (found, mut findings) = folder.sources(season);
    let mut flights: Vec<PlannedFlight> = Vec::new();
    for row in &season.logbook {
        let mut files = Vec::new();
        for name in &row.logs {
            if !folder.has(name) {
                findings.push(
                    Finding::error(
                        "missing-log",
                        format!("the log '{name}' of flight {} is not there", row.flight),
                        nearest(name, &found).map_or_else(
                            || "Put it into the season folder or correct its name.".to_owned(),
                            |near| {
                                format!("Put it there or correct its name; did you mean '{near}'?")
                            },
                        ),
                    )
                    .at("logbook.csv", row.line, None),
                );
                continue;
            }
            let source = found
                .iter()
                .find(|f| f.name == *name)
                .and_then(|f| f.source);
            files.push(LogFile {
                name: name.clone(),
                source,
            });
        }
        flights.push(PlannedFlight {
            row: row.clone(),
            files,
        });
    }
    let mut unclaimed: Vec<LogFile> = found
        .into_iter()
        .filter(|f| {
            !flights
                .iter()
                .any(|p| p.files.iter().any(|x| x.name == f.name))
        })
        .collect();
    findings.extend(without_power(season));
    if season.logbook.is_empty() {
        findings.extend(unlogged(season, &unclaimed));
        for file in std::mem::take(&mut unclaimed) {
            flights.push(PlannedFlight {
                row: unlogged_row(season, &file.name),
                files: vec![file],
            });
        }
    }
    (flights, unclaimed, findings)
}

fn nearest<'a>(name: &str, files: &'a [LogFile]) -> Option<&'a str> {
    // Other digits are another flight's, but for a slip in a whole date.
    let digits = |name: &str| -> String { name.chars().filter(char::is_ascii_digit).collect() };
    let own = digits(name);
    let long = name.chars().filter(|c| c.is_alphanumeric()).count();
    files
        .iter()
        .filter(|f| own.len() >= 8 || digits(&f.name) == own)
        .map(|f| (strsim::damerau_levenshtein(&f.name, name), f.name.as_str()))
        .min()
        .filter(|(distance, _)| *distance <= 3 && 3 * distance <= long)
        .map(|(_, near)| near)
}

/// The id of the only entry.
fn only<T>(declared: &BTreeMap<String, T>) -> Option<String> {
    let mut ids = declared.keys();
    match (ids.next(), ids.next()) {
        (Some(id), None) => Some(id.clone()),
        _ => None,
    }
}

/// Flights of the logbook that no comparison can use.
fn without_power(season: &Season) -> Option<Finding> {
    let nameless: Vec<&LogbookRow> = season
        .logbook
        .iter()
        .filter(|r| r.power.is_none())
        .collect();
    let first = nameless.first().filter(|_| !season.powers.is_empty())?;
    Some(
        Finding::warning(
            "flights-without-power",
            format!(
                "{} flight(s), '{}' first, name no power system, and no answer can use them",
                nameless.len(),
                first.flight
            ),
            "Fill in the column power of logbook.csv with the id of a power system.",
        )
        .at("logbook.csv", first.line, None),
    )
}

/// What a missing logbook leaves open.
fn unlogged(season: &Season, logs: &[LogFile]) -> Option<Finding> {
    let first = logs.first()?;
    let told = only(&season.powers).is_some();
    let what = format!(
        "there is no flight in logbook.csv; each of {} log(s), '{}' first, is taken as a flight{}",
        logs.len(),
        first.name,
        if told {
            ""
        } else {
            " of an unknown power system, which no comparison can use"
        }
    );
    let to_do = "Write logbook.csv with the columns flight, date, log, airframe, power, pack: one row a \
                 flight, two logs of one flight joined by `+`.";
    Some(
        if told {
            Finding::note("no-logbook", what, to_do)
        } else {
            Finding::warning("no-logbook", what, to_do)
        }
        .in_file("logbook.csv"),
    )
}

/// A flight that no logbook tells of: the only airframe and power system, where there is only one.
fn unlogged_row(season: &Season, file: &str) -> LogbookRow {
    let airframe = only(&season.airframes);
    let power = only(&season.powers);
    let pack = power.as_ref().and_then(|p| season.powers[p].pack.clone());
    let stem = Path::new(file)
        .file_stem()
        .map_or(file.to_owned(), |s| s.to_string_lossy().into_owned());
    LogbookRow {
        flight: stem,
        logs: vec![file.to_owned()],
        airframe,
        power,
        pack,
        ..LogbookRow::default()
    }
}
