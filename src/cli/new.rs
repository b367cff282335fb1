//! `benchborne new DIR`.

use std::path::PathBuf;

use super::{Exit, show};
use crate::run::look::Kind;
use crate::run::new::{self, Draft, Found};

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
        new::draft(dir).map(|draft| (draft, &[][..]))
    } else {
        new::missing(dir)
            .and_then(|_| new::draft(dir))
            .and_then(|draft| new::write(dir, &draft).map(|names| (draft, names)))
    };
    match drafted {
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
