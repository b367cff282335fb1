//! What a season says about one of its files.

use std::path::Path;

use super::LookOptions;
use crate::ingest::ReadOptions;
use crate::run::folder::Folder;
use crate::run::{RunError, load};

/// The options under which `run` would read `file`; `None` where the season declares no such file.
pub fn declared(season_dir: &Path, file: &Path) -> Result<Option<LookOptions>, RunError> {
    let folder = Folder::new(season_dir);
    let (season, findings) = load(&folder)?;
    let Some(season) = season else {
        return Err(RunError::Season(findings));
    };
    let whole = |path: &Path| path.canonicalize().unwrap_or_else(|_| path.to_owned());
    let (root, file) = (whole(season_dir), whole(file));
    let Ok(inside) = file.strip_prefix(&root) else {
        return Ok(None);
    };
    let name = inside.to_string_lossy().replace('\\', "/");
    if let Some(bench) = season.benches.iter().find(|b| b.file == name) {
        return Ok(Some(LookOptions {
            read: ReadOptions {
                channels: bench.channels.clone(),
                zone: season.site.zone,
                ..ReadOptions::default()
            },
            bench: true,
        }));
    }
    let (files, _) = folder.sources(&season);
    let source = files
        .iter()
        .find(|f| f.name == name)
        .and_then(|f| f.source)
        .and_then(|i| season.logs.get(i));
    Ok(source.map(|source| LookOptions {
        read: ReadOptions {
            channels: source.channels.clone(),
            rate_hz: source.rate_hz,
            zone: season.site.zone,
            dates: source.dates,
            no_preamble_date: !source.preamble_date,
        },
        bench: false,
    }))
}
