//! Arguments in, one library call, exit code. One file a command.

mod check;
mod completions;
mod demo;
mod help;
mod look;
mod new;
mod next;
mod open;
mod progress;
mod run;
mod show;

use std::process::ExitCode;

use clap::{Parser, Subcommand};

/// Exit codes, settled in one place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Exit {
    /// Fine.
    Fine,
    /// Finished, with something set aside under `--strict`.
    SetAside,
    /// Wrong use or wrong input.
    Wrong,
    /// Internal fault.
    Fault,
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        Self::from(match exit {
            Exit::Fine => 0,
            Exit::SetAside => 1,
            Exit::Wrong => 2,
            Exit::Fault => 3,
        })
    }
}

/// The last line of every help.
macro_rules! exit_codes {
    ($codes:literal) => {
        concat!("Exit codes: ", $codes, ", 3 internal fault.")
    };
}
use exit_codes;

/// Does the gain you measured on the bench get borne into the air?
///
/// Reads a season folder (season.toml, bench tables, onboard logs), aligns bench and flight by
/// throttle, and answers seven questions with evidence: did the static gain carry over, what does
/// it draw and how long can I fly, is the controller large enough, is the airframe loaded harder,
/// is the pack up to it, are sister airframes alike, and what to measure next.
#[derive(Debug, Parser)]
#[command(
    name = "benchborne",
    version,
    max_term_width = 100,
    disable_help_subcommand = true,
    after_help = concat!(
        "Examples:\n  \
         benchborne demo my-demo --open          an invented season, run, its report in the browser\n  \
         benchborne look logs/*.csv              what is in a file\n  \
         benchborne new my-season                a first season.toml from the files of a folder\n  \
         benchborne check my-season              all that is wrong with it, at once\n  \
         benchborne run my-season                the report\n  \
         benchborne next my-season               what to fly next, as a card\n  \
         benchborne help season                  every key of season.toml\n\n",
        exit_codes!("0 fine, 1 finished with something set aside under --strict, 2 wrong use or wrong input")
    )
)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    Run(run::Arguments),
    Check(check::Arguments),
    Look(look::Arguments),
    New(new::Arguments),
    Next(next::Arguments),
    Demo(demo::Arguments),
    Completions(completions::Arguments),
    Help(help::Arguments),
}

/// Runs the command line; clap itself exits with 2 on wrong use.
pub fn main() -> ExitCode {
    let exit = match Arguments::parse().command {
        Command::Run(arguments) => run::main(&arguments),
        Command::Check(arguments) => check::main(&arguments),
        Command::Look(arguments) => look::main(&arguments),
        Command::New(arguments) => new::main(&arguments),
        Command::Next(arguments) => next::main(&arguments),
        Command::Demo(arguments) => demo::main(&arguments),
        Command::Completions(arguments) => completions::main(&arguments),
        Command::Help(arguments) => help::main(&arguments),
    };
    show::ended(exit).into()
}
