//! A first season from the files in a folder: what was found, sorted by content, as an annotated
//! `season.toml` and a `logbook.csv`.

mod files;
mod flights;
mod patterns;
mod season;

use std::collections::BTreeMap;
use std::fs::OpenOptions;
use std::io::{self, Write};
use std::path::Path;

use rayon::prelude::*;

use super::folder::{Folder, OnDisk};
use super::look::{Kind, Look, LookOptions, look};
use super::{RunError, benches};
use crate::findings::Ledger;
use crate::ingest::Format;
use crate::season::{SeasonText, Severity, load};

/// What a folder holds and the two files made from it.
#[derive(Debug, Clone)]
pub struct Draft {
    pub season_toml: String,
    pub logbook_csv: String,
    /// Every file looked at, by name.
    pub found: Vec<Found>,
    /// What was not looked at, and why.
    pub left_out: Vec<String>,
    pub flights: usize,
}

/// One file of the folder.
#[derive(Debug, Clone)]
pub struct Found {
    /// Relative to the folder, with `/`.
    pub name: String,
    pub look: Look,
}

impl Found {
    /// Folder part of the name with its `/`; empty at the top.
    fn folder(&self) -> &str {
        self.name.rfind('/').map_or("", |at| &self.name[..=at])
    }

    /// The name without folder.
    fn base(&self) -> &str {
        &self.name[self.folder().len()..]
    }

    /// The name without folder and extension.
    fn stem(&self) -> &str {
        let base = self.base();
        base.rfind('.')
            .filter(|at| *at > 0)
            .map_or(base, |at| &base[..at])
    }

    fn extension(&self) -> &str {
        &self.base()[self.stem().len()..]
    }

    /// Why a file is in no section of the season.
    pub fn not_used(&self) -> Option<String> {
        match self.look.kind {
            Kind::BenchTable | Kind::OnboardLog | Kind::PositionTrack => None,
            Kind::Unreadable => {
                let mut errors = self.look.findings.iter();
                let error = errors.find(|f| f.severity == Severity::Error);
                Some(error.map_or_else(|| "no row to use".to_owned(), |f| f.what.clone()))
            }
            Kind::OtherTable => {
                let known = self.look.columns.iter().filter_map(|c| c.channel);
                let known: Vec<String> = known.map(|c| c.word().replace('_', " ")).collect();
                Some(if known.is_empty() {
                    "none of its columns is recognised".to_owned()
                } else {
                    format!(
                        "of what a bench table or a log must have, it shows only {}",
                        known.join(", ")
                    )
                })
            }
        }
    }

    /// Files of one signature come from one kind of logger.
    fn signature(&self) -> (Kind, Option<Format>, Vec<&str>) {
        let look = &self.look;
        let headers = look.columns.iter().map(|c| c.header.as_str());
        (
            look.kind,
            look.format,
            headers.filter(|h| !h.is_empty()).collect(),
        )
    }
}

const SEASON: &str = "season.toml";
const LOGBOOK: &str = "logbook.csv";

/// Looks into every file of a folder and drafts its season; writes nothing.
pub fn draft(dir: &Path) -> Result<Draft, RunError> {
    let files::Walk {
        files,
        hidden,
        mut left_out,
    } = files::walk(dir)
        .map_err(|e| RunError::Input(format!("{} could not be read: {e}", dir.display())))?;
    let found: Vec<Found> = files
        .into_par_iter()
        .map(|name| {
            let look = look(
                &OnDisk::new(dir.join(&name)),
                &name,
                &LookOptions::default(),
            );
            Found { name, look }
        })
        .collect();
    let title = dir
        .canonicalize()
        .ok()
        .and_then(|d| d.file_name().map(|n| n.to_string_lossy().into_owned()))
        .unwrap_or_else(|| "Season".to_owned());
    let sources = patterns::sources(&found, &hidden);
    let powers = season::powers(&found);
    // Beside a season file that is there already, the logbook names the systems that it declares.
    let declared = season::declared_powers(dir);
    let named = declared.as_ref().unwrap_or(&powers);
    let flights = flights::flights(&found, named, &mut left_out);
    let text =
        |faults: &BTreeMap<String, String>| season::text(&title, &found, &sources, &powers, faults);
    // Tables that the bench floor refuses are left as comments, with its reason.
    let faults = bench_faults(dir, &text(&BTreeMap::new()));
    Ok(Draft {
        season_toml: text(&faults),
        logbook_csv: flights::csv(&flights)
            .map_err(|e| RunError::Fault(format!("logbook.csv could not be made: {e}")))?,
        flights: flights.len(),
        found,
        left_out,
    })
}

/// Bench tables that `check` would refuse, with what it would say.
fn bench_faults(dir: &Path, season_toml: &str) -> BTreeMap<String, String> {
    let loaded = load(&SeasonText {
        season_toml,
        ..SeasonText::default()
    });
    let Some(season) = loaded.season else {
        return BTreeMap::new();
    };
    let mut complaints = Vec::new();
    benches::read(
        &Folder::new(dir),
        &season,
        &mut Ledger::default(),
        &mut complaints,
    );
    complaints
        .into_iter()
        .filter(|f| f.severity == Severity::Error)
        .filter_map(|f| Some((f.place?.file, format!("{}. {}", f.what, f.to_do))))
        .collect()
}

/// The files that may be written into a folder: both, or the logbook that a season lacks; else why
/// nothing may be. What is there is never overwritten.
pub fn missing(dir: &Path) -> Result<&'static [&'static str], RunError> {
    let is_there = |name: &str| dir.join(name).symlink_metadata().is_ok();
    let name = match (is_there(SEASON), is_there(LOGBOOK)) {
        (false, false) => return Ok(&[SEASON, LOGBOOK]),
        (true, false) => return Ok(&[LOGBOOK]),
        (true, true) => SEASON,
        (false, true) => LOGBOOK,
    };
    Err(RunError::Input(format!(
        "{} is there already and is never overwritten. Rename it or move it away and try again; \
         `benchborne new --dry-run` shows the draft without writing anything.",
        dir.join(name).display()
    )))
}

/// Writes the files that are missing, never over existing ones; their names.
pub fn write(dir: &Path, draft: &Draft) -> Result<&'static [&'static str], RunError> {
    let names = missing(dir)?;
    for (name, text) in [(SEASON, &draft.season_toml), (LOGBOOK, &draft.logbook_csv)] {
        if !names.contains(&name) {
            continue;
        }
        create(&dir.join(name), text).map_err(|e| {
            RunError::Input(format!(
                "{} could not be written: {e}",
                dir.join(name).display()
            ))
        })?;
    }
    Ok(names)
}

fn create(path: &Path, text: &str) -> io::Result<()> {
    let mut file = OpenOptions::new().write(true).create_new(true).open(path)?;
    file.write_all(text.as_bytes())
}
