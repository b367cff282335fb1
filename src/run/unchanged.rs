//! A rerun of which nothing changed: the report that lies there is the one it would write.
//!
//! Beside the report (`OUT.cache/run.json`, never in the season folder) stands what the last run read
//! and what it wrote, each file with a hash of its content. Where the program, every input and every
//! file of the report are the same, the run is over. A file of the same length and time is taken as
//! unchanged, an input only unless it was written so shortly before the record that its time tells
//! nothing; a record that is damaged, of another version or of another program counts as none.

use std::collections::BTreeMap;
use std::fs;
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::sync::OnceLock;
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use rayon::prelude::*;
use serde::{Deserialize, Serialize};
use xxhash_rust::xxh3::{Xxh3, xxh3_128};

use super::folder::{Folder, LogFile, PlannedFlight};
use super::{RunOptions, RunOutcome, earlier};
use crate::findings::Findings;
use crate::report;
use crate::season::Season;

/// Of the record's form.
const VERSION: u32 = 2;
/// File systems keep times this coarsely.
const COARSE_TIME: Duration = Duration::from_secs(2);

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct Record {
    version: u32,
    program: String,
    /// What was asked for besides the season.
    no_pages: bool,
    inputs: BTreeMap<String, Option<Seen>>,
    flight_pictures: bool,
    /// The report's files, relative to its folder.
    outputs: BTreeMap<String, Stands>,
    nothing_usable: bool,
    set_aside: bool,
}

/// A file as it was read.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct Seen {
    length: u64,
    /// ns since 1970 at which it was last written; `None`: too shortly before to tell.
    written_ns: Option<u64>,
    hash: String,
}

/// A file of the report as it was written.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct Stands {
    length: u64,
    written_ns: Option<u64>,
    /// Its SHA-256.
    digest: String,
}

impl Stands {
    fn of(path: &Path, digest: &str) -> Self {
        let metadata = fs::metadata(path).ok();
        Self {
            length: metadata.as_ref().map_or(0, fs::Metadata::len),
            written_ns: metadata.as_ref().and_then(written_ns),
            digest: digest.to_owned(),
        }
    }

    fn still(&self, path: &Path) -> bool {
        let now = Self::of(path, &self.digest);
        let same = now.written_ns.is_some() && now == *self;
        same || report::digest(path).is_ok_and(|digest| digest == self.digest)
    }
}

/// The record with its own checksum.
#[derive(Serialize, Deserialize)]
struct Sealed {
    record: Record,
    seal: String,
}

/// The inputs of a run as it finds them, to be recorded when its report is written.
pub struct Inputs {
    no_pages: bool,
    flight_pictures: bool,
    files: BTreeMap<String, Option<Seen>>,
}

/// Hash of a file's content.
pub fn content_hash(bytes: &[u8]) -> String {
    format!("{:032x}", xxh3_128(bytes))
}

/// The binary itself: one built anew trusts nothing of the old.
pub fn program() -> &'static str {
    static PROGRAM: OnceLock<String> = OnceLock::new();
    PROGRAM.get_or_init(|| {
        let stamp = std::env::current_exe()
            .and_then(fs::metadata)
            .map_or(0, |m| m.len() ^ written_ns(&m).unwrap_or(0));
        format!("{} {stamp:x}", env!("CARGO_PKG_VERSION"))
    })
}

fn written_ns(metadata: &fs::Metadata) -> Option<u64> {
    let since = metadata.modified().ok()?.duration_since(UNIX_EPOCH).ok()?;
    u64::try_from(since.as_nanos()).ok()
}

/// Where runs into a folder keep what the next one can use.
pub fn store(out: &Path) -> PathBuf {
    let mut name = out.as_os_str().to_owned();
    name.push(".cache");
    PathBuf::from(name)
}

fn place(out: &Path) -> PathBuf {
    store(out).join("run.json")
}

/// Takes no file for unchanged in the next run: after one that failed, what was taken for it may be why.
pub fn forget(out: &Path) {
    // Where there is no record, there is nothing to forget.
    let _ = fs::remove_file(place(out));
}

fn read(out: &Path) -> Option<Record> {
    let bytes = fs::read(place(out)).ok()?;
    let sealed: Sealed = serde_json::from_slice(&bytes).ok()?;
    let sound = seal(&sealed.record).is_some_and(|seal| seal == sealed.seal);
    (sound && sealed.record.version == VERSION && sealed.record.program == program())
        .then_some(sealed.record)
}

fn seal(record: &Record) -> Option<String> {
    Some(content_hash(&serde_json::to_vec(record).ok()?))
}

