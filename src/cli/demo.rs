//! `benchborne demo [DIR]`.

use std::path::PathBuf;

use super::{Exit, run, show};
use crate::simulate;

/// Write the invented demo season into a folder, with the truth it was made from, and run it.
#[derive(Debug, clap::Args)]
#[command(after_help = concat!(
    "Example: benchborne demo my-demo --open\n\n",
    super::exit_codes!("0 fine, 2 wrong use, or the folder cannot be written to")
))]
pub struct Arguments {
    /// Where the demo season goes; its report is written to DIR/report.
    #[arg(default_value = "benchborne-demo")]
    pub dir: PathBuf,
    /// No progress and no warnings; print the path of the report alone.
    #[arg(short, long)]
    pub quiet: bool,
    /// Print findings.json instead of the answers in words.
    #[arg(long, conflicts_with = "quiet")]
    pub json: bool,
    /// Open the report in the browser.
    #[arg(long)]
    pub open: bool,
}

pub fn main(arguments: &Arguments) -> Exit {
    if let Err(error) = simulate::demo::write(&arguments.dir) {
        return show::wrong(&format!(
            "the demo season could not be written to {}: {error}. Name a folder you can write to.",
            arguments.dir.display()
        ));
    }
    run::main(&run::Arguments {
        season: arguments.dir.clone(),
        out: Some(arguments.dir.join("report")),
        strict: false,
        json: arguments.json,
        open: arguments.open,
        no_pages: false,
        flight_pictures: false,
        no_cache: true,
        threads: None,
        quiet: arguments.quiet,
    })
}
