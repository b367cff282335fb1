//! `benchborne look FILE…`.

use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use clap::ValueEnum;

use super::{Exit, show};
use crate::run::OnDisk;
use crate::run::look::{self, Look, LookOptions, Unwritten};
use crate::season::Severity;

/// Show what is in a file, one screen each: how it is written, its columns with guessed channels
/// and units, its clock, and the line for season.toml that overrules each guess.
#[derive(Debug, clap::Args)]
#[command(after_help = concat!(
    "Examples:\n  \
     benchborne look logs/*.csv\n  \
     benchborne look radio.csv --as csv > clean.csv\n\n",
    super::exit_codes!("0 fine, 1 something was set aside under --strict, 2 a file is not readable, or wrong use")
))]
pub struct Arguments {
    /// Files of any kind: bench tables, logs, tracks.
    #[arg(required = true, value_name = "FILE")]
    pub files: Vec<PathBuf>,
    /// Print the same as JSON: a list, one entry a file; see `benchborne help look-json`.
    #[arg(long, conflicts_with = "as_format")]
    pub json: bool,
    /// Print the table of one file as it was read, before channels and units (RFC 4180, UTF-8).
    #[arg(long = "as", value_name = "FORMAT", conflicts_with = "strict")]
    pub as_format: Option<As>,
    /// Read the files as this season folder declares them.
    #[arg(long, value_name = "DIR")]
    pub season: Option<PathBuf>,
    /// Exit with 1 when a row was set aside or something could not be used.
    #[arg(long)]
    pub strict: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum As {
    Csv,
}

pub fn main(arguments: &Arguments) -> Exit {
    if arguments.as_format.is_some() {
        if arguments.files.len() > 1 {
            return show::wrong(
                "--as writes one table, and several files would run into each other. Name one file; in a \
                 shell: for f in *.csv; do benchborne look --as csv \"$f\" > \"out/$f\"; done",
            );
        }
        return tables(&arguments.files);
    }
    let mut looks = Vec::new();
    let mut season_told = false;
    for file in &arguments.files {
        let options = match options(arguments.season.as_deref(), file, &mut season_told) {
            Ok(options) => options,
            Err(exit) => return exit,
        };
        let look = open(file, &options);
        if !arguments.json {
            show::raw(&look::screen(&look));
        }
        if !look.is_readable() {
            let errors = look
                .findings
                .iter()
                .filter(|f| f.severity == Severity::Error);
            show::all_complaints(&errors.cloned().collect::<Vec<_>>());
        }
        looks.push(look);
    }
    if arguments.json {
        match serde_json::to_string_pretty(&looks) {
            Ok(text) => show::raw(&(text + "\n")),
            Err(error) => return show::fault(&error.to_string()),
        }
    }
    if look::any_unreadable(&looks) {
        Exit::Wrong
    } else if arguments.strict && look::any_set_aside(&looks) {
        Exit::SetAside
    } else {
        Exit::Fine
    }
}

/// What the season declares of a file; what is wrong with the season is shown once.
fn options(season: Option<&Path>, file: &Path, told: &mut bool) -> Result<LookOptions, Exit> {
    let Some(dir) = season else {
        return Ok(LookOptions::default());
    };
    let declared = look::declared(dir, file).map_err(|error| show::failure(&error))?;
    if !std::mem::replace(told, true) {
        let errors = declared.findings.into_iter();
        let errors = errors.filter(|f| f.severity == Severity::Error);
        show::all_complaints(&errors.collect::<Vec<_>>());
    }
    match declared.options {
        Some(options) => Ok(options),
        None => Err(show::wrong(&format!(
            "the season in {} declares no such file: {}. Name it under [[logs]] or [[bench]], or \
             look at it without --season.",
            dir.display(),
            file.display()
        ))),
    }
}

fn open(file: &Path, options: &LookOptions) -> Look {
    let name = file.to_string_lossy();
    look::look(&OnDisk::new(file), &name, options)
}

/// A file that holds no table is an error.
fn tables(files: &[PathBuf]) -> Exit {
    let mut exit = Exit::Fine;
    for file in files {
        let name = file.to_string_lossy();
        let written = show::streamed(|out| look::as_csv(&OnDisk::new(file), &name, out));
        match written {
            Ok(written) => {
                let of = |(why, count, line): &(&str, usize, u32)| {
                    format!("{count} {why} (first in line {line})")
                };
                let reasons: Vec<String> = written.left_out.iter().map(of).collect();
                if !reasons.is_empty() {
                    let all: usize = written.left_out.iter().map(|(_, count, _)| count).sum();
                    show::remark(&format!(
                        "{name}: {all} row(s) left out: {}",
                        reasons.join("; ")
                    ));
                }
                if written.is_damaged() {
                    show::complaints(&written.findings);
                    exit = Exit::Wrong;
                }
            }
            Err(Unwritten::NoTable(format)) => {
                exit = show::wrong(&format!(
                    "{name} is {}, no table; look at it without --as.",
                    format.words()
                ));
            }
            Err(Unwritten::Found(findings)) => {
                show::complaints(&findings);
                exit = Exit::Wrong;
            }
            // A reader that stopped listening is no failure.
            Err(Unwritten::Output(error)) if error.kind() == ErrorKind::BrokenPipe => return exit,
            Err(Unwritten::Output(error)) => {
                exit = show::wrong(&format!("{name} could not be written as a table: {error}."));
            }
        }
    }
    exit
}
