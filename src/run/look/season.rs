//! What a season says about one of its files.

use std::path::Path;

use super::LookOptions;
use crate::ingest::ReadOptions;
use crate::run::folder::Folder;
use crate::run::{RunError, load};
use crate::season::{Finding, Season};

/// What a season says about a file.
#[derive(Debug, Clone)]
pub struct Declared {
    /// The options under which `run` would read it; `None` where the season declares no such file.
    pub options: Option<LookOptions>,
    /// What is wrong with the season itself.
    pub findings: Vec<Finding>,
}

/// Looks a file up in a season folder.
pub fn declared(season_dir: &Path, file: &Path) -> Result<Declared, RunError> {
    let folder = Folder::new(season_dir);
    let (season, findings) = load(&folder)?;
    let Some(season) = season else {
        return Err(RunError::Season(findings));
    };
    let options = options(&folder, &season, season_dir, file);
    Ok(Declared { options, findings })
}

fn options(folder: &Folder, season: &Season, dir: &Path, file: &Path) -> Option<LookOptions> {
    let whole = |path: &Path| path.canonicalize().unwrap_or_else(|_| path.to_owned());
    let (root, file) = (whole(dir), whole(file));
    let inside = file.strip_prefix(&root).ok()?;
    let name = inside.to_string_lossy().replace('\\', "/");
    if let Some(bench) = season.benches.iter().find(|b| b.file == name) {
        return Some(LookOptions {
            read: ReadOptions {
                channels: bench.channels.clone(),
                text: bench.text,
                zone: season.site.zone,
                ..ReadOptions::default()
            },
            bench: true,
            current: None,
        });
    }
    let (files, _) = folder.sources(season);
    let source = files
        .iter()
        .find(|f| f.name == name)
        .and_then(|f| f.source)
        .and_then(|i| season.logs.get(i))?;
    let mut instruments = source.instruments.iter();
    Some(LookOptions {
        read: ReadOptions {
            channels: source.channels.clone(),
            text: source.text,
            rate_hz: source.rate_hz,
            zone: season.site.zone,
            dates: source.dates,
            no_preamble_date: !source.preamble_date,
        },
        bench: false,
        current: instruments
            .find_map(|id| season.instruments.get(id)?.measures.get("current"))
            .cloned(),
    })
}
