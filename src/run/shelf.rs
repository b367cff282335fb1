//! Logs that wait for their turn. A season of ordinary size is held in memory; beyond
//! [`HELD_BYTES`] logs are put aside in a temporary folder and read back when a stage comes to their
//! flight, so that the memory a run takes does not grow with the logs of a season. A log whose results
//! were kept from an earlier run is not read at all until somebody asks for it.

use std::fs;
use std::io;
use std::mem;
use std::path::PathBuf;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, OnceLock};

use super::RunError;
use crate::flight::record::Survey;
use crate::flight::velocity::Velocity;
use crate::ingest::{Channel, Log};
use crate::store::{FlightRows, columns};

/// Logs, and rows of flights' own pictures, held in memory at once, bytes.
const HELD_BYTES: usize = 64 << 20;
/// What a row of a flight's own pictures takes in memory, about, bytes.
const ROW_BYTES: usize = 128;

/// Where logs are put aside.
#[derive(Debug)]
pub struct Shelf {
    /// So many bytes are held in memory.
    most: usize,
    held: AtomicUsize,
    folder: OnceLock<tempfile::TempDir>,
    opening: Mutex<()>,
    files: AtomicUsize,
    /// The first thing that went wrong.
    failure: OnceLock<Failure>,
}

#[derive(Debug, Clone)]
enum Failure {
    /// With the folder.
    Folder(String),
    /// A file is not what it was.
    Changed(String),
}

/// Reads a flight's logs again; what is wrong where they are not what they were.
pub type Again = Box<dyn Fn() -> Result<Survey, String> + Send + Sync>;

/// A log on the shelf.
#[derive(Default)]
pub struct Shelved(Where);

#[derive(Default)]
enum Where {
    /// In use, or there never was one.
    #[default]
    Out,
    Held(Box<Log>, Option<Box<Velocity>>),
    Aside {
        path: PathBuf,
        channels: Vec<Channel>,
        /// What the logged current is multiplied by.
        scale: Option<f64>,
    },
    /// In the files of the season.
    Unread {
        again: Again,
        scale: Option<f64>,
    },
}

impl Shelf {
    /// Holds so many bytes of logs in memory, [`HELD_BYTES`] where nobody says.
    pub fn holding(bytes: Option<usize>) -> Self {
        Self {
            most: bytes.unwrap_or(HELD_BYTES),
            held: AtomicUsize::default(),
            folder: OnceLock::new(),
            opening: Mutex::default(),
            files: AtomicUsize::default(),
            failure: OnceLock::new(),
        }
    }

    /// Whether so many bytes more are held in memory.
    fn takes(&self, bytes: usize) -> bool {
        let before = self.held.fetch_add(bytes, Ordering::Relaxed);
        let fits = before + bytes <= self.most;
        if !fits {
            self.held.fetch_sub(bytes, Ordering::Relaxed);
        }
        fits
    }

    /// Puts a log aside, and leaves one of no rows in its place.
    pub fn put(&self, log: &mut Log, velocity: Option<&mut Velocity>) -> Shelved {
        let bytes = 8 * (log.channels.len() + 2) * log.len();
        if self.takes(bytes) {
            let stub = stub(log);
            let velocity = velocity.map(|v| {
                let stub = still(v);
                Box::new(mem::replace(v, stub))
            });
            return Shelved(Where::Held(Box::new(mem::replace(log, stub)), velocity));
        }
        match self.write(log, velocity.as_deref()) {
            Ok(path) => {
                let channels = log.channels.keys().copied().collect();
                *log = stub(log);
                if let Some(velocity) = velocity {
                    *velocity = still(velocity);
                }
                Shelved(Where::Aside {
                    path,
                    channels,
                    scale: None,
                })
            }
            Err(error) => {
                self.fail(&error);
                Shelved::default()
            }
        }
    }

    fn write(&self, log: &Log, velocity: Option<&Velocity>) -> io::Result<PathBuf> {
        let mut series: Vec<&[f64]> = vec![&log.time];
        series.extend(log.channels.values().map(Vec::as_slice));
        series.extend(velocity.iter().flat_map(|v| [&*v.time, &v.north, &v.east]));
        let bytes = columns::encode(&[], &series, &log.lines);
        let number = self.files.fetch_add(1, Ordering::Relaxed);
        let path = self.folder()?.join(format!("{number}.columns"));
        fs::write(&path, bytes)?;
        Ok(path)
    }

