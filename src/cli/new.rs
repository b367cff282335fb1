//! `benchborne new DIR`.

use std::path::PathBuf;

use serde::Serialize;

use super::{Exit, show};
use crate::run::look::Kind;
use crate::run::new::{self, Draft, Found};
use crate::season::clean;

/// Look into a folder and write a first season.toml and logbook.csv from the files found there,
/// guesses marked, with what is left to fill in. Nothing that is there is overwritten.
#[derive(Debug, clap::Args)]
#[command(after_help = concat!(
    "Example: benchborne new my-season\n\n",
    super::exit_codes!("0 fine, 2 wrong use, or both files are there already")
))]
pub struct Arguments {
    /// Folder with bench tables and logs, in any arrangement.
    pub dir: PathBuf,
    /// Print the season file instead of writing anything.
    #[arg(long)]
    pub dry_run: bool,
    /// Print what was found, and both files as drafted, as JSON.
    #[arg(long)]
    pub json: bool,
}

pub fn main(arguments: &Arguments) -> Exit {
    let dir = &arguments.dir;
    let drafted = if arguments.dry_run {
        new::draft(dir).map(|draft| (draft, &[][..]))
    } else {
        new::missing(dir)
            .and_then(|_| new::draft(dir))
            .and_then(|draft| new::write(dir, &draft).map(|names| (draft, names)))
    };
    match drafted {
        Ok((draft, written)) if arguments.json => match json(&draft, written) {
            Ok(text) => {
                show::raw(&(text + "\n"));
                Exit::Fine
            }
            Err(error) => show::fault(&error.to_string()),
        },
        Ok((draft, _)) if arguments.dry_run => {
            show::raw(&draft.season_toml);
            Exit::Fine
        }
        Ok((draft, written)) => {
            show::raw(&summary(&draft, &dir.display().to_string(), written));
            Exit::Fine
        }
        Err(error) => show::failure(&error),
    }
}

/// A file of the folder, as data.
#[derive(Serialize)]
struct FileSeen<'a> {
    file: &'a str,
    kind: Kind,
    #[serde(skip_serializing_if = "Option::is_none")]
    not_used: Option<String>,
}

#[derive(Serialize)]
struct Drafted<'a> {
    /// Names of the files written; none under `--dry-run`.
    written: &'a [&'a str],
    flights: usize,
    files: Vec<FileSeen<'a>>,
    left_out: &'a [String],
    season_toml: &'a str,
    logbook_csv: &'a str,
}

fn json(draft: &Draft, written: &[&str]) -> serde_json::Result<String> {
    let files = draft.found.iter().map(|found| FileSeen {
        file: &found.name,
        kind: found.look.kind,
        not_used: found.not_used(),
    });
    serde_json::to_string_pretty(&Drafted {
        written,
        flights: draft.flights,
        files: files.collect(),
        left_out: &draft.left_out,
        season_toml: &draft.season_toml,
        logbook_csv: &draft.logbook_csv,
    })
}

/// Names shown of each kind.
const NAMES: usize = 8;

fn summary(draft: &Draft, dir: &str, written: &[&str]) -> String {
    let mut out = String::new();
    let of_kind = |kind| draft.found.iter().filter(move |f| f.look.kind == kind);
    let mut used = 0;
    for (kind, title) in [
        (Kind::BenchTable, "bench tables"),
        (Kind::OnboardLog, "onboard logs"),
        (Kind::PositionTrack, "position tracks"),
    ] {
        used += of_kind(kind).count();
        out += &list(title, of_kind(kind).map(|f| f.name.clone()));
    }
    out += &list(
        "other tables (neither a log of a flight nor a bench test; not used)",
        of_kind(Kind::OtherTable).map(with_reason),
    );
    out += &list(
        "not readable (not used)",
        of_kind(Kind::Unreadable).map(with_reason),
    );
    out += &list("left out", draft.left_out.iter().cloned());
    if draft.found.is_empty() {
        out += "No file was found to look into; the season file is a form to fill in.\n";
    } else if used == 0 {
        out += &format!(
            "None of the {} files looked into is a log of a flight, a bench table or a track: nothing was\n\
             taken from them, and the season file is a form to fill in. If the data lie elsewhere, move\n\
             the two files there. `benchborne look FILE` tells what was seen in a file, and why.\n",
            draft.found.len()
        );
    }
    let flights = draft.flights;
    if written.len() == 1 {
        out += &format!(
            "Written: {dir}/logbook.csv ({flights} flights); season.toml was there and stays as it is.\n\
             Give each flight its power system, then: benchborne check {dir}\n"
        );
        return out;
    }
    out += &format!(
        "Written: {dir}/season.toml and {dir}/logbook.csv ({flights} flights).\n\
         Fill in what is marked `# fill in:`, correct what is marked `# guessed:`, and give each flight\n\
         its power system in logbook.csv. Then: benchborne check {dir}\n"
    );
    out
}

/// The file's name and why it is not used.
fn with_reason(file: &Found) -> String {
    match file.not_used() {
        Some(why) => format!("{}: {why}", file.name),
        None => file.name.clone(),
    }
}

fn list(title: &str, names: impl Iterator<Item = String>) -> String {
    let names: Vec<String> = names.collect();
    if names.is_empty() {
        return String::new();
    }
    let mut out = format!("{} {title}\n", names.len());
    for name in names.iter().take(NAMES) {
        out += &format!("    {}\n", clean(name));
    }
    if names.len() > NAMES {
        out += &format!("    and {} more\n", names.len() - NAMES);
    }
    out
}
