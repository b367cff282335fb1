//! The files of a season that people write.

use super::RunError;
use super::folder::Folder;
use crate::ingest::encoding;
use crate::season::{self, Finding, Season, SeasonText};

/// The season, where its file can be used at all, with what is wrong with it.
pub fn load(folder: &Folder) -> Result<(Option<Season>, Vec<Finding>), RunError> {
    let toml = folder.read("season.toml").map_err(|e| {
        RunError::Input(format!(
            "{} could not be read: {e}. Name a folder that holds a season.toml; `benchborne demo DIR` \
             writes an example.",
            folder.path("season.toml").display()
        ))
    })?;
    let optional = |name: &str| {
        folder
            .read_optional(name)
            .map(|bytes| bytes.map(|b| text(&b)))
            .map_err(|e| RunError::Input(format!("{name} could not be read: {e}")))
    };
    let (logbook, passes) = (optional("logbook.csv")?, optional("passes.csv")?);
    let loaded = season::load(&SeasonText {
        season_toml: &text(&toml),
        logbook_csv: logbook.as_deref(),
        passes_csv: passes.as_deref(),
    });
    Ok((loaded.season, loaded.findings))
}

fn text(bytes: &[u8]) -> String {
    encoding::decode(bytes).text.into_owned()
}
