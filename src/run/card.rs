//! What to measure and fly next, without a report.

use std::path::Path;
use std::sync::Arc;

use super::{Progress, RunError, analyse_watched, pool};
use crate::report;

/// The card of a season, for terminal and program.
#[derive(Debug, Clone)]
pub struct CardOutcome {
    pub text: String,
    pub json: String,
    /// No bench run and no flight could be used.
    pub nothing_usable: bool,
}

/// Analyses a season and makes its card; writes the page to print where one is named.
pub fn next(
    season: &Path,
    page: Option<&Path>,
    threads: Option<usize>,
    progress: &Progress,
) -> Result<CardOutcome, RunError> {
    if let Some(page) = page.filter(|p| p.is_dir()) {
        return Err(RunError::Input(format!(
            "{} is a folder. Name a file with --out, such as card.html.",
            page.display()
        )));
    }
    let threads = pool(threads)?;
    let analysed =
        threads.install(|| analyse_watched(season, progress, (None, &Arc::default(), None)))?;
    let card = &analysed.findings.card;
    if let Some(page) = page {
        let html = report::card_page(card)?;
        report::put_file(html.as_bytes(), page).map_err(|e| {
            RunError::Input(format!("{e}. Name a file you can write to with --out."))
        })?;
    }
    let json = serde_json::to_string_pretty(card).map_err(|e| RunError::Fault(e.to_string()))?;
    Ok(CardOutcome {
        text: report::card_text(card),
        json: json + "\n",
        nothing_usable: analysed.nothing_usable,
    })
}