impl Inputs {
    /// Every file that a run of the season reads, hashed where the last record does not know it.
    pub fn of(
        options: &RunOptions,
        folder: &Folder,
        season: &Season,
        (planned, unclaimed): (&[PlannedFlight], &[LogFile]),
    ) -> Self {
        let known = read(&options.out).map_or_else(BTreeMap::new, |r| r.inputs);
        let own = ["season.toml", "logbook.csv", "passes.csv"].into_iter();
        let benches = season.benches.iter().map(|b| b.file.as_str());
        let named = planned.iter().flat_map(|p| &p.row.logs).map(String::as_str);
        let found = planned.iter().flat_map(|p| &p.files).chain(unclaimed);
        let found = found.map(|f| f.name.as_str());
        let mut names: Vec<&str> = own.chain(benches).chain(named).chain(found).collect();
        names.sort_unstable();
        names.dedup();
        let files = names
            .into_par_iter()
            .map(|name| (name.to_owned(), look(&folder.path(name), known.get(name))))
            .collect();
        Self {
            no_pages: options.no_pages,
            flight_pictures: options.flight_pictures,
            files,
        }
    }

    /// Hash of what a file held when it was looked at.
    pub fn content(&self, name: &str) -> Option<&str> {
        Some(self.files.get(name)?.as_ref()?.hash.as_str())
    }

    /// Whether a file is, by its length and time, still the one that was looked at.
    pub fn stands(&self, name: &str, (length, written): (u64, SystemTime)) -> bool {
        let seen = self.files.get(name).and_then(Option::as_ref);
        let since = written.duration_since(UNIX_EPOCH).ok();
        let now = since.and_then(|s| u64::try_from(s.as_nanos()).ok());
        seen.is_some_and(|s| s.length == length && s.written_ns.is_some() && s.written_ns == now)
    }

    /// The outcome of the last run, where this one would be the same and its report stands.
    pub fn same_as_before(&self, out: &Path) -> Option<RunOutcome> {
        let record = read(out)?;
        let hashes = |files: &BTreeMap<String, Option<Seen>>| -> Vec<(String, Option<String>)> {
            let of = |(name, seen): (&String, &Option<Seen>)| {
                (name.clone(), seen.as_ref().map(|s| s.hash.clone()))
            };
            files.iter().map(of).collect()
        };
        let asked = (self.no_pages, self.flight_pictures);
        if (record.no_pages, record.flight_pictures) != asked
            || hashes(&record.inputs) != hashes(&self.files)
        {
            return None;
        }
        let stands = |(name, was): (&String, &Stands)| was.still(&out.join(name));
        if !record.outputs.par_iter().all(stands) {
            return None;
        }
        let json = fs::read_to_string(out.join("findings.json")).ok()?;
        let findings: Findings = serde_json::from_str(&json).ok()?;
        Some(RunOutcome {
            findings,
            report: out.to_owned(),
            nothing_usable: record.nothing_usable,
            set_aside: record.set_aside,
        })
    }

    /// Records what was read and written. A run is no worse without a record, so that one which cannot
    /// be written is none; neither is one of a report that would not come out the same beside itself.
    pub fn record(self, out: &Path, written: &report::Written, outcome: &RunOutcome) {
        let mut again = outcome.findings.clone();
        earlier::hold_against(&mut again, out);
        if again != outcome.findings {
            return;
        }
        let outputs = written.digests.iter();
        let stands = |(name, digest): (&String, &String)| {
            (name.clone(), Stands::of(&out.join(name), digest))
        };
        let record = Record {
            version: VERSION,
            program: program().to_owned(),
            no_pages: self.no_pages,
            flight_pictures: self.flight_pictures,
            inputs: self.files,
            outputs: outputs.map(stands).collect(),
            nothing_usable: outcome.nothing_usable,
            set_aside: outcome.set_aside,
        };
        let sealed = seal(&record).map(|seal| Sealed { record, seal });
        if let Some(text) = sealed.and_then(|s| serde_json::to_vec(&s).ok()) {
            // Renamed into place when it is whole.
            let _ = report::put_file(&text, &place(out));
        }
    }
}

/// What a file holds; `None` where it cannot be read.
fn look(path: &Path, known: Option<&Option<Seen>>) -> Option<Seen> {
    let metadata = fs::metadata(path).ok().filter(fs::Metadata::is_file)?;
    let written = metadata.modified().ok();
    let settled = written
        .and_then(|at| SystemTime::now().duration_since(at).ok())
        .is_some_and(|age| age > COARSE_TIME);
    let written_ns = written_ns(&metadata).filter(|_| settled);
    if let Some(Some(known)) = known
        && known.length == metadata.len()
        && known.written_ns.is_some()
        && known.written_ns == written_ns
    {
        return Some(known.clone());
    }
    Some(Seen {
        length: metadata.len(),
        written_ns,
        hash: content(path).ok()?,
    })
}

/// Hash of a file of any length, piece by piece.
fn content(path: &Path) -> io::Result<String> {
    let mut file = fs::File::open(path)?;
    let mut hasher = Xxh3::new();
    let mut piece = vec![0; 1 << 16];
    loop {
        match file.read(&mut piece) {
            Ok(0) => return Ok(format!("{:032x}", hasher.digest128())),
            Ok(length) => hasher.update(&piece[..length]),
            Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
            Err(e) => return Err(e),
        }
    }
}
