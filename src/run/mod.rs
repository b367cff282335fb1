//! The pipeline, top to bottom: the only place that knows the whole chain.

mod airspeed;
mod alone;
mod benches;
mod card;
mod contradictions;
mod earlier;
mod filling;
mod flights;
mod folder;
mod kept;
mod load;
mod logbook_against_logs;
mod logs;
pub mod look;
mod matching;
mod motion;
pub mod new;
mod output;
mod own_rows;
mod progress;
mod put_back;
mod rated_charge;
mod reading;
mod replays;
mod sensors;
mod shared;
mod shelf;
mod together;
mod unchanged;
mod unload;

use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::findings::season::Summaries;
use crate::findings::{Findings, Ledger, answer_all};
use crate::report;
use crate::season::{Finding, LogbookRow, Season, Severity};
use crate::store::{OwnRows, SeasonTables, query};
pub use card::{CardOutcome, next};
use folder::Folder;
pub use folder::OnDisk;
use kept::Kept;
use load::load;
use output::Extent;
use own_rows::RowsOfFlights;
pub use progress::{Observer, Progress, Stage};
use reading::Sources;
use shelf::Shelf;
use unchanged::Inputs;

/// What to run.
#[derive(Debug, Clone, Default)]
pub struct RunOptions {
    /// The season folder.
    pub season: PathBuf,
    /// Where the report goes.
    pub out: PathBuf,
    /// All cores where `None`; the result does not depend on it.
    pub threads: Option<usize>,
    pub progress: Progress,
    /// Writes the findings and the tables alone.
    pub no_pages: bool,
    /// Draws the flights' own pictures as PNG, too.
    pub flight_pictures: bool,
    /// Keeps results beside the report, in `OUT.cache`, and uses those of earlier runs: does nothing where
    /// nothing changed, and else only what the changes touch. The report does not depend on it.
    pub cache: bool,
    /// Logs held in memory at once, bytes; the rest waits in a temporary folder. The result does not
    /// depend on it.
    pub held_bytes: Option<usize>,
}

/// What a run gave; the report is written.
#[derive(Debug, Clone)]
pub struct RunOutcome {
    pub findings: Findings,
    /// The report's folder.
    pub report: PathBuf,
    /// No bench run and no flight could be used.
    pub nothing_usable: bool,
    /// A row was set aside or an input could not be used.
    pub set_aside: bool,
}

impl RunOutcome {
    /// `findings.json` as written.
    pub fn json(&self) -> std::io::Result<String> {
        std::fs::read_to_string(self.report.join("findings.json"))
    }
}

/// Why there is no report.
#[derive(Debug, Clone)]
pub enum RunError {
    /// The season file cannot be used at all.
    Season(Vec<Finding>),
    /// The folder cannot be read or the report not be written.
    Input(String),
    /// A fault of the program.
    Fault(String),
}

/// Reads a season folder, analyses it and writes its report.
pub fn run(options: &RunOptions) -> Result<RunOutcome, RunError> {
    let outcome = run_recorded(options);
    if options.cache && outcome.is_err() {
        unchanged::forget(&options.out);
    }
    outcome
}

fn run_recorded(options: &RunOptions) -> Result<RunOutcome, RunError> {
    if options.out.exists() && !options.out.is_dir() {
        return Err(RunError::Input(format!(
            "{} is a file, so no report can be written there. Name a folder with --out.",
            options.out.display()
        )));
    }
    let threads = pool(options.threads)?;
    let inputs = threads.install(|| inputs(options));
    if let Some(outcome) = inputs.as_ref().and_then(|i| i.same_as_before(&options.out)) {
        return Ok(outcome);
    }
    let kept = match &inputs {
        Some(_) => Arc::new(Kept::in_folder(unchanged::store(&options.out))),
        None => Arc::default(),
    };
    let Analysed {
        mut findings,
        tables,
        nothing_usable,
        season,
        shelf,
    } = threads.install(|| {
        let places = (options.held_bytes, &kept, inputs.as_ref());
        analyse_watched(&options.season, &options.progress, places)
    })?;
    earlier::hold_against(&mut findings, &options.out);
    let pages = !options.no_pages;
    let pictures = findings.figures.len() + findings.flights.len();
    options
        .progress
        .begin(Stage::Pictures, if pages { pictures } else { 0 });
    let stage = report::Stage::begin(&options.out)?;
    let extent = Extent {
        pages,
        flight_pictures: options.flight_pictures,
    };
    threads.install(|| {
        let tell = || options.progress.done(Stage::Pictures, 0);
        output::write((&season, &tables, &findings), extent, &stage, &tell)
    })?;
    shelf.check()?;
    let written = output::finish(stage)?;
    let set_aside = findings.ledger.files.iter().any(|f| f.rows_set_aside > 0)
        || findings
            .ledger
            .findings
            .iter()
            .any(|f| f.severity == Severity::Error);
    let outcome = RunOutcome {
        findings,
        report: options.out.clone(),
        nothing_usable,
        set_aside,
    };
    if let Some(inputs) = inputs {
        inputs.record(&options.out, &written, &outcome);
        kept.sweep();
    }
    Ok(outcome)
}

