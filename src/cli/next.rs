//! `benchborne next SEASON`.

use std::path::PathBuf;

use super::progress::Line;
use super::run::default_out;
use super::{Exit, open, show};
use crate::run;

/// Print the card for the field: what to measure and fly next, in which order, and what each line
/// will settle.
///
/// The text goes to the terminal, the page to print to a file.
#[derive(Debug, clap::Args)]
#[command(after_help = concat!(
    "Example: benchborne next my-season --out card.html --open\n\n",
    super::exit_codes!("0 fine, 2 wrong use or wrong input")
))]
pub struct Arguments {
    /// Folder with season.toml.
    pub season: PathBuf,
    /// The page to print [default: reports/NAME/next.html, NAME being the season folder's].
    #[arg(long, value_name = "FILE.html")]
    pub out: Option<PathBuf>,
    /// Print the card as JSON; a page is written only where --out names one.
    #[arg(long)]
    pub json: bool,
    /// Threads to use [default: all cores]; the result does not depend on it.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub threads: Option<u16>,
    /// No progress; where the page lies is not said.
    #[arg(short, long)]
    pub quiet: bool,
    /// Open the page in the browser.
    #[arg(long)]
    pub open: bool,
}

pub fn main(arguments: &Arguments) -> Exit {
    let page = match (&arguments.out, arguments.json) {
        (Some(out), _) => Some(out.clone()),
        (None, true) => None,
        (None, false) => Some(default_out(&arguments.season).join("next.html")),
    };
    let threads = arguments.threads.map(usize::from);
    let line = Line::on_terminal(arguments.quiet);
    let card = run::next(
        &arguments.season,
        page.as_deref(),
        threads,
        &line.progress(),
    );
    drop(line);
    match card {
        Ok(card) => {
            if arguments.json {
                show::raw(&card.json);
            } else {
                show::raw(&card.text);
                if let Some(page) = page.as_deref().filter(|_| !arguments.quiet) {
                    show::written(page);
                }
            }
            if let Some(page) = page.as_deref().filter(|_| arguments.open) {
                open::page(page);
            }
            if card.nothing_usable {
                Exit::Wrong
            } else {
                Exit::Fine
            }
        }
        Err(error) => show::failure(&error),
    }
}
