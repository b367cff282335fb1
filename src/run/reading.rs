//! One log file read, with what is asked of it before its flight's turn; kept from one run to the next.

use serde::{Deserialize, Serialize};
use xxhash_rust::xxh3::Xxh3;

use super::folder::{Folder, LogFile};
use super::kept::{Kept, Key, Parts};
use super::rated_charge;
use super::shelf::{Shelf, Shelved};
use super::unchanged::{Inputs, content_hash};
use crate::ingest::ledger::FileLedger;
use crate::ingest::{Channel, Log, LogRead, ReadOptions, read_log, read_log_from};
use crate::season::{ChannelMap, Finding, Season, TextForm};

/// Where logs come from and where they wait.
pub struct Sources<'a> {
    pub folder: &'a Folder,
    pub shelf: &'a Shelf,
    pub kept: &'a Kept,
    /// What the files hold; `None` where nothing is kept.
    pub inputs: Option<&'a Inputs>,
}

/// A log on the shelf, with what is asked of it before its flight's turn.
#[derive(Serialize, Deserialize)]
pub struct ReadLog {
    /// The log without its rows.
    pub stub: Log,
    #[serde(skip)]
    place: Place,
    /// Of its file and of how it is read; `None` where what was read may be something else.
    #[serde(skip)]
    pub key: Option<Key>,
    pub rows: usize,
    /// Of times and readings: that of a copy is the same.
    pub digest: u128,
    pub has_position: bool,
    /// From its first row to its last, s.
    pub length_s: Option<f64>,
    pub first_line: Option<u32>,
    /// What it counts as drawn, C.
    pub charge_c: Option<f64>,
}

enum Place {
    Shelved(Shelved),
    Unread(Reread),
}

impl Default for Place {
    fn default() -> Self {
        Place::Shelved(Shelved::default())
    }
}

/// How to read a log again that an earlier run has read.
#[derive(Clone)]
pub struct Reread {
    folder: Folder,
    file: String,
    options: ReadOptions,
    digest: u128,
}

impl Reread {
    /// The log, if its file still holds what the earlier run read.
    pub fn read(&self) -> Result<Log, String> {
        let (read, _) = read_file(&self.folder, &self.file, &self.options);
        let same = |log: &Log| digest(log) == self.digest;
        read.log
            .filter(same)
            .ok_or_else(|| format!("{} changed while this season was analysed", self.file))
    }
}

impl ReadLog {
    fn of(mut log: Log, shelf: &Shelf) -> Self {
        let (rows, digest) = (log.len(), digest(&log));
        let (length_s, first_line) = (log.time.last().copied(), log.lines.first().copied());
        let has_position = log.get(Channel::Latitude).is_some();
        let charge_c = rated_charge::charge_c(&log);
        let shelved = shelf.put(&mut log, None);
        Self {
            stub: log,
            place: Place::Shelved(shelved),
            key: None,
            rows,
            digest,
            has_position,
            length_s,
            first_line,
            charge_c,
        }
    }

    /// The log with its rows.
    pub fn fetch(self, shelf: &Shelf) -> Log {
        match self.place {
            Place::Shelved(shelved) => shelf.fetch_log(shelved, self.stub),
            Place::Unread(reread) => reread.read().unwrap_or_else(|what| {
                shelf.changed(what);
                self.stub
            }),
        }
    }

    /// How to read it, where it was not read.
    pub fn unread(&self) -> Option<&Reread> {
        match &self.place {
            Place::Shelved(_) => None,
            Place::Unread(reread) => Some(reread),
        }
    }
}

/// The same of logs with the same readings at the same times after the first row, whatever the date.
fn digest(log: &Log) -> u128 {
    let mut hasher = Xxh3::new();
    let mut add = |values: &[f64]| {
        for part in values.chunks(512) {
            let mut bytes = [0u8; 4096];
            let filled = bytes.as_chunks_mut::<8>().0.iter_mut().zip(part);
            filled.for_each(|(b, x)| *b = x.to_bits().to_le_bytes());
            hasher.update(&bytes[..8 * part.len()]);
        }
    };
    add(&log.time);
    for (channel, values) in &log.channels {
        add(&[*channel as u8 as f64]);
        add(values);
    }
    hasher.digest128()
}