/// What the run will read; `None` where no record is kept of it, or the season cannot be used.
fn inputs(options: &RunOptions) -> Option<Inputs> {
    if !options.cache {
        return None;
    }
    let folder = Folder::new(&options.season);
    let season = load(&folder).ok()?.0?;
    let (planned, unclaimed, _) = folder::plan(&folder, &season);
    Some(Inputs::of(
        options,
        &folder,
        &season,
        (&planned, &unclaimed),
    ))
}

/// So many threads, all cores where `None`.
fn pool(threads: Option<usize>) -> Result<rayon::ThreadPool, RunError> {
    rayon::ThreadPoolBuilder::new()
        .num_threads(threads.unwrap_or(0))
        .build()
        .map_err(|e| RunError::Fault(format!("threads could not be started: {e}")))
}

/// What an analysis gave, before anything is written.
#[derive(Debug)]
pub struct Analysed {
    pub findings: Findings,
    pub tables: SeasonTables,
    pub nothing_usable: bool,
    /// As it was analysed.
    pub season: Season,
    /// Where the flights' own rows may lie.
    shelf: Arc<Shelf>,
}

/// Reads a season folder and analyses it.
pub fn analyse(dir: &Path) -> Result<Analysed, RunError> {
    analyse_watched(dir, &Progress::default(), (None, &Arc::default(), None))
}

fn analyse_watched(
    dir: &Path,
    progress: &Progress,
    (held_bytes, kept, inputs): (Option<usize>, &Arc<Kept>, Option<&Inputs>),
) -> Result<Analysed, RunError> {
    let folder = Folder::new(dir);
    let (season, mut complaints) = load(&folder)?;
    let Some(mut season) = season else {
        return Err(RunError::Season(complaints));
    };
    let (planned, unclaimed, mut more) = folder::plan(&folder, &season);
    complaints.append(&mut more);

    let mut ledger = Ledger::default();
    let shelf = Arc::new(Shelf::holding(held_bytes));
    let mut tables = SeasonTables::default();
    let benches = benches::read(&folder, &season, &mut ledger, &mut complaints);
    benches.fill(&mut tables);
    let sources = Sources {
        folder: &folder,
        shelf: &shelf,
        kept,
        inputs,
    };
    let mut read = logs::read(
        &sources,
        &season,
        planned,
        unclaimed,
        &mut ledger,
        &mut complaints,
        progress,
    );
    complaints.extend(rated_charge::hold(&mut season, &mut read));
    complaints.extend(logbook_against_logs::check(&season, &read));
    let mut flown = flights::analyse(
        &season,
        read,
        &benches,
        (&shelf, kept),
        &mut complaints,
        progress,
    );
    for log in &flown.unused {
        ledger.withdraw_file(&log.file, &log.code, log.first_line);
    }
    flown.fill(&benches, &shelf, &mut tables);
    benches.compare(&season, &mut tables, &mut complaints);
    replays::fill(
        &season,
        &benches,
        &mut flown,
        (&shelf, kept),
        &mut tables,
        &mut complaints,
    );
    tables.own = OwnRows::new(Arc::new(RowsOfFlights {
        shelf: Arc::clone(&shelf),
        kept: Arc::clone(kept),
        at: std::mem::take(&mut flown.own),
    }));
    shelf.check()?;

    check_balance(&ledger)?;
    let nothing_usable = benches.runs.is_empty()
        && !flown
            .flights
            .iter()
            .any(|f| f.survey.log.is_some() || f.timed.is_some());
    // All that is asked from here on stands in the tables.
    drop(flown);
    if nothing_usable {
        complaints.push(without_anything(Severity::Error));
    }
    ledger.findings = placed(complaints);
    let summaries = Summaries {
        by_power: query::by_power(&tables.flights).map_err(|e| RunError::Fault(e.to_string()))?,
    };
    let findings = answer_all(&season, &tables, &summaries, ledger);
    Ok(Analysed {
        findings,
        tables,
        nothing_usable,
        season,
        shelf,
    })
}

