//! `benchborne new DIR`.

use std::path::PathBuf;

use super::{Exit, show};
use crate::run::look::Kind;
use crate::run::new::{self, Draft, Found};
use crate::season::{Finding, Severity};

/// Look into a folder and write a first season.toml and logbook.csv from the files found there,
/// guesses marked, with what is left to fill in. Nothing that is there is overwritten.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example: benchborne new my-season")]
pub struct Arguments {
    /// Folder with bench tables and logs, in any arrangement.
    pub dir: PathBuf,
    /// Print the season file instead of writing anything.
    #[arg(long)]
    pub dry_run: bool,
}

pub fn main(arguments: &Arguments) -> Exit {
    let dir = &arguments.dir;
    let drafted = if arguments.dry_run {
        new::draft(dir)
    } else {
        new::refuse(dir)
            .and_then(|()| new::draft(dir))
            .and_then(|draft| new::write(dir, &draft).map(|()| draft))
    };
    match drafted {
        Ok(draft) if arguments.dry_run => {
            show::raw(&draft.season_toml);
            Exit::Fine
        }
        Ok(draft) => {
            show::raw(&summary(&draft, &dir.display().to_string()));
            Exit::Fine
        }
        Err(error) => show::failure(&error),
    }
}

/// Names shown of each kind.
const NAMES: usize = 8;

fn summary(draft: &Draft, dir: &str) -> String {
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
        of_kind(Kind::OtherTable).map(|f| f.name.clone()),
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
    out += &format!(
        "Written: {dir}/season.toml and {dir}/logbook.csv ({} flights).\n\
         Fill in what is marked `# fill in:`, correct what is marked `# guessed:`, and give each flight\n\
         its power system in logbook.csv. Then: benchborne check {dir}\n",
        draft.flights
    );
    out
}

/// The file's name with the first thing that was said against it.
fn with_reason(file: &Found) -> String {
    let errors = |f: &&Finding| f.severity == Severity::Error;
    let first = file.look.findings.iter().find(errors);
    first.map_or_else(
        || file.name.clone(),
        |f| format!("{}: {}", file.name, f.what),
    )
}

fn list(title: &str, names: impl Iterator<Item = String>) -> String {
    let names: Vec<String> = names.collect();
    if names.is_empty() {
        return String::new();
    }
    let mut out = format!("{} {title}\n", names.len());
    for name in names.iter().take(NAMES) {
        let clean: String = name
            .chars()
            .map(|c| if c.is_control() { '·' } else { c })
            .collect();
        out += &format!("    {clean}\n");
    }
    if names.len() > NAMES {
        out += &format!("    and {} more\n", names.len() - NAMES);
    }
    out
}