/// What reading a file gave, its log on the shelf.
#[derive(Serialize, Deserialize)]
pub struct FileRead {
    pub log: Option<ReadLog>,
    pub ledger: FileLedger,
    #[serde(with = "crate::season::finding::whole")]
    pub findings: Vec<Finding>,
}

/// Reads a file, or finds what an earlier run read of it.
pub fn read_one(from: &Sources, season: &Season, file: &LogFile) -> FileRead {
    let options = read_options(season, file);
    let content = from.inputs.and_then(|i| i.content(&file.name));
    let key = content.map(|content| {
        Parts::of("read")
            .bytes(content.as_bytes())
            .bytes(file.name.as_bytes())
            .shown(&options)
            .done()
    });
    if let Some(mut read) = key.and_then(|key| from.kept.get::<FileRead>("read", key)) {
        if let Some(log) = &mut read.log {
            log.key = key;
            log.place = Place::Unread(Reread {
                folder: from.folder.clone(),
                file: file.name.clone(),
                options,
                digest: log.digest,
            });
        }
        return read;
    }
    let (read, found) = read_at_rest(from.folder, &file.name, &options);
    // What was read must be what the key stands for.
    let key = key.filter(|_| match &found {
        Found::Held(hash) => content == Some(hash),
        Found::Pieces => {
            let state = from.folder.state(&file.name);
            let stands = |i: &Inputs| state.is_some_and(|s| i.stands(&file.name, s));
            from.inputs.is_some_and(stands)
        }
        Found::Restless => false,
    });
    let mut read = FileRead {
        log: read.log.map(|log| ReadLog::of(log, from.shelf)),
        ledger: read.ledger,
        findings: read.findings,
    };
    if let Some(key) = key {
        from.kept.put("read", key, &read);
    }
    if let Some(log) = &mut read.log {
        log.key = key;
    }
    read
}

/// A file that is written to meanwhile shows its states mixed: it is read once more, and told where it
/// does not come to rest.
fn read_at_rest(folder: &Folder, name: &str, options: &ReadOptions) -> (LogRead, Found) {
    let before = folder.state(name);
    let read = read_file(folder, name, options);
    let then = folder.state(name);
    if then == before {
        return read;
    }
    let (mut read, found) = read_file(folder, name, options);
    if folder.state(name) == then {
        return (read, found);
    }
    let what = "the file changed while it was read";
    let to_do = "Wait until what copies or writes it is done, and run again.";
    let finding = Finding::warning("changed-while-read", what, to_do);
    read.findings.push(finding.in_file(name));
    (read, Found::Restless)
}

/// What is known of what was read.
enum Found {
    /// Its hash.
    Held(String),
    /// A file that was read in pieces.
    Pieces,
    /// One that changed meanwhile.
    Restless,
}

fn read_options(season: &Season, file: &LogFile) -> ReadOptions {
    let source = file.source.and_then(|i| season.logs.get(i));
    ReadOptions {
        channels: source.map_or_else(ChannelMap::new, |s| s.channels.clone()),
        text: source.map_or_else(TextForm::default, |s| s.text),
        rate_hz: source.and_then(|s| s.rate_hz),
        zone: season.site.zone,
        dates: source.and_then(|s| s.dates),
        no_preamble_date: source.is_some_and(|s| !s.preamble_date),
    }
}

fn read_file(folder: &Folder, name: &str, options: &ReadOptions) -> (LogRead, Found) {
    let source = folder.source(name);
    // A file that cannot be read whole is complained about by whoever reads it in pieces.
    match source.held() {
        Some(bytes) => {
            let read = read_log(&bytes, name, options);
            (read, Found::Held(content_hash(&bytes)))
        }
        None => (read_log_from(&source, name, options), Found::Pieces),
    }
}
