//! `benchborne run SEASON`.

use std::path::PathBuf;

use super::progress::Line;
use super::{Exit, open, show};
use crate::run::{self, RunOptions};

/// Analyse a season folder and write its report (the main job).
#[derive(Debug, clap::Args)]
#[command(after_help = concat!(
    "Example: benchborne run my-season --out reports/spring --open\n\n",
    super::exit_codes!(
        "0 fine, 1 finished with something set aside under --strict, 2 wrong use or wrong input (nothing was \
         written, or nothing of the season could be used)"
    )
))]
pub struct Arguments {
    /// Folder with season.toml.
    pub season: PathBuf,
    /// Where the report goes [default: reports/NAME, NAME being the season folder's].
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Exit with 1 when any row was set aside or any input could not be used.
    #[arg(long)]
    pub strict: bool,
    /// Print findings.json instead of the answers in words.
    #[arg(long)]
    pub json: bool,
    /// Write findings.json and the tables alone, no pages and no pictures.
    #[arg(long)]
    pub no_pages: bool,
    /// Draw each flight's own pictures as PNG, too; the pages hold them anyway.
    #[arg(long, conflicts_with = "no_pages")]
    pub flight_pictures: bool,
    /// Keep nothing for the next run and use nothing of earlier ones. Without it, results of each flight
    /// stand beside the report, in OUT.cache, and only what a change touches is worked out anew; the
    /// report is the same either way.
    #[arg(long)]
    pub no_cache: bool,
    /// Threads to use [default: all cores]; the result does not depend on it.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub threads: Option<u16>,
    /// No progress and no warnings; print the path of the report alone.
    #[arg(short, long, conflicts_with = "json")]
    pub quiet: bool,
    /// Open the report in the browser.
    #[arg(long)]
    pub open: bool,
}

pub fn main(arguments: &Arguments) -> Exit {
    let out = arguments
        .out
        .clone()
        .unwrap_or_else(|| default_out(&arguments.season));
    let line = Line::on_terminal(arguments.quiet);
    let options = RunOptions {
        season: arguments.season.clone(),
        out,
        threads: arguments.threads.map(usize::from),
        progress: line.progress(),
        no_pages: arguments.no_pages,
        flight_pictures: arguments.flight_pictures,
        cache: !arguments.no_cache,
        held_bytes: None,
    };
    let page = options.out.join(if options.no_pages {
        "findings.json"
    } else {
        "index.html"
    });
    let outcome = run::run(&options);
    drop(line);
    match outcome {
        Ok(outcome) => {
            if arguments.json {
                match outcome.json() {
                    Ok(json) => show::raw(&json),
                    Err(error) => {
                        return show::wrong(&format!(
                            "{} could not be read back: {error}",
                            outcome.report.join("findings.json").display()
                        ));
                    }
                }
            } else if arguments.quiet {
                show::raw(&format!("{}\n", page.display()));
            } else {
                show::complaints(&outcome.findings.ledger.findings);
                show::answers(&outcome.findings, &page);
            }
            if arguments.open {
                open::page(&page);
            }
            if outcome.nothing_usable {
                Exit::Wrong
            } else if arguments.strict && outcome.set_aside {
                Exit::SetAside
            } else {
                Exit::Fine
            }
        }
        Err(error) => show::failure(&error),
    }
}

/// Where a season's report goes if nobody says.
pub(super) fn default_out(season: &std::path::Path) -> PathBuf {
    let name = season
        .canonicalize()
        .ok()
        .and_then(|p| p.file_name().map(PathBuf::from))
        .unwrap_or_else(|| PathBuf::from("season"));
    PathBuf::from("reports").join(name)
}