    fn folder(&self) -> io::Result<PathBuf> {
        // One thread makes it; a poisoned lock guards nothing that could be half done.
        let _one = self.opening.lock();
        if let Some(folder) = self.folder.get() {
            return Ok(folder.path().to_owned());
        }
        let made = tempfile::Builder::new().prefix("benchborne-").tempdir()?;
        Ok(self.folder.get_or_init(|| made).path().to_owned())
    }

    fn fail(&self, error: &io::Error) {
        let why = || Failure::Folder(error.to_string());
        self.failure.get_or_init(why);
    }

    /// Puts a flight's own rows aside.
    pub fn put_rows(&self, rows: FlightRows) -> ShelvedRows {
        let count = rows.strips.len() + rows.track.len() + rows.pass_samples.len();
        if self.takes(ROW_BYTES * count) {
            return ShelvedRows::Held(Box::new(rows));
        }
        let number = self.files.fetch_add(1, Ordering::Relaxed);
        let written = self.folder().and_then(|folder| {
            let bytes = postcard::to_stdvec(&rows).map_err(io::Error::other)?;
            let path = folder.join(format!("{number}.rows"));
            fs::write(&path, bytes).map(|()| path)
        });
        match written {
            Ok(path) => ShelvedRows::Aside(path),
            Err(error) => {
                self.fail(&error);
                ShelvedRows::Held(Box::default())
            }
        }
    }

    pub fn rows(&self, shelved: &ShelvedRows) -> FlightRows {
        let path = match shelved {
            ShelvedRows::Held(rows) => return (**rows).clone(),
            ShelvedRows::Aside(path) => path,
        };
        let read = fs::read(path).and_then(|bytes| {
            postcard::from_bytes(&bytes).map_err(|_| io::Error::other("a file there was changed"))
        });
        read.unwrap_or_else(|error| {
            self.fail(&error);
            FlightRows::default()
        })
    }

    /// A file was read as something else earlier in this run.
    pub fn changed(&self, what: String) {
        self.failure.get_or_init(|| Failure::Changed(what));
    }

    /// Nothing went wrong so far: what was made of the logs is of what they hold.
    pub fn is_sound(&self) -> bool {
        self.failure.get().is_none()
    }

    /// Whether everything could be put aside and was read back.
    pub fn check(&self) -> Result<(), RunError> {
        let what = match self.failure.get() {
            None => return Ok(()),
            Some(Failure::Folder(why)) => format!(
                "this season's logs are put aside in {} while they are analysed, and that failed: {why}. \
                 Make room there, or name another folder in the environment variable TMPDIR.",
                std::env::temp_dir().display()
            ),
            Some(Failure::Changed(what)) => {
                format!("{what}. Wait until what copies or writes it is done, and run again.")
            }
        };
        Err(RunError::Input(what))
    }

    /// The log of a survey back in its place for as long as `work` takes.
    pub fn lit<T>(
        &self,
        shelved: &mut Shelved,
        survey: &mut Survey,
        work: impl FnOnce(&mut Survey) -> T,
    ) -> T {
        let aside = self.light(shelved, survey);
        let done = work(survey);
        shelved.dim(self, survey, aside);
        done
    }

    /// Puts the log into the survey; what [`Shelved::dim`] is to be given afterwards.
    #[must_use]
    pub fn light(&self, shelved: &mut Shelved, survey: &mut Survey) -> Aside {
        shelved.light_held(survey);
        let aside = match &shelved.0 {
            Where::Aside { .. } | Where::Unread { .. } => mem::take(&mut shelved.0),
            _ => return Aside(None),
        };
        let Some(log) = survey.log.as_mut() else {
            return Aside(Some(aside));
        };
        if let Where::Unread { again, scale } = &aside {
            match again() {
                Ok(read) => {
                    *log = read.log.unwrap_or_default();
                    survey.velocity = read.velocity;
                    scale_current(log, *scale);
                }
                Err(what) => self.changed(what),
            }
        }
        self.fetch(&aside, log, survey.velocity.as_mut());
        Aside(Some(aside))
    }