/// All that is wrong with a season folder, without analysing it.
pub fn check(dir: &Path) -> Result<Vec<Finding>, RunError> {
    check_watched(dir, &Progress::default())
}

/// The same, with a watcher told how far it is.
pub fn check_watched(dir: &Path, progress: &Progress) -> Result<Vec<Finding>, RunError> {
    let folder = Folder::new(dir);
    let (season, mut complaints) = load(&folder)?;
    let Some(mut season) = season else {
        return Ok(complaints);
    };
    let (planned, unclaimed, mut more) = folder::plan(&folder, &season);
    complaints.append(&mut more);
    complaints.extend(folder::unnamed(&folder, &season, &planned, &unclaimed));
    let mut ledger = Ledger::default();
    let shelf = Shelf::holding(None);
    let benches = benches::read(&folder, &season, &mut ledger, &mut complaints);
    let sources = Sources {
        folder: &folder,
        shelf: &shelf,
        kept: &Kept::default(),
        inputs: None,
    };
    let mut flights = logs::read(
        &sources,
        &season,
        planned,
        unclaimed,
        &mut ledger,
        &mut complaints,
        progress,
    );
    complaints.extend(rated_charge::hold(&mut season, &mut flights));
    complaints.extend(logbook_against_logs::check(&season, &flights));
    check_balance(&ledger)?;
    let logged = flights.iter().any(|f| !f.logs.is_empty());
    complaints.extend(flights::sensors(&season, flights, &shelf));
    shelf.check()?;
    if benches.runs.is_empty() && !logged && season.passes.is_empty() {
        complaints.push(without_anything(Severity::Warning));
    }
    Ok(placed(complaints))
}

/// Without a bench run and a flight there is nothing to analyse: a warning where files may still come.
fn without_anything(severity: Severity) -> Finding {
    Finding::new(
        severity,
        "nothing-usable",
        "no bench run and no flight of this season could be used",
        "The findings above say why for each file; where there are none, add bench tables under \
         [[bench]] and logs under [[logs]].",
    )
    .in_file("season.toml")
}

/// A finding about a power system belongs to no one file: its place is the season file that
/// declares it.
fn placed(findings: Vec<Finding>) -> Vec<Finding> {
    findings
        .into_iter()
        .map(|finding| match finding.place {
            Some(_) => finding,
            None => finding.in_file("season.toml"),
        })
        .collect()
}

/// Rows in = rows used + rows set aside, for every file.
fn check_balance(ledger: &Ledger) -> Result<(), RunError> {
    match ledger.files.iter().find(|f| !f.balances()) {
        Some(file) => Err(RunError::Fault(format!(
            "the ledger of {} does not balance: {} rows in, {} used, {} set aside",
            file.file, file.rows_in, file.rows_used, file.rows_set_aside
        ))),
        None => Ok(()),
    }
}

/// Air density of a flight or bench run, kg/m³: from pressure and temperature where noted, else the
/// standard atmosphere at the site's elevation.
fn density(season: &Season, row: &LogbookRow) -> f64 {
    let standard = crate::physics::atmosphere::standard(season.site.elevation_m.unwrap_or(0.0));
    let pressure = row.pressure_pa.unwrap_or(standard.pressure_pa);
    let temperature = row.temperature_k.unwrap_or(standard.temperature_k);
    crate::physics::atmosphere::density(pressure, temperature)
}