    fn fetch(&self, place: &Where, log: &mut Log, velocity: Option<&mut Velocity>) {
        let Where::Aside {
            path,
            channels,
            scale,
        } = place
        else {
            return;
        };
        let read = fs::read(path).and_then(|bytes| {
            columns::decode(&bytes).ok_or_else(|| io::Error::other("a file there was changed"))
        });
        let read = match read {
            Ok(read) => read,
            Err(error) => return self.fail(&error),
        };
        let mut series = read.columns.into_iter();
        log.lines = read.lines;
        log.time = series.next().unwrap_or_default();
        log.channels = channels.iter().copied().zip(series.by_ref()).collect();
        scale_current(log, *scale);
        if let Some(velocity) = velocity {
            velocity.time = series.next().unwrap_or_default();
            velocity.north = series.next().unwrap_or_default();
            velocity.east = series.next().unwrap_or_default();
        }
    }

    /// A log that was put aside without a survey.
    pub fn fetch_log(&self, shelved: Shelved, mut log: Log) -> Log {
        match shelved.0 {
            Where::Held(held, _) => {
                let bytes = 8 * (held.channels.len() + 2) * held.len();
                self.held.fetch_sub(bytes, Ordering::Relaxed);
                *held
            }
            place => {
                self.fetch(&place, &mut log, None);
                if let Where::Aside { path, .. } = place {
                    // The folder goes with the shelf anyway.
                    let _ = fs::remove_file(path);
                }
                log
            }
        }
    }
}

/// Rows on the shelf.
pub enum ShelvedRows {
    Held(Box<FlightRows>),
    Aside(PathBuf),
}

/// Where a log lies while a copy of it is in use.
pub struct Aside(Option<Where>);

impl Shelved {
    /// Puts a log that is held in memory into the survey.
    fn light_held(&mut self, survey: &mut Survey) {
        match mem::take(&mut self.0) {
            Where::Held(log, velocity) => {
                survey.log = Some(*log);
                if let Some(velocity) = velocity {
                    survey.velocity = Some(*velocity);
                }
            }
            other => self.0 = other,
        }
    }

    /// Takes it out again.
    fn dim_held(&mut self, survey: &mut Survey) {
        if let (Where::Out, Some(log)) = (&self.0, &mut survey.log) {
            let stub = stub(log);
            let log = Box::new(mem::replace(log, stub));
            let velocity = survey.velocity.as_mut().map(|velocity| {
                let stub = still(velocity);
                Box::new(mem::replace(velocity, stub))
            });
            self.0 = Where::Held(log, velocity);
        }
    }

    /// Takes the log out of the survey that [`Shelf::light`] put it into. What was read anew goes onto
    /// the shelf: it will be asked for again.
    pub fn dim(&mut self, shelf: &Shelf, survey: &mut Survey, aside: Aside) {
        let aside = match aside.0 {
            None => return self.dim_held(survey),
            Some(Where::Unread { .. }) => {
                if let Some(log) = &mut survey.log {
                    *self = shelf.put(log, survey.velocity.as_mut());
                }
                return;
            }
            Some(aside) => aside,
        };
        if let Some(log) = &mut survey.log {
            *log = stub(log);
        }
        if let Some(velocity) = &mut survey.velocity {
            *velocity = still(velocity);
        }
        self.0 = aside;
    }

    /// Multiplies the current of a log that lies on the shelf.
    pub fn scale_current(&mut self, by: f64) {
        match &mut self.0 {
            Where::Out => {}
            Where::Held(log, _) => scale_current(log, Some(by)),
            Where::Aside { scale, .. } | Where::Unread { scale, .. } => *scale = Some(by),
        }
    }

    /// A log that was not read.
    pub fn unread(again: Again) -> Self {
        Self(Where::Unread { again, scale: None })
    }
}

fn scale_current(log: &mut Log, by: Option<f64>) {
    let Some(by) = by else { return };
    let current = log.channels.get_mut(&Channel::Current);
    current.into_iter().flatten().for_each(|i| *i *= by);
}

/// The log without its rows.
fn stub(log: &Log) -> Log {
    Log {
        file: log.file.clone(),
        start: log.start,
        clock_s: log.clock_s,
        breaks: log.breaks.clone(),
        step_s: log.step_s,
        ..Log::default()
    }
}

/// The velocity without its samples.
fn still(velocity: &mut Velocity) -> Velocity {
    let (time, north, east) = (
        mem::take(&mut velocity.time),
        mem::take(&mut velocity.north),
        mem::take(&mut velocity.east),
    );
    let stub = velocity.clone();
    (velocity.time, velocity.north, velocity.east) = (time, north, east);
    stub
}
